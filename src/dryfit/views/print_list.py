"""What is printed, as rows of a page: each part with its size, hours and grams and the way it lies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dryfit.making.records_print import Alternative, Estimate, Printed
from dryfit.views.page import Block, Column, Heading, Paragraph, Table

_HOURS = (
    Column("part", fold=True), Column("copies", right=True), Column("each", right=True), Column("mass", right=True),
    Column("all", right=True), Column("printers", fold=True),
)  # fmt: skip
_LYING = (
    Column("part", fold=True), Column("material"), Column("nozzle, layer, mm"), Column("size as it lies, mm"),
    Column("up"),
)  # fmt: skip


def print_blocks(
    printed: Sequence[Printed], others: Sequence[Alternative] = (), notes: Sequence[str] = ()
) -> tuple[Block, ...]:
    """A heading, the parts in the order of printing (coupons, then what carries, then the rest), sums, other ways."""
    ordered = sorted(printed, key=lambda p: (not p.body.coupon, not p.body.how.structural))
    hours = sum(soonest(p).time * p.body.count for p in printed) / 3600
    blocks: list[Block] = [
        Heading("What is printed"),
        Table(_HOURS, tuple(hours_row(p) for p in ordered)),
        Paragraph(
            f"{sum(p.body.count for p in printed)} prints, {hours:.0f} hours, each on the quickest printer for it,"
            f" {sum(soonest(p).mass * p.body.count for p in printed):.2f} kg; {materials(printed)}.",
            strong=True,
        ),
        Paragraph(
            "Each as if printed alone. Not in it: heating before a plate, changing plates, failures, supports.",
            faint=True,
        ),
        Heading("How each lies"),
        Table(_LYING, tuple(lying_row(p) for p in ordered)),
        Paragraph("Up: which of the part's own axes points up as it lies; layers are square to it.", faint=True),
    ]
    blocks += [Paragraph(note, mark="!" if "kg typed" in note else "·") for note in notes]
    if len(others) > 1:
        blocks += [Heading("Printed in another way"), alternatives_table(others)]
        blocks += [Paragraph(f"{_way(o)}: {o.note}.", faint=True) for o in others if o.note]
        blocks.append(
            Paragraph(
                "Strength compares walls times the flat part of a line, where layers hold together; it is no load.",
                faint=True,
            )
        )
    return tuple(blocks)


def hours_row(p: Printed) -> tuple[str, ...]:
    """Copies, time and mass of one, time of all, and the printers that take it."""
    each = soonest(p)
    return (
        f"{p.body.name}{' (coupon)' if p.body.coupon else ' (carries)' if p.body.how.structural else ''}",
        f"{p.body.count}",
        hours_minutes(each.time),
        grams(each.mass),
        hours_minutes(each.time * p.body.count),
        ", ".join(p.on),
    )


def lying_row(p: Printed) -> tuple[str, ...]:
    """What it is printed of and with, and how it lies."""
    return (
        p.body.name,
        p.body.material,
        f"{p.body.how.nozzle * 1e3:.4g}, {p.body.how.layer_height * 1e3:.3g}",
        " × ".join(f"{v * 1e3:.0f}" for v in p.size),
        up(p),
    )


def up(p: Printed) -> str:
    """Which of the part's own axes points up as it lies: "z", or "-x" where it points down."""
    axis = int(np.argmax(np.abs(p.turned[2])))
    return f"{'-' if p.turned[2, axis] < 0 else ''}{'xyz'[axis]}"


def soonest(p: Printed) -> Estimate:
    """The estimate on the printer that is quickest with it."""
    return min((e for _, e in p.estimates), key=lambda e: e.time)


def hours_minutes(seconds: float) -> str:
    """ "2 h 05 min", or "12 min"."""
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{max(minutes, 1)} min"


def grams(mass: float) -> str:
    """ "430 g"; kilograms from one kilogram."""
    return f"{mass:.2f} kg" if mass >= 1 else f"{mass * 1e3:.0f} g"


def materials(printed: Sequence[Printed]) -> str:
    """Mass by material."""
    sums: dict[str, float] = {}
    for p in printed:
        sums[p.body.material] = sums.get(p.body.material, 0.0) + soonest(p).mass * p.body.count
    return ", ".join(f"{material} {grams(mass)}" for material, mass in sums.items())


def alternatives_table(others: Sequence[Alternative]) -> Table:
    """Hours, mass and strength of each way of printing."""
    columns = (
        Column("nozzle, layer"), Column("hours", right=True), Column("mass", right=True),
        Column("strength", right=True),
    )  # fmt: skip
    rows = tuple((_way(o), f"{o.time / 3600:.0f}", grams(o.mass), f"{o.strength:.2f}") for o in others)
    return Table(columns, rows)


def _way(o: Alternative) -> str:
    words = f"{o.nozzle * 1e3:.4g} mm, {o.layer_height * 1e3:.3g} mm"
    return f"as planned ({words})" if o.note.startswith("as planned") else words
