"""The machine as closed surfaces of triangles, for pictures of it: parts, wheels and arms in one posture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from dryfit.design.records import Design
from dryfit.ground.quantity import Array
from dryfit.machine.arms import Arms
from dryfit.machine.machine import Machine
from dryfit.machine.meshes import MeshError, mesh_file
from dryfit.machine.parts import Parts

ROUND = 48
"""Sides of what stands for a circle."""
_LINK = 0.026
"""Breadth of a link, of which the design knows no more than its length, m."""
_FACES = ((0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7))


@dataclass(frozen=True)
class Surface:
    """One body. kind: "part", "wheel" or "arm".  section: what it is lifted with.  triangles: corners (T, 3, 3), m,
    machine axes, seen anticlockwise from outside."""

    name: str
    kind: str
    section: str
    triangles: Array


@dataclass(frozen=True)
class Held:
    """What the arms of a group hold at their ends: file of a mesh or None, size along, across and up, and how far its
    middle lies beyond the end of the last link, m."""

    group: str
    mesh: Path | None
    size: tuple[float, float, float]
    centre: float


def held_by_arms(design: Design, folder: Path) -> tuple[Held, ...]:
    """Payloads that can be drawn: those with a mesh or a size. `folder` is that of the design file."""
    found = []
    for group in design.arms.groups if design.arms else ():
        load = group.payload
        if load is None or not (load.mesh or load.size):
            continue
        try:
            mesh = mesh_file(folder, str(load.mesh)) if load.mesh else None
        except MeshError:
            mesh = None
        x, y, z = [float(q.si) for q in load.size] if load.size else (0.1, 0.1, 0.1)
        centre = 0.0 if load.centre is None else float(load.centre.si)
        found.append(Held(str(group.name), mesh, (x, y, z), centre))
    return tuple(found)


def surfaces(m: Machine, posture: int = 0, held: Sequence[Held] = ()) -> tuple[Surface, ...]:
    """Every body of one machine with its arms in a posture. A part that stands for a whole wheel unit is left out: the
    wheel is drawn in its place."""
    found = [
        Surface(m.parts.names[i], "part", m.parts.section[i], part_triangles(m.parts, i))
        for i in range(len(m.parts.names))
        if not _holds_a_wheel(m, i)
    ]
    for i, name in enumerate(m.wheels.names):
        found.append(Surface(name, "wheel", m.parts.section[0] if m.parts.section else "", _wheel(m, i)))
    found += _arms(m, posture, held)
    return tuple(s for s in found if len(s.triangles))


def part_triangles(parts: Parts, i: int) -> Array:
    """Triangles of one part in the machine's axes, (T, 3, 3), m."""
    size = np.array(parts.size[i], dtype=float)
    own = _unit(parts.shapes[i], size, parts.meshes[i])
    turned = own @ np.array(parts.rotation[i], dtype=float).T
    return np.asanyarray(turned + np.array(parts.position[i], dtype=float))


def _unit(shape: str, size: Array, mesh: Path | None) -> Array:
    """A shape about the middle of its extent, own axes."""
    if mesh is not None:
        corners = _of_file(mesh, mesh.stat().st_mtime_ns)
        low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
        return np.asanyarray((corners - (low + high) / 2) * float(np.max(size) / np.max(high - low)))
    if shape == "sphere":
        turn = np.linspace(-np.pi / 2, np.pi / 2, 13)
        return _turned(np.cos(turn) / 2, np.sin(turn) / 2) * size
    if shape in ("cylinder", "tube", "cone"):
        top = 0.0 if shape == "cone" else 0.5
        return _turned(np.array([0.0, 0.5, top, 0.0]), np.array([-0.5, -0.5, 0.5, 0.5])) * size
    return _block(size)


@lru_cache(maxsize=64)
def _of_file(file: Path, _changed: int) -> Array:
    import stl

    mesh = stl.Mesh.from_file(str(file), calculate_normals=False, remove_empty_areas=False)
    return np.array(mesh.vectors, dtype=float)


def _block(size: Array) -> Array:
    """A block of a size about the origin."""
    x, y, z = size / 2
    corners = np.array([[-x, -y, -z], [x, -y, -z], [x, y, -z], [-x, y, -z],
                        [-x, -y, z], [x, -y, z], [x, y, z], [-x, y, z]])  # fmt: skip
    return np.array([corners[[a, b, c]] for a, b, c, d in _FACES] + [corners[[a, c, d]] for a, b, c, d in _FACES])


