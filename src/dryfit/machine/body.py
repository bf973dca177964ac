"""The body as numbers: shapes measured, poses chained through their parents, repetitions written out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np

from dryfit.design.sections.body import Body as BodyRecord
from dryfit.design.sections.body import Part as PartRecord
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Array, Num, Quantity, Spread
from dryfit.ground.sources import practice
from dryfit.machine import shapes
from dryfit.machine.ledger import Default, Ledger, whole
from dryfit.machine.meshes import MeshError, mesh_file, mesh_solid
from dryfit.machine.parts import Parts
from dryfit.machine.shapes import ORIGIN, Solid, Triple

WEIGHED = Spread(0.02, "weighed on a kitchen or luggage scale")
FROM_VOLUME = Spread(0.15, "from sizes, density and fill; glue, screws and walls differ")
FROM_LENGTH = Spread(0.05, "from length and mass per length")
GUESSED = Spread(0.4, "a guess; weigh it, or the thing most like it")
MOST_COPIES = 500
FARTHEST = 20.0
"""Lengths and places beyond this, m, are no show robot."""


@dataclass(frozen=True)
class _Written:
    """One part as written: its solid in its own axes, its mass and how that is known."""

    solid: Solid
    mass: Num
    centre: Triple
    known_by: str
    spread: float
    shape: str
    density: Num
    fill: Num
    mesh: Path | None


@dataclass(frozen=True)
class _Copy:
    """One copy of a part: which part, index of the copy it hangs on (-1: the machine), shift and spin there."""

    part: int
    parent: int
    shift: Triple
    spin: Num


def resolve_body(r: BodyRecord, ledger: Ledger, folder: Path) -> Parts:
    """Every part with its mass properties in the machine's frame; `folder` is where meshes are looked for.

    Without parts the body is one block from `body.rough`. Faults (parents in a loop, copies without number, meshes
    that cannot be used) go to the ledger.
    """
    records = list(r.parts) or [_rough(r, ledger)]
    paths = [f"body.parts[{i}]" for i in range(len(records))] if r.parts else ["body.rough"]
    for record, path in zip(records, paths, strict=True):
        ledger.origins.setdefault(f"{path}.name", record.name.origin)
    written = [_written(p, path, ledger, folder) for p, path in zip(records, paths, strict=True)]
    copies = _copies(records, paths, ledger)
    pose = [_pose(p, path, ledger) for p, path in zip(records, paths, strict=True)]
    position, rotation = _placed(copies, pose)
    of = [c.part for c in copies]

    mass = _rows([w.mass for w in written])[..., of]
    moments = _rows3([w.solid.moments for w in written])[..., of, :]
    products = _rows3([w.solid.products for w in written])[..., of, :]
    size = _rows3([w.solid.box for w in written])[..., of, :]
    middle = position + _turned(rotation, _rows3([w.solid.middle for w in written])[..., of, :])
    centre = position + _turned(rotation, _rows3([w.centre for w in written])[..., of, :])
    half = _half_extent(size, rotation, np.array([written[k].solid.round for k in of]), [written[k].shape for k in of])
    tensor = rotation @ _tensor(moments, products) @ np.swapaxes(rotation, -1, -2)

    def limit(key: str, dimension: units.Dimension, text: str, reason: str) -> Num:
        default = Default(text, 0.0, reason, practice(reason))
        return ledger.take(f"body.limits.{key}", dimension, getattr(r.limits, key), None, default)

    assembled = "it is driven through doors and gates as it stands"
    return Parts(
        names=_names(records, of),
        mass=mass,
        centre=centre,
        inertia=mass[..., None, None] * tensor,
        low=middle - half,
        high=middle + half,
        section=tuple(str(records[k].section or "whole machine") for k in of),
        made=tuple(str(records[k].made or "bought") for k in of),
        material=tuple(str(records[k].material or "") for k in of),
        paths=tuple(paths[k] for k in of),
        known_by=tuple(written[k].known_by for k in of),
        spread=tuple(written[k].spread for k in of),
        shapes=tuple(written[k].shape for k in of),
        size=size,
        position=middle,
        rotation=rotation,
        meshes=tuple(written[k].mesh for k in of),
        volume=_rows([w.solid.volume for w in written])[..., of],
        density=_rows([w.density for w in written])[..., of],
        fill=_rows([w.fill for w in written])[..., of],
        wheels_included=True if r.wheels_included is None else r.wheels_included,
        through_door=ledger.choose("body.through_door", r.through_door, "assembled", assembled),
        floor_unevenness=ledger.take(
            "body.floor_unevenness", units.LENGTH, r.floor_unevenness, None,
            Default("2 mm", 0.5, "paving and old floors lie off a plane by about this within the length of a base"),
        ),
        contact_stiffness=ledger.take(
            "body.contact_stiffness", units.STIFFNESS, r.contact_stiffness, None,
            Default("60 N/mm", 0.7, "wheel, axle and corner of a light bolted frame in series; load it and measure"),
        ),
        lim_guessed_share=limit("guessed_share", units.SHARE, "15 %", "know the mass to 15 % before building"),
        lim_least_wheel_share=limit(
            "least_wheel_share", units.SHARE, "30 %", "a wheel with less than 30 % of its even share steers badly"
        ),
        lim_door_clearance=limit("door_clearance", units.LENGTH, "20 mm", "leave 20 mm in every opening"),
    )  # fmt: skip


def _rough(r: BodyRecord, ledger: Ledger) -> PartRecord:
    """The whole body as one box standing on the floor, from `body.rough` and its defaults."""
    given = r.rough
    reason = "no parts listed and no {} given: a show robot of usual size"

    def take(key: str, dimension: units.Dimension, text: str, spread: float) -> Quantity:
        path = f"body.rough.{key}"
        typed: Quantity | None = getattr(given, key)
        value = ledger.take(path, dimension, typed, None, Default(text, spread, reason.format(key.replace("_", " "))))
        return Quantity(value, dimension.name, ledger.origins[path], ledger.spreads.get(path))

    height = take("height", units.LENGTH, "1.2 m", 0.3)
    centre = take("centre_height", units.LENGTH, "0.4 m", 0.3)
    size = [take("depth", units.LENGTH, "0.5 m", 0.3), take("width", units.LENGTH, "0.5 m", 0.3), height]
    none = Quantity(0.0, "length", height.origin)
    at = Quantity(height.si / 2, "length", height.origin)
    drop = Quantity(centre.si - height.si / 2, "length", centre.origin)
    fields = {
        "name": "whole body", "shape": "box", "size": size, "mass": take("mass", units.MASS, "20 kg", 0.4),
        "guessed": True, "at": [none, none, at], "centre": [none, none, drop],
    }  # fmt: skip
    return PartRecord.model_validate(fields)


def _written(p: PartRecord, path: str, ledger: Ledger, folder: Path) -> _Written:
    file, solid = _mesh(p, path, ledger, folder)
    row = ledger.row(f"{path}.profile", "profiles", p.profile)
    material = ledger.row(f"{path}.material", "materials", p.material)
    shape = "mesh" if p.mesh else str(p.shape or ("box" if p.size or p.profile else "unknown"))
    if solid is None:
        profile_width = None if row is None else row.quantities.get("width")
        solid = _solid(p, path, ledger, shape, None if profile_width is None else profile_width.si)
    density: Num = float("nan")
    fill: Num = float("nan")
    mass_path = f"{path}.mass"
    if p.mass is not None:
        mass = _likely(mass_path, ledger.take(mass_path, units.MASS, p.mass), ledger, 1e-6, 2000.0)
        known_by, usual = ("guessed", GUESSED) if p.guessed else ("weighed", WEIGHED)
    elif row is not None and p.length is not None and "mass_per_length" in row.quantities:
        per_length = row.quantities["mass_per_length"]
        ledger.origins[mass_path] = per_length.origin
        mass, known_by, usual = per_length.si * solid.box[2], "length", FROM_LENGTH
    elif shape != "unknown" and (material is not None or p.density is not None):
        density = ledger.take(f"{path}.density", units.DENSITY, p.density, material)
        density = _likely(f"{path}.density", density, ledger, 1.0, 3e4)
        fill = 1.0
        if p.made == "printed" or p.fill is not None:
            usual_fill = Default("35 %", 0.3, "walls and sparse filling together, of a print of middling size")
            fill = ledger.take(f"{path}.fill", units.SHARE, p.fill, None, usual_fill)
        mass, known_by, usual = solid.volume * density * fill, "volume", FROM_VOLUME
    else:
        mass = ledger.take(mass_path, units.MASS, None, None, Default("0.5 kg", 0.4, "neither mass nor material given"))
        known_by, usual = "guessed", GUESSED
    spread = ledger.spreads.setdefault(mass_path, usual).fraction
    centre = solid.centre
    if p.centre is not None:
        centre = _point(f"{path}.centre", p.centre, ledger)
    return _Written(solid, mass, centre, known_by, spread, shape, density, fill, file)


def _mesh(p: PartRecord, path: str, ledger: Ledger, folder: Path) -> tuple[Path | None, Solid | None]:
    if p.mesh is None:
        return None, None
    ledger.origins[f"{path}.mesh"] = p.mesh.origin
    if p.shape is not None:
        ledger.fault(f"{path}.shape", "a part has a shape or a mesh, not both", read=str(p.shape))
    try:
        file = mesh_file(folder, str(p.mesh))
        return file, mesh_solid(file, None if p.mesh_unit is None else str(p.mesh_unit))
    except MeshError as wrong:
        ledger.fault(f"{path}.mesh", str(wrong), read=str(p.mesh))
        return None, shapes.box(0.1, 0.1, 0.1)


_DEFAULT_SIZE = Default("100 mm", 0.5, "a size of the shape that is not given")
_DEFAULT_WALL = Default("3 mm", 0.5, "a usual wall of a printed or drawn tube")


def _solid(p: PartRecord, path: str, ledger: Ledger, shape: str, profile_width: Num | None) -> Solid:
    """The solid of a shape; sizes that are not given take listed defaults."""

    def take(key: str) -> Num:
        usual = _DEFAULT_WALL if key == "wall" else _DEFAULT_SIZE
        length = ledger.take(f"{path}.{key}", units.LENGTH, getattr(p, key), None, usual)
        return _likely(f"{path}.{key}", length, ledger, 1e-5, FARTHEST)

    inner: Callable[[Num], Solid]
    if shape == "unknown":
        return shapes.box(0.0, 0.0, 0.0)
    if profile_width is not None:
        return shapes.box(profile_width, profile_width, take("length"))
    wall = take("wall") if p.wall is not None or shape == "tube" else None
    if shape in ("box", "plate"):
        sizes: Sequence[Quantity | None] = p.size or (None, None, None)
        x, y, z = (
            _likely(
                f"{path}.size[{i}]",
                ledger.take(f"{path}.size[{i}]", units.LENGTH, q, None, _DEFAULT_SIZE), ledger, 1e-5, FARTHEST,
            )
            for i, q in enumerate(sizes)
        )  # fmt: skip
        across: Num = np.minimum(x, y)
        outer, inner = shapes.box(x, y, z), lambda w: shapes.box(x - 2 * w, y - 2 * w, z)
    elif shape == "sphere":
        across = take("diameter")
        outer, inner = shapes.sphere(across), lambda w: shapes.sphere(across - 2 * w)
    elif shape == "cone":
        return shapes.cone(take("diameter"), take("length"))
    else:
        across, length = take("diameter"), take("length")
        outer, inner = shapes.cylinder(across, length), lambda w: shapes.cylinder(across - 2 * w, length)
    if wall is None or not _thin(wall, across, path, ledger):
        return outer
    return shapes.hollow(outer, inner(wall))


def _thin(wall: Num, across: Num, path: str, ledger: Ledger) -> bool:
    if bool(np.all(np.less(2 * np.asanyarray(wall), across))):
        return True
    ledger.fault(
        f"{path}.wall", "the wall is half the width or more, so nothing hollow is left", accepted="a thinner wall"
    )
    return False


def _pose(p: PartRecord, path: str, ledger: Ledger) -> tuple[Triple, Triple]:
    """Place and turns of a part on its parent; both zero where not given."""

    if p.at is None:
        ledger.take(f"{path}.at", units.LENGTH, None, None, Default("0 mm", 0.0, "stands at its parent's origin"))
    turned = ORIGIN
    if p.turned is not None:
        a, b, c = (ledger.take(f"{path}.turned[{i}]", units.ANGLE, q) for i, q in enumerate(p.turned))
        turned = (a, b, c)
    return ORIGIN if p.at is None else _point(f"{path}.at", p.at, ledger), turned


def _point(path: str, given: Sequence[Quantity], ledger: Ledger) -> Triple:
    x, y, z = (
        _likely(f"{path}[{i}]", ledger.take(f"{path}[{i}]", units.LENGTH, q), ledger, -FARTHEST, FARTHEST)
        for i, q in enumerate(given)
    )
    return x, y, z


def _likely(path: str, value: Num, ledger: Ledger, low: float, high: float) -> Num:
    """The value, or the nearest one that a show robot can have; what lies outside is a slip and becomes a fault."""
    if isinstance(value, float) and low <= value <= high:
        return value
    if np.all((np.asanyarray(value) >= low) & (np.asanyarray(value) <= high) | np.isnan(value)):
        return value
    ledger.fault(path, "no part of a show robot measures that", ledger.origins[path].text, "a likely value")
    return np.asanyarray(np.clip(value, low, high))[()]


def _copies(records: Sequence[PartRecord], paths: Sequence[str], ledger: Ledger) -> list[_Copy]:
    """All copies, parents before children; the children of a repeated part are repeated with it."""
    parents = _parents(records, paths, ledger)
    done: list[_Copy] = []
    copies_of: dict[int, list[int]] = {}
    waiting = list(range(len(records)))
    while waiting:
        ready = [k for k in waiting if parents[k] is None or parents[k] in copies_of]
        for k in ready:
            own = _repeats(records[k], paths[k], ledger)
            hangs_on = [-1] if parents[k] is None else copies_of[parents[k]]  # type: ignore[index]
            if len(done) + len(hangs_on) * len(own) > MOST_COPIES:
                ledger.fault(f"{paths[k]}.name", f"more than {MOST_COPIES} parts in all", read=str(records[k].name))
                own = own[:1]
                hangs_on = hangs_on[:1]
            copies_of[k] = list(range(len(done), len(done) + len(hangs_on) * len(own)))
            done += [_Copy(k, on, shift, spin) for on in hangs_on for shift, spin in own]
        waiting = [k for k in waiting if k not in copies_of]
    return done


def _parents(records: Sequence[PartRecord], paths: Sequence[str], ledger: Ledger) -> list[int | None]:
    """Index of each part's parent; unknown names, names used twice and loops become faults and hang on the machine."""
    index: dict[str, int] = {}
    for k, record in enumerate(records):
        if str(record.name) in index:
            ledger.fault(
                f"{paths[k]}.name", "two parts of one name; write a ring or grid, or another name", str(record.name)
            )
        index.setdefault(str(record.name), k)
    parents: list[int | None] = [None] * len(records)
    for k, record in enumerate(records):
        if record.parent is None:
            continue
        ledger.origins[f"{paths[k]}.parent"] = record.parent.origin
        parents[k] = index.get(str(record.parent))
        if parents[k] is None:
            ledger.fault(
                f"{paths[k]}.parent", f"no part of that name{nearest(str(record.parent), index)}", str(record.parent)
            )
    for k in range(len(records)):
        chain = [k]
        up = parents[k]
        while up is not None and up not in chain:
            chain.append(up)
            up = parents[up]
        if up is not None:
            loop = [*chain[chain.index(up) :], up]
            words = " → ".join(str(records[i].name) for i in loop)
            ledger.fault(f"{paths[up]}.parent", f"parents go round in a loop: {words}", accepted="a chain that ends")
            for i in loop:
                parents[i] = None
    return parents


