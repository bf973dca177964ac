"""Layers: what holds for every solid, and many solids at once."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from dryfit.machine.printing import How
from dryfit.making import slicing_many
from dryfit.making.records_solids import Solid
from dryfit.making.slicing import Layers, SlicingError, sliced
from dryfit.making.slicing_many import sliced_many

HOW = How(0.4e-3, 0.2e-3, 0.45e-3, 3, 5, 4, 0.15, "best", False)
LENGTHS = ("outer_walls", "inner_walls", "solid", "fill", "solid_edge", "fill_edge", "stops", "box", "overhang", "area")


def lumps(seed: int, size: float = 0.015) -> Solid:
    """A ball with lumps, at times with a hole through it."""
    draw = np.random.default_rng(seed)
    ball = trimesh.creation.icosphere(subdivisions=3, radius=size)
    ball.vertices *= (1 + 0.25 * np.sin(ball.vertices @ draw.normal(0, 3 / size, 3)))[:, None]
    if seed % 2:
        hole = trimesh.creation.cylinder(size * draw.uniform(0.1, 0.4), 4 * size)
        ball = trimesh.boolean.difference([ball, hole], engine="manifold")
    return Solid(np.array(ball.vertices), np.array(ball.faces, dtype=np.int64))


def total(layers: Layers, name: str) -> float:
    return float(np.sum(getattr(layers, name)))


@settings(max_examples=12, deadline=None)
@given(
    seed=st.integers(0, 10_000), walls=st.integers(0, 5), top=st.integers(0, 6), bottom=st.integers(0, 6),
    fill=st.sampled_from([0.0, 0.1, 0.5, 1.0]),
)  # fmt: skip
def test_no_length_is_negative_and_none_is_counted_twice(
    seed: int, walls: int, top: int, bottom: int, fill: float
) -> None:
    solid = lumps(seed)
    layers = sliced(
        solid, replace(HOW, layer_height=0.4e-3, walls=walls, top_layers=top, bottom_layers=bottom, fill=fill)
    )
    for name in LENGTHS:
        values = getattr(layers, name)
        assert np.all(np.isfinite(values))
        assert np.all(values >= 0)
    assert np.all(layers.volume <= layers.area * layers.height * (1 + 1e-9) + 1e-15)
    if fill == 1:
        assert layers.volume == pytest.approx(layers.area * layers.height, rel=1e-6, abs=1e-14)


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 10_000), turn=st.floats(0, 2 * np.pi), x=st.floats(-1, 1), z=st.floats(-1, 1))
def test_turned_and_moved_on_the_bed_it_is_the_same_print(seed: int, turn: float, x: float, z: float) -> None:
    solid = lumps(seed)
    c, s = np.cos(turn), np.sin(turn)
    moved = Solid(solid.points @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]) + [x, 0, z], solid.faces)
    coarse = replace(HOW, layer_height=0.4e-3)
    one, other = sliced(solid, coarse), sliced(moved, coarse)
    for name in ("area", "outer_walls", "inner_walls", "solid", "fill"):
        # an outline may be thinned out at other points; a layer that is a speck may fall to either side
        assert total(other, name) == pytest.approx(total(one, name), rel=0.01, abs=0.01)


def test_more_of_anything_takes_more_material() -> None:
    solid = lumps(3)
    volume = float(np.sum(sliced(solid, HOW).volume))
    for more in ({"walls": 4}, {"top_layers": 8}, {"bottom_layers": 8}, {"fill": 0.3}):
        assert float(np.sum(sliced(solid, replace(HOW, **more)).volume)) > volume  # type: ignore[arg-type]


def test_equal_layers_are_found_whether_or_not_the_corners_say_so() -> None:
    """A bar whose long faces carry corners at odd heights has the same layers as one of twelve triangles."""
    plain = trimesh.creation.box((0.04, 0.03, 0.05))
    fine = plain.subdivide().subdivide()
    one, other = (sliced(Solid(np.array(m.vertices), np.array(m.faces, dtype=np.int64)), HOW) for m in (plain, fine))
    for name in LENGTHS:
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-9, abs=1e-12)
    assert len(np.unique(one.outlines.like)) == 2


def test_what_is_lower_than_a_layer_is_one_layer() -> None:
    flat = trimesh.creation.box((0.02, 0.02, 0.00008))
    layers = sliced(Solid(np.array(flat.vertices), np.array(flat.faces, dtype=np.int64)), HOW)
    assert len(layers.area) == 1
    assert layers.area[0] == pytest.approx(4e-4)


def test_an_open_surface_is_refused() -> None:
    box = trimesh.creation.box((0.02, 0.02, 0.02))
    with pytest.raises(SlicingError, match="does not close"):
        sliced(Solid(np.array(box.vertices), np.array(box.faces[:-1], dtype=np.int64)), HOW)


def test_several_processes_find_what_one_finds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(slicing_many, "MANY", 0)
    box = trimesh.creation.box((0.02, 0.02, 0.02))
    torn = Solid(np.array(box.vertices), np.array(box.faces[:-1], dtype=np.int64))
    jobs = [(lumps(1), HOW), (torn, HOW), (lumps(2), HOW)]
    alone, shared = list(sliced_many(jobs, 1)), list(sliced_many(jobs, 2))
    assert isinstance(alone[1], SlicingError)
    assert isinstance(shared[1], SlicingError)
    for one, other in ((alone[0], shared[0]), (alone[2], shared[2])):
        assert isinstance(one, Layers)
        assert isinstance(other, Layers)
        for field in fields(Layers):
            if field.name != "outlines":
                assert np.array_equal(getattr(one, field.name), getattr(other, field.name))
