"""Formulas of shafts: arrays as one machine, invariances, monotonicity, NaN never passes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryfit.trades.shafts import formulas_beams as beams
from dryfit.trades.shafts import formulas_bearings as bearings
from dryfit.trades.shafts import formulas_fits as fits
from dryfit.trades.shafts import formulas_grip as grip
from dryfit.trades.shafts import formulas_strength as strength

LENGTH = st.floats(0.01, 0.3)
RNG = np.random.default_rng(7)


def draw(low: float, high: float) -> np.ndarray:
    return RNG.uniform(low, high, 5)


ELEMENTWISE = {
    "area_moment": (beams.area_moment, [draw(0.01, 0.03), draw(0, 0.005)]),
    "section_modulus": (beams.section_modulus, [draw(0.01, 0.03), draw(0, 0.005)]),
    "mass_per_length": (beams.mass_per_length, [draw(0.01, 0.03), draw(0, 0.005), draw(2700, 7850)]),
    "overhang_deflection": (beams.overhang_tip_deflection, [draw(1, 9), draw(0.01, 0.1), draw(0.05, 0.1), draw(1, 2)]),
    "overhang_tip_slope": (beams.overhang_tip_slope, [draw(1, 9), draw(0.01, 0.1), draw(0.05, 0.1), draw(1, 2)]),
    "gear_forces": (lambda *a: beams.gear_forces(*a)[1], [draw(1, 9), draw(0.05, 0.2), draw(0.2, 0.4)]),
    "mises": (strength.mises, [draw(1, 9), draw(1, 9)]),
    "largest_normal": (strength.largest_normal, [draw(1, 9), draw(1, 9)]),
    "surface_factor": (strength.surface_factor, [draw(3e8, 9e8)]),
    "size_factor": (strength.size_factor, [draw(0.003, 0.08)]),
    "endurance_limit": (strength.endurance_limit, [draw(3e8, 2e9), draw(0.3, 0.5), draw(0.003, 0.08)]),
    "drop_factor": (strength.drop_factor, [draw(0, 0.02), draw(1e-4, 1e-2)]),
    "goodman_stress": (strength.goodman_stress, [draw(1, 9), draw(1, 9), draw(20, 30), draw(9, 12)]),
    "equivalent_load": (bearings.equivalent_load, [draw(1, 9), draw(0, 9), draw(5, 9), draw(12, 15)]),
    "rated_hours": (bearings.rated_hours, [draw(5, 9), draw(1, 4), draw(10, 99)]),
    "rating_for_life": (bearings.rating_for_life, [draw(5, 9), draw(1, 4), draw(0.3, 1)]),
    "reliability_factor": (bearings.reliability_factor, [draw(80, 99)]),
    "static_load": (bearings.static_load, [draw(1, 9), draw(0, 30)]),
    "tolerance": (lambda d: fits.tolerance(d, 7), [draw(0.001, 0.13)]),
    "shaft_limits": (lambda d: fits.shaft_limits(d, "k6")[0], [draw(0.001, 0.13)]),
    "hole_limits": (lambda d: fits.hole_limits(d, "K7")[0], [draw(0.001, 0.13)]),
    "interference_for_hoop": (
        fits.interference_for_hoop,
        [draw(1e6, 2e7), draw(0.02, 0.04), draw(0.05, 0.06), draw(1e9, 3e9), draw(0.3, 0.4)],
    ),
    "nut_factor": (grip.nut_factor, [draw(0.003, 0.01), draw(5e-4, 1e-3), draw(0.1, 0.2), draw(0.1, 0.2)]),
    "flat_pressure": (grip.flat_pressure, [draw(1, 9), draw(0.008, 0.02), draw(5e-4, 2e-3), draw(0.01, 0.04)]),
    "key_pressure": (grip.key_pressure, [draw(1, 9), draw(0.008, 0.02), draw(2e-3, 5e-3), draw(0.01, 0.04)]),
    "pin_shear": (grip.pin_shear, [draw(1, 9), draw(0.008, 0.02), draw(2e-3, 5e-3)]),
    "pin_pressure": (grip.pin_pressure, [draw(1, 9), draw(0.008, 0.02), draw(2e-3, 5e-3), draw(5e-3, 9e-3)]),
    "capstan_ratio": (grip.capstan_ratio, [draw(0.1, 0.5), draw(1, 9)]),
}  # fmt: skip


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_array_equals_element_by_element(name: str) -> None:
    function, columns = ELEMENTWISE[name]
    together = np.asarray(function(*columns))
    single = [function(*(float(c[i]) for c in columns)) for i in range(5)]
    np.testing.assert_allclose(together, single, rtol=1e-12)
    assert np.ndim(single[0]) == 0


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_nan_never_passes(name: str) -> None:
    function, columns = ELEMENTWISE[name]
    assert np.isnan(function(np.nan, *(float(c[0]) for c in columns[1:])))


def test_influences_take_machines_in_front() -> None:
    at = RNG.uniform(0, 0.2, (4, 5))
    station, span, beyond = RNG.uniform(0.02, 0.2, 4), RNG.uniform(0.05, 0.1, 4), np.array([0, 0, 1, 1, 0])
    for many, one in (
        (beams.force_moments(at, station, span), [beams.force_moments(at[i], station[i], span[i]) for i in range(4)]),
        (
            beams.couple_moments(at, station, span, beyond),
            [beams.couple_moments(at[i], station[i], span[i], beyond) for i in range(4)],
        ),
        (beams.force_bend(at, station, span)[1], [beams.force_bend(at[i], station[i], span[i])[1] for i in range(4)]),
        (beams.couple_bend(at, station, span)[0], [beams.couple_bend(at[i], station[i], span[i])[0] for i in range(4)]),
    ):
        np.testing.assert_allclose(many, one, rtol=1e-12, atol=1e-15)


@given(span=LENGTH, station=st.floats(-0.1, 0.4))
def test_supports_carry_the_force(span: float, station: float) -> None:
    first, second = beams.reactions_of_force(station, span)
    assert first + second == pytest.approx(1.0)
    assert second * span == pytest.approx(station)


@given(span=LENGTH, here=st.floats(0.0, 0.3), there=st.floats(0.0, 0.3))
def test_displacements_are_mutual(span: float, here: float, there: float) -> None:
    """Maxwell: what a force here moves there, the same force there moves here."""
    one = beams.force_bend(np.array([there]), here, span)[0][0]
    other = beams.force_bend(np.array([here]), there, span)[0][0]
    assert one == pytest.approx(other, abs=1e-12)


@given(span=LENGTH, station=st.floats(0.0, 0.3), at=st.floats(0.0, 0.3))
def test_a_couple_moves_what_a_force_turns(span: float, station: float, at: float) -> None:
    """Betti: deflection by a couple is the slope by a force, but for the sense of the couple."""
    by_couple = beams.couple_bend(np.array([at]), station, span)[0][0]
    by_force = beams.force_bend(np.array([station]), at, span)[1][0]
    assert abs(by_couple) == pytest.approx(abs(by_force), abs=1e-12)


@given(axial=st.floats(0, 5), more=st.floats(0, 5), radial=st.floats(0.1, 5))
def test_more_load_wears_no_less(axial: float, more: float, radial: float) -> None:
    """Radial load never helps the static figure; P has a small step down where Fa/Fr passes e (ISO 281), no more."""
    assert bearings.static_load(radial + more, axial) >= bearings.static_load(radial, axial)
    assert bearings.equivalent_load(radial, axial + more, 6.0, 13.0) >= 0.93 * bearings.equivalent_load(
        radial, axial, 6.0, 13.0
    )


@given(loads=st.lists(st.floats(0.1, 9), min_size=3, max_size=3), scale=st.floats(0.1, 10))
def test_mean_load_lies_between_and_scales(loads: list[float], scale: float) -> None:
    turns = np.array([1.0, 2.0, 3.0])
    mean = bearings.mean_load(np.array(loads), turns)
    assert min(loads) - 1e-9 <= mean <= max(loads) + 1e-9
    assert bearings.mean_load(scale * np.array(loads), turns) == pytest.approx(scale * mean)
    assert bearings.mean_load(np.array(loads), 0 * turns) == max(loads)


@given(diameter=st.floats(0.005, 0.05), factor=st.floats(1.01, 3))
def test_a_thicker_bar_is_stronger(diameter: float, factor: float) -> None:
    assert beams.section_modulus(diameter * factor) > beams.section_modulus(diameter)
    assert strength.size_factor(diameter * factor) <= strength.size_factor(diameter)


def test_pair_of_hub_bearings() -> None:
    np.testing.assert_allclose(bearings.pair_loads(100.0, 2.0, 0.02), [150.0, 50.0])


def test_hole_mirrors_shaft() -> None:
    upper, lower = fits.hole_limits(0.02, "F7")
    es, ei = fits.shaft_limits(0.02, "f7")
    assert (upper, lower) == (-ei, -es)


@pytest.mark.parametrize(
    ("zone", "limits"), [("N9", (0, -52)), ("P9", (-22, -74)), ("J7", (12, -9)), ("K8", (10, -23))]
)
def test_holes_beyond_the_common_tables(zone: str, limits: tuple[float, float]) -> None:
    """Key seats N9 and P9, J7, K8 at 20 mm (ISO 286-2, from memory)."""
    np.testing.assert_allclose(np.array(fits.hole_limits(0.02, zone)) * 1e6, limits, atol=1e-6)


def test_small_holes_have_no_delta() -> None:
    assert fits.hole_limits(0.002, "N9")[0] * 1e6 == pytest.approx(-4)
