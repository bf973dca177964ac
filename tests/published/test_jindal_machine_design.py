"""Bibliography: U. C. Jindal, Machine Design, worked examples of ch. 9 and 18 (seen in a notebook companion)."""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.trades.shafts.formulas_bearings import combined_load, mean_load, rated_life, rating_for_life
from dryfit.trades.shafts.formulas_grip import nut_factor, stress_area, tightening


def test_example_9_1_coarse() -> None:
    assert stress_area(16e-3, 2e-3) * 1e6 == pytest.approx(156.7, abs=0.1)


def test_example_9_1_fine() -> None:
    assert stress_area(16e-3, 1.5e-3) * 1e6 == pytest.approx(167.2, abs=0.1)


def test_example_9_5_tightening_torque() -> None:
    assert tightening(0.75 * 650 * 115, 0.2, 14e-3) == pytest.approx(156.97, abs=0.1)


def test_example_9_3_nut_factor() -> None:
    assert nut_factor(18e-3, 2.5e-3, 0.15, 0.13) == pytest.approx(0.18343, abs=1e-4)


def test_example_18_9_duty_cycle() -> None:
    """1440/1080/720 rpm for 25/50/25 % of the time under 3/4/5 kN, 10 000 h."""
    turns = np.array([1440, 1080, 720]) * np.array([0.25, 0.5, 0.25])
    load = mean_load(np.array([3000.0, 4000.0, 5000.0]), turns)
    assert rating_for_life(load, turns.sum() * 60 * 10000 / 1e6) == pytest.approx(34219, abs=20)


def test_example_18_2_rotation_factor() -> None:
    load = combined_load(1250, 625, 0.56, 1.2, rotation=1.2)
    assert rated_life(5590, load) == pytest.approx(43.46, abs=0.05)
