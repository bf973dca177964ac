"""Every finding of every example is told in full: where its numbers stand, who says so, what to do, how to change it.

The rules are those of docs/adding-a-trade.md and of the classes in ground/findings.py.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

import numpy as np
import pytest

from dryfit.assess.assess import assess
from dryfit.assess.report import Report
from dryfit.design.read import read_design
from dryfit.design.records import Design
from dryfit.design.values import Value, dimension_at, value_at, with_values
from dryfit.ground import units
from dryfit.ground.errors import DesignError
from dryfit.ground.findings import Finding, Late, Term, Workings, origins
from dryfit.ground.quantity import Kind, Origin, Quantity
from dryfit.jobs.check import check, example
from dryfit.machine.machine import resolve
from dryfit.views.words import remedy_of

EXAMPLES = ("sunbloom", "gangway", "drift", "beacon")


@cache
def design(name: str) -> Design:
    return read_design(example(name))


@cache
def report(name: str) -> Report:
    return check(example(name)).report


ALL = [(name, f.check) for name in EXAMPLES for f in report(name).findings]


def finding(name: str, check_id: str, of: Report | None = None) -> Finding:
    return next(f for f in (of or report(name)).findings if f.check == check_id)


def leaves(terms: tuple[Term, ...]) -> Iterator[Term]:
    for t in terms:
        if isinstance(t.origin, Workings):
            assert t.origin.formula, f"{t.symbol}: worked out without a formula"
            yield from leaves(t.origin.terms)
        else:
            yield t


@pytest.mark.parametrize("name", EXAMPLES)
def test_ids_are_words_and_unique(name: str) -> None:
    ids = [f.check for f in report(name).findings]
    assert len(ids) == len(set(ids))
    assert [i for i in ids if not re.fullmatch(r"[a-z]+[a-z0-9]*(-[a-z0-9]+)+|contact-ratio", i)] == []


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_trade_has_a_few_topics_each_a_short_noun_phrase(name: str) -> None:
    for f in report(name).findings:
        assert f.topic == f.topic.lower().strip()
        assert 1 <= len(f.topic.split()) <= 5


@pytest.mark.parametrize(("name", "check_id"), ALL)
def test_finding_is_told_in_full(name: str, check_id: str) -> None:
    f = finding(name, check_id)
    assert f.title == f.title.strip()
    assert f.title[:1].isupper()
    assert not f.title.endswith(".")
    assert f.sources
    assert f.remedy
    assert f.demand_name
    assert f.capacity_name
    assert f.formula
    assert isinstance(f.late, Late)
    assert f.unit in units.SI or f.unit == "%"
    assert f.reserve.fraction >= 0
    assert f.reserve.origin.note, "the reserve does not say who asks for it"
    assert len(set(f.cases)) == len(f.cases), f"two cases share a label: {f.cases}"


@pytest.mark.parametrize(("name", "check_id"), ALL)
def test_every_number_of_the_workings_has_its_place(name: str, check_id: str) -> None:
    for t in leaves(finding(name, check_id).terms):
        o = t.origin
        assert isinstance(o, Origin)
        assert t.unit in units.SI or t.unit == "%", f"{t.symbol}: {t.unit} is not shown by any dimension"
        assert t.name
        told = {
            Kind.DESIGN: o.line > 0 and o.text != "",
            Kind.CATALOGUE: o.path != "" and o.source is not None,
            Kind.DEFAULT: o.note != "",
            Kind.MISSING: o.note != "",
            Kind.RULE: o.source is not None or o.note != "",
        }
        assert told[o.kind], f"{t.symbol} ({t.name}): {o}"


@pytest.mark.parametrize(("name", "check_id"), ALL)
def test_cited_lines_hold_the_text_that_is_cited(name: str, check_id: str) -> None:
    lines = example(name).read_text(encoding="utf-8").splitlines()
    for o in origins(finding(name, check_id).terms):
        if o.kind is Kind.DESIGN:
            assert o.text.strip() in lines[o.line - 1], f"{o.path}: line {o.line} does not hold {o.text!r}"


@pytest.mark.parametrize(("name", "check_id"), ALL)
def test_remedy_names_only_numbers_that_are_there(name: str, check_id: str) -> None:
    f = finding(name, check_id)
    words = remedy_of(f)
    assert "{" not in words
    assert "}" not in words

    def symbols(terms: tuple[Term, ...]) -> Iterator[str]:
        for t in terms:
            yield t.symbol
            if isinstance(t.origin, Workings):
                yield from symbols(t.origin.terms)

    known = set(symbols(f.terms))
    assert set(re.findall(r"\{([^{}]+)\}", f.remedy)) <= known


# --- what the user can change -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EXAMPLES)
def test_reserves_entry_changes_its_own_check(name: str) -> None:
    """All checks at once, each asked for a reserve of its own."""
    ids = [f.check for f in report(name).findings]
    lines = {check_id: Origin(Kind.DESIGN, path=f"reserves.{check_id}", line=n) for n, check_id in enumerate(ids, 1)}
    asked = {check_id: Quantity(0.3 + o.line / 1000, "share", o) for check_id, o in lines.items()}
    d = design(name).model_copy(update={"reserves": asked})
    for f in assess(resolve(d, example(name))).findings:
        assert f.reserve.fraction == asked[f.check].si
        assert f.reserve.origin.line == asked[f.check].origin.line
        assert f.reserve.origin.note


@pytest.mark.parametrize("name", EXAMPLES)
def test_reserve_of_a_check_that_does_not_exist_is_refused_with_the_nearest(name: str) -> None:
    asked = Quantity(0.37, "share", Origin(Kind.DESIGN, path="reserves.tilt-bord", line=7, text="37 %"))
    d = design(name).model_copy(update={"reserves": {"tilt-bord": asked}})
    with pytest.raises(DesignError, match="tilt-board"):
        assess(resolve(d, example(name)))


def limits() -> list[str]:
    """Every `limits:` field that any example takes, typed or by default."""
    found: dict[str, None] = {}
    for name in EXAMPLES:
        machine = resolve(design(name), example(name))
        found |= dict.fromkeys(p for p in machine.origins if ".limits." in p)
    return list(found)


def differ(many: Finding, drawn: Finding) -> bool:
    pairs = ((many.demand, drawn.demand), (many.capacity, drawn.capacity))
    return any(not np.array_equal(np.broadcast_to(b, a.shape), a, equal_nan=True) for a, b in pairs)


IN_FORCE_IF: dict[str, tuple[str, dict[str, Value]]] = {
    "safety.limits.ground_clearance": ("sunbloom", {"safety.ground_clearance": "35 mm"}),
    "safety.limits.close_speed": ("sunbloom", {"brief.public_distance": "0.4 m"}),
    "safety.limits.finger_gap": ("sunbloom", {"safety.gaps[0].smallest": "0 mm", "safety.gaps[0].widest": "4.1 mm"}),
    "control.limits.blocked_time": ("beacon", {"control.functions[5].needs": "receiver"}),
    "base.axle.limits.axial_play": ("sunbloom", {
        "base.axle.locating": "both fixed", "base.axle.expansion_mismatch": 3.4e-5}),
    "base.axle.limits.seat_clearance": (
        "sunbloom", {"base.axle.housing": "printed seat", "base.axle.bearing.item": "6004"}),
}  # fmt: skip
"""Limits that no example as drawn comes under: a change to one that makes them count."""

NOT_SHOWN = {"power.limits.dip_time": "counts where a motor start is the lowest state of the bus, which it is in none"}


@pytest.mark.parametrize("path", [p for p in limits() if p not in NOT_SHOWN])
def test_limit_changes_its_check(path: str) -> None:
    """Moved by a tenth (temperatures by 3 K) either way, it moves the demand or the capacity of a check somewhere."""
    moved: set[str] = set()
    planted = IN_FORCE_IF.get(path)
    for name in EXAMPLES if planted is None else planted[:1]:
        d = design(name) if planted is None else with_values(design(name), planted[1])
        machine = resolve(d, example(name))
        if path not in machine.origins:
            continue
        drawn = {f.check: f for f in assess(machine).findings}
        typed, dimension = value_at(d, path), dimension_at(d, path)
        start = float(typed.si) if typed is not None else units.read(machine.origins[path].text, dimension)[0]
        many = np.array([1.1 * start, 0.9 * start]) if not dimension.offsets else start + np.array([3.0, -3.0])
        many = np.round(many) if dimension.whole else np.minimum(many, dimension.high)
        values = list(many) if dimension.whole else [many]
        for value in values:
            findings = assess(resolve(with_values(d, {path: value}), example(name))).findings
            moved |= {f.check for f in findings if differ(f, drawn[f.check])}
        if moved:
            break
    assert moved, f"{path} changes nothing in any example"
