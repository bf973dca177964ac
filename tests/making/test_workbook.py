"""The workbook and the CSV files, read back by a general-purpose reader."""

from __future__ import annotations

import csv
import math
from datetime import date, datetime
from pathlib import Path

import openpyxl
import pytest

from dryfit.making import records_bench as bench
from dryfit.making.records_lists import (
    Bar,
    Buy,
    ConnectorMap,
    Contact,
    Cut,
    CutList,
    Fastening,
    PinLine,
    Purchases,
    WireLine,
    WiringLists,
)
from dryfit.making.records_plan import Path as Way
from dryfit.making.records_plan import Task
from dryfit.outputs.workbook import write_csv, write_workbook
from dryfit.views.sheets import COUNT, DATE, MONEY, NUMBER, TEXT, Sheet, SheetColumn, point_sheet, sheets

COLUMNS = (
    SheetColumn("what", 20, TEXT), SheetColumn("mm", 10, NUMBER), SheetColumn("EUR", 10, MONEY),
    SheetColumn("pieces", 8, COUNT), SheetColumn("on", 12, DATE),
)  # fmt: skip
TRAPS = ("=1+1", "+49", "-5 V rail", "@here", "http://example.org", "007", "{=A1}", "Ω ± ×", 'a "b", c\nd')
SHEET = Sheet(
    "list", COLUMNS, tuple((t, 1.5 + n, 2.25, n, date(2027, 3, 8)) for n, t in enumerate(TRAPS)), (2, 3), ("a note",)
)  # fmt: skip


def read(path: Path, *, values: bool = False) -> openpyxl.Workbook:
    return openpyxl.load_workbook(path, data_only=values)


def test_cells_come_back_as_they_went_in(tmp_path: Path) -> None:
    write_workbook([SHEET], tmp_path / "lists.xlsx")
    page = read(tmp_path / "lists.xlsx")["list"]
    assert [c.value for c in page[1]] == ["what", "mm", "EUR", "pieces", "on"]
    for n, text in enumerate(TRAPS):
        cells = page[n + 2]
        assert cells[0].value == text
        assert cells[0].data_type == "s"
        assert cells[0].hyperlink is None
        assert [c.data_type for c in cells[1:4]] == ["n", "n", "n"]
        assert cells[1].value == pytest.approx(1.5 + n)
        assert cells[4].value == datetime(2027, 3, 8)
        assert cells[2].number_format == "#,##0.00"
        assert cells[4].number_format == "yyyy-mm-dd"


def test_sums_are_formulas_with_their_value(tmp_path: Path) -> None:
    write_workbook([SHEET], tmp_path / "lists.xlsx")
    last = len(TRAPS) + 2
    page = read(tmp_path / "lists.xlsx")["list"]
    assert page.cell(last, 3).value == f"=SUM(C2:C{last - 1})"
    assert page.cell(last, 2).value is None
    shown = read(tmp_path / "lists.xlsx", values=True)["list"]
    assert shown.cell(last, 3).value == pytest.approx(2.25 * len(TRAPS))
    assert shown.cell(last, 4).value == sum(range(len(TRAPS)))
    assert page.cell(last + 2, 1).value == "a note"


def test_the_page_is_set_up_for_paper(tmp_path: Path) -> None:
    write_workbook([SHEET], tmp_path / "lists.xlsx")
    page = read(tmp_path / "lists.xlsx")["list"]
    assert page.freeze_panes == "B2"
    assert (page.page_setup.orientation, page.page_setup.paperSize) == ("landscape", 9)
    # One page wide, which readers take for granted, and as many pages high as there are.
    assert page.sheet_properties.pageSetUpPr.fitToPage
    assert (page.page_setup.fitToWidth or 1, page.page_setup.fitToHeight) == (1, 0)
    assert page.print_title_rows == "$1:$1"
    assert page.column_dimensions["A"].width == pytest.approx(20, abs=1)


def test_the_same_lists_make_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a", "b"):
        write_workbook([SHEET, SHEET], tmp_path / f"{name}.xlsx")
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_names_of_sheets_are_made_possible(tmp_path: Path) -> None:
    odd = [Sheet(name, COLUMNS, ()) for name in ("a/b: [c]?*", "x" * 40, "x" * 40, "List", "list", "'q'", "")]
    write_workbook(odd, tmp_path / "lists.xlsx")
    names = read(tmp_path / "lists.xlsx").sheetnames
    assert len({n.lower() for n in names}) == len(odd)
    assert all(len(n) <= 31 for n in names)
    with pytest.raises(ValueError, match="needs a sheet"):
        write_workbook([], tmp_path / "none.xlsx")


def test_csv_comes_back_cell_by_cell(tmp_path: Path) -> None:
    write_csv(SHEET, tmp_path / "list.csv")
    with (tmp_path / "list.csv").open(encoding="utf-8", newline="") as file:
        head, *rows = list(csv.reader(file))
    assert head == ["what", "mm", "EUR", "pieces", "on"]
    assert [r[0] for r in rows] == list(TRAPS)
    assert rows[1][1:] == ["2.5", "2.25", "1", "2027-03-08"]
    assert len(rows) == len(TRAPS)


