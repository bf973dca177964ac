"""Limits and fits: deviations of shafts and holes up to 120 mm, clearance, press fits in a printed ring.

Tables: ISO 286-1:2010 Tables 1, 2, 3 (IT grades and fundamental deviations), seen in copies of JIS B 0401, which
repeats them; h7 to h11, j, J from memory where the copies stop. Sizes and results in m.
"""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num

STEPS = np.array([3.0, 6.0, 10.0, 18.0, 30.0, 50.0, 80.0, 120.0])
"""Upper ends of the size steps, mm, inclusive."""

GRADES: dict[int, tuple[float, ...]] = {
    4: (3, 4, 4, 5, 6, 7, 8, 10),
    5: (4, 5, 6, 8, 9, 11, 13, 15),
    6: (6, 8, 9, 11, 13, 16, 19, 22),
    7: (10, 12, 15, 18, 21, 25, 30, 35),
    8: (14, 18, 22, 27, 33, 39, 46, 54),
    9: (25, 30, 36, 43, 52, 62, 74, 87),
    10: (40, 48, 58, 70, 84, 100, 120, 140),
    11: (60, 75, 90, 110, 130, 160, 190, 220),
}
"""Standard tolerances, µm, by size step."""

UPPER_OF_SHAFT: dict[str, tuple[float, ...]] = {
    "d": (-20, -30, -40, -50, -65, -80, -100, -120),
    "e": (-14, -20, -25, -32, -40, -50, -60, -72),
    "f": (-6, -10, -13, -16, -20, -25, -30, -36),
    "g": (-2, -4, -5, -6, -7, -9, -10, -12),
    "h": (0, 0, 0, 0, 0, 0, 0, 0),
}
"""Upper deviation es, µm."""

LOWER_OF_SHAFT: dict[str, tuple[float, ...]] = {
    "k": (0, 1, 1, 1, 2, 2, 2, 3),
    "m": (2, 4, 6, 7, 8, 9, 11, 13),
    "n": (4, 8, 10, 12, 15, 17, 20, 23),
    "p": (6, 12, 15, 18, 22, 26, 32, 37),
}
"""Lower deviation ei, µm; k of grade 8 and coarser has 0."""

J_OF_SHAFT: dict[int, tuple[float, ...]] = {
    5: (-2, -2, -2, -3, -4, -5, -7, -9),
    6: (-2, -2, -2, -3, -4, -5, -7, -9),
    7: (-4, -4, -5, -6, -8, -10, -12, -15),
}
J_OF_HOLE: dict[int, tuple[float, ...]] = {
    6: (2, 5, 5, 6, 8, 10, 13, 16),
    7: (4, 6, 8, 10, 12, 14, 18, 22),
    8: (6, 10, 12, 15, 20, 24, 28, 34),
}
"""Shaft j: lower deviation; hole J: upper deviation, µm (from memory)."""

CLOSE_GRADE_OF_K = 7
DELTA_GRADE = {"K": 8, "M": 8, "N": 8, "P": 7}
"""Coarsest grade at which a hole deviation carries the Δ of the standard's Table 3."""


def tolerance(size: Num, grade: int) -> Num:
    """Standard tolerance IT of a size (m) and a grade from 4 to 11, m. NaN above 120 mm."""
    return _of_step(GRADES[grade], size)


def shaft_limits(size: Num, zone: str) -> tuple[Num, Num]:
    """Upper and lower deviation (es, ei) of a shaft, m: shaft_limits(0.020, "h9") = (0, -52e-6)."""
    letter, grade = split(zone)
    width = tolerance(size, grade)
    if letter == "js":
        return width / 2, -width / 2
    if letter in UPPER_OF_SHAFT:
        upper = _of_step(UPPER_OF_SHAFT[letter], size)
        return upper, upper - width
    if letter == "j":
        lower = _of_step(J_OF_SHAFT[grade], size)
    elif letter == "k" and grade > CLOSE_GRADE_OF_K:
        lower = 0.0 * width
    else:
        lower = _of_step(LOWER_OF_SHAFT[letter], size)
    return lower + width, lower


