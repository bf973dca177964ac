"""Fuses.

Bibliography
- Published fuse-selection guide: pulses withstood by share of melting I²t, I²t of a decaying pulse, and the opening
  limits of UL/CSA 248-14 (135 % opens within an hour). Seen.
- Common practice: 12 A that last take a 16 A fuse at 75 %; load <= 0.75 to 0.8 fuse <= wire <= connector.
"""

from __future__ import annotations

import pytest

from dryfit.design.sections.power import Power as PowerRecord
from dryfit.machine.ledger import Ledger
from dryfit.machine.power import resolve_power
from dryfit.trades.power import formulas as f


@pytest.mark.parametrize(("pulses", "share"), [(1e5, 0.22), (1e4, 0.29), (1e3, 0.38), (1e2, 0.48)])
def test_chart_of_pulses_withstood_seen(pulses: float, share: float) -> None:
    assert f.pulse_share(pulses) == pytest.approx(share, rel=1e-9)


def test_heat_of_a_decaying_pulse_seen() -> None:
    assert f.decaying_pulse(100.0, 5e-3) == pytest.approx(25.0, rel=5e-3)


def test_melting_heat_needed_for_10000_pulses_seen() -> None:
    assert f.decaying_pulse(100.0, 5e-3) / f.pulse_share(1e4) == pytest.approx(86.2, rel=5e-3)


def test_sustained_share_of_a_fuse_common_practice() -> None:
    # 12 A at the 75 % of general fuses is a 16 A fuse, at the 80 % of blade fuses a 15 A one.
    assert 15.0 <= 12 / float(resolve_power(PowerRecord(), Ledger()).lim_fuse_share) <= 16.0


def test_peaks_stay_below_what_opens_a_fuse_seen() -> None:
    # 135 % opens within an hour at the latest (UL/CSA 248-14): a second at up to 135 % is held.
    assert resolve_power(PowerRecord(), Ledger()).lim_fuse_peak <= 1.35
