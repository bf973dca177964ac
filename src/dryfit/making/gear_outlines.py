"""Tooth outlines as a cutter generates them: gears by a rack, rings by a cutter shaped like a pinion.

Flanks are involutes in closed form. Root roundings are exact envelopes of the cutter's rounded tip: the point of a
rounding that cuts is the one whose normal passes through the pitch point (law of gearing), so that every fillet point
has a closed form in the direction of that normal. Only the sampling is finite: chords leave their curve by less than
`CHORD`. Lengths in m, angles in rad.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from dryfit.ground.quantity import Array

CHORD = 1e-6
"""Farthest that a chord of an outline leaves its curve, m."""

_SAME = 1e-9
"""Points nearer than this are one, m."""

_DIFFERENCE = 18
"""Teeth by which a ring should exceed its cutter, so that the cutter's tips do not trim the ring's: tables of the trade
ask 18 to 19 of a standard cutter (metric gear handbook, table of smallest rings)."""


@dataclass(frozen=True)
class Tooth:
    """What decides a tooth form. ring: internal teeth.  addendum, dedendum, fillet, shift: factors of the module; a
    ring's shift counts outwards.  thinning: what the tooth is thinner at the reference circle, m.  generated: root as
    the cutter leaves it; else flanks run straight to the centre below the base circle, and roots are sharp."""

    ring: bool
    module: float
    teeth: int
    pressure_angle: float
    shift: float = 0.0
    addendum: float = 1.0
    dedendum: float = 1.25
    fillet: float = 0.38
    thinning: float = 0.0
    generated: bool = True

    @property
    def side(self) -> int:
        """+1 for a gear, whose teeth point outwards, -1 for a ring."""
        return -1 if self.ring else 1

    @property
    def reference(self) -> float:
        """Radius of the reference circle."""
        return self.module * self.teeth / 2

    @property
    def base(self) -> float:
        """Radius of the base circle."""
        return self.reference * float(np.cos(self.pressure_angle))

    @property
    def tip(self) -> float:
        """Radius of the tip circle as asked for."""
        return self.reference + self.module * (self.shift + self.side * self.addendum)

    @property
    def root(self) -> float:
        """Radius of the root circle."""
        return self.reference + self.module * (self.shift - self.side * self.dedendum)

    @property
    def at_base(self) -> float:
        """Half the angle of a gear's tooth, or of a ring's space, where the involute begins on the base circle."""
        thick = self.module * (np.pi / 2 + 2 * self.shift * np.tan(self.pressure_angle)) - self.side * self.thinning
        return float(thick / (2 * self.reference) + np.tan(self.pressure_angle) - self.pressure_angle)

    @property
    def pitch(self) -> float:
        """Angle from tooth to tooth."""
        return 2 * np.pi / self.teeth


@dataclass(frozen=True)
class Toothed:
    """A toothed outline. curve: (N, 2), closed, to the left, one tooth (of a ring: one space) on the x axis.
    tip, root: radii; form: radius at which the involute begins (of a gear) or ends (of a ring) at the root.
    undercut: the root rounding has cut into the involute.  rounding: radius of the cutter's tip that was used.
    cutter: teeth of the ring's cutter, 0 for a rack.  notes: what could not be as asked."""

    tooth: Tooth
    curve: Array
    tip: float
    root: float
    form: float
    undercut: bool
    rounding: float
    cutter: int
    notes: tuple[str, ...]


def toothed(tooth: Tooth) -> Toothed:
    """The outline of a gear or a ring."""
    if not tooth.generated:
        return _drawn(tooth)
    return _shaped(tooth) if tooth.ring else _hobbed(tooth)


def half_angle(tooth: Tooth, radius: float | Array) -> Array:
    """Half the angle of a gear's tooth, or of a ring's space, at a radius outside the base circle: ψ_b - inv α_y."""
    unwound = np.sqrt(np.maximum((np.asanyarray(radius) / tooth.base) ** 2 - 1, 0.0))
    return np.asanyarray(tooth.at_base - (unwound - np.arctan(unwound)))


