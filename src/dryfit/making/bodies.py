"""What is printed, as closed solids: shapes built to size, meshes read, and both cut into the pieces that fit a bed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations, product
from typing import Any

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.machine.printed_things import PrintedThing, mesh_triangles
from dryfit.making.records_print import Body
from dryfit.making.records_solids import Solid
from dryfit.making.slicing import MM, body_of, solid_of

CHORD = 0.01
"""How far the sides of what stands for a circle may lie off it, mm."""
MOST_SIDES_OF_A_BALL = 128
ALIKE = 2e-4
"""Pieces whose volumes, places of centre and moments differ by less than this share are one body, several times."""


@dataclass(frozen=True)
class Piece:
    """A piece of a thing, and how many of them there are in one."""

    name: str
    solid: Solid
    times: int
    share: float


def printed_bodies(things: Sequence[PrintedThing]) -> tuple[Body, ...]:
    """Every piece of every thing with its number of copies, spares counted. Raises SlicingError."""
    return tuple(body for thing in things for body in bodies_of(thing))


def bodies_of(thing: PrintedThing) -> tuple[Body, ...]:
    """The pieces of one thing. Raises SlicingError with the name of the thing where its mesh cannot be used."""
    copies = thing.count + thing.way.spares
    if copies == 0:
        return ()
    return tuple(
        Body(
            name=piece.name,
            path=thing.path,
            section=thing.section,
            material=thing.material,
            solid=piece.solid,
            count=copies * piece.times,
            how=thing.way,
            coupon=thing.coupon,
            typed_mass=thing.typed_mass * piece.share,
        )
        for piece in pieces(thing.name, thing_solid(thing), thing.way.cuts, thing.way.sectors)
    )


def thing_solid(thing: PrintedThing) -> Solid:
    """The whole thing in its own axes, m. Raises SlicingError."""
    if thing.mesh is not None:
        return _of_file(thing)
    return solid_of(_shape(thing.shape, np.array(thing.size) * MM, thing.wall * MM))


def _of_file(thing: PrintedThing) -> Solid:
    corners = mesh_triangles(thing)
    points, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    faces = index.reshape(-1, 3).astype(np.int64)
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return Solid(points, faces[whole])


def sides(radius: float) -> int:
    """Sides of what stands for a circle of a radius, mm; a multiple of four, so that its box is true."""
    if radius <= CHORD:
        return 16
    return int(4 * np.ceil(np.clip(np.pi / np.arccos(1 - CHORD / radius), 16, 360) / 4))


def _shape(shape: str, size: Array, wall: float) -> Any:
    """A shape about the middle of its extent, mm; polygons that stand for circles have the circle's area."""
    import manifold3d as kernel

    x, y, z = (float(v) for v in size)
    if shape in ("box", "plate"):
        outer = kernel.Manifold.cube([x, y, z], True)
        return outer - kernel.Manifold.cube([x - 2 * wall, y - 2 * wall, 2 * z], True) if wall else outer
    n = sides(max(x, y) / 2)
    even = float(np.sqrt(2 * np.pi / n / np.sin(2 * np.pi / n)))
    if shape == "sphere":
        n = min(n, MOST_SIDES_OF_A_BALL)
        ball = kernel.Manifold.sphere(x / 2, n)
        outer = ball.scale([float(np.cbrt(np.pi / 6 * x**3 / ball.volume()))] * 3)
        return outer - outer.scale([1 - 2 * wall / x] * 3) if wall else outer
    top = 0.0 if shape == "cone" else x / 2 * even
    outer = kernel.Manifold.cylinder(z, x / 2 * even, top, n, True)
    if not wall:
        return outer
    inner = (x / 2 - wall) * even
    return outer - kernel.Manifold.cylinder(2 * z, inner, inner, n, True)


def pieces(name: str, solid: Solid, cuts: tuple[int, int, int], sectors: int) -> tuple[Piece, ...]:
    """A solid in `sectors` equal angles about its own z and in `cuts` equal lengths along x, y and z of its box; pieces
    that are the same but for their place become one, so many times. Raises SlicingError."""
    if sectors == 1 and cuts == (1, 1, 1):
        return (Piece(name, solid, 1, 1.0),)
    whole = body_of(solid)
    # a mesh may be cut into parts that hang together nowhere; they are printed together
    found = [p for p in _cut(whole, cuts, sectors) if p.volume() > 1e-3]
    total = sum(p.volume() for p in found)
    kinds: list[list[Any]] = []
    for piece in found:
        same = next((k for k in kinds if _same(k[0], piece, sectors)), None)
        if same is None:
            kinds.append([piece])
        else:
            same.append(piece)
    word = "sector" if sectors > 1 and cuts == (1, 1, 1) else "piece"
    return tuple(
        Piece(
            f"{name}, {word}" if len(kinds) == 1 else f"{name}, {word} {chr(ord('A') + n) if n < 26 else n + 1}",
            solid_of(kind[0]),
            len(kind),
            kind[0].volume() / total,
        )
        for n, kind in enumerate(kinds)
    )


