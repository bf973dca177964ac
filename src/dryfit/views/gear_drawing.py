"""Drawings of gears: the pair in mesh with its teeth enlarged, and a sheet for each member with what to measure."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.ground.units import show
from dryfit.making.records_gears import GearMember, GearPair, MeshGap
from dryfit.making.records_solids import Outline
from dryfit.views.drawing import Area, Circle, Drawing, Line, Mark, Point, Words

WIDTH, HEIGHT = 297.0, 210.0
_EDGE = 10.0
_SIDE = 92.0
"""Width of the column of words on the right, mm."""
_SMALL, _TEXT, _TITLE = 2.4, 2.8, 4.2
_SCALES = (10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1)
_MM = 1e3
_AROUND, _HAIR = 2.0, 0.1
"""Paper around an outline that is cut along, and the line itself, mm."""
_THIN: tuple[float, ...] = (4.0, 1.2, 0.8, 1.2)

CAUTION = "Gears nip fingers: cover the mesh before power, and take the battery off before you reach in."


def pair_drawing(pair: GearPair) -> Drawing:
    """The pair as it stands: whole on the left, teeth in mesh enlarged beneath the words on the right."""
    place = _Place(pair)
    box = (_EDGE, _EDGE + 4, WIDTH - _SIDE - 2 * _EDGE, HEIGHT - 2 * _EDGE - 14)
    pinion, gear = place.pinion, place.gear
    low, high = _bounds([*gear.curves[:1], *pinion.curves[:1]])
    scale = _scale(high - low, box[2:])
    marks: list[Mark] = _heading(f"{_titled(pair.name)}: in mesh", f"{_ratio(scale)}, seen from the motor's side")
    put = _Put(scale, (low + high) / 2, (box[0] + box[2] / 2, box[1] + box[3] / 2))
    marks += [put.area(gear.curves, "sky"), put.area(pinion.curves, "sand")]
    marks += place.circles(put)
    marks += _cross(put, (0.0, 0.0)) + _cross(put, (pair.centre_distance, 0.0))
    marks += _centres(put, pair, box[1])
    right = WIDTH - _SIDE - _EDGE / 2
    top = HEIGHT - _EDGE - 12
    below = _lines(marks, _said(pair), right, top)
    marks += _zoom(pair, place, (right, _EDGE + 4, _SIDE - _EDGE / 2, below - _EDGE - 8))
    return Drawing(f"{_titled(pair.name)} in mesh", WIDTH, HEIGHT, tuple(marks), _note(pair))


def member_drawing(member: GearMember) -> Drawing:
    """One member with its circles, what a calliper should read, and the notes for its maker."""
    ring = any(name == "involute ends at" for name, *_ in member.facts)
    shape = member.made
    curves = [shape.outer, *shape.holes]
    low, high = _bounds(curves[:1])
    box = (_EDGE, _EDGE + 4, WIDTH - _SIDE - 2 * _EDGE, HEIGHT - 2 * _EDGE - 14)
    scale = _scale(high - low, box[2:])
    put = _Put(scale, (low + high) / 2, (box[0] + box[2] / 2, box[1] + box[3] / 2))
    made = "as printed" if member.printed else "as machined"
    marks: list[Mark] = _heading(f"{_titled(member.name)}, {member.count} off", f"{_ratio(scale)}, {made}")
    marks.append(put.area(curves, "sand" if member.name.startswith("pinion") else "sky"))
    facts = {name: value for name, value, _ in member.facts}
    marks += [
        Line(put.points(_round(facts[name] / 2)), 0.18, "blue", _THIN, closed=True)
        for name in ("reference circle", "base circle")
        if name in facts
    ]
    marks += _cross(put, (0.0, 0.0))
    right, top = WIDTH - _SIDE - _EDGE / 2, HEIGHT - _EDGE - 12
    rows: list[tuple[str, str, bool]] = [("Sizes", "", True)]
    rows += [(name, _shown(value, unit), False) for name, value, unit in member.facts]
    rows += [
        ("face width", _shown(member.face_width, "m"), False),
        ("material", member.material.replace("-", " "), False),
    ]
    y = _lines(marks, rows, right, top)
    y -= 3
    marks.append(Words((right, y), "For whoever makes it", _TEXT, strong=True))
    for note in member.notes:
        y = _folded(marks, f"· {note}", right, y - 4.2, _SIDE - _EDGE / 2)
    thin = "dash-dotted: reference and base circle" + (", seen from the open side" if ring else "")
    marks.append(Words((_EDGE, _EDGE - 2), thin, _SMALL, tone="grey"))
    return Drawing(f"{_titled(member.name)} for making", WIDTH, HEIGHT, tuple(marks), _facts_note(member))


def outline_drawing(name: str, shape: Outline) -> Drawing:
    """An outline alone, one to one, to be cut or traced along."""
    low, high = _bounds([shape.outer])
    size = (high - low) * _MM + 2 * _AROUND

    def curve(points: Array) -> tuple[Point, ...]:
        return tuple((float(x), float(y)) for x, y in (points - low) * _MM + _AROUND)

    lines = tuple(Line(curve(points), _HAIR, closed=True) for points in (shape.outer, *shape.holes))
    return Drawing(f"{_titled(name)}, outline 1:1", float(size[0]), float(size[1]), lines)


def board_drawing(pair: GearPair) -> Drawing:
    """The board for the slices, flat, with its stubs numbered."""
    shape = pair.board_outline
    low, high = _bounds([shape.outer])
    box = (_EDGE, _EDGE + 4, WIDTH - _SIDE - 2 * _EDGE, HEIGHT - 2 * _EDGE - 14)
    scale = _scale(high - low, box[2:])
    put = _Put(scale, (low + high) / 2, (box[0] + box[2] / 2, box[1] + box[3] / 2))
    marks: list[Mark] = _heading(f"{_titled(pair.name)}: board to try the slices on", _ratio(scale))
    marks.append(put.area([shape.outer, *shape.holes], "pale"))
    right, top = WIDTH - _SIDE - _EDGE / 2, HEIGHT - _EDGE - 12
    rows = [("Centre distances of the stubs", "", True)]
    for x, y, label in pair.board_labels:
        number, _, rest = label.partition(": ")
        at = put((x, y))
        marks += [Circle(at, 2.6, "paper", 0.2), Words((at[0], at[1] - 1.0), number, _TEXT, "middle", strong=True)]
        rows.append((f"stub {number}", rest, False))
    y = _lines(marks, rows, right, top)
    for said in (
        "Print the slices and this board before the gears. Put the pinion's slice on one stub after the other and turn "
        "it by hand through a whole turn of the gear.",
        "The right stub is the tightest on which it still turns freely everywhere. If that is not the one of the "
        "design, the mount wants that many shims more or less.",
        "Rows of small holes count the stubs from the loosest. Instead of printing it, the board can be cut from sheet "
        "and drilled for stubs.",
    ):
        y = _folded(marks, said, right, y - 4.5, _SIDE - _EDGE / 2)
    return Drawing(f"{_titled(pair.name)}: board for the slices", WIDTH, HEIGHT, tuple(marks), "; ".join(
        label for *_, label in pair.board_labels
    ))  # fmt: skip


class _Put:
    """Where a point of the machine, m, comes to lie on the sheet, mm."""

    def __init__(self, scale: float, middle: Array, at: Point) -> None:
        self.scale, self._middle, self._at = scale, middle, at

    def __call__(self, point: Iterable[float]) -> Point:
        x, y = (np.asanyarray(tuple(point)) - self._middle) * _MM * self.scale
        return (float(x) + self._at[0], float(y) + self._at[1])

    def points(self, curve: Array) -> tuple[Point, ...]:
        placed = (curve - self._middle) * _MM * self.scale + np.array(self._at)
        return tuple((round(float(x), 3), round(float(y), 3)) for x, y in placed)

    def area(self, curves: list[Array], tone: str) -> Area:
        thin = [_thinned(c, 0.01 / self.scale / _MM) for c in curves]
        return Area(self.points(thin[0]), tuple(self.points(c) for c in thin[1:]), tone, edge=0.18)


class _Shape:
    """The curves of a member set into the pair."""

    def __init__(self, curves: list[Array]) -> None:
        self.curves = curves


class _Place:
    """Pinion and gear set into mesh, the gear's centre at the origin, a pinion's tooth in a space on the x axis."""

    def __init__(self, pair: GearPair) -> None:
        self.pair = pair
        facts = {name: value for name, value, _ in pair.gear.facts}
        own = {name: value for name, value, _ in pair.pinion.facts}
        half = 0.0 if pair.internal else np.pi / facts["teeth"]
        facing = 0.0 if pair.internal else np.pi
        self._circles = (
            (own["reference circle"] / 2, pair.centre_distance),
            (facts["reference circle"] / 2, 0.0),
        )
        holes = list(pair.pinion.made.holes)
        at = np.array([pair.centre_distance, 0.0])
        self.pinion = _Shape([_turn(c, facing) + at for c in [pair.pinion.outline.outer, *holes]])
        body, holes = pair.gear.outline, list(pair.gear.made.holes)
        if pair.internal:  # the largest hole is the teeth themselves, as printed
            holes = sorted(holes, key=lambda c: float(np.ptp(c[:, 0])))[:-1]
        self.gear = _Shape([_turn(c, half) for c in [body.outer, *body.holes, *holes]])

    def circles(self, put: _Put) -> list[Mark]:
        return [
            Line(put.points(_round(r) + np.array([x, 0.0])), 0.18, "blue", _THIN, closed=True) for r, x in self._circles
        ]


def _zoom(pair: GearPair, place: _Place, box: tuple[float, float, float, float]) -> list[Mark]:
    """Teeth in mesh, cut out of the pair by a square frame, enlarged to a round scale."""
    module = next(value for name, value, _ in pair.pinion.facts if name == "module")
    facts = {name: value for name, value, _ in pair.pinion.facts}
    pitch = pair.centre_distance + (1 if pair.internal else -1) * facts["reference circle"] / 2
    room = min(box[2], box[3])
    scale = max((s for s in (2.0, 5.0, 10.0, 20.0) if room / s >= 5.0 * module * _MM), default=2.0)
    half = np.array([box[2], box[3]]) / scale / _MM / 2
    middle = np.array([pitch, 0.0])
    put = _Put(scale, middle, (box[0] + box[2] / 2, box[1] + box[3] / 2))
    marks: list[Mark] = []
    for shape, tone in ((place.gear, "sky"), (place.pinion, "sand")):
        around = pair.internal and tone == "sky"
        cut = _framed(_bridged(shape.curves) if around else shape.curves[0], middle - half, middle + half)
        marks += [put.area([c], tone) for c in cut]
    corners = [(middle + half * s).tolist() for s in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    marks.append(Line(tuple(put(c) for c in corners), 0.35, "grey", closed=True))
    said = f"teeth in mesh, {_ratio(scale)}, the tooth in the middle of its space"
    marks.append(Words((box[0], box[1] + box[3] + 1.8), said, _SMALL, tone="grey"))
    return marks


def _framed(curve: Array, low: Array, high: Array) -> list[Array]:
    """What of a closed curve lies in an upright frame, as closed curves."""
    cut = curve
    for axis, bound, sign in ((0, low[0], 1), (0, high[0], -1), (1, low[1], 1), (1, high[1], -1)):
        cut = _half_plane(cut, axis, float(bound), sign)
        if len(cut) < 3:
            return []
    return [cut]


def _bridged(curves: list[Array]) -> Array:
    """A ring's outer and inner curve as one, joined by a cut opposite to the mesh; smaller holes are left out."""
    outer = curves[0]
    inner = max(curves[1:], key=lambda c: float(np.ptp(c[:, 0])))
    begin = int(np.argmin(outer[:, 0]))
    there = int(np.argmin(np.hypot(*(inner - outer[begin]).T)))
    return np.concatenate([
        outer[begin:], outer[: begin + 1], inner[there:], inner[: there + 1],
    ])  # fmt: skip


