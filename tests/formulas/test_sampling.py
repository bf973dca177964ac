"""Points, chances and shares against closed forms and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.stats import qmc

from dryfit.studies.sampling import EVEN, chance, points, sets_of
from dryfit.studies.sensitivity import Binned, binned, direction, doubt_left, first_order, sure_run, total_share


@pytest.mark.parametrize("draws", [256, 300, 1000, 16384, 20000, 65535, 65536, 100000])
def test_draws_are_split_into_enough_even_sets(draws: int) -> None:
    sets, size = sets_of(draws)
    assert sets >= 16
    assert size & (size - 1) == 0
    assert draws <= sets * size <= draws * 17 / 16 + size


@pytest.mark.parametrize("dimensions", [1, EVEN, EVEN + 5])
def test_every_number_is_drawn_evenly(dimensions: int) -> None:
    """In every dimension one point falls into each of n equal parts."""
    unit = points(dimensions, 64, 5, 0)
    assert unit.shape == (64, dimensions)
    assert np.array_equal(np.sort((unit * 64).astype(int), axis=0), np.tile(np.arange(64)[:, None], dimensions))


def test_points_are_more_even_than_independent_ones() -> None:
    """Centred discrepancy as scipy.stats.qmc has it."""
    independent = np.random.default_rng(1).random((256, 4))
    assert qmc.discrepancy(points(4, 256, 1, 0)) < qmc.discrepancy(independent) / 3


def test_points_go_with_seed_and_set_alone() -> None:
    assert np.array_equal(points(30, 32, 9, 4), points(30, 32, 9, 4))
    assert not np.array_equal(points(30, 32, 9, 4), points(30, 32, 9, 5))
    assert not np.array_equal(points(30, 32, 9, 4), points(30, 32, 8, 4))


@pytest.mark.parametrize(("held", "of"), [(0, 160), (3, 160), (80, 160), (157, 160), (160, 160)])
def test_the_interval_of_equal_sets_is_wilson_s(held: int, of: int) -> None:
    """scipy.stats.binomtest(...).proportion_ci(method="wilson"), of draws in one set."""
    found = chance(np.array([float(held)]), np.array([float(of)]))
    theirs = stats.binomtest(held, of).proportion_ci(0.95, method="wilson")
    assert (found.low, found.high) == pytest.approx((theirs.low, theirs.high), abs=1e-12)
    assert found.low < found.high
    assert found.value == held / of


def test_sets_that_differ_widen_the_interval() -> None:
    """Student's t over the sets, from scipy.stats.ttest_1samp."""
    parts = np.array([0.2, 0.8] * 8)
    found = chance(parts * 1000, np.full(16, 1000.0))
    theirs = stats.ttest_1samp(parts, 0.5).confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


def test_no_draws_no_knowledge() -> None:
    found = chance(np.zeros(16), np.zeros(16))
    assert np.isnan(found.value)
    assert (found.low, found.high) == (0.0, 1.0)


@pytest.mark.parametrize("limit", [0.6, 1.0, 1.5, 2.1, 2.6])
def test_the_interval_holds_the_truth_often_enough(limit: float) -> None:
    """Chance that three uniform numbers sum to no more than a limit: the distribution of Irwin and Hall, closed form
    F(x) = Σ (-1)^k C(3,k) (x-k)³/6."""
    truth = sum((-1) ** k * c * max(limit - k, 0.0) ** 3 / 6 for k, c in enumerate((1, 3, 3, 1)))
    inside = 0
    for seed in range(60):
        held = [float(np.sum(np.sum(points(3, 32, seed, k), axis=1) <= limit)) for k in range(16)]
        found = chance(np.array(held), np.full(16, 32.0))
        inside += found.low <= truth <= found.high
    # 95 in 100 are promised; fewer than 53 of 60 would then come about once in a thousand times (binomial)
    assert stats.binom.cdf(52, 60, 0.95) < 0.02
    assert inside >= 53


WEIGHTS = np.array([3.0, -2.0, 1.0, 0.0])


