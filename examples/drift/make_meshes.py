"""Make Drift's mesh: `python make_meshes.py` writes meshes/canopy.stl, in millimetres, always the same bytes.

The mesh stands with its centre of mass in its origin, so that `at` in design.yaml is where its weight is.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh

FOLDER = Path(__file__).parent / "meshes"


def canopy(diameter: float = 900.0, top: float = 550.0, wall: float = 4.0) -> trimesh.Trimesh:
    """The bell of a jellyfish, hollow and open below; `top` is the height of its crown above its centre of mass."""
    along = np.linspace(0.0, 1.0, 21)
    radius = (
        diameter / 2 * np.clip(np.sin(np.pi / 2 * np.minimum(1.35 * along, 1.0)) ** 0.8 - 0.22 * along**3, 0.0, None)
    )
    radius = radius * (diameter / 2 / radius.max())
    height = -along * 1000.0
    outer = np.stack([radius, height], -1)
    inner = np.stack([np.maximum(radius - wall, 0.0), np.minimum(height, -wall)], -1)
    outline = np.concatenate([inner[1:], outer[:0:-1], [[0.0, 0.0], [0.0, -wall]], inner[1:2]])
    mesh = trimesh.creation.revolve(outline, sections=40)
    mesh.apply_scale([1.0, 1.0, top / (mesh.bounds[1, 2] - mesh.center_mass[2])])
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
    write("canopy", canopy())
