"""Volume and second moments of round bodies, against their sum over thin discs, integrated live.

Source: a disc of radius r and thickness dz has the mass π r² dz, about its axis r²/2 and about a diameter r²/4 per mass
(any textbook of mechanics, from memory); integration: scipy.integrate.quad, run live.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from scipy.integrate import quad

from dryfit.machine import shapes


def discs(
    outer: Callable[[float], float], inner: Callable[[float], float], low: float, high: float
) -> tuple[float, ...]:
    """Volume, middle height, moments about a diameter through the centre and about the axis, per mass."""

    def total(f: Callable[[float, float], float]) -> float:
        value, _ = quad(
            lambda z: f(outer(z), z) - f(inner(z), z), low, high, epsabs=1e-14, epsrel=1e-10, points=(-0.097, 0.097)
        )
        return float(value)

    volume = total(lambda r, z: math.pi * r * r)
    middle = total(lambda r, z: math.pi * r * r * z) / volume
    across = total(lambda r, z: math.pi * r * r * (r * r / 4 + (z - middle) ** 2)) / volume
    axial = total(lambda r, z: math.pi * r**4 / 2) / volume
    return volume, middle, across, axial


def ball(radius: float) -> Callable[[float], float]:
    return lambda z: math.sqrt(max(radius * radius - z * z, 0.0))


NONE: Callable[[float], float] = lambda z: 0.0  # noqa: E731
CASES = {
    "cylinder": (shapes.cylinder(0.2, 0.5), lambda z: 0.1, NONE, 0.25),
    "tube": (
        shapes.hollow(shapes.cylinder(0.05, 1.35), shapes.cylinder(0.046, 1.35)),
        lambda z: 0.025,
        lambda z: 0.023,
        0.675,
    ),
    "sphere": (shapes.sphere(0.3), ball(0.15), NONE, 0.15),
    "shell": (shapes.hollow(shapes.sphere(0.2), shapes.sphere(0.194)), ball(0.1), ball(0.097), 0.1),
    "cone": (shapes.cone(0.3, 0.4), lambda z: 0.15 * (0.2 - z) / 0.4, NONE, 0.2),
}


@pytest.mark.parametrize("name", CASES)
def test_round_bodies_are_the_sum_of_their_discs(name: str) -> None:
    solid, outer, inner, half = CASES[name]
    volume, middle, across, axial = discs(outer, inner, -half, half)
    tolerance = 1e-9
    assert solid.volume == pytest.approx(volume, rel=tolerance)
    assert solid.centre[2] == pytest.approx(middle, abs=1e-9)
    assert solid.moments == pytest.approx((across, across, axial), rel=tolerance)


def test_box_section_is_the_outer_block_less_the_inner() -> None:
    section = shapes.hollow(shapes.box(0.025, 0.025, 0.9), shapes.box(0.021, 0.021, 0.9))
    assert section.volume == pytest.approx((0.025**2 - 0.021**2) * 0.9)
    # about the length: (a⁴ - b⁴)/6 over the area a² - b², textbook section constants (from memory)
    assert section.moments[2] == pytest.approx((0.025**4 - 0.021**4) / 6 / (0.025**2 - 0.021**2))
