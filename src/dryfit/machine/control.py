"""The controller as numbers and words: board, pins and their timers, functions, driver inputs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.catalogue.rows import Row, row
from dryfit.design.sections.control import Control as ControlRecord
from dryfit.design.sections.control import DriverInput, Function
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Array, Num, Quantity
from dryfit.ground.sources import memory, practice
from dryfit.machine.ledger import Default, Ledger

DEFAULT_BOARD = "8-bit-16mhz-5v"


@dataclass(frozen=True)
class Board:
    """What the board offers. timers: PWM-able pin -> its timer.  pins: all pins.  servo_timer: the timer that servo
    pulses take ("" when any PWM unit gives them).  blocks_interrupts: while a strip is being written."""

    name: str
    pins: tuple[str, ...]
    timers: Mapping[str, str]
    interrupts: tuple[str, ...]
    analogue: tuple[str, ...]
    serial: tuple[str, ...]
    servo_timer: str
    blocks_interrupts: bool


@dataclass(frozen=True)
class Control:
    """F functions and D driver inputs; SI. board_current, extra_current: what the board draws, and what hangs on it.

    paths, names, pins, needs: F words each (pin "" where not given).  frequency, pin_load (..., F), NaN and 0 where
    not given.  input_paths, input_names, reset_states: D.  pull_down (..., D), ohm, infinite where there is none.
    functions_given, inputs_given: whether the design says anything about them.
    """

    board: Board
    supply_voltage: Num
    board_current: Num
    extra_current: Num
    brown_out: Num
    pin_current: Num
    total_current: Num
    leakage: Num
    functions_given: bool
    paths: tuple[str, ...]
    names: tuple[str, ...]
    pins: tuple[str, ...]
    needs: tuple[str, ...]
    frequency: Array
    pin_load: Array
    inputs_given: bool
    input_paths: tuple[str, ...]
    input_names: tuple[str, ...]
    reset_states: tuple[str, ...]
    pull_down: Array
    lim_blocked_time: Num
    lim_pin_share: Num
    lim_floating_low: Num


def resolve_control(record: ControlRecord | None, ledger: Ledger) -> Control:
    """Numbers of the control section; an 8-bit board is assumed where none is named."""
    r = record or ControlRecord()
    named = ledger.row("control.item", "controllers", r.item)
    kind = named or row("controllers", DEFAULT_BOARD)
    reason = "an 8-bit board is assumed"

    def take(key: str, dimension: units.Dimension, typed: Quantity | None, text: str) -> Num:
        return ledger.take(f"control.{key}", dimension, typed, named, Default(text, 0.3, reason))

    def limit(key: str, dimension: units.Dimension, text: str, why: str) -> Num:
        default = Default(text, 0.0, why, practice(why))
        return ledger.take(f"control.limits.{key}", dimension, getattr(r.limits, key), None, default)

    extra = ledger.take(
        "control.extra_current",
        units.CURRENT,
        r.extra_current,
        None,
        Default("100 mA", 0.5, "receiver, sensors and level shifters"),
    )
    functions, inputs = list(r.functions or []), list(r.driver_inputs or [])
    board = _board(r, kind, ledger)
    pins = tuple(_pin(f, n, board, ledger) for n, f in enumerate(functions))
    paths = tuple(f"control.functions[{n}]" for n in range(len(functions)))
    input_paths = tuple(f"control.driver_inputs[{n}]" for n in range(len(inputs)))
    return Control(
        board=board,
        supply_voltage=take("supply_voltage", units.VOLTAGE, r.supply_voltage, "5 V"),
        board_current=take("current", units.CURRENT, r.current, "50 mA"),
        extra_current=extra,
        brown_out=take("brown_out", units.VOLTAGE, r.brown_out, "4.3 V"),
        pin_current=take("pin_current", units.CURRENT, r.pin_current, "20 mA"),
        total_current=take("total_current", units.CURRENT, r.total_current, "150 mA"),
        leakage=take("leakage", units.CURRENT, r.leakage, "0.001 mA"),
        functions_given=r.functions is not None,
        paths=paths,
        names=tuple(str(f.name) for f in functions),
        pins=pins,
        needs=tuple(str(f.needs) for f in functions),
        frequency=_numbers(functions, paths, "frequency", np.nan, ledger),
        pin_load=_numbers(functions, paths, "current", 0.0, ledger),
        inputs_given=r.driver_inputs is not None,
        input_paths=input_paths,
        input_names=tuple(str(d.name) for d in inputs),
        reset_states=tuple(str(d.reset_state or "floating") for d in inputs),
        pull_down=_numbers(inputs, input_paths, "pull_down", np.inf, ledger),
        lim_blocked_time=limit(
            "blocked_time", units.TIME, "0.5 ms", "a receiver pulse must not wait longer than half a millisecond"
        ),
        lim_pin_share=limit("pin_share", units.SHARE, "80 %", "plan 80 % of what a pin may carry"),
        lim_floating_low=ledger.take(
            "control.limits.floating_low", units.VOLTAGE, r.limits.floating_low, None,
            Default("1.1 V", 0.0, "a half-bridge driver's input reads low up to here",
                    memory("data sheets of half-bridge drivers")),
        ),
    )  # fmt: skip


def _board(r: ControlRecord, kind: Row, ledger: Ledger) -> Board:
    words = kind.words
    pairs = [str(w) for w in r.pwm_pins] if r.pwm_pins is not None else words.get("pwm_pins", "").split()
    timers: dict[str, str] = {}
    for n, pair in enumerate(pairs):
        pin, _, timer = pair.partition(":")
        if not (pin and timer):
            ledger.fault(f"control.pwm_pins[{n}]", "not a pin with its timer", read=pair, accepted="pin:timer as 9:T1")
        timers[pin] = timer
    digital, interrupts, analogue, serial = (
        _spelled_out(words.get(key, "")) for key in ("digital_pins", "interrupt_pins", "analogue_pins", "serial_pins")
    )
    return Board(
        name=kind.name, pins=tuple(dict.fromkeys((*digital, *analogue, *timers))), timers=timers,
        interrupts=interrupts, analogue=analogue, serial=serial,
        servo_timer=str(r.servo_timer) if r.servo_timer is not None else words.get("servo_timer", ""),
        blocks_interrupts=str(r.strip_output or words.get("strip_output", "")) != "in hardware",
    )  # fmt: skip


def _spelled_out(text: str) -> tuple[str, ...]:
    """Pins of a catalogue cell: "0-3 A0" stands for 0 1 2 3 A0."""
    pins: list[str] = []
    for word in text.split():
        low, dash, high = word.partition("-")
        pins += [str(n) for n in range(int(low), int(high) + 1)] if dash else [word]
    return tuple(pins)


def _pin(function: Function, n: int, board: Board, ledger: Ledger) -> str:
    ledger.origins[f"control.functions[{n}].name"] = function.name.origin
    if function.pin is None:
        return ""
    pin = str(function.pin)
    ledger.origins[f"control.functions[{n}].pin"] = function.pin.origin
    if pin not in board.pins:
        ledger.fault(
            f"control.functions[{n}].pin", f"the {board.name} has no pin {pin}{nearest(pin, board.pins)}", read=pin,
            line=function.pin.origin.line,
        )  # fmt: skip
    return pin


def _numbers(
    records: Sequence[Function | DriverInput], paths: tuple[str, ...], key: str, otherwise: float, ledger: Ledger
) -> Array:
    values: list[Num] = []
    for r, path in zip(records, paths, strict=True):
        typed: Quantity | None = getattr(r, key)
        ledger.origins[f"{path}.name"] = r.name.origin
        if typed is not None:
            ledger.origins[f"{path}.{key}"] = typed.origin
        values.append(otherwise if typed is None else typed.si)
    return stack(values) if values else np.zeros((0,))
