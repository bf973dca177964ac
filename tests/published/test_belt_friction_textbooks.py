"""Belt and band friction, the same relation in three textbooks (each seen in a notebook companion).

Bibliography: F. P. Beer, E. R. Johnston et al., Vector Mechanics for Engineers, Example 8.7; R. S. Khurmi, J. K. Gupta,
Theory of Machines, Examples 11.4 and 11.5; T. Bevan, The Theory of Machines, ch. 8 Example 4. Row T07: derived.
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.trades.shafts.formulas_grip import band_axial, capstan_ratio


def test_beer_johnston_8_7_friction() -> None:
    """150 N holds 7500 N with two turns: µ = 0.311."""
    assert capstan_ratio(0.311, 4 * np.pi) == pytest.approx(7500 / 150, rel=0.0005 * 4 * np.pi)
    assert np.log(7500 / 150) / (4 * np.pi) == pytest.approx(0.311, abs=0.0005)


def test_beer_johnston_8_7_three_turns() -> None:
    friction = np.log(50.0) / (4 * np.pi)
    assert 150 * capstan_ratio(friction, 6 * np.pi) == pytest.approx(53033, abs=20)


def test_khurmi_gupta_11_5_rope() -> None:
    assert 9000 / capstan_ratio(0.25, 5 * np.pi) == pytest.approx(177.33, abs=0.1)


def test_khurmi_gupta_11_4_belt_power() -> None:
    """2500 N, µ 0.25, 160°, 0.6 m, 200 rpm: 7.89 kW."""
    slack = 2500 / capstan_ratio(0.25, np.deg2rad(160))
    assert (2500 - slack) * np.pi * 0.6 * 200 / 60 / 1000 == pytest.approx(7.89, abs=0.01)


def test_bevan_8_4_band_brake() -> None:
    """Half a ton (the notebook's 2204 lb a ton) on a 15 in drum, brake on 21 in, µ 0.3, 270°, lever 18:4 in: 56 lbf."""
    pull = 0.5 * 2204 * 15 / 21
    force = pull * 4 / (18 * (capstan_ratio(0.3, np.deg2rad(270)) - 1))
    assert force == pytest.approx(56, abs=0.6)


def test_band_on_a_bar() -> None:
    """Row T07: tension 1000 N, µ 0.5: 3141.6 N (derived: pressure T/(r w) all round)."""
    assert band_axial(0.5, 1000.0) == pytest.approx(3141.6, abs=0.1)
