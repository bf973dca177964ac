"""Evenness of light from rows of Lambertian point sources.

No published source was found.
[1] An endless row facing a plane: values worked out before by direct sum and by a Poisson series (derived); here the
    direct sum runs live.
[2] scipy's quadrature over the strips as lines, run live: cosines and distances from vectors, not from our terms.
[3] The rule that a distance of one pitch hides the dots (common practice; 1 to 1.5 in a sign maker's page).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from dryfit.trades.light import formulas

# distance over pitch, (Emax - Emin)/(Emax + Emin) (derived)
ROW = [(0.5, 0.35008), (0.75, 0.102482), (1.0, 0.0272), (1.25, 0.006874)]


def on_plane(d: float, x: float) -> float:
    """Direct sum over 4001 sources at pitch 1."""
    z = np.arange(-2000, 2001) - x
    return float(np.sum(d**2 / (d**2 + z**2) ** 2))


@pytest.mark.parametrize(("d", "expected"), ROW)
def test_row_on_a_plane(d: float, expected: float) -> None:
    """[1] within 0.5 % of the derived value and of the live sum."""
    michelson, of_mean = formulas.row_ripple(d, 1.0)
    assert michelson == pytest.approx(expected, rel=0.005)
    top, low = on_plane(d, 0.0), on_plane(d, 0.5)
    assert michelson == pytest.approx((top - low) / (top + low), rel=1e-6)
    assert of_mean == pytest.approx((top - low) / (np.pi / (2 * d)), rel=1e-6)


def test_one_pitch_away_hides_the_dots() -> None:
    """[3] ripple of at most 2.8 % at d = p (common practice; the number derived)."""
    assert formulas.row_ripple(1.0, 1.0)[0] <= 0.028


@pytest.mark.parametrize(("strips", "pitch"), [(3, 1 / 30), (4, 1 / 60), (4, 1 / 20), (6, 1 / 30)])
def test_tube_wall_by_direct_sum(strips: int, pitch: float) -> None:
    """Along and around a tube, against the sum over every LED of the strips (derived, run live)."""
    R, s = 0.052, 0.0145
    angles = np.linspace(0, np.pi / strips, 9)
    z = np.arange(-300, 301)[:, None, None, None] * pitch - np.array([0.0, 0.25, 0.5, 0.75])[:, None, None] * pitch
    turn = angles[:, None] - 2 * np.pi * np.arange(strips) / strips
    a = np.maximum(R * np.cos(turn) - s, 0)
    b = R - s * np.cos(turn)
    square = R**2 + s**2 - 2 * R * s * np.cos(turn) + z**2
    wall = np.sum(a * b / square**2, axis=(0, 3))
    mean = np.mean(wall, axis=0)
    along = np.max((wall[0] - wall[2])[[0, -1]] / mean[[0, -1]])
    around = (mean.max() - mean.min()) / mean.mean()
    ours = formulas.tube_ripples(R, s, pitch, strips, places=9)
    assert ours == pytest.approx((along, around), rel=2e-3, abs=1e-6)


@pytest.mark.parametrize("strips", [3, 4, 6])
def test_around_a_tube_by_quadrature(strips: int) -> None:
    """[2] Every strip as a Lambertian line, light counted only where it leaves and meets on the front side."""
    R, s = 0.052, 0.0145
    angles = np.linspace(0, np.pi / strips, 9)

    def light(angle: float) -> float:
        wall = np.array([R * np.cos(angle), R * np.sin(angle), 0.0])
        inward = -wall / R
        total = 0.0
        for n in range(strips):
            out = np.array([np.cos(2 * np.pi * n / strips), np.sin(2 * np.pi * n / strips), 0.0])

            def along(z: float, out: np.ndarray = out) -> float:
                ray = wall - s * out - np.array([0.0, 0.0, z])
                r = float(np.linalg.norm(ray))
                leaves, meets = float(ray @ out) / r, float(-ray @ inward) / r
                return max(leaves, 0.0) * max(meets, 0.0) / r**2

            total += quad(along, -3, 3, points=(-0.05, 0.0, 0.05), limit=400)[0]
        return total

    seen = np.array([light(a) for a in angles])
    around = (seen.max() - seen.min()) / seen.mean()
    assert formulas.tube_ripples(R, s, 1 / 60, strips, places=9)[1] == pytest.approx(around, rel=1e-3)
