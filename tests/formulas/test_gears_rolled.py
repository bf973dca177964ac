"""An independent proof of the mesh formulas: both tooth outlines are unwound from a string and rolled together.

Nothing of the trade's formulas is used for the outlines: a point at radius r of an involute of base circle r_b has
unwound the string t = √((r/r_b)² - 1) and so stands at the polar angle t - arctan t. Below the base circle the flank is
drawn straight towards the centre. A pair is free at a position when no point of either outline lies in the other's
material; the play of the pinion, ring or gear held, is what the backlash formula must give at every position.
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.trades.gears import formulas as one
from dryfit.trades.gears import formulas_pairs as pair

ALPHA = np.deg2rad(20)
POINTS = 160
POSITIONS = 9


class Outline:
    """One gear: material where |angle from the nearest tooth's middle| < half(r), out to the tip (ring: in to it)."""

    def __init__(self, m, z, x, addendum, dedendum, thinning, ring=False):
        self.z, self.ring, side = z, ring, -1 if ring else 1
        self.reference, self.base = m * z / 2, m * z * np.cos(ALPHA) / 2
        self.tip = self.reference + m * x + side * m * addendum
        self.root = self.reference + m * x - side * m * dedendum
        self.at_reference = (m * (np.pi / 2 + side * 2 * x * np.tan(ALPHA)) - thinning) / (2 * self.reference)

    def half(self, r):
        unwound = np.sqrt(np.maximum((r / self.base) ** 2 - 1, 0))
        turned = unwound - np.arctan(unwound)
        at = np.sqrt((self.reference / self.base) ** 2 - 1)
        change = turned - (at - np.arctan(at))
        return self.at_reference + change if self.ring else self.at_reference - change

    def points(self):
        """Polar points on both flanks and along the tip of every tooth, reaching to the root."""
        r = np.linspace(self.root, self.tip, POINTS)
        land = np.linspace(-1, 1, 15) * self.half(self.tip)
        radius = np.concatenate([r, r, np.full(land.size, self.tip)])
        angle = np.concatenate([self.half(r), -self.half(r), land])
        middles = 2 * np.pi * np.arange(self.z) / self.z
        return np.tile(radius, self.z), (angle[None, :] + middles[:, None]).ravel()

    def inside(self, r, angle):
        pitch = 2 * np.pi / self.z
        off = np.abs((angle + pitch / 2) % pitch - pitch / 2)
        tooth = off < self.half(r) - 1e-9
        return ((r > self.tip) if self.ring else (r < self.tip)) & tooth | (
            (r > self.root) if self.ring else (r < self.root)
        )


def free(pinion, gear, distance, position, slack):
    """Whether the pair is clear with the pinion turned by `position` rolled and `slack` more."""
    turn1 = position + slack
    if gear.ring:
        # Ring's centre at the origin, pinion at (distance, 0), a pinion tooth pointing outwards into a ring space.
        turn2 = position * pinion.z / gear.z + np.pi / gear.z
    else:
        # Pinion at (distance, 0) pointing back at the gear's space on the x axis.
        turn2 = -position * pinion.z / gear.z + np.pi / gear.z
        turn1 = turn1 + np.pi
    r1, angle1 = pinion.points()
    x, y = distance + r1 * np.cos(angle1 + turn1), r1 * np.sin(angle1 + turn1)
    r2, angle2 = gear.points()
    u, v = r2 * np.cos(angle2 + turn2) - distance, r2 * np.sin(angle2 + turn2)
    clash = gear.inside(np.hypot(x, y), np.arctan2(y, x) - turn2).any()
    return not (clash or pinion.inside(np.hypot(u, v), np.arctan2(v, u) - turn1).any())


def play(pinion, gear, distance, position, reach):
    """Angle through which the pinion can turn at a position, rad; 0 where it fouls."""
    if not free(pinion, gear, distance, position, 0.0):
        return 0.0
    total = 0.0
    for side in (1, -1):
        low, high = 0.0, reach
        for _ in range(18):
            middle = (low + high) / 2
            low, high = (middle, high) if free(pinion, gear, distance, position, side * middle) else (low, middle)
        total += low
    return total


