"""Strength of spur gear teeth: Lewis beam, root stress by the 30° tangent, flank pressure, warmth, derating.

Loads in N, lengths in m, stresses in Pa, angles in rad. The relations of ISO 6336-3, ISO 6336-2 and VDI 2736-2 are
quoted from memory; the published checks in the tests say which of their numbers were seen.
"""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num
from dryfit.trades.gears.formulas import angle_at, involute

LEWIS_TEETH: Array = np.array(
    [12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 24, 26, 28, 30, 34, 38, 43, 50, 60, 75, 100, 150, 300, 400, 1e9]
)
LEWIS_FORM: Array = np.array(
    [0.245, 0.261, 0.277, 0.290, 0.296, 0.303, 0.309, 0.314, 0.322, 0.328, 0.331, 0.337, 0.346, 0.353, 0.359,
     0.371, 0.384, 0.397, 0.409, 0.422, 0.435, 0.447, 0.460, 0.472, 0.480, 0.485]
)  # fmt: skip
"""Lewis form factor Y of 20° full-depth teeth, load at the tip (table as in general machine-design texts)."""

_RACK_TEETH = 1e4
_NEWTON_STEPS = 5


def tangential_force(torque: Num, diameter: Num) -> Num:
    """Force at the working pitch circle: 2 T/d."""
    return 2 * torque / diameter


def lewis_form(teeth: Num) -> Num:
    """Lewis form factor Y of a 20° full-depth tooth by tooth count, interpolated along 1/z, in which the table is
    nearly straight. Below 12 teeth, where the table ends, NaN."""
    z = np.asanyarray(teeth, dtype=float)
    form = np.interp(-1 / z, -1 / LEWIS_TEETH, LEWIS_FORM)
    return np.where(z >= LEWIS_TEETH[0], form, np.nan)[()]


def lewis_strength(allowable: Num, face_width: Num, module: Num, form: Num) -> Num:
    """Lewis beam strength, N: σ b m Y."""
    return allowable * face_width * module * form


def lewis_stress(force: Num, face_width: Num, module: Num, form: Num) -> Num:
    """Root stress of the Lewis beam: F/(b m Y)."""
    return force / (face_width * module * form)


def speed_factor(speed: Num) -> Num:
    """Speed factor of cut metal teeth, 3/(3 + v) with v in m/s: allowable load times this."""
    return 3 / (3 + speed)


def root_section(teeth: Num, pressure_angle: Num, shift: Num, dedendum: Num, fillet: Num) -> tuple[Num, Num, Num, Num]:
    """Section where the 30° tangents touch the root rounding that a rack generates: (s_Fn/m, ρ_F/m, θ, G).

    ISO 6336-3 (from memory): E = π/4 - h_f tan α - (1 - sin α) ρ/cos α, G = ρ - h_f + x, H = 2/z (π/2 - E) - π/3,
    θ = 2G/z tan θ - H, s_Fn = z sin(π/3 - θ) + √3 (G/cos θ - ρ), ρ_F = ρ + 2 G²/[cos θ (z cos² θ - 2 G)].
    """
    e = np.pi / 4 - dedendum * np.tan(pressure_angle) - (1 - np.sin(pressure_angle)) * fillet / np.cos(pressure_angle)
    g = fillet - dedendum + shift
    h = 2 / teeth * (np.pi / 2 - e) - np.pi / 3
    slope = 2 * g / teeth
    theta = np.asanyarray(np.pi / 6 + 0.0 * (slope + h))
    for _ in range(_NEWTON_STEPS):
        tangent = np.tan(theta)
        theta = theta - (theta - slope * tangent + h) / (1 - slope * (1 + tangent * tangent))
    cosine = np.cos(theta)
    width = teeth * np.sin(np.pi / 3 - theta) + np.sqrt(3) * (g / cosine - fillet)
    rounding = fillet + 2 * g * g / (cosine * (teeth * cosine * cosine - 2 * g))
    return width, rounding, theta, g


