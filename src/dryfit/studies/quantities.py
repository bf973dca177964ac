"""What can be asked of many machines by name: margins, demands and capacities of checks, and the machine's figures.

tips-when-braking            margin of the check in its worst case, a fraction
tips-when-braking.demand     what is asked in the case of the least margin, SI
tips-when-braking.capacity   what there is in that case, SI
top-speed                    a figure of the machine, worst over the postures, SI
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.assess.report import Figure, Report
from dryfit.ground.axes import pick
from dryfit.ground.errors import UnknownNameError
from dryfit.ground.findings import Finding
from dryfit.ground.quantity import Array

PARTS = ("margin", "demand", "capacity")


@dataclass(frozen=True)
class Asked:
    """One quantity to be read from reports. check: empty for a figure.  unit: SI, as in `ground.units.SI`, "1" for a
    margin.  reserve: the margin asked for by that check.  title: in words, for heads of columns and axes."""

    name: str
    check: str
    part: str
    unit: str
    title: str
    reserve: float = 0.0


def asked(name: str, report: Report) -> Asked:
    """The quantity of a name. Raises UnknownNameError with the nearest names."""
    check, _, part = name.partition(".")
    part = part or "margin"
    for f in report.findings:
        if f.check == check and part in PARTS:
            titles = {"margin": f"margin: {f.title}", "demand": f.demand_name, "capacity": f.capacity_name}
            unit = "1" if part == "margin" else f.unit
            return Asked(name, check, part, unit, titles[part], f.reserve.fraction)
    for figure in report.figures:
        if figure.key == name:
            return Asked(name, "", name, figure.term.unit, figure.term.name)
    raise UnknownNameError("check or figure", name, names(report))


def names(report: Report) -> list[str]:
    """Every name that can be asked for: the figures, and the checks with their parts."""
    parts = [f"{f.check}.{part}" for f in report.findings for part in PARTS[1:]]
    return [*(f.key for f in report.figures), *(f.check for f in report.findings), *parts]


def all_margins(report: Report) -> tuple[Asked, ...]:
    """The margin of every check, in the order of the report."""
    return tuple(asked(f.check, report) for f in report.findings)


def values(report: Report, wanted: Sequence[Asked], machines: int) -> Array:
    """The quantities of a report about many machines, (machines, len(wanted)); a check that a machine does not have is
    NaN. Every number is (machines,) or the same for all of them."""
    out = np.empty((machines, len(wanted)))
    for place, column in enumerate(columns(report, wanted)):
        out[:, place] = column
    return out


def columns(report: Report, wanted: Sequence[Asked]) -> list[Array]:
    """The same, each quantity by itself: (machines,), or () where it is the same for all."""
    findings = {f.check: f for f in report.findings}
    figures = {f.key: f for f in report.figures}
    return [
        _of_finding(findings[one.check], one.part)
        if one.check in findings
        else _of_figure(figures[one.part])
        if one.part in figures and not one.check
        else np.asanyarray(np.nan)
        for one in wanted
    ]


def _of_finding(f: Finding, part: str) -> Array:
    if part == "margin":
        return f.margin
    return pick(f.demand if part == "demand" else f.capacity, f.governing)


def _of_figure(figure: Figure) -> Array:
    """The worst of a figure that has a value for every posture: highest centre of mass, least tipping acceleration."""
    value = np.asanyarray(figure.term.value, dtype=float)
    if not figure.labels:
        return value
    return np.asanyarray(np.max(value, axis=-1) if figure.term.unit == "m" else np.min(value, axis=-1))
