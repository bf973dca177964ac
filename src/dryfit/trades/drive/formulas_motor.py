"""The brushed gearmotor, its bridge and the battery behind them: the straight line, the shared source, heat, ripple.

Motor line at the output shaft: V = I·R + k_e·ω and T = k_t·(I - I_0); both constants come from the sheet's two ends, so
that the line meets free speed and stall torque exactly (Hughes & Drury, Electric Motors and Drives, from memory).
"""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num

COPPER = 0.00393
"""Rise of copper's resistance, 1/K at 20 to 25 °C (IEC 60228 gives 0.00393 at 20 °C, from memory)."""
REFERENCE_TEMPERATURE = 298.15
"""Temperature at which a motor's sheet holds, K: common practice, 25 °C."""
_LONGEST = 50.0


def voltage_constant(voltage: Num, free_current: Num, resistance: Num, free_speed: Num) -> Num:
    """k_e = (V - I_0·R)/ω_0, V·s/rad at the output shaft."""
    return (voltage - free_current * resistance) / free_speed


def torque_constant(stall_torque: Num, stall_current: Num, free_current: Num) -> Num:
    """k_t = T_s/(I_s - I_0), N·m/A at the output shaft, gearbox losses included."""
    return stall_torque / (stall_current - free_current)


def implied_efficiency(voltage: Num, free_speed: Num, stall_torque: Num, stall_current: Num, free_current: Num) -> Num:
    """Share of the electrical torque that the sheet lets reach the shaft: T_s·ω_0/(V·(I_s - I_0)).

    A sheet that gives less than about 0.4 or more than 0.95 contradicts itself.
    """
    return stall_torque * free_speed / (voltage * (stall_current - free_current))


def current_for(torque: Num, k_t: Num, free_current: Num) -> Num:
    """Winding current that makes a torque at the shaft, A: I = I_0 + T/k_t."""
    return free_current + torque / k_t


def ratio_for(torque: Num, at_wheel: Num, rotor: Num) -> Num:
    """Least gear ratio for which the winding feels no more than a torque: A/i + B·i = T, i = 2A/(T + √(T² - 4AB)).

    at_wheel: A, torque at the wheel over the gears' efficiency, N·m; rotor: B, torque on the rotor for a ratio of one.
    Infinite where no ratio does.
    """
    root = np.asanyarray(torque * torque - 4 * at_wheel * rotor, dtype=float)
    twice = np.asanyarray(torque + np.sqrt(np.maximum(root, 0.0)))
    fine = ~(root < 0) & ~(twice <= 0)
    return np.where(fine, 2 * at_wheel / np.where(fine, twice, 1.0), np.inf)[()]


def shorted_deceleration(
    mass: Num, speed: Num, squares: Num, sums: Num, turning: Num, drag: Num, damping: Num, rolling: Num
) -> Array:
    """Deceleration, m/s², of a machine whose motors are shorted: (Σu²·d·v + Σu·T_0 + F_r)/(m + Σu²·J).

    squares, sums: Σ(u/R)² and Σ|u/R| of the driven wheels' rates at 1 m/s; turning: J, kg·m² at a wheel; drag: T_0,
    N·m at a wheel at any speed; damping: d, N·m for each rad/s of a wheel; rolling: F_r, N.
    """
    return np.asanyarray((squares * damping * speed + sums * drag + rolling) / (mass + squares * turning))[()]


def hot(resistance: Num, temperature: Num) -> Num:
    """Resistance of copper at a temperature in K, given that at 25 °C: R·(1 + α·(T - T_ref))."""
    return resistance * (1 + COPPER * (temperature - REFERENCE_TEMPERATURE))


def motor_voltage(current: Num, resistance: Num, k_e: Num, speed: Num) -> Num:
    """Mean voltage that bridge, leads and winding take, V: I·R + k_e·ω (resistance of all three)."""
    return current * resistance + k_e * speed


def source_voltage(emf: Num, resistance: Num, power: Num) -> Array:
    """Voltage of a source under a constant-power load, V: the upper root of V² - E·V + R·P = 0.

    NaN where the source cannot give that power at any voltage (collapse).
    """
    root = np.asanyarray(emf * emf - 4 * resistance * power, dtype=float)
    good = root >= 0
    return np.where(good, (emf + np.sqrt(np.where(good, root, 0.0))) / 2, np.nan)[()]


def full_duty_current(emf: Num, source: Num, resistance: Num, motors: Num, k_e: Num, speed: Num) -> Num:
    """Current of each of several equal motors at full duty on one source, A: (E - k_e·ω)/(R + n·R_s)."""
    return (emf - k_e * speed) / (resistance + motors * source)


