"""Findings about the wheels and the way: can it move as meant, with what grip, over what edge, how straight."""

from __future__ import annotations

import numpy as np

from dryfit.ground.axes import column, first_largest, pick, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding, margin
from dryfit.ground.rounding import downwards
from dryfit.ground.sources import derived, practice
from dryfit.trades.drive import formulas as f
from dryfit.trades.drive.checks_stop import CAUTION
from dryfit.trades.drive.checks_terms import MECHANICS, Drive

_HEADINGS = tuple(f"towards {5 * k} deg" for k in range(f.DIRECTIONS))


def can_move(d: Drive) -> Finding:
    """`wheels-can-do-the-motion`: no tyre must be dragged sideways and the driven wheels hold every motion."""
    rows, free = d.motion.rows, d.motion.free
    motions: list[tuple[str, list[float]]] = [("drive forward", [1, 0, 0]), ("turn on the spot", [0, 0, 1])]
    if "tyre" not in d.wheels.kinds:
        motions.append(("drive sideways", [0, 1, 0]))
    lost = stack([f.lost_motion(rows, free, np.array(motion)) for _, motion in motions])
    demand = np.where(lost < 1e-6, 0.0, np.where(np.isnan(lost), np.nan, 1.0))
    part = calculated(
        "lost", "part of the motion that is forbidden or not held", lost, "%",
        "from places, headings and kinds of the wheels", (d.stance,), MECHANICS, per_case=True,
    )  # fmt: skip
    return finding(
        check="wheels-can-do-the-motion", trade="drive", topic="wheels",
        title="Wheels roll in every motion of the show and hold it", unit="1", cases=[name for name, _ in motions],
        demand=demand, capacity=0.0, demand_name="motions that scrub or run loose", capacity_name="none may",
        reserve=(0.0, practice("yes or no")), late=Late.REPRINT,
        formula="rolling conditions of all driven wheels have full rank on the motions that tyres allow",
        terms=(part,), sources=(MECHANICS,),
        remedy="Turn or move the wheels so that their rolling conditions are independent, or drive one more wheel",
    )  # fmt: skip


def accelerates(d: Drive) -> Finding:
    """`accelerates-as-asked`: in each of 72 directions, before it tips, slips or runs out of motor."""
    limits, allowed = d.limits, d.motion.allowed
    capacity = np.where(allowed, limits.least, np.inf)
    tip = Term("a_tip", "tips at", limits.tip, "m/s2", d.handed["tip_acceleration"].origin, per_case=True)
    grip = calculated(
        "a_grip", "slips at, load moving to the rear", limits.grip, "m/s2",
        "linear programme over rim forces: |force| <= µ·N of every driven wheel, no moment",
        (d.low_friction, d.heaviest, d.mass), MECHANICS, per_case=True,
    )  # fmt: skip
    motor = calculated(
        "a_motor", "motors give at show speed", limits.motor, "m/s2", "(pull at full duty - m·g·c_r)/(m + m_rotating)",
        (d.speed, d.stall_torque, d.gear, d.efficiency, d.radius, d.emf(True), d.source(True), d.mass, d.rolling),
        MECHANICS, per_case=True,
    )  # fmt: skip
    kept = 0.3
    plan = calculated(
        "a_ok", "acceleration that keeps the reserve", downwards((1 - kept) * limits.least), "m/s2",
        "0.7·min(a_tip, a_grip, a_motor)", (tip, grip, motor), per_case=True,
    )  # fmt: skip
    return finding(
        check="accelerates-as-asked", trade="drive", topic="acceleration",
        title="Accelerates as asked in every direction without tipping, slipping or lacking motor",
        unit="m/s2", cases=_HEADINGS, demand=column(d.brief.acceleration), capacity=capacity,
        demand_name="acceleration asked for", capacity_name="least of tipping, grip and motors",
        reserve=(kept, practice("ask for no more than 70 % of what grip gives")), late=Late.PART_ORDER,
        formula="a ≤ min(a_tip, a_grip, a_motor)", terms=(d.acceleration, tip, grip, motor, plan),
        sources=(MECHANICS,),
        remedy="Plan {a_ok}: in that direction it tips at {a_tip}, slips at {a_grip}, and the motors give {a_motor}",
        caution=CAUTION,
    )  # fmt: skip


