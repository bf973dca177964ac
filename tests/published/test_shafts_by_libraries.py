"""Axles against general-purpose libraries run live: a frame solver (PyNiteFEA) for beams, scipy for a thick ring.

Bibliography: PyNiteFEA 3-D frame element; scipy.integrate.solve_bvp. Rows B02 (derived, agree with the frame solver).
"""

from __future__ import annotations

import warnings
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from dryfit.trades.shafts import formulas_beams as beams
from dryfit.trades.shafts.formulas_fits import hoop_factor, interference_for_hoop, press_pressure, ring_stiffness

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from Pynite import FEModel3D

E, G, D = 210e9, 81e9, 0.020


def frame(span: float, loads: list[tuple[float, str, float]], ends: list[float], d: float = D) -> FEModel3D:
    """A round bar on two supports at 0 and `span`; loads are (station, direction, size), in N or N·m."""
    stations = sorted({0.0, span, *(s for s, _, _ in loads), *ends})
    model = FEModel3D()
    model.add_material("steel", E, G, 0.3, 7850)
    inertia = np.pi * d**4 / 64
    model.add_section("bar", np.pi * d**2 / 4, inertia, inertia, 2 * inertia)
    for s in stations:
        model.add_node(f"N{s:.9f}", s, 0, 0)
    for a, b in pairwise(stations):
        model.add_member(f"M{a:.9f}", f"N{a:.9f}", f"N{b:.9f}", "steel", "bar")
    model.def_support(f"N{0.0:.9f}", True, True, True, True, False, False)
    model.def_support(f"N{span:.9f}", False, True, True, False, False, False)
    for s, direction, size in loads:
        model.add_node_load(f"N{s:.9f}", direction, size)
    model.analyze_linear()
    return model


def test_b02_overhung_axle_reactions() -> None:
    """400 N, 60 mm out, 150 mm span: 560 and -160 N (derived; frame solver live)."""
    first, second = (400 * r for r in beams.reactions_of_force(0.210, 0.150))
    assert second == pytest.approx(560, abs=0.1)
    assert first == pytest.approx(-160, abs=0.1)
    model = frame(0.150, [(0.210, "FY", -400.0)], [])
    assert model.nodes[f"N{0.150:.9f}"].RxnFY["Combo 1"] == pytest.approx(second, rel=1e-6)
    assert model.nodes[f"N{0.0:.9f}"].RxnFY["Combo 1"] == pytest.approx(first, rel=1e-6)


def test_b02_tip_deflection_and_slope() -> None:
    """0.061115 mm and 0.0011641 rad; the closed form, the general form and the frame solver agree."""
    stiffness = E * beams.area_moment(D)
    assert beams.overhang_tip_deflection(400, 0.06, 0.15, stiffness) * 1e3 == pytest.approx(0.061115, abs=2e-5)
    assert beams.overhang_tip_slope(400, 0.06, 0.15, stiffness) == pytest.approx(0.0011641, abs=5e-7)
    bend, slope = beams.force_bend(np.array([0.21]), 0.21, 0.15)
    model = frame(0.150, [(0.210, "FY", -400.0)], [])
    tip = model.nodes[f"N{0.210:.9f}"]
    assert 400 * bend[0] / stiffness == pytest.approx(-tip.DY["Combo 1"], rel=1e-5)
    assert 400 * slope[0] / stiffness == pytest.approx(-tip.RZ["Combo 1"], rel=1e-5)


@pytest.mark.parametrize(
    ("span", "station"), [(0.08, 0.135), (0.08, 0.103), (0.07, 0.035), (0.12, 0.02), (0.09, 0.09 + 1e-3), (0.1, -0.04)]
)
def test_force_anywhere(span: float, station: float) -> None:
    """A force between the supports and beyond either of them: deflection and slope at five stations."""
    at = np.array([0.0, span, station, 0.3 * span, 0.2])
    model = frame(span, [(station, "FY", -1000.0)], list(at))
    stiffness = E * beams.area_moment(D)
    bend, slope = beams.force_bend(at, station, span)
    nodes = [model.nodes[f"N{x:.9f}"] for x in at]
    np.testing.assert_allclose(1000 * bend / stiffness, [-n.DY["Combo 1"] for n in nodes], rtol=1e-5, atol=1e-12)
    np.testing.assert_allclose(1000 * slope / stiffness, [-n.RZ["Combo 1"] for n in nodes], rtol=1e-5, atol=1e-12)


