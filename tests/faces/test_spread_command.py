"""`dryfit spread` from outside: what it prints, writes and ends with."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from dryfit.cli.main import app
from dryfit.jobs.check import example
from dryfit.jobs.spread import spread
from dryfit.studies.records_spread import Chance, CheckSpread, Spreads
from dryfit.views.page import Table
from dryfit.views.spread import chance_words, page
from dryfit.views.spread import enough as all_enough

FEW = ("--draws", "256")


def run(*words: str, width: int = 100) -> Any:
    return CliRunner().invoke(app, ["spread", *words], env={"COLUMNS": str(width)})


@pytest.mark.parametrize("width", [60, 100])
def test_the_page_says_what_is_in_doubt_and_what_to_measure(width: int) -> None:
    result = run(str(example("drift")), "--draws", "1024", width=width)
    assert (result.exit_code, result.stderr) == (1, "")
    words = " ".join(result.stdout.split())
    assert "hold in fewer than 95 of 100 machines" in words
    assert "crosses-the-step" in words
    assert "What would help most to know" in words
    assert "luggage scale" in words
    assert "1,024 machines drawn, seed 1" in words
    commands = [line for line in result.stdout.splitlines() if line.startswith("dryfit ")]
    assert all(len(line) <= width for line in result.stdout.splitlines() if line not in commands)


def test_one_check_in_detail() -> None:
    result = run(str(example("drift")), *FEW, "--check", "crosses-the-step")
    assert "with others" in result.stdout
    assert "brief.friction" in result.stdout
    assert "numbers acting together" in result.stdout


def test_all_and_inputs_list_everything() -> None:
    found = spread(example("drift"), 256)
    blocks = page(found, "design.yaml", everything=True, listed=True).blocks
    cells = "\n".join(cell for b in blocks if isinstance(b, Table) for row in b.rows for cell in row)
    assert all(c.check in cells for c in found.checks)
    assert all(one.path in cells for one in found.inputs)
    printed = run(str(example("drift")), *FEW, "--all", "--inputs").stdout
    assert f"The {len(found.inputs)} numbers that were drawn" in printed
    assert "Hold in every draw" in printed


def test_the_same_seed_prints_the_same() -> None:
    assert run(str(example("drift")), *FEW).stdout == run(str(example("drift")), *FEW, "--seed", "1").stdout
    assert run(str(example("drift")), *FEW).stdout != run(str(example("drift")), *FEW, "--seed", "2").stdout


@pytest.mark.parametrize("ending", [".svg", ".png"])
def test_the_chart_repeats_and_never_overwrites(ending: str, tmp_path: Path) -> None:
    file = tmp_path / f"bands{ending}"
    assert run(str(example("drift")), *FEW, "--chart", str(file)).exit_code == 1
    first = file.read_bytes()
    assert first.startswith(b"<?xml" if ending == ".svg" else b"\x89PNG")
    assert run(str(example("drift")), *FEW, "--chart", str(file)).exit_code == 2
    assert file.read_bytes() == first
    assert run(str(example("drift")), *FEW, "--chart", str(file), "--overwrite").exit_code == 1
    assert file.read_bytes() == first
    assert [p.name for p in tmp_path.iterdir()] == [file.name]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--draws", "3"), "256 to 2,000,000"),
        (("--draws", "many"), "--draws"),
        (("--seed", "-1"), "zero or more"),
        (("--check", "crosses-the-stepp"), "did you mean crosses-the-step"),
        (("--chart", "bands.doc"), ".svg, .png"),
    ],
)
def test_wrong_input_ends_with_2(words: tuple[str, ...], said: str) -> None:
    result = run(str(example("drift")), *words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert said in " ".join(result.stderr.split())


def test_a_wrong_file_ends_with_2(tmp_path: Path) -> None:
    (tmp_path / "design.yaml").write_text("brief: {speed: 3}\n", encoding="utf-8")
    told = run(str(tmp_path), "--json")
    assert told.exit_code == 2
    assert json.loads(told.stdout)["dryfit"] == "faults"


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "none"), (1.0, "all"), (0.528, "53 %"), (0.9931, "99.3 %"), (0.99939, "99.94 %"), (0.0004, "0.04 %"),
        (0.999999, "over 99.99 %"), (0.000001, "under 0.01 %"),
    ],
)  # fmt: skip
def test_chances_never_read_surer_than_they_are(chance: float, words: str) -> None:
    assert chance_words(chance) == words


def check_of(chance: float) -> CheckSpread:
    held = Chance(chance, chance, chance)
    return CheckSpread("a-check", "A check holds", 0.1, 0.0, 4, held, held, (-0.1, 0.1, 0.2), (), 0.0)


@pytest.mark.parametrize(("chance", "unknown", "good"), [(0.95, 0, True), (0.949, 0, False), (1.0, 1, False)])
def test_when_it_is_enough(chance: float, unknown: int, good: bool) -> None:
    needs = (("b-check", "write base.motor"),) * unknown
    s = Spreads("M", 256, 16, 1, (), (check_of(chance),), needs, Chance(chance, 0, 1), (), 0, "")
    assert all_enough(s) is good
    assert ("Every check holds" in page(s, "design.yaml").blocks[0].text) is good  # type: ignore[union-attr]
