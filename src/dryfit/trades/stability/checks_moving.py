"""Moving: starting, braking, bends, the slope, edges met at speed, and sway from wheels out of true."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column, first_largest, pick
from dryfit.ground.edges import joint_drop, met_radius
from dryfit.ground.findings import Finding, Late, Term, calculated, finding, margin
from dryfit.ground.quantity import Array, Origin
from dryfit.ground.rounding import downwards, upwards
from dryfit.ground.sources import derived, practice
from dryfit.ground.units import STANDARD_GRAVITY
from dryfit.machine.brief import Brief
from dryfit.machine.read import read
from dryfit.machine.wheels import Wheels
from dryfit.trades.stability.checks_standing import CAUTION
from dryfit.trades.stability.footing import Footing
from dryfit.trades.stability.formulas import (
    energy_of_blow,
    energy_to_tip,
    slope_acceleration,
    tipping_acceleration,
    top_sway,
)

_STATICS = derived("statics of a rigid body about an edge of its support")
_HALF = practice("plan for half the tipping acceleration")
_IN_LIMIT = practice("no further reserve: the share is the reserve")
_FAR = 1e3
"""Distance, m, that stands for an edge that does not exist: it never governs."""
HEADINGS = 72


def findings(origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, f: Footing, around: Array) -> list[Finding]:
    """All checks of the machine on the move; `around` (..., P, 72) are its tipping accelerations."""
    ways = around if f.roams else tipping_acceleration(f.normal, f.distance, f.height.value, f.ways)
    start = read(origins, "a", "acceleration", brief.acceleration, "m/s2", "brief.acceleration")
    stop = read(origins, "a_b", "braking", brief.braking, "m/s2", "brief.braking")
    share = read(origins, "p", "share of the tipping acceleration", brief.lim_share_of_tipping, "%",
                 "brief.limits.share_of_tipping")  # fmt: skip
    found = [
        _braking(f, ways, start, stop, share),
        _bends(origins, brief, f, around, stop, share),
        _slope(origins, brief, f, stop),
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


def _needed(f: Footing, asked: Array, share: Term) -> Array:
    """Distance to the edge at which `asked` is the share of the tipping acceleration; no share asks for one without
    end."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asanyarray(asked / column(share.value) * np.asanyarray(f.height.value) / STANDARD_GRAVITY)


def _braking(f: Footing, ways: Array, start: Term, stop: Term, share: Term) -> Finding:
    asked = column(np.maximum(start.value, stop.value))
    tip = _least(f, ways, "in the weakest direction of travel")
    need = _needed(f, asked, share)
    capacity = column(share.value) * tip.value
    least = calculated(
        "a_max", "acceleration that keeps the share", downwards(capacity), "m/s2", "a_max = p a_tip", (share, tip),
        per_case=True,
    )  # fmt: skip
    return finding(
        check="tips-when-braking", trade="stability", topic="tipping", unit="m/s2", cases=f.postures,
        title="Stays upright when it starts and brakes", demand=asked, capacity=capacity,
        demand_name="planned acceleration or braking", capacity_name="share of the tipping acceleration",
        reserve=(0.0, _IN_LIMIT), late=Late.REPRINT, formula="max(a, a_b) ≤ p a_tip",
        terms=(start, stop, tip, share, least, f.wider(need, f.share_of_edge)), sources=(_STATICS, _HALF),
        remedy=f"Start and brake with no more than {{a_max}}, or {f.widen}", caution=CAUTION,
    )  # fmt: skip


def _bends(origins: Mapping[str, Origin], brief: Brief, f: Footing, around: Array, stop: Term, share: Term) -> Finding:
    """Braking in a bend: both accelerations at once, towards the weakest edge."""
    speed = read(origins, "v", "speed", brief.speed, "m/s", "brief.speed")
    rate = read(origins, "ω", "turn rate", brief.turn_rate, "rad/s", "brief.turn_rate")
    sideways = np.asanyarray(brief.speed) * brief.turn_rate
    tip = _least(f, around, "in the weakest direction")
    pull = calculated("a_c", "acceleration of the bend", sideways, "m/s2", "a_c = v ω", (speed, rate))
    both = calculated(
        "a_t", "bend and braking together", np.hypot(sideways, stop.value), "m/s2", "a_t = √(a_c² + a_b²)", (pull, stop)
    )
    allowed = column(share.value) * tip.value
    left = np.sqrt(np.maximum(allowed**2 - column(stop.value) ** 2, 0.0))
    fast = column(brief.speed)
    slowest = np.where(fast > 0, left / np.where(fast > 0, fast, 1.0), np.where(np.isnan(fast), np.nan, np.inf))
    turn = calculated(
        "ω_max", "turn rate that keeps the share", downwards(slowest), "rad/s", "ω_max = √((p a_tip)² - a_b²) / v",
        (tip, share, stop, speed), per_case=True,
    )  # fmt: skip
    most = calculated("a_max", "acceleration that keeps the share", downwards(allowed), "m/s2", "a_max = p a_tip",
                      (share, tip), per_case=True)  # fmt: skip
    need = _needed(f, column(both.value), share)
    return finding(
        check="tips-when-turning", trade="stability", topic="tipping", unit="m/s2", cases=f.postures,
        title="Stays upright when it brakes in a bend at full speed", demand=column(both.value), capacity=allowed,
        demand_name="bend and braking together", capacity_name="share of the tipping acceleration",
        reserve=(0.0, _IN_LIMIT), late=Late.SHOW, formula="√((v ω)² + a_b²) ≤ p a_tip",
        terms=(both, tip, share, turn, most, f.wider(need)),
        sources=(derived("v ω: acceleration on a circle"), _STATICS, _HALF),
        remedy=f"Turn no faster than {{ω_max}} at full speed, keep braking well below {{a_max}}, or {f.widen}",
        caution=CAUTION,
    )  # fmt: skip


