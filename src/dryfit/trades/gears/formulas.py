"""Involute spur gears: one gear's circles, thicknesses and what a caliper reads on it.

`sign` is +1 for an external gear (or pair) and -1 for a ring (or internal pair); tooth counts are positive. Lengths in
m, angles in rad, shifts and addenda as factors of the module. A ring's profile shift counts outwards: a ring of shift x
is the space left by an external gear of shift x. All arguments are floats or broadcasting arrays.
"""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num

_NEWTON_STEPS = 7


def involute(angle: Num) -> Num:
    """Involute function inv α = tan α - α."""
    return np.tan(angle) - angle


def inverse_involute(value: Num) -> Num:
    """Angle whose involute function is `value`, rad; NaN below zero, where no angle is.

    Newton's method on tan φ - φ, convex on [0, π/2): started above the root it falls to it without overshoot. Both
    bounds used as the start, (3v)^(1/3) and atan(v + π/2), lie above the root.
    """
    v = np.asanyarray(value, dtype=float)
    v = np.where(v >= 0, v, np.nan)
    angle: Array = np.minimum(np.cbrt(3 * v), np.arctan(v + np.pi / 2))
    for _ in range(_NEWTON_STEPS):
        slope = np.tan(angle)
        step = (slope - angle - v) / np.where(slope > 0, slope * slope, 1.0)
        angle = np.maximum(angle - step, 0.0)
    found: Num = angle[()]
    return found


def reference_diameter(module: Num, teeth: Num) -> Num:
    """d = m z."""
    return module * teeth


def base_diameter(module: Num, teeth: Num, pressure_angle: Num) -> Num:
    """d_b = m z cos α."""
    return module * teeth * np.cos(pressure_angle)


def tip_diameter(module: Num, teeth: Num, addendum: Num, shift: Num, sign: Num) -> Num:
    """d_a = m (z + 2x ± 2 h_a): beyond the reference circle for a gear, inside it for a ring."""
    return module * (teeth + 2 * shift + sign * 2 * addendum)


def root_diameter(module: Num, teeth: Num, dedendum: Num, shift: Num, sign: Num) -> Num:
    """d_f = m (z + 2x ∓ 2 h_f)."""
    return module * (teeth + 2 * shift - sign * 2 * dedendum)


def angle_at(diameter: Num, base: Num) -> Num:
    """Pressure angle of the involute at a diameter, arccos(d_b/d); 0 inside the base circle, where no involute is."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.arccos(np.minimum(np.divide(base, diameter), 1.0))[()]


def tooth_thickness(
    module: Num, teeth: Num, pressure_angle: Num, shift: Num, thinning: Num, diameter: Num, sign: Num
) -> Num:
    """Arc thickness of a tooth at a diameter.

    s = m (π/2 ± 2x tan α) - thinning at the reference circle; s_y = d_y [s/d ± (inv α - inv α_y)].
    """
    reference = module * teeth
    thickness = module * (np.pi / 2 + sign * 2 * shift * np.tan(pressure_angle)) - thinning
    at = angle_at(diameter, reference * np.cos(pressure_angle))
    return diameter * (thickness / reference + sign * (involute(pressure_angle) - involute(at)))


def undercut_teeth(pressure_angle: Num, addendum: Num = 1.0, shift: Num = 0.0) -> Num:
    """Fewest teeth, not rounded, that a rack of this addendum generates without undercut: 2 (h_a - x)/sin² α."""
    return 2 * (addendum - shift) / np.sin(pressure_angle) ** 2


def undercut_shift(teeth: Num, pressure_angle: Num, addendum: Num = 1.0) -> Num:
    """Least profile shift without undercut: x = h_a - z sin² α/2."""
    return addendum - teeth * np.sin(pressure_angle) ** 2 / 2


def spanned_teeth(teeth: Num, pressure_angle: Num) -> Num:
    """Number of teeth to span so that the caliper touches near the reference circle: z α/π + 0.5, rounded."""
    return np.round(teeth * pressure_angle / np.pi + 0.5)


def span(module: Num, teeth: Num, pressure_angle: Num, shift: Num, spanned: Num, thinning: Num = 0.0) -> Num:
    """Base tangent length over `spanned` teeth: m cos α [(k - 0.5) π + z inv α] + 2 x m sin α - thinning cos α."""
    cosine = np.cos(pressure_angle)
    across = (spanned - 0.5) * np.pi + teeth * involute(pressure_angle)
    return module * cosine * across + 2 * shift * module * np.sin(pressure_angle) - thinning * cosine


def over_pins(
    module: Num, teeth: Num, pressure_angle: Num, shift: Num, pin: Num, sign: Num, thinning: Num = 0.0
) -> Num:
    """Size over (gear) or between (ring) two pins of diameter `pin`.

    The pin's centre lies on the circle d_b/cos φ; gear: inv φ = d_p/d_b - π/2z + inv α + (2 x m tan α - thinning)/d,
    ring: inv φ = π/2z + inv α - d_p/d_b + (2 x m tan α + thinning)/d. Odd counts lose the factor cos(π/2z).
    """
    reference = module * teeth
    base = reference * np.cos(pressure_angle)
    opened = (2 * shift * module * np.tan(pressure_angle) - sign * thinning) / reference
    phi = inverse_involute(sign * (pin / base - np.pi / (2 * teeth)) + involute(pressure_angle) + opened)
    across = np.where(np.mod(teeth, 2) == 1, np.cos(np.pi / (2 * teeth)), 1.0)
    return (base / np.cos(phi) * across + sign * pin)[()]


def chordal_thickness(diameter: Num, arc: Num) -> Num:
    """Straight width of a tooth whose arc thickness at `diameter` is `arc`: d sin(s/d)."""
    return diameter * np.sin(arc / diameter)


def chordal_addendum(diameter: Num, arc: Num, addendum_height: Num) -> Num:
    """Height of an external tooth's tip above that chord: h_a + d/2 (1 - cos(s/d)), heights in m."""
    return addendum_height + diameter / 2 * (1 - np.cos(arc / diameter))
