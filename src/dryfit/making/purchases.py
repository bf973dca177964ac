"""The purchase list: everything bought, with spares, what lies on the shelf, cost, and the day to order it by."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from dryfit.ground.units import show
from dryfit.machine.machine import Machine
from dryfit.machine.named_parts import Use
from dryfit.machine.purchases import DAY, STAGES, Guess, Orders, Quote, connector_key, guess, guess_wire
from dryfit.making.hardware import hardware
from dryfit.making.records_lists import Buy, CutList, Hardware, Purchases, WiringLists

HARDWARE_SPARES, FEWEST_SPARES = 0.1, 2
"""Spare screws, nuts, contacts: a tenth, and two at least (common practice)."""

QUOTED, GUESSED, UNKNOWN = "quoted", "class guess", "nobody knows"

_FITTINGS = (("ferrule", "ferrule"), ("ring", "ring"), ("shell", "shell"), ("contact", "contact"))
"""A word in the name of what goes on a wire's end, and the class that it is priced under."""

_COMMON_WORDS = 2
"""Words that a diffuser and a bar must share to be taken for one another."""


def purchases(
    machine: Machine,
    orders: Orders,
    *,
    cuts: CutList,
    wiring: WiringLists | None = None,
    filament: Mapping[str, float] | None = None,
    needed_on: Mapping[str, date] | None = None,
    first: date | None = None,
) -> Purchases:
    """Everything that is bought for one machine.

    cuts: new bars and sheets.  wiring: rolls of wire and what goes on their ends.  filament: kg to print of each
    material, with what fails.  needed_on: by build stage, the day on which it begins at the latest; without it no day
    to order by is known.  first: day before which nobody orders; what should have been ordered then is named.
    """
    screws = hardware(machine, orders)
    found = [
        *_not_cut(orders), *_stock(orders, cuts), *_screws(screws), *_wires(wiring), *_filament(orders, filament or {}),
        *_extras(orders),
    ]  # fmt: skip
    wanted: dict[str, Use] = {}
    for use in found:
        old = wanted.get(use.item)
        wanted[use.item] = use if old is None else _joined(old, use)
    lines = [_buy(use, orders, needed_on or {}) for use in wanted.values()]
    lines.sort(key=lambda b: (b.order_by or date.max, _place(b.needed_for), -_cost(b), b.name))
    total = sum(_cost(b) for b in lines)
    quoted = sum(_cost(b) for b in lines if b.known == QUOTED)
    budget = float(machine.brief.budget)
    share = quoted / total if total > 0 else 0.0
    late = [b for b in lines if first is not None and b.order_by is not None and b.order_by < first]
    notes = (
        *_late(late, first), *_notes(machine, orders, lines, total, budget, wanted), *screws.notes
    )  # fmt: skip
    return Purchases(tuple(lines), total, share, budget, notes, screws.fastenings)


def _joined(a: Use, b: Use) -> Use:
    """Equal items from two places: counts added, the earlier stage, both reasons."""
    first = min(a, b, key=lambda u: _place(u.stage))
    why = a.why if b.why in a.why else f"{a.why}, {b.why}"
    return replace(
        a, count=a.count + b.count, spares=max(a.spares, b.spares), stage=first.stage, why=why, line=a.line or b.line
    )


def _place(stage: str) -> int:
    return STAGES.index(stage) if stage in STAGES else len(STAGES)


def _cost(b: Buy) -> float:
    return 0.0 if math.isnan(b.cost) else b.cost


def _not_cut(orders: Orders) -> list[Use]:
    """What the machine names, but for diffusers that are cut from stock."""
    words = [set(re.split(r"[\s\-.,×x]+", k.key.lower())) for k in orders.stock.kinds]
    out = []
    for use in orders.uses:
        own = set(use.item.split("-"))
        if use.kind != "diffusers" or not any(len(own & other) >= _COMMON_WORDS for other in words):
            out.append(use)
    return out


