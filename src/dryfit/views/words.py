"""Numbers as the trade writes them, for one machine."""

from __future__ import annotations

import re

import numpy as np

from dryfit.ground import units
from dryfit.ground.findings import Finding, Term, Workings, in_case
from dryfit.ground.quantity import Kind, Num, Origin

FEW = 6
LATE_WORDS = {1: "minutes", 2: "a part order", 3: "reprint hours", 4: "the show"}


def shown(value: Num, unit: str) -> str:
    """One value or a few: "29.4 kg", "412 … 469 mm" for many."""
    values = np.asarray(value, dtype=float)
    if values.ndim == 0:
        return units.show(float(values), unit)
    flat = values.ravel()
    if flat.size == 0:
        return "none"
    if np.all(flat == flat[0]):
        return units.show(float(flat[0]), unit)
    if flat.size <= FEW:
        return "; ".join(units.show(float(v), unit) for v in flat)
    return f"{units.show(float(np.min(flat)), unit)} to {units.show(float(np.max(flat)), unit)} ({flat.size} values)"


def margin_words(margin: float, beside: float = 0.0) -> str:
    """A margin in percent with its sign: "+32 %"; with a decimal where whole percents would make it look equal to the
    one `beside` it; "unknown" where it is not known."""
    if np.isnan(margin):
        return "unknown"
    alike = margin != beside and round(100 * margin) == round(100 * beside)
    return f"{100 * margin:+.{1 if alike else 0}f} %".replace("-", "−")


def case_of(f: Finding) -> str:
    """Label of the governing case, empty where there is only one."""
    return f.cases[int(f.governing)]


def at_case(term: Term, case: int, count: int, inside: bool = True) -> Num:
    """The value of a term in one of the `count` cases of its finding; the whole of it where the term has no cases, or
    (inside False: it stands in workings that are not by case) has cases of another finding."""
    value = np.asarray(term.value)
    if not (term.per_case and inside and value.ndim):
        return term.value
    if value.shape[-1] not in (1, count):
        return term.value
    return value[..., case if value.shape[-1] == count else 0]


def remedy_of(f: Finding) -> str:
    """The remedy with its {symbols} filled in from the terms, unfolded ones included."""
    case, count = int(f.governing), len(f.cases)

    def value(match: re.Match[str]) -> str:
        found = _named(match[1], f.terms, case, True)
        return match[1] if found is None else shown(at_case(found[0], case, count, found[1]), found[0].unit)

    return re.sub(r"\{([^{}]+)\}", value, f.remedy)


def _named(symbol: str, terms: tuple[Term, ...], case: int, inside: bool) -> tuple[Term, bool] | None:
    """The term of a symbol, the finding's own before those of its workings, and whether it goes by the cases."""
    here = tuple(in_case(terms, case if inside else None))[::-1]
    for t in here:
        if t.symbol == symbol:
            return t, inside
    below = (
        _named(symbol, t.origin.terms, case, inside and t.per_case) for t in here if isinstance(t.origin, Workings)
    )
    return next((found for found in below if found is not None), None)


def place_words(o: Origin, file: str) -> str:
    """Where a number was read: "design.yaml:41", "catalogue packs/…", "default: …"."""
    if o.kind is Kind.DESIGN:
        return f"{file}:{o.line}" if o.line else file
    if o.kind is Kind.CATALOGUE:
        return f"catalogue {o.path}, {file}:{o.line}" if o.line else f"catalogue {o.path}"
    if o.kind is Kind.DEFAULT:
        return f"default: {o.note}"
    if o.kind is Kind.MISSING:
        return f"not given: {o.note}"
    return str(o.source or o.note)


def place_sort(o: Origin) -> tuple[str, str]:
    """The same place in a word or two, and what there is to say about it."""
    if o.kind is Kind.DESIGN:
        return (f"line {o.line}" if o.line else "design", "")
    if o.kind is Kind.CATALOGUE:
        return "catalogue", f"{o.path}, line {o.line}" if o.line else o.path
    if o.kind is Kind.RULE:
        return "rule", str(o.source or o.note)
    return o.kind.value, o.note


def verdict_words(f: Finding) -> str:
    """Demand against capacity in the governing case, as one phrase."""
    case = int(f.governing)
    demand, capacity = (shown(x[..., case], f.unit) for x in (f.demand, f.capacity))
    return f"{f.demand_name} {demand} against {f.capacity_name} {capacity}"


def needs_words(f: Finding) -> str:
    """For an unknown finding: what to write in the design file."""
    return "; ".join(dict.fromkeys(o.note for o in f.missing))
