"""The print plan and the way to the date as drawings, no wider than the text of a page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np

from dryfit.machine.calendar import Calendar, attended, is_working
from dryfit.making.records_plan import Job, Path, Placed, Plate, PrintPlan, Task
from dryfit.views.drawing import Area, Drawing, Line, Mark, Point, Words
from dryfit.views.lettering import fitted, width

WIDE = 178.0
"""Width of all drawings, mm."""
KINDS = (("coupons", "sand"), ("carries", "sky"), ("shows", "pale"))
"""Word and tone of plates with coupons, with what carries, and with what only shows."""

_Across = Callable[[datetime], float]
_AcrossDays = Callable[[date], float]
_COLUMNS, _ROWS = 3, 3
_DAYS_IN_ROW = 12
_TASKS_IN_DRAWING = 34


def kind(plate: Plate) -> int:
    """0 coupons, 1 what carries, 2 what only shows."""
    return 0 if plate.coupons else 1 if plate.structural else 2


def beds_drawings(plan: PrintPlan) -> tuple[Drawing, ...]:
    """Plates on their beds, all to one scale, nine in a drawing, with a list of the numbers on the parts."""
    per = _COLUMNS * _ROWS
    groups = [plan.plates[n : n + per] for n in range(0, len(plan.plates), per)]
    largest = max((max(plate.bed) for plate in plan.plates), default=1.0)
    return tuple(_beds(plan, group, largest) for group in groups)


def _beds(plan: PrintPlan, plates: Sequence[Plate], largest: float) -> Drawing:
    cell = WIDE / _COLUMNS
    scale = (cell - 5.0) / largest
    rows = [plates[n : n + _COLUMNS] for n in range(0, len(plates), _COLUMNS)]
    heights = [max(plate.bed[1] for plate in row) * scale + 13.0 for row in rows]
    used = sorted({placed.printed for plate in plates for placed in plate.placed})
    key, key_height = _key([(f"{n + 1}", plan.printed[n].body.name) for n in used])
    height = sum(heights) + key_height + 4.0
    marks: list[Mark] = []
    top = height
    for row, high in zip(rows, heights, strict=True):
        for column, plate in enumerate(row):
            marks += _bed(plan, plate, column * cell + 1.5, top, cell - 5.0, scale)
        top -= high
    marks += [replace(words, at=(words.at[0], words.at[1] + top - 2.0)) for words in key]
    numbers = f"{plates[0].number} to {plates[-1].number}" if len(plates) > 1 else f"{plates[0].number}"
    note = "; ".join(f"plate {p.number}: {contents(plan, p)}" for p in plates)
    return Drawing(f"Plate{'s' if len(plates) > 1 else ''} {numbers} on the bed", WIDE, height, tuple(marks), note)


def _bed(plan: PrintPlan, plate: Plate, left: float, top: float, wide: float, scale: float) -> list[Mark]:
    word, tone = KINDS[kind(plate)]
    job = next((job for job in plan.jobs if job.plate == plate.number and not job.failed), None)
    where = "not printed" if job is None else f"{job.printer}, {job.begins:%a %d %b %H:%M}"
    hours = dict(plate.on)[job.printer] if job else max((t for _, t in plate.on), default=0.0)
    head = f"{plate.number}  {word}"
    facts = f"{plate.material}, {plate.nozzle * 1e3:g} mm, {hours / 3600:.1f} h, {_mass(plate.mass)}"
    first, first_size = fitted(where, 2.5, wide - width(head, 3.2, True) - 2.0)
    second, second_size = fitted(facts, 2.5, wide)
    bottom = top - 9.0 - plate.bed[1] * scale
    marks: list[Mark] = [
        Words((left, top - 3.6), head, 3.2, strong=True),
        Words((left + wide, top - 3.6), first, first_size, "end"),
        Words((left, top - 7.4), second, second_size),
        Line(_box(left, bottom, plate.bed[0] * scale, plate.bed[1] * scale), 0.35, "grey", closed=True),
    ]
    for placed in plate.placed:
        outline = tuple((left + float(x) * scale, bottom + float(y) * scale) for x, y in placed.covers.outer)
        marks.append(Area(outline, tone=tone, edge=0.25))
    for placed in plate.placed:
        marks.append(_number(placed, left, bottom, scale))
    return marks


def _number(placed: Placed, left: float, bottom: float, scale: float) -> Words:
    x, y = _centre(placed)
    text = f"{placed.printed + 1}"
    room = float(np.ptp(placed.covers.outer, axis=0).min()) * scale
    size = min(3.0, max(1.6, room * 0.6 / max(len(text) * 0.7, 1.0)))
    return Words((left + x * scale, bottom + y * scale - size * 0.36), text, size, "middle")


def _centre(placed: Placed) -> tuple[float, float]:
    """Centre of area of the outline."""
    x, y = placed.covers.outer[:, 0], placed.covers.outer[:, 1]
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    twice = float(cross.sum())
    if abs(twice) < 1e-15:
        return float(x.mean()), float(y.mean())
    middle = (((x + np.roll(x, -1)) * cross).sum() / (3 * twice), ((y + np.roll(y, -1)) * cross).sum() / (3 * twice))
    return float(middle[0]), float(middle[1])


def _key(entries: Sequence[tuple[str, str]]) -> tuple[list[Words], float]:
    """Numbers and names in four columns, growing downwards from y = 0, and how high that is."""
    columns, step, size = 4, 4.2, 2.6
    rows = -(-len(entries) // columns)
    wide = WIDE / columns
    marks: list[Words] = []
    for n, (number, name) in enumerate(entries):
        x, y = (n // rows) * wide + 1.5, -(n % rows + 1) * step
        text, letters = fitted(name, size, wide - 9.0)
        marks += [Words((x + 5.0, y), number, size, "end", strong=True), Words((x + 6.5, y), text, letters)]
    return marks, rows * step + 2.0


def contents(plan: PrintPlan, plate: Plate) -> str:
    """What lies on a plate: "2 petal, base panel"."""
    count: dict[int, int] = {}
    for placed in plate.placed:
        count[placed.printed] = count.get(placed.printed, 0) + 1
    return ", ".join(f"{often} {plan.printed[n].body.name}" if often > 1 else plan.printed[n].body.name
                     for n, often in count.items())  # fmt: skip


def printers_drawings(plan: PrintPlan, calendar: Calendar) -> tuple[Drawing, ...]:
    """Printers over the calendar: nights and days away hatched, jobs as bars with the number of their plate."""
    if not plan.jobs:
        return ()
    first = plan.begins.date()
    last = max(job.off for job in plan.jobs).date()
    days = (last - first).days + 1
    sheets = -(-days // _DAYS_IN_ROW)
    each = -(-days // sheets)
    return tuple(_calendar_sheet(plan, calendar, first + timedelta(days=n * each), max(each, 4)) for n in range(sheets))


def _calendar_sheet(plan: PrintPlan, calendar: Calendar, first: date, days: int) -> Drawing:
    names = list(plan.printers)
    left = min(max(max(width(name, 3.0, True) for name in names) + 3.0, 16.0), 40.0)
    day = (WIDE - left - 2.0) / days
    row, head, foot = 18.0, 9.0, 16.0
    height = head + row * len(names) + foot
    begin = datetime.combine(first, datetime.min.time())
    end = begin + timedelta(days=days)

    def x(moment: datetime) -> float:
        return left + (min(max(moment, begin), end) - begin) / timedelta(days=1) * day

    marks: list[Mark] = []
    for n in range(days):
        at = first + timedelta(days=n)
        label = f"{at:%a} {at.day} {at:%b}" if n == 0 or at.day == 1 else f"{at:%a} {at.day}"
        text, size = fitted(label, 2.6, day - 0.8, least=1.8)
        marks.append(
            Words((left + n * day + 0.6, height - 5.0), text, size, tone="ink" if is_working(calendar, at) else "grey")
        )
    base = foot
    top = height - head
    for opens, closes in _closed(calendar, begin, end):
        marks.append(Area(_box(x(opens), base, x(closes) - x(opens), top - base), tone="paper", hatched=True, edge=0))
    for n in range(days + 1):
        marks.append(Line(((left + n * day, base), (left + n * day, top)), 0.15, "grey"))
    for number, name in enumerate(names):
        low = top - (number + 1) * row
        marks.append(Line(((0.0, low), (WIDE - 2.0, low)), 0.2, "ink"))
        text, size = fitted(name, 3.0, left - 2.0, True)
        marks.append(Words((0.5, low + row / 2 - 1.0), text, size, strong=True))
        jobs = [job for job in plan.jobs if job.printer == name and job.off > begin and job.begins < end]
        marks += _jobs(plan, jobs, low, x)
    marks.append(Line(((0.0, top), (WIDE - 2.0, top)), 0.2, "ink"))
    marks += _finish(plan, begin, end, base, top, x)
    marks += _meaning()
    note = "; ".join(
        f"plate {job.plate} on {job.printer} from {job.begins:%d %b %H:%M} to {job.off:%d %b %H:%M}"
        for job in plan.jobs
    )
    until = first + timedelta(days=days - 1)
    title = f"Printers from {first.day} {first:%b} to {until.day} {until:%b %Y}"
    return Drawing(title, WIDE, height, tuple(marks), note)


def _jobs(plan: PrintPlan, jobs: Sequence[Job], low: float, x: _Across) -> list[Mark]:
    """Bars of one printer: what it takes, the allowance in white, a line until it comes off; narrow bars have their
    number above, at two heights in turn."""
    marks: list[Mark] = []
    plates = {plate.number: plate for plate in plan.plates}
    reached = [-1.0, -1.0]
    for job in jobs:
        bottom, high = low + 3.0, 7.0
        done = job.done - timedelta(seconds=job.allowance)
        tone = KINDS[kind(plates[job.plate])][1]
        if job.failed:
            marks.append(Area(_box(x(job.begins), bottom, max(x(job.done) - x(job.begins), 0.4), high), tone="paper"))
            a, b = x(job.begins), max(x(job.done), x(job.begins) + 0.4)
            marks += [Line(((a, bottom), (b, bottom + high)), 0.4, "rust"),
                      Line(((a, bottom + high), (b, bottom)), 0.4, "rust")]  # fmt: skip
        else:
            if x(job.off) > x(job.done):
                y = bottom + high / 2
                marks.append(Line(((x(job.done), y), (x(job.off), y)), 0.5, "ink"))
            marks.append(Area(_box(x(job.begins), bottom, max(x(job.done) - x(job.begins), 0.4), high), tone="paper"))
            marks.append(Area(_box(x(job.begins), bottom, max(x(done) - x(job.begins), 0.4), high), tone=tone))
        text = f"{job.plate}"
        wide = width(text, 2.8, True)
        bar = x(job.done) - x(job.begins)
        if bar >= wide + 0.6 and not job.failed:
            marks.append(Words(((x(job.begins) + x(job.done)) / 2, bottom + 2.5), text, 2.8, "middle", strong=True))
        else:
            middle = (x(job.begins) + x(job.done)) / 2
            level = 0 if middle - wide / 2 > reached[0] + 0.4 else 1
            y = bottom + high + 0.7 + 2.8 * level
            marks.append(Words((middle, y), text, 2.4, "middle", strong=True))
            reached[level] = middle + wide / 2
    return marks


def _finish(plan: PrintPlan, begin: datetime, end: datetime, base: float, top: float, x: _Across) -> list[Mark]:
    """When all is off, and the bound, as far as they lie on this sheet."""
    marks: list[Mark] = []
    all_off = "what can be printed is off" if plan.left else "all off"
    words = f"{all_off} {plan.finish:%a} {plan.finish.day} {plan.finish:%b %H:%M}"
    said: list[tuple[datetime, str, float, tuple[float, ...]]] = [
        (plan.finish, words + ("; no plan is done sooner" if plan.exact else ""), 0.6, ())
    ]
    if not plan.exact:
        words = f"no plan is done before {plan.bound:%a} {plan.bound.day} {plan.bound:%b %H:%M}"
        said.append((plan.bound, words, 0.4, (1.2, 0.8)))
    # the earlier moment has the upper label, so that no line runs through a label to its left
    labels: list[Mark] = []
    for level, (moment, words, weight, dash) in enumerate(reversed(said)):
        if not begin <= moment <= end:
            continue
        at, y, wide = x(moment), base - 3.4 - 3.4 * level, width(words, 2.6)
        marks.append(Line(((at, y - 0.6), (at, top)), weight, "rust", dash))
        left = at - wide - 1.0
        if left < 0:
            left = min(at + 1.0, WIDE - 2.0 - wide)
            labels.append(Area(_box(left, y - 0.7, wide, 3.2), tone="paper", edge=0))
        labels.append(Words((left, y), words, 2.6))
    return marks + labels


def _meaning() -> list[Mark]:
    """What bars and hatching mean, along the foot."""
    marks: list[Mark] = []
    at = 0.5
    for words, tone, hatched in (
        *((word, tone, False) for word, tone in KINDS),
        ("allowance for failures", "paper", False), ("nobody is there", "paper", True),
    ):  # fmt: skip
        marks.append(Area(_box(at, 1.2, 5.0, 3.0), tone=tone, hatched=hatched, edge=0.2))
        marks.append(Words((at + 6.0, 1.6), words, 2.6))
        at += 9.0 + width(words, 2.6)
    marks.append(Line(((at, 2.7), (at + 5.0, 2.7)), 0.5))
    marks.append(Words((at + 6.0, 1.6), "waits to come off", 2.6))
    at += 9.0 + width("waits to come off", 2.6)
    marks += [Line(((at, 1.2), (at + 4.0, 4.2)), 0.4, "rust"), Line(((at, 4.2), (at + 4.0, 1.2)), 0.4, "rust")]
    marks.append(Words((at + 5.0, 1.6), "failed", 2.6))
    return marks


def _closed(calendar: Calendar, begin: datetime, end: datetime) -> list[tuple[datetime, datetime]]:
    """Spells in which nobody is there."""
    found, at = [], begin
    while at < end:
        opens = attended(calendar, at)
        if opens > at:
            found.append((at, min(opens, end)))
        at = datetime.combine(opens.date(), calendar.closes) + timedelta(minutes=1)
    return found


def path_drawings(path: Path) -> tuple[Drawing, ...]:
    """The way to the date: a row for each task, its slack as a thin line, tasks without slack in rust with a heavy edge
    and the words beside them."""
    tasks = path.tasks
    groups = [tasks[n : n + _TASKS_IN_DRAWING] for n in range(0, len(tasks), _TASKS_IN_DRAWING)]
    return tuple(_path_sheet(path, group, n, len(groups)) for n, group in enumerate(groups))


def _path_sheet(path: Path, tasks: Sequence[Task], sheet: int, sheets: int) -> Drawing:
    left, right, row, head, foot = 58.0, 25.0, 5.6, 9.5, 8.0
    height = head + row * len(tasks) + foot
    first = min(task.begins for task in path.tasks)
    last = max(max(task.latest, task.ends) for task in path.tasks)
    length = (last - first).days + 1
    shown = path.delivery is not None and -3 <= (path.delivery - first).days <= 2 * length + 14
    if shown and path.delivery is not None:
        first, last = min(first, path.delivery), max(last, path.delivery)
    days = (last - first).days + 2
    day = (WIDE - left - right) / days

    def x(at: date) -> float:
        return left + (at - first).days * day

    top = height - head
    marks: list[Mark] = []
    monday = first + timedelta(days=-first.weekday() % 7)
    step = next((n for n in (1, 2, 4, 8, 16, 32) if n * 7 * day >= 13.0), 64)
    while monday <= last:
        marks.append(Line(((x(monday), foot), (x(monday), top)), 0.15, "grey"))
        if x(monday) + 11.0 < WIDE - right + 3.0:
            marks.append(Words((x(monday), top + 1.6), f"{monday.day} {monday:%b}", 2.6))
        monday += timedelta(days=7 * step)
    for n, task in enumerate(tasks):
        marks += _task(task, top - (n + 1) * row, row, left, right, x, day)
    if path.delivery is not None and shown:
        late = path.late > 0
        at = x(path.delivery) + day
        marks.append(Line(((at, foot - 1.0), (at, top)), 0.6, "ink", (2.0, 1.0)))
        words = f"delivery {path.delivery.day} {path.delivery:%b %Y}"
        marks.append(Words((min(at, WIDE - 1.0), top + 5.4), words, 2.6, "end" if at > WIDE / 2 else "start",
                           strong=True))  # fmt: skip
        if late:
            marks.append(Words((WIDE - 1.0, 1.6), f"{path.late} working days late", 3.0, "end", "rust", True))
    elif path.delivery is not None:
        words = f"delivery {path.delivery.day} {path.delivery:%b %Y}, beyond this drawing"
        marks.append(Words((WIDE - 1.0, top + 5.4), words, 2.6, "end", strong=True))
    marks += _path_meaning()
    part = f" ({sheet + 1} of {sheets})" if sheets > 1 else ""
    note = "; ".join(f"{t.name}: {t.begins} to {t.ends}, slack {t.slack} days" for t in tasks)
    return Drawing(f"The way to the date{part}", WIDE, height, tuple(marks), note)


def _task(task: Task, low: float, row: float, left: float, right: float, x: _AcrossDays, day: float) -> list[Mark]:
    """One row: name, bar, slack."""
    name, size = fitted(task.name, 2.8, left - 2.0, task.critical, least=2.2)
    begin, end = x(task.begins), x(task.ends) + day
    middle = low + row / 2
    marks: list[Mark] = [
        Words((left - 1.5, middle - 1.0), name, size, "end", strong=task.critical),
        Line(((left, low), (WIDE - right, low)), 0.1, "pale"),
    ]
    until = x(task.latest) + day
    if until > end:
        marks += [
            Line(((end, middle), (until, middle)), 0.3, "grey"),
            Line(((until, middle - 0.9), (until, middle + 0.9)), 0.3, "grey"),
        ]
    if task.critical:
        marks.append(Area(_box(begin, low + 1.1, end - begin, row - 2.2), tone="rust", edge=0.6))
    else:
        marks.append(Area(_box(begin, low + 1.1, end - begin, row - 2.2), tone="sky", edge=0.2))
    if task.lead:
        # waiting for a parcel is not work: half the height is left white
        marks.append(Area(_box(begin, middle, end - begin, row / 2 - 1.1), tone="paper", edge=0.2))
    words = "no slack" if task.critical else f"{task.slack} day{'' if task.slack == 1 else 's'} slack"
    marks.append(Words((WIDE - 1.0, middle - 0.9), words, 2.5, "end", strong=task.critical))
    return marks


def _path_meaning() -> list[Mark]:
    y = 1.4
    return [
        Area(_box(0.5, y, 6.0, 3.0), tone="rust", edge=0.6), Words((7.5, y + 0.5), "no day to lose", 2.6),
        Area(_box(34.0, y, 6.0, 3.0), tone="sky", edge=0.2), Words((41.0, y + 0.5), "work", 2.6),
        Area(_box(54.0, y, 6.0, 3.0), tone="sky", edge=0.2),
        Area(_box(54.0, y + 1.5, 6.0, 1.5), tone="paper", edge=0.2), Words((61.0, y + 0.5), "order on its way", 2.6),
        Line(((90.0, y + 1.5), (98.0, y + 1.5)), 0.3, "grey"), Line(((98.0, y + 0.6), (98.0, y + 2.4)), 0.3, "grey"),
        Words((99.5, y + 0.5), "may end as late as this", 2.6),
    ]  # fmt: skip


def _box(left: float, bottom: float, wide: float, high: float) -> tuple[Point, ...]:
    return ((left, bottom), (left + wide, bottom), (left + wide, bottom + high), (left, bottom + high))


def _mass(mass: float) -> str:
    return f"{mass:.2f} kg" if mass >= 1 else f"{mass * 1e3:.0f} g"
