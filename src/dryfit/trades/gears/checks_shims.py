"""The shim table of one machine: for every gap that its motor mount may leave, the stack to put in."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dryfit.machine.gears import Gears
from dryfit.machine.workshop import Workshop
from dryfit.trades.gears.checks_layout import lay_out
from dryfit.trades.gears.formulas_shims import ShimRow, shim_table

STEP = 1e-4
"""Step of the table, m: what a caliper or a feeler tells apart on a printed mount (common practice)."""


def shim_rows(gears: Gears, workshop: Workshop, gaps: Sequence[float] | None = None) -> tuple[tuple[ShimRow, ...], ...]:
    """Shim table of every stage of one machine (not of a batch), stage by stage.

    gaps: how far the pinion stands out of mesh, measured, m; without them every tenth of a millimetre from the least to
    the most that the mount's tolerance can leave.
    """
    lay = lay_out(gears, workshop)
    tables = []
    for i in range(len(gears.paths)):
        short, tolerance = float(gears.mount_short_by[i]), float(workshop.mount_tolerance)
        low, high = max(0.0, short - tolerance), short + tolerance
        steps = np.arange(round(low / STEP), round(high / STEP) + 1) * STEP
        tables.append(
            shim_table(
                [float(g) for g in steps] if gaps is None else gaps,
                [float(s) for s in workshop.shims],
                module=float(gears.module[i]),
                z1=float(gears.pinion_teeth[i]),
                z2=float(gears.gear_teeth[i]),
                x1=float(gears.pinion_shift[i]),
                x2=float(gears.gear_shift[i]),
                pressure_angle=float(gears.pressure_angle[i]),
                thinning=float(gears.pinion_thinning[i] + gears.gear_thinning[i]),
                right=float(lay.right_centre[i]),
                sign=float(gears.sign[i]),
            )
        )
    return tuple(tables)
