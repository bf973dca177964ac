"""Shims under a motor mount: which stack, which way, and what backlash comes of it.

The mount is drawn short, so that it leaves the pinion out of mesh; shims push the pinion into mesh. For an external
pair that is towards the gear (the centre distance falls), for an internal pair outwards against the ring (it rises).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np

from dryfit.ground.quantity import Array, Num
from dryfit.trades.gears.formulas_pairs import angle_at_distance, backlash, backlash_change, working_angle

MOST_PIECES = 4
"""Pieces in a stack: more of them squirm under the screws (common practice)."""

_STEPS = 6


@dataclass(frozen=True)
class ShimRow:
    """One line of the shim table, lengths in m.

    gap: how far the pinion stands out of mesh without shims, measured.  pieces: shims to put in, thickest first.
    stack: their sum.  centre: centre distance that comes of it.  backlash: circumferential backlash then.
    direction: which way the shims move the pinion.
    """

    gap: float
    pieces: tuple[float, ...]
    stack: float
    centre: float
    backlash: float
    direction: str


def stacks(shims: Sequence[float], pieces: int = MOST_PIECES) -> dict[float, tuple[float, ...]]:
    """Every stack that can be built of up to `pieces` shims, each size as often as liked: thickness -> pieces, thickest
    first; of stacks equally thick the one with the fewest pieces."""
    built: dict[float, tuple[float, ...]] = {0.0: ()}
    for count in range(1, pieces + 1):
        for chosen in combinations_with_replacement(sorted(shims, reverse=True), count):
            built.setdefault(round(sum(chosen), 9), chosen)
    return built


def backlash_out_of_mesh(
    out: Num,
    *,
    module: Num,
    z1: Num,
    z2: Num,
    x1: Num,
    x2: Num,
    pressure_angle: Num,
    thinning: Num,
    right: Num,
    sign: Num,
) -> Num:
    """Backlash when the pinion stands `out` m out of its place (negative: pressed in), exact; NaN out of reach."""
    distance = right + sign * out
    free = working_angle(z1, z2, x1, x2, pressure_angle, sign)
    imposed = angle_at_distance(module, z1, z2, pressure_angle, distance, sign)
    return backlash(module, z1, z2, pressure_angle, free, imposed, distance, thinning, sign)


def gap_of_backlash(
    measured: Num,
    *,
    module: Num,
    z1: Num,
    z2: Num,
    x1: Num,
    x2: Num,
    pressure_angle: Num,
    thinning: Num,
    right: Num,
    sign: Num,
) -> Num:
    """How far the pinion stands out of its place when the mesh shows a backlash, m (negative: pressed in), exact.

    Newton's method on `backlash_out_of_mesh` with a fixed number of steps; its slope is 2 tan αw.
    """
    free = working_angle(z1, z2, x1, x2, pressure_angle, sign)
    out: Num = 0.0 * (measured + right)
    for _ in range(_STEPS):
        distance = right + sign * out
        imposed = angle_at_distance(module, z1, z2, pressure_angle, distance, sign)
        shown = backlash(module, z1, z2, pressure_angle, free, imposed, distance, thinning, sign)
        out = out + (measured - shown) / backlash_change(imposed, 1.0)
    return out


def shim_table(
    gaps: Sequence[float],
    shims: Sequence[float],
    *,
    module: float,
    z1: float,
    z2: float,
    x1: float,
    x2: float,
    pressure_angle: float,
    thinning: float,
    right: float,
    sign: float,
) -> tuple[ShimRow, ...]:
    """For each measured gap the stack nearest to it, fewest pieces first, and the backlash that comes of it.

    right: centre distance without backlash error, m.  sign: +1 external, -1 internal pair.
    """
    built = stacks(shims)
    sizes: Array = np.array(sorted(built))
    direction = "towards the gear: the centre distance falls" if sign > 0 else "outwards: the centre distance rises"
    rows = []
    for gap in gaps:
        stack = float(sizes[np.argmin(np.abs(sizes - gap))])
        left = gap - stack
        rest = backlash_out_of_mesh(
            left, module=module, z1=z1, z2=z2, x1=x1, x2=x2, pressure_angle=pressure_angle, thinning=thinning,
            right=right, sign=sign,
        )  # fmt: skip
        rows.append(ShimRow(gap, built[stack], stack, right + sign * left, float(rest), direction))
    return tuple(rows)
