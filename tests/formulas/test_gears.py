"""Gear formulas: arrays equal element by element, invariances, monotonicity, NaN stays NaN."""

from __future__ import annotations

import inspect
import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryfit.ground.findings import margin
from dryfit.trades.gears import formulas as one
from dryfit.trades.gears import formulas_pairs as pair
from dryfit.trades.gears import formulas_shims as shims
from dryfit.trades.gears import formulas_strength as strength

ALPHA = np.deg2rad(20)
teeth = st.integers(12, 40)
shift = st.floats(-0.2, 0.6)

RANGES = {
    "angle": (0.1, 0.6),
    "value": (0.001, 0.5),
    "module": (1e-3, 3e-3),
    "teeth": (14, 80),
    "pressure_angle": (0.3, 0.45),
    "addendum": (0.8, 1.2),
    "shift": (0.0, 0.5),
    "sign": (-1, 1),
    "dedendum": (1.1, 1.3),
    "diameter": (0.03, 0.06),
    "base": (0.02, 0.03),
    "thinning": (0.0, 1e-4),
    "spanned": (3, 6),
    "pin": (3e-3, 4e-3),
    "arc": (2e-3, 4e-3),
    "addendum_height": (1e-3, 3e-3),
    "z1": (14, 24),
    "z2": (50, 90),
    "x1": (0.0, 0.3),
    "x2": (0.3, 0.6),
    "working": (0.35, 0.5),
    "distance": (0.04, 0.06),
    "tip": (0.04, 0.05),
    "tip1": (0.025, 0.03),
    "base1": (0.02, 0.024),
    "tip2": (0.06, 0.065),
    "base2": (0.05, 0.055),
    "pitch": (5e-3, 7e-3),
    "free": (0.3, 0.4),
    "imposed": (0.3, 0.4),
    "shift_of_centres": (0.0, 1e-3),
    "root1": (0.02, 0.022),
    "root2": (0.07, 0.075),
    "tip2_angle": (0.1, 0.3),
    "tip1_angle": (0.4, 0.6),
    "omega1": (1, 9),
    "omega2": (1, 9),
    "from_pitch_point": (-5e-3, 5e-3),
    "recess": (0.5, 1),
    "approach": (0.5, 1),
    "friction": (0.05, 0.3),
    "loss": (0.05, 0.2),
    "other": (0.0, 0.1),
    "torque": (1, 5),
    "tangential": (50, 200),
    "allowable": (1e7, 5e7),
    "face_width": (0.01, 0.03),
    "form": (0.2, 0.5),
    "force": (50, 200),
    "speed": (0.1, 2),
    "fillet": (0.2, 0.4),
    "contact_ratio": (1.1, 1.9),
    "correction": (1.4, 2),
    "share": (0.5, 1),
    "modulus1": (1e9, 3e9),
    "modulus2": (1e9, 3e9),
    "poisson1": (0.3, 0.4),
    "poisson2": (0.3, 0.4),
    "diameter1": (0.03, 0.06),
    "ratio": (2, 5),
    "elasticity": (1e4, 2e4),
    "temperature": (290, 340),
    "softening": (350, 400),
    "reference": (290, 296),
    "loads": (1, 1e8),
    "endurance_share": (0.2, 0.4),
    "transfer": (5, 15),
    "out": (-1e-4, 1e-3),
    "right": (0.036, 0.0361),
}

FORMULAS = [
    f
    for module in (one, pair, strength)
    for name, f in inspect.getmembers(module, inspect.isfunction)
    if f.__module__ == module.__name__ and not name.startswith("_")
] + [shims.backlash_out_of_mesh]


def arguments(formula, rng, size):
    made = {}
    for name in inspect.signature(formula).parameters:
        low, high = RANGES[name]
        made[name] = rng.choice([-1.0, 1.0], size) if name == "sign" else rng.uniform(low, high, size)
    return made


