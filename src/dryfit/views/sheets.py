"""The lists of the workshop as sheets: columns with their kinds, rows of plain values, sums where they mean something.

What a sheet holds is data: lengths in millimetres, times in hours or days, money in euros, each as a number, so that a
spreadsheet can sort and add. Nothing in it is a formula but the sums.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from dryfit.making.records_bench import TestPoint
from dryfit.making.records_lists import CutList, Fastening, Purchases, WiringLists
from dryfit.making.records_plan import Path, PrintPlan

TEXT, NUMBER, MONEY, COUNT, DATE = "text", "number", "money", "count", "date"

Cell = str | float | int | date | None
"""None: nothing is known, or it does not apply."""

SHOWN_IN = {
    "m": ("mm", 1e3), "s": ("s", 1.0), "A": ("A", 1.0), "V": ("V", 1.0), "N": ("N", 1.0), "kg": ("kg", 1.0),
    "m/s": ("m/s", 1.0), "rad/s": ("rpm", 30 / math.pi), "rad": ("deg", 180 / math.pi), "ohm": ("Ω", 1.0),
    "%": ("%", 100.0), "1": ("", 1.0), "N*m": ("N·m", 1.0),
}  # fmt: skip
"""Unit in which a test point's numbers stand, and its factor; others stay in SI."""


_HOURS_FROM = 600.0
"""Times from here on stand in hours, s."""


@dataclass(frozen=True)
class SheetColumn:
    """A column. width: in letters.  kind: "text", "number", "money", "count" or "date".  digits: behind the point."""

    name: str
    width: float = 12
    kind: str = TEXT
    digits: int = 1


@dataclass(frozen=True)
class Sheet:
    """A table for a spreadsheet. totals: places of the columns that are summed.  notes: what to know, beneath it."""

    name: str
    columns: tuple[SheetColumn, ...]
    rows: tuple[tuple[Cell, ...], ...]
    totals: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()


def sheets(
    *,
    cuts: CutList | None = None,
    purchases: Purchases | None = None,
    wiring: WiringLists | None = None,
    plan: PrintPlan | None = None,
    way: Path | None = None,
    points: Sequence[TestPoint] = (),
) -> tuple[Sheet, ...]:
    """All lists that there are, in the order in which they are used."""
    made: list[Sheet] = []
    if purchases is not None:
        made.append(purchase_sheet(purchases))
        if purchases.fastenings:
            made.append(screw_sheet(purchases.fastenings))
    if cuts is not None:
        made.append(cut_sheet(cuts))
    if plan is not None:
        made.append(plate_sheet(plan))
    if wiring is not None:
        made += [wire_sheet(wiring), contact_sheet(wiring), pin_sheet(wiring)]
    if way is not None:
        made.append(way_sheet(way))
    if points:
        made.append(point_sheet(points))
    return tuple(sheet for sheet in made if sheet.rows)


def purchase_sheet(p: Purchases) -> Sheet:
    """One row a purchase, in the order in which they are ordered."""
    columns = (
        SheetColumn("what", 46), SheetColumn("item", 28), SheetColumn("needed", 9, COUNT),
        SheetColumn("spares", 9, COUNT), SheetColumn("on the shelf", 11, COUNT), SheetColumn("to buy", 9, COUNT),
        SheetColumn("of", 6), SheetColumn("in a pack", 10, COUNT), SheetColumn("packs", 8, COUNT),
        SheetColumn("EUR a pack", 11, MONEY), SheetColumn("EUR", 11, MONEY), SheetColumn("price known as", 15),
        SheetColumn("days to come", 12, COUNT), SheetColumn("for stage", 14), SheetColumn("needed on", 12, DATE),
        SheetColumn("order by", 12, DATE), SheetColumn("from", 18), SheetColumn("for", 40),
        SheetColumn("line", 7, COUNT),
    )  # fmt: skip
    rows = tuple(
        (
            b.name, b.item, b.needed, b.spares, b.in_stock, b.count, b.unit or "pieces", b.pack_of, b.packs,
            _known(b.price), _known(b.cost), b.known, math.ceil(b.lead_time / 86400 - 1e-9), b.needed_for, b.needed_on,
            b.order_by, b.supplier, b.why, b.line or None,
        )
        for b in p.lines
    )  # fmt: skip
    return Sheet("purchases", columns, rows, (10,), p.notes)


