"""Life, equivalent load and safety of radial ball bearings (ISO 281, ISO 76).

Bibliography: a general catalogue of ball and roller bearings, CAT. 2203/E, sections 3, 4.5 and 8.4, examples 1 and 2,
Tables 3.2 and 3.6: seen as a text copy.
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.design.sections.axle import Axle
from dryfit.design.sections.workshop import Workshop
from dryfit.machine.axle import resolve_axle
from dryfit.machine.ledger import Ledger
from dryfit.machine.workshop import resolve_workshop
from dryfit.trades.shafts.formulas_bearings import (
    AXIAL_Y,
    LIMIT_E,
    axial_factors,
    combined_load,
    equivalent_load,
    least_load,
    life_factor,
    rated_hours,
    reliability_factor,
    speed_factor,
)


def test_example_1_life_of_6208() -> None:
    assert rated_hours(32.5, 3.2, 650) == pytest.approx(27000, abs=300)


def test_example_1_speed_factor() -> None:
    assert speed_factor(650) == pytest.approx(0.37, abs=0.003)


def test_example_1_life_factor() -> None:
    assert speed_factor(650) * 32.5 / 3.2 == pytest.approx(3.76, abs=0.03)
    assert life_factor(rated_hours(32.5, 3.2, 650)) == pytest.approx(speed_factor(650) * 32.5 / 3.2, rel=1e-9)


def test_example_2_equivalent_load() -> None:
    """Fr 3.2, Fa 1.8 kN, X 0.56, Y 1.43: P = 4.38 kN."""
    assert combined_load(3.2, 1.8, 0.56, 1.43) == pytest.approx(4.38, abs=0.02)


def test_example_2_table_value_of_e() -> None:
    """f0·Fa/C0 = 1.42: e = 0.30 as printed (two figures)."""
    assert axial_factors(1.42)[0] == pytest.approx(0.30, abs=0.005)


def test_example_2_life() -> None:
    assert rated_hours(32.5, 4.38, 650) == pytest.approx(10500, abs=100)


def test_example_2_whole_way() -> None:
    """From the loads to the life with our own table: f0·Fa/C0 = 1.42 gives 4.38 kN within the row's 0.02."""
    static = 17.8  # kN; with f0 chosen so that the printed 1.42 results
    assert equivalent_load(3.2, 1.8, static, 1.42 * static / 1.8) == pytest.approx(4.38, abs=0.02)


@pytest.mark.parametrize(("percent", "a1"), [(90, 1.0), (95, 0.64), (96, 0.55), (97, 0.47), (99, 0.25)])
def test_table_3_2_reliability(percent: float, a1: float) -> None:
    """Rows R09; 90 % is the definition."""
    assert reliability_factor(percent) == pytest.approx(a1, abs=0.001)


def test_section_8_4_least_load() -> None:
    """Row R08: C0 6650 N: 153 N."""
    assert least_load(6650) == pytest.approx(153, abs=1)


def test_table_3_6_static_safety() -> None:
    """Rows R10: 2 for quiet, 1 for normal running, 1.5 under impact; a show machine meets kerbs."""
    assert resolve_axle(Axle(), Ledger(), resolve_workshop(Workshop(), Ledger())).limits.static_safety == 1.5


def test_table_3_has_no_step_where_the_axial_load_begins_to_count() -> None:
    """Where Fa/Fr = e both lines of the rule must give Fr: 0.56 + Y e = 1, so Y e = 0.44 (follows from the rule; the
    printed values are rounded to two digits of e)."""
    product = LIMIT_E * AXIAL_Y
    assert product == pytest.approx(np.full(9, 0.44), abs=0.006)
