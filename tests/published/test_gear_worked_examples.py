"""Gear geometry and tooth loads against worked examples of textbooks, standards and published calculation sheets.

- R. S. Khurmi & J. K. Gupta, Theory of Machines, examples 12.1, 12.3, 12.4, 12.6 (seen in a public solutions notebook).
- T. Bevan, The Theory of Machines, chapter 10, example 4, p. 334 (seen in a public solutions notebook).
- T. H. Wentzell, Machine Design, examples 12.3 and 12.4, pp. 258 and 262 (seen in a public solutions notebook).
- U. C. Jindal, Machine Design, examples 25-2 and 25-3 (seen in a public solutions notebook).
- J. E. Shigley, Mechanical Engineering Design, Table 14-2 (seen in a public file), example 14-1 (from memory).
- ISO 21771:2007, equations 62 and 63, worked on a public calculation sheet (seen).
- A public page "Profile Shifted External Spur Gears" with the pair 12/24 worked in full (seen).
- Public calculation sheets of large internal and external pairs (seen).
Rows marked "from memory", "derived" or "common practice" say so beside the check.
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.trades.gears import formulas as one
from dryfit.trades.gears import formulas_pairs as pair
from dryfit.trades.gears import formulas_strength as strength
from dryfit.trades.shafts.formulas_beams import gear_forces

ALPHA = np.deg2rad(20)


def running(m, z1, z2, x1, x2, sign):
    angle = pair.working_angle(z1, z2, x1, x2, ALPHA, sign)
    return np.rad2deg(angle), pair.centre_distance(m, z1, z2, ALPHA, angle, sign)


# --- centre distances and working angles -----------------------------------------------------------------------------


def test_calculation_sheet_internal_17_96_module_14():
    angle, distance = running(14, 17, 96, 0.2, 0.5, -1)
    assert angle == pytest.approx(21.1251, abs=2e-4)
    assert distance == pytest.approx(557.0887, abs=1e-3)


def test_calculation_sheet_external_22_118_module_8():
    angle, distance = running(8, 22, 118, 0, 0.5, 1)
    assert angle == pytest.approx(21.0617, abs=2e-4)
    assert distance == pytest.approx(563.8999, abs=1e-3)
    assert pair.increment_factor(8, 22, 118, distance, 1) == pytest.approx(0.48748796, abs=1e-6)


def test_calculation_sheet_external_30_78_module_16():
    assert running(16, 30, 78, 0, 0.05, 1)[1] == pytest.approx(864.7972, abs=1e-3)


def test_profile_shifted_external_pair_12_24():
    angle = pair.angle_at_distance(3, 12, 24, ALPHA, 56.5, 1)
    assert np.rad2deg(angle) == pytest.approx(26.0888, abs=2e-4)
    assert one.involute(ALPHA) == pytest.approx(0.014904, abs=1e-6)
    assert one.involute(angle) == pytest.approx(0.034317, abs=1e-6)
    assert pair.shift_for_distance(3, 12, 24, ALPHA, 56.5, 1) == pytest.approx(0.96, abs=5e-4)
    y = pair.increment_factor(3, 12, 24, 56.5, 1)
    assert y == pytest.approx(0.83333, abs=1e-5)
    base = one.base_diameter(3, np.array([12.0, 24.0]), ALPHA)
    assert base == pytest.approx([33.8289, 67.6579], abs=1e-4)
    # Addenda with the tips shortened: 1 + y - x of the mate.
    shift, addendum = np.array([0.6, 0.36]), 1 + y - np.array([0.36, 0.6]) - np.array([0.6, 0.36])
    tip = one.tip_diameter(3, np.array([12.0, 24.0]), addendum, shift, 1)
    assert tip == pytest.approx([44.84, 79.40], abs=2e-3)
    assert one.root_diameter(3, np.array([12.0, 24.0]), 1.25, shift, 1) == pytest.approx([32.1, 66.66], abs=2e-3)
    ratio = sum(
        pair.contact_ratios(*np.array([44.84, base[0], 79.4, base[1]]) / 2, angle, np.pi * 3 * np.cos(ALPHA), 1)
    )
    assert ratio == pytest.approx(1.202, abs=1e-3)


def test_general_handbook_internal_pair_16_24_module_3_from_memory():
    _, distance = running(3, 16, 24, 0, 0.5, -1)
    assert distance == pytest.approx(13.1683, abs=2e-4)
    assert pair.increment_factor(3, 16, 24, distance, -1) == pytest.approx(0.389426, abs=1e-5)
    assert one.tip_diameter(3, 24, 1.0, 0.5, -1) == pytest.approx(69.0, abs=1e-3)
    assert one.root_diameter(3, 24, 1.25, 0.5, -1) == pytest.approx(82.5, abs=1e-3)


def test_iso_53_profile_a_ring_of_72_teeth_module_2_from_memory():
    assert one.tip_diameter(2, 72, 1.0, 0.0, -1) == pytest.approx(140.0, abs=1e-3)
    assert one.root_diameter(2, 72, 1.25, 0.0, -1) == pytest.approx(149.0, abs=1e-3)
    assert one.base_diameter(2, 72, ALPHA) == pytest.approx(135.3157, abs=5e-4)
    assert one.reference_diameter(2, 72) == 144.0


def test_iso_21771_equation_62_sum_of_shifts():
    # Helical pair 31/30, worked in the transverse plane: transverse angles in, normal angle in the last factor.
    transverse, working = np.deg2rad([21.29906429, 23.8707609654])
    cosine = np.tan(ALPHA) / np.tan(transverse)
    distance = pair.reference_centre_distance(3.5 / cosine, 31, 30, 1)
    assert distance == pytest.approx(114.34473, abs=1e-3)
    assert one.involute(transverse) == pytest.approx(0.0181260949, abs=1e-9)
    assert one.involute(working) == pytest.approx(0.0259052382, abs=1e-9)
    assert pair.angle_at_distance(3.5 / cosine, 31, 30, transverse, 116.5, 1) == pytest.approx(working, abs=1e-9)
    shifts = pair.shift_for_distance(3.5 / cosine, 31, 30, transverse, 116.5, 1) * np.tan(transverse) / np.tan(ALPHA)
    assert shifts == pytest.approx(0.651877131, abs=2e-6)


def test_iso_21771_equation_63_shift_that_makes_a_normal_backlash():
    # Module 3.5: 0.03 mm of normal backlash lowers the sum of shifts from 0.651877131 to 0.639346541.
    lowered = 0.651877131252 - 0.639346541
    thinning = 2 * lowered * 3.5 * np.tan(ALPHA)
    circumferential = pair.backlash(ALPHA, ALPHA, ALPHA, 3.5 * 61 / 2, thinning, 1)
    assert circumferential * np.cos(ALPHA) == pytest.approx(0.03, abs=1e-6)


# --- undercut ---------------------------------------------------------------------------------------------------------


def test_bevan_example_10_4_undercut_limit_against_a_rack():
    assert np.ceil(one.undercut_teeth(ALPHA)) == 18


def test_bevan_example_10_4_smallest_pinion_for_three_to_one():
    # The smallest pinion whose mate's tips stay on its involute: √(ra2² - rb2²) ≤ a sin α.
    z1 = np.arange(8, 30)
    tip2 = one.tip_diameter(1.0, 3 * z1, 1.0, 0.0, 1) / 2
    reach = pair.tangent_length(tip2, one.base_diameter(1.0, 3 * z1, ALPHA) / 2)
    allowed = pair.reference_centre_distance(1.0, z1, 3 * z1, 1) * np.sin(ALPHA)
    assert z1[reach <= allowed][0] == 15


def test_textbook_exact_undercut_limit_from_memory():
    assert one.undercut_teeth(ALPHA) == pytest.approx(17.0973, abs=5e-4)
    assert one.undercut_shift(12, ALPHA) == pytest.approx(0.2981, abs=2e-4)


# --- path of contact, sliding -----------------------------------------------------------------------------------------


def khurmi(z1, z2, m, addendum):
    base = [m * z * np.cos(ALPHA) / 2 for z in (z1, z2)]
    tip = [m * z / 2 + addendum for z in (z1, z2)]
    return base, tip


def test_khurmi_example_12_3_path_and_arc_of_contact():
    base, tip = khurmi(30, 80, 12, 10)
    parts = pair.contact_ratios(tip[0], base[0], tip[1], base[1], ALPHA, 1.0, 1)
    path = sum(parts)
    assert path == pytest.approx(52.3, abs=0.06)
    assert path / np.cos(ALPHA) == pytest.approx(55.61, abs=0.02)
    assert path / np.cos(ALPHA) / (np.pi * 12) == pytest.approx(1.475, abs=5e-3)


def test_khurmi_example_12_6_angle_turned_and_sliding():
    base, tip = khurmi(17, 49, 6, 6)
    recess, approach = pair.contact_ratios(tip[0], base[0], tip[1], base[1], ALPHA, 1.0, 1)
    turned = np.rad2deg((recess + approach) / np.cos(ALPHA) / 51)
    assert turned == pytest.approx(34.6, abs=0.05)
    # Sliding over rolling speed at first and last contact, the pinion turning at 1 rad/s.
    assert pair.sliding_speed(1.0, 17 / 49, approach, 1) / 51 == pytest.approx(0.41, abs=1e-3)
    assert pair.sliding_speed(1.0, 17 / 49, recess, 1) / 51 == pytest.approx(0.354, abs=1e-3)


def test_khurmi_example_12_4_greatest_sliding_speed():
    base, tip = khurmi(20, 40, 5, 5)
    _, approach = pair.contact_ratios(tip[0], base[0], tip[1], base[1], ALPHA, 1.0, 1)
    omega = 1200 / 50
    assert pair.sliding_speed(omega, omega / 2, approach, 1) == pytest.approx(455.3, abs=0.1)


def test_contact_ratios_of_18_72_by_the_published_formula_from_memory():
    base = [2 * z * np.cos(ALPHA) / 2 for z in (18, 72)]
    pitch = np.pi * 2 * np.cos(ALPHA)
    inside = pair.contact_ratios(20, base[0], 140.27 / 2, base[1], ALPHA, pitch, -1)
    assert sum(inside) == pytest.approx(1.8066, abs=5e-4)
    outside = pair.contact_ratios(20, base[0], 74, base[1], ALPHA, pitch, 1)
    assert sum(outside) == pytest.approx(1.6707, abs=5e-4)


# --- backlash ---------------------------------------------------------------------------------------------------------


def test_backlash_linear_rule_common_practice():
    assert pair.backlash_change(ALPHA, 0.1) == pytest.approx(0.072794, abs=2e-6)


def test_backlash_of_an_internal_pair_opens_when_the_centres_come_closer_derived():
    imposed = pair.angle_at_distance(2, 18, 72, ALPHA, 53.9, -1)
    assert pair.backlash(ALPHA, ALPHA, imposed, 53.9, 0.0, -1) == pytest.approx(0.072148, abs=2e-6)
    closed = pair.angle_at_distance(2, 18, 72, ALPHA, 54.1, -1)
    assert pair.backlash(ALPHA, ALPHA, closed, 54.1, 0.0, -1) < 0


# --- what a caliper reads ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("m", "z", "x", "k", "expected"), [(3, 24, 0.4, 4, 32.8266), (1, 20, 0.0, 3, 7.6604), (2, 18, 0.0, 3, 15.2649)]
)
def test_base_tangent_span_handbook_tables_from_memory(m, z, x, k, expected):
    assert one.span(m, z, ALPHA, x, k) == pytest.approx(expected, abs=1e-4)


def test_size_between_pins_of_a_ring_derived():
    assert one.over_pins(2, 72, ALPHA, 0.0, 3.5, -1) == pytest.approx(138.821, abs=2e-4)


# --- tooth forces and strength ----------------------------------------------------------------------------------------


def test_khurmi_example_12_1_total_tooth_load():
    torque = 120e3 / (2 * np.pi * 650 / 60)
    assert np.hypot(*gear_forces(torque, 0.250, ALPHA)) / 1e3 == pytest.approx(15.01, abs=0.02)


@pytest.mark.parametrize(("resultant", "separating", "tolerance"), [(155.46, 53.17, 0.02), (10.16, 3.48, 0.01)])
def test_worked_examples_of_gear_loads_separating_and_resultant_force(resultant, separating, tolerance):
    # First pair in lbf (Wentzell), second in kN (a bearing catalogue's example on gear loads); both printed at 20°.
    forces = gear_forces(resultant * np.cos(ALPHA), 2.0, ALPHA)
    assert forces[1] == pytest.approx(separating, abs=tolerance)
    assert np.hypot(*forces) == pytest.approx(resultant, abs=1e-9)


def test_wentzell_example_12_3_lewis_strength():
    # Diametral pitch 8 1/in stands for a module of 1/8 in; strengths in psi, widths in inches.
    assert strength.lewis_strength(47.5e3, 1.0, 1 / 8, 0.320) == pytest.approx(1900, abs=0.5)
    assert strength.lewis_strength(44e3, 1.0, 1 / 8, 0.421) == pytest.approx(2315.5, abs=0.5)


def test_wentzell_example_12_4_barth_dynamic_load():
    # (600 + V)/600 with V in ft/min is (3 + v)/3 with v in m/s to within the rounding of 3 m/s to 600 ft/min.
    speed = 1129 * 3 / 600
    assert 146 / strength.speed_factor(speed) == pytest.approx(420.72, abs=0.02)


@pytest.mark.parametrize(("z", "form"), [(12, 0.245), (15, 0.290), (18, 0.309), (22, 0.331), (34, 0.371), (60, 0.422)])
def test_shigley_table_14_2_lewis_form_factor(z, form):
    assert strength.lewis_form(z) == pytest.approx(form, abs=0.004)


@pytest.mark.parametrize(("z", "form"), [(12, 0.245), (15, 0.289), (18, 0.308), (25, 0.340), (30, 0.358)])
def test_jindal_example_25_lewis_form_factor(z, form):
    assert strength.lewis_form(z) == pytest.approx(form, abs=0.003)


def test_shigley_curve_fit_at_twenty_teeth():
    assert strength.lewis_form(20) == pytest.approx(0.3192, abs=0.003)


def test_jindal_example_25_2_closed_fit_overshoots_the_table_at_few_teeth():
    fit = np.pi * (0.154 - 0.912 / 18)
    assert fit == pytest.approx(0.3246, abs=5e-4)
    assert fit > strength.lewis_form(18)


def test_shigley_example_14_1_permissible_power_from_memory():
    # d = 2 in, 1200 rpm, Y = 0.296, F = 1.5 in, P = 8; Barth's factor for cut teeth in feet, (1200 + V)/1200.
    speed = np.pi * 2 * 1200 / 12
    factor = (1200 + speed) / 1200
    load = strength.lewis_strength(30e3 / 3, 1.5, 1 / 8, 0.296) / factor
    assert load * speed / 33000 == pytest.approx(6.95, abs=0.03)


def test_vdi_2736_root_stress_form_from_memory():
    share = strength.contact_share(1.67)
    stress = strength.root_stress(1.25 * 100, 15, 2, 2.91, 1.55, share)
    assert stress == pytest.approx(13.13, abs=0.05)


def test_iso_6336_3_form_factor_of_a_rack_and_of_18_teeth_from_memory():
    # Basic rack 1.25/0.38: the rack's Y_Fa is 2.06; 18 teeth without shift about 2.9 with Y_Sa about 1.55.
    assert strength.ring_form_factors(ALPHA, 1.0, 1.25, 0.38)[0] == pytest.approx(2.06, abs=0.01)
    form, correction = strength.form_factors(18.0, ALPHA, 0.0, 1.0, 1.25, 0.38)
    assert form == pytest.approx(2.91, rel=0.01)
    assert correction == pytest.approx(1.55, rel=0.02)


def test_iso_6336_2_elasticity_factor_of_steel_on_steel_from_memory():
    assert strength.elasticity_factor(206e9, 0.3, 206e9, 0.3) / 1e3 == pytest.approx(189.8, abs=0.1)


# --- losses -----------------------------------------------------------------------------------------------------------


def loss_by_integration(base, tip, z1, z2, sign):
    """Mean of sliding over pitch-line speed along the path of contact with full load shared by pairs in mesh."""
    pitch = np.pi * 2 * np.cos(ALPHA)
    recess, approach = pair.contact_ratios(tip[0], base[0], tip[1], base[1], ALPHA, pitch, sign)
    places = np.linspace(-approach, recess, 200_001)
    weight = np.zeros_like(places)
    for shift in range(-3, 4):
        other = places + shift
        weight += (other >= -approach) & (other <= recess)
    slip = np.abs(places) * pitch * (1 / base[0] + sign / base[1])
    return np.trapezoid(slip / weight, places)


def test_machine_element_texts_mesh_loss_factor_external_18_36_from_memory():
    base = [z * np.cos(ALPHA) for z in (18, 36)]
    parts = pair.contact_ratios(20, base[0], 38, base[1], ALPHA, np.pi * 2 * np.cos(ALPHA), 1)
    factor = pair.loss_factor(18, 36, *parts, 1)
    assert factor == pytest.approx(0.18065, abs=2e-4)
    assert factor == pytest.approx(loss_by_integration(base, (20, 38), 18, 36, 1), rel=0.02)


def test_machine_element_texts_mesh_loss_factor_internal_18_72_from_memory():
    base = [z * np.cos(ALPHA) for z in (18, 72)]
    parts = pair.contact_ratios(20, base[0], 140.27 / 2, base[1], ALPHA, np.pi * 2 * np.cos(ALPHA), -1)
    factor = pair.loss_factor(18, 72, *parts, -1)
    assert factor == pytest.approx(0.113, abs=5e-4)
    assert factor == pytest.approx(loss_by_integration(base, (20, 140.27 / 2), 18, 72, -1), rel=0.02)
