"""Parts that move with the base: every one with its mass, centre, inertia and extent in the machine's frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from dryfit.ground.findings import Term
from dryfit.ground.quantity import Array, Kind, Num, Origin


@dataclass(frozen=True)
class Parts:
    """N parts (repetitions written out), arms not included.

    mass: (..., N), kg.  centre: centre of mass (..., N, 3), m.
    inertia: about the own centre, machine axes (..., N, 3, 3), kg·m².
    low, high: corners of the bounding box (..., N, 3), m.
    section: the separable section each part is carried in.  made: "printed", "cut" or "bought".
    paths: key of the part in the design file; copies share it.
    known_by: where the mass comes from: "weighed", "guessed", "volume" (sizes, density and fill) or "length".
    spread: half-width of the mass as a fraction, N entries.
    shapes, size, position, rotation, meshes: how to draw it: word, own x, y, z extent (..., N, 3), place of the middle
    of that extent (..., N, 3), own axes in the machine's (..., N, 3, 3), file of the mesh or None.
    volume: of material if solid throughout, m³, NaN where only a mass is known.  density, fill: NaN likewise.
    wheels_included: the parts carry the wheels' mass.  through_door: "assembled" or "in sections".
    floor_unevenness: m.  contact_stiffness: of one wheel with its corner of the frame, N/m.
    lim_*: habits of the trade, open to `body.limits`.
    """

    names: tuple[str, ...]
    mass: Array
    centre: Array
    inertia: Array
    low: Array
    high: Array
    section: tuple[str, ...]
    made: tuple[str, ...]
    material: tuple[str, ...]
    paths: tuple[str, ...]
    known_by: tuple[str, ...]
    spread: tuple[float, ...]
    shapes: tuple[str, ...]
    size: Array
    position: Array
    rotation: Array
    meshes: tuple[Path | None, ...]
    volume: Array
    density: Array
    fill: Array
    wheels_included: bool
    through_door: str
    floor_unevenness: Num
    contact_stiffness: Num
    lim_guessed_share: Num
    lim_least_wheel_share: Num
    lim_door_clearance: Num


def written_name(parts: Parts, path: str) -> str:
    """Name of a part as written, without the number of its copy."""
    name = parts.names[parts.paths.index(path)]
    return name.rsplit(" ", 1)[0] if parts.paths.count(path) > 1 else name


def reach_terms(origins: Mapping[str, Origin], parts: Parts) -> tuple[Term, ...]:
    """Place and own size of every part as written, of which the outer sizes of the machine are made."""

    def origin(path: str, *keys: str) -> Origin:
        found = (origins[f"{path}.{key}"] for key in (*keys, "name") if f"{path}.{key}" in origins)
        return next(found, Origin(Kind.MISSING, path=path, note=f"write {path}"))

    terms: list[Term] = []
    for path in dict.fromkeys(parts.paths):
        i, name = parts.paths.index(path), written_name(parts, path)
        place, size = parts.position[..., i, :], parts.size[..., i, :]
        sizes = ("size[0]", "length", "diameter", "mesh", "profile")
        terms.append(Term("p", f"middle of {name}, x y z", place, "m", origin(path, "at[2]", "at[1]", "at[0]")))
        terms.append(Term("s", f"own size of {name}", size, "m", origin(path, *sizes)))
    return tuple(terms)
