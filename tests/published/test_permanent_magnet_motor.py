"""The straight line of the permanent-magnet motor.

Sources
- S. P. Burman, Special Electrical Machines, example 4.1, p. 216, in the solution notebooks of the Python Textbook
  Companions (seen): k = 0.12 N·m/A at 48 V.
- Two problem statements from public question sites (12 V, 3800 rpm, 30 mN·m; 12 V per 1000 rpm at 10 V); answers
  computed, arithmetic redone (from memory).
- Formulae of a motor handbook for efficiency, (1 - √(I_0/I_s))² at I = √(I_0·I_s) (from memory), and sheet values of a
  precision 24 V motor: 0.299 ohm, 30.2 mN·m/A, 0.137 A (from memory).
- Classic teaching parameters of a DC motor: J = 0.01, b = 0.1, K = 0.01, R = 1 (from memory).
- Identities of the line: largest output V²/(4R) at half of stall torque (common practice).
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.ground.units import RPM
from dryfit.trades.drive import formulas_motor as m


def test_burman_example_4_1_no_load_speed():
    """k = 0.12 N·m/A, 48 V: 3819 rpm (seen)."""
    speed = m.top_speed(48.0, 0.0, 0.0, 0.12, 0.0, 0.0)
    assert speed / RPM == pytest.approx(3819, abs=1)
    assert m.voltage_constant(48.0, 0.0, 1.0, 3819.72 * RPM) == pytest.approx(0.12, rel=1e-4)


def small_motor() -> tuple[float, float, float]:
    k = 12.0 / (3800 * RPM)
    stall = 0.030 / k
    return k, 12.0 / stall, 2500 * RPM


def test_torque_at_speed():
    """12 V, 3800 rpm free, 30 mN·m stall, at 2500 rpm: 10.263 mN·m and 0.3403 A (problem from memory)."""
    k, resistance, speed = small_motor()
    current = m.full_duty_current(12.0, 0.0, resistance, 1, k, speed)
    assert current == pytest.approx(0.3403, abs=5e-4)
    assert current * k * 1e3 == pytest.approx(10.263, abs=2e-3)


def test_back_electromotive_force_and_shaft_power():
    """7.895 V and 2.687 W (problem from memory)."""
    k, resistance, speed = small_motor()
    assert m.motor_voltage(0.0, resistance, k, speed) == pytest.approx(7.895, abs=2e-3)
    assert m.full_duty_current(12.0, 0.0, resistance, 1, k, speed) * k * speed == pytest.approx(2.687, abs=2e-3)


def test_no_load_speed_and_stall_torque_from_constants():
    """12 V per 1000 rpm at 10 V: 833.33 rpm; 0.12 N·m/A, 1.5 ohm at 10 V: 0.8 N·m (problem from memory)."""
    assert m.top_speed(10.0, 0.0, 0.0, 12 / (1000 * RPM), 0.0, 0.0) / RPM == pytest.approx(833.33, abs=0.05)
    assert 0.12 * m.full_duty_current(10.0, 0.0, 1.5, 1, 0.12, 0.0) == pytest.approx(0.8, abs=1e-3)


def line_efficiency(current: np.ndarray, voltage: float, resistance: float, free: float) -> np.ndarray:
    k = m.voltage_constant(voltage, free, resistance, 1.0)
    speed = (voltage - m.motor_voltage(current, resistance, 0.0, 0.0)) / k
    return (current - free) * k * speed / (voltage * current)


@pytest.mark.parametrize(
    ("free", "stall", "best", "tolerance"), [(0.5, 20.0, 0.7088, 2e-4), (0.137, 80.27, 0.919, 0.919 * 3e-3)]
)
def test_best_efficiency_of_the_line(free, stall, best, tolerance):
    """Handbook closed form (from memory) against our line's own maximum over current."""
    current = np.linspace(free, stall, 400_001)
    along = line_efficiency(current, 12.0, 12.0 / stall, free)
    assert np.max(along) == pytest.approx(best, abs=tolerance)
    assert current[np.argmax(along)] == pytest.approx(np.sqrt(free * stall), abs=2e-3)


def test_sheet_of_a_precision_motor():
    """24 V, 0.299 ohm, 30.2 mN·m/A: 80.2 A and 2.42 N·m at stall, 7576 rpm with 0.137 A (from memory)."""
    k = 0.0302
    stall = m.full_duty_current(24.0, 0.0, 0.299, 1, k, 0.0)
    assert stall == pytest.approx(80.2, rel=3e-3)
    assert stall * k == pytest.approx(2.42, rel=3e-3)
    free = m.top_speed(24.0, 0.0, 0.137 * 0.299, k, 0.0, 0.0)
    assert free / RPM == pytest.approx(7576, rel=3e-3)
    assert m.voltage_constant(24.0, 0.137, 0.299, free) == pytest.approx(k, rel=1e-9)
    assert m.voltage_constant(1.0, 0.0, 0.299, 316.2 * RPM) == pytest.approx(k, rel=3e-3)  # 316.2 rpm/V, an identity
    slope = (free - m.top_speed(24.0, 0.0, 1.137 * 0.299, k, 0.0, 0.0)) / RPM / (k * 1e3)
    assert slope == pytest.approx(3.131, rel=5e-3)  # rpm per mN·m


def test_steady_gain_with_viscous_friction():
    """K/(b·R + K²) = 0.0999 rad/s per volt (teaching parameters, from memory)."""
    k, b, resistance, speed = 0.01, 0.1, 1.0, 0.0999
    assert m.motor_voltage(b * speed / k, resistance, k, speed) == pytest.approx(1.0, rel=1e-3)


def test_largest_output_is_at_half_of_stall():
    """V²/(4R) = 481.6 W at 24 V, 0.299 ohm (identity, common practice)."""
    speed = np.linspace(0, 24 / 0.0302, 200_001)
    power = m.full_duty_current(24.0, 0.0, 0.299, 1, 0.0302, speed) * 0.0302 * speed
    assert np.max(power) == pytest.approx(481.6, rel=3e-3)
