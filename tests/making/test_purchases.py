"""The purchase list: counts from the machine, spares, the shelf, packs, cost and the day to order by."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import pytest

from dryfit.catalogue.rows import keys, row
from dryfit.design.read import read_text
from dryfit.ground.errors import DesignError
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import Machine, resolve
from dryfit.machine.printing import resolve_printing
from dryfit.machine.purchases import STAGES, Orders, guess, guess_wire, resolve_purchases
from dryfit.machine.stock import resolve_stock
from dryfit.making import stages
from dryfit.making.cutting import cut_list
from dryfit.making.purchases import purchases
from dryfit.making.records_lists import Buy, Purchases, WiringLists
from dryfit.views.purchase_list import amount, purchase_page

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
ROLLS = WiringLists((), (), "", (), (("1.5 mm² (AWG 16), red", 7.2),), (("ferrule 1.5 mm², black sleeve", 40),))


def orders_of(text: str, path: Path) -> tuple[Machine, Orders]:
    design = read_text(text, str(path))
    machine = resolve(design, path)
    ledger = Ledger(path.name)
    printing = resolve_printing(design.workshop, ledger, machine.workshop)
    stock = resolve_stock(design.workshop.stock, design.body, machine, ledger)
    orders = resolve_purchases(design.purchases, machine, ledger, stock=stock, printing=printing)
    ledger.close()
    return machine, orders


@cache
def example(name: str) -> str:
    return (EXAMPLES / name / "design.yaml").read_text(encoding="utf-8")


def listed(
    name: str = "sunbloom",
    *swaps: tuple[str, str],
    needed_on: Mapping[str, date] | None = None,
    first: date | None = None,
    filament: Mapping[str, float] | None = None,
) -> Purchases:
    text = example(name)
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    machine, orders = orders_of(text, EXAMPLES / name / "design.yaml")
    cuts = cut_list(orders.stock)
    return purchases(
        machine, orders, cuts=cuts, wiring=ROLLS, filament=filament or {}, needed_on=needed_on or {}, first=first
    )


def line(found: Purchases, item: str) -> Buy:
    [one] = [b for b in found.lines if b.item == item]
    return one


def test_counts_of_sunbloom_by_hand() -> None:
    found = listed()
    expected = {  # item: needed, spares, on the shelf, to buy
        "omni-203-double": (3, 0, 0, 3),
        "gearmotor-12v-300rpm-3nm": (3, 1, 0, 4),
        "bridge-43a-trip": (3, 0, 0, 3),
        "uc204": (6, 0, 0, 6),
        "lifepo4-12v8-7ah": (6, 0, 3, 3),  # three in parallel, one spare set, three on the shelf
        "servo-55-kgcm": (6, 1, 0, 7),
        "32-bit-3v3": (1, 1, 0, 2),
        "blade-20a": (7, 7, 0, 14),  # six leads and the arm rail, as many spares
        "blade-3a": (1, 2, 0, 3),  # two spares at least
        "bolted-50a": (1, 2, 0, 3),
        "slot-20": (2, 0, 0, 2),
        "addressable-5v-60": (1, 0, 0, 1),
        "foam edge": (3, 0, 0, 3),
        "m10x40-cap-screw": (12, 2, 0, 14),
        "m5x10-cap-screw": (60, 6, 0, 66),
    }
    for item, counts in expected.items():
        b = line(found, item)
        assert (b.needed, b.spares, b.in_stock, b.count) == counts, item


def test_cost_is_packs_times_price_and_the_sum_is_of_the_lines() -> None:
    found = listed()
    for b in found.lines:
        assert b.packs == math.ceil(b.count / b.pack_of)
        assert math.isnan(b.price) or b.cost == pytest.approx(b.packs * b.price)
    assert found.total == pytest.approx(sum(b.cost for b in found.lines if not math.isnan(b.cost)))
    # as typed in the file, the opal tube under `sold`
    quoted = 4 * 34 + 3 * 58 + 3 * 62 + 7 * 49 + 3 * 9 + 12 + 64 + (14 + 2 * 38 + 70 + 6 + 4)
    assert found.quoted * found.total == pytest.approx(quoted)
    assert line(found, "blade-20a").packs == 3


def test_a_quote_may_say_how_many_come_together() -> None:
    items = "    - {item: foam edge, count: 3, price: 9 EUR, needed_for: body}"
    more = items + "\n    - {item: m5x10-cap-screw, price: 6 EUR, pack_of: 20, in_stock: 8, spares: 0}"
    b = line(listed("sunbloom", (items, more)), "m5x10-cap-screw")
    assert (b.count, b.packs, b.cost, b.known) == (52, 3, 18.0, "quoted")


def test_a_quote_for_what_is_not_needed_is_kept_and_said() -> None:
    """Wires and screws are counted later than the file is read; one that turns out to be idle is named."""
    items = "    - {item: foam edge, count: 3, price: 9 EUR, needed_for: body}"
    more = f"{items}\n    - {{item: m8x90-cap-screw, price: 6 EUR}}"
    more += "\n    - {item: 'wire 1.5 mm² (AWG 16), red', price: 8 EUR}"
    found = listed("sunbloom", (items, more))
    assert any("m8x90-cap-screw" in note and "none is needed" in note for note in found.notes)
    roll = line(found, "wire 1.5 mm² (AWG 16), red")
    assert (roll.known, roll.cost) == ("quoted", 16.0)


def test_the_diffuser_that_is_cut_from_stock_is_not_bought_twice() -> None:
    assert not [b for b in listed().lines if b.item == "opal-tube-110"]
    assert line(listed("beacon"), "opal-tube-110").count == 1


def test_filament_is_bought_by_the_spool_and_the_shelf_is_used_first() -> None:
    """9.31 kg less 1.4 kg on the shelf is 7.91 kg: eight spools of 1 kg at 22 EUR; polyamide comes at 0.75 kg."""
    found = listed(filament={"petg": 9.31, "pa": 0.76})
    petg, pa = line(found, "petg"), line(found, "pa")
    assert (petg.needed, petg.in_stock, petg.count, petg.packs, petg.cost) == (9310, 1400, 7910, 8, 176.0)
    assert (pa.packs, pa.cost, pa.known) == (2, 96.0, "quoted")
    assert amount(petg) == "8 × 1 kg"


def test_wire_by_the_roll_and_what_goes_on_its_ends() -> None:
    found = listed()
    wire = line(found, "wire 1.5 mm² (AWG 16), red")
    assert (wire.needed, wire.packs, wire.pack_of, wire.unit) == (8, 2, 5, "m")
    assert line(found, "ferrule 1.5 mm², black sleeve").spares == 4


def test_ordered_so_long_before_it_is_needed() -> None:
    """Needed on 1 April; 21 days to come and 3 of margin: 8 March. Without a date there is none to order by."""
    day = date(2027, 4, 1)
    found = listed(needed_on={"wheel units": day})
    motor = line(found, "gearmotor-12v-300rpm-3nm")
    assert (motor.needed_on, motor.order_by) == (day, day - timedelta(days=24))
    assert found.lines[0] is motor
    assert line(found, "uc204").order_by == day - timedelta(days=10)
    assert line(found, "blade-3a").order_by is None
    late = listed(needed_on={"wheel units": day}, first=date(2027, 3, 10)).notes
    assert any("had to be ordered by 2027-03-08" in note for note in late)
    assert not any("ordered by" in note for note in found.notes)


def test_over_budget_is_said_first() -> None:
    found = listed("sunbloom", ("budget: 4800 EUR", "budget: 500 EUR"))
    assert found.budget == 500
    assert found.notes[0].startswith("The sum of ")
    assert "over the 500 EUR of the brief" in found.notes[0]
    assert "over the budget of 500 EUR" in str(purchase_page(found))
    assert "under the budget of 4800 EUR" in str(purchase_page(listed()))


def test_what_nobody_knows_the_price_of_is_named_and_not_in_the_sum() -> None:
    old = "    - {item: foam edge, count: 3, price: 9 EUR, needed_for: body}"
    found = listed("sunbloom", (old, "    - {item: glitter, count: 2}"))
    assert line(found, "glitter").known == "nobody knows"
    assert any("Without a price" in note and "glitter" in note for note in found.notes)
    assert math.isfinite(found.total)


def test_things_that_the_file_does_not_name_are_asked_for() -> None:
    asked = next(n for n in listed("gangway").notes if "not on the list" in n)
    assert "charger for the packs" in asked
    assert not any("not on the list" in n for n in listed().notes)
    without = listed("sunbloom", ("    - {item: lamp, count: 1, price: 6 EUR, needed_for: logic}\n", ""))
    assert any("not on the list: lamp." in n for n in without.notes)


@pytest.mark.parametrize("name", ["sunbloom", "beacon", "drift", "gangway"])
def test_every_line_has_a_stage_a_reason_and_a_price(name: str) -> None:
    for b in listed(name).lines:
        assert b.needed_for in STAGES
        assert b.why
        assert b.price > 0
        assert b.lead_time > 0


def test_the_stages_are_those_of_the_build() -> None:
    assert STAGES == stages.ORDER


BOUGHT = (
    "wheels", "gearmotors", "drivers", "bearings", "packs", "regulators", "servos", "controllers", "strips",
    "diffusers", "connectors", "fuses", "profiles", "sheets",
)  # fmt: skip


@pytest.mark.parametrize("kind", BOUGHT)
def test_every_row_that_can_be_bought_has_a_class_guess(kind: str) -> None:
    for key in keys(kind):
        usual = guess(kind, key)
        assert 0 < usual.price < 1000
        assert usual.pack_of >= 1


def test_a_class_guess_goes_to_the_nearest_class() -> None:
    assert guess("bearings", "6204").price == row("prices", "bearings.62").quantities["price"].si
    assert guess("bearings", "608").price == row("prices", "bearings.608").quantities["price"].si
    assert guess("fuses", "mini-blade-5a").pack_of == 5
    assert guess("servos", "servo-999-kgcm").price == row("prices", "servos").quantities["price"].si
    assert math.isnan(guess("unicorns", "white").price)
    assert guess_wire(3e-6).price == guess("wires", "class5-4").price


BAD = {
    "the machine has no 'servo-55-kgmc'; did you mean servo-55-kgcm": ("item: servo-55-kgcm", "item: servo-55-kgmc"),
    "named twice under `items`": ("{item: foam edge, count: 3", "{item: omni-203-double, count: 3"),
    "no build stage named 'bodey'; did you mean body": ("needed_for: body", "needed_for: bodey"),
    "a pack holds one at least": ("count: 3, price: 9 EUR", "count: 3, pack_of: 0, price: 9 EUR"),
}  # fmt: skip


@pytest.mark.parametrize("said", BAD)
def test_bad_purchases_are_told_with_their_line(said: str) -> None:
    old, new = BAD[said]
    text = example("sunbloom")
    spot = text.index(old, text.index("purchases:"))
    text = text[:spot] + new + text[spot + len(old) :]
    with pytest.raises(DesignError) as wrong:
        orders_of(text, EXAMPLES / "sunbloom" / "design.yaml")
    [fault] = wrong.value.faults
    assert said in str(fault)
    assert fault.line == text[:spot].count("\n") + 1


def test_a_bare_design_still_has_a_list() -> None:
    machine, orders = orders_of("name: nothing yet\n", Path("design.yaml"))
    found = purchases(machine, orders, cuts=cut_list(orders.stock))
    assert {b.kind for b in found.lines} >= {"wheels", "gearmotors", "drivers", "packs", "controllers"}
    assert all(b.order_by is None for b in found.lines)
