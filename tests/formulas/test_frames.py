"""Rotations and moved inertias, against two general-purpose libraries run live.

Sources: scipy.spatial.transform.Rotation, run live; pinocchio rigid-body inertias, run live.
"""

from __future__ import annotations

import numpy as np
import pinocchio
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.spatial.transform import Rotation

from dryfit.ground.axes import column, pick, stack
from dryfit.ground.frames import moved_inertia, rotation, turned
from dryfit.ground.quantity import Array

coordinate = st.floats(min_value=-3, max_value=3)
vectors = arrays(float, 3, elements=coordinate)
axes = vectors.filter(lambda v: bool(np.linalg.norm(v) > 1e-3)).map(lambda v: v / np.linalg.norm(v))
angles = st.floats(min_value=-10, max_value=10)


def some_inertia(rng: np.random.Generator) -> Array:
    """A symmetric inertia that a body can have."""
    points = rng.normal(size=(8, 3))
    return np.asarray(sum(p @ p * np.eye(3) - np.outer(p, p) for p in points))


@given(axes, angles)
def test_rotation_agrees_with_scipy(axis: Array, angle: float) -> None:
    np.testing.assert_allclose(rotation(axis, angle), Rotation.from_rotvec(axis * angle).as_matrix(), atol=1e-13)


@given(axes, angles, vectors)
def test_turning_keeps_lengths_and_turns_back(axis: Array, angle: float, vector: Array) -> None:
    there = turned(rotation(axis, angle), vector)
    assert np.linalg.norm(there) == pytest.approx(np.linalg.norm(vector), abs=1e-12)
    np.testing.assert_allclose(turned(rotation(axis, -angle), there), vector, atol=1e-12)


def test_rotation_is_right_handed() -> None:
    quarter = rotation(np.array([0.0, 0.0, 1.0]), np.pi / 2)
    np.testing.assert_allclose(turned(quarter, np.array([1.0, 0.0, 0.0])), [0.0, 1.0, 0.0], atol=1e-15)


@pytest.mark.parametrize("seed", range(5))
def test_moved_inertia_agrees_with_pinocchio(seed: int) -> None:
    """A spatial inertia built at a lever has, in its lower right block, the inertia about the frame's origin."""
    rng = np.random.default_rng(seed)
    mass, lever, own = float(rng.uniform(0.1, 20)), rng.normal(size=3), some_inertia(rng)
    spatial = pinocchio.Inertia(mass, lever, own).matrix()
    np.testing.assert_allclose(moved_inertia(own, mass, lever), spatial[3:, 3:], rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_sum_of_two_bodies_agrees_with_pinocchio(seed: int) -> None:
    rng = np.random.default_rng(seed)
    masses, levers = rng.uniform(0.1, 20, 2), rng.normal(size=(2, 3))
    own = np.stack([some_inertia(rng), some_inertia(rng)])
    both = pinocchio.Inertia(masses[0], levers[0], own[0]) + pinocchio.Inertia(masses[1], levers[1], own[1])
    centre = masses @ levers / masses.sum()
    np.testing.assert_allclose(both.lever, centre, atol=1e-12)
    moved = moved_inertia(own, masses, levers - centre).sum(axis=0)
    np.testing.assert_allclose(moved, both.inertia, rtol=1e-12, atol=1e-11)


def test_many_at_once_equal_one_by_one() -> None:
    rng = np.random.default_rng(7)
    axis = rng.normal(size=(4, 5, 3))
    axis /= np.linalg.norm(axis, axis=-1, keepdims=True)
    angle, vector, mass = rng.normal(size=(4, 5)), rng.normal(size=(4, 5, 3)), rng.uniform(1, 2, size=(4, 5))
    own = np.stack([[some_inertia(rng) for _ in range(5)] for _ in range(4)])
    matrices, there, moved = rotation(axis, angle), turned(rotation(axis, angle), vector), None
    moved = moved_inertia(own, mass, vector)
    for i in np.ndindex(4, 5):
        np.testing.assert_allclose(matrices[i], rotation(axis[i], angle[i]), atol=1e-15)
        np.testing.assert_allclose(there[i], turned(rotation(axis[i], angle[i]), vector[i]), atol=1e-14)
        np.testing.assert_allclose(moved[i], moved_inertia(own[i], mass[i], vector[i]), atol=1e-14)


def test_one_axis_meets_many_angles() -> None:
    assert rotation(np.array([0.0, 0.0, 1.0]), np.linspace(0, 1, 7)).shape == (7, 3, 3)


def test_columns_stacks_and_picks_keep_machines_in_front() -> None:
    assert column(2.0).shape == (1,)
    assert column(np.ones(6), 2).shape == (6, 1, 1)
    np.testing.assert_array_equal(stack([1.0, np.array([2.0, 3.0])]), [[1.0, 2.0], [1.0, 3.0]])
    assert stack([1.0, 2.0]).shape == (2,)
    values = np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]])
    np.testing.assert_array_equal(pick(values, np.array([2, 0])), [3.0, 4.0])
    assert pick(np.array([7.0, 8.0]), 1) == 8.0
    np.testing.assert_array_equal(pick(np.array([7.0, 8.0]), np.array([0, 1, 1])), [7.0, 8.0, 8.0])
