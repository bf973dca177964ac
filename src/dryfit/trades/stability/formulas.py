"""Stability: support polygon, tipping by direction, grip, pushes, blows and sway. Pure mechanics of a rigid machine.

Signs: a direction u is where the machine would tip towards. Edges are given by their outward unit normals and their
distances, so that a machine stands as long as its centre of mass keeps a positive distance b from every edge.
"""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num
from dryfit.ground.steps import one_step
from dryfit.ground.units import STANDARD_GRAVITY

DIRECTIONS = 72
"""Directions looked at, five degrees apart, from +x towards +y."""

ANGLES = np.arange(DIRECTIONS) * (2 * np.pi / DIRECTIONS)
AROUND = np.stack([np.cos(ANGLES), np.sin(ANGLES)], axis=-1)
"""Unit vectors of those directions (72, 2)."""

_FAR_OFF = 1e-9
"""Least nearness, 1/m: a support that is open on one side, which no hull is."""
_BLOCK = 1024
_HAIR = 1e-9
"""Side of a line that counts as on it, as a fraction of the size of the base squared."""


def contact_points(position: Num, heading: Num, row_gap: Num, trail: Num) -> Array:
    """Where the wheels touch at worst, (..., W, 2): two-row wheels on the row nearer to the middle of the base, casters
    swivelled so that their contact trails behind the swivel axis towards the middle.

    position (..., W, 2), middle between the rows or swivel axis; heading (..., W), rad; row_gap, trail (..., W), m.
    """
    p, h = np.asanyarray(position, dtype=float), np.asanyarray(heading, dtype=float)
    axle = np.stack([-np.sin(h), np.cos(h)], axis=-1)
    outwards = p - np.mean(p, axis=-2, keepdims=True) if p.shape[-2] else p
    side = np.sign(np.sum(axle * outwards, axis=-1))
    far = np.hypot(outwards[..., 0], outwards[..., 1])
    inwards = (np.asanyarray(trail) / np.where(far == 0, np.inf, far))[..., None] * outwards
    return np.asanyarray(p - (side * np.asanyarray(row_gap) / 2)[..., None] * axle - inwards)


def support_edges(points: Num) -> tuple[Array, Array]:
    """Edges of the convex hull of the contacts: outward normals (..., W, 2) and offsets (..., W).

    Slot i is the edge that starts at contact i, going round to the left; a contact inside the hull has normal 0 and
    offset infinity.

    points (..., W, 2), m. Fewer than two contacts: one edge through nothing, so that nothing stands.
    """
    p = np.asanyarray(points, dtype=float)
    if p.shape[-2] < 2:
        return np.zeros((*p.shape[:-2], 1, 2)), np.full((*p.shape[:-2], 1), -np.inf)
    along = p[..., None, :, :] - p[..., :, None, :]
    length = np.hypot(along[..., 0], along[..., 1])
    # side[i, j, k]: is contact k to the left of the line from i to j
    side = along[..., :, :, None, 0] * along[..., :, None, :, 1] - along[..., :, :, None, 1] * along[..., :, None, :, 0]
    size = np.max(length, axis=(-1, -2))[..., None, None]
    is_edge = np.all(side >= -_HAIR * size[..., None] ** 2, axis=-1) & (length > _HAIR * size)
    # of several contacts on one edge the farthest ends it; a contact in the middle of an edge starts it again: no harm
    end = np.argmax(np.where(is_edge, length, -1.0), axis=-1)
    started = np.any(is_edge, axis=-1)
    chosen = np.take_along_axis(along, end[..., None, None], axis=-2)[..., 0, :]
    reach = np.where(started, np.hypot(chosen[..., 0], chosen[..., 1]), 1.0)
    normal = np.stack([chosen[..., 1], -chosen[..., 0]], axis=-1) / reach[..., None]
    normal = np.where(started[..., None], normal, 0.0)
    broken = np.any(np.isnan(p), axis=(-1, -2))[..., None]
    offset = np.where(started, np.sum(normal * p, axis=-1), np.where(broken, np.nan, np.inf))
    return normal, offset


