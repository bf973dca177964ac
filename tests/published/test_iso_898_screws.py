"""Thread stress areas and proof loads.

Bibliography: ISO 898-1 tables of stress area and proof load, class 8.8, as reprinted by fastener suppliers: seen.
"""

from __future__ import annotations

import pytest

from dryfit.catalogue.rows import row
from dryfit.trades.shafts.formulas_grip import proof_load, stress_area


@pytest.mark.parametrize(("key", "area"), [("M3", 5.03), ("M4", 8.78), ("M5", 14.2), ("M6", 20.1)])
def test_stress_area(key: str, area: float) -> None:
    """Rows T01, tolerance 0.06 mm²: seen."""
    q = row("screws", key).quantities
    assert stress_area(q["screw_diameter"].si, q["pitch"].si) * 1e6 == pytest.approx(area, abs=0.06)


@pytest.mark.parametrize(("key", "load"), [("M3", 2920), ("M4", 5100), ("M5", 8230), ("M6", 11600), ("M10", 33700)])
def test_proof_load_class_8_8(key: str, load: float) -> None:
    """Rows T02, tolerance 0.6 %: seen. The standard multiplies its tabulated area, which has three figures."""
    q = row("screws", key).quantities
    area = float(f"{stress_area(q['screw_diameter'].si, q['pitch'].si):.3g}")
    found = proof_load(area, q["proof_stress"].si)
    assert found == pytest.approx(load, rel=0.006)
