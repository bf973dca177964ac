"""The way to the date: what waits for what, how soon all can be done, and where there is slack.

Tasks are counted in working days of the calendar. Orders take days of the calendar, whether anybody works or not.
Printing comes from the print plan. What else takes how long is a habit of the trade: it stands in `WORK`, each line
with its reason, and is to be corrected by whoever knows better.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from dryfit.machine.calendar import (
    Calendar,
    later,
    working_day,
    working_days,
    working_time,
)
from dryfit.making.losses import off
from dryfit.making.records_plan import Path, PrintPlan, Task

_DAY = timedelta(days=1)
_EPSILON = 1e-6
"""Parts of a working day below this are the rounding of sums."""


@dataclass(frozen=True)
class Activity:
    """One thing to do. work: working days.  after: names of what has to be done before.  not_before: a day before which
    it cannot begin.  lead: of an order, days of the calendar from ordering to arrival (then `work` is not used).
    hands: somebody works at it all the while (not so while a printer or a supplier does).  why: where `work` comes
    from."""

    name: str
    stage: str
    work: float
    after: tuple[str, ...] = ()
    not_before: date | None = None
    lead: float = 0.0
    hands: bool = True
    why: str = ""


@dataclass(frozen=True)
class Work:
    """Usual work of a task, working days: once, and for each of what is counted; the reason; and what it waits for."""

    stage: str
    once: float
    each: float
    counted: str
    reason: str
    after: tuple[str, ...]


_HABIT = "common practice for one builder who has done it before: "

WORK: dict[str, Work] = {
    "measure coupons": Work(
        "prints", 0.5, 0.0, "", "holes, fits and gear slices tried, the design file corrected", ("print coupons",)
    ),
    "cut stock": Work("frame", 0.5, 0.05, "cuts", "setting up, then a few minutes for each cut and its burr", ()),
    "firmware": Work(
        "logic", 4.0, 0.0, "", "drive, light, arms and lost link, tried on a bare board", ()
    ),
    "wheel units": Work(
        "wheel units", 1.0, 0.75, "wheel units", "the first one tried to the end, then the others",
        ("measure coupons", "print what carries"),
    ),
    "frame": Work("frame", 1.5, 0.0, "", "screwed on a flat plate, squared, weighed", ("cut stock", "wheel units")),
    "harness": Work("supply", 0.5, 0.08, "wires", "cut, fitted, labelled and rung out, about 40 min a wire", ()),
    "supply": Work(
        "supply", 1.0, 0.1, "branches", "packs, fuses, regulators, each rail read under load", ("frame", "harness")
    ),
    "logic": Work(
        "logic", 1.0, 0.25, "wheel units", "outputs watched at power-up, then one wheel at a time",
        ("supply", "firmware"),
    ),
    "light": Work("light", 0.5, 0.15, "strips", "each strip tried, stuck, fed and read at its far end", ("supply",)),
    "arms": Work(
        "arms", 0.5, 0.35, "arms", "horns set, each arm moved alone, then all", ("logic", "print what carries")
    ),
    "body": Work("body", 1.5, 0.1, "printed parts", "fitted, weighed, sections joined and tilted", ("print the rest",)),
    "first drive": Work(
        "first drive", 1.0, 0.0, "", "wheels in the air, emergency stop, then the marked line", ("logic",)
    ),
    "rehearsal": Work("rehearsal", 2.0, 0.0, "", "the whole show twice, on two days", ("first drive",)),
    "put right": Work(
        "rehearsal", 3.0, 0.0, "", "something always has to be made again after the rehearsal", ("rehearsal",)
    ),
    "pack": Work("rehearsal", 0.5, 0.0, "", "cases, spares, tools, chargers, papers", ("put right",)),
}  # fmt: skip
"""Usual tasks in building order."""

_LAST = "first drive"
"""What everything that is built has to be ready for."""

_HELD_BACK = ("light", "arms", "body")
"""Tasks that have to be done before the first drive where the machine has them."""


def activities(
    calendar: Calendar,
    plan: PrintPlan | None,
    *,
    stages: Sequence[str],
    counts: Mapping[str, int],
    orders: Sequence[tuple[str, float, str]] = (),
) -> tuple[Activity, ...]:
    """Everything to do, from what the machine has.

    stages: names of the build stages that it has.  counts: how many of what `WORK` counts ("wheel units", "cuts",
    "branches", "wires", "strips", "arms", "printed parts"); what is missing counts as none.  orders: name, lead time in
    days of the calendar, and the stage that needs it ("" for the first that is built); those that take as long for the
    same stage are one task, "order: servo and 2 more".
    """
    printing = _printing(calendar, plan)
    wanted = {*stages, "rehearsal", "first drive"}
    names = [n for n, w in WORK.items() if w.stage in wanted and not _nothing_for(n, counts, printing)]
    known = {*names, *(a.name for a in printing)}
    made: list[Activity] = list(printing)
    for name in names:
        usual = WORK[name]
        after = [n for n in usual.after if n in known]
        if name == _LAST:
            after += [n for n in _HELD_BACK if n in known]
        count = counts.get(usual.counted, 0)
        why = _HABIT + usual.reason
        if usual.each and count:
            why += f"; {usual.once:g} + {count} x {usual.each:g} days"
        made.append(Activity(name, usual.stage, usual.once + usual.each * count, tuple(after), why=why))
    together: dict[tuple[str, float], list[str]] = {}
    for name, lead, stage in orders:
        together.setdefault((stage, max(lead, 0.0)), []).append(name)
    for (stage, lead), things in together.items():
        first = _first_of(stage, made)
        order = f"order: {_short(things[0])}" + (f" and {len(things) - 1} more" if len(things) > 1 else "")
        taken = sum(a.name == order or a.name.startswith(f"{order} (") for a in made)
        order += f" ({taken + 1})" if taken else ""
        why = "lead time of " + "; ".join(dict.fromkeys(things))
        made.append(Activity(order, "orders", 0.0, lead=lead, hands=False, why=why))
        if first is not None:
            at = made.index(first)
            made[at] = replace(first, after=(*first.after, order))
    return tuple(made)


def _short(name: str) -> str:
    """What a thing is, without its sizes and what it is made of: "insert bearing UC204 in a block" -> insert
    bearing."""
    words = name.split(",", maxsplit=1)[0].split()
    for n, word in enumerate(words):
        if n and (word in ("of", "in", "for", "with") or any(c.isdigit() for c in word)):
            # a name that begins with its size has it in front of what it is
            return " ".join(words if any(c.isdigit() for c in words[0]) else words[:n])
    return " ".join(words)


def _nothing_for(name: str, counts: Mapping[str, int], printing: Sequence[Activity]) -> bool:
    """Whether a task has nothing to be done at: no coupons to measure, no stock to cut, no wires."""
    if name == "measure coupons":
        return all(a.name != "print coupons" for a in printing)
    needs = {"cut stock": "cuts", "harness": "wires"}
    return name in needs and not counts.get(needs[name], 0)


def _first_of(stage: str, made: Sequence[Activity]) -> Activity | None:
    """The task that waits for an order: the first one of its stage that is built, else the first that is built at all.
    Work at a desk and at the printers goes on without."""
    skipped = {"measure coupons", "firmware"}
    built = [a for a in made if a.hands and a.name not in skipped]
    return next((a for a in built if a.stage == stage), built[0] if built else None)


def _printing(calendar: Calendar, plan: PrintPlan | None) -> list[Activity]:
    """Coupons, what carries, and the rest, one after the other as they come off the printers."""
    if plan is None or not plan.jobs:
        return []
    found: list[Activity] = []
    # from the morning of the day on which printing begins, as all tasks are laid out on whole days
    so_far = _number(calendar, plan.begins.date())
    has = (
        any(p.coupons for p in plan.plates),
        any(p.structural for p in plan.plates),
        any(not (p.coupons or p.structural) for p in plan.plates),
    )
    after: tuple[str, ...] = ()
    for kind, name in enumerate(("print coupons", "print what carries", "print the rest")):
        moment = off(plan, kind) or (plan.finish if kind == 2 else None)
        if not has[kind] or moment is None:
            continue
        until = max(working_time(calendar, moment), so_far)
        not_before = plan.begins.date() if not found else None
        found.append(
            Activity(name, "prints", until - so_far, after, not_before, hands=False, why="from the print plan")
        )
        so_far, after = until, (name,)
    return found


def passes(
    work: Sequence[float], after: Sequence[Sequence[int]], release: Sequence[float], due: float | None = None
) -> tuple[list[float], list[float], list[float], list[float]]:
    """Earliest start and finish, latest start and finish of tasks, in the unit of `work`, by one pass forwards and one
    back (the critical path method).

    after: numbers of the tasks each waits for.  release: earliest start of each.  due: when the last has to end; its
    own earliest end where left out. Slack is latest less earliest; tasks with none are critical.
    Raises ValueError where tasks wait for each other in a ring.
    """
    count = len(work)
    followers: list[list[int]] = [[] for _ in range(count)]
    waits = [len(set(a)) for a in after]
    for task, before in enumerate(after):
        for one in set(before):
            followers[one].append(task)
    order = [task for task in range(count) if not waits[task]]
    for task in order:
        for one in followers[task]:
            waits[one] -= 1
            if not waits[one]:
                order.append(one)
    if len(order) < count:
        raise ValueError("tasks wait for each other in a ring")
    early, done = [0.0] * count, [0.0] * count
    for task in order:
        early[task] = max([release[task], *(done[one] for one in after[task])])
        done[task] = early[task] + work[task]
    end = max(done, default=0.0) if due is None else due
    latest, begin = [end] * count, [end] * count
    for task in reversed(order):
        latest[task] = min([end, *(begin[one] for one in followers[task])])
        begin[task] = latest[task] - work[task]
    return early, done, begin, latest


def way_to_date(calendar: Calendar, wanted: Sequence[Activity]) -> Path:
    """The way from the first day of work to the last task. Slack is what a task may slip before the last one slips;
    beyond that there may be days to spare until the delivery."""
    if not wanted:
        first = working_day(calendar, calendar.first)
        return Path((), first, first, calendar.delivery, 0, ("There is nothing to do.", *calendar.notes))
    number = {activity.name: n for n, activity in enumerate(wanted)}
    if len(number) < len(wanted):
        raise ValueError("two tasks have the same name")
    after = [[number[name] for name in activity.after] for activity in wanted]
    release = [_number(calendar, a.not_before) if a.not_before else 0.0 for a in wanted]
    work = [_arrives(calendar, a.lead) if a.lead else a.work for a in wanted]
    early, done, _, latest = passes(work, after, release)
    tasks = []
    for n, a in enumerate(wanted):
        free = latest[n] - done[n]
        slack = math.floor(free + _EPSILON)
        begins, ends = _begin_day(calendar, early[n]), _end_day(calendar, early[n], done[n])
        last = _end_day(calendar, early[n], latest[n])
        if a.lead:
            begins = calendar.first if a.not_before is None else max(a.not_before, calendar.first)
            ends = begins + timedelta(days=math.ceil(a.lead - _EPSILON))
            last = max(_begin_day(calendar, latest[n]), ends) if free > _EPSILON else ends
        critical = free < _EPSILON
        tasks.append(Task(a.name, a.stage, a.work, a.after, begins, ends, last, slack, critical, a.lead, a.why))
    tasks.sort(key=lambda task: (early[number[task.name]], done[number[task.name]], number[task.name]))
    ends = max(task.ends for task in tasks if not task.lead) if any(not t.lead for t in tasks) else tasks[-1].ends
    late = spare = 0
    if calendar.delivery is not None:
        # the last task may end on the very day on which the machine leaves
        spare = max(working_days(calendar, ends + _DAY, calendar.delivery + _DAY), 0)
        late = max(working_days(calendar, calendar.delivery + _DAY, ends + _DAY), 0)
    hands = sum(a.work for a in wanted if a.hands and not a.lead)
    begins = min(task.begins for task in tasks)
    notes = _notes(calendar, tasks, ends, late, spare, hands)
    return Path(tuple(tasks), begins, ends, calendar.delivery, late, notes, spare, hands)


def latest_start(path: Path, name: str, calendar: Calendar) -> date:
    """The last day on which a task can begin, or an order be placed, so that the delivery still holds; where there is
    no delivery date, or it does not hold anyhow, so that the last task is not put off further."""
    task = next((task for task in path.tasks if task.name == name), None)
    if task is None:
        raise KeyError(name)
    last = later(calendar, task.latest, path.spare) if path.spare else task.latest
    if task.lead:
        return last - timedelta(days=math.ceil(task.lead - _EPSILON))
    return later(calendar, last, -max(math.ceil(task.work - _EPSILON) - 1, 0))


def _notes(
    calendar: Calendar, tasks: Sequence[Task], ends: date, late: int, spare: int, hands: float
) -> tuple[str, ...]:
    said = list(calendar.notes)
    chain = [task.name for task in tasks if task.critical]
    said.append("No day may be lost on: " + "; ".join(chain) + ".")
    if calendar.delivery is not None and late:
        said.append(
            f"The last task ends on {ends}, {late} working day{'s' if late > 1 else ''} after the delivery date:"
            " shorten what stands on the way above, or ask for a later date."
        )
    elif calendar.delivery is not None:
        said.append(
            f"{spare} working day{'' if spare == 1 else 's'} to spare before the delivery on {calendar.delivery}."
        )
    alone = later(calendar, calendar.first, max(math.ceil(hands - _EPSILON) - 1, 0))
    span = working_days(calendar, calendar.first, ends) + 1
    words = f"{hands:.1f} days of work for hands in {span} working days"
    if alone > ends:
        more = (
            "which is after the delivery date" if calendar.delivery and alone > calendar.delivery else "and no sooner"
        )
        said.append(
            f"{words}: tasks that do not wait for each other are taken to go on side by side, so this needs a second"
            f" pair of hands; alone it takes until {alone} at least, {more}."
        )
    else:
        said.append(f"{words}: one pair of hands may do, if tasks that could go on side by side are taken in turn.")
    return tuple(said)


def _number(calendar: Calendar, day: date) -> float:
    return float(max(working_days(calendar, calendar.first, day), 0))


def _arrives(calendar: Calendar, lead: float) -> float:
    """Working days from the first day of work until an order placed on it has arrived: in the morning of that day."""
    return _number(calendar, calendar.first + timedelta(days=math.ceil(lead - _EPSILON)))


def _begin_day(calendar: Calendar, at: float) -> date:
    return later(calendar, calendar.first, math.floor(at + _EPSILON))


def _end_day(calendar: Calendar, begin: float, at: float) -> date:
    """The day on which something ends: work that is done in the evening ends on that day, not on the next morning."""
    last = math.floor(begin + _EPSILON) if at <= begin + _EPSILON else math.ceil(at - _EPSILON) - 1
    return later(calendar, calendar.first, max(last, 0))
