"""The machine as drawings: a picture for the title, the side with its sizes, the top with what it stands on."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from dryfit.assess.records_pictures import Standing
from dryfit.ground.units import show
from dryfit.machine.machine import Machine
from dryfit.machine.surfaces import Held, surfaces
from dryfit.views.drawing import Area, Circle, Drawing, Line, Mark, Point, Words
from dryfit.views.lettering import width as breadth
from dryfit.views.plot import BOLD, MIDDLING, SMALL, THIN
from dryfit.views.visible import FROM_ABOVE, FROM_THE_LEFT, Seen, aslant, seen

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
FEW_LETTERS = 6
"""More names than this are not spelt out below a drawing."""
_ARROW = 1.6


def portrait(m: Machine, held: Sequence[Held] = (), width: float = 150.0, height: float = 158.0) -> Drawing:
    """The machine from the front right, in the posture that shows most: the one in which its arms reach highest."""
    posture = _tallest(m)
    bodies = [(s.triangles, s.kind == "wheel") for s in surfaces(m, posture, held)]
    view = seen(bodies, aslant(), width, height - 4.0)
    left = (width - view.width) / 2
    marks = _moved(view.marks, left, 2.0)
    return Drawing(m.name, width, view.height + 4.0, tuple(marks), f"{m.name}, seen from the front right")


def side(
    m: Machine, centres: Standing, held: Sequence[Held] = (), width: float = 84.0, height: float = 104.0
) -> Drawing:
    """The machine from its right side, forward to the right, with height, length and the centre of mass by posture."""
    bodies = [(s.triangles, s.kind == "wheel") for s in surfaces(m, 0, held)]
    view = seen(bodies, FROM_THE_LEFT, width - 22.0, height - 16.0)
    x, y = 12.0, 12.0
    marks = _moved(view.marks, x, y)
    floor = y - view.low[1] * view.scale
    marks.insert(0, Line(((4.0, floor), (width - 1.0, floor)), MIDDLING, "grey"))
    top, right = y + view.height, x + view.width
    marks += _measured((5.5, floor), (5.5, top), show((top - floor) / view.scale, "m"))
    marks += _measured((x, 6.0), (right, 6.0), show(view.width / view.scale, "m"))
    marks += _centres(view, centres, x, y, side_on=True)
    return Drawing("From the right side", width, top + 3.0, tuple(marks), _named(centres))


def top(
    m: Machine, centres: Standing, held: Sequence[Held] = (), width: float = 84.0, height: float = 104.0
) -> Drawing:
    """The machine from above, forward up the paper, with its support polygon and the centre of mass by posture."""
    bodies = [(s.triangles, s.kind == "wheel") for s in surfaces(m, 0, held)]
    view = seen(bodies, FROM_ABOVE, width - 6.0, height - 12.0, 0.15)
    x, y = (width - view.width) / 2, 4.0
    marks = [_faint(mark) for mark in _moved(view.marks, x, y)]

    def at(point: Sequence[float]) -> Point:
        u, v = view.at((*point[:2], 0.0), FROM_ABOVE)
        return u + x, v + y

    corners = tuple(at(p) for p in centres.outline)
    if len(corners) > 1:
        marks.append(Line(corners, BOLD, "blue", (2.4, 1.2), closed=True))
    marks += [Circle(c, 1.0, "blue", MIDDLING) for c in corners]
    marks += _limits(centres, at)
    marks += _centres(view, centres, x, y, side_on=False)
    up = y + view.height
    marks.append(Line(((width / 2, up + 0.6), (width / 2, up + 4.0)), MIDDLING))
    marks.append(Line(((width / 2 - 0.9, up + 2.4), (width / 2, up + 4.0), (width / 2 + 0.9, up + 2.4)), MIDDLING))
    marks.append(Words((width / 2 + 2.0, up + 1.8), "forward", SMALL))
    return Drawing("From above", width, up + 6.0, tuple(marks), "support polygon dashed, shortest way to an edge bold")


def _limits(centres: Standing, at: object) -> list[Mark]:
    """The shortest way from under the centre of mass to an edge, in the posture in which it is shortest."""
    place = at if callable(at) else None
    outline = centres.outline
    if place is None or len(outline) < 2:
        return []
    best: tuple[float, Point, Point] | None = None
    for centre in centres.centres:
        c = np.array(centre[:2], dtype=float)
        for p, q in zip(outline, np.roll(outline, -1, axis=0), strict=True):
            along = q - p
            t = float(np.clip((c - p) @ along / max(float(along @ along), 1e-12), 0.0, 1.0))
            foot = p + t * along
            way = float(np.hypot(*(foot - c)))
            if best is None or way < best[0]:
                best = way, (float(c[0]), float(c[1])), (float(foot[0]), float(foot[1]))
    if best is None:
        return []
    a, b = place(best[1]), place(best[2])
    text = show(best[0], "m")
    middle = ((a[0] + b[0]) / 2 + 1.2, (a[1] + b[1]) / 2 + 1.0)
    back = Area(
        (
            (middle[0] - 0.4, middle[1] - 0.6), (middle[0] + breadth(text, SMALL), middle[1] - 0.6),
            (middle[0] + breadth(text, SMALL), middle[1] + 2.4), (middle[0] - 0.4, middle[1] + 2.4),
        ),
        tone="paper", edge=0.0,
    )  # fmt: skip
    return [Line((a, b), BOLD, "rust"), back, Words(middle, text, SMALL)]


def _centres(view: Seen, centres: Standing, x: float, y: float, side_on: bool) -> list[Mark]:
    """Centres of mass, lettered where there are several postures; letters that would lie on one another are joined."""
    eye = FROM_THE_LEFT if side_on else FROM_ABOVE
    groups: list[tuple[Point, list[str]]] = []
    for n, centre in enumerate(centres.centres):
        u, v = view.at(tuple(centre), eye)
        for at, letters in groups:
            if math.dist(at, (u + x, v + y)) < 1.6:
                letters.append(letter(n))
                break
        else:
            groups.append(((u + x, v + y), [letter(n)]))
    marks: list[Mark] = []
    if len(centres.postures) > 1:
        # letters beside the machine, in the order of the centres, so that strokes to close ones do not cross
        groups.sort(key=lambda g: g[0][1])
        widest = max(breadth(_run(letters), SMALL, True) for _, letters in groups)
        right = x + view.width + (2.5 if side_on else -widest - 3.0)
        middle = sum(at[1] for at, _ in groups) / len(groups)
        for n, (at, letters) in enumerate(groups):
            text = (right, middle + 4.0 * (n - (len(groups) - 1) / 2))
            marks += [Line((at, (text[0] - 0.6, text[1] + 0.9)), MIDDLING, "rust"), *_boxed(text, _run(letters))]
    for at, _ in groups:
        marks += _target(at)
    return marks


def letter(n: int) -> str:
    """What the n-th of several goes by in a drawing: A to Z, then A1 and so on."""
    return _LETTERS[n % 26] + (str(n // 26) if n >= 26 else "")


def _run(letters: Sequence[str]) -> str:
    """Several letters in short: "AB", "A to N"."""
    return "".join(letters) if len(letters) <= 4 else f"{letters[0]} … {letters[-1]}"


def _boxed(at: Point, text: str) -> list[Mark]:
    x, y = at
    wide = breadth(text, SMALL) + 1.2
    box = ((x - 0.6, y - 0.7), (x + wide, y - 0.7), (x + wide, y + 2.5), (x - 0.6, y + 2.5))
    return [Area(box, tone="paper", edge=0.0), Words(at, text, SMALL, strong=True)]


def _target(at: Point, radius: float = 1.3) -> list[Mark]:
    """A centre of mass: a circle with two of its quarters filled."""
    x, y = at
    quarters = []
    for first in (0, 2):
        a = [first * math.pi / 2 + k * math.pi / 12 for k in range(7)]
        rim = tuple((x + radius * math.cos(t), y + radius * math.sin(t)) for t in a)
        quarters.append(Area(((x, y), *rim), tone="rust", edge=0.0))
    return [Circle(at, radius, "paper", MIDDLING), *quarters, Circle(at, radius, "", MIDDLING)]


def _named(centres: Standing) -> str:
    if len(centres.postures) < 2:
        return "centre of mass marked"
    return "centre of mass: " + ", ".join(f"{letter(n)} {name}" for n, name in enumerate(centres.postures))


def _measured(a: Point, b: Point, text: str) -> list[Mark]:
    """A size with strokes at both ends and its words in the middle; upright or level."""
    (xa, ya), (xb, yb) = a, b
    upright = abs(xa - xb) < 1e-9
    ends: list[Mark] = [
        Line(((x - (_ARROW if upright else 0), y - (0 if upright else _ARROW)),
              (x + (_ARROW if upright else 0), y + (0 if upright else _ARROW))), MIDDLING)
        for x, y in (a, b)
    ]  # fmt: skip
    middle = ((xa + xb) / 2, (ya + yb) / 2)
    words = (
        Words((middle[0] - 1.0, middle[1]), text, SMALL, "middle", turned=90.0)
        if upright
        else Words((middle[0], middle[1] - 3.2), text, SMALL, "middle")
    )
    return [Line((a, b), THIN), *ends, words]


def _moved(marks: Sequence[Mark], x: float, y: float) -> list[Mark]:
    found: list[Mark] = []
    for mark in marks:
        if isinstance(mark, Line):
            found.append(Line(_shift(mark.points, x, y), mark.weight, mark.tone, mark.dash, mark.closed))
        elif isinstance(mark, Area):
            holes = tuple(_shift(h, x, y) for h in mark.holes)
            found.append(Area(_shift(mark.outer, x, y), holes, mark.tone, mark.hatched, mark.edge))
    return found


def _shift(points: tuple[Point, ...], x: float, y: float) -> tuple[Point, ...]:
    return tuple((px + x, py + y) for px, py in points)


def _faint(mark: Mark) -> Mark:
    """The same mark, so light that lines drawn over it stand out."""
    if isinstance(mark, Line):
        return Line(mark.points, mark.weight, "grey", mark.dash, mark.closed)
    if isinstance(mark, Area):
        return Area(mark.outer, mark.holes, "pale" if mark.tone == "grey" else "paper", False, 0.0)
    return mark


def _tallest(m: Machine) -> int:
    if not m.arms.names:
        return 0
    heights = np.mean(np.asanyarray(m.arms.tip)[..., 2], axis=-1)
    return int(np.argmax(np.round(heights, 6)))
