"""The blocks of a sweep on an existing cluster of computers, through its scheduler's address."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from typing import Any

from dryfit.ground.errors import DesignError, Fault
from dryfit.studies import tally
from dryfit.studies.blocks_of_machines import Work, block_count
from dryfit.studies.processes import AHEAD
from dryfit.studies.sweep import Block, Runner

WAIT = 10.0
"""Seconds that a scheduler has to answer."""


def on_cluster(address: str) -> Runner:
    """A runner that has the blocks done by the workers of a scheduler ("tcp://192.168.1.20:8786").

    A worker that is lost loses no machine: its blocks are done again by another. Raises DesignError where the library
    is missing, the scheduler does not answer, or it has no worker.
    """
    try:
        import distributed
    except ImportError:
        raise _trouble(address, "needs the library for it", "pip install 'dryfit[cluster]'") from None
    try:
        client: Any = distributed.Client(address, timeout=WAIT, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError):
        raise _trouble(address, "no scheduler answers there", "an address such as tcp://192.168.1.20:8786") from None

    def runner(work: Work) -> Iterator[Block]:
        with client:
            threads = sum(client.nthreads().values())
            if not threads:
                raise _trouble(address, "the scheduler has no worker", "at least one worker with dryfit installed")

            def submit(number: int) -> Any:
                # a worker may be lost while it has a block, and that may happen more often than the library expects
                return client.submit(tally.block, work, number, pure=False, retries=3)

            yield from _in_order(block_count(work.plan), AHEAD * threads, submit)

    return runner


def _in_order(count: int, ahead: int, submit: Callable[[int], Any]) -> Iterator[Block]:
    """Results of blocks in the order of their numbers, with at most `ahead` of them under way."""
    waiting: deque[Any] = deque()
    for number in range(count):
        if len(waiting) >= ahead:
            yield waiting.popleft().result()
        waiting.append(submit(number))
    while waiting:
        yield waiting.popleft().result()


def _trouble(address: str, message: str, accepted: str) -> DesignError:
    return DesignError([Fault("--cluster", 0, address, message, accepted=accepted)])
