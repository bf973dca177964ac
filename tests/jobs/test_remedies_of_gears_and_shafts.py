"""Every number that a remedy of gears or shafts names is typed into the design as it is shown; the check then holds.

The design is one of the examples with a planted weakness. The figures are rounded to the safe side, so that the reserve
is met as typed; `HAIR` is rounding of sums.
"""

from __future__ import annotations

import re

import pytest

from dryfit.assess.assess import assess
from dryfit.design.read import read_design
from dryfit.design.records import Design
from dryfit.design.values import with_values
from dryfit.ground.findings import Finding, State, Term, Workings, state
from dryfit.jobs.check import example
from dryfit.machine.machine import resolve
from dryfit.views import words

HAIR = 1e-9

GEAR = "base.gears[0]."
AXLE = "base.axle."

REMEDIES: dict[str, tuple[str, str, dict[str, str], str, str]] = {
    # name: example, check, what is planted, symbol in the remedy, key it goes into
    "backlash, too little": (
        "sunbloom",
        "mesh-keeps-backlash",
        {GEAR + "backlash": "0.08 mm"},
        "Δs_w",
        GEAR + "backlash",
    ),
    "backlash, too much": ("gangway", "mesh-keeps-backlash", {GEAR + "backlash": "0.35 mm"}, "Δs_w", GEAR + "backlash"),
    "tip of the ring on the root": (
        "sunbloom",
        "tips-clear-roots",
        {GEAR + "gear_addendum": "1.3"},
        "h_t",
        GEAR + "gear_addendum",
    ),
    "mount drawn too long": (
        "sunbloom",
        "shims-cover-the-mount",
        {GEAR + "mount_short_by": "0.1 mm"},
        "e_min",
        GEAR + "mount_short_by",
    ),
    "centre distance by the wrong formula": ("beacon", "centre-distance-is-right", {}, "a_w", GEAR + "centre_distance"),
    "tips of a small module": (
        "gangway",
        "tooth-tips-print",
        {GEAR + "module": "1.2 mm", GEAR + "centre_distance": "36 mm"},
        "m_min",
        GEAR + "module",
    ),
    "tips under a wide line": (
        "gangway",
        "tooth-tips-print",
        {"workshop.line_width": "0.8 mm"},
        "w_max",
        "workshop.line_width",
    ),
    "pinion too small for its ring": ("beacon", "ring-and-pinion-go-together", {}, "z_min", GEAR + "pinion_teeth"),
    "pinion too large for its ring": (
        "sunbloom",
        "ring-and-pinion-go-together",
        {GEAR + "pinion_teeth": "55"},
        "z_max",
        GEAR + "pinion_teeth",
    ),
    "ring's teeth too tall": ("beacon", "ring-and-pinion-go-together", {}, "h_max", GEAR + "gear_addendum"),
    "ring's teeth too tall for a pinion put in radially": (
        "sunbloom",
        "ring-and-pinion-go-together",
        {GEAR + "pinion_teeth": "45", GEAR + "assembly": "radial"},
        "h_max",
        GEAR + "gear_addendum",
    ),
    "undercut, teeth": ("gangway", "no-undercut", {GEAR + "pinion_teeth": "11"}, "z_n", GEAR + "pinion_teeth"),
    "undercut, shift": ("gangway", "no-undercut", {GEAR + "pinion_teeth": "11"}, "x_u", GEAR + "pinion_shift"),
    "tip below the involute": (
        "gangway",
        "tips-stay-on-the-flanks",
        {GEAR + "pinion_teeth": "12", GEAR + "roots": "drawn"},
        "h_g",
        GEAR + "gear_addendum",
    ),
    "narrow teeth at stall": (
        "sunbloom",
        "teeth-survive-stall",
        {GEAR + "face_width": "12 mm"},
        "b_min",
        GEAR + "face_width",
    ),
    "narrow roots in service": (
        "sunbloom",
        "teeth-survive-service",
        {GEAR + "face_width": "4 mm"},
        "b_min",
        GEAR + "face_width",
    ),
    "narrow flanks in service": (
        "gangway",
        "flanks-survive-service",
        {GEAR + "face_width": "4 mm"},
        "b_min",
        GEAR + "face_width",
    ),
    "pinion on a short flat": (
        "sunbloom",
        "pinion-grips-its-shaft",
        {GEAR + "pinion_grip.length": "6 mm"},
        "l_min",
        GEAR + "pinion_grip.length",
    ),
    "pinion on a short key": (
        "sunbloom",
        "pinion-grips-its-shaft",
        {GEAR + "pinion_grip.kind": "key", GEAR + "pinion_grip.length": "6 mm"},
        "l_min",
        GEAR + "pinion_grip.length",
    ),
    "pinion on set screws": (
        "gangway",
        "pinion-grips-its-shaft",
        {GEAR + "pinion_grip.kind": "screws"},
        "n_min",
        GEAR + "pinion_grip.screws",
    ),
    "pinion of a soft plastic": (
        "sunbloom",
        "pinion-keeps-its-grip-warm",
        {GEAR + "pinion_grip.lasting_temperature": "35 degC"},
        "ϑ_r",
        GEAR + "pinion_grip.lasting_temperature",
    ),
    "printed pegs": (
        "sunbloom",
        "pegs-carry-the-ring",
        {GEAR + "pegs.made": "printed", GEAR + "pegs.diameter": "3 mm", GEAR + "pegs.count": "3"},
        "n_min",
        GEAR + "pegs.count",
    ),
    "thin axle bends": ("sunbloom", "axle-does-not-bend", {AXLE + "diameter": "8 mm"}, "d_s", AXLE + "diameter"),
    "thin axle tires": ("gangway", "axle-fatigue", {AXLE + "diameter": "9 mm"}, "d_s", AXLE + "diameter"),
    "thin axle leans": (
        "gangway",
        "axle-slope-at-bearings",
        {AXLE + "diameter": "6 mm", AXLE + "overhang": "90 mm"},
        "d_s",
        AXLE + "diameter",
    ),
    "weak gearmotor shaft": (
        "drift",
        "gearmotor-shaft-load",
        {AXLE + "shaft_load_rating": "200 N"},
        "F_s",
        AXLE + "shaft_load_rating",
    ),
    "small bearings wear": (
        "sunbloom",
        "bearings-last",
        {AXLE + "bearing.dynamic_rating": "400 N"},
        "C_r",
        AXLE + "bearing.dynamic_rating",
    ),
    "small bearings are dented": (
        "sunbloom",
        "bearings-static",
        {AXLE + "bearing.static_rating": "400 N"},
        "C_0r",
        AXLE + "bearing.static_rating",
    ),
    "bar of another size": ("sunbloom", "bearing-slides-on", {AXLE + "diameter": "20.5 mm"}, "D_b", AXLE + "diameter"),
    "weak end stop": (
        "gangway",
        "wheel-stays-on-axle",
        {AXLE + "retention.end_stop_force": "20 N", AXLE + "retention.tightening_torque": "0.1 N*m"},
        "F_r",
        AXLE + "retention.end_stop_force",
    ),
    "loose clamp on a turning axle": (
        "gangway",
        "hub-carries-the-torque",
        {AXLE + "retention.kind": "clamp"},
        "T_e",
        AXLE + "retention.tightening_torque",
    ),
    "short hub on its flat": (
        "gangway",
        "hub-carries-the-torque",
        {AXLE + "hub.length": "3 mm"},
        "l_e",
        AXLE + "hub.length",
    ),
    "thin cross pin": (
        "gangway",
        "hub-carries-the-torque",
        {AXLE + "retention.kind": "pin", AXLE + "retention.pin_diameter": "1 mm"},
        "d_e",
        AXLE + "retention.pin_diameter",
    ),
    "hub wears on a short flat": (
        "gangway",
        "hub-does-not-wear",
        {AXLE + "hub.length": "1.5 mm"},
        "l_e",
        AXLE + "hub.length",
    ),
    "tight printed hub": (
        "sunbloom",
        "seats-print-to-size",
        {AXLE + "hub.allowance": "0.1 mm"},
        "a_m",
        AXLE + "hub.allowance",
    ),
    "loose printed seat": (
        "gangway",
        "seats-print-to-size",
        {AXLE + "housing": "printed seat", AXLE + "seat.allowance": "0.6 mm"},
        "a_m",
        AXLE + "seat.allowance",
    ),
}


