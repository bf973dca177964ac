"""Findings about the wheels and the way: can it move as meant, with what grip, over what edge, to a stop where."""

from __future__ import annotations

import numpy as np

from dryfit.ground.axes import stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.sources import derived, practice
from dryfit.trades.drive import formulas as f
from dryfit.trades.drive.checks_terms import MECHANICS, Drive

_HEADINGS = tuple(f"towards {5 * k} deg" for k in range(f.DIRECTIONS))
CAUTION = "People stand near: try it slowly, fenced off, with an emergency stop in hand; local codes decide."


def can_move(d: Drive) -> Finding:
    """`wheels-can-do-the-motion`: no tyre must be dragged sideways and the driven wheels hold every motion."""
    rows, free = d.motion.rows, d.motion.free
    motions: list[tuple[str, list[float]]] = [("drive forward", [1, 0, 0]), ("turn on the spot", [0, 0, 1])]
    if "tyre" not in d.wheels.kinds:
        motions.append(("drive sideways", [0, 1, 0]))
    lost = stack([f.lost_motion(rows, free, np.array(motion)) for _, motion in motions])
    demand = np.where(lost < 1e-6, 0.0, np.where(np.isnan(lost), np.nan, 1.0))
    part = Term("lost", "part of the motion that is forbidden or not held", lost, "1", d.radius.origin, per_case=True)
    return finding(
        check="wheels-can-do-the-motion", trade="drive", topic="wheels",
        title="Wheels roll in every motion of the show and hold it", unit="1", cases=[name for name, _ in motions],
        demand=demand, capacity=0.0, demand_name="motions that scrub or run loose", capacity_name="none may",
        reserve=(0.0, practice("yes or no")), late=Late.REPRINT,
        formula="rolling conditions of all driven wheels have full rank on the motions that tyres allow",
        terms=(part,), sources=(MECHANICS,),
        remedy="Turn or move the wheels so that their rolling conditions are independent, or drive one more wheel",
    )  # fmt: skip


