"""Arms at rest: do they hold and lift what they carry, within their limits, cool enough, and do their tips meet?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.findings import Finding, Term, calculated
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import derived
from dryfit.machine.arms import Arms
from dryfit.machine.brief import Brief
from dryfit.trades.arms import checks_motion, checks_torque, formulas
from dryfit.trades.arms.checks_terms import LINEAR, STATICS, by_joint, chain_terms, lengths


@dataclass(frozen=True)
class ArmsResult:
    """hold_current: all servos together in each posture (..., P), A.  moving_current: all moving at once (...,), A.
    stall_current: sum over all servos (...,), A.  hold_torque: (..., P, A, J), N*m, sign about the joint's axis.
    tip_speed: fastest tip, every joint at its (capped) speed, straightest posture (...,), m/s."""

    hold_current: Term
    moving_current: Term
    stall_current: Term
    hold_torque: Term
    tip_speed: Term
    findings: tuple[Finding, ...]


def assess_arms(origins: Mapping[str, Origin], arms: Arms, brief: Brief) -> ArmsResult:
    """All checks of the arms at rest; nothing but zeros where a machine has none."""
    if not arms.names:
        return _nothing(arms)
    mass = arms.link_mass[..., None, :, :]
    places = (arms.link_centre, arms.joint_origin, arms.joint_axis)
    load, round_about = formulas.gravity_torques(mass, *places)
    spring = arms.spring[..., None, :, :]
    held = formulas.sprung(load, spring)
    # between two postures a joint may pass the level, where gravity asks most of it, or hang, where a spring does
    least_angle, most_angle = (f(arms.angle, axis=-3, keepdims=True) for f in (np.min, np.max))
    largest, smallest = formulas.on_the_way(
        load, formulas.gravity_slopes(mass, *places), round_about, arms.angle - least_angle, most_angle - arms.angle
    )
    swing = np.max(np.maximum(largest - spring, spring - smallest), axis=-3)
    lever = formulas.tip_lever(arms.tip, arms.joint_origin, arms.joint_axis)
    hold = calculated(
        "τ",
        "torque to hold, by posture, arm and joint",
        held,
        "N*m",
        "τ = a · Σ r × m g, less the spring",
        chain_terms(origins, arms),
        STATICS,
    )
    findings = (
        checks_torque.holds(origins, arms, hold),
        checks_torque.lifts(origins, arms, swing),
        checks_torque.cool(origins, arms, brief, hold, np.max(round_about, axis=-3)),
        *checks_motion.limits(origins, arms),
        checks_motion.wakes(origins, arms),
        *checks_motion.tips(origins, arms, lever),
    )
    return ArmsResult(*_currents(origins, arms, hold, swing), hold, _tip_speed(origins, arms, lever), findings)


def _nothing(arms: Arms) -> ArmsResult:
    def zero(symbol: str, name: str, unit: str, value: Num = 0.0) -> Term:
        return calculated(symbol, name, value, unit, "there are no arms", ())

    return ArmsResult(
        zero("I_hold", "current of all servos, by posture", "A", np.zeros(len(arms.postures))),
        zero("I_move", "current of all servos moving at once", "A"),
        zero("I_stall", "stall current of all servos", "A"),
        zero("τ", "torque to hold", "N*m", np.zeros(arms.angle.shape)),
        zero("v_tip", "speed of the fastest tip", "m/s"),
        (),
    )


def _currents(origins: Mapping[str, Origin], arms: Arms, hold: Term, swing: Array) -> tuple[Term, Term, Term]:
    """swing: most that each joint gives between the postures, (..., A, J)."""
    real = arms.real
    idle, stall = arms.idle_current, arms.stall_current
    each = formulas.servo_current(
        np.asanyarray(hold.value), arms.stall_torque[..., None, :, :], idle[..., None, :, :], stall[..., None, :, :]
    )
    moving = formulas.servo_current(swing, arms.stall_torque, arms.running_current, stall)
    i_idle = by_joint(origins, arms, "servo.idle_current", "I_idle", "current of a servo at rest", idle, "A")
    i_run = by_joint(
        origins, arms, "servo.running_current", "I_run", "current of a servo moving free", arms.running_current, "A"
    )
    i_stall = by_joint(origins, arms, "servo.stall_current", "I_s", "stall current of a servo", stall, "A")
    t_stall = by_joint(origins, arms, "servo.stall_torque", "τ_s", "stall torque of a servo", arms.stall_torque, "N*m")
    number = f"{len(arms.names)} arms"
    return (
        calculated("I_hold", "current of all servos, by posture", np.sum(each * real, axis=(-2, -1)), "A",
                   "I_hold = Σ (I_idle + (I_s − I_idle) τ/τ_s)", (hold, i_idle, i_stall, t_stall), LINEAR),
        calculated("I_move", f"current of all servos moving at once ({number})", np.sum(moving * real, axis=(-2, -1)),
                   "A", "I_move = Σ (I_run + (I_s − I_run) τ_max/τ_s), τ_max the most between the postures",
                   (hold, i_run, i_stall, t_stall), LINEAR),
        calculated("I_stall", f"stall current of all servos ({number})", np.sum(stall * real, axis=(-2, -1)), "A",
                   "I_stall = Σ I_s", (i_stall,), derived("sum over the servos")),
    )  # fmt: skip


def _tip_speed(origins: Mapping[str, Origin], arms: Arms, lever: Array) -> Term:
    fastest = np.max(np.sum(lever * arms.speed[..., None, :, :], axis=-1), axis=(-2, -1))
    rate = by_joint(origins, arms, ("speed_cap", "servo.speed"), "ω", "speed of the joint", arms.speed, "rad/s")
    return calculated(
        "v_tip", "speed of the fastest tip", fastest, "m/s", "v_tip = Σ ω × distance of the tip from the axis",
        (rate, *lengths(origins, arms)), derived("rotation about an axis"),
    )  # fmt: skip
