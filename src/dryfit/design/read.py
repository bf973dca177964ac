"""Reading a design: every fault of the file in one pass, with line, key, what was read and what is accepted."""

from __future__ import annotations

import os
import re
import stat
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import ValidationError
from pydantic_core.core_schema import ErrorType

from dryfit.design.fields import Record
from dryfit.design.records import Design
from dryfit.design.shapes import Shape, homes_of_keys
from dryfit.design.tree import Empty, Group, Listing, Tree, read_tree, shown
from dryfit.ground.errors import DesignError, Fault, nearest

MOST_BYTES = 1_000_000
_CUTS = 4
_PATH_STEP = re.compile(r"([^.\[\]]+)|\[(\d+)\]")
MOST_HINTS = 50
"""Faults beyond this many come without the nearest key: finding it takes time, and the first ones are read first."""

MOST_HOMES = 3
"""A key that more groups than this may hold (`item`, `length`) says nothing about where it was meant to stand."""

_LIBRARY_KINDS = frozenset(get_args(ErrorType))

AnyRecord = TypeVar("AnyRecord", bound=Record)


def read_design(path: Path) -> Design:
    """The design in a file. Raises DesignError with every fault of it."""
    return read_text(text_of(path), str(path))


def read_text(text: str, file: str = "design.yaml") -> Design:
    """The design in a text; `file` is the name that faults carry. Raises DesignError with every fault of it."""
    return read_record(text, Design, file)


def sound_part(text: str, file: str = "design.yaml") -> Design | None:
    """What is left of a faulty text without the keys that are at fault, so that the rest can be looked at in the same
    pass; None where nothing sensible is left."""
    try:
        tree = read_tree(text, file)
        if tree.faults:
            return None
        _clear_empty(tree.root, Shape(Design), file, [], set())
        for _ in range(_CUTS):
            try:
                return Design.model_validate(tree.root)
            except ValidationError as wrong:
                for fault in list(_translated(wrong, tree, Design, file)):
                    _cut(tree.root, fault.key)
    except (DesignError, RecursionError):
        pass
    return None


def _cut(root: Group, path: str) -> None:
    """Take the nearest key at or above a path out of its group; entries of lists keep their numbers."""
    node: Any = root
    holder, name = root, ""
    for key, index in _PATH_STEP.findall(path):
        if key and isinstance(node, Group) and key in node:
            holder, name, node = node, key, node[key]
        elif index and isinstance(node, Listing) and int(index) < len(node):
            node = node[int(index)]
        else:
            break
    holder.pop(name, None)


def read_record(text: str, model: type[AnyRecord], file: str = "design.yaml") -> AnyRecord:
    """A text read as a record of any class. Raises DesignError with every fault of it."""
    tree = read_tree(text, file)
    faults = list(tree.faults)
    refused = set(tree.refused)
    _clear_empty(tree.root, Shape(model), file, faults, refused)
    record: AnyRecord | None = None
    try:
        record = model.model_validate(tree.root)
    except ValidationError as wrong:
        faults += _translated(wrong, tree, model, file)
    except RecursionError:
        faults.append(Fault(file, 0, "", "groups and lists nest too deep"))
    kept = dict.fromkeys(f for i, f in enumerate(faults) if i < len(tree.faults) or not _under(f.key, tree.refused))
    if kept or record is None:
        raise DesignError(sorted(kept, key=lambda f: f.line))
    return record


def text_of(path: Path) -> str:
    """The text of a design file as it stands, line ends untouched; a byte-order mark stays as its first character.

    Raises DesignError for a file that is missing, not a plain file, over 1 MB, or not UTF-8.
    """
    try:
        with path.open("rb") as stream:
            status = os.fstat(stream.fileno())
            if not stat.S_ISREG(status.st_mode):
                raise DesignError([Fault(str(path), 0, "", "not a plain file", accepted="a YAML text file")])
            data = stream.read(MOST_BYTES + 1) if status.st_size <= MOST_BYTES else b""
    except FileNotFoundError:
        accepted = "a YAML file, or the folder that holds its design.yaml"
        raise DesignError([Fault(str(path), 0, "", "no such file", accepted=accepted)]) from None
    except (OSError, ValueError) as wrong:
        reason = getattr(wrong, "strerror", None) or "not a file name"
        raise DesignError([Fault(str(path), 0, "", f"cannot be read: {reason}")]) from None
    if status.st_size > MOST_BYTES or len(data) > MOST_BYTES:
        size = max(status.st_size, len(data)) / 1e6
        message = f"too large for a design: {size:.1f} MB"
        raise DesignError([Fault(str(path), 0, "", message, accepted="up to 1 MB; meshes stand in files of their own")])
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as wrong:
        line = data.count(b"\n", 0, wrong.start) + 1
        message = f"not UTF-8 text (byte {data[wrong.start]:#04x}); save the file as UTF-8"
        raise DesignError([Fault(str(path), line, "", message)]) from None


