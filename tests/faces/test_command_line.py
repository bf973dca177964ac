"""The command line from outside: what it prints where, and how it ends."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from dryfit.cli.main import app
from dryfit.jobs.check import DEMO, check, example, example_names

ROOT = Path(__file__).resolve().parents[2]
ENDS = {"sunbloom": 0, "gangway": 0, "drift": 0, "beacon": 1}
COLOUR = "\x1b["


def run(*words: str, width: int = 100) -> Any:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": str(width)})


def as_process(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """The installed command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", "from dryfit.cli.main import main; main()", *words],
        capture_output=True, text=True, encoding="utf-8", cwd=ROOT, check=False,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
    )  # fmt: skip


@pytest.mark.parametrize(("name", "end"), ENDS.items())
def test_check_ends_with_0_if_all_holds_and_1_if_something_is_short(name: str, end: int) -> None:
    result = run("check", str(example(name)))
    assert result.exit_code == end
    assert result.stderr == ""
    assert run("check", str(example(name)), "--json").exit_code == end


def test_a_folder_stands_for_its_design() -> None:
    assert run("check", str(example("drift").parent)).stdout == run("check", str(example("drift"))).stdout


def test_a_wrong_file_ends_with_2_and_says_so_on_the_standard_error(tmp_path: Path) -> None:
    design = tmp_path / "design.yaml"
    design.write_text("brief:\n  speed: 3\n  slop: 3 deg\n", encoding="utf-8")
    result = run("check", str(design))
    assert (result.exit_code, result.stdout) == (2, "")
    assert f"{design}:2  brief.speed" in result.stderr
    assert f"{design}:3  brief.slop" in result.stderr
    assert "did you mean slope" in result.stderr
    told = run("check", str(design), "--json")
    assert (told.exit_code, told.stderr) == (2, "")
    assert [f["line"] for f in json.loads(told.stdout)["faults"]] == [2, 3]


@pytest.mark.parametrize("name", ENDS)
def test_the_verdict_says_whether_it_works_what_to_do_and_where_to_look(name: str) -> None:
    words = run("check", str(example(name))).stdout
    head = words.splitlines()[:5]
    assert any(line.startswith("It will work" if ENDS[name] == 0 else "It will not work") for line in head)
    assert re.search(r"^\d+ checks: .*\d+ hold$", words, flags=re.M)
    first = words.partition("What to do first")[2].partition("All that is short")[0]
    if name == "beacon":
        assert re.findall(r"^  (\d) ", first, flags=re.M) == ["1", "2", "3"]
        assert first.count("    → ") == first.count("dryfit why") == 3
    assert "dryfit informs." in words
    assert "Where to look next" in words


def test_all_lists_every_check_and_assumed_every_default() -> None:
    checked = check(example("gangway"))
    every = run("check", str(example("gangway")), "--all").stdout
    assert all(re.search(rf"\b{f.check}\b", every) for f in checked.report.findings)
    assumed = run("check", str(example("gangway")), "--assumed").stdout
    assert len(checked.report.assumed) > 50
    for path, value in ((o.path, o.text) for o in checked.report.assumed):
        group, _, key = path.rpartition(".")
        under = assumed.partition(f"\n{group}\n")[2]
        assert re.search(rf"^  {key[:20]}", under, flags=re.M), path
        assert value[:12] in under, path


@pytest.mark.parametrize("name", ENDS)
def test_every_check_can_be_unfolded(name: str) -> None:
    """Every finding of every example, folded and deep: demand and capacity stand out, and typed lines are shown."""
    from dryfit.outputs import terminal
    from dryfit.views.workings import why

    checked = check(example(name))
    for f in checked.report.findings:
        view = why(f, checked.path.name, checked.text)
        for deep in (False, True):
            c = terminal.console()
            c.width = 100
            with c.capture() as captured:
                terminal.print_why(c, view, "design.yaml", deep)
            words = captured.get()
            lines = words.splitlines()
            assert max(map(len, lines)) <= 100, f.check
            assert not any(line != line.rstrip() for line in lines), f.check
            assert re.search(r"^  demand +.*\n(.*\n)*?  capacity +", words, flags=re.M), f.check
            assert len(view.outline) <= len(view.workings)
            assert not deep or "more number" not in words
        folded = sum(r.hidden for r in view.outline)
        kept = [r for r in view.outline if not r.hidden]
        assert folded or len(kept) == len(view.workings), f.check


def test_why_shows_the_lines_as_typed() -> None:
    words = run("why", str(example("sunbloom")), "tips-when-braking").stdout
    assert re.search(r"^ +\d+  acceleration: 0.4 m/s2", words, flags=re.M)
    assert re.search(r"a  acceleration +0.4 m/s² +line \d+", words)
    deep = run("why", str(example("sunbloom")), "tips-when-braking", "--deep").stdout
    assert re.search(r"m_\d+  frame +2.2 kg +line \d+", deep)


