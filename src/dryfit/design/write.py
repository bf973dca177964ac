"""Writing one value back into a design file: every other character stays, and a file is changed whole or not at all.

The version before the change is kept beside the file as `<name>.before` (`design.yaml.before`), one step back.
"""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from dryfit.design.read import read_text, text_of
from dryfit.design.tree import Empty, Group, Listing, Span, Tree, read_tree
from dryfit.ground.errors import DesignError, Fault, nearest

_MARK = "\ufeff"
_LINE_END = re.compile(r"\r\n|\r|\n")
_STEP = re.compile(r"[^.\[\]]+|\[[0-9]+\]")


def write_value(
    path: Path,
    key: str,
    new_text: str,
    *,
    seen: str | None = None,
    accept: Callable[[str, str], object] = read_text,
) -> None:
    """Write `new_text` at the key ("base.gears[0].module") of a design file, and put the key in where it is absent.

    Only the characters of that value change: comments, order, quotes, indents and line ends stay. The changed text is
    given to `accept(text, file)` first; if that raises, or if the file no longer holds the text `seen` (what the caller
    read earlier), nothing is written. The change is written beside the file, flushed and renamed over it; a symbolic
    link stays one and its target changes; the file's mode is kept. Raises DesignError.
    """
    write_values(path, {key: new_text}, seen=seen, accept=accept)


def write_values(
    path: Path,
    values: Mapping[str, str],
    *,
    seen: str | None = None,
    accept: Callable[[str, str], object] = read_text,
) -> None:
    """Write several values, by key, as one change of the file: all of them or none. See `write_value`."""
    text = text_of(path)
    if seen is not None and seen != text:
        raise _trouble(path, "was changed by someone else since it was read; nothing was written")
    changed = text
    for key, new_text in values.items():
        changed = changed_text(changed, key, new_text, str(path))
    accept(changed, str(path))
    if changed != text:
        _replace_file(path, text, changed)


def changed_text(text: str, key: str, new_text: str, file: str = "design.yaml") -> str:
    """The design text with `new_text` as the value of `key`. Raises DesignError where that cannot be written."""
    mark = _MARK if text.startswith(_MARK) else ""
    body = text[len(mark) :]
    tree = read_tree(body, file)
    if tree.faults:
        raise DesignError(tree.faults)
    steps = _STEP.findall(key)
    if not steps or "".join(s if s.startswith("[") else f".{s}" for s in steps).lstrip(".") != key:
        raise DesignError([Fault(file, 0, key, "not the path of a key", new_text)])
    if "\n" in new_text or "\r" in new_text:
        raise DesignError([Fault(file, 0, key, "a value is one line", new_text)])
    node = _node(tree.root, key)
    if isinstance(node, Group | Listing):
        line = node.line
        raise DesignError([Fault(file, line, key, "a group or a list stands here, not one value", new_text)])
    for quote in _quotes(tree.spans[key].style if key in tree.spans else "", new_text):
        changed = _set(body, tree, key, quote, file) if node is not None else _inserted(body, tree, key, quote, file)
        if _says(changed, tree, key, new_text, file):
            return mark + changed
    raise DesignError([Fault(file, 0, key, "cannot be written here without touching other lines", new_text)])


def _quotes(style: str, new_text: str) -> list[str]:
    """The ways to write a text as a scalar, the one that was used so far first."""
    single = "'" + new_text.replace("'", "''") + "'"
    double = '"' + new_text.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return {"'": [single, double], '"': [double, single]}.get(style, [new_text, single, double])


def _says(changed: str, before: Tree, key: str, new_text: str, file: str) -> bool:
    """Whether the changed text reads as the old one with just this value new."""
    try:
        after = read_tree(changed, file)
    except DesignError:
        return False
    if after.faults or not new_text:
        return False
    then, now = _flat(before.root), _flat(after.root)
    return now.pop(key, None) == new_text and {k: v for k, v in then.items() if k != key and v is not _NOTHING} == {
        k: v for k, v in now.items() if v is not _NOTHING
    }


_NOTHING = object()


def _flat(node: Any, path: str = "") -> dict[str, Any]:
    """Every scalar of the tree as text by its path; keys with nothing behind them as _NOTHING."""
    if isinstance(node, Group):
        below = [(f"{path}.{k}" if path else k, v) for k, v in node.items()]
    elif isinstance(node, Listing):
        below = [(f"{path}[{i}]", v) for i, v in enumerate(node)]
    else:
        return {path: _NOTHING if isinstance(node, Empty) else str(node)}
    return {k: v for p, child in below for k, v in _flat(child, p).items()}


def _node(root: Group, key: str) -> Any:
    node: Any = root
    for step in _STEP.findall(key):
        if step.startswith("["):
            index = int(step[1:-1])
            node = node[index] if isinstance(node, Listing) and index < len(node) else None
        else:
            node = node.get(step) if isinstance(node, Group) else None
        if node is None:
            return None
    return node