def _half_plane(curve: Array, axis: int, bound: float, sign: int) -> Array:
    """The part of a closed curve on one side of a line along an axis, edges cut where they cross it."""
    off = sign * (curve[:, axis] - bound)
    following = np.roll(curve, -1, axis=0)
    off_next = np.roll(off, -1)
    kept: list[Array] = []
    for here, there, a, b in zip(curve, following, off, off_next, strict=True):
        if a >= 0:
            kept.append(here)
        if (a >= 0) != (b >= 0):
            kept.append(here + (there - here) * (a / (a - b)))
    return np.array(kept).reshape(-1, 2)


def _said(pair: GearPair) -> list[tuple[str, str, bool]]:
    facts = {name: value for name, value, _ in pair.pinion.facts}
    other = {name: value for name, value, _ in pair.gear.facts}
    rows = [
        ("Pair", "", True),
        ("module", show(facts["module"], "m"), False),
        ("teeth", f"{facts['teeth']:.0f} in {other['teeth']:.0f}" if pair.internal else
         f"{facts['teeth']:.0f} and {other['teeth']:.0f}", False),
        ("pressure angle", show(facts["pressure angle"], "rad"), False),
        ("profile shifts", f"{facts['profile shift']:.3g} and {other['profile shift']:.3g}", False),
        ("centre distance", show(pair.centre_distance, "m", 5), False),
        ("backlash, square to the flanks", show(pair.backlash, "m"), False),
        ("Rolled through a whole pitch", "", True),
    ]  # fmt: skip
    rows += [(f"{show(gap.centre_distance, 'm', 5)}, {_shims(gap)}", _gap(gap), False) for gap in pair.gaps]
    rows.append(("Measured on the print", "", True))
    for member in (pair.pinion, pair.gear):
        for name, value, _unit in member.facts:
            if name.startswith(("span", "over two", "between two")):
                rows.append((f"{member.name}: {name}", _shown(value, "m"), False))
    return rows


