"""Plates on printers, with the hours in which somebody is there.

A plate begins only while somebody is there, prints through the night, and comes off when somebody is there again and
has the time to change it. On every printer coupons come first, then what carries, then what only shows.

Which plate goes on which printer, and in what order, is found by trying every order where the plates are few, else by a
search: a first plan (longest first, each on the printer that is done with it soonest), then moves and exchanges until
none helps, then small upsets and again, a fixed number of times, so that the same plates give the same plan.
Beside it stands a bound: a time before which no plan at all can be done (see `bound`).
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import permutations, product

import numpy as np

from dryfit.ground.quantity import Num
from dryfit.machine.calendar import Calendar, Hours, first_moment
from dryfit.making.plates import Laid, PrinterAtWork
from dryfit.making.records_plan import Job, Plate, PrintPlan
from dryfit.making.records_print import Printed

_EVERY_ORDER = 6000
"""Up to so many ways of sharing out and ordering the plates, all are tried."""
_LOOKS = 700_000
_FEWEST_PLANS, _MOST_PLANS = 1500, 12_000
"""Plates timed in a search, and plans looked at, at least and at most."""
_MOST_ALLOWED = 365 * 86400.0
"""A plate that would fail for longer than this, s, is counted with this and named: no calendar reaches farther."""
_OFTEN = 2.0
"""A plate that has to be begun more often than this, on average, is named."""

Order = tuple[tuple[int, ...], ...]
"""By printer, the plates in their order."""
Rank = tuple[int, int, int, int]
"""Of a plan, smaller is better: when all is off, what carries is off, coupons are off, and the sum of it all."""


@dataclass(frozen=True)
class Sharing:
    """Plates and printers as whole minutes. kind: of each plate, 0 coupons, 1 carries, 2 shows.  takes: by plate and
    printer, minutes with the allowance, -1 where it does not go.  change: by printer.  free: minute from which each
    printer is free."""

    hours: Hours
    kind: tuple[int, ...]
    takes: tuple[tuple[int, ...], ...]
    change: tuple[int, ...]
    free: tuple[int, ...]


def time_with_failures(time: Num, rate: Num) -> Num:
    """Time, on average, until a print of `time` has once gone well, s, where it fails `rate` times in a second of
    printing and is begun again at once: (exp(rate time) - 1) / rate.

    Derived by renewal. Failures strike without memory, so the first comes after x with density r exp(-r x). Let E be
    the time asked for. With no failure before T it is T; else what was printed is lost and all begins again:
    E = exp(-r T) T + integral 0..T of r exp(-r x) (x + E) dx = (1 - exp(-r T)) / r + (1 - exp(-r T)) E.
    Shapes: any that broadcast. Error: none but the model's; a failure that nobody sees for hours costs those as well,
    see `time_seen_late`.
    """
    t, r = np.asanyarray(time, dtype=float), np.asanyarray(rate, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(r * t > 1e-12, np.expm1(r * t) / np.where(r > 0, r, 1.0), t)[()]


def time_seen_late(time: Num, rate: Num) -> Num:
    """The same where a failure is seen only at the end that was planned: time exp(rate time). Each try then takes the
    whole time and goes well with the chance exp(-rate time), so exp(rate time) tries are needed on average. Derived."""
    return np.asanyarray(np.asanyarray(time, dtype=float) * np.exp(np.multiply(rate, time)))[()]


def plan_printing(
    printed: Sequence[Printed],
    laid: Laid,
    printers: Sequence[PrinterAtWork],
    calendar: Calendar,
    *,
    rate: float,
    begins: datetime | None = None,
) -> PrintPlan:
    """All plates on the printers. rate: failures in a second of printing.  begins: not before then (else when the first
    day of work begins). The plates get new numbers, in the order in which they begin."""
    begin = whole_minute(begins or first_moment(calendar))
    working = tuple(p for p in printers if p.working)
    jobs, finish, floor, exact, how = share_out(laid.plates, working, calendar, rate=rate, begin=begin)
    left = tuple(plate for plate in laid.plates if plate.number not in {job.plate for job in jobs})
    order = [job.plate for job in jobs] + [plate.number for plate in left]
    number = {old: new for new, old in enumerate(order, start=1)}
    by_number = {plate.number: plate for plate in laid.plates}
    plates = tuple(replace(by_number[old], number=new) for old, new in number.items())
    jobs = tuple(replace(job, plate=number[job.plate]) for job in jobs)
    return PrintPlan(
        printed=tuple(printed),
        plates=plates,
        jobs=jobs,
        printers=tuple(p.name for p in printers),
        begins=begin,
        finish=finish,
        bound=floor,
        exact=exact,
        how=how,
        busy=busy(jobs, [p.name for p in printers]),
        notes=(*laid.notes, *notes(plates, jobs, rate), *calendar.notes),
        least=tuple((one.group, one.by_area, one.by_hours, one.taken) for one in laid.least),
        left=tuple(number[plate.number] for plate in left),
        allowed=allowances(plates, jobs, rate),
        rate=rate,
    )


def share_out(
    plates: Sequence[Plate],
    printers: Sequence[PrinterAtWork],
    calendar: Calendar,
    *,
    rate: float,
    begin: datetime,
    free: dict[str, datetime] | None = None,
) -> tuple[tuple[Job, ...], datetime, datetime, bool, str]:
    """Jobs in the order of beginning, when all is off, the bound, whether it is met, and how it was found.

    free: when each printer is free, where that is later than `begin`. Plates that no printer takes are left out.
    """
    names = [p.name for p in printers]
    taken = [plate for plate in plates if any(name in names for name, _ in plate.on)]
    if not taken:
        return (), begin, begin, True, "there is nothing to print"
    hours = Hours(calendar, begin)
    free = free or {}
    sharing = Sharing(
        hours=hours,
        kind=tuple(0 if plate.coupons else 1 if plate.structural else 2 for plate in taken),
        takes=tuple(tuple(_minutes(dict(plate.on).get(name), rate) for name in names) for plate in taken),
        change=tuple(math.ceil(p.change_time / 60 - 1e-9) for p in printers),
        free=tuple(max(math.ceil((free.get(name, begin) - begin).total_seconds() / 60), 0) for name in names),
    )
    order, every = best_order(sharing)
    finish = rank(sharing, order)[0]
    floor = finish if every else bound(sharing, finish)
    exact = floor == finish
    count = f"{len(taken)} plates on {len(names)} printer{'s' if len(names) > 1 else ''}"
    if every:
        how = f"every order of {count} was tried"
    else:
        how = f"search over {count}{', which meets the bound' if exact else ''}"
    jobs = []
    for printer, queue in enumerate(order):
        for plate, (starts, done, off) in zip(queue, _times(sharing, printer, queue), strict=True):
            printing = dict(taken[plate].on)[names[printer]]
            allowance = _allowed(printing, rate)
            number = taken[plate].number
            jobs.append(Job(number, names[printer], hours.at(starts), hours.at(done), hours.at(off), allowance))
    jobs.sort(key=lambda job: (job.begins, job.printer))
    return tuple(jobs), hours.at(finish), hours.at(floor), exact, how


def best_order(sharing: Sharing) -> tuple[Order, bool]:
    """The best order found, and whether every one was tried."""
    if _ways(sharing) <= _EVERY_ORDER:
        return min(_all_orders(sharing), key=lambda order: rank(sharing, order)), True
    return _searched(sharing), False


def rank(sharing: Sharing, order: Order) -> Rank:
    """How good an order is."""
    last, total = [0, 0, 0], 0
    for printer, queue in enumerate(order):
        for plate, (_, _, off) in zip(queue, _times(sharing, printer, queue), strict=True):
            last[sharing.kind[plate]] = max(last[sharing.kind[plate]], off)
            total += off
    return max(last), last[1], last[0], total


def _times(sharing: Sharing, printer: int, queue: Sequence[int]) -> list[tuple[int, int, int]]:
    """When each plate begins, is done and is off. To begin as soon as possible is never worse: all that follows moves
    with it or stays."""
    hours, change = sharing.hours, sharing.change[printer]
    free, out = sharing.free[printer], []
    for plate in queue:
        starts = hours.attended(free)
        done = starts + sharing.takes[plate][printer]
        free = hours.work(done, change)
        out.append((starts, done, free))
    return out


def _ways(sharing: Sharing) -> int:
    """Number of all orders, at most: the plates' printers, times the orders within each kind."""
    count = math.prod(sum(t >= 0 for t in row) for row in sharing.takes)
    return count * math.prod(math.factorial(sharing.kind.count(kind)) for kind in range(3))


