"""Rolled outlines: gaps against the exact backlash formula of the trade, overlaps where the rules forbid a pair."""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.making.gear_gaps import free_ring_addendum, involute_backlash, mesh_gap, working_distance
from dryfit.making.gear_outlines import Tooth, toothed
from dryfit.trades.gears import formulas_pairs as pair

ALPHA = np.deg2rad(20)
M = 2e-3


def rolled(z1, z2, x1=0.0, x2=0.0, *, ring=False, thinning=1e-4, off=0.0, ring_addendum=1.0, **both):
    """The gap as rolled, and the normal backlash that the formula gives."""
    pinion = toothed(Tooth(False, M, z1, ALPHA, shift=x1, thinning=thinning, **both))
    addendum = {"addendum": ring_addendum} if ring else {}
    gear = toothed(Tooth(ring, M, z2, ALPHA, shift=x2, thinning=thinning, **addendum, **both))
    distance = working_distance(pinion, gear) + off
    sign = -1 if ring else 1
    free = pair.working_angle(z1, z2, x1, x2, ALPHA, sign)
    imposed = pair.angle_at_distance(M, z1, z2, ALPHA, distance, sign)
    around = pair.backlash(ALPHA, free, imposed, distance, 2 * thinning, sign)
    expected = float(around * np.cos(imposed))
    assert involute_backlash(pinion, gear, distance) == pytest.approx(expected, abs=1e-9)
    return mesh_gap(pinion, gear, distance), expected


@pytest.mark.parametrize("off", [-1e-4, 0.0, 1e-4, 3e-4])
@pytest.mark.parametrize(
    "teeth", [(20, 40, 0.0, 0.0), (20, 40, 0.3, 0.1), (12, 30, 0.5, -0.2), (17, 17, 0.2, 0.2), (8, 60, 0.6, 0.0)]
)
def test_an_external_pair_rolls_free_with_the_backlash_of_the_formula(teeth, off):
    gap, expected = rolled(*teeth, off=off)
    assert not gap.overlaps
    assert gap.gap == pytest.approx(expected, abs=5e-6)


@pytest.mark.parametrize("off", [-2e-4, -1e-4, 0.0, 1e-4])
@pytest.mark.parametrize("teeth", [(24, 60, 0.0, 0.0), (30, 72, 0.0, 0.0), (20, 60, 0.4, 0.4)])
def test_an_internal_pair_with_a_shortened_ring_rolls_free_with_the_backlash_of_the_formula(teeth, off):
    gap, expected = rolled(*teeth, ring=True, ring_addendum=0.75, off=off)
    assert not gap.overlaps
    assert gap.gap == pytest.approx(expected, abs=5e-6)


def test_moving_the_pinion_outwards_tightens_an_internal_pair_and_loosens_an_external_one():
    inside = [rolled(24, 60, ring=True, ring_addendum=0.8, off=o)[0].gap for o in (-1e-4, 0, 1e-4)]
    outside = [rolled(20, 40, off=o)[0].gap for o in (-1e-4, 0, 1e-4)]
    assert inside[0] > inside[1] > inside[2] > 0
    assert 0 < outside[0] < outside[1] < outside[2]


def test_a_pinion_pressed_too_deep_overlaps_on_both_flanks():
    gap, expected = rolled(20, 40, off=-3.5e-4)
    assert expected < 0
    assert gap.overlaps
    # a tooth in the middle lies half as deep in either flank, and the tips are pressed into the root roundings
    assert gap.gap < 0.95 * expected / 2


def test_the_rings_tips_dig_into_the_rack_cut_root_of_a_full_depth_pair():
    # 24 in 60: 24/60 clears the involute rule, but the rounding of the pinion's root begins above its base circle
    full, _ = rolled(24, 60, ring=True)
    assert full.overlaps
    pinion, ring = toothed(Tooth(False, M, 24, ALPHA)), toothed(Tooth(True, M, 60, ALPHA))
    free = free_ring_addendum(pinion, ring, working_distance(pinion, ring))
    assert 0.8 < free < 0.9
    assert not rolled(24, 60, ring=True, ring_addendum=free)[0].overlaps
    assert rolled(24, 60, ring=True, ring_addendum=free + 0.05)[0].overlaps


def test_the_same_limit_by_hand():
    # In modules: the rack's straight flank ends 1.25 - 0.38 (1 - sin 20°) = 1.0 below the reference circle; on the line
    # of action that is 1.0/sin 20° from the pitch point, and the ring's tip may reach as far: r_a² = r_b² + reach².
    straight = 1.25 - 0.38 * (1 - np.sin(ALPHA))
    reach = 30 * np.sin(ALPHA) - straight / np.sin(ALPHA)  # from the ring's base tangent point
    tallest = 30 - np.hypot(30 * np.cos(ALPHA), reach)
    pinion, ring = toothed(Tooth(False, M, 24, ALPHA)), toothed(Tooth(True, M, 60, ALPHA))
    assert free_ring_addendum(pinion, ring, 18 * M) == pytest.approx(tallest, abs=1e-6)


@pytest.mark.parametrize(
    ("teeth", "shape"),
    [
        ((12, 48), {"ring": True}),  # involute interference: 12/48 below 1 - tan αa2/tan αw
        ((12, 48), {"ring": True, "generated": False}),
        ((44, 50), {"ring": True}),  # trochoid interference: too small a difference of teeth
        ((10, 40), {"generated": False}),  # straight roots below the base circle in the way of tall tips
    ],
)
def test_pairs_that_the_rules_of_interference_forbid_overlap_when_rolled(teeth, shape):
    gap, expected = rolled(*teeth, **shape)
    assert expected > 0
    assert gap.overlaps
    assert gap.gap < 0


def test_a_ring_shortened_to_the_involute_rule_clears_straight_roots():
    # 0.6223 modules: tallest ring addendum of 12 in 48 by z1/z2 = 1 - tan αa2/tan αw
    assert not rolled(12, 48, ring=True, ring_addendum=0.622, generated=False)[0].overlaps
    assert rolled(12, 48, ring=True, ring_addendum=0.75, generated=False)[0].overlaps


def test_an_external_pair_typed_inside_a_ring_overlaps():
    pinion, ring = toothed(Tooth(False, 1.5e-3, 12, ALPHA)), toothed(Tooth(True, 1.5e-3, 48, ALPHA))
    assert mesh_gap(pinion, ring, 45e-3).gap < -1e-3
