"""A page of words and tables, whatever it is about: what terminal, book and workbench draw alike."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Heading:
    """Begins a part of the page."""

    text: str


@dataclass(frozen=True)
class Paragraph:
    """A sentence or a few. strong: what matters most; faint: what may be skipped.

    mark: one character that stands before it ("→" to do, "!" caution, "·" one of several)."""

    text: str
    strong: bool = False
    faint: bool = False
    mark: str = ""


@dataclass(frozen=True)
class Column:
    """A column of a table. right: numbers, set to the right. fold: long words, broken into lines; others are not."""

    head: str = ""
    right: bool = False
    fold: bool = False
    faint: bool = False


@dataclass(frozen=True)
class Table:
    """Rows of cells, as many in each as there are columns. Without any head there is no line of heads."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Command:
    """What to type next, and what it shows. Never broken into lines."""

    text: str
    shows: str = ""


Block = Heading | Paragraph | Table | Command


@dataclass(frozen=True)
class Page:
    """A title, the file it is about, and what stands beneath, in order."""

    title: str
    aside: str = ""
    blocks: tuple[Block, ...] = field(default=())
