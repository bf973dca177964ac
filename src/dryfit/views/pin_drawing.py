"""The controller's pins in large letters, to be taped inside the lid: a strip of pins, and what each does beside it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from dryfit.making.records_lists import PinLine, WiringLists
from dryfit.views.drawing import Area, Drawing, Line, Mark, Words
from dryfit.views.lettering import fitted

SHEET = (297.0, 210.0)
_EDGE, _HEAD, _FOOT, _GAP = 10.0, 20.0, 13.0, 7.0
_ROOM = SHEET[1] - _HEAD - _FOOT
_COLUMN = (SHEET[0] - 2 * _EDGE - _GAP) / 2
_PIN = 17.0
"""Width of the strip on which the pins stand, mm."""

_LARGE, _SMALL, _LEAST = 6.0, 5.2, 4.0
_FREE_ROW, _ROW, _MORE = 9.0, 14.5, 6.5
"""Heights of rows, mm: of free pins, of a pin in use, and what a word of caution adds."""

_LARGEST = 1.35
"""Few pins stand in larger letters, up to this."""

_FOOT_WORDS = "Beneath each function: its wire and where it goes · how the pin stands while the board starts"

_Row = tuple[PinLine, ...]


def pin_drawings(lists: WiringLists) -> tuple[Drawing, ...]:
    """A4 across, two columns, in the board's order; free neighbours share a row. As many sheets as it takes."""
    rows = _rows(lists.pins)
    # two columns as short as they can be; where that is more than a sheet has, full columns on several
    whole = sum(_height(r) for r in rows)
    most = next((h for h in range(int(whole / 2), int(_ROOM)) if len(_columns(rows, h)) <= 2), _ROOM)
    columns = _columns(rows, most)
    larger = min(_LARGEST, _ROOM / max(1.0, *(sum(_height(r) for r in c) for c in columns)))
    sheets = [columns[k : k + 2] for k in range(0, len(columns), 2)]
    return tuple(_sheet(some, lists.board, n, len(sheets), larger) for n, some in enumerate(sheets))


def _columns(rows: Sequence[_Row], most: float) -> list[list[_Row]]:
    """The rows in columns no taller than `most`, mm."""
    columns: list[list[_Row]] = [[]]
    for row in rows:
        if columns[-1] and sum(_height(r) for r in columns[-1]) + _height(row) > most:
            columns.append([])
        columns[-1].append(row)
    return columns


def _rows(pins: Sequence[PinLine]) -> tuple[_Row, ...]:
    """One row for each pin that does something, one for each run of free ones."""
    out: list[_Row] = []
    for free, run in groupby(pins, key=lambda p: p.function == "free"):
        some = tuple(run)
        if free:
            # a run ends where the names begin anew: 12, 13, A0, A1
            out += [tuple(part) for _, part in groupby(some, key=lambda p: p.pin.rstrip("0123456789"))]
        else:
            out += [(p,) for p in some]
    return tuple(out)


def _height(row: _Row) -> float:
    if row[0].function == "free":
        return _FREE_ROW
    return _ROW + (_MORE if row[0].caution else 0.0)


def _sheet(columns: Sequence[Sequence[_Row]], board: str, number: int, of: int, larger: float) -> Drawing:
    width, height = SHEET
    sheet = f"  ({number + 1} of {of})" if of > 1 else ""
    title, size = fitted(f"Pins of the {board}{sheet}", 8.0, width - 2 * _EDGE, strong=True)
    marks: list[Mark] = [Words((_EDGE, height - 14.0), title, size, strong=True)]
    for side, rows in enumerate(columns):
        left, top = _EDGE + side * (_COLUMN + _GAP), height - _HEAD
        for row in rows:
            marks += _row(row, left, top, larger)
            top -= _height(row) * larger
        right, high = left + _COLUMN, height - _HEAD
        marks.append(Line(((left, top), (right, top), (right, high), (left, high)), 0.4, closed=True))
    foot, size = fitted(_FOOT_WORDS, 4.2, width - 2 * _EDGE)
    marks.append(Words((_EDGE, 5.5), foot, size, tone="grey"))
    return Drawing(f"Pins of the {board}", width, height, tuple(marks), "Pin, function, wire, state while it starts.")


def _row(row: _Row, left: float, top: float, larger: float) -> list[Mark]:
    first, last, tall = row[0], row[-1], _height(row) * larger
    low, small = top - tall, _SMALL * larger
    name = first.pin if len(row) == 1 else f"{first.pin}–{last.pin}"
    used = first.function != "free"
    box = ((left, low), (left + _PIN, low), (left + _PIN, top), (left, top))
    pin, size = fitted(name, 7.0 * larger if used else small, _PIN - 2.0, strong=True, least=3.0)
    marks: list[Mark] = [
        Area(box, tone="sand" if used else "pale", edge=0.25),
        Line(((left, low), (left + _COLUMN, low)), 0.2, "grey"),
        Words((left + _PIN / 2, low + tall / 2 - 0.36 * size), pin, size, anchor="middle", strong=True),
    ]
    x, room = left + _PIN + 2.0, _COLUMN - _PIN - 3.5
    if not used:
        return [*marks, Words((x, low + tall / 2 - 0.36 * small), "free", small, tone="grey")]
    function, size = fitted(first.function, _LARGE * larger, room * 0.66, strong=True, least=_LEAST)
    needs, less = fitted(first.needs, small, room * 0.31, least=_LEAST)
    below = " · ".join(x for x in (first.wire or "no wire listed", first.at_start) if x)
    below, smaller = fitted(below, small, room, least=_LEAST)
    marks += [
        Words((x, top - 6.2 * larger), function, size, strong=True),
        Words((left + _COLUMN - 1.5, top - 6.2 * larger), needs, less, anchor="end", tone="grey"),
        Words((x, top - 12.4 * larger), below, smaller),
    ]
    if first.caution:
        caution, size = fitted(f"! {first.caution}", small, room, strong=True, least=_LEAST)
        marks.append(Words((x, top - 18.8 * larger), caution, size, tone="rust", strong=True))
    return marks
