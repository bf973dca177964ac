"""The gearmotor behind each driven wheel, and the bridge that switches it, as numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dryfit.catalogue.rows import Row
from dryfit.design.sections.motor import Driver as DriverRecord
from dryfit.design.sections.motor import Motor as MotorRecord
from dryfit.ground import units
from dryfit.ground.quantity import Num, Quantity
from dryfit.ground.sources import Source, memory, practice
from dryfit.machine.ledger import Default, Ledger

_MOUNT_LIMITS = {
    "PLA": "50 degC", "PETG": "65 degC", "ABS": "85 degC", "ASA": "85 degC", "PA": "90 degC", "PC": "100 degC",
    "metal": "90 degC",
}  # fmt: skip
AIR_FILM = 12.0
"""Heat that a small motor's can gives to still air, W/(m²·K): common practice, free convection and radiation."""
CAN_HEAT = 460.0
"""Specific heat of steel, J/(kg·K), from memory."""
MECHANICAL_TIME = 0.03
"""Time in which a small brushed motor without load comes to speed, s: common practice, 10 to 50 ms."""
ELECTRICAL_TIME = 0.5e-3
"""Inductance over resistance of a small brushed motor, s: common practice, 0.2 to 1 ms."""


@dataclass(frozen=True)
class Motor:
    """One gearmotor; SI, torque and speed at the gearbox's output shaft, temperatures in K, all (...,).

    voltage: at which the sheet holds.  inertia: of rotor and gearbox seen at the output shaft, kg·m².
    winding_to_housing, housing_to_air: K/W.  winding_heat_capacity, housing_heat_capacity: J/K.
    breakaway: how much more than rolling it takes to start from rest.  scatter: how far the speeds of two equal motors
    at equal duty lie from one another, half-width as a fraction.  lim_*: habits of the trade, open to `limits`.
    """

    voltage: Num
    free_speed: Num
    stall_torque: Num
    stall_current: Num
    free_current: Num
    winding_resistance: Num
    inductance: Num
    inertia: Num
    winding_to_housing: Num
    housing_to_air: Num
    winding_heat_capacity: Num
    housing_heat_capacity: Num
    highest_winding_temperature: Num
    mount_material: str
    feedback: str
    scatter: Num
    breakaway: Num
    lim_running_share: Num
    lim_brief_share: Num
    lim_speed_reserve: Num
    lim_slope_speed: Num
    lim_efficiency_low: Num
    lim_efficiency_high: Num
    lim_mount_temperature: Num
    lim_ripple: Num
    lim_audible: Num


@dataclass(frozen=True)
class Driver:
    """One full bridge; SI, all (...,). Resistances: both switches together.

    limit_current: lowest current at which the bridge may trip.  limits_current: current it holds by itself, infinite
    where it has no such limit.  starts, stops: how the controller begins and ends a movement.
    """

    continuous_current: Num
    limit_current: Num
    limits_current: Num
    resistance_cold: Num
    resistance_hot: Num
    supply_low: Num
    supply_high: Num
    pwm_frequency: Num
    highest_pwm_frequency: Num
    switching_time: Num
    thermal_resistance: Num
    standby_current: Num
    lead_resistance: Num
    starts: str
    stops: str
    lim_chip_temperature: Num


