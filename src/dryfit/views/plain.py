"""The same views as plain dictionaries, for `--json`. The shape is described in docs/json.md and held by a test."""

from __future__ import annotations

import math
from typing import Any

from dryfit.ground.errors import Fault
from dryfit.ground.findings import State
from dryfit.views.verdict import Row, Verdict
from dryfit.views.workings import Why

VERSION = 1


def verdict_plain(v: Verdict) -> dict[str, Any]:
    """A verdict as a dictionary of plain values."""
    return {
        "dryfit": "verdict",
        "version": VERSION,
        "machine": v.name,
        "file": v.file,
        "headline": v.headline,
        "counts": {s.value: v.counts[s] for s in State},
        "figures": dict(v.figures),
        "first": [row.check for row in v.first],
        "checks": [_row(row) for topic in v.topics for row in topic.rows],
        "assumed": [{"path": path, "value": text, "reason": reason} for path, text, reason in v.assumed],
        "cautions": list(v.cautions),
    }


def why_plain(w: Why) -> dict[str, Any]:
    """The workings of one check as a dictionary of plain values."""
    return {
        "dryfit": "why",
        "version": VERSION,
        "check": _row(w.row),
        "formula": w.formula,
        "demand": {"name": w.demand.name, "value": w.demand.value, "formula": w.demand.formula},
        "capacity": {"name": w.capacity.name, "value": w.capacity.value, "formula": w.capacity.formula},
        "workings": [
            {
                "depth": r.depth,
                "symbol": r.symbol,
                "name": r.name,
                "value": r.value,
                "formula": r.formula,
                "place": r.place,
            }
            for r in w.workings
        ],
        "cases": [
            {"case": c.case, "demand": c.demand, "capacity": c.capacity, "margin": _number(c.margin), "met": c.met}
            for c in w.cases
        ],
        "more_cases": w.more_cases,
        "sources": list(w.sources),
        "lines": [{"line": n, "text": text} for n, text in w.lines],
    }


def faults_plain(faults: tuple[Fault, ...]) -> dict[str, Any]:
    """What is wrong with the input, as a dictionary of plain values."""
    return {
        "dryfit": "faults",
        "version": VERSION,
        "faults": [
            {
                "file": f.file,
                "line": f.line or None,
                "key": f.key,
                "message": f.message,
                "read": f.read,
                "accepted": f.accepted,
            }
            for f in faults
        ],
    }


def _row(row: Row) -> dict[str, Any]:
    return {
        "check": row.check,
        "trade": row.trade,
        "topic": row.topic,
        "state": row.state.value,
        "margin": _number(row.margin),
        "met": row.met,
        "reserve": row.reserve,
        "reserve_from": row.reserve_from,
        "title": row.title,
        "case": row.case,
        "figures": row.figures,
        "remedy": row.remedy,
        "needs": row.needs,
        "late": row.late,
        "lines": list(row.lines),
        "assumed": list(row.assumed),
        "caution": row.caution,
    }


def _number(x: float) -> float | None:
    return x if math.isfinite(x) else None
