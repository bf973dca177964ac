"""Convex shapes on a rectangular bed: where the next one may lie without touching what is there.

Two convex shapes A (fixed) and B (moved by p) touch first when p lies on the edge of the Minkowski sum of A and -B;
inside it they overlap. The lowest free place of B is a corner of such a sum, a crossing of two of them, or one with the
edge of the room left by the bed: so trying these points is enough, and no grid is needed.

Shapes are anticlockwise corner arrays (N, 2), m, with the lower left corner of their box at the origin.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array

TOUCH = 1e-9
"""Shapes may overlap by this much, m, from rounding; they stand apart by the clearance besides."""
_LONG = 0.12
"""Edges longer than this part of the shape are kept as they are; the rest (a curve) is drawn in straight lines that
touch it from outside, so that the shape that is placed is a little larger than the true one."""
_EDGES = 48
"""Edges that most forbidden shapes have at most; the table of edges grows where one has more."""
_NOTHING = (np.zeros((0, _EDGES, 2)), np.zeros((0, _EDGES)))


@dataclass(frozen=True)
class Turn:
    """A shape turned for the bed. angle: rad, to the left.  grown: the shape with half the clearance around it, what
    is kept apart.  shift: from the corner of its box to the corner of the true shape's box."""

    angle: float
    grown: Array
    shift: tuple[float, float]
    size: tuple[float, float]


def hull(points: Array) -> Array:
    """Convex hull of points (N, 2), anticlockwise, no three corners on a line. Monotone chain."""
    flat = sorted({(float(x), float(y)) for x, y in points})
    if len(flat) < 3:
        return np.array(flat)

    def chain(ordered: list[tuple[float, float]]) -> list[tuple[float, float]]:
        out: list[tuple[float, float]] = []
        for p in ordered:
            while len(out) > 1 and _side(out[-2], out[-1], p) <= 1e-15:
                out.pop()
            out.append(p)
        return out[:-1]

    return np.array(chain(flat) + chain(flat[::-1]))


