"""How parts lie on a bed, which printers have room for them, and how long each takes there.

A part may lie on any face of its box. The best way: of those that fit a bed and stand firmly, the one with least that
hangs over nothing, then the lowest. It stands firmly on what is at least a tenth as wide as it is high. On the bed it
may be turned about the upright; `EDGE` is kept free all round for clips and for the line that primes the nozzle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.errors import DesignError, Fault
from dryfit.ground.quantity import Array
from dryfit.machine.printed_things import PrintedThing
from dryfit.machine.printing import How, Printer, Printing
from dryfit.making.bodies import bodies_of, thing_solid
from dryfit.making.print_time import estimate
from dryfit.making.records_print import Body, Estimate, Printed
from dryfit.making.records_solids import Outline, Solid
from dryfit.making.slicing import Layers, Progress, SlicingError
from dryfit.making.slicing_many import sliced_many
from dryfit.making.splitting import fitting_split

EDGE = 5e-3
"""Kept free along every edge of a bed, m."""
FIRM = 0.1
"""Least width of what a part stands on, as a share of its height."""
STEEP = float(np.cos(np.deg2rad(45)))
"""Faces that lean over further than this from the upright count as hanging (45 degrees, common practice)."""
MOST_EDGES = 200
"""Of outlines with more edges than this the longest are tried along the bed."""
EVEN = 1e-4
"""Hanging areas that differ by less than this are as good as equal, m²."""
MASS_APART = 0.15
"""Sliced and typed mass are told apart where they differ by more than this share."""


@dataclass(frozen=True)
class PrintSet:
    """What is printed and how it lies; what cannot be printed and why; what the maker should know."""

    printed: tuple[Printed, ...]
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Stance:
    """One way to lie. turned: own axes to bed axes.  hull: convex outline from above, anticlockwise, m.  height: m.
    hanging: area that hangs over nothing, m².  firm: stands on enough."""

    turned: Array
    hull: Array
    height: float
    hanging: float
    firm: bool


@dataclass(frozen=True)
class Laid:
    """How a body lies on the bed. turned: own axes to bed axes.  hull: convex outline from above, anticlockwise, m.
    height: m.  on: printers with room for it."""

    turned: Array
    hull: Array
    height: float
    on: tuple[Printer, ...]


def prepared(
    things: Sequence[PrintedThing],
    printing: Printing,
    extra_bodies: Sequence[Body] = (),
    *,
    file: str = "design.yaml",
    on_progress: Progress | None = None,
) -> tuple[Printed, ...]:
    """Everything to print, lying, with estimates for each printer that takes it. Raises DesignError with every part
    that no printer can take; the message says what to write."""
    found = print_set(things, printing, extra_bodies, file=file, on_progress=on_progress)
    if found.faults:
        raise DesignError(found.faults)
    return found.printed


def print_set(
    things: Sequence[PrintedThing],
    printing: Printing,
    extra_bodies: Sequence[Body] = (),
    *,
    file: str = "design.yaml",
    on_progress: Progress | None = None,
) -> PrintSet:
    """As `prepared`, with the faults beside what can be printed all the same."""
    printed: list[Printed] = []
    faults: list[Fault] = []
    work: list[tuple[Body, PrintedThing | None]] = []
    for thing in things:
        try:
            work += [(body, thing) for body in bodies_of(thing)]
        except SlicingError as wrong:
            faults.append(Fault(file, thing.line, thing.path, f"{thing.name}: {wrong}"))
    work += [(body, None) for body in extra_bodies]
    blamed: set[str] = set()
    stood: list[tuple[Body, PrintedThing | None, Laid]] = []
    for body, of in work:
        able = able_printers(printing.printers, body.how.nozzle, body.material)
        laid = lies(body.solid, body.how, able)
        if laid is not None:
            stood.append((body, of, laid))
        elif body.path not in blamed:
            blamed.add(body.path)
            faults.append(_fault(body, of, able, printing, file))
    jobs = [(Solid(body.solid.points @ laid.turned.T, body.solid.faces), body.how) for body, _, laid in stood]
    effort = np.cumsum([len(solid.faces) + 500 for solid, _ in jobs])
    for k, ((body, of, placed), layers) in enumerate(zip(stood, sliced_many(jobs), strict=True)):
        if isinstance(layers, SlicingError):
            faults.append(Fault(file, of.line if of else 0, body.path, f"{body.name}: {layers}"))
        else:
            printed.append(_printed(body, placed, layers, printing))
        if on_progress:
            on_progress(float(effort[k] / effort[-1]), f"sliced {body.name}")
    return PrintSet(tuple(printed), tuple(faults), _notes(things, printed))


def _printed(body: Body, laid: Laid, layers: Layers, printing: Printing) -> Printed:
    lengths = np.ptp(laid.hull, axis=0)
    return Printed(
        body=body,
        turned=laid.turned,
        size=(float(lengths[0]), float(lengths[1]), laid.height),
        footprint=Outline(laid.hull - laid.hull.min(axis=0)),
        on=tuple(p.name for p in laid.on),
        estimates=tuple((p.name, estimated(layers, body, p, printing)) for p in laid.on),
    )


def estimated(layers: Layers, body: Body, printer: Printer, printing: Printing) -> Estimate:
    """What one copy takes on a printer."""
    return estimate(layers, body.how.nozzle, printer, printing.filaments[body.material], printing.time_factor)


def able_printers(printers: Sequence[Printer], nozzle: float, material: str) -> tuple[Printer, ...]:
    """Printers that can be fitted with the nozzle and print the material; those out of order too, since they may be
    mended before the part's turn comes."""
    return tuple(
        p
        for p in printers
        if (not p.materials or material in p.materials) and any(abs(n - nozzle) < 1e-6 for n in p.nozzles)
    )


