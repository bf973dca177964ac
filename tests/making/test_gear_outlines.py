"""Tooth outlines against brute force: the cutter set into the blank at hundreds of positions and cut away.

The cutters are built here with nothing of the outlines' formulas: straight flanks or points unwound from a string, tips
rounded by moving the edge in and out again. What they leave must be the outline.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from dryfit.making.gear_outlines import CHORD, Tooth, cutter_teeth, half_angle, involute_limit, toothed, traced, turned

ALPHA = np.deg2rad(20)


def rounded(polygon, radius):
    """Corners that stand out rounded."""
    return polygon.buffer(-radius, quad_segs=90).buffer(radius, quad_segs=90) if radius else polygon


def rack_tooth(m, dedendum, fillet, thinning):
    """A tooth of the rack, its middle on x = 0, the reference line on y = 0, pointing down; open towards the top."""

    def half(y):
        return m * np.pi / 4 + thinning / 2 + y * np.tan(ALPHA)

    low, high = -m * dedendum, m * 3
    sharp = shapely.Polygon([(-half(low), low), (half(low), low), (half(high), high), (-half(high), high)])
    return rounded(sharp, m * fillet)


def cut_space(tooth, steps=700):
    """One space of a gear as a rack leaves it, on the x axis."""
    rack = affinity.translate(rack_tooth(tooth.module, tooth.dedendum, tooth.fillet, tooth.thinning), 0, 0)
    r = tooth.reference
    positions = []
    for s in np.linspace(-1, 1, steps) * 4.5 * tooth.module:
        placed = affinity.translate(rack, s, r + tooth.module * tooth.shift)
        placed = affinity.rotate(placed, s / r, origin=(0, 0), use_radians=True)
        positions.append(affinity.rotate(placed, -90, origin=(0, 0)))
    return shapely.union_all(positions)


def pie(middle, half, radius):
    turn = np.linspace(middle - half, middle + half, 400)
    rim = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=-1)
    return shapely.Polygon([(0, 0), *rim])


def same(a, b, near, deviation):
    """Both shapes within a region are one: areas, and no part of one farther than `deviation` from the other."""
    a, b = a.intersection(near), b.intersection(near)
    assert a.symmetric_difference(b).area < deviation * near.length
    assert a.difference(b.buffer(deviation)).area == 0
    assert b.difference(a.buffer(deviation)).area == 0


@pytest.mark.parametrize(
    ("z", "shift", "fillet", "thinning"),
    [(24, 0.0, 0.38, 0.1), (8, 0.0, 0.38, 0.0), (10, 0.5, 0.2, 0.1), (60, -0.5, 0.38, 0.2), (17, 0.8, 0.3, 0.0),
     (12, -0.2, 0.0, 0.1)],
)  # fmt: skip
def test_a_rack_cut_at_seven_hundred_positions_leaves_the_outline(z, shift, fillet, thinning):
    # lengths in mm here, with chords as fine as in m
    tooth = Tooth(False, 2e-3, z, ALPHA, shift=shift, fillet=fillet, thinning=thinning * 1e-3)
    form = toothed(tooth)
    curve = shapely.Polygon(turned(form.curve, tooth.pitch / 2) * 1e3)
    in_mm = Tooth(False, 2.0, z, ALPHA, shift=shift, fillet=fillet, thinning=thinning)
    left = pie(0, tooth.pitch / 2, form.tip * 1e3).difference(cut_space(in_mm))
    # the last micrometres at the tips' edges are left out: there the blank, not the cutter, ends the shape
    same(left, curve, pie(0, tooth.pitch / 2, form.tip * 1e3 - 0.01), 0.003)


def cutter_tooth(m, z, tip, thinning, fillet):
    """A tooth of a ring's cutter on the x axis: points unwound from the base circle, tip rounded."""
    base = m * z * np.cos(ALPHA) / 2
    unwound = np.linspace(0, np.sqrt((tip / base) ** 2 - 1), 300)
    r, polar = base * np.sqrt(1 + unwound**2), unwound - np.arctan(unwound)
    half = (m * np.pi / 2 + thinning) / (m * z) + np.tan(ALPHA) - ALPHA - polar
    upper = np.stack([r * np.cos(half), r * np.sin(half)], axis=-1)
    land = np.linspace(half[-1], -half[-1], 60)[1:-1]
    top = np.stack([tip * np.cos(land), tip * np.sin(land)], axis=-1)
    sharp = shapely.Polygon(np.concatenate([[[0, 0]], upper, top, (upper * [1, -1])[::-1]]))
    return rounded(sharp, fillet)


@pytest.mark.parametrize(("z", "shift", "thinning"), [(60, 0.0, 0.1), (48, 0.0, 0.2), (72, 0.5, 0.0), (50, -0.3, 0.1)])
def test_a_pinion_shaped_cutter_rolled_inside_leaves_the_ring(z, shift, thinning):
    tooth = Tooth(True, 2e-3, z, ALPHA, shift=shift, thinning=thinning * 1e-3)
    form = toothed(tooth)
    zc, m = form.cutter, 2.0
    value = np.tan(ALPHA) - ALPHA + 2 * np.tan(ALPHA) * shift / (z - zc)
    angles = np.linspace(0.05, 1.0, 400_001)
    working = angles[np.argmin(np.abs(np.tan(angles) - angles - value))]
    apart = m * (z - zc) / 2 * np.cos(ALPHA) / np.cos(working)
    tool = cutter_tooth(m, zc, form.root * 1e3 - apart, thinning, form.rounding * 1e3)
    positions = []
    for turn in np.linspace(-0.55, 0.55, 700):
        placed = affinity.translate(affinity.rotate(tool, turn, origin=(0, 0), use_radians=True), apart, 0)
        positions.append(affinity.rotate(placed, -turn * zc / z, origin=(0, 0), use_radians=True))
    cut = shapely.union_all(positions)
    near = pie(0, tooth.pitch / 2, form.root * 1e3 + 1).difference(
        shapely.Point(0, 0).buffer(form.tip * 1e3 + 0.02, 200)
    )
    same(cut, shapely.Polygon(form.curve * 1e3), near, 0.004)