def resolve_motor(r: MotorRecord, ledger: Ledger) -> Motor:
    """Numbers of the motor's sheet; what the sheet leaves out is reckoned from it or taken as usual for its size."""
    row = ledger.row("base.motor.item", "gearmotors", r.item)

    def take(key: str, dimension: units.Dimension, text: str, spread: float, reason: str) -> Num:
        default = Default(text, spread, reason)
        return ledger.take(f"base.motor.{key}", dimension, getattr(r, key), row, default)

    def limit(key: str, dimension: units.Dimension, text: str, source: Source) -> Num:
        default = Default(text, 0.0, source.title, source)
        return ledger.take(f"base.motor.limits.{key}", dimension, getattr(r.limits, key), None, default)

    def reckoned(key: str, value: Num, spread: float, reason: str) -> Num:
        return _given_or(f"base.motor.{key}", getattr(r, key), row, value, spread, reason, ledger)

    voltage = take("voltage", units.POSITIVE_VOLTAGE, "12 V", 0.0, "usual for small gearmotors")
    free_speed = take("free_speed", units.POSITIVE_TURN_RATE, "150 rpm", 0.3, "usual for a small gearmotor")
    stall_torque = take("stall_torque", units.POSITIVE_TORQUE, "3.0 N*m", 0.4, "usual for a small gearmotor")
    stall_current = take("stall_current", units.POSITIVE_CURRENT, "7 A", 0.4, "usual for a small gearmotor")
    free_current = take("free_current", units.CURRENT, "0.4 A", 0.4, "usual for a small gearmotor")
    mass = take("mass", units.MASS, "0.36 kg", 0.3, "usual for a small gearmotor")
    can = take("can_diameter", units.POSITIVE_LENGTH, "37 mm", 0.2, "usual for a small gearmotor")
    resistance = reckoned("winding_resistance", voltage / stall_current, 0.1, "voltage over stall current of the sheet")
    mount = ledger.choose(
        "base.motor.mount_material", r.mount_material, "PLA", "the usual print material, and the one that softens first"
    )
    if np.all(np.asanyarray(stall_current) <= np.asanyarray(free_current)):
        ledger.fault(
            "base.motor.free_current",
            "the free current is not below the stall current",
            accepted="a free current of a few percent of the stall current",
        )
    return Motor(
        voltage=voltage,
        free_speed=free_speed,
        stall_torque=stall_torque,
        stall_current=stall_current,
        free_current=free_current,
        winding_resistance=resistance,
        inductance=reckoned(
            "inductance", ELECTRICAL_TIME * resistance, 0.6, "an electrical time constant of 0.5 ms; measure yours"
        ),
        inertia=reckoned(
            "inertia",
            MECHANICAL_TIME * stall_torque / free_speed,
            0.6,
            "comes to free speed without load with a time constant of 30 ms",
        ),
        winding_to_housing=take("winding_to_housing", units.THERMAL_RESISTANCE, "3.0 K/W", 0.4, "small brushed motor"),
        housing_to_air=reckoned(
            "housing_to_air",
            1 / (AIR_FILM * 3 * np.pi * can**2),
            0.4,
            "a can 2.5 diameters long that gives 12 W per square metre and kelvin to still air",
        ),
        winding_heat_capacity=take("winding_heat_capacity", units.HEAT_CAPACITY, "25 J/K", 0.4, "small brushed motor"),
        housing_heat_capacity=reckoned("housing_heat_capacity", CAN_HEAT * mass, 0.3, "the motor's mass as steel"),
        highest_winding_temperature=take(
            "highest_winding_temperature", units.TEMPERATURE, "120 degC", 0.0, "insulation of the lowest usual class"
        ),
        mount_material=mount,
        feedback=ledger.choose("base.motor.feedback", r.feedback, "none", "no sensor on the wheels was given"),
        scatter=take("scatter", units.PERCENT, "5 %", 0.5, "speeds of equal cheap gearmotors at equal duty"),
        breakaway=take("breakaway", units.POSITIVE_NUMBER, "1.5", 0.3, "starting takes half as much again as rolling"),
        lim_running_share=limit(
            "running_share_of_stall",
            units.SHARE,
            "30 %",
            practice("run a brushed gearmotor at no more than 25 to 30 % of its stall torque"),
        ),
        lim_brief_share=limit(
            "brief_share_of_stall",
            units.SHARE,
            "40 %",
            practice("for seconds at a time, 40 % of stall torque is bearable"),
        ),
        lim_speed_reserve=limit(
            "speed_reserve", units.PERCENT, "120 %", practice("have 1.2 times the show speed at the loaded point")
        ),
        lim_slope_speed=limit(
            "slope_speed_share", units.SHARE, "60 %", practice("ramps are climbed slower than the level is driven")
        ),
        lim_efficiency_low=limit(
            "implied_efficiency_low",
            units.SHARE,
            "40 %",
            practice("a gearmotor's sheet implies an efficiency of 40 to 95 %"),
        ),
        lim_efficiency_high=limit(
            "implied_efficiency_high",
            units.SHARE,
            "95 %",
            practice("a gearmotor's sheet implies an efficiency of 40 to 95 %"),
        ),
        lim_mount_temperature=limit(
            "mount_temperature",
            units.TEMPERATURE,
            _MOUNT_LIMITS[mount],
            practice(f"a loaded mount of {mount} stays below {_MOUNT_LIMITS[mount]}"),
        ),
        lim_ripple=limit("ripple_share", units.SHARE, "20 %", practice("current ripple of no more than 20 %")),
        lim_audible=limit("audible", units.FREQUENCY, "16 kHz", practice("above 16 kHz few people hear a motor sing")),
    )