def lies(solid: Solid, how: How, printers: Sequence[Printer]) -> Laid | None:
    """The way a body lies: turn, outline from above, height and the printers with room; None where there is none."""
    chosen: tuple[tuple[bool, int, float], Stance] | None = None
    for stance in stances(solid, how):
        if not any(has_room(stance.hull, stance.height, p) for p in printers):
            continue
        rank = (not stance.firm, round(stance.hanging / EVEN), round(stance.height, 5))
        if chosen is None or rank < chosen[0]:
            chosen = (rank, stance)
    if chosen is None:
        return None
    stance = chosen[1]
    angles = _angles(stance.hull)
    fits = np.stack([_inside(_spans(stance.hull, angles), stance.height, p) for p in printers])
    there = int(np.argmax(fits.sum(axis=0)))
    on = tuple(p for p, able in zip(printers, fits[:, there].tolist(), strict=True) if able)
    c, s = np.cos(angles[there]), np.sin(angles[there])
    spin = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return Laid(spin @ stance.turned, stance.hull @ spin[:2, :2].T, stance.height, on)


def has_room(hull: Array, height: float, printer: Printer) -> bool:
    """Whether something fits a bed with its edges kept free, turned about the upright as need be."""
    if height > printer.bed[2] + 1e-9:
        return False
    return bool(np.any(_inside(_spans(hull, _angles(hull)), height, printer)))


def _inside(spans: Array, height: float, printer: Printer) -> NDArray[np.bool_]:
    """Which of the sizes (K, 2) lie on the bed, at that angle or a quarter turn from it."""
    x, y, z = printer.bed
    room, need = np.sort([x - 2 * EDGE, y - 2 * EDGE]), np.sort(spans, axis=-1)
    lies_in: NDArray[np.bool_] = np.all(need <= room + 1e-9, axis=-1) & (height <= z + 1e-9)
    return lies_in


