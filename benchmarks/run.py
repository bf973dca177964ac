"""Speed and size, as ratios measured in one run: `make bench`.

Baselines are measured beside the figure they are set against: the batch of machines against the loop over single ones,
the cold command against starting the interpreter with numpy alone.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from dryfit.assess.assess import assess
from dryfit.design.read import read_design
from dryfit.design.records import Design
from dryfit.design.values import value_at, with_values
from dryfit.ground.findings import Finding
from dryfit.jobs.check import example
from dryfit.machine.machine import resolve

MANY = 10_000
LOOPED = 60
VARIED = ("brief.speed", "base.motor.stall_torque", "base.wheels.circle_radius", "brief.slope", "base.wheels.diameter")


def main() -> None:
    """Print every figure with its baseline."""
    print(f"numpy {np.__version__}, Python {sys.version.split()[0]}")
    _warm()
    _many()
    _cold()


def _warm() -> None:
    file = example("sunbloom")
    machine = resolve(read_design(file), file)
    assess(machine)
    seconds = _best(lambda: assess(machine), 20)
    print(f"assess of one machine, warm              {1e3 * seconds:8.1f} ms")


def _many() -> None:
    file = example("sunbloom")
    design = read_design(file)
    generator = np.random.default_rng(1)
    factors = {path: 1 + 0.1 * (generator.random(MANY) - 0.5) for path in VARIED}
    base = {path: _si(design, path) for path in VARIED}
    together = with_values(design, {path: base[path] * factors[path] for path in VARIED})

    def batch() -> tuple[Finding, ...]:
        return assess(resolve(together, file)).findings

    def single(i: int) -> tuple[Finding, ...]:
        alone = with_values(design, {path: float(base[path] * factors[path][i]) for path in VARIED})
        return assess(resolve(alone, file)).findings

    start = time.perf_counter()
    found = batch()
    batch_seconds = (time.perf_counter() - start) / MANY
    start = time.perf_counter()
    looped = [single(i) for i in range(LOOPED)]
    loop_seconds = (time.perf_counter() - start) / LOOPED
    worst = max(_difference(many, [one[k] for one in looped]) for k, many in enumerate(found))
    print(f"one machine in a loop, read from records {1e3 * loop_seconds:8.1f} ms")
    print(f"one machine of {MANY:,} at once          {1e3 * batch_seconds:8.4f} ms")
    print(f"ratio loop / at once                     {loop_seconds / batch_seconds:8.0f} times")
    print(f"largest difference of a margin           {worst:8.1e}")


def _difference(many: Finding, ones: list[Finding]) -> float:
    together = np.broadcast_to(many.margin, (MANY,))[:LOOPED]
    alone = np.array([float(f.margin) for f in ones])
    return float(np.nanmax(np.abs(together - alone), initial=0.0))


def _si(design: Design, path: str) -> float:
    value = value_at(design, path)
    if value is None:
        raise KeyError(path)
    return float(value.si)


def _cold() -> None:
    command = [str(Path(sys.executable).with_name("dryfit")), "check", str(example("sunbloom"))]
    bare = [sys.executable, "-c", "import numpy"]
    cold, floor = (_best(lambda c=c: subprocess.run(c, capture_output=True, check=False), 5) for c in (command, bare))
    print(f"dryfit check, cold                       {cold:8.2f} s  ({cold / floor:.1f} times python with numpy alone)")
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"peak memory of a check                   {peak:8.0f} MB")


def _best(call: Callable[[], object], times: int) -> float:
    """Shortest of several runs, s: the machine's noise only ever adds."""
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


if __name__ == "__main__":
    main()
