"""The verdict on one machine as rows to be shown: headline, first things, the list by topic."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from dryfit.assess.report import Figure, Report, first_things, is_met, ranked
from dryfit.ground.findings import Finding, State, Term, Workings, in_case, state
from dryfit.ground.quantity import Kind, Origin
from dryfit.views import words

CAUTIONED = ("emergency-stop-is-there", "batteries-are-cared-for", "pinch-gaps")
"""Checks whose caution is always shown: they hold for every machine that moves among people."""


@dataclass(frozen=True)
class Row:
    """One check as a line: state, margin, what it says, in which case, what to do, where it is decided.

    met: a yes-or-no check that is met, for which a margin has no meaning.  lines: of the design file, those that
    stand in the check's own formula before those that lie deeper in its workings.
    """

    check: str
    trade: str
    topic: str
    state: State
    margin: float
    met: bool
    reserve: float
    reserve_from: str
    title: str
    case: str
    figures: str
    remedy: str
    needs: str
    late: str
    lines: tuple[int, ...]
    assumed: tuple[str, ...]
    caution: str


@dataclass(frozen=True)
class TopicRows:
    """The checks of one topic, most pressing first."""

    topic: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Verdict:
    """Everything that `check` shows about one machine."""

    name: str
    file: str
    headline: str
    counts: dict[State, int]
    figures: tuple[tuple[str, str], ...]
    first: tuple[Row, ...]
    topics: tuple[TopicRows, ...]
    assumed: tuple[tuple[str, str, str], ...]
    cautions: tuple[str, ...]
    first_cautions: tuple[str, ...]


def row_of(f: Finding) -> Row:
    """One finding as a line."""
    places = _origins(f)
    return Row(
        check=f.check,
        trade=f.trade,
        topic=f.topic,
        state=state(f),
        margin=float(f.margin),
        met=is_met(f),
        reserve=f.reserve.fraction,
        reserve_from=f.reserve.origin.note,
        title=f.title,
        case=words.case_of(f),
        figures=words.verdict_words(f),
        remedy=words.remedy_of(f),
        needs=words.needs_words(f),
        late=words.LATE_WORDS[f.late.value],
        lines=tuple(dict.fromkeys(o.line for o in places if o.line)),
        assumed=tuple(f"{o.path} {o.text}" for o in places if o.kind is Kind.DEFAULT and ".limits." not in o.path),
        caution=f.caution,
    )


def _origins(f: Finding) -> tuple[Origin, ...]:
    """Places that the governing case rests on, level by level of its workings, by line within a level."""
    found: list[Origin] = []
    level: list[tuple[Term, int | None]] = [(t, int(f.governing)) for t in in_case(f.terms, int(f.governing))]
    while level:
        found += sorted((t.origin for t, _ in level if isinstance(t.origin, Origin)), key=lambda o: o.line)
        # a number that several others are made of is followed once
        level = list(
            {
                (id(below), inner): (below, inner)
                for t, case in level
                if isinstance(t.origin, Workings)
                for inner in [case if t.per_case else None]
                for below in in_case(t.origin.terms, inner)
            }.values()
        )
    return tuple(dict.fromkeys(found))


def verdict(report: Report, file: str) -> Verdict:
    """Rows of a report about one machine."""
    order = ranked(report.findings)
    counts = Counter(state(f) for f in order)
    topics: dict[str, list[Row]] = {}
    for f in order:
        topics.setdefault(f.topic, []).append(row_of(f))
    return Verdict(
        name=report.name,
        file=file,
        headline=_headline(counts),
        counts={s: counts.get(s, 0) for s in State},
        figures=tuple((f.term.name, _figure(f)) for f in report.figures),
        first=tuple(row_of(f) for f in first_things(report.findings)),
        topics=tuple(TopicRows(topic, tuple(rows)) for topic, rows in topics.items()),
        assumed=tuple((o.path, o.text, o.note) for o in report.assumed),
        cautions=_cautions(order),
        first_cautions=_cautions([f for f in order if state(f) is not State.HOLDS or f.check in CAUTIONED]),
    )


def _cautions(findings: Iterable[Finding]) -> tuple[str, ...]:
    """Each caution once, without those that another one contains."""
    said = tuple(dict.fromkeys(f.caution for f in findings if f.caution))
    return tuple(c for c in said if not any(c != other and c in other for other in said))


def _figure(figure: Figure) -> str:
    value, unit = np.asarray(figure.term.value, dtype=float), figure.term.unit
    if not figure.labels:
        return words.shown(value if value.size > 1 else value.reshape(()), unit)
    return ", ".join(f"{words.shown(value[i], unit)} {label}" for i, label in enumerate(figure.labels))


def _headline(counts: Counter[State]) -> str:
    short, unknown, tight = counts[State.SHORT], counts[State.UNKNOWN], counts[State.TIGHT]
    if short:
        return f"It will not work as drawn: {_count(short, 'check')} short."
    if unknown:
        return f"Not known yet: {_count(unknown, 'check')} still without an answer."
    if tight:
        return f"It will work, but {tight} {'check has' if tight == 1 else 'checks have'} less reserve than asked for."
    return "It will work, with the reserves asked for."


def _count(n: int, noun: str) -> str:
    return f"{n} {noun} is" if n == 1 else f"{n} {noun}s are"