def edge_distances(normal: Num, offset: Num, centre: Num) -> Array:
    """Distance of the centre of mass from every edge, (..., P, E), m; positive inside, infinite where no edge is.

    normal (..., E, 2), offset (..., E), centre (..., P, 2).
    """
    n, c = np.asanyarray(normal, dtype=float), np.asanyarray(centre, dtype=float)
    return np.asanyarray(np.asanyarray(offset)[..., None, :] - c @ np.swapaxes(n, -1, -2))


def nearness(normal: Num, distance: Num, directions: Num = AROUND) -> Array:
    """One over the way from under the centre of mass to the edge of the support in each direction, (..., P, D), 1/m.

    1/d is the largest of (u·n)/b over the edges: the first edge met on the way. No meaning where a b is not positive.
    normal (..., E, 2); distance (..., P, E), m; directions (D, 2) or (..., D, 2).
    """
    n, b = np.asanyarray(normal, dtype=float), np.asanyarray(distance, dtype=float)
    u = np.asanyarray(directions, dtype=float)
    steep = n[..., None, :, :] / np.where(b > 0, b, 1.0)[..., None]
    if u.ndim > 2:
        return np.asanyarray(np.max(steep @ np.swapaxes(u, -1, -2)[..., None, :, :], axis=-2))
    nearest = _steepest(steep.reshape(-1, *steep.shape[-2:]), u)
    return nearest.reshape(*steep.shape[:-2], len(u))


@one_step
def _steepest(rows: Array, u: Array) -> Array:
    """Largest of rows (n, E, 2) times each direction (D, 2) over the E edges: (n, D)."""
    nearest = np.empty((len(rows), len(u)))
    x, y = u.T.copy()
    # a block of machines at a time stays in the processor's cache: eight times faster than all at once
    for start in range(0, len(rows), _BLOCK):
        block, best = rows[start : start + _BLOCK], nearest[start : start + _BLOCK]
        np.multiply(block[:, 0, :1], x, out=best)
        best += block[:, 0, 1:] * y
        for edge in range(1, block.shape[1]):
            other = block[:, edge, :1] * x
            other += block[:, edge, 1:] * y
            np.maximum(best, other, out=best)
    return nearest


def tipping_acceleration(normal: Num, distance: Num, height: Num, directions: Num = AROUND) -> Array:
    """Acceleration, m/s², at which the machine tips towards each direction, (..., P, D); a = g d / h, d being the way
    from under the centre of mass to the edge of the support in that direction. Zero where it does not stand at all.

    normal (..., E, 2); distance (..., P, E), m; height of the centre of mass (..., P), m; directions (D, 2) or
    (..., D, 2).
    """
    near = nearness(normal, distance, directions)
    pull = _pull(distance, height)[..., None]
    np.maximum(near, _FAR_OFF, out=near)
    fits = np.broadcast_shapes(pull.shape, near.shape) == near.shape
    return np.asanyarray(np.divide(pull, near, out=near) if fits else pull / near)


def _pull(distance: Num, height: Num) -> Array:
    """g / h, (..., P), 1/s²; zero where the machine does not stand, infinite where its centre of mass is not above the
    floor, NaN where that is not known."""
    b, h = np.asanyarray(distance, dtype=float), np.asanyarray(height, dtype=float)
    least = np.min(b, axis=-1)
    low = h <= 0
    pull = np.where(low, np.inf, STANDARD_GRAVITY / np.where(low, 1.0, h))
    return np.where(np.isnan(least), np.nan, np.where(least > 0, pull, 0.0))


def tip_angle(distance: Num, height: Num) -> Num:
    """Tilt of the floor at which the machine tips over an edge, rad: atan(b / h)."""
    return np.arctan2(distance, height)


def slope_acceleration(distance: Num, height: Num, slope: Num) -> Num:
    """Acceleration, m/s², on top of the slope's own pull, at which the machine tips: (g b cos s - g h sin s) / h.

    For the machine that faces down the slope with its weakest edge, driving down and braking.
    """
    b, h = np.asanyarray(distance, dtype=float), np.asanyarray(height, dtype=float)
    low = h <= 0
    way = np.where(low, np.copysign(np.inf, b), b / np.where(low, 1.0, h))
    return np.asanyarray(STANDARD_GRAVITY * (np.cos(slope) * way - np.sin(slope)))[()]


def push_moment(force: Num, height: Num, top: Num) -> Num:
    """Moment about the floor, N·m, of a push at a height, or at the top of a machine that is lower."""
    return force * np.minimum(height, top)


