"""Everything that can be wrong with the input, from the command line: a message that says what and where, exit code 2,
nothing on the standard output, no trace of the program's inside, and nothing written.

The list of what goes wrong is the commission's own; the messages are ours, and asserted so that they stay.
"""

from __future__ import annotations

import json
import os
import struct
from pathlib import Path
from typing import Any

import pytest
import trimesh
from typer.testing import CliRunner

from dryfit.cli.main import app

PART = "body: {{parts: [{{name: a, shape: box, size: [90 mm, 90 mm, 90 mm], mass: 2 kg, {0}}}]}}\n"
MESH = "body: {{parts: [{{name: a, mass: 2 kg, mesh: {0}}}]}}\n"


def run(*words: str) -> Any:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": "100"})


def refusal(design: Path, argument: str = "") -> str:
    """What is said about a design, after seeing that this is all that happens."""
    folder = design.parent
    before = {p: p.stat().st_mtime_ns for p in folder.rglob("*")}
    for command in (("check",), ("why",)):
        words = [*command, argument or str(design), *(("tilt-board",) if command == ("why",) else ())]
        result = run(*words)
        assert result.exit_code == 2, result.stdout
        assert result.stdout == ""
        assert "Traceback" not in result.stderr
        assert isinstance(result.exception, SystemExit)
        told = run(*words, "--json")
        assert told.exit_code == 2
        assert told.stderr == ""
        faults = json.loads(told.stdout)["faults"]
        assert faults
        assert all(f["message"] for f in faults)
    assert {p: p.stat().st_mtime_ns for p in folder.rglob("*")} == before
    return " ".join(result.stderr.split())


def said(text: str | bytes, folder: Path) -> str:
    """What is said about a text as a design file."""
    design = folder / "design.yaml"
    design.write_bytes(text if isinstance(text, bytes) else text.encode())
    return refusal(design)


