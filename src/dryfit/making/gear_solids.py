"""Bodies of gears as solids, standing on z = 0: teeth, chamfered tips, boss, bores. Lengths in m outside, mm inside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.making.gear_shapes import circle, inset
from dryfit.making.records_solids import Solid

_MM = 1e3
_ROUND = 384
"""Corners of the turned wedges that cut the chamfers."""

_COARSE = 3e-6
"""By how much the edge of a solid may leave its outline, m: a hundredth of what a printer can do."""

SCREWS = ((4.0, 4.5, 7.0, 3.2), (3.0, 3.4, 5.5, 2.4))
"""Set screws with nuts, mm: thread, clearance hole, across flats, height of the nut (ISO 273 medium and ISO 4032, from
memory), largest first."""

_NUT_PLAY, _NUT_WALL = 0.25, 1.2
"""What a printed nut pocket is wider than the nut, and the wall on either side of it, mm (common practice)."""


@dataclass(frozen=True)
class Boss:
    """A boss on top of the teeth, mm. screws: set screws across it, at these angles, rad, through nut pockets where
    `nuts`, 0 to 2."""

    diameter: float
    length: float
    bore: float
    screws: tuple[float, ...] = ()
    nuts: bool = True


def prism(polygon: Any, height: float, at: float = 0.0) -> Any:
    """A flat shape, m, pulled up from z = `at` by `height`, m; as a manifold in mm."""
    import manifold3d
    import shapely

    rings = []
    for piece in shapely.get_parts(polygon):
        for ring in (piece.exterior, *piece.interiors):
            rings.append(np.array(ring.coords)[:-1] * _MM)
    section = manifold3d.CrossSection(rings, manifold3d.FillRule.EvenOdd)
    return manifold3d.Manifold.extrude(section, height * _MM).translate((0, 0, at * _MM))


def layered(flat: Any, height: float, flare: float, layer: float) -> Any:
    """A flat shape pulled up, its first layer drawn in all round by `flare`; points that no printer shows left out."""
    coarse = flat.simplify(_COARSE)
    if not flare > 0:
        return prism(coarse, height)
    return prism(inset(coarse, flare).simplify(_COARSE), layer) + prism(coarse, height - layer, layer)


def toothed_body(
    made: Any, tip: float, height: float, *, ring: bool, chamfer: float, flare: float, layer: float
) -> Any:
    """Teeth of a height, both edges of their tips chamfered under 45°, the first layer drawn in all round."""
    body = layered(made, height, flare, layer)
    chamfer = min(chamfer, height / 3)
    if not chamfer > 0:
        return body
    return body - _tip_chamfers(tip, height, chamfer, ring)


def _tip_chamfers(tip: float, height: float, chamfer: float, ring: bool) -> Any:
    """Turned wedges that take both edges off the tips: outside of a gear, inside of a ring."""
    import manifold3d

    r, h, c, over = tip * _MM, height * _MM, chamfer * _MM, 1.0
    side = -1.0 if ring else 1.0
    # as a triangle that reaches past the edge: from the chamfer's inner foot to the tip, and out of the body
    low = np.array([[r - side * (c + over), -over], [r + side * over, -over], [r + side * over, c + over]])
    wedges = []
    for corners in (low, np.stack([low[:, 0], h - low[:, 1]], axis=-1)):
        section = manifold3d.CrossSection([corners], manifold3d.FillRule.NonZero)
        if section.area() == 0:
            section = manifold3d.CrossSection([corners[::-1]], manifold3d.FillRule.NonZero)
        wedges.append(manifold3d.Manifold.revolve(section, _ROUND))
    return wedges[0] + wedges[1]


def with_boss(body: Any, boss: Boss, height: float, bored: Callable[[Array], Any]) -> tuple[Any, tuple[str, ...]]:
    """The body with a boss on its upper face, with holes for set screws and their nuts, and what to
    know. bored: makes a flat shape of an outline, with the bore cut out."""
    import manifold3d

    if not boss.length > 0:
        return body, ()
    foot = height * _MM
    around = circle(boss.diameter / 2 / _MM)
    body = body + prism(bored(around), (boss.length + 0.5) / _MM, height - 0.5 / _MM)
    if not boss.screws:
        return body, ()
    wall = (boss.diameter - boss.bore) / 2
    fitting = [s for s in SCREWS if s[3] + _NUT_PLAY + 2 * _NUT_WALL <= wall and s[2] + 1.0 <= boss.length]
    thread, hole, flats, thick = fitting[0] if fitting else SCREWS[-1]
    nuts = boss.nuts and bool(fitting)
    middle = foot + boss.length / 2
    for turn in boss.screws:
        cut = manifold3d.Manifold.cylinder(boss.diameter, (hole if nuts else 0.85 * thread) / 2, circular_segments=32)
        cut = cut.rotate((0, 90, 0))
        if nuts:
            # a slot from the end of the boss, deep enough for a nut that stands on a corner
            deep = flats / np.sqrt(3) + _NUT_PLAY / 2
            slot = (thick + _NUT_PLAY, flats + _NUT_PLAY, deep + boss.length / 2 + 1)
            corner = ((boss.bore + wall - thick - _NUT_PLAY) / 2, -slot[1] / 2, -deep)
            cut = cut + manifold3d.Manifold.cube(slot).translate(corner)
        body = body - cut.rotate((0, 0, float(np.rad2deg(turn)))).translate((0, 0, middle))
    said = f"M{thread:g} set screw" + ("s" if len(boss.screws) > 1 else "")
    if nuts:
        return body, (f"{said}, nut in a pocket of the boss, put in from its end",)
    return body, (f"{said}: the holes are {0.85 * thread:.2g} mm, tap them",)


def solid(body: Any) -> Solid:
    """A manifold in mm as a solid in m. Raises ValueError where nothing is left of it."""
    mesh = body.to_mesh64() if hasattr(body, "to_mesh64") else body.to_mesh()
    points = np.asanyarray(mesh.vert_properties, dtype=float)[:, :3] / _MM
    faces = np.asanyarray(mesh.tri_verts, dtype=np.int64)
    if len(faces) == 0:
        raise ValueError("nothing is left of the body: its bore is larger than its teeth")
    return Solid(points, faces)
