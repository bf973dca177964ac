"""Sections, walls and covered areas of meshes, against two geometry libraries run live.

Sources: trimesh, `Trimesh.section` and `Path3D.discrete` (loops in which a plane cuts a mesh); shapely,
`Polygon.buffer` with mitred corners, intersection and difference (offsets and areas). Status: libraries, run live;
neither is used by the slicing itself.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from shapely.geometry.base import BaseGeometry

from dryfit.machine.printing import How
from dryfit.making.records_solids import Solid
from dryfit.making.slicing import sliced

EXAMPLES = Path(__file__).parents[2] / "examples"
HOW = How(0.4e-3, 0.4e-3, 0.45e-3, walls=2, top_layers=3, bottom_layers=2, fill=0.2, lay="best", structural=False)


def knot() -> trimesh.Trimesh:
    return trimesh.creation.torus(30, 8)


def lumpy() -> trimesh.Trimesh:
    ball = trimesh.creation.icosphere(subdivisions=4, radius=20)
    x, y, z = ball.vertices.T
    ball.vertices *= (1 + 0.15 * np.sin(5 * np.arctan2(y, x)) * np.cos(z / 8))[:, None]
    return ball


def hub() -> trimesh.Trimesh:
    mesh = trimesh.load(EXAMPLES / "sunbloom" / "meshes" / "hub.stl")
    assert isinstance(mesh, trimesh.Trimesh)
    return mesh


MESHES = {"ring": knot, "lumpy ball": lumpy, "hub": hub}


def section(mesh: trimesh.Trimesh, z: float) -> BaseGeometry:
    """The area inside the mesh at a height, with its holes."""
    cut = mesh.section(plane_origin=[0, 0, z], plane_normal=[0, 0, 1])
    if cut is None:
        return shapely.Polygon()
    loops = [shapely.Polygon(loop[:, :2]) for loop in cut.discrete if len(loop) > 3]
    area: BaseGeometry = shapely.Polygon()
    for loop in loops:  # a loop inside another is a hole
        area = area.symmetric_difference(loop)
    return area


def inwards(area: BaseGeometry, by: float) -> BaseGeometry:
    return area.buffer(-by, join_style="mitre", mitre_limit=2)


@pytest.mark.parametrize("name", MESHES)
def test_sections_walls_and_covered_areas(name: str) -> None:
    mesh = MESHES[name]()
    mesh.merge_vertices()
    layers = sliced(Solid(np.array(mesh.vertices) / 1e3, np.array(mesh.faces, dtype=np.int64)), HOW)
    low = mesh.bounds[0, 2]
    at = low + (np.arange(len(layers.area)) + 0.5) * 0.4
    for k in np.linspace(6, len(at) - 8, 5).astype(int):
        cuts = {j: section(mesh, at[j]) for j in range(k - 2, k + 4)}
        here = cuts[k]
        area = here.area
        scale = max(area, 50.0)
        assert layers.area[k] * 1e6 == pytest.approx(area, abs=2e-3 * scale)
        one, core = inwards(here, 0.45), inwards(here, 0.9)
        assert layers.outer_walls[k] * 1e3 == pytest.approx((area - one.area) / 0.45, rel=0.01)
        assert layers.inner_walls[k] * 1e3 == pytest.approx((one.area - core.area) / 0.45, rel=0.01)
        covered = shapely.intersection_all([core, *(cuts[j] for j in range(k - 2, k + 4) if j != k)])
        assert layers.solid[k] * 450 == pytest.approx(core.area - covered.area, abs=3e-3 * scale)
        assert layers.fill[k] * 450 == pytest.approx(0.2 * covered.area, abs=3e-3 * scale)
        hangs = here.difference(cuts[k - 1].buffer(0.45, join_style="mitre", mitre_limit=2)).area
        assert layers.overhang[k] * 1e6 == pytest.approx(hangs, abs=3e-3 * scale)


@pytest.mark.parametrize("name", MESHES)
def test_filled_throughout_it_has_the_volume_of_the_mesh(name: str) -> None:
    mesh = MESHES[name]()
    mesh.merge_vertices()
    how = How(0.4e-3, 0.2e-3, 0.45e-3, 2, 3, 2, 1.0, "best", False)
    layers = sliced(Solid(np.array(mesh.vertices) / 1e3, np.array(mesh.faces, dtype=np.int64)), how)
    assert np.sum(layers.volume) * 1e9 == pytest.approx(mesh.volume, rel=3e-3)
