"""Make Sunbloom's meshes: `python make_meshes.py` writes meshes/*.stl, in millimetres, always the same bytes.

Each mesh stands with its centre of mass in its origin, so that `at` in design.yaml is where its weight is.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh

FOLDER = Path(__file__).parent / "meshes"


def turned(profile: list[tuple[float, float]], sections: int = 96) -> trimesh.Trimesh:
    """A turned body: the closed outline of (radius, height), counter-clockwise, swept about the upright."""
    return trimesh.creation.revolve(np.array([*profile, profile[0]]), sections=sections)


def thick_sheet(outside: np.ndarray, inside: np.ndarray) -> trimesh.Trimesh:
    """A sheet between two grids of points (rows, columns, 3), closed along its four edges."""
    rows, columns = outside.shape[:2]
    number = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    front = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    back = front[:, ::-1] + rows * columns
    rim = np.concatenate([number[0, :-1], number[:-1, -1], number[-1, :0:-1], number[:0:-1, 0]])
    after = np.roll(rim, -1)
    edge = np.concatenate(
        [
            np.stack([rim, rim + rows * columns, after], -1),
            np.stack([after, rim + rows * columns, after + rows * columns], -1),
        ]
    )
    points = np.concatenate([outside.reshape(-1, 3), inside.reshape(-1, 3)])
    mesh = trimesh.Trimesh(points, np.concatenate([front, back, edge]), process=False)
    mesh.fix_normals()
    return mesh


def petal(length: float = 280.0, width: float = 180.0, thickness: float = 4.0, cup: float = 22.0) -> trimesh.Trimesh:
    """A leaf along x, cupped upwards towards its edges, blunt at the root where it meets the arm."""
    u = np.linspace(0.0, 1.0, 31)[:, None]
    v = np.linspace(-1.0, 1.0, 21)[None, :]
    half_width = width / 2 * (0.16 + 0.84 * np.sin(np.pi * u**0.8)) * np.sqrt(1.0001 - u**6)
    half_width = np.maximum(half_width, 3.0)
    x, y = np.broadcast_arrays(length * u, half_width * v)
    z = cup * (y / (width / 2)) ** 2 + 10.0 * np.sin(np.pi * u)
    top = np.stack([x, y, z], -1)
    return thick_sheet(top, top - [0.0, 0.0, thickness])


def bud_shell(height: float = 440.0, span: float = np.radians(116.0), wall: float = 6.0) -> trimesh.Trimesh:
    """A third of the bud around the top of the stem: bulging, a little open at the top. Outwards is +x."""
    v = np.linspace(0.0, 1.0, 31)[:, None]
    angle = np.linspace(-span / 2, span / 2, 21)[None, :]
    radius = 80.0 + 58.0 * np.sin(np.pi * np.minimum(v * 0.86 + 0.02, 1.0))

    def grid(r: np.ndarray) -> np.ndarray:
        return np.stack(np.broadcast_arrays(r * np.cos(angle), r * np.sin(angle), height * v), -1)

    return thick_sheet(grid(radius), grid(radius - wall))


def hub() -> trimesh.Trimesh:
    """Ring that carries the six shoulders: a sleeve over the stem, a web and a rim."""
    return turned(
        [
            (57, 0),
            (64, 0),
            (64, 24),
            (92, 24),
            (92, 0),
            (100, 0),
            (100, 80),
            (92, 80),
            (92, 55),
            (64, 55),
            (64, 80),
            (57, 80),
        ]
    )


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
    write("petal", petal())
    write("bud_shell", bud_shell())
    write("hub", hub())
