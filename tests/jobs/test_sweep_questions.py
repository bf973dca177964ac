"""The questions of docs/sweeping.md: every command is run as it stands there, every answer in bold is looked for in
what it prints, and the answers are held against closed forms and single checks."""

from __future__ import annotations

import json
import math
import re
import shlex
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from dryfit.assess.assess import assess
from dryfit.assess.report import Report
from dryfit.cli.main import app
from dryfit.jobs.check import check, example
from dryfit.jobs.variants import Variants

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "sweeping.md").read_text(encoding="utf-8")
SECTIONS = {int(number): body for number, body in re.findall(r"^## (\d+)\. (.*?)(?=^## |\Z)", PAGE, flags=re.M | re.S)}
SUNBLOOM = example("sunbloom")
GRAVITY = 9.80665


def commands(number: int) -> list[str]:
    return re.findall(r"^```sh\ndryfit (.*?)\n```", SECTIONS[number], flags=re.M | re.S)


@cache
def run(command: str, *more: str) -> tuple[int, str]:
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(ROOT)
        result = CliRunner().invoke(app, [*shlex.split(command), *more], env={"COLUMNS": "100"})
    return result.exit_code, result.stdout


def answer(number: int, place: int) -> Any:
    return json.loads(run(commands(number)[place], "--json")[1])


def table(number: int, place: int) -> list[dict[str, Any]]:
    return answer(number, place)["table"]  # type: ignore[no-any-return]


def single(told: dict[str, Any], told_of: dict[str, Any]) -> Report:
    """The report of one machine of a table, put together by itself from what its page says to type."""
    values: dict[str, Any] = dict(told_of["fixed"])
    for axis in told_of["axes"]:
        new = told["settings"][axis["path"]]
        if new != {"base.motor.item": "gearmotor-12v-300rpm-3nm"}.get(axis["path"]):
            values |= dict.fromkeys(axis["left_out"])
        paths = [axis["path"].replace("[*]", f"[{i}]") for i in range(4)] if "[*]" in axis["path"] else [axis["path"]]
        values |= dict.fromkeys(paths, new)
    return assess(Variants(SUNBLOOM.read_text(encoding="utf-8"), SUNBLOOM)(values))


def test_the_page_has_the_questions_that_are_sweeps() -> None:
    assert list(SECTIONS) == [1, 2, 3, 4, 5, 9, 10]
    assert all(commands(n) for n in SECTIONS)


@pytest.mark.parametrize("number", SECTIONS)
def test_every_answer_in_bold_is_printed(number: int) -> None:
    printed = ""
    for command in commands(number):
        code, out = run(command)
        assert code == (1 if "Nothing is left" in out else 0)
        printed += out
    words = " ".join(printed.split())
    bold = re.findall(r"\*\*(.+?)\*\*", " ".join(SECTIONS[number].split()))
    assert bold
    for text in bold:
        assert text in words, text


@pytest.mark.parametrize("number", SECTIONS)
def test_every_machine_of_the_tables_says_what_a_single_assessment_says(number: int) -> None:
    for place in range(len(commands(number))):
        told_of = answer(number, place)
        units = {q["name"]: q["unit"] for q in told_of["quantities"]}
        for told in told_of["table"]:
            report = single(told, told_of)
            margins = {f.check: float(f.margin) for f in report.findings}
            for name, value in told["values"].items():
                if units[name] == "%" and name in margins:
                    assert value == pytest.approx(100 * margins[name], rel=1e-9, abs=1e-9)
            assert set(told["short"]) == {c for c, m in margins.items() if not m >= 0}


def test_raised_arms_tip_at_the_slope_of_the_nearest_edge() -> None:
    """Statics: it tips at g d / h; d of three wheels on a 300 mm circle is half of that, less 11 mm · cos 60° because
    the outer row of rollers may be off the floor; h rises by the moment of the arms over the mass."""
    d = 0.3 / 2 - 0.011 * math.cos(math.radians(60))
    for told in table(1, 0):
        values = told["values"]
        angle = math.radians(float(told["settings"]["arms.postures[*].angles.shoulder"].split()[0]))
        arms = 6 * (0.42 * 0.161 + 0.28 * 0.48) * (math.sin(angle) + 1)
        mass = float(check(SUNBLOOM).report.figures[0].term.value)
        lowest = float(check(SUNBLOOM).report.figures[2].term.value[0])
        assert values["tipping"] == pytest.approx(GRAVITY * d / (lowest + arms / mass), rel=2e-3)
        assert values["stopping-way"] == table(1, 0)[0]["values"]["stopping-way"]


