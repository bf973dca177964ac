"""Drawn tooth outlines, measured as a workshop would, against handbook tables and worked examples.

- "Elements of Metric Gear Technology", Table 10-1 (p. T-81): chordal thickness and addendum (seen); Table 5-4
  (p. T-46): working angles and centre distances of internal pairs of 50 teeth (seen).
- A public page "Profile Shifted External Spur Gears" with the pair 12/24 worked in full (seen).
- T. Bevan, The Theory of Machines, chapter 10, example 4, p. 334: fewest teeth without undercut (seen in a public
  solutions notebook).
- ISO 21771:2007, equation 63, worked on a public calculation sheet: thinning for a normal backlash (seen).
- Base tangent lengths of handbook tables (from memory), size between pins of a ring (derived).
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.making.gear_gaps import involute_backlash, mesh_gap, working_distance
from dryfit.making.gear_measures import over_pins, span
from dryfit.making.gear_outlines import Tooth, toothed
from dryfit.trades.gears import formulas as one

ALPHA = np.deg2rad(20)
MM = 1e-3


@pytest.mark.parametrize(
    ("m", "z", "x", "k", "expected"), [(3, 24, 0.4, 4, 32.8266), (1, 20, 0.0, 3, 7.6604), (2, 18, 0.0, 3, 15.2649)]
)
def test_base_tangent_span_handbook_tables_from_memory(m, z, x, k, expected):
    assert span(toothed(Tooth(False, m * MM, z, ALPHA, shift=x)), k) / MM == pytest.approx(expected, abs=2e-4)


def test_size_between_pins_of_a_ring_derived():
    ring = toothed(Tooth(True, 2 * MM, 72, ALPHA))
    assert over_pins(ring, 3.5 * MM) / MM == pytest.approx(138.821, abs=3e-4)


@pytest.mark.parametrize("z", [20, 25, 31])
@pytest.mark.parametrize("x", [0.0, 0.25])
def test_size_over_pins_as_the_trades_formula(z, x):
    form = toothed(Tooth(False, 2 * MM, z, ALPHA, shift=x, thinning=0.1 * MM))
    assert over_pins(form, 3.5 * MM) == pytest.approx(one.over_pins(2e-3, z, ALPHA, x, 3.5e-3, 1, 1e-4), abs=2e-7)


def test_table_10_1_chordal_thickness_and_height():
    # m = 10, z = 12, x = 0.3, addendum 13 mm beyond the reference circle
    form = toothed(Tooth(False, 10 * MM, 12, ALPHA, shift=0.3))
    radius, angle = np.hypot(*form.curve.T), np.arctan2(form.curve[:, 1], form.curve[:, 0])
    flank = (angle > 0) & (angle < np.pi / 12) & (radius >= form.form) & (radius < form.tip - 1e-9)
    order = np.argsort(radius[flank])
    half = np.interp(60 * MM, radius[flank][order], angle[flank][order])
    assert 2 * 60 * np.sin(half) == pytest.approx(17.8256, abs=2e-3)  # chords of the outline: 1 µm
    assert form.tip / MM - 60 * np.cos(half) == pytest.approx(13.6657, abs=1e-3)


def test_profile_shifted_pair_12_24_circles():
    y = 56.5 / 3 - 18
    for z, x, mate, tip, root in ((12, 0.6, 0.36, 44.84, 32.10), (24, 0.36, 0.6, 79.40, 66.66)):
        form = toothed(Tooth(False, 3 * MM, z, ALPHA, shift=x, addendum=1 + y - mate - x))
        radius = np.hypot(*form.curve.T) / MM
        assert 2 * radius.max() == pytest.approx(tip, abs=2e-3)
        assert 2 * radius.min() == pytest.approx(root, abs=2e-3)


def test_profile_shifted_pair_12_24_runs_without_backlash_at_its_centre_distance():
    pinion, gear = (toothed(Tooth(False, 3 * MM, z, ALPHA, shift=x)) for z, x in ((12, 0.6), (24, 0.36)))
    assert working_distance(pinion, gear) / MM == pytest.approx(56.5, abs=2e-3)
    assert involute_backlash(pinion, gear, 56.5 * MM) / MM == pytest.approx(0.0, abs=2e-3)


def test_bevan_example_10_4_a_rack_of_full_straight_depth_undercuts_17_teeth_but_not_18():
    # the straight flank of the usual rack reaches one module below its reference line
    cut = {z: toothed(Tooth(False, 2 * MM, z, ALPHA)).undercut for z in (16, 17, 18)}
    assert cut == {16: True, 17: True, 18: False}


@pytest.mark.parametrize(("z1", "x2", "distance"), [(49, 1.0, 0.971), (47, 0.4, 1.775), (44, 0.11, 3.099)])
def test_table_5_4_centre_distances_of_internal_pairs(z1, x2, distance):
    pinion, ring = toothed(Tooth(False, MM, z1, ALPHA)), toothed(Tooth(True, MM, 50, ALPHA, shift=x2))
    assert working_distance(pinion, ring) / MM == pytest.approx(distance, abs=6e-4)


def test_iso_21771_equation_63_the_backlash_of_a_lowered_sum_of_shifts():
    # Module 3.5, 20°: lowering the sum of shifts from 0.651877131 to 0.639346541 leaves 0.03 mm square to the flanks.
    # The sheet's pair is helical; the relation is tried on a straight pair of the same module, thinned by as much.
    thinned = 2 * (0.651877131 - 0.639346541) * 3.5 * MM * np.tan(ALPHA)
    pinion, gear = (
        toothed(Tooth(False, 3.5 * MM, 31, ALPHA, thinning=thinned)),
        toothed(Tooth(False, 3.5 * MM, 30, ALPHA)),
    )
    gap = mesh_gap(pinion, gear, working_distance(pinion, gear))
    assert not gap.overlaps
    assert gap.gap / MM == pytest.approx(0.03, abs=2e-3)
