"""Print plan and way to the date as drawings and pages: nothing overlaps, nothing is cut off, all is there."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time
from itertools import combinations

import numpy as np
import pytest

from dryfit.machine.calendar import Calendar
from dryfit.machine.printing import How
from dryfit.making.losses import replan
from dryfit.making.plates import PrinterAtWork, lay_out
from dryfit.making.printing_order import plan_printing
from dryfit.making.records_plan import Path, PrintPlan, Slip
from dryfit.making.records_print import Body, Estimate, Printed
from dryfit.making.records_solids import Outline, Solid
from dryfit.making.way_to_date import Activity, activities, way_to_date
from dryfit.outputs.drawings import svg
from dryfit.views.drawing import Area, Drawing, Line, Words
from dryfit.views.lettering import width
from dryfit.views.page import Page, Table
from dryfit.views.print_plan import path_page, plates_table, print_plan_page
from dryfit.views.print_plan_drawings import beds_drawings, path_drawings, printers_drawings

CALENDAR = Calendar(date(2027, 3, 8), (0, 1, 2, 3, 4, 5), time(8), time(20), delivery=date(2027, 5, 12))
PRINTERS = (PrinterAtWork("large", (0.35, 0.35), 600, 600), PrinterAtWork("small", (0.22, 0.22), 600, 600))
STAGES = ("prints", "wheel units", "frame", "supply", "logic", "light", "arms", "body", "first drive", "rehearsal")


def thing(name: str, wide: float, deep: float, count: int, hours: float, coupon: bool, carries: bool) -> Printed:
    how = How(4e-4, 2e-4, 4.5e-4, 3, 5, 4, 0.15, "", carries)
    solid = Solid(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))
    outline = Outline(np.array([(0, 0), (wide, 0), (wide, deep), (0, deep)]))
    estimate = Estimate(hours * 3600, 1e-5, 0.2, 100, 10.0, (), 1e-9, 0, 0.0)
    on = ("large", "small") if max(wide, deep) < 0.2 else ("large",)
    made = Body(name, name, "base", "petg", solid, count, how, coupon)
    return Printed(made, np.eye(3), (wide, deep, 0.02), outline, on, tuple((n, estimate) for n in on))


def plan_of(many: int) -> PrintPlan:
    things = [
        thing("hole coupon", 0.08, 0.03, 1, 0.4, True, False),
        thing("motor mount with a very long name for a part of a wheel unit", 0.07, 0.06, 3, 4.0, False, True),
        thing("hub", 0.25, 0.25, 1, 15.0, False, True),
        thing("petal", 0.28, 0.15, many, 3.6, False, False),
        thing("clip", 0.012, 0.008, 12, 0.2, False, False),
    ]
    return plan_printing(things, lay_out(things, PRINTERS, longest=57600), PRINTERS, CALENDAR, rate=2 / 360000)


@pytest.fixture(scope="module")
def plan() -> PrintPlan:
    return plan_of(9)


def path_of(plan: PrintPlan, calendar: Calendar = CALENDAR) -> Path:
    orders = [(f"thing to buy, number {n}, in a size", 5.0 + n, "arms") for n in range(6)]
    counts = {"wheel units": 3, "cuts": 4, "wires": 24}
    return way_to_date(calendar, activities(calendar, plan, stages=STAGES, counts=counts, orders=orders))


def keeps_to_its_sheet(d: Drawing) -> None:
    assert d.width <= 180
    assert d.height <= 250
    boxes = []
    for mark in d.marks:
        if isinstance(mark, Words):
            wide = width(mark.text, mark.size, mark.strong) / 1.03
            left = mark.at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[mark.anchor]
            boxes.append((left, left + wide, mark.at[1] - 0.1 * mark.size, mark.at[1] + 0.75 * mark.size, mark.text))
            assert mark.size >= 1.6, mark.text
        points = mark.points if isinstance(mark, Line) else mark.outer if isinstance(mark, Area) else ()
        for x, y in points:
            assert -0.01 <= x <= d.width + 0.01
            assert -0.01 <= y <= d.height + 0.01
    for left, right, low, high, text in boxes:
        assert left >= -0.3, text
        assert right <= d.width + 0.3, text
        assert 0 <= low < high <= d.height, text
    for a, b in combinations(boxes, 2):
        across, up = min(a[1], b[1]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[2], b[2])
        assert across < 0.2 or up < 0.2, (a[4], b[4])
    assert svg(d).startswith("<svg")


@pytest.mark.parametrize("many", [1, 9, 60])
def test_drawings_of_plates_and_printers(many: int) -> None:
    plan = plan_of(many)
    beds = beds_drawings(plan)
    for d in (*beds, *printers_drawings(plan, CALENDAR)):
        keeps_to_its_sheet(d)
    drawn = sum(isinstance(m, Area) for d in beds for m in d.marks)
    assert drawn == sum(len(plate.placed) for plate in plan.plates)


def test_every_plate_stands_on_the_calendar(plan: PrintPlan) -> None:
    said = {m.text for d in printers_drawings(plan, CALENDAR) for m in d.marks if isinstance(m, Words)}
    assert {str(plate.number) for plate in plan.plates} <= said
    assert any(text.startswith("all off") for text in said)


def test_a_plan_with_losses_is_drawn_and_told(plan: PrintPlan) -> None:
    new, slips = replan(plan, PRINTERS, CALENDAR, now=datetime(2027, 3, 9, 10), lost_printer="large", failed_plates=[1])
    for d in (*beds_drawings(new), *printers_drawings(new, CALENDAR)):
        keeps_to_its_sheet(d)
    rows = plates_table(new).rows
    assert sum(row[4] == "failed" for row in rows) == sum(job.failed for job in new.jobs) >= 1
    assert [row[0] for row in rows if row[1] == "none"] == [str(n) for n in new.left]
    tables(print_plan_page(new, slips))


@pytest.mark.parametrize("delivery", [date(2027, 5, 12), date(2027, 3, 20), date(2026, 1, 5), date(2029, 1, 5), None])
def test_drawing_of_the_way(plan: PrintPlan, delivery: date | None) -> None:
    path = path_of(plan, replace(CALENDAR, delivery=delivery))
    for d in path_drawings(path):
        keeps_to_its_sheet(d)
    tables(path_page(path, {path.tasks[0].name: date(2027, 3, 9)}))


def test_a_long_way_is_drawn_in_parts() -> None:
    tasks = [Activity(f"task {n}", "frame", 3.0, (f"task {n - 1}",) if n else ()) for n in range(80)]
    drawings = path_drawings(way_to_date(CALENDAR, tasks))
    assert len(drawings) == 3
    for d in drawings:
        keeps_to_its_sheet(d)


def test_tasks_without_slack_are_told_in_words_and_by_the_edge(plan: PrintPlan) -> None:
    path = path_of(plan)
    (drawing,) = path_drawings(path)
    critical = sum(task.critical for task in path.tasks)
    assert sum(isinstance(m, Words) and m.text == "no slack" for m in drawing.marks) == critical
    heavy = sum(isinstance(m, Area) and m.tone == "rust" and m.edge >= 0.5 for m in drawing.marks)
    assert heavy == critical + 1  # and the one that explains it


def test_nothing_to_print_is_a_page_and_no_drawing() -> None:
    empty = plan_printing([], lay_out([], PRINTERS, longest=57600), PRINTERS, CALENDAR, rate=0.0)
    assert beds_drawings(empty) == ()
    assert printers_drawings(empty, CALENDAR) == ()
    assert print_plan_page(empty).blocks
    assert path_page(way_to_date(CALENDAR, [])).blocks
    assert path_drawings(way_to_date(CALENDAR, [])) == ()


def tables(page: Page) -> None:
    """Every row has a cell for every column."""
    for block in page.blocks:
        if isinstance(block, Table):
            assert all(len(row) == len(block.columns) for row in block.rows)


def test_slips_are_told(plan: PrintPlan) -> None:
    slip = Slip("all plates: 2 days later", datetime(2027, 3, 15, 8, 10), datetime(2027, 3, 17, 8, 10))
    page = print_plan_page(plan, [slip])
    cells = [row for block in page.blocks if isinstance(block, Table) for row in block.rows]
    assert ("all plates: 2 days later", "Mon 15 Mar 08:10", "Wed 17 Mar 08:10") in cells
    tables(page)
