"""Bars and sheets: every piece once, nothing outside, off-cuts first, as few new ones as brute force finds."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryfit.design.read import read_text
from dryfit.ground.errors import DesignError
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import resolve
from dryfit.machine.stock import OffCut, Stock, StockKind, Wanted, axle_length, resolve_stock
from dryfit.making import cutting
from dryfit.making.cutting import cut_list, fewest_bars
from dryfit.making.records_lists import Bar, CutList
from dryfit.making.sheets import cut_sheets, fewest_sheets
from dryfit.views.cut_list import TALL, WIDE, cut_drawings, cut_page
from dryfit.views.drawing import Area, Line, Words
from dryfit.views.lettering import width

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
MOTOR_ON_WHEEL = "base: {axle: {arrangement: on the gearmotor shaft}}\n"


def stock_of(text: str) -> Stock:
    """Stock of a design that is given as a text."""
    design = read_text(text)
    ledger = Ledger("design.yaml")
    machine = resolve(design, Path("design.yaml"))
    found = resolve_stock(design.workshop.stock, design.body, machine, ledger)
    ledger.close()
    return found


def body(*pieces: str, more: str = "") -> str:
    listed = ", ".join(pieces)
    return f"""{MOTOR_ON_WHEEL}{more}body:
  parts:
    - {{name: frame, shape: box, size: [400 mm, 400 mm, 40 mm], mass: 2 kg, made: cut,
       pieces: [{listed}]}}