def _stock(orders: Orders, cuts: CutList) -> list[Use]:
    out = []
    for kind in orders.stock.kinds:
        new = [b for b in cuts.bars if b.stock == kind.key and not b.off_cut]
        if not new:
            continue
        names = ", ".join(dict.fromkeys(cut.name for bar in new for cut in bar.cuts))
        size = " × ".join(show(x, "m", 5) for x in kind.size if x)
        word = "reel" if kind.catalogue == "strips" else "sheet" if kind.flat else "bar"
        name = f"{kind.name}, {word} of {size}"
        out.append(Use(kind.key, name, kind.catalogue, len(new), 0, kind.stage, names, kind.line))
    return out


def _screws(screws: Hardware) -> list[Use]:
    count: dict[str, int] = {}
    for f in screws.fastenings:
        count[f.item] = count.get(f.item, 0) + f.count
    out = []
    for item, number in count.items():
        first = next(f for f in screws.fastenings if f.item == item)
        why = ", ".join(dict.fromkeys(f.where for f in screws.fastenings if f.item == item))
        kind = item.split("-", 1)[1]
        stage = min((f.stage for f in screws.fastenings if f.item == item), key=_place)
        out.append(Use(item, first.name, "hardware", number, _spares(number), stage, why, first.line, kind))
    return out


def _spares(count: int) -> int:
    return max(math.ceil(HARDWARE_SPARES * count - 1e-9), FEWEST_SPARES)


def _wires(wiring: WiringLists | None) -> list[Use]:
    """Rolls by the metre, and what goes on the ends."""
    if wiring is None:
        return []
    out = []
    for name, metres in wiring.rolls:
        whole = math.ceil(metres - 1e-9)
        out.append(Use(f"wire {name}", f"wire {name}", "wires", whole, 0, "supply", "wire list", 0, unit="m"))
    for name, count in wiring.fittings:
        key = connector_key(name)
        priced = "" if key else next((cls for word, cls in _FITTINGS if word in name), "")
        kind = "connectors" if key else "fittings"
        out.append(Use(key or name, name, kind, count, _spares(count), "supply", "wire list", 0, priced))
    return out


def _filament(orders: Orders, filament: Mapping[str, float]) -> list[Use]:
    """In grams, so that an opened spool counts."""
    out = []
    for material, mass in filament.items():
        if mass > 0:
            grams = math.ceil(1000 * mass - 1e-6)
            line = orders.spools[material].line if material in orders.spools else 0
            out.append(
                Use(material, f"{material.upper()} filament", "filaments", grams, 0, "prints", "prints", line, unit="g")
            )
    return out


def _extras(orders: Orders) -> list[Use]:
    """What the design file adds, with its own count; of what the machine has anyway, so many more."""
    named = {u.item for u in orders.uses} | {k.key for k in orders.stock.kinds}
    return [
        Use(q.item, q.item, "", q.count, 0, q.needed_for, "added under purchases" if q.item not in named else "more "
            "under purchases", q.line)
        for q in orders.quotes.values() if q.count
    ]  # fmt: skip


def _buy(use: Use, orders: Orders, needed_on: Mapping[str, date]) -> Buy:
    quote = orders.quotes.get(use.item)
    usual = _guess(use, orders)
    spares = use.spares if quote is None or quote.spares is None else quote.spares
    in_stock = _in_stock(use, quote, orders)
    count = max(use.count + spares - in_stock, 0)
    price, pack_of, known = _price(use, quote, usual, orders)
    packs = math.ceil(count / pack_of)
    lead = _lead(quote, usual, orders)
    stage = quote.needed_for if quote is not None and quote.needed_for else use.stage
    day = needed_on.get(stage)
    order_by = None
    if day is not None and count:
        order_by = day - timedelta(days=math.ceil((lead + orders.margin) / DAY - 1e-9))
    return Buy(
        name=use.name, item=use.item, kind=use.kind, needed=use.count, spares=spares, in_stock=in_stock, count=count,
        packs=packs, price=price, cost=packs * price if packs else 0.0, known=known, lead_time=lead, needed_for=stage,
        needed_on=day, order_by=order_by, supplier=quote.supplier if quote is not None else "", why=use.why,
        line=use.line or (quote.line if quote is not None else 0), pack_of=pack_of, unit=use.unit,
    )  # fmt: skip


