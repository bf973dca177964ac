"""The table for the bench: which shims for which gap under the motor mount, and what backlash comes of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.machine.gears import Gears
from dryfit.machine.workshop import Workshop
from dryfit.trades.gears.checks_layout import Layout
from dryfit.trades.gears.formulas_shims import backlash_out_of_mesh, shim_stack


@dataclass(frozen=True)
class ShimTable:
    """One stage. gap (N,): as it may be measured.  shims (N, 4): to put in, thickest first, 0 for none.  backlash (N,):
    with them, along the pitch circle.  planned: the gap drawn or measured.  All m."""

    stage: str
    internal: bool
    measured: bool
    planned: float
    gap: Array
    shims: Array
    backlash: Array


def shim_tables(g: Gears, workshop: Workshop, lay: Layout) -> tuple[ShimTable, ...]:
    """For every stage that is shimmed, gaps in steps of the thinnest shim over what the mount may miss; one machine."""
    drawer = np.sort(np.asanyarray(workshop.shims, dtype=float))
    if not len(drawer) or not drawer[0] > 0:
        return ()
    found = []
    for n, name in enumerate(g.names):
        planned = float(lay.gap[n])
        if not planned > 0:
            continue
        step = float(drawer[0])
        most = planned + float(workshop.mount_tolerance)
        gap: Array = np.asanyarray(step * np.arange(round(min(most / step, 24)) + 2), dtype=np.float64)
        stacks = shim_stack(gap, drawer)
        after = backlash_out_of_mesh(
            gap - np.sum(stacks, axis=-1), module=g.module[n], z1=g.pinion_teeth[n], z2=g.gear_teeth[n],
            x1=g.pinion_shift[n], x2=g.gear_shift[n], pressure_angle=g.pressure_angle[n],
            thinning=g.pinion_thinning[n] + g.gear_thinning[n], right=lay.centre[n], sign=g.sign[n],
        )  # fmt: skip
        found.append(
            ShimTable(name, g.internal[n], g.measured[n], planned, gap, stacks, np.asanyarray(after, dtype=float))
        )
    return tuple(found)
