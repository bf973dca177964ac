"""A change that was tried, and the order in which changes are offered."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dryfit.ground.findings import State
from dryfit.ground.quantity import Array
from dryfit.studies.fix_solve import Bench, Candidate
from dryfit.studies.quantities import Asked
from dryfit.studies.records_fix import Change, Price

_SEEN, _SIDE_EFFECT = 5e-3, 0.03
DEAR = {Price.FREE: 0, Price.PART: 1, Price.REPRINT: 2, Price.LESS: 3}
"""Prices in order."""


@dataclass(frozen=True)
class Found:
    """A change that was tried, and everything asked of the machine that has it.

    family: the same for changes of a like kind, of which only a few are worth telling.  by: the lever, if one alone.
    """

    change: Change
    row: Array
    family: str
    by: Candidate | None = None
    pair: bool = False


def from_candidate(c: Candidate) -> Found:
    """A number lever at a size, as a change that was tried."""
    return Found(c.lever.to(c.size), c.row, c.lever.family, c)


def is_clean(bench: Bench, found: Found) -> bool:
    """Whether nothing becomes short by a change."""
    return not len(bench.broken(found.row))


def rank(bench: Bench, found: Found) -> tuple[float, ...]:
    """Nothing short before something short; one change before two; nothing given up before something; what is short
    already made no worse; what restores more before less; reserves kept before reserves lost; cheap before dear; near,
    with few side effects, before far."""
    change, row = found.change, found.row
    moved = np.nan_to_num(row[: bench.checks] - bench.base[: bench.checks])
    worse = int(np.sum(moved < -_SEEN))
    return (
        len(bench.broken(row)),
        found.pair,
        change.price is Price.LESS,
        bench.worsened(row),
        -len(restored(bench, row)),
        _lose_their_reserve(bench, row),
        DEAR[change.price],
        round(change.size + _SIDE_EFFECT * worse, 6),
        len(change.edits),
        float(np.sum(np.abs(moved))),
    )


def restored(bench: Bench, row: Array) -> list[int]:
    """The checks that hold in this row and did not."""
    before = bench.base
    return [
        i
        for i in range(bench.checks)
        if bench.restored(row, i) and not bench.restored(before, i) and not np.isnan(before[i])
    ]


def state_of(margin: float, one: Asked) -> State:
    """The state that a margin means for a check."""
    if margin >= one.reserve:
        return State.HOLDS
    if margin >= 0:
        return State.TIGHT
    return State.UNKNOWN if np.isnan(margin) else State.SHORT


def _lose_their_reserve(bench: Bench, row: Array) -> int:
    now, before = row[: bench.checks], bench.base[: bench.checks]
    return int(np.sum((before >= bench.reserves) & (now >= 0) & ~(now >= bench.reserves)))
