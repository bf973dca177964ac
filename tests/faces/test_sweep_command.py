"""`dryfit sweep` from outside: page, files, chart, JSON, and how it ends."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from dryfit.cli.main import app
from dryfit.jobs.check import example
from dryfit.jobs.sweep import prepare, run_prepared
from dryfit.outputs import tables
from dryfit.views.sweep_cells import file_cells, file_columns

ROOT = Path(__file__).resolve().parents[2]
SHAPES = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
SUNBLOOM = str(example("sunbloom"))
RADIUS = "base.wheels.circle_radius=250..400 mm:10 mm"
STOPS = "base.driver.stops=ramped,shorted"
TEETH = "base.gears[0].pinion_teeth=22..26"
SWEEP = ("sweep", SUNBLOOM, "--vary", RADIUS, "--vary", STOPS, "--best", "tipping max")


def run(*words: str, width: int = 100) -> Any:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": str(width)})


def swept_rows(vary: list[str], **more: Any) -> list[list[Any]]:
    """What a file should hold, from the sweep itself."""
    prepared = prepare(Path(SUNBLOOM), vary, **more)
    found: list[list[Any]] = []
    run_prepared(
        prepared, sink=lambda rows: found.extend(map(list, zip(*file_cells(prepared.plan, rows), strict=True)))
    )
    return [[c.head for c in file_columns(prepared.plan)], *found]


def plain(cell: Any) -> Any:
    """What a cell should hold: about a number, or None where it is empty."""
    if cell is None or cell == "":
        return None
    try:
        return None if np.isnan(float(cell)) else pytest.approx(float(cell), rel=1e-9)
    except ValueError:
        return cell


def as_number(cell: Any) -> Any:
    """A cell that was read, as a number where it is one."""
    try:
        return None if cell is None else float(cell)
    except ValueError:
        return cell


def read(path: Path) -> list[list[Any]]:
    """A table file read by a library that did not write it."""
    if path.suffix == ".csv":
        with path.open(encoding="utf-8", newline="") as file:
            return list(csv.reader(file))
    if path.suffix == ".xlsx":
        openpyxl = pytest.importorskip("openpyxl")
        return [list(row) for row in openpyxl.load_workbook(path).active.iter_rows(values_only=True)]
    import pyarrow.parquet as pq

    table = pq.read_table(path)
    return [table.column_names, *(list(row.values()) for row in table.to_pylist())]


WHEELS = "base.wheels.item=omni-152-double,mecanum-152"


@pytest.mark.parametrize("ending", [".csv", ".xlsx", ".parquet"])
def test_files_hold_every_machine(tmp_path: Path, ending: str) -> None:
    file = tmp_path / f"all{ending}"
    more = ("--vary", WHEELS, "--vary", TEETH, "--show", "tips-when-braking", "--show", "run-time")
    assert run("sweep", SUNBLOOM, *more, "--out", str(file)).exit_code == 0
    expected = swept_rows([WHEELS, TEETH], show=["tips-when-braking", "run-time"])
    found = read(file)
    assert found[0] == expected[0]
    assert found[0] == [
        "machine", "base.wheels.item", "base.gears[0].pinion_teeth", "tips-when-braking [%]", "run-time [s]",
        "cannot be put together",
    ]  # fmt: skip
    cells = [[None if c in ("", None) else c for c in row] for row in found[1:]]
    assert [[as_number(c) for c in row] for row in cells] == [list(map(plain, row)) for row in expected[1:]]
    assert len(found) == 11
    assert found[6][-1] == "the layout wants wheels of the kind omni"
    assert list(tmp_path.iterdir()) == [file]


def test_a_file_of_kept_machines_has_only_these(tmp_path: Path) -> None:
    file = tmp_path / "kept.csv"
    run(*SWEEP, "--keep", "base.wheels.circle_radius > 390 mm", "--out", str(file))
    rows = read(file)
    assert [row[:3] for row in rows[1:]] == [["15", "400", "ramped"], ["31", "400", "shorted"]]
    assert "cannot be put together" not in rows[0]


def test_numbers_read_back_to_nine_figures(tmp_path: Path) -> None:
    file = tmp_path / "all.csv"
    run(*SWEEP, "--out", str(file))
    expected = swept_rows([RADIUS, STOPS], best=["tipping max"])
    found = read(file)
    assert [float(r[3]) for r in found[1:]] == pytest.approx([r[3] for r in expected[1:]], rel=1e-9)


def test_a_sheet_that_is_full_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "LONGEST_SHEET", 20)
    file = tmp_path / "all.xlsx"
    refused = run(*SWEEP, "--out", str(file))
    assert refused.exit_code == 2
    assert "a sheet holds 20 rows" in " ".join(refused.stderr.split())
    assert not file.exists()
    kept = run(*SWEEP, "--keep", "top-speed > 0.1 m/s", "--out", str(file))
    assert "12 more had no room in a sheet" in " ".join(kept.stdout.split())
    assert len(read(file)) == 21


@pytest.mark.parametrize(("option", "name"), [("--out", "a.csv"), ("--chart", "a.svg")])
def test_nothing_is_overwritten_unless_asked(tmp_path: Path, option: str, name: str) -> None:
    file = tmp_path / name
    file.write_text("mine", encoding="utf-8")
    refused = run(*SWEEP, option, str(file))
    assert (refused.exit_code, file.read_text(encoding="utf-8")) == (2, "mine")
    assert "is there already" in refused.stderr
    assert run(*SWEEP, option, str(file), "--overwrite").exit_code == 0
    assert file.read_text(encoding="utf-8") != "mine"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--out", "a.txt"), "its ending says no format"),
        (("--chart", "a.pdf"), "its ending says no format"),
        (("--out", "no/such/folder/a.csv"), "its folder does not exist"),
        (("--cluster", "nowhere"), "no scheduler answers there"),
    ],
)
def test_what_cannot_be_written_or_reached_is_said_before_the_work(
    words: tuple[str, ...], message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("dryfit.studies.cluster.WAIT", 0.3)
    result = run(*SWEEP, *words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert message in " ".join(result.stderr.split())
    assert list(tmp_path.iterdir()) == []


def test_a_failed_sweep_leaves_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError

    monkeypatch.setattr("dryfit.jobs.sweep.run_prepared", broken)
    assert isinstance(run(*SWEEP, "--out", str(tmp_path / "a.csv")).exception, RuntimeError)
    assert list(tmp_path.iterdir()) == []


def test_ends_with_1_if_nothing_is_left_and_says_what_excludes_it() -> None:
    result = run(*SWEEP, "--keep", "top-speed >= 5 m/s", "--keep", "fits-the-door")
    words = " ".join(result.stdout.split())
    assert result.exit_code == 1
    assert "Nothing is left of 32 machines. No machine meets top-speed >= 5 m/s; the nearest has 1.17 m/s" in words


@pytest.mark.parametrize("width", [60, 80, 100])
def test_the_page_keeps_to_its_width(width: int) -> None:
    out = run(*SWEEP, "--keep", "all", width=width).stdout
    long = [line for line in out.splitlines() if len(line) > width]
    # a command is never broken, so that it can be copied
    assert all(line.startswith("dryfit ") for line in long)


def test_what_was_taken_as_best_is_said() -> None:
    words = "Taken as the best: the largest tips-when-braking."
    assert words in run("sweep", SUNBLOOM, "--vary", RADIUS, "--best", "tips-when-braking").stdout
    assert words not in run("sweep", SUNBLOOM, "--vary", RADIUS, "--best", "tips-when-braking max").stdout


def keys(shape: str) -> set[str]:
    """Keys that a section of docs/json.md lists."""
    body = SHAPES.partition(f"## {shape}")[2].partition("\n## ")[0]
    return {
        key.strip("` ") for line in body.splitlines() if line.startswith("| `") for key in line.split("|")[1].split(",")
    }


def test_json_has_the_shape_described() -> None:
    out = run(*SWEEP, "--keep", "all", "--keep", "top-speed >= 0.6 m/s", "--rows", "3", "--json").stdout
    told = json.loads(out)
    assert set(told) == keys("`dryfit sweep --json`") | {"dryfit", "version"}
    assert told["dryfit"] == "sweep"
    assert all(set(row) == keys("A machine of a sweep") for row in told["table"])
    assert len(told["table"]) == 3
    assert (told["machines"], told["done"], told["kept"]) == (32, 32, told["conditions"][1]["with_those_above"])


PANELS = (
    "sweep", SUNBLOOM, "--vary", RADIUS, "--vary", "body.parts[7].mass=0.5..1.5 kg:0.1 kg", "--vary", STOPS,
    "--best", "tipping max", "--best", "mass min", "--keep", "all",
)  # fmt: skip


@pytest.mark.parametrize("ending", [".svg", ".png"])
def test_charts_repeat_byte_for_byte(tmp_path: Path, ending: str) -> None:
    files = [tmp_path / f"{name}{ending}" for name in "ab"]
    for file in files:
        assert run(*PANELS, "--chart", str(file)).exit_code == 0
    first, second = (f.read_bytes() for f in files)
    assert first == second
    assert len(first) > 20_000


def test_a_chart_has_a_panel_for_each_axis_a_map_and_the_front(tmp_path: Path) -> None:
    file = tmp_path / "a.svg"
    run(*PANELS, "--chart", str(file))
    svg = file.read_text(encoding="utf-8")
    # two wishes along three axes, a map of the two numbers, the front
    assert [f'id="axes_{n}"' in svg for n in range(1, 10)] == [True] * 8 + [False]
    words = (
        "Sunbloom",
        "wheels circle radius, mm",
        "tipping, m/s²",
        "mass, kg",
        "ramped",
        "largest",
        "least",
    )
    # the outlines of letters are drawn; what they say stands beside them as a remark
    assert all(f"<!-- {w} -->" in svg for w in words)


def test_a_chart_of_nothing_says_so(tmp_path: Path) -> None:
    file = tmp_path / "a.svg"
    assert run(*SWEEP, "--keep", "top-speed >= 5 m/s", "--chart", str(file)).exit_code == 1
    assert "<!-- no machine is kept -->" in file.read_text(encoding="utf-8")


def test_ctrl_c_keeps_what_is_done(tmp_path: Path) -> None:
    """The real command, interrupted when its file has begun to grow."""
    file = tmp_path / "all.csv"
    many = ("body.parts[7].mass=0.5..1.5 kg:0.001 kg", "base.wheels.circle_radius=250..400 mm:0.1 mm")
    process = subprocess.Popen(
        [sys.executable, "-c", "from dryfit.cli.main import main; main()", "sweep", SUNBLOOM,
         *(w for v in many for w in ("--vary", v)), "--best", "tipping", "--out", str(file)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )  # fmt: skip
    while process.poll() is None and not any(p.stat().st_size > 4096 for p in tmp_path.iterdir()):
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate()
    assert process.returncode == 130, err
    assert "Stopped after" in out
    rows = read(file)
    done = int(out.partition("Stopped after ")[2].split()[0].replace(",", ""))
    assert len(rows) == done + 1 < 1_502_501
    assert [int(r[0]) for r in rows[1:]] == list(range(done))
    assert list(tmp_path.iterdir()) == [file]