def _repeats(p: PartRecord, path: str, ledger: Ledger) -> list[tuple[Triple, Num]]:
    """Shift and spin of every own copy of a part on its parent."""
    if p.ring is not None and p.grid is not None:
        ledger.fault(f"{path}.grid", "a part is repeated on a ring or on a grid, not both")
    if p.ring is not None:
        n = _number(p.ring.count, f"{path}.ring.count", ledger)
        radius = ledger.take(f"{path}.ring.radius", units.LENGTH, p.ring.radius)
        radius = _likely(f"{path}.ring.radius", radius, ledger, 0.0, FARTHEST)
        first = 0.0 if p.ring.first is None else ledger.take(f"{path}.ring.first", units.ANGLE, p.ring.first)
        angles = [first + 2 * np.pi * i / n for i in range(n)]
        along = p.ring.turned_along
        return [((radius * np.cos(a), radius * np.sin(a), 0.0), a if along else 0.0) for a in angles]
    if p.grid is not None:
        counts = [_number(c, f"{path}.grid.count[{i}]", ledger) for i, c in enumerate(p.grid.count)]
        if len(counts) != len(p.grid.spacing):
            ledger.fault(f"{path}.grid.spacing", f"{len(counts)} counts, but {len(p.grid.spacing)} spacings")
            return [(ORIGIN, 0.0)]
        where = [f"{path}.grid.spacing[{i}]" for i in range(len(counts))]
        steps: list[Num] = [
            _likely(key, ledger.take(key, units.LENGTH, s), ledger, 0.0, FARTHEST)
            for key, s in zip(where, p.grid.spacing, strict=True)
        ]
        steps += [0.0] * (3 - len(counts))
        counts += [1] * (3 - len(counts))
        rows = product(*(range(n) for n in counts))
        a, b, c = counts
        return [
            (((i - (a - 1) / 2) * steps[0], (j - (b - 1) / 2) * steps[1], (k - (c - 1) / 2) * steps[2]), 0.0)
            for i, j, k in rows
        ]
    return [(ORIGIN, 0.0)]


