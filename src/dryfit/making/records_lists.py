"""The lists for saw, shop and bench: cuts, purchases, wires, connectors, pins."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from dryfit.making.records_solids import Outline


@dataclass(frozen=True)
class Cut:
    """One piece on a bar or sheet. at: where it begins, m, from the trimmed end (of a sheet: its lower left corner).
    size: length, and width on a sheet.  turned: lies across the sheet."""

    name: str
    at: tuple[float, float]
    size: tuple[float, float]
    ends: str = "square"
    turned: bool = False


@dataclass(frozen=True)
class Bar:
    """One bar, tube, extrusion, strip or sheet with what is cut from it. off_cut: it came from the shelf.
    left: length that remains (of a sheet: area over width), m; kept: worth keeping.  trim: cut off its raw end, m.
    kerf: width of each cut, m.  spare: what remains of a sheet as rectangles: place of the lower left corner and size.
    """

    stock: str
    name: str
    size: tuple[float, float]
    cuts: tuple[Cut, ...]
    off_cut: bool
    left: float
    kept: bool
    trim: float = 0.0
    kerf: float = 0.0
    spare: tuple[tuple[float, float, float, float], ...] = ()


@dataclass(frozen=True)
class CutList:
    """Everything that is sawn. bound: by stock, the fewest new bars that any cutting needs, and the bars taken; where
    both agree the cutting is the best there is."""

    bars: tuple[Bar, ...]
    kerf: float
    bound: tuple[tuple[str, int, int], ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Buy:
    """One line of the purchase list. count: needed with spares, less what is on the shelf.  price: of one pack of
    `pack_of`, EUR, NaN where nobody knows; known: "quoted", "class guess" or "nobody knows".  order_by: None without a
    delivery date.  why: what it is for.  unit: what is counted, "" for pieces ("m", "kg").
    """

    name: str
    item: str
    kind: str
    needed: int
    spares: int
    in_stock: int
    count: int
    packs: int
    price: float
    cost: float
    known: str
    lead_time: float
    needed_for: str
    needed_on: date | None
    order_by: date | None
    supplier: str
    why: str
    line: int
    pack_of: int = 1
    unit: str = ""


@dataclass(frozen=True)
class Fastening:
    """Screws, nuts and the like of one kind of place. where: the place, in words; item: key on the purchase list;
    name: in words.  each: at one such place; places: how many such places.  stack: what a screw clamps, m, and length:
    of the screw, m, NaN for what has none.  why: how the size came about.  line: of the design file, 0 for none."""

    where: str
    item: str
    name: str
    each: int
    places: int
    stack: float
    length: float
    why: str
    stage: str
    line: int

    @property
    def count(self) -> int:
        """How many in all, spares not counted."""
        return self.each * self.places


@dataclass(frozen=True)
class Hardware:
    """Where screws go, how many, and how long. notes: what is not counted."""

    fastenings: tuple[Fastening, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Purchases:
    """The purchase list, its sum, EUR, what part of it is quoted, and what the brief allows. fastenings: where its
    screws go."""

    lines: tuple[Buy, ...]
    total: float
    quoted: float
    budget: float
    notes: tuple[str, ...] = ()
    fastenings: tuple[Fastening, ...] = ()


@dataclass(frozen=True)
class WireLine:
    """One wire. number: as on its labels.  area: m2.  length: to cut, m.  way: how the length came about, in words.
    current: largest that lasts, A, NaN where it only signals.  ends: what is put on them.  labels: for both ends."""

    number: str
    name: str
    bundle: str
    begins: str
    ends: str
    area: float
    gauge: str
    colour: str
    length: float
    way: str
    current: float
    fuse: float
    begin_fitting: str
    end_fitting: str
    labels: tuple[str, str]
    line: int


@dataclass(frozen=True)
class Contact:
    """One contact of a connector: its number, what it carries, at how many volts (NaN unknown), and the wire on it."""

    number: int
    carries: str
    volts: float
    wire: str


@dataclass(frozen=True)
class ConnectorMap:
    """A connector seen from the side where the wires go in. faults: what happens if neighbours touch, or the shell goes
    in the wrong way round or on another connector; each with whether something dies of it.  title: the kind of
    connector in words.  keyed: it goes in one way round only.  mates: another that it could be put on, "".
    remedies: what takes a fault away."""

    name: str
    at: str
    item: str
    rows: int
    contacts: tuple[Contact, ...]
    faults: tuple[tuple[str, bool], ...]
    line: int
    title: str = ""
    keyed: bool = False
    mates: str = ""
    remedies: tuple[str, ...] = ()


@dataclass(frozen=True)
class PinLine:
    """One pin of the controller: what it does, where its wire goes, how it stands while the board starts."""

    pin: str
    function: str
    needs: str
    wire: str
    at_start: str
    caution: str
    line: int


@dataclass(frozen=True)
class WiringLists:
    """Wires, connectors, the controller's pins, and how much of each wire is bought."""

    wires: tuple[WireLine, ...]
    connectors: tuple[ConnectorMap, ...]
    board: str
    pins: tuple[PinLine, ...]
    rolls: tuple[tuple[str, float], ...]
    fittings: tuple[tuple[str, int], ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Drawn:
    """A flat piece for the saw or the cutter, by name."""

    name: str
    outline: Outline