def form_factors(
    teeth: Num,
    pressure_angle: Num,
    shift: Num,
    addendum: Num,
    dedendum: Num,
    fillet: Num,
    thinning: Num = 0.0,
) -> tuple[Num, Num]:
    """Form factor Y_Fa and stress correction Y_Sa of an external tooth loaded at its tip; thinning in modules.

    Y_Fa = 6 h_Fa cos α_Fan/(s_Fn² cos α), all lengths in modules; Y_Sa = (1.2 + 0.13 L) q_s^[1/(1.21 + 2.3/L)] with
    L = s_Fn/h_Fa and q_s = s_Fn/(2 ρ_F) (ISO 6336-3, from memory). A thinned tooth loses its thinning at the root too.
    """
    width, rounding, theta, g = root_section(teeth, pressure_angle, shift, dedendum, fillet)
    base = teeth * np.cos(pressure_angle)
    tip = teeth + 2 * shift + 2 * addendum
    at_tip = angle_at(tip, base)
    half = (np.pi / 2 + 2 * shift * np.tan(pressure_angle)) / teeth + involute(pressure_angle) - involute(at_tip)
    load_angle = at_tip - half
    arm = (np.cos(half) - np.sin(half) * np.tan(load_angle)) * tip
    arm = (arm - teeth * np.cos(np.pi / 3 - theta) - g / np.cos(theta) + fillet) / 2
    # A tooth cut through at its root, or loaded below it, has no form factor: NaN, which no check lets pass.
    width = np.where(width > thinning, width - thinning, np.nan)
    arm, rounding = np.where(arm > 0, arm, np.nan), np.where(rounding > 0, rounding, np.nan)
    form = 6 * arm * np.cos(load_angle) / (width * width * np.cos(pressure_angle))
    slenderness = width / arm
    correction = (1.2 + 0.13 * slenderness) * (width / (2 * rounding)) ** (1 / (1.21 + 2.3 / slenderness))
    return form[()], correction[()]


def ring_form_factors(
    pressure_angle: Num, addendum: Num, dedendum: Num, fillet: Num, thinning: Num = 0.0
) -> tuple[Num, Num]:
    """Y_Fa and Y_Sa of a ring's tooth, taken as the tooth of a rack (practice of ISO 6336-3, from memory): a ring's
    tooth is thicker at its root, so this errs on the safe side."""
    shift = 0.0 * np.asanyarray(addendum)
    return form_factors(_RACK_TEETH + shift, pressure_angle, shift, addendum, dedendum, fillet, thinning)


def contact_share(contact_ratio: Num) -> Num:
    """Share of the tip load's stress that load sharing leaves: Y_ε = 0.25 + 0.75/ε, not above 1."""
    return np.minimum(0.25 + 0.75 / np.asanyarray(contact_ratio), 1.0)[()]


def root_stress(force: Num, face_width: Num, module: Num, form: Num, correction: Num, share: Num) -> Num:
    """Tooth root stress: Ft/(b m) · Y_Fa Y_Sa Y_ε, `force` holding the shock factor (form of VDI 2736-2)."""
    return force / (face_width * module) * form * correction * share


def elasticity_factor(modulus1: Num, poisson1: Num, modulus2: Num, poisson2: Num) -> Num:
    """Z_E = 1/√{π [(1 - ν1²)/E1 + (1 - ν2²)/E2]}, √Pa."""
    return 1 / np.sqrt(np.pi * ((1 - poisson1**2) / modulus1 + (1 - poisson2**2) / modulus2))


def flank_pressure(
    force: Num,
    face_width: Num,
    diameter1: Num,
    ratio: Num,
    elasticity: Num,
    pressure_angle: Num,
    working: Num,
    contact_ratio: Num,
    sign: Num,
) -> Num:
    """Hertzian pressure on the flanks: Z_E Z_H Z_ε √[F/(b d1) · (u ± 1)/u].

    Z_H = √[2/(cos² α tan αw)], Z_ε = √[(4 - ε)/3] for ε of 1 to 2 (ISO 6336-2, from memory); d1 the reference diameter.
    """
    zone = np.sqrt(2 / (np.cos(pressure_angle) ** 2 * np.tan(working)))
    overlap = np.sqrt((4 - np.clip(contact_ratio, 1, 2)) / 3)
    curved = np.maximum((ratio + sign) / ratio, 0.0)
    return elasticity * zone * overlap * np.sqrt(force / (face_width * diameter1) * curved)


def left_when_warm(temperature: Num, softening: Num, reference: Num = 296.15) -> Num:
    """Share of the room-temperature strength left at a temperature: a straight line from 1 at `reference` (23 °C) to 0
    at the softening temperature (common practice: simple and on the safe side for partly crystalline plastics)."""
    return np.clip((softening - temperature) / (softening - reference), 0.0, 1.0)


def left_after(loads: Num, endurance_share: Num) -> Num:
    """Share of the short-time strength left after a number of pulsating loads: straight over the logarithm of the
    number from 1 at a thousand to `endurance_share` at ten million, level beyond (common practice)."""
    decades = np.log10(np.maximum(loads, 1.0))
    return 1 - (1 - endurance_share) * np.clip((decades - 3) / 4, 0.0, 1.0)


def temperature_rise(loss: Num, diameter: Num, face_width: Num, transfer: Num) -> Num:
    """Rise of a gear over its surroundings when `loss` W leave by its rim and two faces, K (heat balance)."""
    return loss / (transfer * np.pi * diameter * (face_width + diameter / 2))
