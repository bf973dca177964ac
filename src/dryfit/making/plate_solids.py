"""Printed bodies as they stand on the bed: turned, and moved to where a plate has them."""

from __future__ import annotations

import numpy as np

from dryfit.making.records_print import Printed
from dryfit.making.records_solids import Outline, Solid


def standing(printed: Printed, covers: Outline | None = None) -> Solid:
    """The body as it lies, on z = 0. covers: what it covers on a plate, that is its footprint turned and moved; without
    it, the lower left corner of its box stands at the origin."""
    points = printed.body.solid.points @ printed.turned.T
    points = points - points.min(axis=0)
    if covers is not None:
        before, after = printed.footprint.outer, covers.outer
        (ax, ay), (bx, by) = before[1] - before[0], after[1] - after[0]
        turn = np.arctan2(ax * by - ay * bx, ax * bx + ay * by)
        spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        flat = (points[:, :2] - before[0]) @ spin.T + after[0]
        points = np.column_stack((flat, points[:, 2]))
    return Solid(points, printed.body.solid.faces)
