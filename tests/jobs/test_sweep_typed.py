"""What may be typed for a sweep, and what is said where it cannot be read."""

from __future__ import annotations

import math

import pytest

from dryfit.ground.errors import DesignError, Fault
from dryfit.jobs.check import example
from dryfit.jobs.sweep import prepare
from dryfit.studies.records_sweep import Axis, AxisKind

SUNBLOOM = example("sunbloom")


def axis(typed: str) -> Axis:
    return prepare(SUNBLOOM, [typed]).plan.axes[0]


def faults(vary: str = "brief.speed=0.4 m/s,0.5 m/s", **more: list[str]) -> tuple[Fault, ...]:
    with pytest.raises(DesignError) as wrong:
        prepare(SUNBLOOM, [vary], **more)  # type: ignore[arg-type]
    return wrong.value.faults


@pytest.mark.parametrize(
    ("typed", "texts"),
    [
        ("base.wheels.circle_radius=250..280 mm:10 mm", ["250 mm", "260 mm", "270 mm", "280 mm"]),
        ("base.wheels.circle_radius=250 mm..280 mm:10mm", ["250 mm", "260 mm", "270 mm", "280 mm"]),
        ("base.wheels.circle_radius=250..275:10 mm", ["250 mm", "260 mm", "270 mm"]),
        ("base.wheels.circle_radius=0.25 m..280 mm:1 cm", ["250 mm", "260 mm", "270 mm", "280 mm"]),
        ("base.wheels.circle_radius=250..250 mm", ["250 mm"]),
        ("base.wheels.circle_radius=0.25 m,260 mm", ["0.25 m", "0.26 m"]),
        ("base.gears[0].pinion_teeth=22..25", ["22", "23", "24", "25"]),
        ("base.gears[0].pinion_teeth=22..27:2", ["22", "24", "26"]),
        ("base.gears[0].pinion_teeth=24,30", ["24", "30"]),
        ("brief.ambient=10..20 degC:5 K", ["10 degC", "15 degC", "20 degC"]),
        ("light.cap=40..60 %:10 %", ["40 %", "50 %", "60 %"]),
        ("base.driver.stops=ramped, shorted", ["ramped", "shorted"]),
        ("power.packs.item=lifepo4-12v8-7ah,lifepo4-12v8-12ah", ["lifepo4-12v8-7ah", "lifepo4-12v8-12ah"]),
        ("base.gears[0].friction=0.05..0.15:0.05", ["0.05", "0.1", "0.15"]),
        ("arms.postures[0].angles.shoulder=-30..30 deg:10 deg", [f"{n} deg" for n in range(-30, 31, 10)]),
        ("arms.postures[0].angles.shoulder=−30..−10 deg:10 deg", ["-30 deg", "-20 deg", "-10 deg"]),
    ],
)  # fmt: skip
def test_values(typed: str, texts: list[str]) -> None:
    found = axis(typed)
    assert [found.text(i) for i in range(found.size)] == texts


def test_values_in_si() -> None:
    """Factors of the units themselves: 1 mm = 0.001 m, 0 degC = 273.15 K, 180 deg = pi."""
    assert axis("base.wheels.circle_radius=250..260 mm:10 mm").si.tolist() == [0.25, 0.26]
    assert axis("brief.ambient=10..20 degC:10 K").si.tolist() == pytest.approx([283.15, 293.15], rel=1e-15)
    assert axis("arms.postures[0].angles.shoulder=-90 deg,0 deg").si.tolist() == pytest.approx([-math.pi / 2, 0])


def test_a_wire_gauge_is_a_size() -> None:
    """AWG 16 is 1.31 mm2, AWG 12 is 3.31 mm2 (tables of wire gauges, from memory)."""
    found = axis("power.branches[0].area=AWG 16,AWG 12")
    assert found.unit == "mm2"
    assert found.numbers.tolist() == pytest.approx([1.31, 3.31], abs=0.005)


def test_a_range_without_a_step_has_21_values_and_both_ends() -> None:
    found = axis("base.wheels.circle_radius=250..350 mm")
    assert (found.size, found.text(0), found.text(20)) == (21, "250 mm", "350 mm")


def test_kinds_and_what_passes_together() -> None:
    kinds = {
        "base.wheels.circle_radius=250..350 mm": (AxisKind.NUMBER, True),
        "base.gears[0].pinion_teeth=22..26": (AxisKind.COUNT, True),
        "power.packs.count=1..4": (AxisKind.COUNT, False),
        "base.driver.stops=ramped,shorted": (AxisKind.WORD, False),
        "base.motor.item=catalogue:gearmotors": (AxisKind.ROW, False),
    }
    for typed, (kind, together) in kinds.items():
        found = axis(typed)
        assert (found.kind, found.together) == (kind, together), typed


