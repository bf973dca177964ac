"""Materials and sections of the catalogue against the tables they quote.

Bibliography, each seen as an excerpt or a secondary table:
EN 10025-2, table 7 (structural steels, least yield and tensile strength).
EN 10219 (density of steel for section tables).
EN 12020-2 / EN 573-3 (slot extrusions: tensile and proof strength, modulus, density).
Two density tables of filaments (1.27, 1.04 and 1.20 g/cm3 for PETG, ABS and PC).
Materials 18(19) 4530 (2025): printed polyamide 6. Engineering Proceedings 113(1) 19 (2025): printed polyurethane.
3D Printing and Additive Manufacturing, doi 10.1089/3dp.2020.0109: PLA across the layers.
Sensors 25(16) 5026 (2025): rolling resistance of omni wheels with two rows of rollers.
Friction of rubber on concrete: physics textbook table and friction tables as collected by a physics factbook (2006).
ANSI A326.3: wet dynamic friction of level indoor tiles.
Beam section tables: exact geometry (derived).
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from dryfit.catalogue.rows import row
from dryfit.design.sections.body import Body
from dryfit.machine.body import resolve_body
from dryfit.machine.ledger import Ledger
from dryfit.trades.drive.formulas_travel import travel_force


def si(kind: str, key: str, column: str) -> float:
    return float(row(kind, key).quantities[column].si)


@pytest.mark.parametrize(("key", "yielding"), [("steel-mild", 235e6), ("steel-mild-over-16", 225e6)])
def test_en_10025_2_table_7(key: str, yielding: float) -> None:
    """Status: seen. S235JR: 235 MPa to 16 mm, 225 MPa to 40 mm; least tensile strength 360 MPa."""
    assert si("materials", key, "yield_strength") == yielding
    assert si("materials", key, "tensile_strength") == 360e6


def test_slot_extrusion_alloy() -> None:
    """Status: seen. Rm >= 245 MPa, Rp0.2 >= 195 MPa, E = 70 GPa, 2.7 kg/dm3."""
    read = [
        si("materials", "aluminium-slot-profile", c)
        for c in ("tensile_strength", "yield_strength", "modulus", "density")
    ]
    assert read == [245e6, 195e6, 70e9, 2700.0]


@pytest.mark.parametrize(("key", "density"), [("petg", 1.27), ("abs", 1.04), ("pc", 1.20)])
def test_filament_density(key: str, density: float) -> None:
    """Status: seen, tolerance of the tables 0.02 g/cm3."""
    assert si("materials", key, "density") / 1000 == pytest.approx(density, abs=0.02)


def test_metres_of_filament_in_a_kilogram() -> None:
    """Status: derived. 1.75 mm filament of 1.24 g/cm3: 335.3 m a kilogram."""
    area = math.pi / 4 * 1.75e-3**2
    assert 1 / (area * si("materials", "pla", "density")) == pytest.approx(335.3, abs=0.5)


def test_mass_of_a_solid_print() -> None:
    """Status: derived. 150 cm3 of PLA of 1.24 g/cm3: 186 g, through the body's own sums."""
    block = {"name": "block", "shape": "box", "size": ["50 mm", "50 mm", "60 mm"], "material": "pla", "fill": "100 %"}
    parts = resolve_body(Body.model_validate({"parts": [block]}), Ledger(), Path())
    assert 1e3 * float(parts.mass[..., 0]) == pytest.approx(186, abs=0.5)


def test_pull_of_plastic_wheels_on_concrete() -> None:
    """Status: from memory, on the seen lever arm of 5 mm: 40 kg on wheels of 62.5 mm radius ask for 31.39 N."""
    assert travel_force(40.0, 0.0, 0.0, 5 / 62.5) == pytest.approx(31.39, abs=0.02)


def test_printed_polyamide() -> None:
    """Status: seen. 48 +- 5 MPa untreated; modulus 2.1 to 2.8 GPa."""
    assert si("materials", "pa", "tensile_strength") == pytest.approx(48e6, abs=5e6)
    assert 2.1e9 <= si("materials", "pa", "modulus") <= 2.8e9


def test_printed_polyurethane() -> None:
    """Status: seen. Strength 17.8 to 32.5 MPa, modulus 100.4 to 145.8 MPa: the row takes the lower ends."""
    assert si("materials", "tpu", "tensile_strength") == pytest.approx(17.8e6)
    assert si("materials", "tpu", "modulus") == pytest.approx(100.4e6, rel=0.01)


def test_pla_across_the_layers() -> None:
    """Status: seen. 22.8 MPa and 2.4 GPa on average, 47.8 % below the bulk filament."""
    assert si("materials", "pla", "layer_strength") <= 22.8e6
    assert si("materials", "pla", "tensile_strength") == pytest.approx(22.8e6 / (1 - 0.478), rel=0.01)
    assert si("materials", "pla", "modulus") == pytest.approx(2.4e9)


def test_rolling_resistance_of_omni_wheels_on_concrete() -> None:
    """Status: seen. Mean forces of 1.04 N to 10.34 N at 117.7 N and 215.8 N bound the row."""
    assert si("floors", "concrete-smooth", "rolling_low") == pytest.approx(1.04 / 117.7, abs=5e-4)
    assert si("floors", "concrete-smooth", "rolling_high") == pytest.approx(10.34 / 215.8, abs=5e-4)


def test_rolling_lever_arm_of_plastic_on_concrete() -> None:
    """Status: seen. Lever arm 5 mm: at the 101.5 mm of an omni wheel this is the upper bound of the paving row."""
    assert si("floors", "paving", "rolling_high") == pytest.approx(5 / 101.5, rel=0.02)


def test_rubber_on_concrete() -> None:
    """Status: seen. Sliding: dry 0.6 to 0.85, wet 0.45 to 0.75."""
    read = [si("floors", "concrete-smooth", c) for c in ("friction_low", "friction", "friction_high")]
    assert read == [0.45, 0.6, 0.85]


def test_wet_tile_stays_below_the_wet_friction_asked_of_new_tiles() -> None:
    """Status: seen. ANSI A326.3 asks at least 0.42, with a standard slider: no wheel is credited with more."""
    assert si("floors", "wet-tiles", "friction_high") <= 0.42


def test_round_bar_of_20_mm() -> None:
    """Status: derived. I = 7853.98 mm4, 2.466 kg/m at 7850 kg/m3."""
    assert si("profiles", "bar-20", "second_moment") * 1e12 == pytest.approx(7853.98, rel=1e-3)
    assert si("profiles", "bar-20", "mass_per_length") == pytest.approx(2.466, abs=0.001)


def test_mast_tube_of_50_by_2() -> None:
    """Status: derived. I = pi (50^4 - 46^4)/64 = 87 009 mm4."""
    assert si("profiles", "tube-al-50x2", "second_moment") * 1e12 == pytest.approx(87009, rel=1e-3)


def test_slot_extrusion_of_20_mm() -> None:
    """Status: from memory. A light 20 mm extrusion has about 0.7 cm4: 50 N at the end of 500 mm sag it by 4.25 mm."""
    sag = 50 * 0.5**3 / (3 * 70e9 * si("profiles", "slot-20", "second_moment"))
    assert sag == pytest.approx(4.252e-3, rel=1e-3)
