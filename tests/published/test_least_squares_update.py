"""Bringing numbers in line with readings, against closed forms and general least-squares solvers.

- One number and one reading: the mean weighted by inverse squares of the standard deviations, and its standard
  deviation 1/√(1/s² + 1/u²) (closed form; JCGM 100, Guide to the expression of uncertainty in measurement, from
  memory).
- numpy.linalg.lstsq on the stacked system of what was thought and what was read, each row over its deviation. Run live.
- scipy.optimize.least_squares on the same system with predictions that are not linear. Run live.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from dryfit.studies.recalibration import least_squares_update, posterior

FAR = 1e9


def wide(n):
    return np.full(n, -FAR), np.full(n, FAR)


@pytest.mark.parametrize(
    ("thought", "s", "read", "u"), [(3.4, 0.2, 3.1, 0.1), (10.0, 1.0, 14.0, 1.0), (5.0, 0.3, 5.0, 2.0)]
)
def test_one_number_one_reading_is_the_weighted_mean(thought, s, read, u):
    mean = (thought / s**2 + read / u**2) / (1 / s**2 + 1 / u**2)
    deviation = 1 / np.sqrt(1 / s**2 + 1 / u**2)
    found, covariance = least_squares_update(
        np.array([thought]), np.array([s]), *wide(1), lambda x: x, np.array([read]), np.array([u])
    )
    assert found[0] == pytest.approx(mean, rel=1e-12)
    assert np.sqrt(covariance[0, 0]) == pytest.approx(deviation, rel=1e-12)


def test_worked_by_hand():
    """Thought 3.4 ± 0.2, read 3.1 ± 0.1: weights 25 and 100, so (85 + 310)/125 = 3.16, and 1/√125 = 0.0894."""
    found, covariance = least_squares_update(
        np.array([3.4]), np.array([0.2]), *wide(1), lambda x: x, np.array([3.1]), np.array([0.1])
    )
    assert found[0] == pytest.approx(3.16, abs=1e-12)
    assert np.sqrt(covariance[0, 0]) == pytest.approx(0.0894427, abs=1e-7)


def test_linear_readings_by_stacked_least_squares():
    rng = np.random.default_rng(3)
    for n, k in ((5, 3), (3, 7), (12, 4)):
        thought, s = rng.normal(5, 2, n), rng.uniform(0.1, 1, n)
        slopes, read, u = rng.normal(0, 1, (k, n)), rng.normal(0, 3, k), rng.uniform(0.05, 0.5, k)
        stacked = np.concatenate((np.diag(1 / s), slopes / u[:, None]))
        sides = np.concatenate((thought / s, read / u))
        expected = np.linalg.lstsq(stacked, sides, rcond=None)[0]
        found, covariance = least_squares_update(thought, s, *wide(n), lambda x, a=slopes: x @ a.T, read, u)
        assert found == pytest.approx(expected, rel=1e-8, abs=1e-10)
        assert covariance == pytest.approx(np.linalg.inv(stacked.T @ stacked), rel=1e-7, abs=1e-12)


def bent(x):
    """Readings that are not linear: a product, a quotient, a root, as currents and pulls are."""
    a, b, c = np.moveaxis(np.asarray(x, dtype=float), -1, 0)
    return np.stack([a * b, a / (b + c), np.sqrt(a * a + c * c)], axis=-1)


def test_bent_readings_by_a_general_solver():
    thought, s = np.array([3.0, 1.2, 0.8]), np.array([0.3, 0.1, 0.2])
    read, u = np.array([4.1, 1.4, 3.4]), np.array([0.05, 0.04, 0.06])

    def residuals(x):
        return np.concatenate(((x - thought) / s, (bent(x) - read) / u))

    witness = least_squares(residuals, thought, xtol=1e-14, ftol=1e-14, gtol=1e-14)
    found, covariance = least_squares_update(thought, s, *wide(3), bent, read, u, rounds=25)
    assert found == pytest.approx(witness.x, rel=1e-3)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(
        np.sqrt(np.diag(np.linalg.inv(witness.jac.T @ witness.jac))), rel=1e-2
    )
    few = least_squares_update(thought, s, *wide(3), bent, read, u)[0]
    assert few == pytest.approx(witness.x, rel=5e-3)


def test_readings_together_equal_readings_one_after_another():
    """Bayes: what is known after the first reading is what is thought before the second (closed form)."""
    prior, covariance = np.array([1.0, 2.0, 3.0]), np.diag([0.2, 0.5, 0.1]) ** 2
    slopes, read = np.array([[1.0, 1.0, 0.0], [0.0, 1.0, -2.0]]), np.array([3.5, -3.0])
    noise = np.diag([0.1, 0.2]) ** 2
    both = posterior(prior, covariance, prior, slopes @ prior, slopes, read, noise)
    mean, left = prior, covariance
    for k in range(2):
        row = slopes[k : k + 1]
        mean, left = posterior(mean, left, mean, row @ mean, row, read[k : k + 1], noise[k : k + 1, k : k + 1])
    assert mean == pytest.approx(both[0], rel=1e-12)
    assert left == pytest.approx(both[1], rel=1e-9, abs=1e-15)


def test_numbers_stay_where_they_can_be():
    found, _ = least_squares_update(
        np.array([0.1]), np.array([0.2]), np.array([0.01]), np.array([1.0]), lambda x: x, np.array([-2.0]),
        np.array([0.01]),
    )  # fmt: skip
    assert found[0] == pytest.approx(0.01)