def _slope(origins: Mapping[str, Origin], brief: Brief, f: Footing, stop: Term) -> Finding:
    slope = read(origins, "s", "slope", brief.slope, "rad", "brief.slope")
    left = slope_acceleration(np.asanyarray(f.edge.value), np.asanyarray(f.height.value), column(brief.slope))
    free = calculated(
        "a_s", "braking that tips it on the slope", left, "m/s2", "a_s = g (b/h cos s - sin s)",
        (f.edge, f.height, slope), _STATICS, per_case=True,
    )  # fmt: skip
    kept = 0.3
    gentle = calculated(
        "a_ok", "braking that keeps the reserve", downwards(np.maximum((1 - kept) * left, 0.0)), "m/s2", "0.7 a_s",
        (free,), per_case=True,
    )  # fmt: skip
    s = column(brief.slope)
    need = (column(brief.braking) / (1 - kept) / STANDARD_GRAVITY + np.sin(s)) / np.cos(s) * f.height.value
    return finding(
        check="stands-on-the-slope", trade="stability", topic="tipping", unit="m/s2", cases=f.postures,
        title="Stays upright when it brakes going down the slope", demand=column(brief.braking), capacity=left,
        demand_name="braking", capacity_name="tips on the slope at",
        reserve=(kept, practice("three tenths for bumps met while braking")), late=Late.SHOW,
        formula="a_b ≤ g (b/h cos s - sin s), weakest edge facing down",
        terms=(stop, free, gentle, f.wider(need)), sources=(_STATICS,),
        remedy=f"Brake with no more than {{a_ok}} on slopes, {f.widen}, or go down with the strong side ahead",
        caution=CAUTION,
    )  # fmt: skip


def _blow(origins: Mapping[str, Origin], brief: Brief, f: Footing) -> Finding:
    """Stopped dead by a kerb at full speed: a short lift is no fall as long as it comes back."""
    speed = read(origins, "v", "speed", brief.speed, "m/s", "brief.speed")
    b = np.minimum(f.distance, _FAR)
    m = column(f.mass.value, 2)
    h = np.asanyarray(f.height.value)[..., None]
    blow = energy_of_blow(m, column(brief.speed, 2), b, h, f.edge_inertia)
    tip = energy_to_tip(m, b, h)
    # the edges of a ring of wheels are alike but for rounding, and every machine of a batch must choose the same one
    worst = first_largest(-margin(blow, tip))
    at_edge = calculated(
        "I", "inertia about the direction of that edge", pick(f.edge_inertia, worst), "kg*m2",
        "I = e I_c e, from the parts and wheels", (f.mass,), derived("parallel-axis theorem"), per_case=True,
    )  # fmt: skip
    left = calculated(
        "E", "energy that lifts it", pick(blow, worst), "J", "E = ½ m v² m h² / (m (h² + b²) + I)",
        (speed, f.mass, f.height, f.edge, at_edge), derived("momentum kept about the edge that stops it"),
        per_case=True,
    )  # fmt: skip
    over = calculated(
        "E_tip", "energy to go over", pick(tip, worst), "J", "E_tip = m g (√(b² + h²) - h)", (f.mass, f.height, f.edge),
        derived("rise of the centre of mass to above the edge"), per_case=True,
    )  # fmt: skip
    kept = 0.2
    lifts = np.asanyarray(left.value) > 0
    share = np.where(lifts, (1 - kept) * np.asanyarray(over.value) / np.where(lifts, left.value, 1.0), 0.0)
    fast = np.where(lifts, column(brief.speed) * np.sqrt(share), np.where(np.isnan(left.value), np.nan, np.inf))
    safe = calculated(
        "v_max", "speed that keeps the reserve", downwards(fast), "m/s", "v_max = v √(0.8 E_tip / E)", (left, over),
        per_case=True,
    )  # fmt: skip
    return finding(
        check="tips-when-hitting-an-edge", trade="stability", topic="tipping", unit="J", cases=f.postures,
        title="Comes back down when it hits a kerb at full speed", demand=left.value, capacity=over.value,
        demand_name="energy that lifts it", capacity_name="energy to go over",
        reserve=(kept, practice("a fifth, since speed counts by its square")), late=Late.SHOW, formula="E ≤ E_tip",
        terms=(left, over, safe), sources=(_STATICS,),
        remedy="Drive no faster than {v_max} where there are kerbs, or set the wheels wider", caution=CAUTION,
    )  # fmt: skip


