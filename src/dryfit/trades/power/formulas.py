"""Conductors, fuses, packs, regulators' energy, hold-up and ground lift: pure relations of the supply."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num

COPPER_RESISTIVITY = 17.241e-9
"""Annealed copper at 20 °C, ohm·m: IEC 60028, from memory."""
COPPER_COEFFICIENT = 0.00393
"""Rise of copper's resistance at 20 °C, 1/K: IEC 60228 annex (1/254.5), seen as a factor."""
PULSE_SHARE = ((100.0, 0.48), (1e3, 0.38), (1e4, 0.29), (1e5, 0.22))
"""Share of a fuse's melting I²t that a pulse may reach so that so many pulses are withstood (fuse-maker's chart)."""


def copper_resistance(length: Num, area: Num, resistivity: Num = COPPER_RESISTIVITY) -> Num:
    """Resistance of a solid conductor, ohm: R = rho l / A. Class 5 strand lies 13 to 16 % above it."""
    return resistivity * length / area


def warm_factor(temperature: Num) -> Num:
    """Copper's resistance at a conductor temperature (K) over that at 20 °C: 1 + 0.00393 (t - 20)."""
    return 1.0 + COPPER_COEFFICIENT * (temperature - 293.15)


def ambient_factor(ambient: Num, insulation: Num, reference: Num = 313.15) -> Num:
    """Factor on a current-carrying capacity tabled at `reference` (K) for surroundings at `ambient`:
    sqrt((T_ins - T_a) / (T_ins - T_ref)); 0 where the surroundings are as hot as the insulation stands."""
    room = (np.asanyarray(insulation) - ambient) / (np.asanyarray(insulation) - reference)
    factor: Num = np.sqrt(np.where(room > 0, room, np.where(np.isnan(room), np.nan, 0.0)))[()]
    return factor


_GROUP_COUNT = np.array([1.0, 2, 3, 4, 5, 6, 7, 8, 9, 12, 16, 20])
_GROUP_FACTOR = np.array([1.0, 0.80, 0.70, 0.65, 0.60, 0.57, 0.54, 0.52, 0.50, 0.45, 0.41, 0.38])


def group_factor(circuits: Num) -> Num:
    """Factor for loaded circuits bundled together: IEC 60364-5-52 table B.52.17 item 1 (from memory)."""
    factor: Num = np.interp(circuits, _GROUP_COUNT, _GROUP_FACTOR)
    return factor


def open_voltage(charge: Num, table_charge: Array, table_voltage: Array, cells: Num) -> Num:
    """Rested voltage of `cells` in series at a state of charge 0..1, by straight lines between table points."""
    return np.interp(charge, table_charge, table_voltage) * cells


def peukert_capacity(capacity: Num, hour_rate: Num, current: Num, exponent: Num) -> Num:
    """Charge (C) that can be drawn at `current` from a capacity rated over `hour_rate` seconds:
    Q = C (C / (H I))^(k-1). More than rated is not counted on at smaller currents."""
    ratio = capacity / np.maximum(np.asanyarray(hour_rate) * current, 1e-9)
    return (capacity * np.minimum(1.0, ratio ** (np.asanyarray(exponent) - 1.0)))[()]


def peukert_rating(charge: Num, hour_rate: Num, current: Num, exponent: Num) -> Num:
    """Rated capacity (C) of which `charge` can be drawn at `current`: `peukert_capacity` solved for the capacity."""
    k = np.asanyarray(exponent, dtype=float)
    slow = np.asanyarray(charge, dtype=float)
    fast = (slow * (np.asanyarray(hour_rate) * np.maximum(current, 1e-9)) ** (k - 1.0)) ** (1.0 / k)
    result: Num = np.maximum(slow, fast)[()]
    return result


def discharge_time(capacity: Num, hour_rate: Num, current: Num, exponent: Num) -> Num:
    """Time (s) to empty by Peukert's law in its hour-rated form: t = H (C / (H I))^k."""
    result: Num = hour_rate * (np.asanyarray(capacity) / (np.asanyarray(hour_rate) * current)) ** exponent
    return result


