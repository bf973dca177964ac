"""The way to the date: days, orders, printing, slack, and the last day to order."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from functools import cache

import pytest

from dryfit.machine.calendar import Calendar, is_working, working_days
from dryfit.making.losses import path_slips, replan
from dryfit.making.plates import Laid, PrinterAtWork
from dryfit.making.printing_order import plan_printing
from dryfit.making.records_plan import Plate, PrintPlan
from dryfit.making.way_to_date import (
    WORK,
    Activity,
    activities,
    latest_start,
    passes,
    way_to_date,
)

# 8 March 2027 is a Monday
CALENDAR = Calendar(
    date(2027, 3, 8), (0, 1, 2, 3, 4, 5), time(8), time(20), (date(2027, 4, 2), date(2027, 4, 5)), date(2027, 5, 12)
)
STAGES = ("prints", "wheel units", "frame", "supply", "logic", "light", "arms", "body", "first drive", "rehearsal")
COUNTS = {"wheel units": 3, "cuts": 14, "branches": 6, "wires": 24, "strips": 4, "arms": 6, "printed parts": 18}
ORDERS = (("gearmotor", 21.0, "wheel units"), ("foam edge", 7.0, "body"), ("extrusion", 7.0, "frame"))
PRINTERS = (PrinterAtWork("large", (0.35, 0.35), 600, 600), PrinterAtWork("small", (0.22, 0.22), 600, 600))


@cache
def plan(count: int = 12, hours: float = 11.0) -> PrintPlan:
    plates = tuple(
        Plate(n, (), "petg", 4e-4, (0.22, 0.22), (("large", hours * 3600), ("small", hours * 3600)), 0.2,
              coupons=n == 1, structural=1 < n <= count // 2)
        for n in range(1, count + 1)
    )  # fmt: skip
    return plan_printing([], Laid(plates, (), ()), PRINTERS, CALENDAR, rate=2 / 360000)


def whole(calendar: Calendar = CALENDAR, printing: PrintPlan | None = None) -> tuple[Activity, ...]:
    return activities(calendar, printing or plan(), stages=STAGES, counts=COUNTS, orders=ORDERS)


def test_nothing_begins_before_what_it_waits_for() -> None:
    path = way_to_date(CALENDAR, whole())
    task = {t.name: t for t in path.tasks}
    for one in path.tasks:
        assert one.begins <= one.ends <= one.latest
        assert one.critical == (one.slack == 0) or not one.slack  # less than a day of slack shows as none
        for before in one.after:
            assert one.begins >= task[before].ends or task[before].name.startswith("print")
        if not one.lead:
            assert is_working(CALENDAR, one.begins)
            assert is_working(CALENDAR, one.ends)
    assert path.ends == max(t.ends for t in path.tasks)


def test_printing_ends_on_the_days_of_the_print_plan() -> None:
    printing = plan()
    task = {t.name: t for t in way_to_date(CALENDAR, whole(printing=printing)).tasks}
    coupons = max(j.off for j in printing.jobs if printing.plates[j.plate - 1].coupons)
    assert task["print coupons"].ends == coupons.date()
    assert task["print the rest"].ends == printing.finish.date()
    assert task["measure coupons"].begins >= coupons.date()


def test_an_order_takes_days_of_the_calendar_and_holds_up_what_needs_it() -> None:
    path = way_to_date(CALENDAR, whole())
    task = {t.name: t for t in path.tasks}
    order = task["order: gearmotor"]
    assert (order.begins, order.ends) == (date(2027, 3, 8), date(2027, 3, 29))
    assert task["wheel units"].begins == date(2027, 3, 29)
    assert order.critical
    assert "order: foam edge" in task["body"].after
    assert "order: extrusion" in task["cut stock"].after


@pytest.mark.parametrize("order", ["gearmotor", "foam edge", "extrusion"])
def test_ordered_on_the_latest_day_the_delivery_holds_and_a_week_later_not(order: str) -> None:
    path = way_to_date(CALENDAR, whole())
    last = latest_start(path, f"order: {order}", CALENDAR)
    for shift, holds in ((0, True), (7, False)):
        lead = (last - CALENDAR.first).days + shift + {n: d for n, d, _ in ORDERS}[order]
        later_order = tuple((n, lead if n == order else d, s) for n, d, s in ORDERS)
        wanted = activities(CALENDAR, plan(), stages=STAGES, counts=COUNTS, orders=later_order)
        assert (way_to_date(CALENDAR, wanted).late == 0) == holds


def test_slack_is_what_a_task_may_slip() -> None:
    wanted = whole()
    path = way_to_date(CALENDAR, wanted)
    for task in path.tasks:
        if task.lead or task.critical:
            continue
        for extra, same in ((task.slack, True), (task.slack + 2, False)):
            longer = tuple(replace(a, work=a.work + extra) if a.name == task.name else a for a in wanted)
            assert (way_to_date(CALENDAR, longer).ends == path.ends) == same, (task.name, extra)


def test_late_and_spare_are_counted_in_working_days() -> None:
    path = way_to_date(CALENDAR, whole())
    assert path.late == 0
    assert path.spare == working_days(CALENDAR, path.ends, CALENDAR.delivery or path.ends)
    for days in (0, 1, 5):
        moved = replace(CALENDAR, delivery=path.ends - timedelta(days=days))
        late = way_to_date(moved, whole(moved))
        assert late.late == working_days(CALENDAR, path.ends - timedelta(days=days), path.ends)
        assert late.ends == path.ends
        assert bool(late.late) == any("after the delivery date" in note for note in late.notes)


def test_a_delivery_on_a_day_off_leaves_no_spare_day_that_is_none() -> None:
    """The last task ends on a Friday, the machine leaves on the Sunday after: Saturday can be lost, no more."""
    two = [Activity("a", "frame", 5.0)]
    path = way_to_date(replace(CALENDAR, delivery=date(2027, 3, 14)), two)
    assert (path.ends, path.spare, path.late) == (date(2027, 3, 12), 1, 0)


def test_without_a_delivery_date_all_the_rest_is_told() -> None:
    calendar = replace(CALENDAR, delivery=None)
    path = way_to_date(calendar, whole(calendar))
    assert path.delivery is None
    assert (path.late, path.spare) == (0, 0)
    assert latest_start(path, "order: gearmotor", calendar) == date(2027, 3, 8)


def test_a_delivery_before_the_first_day_is_only_late() -> None:
    calendar = replace(CALENDAR, delivery=date(2026, 1, 5), notes=("The delivery date 2026-01-05 lies before …",))
    path = way_to_date(calendar, whole(calendar))
    assert path.late > 300
    assert path.tasks
    assert calendar.notes[0] in path.notes


def test_by_hand() -> None:
    """Two and a half days, then one that shares the third day with it, then half a day; a day of something else."""
    path = way_to_date(
        CALENDAR,
        [
            Activity("saw", "frame", 2.5),
            Activity("screw", "frame", 1.0, ("saw",)),
            Activity("weigh", "frame", 0.5, ("screw", "paint")),
            Activity("paint", "body", 1.0, not_before=date(2027, 3, 9)),
        ],
    )
    task = {t.name: t for t in path.tasks}
    assert [(task[n].begins.day, task[n].ends.day) for n in ("saw", "screw", "weigh", "paint")] == [
        (8, 10), (10, 11), (11, 11), (9, 9),
    ]  # fmt: skip
    assert [task[n].slack for n in ("saw", "screw", "weigh", "paint")] == [0, 0, 0, 1]
    assert path.hands == 5.0


def test_hands_are_counted() -> None:
    side_by_side = [Activity(name, "frame", 5.0) for name in "abc"]
    path = way_to_date(CALENDAR, side_by_side)
    assert path.hands == 15
    assert any("second pair of hands" in note for note in path.notes)
    waiting = [Activity("a", "prints", 5.0, hands=False), Activity("b", "frame", 1.0)]
    assert way_to_date(CALENDAR, waiting).hands == 1


def test_what_the_machine_has_not_is_no_task() -> None:
    bare = activities(CALENDAR, None, stages=("frame", "first drive", "rehearsal"), counts={})
    names = [a.name for a in bare]
    assert "cut stock" not in names
    assert not any(name.startswith("print") for name in names)
    assert {"frame", "first drive", "rehearsal", "pack"} <= set(names)
    assert way_to_date(CALENDAR, bare).tasks
    assert way_to_date(CALENDAR, []).tasks == ()


def test_every_usual_task_waits_for_tasks_there_are_and_says_why() -> None:
    names = {*WORK, "print coupons", "print what carries", "print the rest"}
    for name, work in WORK.items():
        assert set(work.after) <= names, name
        assert work.reason
        assert work.once > 0
    path = way_to_date(CALENDAR, whole())
    assert all(task.why for task in path.tasks)


def test_what_comes_together_for_one_stage_is_one_order() -> None:
    orders = [
        ("servo of 55 kg*cm", 21, "arms"), ("horn", 21, "arms"), ("bearing", 7, "arms"), ("servo", 7, "wheel units"),
        ("servo", 14, "wheel units"), ("servo", 0, "frame"),
    ]  # fmt: skip
    wanted = activities(CALENDAR, None, stages=STAGES, counts=COUNTS, orders=orders)
    placed = {a.name: a for a in wanted if a.stage == "orders"}
    assert list(placed) == [
        "order: servo and 1 more", "order: bearing", "order: servo", "order: servo (2)", "order: servo (3)",
    ]  # fmt: skip
    assert placed["order: servo and 1 more"].why == "lead time of servo of 55 kg*cm; horn"
    task = {t.name: t for t in way_to_date(CALENDAR, wanted).tasks}
    assert task["arms"].begins >= date(2027, 3, 29)
    assert task["order: servo (3)"].ends <= date(2027, 3, 8)  # fetched from around the corner


def test_a_ring_of_tasks_is_refused() -> None:
    with pytest.raises(ValueError, match="ring"):
        passes([1.0, 1.0], [[1], [0]], [0.0, 0.0])


def test_a_lost_printer_is_followed_to_the_delivery() -> None:
    before = plan(40, 13.0)
    after, _ = replan(before, PRINTERS, CALENDAR, now=datetime(2027, 3, 10, 12), lost_printer="small")
    one = way_to_date(CALENDAR, whole(printing=before))
    two = way_to_date(CALENDAR, whole(printing=after))
    slips = path_slips(one, two)
    assert two.ends > one.ends
    assert "delivery on 2027-05-12" in slips[0].what
    assert ("does not hold" in slips[0].what) == bool(two.late)
    assert any(slip.what.startswith("print the rest:") for slip in slips)
    assert "cannot be told" in path_slips(one, one, left=(3,))[0].what
