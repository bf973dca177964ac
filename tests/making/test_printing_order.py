"""Plates on printers: the rules of the plan, its bound, and what a loss does to it; small cases against trying all."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from datetime import date, datetime, time, timedelta

import numpy as np
import pytest

from dryfit.ground.errors import UnknownNameError
from dryfit.machine.calendar import Calendar, Hours, attended
from dryfit.making import printing_order
from dryfit.making.losses import off, replan
from dryfit.making.plates import Laid, PrinterAtWork
from dryfit.making.printing_order import (
    Sharing,
    best_order,
    bound,
    plan_printing,
    rank,
    time_seen_late,
    time_with_failures,
)
from dryfit.making.records_plan import Plate, PrintPlan

HOUR = 3600.0
RATE = 2 / (100 * HOUR)
CALENDAR = Calendar(date(2027, 3, 8), (0, 1, 2, 3, 4, 5), time(8), time(20))
PRINTERS = (PrinterAtWork("large", (0.35, 0.35), 600, 600), PrinterAtWork("small", (0.22, 0.22), 600, 900))


def plate(
    number: int, hours: float | tuple[float, float], kind: int = 2, on: tuple[str, ...] = ("large", "small")
) -> Plate:
    each = hours if isinstance(hours, tuple) else (hours,) * len(on)
    times = tuple((name, h * HOUR) for name, h in zip(on, each, strict=True))
    return Plate(number, (), "petg", 4e-4, (0.22, 0.22), times, 0.1, kind == 0, kind == 1)


def many(count: int, seed: int) -> list[Plate]:
    rng = np.random.default_rng(seed)
    kinds = np.sort(rng.choice(3, count, p=[0.1, 0.4, 0.5]))
    return [
        plate(n + 1, float(rng.uniform(0.5, 16)), int(kind), ("large",) if rng.random() < 0.25 else ("large", "small"))
        for n, kind in enumerate(kinds)
    ]


def planned(plates: list[Plate], rate: float = RATE, calendar: Calendar = CALENDAR) -> PrintPlan:
    return plan_printing([], Laid(tuple(plates), (), ()), PRINTERS, calendar, rate=rate)


def check(plan: PrintPlan, calendar: Calendar, *, every: bool = True) -> None:
    """The rules, read from the plan alone."""
    by_number = {p.number: p for p in plan.plates}
    lines = defaultdict(list)
    for job in plan.jobs:
        lines[job.printer].append(job)
        assert job.printer in dict(by_number[job.plate].on)
        if not job.failed:
            assert attended(calendar, job.begins) == job.begins
            assert attended(calendar, job.off) == job.off
            least = dict(by_number[job.plate].on)[job.printer] + job.allowance
            assert timedelta(0) <= job.done - job.begins - timedelta(seconds=least) < timedelta(minutes=1)
            assert job.off >= job.done + timedelta(minutes=10)
    for jobs in lines.values():
        for one, two in itertools.pairwise(jobs):
            assert two.begins >= one.off
    if every:
        assert sorted(job.plate for job in plan.jobs if not job.failed) == sorted(by_number)
    assert plan.finish == max(job.off for job in plan.jobs)
    assert plan.bound <= plan.finish
    assert plan.exact == (plan.bound == plan.finish)


@pytest.mark.parametrize("seed", range(3))
def test_every_plan_keeps_the_rules(seed: int) -> None:
    plan = planned(many(13, seed))
    check(plan, CALENDAR)
    kinds = {p.number: 0 if p.coupons else 1 if p.structural else 2 for p in plan.plates}
    for name in plan.printers:
        order = [kinds[job.plate] for job in plan.jobs if job.printer == name]
        assert order == sorted(order)
    assert [job.plate for job in plan.jobs] == sorted(job.plate for job in plan.jobs)  # numbered as they begin
    assert planned(many(13, seed)) == plan  # the same plates give the same plan


def test_a_plate_prints_through_the_night_and_comes_off_in_the_morning() -> None:
    plan = planned([plate(1, (14, 14))], rate=0.0)
    (job,) = plan.jobs
    assert job.begins == datetime(2027, 3, 8, 8)
    assert job.done == datetime(2027, 3, 8, 22)
    assert job.off == datetime(2027, 3, 9, 8, 10)
    assert plan.exact


def test_over_a_sunday_it_waits_until_monday() -> None:
    saturday = Calendar(date(2027, 3, 13), CALENDAR.weekdays, time(8), time(20))
    (job,) = planned([plate(1, 13, on=("large",))], 0.0, saturday).jobs
    assert job.off == datetime(2027, 3, 15, 8, 10)


def test_short_and_long_change_places_to_use_the_night() -> None:
    """5 h, 5 h and 13 h on one printer: the long one in the evening saves a day. By hand: 8:00-13:00, off 13:10,
    13:10-18:10, off 18:20, then 13 h through the night to 7:20, off at 8:10 on the second day; the long one first would
    be off at 21:00, that is 8:10, and all at 18:30 on the second day."""
    plan = planned([plate(n, h, on=("large",)) for n, h in ((1, 13), (2, 5), (3, 5))], rate=0.0)
    assert plan.finish == datetime(2027, 3, 9, 8, 10)
    assert plan.exact


def sharing(rng: np.random.Generator, count: int, printers: int) -> Sharing:
    kind = tuple(int(k) for k in np.sort(rng.integers(0, 3, count)))
    takes = []
    for _ in range(count):
        row = [int(rng.integers(30, 1500)) for _ in range(printers)]
        if printers > 1 and rng.random() < 0.3:
            row[int(rng.integers(0, printers))] = -1
        takes.append(tuple(row))
    change = tuple(int(rng.integers(5, 30)) for _ in range(printers))
    free = tuple(int(rng.integers(0, 2)) * int(rng.integers(0, 2000)) for _ in range(printers))
    begin = datetime(2027, 3, int(rng.integers(8, 14)), int(rng.integers(0, 24)))
    return Sharing(Hours(CALENDAR, begin), kind, tuple(takes), change, free)


def optimum(s: Sharing) -> int:
    """By trying every order on every printer, with datetimes, apart from the planner's own arithmetic."""
    best = math.inf
    plates = range(len(s.kind))
    begin = s.hours.begin
    for where in itertools.product(range(len(s.free)), repeat=len(s.kind)):
        if any(s.takes[p][i] < 0 for p, i in zip(plates, where, strict=True)):
            continue
        worst = 0.0
        for i in range(len(s.free)):
            mine = [p for p in plates if where[p] == i]
            ends = [math.inf] if mine else [0.0]
            for order in itertools.permutations(mine):
                if [s.kind[p] for p in order] != sorted(s.kind[p] for p in order):
                    continue
                at = begin + timedelta(minutes=s.free[i])
                for p in order:
                    at = attended(CALENDAR, at)
                    at = attended(CALENDAR, at + timedelta(minutes=s.takes[p][i]))
                    after = at + timedelta(minutes=s.change[i])
                    if attended(CALENDAR, after) != after:  # no time left for it today
                        opens = attended(CALENDAR, datetime.combine(at.date() + timedelta(days=1), time(0)))
                        after = opens + timedelta(minutes=s.change[i])
                    at = after
                ends.append((at - begin) / timedelta(minutes=1))
            worst = max(worst, min(ends))
        best = min(best, worst)
    return int(best)


