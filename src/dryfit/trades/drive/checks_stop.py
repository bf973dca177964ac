"""Findings about coming to a stop: in the room there is, and upright when the motors are shorted."""

from __future__ import annotations

import numpy as np

from dryfit.ground.axes import column, first_largest, pick
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Array
from dryfit.ground.rounding import downwards, upwards
from dryfit.ground.sources import derived, practice
from dryfit.trades.drive.checks_terms import CIRCUIT, MECHANICS, Drive
from dryfit.trades.drive.formulas_travel import speed_to_stop_within

CAUTION = "People stand near: try it slowly, fenced off, with an emergency stop in hand; local codes decide."
_LEAST = 1e-9
"""Tipping acceleration, m/s², that stands for none at all."""


def stops_short(d: Drive) -> Finding:
    """`stops-before-the-public`: from show speed, on the level and downhill, at once and after a lost link."""
    way = d.way_to_stop
    lost = d.handed["link_loss_time"]
    run_on = column(d.brief.speed * lost.value)
    demand = np.concatenate(np.broadcast_arrays(way, way + run_on), axis=-1)
    public = d.read("brief.public_distance", "x_p", "distance of the public", d.brief.public_distance, "m")
    braking = d.read("brief.braking", "b", "braking asked for", d.brief.braking, "m/s2")
    kept = 0.2
    names = {
        "ramped": ("x_ramp", "way with a ramped stop", "v²/(2·min(b, a_most - g·sin α))", (braking, d.slope, d.bound)),
        "shorted": ("x_short", "way with shorted motors", "deceleration v/τ + friction, never above a_most",
                    (d.k_e, d.path_resistance, d.gear, d.radius, d.mass, d.slope, d.bound)),
        "coasting": ("x_coast", "way when coasting", "v²/(2·a), a of rolling and free current less g·sin α",
                     (d.k_e, d.free_current, d.gear, d.radius, d.mass, d.rolling, d.slope)),
    }  # fmt: skip
    symbol, name, formula, terms = names[d.driver.stops]
    stop = calculated(symbol, name, np.concatenate([way, way], axis=-1), "m", formula, (d.speed, *terms), MECHANICS,
                      per_case=True)  # fmt: skip
    after = calculated("x_link", "way until the lost link is noticed", run_on[..., 0], "m", "v·t_link", (d.speed, lost))
    slower = calculated(
        "v_ok", "speed that keeps the reserve", downwards(_speed(d, demand, kept)), "m/s",
        "v·t_link + way to standstill = 0.8·x_p", (public, lost, stop), MECHANICS,
    )  # fmt: skip
    room = np.max(demand, axis=-1) / (1 - kept)
    further = calculated("x_just", "distance that keeps the reserve", upwards(room), "m", "way/0.8", (stop, after))
    return finding(
        check="stops-before-the-public", trade="drive", topic="stopping",
        title="Stands still before it reaches the public, also when the link is lost", unit="m",
        cases=("on the level", "downhill", "link lost, on the level", "link lost, downhill"),
        demand=demand, capacity=column(d.brief.public_distance),
        demand_name=f"way to standstill, {d.driver.stops}", capacity_name="distance of the public",
        reserve=(kept, practice("stop in four fifths of the room there is")), late=Late.SHOW,
        formula="v·t_link + way to standstill ≤ x_p", terms=(stop, after, public, slower, further),
        sources=(MECHANICS,),
        remedy="Drive no faster than {v_ok} there, notice a lost link sooner, or keep the public {x_just} off",
        caution=CAUTION,
    )  # fmt: skip


def _speed(d: Drive, demand: Array, kept: float) -> Array:
    """Speed, m/s, from which it stops within the room less the reserve in all four cases. A steady deceleration is
    followed exactly; shorted motors brake the less the slower it is, so there the way goes at most with the speed."""
    v, room = column(d.brief.speed), (1 - kept) * column(d.brief.public_distance)
    way = d.way_to_stop
    if d.driver.stops == "shorted":
        moves = ~(demand <= 0)
        each = np.where(moves, v * room / np.where(moves, demand, 1.0), np.inf)
        return np.asanyarray(np.min(each, axis=-1))
    moves = ~(way == 0)
    slowing = np.where(moves, v * v / (2 * np.where(moves, way, 1.0)), np.inf)
    lost = column(d.handed["link_loss_time"].value)
    each = np.minimum(speed_to_stop_within(room, 0.0, slowing), speed_to_stop_within(room, lost, slowing))
    return np.asanyarray(np.min(each, axis=-1))


