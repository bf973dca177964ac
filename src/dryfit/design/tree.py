"""From text to a tree of groups, lists and typed scalars, each with its place; nothing is guessed and nothing is run.

The tree is built from the event stream of the YAML parser, so a scalar keeps its text as it stands (`no`, `1e400` and
`012` stay texts), and a file that would grow when its references are followed is refused while it is still small.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)
from ruamel.yaml.reader import ReaderError

from dryfit.design.fields import Typed
from dryfit.ground.errors import DesignError, Fault

DEEPEST = 12
MOST_NODES = 20_000
LONGEST_LINE = 5_000


class Empty(Typed):
    """A key or a dash with nothing behind it."""

    __slots__ = ()


class Group(dict[str, Any]):
    """A group of keys. `places` gives the line of each key."""

    def __init__(self, path: str, line: int) -> None:
        super().__init__()
        self.path, self.line = path, line
        self.places: dict[str, int] = {}


class Listing(list[Any]):
    """A list of entries, in order."""

    def __init__(self, path: str, line: int) -> None:
        super().__init__()
        self.path, self.line = path, line


@dataclass(frozen=True)
class Span:
    """Where a node stands in the text, as indices of its first character and of the one after its last.

    style: the quote or block mark of a scalar ("'", '"', "|", ">"), "" for a plain one; "{", "[" for a collection in
    brackets, "block" for one laid out by indents. column: of the node, 0-based.
    key_column, key_end: of its key, if it has one.
    """

    start: int
    end: int
    column: int
    style: str
    key_column: int = 0
    key_end: int = -1


@dataclass(frozen=True)
class Tree:
    """What was read: the root group, the place of every node by its path, and what was wrong on the way.

    refused: paths whose content was not taken (a reference, a tag), so that nothing more need be said about them.
    """

    root: Group
    spans: dict[str, Span]
    faults: tuple[Fault, ...] = ()
    refused: frozenset[str] = frozenset()


@dataclass
class _Builder:
    file: str
    text: str
    events: Iterator[Event]
    spans: dict[str, Span] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    refused: set[str] = field(default_factory=set)
    nodes: int = 0

    def fault(self, line: int, key: str, message: str, read: str = "", accepted: str = "") -> None:
        self.faults.append(Fault(self.file, line, shown(key), message, shown(read), accepted))

    def stop(self, line: int, key: str, message: str, accepted: str = "") -> DesignError:
        self.fault(line, key, message, accepted=accepted)
        return DesignError(self.faults)

    def node(self, event: Event, path: str, depth: int, key: ScalarEvent | None = None) -> Any:
        """The node that begins with `event`; takes all its events."""
        line = event.start_mark.line + 1
        self.nodes += 1
        if self.nodes > MOST_NODES:
            raise self.stop(line, "", f"more than {MOST_NODES:,} values and keys; a design needs a few hundred")
        if depth > DEEPEST:
            raise self.stop(line, path, f"groups and lists nest deeper than {DEEPEST}")
        self._refuse_references(event, path, line)
        key_column, key_end = (key.start_mark.column, key.end_mark.index) if key is not None else (0, -1)
        if key is not None and not isinstance(event, ScalarEvent):
            line = key.start_mark.line + 1
        start, column = event.start_mark.index, event.start_mark.column
        if isinstance(event, MappingStartEvent):
            group, end = self._group(path, line, depth)
            style = "{" if event.flow_style else "block"
            self.spans[path] = Span(start, end, column, style, key_column, key_end)
            return group
        if isinstance(event, SequenceStartEvent):
            listing, end = self._listing(path, line, depth)
            style = "[" if event.flow_style else "block"
            self.spans[path] = Span(start, end, column, style, key_column, key_end)
            return listing
        if isinstance(event, ScalarEvent):
            style = event.style or ""
            if not style and not event.value:
                # the parser puts an empty value where the next token stands; it belongs behind its key
                start = end = self._behind(key_end) if key_end >= 0 else start
                self.spans[path] = Span(start, end, column, "", key_column, key_end)
                return Empty("", line if key is None else key.start_mark.line + 1, column + 1, path)
            self.spans[path] = Span(start, event.end_mark.index, column, style, key_column, key_end)
            return Typed(event.value, line, column + 1, path)
        return Empty("", line, column + 1, path)

    def _behind(self, key_end: int) -> int:
        colon = self.text.find(":", key_end)
        return colon + 1 if colon >= 0 else key_end

    def _refuse_references(self, event: Event, path: str, line: int) -> None:
        if isinstance(event, AliasEvent):
            self.fault(line, path, "references (*name) are not read; write the value out", f"*{event.anchor}")
            self.refused.add(path)
        elif isinstance(event, NodeEvent) and event.anchor:
            self.fault(line, path, "names for references (&name) are not read; leave it out", f"&{event.anchor}")
        tag = str(getattr(event, "ctag", None) or "")
        if tag:
            word = self.text[event.start_mark.index : event.start_mark.index + 40].split()
            message = "type marks (!name) are not read; write the plain value"
            self.fault(line, path, message, next((w for w in word if w.startswith("!")), "!"))
            self.refused.add(path)

    def _group(self, path: str, line: int, depth: int) -> tuple[Group, int]:
        group = Group(path, line)
        while True:
            event = next(self.events)
            if isinstance(event, MappingEndEvent):
                return group, event.end_mark.index
            at = event.start_mark.line + 1
            if not isinstance(event, ScalarEvent):
                self.fault(at, path, "a key must be one plain word, not a list, a group or a reference")
                self._skip(event, path, depth)
                continue
            name = event.value
            where = f"{path}.{name}" if path else name
            self._refuse_references(event, path, at)
            wrong = _wrong_key(name)
            if wrong:
                self.fault(at, path, wrong, name)
                self._skip(None, path, depth)
            elif name in group.places:
                self.fault(
                    at, where, f"this key stands twice in one group; it is first written in line {group.places[name]}"
                )
                self._skip(None, path, depth)
            else:
                group.places[name] = at
                group[name] = self.node(next(self.events), where, depth + 1, event)

    def _listing(self, path: str, line: int, depth: int) -> tuple[Listing, int]:
        listing = Listing(path, line)
        while True:
            event = next(self.events)
            if isinstance(event, SequenceEndEvent):
                return listing, event.end_mark.index
            listing.append(self.node(event, f"{path}[{len(listing)}]", depth + 1))

    def _skip(self, key: Event | None, path: str, depth: int) -> None:
        """Pass over a key (if it is not yet taken) and the value behind it without keeping them."""
        kept, self.spans = self.spans, {}
        if key is not None:
            self.node(key, path, depth + 1)
        self.node(next(self.events), path, depth + 1)
        self.spans = kept


def read_tree(text: str, file: str = "design.yaml") -> Tree:
    """The tree of a design text. Raises DesignError where the text has no layout that could be read any further;
    what can be passed over is noted in `faults` of the tree."""
    for number, line in enumerate(text.splitlines(), 1):
        if len(line) > LONGEST_LINE:
            message = f"this line has {len(line):,} characters"
            raise DesignError(
                [Fault(file, number, "", message, accepted=f"lines of up to {LONGEST_LINE:,} characters")]
            )
    builder = _Builder(file, text, iter(()))
    try:
        builder.events = YAML(typ="safe", pure=True).parse(text)
        return _document(builder)
    except ReaderError as wrong:
        at = wrong.position if isinstance(wrong.position, int) else 0
        row = text.count("\n", 0, at) + 1
        message = "a character that does not belong in a text file"
        raise builder.stop(row, "", f"{message} ({_character(wrong.character)})") from None
    except MarkedYAMLError as wrong:
        row, message = _syntax(wrong)
        raise builder.stop(row, "", message) from None
    except (YAMLError, ValueError, OverflowError, StopIteration):
        raise builder.stop(0, "", "cannot be read as keys and values") from None


def _document(builder: _Builder) -> Tree:
    root: Any = None
    documents = 0
    for event in builder.events:
        line = event.start_mark.line + 1
        if isinstance(event, DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise builder.stop(line, "", "a second document begins here (---); a design is one document")
            if event.version or event.tags:
                builder.fault(1, "", "lines that begin with % are not read; leave them out")
        elif isinstance(event, NodeEvent):
            root = builder.node(event, "", 0)
            if isinstance(root, Empty) and not builder.faults:
                raise builder.stop(0, "", "the file holds no design; see the examples for a start")
            if not isinstance(root, Group):
                what = "a list" if isinstance(root, Listing) else "one text"
                raise builder.stop(
                    line, "", f"{what} stands where the sections of a design belong", "`key: value` lines"
                )
    if root is None:
        raise builder.stop(0, "", "the file holds no design; see the examples for a start")
    return Tree(root, builder.spans, tuple(builder.faults), frozenset(builder.refused))


def shown(text: str, longest: int = 60) -> str:
    """A text from the file made fit for one line of a message: control characters written out, long ones cut."""
    plain = "".join(c if c.isprintable() else _character(c) for c in text[: longest + 1])
    return plain if len(plain) <= longest else plain[: longest - 1] + "…"


def _character(character: object) -> str:
    number = character if isinstance(character, int) else ord(str(character)[:1] or " ")
    return f"U+{number:04X}"


def _wrong_key(name: str) -> str:
    if name == "<<":
        return "merging (<<) is not read; write the keys out"
    if not name.strip():
        return "a key is missing before this colon"
    if re.search(r"[.\[\]\n]", name):
        return "a key is one plain word without points and brackets"
    return ""


_SYNTAX = (
    (r"'\\t'.*cannot start", "a tab stands here; indent with spaces"),
    (r"cannot start any token", "a text that begins with this character must stand in quotes"),
    (r"mapping values are not", "a colon too many; check the indent here and above, or quote a text with a colon"),
    (r"could not find expected ':'", "a line without a colon: write `key: value`"),
    (r"scanning a quoted scalar", "a quote is opened here and never closed"),
    (r"escape", "a backslash in double quotes has a meaning of its own; use single quotes"),
    (r"expected ',' or '[\]}]'", "a bracket is opened here and never closed, or a comma is missing inside it"),
    (r"flow (node|sequence|mapping)", "a value is missing inside the brackets"),
    (r"<block end>", "the indent does not match the lines above"),
    (r"sequence entries are not allowed", "a dash stands where no list can be; begin the list on a line of its own"),
    (r"mapping keys are not allowed", "a key stands where none can be; check the indent here and above"),
    (r"<document start>", "text stands outside the design: check the indent of this line"),
    (r"directive|%YAML|version", "lines that begin with % are not read; leave them out"),
    (r"tag", "type marks (!name) are not read; write the plain value"),
    (r"anchor|alias", "names for references (&name, *name) are not read; write the value out"),
    (r"block scalar", "a text of several lines must follow its | or > on the next line, indented"),
)  # fmt: skip


def _syntax(wrong: MarkedYAMLError) -> tuple[int, str]:
    """Line and plain words for what the parser met. Of something opened and never closed, the opening is named."""
    met = f"{wrong.problem or ''} {wrong.context or ''}"
    message = "the layout of keys and values breaks here; check indent, colons and quotes"
    for pattern, words in _SYNTAX:
        if re.search(pattern, met):
            message = words
            break
    mark = wrong.problem_mark or wrong.context_mark
    if ("opened here" in message or "without a colon" in message) and wrong.context_mark is not None:
        mark = wrong.context_mark
    return (mark.line + 1 if mark is not None else 0), message
