"""Drawings of gears: everything on the sheet, no words over one another, numbers as worked out."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryfit.design.read import read_text
from dryfit.machine.gear_bodies import resolve_gear_bodies
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import resolve
from dryfit.making.gear_pairs import gear_pairs
from dryfit.outputs.drawings import svg
from dryfit.views.drawing import Area, Circle, Line, Words
from dryfit.views.gear_drawing import board_drawing, member_drawing, pair_drawing

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
WIDE = 0.58
"""Width of a letter over its height, on the large side for the sheet's face."""


@pytest.fixture(scope="module", params=["gangway", "beacon"])
def pair(request):
    file = EXAMPLES / request.param / "design.yaml"
    design = read_text(file.read_text(encoding="utf-8"), str(file))
    machine = resolve(design, file)
    bodies = resolve_gear_bodies(design.base.gears, Ledger(file.name), machine.gears, machine.workshop)
    return gear_pairs(machine, bodies)[0]


def drawings(pair):
    return [pair_drawing(pair), member_drawing(pair.pinion), member_drawing(pair.gear), board_drawing(pair)]


def box(words):
    width = len(words.text) * words.size * WIDE
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[words.anchor]
    x, y = words.at
    return x + left, y - 0.2 * words.size, x + left + width, y + 0.8 * words.size


def test_nothing_leaves_the_sheet(pair):
    for drawing in drawings(pair):
        for mark in drawing.marks:
            if isinstance(mark, Line):
                points = mark.points
            elif isinstance(mark, Area):
                points = mark.outer
            elif isinstance(mark, Circle):
                points = (mark.at,)
            else:
                x0, y0, x1, y1 = box(mark)
                points = ((x0, y0), (x1, y1))
            assert all(0 <= x <= drawing.width and 0 <= y <= drawing.height for x, y in points), mark


def test_no_words_stand_over_others(pair):
    for drawing in drawings(pair):
        boxes = [box(w) for w in drawing.marks if isinstance(w, Words)]
        for i, a in enumerate(boxes):
            for b in boxes[:i]:
                assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_the_sheet_of_the_pair_says_what_matters(pair):
    texts = " ".join(w.text for w in pair_drawing(pair).marks if isinstance(w, Words))
    for said in ("module", "centre distance", "backlash", "over two pins" if not pair.internal else "between two pins"):
        assert said in texts
    assert texts.count("mm, as designed") == 1
    assert "nip fingers" in texts


def test_drawings_repeat_byte_for_byte(pair):
    assert svg(pair_drawing(pair)) == svg(pair_drawing(pair))
