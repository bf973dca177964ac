"""Stability formulas: arrays equal the loop, invariances, monotonicity, NaN never passes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryfit.ground.edges import joint_drop, met_radius
from dryfit.ground.units import STANDARD_GRAVITY
from dryfit.trades.stability import formulas as s

RNG = np.random.default_rng(11)


def ring(count: int, radius: float, first: float = 0.0) -> np.ndarray:
    a = first + np.arange(count) * 2 * np.pi / count
    return np.stack([radius * np.cos(a), radius * np.sin(a)], axis=-1)


def tipping(points: np.ndarray, centre: np.ndarray, height: np.ndarray) -> np.ndarray:
    normal, offset = s.support_edges(points)
    return s.tipping_acceleration(normal, s.edge_distances(normal, offset, centre), height)


def test_many_machines_at_once_equal_the_loop() -> None:
    points, centre, height = (
        RNG.uniform(-0.4, 0.4, (40, 6, 2)),
        RNG.uniform(-0.1, 0.1, (40, 3, 2)),
        RNG.uniform(0.2, 1, (40, 3)),
    )
    together = tipping(points, centre, height)
    for k in range(40):
        np.testing.assert_allclose(together[k], tipping(points[k], centre[k], height[k]), rtol=1e-12, atol=1e-14)


def test_every_other_formula_equals_its_loop() -> None:
    n = 7
    m, b, h, v, i, slope = (RNG.uniform(0.1, 1.0, n) for _ in range(6))
    radius, roller, width = RNG.uniform(0.05, 0.1, n), RNG.uniform(0.01, 0.02, n), RNG.uniform(0.002, 0.2, n)
    for formula, arguments in (
        (s.tip_angle, (b, h)),
        (s.slope_acceleration, (b, h, slope)),
        (s.push_moment, (m, b, h)),
        (s.energy_to_tip, (m, b, h)),
        (s.energy_of_blow, (m, v, b, h, i)),
        (met_radius, (radius, roller, slope)),
        (joint_drop, (width, radius)),
    ):
        together = formula(*arguments)
        alone = [formula(*(float(x[k]) for x in arguments)) for k in range(n)]
        np.testing.assert_allclose(together, alone, rtol=1e-12, err_msg=formula.__name__)
        assert all(np.ndim(x) == 0 for x in alone)


def test_wheel_formulas_equal_their_loop() -> None:
    n, w = 6, 4
    position, heading, gap = RNG.uniform(-0.4, 0.4, (n, w, 2)), RNG.uniform(-3, 3, (n, w)), RNG.uniform(0, 0.03, (n, w))
    mass, trail = RNG.uniform(10, 40, n), RNG.uniform(0, 0.03, (n, w))
    run_out, height = RNG.uniform(0, 3e-4, (n, w)), RNG.uniform(0.5, 2, n)
    spread = np.array([0.02, 0.4, 0.15])
    part_mass, part_centre = RNG.uniform(0.1, 3, (n, 3)), RNG.uniform(-1, 1, (n, 3, 3))
    inertia, normal = RNG.uniform(0, 1, (n, 2, 3, 3)), RNG.uniform(-1, 1, (n, w, 2))
    for k in range(n):
        for together, alone in (
            (
                s.contact_points(position, heading, gap, trail)[k],
                s.contact_points(position[k], heading[k], gap[k], trail[k]),
            ),
            (s.tilt_per_lift(position)[k], s.tilt_per_lift(position[k])),
            (s.top_sway(position, run_out, height)[k], s.top_sway(position[k], run_out[k], height[k])),
            (
                s.centre_half_width(part_mass, part_centre, spread, mass)[k],
                s.centre_half_width(part_mass[k], part_centre[k], spread, mass[k]),
            ),
            (s.inertia_about(normal, inertia)[k], s.inertia_about(normal[k], inertia[k])),
        ):
            np.testing.assert_allclose(together, alone, rtol=1e-12, atol=1e-14)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 71), st.permutations(range(5)))
def test_turning_the_machine_turns_the_answer_and_the_order_of_wheels_does_not_matter(
    steps: int, order: list[int]
) -> None:
    points = np.array([[0.3, 0.02], [0.1, 0.28], [-0.3, 0.2], [-0.25, -0.2], [0.15, -0.3]])
    centre, height = np.array([[0.03, -0.02]]), np.array([0.6])
    angle = s.ANGLES[steps]
    spin = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    turned = tipping((points @ spin)[order], centre @ spin, height)
    np.testing.assert_allclose(turned, np.roll(tipping(points, centre, height), steps, axis=-1), rtol=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.1, 1.5), st.floats(1.001, 2.0))
def test_a_higher_centre_tips_sooner_and_a_wider_circle_later(height: float, factor: float) -> None:
    centre = np.zeros((1, 2))
    low, high = (tipping(ring(3, 0.3), centre, np.array([h])) for h in (height, height * factor))
    wide = tipping(ring(3, 0.3 * factor), centre, np.array([height]))
    assert np.all(high < low)
    assert np.all(wide > low)
    np.testing.assert_allclose(high * factor, low, rtol=1e-12)


def test_weakest_direction_of_three_wheels_is_across_the_middle_of_an_edge() -> None:
    a = tipping(ring(3, 0.3), np.zeros((1, 2)), np.array([0.412]))[0]
    assert np.argmin(a) in (12, 36, 60)
    np.testing.assert_allclose(a.min(), STANDARD_GRAVITY * 0.15 / 0.412)
    np.testing.assert_allclose(a.max(), STANDARD_GRAVITY * 0.3 / 0.412)


def test_a_centre_outside_the_support_holds_in_no_direction() -> None:
    assert np.all(tipping(ring(3, 0.3), np.array([[0.2, 0.2]]), np.array([0.5])) == 0)


@pytest.mark.parametrize("wheels", [0, 1, 2])
def test_too_few_wheels_never_stand(wheels: int) -> None:
    assert np.all(tipping(ring(3, 0.3)[:wheels], np.zeros((1, 2)), np.array([0.5])) == 0)


def test_contacts_within_the_hull_or_on_an_edge_or_twice_change_nothing() -> None:
    square = np.array([[0.2, 0.2], [-0.2, 0.2], [-0.2, -0.2], [0.2, -0.2]])
    more = np.concatenate([square, [[0.05, 0.01], [0.2, 0.0], [-0.2, 0.2]]])
    centre, height = np.array([[0.03, 0.05]]), np.array([0.5])
    np.testing.assert_allclose(tipping(more, centre, height), tipping(square, centre, height), rtol=1e-12)


def test_nan_never_passes() -> None:
    nan = np.nan
    assert np.all(np.isnan(tipping(ring(3, 0.3), np.array([[nan, 0.0]]), np.array([0.5]))))
    assert np.all(np.isnan(tipping(ring(3, 0.3), np.zeros((1, 2)), np.array([nan]))))
    broken = ring(3, 0.3)
    broken[1, 0] = nan
    assert not np.any(tipping(broken, np.zeros((1, 2)), np.array([0.5])) > 0)
    for value in (s.tip_angle(nan, 0.5), s.energy_to_tip(nan, 0.1, 0.5), s.energy_to_tip(2.0, nan, 0.5),
                  s.slope_acceleration(0.1, nan, 0.1), joint_drop(nan, 0.1), s.push_moment(nan, 1, 2)):  # fmt: skip
        assert np.isnan(value) or value == 0.1, value


def test_two_rows_of_rollers_touch_on_the_inner_one() -> None:
    p = ring(3, 0.3, np.pi / 3)
    heading = np.arctan2(p[:, 1], p[:, 0]) + np.pi / 2
    inner = s.contact_points(p, heading, np.full(3, 0.022), np.zeros(3))
    np.testing.assert_allclose(np.hypot(*inner.T), 0.289)
    np.testing.assert_allclose(np.hypot(*s.contact_points(p, heading + np.pi, np.full(3, 0.022), np.zeros(3)).T), 0.289)


def test_a_caster_touches_the_floor_its_trail_nearer_to_the_middle() -> None:
    p = np.array([[0.0, 0.2], [0.0, -0.2], [0.19, 0.0], [-0.19, 0.0]])
    touching = s.contact_points(p, np.zeros(4), np.zeros(4), np.array([0.0, 0.0, 0.03, 0.03]))
    np.testing.assert_allclose(touching, [[0.0, 0.2], [0.0, -0.2], [0.16, 0.0], [-0.16, 0.0]])


def test_no_rest_of_energy_where_it_cannot_be_tipped_back() -> None:
    assert s.energy_to_tip(20.0, -0.1, 0.5) == 0
    # a point mass stopped at its foot turns all its speed into turning when the edge is right below it
    np.testing.assert_allclose(s.energy_of_blow(20.0, 2.0, 0.0, 0.5, 0.0), 0.5 * 20 * 4)


def test_a_wheel_falls_into_a_joint_wider_than_itself() -> None:
    assert joint_drop(0.5, 0.1) == 0.1
    np.testing.assert_allclose(joint_drop(0.008, 0.1), 0.008**2 / 0.8, rtol=1e-3)


def test_met_head_on_the_wheel_counts_in_full_and_sideways_only_its_roller() -> None:
    np.testing.assert_allclose(met_radius(0.1, 0.016, np.array([0.0, np.pi / 2, np.pi])), [0.1, 0.016, 0.1])
