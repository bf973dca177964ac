"""The use-case of doubt: draw what is not known about a design, and say how likely each check is to hold."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from dryfit.catalogue.rows import row
from dryfit.ground.errors import DesignError, Fault, UnknownNameError
from dryfit.ground.quantity import Kind
from dryfit.jobs.check import Checked, check
from dryfit.jobs.variants import Variants, places
from dryfit.machine.machine import Machine
from dryfit.studies.records_spread import Input
from dryfit.studies.records_spread import Spreads as Spreads  # noqa: PLC0414 (faces name it by this room)
from dryfit.studies.sampling import FEWEST, MOST
from dryfit.studies.spread import spread as study
from dryfit.studies.uncertain import Range, inputs

DRAWS = 16384
SEED = 1
_WORTH_A_PROCESS = 40_000
"""Draws from which on another process earns back the time it takes to start."""

_RANGES = {"brief.friction": "friction", "brief.rolling_resistance": "rolling", "full_white": "full_white"}
"""Numbers whose rows state a range, with the stem of the two columns."""


def spread(
    path: Path,
    draws: int = DRAWS,
    seed: int = SEED,
    on_progress: Callable[[float], None] = lambda part: None,
    *,
    detail: str = "",
    processes: int = 1,
) -> Spreads:
    """How likely every check of a design is to hold, given what is not known about it. Writes nothing.

    draws: rounded up to whole sets of points.  seed: the same one gives the same answer, whatever the machine is doing.
    on_progress: is told the part done, 0 to 1.  detail: a check whose drivers get their total share as well.
    processes: more than one pays for many draws; they are started anew, so a script that asks for them needs the usual
    `if __name__ == "__main__"`. Raises DesignError for a wrong file and for draws and seeds that cannot be,
    UnknownNameError for an unknown check.
    """
    _sensible(draws, seed)
    checked = check(path)
    known = [f.check for f in checked.report.findings]
    if detail and detail not in known:
        raise UnknownNameError("check", detail, known)
    variants = Variants(checked.text, checked.path)
    workers = processes if draws >= _WORTH_A_PROCESS else 1
    return study(
        variants, checked.report, uncertain(checked), draws=draws, seed=seed, workers=workers, detail=detail,
        on_progress=on_progress,
    )  # fmt: skip


def uncertain(checked: Checked) -> tuple[Input, ...]:
    """Every number of a design that may be off, with its range, who says so, and how to measure it."""
    machine = checked.machine
    return inputs(machine, places(Variants(checked.text, checked.path), machine), _row_ranges(machine))


def _sensible(draws: int, seed: int) -> None:
    faults = []
    if not FEWEST <= draws <= MOST:
        faults.append(Fault("dryfit", 0, "draws", "not a number of draws", str(draws), f"{FEWEST} to {MOST:,}"))
    if not 0 <= seed < 2**63:
        faults.append(Fault("dryfit", 0, "seed", "not a seed", str(seed), "a whole number of zero or more"))
    if faults:
        raise DesignError(faults)


def _row_ranges(machine: Machine) -> dict[str, Range]:
    """The ranges that the rows named in a design state for their numbers."""
    found: dict[str, Range] = {}
    for choice, kind in machine.choices.items():
        quantities = row(kind, machine.origins[choice].text).quantities
        section = choice.removesuffix("item").removesuffix("floor")
        for number, stem in _RANGES.items():
            path = number if number.startswith(section) else f"{section}{number}"
            ends = [quantities.get(f"{stem}_{end}") for end in ("low", "high")]
            at = machine.origins.get(path)
            if at is not None and at.kind is Kind.CATALOGUE and ends[0] is not None and ends[1] is not None:
                found[path] = Range(float(ends[0].si), float(ends[1].si), "the range that its catalogue row states")
    return found
