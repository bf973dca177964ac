"""Very many machines: block by block, here or in several processes, and what was left of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from time import perf_counter

import numpy as np

from dryfit.assess.assess import assess
from dryfit.assess.report import Report
from dryfit.ground.findings import Finding, State, state
from dryfit.ground.quantity import Array
from dryfit.machine.machine import Machine
from dryfit.studies import tally
from dryfit.studies.blocks_of_machines import Work, block_count, settings
from dryfit.studies.front import spread_out
from dryfit.studies.processes import processors, shared
from dryfit.studies.quantities import values
from dryfit.studies.records_sweep import Change, Plan, Rows, Swept, Tally, Told

Block = tuple[Tally, Rows | None]
Runner = Callable[[Work], Iterator[Block]]
"""Does all blocks of a sweep and yields them in their order."""

WORTH = 8.0
"""Seconds of work left from which on other processes pay: starting them takes about two."""


def run(
    work: Work,
    name: str,
    design: Machine,
    report: Report,
    *,
    runner: Runner | None = None,
    sink: Callable[[Rows], None] | None = None,
    on_progress: Callable[[int, int], None] | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> Swept:
    """Run a sweep. design, report: the machine of the design file as it is, and what is found of it.

    runner: where the blocks are done; here, or in as many processes as there are processors where that pays.
    sink: takes the machines (of those kept, where there are conditions) in the order of their numbers.
    on_progress: told after every block how many machines are done, and of how many.  stop: asked after every block;
    what was done until then is the answer. A KeyboardInterrupt ends it in the same way.
    """
    plan = work.plan
    found = tally.nothing(work)
    blocks = (runner or where_it_pays(processors()))(work)
    stopped = False
    try:
        for block, rows in blocks:
            found = tally.joined(plan, found, block, work.rows)
            if sink is not None and rows is not None:
                sink(rows)
            if on_progress is not None:
                on_progress(found.machines, plan.count)
            if found.machines < plan.count and stop():
                stopped = True
                break
    except KeyboardInterrupt:
        stopped = True
    finally:
        close = getattr(blocks, "close", None)
        if close is not None:
            close()
    chosen = found.best
    if len(plan.goals) > 1:
        places = spread_out(len(found.front.numbers), work.rows)
        chosen = Rows(found.front.numbers[places], found.front.values[places], found.front.kept[places])
    return Swept(name, plan, found, told(work, chosen, report), of_design(plan, design, report), stopped)


def here(work: Work) -> Iterator[Block]:
    """One block after the other, in this process."""
    for number in range(block_count(work.plan)):
        yield tally.block(work, number)


def where_it_pays(workers: int) -> Runner:
    """A runner that begins here and, where much is left after two blocks, shares the rest with other processes, up to
    `workers` in all and no more than have something to do.

    A block is the same wherever it is done, so the result does not hang on the clock."""

    def runner(work: Work) -> Iterator[Block]:
        count = block_count(work.plan)
        for number in range(count):
            began = perf_counter()
            done = tally.block(work, number)
            left = (perf_counter() - began) * (count - number - 1)
            yield done
            if workers > 1 and number and left > WORTH:
                yield from in_processes(min(workers, 1 + int(left / WORTH)), first=number + 1)(work)
                return

    return runner


def in_processes(workers: int, first: int = 0) -> Runner:
    """A runner with other processes besides this one, from a block on."""

    def runner(work: Work) -> Iterator[Block]:
        yield from shared(partial(tally.block, work), range(first, block_count(work.plan)), workers)

    return runner


def of_design(plan: Plan, machine: Machine, report: Report) -> Told:
    """The design as it is, with the quantities that are asked of the others."""
    found = np.full(len(plan.columns), np.nan)
    found[: plan.from_report] = values(report, plan.columns[: plan.from_report], 1)[0]
    for column, axis in enumerate(plan.column_axes, start=plan.from_report):
        value = np.asarray(machine.values.get(plan.axes[axis].paths[0], np.nan), dtype=float)
        found[column] = float(value) if value.ndim == 0 else np.nan
    return _told(-1, found, report, ())


def told(work: Work, rows: Rows, report: Report) -> tuple[Told, ...]:
    """The machines of the table, each assessed once more by itself: what is short, and what is other than before."""
    before = {f.check: f for f in report.findings}
    found = []
    for row, number in enumerate(rows.numbers):
        places = [int(p[0]) for p in work.plan.places(np.array([number]))]
        one = assess(work.build(settings(work.plan, places)))
        changes = (_change(before.get(f.check), f) for f in one.findings)
        found.append(_told(int(number), rows.values[row], one, tuple(c for c in changes if c is not None)))
    return tuple(found)


def _told(number: int, row: Array, report: Report, changes: tuple[Change, ...]) -> Told:
    by_state = {s: tuple(f.check for f in report.findings if state(f) is s) for s in State}
    return Told(number, row, by_state[State.SHORT], by_state[State.UNKNOWN], by_state[State.TIGHT], changes)


def _change(before: Finding | None, after: Finding) -> Change | None:
    if before is None:
        if state(after) is State.HOLDS:
            return None
        return Change(after.check, after.title, "", state(after).value, float("nan"), float(after.margin))
    if state(before) is state(after):
        return None
    margins = float(before.margin), float(after.margin)
    return Change(after.check, after.title, state(before).value, state(after).value, *margins)