def _set(body: str, tree: Tree, key: str, scalar: str, file: str) -> str:
    span = tree.spans[key]
    if span.style in ("|", ">"):
        raise DesignError([Fault(file, 0, key, "a text of several lines stands here; change it by hand")])
    gap = " " if span.start == span.end and body[span.start - 1 : span.start] != " " else ""
    return body[: span.start] + gap + scalar + body[span.end :]


def _inserted(body: str, tree: Tree, key: str, scalar: str, file: str) -> str:
    """The text with a new key at the end of its group, and the groups above it where they are absent too."""
    steps = _STEP.findall(key)
    above, absent = "", list(steps)
    while absent and not absent[0].startswith("["):
        where = f"{above}.{absent[0]}".lstrip(".")
        if _node(tree.root, where) is None:
            break
        above, absent = where, absent[1:]
        while absent and absent[0].startswith("[") and _node(tree.root, above + absent[0]) is not None:
            above, absent = above + absent[0], absent[1:]
    group = _node(tree.root, above) if above else tree.root
    if any(s.startswith("[") for s in absent) or not isinstance(group, Group | Empty):
        known = [p for p in tree.spans if p.startswith(above)] if above else list(tree.root)
        raise DesignError([Fault(file, 0, key, f"no such place in the file{nearest(key, known)}")])
    span = tree.spans[above]
    if span.style == "{":
        return _in_brackets(body, tree, above, absent, scalar, span)
    end = _LINE_END.search(body)
    newline = end.group() if end else "\n"
    if isinstance(group, Empty):
        indent, at = span.key_column + 2, _line_end(body, span.end)
    else:
        indent, at = span.column, _line_end(body, _last(body, tree, above))
    lines = []
    for depth, name in enumerate(absent):
        value = f" {scalar}" if depth == len(absent) - 1 else ""
        lines.append(" " * (indent + 2 * depth) + f"{name}:{value}")
    block = newline.join(lines)
    closed = at == 0 or body[at - 1] in "\r\n"
    return body[:at] + (block + newline if closed else newline + block) + body[at:]


def _in_brackets(body: str, tree: Tree, above: str, absent: list[str], scalar: str, span: Span) -> str:
    entry = scalar
    for name in reversed(absent):
        entry = f"{name}: {entry}" if entry is scalar else f"{name}: {{{entry}}}"
    inside = [s for p, s in tree.spans.items() if p.startswith(f"{above}.")]
    at = max((max(s.end, s.key_end) for s in inside), default=span.start + 1)
    return body[:at] + (f", {entry}" if inside else entry) + body[at:]


def _last(body: str, tree: Tree, above: str) -> int:
    """Index after the last character of the values inside a group laid out by indents."""
    ends = [
        max(s.end, s.key_end)
        for p, s in tree.spans.items()
        if p != above and (not above or p.startswith((f"{above}.", f"{above}["))) and s.style != "block"
    ]
    return max(ends, default=0)


def _line_end(body: str, at: int) -> int:
    """Index of the end of the line that `at` is in; `at` itself where a line has just ended (text of several lines)."""
    if at > 0 and body[at - 1] in "\r\n":
        return at
    end = _LINE_END.search(body, at)
    return end.start() if end else len(body)


def _replace_file(path: Path, text: str, changed: str) -> None:
    try:
        real = path.resolve(strict=True)
        mode = real.stat().st_mode & 0o7777
        before = real.with_name(f"{real.name}.before")
        kept = _beside(real, text, mode)
        try:
            new = _beside(real, changed, mode)
        except OSError:
            _discard(kept)
            raise
        try:
            if real.read_bytes() != text.encode("utf-8"):
                raise _trouble(path, "was changed by someone else just now; nothing was written")
            kept.replace(before)
            new.replace(real)
            _flush_folder(real.parent)
        finally:
            _discard(kept)
            _discard(new)
    except (OSError, RuntimeError) as wrong:
        reason = getattr(wrong, "strerror", None) or "its links lead in a circle"
        raise _trouble(path, f"cannot be written: {reason}; the file is as it was") from None


def _beside(real: Path, text: str, mode: int) -> Path:
    """A new file in the folder of `real` that holds the text, on the disk for good."""
    handle, name = tempfile.mkstemp(dir=real.parent, prefix=f".{real.name}.", suffix=".new")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, mode)
    except OSError:
        _discard(Path(name))
        raise
    return Path(name)


def _discard(file: Path) -> None:
    with contextlib.suppress(OSError):
        file.unlink(missing_ok=True)


def _flush_folder(folder: Path) -> None:
    """Make the renaming itself last; not every system lets a folder be opened for that."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _trouble(path: Path, message: str) -> DesignError:
    return DesignError([Fault(str(path), 0, "", message)])
