"""Even samples of a box in many dimensions, and how sure a chance is that was counted on them.

The points are those of Sobol's sequence, scrambled: they fill the box more evenly than independent draws do, so that
means settle sooner. How sure a mean is cannot be read off one such set, whose points lean on each other; so the draws
come in several sets, each scrambled anew and independent of the others, and the sets are compared.
Source: A. B. Owen, "Error estimation for quasi-Monte Carlo", arXiv 2501.00150 (abstract and introduction seen);
randomised replicates: P. L'Ecuyer and C. Lemieux, "Recent advances in randomized quasi-Monte Carlo methods" (from
memory).
"""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.studies.records_spread import Chance

FEWEST, MOST = 256, 2_000_000
"""Draws that may be asked for: fewer say nothing, more fill the memory."""

EVEN = 24
"""Dimensions that Sobol's sequence fills; the others are a Latin hypercube."""

_SETS = 16
_NORMAL = 1.959963984540054
"""Quantile of the normal distribution at 97.5 %."""


def sets_of(draws: int) -> tuple[int, int]:
    """How the draws are split: number of independent sets (16 to 31), and points in each, a power of two, which is what
    the sequence is even for. Together at least the draws asked for, and at most a sixteenth more."""
    points = 1 << ((draws // _SETS).bit_length() - 1)
    return -(-draws // points), points


def points(dimensions: int, count: int, seed: int, which: int) -> Array:
    """The set number `which` of a seed: `count` points (a power of two) in the unit box, (count, dimensions).

    In every dimension each of `count` equal parts holds one point. The first `EVEN` dimensions are Sobol's sequence,
    even in pairs and threes as well; its later ones are not, with so few points, so the others are put together at
    random (a Latin hypercube): put first what matters most.
    Source: A. B. Owen, "Latin supercube sampling for very high-dimensional simulations" (1998, from memory).
    """
    from scipy.stats import qmc

    rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(which,)))
    leading = min(dimensions, EVEN)
    unit = np.empty((dimensions, count))
    unit[:leading] = qmc.Sobol(leading, scramble=True, rng=rng).random(count).T
    rows = np.tile(np.arange(count, dtype=float), (dimensions - leading, 1))
    unit[leading:] = (rng.permuted(rows, axis=1) + rng.random(rows.shape)) / count
    return unit.T


def chance(held: Array, of: Array) -> Chance:
    """The chance of what held `held` times `of` so many in each of R independent sets, both (R,), with an interval that
    holds the truth at least 95 times in 100.

    It is the wider of two: Student's t over the sets, which sees how the sets really differ, and Wilson's interval of
    the plain count, which is still open where every draw came out the same. Sources: Wilson's score interval: E. B.
    Wilson, J. Amer. Statist. Assoc. 22 (1927) 209 (from memory); checked against scipy.stats.
    """
    from scipy.special import stdtrit

    total = float(np.sum(of))
    if not total:
        return Chance(float("nan"), 0.0, 1.0)
    value = float(np.sum(held)) / total
    z = _NORMAL**2 / total
    middle, half = (value + z / 2) / (1 + z), np.sqrt(z * value * (1 - value) + z**2 / 4) / (1 + z)
    low, high = middle - half, middle + half
    parts = held[of > 0] / of[of > 0]
    if parts.size > 1:
        over_sets = float(stdtrit(parts.size - 1, 0.975)) * float(np.std(parts, ddof=1)) / np.sqrt(parts.size)
        low, high = min(low, value - over_sets), max(high, value + over_sets)
    return Chance(value, max(0.0, float(low)), min(1.0, float(high)))
