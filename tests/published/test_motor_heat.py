"""Heat in windings: lasting temperature with copper's rise, one and two heat stores.

Sources
- Closed form T = (T_a + k·(1 - 25α))/(1 - k·α), k = R_th·I²·R_25, with thermal data of a precision motor (from memory).
- First-order warming, 10 W, 5 K/W, 600 s (from memory; identity).
- scipy.integrate.solve_ivp, run live on the two differential equations.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from dryfit.trades.drive import formulas_motor as m


def test_lasting_winding_temperature_with_coppers_rise():
    """6 A, 0.299 ohm, 1.9 + 4.7 K/W, 25 °C: 123.6 °C (from memory)."""
    assert m.steady_winding(6.0, 0.299, 6.6, 298.15) - 273.15 == pytest.approx(123.6, rel=1e-3)


def test_one_heat_store():
    """10 W, 5 K/W, 600 s from 25 °C, after 300 s: 44.673 °C (identity, from memory)."""
    _, housing = m.two_node_warming(300.0, 0.0, 1.0, 10.0, 1e6, 5.0, 1.0, 120.0, 298.15)
    assert housing - 273.15 == pytest.approx(44.673, rel=1e-3)


@pytest.mark.parametrize(
    ("current", "time"),
    [(c, t) for c in (0.0, 1.5, 4.4) for t in (30.0, 1200.0, 9000.0)] + [(9.0, 30.0), (9.0, 1200.0), (16.0, 60.0)],
)
def test_two_heat_stores_against_a_solver(current, time):
    """scipy solve_ivp on the same two equations, run live; 9 and 16 A run away."""
    r, ph, rwh, rha, cw, ch, ta = 1.16, 0.8, 3.0, 6.0, 25.0, 170.0, 303.15

    def slopes(_t, x):
        loss = current**2 * r * (1 + 0.00393 * (x[0] - 298.15))
        return [(loss - (x[0] - x[1]) / rwh) / cw, (ph + (x[0] - x[1]) / rwh - (x[1] - ta) / rha) / ch]

    winding, housing = m.two_node_warming(time, current, r, ph, rwh, rha, cw, ch, ta)
    solved = solve_ivp(slopes, (0, time), [ta, ta], rtol=1e-10, atol=1e-10, method="LSODA").y[:, -1]
    np.testing.assert_allclose([winding, housing], solved, rtol=1e-6)


def test_the_lasting_temperature_is_where_two_stores_end():
    w, h = m.two_node_warming(1e6, 3.0, 1.16, 0.0, 3.0, 6.0, 25.0, 170.0, 298.15)
    assert w == pytest.approx(m.steady_winding(3.0, 1.16, 9.0, 298.15), rel=1e-9)
    assert 298.15 < h < w


def test_a_winding_can_run_away():
    assert np.isinf(m.steady_winding(12.0, 1.16, 9.0, 298.15))
    assert np.isfinite(m.two_node_warming(9000.0, 12.0, 1.16, 0.0, 3.0, 6.0, 25.0, 170.0, 298.15)[0])


def test_arrays_equal_one_by_one():
    rng = np.random.default_rng(3)
    args = [rng.uniform(lo, hi, 40) for lo, hi in (
        (1, 9000), (0, 9), (0.5, 3), (0, 2), (1, 4), (2, 9), (10, 60), (90, 500), (280, 310))]  # fmt: skip
    together = np.stack(m.two_node_warming(*args))
    single = np.array([m.two_node_warming(*(float(a[i]) for a in args)) for i in range(40)]).T
    np.testing.assert_allclose(together, single, rtol=1e-12)
