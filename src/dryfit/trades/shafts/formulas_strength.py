"""Strength of axles: bending with torsion, yielding, fatigue in rotation and at rest, impact."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Num

SURFACES = {
    "ground": (1.58, -0.085),
    "machined": (4.51, -0.265),
    "hot rolled": (57.7, -0.718),
    "forged": (272.0, -0.995),
}
"""Surface factor a·Sut^b with Sut in MPa (Shigley, Mechanical Engineering Design, ch. 6, from memory)."""

RELIABILITY = {50: 1.0, 90: 0.897, 95: 0.868, 99: 0.814}
"""Reliability factor of the endurance limit by percentage of bars that reach it (Shigley, ch. 6, from memory)."""

RAISERS = {"none": 1.0, "shoulder": 2.7, "key seat": 2.14, "flat": 2.0, "cross hole": 2.5, "ring groove": 5.0}
"""Bending stress concentration for a first look, sharp details (Shigley, Table 7-1, from memory; flat: practice)."""


def bending_stress(moment: Num, section_modulus: Num) -> Num:
    """Largest bending stress, Pa: M/W."""
    return moment / section_modulus


def torsion_stress(torque: Num, section_modulus: Num) -> Num:
    """Largest torsional shear stress of a round bar or tube, Pa: T/(2 W)."""
    return torque / (2 * section_modulus)


def mises(bending: Num, torsion: Num) -> Num:
    """Equivalent stress of bending with torsion, Pa: √(σ² + 3 τ²) (distortion energy)."""
    stress: Num = np.sqrt(np.asanyarray(bending) ** 2 + 3 * np.asanyarray(torsion) ** 2)[()]
    return stress


def largest_shear(normal: Num, shear: Num) -> Num:
    """Largest shear stress of a bar in bending and torsion, Pa: √(τ² + (σ/2)²) (Mohr's circle)."""
    return np.sqrt(np.asanyarray(shear) ** 2 + (np.asanyarray(normal) / 2) ** 2)[()]


def largest_normal(normal: Num, shear: Num) -> Num:
    """Largest principal stress, Pa: σ/2 + √(τ² + (σ/2)²)."""
    return normal / 2 + largest_shear(normal, shear)


def surface_factor(tensile: Num, finish: str = "machined") -> Num:
    """Share of the endurance limit left by the surface, not above 1; tensile strength in Pa."""
    a, b = SURFACES[finish]
    return np.minimum(a * (np.asanyarray(tensile, dtype=float) / 1e6) ** b, 1.0)[()]


def size_factor(diameter: Num) -> Num:
    """Share left by size in bending, d in m: 1.24 d^-0.107 to 51 mm, 1.51 d^-0.157 above (d in mm), not above 1.

    Source: Shigley, ch. 6, from memory. Of a bar that does not turn, pass 0.37 d (the equivalent diameter)."""
    mm = np.asanyarray(diameter, dtype=float) * 1e3
    return np.minimum(np.where(mm <= 51, 1.24 * mm**-0.107, 1.51 * mm**-0.157), 1.0)[()]


def endurance_limit(tensile: Num, ratio: Num, diameter: Num, reliability: Num = 1.0, finish: str = "machined") -> Num:
    """Stress amplitude borne without end, Pa: ka kb ke · ratio · Sut (ratio 0.5 for steel up to 1400 MPa)."""
    limit = ratio * np.minimum(tensile, 1400e6)
    return surface_factor(tensile, finish) * size_factor(diameter) * reliability * limit


def notch_factor(concentration: Num, sensitivity: Num) -> Num:
    """Fatigue notch factor: 1 + q (Kt - 1)."""
    return 1 + sensitivity * (concentration - 1)


def amplitude_and_mean(bending: Num, turns: bool, ripple: Num = 1.0) -> tuple[Num, Num]:
    """Amplitude and mean of the bending stress at a point of the axle, Pa.

    A turning axle under a standing load: (σ, 0). A fixed axle whose load comes and goes by the share `ripple`:
    (ripple σ/2, (1 - ripple/2) σ)."""
    if turns:
        return bending, 0.0 * bending
    return ripple * bending / 2, (1 - ripple / 2) * bending


def goodman_stress(amplitude: Num, mean: Num, tensile: Num, endurance: Num) -> Num:
    """Amplitude alone that would wear the axle out as fast as amplitude and mean together, Pa: σa + σm Se/Sut."""
    return amplitude + mean * endurance / tensile


def drop_factor(height: Num, give: Num) -> Num:
    """Peak load over resting load when a wheel drops off an edge of `height` onto a tyre that gives by `give` under
    the resting load: 1 + √(1 + 2 h/δ) (energy balance of a spring; 2 for h = 0)."""
    return 1 + np.sqrt(1 + 2 * np.asanyarray(height) / give)[()]
