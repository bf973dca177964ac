"""Readings at wheel units and on the first drive: currents, speeds, play, run-out, pull, times, ways to standstill."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.findings import Term, by_rule, calculated
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import practice
from dryfit.machine.brief import Brief
from dryfit.machine.gears import Gears
from dryfit.machine.motor import Driver, Motor
from dryfit.machine.power import Power
from dryfit.machine.wheels import Wheels
from dryfit.trades.bench import formulas as f
from dryfit.trades.bench.checks_terms import (
    CIRCUIT,
    MECHANICS,
    Handed,
    Prediction,
    clamp_meter,
    found,
    instrument,
    share_of,
    slug,
    unique,
)

RUN = 3.0
"""Length of the marked line, m."""
HALF = 0.5
"""Command at which a lifted wheel is tried."""
RUN_OUT = "base.wheels.run_out"
"""The number that all dial readings at the rims are about: the wheels share it."""
_FRICTION_SCATTER = 0.2
_LOCKED_SCATTER = 0.1
_DIRECTIONS = 72


def predict_drive(
    origins: Mapping[str, Origin],
    brief: Brief,
    wheels: Wheels,
    motor: Motor,
    driver: Driver,
    gears: Gears,
    power: Power,
    handed: Handed,
) -> tuple[Prediction, ...]:
    """Every wheel unit by itself, then the machine on the floor."""
    driven = [i for i, d in enumerate(wheels.driven) if d]
    names = unique(wheels.names)
    free = _FreeRun(origins, motor, gears, power, handed)
    out: list[Prediction] = []
    for i in driven:
        out += _unit(origins, names[i], i, brief, wheels, motor, driver, handed, free)
    return (*out, *_on_the_floor(origins, brief, wheels, motor, handed))


class _FreeRun:
    """A wheel unit that turns nothing but itself, on a bench supply at the packs' nominal voltage."""

    def __init__(self, origins: Mapping[str, Origin], motor: Motor, gears: Gears, power: Power, handed: Handed) -> None:
        def of_motor(symbol: str, name: str, key: str, unit: str) -> Term:
            return found(origins, symbol, name, getattr(motor, key), unit, f"base.motor.{key}")

        self.sheet = (
            of_motor("I_0", "free current of the sheet", "free_current", "A"),
            of_motor("I_s", "stall current of the sheet", "stall_current", "A"),
            of_motor("T_s", "stall torque of the sheet", "stall_torque", "N*m"),
        )
        self.volts = found(
            origins, "U_bench", "bench supply set to", power.packs.nominal, "V", "power.packs.nominal_voltage"
        )
        share = by_rule(
            "s", "part of the stall torque a motor is meant to run with", 0.3, "%",
            practice("seals and bearings rub as under the running load, 30 % of stall"),
        )  # fmt: skip
        losses: Num = 0.0
        terms = []
        if gears.paths:
            losses = 1 - np.prod(1 - np.asanyarray(gears.other_losses), axis=-1)
            terms = [
                found(origins, "v", f"other losses {name}".strip(), gears.other_losses[..., n][()], "%",
                      f"{path}.other_losses")
                for n, (path, name) in enumerate(zip(gears.paths, gears.names, strict=True))
            ]  # fmt: skip
        drag = f.drag_torque(losses, 0.3, motor.stall_torque)
        self.drag = calculated("T_d", "drag of gears and bearings at the motor's shaft", drag, "N*m", "v s T_s",
                               (*terms, share, self.sheet[2]))  # fmt: skip
        current = f.free_run_current(motor.free_current, drag, motor.stall_torque, motor.stall_current)
        self.current = calculated(
            "I_free", "current of the unit running free", current, "A", "I_0 + T_d (I_s - I_0)/T_s",
            (*self.sheet, self.drag), CIRCUIT,
        )  # fmt: skip
        shaft = f.free_run_speed(
            power.packs.nominal, current, motor.winding_resistance, motor.voltage, motor.free_current, motor.free_speed
        )
        self.speed = calculated(
            "ω_wheel", "speed of the wheel running free", (shaft / handed.gear_ratio.value)[()], "rad/s",
            "ω_0 (U_bench - I_free R)/(U_s - I_0 R)/i",
            (
                of_motor("ω_0", "free speed of the sheet", "free_speed", "rad/s"),
                of_motor("U_s", "voltage of the sheet", "voltage", "V"),
                of_motor("R", "winding", "winding_resistance", "ohm"),
                self.volts, self.current, handed.gear_ratio,
            ),
            CIRCUIT,
        )  # fmt: skip


