"""What of the machine is printed: parts, what arms hold, and prints that are no part of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from dryfit.catalogue.rows import keys
from dryfit.design.fields import Word
from dryfit.design.records import Design
from dryfit.design.sections.body import Part
from dryfit.design.sections.printing import MorePrint
from dryfit.ground import units
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Array, Quantity
from dryfit.machine.ledger import Default, Ledger, whole
from dryfit.machine.machine import Machine
from dryfit.machine.meshes import METRES, MeshError, mesh_file, mesh_solid
from dryfit.machine.printing import How, Printing, how_printed

USUAL_MATERIAL = "petg"
MOST = 500
_NEEDS = {
    "box": ("size",), "plate": ("size",), "cylinder": ("diameter", "length"), "rod": ("diameter", "length"),
    "tube": ("diameter", "length", "wall"), "cone": ("diameter", "length"), "sphere": ("diameter",),
}  # fmt: skip


@dataclass(frozen=True)
class PrintedThing:
    """One thing that is printed so many times. path, line: of it in the design file.  shape: a word, or "mesh".
    size: x, y, z of its extent, m.  wall: m, 0 for solid.  mesh: file, and metres of its unit.  count: copies that the
    machine has, spares not counted.  coupon: a test piece.  typed_mass: of one, kg, NaN where the file has none."""

    name: str
    path: str
    line: int
    section: str
    shape: str
    size: tuple[float, float, float]
    wall: float
    mesh: Path | None
    mesh_unit: float
    count: int
    material: str
    way: How
    coupon: bool
    typed_mass: float


@dataclass(frozen=True)
class ToPrint:
    """Everything to print, and what could not be taken up, in words."""

    things: tuple[PrintedThing, ...]
    notes: tuple[str, ...]


def things_to_print(design: Design, ledger: Ledger, machine: Machine, printing: Printing, folder: Path) -> ToPrint:
    """Printed parts of the body, printed payloads of arms, and `workshop.more_prints`, in the order of the file."""
    things: list[PrintedThing] = []
    notes: list[str] = []
    for i, part in enumerate(design.body.parts if design.body else ()):
        if part.made == "printed":
            found = _of_part(part, f"body.parts[{i}]", ledger, machine, printing, folder)
            if found is None:
                notes.append(
                    f"{part.name} (line {part.name.origin.line}) is printed, but has neither shape nor mesh: its hours"
                    " and its material are not counted."
                )
            else:
                things.append(found)
    things += _payloads(design, ledger, machine, printing, folder)
    for i, more in enumerate(design.workshop.more_prints):
        found = _of_more(more, f"workshop.more_prints[{i}]", ledger, printing, folder)
        if found is not None:
            things.append(found)
    return ToPrint(tuple(things), tuple(notes))


def mesh_triangles(thing: PrintedThing) -> Array:
    """Corners of the triangles of a thing's mesh in its own axes (T, 3, 3), m."""
    import stl

    mesh = stl.Mesh.from_file(str(thing.mesh), calculate_normals=False, remove_empty_areas=False)
    return np.array(mesh.vectors, dtype=float) * thing.mesh_unit


def _material(path: str, typed: Word | None, ledger: Ledger) -> str:
    """The filament; one that the catalogue does not have becomes a fault."""
    reason = "no material given: it stands a warm van, which PLA does not"
    material = ledger.choose(path, typed, USUAL_MATERIAL, reason)
    if material in keys("filaments"):
        return material
    ledger.fault(path, f"not a filament, and the part is printed{nearest(material, keys('filaments'))}", read=material)
    return USUAL_MATERIAL


def _of_part(
    part: Part, path: str, ledger: Ledger, machine: Machine, printing: Printing, folder: Path
) -> PrintedThing | None:
    ledger.origins[f"{path}.name"] = part.name.origin
    if path not in machine.parts.paths:
        return None
    at = machine.parts.paths.index(path)
    shape = machine.parts.shapes[at]
    if shape == "unknown":
        return None
    x, y, z = (float(v) for v in np.asanyarray(machine.parts.size)[at])
    wall = 0.0
    if part.wall is not None or shape == "tube":
        usual = Default("3 mm", 0.5, "a usual wall of a printed or drawn tube")
        wall = float(ledger.take(f"{path}.wall", units.LENGTH, part.wall, None, usual))
    return PrintedThing(
        name=str(part.name),
        path=path,
        line=part.name.origin.line,
        section=machine.parts.section[at],
        shape=shape,
        size=(x, y, z),
        wall=0.0 if shape == "cone" else wall,
        mesh=machine.parts.meshes[at],
        mesh_unit=METRES[str(part.mesh_unit or "mm")],
        count=machine.parts.paths.count(path),
        material=_material(f"{path}.material", part.material, ledger),
        way=how_printed(part.print, f"{path}.print", ledger, printing.usual, printing.nozzle, printing.line_width),
        coupon=False,
        typed_mass=float("nan") if part.mass is None else float(part.mass.si),
    )


