"""The build book of everything that was worked out about making a machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from dryfit.assess.pictures import pictures
from dryfit.design.read import read_text
from dryfit.jobs.making import Making
from dryfit.machine.surfaces import held_by_arms
from dryfit.making.records_bench import TestPoint
from dryfit.views import book as views
from dryfit.views.book_blocks import Book, Chapter, Figure, Occasion
from dryfit.views.cut_list import cut_page
from dryfit.views.drawing import Drawing
from dryfit.views.page import Page
from dryfit.views.print_list import print_blocks
from dryfit.views.print_plan import path_page, print_plan_page
from dryfit.views.purchase_list import purchase_page
from dryfit.views.wire_list import wiring_page


def build_book(worked: Making, points: Sequence[TestPoint], drawn: Mapping[str, Drawing], today: date) -> Book:
    """The book. drawn: the drawings of the folder by the names of their files."""
    machine, fabrication = worked.checked.machine, worked.fabrication
    design = read_text(worked.checked.text, str(worked.checked.path))
    held = held_by_arms(design, worked.checked.path.parent)
    meshes = tuple(drawing for name, drawing in drawn.items() if name.rstrip("-0123456789") == "mesh")
    occasion = Occasion(
        worked.checked.path.name, fabrication.event, fabrication.deadline, fabrication.calendar.delivery
    )
    return views.book(
        worked.checked.report, machine, pictures(machine, worked.results), worked.stages, points,
        _lists(worked, drawn), fabrication.assumed, today,
        occasion=occasion, handed=views.Handed(held, meshes, worked.prints.pairs),
    )  # fmt: skip


def _lists(worked: Making, drawn: Mapping[str, Drawing]) -> tuple[Chapter, ...]:
    """Print plan, saw, shop, wires and the way to the date."""

    def of(*stems: str) -> list[Drawing]:
        return [d for name, d in drawn.items() if any(name == s or name.rpartition("-")[0] == s for s in stems)]

    plan = worked.prints.plan
    page = print_plan_page(plan, worked.prints.slips)
    blocks = print_blocks(plan.printed, worked.others, worked.prints.notes)
    prints = Page(page.title, page.aside, (*page.blocks, *blocks))
    pins = tuple(Figure(d) for d in of("controller-pins"))
    return (
        views.chapter_of(prints, [*of("printers"), *of("plates")]),
        views.chapter_of(cut_page(worked.cuts), of("bars")),
        views.chapter_of(purchase_page(worked.purchases)),
        views.chapter_of(wiring_page(worked.wiring, drawn=True), of("connectors")),
        *((Chapter("The controller's pins", pins),) if pins else ()),
        views.chapter_of(path_page(worked.way, slips=worked.slips), of("way-to-the-date")),
    )
