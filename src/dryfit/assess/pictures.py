"""From what the trades found about one machine to what is drawn of it; nothing is found out here."""

from __future__ import annotations

import numpy as np

from dryfit.assess.records_pictures import (
    Directions,
    Evenness,
    MotorLines,
    Node,
    Pictures,
    Shims,
    Standing,
    StripVolts,
    SupplyTree,
)
from dryfit.assess.results import Results
from dryfit.ground.findings import Finding, Term, Workings
from dryfit.machine.machine import Machine
from dryfit.trades.drive import checks_numbers as numbers
from dryfit.trades.drive.checks import CASES as WAYS
from dryfit.trades.gears.checks_shims import shim_tables
from dryfit.trades.light.checks_profile import drop_along
from dryfit.trades.stability.checks_outline import outline

EVENNESS = ("no-dots-through-diffuser", "light-is-even-around")
"""Checks of how even the light looks."""
SHOWN_CASES = ("cruise, full", "full white, full", "everything at once, end of the day")
_POINTS = 25


def pictures(machine: Machine, results: Results) -> Pictures:
    """What is drawn of one machine. results: of that machine, as `assess.results.results` gives them."""
    p = results.power
    ends = {case: float(np.asanyarray(p.bus_voltage.value)[i]) for i, case in enumerate(p.cases)}
    return Pictures(
        standing=_standing(machine, results),
        directions=_directions(machine, results),
        motor=_motor(machine, results),
        supply=_supply(machine, results),
        strips=_strips(machine, results),
        evenness=_evenness(results.findings),
        shims=_shims(machine, results),
        section_mass=_sections(results.findings),
        run_time=float(p.run_time.value),
        stopping_way=float(results.drive.stopping_distance.value),
        top_speed=float(results.drive.top_speed.value),
        bus_full=ends.get("idle, full", float("nan")),
        bus_end=ends.get("everything at once, end of the day", float("nan")),
    )


def _standing(m: Machine, r: Results) -> Standing:
    return Standing(
        m.arms.postures,
        outline(m.wheels),
        np.asanyarray(r.weight.centre_of_mass.value, dtype=float),
        np.asanyarray(r.stability.tip_angle.value, dtype=float),
    )


def _directions(m: Machine, r: Results) -> Directions:
    tips = np.asanyarray(r.stability.tip_acceleration.value, dtype=float)
    tipping = np.roll(np.min(tips, axis=-2), tips.shape[-1] // 2)
    least = np.asanyarray(r.drive.acceleration.value, dtype=float)
    goes = np.asanyarray(r.drive.speed_by_direction.value, dtype=float) > 0
    limit = np.asanyarray(r.drive.limited_by, dtype=float)
    return Directions(tipping, least, limit, goes, float(m.brief.acceleration))


def _motor(m: Machine, r: Results) -> MotorLines | None:
    """The sheet's line, and the line of all motors together on the packs, full and cold; operating points by case."""
    d, motor = r.drive, m.motor
    if not any(m.wheels.driven):
        return None
    gear, efficiency = float(r.mesh.ratio.value), float(r.mesh.efficiency.value)
    line = numbers.motor_line(motor, m.driver, gear, efficiency)
    free, stall = float(motor.free_speed), float(motor.stall_torque)
    lines = [("as on its sheet", np.array([0.0, free]), np.array([stall, 0.0]))]
    emf, source, path = (_below(d.driver_power, symbol) for symbol in ("E_end", "R_s_end", "R_m"))
    if emf is not None and source is not None and path is not None:
        bus = numbers.Bus(emf, source, path, 0.0, 0.0)
        speeds = np.linspace(0.0, 1.1 * free, _POINTS)
        torque = numbers.torque_at(motor, m.driver, line, bus, sum(m.wheels.driven), speeds)
        lines.append(("all motors, warm, end of the day", speeds, np.asanyarray(torque, dtype=float)))
    torques, turning = (np.asanyarray(t.value, dtype=float) for t in (d.motor_torque, d.motor_speed))
    points = tuple(
        (name, float(turning[i]), float(torques[i])) for i, name in enumerate(WAYS) if name not in ("idle", "stall")
    )
    return MotorLines(
        tuple(lines), points, stall * float(motor.lim_running_share), stall * float(motor.lim_brief_share)
    )


def _below(t: Term, symbol: str) -> float | None:
    """A number that stands in the workings of another."""
    if not isinstance(t.origin, Workings):
        return None
    return next((float(below.value) for below in t.origin.terms if below.symbol == symbol), None)


def _supply(m: Machine, r: Results) -> SupplyTree:
    p, b = r.power, m.power.branches
    at = [p.cases.index(case) for case in SHOWN_CASES]

    def row(t: Term) -> list[float]:
        return [float(x) for x in np.asanyarray(t.value, dtype=float)[..., at]]

    volts, amperes = (np.asanyarray(t.value, dtype=float)[..., at] for t in (p.node_voltage, p.branch_current))
    nodes = tuple(
        Node(
            name, b.parent[n], b.feeds[n], b.regulated[n], float(b.fuse[n]),
            tuple(float(x) for x in volts[n]), tuple(float(x) for x in amperes[n]),
        )
        for n, name in enumerate(b.names)
    )  # fmt: skip
    return SupplyTree(SHOWN_CASES, tuple(row(p.bus_voltage)), tuple(row(p.source_current)), nodes)


def _strips(m: Machine, r: Results) -> tuple[StripVolts, ...]:
    light, found = m.light, []
    if not light.strips:
        return ()
    brightest = np.max(np.asanyarray(r.demand.strip_current.value, dtype=float), axis=-2)
    feed = np.asanyarray(r.power.feed_voltage.value, dtype=float)
    for k, name in enumerate(light.strips):
        leds = float(light.leds[k]) * light.counts[k]
        if not leds > 0:
            continue
        place, drop = drop_along(light, k, float(brightest[k]) / leds)
        needed = max(float(light.lim_last_led_volts), float(light.colour_volts[k]))
        found.append(StripVolts(name, place, float(feed[k]) - drop, needed, np.asanyarray(light.feeds[k])))
    return tuple(found)


def _evenness(findings: tuple[Finding, ...]) -> tuple[Evenness, ...]:
    return tuple(
        Evenness(f.title, case, float(f.demand[..., i]), float(f.capacity[..., i]))
        for f in findings
        if f.check in EVENNESS
        for i, case in enumerate(f.cases)
    )


def _shims(m: Machine, r: Results) -> tuple[Shims, ...]:
    if not m.gears.paths:
        return ()
    return tuple(
        Shims(t.stage, t.internal, t.measured, t.planned, t.gap, t.shims, t.backlash)
        for t in shim_tables(m.gears, m.workshop, r.mesh.layout)
    )


def _sections(findings: tuple[Finding, ...]) -> tuple[tuple[str, float], ...]:
    lift = next((f for f in findings if f.check == "lift-by-one-person"), None)
    if lift is None:
        return ()
    return tuple((case, float(lift.demand[..., i])) for i, case in enumerate(lift.cases))
