"""The drive: can it move, climb, start, cross, stop, and does it stay cool doing so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Term, by_rule, calculated
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import practice
from dryfit.machine.brief import Brief
from dryfit.machine.motor import Driver, Motor
from dryfit.machine.wheels import Wheels
from dryfit.trades.drive import checks_numbers as n
from dryfit.trades.drive import formulas as f
from dryfit.trades.drive import formulas_motor as m
from dryfit.trades.drive import formulas_travel as t
from dryfit.trades.drive.checks_motion import motion_findings
from dryfit.trades.drive.checks_motor import motor_findings
from dryfit.trades.drive.checks_stop import stop_findings
from dryfit.trades.drive.checks_terms import CIRCUIT, MECHANICS, Drive

CASES = n.CASES
"""idle: standing, bridges on. cruise: level at show speed. start: accelerating on the level, at the end of the ramp.
slope: accelerating uphill. step: creeping onto the highest edge. stall: one motor held fast on a full battery."""


@dataclass(frozen=True)
class DriveResult:
    """What the drive hands on; C = CASES, M driven wheels, in the direction that works one wheel hardest.

    motor_torque, motor_speed: gearmotor's output shaft of the hardest-working wheel, (..., C), N·m, rad/s.
    motor_current: its winding, (..., C), A.  wheel_torque, wheel_speed: at that wheel, (..., C).
    driver_power: drawn from the bus by each bridge, (..., C, M), W; for stall the first motor is held fast at full duty
    and the others cruise.  stopping_distance: from show speed after a lost link, level or downhill, (...,), m.
    acceleration: least of tipping, grip and motors by direction (..., 72), m/s²; limited_by: 0 tipping, 1 grip,
    2 motors.  speed_by_direction: top speed on the level (..., 72), m/s, 0 where a tyre would scrub.
    """

    motor_torque: Term
    motor_speed: Term
    motor_current: Term
    wheel_torque: Term
    wheel_speed: Term
    driver_power: Term
    stopping_distance: Term
    energy_per_metre: Term
    top_speed: Term
    acceleration: Term
    limited_by: Array
    speed_by_direction: Term
    winding_temperature: Term
    housing_temperature: Term
    findings: tuple[Finding, ...]


def assess_drive(
    origins: Mapping[str, Origin],
    brief: Brief,
    wheels: Wheels,
    motor: Motor,
    driver: Driver,
    *,
    mass: Term,
    centre_of_mass: Term,
    wheel_load: Term,
    tip_acceleration: Term,
    gear_ratio: Term,
    gear_efficiency: Term,
    emf: Term,
    source_resistance: Term,
    link_loss_time: Term | None = None,
    postures: tuple[str, ...] = ("as built",),
) -> DriveResult:
    """Everything about driving. emf, source_resistance: (..., 2) as the bridges see them, full and at the day's end.

    link_loss_time: how long it runs on when the link is lost; 0.5 s where nobody says.  postures: names of the P rows
    of centre_of_mass (..., P, 3), wheel_load (..., P, W) and tip_acceleration (..., P, 72).
    """
    lost = link_loss_time or by_rule(
        "t_link", "time until a lost link stops it", 0.5, "s", practice("a lost link stops the machine within 0.5 s")
    )
    handed = {
        "mass": mass, "wheel_load": wheel_load, "tip_acceleration": tip_acceleration, "gear_ratio": gear_ratio,
        "gear_efficiency": gear_efficiency, "emf": emf, "source_resistance": source_resistance, "link_loss_time": lost,
    }  # fmt: skip
    handed["centre_of_mass"] = centre_of_mass
    d = _work_out(origins, brief, wheels, motor, driver, postures, handed)
    return _result(d)


def _work_out(
    origins: Mapping[str, Origin],
    brief: Brief,
    wheels: Wheels,
    motor: Motor,
    driver: Driver,
    postures: tuple[str, ...],
    handed: Mapping[str, Term],
) -> Drive:
    mass, gear, efficiency = (handed[key].value for key in ("mass", "gear_ratio", "gear_efficiency"))
    loads_on_wheels, centre, tips = (
        np.asanyarray(handed[key].value, dtype=float) for key in ("wheel_load", "centre_of_mass", "tip_acceleration")
    )
    scatter = wheels.scatter[..., [i for i, is_driven in enumerate(wheels.driven) if is_driven]]
    if motor.feedback == "none":
        scatter = np.hypot(scatter, column(motor.scatter))
    motion = n.work_out_motion(wheels, scatter)
    line = n.motor_line(motor, driver, gear, efficiency)
    hardest = motion.hardest

    def way(acceleration: Num, slope: Num, rolling: Num, speed: Num) -> n.Load:
        pull = t.travel_force(mass, acceleration, slope, rolling)
        return n.load(motion, motor, line, pull, acceleration, speed, hardest)

    c = brief.rolling_resistance
    loads = {
        "cruise": way(0.0, 0.0, c, brief.speed),
        "climb": way(0.0, brief.slope, c, brief.speed),
        "start": way(brief.acceleration, 0.0, c, brief.speed),
        "breakaway": way(brief.acceleration, brief.slope, c * motor.breakaway, 0.0),
    }
    thermal = n.warm(motor, line, brief, loads["cruise"], loads["climb"])
    full, end = _buses(motor, driver, line, handed, thermal, len(motion.driven))
    speeds = {
        key: n.reachable_speed(motion, motor, line, end, t.travel_force(mass, a, slope, c), a)
        for key, a, slope in (
            ("cruise", 0.0, 0.0), ("climb", 0.0, brief.slope), ("slope", brief.acceleration, brief.slope)
        )
    }  # fmt: skip
    loads["slope"] = way(brief.acceleration, brief.slope, c, np.minimum(brief.speed, speeds["slope"]))
    at_rest = n.torque_at(motor, driver, line, end, len(motion.driven), 0.0)
    # a machine that accelerates tips backwards
    tip = np.roll(np.min(tips, axis=-2), f.DIRECTIONS // 2, axis=-1)
    limits = n.Map(
        tip=tip,
        grip=n.grip_map(motion, wheels, mass, centre, loads_on_wheels, brief.friction_low),
        motor=n.motor_map(motion, motor, driver, line, end, mass, brief.speed, t.travel_force(mass, 0.0, 0.0, c)),
    )
    edge = n.edge_pulls(motion, wheels, brief, loads_on_wheels, brief.friction)
    loads["step"] = _step_load(motion, motor, line, edge.push + column(t.travel_force(mass, 0.0, 0.0, c)), at_rest)
    bound = np.min(np.where(motion.allowed, np.minimum(limits.tip, limits.grip), np.inf), axis=-1)
    most = np.minimum(driver.limit_current, driver.limits_current)
    if driver.starts == "at once":
        at_once = m.full_duty_current(end.emf, end.source, end.resistance, len(motion.driven), line.k_e, 0.0)
        loads["start"] = _held(loads["start"], motor, line, np.minimum(at_once, most))
    stall = np.minimum(full.emf / (full.resistance + full.source), driver.limits_current)
    loads["stall"] = _held(loads["cruise"], motor, line, np.minimum(stall, driver.limit_current))
    return Drive(
        origins=origins, brief=brief, wheels=wheels, motor=motor, driver=driver, motion=motion, line=line, full=full,
        end=end, loads=loads, thermal=thermal, limits=limits,
        stops=n.stops(motion, motor, line, end, brief, mass, bound), speeds=speeds, torque_at_rest=at_rest, edge=edge,
        stall_current=np.asanyarray(stall), handed=handed, postures=postures,
        blocked=n.blocked(motion, wheels, motor, line, brief, mass, centre, loads_on_wheels, tips),
    )  # fmt: skip


def _buses(
    motor: Motor, driver: Driver, line: n.MotorLine, handed: Mapping[str, Term], thermal: n.Thermal, motors: int
) -> tuple[n.Bus, n.Bus]:
    """The source with a cold motor on a full battery, and with a warm one at the end of the day."""
    emf, source = (np.asanyarray(handed[key].value, dtype=float) for key in ("emf", "source_resistance"))
    warm = m.hot(motor.winding_resistance, np.minimum(thermal.winding[..., 1], n.HOTTEST_RECKONED))
    paths = (line.cold, warm + driver.resistance_hot + driver.lead_resistance)
    full, end = (
        n.Bus(
            emf=emf[..., i],
            source=source[..., i],
            resistance=paths[i],
            switching=m.bridge_loss(1.0, 0.0, emf[..., i], driver.switching_time, driver.pwm_frequency),
            standby=motors * driver.standby_current * emf[..., i],
        )
        for i in range(2)
    )
    return full, end


def _step_load(motion: n.Motion, motor: Motor, line: n.MotorLine, pull: Array, at_rest: Array) -> n.Load:
    """Torque that every motor gives when the pull onto the edge needs most, all of them equally; creeping. Where the
    edge asks for more than the motors have at rest they stand before it with that."""
    can = ~(motion.pull_per_torque <= 0)
    torque = np.where(can, pull / np.where(can, motion.pull_per_torque, 1.0), 0.0)
    most = np.max(torque, axis=-1)
    bound = at_rest * line.gear * line.efficiency
    wheel = np.minimum(most, bound)[..., None] * np.ones(len(motion.driven))
    shaft = wheel / column(line.gear * line.efficiency)
    current = m.current_for(shaft, column(line.k_t), column(motor.free_current))
    return n.Load(wheel, shaft, shaft, np.asanyarray(current), np.zeros_like(wheel), np.zeros_like(wheel))


def _held(like: n.Load, motor: Motor, line: n.MotorLine, current: Num) -> n.Load:
    """Every motor at rest with a given current."""
    i = np.asanyarray(current, dtype=float)[..., None] * np.ones(like.current.shape[-1])
    shaft = np.asanyarray(np.maximum(i - column(motor.free_current), 0.0) * column(line.k_t))
    still = np.zeros_like(shaft)
    return n.Load(shaft * column(line.gear * line.efficiency), shaft, shaft, i, still, still)


def _result(d: Drive) -> DriveResult:
    order = ("cruise", "start", "slope", "step", "stall")
    of = {key: d.loads[key] for key in order}
    powers = [n.power_of(of[key], d.line, d.end) for key in order[:-1]]
    stalled = n.power_of(of["stall"], d.line, d.full)
    powers.append(_first_of(stalled, powers[0]))
    idle = np.zeros_like(powers[0]) + column(d.end.standby) / powers[0].shape[-1]
    power = np.stack(np.broadcast_arrays(idle, *powers), axis=-2)

    def by_case(symbol: str, name: str, unit: str, kind: str, formula: str) -> Term:
        values = [of[key].worst(getattr(of[key], kind)) for key in order]
        terms = (d.pull("cruise"), d.pull("slope"), d.share_of_force, d.radius, d.gear, d.efficiency)
        return calculated(symbol, name, stack([0.0 * values[0], *values]), unit, formula, terms, MECHANICS)

    torque = by_case("T", "torque at the shaft of the hardest-working motor", "N*m", "shaft_torque", "s_F·F·R/(i·η)")
    current = by_case("I", "current of the hardest-working motor", "A", "current", "I_0 + T/k_t")
    cruise_power = np.sum(powers[0], axis=-1)
    link = d.brief.speed * d.handed["link_loss_time"].value
    fastest = f.largest(d.motion.rates)
    top_rate = np.max(np.where(d.motion.allowed, fastest, 0.0), axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_direction = np.where(d.motion.allowed, column(d.speeds["cruise"] * top_rate) / fastest, 0.0)
    electric = (d.k_t, d.k_e, d.path_resistance, d.emf(True), d.source(True))
    return DriveResult(
        motor_torque=torque,
        motor_speed=by_case("ω", "speed of that shaft", "rad/s", "shaft_speed", "u·v·i/R"),
        motor_current=current,
        wheel_torque=by_case("T_wheel", "torque at the hardest-working wheel", "N*m", "wheel_torque", "s_F·F·R"),
        wheel_speed=by_case("ω_wheel", "speed of that wheel", "rad/s", "wheel_speed", "u·v/R"),
        driver_power=calculated(
            "P", "power each bridge draws", power, "W", "I·(I·R_m + k_e·ω) + ½·E·I·t_sw·f + standby", electric, CIRCUIT
        ),
        stopping_distance=calculated(
            "x_stop", "way to standstill after a lost link", np.max(d.way_to_stop, axis=-1) + link, "m",
            "v·t_link + way",
            (d.speed, d.handed["link_loss_time"], d.bound), MECHANICS,
        ),
        energy_per_metre=calculated(
            "E_m", "energy for a metre of level driving", _per_metre(cruise_power, d.brief.speed), "J", "ΣP/v, in J/m",
            (d.speed, d.current("cruise", "I_level", "current on the level"), *electric), CIRCUIT,
        ),
        top_speed=calculated(
            "v_top", "top speed on the level", d.speeds["cruise"], "m/s", "V = I·R_m + k_e·ω on the sagged bus",
            (d.pull("cruise"), d.share_of_force, d.radius, d.gear, d.efficiency, *electric), CIRCUIT,
        ),
        acceleration=calculated(
            "a_have", "acceleration to be had by direction", d.limits.least, "m/s2", "min(a_tip, a_grip, a_motor)",
            (d.handed["tip_acceleration"], d.low_friction, d.heaviest), MECHANICS,
        ),
        limited_by=d.limits.limit,
        speed_by_direction=calculated(
            "v_dir", "top speed by direction", by_direction, "m/s", "top speed × (fastest wheel anywhere / here)",
            (d.speed,), MECHANICS,
        ),
        housing_temperature=calculated(
            "ϑ_h", "motor's housing at the end of the show day", d.thermal.housing[..., -1], "K",
            "the second heat store: loss in the winding and by friction, through the housing to the air",
            (d.rms_current, *d.heat_path), MECHANICS,
        ),
        winding_temperature=replace(d.warm_winding, name="winding at the end of the show day"),
        findings=(*motion_findings(d), *stop_findings(d), *motor_findings(d)),
    )  # fmt: skip


def _first_of(stalled: Array, cruising: Array) -> Array:
    """Power of the first motor held fast, of the others cruising, (..., M)."""
    stalled, cruising = np.broadcast_arrays(stalled, cruising)
    return np.where(np.arange(stalled.shape[-1]) == 0, stalled, cruising)


def _per_metre(power: Array, speed: Num) -> Array:
    """Energy for a metre, J; without limit for a machine that stands."""
    moves = ~(np.asanyarray(speed) == 0)
    return np.where(moves, power / np.where(moves, speed, 1.0), np.inf)[()]
