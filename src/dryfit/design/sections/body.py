"""Section `body`: every part that moves with the base, with its shape, material, pose and, best of all, its mass."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from dryfit.design import fields as f
from dryfit.design.sections.printing import PrintHow
from dryfit.design.sections.stock import Piece

Point = Annotated[list[f.Length], Field(min_length=3, max_length=3)]
Turns = Annotated[list[f.Angle], Field(min_length=3, max_length=3)]
Sizes = Annotated[list[f.PositiveLength], Field(min_length=3, max_length=3)]


class Ring(f.Record):
    """Copies on a circle about the parent's upright axis; with `turned_along` each copy's x axis points outwards."""

    count: f.Count
    radius: f.UnsignedLength
    first: f.Angle | None = None
    turned_along: f.Flag = True


class Grid(f.Record):
    """Copies in rows along x, y and (with three entries) z, the middle of the grid standing at the part's `at`."""

    count: Annotated[list[f.Count], Field(min_length=1, max_length=3)]
    spacing: Annotated[list[f.UnsignedLength], Field(min_length=1, max_length=3)]


class Part(f.Record):
    """One part, or one that is repeated. Its own axes: origin in the middle of the shape, length along z.

    size: x, y, z of a box or plate.  diameter, length, wall: of a cylinder, tube, rod, cone or sphere; a box with a
    wall is an open box section along z.  mesh: an STL file beside the design file; its origin is the part's origin.
    profile: a row of the catalogue's profiles, of the given length.  fill: share of the volume that a print fills.
    mass: as weighed; `guessed: yes` says that it was not.  centre: centre of mass in the part's own axes.
    at, turned: pose on the parent (or the machine); turned about x, then y, then z of the parent.
    print: how it is printed, in place of the workshop's usual way.  pieces: what a cut part is sawn from.
    """

    name: f.Text
    shape: f.choice("box", "plate", "cylinder", "tube", "rod", "cone", "sphere") | None = None  # type: ignore[valid-type]
    size: Sizes | None = None
    diameter: f.PositiveLength | None = None
    length: f.PositiveLength | None = None
    wall: f.PositiveLength | None = None
    mesh: f.Text | None = None
    mesh_unit: f.choice("mm", "m", "in") | None = None  # type: ignore[valid-type]
    profile: f.Text | None = None
    material: f.Text | None = None
    density: f.Density | None = None
    fill: f.Share | None = None
    made: f.choice("printed", "cut", "bought") | None = None  # type: ignore[valid-type]
    mass: f.Mass | None = None
    guessed: f.Flag = False
    centre: Point | None = None
    at: Point | None = None
    turned: Turns | None = None
    parent: f.Text | None = None
    section: f.Text | None = None
    ring: Ring | None = None
    grid: Grid | None = None
    print: PrintHow = PrintHow()
    pieces: list[Piece] = Field(default_factory=list)


class Rough(f.Record):
    """The whole body as one block, for the days before there is a list of parts. Used only while `parts` is empty."""

    mass: f.Mass | None = None
    centre_height: f.PositiveLength | None = None
    height: f.PositiveLength | None = None
    width: f.PositiveLength | None = None
    depth: f.PositiveLength | None = None


class BodyLimits(f.Record):
    """Habits of the trade about weight and footing."""

    guessed_share: f.Share | None = None
    least_wheel_share: f.Share | None = None
    door_clearance: f.UnsignedLength | None = None


class Body(f.Record):
    """The parts, and how the machine stands and travels as a whole.

    wheels_included: whether the parts carry the wheels (usual: a wheel unit is weighed as one); `no` adds the mass of
    the wheels of `base.wheels`.  through_door: "assembled", or "in sections" where it is taken apart to pass.
    floor_unevenness: how far one wheel's spot lies off the plane of the others.  contact_stiffness: force over travel
    of one wheel with its axle and its corner of the frame.
    """

    parts: list[Part] = Field(default_factory=list)
    rough: Rough = Rough()
    wheels_included: f.Flag | None = None
    through_door: f.choice("assembled", "in sections") | None = None  # type: ignore[valid-type]
    floor_unevenness: f.UnsignedLength | None = None
    contact_stiffness: f.Stiffness | None = None
    limits: BodyLimits = BodyLimits()
