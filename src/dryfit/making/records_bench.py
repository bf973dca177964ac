"""Build stages and their test points: what the meter, the scale and the tape should read, and what if not."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import isnan

from dryfit.ground.findings import State, Term


@dataclass(frozen=True)
class Cause:
    """A likely cause of a reading outside its band, and the reading that would tell it apart."""

    what: str
    tell: str


@dataclass(frozen=True)
class Outside:
    """What a reading on one side of the band means, most likely cause first."""

    low: tuple[Cause, ...]
    high: tuple[Cause, ...]


@dataclass(frozen=True)
class Taken:
    """A reading that was entered: SI value, as typed, when, and the line it stands on."""

    value: float
    text: str
    date: date | None
    used: bool
    line: int


@dataclass(frozen=True)
class TestPoint:
    """One test point. name: "mass-hub".  predicted, low, high: SI in `unit`; the band holds 90 of 100 machines built to
    this design, read with this instrument.  accuracy: half-width of the instrument.  how: what to do, in steps.
    stop: when to stop at once.  cautions: before it is done.  taken: the reading, if there is one.  most: it only has
    to be small, so that no number of the design is moved for it."""

    name: str
    stage: str
    title: str
    unit: str
    predicted: float
    low: float
    high: float
    instrument: str
    accuracy: float
    how: tuple[str, ...]
    stop: str
    cautions: tuple[str, ...]
    outside: Outside
    taken: Taken | None = None
    most: bool = False


@dataclass(frozen=True)
class Stage:
    """One stage of the build, in building order: what to have ready, what to do, what to beware of."""

    name: str
    title: str
    ready: tuple[str, ...]
    steps: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Moved:
    """A number of the design that the readings move: its key, SI values before and after, half-widths before and after,
    and the test points that moved it most."""

    path: str
    title: str
    unit: str
    before: float
    after: float
    doubt_before: float
    doubt_after: float
    by: tuple[str, ...]


@dataclass(frozen=True)
class Aside:
    """A reading that no number of the design was moved for: why not, in words."""

    point: str
    why: str


@dataclass(frozen=True)
class Elsewhere:
    """A reading in the file for a point that this machine does not have: kept, and not used."""

    point: str
    text: str
    line: int


@dataclass(frozen=True)
class CheckMove:
    """One check before and after the readings: states and margins."""

    check: str
    title: str
    was: State
    becomes: State
    before: float
    after: float


@dataclass(frozen=True)
class Bench:
    """Everything about the test points of one machine.

    terms: the prediction of each point with its workings, by its name.  moved: numbers of the design that the readings
    move.  direct: points that read a number of the design, far off what was thought of it.  checks: all of them, those
    that change most first; empty where no reading counts.
    """

    name: str
    stages: tuple[Stage, ...]
    points: tuple[TestPoint, ...]
    terms: dict[str, Term]
    moved: tuple[Moved, ...]
    direct: tuple[str, ...]
    aside: tuple[Aside, ...]
    elsewhere: tuple[Elsewhere, ...]
    checks: tuple[CheckMove, ...]


def side(point: TestPoint) -> str:
    """Where a reading lies: "low", "high", "" inside its band, not taken, or with no band to hold it against."""
    if point.taken is None or point.low <= point.taken.value <= point.high or isnan(point.predicted):
        return ""
    return "low" if point.taken.value < point.low else "high"