def flank(t: Tooth, begin: float, end: float, chord: float = CHORD) -> Array:
    """Involute (N, 2) from radius to radius: the upper side of the space on the x axis, which a gear's teeth leave
    narrower outwards and which of a ring is what `half_angle` gives. Inside the base circle there is none."""

    def line(unwound: Array) -> Array:
        half = t.at_base - (unwound - np.arctan(unwound))
        return polar(t.base * np.sqrt(1 + unwound**2), half if t.ring else t.pitch / 2 - half)

    return traced(line, _roll(t, begin), _roll(t, end), chord)


def traced(curve: Callable[[Array], Array], begin: float, end: float, chord: float = CHORD) -> Array:
    """Points (N, 2) on a curve from one end to the other, as many as keep every chord within `chord` of it."""
    n = 2
    while True:
        at = np.linspace(begin, end, 2 * n + 1)
        points = curve(at)
        a, b, middle = points[:-2:2], points[2::2], points[1::2]
        along = b - a
        length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-15)
        off = np.abs(along[:, 0] * (middle - a)[:, 1] - along[:, 1] * (middle - a)[:, 0]) / length
        if np.max(off) < chord or n >= 4096:
            return points[::2]
        n = max(n + 1, int(np.ceil(n * min(np.sqrt(np.max(off) / chord), 8.0))))


def polar(radius: float | Array, angle: float | Array) -> Array:
    """Points (N, 2) from polar coordinates."""
    r, phi = np.broadcast_arrays(np.asanyarray(radius, dtype=float), np.asanyarray(angle, dtype=float))
    return np.stack([r * np.cos(phi), r * np.sin(phi)], axis=-1)


def turned(points: Array, angle: float | Array) -> Array:
    """Points (..., N, 2) turned to the left about the origin."""
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([c * points[..., 0] - s * points[..., 1], s * points[..., 0] + c * points[..., 1]], axis=-1)


def involute_limit(tooth: Tooth, cutter: int) -> float:
    """Least teeth that a ring's cutter needs for its involute to reach the ring's tips: z2 (1 - tan αa2/tan αw)."""
    tip = float(np.sqrt(max(tooth.tip**2 - tooth.base**2, 0.0))) / tooth.base
    working = _cutting_angle(tooth, cutter)
    return tooth.teeth * (1 - tip / float(np.tan(working))) if working > 0 else float(tooth.teeth)


def cutter_teeth(tooth: Tooth) -> int:
    """Teeth of the cutter that shapes a ring: near half the ring's, enough for its involute to reach the ring's tips,
    and 18 fewer than the ring has where that leaves a choice."""
    most = max(tooth.teeth - _DIFFERENCE, 8)
    wanted = min(max(round(tooth.teeth / 2), 8), most)
    return next((z for z in range(wanted, most + 1) if z >= involute_limit(tooth, z)), wanted)


# --- a gear by a rack -------------------------------------------------------------------------------------------------


def _hobbed(t: Tooth) -> Toothed:
    """The rack's reference line lies `shift` modules outside the gear's reference circle, which rolls on its pitch
    line; its teeth are wider than its gaps by the gear's thinning."""
    m, alpha, r = t.module, t.pressure_angle, t.reference
    notes: list[str] = []
    half = m * np.pi / 4 + t.thinning / 2 - m * t.dedendum * np.tan(alpha)
    rounding = min(m * t.fillet, float(half * np.cos(alpha) / (1 - np.sin(alpha))))
    if rounding < m * t.fillet - _SAME:
        notes.append(
            f"the root is rounded by {rounding * 1e3:.2f} mm: the rack's tip has no room for "
            f"{m * t.fillet * 1e3:.2f} mm"
        )
    rounding = max(rounding, 0.0)
    across = float(half - rounding * (1 - np.sin(alpha)) / np.cos(alpha))
    height = m * (t.shift - t.dedendum) + rounding  # of the rounding's centre over the pitch line

    def space(direction: Array) -> Array:
        """Upper side of the space on the x axis, by the direction of the rounding's normal through the pitch point."""
        rolled = -across - height / np.tan(direction)
        beside = across + rolled + rounding * np.cos(direction)
        outwards = r + height - rounding * np.sin(direction)
        return turned(np.stack([outwards, beside], axis=-1), -rolled / r)

    joint = space(np.array([alpha]))[0]
    straight = -(height - rounding * np.sin(alpha))
    undercut = bool(straight > r * np.sin(alpha) ** 2 + 1e-12)
    begin = alpha
    if undercut:
        begin = _crossing(t, space, alpha)
        joint = space(np.array([begin]))[0]
    form = float(np.hypot(*joint))
    root_end = space(np.array([np.pi / 2]))[0]
    tip, note = _tip(t)
    notes += note
    root_half = float(np.arctan2(root_end[1], root_end[0]))
    upper = [
        traced(lambda a: polar(t.root, a), 0.0, root_half),
        traced(space, np.pi / 2, begin),
        flank(t, form, tip),
    ]
    # the space's upper side belongs to the tooth whose middle stands half a pitch further
    return Toothed(t, _around(t, _joined(upper), tip), tip, t.root, form, undercut, rounding, 0, tuple(notes))


