"""Wheels of any layout: what each must turn for a motion, what each must push for a pull, and what grip allows.

Frame: x forward, y left; a motion is (vx, vy, ω) of the machine's origin. Directions of travel are counted from +x
towards +y. Axes: (..., D) over driven wheels, (..., W) over all wheels, (..., K) over directions.
Kinematic relations: rigid-body velocity of the contact point; rolling condition of standard, omni and mecanum wheels as
in Siegwart, Nourbakhsh & Scaramuzza, Introduction to Autonomous Mobile Robots, ch. 3 (from memory).
"""

from __future__ import annotations

from functools import reduce

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.axes import column
from dryfit.ground.quantity import Array, Num
from dryfit.ground.steps import one_step

DIRECTIONS = 72
HEADINGS: Array = np.arange(DIRECTIONS) * 2 * np.pi / DIRECTIONS
UNIT: Array = np.stack([np.cos(HEADINGS), np.sin(HEADINGS)], axis=-1)
"""Unit vectors of the 72 directions, (72, 2)."""
UNIT[np.abs(UNIT) < 1e-15] = 0.0
_NEAR_ZERO = 1e-9
_IDLE = 1e-12
_NEAREST = np.sin(np.pi / DIRECTIONS) ** 2 * (1 + 1e-9)
"""Square of the sine of half the angle between directions: tyres that stand between two of them may roll in both."""


def rolling_rows(position: Num, heading: Num, roller_angle: Num, length: Num = 1.0) -> Array:
    """Rim speed of each wheel for a motion (vx, vy, ω·length): rows (..., W, 3).

    rim speed = v_along + v_across·tan(roller_angle) of the contact point; position (..., W, 2) m, angles (..., W) rad.
    """
    p = np.asanyarray(position, dtype=float)
    t = np.tan(roller_angle)
    c, s = np.cos(heading), np.sin(heading)
    return _rows(p, c - s * t, s + c * t, length)


def sideslip_rows(position: Num, heading: Num, length: Num = 1.0) -> Array:
    """Speed across each tyre for a motion (vx, vy, ω·length), which must be zero: rows (..., T, 3)."""
    return _rows(np.asanyarray(position, dtype=float), -np.sin(heading), np.cos(heading), length)


def _rows(p: Array, dx: Num, dy: Num, length: Num) -> Array:
    turn = (p[..., 0] * dy - p[..., 1] * dx) / column(length)
    return np.stack(np.broadcast_arrays(dx, dy, turn), axis=-1)


def freedom(rows: Num) -> Array:
    """Projector (..., 3, 3) onto the motions that satisfy rows·motion = 0, rows (..., T, 3); T = 0 frees all, (3, 3).

    Rows are made orthogonal one after another; one that repeats an earlier one drops out.
    """
    r = np.asanyarray(rows, dtype=float)
    if r.shape[-2] == 0:
        return np.eye(3)
    free = np.zeros((*r.shape[:-2], 3, 3)) + np.eye(3)
    for i in range(r.shape[-2]):
        rest = np.einsum("...ij,...j->...i", free, r[..., i, :])
        size = np.sum(rest * rest, axis=-1)
        whole = np.sum(r[..., i, :] ** 2, axis=-1)
        unit = rest / np.sqrt(np.where(size > _NEAR_ZERO * whole, size, np.inf))[..., None]
        free = free - unit[..., :, None] * unit[..., None, :]
    return free


def inverse(a: Num) -> Array:
    """Inverse of (..., 3, 3) matrices by cofactors; infinite or NaN where singular, without a warning."""
    m = np.asanyarray(a, dtype=float)
    r0, r1, r2 = m[..., 0, :], m[..., 1, :], m[..., 2, :]
    cofactors = np.stack([_cross(r1, r2), _cross(r2, r0), _cross(r0, r1)], axis=-1)
    determinant = np.sum(r0 * cofactors[..., :, 0], axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asanyarray(cofactors / determinant[..., None, None])


def _cross(a: Array, b: Array) -> Array:
    return np.stack(
        [
            a[..., 1] * b[..., 2] - a[..., 2] * b[..., 1],
            a[..., 2] * b[..., 0] - a[..., 0] * b[..., 2],
            a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0],
        ],
        axis=-1,
    )


