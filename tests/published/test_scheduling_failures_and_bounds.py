"""The time that a print takes with failures, and the share-out of plates, against published results.

- "Expected duration of completing a task experiencing exponential distributed failures", question 2782358 of a public
  mathematics question-and-answer site, the accepted answer: the wait before a task of length T is completed is a sum of
  terms d, then a b^(i-2) c for i = 2, 3, ... with a = 1 - exp(-lT), b = 1 - exp(-l(T + R)),
  c = (1 - exp(-l(T + R)) (1 + l(T + R))) / l, and d = integral 0..T of x l exp(-l x) dx; R is the wait after a failure,
  here none.
- R. L. Graham, Bounds on multiprocessing timing anomalies (1969): 5, 5, 4, 4, 3, 3, 3 on three machines take 9, where
  longest-first takes 11 (from memory).
- Chance: prints that fail at random, played out many times.
"""

from __future__ import annotations

import math
from datetime import date, datetime, time

import numpy as np
import pytest

from dryfit.machine.calendar import Calendar, Hours
from dryfit.making.printing_order import (
    Sharing,
    best_order,
    bound,
    rank,
    time_seen_late,
    time_with_failures,
)

HOUR = 3600.0


@pytest.mark.parametrize("hours", [0.5, 4.0, 16.0, 40.0])
@pytest.mark.parametrize("in_100_hours", [0.5, 2.0, 10.0])
def test_restart_as_a_sum_of_waits(hours: float, in_100_hours: float) -> None:
    t, rate, wait_after = hours, in_100_hours / 100, 0.0
    a = 1 - math.exp(-rate * t)
    b = 1 - math.exp(-rate * (t + wait_after))
    c = (1 - math.exp(-rate * (t + wait_after)) * (1 + rate * (t + wait_after))) / rate
    d = (1 - math.exp(-rate * t) * (1 + rate * t)) / rate
    wait = d + sum(a * b ** (i - 2) * c for i in range(2, 4000))
    assert time_with_failures(t * HOUR, rate / HOUR) == pytest.approx((wait + t) * HOUR, rel=1e-9)


@pytest.mark.parametrize("hours", [2.0, 16.0, 30.0])
def test_against_prints_played_out(hours: float) -> None:
    """20,000 prints, failures by dice at 4 in 100 h: seen as they happen, and seen at the planned end."""
    rng = np.random.default_rng(11)
    rate, count = 0.04, 20000
    at_once, at_end = np.zeros(count), np.zeros(count)
    going = np.ones(count, dtype=bool)
    while going.any():
        fails = rng.exponential(1 / rate, count)
        at_once += going * np.minimum(fails, hours)
        at_end += going * hours
        going &= fails < hours
    for played, formula in ((at_once, time_with_failures), (at_end, time_seen_late)):
        error = played.std() / math.sqrt(count)
        assert abs(played.mean() - formula(hours * HOUR, rate / HOUR) / HOUR) < 4 * error


def test_small_rates_add_half_the_square() -> None:
    """(exp(x) - 1) / x = 1 + x / 2 + ...: a print of 10 h at 0.01 in 100 h is lost half done one time in a thousand."""
    assert time_with_failures(10 * HOUR, 1e-4 / HOUR) / HOUR - 10 == pytest.approx(10 * 1e-3 / 2, rel=1e-3)


def test_grahams_example_is_solved_and_proved() -> None:
    minutes = (5, 5, 4, 4, 3, 3, 3)
    always = Calendar(date(2027, 3, 8), tuple(range(7)), time(0), time(23, 59))
    sharing = Sharing(
        Hours(always, datetime(2027, 3, 8)), (2,) * 7, tuple((m,) * 3 for m in minutes), (0, 0, 0), (0, 0, 0)
    )
    order, every = best_order(sharing)
    assert not every  # found by search
    assert rank(sharing, order)[0] == 9
    assert bound(sharing, 9) == 9  # and proved


def test_first_plan_alone_is_the_longest_first_of_the_example() -> None:
    from dryfit.making.printing_order import _first_plan

    minutes = (5, 5, 4, 4, 3, 3, 3)
    always = Calendar(date(2027, 3, 8), tuple(range(7)), time(0), time(23, 59))
    sharing = Sharing(
        Hours(always, datetime(2027, 3, 8)), (2,) * 7, tuple((m,) * 3 for m in minutes), (0, 0, 0), (0, 0, 0)
    )
    assert rank(sharing, tuple(tuple(q) for q in _first_plan(sharing)))[0] == 11
