"""The machine in figures: where it stands, which way it can go, what its motors and its supply do."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from dryfit.assess.records_pictures import Directions, MotorLines, Pictures, Standing, StripVolts, SupplyTree
from dryfit.ground.units import show
from dryfit.machine.machine import Machine
from dryfit.machine.surfaces import Held
from dryfit.views.book_blocks import Beside, BookBlock, Chapter, Figure, table
from dryfit.views.drawing import Area, Circle, Drawing, Line, Mark, Words
from dryfit.views.lettering import fitted
from dryfit.views.machine_drawing import FEW_LETTERS, letter, side, top
from dryfit.views.page import Heading, Paragraph
from dryfit.views.plot import (
    BOLD,
    MIDDLING,
    SMALL,
    THIN,
    Frame,
    Rose,
    around,
    axes,
    curve,
    key,
    lettered,
    rose,
)

_LIMITS = ("tipping", "grip", "motors")
_RPM = 30 / math.pi


def in_figures(m: Machine, p: Pictures, held: Sequence[Held], meshes: Sequence[Drawing]) -> Chapter:
    """All figures of what was found."""
    s = p.standing
    left, right = side(m, s, held), top(m, s, held)
    blocks: list[BookBlock] = [
        Beside((Figure(left, _named(s, "From its right side, arms as in the first posture.")),
                Figure(right, "From above. Dashed: the polygon it stands on. Bold: the shortest way from under the "
                       "centre of mass to an edge."))),
        table("posture|centre of mass: forward|left|height|tips at", _postures(s), right="1234"),
        Heading("Which way it can go"),
        Beside((Figure(directions(p.directions), "How hard it can speed up, by the direction of travel; the least of "
                       "tipping, grip and motors."),
                Figure(_limits_drawing(p.directions), "What sets that limit in each direction."))),
    ]  # fmt: skip
    if p.motor is not None:
        blocks += [Heading("What its motors do"), Figure(motor(p.motor), _ways(p.motor))]
    blocks += [Figure(d, d.note) for d in meshes]
    blocks += [Heading("The supply, with volts at every node"), Figure(supply(p.supply), _supply_words(p.supply))]
    for strip in p.strips:
        low = float(np.min(strip.volts))
        if not math.isfinite(low):
            blocks.append(Paragraph(f"Strip {strip.name}: its volts are not known; the verdict says why."))
            continue
        blocks.append(
            Figure(
                strip_volts(strip),
                f"Strip {strip.name}, in its brightest scene: the worst LED gets {show(low, 'V')} of the "
                f"{show(strip.needed, 'V')} that it needs; triangles mark the feeds. {_even(p, strip.name)}".rstrip(),
            )
        )
    return Chapter("The machine in figures", tuple(blocks))


def _named(s: Standing, words: str) -> str:
    if len(s.postures) < 2:
        return f"{words} The round target is the centre of mass."
    if len(s.postures) > FEW_LETTERS:
        return f"{words} Centres of mass go by the letters of the table."
    return f"{words} Centre of mass: " + ", ".join(f"{letter(n)} {name}" for n, name in enumerate(s.postures)) + "."


def _even(p: Pictures, strip: str) -> str:
    """How even the light of a set of strips looks, in words."""
    said = [
        f"{e.title}: unevenness {show(e.unevenness, '%')}, {show(e.allowed, '%')} allowed."
        for e in p.evenness
        if e.where == strip
    ]
    return " ".join(said)


def _postures(s: Standing) -> list[tuple[str, ...]]:
    found = []
    for n, name in enumerate(s.postures):
        x, y, z = (float(v) for v in s.centres[min(n, len(s.centres) - 1)])
        angle = float(s.tip_angle[min(n, len(s.tip_angle) - 1)])
        said = f"{letter(n)}  {name}" if len(s.postures) > 1 else name
        found.append((said, *(show(round(v, 4) + 0.0, "m") for v in (x, y, z)), show(angle, "rad")))
    return found


def directions(d: Directions, size: float = 84.0) -> Drawing:
    """The largest acceleration by direction against tipping and against what is asked."""
    angles = np.arange(len(d.least)) * 2 * np.pi / len(d.least)
    worst = d.tipping[np.isfinite(d.tipping)]
    rim = max(_most([*d.least, d.asked * 1.3]), 0.1)
    if len(worst):
        rim = max(rim, min(float(np.max(worst)), 3.2 * rim))
    r = Rose((size / 2, 47.0), 29.0, rim * 1.08)
    marks: list[Mark] = rose(r, "m/s²")
    if np.all(d.open):
        marks += around(r, angles, np.nan_to_num(d.least), BOLD, "ink", (), "sky")
    else:
        # it goes only some ways: a bar for each of them
        marks += [Line((r.middle, r.point(angles[k], d.least[k])), 1.6, "ink") for k in np.flatnonzero(d.open)]
    marks += around(r, angles, d.tipping, MIDDLING, "rust", (1.4, 1.0))
    marks += around(r, angles, np.full(len(angles), d.asked), MIDDLING, "blue", (0.4, 1.2))
    marks += key((8.0, 7.6), (
        ("to be had: the least of all three", "bold", "ink", ()),
        ("where it would tip, weakest posture", "thin", "rust", (1.4, 1.0)),
        ))  # fmt: skip
    marks += key((8.0, -0.8 + 0.2), (("asked for by the brief", "thin", "blue", (0.4, 1.2)),))
    lifted = [_up(mark, 4.0) for mark in marks]
    return Drawing("Acceleration by direction", size, 87.0, tuple(lifted))


def _limits_drawing(d: Directions, size: float = 84.0) -> Drawing:
    """A ring of 72 fields, each marked by what limits there: dark, hatched or pale."""
    middle, inner, outer = (size / 2, 51.0), 20.0, 28.0
    looks = (("rust", False), ("pale", True), ("sky", False))
    marks: list[Mark] = []
    n = len(d.limited_by)
    for k, limit in enumerate(d.limited_by):
        a, b = (2 * math.pi * (k - 0.5) / n, 2 * math.pi * (k + 0.5) / n)
        corners = tuple((middle[0] - r * math.sin(t), middle[1] + r * math.cos(t))
                        for r, t in ((inner, a), (outer, a), (outer, b), (inner, b)))  # fmt: skip
        tone, hatched = looks[int(limit)] if d.open[k] else ("paper", False)
        marks.append(Area(corners, tone=tone, hatched=hatched, edge=0.08))
    marks += [Circle(middle, inner, "", MIDDLING), Circle(middle, outer, "", MIDDLING)]
    x, y = middle
    marks += [
        Words((x, y + outer + 1.6), "forward", SMALL, "middle"), Words((x, y - outer - 3.4), "back", SMALL, "middle"),
        Words((x - outer - 1.5, y - 0.9), "left", SMALL, "end"), Words((x + outer + 1.5, y - 0.9), "right", SMALL),
    ]  # fmt: skip
    least = float(np.min(d.least[d.open])) if np.any(d.open) else float("nan")
    marks.append(Words((x, y + 0.6), f"least {show(least, 'm/s2')}", SMALL, "middle", strong=True))
    marks.append(Words((x, y - 3.4), f"asked {show(d.asked, 'm/s2')}", SMALL, "middle"))
    across = 12.0
    if not np.all(d.open):
        marks.append(Words((across, 6.4), "blank: it cannot travel that way", SMALL))
    for k, name in enumerate(_LIMITS):
        tone, hatched = looks[k]
        at = across + 22.0 * k
        box = ((at, 11.6), (at + 4, 11.6), (at + 4, 14.2), (at, 14.2))
        marks += [Area(box, tone=tone, hatched=hatched, edge=MIDDLING), Words((at + 5.4, 11.9), name, SMALL)]
    return Drawing("What limits the acceleration", size, 87.0, tuple(marks))


def motor(line: MotorLines, width: float = 168.0) -> Drawing:
    """Torque against speed at the gearmotor's shaft, with the points where it works."""
    speeds = [float(np.max(xs)) * _RPM for _, xs, _ in line.lines] + [s * _RPM for _, s, _ in line.points]
    torques = [float(np.max(ys)) for _, _, ys in line.lines] + [t for _, _, t in line.points]
    f = Frame((14.0, 11.0), width - 72.0, 56.0, (0.0, _most(speeds) * 1.03), (0.0, _most(torques) * 1.08))
    marks = axes(f, "speed of the gearmotor's shaft, rpm", "torque there, N·m")
    looks = ((MIDDLING, "grey", (2.0, 1.2)), (BOLD, "ink", ()))
    for (_, xs, ys), (weight, tone, dash) in zip(line.lines, looks, strict=False):
        marks += curve(f, [x * _RPM for x in xs], [float(y) for y in ys], weight, tone, dash)
    for value in (line.lasting, line.brief):
        marks += curve(f, list(f.across), [value, value], MIDDLING, "blue", (0.4, 1.2))
    free = -math.inf
    for n in sorted(range(len(line.points)), key=lambda k: line.points[k][2]):
        speed, torque = line.points[n][1] * _RPM, line.points[n][2]
        if f.inside(speed, torque):
            x, y = f.point(speed, torque)
            free = max(free, y + 0.2)
            marks += [Line(((x, y), (x + 5.0, free)), THIN), Circle((x, y), 0.8, "ink", 0.0)]
            marks += lettered((x + 5.0, free), letter(n))
            free += 4.4
    x = f.at[0] + f.width + 5.0
    entries = [(name, "bold" if look[0] == BOLD else "thin", look[1], look[2])
               for (name, _, _), look in zip(line.lines, looks, strict=False)]  # fmt: skip
    marks += key((x, 62.0), [*entries, ("most for long, for a short time", "thin", "blue", (0.4, 1.2))])
    for n, (name, speed, torque) in enumerate(line.points):
        y = 44.0 - 5.2 * n
        marks += lettered((x + 2.0, y + 0.9), letter(n))
        marks.append(Words((x + 6.0, y), f"{name}: {torque:.2f} N·m at {speed * _RPM:.0f} rpm", SMALL))
    return Drawing("Motor lines", width, 72.0, tuple(marks))


