"""Printed bodies as they stand on the bed: turned, and moved to where a plate has them."""

from __future__ import annotations

import numpy as np

from dryfit.making.records_plan import Placed
from dryfit.making.records_print import Printed
from dryfit.making.records_solids import Solid


def standing(printed: Printed, placed: Placed | None = None) -> Solid:
    """The body as it lies, on z = 0: where a plate has it, or with the lower left corner of its box at the origin."""
    points = printed.body.solid.points @ printed.turned.T
    if placed is not None:
        c, s = np.cos(placed.turned), np.sin(placed.turned)
        points = points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    points = points - points.min(axis=0)
    if placed is not None:
        points = points + np.array([*placed.covers.outer.min(axis=0), 0.0])
    return Solid(points, printed.body.solid.faces)
