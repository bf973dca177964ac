"""Speed and size, as ratios measured in one run: `make bench`.

Every baseline is measured beside the figure that is set against it: many machines at once against the loop over single
ones, the cold command against starting the interpreter with numpy alone. Times are the shortest of several runs, since
a busy computer only ever adds. Peak memory is read first, from a child that has nothing of this process.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import book
import numpy as np
import plates
import slicing
import sweeps
from timing import best, row

from dryfit.assess import assess as assessment
from dryfit.design.read import read_design
from dryfit.design.records import Design
from dryfit.design.values import value_at, with_values
from dryfit.ground.findings import Finding
from dryfit.jobs.check import example
from dryfit.machine.machine import Machine, resolve

MANY, LOOPED, REPEATS = 10_000, 60, 5
VARIED = ("brief.speed", "base.motor.stall_torque", "base.wheels.circle_radius", "brief.slope", "base.wheels.diameter")
ASKED = {"cold": 1.0, "memory": 250, "warm": 20, "ratio": 200}
"""What is asked for: s, MB, ms, times."""


def main() -> None:
    """Print every figure with its baseline and what is asked of it."""
    print(f"numpy {np.__version__}, Python {sys.version.split()[0]}; the demo machine, sunbloom\n")
    _cold()
    file = example("sunbloom")
    design = read_design(file)
    _warm(design, file)
    _many(design, file)
    sweeps.main()
    slicing.main()
    plates.main()
    book.main()


def _cold() -> None:
    command = [str(Path(sys.executable).with_name("dryfit")), "check", str(example("sunbloom"))]
    bare = [sys.executable, "-c", "import numpy"]
    subprocess.run(command, capture_output=True, check=False)
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    cold, floor = (
        best(lambda c=c: subprocess.run(c, capture_output=True, check=False), REPEATS) for c in (command, bare)
    )
    print("one check from the command line")
    row("dryfit check, cold", f"{cold:.2f} s", f"asked: {ASKED['cold']} s; {cold / floor:.1f} × python with numpy")
    row("python with numpy alone", f"{floor:.2f} s")
    row("peak memory", f"{peak:.0f} MB", f"asked: {ASKED['memory']} MB")


def _warm(design: Design, file: Path) -> None:
    machine = resolve(design, file)
    assessment.assess(machine)
    print("\none machine, everything loaded")
    row("read the design file", f"{1e3 * best(lambda: read_design(file), REPEATS):.1f} ms")
    row("put the machine together", f"{1e3 * best(lambda: resolve(design, file), 20):.1f} ms")
    seconds = best(lambda: assessment.assess(machine), 20)
    row("assess", f"{1e3 * seconds:.1f} ms", f"asked: {ASKED['warm']} ms")


def _many(design: Design, file: Path) -> None:
    generator = np.random.default_rng(1)
    base = {path: _si(design, path) for path in VARIED}
    values = {path: base[path] * (1 + 0.1 * (generator.random(MANY) - 0.5)) for path in VARIED}
    together = with_values(design, dict(values))
    alone = [with_values(design, {path: float(v[i]) for path, v in values.items()}) for i in range(LOOPED)]

    many, singles = resolve(together, file), [resolve(d, file) for d in alone]
    found = assessment.assess(many).findings
    looped = [assessment.assess(m).findings for m in singles]
    worst = max(_difference(one, [f[k] for f in looped]) for k, one in enumerate(found))

    batch = best(lambda: assessment.assess(many), 3) / MANY
    loop = best(lambda: [assessment.assess(m) for m in singles], 3) / LOOPED
    batch_both = best(lambda: assessment.assess(resolve(together, file)), 3) / MANY
    loop_both = best(lambda: [assessment.assess(resolve(d, file)) for d in alone], 3) / LOOPED
    print(f"\n{MANY:,} machines at once, {len(VARIED)} numbers varied, against a loop over {LOOPED} of them; a machine")
    row("assess, in the loop", f"{1e3 * loop:.2f} ms")
    row("assess, all at once", f"{1e3 * batch:.4f} ms", f"{loop / batch:.0f} times faster")
    row("put together and assess, in the loop", f"{1e3 * loop_both:.2f} ms")
    row("put together and assess, all at once", f"{1e3 * batch_both:.4f} ms",
         f"{loop_both / batch_both:.0f} times faster; asked: {ASKED['ratio']}")  # fmt: skip
    row(
        "largest difference, demand, capacity, margin",
        f"{worst:.1e}",
        "relative to the larger of the two; asked: 1e-12",
    )
    _trades(many, singles[0])


def _trades(many: Machine, single: Machine) -> None:
    """Each trade's share, measured at the calls by which `assess` hands results on."""
    ones, batch = _by_trade(single, 20), _by_trade(many, 3)
    print("\nby trade                 one machine     at once, a machine      times faster")
    for name, seconds in sorted(batch.items(), key=lambda item: -item[1]):
        each = seconds / MANY
        print(f"  {name:<20} {1e3 * ones[name]:10.2f} ms {1e6 * each:15.2f} µs {ones[name] / each:17.0f}")


def _by_trade(machine: Machine, times: int) -> dict[str, float]:
    best: dict[str, float] = {}
    for _ in range(times):
        spent: dict[str, float] = {}
        with _timed(spent):
            assessment.assess(machine)
        best = {name: min(seconds, best.get(name, seconds)) for name, seconds in spent.items()}
    return best


@contextmanager
def _timed(spent: dict[str, float]) -> Iterator[None]:
    """Time every trade's function while `assess` runs."""
    names = [n for n in vars(assessment) if n.startswith("assess_") or n in ("light_demand", "source_at_drivers")]
    own = {name: getattr(assessment, name) for name in names}

    def wrapped(name: str) -> Callable[..., Any]:
        def call(*args: Any, **kwargs: Any) -> Any:
            start = time.perf_counter()
            result = own[name](*args, **kwargs)
            spent[name.removeprefix("assess_").replace("_", " ")] = time.perf_counter() - start
            return result

        return call

    for name in names:
        setattr(assessment, name, wrapped(name))
    try:
        yield
    finally:
        for name in names:
            setattr(assessment, name, own[name])


def _difference(many: Finding, ones: list[Finding]) -> float:
    worst = 0.0
    for part in ("demand", "capacity", "margins"):
        alone = np.stack([getattr(f, part) for f in ones])
        together = np.broadcast_to(getattr(many, part), (MANY, alone.shape[-1]))[:LOOPED]
        size = np.maximum(np.maximum(np.abs(together), np.abs(alone)), 1.0 if part == "margins" else 1e-12)
        with np.errstate(invalid="ignore"):  # not applicable: both without limit
            gap = np.where(together == alone, 0.0, np.abs(together - alone) / size)
        if np.any(np.isnan(together) != np.isnan(alone)):
            return float("nan")
        worst = max(worst, float(np.nanmax(gap, initial=0.0)))
    return worst


def _si(design: Design, path: str) -> float:
    value = value_at(design, path)
    if value is None:
        raise KeyError(path)
    return float(value.si)


if __name__ == "__main__":
    main()
