"""How far away a person must be seen.

Bibliography:
[1] ISO 13855 as worked in the operating instructions of a light curtain: S = 2000 T + 8 (d - 14), T = 0.32 s and
    d = 14 mm: 640 mm; above 500 mm worked again with 1600 mm/s. Seen.
[2] ISO 13855:2024, S = K T + D_DS + Z, on a consultant's page. Seen. Which K belongs to hands (2000 mm/s) and which to
    walking (1600 mm/s) is from memory.
"""

from __future__ import annotations

import pytest

from dryfit.trades.safety.checks import WALKING_SPEED
from dryfit.trades.safety.formulas import intrusion, protective_distance


def test_light_curtain_example() -> None:
    """[1] 640 mm, exact (seen)."""
    assert protective_distance(2.0, 0.32, intrusion(0.014)) == pytest.approx(0.640, rel=1e-12)


def test_walking_speed() -> None:
    """[1] and [2]: 1600 mm/s, exact."""
    assert WALKING_SPEED == 1.6
    assert protective_distance(WALKING_SPEED, 0.32, intrusion(0.014)) == pytest.approx(0.512)


def test_coarse_curtain() -> None:
    """From [1]: 30 mm resolution lets a hand 128 mm through (derived)."""
    assert intrusion(0.030) == pytest.approx(0.128)
