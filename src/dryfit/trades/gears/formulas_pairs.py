"""Two involute spur gears in mesh: centre distance, contact, backlash, interferences, sliding and loss.

Index 1 is the pinion, 2 the gear or ring. `sign` is +1 for an external, -1 for an internal pair; radii in m. Relations
for internal pairs as in general gear texts (the pair of equations is one, with the sign of the second member turned).
"""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Num
from dryfit.trades.gears.formulas import inverse_involute, involute


def reference_centre_distance(module: Num, z1: Num, z2: Num, sign: Num) -> Num:
    """Centre distance without shift: m (z2 ± z1)/2."""
    return module * (z2 + sign * z1) / 2


def working_angle(z1: Num, z2: Num, x1: Num, x2: Num, pressure_angle: Num, sign: Num) -> Num:
    """Working pressure angle without backlash: inv αw = inv α + 2 tan α (x2 ± x1)/(z2 ± z1). NaN where none is."""
    shifts = (x2 + sign * x1) / (z2 + sign * z1)
    return inverse_involute(involute(pressure_angle) + 2 * np.tan(pressure_angle) * shifts)


def centre_distance(module: Num, z1: Num, z2: Num, pressure_angle: Num, working: Num, sign: Num) -> Num:
    """Centre distance at a working pressure angle: m (z2 ± z1)/2 · cos α/cos αw."""
    return reference_centre_distance(module, z1, z2, sign) * np.cos(pressure_angle) / np.cos(working)


def angle_at_distance(module: Num, z1: Num, z2: Num, pressure_angle: Num, distance: Num, sign: Num) -> Num:
    """Working pressure angle that a centre distance imposes: cos αw = m (z2 ± z1)/2 · cos α/a. NaN where it is too
    small for the base circles to be touched by a common tangent."""
    cosine = np.asanyarray(reference_centre_distance(module, z1, z2, sign) * np.cos(pressure_angle) / distance)
    return np.arccos(np.where(cosine <= 1, cosine, np.nan))[()]


def shift_for_distance(module: Num, z1: Num, z2: Num, pressure_angle: Num, distance: Num, sign: Num) -> Num:
    """Profile shift x2 ± x1 that runs without backlash at a centre distance: (inv αw - inv α)(z2 ± z1)/(2 tan α)."""
    working = angle_at_distance(module, z1, z2, pressure_angle, distance, sign)
    return (involute(working) - involute(pressure_angle)) * (z2 + sign * z1) / (2 * np.tan(pressure_angle))


def increment_factor(module: Num, z1: Num, z2: Num, distance: Num, sign: Num) -> Num:
    """Centre distance increment factor y = a/m - (z2 ± z1)/2."""
    return distance / module - (z2 + sign * z1) / 2


def tangent_length(tip: Num, base: Num) -> Num:
    """Length of the base tangent up to a circle: √(r_a² - r_b²); 0 inside the base circle."""
    return np.sqrt(np.maximum(tip * tip - base * base, 0.0))


def contact_ratios(
    tip1: Num, base1: Num, tip2: Num, base2: Num, working: Num, pitch: Num, sign: Num
) -> tuple[Num, Num]:
    """Contact ratios of recess (out to the pinion's tip) and approach (out to the gear's tip); their sum is ε.

    ε = [√(ra1² - rb1²) ± √(ra2² - rb2²) ∓ a sin αw]/p_b with base pitch p_b = π m cos α, parted at the pitch point.
    """
    tangent = np.tan(working)
    recess = (tangent_length(tip1, base1) - base1 * tangent) / pitch
    approach = sign * (tangent_length(tip2, base2) - base2 * tangent) / pitch
    return recess, approach


def usable_tips(
    tip1: Num, base1: Num, tip2: Num, base2: Num, distance: Num, working: Num, sign: Num
) -> tuple[Num, Num]:
    """Radii up to which the tips can touch an involute at all: none reaches past the other's base tangent point.

    External: √(ra² - rb²) ≤ a sin αw for either; internal: the ring's tip stays outside the pinion's tangent point.
    """
    line = distance * np.sin(working)
    end1, end2 = np.sqrt(base1 * base1 + line * line), np.sqrt(base2 * base2 + line * line)
    tip_1 = np.where(np.asanyarray(sign) > 0, np.minimum(tip1, end1), tip1)
    tip_2 = np.where(np.asanyarray(sign) > 0, np.minimum(tip2, end2), np.maximum(tip2, end2))
    return tip_1[()], tip_2[()]


def backlash(pressure_angle: Num, free: Num, imposed: Num, distance: Num, thinning: Num, sign: Num) -> Num:
    """Circumferential backlash on the working pitch circles at an imposed centre distance, exact.

    j = ± 2 a (inv αw' - inv αw) + thinning · cos α/cos αw', αw the angle without backlash, αw' the imposed one,
    `thinning` the sum of both teeth's at the reference circles. For an internal pair moving the pinion outwards
    (larger a) tightens, for an external pair it loosens.
    """
    opened = sign * 2 * distance * (involute(imposed) - involute(free))
    return opened + thinning * np.cos(pressure_angle) / np.cos(imposed)