def _unit(
    origins: Mapping[str, Origin],
    name: str,
    i: int,
    brief: Brief,
    wheels: Wheels,
    motor: Motor,
    driver: Driver,
    handed: Handed,
    free: _FreeRun,
) -> list[Prediction]:
    label = wheels.names[i]
    return [
        Prediction(
            f"{name}-free-current", f"Current of {label}'s unit running free on the bench supply", "wheel units",
            "free-current", free.current, clamp_meter(free.current.value),
            share_of("free current from motor to motor", free.current.value, "A", _FRICTION_SCATTER,
                     "the free currents of equal motors differ by a fifth"),
            given=(free.volts,),
        ),
        Prediction(
            f"{name}-free-speed", f"Speed of {label} running free on the bench supply", "wheel units",
            "free-speed", free.speed, instrument("a mark and a stop-watch", free.speed.value, "rad/s", 0.0, 0.02),
            share_of("speed from motor to motor", free.speed.value, "rad/s", motor.scatter,
                     "speeds of equal motors at equal volts differ"),
            given=(free.volts,),
        ),
        *_play(name, label, i, wheels, handed),
        _run_out(origins, name, label, i, wheels),
        _half(origins, name, label, driver, free),
        _locked(origins, name, label, brief, motor, driver, handed),
    ]  # fmt: skip


def _play(name: str, label: str, i: int, wheels: Wheels, handed: Handed) -> list[Prediction]:
    if handed.backlash is None or handed.backlash_error is None:
        return []
    radius = wheels.radius[..., i]
    play = _at_rim(radius, handed.backlash.value, handed)
    off = _at_rim(radius, handed.backlash_error.value, handed)
    term = calculated(
        "x_j", "free travel of the rim, the motor's shaft held", play, "m", "r j cos α_w/r_b, by stage over the ratios",
        (handed.backlash, handed.gear_ratio), MECHANICS,
    )  # fmt: skip
    scatter = calculated("u", "what print and mount do to it", off, "m", "r Δj cos α_w/r_b", (handed.backlash_error,))
    accuracy = instrument("a dial gauge at the rim", play, "m", 5e-5, 0.03)
    title = f"Free travel at the rim of {label}, the motor's shaft held"
    return [Prediction(f"{name}-play", title, "wheel units", "play", term, accuracy, scatter)]


def _at_rim(radius: Num, backlash: Num, handed: Handed) -> Array:
    return f.play_at(radius, backlash, handed.working, handed.stage_ratio, handed.gear_base)


def _run_out(origins: Mapping[str, Origin], name: str, label: str, i: int, wheels: Wheels) -> Prediction:
    e = found(origins, "e", f"run-out of {label}", wheels.run_out[..., i][()], "m", RUN_OUT)
    term = calculated("TIR", "full reading of the dial over a turn", f.dial_reading(e.value), "m", "2 e", (e,))
    accuracy = instrument("a dial gauge at the rim", term.value, "m", 2e-5, 0.0)
    title = f"Dial gauge at the rim of {label} over one turn, greatest less least"
    return Prediction(f"{name}-run-out", title, "wheel units", "run-out", term, accuracy, reads=RUN_OUT, most=True)


def _half(origins: Mapping[str, Origin], name: str, label: str, driver: Driver, free: _FreeRun) -> Prediction:
    standby = found(origins, "I_b", "standby of the bridge", driver.standby_current, "A", "base.driver.standby_current")
    half = by_rule("D", "command", HALF, "%", practice("half command shows a bad bridge without a fast wheel"))
    value = f.chopped_supply_current(HALF, free.current.value, driver.standby_current)
    term = calculated(
        "I_half", "current into the bridge at half command, wheel lifted", value, "A", "D I_free + I_b",
        (half, free.current, standby), CIRCUIT,
    )  # fmt: skip
    scatter = share_of("from motor to motor", value, "A", _FRICTION_SCATTER,
                       "the free currents of equal motors differ by a fifth")  # fmt: skip
    title = f"Current into {label}'s bridge at half command, wheel lifted"
    return Prediction(f"{name}-half-current", title, "logic", "half-current", term, clamp_meter(value), scatter)


def _locked(
    origins: Mapping[str, Origin],
    name: str,
    label: str,
    brief: Brief,
    motor: Motor,
    driver: Driver,
    handed: Handed,
) -> Prediction:
    emf, source = (np.asanyarray(t.value)[..., 0] for t in (handed.emf, handed.source_resistance))
    winding = f.at_temperature(motor.winding_resistance, brief.ambient)
    path = winding + driver.resistance_cold + driver.lead_resistance
    most = np.minimum(driver.limits_current, driver.limit_current)
    value = f.locked_current(emf, source, path, most)
    term = calculated(
        "I_lock", "current of one locked wheel at full command, cold", value, "A",
        "E/(R_q + R + R_bridge + R_leads), at most what the bridge lets through",
        (
            handed.emf, handed.source_resistance,
            calculated(
                "R", "winding in the room", winding, "ohm", "R_25 (1 + α (ϑ - 25 °C))",
                (
                    found(origins, "R_25", "winding at 25 °C", motor.winding_resistance, "ohm",
                          "base.motor.winding_resistance"),
                    found(origins, "ϑ", "temperature of the room", brief.ambient, "K", "brief.ambient"),
                ),
                CIRCUIT,
            ),
            found(origins, "R_bridge", "bridge, cold", driver.resistance_cold, "ohm", "base.driver.resistance_cold"),
            found(origins, "R_leads", "leads", driver.lead_resistance, "ohm", "base.driver.lead_resistance"),
        ),
        CIRCUIT,
    )  # fmt: skip
    scatter = share_of("from motor to motor", value, "A", _LOCKED_SCATTER,
                       "brushes and winding of equal motors differ by a tenth")  # fmt: skip
    title = f"Current of {label}'s motor, wheel locked, one short pulse at full command"
    accuracy = instrument("a clamp meter that holds its peak", value, "A", 0.1, 0.04)
    return Prediction(f"{name}-locked-current", title, "logic", "locked-current", term, accuracy, scatter)


