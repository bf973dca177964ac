"""Run the trades in order, hand results on, make one report. Every number handed on is a Term with its workings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dryfit.assess.report import Figure, Report, with_reserves
from dryfit.ground.errors import DesignError, Fault, nearest
from dryfit.ground.findings import Finding, Term
from dryfit.ground.quantity import Origin
from dryfit.machine.machine import Machine
from dryfit.trades.arms.checks import assess_arms
from dryfit.trades.drive.checks import assess_drive
from dryfit.trades.gears.checks import assess_backlash, assess_mesh, assess_strength
from dryfit.trades.light.checks import assess_light, light_demand
from dryfit.trades.power.checks import assess_power, source_at_drivers
from dryfit.trades.safety.checks import assess_safety
from dryfit.trades.shafts.checks import assess_fixings, assess_shafts
from dryfit.trades.stability.checks import assess_stability
from dryfit.trades.weight.checks import assess_weight


def assess(m: Machine) -> Report:
    """Everything the trades find about a machine, or about many at once (leading axes of its numbers).

    Raises DesignError where the design asks for a reserve of a check that does not exist.
    """
    at = m.origins
    weight = assess_weight(at, m.brief, m.wheels, m.parts, m.arms)
    stability = assess_stability(
        at,
        m.brief,
        m.wheels,
        m.parts,
        m.arms,
        mass=weight.mass,
        centre_of_mass=weight.centre_of_mass,
        inertia=weight.inertia,
    )
    mesh = assess_mesh(at, m.gears, m.workshop)
    emf, source_resistance = source_at_drivers(at, m.power)
    drive = assess_drive(
        at,
        m.brief,
        m.wheels,
        m.motor,
        m.driver,
        mass=weight.mass,
        centre_of_mass=weight.centre_of_mass,
        wheel_load=weight.wheel_load,
        tip_acceleration=stability.tip_acceleration,
        gear_ratio=mesh.ratio,
        gear_efficiency=mesh.efficiency,
        emf=emf,
        source_resistance=source_resistance,
        link_loss_time=Term("t_link", "time to notice a lost link", m.safety.link_loss, "s", _link_loss(m)),
        postures=m.arms.postures,
    )
    teeth = assess_strength(at, m.gears, motor_torque=drive.motor_torque, motor_speed=drive.motor_speed, mesh=mesh)
    shafts = assess_shafts(
        at,
        m.axle,
        m.wheels,
        m.workshop,
        m.brief,
        wheel_load=weight.wheel_load,
        wheel_torque=drive.wheel_torque,
        wheel_speed=drive.wheel_speed,
    )
    backlash = assess_backlash(at, m.gears, m.workshop, mesh.layout, gear_displacement=shafts.gear_displacement)
    fixings = assess_fixings(
        at,
        m.brief,
        m.gears,
        m.axle,
        motor_torque=drive.motor_torque,
        wheel_torque=drive.wheel_torque,
        housing_temperature=drive.housing_temperature,
        tooth_temperature=teeth.tooth_temperature,
    )
    demand = light_demand(at, m.light)
    arms = assess_arms(at, m.arms, m.brief)
    power = assess_power(
        at,
        m.power,
        m.control,
        m.brief,
        m.light,
        m.arms,
        driver_power=drive.driver_power,
        strip_current=demand.strip_current,
        hold_current=arms.hold_current,
        moving_current=arms.moving_current,
        stall_current=arms.stall_current,
    )
    light = assess_light(
        at,
        m.light,
        m.brief,
        demand=demand,
        feed_voltage=power.feed_voltage,
        rails=power.strip_rails,
        rail_limit=power.strip_limit,
        white_time=power.white_time,
    )
    safety = assess_safety(
        at,
        m.safety,
        m.brief,
        mass=weight.mass,
        stopping_distance=drive.stopping_distance,
        tip_speed=arms.tip_speed,
    )
    results = (weight, stability, mesh, drive, teeth, shafts, backlash, fixings, power, light, arms, safety)
    findings = tuple(f for result in results for f in result.findings)
    _known_reserves(m, findings)
    figures = (
        Figure("mass", weight.mass),
        Figure("height", weight.height),
        _by_posture("centre-height", _centre_heights(weight.centre_of_mass), m.arms.postures),
        _by_posture("tipping", _weakest(stability.tip_acceleration), m.arms.postures),
        Figure("top-speed", drive.top_speed),
        Figure("stopping-way", drive.stopping_distance),
        Figure("run-time", power.run_time),
    )
    return Report(m.name, with_reserves(findings, m.reserves), figures, m.assumed)


def _link_loss(m: Machine) -> Origin:
    return m.origins["safety.link_loss.time"]


def _by_posture(key: str, term: Term, postures: tuple[str, ...]) -> Figure:
    if len(postures) > 1:
        return Figure(key, term, postures)
    return Figure(key, replace(term, value=np.asanyarray(term.value)[..., 0]))


def _centre_heights(centre: Term) -> Term:
    return Term("h", "height of the centre of mass", np.asanyarray(centre.value)[..., 2], "m", centre.origin)


def _weakest(tip_acceleration: Term) -> Term:
    weakest = np.min(np.asanyarray(tip_acceleration.value), axis=-1)
    return Term("a_tip", "tipping acceleration, weakest direction", weakest, "m/s2", tip_acceleration.origin)


def _known_reserves(m: Machine, findings: tuple[Finding, ...]) -> None:
    known = [f.check for f in findings]
    faults = [
        Fault("design.yaml", r.origin.line, f"reserves.{check}", f"there is no such check{nearest(check, known)}")
        for check, r in m.reserves.items()
        if check not in known
    ]
    if faults:
        raise DesignError(faults)
