"""What readings say about a design: bands, numbers that move, readings that do not fit, checks before and after."""

from __future__ import annotations

from dataclasses import dataclass

from dryfit.studies.records_spread import Input


@dataclass(frozen=True)
class Band:
    """What a reading should be: the middle, and where 5 and 95 of 100 machines lie, instrument and scatter counted."""

    predicted: float
    low: float
    high: float


@dataclass(frozen=True)
class Given:
    """A reading given to the model: the point, its SI value, half-widths of instrument and of scatter, and the path of
    the number that it reads itself ("" for none)."""

    point: str
    value: float
    accuracy: float
    scatter: float
    reads: str


@dataclass(frozen=True)
class Shifted:
    """A number that readings move: SI, half-widths before and after, and the points that moved it, most first."""

    input: Input
    after: float
    doubt_before: float
    doubt_after: float
    by: tuple[str, ...]


@dataclass(frozen=True)
class SetAside:
    """A reading that the model was not given: SI value read and predicted, and how many standard deviations lie
    between; 0 where no number of the design could explain it at all."""

    point: str
    read: float
    predicted: float
    deviations: float


@dataclass(frozen=True)
class Recalibration:
    """What readings make of a design. moved: numbers that shift or get surer.  predicted: readings as the moved
    numbers predict them, by point.  aside: readings that are not forced on the model.  direct: readings of a number of
    the design that lie beyond what was thought of it, and count all the same."""

    moved: tuple[Shifted, ...]
    predicted: tuple[tuple[str, float], ...]
    aside: tuple[SetAside, ...]
    direct: tuple[str, ...]