@pytest.mark.parametrize("seed", range(40))
def test_bound_optimum_plan_stand_in_order_on_small_cases(seed: int) -> None:
    rng = np.random.default_rng(seed)
    s = sharing(rng, int(rng.integers(1, 6)), int(rng.integers(1, 4)))
    best = optimum(s)
    order, every = best_order(s)
    found = rank(s, order)[0]
    assert best <= found
    assert not every or best == found
    searched = rank(s, printing_order._searched(s))[0]
    assert best <= searched
    floor = bound(s, searched)
    assert floor <= best
    # a finish that no order reaches cannot move the bound over the optimum either
    assert bound(s, searched + 3000) <= best


def test_the_search_finds_the_optimum_of_most_small_cases() -> None:
    rng = np.random.default_rng(100)
    cases = [sharing(rng, 5, 2) for _ in range(5)]
    hits = sum(rank(s, printing_order._searched(s))[0] == optimum(s) for s in cases)
    assert hits >= 4


def test_a_day_of_whole_nights_is_proved_best() -> None:
    """Plates that all need a night: so many nights, and the plan is known to be as good as any."""
    equal = tuple(PrinterAtWork(name, (0.22, 0.22), 600, 600) for name in ("large", "small"))
    plates = tuple(plate(n, 13) for n in range(1, 13))
    plan = plan_printing([], Laid(plates, (), ()), equal, CALENDAR, rate=RATE)
    assert plan.exact
    assert "bound" in plan.how  # proved without trying every order
    assert plan.finish.date() == date(2027, 3, 15)  # six nights a printer, a Sunday among them


def test_nothing_to_print() -> None:
    plan = planned([])
    assert (plan.jobs, plan.finish, plan.exact) == ((), plan.begins, True)