def _guess(use: Use, orders: Orders) -> Guess:
    if use.kind == "wires":
        area = re.search(r"[0-9]+(\.[0-9]+)?", use.item)
        return guess_wire(float(area[0]) * 1e-6 if area else 0.0)
    if not use.kind:
        return Guess(math.nan, 1, math.nan)
    return guess(use.kind, use.priced or use.item)


def _in_stock(use: Use, quote: Quote | None, orders: Orders) -> int:
    if quote is not None and quote.in_stock is not None:
        return quote.in_stock
    if use.kind == "filaments" and use.item in orders.spools:
        return math.floor(1000 * orders.spools[use.item].in_stock + 1e-6)
    return 0


def _price(use: Use, quote: Quote | None, usual: Guess, orders: Orders) -> tuple[float, int, str]:
    """Price of a pack, how many are in it, and how well it is known."""
    stock = next((k.price for k in orders.stock.kinds if k.key == use.item and not math.isnan(k.price)), None)
    spool = orders.spools.get(use.item) if use.kind == "filaments" else None
    pack_of = usual.pack_of
    if use.kind == "filaments":
        pack_of = round(1000 * spool.mass) if spool is not None else 1000
    if quote is not None and quote.price is not None:
        # A quote is for one unless it says how many are sold together; a spool or a roll stays what it is.
        alone = pack_of if use.unit else 1
        return quote.price, quote.pack_of or alone, QUOTED
    pack_of = quote.pack_of if quote is not None and quote.pack_of else pack_of
    if stock is not None:
        return stock, 1, QUOTED
    if spool is not None:
        return spool.price, pack_of, QUOTED if spool.quoted else GUESSED
    return usual.price, pack_of, UNKNOWN if math.isnan(usual.price) else GUESSED


def _lead(quote: Quote | None, usual: Guess, orders: Orders) -> float:
    if quote is not None and quote.lead_time is not None:
        return quote.lead_time
    if orders.lead_typed or math.isnan(usual.lead_time):
        return orders.lead_time
    return usual.lead_time


def _late(lines: Sequence[Buy], first: date | None) -> list[str]:
    return [
        f"{b.name}: to be there in time it had to be ordered by {b.order_by}, before the first day of work, {first}: "
        f"find one that comes sooner than in {b.lead_time / DAY:.0f} days."
        for b in lines
    ]


def _notes(
    m: Machine, orders: Orders, lines: Sequence[Buy], total: float, budget: float, wanted: Mapping[str, Use]
) -> list[str]:
    notes = []
    if total > budget:
        notes.append(f"The sum of {total:.0f} EUR is {total - budget:.0f} EUR over the {budget:.0f} EUR of the brief.")
    guessed = sum(_cost(b) for b in lines if b.known == GUESSED)
    if guessed > 0:
        notes.append(
            f"{guessed:.0f} EUR of it are class guesses, good to half as much or twice as much: write what you were "
            f"quoted under purchases.items."
        )
    unknown = [b.name for b in lines if b.known == UNKNOWN and b.count]
    if unknown:
        notes.append(f"Without a price, and not in the sum: {', '.join(unknown)}.")
    idle = [q for q in orders.quotes.values() if q.item not in wanted]
    notes += [f"{q.item} (line {q.line}) is quoted, but none is needed." for q in idle]
    missing = _missing(m, orders)
    if missing:
        notes.append(
            f"The design file does not say what these are, so they are not on the list: {', '.join(missing)}. Add "
            f"those that you do not have, with a count, under purchases.items."
        )
    return notes


def _missing(m: Machine, orders: Orders) -> list[str]:
    """What every such machine has and no section of the design file names."""
    said = " ".join(orders.quotes).lower()
    things = [
        ("charger", "charger for the packs", True),
        ("main switch", "main switch", True),
        ("emergency stop", "emergency stop button", True),
        ("receiver", "transmitter and receiver", "receiver" in m.control.needs),
        ("lamp", "lamp", bool(m.safety.signals.get("safety.lamp"))),
        ("sounder", "sounder", bool(m.safety.signals.get("safety.sounder"))),
    ]
    return [name for word, name, there in things if there and word not in said]
