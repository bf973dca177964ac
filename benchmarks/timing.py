"""How the benchmarks time a call and print a figure."""

from __future__ import annotations

import time
from collections.abc import Callable


def row(name: str, value: str, remark: str = "") -> None:
    """One figure, with what is to be said of it."""
    print(f"  {name:<52} {value:>12}   {remark}".rstrip())


def best(call: Callable[[], object], times: int) -> float:
    """Shortest of several runs, s."""
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        seconds.append(time.perf_counter() - start)
    return min(seconds)