def _on_the_floor(
    origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, motor: Motor, handed: Handed
) -> list[Prediction]:
    first = next((i for i, d in enumerate(wheels.driven) if d), 0)
    roams = all(k in ("omni", "mecanum") for k, d in zip(wheels.kinds, wheels.driven, strict=True) if d)
    ahead = 0.0 if roams else float(np.ravel(np.asanyarray(wheels.heading)[..., first])[0])
    second = ("sideways", ahead + np.pi / 2) if roams else ("backwards", ahead + np.pi)
    out = [_slip(origins, brief, wheels, handed, ahead)]
    out += [_timed(origins, brief, wheels, motor, handed, *way) for way in (("forwards", ahead), second)]
    for key, title, term in (
        ("stopping-distance", "Way to standstill on the level after the stick is let go", handed.stop),
        ("link-loss-distance", "Way to standstill on the level after the transmitter is switched off", handed.lost),
    ):
        accuracy = instrument("a tape, and an eye for the line", term.value, "m", 0.03, 0.02)
        scatter = share_of("from stop to stop", term.value, "m", 0.1, "stops on one floor differ by a tenth")
        speed = found(origins, "v", "speed", brief.speed, "m/s", "brief.speed")
        out.append(Prediction(key, title, "first drive", key, term, accuracy, scatter, given=(speed,)))
    return out


def _slip(origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, handed: Handed, ahead: float) -> Prediction:
    loads = np.asanyarray(handed.wheel_load.value)[..., 0, :]
    rollers = np.array([0.0 if kind == "tyre" else 1.0 for kind in wheels.kinds])
    locked = np.array(wheels.driven, dtype=float)
    line = np.asanyarray(wheels.heading) + wheels.roller_angle
    value = f.slip_pull(brief.friction, loads, line, rollers, locked, ahead)
    friction = found(origins, "µ", "grip of the floor", brief.friction, "1", "brief.friction")
    term = calculated(
        "F_slip", "pull at which it slides, driven wheels locked", value, "N", "µ Σ N |cos to the line of pull|",
        (friction, handed.wheel_load), MECHANICS,
    )  # fmt: skip
    accuracy = instrument("a luggage scale pulled by hand", value, "N", 2.0, 0.05)
    scatter = share_of(
        "from place to place", value, "N", 0.1, "grip of one floor differs by a tenth from place to place"
    )
    title = "Pull low down and forwards at which it slides, driven wheels locked"
    return Prediction("pull-at-slip", title, "first drive", "pull", term, accuracy, scatter)


def _timed(
    origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, motor: Motor, handed: Handed, name: str, way: float
) -> Prediction:
    k = round(way / (2 * np.pi) * _DIRECTIONS) % _DIRECTIONS
    there = np.asanyarray(handed.speed_by_direction.value)[..., k]
    speed = np.minimum(brief.speed, there)
    value = f.run_time(RUN, speed, brief.acceleration, brief.braking)
    terms = (
        found(origins, "v", "speed", brief.speed, "m/s", "brief.speed"),
        found(origins, "a", "acceleration", brief.acceleration, "m/s2", "brief.acceleration"),
        found(origins, "b", "braking", brief.braking, "m/s2", "brief.braking"),
        Term("v_top", f"top speed {name}", there[()], "m/s", handed.speed_by_direction.origin),
        by_rule("d", "marked line", RUN, "m", practice("long enough for a stop-watch")),
    )
    term = calculated(
        "t", f"time over the marked line {name}, standstill to standstill", value, "s", "d/v + v/(2a) + v/(2b)", terms,
        MECHANICS,
    )  # fmt: skip
    driven = [i for i, d in enumerate(wheels.driven) if d]
    off = np.max(wheels.scatter[..., driven], axis=-1)
    off = np.hypot(off, motor.scatter) if motor.feedback == "none" else off
    scatter = share_of(
        "speeds of wheels and motors", value, "s", off, "unequal wheels, and motors where nothing measures"
    )
    accuracy = instrument("a stop-watch", value, "s", 0.3, 0.0)
    title = f"Time over {RUN:.0f} m {name}, standstill to standstill, at show speed"
    return Prediction(f"run-{slug(name)}", title, "first drive", "run", term, accuracy, scatter)
