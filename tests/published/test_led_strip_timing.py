"""Time of a frame on addressable strips.

Bibliography:
[1] A hobby knowledge base on one-wire LED timing: 1.25 µs a bit, 50 µs reset; a course page: 300 LEDs take about 9 ms.
    Seen (secondary pages).
[2] A distributor's sheet of a newer one-wire LED: reset above 280 µs. Seen.
[3] A course page on two-wire clocked LEDs: start frame of 32 bits, 32 bits for each LED, at least n/2 closing bits.
    Seen.
"""

from __future__ import annotations

import pytest

from dryfit.trades.light import formulas


def test_one_wire_frame_of_300_leds() -> None:
    """[1] 300 LEDs of 24 bits: 9.05 ms (seen)."""
    assert formulas.unclocked_frame_time(300, 24, 1.25e-6, 50e-6) == pytest.approx(9.05e-3, rel=0.005)


def test_one_wire_frame_rate_with_the_long_reset() -> None:
    """[2] 280 µs reset: 107.76 frames a second (seen)."""
    assert 1 / formulas.unclocked_frame_time(300, 24, 1.25e-6, 280e-6) == pytest.approx(107.76, rel=0.005)


def test_one_wire_frame_of_144_leds() -> None:
    """From [1]: 144 LEDs take 4.37 ms (derived from the seen bit time)."""
    assert formulas.unclocked_frame_time(144, 24, 1.25e-6, 50e-6) == pytest.approx(4.37e-3, rel=0.005)


def test_bits_of_a_clocked_frame() -> None:
    """[3] 300 LEDs: 9792 bits, exactly (seen)."""
    assert formulas.clocked_bits(300, 32) == 9792


def test_time_of_a_clocked_frame() -> None:
    """From [3] at 8 MHz: 1.224 ms (derived)."""
    assert formulas.clocked_frame_time(300, 32, 1 / 8e6) == pytest.approx(1.224e-3, rel=0.005)
