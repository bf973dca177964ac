"""The cut list as a page of tables, and as drawings of every bar and sheet with what is cut from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from dryfit.ground.units import show
from dryfit.making.records_lists import Bar, Cut, CutList
from dryfit.views.drawing import Area, Drawing, Line, Mark, Words
from dryfit.views.lettering import fitted, width
from dryfit.views.page import Block, Column, Heading, Page, Paragraph, Table

CAUTION = (
    "Saws and cut ends injure: clamp the bar, wear eye and ear protection, keep hands and sleeves off the blade, and "
    "deburr before you handle. The saw's own instructions and local rules come first."
)
WIDE, TALL = 180.0, 250.0
"""Largest drawing, mm."""

_BAR, _RULE, _HEAD, _STOCK, _GAP = 11.0, 4.0, 4.6, 8.0, 3.0
_TALLEST_SHEET = 112.0
_SMALL, _LEAST = 2.5, 1.8
_EDGE = 0.2
"""Room left and right for the thickness of lines, mm."""

_NARROW = 13.0
"""Below this width, mm, the words of a piece stand upright."""


@dataclass(frozen=True)
class _Row:
    """Bars that are cut alike: the first one, and how many."""

    bar: Bar
    count: int


def cut_page(c: CutList, aside: str = "") -> Page:
    """What is sawn, bar by bar, and whether it could be done with fewer."""
    blocks: list[Block] = [Paragraph(CAUTION, mark="!")]
    blocks += [Paragraph(_saw(c), faint=True)]
    for stock, fewest, taken in c.bound:
        bars = [b for b in c.bars if b.stock == stock]
        blocks += [Heading(stock), Paragraph(_best(bars, fewest, taken)), _table(bars)]
    blocks += [Paragraph(note, mark="→") for note in c.notes]
    if not c.bars:
        blocks.append(Paragraph("Nothing is sawn."))
    return Page("Cut list", aside, tuple(blocks))


def _saw(c: CutList) -> str:
    """How the places on the bars are to be read."""
    return (
        f"Pieces are listed in the order of cutting, measured from the trimmed end; between them the saw takes "
        f"{_mm(c.kerf)} mm. Measure the first piece of each length before you cut the rest."
    )


def _best(bars: Sequence[Bar], fewest: int, taken: int) -> str:
    word = next((b.name.rpartition(" ")[0] for b in bars if not b.off_cut), "bar")
    new = f"{taken} new {word}{'' if taken == 1 else 's'} of {_size(_first_new(bars))}" if taken else f"no new {word}"
    shelf = sum(1 for b in bars if b.off_cut)
    used = f" and {shelf} off-cut{'' if shelf == 1 else 's'} of the shelf" if shelf else ""
    if taken == fewest:
        return f"{new}{used}: it cannot be done with fewer."
    return f"{new}{used}; no cutting needs fewer than {fewest}, so that one with fewer may exist."


def _first_new(bars: Sequence[Bar]) -> Bar:
    return next(b for b in bars if not b.off_cut)


def _size(bar: Bar) -> str:
    return " × ".join(_mm(x) for x in bar.size if x) + " mm"


def _table(bars: Sequence[Bar]) -> Table:
    columns = (Column("from"), Column("pieces, mm", fold=True), Column("left over", fold=True))
    rows = []
    for row in _alike(bars):
        flat = row.bar.size[1] > 0
        pieces = ", ".join(_grouped(row.bar.cuts, flat))
        rows.append((_title(row), pieces, _left(row.bar)))
    return Table(columns, tuple(rows))


def _grouped(cuts: Sequence[Cut], flat: bool) -> list[str]:
    """Equal pieces side by side as one: "4 × frame 380"."""
    out: list[tuple[str, int]] = []
    for cut in cuts:
        size = f"{_mm(cut.size[0])} × {_mm(cut.size[1])}" if flat else _mm(cut.size[0])
        text = f"{cut.name} {size}" + ("" if cut.ends == "square" else " over the points, mitred")
        if out and out[-1][0] == text:
            out[-1] = (text, out[-1][1] + 1)
        else:
            out.append((text, 1))
    return [text if n == 1 else f"{n} × {text}" for text, n in out]


def _left(bar: Bar) -> str:
    if bar.size[1] > 0:
        best = bar.spare[0] if bar.spare else None
        what = f"{_mm(best[2])} × {_mm(best[3])} mm" if best else "nothing"
        return f"{what}, keep it" if bar.kept else what
    return f"{_mm(bar.left)} mm, {'keep it' if bar.kept else 'scrap'}" if bar.left > 5e-4 else "nothing"


def _alike(bars: Sequence[Bar]) -> list[_Row]:
    """Bars that follow one another and are cut alike, as one."""
    rows: list[_Row] = []
    for b in bars:
        last = rows[-1].bar if rows else None
        if last is not None and (last.stock, last.size, last.cuts, last.off_cut) == (
            b.stock,
            b.size,
            b.cuts,
            b.off_cut,
        ):
            rows[-1] = _Row(last, rows[-1].count + 1)
        else:
            rows.append(_Row(b, 1))
    return rows


def _title(row: _Row) -> str:
    """ "bar 2", or "bars 2 to 5, alike"."""
    name = row.bar.name
    if row.count == 1:
        return name
    if row.bar.off_cut:
        return f"{name}, and {row.count - 1} more alike"
    word, _, number = name.rpartition(" ")
    return f"{word}s {number} to {int(number) + row.count - 1}, alike"


def cut_drawings(c: CutList) -> tuple[Drawing, ...]:
    """Every bar and sheet drawn, each kind of stock to its own scale; as many drawings as pages are needed."""
    pages: list[list[tuple[float, list[Mark]]]] = [[]]
    used = 0.0
    for stock, fewest, taken in c.bound:
        bars = [b for b in c.bars if b.stock == stock]
        if not bars:
            continue
        scale = _scale(bars)
        blocks = [_heading(stock, _best(bars, fewest, taken))]
        for row in _alike(bars):
            drawn = _sheet(row, scale) if row.bar.size[1] > 0 else _bar(row, scale)
            blocks.append(drawn)
        for n, (height, marks) in enumerate(blocks):
            # A heading is not left alone at the foot of a page.
            wanted = height + (blocks[1][0] if n == 0 else 0.0)
            if used and used + wanted > TALL:
                pages.append([])
                used = 0.0
            pages[-1].append((height, marks))
            used += height
    return tuple(_page(blocks, n, len(pages)) for n, blocks in enumerate(pages, start=1) if blocks)


def _scale(bars: Sequence[Bar]) -> float:
    """Millimetres of paper for a metre."""
    longest = max(b.size[0] for b in bars)
    wide = max(b.size[1] for b in bars)
    room = WIDE - 2 * _EDGE
    return min(room / longest, _TALLEST_SHEET / wide if wide else room / longest)


def _page(blocks: Sequence[tuple[float, list[Mark]]], n: int, of: int) -> Drawing:
    """Blocks, each drawn from its top at 0 downwards, one beneath the other."""
    height = sum(h for h, _ in blocks) + 1.0
    marks: list[Mark] = []
    top = height - 0.5
    for h, drawn in blocks:
        marks += [_raised(mark, top) for mark in drawn]
        top -= h
    title = "Cut list" if of == 1 else f"Cut list, {n} of {of}"
    return Drawing(title, WIDE, height, tuple(marks), "Bars and sheets with the pieces cut from them, in order.")


def _raised(mark: Mark, by: float) -> Mark:
    """The mark moved up to its place on the page; lines and areas also off the edge of the paper."""
    if isinstance(mark, Area):
        return replace(mark, outer=tuple((x + _EDGE, y + by) for x, y in mark.outer))
    if isinstance(mark, Line):
        return replace(mark, points=tuple((x + _EDGE, y + by) for x, y in mark.points))
    return replace(mark, at=(mark.at[0], mark.at[1] + by))


def _heading(stock: str, best: str) -> tuple[float, list[Mark]]:
    name, size = fitted(stock, 3.4, 70.0, strong=True)
    at = width(name, size, strong=True) + 4.0
    told, small = fitted(best, _SMALL, WIDE - at)
    return _STOCK, [Words((0.0, -5.2), name, size, strong=True), Words((at, -5.2), told, small, tone="grey")]


def _bar(row: _Row, scale: float) -> tuple[float, list[Mark]]:
    bar = row.bar
    top, low = -_HEAD, -_HEAD - _BAR
    marks: list[Mark] = _above(row, [cut for cut in bar.cuts if cut.size[0] * scale - 1.0 < _LEAST - 0.4])
    start = bar.trim * scale
    if start > 0.05:
        marks.append(Area(_box(0.0, low, start, top), tone="grey", edge=0.15))
    end = start
    ruled = -20.0
    for cut in bar.cuts:
        left = start + cut.at[0] * scale
        end = left + cut.size[0] * scale
        marks.append(Area(_shape(cut, left, end, low, top), tone="sand", edge=0.25))
        marks += _named(cut.name, _mm(cut.size[0]), left, end, low, top)
        # Where the saw goes, measured from the trimmed end; left out where the numbers would touch.
        text = _mm(cut.at[0] + cut.size[0])
        half = width(text, _LEAST) / 2
        at = min(end, WIDE - half)
        if at - half > ruled + 1.0:
            marks.append(Line(((end, low), (end, low - 0.9)), 0.15))
            marks.append(Words((at, low - 2.9), text, _LEAST, "middle", "grey"))
            ruled = at + half
    whole = bar.size[0] * scale
    saw = min(end + max(bar.kerf * scale, 0.0), whole)
    if bar.left * scale > 0.3:
        marks.append(Area(_box(saw, low, whole, top), tone="paper", hatched=True, edge=0.15))
        told = f"keep {_mm(bar.left)}" if bar.kept else f"scrap {_mm(bar.left)}"
        if whole - saw > width(told, _SMALL) + 3:
            middle, half = (saw + whole) / 2, width(told, _SMALL) / 2 + 0.8
            marks += [Area(_box(middle - half, low + 3.4, middle + half, low + 7.4), tone="paper", edge=0.0),
                      Words((middle, low + 4.5), told, _SMALL, "middle")]  # fmt: skip
    marks.append(Line(_box(0.0, low, whole, top), 0.35, closed=True))
    return _HEAD + _BAR + _RULE + _GAP, marks


def _above(row: _Row, unnamed: Sequence[Cut] = ()) -> list[Mark]:
    """What stands over a bar: its name and size, pieces too narrow for their names, and what is left over."""
    bar = row.bar
    title = _title(row) if bar.off_cut else f"{_title(row)}, {_size(bar)}"
    if unnamed:
        title += f"; the narrow ones: {', '.join(_grouped(unnamed, False))}"
    left = f"left over: {_left(bar)}"
    room = WIDE - width(left, _SMALL) - 4
    name, size = fitted(title, 2.8, room)
    return [Words((0.0, -3.4), name, size), Words((WIDE, -3.4), left, _SMALL, "end", "grey")]


def _shape(cut: Cut, left: float, right: float, low: float, top: float) -> tuple[tuple[float, float], ...]:
    """A piece on the bar: square, or with both ends mitred, its long side below."""
    if cut.ends != "mitre":
        return _box(left, low, right, top)
    slant = min((right - left) / 3, (top - low) * 0.5)
    return ((left, low), (right, low), (right - slant, top), (left + slant, top))


def _named(name: str, size: str, left: float, right: float, low: float, top: float) -> list[Mark]:
    """Name and size of a piece inside it: side by side with the bar, or upright where it is narrow."""
    room, middle = right - left - 1.0, (left + right) / 2
    if right - left >= _NARROW:
        above, below = fitted(name, _SMALL, room), fitted(size, _SMALL, room)
        return [Words((middle, low + 6.2), *above, "middle"), Words((middle, low + 2.3), *below, "middle")]
    if room < _LEAST - 0.4:
        return []
    height = top - low - 1.2
    words = [name, size] if room >= 2 * _SMALL + 0.4 else [f"{name} {size}"]
    marks: list[Mark] = []
    for n, word in enumerate(words):
        text, big = fitted(word, min(_SMALL, room), height, least=1.5)
        x = middle + (n - (len(words) - 1) / 2) * (_SMALL + 0.4) + 0.36 * big
        marks.append(Words((x, (low + top) / 2), text, big, "middle", turned=90.0))
    return marks


def _sheet(row: _Row, scale: float) -> tuple[float, list[Mark]]:
    bar = row.bar
    high = bar.size[1] * scale
    base = -_HEAD - high
    marks: list[Mark] = _above(row)
    x0, y0 = bar.trim * scale, base + bar.trim * scale
    whole = _box(0.0, base, bar.size[0] * scale, -_HEAD)
    marks.append(Area(whole, tone="pale", edge=0.0))
    for n, (x, y, length, wide) in enumerate(bar.spare):
        left, low = x0 + x * scale, y0 + y * scale
        right, top = left + length * scale, low + wide * scale
        marks.append(Area(_box(left, low, right, top), tone="paper", hatched=True, edge=0.15))
        told = ("keep " if bar.kept and n == 0 else "") + f"{_mm(length)} × {_mm(wide)}"
        if n == 0 and right - left > width(told, _SMALL) + 3 and top - low > 6:
            middle, half, mid = (left + right) / 2, width(told, _SMALL) / 2 + 0.8, (low + top) / 2
            marks += [Area(_box(middle - half, mid - 2.0, middle + half, mid + 2.2), tone="paper", edge=0.0),
                      Words((middle, mid - 0.9), told, _SMALL, "middle")]  # fmt: skip
    for cut in bar.cuts:
        length, wide = cut.size[::-1] if cut.turned else cut.size
        left, low = x0 + cut.at[0] * scale, y0 + cut.at[1] * scale
        right, top = left + length * scale, low + wide * scale
        marks.append(Area(_box(left, low, right, top), tone="sand", edge=0.25))
        marks += _on_sheet(cut, left, right, low, top)
    marks.append(Line(whole, 0.35, closed=True))
    return _HEAD + high + _GAP + 1.0, marks


def _on_sheet(cut: Cut, left: float, right: float, low: float, top: float) -> list[Mark]:
    size = f"{_mm(cut.size[0])} × {_mm(cut.size[1])}" + (", turned" if cut.turned else "")
    middle, mid = (left + right) / 2, (low + top) / 2
    upright = top - low > 1.05 * (right - left)
    room, depth = (top - low - 1.5, right - left) if upright else (right - left - 1.5, top - low)
    if depth < _LEAST + 0.6 or room < 5:
        return []
    words = [cut.name, size] if depth > 2 * _SMALL + 1.8 else [f"{cut.name} {size}"]
    marks: list[Mark] = []
    for n, word in enumerate(words):
        text, big = fitted(word, min(_SMALL, depth - 0.6), room)
        off = (n - (len(words) - 1) / 2) * (_SMALL + 0.9)
        at = (middle + off + 0.36 * big, mid) if upright else (middle, mid - off - 0.36 * big)
        marks.append(Words(at, text, big, "middle", turned=90.0 if upright else 0.0))
    return marks


def _box(left: float, low: float, right: float, top: float) -> tuple[tuple[float, float], ...]:
    return ((left, low), (right, low), (right, top), (left, top))


def _mm(length: float) -> str:
    """A length in millimetres, tenths where there are any."""
    return show(round(length * 1e4) / 1e4, "m", 5).removesuffix(" mm")
