"""Many solids sliced, by several processes of this computer where there is so much that starting them pays."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence

from dryfit.machine.printing import How
from dryfit.making.records_solids import Solid
from dryfit.making.slicing import Layers, SlicingError, sliced

MANY = 150_000
"""Triangles from which on other processes help: below, they would start for longer than they work."""

Job = tuple[Solid, How]


def sliced_many(jobs: Sequence[Job], processors: int | None = None) -> Iterator[Layers | SlicingError]:
    """The layers of every solid in order, or what is wrong with it. Results do not depend on the processes."""
    workers = min(_processors() if processors is None else processors, len(jobs))
    if workers < 2 or sum(len(solid.faces) for solid, _ in jobs) < MANY:
        yield from map(one, jobs)
        return
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    done = 0
    try:
        with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
            for layers in pool.map(one, jobs):
                yield layers
                done += 1
    except BrokenProcessPool:
        # a script without the usual guard, or too little memory: the rest is done here
        yield from map(one, jobs[done:])


def one(job: Job) -> Layers | SlicingError:
    """The layers of one solid, or what is wrong with it."""
    try:
        return sliced(*job)
    except SlicingError as wrong:
        return wrong


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
