"""What all studies share: a place of the design that may be changed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from dryfit.ground import units


class PlaceKind(Enum):
    """What may stand at a place."""

    NUMBER = "number"
    CATALOGUE = "catalogue row"
    WORD = "word"


@dataclass(frozen=True)
class Place:
    """One key of the design that could say something else.

    written: whether it stands in the file; otherwise `text` is the default that was taken for it, and line is 0.
    text: as typed.  si: of a number, else NaN.  options: the catalogue's rows, or the words, that may stand there.
    catalogue: kind of the rows ("wheels").
    """

    path: str
    kind: PlaceKind
    written: bool
    line: int
    text: str
    si: float = float("nan")
    dimension: units.Dimension | None = None
    options: tuple[str, ...] = ()
    catalogue: str = ""
