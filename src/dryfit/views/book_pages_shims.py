"""The table for the drawer of shims: which to put in for the gap that was measured."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dryfit.assess.records_pictures import Pictures, Shims
from dryfit.ground.units import show
from dryfit.machine.machine import Machine
from dryfit.making.records_gears import GearPair
from dryfit.views.book_blocks import Blanks, BookBlock, Chapter, table
from dryfit.views.page import Heading, Paragraph


def chapters(m: Machine, p: Pictures, pairs: Sequence[GearPair]) -> tuple[Chapter, ...]:
    """One chapter where there are gears to be shimmed or gaps known from the drawn teeth."""
    if not p.shims and not any(pair.gaps for pair in pairs):
        return ()
    drawer = ", ".join(show(float(t), "m") for t in np.sort(np.asanyarray(m.workshop.shims)))
    blocks: list[BookBlock] = [
        Paragraph(f"Shims in the drawer: {drawer}; each as often as needed, at most four in a stack."),
    ]
    for stage in p.shims:
        blocks += _stage(stage, sum(m.wheels.driven))
    for pair in pairs:
        if pair.gaps:
            blocks += [
                Heading(f"{pair.name}: gap between the teeth as drawn"),
                table(
                    "shims out of place|centre distance|smallest gap|",
                    [
                        (show(g.shim, "m"), show(g.centre_distance, "m"), show(g.gap, "m"),
                         "teeth overlap: too deep" if g.overlaps else "")
                        for g in pair.gaps
                    ],
                    right="012",
                ),
            ]  # fmt: skip
    return (Chapter("Shims under the motor mounts", tuple(blocks)),)


def _stage(s: Shims, units: int) -> list[BookBlock]:
    way = "outwards, against the ring" if s.internal else "towards the gear"
    told = "as measured" if s.measured else "as drawn"
    name = s.stage or "Pinion and gear"
    rows = []
    for gap, stack, after in zip(s.gap, s.shims, s.backlash, strict=True):
        pieces = " + ".join(show(float(t), "m") for t in stack if t > 0) or "none"
        here = "← " + told if abs(float(gap) - s.planned) < 1e-9 else ""
        rows.append((show(float(gap), "m"), pieces, show(float(np.sum(stack)), "m"), show(float(after), "m"), here))
    return [
        Heading(name[:1].upper() + name[1:]),
        Paragraph(
            f"Press the mount home without shims and measure by how much the pinion stands out of mesh; then shim it "
            f"{way}. The mount is {told} {show(s.planned, 'm')} short."
        ),
        table("gap measured|shims to put in|stack|backlash then|", rows, right="023"),
        *(Blanks((f"Wheel unit {n}: gap", "shims", "backlash felt")) for n in range(1, units + 1)),
    ]
