"""`dryfit readings` from outside: what it prints, writes and ends with."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from dryfit.cli.main import app
from dryfit.jobs.check import example

SHAPES = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text(encoding="utf-8")


def run(*words: str, width: int = 100) -> Any:
    return CliRunner().invoke(app, ["readings", *words], env={"COLUMNS": str(width)})


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(example("gangway").parent, tmp_path / "gang")
    return tmp_path / "gang"


@pytest.mark.parametrize("width", [60, 100])
def test_the_page_lists_points_by_stage(width: int) -> None:
    result = run(str(example("sunbloom")), width=width)
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    heads = [lines[n - 1] for n, line in enumerate(lines) if line.startswith("─")]
    assert heads == [
        "Wheel units", "Frame and base", "Packs and supply", "Logic and firmware", "Light", "Arms", "Body",
        "First drive", "Where to look next",
    ]  # fmt: skip
    assert "0.656 to 1.37 A" in result.stdout
    assert all(len(line) <= width for line in lines if not line.startswith("dryfit "))


def test_a_reading_outside_names_causes_and_moves_checks(folder: Path) -> None:
    result = run(str(folder), "--enter", "mass-battery=5 kg", "--enter", "pull-at-slip=40 N", "--date", "2027-04-02")
    assert result.exit_code == 1
    words = " ".join(result.stdout.split())
    assert "mass-battery read 5 kg, more than" in words
    assert "what tells it apart" in words
    assert "What the readings move" in words
    assert "Checks before → after" in words
    assert "--adopt" in words
    assert "date: 2027-04-02" in (folder / "design.yaml").read_text(encoding="utf-8")
    adopted = run(str(folder), "--adopt")
    assert "Wrote" in adopted.stdout
    assert "used: yes" in (folder / "design.yaml").read_text(encoding="utf-8")
    again = run(str(folder), "--adopt")
    assert again.exit_code == 2
    assert "moves anything" in again.stderr


def test_one_point_in_full() -> None:
    result = run(str(example("drift")), "--point", "rail-light-supply-volts")
    assert result.exit_code == 0
    words = " ".join(result.stdout.split())
    for part in ("How", "Stop:", "If it reads less", "If it reads more", "Where the number comes from", "design.yaml:"):
        assert part in words
    assert "Local codes" in words
    assert "{" not in words


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--enter", "mass-batery=5 kg"), "did you mean mass-battery"),
        (("--enter", "mass-battery=5 V"), "not a unit of a mass"),
        (("--enter", "mass-battery=5 kg", "--enter", "mass-battery=6 kg"), "twice"),
        (("--enter", "mass-battery=5 kg", "--date", "2.4.2027"), "not a date"),
        (("--enter", "mass-battery=5 kg", "--date", "2027-02-30"), "not a date"),
        (("--date", "2027-04-02"), "nothing to enter"),
        (("--enter", "mass-battery=5 kg", "--adopt"), "one at a time"),
        (("--point", "nowhere"), "no test point named"),
    ],
)
def test_wrong_input_ends_with_2_and_writes_nothing(folder: Path, words: tuple[str, ...], said: str) -> None:
    before = (folder / "design.yaml").read_bytes()
    result = run(str(folder), *words)
    assert result.exit_code == 2
    assert said in " ".join(result.stderr.split())
    assert result.stdout == ""
    assert (folder / "design.yaml").read_bytes() == before
    assert not (folder / "design.yaml.before").exists()


def section(head: str) -> str:
    return next(part for part in re.split(r"^## ", SHAPES, flags=re.M) if part.startswith(head))


def rows(text: str) -> dict[str, str]:
    cells = [[c.strip() for c in line.strip("|").split(" | ")] for line in text.splitlines() if line[:2] == "| "]
    return {c[0]: c[1] for c in cells if c[0] not in ("key",)}


def keys(text: str) -> set[str]:
    return set(re.findall(r"`(\w+)`", text))


def test_json_has_the_shape_described(folder: Path) -> None:
    result = run(str(folder), "--enter", "tilt-board=4 deg", "--enter", "mass-battery=5 kg", "--json")
    answer = json.loads(result.stdout)
    table = rows(section("`dryfit readings --json`"))
    assert set(answer) == set().union(*map(keys, table)) | {"dryfit", "version"}
    assert (answer["dryfit"], answer["version"]) == ("readings", 1)
    for part in ("stages", "moved", "aside", "checks"):
        assert answer[part], part
        assert all(set(e) == keys(table[f"`{part}`"].partition("list of")[2]) for e in answer[part]), part
    point = set().union(*map(keys, rows(section("A test point"))))
    assert all(set(p) == point for p in answer["points"])
    one = json.loads(run(str(folder), "--point", "tilt-board", "--json").stdout)
    assert [p["name"] for p in one["points"]] == ["tilt-board"]
    assert one["points"][0]["outside"] == "low"
    assert one["points"][0]["read"] == pytest.approx(0.0698, abs=1e-4)
