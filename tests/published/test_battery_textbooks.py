"""Packs: Peukert's law, open-circuit tables, sag, sharing, joining, duty.

Bibliography
- Public battery pages with worked examples of Peukert's law (100 Ah, k = 1.2), and a page on why the plain form must
  not be used with a 20 h capacity. Seen.
- Data sheet of a 12 V 7 Ah sealed battery: 27 mohm. Seen.
- A rule table of rested lead-acid voltage by charge reproduced on a users' list. Seen.
- Rested voltage of lithium cells: from memory. Millman's theorem and RC law: from memory. Duty means: common practice.
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.catalogue.rows import row
from dryfit.trades.power import formulas as f

HOUR = 3600.0
GRID = np.linspace(0, 1, 11)


def cell(kind: str, charge: float) -> float:
    q = row("chemistries", kind).quantities
    table = np.array([q[f"ocv_{n}"].si for n in range(0, 101, 10)])
    return float(f.open_voltage(charge, GRID, table, 1.0))


@pytest.mark.parametrize(("current", "hours"), [(5.0, 14.5), (10.0, 6.31)])
def test_plain_form_is_the_form_of_the_one_hour_unit_seen(current: float, hours: float) -> None:
    # C = 100 A^k h: the plain form t = C / I^k is the hour-rated one with H such that C/H = 1 A.
    assert f.discharge_time(100 * HOUR, 100 * HOUR, current, 1.2) / HOUR == pytest.approx(hours, rel=5e-3)


def test_hour_rated_form_at_10_a_seen() -> None:
    assert f.discharge_time(100 * HOUR, 20 * HOUR, 10.0, 1.2) / HOUR == pytest.approx(8.706, rel=5e-3)


def test_hour_rated_form_gives_its_own_rate_back_seen() -> None:
    assert f.discharge_time(100 * HOUR, 20 * HOUR, 5.0, 1.2) / HOUR == pytest.approx(20.0, rel=1e-12)
    assert f.peukert_capacity(100 * HOUR, 20 * HOUR, 5.0, 1.2) / HOUR == pytest.approx(100.0, rel=1e-12)


def test_capacity_and_time_are_one_law() -> None:
    charge = f.peukert_capacity(100 * HOUR, 20 * HOUR, 10.0, 1.2)
    assert charge / 10.0 == pytest.approx(f.discharge_time(100 * HOUR, 20 * HOUR, 10.0, 1.2), rel=1e-12)


def test_small_currents_do_not_give_more_than_rated() -> None:
    assert f.peukert_capacity(100 * HOUR, 20 * HOUR, 0.5, 1.2) == pytest.approx(100 * HOUR)


@pytest.mark.parametrize(("charge", "volts"), [(1.0, 12.6), (0.75, 12.4), (0.5, 12.2), (0.25, 12.0), (0.0, 11.6)])
def test_lead_acid_rested_voltage_seen(charge: float, volts: float) -> None:
    assert 6 * cell("sealed-lead", charge) == pytest.approx(volts, abs=0.1)


def test_sag_of_a_sealed_battery_seen() -> None:
    assert 12.7 - 20 * row("packs", "lead-12v-7ah").quantities["resistance"].si == pytest.approx(12.16, rel=5e-3)


def test_fault_current_of_a_sealed_battery_seen() -> None:
    assert 12 / row("packs", "lead-12v-7ah").quantities["resistance"].si == pytest.approx(444.4, rel=5e-3)


def test_iron_phosphate_plateau_from_memory() -> None:
    assert cell("lifepo4", 0.5) == pytest.approx(3.28, abs=0.06)
    assert 3.35 <= cell("lifepo4", 1.0) <= 3.40
    assert all(3.19 <= cell("lifepo4", c) <= 3.34 for c in np.linspace(0.2, 0.8, 7))


@pytest.mark.parametrize(("charge", "volts"), [(0.0, 3.0), (0.5, 3.65), (1.0, 4.2)])
def test_mixed_oxide_from_memory(charge: float, volts: float) -> None:
    assert cell("li-ion-nmc", charge) == pytest.approx(volts, abs=0.1)


def test_two_unequal_packs_millman_from_memory() -> None:
    emf, r = np.array([12.8, 12.6]), np.array([0.030, 0.050])
    volts = f.joined_voltage(emf, r, 20.0)
    assert volts == pytest.approx(12.35, rel=1e-3)
    assert (emf[0] - volts) / r[0] == pytest.approx(15.0, rel=1e-3)
    assert (emf[1] - volts) / r[1] == pytest.approx(5.0, rel=1e-3)


def test_equal_packs_share_by_conductance() -> None:
    assert f.shares(np.array([0.030, 0.050])) == pytest.approx([0.625, 0.375])


def test_surge_on_joining_by_circuit_law() -> None:
    # 12.8 V to 12.0 V over 30 and 50 mohm, 40 mohm each on average: 10 A (a circuit simulator gave 10.00000).
    assert f.joining_surge(0.8, 0.040, 2) == pytest.approx(10.0, rel=1e-9)
    # The scenario "1.7 V over 60 mohm = 28 A".
    assert f.joining_surge(1.7, 0.030, 2) == pytest.approx(28.0, rel=0.02)


def test_inrush_into_a_capacitor_rc_law() -> None:
    assert f.charging_voltage(12.0, 0.1, 2200e-6, 0.22e-3) == pytest.approx(7.58545, rel=5e-4)


def test_duty_mean_and_heating_current_common_practice() -> None:
    amps, shares = np.array([12.0, 2.0]), np.array([0.3, 0.7])
    assert 20 * 0.8 / f.mean_by_share(amps, shares) == pytest.approx(3.2, rel=5e-3)
    assert f.rms_by_share(amps, shares) == pytest.approx(6.782, rel=1e-3)


def test_usable_shares_common_practice() -> None:
    assert row("chemistries", "lifepo4").quantities["usable_share"].si == pytest.approx(0.70)
    assert row("chemistries", "sealed-lead").quantities["usable_share"].si == pytest.approx(0.50)
