"""One block of the machines of a sweep: put together, assessed, counted. What comes out depends on the plan and on the
numbers of the machines only, so that it is the same wherever it was done.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any
from uuid import uuid4

import numpy as np

from dryfit.assess.assess import assess
from dryfit.ground.errors import DesignError, DryfitError, OneNumberError
from dryfit.ground.quantity import Array, Value
from dryfit.machine.machine import Machine
from dryfit.machine.stack import alike, stacked
from dryfit.studies.many import Build, Evaluate, Found, Levels
from dryfit.studies.quantities import Asked, all_margins, values
from dryfit.studies.records_sweep import Numbers, Plan, Rows

BLOCK = 32_768
"""Machines of a block: seconds of work at most, so that a bar moves and little is lost when one is stopped."""

COMBINATIONS = 32
"""Combinations of rows, words and counts in a block, and with few machines of each, what is put together singly."""

SINGLY = 256
"""Machines of a block that are put together one by one."""

FEW = 6
"""With fewer machines of each combination it is quicker to put them together one by one and lay them side by side."""

Answer = Callable[[Levels, int, int], Found]


@dataclass(frozen=True)
class Work:
    """What a worker has to know to do any block of a sweep.

    rows: how many of the best to remember.  send: whether the machines themselves are wanted, for a file.
    draw: whether what a chart shows is gathered.  answer: how machines are assessed; changed in tests.
    key: the same for all copies of one work that are sent about, by which they are known.
    """

    plan: Plan = field(compare=False)
    build: Build = field(compare=False)
    rows: int = field(compare=False)
    send: bool = field(default=False, compare=False)
    draw: bool = field(default=False, compare=False)
    answer: Callable[[Build, tuple[Asked, ...], Mapping[str, Value | None]], Evaluate] = field(
        default=Evaluate, compare=False
    )
    key: str = field(default_factory=lambda: uuid4().hex)


@dataclass(frozen=True, eq=False)
class Assessed:
    """The machines of a block, and how often each check was short where that was asked for.
    sound: no check is short, (n,)."""

    rows: Rows
    short: Mapping[str, int]
    sound: Any


def one_by_one(plan: Plan) -> bool:
    """Whether every machine of a plan is put together by itself."""
    return plan.inner < FEW


def block_size(plan: Plan) -> int:
    """How many machines a block has; only the last one may have fewer."""
    if one_by_one(plan):
        return SINGLY
    if plan.inner >= BLOCK:
        return BLOCK
    return min(COMBINATIONS, BLOCK // plan.inner) * plan.inner


def block_count(plan: Plan) -> int:
    """How many blocks a sweep has."""
    return -(-plan.count // block_size(plan))


def assessed(work: Work, block: int) -> Assessed:
    """The machines of one block with the quantities that were asked for; nothing is kept or left out yet."""
    plan = work.plan
    size = block_size(plan)
    numbers = np.arange(block * size, min((block + 1) * size, plan.count), dtype=np.int64)
    places = plan.places(numbers)
    out = np.empty((len(numbers), len(plan.columns)))
    sound = np.ones(len(numbers), dtype=bool)
    impossible: dict[int, str] = {}
    short: dict[str, int] = {}
    for column, axis in enumerate(plan.column_axes, start=plan.from_report):
        out[:, column] = plan.axes[axis].si[places[axis]]
    for start, stop in _runs(plan, numbers):
        here = [p[start:stop] for p in places]
        found, checks = _combination(work, here, int(numbers[start]))
        out[start:stop, : plan.from_report] = found.values[:, : plan.from_report]
        for row, why in found.impossible.items():
            impossible[start + row] = why
        if _wants_all(plan):
            _count_short(found.values[:, plan.from_report :], checks, found.impossible, short)
            sound[start:stop] = np.all(found.values[:, plan.from_report :] >= 0, axis=1)
    return Assessed(Rows(numbers, out, np.ones(len(numbers), dtype=bool), impossible), short, sound)


def _wants_all(plan: Plan) -> bool:
    return any(c.column < 0 for c in plan.conditions)


def _runs(plan: Plan, numbers: Numbers) -> list[tuple[int, int]]:
    """Stretches of a block that have the same rows, words and shaping counts; the whole where that does not matter."""
    if one_by_one(plan):
        return [(0, len(numbers))]
    combination = numbers // plan.inner
    cuts = np.flatnonzero(np.diff(combination)) + 1
    edges = [0, *(int(c) for c in cuts), len(numbers)]
    return list(pairwise(edges))


def _combination(work: Work, places: list[Any], first: int) -> tuple[Found, tuple[Asked, ...]]:
    plan = work.plan
    if one_by_one(plan):
        return _singly(work, places)
    combination, start = divmod(first, plan.inner)
    levels = [(plan.axes[i].paths, plan.axes[i].si) for i in plan.order if plan.axes[i].together]
    try:
        answer, checks = _answer(work, combination)
        return answer(levels, start, start + len(places[0])), checks
    except OneNumberError:
        return _singly(work, places)


@lru_cache(maxsize=16)
def _answer(work: Work, combination: int) -> tuple[Answer, tuple[Asked, ...]]:
    """How the machines of a combination are assessed, and the checks that are asked besides what the plan asks."""
    plan = work.plan
    first = combination * plan.inner
    checks = _checks(work, first, first + plan.inner) if _wants_all(plan) else ()
    fixed = settings(plan, _places(plan, first), singly=False)
    return work.answer(work.build, (*plan.columns[: plan.from_report], *checks), fixed).grid, checks


def _checks(work: Work, first: int, last: int) -> tuple[Asked, ...]:
    """The margins of all checks that machines of a combination have, read from the first one that can be."""
    for number in range(first, last, max(1, (last - first) // 8)):
        try:
            return all_margins(assess(work.build(settings(work.plan, _places(work.plan, number)))))
        except DryfitError:
            continue
    return ()


def _places(plan: Plan, number: int) -> list[int]:
    return [int(p[0]) for p in plan.places(np.array([number]))]


def settings(plan: Plan, places: list[int], singly: bool = True) -> dict[str, Value | None]:
    """What differs from the design in one machine, by path; singly False: only what is not varied as an array."""
    found: dict[str, Value | None] = dict(plan.fixed)
    for axis, place in zip(plan.axes, places, strict=True):
        if axis.together and not singly:
            continue
        for path in axis.paths:
            found[path] = float(axis.si[place]) if axis.numeric else axis.texts[place]
        if axis.left_out:
            found.update(dict.fromkeys(axis.left_out[place]))
    return found


def _singly(work: Work, places: list[Any]) -> tuple[Found, tuple[Asked, ...]]:
    """Machines put together one by one; those of the same shape are assessed side by side."""
    plan = work.plan
    count = len(places[0])
    machines: list[Machine] = []
    rows: list[int] = []
    impossible: dict[int, str] = {}
    for row in range(count):
        try:
            machines.append(work.build(settings(plan, [int(p[row]) for p in places])))
            rows.append(row)
        except DryfitError as wrong:
            impossible[row] = wrong.faults[0].message if isinstance(wrong, DesignError) else str(wrong)
    wanted = plan.columns[: plan.from_report]
    parts = []
    for group in alike(machines):
        report = assess(stacked([machines[i] for i in group]))
        checks = all_margins(report) if _wants_all(plan) else ()
        parts.append(([rows[i] for i in group], values(report, (*wanted, *checks), len(group)), checks))
    names = {c.check: c for _, _, checks in parts for c in checks}
    # a check that some machines do not have cannot be short in them
    out = np.full((count, len(wanted) + len(names)), np.nan)
    out[:, len(wanted) :] = np.inf
    for place, found, checks in parts:
        at = [*range(len(wanted)), *(len(wanted) + list(names).index(c.check) for c in checks)]
        out[np.ix_(place, at)] = found
    out[list(impossible)] = np.nan
    return Found(out, impossible), tuple(names.values())


def _count_short(
    margins: Array, checks: tuple[Asked, ...], impossible: Mapping[int, str], short: dict[str, int]
) -> None:
    bad = ~(margins >= 0)
    bad[list(impossible)] = False
    for check, often in zip(checks, np.count_nonzero(bad, axis=0), strict=True):
        if often:
            short[check.check] = short.get(check.check, 0) + int(often)


def kept_only(rows: Rows) -> Rows:
    """The kept ones of some machines."""
    return replace(
        rows, numbers=rows.numbers[rows.kept], values=rows.values[rows.kept], kept=rows.kept[rows.kept], impossible={}
    )
