"""The calendar: hours, days away, the delivery, and what is refused."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any

import numpy as np
import pytest

from dryfit.design.sections.brief import Brief
from dryfit.design.sections.workshop import Workshop
from dryfit.machine.calendar import (
    Calendar,
    Hours,
    attended,
    first_moment,
    is_working,
    last_working_day,
    later,
    resolve_calendar,
    working_day,
    working_days,
    working_time,
)
from dryfit.machine.ledger import Ledger

EASTER = Calendar(date(2027, 3, 8), (0, 1, 2, 3, 4, 5), time(8), time(20), (date(2027, 4, 2), date(2027, 4, 5)))


def read(workshop: dict[str, Any], **brief: Any) -> tuple[Calendar, Ledger]:
    ledger = Ledger()
    start = date(2027, 2, 1)
    return resolve_calendar(Workshop.model_validate(workshop), Brief.model_validate(brief), ledger, start=start), ledger


def test_defaults_are_the_usual_week_and_are_listed() -> None:
    calendar, ledger = read({})
    assert calendar == Calendar(date(2027, 2, 1))
    for key in ("start", "attended.days", "attended.start", "attended.end", "attended.away"):
        assert ledger.origins[f"workshop.{key}"].note
    assert not ledger.faults


def test_what_is_typed_wins() -> None:
    calendar, ledger = read(
        {
            "start": "2027-03-08",
            "attended": {"days": ["sat", "mon"], "start": "8:30", "end": "20:00", "away": ["2027-03-15"]},
        },
        delivery="2027-05-12",
    )
    assert calendar == Calendar(
        date(2027, 3, 8), (0, 5), time(8, 30), time(20), (date(2027, 3, 15),), date(2027, 5, 12)
    )
    assert not ledger.faults


@pytest.mark.parametrize(
    ("workshop", "path", "said"),
    [
        ({"attended": {"start": "18:00", "end": "8:00"}}, "workshop.attended.end", "end at 08:00"),
        ({"attended": {"start": "19:00"}}, "workshop.attended.start", "end at 18:00"),
        ({"attended": {"start": "9:00", "end": "9:00"}}, "workshop.attended.end", "not after"),
        ({"attended": {"days": []}}, "workshop.attended.days", "no day of the week"),
        ({"start": "9999-12-31"}, "workshop.start", "too far off"),
    ],
)
def test_what_cannot_be_is_a_fault_with_its_key(workshop: dict[str, Any], path: str, said: str) -> None:
    calendar, ledger = read(workshop)
    (fault,) = ledger.faults
    assert fault.key == path
    assert said in fault.message
    assert fault.accepted
    assert calendar.closes > calendar.opens  # and all else can still be looked at


def test_a_delivery_before_the_first_day_is_said_and_stops_nothing() -> None:
    calendar, ledger = read({"start": "2027-03-08"}, delivery="2026-01-05")
    assert not ledger.faults
    assert "2026-01-05" in calendar.notes[0]
    assert "before the first day of work 2027-03-08" in calendar.notes[0]


def test_days_away_and_sundays_are_no_working_days() -> None:
    assert not is_working(EASTER, date(2027, 4, 2))
    assert not is_working(EASTER, date(2027, 4, 4))
    assert working_day(EASTER, date(2027, 4, 4)) == date(2027, 4, 6)
    assert last_working_day(EASTER, date(2027, 4, 5)) == date(2027, 4, 3)
    assert working_days(EASTER, date(2027, 4, 1), date(2027, 4, 7)) == 3


def test_counting_days_agrees_with_a_general_purpose_library() -> None:
    """numpy.busday_count and busday_offset, with the same week and holidays."""
    rng = np.random.default_rng(7)
    week = [n in EASTER.weekdays for n in range(7)]
    for _ in range(300):
        one, two = (date(2027, 3, 1) + timedelta(days=int(n)) for n in rng.integers(0, 90, 2))
        expected = np.busday_count(one, two, weekmask=week, holidays=list(EASTER.away))
        if two >= one:
            assert working_days(EASTER, one, two) == expected
        count = int(rng.integers(0, 30))
        moved = np.busday_offset(one, count, roll="forward", weekmask=week, holidays=list(EASTER.away))
        assert later(EASTER, one, count) == moved.astype(date)
        assert later(EASTER, later(EASTER, one, count), -count) == working_day(EASTER, one)


def test_the_next_attended_moment() -> None:
    assert attended(EASTER, datetime(2027, 3, 8, 3)) == datetime(2027, 3, 8, 8)
    assert attended(EASTER, datetime(2027, 3, 8, 20)) == datetime(2027, 3, 8, 20)
    assert attended(EASTER, datetime(2027, 3, 13, 20, 1)) == datetime(2027, 3, 15, 8)
    assert attended(EASTER, datetime(2027, 4, 1, 21)) == datetime(2027, 4, 3, 8)


def test_working_time_counts_days_and_their_parts() -> None:
    assert working_time(EASTER, first_moment(EASTER)) == 0
    assert working_time(EASTER, datetime(2027, 3, 8, 14)) == pytest.approx(0.5)
    assert working_time(EASTER, datetime(2027, 3, 14, 14)) == 6  # on a Sunday nothing goes on
    assert working_time(EASTER, datetime(2027, 3, 15, 11)) == pytest.approx(6.25)


def test_the_table_of_minutes_says_the_same_as_the_calendar() -> None:
    begin = datetime(2027, 3, 31, 17, 30)
    hours = Hours(EASTER, begin)
    for minute in range(0, 12000, 7):
        assert hours.at(hours.attended(minute)) == attended(EASTER, hours.at(minute))
        closed, _ = hours.closed(minute)
        assert 0 <= closed <= minute
    dark = [attended(EASTER, hours.at(m)) != hours.at(m) for m in range(6000)]
    # a minute counts as closed if nobody is there at its end, whole spells but for their two ends
    assert hours.closed(6000)[0] == pytest.approx(sum(dark), abs=2 * hours.closed(6000)[1] + 2)
    assert hours.closed(6000)[1] == 3
    assert hours.longest_closed(6000) == 60 * 60  # Saturday evening to Tuesday morning


def test_work_fits_into_one_spell_or_waits_for_the_next() -> None:
    hours = Hours(EASTER, datetime(2027, 3, 8, 8))
    assert hours.work(0, 10) == 10
    assert hours.work(12 * 60 - 5, 10) == 24 * 60 + 10
    assert hours.work(13 * 60, 10) == 24 * 60 + 10
    assert hours.work(0, 13 * 60) == 2 * 24 * 60 + 60  # longer than a day: begun on the next, it ends on the one after
