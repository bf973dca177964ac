"""The documents say what the code does: commands, JSON shapes, design file, public names."""

from __future__ import annotations

import importlib.util
import json
import re
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

import dryfit
from dryfit.cli.main import app
from dryfit.ground.errors import DesignError

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
COMMANDS = (DOCS / "commands.md").read_text(encoding="utf-8")
SHAPES = (DOCS / "json.md").read_text(encoding="utf-8")
DESIGN_FILE = (DOCS / "design-file.md").read_text(encoding="utf-8")


def run(*words: str) -> Any:
    return CliRunner().invoke(app, list(words))


def answer(*words: str) -> dict[str, Any]:
    return json.loads(run(*words, "--json").stdout)  # type: ignore[no-any-return]


def rows(text: str) -> list[tuple[str, ...]]:
    """Cells of the table rows of a text, heads left out."""
    found = [tuple(c.strip() for c in line.strip("|").split(" | ")) for line in text.splitlines() if line[:1] == "|"]
    return [
        cells for cells in found if not cells[0].startswith("---") and cells[0] not in ("given", "key", "exit code")
    ]


def section(text: str, head: str) -> str:
    """What stands under a heading of the second order."""
    return re.split(r"^## ", text, flags=re.M)[
        next(i for i, part in enumerate(re.split(r"^## ", text, flags=re.M)) if part.startswith(head))
    ]


COMMAND_OBJECTS: dict[str, Any] = typer.main.get_command(app).commands  # type: ignore[attr-defined]


def test_every_command_is_described_and_no_other() -> None:
    assert re.findall(r"^## `dryfit (\w+)", COMMANDS, flags=re.M) == list(COMMAND_OBJECTS)


@pytest.mark.parametrize("name", COMMAND_OBJECTS)
def test_commands_take_what_their_table_says(name: str) -> None:
    command = COMMAND_OBJECTS[name]
    words = section(COMMANDS, f"`dryfit {name}")
    given = [(p.metavar if p.param_type_name == "argument" else p.opts[-1], p.help) for p in command.params]
    assert [(first.strip("`"), second) for first, second in rows(words)] == given
    assert " ".join(command.help.split()) in words
    heading = words.partition("\n")[0].strip("`").split()[2:]
    assert heading == [p.metavar for p in command.params if p.param_type_name == "argument"]


@pytest.mark.parametrize("name", COMMAND_OBJECTS)
def test_help_prints_the_same(name: str) -> None:
    shown = " ".join(run(name, "--help").stdout.split())
    for given, meaning in rows(section(COMMANDS, f"`dryfit {name}")):
        assert given.strip("`") in shown
        assert meaning in shown


def test_help_of_the_whole_lists_the_commands() -> None:
    shown = run("--help").stdout
    assert all(re.search(rf"^  {name} ", shown, flags=re.M) for name in COMMAND_OBJECTS)
    assert run().exit_code == 2


def keys(cell: str) -> set[str]:
    return set(re.findall(r"`(\w+)`", cell))


def described(shape: str) -> set[str]:
    return set().union(*(keys(cells[0]) for cells in rows(section(SHAPES, shape))))


BOTH = {"dryfit", "version"}


@pytest.mark.parametrize("name", ["sunbloom", "gangway", "drift", "beacon"])
def test_a_verdict_has_the_shape_described(name: str) -> None:
    verdict = answer("check", f"examples/{name}")
    assert verdict["dryfit"] == "verdict"
    assert set(verdict) == described("`dryfit check --json`") | BOTH
    check = described("A check object")
    assert all(set(c) == check for c in verdict["checks"])
    assert set(verdict["counts"]) == {"short", "unknown", "tight", "holds"}
    assert all(set(a) == {"path", "value", "reason"} for a in verdict["assumed"])
    assert verdict["assumed"]
    assert len(verdict["first"]) <= 3
    assert set(verdict["first"]) <= {c["check"] for c in verdict["checks"]}
    assert sum(verdict["counts"].values()) == len(verdict["checks"])


@pytest.mark.parametrize("check", ["tips-when-braking", "emergency-stop-is-there", "lasts-the-show-day"])
def test_workings_have_the_shape_described(check: str) -> None:
    why = answer("why", "examples/sunbloom", check)
    assert why["dryfit"] == "why"
    table = {cells[0]: cells[1] for cells in rows(section(SHAPES, "`dryfit why --json`"))}
    assert set(why) == set().union(*map(keys, table)) | BOTH | {"more_cases"}
    assert set(why["check"]) == described("A check object")
    for part in ("workings", "cases", "lines"):
        entry = keys(table[f"`{part}`"].partition("list of")[2]) - {"more_cases"}
        assert why[part] or part == "cases"
        assert all(set(e) == entry for e in why[part])
    for side in ("demand", "capacity"):
        assert set(why[side]) == keys(table["`demand`, `capacity`"])


