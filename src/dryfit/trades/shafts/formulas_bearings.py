"""Rolling bearings: equivalent loads, rated life, static safety, least load, grease (ISO 281, ISO 76)."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num

RELATIVE_AXIAL = np.array([0.172, 0.345, 0.689, 1.03, 1.38, 2.07, 3.45, 5.17, 6.89])
LIMIT_E = np.array([0.19, 0.22, 0.26, 0.28, 0.30, 0.34, 0.38, 0.42, 0.44])
AXIAL_Y = np.array([2.30, 1.99, 1.71, 1.55, 1.45, 1.31, 1.15, 1.04, 1.00])
RADIAL_X = 0.56
"""Radial groove ball bearings of one row: f0·Fa/C0 against e and Y (ISO 281:2007 Table 3, from memory; rows 0.689
to 2.07 confirmed by two worked examples that were seen)."""

A1_PERCENT = np.array([90.0, 95.0, 96.0, 97.0, 98.0, 99.0])
A1 = np.array([1.0, 0.64, 0.55, 0.47, 0.37, 0.25])
"""Life factor for reliability (ISO 281:2007 Table 12, seen in a copy; 98 % from memory)."""


def axial_factors(relative_axial: Num) -> tuple[Num, Num]:
    """e and Y for f0·Fa/C0, linear between the rows of the table, held at its ends."""
    s = np.asanyarray(relative_axial, dtype=float)
    return np.interp(s, RELATIVE_AXIAL, LIMIT_E)[()], np.interp(s, RELATIVE_AXIAL, AXIAL_Y)[()]


def combined_load(radial: Num, axial: Num, x: Num, y: Num, rotation: Num = 1.0) -> Num:
    """Equivalent load with the factors given, N: X V Fr + Y Fa (V: 1; older texts: 1.2 for a turning outer ring)."""
    return x * rotation * radial + y * axial


def equivalent_load(radial: Num, axial: Num, static_rating: Num, f0: Num) -> Num:
    """Equivalent dynamic load of a radial groove ball bearing, N: Fr where Fa/Fr ≤ e, else X Fr + Y Fa."""
    e, y = axial_factors(f0 * np.asanyarray(axial, dtype=float) / static_rating)
    return np.where(axial <= e * np.asanyarray(radial), radial, combined_load(radial, axial, RADIAL_X, y))[()]


def rated_life(rating: Num, load: Num) -> Num:
    """Basic rated life of a ball bearing, million turns: (C/P)³."""
    return (np.asanyarray(rating, dtype=float) / load)[()] ** 3


def rated_hours(rating: Num, load: Num, rpm: Num) -> Num:
    """Basic rated life in hours at a steady speed: (C/P)³ · 10⁶/(60 n)."""
    return rated_life(rating, load) * 1e6 / (60 * np.asanyarray(rpm))[()]


def rating_for_life(load: Num, million_turns: Num, reliability_factor: Num = 1.0) -> Num:
    """Dynamic rating that gives the life asked for, N: P (L/a1)^(1/3)."""
    return load * np.cbrt(np.asanyarray(million_turns, dtype=float) / reliability_factor)[()]


def speed_factor(rpm: Num) -> Num:
    """fn = (33.3/n)^(1/3), rpm."""
    return np.cbrt(100 / 3 / np.asanyarray(rpm, dtype=float))[()]


def life_factor(hours: Num) -> Num:
    """fh = (Lh/500)^(1/3)."""
    return np.cbrt(np.asanyarray(hours, dtype=float) / 500)[()]


def mean_load(loads: Num, turns: Num) -> Num:
    """Steady load of equal wear, N, for loads (..., K) each borne for `turns` (..., K) (any common unit):
    (Σ n P³/Σ n)^(1/3). Where nothing turns, the plain largest load."""
    p, n = np.asanyarray(loads, dtype=float), np.asanyarray(turns, dtype=float)
    total = np.sum(n, axis=-1)
    still = total == 0
    steady = np.cbrt(np.sum(n * p**3, axis=-1) / np.where(still, 1.0, total))
    mean: Num = np.where(still, np.max(p, axis=-1), steady)[()]
    return mean


def reliability_factor(percent: Num) -> Num:
    """a1 for the percentage of bearings that shall reach the life, linear between the rows."""
    factor: Num = np.asanyarray(np.interp(np.asanyarray(percent, dtype=float), A1_PERCENT, A1))[()]
    return factor


def static_load(radial: Num, axial: Num) -> Num:
    """Equivalent static load of a radial ball bearing, N: Fr, or 0.6 Fr + 0.5 Fa if larger (ISO 76, from memory)."""
    return np.maximum(radial, 0.6 * np.asanyarray(radial) + 0.5 * np.asanyarray(axial))[()]


def least_load(static_rating: Num) -> Num:
    """Radial load below which the balls may skid at speed, N: 0.023 C0 (no concern at the speed of a show wheel)."""
    return 0.023 * static_rating


def pair_loads(radial: Num, couple: Num, spacing: Num) -> Array:
    """Radial loads of two bearings in a hub, `spacing` apart and centred under the wheel, (..., 2), N: each takes half
    of the radial load; the couple of a side thrust adds to one and relieves the other."""
    half, pull = np.asanyarray(radial, dtype=float) / 2, np.asanyarray(couple, dtype=float) / spacing
    return np.asanyarray(np.abs(np.stack(np.broadcast_arrays(half + pull, half - pull), axis=-1)))
