"""Work shared out to other processes of this computer, of which this process does its part."""

from __future__ import annotations

import os
import signal
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

T = TypeVar("T")
R = TypeVar("R")

AHEAD = 3
"""Pieces in flight for each worker: enough that none waits, few enough that memory stays bounded."""

MOST_KEPT = 16
"""Answers that wait for one before them."""

_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMEXPR_NUM_THREADS")


def processors() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def shared(call: Callable[[T], R], pieces: Sequence[T], workers: int) -> Iterator[R]:
    """The answers for all pieces in their order, done by `workers` processes of which this one is the first.

    `call` and the pieces are sent to the others, which are started anew, so that a script needs the usual
    `if __name__ == "__main__"`. The answer for a piece may depend on nothing but the piece.
    """
    if workers < 2 or len(pieces) < 2:
        yield from map(call, pieces)
        return
    from concurrent.futures import Future, ProcessPoolExecutor
    from multiprocessing import get_context

    todo = deque(pieces)
    waiting: deque[tuple[Future[R] | None, list[R]]] = deque()
    others = workers - 1
    with (
        _one_thread_each(),
        ProcessPoolExecutor(others, get_context("spawn"), initializer=_leave_interrupts) as pool,
    ):
        try:
            while todo or waiting:
                while waiting and _done(waiting[0]):
                    yield _answer(waiting.popleft())
                in_flight = sum(not _done(w) for w in waiting)
                if todo and in_flight < AHEAD * others:
                    waiting.append((pool.submit(call, todo.popleft()), []))
                elif todo and len(waiting) < MOST_KEPT + AHEAD * others:
                    waiting.append((None, [call(todo.popleft())]))
                elif waiting:
                    yield _answer(waiting.popleft())
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _done(one: tuple[Any, list[R]]) -> bool:
    return bool(one[1]) or one[0].done()


def _answer(one: tuple[Any, list[R]]) -> R:
    return one[1][0] if one[1] else one[0].result()


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes that are started meanwhile leave their array library to one thread."""
    before = {name: os.environ.get(name) for name in _THREADS}
    os.environ.update(dict.fromkeys(_THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _leave_interrupts() -> None:
    """Ctrl-C is for the process that hands out the work; a worker ends the piece it is at."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