NAN = float("nan")
BUY = Buy("gearmotor", "g", "gearmotors", 3, 1, 0, 4, 4, 34.0, 136.0, "quoted", 1_814_400.0, "wheel units",
          date(2027, 4, 1), date(2027, 3, 8), "=shop", "why", 85)  # fmt: skip
UNPRICED = Buy("x", "x", "", 1, 0, 0, 1, 1, NAN, NAN, "nobody knows", 0.0, "", None, None, "", "", 0)
PIECES = (Cut("frame", (0.0, 0.0), (0.38, 0.0)), Cut("leg", (0.3825, 0.0), (0.1, 0.0)))
FRAME = Bar("slot-20", "bar 1", (2.0, 0.0), PIECES, False, 1.5, True)
PLATE = Bar("ply", "sheet 1", (1.25, 0.625), (Cut("plate", (0.1, 0.2), (0.3, 0.2), turned=True),), False, 0.9, True)
WIRE = WireLine("b1a", "motors", "branch", "bus", "drivers", 4e-6, "4 mm²", "red", 0.61, "by places", 8.0, 25.0, "ring",
                "ferrule", ("b1a\nbus", "b1a\ndrivers"), 174)  # fmt: skip
CONTACTS = (Contact(1, "motors", 12.8, "b1a"), Contact(2, "spare", NAN, ""))
PLUG = ConnectorMap("plug", "foot", "pin-3.96", 1, CONTACTS, (("1 on 2: nothing", False),), 300)
TASK = Task("build", "frame", 2.0, (), date(2027, 3, 8), date(2027, 3, 9), date(2027, 3, 20), 9, False)
NOWHERE = bench.Outside((), ())


def point(name: str, unit: str, predicted: float, low: float, high: float) -> bench.TestPoint:
    return bench.TestPoint(name, "prints", name, unit, predicted, low, high, "scale", 0.0, (), "", (), NOWHERE)


LISTS = sheets(
    purchases=Purchases(
        (BUY, UNPRICED), 136.0, 1.0, 4800.0, ("note",),
        (Fastening("hub", "m5-nut", "M5 nut", 2, 3, NAN, NAN, "with each screw", "frame", 4),),
    ),
    cuts=CutList((FRAME, PLATE), 0.0025, (("slot-20", 1, 1), ("ply", 1, 1))),
    wiring=WiringLists(
        (WIRE,), (PLUG,), "board", (PinLine("2", "motor 1 forward", "pwm", "s1a", "low", "", 208),), (), ()
    ),
    way=Way((TASK,), date(2027, 3, 8), date(2027, 3, 9), None, 0),
    points=[point("mass-hub", "kg", 1.3, 1.2, 1.4)],
)  # fmt: skip


def test_every_list_becomes_a_sheet(tmp_path: Path) -> None:
    write_workbook(LISTS, tmp_path / "lists.xlsx")
    book = read(tmp_path / "lists.xlsx")
    named = "purchases, screws, cuts, wires, connectors, pins, way to the date, test points"
    assert ", ".join(book.sheetnames) == named
    for sheet in LISTS:
        heads = [c.value for c in book[sheet.name][1]]
        assert heads == [c.name for c in sheet.columns]
        assert all(len(row) == len(sheet.columns) for row in sheet.rows)
        for row in sheet.rows:
            assert not any(isinstance(cell, float) and math.isnan(cell) for cell in row)
        write_csv(sheet, tmp_path / "one.csv")


def cells(name: str, row: int) -> dict[str, object]:
    sheet = next(s for s in LISTS if s.name == name)
    return dict(zip([c.name for c in sheet.columns], sheet.rows[row], strict=True))


def test_lengths_are_millimetres_and_what_is_unknown_stays_empty() -> None:
    leg = cells("cuts", 1)
    assert (leg["begins at mm"], leg["length mm"], leg["left over mm"], leg["keep it"]) == (382.5, 100.0, 1500.0, "yes")
    assert cells("cuts", 0)["left over mm"] is None
    plate = cells("cuts", 2)
    assert (plate["and at mm"], plate["width mm"], plate["ends"]) == (200.0, 200.0, "square, turned")
    wire = cells("wires", 0)
    assert (wire["mm²"], wire["cut mm"]) == (pytest.approx(4.0), pytest.approx(610.0))
    assert cells("purchases", 1)["EUR"] is None
    assert cells("purchases", 0)["days to come"] == 21


def test_readings_stand_in_the_units_of_the_instrument() -> None:
    turns = 10 * math.pi
    spin = point("spin", "rad/s", turns, 0.9 * turns, 1.1 * turns)
    rows = point_sheet([spin, point("warm", "K", 298.15, 293.15, 303.15)]).rows
    assert rows[0][3:7] == (pytest.approx(300.0), pytest.approx(270.0), pytest.approx(330.0), "rpm")
    assert rows[1][3:7] == (pytest.approx(25.0), pytest.approx(20.0), pytest.approx(30.0), "°C")
