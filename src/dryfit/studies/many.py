"""Many machines through the same trades: numbers varied as arrays, in blocks, machines that cannot be set aside.

A design is varied through a `Build`, which the jobs hand in: from values by path to the machine that has them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.assess.assess import assess
from dryfit.ground.errors import DesignError
from dryfit.ground.quantity import Array, Value
from dryfit.machine.machine import Machine
from dryfit.machine.stack import alike, stacked
from dryfit.studies.quantities import Asked, values

Build = Callable[[Mapping[str, Value | None]], Machine]
"""From values by path (an array runs over machines; a text is read as if typed; None leaves a key out) to a machine.
Raises DesignError where such a machine cannot be put together, OneNumberError where a number that shapes it varies."""

BLOCK = 2048
"""Machines that pass the trades at once: few enough for their numbers to stay near the processor."""


@dataclass(frozen=True)
class Found:
    """What was asked of n machines: values (n, len(asked)), NaN in the rows of machines that cannot be.

    impossible: why not, by row."""

    values: Array
    impossible: Mapping[int, str]


@dataclass(frozen=True)
class Evaluate:
    """Answers the same questions about any machines of one design. fixed: what differs from the design in all of them.

    Holds nothing that cannot be sent to another process, if `build` can.
    """

    build: Build
    asked: tuple[Asked, ...]
    fixed: Mapping[str, Value | None]

    def __call__(self, varied: Mapping[str, Array]) -> Found:
        """The quantities of n machines; varied: SI numbers by path, each (n,)."""
        count = len(next(iter(varied.values())))
        out = np.empty((count, len(self.asked)))
        impossible: dict[int, str] = {}
        for start in range(0, count, BLOCK):
            stop = min(start + BLOCK, count)
            rows = {path: v[start:stop] for path, v in varied.items()}
            out[start:stop] = self._block(rows, stop - start, start, impossible)
        return Found(out, impossible)

    def _block(self, varied: Mapping[str, Array], count: int, start: int, impossible: dict[int, str]) -> Array:
        try:
            machine = self.build({**self.fixed, **varied})
        except DesignError as wrong:
            if count == 1:
                impossible[start] = str(wrong.faults[0].message)
                return np.full((1, len(self.asked)), np.nan)
            half = count // 2
            first = {path: v[:half] for path, v in varied.items()}
            second = {path: v[half:] for path, v in varied.items()}
            lower = self._block(first, half, start, impossible)
            upper = self._block(second, count - half, start + half, impossible)
            return np.concatenate((lower, upper))
        return values(assess(machine), self.asked, count)


def read_all(machines: Sequence[Machine], asked: Sequence[Asked]) -> Array:
    """The quantities of machines that were put together one by one, (len(machines), len(asked)); those of one shape
    pass the trades together."""
    out = np.empty((len(machines), len(asked)))
    for rows in alike(machines):
        out[rows] = values(assess(stacked([machines[i] for i in rows])), asked, len(rows))
    return out