"""


def faults_of(text: str) -> str:
    with pytest.raises(DesignError) as wrong:
        stock_of(text)
    return str(wrong.value)


def kind(
    key: str = "tube", size: tuple[float, float] = (2.0, 0.0), kerf: float = 0.003, trim: float = 0.0
) -> StockKind:
    return StockKind(key, key, size[1] > 0, size, 0.02, math.nan, kerf, trim, 0.15, "", "frame", 1)


def wanted(*pieces: tuple[float, int], stock: str = "tube", ends: str = "square") -> tuple[Wanted, ...]:
    return tuple(
        Wanted(f"piece {n}", stock, (x, 0.0), x, count, ends, f"p{n}", n) for n, (x, count) in enumerate(pieces)
    )


def shop(kinds: Sequence[StockKind], pieces: Sequence[Wanted], *off_cuts: object) -> Stock:
    return Stock(tuple(kinds), tuple(pieces), tuple(off_cuts), 0.003, 0.0, 0.15)  # type: ignore[arg-type]


def assert_sound(stock: Stock, found: CutList) -> None:
    """Every piece once; on every bar the pieces one after the other, a saw cut between, inside what there is."""
    asked = Counter({(w.stock, w.name, w.size): w.count for w in stock.wanted})
    made = Counter((b.stock, c.name, c.size) for b in found.bars for c in b.cuts)
    assert made == asked
    for b in found.bars:
        (flat_bar if b.size[1] == 0 else flat_sheet)(b)


def flat_bar(b: Bar) -> None:
    at = 0.0
    for c in b.cuts:
        assert c.at[0] == pytest.approx(at, abs=1e-9)
        at += c.size[0] + b.kerf * (math.sqrt(2) if c.ends == "mitre" else 1.0)
    end = b.cuts[-1].at[0] + b.cuts[-1].size[0]
    assert end <= b.size[0] - b.trim + 1e-9
    assert b.left == pytest.approx(max(b.size[0] - b.trim - at, 0.0), abs=1e-9)


def flat_sheet(b: Bar) -> None:
    room = (b.size[0] - b.trim, b.size[1] - b.trim)
    boxes = []
    for c in b.cuts:
        length, wide = c.size[::-1] if c.turned else c.size
        assert c.at[0] >= -1e-9
        assert c.at[1] >= -1e-9
        assert c.at[0] + length <= room[0] + 1e-9
        assert c.at[1] + wide <= room[1] + 1e-9
        boxes.append((c.at[0], c.at[1], c.at[0] + length, c.at[1] + wide))
    for n, a in enumerate(boxes):
        for other in boxes[:n]:
            apart = (a[0] - other[2], other[0] - a[2], a[1] - other[3], other[1] - a[3])
            assert max(apart) >= b.kerf - 1e-9
    assert separable(boxes)


def separable(boxes: list[tuple[float, float, float, float]]) -> bool:
    """Whether cuts from edge to edge take all boxes apart."""
    if len(boxes) < 2:
        return True
    for low, high in ((0, 2), (1, 3)):
        for line in {box[high] for box in boxes}:
            first = [b for b in boxes if b[high] <= line + 1e-9]
            rest = [b for b in boxes if b[low] >= line - 1e-9]
            if first and rest and len(first) + len(rest) == len(boxes):
                return separable(first) and separable(rest)
    return False


def test_kerf_between_pieces_but_not_behind_a_last_one_that_ends_flush() -> None:
    """Three of 400 and one of 791 with three cuts of 3 fill 2000 to the hair; a millimetre more needs another bar."""
    flush = shop([kind()], wanted((0.4, 3), (0.791, 1)))
    found = cut_list(flush)
    assert_sound(flush, found)
    assert len(found.bars) == 1
    assert found.bars[0].left == 0.0
    assert len(cut_list(shop([kind()], wanted((0.4, 3), (0.792, 1)))).bars) == 2


def test_trim_is_lost_on_new_bars_only() -> None:
    new = shop([kind(trim=0.005)], wanted((0.9985, 1), (0.9935, 1)))
    assert len(cut_list(new).bars) == 1
    shelf = shop([kind(trim=0.005)], wanted((0.9985, 1), (0.9985, 1)), OffCut("tube", 2.0, 1, 1))
    found = cut_list(shelf)
    assert [b.off_cut for b in found.bars] == [True]
    assert len(cut_list(shop([kind(trim=0.005)], wanted((0.9985, 2)))).bars) == 2


def test_off_cuts_are_used_before_a_new_bar_even_where_none_is_saved() -> None:
    stock = shop([kind()], wanted((0.5, 1), (0.3, 1)), OffCut("tube", 0.6, 1, 1), OffCut("tube", 0.1, 3, 1))
    found = cut_list(stock)
    assert_sound(stock, found)
    assert [(b.off_cut, [c.size[0] for c in b.cuts]) for b in found.bars] == [(True, [0.5]), (False, [0.3])]
    assert found.bound == (("tube", 1, 1),)


def test_a_short_end_is_scrap_and_a_long_one_is_kept() -> None:
    found = cut_list(shop([kind()], wanted((1.0, 1), (0.86, 1), (1.9, 1))))
    assert [(round(b.left, 3), b.kept) for b in found.bars] == [(0.097, False), (0.134, False)]
    assert [b.kept for b in cut_list(shop([kind()], wanted((1.0, 1)))).bars] == [True]


def test_mitred_pieces_are_longer_over_the_points_and_their_cuts_wider() -> None:
    stock = stock_of(body("{stock: slot-20, length: 300 mm, count: 2, ends: mitre}"))
    piece = stock.wanted[0]
    assert piece.size[0] == pytest.approx(0.320)
    assert piece.typed == pytest.approx(0.300)
    assert "300 mm along the middle is 320 mm over the points" in " ".join(stock.notes)
    bar = cut_list(stock).bars[0]
    assert bar.cuts[1].at[0] == pytest.approx(0.320 + 0.003 * math.sqrt(2))


def test_what_is_left_over_lies_in_one_piece() -> None:
    """Two bars are needed either way; the last holds the one small piece and keeps the rest."""
    found = cut_list(shop([kind(kerf=0.0)], wanted((1.0, 3), (0.4, 2))))
    assert sorted(round(b.left, 6) for b in found.bars) == [0.0, 0.2]
    assert found.bars[-1].left == pytest.approx(0.2)


@cache
def by_brute_force(pieces: tuple[int, ...], rooms: tuple[int, ...], whole: int) -> int:
    """Fewest new bars: every piece, longest first, tried in every bar begun, and in a new one."""
    if not pieces:
        return 0
    first, rest = pieces[0], pieces[1:]
    best = 10**6
    for n in sorted({rooms.index(r) for r in rooms if r >= first}):
        left = tuple(sorted((*rooms[:n], rooms[n] - first, *rooms[n + 1 :])))
        best = min(best, by_brute_force(rest, left, whole))
    return min(best, 1 + by_brute_force(rest, tuple(sorted((*rooms, whole - first))), whole))


cases = st.tuples(
    st.lists(st.integers(3, 20), min_size=1, max_size=7), st.lists(st.integers(2, 15), max_size=2), st.integers(20, 30)
)


@settings(max_examples=60)
@given(cases)
def test_as_few_as_brute_force_finds(case: tuple[list[int], list[int], int]) -> None:
    pieces, shelf, whole = case
    lengths = sorted(set(pieces), reverse=True)
    found = fewest_bars(lengths, [pieces.count(x) for x in lengths], whole, shelf)
    new = sum(1 for b in found.bars if b.off_cut < 0)
    assert new == by_brute_force(tuple(sorted(pieces, reverse=True)), tuple(sorted(shelf)), whole)
    assert found.fewest == new


@settings(max_examples=25)
@given(cases)
def test_made_one_by_one_the_bound_never_lies_above_the_best(case: tuple[list[int], list[int], int]) -> None:
    """The other method, forced: what it finds is possible, and no more is claimed than is true."""
    pieces, shelf, whole = case
    lengths = sorted(set(pieces), reverse=True)
    demand = [pieces.count(x) for x in lengths]
    best = by_brute_force(tuple(sorted(pieces, reverse=True)), tuple(sorted(shelf)), whole)
    _, least = cutting._priced_ways(lengths, demand, whole, shelf)
    assert least <= best


def test_many_different_lengths_still_come_with_a_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cutting, "MOST_WAYS", 50)
    lengths = list(range(900, 100, -37))
    demand = [1 + n % 4 for n in range(len(lengths))]
    found = fewest_bars(lengths, demand, 2000, [700, 1500])
    made = [sum(b.taken.count(i) for b in found.bars) for i in range(len(lengths))]
    assert made == demand
    assert all(sum(lengths[i] for i in b.taken) <= b.room for b in found.bars)
    new = sum(1 for b in found.bars if b.off_cut < 0)
    by_length = math.ceil((sum(x * d for x, d in zip(lengths, demand, strict=True)) - 2200) / 2000)
    assert by_length <= found.fewest <= new <= found.fewest + 1


def test_the_dearest_way_is_found_by_the_table_of_rooms() -> None:
    """Room 10, pieces 6 (worth 7), 5 (worth 5), 4 (worth 4.9): 6 + 4 is worth most; two of 5 are worth less."""
    assert cutting.best_way([6, 5, 4], [1, 2, 2], 10, [7.0, 5.0, 4.9]) == ((1, 0, 1), pytest.approx(11.9))


def test_a_piece_longer_than_a_bar_is_refused() -> None:
    with pytest.raises(ValueError, match="longer than a bar"):
        fewest_bars([30], [1], 20)
    assert fewest_bars([5], [0], 20).bars == ()


sheet_pieces = st.lists(st.tuples(st.integers(3, 60), st.integers(3, 40), st.integers(1, 4)), min_size=1, max_size=6)


@settings(max_examples=25)
@given(sheet_pieces)
def test_sheets_hold_every_piece_apart_and_can_be_sawn_from_edge_to_edge(pieces: list[tuple[int, int, int]]) -> None:
    sheet = kind("ply", (1.0, 0.5), trim=0.005)
    asked = tuple(
        Wanted(f"piece {n}", "ply", (a / 100, b / 100), a / 100, count, "square", f"p{n}", n)
        for n, (a, b, count) in enumerate(pieces)
    )
    stock = shop([sheet], asked)
    found = cut_list(stock)
    assert_sound(stock, found)
    key, fewest, taken = found.bound[0]
    assert (key, taken) == ("ply", len(found.bars))
    assert fewest <= taken
    area = sum(w.count * w.size[0] * w.size[1] for w in asked)
    left = sum(b.left * b.size[1] for b in found.bars)
    assert area + left == pytest.approx(taken * 0.995 * 0.495)


def test_eight_halves_of_halves_fill_a_sheet_without_kerf() -> None:
    sheet = kind("ply", (1.0, 0.5), kerf=0.0)
    asked = [Wanted("panel", "ply", (0.25, 0.25), 0.25, 8, "square", "p", 1)]
    bars, fewest = cut_sheets(sheet, asked)
    assert (len(bars), fewest, bars[0].left) == (1, 1, pytest.approx(0.0))
    # With a saw cut of 3 mm only three in one row go into each.
    assert len(cut_sheets(kind("ply", (1.0, 0.5), kerf=0.003), asked)[0]) == 3


def test_pieces_too_large_to_share_a_sheet_need_one_each() -> None:
    assert fewest_sheets([(0.55, 0.51)] * 3, (1.0, 0.52), 0.003) == 3
    assert fewest_sheets([], (1.0, 0.5), 0.003) == 0


def test_axles_and_strips_are_cut_too() -> None:
    """Sunbloom: half a bearing of 31 mm, span 80, overhang 55, half a hub of 40, 5 mm at each end: 180.5 mm."""
    path = EXAMPLES / "sunbloom" / "design.yaml"
    design = read_text(path.read_text(encoding="utf-8"), str(path))
    machine = resolve(design, path)
    assert axle_length(machine) == pytest.approx(0.0155 + 0.080 + 0.055 + 0.020 + 0.010)
    ledger = Ledger(path.name)
    stock = resolve_stock(design.workshop.stock, design.body, machine, ledger)
    ledger.close()
    cut = {(w.name, w.stock): (w.count, round(w.size[0], 4)) for w in stock.wanted}
    assert cut["axle", "bar-20"] == (3, 0.181)
    assert cut["strip stem", "addressable-5v-60"] == (4, 0.9)
    found = cut_list(stock)
    assert_sound(stock, found)
    assert {s: taken for s, _, taken in found.bound} == {
        "slot-20": 2, "opal tube 110 x 3": 1, "box-al-25x2": 1, "bar-20": 1, "addressable-5v-60": 1,
    }  # fmt: skip
    assert sum(1 for b in found.bars if b.off_cut) == 2
    assert cut_list(stock) == found


def test_strips_longer_than_a_reel_are_joined_at_a_led() -> None:
    stock = stock_of(MOTOR_ON_WHEEL + "light: {strips: [{name: ring, length: 6.5 m, item: addressable-5v-30}]}\n")
    assert [(w.name, round(w.size[0], 4)) for w in stock.wanted] == [
        ("strip ring, part 1", 5.0), ("strip ring, part 2", 1.5),
    ]  # fmt: skip


def test_a_cut_part_of_a_profile_is_its_own_piece() -> None:
    text = """base: {axle: {arrangement: on the gearmotor shaft}}