def crosses_step(d: Drive) -> Finding:
    """`crosses-the-step`: creeping onto the highest edge or into the widest joint, by the motors' pull and by grip."""
    edge, level, allowed = d.edge, column(d.pull("cruise").value), d.motion.allowed
    wanted = edge.push + level
    pull = d.motion.pull_per_torque * column(d.torque_at_rest * d.line.gear * d.line.efficiency)
    haves = (pull, edge.grip)
    index = [first_largest(np.where(allowed, -margin(wanted, have), -np.inf)) for have in haves]
    demand = stack([pick(wanted, i) for i in index])
    capacity = stack([pick(have, i) for have, i in zip(haves, index, strict=True)])
    kept = 0.1
    lower = edge.climbed((1 - kept) * np.minimum(*haves) - level, allowed)
    step = d.read("brief.step", "h", "highest edge", d.brief.step, "m")
    joint = d.read("brief.joint_width", "w", "widest joint", d.brief.joint_width, "m")
    least = 2 * np.min(edge.radius, axis=(-2, -1))
    key = "casters.diameter" if "caster" in d.wheels.kinds else "roller_diameter"
    small = d.read(f"base.wheels.{key}", "d_min", "smallest wheel or roller that meets it", least[()], "m")
    meets = calculated(
        "h_eff", "height of the edge as the smallest radius meets it", edge.height, "m", "max(h, r - √(r² - (w/2)²))",
        (step, joint, small), MECHANICS,
    )  # fmt: skip
    climbs = calculated(
        "h_ok", "edge that keeps the reserve", downwards(lower), "m", "r·(1 - 1/√(1 + P²)), P = (0.9·pull - m·g·c_r)/N",
        (d.heaviest, d.pull("cruise")), MECHANICS,
    )  # fmt: skip
    motors = calculated(
        "F_motors", "strongest pull of the motors from rest", capacity[..., 0], "N",
        "least over the wheels of T_rest·i·η/(s·R)",
        (d.rest_torque, d.gear, d.efficiency, d.radius, d.stance), MECHANICS,
    )  # fmt: skip
    grips = calculated(
        "F_grip", "strongest pull by grip", capacity[..., 1], "N", "least over the wheels of µ·N/s",
        (d.friction, d.lightest, d.stance), MECHANICS,
    )  # fmt: skip
    return finding(
        check="crosses-the-step", trade="drive", topic="edges and joints",
        title="Creeps over the highest edge and the widest joint in every direction", unit="N",
        cases=("by the motors", "by grip"), demand=demand, capacity=capacity,
        demand_name="pull that lifts the wheel onto the edge", capacity_name="strongest pull in that direction",
        reserve=(kept, practice("a tenth in hand for a rough edge")), late=Late.SHOW,
        formula="N·√(2·r·h - h²)/(r - h) + m·g·c_r ≤ pull; r = (R - r_roller)·cos² + r_roller, angle to the wheel",
        terms=(meets, d.heaviest, d.pull("cruise"), motors, grips, climbs),
        sources=(MECHANICS, derived("moments about the edge; shadow of a ring of rollers along the edge")),
        remedy="Lay ramps over edges and joints deeper than {h_ok}, or take larger rollers or wheels",
    )  # fmt: skip


def drives_straight(d: Drive) -> Finding:
    """`drives-straight`: turn per metre from unequal motors and wheels, worst direction."""
    error = np.max(d.motion.heading_error, axis=-1)[()]
    scatter = d.read("base.motor.scatter", "s_m", "scatter of motor speeds at equal duty", d.motor.scatter, "%")
    wheel = d.read(
        "base.wheels.diameter_scatter", "s_w", "scatter of wheel diameters", np.max(d.wheels.scatter, axis=-1)[()], "%"
    )
    blind = d.motor.feedback == "none"
    terms = (scatter, wheel, d.stance) if blind else (wheel, d.stance)
    measure = "Measure the wheels' speeds or the heading (feedback: wheel speed, or heading), or trim each wheel"
    return finding(
        check="drives-straight", trade="drive", topic="wheels",
        title="Keeps its heading when driving straight", unit="rad", demand=error, capacity=d.wheels.lim_heading_error,
        demand_name="turn in one metre", capacity_name="turn that may be corrected by hand",
        reserve=(0.1, practice("a tenth in hand")), late=Late.MINUTES,
        formula="√Σ(J⁺_ωi·u_i·s_i)², worst direction", terms=terms, sources=(MECHANICS,),
        remedy=measure if blind else "Measure the heading (feedback: heading), or measure and trim each wheel",
    )  # fmt: skip


def motion_findings(d: Drive) -> tuple[Finding, ...]:
    """All findings of this file that apply."""
    found = [can_move(d), accelerates(d), crosses_step(d)]
    return (*found, drives_straight(d)) if d.motor.feedback != "heading" else tuple(found)
