"""Rows of which no published copy was seen: exact geometry, statics, common practice and textbook constants.

Bibliography: J. E. Shigley, Mechanical Engineering Design, ch. 6 (from memory); exact relations; common practice.
EN 10278 default classes: supplier pages, seen.
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.design.sections.workshop import Workshop
from dryfit.machine.axle import resolve_axle
from dryfit.machine.ledger import Ledger
from dryfit.machine.workshop import resolve_workshop
from dryfit.trades.shafts.formulas_beams import area_moment, mass_per_length, section_modulus
from dryfit.trades.shafts.formulas_grip import clamp_torque, clamp_torque_even
from dryfit.trades.shafts.formulas_strength import amplitude_and_mean, bending_stress, drop_factor, endurance_limit


def test_b01_bar_of_20() -> None:
    """Rows B01, exact: 7853.98 mm⁴, 785.398 mm³, 2.466 kg/m."""
    assert area_moment(0.02) * 1e12 == pytest.approx(7853.98, abs=0.05)
    assert section_modulus(0.02) * 1e9 == pytest.approx(785.398, abs=0.01)
    assert mass_per_length(0.02, 0.0, 7850) == pytest.approx(2.466, abs=0.001)


def test_b07a_endurance_of_machined_20_mm_bar() -> None:
    """223.5 MPa (Shigley's constants, from memory)."""
    assert endurance_limit(600e6, 0.5, 0.02) / 1e6 == pytest.approx(223.5, abs=0.5)


def test_b07b_turning_against_fixed() -> None:
    """30.56 MPa: all amplitude where the axle turns, all mean where it stands under a steady load (common practice)."""
    stress = bending_stress(24.0, section_modulus(0.02))
    assert stress / 1e6 == pytest.approx(30.56, abs=0.01)
    assert amplitude_and_mean(stress, True) == (stress, 0.0)
    assert amplitude_and_mean(stress, False, ripple=0.0) == (0.0, stress)


def test_t06a_clamp_on_two_lines() -> None:
    """30 N·m (common practice)."""
    assert clamp_torque(0.15, 2, 5000, 0.02) == pytest.approx(30, abs=0.01)


def test_t06b_clamp_with_even_pressure() -> None:
    """47.12 N·m (derived)."""
    assert clamp_torque_even(0.15, 2, 5000, 0.02) == pytest.approx(47.12, abs=0.01)


def test_suddenly_laid_on_load_doubles() -> None:
    """A load laid on a spring without drop: twice the resting deflection (textbook energy balance, from memory)."""
    assert drop_factor(0.0, 1e-3) == 2.0


def test_f07_default_class_of_bright_bar() -> None:
    """EN 10278: drawn round bar h10, ground h9 (seen); our default is the ground bar and says so."""
    ledger = Ledger()
    axle = resolve_axle(None, ledger, resolve_workshop(Workshop(), ledger))
    assert axle.tolerance == "h9"
    assert "h10" in ledger.origins["base.axle.tolerance"].note
    assert np.isfinite(axle.diameter)