def pseudo_inverse(rows: Num, free: Num) -> Array:
    """Motion (..., 3, D) that fits given rim speeds best among the allowed motions; rows (..., D, 3), free (..., 3, 3).

    Its transpose gives the rim forces of least sum of squares that make a given push (Fx, Fy, M/length).
    """
    p = np.asanyarray(free, dtype=float)
    jp = np.asanyarray(rows) @ p
    square = np.swapaxes(jp, -1, -2) @ jp + (np.eye(3) - p)
    return np.asanyarray(p @ inverse(square) @ np.swapaxes(jp, -1, -2))


def force_shares(rows: Num, free: Num, directions: Num = UNIT) -> Array:
    """Rim force of each driven wheel for a pull of 1 N without moment in each direction, (..., K, D).

    One solution for up to three wheels; the one of least sum of squares for more.
    """
    inverse_rows = pseudo_inverse(rows, free)
    return _clean(np.asanyarray(directions) @ inverse_rows[..., :2, :])


def speed_shares(rows: Num, directions: Num = UNIT) -> Array:
    """Rim speed of each wheel for travel at 1 m/s without turning in each direction, (..., K, D)."""
    return _clean(np.asanyarray(directions) @ np.swapaxes(np.asanyarray(rows)[..., :2], -1, -2))


# A reduction over a trailing axis of three or four is slow for many machines; one wheel after another is not.


def largest(values: Array) -> Array:
    """Largest entry over the trailing wheel axis; a NaN stays."""
    result: Array = np.asanyarray(reduce(np.maximum, np.moveaxis(values, -1, 0)))
    return result[()]


def smallest(values: Array) -> Array:
    """Smallest entry over the trailing wheel axis; a NaN stays."""
    result: Array = np.asanyarray(reduce(np.minimum, np.moveaxis(values, -1, 0)))
    return result[()]


def total(values: Array) -> Array:
    """Sum over the trailing wheel axis."""
    result: Array = np.asanyarray(reduce(np.add, np.moveaxis(values, -1, 0)))
    return result[()]


def _clean(shares: Array) -> Array:
    """A wheel that rolls crosswise takes no part; rounding must not make it a very slow one."""
    return np.asanyarray(np.where(np.abs(shares) < 1e-12, 0.0, shares))


def can_travel(free: Num, directions: Num = UNIT) -> Array:
    """True for directions in which no tyre would have to slip sideways, (..., K), to the nearest of the directions."""
    p = np.asanyarray(free, dtype=float)
    blocked = np.asanyarray(directions) @ (np.eye(3) - p)[..., :2, :]
    return np.asanyarray(np.sum(blocked * blocked, axis=-1) < _NEAREST)


def lost_motion(rows: Num, free: Num, motion: Num) -> Array:
    """Part of a motion (3,), of unit size, that the tyres forbid or that the driven wheels do not hold: 0 none, 1 all.

    Forbidden: (1 - free)·motion. Not held: share of the motion that turns no driven wheel.
    """
    e = np.asanyarray(motion, dtype=float)
    p = np.asanyarray(free, dtype=float)
    forbidden = np.sum(((np.eye(3) - p) @ e) ** 2, axis=-1)
    jp = np.asanyarray(rows) @ p
    # eps·eᵀ(A + eps)⁻¹e is 1 where the wheels do not feel the motion at all and about eps otherwise.
    square = np.swapaxes(jp, -1, -2) @ jp + (np.eye(3) - p) + _NEAR_ZERO * np.eye(3)
    loose = _NEAR_ZERO * np.einsum("i,...ij,j->...", e, inverse(square), e)
    lost: Array = np.maximum(forbidden, loose)
    return lost


def slack_force(rows: Num) -> Array:
    """Rim forces (..., 4) of four wheels without any tyre that cancel out: they press the wheels against each other."""
    r = np.asanyarray(rows, dtype=float)
    out = []
    for i in range(4):
        a, b, c = (r[..., j, :] for j in range(4) if j != i)
        out.append((-1) ** i * np.sum(a * _cross(b, c), axis=-1))
    return np.stack(out, axis=-1)


