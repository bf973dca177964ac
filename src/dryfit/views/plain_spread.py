"""A spread as plain values, for `--json`. The shape is described in docs/json.md and held by a test."""

from __future__ import annotations

import math
from typing import Any

from dryfit.studies.records_spread import Chance, CheckSpread, Input, Measurement, Spreads
from dryfit.views.plain import VERSION


def spreads_plain(s: Spreads, file: str) -> dict[str, Any]:
    """A spread as a dictionary of plain values."""
    return {
        "dryfit": "spread",
        "version": VERSION,
        "machine": s.name,
        "file": file,
        "draws": s.draws,
        "sets": s.scramblings,
        "seed": s.seed,
        "all_hold": _chance(s.all_hold),
        "checks": [_check(c) for c in s.checks],
        "unknown": [{"check": check, "needs": needs} for check, needs in s.unknown],
        "measurements": [_measurement(m) for m in s.measurements],
        "inputs": [_input(one) for one in s.inputs],
        "impossible": s.impossible,
        "why_impossible": s.why_impossible,
    }


def _chance(c: Chance) -> dict[str, float]:
    return {"value": c.value, "low": c.low, "high": c.high}


def _check(c: CheckSpread) -> dict[str, Any]:
    return {
        "check": c.check,
        "title": c.title,
        "margin": _number(c.margin),
        "reserve": c.reserve,
        "holds": _chance(c.holds),
        "kept": _chance(c.kept),
        "band": list(c.band),
        "drivers": [
            {"path": d.path, "share": d.share, "direction": d.direction, "total": _number(d.total)} for d in c.drivers
        ],
        "together": c.together,
        "late": c.late,
        "states_knowledge": c.states_knowledge,
    }


def _measurement(m: Measurement) -> dict[str, Any]:
    return {
        "path": m.path,
        "settles": m.settles,
        "checks": [{"check": check, "settles": part} for check, part in m.checks],
        "readings": [{"check": r.check, "low": r.low, "high": r.high, "chance": r.chance} for r in m.readings],
    }


def _input(one: Input) -> dict[str, Any]:
    return {
        "path": one.path,
        "line": one.line or None,
        "text": one.text,
        "unit": one.unit,
        "nominal": one.nominal,
        "low": one.low,
        "high": one.high,
        "grounds": one.grounds,
        "reason": one.reason,
        "measure": one.measure,
    }


def _number(x: float) -> float | None:
    return x if math.isfinite(x) else None