def _shims(gap: MeshGap) -> str:
    if gap.shim == 0:
        return "as designed"
    return f"shims {'+' if gap.shim > 0 else '−'}{abs(gap.shim) * _MM:.3g} mm"


def _gap(gap: MeshGap) -> str:
    return f"overlaps by {-gap.gap * _MM:.3f} mm" if gap.overlaps else f"gap {gap.gap * _MM:.3f} mm"


def _shown(value: float, unit: str) -> str:
    return f"{value * _MM:.3f} mm" if unit == "m" else show(value, unit, 4)


def _centres(put: _Put, pair: GearPair, bottom: float) -> list[Mark]:
    """The centre distance beneath the pair."""
    left, right = put((0.0, 0.0)), put((pair.centre_distance, 0.0))
    y = bottom - 1.0
    ends: list[Mark] = [
        Line(((x, at), (x, y - 1.5)), 0.13, "grey") for x, at in ((left[0], left[1]), (right[0], right[1]))
    ]
    arrows = [Line(((x, y), (x + s * 2.2, y + d)), 0.2) for x, s in ((left[0], 1), (right[0], -1)) for d in (0.7, -0.7)]
    text = show(pair.centre_distance, "m", 5)
    return [
        *ends, Line(((left[0], y), (right[0], y)), 0.2), *arrows,
        Words((right[0] + 2, y - 0.9), f"centre distance {text}", _SMALL),
    ]  # fmt: skip


