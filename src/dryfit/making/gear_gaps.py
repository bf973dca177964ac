"""Two toothed outlines rolled together through a whole pitch: what they leave between them, and whether they overlap.

The outlines are turned evenly, at the ratio of their teeth. At every position the gear is turned either way until the
shapes touch: a step by the distance between them over the gear's largest radius never goes too far, so that it closes
in on the touch from outside. Nothing of the involute is used for that. Only whether the driving flanks roll evenly is
judged against where the involutes alone would touch.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.making.gear_outlines import Toothed, turned
from dryfit.making.records_gears import MeshGap

POSITIONS = 20
"""Positions over a pitch."""

EVEN = 4e-6
"""By how much the touch may leave the involutes' before it counts as overlapping, m: chords and search together."""

_TOUCH = 2e-8
_STEPS = 60
_ASIDE = 1.25
"""Pitches beyond the place where the tip circles cross that are looked at: half a pitch of rolling, and play."""


def working_distance(pinion: Toothed, gear: Toothed) -> float:
    """Centre distance at which the teeth run without backlash before they are thinned, m; NaN where there is none.

    inv αw = inv α + 2 tan α (x2 ± x1)/(z2 ± z1), a = m (z2 ± z1)/2 · cos α/cos αw.
    """
    p, g = pinion.tooth, gear.tooth
    a, s = p.pressure_angle, g.side
    value = np.tan(a) - a + 2 * np.tan(a) * (g.shift + s * p.shift) / (g.teeth + s * p.teeth)
    if not value >= 0:
        return float("nan")
    low, high = 0.0, 1.55
    for _ in range(70):
        middle = (low + high) / 2
        low, high = (middle, high) if np.tan(middle) - middle < value else (low, middle)
    return float(p.module * (g.teeth + s * p.teeth) / 2 * np.cos(a) / np.cos((low + high) / 2))


def involute_backlash(pinion: Toothed, gear: Toothed, distance: float) -> float:
    """Backlash normal to the flanks that the involutes alone leave at a centre distance, m; NaN out of their reach.

    On the base circles, with base pitch p_b = 2 r_b1 π/z1 and tooth widths s_b there:
    external j = 2 (r_b1 + r_b2) inv αw - (s_b1 + s_b2 - p_b), internal j = (space of the ring on its base circle) -
    s_b1 - 2 (r_b2 - r_b1) inv αw (derived from the involute as an unwound string).
    """
    p, g = pinion.tooth, gear.tooth
    s = g.side
    together = g.base + s * p.base
    if not distance >= together:
        return float("nan")
    working = float(np.arccos(together / distance))
    opened = s * 2 * together * (float(np.tan(working)) - working)
    wide1, wide2 = 2 * p.base * p.at_base, 2 * g.base * g.at_base
    return opened + (p.pitch * p.base - wide1 - wide2 if s > 0 else wide2 - wide1)


def mesh_gap(pinion: Toothed, gear: Toothed, distance: float, shim: float = 0.0, positions: int = POSITIONS) -> MeshGap:
    """Roll the pair through a pitch at a centre distance.

    gap: how far the driven flanks can move back, along the line of action, before the other side touches: smallest
    over the pitch.  overlaps: at some position there is no room at all, or the driving flanks cannot stay where the
    involutes touch; the gap is then minus the deepest overlap.
    """
    expected = involute_backlash(pinion, gear, distance)
    fixed = Rolled(pinion, gear, distance)
    base, depth = gear.tooth.base, 0.0
    ahead = np.full(positions, np.nan)
    drive = expected / 2 if expected > 0 else 0.0  # where the involutes drive, from the middle of the play
    for k in range(positions):
        position = (k + 0.5) / positions - 0.5
        if fixed.overlap(position, 0.0) > EVEN / 2:
            depth = max(depth, fixed.overlap(position, drive / base))
            continue
        ahead[k] = fixed.touch(position) * base
        if drive - ahead[k] > EVEN:
            depth = max(depth, fixed.overlap(position, drive / base))
    behind = ahead[::-1]  # both outlines are mirror images of themselves, and so is the turn
    if depth > EVEN:
        return MeshGap(shim, distance, -depth, True)
    return MeshGap(shim, distance, float(np.min(ahead + behind)), False)


def free_ring_addendum(pinion: Toothed, gear: Toothed, distance: float) -> float:
    """Tallest tooth of a ring, in modules, whose tips touch the pinion no deeper than where its involute begins.

    On the line of action the ring's tip stands √(r_a2² - r_b2²) from the ring's base tangent point, and the pinion's
    involute begins √(r_form² - r_b1²) from the pinion's; the two lie a sin αw apart (geometry of the line of action).
    """
    p, g = pinion.tooth, gear.tooth
    line = float(np.sqrt(max(distance**2 - (g.base - p.base) ** 2, 0.0)))
    begins = float(np.sqrt(max(pinion.form**2 - p.base**2, 0.0)))
    return (g.reference + g.module * g.shift - float(np.hypot(g.base, line + begins))) / g.module


