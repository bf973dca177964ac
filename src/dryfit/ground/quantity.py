"""Numbers and where they come from: the alias for a number, a typed quantity, and its origin."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.sources import Source

Array = NDArray[np.float64]
Num = float | np.float64 | Array
"""An SI number: a float for one machine, an array whose leading axes run over machines for many."""


class Kind(Enum):
    """What sort of place a number came from."""

    DESIGN = "design line"
    CATALOGUE = "catalogue row"
    DEFAULT = "default"
    MISSING = "not given"
    RULE = "rule"


@dataclass(frozen=True)
class Origin:
    """Where one number was read: the place, the text that stood there, and the source behind it.

    kind: which sort of place.  path: the key in the design file ("base.wheels.diameter").
    line: 1-based line of the design file, 0 where it stands in no line of it.
    text: as typed ("203 mm").  note: for a default, why this value; for a row, what it does not claim.
    """

    kind: Kind
    path: str = ""
    line: int = 0
    text: str = ""
    note: str = ""
    source: Source | None = None


@dataclass(frozen=True)
class Spread:
    """How far the true value may lie from the given one: half-width as a fraction of it, and who says so."""

    fraction: float
    reason: str


@dataclass(frozen=True)
class Quantity:
    """A number read at the edge, already in SI, with the text it was read from."""

    si: Num
    dimension: str
    origin: Origin
    spread: Spread | None = None


Value = Quantity | float | Array | str
"""What may be put at a place of a design: a Quantity, an SI number or array, or a text as it would be typed there."""
