"""Bibliography: T. H. Wentzell, Machine Design, worked examples of ch. 17 and 20 (seen in a notebook companion)."""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.trades.shafts.formulas_beams import force_moments
from dryfit.trades.shafts.formulas_bearings import rated_hours, rating_for_life
from dryfit.trades.shafts.formulas_strength import goodman_stress, largest_normal, largest_shear, notch_factor


def test_example_17_1_moment_at_mid_span() -> None:
    """95.78 lbf in the middle of 15 in: 359.16 lbf·in."""
    assert 95.78 * force_moments(np.array([7.5]), 7.5, 15.0)[0] == pytest.approx(359.16, abs=0.1)


def test_example_17_2_largest_shear() -> None:
    assert largest_shear(8780.0, 2170.0) == pytest.approx(4897.04, abs=0.5)


def test_example_17_3_largest_normal() -> None:
    assert largest_normal(8780.0, 2170.0) == pytest.approx(9287.04, abs=0.5)


def test_example_17_4_endurance() -> None:
    """Su 88 ksi, size 0.85, surface 0.88, Kt 2.3 with full notch sensitivity, S 9300 psi: 1.539."""
    endurance = 0.85 * 0.88 * 0.5 * 88e3
    stress = goodman_stress(notch_factor(2.3, 1.0) * 9300, 0.0, 88e3, endurance)
    assert endurance / stress == pytest.approx(1.539, abs=0.002)


def test_example_20_1_life() -> None:
    assert rated_hours(5050, 2400, 1750) == pytest.approx(88.73, abs=0.05)


def test_example_20_2_rating() -> None:
    assert rating_for_life(2400, 21) == pytest.approx(6621.42, abs=0.1)
