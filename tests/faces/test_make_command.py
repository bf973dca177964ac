"""`dryfit make` at the terminal: what it prints, how it ends, what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import Result
from typer.testing import CliRunner

from dryfit.cli.main import app
from dryfit.jobs.check import new


def run(*words: str) -> Result:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": "100", "NO_COLOR": "1"})


def said(result: Result) -> str:
    return " ".join((result.stdout + result.stderr).split())


@pytest.fixture
def design(tmp_path: Path) -> Path:
    return new(tmp_path / "machine", "drift").parent


def test_it_ends_with_0_and_says_what_to_order_first(design: Path, tmp_path: Path) -> None:
    result = run("make", str(design), "-o", str(tmp_path / "out"))
    assert result.exit_code == 0
    for words in (
        "Everything is drawn, and done in time for Wed 17 Nov 2027.", "Order first", "no plan is sooner",
        "build-book.pdf", "class guesses", "dryfit readings",
    ):  # fmt: skip
        assert words in said(result), words
    assert (tmp_path / "out" / "lists.xlsx").is_file()


def test_what_is_not_held_ends_with_1(design: Path, tmp_path: Path) -> None:
    file = design / "design.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace("budget: 4200 EUR", "budget: 400 EUR"), encoding="utf-8")
    result = run("make", str(design), "-o", str(tmp_path / "out"))
    assert result.exit_code == 1
    assert "Everything is drawn, but it costs more than the budget." in said(result)


def test_the_first_day_can_be_moved(design: Path, tmp_path: Path) -> None:
    late = run("make", str(design), "-o", str(tmp_path / "out"), "--start", "2027-11-01", "--json")
    assert late.exit_code == 1
    told = json.loads(late.stdout)
    assert told["work"]["begins"] == "2027-11-01"
    assert told["work"]["late"] > 0
    assert told["held"] is False


def test_a_lost_plate_is_told_as_slips(design: Path, tmp_path: Path) -> None:
    result = run("make", str(design), "-o", str(tmp_path / "out"), "--failed", "2", "--on", "2027-09-23 09:00")
    assert "What slips" in said(result)
    assert "the delivery on 2027-11-17 holds" in said(result)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--start", "2027-13-01"), "not a date"),
        (("--on", "2027-09-23"), "says when, but not what was lost"),
        (("--lost", "wade", "--on", "2027-09-23"), "did you mean wide"),
        (("--failed", "99", "--on", "2027-09-23"), "no plate named '99'"),
    ],
)
def test_wrong_words_end_with_2_and_write_nothing(
    words: tuple[str, ...], told: str, design: Path, tmp_path: Path
) -> None:
    result = run("make", str(design), "-o", str(tmp_path / "out"), *words)
    assert result.exit_code == 2
    assert told in said(result)
    assert not (tmp_path / "out").exists()


def test_a_folder_of_others_is_left_alone(design: Path) -> None:
    before = sorted(p.name for p in design.iterdir())
    result = run("make", str(design), "-o", str(design))
    assert result.exit_code == 2
    assert "holds files that were not made here; nothing was written" in said(result)
    assert sorted(p.name for p in design.iterdir()) == before