def backlash_change(working: Num, shift_of_centres: Num) -> Num:
    """How much the backlash changes when the centres move by a little: 2 Δa tan αw (linear rule)."""
    return 2 * shift_of_centres * np.tan(working)


def tip_clearances(tip1: Num, root1: Num, tip2: Num, root2: Num, distance: Num, sign: Num) -> tuple[Num, Num]:
    """Gaps between the pinion's tip and the gear's root, and between the gear's tip and the pinion's root, m."""
    return sign * (distance - root2) - tip1, sign * (distance - tip2) - root1


def involute_limit(tip2_angle: Num, working: Num) -> Num:
    """Least ratio z1/z2 of an internal pair at which the ring's tips touch the pinion no deeper than its base circle:
    1 - tan αa2/tan αw."""
    return 1 - np.tan(tip2_angle) / np.tan(working)


def involute_start(module: Num, teeth: Num, pressure_angle: Num, shift: Num, dedendum: Num, fillet: Num) -> Num:
    """Where the involute of a member cut by a rack begins, as a length on its base tangent, m; below it lies the root
    that the rounded tip of the rack leaves: r sin α - m (h_f - ρ_f (1 - sin α) - x)/sin α, 0 at the base circle.

    Undercut members begin beyond the base circle, by how much this does not say: 0 is answered. Derived: the end of the
    straight flank of the rack passes the line of action there.
    """
    straight = dedendum - fillet * (1 - np.sin(pressure_angle)) - shift
    start = module * (teeth / 2 * np.sin(pressure_angle) - straight / np.sin(pressure_angle))
    return np.maximum(start, 0.0)[()]


def trochoid_angles(
    z1: Num, z2: Num, tip1: Num, tip2: Num, tip1_angle: Num, tip2_angle: Num, distance: Num, working: Num
) -> tuple[Num, Num]:
    """Trochoid interference of an internal pair: (angle needed θ2, angle had θ1 z1/z2 + inv αw - inv αa2), rad.

    Free where needed ≤ had: the pinion's tip leaves the ring's space without touching the ring's tip.
    θ1 = arccos((ra2² - ra1² - a²)/(2 a ra1)) + inv αa1 - inv αw, θ2 = arccos((a² + ra2² - ra1²)/(2 a ra2)).
    """
    cosine1 = (tip2 * tip2 - tip1 * tip1 - distance * distance) / (2 * distance * tip1)
    cosine2 = (distance * distance + tip2 * tip2 - tip1 * tip1) / (2 * distance * tip2)
    theta1 = np.arccos(np.clip(cosine1, -1, 1)) + involute(tip1_angle) - involute(working)
    theta2 = np.arccos(np.clip(cosine2, -1, 1))
    return theta2, theta1 * z1 / z2 + involute(working) - involute(tip2_angle)


def trimming_angles(z1: Num, z2: Num, tip1_angle: Num, tip2_angle: Num, working: Num) -> tuple[Num, Num]:
    """Trimming interference of an internal pair, met when the pinion is put in radially: (needed, had), rad.

    Free where (z2/z1)(θ2 + inv αa2 - inv αw) ≤ θ1 + inv αa1 - inv αw with
    θ1 = arcsin √{[1 - (cos αa1/cos αa2)²]/[1 - (z1/z2)²]}, θ2 = arcsin √{[(cos αa2/cos αa1)² - 1]/[(z2/z1)² - 1]}.
    A pinion wider than the ring's bore never goes in: its needed angle is set to half a turn.
    """
    cosines = np.cos(tip1_angle) / np.cos(tip2_angle)
    ratio = np.asanyarray(z1 / z2)
    below = np.where(ratio < 1, 1 - ratio * ratio, np.nan)
    first = (1 - cosines * cosines) / below
    second = (1 / (cosines * cosines) - 1) * ratio * ratio / below
    theta1 = np.arcsin(np.sqrt(np.clip(first, 0, 1)))
    theta2 = np.arcsin(np.sqrt(np.clip(second, 0, 1)))
    needed = (theta2 + involute(tip2_angle) - involute(working)) / ratio
    needed = np.where(first > 1, np.pi, needed)
    return needed[()], (theta1 + involute(tip1_angle) - involute(working))[()]


def sliding_speed(omega1: Num, omega2: Num, from_pitch_point: Num, sign: Num) -> Num:
    """Sliding speed of the flanks at a distance from the pitch point along the line of action: (ω1 ± ω2) g, m/s."""
    return (omega1 + sign * omega2) * np.abs(from_pitch_point)


def loss_factor(z1: Num, z2: Num, recess: Num, approach: Num, sign: Num) -> Num:
    """Mesh loss factor H_V = π (u ± 1)/(z1 u) · (1 - ε + ε1² + ε2²); the mesh loses μ H_V of the power.

    As in machine-element texts (from memory), with the sign turned for an internal pair, whose flanks slide less.
    """
    u = z2 / z1
    shape = 1 - (recess + approach) + recess * recess + approach * approach
    return np.pi * (u + sign) / (z1 * u) * np.maximum(shape, 0.0)


def efficiency(friction: Num, loss: Num, other: Num) -> Num:
    """Efficiency of a stage: (1 - μ H_V)(1 - other losses)."""
    return np.maximum(1 - friction * loss, 0.0) * (1 - other)
