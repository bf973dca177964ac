"""The ledger: where a number comes from (typed, catalogue row, default, missing, in this order); faults and lines."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from dryfit.catalogue.rows import row
from dryfit.design.fields import Word
from dryfit.design.read import read_design, read_text
from dryfit.ground import units
from dryfit.ground.errors import DesignError
from dryfit.ground.quantity import Kind, Origin, Quantity, Spread
from dryfit.machine.ledger import Default, Ledger, whole
from dryfit.machine.machine import resolve

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
HABIT = Default("12 V", 0.05, "a car battery")


def typed(value: float, text: str, line: int, spread: Spread | None = None) -> Quantity:
    return Quantity(value, "voltage", Origin(Kind.DESIGN, "a.b", line, text), spread)


def test_what_is_typed_wins_over_row_and_default() -> None:
    ledger = Ledger()
    pack = row("packs", "lead-12v-7ah")
    asked = typed(12.5, "12.5 V", 7, Spread(0.01, "measured"))
    assert ledger.take("packs.nominal_voltage", units.VOLTAGE, asked, pack, HABIT) == 12.5
    assert ledger.origins["packs.nominal_voltage"] == asked.origin
    assert ledger.spreads["packs.nominal_voltage"].fraction == 0.01


def test_a_row_named_wins_over_the_default_and_tells_its_line_and_source() -> None:
    ledger = Ledger()
    pack = ledger.row("packs.item", "packs", Word("lead-12v-7ah", Origin(Kind.DESIGN, "packs.item", 9, "lead-12v-7ah")))
    assert ledger.take("packs.capacity", units.CHARGE, None, pack, Default("1 Ah", 0.0, "small")) == 7 * 3600
    origin = ledger.origins["packs.capacity"]
    assert (origin.kind, origin.line, origin.text) == (Kind.CATALOGUE, 9, "7 Ah")
    assert origin.source is not None
    assert origin.path == "packs/lead-12v-7ah"


def test_a_default_is_listed_with_its_reason() -> None:
    ledger = Ledger()
    assert ledger.take("a.volts", units.VOLTAGE, None, None, HABIT) == 12.0
    assert ledger.origins["a.volts"] == Origin(Kind.DEFAULT, "a.volts", 0, "12 V", "a car battery")
    assert ledger.spreads["a.volts"] == Spread(0.05, "a car battery")


def test_a_row_without_the_column_leaves_the_default() -> None:
    ledger = Ledger()
    assert ledger.take("packs.colour", units.VOLTAGE, None, row("packs", "lead-12v-7ah"), HABIT) == 12.0
    assert ledger.origins["packs.colour"].kind is Kind.DEFAULT


def test_without_a_default_it_is_missing_and_names_the_key_to_write() -> None:
    ledger = Ledger()
    assert np.isnan(ledger.take("power.main.fuse", units.CURRENT, None))
    origin = ledger.origins["power.main.fuse"]
    assert origin.kind is Kind.MISSING
    assert origin.note == f"write power.main.fuse, such as {units.CURRENT.example}"


def test_a_name_that_is_not_in_the_catalogue_is_a_fault_with_its_line() -> None:
    ledger = Ledger()
    asked = Word("lead-12v-8ah", Origin(Kind.DESIGN, "power.packs.item", 21, "lead-12v-8ah"))
    assert ledger.row("power.packs.item", "packs", asked) is None
    with pytest.raises(DesignError, match=re.escape("design.yaml:21: power.packs.item: ")) as found:
        ledger.close()
    assert re.search("did you mean .*lead-12v-7ah", str(found.value))


def test_all_faults_are_told_together_and_none_is_silent() -> None:
    ledger = Ledger()
    ledger.close()
    ledger.fault("a", "first")
    ledger.fault("b", "second")
    with pytest.raises(DesignError, match=r"(?s)first.*second"):
        ledger.close()


def test_the_line_of_a_key_is_its_own_or_the_nearest_above_or_below() -> None:
    ledger = Ledger()
    ledger.origins["a.b.c"] = Origin(Kind.DESIGN, "a.b.c", 12)
    ledger.origins["a.b.d[0].e"] = Origin(Kind.DESIGN, "a.b.d[0].e", 14)
    assert ledger.line("a.b.c") == 12
    assert ledger.line("a.b.d") == 14
    assert ledger.line("a.b") == 12
    assert ledger.line("a.b.x") == 12
    assert ledger.line("q") == 0


def test_a_count_is_one_number_for_all_machines() -> None:
    assert whole(np.array([3.0, 3.0])) == 3
    with pytest.raises(ValueError, match="one number"):
        whole(np.array([3.0, 4.0]))


@pytest.mark.parametrize("name", ["sunbloom", "gangway", "drift", "beacon"])
def test_every_default_of_an_example_has_a_reason_and_every_typed_number_its_line(name: str) -> None:
    file = EXAMPLES / name / "design.yaml"
    machine = resolve(read_design(file), file)
    lines = file.read_text(encoding="utf-8").splitlines()
    for path, origin in machine.origins.items():
        if origin.kind is Kind.DEFAULT:
            assert origin.note, path
            assert origin.text, path
        if origin.kind is Kind.DESIGN and origin.line:
            assert origin.text.split()[0] in lines[origin.line - 1], path
        if origin.kind is Kind.CATALOGUE:
            assert origin.source is not None, path
    assumed = {o.path for o in machine.assumed}
    assert assumed == {p for p, o in machine.origins.items() if o.kind is Kind.DEFAULT}


def test_an_almost_empty_file_lists_what_it_assumes() -> None:
    machine = resolve(read_text("name: bare\n"), Path("design.yaml"))
    assert len(machine.assumed) > 80
    assert all(o.note and o.text for o in machine.assumed)
