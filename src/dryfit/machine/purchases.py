"""What is bought: everything that the machine names, what was quoted for it, and class guesses for the rest."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dryfit.catalogue.rows import Row, keys, row
from dryfit.design.sections.purchases import Purchase as PurchaseRecord
from dryfit.design.sections.purchases import Purchases as PurchasesRecord
from dryfit.ground import units
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Kind, Quantity
from dryfit.machine.ledger import Default, Ledger, whole
from dryfit.machine.machine import Machine
from dryfit.machine.named_parts import Use, uses
from dryfit.machine.printing import Printing
from dryfit.machine.stock import Stock

STAGES = (
    "prints", "wheel units", "frame", "supply", "logic", "light", "arms", "body", "first drive", "rehearsal",
)  # fmt: skip
"""Build stages that may wait for a purchase."""

DAY = 86400.0
"""Seconds."""

_SCREWS = re.compile(r"m\d+(x\d+)?-[a-z-]+")
"""Keys of screws, nuts and the like: m5x25-cap-screw, m5-nut."""

_WIRING = ("wire ", "ferrule ", "ring terminal ", "crimped contact ", "contact: ", "shell for ")
"""How the names of rolls and of what goes on wire ends begin; the wire list knows which there are."""


@dataclass(frozen=True)
class Guess:
    """What a class of things usually costs: price of a pack of so many, EUR, NaN where nobody knows; lead time, s."""

    price: float
    pack_of: int
    lead_time: float


@dataclass(frozen=True)
class Quote:
    """What the design file says of one purchase; None where it says nothing. Times in s, price of a pack in EUR."""

    item: str
    count: int | None
    price: float | None
    pack_of: int | None
    lead_time: float | None
    in_stock: int | None
    spares: int | None
    supplier: str
    needed_for: str
    line: int


@dataclass(frozen=True)
class Spool:
    """Filament as it is sold: kg on a spool, EUR for it, whether that was typed, and kg on the shelf."""

    material: str
    mass: float
    price: float
    quoted: bool
    in_stock: float
    line: int


@dataclass(frozen=True)
class Thread:
    """A screw thread and what goes on it, m: diameter, pitch, height of its nut, of its cap head."""

    key: str
    diameter: float
    pitch: float
    nut_height: float
    head_height: float


@dataclass(frozen=True)
class Orders:
    """Everything that the purchase list needs to know of the design file.

    uses: what the machine names, with counts.  quotes: by item.  lead_time: of whatever has none of its own, s, and
    lead_typed: whether it was typed, so that it goes before a class guess.  margin: orders are placed so much before
    the latest day, s.  stock: what is sawn.  spools: filaments by material.  threads: by key ("m5").
    """

    uses: tuple[Use, ...]
    quotes: Mapping[str, Quote]
    lead_time: float
    lead_typed: bool
    margin: float
    stock: Stock
    spools: Mapping[str, Spool]
    threads: Mapping[str, Thread]


def resolve_purchases(
    r: PurchasesRecord,
    machine: Machine,
    ledger: Ledger,
    *,
    stock: Stock | None = None,
    printing: Printing | None = None,
) -> Orders:
    """What the machine names, and what is said about buying it.

    stock, printing: what is sawn and printed, so that quotes for bars and filament find what they are for. Faults: an
    item that the machine does not name and that has no count; one named twice; a stage that does not exist.
    """
    lead = ledger.take(
        "purchases.lead_time", units.TIME, r.lead_time, None,
        Default("7 days", 0.5, "a week for whatever neither a quote nor a class guess speaks of"),
    )  # fmt: skip
    margin = ledger.take(
        "purchases.margin", units.TIME, r.margin, None, Default("3 days", 0.3, "parcels come late and the wrong thing")
    )
    sawn = stock or Stock((), (), (), 0.0, 0.0, 0.0)
    named = uses(machine)
    known = _known(named, sawn, printing)
    quotes: dict[str, Quote] = {}
    for n, record in enumerate(r.items):
        quote = _quote(record, f"purchases.items[{n}]", ledger)
        if quote.item in quotes:
            ledger.fault(f"purchases.items[{n}].item", "named twice under `items`", quote.item, line=quote.line)
        elif quote.count is None and quote.item not in known and not _named_later(quote.item):
            ledger.fault(
                f"purchases.items[{n}].item",
                f"the machine has no {quote.item!r}{nearest(quote.item, sorted(known))}",
                quote.item, "something that the machine names, or a count of something more", quote.line,
            )  # fmt: skip
        quotes.setdefault(quote.item, quote)
    return Orders(
        uses=named,
        quotes=quotes,
        lead_time=float(lead),
        lead_typed=r.lead_time is not None,
        margin=float(margin),
        stock=sawn,
        spools=_spools(printing, ledger),
        threads={key: _thread(row("fasteners", key)) for key in keys("fasteners")},
    )


def _named_later(item: str) -> bool:
    """Whether an item may be one of the screws or of the wiring, which are not counted yet."""
    return _SCREWS.fullmatch(item) is not None or item.startswith(_WIRING)


def _known(named: Sequence[Use], stock: Stock, printing: Printing | None) -> set[str]:
    found = {u.item for u in named} | {k.key for k in stock.kinds} | set(keys("wires")) | set(keys("connectors"))
    if not stock.kinds:
        found |= set(keys("profiles")) | set(keys("sheets"))
    return found | (set(printing.filaments) if printing is not None else {"pla", "petg", "abs", "asa", "pa", "pc"})


def _quote(r: PurchaseRecord, path: str, ledger: Ledger) -> Quote:
    ledger.origins[f"{path}.item"] = r.item.origin

    def number(key: str, dimension: units.Dimension, typed: Quantity | None) -> float | None:
        return None if typed is None else float(ledger.take(f"{path}.{key}", dimension, typed))

    def count(key: str, typed: Quantity | None) -> int | None:
        return None if typed is None else whole(ledger.take(f"{path}.{key}", units.COUNT, typed))

    pack_of = count("pack_of", r.pack_of)
    if pack_of == 0:
        ledger.fault(f"{path}.pack_of", "a pack holds one at least", "0", "a whole number from 1")
        pack_of = None
    if r.needed_for is not None and str(r.needed_for) not in STAGES:
        stage = str(r.needed_for)
        message = f"no build stage named {stage!r}{nearest(stage, STAGES)}"
        ledger.fault(f"{path}.needed_for", message, stage, ", ".join(STAGES), r.needed_for.origin.line)
    return Quote(
        item=str(r.item),
        count=count("count", r.count),
        price=number("price", units.MONEY, r.price),
        pack_of=pack_of,
        lead_time=number("lead_time", units.TIME, r.lead_time),
        in_stock=count("in_stock", r.in_stock),
        spares=count("spares", r.spares),
        supplier="" if r.from_ is None else str(r.from_),
        needed_for="" if r.needed_for is None else str(r.needed_for),
        line=r.item.origin.line,
    )


def _spools(printing: Printing | None, ledger: Ledger) -> dict[str, Spool]:
    if printing is None:
        return {}
    out = {}
    for n, (material, filament) in enumerate(printing.filaments.items()):
        path = next(
            (p for p, o in ledger.origins.items()
             if p.startswith("workshop.filaments") and p.endswith(".material") and o.text == material), "",
        ).removesuffix(".material") or f"workshop.filaments[{n}]"  # fmt: skip
        price = ledger.origins.get(f"{path}.price")
        typed = price is not None and price.kind is Kind.DESIGN
        line = price.line if price is not None and typed else 0
        out[material] = Spool(material, filament.spool, filament.price, typed, filament.in_stock, line)
    return out


def _thread(r: Row) -> Thread:
    q = {key: float(value.si) for key, value in r.quantities.items()}
    return Thread(r.key, q["diameter"], q["pitch"], q["nut_height"], q["cap_head_height"])


def guess(kind: str, item: str) -> Guess:
    """What such a thing usually costs: by its own row of the prices, by the class it belongs to, or by its kind."""
    words = f"{kind}.{item}" if item else kind
    known = set(keys("prices"))
    tried = words
    while tried and tried not in known:
        cut = max(tried.rfind("-"), tried.rfind("."), 0)
        # A bearing's number says its series by its first two figures.
        tried = tried[:-1] if kind == "bearings" and len(tried) > len("bearings.60") else tried[:cut]
    if not tried:
        return Guess(math.nan, 1, math.nan)
    q = row("prices", tried).quantities
    return Guess(float(q["price"].si), whole(q["pack_of"].si), float(q["lead_time"].si))


def guess_wire(area: float) -> Guess:
    """What ten metres of wire of at least a cross-section, m2, usually cost."""
    sizes = [(row("wires", key).quantities["area"].si, key) for key in keys("wires") if key.startswith("class5")]
    fits = [key for size, key in sorted(sizes) if size >= area * (1 - 1e-6)]
    return guess("wires", fits[0] if fits else "")


def connector_key(name: str) -> str:
    """Catalogue key of a connector by the name of its row, "" where none has it."""
    return next((key for key in keys("connectors") if row("connectors", key).name == name), "")
