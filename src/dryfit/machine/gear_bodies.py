"""What carries the teeth: rim of a ring, boss beside the pinion, chamfers. Read for making, not for judging."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.design.sections.gears import Stage
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.quantity import Array, Num, Quantity
from dryfit.machine.gears import Gears
from dryfit.machine.ledger import Default, Ledger
from dryfit.machine.workshop import Workshop

LEAST_WALL = 1e-3
"""Wall between bore and tooth roots below which a pinion is no part any more, m (common practice)."""

SCREW_BOSS = 10e-3
"""Length of a boss that takes a set screw of 4 mm with its nut, 7 mm across flats, and a wall, m (common practice)."""

SCREW_WALL = 8e-3
"""Wall round the shaft that holds such a screw and its nut, m (common practice)."""


@dataclass(frozen=True)
class GearBodies:
    """G stages, (..., G), m. rim: material beyond the ring's tooth roots.  hub_diameter, hub_length: boss beside the
    pinion's teeth, length 0 for none.  chamfer: on the edges of the tooth tips, 0 for none.  outside: by which a
    printed outside comes out beyond its drawing, across, m."""

    rim: Array
    hub_diameter: Array
    hub_length: Array
    chamfer: Array
    outside: float = 0.0


def resolve_gear_bodies(
    stages: Sequence[Stage], ledger: Ledger, gears: Gears, workshop: Workshop, outside: Quantity | None = None
) -> GearBodies:
    """Bodies of all stages, defaults filled in from the teeth, the grip on the shaft and the pegs. outside: what is
    written at `workshop.outside_offset`."""
    true = Default("0 mm", 0.0, "outsides come out true until a slice or a coupon was measured")
    beyond = float(ledger.take("workshop.outside_offset", units.LENGTH, outside, None, true))
    rows = [_body(r, i, ledger, gears, workshop) for i, r in enumerate(stages)]
    if not rows:
        none = np.zeros(0)
        return GearBodies(none, none, none, none, beyond)
    rim, wide, long, chamfer = (stack([row[n] for row in rows]) for n in range(4))
    return GearBodies(rim, wide, long, chamfer, beyond)


def _line(r: Stage) -> int:
    """Line of the shaft's diameter in the design file, or of the pinion's teeth where it is not typed."""
    typed = r.pinion_grip.shaft_diameter
    return (typed if typed is not None else r.pinion_teeth).origin.line


def _body(r: Stage, i: int, ledger: Ledger, g: Gears, workshop: Workshop) -> tuple[Num, Num, Num, Num]:
    def take(key: str, typed: Quantity | None, value: Num, reason: str) -> Num:
        where = f"{g.paths[i]}.{key}"
        if typed is not None:
            return ledger.take(where, units.LENGTH, typed)
        text = units.show(float(value), "m") if np.ndim(value) == 0 else ""
        return ledger.reckon(where, value, text, 0.0, reason)

    m = g.module[..., i]
    rim, why = 3 * m, "three modules of material behind the roots"
    if g.pegs is not None and i == len(g.paths) - 1 and g.internal[i]:
        root = m * (g.gear_teeth[..., i] / 2 + g.gear_shift[..., i] + g.dedendum[..., i])
        around = g.pegs.circle / 2 + 1.5 * g.pegs.diameter - root
        rim = np.maximum(rim, around)[()]
        why = "a peg's diameter of material outside the peg holes"
    grip = g.pinion_grip if i == 0 else None
    screwed = grip is not None and grip.kind in ("flat", "screws")
    bore = grip.shaft_diameter if grip is not None else g.pinion_grip.shaft_diameter if g.pinion_grip else 8e-3
    boss = (SCREW_BOSS, "room for a set screw and its nut") if screwed else (0.0, "nothing beside the teeth to screw")
    tip = m * (g.pinion_teeth[..., i] + 2 * g.pinion_shift[..., i] + 2 * g.pinion_addendum[..., i])
    wide = np.minimum(bore + 2 * SCREW_WALL, tip)[()]
    root = m * (g.pinion_teeth[..., i] + 2 * g.pinion_shift[..., i] - 2 * g.dedendum[..., i])
    if grip is not None and grip.kind != "one piece" and not np.any(grip.shaft_diameter + 2 * LEAST_WALL < root):
        most = units.show(float(np.max(root - 2 * LEAST_WALL)), "m")
        ledger.fault(
            f"{g.paths[i]}.pinion_grip.shaft_diameter",
            "the bore would leave no wall under the roots of the pinion",
            units.show(float(np.min(grip.shaft_diameter)), "m"),
            f"less than {most}, or more teeth, or a pinion in one piece with its shaft",
            line=_line(r),
        )
    flared = np.maximum(workshop.first_layer_flare, 0.15 * m)[()]
    return (
        take("rim", r.rim, rim, why),
        take("hub_diameter", r.hub_diameter, wide, "8 mm round the shaft, not above the tips"),
        take("hub_length", r.hub_length, boss[0], boss[1]),
        take("chamfer", r.chamfer, flared, "an edge that does not catch, at least as deep as the first layer bulges"),
    )
