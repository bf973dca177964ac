"""The workings of one check as an indented list: every number unfolded to the place it was read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from dryfit.ground.findings import Finding, Term, Workings, cited, in_case
from dryfit.views import words
from dryfit.views.verdict import Row, row_of

WORST_CASES = 8


@dataclass(frozen=True)
class WorkingsRow:
    """One number: how deep it is unfolded, symbol, name, value, formula (if worked out here), where it comes from."""

    depth: int
    symbol: str
    name: str
    value: str
    formula: str
    place: str


@dataclass(frozen=True)
class CaseRow:
    """One case of a check with its own demand, capacity and margin."""

    case: str
    demand: str
    capacity: str
    margin: float


@dataclass(frozen=True)
class Why:
    """Everything that `why` shows about one check."""

    row: Row
    formula: str
    workings: tuple[WorkingsRow, ...]
    cases: tuple[CaseRow, ...]
    more_cases: int
    sources: tuple[str, ...]
    lines: tuple[tuple[int, str], ...]


def why(f: Finding, file: str, text: str) -> Why:
    """Unfold one finding about one machine; `text` is the design file, for the lines it rests on."""
    by_margin = np.argsort(f.margins, kind="stable")
    shown = by_margin[:WORST_CASES] if len(f.cases) > 1 else by_margin[:0]
    file_lines = text.splitlines()
    numbers = sorted({o.line for o in cited(f) if o.line})
    return Why(
        row=row_of(f),
        formula=f.formula,
        workings=tuple(_rows(f, file)),
        cases=tuple(
            CaseRow(
                f.cases[i],
                words.shown(f.demand[..., i], f.unit),
                words.shown(f.capacity[..., i], f.unit),
                float(f.margins[..., i]),
            )
            for i in shown
        ),
        more_cases=len(f.cases) - len(shown) if len(shown) else 0,
        sources=_sources(f),
        lines=tuple((n, file_lines[n - 1].strip()) for n in numbers if n <= len(file_lines)),
    )


def _rows(f: Finding, file: str) -> Iterator[WorkingsRow]:
    """Every number once with its workings; where it comes again, the row says that it stands above."""
    case, count = int(f.governing), len(f.cases)
    above: set[tuple[str, str, str]] = set()

    def walk(terms: tuple[Term, ...], depth: int, inside: bool) -> Iterator[WorkingsRow]:
        for t in in_case(terms, case if inside else None):
            value = words.shown(words.at_case(t, case, count, inside), t.unit)
            if not isinstance(t.origin, Workings):
                yield WorkingsRow(depth, t.symbol, t.name, value, "", words.place_words(t.origin, file))
                continue
            known = (t.symbol, t.name, value)
            if known in above:
                yield WorkingsRow(depth, t.symbol, t.name, value, "", "worked out above")
                continue
            above.add(known)
            yield WorkingsRow(depth, t.symbol, t.name, value, t.origin.formula, "")
            yield from walk(t.origin.terms, depth + 1, inside and t.per_case)

    yield from walk(f.terms, 0, True)


def _sources(f: Finding) -> tuple[str, ...]:
    found = [str(s) for s in f.sources]
    stack = list(f.terms)
    while stack:
        t = stack.pop(0)
        if isinstance(t.origin, Workings):
            found += [str(s) for s in t.origin.sources]
            stack = list(t.origin.terms) + stack
        elif t.origin.source is not None:
            found.append(str(t.origin.source))
    found.append(f"reserve of {100 * f.reserve.fraction:.0f} %: {f.reserve.origin.note or f.reserve.origin.text}")
    return tuple(dict.fromkeys(found))
