"""What is printed as solids: shapes to size, meshes, and the pieces they are cut into."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from dryfit.machine.printed_things import PrintedThing
from dryfit.machine.printing import How
from dryfit.making.bodies import bodies_of, pieces, printed_bodies, thing_solid
from dryfit.making.records_solids import Solid
from dryfit.making.slicing import SlicingError

WAY = How(0.4e-3, 0.2e-3, 0.45e-3, 3, 5, 4, 0.15, "best", False)


def thing(
    shape: str, *size: float, wall: float = 0.0, mesh: Path | None = None, count: int = 1, **way: object
) -> PrintedThing:
    """A thing by its extent in mm."""
    x, y, z = (s / 1e3 for s in size)
    own = How(**{**WAY.__dict__, **way})
    return PrintedThing(
        "part", "body.parts[0]", 7, "base", shape, (x, y, z), wall / 1e3, mesh, 1e-3, count, "petg", own, False, 2.0
    )


def as_mesh(solid: Solid) -> trimesh.Trimesh:
    return trimesh.Trimesh(solid.points, solid.faces, process=False)


SHAPES = {
    "box": (thing("box", 60, 40, 20), 48e-6),
    "plate": (thing("plate", 60, 40, 3), 7.2e-6),
    "box section": (thing("box", 40, 40, 100, wall=2), (1600 - 36**2) * 100e-9),
    "cylinder": (thing("cylinder", 50, 50, 30), np.pi * 25**2 * 30e-9),
    "tube": (thing("tube", 50, 50, 30, wall=3), np.pi * (25**2 - 22**2) * 30e-9),
    "cone": (thing("cone", 60, 60, 40), np.pi * 30**2 * 40 / 3e9),
    "sphere": (thing("sphere", 50, 50, 50), np.pi / 6 * 50**3 * 1e-9),
    "hollow sphere": (thing("sphere", 50, 50, 50, wall=4), np.pi / 6 * (50**3 - 42**3) * 1e-9),
}


@pytest.mark.parametrize("name", SHAPES)
def test_a_shape_is_closed_and_has_its_size_and_volume(name: str) -> None:
    it, volume = SHAPES[name]
    mesh = as_mesh(thing_solid(it))
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(volume, rel=1e-6 if "sphere" not in name else 1e-3)
    assert np.ptp(mesh.vertices, axis=0) == pytest.approx(np.array(it.size), rel=2e-3)
    assert mesh.vertices.min(axis=0) == pytest.approx(-np.array(it.size) / 2, rel=2e-3)


def test_six_sectors_of_a_tube_are_one_body_six_times() -> None:
    it = thing("tube", 640, 640, 220, wall=4, sectors=6)
    (body,) = bodies_of(it)
    assert body.name == "part, sector"
    assert body.count == 6
    assert as_mesh(body.solid).volume == pytest.approx(as_mesh(thing_solid(it)).volume / 6, rel=1e-6)
    assert body.typed_mass == pytest.approx(2.0 / 6)
    size = np.ptp(body.solid.points, axis=0) * 1e3
    # chord of a sector of 60 degrees is the radius; the piece reaches from the inner circle's chord to the skin
    assert size == pytest.approx([320 - 316 * np.cos(np.pi / 6), 320, 220], abs=0.2)


def test_copies_and_spares_are_counted() -> None:
    assert [b.count for b in bodies_of(thing("box", 60, 40, 20, count=3, spares=1))] == [4]
    assert [b.count for b in bodies_of(thing("box", 60, 40, 20, count=3, spares=1, cuts=(2, 1, 1)))] == [8]
    assert bodies_of(thing("box", 60, 40, 20, count=0)) == ()


def test_halves_of_a_cone_are_two_bodies() -> None:
    found = bodies_of(thing("cone", 60, 60, 40, cuts=(1, 1, 2)))
    assert [(b.name, b.count) for b in found] == [("part, piece A", 1), ("part, piece B", 1)]
    assert sum(b.typed_mass for b in found) == pytest.approx(2.0)
    assert found[0].typed_mass == pytest.approx(2.0 * 7 / 8, rel=1e-3)  # the upper half of a cone is an eighth


def test_quarters_of_a_tube_are_one_body_four_times() -> None:
    found = bodies_of(thing("tube", 400, 400, 220, wall=4, cuts=(2, 2, 1)))
    assert [b.count for b in found] == [4]


def test_mirrored_pieces_stay_apart() -> None:
    """Halves of a lopsided block that are each other's mirror image cannot be the same print."""
    import manifold3d as kernel

    from dryfit.making.slicing import solid_of

    half = kernel.Manifold.cube([40, 30, 20]) + kernel.Manifold.cube([10, 8, 40]) + kernel.Manifold.cube([30, 5, 25])
    both = half.translate([0, 0.0, 0]) + half.mirror([0, 1, 0])
    assert [p.times for p in pieces("", solid_of(both), (1, 2, 1), 1)] == [1, 1]


@settings(max_examples=15, deadline=None)
@given(
    cuts=st.tuples(*[st.integers(1, 3)] * 3),
    size=st.tuples(*[st.floats(20, 200)] * 3),
    shape=st.sampled_from(["box", "cone"]),
)
def test_pieces_make_the_whole(cuts: tuple[int, int, int], size: tuple[float, float, float], shape: str) -> None:
    whole = thing_solid(thing(shape, size[0], size[0], size[2]))
    found = pieces("x", whole, cuts, 1)
    volume = sum(as_mesh(p.solid).volume * p.times for p in found)
    assert volume == pytest.approx(as_mesh(whole).volume, rel=1e-6)
    assert sum(p.share * p.times for p in found) == pytest.approx(1.0)
    if shape == "box":
        assert [p.times for p in found] == [int(np.prod(cuts))]


def test_a_mesh_is_read_in_its_own_unit(tmp_path: Path) -> None:
    file = tmp_path / "a.stl"
    trimesh.creation.box((2, 3, 4)).export(file)
    it = thing("mesh", 50.8, 76.2, 101.6, mesh=file)
    inches = PrintedThing(**{**it.__dict__, "mesh_unit": 0.0254})
    assert np.ptp(thing_solid(inches).points, axis=0) == pytest.approx([0.0508, 0.0762, 0.1016])


def test_blocks_that_touch_along_an_edge_can_still_be_cut(tmp_path: Path) -> None:
    file = tmp_path / "a.stl"
    one, other = trimesh.creation.box((20, 20, 20)), trimesh.creation.box((20, 20, 20))
    other.apply_translation((20, 20, 0))
    trimesh.util.concatenate([one, other]).export(file)
    found = printed_bodies([thing("mesh", 40, 40, 20, mesh=file, cuts=(1, 1, 2))])
    assert sum(as_mesh(b.solid).volume * b.count for b in found) == pytest.approx(16e-6, rel=1e-6)


def test_an_open_mesh_is_refused_with_what_to_do(tmp_path: Path) -> None:
    file = tmp_path / "a.stl"
    box = trimesh.creation.box((20, 20, 20))
    box.update_faces(np.arange(len(box.faces)) != 3)
    box.export(file)
    with pytest.raises(SlicingError, match="does not close"):
        bodies_of(thing("mesh", 20, 20, 20, mesh=file, cuts=(2, 1, 1)))
