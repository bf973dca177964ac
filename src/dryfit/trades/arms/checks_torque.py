"""Torque of the arms: holding for long, lifting on the way, and the heat of holding."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Array, Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.arms import Arms, joints
from dryfit.machine.brief import Brief
from dryfit.trades.arms import formulas
from dryfit.trades.arms.checks_terms import HELD, LINEAR, STATICS, at, by_joint, chain_terms, likes, limit

COOL = (0.2, practice("a fifth for the winding, which is warmer than the case"))
TOPIC = "arm torque"


def holds(origins: Mapping[str, Origin], arms: Arms, hold: Term) -> Finding:
    """Cases: postures, and in each of them the joints where an arm has several; the hardest of equal arms."""
    torque = np.abs(np.asanyarray(hold.value))
    found = joints(arms)
    cases = [(p, a, j, label) for p in range(len(arms.postures)) for a, j, label in found]
    most = stack([np.max(torque[..., p, :, j][..., likes(arms, a)], axis=-1) for p, a, j, _ in cases])
    stall = stack([arms.stall_torque[..., a, j] for _, a, j, _ in cases])
    labels = [arms.postures[p] if len(found) == 1 else f"{arms.postures[p]}, {label}" for p, _, _, label in cases]
    hardest = calculated(
        "τ_hold", "torque to hold", most, "N*m", "τ_hold = largest τ of equal arms", (hold,), STATICS, per_case=True
    )
    servo = by_joint(origins, arms, "servo.stall_torque", "τ_s", "stall torque of a servo", arms.stall_torque, "N*m")
    if len(found) > 1:
        servo = calculated(
            "τ_s", "stall torque of its servo", stall, "N*m", "as given for the joint", (servo,), per_case=True
        )
    share = limit(origins, "hold_share", "s_hold", "share of stall held for long", arms.lim_hold_share, "%")
    kept = column(arms.lim_hold_share) * (1 - HELD[0])
    need = calculated(
        "τ_need", "stall torque that holds it with the reserve", formulas.ratio(most, kept), "N*m",
        f"τ_need = τ_hold/({1 - HELD[0]:g} s_hold)", (hardest, share), per_case=True,
    )  # fmt: skip
    return finding(
        demand=most / stall,
        capacity=column(arms.lim_hold_share),
        cases=labels,
        reserve=HELD,
        check="arms-hold-their-posture",
        trade="arms",
        topic=TOPIC,
        title="Every joint holds its posture with the share of stall torque that lasts",
        unit="%",
        demand_name="share of stall torque held",
        capacity_name="share that lasts",
        late=Late.REPRINT,
        formula="τ_hold/τ_s ≤ s_hold",
        terms=(hardest, servo, share, need),
        sources=(STATICS, practice("a joint that holds more than 30 to 50 % of stall hums, warms and fails")),
        remedy="Take servos of {τ_need} or more, shorten or lighten what they carry, or add a counterweight or spring.",
        caution="A servo that fails lets its arm fall.",
    )


def lifts(origins: Mapping[str, Origin], arms: Arms, swing: Array) -> Finding:
    """Cases: joints. swing: most that each joint gives between its lowest and its highest posture, (..., A, J)."""
    found = joints(arms)
    demand = stack([np.max(swing[..., likes(arms, a), j], axis=-1) for a, j, _ in found])
    stall = stack([arms.stall_torque[..., a, j] for a, j, _ in found])
    torque = calculated(
        "τ_max", "most that it gives on the way between the postures", demand, "N*m",
        "τ_max = largest a · Σ r × m g, less the spring, from the lowest to the highest posture",
        chain_terms(origins, arms), STATICS, per_case=True,
    )  # fmt: skip
    servo = by_joint(
        origins, arms, "servo.stall_torque", "τ_s", "stall torque of a servo", arms.stall_torque, "N*m", cases=True
    )
    share = limit(origins, "lift_share", "s_lift", "share of stall that still lifts", arms.lim_lift_share, "%")
    kept = column(arms.lim_lift_share) * (1 - HELD[0])
    need = calculated(
        "τ_need", "stall torque that lifts it with the reserve", formulas.ratio(demand, kept), "N*m",
        f"τ_need = τ_max/({1 - HELD[0]:g} s_lift)", (torque, share), per_case=True,
    )  # fmt: skip
    return finding(
        demand=demand,
        capacity=stall * column(arms.lim_lift_share),
        cases=[label for *_, label in found],
        reserve=HELD,
        check="arms-lift-from-every-posture",
        trade="arms",
        topic=TOPIC,
        title="Every joint lifts what it carries from each posture to each other",
        unit="N*m",
        demand_name="most torque on the way",
        capacity_name="torque that still lifts",
        late=Late.REPRINT,
        formula="τ_max ≤ s_lift τ_s",
        terms=(torque, servo, share, need),
        sources=(STATICS, practice("running torque of servos is well below their stall torque")),
        remedy="Take servos of {τ_need} or more, or add a counterweight or spring that carries part of {τ_max}.",
    )


def cool(origins: Mapping[str, Origin], arms: Arms, brief: Brief, hold: Term, round_about: Array) -> Finding:
    """Cases: joints; mean heat over the postures' shares of the show against what the case gives off.
    round_about: torque with what the joint carries level, (..., A, J)."""
    heat = formulas.hold_heat(
        np.asanyarray(hold.value),
        arms.stall_torque[..., None, :, :],
        arms.voltage[..., None, :, :],
        arms.stall_current[..., None, :, :],
    )
    mean = np.sum(heat * arms.time_share[..., None, None], axis=-3)
    found = joints(arms)
    rise = arms.lim_servo_temperature - np.asanyarray(brief.ambient)
    demand = stack([np.max(mean[..., likes(arms, a), j], axis=-1) for a, j, _ in found])
    capacity = stack([formulas.ratio(rise, arms.thermal_resistance[..., a, j]) for a, j, _ in found])
    level = stack([np.max(round_about[..., likes(arms, a), j], axis=-1) for a, j, _ in found])
    # heat goes with the square of the torque
    left = np.sqrt(np.clip(formulas.ratio(np.maximum(capacity, 0.0) * (1 - COOL[0]), demand), 0.0, 1.0))
    relief = calculated(
        "τ_c", "what a counterweight must take with the arm level", (1 - left) * level, "N*m",
        f"τ_c = τ_level (1 − √({1 - COOL[0]:g} P_max/P))", (hold,), per_case=True,
    )  # fmt: skip
    shares = [
        Term(f"t_{p + 1}", f"share of the show in {name!r}", arms.time_share[..., p][()], "%",
             at(origins, f"arms.postures[{p}].time_share"))
        for p, name in enumerate(arms.postures)
    ]  # fmt: skip

    def of(key: str, symbol: str, name: str, values: Array, unit: str) -> Term:
        return by_joint(origins, arms, f"servo.{key}", symbol, name, values, unit, cases=True)

    warmth = calculated(
        "P", "mean heat of holding over the show", demand, "W", "P = Σ t (τ/τ_s)² U I_s",
        (
            hold,
            *shares,
            of("stall_torque", "τ_s", "stall torque of a servo", arms.stall_torque, "N*m"),
            of("voltage", "U", "voltage of a servo", arms.voltage, "V"),
            of("stall_current", "I_s", "stall current", arms.stall_current, "A"),
        ),
        LINEAR, derived("ohmic heat"), per_case=True,
    )  # fmt: skip
    return finding(
        demand=demand,
        capacity=capacity,
        cases=[label for *_, label in found],
        reserve=COOL,
        check="servos-stay-cool",
        trade="arms",
        topic=TOPIC,
        title="The servos give off the heat of holding",
        unit="W",
        demand_name="mean heat of holding over the show",
        capacity_name="heat the case gives off",
        late=Late.SHOW,
        formula="P ≤ (T_max − T_air)/R_th",
        terms=(
            warmth,
            of("thermal_resistance", "R_th", "case to air", arms.thermal_resistance, "K/W"),
            Term("T_air", "air around", brief.ambient, "K", origins["brief.ambient"]),
            limit(origins, "servo_temperature", "T_max", "warmest servo", arms.lim_servo_temperature, "K"),
            relief,
        ),
        sources=(LINEAR, derived("ohmic heat")),
        remedy="Add a counterweight that takes {τ_c} with the arm level, or rest the arms where they hang.",
        caution="A servo that overheats lets its arm fall.",
    )
