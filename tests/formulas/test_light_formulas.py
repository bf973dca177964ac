"""Light: arrays equal single values; invariances; NaN stays."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryfit.trades.light import formulas

RNG = np.random.default_rng(3)
N = 7


def sample(low: float, high: float) -> np.ndarray:
    return RNG.uniform(low, high, N)


def four_strips(radius, source, pitch):  # type: ignore[no-untyped-def]
    return formulas.tube_ripples(radius, source, pitch, 4)


@pytest.mark.parametrize(
    ("formula", "arguments"),
    [
        (formulas.scene_current, [sample(10, 300), sample(0, 1), sample(0.03, 0.06), sample(0, 0.002)]),
        (formulas.unclocked_frame_time, [sample(10, 300), sample(24, 32), sample(1e-6, 2e-6), sample(0, 3e-4)]),
        (formulas.clocked_frame_time, [sample(10, 300), sample(24, 32), sample(1e-7, 2e-7)]),
        (formulas.edge_time, [sample(100, 500), sample(1e-11, 2e-10), sample(2, 5), sample(1, 4)]),
        (formulas.row_ripple, [sample(0.005, 0.04), sample(0.007, 0.03)]),
        (four_strips, [sample(0.03, 0.08), sample(0.01, 0.02), sample(0.01, 0.03)]),
        (formulas.core_resistance, [sample(0.05, 0.2), sample(0.1, 0.5), sample(0.1, 0.2)]),
        (formulas.tube_luminance, [sample(100, 5000), sample(0.2, 0.9), sample(0.1, 0.5)]),
    ],
)  # fmt: skip
def test_an_array_equals_its_elements(formula, arguments) -> None:  # type: ignore[no-untyped-def]
    together = np.asarray(formula(*arguments))
    single = np.asarray([formula(*(a[n] for a in arguments)) for n in range(N)])
    assert together == pytest.approx(np.moveaxis(single, 0, -1) if together.ndim > 1 else single, rel=1e-12, abs=1e-15)


@pytest.mark.parametrize("places", [1, 2, 4])
def test_ladders_of_many_machines_equal_single_ones(places: int) -> None:
    pitch, number = sample(0.01, 0.03), np.floor(sample(5, 90))
    feeds = np.sort(RNG.uniform(0, 1, (N, places)), axis=-1) * (pitch * number)[:, None]
    r, i = sample(0.05, 0.3), sample(0.01, 0.06)
    drops, edges = formulas.ladder_drops(pitch / 2, pitch, number, feeds, r, i)
    for n in range(N):
        drop, edge = formulas.ladder_drops(pitch[n] / 2, pitch[n], number[n], feeds[n], r[n], i[n])
        assert (drop, edge) == pytest.approx((drops[n], edges[n]), rel=1e-12)


@given(st.lists(st.floats(0, 0.9), min_size=1, max_size=4), st.floats(0, 0.9))
def test_one_more_feed_never_deepens_the_drop(feeds: list[float], another: float) -> None:
    few = formulas.ladder_drops(1 / 120, 1 / 60, 54, np.sort(feeds), 0.1, 0.05)[0]
    more = formulas.ladder_drops(1 / 120, 1 / 60, 54, np.sort([*feeds, another]), 0.1, 0.05)[0]
    assert more <= few + 1e-12


@given(st.lists(st.floats(0, 0.9), min_size=1, max_size=4))
def test_a_strip_may_be_turned_round(feeds: list[float]) -> None:
    places = np.sort(feeds)
    one = formulas.ladder_drops(1 / 120, 1 / 60, 54, places, 0.1, 0.05)[0]
    other = formulas.ladder_drops(1 / 120, 1 / 60, 54, (0.9 - places)[::-1], 0.1, 0.05)[0]
    assert one == pytest.approx(other, abs=1e-9)


@given(st.floats(0.3, 3), st.floats(1.01, 2))
def test_farther_away_is_never_less_even(distance: float, farther: float) -> None:
    assert formulas.row_ripple(distance * farther, 1.0)[1] <= formulas.row_ripple(distance, 1.0)[1]


def test_unknown_numbers_stay_unknown() -> None:
    nan = float("nan")
    assert np.isnan(formulas.edge_time(330.0, 1e-10, nan, 3.5))
    assert np.isnan(formulas.ladder_drops(0.01, nan, 50, np.array([0.0]), 0.1, 0.05)[0])
    assert np.isnan(formulas.ladder_drops(0.01, 0.02, 50, np.array([0.0, 1.0]), nan, 0.05)[0])
    assert np.all(np.isnan(formulas.tube_ripples(nan, 0.014, 0.016, 4)))


def test_an_edge_that_never_reaches_the_threshold() -> None:
    assert np.isinf(formulas.edge_time(330.0, 1e-10, 3.3, 3.5))


@given(st.floats(0.005, 0.2), st.floats(0.01, 0.4))
def test_the_pitch_named_gives_the_ripple_asked_for(distance: float, ripple: float) -> None:
    pitch = formulas.pitch_that_hides(distance, ripple)
    assert formulas.row_ripple(distance, pitch)[1] == pytest.approx(ripple, rel=2e-3)


@given(st.floats(0.02, 0.06), st.floats(0, 0.002), st.floats(0, 1))
def test_the_highest_level_draws_the_limit(full: float, dark: float, level: float) -> None:
    count = np.array([54.0, 216.0])
    limit = float(np.sum(formulas.scene_current(count, level, full, dark)))
    assert formulas.highest_level(count, full, dark, limit) == pytest.approx(level, abs=1e-9)
    assert formulas.level_of(formulas.scene_current(1, level, full, dark), full, dark) == pytest.approx(level, abs=1e-9)