def _most(values: Sequence[float]) -> float:
    """The largest of the values that are numbers; 1 where none is above zero."""
    known = [v for v in values if math.isfinite(v) and v > 0]
    return max(known, default=1.0)


def _ways(line: MotorLines) -> str:
    long, short = show(line.lasting, "N*m"), show(line.brief, "N*m")
    return (
        f"The hardest-working motor. It may be asked for {long} for long and {short} for a short time. Letters: "
        "cruising on the level, starting, speeding up on the slope, creeping onto the highest edge."
    )


def supply(tree: SupplyTree, width: float = 168.0) -> Drawing:
    """The packs, the bus and every branch, each with its volts in the cases shown."""
    cell, gap = 11.5, 4.0
    order, depth = _ordered(tree)
    # a deep tree is drawn steeper, so that its boxes end before the volts begin
    step = min(12.0, 46.0 / (max(depth, default=0) + 1))
    height = 13.5 + (len(order) + 1) * cell
    columns = [width - 62.0 + 22.0 * k for k in range(len(tree.cases))]
    marks: list[Mark] = []
    for x, case in zip(columns, tree.cases, strict=True):
        words = case.split(", ")
        for n, line in enumerate(_two_lines(words)):
            marks.append(Words((x, height - 4.0 - 3.2 * n), line, SMALL, "middle", "ink", n == 0))
    rows = {-1: height - 9.5 - cell}
    for n, k in enumerate(order):
        rows[k] = height - 9.5 - cell * (n + 2)
    marks += _node("bus", "from the packs", 2.0, rows[-1], tree.bus, tree.packs, columns, False)
    for k in order:
        node, x = tree.nodes[k], 2.0 + step * (depth[k] + 1)
        above = 2.0 + step * depth[k] + min(gap, step / 2)
        y = rows[k] + 2.6
        marks.append(Line(((above, rows[node.parent] - 1.2), (above, y), (x, y)), BOLD))
        said = _node_words(node.name, node.feeds, node.regulated, node.fuse)
        marks += _node(node.name, said, x, rows[k], node.volts, node.amperes, columns, node.regulated)
    return Drawing("Supply", width, height, tuple(marks))


