"""Gears as they are drawn and made."""

from __future__ import annotations

from dataclasses import dataclass

from dryfit.making.records_solids import Outline, Solid


@dataclass(frozen=True)
class GearMember:
    """One pinion, gear or ring, SI.

    name: "pinion", "gear" or "ring", with the stage where there are several.  path: its stage in the design file.
    count: how many the machine has.  printed: made on the printer.  material: catalogue key.
    outline: of the teeth as the cutter generates them, thinned for backlash, in the member's own axes, one tooth (of a
    ring: one space) on the x axis.  made: the same with what line width and flare add taken off, and the bore.
    solid: to be printed, with hub and chamfers, standing on z = 0.  slice: a short piece of the teeth to try the mesh.
    facts: what stands beside the drawing: name, value, unit (SI).  notes: sentences for the maker.
    face_width: height of the teeth, m; the solid is higher where it has a boss.
    """

    name: str
    path: str
    count: int
    printed: bool
    material: str
    outline: Outline
    made: Outline
    solid: Solid
    slice: Solid
    facts: tuple[tuple[str, float, str], ...]
    notes: tuple[str, ...] = ()
    face_width: float = float("nan")


@dataclass(frozen=True)
class MeshGap:
    """What the two outlines leave between them at one centre distance, m: smallest gap over a whole pitch on the side
    that does not drive, and whether they overlap anywhere (then the gap is below zero)."""

    shim: float
    centre_distance: float
    gap: float
    overlaps: bool


@dataclass(frozen=True)
class GearPair:
    """A stage as drawn: its members, the working centre distance, the backlash that the teeth were thinned for (normal
    to the flanks), gaps at the true distance and at shim steps, and the board with pegs to try the slices on."""

    name: str
    path: str
    internal: bool
    pinion: GearMember
    gear: GearMember
    centre_distance: float
    backlash: float
    gaps: tuple[MeshGap, ...]
    board: Solid
    board_outline: Outline
    board_labels: tuple[tuple[float, float, str], ...]
