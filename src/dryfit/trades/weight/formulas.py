"""Weight: sums of rigid bodies, by posture, and how the weight spreads over the wheels. Pure mechanics."""

from __future__ import annotations

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.quantity import Array, Num
from dryfit.ground.units import STANDARD_GRAVITY


def moments_about_origin(mass: Num, centre: Num, inertia: Num) -> tuple[Array, Array, Array]:
    """Mass (...,), first moment (..., 3) and inertia about the origin (..., 3, 3) of N bodies taken together.

    mass (..., N), kg; centre (..., N, 3), m; inertia (..., N, 3, 3) about each own centre, kg·m².
    Parallel-axis theorem: J = Σ I + m (r² 1 - r rᵀ).
    """
    m, r = np.asanyarray(mass, dtype=float), np.asanyarray(centre, dtype=float)
    weighted = m[..., None] * r
    outer = np.swapaxes(weighted, -1, -2) @ r
    square = np.trace(outer, axis1=-2, axis2=-1)[..., None, None] * np.eye(3)
    return np.sum(m, axis=-1), np.sum(weighted, axis=-2), np.sum(inertia, axis=-3) + square - outer


def about_centre(mass: Num, first: Num, about_origin: Num) -> tuple[Array, Array]:
    """Centre of mass (..., 3) and inertia about it (..., 3, 3), from mass (...,), first moment and inertia about the
    origin. A machine without mass has no centre: NaN."""
    m = np.asanyarray(mass, dtype=float)
    c = np.asanyarray(first) / np.where(m > 0, m, np.nan)[..., None]
    outer = c[..., :, None] * c[..., None, :]
    square = np.trace(outer, axis1=-2, axis2=-1)[..., None, None] * np.eye(3)
    return c, np.asanyarray(about_origin - m[..., None, None] * (square - outer))


def wheel_loads(position: Num, centre: Num, weight: Num) -> Array:
    """Load of every wheel (..., W), N, of a machine that stands level and at rest.

    position (..., W, 2), centre of mass (..., 2), m; weight (...,), N. Exact for three wheels. For more, the loads of
    a rigid machine on equally stiff contacts: linear in place, the least-norm answer of the equilibrium. A negative
    load says that the machine tips. NaN for fewer than three wheels and for wheels in a line.
    """
    p, g = np.asanyarray(position, dtype=float), np.asanyarray(weight, dtype=float)
    c = np.asanyarray(centre, dtype=float)
    wheels = p.shape[-2]
    if wheels < 3:
        return np.full((*np.broadcast_shapes(p.shape[:-2], c.shape[:-1], g.shape), wheels), np.nan)
    middle, away, inverse = _spread_of_places(p)
    slope = (inverse @ (c - middle)[..., None])[..., 0]
    return np.asanyarray(g[..., None] * (1 / wheels + np.sum(away * slope[..., None, :], axis=-1)))


def load_change(position: Num, stiffness: Num, unevenness: Num) -> Array:
    """Largest loss of load of every wheel (..., W), N, when the floor under one of them lies off the plane of the rest.

    Rigid machine on contacts of equal stiffness (...,), N/m: lifting wheel j by d changes the loads by k d times
    column j of the projection onto the patterns of height that no tilt of the machine can follow (four in a square:
    ±k d / 4).
    Zero for three wheels, which always stand.
    """
    p = np.asanyarray(position, dtype=float)
    wheels = p.shape[-2]
    if wheels < 4:
        return np.zeros(p.shape[:-1])
    _, away, inverse = _spread_of_places(p)
    left_over = np.eye(wheels) - 1 / wheels - away @ inverse @ np.swapaxes(away, -1, -2)
    return np.asanyarray(
        column(np.asanyarray(stiffness) * np.asanyarray(unevenness)) * np.max(np.abs(left_over), axis=-1)
    )


def _spread_of_places(p: Array) -> tuple[Array, Array, Array]:
    """Middle of the contacts (..., 2), places from it (..., W, 2), inverse of their second moments (..., 2, 2)."""
    middle = np.mean(p, axis=-2)
    away = p - middle[..., None, :]
    s = np.swapaxes(away, -1, -2) @ away
    determinant = s[..., 0, 0] * s[..., 1, 1] - s[..., 0, 1] ** 2
    size = (s[..., 0, 0] + s[..., 1, 1]) ** 2
    stands = determinant > 1e-9 * size
    determinant = np.where(stands, determinant, np.nan)
    swapped = np.stack([s[..., 1, 1], -s[..., 0, 1], -s[..., 0, 1], s[..., 0, 0]], axis=-1) / determinant[..., None]
    return middle, away, swapped.reshape(*swapped.shape[:-1], 2, 2)


def weight_of(mass: Num) -> Num:
    """Weight, N, of a mass, kg, under standard gravity."""
    return mass * STANDARD_GRAVITY


def guessed_share(mass: Num, spread: Num) -> Array:
    """Half-width of the total as a fraction of it, were all parts off to the same side: Σ m s / Σ m, (...,)."""
    m = np.asanyarray(mass, dtype=float)
    share: Array = np.sum(m * spread, axis=-1) / np.sum(m, axis=-1)
    return share