def test_shares_of_a_sum_are_exact() -> None:
    """Of Σ w u with independent uniform u the share of each is w²/Σw² (closed form), alone as with others."""
    unit = np.concatenate([points(8, 1024, 2, k) for k in range(16)])
    y = unit[:, :4] @ WEIGHTS[:, None]
    expected = WEIGHTS**2 / np.sum(WEIGHTS**2)
    for i in range(4):
        by_bin = binned(unit[:, i], y)
        assert float(first_order(by_bin, np.var(y, axis=0))[0]) == pytest.approx(expected[i], abs=0.01)
        assert float(direction(by_bin)[0]) == np.sign(WEIGHTS[i])
        anew = unit[:, :4].copy()
        anew[:, i] = unit[:, 4 + i]
        assert float(total_share(y, anew @ WEIGHTS[:, None])[0]) == pytest.approx(expected[i], abs=0.01)


def test_an_input_that_does_nothing_has_no_share() -> None:
    """One number decides all; none of 200 others may look as if it had a hand in it, however the points fall."""
    unit = np.concatenate([points(201, 1024, 3, k) for k in range(16)])
    y = unit[:, [0]] ** 2
    shares = [float(first_order(binned(unit[:, i], y), np.var(y, axis=0))[0]) for i in range(201)]
    assert shares[0] == pytest.approx(1.0, abs=0.005)
    assert max(np.abs(shares[1:])) < 0.01


def test_what_does_not_vary_has_no_shares() -> None:
    unit = points(1, 64, 1, 0)[:, 0]
    flat = np.ones((64, 2))
    assert np.array_equal(first_order(binned(unit, flat), np.var(flat, axis=0)), [0.0, 0.0])
    assert np.array_equal(total_share(flat, flat), [0.0, 0.0])
    assert np.array_equal(direction(binned(unit, flat)), [0.0, 0.0])


def test_the_doubt_left_when_one_number_is_known() -> None:
    """u1 + u2 ≤ 1: the chance given u1 is 1 - u1, so the doubt left is the mean of u (1 - u), 1/6, of 1/4 (closed
    form); u1 ≤ 1/2 is settled by u1 wholly."""
    unit = np.concatenate([points(2, 1024, 4, k) for k in range(16)])
    yes = np.column_stack((unit.sum(axis=1) <= 1, unit[:, 0] <= 0.5)).astype(float)
    assert doubt_left(binned(unit[:, 0], yes)) == pytest.approx([1 / 6, 0.0], abs=2e-3)
    assert doubt_left(binned(unit[:, 1], yes)) == pytest.approx([1 / 6, 0.25], abs=2e-3)


def test_doubt_left_is_not_biased_by_few_draws() -> None:
    """An answer that has nothing to do with the number: all of p (1 - p) is left, also with two draws a bin."""
    rng = np.random.default_rng(6)
    left = [
        float(doubt_left(binned((np.arange(64) + 0.5) / 64, (rng.random((64, 1)) < 0.3).astype(float)))[0])
        for _ in range(2000)
    ]
    assert np.mean(left) == pytest.approx(0.21, abs=0.005)


@pytest.mark.parametrize(
    ("chances", "stretch"),
    [((1.0, 0.2, 0.97, 0.96), (0.5, 1.0)), ((0.1, 0.2, 0.2, 0.1), (0.0, 0.0)), ((1.0, 1.0, 1.0, 1.0), (0.0, 1.0))],
)
def test_the_longest_sure_stretch(chances: tuple[float, ...], stretch: tuple[float, float]) -> None:
    by_bin = Binned(np.array(chances)[:, None], np.full(4, 300.0))
    assert sure_run(by_bin, 0) == stretch


def test_bins_of_few_draws_are_taken_together() -> None:
    """Of four bins of 128, two and two: means 0.97 and 0.5."""
    by_bin = Binned(np.array([[1.0], [0.94], [0.6], [0.4]]), np.full(4, 128.0))
    assert sure_run(by_bin, 0) == (0.0, 0.5)
