"""The whole print done with other nozzles and layer heights: hours, mass and strength, side by side.

Strength is a guide for comparing, not a load (common practice, no published source): walls carry by their thickness,
and layers hold together over the flat part of a line, which for a line of width w and height h with round edges is
w - h of its width. So it goes with walls x (w - h), against the same for the way planned, by mass over all parts.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dryfit.machine.printing import LINE_PER_NOZZLE, Printing
from dryfit.making.lying import able_printers, as_planned_elsewhere, estimated
from dryfit.making.records_print import Alternative, Body, Estimate, Printed
from dryfit.making.records_solids import Solid
from dryfit.making.slicing import Layers, Progress, sliced

SHARES = (0.5, 0.7)
"""Layer heights that are tried, as shares of the nozzle: the usual one, and about the highest that holds well."""


def alternatives(
    printed: Sequence[Printed], printing: Printing, on_progress: Progress | None = None
) -> tuple[Alternative, ...]:
    """The set as planned (first), then with each nozzle that a printer has, at two layer heights each. Coupons stay as
    they are: they have to show what the parts will be."""
    parts = [p for p in printed if p.estimates and not p.body.coupon]
    if not parts:
        return ()
    planned = [(p.body, _soonest(p)) for p in parts]
    found = [
        Alternative(
            nozzle=printing.usual.nozzle,
            layer_height=printing.usual.layer_height,
            time=sum(e.time * b.count for b, e in planned),
            mass=sum(e.mass * b.count for b, e in planned),
            strength=1.0,
            note="as planned; parts with a nozzle of their own keep it",
        )
    ]
    nozzles = sorted({n for p in printing.printers for n in p.nozzles})
    ways = [(n, share) for n in nozzles for share in SHARES]
    for k, (nozzle, share) in enumerate(ways):
        if on_progress:
            on_progress(k / len(ways), f"trying a nozzle of {nozzle * 1e3:.4g} mm")
        other = _with(planned, parts, printing, nozzle, round(share * nozzle, 5))
        if other is not None:
            found.append(other)
    return tuple(found)


def _soonest(p: Printed) -> Estimate:
    return min((e for _, e in p.estimates), key=lambda e: e.time)


def _with(
    planned: Sequence[tuple[Body, Estimate]],
    parts: Sequence[Printed],
    printing: Printing,
    nozzle: float,
    layer: float,
) -> Alternative | None:
    """None where no printer can print any of the parts so."""
    width = printing.line_width if np.isclose(nozzle, printing.nozzle) else LINE_PER_NOZZLE * nozzle
    time = mass = strength = weight = 0.0
    kept = []
    for (body, before), p in zip(planned, parts, strict=True):
        able = [q for q in able_printers(printing.printers, nozzle, body.material) if q.name in p.on]
        if not able:
            kept.append(body.name)
            now, gain = before, 1.0
        else:
            other = as_planned_elsewhere(body, nozzle, layer, width)
            layers: Layers = sliced(Solid(body.solid.points @ p.turned.T, body.solid.faces), other.how)
            now = min((estimated(layers, other, q, printing) for q in able), key=lambda e: e.time)
            gain = bond(other) / bond(body)
        time += now.time * body.count
        mass += now.mass * body.count
        strength += gain * before.mass * body.count
        weight += before.mass * body.count
    if len(kept) == len(planned):
        return None
    note = f"stay as planned, since no printer in reach takes them so: {', '.join(kept)}" if kept else ""
    return Alternative(nozzle, layer, time, mass, strength / weight, note)


def bond(body: Body) -> float:
    """Walls times the flat part of a line, m: what layers hold together by."""
    return max(body.how.walls, 1) * (body.how.line_width - body.how.layer_height)