def _crossing(t: Tooth, space: Callable[[Array], Array], alpha: float) -> float:
    """Direction at which an undercutting fillet leaves the gear through its involute."""

    def beyond(direction: float) -> float:
        """How much farther the fillet cuts than the involute, as an angle; both at the fillet's radius."""
        point = space(np.array([direction]))[0]
        there = float(np.arctan2(point[1], point[0]))
        return there - (t.pitch / 2 - float(half_angle(t, float(np.hypot(*point)))))

    low, high = alpha, np.pi / 2
    for _ in range(60):  # where the fillet crosses the base circle it cuts deeper than the involute
        middle = (low + high) / 2
        if float(np.hypot(*space(np.array([middle]))[0])) < t.base:
            high = middle
        else:
            low = middle
    inner, outer = low, alpha
    for _ in range(60):
        middle = (inner + outer) / 2
        inner, outer = (middle, outer) if beyond(middle) > 0 else (inner, middle)
    return (inner + outer) / 2


def _tip(t: Tooth) -> tuple[float, list[str]]:
    """Radius of the tip circle; lower where the flanks of a gear meet before it."""
    if float(half_angle(t, t.tip)) > 0:
        return t.tip, []
    low, high = t.base, t.tip
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if float(half_angle(t, middle)) > 0 else (low, middle)
    lost = (t.tip - low) * 1e3
    return low, [f"the flanks meet {lost:.2f} mm below the tip circle asked for: the teeth are pointed"]


# --- a ring by a cutter -----------------------------------------------------------------------------------------------


def _cutting_angle(t: Tooth, cutter: int) -> float:
    """Working pressure angle between ring and cutter, by the shift alone: inv αc = inv α + 2 x tan α/(z2 - zc)."""
    a = t.pressure_angle
    value = np.tan(a) - a + 2 * np.tan(a) * t.shift / (t.teeth - cutter)
    low, high = 0.0, 1.5
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if np.tan(middle) - middle < value else (low, middle)
    return (low + high) / 2


def _shaped(t: Tooth) -> Toothed:
    """The cutter has no shift, teeth thicker by the ring's thinning, and reaches to the ring's root circle."""
    z = cutter_teeth(t)
    working = _cutting_angle(t, z)
    apart = t.module * (t.teeth - z) / 2 * float(np.cos(t.pressure_angle) / np.cos(working))
    tool = replace(Tooth(False, t.module, z, t.pressure_angle), thinning=-t.thinning)
    tip = t.root - apart
    rounding, middle = _cutter_rounding(tool, tip, t.module * t.fillet)
    notes = []
    if involute_limit(t, z) > z:
        notes.append(
            f"no cutter reaches this ring's tips with its involute; the flanks are drawn on, as if one of {z} did"
        )
    if rounding < t.module * t.fillet - _SAME:
        notes.append(
            f"the root is rounded by {rounding * 1e3:.2f} mm: the cutter's tip has no room for "
            f"{t.module * t.fillet * 1e3:.2f} mm"
        )
    centre = tip - rounding
    pitch_circle = apart * z / (t.teeth - z)
    farthest = float(np.pi / 2 - np.arccos(min(tool.base / centre, 1.0)))

    def space(slant: Array) -> Array:
        """Upper side of the space, by the slant of the rounding's normal against the line from the cutter's centre."""
        normal = np.arcsin(np.clip(centre * np.sin(slant) / pitch_circle, -1, 1))
        at = normal - slant
        x = apart + centre * np.cos(at) + rounding * np.cos(normal)
        y = centre * np.sin(at) + rounding * np.sin(normal)
        return turned(np.stack([x, y], axis=-1), -(at - middle) * z / t.teeth)

    joint = space(np.array([farthest]))[0]
    form = float(np.hypot(*joint))
    root_half = middle * z / t.teeth
    upper = [
        traced(lambda a: polar(t.root, a), 0.0, root_half),
        traced(space, 0.0, farthest),
        _ring_flank(t, form),
    ]
    return Toothed(
        t, _around(t, _joined(upper), t.tip), t.tip, t.root, form, False, rounding, z, (*notes, *_below_base(t))
    )