def _angles(hull: Array) -> Array:
    """Turns worth trying: none, each edge of the outline along the bed, the smallest box first, every degree."""
    edges = np.roll(hull, -1, axis=0) - hull
    if len(edges) > MOST_EDGES:
        edges = edges[np.argsort(-np.linalg.norm(edges, axis=-1))[:MOST_EDGES]]
    along: Array = np.unique(np.round(np.mod(-np.arctan2(edges[:, 1], edges[:, 0]), np.pi / 2), 6))
    along = along[np.argsort(np.prod(_spans(hull, along), axis=-1), kind="stable")]
    return np.concatenate([[0.0], along, np.deg2rad(np.arange(1.0, 90.0))])


def _spans(hull: Array, angles: Array) -> Array:
    """Size along x and y of an outline turned by each angle, (K, 2)."""
    c, s = np.cos(angles), np.sin(angles)
    x = hull[:, :1] * c - hull[:, 1:] * s
    y = hull[:, :1] * s + hull[:, 1:] * c
    return np.stack([np.ptp(x, axis=0), np.ptp(y, axis=0)], axis=-1)


def stances(solid: Solid, how: How) -> list[Stance]:
    """The ways a body may lie, as it was modelled first."""
    turns = [np.eye(3), *_over()]
    if how.lay == "as modelled":
        turns = turns[:1]
    elif how.lay == "on its side":
        turns = [t for t in turns if abs(t[2, 2]) < 0.5]
    elif how.lay == "on its end":
        longest = int(np.argmax(np.ptp(solid.points, axis=0)))
        turns = [t for t in turns if abs(t[2, longest]) > 0.5]
    return [_stance(solid, t, how.layer_height) for t in turns]


def _over() -> list[Array]:
    """Turns that lay a body on the other five faces of its box: upside down, on its sides, on its ends."""
    found = []
    for axis, angles in (((1.0, 0.0), (180, 90, -90)), ((0.0, 1.0), (90, -90))):
        for degrees in angles:
            c, s = np.round(np.cos(np.deg2rad(degrees))), np.round(np.sin(np.deg2rad(degrees)))
            about_x = np.array([[1.0, 0, 0], [0, c, -s], [0, s, c]])
            about_y = np.array([[c, 0, s], [0, 1.0, 0], [-s, 0, c]])
            found.append(about_x if axis[0] else about_y)
    return found


def _stance(solid: Solid, turn: Array, layer: float) -> Stance:
    points = solid.points @ turn.T
    low, high = float(points[:, 2].min()), float(points[:, 2].max())
    a, b, c = (points[solid.faces[:, k]] for k in range(3))
    across = np.cross(b - a, c - a) / 2
    area = np.linalg.norm(across, axis=-1)
    top = np.maximum(np.maximum(a[:, 2], b[:, 2]), c[:, 2])
    on_bed = top <= low + layer
    leaning = (across[:, 2] < -STEEP * area) & ~on_bed
    touching = points[points[:, 2] <= low + layer][:, :2]
    hull = hull_of(points[:, :2])
    return Stance(
        turned=turn,
        hull=hull,
        height=high - low,
        hanging=float(-across[leaning, 2].sum()),
        firm=_narrowest(touching) >= FIRM * (high - low),
    )


def _narrowest(points: Array) -> float:
    """Least width of what is touched; 0 where it is a point or a line."""
    if len(points) < 3 or np.linalg.matrix_rank(points - points[0], tol=1e-9) < 2:
        return 0.0
    hull = hull_of(points)
    edges = np.roll(hull, -1, axis=0) - hull
    edges = edges[np.linalg.norm(edges, axis=-1) > 1e-9]
    normal = np.stack([-edges[:, 1], edges[:, 0]], axis=-1) / np.linalg.norm(edges, axis=-1)[:, None]
    return float(np.min(np.ptp(hull @ normal.T, axis=0)))


def hull_of(points: Array) -> Array:
    """Convex outline of points, anticlockwise."""
    from scipy.spatial import ConvexHull

    return np.array(points[ConvexHull(points).vertices])


