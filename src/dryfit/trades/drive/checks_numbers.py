"""The drive worked out: geometry of the wheels, currents and torques by case, limits by direction, heat, stopping."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, reduce

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.axes import column, first_largest, pick, stack
from dryfit.ground.edges import joint_drop, met_radius
from dryfit.ground.quantity import Array, Num
from dryfit.machine.brief import Brief
from dryfit.machine.motor import Driver, Motor
from dryfit.machine.wheels import Wheels
from dryfit.trades.drive import formulas as f
from dryfit.trades.drive import formulas_motor as m
from dryfit.trades.drive import formulas_travel as t

CASES = ("idle", "cruise", "start", "slope", "step", "stall")
HOTTEST_RECKONED = 473.15
"""Winding resistance is not followed beyond 200 °C: by then the motor is lost and the finding about it is short."""


@dataclass(frozen=True)
class Motion:
    """What the wheels' places and headings alone decide. K = 72 directions, D driven wheels.

    allowed: no tyre slips, (..., K).  force, speed: rim force for 1 N of pull and rim speed for 1 m/s, (..., K, D).
    rates: turning rate of each wheel for 1 m/s, (..., K, D), 1/m.
    radius, wheel_inertia: of driven wheels (..., D).  hardest, fastest: allowed direction with the largest wheel torque
    and wheel rate, (...,).  pull_per_torque: strongest pull for 1 N·m at every wheel, (..., K), 1/m.
    """

    driven: tuple[int, ...]
    rows: Array
    free: Array
    length: Array
    allowed: Array
    force: Array
    speed: Array
    rates: Array
    slack: Array | None
    radius: Array
    wheel_inertia: Array
    hardest: NDArray[np.intp]
    fastest: NDArray[np.intp]
    pull_per_torque: Array
    heading_error: Array

    @cached_property
    def squares(self) -> Array:
        """Sum of the squared rates of all driven wheels, (..., K), 1/m²."""
        return np.asanyarray(f.total(self.rates * self.rates))

    @cached_property
    def sums(self) -> Array:
        """Sum of the rates of all driven wheels, (..., K), 1/m."""
        return np.asanyarray(f.total(self.rates))


def work_out_motion(w: Wheels, scatter: Num) -> Motion:
    """Kinematics of a base. scatter: how far the driven wheels' rim speeds lie from those asked, fraction (..., D)."""
    driven = tuple(i for i, is_driven in enumerate(w.driven) if is_driven)
    tyres = [i for i, kind in enumerate(w.kinds) if kind == "tyre"]
    d = list(driven)
    length = np.sqrt(np.mean(np.sum(w.position**2, axis=-1), axis=-1))
    rows = f.rolling_rows(w.position[..., d, :], w.heading[..., d], w.roller_angle[..., d], length)
    free = f.freedom(f.sideslip_rows(w.position[..., tyres, :], w.heading[..., tyres], length))
    force, speed = f.force_shares(rows, free), f.speed_shares(rows)
    radius = w.radius[..., d]
    slack = f.slack_force(rows) if len(driven) == 4 and not tyres else None
    allowed = f.can_travel(free)
    torque = force * radius[..., None, :]
    back = f.pseudo_inverse(rows, free)
    rates = np.abs(speed) / radius[..., None, :]
    turn = f.heading_error(back, speed, scatter, length)
    pulls = f.strongest_pull(torque, 1.0, slack=None if slack is None else slack * radius)
    return Motion(
        driven=driven,
        rows=rows,
        free=free,
        length=length,
        allowed=allowed,
        force=force,
        speed=speed,
        rates=rates,
        slack=slack,
        radius=radius,
        wheel_inertia=w.mass[..., d] * radius**2 / 2,
        hardest=_argmax(f.largest(np.abs(torque)), allowed),
        fastest=_argmax(f.largest(rates), allowed),
        pull_per_torque=np.where(allowed, pulls, 0.0),
        # where it is not known which ways are open, the turn is not known either
        heading_error=np.where(allowed | np.isnan(turn), turn, 0.0),
    )


def _argmax(values: Array, allowed: Array) -> NDArray[np.intp]:
    return first_largest(np.where(allowed, values, -np.inf))


@dataclass(frozen=True)
class MotorLine:
    """The sheet as two constants and resistances of the whole path (winding, bridge, leads), cold and hot."""

    k_t: Num
    k_e: Num
    cold: Num
    gear: Num
    efficiency: Num

    def torque(self, current: Num, free_current: Num) -> Array:
        """Torque at the shaft; nothing below the free current."""
        return np.asanyarray(np.maximum(current - free_current, 0.0) * self.k_t)


