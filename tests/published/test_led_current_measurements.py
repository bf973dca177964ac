"""Currents of addressable LEDs as people measured them.

Bibliography:
[1] A microcontroller page that measured two packs of one LED type: 33.5 and 52.5 mA at full white, about 1 mA dark.
    Seen.
[2] A notebook in a public repository with currents of 1, 5, 10 and 14 white LEDs; slope 33.2526 mA, offset 11.8557.
    Seen.
[3] An accessibility page: 60 mA is usually assumed, 41.25 mA was measured. Seen.
[4] A page that measured a 5 m strip fed in its middle: 4.68 A white; 2.71, 2.54 and 2.58 A in red, blue and green.
    Seen.
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.catalogue.rows import keys, row
from dryfit.machine.light import CHANNELS
from dryfit.trades.light import formulas


def test_the_rows_span_the_measured_packs() -> None:
    """[1] and [3]: 33.5 mA, 41.25 mA and 52.5 mA, 1 mA dark, within 5 % (seen)."""
    for key in keys("strips"):
        q = row("strips", key).quantities
        if q["voltage"].si != 5.0:
            continue
        assert q["full_white_low"].si == pytest.approx(33.5e-3, rel=0.05)
        assert q["full_white"].si == pytest.approx(41.25e-3, rel=0.05)
        assert q["full_white_high"].si == pytest.approx(52.5e-3, rel=0.05)
        assert q["dark"].si == pytest.approx(1e-3, rel=0.05)


def test_current_grows_in_proportion_to_the_number() -> None:
    """[2] Slope of 45, 178, 345 and 477 mA at 1, 5, 10 and 14 LEDs, quoted 33.25 mA (seen; four of its 14 points,
    so within 1 %); the relation in use has that slope at full white."""
    n, measured = np.array([1, 5, 10, 14]), np.array([45.0, 178, 345, 477])
    slope = np.polyfit(n, measured, 1)[0]
    assert slope == pytest.approx(33.25, rel=0.005)
    ours = formulas.scene_current(n, 1.0, 33.25e-3, 1e-3)
    assert np.diff(ours) / np.diff(n) == pytest.approx(np.full(3, slope * 1e-3), rel=0.005)


def test_budget_by_the_rule_of_three_channels() -> None:
    """[3] 300 LEDs at 3 × 20 mA and 5 V: 90 W (the rule that most assume; seen, product derived)."""
    assert 5 * formulas.scene_current(300, 1.0, 3 * 20e-3, 1e-3) == pytest.approx(90.0, rel=0.005)


def test_three_equal_channels() -> None:
    """[4] The single colours lie within 5 % of their mean (seen), so each is taken as a third. Their sum of 7.83 A is
    more than the 4.68 A of white: that long strip starves at full white, and equal currents bound it from above."""
    single = np.array([2.71, 2.54, 2.58])
    assert single == pytest.approx(np.full(3, single.mean()), rel=0.05)
    assert CHANNELS["red"] == CHANNELS["green"] == CHANNELS["blue"] == pytest.approx(1 / 3)
    assert single.sum() >= 4.68
