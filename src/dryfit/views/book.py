"""The build book: what the maker carries to the workshop, as chapters of blocks, each to be set on A4 pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from dryfit.assess.records_pictures import Pictures
from dryfit.assess.report import Report
from dryfit.ground.quantity import Origin
from dryfit.machine.machine import Machine
from dryfit.machine.surfaces import Held
from dryfit.making.records_bench import Stage, TestPoint
from dryfit.making.records_gears import GearPair
from dryfit.views import (
    book_pages_back,
    book_pages_day,
    book_pages_front,
    book_pages_machine,
    book_pages_shims,
    book_pages_stages,
)
from dryfit.views.book_blocks import Book, Chapter, Figure, Occasion
from dryfit.views.drawing import Drawing
from dryfit.views.page import Page
from dryfit.views.verdict import verdict

NOT_A_PERMIT = "This book informs; it does not permit. Local codes and licensed practice decide."
"""Stands at the foot of every page."""
_CAPTION = 120
"""Notes of drawings up to this length stand beneath them, letters."""


@dataclass(frozen=True)
class Handed:
    """What other parts of the making hand to the book. held: what the arms carry, for the pictures.  meshes: drawings
    of gear pairs.  pairs: for the gaps that the drawn teeth leave."""

    held: tuple[Held, ...] = ()
    meshes: tuple[Drawing, ...] = ()
    pairs: tuple[GearPair, ...] = field(default=())


def book(
    report: Report,
    machine: Machine,
    pictures: Pictures,
    stages: Sequence[Stage],
    points: Sequence[TestPoint],
    more: Sequence[Chapter],
    assumed: Sequence[Origin],
    today: date,
    *,
    occasion: Occasion,
    handed: Handed | None = None,
) -> Book:
    """The whole book about one machine.

    more: chapters of the print plan, the lists and the way to the date, which stand between the stages and the day of
    the show.  assumed: defaults taken beyond those of the report.  today: the date of the book.  occasion: file, event,
    deadline and delivery.
    """
    handed = handed or Handed()
    answer = verdict(report, occasion.file)
    chapters = [
        book_pages_front.first_look(answer),
        book_pages_machine.in_figures(machine, pictures, handed.held, handed.meshes),
        *book_pages_stages.chapters(stages, points),
        *book_pages_shims.chapters(machine, pictures, handed.pairs),
        *more,
        book_pages_day.show_day(machine, pictures),
        book_pages_day.transport(machine, pictures),
        book_pages_back.defaults(report.assumed, assumed),
        book_pages_back.sources(report),
    ]
    return Book(
        name=machine.name,
        title=book_pages_front.title_page(machine, report, answer, occasion, handed.held, today),
        chapters=tuple(chapters),
        foot=NOT_A_PERMIT,
        today=today,
        preface=book_pages_front.preface(),
    )


def chapter_of(page: Page, drawings: Sequence[Drawing] = ()) -> Chapter:
    """A page of words and tables, with drawings after them, as a chapter."""
    # a long note tells those who cannot see the drawing what is on it; below it, it would only say it twice
    figures = tuple(Figure(d, d.note if len(d.note) <= _CAPTION else "") for d in drawings)
    return Chapter(page.title, (*page.blocks, *figures), page.aside)
