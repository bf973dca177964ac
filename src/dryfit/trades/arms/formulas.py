"""Arms at rest: what gravity asks of a joint, how far a tip sags, what servos draw. Pure relations, SI."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num
from dryfit.ground.units import STANDARD_GRAVITY


def outboard(mass: Num, centre: Num) -> tuple[Array, Array]:
    """Mass and first moment of all that a joint carries: masses (..., J) and centres (..., J, 3) of the links after
    each joint -> (..., J) kg and (..., J, 3) kg·m, summed from the tip inwards."""
    m = np.asarray(mass, dtype=float)
    moment = m[..., None] * np.asarray(centre, dtype=float)
    return np.cumsum(m[..., ::-1], axis=-1)[..., ::-1], np.cumsum(moment[..., ::-1, :], axis=-2)[..., ::-1, :]


def gravity_torque(mass: Num, centre: Num, joint_origin: Num, joint_axis: Num) -> Array:
    """Torque that each joint must give to hold what it carries, N·m, positive about its axis: τ = a · Σ r × m g.

    mass: of the links (..., J).  centre, joint_origin, joint_axis: (..., J, 3), z up. Returns (..., J).
    """
    m, moment = outboard(mass, centre)
    o, a = np.asarray(joint_origin, dtype=float), np.asarray(joint_axis, dtype=float)
    x = moment[..., 0] - m * o[..., 0]
    y = moment[..., 1] - m * o[..., 1]
    return np.asarray(STANDARD_GRAVITY * (a[..., 0] * y - a[..., 1] * x))


def swing_torque(mass: Num, centre: Num, joint_origin: Num, joint_axis: Num) -> Array:
    """Most that gravity can ask of a joint while it swings what it carries, as posed, right round, N·m.

    M g d √(a_x² + a_y²): d is the distance of what it carries from the joint's axis. Shapes as in `gravity_torque`.
    """
    m, moment = outboard(mass, centre)
    o, a = np.asarray(joint_origin, dtype=float), np.asarray(joint_axis, dtype=float)
    arm = np.cross(a, moment - m[..., None] * o)
    lying = np.sqrt(a[..., 0] ** 2 + a[..., 1] ** 2)
    return np.asarray(STANDARD_GRAVITY * lying * np.sqrt(np.sum(arm * arm, axis=-1)))


def tip_lever(tip: Num, joint_origin: Num, joint_axis: Num) -> Array:
    """Distance of the tip (..., 3) from each joint's axis (..., J, 3), m, that is per radian: (..., J)."""
    r = np.asarray(tip, dtype=float)[..., None, :] - np.asarray(joint_origin, dtype=float)
    return np.asarray(np.sqrt(np.sum(np.cross(joint_axis, r) ** 2, axis=-1)))


def tip_errors(lever: Num, deadband: Num, lash: Num) -> tuple[Array, Array]:
    """How far a tip may be off, m, (..., J) -> (...,): root of squares of all errors, and all errors one way.

    Small angles: each joint adds lever × deadband and lever × lash.
    """
    lever = np.asarray(lever, dtype=float)
    dead, play = lever * deadband, lever * lash
    return np.sqrt(np.sum(dead**2 + play**2, axis=-1)), np.sum(dead + play, axis=-1)


def servo_current(torque: Num, stall_torque: Num, idle_current: Num, stall_current: Num) -> Num:
    """Current of a servo that holds a torque, A: I = I_idle + (I_stall - I_idle) τ/τ_stall, up to the stall current."""
    share = np.minimum(np.abs(torque) / stall_torque, 1.0)
    return (idle_current + (stall_current - idle_current) * share)[()]


def hold_heat(torque: Num, stall_torque: Num, voltage: Num, stall_current: Num) -> Num:
    """Heat in the winding of a servo that holds a torque, W: I²R with I = I_stall τ/τ_stall and R = U/I_stall."""
    share = np.minimum(np.abs(torque) / stall_torque, 1.0)
    return share**2 * voltage * stall_current
