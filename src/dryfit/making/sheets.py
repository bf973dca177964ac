"""Pieces cut from sheets by cuts that run from edge to edge, as a saw makes them.

Each free rectangle takes a piece in its lower left corner; two cuts then leave two smaller free rectangles, the first
cut along or across. Many orders of the pieces and rules of choice are tried, and the one with fewest sheets is kept, of
those the one with the largest rectangle left over. It is a search: a better cutting may exist. No cutting needs fewer
sheets than the area of the pieces with their saw cuts asks for, or than pieces too large to share a sheet.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import product

from dryfit.machine.stock import StockKind, Wanted
from dryfit.making.records_lists import Bar, Cut

_HAIR = 1e-9

Free = tuple[float, float, float, float]
"""A free rectangle: place of its lower left corner, length and width, m."""


@dataclass
class _Sheet:
    """One sheet as it is filled."""

    free: list[Free]
    cuts: list[Cut] = field(default_factory=list)


_ORDERS: tuple[Callable[[Wanted], tuple[float, ...]], ...] = (
    lambda w: (-w.size[0] * w.size[1], -max(w.size)),
    lambda w: (-max(w.size), -min(w.size)),
    lambda w: (-min(w.size), -max(w.size)),
    lambda w: (-w.size[0] - w.size[1], -max(w.size)),
)
"""Large area first; long first; wide first; large around first."""


def cut_sheets(kind: StockKind, wanted: Sequence[Wanted]) -> tuple[list[Bar], int]:
    """The sheets of one kind with what is cut from each, and the fewest that any cutting needs.

    The raw edges on the left and below are trimmed off; pieces may lie across the sheet.
    """
    room = (kind.size[0] - kind.trim, kind.size[1] - kind.trim)
    best: list[_Sheet] | None = None
    for order, along, snug in product(_ORDERS, (True, False, None), (True, False)):
        pieces = sorted((w for w in wanted for _ in range(w.count)), key=lambda w: (order(w), w.name, w.path))
        made = _filled(pieces, room, kind.kerf, along, snug)
        if best is None or _rank(made) < _rank(best):
            best = made
    assert best is not None
    bars = [_bar(kind, n, sheet) for n, sheet in enumerate(best)]
    return bars, fewest_sheets([w.size for w in wanted for _ in range(w.count)], room, kind.kerf)


def fewest_sheets(sizes: Sequence[tuple[float, float]], room: tuple[float, float], kerf: float) -> int:
    """Sheets that no cutting can do without: by area, and by pieces of which no two go into one sheet."""
    area = sum((a + kerf) * (b + kerf) for a, b in sizes)
    by_area = math.ceil(area / ((room[0] + kerf) * (room[1] + kerf)) - 1e-6)
    # Two pieces lie side by side or one behind the other: too large for both, however turned, they need a sheet each.
    large = [s for s in sizes if 2 * min(s) + kerf > max(room) + _HAIR]
    return max(by_area, len(large), 1 if sizes else 0)


def _rank(sheets: Sequence[_Sheet]) -> tuple[int, float]:
    return len(sheets), -max((a * b for s in sheets for *_, a, b in s.free), default=0.0)


def _filled(
    pieces: Sequence[Wanted], room: tuple[float, float], kerf: float, along: bool | None, snug: bool
) -> list[_Sheet]:
    """Sheets filled piece by piece. along: the first cut beside a piece runs along the sheet, across it, or so that the
    larger rectangle is left.  snug: the free rectangle with least area left is taken, else that with the least side."""
    sheets: list[_Sheet] = []
    for w in pieces:
        spot = _spot(sheets, w, snug)
        if spot is None:
            sheets.append(_Sheet([(0.0, 0.0, *room)]))
            spot = _spot(sheets, w, snug)
            if spot is None:
                raise ValueError("a piece is larger than a sheet")
        n, k, turned = spot
        x, y, length, width = sheets[n].free.pop(k)
        a, b = w.size[::-1] if turned else w.size
        sheets[n].cuts.append(Cut(w.name, (x, y), w.size, w.ends, turned))
        sheets[n].free += _left((x, y, length, width), a, b, kerf, along)
    return sheets


def _spot(sheets: Sequence[_Sheet], w: Wanted, snug: bool) -> tuple[int, int, bool] | None:
    """Where a piece goes best: sheet, free rectangle, and whether turned. Sheets begun first are filled first."""
    best: tuple[float, int, int, bool] | None = None
    for n, sheet in enumerate(sheets):
        for k, (_, _, length, width) in enumerate(sheet.free):
            for turned in (False, True):
                a, b = w.size[::-1] if turned else w.size
                if a > length + _HAIR or b > width + _HAIR:
                    continue
                loss = length * width - a * b if snug else min(length - a, width - b)
                if best is None or (loss, n, k, turned) < best:
                    best = (loss, n, k, turned)
        if best is not None:
            break
    return None if best is None else best[1:]


def _left(free: Free, a: float, b: float, kerf: float, along: bool | None) -> list[Free]:
    """What two saw cuts leave of a free rectangle beside a piece a × b in its corner."""
    x, y, length, width = free
    right, above = length - a - kerf, width - b - kerf
    if along is None:
        along = max(right, 0) * b + 0.0 < max(above, 0) * a
    if along:
        rest = [(x + a + kerf, y, right, b), (x, y + b + kerf, length, above)]
    else:
        rest = [(x + a + kerf, y, right, width), (x, y + b + kerf, a, above)]
    return [r for r in rest if r[2] > _HAIR and r[3] > _HAIR]


def _bar(kind: StockKind, n: int, sheet: _Sheet) -> Bar:
    """The sheet as it goes on the list; what is left counts where its largest rectangle is worth keeping."""
    room = (kind.size[0] - kind.trim) * (kind.size[1] - kind.trim)
    left = room - sum(c.size[0] * c.size[1] for c in sheet.cuts)
    kept = any(min(a, b) >= max(kind.shortest_kept, _HAIR) for *_, a, b in sheet.free)
    spare = tuple(sorted(sheet.free, key=lambda r: -r[2] * r[3]))
    return Bar(
        kind.key, f"sheet {n + 1}", kind.size, tuple(sheet.cuts), False, max(left, 0.0) / kind.size[1], kept,
        kind.trim, kind.kerf, spare,
    )  # fmt: skip
