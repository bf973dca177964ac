"""Predicted readings against published figures, closed forms and general libraries.

Sources
- S. P. Burman, Special Electrical Machines, example 4.1, p. 216, in the solution notebooks of the Python Textbook
  Companions (seen): k = 0.12 N·m/A at 48 V runs free at 3819 rpm.
- Sheet values of a precision 24 V motor: 0.299 ohm, 30.2 mN·m/A, 0.137 A free, 80.2 A stalled, 7576 rpm (from memory).
- IEC 60228: copper at 70 °C, factor 254.5/(234.5 + t), quoted on cable makers' pages (seen).
- Trapezoids and triangles of speed: 2.5 s over 1 m at 0.5 m/s and 1 m/s²; 0.447214 s over 0.05 m; 2.5 s over 2 m at
  1 m/s and 2 m/s² (closed form, computed anew with a general motion library).
- ngspice, a general circuit simulator, run live: mean supply current of a chopped motor.
- scipy.integrate and numpy.roots, run live.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from dryfit.ground.units import RPM, STANDARD_GRAVITY
from dryfit.trades.bench import formulas as f


def test_burman_example_4_1_runs_free_at_3819_rpm():
    """k = V/ω_0: a sheet made from it gives the same speed back at 48 V, half of it at 24 V (seen)."""
    sheet = 48.0 / 0.12
    assert f.free_run_speed(48.0, 0.0, 1.0, 48.0, 0.0, sheet) / RPM == pytest.approx(3819, abs=1)
    assert f.free_run_speed(24.0, 0.0, 1.0, 48.0, 0.0, sheet) / RPM == pytest.approx(3819 / 2, abs=1)


def test_precision_motor_locked_and_free():
    """24 V, 0.299 ohm, 30.2 mN·m/A, 0.137 A: 80.2 A locked, 7576 rpm free (from memory)."""
    assert f.locked_current(24.0, 0.0, 0.299, np.inf) == pytest.approx(80.2, abs=0.3)
    speed = (24.0 - 0.137 * 0.299) / 30.2e-3
    assert speed / RPM == pytest.approx(7576, rel=3e-3)
    # half the volts and twice the free current: the same line, (12 - 0.274·0.299)/k
    found = f.free_run_speed(12.0, 0.274, 0.299, 24.0, 0.137, speed)
    assert found == pytest.approx((12.0 - 0.274 * 0.299) / 30.2e-3, rel=1e-9)


def test_copper_of_iec_60228():
    """Hot over cold between 25 and 70 °C: (234.5 + 70)/(234.5 + 25) (seen)."""
    ratio = f.at_temperature(1.0, 343.15) / f.at_temperature(1.0, 298.15)
    assert ratio == pytest.approx((234.5 + 70) / (234.5 + 25), rel=5e-3)


@pytest.mark.parametrize(
    ("way", "speed", "rate", "seconds"), [(1, 0.5, 1, 2.5), (0.05, 0.5, 1, 0.447214), (2, 1, 2, 2.5)]
)
def test_trapezoids_and_triangles(way, speed, rate, seconds):
    assert f.run_time(way, speed, rate, rate) == pytest.approx(seconds, rel=1e-5)


def test_run_with_unequal_ramps_by_integration():
    """Speed up at 0.6 and down at 0.25 m/s²: the way that an integrator finds after the time predicted."""
    for way in (3.0, 0.4):
        time = float(f.run_time(way, 0.5, 0.6, 0.25))
        peak = min(0.5, np.sqrt(2 * way * 0.6 * 0.25 / 0.85))

        def speed(t, _x, time=time, peak=peak):
            return [min(0.6 * t, peak, max(0.25 * (time - t), 0.0))]

        found = solve_ivp(speed, (0, time), [0.0], max_step=time / 2000).y[0, -1]
        assert found == pytest.approx(way, rel=1e-4)


def test_mean_supply_current_of_a_chopped_motor(tmp_path: Path):
    """Half command, 20 kHz, 1.2 ohm, 1.2 mH, back voltage 5.2 V: the simulator's mean against D·I."""
    volts, duty, ohms, back = 12.8, 0.5, 1.2, 5.2
    period = 50e-6
    deck = tmp_path / "chopped.cir"
    deck.write_text(
        "\n".join([
            "chopped motor",
            f"Vs bus 0 DC {volts}",
            "Vsense bus top DC 0",
            f"Vg gate 0 PULSE(0 1 0 10n 10n {duty * period - 10e-9} {period})",
            "S1 top sw gate 0 on",
            "Bn inv 0 V = 1 - v(gate)",
            "S2 sw 0 inv 0 on",
            ".model on SW(Ron=1e-4 Roff=1e8 Vt=0.5 Vh=0)",
            "L1 sw a 1.2m IC=1.0",
            f"R1 a b {ohms}",
            f"Ve b 0 DC {back}",
            ".control",
            "set noaskquit",
            "tran 0.25u 20m 15m 0.25u uic",
            "meas tran mean_in AVG i(Vsense) from=15m to=20m",
            "meas tran mean_motor AVG i(L1) from=15m to=20m",
            ".endc",
            ".end",
        ])
    )  # fmt: skip
    done = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, check=False)
    read = {
        line.split("=")[0].strip(): float(line.split("=")[1].split()[0])
        for line in done.stdout.splitlines()
        if line.startswith("mean_")
    }
    motor = (duty * volts - back) / ohms
    assert read["mean_motor"] == pytest.approx(motor, rel=0.02)
    assert read["mean_in"] == pytest.approx(float(f.chopped_supply_current(duty, motor, 0.0)), rel=0.03)


