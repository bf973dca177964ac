"""Weight formulas: arrays equal the loop, invariances, NaN never passes."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dryfit.ground.units import STANDARD_GRAVITY
from dryfit.trades.weight import formulas as w

RNG = np.random.default_rng(7)


def bodies(*shape: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    mass = RNG.uniform(0.2, 5, shape)
    centre = RNG.uniform(-0.5, 0.9, (*shape, 3))
    root = RNG.uniform(-0.2, 0.2, (*shape, 3, 3))
    return mass, centre, root @ np.swapaxes(root, -1, -2)


def test_many_machines_at_once_equal_the_loop() -> None:
    mass, centre, inertia = bodies(5, 4)
    together = w.moments_about_origin(mass, centre, inertia)
    c, i = w.about_centre(*together)
    for k in range(5):
        one = w.moments_about_origin(mass[k], centre[k], inertia[k])
        np.testing.assert_allclose(together[2][k], one[2], rtol=1e-12, atol=1e-14)
        ck, ik = w.about_centre(*one)
        np.testing.assert_allclose(c[k], ck, rtol=1e-12)
        np.testing.assert_allclose(i[k], ik, rtol=1e-12, atol=1e-13)


def test_loads_of_many_machines_equal_the_loop() -> None:
    position, centre = RNG.uniform(-0.4, 0.4, (6, 5, 2)), RNG.uniform(-0.05, 0.05, (6, 2))
    weight, stiffness, uneven = RNG.uniform(100, 400, 6), RNG.uniform(1e4, 1e5, 6), RNG.uniform(1e-3, 3e-3, 6)
    loads, lost = w.wheel_loads(position, centre, weight), w.load_change(position, stiffness, uneven)
    for k in range(6):
        np.testing.assert_allclose(loads[k], w.wheel_loads(position[k], centre[k], weight[k]), rtol=1e-12, atol=1e-11)
        np.testing.assert_allclose(lost[k], w.load_change(position[k], stiffness[k], uneven[k]), rtol=1e-12, atol=1e-11)


@settings(max_examples=50, deadline=None)
@given(st.floats(-np.pi, np.pi), st.permutations(range(4)))
def test_neither_turning_the_machine_nor_naming_its_wheels_otherwise_changes_a_load(
    turn: float, order: list[int]
) -> None:
    position = np.array([[0.3, 0.21], [-0.28, 0.2], [-0.3, -0.2], [0.31, -0.22]])
    c, s = np.cos(turn), np.sin(turn)
    spin = np.array([[c, s], [-s, c]])
    straight = w.wheel_loads(position, np.array([0.02, -0.03]), 300.0)
    turned = w.wheel_loads((position @ spin)[order], np.array([0.02, -0.03]) @ spin, 300.0)
    np.testing.assert_allclose(turned, straight[order], rtol=1e-10)


def test_three_loads_balance() -> None:
    position, centre = np.array([[0.3, 0.0], [-0.2, 0.25], [-0.1, -0.3]]), np.array([0.01, 0.02])
    loads = w.wheel_loads(position, centre, 280.0)
    np.testing.assert_allclose(np.sum(loads), 280.0)
    np.testing.assert_allclose(loads @ position / 280.0, centre, atol=1e-15)


def test_three_wheels_stand_on_any_floor_and_four_in_a_square_lose_a_quarter() -> None:
    three = np.array([[0.3, 0.0], [-0.15, 0.26], [-0.15, -0.26]])
    assert np.all(w.load_change(three, 60e3, 2e-3) == 0)
    square = np.array([[0.2, 0.2], [-0.2, 0.2], [-0.2, -0.2], [0.2, -0.2]])
    np.testing.assert_allclose(w.load_change(square, 60e3, 2e-3), 60e3 * 2e-3 / 4)


def test_too_few_wheels_or_wheels_in_a_line_have_no_known_load() -> None:
    assert np.all(np.isnan(w.wheel_loads(np.zeros((2, 2)), np.zeros(2), 100.0)))
    assert w.wheel_loads(np.zeros((0, 2)), np.zeros(2), 100.0).shape == (0,)
    line = np.array([[0.0, 0.0], [0.1, 0.1], [0.3, 0.3]])
    assert np.all(np.isnan(w.wheel_loads(line, np.zeros(2), 100.0)))


def test_a_machine_without_mass_has_no_centre() -> None:
    c, i = w.about_centre(0.0, np.zeros(3), np.zeros((3, 3)))
    assert np.all(np.isnan(c))
    assert np.all(np.isnan(i))


def test_shares_of_doubt() -> None:
    np.testing.assert_allclose(w.guessed_share(np.array([3.0, 1.0]), np.array([0.02, 0.4])), 0.115)
    np.testing.assert_allclose(w.weight_of(2.0), 2 * STANDARD_GRAVITY)
