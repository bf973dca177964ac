"""The calendar of the workshop: who is there when, from which day on, and by which day the machine has to leave.

A working day is a day of the week on which somebody is there, the days away left out. An attended moment lies between
the hours of a working day, both ends counted: a plate may begin at the very end of the day and print through the night.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property

from dryfit.design.sections.brief import Brief as BriefRecord
from dryfit.design.sections.workshop import Workshop as WorkshopRecord
from dryfit.ground.quantity import Kind, Origin
from dryfit.machine.ledger import Ledger

WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_USUAL_DAYS = ("mon", "tue", "wed", "thu", "fri")
_OPENS, _CLOSES = time(8), time(18)
_LAST_YEAR = 9000
"""Later years leave no room to count onwards from."""


@dataclass(frozen=True)
class Calendar:
    """first: first day of work.  weekdays: 0 for Monday.  opens, closes: hours of a working day.  away: days on which
    nobody is there.  delivery: day on which the machine leaves, None where none is given.  notes: what is odd."""

    first: date
    weekdays: tuple[int, ...] = (0, 1, 2, 3, 4)
    opens: time = _OPENS
    closes: time = _CLOSES
    away: tuple[date, ...] = ()
    delivery: date | None = None
    notes: tuple[str, ...] = ()

    @cached_property
    def _away(self) -> frozenset[date]:
        return frozenset(self.away)


def resolve_calendar(workshop: WorkshopRecord, brief: BriefRecord, ledger: Ledger, *, start: date) -> Calendar:
    """The calendar from the design file. start: first day of work where the file names none.

    A delivery date before the first day of work is no fault: everything else can still be made, and the notes say it.
    """
    first = start
    if workshop.start is not None:
        first = workshop.start.date
        ledger.origins["workshop.start"] = workshop.start.origin
    else:
        note = "work begins today, or on the day that was asked for"
        ledger.origins["workshop.start"] = Origin(Kind.DEFAULT, "workshop.start", text=f"{start}", note=note)
    if first.year > _LAST_YEAR:
        ledger.fault(
            "workshop.start", "is too far off to plan for", f"{first}", f"a day before the year {_LAST_YEAR + 1}"
        )
        first = start
    weekdays = _weekdays(workshop, ledger)
    opens, closes = _hours(workshop, ledger)
    away = _away(workshop, ledger)
    notes: list[str] = []
    delivery = None
    if brief.delivery is not None:
        delivery = brief.delivery.date
        ledger.origins["brief.delivery"] = brief.delivery.origin
        line = brief.delivery.origin.line
        where = f" (line {line})" if line else ""
        if delivery < first:
            notes.append(
                f"The delivery date {delivery}{where} lies before the first day of work {first}: everything below is"
                " planned as if work began on that day, and it ends too late."
            )
        elif delivery == first:
            notes.append(f"The delivery date {delivery}{where} is the first day of work.")
    return Calendar(first, weekdays, opens, closes, away, delivery, tuple(notes))


def _weekdays(workshop: WorkshopRecord, ledger: Ledger) -> tuple[int, ...]:
    path, typed = "workshop.attended.days", workshop.attended.days
    if typed is None:
        text, note = ", ".join(_USUAL_DAYS), "the usual working week"
        ledger.origins[path] = Origin(Kind.DEFAULT, path, text=text, note=note)
        return tuple(WEEK.index(day) for day in _USUAL_DAYS)
    if not typed:
        ledger.fault(path, "on no day of the week is anybody there, so no plate is ever changed", "[]", ", ".join(WEEK))
        return tuple(range(7))
    ledger.origins[path] = Origin(Kind.DESIGN, path, typed[0].origin.line, ", ".join(str(day) for day in typed))
    return tuple(sorted({WEEK.index(str(day)) for day in typed}))


def _hours(workshop: WorkshopRecord, ledger: Ledger) -> tuple[time, time]:
    hours = []
    for key, typed, usual in (
        ("start", workshop.attended.start, _OPENS),
        ("end", workshop.attended.end, _CLOSES),
    ):
        path = f"workshop.attended.{key}"
        if typed is None:
            ledger.origins[path] = Origin(Kind.DEFAULT, path, text=f"{usual:%H:%M}", note="usual working hours")
        else:
            ledger.origins[path] = typed.origin
        hours.append(usual if typed is None else typed.time)
    opens, closes = hours
    if closes <= opens:
        # the fault stands where something was typed: a start after the usual end is the start's fault
        key = "start" if workshop.attended.end is None else "end"
        ledger.fault(
            f"workshop.attended.{key}",
            f"the attended hours end at {closes:%H:%M}, which is not after they start at {opens:%H:%M}",
            f"{(opens if key == 'start' else closes):%H:%M}",
            "an end later on the same day than the start, such as 18:00 after 8:00",
        )
        return _OPENS, _CLOSES
    return opens, closes


def _away(workshop: WorkshopRecord, ledger: Ledger) -> tuple[date, ...]:
    path, typed = "workshop.attended.away", workshop.attended.away
    if not typed:
        ledger.origins[path] = Origin(Kind.DEFAULT, path, text="none", note="somebody is there on every working day")
        return ()
    days = sorted({day.date for day in typed})
    ledger.origins[path] = Origin(Kind.DESIGN, path, typed[0].origin.line, ", ".join(f"{day}" for day in days))
    return tuple(days)


def is_working(calendar: Calendar, day: date) -> bool:
    """Whether somebody is there on that day."""
    return day.weekday() in calendar.weekdays and day not in calendar._away


def working_day(calendar: Calendar, day: date) -> date:
    """The day itself, or the next one, on which somebody is there."""
    while not is_working(calendar, day):
        day += timedelta(days=1)
    return day


def last_working_day(calendar: Calendar, day: date) -> date:
    """The day itself, or the last one before it, on which somebody is there."""
    while not is_working(calendar, day):
        day -= timedelta(days=1)
    return day


def working_days(calendar: Calendar, begin: date, end: date) -> int:
    """Number of working days from `begin` on, and before `end`; negative where `end` lies before `begin`."""
    if end < begin:
        return -working_days(calendar, end, begin)
    weeks, rest = divmod((end - begin).days, 7)
    count = weeks * len(calendar.weekdays)
    count += sum((begin.weekday() + n) % 7 in calendar.weekdays for n in range(rest))
    return count - sum(begin <= day < end and day.weekday() in calendar.weekdays for day in calendar._away)


def later(calendar: Calendar, day: date, count: int) -> date:
    """The working day that comes `count` working days after the first working day at or after `day` (before it, where
    `count` is negative)."""
    day = working_day(calendar, day)
    step = timedelta(days=1 if count >= 0 else -1)
    for _ in range(abs(count)):
        day += step
        while not is_working(calendar, day):
            day += step
    return day


def attended(calendar: Calendar, moment: datetime) -> datetime:
    """The moment itself, or the next one, at which somebody is there."""
    day = working_day(calendar, moment.date())
    if day > moment.date():
        return datetime.combine(day, calendar.opens)
    if moment.time() < calendar.opens:
        return datetime.combine(day, calendar.opens)
    if moment.time() > calendar.closes:
        return datetime.combine(working_day(calendar, day + timedelta(days=1)), calendar.opens)
    return moment


def first_moment(calendar: Calendar) -> datetime:
    """When work begins: the opening hour of the first working day."""
    return datetime.combine(working_day(calendar, calendar.first), calendar.opens)


def day_length(calendar: Calendar) -> timedelta:
    """How long somebody is there on a working day."""
    return datetime.combine(calendar.first, calendar.closes) - datetime.combine(calendar.first, calendar.opens)


def working_time(calendar: Calendar, moment: datetime) -> float:
    """Working days from the first day of work to that moment, the part of a day counted by its hours."""
    day = moment.date()
    count = float(working_days(calendar, calendar.first, day))
    if is_working(calendar, day):
        into = (moment - datetime.combine(day, calendar.opens)) / day_length(calendar)
        count += min(max(into, 0.0), 1.0)
    return count


class Hours:
    """Attended spells as whole minutes from a moment on: a table that grows as it is read, for planners that ask often.

    opens, closes: of the spells, ascending.  Minute 0 is the moment given.
    """

    def __init__(self, calendar: Calendar, begin: datetime) -> None:
        self.calendar, self.begin = calendar, begin
        self.opens: list[int] = []
        self.closes: list[int] = []
        self._day = begin.date()

    def _grow(self, minute: int) -> None:
        while not self.closes or self.closes[-1] < minute:
            self._day = working_day(self.calendar, self._day)
            opens = datetime.combine(self._day, self.calendar.opens) - self.begin
            closes = datetime.combine(self._day, self.calendar.closes) - self.begin
            self._day += timedelta(days=1)
            if closes >= timedelta(0):
                self.opens.append(max(-int(-opens.total_seconds() // 60), 0))
                self.closes.append(int(closes.total_seconds() // 60))

    def attended(self, minute: int) -> int:
        """The minute itself, or the next, at which somebody is there."""
        self._grow(minute)
        return max(minute, self.opens[bisect_left(self.closes, minute)])

    def work(self, minute: int, length: int) -> int:
        """When a piece of work of so many minutes is done that begins at the minute or later and fits into one spell;
        work longer than a spell goes on through the next ones."""
        self._grow(minute)
        spell = bisect_left(self.closes, minute)
        begin = max(minute, self.opens[spell])
        if begin + length <= self.closes[spell]:
            return begin + length
        spell += 1
        self._grow(self.closes[-1] + 1 if spell >= len(self.closes) else 0)
        left = length
        while left > self.closes[spell] - self.opens[spell]:
            left -= self.closes[spell] - self.opens[spell]
            spell += 1
            if spell >= len(self.closes):
                self._grow(self.closes[-1] + 1)
        return self.opens[spell] + left

    def closed(self, minute: int) -> tuple[int, int]:
        """Closed time and number of closed spells before the minute (from minute 0 on)."""
        self._grow(minute)
        last = bisect_right(self.opens, minute)
        spells = [self.opens[0], *(self.opens[n] - self.closes[n - 1] for n in range(1, last))]
        if last == 0:
            return minute, int(minute > 0)
        tail = max(minute - self.closes[last - 1], 0)
        return sum(spells) + tail, sum(spell > 0 for spell in spells) + int(tail > 0)

    def longest_closed(self, minute: int) -> int:
        """The longest closed spell that begins before the minute."""
        self._grow(minute)
        gaps = [self.opens[n] - self.closes[n - 1] for n in range(1, len(self.opens)) if self.closes[n - 1] <= minute]
        self._grow(self.closes[-1] + 1)
        last = self.opens[-1] - self.closes[-2] if len(self.opens) > 1 else 0
        return max([self.opens[0], last, *gaps])

    def at(self, minute: int) -> datetime:
        """The minute as a moment."""
        return self.begin + timedelta(minutes=minute)
