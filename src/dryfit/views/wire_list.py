"""Wires, rolls, fittings, connectors and pins as rows of tables, and the page that has them all."""

from __future__ import annotations

import math

from dryfit.ground.units import show
from dryfit.making.records_lists import ConnectorMap, PinLine, WireLine, WiringLists
from dryfit.views.page import Block, Column, Heading, Page, Paragraph, Table

NUMBERS = (
    "Numbers: p lead of a pack, m main line, b branch, s bundle of signal wires; then the place in the design file; "
    "a, b, c the conductor, with 1, 2 where a connector parts it on its way."
)
CAUTION = (
    "Low voltage is no protection against burns and fire: packs deliver hundreds of amperes into a short. Work with "
    "the packs apart, fuse close to them, and leave the mains side of the charger to whoever is licensed for it where "
    "you are; local codes decide."
)
FREE = "free"
"""The function of a pin that has none."""
SEEN_FROM = "Connectors are numbered as seen from the side where the wires go in."


def wiring_page(lists: WiringLists, aside: str = "", *, drawn: bool = False) -> Page:
    """Everything about the wiring, what to know before cutting first. drawn: connectors and pins stand beside it as
    drawings, which say the same."""
    blocks: list[Block] = [Paragraph(CAUTION, mark="!")]
    blocks += [Paragraph(note, mark="→") for note in lists.notes]
    blocks += [Heading("Wires"), wire_table(lists.wires), Paragraph(NUMBERS, faint=True)]
    blocks += [Heading("Wire to buy, with a tenth more than is cut"), roll_table(lists)]
    blocks += [Heading("What goes on the ends"), end_table(lists.wires), fitting_table(lists)]
    if drawn:
        return Page("Wiring", aside, tuple(blocks))
    if lists.connectors:
        blocks += [Heading("Connectors"), Paragraph(SEEN_FROM, faint=True)]
        for c in lists.connectors:
            blocks += [Paragraph(connector_words(c), strong=True), contact_table(c), *fault_blocks(c)]
    blocks += [Heading(f"Pins of the controller: {lists.board}"), pin_table(lists.pins)]
    free = ", ".join(p.pin for p in lists.pins if p.function == FREE)
    if free:
        blocks.append(Paragraph(f"Free: {free}.", faint=True))
    return Page("Wiring", aside, tuple(blocks))


def wire_table(wires: tuple[WireLine, ...]) -> Table:
    """One row a wire: what to cut and where it goes, narrow enough for a page; the ends stand in `end_table`."""
    columns = (
        Column("wire"), Column("carries", fold=True), Column("from → to", fold=True), Column("wire of"),
        Column("colour"), Column("cut mm", right=True), Column("fuse", right=True), Column("lasts", right=True),
    )  # fmt: skip
    return Table(columns, tuple((w[0], w[1], f"{w[2]} → {w[3]}", *w[4:9]) for w in map(wire_cells, wires)))


def end_table(wires: tuple[WireLine, ...]) -> Table:
    """What goes on the ends: wires that get the same share a row."""
    alike: dict[tuple[str, str], list[str]] = {}
    for w in wires:
        alike.setdefault((w.begin_fitting, w.end_fitting), []).append(w.number)
    columns = (
        Column("wires", fold=True),
        Column("on the end named first", fold=True),
        Column("on the other", fold=True),
    )
    return Table(columns, tuple((" ".join(numbers), *ends) for ends, numbers in alike.items()))


def wire_sheet(wires: tuple[WireLine, ...]) -> Table:
    """One row a wire with everything about it, for a spreadsheet."""
    heads = ("carries", "bundle", "from", "to", "wire of", "colour", "cut mm", "fuse", "lasts", "on the first end",
             "on the other", "how the length came about", "first label", "other label")  # fmt: skip
    rows = []
    for w in wires:
        cells = wire_cells(w)
        labels = [text.replace("\n", ", ") for text in w.labels]
        rows.append((*cells[:2], w.bundle, *cells[2:], w.way, *labels))
    return Table((Column("wire"), *(Column(h, right=h == "cut mm") for h in heads)), tuple(rows))


def wire_cells(w: WireLine) -> tuple[str, ...]:
    """A wire in words: number, carries, from, to, size, colour, mm to cut, fuse, lasting current, both ends."""
    return (
        w.number, w.name, w.begins, w.ends, w.gauge, w.colour, millimetres(w.length),
        amperes(w.fuse), amperes(w.current), w.begin_fitting, w.end_fitting,
    )  # fmt: skip


def roll_table(lists: WiringLists) -> Table:
    """Metres to buy of each wire."""
    rows = tuple((name, f"{metres:g} m") for name, metres in lists.rolls)
    return Table((Column("wire"), Column("buy", right=True)), rows)


def fitting_table(lists: WiringLists) -> Table:
    """Fittings and how many of each."""
    rows = tuple((name, str(count)) for name, count in lists.fittings)
    return Table((Column("fitting", fold=True), Column("count", right=True)), rows)


def contact_table(c: ConnectorMap) -> Table:
    """The contacts of a connector."""
    columns = (Column("contact", right=True), Column("carries", fold=True), Column("volts", right=True), Column("wire"))
    rows = tuple((str(k.number), k.carries, volts(k.volts), k.wire) for k in c.contacts)
    return Table(columns, rows)


def fault_blocks(c: ConnectorMap) -> tuple[Paragraph, ...]:
    """What happens when contacts touch or the shell goes in wrongly, and what to do about it."""
    faults = [
        Paragraph(f"{'DIES: ' if deadly else ''}{text}", strong=deadly, mark="!" if deadly else "·")
        for text, deadly in c.faults
    ]
    return (*faults, *(Paragraph(text, mark="→") for text in c.remedies))


def pin_table(pins: tuple[PinLine, ...]) -> Table:
    """The controller's pins that do something, in the board's order."""
    columns = (
        Column("pin"), Column("function", fold=True), Column("needs"), Column("wire"),
        Column("while it starts", fold=True), Column("beware", fold=True),
    )  # fmt: skip
    return Table(
        columns, tuple((p.pin, p.function, p.needs, p.wire, p.at_start, p.caution) for p in pins if p.function != FREE)
    )


def connector_words(c: ConnectorMap) -> str:
    """A connector in one line."""
    at = f" at {c.at}" if c.at else ""
    rows = f", {c.rows} rows" if c.rows > 1 else ""
    key = "keyed" if c.keyed else "NOT keyed"
    return f"{c.name}{at}: {c.title}, {len(c.contacts)} contacts{rows}, {key}"


def millimetres(length: float) -> str:
    """A length to cut, in whole millimetres."""
    return f"{length * 1e3:.0f}"


def amperes(current: float) -> str:
    """A current; nothing where there is none or nobody knows."""
    return show(current, "A") if math.isfinite(current) else ""


def volts(value: float) -> str:
    """A voltage; nothing where a contact is spare."""
    return show(value, "V") if math.isfinite(value) else ""