def _edges(origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, f: Footing) -> Finding:
    """Edges and joints by direction of travel: an omni wheel met sideways offers only its roller."""
    step = read(origins, "s", "edge to cross", brief.step, "m", "brief.step")
    gap = read(origins, "w", "widest joint", brief.joint_width, "m", "brief.joint_width")
    share = read(origins, "p", "part of the radius that can be climbed", brief.lim_obstacle_share, "%",
                 "brief.limits.obstacle_share")  # fmt: skip
    # wheels that roll straight meet an edge head on; casters turn to face it
    turning = np.array([k in ("omni", "mecanum") for k in wheels.kinds]) & f.roams
    if f.roams:
        labels = tuple(f"driving at {360 * i // HEADINGS} deg" for i in range(HEADINGS))
        angle = np.arange(HEADINGS) * (2 * np.pi / HEADINGS) - np.asanyarray(wheels.heading)[..., None]
    else:
        labels, angle = ("ahead and back",), np.zeros((len(wheels.kinds), 1))
    small = np.where(turning, wheels.roller_radius, wheels.radius)
    radius = np.min(met_radius(np.asanyarray(wheels.radius)[..., None], small[..., None], angle), axis=-2)
    drop = joint_drop(column(brief.joint_width), radius)
    rollers = (
        read(origins, "d_r", "roller diameter", 2 * np.min(small, axis=-1), "m", "base.wheels.roller_diameter"),
    ) if f.roams else ()  # fmt: skip
    smallest = np.min(wheels.radius, axis=-1)
    casters = "caster" in wheels.kinds and not f.roams
    wheel = read(origins, "D", "diameter of the smallest wheel", 2 * smallest, "m",
                 "base.wheels.casters.diameter" if casters else "base.wheels.diameter")  # fmt: skip
    met = calculated(
        "r_e", "radius that meets the edge", radius, "m",
        "r_e = (R - r) cos² + r, least of the wheels" if f.roams else "r_e = D/2, head on", (wheel, *rollers),
        derived("a ring filled out by its rollers, seen along the edge"), per_case=True,
    )  # fmt: skip
    deep = calculated(
        "d", "drop into the joint", drop, "m", "d = r_e - √(r_e² - w²/4), about w² / (8 r_e)", (gap, met), per_case=True
    )
    p = np.asanyarray(share.value)
    for_joint = brief.joint_width / (2 * np.sqrt(p * (2 - p)))
    larger = calculated(
        "d_just", "wheel or roller that would do", upwards(2 * np.maximum(brief.step / p, for_joint)), "m",
        "d = 2 max(s/p, w / (2 √(p (2 - p))))", (step, gap, share),
    )  # fmt: skip
    lower = calculated("h_ok", "edge that can be climbed", downwards(column(p) * radius), "m", "p r_e", (share, met),
                       per_case=True)  # fmt: skip
    what = "rollers" if f.roams else "wheels"
    return finding(
        check="steps-over-edges", trade="stability", topic="edges and joints", unit="m", cases=labels,
        title="Rolls over the edges and joints of the floor", demand=np.maximum(column(brief.step), drop),
        capacity=column(share.value) * radius, demand_name="edge or joint", capacity_name="can be climbed",
        reserve=(0.0, _IN_LIMIT), late=Late.SHOW, formula="max(s, d) ≤ p r_e",
        terms=(step, deep, met, share, larger, lower),
        sources=(practice("an edge of a quarter of the radius that meets it can be driven over"),),
        remedy=f"Tape ramps over edges and joints deeper than {{h_ok}}, or take {what} of {{d_just}} across",
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
    kept = 0.2
    moves = ~(value == 0)
    allowed = np.where(moves, run_out.value * (1 - kept) * brief.lim_sway / np.where(moves, value, 1.0), np.inf)
    true = calculated(
        "e_just", "run-out that keeps the reserve", downwards(allowed), "m", "e 0.8 x / x_s", (run_out, limit, sway)
    )
    return finding(
        check="sways-at-the-top", trade="stability", topic="sway", unit="m", demand=value, capacity=brief.lim_sway,
        title="The top stays calm while the wheels turn", demand_name="sway at the top",
        capacity_name="sway that is seen",
        reserve=(kept, practice("a fifth for play in the frame")), late=Late.REPRINT, formula="x_s ≤ x",
        terms=(sway, limit, true), sources=(derived("plane through the wheel contacts"),),
        remedy="True wheels and hubs to a run-out of {e_just}, or use wheels that run that true",
    )  # fmt: skip