def resolve_driver(r: DriverRecord, ledger: Ledger) -> Driver:
    """Numbers of the bridge; defaults are those of a board with half-bridge drivers of the 43 A trip class."""
    row = ledger.row("base.driver.item", "drivers", r.item)
    usual = "board of two half-bridge drivers, 43 A trip class"

    def take(key: str, dimension: units.Dimension, text: str, spread: float, reason: str = usual) -> Num:
        default = Default(text, spread, reason)
        return ledger.take(f"base.driver.{key}", dimension, getattr(r, key), row, default)

    chip = memory("sheet of a half-bridge driver: chips switch off near 150 degC; 125 degC leaves room")
    return Driver(
        continuous_current=take("continuous_current", units.POSITIVE_CURRENT, "10 A", 0.3),
        limit_current=take("limit_current", units.POSITIVE_CURRENT, "34 A", 0.0),
        limits_current=_given_or(
            "base.driver.limits_current", r.limits_current, row, np.inf, 0.0, "holds no current limit by itself", ledger
        ),
        resistance_cold=take("resistance_cold", units.RESISTANCE, "16 mohm", 0.2),
        resistance_hot=take("resistance_hot", units.RESISTANCE, "24 mohm", 0.2),
        supply_low=take("supply_low", units.VOLTAGE, "5.5 V", 0.0),
        supply_high=take("supply_high", units.POSITIVE_VOLTAGE, "27 V", 0.0),
        pwm_frequency=take(
            "pwm_frequency", units.FREQUENCY, "20 kHz", 0.0, "not heard, and within what the bridge takes"
        ),
        highest_pwm_frequency=take("highest_pwm_frequency", units.FREQUENCY, "25 kHz", 0.0),
        switching_time=take("switching_time", units.TIME, "0.5 us", 0.5),
        thermal_resistance=take("thermal_resistance", units.THERMAL_RESISTANCE, "12 K/W", 0.4),
        standby_current=take("standby_current", units.CURRENT, "10 mA", 0.5),
        lead_resistance=take(
            "lead_resistance", units.RESISTANCE, "20 mohm", 0.5, "half a metre of 1 mm2 there and back"
        ),
        starts=ledger.choose("base.driver.starts", r.starts, "ramped", "the usual way to write a motor's programme"),
        stops=ledger.choose("base.driver.stops", r.stops, "ramped", "the usual way to write a motor's programme"),
        lim_chip_temperature=ledger.take(
            "base.driver.limits.chip_temperature",
            units.TEMPERATURE,
            r.limits.chip_temperature,
            None,
            Default("125 degC", 0.0, chip.title, chip),
        ),
    )


def _given_or(
    path: str, typed: Quantity | None, row: Row | None, value: Num, spread: float, reason: str, ledger: Ledger
) -> Num:
    """The value typed or of the row; otherwise one reckoned from other entries, listed as a default."""
    if typed is not None or (row is not None and path.rpartition(".")[2] in row.quantities):
        return ledger.take(path, units.NUMBER, typed, row)
    return ledger.reckon(path, value, "reckoned", spread, reason)
