"""A sheet of wire labels to print, cut, lay around the wire and stick together: each text stands twice, so that it is
read from both sides."""

from __future__ import annotations

from collections.abc import Sequence

from dryfit.making.records_lists import WireLine
from dryfit.views.drawing import Area, Drawing, Line, Mark, Words
from dryfit.views.lettering import fitted

SHEET = (210.0, 297.0)
LABEL = (94.0, 11.0)
"""Width and height of a label before it is folded, mm."""

AROUND = 18.0
"""What lies around the wire, mm: enough for 10 mm2 with its insulation."""

_LEFT, _TOP, _HEAD = 8.0, 12.0, 12.0
_COLUMNS = 2
_TEXT = (LABEL[0] - AROUND) / 2


def label_drawings(wires: Sequence[WireLine]) -> tuple[Drawing, ...]:
    """All labels, both ends of every wire one after the other, on as many A4 sheets as it takes."""
    labels = [text for w in wires for text in w.labels]
    rows = int((SHEET[1] - _TOP - _HEAD) // LABEL[1])
    on_one = rows * _COLUMNS
    sheets = [labels[k : k + on_one] for k in range(0, len(labels), on_one)]
    return tuple(_sheet(some, n, len(sheets), rows) for n, some in enumerate(sheets))


def _sheet(labels: Sequence[str], number: int, of: int, rows: int) -> Drawing:
    marks: list[Mark] = [
        Words(
            (_LEFT, SHEET[1] - 8.5),
            "Wire labels: print at 100 %, cut along the lines, lay the hatched part around the wire, stick the halves "
            "together.",
            2.6,
            tone="grey",
        ),
        Words((SHEET[0] - _LEFT, SHEET[1] - 8.5), f"{number + 1} of {of}", 2.6, anchor="end", tone="grey"),
    ]
    top = SHEET[1] - _HEAD
    # Going down the columns keeps both ends of a wire together when the sheet is cut into strips.
    for k, text in enumerate(labels):
        column, row = divmod(k, rows)
        marks += _label(text, _LEFT + column * (LABEL[0] + 6.0), top - (row + 1) * LABEL[1])
    for column in range((len(labels) - 1) // rows + 1):
        here = min(rows, len(labels) - column * rows)
        left = _LEFT + column * (LABEL[0] + 6.0)
        marks += _cuts(left, top, here)
    title = f"Wire labels, sheet {number + 1} of {of}"
    return Drawing(title, *SHEET, tuple(marks), "Each text twice, to be folded around the wire.")


def _label(text: str, left: float, low: float) -> list[Mark]:
    first, _, second = text.partition("\n")
    number, _, name = first.partition(" ")
    start, end = left + _TEXT, left + _TEXT + AROUND
    middle = ((start, low), (end, low), (end, low + LABEL[1]), (start, low + LABEL[1]))
    marks: list[Mark] = [Area(middle, tone="paper", hatched=True, edge=0.0)]
    for x in (left + 1.5, end + 1.5):
        room = _TEXT - 3.0
        words, size = fitted(number, 4.2, room * 0.34, strong=True)
        marks.append(Words((x, low + 6.0), words, size, strong=True))
        words, size = fitted(name, 3.0, room * 0.62)
        marks.append(Words((x + room * 0.37, low + 6.2), words, size))
        words, size = fitted(second, 2.4, room)
        marks.append(Words((x, low + 2.0), words, size))
    return marks


def _cuts(left: float, top: float, rows: int) -> list[Mark]:
    """Lines to cut along, with short marks that stand out of the grid."""
    right, low = left + LABEL[0], top - rows * LABEL[1]
    marks: list[Mark] = []
    for n in range(rows + 1):
        y = top - n * LABEL[1]
        marks.append(Line(((left, y), (right, y)), 0.12, "grey", (1.0, 1.0)))
        marks += [Line(((x, y), (x + d, y)), 0.25) for x, d in ((left - 2.5, 2.0), (right + 0.5, 2.0))]
    for x in (left, right):
        marks.append(Line(((x, top), (x, low)), 0.12, "grey", (1.0, 1.0)))
        marks += [Line(((x, y), (x, y + d)), 0.25) for y, d in ((top + 0.5, 2.0), (low - 2.5, 2.0))]
    return marks