def parallel(resistances: Num) -> Num:
    """Resistance of the trailing axis in parallel, (..., n) -> (...,)."""
    result: Num = (1.0 / np.sum(1.0 / np.asanyarray(resistances, dtype=float), axis=-1))[()]
    return result


def shares(resistances: Num) -> Num:
    """Part of the total current that each of equal sources in parallel takes, (..., n): conductance over the sum."""
    g = 1.0 / np.asanyarray(resistances, dtype=float)
    result: Num = g / np.sum(g, axis=-1, keepdims=True)
    return result


def joined_voltage(emf: Num, resistances: Num, current: Num) -> Num:
    """Voltage where sources in parallel (..., n) meet while `current` (...,) is drawn (Millman)."""
    g = 1.0 / np.asanyarray(resistances, dtype=float)
    result: Num = ((np.sum(np.asanyarray(emf) * g, axis=-1) - current) / np.sum(g, axis=-1))[()]
    return result


def joining_surge(difference: Num, resistance: Num, count: int) -> Num:
    """Current that flows when one pack is joined to count - 1 others that differ from it by `difference` volts."""
    return difference / (resistance * (1.0 + 1.0 / max(count - 1, 1)))


def pulse_share(pulses: Num) -> Num:
    """Greatest pulse I²t over melting I²t for a number of pulses, on logarithmic scales between the chart's points."""
    at, share = np.log10(np.array(PULSE_SHARE)).T
    result: Num = 10 ** np.interp(np.log10(pulses), at, share)
    return result


def decaying_pulse(peak: Num, time_constant: Num) -> Num:
    """I²t of i = i_p exp(-t / tau), A²s: i_p² tau / 2."""
    return 0.5 * np.square(peak) * time_constant


def regulator_input_current(output_voltage: Num, output_current: Num, efficiency: Num, input_voltage: Num) -> Num:
    """Current a switching regulator draws: I_in = V_out I_out / (eta V_in)."""
    return output_voltage * output_current / (efficiency * input_voltage)


def regulator_loss(output_voltage: Num, output_current: Num, efficiency: Num) -> Num:
    """Heat of a switching regulator, W: P_out (1/eta - 1)."""
    return output_voltage * output_current * (1.0 / np.asanyarray(efficiency) - 1.0)


def held_voltage(before: Num, current: Num, time: Num, capacitance: Num) -> Num:
    """Voltage of a capacitor after feeding `current` for `time`: V - I t / C. Without a capacitor nothing is held."""
    c = np.asanyarray(capacitance, dtype=float)
    left = before - current * time / np.where(c > 0, c, np.nan)
    return np.where(c == 0, 0.0, np.maximum(left, 0.0))[()]


def capacitor_rise(voltage: Num, energy: Num, capacitance: Num) -> Num:
    """Voltage of a capacitor that takes in `energy` (J) on top: sqrt(V² + 2 E / C)."""
    return np.sqrt(np.square(voltage) + 2.0 * np.asanyarray(energy) / capacitance)


def charging_voltage(supply: Num, resistance: Num, capacitance: Num, time: Num) -> Num:
    """Voltage of a capacitor charged over a resistance: E (1 - exp(-t / RC))."""
    return supply * (1.0 - np.exp(-np.asanyarray(time) / (np.asanyarray(resistance) * capacitance)))


def mean_by_share(values: Num, shares_of_time: Num) -> Num:
    """Mean over the trailing axis weighted by shares of time."""
    result: Num = np.sum(np.asanyarray(values) * shares_of_time, axis=-1)[()]
    return result


def rms_by_share(values: Num, shares_of_time: Num) -> Num:
    """Root mean square over the trailing axis weighted by shares of time: what heats a wire."""
    result: Num = np.sqrt(np.sum(np.square(values) * shares_of_time, axis=-1))[()]
    return result


def timer_frequency(clock: Num, divider: Num, top: Num, both_ways: bool) -> Num:
    """PWM frequency of a counter timer: f / (N (TOP + 1)) counting up, f / (2 N TOP) counting up and down."""
    steps = 2.0 * np.asanyarray(top) if both_ways else np.asanyarray(top) + 1.0
    return clock / (divider * steps)
