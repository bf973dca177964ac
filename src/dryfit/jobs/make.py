"""The use-case of the workshop: everything needed to make a machine, written into one folder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.findings import State, state
from dryfit.ground.quantity import Array
from dryfit.jobs.build_book import build_book
from dryfit.jobs.check import design_file
from dryfit.jobs.folder import check_folder, filled
from dryfit.jobs.making import Loss, Making, Progress, board_name, first_plates, making
from dryfit.jobs.readings import points
from dryfit.making.plate_solids import standing
from dryfit.making.records_bench import TestPoint
from dryfit.making.records_gears import GearMember, GearPair
from dryfit.making.records_solids import Solid
from dryfit.making.records_summary import Summary
from dryfit.outputs import book as book_files
from dryfit.outputs import drawings, outlines, solids, workbook
from dryfit.views.connector_drawing import connector_drawings
from dryfit.views.cut_list import cut_drawings
from dryfit.views.drawing import Drawing
from dryfit.views.gear_drawing import board_drawing, member_drawing, outline_drawing, pair_drawing
from dryfit.views.make import contents_text
from dryfit.views.pin_drawing import pin_drawings
from dryfit.views.print_plan_drawings import beds_drawings, path_drawings, printers_drawings
from dryfit.views.sheets import sheets
from dryfit.views.wire_labels import label_drawings

BOOK, CONTENTS, WORKBOOK = "build-book.pdf", "contents.txt", "lists.xlsx"


@dataclass(frozen=True)
class Made:
    """A folder that was filled from a design file, and what is in it."""

    design: Path
    folder: Path
    making: Making
    summary: Summary


def make(
    path: Path,
    out: Path,
    *,
    today: date,
    start: date | None = None,
    loss: Loss | None = None,
    on_progress: Progress = lambda part, words: None,
) -> Made:
    """Make everything for the machine of a design file and put it into the folder `out`, all of it or nothing.

    Files of an earlier run are replaced; those that were changed since are kept beside the new ones. today: on the
    book, and the first day of work where the file names none.  start, loss, on_progress: see `making`. Raises
    DesignError with every fault of the file, and where the folder holds what was not made here.
    """
    check_folder(out)
    worked = making(
        path, today=today, start=start, loss=loss, on_progress=lambda part, words: on_progress(0.8 * part, words)
    )
    on_progress(0.8, "test points")
    tests = points(worked.checked, first_plates(worked.prints))
    drawn = _drawings(worked)
    on_progress(0.85, "files")
    with filled(out) as folder:
        left_out = tuple(_gear_files(folder / "gears", worked.prints.pairs))
        _print_files(folder / "prints", worked)
        for name, drawing in drawn:
            _write(folder / "drawings" / f"{name}.svg", drawing)
        _lists(folder, worked, tests)
        on_progress(0.9, "build book")
        book = build_book(worked, tests, dict(drawn), today)
        book_files.write_book(book, folder / BOOK, drawings.svg)
        files = tuple(sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file()))
        summary = _summary(worked, files, left_out)
        (folder / CONTENTS).write_text(contents_text(summary, today), encoding="utf-8")
    return Made(design_file(path), out, worked, summary)


def _summary(worked: Making, files: Sequence[str], left_out: Sequence[str]) -> Summary:
    short = tuple(f.check for f in worked.checked.report.findings if state(f) in (State.SHORT, State.UNKNOWN))
    said = {
        "gears": [note for pair in worked.prints.pairs for m in (pair.pinion, pair.gear) for note in m.notes],
        "prints": [*worked.prints.notes, *worked.prints.plan.notes],
        "cuts": worked.cuts.notes,
        "wires": worked.wiring.notes,
        "purchases": worked.purchases.notes,
        "date": worked.way.notes,
    }
    notes = dict.fromkeys((about, note) for about, listed in said.items() for note in listed)
    return Summary(
        name=worked.checked.machine.name,
        short=short,
        pairs=worked.prints.pairs,
        plan=worked.prints.plan,
        others=worked.others,
        slips=worked.slips,
        cuts=worked.cuts,
        wiring=worked.wiring,
        purchases=worked.purchases,
        way=worked.way,
        notes=tuple(notes),
        files=(CONTENTS, *files),
        left_out=tuple(dict.fromkeys(left_out)),
    )


def _drawings(worked: Making) -> tuple[tuple[str, Drawing], ...]:
    """Every drawing by the name of its file."""
    plan, calendar = worked.prints.plan, worked.fabrication.calendar
    sets: dict[str, Sequence[Drawing]] = {
        "plates": beds_drawings(plan),
        "printers": printers_drawings(plan, calendar),
        "bars": cut_drawings(worked.cuts),
        "connectors": connector_drawings(worked.wiring.connectors),
        "controller-pins": pin_drawings(worked.wiring),
        "wire-labels": label_drawings(worked.wiring.wires),
        "way-to-the-date": path_drawings(worked.way),
        "mesh": [pair_drawing(pair) for pair in worked.prints.pairs],
        "mesh-board": [board_drawing(pair) for pair in worked.prints.pairs],
    }
    for pair in worked.prints.pairs:
        for member in (pair.pinion, pair.gear):
            sets[_file_name(member.name)] = [member_drawing(member)]
    return tuple(named for stem, drawn in sets.items() for named in _numbered(stem, drawn))


def _numbered(stem: str, drawn: Sequence[Drawing]) -> Iterator[tuple[str, Drawing]]:
    for n, drawing in enumerate(drawn, start=1):
        yield (stem if len(drawn) == 1 else f"{stem}-{n}"), drawing


def _write(file: Path, drawing: Drawing) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    drawings.write_svg(drawing, file)


def _gear_files(folder: Path, pairs: Sequence[GearPair]) -> Iterator[str]:
    """Outlines, solids, slices and boards of every pair; yields what could not be written and why."""
    for pair in pairs:
        folder.mkdir(parents=True, exist_ok=True)
        for member in (pair.pinion, pair.gear):
            yield from _member_files(folder, member)
        name = board_name(pair, pairs)
        board = folder / _file_name(name)
        _solid(board, name, pair.board)
        curves = {"board": [pair.board_outline.outer, *pair.board_outline.holes]}
        outlines.write_dxf(curves, board.with_suffix(".dxf"))


def _member_files(folder: Path, member: GearMember) -> Iterator[str]:
    stem = folder / _file_name(member.name)
    curves = {"true": member.outline, "as made": member.made}
    outlines.write_dxf({n: [o.outer, *o.holes] for n, o in curves.items()}, stem.with_suffix(".dxf"))
    drawings.write_svg(outline_drawing(member.name, member.made), stem.with_suffix(".svg"))
    _solid(stem, member.name, member.solid)
    _solid(folder / f"{stem.name}-slice", f"slice of the {member.name}", member.slice)
    try:
        solids.write_step(member.made.outer, member.made.holes, member.face_width, stem.with_suffix(".step"))
    except solids.NoCadError as missing:
        yield str(missing)


def _print_files(folder: Path, worked: Making) -> None:
    """Every body as it lies on the bed, and every plate with all that is on it."""
    plan = worked.prints.plan
    folder.mkdir(parents=True, exist_ok=True)
    for stem, one in zip(_file_names([one.body.name for one in plan.printed]), plan.printed, strict=True):
        lying = standing(one)
        solids.write_stl(lying.points, lying.faces, folder / f"{stem}.stl", one.body.name)
    for plate in plan.plates:
        placed = [(plan.printed[p.printed], p) for p in plate.placed]
        named = [solids.Named(one.body.name, *_parts(standing(one, p))) for one, p in placed]
        solids.write_3mf(named, folder / f"plate-{plate.number:02d}.3mf")


def _parts(solid: Solid) -> tuple[Array, NDArray[np.int64]]:
    return solid.points, solid.faces


def _solid(stem: Path, name: str, solid: Solid) -> None:
    solids.write_stl(solid.points, solid.faces, stem.with_suffix(".stl"), name)
    solids.write_3mf([solids.Named(name, solid.points, solid.faces)], stem.with_suffix(".3mf"))


def _lists(folder: Path, worked: Making, tests: Sequence[TestPoint]) -> None:
    listed = sheets(
        cuts=worked.cuts, purchases=worked.purchases, wiring=worked.wiring, plan=worked.prints.plan, way=worked.way,
        points=tests,
    )  # fmt: skip
    workbook.write_workbook(listed, folder / WORKBOOK)
    (folder / "lists").mkdir()
    for sheet in listed:
        workbook.write_csv(sheet, folder / "lists" / f"{_file_name(sheet.name)}.csv")


def _file_names(names: Sequence[str]) -> list[str]:
    """File names for things, numbered where two come out alike."""
    found: list[str] = []
    for stem in map(_file_name, names):
        n, free = 2, stem
        while free in found:
            n, free = n + 1, f"{stem}-{n}"
        found.append(free)
    return found


def _file_name(name: str) -> str:
    """A name as a file can have it everywhere: letters, digits and hyphens."""
    plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in name.lower())
    return "-".join(word for word in plain.split("-") if word) or "part"
