"""Moving: starting, braking, turning, on the slope, emergency stop, edges met at speed, and sway from wheels."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column, first_largest, pick
from dryfit.ground.findings import Finding, Late, Term, calculated, finding, margin
from dryfit.ground.quantity import Array, Origin
from dryfit.ground.sources import derived, practice
from dryfit.ground.units import STANDARD_GRAVITY
from dryfit.machine.brief import Brief
from dryfit.machine.wheels import Wheels
from dryfit.trades.stability.checks_standing import CAUTION
from dryfit.trades.stability.footing import Footing, read
from dryfit.trades.stability.formulas import (
    energy_of_blow,
    energy_to_tip,
    grip_deceleration,
    joint_drop,
    met_radius,
    slope_acceleration,
    tipping_acceleration,
    top_sway,
)

_STATICS = derived("statics of a rigid body about an edge of its support")
_HALF = practice("plan for half the tipping acceleration")
_IN_LIMIT = practice("no further reserve: the share is the reserve")
_FAR = 1e3
"""Distance, m, that stands for an edge that does not exist: it never governs."""
_NOTHING = 1e-9
"""Tipping acceleration, m/s², that stands for none at all."""
HEADINGS = 72
_LOCKING = {"omni": 1.0, "mecanum": 1.0, "tyre": 0.0}


def findings(origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, f: Footing, around: Array) -> list[Finding]:
    """All checks of the machine on the move; `around` (..., P, 72) are its tipping accelerations."""
    ways = around if f.roams else tipping_acceleration(f.normal, f.distance, f.height.value, f.ways)
    found = [
        _braking(origins, brief, f, ways),
        _turning(origins, brief, f, around),
        _slope(origins, brief, f),
        _emergency_stop(origins, brief, wheels, f),
        _blow(origins, brief, f),
        _edges(origins, brief, wheels, f),
    ]
    if len(wheels.names) >= 3:
        found.append(_sway(origins, brief, wheels, f))
    return found


def _least(f: Footing, around: Array, what: str) -> Term:
    return calculated(
        "a_tip", f"tipping acceleration {what}", np.min(around, axis=-1), "m/s2",
        "a_tip = g d / h, d from under the centre of mass to the edge in that direction", (f.edge, f.height), _STATICS,
        per_case=True,
    )  # fmt: skip


def _braking(origins: Mapping[str, Origin], brief: Brief, f: Footing, ways: Array) -> Finding:
    start = read(origins, "a", "acceleration", brief.acceleration, "m/s2", "brief.acceleration")
    stop = read(origins, "a_b", "braking", brief.braking, "m/s2", "brief.braking")
    share = read(origins, "p", "share of the tipping acceleration", brief.lim_share_of_tipping, "%",
                 "brief.limits.share_of_tipping")  # fmt: skip
    asked = column(np.maximum(brief.acceleration, brief.braking))
    tip = _least(f, ways, "in the weakest direction of travel")
    need = asked / column(share.value) * np.asarray(f.height.value) / STANDARD_GRAVITY
    capacity = column(share.value) * tip.value
    least = calculated(
        "a_max", "acceleration that keeps the share", capacity, "m/s2", "a_max = p a_tip", (share, tip), per_case=True
    )
    return finding(
        check="tips-when-braking", trade="stability", topic="tipping", unit="m/s2", cases=f.postures,
        title="Stays upright when it starts and brakes", demand=asked, capacity=capacity,
        demand_name="planned acceleration or braking", capacity_name="share of the tipping acceleration",
        reserve=(0.0, _IN_LIMIT), late=Late.REPRINT, formula="max(a, a_b) ≤ p a_tip",
        terms=(start, stop, tip, share, least, f.circle_for(need, f.edge.value)), sources=(_STATICS, _HALF),
        remedy="Widen the wheel circle to {R_just}, or start and brake with no more than {a_max}", caution=CAUTION,
    )  # fmt: skip


def _turning(origins: Mapping[str, Origin], brief: Brief, f: Footing, around: Array) -> Finding:
    speed = read(origins, "v", "speed", brief.speed, "m/s", "brief.speed")
    rate = read(origins, "ω", "turn rate", brief.turn_rate, "rad/s", "brief.turn_rate")
    share = read(origins, "p", "share of the tipping acceleration", brief.lim_share_of_tipping, "%",
                 "brief.limits.share_of_tipping")  # fmt: skip
    sideways = np.asarray(brief.speed) * brief.turn_rate
    tip = _least(f, around, "in the weakest direction")
    pull = calculated("a_c", "acceleration of the bend", sideways, "m/s2", "a_c = v ω", (speed, rate))
    allowed = column(share.value) * tip.value
    fast = column(np.where(np.asarray(brief.speed) > 0, brief.speed, np.nan))
    turn = calculated(
        "ω_max", "turn rate that would just do", allowed / fast, "rad/s", "ω_max = p a_tip / v", (tip, share, speed),
        per_case=True,
    )  # fmt: skip
    return finding(
        check="tips-when-turning", trade="stability", topic="tipping in bends", unit="m/s2", cases=f.postures,
        title="Stays upright in bends at full speed", demand=column(sideways), capacity=allowed,
        demand_name="acceleration of the bend", capacity_name="share of the tipping acceleration",
        reserve=(0.0, _IN_LIMIT), late=Late.SHOW, formula="v ω ≤ p a_tip", terms=(pull, tip, share, turn),
        sources=(derived("v ω: acceleration on a circle"), _STATICS, _HALF),
        remedy="Turn no faster than {ω_max} at full speed, or take bends at less than {v}", caution=CAUTION,
    )  # fmt: skip


def _slope(origins: Mapping[str, Origin], brief: Brief, f: Footing) -> Finding:
    slope = read(origins, "s", "slope", brief.slope, "rad", "brief.slope")
    stop = read(origins, "a_b", "braking", brief.braking, "m/s2", "brief.braking")
    left = slope_acceleration(np.asarray(f.edge.value), np.asarray(f.height.value), column(brief.slope))
    free = calculated(
        "a_s", "braking that tips it on the slope", left, "m/s2", "a_s = g (b/h cos s - sin s)",
        (f.edge, f.height, slope), _STATICS, per_case=True,
    )  # fmt: skip
    need = (column(brief.braking) / STANDARD_GRAVITY + np.sin(column(brief.slope))) / np.cos(column(brief.slope))
    return finding(
        check="stands-on-the-slope", trade="stability", topic="tipping", unit="m/s2", cases=f.postures,
        title="Stays upright when it brakes going down the slope", demand=column(brief.braking), capacity=left,
        demand_name="braking", capacity_name="tips on the slope at",
        reserve=(0.3, practice("three tenths for bumps met while braking")), late=Late.SHOW,
        formula="a_b ≤ g (b/h cos s - sin s), weakest edge facing down",
        terms=(stop, free, f.circle_for(need * f.height.value, f.edge.value)), sources=(_STATICS,),
        remedy="Widen the wheel circle to {R_just}, brake more gently on slopes, or go down with the strong side ahead",
        caution=CAUTION,
    )  # fmt: skip


def _emergency_stop(origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, f: Footing) -> Finding:
    """Worst of all directions in every posture: grip of blocked wheels against tipping.

    Both are nominal: friction as given, loads at rest, two-row wheels touching between their rows. Weight thrown
    forward lets the front wheels grip more, so a machine close to the limit lifts a wheel first; whether it then goes
    over or comes back is what tips-when-hitting-an-edge tells.
    """
    ways = f.in_the_middle
    friction = read(origins, "μ", "friction of wheels on the floor", brief.friction, "1", "brief.friction")
    free = np.array(
        [
            _LOCKING.get(kind, np.nan) if driven else np.nan
            for kind, driven in zip(wheels.kinds, wheels.driven, strict=True)
        ]
    )
    pull = np.asarray(wheels.heading) + np.asarray(wheels.roller_angle)
    grip = grip_deceleration(f.mass.value, f.load.value, brief.friction, pull, free, f.ways)
    # the worst direction has the largest grip for what tips it there; both that and a machine that never stood count
    likely = np.maximum(ways, _NOTHING)
    worst = first_largest(np.divide(grip, likely, out=likely) if grip.shape == likely.shape else grip / likely)
    slides, tips = pick(grip, worst), pick(ways, worst)
    a_grip = calculated(
        "a_g", "deceleration at the limit of grip", slides, "m/s2",
        "a_g = μ Σ N_i |u·t_i| / m with the loads at rest; weight thrown forward is not counted",
        (friction, f.load, f.mass), derived("friction along the line of pull of each wheel"), per_case=True,
    )  # fmt: skip
    a_tip = calculated(
        "a_tip", "tipping acceleration in that direction", tips, "m/s2", "a_tip = g d / h", (f.edge, f.height),
        _STATICS, per_case=True,
    )  # fmt: skip
    ratio = np.where(tips > 0, slides, np.inf) / np.where(tips > 0, tips, 1.0)
    return finding(
        check="emergency-stop-slides-first", trade="stability", topic="tipping", unit="m/s2", cases=f.postures,
        title="Slides before it tips when the wheels are blocked", demand=slides, capacity=tips,
        demand_name="grip of blocked wheels", capacity_name="tips at", late=Late.SHOW,
        reserve=(0.1, practice("a tenth for scatter of friction and for weight thrown forward")),
        formula="a_g ≤ a_tip in every direction of travel; else stop on a ramp",
        terms=(a_grip, a_tip, f.circle_for(ratio * np.asarray(f.edge.value), f.edge.value)), sources=(_STATICS,),
        remedy="Let the emergency stop brake on a ramp below {a_tip} instead of blocking the wheels, or widen the "
        "wheel circle to {R_just}",
        caution=CAUTION,
    )  # fmt: skip


def _blow(origins: Mapping[str, Origin], brief: Brief, f: Footing) -> Finding:
    """Stopped dead by a kerb at full speed: a short lift is no fall as long as it comes back."""
    speed = read(origins, "v", "speed", brief.speed, "m/s", "brief.speed")
    b = np.minimum(f.distance, _FAR)
    m = column(f.mass.value, 2)
    h = np.asarray(f.height.value)[..., None]
    blow = energy_of_blow(m, column(brief.speed, 2), b, h, f.edge_inertia)
    tip = energy_to_tip(m, b, h)
    worst = np.argmin(margin(blow, tip), axis=-1)
    left = calculated(
        "E", "energy that lifts it", pick(blow, worst), "J", "E = ½ m v² m h² / (m (h² + b²) + I)",
        (speed, f.mass, f.height, f.edge), derived("momentum kept about the edge that stops it"), per_case=True,
    )  # fmt: skip
    over = calculated(
        "E_tip", "energy to go over", pick(tip, worst), "J", "E_tip = m g (√(b² + h²) - h)", (f.mass, f.height, f.edge),
        derived("rise of the centre of mass to above the edge"), per_case=True,
    )  # fmt: skip
    enough = np.asarray(left.value) > 0
    scale = np.sqrt(np.where(enough, over.value, np.inf) / np.where(enough, left.value, 1.0))
    safe = calculated(
        "v_max", "speed from which it comes back", column(brief.speed) * scale, "m/s", "v_max = v √(E_tip / E)",
        (left, over), per_case=True,
    )  # fmt: skip
    return finding(
        check="tips-when-hitting-an-edge", trade="stability", topic="tipping", unit="J", cases=f.postures,
        title="Comes back down when it hits a kerb at full speed", demand=left.value, capacity=over.value,
        demand_name="energy that lifts it", capacity_name="energy to go over",
        reserve=(0.2, practice("a fifth, since speed counts by its square")), late=Late.SHOW, formula="E ≤ E_tip",
        terms=(left, over, safe), sources=(_STATICS,),
        remedy="Drive no faster than {v_max} where there are kerbs, or widen the wheel circle", caution=CAUTION,
    )  # fmt: skip


def _edges(origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, f: Footing) -> Finding:
    """Edges and joints by direction of travel: an omni wheel met sideways offers only its roller."""
    step = read(origins, "s", "edge to cross", brief.step, "m", "brief.step")
    gap = read(origins, "w", "widest joint", brief.joint_width, "m", "brief.joint_width")
    share = read(origins, "p", "part of the radius that can be climbed", brief.lim_obstacle_share, "%",
                 "brief.limits.obstacle_share")  # fmt: skip
    rollers = np.array([k in ("omni", "mecanum") for k in wheels.kinds])
    small = np.where(rollers, wheels.roller_radius, wheels.radius)
    if f.roams:
        labels = tuple(f"driving at {360 * i // HEADINGS} deg" for i in range(HEADINGS))
        angle = np.arange(HEADINGS) * (2 * np.pi / HEADINGS) - np.asarray(wheels.heading)[..., None]
    else:
        labels, angle = ("ahead and back",), np.zeros((len(wheels.kinds), 1))
    radius = np.min(met_radius(np.asarray(wheels.radius)[..., None], small[..., None], angle), axis=-2)
    drop = joint_drop(column(brief.joint_width), radius)
    met = calculated(
        "r_e", "radius that meets the edge", radius, "m", "r_e = (R - r) cos² + r, least of the wheels",
        (
            read(origins, "D", "wheel diameter", 2 * np.max(wheels.radius, axis=-1), "m", "base.wheels.diameter"),
            read(origins, "d_r", "roller diameter", 2 * np.min(small, axis=-1), "m", "base.wheels.roller_diameter"),
        ),
        derived("a ring filled out by its rollers, seen along the edge"), per_case=True,
    )  # fmt: skip
    deep = calculated(
        "d", "drop into the joint", drop, "m", "d = r_e - √(r_e² - w²/4), about w² / (8 r_e)", (gap, met), per_case=True
    )
    return finding(
        check="steps-over-edges", trade="stability", topic="edges of the floor", unit="m", cases=labels,
        title="Rolls over the edges and joints of the floor", demand=np.maximum(column(brief.step), drop),
        capacity=column(share.value) * radius, demand_name="edge or joint", capacity_name="can be climbed",
        reserve=(0.0, _IN_LIMIT), late=Late.SHOW, formula="max(s, d) ≤ p r_e", terms=(step, deep, met, share),
        sources=(practice("an edge of a quarter of the radius that meets it can be driven over"),),
        remedy="Cross edges with the wheels rolling straight at them, tape a ramp over them, or take larger rollers",
    )  # fmt: skip


def _sway(origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, f: Footing) -> Finding:
    """The body rocks once in a turn of the wheels when they run out of true."""
    run_out = read(origins, "e", "run-out of a wheel", np.max(wheels.run_out, axis=-1), "m", "base.wheels.run_out")
    limit = read(origins, "x", "sway that is seen", brief.lim_sway, "m", "brief.limits.sway")
    value = top_sway(wheels.position, wheels.run_out, f.top.value)
    sway = calculated(
        "x_s", "sway at the top", value, "m",
        "x_s = H Σ e |tilt per lift|, worst phases; H e / (1.5 R) for one of three",
        (run_out, f.top, f.circle), derived("plane through the wheel contacts"),
    )  # fmt: skip
    return finding(
        check="sways-at-the-top", trade="stability", topic="sway", unit="m", demand=value, capacity=brief.lim_sway,
        title="The top stays calm while the wheels turn", demand_name="sway at the top",
        capacity_name="sway that is seen",
        reserve=(0.2, practice("a fifth for play in the frame")), late=Late.REPRINT, formula="x_s ≤ x",
        terms=(sway, limit), sources=(derived("plane through the wheel contacts"),),
        remedy="True the wheels and hubs below a run-out of {e}, or use wheels from one batch",
    )  # fmt: skip
