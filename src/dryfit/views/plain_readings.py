"""The bench as plain values, for `--json`. The shape is described in docs/json.md and held by a test."""

from __future__ import annotations

import math
from typing import Any

from dryfit.making.records_bench import Bench, Cause, CheckMove, Moved, TestPoint, side
from dryfit.views.plain import VERSION


def readings_plain(b: Bench, file: str, only: str = "") -> dict[str, Any]:
    """Everything about the test points as a dictionary of plain values. only: one point by its name, "" for all."""
    return {
        "dryfit": "readings",
        "version": VERSION,
        "machine": b.name,
        "file": file,
        "stages": [
            {
                "name": s.name,
                "title": s.title,
                "ready": list(s.ready),
                "steps": list(s.steps),
                "cautions": list(s.cautions),
            }
            for s in b.stages
        ],
        "points": [_point(p) for p in b.points if only in ("", p.name)],
        "moved": [_moved(m) for m in b.moved],
        "direct": list(b.direct),
        "aside": [{"point": a.point, "why": a.why} for a in b.aside],
        "elsewhere": [{"point": e.point, "text": e.text, "line": e.line} for e in b.elsewhere],
        "checks": [_check(m) for m in b.checks],
    }


def _point(p: TestPoint) -> dict[str, Any]:
    taken = p.taken
    return {
        "name": p.name,
        "stage": p.stage,
        "title": p.title,
        "unit": p.unit,
        "predicted": _number(p.predicted),
        "low": _number(p.low),
        "high": _number(p.high),
        "instrument": p.instrument,
        "accuracy": _number(p.accuracy),
        "how": list(p.how),
        "stop": p.stop,
        "cautions": list(p.cautions),
        "if_low": [_cause(c) for c in p.outside.low],
        "if_high": [_cause(c) for c in p.outside.high],
        "read": None if taken is None else taken.value,
        "text": None if taken is None else taken.text,
        "date": None if taken is None or taken.date is None else taken.date.isoformat(),
        "used": taken is not None and taken.used,
        "line": None if taken is None else taken.line,
        "outside": side(p),
    }


def _cause(c: Cause) -> dict[str, str]:
    return {"cause": c.what, "tell": c.tell}


def _moved(m: Moved) -> dict[str, Any]:
    return {
        "path": m.path,
        "title": m.title,
        "unit": m.unit,
        "before": m.before,
        "after": m.after,
        "doubt_before": m.doubt_before,
        "doubt_after": m.doubt_after,
        "by": list(m.by),
    }


def _check(m: CheckMove) -> dict[str, Any]:
    return {
        "check": m.check,
        "title": m.title,
        "was": m.was.value,
        "becomes": m.becomes.value,
        "before": _number(m.before),
        "after": _number(m.after),
    }


def _number(x: float) -> float | None:
    return x if math.isfinite(x) else None