WRONG = {
    "wrong unit": (
        "name: a\nbrief:\n  speed: 3 kg\n",
        "design.yaml:3 brief.speed 'kg' is not a unit of a speed read: 3 kg accepted: a number with one of",
    ),
    "no unit": ("brief: {slope: 3}\n", "design.yaml:1 brief.slope an angle needs its unit read: 3 accepted:"),
    "kg·cm meant, Hz typed": ("base: {motor: {free_speed: 5 Hz}}\n", "'Hz' is not a unit of a turn rate"),
    "decimal comma": ("base: {motor: {stall_torque: '2,5 N*m'}}\n", "decimals take a point"),
    "decimal comma in a list": ("body: {parts: [{name: a, size: [1,5 mm, 2 mm]}]}\n", "body.parts[0].size"),
    "unknown key": ("brief: {slop: 3 deg}\n", "brief.slop unknown key; did you mean slope?"),
    "unknown section": ("bodi: {}\n", "bodi unknown key; did you mean body?"),
    "key in the wrong group": ("base: {pinion_teeth: 20}\n", "it belongs in base.gears"),
    "key twice": ("name: a\nname: b\n", "design.yaml:2"),
    "unknown row": ("base: {motor: {item: gearmotor-12v-300rpm-3n}}\n", "did you mean gearmotor-12v-300rpm-3nm"),
    "unknown word": (
        "base: {wheels: {layout: three omnis}}\n",
        "not one of the accepted words; did you mean three omni",
    ),
    "unknown reserve": (
        "name: a\nreserves: {tips-when-breaking: 5 %}\n",
        "no such check; did you mean tips-when-braking",
    ),
    "empty value": ("brief:\n  speed:\n", "design.yaml:2 brief.speed nothing is written behind this key"),
    "no wheels": ("base: {wheels: {count: 0}}\n", "base.wheels.count a machine without wheels cannot drive"),
    "no wheels in a list": ("base: {wheels: {layout: custom, each: []}}\n", "a machine without wheels cannot drive"),
    "half a wheel": ("base: {wheels: {count: 2.5}}\n", "base.wheels.count not a whole number"),
    "negative mass": (
        PART.format("").replace("2 kg", "-2 kg"),
        "body.parts[0].mass must be more than zero read: -2 kg",
    ),
    "three wheels in a line": (
        "base: {wheels: {layout: custom, each: [{at: [0 m, -0.2 m]}, {at: [0 m, 0 m]}, {at: [0 m, 0.2 m]}]}}\n",
        "base.wheels all wheels stand in one line: it would fall over",
    ),
    "a gear with 3 teeth": (
        "base: {gears: [{pinion_teeth: 3, gear_teeth: 40}]}\n",
        "base.gears[0].pinion_teeth too few teeth for an involute gear read: 3 accepted: 6 or more",
    ),
    "a rail above its source": (
        "power: {branches: [{name: a, regulator: {type: step-down, output: 24 V}, feeds: logic}]}\n",
        "power.branches[0].regulator.output a rail above its source",
    ),
    "a loop in parents": (
        "body: {parts: [{name: a, parent: b, shape: box, size: [9 mm, 9 mm, 9 mm]}, "
        "{name: b, parent: a, shape: box, size: [9 mm, 9 mm, 9 mm]}]}\n",
        "body.parts[0].parent parents go round in a loop: a → b → a",
    ),
    "a part on itself": (PART.format("parent: a"), "parents go round in a loop"),
    "a parent that is not there": (PART.format("parent: b"), "body.parts[0].parent"),
    "a loop in branches": (
        "power: {branches: [{name: a, from: b}, {name: b, from: a}]}\n",
        "the branches run in a loop",
    ),
    "a mesh that is missing": (MESH.format("none.stl"), "body.parts[0].mesh no such file read: none.stl"),
    "a mesh elsewhere": (MESH.format("../none.stl"), "must lie in the folder of the design file"),
    "a mesh by full path": (MESH.format("/etc/passwd"), "not by a full path"),
    "a mesh of another kind": (MESH.format("design.yaml"), "a mesh is an STL file"),
    "a mesh with an endless name": (MESH.format("n" * 300 + ".stl"), "this cannot be the name of a file"),
    "a mesh with a nought in its name": (MESH.format('"a\\0.stl"'), "this cannot be the name of a file"),
    "not a number": ("brief: {speed: nan}\n", "not a finite number"),
    "not a number to YAML": ("brief: {speed: .nan}\n", "brief.speed not a finite number"),
    "endless": ("brief: {speed: .inf m/s}\n", "not a finite number"),
    "1e400": ("brief: {speed: 1e400 m/s}\n", "brief.speed not a finite number read: 1e400 m/s"),
    "1e300": ("brief: {speed: 1e300 m/s}\n", "too large to be meant"),
    "a reference": ("name: &a x\nbrief: {floor: *a}\n", "references (*name) are not read; write the value out"),
    "a bomb": (
        "a: &a [x, x, x]\n"
        + "".join(f"{b}: &{b} [*{a}, *{a}, *{a}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True)),
        "references (*name) are not read",
    ),
    "a tag that would run": ("name: !!python/object/apply:os.system [ls]\n", "type marks (!name) are not read"),
    "a merge": ("brief: {<<: {slope: 3 deg}}\n", "design.yaml:1"),
    "a hole without a bottom": ("a: " + "[" * 60 + "]" * 60 + "\n", "nest deeper than 12"),
    "a very long line": ("name: " + "x" * 100_000 + "\n", "this line has 100,006 characters"),
    "two documents": ("name: a\n---\nname: b\n", "design.yaml:2"),
    "a tab": ("brief:\n\tspeed: 3 m/s\n", "design.yaml:2"),
    "an open bracket": ("brief: {speed: 3 m/s\n", "design.yaml:"),
    "a list instead": ("- a\n- b\n", "design.yaml:1"),
    "a word instead": ("hello\n", "design.yaml:1"),
    "nothing": ("", "holds no design; see the examples for a start"),
}


@pytest.mark.parametrize("case", WRONG)
def test_what_is_wrong_is_said(case: str, tmp_path: Path) -> None:
    text, message = WRONG[case]
    assert message in said(text, tmp_path)


def test_faults_come_all_at_once(tmp_path: Path) -> None:
    words = said("brief: {speed: 3, slop: 3 deg}\nbody: {parts: [{mass: -2 kg}]}\n", tmp_path)
    for key in ("brief.speed", "brief.slop", "body.parts[0].mass", "body.parts[0].name"):
        assert key in words


@pytest.mark.parametrize("data", [b"\x00\x01\x02\xff" * 100, b"\x7fELF\x02\x01", "name: Bl\xfcte".encode("latin-1")])
def test_a_file_that_is_no_text(data: bytes, tmp_path: Path) -> None:
    assert "design.yaml" in said(data, tmp_path)


def test_a_file_of_50_megabytes(tmp_path: Path) -> None:
    design = tmp_path / "design.yaml"
    with design.open("wb") as stream:
        stream.truncate(50_000_000)
    assert "too large for a design: 50.0 MB accepted: up to 1 MB" in refusal(design)


def test_a_folder_without_a_design(tmp_path: Path) -> None:
    (tmp_path / "x").mkdir()
    assert f"{tmp_path}/x/design.yaml no such file" in refusal(tmp_path / "x" / "design.yaml", str(tmp_path / "x"))


@pytest.mark.parametrize("name", ["nowhere.yaml", "n" * 300, "design.yaml/below"])
def test_a_file_that_is_not_there(name: str, tmp_path: Path) -> None:
    (tmp_path / "design.yaml").write_text("name: a\n", encoding="utf-8")
    assert name[:40] in refusal(tmp_path / "design.yaml", str(tmp_path / name))


def test_a_device_instead_of_a_file(tmp_path: Path) -> None:
    assert "not a plain file" in refusal(tmp_path / "design.yaml", "/dev/zero")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="nothing is unreadable to the superuser")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    design = tmp_path / "design.yaml"
    design.write_text("name: a\n", encoding="utf-8")
    design.chmod(0)
    assert "cannot be read: Permission denied" in refusal(design)