def energy_to_tip(mass: Num, distance: Num, height: Num) -> Num:
    """Energy, J, that brings the centre of mass above the edge: m g (√(b² + h²) - h). Zero where it tips anyhow."""
    b, h = np.maximum(distance, 0.0), np.asanyarray(height, dtype=float)
    away = np.hypot(b, h)
    # b²/(√(b² + h²) + h) is the same rise without the loss of digits; below the floor the first form keeps them
    low = ~(h > 0)
    rise = np.where(low, away - h, b * b / np.where(low, 1.0, away + h))
    return np.asanyarray(mass * STANDARD_GRAVITY * rise)[()]


def energy_of_blow(mass: Num, speed: Num, distance: Num, height: Num, inertia: Num) -> Num:
    """Energy of tipping, J, left when the wheels are stopped dead: momentum kept about the edge.

    E = ½ m v² · m h² / (m (h² + b²) + I), I about the edge's direction through the centre of mass, kg·m².
    """
    about_edge = mass * (height * height + distance * distance) + inertia
    return 0.5 * mass * speed * speed * (mass * height * height / about_edge)


def inertia_about(normal: Num, inertia: Num) -> Array:
    """Inertia about horizontal axes along the edges, (..., P, E): e·I·e with e across the normal.

    normal (..., E, 2); inertia about the centre of mass (..., P, 3, 3).
    """
    n, i = np.asanyarray(normal, dtype=float), np.asanyarray(inertia, dtype=float)
    x, y = -n[..., None, :, 1], n[..., None, :, 0]
    xx, yy, xy = i[..., 0, 0, None], i[..., 1, 1, None], i[..., 0, 1, None]
    return np.asanyarray(x * x * xx + y * y * yy + 2 * x * y * xy)


def tilt_per_lift(position: Num) -> Array:
    """Tilt of the machine for each metre that each wheel is lifted, (..., W, 2), rad/m, along x and y.

    The plane through the contacts (the least-squares one for more than three): three wheels on a circle of radius R
    give 1/(1.5 R) each. NaN for contacts in a line. position (..., W, 2), m.
    """
    p = np.asanyarray(position, dtype=float)
    if p.shape[-2] < 3:
        return np.full(p.shape, np.nan)
    away = p - np.mean(p, axis=-2, keepdims=True)
    s = np.swapaxes(away, -1, -2) @ away
    determinant = s[..., 0, 0] * s[..., 1, 1] - s[..., 0, 1] ** 2
    determinant = np.where(determinant > 1e-9 * (s[..., 0, 0] + s[..., 1, 1]) ** 2, determinant, np.nan)
    x, y = away[..., 0], away[..., 1]
    sxx, syy, sxy = s[..., 0, 0, None], s[..., 1, 1, None], s[..., 0, 1, None]
    return np.stack([syy * x - sxy * y, sxx * y - sxy * x], axis=-1) / determinant[..., None, None]


def top_sway(position: Num, run_out: Num, height: Num) -> Array:
    """Half-width of the sway at a height, m, (...,), when run-out of all wheels adds up at the worst phases.

    One wheel alone gives h e |tilt per lift| (h e / (1.5 R) on three wheels). run_out (..., W), height (...,), m.
    """
    tilt = tilt_per_lift(position) @ AROUND[: DIRECTIONS // 2].T
    together = np.max(np.sum(np.abs(tilt) * np.asanyarray(run_out)[..., None], axis=-2), axis=-1)
    sway: Array = np.asanyarray(height) * together
    return sway[()]


def centre_half_width(mass: Num, centre: Num, spread: Num, total: Num) -> Array:
    """How far the centre of mass may lie off to the side, m, (...,), every part's mass being off by its own share.

    Independent parts: √(Σ (m_i s_i r_i)²) / m, r_i from the common centre. mass (..., N), centre
    (..., N, 3), spread (N,).
    """
    m, c = np.asanyarray(mass, dtype=float), np.asanyarray(centre, dtype=float)
    sum_m = np.sum(m, axis=-1)[..., None, None]
    away = c[..., :2] - np.sum(m[..., None] * c[..., :2], axis=-2, keepdims=True) / sum_m
    moment = (m * spread)[..., None] * away
    off: Array = np.sqrt(np.sum(moment * moment, axis=(-1, -2))) / total
    return off[()]