def hole_limits(size: Num, zone: str) -> tuple[Num, Num]:
    """Upper and lower deviation (ES, EI) of a hole, m: hole_limits(0.047, "K7") = (7e-6, -18e-6).

    D to H mirror the shaft; K, M, N to grade 8 and P to grade 7 mirror it and add Δ = ITn - IT(n-1) above 3 mm."""
    letter, grade = split(zone)
    width = tolerance(size, grade)
    if letter == "JS":
        return width / 2, -width / 2
    if letter.lower() in UPPER_OF_SHAFT:
        lower = -_of_step(UPPER_OF_SHAFT[letter.lower()], size)
        return lower + width, lower
    if letter == "J":
        upper = _of_step(J_OF_HOLE[grade], size)
    elif letter in ("K", "N") and grade > DELTA_GRADE[letter]:
        small = -_of_step(LOWER_OF_SHAFT["n"], size) if letter == "N" else 0.0 * width
        upper = np.where(np.asanyarray(size) > STEPS[0] * 1e-3, 0.0 * width, small)[()]
    else:
        upper = -_of_step(LOWER_OF_SHAFT[letter.lower()], size)
        if grade <= DELTA_GRADE[letter]:
            delta = width - tolerance(size, grade - 1)
            upper = upper + np.where(np.asanyarray(size) > STEPS[0] * 1e-3, delta, 0.0)[()]
    return upper, upper - width


def split(zone: str) -> tuple[str, int]:
    """Letter and grade of a tolerance class: "js6" -> ("js", 6)."""
    letter = zone.rstrip("0123456789")
    return letter, int(zone[len(letter) :])


def clearances(hole: tuple[Num, Num], shaft: tuple[Num, Num]) -> tuple[Num, Num]:
    """Least and most clearance of a pair given as (upper, lower) sizes or deviations, m; negative is interference."""
    return hole[1] - shaft[0], hole[0] - shaft[1]


def ring_stiffness(inner: Num, outer: Num, poisson: Num) -> Num:
    """Diameter's growth of a ring under inside pressure, over p d/E: (D² + d²)/(D² - d²) + ν (Lamé)."""
    return hoop_factor(inner, outer) + poisson


def hoop_factor(inner: Num, outer: Num) -> Num:
    """Hoop stress at the bore of a ring over the pressure inside: (D² + d²)/(D² - d²) (Lamé)."""
    d2, o2 = np.asanyarray(inner, dtype=float) ** 2, np.asanyarray(outer, dtype=float) ** 2
    factor: Num = np.asanyarray((o2 + d2) / (o2 - d2))[()]
    return factor


def press_pressure(interference: Num, inner: Num, outer: Num, modulus: Num, poisson: Num) -> Num:
    """Pressure between a stiff shaft or ring and the softer ring pressed over it, Pa; interference on the diameter."""
    return interference * modulus / (inner * ring_stiffness(inner, outer, poisson))


def interference_for_hoop(stress: Num, inner: Num, outer: Num, modulus: Num, poisson: Num) -> Num:
    """Interference on the diameter at which the hoop stress at the bore of the softer ring reaches `stress`, m."""
    pressure = stress / hoop_factor(inner, outer)
    return pressure * inner * ring_stiffness(inner, outer, poisson) / modulus


def thermal_growth(mismatch: Num, rise: Num, length: Num) -> Num:
    """Change of length of one part against another, m: Δα ΔT L."""
    return mismatch * rise * length


def _of_step(row: tuple[float, ...], size: Num) -> Num:
    """The entry of a row for a size in m, in m; NaN beyond the last step, and for a size that is NaN."""
    mm = np.asanyarray(size, dtype=float) * 1e3
    values: Array = np.array([*row, np.nan]) * 1e-6
    return values[np.searchsorted(STEPS, mm - 1e-9)][()]
