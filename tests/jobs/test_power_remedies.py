"""Every remedy of supply and controller that names a number: typed into the file as shown, the check then holds."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from dryfit.assess.assess import assess
from dryfit.design.read import read_text
from dryfit.design.records import Design
from dryfit.design.values import with_values
from dryfit.ground.findings import Finding, State, state
from dryfit.machine.machine import resolve
from dryfit.views import words

TEXT = """
name: bench
brief: {speed: 0.5 m/s, acceleration: 0.4 m/s2, slope: 2 deg, hours_per_day: 2 h}
power:
  packs:
    item: lifepo4-12v8-12ah
    count: 2
    capacity: 12 Ah
    max_current: 20 A
    difference_when_joined: 0.2 V
    lead: {area: 4 mm2, length: 250 mm, fuse: 25 A}
  main: {area: 10 mm2, length: 300 mm, fuse: 40 A, fuse_class: bolted, switch_current: 60 A}
  branches:
    - {name: motors, area: 4 mm2, length: 400 mm, fuse: 25 A, feeds: motors}
    - {name: light supply, area: 4 mm2, length: 300 mm, fuse: 15 A, capacitance: 20 mF, fed_back_energy: 0.02 J,
       regulator: {item: step-down-5v-20a, current: 20 A, max_input: 28 V}}
    - {name: strip feed, from: light supply, area: 6 mm2, length: 400 mm, feeds: strip rim}
    - {name: logic, area: 0.75 mm2, length: 300 mm, fuse: 3 A, feeds: logic, regulator: {item: step-down-5v-3a}}
  limits: {usable_share: 70 %}
control:
  item: 8-bit-16mhz-5v
  leakage: 0.001 mA
  driver_inputs: [{name: left, reset_state: floating, pull_down: 4.7 kohm}]
light:
  strips: [{name: rim, item: addressable-5v-60, length: 2.5 m, feeds: both ends}]
"""


def found(design: Design, check: str) -> Finding:
    report = assess(resolve(design, Path("design.yaml")))
    return next(f for f in report.findings if f.check == check)


def shown(f: Finding, symbol: str) -> str:
    """The value of a symbol as the remedy shows it, fit to be typed."""
    pattern = re.escape(f.remedy).replace(re.escape("{" + symbol + "}"), "(?P<value>[^,;]+?)", 1)
    match = re.fullmatch(re.sub(r"\\{[^{}]+\\}", ".+?", pattern), words.remedy_of(f))
    assert match is not None
    return match["value"].replace("²", "2").replace("Ω", "ohm")


B = "power.branches"
CASES: list[tuple[str, str, dict[str, str], str, str]] = [
    # check, case, what makes it short, symbol of the remedy, key that takes its value
    ("wire-carries-load", "strip feed", {f"{B}[2].area": "0.34 mm2"}, "A_fit", f"{B}[2].area"),
    ("wire-carries-load", "light supply", {f"{B}[1].area": "0.1 mm2"}, "A_fit", f"{B}[1].area"),
    ("fuse-protects-wire", "logic", {f"{B}[3].fuse": "30 A"}, "I_fit", f"{B}[3].fuse"),
    ("fuse-protects-wire", "logic", {f"{B}[3].fuse": "30 A"}, "A_fit", f"{B}[3].area"),
    ("fuse-protects-wire", "motors", {f"{B}[0].area": "1.2 mm2"}, "I_fit", f"{B}[0].fuse"),
    ("fuse-protects-wire", "strip feed", {f"{B}[2].area": "2.5 mm2"}, "A_fit", f"{B}[2].area"),
    ("fuse-carries-load", "light supply", {f"{B}[1].fuse": "3 A"}, "I_fit", f"{B}[1].fuse"),
    ("fuse-outlasts-peaks", "light supply", {f"{B}[1].fuse": "2 A"}, "I_fit", f"{B}[1].fuse"),
    ("connector-carries-load", "main switch", {"power.main.switch_current": "6 A"}, "I_need",
     "power.main.switch_current"),
    ("packs-give-the-current", "", {"power.packs.max_current": "2 A"}, "I_need", "power.packs.max_current"),
    ("packs-can-be-joined", "", {"power.packs.difference_when_joined": "3 V"}, "dU_max",
     "power.packs.difference_when_joined"),
    ("lasts-the-show-day", "", {"brief.hours_per_day": "30 h"}, "C_need", "power.packs.capacity"),
    ("lasts-the-show-day", "", {"power.packs.capacity": "900 mAh"}, "C_need", "power.packs.capacity"),
    ("rail-feeds-its-load", "light supply", {f"{B}[1].regulator.current": "5 A"}, "I_need",
     f"{B}[1].regulator.current"),
    ("regulator-bears-its-input", "light supply", {f"{B}[1].regulator.max_input": "12 V"}, "U_need",
     f"{B}[1].regulator.max_input"),
    ("back-fed-energy", "light supply", {f"{B}[1].fed_back_energy": "2 J"}, "C_need", f"{B}[1].capacitance"),
    ("voltage-reaches-the-strip", "rim, lowest", {f"{B}[2].length": "4 m", f"{B}[2].area": "1 mm2"}, "A_fit",
     f"{B}[2].area"),
    ("pull-downs-are-firm", "left", {"control.driver_inputs[0].pull_down": "2000 kohm"}, "R_max",
     "control.driver_inputs[0].pull_down"),
]  # fmt: skip


@pytest.mark.parametrize(("check", "case", "bad", "symbol", "key"), CASES, ids=[f"{c[0]}: {c[4]}" for c in CASES])
def test_the_number_named_would_do(check: str, case: str, bad: dict[str, str], symbol: str, key: str) -> None:
    spoiled = with_values(read_text(TEXT), bad)
    before = found(spoiled, check)
    assert state(before) is State.SHORT
    assert before.cases[int(before.governing)] == case
    after = found(with_values(spoiled, {key: shown(before, symbol)}), check)
    at = after.cases.index(case)
    # Three figures are shown: up to half a percent of them is lost.
    assert after.margins[at] >= after.reserve.fraction - 0.005


def test_the_power_named_is_what_the_supply_carries_with_its_reserve() -> None:
    before = found(with_values(read_text(TEXT), {"power.packs.resistance": "500 mohm"}), "supply-does-not-collapse")
    case = int(before.governing)
    most = float(re.search(r"no more than ([\d.]+) W", words.remedy_of(before))[1])  # type: ignore[index]
    assert most == pytest.approx(0.8 * before.capacity[case], rel=0.005)
    # The limit is a share of each load alike, so that drawing this much leaves a fifth of it.
    assert before.capacity[case] - most >= 0.195 * before.capacity[case]


def test_sound_before_it_is_spoiled() -> None:
    design = read_text(TEXT)
    for check in dict.fromkeys(c[0] for c in CASES):
        f = found(design, check)
        assert state(f) is State.HOLDS, (check, f.margins)
        assert np.isfinite(f.demand).all()