def test_undercut_takes_the_foot_of_the_involute():
    cut, whole = toothed(Tooth(False, 1e-3, 9, ALPHA)), toothed(Tooth(False, 1e-3, 9, ALPHA, shift=0.6))
    assert cut.undercut
    assert not whole.undercut
    t = cut.tooth
    angle = np.abs(np.arctan2(cut.curve[:, 1], cut.curve[:, 0]))
    radius = np.hypot(*cut.curve.T)
    waist = (radius > cut.root) & (radius < cut.form) & (angle < t.pitch / 2)
    assert angle[waist].min() < t.at_base
    assert cut.form > 1.005 * t.base


@settings(max_examples=40)
@given(
    m=st.sampled_from([0.8e-3, 1e-3, 1.5e-3, 2e-3, 3e-3]),
    z=st.integers(8, 80),
    shift=st.floats(-0.5, 0.8),
    fillet=st.floats(0.0, 0.45),
    thinning=st.floats(0, 0.15),
)
def test_every_gear_is_one_sound_curve(m, z, shift, fillet, thinning):
    tooth = Tooth(False, m, z, ALPHA, shift=shift, fillet=fillet, thinning=thinning * m)
    form = toothed(tooth)
    polygon = shapely.Polygon(form.curve)
    assert polygon.is_valid
    assert polygon.exterior.is_ccw
    radius = np.hypot(*form.curve.T)
    assert radius.min() == pytest.approx(tooth.root, rel=1e-9)
    assert radius.max() == pytest.approx(form.tip, rel=1e-9)
    flank = (radius >= form.form + 1e-9) & (radius <= form.tip - 1e-9)
    angle = np.arctan2(form.curve[:, 1], form.curve[:, 0])
    middle = np.round(angle / tooth.pitch) * tooth.pitch
    assert np.abs(angle - middle)[flank] == pytest.approx(half_angle(tooth, radius[flank]), abs=1e-9)
    assert np.pi * tooth.root**2 < polygon.area < np.pi * form.tip**2


@settings(max_examples=40)
@given(z=st.integers(34, 90), shift=st.floats(-0.3, 0.8), fillet=st.floats(0.0, 0.45), thinning=st.floats(0, 0.1))
def test_every_ring_is_one_sound_curve(z, shift, fillet, thinning):
    tooth = Tooth(True, 2e-3, z, ALPHA, shift=shift, fillet=fillet, thinning=thinning * 2e-3)
    form = toothed(tooth)
    polygon = shapely.Polygon(form.curve)
    assert polygon.is_valid
    radius = np.hypot(*form.curve.T)
    assert radius.max() == pytest.approx(tooth.root, rel=1e-9)
    assert radius.min() == pytest.approx(tooth.tip, rel=1e-6)
    flank = (radius < form.form - 1e-9) & (radius > max(form.tip, tooth.base) + 1e-9)
    angle = np.arctan2(form.curve[:, 1], form.curve[:, 0])
    middle = np.round(angle / tooth.pitch) * tooth.pitch
    assert np.abs(angle - middle)[flank] == pytest.approx(half_angle(tooth, radius[flank]), abs=1e-9)


def test_chords_stay_within_two_micrometres_of_the_circle_they_follow():
    points = traced(lambda a: 0.03 * np.stack([np.cos(a), np.sin(a)], axis=-1), 0.0, 1.0)
    middles = (points[1:] + points[:-1]) / 2
    assert np.max(0.03 - np.hypot(*middles.T)) < CHORD < 2e-6


def test_straight_roots_run_to_the_centre_below_the_base_circle():
    tooth = Tooth(False, 1.5e-3, 12, ALPHA, generated=False)
    form = toothed(tooth)
    radius, angle = np.hypot(*form.curve.T), np.arctan2(form.curve[:, 1], form.curve[:, 0])
    foot = angle[np.isclose(radius, tooth.root, rtol=1e-12) & (angle > 0)].min()
    assert foot == pytest.approx(tooth.at_base, rel=1e-12)


def test_a_pointed_tooth_says_how_much_is_missing():
    form = toothed(Tooth(False, 2e-3, 8, ALPHA, shift=0.8))
    assert form.tip < form.tooth.tip
    assert "pointed" in form.notes[0]


def test_the_cutter_reaches_the_tips_with_its_involute():
    for z in range(45, 90):
        tooth = Tooth(True, 1e-3, z, ALPHA)
        chosen = cutter_teeth(tooth)
        assert involute_limit(tooth, chosen) <= chosen <= z - 18
    few = toothed(Tooth(True, 1e-3, 34, ALPHA))
    assert "no cutter reaches" in few.notes[0]


def test_too_large_a_rounding_is_cut_to_what_the_tip_has_room_for():
    form = toothed(Tooth(False, 1e-3, 30, ALPHA, fillet=0.6))
    assert form.rounding == pytest.approx(0.4719e-3, abs=1e-7)  # full round tip of a 1.25 rack at 20°, worked by hand
    assert "no room" in form.notes[0]
