"""A sweep as a chart: one panel for each axis and quantity, a map for each pair of numbers, the front of two wishes."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.studies.records_sweep import Axis, Goal, Grid, Plan, Swept
from dryfit.views.panels import NOWHERE, BarPanel, Chart, FrontPanel, Limit, LinePanel, MapPanel, Panel, in_unit
from dryfit.views.sweep_cells import axis_words, scale_of

MOST_BARS = 40
"""Names that one panel can show."""


def sweep_chart(swept: Swept) -> Chart:
    """The panels of a sweep that was run with what a chart needs (`draw`)."""
    plan = swept.plan
    panels: list[Panel] = []
    if len(plan.goals) > 1:
        panels.append(_front(swept))
    for grid in swept.tally.grids:
        axis = plan.axes[grid.axes[0]]
        if len(grid.axes) == 2:
            panels.append(_map(swept, grid))
        elif axis.size > 1 and axis.numeric:
            panels.append(_line(swept, grid))
        elif 1 < axis.size <= MOST_BARS:
            panels.append(_bars(swept, grid))
    kept = f", {swept.tally.kept:,} kept" if plan.conditions else ""
    stopped = ", stopped before the end" if swept.stopped else ""
    return Chart(swept.name, f"{swept.done:,} machines{kept}{stopped}", tuple(panels))


def _name(plan: Plan, column: int) -> str:
    one = plan.columns[column]
    words = one.name.replace("-", " ").replace(".", ", ")
    if column >= plan.from_report:
        words = axis_words(plan.axes[plan.column_axes[column - plan.from_report]])
    return in_unit(words, scale_of(one).sign)


def _cells(axis: Axis, size: int) -> Array:
    """The number in the middle of each cell; of an axis that has no more values than cells, the values."""
    if size == axis.size:
        return axis.numbers
    of = np.arange(axis.size) * size // axis.size
    return np.asarray(np.bincount(of, weights=axis.numbers, minlength=size) / np.bincount(of, minlength=size))


def _medians(swept: Swept, grid: Grid, goal: Goal) -> Array:
    """The middle one of the kept machines in each cell; none where not all machines are remembered."""
    if len(swept.tally.sample.numbers) < swept.tally.machines:
        return np.full(grid.sizes[0], np.nan)
    sample, axis = swept.tally.sample, swept.plan.axes[grid.axes[0]]
    values = sample.values[:, goal.column]
    cell = swept.plan.places(sample.numbers)[grid.axes[0]] * grid.sizes[0] // axis.size
    good = sample.kept & np.isfinite(values)
    found = np.full(grid.sizes[0], np.nan)
    for c in np.unique(cell[good]):
        found[c] = np.median(values[good & (cell == c)])
    return found


def _best_words(goal: Goal) -> str:
    return "largest" if goal.largest else "least"


def _limits(plan: Plan, column: int) -> tuple[Limit, ...]:
    scale = scale_of(plan.columns[column])
    return tuple(
        Limit(float(scale.of(np.asarray(c.limit))), "asked for", c.sign > 0)
        for c in plan.conditions
        if c.column == column
    )


def _is_spread(grid: Grid) -> bool:
    return bool(np.max(grid.all, initial=0) > 1)


def _design(swept: Swept, axis: Axis, column: int) -> tuple[float, float]:
    at = _axis_of_design(swept, axis)
    value = float(scale_of(swept.plan.columns[column]).of(swept.design.values[column]))
    return (at, value) if np.isfinite(at) and np.isfinite(value) else NOWHERE


def _axis_of_design(swept: Swept, axis: Axis) -> float:
    """Where the design stands on an axis, in its unit."""
    plan = swept.plan
    column = plan.from_report + plan.column_axes.index(plan.axes.index(axis))
    factor = axis.dimension.units.get(axis.unit, 1.0) if axis.dimension else 1.0
    offset = axis.dimension.offsets.get(axis.unit, 0.0) if axis.dimension else 0.0
    at = (float(swept.design.values[column]) - offset) / factor
    return at if len(axis.paths) == 1 else float("nan")


def _line(swept: Swept, grid: Grid) -> LinePanel:
    plan, goal = swept.plan, swept.plan.drawn[grid.goal]
    axis, scale = plan.axes[grid.axes[0]], scale_of(plan.columns[goal.column])
    share = np.divide(grid.kept, grid.all, out=np.zeros_like(grid.kept), where=grid.all > 0)
    return LinePanel(
        in_unit(axis_words(axis), axis.unit),
        _name(plan, goal.column),
        _best_words(goal),
        _cells(axis, grid.sizes[0]),
        scale.of(grid.best),
        scale.of(_medians(swept, grid, goal)),
        share,
        _is_spread(grid),
        _design(swept, axis, goal.column),
        _limits(plan, goal.column),
    )


def _bars(swept: Swept, grid: Grid) -> BarPanel:
    plan, goal = swept.plan, swept.plan.drawn[grid.goal]
    axis, scale = plan.axes[grid.axes[0]], scale_of(plan.columns[goal.column])
    return BarPanel(
        axis_words(axis),
        _name(plan, goal.column),
        _best_words(goal),
        axis.texts,
        scale.of(grid.best),
        scale.of(_medians(swept, grid, goal)),
        _is_spread(grid),
        _limits(plan, goal.column),
    )


def _map(swept: Swept, grid: Grid) -> MapPanel:
    plan, goal = swept.plan, swept.plan.drawn[grid.goal]
    first, second = (plan.axes[i] for i in grid.axes)
    return MapPanel(
        in_unit(axis_words(first), first.unit),
        in_unit(axis_words(second), second.unit),
        _name(plan, goal.column),
        _cells(first, grid.sizes[0]),
        _cells(second, grid.sizes[1]),
        scale_of(plan.columns[goal.column]).of(grid.best).reshape(grid.sizes),
        (_axis_of_design(swept, first), _axis_of_design(swept, second)),
    )


CLOUD = 15_000
"""Points that a picture shows behind the front."""


def _front(swept: Swept) -> FrontPanel:
    plan, tally = swept.plan, swept.tally
    some = slice(None, None, max(1, len(tally.sample.numbers) // CLOUD))
    columns = [g.column for g in plan.goals[:2]]
    scales = [scale_of(plan.columns[c]) for c in columns]

    def points(values: Array) -> Array:
        return np.stack([s.of(values[:, c]) for s, c in zip(scales, columns, strict=True)], axis=1)

    design = tuple(float(s.of(swept.design.values[c])) for s, c in zip(scales, columns, strict=True))
    words = " and ".join(f"{_best_words(g)} {plan.columns[g.column].name}" for g in plan.goals[:2])
    return FrontPanel(
        _name(plan, columns[0]),
        _name(plan, columns[1]),
        points(tally.sample.values[some]),
        tally.sample.kept[some],
        points(tally.front.values),
        (design[0], design[1]),
        words,
    )
