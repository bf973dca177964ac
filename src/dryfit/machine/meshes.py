"""Meshes: volume, centre and inertia of an STL file beside the design, with every way it can be wrong said plainly."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from dryfit.machine.shapes import Solid

METRES = {"mm": 1e-3, "m": 1.0, "in": 0.0254}
LARGEST_FILE = 50_000_000
SMALLEST, LARGEST = 1e-3, 4.0
"""Bounding boxes outside these lengths, m, are not parts of a show robot but a slip of the unit."""
SMALL = 40e-3
"""Below this length, m, the unit has to be typed: a part of less than a metre drawn in inches reads as so few mm."""


class MeshError(ValueError):
    """The mesh cannot be used; the message says why and what to do."""


def mesh_file(folder: Path, name: str) -> Path:
    """The file meant, which must lie in the folder of the design file. Raises MeshError."""
    if name.startswith(("/", "\\")) or ":" in name:
        raise MeshError("a mesh is named by its path from the design file's folder, not by a full path")
    file = (folder / name).resolve()
    if not file.is_relative_to(folder.resolve()):
        raise MeshError("a mesh must lie in the folder of the design file or below it")
    if file.suffix.lower() != ".stl":
        raise MeshError("a mesh is an STL file (name ending in .stl)")
    if not file.is_file():
        near = sorted(p.name for p in file.parent.glob("*.stl"))[:5] if file.parent.is_dir() else []
        raise MeshError("no such file" + (f"; in that folder there are: {', '.join(near)}" if near else ""))
    if file.stat().st_size > LARGEST_FILE:
        raise MeshError(f"the file has {file.stat().st_size / 1e6:.0f} MB; at most 50 MB are read: thin the mesh out")
    return file


def mesh_solid(file: Path, unit: str | None) -> Solid:
    """Mass properties of the solid that the mesh encloses, read in mm where no unit is typed. Raises MeshError.

    Kept as long as the file is unchanged.
    """
    stat = file.stat()
    return _measured(file, stat.st_mtime_ns, stat.st_size, unit or "mm", unit is not None)


@lru_cache(maxsize=256)
def _measured(file: Path, _changed: int, _bytes: int, unit: str, told: bool) -> Solid:
    import trimesh

    try:
        mesh = trimesh.load_mesh(file, file_type="stl")
    except Exception as fault:  # a broken file can make the reader fail in any way; all of them mean the same here
        raise MeshError("the file cannot be read as STL; export it again") from fault
    if not isinstance(mesh, trimesh.Trimesh) or len(mesh.faces) == 0:
        raise MeshError("the file holds no triangles; export it again")
    typed = [float(x) for x in mesh.extents]
    largest = max(typed) * METRES[unit]
    if not SMALLEST <= largest <= LARGEST:
        raise MeshError(_slip_of_unit(max(typed), unit))
    if largest < SMALL and not told:
        raise MeshError(
            f"the mesh would be {largest * 1e3:.3g} mm long: write mesh_unit: mm if it is, "
            f"or {_other_units(max(typed), unit)}"
        )
    if not mesh.is_watertight:
        raise MeshError(
            "the surface has holes (it is not watertight), so it encloses no volume; mend it and export again"
        )
    if not float(mesh.volume) > 0:
        raise MeshError("the surface is inside out (its volume is negative or zero); turn its normals outwards")
    f = METRES[unit]
    properties = mesh.mass_properties
    volume, tensor = float(properties["volume"]), properties["inertia"] / float(properties["mass"]) * f * f
    low, high = mesh.bounds * f
    c = properties["center_mass"] * f
    return Solid(
        volume=volume * f**3,
        centre=(float(c[0]), float(c[1]), float(c[2])),
        moments=(float(tensor[0, 0]), float(tensor[1, 1]), float(tensor[2, 2])),
        products=(float(tensor[0, 1]), float(tensor[0, 2]), float(tensor[1, 2])),
        box=tuple(float(x) for x in high - low),  # type: ignore[arg-type]
        middle=tuple(float(x) for x in (high + low) / 2),  # type: ignore[arg-type]
        round=False,
    )


def _slip_of_unit(largest: float, unit: str) -> str:
    """Which unit the file looks to be drawn in, from its largest extent as it stands."""
    others = _other_units(largest, unit)
    hint = f"; write {others}" if others else ""
    return f"the mesh would be {largest * METRES[unit]:.4g} m long, which is no part of a show robot{hint}"


def _other_units(largest: float, unit: str) -> str:
    """The units in which the mesh would be of a likely size: "mesh_unit: in (300 mm long)"."""
    sizes = {u: largest * METRES[u] for u in ("mm", "in", "m") if u != unit}
    fits = [f"mesh_unit: {u} ({1e3 * s:.4g} mm long)" for u, s in sizes.items() if 5e-3 <= s <= LARGEST]
    return " or ".join(fits)