def _cutter_rounding(tool: Tooth, tip: float, asked: float) -> tuple[float, float]:
    """Radius of the cutter's tip rounding, as asked or as large as the tip's width allows, and the angle of its centre
    from the middle of the tooth: the flank moved in by the rounding is an involute of the same base circle."""

    def middle(rounding: float) -> float:
        return float(half_angle(tool, tip - rounding)) - rounding / tool.base

    if middle(asked) >= 0 and tip - asked > tool.base:
        return asked, middle(asked)
    low, high = 0.0, min(asked, max(tip - tool.base, 0.0))
    for _ in range(60):
        half = (low + high) / 2
        low, high = (half, high) if middle(half) >= 0 else (low, half)
    return low, max(middle(low), 0.0)


def _ring_flank(t: Tooth, form: float) -> Array:
    """Upper side of a ring's space from its root inwards; below the base circle straight to the centre."""
    line = flank(t, form, t.tip)
    return line if t.tip >= t.base else np.concatenate([line, polar(np.array([t.tip]), t.at_base)])


def _below_base(t: Tooth) -> tuple[str, ...]:
    if t.tip >= t.base:
        return ()
    inside = (t.base - t.tip) * 1e3
    return (
        f"the ring's tips reach {inside:.2f} mm inside its base circle, where no involute is: drawn straight there",
    )


# --- straight roots ---------------------------------------------------------------------------------------------------


def _drawn(t: Tooth) -> Toothed:
    """Involutes down to the base circle, straight to the root circle from there, sharp roots."""
    form = max(t.root, t.base) if not t.ring else t.root
    tip, notes = (t.tip, []) if t.ring else _tip(t)
    if t.ring:
        root_half = float(half_angle(t, t.root))
        side = _ring_flank(t, t.root)
    else:
        root_half = t.pitch / 2 - float(half_angle(t, max(t.root, t.base)))
        side = flank(t, form, tip)
    upper = [traced(lambda a: polar(t.root, a), 0.0, root_half), side]
    curve = _around(t, _joined(upper), tip)
    return Toothed(t, curve, tip, t.root, form, False, 0.0, 0, (*notes, *(_below_base(t) if t.ring else ())))


# --- putting a whole outline together ---------------------------------------------------------------------------------


def _roll(t: Tooth, radius: float) -> float:
    """Roll angle of the involute at a radius, 0 inside the base circle."""
    return float(np.sqrt(max((radius / t.base) ** 2 - 1, 0.0)))


def _joined(pieces: list[Array]) -> Array:
    """One line of points through all pieces, without points that stand twice."""
    points = np.concatenate(pieces)
    step = np.hypot(*np.diff(points, axis=0).T)
    return np.asanyarray(points[np.concatenate([[True], step > _SAME])])


def _around(t: Tooth, upper: Array, tip: float) -> Array:
    """The closed outline from the upper half of one space: mirrored, with the tip to the next space, all round.

    A gear's tooth then stands on the x axis, of a ring the space does."""
    lower = (upper * [1.0, -1.0])[::-1]
    begin, end = float(np.arctan2(upper[-1][1], upper[-1][0])), t.pitch + float(np.arctan2(lower[0][1], lower[0][0]))
    land = traced(lambda a: polar(tip, a), begin, end)[1:-1] if end > begin else np.empty((0, 2))
    one = _joined([lower, upper, land] if len(land) else [lower, upper])
    if np.hypot(*(one[-1] - turned(one[:1], t.pitch)[0])) <= _SAME:
        one = one[:-1]
    whole = np.concatenate([turned(one, n * t.pitch) for n in range(t.teeth)])
    return whole if t.ring else turned(whole, t.pitch / 2)