body:
  parts:
    - {name: post, profile: tube-al-40x2, length: 600 mm, made: cut, ring: {count: 3, radius: 100 mm}}
    - {name: shelf, shape: plate, size: [300 mm, 200 mm, 6 mm], mass: 1 kg, made: cut}
"""
    stock = stock_of(text)
    assert [(w.name, w.stock, w.size[0], w.count) for w in stock.wanted] == [("post", "tube-al-40x2", 0.6, 3)]
    assert "shelf is made of cut pieces, but none are listed" in stock.notes[0]


def shopping(text: str) -> str:
    """A frame of one good piece beside a section of the workshop."""
    return body("{stock: slot-20, length: 380 mm}", more=f"workshop: {{stock: {text}}}\n")


BAD = {
    "no stock named 'slot-21'; did you mean slot-20": body("{stock: slot-21, length: 380 mm}"),
    "longer than a bar of slot-20, 1995 mm after trimming; read '2400 mm'": body("{stock: slot-20, length: 2.4 m}"),
    "has neither a length nor a size": body("{stock: slot-20}"),
    "slot-20 is a bar; its pieces have a length only": body("{stock: slot-20, size: [300 mm, 200 mm]}"),
    "birch-ply-6 is a sheet; its pieces have a length and": body("{stock: birch-ply-6, length: 300 mm}"),
    "larger than a sheet of birch-ply-6, 1250 mm × 625 mm": body("{stock: birch-ply-6, size: [1.2 m, 700 mm]}"),
    "pieces of a sheet are cut square": body("{stock: birch-ply-6, size: [200 mm, 100 mm], ends: mitre}"),
    "more pieces than a machine has": body("{stock: slot-20, length: 380 mm, count: 5000}"),
    "rod has neither a length nor a size": body(
        "{stock: rod, length: 300 mm}", more="workshop: {stock: {sold: [{name: rod}]}}\n"
    ),
    "no stock named 'slot20'; did you mean": shopping("{off_cuts: [{stock: slot20, length: 1 m}]}"),
    "named twice under `sold`": shopping("{sold: [{name: slot-20, length: 1 m}, {name: slot-20, length: 2 m}]}"),
}


@pytest.mark.parametrize("said", BAD)
def test_bad_stock_is_told_with_its_line(said: str) -> None:
    told = faults_of(BAD[said])
    assert said in told
    assert re.match(r"design\.yaml:[2-5]: [a-z_.]+\S*: ", told)


def test_what_is_sold_goes_before_the_catalogue() -> None:
    more = "workshop: {stock: {kerf: 2 mm, trim: 0 mm, sold: [{name: slot-20, length: 3 m, price: 20 EUR}]}}\n"
    stock = stock_of(body("{stock: slot-20, length: 998 mm, count: 3}", more=more))
    found = stock.kind("slot-20")
    assert (found.size, found.price, found.name) == (
        (3.0, 0.0),
        20.0,
        "aluminium slot extrusion, 20 x 20 mm, slot 6 mm",
    )
    assert len(cut_list(stock).bars) == 1


def crowded() -> CutList:
    """Bars and sheets with many, narrow, mitred and turned pieces."""
    kinds = [kind("slot-30", (3.0, 0.0), trim=0.005), kind("ply with quite a long name", (1.25, 0.625), trim=0.005)]
    pieces = [*wanted((1.42, 4), (0.61, 8), (0.04, 12), (0.085, 7), stock="slot-30"),
              *wanted((0.33, 9), stock="slot-30", ends="mitre")]  # fmt: skip
    for n, (a, b, count) in enumerate([(0.5, 0.4, 2), (0.3, 0.2, 4), (0.25, 0.08, 6), (0.03, 0.02, 9), (0.6, 0.03, 3)]):
        pieces.append(Wanted(f"plate {n}", kinds[1].key, (a, b), a, count, "square", f"q{n}", n))
    return cut_list(shop(kinds, pieces))


def test_drawings_stay_on_their_paper_and_name_the_pieces() -> None:
    found = crowded()
    drawn = cut_drawings(found)
    for d in drawn:
        assert d.width <= WIDE
        assert d.height <= TALL + 1
        for mark in d.marks:
            points = mark.outer if isinstance(mark, Area) else mark.points if isinstance(mark, Line) else ()
            assert all(-1e-6 <= x <= d.width + 1e-6 and -1e-6 <= y <= d.height + 1e-6 for x, y in points)
            if isinstance(mark, Words) and not mark.turned:
                wide = width(mark.text, mark.size, mark.strong)
                left = mark.at[0] - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[mark.anchor]
                assert left > -1.0
                assert left + wide < d.width + 1.0
    said = " ".join(mark.text for d in drawn for mark in d.marks if isinstance(mark, Words))
    for name in {c.name for b in found.bars for c in b.cuts if c.name != "plate 3"}:
        assert name in said


def test_the_page_lists_every_piece_and_says_what_is_best() -> None:
    page = cut_page(crowded())
    text = str(page)
    assert "Saws and cut ends injure" in text
    assert "it cannot be done with fewer" in text
    assert "over the points, mitred" in text
    assert cut_drawings(CutList((), 0.003, ())) == ()
    assert "Nothing is sawn." in str(cut_page(CutList((), 0.003, ())))