def test_volts_into_a_regulator_by_the_roots_of_its_polynomial():
    """U² - E·U + R·P = 0 by numpy.roots; Kirchhoff: E - R·P/U = U."""
    for emf, ohms, watts in ((13.5, 0.05, 60.0), (12.0, 0.2, 40.0)):
        found = float(f.volts_into(emf, ohms, watts))
        assert found == pytest.approx(np.max(np.roots([1, -emf, ohms * watts]).real), rel=1e-12)
        assert emf - ohms * watts / found == pytest.approx(found, rel=1e-12)
    assert np.isnan(f.volts_into(12.0, 1.0, 40.0))


def test_dial_over_a_turn_of_a_circle_off_its_middle():
    """Geometry traced: a circle of 100 mm radius turning 0.15 mm off its centre (closed form of an offset circle)."""
    phi = np.linspace(0, 2 * np.pi, 3601)
    e, r = 0.15e-3, 0.1
    rim = e * np.cos(phi) + np.sqrt(r * r - (e * np.sin(phi)) ** 2)
    assert f.dial_reading(e) == pytest.approx(np.ptp(rim), rel=1e-9)


def test_play_at_the_rim_of_a_machinists_pair():
    """Ring of 60 teeth, module 2: working radius 60 mm; 0.2 mm along it is 0.333 mm at a 100 mm rim (closed form)."""
    alpha = np.deg2rad(20)
    base = 0.06 * np.cos(alpha)
    one = f.play_at(0.1, np.array([2e-4]), np.array([alpha]), np.array([2.5]), np.array([base]))
    assert one == pytest.approx(2e-4 / 0.06 * 0.1, rel=1e-12)
    # a stage before it of ratio 3 and 30 mm radius adds 0.1 mm/30 mm/2.5 of a turn at the wheel
    two = f.play_at(
        0.1, np.array([1e-4, 2e-4]), np.array([alpha] * 2), np.array([3.0, 2.5]), np.array([0.5 * base, base])
    )
    assert two == pytest.approx((1e-4 / 0.03 / 2.5 + 2e-4 / 0.06) * 0.1, rel=1e-12)


def test_pull_at_slip_of_three_omni_wheels():
    """Wheels at 60, 180, 300 deg, lines of pull across their arms: each holds along its line only, so forwards
    µ·(N1·cos 30° + 0 + N3·cos 30°) (closed form)."""
    line = np.deg2rad([150.0, 270.0, 30.0])
    load = np.array([90.0, 110.0, 100.0])
    rollers, locked = np.ones(3), np.ones(3)
    found = f.slip_pull(0.5, load, line, rollers, locked, 0.0)
    assert found == pytest.approx(0.5 * (90 + 100) * np.sqrt(3) / 2, rel=1e-12)
    tyres = f.slip_pull(0.5, load, line, np.zeros(3), locked, 0.3)
    assert tyres == pytest.approx(0.5 * 300, rel=1e-12)


def test_scale_under_one_litre_of_water():
    """1 kg weighs 9.80665 N (standard gravity, CGPM 1901, from memory)."""
    assert f.scale_reading(9.80665) == pytest.approx(1.0, rel=1e-12)
    assert STANDARD_GRAVITY == 9.80665
