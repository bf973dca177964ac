"""Readings at the bench: laws that hold whatever the numbers are."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryfit.trades.bench import formulas as f

some = st.floats(0.1, 10)


@given(some, some)
def test_no_drag_leaves_the_sheet(free, stall):
    """Without drag, at the sheet's volts, a motor runs free as its sheet says."""
    assert f.free_run_current(free, 0.0, 3.0, free + stall) == pytest.approx(free)
    assert f.free_run_speed(12.0, free, 0.3, 12.0, free, 30.0) == pytest.approx(30.0)


@given(st.floats(0, 0.5), st.floats(0, 0.5))
def test_more_drag_costs_current_and_speed(low, high):
    low, high = sorted((low, high))
    currents = [f.free_run_current(0.5, d, 3.0, 11.0) for d in (low, high)]
    speeds = [f.free_run_speed(12.0, i, 1.0, 12.0, 0.5, 30.0) for i in currents]
    assert currents[0] <= currents[1]
    assert speeds[0] >= speeds[1]


@given(some, some, some, some)
def test_a_run_is_never_shorter_than_at_full_speed(way, speed, up, down):
    time = float(f.run_time(way, speed, up, down))
    assert time >= way / speed
    # harder ramps and more speed never take longer
    assert f.run_time(way, speed, 2 * up, down) <= time * (1 + 1e-12)
    assert f.run_time(way, 2 * speed, up, down) <= time * (1 + 1e-12)


def test_a_run_does_not_jump_where_the_trapezoid_becomes_a_triangle():
    ways = 0.5**2 / 2 * (1 / 0.4 + 1 / 0.7) * np.array([1 - 1e-9, 1 + 1e-9])
    assert np.ptp(f.run_time(ways, 0.5, 0.4, 0.7)) < 1e-8


def test_what_does_not_move_never_arrives():
    assert f.run_time(3.0, 0.0, 0.4, 0.4) == np.inf
    assert np.isnan(f.run_time(3.0, np.nan, 0.4, 0.4))


@given(st.floats(8, 14), st.floats(0.5, 2))
def test_regulators_keep_their_output_or_follow_their_input(volts, dropout):
    found = f.regulated_volts(volts, 7.4, dropout)
    assert found == pytest.approx(min(7.4, volts - dropout))
    assert f.regulated_volts(volts, 15.0, -np.inf) == 15.0


@given(st.floats(-3, 3), st.floats(0.1, 0.9))
def test_rollers_never_hold_more_than_tyres(way, friction):
    load, line = np.array([80.0, 120.0, 100.0]), np.array([0.5, 2.6, -1.6])
    locked = np.ones(3)
    rolling = f.slip_pull(friction, load, line, np.ones(3), locked, way)
    assert rolling <= f.slip_pull(friction, load, line, np.zeros(3), locked, way) + 1e-9
    # to pull backwards takes as much
    assert f.slip_pull(friction, load, line, np.ones(3), locked, way + np.pi) == pytest.approx(rolling)


def test_a_wheel_that_turns_holds_nothing():
    load, line = np.array([80.0, 120.0]), np.zeros(2)
    assert f.slip_pull(0.5, load, line, np.zeros(2), np.array([1.0, 0.0]), 0.0) == pytest.approx(40.0)


def test_a_collapsed_source_is_not_known():
    assert np.isnan(f.regulated_volts(f.volts_into(5.0, 1.0, 100.0), 5.0, 1.0))


def test_a_reading_without_end_has_no_known_half_width() -> None:
    """A stop that never comes: no warning, and nothing that could pass for a number."""
    from dryfit.trades.bench.checks_terms import instrument

    assert np.isnan(instrument("a tape", np.inf, "m", 5e-3, 0.0).value)
    assert instrument("a tape", 2.0, "m", 5e-3, 0.0).value == 5e-3