def test_three_arms_on_one_side_are_worst_where_height_and_reach_meet() -> None:
    worst = min(table(1, 1), key=lambda told: told["values"]["tipping"])
    assert worst["settings"] == {"arms.postures[3].angles.shoulder": "45 deg"}


def test_the_pinion_that_is_kept_meshes_and_the_others_are_left_out_for_a_reason() -> None:
    first, second = answer(2, 0), answer(2, 1)
    assert first["kept"] == 0
    assert [c["alone"] for c in first["conditions"]] == [24, 24, 24, 3]
    easiest = second["table"][0]
    report = single(easiest, second)
    findings = {f.check: f for f in report.findings}
    climbs, asked = findings["climbs-the-slope"], findings["runs-below-stall-share"]
    assert float(climbs.capacity[0]) >= 0.6
    # a sixth of a newton metre of 6 N·m: 30 % of stall on the slope, which is its governing case
    assert asked.cases[int(asked.governing)] == "on the slope, accelerating"
    assert float(asked.demand[1]) <= 0.3 * 6.0
    assert float(findings["ring-and-pinion-go-together"].margin) >= 0
    assert float(findings["ring-tips-stay-off-the-roots"].margin) >= 0
    demands = [t["values"]["runs-below-stall-share.demand"] for t in second["table"]]
    assert demands == sorted(demands)


def test_shims_change_the_backlash_by_the_working_angle() -> None:
    """Involute geometry: the flanks part by 2 Δa tan αw; at αw = 20° that is 0.728 Δa. A shim of 0.1 mm more closes
    the mesh of a pinion inside its ring."""
    less, right, more = (t["values"] for t in table(3, 0))
    opened = 2 * 0.1 * math.tan(math.radians(20))
    assert right["mesh-keeps-backlash.capacity"] == pytest.approx(0.2, abs=1e-9)
    assert more["mesh-keeps-backlash.capacity"] == pytest.approx(0.2 - opened, abs=2e-3)
    assert less["mesh-keeps-backlash.demand"] == pytest.approx(0.2 + opened, abs=2e-3)


def test_the_cap_is_the_last_percent_that_the_regulator_bears() -> None:
    told_of = answer(4, 0)
    assert told_of["table"][0]["settings"]["light.cap"] == "60 %"
    for cap, bears in (("60 %", True), ("61 %", False)):
        report = single({"settings": {"light.cap": cap}}, told_of)
        margin = next(float(f.margin) for f in report.findings if f.check == "rail-feeds-its-load")
        assert (margin >= 0) is bears
    run_time = next(float(f.term.value) for f in check(SUNBLOOM).report.figures if f.key == "run-time")
    assert told_of["table"][0]["values"]["run-time"] == pytest.approx(run_time, rel=1e-9)


def test_five_worn_packs_are_stiffer_than_three() -> None:
    """Resistances in parallel: at 310 mohm each, five packs come to 62 mohm and three to 103 mohm, which is what three
    packs of 310 mohm could not bear and three of 300 mohm could only just."""
    assert answer(5, 0)["table"][0]["settings"]["power.packs.resistance"] == "300 mohm"
    assert [answer(5, i)["kept"] for i in (1, 2)] == [0, 0]
    assert [c["alone"] for c in answer(5, 3)["conditions"]] == [3, 2]


def test_heavier_shells_raise_mass_and_centre_as_statics_says() -> None:
    before, after = (t["values"] for t in table(9, 0))
    extra = 3 * (1.0333 - 0.8)
    assert after["mass"] - before["mass"] == pytest.approx(extra, rel=1e-9)
    raised = (before["mass"] * before["centre-height"] + extra * 1127) / after["mass"]
    assert after["centre-height"] == pytest.approx(raised, abs=0.05)
    assert after["tipping"] / before["tipping"] == pytest.approx(before["centre-height"] / raised, rel=1e-3)


def test_the_door_leaves_a_clearance_and_the_step_is_what_stops_it() -> None:
    """Widths: 660 mm through 762 mm less 20 mm of clearance leave (742 − 660)/742."""
    told_of = answer(10, 0)
    assert [c["alone"] for c in told_of["conditions"]] == [13, 13, 3, 1]
    report = single(told_of["table"][0], told_of)
    door = next(f for f in report.findings if f.check == "fits-the-door")
    assert float(door.margin) == pytest.approx((0.742 - 0.660) / 0.742, rel=1e-9)
    wide = single({"settings": {"brief.step": "12 mm"}}, told_of)
    assert next(float(f.margin) for f in wide.findings if f.check == "crosses-the-step") < 0