def test_an_unknown_check_offers_the_nearest() -> None:
    result = run("why", str(example("drift")), "tips-when-breaking")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "no check named 'tips-when-breaking'; did you mean tips-when-braking" in " ".join(result.stderr.split())
    assert json.loads(run("why", str(example("drift")), "nonsense", "--json").stdout)["dryfit"] == "faults"


@pytest.mark.parametrize("name", example_names())
def test_new_gives_a_copy_that_checks_at_once(name: str, tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    result = run("new", str(folder), "--like", name)
    assert result.exit_code == 0
    assert str(folder / "design.yaml") in result.stdout
    assert (folder / "design.yaml").read_bytes() == example(name).read_bytes()
    copied = run("check", str(folder), "--json")
    assert copied.exit_code == ENDS[name]
    assert (
        json.loads(copied.stdout)["checks"] == json.loads(run("check", str(example(name)), "--json").stdout)["checks"]
    )


def test_new_takes_an_empty_folder_and_spares_a_full_one(tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    empty.mkdir()
    assert run("new", str(empty)).exit_code == 0
    assert (empty / "design.yaml").read_bytes() == example(DEMO).read_bytes()
    full = tmp_path / "full"
    full.mkdir()
    (full / "notes.txt").write_text("mine", encoding="utf-8")
    for target in (full, full / "notes.txt", empty):
        before = sorted(tmp_path.rglob("*"))
        result = run("new", str(target), "--like", "gangway")
        assert (result.exit_code, result.stdout) == (2, "")
        assert "is not an empty folder; nothing was written" in " ".join(result.stderr.split())
        assert sorted(tmp_path.rglob("*")) == before
    assert (full / "notes.txt").read_text(encoding="utf-8") == "mine"


def test_new_offers_the_nearest_example_and_writes_nothing(tmp_path: Path) -> None:
    result = run("new", str(tmp_path / "a"), "--like", "gangwey")
    assert result.exit_code == 2
    assert "no example named 'gangwey'; did you mean gangway" in " ".join(result.stderr.split())
    assert not (tmp_path / "a").exists()


@pytest.mark.parametrize("folder", ["", "x/design.yaml/y", "a\0b", "n" * 300])
def test_new_refuses_a_folder_that_cannot_be(folder: str, tmp_path: Path) -> None:
    (tmp_path / "x").mkdir()
    (tmp_path / "x" / "design.yaml").write_text("name: a\n", encoding="utf-8")
    result = run("new", f"{tmp_path}/{folder}")
    assert result.exit_code == 2
    assert result.stderr.strip()
    assert "Traceback" not in result.stderr


def test_the_demo_checks_the_worked_example_and_makes_it(tmp_path: Path) -> None:
    shown = run("demo", "-o", str(tmp_path / "out"))
    assert shown.stdout.startswith(run("check", str(example(DEMO))).stdout)
    assert "Everything is drawn, and done in time" in shown.stdout
    assert shown.exit_code == 0
    assert (tmp_path / "out" / "build-book.pdf").stat().st_size > 100_000


@pytest.mark.parametrize("words", [(), ("chek", "x"), ("check",), ("why", "x"), ("new",), ("check", "x", "--colour")])
def test_a_command_that_is_not_one_ends_with_2(words: tuple[str, ...]) -> None:
    assert run(*words).exit_code == 2


def test_as_a_process_of_its_own() -> None:
    """The installed command: code, streams, and no colour where nobody sees it."""
    good = as_process("check", "examples/sunbloom", COLUMNS="100")
    assert (good.returncode, good.stderr) == (0, "")
    assert COLOUR not in good.stdout
    assert "examples/sunbloom/design.yaml" in good.stdout
    assert good.stdout == as_process("check", "examples/sunbloom", COLUMNS="100", NO_COLOR="1").stdout
    bad = as_process("check", "examples/beacon", "--json")
    assert bad.returncode == 1
    assert json.loads(bad.stdout)["counts"]["short"] > 0
    none = as_process("check", "examples/nowhere")
    assert (none.returncode, none.stdout) == (2, "")
    assert "no such file" in none.stderr


def test_output_may_be_cut_off() -> None:
    """`dryfit check … | head -1`: whoever reads may stop reading, and no trace of it appears."""
    line = f"{sys.executable} -c 'from dryfit.cli.main import main; main()' check examples/beacon --all | head -c 10"
    done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, cwd=ROOT, check=False)
    assert "Traceback" not in done.stderr
    assert len(done.stdout) <= 10
