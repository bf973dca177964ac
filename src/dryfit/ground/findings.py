"""Findings: one check's answer with everything needed to believe it, for one machine or for many at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.axes import column
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.sources import Source


class State(Enum):
    """What a margin means. SHORT is the answer whenever nothing better has been shown."""

    SHORT = "short"
    UNKNOWN = "unknown"
    TIGHT = "tight"
    HOLDS = "holds"


class Late(Enum):
    """What it costs to find this out late; the number orders the list."""

    MINUTES = 1
    PART_ORDER = 2
    REPRINT = 3
    SHOW = 4


@dataclass(frozen=True)
class Workings:
    """How a number was made: the formula in trade notation, the terms that went in, the sources."""

    formula: str
    terms: tuple[Term, ...]
    sources: tuple[Source, ...] = ()


@dataclass(frozen=True)
class Term:
    """One number of a formula and where it came from.

    value: (...,) over machines; with per_case True (..., C), one entry for each case of the finding.
    unit: SI unit as in `ground.units.SI` ("m", "N*m", "rad", "1"); the faces turn it into trade units.
    origin: the place it was read, or the workings it was calculated by.
    case: index of the only case of the finding that it belongs to, such as the fuse of one wire of many; None for all.
    """

    symbol: str
    name: str
    value: Num
    unit: str
    origin: Origin | Workings
    per_case: bool = False
    case: int | None = None


def calculated(
    symbol: str,
    name: str,
    value: Num,
    unit: str,
    formula: str,
    terms: Sequence[Term],
    *sources: Source,
    per_case: bool = False,
) -> Term:
    """A term that was worked out here, carrying its own workings."""
    return Term(symbol, name, value, unit, Workings(formula, tuple(terms), sources), per_case)


def by_rule(symbol: str, name: str, value: Num, unit: str, source: Source) -> Term:
    """A term fixed by a standard or a habit of the trade and not open to the design file."""
    return Term(symbol, name, value, unit, Origin(Kind.RULE, source=source, note=source.title))


@dataclass(frozen=True)
class Reserve:
    """The margin asked for beyond zero, and who asks for it."""

    fraction: float
    origin: Origin


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One check of one machine (or of many): demand must not exceed capacity in any of its cases.

    check: id that reads as words and is unique in a report ("tips-when-braking").
    trade, topic: who says it and what it is about ("tipping"); the topic groups findings that share a remedy.
    title: the statement that should hold, as a sentence without a full stop ("Stays upright when it brakes").
    cases: at least one label. demand, capacity: (..., C), trailing axis over the cases, SI in `unit`.
    remedy: what to do, a sentence that may hold {symbol} of a term; faces fill in value and unit.
    """

    check: str
    trade: str
    topic: str
    title: str
    unit: str
    cases: tuple[str, ...]
    demand: Array
    capacity: Array
    demand_name: str
    capacity_name: str
    reserve: Reserve
    late: Late
    formula: str
    terms: tuple[Term, ...]
    sources: tuple[Source, ...]
    remedy: str
    caution: str = ""

    @property
    def margins(self) -> Array:
        """Margin of every case, (..., C)."""
        return margin(self.demand, self.capacity)

    @property
    def governing(self) -> NDArray[np.intp]:
        """Index of the worst case, (...,). A NaN is worse than anything."""
        return np.asanyarray(np.argmin(self.margins, axis=-1))

    @property
    def margin(self) -> Array:
        """Margin of the worst case, (...,)."""
        return np.asanyarray(np.min(self.margins, axis=-1))

    @property
    def missing(self) -> tuple[Origin, ...]:
        """The entries of the design file without which this cannot be known."""
        return tuple(o for o in origins(self.terms) if o.kind is Kind.MISSING)


def margin(demand: Num, capacity: Num) -> Array:
    """Part of the larger of the two that lies between them, signed: +0.3 = 30 % of the capacity is left,
    -0.3 = 30 % of the demand is not met. 0 where both are 0; 1 where the capacity, -1 where the demand is without
    limit; NaN where both are, or where one is not known."""
    d, c = np.asanyarray(demand, dtype=float), np.asanyarray(capacity, dtype=float)
    size = np.maximum(np.abs(d), np.abs(c))
    with np.errstate(invalid="ignore"):
        left = c - d
        part: Array = np.where(np.isinf(left), np.sign(left), left / np.where(size == 0, 1.0, size))
    return part


def finding(
    *,
    demand: Num,
    capacity: Num,
    cases: Sequence[str] | None = None,
    reserve: tuple[float, Source],
    check: str,
    trade: str,
    topic: str,
    title: str,
    unit: str,
    demand_name: str,
    capacity_name: str,
    late: Late,
    formula: str,
    terms: Sequence[Term],
    sources: Sequence[Source],
    remedy: str,
    caution: str = "",
) -> Finding:
    """Build a Finding. Without `cases`, demand and capacity are (...,); with them (..., len(cases))."""
    d, c = (np.asanyarray(x, dtype=float) if cases is not None else column(x) for x in (demand, capacity))
    if d.shape != c.shape:
        d, c = np.broadcast_arrays(d, c)
    labels = ("",) if cases is None else tuple(cases)
    if d.shape[-1:] != (len(labels),):
        raise ValueError(f"{check}: {len(labels)} cases, but demand and capacity have shape {d.shape}")
    fraction, source = reserve
    asked = Reserve(fraction, Origin(Kind.RULE, text=f"{fraction:.0%}", note=source.title, source=source))
    return Finding(
        check=check, trade=trade, topic=topic, title=title, unit=unit, cases=labels, demand=d, capacity=c,
        demand_name=demand_name, capacity_name=capacity_name, reserve=asked, late=late, formula=formula,
        terms=tuple(terms), sources=tuple(sources), remedy=remedy, caution=caution,
    )  # fmt: skip


def is_short(f: Finding) -> NDArray[np.bool_]:
    """True where the margin has not been shown to be at least zero; NaN is short (or unknown), never good."""
    return np.asanyarray(~(f.margin >= 0))


def state(f: Finding) -> State:
    """The state of a finding about one machine."""
    m = float(f.margin)
    if m >= f.reserve.fraction:
        return State.HOLDS
    if m >= 0:
        return State.TIGHT
    return State.UNKNOWN if np.isnan(m) and f.missing else State.SHORT


def origins(terms: Sequence[Term]) -> tuple[Origin, ...]:
    """Every place that the terms and their workings were read from, each once, in order of appearance."""
    return tuple(dict.fromkeys(_walk(terms)))


def cited(f: Finding) -> tuple[Origin, ...]:
    """Every place that the governing case of a finding about one machine was read from."""
    return tuple(dict.fromkeys(_walk(f.terms, int(f.governing))))


def in_case(terms: Sequence[Term], case: int | None) -> Iterator[Term]:
    """The terms without those that belong to another case; all of them where no case is meant."""
    return (t for t in terms if case is None or t.case in (None, case))


def _walk(terms: Sequence[Term], case: int | None = None) -> Iterator[Origin]:
    for term in in_case(terms, case):
        if isinstance(term.origin, Workings):
            yield from _walk(term.origin.terms, case if term.per_case else None)
        else:
            yield term.origin
