"""Speeds and clearances among people.

Bibliography:
[1] VDI 2854 as quoted in a maker's guide to machine safety: 15 m/min where nothing is pinched, 2 m/min where it may be.
    Seen.
[2] ISO 3691-4:2020, 4.1.15: chassis clearance of at most 40 mm for feet. Seen.
[3] ISO 3691-4: 0.3 m/s where there is less than 0.5 m of room. From memory.
"""

from __future__ import annotations

import pytest

from dryfit.machine.ledger import Ledger
from dryfit.machine.safety import resolve_safety

DEFAULTS = resolve_safety(None, Ledger())


def test_speed_of_arms_without_pinching() -> None:
    """[1] 15 m/min = 0.25 m/s, within 0.001 (seen)."""
    assert DEFAULTS.lim_arm_speed == pytest.approx(15 / 60, abs=0.001)


def test_clearance_for_feet() -> None:
    """[2] 40 mm, exact (seen)."""
    assert DEFAULTS.lim_ground_clearance == pytest.approx(0.040)


def test_speed_where_it_is_narrow() -> None:
    """[3] 0.3 m/s (from memory)."""
    assert DEFAULTS.lim_close_speed == pytest.approx(0.3)
