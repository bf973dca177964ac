"""Shims under a motor mount: which stack, and what backlash comes of it.

The mount is drawn short, so that it leaves the pinion out of mesh; shims push the pinion into mesh. For an external
pair that is towards the gear (the centre distance falls), for an internal pair outwards against the ring (it rises).
"""

from __future__ import annotations

from functools import cache
from itertools import combinations_with_replacement

import numpy as np

from dryfit.ground.axes import column, pick
from dryfit.ground.quantity import Array, Num
from dryfit.trades.gears.formulas_pairs import angle_at_distance, backlash, working_angle

MOST_PIECES = 4
"""Pieces in a stack: more of them squirm under the screws (common practice)."""

_ONE_PIECE_MORE = 1e-9
"""What one piece more counts against a stack, m: of stacks as near to the gap the one with fewer pieces is taken."""


@cache
def _choices(sizes: int) -> Array:
    """Every choice of up to four pieces from so many sizes, as indices (N, 4), fewest pieces first; `sizes` is none."""
    rows = [
        chosen + (sizes,) * (MOST_PIECES - count)
        for count in range(MOST_PIECES + 1)
        for chosen in combinations_with_replacement(range(sizes), count)
    ]
    return np.array(rows)


def shim_stack(gap: Num, shims: Num) -> Array:
    """Pieces of the stack nearest to a gap (...,), thickest first and 0 for none, (..., 4).

    shims: the drawer (..., K), each size as often as liked."""
    drawer = -np.sort(-np.asanyarray(shims, dtype=float), axis=-1)
    thicknesses = np.concatenate([drawer, np.zeros_like(drawer[..., :1])], axis=-1)
    choices = _choices(drawer.shape[-1]).astype(np.intp)
    pieces = thicknesses[..., choices]
    off = np.abs(np.sum(pieces, axis=-1) - column(gap)) + _ONE_PIECE_MORE * np.sum(choices < drawer.shape[-1], axis=-1)
    # Of stacks equally near the one with the thickest shim comes first; rounding must not decide between them.
    best = np.argmin(np.round(off, 10), axis=-1)
    chosen = np.stack([pick(pieces[..., i], best) for i in range(MOST_PIECES)], axis=-1)
    unknown = np.isnan(gap) | np.isnan(drawer).any(axis=-1)
    return np.where(np.asanyarray(unknown)[..., None], np.nan, chosen)


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
    return backlash(pressure_angle, free, imposed, distance, thinning, sign)
