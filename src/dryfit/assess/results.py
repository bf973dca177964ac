"""Run the trades in order and hand results on: what each of them found, before it becomes a report."""

from __future__ import annotations

from dataclasses import dataclass

from dryfit.ground.findings import Finding, Term
from dryfit.ground.quantity import Origin
from dryfit.machine.machine import Machine
from dryfit.trades.arms.checks import ArmsResult, assess_arms
from dryfit.trades.drive.checks import DriveResult, assess_drive
from dryfit.trades.gears.checks import assess_backlash, assess_mesh, assess_strength
from dryfit.trades.gears.checks_backlash import BacklashResult
from dryfit.trades.gears.checks_mesh import MeshResult
from dryfit.trades.gears.checks_strength import StrengthResult
from dryfit.trades.light.checks import LightDemand, LightResult, assess_light, light_demand
from dryfit.trades.power.checks import PowerResult, assess_power, source_at_drivers
from dryfit.trades.safety.checks import SafetyResult, assess_safety
from dryfit.trades.shafts.checks import ShaftsResult, assess_fixings, assess_shafts
from dryfit.trades.shafts.checks_fixings import FixingsResult
from dryfit.trades.stability.checks import StabilityResult, assess_stability
from dryfit.trades.weight.checks import WeightResult, assess_weight


@dataclass(frozen=True)
class Results:
    """What every trade found about a machine, or about many at once."""

    weight: WeightResult
    stability: StabilityResult
    mesh: MeshResult
    drive: DriveResult
    teeth: StrengthResult
    shafts: ShaftsResult
    backlash: BacklashResult
    fixings: FixingsResult
    demand: LightDemand
    power: PowerResult
    light: LightResult
    arms: ArmsResult
    safety: SafetyResult

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The findings of all trades, in the order in which they ran."""
        trades = (
            self.weight, self.stability, self.mesh, self.drive, self.teeth, self.shafts, self.backlash, self.fixings,
            self.power, self.light, self.arms, self.safety,
        )  # fmt: skip
        return tuple(f for trade in trades for f in trade.findings)


def results(m: Machine) -> Results:
    """Run every trade. Every number handed on is a Term with its workings."""
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
    return Results(weight, stability, mesh, drive, teeth, shafts, backlash, fixings, demand, power, light, arms, safety)


def _link_loss(m: Machine) -> Origin:
    return m.origins["safety.link_loss.time"]