def _under(key: str, paths: frozenset[str]) -> bool:
    """Whether a key is one of the paths or lies below one."""
    ends = [m.start() for m in re.finditer(r"[.\[]", key)] if paths else []
    return any(key[:end] in paths for end in (*ends, len(key)))


def _clear_empty(node: Any, shape: Shape, file: str, faults: list[Fault], refused: set[str]) -> None:
    """Take out keys with nothing behind them: a section so left is a section not yet written; a value is a fault."""
    if isinstance(node, Group):
        for key, child in list(node.items()):
            known = [s for one in shape.alternatives if (s := one.field(key)) is not None]
            if not isinstance(child, Empty):
                for one in known or [Shape(object)]:
                    _clear_empty(child, one, file, faults, refused)
            elif known:
                del node[key]
                if child.path not in refused and not _is_section(known[0]):
                    message = "nothing is written behind this key"
                    faults.append(Fault(file, child.line, shown(child.path), message, accepted=known[0].accepted))
                    refused.add(child.path)
    elif isinstance(node, Listing):
        entry = next((one.entry for one in shape.alternatives if one.entry is not None), Shape(object))
        for child in node:
            if not isinstance(child, Empty):
                _clear_empty(child, entry, file, faults, refused)


def _is_section(shape: Shape) -> bool:
    return any(one.record is not None or one.entry is not None for one in shape.alternatives)


@dataclass(frozen=True)
class _Error:
    """One pydantic error, found in the tree. unions: (path, label) of every choice of types that it lies in.

    group: path and shape of the record that holds the key, for unknown and missing keys.
    """

    kind: str
    context: dict[str, Any]
    path: str
    node: Any
    line: int
    shape: Shape | None
    holder: Shape
    holder_line: int
    key: str
    unions: tuple[tuple[str, str], ...]
    message: str


def _translated(wrong: ValidationError, tree: Tree, model: type[Record], file: str) -> Iterator[Fault]:
    errors = [_found(e, tree.root, model) for e in wrong.errors(include_url=False, include_input=False)]
    for i, error in enumerate(_one_alternative(errors, 0)):
        yield _fault(error, file, model, hint=i < MOST_HINTS)


def _found(error: Any, root: Group, model: type[Record]) -> _Error:
    """Follow the place of an error down the models and the tree together."""
    shape: Shape | None = Shape(model)
    holder, holder_line, key = Shape(model), 1, ""
    node: Any = root
    path, line = "", 1
    unions: list[tuple[str, str]] = []
    for step in error["loc"]:
        choices = shape.alternatives if shape is not None else ()
        if len(choices) > 1 and not isinstance(step, int):
            labelled = shape.labelled(step) if shape is not None else None
            if labelled is not None or not (isinstance(node, Group) and step in node):
                unions.append((path, str(step)))
                shape = labelled
                continue
        one = choices[0] if len(choices) == 1 else shape
        if isinstance(step, int):
            if isinstance(node, Listing):
                path, node = f"{path}[{step}]", node[step] if step < len(node) else None
                line = _line(node, line)
            shape = one.entry if one is not None else None
        elif isinstance(node, Group) and (one is None or one.record is not None or one.entry is not None):
            holder, holder_line, key = one or Shape(object), line, step
            path = f"{path}.{step}" if path else step
            line = node.places.get(step, line)
            node = node.get(step)
            shape = one.field(step) if one is not None else None
    ctx = error.get("ctx") or {}
    return _Error(
        error["type"], ctx, path, node, line, shape, holder, holder_line, key, tuple(unions), str(error["msg"])
    )


def _line(node: Any, otherwise: int) -> int:
    return getattr(node, "line", otherwise) or otherwise


def _one_alternative(errors: Sequence[_Error], depth: int) -> list[_Error]:
    """Of errors in a choice of types, keep those of the type that was most likely meant."""
    if all(len(e.unions) <= depth for e in errors):
        return list(errors)
    kept = [e for e in errors if len(e.unions) <= depth]
    places: dict[str, dict[str, list[_Error]]] = defaultdict(lambda: defaultdict(list))
    for e in errors:
        if len(e.unions) > depth:
            place, label = e.unions[depth]
            places[place][label].append(e)
    for place, by_label in places.items():
        kept += _one_alternative(min(by_label.values(), key=lambda group: _distance(group, place)), depth + 1)
    return kept