def _two_lines(words: list[str]) -> list[str]:
    first = words[0].removesuffix(" at once")
    return [first, *words[1:]]


def _node(
    name: str,
    said: str,
    x: float,
    y: float,
    volts: Sequence[float],
    amperes: Sequence[float],
    columns: Sequence[float],
    regulated: bool,
) -> list[Mark]:
    wide = 46.0
    box = ((x, y - 1.2), (x + wide, y - 1.2), (x + wide, y + 6.6), (x, y + 6.6))
    marks: list[Mark] = [
        Area(box, tone="sky" if regulated else "paper", edge=BOLD if regulated else MIDDLING),
        Words((x + 1.5, y + 3.2), *fitted(name, SMALL, wide - 3.0, True), strong=True),
        Words((x + 1.5, y + 0.1), *fitted(said, SMALL - 0.3, wide - 3.0)),
    ]
    marks.append(Line(((x + wide + 1.0, y - 1.9), (columns[-1] + 11.0, y - 1.9)), 0.1, "grey"))
    for at, u, i in zip(columns, volts, amperes, strict=True):
        marks += [
            Words((at, y + 3.2), show(u, "V"), SMALL, "middle", strong=True),
            Words((at, y + 0.1), show(i, "A"), SMALL - 0.3, "middle"),
        ]
    return marks