def _number(count: Quantity, path: str, ledger: Ledger) -> int:
    n = whole(ledger.take(path, units.COUNT, count))
    if 1 <= n <= MOST_COPIES:
        return n
    ledger.fault(path, "a part cannot be repeated that often", read=count.origin.text, accepted=f"1 to {MOST_COPIES}")
    return 1


def _placed(copies: Sequence[_Copy], pose: Sequence[tuple[Triple, Triple]]) -> tuple[Array, Array]:
    """Origins (..., N, 3) and axes (..., N, 3, 3) of all copies in the machine's frame."""
    spin = _rows([c.spin for c in copies])
    at = _rows3([pose[c.part][0] for c in copies])
    turns = _rows3([pose[c.part][1] for c in copies])
    shift = _rows3([c.shift for c in copies])
    c, s = np.cos(spin), np.sin(spin)
    x, y, z = at[..., 0], at[..., 1], at[..., 2]
    position = shift + np.stack(np.broadcast_arrays(c * x - s * y, s * x + c * y, z), axis=-1)
    rotation = _turned_axes(turns[..., 0], turns[..., 1], turns[..., 2] + spin)
    depth: list[int] = []
    for copy in copies:
        depth.append(0 if copy.parent < 0 else depth[copy.parent] + 1)
    if max(depth) > 0:
        batch = np.broadcast_shapes(position.shape[:-2], rotation.shape[:-3])
        position = np.broadcast_to(position, batch + position.shape[-2:]).copy()
        rotation = np.broadcast_to(rotation, batch + rotation.shape[-3:]).copy()
    for level in range(1, max(depth) + 1):
        those = [i for i, d in enumerate(depth) if d == level]
        on = [copies[i].parent for i in those]
        position[..., those, :] = position[..., on, :] + _turned(rotation[..., on, :, :], position[..., those, :])
        rotation[..., those, :, :] = rotation[..., on, :, :] @ rotation[..., those, :, :]
    return position, rotation


