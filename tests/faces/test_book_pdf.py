"""The build book as a PDF, read back by a general PDF library: its words, its pages, and that nothing runs off them."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from dryfit.assess.pictures import pictures
from dryfit.assess.results import results
from dryfit.ground.units import show
from dryfit.jobs.check import check, example
from dryfit.making.records_bench import Cause, Outside, Stage
from dryfit.making.records_bench import TestPoint as Point
from dryfit.outputs.book import book_bytes, book_images, write_book
from dryfit.outputs.drawings import svg
from dryfit.views.book import NOT_A_PERMIT, book, chapter_of
from dryfit.views.book_blocks import Book, Figure, Occasion
from dryfit.views.drawing import Drawing
from dryfit.views.page import Column, Heading, Page, Paragraph, Table

HARSH = 'A#b $x$ *bold* _it_ \\n "q" [l] <a> @ref `c` // /* ~ = + - 1. #panic("no") {{x}} ä ß €'
LONG = "base.gears[0].limits." + "x" * 90
STAGE = Stage("one", HARSH, (HARSH,), ("Do it.",), ("Take care.",))
POINT = Point(
    "p", "one", HARSH, "kg", 18.95, 18.2, 19.7, "scale", 0.05, ("Weigh it.",), "it rocks", (),
    Outside((Cause("low cause", "low tell"),), (Cause("high cause", "high tell"),)),
)  # fmt: skip
WIDE = Page(
    "Wide tables",
    "",
    (
        Heading(HARSH),
        Paragraph(HARSH, mark="→"),
        Table(
            (Column("name"), Column("number", right=True), Column("why"), Column("key")),
            tuple((HARSH[: n % 40], str(n * 1000), "because of a longer reason " * 4, LONG) for n in range(60)),
        ),
    ),
)


@cache
def a_book(name: str = "sunbloom") -> Book:
    checked = check(example(name))
    found = pictures(checked.machine, results(checked.machine))
    return book(
        checked.report, checked.machine, found, (STAGE,), (POINT,), (chapter_of(WIDE),), (), date(2027, 3, 8),
        occasion=Occasion("design.yaml", HARSH, "first night", date(2027, 5, 12)),
    )  # fmt: skip


@cache
def pages(name: str = "sunbloom") -> tuple[str, ...]:
    reader = PdfReader(io.BytesIO(book_bytes(a_book(name), svg)))
    return tuple(p.extract_text().replace("\u200b", "") for p in reader.pages)


def plain(text: str) -> str:
    """Text without any space, as lines may be broken anywhere."""
    return re.sub(r"\s+", "", text.replace("\u200b", ""))


def test_it_is_a4_and_every_chapter_begins_a_page() -> None:
    reader = PdfReader(io.BytesIO(book_bytes(a_book(), svg)))
    for p in reader.pages:
        assert (float(p.mediabox.width), float(p.mediabox.height)) == pytest.approx((595.28, 841.89), abs=0.5)
    starts = [next((i for i, t in enumerate(pages()) if i > 1 and plain(t).startswith(plain(c.title))), -1)
              for c in a_book().chapters]  # fmt: skip
    assert -1 not in starts
    assert starts == sorted(set(starts))


def test_list_of_chapters_names_the_page_each_stands_on() -> None:
    contents = plain(pages()[1])
    for c in a_book().chapters:
        page = next(i for i, t in enumerate(pages(), 1) if i > 2 and plain(t).startswith(plain(c.title)))
        assert f"{plain(c.title)}{page}" in contents


def test_it_says_the_verdict_and_the_readings() -> None:
    b, text = a_book(), plain(" ".join(pages()))
    assert plain(b.title.headline) in plain(pages()[0])
    assert "12May2027" in plain(pages()[0])
    for words in (show(18.95, "kg"), show(18.2, "kg"), show(19.7, "kg"), "low cause → low tell", "high cause"):
        assert plain(words) in text


def test_names_come_out_as_they_were_typed() -> None:
    text = plain(" ".join(pages()))
    assert text.count(plain(HARSH)) >= 6
    assert plain(LONG) in text


def test_every_page_says_that_it_is_no_permit_and_is_numbered() -> None:
    for n, text in enumerate(pages(), 1):
        assert plain(NOT_A_PERMIT) in plain(text)
        assert f"{n}/{len(pages())}" in plain(text)


def test_heads_of_a_table_stand_on_each_of_its_pages() -> None:
    rows = [t for t in pages() if "because of a longer reason" in t]
    assert len(rows) > 1
    assert all("number" in t for t in rows)


@pytest.mark.parametrize("name", ["sunbloom", "beacon"])
def test_nothing_runs_off_the_paper(name: str) -> None:
    """The outer centimetre of every page stays white: nothing is cut off and nothing overfull."""
    for png in book_images(a_book(name), svg, ppi=40):
        grey = np.array(Image.open(io.BytesIO(png)).convert("L"))
        edge = int(40 / 25.4 * 10)
        for strip in (grey[:edge], grey[-edge:], grey[:, :edge], grey[:, -edge:]):
            assert strip.min() > 250


def test_a_book_repeats_byte_for_byte(tmp_path: Path) -> None:
    first, second = tmp_path / "a.pdf", tmp_path / "b.pdf"
    write_book(a_book(), first, svg)
    write_book(a_book(), second, svg)
    assert first.read_bytes() == second.read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.pdf", "b.pdf"]


def test_a_book_that_cannot_be_made_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "book.pdf"
    path.write_bytes(b"old")
    broken = replace(a_book(), today=date(2027, 3, 8))

    def fails(_: object) -> str:
        raise ValueError("no drawing")

    with pytest.raises(ValueError, match="no drawing"):
        write_book(broken, path, fails)
    assert path.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["book.pdf"]


@pytest.mark.parametrize(
    "text",
    [
        "base:\n  wheels: {layout: three omni}\n",
        "base:\n  wheels: {layout: two driven and casters}\nbody: {parts: []}\n",
        # far too weak, far too narrow, and with far too many LEDs: much of it comes out as unknown
        "base:\n  wheels: {layout: three omni, circle_radius: 30 mm}\n  motor: {stall_torque: 0.01 N*m}\n"
        "light:\n  strips: [{name: s, count: 60, length: 5 m}]\n"
        "arms:\n  groups: [{name: a, count: 2, joints: [{name: j}, {name: k, axis: yaw}]}]\n  postures:\n"
        + "".join(f"    - {{name: posture {n}, angles: {{j: {3 * n} deg}}}}\n" for n in range(29)),
    ],
    ids=["little", "nothing on it", "hopeless"],
)
def test_half_a_file_makes_a_book(text: str, tmp_path: Path) -> None:
    file = tmp_path / "design.yaml"
    file.write_text(text, encoding="utf-8")
    checked = check(file)
    found = pictures(checked.machine, results(checked.machine))
    b = book(checked.report, checked.machine, found, (), (), (), (), date(2027, 3, 8), occasion=Occasion("design.yaml"))
    said = plain(" ".join(p.extract_text() for p in PdfReader(io.BytesIO(book_bytes(b, svg))).pages))
    assert plain(b.title.headline) in said
    assert "nan" not in "".join(svg(d) for d in drawings(b)).lower()


def drawings(b: Book) -> list[Drawing]:
    blocks = [block for c in b.chapters for block in c.blocks]
    figures = [f for block in blocks for f in getattr(block, "figures", (block,)) if isinstance(f, Figure)]
    return [b.title.picture, *(f.drawing for f in figures)]


def test_a_machine_that_falls_short_makes_a_book() -> None:
    text = plain(" ".join(pages("beacon")))
    assert "Itwillnotworkasdrawn" in text
    assert "Whatdoesnotholdwiththereserveaskedfor" in text
