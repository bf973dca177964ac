"""Outlines and solids: what is cut along and what is printed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array


@dataclass(frozen=True)
class Outline:
    """A flat shape: closed curves (N, 2), m, the last point not repeating the first; the outer one runs to the left
    (anticlockwise), holes to the right."""

    outer: Array
    holes: tuple[Array, ...] = ()


@dataclass(frozen=True)
class Solid:
    """A closed surface of triangles: points (V, 3), m, and faces (F, 3) of their numbers, seen anticlockwise from
    outside."""

    points: Array
    faces: NDArray[np.int64]
