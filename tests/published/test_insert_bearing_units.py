"""Insert bearings in pillow blocks: worked examples and table values.

Bibliography: a mounted-bearing-unit catalogue, examples 3, 4, 6, 8, 9, Tables 5.4 and 11.1, and a second maker's table
of series UC 200: seen as text copies.
"""

from __future__ import annotations

import pytest

from dryfit.catalogue.rows import row
from dryfit.trades.shafts.formulas_bearings import (
    axial_factors,
    equivalent_load,
    life_factor,
    rated_hours,
    speed_factor,
)


def test_example_3_y_by_interpolation() -> None:
    """f0·Fa/C0 = 13.3·0.85/15 = 0.754: Y = 1.68."""
    assert axial_factors(13.3 * 0.85 / 15)[1] == pytest.approx(1.68, abs=0.005)


def test_example_3_equivalent_load() -> None:
    assert equivalent_load(1.5, 0.85, 15.0, 13.3) == pytest.approx(2.27, abs=0.01)


def test_example_4_life() -> None:
    assert rated_hours(26.7, 2.72, 1000) == pytest.approx(15800, abs=80)


def test_example_9_life() -> None:
    assert rated_hours(12.8, 1.0, 800) == pytest.approx(43700, abs=60)


def test_example_6_dolly_wheel() -> None:
    """8 rpm, 10 000 h, 12 kN: factors 1.61 and 2.71, rating 20.2 kN."""
    assert speed_factor(8) == pytest.approx(1.61, abs=0.005)
    assert life_factor(10000) == pytest.approx(2.71, abs=0.005)
    assert 12 * life_factor(10000) / speed_factor(8) == pytest.approx(20.2, abs=0.05)


def test_uc204_row() -> None:
    """Rows R06 and R15c: C 12.8 kN, C0 6.65 kN, bore +18/0 µm; R07a: set screws 4 N·m."""
    q = row("bearings", "uc204").quantities
    assert q["dynamic_rating"].si == pytest.approx(12.8e3, abs=100)
    assert q["static_rating"].si == pytest.approx(6.65e3, abs=50)
    assert q["bore_upper"].si * 1e6 == pytest.approx(18)
    assert q["bore_lower"].si == 0
    assert "4 N*m" in row("bearings", "uc204").note


def test_set_screw_torque_fits_our_preload_default() -> None:
    """Row R07a with K = 0.2: 4 N·m on a 6 mm set screw presses with 3.3 kN (from memory: a usual holding force)."""
    from dryfit.trades.shafts.formulas_grip import preload

    assert preload(4.0, 0.2, 6e-3) == pytest.approx(3333, abs=1)
