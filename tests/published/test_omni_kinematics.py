"""Wheels of omni bases: speeds from a motion, pull and speed by direction.

Sources
- Worked notebook "Kinematics for Rovio" in a public corpus of mathematical web pages: three-wheel inverse kinematics
  w_i = d_i·v with d_i = (cos b, sin b), b = 30, -30, 90 deg (seen).
- Inverse kinematics of a three-wheel base with wheels at azimuth a: u = -sin a·vx + cos a·vy + R·ω (derived, arithmetic
  redone; no published numbers).
- Least and largest pull and speed of three- and four-wheel bases as linear programmes (derived: √3, 2/√3, √2).
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.trades.drive import formulas as f


def ring(azimuths_deg: list[float], radius: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    a = np.radians(azimuths_deg)
    return radius * np.stack([np.cos(a), np.sin(a)], axis=-1), a + np.pi / 2


@pytest.mark.parametrize(("wheel", "expected"), [(0, 0.96593), (2, 0.70711)])
def test_three_wheel_speeds_of_the_worked_notebook(wheel, expected):
    """Kinematics for Rovio, v = (0.7071, 0.7071) (seen)."""
    headings = np.radians([30.0, -30.0, 90.0])
    rows = f.rolling_rows(np.zeros((3, 2)), headings, np.zeros(3))
    assert (rows @ [0.70710678, 0.70710678, 0.0])[wheel] == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(("wheel", "expected"), [(0, -4.0), (2, 8.3094)])
def test_wheel_rates_from_a_motion(wheel, expected):
    """R = 0.25 m, r = 0.075 m, wheels at 90, 210, 330 deg, v = (0.5, 0.2) m/s, 0.8 rad/s (derived)."""
    p, h = ring([90, 210, 330], 0.25)
    rates = f.rolling_rows(p, h, np.zeros(3)) @ [0.5, 0.2, 0.8] / 0.075
    assert rates[wheel] == pytest.approx(expected, abs=1e-3)


def pulls(azimuths: list[float]) -> np.ndarray:
    p, h = ring(azimuths)
    rows = f.rolling_rows(p, h, np.zeros(len(azimuths)))
    slack = f.slack_force(rows) if len(azimuths) == 4 else None
    return f.strongest_pull(f.force_shares(rows, np.eye(3)), 1.0, slack=slack)


def test_three_wheels_pull_least_along_a_wheel():
    """1.5 times one wheel's force (derived by linear programme)."""
    assert np.min(pulls([0, 120, 240])) == pytest.approx(1.5, abs=1e-3)


def test_three_wheels_pull_most_across_a_wheel():
    """√3 times one wheel's force (derived)."""
    assert np.max(pulls([0, 120, 240])) == pytest.approx(1.7321, abs=5e-4)


def test_four_wheels_pull_least_along_a_wheel():
    """Twice one wheel's force (derived)."""
    assert np.min(pulls([45, 135, 225, 315])) == pytest.approx(2.0, abs=1e-3)


def test_three_wheels_are_fastest_across_a_wheel():
    """2/√3 times the rim speed (derived)."""
    p, h = ring([0, 120, 240])
    shares = np.abs(f.speed_shares(f.rolling_rows(p, h, np.zeros(3))))
    assert np.max(1 / np.max(shares, axis=-1)) == pytest.approx(1.1547, abs=5e-4)


def test_four_wheels_are_fastest_between_two_wheels():
    """√2 times the rim speed (derived)."""
    p, h = ring([45, 135, 225, 315])
    shares = np.abs(f.speed_shares(f.rolling_rows(p, h, np.zeros(4))))
    assert np.max(1 / np.max(shares, axis=-1)) == pytest.approx(1.4142, abs=5e-4)


def test_a_mecanum_wheel_forward_and_sideways():
    """Four mecanum wheels, rollers at 45 deg: u = vx ∓ vy ∓ (l + w)·ω (Siegwart, Nourbakhsh & Scaramuzza, Introduction
    to Autonomous Mobile Robots, ch. 3, from memory)."""
    p = np.array([[0.2, 0.15], [0.2, -0.15], [-0.2, 0.15], [-0.2, -0.15]])
    rows = f.rolling_rows(p, np.zeros(4), np.pi / 4 * np.array([-1, 1, 1, -1]))
    lever = 0.35
    np.testing.assert_allclose(rows, [[1, -1, -lever], [1, 1, lever], [1, 1, -lever], [1, -1, lever]], atol=1e-12)
