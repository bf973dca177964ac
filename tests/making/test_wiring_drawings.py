"""Drawings and tables of the wiring: nothing overlaps, nothing is cut off, letters are large enough."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest

from dryfit.design.read import read_text
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import resolve
from dryfit.machine.wiring_places import resolve_wiring
from dryfit.making.records_lists import ConnectorMap, Contact, PinLine, WiringLists
from dryfit.making.wires import wiring_lists
from dryfit.outputs.drawings import svg
from dryfit.views.connector_drawing import connector_drawings
from dryfit.views.drawing import Area, Circle, Drawing, Line, Words
from dryfit.views.lettering import fitted, lines, width
from dryfit.views.page import Paragraph, Table
from dryfit.views.pin_drawing import pin_drawings
from dryfit.views.wire_labels import label_drawings
from dryfit.views.wire_list import wire_sheet, wiring_page

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def lists_of(name: str) -> WiringLists:
    file = EXAMPLES / name / "design.yaml"
    design = read_text(file.read_text(encoding="utf-8"), str(file))
    machine, ledger = resolve(design, file), Ledger("design.yaml")
    places = resolve_wiring(design.wiring, ledger, machine.power, machine.control, machine.origins)
    ledger.close()
    return wiring_lists(machine, places, {})


@pytest.fixture(scope="module")
def sunbloom() -> WiringLists:
    return lists_of("sunbloom")


Box = tuple[float, float, float, float]


def box(w: Words) -> Box:
    """Left, right, low, high of a line of words."""
    wide = width(w.text, w.size, w.strong) / 1.02
    left = w.at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[w.anchor]
    return left, left + wide, w.at[1] - 0.1 * w.size, w.at[1] + 0.72 * w.size


def nothing_overlaps_or_leaves(d: Drawing) -> None:
    words = [m for m in d.marks if isinstance(m, Words)]
    boxes = [box(w) for w in words]
    for w, (left, right, low, high) in zip(words, boxes, strict=True):
        assert left >= -0.5, w.text
        assert right <= d.width + 0.5, w.text
        assert 0 <= low < high <= d.height, w.text
    for (w, a), (v, b) in combinations(zip(words, boxes, strict=True), 2):
        across = min(a[1], b[1]) - max(a[0], b[0])
        up = min(a[3], b[3]) - max(a[2], b[2])
        assert across < 0.2 or up < 0.2, (w.text, v.text)
    for m in d.marks:
        for x, y in m.points if isinstance(m, Line) else m.outer if isinstance(m, Area) else ():
            assert -0.01 <= x <= d.width + 0.01
            assert -0.01 <= y <= d.height + 0.01
        if isinstance(m, Circle):
            assert m.radius <= m.at[0] <= d.width - m.radius


@pytest.mark.parametrize("name", ["sunbloom", "beacon", "drift", "gangway"])
def test_drawings_of_the_examples_keep_to_their_sheets(name: str) -> None:
    lists = lists_of(name)
    drawings = (*connector_drawings(lists.connectors), *pin_drawings(lists), *label_drawings(lists.wires))
    assert len(drawings) >= 2
    for d in drawings:
        nothing_overlaps_or_leaves(d)
        assert svg(d).startswith("<svg")


def test_connector_pages_fit_into_a_book(sunbloom: WiringLists) -> None:
    long = tuple(replace(c, name=f"{c.name} {n}") for n in range(4) for c in sunbloom.connectors)
    pages = connector_drawings(long)
    assert all(d.width <= 180 and d.height <= 250 for d in pages)
    text = [w.text for d in pages for w in d.marks if isinstance(w, Words)]
    assert [sum(t.startswith(f"{c.name} ") for c in sunbloom.connectors) > 0 for t in text].count(True) >= len(long)


def test_a_connector_longer_than_a_page_goes_on_over_the_page() -> None:
    contacts = tuple(Contact(n + 1, f"signal {n + 1}", 3.3, f"s{n + 1}a") for n in range(24))
    faults = tuple((f"{n}–{n + 1}  something rather long happens between these two contacts, and more", True)
                   for n in range(60))  # fmt: skip
    pages = connector_drawings([ConnectorMap("big", "here", "", 2, contacts, faults, 1)])
    assert len(pages) == 2
    assert sum(m.text == "DIES" for d in pages for m in d.marks if isinstance(m, Words)) == 60
    for d in pages:
        assert d.height <= 250
        nothing_overlaps_or_leaves(d)


def test_deadly_faults_are_marked_with_a_word(sunbloom: WiringLists) -> None:
    words = [m.text for d in connector_drawings(sunbloom.connectors) for m in d.marks if isinstance(m, Words)]
    assert words.count("DIES") == sum(deadly for c in sunbloom.connectors for _, deadly in c.faults)


def test_pins_stand_in_large_letters_on_one_sheet_across(sunbloom: WiringLists) -> None:
    (sheet,) = pin_drawings(sunbloom)
    assert (sheet.width, sheet.height) == (297, 210)
    shown = [m for m in sheet.marks if isinstance(m, Words)]
    functions = {p.function for p in sunbloom.pins if p.function != "free"}
    assert functions <= {m.text for m in shown}
    assert min(m.size for m in shown if m.text in functions) >= 4
    assert not any("…" in m.text for m in shown)


def test_a_full_board_takes_several_sheets_and_loses_no_pin(sunbloom: WiringLists) -> None:
    pins = tuple(PinLine(str(n), f"job {n}", "pwm", f"s{n}a → somewhere", "floats", "a word of caution", 1)
                 for n in range(70))  # fmt: skip
    sheets = pin_drawings(replace(sunbloom, pins=pins))
    assert len(sheets) > 1
    shown = {m.text for d in sheets for m in d.marks if isinstance(m, Words)}
    assert {f"job {n}" for n in range(70)} <= shown
    for d in sheets:
        nothing_overlaps_or_leaves(d)
    assert len(pin_drawings(replace(sunbloom, pins=()))) == 1


def test_every_label_stands_twice_on_a4(sunbloom: WiringLists) -> None:
    sheets = label_drawings(sunbloom.wires)
    assert all((d.width, d.height) == (210, 297) for d in sheets)
    numbers = [m.text for d in sheets for m in d.marks if isinstance(m, Words)]
    for w in sunbloom.wires:
        # two ends, each label with its text on both halves
        assert numbers.count(w.number) == 4
    assert label_drawings(()) == ()
    for d in sheets:
        # every label lies between two lines to cut along
        cuts = [y for m in d.marks if isinstance(m, Line) for _, y in m.points]
        words = [m.at[1] for m in d.marks if isinstance(m, Words) and m.tone != "grey"]
        assert min(cuts) < min(words)
        assert max(words) < max(cuts)


def test_words_are_shrunk_before_they_are_cut() -> None:
    text, size = fitted("a name that is rather long", 3.0, 30.0)
    assert text == "a name that is rather long"
    assert 1.8 <= size < 3.0
    text, size = fitted("a name that is rather long " * 4, 3.0, 30.0)
    assert text.endswith("…")
    assert width(text, size) <= 30.01
    assert lines("one two three", 3.0, 1.0) == ["one", "two", "three"]


def test_estimated_widths_are_not_below_the_true_ones() -> None:
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    some = ("stem feed return", "b5a1", "MOTOR WMW 0.25 mm²", "2–3 arm feed touches arm feed return: 7.4 V", "www")
    for text in some:
        for strong in (False, True):
            face = FontProperties(family="DejaVu Sans", weight="bold" if strong else "normal")
            true = TextPath((0, 0), text, size=100, prop=face).get_extents().x1 / 100
            assert true <= width(text, 1.0, strong) < 1.25 * true


def test_the_page_has_every_wire_contact_and_pin(sunbloom: WiringLists) -> None:
    page = wiring_page(sunbloom, "design.yaml")
    tables = [b for b in page.blocks if isinstance(b, Table)]
    assert all(len(row) == len(t.columns) for t in tables for row in t.rows)
    wires, rolls, ends, fittings, *contacts, pins = tables
    assert sorted(" ".join(row[0] for row in ends.rows).split()) == sorted(w.number for w in sunbloom.wires)
    assert len(wires.rows) == len(sunbloom.wires)
    assert len(rolls.rows) == len(sunbloom.rolls)
    assert len(fittings.rows) == len(sunbloom.fittings)
    assert [len(t.rows) for t in contacts] == [len(c.contacts) for c in sunbloom.connectors]
    assert [row[0] for row in pins.rows] == [p.pin for p in sunbloom.pins if p.function != "free"]
    assert any(isinstance(b, Paragraph) and b.text.startswith("Free: 1, 10, ") for b in page.blocks)
    short = wiring_page(sunbloom, drawn=True)
    assert page.blocks[: len(short.blocks)] == short.blocks
    assert not any("nan" in cell or "inf" in cell.split() for t in tables for row in t.rows for cell in row)


def test_the_sheet_has_everything_about_a_wire(sunbloom: WiringLists) -> None:
    sheet = wire_sheet(sunbloom.wires)
    assert len(sheet.rows) == len(sunbloom.wires)
    assert all(len(row) == len(sheet.columns) for row in sheet.rows)
    assert not any("\n" in cell for row in sheet.rows for cell in row)