@pytest.mark.parametrize("formula", FORMULAS, ids=lambda f: f.__name__)
def test_array_equals_element_by_element(formula):
    rng = np.random.default_rng(7)
    given_arrays = arguments(formula, rng, 12)
    together = np.array(np.broadcast_arrays(*np.atleast_1d(formula(**given_arrays))))
    single = [formula(**{k: float(v[i]) for k, v in given_arrays.items()}) for i in range(12)]
    loop = np.moveaxis(np.array(single), 0, -1)
    np.testing.assert_allclose(together.reshape(loop.shape), loop, rtol=1e-12, atol=1e-15, equal_nan=True)


@pytest.mark.parametrize("formula", FORMULAS, ids=lambda f: f.__name__)
def test_single_numbers_give_plain_numbers(formula):
    result = formula(**{k: float(v[0]) for k, v in arguments(formula, np.random.default_rng(3), 1).items()})
    for value in result if isinstance(result, tuple) else (result,):
        assert np.ndim(value) == 0


@given(st.floats(0.01, 1.55))
def test_inverse_involute_turns_the_involute_back(angle):
    # Below a hundredth of a radian tan α - α itself loses its digits in double precision.
    assert one.inverse_involute(one.involute(angle)) == pytest.approx(angle, rel=1e-9)


def test_inverse_involute_below_zero_is_unknown():
    assert np.isnan(one.inverse_involute(-0.01))
    assert one.inverse_involute(0.0) == 0.0


@given(teeth, st.integers(45, 90), shift, shift, st.floats(0.1, 10))
def test_lengths_scale_with_the_module(z1, z2, x1, x2, scale):
    for sign in (1.0, -1.0):
        angle = pair.working_angle(z1, z2, x1, x2, ALPHA, sign)
        if np.isnan(angle):
            continue
        small = pair.centre_distance(1.0, z1, z2, ALPHA, angle, sign)
        assert pair.centre_distance(scale, z1, z2, ALPHA, angle, sign) == pytest.approx(scale * small)


@given(teeth, st.integers(45, 90), st.floats(0.0, 0.3), st.floats(0.0, 0.3))
def test_distance_and_shift_are_each_other_turned_back(z1, z2, x1, x2):
    for sign, total in ((1.0, x2 + x1), (-1.0, x2 + 0.3 - x1)):
        mate = x2 if sign > 0 else x2 + 0.3
        angle = pair.working_angle(z1, z2, x1, mate, ALPHA, sign)
        distance = pair.centre_distance(1.0, z1, z2, ALPHA, angle, sign)
        assert pair.shift_for_distance(1.0, z1, z2, ALPHA, distance, sign) == pytest.approx(total, abs=1e-6)


@given(teeth, st.integers(60, 90), st.floats(0.002, 0.05))
def test_moving_the_centres_apart_loosens_an_external_and_tightens_an_internal_pair(z1, z2, out):
    for sign in (1.0, -1.0):
        right = pair.reference_centre_distance(1.0, z1, z2, sign)
        plays = [
            pair.backlash(ALPHA, ALPHA, pair.angle_at_distance(1.0, z1, z2, ALPHA, a, sign), a, 0.1, sign)
            for a in (right, right + out)
        ]
        assert (plays[1] - plays[0]) * sign > 0


@given(teeth, st.floats(0, 0.5), st.floats(1e-6, 1e-4))
def test_thinner_teeth_read_less_over_span_and_pins(z, x, thinning):
    assert one.span(1e-3, z, ALPHA, x, 3, thinning) < one.span(1e-3, z, ALPHA, x, 3)
    assert one.over_pins(1e-3, z, ALPHA, x, 1.7e-3, 1, thinning) < one.over_pins(1e-3, z, ALPHA, x, 1.7e-3, 1)
    assert one.over_pins(1e-3, z + 40, ALPHA, x, 1.7e-3, -1, thinning) > one.over_pins(
        1e-3, z + 40, ALPHA, x, 1.7e-3, -1
    )


