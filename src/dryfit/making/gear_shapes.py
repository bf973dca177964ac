"""Flat shapes of gear bodies: bores, keyways, peg holes, and what is taken off because lines are laid too wide. m."""

from __future__ import annotations

from typing import Any

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.making.gear_outlines import traced
from dryfit.making.records_solids import Outline

_CHORD = 5e-6
"""Chords of round holes and rims, m: far below what a printer can do."""

_LEAST = 1e-9
"""Areas below this are no pieces, m2."""


def circle(radius: float, at: tuple[float, float] = (0.0, 0.0)) -> Array:
    """A circle to the left (N, 2)."""

    def line(turn: Array) -> Array:
        return np.stack([at[0] + radius * np.cos(turn), at[1] + radius * np.sin(turn)], axis=-1)

    quarter = len(traced(line, 0.0, np.pi / 2, _CHORD)) - 1
    return line(np.linspace(0.0, 2 * np.pi, 4 * quarter, endpoint=False))


def flat_bore(radius: float, flat_depth: float) -> Array:
    """A round bore with a flat at right angles to the x axis, `flat_depth` in from the circle."""
    half = float(np.arccos(np.clip(1 - flat_depth / radius, -1, 1)))

    def line(turn: Array) -> Array:
        return np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=-1)

    return traced(line, half, 2 * np.pi - half, _CHORD)


def keyed_bore(radius: float, width: float, depth: float) -> Array:
    """A round bore with a keyway on the x axis, `depth` out from the circle."""
    half = float(np.arcsin(min(width / 2 / radius, 0.9)))

    def line(turn: Array) -> Array:
        return np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=-1)

    arc = traced(line, half, 2 * np.pi - half, _CHORD)
    floor = np.array([[radius + depth, -width / 2], [radius + depth, width / 2]])
    return np.concatenate([arc, floor])


def on_circle(count: int, diameter: float, first: float = 0.0) -> Array:
    """Centres (count, 2) evenly on a circle."""
    turn = first + 2 * np.pi * np.arange(count) / max(count, 1)
    return np.stack([diameter / 2 * np.cos(turn), diameter / 2 * np.sin(turn)], axis=-1)


def shape(outer: Array, holes: list[Array] | tuple[Array, ...] = ()) -> Any:
    """A polygon with its holes cut out, even where they touch or leave it; of several pieces all are kept."""
    import shapely

    whole = shapely.Polygon(outer)
    for hole in holes:
        whole = whole.difference(shapely.Polygon(hole))
    return whole


def outline(polygon: Any) -> Outline:
    """The largest piece of a shape as an outline: outer to the left, holes to the right."""
    import shapely

    pieces = [p for p in shapely.get_parts(polygon) if p.area > _LEAST]
    largest = shapely.geometry.polygon.orient(max(pieces, key=lambda p: p.area), 1.0)
    return Outline(np.array(largest.exterior.coords)[:-1], tuple(np.array(r.coords)[:-1] for r in largest.interiors))


def inset(polygon: Any, depth: float) -> Any:
    """The shape with `depth` taken off all round, in its holes too (below zero: added); corners stay sharp."""
    return polygon.buffer(-depth, join_style="mitre", mitre_limit=2.0)