def _turned(radius: Array, height: Array) -> Array:
    """What a line of radii and heights sweeps about z, bottom to top."""
    at = np.arange(ROUND) * (2 * np.pi / ROUND)
    ring = np.stack([np.cos(at), np.sin(at)], axis=-1)
    points = np.concatenate(
        [radius[:, None, None] * ring, np.broadcast_to(height[:, None, None], (len(radius), ROUND, 1))], axis=-1
    )
    on = np.roll(points, -1, axis=1)
    low, high = points[:-1], points[1:]
    low_on, high_on = on[:-1], on[1:]
    first = np.stack([low, low_on, high_on], axis=-2).reshape(-1, 3, 3)
    second = np.stack([low, high_on, high], axis=-2).reshape(-1, 3, 3)
    return np.concatenate([first, second])


def _holds_a_wheel(m: Machine, i: int) -> bool:
    """Whether the middle of a wheel lies inside a part that is only a lump: a block or cylinder that was weighed."""
    if m.parts.meshes[i] is not None or m.parts.shapes[i] not in ("box", "cylinder") or m.parts.made[i] != "bought":
        return False
    place = np.concatenate([m.wheels.position, np.asanyarray(m.wheels.radius)[..., None]], axis=-1)
    own = (place - m.parts.position[i]) @ np.asanyarray(m.parts.rotation[i])
    return bool(np.any(np.all(np.abs(own) <= np.asanyarray(m.parts.size[i]) / 2, axis=-1)))


def _wheel(m: Machine, i: int) -> Array:
    """A wheel as a plain disc."""
    w = m.wheels
    r, width, heading = float(w.radius[i]), float(w.width[i]), float(w.heading[i])
    rim, side = np.array([0.0, r, r, 0.0]), np.array([-0.5, -0.5, 0.5, 0.5]) * width
    along = np.array([np.cos(heading), np.sin(heading), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    # own z lies along the axle
    own = np.stack([along, up, np.cross(along, up)])
    return np.asanyarray(_turned(rim, side) @ own + np.array([*w.position[i], r]))


def _arms(m: Machine, posture: int, held: Sequence[Held]) -> list[Surface]:
    arms, found = m.arms, []
    loads = {h.group: h for h in held}
    for a, name in enumerate(arms.names):
        last = max((j for j in range(arms.real.shape[-1]) if arms.real[a, j]), default=0)
        for j in range(last + 1):
            start = _in(arms.joint_origin, posture)[a, j]
            end = _in(arms.tip, posture)[a] if j == last else _in(arms.joint_origin, posture)[a, j + 1]
            frame, reach = _frame(arms, posture, a, j, end - start)
            if reach <= 0:
                continue
            load = loads.get(arms.group_names[arms.groups[a]]) if j == last else None
            length = float(m.values.get(f"{arms.joint_path[a][j]}.link.length", reach)) if load else reach
            middle = np.array([length / 2, 0.0, 0.0])
            pieces = [_block(np.array([length, _LINK, _LINK])) + middle]
            if load is not None:
                size = np.array(load.size)
                shape = "mesh" if load.mesh is not None else "box"
                pieces.append(_unit(shape, size, load.mesh) + np.array([length + load.centre, 0.0, 0.0]))
            found.append(Surface(name, "arm", "arms", np.concatenate(pieces) @ frame + start))
    return found


def _frame(arms: Arms, posture: int, a: int, j: int, along: Array) -> tuple[Array, float]:
    """Axes of a link as rows (outward, to its left, up) and its length."""
    reach = float(np.linalg.norm(along))
    if reach <= 0:
        return np.eye(3), 0.0
    x = along / reach
    axis = -_in(arms.joint_axis, posture)[a, j]
    axis = axis - x * float(axis @ x)
    if np.linalg.norm(axis) < 1e-6:
        axis = np.cross([0.0, 0.0, 1.0] if abs(x[2]) < 0.9 else [1.0, 0.0, 0.0], x)
    y = axis / np.linalg.norm(axis)
    return np.stack([x, y, np.cross(x, y)]), reach


def _in(places: Array, posture: int) -> Array:
    """Places in one posture; those that are the same in all stand only once."""
    return np.asanyarray(np.asanyarray(places)[min(posture, len(places) - 1)])