def motor_line(motor: Motor, driver: Driver, gear: Num, efficiency: Num) -> MotorLine:
    """Constants of the motor behind a gear."""
    return MotorLine(
        k_t=m.torque_constant(motor.stall_torque, motor.stall_current, motor.free_current),
        k_e=m.voltage_constant(motor.voltage, motor.free_current, motor.winding_resistance, motor.free_speed),
        cold=motor.winding_resistance + driver.resistance_cold + driver.lead_resistance,
        gear=gear,
        efficiency=efficiency,
    )


@dataclass(frozen=True)
class Load:
    """What a way of driving asks of every motor, (..., D): torque at the wheel and at the gearmotor's shaft (without
    the rotor's own), torque the winding feels (with the rotor's), current, and speed of wheel and shaft."""

    wheel_torque: Array
    shaft_torque: Array
    felt_torque: Array
    current: Array
    wheel_speed: Array
    shaft_speed: Array

    def worst(self, values: Array) -> Array:
        """The entry of the wheel that works hardest."""
        index = self.hardest
        # Where all machines share one hardest wheel a plain slice does.
        return values[..., index][()] if index.ndim == 0 else pick(values, index)

    @cached_property
    def hardest(self) -> Array:
        """Index of the wheel that works hardest, (...,)."""
        return np.asanyarray(np.argmax(self.felt_torque, axis=-1))


def load(
    motion: Motion, motor: Motor, line: MotorLine, pull: Num, acceleration: Num, speed: Num, direction: NDArray[np.intp]
) -> Load:
    """Torques and currents for a pull (...,) in N, which does not hold the wheels' own inertia, in one direction."""
    shares = np.abs(f.at_direction(motion.force, direction))
    rates = f.at_direction(motion.rates, direction)
    wheel = shares * motion.radius * column(pull) + motion.wheel_inertia * rates * column(acceleration)
    shaft = wheel / column(line.gear * line.efficiency)
    felt = shaft + rates * column(motor.inertia * line.gear * acceleration)
    wheel_speed = rates * column(speed)
    return Load(
        wheel_torque=wheel,
        shaft_torque=shaft,
        felt_torque=felt,
        current=np.asanyarray(m.current_for(felt, column(line.k_t), column(motor.free_current))),
        wheel_speed=wheel_speed,
        shaft_speed=wheel_speed * column(line.gear),
    )


@dataclass(frozen=True)
class Thermal:
    """Heat: root-mean-square current of the hardest-working motor, temperatures after (one show, the day), (..., 2)."""

    current: Array
    housing_heat: Array
    winding: Array
    housing: Array


def warm(motor: Motor, line: MotorLine, brief: Brief, cruise: Load, climb: Load) -> Thermal:
    """Temperatures of the hardest-working motor over the duty of the brief."""
    on_level, on_slope = cruise.worst(cruise.current), climb.worst(climb.current)
    current = np.sqrt(brief.driving_share * on_level**2 + brief.climbing_share * on_slope**2)

    def friction(way: Load) -> Array:
        return way.worst((way.current * column(line.k_e) - way.shaft_torque) * way.shaft_speed)

    housing_heat = np.maximum(brief.driving_share * friction(cruise) + brief.climbing_share * friction(climb), 0.0)
    winding, housing = m.two_node_warming(
        stack([brief.show_length, brief.day_length]),
        column(current),
        column(motor.winding_resistance),
        column(housing_heat),
        column(motor.winding_to_housing),
        column(motor.housing_to_air),
        column(motor.winding_heat_capacity),
        column(motor.housing_heat_capacity),
        column(brief.ambient),
    )
    return Thermal(current, housing_heat, winding, housing)


@dataclass(frozen=True)
class Bus:
    """The source the drivers see, at one state of charge: electromotive force and resistance, and what comes on top
    of the motors: heat of switching (of one bridge, W for 1 A) and standing current as power (all bridges, W)."""

    emf: Num
    source: Num
    resistance: Num
    switching: Num
    standby: Num


def power_of(way: Load, line: MotorLine, bus: Bus) -> Array:
    """Power that each bridge draws, (..., D), W: I·(I·R + k_e·ω) + switching. It does not depend on the bus voltage."""
    i = way.current
    copper = i * (i * column(bus.resistance) + column(line.k_e) * way.shaft_speed)
    return np.asanyarray(copper + i * column(bus.switching) + column(bus.standby) / i.shape[-1])


def reachable_speed(motion: Motion, motor: Motor, line: MotorLine, bus: Bus, pull: Num, acceleration: Num) -> Array:
    """Speed in the direction that asks for the fastest wheel, with that wheel's bridge at full duty, (...,), m/s."""
    way = load(motion, motor, line, pull, acceleration, 1.0, motion.fastest)
    standing = way.current * (way.current * column(bus.resistance) + column(bus.switching))
    by_speed = way.current * column(line.k_e) * way.shaft_speed
    each = m.top_speed(
        column(bus.emf),
        column(bus.source),
        way.current * column(bus.resistance),
        column(line.k_e) * way.shaft_speed,
        column(f.total(standing) + bus.standby),
        column(f.total(by_speed)),
    )
    return f.smallest(each)