def found(design: Design, name: str, check: str) -> Finding:
    return {f.check: f for f in assess(resolve(design, example(name))).findings}[check]


@pytest.mark.parametrize("case", REMEDIES)
def test_the_value_that_a_remedy_names_makes_the_check_hold(case: str) -> None:
    name, check, planted, symbol, key = REMEDIES[case]
    weak = with_values(read_design(example(name)), planted)
    before = found(weak, name, check)
    assert state(before) is not State.HOLDS
    assert "{" + symbol + "}" in before.remedy
    value = shown(before, symbol)
    assert value in words.remedy_of(before)
    after = found(with_values(weak, {key: value}), name, check)
    assert float(after.margin) >= after.reserve.fraction - HAIR
    assert float(after.margin) > 0 or after.reserve.fraction == 0


def shown(f: Finding, symbol: str) -> str:
    """The value of a term in the governing case as the remedy shows it, fit for typing."""
    term = next(t for t in unfolded(f.terms, int(f.governing)) if t.symbol == symbol)
    text = words.shown(words.at_case(term, int(f.governing), len(f.cases)), term.unit)
    return re.sub(r" \(.*\)$", "", text)


def unfolded(terms: tuple[Term, ...], case: int) -> list[Term]:
    own = [t for t in terms if t.case in (None, case)]
    return own + [x for t in own if isinstance(t.origin, Workings) for x in unfolded(t.origin.terms, case)]