def screw_sheet(fastenings: Sequence[Fastening]) -> Sheet:
    """Where screws, nuts and washers go."""
    columns = (
        SheetColumn("where", 28), SheetColumn("what", 24), SheetColumn("at each", 9, COUNT),
        SheetColumn("places", 9, COUNT), SheetColumn("in all", 9, COUNT), SheetColumn("clamps mm", 11, NUMBER),
        SheetColumn("length mm", 11, NUMBER), SheetColumn("why", 70), SheetColumn("stage", 14),
        SheetColumn("line", 7, COUNT),
    )  # fmt: skip
    rows = tuple(
        (f.where, f.name, f.each, f.places, f.count, _mm(f.stack), _mm(f.length), f.why, f.stage, f.line or None)
        for f in fastenings
    )
    return Sheet("screws", columns, rows)


def cut_sheet(c: CutList) -> Sheet:
    """One row a piece, bar by bar, in the order of cutting."""
    columns = (
        SheetColumn("stock", 24), SheetColumn("bar or sheet", 22), SheetColumn("length of it mm", 15, NUMBER),
        SheetColumn("piece", 20), SheetColumn("begins at mm", 13, NUMBER), SheetColumn("and at mm", 11, NUMBER),
        SheetColumn("length mm", 11, NUMBER), SheetColumn("width mm", 11, NUMBER), SheetColumn("ends", 9),
        SheetColumn("left over mm", 13, NUMBER), SheetColumn("keep it", 9),
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for b in c.bars:
        for n, cut in enumerate(b.cuts):
            last, flat = n == len(b.cuts) - 1, b.size[1] > 0
            rows.append((
                b.stock, b.name, _mm(b.size[0]), cut.name, _mm(cut.at[0]), _mm(cut.at[1]) if flat else None,
                _mm(cut.size[0]), _mm(cut.size[1]) if flat else None, cut.ends + (", turned" if cut.turned else ""),
                _mm(b.left) if last and not flat else None, ("yes" if b.kept else "no") if last else "",
            ))  # fmt: skip
    return Sheet("cuts", columns, tuple(rows), (), c.notes)


def plate_sheet(p: PrintPlan) -> Sheet:
    """One row a plate, with the printer and the hours that it was planned for."""
    columns = (
        SheetColumn("plate", 8, COUNT), SheetColumn("printer", 14), SheetColumn("begins", 18), SheetColumn("off", 18),
        SheetColumn("hours", 9, NUMBER), SheetColumn("hours allowed for failures", 24, NUMBER),
        SheetColumn("material", 11), SheetColumn("nozzle mm", 11, NUMBER), SheetColumn("g", 9, NUMBER, 0),
        SheetColumn("what is on it", 70),
    )  # fmt: skip
    jobs = {job.plate: job for job in p.jobs if not job.failed}
    rows: list[tuple[Cell, ...]] = []
    for plate in p.plates:
        job = jobs.get(plate.number)
        count: dict[str, int] = {}
        for placed in plate.placed:
            name = p.printed[placed.printed].body.name
            count[name] = count.get(name, 0) + 1
        on = ", ".join(name if n == 1 else f"{n} × {name}" for name, n in count.items())
        hours = dict(plate.on).get(job.printer) if job else None
        rows.append((
            plate.number, job.printer if job else "", f"{job.begins:%Y-%m-%d %H:%M}" if job else "",
            f"{job.off:%Y-%m-%d %H:%M}" if job else "", None if hours is None else hours / 3600,
            job.allowance / 3600 if job else None, plate.material, _mm(plate.nozzle), plate.mass * 1e3, on,
        ))  # fmt: skip
    return Sheet("plates", columns, tuple(rows), (4, 5, 8), p.notes)


def wire_sheet(w: WiringLists) -> Sheet:
    """One row a wire."""
    columns = (
        SheetColumn("wire", 9), SheetColumn("carries", 26), SheetColumn("bundle", 20), SheetColumn("from", 18),
        SheetColumn("to", 18), SheetColumn("mm²", 8, NUMBER, 2), SheetColumn("size", 18), SheetColumn("colour", 11),
        SheetColumn("cut mm", 10, NUMBER, 0), SheetColumn("way", 44), SheetColumn("lasting A", 10, NUMBER),
        SheetColumn("fuse A", 9, NUMBER), SheetColumn("on the first end", 30), SheetColumn("on the other", 30),
        SheetColumn("label, first end", 34), SheetColumn("label, other end", 34), SheetColumn("line", 7, COUNT),
    )  # fmt: skip
    rows = tuple(
        (
            x.number, x.name, x.bundle, x.begins, x.ends, x.area * 1e6, x.gauge, x.colour, x.length * 1e3, x.way,
            _known(x.current), _known(x.fuse), x.begin_fitting, x.end_fitting, x.labels[0].replace("\n", " / "),
            x.labels[1].replace("\n", " / "), x.line or None,
        )
        for x in w.wires
    )  # fmt: skip
    return Sheet("wires", columns, rows, (8,), w.notes)


def contact_sheet(w: WiringLists) -> Sheet:
    """One row a contact of every connector, seen from the side where the wires go in."""
    columns = (
        SheetColumn("connector", 18), SheetColumn("at", 18), SheetColumn("kind", 16), SheetColumn("contact", 9, COUNT),
        SheetColumn("carries", 26), SheetColumn("volts", 9, NUMBER), SheetColumn("wire", 10),
        SheetColumn("line", 7, COUNT),
    )  # fmt: skip
    rows = tuple(
        (c.name, c.at, c.item, x.number, x.carries, _known(x.volts), x.wire, c.line or None)
        for c in w.connectors for x in c.contacts
    )  # fmt: skip
    notes = tuple(
        f"{c.name}: {text}{' (something dies)' if dies else ''}" for c in w.connectors for text, dies in c.faults
    )
    return Sheet("connectors", columns, rows, (), notes)


def pin_sheet(w: WiringLists) -> Sheet:
    """One row a pin of the controller."""
    columns = (
        SheetColumn("pin", 8), SheetColumn("function", 26), SheetColumn("needs", 16), SheetColumn("wire", 10),
        SheetColumn("while it starts", 30), SheetColumn("beware", 60), SheetColumn("line", 7, COUNT),
    )  # fmt: skip
    rows = tuple((x.pin, x.function, x.needs, x.wire, x.at_start, x.caution, x.line or None) for x in w.pins)
    return Sheet("pins", columns, rows, (), (w.board,))


def way_sheet(p: Path) -> Sheet:
    """One row a task on the way to the date."""
    columns = (
        SheetColumn("task", 44), SheetColumn("stage", 14), SheetColumn("working days", 12, NUMBER),
        SheetColumn("begins", 12, DATE), SheetColumn("ends", 12, DATE), SheetColumn("at the latest", 12, DATE),
        SheetColumn("days to spare", 12, COUNT), SheetColumn("none to spare", 12), SheetColumn("after", 60),
    )  # fmt: skip
    rows = tuple(
        (t.name, t.stage, t.work, t.begins, t.ends, t.latest, t.slack, "yes" if t.critical else "", ", ".join(t.after))
        for t in p.tasks
    )
    return Sheet("way to the date", columns, rows, (), p.notes)


def point_sheet(points: Sequence[TestPoint]) -> Sheet:
    """One row a test point, with room for what was read."""
    columns = (
        SheetColumn("point", 28), SheetColumn("stage", 14), SheetColumn("what", 50),
        SheetColumn("predicted", 11, NUMBER, 3), SheetColumn("from", 11, NUMBER, 3), SheetColumn("to", 11, NUMBER, 3),
        SheetColumn("unit", 7),
        SheetColumn("instrument", 24), SheetColumn("stop", 50), SheetColumn("read", 11, NUMBER, 3),
        SheetColumn("on", 12, DATE),
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for x in points:
        unit, factor = SHOWN_IN.get(x.unit, (x.unit, 1.0))
        if x.unit == "s" and x.predicted >= _HOURS_FROM:
            unit, factor = "h", 1 / 3600
        # temperatures are read in degrees Celsius
        unit, zero = ("°C", 273.15) if x.unit == "K" else (unit, 0.0)
        low, predicted, high = (_known((value - zero) * factor) for value in (x.low, x.predicted, x.high))
        read = None if x.taken is None else _known((x.taken.value - zero) * factor)
        rows.append((
            x.name, x.stage, x.title, predicted, low, high, unit, x.instrument, x.stop, read,
            None if x.taken is None else x.taken.date,
        ))  # fmt: skip
    return Sheet("test points", columns, tuple(rows))


def _known(x: float) -> float | None:
    return x if math.isfinite(x) else None


def _mm(x: float) -> float | None:
    return round(x * 1e3, 6) if math.isfinite(x) else None