def torque_at(motor: Motor, driver: Driver, line: MotorLine, bus: Bus, motors: int, speed: Num) -> Array:
    """Shaft torque of each motor with all of them at full duty at a shaft speed, N·m; the bridge's limit holds."""
    current = m.full_duty_current(bus.emf, bus.source, bus.resistance, motors, line.k_e, speed)
    return line.torque(np.minimum(current, np.minimum(driver.limits_current, driver.limit_current)), motor.free_current)


@dataclass(frozen=True)
class Map:
    """Largest acceleration by direction, m/s², (..., 72): before tipping, before slipping, and what the motors give."""

    tip: Array
    grip: Array
    motor: Array

    @property
    def least(self) -> Array:
        """What may be had: the least of the three."""
        return np.minimum(np.minimum(self.tip, self.grip), self.motor)

    @property
    def limit(self) -> Array:
        """What limits: 0 tipping, 1 grip, 2 motors, (..., 72)."""
        return np.asanyarray(
            np.argmin(np.stack(np.broadcast_arrays(self.tip, self.grip, self.motor), axis=-1), axis=-1)
        )


def grip_map(motion: Motion, w: Wheels, mass: Num, centre: Array, wheel_load: Array, friction: Num) -> Array:
    """Acceleration at which the first driven wheel slips, worst of all postures, loads moving as it accelerates."""
    d = list(motion.driven)
    slant = np.sqrt(1 + np.tan(w.roller_angle[..., d]) ** 2)
    grip = np.asanyarray(column(friction) / slant)
    shift = grip[..., None, :] * f.load_shift(w.position)[..., d]
    worst: Array | None = None
    for p in range(wheel_load.shape[-2]):
        start = grip * wheel_load[..., p, d] / column(mass)
        growth = column(centre[..., p, 2], 2) * shift
        here = f.strongest_pull(motion.force, start[..., None, :], growth, motion.slack)
        worst = here if worst is None else np.minimum(worst, here)
    assert worst is not None
    return worst


def motor_map(
    motion: Motion, motor: Motor, driver: Driver, line: MotorLine, bus: Bus, mass: Num, speed: Num, resisting: Num
) -> Array:
    """Acceleration that all motors at full duty give on the level at a travel speed, (..., 72)."""
    fastest = f.largest(motion.rates)
    shaft_speed = fastest * column(line.gear * speed)
    wide = Bus(column(bus.emf), column(bus.source), column(bus.resistance), bus.switching, bus.standby)
    broad = MotorLine(column(line.k_t), column(line.k_e), 0.0, 1.0, 1.0)
    current = m.full_duty_current(wide.emf, wide.source, wide.resistance, len(motion.driven), broad.k_e, shaft_speed)
    most = column(np.minimum(driver.limits_current, driver.limit_current))
    torque = broad.torque(np.minimum(current, most), column(motor.free_current))
    pull = torque * column(line.gear * line.efficiency) * motion.pull_per_torque
    turning = motion.wheel_inertia + column(motor.inertia * line.gear**2 * line.efficiency)
    rotating = f.total(motion.rates**2 * turning[..., None, :])
    gain = (pull - column(resisting)) / (column(mass) + rotating)
    return np.asanyarray(np.maximum(gain, 0.0))


@dataclass(frozen=True)
class Edge:
    """Creeping onto the highest edge or out of the widest joint, by direction.

    push: at the axle of the worst wheel, N, (..., 72).  grip: strongest pull by friction, N, (..., 72).
    height: of the edge as the wheel meets it that it is highest for, m, (...,).  radius: that meets it, (..., 72, W).
    load: largest on each wheel in any posture, (..., W), N.
    """

    push: Array
    grip: Array
    height: Array
    radius: Array
    load: Array

    def climbed(self, pull: Num, allowed: Array) -> Array:
        """Highest edge, m, (...,), that a pull (..., 72) left for lifting gets every wheel over, whichever way."""
        wheels = range(self.load.shape[-1])
        each = (t.edge_climbed(pull, self.load[..., i, None], self.radius[..., i]) for i in wheels)
        return np.asanyarray(np.min(np.where(allowed, reduce(np.minimum, each), np.inf), axis=-1))


