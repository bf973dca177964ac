"""Meshes: volume, centre and inertia of an STL file beside the design, with every way it can be wrong said plainly."""

from __future__ import annotations

import warnings
from contextlib import redirect_stderr
from functools import lru_cache
from io import StringIO
from pathlib import Path

import numpy as np

from dryfit.ground.quantity import Array
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
    try:
        file = (folder / name).resolve()
        is_there = file.is_file()
    except (OSError, ValueError, RuntimeError):
        # too long, with a character that no name may have, or a link that leads back to itself
        raise MeshError("this cannot be the name of a file") from None
    if not file.is_relative_to(folder.resolve()):
        raise MeshError("a mesh must lie in the folder of the design file or below it")
    if file.suffix.lower() != ".stl":
        raise MeshError("a mesh is an STL file (name ending in .stl)")
    if not is_there:
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
    triangles = _triangles(file)
    extents = np.ptp(triangles.reshape(-1, 3), axis=0)
    longest = float(np.max(extents))
    largest = longest * METRES[unit]
    if not SMALLEST <= largest <= LARGEST:
        raise MeshError(_slip_of_unit(longest, unit))
    if largest < SMALL and not told:
        raise MeshError(
            f"the mesh would be {largest * 1e3:.3g} mm long: write mesh_unit: mm if it is, "
            f"or {_other_units(longest, unit)}"
        )
    if not _closed(triangles):
        raise MeshError(
            "the surface has holes (it is not watertight), so it encloses no volume; mend it and export again"
        )
    triangles *= METRES[unit]
    volume, centre, inertia = enclosed(triangles)
    if not volume > 0:
        raise MeshError("the surface is inside out (its volume is negative or zero); turn its normals outwards")
    tensor = inertia / volume
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    return Solid(
        volume=volume,
        centre=(float(centre[0]), float(centre[1]), float(centre[2])),
        moments=(float(tensor[0, 0]), float(tensor[1, 1]), float(tensor[2, 2])),
        products=(float(tensor[0, 1]), float(tensor[0, 2]), float(tensor[1, 2])),
        box=tuple(float(x) for x in high - low),  # type: ignore[arg-type]
        middle=tuple(float(x) for x in (high + low) / 2),  # type: ignore[arg-type]
        round=False,
    )


def _triangles(file: Path) -> Array:
    """Corners of the triangles (T, 3, 3) as the file gives them. Raises MeshError."""
    import stl

    try:
        # A torn file makes the reader warn or fail in any way; all of them mean the same here.
        with warnings.catch_warnings(), redirect_stderr(StringIO()):
            warnings.simplefilter("ignore")
            mesh = stl.Mesh.from_file(str(file), calculate_normals=False, remove_empty_areas=False)
    except Exception as fault:
        raise MeshError("the file cannot be read as STL; export it again") from fault
    corners = np.asanyarray(mesh.vectors, dtype=float)
    if len(corners) == 0:
        raise MeshError("the file holds no triangles; export it again")
    if not np.all(np.isfinite(corners)):
        raise MeshError("the file holds corners that are no numbers; export it again")
    return corners


def _closed(triangles: Array) -> bool:
    """True if every edge is run as often one way as the other: a watertight surface, turned one way throughout."""
    corners, index = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)
    faces = index.reshape(-1, 3)
    faces = faces[(faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])]
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    there, back = np.sort(start * len(corners) + end), np.sort(end * len(corners) + start)
    return len(faces) > 0 and bool(np.array_equal(there, back))


def enclosed(triangles: Array) -> tuple[float, Array, Array]:
    """Volume, centre (3,) and inertia about the centre (3, 3) at density one of the solid inside a closed surface.

    triangles: corners (T, 3, 3), outward turned. Each triangle makes a tetrahedron with the origin, whose second
    moments are those of its corners (a + b + c)(a + b + c)ᵀ + Σ ppᵀ over 20 (integral over a simplex, derived).
    """
    a, b, c = np.moveaxis(triangles, 1, 0)
    sixth = np.einsum("ti,ti->t", a, np.cross(b, c)) / 6
    together = a + b + c
    volume = float(np.sum(sixth))
    if volume == 0:
        return 0.0, np.zeros(3), np.zeros((3, 3))
    centre = sixth @ together / (4 * volume)
    second = np.einsum("t,ti,tj->ij", sixth, together, together) + np.einsum(
        "t,tki,tkj->ij", sixth, triangles, triangles
    )
    about = second / 20 - volume * np.outer(centre, centre)
    return volume, centre, np.trace(about) * np.eye(3) - about


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