def rough_pieces(solid: Solid, cuts: tuple[int, int, int], sectors: int) -> Iterator[Solid]:
    """The pieces one after another, none compared with the others; of the sectors of each length only the first."""
    for slab in _cut(body_of(solid), cuts, 1):
        first = next(_sectors(slab, sectors), None)
        if first is not None:
            yield solid_of(first)


def _cut(whole: Any, cuts: tuple[int, int, int], sectors: int) -> Iterator[Any]:
    box = np.array(whole.bounding_box())
    low, high = box[:3], box[3:]
    slabs = [whole]
    for axis, number in enumerate(cuts):
        normal = [0.0, 0.0, 0.0]
        normal[axis] = 1.0
        for k in range(1, number):
            at = float(low[axis] + (high[axis] - low[axis]) * k / number)
            slabs = [p for s in slabs for p in (_parted(s, normal, at) if _spans(s, axis, at) else (s,))]
    for slab in slabs:
        yield from _sectors(slab, sectors)


def _spans(body: Any, axis: int, at: float) -> bool:
    box = body.bounding_box()
    return bool(box[axis] < at - 1e-6 and box[axis + 3] > at + 1e-6)


def _parted(body: Any, normal: Sequence[float], at: float) -> tuple[Any, ...]:
    above, below = body.split_by_plane(list(normal), at)
    return tuple(p for p in (below, above) if not p.is_empty())


def _sectors(body: Any, number: int) -> Iterator[Any]:
    """Sectors about z; the middle of the first lies along x."""
    if number == 1:
        yield body
        return
    for k in range(number):
        begin, end = (2 * np.pi * (k - 0.5) / number, 2 * np.pi * (k + 0.5) / number)
        piece = body.trim_by_plane([-float(np.sin(begin)), float(np.cos(begin)), 0.0], 0.0)
        piece = piece.trim_by_plane([float(np.sin(end)), -float(np.cos(end)), 0.0], 0.0)
        if not piece.is_empty():
            yield piece


def _same(one: Any, other: Any, sectors: int) -> bool:
    """Whether one piece is the other, shifted and turned: by steps of the sectors about z, or over the box's faces."""
    if (
        abs(one.volume() - other.volume()) > ALIKE * one.volume()
        or abs(one.num_tri() - other.num_tri()) > 0.2 * one.num_tri()
    ):
        return False
    (middle, second), (its_middle, its_second) = _moments(one), _moments(other)
    if sectors > 1:
        angles = 2 * np.pi * np.arange(sectors) / sectors
        turns = [np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]]) for a in angles]
    else:
        turns = _TURNS
    scale = float(np.trace(second))
    for turn in turns:
        if np.abs(turn @ second @ turn.T - its_second).max() < ALIKE * scale and _lies(
            one, other, turn, middle, its_middle
        ):
            return True
    return False


def _quarter_turns() -> list[Array]:
    """The 24 turns that put a box on its own faces."""
    found = []
    for order in permutations(range(3)):
        for signs in product((1.0, -1.0), repeat=3):
            turn = np.zeros((3, 3))
            turn[range(3), order] = signs
            if np.linalg.det(turn) > 0:
                found.append(turn)
    return found


_TURNS = _quarter_turns()


def _moments(body: Any) -> tuple[Array, Array]:
    """Middle and second moments of the surface's solid."""
    from dryfit.machine.meshes import enclosed

    mesh = body.to_mesh64()
    triangles = np.array(mesh.vert_properties[:, :3], dtype=float)[np.array(mesh.tri_verts, dtype=np.int64)]
    _, middle, inertia = enclosed(triangles)
    return middle, inertia


def _lies(one: Any, other: Any, turn: Array, middle: Array, its_middle: Array) -> bool:
    """Whether the turned piece fills the other: what they share is nearly all of both."""
    matrix = np.concatenate([turn, (its_middle - turn @ middle)[:, None]], axis=1)
    shared = (one.transform(matrix) ^ other).volume()
    return bool(shared > (1 - 20 * ALIKE) * one.volume())