def strongest_pull(shares: Num, limit: Num, growth: Num = 0.0, slack: Num | None = None) -> Array:
    """Largest pull q (..., K) for which rim forces shares·q (+ any slack force) stay within limit + growth·q.

    shares (..., K, D); limit, growth broadcastable to it. With slack (..., 4) given, forces of four wheels that cancel
    out may be chosen freely: a linear programme in q and one free number z. Every wheel bounds z to an interval, and
    intervals have a common point when every two of them have one, so
    q·|s_i n_j - s_j n_i| <= (l_i + g_i q)|n_j| + (l_j + g_j q)|n_i| for every pair i, j. Infinite where nothing limits.
    """
    s = np.asanyarray(shares, dtype=float)
    a = np.broadcast_to(np.asanyarray(limit, dtype=float), np.broadcast_shapes(s.shape, np.shape(limit)))
    b = np.broadcast_to(np.asanyarray(growth, dtype=float), np.broadcast_shapes(s.shape, np.shape(growth)))
    if slack is None:
        # one wheel after another: a fourth of the memory, so the numbers of many machines stay near the processor
        each = (_bound(a[..., i], np.abs(s[..., i]) - b[..., i]) for i in range(s.shape[-1]))
        return np.asanyarray(reduce(np.minimum, each))
    n = np.asanyarray(slack, dtype=float)[..., None, :]
    size = np.abs(n)
    bounds = []
    for i in range(4):
        for j in range(i):
            across = np.abs(s[..., i] * n[..., j] - s[..., j] * n[..., i])
            top = a[..., i] * size[..., j] + a[..., j] * size[..., i]
            bounds.append(_bound(top, across - b[..., i] * size[..., j] - b[..., j] * size[..., i]))
    return np.asanyarray(reduce(np.minimum, bounds))


@one_step
def _bound(top: Array, slope: Array) -> Array:
    """q with q·slope <= top: top/slope where slope is above nothing, otherwise without limit. NaN stays."""
    out = np.full(np.broadcast_shapes(top.shape, slope.shape), np.inf)
    np.divide(top, slope, out=out, where=~(slope <= _IDLE))
    return out


def load_shift(position: Num, directions: Num = UNIT) -> Array:
    """Change of each wheel's load for a moment of 1 N·m from accelerating in each direction, (..., K, W), 1/m.

    Exact for three wheels; least squares for more (equal springs under all contacts). Loads move to the rear.
    """
    p = np.asanyarray(position, dtype=float)
    rows = np.concatenate([np.ones_like(p[..., :1]), p], axis=-1)
    spread = inverse(np.swapaxes(rows, -1, -2) @ rows) @ np.swapaxes(rows, -1, -2)
    return np.asanyarray(-np.asanyarray(directions) @ spread[..., 1:, :])


def heading_error(inverse_rows: Num, shares: Num, scatter: Num, length: Num = 1.0) -> Array:
    """Turn per metre of straight driving, rad/m, (..., K), from rim speeds that are off by `scatter` (..., D) each.

    Independent errors add as squares: ω = Σ J⁺_ωi·u_i·e_i. inverse_rows (..., 3, D), shares (..., K, D).
    """
    row = np.asanyarray(inverse_rows)[..., 2, :] / column(length) * np.asanyarray(scatter)
    weighted = row[..., None, :] * np.asanyarray(shares)
    return np.asanyarray(np.sqrt(total(weighted * weighted)))


def at_direction(values: Num, index: Num | NDArray[np.intp]) -> Array:
    """The row of the direction `index` (...,) for every machine: (..., K, D) -> (..., D)."""
    v, i = np.asanyarray(values, dtype=float), np.asanyarray(index, dtype=np.intp)
    if i.ndim == 0:
        return np.asanyarray(v[..., i, :])
    lead = np.broadcast_shapes(v.shape[:-2], i.shape)
    v = np.broadcast_to(v, (*lead, *v.shape[-2:]))
    i = np.broadcast_to(i, lead)
    return np.asanyarray(np.take_along_axis(v, i[..., None, None], axis=-2)[..., 0, :])