def test_a_spread_has_the_shape_described() -> None:
    spread = answer("spread", "examples/drift", "--draws", "256", "--check", "crosses-the-step")
    assert spread["dryfit"] == "spread"
    assert set(spread) == described("`dryfit spread --json`") | BOTH
    words = section(SHAPES, "`dryfit spread --json`")
    table = {cells[0]: cells[1] for cells in rows(words)}
    for part in ("checks", "measurements", "inputs"):
        entry = keys(table[f"`{part}`"].partition("list of")[2]) - {"null"}
        assert spread[part]
        assert all(set(e) == entry for e in spread[part]), part
    below = words.partition("A chance object has")[2]
    drivers = [d for c in spread["checks"] for d in c["drivers"]]
    readings = [r for m in spread["measurements"] for r in m["readings"]]
    for found in (spread["all_hold"], *drivers, *readings, *(m["checks"][0] for m in spread["measurements"])):
        assert set(found) <= keys(below)
    assert any(d["total"] is not None for d in drivers)


def test_what_was_made_has_the_shape_described(tmp_path: Path) -> None:
    made = answer("make", "examples/drift", "--out", str(tmp_path / "out"))
    assert made["dryfit"] == "make"
    assert set(made) == described("`dryfit make --json`") | BOTH
    table = {cells[0]: cells[1] for cells in rows(section(SHAPES, "`dryfit make --json`"))}
    for group in ("prints", "purchases", "work"):
        told = keys(table[f"`{group}`"])
        inside = set(made[group]).union(*(e for v in made[group].values() if isinstance(v, list) for e in v))
        assert inside == told, group
    for part in ("alternatives", "cuts", "notes"):
        assert made[part]
        assert all(set(e) == keys(table[f"`{part}`"]) for e in made[part]), part
    assert made["files"]


def test_faults_have_the_shape_described(tmp_path: Path) -> None:
    design = tmp_path / "design.yaml"
    design.write_text("name: a\nbrief: {speed: 3}\n", encoding="utf-8")
    faults = answer("check", str(design))
    assert set(faults) == {"faults"} | BOTH
    expected = keys(section(SHAPES, "A wrong design file").partition("list of")[2]) - {"null"}
    assert all(set(f) == expected for f in faults["faults"])


def test_the_versions_agree() -> None:
    from dryfit.views.plain import VERSION

    assert answer("check", "examples/drift")["version"] == VERSION == 1


def writer() -> ModuleType:
    """docs/write_design_file.py, which stands outside the package."""
    spec = importlib.util.spec_from_file_location("write_design_file", DOCS / "write_design_file.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_the_reference_of_the_design_file_is_fresh() -> None:
    """If this fails: .venv/bin/python docs/write_design_file.py"""
    assert writer().fresh(DESIGN_FILE) == DESIGN_FILE


def test_every_key_of_the_records_stands_in_the_reference() -> None:
    from dryfit.design.records import Design
    from dryfit.design.shapes import homes_of_keys

    for key in homes_of_keys(Design):
        assert f"| `{key.removesuffix('_')}` |" in DESIGN_FILE, key


def blocks() -> list[str]:
    return re.findall(r"^```yaml\n(.*?)^```", DESIGN_FILE, flags=re.M | re.S)


def test_the_first_file_runs(tmp_path: Path) -> None:
    """About 40 lines give a first answer: most of it is known, and what is not is asked for by its key."""
    first = blocks()[0]
    assert len(first.splitlines()) <= 45
    (tmp_path / "design.yaml").write_text(first, encoding="utf-8")
    result = run("check", str(tmp_path), "--json")
    assert result.exit_code in (0, 1), result.stdout
    verdict = json.loads(result.stdout)
    assert verdict["counts"]["short"] == 0
    assert verdict["counts"]["unknown"] <= 8
    assert verdict["counts"]["holds"] > 50
    assert all(re.match(r"write \w+\.", c["needs"]) for c in verdict["checks"] if c["state"] == "unknown")


@pytest.mark.parametrize("block", range(1, len(blocks())))
def test_the_other_pieces_of_a_design_file_run(block: int, tmp_path: Path) -> None:
    (tmp_path / "design.yaml").write_text(f"name: a\n{blocks()[block]}", encoding="utf-8")
    assert run("check", str(tmp_path)).exit_code in (0, 1)


@pytest.mark.parametrize("document", sorted(p.relative_to(ROOT) for p in [*DOCS.glob("*.md"), ROOT / "README.md"]))
def test_links_between_documents_lead_somewhere(document: Path) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", text):
        assert ((ROOT / document).parent / target).exists(), target


def test_the_readme_names_commands_that_exist() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for command, rest in re.findall(r"^ +dryfit (\w+)(.*?)(?:#|$)", readme, flags=re.M):
        options = {o for p in COMMAND_OBJECTS[command].params for o in p.opts}
        assert set(re.findall(r"--\w+", rest)) <= options
    assert {p.name for p in ROOT.glob("examples/*") if p.is_dir()} == set(re.findall(r"^\| `(\w+)` \|", readme, re.M))


def test_public_names() -> None:
    """What others may import from the package; taking one away breaks them."""
    assert set(dryfit.__all__) == {
        "Checked", "DesignError", "UnknownNameError", "all_hold", "check", "example", "example_names", "finding", "fix",
        "make", "new", "readings", "spread", "sweep",
    }  # fmt: skip
    assert all(getattr(dryfit, name).__doc__ for name in dryfit.__all__)
    assert dryfit.DesignError is DesignError
    with pytest.raises(AttributeError, match="no attribute 'cheque'"):
        _ = dryfit.cheque  # type: ignore[attr-defined]
    checked = dryfit.check(dryfit.example("drift"))
    assert dryfit.finding(checked, "fits-the-door").check == "fits-the-door"
    assert dryfit.all_hold(checked.report)
