"""Regulators, counter timers, board pins.

Bibliography
- Power balance of a step-down regulator (12 V in, 5 V 10 A out, 90 %): common practice.
- Data sheet of an 8-bit controller class, timer chapter: f = f_clk / (N 256) and f_clk / (2 N TOP); 20 mA test
  condition and 4.2 V least high output at 5 V, 100 to 150 mA for a group of pins. Seen.
- Servo pulses of 1 to 2 ms every 20 ms on a 2 MHz tick: derived.
- Boards' own current: from memory.
"""

from __future__ import annotations

import pytest

from dryfit.catalogue.rows import row
from dryfit.trades.power import formulas as f


def test_step_down_input_current_common_practice() -> None:
    assert f.regulator_input_current(5.0, 10.0, 0.9, 12.0) == pytest.approx(4.63, rel=5e-3)


def test_step_down_heat_common_practice() -> None:
    assert f.regulator_loss(5.0, 10.0, 0.9) == pytest.approx(5.556, rel=5e-3)


def test_timer_counting_up_seen() -> None:
    assert f.timer_frequency(16e6, 64, 255, both_ways=False) == pytest.approx(976.5625, rel=1e-12)


def test_timer_counting_both_ways_seen() -> None:
    assert f.timer_frequency(16e6, 64, 255, both_ways=True) == pytest.approx(490.196, rel=1e-4)


def test_timer_with_its_own_top_seen() -> None:
    assert f.timer_frequency(16e6, 1, 320, both_ways=True) == pytest.approx(25000.0, rel=1e-12)


def test_top_for_a_frequency_seen() -> None:
    assert f.timer_frequency(14.7456e6, 8, 18432, both_ways=True) == pytest.approx(50.0, rel=1e-12)


def test_servo_resolution_derived() -> None:
    tick = f.timer_frequency(16e6, 8, 0, both_ways=False)
    assert (2e-3 - 1e-3) * tick == pytest.approx(2000.0)


def test_board_pins_seen() -> None:
    board = row("controllers", "8-bit-16mhz-5v").quantities
    assert board["pin_current"].si == pytest.approx(0.020)
    assert board["total_current"].si == pytest.approx(0.150)
    assert board["output_high"].si == pytest.approx(4.2)


def test_board_current_from_memory() -> None:
    assert 0.020 <= row("controllers", "8-bit-16mhz-5v").quantities["current"].si <= 0.050
    assert 0.080 <= row("controllers", "32-bit-3v3").quantities["current"].si <= 0.500
