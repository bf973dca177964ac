"""Numbers told as advice: three figures, to the side on which the advice still holds."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryfit.ground.rounding import downwards, upwards

NUMBERS = st.floats(1e-6, 1e6) | st.floats(-1e6, -1e-6)


@pytest.mark.parametrize(("x", "up", "down"), [
    (0.29231, 0.293, 0.292), (-0.0183, -0.0183, -0.0183), (-0.01834, -0.0183, -0.0184), (1234.0, 1240.0, 1230.0),
    (0.0, 0.0, 0.0), (0.9996, 1.0, 0.999), (math.inf, math.inf, math.inf),
])  # fmt: skip
def test_by_hand(x: float, up: float, down: float) -> None:
    assert upwards(x) == pytest.approx(up, rel=1e-12)
    assert downwards(x) == pytest.approx(down, rel=1e-12)


@given(NUMBERS)
def test_never_to_the_wrong_side_and_never_far(x: float) -> None:
    for rounded, sign in ((upwards(x), 1), (downwards(x), -1)):
        assert sign * (rounded - x) >= -1e-8 * abs(x)
        assert abs(rounded - x) <= 0.0101 * abs(x)
        assert float(f"{rounded:.3g}") == pytest.approx(float(rounded), rel=1e-12)


def test_many_at_once_and_nan() -> None:
    x = np.array([0.29231, np.nan, -np.inf, 7.0])
    np.testing.assert_allclose(upwards(x), [0.293, np.nan, -np.inf, 7.0])
    assert math.isnan(upwards(math.nan))
    assert np.ndim(upwards(1.5)) == 0