def rolled(m, z1, z2, x1, x2, thinning, sign, off=0.0, ring_addendum=1.0):
    """Backlash by formula and plays by rolling, at the working pitch circle, and whether play is even over a pitch."""
    angle = pair.working_angle(z1, z2, x1, x2, ALPHA, sign)
    distance = pair.centre_distance(m, z1, z2, ALPHA, angle, sign) + off
    imposed = pair.angle_at_distance(m, z1, z2, ALPHA, distance, sign)
    expected = pair.backlash(ALPHA, angle, imposed, distance, 2 * thinning, sign)
    pinion = Outline(m, z1, x1, 1.0, 1.25, thinning)
    gear = Outline(m, z2, x2, ring_addendum, 1.25, thinning, ring=sign < 0)
    radius = distance * z1 / (z2 + sign * z1)
    positions = np.linspace(0, 2 * np.pi / z1, POSITIONS, endpoint=False)
    plays = [radius * play(pinion, gear, distance, p, 1.2 * expected / radius) for p in positions]
    return float(expected), np.array(plays)


@pytest.mark.parametrize(
    ("z1", "z2", "x1", "x2", "sign", "off"),
    [
        (24, 60, 0.0, 0.0, -1, 0.0),
        (24, 60, 0.0, 0.0, -1, 0.1),
        (24, 60, 0.2, 0.5, -1, -0.1),
        (20, 40, 0.0, 0.0, 1, 0.0),
        (20, 40, 0.3, 0.1, 1, -0.1),
        (20, 40, 0.3, 0.1, 1, 0.15),
    ],
)
def test_backlash_formula_is_the_play_of_the_rolled_outlines(z1, z2, x1, x2, sign, off):
    expected, plays = rolled(2.0, z1, z2, x1, x2, 0.15, sign, off)
    assert plays == pytest.approx(np.full(POSITIONS, expected), abs=1e-3)


def limits(z1, z2, ring_addendum=1.0):
    """Involute and trochoid margins of a module-1 internal pair without shift."""
    base = z1 * np.cos(ALPHA) / 2, z2 * np.cos(ALPHA) / 2
    tip = z1 / 2 + 1, z2 / 2 - ring_addendum
    angle = one.angle_at(tip[0], base[0]), one.angle_at(tip[1], base[1])
    needed, had = pair.trochoid_angles(z1, z2, *tip, *angle, (z2 - z1) / 2, ALPHA)
    return z1 / z2 - pair.involute_limit(angle[1], ALPHA), had - needed


def test_involute_interference_of_12_in_48_eats_play_and_jams_a_close_mesh():
    # The ring's tips dig into the flanks below the base circle: a loose mesh turns unevenly, a close one sticks.
    assert limits(12, 48)[0] < 0 < limits(12, 48)[1]
    expected, loose = rolled(1.5, 12, 48, 0, 0, 0.1, -1)
    assert expected == pytest.approx(0.2)
    assert loose.max() == pytest.approx(expected, abs=1e-3)
    assert loose.min() < 0.7 * expected
    _, close = rolled(1.5, 12, 48, 0, 0, 0.015, -1)
    assert close.min() == 0.0


def test_ring_shortened_to_the_involute_limit_rolls_free():
    # The tallest ring addendum that the rule allows for 12 in 48 is 0.6223 modules.
    assert limits(12, 48, 0.622)[0] > 0 > limits(12, 48, 0.6225)[0]
    expected, plays = rolled(1.5, 12, 48, 0, 0, 0.1, -1, ring_addendum=0.622)
    assert plays == pytest.approx(np.full(POSITIONS, expected), abs=1e-3)


def test_trochoid_interference_of_a_small_tooth_difference_jams_when_rolled():
    assert limits(44, 50)[1] < 0
    _, plays = rolled(1.0, 44, 50, 0, 0, 0.05, -1)
    assert plays.min() == 0.0


def test_enough_tooth_difference_rolls_free():
    assert min(limits(38, 50)) > 0
    expected, plays = rolled(1.0, 38, 50, 0, 0, 0.05, -1)
    assert plays == pytest.approx(np.full(POSITIONS, expected), abs=1e-3)