class Rolled:
    """The teeth near the mesh of a pair at one centre distance, as shapes that can be set to any position.

    The gear's centre is the origin, the pinion's lies on the x axis. At position 0 a tooth of the pinion stands in the
    middle of a space of the gear, on the line of centres; positions run from -1/2 to 1/2 over a pitch."""

    def __init__(self, pinion: Toothed, gear: Toothed, distance: float) -> None:
        p, g = pinion.tooth, gear.tooth
        self._at = np.array([distance, 0.0])
        self._pitch1, self._pitch2 = p.pitch, g.pitch * (1 if g.ring else -1)
        facing = 0.0 if g.ring else np.pi
        mine = turned(pinion.curve, facing)
        its = gear.curve if g.ring else turned(gear.curve, g.pitch / 2)
        self._largest = float(np.max(np.hypot(*its.T)))
        reach1, reach2 = _reach(pinion, gear, distance)
        self._mine = _sector(mine, facing, reach1 + _ASIDE * p.pitch)
        self._its = _sector(its, 0.0, reach2 + _ASIDE * g.pitch, rim=1.2 * self._largest if g.ring else 0.0)

    def shapes(self, position: float, ahead: float) -> tuple[Any, Any]:
        """Polygons of both members' teeth at a position, the gear turned `ahead` more, rad."""
        import shapely

        mine = turned(self._mine, position * self._pitch1) + self._at
        return shapely.Polygon(mine), shapely.Polygon(turned(self._its, position * self._pitch2 + ahead))

    def overlap(self, position: float, ahead: float) -> float:
        """How deep the shapes lie in each other: deepest corner of what they share under the other's edge, m."""
        import shapely

        mine, its = self.shapes(position, ahead)
        if not mine.intersects(its):
            return 0.0
        shared = mine.intersection(its)
        if shared.area == 0:
            return 0.0
        corners = shapely.points(shapely.get_coordinates(shared))
        under = np.maximum(shapely.distance(corners, mine.exterior), shapely.distance(corners, its.exterior))
        return float(np.max(under))

    def touch(self, position: float) -> float:
        """Angle by which the gear can be turned to the left until the shapes touch, rad."""
        import shapely

        mine, _ = self.shapes(position, 0.0)
        angle, limit = 0.0, abs(self._pitch2)
        for _ in range(_STEPS):
            its = shapely.Polygon(turned(self._its, position * self._pitch2 + angle))
            apart = float(shapely.distance(mine, its))
            if apart < _TOUCH or angle > limit:
                break
            angle += apart / self._largest
        return angle


def _reach(pinion: Toothed, gear: Toothed, distance: float) -> tuple[float, float]:
    """Angles from the line of centres up to where the tip circles cross, at the pinion and at the gear."""
    a, tip1, tip2 = distance, pinion.tip, gear.tip
    s = gear.tooth.side
    cosine1 = s * (a * a + tip1 * tip1 - tip2 * tip2) / (2 * a * tip1)
    cosine2 = (a * a + tip2 * tip2 - tip1 * tip1) / (2 * a * tip2)
    return float(np.arccos(np.clip(cosine1, -1, 1))), float(np.arccos(np.clip(cosine2, -1, 1)))


def _sector(curve: Array, middle: float, half: float, rim: float = 0.0) -> Array:
    """The closed shape of the teeth within an angle to either side: a gear's down to its centre, a ring's out to `rim`.

    A sector of half a turn or more is the whole gear; of a ring everything but a slit opposite to the middle."""
    angle = np.arctan2(curve[:, 1], curve[:, 0]) - middle
    angle = (angle + np.pi) % (2 * np.pi) - np.pi
    kept = np.abs(angle) <= min(half, 0.995 * np.pi)
    if half >= np.pi / 2 and not rim:
        return curve
    begin = int(np.nonzero(kept & ~np.roll(kept, 1))[0][0])
    order = (begin + np.arange(len(curve))) % len(curve)
    teeth = curve[order[kept[order]]]
    if not rim:
        return np.concatenate([teeth, [[0.0, 0.0]]])
    first, last = angle[order[kept[order]]][[0, -1]] + middle
    sweep = np.linspace(last, first, 48)
    return np.concatenate([teeth, np.stack([rim * np.cos(sweep), rim * np.sin(sweep)], axis=-1)])
