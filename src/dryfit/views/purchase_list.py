"""The purchase list as a page: what to order by when, what it costs, where the screws go."""

from __future__ import annotations

import math
from collections.abc import Sequence

from dryfit.ground.units import show
from dryfit.making.records_lists import Buy, Fastening, Purchases
from dryfit.views.page import Block, Column, Heading, Page, Paragraph, Table

CAUTION = (
    "Packs and their charger belong together: buy the charger that the packs' maker names, and have whatever connects "
    "to the mains done by licensed hands; local codes decide."
)


def purchase_page(p: Purchases, aside: str = "") -> Page:
    """Everything to buy, what must be ordered first on top, and where the screws go."""
    blocks: list[Block] = [Paragraph(money_words(p), strong=True)]
    blocks += [Paragraph(note, mark="→") for note in p.notes]
    blocks.append(Paragraph(CAUTION, mark="!"))
    to_buy = [b for b in p.lines if b.count > 0]
    dated = any(b.order_by for b in to_buy)
    stages = list(dict.fromkeys(b.needed_for for b in to_buy))
    for stage in stages:
        blocks += [Heading(f"For {stage}" if stage else "For no stage in particular")]
        blocks.append(buy_table([b for b in to_buy if b.needed_for == stage], dated))
    shelf = [b for b in p.lines if b.count == 0]
    if shelf:
        names = ", ".join(b.name for b in shelf)
        blocks.append(Paragraph(f"Enough lies on the shelf of: {names}.", faint=True))
    if p.fastenings:
        blocks += [Heading("Where the screws go"), screw_table(p.fastenings)]
    return Page("Purchase list", aside, tuple(blocks))


def money_words(p: Purchases) -> str:
    """The sum against the budget, and how much of it is known, in a sentence."""
    if not p.lines:
        return "Nothing is bought."
    sum_of = f"{p.total:.0f} EUR in all, {p.quoted * 100:.0f} % of it quoted"
    if not math.isfinite(p.budget):
        return f"{sum_of}."
    rest = p.budget - p.total
    return f"{sum_of}; {abs(rest):.0f} EUR {'under' if rest >= 0 else 'over'} the budget of {p.budget:.0f} EUR."


def buy_table(lines: Sequence[Buy], dated: bool) -> Table:
    """One row a purchase."""
    columns = [
        Column("buy", right=True),
        Column("what", fold=True),
        Column("EUR", right=True),
        Column("price", faint=True),
    ]
    if dated:
        columns.append(Column("order by"))
    columns += [Column("for", fold=True, faint=True)]
    rows = []
    for b in lines:
        cells = [amount(b), b.name, "" if math.isnan(b.cost) else f"{b.cost:.2f}", b.known]
        if dated:
            cells.append("" if b.order_by is None else b.order_by.isoformat())
        rows.append((*cells, reason(b)))
    return Table(tuple(columns), tuple(rows))


def amount(b: Buy) -> str:
    """How many to buy, in packs where they come in packs."""
    unit = f" {b.unit}" if b.unit else ""
    if b.unit == "g":
        return f"{b.packs} × {show(b.pack_of / 1000, 'kg')}"
    return f"{b.count}{unit}" if b.pack_of == 1 else f"{b.packs} × {b.pack_of}{unit}"


def reason(b: Buy) -> str:
    """What it is for, with spares and the shelf."""
    unit = f" {b.unit}" if b.unit else ""
    told = [f"{b.needed}{unit} needed"]
    if b.spares:
        told.append(f"{b.spares} spare")
    if b.in_stock:
        told.append(f"{b.in_stock}{unit} on the shelf")
    return f"{b.why}: {', '.join(told)}" if b.why else ", ".join(told)


def screw_table(fastenings: Sequence[Fastening]) -> Table:
    """One row a kind of screw, nut or washer at one kind of place."""
    columns = (
        Column("where", fold=True),
        Column("what"),
        Column("in all", right=True),
        Column("how the size came about", fold=True, faint=True),
    )
    rows = tuple((f.where, f.name, f"{f.each} × {f.places} = {f.count}", f.why) for f in fastenings)
    return Table(columns, rows)
