"""Volume, centre and inertia of meshes, and whether they are closed, against a mesh library run live.

Source: trimesh (package `trimesh`), `Trimesh.volume`, `.center_mass`, `.moment_inertia`, `.is_watertight`,
`.is_winding_consistent`. Status: library, run live. It integrates over the faces by another formula than ours (products
of projected areas), so agreement is no accident.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from dryfit.machine.meshes import MeshError, _closed, enclosed, mesh_solid

EXAMPLES = Path(__file__).parents[2] / "examples"
FILES = sorted(EXAMPLES.glob("*/meshes/*.stl"))


def turned_box() -> trimesh.Trimesh:
    box = trimesh.creation.box(extents=(0.2, 0.05, 0.11))
    box.apply_transform(trimesh.transformations.rotation_matrix(0.7, (1, 2, -0.5), (0.1, 0, 0.3)))
    return box


def hollow_ball() -> trimesh.Trimesh:
    inner = trimesh.creation.icosphere(subdivisions=3, radius=0.07)
    inner.invert()
    return trimesh.util.concatenate([trimesh.creation.icosphere(subdivisions=3, radius=0.1), inner])


SHAPES = {
    "torus": lambda: trimesh.creation.torus(0.2, 0.03),
    "turned box": turned_box,
    "far away": lambda: trimesh.creation.cylinder(0.03, 0.4).apply_translation((1.5, -0.8, 1.1)),
    "hollow ball": hollow_ball,
    "tube": lambda: trimesh.creation.annulus(0.04, 0.05, 0.9),
}


def the_same(mesh: trimesh.Trimesh, rel: float = 1e-9) -> None:
    volume, centre, inertia = enclosed(np.asarray(mesh.triangles))
    size = float(np.max(mesh.extents))
    assert volume == pytest.approx(mesh.volume, rel=rel)
    np.testing.assert_allclose(centre, mesh.center_mass, atol=rel * size)
    np.testing.assert_allclose(inertia, mesh.moment_inertia, atol=rel * float(np.max(mesh.moment_inertia)))


@pytest.mark.parametrize("shape", SHAPES)
def test_shapes(shape: str) -> None:
    mesh = SHAPES[shape]()
    the_same(mesh)
    assert mesh.is_watertight
    assert _closed(np.asarray(mesh.triangles))


@pytest.mark.parametrize("file", FILES, ids=lambda f: f"{f.parts[-3]}-{f.stem}")
def test_meshes_of_the_examples(file: Path) -> None:
    mesh = trimesh.load_mesh(file)
    the_same(mesh, rel=1e-7)
    solid = mesh_solid(file, "mm")
    assert solid.volume == pytest.approx(mesh.volume * 1e-9, rel=1e-6)
    inertia = mesh.moment_inertia / mesh.volume * 1e-6
    np.testing.assert_allclose(solid.moments, np.diag(inertia), rtol=1e-6)
    np.testing.assert_allclose(solid.products, inertia[(0, 0, 1), (1, 2, 2)], atol=1e-6 * float(np.max(inertia)))


def test_a_mesh_with_a_hole_is_open_to_both(tmp_path: Path) -> None:
    whole = trimesh.creation.torus(200, 30)
    open_mesh = trimesh.Trimesh(whole.vertices, whole.faces[3:], process=False)
    assert not open_mesh.is_watertight
    assert not _closed(np.asarray(open_mesh.triangles))
    open_mesh.export(tmp_path / "open.stl")
    with pytest.raises(MeshError, match="holes"):
        mesh_solid(tmp_path / "open.stl", "mm")


def test_a_mesh_inside_out_has_a_negative_volume_for_both(tmp_path: Path) -> None:
    mesh = trimesh.creation.torus(200, 30)
    mesh.invert()
    assert mesh.volume < 0
    assert enclosed(np.asarray(mesh.triangles))[0] == pytest.approx(mesh.volume, rel=1e-9)
    assert _closed(np.asarray(mesh.triangles))
    mesh.export(tmp_path / "inside_out.stl")
    with pytest.raises(MeshError, match="inside out"):
        mesh_solid(tmp_path / "inside_out.stl", "mm")


def test_one_face_turned_over_is_not_closed_to_us_as_its_winding_is_not_consistent_to_the_library() -> None:
    mesh = trimesh.creation.box(extents=(1, 1, 1))
    faces = np.array(mesh.faces)
    faces[0] = faces[0][::-1]
    spoiled = trimesh.Trimesh(mesh.vertices, faces, process=False)
    assert not spoiled.is_winding_consistent
    assert not _closed(np.asarray(spoiled.triangles))
