"""Speed of fix, sweep and spread on the demo machine: part of `make bench`.

A sweep is set against the loop of single assessments and against the same formulas fused by hand (`fused.py`), on the
same machines, with the largest difference between the answers. Everything is timed once it is warm, unless said.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from math import prod

import fused
import numpy as np
from numpy.typing import NDArray
from timing import best, row

from dryfit.assess.assess import assess
from dryfit.jobs.check import Checked, check, example
from dryfit.jobs.fix import fix
from dryfit.jobs.spread import spread, uncertain
from dryfit.jobs.sweep import sweep
from dryfit.jobs.variants import Variants
from dryfit.studies import many
from dryfit.studies.many import Evaluate
from dryfit.studies.quantities import all_margins, asked
from dryfit.studies.spread import at
from dryfit.studies.uncertain import Drawn

Array = NDArray[np.float64]
Fused = Callable[[fused.Fixed, Array, Array, Array, Array], list[Array]]

SPAN = {fused.RADIUS: (0.25, 0.35), fused.TORQUE: (2.0, 4.0), fused.MASS: (0.5, 1.5), fused.RESISTANCE: (0.02, 0.05)}
LEVELS = (10, 50, 40, 50)
SCATTERED = 200_000
LOOPED = 40
SOLVED = (
    "supply-does-not-collapse", "packs-give-the-current", "lasts-the-show-day", "packs-stay-above-cut-off",
    "wire-carries-load", "fuse-carries-load", "fuse-outlasts-peaks", "connector-carries-load", "rail-feeds-its-load",
    "regulator-has-headroom", "voltage-reaches-the-strip", "voltage-reaches-the-load", "logic-survives-motor-start",
    "ground-lift-on-signals",
)  # fmt: skip
"""Checks that rest on the solved network of the supply; the others are in closed form."""
TRADES = ("stability", "drive", "power")


def main() -> None:
    """Print every figure with its baseline and what is asked of it."""
    checked = check(example("sunbloom"))
    loop = _loop(checked)
    _against_fused(checked, loop)
    _by_kind(checked, loop)
    _whole_commands()


def _loop(checked: Checked) -> float:
    """Seconds for one machine that is put together and assessed by itself."""
    build = Variants(checked.text, checked.path)
    torques = np.linspace(2.5, 3.5, LOOPED)
    start = time.perf_counter()
    for torque in torques:
        assess(build({fused.TORQUE: float(torque)}))
    return (time.perf_counter() - start) / LOOPED


def _against_fused(checked: Checked, loop: float) -> None:
    evaluate = _evaluate(checked, fused.CHECKS)
    constants = fused.fixed(checked.path)
    rng = np.random.default_rng(1)
    scattered = {path: rng.uniform(*span, SCATTERED) for path, span in SPAN.items()}
    count, levels = _grid()
    baselines: tuple[tuple[str, Fused], ...] = (
        ("the same formulas, by hand", fused.by_formulas),
        ("written out for this base alone", fused.written_out),
    )
    print(f"\nsix checks of {', '.join(TRADES)} in closed form, four numbers varied, one core, a machine")
    row("in the loop, every check", f"{1e6 * loop:,.0f} µs")
    for words, machines, ours, blocks in (
        (f"{SCATTERED:,} machines anywhere", SCATTERED, lambda: evaluate(scattered), _spans(scattered)),
        (f"a grid of {count:,} machines", count, lambda: evaluate.grid(levels, 0, count),
         list(many._boxes(levels, LEVELS, 0, count))),
    ):  # fmt: skip
        ours()
        seconds = best(ours, 3)
        found = ours().values
        row(words, f"{1e6 * seconds / machines:.2f} µs", _rate(machines, seconds, loop) + "; asked: 300")
        for name, function in baselines:
            out = _fused(function, constants, blocks, machines)
            other = best(lambda f=function, b=blocks, m=machines: _fused(f, constants, b, m), 3)
            worst = float(np.max(np.abs(out - found)))
            asked_for = "; asked: 2" if function is fused.by_formulas else ""
            row(f"  {name}", f"{1e6 * other / machines:.2f} µs",
                 f"{seconds / other:.1f} times as long{asked_for}; differs by {worst:.0e}")  # fmt: skip


def _by_kind(checked: Checked, loop: float) -> None:
    trade = {f.check: f.trade for f in checked.report.findings}
    closed = [c for c, t in trade.items() if t in TRADES and c not in SOLVED]
    print("\na grid in several numbers, one core, a machine")
    for words, checks, least in (
        (f"all {len(closed)} closed-form checks of the three trades", closed, "1,000,000 on two cores"),
        (f"{len(SOLVED)} checks of the solved supply", list(SOLVED), "100,000"),
        (f"all {len(trade)} checks", list(trade), ""),
    ):
        evaluate = _evaluate(checked, checks)
        count, levels = _grid()
        machines = min(count, 200_000)
        evaluate.grid(levels, 0, machines)
        seconds = best(lambda e=evaluate, n=machines, v=levels: e.grid(v, 0, n), 2)
        asked_for = f"; asked: {least}" if least else ""
        row(words, f"{1e6 * seconds / machines:.2f} µs", _rate(machines, seconds, loop) + asked_for)


FIXES = (
    ("sunbloom", "runs-below-stall-share", "one check, pairs looked for too"),
    ("gangway", "runs-below-stall-share", "one check"),
    ("beacon", "tilt-board", "one check"),
    ("beacon", "fuse-protects-wire", "one check that only pairs help"),
    ("beacon", None, "all checks that do not hold"),
)


def _whole_commands() -> None:
    """The jobs behind the commands, reading the design and starting processes included."""
    print("\nthe jobs as a whole, reading and checking included")
    file = example("sunbloom")
    vary = [
        f"{fused.RADIUS}=250..350 mm:1 mm", f"{fused.TORQUE}=2..4 N*m:0.02 N*m", "brief.speed=0.3..0.6 m/s:0.003 m/s",
    ]  # fmt: skip
    wanted = ["tips-when-braking", "runs-below-stall-share", "packs-share"]
    start = time.perf_counter()
    swept = sweep(file, vary, best=["tips-when-braking"], show=wanted)
    seconds = time.perf_counter() - start
    count = swept.plan.count
    rate = f"{count / seconds:,.0f} machines/s; asked: 1,000,000"
    row(f"sweep over {count:,} machines, three margins", f"{seconds:.1f} s", rate)
    for name, check_name, words in FIXES:
        seconds = best(lambda n=name, c=check_name: fix(example(n), c), 3)
        asked_for = "asked: 1 s" if name == "sunbloom" else ""
        row(f"fix for {name}, {words}", f"{seconds:.2f} s", asked_for)
    start = time.perf_counter()
    spread(file, draws=100_000, processes=2)
    row("spread with 100,000 draws over all checks", f"{time.perf_counter() - start:.1f} s", "asked: 5 s")
    _spread_profile(check(file))


def _spread_profile(checked: Checked) -> None:
    """What a draw costs when every number that may be off is varied, block after block."""
    inputs = uncertain(checked)
    build = Drawn(Variants(checked.text, checked.path), frozenset(one.path for one in inputs if one.reckoned))
    margins = all_margins(checked.report)
    unit = np.random.default_rng(1).random((many.WORTH_RECORDING, len(inputs)))
    varied = at(inputs, unit)
    for words, some in (
        (f"a draw of {len(inputs)} numbers, all {len(margins)} checks", margins),
        ("the same, checks in closed form only", tuple(a for a in margins if a.check not in SOLVED)),
    ):
        evaluate = Evaluate(build, some, {})
        evaluate(varied)
        seconds = best(lambda e=evaluate: e(varied), 2)
        row(f"  {words}", f"{1e6 * seconds / len(unit):.0f} µs", f"{100_000 * seconds / len(unit):.1f} s for 100,000")


def _rate(machines: int, seconds: float, loop: float) -> str:
    return f"{machines / seconds:,.0f} machines/s; {loop * machines / seconds:,.0f} times the loop"


def _evaluate(checked: Checked, names: list[str] | tuple[str, ...]) -> Evaluate:
    return Evaluate(Variants(checked.text, checked.path), tuple(asked(n, checked.report) for n in names), {})


def _grid() -> tuple[int, many.Levels]:
    levels = [((path,), np.linspace(*span, n)) for (path, span), n in zip(SPAN.items(), LEVELS, strict=True)]
    return prod(LEVELS), levels


def _spans(values: Mapping[str, Array]) -> list[tuple[int, dict[str, Array]]]:
    """Blocks of 1,024 machines, at which the fused formulas are fastest."""
    count = len(next(iter(values.values())))
    return [(at, {path: v[at : at + 1024] for path, v in values.items()}) for at in range(0, count, 1024)]


def _fused(function: Fused, constants: fused.Fixed, blocks: list[tuple[int, dict[str, Array]]], count: int) -> Array:
    out = np.empty((count, len(fused.CHECKS)))
    for start, block in blocks:
        shape = np.broadcast_shapes(*(v.shape for v in block.values()))
        rows = np.empty((*shape, len(fused.CHECKS)))
        for column, found in enumerate(function(constants, *block.values())):
            rows[..., column] = found
        flat = rows.reshape(-1, len(fused.CHECKS))
        first, last = max(start, 0), min(start + len(flat), count)
        out[first:last] = flat[first - start : last - start]
    return out


if __name__ == "__main__":
    main()
