"""What was made as plain values, for `--json`. The shape is described in docs/json.md and held by a test."""

from __future__ import annotations

import math
from typing import Any

from dryfit.making.records_lists import Buy
from dryfit.making.records_summary import Summary
from dryfit.views.plain import VERSION


def made_plain(s: Summary) -> dict[str, Any]:
    """The summary as a dictionary of plain values; dates and moments in ISO form, SI units, money in EUR."""
    return {
        "dryfit": "make",
        "version": VERSION,
        "machine": s.name,
        "held": s.held,
        "short": list(s.short),
        "gears": [
            {
                "stage": pair.path,
                "centre_distance": pair.centre_distance,
                "backlash": pair.backlash,
                "gaps": [
                    {"shim": g.shim, "centre_distance": g.centre_distance, "gap": g.gap, "overlaps": g.overlaps}
                    for g in pair.gaps
                ],
            }
            for pair in s.pairs
        ],
        "prints": {
            "plates": [
                {"number": p.number, "material": p.material, "mass": p.mass, "time": dict(p.on)} for p in s.plan.plates
            ],
            "jobs": [
                {
                    "plate": j.plate,
                    "printer": j.printer,
                    "begins": j.begins.isoformat(),
                    "done": j.done.isoformat(),
                    "off": j.off.isoformat(),
                }
                for j in s.plan.jobs
            ],
            "finish": s.plan.finish.isoformat(),
            "bound": s.plan.bound.isoformat(),
            "exact": s.plan.exact,
            "left": list(s.plan.left),
        },
        "alternatives": [
            {
                "nozzle": a.nozzle,
                "layer_height": a.layer_height,
                "time": a.time,
                "mass": a.mass,
                "strength": a.strength,
                "note": a.note,
            }
            for a in s.others
        ],
        "slips": [{"what": x.what, "before": x.before.isoformat(), "after": x.after.isoformat()} for x in s.slips],
        "cuts": [{"stock": stock, "fewest": fewest, "taken": taken} for stock, fewest, taken in s.cuts.bound],
        "purchases": {
            "total": s.purchases.total,
            "quoted": s.purchases.quoted,
            "budget": s.purchases.budget,
            "lines": [_bought(line) for line in s.purchases.lines],
        },
        "work": {
            "begins": s.way.begins.isoformat(),
            "ends": s.way.ends.isoformat(),
            "delivery": None if s.way.delivery is None else s.way.delivery.isoformat(),
            "late": s.way.late,
            "tasks": [
                {
                    "name": t.name,
                    "stage": t.stage,
                    "begins": t.begins.isoformat(),
                    "ends": t.ends.isoformat(),
                    "latest": t.latest.isoformat(),
                    "slack": t.slack,
                    "critical": t.critical,
                }
                for t in s.way.tasks
            ],
        },
        "notes": [{"about": about, "note": note} for about, note in s.notes],
        "files": list(s.files),
        "left_out": list(s.left_out),
    }


def _bought(line: Buy) -> dict[str, Any]:
    return {
        "name": line.name,
        "item": line.item,
        "count": line.count,
        "cost": _number(line.cost),
        "known": line.known,
        "lead_time": _number(line.lead_time),
        "order_by": None if line.order_by is None else line.order_by.isoformat(),
    }


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
