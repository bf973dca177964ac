"""What instruments at the bench should read: currents, volts, pulls, times and plays, as pure relations.

A brushed gearmotor is taken as the straight line V = I·R + k_e·ω, T = k_t·(I - I_0) at its output shaft (Hughes &
Drury, Electric Motors and Drives, from memory). Numbers are SI; every argument may be an array.
"""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num
from dryfit.ground.units import STANDARD_GRAVITY

COPPER = 0.00393
"""Rise of copper's resistance, 1/K (IEC 60228 gives it at 20 °C, from memory)."""
REFERENCE_TEMPERATURE = 298.15
"""Temperature at which a motor's sheet holds, K: common practice, 25 °C."""


def drag_torque(losses: Num, running_share: Num, stall_torque: Num) -> Array:
    """Torque at the motor's shaft, N·m, that turns gears and bearings when the wheel drives nothing: v·s·T_s.

    losses: share of the power lost outside the teeth, all stages together; running_share: part of the stall torque
    that a motor is meant to run with. Bearings and seals rub as much without a load as with one (common practice).
    """
    return np.asanyarray(losses * running_share * stall_torque)[()]


def free_run_current(free_current: Num, drag: Num, stall_torque: Num, stall_current: Num) -> Array:
    """Current of a motor that turns nothing but its own gears, A: I_0 + T_d/k_t, k_t = T_s/(I_s - I_0)."""
    return np.asanyarray(free_current + drag * (stall_current - free_current) / stall_torque)[()]


def free_run_speed(
    volts: Num, current: Num, resistance: Num, sheet_volts: Num, free_current: Num, free_speed: Num
) -> Array:
    """Speed of the motor's shaft, rad/s, at `volts` and `current`: (V - I·R)/k_e, k_e = (V_s - I_0·R)/ω_0."""
    return np.asanyarray(free_speed * (volts - current * resistance) / (sheet_volts - free_current * resistance))[()]


def chopped_supply_current(duty: Num, current: Num, standby: Num) -> Array:
    """Mean current that a chopping bridge takes from its supply, A: D·I + standby.

    The motor's current flows from the supply for the part D of the time and round the bridge for the rest of it.
    """
    return np.asanyarray(duty * current + standby)[()]


def at_temperature(resistance: Num, temperature: Num) -> Array:
    """Resistance of copper, ohm, at a temperature, K, from that at 25 °C: R·(1 + α·(T - T_ref))."""
    return np.asanyarray(resistance * (1 + COPPER * (temperature - REFERENCE_TEMPERATURE)))[()]


def locked_current(emf: Num, source: Num, path: Num, most: Num) -> Array:
    """Current of one motor held fast at full command, A: E/(R_source + R_path), or what its bridge lets through."""
    return np.asanyarray(np.minimum(emf / (source + path), most))[()]


def volts_into(emf: Num, resistance: Num, power: Num) -> Array:
    """Volts at the input of a regulator that takes a power, V: upper root of U² - E·U + R·P = 0; NaN where there is
    none."""
    root = np.asanyarray(emf * emf - 4 * resistance * power, dtype=float)
    good = root >= 0
    volts: Array = np.where(good, (emf + np.sqrt(np.where(good, root, 0.0))) / 2, np.nan)
    return volts[()]


def regulated_volts(volts: Num, output: Num, dropout: Num) -> Array:
    """Volts behind a step-down or linear regulator, V: its output, or what the input leaves over the dropout.

    dropout: minus infinity for one that also steps up, which keeps its output.
    """
    return np.asanyarray(np.minimum(output, volts - dropout))[()]


def slip_pull(friction: Num, load: Num, line: Num, rollers: Num, locked: Num, heading: Num) -> Array:
    """Pull, N, that drags a machine with locked wheels along `heading`: µ·Σ N_i·|cos(line_i - heading)| of wheels with
    free rollers, which hold only along their line of pull; µ·Σ N_i of tyres.

    load, line (..., W): N, rad.  rollers, locked (W,): 1 yes, 0 no; a wheel that is not locked holds nothing.
    """
    angle = np.asanyarray(line) - np.asanyarray(heading)[..., None]
    along = 1 - np.asanyarray(rollers) * (1 - np.abs(np.cos(angle)))
    pull: Array = np.asanyarray(friction * np.sum(np.asanyarray(load) * along * locked, axis=-1))
    return pull[()]


def run_time(distance: Num, speed: Num, speeding_up: Num, slowing_down: Num) -> Array:
    """Time from standstill to standstill over a distance, s: d/v + v/(2a) + v/(2b), and where it is too short to come
    to speed √(2·d·(a + b)/(a·b)). Without end for a machine that does not move."""
    a, b = np.asanyarray(speeding_up, dtype=float), np.asanyarray(slowing_down, dtype=float)
    moves = (np.asanyarray(speed) > 0) & (a > 0) & (b > 0)
    v, a, b = (np.where(moves, x, 1.0) for x in (speed, a, b))
    ramps = v * v / 2 * (1 / a + 1 / b)
    long = distance / v + v / 2 * (1 / a + 1 / b)
    short = np.sqrt(2 * distance * (a + b) / (a * b))
    time = np.where(np.asanyarray(distance) >= ramps, long, short)
    unknown = np.isnan(np.asanyarray(speed) + speeding_up + slowing_down)
    whole: Array = np.where(moves, time, np.where(unknown, np.nan, np.inf))
    return whole[()]


def play_at(radius: Num, backlash: Num, working: Num, stage_ratio: Num, base_gear: Num) -> Array:
    """Free travel of a lever of length `radius` on the wheel with the motor's shaft held, m.

    backlash, working, stage_ratio, base_gear (..., G): by stage, motor first: backlash along the working circle, m;
    working pressure angle, rad; ratio; base radius of the driven gear, m. Of every stage j/r_w with r_w = r_b/cos α_w;
    what lies nearer to the motor is divided by the ratios behind it. 0 without gears.
    """
    turn = np.asanyarray(backlash) * np.cos(working) / base_gear
    ratios = np.asanyarray(stage_ratio, dtype=float)
    behind = np.flip(np.cumprod(np.flip(ratios, axis=-1), axis=-1), axis=-1) / ratios
    travel: Array = np.asanyarray(radius * np.sum(turn / behind, axis=-1))
    return travel[()]


def dial_reading(eccentricity: Num) -> Array:
    """What a dial gauge shows between its least and its greatest over a turn, m: twice the eccentricity."""
    return np.asanyarray(2.0 * np.asanyarray(eccentricity))[()]


def scale_reading(load: Num) -> Array:
    """What a scale in kg shows under a load in N."""
    return np.asanyarray(np.asanyarray(load) / STANDARD_GRAVITY)[()]
