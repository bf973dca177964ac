"""Rigid frames: rotations and serial chains, broadcasting over machines and postures."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num


def rotation(axis: Num, angle: Num) -> Array:
    """Rotation matrices (..., 3, 3) about unit axes (..., 3) by angles (...,), rad, right-handed (Rodrigues)."""
    x, y, z = np.moveaxis(np.asanyarray(axis, dtype=float), -1, 0)
    c, s = np.cos(angle), np.sin(angle)
    v = 1 - c
    rows = [
        [c + x * x * v, x * y * v - z * s, x * z * v + y * s],
        [y * x * v + z * s, c + y * y * v, y * z * v - x * s],
        [z * x * v - y * s, z * y * v + x * s, c + z * z * v],
    ]
    cells = np.broadcast_arrays(*(cell for row in rows for cell in row))
    return np.stack(cells, axis=-1).reshape(*cells[0].shape, 3, 3)


def turned(rotation_matrix: Num, vector: Num) -> Array:
    """Vectors (..., 3) after rotation (..., 3, 3)."""
    return np.asanyarray(np.einsum("...ij,...j->...i", rotation_matrix, vector))


def moved_inertia(inertia: Num, mass: Num, offset: Num) -> Array:
    """Inertia (..., 3, 3) about a point `offset` (..., 3) away from the centre of mass (parallel-axis theorem)."""
    d = np.asanyarray(offset, dtype=float)
    square = np.einsum("...i,...i->...", d, d)[..., None, None] * np.eye(3)
    return np.asanyarray(inertia + np.asanyarray(mass)[..., None, None] * (square - d[..., :, None] * d[..., None, :]))
