"""Stress area and proof load worked out from the thread of the catalogue's fasteners.

Bibliography: ISO 898-1 tables of stress area and proof load, class 8.8, as reprinted by fastener suppliers: seen.
"""

from __future__ import annotations

import pytest

from dryfit.catalogue.rows import row
from dryfit.trades.shafts.formulas_grip import proof_load, stress_area


@pytest.mark.parametrize(("key", "area"), [("m3", 5.03), ("m4", 8.78), ("m5", 14.2), ("m6", 20.1)])
def test_stress_area(key: str, area: float) -> None:
    """Rows T01, tolerance 0.06 mm²: seen."""
    q = row("fasteners", key).quantities
    assert stress_area(q["diameter"].si, q["pitch"].si) * 1e6 == pytest.approx(area, abs=0.06)


@pytest.mark.parametrize(("key", "load"), [("m3", 2920), ("m4", 5100), ("m5", 8230), ("m6", 11600), ("m10", 33700)])
def test_proof_load_class_8_8(key: str, load: float) -> None:
    """Rows T02, tolerance 0.6 %: seen. The standard multiplies its tabulated area, which has three figures."""
    q = row("fasteners", key).quantities
    area = float(f"{stress_area(q['diameter'].si, q['pitch'].si):.3g}")
    found = proof_load(area, 580e6)
    assert found == pytest.approx(load, rel=0.006)
