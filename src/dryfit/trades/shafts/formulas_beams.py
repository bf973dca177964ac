"""Axles as beams on two supports: reactions, bending moment, slope and deflection of point loads and couples.

Stations are measured along the axle from the first support at 0; the second support is at `span`. Loads may stand
between the supports or beyond either of them. Everything follows from M'' and E·I·v'' = M with Macaulay brackets
(any text on mechanics of materials). All functions broadcast; `stations` and `loads` trail.
"""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num


def area_moment(diameter: Num, bore: Num = 0.0) -> Num:
    """Second moment of area of a round bar or tube, m⁴: π(d⁴ - b⁴)/64."""
    moment: Num = (np.pi / 64 * (np.asanyarray(diameter, dtype=float) ** 4 - np.asanyarray(bore, dtype=float) ** 4))[()]
    return moment


def section_modulus(diameter: Num, bore: Num = 0.0) -> Num:
    """Section modulus in bending of a round bar or tube, m³: I/(d/2)."""
    return area_moment(diameter, bore) * 2 / diameter


def mass_per_length(diameter: Num, bore: Num, density: Num) -> Num:
    """Mass of a bar or tube per length, kg/m."""
    area: Num = (np.pi / 4 * (np.asanyarray(diameter, dtype=float) ** 2 - np.asanyarray(bore, dtype=float) ** 2))[()]
    return area * density


def gear_forces(torque: Num, diameter: Num, pressure_angle: Num) -> tuple[Num, Num]:
    """Tangential force of a gear on its axle and the force that pushes it off its mate, N: 2 T/d, and that by tan α."""
    tangential = 2 * torque / diameter
    return tangential, tangential * np.tan(pressure_angle)


def reactions_of_force(station: Num, span: Num) -> tuple[Num, Num]:
    """What the supports push back, as shares of a unit force at `station`: (1 - x/L, x/L). Negative: uplift."""
    second = np.asanyarray(station, dtype=float)[()] / span
    return 1 - second, second


def reactions_of_couple(span: Num) -> tuple[Num, Num]:
    """What the supports push back on a unit couple, 1/m: (-1/L, 1/L)."""
    return -1.0 / np.asanyarray(span, dtype=float)[()], 1.0 / np.asanyarray(span, dtype=float)[()]


def force_moments(at: Num, station: Num, span: Num) -> Array:
    """Bending moment at stations `at` (..., S) of a unit force at `station` (...,), N·m per N.

    Positive where the force bends the axle open on the loaded side between the supports."""
    x, p, L = np.asanyarray(at, dtype=float), _last(station), _last(span)
    first, second = reactions_of_force(p, L)
    return np.asanyarray(first * _ramp(x) + second * _ramp(x - L) - _ramp(x - p))


def couple_moments(at: Num, station: Num, span: Num, beyond: Num) -> Array:
    """Bending moment at stations `at` (..., S) of a unit couple at `station`. `beyond` (S,) is 1 for entries that
    stand just outboard of the couple and 0 just inboard of it."""
    x, p, L = np.asanyarray(at, dtype=float), _last(station), _last(span)
    first, second = reactions_of_couple(L)
    past = np.where(x == p, np.asanyarray(beyond, dtype=float), np.where(np.isnan(p), np.nan, x > p))
    return np.asanyarray(first * _ramp(x) + second * _ramp(x - L) + past)


def force_bend(at: Num, station: Num, span: Num) -> tuple[Array, Array]:
    """Deflection (m/N) and slope (rad/N), times E·I, at stations `at` (..., S) of a unit force at `station`.

    Signs follow the force: deflection positive along it."""
    x, p, L = np.asanyarray(at, dtype=float), _last(station), _last(span)
    first, second = reactions_of_force(p, L)

    def twice(z: Array) -> Array:
        return np.asanyarray((first * _cube(z) + second * _cube(z - L) - _cube(z - p)) / 6)

    def once(z: Array) -> Array:
        return np.asanyarray((first * _square(z) + second * _square(z - L) - _square(z - p)) / 2)

    start, end = twice(np.zeros_like(p)), twice(L)
    lean = (end - start) / L
    return np.asanyarray(lean * x + start - twice(x)), np.asanyarray(lean - once(x))


def couple_bend(at: Num, station: Num, span: Num) -> tuple[Array, Array]:
    """Deflection and slope, times E·I, at stations `at` (..., S) of a unit couple at `station` (1/(N·m) · N·m²)."""
    x, p, L = np.asanyarray(at, dtype=float), _last(station), _last(span)
    first, second = reactions_of_couple(L)

    def twice(z: Array) -> Array:
        return np.asanyarray((first * _cube(z) + second * _cube(z - L)) / 6 + _square(z - p) / 2)

    def once(z: Array) -> Array:
        return np.asanyarray((first * _square(z) + second * _square(z - L)) / 2 + _ramp(z - p))

    start, end = twice(np.zeros_like(p)), twice(L)
    lean = (end - start) / L
    return np.asanyarray(lean * x + start - twice(x)), np.asanyarray(lean - once(x))


def overhang_tip_deflection(force: Num, overhang: Num, span: Num, stiffness: Num) -> Num:
    """Deflection at the end of an overhang of length c under a force there, m: F c² (L + c)/(3 E I)."""
    return force * overhang**2 * (span + overhang) / (3 * stiffness)


def overhang_tip_slope(force: Num, overhang: Num, span: Num, stiffness: Num) -> Num:
    """Slope at the end of an overhang under a force there, rad: F c (2 L + 3 c)/(6 E I)."""
    return force * overhang * (2 * span + 3 * overhang) / (6 * stiffness)


def _last(x: Num) -> Array:
    return np.asanyarray(x, dtype=float)[..., None]


def _ramp(x: Num) -> Array:
    return np.asanyarray(np.maximum(np.asanyarray(x, dtype=float), 0.0))


def _square(x: Num) -> Array:
    r = _ramp(x)
    return r * r


def _cube(x: Num) -> Array:
    # Products, not powers: ten times as fast on many machines.
    r = _ramp(x)
    return r * r * r
