"""Readings of several units of which one number of the design stands for all: run-out of wheels, play of gears.

Neither is in doubt for the checks, which take the worst wheel and every error of print and mount; so neither is drawn
for the bands. A reading moves them all the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

import numpy as np

from dryfit.assess.bench import Prediction
from dryfit.machine.machine import Machine
from dryfit.making.records_bench import TestPoint
from dryfit.studies.records_readings import Given
from dryfit.studies.records_spread import Input
from dryfit.trades.bench.checks_drive import RUN_OUT

_RUN_OUT_DOUBT = 0.7
"""Part by which run-out may lie from what a row of the catalogue says (common practice)."""
_BACKLASH = "base.gears[{}].backlash"


def counted_together(points: Sequence[TestPoint], predictions: dict[str, Prediction]) -> list[Given]:
    """The dial reading of the worst wheel, where it tells something about all of them: more than was expected of any,
    or every wheel was read."""
    dials = [p for p in points if predictions[p.name].reads == RUN_OUT]
    read = [(p.taken.value, p) for p in dials if p.taken is not None and not p.taken.used]
    if not read:
        return []
    value, worst = max(read, key=lambda pair: pair[0])
    if value <= worst.predicted and len(read) < len(dials):
        return []
    return [Given(worst.name, value, worst.accuracy, 0.0, RUN_OUT)]


def shared_inputs(machine: Machine, known: Sequence[Input]) -> tuple[Input, ...]:
    """Run-out of the wheels and backlash of every stage as numbers that readings may move; `known` ones are left out.

    Teeth may all come out thicker or thinner than drawn, on both members, by what the workshop says of its prints.
    """
    found = []
    if RUN_OUT in machine.values:
        e = number(machine.values[RUN_OUT])
        found.append(
            _input(machine, RUN_OUT, e, _RUN_OUT_DOUBT * e, "wheels of a kind differ", "Set a dial to the rim.")
        )
    off = number(machine.workshop.print_tolerance)
    for i in range(len(machine.gears.paths)):
        path = _BACKLASH.format(i)
        if path in machine.values:
            reason = "teeth come out thicker or thinner than drawn"
            found.append(_input(machine, path, number(machine.values[path]), hypot(off, off), reason, "Feel the play."))
    listed = {one.path for one in known}
    return tuple(one for one in found if one.path not in listed and one.low < one.high)


def is_drawn(path: str) -> bool:
    """Whether a number says what is drawn, and so must not be replaced by what came of it: the next print would be
    drawn by it, and come out wrong by as much again."""
    return path.endswith(".backlash")


def _input(machine: Machine, path: str, value: float, half: float, reason: str, measure: str) -> Input:
    origin = machine.origins[path]
    low = max(value - half, 0.0)
    return Input(path, origin.line, origin.text, "m", value, low, value + half, "usual spread", reason, measure)


def number(value: object) -> float:
    """The one number behind a value of one machine."""
    return float(np.ravel(np.asarray(value, dtype=float))[0])