def _payloads(design: Design, ledger: Ledger, machine: Machine, printing: Printing, folder: Path) -> list[PrintedThing]:
    """What arms hold, where it has a mesh and a material or a way of printing."""
    found = []
    for i, group in enumerate(design.arms.groups if design.arms else ()):
        load, path = group.payload, f"arms.groups[{i}].payload"
        if load is None or load.mesh is None:
            continue
        ledger.origins[f"{path}.mesh"] = load.mesh.origin
        try:
            file = mesh_file(folder, str(load.mesh))
            box = mesh_solid(file, None if load.mesh_unit is None else str(load.mesh_unit)).box
        except MeshError as wrong:
            ledger.fault(f"{path}.mesh", str(wrong), read=str(load.mesh))
            continue
        name = str(group.name)
        count = sum(1 for n in machine.arms.groups if machine.arms.group_names[n] == name)
        if count == 0:
            continue
        found.append(
            PrintedThing(
                name=name,
                path=path,
                line=load.mesh.origin.line,
                section="arms",
                shape="mesh",
                size=(float(box[0]), float(box[1]), float(box[2])),
                wall=0.0,
                mesh=file,
                mesh_unit=METRES[str(load.mesh_unit or "mm")],
                count=count,
                material=_material(f"{path}.material", load.material, ledger),
                way=how_printed(
                    load.print, f"{path}.print", ledger, printing.usual, printing.nozzle, printing.line_width
                ),
                coupon=False,
                typed_mass=float("nan") if load.mass is None else float(load.mass.si),
            )
        )
    return found


def _of_more(more: MorePrint, path: str, ledger: Ledger, printing: Printing, folder: Path) -> PrintedThing | None:
    ledger.origins[f"{path}.name"] = more.name.origin
    file, size, wall = None, (0.0, 0.0, 0.0), 0.0
    if more.mesh is not None:
        ledger.origins[f"{path}.mesh"] = more.mesh.origin
        if more.shape is not None:
            ledger.fault(f"{path}.shape", "a print has a shape or a mesh, not both", read=str(more.shape))
        try:
            file = mesh_file(folder, str(more.mesh))
            box = mesh_solid(file, None if more.mesh_unit is None else str(more.mesh_unit)).box
        except MeshError as wrong:
            ledger.fault(f"{path}.mesh", str(wrong), read=str(more.mesh))
            return None
        size = (float(box[0]), float(box[1]), float(box[2]))
    else:
        measured = _measured(more, path, ledger)
        if measured is None:
            return None
        size, wall = measured
    count = whole(ledger.take(f"{path}.count", units.COUNT, more.count, None, Default("1", 0.0, "one is needed")))
    if not 0 <= count <= MOST:
        ledger.fault(f"{path}.count", "not a likely number", str(count), f"0 to {MOST}")
    return PrintedThing(
        name=str(more.name),
        path=path,
        line=more.name.origin.line,
        section="",
        shape="mesh" if file else str(more.shape or "box"),
        size=size,
        wall=wall,
        mesh=file,
        mesh_unit=METRES[str(more.mesh_unit or "mm")],
        count=min(max(count, 0), MOST),
        material=_material(f"{path}.material", more.material, ledger),
        way=how_printed(more.print, f"{path}.print", ledger, printing.usual, printing.nozzle, printing.line_width),
        coupon=bool(more.coupon),
        typed_mass=float("nan"),
    )


def _measured(more: MorePrint, path: str, ledger: Ledger) -> tuple[tuple[float, float, float], float] | None:
    """Extent and wall of a shape; sizes that are missing or cannot be become a fault."""
    shape = str(more.shape or ("box" if more.size else ""))
    if shape not in _NEEDS:
        ledger.fault(f"{path}.name", "what is printed needs a shape or a mesh", str(more.name), "shape: box, or mesh:")
        return None
    missing = [key for key in _NEEDS[shape] if getattr(more, key) is None]
    if missing:
        ledger.fault(f"{path}.name", f"a printed {shape} needs {' and '.join(missing)}", read=str(more.name))
        return None
    lengths: list[Quantity] = [*(more.size or ()), *(q for q in (more.diameter, more.length) if q is not None)]
    if _too_large(lengths, path, ledger):
        return None
    wall = 0.0 if more.wall is None or shape == "cone" else float(more.wall.si)
    if more.size is not None and shape in ("box", "plate"):
        size: Sequence[float] = [float(q.si) for q in more.size]
    else:
        across = float(more.diameter.si) if more.diameter else 0.0
        size = (across, across, float(more.length.si) if more.length and shape != "sphere" else across)
    if wall and 2 * wall >= min(size[:2]):
        message = "the wall is half the width or more, so nothing hollow is left"
        ledger.fault(f"{path}.wall", message, f"{wall * 1e3:g} mm", "a thinner wall", more.name.origin.line)
        return None
    return (size[0], size[1], size[2]), wall


def _too_large(lengths: Sequence[Quantity], path: str, ledger: Ledger) -> bool:
    wrong = [q for q in lengths if not 1e-4 <= float(q.si) <= 4.0]
    for q in wrong[:1]:
        ledger.fault(
            f"{path}.name", "no part of a show robot measures that", q.origin.text, "0.1 mm to 4 m", q.origin.line
        )
    return bool(wrong)
