"""`dryfit fix` as it is typed: what it prints, how it ends, what it writes."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from dryfit.cli.main import app
from dryfit.design.write import write_values
from dryfit.jobs.check import new

SHAPES = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text(encoding="utf-8")


def run(*words: str, columns: int = 100) -> Any:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": f"{columns}", "TERM": "dumb"})


def described(heading: str) -> set[str]:
    """The keys of a table of docs/json.md."""
    (section,) = [part for part in re.split(r"^## ", SHAPES, flags=re.M) if part.startswith(heading)]
    cells = [line.split("|")[1] for line in section.splitlines() if line.startswith("| `")]
    return {key for cell in cells for key in re.findall(r"`(\w+)`", cell)}


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    return new(tmp_path / "machine", "beacon").parent


def test_one_check_shows_its_offers_with_all_they_do() -> None:
    result = run("fix", "examples/beacon", "tilt-board")
    assert result.exit_code == 0
    for words in (
        "base.wheels.circle_radius: 200 mm → 380 mm", "line 48", "would just do", "reprint hours", "puts right",
        "stands-on-the-slope", "margin +12 %, where it was −41 % and +10 % is asked for",
        "tipping acceleration, weakest direction 1.01 m/s² → ", "dryfit fix examples/beacon tilt-board --apply 1",
        "A machine that falls can hurt people; local codes and licensed practice decide",
    ):  # fmt: skip
        assert " ".join(words.split()) in " ".join(result.stdout.split()), words


def test_all_checks_show_their_first_offers() -> None:
    result = run("fix", "examples/beacon")
    assert result.exit_code == 0
    assert "17 checks have less than asked for" in result.stdout
    assert "These put right several at once" in result.stdout
    assert re.search(r"^4 +light\.cap: 100 % → 44 %", result.stdout, flags=re.M)
    first = result.stdout.index("emergency-stop-slides-first: short")
    assert first < result.stdout.index("tips-when-hitting-an-edge: tight")


@pytest.mark.parametrize("columns", [60, 100])
@pytest.mark.parametrize("words", [["examples/beacon"], ["examples/sunbloom", "runs-below-stall-share", "--all"]])
def test_lines_fit_the_terminal(words: list[str], columns: int) -> None:
    for line in run("fix", *words, columns=columns).stdout.splitlines():
        assert len(line) <= columns or line.startswith("dryfit "), line


def test_what_holds_needs_nothing() -> None:
    result = run("fix", "examples/drift")
    assert result.exit_code == 0
    assert "there is nothing to put right" in result.stdout
    result = run("fix", "examples/drift", "fits-the-door")
    assert result.exit_code == 0
    assert "It holds with the reserve asked for" in result.stdout


def test_nothing_helps_ends_with_one(machine: Path) -> None:
    write_values(machine / "design.yaml", {"brief.limits.tilt": "70 deg"})
    result = run("fix", str(machine), "tilt-board")
    assert result.exit_code == 1
    assert "No single change restores it, and no pair that was tried." in result.stdout
    assert "How far the strongest changes get" in result.stdout


def test_what_no_lever_moves_is_told_with_its_remedy(tmp_path: Path) -> None:
    folder = new(tmp_path / "m", "drift").parent
    write_values(folder / "design.yaml", {"brief.door_width": "700 mm"})
    for words in ([], ["fits-the-door"]):
        result = run("fix", str(folder), *words)
        assert result.exit_code == 1
        assert "Nothing that may be changed in this file moves it far enough." in " ".join(result.stdout.split())


def test_an_unknown_check_asks_for_its_line(tmp_path: Path) -> None:
    (tmp_path / "design.yaml").write_text("name: a\nbrief: {speed: 0.5 m/s}\n", encoding="utf-8")
    result = run("fix", str(tmp_path))
    assert result.exit_code == 1
    assert re.search(r"To know it: write \w+\.", result.stdout)


def test_apply_writes_and_tells(machine: Path) -> None:
    result = run("fix", str(machine), "fuse-protects-wire", "--apply", "1")
    assert result.exit_code == 0, result.stdout
    text = (machine / "design.yaml").read_text(encoding="utf-8")
    assert "fuse: 10 A                     # planted fault 7" in text
    assert "area: 1.5 mm2                  # planted fault 5" in text
    for words in (
        "line 168",
        "30 A → 10 A",
        "fuse-protects-wire: short −64 % before, holds +8 % now.",
        "Short now: 13.",
    ):
        assert words in result.stdout


def test_apply_as_json(machine: Path) -> None:
    answer = json.loads(run("fix", str(machine), "tilt-board", "--apply", "1", "--json").stdout)
    assert answer["dryfit"] == "applied"
    assert set(answer) == described("`dryfit fix --apply --json`") | {"dryfit", "version"}
    assert answer["before"]["state"] == "short"
    assert answer["after"]["state"] == "holds"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--apply", "1"], "needs the name of a check"),
        (["tilt-board", "--apply", "0"], "no offer for tilt-board named '0'"),
        (["tilt-board", "--apply", "77"], "no offer for tilt-board named '77'"),
        (["tilt-bord"], "did you mean tilt-board"),
    ],
)
def test_wrong_input_ends_with_two_and_writes_nothing(machine: Path, words: list[str], message: str) -> None:
    before = (machine / "design.yaml").read_bytes()
    result = run("fix", str(machine), *words)
    assert result.exit_code == 2
    assert message in " ".join(result.stderr.split())
    assert json.loads(run("fix", str(machine), *words, "--json").stdout)["dryfit"] == "faults"
    assert (machine / "design.yaml").read_bytes() == before
    assert not (machine / "design.yaml.before").exists()


@pytest.mark.parametrize("words", [["examples/beacon"], ["examples/sunbloom", "runs-below-stall-share"]])
def test_the_json_has_the_shape_described(words: list[str]) -> None:
    answer = json.loads(run("fix", *words, "--json").stdout)
    assert answer["dryfit"] == "fixes"
    assert set(answer) == described("`dryfit fix --json`") | {"dryfit", "version"}
    for c in answer["checks"]:
        assert set(c) == described("A check with its offers")
        for offer in c["offers"]:
            assert set(offer) == described("An offer")
            assert all(set(e) == {"path", "line", "old", "new"} for e in offer["edits"])
            moves = [*offer["better"], *offer["worse"], *offer["breaks"]]
            assert all(set(m) == {"check", "before", "after", "was", "becomes"} for m in moves)
        assert all(set(x) == {"what", "reaches", "margin", "blocked_by"} for x in c["limits"])
