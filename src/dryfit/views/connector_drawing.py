"""Connectors seen from the side where the wires go in: each contact with what it carries, its volts and its wire, and
beneath it what happens when something touches or goes in wrongly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from dryfit.ground.units import show
from dryfit.making.records_lists import ConnectorMap, Contact
from dryfit.views.drawing import Area, Circle, Drawing, Line, Mark, Words
from dryfit.views.lettering import fitted, lines, width
from dryfit.views.wire_list import SEEN_FROM

WIDTH, HEIGHT = 180.0, 250.0
"""What a page may be, mm."""

_HEAD, _GAP = 11.0, 7.0
_SIZE, _STEP = 3.0, 4.4
_CELL, _TALL = 34.0, 25.0
"""Most width and the height of a contact's cell, mm."""

_SIGN = 15.0
"""Width of the column where a deadly fault is marked, mm."""


@dataclass(frozen=True)
class _Piece:
    """Marks drawn downwards from zero, and how tall they are together."""

    marks: tuple[Mark, ...]
    height: float


def connector_drawings(connectors: Sequence[ConnectorMap]) -> tuple[Drawing, ...]:
    """All connectors, several on a page; a connector is not torn apart unless it is longer than a page."""
    pages: list[list[_Piece]] = [[]]
    room = HEIGHT - _HEAD
    for c in connectors:
        for piece in _pieces(c, room):
            if pages[-1] and sum(p.height + _GAP for p in pages[-1]) + piece.height > room:
                pages.append([])
            pages[-1].append(piece)
    return tuple(_page(some, n, len(pages)) for n, some in enumerate(pages) if some)


def _page(pieces: Sequence[_Piece], number: int, of: int) -> Drawing:
    height = min(HEIGHT, _HEAD + sum(p.height + _GAP for p in pieces) - _GAP + 1.0)
    marks: list[Mark] = [Words((0.0, height - 4.0), SEEN_FROM, 2.8, tone="grey")]
    if of > 1:
        marks.append(Words((WIDTH, height - 4.0), f"{number + 1} of {of}", 2.8, anchor="end", tone="grey"))
    top = height - _HEAD
    for piece in pieces:
        marks += [_moved(mark, top) for mark in piece.marks]
        top -= piece.height + _GAP
    return Drawing(f"Connectors, page {number + 1} of {of}", WIDTH, height, tuple(marks), SEEN_FROM)


def _pieces(c: ConnectorMap, room: float) -> list[_Piece]:
    """A connector as one piece, or its face and then its faults where it is longer than a page."""
    face, below = _face(c), _faults(c)
    parts: list[_Piece] = [face]
    for one in below:
        if parts[-1].height + one.height <= room:
            shifted = tuple(_moved(mark, -parts[-1].height) for mark in one.marks)
            parts[-1] = _Piece((*parts[-1].marks, *shifted), parts[-1].height + one.height)
        else:
            parts.append(one)
    return parts


def _face(c: ConnectorMap) -> _Piece:
    name, size = fitted(c.name, 4.6, WIDTH * 0.45, strong=True)
    beside = width(name, size, strong=True) + 4.0
    at = f"at {c.at}, " if c.at else ""
    what = f"{at}{c.title}, {'keyed' if c.keyed else 'NOT keyed: goes in both ways round'}"
    words, less = fitted(what, _SIZE, WIDTH - beside)
    marks: list[Mark] = [Words((0.0, -4.2), name, size, strong=True), Words((beside, -4.2), words, less)]
    top, rows = -7.5, c.rows
    across = math.ceil(len(c.contacts) / rows)
    # a long row goes on beneath itself, so that its words stay legible
    shown = min(across, 10)
    cell = min(_CELL, (WIDTH - 3.0) / shown)
    for r in range(rows):
        row = c.contacts[r * across : (r + 1) * across]
        for k in range(0, len(row), shown):
            part = row[k : k + shown]
            marks += _cells(part, top, cell, c.keyed and r == 0 and k == 0)
            top -= _TALL
    return _Piece(tuple(marks), -top + 2.0)


