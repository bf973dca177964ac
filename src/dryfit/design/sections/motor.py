"""Sections `base.motor` and `base.driver`: the gearmotor's sheet, the bridge that switches it, and their limits."""

from __future__ import annotations

from dryfit.design import fields as f

MOUNTS = ("PLA", "PETG", "ABS", "ASA", "PA", "PC", "metal")


class MotorLimits(f.Record):
    """Habits of the trade about motors, open to change."""

    running_share_of_stall: f.Share | None = None
    brief_share_of_stall: f.Share | None = None
    speed_reserve: f.Percent | None = None
    slope_speed_share: f.Share | None = None
    implied_efficiency_low: f.Share | None = None
    implied_efficiency_high: f.Share | None = None
    mount_temperature: f.Temperature | None = None
    ripple_share: f.Share | None = None
    audible: f.Frequency | None = None


class Motor(f.Record):
    """A brushed gearmotor as its sheet gives it at `voltage`; torque and speed at the gearbox's output shaft.

    One entry stands for the motor of every driven wheel.
    """

    item: f.Text | None = None
    voltage: f.PositiveVoltage | None = None
    free_speed: f.PositiveTurnRate | None = None
    stall_torque: f.PositiveTorque | None = None
    stall_current: f.PositiveCurrent | None = None
    free_current: f.Current | None = None
    winding_resistance: f.Resistance | None = None
    inductance: f.Inductance | None = None
    inertia: f.Inertia | None = None
    mass: f.Mass | None = None
    can_diameter: f.PositiveLength | None = None
    winding_to_housing: f.ThermalResistance | None = None
    housing_to_air: f.ThermalResistance | None = None
    winding_heat_capacity: f.HeatCapacity | None = None
    housing_heat_capacity: f.HeatCapacity | None = None
    highest_winding_temperature: f.Temperature | None = None
    mount_material: f.choice(*MOUNTS) | None = None  # type: ignore[valid-type]
    feedback: f.choice("none", "wheel speed", "heading") | None = None  # type: ignore[valid-type]
    scatter: f.Percent | None = None
    breakaway: f.PositiveNumber | None = None
    limits: MotorLimits = MotorLimits()


class DriverLimits(f.Record):
    """Habits of the trade about motor drivers, open to change."""

    chip_temperature: f.Temperature | None = None


class Driver(f.Record):
    """The full bridge in front of each motor. Resistances are those of both switches in the current's path."""

    item: f.Text | None = None
    continuous_current: f.PositiveCurrent | None = None
    limit_current: f.PositiveCurrent | None = None
    limits_current: f.PositiveCurrent | None = None
    resistance_cold: f.Resistance | None = None
    resistance_hot: f.Resistance | None = None
    supply_low: f.Voltage | None = None
    supply_high: f.PositiveVoltage | None = None
    pwm_frequency: f.Frequency | None = None
    highest_pwm_frequency: f.Frequency | None = None
    switching_time: f.Time | None = None
    thermal_resistance: f.ThermalResistance | None = None
    standby_current: f.Current | None = None
    lead_resistance: f.Resistance | None = None
    starts: f.choice("ramped", "at once") | None = None  # type: ignore[valid-type]
    stops: f.choice("ramped", "shorted", "coasting") | None = None  # type: ignore[valid-type]
    limits: DriverLimits = DriverLimits()
