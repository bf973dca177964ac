"""What the trades found, as one report with the machine in a few figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dryfit.assess.report import Figure, Report, with_reserves
from dryfit.assess.results import results
from dryfit.ground.errors import DesignError, Fault, nearest
from dryfit.ground.findings import Finding, Term
from dryfit.machine.machine import Machine


def assess(m: Machine) -> Report:
    """Everything the trades find about a machine, or about many at once (leading axes of its numbers).

    Raises DesignError where the design asks for a reserve of a check that does not exist.
    """
    found = results(m)
    weight, findings = found.weight, found.findings
    _known_reserves(m, findings)
    figures = (
        Figure("mass", weight.mass),
        Figure("height", weight.height),
        _by_posture("centre-height", _centre_heights(weight.centre_of_mass), m.arms.postures),
        _by_posture("tipping", _weakest(found.stability.tip_acceleration), m.arms.postures),
        Figure("top-speed", found.drive.top_speed),
        Figure("stopping-way", found.drive.stopping_distance),
        Figure("run-time", found.power.run_time),
    )
    return Report(m.name, with_reserves(findings, m.reserves), figures, m.assumed)


def _by_posture(key: str, term: Term, postures: tuple[str, ...]) -> Figure:
    if len(postures) > 1:
        return Figure(key, term, postures)
    return Figure(key, replace(term, value=np.asanyarray(term.value)[..., 0]))


def _centre_heights(centre: Term) -> Term:
    return Term("h", "height of the centre of mass", np.asanyarray(centre.value)[..., 2], "m", centre.origin)


def _weakest(tip_acceleration: Term) -> Term:
    weakest = np.min(np.asanyarray(tip_acceleration.value), axis=-1)
    return Term("a_tip", "tipping acceleration, weakest direction", weakest, "m/s2", tip_acceleration.origin)


def _known_reserves(m: Machine, findings: tuple[Finding, ...]) -> None:
    known = [f.check for f in findings]
    faults = [
        Fault("design.yaml", r.origin.line, f"reserves.{check}", f"there is no such check{nearest(check, known)}")
        for check, r in m.reserves.items()
        if check not in known
    ]
    if faults:
        raise DesignError(faults)
