"""Tipping and wheel loads against textbook statics, and against a linear programme solved live.

Sources
- Hibbeler & Gupta, Engineering Mechanics: Statics and Dynamics, example 8.1, p. 305 (seen in a worked companion).
- Statics of a three-wheel base, derived twice over (derived; arithmetic from memory).
- scipy.optimize.linprog and scipy.spatial.ConvexHull, run live.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from dryfit.ground.units import STANDARD_GRAVITY
from dryfit.trades.stability import formulas as s
from dryfit.trades.weight.formulas import wheel_loads

RING = np.array([[0.25 * math.cos(a), 0.25 * math.sin(a)] for a in (0, 2 * math.pi / 3, 4 * math.pi / 3)])


def test_hibbeler_example_8_1_line_of_the_normal_force() -> None:
    """Crate of 20 kg, 0.4 m wide, pushed down at 30 deg with 80 N at 0.2 m: the normal force acts at -9.08 mm. Seen."""
    down, across = 80 * math.sin(math.radians(30)), 80 * math.cos(math.radians(30))
    normal = 20 * STANDARD_GRAVITY + down
    x = (s.push_moment(across, 0.2, 0.8) - down * 0.4) / normal
    contacts = np.array([[0.2, 0.2], [-0.2, 0.2], [-0.2, -0.2], [0.2, -0.2]])
    loads = wheel_loads(contacts, np.array([x, 0.0]), normal)
    assert 1e3 * float(loads @ contacts[:, 0]) / normal == pytest.approx(-9.08, abs=0.05)


def test_three_wheel_base_tips_at_11_77_deg() -> None:
    """R = 250 mm, so x = 125 mm, h = 600 mm: atan(x/h). Derived."""
    normal, offset = s.support_edges(RING)
    b = s.edge_distances(normal, offset, np.zeros((1, 2)))
    assert math.degrees(s.tip_angle(b.min(), 0.6)) == pytest.approx(11.768, abs=0.005)


def test_three_wheel_base_tips_at_2_044_m_per_s2() -> None:
    """Same base: g x / h. Derived."""
    normal, offset = s.support_edges(RING)
    b = s.edge_distances(normal, offset, np.zeros((1, 2)))
    a = s.tipping_acceleration(normal, b, np.array([0.6]))
    assert a.min() == pytest.approx(2.0438, abs=0.001)


@pytest.mark.parametrize(("acceleration", "expected", "tolerance"), [(1.0, 66.8, 0.1), (2.04375, 0.0, 0.2)])
def test_wheel_load_under_acceleration(acceleration: float, expected: float, tolerance: float) -> None:
    """m = 40 kg, h = 0.6 m, R = 250 mm, along the line to a wheel: that wheel's load. Derived."""
    shifted = np.array([-acceleration * 0.6 / STANDARD_GRAVITY, 0.0])
    loads = wheel_loads(RING, shifted, 40 * STANDARD_GRAVITY)
    assert loads[0] == pytest.approx(expected, abs=tolerance)


def test_run_out_of_one_of_three_wheels_sways_the_top_by_2_mm() -> None:
    """e = 0.5 mm, R = 250 mm, at 1.5 m: h e / (1.5 R), tilt about the line through the other two. Derived."""
    tilt = np.hypot(*s.tilt_per_lift(RING)[0])
    assert 1e3 * 1.5 * 0.5e-3 * tilt == pytest.approx(2.0, abs=0.001)


@pytest.mark.parametrize("seed", range(12))
def test_tipping_acceleration_is_the_largest_with_no_pulling_contact(seed: int) -> None:
    """Live linear programme: largest a with loads N ≥ 0 in equilibrium under gravity and m a towards u at height h."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(-0.4, 0.4, (3 + seed % 5, 2))
    centre = rng.dirichlet(np.ones(len(points))) @ points
    height = rng.uniform(0.2, 1.0)
    normal, offset = s.support_edges(points)
    a = s.tipping_acceleration(normal, s.edge_distances(normal, offset, centre[None]), np.array([height]))[0]
    for k in range(0, 72, 7):
        u = s.AROUND[k]
        # unknowns: loads as shares of the weight, then a; the pressure centre moves by a h / g towards u
        equal = np.vstack(
            [np.append(np.ones(len(points)), 0), np.column_stack([points.T, -u * height / STANDARD_GRAVITY])]
        )
        answer = linprog(np.append(np.zeros(len(points)), -1), A_eq=equal, b_eq=[1, *centre], bounds=(0, None))
        assert a[k] == pytest.approx(answer.x[-1], rel=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_support_edges_are_those_of_the_convex_hull(seed: int) -> None:
    """Live convex hull: distances of the hull's facets from a point inside."""
    points = np.random.default_rng(seed).uniform(-0.5, 0.5, (8, 2))
    centre = points.mean(axis=0)
    normal, offset = s.support_edges(points)
    ours = s.edge_distances(normal, offset, centre[None])[0]
    theirs = -(ConvexHull(points).equations @ np.append(centre, 1.0))
    np.testing.assert_allclose(np.sort(ours[np.isfinite(ours)]), np.sort(theirs), rtol=1e-9)


@pytest.mark.parametrize("wheels", [4, 5, 8])
def test_loads_of_more_than_three_wheels_are_the_least_norm_solution(wheels: int) -> None:
    """Live: numpy.linalg.lstsq gives the least-norm answer of the three equations of equilibrium."""
    rng = np.random.default_rng(wheels)
    points, centre = rng.uniform(-0.4, 0.4, (wheels, 2)), rng.uniform(-0.05, 0.05, 2)
    equations = np.vstack([np.ones(wheels), points.T])
    expected = np.linalg.lstsq(equations, 300 * np.append(1, centre), rcond=None)[0]
    np.testing.assert_allclose(wheel_loads(points, centre, 300.0), expected, rtol=1e-9)


@pytest.mark.parametrize("ratio", [0.5, 2.0])
def test_energy_to_tip_is_the_work_of_the_righting_moment(ratio: float) -> None:
    """Live: integral of m g (b cos φ - h sin φ) from level to balance, scipy.integrate.quad."""
    from scipy.integrate import quad

    b, h, m = 0.2 * ratio, 0.4, 25.0
    work, _ = quad(lambda t: m * STANDARD_GRAVITY * (b * math.cos(t) - h * math.sin(t)), 0, math.atan2(b, h))
    assert s.energy_to_tip(m, b, h) == pytest.approx(work, rel=1e-9)