def _heading(title: str, aside: str) -> list[Mark]:
    top = HEIGHT - _EDGE
    return [
        Words((_EDGE, top - 3), title, _TITLE, strong=True),
        Words((WIDTH - _EDGE, top - 3), aside, _TEXT, "end", "grey"),
        Line(((_EDGE, top - 6), (WIDTH - _EDGE, top - 6)), 0.35),
        Words((WIDTH - _EDGE, _EDGE - 6), CAUTION, _SMALL, "end", "rust"),
    ]


def _lines(marks: list[Mark], rows: list[tuple[str, str, bool]], x: float, y: float) -> float:
    """Rows of words with values to the right; a strong row begins a group. The height that is left."""
    for name, value, strong in rows:
        y -= 1.6 if strong and name != rows[0][0] else 0.0
        marks.append(Words((x, y), name, _TEXT if strong else _SMALL, strong=strong))
        if value:
            marks.append(Words((WIDTH - _EDGE, y), value, _SMALL, "end"))
        y -= 4.4 if strong else 3.9
    return y


def _folded(marks: list[Mark], text: str, x: float, y: float, width: float) -> float:
    """Words broken into lines; the base line of the last."""
    most = int(width / (_SMALL * 0.585))
    line, lines = "", []
    for word in text.split():
        if len(line) + len(word) + 1 > most:
            lines.append(line)
            line = "  " + word
        else:
            line = f"{line} {word}".strip() if not line.startswith("  ") else f"{line} {word}"
    for n, words in enumerate([*lines, line]):
        y -= 3.5 if n else 0.0
        marks.append(Words((x + (2.0 if words.startswith("  ") else 0.0), y), words.strip(), _SMALL))
    return y


def _cross(put: _Put, at: Point) -> list[Mark]:
    x, y = put(at)
    return [Line(((x - 3, y), (x + 3, y)), 0.13), Line(((x, y - 3), (x, y + 3)), 0.13)]


def _bounds(curves: list[Array]) -> tuple[Array, Array]:
    every = np.concatenate(curves)
    return every.min(axis=0), every.max(axis=0)


def _scale(size: Array, room: tuple[float, ...]) -> float:
    fits = min(room[0] / float(size[0]), room[1] / float(size[1])) / _MM
    return next((s for s in _SCALES if s <= fits), float(fits))


def _ratio(scale: float) -> str:
    return f"scale {scale:g}:1" if scale >= 1 else f"scale 1:{1 / scale:g}"


def _thinned(curve: Array, tolerance: float) -> Array:
    """Every point that the eye needs: those that turn the line by more than the tolerance, m, since the last kept."""
    kept = [0]
    last, n = 0, len(curve)
    for k in range(1, n - 1):
        a, b, c = curve[last], curve[k], curve[k + 1]
        along, off = c - a, b - a
        length = float(np.hypot(*along))
        if length == 0 or abs(along[0] * off[1] - along[1] * off[0]) / length > tolerance:
            kept.append(k)
            last = k
    kept.append(n - 1)
    return np.asanyarray(curve[kept])


def _round(radius: float) -> Array:
    turn = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    return np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=-1)


def _turn(curve: Array, angle: float) -> Array:
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([c * curve[:, 0] - s * curve[:, 1], s * curve[:, 0] + c * curve[:, 1]], axis=-1)


def _titled(name: str) -> str:
    return name[:1].upper() + name[1:]


def _note(pair: GearPair) -> str:
    return "; ".join(f"{_shims(gap)}: {_gap(gap)}" for gap in pair.gaps)


def _facts_note(member: GearMember) -> str:
    return "; ".join(f"{name}: {_shown(value, unit)}" for name, value, unit in member.facts)
