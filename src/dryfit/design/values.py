"""One number of a design by the path of its key ("base.gears[0].module"): look it up, or put another in its place."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from pydantic_core import PydanticCustomError

from dryfit.design.fields import Record, Typed
from dryfit.design.records import Design
from dryfit.design.shapes import Shape
from dryfit.ground import units
from dryfit.ground.errors import DesignError, Fault, UnknownNameError
from dryfit.ground.quantity import Kind, Origin, Quantity, Value

_STEP = re.compile(r"(?:^|\.)(?P<key>[^.\[\]]+)|\[(?P<index>[0-9]{1,6})\]")


@dataclass(frozen=True)
class Entry:
    """What stands at a path, and what may. typed: the number that stands there, None where it was left out or is none.
    dimension: of the number that may stand there.  options: the words that may, where only a few may ("yes", "no")."""

    typed: Quantity | None
    dimension: units.Dimension | None
    options: tuple[str, ...]


def entry_at(design: Design, path: str) -> Entry:
    """The entry at a path. Raises UnknownNameError for a path that nothing can stand at."""
    node, shape = _found(design, path)
    ways = shape.alternatives
    dimension = next((one.dimension for one in ways if one.dimension is not None), None)
    options = next((one.options for one in ways if one.options), ())
    return Entry(node if isinstance(node, Quantity) else None, dimension, options)


def value_at(design: Design, path: str) -> Quantity | None:
    """The number at a path; None for a key that may stand there but was left out of the file.

    Raises UnknownNameError, with the nearest keys, for a path that no number can stand at.
    """
    node, shape = _found(design, path)
    if node is not None and not isinstance(node, Quantity):
        raise UnknownNameError("number", path, numbers(design))
    if node is None and all(one.dimension is None for one in shape.alternatives):
        raise UnknownNameError("number", path, numbers(design))
    return node


def dimension_at(design: Design, path: str) -> units.Dimension:
    """The dimension of the number at a path. Raises UnknownNameError for a path that no number can stand at."""
    dimension = entry_at(design, path).dimension
    if dimension is None:
        raise UnknownNameError("number", path, numbers(design))
    return dimension


def options_at(design: Design, path: str) -> tuple[str, ...]:
    """The words that may stand at a path where only a few may; none for any other place.

    Raises UnknownNameError for a path that nothing can stand at.
    """
    return entry_at(design, path).options


def with_values(design: Design, values: Mapping[str, Value | None]) -> Design:
    """The design with other values at some paths; the one given stays as it is.

    values: by path a Quantity; or an SI number or array (leading axes run over machines), which keeps the line and the
    spread of the number it replaces; or a text, read as if it were typed there ("190 mm", a word); or None, to leave
    the key out. Raises UnknownNameError for an unknown path, DesignError for a text that cannot be read and for a key
    that cannot be left out.
    """
    for path, value in values.items():
        steps = [step for _, step in _steps(path, design)]
        design = _replaced(design, Shape(type(design)), steps, value, path, "")
    return design


def numbers(design: Design) -> tuple[str, ...]:
    """Paths of all numbers that stand in the design, in the order of the records."""
    found: list[str] = []

    def walk(node: Any, path: str) -> None:
        if isinstance(node, Quantity):
            found.append(path)
        elif isinstance(node, Record):
            for name in type(node).model_fields:
                walk(getattr(node, name), f"{path}.{name}" if path else name)
        elif isinstance(node, Mapping):
            for name, child in node.items():
                walk(child, f"{path}.{name}")
        elif isinstance(node, list | tuple):
            for i, child in enumerate(node):
                walk(child, f"{path}[{i}]")

    walk(design, "")
    return tuple(found)


def _found(design: Design, path: str) -> tuple[Any, Shape]:
    """What stands at a path, and the shape of what may."""
    node: Any = design
    shape = Shape(type(design))
    for known, step in _steps(path, design):
        node, shape = _below(node, shape, step, known, path)
    return node, shape


def _steps(path: str, design: Design) -> list[tuple[str, str | int]]:
    """The path taken apart: for each step the path before it, and its key or index."""
    steps: list[tuple[str, str | int]] = []
    at = 0
    while at < len(path):
        match = _STEP.match(path, at)
        if match is None:
            raise UnknownNameError("key of the design", path, numbers(design))
        step: str | int = match["key"] if match["key"] is not None else int(match["index"])
        steps.append((path[:at], step))
        at = match.end()
    if not steps:
        raise UnknownNameError("key of the design", path, tuple(type(design).model_fields))
    return steps


def _below(node: Any, shape: Shape, step: str | int, above: str, path: str) -> tuple[Any, Shape]:
    """The node and shape one step further down."""
    if isinstance(step, int):
        if isinstance(node, list | tuple) and step < len(node):
            entry = next((one.entry for one in shape.alternatives if one.entry is not None), Shape(object))
            return node[step], entry
        entries = len(node) if isinstance(node, list | tuple) else 0
        raise UnknownNameError("entry of the design", path, [f"{above}[{i}]" for i in range(entries)])
    one = Shape(type(node)) if isinstance(node, Record) else shape.alternatives[0]
    found = one.field(step)
    if found is None or (isinstance(node, Mapping) and step not in node):
        record = one.record
        names = list(record.model_fields) if record is not None else list(node) if isinstance(node, Mapping) else []
        lead, rest = (f"{above}." if above else ""), path[len(f"{above}.{step}".lstrip(".")) :]
        raise UnknownNameError("key of the design", path, [f"{lead}{n}{rest}" for n in names])
    child = node.get(step) if isinstance(node, Mapping) else getattr(node, step, None)
    return child, found


def _replaced(node: Any, shape: Shape, steps: list[str | int], value: Value | None, path: str, above: str) -> Any:
    if not steps:
        return None if value is None else _new_value(node, shape, value, path)
    step, *rest = steps
    where = f"{above}[{step}]" if isinstance(step, int) else f"{above}.{step}".lstrip(".")
    child, below = _below(node, shape, step, above, path)
    if value is None and not rest and not _may_be_left_out(node, step):
        line = child.origin.line if isinstance(child, Quantity) else 0
        raise DesignError([Fault("", line, path, "cannot be left out")])
    changed = _replaced(child, below, rest, value, path, where)
    if isinstance(step, int):
        return type(node)((*node[:step], changed, *node[step + 1 :]))
    if isinstance(node, Mapping):
        return {**node, step: changed}
    record = node if node is not None else _blank(shape, path, above)
    return record.model_copy(update={step: changed})


def _may_be_left_out(node: Any, step: str | int) -> bool:
    if not isinstance(node, Record):
        return node is None
    return not type(node).model_fields[str(step)].is_required()


def _blank(shape: Shape, path: str, above: str) -> Record:
    """A section that was left out of the file, with nothing in it yet."""
    cls = shape.alternatives[0].record
    if cls is None or any(info.is_required() for info in cls.model_fields.values()):
        raise UnknownNameError("section written in the design", above or path, ())
    return cls()


def _new_value(old: Any, shape: Shape, value: Value, path: str) -> Any:
    readers = [one.reader for one in shape.alternatives if one.reader is not None]
    dimension = next((one.dimension for one in shape.alternatives if one.dimension is not None), None)
    if isinstance(value, str) and readers:
        line = old.origin.line if isinstance(old, Quantity) else 0
        try:
            return readers[0](Typed(value, line, 0, path))
        except PydanticCustomError as wrong:
            context: Any = wrong.context
            fault = Fault("", line, path, context["problem"], value, context.get("accepted", ""))
            raise DesignError([fault]) from None
    if isinstance(value, str) or (dimension is None and not isinstance(old, Quantity)):
        raise UnknownNameError("number", path, ())
    if isinstance(value, Quantity):
        return value
    si: Any = np.asanyarray(value, dtype=float)
    text = f"{si.size} values"
    if si.ndim == 0:
        si = float(si)
        shown = "1" if dimension is None else "%" if "%" in dimension.units else dimension.si
        text = units.show(si, shown)
    if isinstance(old, Quantity):
        return replace(old, si=si, origin=replace(old.origin, text=text))
    return Quantity(si, dimension.name if dimension else "", Origin(Kind.DESIGN, path=path, text=text))