def _node_words(name: str, feeds: str, regulated: bool, fuse: float) -> str:
    said = [f"feeds {feeds}"] if feeds and feeds != name else []
    said += ["regulator"] if regulated else []
    said += [f"fuse {show(fuse, 'A')}"] if math.isfinite(fuse) else []
    return ", ".join(said) or "branch"


def _ordered(tree: SupplyTree) -> tuple[list[int], list[int]]:
    """Branches so that each stands below the one it hangs on, and how deep it hangs."""
    order: list[int] = []
    depth = [0] * len(tree.nodes)

    def add(parent: int, level: int) -> None:
        for k, node in enumerate(tree.nodes):
            if node.parent == parent and k not in order:
                order.append(k)
                depth[k] = level
                add(k, level + 1)

    add(-1, 0)
    return order, depth


def _supply_words(tree: SupplyTree) -> str:
    low = min(tree.bus, default=float("nan"))
    return (
        "Volts between the supply and the return at the end of each branch, after its regulator where it has one "
        f"(shaded), and amperes below them. Lowest on the bus: {show(low, 'V')}."
    )


def strip_volts(s: StripVolts, width: float = 168.0) -> Drawing:
    """Volts of every LED along a strip."""
    ends = [float(np.min(s.volts)), float(np.max(s.volts)), s.needed]
    low, high = min(ends), max(ends)
    pad = max(0.12 * (high - low), 0.02)
    reach = float(np.max(s.place)) * 1e3 if len(s.place) else 1.0
    last = max(reach, float(np.max(s.feeds, initial=0.0)) * 1e3)
    f = Frame((14.0, 11.0), width - 62.0, 34.0, (0.0, last), (low - pad, high + pad))
    marks = axes(f, "along the strip, mm", "volts at the LED")
    marks += curve(f, list(f.across), [s.needed, s.needed], MIDDLING, "rust", (1.4, 1.0))
    marks += curve(f, [float(x) * 1e3 for x in s.place], [float(v) for v in s.volts])
    for feed in s.feeds:
        x, y = f.point(min(float(feed) * 1e3, last), f.up[0])
        marks.append(Area(((x - 1.3, y - 0.1), (x + 1.3, y - 0.1), (x, y + 2.3)), tone="ink", edge=0.0))
    x = f.at[0] + f.width + 4.0
    marks += key((x, 40.0), (("volts at the LED", "bold", "ink", ()), ("what it needs", "thin", "rust", (1.4, 1.0))))
    return Drawing(f"Strip {s.name}", width, 51.0, tuple(marks))


def _up(mark: Mark, by: float) -> Mark:
    """The same mark, higher on the sheet."""
    if isinstance(mark, Line):
        return Line(tuple((x, y + by) for x, y in mark.points), mark.weight, mark.tone, mark.dash, mark.closed)
    if isinstance(mark, Area):
        holes = tuple(tuple((x, y + by) for x, y in h) for h in mark.holes)
        return Area(tuple((x, y + by) for x, y in mark.outer), holes, mark.tone, mark.hatched, mark.edge)
    if isinstance(mark, Circle):
        return Circle((mark.at[0], mark.at[1] + by), mark.radius, mark.tone, mark.weight)
    return Words((mark.at[0], mark.at[1] + by), mark.text, mark.size, mark.anchor, mark.tone, mark.strong, mark.turned)