def top_speed(emf: Num, source: Num, voltage: Num, voltage_per_speed: Num, power: Num, power_per_speed: Num) -> Array:
    """Speed v at which a motor that needs voltage + voltage_per_speed·v has the whole bus, m/s.

    The bus carries power + power_per_speed·v of all motors together: V = α + β·v in V² - E·V + R_s·(A + B·v) = 0,
    a quadratic in v whose upper root is meant. 0 where there is none; infinite for a motor that need not turn.
    """
    a, b = np.asanyarray(voltage, dtype=float), np.asanyarray(voltage_per_speed, dtype=float)
    turns = ~(b == 0)
    a2 = np.where(turns, b * b, 1.0)
    a1 = 2 * a * b - emf * b + source * power_per_speed
    a0 = a * a - emf * a + source * power
    root = a1 * a1 - 4 * a2 * a0
    v = (-a1 + np.sqrt(np.maximum(root, 0.0))) / (2 * a2)
    v = np.where(root < 0, 0.0, np.maximum(v, 0.0))
    return np.where(turns, v, np.inf)[()]


def steady_winding(
    current: Num, resistance: Num, thermal_resistance: Num, ambient: Num, other_heat: Num = 0.0
) -> Array:
    """Lasting temperature of a winding in K, its resistance rising as it warms; infinite where it would run away.

    T = T_a + R_th·(P + I²·R·(1 + α(T - T_ref))) solved for T. thermal_resistance: winding to air, K/W.
    """
    k = thermal_resistance * current * current * resistance
    rise = k * (1 + COPPER * (ambient - REFERENCE_TEMPERATURE)) + thermal_resistance * other_heat
    room = np.asanyarray(1 - COPPER * k, dtype=float)
    fine = room > 0
    hot_rise = np.where(fine, rise / np.where(fine, room, 1.0), np.where(np.isnan(room), np.nan, np.inf))
    return (ambient + hot_rise)[()]


def two_node_warming(
    time: Num,
    current: Num,
    resistance: Num,
    housing_heat: Num,
    winding_to_housing: Num,
    housing_to_air: Num,
    winding_capacity: Num,
    housing_capacity: Num,
    ambient: Num,
) -> tuple[Array, Array]:
    """Temperatures of winding and housing after a time from cold, K.

    Two linear equations, with copper's rise in the winding's loss, solved in closed form by their two rates:
    C_w·dT_w/dt = I²R(1 + α(T_w - T_ref)) - (T_w - T_h)/R_wh;  C_h·dT_h/dt = P_h + (T_w - T_h)/R_wh - (T_h - T_a)/R_ha.
    housing_heat: W of friction that arises outside the winding.
    """
    loss = current * current * resistance
    g, h = 1 / winding_to_housing, 1 / housing_to_air
    a11 = np.asanyarray((COPPER * loss - g) / winding_capacity, dtype=float)
    a12, a21 = g / winding_capacity, g / housing_capacity
    a22 = -(g + h) / housing_capacity
    b1 = loss * (1 + COPPER * (ambient - REFERENCE_TEMPERATURE)) / winding_capacity
    b2 = housing_heat / housing_capacity
    middle = (a11 + a22) / 2
    half = np.sqrt(((a11 - a22) / 2) ** 2 + a12 * a21)
    fast, slow = middle - half, middle + half
    # x(t) = phi_0(t)·b + phi_1(t)·A·b with both written through (e^{λt} - 1)/λ, which stays finite at λ = 0.
    e_fast, e_slow = _grown(fast, time), _grown(slow, time)
    phi_1 = (e_slow - e_fast) / (2 * half)
    phi_0 = e_slow - slow * phi_1
    winding = phi_0 * b1 + phi_1 * (a11 * b1 + a12 * b2)
    housing = phi_0 * b2 + phi_1 * (a21 * b1 + a22 * b2)
    return (ambient + winding)[()], (ambient + housing)[()]


def _grown(rate: Array, time: Num) -> Array:
    """(e^{λt} - 1)/λ, t where λ = 0; the exponent is cut at 50 (a run-away winding is beyond any limit by then)."""
    x = np.minimum(rate * time, _LONGEST)
    still = np.abs(x) < 1e-12
    return np.asanyarray(np.where(still, time, np.expm1(np.where(still, 1.0, x)) / np.where(still, 1.0, rate)))


def bridge_loss(current: Num, resistance: Num, voltage: Num, switching_time: Num, frequency: Num) -> Num:
    """Heat in a bridge, W: I²·R + ½·V·I·(t_rise + t_fall)·f."""
    return current * current * resistance + 0.5 * voltage * current * switching_time * frequency


def ripple(voltage: Num, duty: Num, frequency: Num, inductance: Num) -> Num:
    """Peak-to-peak current ripple of a chopped inductive load, A: V·D·(1 - D)/(f·L)."""
    return voltage * duty * (1 - duty) / (frequency * inductance)
