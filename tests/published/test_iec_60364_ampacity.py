"""What wires may carry.

Bibliography
- IEC 60364-5-52, methods B2 and C, PVC 70 °C, 40 °C surroundings, three loaded conductors: seen as reproduced in a
  machine's manual. Ambient factors of table B.52.14: 45 °C seen (27 A at 30 °C becomes 21 A at 45 °C in the same
  manual), the others from memory. Bundles, table B.52.17 item 1: from memory.
- IEC 60204-1, table 6: from memory.
"""

from __future__ import annotations

import pytest

from dryfit.catalogue.rows import row
from dryfit.design.sections.power import Branch
from dryfit.machine.ledger import Ledger
from dryfit.machine.wiring import resolve_run
from dryfit.trades.power import formulas as f

METHOD_C = {"1.5": 15.0, "2.5": 21.0, "4": 28.0, "6": 36.0}
METHOD_B2 = {"2.5": 17.0, "4": 23.0, "6": 30.0}


def carried(area: str) -> float:
    record = Branch.model_validate({"name": "run", "area": area, "length": "1 m"})
    return float(resolve_run(record, "run", Ledger(), "1 mm2", "1 m").ampacity)


@pytest.mark.parametrize(("area", "amperes"), METHOD_C.items())
def test_method_c_at_40_c_seen(area: str, amperes: float) -> None:
    assert row("wires", f"class5-{area}").quantities["ampacity"].si == pytest.approx(amperes, abs=1.0)
    assert carried(f"{area} mm2") == pytest.approx(amperes, abs=1.0)


@pytest.mark.parametrize(("area", "amperes"), METHOD_B2.items())
def test_method_b2_lies_below_the_table_used_seen(area: str, amperes: float) -> None:
    # In closed conduit the same wire carries less; a harness in a body is nearer to method C.
    assert amperes < carried(f"{area} mm2") <= amperes * 1.3


@pytest.mark.parametrize(("area", "amperes"), [("4", 28.0), ("6", 36.0), ("10", 50.0), ("16", 66.0)])
def test_iec_60204_table_6_method_c_from_memory(area: str, amperes: float) -> None:
    assert carried(f"{area} mm2") == pytest.approx(amperes, rel=0.03)


@pytest.mark.parametrize(("ambient", "factor"), [(40, 0.87), (45, 0.79), (50, 0.71), (55, 0.61), (60, 0.50)])
def test_ambient_factor_45_seen_others_from_memory(ambient: float, factor: float) -> None:
    assert f.ambient_factor(273.15 + ambient, 343.15, 303.15) == pytest.approx(factor, abs=0.01)


def test_27_a_at_30_c_is_21_a_at_45_c_seen() -> None:
    assert 27 * f.ambient_factor(318.15, 343.15, 303.15) == pytest.approx(21, abs=0.5)


@pytest.mark.parametrize(("circuits", "factor"), [(1, 1.0), (2, 0.80), (3, 0.70), (4, 0.65), (6, 0.57), (9, 0.50)])
def test_bundle_factor_from_memory(circuits: int, factor: float) -> None:
    assert f.group_factor(float(circuits)) == pytest.approx(factor, abs=0.01)


def test_sizes_between_table_rows_stay_below_the_concave_table() -> None:
    assert carried("2.5 mm2") < carried("3.3 mm2") < carried("4 mm2")
    assert carried("0.1 mm2") < carried("0.25 mm2")
