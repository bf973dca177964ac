"""Contact between a person and a machine.

Bibliography:
[1] ISO 10218-2:2025 Annex A (values of ISO/TS 15066 Table A.2), transient forces as seen in a secondary page; half of
    them quasi-static. A trade page with 70/140 N for the hand contradicts it and is not used.
[2] ISO/TS 15066 A.3: two masses on a spring, the speed worked out for the chest (seen; second case from memory).
[3] ISO/TS 15066 Table A.2 for the head region (from memory).
"""

from __future__ import annotations

import pytest

from dryfit.trades.safety import formulas


@pytest.mark.parametrize(
    ("region", "quasi_static", "transient"),
    [
        ("back", 210, 420), ("chest", 140, 280), ("abdomen", 110, 220), ("pelvis", 180, 360), ("upper arm", 150, 300),
        ("forearm", 160, 320), ("hand", 140, 280),
    ],
)  # fmt: skip
def test_force_limits(region: str, quasi_static: float, transient: float) -> None:
    """[1] exact (seen)."""
    assert formulas.BODY[region][0] == quasi_static
    assert formulas.transient_limit(region) == transient


@pytest.mark.parametrize(("region", "force"), [("skull", 130), ("face", 65), ("neck", 150)])
def test_no_doubled_limit_for_the_head(region: str, force: float) -> None:
    """[3] exact (from memory)."""
    assert formulas.transient_limit(region) == force


@pytest.mark.parametrize(("machine", "speed"), [(10.0, 0.6261), (25.0, 0.4515)], ids=["seen", "from memory"])
def test_speed_for_the_chest(machine: float, speed: float) -> None:
    """[2] 280 N, 25 N/mm, 40 kg; within 0.2 %."""
    force, stiffness, body = formulas.transient_limit("chest"), *formulas.BODY["chest"][1:]
    reduced = formulas.reduced_mass(machine, body)
    assert formulas.contact_speed(force, reduced, stiffness) == pytest.approx(speed, rel=0.002)
    assert formulas.contact_force(speed, reduced, stiffness) == pytest.approx(force, rel=0.002)