def _all_orders(sharing: Sharing) -> list[Order]:
    plates = range(len(sharing.kind))
    allowed = [[i for i, t in enumerate(sharing.takes[plate]) if t >= 0] for plate in plates]
    by_kind = [permutations([p for p in plates if sharing.kind[p] == kind]) for kind in range(3)]
    orders = [tuple(a for part in parts for a in part) for parts in product(*by_kind)]
    found = set()
    for where in product(*allowed):
        for line in orders:
            found.add(tuple(tuple(p for p in line if where[p] == i) for i in range(len(sharing.free))))
    return sorted(found)


def _searched(sharing: Sharing) -> Order:
    """The best order of a search with a fixed number of looks."""
    dice = random.Random(1)  # the same plates give the same plan
    count = len(sharing.free)
    tried, most = 0, min(max(_LOOKS // len(sharing.kind), _FEWEST_PLANS), _MOST_PLANS)

    def ordered(queue: list[int]) -> list[int]:
        return sorted(queue, key=lambda plate: sharing.kind[plate])

    def look(order: list[list[int]]) -> Rank:
        nonlocal tried
        tried += 1
        return rank(sharing, tuple(tuple(q) for q in order))

    order = _first_plan(sharing)
    value = look(order)
    best, best_value = order, value
    while tried < most:
        order, value = _improved(order, value, look, ordered, sharing, dice, lambda: tried < most)
        if value < best_value:
            best, best_value = order, value
        order = [list(q) for q in best]
        for _ in range(3):
            busy_ones = [i for i in range(count) if order[i]]
            here = dice.choice(busy_ones)
            plate = order[here].pop(dice.randrange(len(order[here])))
            there = dice.choice([i for i, t in enumerate(sharing.takes[plate]) if t >= 0])
            order[there].insert(dice.randrange(len(order[there]) + 1), plate)
            order[there] = ordered(order[there])
        value = look(order)
    return tuple(tuple(q) for q in best)


def _first_plan(sharing: Sharing) -> list[list[int]]:
    order: list[list[int]] = [[] for _ in sharing.free]
    longest = [max(row) for row in sharing.takes]
    for plate in sorted(range(len(sharing.kind)), key=lambda p: (sharing.kind[p], -longest[p], p)):
        ends = []
        for printer, time in enumerate(sharing.takes[plate]):
            if time >= 0:
                ends.append((_times(sharing, printer, [*order[printer], plate])[-1][2], printer))
        order[min(ends)[1]].append(plate)
    return order


def _improved(
    order: list[list[int]],
    value: Rank,
    look: Callable[[list[list[int]]], Rank],
    ordered: Callable[[list[int]], list[int]],
    sharing: Sharing,
    dice: random.Random,
    more: Callable[[], bool],
) -> tuple[list[list[int]], Rank]:
    """Take moves and exchanges that help until none does. A plate moves to another place in its line or another
    printer's; two plates change places."""
    better = True
    while better and more():
        better = False
        places = [(i, plate) for i, queue in enumerate(order) for plate in queue]
        dice.shuffle(places)
        for here, plate in places:
            if plate not in order[here]:
                continue
            for tried in _neighbours(order, here, plate, sharing, ordered):
                if not more():
                    return order, value
                found = look(tried)
                if found < value:
                    order, value, better = tried, found, True
                    break
    return order, value


def _neighbours(
    order: list[list[int]], here: int, plate: int, sharing: Sharing, ordered: Callable[[list[int]], list[int]]
) -> list[list[list[int]]]:
    kind, near = sharing.kind, []
    for there, time in enumerate(sharing.takes[plate]):
        if time < 0:
            continue
        rest = [p for p in order[there] if p != plate]
        spots = [n for n in range(len(rest) + 1) if _in_order(rest, n, kind, kind[plate])]
        for spot in spots:
            moved = [list(q) for q in order]
            moved[here].remove(plate)
            moved[there] = [*rest[:spot], plate, *rest[spot:]]
            if moved != order:
                near.append(moved)
    for there, queue in enumerate(order):
        for other in queue:
            if other == plate or sharing.takes[plate][there] < 0 or sharing.takes[other][here] < 0:
                continue
            if kind[other] != kind[plate] and here == there:
                continue
            swapped = [[{plate: other, other: plate}.get(p, p) for p in q] for q in order]
            near.append([ordered(q) for q in swapped])
    return near


def _in_order(queue: Sequence[int], spot: int, kind: Sequence[int], new: int) -> bool:
    return (spot == 0 or kind[queue[spot - 1]] <= new) and (spot == len(queue) or new <= kind[queue[spot]])


def bound(sharing: Sharing, finish: int) -> int:
    """A minute before which no plan can be done: the last F, not after `finish`, for which even a laxer task fails.

    The laxer task keeps of the real one: every plate goes on one printer, or parts of it on several; printing and
    changing on a printer take no more than the attended time up to F, plus what can be printed while nobody is there.
    That is at most: all closed time; and, as every closed spell is bridged by one plate, as many plates as there are
    closed spells, each with no more than its own time or the longest closed spell (more where a plate is longer than a
    closed spell and the shortest day after it). A plate that takes longer than a working day has to bridge a closed
    spell. A real plan that is done by F meets all of this, so where the laxer
    task fails at F, no plan is done by F. The task is a linear one with whole numbers, solved by HiGHS; where it is not
    decided within its steps, it counts as possible, so the bound stays true.
    """
    low = max(
        min(_times(sharing, i, [plate])[0][2] for i, time in enumerate(row) if time >= 0)
        for plate, row in enumerate(sharing.takes)
    )
    low, high = min(low, finish), finish
    while low < high:
        middle = (low + high) // 2
        if _possible(sharing, middle):
            high = middle
        else:
            low = middle + 1
    # somebody was there for as long as the shortest change takes: nothing comes off at other moments
    change = min(sharing.change)
    return min(sharing.hours.work(max(low - change, 0), change), finish)


def _possible(sharing: Sharing, finish: int) -> bool:
    from scipy.optimize import Bounds, LinearConstraint, milp

    plates, printers = len(sharing.takes), len(sharing.free)
    hours = sharing.hours
    longest = max(hours.longest_closed(finish), 1)
    days = [closes - opens for opens, closes in zip(hours.opens, hours.closes, strict=True)]
    shortest_day, longest_day = min(days[1:]), max(days)
    size = plates * printers
    # unknowns: share of a plate on a printer, whether it bridges a closed spell there, closed time used by printer
    low, high = np.zeros(2 * size + printers), np.ones(2 * size + printers)
    rows, least, most = [], [], []

    def add(row: np.ndarray[tuple[int], np.dtype[np.float64]], at_least: float, at_most: float) -> None:
        rows.append(row)
        least.append(at_least)
        most.append(at_most)

    for plate in range(plates):
        row = np.zeros(2 * size + printers)
        for i in range(printers):
            if sharing.takes[plate][i] < 0:
                high[plate * printers + i] = 0.0
            row[plate * printers + i] = 1.0
        add(row, 1.0, 1.0)
    for i in range(printers):
        free = min(sharing.free[i], finish)
        closed_before, spells_before = hours.closed(free)
        closed_by_end, spells_by_end = hours.closed(finish)
        closed = closed_by_end - closed_before
        # no plate begins while nobody is there, so a spell under way when the printer gets free is bridged by none
        spells = spells_by_end - spells_before
        open_time = (finish - free) - closed
        high[2 * size + i] = closed
        time, bridged, count = (np.zeros(2 * size + printers) for _ in range(3))
        for plate in range(plates):
            takes = max(sharing.takes[plate][i], 0)
            x, z = plate * printers + i, size + plate * printers + i
            time[x] = takes + sharing.change[i]
            bridged[z] = -_at_most_closed(takes, longest, shortest_day)
            count[z] = 1.0
            row = np.zeros(2 * size + printers)
            row[z], row[x] = 1.0, -1.0
            add(row, 0.0 if takes > longest_day else -1.0, 0.0)
        time[2 * size + i] = -1.0
        add(time, -np.inf, float(open_time))
        bridged[2 * size + i] = 1.0
        add(bridged, -np.inf, 0.0)
        add(count, -np.inf, float(spells))
    whole = np.concatenate([np.ones(2 * size), np.zeros(printers)])
    answer = milp(
        np.zeros(2 * size + printers),
        integrality=whole,
        bounds=Bounds(low, high),
        constraints=LinearConstraint(np.array(rows), least, most),
        options={"node_limit": 300},
    )
    return int(answer.status) != 2


def _at_most_closed(takes: int, longest: int, shortest_day: int) -> float:
    """The most of a plate's time that can fall where nobody is there."""
    if takes <= longest + shortest_day:
        return float(min(takes, longest))
    return float(takes - shortest_day)


def busy(jobs: Sequence[Job], names: Sequence[str]) -> tuple[tuple[str, float], ...]:
    """Time that each printer prints, allowances in it, s."""
    return tuple((n, sum((j.done - j.begins).total_seconds() for j in jobs if j.printer == n)) for n in names)


def allowances(plates: Sequence[Plate], jobs: Sequence[Job], rate: float) -> tuple[float, float]:
    """All allowances of the jobs that went or go well, and what they would be were failures seen only at the end, s."""
    times = {plate.number: dict(plate.on) for plate in plates}
    good = [job for job in jobs if not job.failed]
    each = [times[job.plate][job.printer] for job in good]
    late = (min(float(time_seen_late(t, min(rate, 600.0 / max(t, 1.0)))) - t, _MOST_ALLOWED) for t in each)
    return sum(job.allowance for job in good), sum(late)


def notes(plates: Sequence[Plate], jobs: Sequence[Job], rate: float) -> tuple[str, ...]:
    """What the maker should know of a plan."""
    said = []
    coupons = {plate.number for plate in plates if plate.coupons}
    off = [job.off for job in jobs if job.plate in coupons and not job.failed]
    if off:
        early = sum(job.begins < max(off) for job in jobs if job.plate not in coupons and not job.failed)
        others = f"{early} other plate{'s begin' if early != 1 else ' begins'}"
        said.append(
            f"The coupons are off on {max(off):%a %d %b at %H:%M}; {others} before that: choose plates without fits, or"
            " wait."
        )
    if rate > 0 and jobs:
        at_once, at_end = (seconds / 3600 for seconds in allowances(plates, jobs, rate))
        said.append(
            f"With {rate * 360000:.3g} failures in 100 hours, {at_once:.0f} h are allowed for printing again what"
            f" failed, each failure seen as it happens; were all seen only at the planned end,"
            f" it would be {at_end:.0f} h."
        )
    times = {plate.number: dict(plate.on) for plate in plates}
    for job in jobs:
        hours = times[job.plate][job.printer] / 3600
        tries = math.exp(min(rate * hours * 3600, 600.0))
        if tries > _OFTEN and not job.failed:
            said.append(
                f"Plate {job.plate} takes {hours:.0f} h and is begun {tries:.3g} times, on"
                " average, before it goes well once: split it, or see to what fails first."
            )
    return tuple(said)


def _minutes(time: float | None, rate: float) -> int:
    """Whole minutes with the allowance, rounded up; -1 where there is no time."""
    return -1 if time is None else max(math.ceil((time + _allowed(time, rate)) / 60 - 1e-9), 1)


def _allowed(time: float, rate: float) -> float:
    """The allowance for failures, s."""
    return min(float(time_with_failures(time, min(rate, 600.0 / max(time, 1.0)))) - time, _MOST_ALLOWED)


def whole_minute(moment: datetime) -> datetime:
    """The moment itself, or the next whole minute."""
    cut = moment.replace(second=0, microsecond=0)
    return cut if cut == moment else cut + timedelta(minutes=1)
