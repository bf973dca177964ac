"""The body section: shapes, poses, repetition, meshes, and everything that can be wrong with them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from dryfit.design.sections.body import Body
from dryfit.ground.quantity import Kind, Origin, Quantity
from dryfit.machine.body import resolve_body
from dryfit.machine.ledger import Ledger
from dryfit.machine.parts import Parts

BOX: dict[str, Any] = {"name": "box", "shape": "box", "size": ["100 mm", "200 mm", "300 mm"], "mass": "2 kg"}


def resolved(*parts: dict[str, Any], folder: Path = Path(), **body: Any) -> tuple[Parts, Ledger]:
    ledger = Ledger()
    record = Body.model_validate({"parts": list(parts), **body})
    return resolve_body(record, ledger, folder), ledger


def only_fault(ledger: Ledger) -> str:
    assert len(ledger.faults) == 1, [str(f) for f in ledger.faults]
    return str(ledger.faults[0])


def test_a_ring_of_three_is_written_once_and_balances() -> None:
    parts, ledger = resolved(
        BOX | {"at": ["0 mm", "0 mm", "90 mm"], "ring": {"count": "3", "radius": "300 mm", "first": "90 deg"}}
    )
    assert not ledger.faults
    assert parts.names == ("box 1", "box 2", "box 3")
    np.testing.assert_allclose(parts.centre[0], [0, 0.3, 0.09], atol=1e-15)
    np.testing.assert_allclose(np.mean(parts.centre, axis=0), [0, 0, 0.09], atol=1e-15)
    # turned along: the first one's own x points outwards, to +y
    np.testing.assert_allclose(parts.rotation[0, :, 0], [0, 1, 0], atol=1e-15)
    np.testing.assert_allclose(parts.high[0] - parts.low[0], [0.2, 0.1, 0.3])


def test_a_ring_that_is_not_turned_keeps_its_axes() -> None:
    ring = {"count": "3", "radius": "300 mm", "turned_along": "no"}
    parts, _ = resolved(BOX | {"ring": ring})
    np.testing.assert_allclose(parts.rotation, np.broadcast_to(np.eye(3), (3, 3, 3)), atol=1e-15)


def test_a_grid_stands_about_its_middle() -> None:
    parts, _ = resolved(
        BOX | {"at": ["10 mm", "0 mm", "0 mm"], "grid": {"count": ["2", "3"], "spacing": ["100 mm", "50 mm"]}}
    )
    assert len(parts.names) == 6
    np.testing.assert_allclose(parts.centre[0], [-0.04, -0.05, 0])
    np.testing.assert_allclose(np.mean(parts.centre, axis=0), [0.01, 0, 0], atol=1e-15)


def test_children_of_a_repeated_part_are_repeated_with_it() -> None:
    unit = BOX | {"name": "unit", "ring": {"count": "3", "radius": "300 mm"}}
    motor = BOX | {"name": "motor", "parent": "unit", "at": ["50 mm", "0 mm", "0 mm"]}
    parts, _ = resolved(motor, unit)
    motors = [i for i, n in enumerate(parts.names) if n.startswith("motor")]
    assert len(motors) == 3
    np.testing.assert_allclose(np.hypot(*parts.centre[motors, :2].T), 0.35)


def test_mass_from_volume_density_and_fill() -> None:
    printed = {
        "name": "block",
        "shape": "box",
        "size": ["100 mm"] * 3,
        "density": "1.2 g/cm3",
        "made": "printed",
        "fill": "25 %",
    }
    solid = {
        "name": "bar",
        "shape": "rod",
        "diameter": "20 mm",
        "length": "1 m",
        "material": "steel-c45-drawn",
        "made": "cut",
    }
    parts, ledger = resolved(printed, solid)
    np.testing.assert_allclose(parts.mass, [0.3, np.pi * 1e-4 * 7850])
    assert parts.known_by == ("volume", "volume")
    assert parts.spread == (0.15, 0.15)
    assert ledger.origins["body.parts[1].density"].kind is Kind.CATALOGUE


def test_profile_by_the_metre() -> None:
    parts, ledger = resolved({"name": "rail", "profile": "slot-30", "length": "500 mm"})
    assert not ledger.faults
    assert parts.known_by == ("length",)
    np.testing.assert_allclose(parts.high[0] - parts.low[0], [0.03, 0.03, 0.5])


def test_spread_weighed_guessed_and_typed() -> None:
    parts, _ = resolved(
        BOX, BOX | {"name": "b", "guessed": "yes"}, BOX | {"name": "c", "mass": "2 kg ± 10 %"}, {"name": "d"}
    )
    assert parts.spread == (0.02, 0.4, pytest.approx(0.1), 0.4)
    assert parts.known_by[-1] == "guessed"


def test_the_centre_can_be_told() -> None:
    parts, _ = resolved(BOX | {"centre": ["0 mm", "0 mm", "-40 mm"], "turned": ["90 deg", "0 deg", "0 deg"]})
    np.testing.assert_allclose(parts.centre[0], [0, 0.04, 0], atol=1e-15)


def test_a_turned_bar_reaches_no_further_than_it_does() -> None:
    bar = {"name": "bar", "shape": "cylinder", "diameter": "100 mm", "length": "200 mm", "mass": "1 kg"}
    parts, _ = resolved(bar | {"turned": ["0 deg", "45 deg", "0 deg"]})
    reach = 0.1 * np.sqrt(0.5) + 0.05 * np.sqrt(0.5)
    np.testing.assert_allclose(parts.high[0], [reach, 0.05, reach])


def test_without_parts_a_rough_body_with_listed_defaults() -> None:
    parts, ledger = resolved(rough={"mass": "26 kg"})
    assert not ledger.faults
    np.testing.assert_allclose(parts.mass, [26.0])
    np.testing.assert_allclose(parts.centre[0], [0, 0, 0.4])
    np.testing.assert_allclose([parts.low[0, 2], parts.high[0, 2]], [0, 1.2], atol=1e-15)
    assert ledger.origins["body.rough.centre_height"].kind is Kind.DEFAULT


def test_a_batch_equals_the_loop() -> None:
    def number(values: Any) -> Quantity:
        return Quantity(values, "any", Origin(Kind.DESIGN))

    def body(mass: Any, radius: Any, angle: Any, wall: Any, z: Any) -> Parts:
        ledger = Ledger()
        record = Body.model_validate(
            {
                "parts": [
                    BOX | {"mass": number(mass),
                           "ring": {"count": "3", "radius": number(radius), "first": number(angle)}},
                    {"name": "tube", "shape": "tube", "diameter": "60 mm", "wall": number(wall), "length": "1 m",
                     "density": "2.7 g/cm3", "at": ["0 mm", "0 mm", number(z)],
                     "turned": [number(angle), "0 deg", "0 deg"]},
                    BOX | {"name": "child", "parent": "tube", "at": ["0 mm", "10 mm", number(z)]},
                ]
            }
        )  # fmt: skip
        parts = resolve_body(record, ledger, Path())
        assert not ledger.faults
        return parts

    rng = np.random.default_rng(2)
    given = [rng.uniform(*limits, 6) for limits in ((1, 3), (0.1, 0.4), (-1, 1), (0.001, 0.004), (0.2, 1))]
    together = body(*given)
    for k in range(6):
        alone = body(*(float(g[k]) for g in given))
        for field in ("mass", "centre", "inertia", "low", "high", "position", "rotation"):
            whole, part = getattr(together, field), getattr(alone, field)
            one = whole[k] if whole.ndim > part.ndim else whole
            np.testing.assert_allclose(one, part, rtol=1e-12, atol=1e-13, err_msg=field)


def test_parents_in_a_loop_are_named_as_a_chain() -> None:
    _, ledger = resolved(
        *(BOX | {"name": n, "parent": p} for n, p in (("hub", "stem"), ("stem", "base"), ("base", "hub")))
    )
    assert "loop: hub → stem → base → hub" in only_fault(ledger)


def test_unknown_parent_gets_the_nearest_name() -> None:
    _, ledger = resolved(BOX | {"name": "stem"}, BOX | {"name": "hub", "parent": "stm"})
    assert "did you mean stem?" in only_fault(ledger)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (BOX | {"ring": {"count": "0", "radius": "1 mm"}}, "cannot be repeated"),
        (BOX | {"ring": {"count": "1000000", "radius": "1 mm"}}, "cannot be repeated"),
        (BOX | {"grid": {"count": ["2", "2"], "spacing": ["1 mm"]}}, "2 counts, but 1 spacings"),
        (BOX | {"material": "unobtainium"}, "no row of the catalogue's materials"),
        (
            {"name": "t", "shape": "tube", "diameter": "20 mm", "wall": "10 mm", "length": "1 m"},
            "nothing hollow is left",
        ),
        ({"name": "p", "profile": "slot-31", "length": "1 m"}, "no row of the catalogue's profiles"),
        (BOX | {"at": ["0 mm", "0 mm", "100 m"]}, "no part of a show robot measures that"),
        (BOX | {"size": ["100 m", "1 m", "1 m"]}, "no part of a show robot measures that"),
        (BOX | {"mass": "9000 kg"}, "no part of a show robot measures that"),
        (BOX | {"mesh": "/etc/box.stl", "shape": None}, "not by a full path"),
        (BOX | {"mesh": "../box.stl", "shape": None}, "must lie in the folder"),
        (BOX | {"mesh": "box.obj", "shape": None}, "is an STL file"),
        (BOX | {"mesh": "nothing.stl", "shape": None}, "no such file"),
    ],
)
def test_faults_are_said_plainly(part: dict[str, Any], words: str, tmp_path: Path) -> None:
    _, ledger = resolved({k: v for k, v in part.items() if v is not None}, folder=tmp_path)
    assert words in only_fault(ledger)


def test_two_parts_of_one_name_and_far_too_many() -> None:
    _, ledger = resolved(BOX, BOX)
    assert "two parts of one name" in only_fault(ledger)
    unit = BOX | {"name": "unit", "ring": {"count": "400", "radius": "1 m"}}
    _, ledger = resolved(unit, BOX | {"parent": "unit", "ring": {"count": "400", "radius": "1 m"}})
    assert "more than 500 parts" in only_fault(ledger)


def mesh_part(**changes: Any) -> dict[str, Any]:
    return {"name": "block", "mesh": "block.stl", "density": "1 g/cm3", **changes}


def block(tmp_path: Path, scale: float = 1.0) -> trimesh.Trimesh:
    mesh = trimesh.creation.box(extents=np.array([100.0, 200.0, 300.0]) * scale)
    mesh.apply_translation(np.array([10.0, 0, 50]) * scale)
    mesh.export(tmp_path / "block.stl")
    return mesh


def test_a_mesh_weighs_what_it_encloses(tmp_path: Path) -> None:
    block(tmp_path)
    parts, ledger = resolved(mesh_part(), folder=tmp_path)
    assert not ledger.faults
    np.testing.assert_allclose(parts.mass, [6.0])
    np.testing.assert_allclose(parts.centre[0], [0.01, 0, 0.05], atol=1e-12)
    np.testing.assert_allclose(np.diag(parts.inertia[0]), 0.5 * np.array([0.13, 0.10, 0.05]), rtol=1e-9)
    np.testing.assert_allclose(parts.high[0], [0.06, 0.1, 0.2])


def test_a_mesh_in_another_unit_is_told_so(tmp_path: Path) -> None:
    block(tmp_path, 1e-3)
    _, ledger = resolved(mesh_part(), folder=tmp_path)
    assert "mesh_unit: m (300 mm long)" in only_fault(ledger)
    parts, ledger = resolved(mesh_part(mesh_unit="m"), folder=tmp_path)
    assert not ledger.faults
    np.testing.assert_allclose(parts.mass, [6.0], rtol=1e-6)


def test_a_mesh_typed_in_metres_but_drawn_in_millimetres(tmp_path: Path) -> None:
    block(tmp_path)
    _, ledger = resolved(mesh_part(mesh_unit="m"), folder=tmp_path)
    assert "mesh_unit: mm (300 mm long)" in only_fault(ledger)


def test_a_mesh_in_inches_reads_as_a_few_millimetres_and_must_say_so(tmp_path: Path) -> None:
    block(tmp_path, 1 / 25.4)
    _, ledger = resolved(mesh_part(), folder=tmp_path)
    assert "mesh_unit: in (300 mm long)" in only_fault(ledger)
    parts, ledger = resolved(mesh_part(mesh_unit="in"), folder=tmp_path)
    assert not ledger.faults
    np.testing.assert_allclose(parts.mass, [6.0], rtol=1e-6)
    parts, ledger = resolved(mesh_part(mesh_unit="mm"), folder=tmp_path)
    assert not ledger.faults


def test_a_mesh_with_a_hole(tmp_path: Path) -> None:
    mesh = block(tmp_path)
    mesh.update_faces(np.arange(len(mesh.faces)) > 0)
    mesh.export(tmp_path / "block.stl")
    _, ledger = resolved(mesh_part(), folder=tmp_path)
    assert "not watertight" in only_fault(ledger)


def test_a_mesh_inside_out(tmp_path: Path) -> None:
    mesh = block(tmp_path)
    mesh.invert()
    mesh.export(tmp_path / "block.stl")
    _, ledger = resolved(mesh_part(), folder=tmp_path)
    assert "inside out" in only_fault(ledger)


@pytest.mark.parametrize(
    "content", [b"", b"solid nothing\nendsolid nothing\n", b"\x00" * 100, b"not a mesh at all" * 20]
)
def test_a_file_that_is_no_mesh(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "block.stl").write_bytes(content)
    _, ledger = resolved(mesh_part(), folder=tmp_path)
    assert "export it again" in only_fault(ledger)


def test_a_file_of_more_than_50_mb_is_not_even_opened(tmp_path: Path) -> None:
    with (tmp_path / "block.stl").open("wb") as file:
        file.truncate(50_000_001)
    _, ledger = resolved(mesh_part(), folder=tmp_path)
    assert "at most 50 MB" in only_fault(ledger)