@pytest.mark.parametrize(("span", "station"), [(0.08, 0.135), (0.07, 0.035), (0.12, 0.02)])
def test_couple_anywhere(span: float, station: float) -> None:
    """A couple, as a side thrust at the rim makes it; sense: it bends as an outboard force does."""
    at = np.array([0.0, span, station, 0.3 * span, 0.2])
    model = frame(span, [(station, "MZ", -10.0)], list(at))
    stiffness = E * beams.area_moment(D)
    bend, slope = beams.couple_bend(at, station, span)
    nodes = [model.nodes[f"N{x:.9f}"] for x in at]
    sign = np.sign(-nodes[2].RZ["Combo 1"] * slope[2])
    np.testing.assert_allclose(10 * bend / stiffness, [-sign * n.DY["Combo 1"] for n in nodes], rtol=1e-5, atol=1e-12)
    np.testing.assert_allclose(10 * slope / stiffness, [-sign * n.RZ["Combo 1"] for n in nodes], rtol=1e-5, atol=1e-12)


def test_two_planes_with_gear_and_wheel() -> None:
    """Wheel overhung, gear between the supports, forces in both planes: the moments at the stations between."""
    span, wheel, gear = 0.08, 0.135, 0.03
    model = frame(span, [(wheel, "FY", -300.0), (gear, "FZ", -500.0), (wheel, "FZ", -120.0)], [])
    at = np.array([span, gear])
    vertical = 300 * beams.force_moments(at, wheel, span)
    horizontal = 500 * beams.force_moments(at, gear, span) + 120 * beams.force_moments(at, wheel, span)
    names = {f"N{s:.9f}": s for s in (0.0, gear, span, wheel)}
    found = {}
    for member in model.members.values():
        start = names[member.i_node.name]
        found[start] = (abs(member.moment("Mz", 0.0)), abs(member.moment("My", 0.0)))
    np.testing.assert_allclose([found[span][0], found[gear][0]], np.abs(vertical), rtol=1e-6)
    np.testing.assert_allclose([found[span][1], found[gear][1]], np.abs(horizontal), rtol=1e-6)


def test_thick_ring_by_boundary_value_problem() -> None:
    """Lamé's ring: u'' + u'/r - u/r² = 0 with pressure inside, nothing outside (plane stress), solved by scipy."""
    inner, outer, modulus, poisson, pressure = 0.047, 0.059, 2.2e9, 0.36, 3e6
    a, b = inner / 2, outer / 2
    factor = modulus / (1 - poisson**2)

    def radial(u: np.ndarray, r: float) -> float:
        return float(factor * (u[1] + poisson * u[0] / r))

    r = np.linspace(a, b, 60)
    solution = solve_bvp(
        lambda r, u: np.vstack([u[1], u[0] / r**2 - u[1] / r]),
        lambda ua, ub: np.array([radial(ua, a) + pressure, radial(ub, b)]) / pressure,
        r, np.vstack([np.full_like(r, 1e-5), np.zeros_like(r)]), tol=1e-10,
    )  # fmt: skip
    u, du = solution.sol(a)
    hoop = factor * (u / a + poisson * du)
    assert hoop / pressure == pytest.approx(hoop_factor(inner, outer), rel=1e-6)
    assert 2 * u == pytest.approx(pressure * inner / modulus * ring_stiffness(inner, outer, poisson), rel=1e-6)
    assert press_pressure(2 * u, inner, outer, modulus, poisson) == pytest.approx(pressure, rel=1e-6)
    assert interference_for_hoop(hoop, inner, outer, modulus, poisson) == pytest.approx(2 * u, rel=1e-6)
