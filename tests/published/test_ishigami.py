"""The Ishigami function, of which every share of variance is known in closed form.

T. Ishigami, T. Homma, "An importance quantification technique in uncertainty analysis for computer models", Proc. First
Int. Symp. on Uncertainty Modeling and Analysis, 1990, pp. 398-403, as quoted in the documentation of scipy.stats
.sobol_indices and of several test-function collections (seen): f = sin x1 + a sin² x2 + b x3⁴ sin x1, each x uniform
on [-π, π]. The variances follow by integration, done here:

V1 = (1 + b π⁴/5)²/2, V2 = a²/8, V13 = b² π⁸ (1/18 - 1/50), V3 = V12 = V23 = 0.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from dryfit.ground.quantity import Array
from dryfit.studies.sampling import points
from dryfit.studies.sensitivity import binned, direction, first_order, total_share

A, B = 7.0, 0.1
V1 = (1 + B * np.pi**4 / 5) ** 2 / 2
V2 = A**2 / 8
V13 = B**2 * np.pi**8 * (1 / 18 - 1 / 50)
WHOLE = V1 + V2 + V13
FIRST = np.array([V1, V2, 0.0]) / WHOLE
TOTAL = np.array([V1 + V13, V2, V13]) / WHOLE


def ishigami(unit: Array) -> Array:
    x1, x2, x3 = (np.pi * (2 * unit - 1)).T
    return (np.sin(x1) + A * np.sin(x2) ** 2 + B * x3**4 * np.sin(x1))[:, None]


def draws(dimensions: int, sets: int = 16, size: int = 1024) -> Array:
    return np.concatenate([points(dimensions, size, 7, k) for k in range(sets)])


def test_the_closed_form_is_the_published_one() -> None:
    """The values that are quoted with the function for a = 7, b = 0.1."""
    assert pytest.approx([0.3139, 0.4424, 0.0], abs=5e-5) == FIRST
    assert pytest.approx([0.5576, 0.4424, 0.2437], abs=5e-5) == TOTAL


def test_mean_and_variance() -> None:
    """Mean a/2 (closed form); scrambled points come much nearer than 16,384 independent ones, off by 0.03."""
    y = ishigami(draws(3))
    assert float(np.mean(y)) == pytest.approx(A / 2, abs=2e-3)
    assert float(np.var(y)) == pytest.approx(WHOLE, rel=2e-3)


def test_first_order_shares_read_from_plain_draws() -> None:
    unit = draws(3)
    y = ishigami(unit)
    found = [float(first_order(binned(unit[:, i], y), np.var(y, axis=0))[0]) for i in range(3)]
    assert found == pytest.approx(FIRST, abs=0.01)


def test_total_shares() -> None:
    unit = draws(6)
    y = ishigami(unit[:, :3])
    for i in range(3):
        anew = unit[:, :3].copy()
        anew[:, i] = unit[:, 3 + i]
        assert float(total_share(y, ishigami(anew))[0]) == pytest.approx(TOTAL[i], abs=0.01)


def test_the_same_as_another_library_finds() -> None:
    """scipy.stats.sobol_indices, which needs draws of its own."""
    unit = draws(3)
    y = ishigami(unit)
    uniform = stats.uniform(0, 1)
    theirs = stats.sobol_indices(
        func=lambda x: ishigami(x.T).T, n=8192, dists=[uniform, uniform, uniform], rng=np.random.default_rng(3)
    )
    ours = [float(first_order(binned(unit[:, i], y), np.var(y, axis=0))[0]) for i in range(3)]
    assert ours == pytest.approx(np.ravel(theirs.first_order).tolist(), abs=0.02)


def test_a_result_that_goes_up_and_down_has_no_direction() -> None:
    unit = draws(3)
    y = ishigami(unit)
    assert [float(direction(binned(unit[:, i], y))[0]) for i in range(3)] == [1.0, 0.0, 0.0]
