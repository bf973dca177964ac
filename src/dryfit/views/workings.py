"""The workings of one check as an indented list: every number unfolded to the place it was read."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dryfit.ground.findings import Finding, Term, Workings, cited, in_case
from dryfit.views import words
from dryfit.views.verdict import Row, row_of

WORST_CASES = 8
LEVELS = 3
"""How deep an outline unfolds a number."""
MANY = 6
"""A number made of more numbers than this stands folded in an outline, unless the check itself names it."""


@dataclass(frozen=True)
class WorkingsRow:
    """One number: how deep it is unfolded, symbol, name, value, formula (if worked out here), where it comes from.

    sort, note: the same place in a word or two and in a sentence.  line: of the design file, 0 where there is none.
    again: it stands above already.  hidden: how many numbers beneath it an outline leaves out; hidden_lines: their
    lines.
    """

    depth: int
    symbol: str
    name: str
    value: str
    formula: str
    place: str
    sort: str = ""
    note: str = ""
    line: int = 0
    again: bool = False
    hidden: int = 0
    hidden_lines: tuple[int, ...] = ()

    @property
    def number(self) -> tuple[str, str, str]:
        """What tells this number from others of the same check."""
        return self.symbol, self.name, self.value


@dataclass(frozen=True)
class CaseRow:
    """One case of a check with its own demand, capacity and margin; met: a yes-or-no case that is met."""

    case: str
    demand: str
    capacity: str
    margin: float
    met: bool


@dataclass(frozen=True)
class Side:
    """Demand or capacity in the governing case: what it is, its value, and its formula where one side is one."""

    name: str
    value: str
    formula: str


@dataclass(frozen=True)
class Why:
    """Everything that `why` shows about one check. workings: every number; outline: those that fit a page."""

    row: Row
    formula: str
    demand: Side
    capacity: Side
    workings: tuple[WorkingsRow, ...]
    outline: tuple[WorkingsRow, ...]
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
    workings = tuple(_rows(f, file))
    case = int(f.governing)
    formulas = _sides(f.formula)
    return Why(
        row=row_of(f),
        formula=f.formula,
        demand=Side(f.demand_name, words.shown(f.demand[..., case], f.unit), formulas[0]),
        capacity=Side(f.capacity_name, words.shown(f.capacity[..., case], f.unit), formulas[1]),
        workings=workings,
        outline=_outline(workings),
        cases=tuple(
            CaseRow(
                f.cases[i],
                words.shown(f.demand[..., i], f.unit),
                words.shown(f.capacity[..., i], f.unit),
                float(f.margins[..., i]),
                bool(f.demand[..., i] == 0) and bool(f.capacity[..., i] == 0),
            )
            for i in shown
        ),
        more_cases=len(f.cases) - len(shown) if len(shown) else 0,
        sources=_sources(f),
        lines=tuple((n, file_lines[n - 1].strip()) for n in numbers if n <= len(file_lines)),
    )


def _sides(formula: str) -> tuple[str, str]:
    """Formulas of demand and capacity, where the whole is one plain comparison; else nothing."""
    parts = re.split(r"\s*(<=|≤|>=|≥)\s*", formula)
    if len(parts) != 3 or re.search(r"[;,]| and ", formula):
        return "", ""
    left, sign, right = parts
    return (left, right) if sign in ("<=", "≤") else (right, left)


def _rows(f: Finding, file: str) -> Iterator[WorkingsRow]:
    """Every number with its workings, which stand where it comes first."""
    case, count = int(f.governing), len(f.cases)
    above: set[tuple[str, ...]] = set()

    def walk(terms: tuple[Term, ...], depth: int, inside: bool) -> Iterator[WorkingsRow]:
        for t in in_case(terms, case if inside else None):
            value = words.shown(words.at_case(t, case, count, inside), t.unit)
            row = WorkingsRow(depth, t.symbol, t.name, value, "", "")
            if not isinstance(t.origin, Workings):
                sort, note = words.place_sort(t.origin)
                place = words.place_words(t.origin, file)
                again = depth > 0 and (*row.number, place) in above
                above.add((*row.number, place))
                yield replace(row, place=place, sort=sort, note=note, line=t.origin.line, again=again)
            elif row.number in above:
                yield replace(row, place="worked out above", again=True)
            else:
                above.add(row.number)
                yield replace(row, formula=t.origin.formula.removeprefix(f"{t.symbol} = "))
                yield from walk(t.origin.terms, depth + 1, inside and t.per_case)

    yield from walk(f.terms, 0, True)


def _outline(rows: Sequence[WorkingsRow]) -> tuple[WorkingsRow, ...]:
    """The rows with what lies deep, or is a long sum, left out; a row says how much is left out beneath it."""
    first = {r.number: i for i, r in reversed(list(enumerate(rows))) if not r.again}
    seen: set[tuple[str, str, str]] = set()
    kept: list[WorkingsRow] = []
    end = 0
    for i, row in enumerate(rows):
        if i < end:
            continue
        if row.again and row.number not in seen:
            # its workings were left out where it came first: let it stand as a number of its own
            origin = first.get(row.number, i)
            kept.append(_folded(replace(rows[origin], depth=row.depth), _beneath(rows, origin)))
        elif row.again:
            kept.append(row)
        else:
            below = _beneath(rows, i)
            own = sum(r.depth == row.depth + 1 and not r.again for r in below)
            if below and (row.depth + 1 >= LEVELS or (row.depth > 0 and own > MANY)):
                kept.append(_folded(row, below))
                end = i + 1 + len(below)
            else:
                kept.append(row)
        seen.add(row.number)
    return tuple(kept)


def _beneath(rows: Sequence[WorkingsRow], i: int) -> Sequence[WorkingsRow]:
    """The rows that unfold row `i`."""
    end = i + 1
    while end < len(rows) and rows[end].depth > rows[i].depth:
        end += 1
    return rows[i + 1 : end]


def _folded(row: WorkingsRow, below: Sequence[WorkingsRow]) -> WorkingsRow:
    lines = sorted({r.line for r in below if r.line})
    return replace(row, again=False, hidden=len(below), hidden_lines=tuple(lines))


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
