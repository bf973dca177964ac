"""A sweep as a plain dictionary, for `--json`. The shape is described in docs/json.md and held by a test."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from dryfit.studies.records_sweep import Axis, Plan, Swept, Told
from dryfit.views.plain import VERSION
from dryfit.views.sweep import headline
from dryfit.views.sweep_cells import scale_of


def sweep_plain(swept: Swept, file: str, written: tuple[str, ...] = ()) -> dict[str, Any]:
    """A sweep as a dictionary of plain values. file: the design.  written: the files written."""
    plan, tally = swept.plan, swept.tally
    return {
        "dryfit": "sweep",
        "version": VERSION,
        "machine": swept.name,
        "file": file,
        "headline": headline(swept),
        "machines": plan.count,
        "done": swept.done,
        "stopped": swept.stopped,
        "kept": tally.kept,
        "axes": [_axis(a) for a in plan.axes],
        "fixed": dict(plan.fixed),
        "quantities": [
            {"name": q.name, "unit": scale_of(q).unit, "title": q.title} for q in plan.columns[: plan.from_report]
        ],
        "conditions": [
            {
                "condition": c.typed,
                "alone": tally.meets[i],
                "with_those_above": tally.leaves[i],
                "nearest": _number(_scaled(plan, c.column, tally.nearest[i][0]) if c.column >= 0 else math.nan),
                "nearest_settings": _settings(plan, tally.nearest[i][1]) if tally.nearest[i][1] >= 0 else None,
            }
            for i, c in enumerate(plan.conditions)
        ],
        "short": dict(tally.short),
        "impossible": [{"reason": why, "machines": often} for why, often in tally.impossible.items()],
        "best": [
            {"quantity": plan.columns[g.column].name, "wanted": "max" if g.largest else "min", "said": g.said}
            for g in plan.goals
        ],
        "front": len(tally.front.numbers),
        "table": [_told(plan, one) for one in swept.table],
        "design": _values(plan, swept.design.values),
        "written": list(written),
    }


def _axis(axis: Axis) -> dict[str, Any]:
    return {
        "path": axis.typed,
        "kind": axis.kind.value,
        "unit": axis.unit,
        "size": axis.size,
        "first": axis.text(0),
        "last": axis.text(axis.size - 1),
        "left_out": sorted({key for keys in axis.left_out for key in keys}),
    }


def _told(plan: Plan, one: Told) -> dict[str, Any]:
    return {
        "number": one.number,
        "settings": _settings(plan, one.number),
        "values": _values(plan, one.values),
        "short": list(one.short),
        "unknown": list(one.unknown),
        "tight": list(one.tight),
        "changes": [
            {
                "check": c.check,
                "was": c.was or None,
                "state": c.state,
                "was_margin": _number(c.was_margin),
                "margin": _number(c.margin),
            }
            for c in one.changes
        ],
    }


def _settings(plan: Plan, number: int) -> dict[str, str]:
    places = plan.places(np.array([number]))
    return {a.typed: a.text(int(p[0])) for a, p in zip(plan.axes, places, strict=True)}


def _values(plan: Plan, values: Any) -> dict[str, float | None]:
    return {
        q.name: _number(_scaled(plan, column, float(values[column])))
        for column, q in enumerate(plan.columns[: plan.from_report])
    }


def _scaled(plan: Plan, column: int, value: float) -> float:
    return float(scale_of(plan.columns[column]).of(np.asarray(value)))


def _number(x: float) -> float | None:
    return x if math.isfinite(x) else None
