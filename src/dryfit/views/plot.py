"""Simple charts as marks on paper: a frame with even ticks, lines, points, and a rose of directions."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dryfit.views.drawing import Area, Circle, Line, Mark, Point, Words

SMALL = 2.5
"""Size of the letters in a chart, mm."""
THIN, MIDDLING, BOLD = 0.12, 0.25, 0.5


def ticks(low: float, high: float, most: int = 6) -> tuple[float, ...]:
    """Round numbers between two bounds, a step of 1, 2 or 5 apart, at most so many."""
    span = high - low
    if not (math.isfinite(span) and span > 0):
        return (low,)
    step = 10.0 ** math.floor(math.log10(span / most))
    while span / step > most:
        step *= 2.5 if f"{step:e}".startswith("2") else 2.0
    first = math.ceil(low / step - 1e-9)
    return tuple(round(n * step, 12) for n in range(first, math.floor(high / step + 1e-9) + 1))


def number(value: float) -> str:
    """A tick's number, with no zeros behind."""
    return f"{value:.6g}".replace("-", "−")


@dataclass(frozen=True)
class Frame:
    """A chart's field on paper: lower left corner, width and height, mm, and the values at its edges."""

    at: Point
    width: float
    height: float
    across: tuple[float, float]
    up: tuple[float, float]

    def point(self, x: float, y: float) -> Point:
        """Where a pair of values lies on paper."""
        (x0, x1), (y0, y1) = self.across, self.up
        return (
            self.at[0] + (x - x0) / (x1 - x0) * self.width,
            self.at[1] + (y - y0) / (y1 - y0) * self.height,
        )

    def inside(self, x: float, y: float) -> bool:
        """Whether a pair of values lies on the field."""
        return self.across[0] <= x <= self.across[1] and self.up[0] <= y <= self.up[1]


def axes(f: Frame, x_name: str, y_name: str) -> list[Mark]:
    """The field with lines at round numbers, the numbers, and the names of both axes."""
    (x, y), right, top = f.at, f.at[0] + f.width, f.at[1] + f.height
    marks: list[Mark] = []
    for value in ticks(*f.across):
        px = f.point(value, f.up[0])[0]
        marks += [Line(((px, y), (px, top)), THIN, "grey"), Words((px, y - 3.4), number(value), SMALL, "middle")]
    for value in ticks(*f.up):
        py = f.point(f.across[0], value)[1]
        marks += [Line(((x, py), (right, py)), THIN, "grey"), Words((x - 1.2, py - 0.9), number(value), SMALL, "end")]
    marks.append(Line(((x, y), (right, y), (right, top), (x, top)), MIDDLING, closed=True))
    marks.append(Words((x + f.width / 2, y - 7.2), x_name, SMALL, "middle"))
    marks.append(Words((x, top + 1.8), y_name, SMALL))
    return marks


def curve(f: Frame, xs: Sequence[float], ys: Sequence[float], weight: float = BOLD, tone: str = "ink",
          dash: tuple[float, ...] = ()) -> list[Mark]:  # fmt: skip
    """A line through pairs of values, cut off at the edges of the field."""
    marks: list[Mark] = []
    run: list[Point] = []
    for (xa, ya), (xb, yb) in zip(zip(xs, ys, strict=True), list(zip(xs, ys, strict=True))[1:], strict=False):
        piece = _clipped(f, (float(xa), float(ya)), (float(xb), float(yb)))
        if piece is None:
            continue
        a, b = f.point(*piece[0]), f.point(*piece[1])
        if run and math.dist(run[-1], a) < 1e-6:
            run.append(b)
        else:
            if len(run) > 1:
                marks.append(Line(tuple(run), weight, tone, dash))
            run = [a, b]
    if len(run) > 1:
        marks.append(Line(tuple(run), weight, tone, dash))
    return marks


def _clipped(f: Frame, a: Point, b: Point) -> tuple[Point, Point] | None:
    """The part of a stroke that lies on the field."""
    if not all(math.isfinite(v) for v in (*a, *b)):
        return None
    start, end = 0.0, 1.0
    for k, (low, high) in enumerate((f.across, f.up)):
        d = b[k] - a[k]
        if d == 0:
            if not low <= a[k] <= high:
                return None
            continue
        t = sorted(((low - a[k]) / d, (high - a[k]) / d))
        start, end = max(start, t[0]), min(end, t[1])
    if start >= end:
        return None

    def on(t: float) -> Point:
        return a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])

    return on(start), on(end)


def lettered(at: Point, letter: str, tone: str = "ink") -> list[Mark]:
    """A point with a letter in it, to be named beside the chart."""
    return [Circle(at, 1.9, "paper", MIDDLING), Words((at[0], at[1] - 0.9), letter, SMALL, "middle", tone, True)]


def key(at: Point, entries: Iterable[tuple[str, str, str, tuple[float, ...]]]) -> list[Mark]:
    """What strokes mean, one under another: words, then weight's word ("bold", "thin"), tone and dash."""
    marks: list[Mark] = []
    x, y = at
    for text, weight, tone, dash in entries:
        marks.append(Line(((x, y + 0.9), (x + 7, y + 0.9)), BOLD if weight == "bold" else MIDDLING, tone, dash))
        marks.append(Words((x + 8.5, y), text, SMALL))
        y -= 4.2
    return marks


@dataclass(frozen=True)
class Rose:
    """A field of directions: middle on paper, radius, mm, and the value at its rim. Forward is up, left is left."""

    middle: Point
    radius: float
    rim: float

    def point(self, angle: float, value: float) -> Point:
        """Where a value lies in a direction, rad from forward to the left; beyond the rim it stays on it."""
        r = min(max(value, 0.0), self.rim) / self.rim * self.radius
        return self.middle[0] - r * math.sin(angle), self.middle[1] + r * math.cos(angle)


def rose(r: Rose, unit: str) -> list[Mark]:
    """Circles at round values, strokes every 30 degrees, the four sides named."""
    x, y = r.middle
    marks: list[Mark] = [Circle(r.middle, r.radius, "paper", MIDDLING)]
    for n in range(12):
        a = n * math.pi / 6
        marks.append(Line((r.middle, r.point(a, r.rim)), THIN, "grey"))
    for value in ticks(0.0, r.rim, 4)[1:]:
        marks.append(Circle(r.middle, value / r.rim * r.radius, "", THIN))
    for value in ticks(0.0, r.rim, 4)[1:]:
        px, py = r.point(-math.radians(15), value)
        marks.append(Words((px + 0.4, py - 2.6), number(value), SMALL - 0.3, "start", "ink"))
    far = r.radius
    marks += [
        Words((x, y + far + 1.6), f"forward, {unit}", SMALL, "middle"),
        Words((x, y - far - 3.4), "back", SMALL, "middle"),
        Words((x - far - 1.5, y - 0.9), "left", SMALL, "end"),
        Words((x + far + 1.5, y - 0.9), "right", SMALL),
    ]
    return marks


def around(r: Rose, angles: Iterable[float], values: Iterable[float], weight: float = BOLD, tone: str = "ink",
           dash: tuple[float, ...] = (), filled: str = "") -> list[Mark]:  # fmt: skip
    """A closed line of values by direction."""
    points = tuple(r.point(float(a), float(v)) for a, v in zip(angles, values, strict=True) if not math.isnan(v))
    if len(points) < 3:
        return []
    marks: list[Mark] = [Area(points, tone=filled, edge=0.0)] if filled else []
    return [*marks, Line(points, weight, tone, dash, closed=True)]
