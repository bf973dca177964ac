"""What can be seen of bodies from one side: shaded fields and outlines, hidden lines left out.

The bodies are laid on a fine grid of points, the nearest one winning; the borders between them are then walked round
and straightened. So any body will do, however it is made, and bodies may run into each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array
from dryfit.views.drawing import Area, Line, Mark, Point

FINE = 5.0
"""Points of the grid to a millimetre of paper."""
SHADES = 3
"""Sorts of light on a surface: bright, half, dim."""
_DEPTH_BITS = 30
_STRAIGHT = 0.85
"""How far a line may be from the points it replaces, in steps of the grid."""


@dataclass(frozen=True)
class Eye:
    """Where one looks from: unit vectors to the right of the paper, up the paper, and towards the eye."""

    right: tuple[float, float, float]
    up: tuple[float, float, float]
    towards: tuple[float, float, float]


FROM_THE_LEFT = Eye((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
"""Forward to the right: seen from the machine's right side."""
FROM_ABOVE = Eye((0.0, -1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
"""Forward up the paper."""


def aslant(turn: float = 32.0, rise: float = 18.0) -> Eye:
    """From the front right and a little above; degrees."""
    t, r = np.deg2rad(turn), np.deg2rad(rise)
    right = (float(np.cos(t)), float(np.sin(t)), 0.0)
    towards = (float(np.sin(t) * np.cos(r)), float(-np.cos(t) * np.cos(r)), float(np.sin(r)))
    x, y, z = np.cross(towards, right)
    return Eye(right, (float(x), float(y), float(z)), towards)


@dataclass(frozen=True)
class Seen:
    """Marks on paper, mm, with the lower left corner of what is seen at the origin, and its width and height.
    low: place of that corner in the eye's own right and up, m.  scale: mm of paper for a metre."""

    marks: tuple[Mark, ...]
    width: float
    height: float
    low: tuple[float, float]
    scale: float

    def at(self, point: Sequence[float], eye: Eye) -> Point:
        """Where a place of the machine, m, lies on the paper, mm."""
        p = np.array(point, dtype=float)
        u, v = float(p @ np.array(eye.right)), float(p @ np.array(eye.up))
        return (u - self.low[0]) * self.scale, (v - self.low[1]) * self.scale


def seen(bodies: Sequence[tuple[Array, bool]], eye: Eye, width: float, height: float, weight: float = 0.3) -> Seen:
    """Bodies as they show from an eye, as large as a width and height of paper allow, mm.

    bodies: triangles (T, 3, 3), m, anticlockwise from outside, and whether the body is drawn dark (wheels)."""
    bodies = [(t, dark) for t, dark in bodies if len(t)]
    if not bodies:
        return Seen((), 0.0, 0.0, (0.0, 0.0), 1.0)
    axes = np.array([eye.right, eye.up, eye.towards])
    corners = np.concatenate([t for t, _ in bodies]) @ axes.T
    low, high = corners[..., :2].min(axis=(0, 1)), corners[..., :2].max(axis=(0, 1))
    extent = np.maximum(high - low, 1e-6)
    scale = float(min(width / extent[0], height / extent[1]))
    numbers = np.repeat(np.arange(len(bodies)), [len(t) for t, _ in bodies])
    grid = scale * FINE
    pixels = (corners - np.array([*low, 0.0])) * grid + np.array([1.0, 1.0, 0.0])
    shape = (int(extent[1] * grid) + 4, int(extent[0] * grid) + 4)
    label = _nearest(pixels, numbers, shape)
    body, shade = np.where(label < 0, -1, label // SHADES), np.where(label < 0, 0, label % SHADES)
    body, shade = _without_specks(body), _without_specks(shade)
    dark = np.array([d for _, d in bodies] + [False])[body]
    marks: list[Mark] = []
    inside = body >= 0
    for mask, tone, hatched in (
        (inside, "paper", False),
        (inside & ~dark & (shade >= 1), "pale", False),
        (inside & ~dark & (shade == 2), "pale", True),
        (inside & dark, "grey", False),
    ):
        marks += [Area(outer, holes, tone, hatched, 0.0) for outer, holes in _fields(mask, 1 / FINE)]
    marks += [Line(points, weight, closed=closed) for points, closed in _borders(body, 1 / FINE)]
    return Seen(tuple(marks), float(extent[0] * scale), float(extent[1] * scale), (float(low[0]), float(low[1])), scale)


def _nearest(corners: Array, numbers: NDArray[np.int64], shape: tuple[int, int]) -> NDArray[np.int64]:
    """Number of the body and shade at every point of the grid, body × SHADES + shade, -1 where there is nothing.

    corners (T, 3, 3): columns, rows and nearness to the eye, all in steps of the grid."""
    a, b, c = np.moveaxis(corners, 1, 0)
    across = np.cross(b - a, c - a)
    front = across[:, 2] > 1e-12
    a, b, c, across, numbers = a[front], b[front], c[front], across[front], numbers[front]
    light = across @ np.array([-0.5, 0.55, 0.67]) / np.linalg.norm(across, axis=-1)
    shades = np.where(light > 0.52, 0, np.where(light > 0.12, 1, 2))
    nearest, farthest = corners[..., 2].max(), corners[..., 2].min()
    step = (2.0**_DEPTH_BITS - 2) / max(nearest - farthest, 1e-9)
    best = np.full(shape[0] * shape[1], -1, dtype=np.int64)
    tag = numbers * SHADES + shades
    lowest = np.floor(np.minimum(np.minimum(a, b), c)[:, :2]).astype(np.int64)
    reach = np.ceil(np.maximum(np.maximum(a, b), c)[:, :2]).astype(np.int64) - lowest + 1
    size = 2 ** np.ceil(np.log2(np.maximum(reach.max(axis=-1), 2))).astype(np.int64)
    for each in np.unique(size):
        chosen = np.flatnonzero(size == each)
        block = max(1, int(2_000_000 // (each * each)))
        for start in range(0, len(chosen), block):
            k = chosen[start : start + block]
            _lay(best, shape, (a[k], b[k], c[k], across[k]), lowest[k], int(each), tag[k], (farthest, step))
    return np.where(best < 0, -1, best & ((1 << 20) - 1)).reshape(shape)


def _lay(
    best: NDArray[np.int64],
    shape: tuple[int, int],
    triangles: tuple[Array, Array, Array, Array],
    lowest: NDArray[np.int64],
    size: int,
    tag: NDArray[np.int64],
    depth: tuple[float, float],
) -> None:
    """Lay triangles of about one size on the grid; where several lie, the nearest stays."""
    a, b, c, across = triangles
    x = lowest[:, 0, None] + np.arange(size)
    y = lowest[:, 1, None] + np.arange(size)
    inside = np.ones((len(a), size, size), dtype=bool)
    for p, q in ((a, b), (b, c), (c, a)):
        dx, dy = (q - p)[:, 0], (q - p)[:, 1]
        side = dx[:, None, None] * (y - p[:, 1, None])[:, :, None] - dy[:, None, None] * (x - p[:, 0, None])[:, None, :]
        inside &= side >= -1e-9
    inside &= ((y >= 0) & (y < shape[0]))[:, :, None] & ((x >= 0) & (x < shape[1]))[:, None, :]
    t, row, column = np.nonzero(inside)
    if not len(t):
        return
    xs, ys = x[t, column], y[t, row]
    z = a[t, 2] - (across[t, 0] * (xs - a[t, 0]) + across[t, 1] * (ys - a[t, 1])) / across[t, 2]
    near = np.clip((z - depth[0]) * depth[1], 0, 2.0**_DEPTH_BITS - 1).astype(np.int64)
    np.maximum.at(best, ys * shape[1] + xs, (near << 20) | tag[t])


def _without_specks(label: NDArray[np.int64]) -> NDArray[np.int64]:
    """Labels with points that stand alone between two of a kind taken over by them: bodies that touch or lie in one
    another leave such specks."""
    for _ in range(2):
        for axis in (0, 1):
            # both neighbours on this axis, and the two beyond them, so that thin bodies stay
            before, after = np.roll(label, 1, axis), np.roll(label, -1, axis)
            label = np.where(before == after, before, label)
    return label


def _borders(label: NDArray[np.int64], step: float) -> Iterable[tuple[tuple[Point, ...], bool]]:
    """Lines between fields of different labels, each once, broken where three fields meet."""
    ways = _ways(label)
    for chain, closed in _chains(ways):
        points = _straightened(np.array(chain, dtype=float), closed)
        if len(chain) > 1:
            yield tuple((float(x) * step - step, float(y) * step - step) for x, y in points), closed


def _ways(label: NDArray[np.int64]) -> dict[tuple[int, int], list[tuple[int, int]]]:
    """Corners of the grid that have a border between them, by corner."""
    found: dict[tuple[int, int], list[tuple[int, int]]] = {}
    rows, columns = np.nonzero(label[:, 1:] != label[:, :-1])
    ends = [((x + 1, y), (x + 1, y + 1)) for y, x in zip(rows.tolist(), columns.tolist(), strict=True)]
    rows, columns = np.nonzero(label[1:] != label[:-1])
    ends += [((x, y + 1), (x + 1, y + 1)) for y, x in zip(rows.tolist(), columns.tolist(), strict=True)]
    for p, q in ends:
        found.setdefault(p, []).append(q)
        found.setdefault(q, []).append(p)
    return found


def _chains(ways: dict[tuple[int, int], list[tuple[int, int]]]) -> Iterable[tuple[list[tuple[int, int]], bool]]:
    """Runs of borders between places where more or fewer than two meet; then the rings that are left."""
    left = {p: set(q) for p, q in ways.items()}

    def walk(p: tuple[int, int], q: tuple[int, int]) -> list[tuple[int, int]]:
        chain = [p]
        while True:
            left[p].discard(q)
            left[q].discard(p)
            chain.append(q)
            if len(ways[q]) != 2 or not left[q]:
                return chain
            p, q = q, next(iter(left[q]))

    for p in [p for p, q in ways.items() if len(q) != 2]:
        while left[p]:
            yield walk(p, min(left[p])), False
    for p in ways:
        while left[p]:
            yield walk(p, min(left[p]))[:-1], True


def _fields(mask: NDArray[np.bool_], step: float) -> Iterable[tuple[tuple[Point, ...], tuple[tuple[Point, ...], ...]]]:
    """The fields of a mask as one shape: the first ring as its outline, the others as holes or islands (even-odd)."""
    rings = []
    for chain in _rings(mask):
        if len(chain) < 12:
            continue
        points = _straightened(np.array(chain, dtype=float), True)
        rings.append(tuple((float(x) * step - step, float(y) * step - step) for x, y in points))
    if rings:
        yield rings[0], tuple(rings[1:])


def _rings(mask: NDArray[np.bool_]) -> Iterable[list[tuple[int, int]]]:
    """Closed walks around a mask with it to the left; at a corner where two fields touch they stay apart."""
    following: dict[tuple[int, int], list[tuple[int, int]]] = {}

    def add(points: Iterable[tuple[tuple[int, int], tuple[int, int]]]) -> None:
        for p, q in points:
            following.setdefault(p, []).append(q)

    full = np.pad(mask, 1)
    turn = full.astype(np.int8)
    rows, columns = np.nonzero(turn[:, 1:] - turn[:, :-1] == 1)
    add(((x, y), (x, y - 1)) for y, x in zip(rows.tolist(), columns.tolist(), strict=True))
    rows, columns = np.nonzero(turn[:, 1:] - turn[:, :-1] == -1)
    add(((x, y - 1), (x, y)) for y, x in zip(rows.tolist(), columns.tolist(), strict=True))
    rows, columns = np.nonzero(turn[1:] - turn[:-1] == 1)
    add(((x - 1, y), (x, y)) for y, x in zip(rows.tolist(), columns.tolist(), strict=True))
    rows, columns = np.nonzero(turn[1:] - turn[:-1] == -1)
    add(((x, y), (x - 1, y)) for y, x in zip(rows.tolist(), columns.tolist(), strict=True))
    while following:
        first = next(iter(following))
        ring, p = [], first
        while p in following:
            ring.append(p)
            choices = following[p]
            q = choices.pop()
            if not choices:
                del following[p]
            p = q
        yield ring


def _straightened(points: Array, closed: bool) -> Array:
    """Fewer points on the same line: of a walk on a grid, the corners that matter."""
    # the middles of the steps lie nearer to the true line than the corners of the stairs
    if closed:
        middles = (points + np.roll(points, -1, axis=0)) / 2
        if len(middles) < 4:
            return middles
        far = int(np.argmax(np.sum((middles - middles[0]) ** 2, axis=-1)))
        if far == 0:
            return middles
        first = _kept(middles[: far + 1])
        second = _kept(np.concatenate([middles[far:], middles[:1]]))
        return np.concatenate([first[:-1], second[:-1]])
    middles = np.concatenate([points[:1], (points[1:] + points[:-1]) / 2, points[-1:]])
    return _kept(middles)


def _kept(points: Array) -> Array:
    """The points of a line that lie too far from straight strokes between the others."""
    keep = np.zeros(len(points), dtype=bool)
    keep[[0, -1]] = True
    stack = [(0, len(points) - 1)]
    while stack:
        i, j = stack.pop()
        if j - i < 2:
            continue
        along = points[j] - points[i]
        away = points[i + 1 : j] - points[i]
        length = float(np.hypot(*along))
        off = np.abs(along[0] * away[:, 1] - along[1] * away[:, 0]) / length if length else np.hypot(*away.T)
        worst = int(np.argmax(off))
        if off[worst] > _STRAIGHT:
            keep[i + 1 + worst] = True
            stack += [(i, i + 1 + worst), (i + 1 + worst, j)]
    return points[keep]
