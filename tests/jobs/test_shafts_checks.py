"""The checks of shafts on small machines built from records: each once holding, once short for the planted reason."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from dryfit.design.sections.axle import Axle as AxleRecord
from dryfit.design.sections.brief import Brief as BriefRecord
from dryfit.design.sections.wheels import Wheels as WheelsRecord
from dryfit.design.sections.workshop import Workshop as WorkshopRecord
from dryfit.ground.errors import DesignError
from dryfit.ground.findings import Finding, State, Term, state
from dryfit.ground.quantity import Kind, Origin, Quantity
from dryfit.machine.axle import resolve_axle
from dryfit.machine.brief import resolve_brief
from dryfit.machine.ledger import Ledger
from dryfit.machine.wheels import resolve_wheels
from dryfit.machine.workshop import resolve_workshop
from dryfit.trades.shafts.checks import CASES, ShaftsResult, assess_shafts
from dryfit.views.workings import why

OMNI = {"layout": "three omni", "diameter": "203 mm", "circle_radius": "300 mm"}
FOUR = {"layout": "four omni", "diameter": "203 mm"}
TYRES = {"layout": "two driven and casters", "diameter": "150 mm"}

SUNBLOOM: dict[str, Any] = {
    "material": "steel-c45-drawn", "diameter": "20 mm", "tolerance": "h9", "turns": "yes", "arrangement": "overhung",
    "driven_by": "ring on the wheel", "bearing_span": "80 mm", "overhang": "55 mm", "gear_diameter": "120 mm",
    "gear_offset": "32 mm", "gear_angle": "0 deg", "bearing": {"item": "uc204"}, "housing": "pillow block",
    "locating": "one fixed one floating",
    "retention": {
        "kind": "clamp", "screw": "m5", "screws": "2", "tightening_torque": "2.5 N*m", "end_stop": "screw and washer",
    },
    "hub": {"made": "printed", "length": "40 mm", "wall": "12 mm"},
}  # fmt: skip
GANGWAY: dict[str, Any] = {
    "material": "steel-c45-drawn", "diameter": "15 mm", "tolerance": "h9", "turns": "yes", "arrangement": "overhung",
    "driven_by": "gear on the axle", "bearing_span": "70 mm", "overhang": "45 mm", "gear_station": "35 mm",
    "gear_diameter": "96 mm", "gear_angle": "90 deg", "stress_raiser": "flat", "bearing": {"item": "uc202"},
    "housing": "pillow block", "locating": "one fixed one floating",
    "retention": {
        "kind": "flat", "flat_depth": "1.5 mm", "screw": "m5", "screws": "2", "tightening_torque": "1.5 N*m",
        "end_stop": "collar",
    },
    "hub": {"made": "printed", "length": "35 mm", "wall": "10 mm"},
}  # fmt: skip
DRIFT: dict[str, Any] = {
    "arrangement": "on the gearmotor shaft", "driven_by": "motor on the axle", "material": "gearmotor-shaft",
    "diameter": "12 mm", "bearing_span": "24 mm", "overhang": "20 mm", "shaft_load_rating": "600 N",
    "stress_raiser": "flat",
    "retention": {
        "kind": "flat", "flat_depth": "1 mm", "screw": "m5", "screws": "2", "tightening_torque": "4 N*m",
        "end_stop": "screw and washer",
    },
    "hub": {"made": "metal", "length": "20 mm", "wall": "8 mm"},
}  # fmt: skip
BEACON: dict[str, Any] = {
    "material": "steel-c45-drawn", "diameter": "17 mm", "tolerance": "h9", "turns": "yes", "arrangement": "overhung",
    "driven_by": "ring on the wheel", "bearing_span": "70 mm", "overhang": "50 mm", "gear_diameter": "72 mm",
    "gear_offset": "28 mm", "bearing": {"item": "uc203"}, "housing": "pillow block",
    "locating": "one fixed one floating",
    "retention": {
        "kind": "clamp", "screw": "m5", "screws": "2", "tightening_torque": "2.5 N*m", "end_stop": "screw and washer",
    },
    "hub": {"made": "printed", "length": "35 mm", "wall": "10 mm"},
}  # fmt: skip
EXAMPLES = {
    # axle, wheels, mass on the wheels in kg, stall torque at the wheel in N·m
    "sunbloom": (SUNBLOOM, OMNI, 29.4, 7.5),
    "gangway": (GANGWAY, TYRES, 24.6, 4.4),
    "drift": (DRIFT, FOUR, 34.1, 6.0),
    "beacon": (BEACON, OMNI, 24.0, 9.0),
}
TORQUE_SHARES = np.array([0.0, 0.08, 0.37, 0.3, 0.6, 1.0])
SPEEDS = np.array([0.0, 5.0, 2.0, 3.0, 1.0, 0.0])


def handed(symbol: str, value: Any, unit: str) -> Term:
    return Term(symbol, symbol, np.asarray(value, dtype=float), unit, Origin(Kind.RULE, note="handed on"))


def assess(
    axle: Mapping[str, Any] | AxleRecord | None,
    wheels: Mapping[str, Any] = OMNI,
    mass: float = 29.4,
    stall: float = 7.5,
    brief: Mapping[str, str] | None = None,
    workshop: Mapping[str, str] | None = None,
    loads: Any = None,
) -> ShaftsResult:
    ledger = Ledger()
    record = axle if axle is None or isinstance(axle, AxleRecord) else AxleRecord.model_validate(axle)
    shop = resolve_workshop(WorkshopRecord.model_validate(workshop or {}), ledger)
    task = resolve_brief(BriefRecord.model_validate(brief or {}), ledger)
    ring = resolve_wheels(WheelsRecord.model_validate(wheels), ledger)
    bar = resolve_axle(record, ledger, shop)
    ledger.close()
    count = len(ring.names)
    each = np.full((1, count), mass * 9.80665 / count) if loads is None else loads
    return assess_shafts(
        ledger.origins, bar, ring, shop, task,
        wheel_load=handed("F", each, "N"),
        wheel_torque=handed("T", TORQUE_SHARES * stall, "N*m"),
        wheel_speed=handed("w", SPEEDS, "rad/s"),
    )  # fmt: skip


def changed(axle: Mapping[str, Any], **changes: Any) -> dict[str, Any]:
    """A copy of an axle with other values; group__key reaches into a group."""
    new = {k: dict(v) if isinstance(v, dict) else v for k, v in axle.items()}
    for key, value in changes.items():
        group, _, inner = key.partition("__")
        if inner:
            new.setdefault(group, {})[inner] = value
        else:
            new[key] = value
    return new


def check(result: ShaftsResult, name: str) -> Finding:
    return {f.check: f for f in result.findings}[name]


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("step", ["3 mm", "8 mm"])
def test_every_example_holds(name: str, step: str) -> None:
    axle, wheels, mass, stall = EXAMPLES[name]
    result = assess(axle, wheels, mass, stall, {"step": step})
    assert {f.check: state(f).value for f in result.findings if state(f) is not State.HOLDS} == {}


@pytest.mark.parametrize("name", EXAMPLES)
def test_workings_unfold_and_remedies_name_their_terms(name: str) -> None:
    axle, wheels, mass, stall = EXAMPLES[name]
    result = assess(axle, wheels, mass, stall)
    assert len({f.check for f in result.findings}) == len(result.findings)
    for f in result.findings:
        assert why(f, "design.yaml", "").workings
        import string

        named = {field for _, field, _, _ in string.Formatter().parse(f.remedy) if field}
        reachable = {t.symbol for t in f.terms}
        assert named <= reachable, (f.check, named - reachable)


def test_half_a_file_runs() -> None:
    """No axle section at all: the bar is judged on defaults, the hub nobody has drawn is not."""
    result = assess(None)
    names = {f.check for f in result.findings}
    assert "axle-does-not-bend" in names
    assert "hub-carries-the-torque" not in names
    assert all(np.isfinite(f.margin) for f in result.findings)


def test_sunbloom_by_hand() -> None:
    """96.1 N on the wheel, 55 mm overhung: off an edge of 3 mm with 1 mm of give 3.65 times that (by hand)."""
    result = assess(SUNBLOOM)
    load = 29.4 * 9.80665 / 3
    vertical = load * (1 + np.sqrt(1 + 2 * 3 / 1))
    torque = 0.6 * 7.5
    tangential, pull = 2 * torque / 0.120, torque / 0.1015
    separating = tangential * np.tan(np.deg2rad(20))
    # bending at the block beside the wheel: the ring stands 55 - 32 = 23 mm out
    by_hand = np.hypot(vertical * 0.055 + separating * 0.023, pull * 0.055 + tangential * 0.023)
    stress = check(result, "axle-does-not-bend").demand[CASES.index("off an edge")]
    assert stress == pytest.approx(by_hand / (np.pi * 0.02**3 / 32), rel=1e-9)


def test_a_thin_bar_bends() -> None:
    assert state(check(assess(changed(SUNBLOOM, diameter="8 mm")), "axle-does-not-bend")) is State.SHORT


def test_the_remedy_of_a_thin_bar_would_just_do() -> None:
    thin = check(assess(changed(SUNBLOOM, diameter="8 mm")), "axle-does-not-bend")
    just = float(np.max({t.symbol: t.value for t in thin.terms}["d_s"]))
    again = check(assess(changed(SUNBLOOM, diameter=f"{just * 1e3:.9f} mm")), "axle-does-not-bend")
    assert again.reserve.fraction <= float(again.margin) < again.reserve.fraction + 0.02  # shown to three figures


def test_a_turning_bar_with_a_groove_tires_where_a_fixed_one_does_not() -> None:
    turning = changed(SUNBLOOM, diameter="10 mm", stress_raiser="ring groove", bearing__item="6000")
    fixed = changed(turning, turns="no")
    assert state(check(assess(turning), "axle-fatigue")) is State.SHORT
    assert check(assess(fixed), "axle-fatigue").margin > check(assess(turning), "axle-fatigue").margin


def test_a_long_overhang_leans() -> None:
    far = changed(SUNBLOOM, diameter="10 mm", overhang="150 mm", bearing__item="6000")
    assert state(check(assess(far), "axle-slope-at-bearings")) is State.SHORT


def test_small_bearings_wear_out_and_are_dented() -> None:
    weak = changed(SUNBLOOM, bearing={"bore": "20 mm", "dynamic_rating": "0.4 kN", "static_rating": "0.5 kN"})
    result = assess(weak)
    assert state(check(result, "bearings-last")) is State.SHORT
    assert state(check(result, "bearings-static")) is State.SHORT


def test_drawn_bar_is_too_loose_and_a_pressed_class_too_tight() -> None:
    loose = check(assess(changed(SUNBLOOM, tolerance="h10")), "bearing-slides-on")
    assert state(loose) is State.SHORT
    assert loose.cases[int(loose.governing)] == "loosest pair"
    tight = check(assess(changed(SUNBLOOM, tolerance="m6")), "bearing-slides-on")
    assert state(tight) is State.SHORT
    assert tight.cases[int(tight.governing)] == "tightest pair"


def test_a_bar_of_another_size_than_the_bearing() -> None:
    assert state(check(assess(changed(SUNBLOOM, bearing__item="uc205")), "bearing-slides-on")) is State.SHORT


@pytest.mark.parametrize(
    ("locating", "span", "expected"),
    [("one fixed one floating", "80 mm", State.HOLDS), ("both floating", "80 mm", State.SHORT),
     ("both fixed", "80 mm", State.HOLDS), ("both fixed", "400 mm", State.SHORT)],
)  # fmt: skip
def test_locating_pair(locating: str, span: str, expected: State) -> None:
    result = assess(changed(SUNBLOOM, locating=locating, bearing_span=span))
    assert state(check(result, "one-bearing-locates")) is expected


def test_a_clamp_of_tape_lets_the_wheel_walk() -> None:
    bare = changed(GANGWAY, retention__end_stop="none", retention__kind="key")
    assert state(check(assess(bare, TYRES, 24.6, 4.4), "wheel-stays-on-axle")) is State.SHORT


@pytest.mark.parametrize(
    ("kind", "extra", "expected"),
    [("clamp", {"screws": "2", "tightening_torque": "0.5 N*m"}, State.SHORT),
     ("clamp", {"screws": "4", "tightening_torque": "5 N*m"}, State.HOLDS),
     ("set screw", {"screws": "1", "tightening_torque": "1 N*m"}, State.SHORT),
     ("key", {"key_width": "5 mm", "key_height": "5 mm"}, State.HOLDS),
     ("key", {"key_width": "1 mm", "key_height": "0.5 mm"}, State.SHORT),
     ("pin", {"pin_diameter": "4 mm"}, State.HOLDS),
     ("pin", {"pin_diameter": "1 mm"}, State.SHORT)],
)  # fmt: skip
def test_grip_of_every_kind(kind: str, extra: dict[str, str], expected: State) -> None:
    axle = changed(GANGWAY, retention={"kind": kind, "screw": "m5", "end_stop": "collar", **extra})
    assert state(check(assess(axle, TYRES, 24.6, 4.4), "hub-carries-the-torque")) is expected


def test_a_short_printed_hub_on_a_shallow_flat_wears() -> None:
    shallow = changed(GANGWAY, diameter="6 mm", retention__flat_depth="0.3 mm", hub__length="8 mm", bearing__item="608")
    assert state(check(assess(shallow, TYRES, 24.6, 4.4), "hub-does-not-wear")) is State.SHORT


def test_ring_on_the_wheel_leaves_the_hub_without_torque() -> None:
    names = {f.check for f in assess(SUNBLOOM).findings}
    assert not names & {"hub-carries-the-torque", "hub-does-not-wear", "gearmotor-shaft-load"}


def test_gearmotor_shaft_overloaded() -> None:
    result = assess(changed(DRIFT, shaft_load_rating="120 N"), FOUR, 34.1, 6.0)
    assert state(check(result, "gearmotor-shaft-load")) is State.SHORT
    assert "bearings-last" not in {f.check for f in result.findings}


@pytest.mark.parametrize(
    ("allowance", "case"), [("0 mm", "bearing seat, tightest"), ("0.6 mm", "bearing seat, loosest")]
)
def test_printed_seat(allowance: str, case: str) -> None:
    seat = changed(SUNBLOOM, bearing__item="6004", housing="printed seat", seat={"allowance": allowance})
    found = check(assess(seat), "seats-print-to-size")
    assert state(found) is State.SHORT
    assert found.cases[int(found.governing)] == case
    usual = changed(SUNBLOOM, bearing__item="6004", housing="printed seat")
    assert state(check(assess(usual), "seats-print-to-size")) is State.HOLDS


def test_a_measured_printer_changes_the_seat() -> None:
    seat = changed(SUNBLOOM, bearing__item="6004", housing="printed seat", seat={"allowance": "0.2 mm"})
    wide = check(assess(seat, workshop={"hole_offset": "-0.2 mm"}), "seats-print-to-size")
    small = check(assess(seat, workshop={"hole_offset": "-0.6 mm"}), "seats-print-to-size")
    assert small.margin < wide.margin
    assert state(small) is State.SHORT


def test_fixed_axle_carries_no_gear() -> None:
    with pytest.raises(DesignError, match="does not turn"):
        assess(changed(GANGWAY, turns="no"))


def test_fixed_axle_with_bearings_in_the_hub() -> None:
    result = assess(changed(SUNBLOOM, turns="no", bearing__item="6004"))
    assert {"axle-does-not-bend", "bearings-last", "bearings-static"} <= {f.check for f in result.findings}
    assert "hub-carries-the-torque" not in {f.check for f in result.findings}
    assert state(check(result, "wheel-stays-on-axle")) is State.HOLDS
    open_end = assess(changed(SUNBLOOM, turns="no", bearing__item="6004", retention__end_stop="none"))
    assert state(check(open_end, "wheel-stays-on-axle")) is State.SHORT


def test_between_bearings_bends_less_than_overhung() -> None:
    within = changed(SUNBLOOM, arrangement="between bearings", wheel_station="40 mm", gear_offset="10 mm")
    assert check(assess(within), "axle-does-not-bend").margin > check(assess(SUNBLOOM), "axle-does-not-bend").margin


def test_unknown_bearing_offers_the_nearest() -> None:
    with pytest.raises(DesignError, match="uc204"):
        assess(changed(SUNBLOOM, bearing__item="uc240"))


def test_nan_load_is_never_good() -> None:
    result = assess(SUNBLOOM, loads=np.array([[90.0, np.nan, 90.0]]))
    for name in ("axle-does-not-bend", "axle-fatigue", "bearings-last", "bearings-static"):
        assert state(check(result, name)) in (State.SHORT, State.UNKNOWN)


def test_heavier_never_helps() -> None:
    light, heavy = assess(SUNBLOOM, mass=25.0), assess(SUNBLOOM, mass=40.0)
    for f in light.findings:
        assert check(heavy, f.check).margin <= f.margin + 1e-12


def test_turning_the_machine_or_its_wheel_numbers_changes_nothing() -> None:
    one = assess(SUNBLOOM, loads=np.array([[80.0, 95.0, 110.0]]))
    other = assess(SUNBLOOM, loads=np.array([[110.0, 80.0, 95.0]]))
    for f in one.findings:
        np.testing.assert_allclose(check(other, f.check).margin, f.margin)


def test_casters_do_not_load_the_axle() -> None:
    four = {"layout": "two driven and casters", "diameter": "150 mm"}
    light = assess(GANGWAY, four, 24.6, 4.4, loads=np.array([[60.0, 60.0, 10.0, 10.0]]))
    heavy = assess(GANGWAY, four, 24.6, 4.4, loads=np.array([[60.0, 60.0, 500.0, 500.0]]))
    for f in light.findings:
        np.testing.assert_allclose(check(heavy, f.check).margin, f.margin)


BATCHES = {
    "sunbloom": ("diameter", [0.015, 0.020, 0.024], "positive length"),
    "gangway": ("overhang", [0.03, 0.045, 0.09], "length of zero or more"),
    "drift": ("shaft_load_rating", [100.0, 400.0, 700.0], "force"),
    "beacon": ("bearing_span", [0.04, 0.07, 0.2], "positive length"),
}


@pytest.mark.parametrize("name", EXAMPLES)
def test_many_machines_as_one_by_one(name: str) -> None:
    axle, wheels, mass, stall = EXAMPLES[name]
    key, values, dimension = BATCHES[name]
    record = AxleRecord.model_validate(axle)

    def put(value: Any) -> AxleRecord:
        return record.model_copy(update={key: Quantity(value, dimension, Origin(Kind.DESIGN, f"base.axle.{key}"))})

    count = 3 if wheels is not FOUR else 4
    count = 4 if wheels is TYRES else count
    loads = np.random.default_rng(3).uniform(50, 150, (3, 2, count))
    many = assess(put(np.array(values)), wheels, mass, stall, loads=loads)
    single = [assess(put(v), wheels, mass, stall, loads=loads[i]) for i, v in enumerate(values)]
    for f in many.findings:
        for i, one in enumerate(single):
            other = check(one, f.check)
            shape = (3, len(f.cases))
            np.testing.assert_allclose(
                np.broadcast_to(f.demand, shape)[i], np.broadcast_to(other.demand, shape)[0], rtol=1e-12, atol=1e-15
            )
            np.testing.assert_allclose(
                np.broadcast_to(f.capacity, shape)[i], np.broadcast_to(other.capacity, shape)[0], rtol=1e-12
            )


def test_hole_offset_of_many_printers() -> None:
    seat = changed(SUNBLOOM, bearing__item="6004", housing="printed seat", seat={"allowance": "0.2 mm"})
    values = np.array([-0.1e-3, -0.2e-3, -0.5e-3])

    def at(value: Any) -> ShaftsResult:
        ledger = Ledger()
        shop = resolve_workshop(
            WorkshopRecord().model_copy(update={"hole_offset": Quantity(value, "length", Origin(Kind.DESIGN))}), ledger
        )
        bar = resolve_axle(AxleRecord.model_validate(seat), ledger, shop)
        task, ring = resolve_brief(BriefRecord(), ledger), resolve_wheels(WheelsRecord.model_validate(OMNI), ledger)
        return assess_shafts(
            ledger.origins, bar, ring, shop, task,
            wheel_load=handed("F", np.full((1, 3), 96.0), "N"),
            wheel_torque=handed("T", TORQUE_SHARES * 7.5, "N*m"),
            wheel_speed=handed("w", SPEEDS, "rad/s"),
        )  # fmt: skip

    many = check(at(values), "seats-print-to-size")
    for i, value in enumerate(values):
        np.testing.assert_allclose(many.margins[i], check(at(float(value)), "seats-print-to-size").margins, rtol=1e-9)
