"""Checks of supply and controller on small machines: each once holding and once short for the planted reason."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from dryfit.design.sections.arms import Arms as ArmsRecord
from dryfit.design.sections.brief import Brief as BriefRecord
from dryfit.design.sections.control import Control as ControlRecord
from dryfit.design.sections.light import Light as LightRecord
from dryfit.design.sections.power import Power as PowerRecord
from dryfit.ground.findings import Finding, State, Term, is_short, origins, state
from dryfit.ground.quantity import Array, Kind, Origin, Quantity
from dryfit.machine.arms import resolve_arms
from dryfit.machine.brief import resolve_brief
from dryfit.machine.control import resolve_control
from dryfit.machine.ledger import Ledger
from dryfit.machine.light import resolve_light
from dryfit.machine.power import resolve_power
from dryfit.trades.power.checks import CASES, LABELS, PowerResult, assess_power, source_at_drivers

POWER: dict[str, Any] = {
    "packs": {"item": "lifepo4-12v8-12ah", "count": "2", "lead": {"area": "4 mm2", "length": "250 mm", "fuse": "25 A"}},
    "main": {"area": "10 mm2", "length": "300 mm", "fuse": "40 A", "fuse_class": "bolted"},
    "branches": [
        {"name": "motors", "area": "4 mm2", "length": "400 mm", "fuse": "25 A", "feeds": "motors",
         "connector": "power-pair-45"},
        {"name": "light supply", "area": "2.5 mm2", "length": "300 mm", "fuse": "10 A",
         "regulator": {"item": "step-down-5v-10a"}},
        {"name": "strip feed", "from": "light supply", "area": "6 mm2", "length": "400 mm", "feeds": "strips"},
        {"name": "logic", "area": "0.75 mm2", "length": "300 mm", "fuse": "3 A", "feeds": "logic",
         "regulator": {"item": "step-down-5v-3a"}},
    ],
}  # fmt: skip
CONTROL: dict[str, Any] = {
    "item": "8-bit-16mhz-5v",
    "functions": [
        {"name": "left", "pin": "5", "needs": "pwm"},
        {"name": "right", "pin": "6", "needs": "pwm"},
        {"name": "radio", "pin": "0", "needs": "serial"},
    ],
    "driver_inputs": [{"name": "left driver", "pull_down": "4.7 kohm"}],
}
LIGHT: dict[str, Any] = {"strips": [{"name": "rim", "item": "addressable-5v-60", "length": "1 m", "feeds": "one end"}]}
WATTS = (1.0, 10.0, 35.0, 30.0, 30.0, 120.0)


def term(value: Any, unit: str) -> Term:
    return Term("x", "handed", np.asarray(value, dtype=float), unit, Origin(Kind.RULE))


def merged(base: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """A copy with dotted keys replaced: "branches.1.fuse"."""
    out = copy.deepcopy(base)
    for key, value in changes.items():
        *way, last = key.split(".")
        at: Any = out
        for word in way:
            at = at[int(word)] if isinstance(at, list) else at.setdefault(word, {})
        key_or_index: Any = int(last) if isinstance(at, list) else last
        if value is None:
            del at[key_or_index]
        else:
            at[key_or_index] = value
    return out


def run(
    power: dict[str, Any] | None = None, control: dict[str, Any] | None = None, light: dict[str, Any] | None = None,
    watts: Any = WATTS, motors: int = 2, hold: float = 0.0, moving: float = 0.0, stall: float = 0.0,
    servos: bool = False, strip: Array | None = None, **brief: str,
) -> tuple[PowerResult, Ledger]:  # fmt: skip
    ledger = Ledger()
    lamps = resolve_light(LightRecord.model_validate(LIGHT if light is None else light), ledger)
    record = PowerRecord.model_validate(merged(POWER, power or {}))
    supply = resolve_power(record, ledger, strip_names=lamps.strips, has_servos=servos)
    board = resolve_control(ControlRecord.model_validate(merged(CONTROL, control or {})), ledger)
    ledger.close()
    load = np.zeros((2, len(lamps.strips)))
    load[:] = 3.0 if strip is None else strip
    return (
        assess_power(
            ledger.origins, supply, board, resolve_brief(BriefRecord.model_validate(brief), ledger), lamps,
            resolve_arms(ArmsRecord(), ledger), driver_power=term([[w] * motors for w in watts], "W"),
            strip_current=term(load, "A"), hold_current=term([hold], "A"), moving_current=term(moving, "A"),
            stall_current=term(stall, "A"),
        ),
        ledger,
    )  # fmt: skip


def the(result: PowerResult, check: str) -> Finding:
    return next(f for f in result.findings if f.check == check)


def test_the_sound_machine_has_nothing_short() -> None:
    result, _ = run()
    assert [f.check for f in result.findings if state(f) in (State.SHORT, State.UNKNOWN)] == []
    checks = [f.check for f in result.findings]
    assert len(checks) == len(set(checks))


SHORT: list[tuple[str, str, dict[str, Any]]] = [
    ("wire-carries-load", "motors", {"power": {"branches.0.area": "0.5 mm2", "branches.0.fuse": "7.5 A"},
                                     "watts": (1, 60, 80, 80, 80, 120)}),
    ("fuse-protects-wire", "logic", {"power": {"branches.3.fuse": "30 A"}}),
    ("fuse-carries-load", "motors", {"power": {"branches.0.fuse": "3 A"}}),
    ("fuse-outlasts-peaks", "motors", {"power": {"branches.0.fuse": "10 A"}}),
    ("fuse-can-interrupt", "motors", {"power": {"packs.resistance": "8 mohm", "packs.lead.area": "16 mm2"}}),
    ("connector-carries-load", "motors", {"power": {"branches.0.connector": "pin-2.54"}}),
    ("connector-carries-load", "main switch", {"power": {"main.switch_current": "6 A"}}),
    ("packs-give-the-current", "", {"power": {"packs.max_current": "2 A"}}),
    ("packs-share", "", {"power": {"packs.lead_lengths": ["100 mm", "6 m"], "packs.lead.area": "1.0 mm2"}}),
    ("packs-can-be-joined", "", {"power": {"packs.difference_when_joined": "1.7 V"}}),
    ("rail-feeds-its-load", "light supply", {"strip": np.full((2, 1), 8.0)}),
    ("regulator-has-headroom", "logic", {"power": {"branches.3.regulator.min_input": "12.9 V"}}),
    ("regulator-bears-its-input", "logic", {"power": {"branches.3.regulator.max_input": "12 V"}}),
    ("voltage-reaches-the-strip", "rim, lowest", {"power": {"branches.2.length": "4 m", "branches.2.area": "1 mm2"}}),
    ("voltage-reaches-the-strip", "rim, highest", {"power": {"branches.1.regulator.output": "7 V"}}),
    ("voltage-reaches-the-load", "logic, lowest", {"control": {"supply_voltage": "5.8 V"}}),
    ("logic-survives-motor-start", "logic", {"power": {"packs.resistance": "0.15 ohm",
                                                       "branches.3.regulator.dropout": "6 V"},
                                             "watts": (1, 10, 110, 30, 30, 80)}),
    ("ground-lift-on-signals", "motor PWM", {"power": {"branches.3.returns_with": "strip feed",
                                                       "branches.2.length": "6 m", "branches.2.area": "0.75 mm2"}}),
    ("back-fed-energy", "light supply", {"power": {"branches.1.fed_back_energy": "2 J",
                                                   "branches.1.capacitance": "1000 uF"}}),
    ("lasts-the-show-day", "", {"hours_per_day": "30 h"}),
    ("packs-stay-above-cut-off", "", {"power": {"packs.cut_off": "13 V"}}),
    ("supply-does-not-collapse", "start of all motors, end of the day", {"watts": (1, 10, 900, 30, 30, 120)}),
    ("pins-are-enough", "pin 5", {"control": {"functions.1.pin": "5"}}),
    ("pins-can-do-their-job", "left", {"control": {"functions.0.pin": "4"}}),
    ("timers-do-not-clash", "timer T1", {"control": {"functions.0.pin": "9",
                                                     "functions.2": {"name": "head", "pin": "7",
                                                                     "needs": "servo pulses"}}}),
    ("pins-carry-their-current", "left", {"control": {"functions.0.current": "35 mA"}}),
    ("strip-leaves-time-for-receiver", "", {"control": {"functions.1": {"name": "r", "pin": "2", "needs": "receiver"},
                                                        "functions.2": {"name": "s", "pin": "8",
                                                                        "needs": "strip data"}}}),
    ("drivers-off-at-power-up", "left driver", {"control": {"driver_inputs.0.pull_down": None}}),
    ("pull-downs-are-firm", "left driver", {"control": {"driver_inputs.0.pull_down": "2000 kohm"}}),
]  # fmt: skip


@pytest.mark.parametrize(("check", "case", "changes"), SHORT, ids=[f"{c}: {k}" for c, k, _ in SHORT])
def test_short_for_the_planted_reason(check: str, case: str, changes: dict[str, Any]) -> None:
    result, _ = run(**changes)
    found = the(result, check)
    assert state(found) is State.SHORT
    assert found.cases[int(found.governing)] == case


def test_servo_rail() -> None:
    rail = {
        "name": "arm rail", "area": "4 mm2", "length": "300 mm", "fuse": "20 A", "feeds": "servos",
        "regulator": {"item": "step-down-6v-20a"},
    }  # fmt: skip
    changes = {"branches": [*POWER["branches"], rail]}
    held, _ = run(power=changes, hold=6.0, moving=9.0, stall=15.0, servos=True)
    assert state(the(held, "servo-rail-holds-stall")) is State.HOLDS
    late, _ = run(power=changes, hold=6.0, moving=9.0, stall=30.0, servos=True)
    assert state(the(late, "servo-rail-holds-stall")) is State.SHORT
    staggered, _ = run(
        power={**changes, "limits": {"servo_stall_share": "50 %"}}, hold=6.0, moving=9.0, stall=30.0, servos=True
    )
    assert state(the(staggered, "servo-rail-holds-stall")) is State.HOLDS


def test_collapse_is_said_plainly_and_nothing_passes_on_it() -> None:
    result, _ = run(watts=(1, 10, 900, 30, 30, 120))
    collapse = the(result, "supply-does-not-collapse")
    at = LABELS.index("start of all motors, end of the day")
    assert np.isnan(result.bus_voltage.value[at])
    assert collapse.demand[at] > collapse.capacity[at] > 0
    assert "collapses" in collapse.formula
    assert is_short(the(result, "regulator-has-headroom")).all()


def test_hold_up_carries_the_logic_over_the_dip() -> None:
    changes = {"packs.resistance": "0.15 ohm", "branches.3.regulator.dropout": "6 V"}
    watts = (1, 10, 110, 30, 30, 80)
    bare, _ = run(power=changes, watts=watts)
    held, _ = run(power={**changes, "branches.3.hold_up": {"capacitance": "4700 uF", "diode": "0.3 V"}}, watts=watts)
    assert state(the(bare, "logic-survives-motor-start")) is State.SHORT
    assert state(the(held, "logic-survives-motor-start")) is State.HOLDS
    small, _ = run(power={**changes, "branches.3.hold_up": {"capacitance": "1 uF", "diode": "0.3 V"}}, watts=watts)
    assert state(the(small, "logic-survives-motor-start")) is State.SHORT


def test_energy_fed_back_without_a_capacitance_is_unknown_and_names_the_line() -> None:
    result, _ = run(power={"branches.1.fed_back_energy": "0.1 J"})
    found = the(result, "back-fed-energy")
    assert state(found) is State.UNKNOWN
    assert [o.path for o in found.missing] == ["power.branches[1].capacitance"]


def test_energy_fed_back_to_the_bus_is_taken_by_the_packs() -> None:
    result, _ = run(power={"branches.0.fed_back_energy": "5 J", "branches.0.capacitance": "1 uF"})
    assert "back-fed-energy" not in {f.check for f in result.findings}


def test_the_diode_before_a_regulator_takes_its_volts_from_the_input() -> None:
    watts = (0.0,) * 6
    bare, _ = run(watts=watts)
    diode, _ = run(watts=watts, power={"branches.3.hold_up": {"capacitance": "1 uF", "diode": "0.4 V"}})
    a, b = (the(r, "regulator-has-headroom") for r in (bare, diode))
    at = a.cases.index("logic")
    assert float(a.capacity[at] - b.capacity[at]) == pytest.approx(0.4, abs=1e-9)


def test_hold_up_counts_for_the_headroom_in_short_cases_only() -> None:
    changes = {"packs.resistance": "0.15 ohm", "branches.3.regulator.min_input": "10.8 V"}
    watts, hold = (1, 10, 110, 30, 30, 80), {"branches.3.hold_up": {"capacitance": "4700 uF", "diode": "0.3 V"}}
    bare, _ = run(power=changes, watts=watts)
    held, _ = run(power={**changes, **hold}, watts=watts)
    lasting, _ = run(power={**changes, **hold}, watts=(1, 110, 110, 110, 30, 80))
    at = the(bare, "regulator-has-headroom").cases.index("logic")
    margins = [the(r, "regulator-has-headroom").margins[at] for r in (bare, held, lasting)]
    assert margins[0] < 0 < margins[1]
    assert margins[2] < 0


def test_each_rail_carries_the_stall_of_its_own_servos() -> None:
    rails = [
        {"name": f"rail {n}", "area": "4 mm2", "length": "300 mm", "fuse": "20 A",
         "regulator": {"item": "step-down-6v-20a"}} for n in (1, 2)
    ]  # fmt: skip
    feeds = [{"name": f"feed {n}", "from": f"rail {min(n, 2)}", "area": "4 mm2", "length": "300 mm",
              "feeds": "servos"} for n in (1, 2, 3)]  # fmt: skip
    result, _ = run(power={"branches": [*POWER["branches"], *rails, *feeds]}, hold=3.0, moving=6.0, stall=30.0,
                    servos=True)  # fmt: skip
    found = the(result, "servo-rail-holds-stall")
    assert found.cases == ("rail 1", "rail 2")
    assert found.demand == pytest.approx([10.0, 20.0])


def test_no_fuse_at_all_is_unknown_and_names_the_line() -> None:
    result, _ = run(power={"main.fuse": None, "packs.lead.fuse": None, "branches.0.fuse": None})
    found = the(result, "fuse-protects-wire")
    assert state(found) is State.UNKNOWN
    assert [o.path for o in found.missing] == ["power.main.fuse"]


def test_an_empty_file_runs_on_listed_defaults() -> None:
    ledger = Ledger()
    lamps = resolve_light(None, ledger)
    supply = resolve_power(None, ledger)
    result = assess_power(
        ledger.origins, supply, resolve_control(None, ledger), resolve_brief(BriefRecord(), ledger), lamps,
        resolve_arms(ArmsRecord(), ledger), driver_power=term([[w] * 2 for w in WATTS], "W"),
        strip_current=term(np.zeros((1, 0)), "A"), hold_current=term([0.0], "A"), moving_current=term(0.0, "A"),
        stall_current=term(0.0, "A"),
    )  # fmt: skip
    ledger.close()
    assert state(the(result, "fuse-protects-wire")) is State.UNKNOWN
    assert [f.check for f in result.findings if state(f) is State.SHORT] == []
    assert ledger.origins["power.packs.capacity"].kind is Kind.DEFAULT
    assert ledger.origins["power.branches.motors (implied).area"].kind is Kind.DEFAULT


def test_the_lines_typed_are_in_the_workings() -> None:
    result, _ = run(power={"branches.3.fuse": "30 A"})
    texts = {o.text for o in origins(the(result, "fuse-protects-wire").terms)}
    assert {"30 A", "0.75 mm2"} <= texts
    assert "4.7 kohm" in {o.text for o in origins(the(result, "pull-downs-are-firm").terms)}


def test_source_at_the_drivers_is_what_the_network_sees() -> None:
    ledger = Ledger()
    supply = resolve_power(PowerRecord.model_validate(POWER), ledger)
    emf, resistance = source_at_drivers(ledger.origins, supply)
    assert np.shape(emf.value) == np.shape(resistance.value) == (2,)
    result, _ = run(watts=(0.0,) * 6, strip=np.zeros((2, 1)), control={"current": "0 A", "extra_current": "0 A"})
    # Nothing but the regulators' idle current flows.
    assert result.bus_voltage.value[1] == pytest.approx(float(emf.value[0]), abs=0.003)
    loaded, _ = run(watts=(0, 50, 0, 0, 0, 0), motors=1, strip=np.zeros((2, 1)))
    at = LABELS.index("cruise, full")
    volts, current = loaded.node_voltage.value[0, at], loaded.branch_current.value[0, at]
    assert float(emf.value[0]) - float(resistance.value[0]) * current == pytest.approx(volts, abs=0.01)


def test_brightest_scene_counts_and_the_mean_is_weighted() -> None:
    result, _ = run(strip=np.array([[1.0], [6.0]]))
    at = LABELS.index("full white, full")
    feed = result.branches.index("strip feed")
    assert result.branch_current.value[feed, at] == pytest.approx(6.0)
    assert len(LABELS) == 2 * len(CASES)


def test_two_shared_feeds_halve_the_current() -> None:
    second = {"name": "second feed", "from": "light supply", "area": "6 mm2", "length": "400 mm"}
    feeds = [merged({"branches": POWER["branches"]}, {})["branches"], second]
    branches = [*feeds[0], second]
    branches[2] = {**branches[2], "feeds": "strip rim", "shared": "yes"}
    branches[4] = {**second, "feeds": "strip rim", "shared": "yes"}
    result, _ = run(power={"branches": branches}, strip=np.full((2, 1), 6.0))
    at = LABELS.index("full white, full")
    assert result.branch_current.value[[2, 4], at] == pytest.approx([3.0, 3.0])
    assert np.shape(result.feed_voltage.value) == (1,)


def test_arrays_equal_the_loop_of_single_ones() -> None:
    ledger = Ledger()
    lamps, arms = resolve_light(LightRecord.model_validate(LIGHT), ledger), resolve_arms(ArmsRecord(), ledger)
    brief = resolve_brief(BriefRecord(), ledger)
    board = resolve_control(ControlRecord.model_validate(CONTROL), ledger)
    record = PowerRecord.model_validate(merged(POWER, {"branches.3.returns_with": "strip feed"}))
    lengths, resistances = np.array([0.2, 0.7, 1.6, 4.0]), np.array([0.03, 0.06, 0.02, 0.05])

    def quantity(value: Any, dimension: str) -> Quantity:
        return Quantity(value, dimension, Origin(Kind.DESIGN))

    def judged(length: Any, resistance: Any, watts: Array) -> PowerResult:
        branch = record.branches[2].model_copy(update={"length": quantity(length, "length")})  # type: ignore[index]
        branches = [b if n != 2 else branch for n, b in enumerate(record.branches or [])]
        packs = record.packs.model_copy(update={"resistance": quantity(resistance, "resistance")})
        changed = record.model_copy(update={"branches": branches, "packs": packs})
        supply = resolve_power(changed, ledger, strip_names=lamps.strips)
        return assess_power(
            ledger.origins, supply, board, brief, lamps, arms, driver_power=term(watts, "W"),
            strip_current=term(np.full((2, 1), 5.0), "A"), hold_current=term([0.0], "A"),
            moving_current=term(0.0, "A"), stall_current=term(0.0, "A"),
        )  # fmt: skip

    watts = np.array([[[w * k] * 2 for w in WATTS] for k in (1.0, 2.0, 3.0, 0.5)])
    many = judged(lengths, resistances, watts)
    for n in range(4):
        one = judged(float(lengths[n]), float(resistances[n]), watts[n])
        for a, b in zip(many.findings, one.findings, strict=True):
            assert a.check == b.check
            d = np.broadcast_to(a.margins, np.broadcast_shapes(a.margins.shape, (4, len(a.cases))))
            assert d[n] == pytest.approx(b.margins, rel=1e-12, abs=1e-12)
        assert many.feed_voltage.value[n] == pytest.approx(one.feed_voltage.value, rel=1e-12)
        assert many.node_voltage.value[n] == pytest.approx(one.node_voltage.value, rel=1e-12)


FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"branches.2.from": "light suply"}, "did you mean light supply"),
    ({"branches.1.from": "strip feed"}, "the branches run in a loop"),
    ({"branches.1.regulator.output": "15 V"}, "a rail above its source"),
    ({"branches.2.regulator": {"output": "6 V"}}, "a rail above its source"),
    ({"branches.3.feeds": "strips"}, "is fed by strip feed already"),
    ({"branches.2.feeds": "strip rin"}, "did you mean rim"),
    ({"branches.0.feeds": "motor"}, "did you mean motors"),
    ({"branches.3.name": "motors"}, "two branches share a name"),
    ({"packs.count": "0"}, "at least one pack"),
    ({"packs.lead_lengths": ["1 m"]}, "1 lengths for 2 packs"),
    ({"packs.item": "lifepo4-12v8-11ah"}, "did you mean"),
    ({"branches.1.regulator.item": "step-down-5v-10"}, "did you mean"),
    ({"branches.3.returns_with": "strips feed"}, "did you mean strip feed"),
    ({"packs.peukert": "12"}, "no battery has such an exponent"),
    ({"branches.1.regulator.efficiency": "0 %"}, "a regulator that passes nothing on"),
]


@pytest.mark.parametrize(("changes", "words"), FAULTS, ids=[w for _, w in FAULTS])
def test_faults_across_keys_are_reported_together(changes: dict[str, Any], words: str) -> None:
    ledger = Ledger()
    resolve_power(PowerRecord.model_validate(merged(POWER, changes)), ledger, strip_names=("rim",))
    assert any(words in str(fault) for fault in ledger.faults), ledger.faults


def test_a_step_up_rail_may_lie_above_its_source() -> None:
    ledger = Ledger()
    changes = {"branches.2.regulator": {"output": "12 V", "type": "step-up", "current": "5 A", "min_input": "3 V"}}
    resolve_power(PowerRecord.model_validate(merged(POWER, changes)), ledger, strip_names=("rim",))
    assert not ledger.faults


def test_unknown_pin_names_the_nearest() -> None:
    ledger = Ledger()
    resolve_control(ControlRecord.model_validate(merged(CONTROL, {"functions.0.pin": "A9"})), ledger)
    assert "no pin A9" in str(ledger.faults[0])


def test_unreadable_pin_map_is_a_fault() -> None:
    ledger = Ledger()
    resolve_control(ControlRecord.model_validate({**CONTROL, "pwm_pins": ["5", "6:T0"]}), ledger)
    assert "not a pin with its timer" in str(ledger.faults[0])


def test_two_frequencies_on_one_timer_clash() -> None:
    two = {"functions.0.frequency": "20 kHz", "functions.1.frequency": "1 kHz"}
    assert state(the(run(control=two)[0], "timers-do-not-clash")) is State.SHORT
    one = {"functions.0.frequency": "20 kHz", "functions.1.frequency": "20 kHz"}
    assert state(the(run(control=one)[0], "timers-do-not-clash")) is State.HOLDS


def test_a_missing_number_never_passes() -> None:
    result, _ = run()
    ledger = Ledger()
    supply = resolve_power(PowerRecord.model_validate(POWER), ledger, strip_names=("rim",))
    lamps, arms = resolve_light(LightRecord.model_validate(LIGHT), ledger), resolve_arms(ArmsRecord(), ledger)
    broken = replace(supply, packs=replace(supply.packs, resistance=np.nan))
    judged = assess_power(
        ledger.origins, broken, resolve_control(ControlRecord.model_validate(CONTROL), ledger),
        resolve_brief(BriefRecord(), ledger), lamps, arms, driver_power=term([[w] * 2 for w in WATTS], "W"),
        strip_current=term(np.full((2, 1), 3.0), "A"), hold_current=term([0.0], "A"), moving_current=term(0.0, "A"),
        stall_current=term(0.0, "A"),
    )  # fmt: skip
    electrical = {
        "supply-does-not-collapse", "wire-carries-load", "fuse-carries-load", "fuse-can-interrupt", "packs-share",
        "packs-can-be-joined", "lasts-the-show-day", "regulator-has-headroom", "voltage-reaches-the-strip",
        "logic-survives-motor-start", "ground-lift-on-signals", "connector-carries-load",
    }  # fmt: skip
    assert all(is_short(f).all() for f in judged.findings if f.check in electrical)
    assert electrical <= {f.check for f in result.findings}