def _side(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def rotated(points: Array, angle: float) -> Array:
    """Points turned to the left by the angle, rad, then moved so that their box begins at the origin."""
    c, s = np.cos(angle), np.sin(angle)
    if abs(c) < 1e-12 or abs(s) < 1e-12:
        c, s = np.round(c), np.round(s)
    moved = points @ np.array([[c, s], [-s, c]])
    return np.asanyarray(moved - moved.min(axis=0))


def grown(shape: Array, by: float) -> Array:
    """A convex shape around `shape` that keeps at least `by` from it, with few corners: straight lines that touch it in
    the directions of its long edges and of the axes, moved outwards. Corners stay pointed."""
    edges = np.roll(shape, -1, axis=0) - shape
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    long = lengths > _LONG * np.ptp(shape, axis=0).max()
    angles = list(np.arctan2(-edges[long, 0], edges[long, 1])) + [n * np.pi / 2 for n in range(4)]
    # between them, regular directions: a disc becomes a shape of sixteen edges
    for angle in np.arange(16) * np.pi / 8:
        away = np.abs(np.mod(np.array(angles) - angle + np.pi, 2 * np.pi) - np.pi)
        if away.min() > np.pi / 18 and not long.all():
            angles.append(float(angle))
    around = np.sort(np.mod(np.array(angles) + np.pi / 2, 2 * np.pi) - np.pi / 2)
    around = around[np.concatenate([[True], np.diff(around) > 1e-7])]
    normals = np.stack([np.cos(around), np.sin(around)], axis=-1)
    reach = (shape @ normals.T).max(axis=0) + by
    after, beyond = np.roll(normals, -1, axis=0), np.roll(reach, -1)
    cross = normals[:, 0] * after[:, 1] - normals[:, 1] * after[:, 0]
    x = (reach * after[:, 1] - beyond * normals[:, 1]) / cross
    y = (normals[:, 0] * beyond - after[:, 0] * reach) / cross
    corners = np.stack([x, y], axis=-1)
    apart = np.hypot(*(corners - np.roll(corners, 1, axis=0)).T) > 1e-9
    return np.asanyarray(corners[apart])


def area(shape: Array) -> float:
    """Area of a shape, m2."""
    x, y = shape[:, 0], shape[:, 1]
    return float(0.5 * np.abs((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()))


def turns(shape: Array, clearance: float) -> tuple[Turn, ...]:
    """The ways a shape is tried on the bed: as it lies and by quarter turns, and with each of its longest edges along
    the bed; turns that look the same are tried once."""
    edges = np.roll(shape, -1, axis=0) - shape
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    angles = [n * np.pi / 2 for n in range(4)]
    for edge in np.argsort(-lengths, kind="stable")[:2]:
        if lengths[edge] > 0.25 * np.ptp(shape, axis=0).max():
            along = -np.arctan2(edges[edge, 1], edges[edge, 0])
            angles += [along + n * np.pi / 2 for n in range(4)]
    found: list[Turn] = []
    seen: list[Array] = []
    for angle in angles:
        lies = rotated(shape, angle)
        if any(_same(lies, other) for other in seen):
            continue
        seen.append(lies)
        around = grown(lies, clearance / 2)
        low = around.min(axis=0)
        around = around - low
        width, height = (float(v) for v in around.max(axis=0))
        found.append(Turn(float(angle), around, (float(-low[0]), float(-low[1])), (width, height)))
    return tuple(found)


def _same(a: Array, b: Array) -> bool:
    if a.shape != b.shape:
        return False
    first = int(np.argmin(np.abs(b - a[0]).sum(axis=-1)))
    return bool(np.abs(np.roll(b, -first, axis=0) - a).max() < 1e-6)


def minkowski(a: Array, b: Array) -> Array:
    """The Minkowski sum of two convex shapes: their edges in the order of direction, one after the other."""
    first, second = _from_lowest(a), _from_lowest(b)
    edges = np.concatenate([np.roll(first, -1, axis=0) - first, np.roll(second, -1, axis=0) - second])
    order = np.argsort(np.mod(np.arctan2(edges[:, 1], edges[:, 0]), 2 * np.pi - 1e-12), kind="stable")
    corners = first[0] + second[0] + np.cumsum(edges[order], axis=0)
    return np.roll(corners, 1, axis=0)


def _from_lowest(shape: Array) -> Array:
    return np.roll(shape, -int(np.lexsort((shape[:, 0], shape[:, 1]))[0]), axis=0)


@dataclass
class _Spots:
    """Where one turn of a shape may lie on a bed: corner of its box, so far as known.

    seen: shapes on the bed that were taken in.  normals (S, E, 2), reach (S, E): the edges of what is forbidden by
    each, outwards; shapes with fewer edges repeat their last.  starts, ends: pieces of the edges of these and of the
    room that none of the others covers.  free: places on them, allowed by all.
    """

    room: Array
    seen: int
    normals: Array
    reach: Array
    starts: Array
    ends: Array
    free: Array

    def take_in(self, shape: Array, turn: Turn) -> None:
        """Account for one more shape on the bed."""
        self.seen += 1
        forbidden = minkowski(shape, -turn.grown)
        if (forbidden.max(axis=0) < -TOUCH).any() or (forbidden.min(axis=0) > self.room + TOUCH).any():
            return
        starts, ends = forbidden, np.roll(forbidden, -1, axis=0)
        points = np.concatenate([forbidden, crossings(starts, ends, self.starts, self.ends)])
        points = points[((points >= -TOUCH) & (points <= self.room + TOUCH)).all(axis=-1)]
        points = np.clip(points, 0.0, self.room)
        points = points[_outside(points, self.normals, self.reach).all(axis=0)]
        within = ~_outside(starts, self.normals, self.reach)
        # a convex shape that holds both ends of a piece holds all of it
        covered = (within & np.roll(within, -1, axis=1)).any(axis=0)
        normals, reach = _edges(forbidden, self.reach.shape[1])
        more = (0, reach.shape[1] - self.reach.shape[1])
        if more[1]:
            self.normals = np.pad(
                self.normals, ((0, 0), more, (0, 0)), mode="edge" if len(self.normals) else "constant"
            )
            self.reach = np.pad(self.reach, ((0, 0), more), mode="edge" if len(self.reach) else "constant")
        self.free = np.concatenate([self.free[_outside(self.free, normals, reach)[0]], points])
        bare = _outside(self.starts, normals, reach)[0] | _outside(self.ends, normals, reach)[0]
        self.starts = np.concatenate([self.starts[bare], starts[~covered]])
        self.ends = np.concatenate([self.ends[bare], ends[~covered]])
        self.normals = np.concatenate([self.normals, normals])
        self.reach = np.concatenate([self.reach, reach])


@dataclass
class Bed:
    """A bed while it is being filled: room, and the grown shapes that lie there at their places."""

    width: float
    depth: float
    lies: list[Array] = field(default_factory=list)
    covered: float = 0.0
    _spots: dict[tuple[int, int], _Spots] = field(default_factory=dict)

    def place(self, ways: tuple[Turn, ...], key: int) -> tuple[Turn, tuple[float, float]] | None:
        """The turn and the place (corner of the grown box) at which a shape reaches up the least, then lies farthest
        to the left; None where it has no room. key: a number that this shape alone has."""
        best: tuple[tuple[float, float, int], tuple[float, float]] | None = None
        if self.covered + min(area(turn.grown) for turn in ways) > self.width * self.depth * (1 + TOUCH):
            return None
        for number, turn in enumerate(ways):
            room = np.array([self.width - turn.size[0], self.depth - turn.size[1]])
            if room.min() < -TOUCH or (best is not None and turn.size[1] > best[0][0]):
                continue
            free = self._free(turn, np.maximum(room, 0.0), (key, number))
            if not len(free):
                continue
            first = np.lexsort((np.round(free[:, 0], 9), np.round(free[:, 1], 9)))[0]
            place = float(free[first, 0]), float(free[first, 1])
            rank = (round(place[1] + turn.size[1], 6), round(place[0] + turn.size[0], 6), number)
            if best is None or rank < best[0]:
                best = (rank, place)
        return None if best is None else (ways[best[0][2]], best[1])

    def put(self, turn: Turn, place: tuple[float, float]) -> None:
        """Lay the shape there."""
        self.lies.append(turn.grown + np.array(place))
        self.covered += area(turn.grown)

    def _free(self, turn: Turn, room: Array, key: tuple[int, int]) -> Array:
        spots = self._spots.get(key)
        if spots is None:
            corners = np.array([[0.0, 0.0], [room[0], 0.0], [room[0], room[1]], [0.0, room[1]]])
            spots = _Spots(room, 0, *_NOTHING, corners, np.roll(corners, -1, axis=0), corners)
            self._spots[key] = spots
        for shape in self.lies[spots.seen :]:
            spots.take_in(shape, turn)
        return spots.free


def crossings(starts: Array, ends: Array, other_starts: Array, other_ends: Array) -> Array:
    """Points in which straight pieces (S, 2) cross others (T, 2), each with each."""
    d, e = (ends - starts)[:, None], (other_ends - other_starts)[None]
    cross = d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0]
    # pieces that run nearly along each other cross nowhere that their ends do not show
    slanted = np.abs(cross) > 1e-9 * np.hypot(d[..., 0], d[..., 1]) * np.hypot(e[..., 0], e[..., 1]) + 1e-30
    safe = np.where(slanted, cross, 1.0)
    between = other_starts[None] - starts[:, None]
    t = (between[..., 0] * e[..., 1] - between[..., 1] * e[..., 0]) / safe
    u = (between[..., 0] * d[..., 1] - between[..., 1] * d[..., 0]) / safe
    hit = slanted & (t > -1e-9) & (t < 1 + 1e-9) & (u > -1e-9) & (u < 1 + 1e-9)
    return np.asanyarray((starts[:, None] + t[..., None] * d)[hit])


def _edges(shape: Array, least: int) -> tuple[Array, Array]:
    """Outward normals (1, E, 2) of the edges of a shape and how far it reaches along them (1, E), the
    last repeated until there are `least`."""
    edges = np.concatenate([shape[1:], shape[:1]]) - shape
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    kept = lengths > 1e-12
    outwards = np.stack([edges[kept, 1], -edges[kept, 0]], axis=-1) / lengths[kept, None]
    reach = (outwards * shape[kept]).sum(axis=-1)
    fill = (0, max(least - len(reach), 0))
    return np.pad(outwards, (fill, (0, 0)), mode="edge")[None], np.pad(reach, fill, mode="edge")[None]


def _outside(points: Array, normals: Array, reach: Array) -> NDArray[np.bool_]:
    """Which points (P, 2) lie outside each of the shapes, or on its edge: (S, P)."""
    return np.asanyarray((points @ normals.swapaxes(-1, -2) > (reach - TOUCH)[:, None]).any(axis=-1))
