"""Make Beacon's mesh: `python make_meshes.py` writes meshes/lantern.stl, in millimetres, always the same bytes.

The mesh stands with its centre of mass in its origin, so that `at` in design.yaml is where its weight is.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh

FOLDER = Path(__file__).parent / "meshes"


def lantern(width: float = 320.0, top: float = 250.0) -> trimesh.Trimesh:
    """A hexagonal lamp head: foot, panes, roof and finial; `top` is the height of its tip above its centre of mass."""
    outline = [
        (0, 0),
        (60, 0),
        (90, 30),
        (100, 40),
        (150, 330),
        (160, 340),
        (160, 360),
        (60, 440),
        (30, 450),
        (30, 480),
        (0, 500),
        (0, 0),
    ]
    mesh = trimesh.creation.revolve(np.array(outline, dtype=float), sections=6)
    mesh.apply_scale([width / 320.0, width / 320.0, top / (mesh.bounds[1, 2] - mesh.center_mass[2])])
    return mesh


def write(name: str, mesh: trimesh.Trimesh) -> None:
    """Check, move the centre of mass into the origin, write."""
    if not mesh.is_watertight or mesh.volume <= 0:
        raise ValueError(f"{name} is not a closed body")
    mesh.apply_translation(-mesh.center_mass)
    FOLDER.mkdir(exist_ok=True)
    mesh.export(FOLDER / f"{name}.stl")
    size = " x ".join(f"{x:.0f}" for x in mesh.extents)
    print(f"{name}: {size} mm, {mesh.volume / 1000:.0f} cm3")


if __name__ == "__main__":
    write("lantern", lantern())