def test_expected_time_with_failures() -> None:
    time_of = np.array([0.0, HOUR, 16 * HOUR])
    assert time_with_failures(time_of, 0.0) == pytest.approx(time_of)
    both = time_with_failures(time_of[:, None], np.array([0.0, RATE]))
    assert both.shape == (3, 2)
    assert (time_seen_late(time_of, RATE) >= both[:, 1]).all()
    assert math.isnan(time_with_failures(math.nan, RATE)) or not math.isfinite(time_with_failures(math.nan, RATE))


def test_a_printer_that_nearly_always_fails_is_named_and_breaks_nothing() -> None:
    plates = [plate(1, 3.0), plate(2, 300.0), plate(3, 8.0)]
    plan = planned(plates, rate=500 / (100 * HOUR))
    check(plan, CALENDAR)
    assert any("300 h and is begun" in note for note in plan.notes)
    assert plan.finish < datetime(2032, 1, 1)


def test_losing_a_printer_keeps_what_is_done_and_moves_the_rest() -> None:
    plan = planned(many(14, 3))
    now = datetime(2027, 3, 10, 10)
    new, slips = replan(plan, PRINTERS, CALENDAR, now=now, lost_printer="small")
    check(new, CALENDAR, every=not new.left)
    done = [job for job in plan.jobs if job.done <= now or (job.begins < now and job.printer == "large")]
    assert all(job in new.jobs for job in done)
    assert all(job.printer == "large" for job in new.jobs if job.begins >= now)
    lost = [job for job in new.jobs if job.failed]
    running = [job for job in plan.jobs if job.printer == "small" and job.begins < now < job.done]
    assert [job.plate for job in lost] == [job.plate for job in running]
    assert new.finish > plan.finish
    assert slips
    assert any(slip.what.startswith("all plates") and slip.after == new.finish for slip in slips)


def test_a_plate_that_only_the_lost_printer_takes_is_named() -> None:
    plan = planned([plate(1, 3, 0), plate(2, 9, 1, ("large",)), plate(3, 4, 2)])
    new, _ = replan(plan, PRINTERS, CALENDAR, now=plan.begins, lost_printer="large")
    number = next(p.number for p in plan.plates if p.structural)
    assert new.left == (number,)
    assert any(f"Plate {number} fits only large, and large is lost" in note for note in new.notes)
    assert off(new, 2) is None
    assert {job.printer for job in new.jobs} == {"small"}


def test_a_failed_plate_is_printed_again_under_its_number() -> None:
    plan = planned([plate(1, 2, 0), *(plate(n, 6, 1) for n in range(2, 8))])
    now = datetime(2027, 3, 9, 9)
    failed = next(job.plate for job in plan.jobs if job.off <= now and not plan.plates[job.plate - 1].coupons)
    new, slips = replan(plan, PRINTERS, CALENDAR, now=now, failed_plates=[failed])
    check(new, CALENDAR)
    tries = [job for job in new.jobs if job.plate == failed]
    assert [job.failed for job in tries] == [True, False]
    assert tries[1].begins >= now
    assert any(f"plate {failed}:" in slip.what for slip in slips)
    # and a second loss on top of the first
    again, _ = replan(new, PRINTERS, CALENDAR, now=tries[1].off + timedelta(minutes=1), failed_plates=[failed])
    assert [job.failed for job in again.jobs if job.plate == failed] == [True, True, False]


def test_a_plate_that_goes_wrong_now_comes_off_before_the_next() -> None:
    plan = planned([plate(1, 9, on=("small",)), plate(2, 9, on=("small",))])
    now = datetime(2027, 3, 8, 10)
    new, _ = replan(plan, PRINTERS, CALENDAR, now=now, failed_plates=[1])
    assert min(job.begins for job in new.jobs if not job.failed) == now + timedelta(minutes=15)


def test_a_plate_that_has_not_begun_cannot_have_failed() -> None:
    plan = planned(many(10, 1))
    last = plan.jobs[-1].plate
    new, _ = replan(plan, PRINTERS, CALENDAR, now=datetime(2027, 3, 8, 9), failed_plates=[last])
    assert any(f"Plate {last} has not begun" in note for note in new.notes)
    assert not any(job.failed for job in new.jobs)


def test_losing_nothing_slips_nothing_much() -> None:
    plan = planned(many(10, 2))
    new, _ = replan(plan, PRINTERS, CALENDAR, now=datetime(2027, 3, 9, 12))
    assert new.finish <= plan.finish
    check(new, CALENDAR)


def test_unknown_names_are_refused_with_the_nearest() -> None:
    plan = planned(many(5, 1))
    with pytest.raises(UnknownNameError, match="large"):
        replan(plan, PRINTERS, CALENDAR, now=plan.begins, lost_printer="larg")
    with pytest.raises(UnknownNameError, match="plate"):
        replan(plan, PRINTERS, CALENDAR, now=plan.begins, failed_plates=[77])
