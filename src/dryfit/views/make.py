"""What was made, as a page: what comes off the printers when, what to order first, what lies in the folder."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from dryfit.ground.units import show
from dryfit.making.records_lists import Buy
from dryfit.making.records_summary import Summary
from dryfit.views.page import Block, Column, Command, Heading, Page, Paragraph, Table
from dryfit.views.print_plan import day, moment, slips_table
from dryfit.views.purchase_list import amount

WHAT = (
    ("build-book.pdf", "print it and take it along: verdict, figures, every stage with its tests, lists, sources"),
    ("lists.xlsx", "all lists in one workbook; the same as single files under lists/"),
    ("gears", "teeth as outlines (DXF, SVG 1:1) and solids (STL, 3MF), slices and board to try the mesh"),
    ("prints", "every body as it lies on the bed (STL), every plate with all that is on it (3MF)"),
    ("drawings", "gears, plates, calendar, bars, connectors, pins, labels, the way to the date (SVG)"),
    ("lists", "cuts, purchases, wires, pins, plates, tasks, test points (CSV)"),
    ("made.json", "marks of the files, by which the next run sees what you changed"),
)
"""What a folder holds, and what it is for."""

ABOUT = ("date", "purchases", "wires", "prints", "cuts")
"""What notes are about, in the order in which they are shown; those on gears that turn stand on their drawings."""

_NOTES = 2


def made_page(s: Summary, design: str, folder: str) -> Page:
    """The page that ends a making. design, folder: as the user would type them."""
    blocks: list[Block] = [Paragraph(_verdict(s), strong=True)]
    if s.short:
        many = len(s.short)
        words = f"{many} check{'s are' if many > 1 else ' is'} short: mend the design before anything is made."
        blocks += [Paragraph(words, mark="!"), Command(f"dryfit fix {design}", "what would put it right")]
    if s.slips:
        blocks += [Heading("What slips"), slips_table(s.slips)]
    blocks += [Heading("In figures"), Table((Column(), Column(fold=True)), tuple(_figures(s)))]
    first = first_orders(s.purchases.lines)
    if first:
        blocks += [Heading("Order first"), _orders(first)]
    if s.notes:
        blocks.append(Heading("To attend to"))
        told = ABOUT if not s.gears_overlap else ("gears", *ABOUT)
        first_notes = [(about, note) for about in told for note in [n for a, n in s.notes if a == about][:_NOTES]]
        blocks += [Paragraph(f"{about}: {note}", mark="·") for about, note in first_notes]
        if len(s.notes) > len(first_notes):
            more = len(s.notes) - len(first_notes)
            blocks.append(Paragraph(f"and {more} more in {folder}/contents.txt", faint=True))
    blocks += [Paragraph(words, mark="!") for words in s.left_out]
    there = {name.partition("/")[0] for name in s.files}
    rows = tuple((name, what) for name, what in WHAT if name in there)
    blocks += [Heading(f"In {folder}"), Table((Column(), Column(fold=True)), rows)]
    blocks.append(Command(f"dryfit readings {design}", "what to measure at every stage, and what it should read"))
    return Page(s.name, design, tuple(blocks))


def contents_text(s: Summary, today: date) -> str:
    """The text that lies in the folder: what is what, and everything to attend to."""
    lines = [f"{s.name}, made {today}", "", *(f"{name:16} {what}" for name, what in WHAT), ""]
    lines += [f"{name}: {value}" for name, value in _figures(s)]
    if s.notes or s.left_out:
        lines += ["", "To attend to"]
        lines += [f"- {about}: {note}" for about, note in s.notes] + [f"- {words}" for words in s.left_out]
    lines += ["", "This informs; it does not permit. Local codes and licensed practice decide.", ""]
    return "\n".join(lines)


def _verdict(s: Summary) -> str:
    if s.gears_overlap:
        return "Everything is drawn, but the gear teeth overlap: do not print them."
    if s.plan.left:
        return "Everything is drawn, but some plates fit no printer that works."
    if s.way.late:
        return f"Everything is drawn, but the machine is done {_days(s.way.late)} after its delivery."
    if s.purchases.total > s.purchases.budget:
        return "Everything is drawn, but it costs more than the budget."
    if s.way.delivery is not None:
        return f"Everything is drawn, and done in time for {_date(s.way.delivery)}."
    return "Everything is drawn. Write brief.delivery, and the plan says whether it is done in time."


def _figures(s: Summary) -> list[tuple[str, str]]:
    rows = []
    for pair in s.pairs:
        true = next((gap for gap in pair.gaps if gap.shim == 0.0), None)
        if true is not None:
            gap = "the teeth OVERLAP" if true.overlaps else f"smallest gap {show(true.gap, 'm')}"
            at = show(true.centre_distance, "m", 4)
            rows.append((pair.name, f"{gap} at {at}, thinned for {show(pair.backlash, 'm')}"))
    plan = s.plan
    if plan.plates:
        kilograms = sum(plate.mass for plate in plan.plates)
        busy = sum(seconds for _, seconds in plan.busy) / 3600
        copies = sum(len(plate.placed) for plate in plan.plates)
        rows.append(("prints", f"{copies} on {len(plan.plates)} plates, {busy:.0f} hours, {kilograms:.1f} kg"))
        bound = "no plan is sooner" if plan.exact else f"no plan is before {moment(plan.bound)}"
        rows.append(("printers", f"last plate off {moment(plan.finish)}; {bound}"))
    if s.cuts.bars:
        pieces = sum(len(bar.cuts) for bar in s.cuts.bars)
        new = sum(not bar.off_cut for bar in s.cuts.bars)
        fewest = sum(least for _, least, _ in s.cuts.bound)
        rows.append(("saw", f"{pieces} pieces from {new} new bars and sheets (fewest possible: {fewest})"))
    metres = sum(w.length for w in s.wiring.wires)
    rows.append(("wires", f"{len(s.wiring.wires)}, {metres:.0f} m in all"))
    deadly = sum(dies for c in s.wiring.connectors for _, dies in c.faults)
    if s.wiring.connectors:
        rows.append(("connectors", f"{len(s.wiring.connectors)}, with {deadly} ways to destroy something"))
    p = s.purchases
    quoted = f"{100 * p.quoted:.0f} % of it quoted" if p.total else "nothing to buy"
    rows.append(("purchases", f"{p.total:.0f} EUR of {p.budget:.0f} EUR, {quoted}"))
    way = s.way
    if way.tasks:
        slack = ""
        if way.delivery is not None:
            slack = f"; delivery {_date(way.delivery)}, " + (
                f"{_days(way.late)} late" if way.late else f"{_days(way.spare)} to spare"
            )
        rows.append(("work", f"{day(way.begins)} to {day(way.ends)}{slack}"))
    return rows


def first_orders(lines: Sequence[Buy], count: int = 4) -> list[Buy]:
    """What has to be ordered first, of what is still to be bought and has a latest day."""
    dated = [line for line in lines if line.count > 0 and line.order_by is not None]
    return sorted(dated, key=lambda line: (line.order_by or date.max, -line.lead_time))[:count]


def _orders(first: Sequence[Buy]) -> Table:
    columns = (Column("by"), Column("how many", right=True), Column("what", fold=True), Column("takes", right=True))
    rows = tuple(
        (
            day(line.order_by) if line.order_by else "",
            amount(line),
            line.name,
            f"{line.lead_time / 86400:.0f} days" if np.isfinite(line.lead_time) else "",
        )
        for line in first
    )
    return Table(columns, rows)


def _date(at: date) -> str:
    return f"{day(at)} {at.year}"


def _days(count: int) -> str:
    return f"{count} working day{'' if count == 1 else 's'}"
