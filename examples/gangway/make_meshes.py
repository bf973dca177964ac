"""Make Gangway's meshes: `python make_meshes.py` writes meshes/*.stl, in millimetres, always the same bytes.

Each mesh stands with its centre of mass in its origin, so that `at` in design.yaml is where its weight is.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh

FOLDER = Path(__file__).parent / "meshes"


def suitcase(size: tuple[float, float, float] = (380.0, 260.0, 300.0), corner: float = 40.0) -> trimesh.Trimesh:
    """The outside of the suitcase with its shelf: a block with rounded corners (its weight is typed, not computed)."""
    sphere = trimesh.creation.icosphere(subdivisions=3, radius=corner)
    inner = np.array(size) / 2 - corner
    corners = sphere.vertices + np.where(sphere.vertices >= 0, inner, -inner)
    mirrored = [corners * np.array([x, y, z]) for x in (1, -1) for y in (1, -1) for z in (1, -1)]
    return trimesh.convex.convex_hull(np.concatenate(mirrored))


def head(diameter: float = 200.0, wall: float = 3.0, neck: float = 60.0) -> trimesh.Trimesh:
    """A round head, hollow, open at the neck: a turned ring of the given wall."""
    outside, inside = diameter / 2, diameter / 2 - wall
    low = np.arcsin(neck / 2 / outside) - np.pi / 2
    angle = np.linspace(low, np.pi / 2 - 0.02, 21)
    outer = np.stack([outside * np.cos(angle), outside * np.sin(angle)], -1)
    inner = np.stack([inside * np.cos(angle), inside * np.sin(angle)], -1)[::-1]
    crown = np.array([[0.0, outside], [0.0, inside]])
    return trimesh.creation.revolve(np.concatenate([outer, crown, inner, outer[:1]]), sections=40)


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
    write("suitcase", suitcase())
    write("head", head())
