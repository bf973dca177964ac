"""What a book is made of, beside the blocks of a page: drawings, test cards, boxes to tick, lines to write on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from dryfit.views.drawing import Drawing
from dryfit.views.page import Block, Column, Heading, Paragraph, Table


@dataclass(frozen=True)
class Figure:
    """A drawing, true to scale where it fits, with what it shows beneath."""

    drawing: Drawing
    caption: str = ""


@dataclass(frozen=True)
class Beside:
    """Figures side by side."""

    figures: tuple[Figure, ...]


@dataclass(frozen=True)
class Ticks:
    """Things to be ticked off, each with an empty box."""

    lines: tuple[str, ...]


@dataclass(frozen=True)
class Cautions:
    """What to beware of, kept together and set apart."""

    lines: tuple[str, ...]


@dataclass(frozen=True)
class Blanks:
    """Lines to write on, each with its name before it."""

    names: tuple[str, ...]


@dataclass(frozen=True)
class BenchRow:
    """What is read: its name ("" where a card has one row), what it should read, between what, and how well the
    instrument knows it.  taken: a reading that was entered before, in words."""

    name: str
    reads: str
    band: str
    accuracy: str
    taken: str = ""


@dataclass(frozen=True)
class BenchCard:
    """One test point, or several that are read in the same way, a row each. low, high: what is likely, and what tells
    it."""

    number: str
    title: str
    rows: tuple[BenchRow, ...]
    instrument: str
    how: tuple[str, ...]
    stop: str
    cautions: tuple[str, ...]
    low: tuple[tuple[str, str], ...]
    high: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Notes:
    """Short lines, each with the number it goes by, in two columns."""

    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class PageBreak:
    """What follows begins on a new page."""


BookBlock = Block | Figure | Beside | Ticks | Cautions | Blanks | BenchCard | Notes | PageBreak


@dataclass(frozen=True)
class Chapter:
    """A chapter; it begins on a new page. aside: a phrase beside its title."""

    title: str
    blocks: tuple[BookBlock, ...]
    aside: str = ""


@dataclass(frozen=True)
class Occasion:
    """What the book is for. file: of the design, as it may be shown.  delivery: None where no date is given."""

    file: str
    event: str = ""
    deadline: str = ""
    delivery: date | None = None


@dataclass(frozen=True)
class TitlePage:
    """Name, what it is for, a picture, lines of facts (name, value), the verdict in one sentence."""

    name: str
    event: str
    picture: Drawing
    facts: tuple[tuple[str, str], ...]
    headline: str


@dataclass(frozen=True)
class Book:
    """A title page and chapters. preface: stands below the list of what is in the book.  foot: at the foot of every
    page.  today: date of the book."""

    name: str
    title: TitlePage
    chapters: tuple[Chapter, ...]
    foot: str
    today: date
    preface: tuple[BookBlock, ...] = ()


def table(heads: str, rows: Sequence[tuple[str, ...]], right: str = "", fold: str = "") -> Table:
    """A table: heads divided by |; right, fold: numbers of the columns set to the right and broken into lines."""
    columns = tuple(
        Column(head.strip(), right=str(n) in right, fold=str(n) in fold) for n, head in enumerate(heads.split("|"))
    )
    return Table(columns, tuple(rows))


__all__ = [
    "BenchCard",
    "BenchRow",
    "Beside",
    "Blanks",
    "Block",
    "Book",
    "BookBlock",
    "Cautions",
    "Chapter",
    "Column",
    "Figure",
    "Heading",
    "Notes",
    "Occasion",
    "PageBreak",
    "Paragraph",
    "Table",
    "Ticks",
    "TitlePage",
    "table",
]  # fmt: skip
