"""What would put a check right, as plain dictionaries for `--json`. docs/json.md describes the shape."""

from __future__ import annotations

import math
from typing import Any

from dryfit.studies.records_fix import Applied, CheckFix, Fixes, Move, Offer
from dryfit.views.plain import VERSION


def fixes_plain(found: Fixes, file: str) -> dict[str, Any]:
    """The offers for each check asked about."""
    return {
        "dryfit": "fixes",
        "version": VERSION,
        "machine": found.name,
        "file": file,
        "answered": found.answered,
        "levers": found.levers,
        "machines": found.machines,
        "checks": [_check(c) for c in found.checks],
    }


def applied_plain(done: Applied, file: str) -> dict[str, Any]:
    """What was written, and what it did."""
    return {
        "dryfit": "applied",
        "version": VERSION,
        "file": file,
        "check": done.check,
        "number": done.number,
        "edits": _edits(done.offer),
        "mind": done.offer.change.mind,
        "before": {"state": done.was.value, "margin": _number(done.before), "short": done.short_before},
        "after": {"state": done.becomes.value, "margin": _number(done.after), "short": done.short_after},
        "still_short": list(done.still),
    }


def _check(c: CheckFix) -> dict[str, Any]:
    return {
        "check": c.check,
        "title": c.title,
        "topic": c.topic,
        "case": c.case,
        "state": c.state.value,
        "margin": _number(c.margin),
        "reserve": c.reserve,
        "caution": c.caution,
        "needs": c.needs,
        "offers": [_offer(n, o) for n, o in enumerate(c.offers, start=1)],
        "limits": [
            {"what": x.words, "reaches": x.reaches, "margin": _number(x.margin), "blocked_by": x.blocked_by}
            for x in c.limits
        ],
    }


def _offer(number: int, o: Offer) -> dict[str, Any]:
    return {
        "number": number,
        "what": o.change.words,
        "edits": _edits(o),
        "just": o.just,
        "price": o.change.price.value,
        "mind": o.change.mind,
        "pair": o.pair,
        "clean": o.clean,
        "after": _number(o.after),
        "restores": list(o.restores),
        "better": [_move(m) for m in o.better],
        "worse": [_move(m) for m in o.worse],
        "breaks": [_move(m) for m in o.breaks],
        "figures": [
            {"name": f.name, "before": _number(f.before), "after": _number(f.after), "unit": f.unit} for f in o.figures
        ],
    }


def _edits(o: Offer) -> list[dict[str, Any]]:
    return [{"path": e.path, "line": e.line or None, "old": e.old, "new": e.new} for e in o.change.edits]


def _move(m: Move) -> dict[str, Any]:
    return {
        "check": m.check,
        "before": _number(m.before),
        "after": _number(m.after),
        "was": m.was.value,
        "becomes": m.becomes.value,
    }


def _number(x: float) -> float | None:
    return x if math.isfinite(x) else None