def _cells(contacts: Sequence[Contact], top: float, cell: float, key: bool) -> list[Mark]:
    left, low = 0.4, top - _TALL + 2.0
    long = left + cell * len(contacts) + 2.2
    shell = [(left, low), (long, low), (long, top), (left, top)]
    if key:
        # the rib of a keyed shell, over contact 1
        a, b = 1.5 + cell * 0.35, 1.5 + cell * 0.65
        shell[3:3] = [(b, top), (b, top + 1.6), (a, top + 1.6), (a, top)]
    marks: list[Mark] = [Area(tuple(shell), tone="pale", edge=0.45)]
    # one size for all, that of the longest
    voltages = [show(k.volts, "V") for k in contacts if math.isfinite(k.volts)]
    smallest = min((fitted(text, 3.4, cell - 10.5, strong=True)[1] for text in voltages), default=3.4)
    for n, k in enumerate(contacts):
        x = 1.5 + n * cell
        ground = k.volts == 0.0
        inner = ((x + 0.6, low + 1.2), (x + cell - 0.6, low + 1.2), (x + cell - 0.6, top - 1.2), (x + 0.6, top - 1.2))
        marks.append(Area(inner, tone="paper", edge=0.2, hatched=False))
        middle = x + cell / 2
        marks.append(Circle((x + 4.6, top - 5.2), 3.0, "ink" if ground else "sand", 0.3))
        tone = "paper" if ground else "ink"
        marks.append(Words((x + 4.6, top - 6.4), str(k.number), 3.4, anchor="middle", tone=tone, strong=True))
        if math.isfinite(k.volts):
            volts, _ = fitted(show(k.volts, "V"), 3.4, cell - 10.5, strong=True)
            marks.append(Words((x + cell - 2.0, top - 6.4), volts, smallest, anchor="end", strong=True))
        marks += _two_lines(k.carries, middle, top - 12.2, cell - 2.6)
        wire, size = fitted(k.wire or "no wire", 2.8, cell - 2.6)
        marks.append(Words((middle, low + 2.4), wire, size, anchor="middle", tone="ink" if k.wire else "grey"))
    return marks


def _two_lines(text: str, middle: float, top: float, room: float) -> list[Mark]:
    """A name in one line, or in two where it is long."""
    broken = lines(text, _SIZE, room)
    if len(broken) > 2:
        broken = [broken[0], " ".join(broken[1:])]
    marks: list[Mark] = []
    for n, line in enumerate(broken):
        words, size = fitted(line, _SIZE, room)
        marks.append(Words((middle, top - 3.7 * n), words, size, anchor="middle"))
    return marks


def _faults(c: ConnectorMap) -> list[_Piece]:
    """Each fault and remedy as a piece of its own."""
    out = [_fault(text, deadly) for text, deadly in c.faults]
    out += [_sentence("do:", text, False) for text in c.remedies]
    return out


def _fault(text: str, deadly: bool) -> _Piece:
    return _sentence("DIES" if deadly else "", text, deadly)


def _sentence(sign: str, text: str, deadly: bool) -> _Piece:
    broken = lines(text, _SIZE, WIDTH - _SIGN - 2.0)
    tall = _STEP * len(broken) + 1.2
    marks: list[Mark] = []
    if deadly:
        box = ((0.0, -4.9), (_SIGN - 3.0, -4.9), (_SIGN - 3.0, -0.6), (0.0, -0.6))
        marks += [
            Area(box, tone="rust", edge=0.0),
            Words(((_SIGN - 3.0) / 2, -3.8), sign, 2.9, anchor="middle", tone="paper", strong=True),
        ]
    elif sign:
        marks.append(Words((0.0, -3.8), sign, _SIZE, tone="blue", strong=True))
    else:
        marks.append(Line(((1.0, -2.8), (4.0, -2.8)), 0.3, "grey"))
    for n, line in enumerate(broken):
        marks.append(Words((_SIGN, -3.8 - _STEP * n), line, _SIZE))
    return _Piece(tuple(marks), tall)


def _moved(mark: Mark, up: float) -> Mark:
    """The mark, moved upwards."""
    if isinstance(mark, Line):
        return Line(tuple((x, y + up) for x, y in mark.points), mark.weight, mark.tone, mark.dash, mark.closed)
    if isinstance(mark, Area):
        outer = tuple((x, y + up) for x, y in mark.outer)
        return Area(outer, mark.holes, mark.tone, mark.hatched, mark.edge)
    if isinstance(mark, Circle):
        return Circle((mark.at[0], mark.at[1] + up), mark.radius, mark.tone, mark.weight)
    at = (mark.at[0], mark.at[1] + up)
    return Words(at, mark.text, mark.size, mark.anchor, mark.tone, mark.strong, mark.turned)
