"""What is sawn: pieces of bars, tubes, extrusions, sheets and strips; what they are sold in; what lies on the shelf."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from dryfit.catalogue.rows import Row, keys, row
from dryfit.design.fields import Word
from dryfit.design.sections.body import Body as BodyRecord
from dryfit.design.sections.body import Part as PartRecord
from dryfit.design.sections.stock import Piece, Sold
from dryfit.design.sections.stock import Stock as StockRecord
from dryfit.ground import units
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Quantity
from dryfit.machine.ledger import Default, Ledger, whole
from dryfit.machine.machine import Machine

USUAL_LENGTHS = {"bar": 3.0, "slot": 2.0, "aluminium": 2.0, "steel": 3.0}
"""Length in which bars are sold, m, by shape, of tubes and box sections by metal (common practice)."""

REEL = 5.0
"""Length of a reel of addressable strip, m (common practice)."""

AXLE_END = 0.005
"""How far an axle reaches beyond what sits on it, at each end: chamfer and a little to grip, m (common practice)."""

END_STOPS = {"none": 0.0, "screw and washer": 0.0, "ring": 0.005, "collar": 0.012, "hose clip": 0.012}
"""What an end stop takes of the axle beside the hub, m (common practice)."""

COUPLING = 0.015
"""What a coupling to the gearmotor takes of the axle, m (common practice)."""

MOST_PIECES = 2000
"""Pieces beyond this many in one entry are no one-off machine."""


@dataclass(frozen=True)
class StockKind:
    """One kind of stock. name: in words.  flat: a sheet.  size: length, and width of a sheet (0 of a bar), m.
    width: of the section, m, NaN unknown.  price: of one, EUR, NaN where none was typed.  kerf, trim, shortest_kept: m.
    catalogue: kind of catalogue row behind it, "" for none.  stage: of the build that waits for it.  line: of the
    design file.  shape: of the section ("slot", "tube"), "" unknown."""

    key: str
    name: str
    flat: bool
    size: tuple[float, float]
    width: float
    price: float
    kerf: float
    trim: float
    shortest_kept: float
    catalogue: str
    stage: str
    line: int
    shape: str = ""


@dataclass(frozen=True)
class Wanted:
    """Equal pieces. size: length (of mitred ones over the points), and width of a piece of a sheet, m.  typed: length
    as typed.  ends: "square" or "mitre".  path, line: of the design file."""

    name: str
    stock: str
    size: tuple[float, float]
    typed: float
    count: int
    ends: str
    path: str
    line: int


@dataclass(frozen=True)
class OffCut:
    """Equal pieces left over from earlier work; length in m."""

    stock: str
    length: float
    count: int
    line: int


@dataclass(frozen=True)
class Stock:
    """All that is sawn and what it is sawn from. kerf: width that the saw takes, m.  notes: what to know before."""

    kinds: tuple[StockKind, ...]
    wanted: tuple[Wanted, ...]
    off_cuts: tuple[OffCut, ...]
    kerf: float
    trim: float
    shortest_kept: float
    notes: tuple[str, ...] = ()

    def kind(self, key: str) -> StockKind:
        """The kind of stock with a key."""
        return next(k for k in self.kinds if k.key == key)


@dataclass
class _Bench:
    """What is gathered while the pieces are read."""

    ledger: Ledger
    sold: dict[str, tuple[Sold, str]]
    saw: tuple[float, float, float]
    kinds: dict[str, StockKind]
    wanted: list[Wanted]
    notes: list[str]


def resolve_stock(r: StockRecord, body: BodyRecord, machine: Machine, ledger: Ledger) -> Stock:
    """Everything that is sawn for one machine: pieces of its parts, axles, strips.

    A piece of a bar is measured along its middle; mitred at 45 degrees at both ends it is longer over the points by the
    width of the bar. Faults: stock that is not known, a piece that no bar or sheet is large enough for, a piece with no
    size or with that of the other kind of stock.
    """

    def take(key: str, text: str, reason: str) -> float:
        path = f"workshop.stock.{key}"
        return float(ledger.take(path, units.UNSIGNED_LENGTH, getattr(r, key), None, Default(text, 0.3, reason)))

    saw = (
        take("kerf", "3 mm", "a chop or band saw blade with its wander"),
        take("trim", "5 mm", "the end of a new bar is rough or not square; its own saw cut is counted in this"),
        take("shortest_kept", "150 mm", "shorter ends are not worth their place on the shelf"),
    )
    sold: dict[str, tuple[Sold, str]] = {}
    for n, entry in enumerate(r.sold):
        path = f"workshop.stock.sold[{n}]"
        ledger.origins[f"{path}.name"] = entry.name.origin
        if str(entry.name) in sold:
            ledger.fault(f"{path}.name", "named twice under `sold`", read=str(entry.name))
        sold.setdefault(str(entry.name), (entry, path))
    bench = _Bench(ledger, sold, saw, {}, [], [])
    for n, part in enumerate(body.parts):
        _part(part, f"body.parts[{n}]", machine, bench)
    _axles(machine, bench)
    _strips(machine, bench)
    off_cuts = _off_cuts(r, bench)
    return Stock(tuple(bench.kinds.values()), tuple(bench.wanted), off_cuts, *saw, tuple(bench.notes))


def _part(part: PartRecord, path: str, machine: Machine, bench: _Bench) -> None:
    copies = machine.parts.paths.count(path)
    name = str(part.name)
    for n, piece in enumerate(part.pieces):
        _piece(piece, f"{path}.pieces[{n}]", name, copies, bench)
    if part.pieces or part.made != "cut":
        return
    if part.profile is not None and part.length is not None:
        implied = Piece(stock=part.profile, length=part.length)
        _piece(implied, path, name, copies, bench)
        return
    bench.notes.append(f"{name} is made of cut pieces, but none are listed: write `pieces:` under it.")


def _piece(piece: Piece, path: str, name: str, copies: int, bench: _Bench) -> None:
    ledger = bench.ledger
    ledger.origins[f"{path}.stock"] = piece.stock.origin
    line = piece.stock.origin.line
    kind = _kind(piece.stock, f"{path}.stock", bench)
    if kind is None:
        return
    if (piece.length is None) == (piece.size is None):
        said = "a length and a size" if piece.length is not None else "neither a length nor a size"
        wants = "size: [length, width]" if kind.flat else "length: 380 mm"
        ledger.fault(path, f"a piece of {name} has {said}", accepted=wants, line=line)
        return
    if kind.flat and piece.size is None:
        ledger.fault(f"{path}.length", f"{kind.key} is a sheet; its pieces have a length and a width",
                     read=_text(piece.length), accepted="size: [length, width]", line=line)  # fmt: skip
        return
    if not kind.flat and piece.length is None:
        read = _text(piece.size[0] if piece.size else None)
        message = f"{kind.key} is a bar; its pieces have a length only"
        ledger.fault(f"{path}.size", message, read, "length: 380 mm", line)
        return
    count = 1 if piece.count is None else whole(ledger.take(f"{path}.count", units.COUNT, piece.count))
    if count * copies > MOST_PIECES:
        ledger.fault(f"{path}.count", "more pieces than a machine has", str(count), f"{MOST_PIECES} at most")
        return
    ends = ledger.choose(f"{path}.ends", piece.ends, "square", "cut square where nothing is said")
    size = _measures(piece, path, ledger)
    over = size
    if ends == "mitre":
        over = _over_the_points(size, kind, name, bench, path)
    if not _fits(over, kind):
        _too_large(over, kind, name, path, piece, ledger)
        return
    if count * copies:
        bench.wanted.append(Wanted(name, kind.key, over, size[0], count * copies, ends, path, line))


def _measures(piece: Piece, path: str, ledger: Ledger) -> tuple[float, float]:
    if piece.length is not None:
        return float(ledger.take(f"{path}.length", units.POSITIVE_LENGTH, piece.length)), 0.0
    a, b = (float(ledger.take(f"{path}.size[{n}]", units.POSITIVE_LENGTH, q)) for n, q in enumerate(piece.size or []))
    return a, b


def _over_the_points(
    size: tuple[float, float], kind: StockKind, name: str, bench: _Bench, path: str
) -> tuple[float, float]:
    if kind.flat:
        bench.ledger.fault(f"{path}.ends", "pieces of a sheet are cut square", "mitre", "square")
        return size
    if math.isnan(kind.width):
        bench.notes.append(f"{name}: mitred, but the width of {kind.key} is not known: add it to the length yourself.")
        return size
    over = size[0] + kind.width
    bench.notes.append(
        f"{name}: {units.show(size[0], 'm', 5)} along the middle is {units.show(over, 'm', 5)} over the points of the "
        f"two mitres."
    )
    return over, size[1]


def _fits(size: tuple[float, float], kind: StockKind) -> bool:
    room = (kind.size[0] - kind.trim + 1e-9, kind.size[1] - kind.trim + 1e-9)
    if not kind.flat:
        return size[0] <= room[0]
    return any(a <= room[0] and b <= room[1] for a, b in (size, size[::-1]))


def _too_large(size: tuple[float, float], kind: StockKind, name: str, path: str, piece: Piece, ledger: Ledger) -> None:
    if kind.flat:
        shown = " × ".join(units.show(x, "m", 5) for x in kind.size)
        message, typed = f"a piece of {name} is larger than a sheet of {kind.key}, {shown} before trimming", "size"
    else:
        shown = units.show(kind.size[0] - kind.trim, "m", 5)
        message, typed = f"a piece of {name} is longer than a bar of {kind.key}, {shown} after trimming", "length"
    read = " × ".join(units.show(x, "m", 5) for x in size if x)
    accepted = "smaller pieces, or `workshop.stock.sold` with what you can buy"
    ledger.fault(f"{path}.{typed}", message, read, accepted, piece.stock.origin.line)


def _kind(key: Word, path: str, bench: _Bench) -> StockKind | None:
    """The kind of stock with a name; an unknown one becomes a fault with the nearest names."""
    text = str(key)
    if text in bench.kinds:
        return bench.kinds[text]
    entry, at = bench.sold.get(text, (None, ""))
    found = next((kind for kind in ("profiles", "sheets") if text in keys(kind)), "")
    if entry is None and not found:
        known = [*bench.sold, *keys("profiles"), *keys("sheets")]
        message = f"no stock named {text!r}{nearest(text, known)}"
        bench.ledger.fault(path, message, text, line=key.origin.line)
        return None
    made = _made(text, entry, at, row(found, text) if found else None, key.origin.line, bench)
    if made is not None:
        bench.kinds[text] = made
    return made


def _made(key: str, entry: Sold | None, at: str, found: Row | None, line: int, bench: _Bench) -> StockKind | None:
    ledger, (kerf, trim, kept) = bench.ledger, bench.saw
    price = math.nan
    length: Quantity | None = None
    size: list[Quantity] | None = None
    if entry is not None:
        length, size, line = entry.length, entry.size, entry.name.origin.line
        if entry.price is not None:
            price = float(ledger.take(f"{at}.price", units.MONEY, entry.price))
    flat = size is not None or (found is not None and found.kind == "sheets" and length is None)
    if length is not None and (size is not None or (found is not None and found.kind == "sheets")):
        ledger.fault(at, f"{key} has a length and a width", accepted="size: [length, width] of a sheet, or a length")
        return None
    if length is None and size is None and found is None:
        ledger.fault(at, f"{key} has neither a length nor a size", accepted="length: 2 m, or size: [1 m, 500 mm]")
        return None
    whole_size = _sold_size(key, at, length, size, found, ledger)
    name = found.name if found is not None else key
    width = float(found.quantities["width"].si) if found is not None and found.kind == "profiles" else math.nan
    stage = "frame" if not flat else "body"
    kind = "" if found is None else found.kind
    shape = found.words.get("shape", "") if found is not None else ""
    return StockKind(key, name, flat, whole_size, width, price, kerf, trim, kept, kind, stage, line, shape)


def _sold_size(
    key: str, at: str, length: Quantity | None, size: list[Quantity] | None, found: Row | None, ledger: Ledger
) -> tuple[float, float]:
    if size is not None:
        a, b = (float(ledger.take(f"{at}.size[{n}]", units.POSITIVE_LENGTH, q)) for n, q in enumerate(size))
        return a, b
    if length is not None:
        return float(ledger.take(f"{at}.length", units.POSITIVE_LENGTH, length)), 0.0
    assert found is not None
    path = f"workshop.stock.{key}.size"
    if found.kind == "sheets":
        a, b = float(found.quantities["length"].si), float(found.quantities["width"].si)
        text = f"{units.show(a, 'm', 5)} × {units.show(b, 'm', 5)}"
        ledger.reckon(path, a, text, 0.0, "a usual sheet; write yours under workshop.stock.sold", found.source)
        return a, b
    shape, material = found.words["shape"], found.words["material"]
    usual = USUAL_LENGTHS.get(shape) or USUAL_LENGTHS["aluminium" if material.startswith("aluminium") else "steel"]
    reason = "a usual length of such bars; write yours under workshop.stock.sold"
    ledger.reckon(path, usual, units.show(usual, "m", 5), 0.0, reason)
    return usual, 0.0


def _axles(machine: Machine, bench: _Bench) -> None:
    """One axle for each driven wheel, unless the gearmotor's shaft is the axle."""
    axle, count = machine.axle, sum(machine.wheels.driven)
    if axle.arrangement == "on the gearmotor shaft" or not count:
        return
    diameter = float(axle.diameter)
    line = next((machine.origins[p].line for p in ("base.axle.diameter", "base.axle.bearing.item")
                 if p in machine.origins and machine.origins[p].line), 0)  # fmt: skip
    length = math.ceil(1000 * axle_length(machine) - 1e-6) / 1000
    key = next((k for k in keys("profiles") if row("profiles", k).words["shape"] == "bar"
                and math.isclose(row("profiles", k).quantities["width"].si, diameter, abs_tol=1e-6)), "")  # fmt: skip
    known = bench.kinds.get(key) if key else None
    if known is None:
        key = key or f"round bar {units.show(diameter, 'm')}"
        kerf, trim, kept = bench.saw
        entry, at = bench.sold.get(key, (None, ""))
        found = row("profiles", key) if key in keys("profiles") else None
        if entry is not None or found is not None:
            known = _made(key, entry, at, found, line, bench)
        if known is None:
            size = (USUAL_LENGTHS["bar"], 0.0)
            known = StockKind(key, key, False, size, diameter, math.nan, kerf, trim, kept, "profiles", "", line)
    known = bench.kinds[key] = replace(known, stage="wheel units")
    if length > known.size[0] - known.trim:
        bench.ledger.fault(
            "base.axle.bearing_span", f"an axle is longer than a bar of {key}", units.show(length, "m", 5),
            f"{units.show(known.size[0] - known.trim, 'm', 5)} after trimming", line,
        )  # fmt: skip
        return
    bench.wanted.append(Wanted("axle", key, (length, 0.0), length, count, "square", "base.axle", line))
    text = "bearing span, overhang, half a bearing and half a hub, 5 mm beyond each end, and its end stop"
    bench.notes.append(f"axle: {units.show(length, 'm', 5)} is {text}; measure the parts in hand before you cut.")
    if axle.tolerance and key:
        bench.notes.append(f"axle: ask for the bar in {axle.tolerance}.")


