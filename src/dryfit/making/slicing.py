"""Slicing: a solid cut into layers, and how much line of each sort lies in each of them.

Every layer is the section of the solid half-way up it. Lengths follow from areas: what lies between the outline and the
outline moved inwards by a line width is filled by one line of that width, so its length is that area over the width.
For wide walls that is exactly the length of the line's middle; where walls meet in a thin rib nothing is counted twice
and nothing comes out negative; and the volume laid down is always that of the solid where it is filled throughout.

Inside the walls a layer is solid wherever one of the next `top_layers` above or `bottom_layers` below does not cover
it, and filled to the share `fill` elsewhere. Supports are not counted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array
from dryfit.machine.printing import How
from dryfit.making.records_solids import Solid

MM = 1e3
FINE = 0.008
"""Corners of a section that lie nearer than this to the line between their neighbours are dropped, mm."""
LEAST_PATCH = 1e-3
"""Areas below this, mm², are rounding of the sections and not material."""


class SlicingError(ValueError):
    """The surface cannot be sliced; the message says why."""


@dataclass(frozen=True)
class Outlines:
    """The edges of the outlines of all layers that differ from the one below, one after another, (E,).

    length: m.  bend: change of direction at the edge's end, as the length of the difference of unit vectors, 0
    (straight on) to 2 (back).  following, before: the next and the last edge of the same outline.
    layer: its layer.  like: of every layer the one whose outlines it has, (L,)."""

    length: Array
    bend: Array
    following: NDArray[np.int64]
    before: NDArray[np.int64]
    layer: NDArray[np.int64]
    like: NDArray[np.int64]


@dataclass(frozen=True)
class Layers:
    """A sliced solid, lowest layer first, SI; all arrays (L,).

    height, width: of a line.  walls: lines around every outline.  area: of the section.
    outer_walls, inner_walls, solid, fill: length of line.  solid_edge, fill_edge: length of the borders of the solid
    and of the filled patches.  gap: distance between lines of the fill.  stops: outlines and patches, each begun anew.
    box: area of the box around the layer.  overhang: area that lies farther than a line's width beyond the layer below.
    outlines: for the time that corners cost.
    """

    height: float
    width: float
    walls: int
    area: Array
    outer_walls: Array
    inner_walls: Array
    solid: Array
    fill: Array
    solid_edge: Array
    fill_edge: Array
    gap: float
    stops: Array
    box: Array
    overhang: Array
    outlines: Outlines

    @property
    def line_length(self) -> Array:
        """Line of all sorts, m, (L,)."""
        return self.outer_walls + self.inner_walls + self.solid + self.fill

    @property
    def volume(self) -> Array:
        """What is laid down in each layer, m³, (L,)."""
        return self.line_length * self.width * self.height


def body_of(solid: Solid) -> Any:
    """The solid as the mesh kernel holds it, in mm. Raises SlicingError."""
    import manifold3d as kernel

    points = np.ascontiguousarray(solid.points * MM, dtype=np.float64)
    faces = np.ascontiguousarray(solid.faces, dtype=np.uint64)
    body = kernel.Manifold(kernel.Mesh64(points, faces))
    if body.status() != kernel.Error.NoError:
        # a surface may touch itself along an edge: as loose triangles put together again it mostly closes
        loose = kernel.Mesh64(
            np.ascontiguousarray(points[solid.faces].reshape(-1, 3)),
            np.arange(3 * len(faces), dtype=np.uint64).reshape(-1, 3),
        )
        loose.merge()
        body = kernel.Manifold(loose)
    if body.status() != kernel.Error.NoError or body.is_empty():
        raise SlicingError(
            "its surface does not close, so there is no inside to print; mend the mesh and export it again"
        )
    return body


def solid_of(body: Any) -> Solid:
    """Points and faces of a body of the mesh kernel, mm, as a Solid in m."""
    mesh = body.to_mesh64()
    return Solid(np.array(mesh.vert_properties[:, :3], dtype=float) / MM, np.array(mesh.tri_verts, dtype=np.int64))


def layers_of(height: float, layer: float) -> int:
    """How many layers a height takes: rounded, at least one."""
    return max(1, round(height / layer))


def sliced(solid: Solid, how: How) -> Layers:
    """The layers of a solid that stands as it lies on the bed. Raises SlicingError."""
    body = body_of(solid)
    low, high = body.bounding_box()[2], body.bounding_box()[5]
    layer, width = how.layer_height * MM, how.line_width * MM
    count = layers_of(high - low, layer)
    at = np.minimum(low + (np.arange(count) + 0.5) * layer, high - 1e-6 * layer)
    levels = np.unique(np.round(solid.points[:, 2] * MM, 6))
    sections, polygons = _sections(body, at, levels)
    return _measured(sections, polygons, _alike(polygons), how, layer, width)


def _sections(body: Any, at: Array, levels: Array) -> tuple[list[Any], list[list[Array]]]:
    """The body cut at heights, and the polygons of each cut. levels: heights of its corners.

    Between two levels of corners the outline moves evenly, so where the lowest, the middle and the highest of the cuts
    there are the same, all are."""
    sections: list[Any] = [None] * len(at)
    polygons: list[list[Array]] = [[]] * len(at)

    def cut(k: int) -> None:
        if sections[k] is None:
            sections[k] = body.slice(float(at[k])).simplify(FINE)
            polygons[k] = sections[k].to_polygons()

    begins = np.flatnonzero(np.diff(np.searchsorted(levels, at), prepend=-1)).tolist()
    for low, high in zip(begins, [*begins[1:], len(at)], strict=True):
        middle, last = (low + high) // 2, high - 1
        for k in (low, middle, last):
            cut(k)
        if _equal(polygons[low], polygons[middle]) and _equal(polygons[low], polygons[last]):
            sections[low:high] = [sections[low]] * (high - low)
            polygons[low:high] = [polygons[low]] * (high - low)
        for k in range(low, high):
            cut(k)
    return sections, polygons


def _alike(polygons: Sequence[Sequence[Array]]) -> list[int]:
    """For every layer the lowest of the unbroken run of equal ones that it belongs to; the first layer, which is laid
    slower, stands by itself."""
    first: list[int] = []
    for k, now in enumerate(polygons):
        first.append(first[-1] if k > 1 and _equal(polygons[k - 1], now) else k)
    return first


def _equal(one: Sequence[Array], other: Sequence[Array]) -> bool:
    return one is other or (
        len(one) == len(other)
        and all(a.shape == b.shape and float(np.abs(a - b).max()) < 1e-6 for a, b in zip(one, other, strict=True))
    )


def _measured(
    sections: Sequence[Any],
    polygons: Sequence[Sequence[Array]],
    first: Sequence[int],
    how: How,
    layer: float,
    width: float,
) -> Layers:
    count = len(sections)
    area, one_in, core_area = np.zeros(count), np.zeros(count), np.zeros(count)
    covered, solid_edge, fill_edge = np.zeros(count), np.zeros(count), np.zeros(count)
    stops, box, overhang = np.zeros(count), np.zeros(count), np.zeros(count)
    windows = _windows(sections, first, how.bottom_layers, how.top_layers)
    known: dict[tuple[int, int], tuple[float, float, float, int]] = {}
    core: Any = None
    patches = 0
    for k, section in enumerate(sections):
        if first[k] == k:
            area[k] = section.area()
            inner = _inwards(section, width if how.walls else 0.0)
            one_in[k] = inner.area()
            core = _inwards(inner, (how.walls - 1) * width) if how.walls > 1 else inner
            core_area[k] = core.area()
            left, bottom, right, top = section.bounds() if polygons[k] else (0.0, 0.0, 0.0, 0.0)
            box[k] = max(right - left, 0.0) * max(top - bottom, 0.0)
            if k:
                grown = _outwards(sections[k - 1], width)
                overhang[k] = max(area[k] - (section ^ grown).area(), 0.0)
        else:
            area[k], one_in[k], core_area[k], box[k] = area[k - 1], one_in[k - 1], core_area[k - 1], box[k - 1]
        key = (first[k], windows[k][0])
        if key not in known:
            known[key] = _split(core, core_area[k], windows[k][1], how.fill)
        covered[k], solid_edge[k], fill_edge[k], patches = known[key]
        stops[k] = len(polygons[k]) + patches
    outer = np.maximum(area - one_in, 0.0) / width if how.walls else np.zeros(count)
    inside = np.maximum(one_in - core_area, 0.0) / width if how.walls > 1 else np.zeros(count)
    full = np.maximum(core_area - covered, 0.0) if how.fill < 1 else core_area
    return Layers(
        height=layer / MM,
        width=width / MM,
        walls=how.walls,
        area=area / MM**2,
        outer_walls=outer / MM,
        inner_walls=inside / MM,
        solid=full / width / MM,
        fill=(core_area - full) * how.fill / width / MM,
        solid_edge=solid_edge / MM,
        fill_edge=fill_edge / MM,
        gap=width / MM / max(how.fill, 1e-3),
        stops=stops,
        box=box / MM**2,
        overhang=overhang / MM**2,
        outlines=_outlines(polygons, np.array(first)),
    )


def _inwards(section: Any, by: float) -> Any:
    from manifold3d import JoinType

    return section.offset(-by, JoinType.Miter, 2.0, 8) if by > 0 else section


def _outwards(section: Any, by: float) -> Any:
    from manifold3d import JoinType

    return section.offset(by, JoinType.Miter, 2.0, 8)


def _split(core: Any, area: float, window: Any, fill: float) -> tuple[float, float, float, int]:
    """What is inside the walls: area that is covered above and below, edges of the solid and of the filled patches, mm,
    and how many patches there are."""
    if area < LEAST_PATCH:
        return 0.0, 0.0, 0.0, 0
    covered, hidden = 0.0, None
    if window is not None and fill < 1:
        hidden = core ^ window
        covered = float(hidden.area())
    if hidden is None or covered < LEAST_PATCH:
        edge, patches = _edges(core)
        return 0.0, edge, 0.0, patches
    edge, patches = _edges(hidden)
    if area - covered < LEAST_PATCH:
        return area, 0.0, edge, patches if fill > 0 else 0
    shown_edge, shown = _edges(core - hidden)
    return covered, shown_edge, edge, shown + (patches if fill > 0 else 0)


def _edges(section: Any) -> tuple[float, int]:
    """Length of all borders, mm, and how many patches there are: outlines that run to the left, not their holes."""
    edge, patches = 0.0, 0
    for points in section.to_polygons():
        on = np.concatenate([points[1:], points[:1]])
        step = on - points
        edge += float(np.sqrt(np.einsum("ij,ij->i", step, step)).sum())
        patches += float(np.dot(points[:, 0], on[:, 1]) - np.dot(points[:, 1], on[:, 0])) > 2 * LEAST_PATCH
    return edge, patches


def _windows(sections: Sequence[Any], first: Sequence[int], below: int, above: int) -> list[tuple[int, Any]]:
    """For every layer what all layers from `below` under it to `above` over it have in common, None where the window
    reaches out of the solid; with a number that is the same where the window is.

    Windows of one length: each is the end of one block of layers and the beginning of the next, so that three
    intersections a layer do, however long the window (running sums, with intersections in place of sums).
    """
    count, size = len(sections), below + above + 1
    found: list[tuple[int, Any]] = [(-1, None)] * count
    runs = np.array(first)
    heads: list[Any] = []
    tails: list[Any] = [None] * count

    def both(one: Any, other: Any, of: int, to: int) -> Any:
        return one if runs[of] == runs[to] else one ^ other

    for k in range(count):
        begins = k % size == 0
        heads.append(sections[k] if begins else both(heads[-1], sections[k], k - k % size, k))
    for k in reversed(range(count)):
        ends = k % size == size - 1 or k == count - 1
        tails[k] = sections[k] if ends else both(tails[k + 1], sections[k], min(k - k % size + size, count) - 1, k)
    for k in range(below, count - above):
        low, high = k - below, k + above
        if k > below and runs[low] == runs[low - 1] and runs[high] == runs[high - 1] and runs[low] == runs[high]:
            found[k] = found[k - 1]
        else:
            found[k] = (k, both(tails[low], heads[high], low, high) if low % size else tails[low])
    return found


def _outlines(polygons: Sequence[Sequence[Array]], like: NDArray[np.int64]) -> Outlines:
    """Edges of all outlines with the bends between them."""
    apart = np.unique(like)
    loops = [p for k in apart for p in polygons[k]]
    layer = np.repeat(apart, [sum(len(p) for p in polygons[k]) for k in apart])
    if not loops:
        nothing, none = np.zeros(0), np.zeros(0, dtype=np.int64)
        return Outlines(nothing, nothing, none, none, none, like)
    points = np.concatenate(loops)
    sizes = np.array([len(p) for p in loops])
    starts = np.repeat(np.cumsum(sizes) - sizes, sizes)
    place = np.arange(len(points)) - starts
    of = np.repeat(sizes, sizes)
    following, before = starts + (place + 1) % of, starts + (place - 1) % of
    edges = points[following] - points
    length = np.sqrt(np.einsum("ij,ij->i", edges, edges))
    way = edges / np.maximum(length, 1e-12)[:, None]
    turn = way[following] - way
    bend = np.sqrt(np.einsum("ij,ij->i", turn, turn))
    return Outlines(length / MM, bend, following, before, layer, like)


Progress = Callable[[float, str], None]
"""Told how far a long piece of work has come, 0 to 1, and what is being done."""
