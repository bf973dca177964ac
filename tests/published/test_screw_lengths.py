"""Lengths of screws against handbooks.

- Mechanical Engineer's Data Handbook, 8.2.4 (p. 299), ISO metric nut and bolt sizes: nut thicknesses; standard bolt
  lengths 20 to 80 in steps of 5, then 90 to 150 in steps of 10; standard screw lengths 10, 12, 16, 18, 20, 22, 25,
  30 to 60 in steps of 5, 70. Seen.
- A fastener supplier's note for fitters: at least one thread shows above the unloaded face of the nut. Seen.
- Shigley, Mechanical Engineering Design, ch. 8, a problem of two 15 mm steel plates under an M14 × 2 bolt with its
  nut of 12.8 mm: 42.8 mm at least, so 45 mm. From memory; ours adds a thread and comes to the same.
"""

from __future__ import annotations

import itertools

import pytest

from dryfit.catalogue.rows import row
from dryfit.making.hardware import LENGTHS, screw_length, tapped_length

BOLTS = {*range(20, 81, 5), *range(90, 151, 10)}
SCREWS = {10, 12, 16, 18, 20, 22, 25, *range(30, 61, 5), 70}
NUTS = {"m3": 2.4, "m4": 3.2}
"""Normal nuts that the handbook and ISO 4032 have in common; of larger threads it gives the older, lower nuts."""


def test_usual_lengths_are_those_of_the_handbook() -> None:
    for length in LENGTHS:
        millimetres = round(length * 1e3)
        assert millimetres < 10 or millimetres in BOLTS | SCREWS


@pytest.mark.parametrize("key", NUTS)
def test_nut_heights_are_those_of_the_handbook(key: str) -> None:
    assert row("fasteners", key).quantities["nut_height"].si == pytest.approx(NUTS[key] * 1e-3)


@pytest.mark.parametrize("key", ["m3", "m4", "m5", "m6", "m8", "m10"])
def test_a_thread_shows_above_the_nut(key: str) -> None:
    """Of the screw chosen one thread or more is seen, and of the next shorter one less."""
    thread = row("fasteners", key).quantities
    nut, pitch = float(thread["nut_height"].si), float(thread["pitch"].si)
    for stack in (0.003, 0.008, 0.0121, 0.02, 0.033, 0.05):
        chosen = screw_length(stack, nut, pitch, 0.002)
        assert chosen - stack - 0.002 - nut >= pitch - 1e-12
        shorter = [x for x in LENGTHS if x < chosen - 1e-9]
        assert not shorter or shorter[-1] - stack - 0.002 - nut < pitch


def test_two_plates_of_15_mm_under_m14() -> None:
    assert screw_length(0.030, 0.0128, 0.002) == pytest.approx(0.045)


@pytest.mark.parametrize(
    ("stack", "nut", "pitch", "washers", "length"),
    [
        (24, 4.7, 0.8, 2.0, 35),  # 31.5
        (23, 8.4, 1.5, 4.0, 40),  # 36.9
        (8, 3.2, 0.7, 1.6, 16),  # 13.5
        (12.3, 2.4, 0.5, 0.8, 16),  # 16.0 to the hair
        (12.31, 2.4, 0.5, 0.8, 20),  # a hundredth beyond
    ],
)
def test_by_hand(stack: float, nut: float, pitch: float, washers: float, length: float) -> None:
    """Sums worked by hand, then the next length of the series."""
    found = screw_length(stack * 1e-3, nut * 1e-3, pitch * 1e-3, washers * 1e-3)
    assert found == pytest.approx(length * 1e-3)


def test_no_usual_screw_for_a_stack_as_thick_as_a_hand() -> None:
    with pytest.raises(ValueError, match="mm long"):
        screw_length(0.15, 0.005, 0.001)


def test_a_tapped_hole_is_not_bottomed() -> None:
    """5 mm of bracket and 5 of thread: 10; the next hole is 4 mm deep and takes none of the usual lengths."""
    assert tapped_length(0.005, 0.005, 0.006) == pytest.approx(0.010)
    assert tapped_length(0.005, 0.005, 0.0049) != tapped_length(0.005, 0.005, 0.0049)
    for stack, engagement in itertools.product((0.002, 0.004, 0.007), (0.003, 0.006)):
        assert tapped_length(stack, engagement) >= stack + engagement - 1e-12