def _turned_axes(a: Array, b: Array, c: Array) -> Array:
    """Axes after turns about the fixed x, y, z axes in this order: (..., N, 3, 3)."""
    ca, sa, cb, sb, cc, sc = np.cos(a), np.sin(a), np.cos(b), np.sin(b), np.cos(c), np.sin(c)
    cells = [
        cc * cb, cc * sb * sa - sc * ca, cc * sb * ca + sc * sa,
        sc * cb, sc * sb * sa + cc * ca, sc * sb * ca - cc * sa,
        -sb, cb * sa, cb * ca,
    ]  # fmt: skip
    full = np.broadcast_arrays(*cells)
    return np.stack(full, axis=-1).reshape(*full[0].shape, 3, 3)


def _turned(rotation: Array, vector: Array) -> Array:
    return np.asanyarray((rotation @ vector[..., None])[..., 0])


def _tensor(moments: Array, products: Array) -> Array:
    """Inertia per mass (..., N, 3, 3) from xx yy zz and xy xz yz."""
    xx, yy, zz = np.moveaxis(moments, -1, 0)
    xy, xz, yz = np.moveaxis(products, -1, 0)
    full = np.broadcast_arrays(xx, xy, xz, xy, yy, yz, xz, yz, zz)
    return np.stack(full, axis=-1).reshape(*full[0].shape, 3, 3)


