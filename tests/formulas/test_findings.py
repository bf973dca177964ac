"""Margins and states: order, bounds, and that what is not a number never passes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from dryfit.ground.findings import (
    Finding,
    Late,
    State,
    Term,
    calculated,
    finding,
    is_short,
    margin,
    origins,
    state,
)
from dryfit.ground.quantity import Kind, Num, Origin
from dryfit.ground.sources import practice

positive = st.floats(min_value=1e-9, max_value=1e9)
signed = st.floats(min_value=-1e9, max_value=1e9)


def some(demand: Num, capacity: Num, reserve: float = 0.1, cases: tuple[str, ...] | None = None) -> Finding:
    """A finding about nothing in particular."""
    return finding(
        demand=demand, capacity=capacity, cases=cases, reserve=(reserve, practice("a habit")), check="pulls-enough",
        trade="drive", topic="pull", title="Pulls enough", unit="N", demand_name="needed", capacity_name="had",
        late=Late.SHOW, formula="F <= G", terms=(), sources=(), remedy="Pull more",
    )  # fmt: skip


@given(signed, signed)
def test_margin_changes_sign_when_demand_and_capacity_change_places(demand: float, capacity: float) -> None:
    assert margin(demand, capacity) == -margin(capacity, demand)


@given(positive, positive, positive)
def test_margin_falls_with_demand_and_rises_with_capacity(demand: float, capacity: float, more: float) -> None:
    rounding = np.finfo(float).eps  # of a difference over a size: no more than the last binary digit of one
    assert margin(demand + more, capacity) <= margin(demand, capacity) + rounding
    assert margin(demand, capacity + more) >= margin(demand, capacity) - rounding


@given(positive, positive, st.floats(min_value=1e-3, max_value=1e3))
def test_margin_has_no_unit(demand: float, capacity: float, scale: float) -> None:
    assert margin(demand * scale, capacity * scale) == pytest.approx(float(margin(demand, capacity)), abs=1e-12)


@given(positive, positive)
def test_margin_of_sizes_lies_between_minus_one_and_one(demand: float, capacity: float) -> None:
    assert -1 <= margin(demand, capacity) <= 1


@given(signed, signed)
def test_margin_is_at_least_zero_exactly_when_the_demand_is_met(demand: float, capacity: float) -> None:
    assert (margin(demand, capacity) >= 0) == (demand <= capacity)


def test_margin_reads_as_a_share_of_the_larger_one() -> None:
    assert margin(7.0, 10.0) == pytest.approx(0.3)
    assert margin(10.0, 7.0) == pytest.approx(-0.3)
    assert margin(0.0, 0.0) == 0
    assert margin(1.0, 0.0) == -1
    assert margin(5.0, math.inf) == 1
    assert margin(math.inf, 5.0) == -1


@pytest.mark.parametrize(
    ("demand", "capacity"),
    [(math.nan, 1.0), (1.0, math.nan), (math.nan, math.inf), (math.nan, math.nan), (math.inf, math.inf)],
)
def test_what_is_not_a_number_never_passes(demand: float, capacity: float) -> None:
    assert np.isnan(margin(demand, capacity))
    f = some(demand, capacity)
    assert is_short(f)
    assert state(f) is State.SHORT


def test_one_case_that_is_not_a_number_governs() -> None:
    f = some(np.array([1.0, math.nan, 9.0]), np.array([10.0, 10.0, 10.0]), cases=("a", "b", "c"))
    assert np.isnan(f.margin)
    assert f.governing == 1
    assert is_short(f)


def test_unknown_is_what_a_missing_entry_explains() -> None:
    missing = Term("m", "mass", math.nan, "kg", Origin(Kind.MISSING, path="body[0].mass"))
    worked = calculated("F", "weight", math.nan, "N", "m g", [missing])
    f = replace(some(math.nan, 10.0), terms=(worked,))
    assert state(f) is State.UNKNOWN
    assert [o.path for o in f.missing] == ["body[0].mass"]
    assert is_short(f)
    # a missing entry beside a margin that is known to be short does not make it unknown
    assert state(replace(some(20.0, 10.0), terms=(worked,))) is State.SHORT


@pytest.mark.parametrize(
    ("demand", "expected"),
    [(5.0, State.HOLDS), (9.0, State.HOLDS), (9.5, State.TIGHT), (10.0, State.TIGHT), (10.01, State.SHORT)],
)
def test_states(demand: float, expected: State) -> None:
    assert state(some(demand, 10.0)) is expected


@given(st.lists(st.tuples(signed, signed), min_size=1, max_size=5))
def test_many_machines_are_judged_as_each_alone(pairs: list[tuple[float, float]]) -> None:
    assume(pairs)
    demand, capacity = (np.array(column) for column in zip(*pairs, strict=True))
    together = some(demand, capacity)
    alone = [some(float(d), float(c)) for d, c in pairs]
    assert together.demand.shape == (len(pairs), 1)
    np.testing.assert_array_equal(together.margin, [float(f.margin) for f in alone])
    np.testing.assert_array_equal(is_short(together), [bool(is_short(f)) for f in alone])


def test_cases_must_match_the_numbers() -> None:
    with pytest.raises(ValueError, match="2 cases"):
        some(np.ones(3), np.ones(3), cases=("a", "b"))


def test_origins_come_once_and_in_order() -> None:
    a = Term("a", "a", 1.0, "m", Origin(Kind.DESIGN, path="a", line=1))
    b = Term("b", "b", 1.0, "m", Origin(Kind.DESIGN, path="b", line=2))
    c = calculated("c", "c", 2.0, "m", "a + b", [a, b])
    assert [o.path for o in origins([c, b, a])] == ["a", "b"]