def axle_length(machine: Machine) -> float:
    """Length of one axle, m: from the far side of its inner bearing to beyond the hub, as the design places them."""
    a = machine.axle
    length = float(a.bearing_span) + float(a.bearing.width) + 2 * AXLE_END
    if a.arrangement == "overhung":
        length += (
            float(a.overhang) + float(a.hub_length) / 2 - float(a.bearing.width) / 2 + END_STOPS[a.retention.end_stop]
        )
    if a.driven_by == "motor on the axle":
        length += COUPLING
    return length


def _strips(machine: Machine, bench: _Bench) -> None:
    light = machine.light
    for k, name in enumerate(light.strips):
        path = f"light.strips[{k}]"
        named = f"{path}.item" in machine.choices
        origin = machine.origins.get(f"{path}.item" if named else f"{path}.length")
        line = origin.line if origin else 0
        key = str(origin.text) if named and origin else f"addressable strip, {units.show(float(light.voltage[k]), 'V')}"
        pitch, leds = float(light.pitch[k]), round(float(light.leds[k]))
        if key not in bench.kinds:
            title = row("strips", key).name if key in keys("strips") else key
            size = (REEL, 0.0)
            bench.kinds[key] = StockKind(
                key, title, False, size, math.nan, math.nan, 0.0, 0.0, bench.saw[2], "strips", "light", line
            )
        most = math.floor(REEL / pitch + 1e-6)
        for n, lit in enumerate([most] * (leds // most) + ([leds % most] if leds % most else [])):
            part = f"strip {name}" + (f", part {n + 1}" if leds > most else "")
            length = lit * pitch
            bench.wanted.append(Wanted(part, key, (length, 0.0), length, light.counts[k], "square", path, line))


def _off_cuts(r: StockRecord, bench: _Bench) -> tuple[OffCut, ...]:
    ledger, found = bench.ledger, []
    for n, cut in enumerate(r.off_cuts):
        path = f"workshop.stock.off_cuts[{n}]"
        ledger.origins[f"{path}.stock"] = cut.stock.origin
        length = float(ledger.take(f"{path}.length", units.POSITIVE_LENGTH, cut.length))
        count = 1 if cut.count is None else whole(ledger.take(f"{path}.count", units.COUNT, cut.count))
        key, line = str(cut.stock), cut.stock.origin.line
        known = [*bench.kinds, *bench.sold, *keys("profiles")]
        if key in bench.kinds and bench.kinds[key].flat:
            ledger.fault(f"{path}.stock", "off-cuts of sheets are not counted", key, "a bar, tube or extrusion", line)
        elif key not in known:
            ledger.fault(f"{path}.stock", f"no stock named {key!r}{nearest(key, known)}", key, line=line)
        elif count > MOST_PIECES:
            ledger.fault(f"{path}.count", "more off-cuts than a shelf holds", str(count), f"{MOST_PIECES} at most")
        elif count:
            found.append(OffCut(key, length, count, line))
    return tuple(found)


def _text(typed: Quantity | None) -> str:
    return "" if typed is None else typed.origin.text
