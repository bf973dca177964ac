"""What may stand at a place of the design file: the record, list, choice of records or field found from the models."""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, get_args, get_origin

from pydantic import PlainValidator
from pydantic.fields import FieldInfo

from dryfit.design.fields import ChoiceReader, QuantityReader, Record
from dryfit.ground import units


@dataclass(frozen=True)
class Shape:
    """A type annotation with what its Annotated wrapping and its field say about it."""

    annotation: Any
    metadata: tuple[Any, ...] = ()
    discriminator: str = ""

    @property
    def alternatives(self) -> tuple[Shape, ...]:
        """The types that may stand here, None left out: one, but for a union that no function reads whole."""
        if self.reader is not None:
            return (self,)
        if get_origin(self.annotation) is typing.Annotated:
            inner, *metadata = get_args(self.annotation)
            named = [m.discriminator for m in metadata if isinstance(m, FieldInfo) and isinstance(m.discriminator, str)]
            discriminator = (*named, self.discriminator)[0]
            return Shape(inner, (*self.metadata, *metadata), discriminator).alternatives
        if get_origin(self.annotation) in (typing.Union, types.UnionType):
            return tuple(
                alternative
                for a in get_args(self.annotation)
                if a is not type(None)
                for alternative in Shape(a, self.metadata, self.discriminator).alternatives
            )
        return (self,)

    @property
    def record(self) -> type[Record] | None:
        """The record class, if this is one."""
        a = self.annotation
        return a if self.reader is None and isinstance(a, type) and issubclass(a, Record) else None

    @property
    def entry(self) -> Shape | None:
        """Shape of an entry of a list, tuple or free group of keys; None for anything else."""
        origin, args = get_origin(self.annotation), get_args(self.annotation)
        if self.reader is not None:
            return None
        if origin in (list, tuple) and args:
            return Shape(args[0])
        if origin in (dict, Mapping) or (isinstance(origin, type) and issubclass(origin, Mapping)):
            return Shape(args[1]) if len(args) == 2 else None
        return None

    @property
    def is_list(self) -> bool:
        """Whether entries after dashes belong here."""
        return self.reader is None and get_origin(self.annotation) in (list, tuple)

    @property
    def reader(self) -> Callable[[Any], Any] | None:
        """The function that reads a scalar here."""
        functions: list[Any] = [m.func for m in self.metadata if isinstance(m, PlainValidator)]
        return functions[0] if functions else None

    @property
    def dimension(self) -> units.Dimension | None:
        """The dimension of the number that belongs here, if it is one."""
        return self.reader.dimension if isinstance(self.reader, QuantityReader) else None

    @property
    def options(self) -> tuple[str, ...]:
        """The words that may stand here, where only a few may."""
        if self.annotation is bool:
            return ("yes", "no")
        return self.reader.options if isinstance(self.reader, ChoiceReader) else ()

    @property
    def accepted(self) -> str:
        """What may be written here, in words."""
        return " or ".join(dict.fromkeys(one._accepted() for one in self.alternatives))

    def _accepted(self) -> str:
        words = "yes, no" if self.annotation is bool else "a word or a short text"
        if self.dimension is not None:
            words = units.accepted(self.dimension)
        elif isinstance(self.reader, ChoiceReader):
            words = ", ".join(self.reader.options)
        elif self.record is not None:
            keys = list(self.record.model_fields)
            words = f"a group of keys: {', '.join(keys[:6])}{', …' if len(keys) > 6 else ''}"
        elif self.is_list:
            words = "a list, one entry a line, each after a dash"
        elif self.entry is not None:
            words = "a group of keys"
        return words

    @property
    def tags(self) -> tuple[str, ...]:
        """The words by which a record of a choice of records is told from the others."""
        if self.record is None or self.discriminator not in self.record.model_fields:
            return ()
        annotation = self.record.model_fields[self.discriminator].annotation
        return tuple(str(a) for a in get_args(annotation))

    def field(self, name: str) -> Shape | None:
        """Shape of a key of this record or free group of keys; None where there is no such key."""
        if self.record is not None:
            info = self.record.model_fields.get(name)
            return None if info is None else of_field(info)
        return None if self.is_list else self.entry

    def labelled(self, label: str) -> Shape | None:
        """The alternative that pydantic names `label` in the place of an error."""
        for one in self.alternatives:
            # a record with a validator of its own is named "function-after[check(), Record]"
            if one.record is not None and (label in one.tags or re.search(rf"\b{one.record.__name__}\]*$", label)):
                return one
            if one.reader is not None and label.startswith("function-plain") and f"[{one.reader!r}" in label:
                return one
            if one.is_list and ("list[" in label or "tuple[" in label):
                return one
            if one.entry is not None and not one.is_list and "dict[" in label:
                return one
        return None


def of_field(info: FieldInfo) -> Shape:
    """Shape of a field of a record."""
    discriminator = info.discriminator if isinstance(info.discriminator, str) else ""
    return Shape(info.annotation, tuple(info.metadata), discriminator)


@cache
def homes_of_keys(root: type[Record]) -> Mapping[str, tuple[str, ...]]:
    """For every key of any record under a root: the paths of the groups that may hold it ("base.wheels")."""
    homes: dict[str, dict[str, None]] = {}

    def walk(shape: Shape, path: str, above: tuple[type[Record], ...]) -> None:
        for one in shape.alternatives:
            if one.entry is not None:
                walk(one.entry, path, above)
            elif one.record is not None and one.record not in above:
                for name, info in one.record.model_fields.items():
                    homes.setdefault(name, {})[path or "the top"] = None
                    walk(of_field(info), f"{path}.{name}".lstrip("."), (*above, one.record))

    walk(Shape(root), "", ())
    return {key: tuple(paths) for key, paths in homes.items()}