def test_a_file_that_fails_while_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object, **__: object) -> object:
        raise PermissionError(13, "Permission denied")

    (tmp_path / "design.yaml").write_text("name: a\n", encoding="utf-8")
    monkeypatch.setattr(Path, "open", fails)
    assert "cannot be read: Permission denied" in refusal(tmp_path / "design.yaml")


def box(size: float) -> trimesh.Trimesh:
    return trimesh.creation.box(extents=(size, size, size))


def meshed(mesh: trimesh.Trimesh | bytes, folder: Path, more: str = "") -> str:
    """What is said about a design with this mesh."""
    (folder / "a.stl").write_bytes(mesh if isinstance(mesh, bytes) else mesh.export(file_type="stl"))
    return said(MESH.format(f"a.stl{more}"), folder)


def test_a_mesh_with_a_hole(tmp_path: Path) -> None:
    whole = box(100)
    torn = trimesh.Trimesh(whole.vertices, whole.faces[:-1], process=False)
    assert "the surface has holes (it is not watertight)" in meshed(torn, tmp_path)


def test_a_mesh_drawn_in_inches(tmp_path: Path) -> None:
    """A box of 12 in, read as 12 mm, is asked about with both answers."""
    words = meshed(box(12), tmp_path)
    assert "body.parts[0].mesh" in words
    assert "mesh_unit: in (304.8 mm long)" in words


def test_a_mesh_drawn_in_millimetres_and_read_in_inches(tmp_path: Path) -> None:
    words = meshed(box(300), tmp_path, ", mesh_unit: in")
    assert "is no part of a show robot" in words
    assert "mesh_unit: mm (300 mm long)" in words


def test_a_mesh_inside_out(tmp_path: Path) -> None:
    turned = box(100)
    turned.invert()
    assert "the surface is inside out" in meshed(turned, tmp_path)


@pytest.mark.parametrize(
    "data",
    [
        b"", b"solid", b"solid a\nfacet normal 0 0 x\n", b"\xff" * 200, b"\0" * 84,
        b"\0" * 80 + struct.pack("<I", 2**32 - 1), b"\0" * 80 + struct.pack("<I", 12) + b"\0" * 99,
        b"\0" * 80 + struct.pack("<I", 1) + struct.pack("<12f", *[float("nan")] * 12) + b"\0\0",
    ],
    ids=["empty", "a word", "torn text", "noise", "no triangles", "a lie about its length", "torn", "no numbers"],
)  # fmt: skip
def test_a_mesh_that_is_none(data: bytes, tmp_path: Path) -> None:
    words = meshed(data, tmp_path)
    assert "body.parts[0].mesh" in words
    assert "export it again" in words or "is no part of a show robot" in words


def test_a_mesh_of_more_than_50_megabytes(tmp_path: Path) -> None:
    with (tmp_path / "a.stl").open("wb") as stream:
        stream.truncate(60_000_000)
    assert "the file has 60 MB; at most 50 MB are read" in said(MESH.format("a.stl"), tmp_path)


def test_a_link_that_leads_back_to_itself(tmp_path: Path) -> None:
    (tmp_path / "a.stl").symlink_to(tmp_path / "a.stl")
    design = tmp_path / "design.yaml"
    design.write_text(MESH.format("a.stl"), encoding="utf-8")
    result = run("check", str(design))
    assert (result.exit_code, result.stdout) == (2, "")
    assert "body.parts[0].mesh" in result.stderr


def test_a_missing_section_is_no_fault(tmp_path: Path) -> None:
    """Half a file must run: one word is enough for a verdict, with nothing written beside the file."""
    (tmp_path / "design.yaml").write_text("name: a\n", encoding="utf-8")
    result = run("check", str(tmp_path))
    assert result.exit_code == 1
    assert "checks" in result.stdout
    assert [p.name for p in tmp_path.iterdir()] == ["design.yaml"]


def test_values_and_catalogue_names_are_refused_in_one_pass(tmp_path: Path) -> None:
    """A wrong unit does not hide the misspelt catalogue name, nor the other way round."""
    text = "brief: {floor: tilez, slope: 5 %}\nbase: {wheels: {dia: 8 in}, motor: {item: gearmotr}}\n"
    words = said(text, tmp_path)
    assert "'%' is not a unit of an angle" in words
    assert "did you mean tiles" in words
    assert "base.wheels.dia unknown key" in words
    assert "no row of the catalogue's gearmotors named 'gearmotr'" in words
