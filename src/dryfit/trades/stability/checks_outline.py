"""Where the machine stands on the floor, for a picture: the contacts that count and the polygon through them."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.machine.wheels import Wheels
from dryfit.trades.stability.formulas import contact_points, support_edges


def outline(wheels: Wheels) -> Array:
    """Corners of the support polygon of one machine, going round to the left, (N, 2), m: contacts at their worst."""
    points = contact_points(wheels.position, wheels.heading, wheels.row_gap, wheels.trail)
    normal, offset = support_edges(points)
    start = [i for i in range(len(points)) if i < len(offset) and np.isfinite(offset[i]) and np.any(normal[i])]
    middle = np.mean(points, axis=0)
    around = sorted(start, key=lambda i: float(np.arctan2(*(points[i] - middle)[::-1])))
    return points[around]
