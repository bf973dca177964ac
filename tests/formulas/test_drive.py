"""Formulas of the drive: one for one and for many, invariances, monotonicity, NaN never passes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryfit.trades.drive import formulas as f
from dryfit.trades.drive import formulas_motor as m
from dryfit.trades.drive import formulas_travel as t

RNG = np.random.default_rng(7)
NO_TYRES = np.zeros((0, 3))


def ring(count: int, radius: float = 0.3, first: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    azimuth = first + 2 * np.pi * np.arange(count) / count
    return radius * np.stack([np.cos(azimuth), np.sin(azimuth)], axis=-1), azimuth + np.pi / 2


def many(low: float, high: float, *shape: int) -> np.ndarray:
    return RNG.uniform(low, high, shape)


SCALAR_FORMULAS = [
    (m.voltage_constant, [(6, 24), (0.1, 1), (0.5, 3), (5, 40)]),
    (m.torque_constant, [(0.5, 9), (5, 20), (0.1, 1)]),
    (m.implied_efficiency, [(6, 24), (5, 40), (0.5, 9), (5, 20), (0.1, 1)]),
    (m.current_for, [(0, 5), (0.1, 2), (0.1, 1)]),
    (m.hot, [(0.5, 3), (280, 420)]),
    (m.motor_voltage, [(0, 9), (0.5, 3), (0.1, 1), (0, 30)]),
    (m.source_voltage, [(8, 14), (0.01, 0.5), (0, 200)]),
    (m.full_duty_current, [(8, 14), (0.01, 0.1), (0.5, 2), (1, 4), (0.1, 1), (0, 20)]),
    (m.top_speed, [(8, 14), (0.01, 0.1), (0, 6), (1, 30), (0, 60), (0, 90)]),
    (m.steady_winding, [(0, 6), (0.5, 3), (2, 12), (280, 310), (0, 3)]),
    (m.bridge_loss, [(0, 9), (0.01, 0.1), (8, 14), (1e-7, 1e-6), (1e3, 3e4)]),
    (m.ripple, [(8, 14), (0, 1), (1e3, 3e4), (1e-4, 1e-2)]),
    (t.travel_force, [(5, 50), (0, 1), (0, 0.2), (0, 0.05)]),
    (t.edge_climbed, [(0, 100), (10, 200), (0.01, 0.1)]),
    (t.speed_to_stop_within, [(0.1, 3), (0, 1), (0.1, 3)]),
    (m.ratio_for, [(0.5, 3), (0.5, 5), (0.001, 0.1)]),
    (t.edge_push, [(10, 200), (0.01, 0.1), (0, 0.03)]),
    (t.ramp_distance, [(0, 2), (-1, 2)]),
    (t.shorted_distance, [(0, 2), (0.05, 2), (-0.5, 1), (-0.1, 3)]),
]


@pytest.mark.parametrize(("formula", "ranges"), SCALAR_FORMULAS, ids=lambda p: getattr(p, "__name__", ""))
def test_array_equals_element_wise(formula, ranges):
    arguments = [many(low, high, 50) for low, high in ranges]
    together = np.asarray(formula(*arguments))
    one_by_one = np.array([formula(*(float(a[i]) for a in arguments)) for i in range(50)])
    np.testing.assert_allclose(together, one_by_one, rtol=1e-12, atol=0)


@pytest.mark.parametrize(("formula", "ranges"), SCALAR_FORMULAS, ids=lambda p: getattr(p, "__name__", ""))
def test_nan_stays_nan(formula, ranges):
    middle = [(low + high) / 2 + 1e-3 * (high - low) for low, high in ranges]
    for i in range(len(middle)):
        spoiled = [np.nan if j == i else value for j, value in enumerate(middle)]
        assert np.isnan(formula(*spoiled)), f"argument {i}"


@settings(deadline=None, max_examples=40)
@given(count=st.sampled_from([3, 4, 5]), turn=st.floats(-3, 3), size=st.floats(0.1, 2))
def test_turning_or_scaling_the_machine_keeps_its_kinematics(count, turn, size):
    p, h = ring(count)
    free = f.freedom(NO_TYRES)
    rows = f.rolling_rows(p, h, np.zeros(count))
    c, s = np.cos(turn), np.sin(turn)
    turned = f.rolling_rows(p @ np.array([[c, s], [-s, c]]), h + turn, np.zeros(count))
    way = f.UNIT @ np.array([[c, s], [-s, c]])
    np.testing.assert_allclose(f.force_shares(turned, free, way), f.force_shares(rows, free), atol=1e-9)
    np.testing.assert_allclose(f.speed_shares(turned, way), f.speed_shares(rows), atol=1e-9)
    scaled = f.rolling_rows(p * size, h, np.zeros(count))
    np.testing.assert_allclose(f.force_shares(scaled, free), f.force_shares(rows, free), atol=1e-9)


@settings(deadline=None, max_examples=30)
@given(order=st.permutations(range(4)), first=st.floats(0, 1))
def test_the_order_of_wheels_does_not_matter(order, first):
    p, h = ring(4, first=first)
    h = h + np.array([0.1, -0.2, 0.05, 0.3])
    rows = f.rolling_rows(p, h, np.zeros(4))
    free = f.freedom(NO_TYRES)
    order = list(order)
    limit = np.array([1.0, 2.0, 1.5, 0.7])
    pull = f.strongest_pull(f.force_shares(rows, free), limit, slack=f.slack_force(rows))
    mixed = f.strongest_pull(f.force_shares(rows[order], free), limit[order], slack=f.slack_force(rows[order]))
    np.testing.assert_allclose(mixed, pull, rtol=1e-9)


def test_the_pseudo_inverse_is_that_of_linear_algebra():
    """numpy.linalg.pinv, run live."""
    for count in (3, 4, 6):
        p, h = ring(count, first=0.3)
        rows = f.rolling_rows(p, h, np.zeros(count))
        np.testing.assert_allclose(f.pseudo_inverse(rows, np.eye(3)), np.linalg.pinv(rows), atol=1e-12)
        np.testing.assert_allclose(f.inverse(rows.T @ rows), np.linalg.inv(rows.T @ rows), rtol=1e-10, atol=1e-12)


def test_tyres_take_away_the_motions_they_would_scrub():
    """Projector against scipy.linalg.null_space, run live."""
    from scipy.linalg import null_space

    for rows in (
        f.sideslip_rows(np.array([[0.0, 0.2], [0.0, -0.2]]), np.zeros(2)),
        f.sideslip_rows(np.array([[0.1, 0.2], [-0.1, 0.3]]), np.array([0.2, 0.5])),
        f.sideslip_rows(np.array([[0.1, 0.2], [-0.1, 0.2], [0.3, 0.0]]), np.array([0.0, 0.4, 1.0])),
    ):
        basis = null_space(rows)
        np.testing.assert_allclose(f.freedom(rows), basis @ basis.T, atol=1e-9)


def test_a_differential_base_drives_forward_and_turns_but_not_sideways():
    p = np.array([[0.0, 0.2], [0.0, -0.2]])
    rows, free = f.rolling_rows(p, np.zeros(2), np.zeros(2)), f.freedom(f.sideslip_rows(p, np.zeros(2)))
    allowed = f.can_travel(free)
    assert np.flatnonzero(allowed).tolist() == [0, 36]
    np.testing.assert_allclose(f.force_shares(rows, free)[0], [0.5, 0.5], atol=1e-12)
    assert f.lost_motion(rows, free, np.array([1.0, 0, 0])) < 1e-6
    assert f.lost_motion(rows, free, np.array([0, 0, 1.0])) < 1e-6
    assert f.lost_motion(rows, free, np.array([0, 1.0, 0])) > 0.9
    one = rows[:1]
    assert f.lost_motion(one, free, np.array([1.0, 0, 0])) > 1e-3


def test_pull_is_the_optimum_of_a_linear_programme():
    """scipy.optimize.linprog, run live, for three and four omni wheels and four mecanum wheels with unequal limits."""
    from scipy.optimize import linprog

    mecanum = np.array([[0.2, 0.25], [0.2, -0.25], [-0.2, 0.25], [-0.2, -0.25]])
    bases = [
        (*ring(3), np.zeros(3)),
        (*ring(4, first=0.6), np.zeros(4)),
        (mecanum, np.zeros(4), np.pi / 4 * np.array([-1, 1, 1, -1])),
    ]
    for p, h, roller in bases:
        rows = f.rolling_rows(p, h, roller)
        count = len(h)
        limit = np.array([1.0, 1.7, 0.6, 1.2])[:count]
        growth = 0.05 * np.sin(np.arange(72)[:, None] + np.arange(count))
        slack = f.slack_force(rows) if count == 4 else None
        mine = f.strongest_pull(f.force_shares(rows, np.eye(3)), limit, growth, slack)
        for k in range(0, 72, 5):
            a_eq = np.concatenate([rows.T, -np.append(f.UNIT[k], 0.0)[:, None]], axis=1)
            a_ub = np.concatenate([np.concatenate([s * np.eye(count), -growth[k][:, None]], axis=1) for s in (1, -1)])
            best = linprog(
                [0.0] * count + [-1.0], a_ub, np.tile(limit, 2), a_eq, np.zeros(3), [(None, None)] * (count + 1)
            )
            assert mine[k] == pytest.approx(best.x[-1], rel=1e-7)


def test_load_shift_balances_forces_and_moments():
    for count in (3, 4, 5):
        p, _ = ring(count, first=0.2)
        shift = f.load_shift(p)
        np.testing.assert_allclose(np.sum(shift, axis=-1), 0, atol=1e-12)
        np.testing.assert_allclose(shift @ p, -f.UNIT, atol=1e-12)


def test_batched_geometry_equals_one_by_one():
    radius = many(0.15, 0.5, 6)
    p, h = ring(4, 1.0, 0.4)
    batch = p * radius[:, None, None]
    tilt = many(-0.1, 0.1, 6, 4)
    rows = f.rolling_rows(batch, h + tilt, np.zeros(4), radius)
    free = f.freedom(f.sideslip_rows(batch[:, :2], h[:2] + tilt[:, :2] * 0, radius))
    limit, growth = many(1, 2, 6, 1, 4), many(-0.1, 0.1, 6, 72, 4)
    scatter = many(0, 0.1, 6, 4)
    for i in range(6):
        one = f.rolling_rows(batch[i], h + tilt[i], np.zeros(4), radius[i])
        np.testing.assert_allclose(rows[i], one, rtol=1e-12)
        np.testing.assert_allclose(free[i], f.freedom(f.sideslip_rows(batch[i, :2], h[:2], radius[i])), atol=1e-12)
        slack = f.slack_force(rows)
        np.testing.assert_allclose(slack[i], f.slack_force(one), rtol=1e-12)
        shares = f.force_shares(rows, np.eye(3))
        np.testing.assert_allclose(shares[i], f.force_shares(one, np.eye(3)), atol=1e-12)
        np.testing.assert_allclose(
            f.strongest_pull(shares, limit, growth, slack)[i],
            f.strongest_pull(shares[i], limit[i], growth[i], slack[i]),
            rtol=1e-12,
        )
        np.testing.assert_allclose(f.load_shift(batch)[i], f.load_shift(batch[i]), atol=1e-12)
        back = f.pseudo_inverse(rows, np.eye(3))
        np.testing.assert_allclose(
            f.heading_error(back, f.speed_shares(rows), scatter, radius)[i],
            f.heading_error(back[i], f.speed_shares(rows)[i], scatter[i], radius[i]),
            rtol=1e-12,
        )
    index = np.array([3, 5, 71, 0, 9, 20])
    picked = f.at_direction(shares, index)
    np.testing.assert_array_equal(picked, np.stack([shares[i, k] for i, k in enumerate(index)]))


@settings(deadline=None, max_examples=50)
@given(load=st.floats(1, 300), height=st.floats(0.0005, 0.009), radius=st.floats(0.01, 0.2))
def test_a_higher_edge_or_a_smaller_wheel_is_never_easier(load, height, radius):
    assert t.edge_push(load, radius, height) <= t.edge_push(load, radius, height * 1.1)
    assert t.edge_push(load, radius * 1.1, height) <= t.edge_push(load, radius, height) * (1 + 1e-12)


@settings(deadline=None, max_examples=50)
@given(v=st.floats(0.1, 2), tau=st.floats(0.05, 2), friction=st.floats(0.01, 0.5), most=st.floats(0.6, 5))
def test_shorted_stop_is_that_of_its_equation_of_motion(v, tau, friction, most):
    """Distance against a fine quadrature of v dv/a(v): independent of the closed form."""
    speeds = np.linspace(0, v, 20001)
    way = np.trapezoid(speeds / np.minimum(speeds / tau + friction, most), speeds)
    assert t.shorted_distance(v, tau, friction, most) == pytest.approx(way, rel=1e-4)


def test_what_never_stops_is_infinite():
    assert np.isinf(t.ramp_distance(0.5, 0.0))
    assert np.isinf(t.shorted_distance(0.5, 0.2, -0.1, 3.0))
    assert np.isinf(t.shorted_distance(0.5, 0.2, 0.1, -1.0))
    assert t.shorted_distance(0.5, 0.2, 0.0, np.inf) == pytest.approx(0.1)


def test_an_edge_as_high_as_the_axle_cannot_be_climbed():
    assert np.isinf(t.edge_push(100.0, 0.014, 0.014))


def test_a_source_that_cannot_give_the_power_says_so():
    assert np.isnan(m.source_voltage(12.0, 1.0, 36.1))
    assert m.source_voltage(12.0, 1.0, 36.0) == pytest.approx(6.0)


def test_top_speed_of_a_wheel_that_need_not_turn_is_unlimited():
    assert np.isinf(m.top_speed(12.0, 0.1, 1.0, 0.0, 5.0, 5.0))
    assert m.top_speed(12.0, 0.0, 14.0, 5.0, 5.0, 5.0) == 0.0


def still(count: int) -> dict[str, np.ndarray]:
    """Nothing thrown forward: one posture, 72 directions."""
    return {"moment": np.zeros((1, 72)), "shift": np.zeros((72, count))}


def test_blocked_omni_wheels_use_058_to_067_of_the_friction_in_every_direction():
    """1/√3 and 2/3: by hand, three wheels 120 degrees apart, each gripping along its own line only."""
    _, heading = ring(3, 0.3, np.pi / 3)
    grip = t.blocked_deceleration(30.0, np.full((1, 3), 10 * 9.80665), 0.5, heading, np.ones(3), **still(3))[0]
    np.testing.assert_allclose([grip.min(), grip.max()], np.array([1 / np.sqrt(3), 2 / 3]) * 0.5 * 9.80665, rtol=1e-9)


def test_blocked_tyres_grip_in_any_direction():
    grip = t.blocked_deceleration(30.0, np.array([[100.0, 100.0]]), 0.5, np.zeros(2), np.zeros(2), **still(2))
    np.testing.assert_allclose(grip, 0.5 * 200 / 30)


def test_weight_thrown_forward_loads_the_wheels_in_front():
    """By hand: three wheels, driving towards the middle between two of them, at the deceleration at which the third
    lifts: all weight rests on the two, each at 30 degrees from its line of pull: a = µ·g·cos 30°."""
    places, heading = ring(3, 0.3, np.pi / 3)
    height, m_ = 0.45, 30.0
    tip = 9.80665 * 0.15 / height
    grip = t.blocked_deceleration(
        m_, np.full((1, 3), 10 * 9.80665), 0.5, heading, np.ones(3), np.full((1, 72), m_ * height * tip),
        f.load_shift(places),
    )  # fmt: skip
    assert grip[0, 0] == pytest.approx(0.5 * 9.80665 * np.cos(np.pi / 6))


@given(st.floats(10, 200), st.floats(1e-3, 0.9), st.floats(0.01, 0.1))
def test_an_edge_that_a_push_climbs_asks_for_that_push(load, share, radius):
    push = t.edge_push(load, radius, share * radius)
    assert t.edge_climbed(push, load, radius) == pytest.approx(share * radius)


@given(st.floats(0.05, 3), st.floats(0, 1), st.floats(0.05, 4))
def test_the_speed_to_stop_within_a_room_takes_all_of_it(room, run_on, deceleration):
    v = t.speed_to_stop_within(room, run_on, deceleration)
    assert v * run_on + t.ramp_distance(v, deceleration) == pytest.approx(room)


def test_a_gear_ratio_balances_wheel_and_rotor():
    i = m.ratio_for(1.2, 2.5, 0.02)
    assert 2.5 / i + 0.02 * i == pytest.approx(1.2)
    assert m.ratio_for(0.1, 2.5, 0.02) == np.inf


def test_shorted_motors_brake_as_their_own_voltage_says():
    """By hand: two wheels of 75 mm radius, direct drive, 0.5 V·s/rad on 1 ohm: 2·(0.5²/1)/0.075² N for each m/s."""
    a = m.shorted_deceleration(20.0, 0.5, 2 / 0.075**2, 2 / 0.075, 0.0, 0.0, 0.25, 0.0)
    assert a == pytest.approx(2 * 0.25 / 0.075**2 * 0.5 / 20)


@pytest.mark.parametrize("degrees", [0.0, 12.0, 47.5, 93.3])
def test_tyres_between_two_directions_still_roll_somewhere(degrees):
    """A base that stands askew in its own axes must not be taken for one that cannot drive at all."""
    turn = np.radians(degrees)
    across = np.array([-np.sin(turn), np.cos(turn)])
    places = np.stack([0.2 * across, -0.2 * across])
    allowed = f.can_travel(f.freedom(f.sideslip_rows(places, np.full(2, turn))))
    assert np.sum(allowed) == (4 if degrees == 47.5 else 2)
    assert np.all(np.abs(np.sin(f.HEADINGS[allowed] - turn)) < np.sin(np.radians(2.51)))
