"""A drawing as marks on paper, in millimetres, x to the right and y upwards: what files and book draw alike."""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]

TONES = ("ink", "grey", "pale", "paper", "blue", "rust", "sand", "moss", "sky")
"""Names of the colours that marks may have; none says anything that words, hatching or strokes do not say too."""


@dataclass(frozen=True)
class Line:
    """A line through points; closed where `closed`. weight: mm.  dash: lengths of stroke and gap, mm, () for none."""

    points: tuple[Point, ...]
    weight: float = 0.25
    tone: str = "ink"
    dash: tuple[float, ...] = ()
    closed: bool = False


@dataclass(frozen=True)
class Area:
    """A filled shape: an outline and holes. hatched: with fine slanting lines over its tone.  edge: weight of its edge,
    0 for none."""

    outer: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...] = ()
    tone: str = "pale"
    hatched: bool = False
    edge: float = 0.25


@dataclass(frozen=True)
class Circle:
    """A circle, filled where it has a tone."""

    at: Point
    radius: float
    tone: str = ""
    weight: float = 0.25


@dataclass(frozen=True)
class Words:
    """A line of text. size: height of the letters, mm (3 is what a book has).  anchor: start, middle or end of the line
    stands at the point; the point is on the base line.  turned: degrees to the left."""

    at: Point
    text: str
    size: float = 3.0
    anchor: str = "start"
    tone: str = "ink"
    strong: bool = False
    turned: float = 0.0


Mark = Line | Area | Circle | Words


@dataclass(frozen=True)
class Drawing:
    """Marks on a sheet of a width and height in mm, lower left corner at the origin. title and note: for whoever cannot
    see it."""

    title: str
    width: float
    height: float
    marks: tuple[Mark, ...]
    note: str = ""