@given(st.floats(1, 1e3), st.floats(1.01, 2))
def test_stress_grows_with_load_and_falls_with_width(force, more):
    def stress(load, width):
        return strength.root_stress(load, width, 2e-3, 2.6, 1.6, 0.7)

    assert stress(force * more, 0.02) > stress(force, 0.02) > stress(force, 0.02 * more)


def test_strength_left_when_warm_and_after_many_loads_stays_between_its_ends():
    assert strength.left_when_warm(np.array([280.0, 296.15, 353.15, 400.0]), 353.15) == pytest.approx([1, 1, 0, 0])
    assert strength.left_after(np.array([0.0, 1e3, 1e7, 1e9]), 0.25) == pytest.approx([1, 1, 0.25, 0.25])


def test_unknown_numbers_stay_unknown_and_never_pass():
    unknown = float("nan")
    for value in (
        pair.working_angle(unknown, 60, 0, 0, ALPHA, -1),
        pair.involute_limit(unknown, ALPHA),
        strength.lewis_form(unknown),
        strength.form_factors(unknown, ALPHA, 0, 1, 1.25, 0.38)[0],
        one.tooth_thickness(unknown, 24, ALPHA, 0, 0, 0.05, 1),
        strength.left_when_warm(300.0, unknown),
        strength.left_after(unknown, 0.3),
    ):
        assert np.isnan(value)
        assert not margin(value, 1.0) >= 0


def test_lewis_table_has_nothing_below_twelve_teeth():
    assert np.isnan(strength.lewis_form(11))


# --- shims ------------------------------------------------------------------------------------------------------------

RING = {
    "module": 2e-3, "z1": 24.0, "z2": 60.0, "x1": 0.0, "x2": 0.0, "pressure_angle": ALPHA, "thinning": 2e-4,
    "right": 36e-3, "sign": -1.0,
}  # fmt: skip
DRAWER = (1e-4, 2e-4, 3e-4, 5e-4, 1e-3)


def test_mount_that_came_out_four_tenths_short_is_shimmed_with_two_pieces():
    pieces = shims.shim_stack(4e-4, DRAWER)
    assert pieces == pytest.approx([3e-4, 1e-4, 0, 0], abs=1e-12)
    assert shims.backlash_out_of_mesh(4e-4 - pieces.sum(), **RING) == pytest.approx(2e-4, rel=1e-9)


def test_a_rest_of_the_gap_leaves_an_external_mesh_loose_and_too_thick_a_stack_tightens_it():
    external = RING | {"right": 84e-3, "sign": 1.0}
    gaps = np.array([4.4e-4, 3.6e-4])
    pieces = shims.shim_stack(gaps, DRAWER)
    left = shims.backlash_out_of_mesh(gaps - pieces.sum(axis=-1), **external)
    assert left[0] > 2e-4 > left[1]
    assert left[0] - 2e-4 == pytest.approx(pair.backlash_change(ALPHA, 4e-5), rel=0.01)


def test_stacks_use_the_fewest_pieces_and_at_most_four():
    assert shims.shim_stack(1e-3, DRAWER) == pytest.approx([1e-3, 0, 0, 0])
    assert shims.shim_stack(0.0, DRAWER) == pytest.approx([0, 0, 0, 0])
    assert shims.shim_stack(9e-3, DRAWER) == pytest.approx([1e-3] * shims.MOST_PIECES)
    assert np.isnan(shims.shim_stack(float("nan"), DRAWER)).all()


def test_every_gap_of_many_mounts_is_met_as_by_trying_every_stack():
    gaps = np.linspace(0, 2e-3, 201)
    tried = {
        sum(some) for n in range(5) for some in itertools.combinations_with_replacement(DRAWER, n)
    }  # fmt: skip
    nearest = [min(abs(s - g) for s in tried) for g in gaps]
    assert np.abs(shims.shim_stack(gaps, DRAWER).sum(axis=-1) - gaps) == pytest.approx(nearest, abs=1e-12)
