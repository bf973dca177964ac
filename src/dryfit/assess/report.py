"""The report: every finding about a machine (or about many at once), in order of need of attention."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from dryfit.ground.findings import Finding, Reserve, State, Term, state
from dryfit.ground.quantity import Origin

_ORDER = {State.SHORT: 0, State.UNKNOWN: 1, State.TIGHT: 2, State.HOLDS: 3}


@dataclass(frozen=True)
class Figure:
    """One of the machine's few numbers: a value, or one for each label (posture) along the trailing axis.

    key: a short name by which it can be asked for ("top-speed")."""

    key: str
    term: Term
    labels: tuple[str, ...] = ()


@dataclass(frozen=True)
class Report:
    """What the trades found. figures: the machine in a few numbers. assumed: every default that was taken."""

    name: str
    findings: tuple[Finding, ...]
    figures: tuple[Figure, ...]
    assumed: tuple[Origin, ...]


def need(f: Finding) -> float:
    """Need of attention of a finding about one machine: what it costs to find it late, times what is missing from
    the margin asked for. Only compared within one state."""
    missing = 1 + f.reserve.fraction - float(f.margin)
    return f.late.value * (2.0 if np.isnan(missing) else missing)


def ranked(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Findings about one machine, most pressing first: short, unknown, tight, holds; within each by need."""
    return tuple(sorted(findings, key=lambda f: (_ORDER[state(f)], -need(f), f.check)))


def first_things(findings: tuple[Finding, ...], count: int = 3) -> tuple[Finding, ...]:
    """What to attend to first, one finding a topic: the most pressing that do not hold; where they are fewer than
    `count`, those that hold with the least beyond the reserve asked for."""
    open_ones = [f for f in ranked(findings) if state(f) is not State.HOLDS]
    nearest = sorted((f for f in findings if state(f) is State.HOLDS and not is_met(f)), key=_beyond)
    chosen: dict[str, Finding] = {}
    for f in open_ones + nearest:
        chosen.setdefault(f.topic, f)
    return tuple(chosen.values())[:count]


def is_met(f: Finding) -> bool:
    """True for a yes-or-no check about one machine that is met: no conflict where none is allowed."""
    case = f.governing
    return float(f.demand[..., case]) == 0 and float(f.capacity[..., case]) == 0


def _beyond(f: Finding) -> float:
    return float(f.margin) - f.reserve.fraction


def with_reserves(findings: tuple[Finding, ...], reserves: Mapping[str, Reserve]) -> tuple[Finding, ...]:
    """Findings with the reserves that the design file asks for in place of the usual ones."""
    return tuple(replace(f, reserve=reserves[f.check]) if f.check in reserves else f for f in findings)
