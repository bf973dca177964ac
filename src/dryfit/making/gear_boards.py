"""Short slices of both members and a board to try them on: stubs at the true centre distance and a shim to either side.

The stubs stand on arms around the gear's place; the pinion's slice is put on one after the other. A gear's slice turns
on a stub in the middle, a ring's slice inside a lip.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.making.gear_outlines import Toothed
from dryfit.making.gear_shapes import circle, outline, shape
from dryfit.making.gear_solids import layered, prism, solid
from dryfit.making.records_solids import Outline, Solid

SLICE = 5e-3
"""Height of a slice, m."""

PLAY = 0.1e-3
"""What the bore of a slice is wider than its stub, and a lip than its ring, on the diameter, m (common practice)."""

_FLOOR, _LIP, _LIP_WALL, _ARM = 3e-3, 3e-3, 2.4e-3, 12e-3
_STUB_OVER = 1e-3
_MARK, _MARK_STEP = 1.1e-3, 3.6e-3
"""Radius of the marks, and their distance."""


def gear_slice(teeth: Array, stub: float, offset: float, flare: float, layer: float) -> Solid:
    """A slice of a gear. stub: diameter that it turns on.  offset: what a printed hole comes out too large (below zero:
    too small).  flare: by which the first layer bulges."""
    flat = shape(teeth, [circle((stub - offset + PLAY) / 2)])
    return solid(layered(flat, SLICE, flare, layer))


def ring_slice(teeth: Array, rim: float, flare: float, layer: float) -> Solid:
    """A slice of a ring out to the radius `rim`; teeth: their edge with what is taken off for the printer."""
    return solid(layered(shape(circle(rim), [teeth]), SLICE, flare, layer))


def stub_of(form: Toothed, shaft: float) -> float:
    """Diameter of the stub that a slice turns on: the shaft, or what leaves 3 mm of wall under the tooth roots."""
    return min(shaft, max(2 * form.root - 6e-3, 2e-3))


def board(
    pinion: Toothed, gear: Toothed, distances: tuple[tuple[float, float], ...], stubs: tuple[float, float], rim: float
) -> tuple[Solid, Outline, tuple[tuple[float, float, str], ...], tuple[str, ...]]:
    """The board as a solid, flat with its stubs as holes (to be cut and drilled instead), the labels, and notes.

    distances: (signed shim, centre distance), loosest first.  stubs: diameters for pinion and gear.  rim: a ring's
    outer radius. Where the arms stand too close for the pinion's slice, fewer of them are made.
    """
    import shapely

    ring = gear.tooth.ring
    chosen, notes = _fewer(pinion, distances, stubs[0])
    turn = 2 * np.pi / len(chosen)
    places = [(a * np.cos(k * turn), a * np.sin(k * turn)) for k, (_, a) in enumerate(chosen)]
    half = max(_ARM, stubs[0] + 4e-3) / 2
    lip = rim + PLAY / 2
    reach = [lip + _LIP_WALL if ring else a + half for _, a in chosen]
    arms = [
        shapely.LineString([(0, 0), (r * np.cos(k * turn), r * np.sin(k * turn))]).buffer(half, cap_style="flat")
        for k, r in enumerate(reach)
    ]
    ends = [] if ring else [shapely.Point(p).buffer(half, quad_segs=24) for p in places]
    middle = shapely.Point(0, 0).buffer(half, quad_segs=24)
    floor = shapely.union_all([*arms, *ends, middle])
    rising = [prism(shape(circle(stubs[0] / 2, p)), SLICE + _STUB_OVER, _FLOOR) for p in places]
    if ring:
        wall = shape(circle(lip + _LIP_WALL), [circle(lip)])
        floor = floor.intersection(shape(circle(lip + _LIP_WALL)))
        floor = floor.union(shape(circle(lip + _LIP_WALL), [circle(gear.root + 0.5e-3)]))
        rising.append(prism(wall, _LIP, _FLOOR))
    else:
        rising.append(prism(shape(circle(stubs[1] / 2)), SLICE + _STUB_OVER, _FLOOR))
    floor = floor.difference(shapely.union_all(_marks(places, chosen, stubs, ring)))
    body = prism(floor, _FLOOR)
    for part in rising:
        body = body + part
    drilled = [circle(stubs[0] / 2, p) for p in places] + ([] if ring else [circle(stubs[1] / 2)])
    for hole in drilled:
        floor = floor.difference(shapely.Polygon(hole))
    labels = tuple(
        (float(x), float(y), f"{n + 1}: {a * 1e3:.2f} mm, " + _words(shim))
        for n, ((x, y), (shim, a)) in enumerate(zip(places, chosen, strict=True))
    )
    return solid(body), outline(floor), labels, notes


def _words(shim: float) -> str:
    if shim == 0:
        return "as designed"
    return f"{abs(shim) * 1e3:g} mm of shims {'more' if shim > 0 else 'less'}"


def _fewer(
    pinion: Toothed, distances: tuple[tuple[float, float], ...], stub: float
) -> tuple[tuple[tuple[float, float], ...], tuple[str, ...]]:
    """The distances that find a place: the pinion's slice must pass the neighbouring stubs."""
    right = next(d for d in distances if d[0] == 0)
    nearest = min(a for _, a in distances)
    needed = pinion.tip + stub / 2 + 1e-3
    middle = len(distances) // 2
    for kept in (distances, distances[middle - 1 : middle + 2]):
        if 2 * nearest * np.sin(np.pi / len(kept)) > needed:
            left_out = len(distances) - len(kept)
            said = (f"the board leaves out {left_out} distances: their stubs would be in the pinion's way",)
            return kept, said if left_out else ()
    return (right,), ("the board has the true distance only: other stubs would be in the pinion's way",)


def _marks(
    places: list[tuple[float, float]], chosen: tuple[tuple[float, float], ...], stubs: tuple[float, float], ring: bool
) -> list[Any]:
    """Holes that count the arms, from the stub inwards: one on the loosest, two on the next, …; none without room."""
    import shapely

    marks: list[Any] = [shapely.Polygon()]
    begin = stubs[0] / 2 + 3e-3
    middle = 2e-3 if ring else stubs[1] / 2 + 3e-3
    if min(a for _, a in chosen) - begin - middle < (len(chosen) - 1) * _MARK_STEP:
        return marks
    for n, (x, y) in enumerate(places):
        length = float(np.hypot(x, y))
        for k in range(n + 1):
            share = (length - begin - k * _MARK_STEP) / length
            marks.append(shapely.Polygon(circle(_MARK, (x * share, y * share))))
    return marks
