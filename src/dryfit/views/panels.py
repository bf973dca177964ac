"""What a chart shows, whatever draws it: panels with numbers in trade units and words for their axes."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array


@dataclass(frozen=True, eq=False)
class Limit:
    """A value that a quantity should not pass: drawn as a line with its words. above: good lies above it."""

    value: float
    words: str
    above: bool


@dataclass(frozen=True, eq=False)
class LinePanel:
    """A quantity along one number that varies. x, best, median, share: (n,); share: part of the machines that is kept.
    spread: whether there is more than one machine at a value.  design: x and y of the design as it is, may be NaN."""

    x_name: str
    y_name: str
    best_words: str
    x: Array
    best: Array
    median: Array
    share: Array
    spread: bool
    design: tuple[float, float]
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True, eq=False)
class BarPanel:
    """A quantity for a few named things."""

    x_name: str
    y_name: str
    best_words: str
    names: tuple[str, ...]
    best: Array
    median: Array
    spread: bool
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True, eq=False)
class MapPanel:
    """The best of a quantity over two numbers that vary: z (len(x), len(y)), NaN where no machine is kept."""

    x_name: str
    y_name: str
    z_name: str
    x: Array
    y: Array
    z: Array
    design: tuple[float, float]


@dataclass(frozen=True, eq=False)
class FrontPanel:
    """Two quantities against each other: some of all machines as a cloud, and the front that nothing beats."""

    x_name: str
    y_name: str
    cloud: Array
    kept: NDArray[np.bool_]
    front: Array
    design: tuple[float, float]
    wanted: str


Panel = LinePanel | BarPanel | MapPanel | FrontPanel


@dataclass(frozen=True, eq=False)
class Chart:
    """Panels under one title."""

    title: str
    note: str
    panels: tuple[Panel, ...] = field(default=())


NOWHERE = (float("nan"), float("nan"))
"""Of a design that has no place in a panel."""


def in_unit(name: str, unit: str) -> str:
    """Words for an axis with its unit: "circle radius, mm"."""
    return f"{name}, {unit}" if unit else name


def is_somewhere(point: tuple[float, float]) -> bool:
    """Whether a point can be drawn."""
    return bool(np.all(np.isfinite(point)))
