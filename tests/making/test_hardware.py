"""Screws follow from what the design file says: where, how many, how long, and from which line."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import pytest

from dryfit.design.read import read_text
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import Machine, resolve
from dryfit.machine.purchases import Orders, resolve_purchases
from dryfit.machine.stock import resolve_stock
from dryfit.making.hardware import LENGTHS, SET_LENGTHS, hardware
from dryfit.making.records_lists import Fastening, Hardware

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def built(text: str, path: Path) -> tuple[Machine, Orders]:
    design = read_text(text, str(path))
    machine = resolve(design, path)
    ledger = Ledger(path.name)
    stock = resolve_stock(design.workshop.stock, design.body, machine, ledger)
    orders = resolve_purchases(design.purchases, machine, ledger, stock=stock)
    ledger.close()
    return machine, orders


@cache
def example(name: str) -> tuple[str, Machine, Orders]:
    path = EXAMPLES / name / "design.yaml"
    text = path.read_text(encoding="utf-8")
    return text, *built(text, path)


def screws_of(name: str) -> Hardware:
    _, machine, orders = example(name)
    return hardware(machine, orders)


def changed(name: str, old: str, new: str) -> Hardware:
    text, *_ = example(name)
    assert old in text
    return hardware(*built(text.replace(old, new), EXAMPLES / name / "design.yaml"))


def only(found: Hardware, where: str, kind: str = "cap-screw") -> Fastening:
    [one] = [f for f in found.fastenings if f.where == where and f.item.endswith(kind)]
    return one


def test_sunbloom_by_hand() -> None:
    """Three wheels: 2 clamp screws each; 2 blocks each with 2 bolts; 4 screws a motor; 24 ends of extrusion with 2
    each; 6 servos with 4. Clamp: 2 × 12 mm + 2 mm of washers + nut 4.7 + 0.8 = 31.5: M5 × 35."""
    found = screws_of("sunbloom")
    counts = {f.where: (f.item, f.count) for f in found.fastenings if f.item.endswith("screw")}
    assert counts["hub clamp"] == ("m5x35-cap-screw", 6)
    assert counts["pillow block"] == ("m10x40-cap-screw", 12)
    assert counts["gearmotor face"] == ("m3x8-cap-screw", 12)
    assert counts["ends of the slot-20 pieces"] == ("m5x10-cap-screw", 48)
    assert counts["servo"] == ("m4x16-cap-screw", 24)
    assert counts["axle end"] == ("m6x12-cap-screw", 3)
    assert only(found, "hub clamp", "nut").count == 6
    assert only(found, "hub clamp", "-washer").count == 12
    assert only(found, "ends of the slot-20 pieces", "slot-nut").count == 48


def test_every_place_says_why_and_most_where_in_the_file() -> None:
    lines = example("sunbloom")[0].splitlines()
    found = screws_of("sunbloom")
    assert all(f.why and f.stage for f in found.fastenings)
    assert "retention" in lines[only(found, "hub clamp").line - 1]
    assert "slot-20" in lines[only(found, "ends of the slot-20 pieces").line - 1]
    assert "uc204" in lines[only(found, "pillow block").line - 1]


@pytest.mark.parametrize("name", ["sunbloom", "beacon", "drift", "gangway"])
def test_lengths_are_usual_ones_and_reach(name: str) -> None:
    for f in screws_of(name).fastenings:
        if math.isfinite(f.length):
            assert any(math.isclose(f.length, x) for x in (*LENGTHS, *SET_LENGTHS))
            assert f.length >= f.stack or f.item.endswith("set-screw")
            assert f"x{f.length * 1e3:.0f}-" in f.item


def test_a_thicker_hub_takes_longer_screws() -> None:
    found = changed("sunbloom", "hub: {made: printed, length: 40 mm, wall: 12 mm}",
                    "hub: {made: printed, length: 40 mm, wall: 16 mm}")  # fmt: skip
    assert only(found, "hub clamp").item == "m5x40-cap-screw"


def test_a_flat_takes_set_screws_no_longer_than_the_wall() -> None:
    """Gangway: printed hubs on a flat, so each set screw wants a nut in the print."""
    found = screws_of("gangway")
    screw = only(found, "hub", "set-screw")
    assert screw.count == 4
    assert screw.length <= screw.stack + 1e-9
    assert only(found, "hub", "nut").count == 4
    assert only(found, "caster plate").count == 8


def test_no_pillow_blocks_no_bolts_and_no_frame_no_slot_nuts() -> None:
    found = screws_of("drift")
    assert not any(f.where == "pillow block" for f in found.fastenings)
    beacon = screws_of("beacon")
    assert not any(f.item.endswith("slot-nut") for f in beacon.fastenings)
    assert any(f.where == "pillow block" for f in beacon.fastenings)


def test_what_is_not_counted_is_said() -> None:
    printed = changed("sunbloom", "housing: pillow block", "housing: printed seat")
    assert any("printed bearing seats" in note for note in printed.notes)
    assert any("panels, covers" in note for note in printed.notes)
    small = changed("gangway", "item: uc202", "item: uc206, bore: 30 mm")
    assert any("more than 25 mm bore" in note for note in small.notes)


def test_what_no_usual_screw_is_long_enough_for_takes_threaded_rod() -> None:
    """Two ears of 80 mm, and at either end a washer of 1 mm, a nut of 4.7 mm and a thread of 0.8 mm: 173 mm."""
    found = changed("sunbloom", "hub: {made: printed, length: 40 mm, wall: 12 mm}", "hub: {made: printed, wall: 80 mm}")
    rod = only(found, "hub clamp", "threaded-rod")
    assert rod.length == pytest.approx(0.173, abs=1.001e-3)
    assert rod.length >= 0.173 - 1e-9
    assert "no usual screw is as long" in rod.why
    assert only(found, "hub clamp", "nut").count == 2 * rod.count
