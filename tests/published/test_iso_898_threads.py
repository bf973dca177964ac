"""Metric threads of the catalogue's fasteners.

Source: ISO 898-1, tables of nominal stress area and of proof loads, coarse thread, as repeated by secondary tables
(seen). M8 proof load: from memory. Relation of the stress area: ISO 898-1, A_s = pi/4 (d - 0.9382 P)^2 (seen).
Clearance holes: ISO 273, fine, medium and coarse series, as repeated by a secondary table (seen).
Tightening torque against a secondary table for class 8.8, dry (seen): T = K F d with K = 0.2 is common practice.
"""

from __future__ import annotations

import pytest

from dryfit.catalogue.rows import keys, row
from dryfit.trades.shafts.formulas_grip import proof_load, stress_area


def si(key: str, column: str) -> float:
    return float(row("fasteners", key).quantities[column].si)


@pytest.mark.parametrize(
    ("key", "area"), [("m3", 5.03), ("m4", 8.78), ("m5", 14.2), ("m6", 20.1), ("m8", 36.6), ("m10", 58.0)]
)
def test_stress_area(key: str, area: float) -> None:
    """Status: seen."""
    assert si(key, "stress_area") * 1e6 == pytest.approx(area, abs=1e-9)


@pytest.mark.parametrize("key", keys("fasteners"))
def test_stress_area_follows_its_relation(key: str) -> None:
    """Status: seen; the tables round to three figures."""
    assert stress_area(si(key, "diameter"), si(key, "pitch")) == pytest.approx(si(key, "stress_area"), rel=5e-3)


@pytest.mark.parametrize(
    ("key", "load"),
    [("m3", 2920.0), ("m4", 5100.0), ("m5", 8230.0), ("m6", 11600.0), ("m8", 21200.0), ("m10", 33700.0)],
)
def test_proof_load_class_8_8(key: str, load: float) -> None:
    """Status: seen, M8 from memory. Proof stress of class 8.8 up to M16 is 580 MPa; tables agree to 0.6 %."""
    assert si(key, "proof_load") == load
    assert proof_load(si(key, "stress_area"), 580e6) == pytest.approx(load, rel=6e-3)


@pytest.mark.parametrize(
    ("key", "holes"),
    [
        ("m3", (3.2, 3.4, 3.6)),
        ("m4", (4.3, 4.5, 4.8)),
        ("m5", (5.3, 5.5, 5.8)),
        ("m6", (6.4, 6.6, 7.0)),
        ("m8", (8.4, 9.0, 10.0)),
        ("m10", (10.5, 11.0, 12.0)),
    ],
)
def test_iso_273_clearance_holes(key: str, holes: tuple[float, float, float]) -> None:
    """Status: seen."""
    read = tuple(round(si(key, c) * 1e3, 6) for c in ("hole_close", "hole", "hole_free"))
    assert read == holes


@pytest.mark.parametrize(("key", "torque"), [("m4", 3.1), ("m5", 6.1), ("m6", 10.4), ("m8", 25.0), ("m10", 50.0)])
def test_tightening_torque_class_8_8(key: str, torque: float) -> None:
    """Status: seen (dry, class 8.8); the table and K = 0.2 (common practice) agree to 5 %."""
    assert si(key, "tightening_torque") == pytest.approx(torque, rel=0.05)