def _distance(errors: Sequence[_Error], place: str) -> tuple[int, ...]:
    """How far a type is from what was written: wrong sort of thing, wrong telling word, unknown keys, missing keys."""

    def count(*kinds: str) -> int:
        return sum(e.kind in kinds for e in errors)

    wrong_sort = sum(
        e.path == place and (e.kind.endswith("_type") or (e.kind == "design" and not isinstance(e.node, str)))
        for e in errors
    )
    return wrong_sort, count("literal_error"), count("extra_forbidden"), count("missing"), len(errors)


def _fault(e: _Error, file: str, root: type[Record], hint: bool) -> Fault:
    line, key = e.line, shown(e.path, 100)
    accepted = e.shape.accepted if e.shape is not None else ""
    if e.kind == "extra_forbidden":
        known = list(e.holder.record.model_fields) if e.holder.record is not None else []
        return Fault(file, line, key, f"unknown key{_where_known(shown(e.key), known, root) if hint else ''}")
    if e.kind == "missing":
        return Fault(file, e.holder_line, key, "this key is missing", accepted=accepted)
    if isinstance(e.node, Empty):
        return Fault(file, line, key, "nothing is written here", accepted=accepted)
    if e.kind in ("union_tag_invalid", "literal_error", "enum"):
        return _wrong_word(e, file, hint)
    if e.kind == "union_tag_not_found" and isinstance(e.node, Group):
        word = str(e.context["discriminator"]).strip("'")
        options = ", ".join(t for one in (e.shape.alternatives if e.shape else ()) for t in one.tags)
        return Fault(file, line, f"{key}.{word}".lstrip("."), "this key is missing", accepted=options)
    message, accepted = _misfit(e, accepted)
    return Fault(file, line, key, message, _sort(e.node), accepted)


def _where_known(key: str, known: list[str], root: type[Record]) -> str:
    """The nearest key of the group, and the few groups that have such a key; else all keys of this group."""
    close = nearest(key, known)
    homes = homes_of_keys(root).get(key, ())
    if not 0 < len(homes) <= MOST_HOMES:
        return close
    belongs = f"it belongs in {' or '.join(homes)}"
    return f"{close} or {belongs}" if "did you mean" in close else f"; {belongs}"


def _misfit(e: _Error, accepted: str) -> tuple[str, str]:
    """What is wrong with an entry that is there and has a known key, and what may stand there."""
    if e.kind == "design":
        return e.context["problem"], e.context.get("accepted", "")
    if e.kind in ("too_short", "too_long"):
        least, most = e.context.get("min_length"), e.context.get("max_length")
        limit = f"at least {least}" if e.kind == "too_short" else f"at most {most}"
        return f"{e.context.get('actual_length')} entries stand here", f"{limit} entries"
    if e.kind in ("value_error", "assertion_error"):
        return str(e.context.get("error", "does not fit together")), accepted
    if e.kind.endswith("_type") or e.kind == "union_tag_not_found":
        return "not the sort of entry that belongs here", accepted
    if e.kind not in _LIBRARY_KINDS:
        # a field with a reader of its own: its words, in which what is accepted may follow
        problem, _, may = e.message.partition("; accepted: ")
        return problem, may
    return "cannot be read", accepted


def _wrong_word(e: _Error, file: str, hint: bool) -> Fault:
    """A word that should tell which of a few things is meant."""
    key, node, line = e.path, e.node, e.line
    if e.kind == "union_tag_invalid":
        key = f"{key}.{str(e.context['discriminator']).strip(chr(39))}".lstrip(".")
        node = e.node.get(key.rpartition(".")[2]) if isinstance(e.node, Group) else node
        line = _line(node, line)
    options = [o.strip("' ") for o in str(e.context.get("expected_tags", e.context.get("expected", ""))).split(",")]
    options = [w.strip("'") for o in options for w in o.split("' or '")]
    if not isinstance(node, str):
        return Fault(file, line, shown(key, 100), "a word belongs here", _sort(node), ", ".join(options))
    close = nearest(shown(str(node)), options) if hint else ""
    message = f"not one of the accepted words{close if 'did you mean' in close else ''}"
    return Fault(file, line, shown(key, 100), message, shown(str(node)), ", ".join(options))


def _sort(node: Any) -> str:
    """What stands in a place, for a message about it being the wrong sort of thing."""
    if isinstance(node, Group):
        return f"a group of the keys {shown(', '.join(node))}" if node else "an empty group"
    return "a list" if isinstance(node, Listing) else shown(str(node)) if isinstance(node, str) else ""