def wheels_carry(d: Drive) -> Finding:
    """`wheels-carry-their-load`: the heaviest load on each wheel against its rating."""
    load = np.max(np.asarray(d.handed["wheel_load"].value, dtype=float), axis=-2)
    rating = d.read("base.wheels.load_rating", "N_max", "load rating", d.wheels.load_rating, "N")
    rated = Term(rating.symbol, rating.name, rating.value, "N", rating.origin, per_case=True)
    loads = Term("N", "load, worst posture", load, "N", d.handed["wheel_load"].origin, per_case=True)
    return finding(
        check="wheels-carry-their-load", trade="drive", topic="wheels", title="Every wheel carries what rests on it",
        unit="N", cases=d.wheels.names, demand=load, capacity=d.wheels.load_rating, demand_name="load on the wheel",
        capacity_name="load rating", reserve=(0.2, practice("a fifth in hand for uneven floors")),
        late=Late.PART_ORDER, formula="N <= N_max", terms=(loads, rated), sources=(MECHANICS,),
        remedy="Take wheels rated above {N}, or take weight off",
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
    return finding(
        check="accelerates-as-asked", trade="drive", topic="acceleration",
        title="Accelerates as asked in every direction without tipping, slipping or lacking motor",
        unit="m/s2", cases=_HEADINGS, demand=np.asarray(d.brief.acceleration)[..., None], capacity=capacity,
        demand_name="acceleration asked for", capacity_name="least of tipping, grip and motors",
        reserve=(0.3, practice("ask for no more than 70 % of what grip gives")), late=Late.PART_ORDER,
        formula="a <= min(a_tip, a_grip, a_motor)", terms=(d.acceleration, tip, grip, motor),
        sources=(MECHANICS,),
        remedy="Ask for less than {a_tip} (tipping), {a_grip} (grip) and {a_motor} (motors) in this direction",
        caution=CAUTION,
    )  # fmt: skip


def crosses_step(d: Drive) -> Finding:
    """`crosses-the-step`: creeping onto the highest edge or into the widest joint, by the motors' pull and by grip."""
    push, grip, height = d.edge
    level = np.asarray(d.pull("cruise").value)
    wanted = push + level[..., None]
    pull = d.motion.pull_per_torque * np.asarray(d.torque_at_rest * d.line.gear * d.line.efficiency)[..., None]
    allowed = d.motion.allowed
    with np.errstate(invalid="ignore"):
        ratios = [np.where(allowed, have / wanted, np.inf) for have in (pull, grip)]
    index = [np.argmin(np.where(np.isnan(r), -1.0, r), axis=-1) for r in ratios]
    demand = stack([f.at_direction(wanted[..., None], i)[..., 0] for i in index])
    capacity = stack([f.at_direction(have[..., None], i)[..., 0] for have, i in zip((pull, grip), index, strict=True)])
    step = d.read("brief.step", "h", "highest edge", d.brief.step, "m")
    joint = d.read("brief.joint_width", "w", "widest joint", d.brief.joint_width, "m")
    roller = d.read(
        "base.wheels.roller_diameter", "r_roller", "smallest radius that meets it",
        np.min(d.wheels.roller_radius, axis=-1)[()], "m",
    )  # fmt: skip
    meets = calculated(
        "h_eff", "height of the edge as the smallest radius meets it", height, "m", "max(h, r - √(r² - (w/2)²))",
        (step, joint, roller), MECHANICS,
    )  # fmt: skip
    return finding(
        check="crosses-the-step", trade="drive", topic="edges and joints",
        title="Creeps over the highest edge and the widest joint in every direction", unit="N",
        cases=("by the motors", "by grip"), demand=demand, capacity=capacity,
        demand_name="pull that lifts the wheel onto the edge", capacity_name="strongest pull in that direction",
        reserve=(0.1, practice("a tenth in hand for a rough edge")), late=Late.SHOW,
        formula="N·√(2·r·h - h²)/(r - h) + m·g·c_r <= pull; 1/r = cos²/R + sin²/r_roller of the angle to the wheel",
        terms=(meets, d.heaviest, d.pull("cruise"), d.friction, d.rest_torque, d.gear, d.radius),
        sources=(MECHANICS, derived("moments about the edge; Euler's theorem on curvature for the radius")),
        remedy="Lay a ramp over edges of {h_eff}, or take wheels whose rollers are larger than {r_roller}",
    )  # fmt: skip


def stops_short(d: Drive) -> Finding:
    """`stops-before-the-public`: from show speed, on the level and downhill, at once and after a lost link."""
    way = {"ramped": d.stops.ramped, "shorted": d.stops.shorted, "coasting": d.stops.coasting}[d.driver.stops]
    lost = d.handed["link_loss_time"]
    run_on = np.asarray(d.brief.speed * lost.value)[..., None]
    demand = np.concatenate(np.broadcast_arrays(way, way + run_on), axis=-1)
    public = d.read("brief.public_distance", "x_p", "distance of the public", d.brief.public_distance, "m")
    braking = d.read("brief.braking", "b", "braking asked for", d.brief.braking, "m/s2")

    def term(symbol: str, name: str, value: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Term:
        worst = np.max(value, axis=-1)[()]
        return calculated(
            symbol, name, worst, "m", "longest of level and downhill", (d.speed, braking, d.slope, d.bound), MECHANICS
        )

    slower = calculated(
        "v_ok", "speed from which a ramped stop after a lost link ends in time", _stopping_speed(d), "m/s",
        "v·t + v²/(2·b) = x_p", (public, lost, braking), MECHANICS,
    )  # fmt: skip
    return finding(
        check="stops-before-the-public", trade="drive", topic="stopping",
        title="Stands still before it reaches the public, also when the link is lost", unit="m",
        cases=("on the level", "downhill", "link lost, on the level", "link lost, downhill"),
        demand=demand, capacity=np.asarray(d.brief.public_distance)[..., None],
        demand_name=f"way to standstill, {d.driver.stops}", capacity_name="distance of the public",
        reserve=(0.2, practice("stop in four fifths of the room there is")), late=Late.SHOW,
        formula="v·t_link + way to standstill <= x_p",
        terms=(
            d.speed, lost, public,
            term("x_ramp", "way with a ramped stop", d.stops.ramped),
            term("x_short", "way with shorted motors", d.stops.shorted),
            term("x_coast", "way when coasting", d.stops.coasting), slower,
        ),
        sources=(MECHANICS,),
        remedy="Drive no faster than {v_ok} there, notice a lost link sooner, or keep the public further off",
        caution=CAUTION,
    )  # fmt: skip


def _stopping_speed(d: Drive) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    lost, most = d.handed["link_loss_time"].value, np.minimum(d.brief.braking, d.bound.value)
    speed = most * (np.sqrt(lost**2 + 2 * d.brief.public_distance / most) - lost)
    return np.asarray(np.where(most > 0, speed, np.nan))[()]


def drives_straight(d: Drive) -> Finding:
    """`drives-straight`: turn per metre from unequal motors and wheels, worst direction."""
    error = np.max(d.motion.heading_error, axis=-1)[()]
    scatter = d.read("base.motor.scatter", "s_m", "scatter of motor speeds at equal duty", d.motor.scatter, "%")
    wheel = d.read(
        "base.wheels.diameter_scatter", "s_w", "scatter of wheel diameters", np.max(d.wheels.scatter, axis=-1)[()], "%"
    )
    terms = (scatter, wheel) if d.motor.feedback == "none" else (wheel,)
    return finding(
        check="drives-straight", trade="drive", topic="steering",
        title="Keeps its heading when driving straight", unit="rad", demand=error, capacity=d.wheels.lim_heading_error,
        demand_name="turn in one metre", capacity_name="turn that may be corrected by hand",
        reserve=(0.1, practice("a tenth in hand")), late=Late.MINUTES,
        formula="√Σ(J⁺_ωi·u_i·s_i)², worst direction", terms=terms, sources=(MECHANICS,),
        remedy="Measure the wheels' speeds or the heading (feedback: wheel speed, or heading), or trim each wheel",
    )  # fmt: skip


def motion_findings(d: Drive) -> tuple[Finding, ...]:
    """All findings of this file that apply."""
    found = [can_move(d), wheels_carry(d), accelerates(d), crosses_step(d), stops_short(d)]
    return (*found, drives_straight(d)) if d.motor.feedback != "heading" else tuple(found)