def upright_when_shorted(d: Drive) -> Finding:
    """`emergency-stop-slides-first`: the hardest stop that the machine can make by itself, in every posture and way.

    Power that fails, an emergency stop that shorts the motors, a bridge that resets with both low switches on: all
    short the motors at show speed. They brake with what their own voltage drives through cold windings, never harder
    than the wheels grip, the weight thrown forward as far as it is when the machine is about to tip. An emergency stop
    on a ramp is what tips-when-braking judges. Wheels that stop dead are what tips-when-hitting-an-edge judges: a
    machine that passes there lifts a wheel here and comes back.
    """
    found, v = d.blocked, column(d.brief.speed)
    short = found.steady + found.rising * v
    hardest = np.minimum(short[..., None, :], found.grip)
    worst = first_largest(hardest / np.maximum(found.tip, _LEAST))
    stops, tips, grips = (pick(x, worst) for x in (hardest, found.tip, found.grip))
    kept = 0.1
    room = (1 - kept) * found.tip
    slower = np.maximum(room - found.steady[..., None, :], 0.0) / found.rising[..., None, :]
    slower = np.min(np.where(found.grip <= room, np.inf, slower), axis=-1)
    short_term = calculated(
        "a_short", "deceleration by shorted motors", pick(short[..., None, :], worst), "m/s2",
        "(Σ(u/R)²·i²·k_e²·v/R_cold + drag + m·g·c_r)/m_moving, losses of gears helping",
        (d.speed, d.k_e, d.k_t, d.winding, d.gear, d.efficiency, d.radius, d.rolling, d.mass, *d.turning), CIRCUIT,
        per_case=True,
    )  # fmt: skip
    grip = calculated(
        "a_grip", "deceleration that blocked wheels can give", grips, "m/s2",
        "µ·Σ N_i·|u·t_i|/m, weight thrown forward as when it is about to tip",
        (d.friction, d.heaviest, d.lightest, d.highest, d.mass),
        derived("friction along the line of pull of each wheel"), per_case=True,
    )  # fmt: skip
    origin = d.handed["tip_acceleration"].origin
    tip = Term("a_tip", "tipping acceleration in that direction", tips, "m/s2", origin, per_case=True)
    safe = calculated(
        "v_ok", "speed that keeps the reserve", downwards(slower), "m/s", "a_short = 0.9·a_tip", (short_term, tip),
        per_case=True,
    )  # fmt: skip
    stands = ~(tips <= 0)
    more = np.where(stands, stops / ((1 - kept) * np.where(stands, tips, 1.0)), np.inf)
    on_a_circle = "base.wheels.circle_radius" in d.origins
    wider = calculated(
        "R_just" if on_a_circle else "out", "how wide the wheels must stand for the reserve",
        upwards(column(d.stance.value) * more if on_a_circle else more - 1), "m" if on_a_circle else "%",
        "L·a/(0.9·a_tip)", (d.stance, tip), per_case=True,
    )  # fmt: skip
    widen = "widen the wheel circle to {R_just}" if on_a_circle else "set all wheels {out} further out"
    return finding(
        check="emergency-stop-slides-first", trade="drive", topic="tipping", unit="m/s2", cases=d.postures,
        title="Slides or brakes softly before it tips when its motors are shorted", demand=stops, capacity=tips,
        demand_name="deceleration by shorted motors or grip", capacity_name="tips at", late=Late.SHOW,
        reserve=(kept, practice("a tenth for motors and gearboxes that brake harder than reckoned")),
        formula="min(a_short, a_grip) ≤ a_tip in every way it can travel", terms=(short_term, grip, tip, safe, wider),
        sources=(MECHANICS, CIRCUIT),
        remedy=f"Drive no faster than {{v_ok}}, {widen}, or put resistors into what shorts the motors",
        caution=CAUTION,
    )  # fmt: skip


def stop_findings(d: Drive) -> tuple[Finding, ...]:
    """All findings of this file."""
    return stops_short(d), upright_when_shorted(d)
