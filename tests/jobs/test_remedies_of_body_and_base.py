"""What the remedies of weight, stability and drive name restores the reserve: the value is put into the design, the
machine is assessed again, and the check holds."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np
import pytest

from dryfit.assess.assess import assess
from dryfit.design.read import read_design
from dryfit.design.records import Design
from dryfit.design.values import value_at, with_values
from dryfit.ground.findings import Finding, State, Term, Workings, state
from dryfit.jobs.check import example
from dryfit.machine.machine import resolve

Values = Mapping[str, float | str]


@cache
def design(name: str) -> Design:
    return read_design(example(name))


def found(name: str, check: str, values: Values) -> Finding:
    machine = resolve(with_values(design(name), values), example(name))
    return next(f for f in assess(machine).findings if f.check == check)


def told(f: Finding, symbol: str) -> float:
    """The number that the remedy shows: of the governing case."""
    assert f"{{{symbol}}}" in f.remedy
    term = next(t for t in unfolded(f.terms) if t.symbol == symbol)
    value = np.asarray(term.value, dtype=float)
    return float(value[int(f.governing)] if term.per_case else value)


def unfolded(terms: tuple[Term, ...]) -> list[Term]:
    below = [t for term in terms if isinstance(term.origin, Workings) for t in unfolded(term.origin.terms)]
    return [*terms, *below]


def scaled(name: str, paths: tuple[str, ...], factor: float) -> Values:
    """The values at some paths, all times one factor."""
    out: dict[str, float] = {}
    for path in paths:
        value = value_at(design(name), path)
        assert value is not None
        out[path] = float(value.si) * factor
    return out


STANCE = ("base.wheels.track", "base.wheels.casters.at[0][0]", "base.wheels.casters.at[1][0]")
CIRCLE = "base.wheels.circle_radius"
NARROW: Values = {CIRCLE: "150 mm"}
NEAR: dict[str, float | str] = {"brief.public_distance": "250 mm", "brief.slope": "0.5 deg"}

# example, check, what makes it short or tight, symbol of the remedy's number, where that number is typed
CASES: list[tuple[str, str, Values, str, str]] = [
    ("sunbloom", "fits-the-door", {"brief.door_width": "600 mm"}, "b_max", ""),
    ("sunbloom", "wheel-overloaded", {"base.wheels.load_rating": "9 kg"}, "N_just", "base.wheels.load_rating"),
    ("drift", "every-wheel-on-the-floor", {"body.contact_stiffness": "200 N/mm"}, "k_just", "body.contact_stiffness"),
    ("sunbloom", "tilt-board", NARROW, "R_just", CIRCLE),
    ("sunbloom", "push-by-a-visitor", NARROW, "R_just", CIRCLE),
    ("sunbloom", "push-by-a-visitor", {"brief.push": "50 N"}, "F_ok", "brief.push"),
    ("sunbloom", "tips-when-braking", {"brief.braking": "1.8 m/s2"}, "R_just", CIRCLE),
    ("sunbloom", "tips-when-braking", {"brief.braking": "1.8 m/s2"}, "a_max", "brief.braking"),
    ("sunbloom", "tips-when-turning", {"brief.turn_rate": "300 deg/s"}, "ω_max", "brief.turn_rate"),
    ("sunbloom", "tips-when-turning", {"brief.turn_rate": "300 deg/s"}, "R_just", CIRCLE),
    ("sunbloom", "stands-on-the-slope", {"brief.slope": "14 deg"}, "R_just", CIRCLE),
    ("sunbloom", "stands-on-the-slope", {"brief.slope": "14 deg"}, "a_ok", "brief.braking"),
    ("beacon", "tips-when-hitting-an-edge", {}, "v_max", "brief.speed"),
    ("sunbloom", "steps-over-edges", {"brief.step": "6 mm"}, "h_ok", "brief.step"),
    ("sunbloom", "steps-over-edges", {"brief.step": "6 mm"}, "d_just", "base.wheels.roller_diameter"),
    ("sunbloom", "steps-over-edges", {"brief.joint_width": "25 mm"}, "d_just", "base.wheels.roller_diameter"),
    ("sunbloom", "sways-at-the-top", {"base.wheels.run_out": "2 mm"}, "e_just", "base.wheels.run_out"),
    ("sunbloom", "accelerates-as-asked", {"brief.acceleration": "1.2 m/s2"}, "a_ok", "brief.acceleration"),
    ("sunbloom", "crosses-the-step", {"brief.step": "5 mm"}, "h_ok", "brief.step"),
    ("gangway", "crosses-the-step", {"brief.step": "12 mm"}, "h_ok", "brief.step"),
    ("sunbloom", "stops-before-the-public", {"brief.speed": "0.9 m/s"}, "v_ok", "brief.speed"),
    ("sunbloom", "stops-before-the-public", {"brief.speed": "0.9 m/s"}, "x_just", "brief.public_distance"),
    ("gangway", "stops-before-the-public", {"base.driver.stops": "shorted"} | NEAR, "v_ok", "brief.speed"),
    ("sunbloom", "stops-before-the-public", {"base.driver.stops": "coasting"} | NEAR, "v_ok", "brief.speed"),
    ("sunbloom", "emergency-stop-slides-first", {"brief.speed": "0.7 m/s"}, "v_ok", "brief.speed"),
    ("sunbloom", "emergency-stop-slides-first", {CIRCLE: "240 mm"}, "R_just", CIRCLE),
    ("beacon", "emergency-stop-slides-first", {}, "R_just", CIRCLE),
    ("sunbloom", "reaches-show-speed", {"brief.speed": "1.1 m/s"}, "v_ok", "brief.speed"),
    ("sunbloom", "climbs-the-slope", {"brief.speed": "1.6 m/s"}, "v_ok", "brief.speed"),
    ("sunbloom", "driver-survives-stall", {"base.driver.limit_current": "9 A"}, "I_just", "base.driver.limit_current"),
    ("sunbloom", "driver-carries-the-current", {"base.driver.continuous_current": "3.5 A"}, "I_just",
     "base.driver.continuous_current"),
    ("sunbloom", "driver-stays-cool", {"base.driver.thermal_resistance": "400 K/W"}, "R_just",
     "base.driver.thermal_resistance"),
    ("sunbloom", "motor-housing-and-its-mount", {"base.motor.limits.mount_temperature": "42 degC"}, "T_just",
     "base.motor.limits.mount_temperature"),
    ("sunbloom", "bus-suits-the-driver", {"base.driver.supply_low": "12.8 V"}, "V_low_just", "base.driver.supply_low"),
    ("sunbloom", "bus-suits-the-driver", {"base.driver.supply_high": "13 V"}, "V_high_just", "base.driver.supply_high"),
    ("sunbloom", "pwm-suits-motor-and-driver", {"base.driver.pwm_frequency": "12 kHz"}, "f_least",
     "base.driver.pwm_frequency"),
    ("sunbloom", "pwm-suits-motor-and-driver", {"base.driver.pwm_frequency": "26 kHz"}, "f_most",
     "base.driver.pwm_frequency"),
    ("sunbloom", "runs-below-stall-share", {}, "T_just", "base.motor.stall_torque"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "check", "spoiled", "symbol", "path"), CASES,
                         ids=[f"{c}-{s}-{n}" for n, c, _, s, _ in CASES])  # fmt: skip
def test_the_number_of_the_remedy_restores_the_reserve(
    name: str, check: str, spoiled: Values, symbol: str, path: str
) -> None:
    before = found(name, check, spoiled)
    assert state(before) in (State.SHORT, State.TIGHT)
    value = told(before, symbol)
    if not path:
        # what passes must be no larger than the opening less its clearance: there is no single line to change
        assert value == pytest.approx(float(before.capacity[int(before.governing)]))
        return
    if path == "base.wheels.load_rating":
        value /= 9.80665
    after = found(name, check, {**spoiled, path: value})
    assert state(after) is State.HOLDS
    # and no more than the rounding of the shown figure beyond it, where the number is the exact one
    if symbol not in ("R_just", "v_ok", "ω_max", "T_just", "x_just"):
        assert float(after.margin) == pytest.approx(after.reserve.fraction, abs=0.02)


@pytest.mark.parametrize("check", ["tilt-board", "push-by-a-visitor", "tips-when-braking", "stands-on-the-slope"])
def test_wheels_without_a_circle_are_set_further_out_by_a_share(check: str) -> None:
    spoiled: dict[str, float | str] = {
        "tilt-board": {"brief.limits.tilt": "24 deg"},
        "push-by-a-visitor": {"brief.push": "45 N"},
        "tips-when-braking": {"brief.braking": "3 m/s2"},
        "stands-on-the-slope": {"brief.slope": "20 deg"},
    }[check]  # type: ignore[assignment]
    before = found("gangway", check, spoiled)
    assert state(before) is State.SHORT
    further = told(before, "out")
    after = found("gangway", check, {**spoiled, **scaled("gangway", STANCE, 1 + further)})
    assert state(after) is State.HOLDS
    assert float(after.margin) < after.reserve.fraction + 0.05


def test_the_gear_ratio_of_the_remedy_is_that_of_a_ring_that_restores_the_reserve() -> None:
    """Teeth come whole: the ring that has at least the ratio told holds, the one below it does not."""
    ratio = told(found("sunbloom", "runs-below-stall-share", {}), "i_just")
    more = int(np.ceil(ratio * 24))
    for teeth, enough in ((more, True), (more - 1, False)):
        f = found("sunbloom", "runs-below-stall-share", {"base.gears[0].gear_teeth": str(teeth)})
        assert (state(f) is State.HOLDS) is enough


def test_the_gear_ratio_to_start_with_is_enough() -> None:
    spoiled: Values = {"brief.slope": "9 deg"}
    ratio = told(found("sunbloom", "starts-from-rest", spoiled), "i_just")
    teeth = str(int(np.ceil(ratio * 24)))
    assert state(found("sunbloom", "starts-from-rest", {**spoiled, "base.gears[0].gear_teeth": teeth})) is State.HOLDS


def test_a_section_divided_as_told_can_be_lifted() -> None:
    f = found("sunbloom", "lift-by-one-person", {"brief.limits.lift_mass": "15 kg"})
    assert state(f) is State.SHORT
    assert told(f, "m_lift") == 15
