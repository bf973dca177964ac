"""Bibliography: R. C. Hibbeler, Mechanics of Materials, Example 12.14 (seen in a notebook companion, whose printed 52
is an integer-division slip for 53.33)."""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.trades.shafts.formulas_beams import force_bend


def test_example_12_14_overhanging_beam() -> None:
    """5 kN/m over a span of 4 m and 10 kN at the end of a 2 m overhang: E·I·v = 53.33 kN·m³ at the end."""
    places, weights = np.polynomial.legendre.leggauss(8)
    spread = sum(
        w * 2 * force_bend(np.array([6.0]), 2 * (1 + p), 4.0)[0][0] for p, w in zip(places, weights, strict=True)
    )
    found = 5 * spread + 10 * force_bend(np.array([6.0]), 6.0, 4.0)[0][0]
    assert found == pytest.approx(53.33, abs=0.05)
