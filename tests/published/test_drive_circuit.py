"""The operating point of several motors on one sagging source, and the ripple of a chopped winding.

Sources: a circuit simulator (ngspice) and scipy.optimize.fsolve, both run live on the same circuits. A bridge at duty d
is an ideal transformer for mean values: motor voltage d·V_bus, bus current d·I_motor (common practice). Highest
switching frequency of a half-bridge driver of the 43 A class, 25 kHz, and its hot resistances, 10 + 14 mohm (from
memory).
"""

from __future__ import annotations

import re
import subprocess

import numpy as np
import pytest
from scipy.optimize import fsolve

from dryfit.catalogue.rows import row
from dryfit.trades.drive import formulas_motor as m

E, RS, RM, KE = 12.4, 0.045, 1.21, 0.389


def simulate(netlist: str, prints: list[str], analysis: str = "op") -> dict[str, float]:
    """Run ngspice in batch and read printed numbers back."""
    lines = [".control", "set noaskquit", "set numdgt=10", analysis, *(f"print {p}" for p in prints), ".endc", ".end"]
    text = "\n".join(["* drive", netlist, *lines]) + "\n"
    done = subprocess.run(["ngspice", "-b", "/dev/stdin"], input=text, capture_output=True, text=True, check=False)
    found = dict(re.findall(r"^(\S+) = ([-+0-9.eE]+)\s*$", done.stdout, re.MULTILINE))
    return {key: float(value) for key, value in found.items()}


def bridges(duties: list[float], back: list[float]) -> str:
    lines = [f"V1 e 0 {E}", f"R1 e bus {RS}"]
    for i, (duty, voltage) in enumerate(zip(duties, back, strict=True)):
        lines += [
            f"B{i} m{i} 0 V = {duty!r}*V(bus)",
            f"Rm{i} m{i} n{i} {RM}",
            f"Vb{i} n{i} 0 {voltage!r}",
            f"Bi{i} bus 0 I = {duty!r}*I(Vb{i})",
        ]
    return "\n".join(lines)


def test_three_bridges_at_different_duty_share_one_source():
    """Bus voltage from total power (closed form) and the currents it was made of, against ngspice."""
    current, speed = np.array([1.32, 0.9, 2.4]), np.array([12.3, 6.1, 4.0])
    power = np.sum(current * m.motor_voltage(current, RM, KE, speed))
    bus = m.source_voltage(E, RS, power)
    duty = m.motor_voltage(current, RM, KE, speed) / bus
    seen = simulate(bridges(duty.tolist(), (KE * speed).tolist()), ["v(bus)", "i(vb0)", "i(vb1)", "i(vb2)"])
    assert seen["v(bus)"] == pytest.approx(bus, rel=1e-6)
    np.testing.assert_allclose([seen[f"i(vb{i})"] for i in range(3)], current, rtol=1e-5)


@pytest.mark.parametrize("speed", [0.0, 6.0, 20.0])
def test_all_motors_at_full_duty(speed):
    """Current of three equal motors straight on the bus, against ngspice."""
    seen = simulate(bridges([1.0] * 3, [KE * speed] * 3), ["i(vb0)"])
    assert seen["i(vb0)"] == pytest.approx(m.full_duty_current(E, RS, RM, 3, KE, speed), rel=1e-6)


def test_top_speed_is_the_root_of_all_circuit_equations_together():
    """fsolve on bus, three currents, three duties and the speed at once."""
    share, current = np.array([1.0, 0.5, 0.5]), np.array([1.9, 1.1, 1.1])
    k = KE * 24.6  # V·s/m of the fastest wheel

    def balance(x):
        bus, speed, *duty = x
        motor = np.array(duty) * bus - current * RM - k * share * speed
        return [bus - E + RS * np.sum(np.array(duty) * current), duty[0] - 1, *motor]

    solved = fsolve(balance, [E, 0.5, 1.0, 0.5, 0.5], xtol=1e-13)
    power, by_speed = np.sum(current**2 * RM), np.sum(current * k * share)
    mine = np.min(m.top_speed(E, RS, current * RM, k * share, power, by_speed))
    assert mine == pytest.approx(solved[1], rel=1e-9)


@pytest.mark.parametrize("duty", [0.3, 0.5, 0.8])
def test_ripple_of_a_chopped_winding(duty):
    """V·D·(1 - D)/(f·L) against a transient of ngspice, 20 kHz, 0.58 mH (2 %: the resistance bends the ramps)."""
    f, inductance, v = 20e3, 0.58e-3, 12.0
    period = 1 / f
    start = duty * v - 1.0
    netlist = "\n".join(
        [
            f"V1 a 0 PULSE(0 {v} 0 10n 10n {duty * period - 10e-9!r} {period!r})",
            f"L1 a b {inductance} IC=0.86",
            "R1 b c 1.16",
            f"Vb c 0 {start!r}",
        ]
    )
    seen = simulate(
        netlist,
        ["high", "low"],
        "tran 50n 12m 11.5m 50n uic\nlet c=i(vb)\nmeas tran high max i(vb)\nmeas tran low min i(vb)",
    )
    assert seen["high"] - seen["low"] == pytest.approx(m.ripple(v, duty, f, inductance), rel=0.02)


def test_catalogue_row_of_the_43_a_class():
    """25 kHz, 34 A lowest trip, 7 + 9 mohm cold and 10 + 14 mohm hot (from memory)."""
    bridge = row("drivers", "bridge-43a-trip").quantities
    assert bridge["highest_pwm_frequency"].si == 25e3
    assert bridge["limit_current"].si == 34
    assert bridge["resistance_cold"].si == pytest.approx(0.016)
    assert bridge["resistance_hot"].si == pytest.approx(0.024)


def test_loss_at_ten_ampere():
    """I²·(R_hs + R_ls) = 2.4 W hot at 10 A, plus ½·V·I·t·f = 0.6 W at 12 V, 0.5 µs, 20 kHz (identity)."""
    assert m.bridge_loss(10.0, 0.024, 12.0, 0.5e-6, 20e3) == pytest.approx(2.4 + 0.6)
