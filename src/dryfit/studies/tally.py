"""Counting a block of machines, and putting two counts together: the best, the front, what each condition leaves.

The memory that a tally takes does not grow with the number of machines. Counts are put together in the order of the
blocks, so that the result is the same however the blocks were shared out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array
from dryfit.studies.blocks_of_machines import Assessed, Work, assessed, kept_only
from dryfit.studies.front import least, spread_out, unbeaten
from dryfit.studies.records_sweep import Condition, Goal, Grid, Plan, Rows, Tally, sides

FRONT = 5000
"""Machines of a front that are remembered."""

SAMPLE = 60_000
"""Machines that are remembered for the cloud of a chart."""

LINE, MAP = 1000, 120
"""Cells along an axis of a chart with one axis, and of one with two."""

REASONS = 12
"""Reasons why machines cannot be that are told apart."""

OTHER = "other reasons"

MAPPED = 3
"""Number axes of which every pair gets a map."""


def block(work: Work, number: int) -> tuple[Tally, Rows | None]:
    """One block of a sweep: its tally, and its machines where they are wanted for a file."""
    found = assessed(work, number)
    plan = work.plan
    rows, meets = _judged(plan, found)
    kept = kept_only(rows)
    best, front, thinned = _best(plan, kept, work.rows)
    tally = Tally(
        machines=len(rows.numbers),
        impossible=_reasons(rows.impossible),
        meets=tuple(int(np.count_nonzero(m)) for m in meets),
        leaves=tuple(int(np.count_nonzero(np.logical_and.reduce(meets[: i + 1]))) for i in range(len(meets))),
        nearest=tuple(_nearest(c, rows) for c in plan.conditions),
        short=found.short,
        kept=len(kept.numbers),
        best=best,
        front=front,
        thinned=thinned,
        grids=tuple(_grid(plan, axes, goal, rows) for axes, goal in _grids(plan)) if work.draw else (),
        sample=_sampled(plan, rows) if work.draw else _none(plan),
    )
    wanted = kept if plan.conditions else rows
    return tally, wanted if work.send else None


def joined(plan: Plan, a: Tally, b: Tally, rows: int) -> Tally:
    """The tally of the machines of both; those of `a` come before those of `b`."""
    best, front, thinned = _best(plan, _both(a.best, b.best), rows, _both(a.front, b.front))
    impossible = _added(a.impossible, b.impossible)
    return Tally(
        machines=a.machines + b.machines,
        impossible=impossible,
        meets=tuple(x + y for x, y in zip(a.meets, b.meets, strict=True)),
        leaves=tuple(x + y for x, y in zip(a.leaves, b.leaves, strict=True)),
        nearest=tuple(_nearer(c, x, y) for c, x, y in zip(plan.conditions, a.nearest, b.nearest, strict=True)),
        short={name: a.short.get(name, 0) + b.short.get(name, 0) for name in (*a.short, *b.short)},
        kept=a.kept + b.kept,
        best=best,
        front=front,
        thinned=a.thinned or b.thinned or thinned,
        grids=tuple(_one_grid(x, y, _goal_of(plan, x)) for x, y in zip(a.grids, b.grids, strict=True)),
        sample=_both(a.sample, b.sample),
    )


def nothing(work: Work) -> Tally:
    """The tally of no machine."""
    plan, none = work.plan, _none(work.plan)
    return Tally(
        machines=0,
        impossible={},
        meets=(0,) * len(plan.conditions),
        leaves=(0,) * len(plan.conditions),
        nearest=((float("nan"), -1),) * len(plan.conditions),
        short={},
        kept=0,
        best=none,
        front=none,
        thinned=False,
        grids=tuple(_grid(plan, axes, goal, none) for axes, goal in _grids(plan)) if work.draw else (),
        sample=none,
    )


def _judged(plan: Plan, found: Assessed) -> tuple[Rows, list[NDArray[np.bool_]]]:
    rows = found.rows
    possible = np.ones(len(rows.numbers), dtype=bool)
    possible[list(rows.impossible)] = False
    meets = []
    for c in plan.conditions:
        if c.column < 0:
            met = found.sound
        else:
            side = sides(rows.values[:, c.column], c)
            met = side > 0 if c.strict else side >= 0
        meets.append(met & possible)
    return replace(rows, kept=np.logical_and.reduce([possible, *meets])), meets


def _keys(goal: Goal, rows: Rows) -> Array:
    values = rows.values[:, goal.column]
    return -values if goal.largest else values


def _best(plan: Plan, kept: Rows, count: int, fronts: Rows | None = None) -> tuple[Rows, Rows, bool]:
    """The best of some kept machines, and the front of the first two goals, by its first one."""
    if not plan.goals:
        return _picked(kept, np.arange(min(count, len(kept.numbers)))), _none(plan), False
    best = _picked(kept, least(_keys(plan.goals[0], kept), kept.numbers, count))
    if len(plan.goals) < 2:
        return best, _none(plan), False
    pool = kept if fronts is None else fronts
    front = unbeaten(_keys(plan.goals[0], pool), _keys(plan.goals[1], pool), pool.numbers)
    return best, _picked(pool, front[spread_out(len(front), FRONT)]), len(front) > FRONT


def _picked(rows: Rows, places: NDArray[np.intp]) -> Rows:
    return Rows(rows.numbers[places], rows.values[places], rows.kept[places])


def _both(a: Rows, b: Rows) -> Rows:
    return Rows(
        np.concatenate((a.numbers, b.numbers)),
        np.concatenate((a.values, b.values)),
        np.concatenate((a.kept, b.kept)),
    )


def _none(plan: Plan) -> Rows:
    return Rows(np.empty(0, dtype=np.int64), np.empty((0, len(plan.columns))), np.empty(0, dtype=bool))


def _reasons(impossible: Mapping[int, str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for why in impossible.values():
        found[why] = found.get(why, 0) + 1
    return _added(found, {})


def _added(a: Mapping[str, int], b: Mapping[str, int]) -> dict[str, int]:
    """Both counts; reasons beyond the first ones are counted together."""
    found = dict(a)
    for why, often in b.items():
        found[why] = found.get(why, 0) + often
    told = [why for why in found if why != OTHER]
    rest = sum(found[why] for why in told[REASONS:]) + found.get(OTHER, 0)
    return {why: found[why] for why in told[:REASONS]} | ({OTHER: rest} if rest else {})


def _nearest(c: Condition, rows: Rows) -> tuple[float, int]:
    if c.column < 0 or not len(rows.numbers):
        return float("nan"), -1
    side = sides(rows.values[:, c.column], c)
    side[list(rows.impossible)] = np.nan
    if np.all(np.isnan(side)):
        return float("nan"), -1
    row = int(np.nanargmax(side))
    return float(rows.values[row, c.column]), int(rows.numbers[row])


def _nearer(c: Condition, a: tuple[float, int], b: tuple[float, int]) -> tuple[float, int]:
    if np.isnan(a[0]) or np.isnan(b[0]):
        return b if np.isnan(a[0]) else a
    return b if c.sign * (b[0] - a[0]) > 0 else a


def _grids(plan: Plan) -> list[tuple[tuple[int, ...], Goal]]:
    numeric = [i for i, a in enumerate(plan.axes) if a.numeric and a.size > 1][:MAPPED]
    pairs = [(a, b) for place, a in enumerate(numeric) for b in numeric[place + 1 :]]
    lines = [((i,), goal) for goal in plan.drawn for i in range(len(plan.axes))]
    return [*lines, *((pair, goal) for goal in plan.drawn[:1] for pair in pairs)]


def _goal_of(plan: Plan, grid: Grid) -> Goal:
    return plan.drawn[grid.goal]


def _grid(plan: Plan, axes: tuple[int, ...], goal: Goal, rows: Rows) -> Grid:
    """Best and number of the machines by cell of one axis or two; long axes are gathered into fewer cells."""
    most = LINE if len(axes) == 1 else MAP
    sizes = tuple(min(plan.axes[i].size, most) for i in axes)
    cell = np.zeros(len(rows.numbers), dtype=np.intp)
    if len(rows.numbers):
        places = plan.places(rows.numbers)
        for i, size in zip(axes, sizes, strict=True):
            cell = cell * size + places[i] * size // plan.axes[i].size
    count = int(np.prod(sizes))
    known = rows.kept & ~np.isnan(rows.values[:, goal.column])
    worst = -np.inf if goal.largest else np.inf
    best = np.full(count, worst)
    (np.maximum if goal.largest else np.minimum).at(best, cell[known], rows.values[known, goal.column])
    kept = np.bincount(cell[known], minlength=count).astype(float)
    best[kept == 0] = np.nan
    return Grid(axes, sizes, plan.drawn.index(goal), best, kept, np.bincount(cell, minlength=count).astype(float))


def _one_grid(a: Grid, b: Grid, goal: Goal) -> Grid:
    best = np.fmax(a.best, b.best) if goal.largest else np.fmin(a.best, b.best)
    return replace(a, best=best, kept=a.kept + b.kept, all=a.all + b.all)


def _sampled(plan: Plan, rows: Rows) -> Rows:
    """Some machines, chosen by their numbers alone: those whose scrambled number is small."""
    if plan.count <= SAMPLE:
        return rows
    scrambled = _mixed(rows.numbers.astype(np.uint64))
    return _picked(rows, np.flatnonzero(scrambled < np.uint64(2**64 * SAMPLE // plan.count)))


def _mixed(numbers: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Numbers that look drawn at random, the same ones for the same numbers: a plain multiple would leave a pattern in
    the picture. Mixing by shifts and multiples after S. Vigna's splitmix64 (public domain, from memory)."""
    x = numbers + np.uint64(0x9E3779B97F4A7C15)
    x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return x ^ (x >> np.uint64(31))