def edge_pulls(motion: Motion, w: Wheels, brief: Brief, wheel_load: Array, friction: Num) -> Edge:
    """Loads are the largest (for grip the smallest) of all postures."""
    turn = f.HEADINGS[:, None] - w.heading[..., None, :]
    radius = np.asanyarray(met_radius(w.radius[..., None, :], w.roller_radius[..., None, :], turn))
    height = np.maximum(column(brief.step, 2), joint_drop(column(brief.joint_width, 2), radius))
    most = np.max(wheel_load, axis=-2)
    each = (t.edge_push(most[..., i, None], radius[..., i], height[..., i]) for i in range(len(w.names)))
    push = reduce(np.maximum, each)
    d = list(motion.driven)
    slant = np.sqrt(1 + np.tan(w.roller_angle[..., d]) ** 2)
    least = np.min(wheel_load, axis=-2)[..., d]
    grip = f.strongest_pull(motion.force, (column(friction) * least / slant)[..., None, :], slack=motion.slack)
    return Edge(np.asanyarray(push), grip, np.max(height, axis=(-2, -1)), radius, most)


@dataclass(frozen=True)
class Stops:
    """Ways to standstill from show speed, m, (..., 2) on the level and downhill: ramped, shorted, coasting."""

    ramped: Array
    shorted: Array
    coasting: Array


def stops(motion: Motion, motor: Motor, line: MotorLine, bus: Bus, brief: Brief, mass: Num, bound: Num) -> Stops:
    """Stopping from show speed three ways. bound: deceleration at which it would tip or slip, (...,), m/s²."""
    rates = np.abs(motion.speed) / motion.radius[..., None, :]
    moves = np.any(motion.allowed, axis=-1)
    squares = np.where(moves, np.min(np.where(motion.allowed, f.total(rates**2), np.inf), axis=-1), np.nan)
    sums = np.where(moves, np.min(np.where(motion.allowed, f.total(rates), np.inf), axis=-1), np.nan)
    turning = np.max(motion.wheel_inertia, axis=-1) + motor.inertia * line.gear**2
    inertia = mass + squares * turning
    braking = squares * line.gear**2 * line.k_e**2 / bus.resistance
    drag = sums * line.gear * line.k_e * motor.free_current / inertia
    speed = column(brief.speed)
    downhill = stack([np.zeros_like(np.asanyarray(brief.slope, dtype=float)), -np.asanyarray(brief.slope, dtype=float)])
    floor = t.travel_force(column(mass / inertia), 0.0, downhill, column(brief.rolling_resistance))
    friction = floor + column(drag)
    gravity = t.travel_force(column(mass / inertia), 0.0, downhill, 0.0)
    room = column(bound) + gravity
    return Stops(
        ramped=t.ramp_distance(speed, np.minimum(column(brief.braking), room)),
        shorted=t.shorted_distance(speed, column(inertia / braking), friction, room),
        coasting=t.ramp_distance(speed, friction),
    )


@dataclass(frozen=True)
class Blocked:
    """Motors shorted at show speed, P postures by 72 directions of travel, m/s².

    rising: deceleration for each m/s of speed, steady: what stays at a crawl, (..., 72).  grip: what blocked wheels
    give when it is about to tip.  tip: at which it tips.  Where it cannot travel it counts as tipping never.
    """

    rising: Array
    steady: Array
    grip: Array
    tip: Array


def blocked(
    motion: Motion,
    w: Wheels,
    motor: Motor,
    line: MotorLine,
    brief: Brief,
    mass: Num,
    centre: Array,
    wheel_load: Array,
    tip: Array,
) -> Blocked:
    """What shorted motors do with cold windings, the losses of the gears helping the brake, and what grip allows."""
    d = list(motion.driven)
    turning = np.max(motion.wheel_inertia, axis=-1) + motor.inertia * line.gear**2
    # what the gears lose forwards they lose backwards too, which then adds to the brake
    losing = 1 / line.efficiency
    damping = line.gear**2 * line.k_e**2 / line.cold * losing
    drag = line.gear * line.k_e * motor.free_current * losing
    rolling = t.travel_force(mass, 0.0, 0.0, brief.rolling_resistance)
    wide = [column(x) for x in (mass, turning, drag, damping, rolling)]
    heavy, turning, drag, damping, rolling = wide
    steady = m.shorted_deceleration(heavy, 0.0, motion.squares, motion.sums, turning, drag, damping, rolling)
    rising = m.shorted_deceleration(heavy, 1.0, motion.squares, 0.0, turning, 0.0, damping, 0.0)
    likely = np.where(motion.allowed[..., None, :], tip, np.inf)
    lever = np.maximum(centre[..., 2], 0.0) * column(mass)
    grip = t.blocked_deceleration(
        mass,
        wheel_load[..., d],
        brief.friction,
        w.heading[..., d] + w.roller_angle[..., d],
        np.array([0.0 if w.kinds[i] == "tyre" else 1.0 for i in d]),
        lever[..., None] * np.where(np.isinf(likely), 0.0, likely),
        f.load_shift(w.position)[..., d],
    )
    return Blocked(np.asanyarray(rising), np.asanyarray(steady), grip, likely)