def _half_extent(size: Array, rotation: Array, is_round: np.ndarray, shape: Sequence[str]) -> Array:
    """Half extents (..., N, 3) along the machine's axes: exact for boxes, round bars and balls."""
    half = size / 2
    as_box = _turned(np.abs(rotation), half)
    if not is_round.any():
        return as_box
    across = np.sqrt(np.maximum(rotation[..., 0] ** 2 + rotation[..., 1] ** 2, 0.0)) * half[..., :1]
    as_bar = across + np.abs(rotation[..., 2]) * half[..., 2:]
    is_ball = np.array([s == "sphere" for s in shape])[:, None]
    return np.where(is_ball, half, np.where(is_round[:, None], as_bar, as_box))


def _names(records: Sequence[PartRecord], of: Sequence[int]) -> tuple[str, ...]:
    """The name, numbered where a part is repeated."""
    seen: dict[int, int] = {}
    names = []
    for k in of:
        seen[k] = seen.get(k, 0) + 1
        names.append(f"{records[k].name} {seen[k]}" if of.count(k) > 1 else str(records[k].name))
    return tuple(names)


def _rows(values: Sequence[Num]) -> Array:
    """Numbers side by side, (..., n)."""
    if all(isinstance(v, float) for v in values):
        return np.array(values, dtype=float)
    return stack(values)


def _rows3(rows: Sequence[Triple]) -> Array:
    """Triples one below the other, (..., n, 3)."""
    flat = _rows([v for row in rows for v in row])
    return flat.reshape(*flat.shape[:-1], len(rows), 3)
