"""Shapes: volume, middle, extent and second moments of a box, cylinder, tube, cone or sphere.

Closed forms for homogeneous bodies of unit density, from mechanics; own axes with the length along z.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from dryfit.ground.quantity import Num

Triple = tuple[Num, Num, Num]
ORIGIN: Triple = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Solid:
    """A homogeneous body: volume, m³; centre of mass, m; moments per unit of mass about it, xx yy zz and xy xz yz
    (entries of the inertia tensor, products with their minus sign), m²; box: full extent, m; middle of that box, m.
    round: a body of revolution about z, whose extent when turned is smaller than that of its box."""

    volume: Num
    centre: Triple
    moments: Triple
    products: Triple
    box: Triple
    middle: Triple
    round: bool


def box(x: Num, y: Num, z: Num) -> Solid:
    """Rectangular block."""
    moments = ((y * y + z * z) / 12, (x * x + z * z) / 12, (x * x + y * y) / 12)
    return Solid(x * y * z, ORIGIN, moments, ORIGIN, (x, y, z), ORIGIN, False)


def cylinder(diameter: Num, length: Num) -> Solid:
    """Solid round bar along z."""
    r2 = diameter * diameter / 4
    across = r2 / 4 + length * length / 12
    sizes = (diameter, diameter, length)
    return Solid(math.pi * r2 * length, ORIGIN, (across, across, r2 / 2), ORIGIN, sizes, ORIGIN, True)


def sphere(diameter: Num) -> Solid:
    """Solid ball."""
    each = diameter * diameter / 10
    size = (diameter, diameter, diameter)
    return Solid(math.pi / 6 * diameter * diameter * diameter, ORIGIN, (each, each, each), ORIGIN, size, ORIGIN, True)


def cone(diameter: Num, length: Num) -> Solid:
    """Solid cone, point up; own origin half-way up, so the centre of mass lies a quarter of the length below it."""
    r2 = diameter * diameter / 4
    across = 3 / 20 * r2 + 3 / 80 * length * length
    sizes = (diameter, diameter, length)
    centre = (0.0, 0.0, -length / 4)
    return Solid(math.pi / 3 * r2 * length, centre, (across, across, 3 / 10 * r2), ORIGIN, sizes, ORIGIN, True)


def hollow(outer: Solid, inner: Solid) -> Solid:
    """What is left of `outer` when `inner`, with the same centre, is taken out of it."""
    left = outer.volume - inner.volume

    def rest(o: Num, i: Num) -> Num:
        return (outer.volume * o - inner.volume * i) / left

    m, n = outer.moments, inner.moments
    moments = (rest(m[0], n[0]), rest(m[1], n[1]), rest(m[2], n[2]))
    return Solid(left, outer.centre, moments, outer.products, outer.box, outer.middle, outer.round)
