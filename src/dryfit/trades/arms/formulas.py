"""Arms at rest: what gravity asks of a joint, how far a tip sags, what servos draw. Pure relations, SI."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num
from dryfit.ground.units import STANDARD_GRAVITY


def outboard(mass: Num, centre: Num) -> tuple[Array, Array]:
    """Mass and first moment of all that a joint carries: masses (..., J) and centres (..., J, 3) of the links after
    each joint -> (..., J) kg and (..., J, 3) kg·m, summed from the tip inwards."""
    m = np.asanyarray(mass, dtype=float)
    moment = m[..., None] * np.asanyarray(centre, dtype=float)
    if m.shape[-1] == 1:
        return m, moment
    return np.cumsum(m[..., ::-1], axis=-1)[..., ::-1], np.cumsum(moment[..., ::-1, :], axis=-2)[..., ::-1, :]


def gravity_torques(mass: Num, centre: Num, joint_origin: Num, joint_axis: Num) -> tuple[Array, Array]:
    """Torque that each joint must give to hold what it carries, N·m, positive about its axis, and the most that it
    must give while it swings what it carries, as posed, right round.

    τ = a · Σ r × m g; the most is M g d √(a_x² + a_y²), d being the distance of what is carried from the axis.
    mass: of the links (..., J).  centre, joint_origin, joint_axis: (..., J, 3), z up. Returns (..., J) twice.
    """
    m, moment = outboard(mass, centre)
    a = np.asanyarray(joint_axis, dtype=float)
    r = moment - m[..., None] * np.asanyarray(joint_origin, dtype=float)
    held = STANDARD_GRAVITY * (a[..., 0] * r[..., 1] - a[..., 1] * r[..., 0])
    lying = np.sqrt(a[..., 0] ** 2 + a[..., 1] ** 2)
    most = np.asanyarray(STANDARD_GRAVITY * lying * off_axis(a, r))
    # an arm that hangs straight down asks for nothing: drop what rounding leaves of it
    return np.where(np.abs(held) < 1e-12 * most, 0.0, held), most


def gravity_slopes(mass: Num, centre: Num, joint_origin: Num, joint_axis: Num) -> Array:
    """How the holding torque of each joint changes while it turns what it carries, N·m for each radian, (..., J)."""
    m, moment = outboard(mass, centre)
    a = np.asanyarray(joint_axis, dtype=float)
    r = moment - m[..., None] * np.asanyarray(joint_origin, dtype=float)
    level = a[..., 2] * (a[..., 0] * r[..., 0] + a[..., 1] * r[..., 1])
    return np.asanyarray(STANDARD_GRAVITY * (level - (a[..., 0] ** 2 + a[..., 1] ** 2) * r[..., 2]))


def on_the_way(held: Num, slope: Num, most: Num, back: Num, on: Num) -> tuple[Num, Num]:
    """Largest and smallest torque that gravity asks while a joint turns from `back` rad before a posture to `on` rad
    after it, N·m, without sign. held, slope: in the posture; most: right round. τ = τ_most cos ψ, ψ turning along.
    """
    angle = np.arctan2(-np.asanyarray(slope, dtype=float), held)
    low, high = angle - back, angle + on
    ends = np.abs(np.cos(low)), np.abs(np.cos(high))
    tops = np.floor(high / np.pi) >= np.ceil(low / np.pi)
    zeros = np.floor(high / np.pi - 0.5) >= np.ceil(low / np.pi - 0.5)
    unknown = np.isnan(low + high)
    largest = np.where(tops & ~unknown, 1.0, np.maximum(*ends))
    smallest = np.where(zeros & ~unknown, 0.0, np.minimum(*ends))
    return (most * largest)[()], (most * smallest)[()]


def sprung(torque: Num, spring: Num) -> Num:
    """Torque left for the servo beside a spring that always pushes upwards, N·m, with the sign of the load; where the
    spring is the stronger, the servo has to hold it down."""
    t = np.asanyarray(torque, dtype=float)
    left: Array = (np.where(t < 0, -1.0, 1.0) * (np.abs(t) - spring))[()]
    return left


def off_axis(axis: Num, vector: Num) -> Array:
    """Length of the part of vectors (..., 3) that stands across unit axes (..., 3): |a × r|."""
    a, r = np.asanyarray(axis, dtype=float), np.asanyarray(vector, dtype=float)
    x = a[..., 1] * r[..., 2] - a[..., 2] * r[..., 1]
    y = a[..., 2] * r[..., 0] - a[..., 0] * r[..., 2]
    z = a[..., 0] * r[..., 1] - a[..., 1] * r[..., 0]
    length: Array = np.sqrt(x * x + y * y + z * z)[()]
    return length


def tip_lever(tip: Num, joint_origin: Num, joint_axis: Num) -> Array:
    """Distance of the tip (..., 3) from each joint's axis (..., J, 3), m, that is per radian: (..., J)."""
    return off_axis(
        joint_axis, np.asanyarray(tip, dtype=float)[..., None, :] - np.asanyarray(joint_origin, dtype=float)
    )


def tip_errors(lever: Num, deadband: Num, lash: Num) -> tuple[Array, Array]:
    """How far a tip may be off, m, (..., J) -> (...,): root of squares of all errors, and all errors one way.

    Small angles: each joint adds lever × deadband and lever × lash.
    """
    lever = np.asanyarray(lever, dtype=float)
    dead, play = lever * deadband, lever * lash
    return np.sqrt(np.sum(dead * dead + play * play, axis=-1)), np.sum(dead + play, axis=-1)


def servo_current(torque: Num, stall_torque: Num, idle_current: Num, stall_current: Num) -> Num:
    """Current of a servo that holds a torque, A: I = I_idle + (I_stall - I_idle) τ/τ_stall, up to the stall current."""
    share = np.minimum(np.abs(torque) / stall_torque, 1.0)
    return (idle_current + (stall_current - idle_current) * share)[()]


def ratio(part: Num, whole: Num) -> Num:
    """part/whole, unlimited where the whole is nothing; NaN stays."""
    w = np.asanyarray(whole, dtype=float)
    return np.where(w == 0, np.inf, part / np.where(w == 0, 1.0, w))[()]


def hold_heat(torque: Num, stall_torque: Num, voltage: Num, stall_current: Num) -> Num:
    """Heat in the winding of a servo that holds a torque, W: I²R with I = I_stall τ/τ_stall and R = U/I_stall."""
    share = np.minimum(np.abs(torque) / stall_torque, 1.0)
    return share**2 * voltage * stall_current