@pytest.mark.parametrize(
    ("typed", "key", "message"),
    [
        ("brief.spede=1 m/s", "brief.spede", "did you mean brief.speed"),
        ("base.wheels.circle_radus=1..2 m", "base.wheels.circle_radus", "did you mean base.wheels.circle_radius"),
        ("brief.speed", "brief.speed", "says no place, or no values for it"),
        ("=1 m", "", "says no place"),
        ("brief.speed=0,5 m/s", "brief.speed", "every value of a list carries its unit, and decimals take a point"),
        ("brief.speed=0,4..0,5 m/s", "brief.speed", "decimals take a point"),
        ("brief.speed=0.4..0.5", "brief.speed", "needs its unit"),
        ("brief.speed=0.4..0.5 kg", "brief.speed", "is not a unit of a speed"),
        ("brief.speed=0.5..0.4 m/s", "brief.speed", "the range is empty"),
        ("brief.speed=0.4..0.5 m/s:-0.1 m/s", "brief.speed", "the step must be larger than zero"),
        ("brief.speed=0.4..0.5 m/s:0", "brief.speed", "the step must be larger than zero"),
        ("brief.speed=0.4..0.5 m/s:fast", "brief.speed", "the step cannot be read"),
        ("brief.speed=0.4..0.5 m/s:1 kg", "brief.speed", "the step cannot be read"),
        ("brief.speed=0..1 m/s:0.0000001 m/s", "brief.speed", "too many"),
        ("brief.speed=0.4 m/s ± 5 %,1 m/s", "brief.speed", "stands without ±"),
        ("brief.speed=0.4 m/s,400 mm/s", "brief.speed", "the same value stands there twice"),
        ("base.gears[0].pinion_teeth=22..26:0.5", "base.gears[0].pinion_teeth", "whole number"),
        ("base.gears[0].pinion_teeth=22.5,24", "base.gears[0].pinion_teeth", "not a whole number"),
        ("base.gears[3].pinion_teeth=22..26", "base.gears[3].pinion_teeth", "base.gears[0]"),
        ("base.driver.stops=ramped,short", "base.driver.stops", "did you mean shorted"),
        ("base.motor.item=catalogue:motors", "base.motor.item", "did you mean gearmotors"),
        ("base.motor.item=catalogue:packs", "base.motor.item", "takes no row of the catalogue's packs"),
        ("brief.speed=catalogue:packs", "brief.speed", "takes no row of the catalogue's packs"),
        ("base.motor.item=gearmotor-12v-300rpm", "base.motor.item", "did you mean gearmotor-12v-300rpm-3nm"),
        ("brief[*].speed=1 m/s", "brief[*].speed", "no list with entries"),
    ],
)
def test_what_cannot_be_read(typed: str, key: str, message: str) -> None:
    found = faults(typed)
    assert [(f.file, f.key) for f in found] == [("--vary", key)]
    assert message in found[0].message


@pytest.mark.parametrize(
    ("more", "option", "message"),
    [
        ({"fixed": ["brief.slope=5"]}, "--set", "needs its unit"),
        ({"fixed": ["brief.slope"]}, "--set", "says no place"),
        ({"fixed": ["name="]}, "--set", ""),
        ({"best": ["tops"]}, "--best", "did you mean top-speed"),
        ({"best": ["mass most"]}, "--best", "cannot be read"),
        ({"keep": ["top-speed"]}, "--keep", "is not a check"),
        ({"keep": ["top-speed >= 3 kg"]}, "--keep", "is not a unit of a speed"),
        ({"keep": ["top-speed => 3 m/s"]}, "--keep", "cannot be read"),
        ({"keep": ["tips-when-breaking"]}, "--keep", "did you mean tips-when-braking"),
        ({"keep": ["lasts-the-show-day >= 1 h"]}, "--keep", "is not a unit"),
        ({"show": ["mas"]}, "--show", "did you mean mass"),
    ],
)
def test_what_else_cannot_be_read(more: dict[str, list[str]], option: str, message: str) -> None:
    if more == {"fixed": ["name="]}:
        assert prepare(SUNBLOOM, ["brief.speed=0.4 m/s,0.5 m/s"], fixed=["name="]).plan.fixed == {"name": None}
        return
    found = faults(**more)
    assert found[0].file == option
    assert message in found[0].message


def test_all_faults_come_at_once() -> None:
    found = faults("brief.spede=1 m/s", fixed=["brief.slope=5"], best=["tops"], keep=["top-speed"], show=["mas"])
    assert {f.file for f in found} == {"--vary", "--set", "--best", "--keep", "--show"}


def test_a_place_that_varies_twice() -> None:
    with pytest.raises(DesignError, match="varies twice"):
        prepare(SUNBLOOM, ["brief.speed=0.4..0.5 m/s", "brief.speed=0.4 m/s,1 m/s"])
    with pytest.raises(DesignError, match="nothing varies"):
        prepare(SUNBLOOM, [])


def test_which_end_is_best_where_it_is_not_said() -> None:
    best = ["tips-when-braking", "top-speed", "mass", "stopping-way", "lasts-the-show-day.demand", "brief.speed"]
    plan = prepare(SUNBLOOM, ["brief.speed=0.4..0.5 m/s"], best=best).plan
    assert [g.largest for g in plan.goals] == [True, True, False, False, False, False]
    assert not any(g.said for g in plan.goals)
