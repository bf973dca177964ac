"""Printed bodies laid out on plates: true outlines, not boxes, with a clearance between them.

Bodies that may share a plate have the same material, nozzle, layer height and printers, and are of the same kind: test
pieces (coupons), what carries, what only shows. Within that, the largest lie down first, each in the first plate with
room and hours for it, as low and as far to the left as its outline allows.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.making import bed_fit
from dryfit.making.records_plan import Placed, Plate
from dryfit.making.records_print import Printed
from dryfit.making.records_solids import Outline

CLEARANCE = 5e-3
"""Between parts on a plate and to the edge of the bed, m: room for a scraper and for a loop of line around each (common
practice)."""

_OFTEN = 30
"""Groups of more copies than this are laid out once, others in up to three orders; the best is kept."""
_TRIAL = -1
"""In place of a body's number where a shape is only tried on an empty bed."""


@dataclass(frozen=True)
class PrinterAtWork:
    """What planning needs to know of a printer: its bed, m, the time before each plate and for taking one off, s, and
    whether it works."""

    name: str
    bed: tuple[float, float]
    start_time: float
    change_time: float
    working: bool = True


@dataclass(frozen=True)
class Least:
    """What no layout can do better, for one group of bodies: plates by area and by hours, and the plates taken."""

    group: str
    by_area: int
    by_hours: int
    taken: int


