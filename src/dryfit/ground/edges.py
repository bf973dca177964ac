"""How a wheel meets an edge or a joint of the floor: geometry that every trade that looks at wheels shares."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Num


def met_radius(radius: Num, roller_radius: Num, angle: Num) -> Num:
    """Radius, m, with which a wheel meets an edge across its way, its heading turned by `angle`, rad, from the way.

    A wheel with rollers is a ring: circle of the rollers' middles, radius R - r, filled out by the roller radius r.
    An edge is a line: what counts is the ring's shadow along it, whose lowest point has the radius of curvature
    (R - r) cos² + r: R head on, only r sideways. For a tyre, of equal radii, R whichever way.
    """
    c = np.cos(angle)
    return (np.asanyarray(radius) - roller_radius) * c * c + roller_radius


def joint_drop(width: Num, radius: Num) -> Num:
    """Depth, m, to which a wheel sinks into a joint of a width, m: r - √(r² - w²/4), about w² / (8 r); all of the
    radius when it falls in."""
    w, r = np.asanyarray(width, dtype=float), np.asanyarray(radius, dtype=float)
    drop: Num = (r - np.sqrt(np.maximum(r * r - w * w / 4, 0.0)))[()]
    return drop
