"""Section `control`: the controller board, what its pins do, and the driver inputs at power-up."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dryfit.design import fields as f

if TYPE_CHECKING:
    Need = f.Word
    ResetState = f.Word
    StripOutput = f.Word
else:
    Need = f.choice(
        "pwm", "servo pulses", "strip data", "interrupt", "receiver", "analogue", "serial", "output", "input"
    )
    ResetState = f.choice("floating", "low", "high")
    StripOutput = f.choice("blocks interrupts", "in hardware")


class Function(f.Record):
    """One job of one pin. `frequency` of a PWM and `current` drawn from the pin are optional."""

    name: f.Text
    pin: f.Text | None = None
    needs: Need
    frequency: f.Frequency | None = None
    current: f.Current | None = None


class DriverInput(f.Record):
    """An input of a motor driver as it stands while the controller starts: held by a resistor, or floating."""

    name: f.Text
    reset_state: ResetState | None = None
    pull_down: f.Resistance | None = None


class ControlLimits(f.Record):
    """Habits of the trade that a maker may tighten or relax."""

    blocked_time: f.Time | None = None
    pin_share: f.Share | None = None
    floating_low: f.Voltage | None = None


class Control(f.Record):
    """Board, functions and driver inputs."""

    item: f.Text | None = None
    supply_voltage: f.PositiveVoltage | None = None
    current: f.Current | None = None
    extra_current: f.Current | None = None
    brown_out: f.Voltage | None = None
    pin_current: f.PositiveCurrent | None = None
    total_current: f.PositiveCurrent | None = None
    leakage: f.Current | None = None
    pwm_pins: list[f.Text] | None = None
    servo_timer: f.Text | None = None
    strip_output: StripOutput | None = None
    functions: list[Function] | None = None
    driver_inputs: list[DriverInput] | None = None
    limits: ControlLimits = ControlLimits()