@dataclass(frozen=True)
class Laid:
    """All plates, numbered from 1 with coupons first, then what carries; what the counts are held against; notes."""

    plates: tuple[Plate, ...]
    least: tuple[Least, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Group:
    """Bodies that may share a plate: rank (0 coupons, 1 carries, 2 shows), and the printers that take all of them."""

    rank: int
    material: str
    nozzle: float
    layer_height: float
    on: tuple[str, ...]


@dataclass
class _Filling:
    """A plate while it is being filled."""

    bed: bed_fit.Bed
    size: tuple[float, float]
    on: tuple[str, ...]
    seconds: dict[str, float]
    mass: float
    placed: list[Placed]
    full_for: set[int]


def lay_out(
    printed: Sequence[Printed],
    printers: Sequence[PrinterAtWork],
    *,
    longest: float,
    clearance: float = CLEARANCE,
) -> Laid:
    """Every copy of every printed body on a plate. longest: s, plates are kept under it where parts allow.

    The time of a plate on a printer is the sum of its bodies' times there and one start: bodies on one plate grow layer
    by layer together, and what that saves in cooling or costs in travel is not counted.
    Bodies that no working printer takes lie on no plate, and the notes name them.
    """
    working = {p.name: p for p in printers if p.working}
    notes: list[str] = []
    groups: dict[_Group, list[int]] = defaultdict(list)
    for number, one in enumerate(printed):
        on = tuple(name for name in one.on if name in working)
        if not on:
            why = "no printer takes it" if not one.on else f"only {' and '.join(one.on)} would, out of order"
            notes.append(f"{one.body.name} is on no plate: {why}.")
            continue
        rank = 0 if one.body.coupon else 1 if one.body.how.structural else 2
        groups[_Group(rank, one.body.material, one.body.how.nozzle, one.body.how.layer_height, on)].append(number)
    plates: list[Plate] = []
    least: list[Least] = []
    for group in sorted(groups, key=lambda g: (g.rank, g.material, -g.nozzle, g.layer_height, g.on)):
        fillings, floor = _fill(printed, groups[group], group, working, longest, clearance, notes)
        least.append(floor)
        for filling in fillings:
            plates.append(
                Plate(
                    number=len(plates) + 1,
                    placed=tuple(filling.placed),
                    material=group.material,
                    nozzle=group.nozzle,
                    bed=filling.size,
                    on=tuple((name, filling.seconds[name]) for name in filling.on),
                    mass=filling.mass,
                    coupons=group.rank == 0,
                    structural=group.rank == 1,
                )
            )
    return Laid(tuple(plates), tuple(least), tuple(notes))


def _fill(
    printed: Sequence[Printed],
    numbers: Sequence[int],
    group: _Group,
    printers: dict[str, PrinterAtWork],
    longest: float,
    clearance: float,
    notes: list[str],
) -> tuple[list[_Filling], Least]:
    """Plates of one group, and the fewest that any layout of it needs."""
    shapes = {n: bed_fit.hull(_lowered(printed[n].footprint.outer)) for n in numbers}
    ways = {n: bed_fit.turns(shapes[n], clearance) for n in numbers}
    areas = {n: bed_fit.area(shapes[n]) for n in numbers}
    times = {n: {name: e.time for name, e in printed[n].estimates} for n in numbers}
    reach = {n: float(np.ptp(shapes[n], axis=0).max()) for n in numbers}
    least = _least(printed, numbers, group, shapes, times, printers, longest, clearance)
    best: tuple[list[_Filling], list[str]] | None = None
    tried: list[list[int]] = []
    for rank in (areas, reach, {n: max(times[n].values()) for n in numbers}):
        said: list[str] = []
        order = sorted(numbers, key=lambda n: (-rank[n], n))
        if order in tried:
            continue
        tried.append(order)
        fillings = _first_with_room(printed, order, group, printers, (shapes, ways, times), longest, clearance, said)
        if best is None or len(fillings) < len(best[0]):
            best = (fillings, said)
        if len(best[0]) <= max(least) or sum(printed[n].body.count for n in numbers) > _OFTEN:
            break
    assert best is not None
    notes += best[1]
    return best[0], Least(_words(group, printers), *least, len(best[0]))


def _first_with_room(
    printed: Sequence[Printed],
    order: Sequence[int],
    group: _Group,
    printers: dict[str, PrinterAtWork],
    known: tuple[dict[int, Array], dict[int, tuple[bed_fit.Turn, ...]], dict[int, dict[str, float]]],
    longest: float,
    clearance: float,
    notes: list[str],
) -> list[_Filling]:
    """Each copy, in the order given, on the first plate with room and hours for it."""
    shapes, ways, times = known
    fillings: list[_Filling] = []
    for n in order:
        one = printed[n]
        for copy in range(one.body.count):
            if any(_add(f, n, copy, one, ways[n], shapes[n], times[n], longest, clearance) for f in fillings):
                continue
            fresh = _begin(ways[n], shapes[n], group.on, printers, clearance)
            if fresh is None:
                notes.append(f"{one.body.name} has no room on the bed of any printer that takes it.")
                break
            fillings.append(fresh)
            if not _add(fresh, n, copy, one, ways[n], shapes[n], times[n], math.inf, clearance):
                _alone(fresh, n, copy, one, shapes[n], times[n])
                if copy == 0:
                    notes.append(
                        f"{one.body.name} fills the bed: less than {clearance * 1e3:g} mm are left at the edge, so look"
                        " at what the printer needs there before it is begun."
                    )
            slowest = max(fresh.seconds.values())
            if slowest > longest and copy == 0:
                notes.append(
                    f"{one.body.name} takes {slowest / 3600:.1f} h by itself, over the longest plate of"
                    f" {longest / 3600:.1f} h: it lies alone; a larger nozzle or thicker layers shorten it."
                )
    return fillings


def _begin(
    ways: tuple[bed_fit.Turn, ...],
    shape: Array,
    on: tuple[str, ...],
    printers: dict[str, PrinterAtWork],
    clearance: float,
) -> _Filling | None:
    """An empty plate that as many printers as possible take and that has room for the shape."""
    beds = sorted((printers[name] for name in on), key=lambda p: p.bed[0] * p.bed[1])
    for edge in (True, False):
        for left_out in range(len(beds)):
            used = beds[left_out:]
            size = (min(p.bed[0] for p in used), min(p.bed[1] for p in used))
            # half the clearance is around the shape already; the other half is kept to the edge here
            bed = bed_fit.Bed(size[0] - clearance, size[1] - clearance)
            fits = bed.place(ways, _TRIAL) is not None if edge else _bare_turn(shape, size) is not None
            if fits:
                names = tuple(name for name in on if name in {p.name for p in used})
                seconds = {name: printers[name].start_time for name in names}
                return _Filling(bed, size, names, seconds, 0.0, [], set())
    return None


def _add(
    filling: _Filling,
    number: int,
    copy: int,
    one: Printed,
    ways: tuple[bed_fit.Turn, ...],
    shape: Array,
    times: dict[str, float],
    longest: float,
    clearance: float,
) -> bool:
    """Lay the copy on the plate if it has room and hours."""
    if number in filling.full_for:
        return False
    if any(filling.seconds[name] + times[name] > longest for name in filling.on):
        filling.full_for.add(number)
        return False
    found = filling.bed.place(ways, number)
    if found is None:
        filling.full_for.add(number)
        return False
    turn, place = found
    filling.bed.put(turn, place)
    corner = np.array(place) + np.array(turn.shift) + clearance / 2
    covers = bed_fit.rotated(shape, turn.angle) + corner
    _note_placed(filling, Placed(number, copy, Outline(covers), turn.angle), one, times)
    return True


def _alone(filling: _Filling, number: int, copy: int, one: Printed, shape: Array, times: dict[str, float]) -> None:
    """Lay a shape that leaves no clearance in the middle of the bed; nothing else goes with it."""
    angle = _bare_turn(shape, filling.size)
    assert angle is not None
    lies = bed_fit.rotated(shape, angle)
    corner = (np.array(filling.size) - lies.max(axis=0)) / 2
    _note_placed(filling, Placed(number, copy, Outline(lies + corner), angle), one, times)
    filling.bed = bed_fit.Bed(0.0, 0.0)
    filling.full_for = set()


def _note_placed(filling: _Filling, placed: Placed, one: Printed, times: dict[str, float]) -> None:
    filling.placed.append(placed)
    for name in filling.on:
        filling.seconds[name] += times[name]
    filling.mass += one.estimates[0][1].mass


def _bare_turn(shape: Array, size: tuple[float, float]) -> float | None:
    """By how much the shape is turned, nothing or a quarter, if the bare bed has room for it so."""
    for angle in (0.0, np.pi / 2):
        lies = bed_fit.rotated(shape, angle)
        if (lies.max(axis=0) <= np.array(size) + 1e-9).all():
            return angle
    return None


def _least(
    printed: Sequence[Printed],
    numbers: Sequence[int],
    group: _Group,
    shapes: dict[int, Array],
    times: dict[int, dict[str, float]],
    printers: dict[str, PrinterAtWork],
    longest: float,
    clearance: float,
) -> tuple[int, int]:
    """The fewest plates of any layout, by area and by hours.

    By area: shapes with half the clearance around them (area + outline x clearance / 2 + pi clearance^2 / 4) lie apart
    on a bed less half the clearance along its edges; the bed is the one that all printers of the group have, or the
    largest that a body needs. By hours: on the fastest printer, starts counted. Bodies too large for the clearance,
    or too long for the hours, have a plate each.
    """
    width = depth = 0.0
    room = longest - min(printers[name].start_time for name in group.on)
    area = seconds = 0.0
    alone_by_area = alone_by_hours = 0
    for n in numbers:
        count = printed[n].body.count
        fastest = min(times[n][name] for name in group.on)
        if fastest > room:
            alone_by_hours += count
        else:
            seconds += fastest * count
        edges = np.roll(shapes[n], -1, axis=0) - shapes[n]
        around = float(np.hypot(edges[:, 0], edges[:, 1]).sum())
        ways = bed_fit.turns(shapes[n], clearance)
        begun = _begin(ways, shapes[n], group.on, printers, clearance)
        if begun is not None and begun.bed.place(ways, _TRIAL) is not None:
            width, depth = max((width, depth), begun.size, key=lambda b: b[0] * b[1])
            area += (bed_fit.area(shapes[n]) + around * clearance / 2 + math.pi * clearance**2 / 4) * count
        else:
            alone_by_area += count
    by_area = alone_by_area
    if area > 0:
        by_area += math.ceil(area / ((width - clearance) * (depth - clearance)) - 1e-9)
    by_hours = alone_by_hours + (math.ceil(seconds / room - 1e-9) if seconds > 0 else 0)
    return max(by_area, 1), max(by_hours, 1)


def _words(group: _Group, printers: dict[str, PrinterAtWork]) -> str:
    kind = ("coupons", "what carries", "what shows")[group.rank]
    words = f"{kind}, {group.material}, nozzle {group.nozzle * 1e3:g} mm, layers {group.layer_height * 1e3:g} mm"
    return words + (f", on {' and '.join(group.on)} only" if len(group.on) < len(printers) else "")


def _lowered(points: Array) -> Array:
    return np.asanyarray(points - points.min(axis=0))
