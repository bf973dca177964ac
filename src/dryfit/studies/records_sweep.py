"""What a sweep is asked, and what it answers: axes, conditions, machines by number, and what was left of them.

The machines of a sweep are numbered 0, 1, 2 ... with the last axis running fastest; axes along which machines are put
together one combination at a time (catalogue rows, words, counts that shape the machine) run slowest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dryfit.ground import units
from dryfit.ground.quantity import Array
from dryfit.studies.quantities import Asked

__all__ = [
    "Asked", "Axis", "AxisKind", "Change", "Condition", "Goal", "Grid", "Numbers", "Plan", "Rows", "Swept", "Tally",
    "Told", "sides",
]  # fmt: skip

Numbers = NDArray[np.int64]
"""Numbers of machines, (n,)."""


class AxisKind(Enum):
    """What runs along an axis."""

    NUMBER = "number"
    COUNT = "count"
    ROW = "catalogue row"
    WORD = "word"


@dataclass(frozen=True, eq=False)
class Axis:
    """One thing that varies: its places in the design, and what is put there.

    typed: as it was asked for.  paths: all get the same value.  texts: as they would be typed, for rows and words;
    empty for numbers.  numbers: (n,) in `unit`; si: (n,) the same in SI; empty for rows and words.
    dimension: of numbers.
    together: many values pass the trades at once, as an array.
    left_out: by value, the keys that go with the part it replaces.
    """

    typed: str
    paths: tuple[str, ...]
    kind: AxisKind
    texts: tuple[str, ...] = ()
    numbers: Array = field(default_factory=lambda: np.empty(0))
    si: Array = field(default_factory=lambda: np.empty(0))
    unit: str = ""
    dimension: units.Dimension | None = None
    together: bool = False
    left_out: tuple[tuple[str, ...], ...] = ()

    @property
    def size(self) -> int:
        """How many values."""
        return len(self.texts) if self.texts else len(self.numbers)

    @property
    def numeric(self) -> bool:
        """Whether its values are numbers."""
        return not self.texts

    def text(self, place: int) -> str:
        """One of its values as it would be typed: "190 mm"."""
        if self.texts:
            return self.texts[place]
        return f"{self.numbers[place]:.10g} {self.unit}".rstrip()


@dataclass(frozen=True)
class Condition:
    """What a machine must meet to be kept. typed: as asked for.  column: of the values; -1 for no check short.

    sign: +1 where the value must not be below the limit, -1 where it must not be above.
    strict: equal is not enough.  words: the same as a sentence.
    """

    typed: str
    column: int
    sign: int
    limit: float
    strict: bool = False
    words: str = ""


@dataclass(frozen=True)
class Goal:
    """A quantity of which the largest or the least is wanted; `said`: the user said which."""

    column: int
    largest: bool
    said: bool


@dataclass(frozen=True, eq=False)
class Plan:
    """A sweep, ready to be run.

    axes: as asked for.  fixed: what differs from the design in all machines, by path as typed; None: left out.
    columns: the quantities of a machine: first those read from its report (`from_report` of them), then axes.
    column_axes: for each column that is an axis, which one.  shown: columns that were asked to be shown.
    """

    axes: tuple[Axis, ...]
    fixed: Mapping[str, str | None]
    columns: tuple[Asked, ...]
    from_report: int
    column_axes: tuple[int, ...]
    conditions: tuple[Condition, ...]
    goals: tuple[Goal, ...]
    shown: tuple[int, ...]

    @property
    def order(self) -> tuple[int, ...]:
        """The axes from the slowest to the fastest."""
        together = [a.together for a in self.axes]
        return tuple(sorted(range(len(self.axes)), key=lambda i: together[i]))

    @property
    def count(self) -> int:
        """How many machines."""
        count = 1
        for axis in self.axes:
            count *= axis.size
        return count

    @property
    def inner(self) -> int:
        """How many machines of each combination of rows, words and shaping counts."""
        count = 1
        for axis in self.axes:
            count *= axis.size if axis.together else 1
        return count

    @property
    def drawn(self) -> tuple[Goal, ...]:
        """What a chart is about: what is wanted best, or else what was asked for at all; at most three quantities."""
        if self.goals:
            return self.goals[:3]
        columns = dict.fromkeys((*self.shown, *(c.column for c in self.conditions)))
        return tuple(Goal(column, True, False) for column in columns if 0 <= column < self.from_report)[:3]

    def places(self, numbers: Numbers) -> list[NDArray[np.int64]]:
        """For each axis, as asked for, the place of its value in the machines of these numbers."""
        found: dict[int, NDArray[np.int64]] = {}
        rest = np.asarray(numbers, dtype=np.int64)
        for i in reversed(self.order):
            rest, found[i] = np.divmod(rest, self.axes[i].size)
        return [found[i] for i in range(len(self.axes))]


@dataclass(frozen=True, eq=False)
class Rows:
    """Some machines: numbers (n,), values (n, columns), kept (n,), and why a machine cannot be, by row."""

    numbers: Numbers
    values: Array
    kept: NDArray[np.bool_]
    impossible: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Grid:
    """The best of a quantity over the values of one axis or two: best (cells), of the kept machines, NaN where none is;
    kept and all: how many machines. axes: one or two; sizes: cells along each; goal: of the plan."""

    axes: tuple[int, ...]
    sizes: tuple[int, ...]
    goal: int
    best: Array
    kept: Array
    all: Array


@dataclass(frozen=True, eq=False)
class Tally:
    """What is known of the machines that were looked at; two of them make one (`studies.sweep.joined`).

    impossible: how many by reason.  meets: by condition, how many machines meet it.  leaves: how many meet it and all
    before it.  nearest: by condition, the value that comes nearest to meeting it, and the machine that has it.
    short: how often each check is short, where no check may be.
    best: kept machines, best first; front: those that no other beats in both of the first two goals.
    thinned: the front had more machines than are remembered.  sample: some machines, spread over all.
    """

    machines: int
    impossible: Mapping[str, int]
    meets: tuple[int, ...]
    leaves: tuple[int, ...]
    nearest: tuple[tuple[float, int], ...]
    short: Mapping[str, int]
    kept: int
    best: Rows
    front: Rows
    thinned: bool
    grids: tuple[Grid, ...]
    sample: Rows


@dataclass(frozen=True)
class Change:
    """A check that says something else than of the design as it is: its state and margin there and here."""

    check: str
    title: str
    was: str
    state: str
    was_margin: float
    margin: float


@dataclass(frozen=True, eq=False)
class Told:
    """One machine of the table: its number (-1: the design as it is) and values (columns,), which of its checks are
    short, unknown or tight, and which say something else than of the design."""

    number: int
    values: Array
    short: tuple[str, ...]
    unknown: tuple[str, ...]
    tight: tuple[str, ...]
    changes: tuple[Change, ...]


@dataclass(frozen=True, eq=False)
class Swept:
    """The answer. table: the machines to be told.  design: the design as it is; an axis that is not a number, or a
    quantity that it does not have, is NaN there.  stopped: before all machines were done."""

    name: str
    plan: Plan
    tally: Tally
    table: tuple[Told, ...]
    design: Told
    stopped: bool

    @property
    def done(self) -> int:
        """How many machines were looked at."""
        return self.tally.machines


def sides(values: Array, condition: Condition) -> Any:
    """How far values lie on the good side of a condition's limit, in the unit of the quantity."""
    return condition.sign * (values - condition.limit)
