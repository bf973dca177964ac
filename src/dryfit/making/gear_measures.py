"""What a calliper reads on a toothed outline, found on the outline itself: span over teeth, size over pins."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.making.gear_outlines import Toothed, flank, half_angle, turned

_PIN_STEP = 0.5e-3
"""Drill shanks come in steps of half a millimetre; they serve as measuring pins (common practice)."""

_PIN_MODULES = 1.68
"""A pin of 1.68 modules touches the flanks near the reference circle (common practice)."""


_FINE = 1e-8
"""Chords of a flank that is measured, m: what the outline's own chords cut off would stand in the result."""


def pin_size(module: float) -> float:
    """Diameter of the measuring pins: the half millimetre next above 1.68 modules."""
    return float(np.ceil(_PIN_MODULES * module / _PIN_STEP - 1e-9) * _PIN_STEP)


def spanned(form: Toothed) -> int:
    """Teeth to span so that the jaws touch half way between form and tip circle, at least two."""
    t = form.tooth
    middle = (form.form + form.tip) / 2
    roll = float(np.sqrt(max((middle / t.base) ** 2 - 1, 0.0)))
    # jaws touch where the roll angle is half the angle spanned on the base circle
    return max(2, round((2 * roll - 2 * t.at_base) / t.pitch + 1))


def span(form: Toothed, count: int) -> float:
    """Largest distance between parallel jaws across `count` teeth of a gear, NaN where they cannot touch flanks.

    The teeth stand to both sides of the x axis; on their outer flanks the points farthest from it are where jaws lie.
    """
    t = form.tooth
    if t.ring or count >= t.teeth / 2:
        return float("nan")
    curve = form.curve if count % 2 else turned(form.curve, t.pitch / 2)
    angle = np.arctan2(curve[:, 1], curve[:, 0])
    radius = np.hypot(*curve.T)
    highest = np.abs(angle - (count - 1) / 2 * t.pitch) <= t.pitch / 2
    flank = highest & (angle > (count - 1) / 2 * t.pitch) & (radius >= form.form - 1e-9) & (radius <= form.tip + 1e-9)
    y = curve[flank, 1]
    order = np.argsort(radius[flank])
    y, r = y[order], radius[flank][order]
    top = int(np.argmax(y))
    if top in (0, len(y) - 1):
        return float("nan")
    return 2 * _peak(r[top - 1 : top + 2], y[top - 1 : top + 2])


def _peak(x: Array, y: Array) -> float:
    """Height of the parabola through three points."""
    a, b, c = np.polyfit(x - x[1], y, 2)
    return float(c - b * b / (4 * a)) if a < 0 else float(y[1])


def over_pins(form: Toothed, pin: float) -> float:
    """Size over two pins in opposite spaces of a gear, or between two in spaces of a ring, m; of odd tooth counts the
    spaces are as opposite as can be. NaN where a pin does not rest on both flanks or does not stand out.

    The pin's centre lies on the middle of a space where it is half a pin from the outline.
    """
    import shapely

    t = form.tooth
    edge = shapely.LineString(flank(t, form.form, form.tip, _FINE))
    inner, outer = (t.base, t.root) if t.ring else (form.root, form.tip + pin)
    for _ in range(50):
        middle = (inner + outer) / 2
        free = shapely.Point(middle, 0.0).distance(edge) > pin / 2
        inner, outer = (middle, outer) if free == t.ring else (inner, middle)
    centre = (inner + outer) / 2
    across = float(np.cos(np.pi / (2 * t.teeth))) if t.teeth % 2 else 1.0
    if not _rests(form, centre, pin):
        return float("nan")
    return 2 * centre * across + t.side * pin


def _rests(form: Toothed, centre: float, pin: float) -> bool:
    """Whether the pin touches the involutes, not root or tips, and stands out so that jaws reach it."""
    t = form.tooth
    if not centre > t.base:
        return False
    string = float(np.sqrt(centre**2 - t.base**2)) - t.side * pin / 2
    touch = float(np.hypot(t.base, string))
    between = form.form <= touch <= form.tip if not t.ring else form.tip <= touch <= form.form
    out = centre + pin / 2 > form.tip if not t.ring else centre - pin / 2 < form.tip
    return bool(between and out)


def thickness(form: Toothed) -> float:
    """Arc thickness of a tooth at the reference circle, m."""
    t = form.tooth
    half = float(half_angle(t, t.reference))
    return 2 * t.reference * (t.pitch / 2 - half if t.ring else half)
