"""Every row of every kind of the catalogue reads, says where it comes from, and is possible."""

from __future__ import annotations

import csv
import re
from importlib import resources

import numpy as np
import pytest

from dryfit.catalogue.rows import Row, keys, kinds, row
from dryfit.ground.errors import UnknownNameError
from dryfit.ground.sources import Status
from dryfit.ground.units import show

ROWS = [(kind, key) for kind in kinds() for key in keys(kind)]
LEAST_WORDS_OF_A_SOURCE = 2
EXTERNAL = ("materials", "floors", "profiles", "fasteners")


def texts(kind: str) -> list[dict[str, str]]:
    """The cells of a file as they stand."""
    file = resources.files("dryfit.catalogue") / "data" / f"{kind}.csv"
    return list(csv.DictReader(file.read_text(encoding="utf-8").splitlines()))


def rows(kind: str) -> list[Row]:
    return [row(kind, key) for key in keys(kind)]


def test_the_shared_kinds_are_there() -> None:
    assert set(EXTERNAL) <= set(kinds())


@pytest.mark.parametrize(("kind", "key"), ROWS)
def test_row_reads_and_names_its_source(kind: str, key: str) -> None:
    part = row(kind, key)
    assert part.name
    assert len(part.source.title.split()) >= LEAST_WORDS_OF_A_SOURCE
    assert part.source.status in Status
    assert all(np.isfinite(q.si) for q in part.quantities.values())
    assert part.quantities or part.words


@pytest.mark.parametrize("kind", EXTERNAL)
def test_shared_rows_say_what_they_do_not_claim(kind: str) -> None:
    assert all(part.note for part in rows(kind))


@pytest.mark.parametrize("kind", kinds())
def test_keys_are_unique_and_plain(kind: str) -> None:
    typed = [cells["key"] for cells in texts(kind)]
    assert len(typed) == len(set(typed))
    assert all(re.fullmatch(r"[a-z0-9]+([-.][a-z0-9]+)*", key) for key in typed)


@pytest.mark.parametrize("kind", kinds())
def test_no_registered_names_or_part_numbers(kind: str) -> None:
    """No trade mark sign, no web shop, and nothing shaped like a maker's type number (letters, digits, letters)."""
    for cells in texts(kind):
        words = " ".join(cells.values())
        assert not re.search(r"[®™]|\bwww\.|\.com\b", words), words
        assert not re.search(r"\b[A-Z]{2,4}\d{3,}[A-Z]\w*", words), words


@pytest.mark.parametrize("kind", kinds())
def test_ranges_enclose_their_nominal(kind: str) -> None:
    """x_low <= x <= x_high for every column that has such neighbours."""
    for part in rows(kind):
        numbers = {name: q.si for name, q in part.quantities.items()}
        for name, value in numbers.items():
            stem = name.removesuffix("_resistance") if kind == "floors" else name
            assert numbers.get(f"{stem}_low", value) <= value <= numbers.get(f"{stem}_high", value), (part.key, name)


def test_materials_are_ordered() -> None:
    for part in rows("materials"):
        q = {name: x.si for name, x in part.quantities.items()}
        assert q["tensile_strength"] < q["modulus"] / 5 or part.key.endswith("foam")
        assert q.get("yield_strength", 0.0) <= q["tensile_strength"]
        assert q.get("layer_strength", 0.0) <= q["tensile_strength"]
        assert ("layer_strength" in q) == (part.words["sort"] == "filament")
        assert part.words["sort"] in {"metal", "wood", "sheet", "filament"}
        if part.key in {"pla", "petg", "abs", "asa", "pc", "acrylic", "polycarbonate-sheet", "xps-foam"}:  # amorphous
            assert q["service_temperature"] < q["glass_temperature"]


def test_floors_give_what_the_brief_reads() -> None:
    for part in rows("floors"):
        assert {"friction", "friction_low", "friction_high", "rolling_resistance"} <= set(part.quantities)
        assert "tenfold" in part.note


def test_every_profile_names_a_material_and_weighs_what_it_should() -> None:
    for part in rows("profiles"):
        q = {name: x.si for name, x in part.quantities.items()}
        density = row("materials", part.words["material"]).quantities["density"].si
        assert q["mass_per_length"] == pytest.approx(
            q["area"] * density, rel=2e-3 if part.words["shape"] != "slot" else 0.03
        )


def test_a_second_moment_and_a_mass_per_length_are_shown_in_trade_units() -> None:
    assert show(row("profiles", "bar-20").quantities["second_moment"].si, "m4") == "7854 mm⁴"
    assert show(row("profiles", "bar-20").quantities["mass_per_length"].si, "kg/m") == "2.47 kg/m"


def test_an_unknown_row_is_answered_with_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="petg"):
        row("materials", "petgg")
    with pytest.raises(UnknownNameError, match="floors"):
        row("florrs", "tiles")