def _fault(body: Body, thing: PrintedThing | None, able: Sequence[Printer], printing: Printing, file: str) -> Fault:
    """Why no printer takes a body, and what to write so that one does."""
    line, path = (thing.line if thing else 0), body.path
    nozzle = f"{body.how.nozzle * 1e3:.4g} mm"
    if not able:
        known = "; ".join(
            f"{p.name}: {', '.join(f'{n * 1e3:.4g} mm' for n in p.nozzles)}, {', '.join(p.materials) or 'any material'}"
            for p in printing.printers
        )
        return Fault(file, line, path, f"no printer prints {body.material} with a nozzle of {nozzle}", "", known)
    solid = body.solid if thing is None else thing_solid(thing)
    largest = max(able, key=lambda p: float(np.prod(p.bed)))
    size = " x ".join(f"{v * 1e3:.0f}" for v in np.ptp(solid.points, axis=0))
    bed = " x ".join(f"{v * 1e3:.0f}" for v in largest.bed)
    placed = "any way it is laid" if body.how.lay == "best" else f"laid {body.how.lay}"
    message = (
        f"{body.name} fits no bed {placed}: {'' if thing is None else 'whole, '}it is {size} mm, and the largest bed"
        f" is {bed} mm ({largest.name}), of which {EDGE * 1e3:.0f} mm along each edge stay free"
    )
    split = None
    if thing is not None:
        split = fitting_split(
            solid,
            round_about_z=thing.shape in ("tube", "cylinder", "rod", "cone", "sphere"),
            fits=lambda piece: lies(piece, body.how, able) is not None,
            room=max(largest.bed),
        )
    return Fault(file, line, path, message, "", f"print: {{{split}}}" if split else "a smaller part or a larger bed")


def _notes(things: Sequence[PrintedThing], printed: Sequence[Printed]) -> tuple[str, ...]:
    carrying: dict[str, list[str]] = {}
    for p in printed:
        if p.body.how.structural:
            carrying.setdefault("xyz"[int(np.argmax(np.abs(p.turned[2])))], []).append(p.body.name)
    notes = [
        f"Layers square to the own {axis} of {', '.join(names)}: a pull along that axis parts them first."
        for axis, names in carrying.items()
    ]
    for p in printed:
        hanging = p.estimates[0][1].overhang if p.estimates else 0.0
        if hanging > 5e-4:
            notes.append(f"{p.body.name}: {hanging * 1e4:.0f} cm² hang over nothing; supports are not counted.")
    return (*mass_notes(things, printed), *notes)


def mass_notes(things: Sequence[PrintedThing], printed: Sequence[Printed]) -> tuple[str, ...]:
    """Parts whose sliced mass and typed mass lie more than 15 % apart."""
    notes = []
    for thing in things:
        copies = thing.count + thing.way.spares
        each = [p for p in printed if p.body.path == thing.path and p.estimates]
        if not each or not thing.typed_mass > 0:
            continue
        mass = sum(p.estimates[0][1].mass * p.body.count for p in each) / copies
        if abs(mass - thing.typed_mass) > MASS_APART * thing.typed_mass:
            more = "more" if mass > thing.typed_mass else "less"
            apart = abs(mass / thing.typed_mass - 1)
            notes.append(
                f"{thing.name} (line {thing.line}): slicing makes it {mass:.2f} kg, {apart:.0%} {more} than the"
                f" {thing.typed_mass:.2f} kg typed; weigh one, or look at its walls and fill."
            )
    return tuple(notes)


def as_planned_elsewhere(body: Body, nozzle: float, layer_height: float, line_width: float) -> Body:
    """The body with another nozzle and layer height; walls keep their number, top and bottom their thickness."""
    how = body.how
    top = int(np.ceil(how.top_layers * how.layer_height / layer_height - 1e-9))
    bottom = int(np.ceil(how.bottom_layers * how.layer_height / layer_height - 1e-9))
    other = replace(
        how, nozzle=nozzle, layer_height=layer_height, line_width=line_width, top_layers=top, bottom_layers=bottom
    )
    return replace(body, how=other)
