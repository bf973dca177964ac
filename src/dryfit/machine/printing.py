"""The printers, the filaments and the usual way of printing as numbers; each default is listed with its reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from dryfit.catalogue.rows import keys, row
from dryfit.design.sections.printing import Filament as FilamentRecord
from dryfit.design.sections.printing import Printer as PrinterRecord
from dryfit.design.sections.printing import PrintHow as HowRecord
from dryfit.design.sections.workshop import Workshop as WorkshopRecord
from dryfit.ground import units
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Kind, Origin, Quantity
from dryfit.machine.ledger import Default, Ledger, whole
from dryfit.machine.workshop import Workshop

USUAL_BED = ("220 mm", "220 mm", "250 mm")
LINE_PER_NOZZLE = 1.1
MOST_WALLS = 50
"""More lines or layers than this are a slip; a solid part is written with fill: 100 %."""


@dataclass(frozen=True)
class Printer:
    """One printer, SI. bed: room in x, y and height.  nozzles: diameters, the usual one first.  materials: keys, () for
    all.  speed: on long straight lines; wall_speed: on the outermost wall.  flow: most that the hot end melts.
    start_time, change_time: before and after each plate.  out_of_order: takes no plates until it is mended."""

    name: str
    path: str
    line: int
    bed: tuple[float, float, float]
    nozzles: tuple[float, ...]
    materials: tuple[str, ...]
    speed: float
    wall_speed: float
    travel_speed: float
    acceleration: float
    flow: float
    start_time: float
    change_time: float
    out_of_order: bool


@dataclass(frozen=True)
class Filament:
    """What a spool of a material is and costs, SI. flow_share: part of the hot end's flow that the material takes.
    least_layer_time: given to every layer to cool.  spool, in_stock: kg.  price: of a spool, EUR."""

    material: str
    density: float
    flow_share: float
    least_layer_time: float
    spool: float
    price: float
    in_stock: float


@dataclass(frozen=True)
class How:
    """How something is printed, SI: lay, and pieces along x, y, z and around z that it is printed in."""

    nozzle: float
    layer_height: float
    line_width: float
    walls: int
    top_layers: int
    bottom_layers: int
    fill: float
    lay: str
    structural: bool
    cuts: tuple[int, int, int] = (1, 1, 1)
    sectors: int = 1
    spares: int = 0


@dataclass(frozen=True)
class Printing:
    """Printers, filaments by material, the usual way. nozzle, line_width: those that belong together, as typed under
    `workshop`.  time_factor: hours that prints took over hours planned.  failures_in_100_hours: prints that fail.
    longest_plate: s."""

    printers: tuple[Printer, ...]
    filaments: dict[str, Filament]
    usual: How
    nozzle: float
    line_width: float
    time_factor: float
    failures_in_100_hours: float
    longest_plate: float


def resolve_printing(r: WorkshopRecord, ledger: Ledger, workshop: Workshop) -> Printing:
    """Printers, filaments and the usual way of printing; what is wrong goes to the ledger as faults."""

    def take(key: str, dimension: units.Dimension, text: str, spread: float, reason: str) -> float:
        return float(ledger.take(f"workshop.{key}", dimension, getattr(r, key), None, Default(text, spread, reason)))

    filaments = _filaments(r.filaments, ledger)
    printers = _printers(r.printers, ledger, filaments)
    usual = _usual(r.printing, ledger, workshop, printers)
    return Printing(
        printers=printers,
        filaments=filaments,
        usual=usual,
        nozzle=float(workshop.nozzle),
        line_width=float(workshop.line_width),
        time_factor=take("time_factor", units.POSITIVE_NUMBER, "1", 0.15, "no print has been timed yet"),
        failures_in_100_hours=take(
            "failures_in_100_hours", units.UNSIGNED_NUMBER, "2", 0.7, "prints that fail on a printer in good order"
        ),
        longest_plate=take(
            "longest_plate", units.TIME, "16 h", 0.3, "on in the evening, off at noon of the next day: less is lost"
        ),
    )


def _printers(given: Sequence[PrinterRecord] | None, ledger: Ledger, known: dict[str, Filament]) -> tuple[Printer, ...]:
    if given is None:
        reason = "no printers listed: one of the usual size"
        ledger.origins["workshop.printers"] = Origin(
            Kind.DEFAULT, "workshop.printers", text=f"{' x '.join(USUAL_BED)}, nozzle 0.4 mm", note=reason
        )
        bed = [Quantity(units.read(t, units.LENGTH)[0], "length", Origin(Kind.DEFAULT, text=t)) for t in USUAL_BED]
        given = [PrinterRecord.model_validate({"name": "printer", "bed": bed})]
    if not given:
        ledger.fault(
            "workshop.printers", "no printer is left to print on; list one, or leave the key out for a usual one",
            read="[]", accepted="- {name: small, bed: [220 mm, 220 mm, 250 mm]}",
        )  # fmt: skip
    printers = tuple(_printer(p, f"workshop.printers[{i}]", ledger, known) for i, p in enumerate(given))
    names = [p.name for p in printers]
    for p in printers:
        if names.count(p.name) > 1 and names.index(p.name) != printers.index(p):
            ledger.fault(f"{p.path}.name", "two printers of one name", read=p.name, accepted="another name")
    return printers


def _printer(p: PrinterRecord, path: str, ledger: Ledger, known: dict[str, Filament]) -> Printer:
    ledger.origins[f"{path}.name"] = p.name.origin
    sizes = [_sane(ledger, f"{path}.bed[{i}]", float(q.si), q, 0.05, 3.0) for i, q in enumerate(p.bed)]
    for i, q in enumerate(p.bed):
        ledger.origins[f"{path}.bed[{i}]"] = q.origin

    def take(key: str, dimension: units.Dimension, text: str, spread: float, reason: str) -> float:
        default = Default(text, spread, reason)
        value = float(ledger.take(f"{path}.{key}", dimension, getattr(p, key), None, default))
        if not value > 0 and key not in ("start_time", "change_time"):
            ledger.fault(f"{path}.{key}", "a printer that stands still prints nothing", read=text, accepted="above 0")
            return float(units.read(text, dimension)[0])
        return value

    nozzles = tuple(float(q.si) for q in p.nozzles) if p.nozzles else ()
    if nozzles and p.nozzles:
        ledger.origins[f"{path}.nozzles"] = p.nozzles[0].origin
        nozzles = tuple(
            _sane(ledger, f"{path}.nozzles", d, q, 1e-4, 3e-3) for d, q in zip(nozzles, p.nozzles, strict=True)
        )
    else:
        nozzles = (float(ledger.reckon(f"{path}.nozzles", 0.4e-3, "0.4 mm", 0.0, "the usual nozzle")),)
    for m in p.materials or ():
        if str(m) not in known:
            ledger.fault(
                f"{path}.materials", f"no filament of that name{nearest(str(m), known)}", str(m), line=m.origin.line
            )
    speed = take(
        "speed", units.SPEED, "50 mm/s", 0.3, "a printer of plain make on long lines, as makers set it for large parts"
    )
    wall = f"{2 / 3 * speed * 1e3:.6g} mm/s"
    return Printer(
        name=str(p.name),
        path=path,
        line=p.name.origin.line,
        bed=(sizes[0], sizes[1], sizes[2]),
        nozzles=nozzles,
        materials=tuple(str(m) for m in p.materials or ()),
        speed=speed,
        wall_speed=take("wall_speed", units.SPEED, wall, 0.3, "outer walls at two thirds of the speed look cleaner"),
        travel_speed=take("travel_speed", units.SPEED, "150 mm/s", 0.3, "moves between lines of a plain printer"),
        acceleration=take("acceleration", units.ACCELERATION, "1.5 m/s2", 0.5, "a bed that moves bears about this"),
        flow=take("flow", units.FLOW, "11 mm3/s", 0.35, "a plain hot end melts 8 to 12 mm3/s"),
        start_time=take("start_time", units.TIME, "8 min", 0.3, "heating and levelling"),
        change_time=take("change_time", units.TIME, "10 min", 0.5, "cooling down, taking off, wiping the plate"),
        out_of_order=bool(p.out_of_order),
    )


def _sane(ledger: Ledger, path: str, value: float, typed: Quantity, low: float, high: float) -> float:
    if low <= value <= high:
        return value
    ledger.fault(
        path, "no printer measures that", typed.origin.text, f"{low * 1e3:g} mm to {high * 1e3:g} mm", typed.origin.line
    )
    return min(max(value, low), high)


def _filaments(given: Sequence[FilamentRecord], ledger: Ledger) -> dict[str, Filament]:
    """Every material of the catalogue, with what the design file says of it."""
    typed: dict[str, tuple[str, FilamentRecord | None]] = {}
    for i, record in enumerate(given):
        path, material = f"workshop.filaments[{i}]", str(record.material)
        ledger.origins[f"{path}.material"] = record.material.origin
        if material in typed:
            ledger.fault(f"{path}.material", "this filament is listed twice", read=material)
        if material not in keys("filaments"):
            ledger.fault(
                f"{path}.material", f"no filament of that name{nearest(material, keys('filaments'))}", material
            )
        typed[material] = (path, record)
    found = {}
    for material in keys("filaments"):
        path, own = typed.get(material, (f"workshop.filaments.{material}", None))
        found[material] = _filament(material, path, own, ledger)
    return found


def _filament(material: str, path: str, r: FilamentRecord | None, ledger: Ledger) -> Filament:
    usual = row("filaments", material)

    def take(key: str, dimension: units.Dimension) -> float:
        value = float(ledger.take(f"{path}.{key}", dimension, getattr(r, key) if r else None, usual))
        if key == "flow_share" and not value > 0:
            ledger.fault(f"{path}.{key}", "a filament that does not flow prints nothing", "0 %", "above 0 %")
            return 1.0
        return value

    in_stock = (
        0.0 if r is None or r.in_stock is None else float(ledger.take(f"{path}.in_stock", units.MASS, r.in_stock))
    )
    return Filament(
        material=material,
        density=float(row("materials", material).quantities["density"].si),
        flow_share=take("flow_share", units.SHARE),
        least_layer_time=take("least_layer_time", units.TIME),
        spool=take("spool", units.MASS),
        price=take("price", units.MONEY),
        in_stock=in_stock,
    )


def _usual(r: HowRecord, ledger: Ledger, workshop: Workshop, printers: Sequence[Printer]) -> How:
    """The workshop's own way: `workshop.printing` over `workshop.nozzle` and `workshop.layer_height`."""
    start = How(
        nozzle=float(workshop.nozzle),
        layer_height=float(workshop.layer_height),
        line_width=float(workshop.line_width),
        walls=3, top_layers=5, bottom_layers=4, fill=0.15, lay="best", structural=False,
    )  # fmt: skip
    path = "workshop.printing"
    reasons = {
        "walls": ("3", "three lines carry and hide the fill"),
        "top_layers": ("5", "five layers close over sparse fill"),
        "bottom_layers": ("4", "four layers close over the bed"),
    }
    counts = {}
    for key, (text, reason) in reasons.items():
        counts[key] = whole(
            ledger.take(f"{path}.{key}", units.COUNT, getattr(r, key), None, Default(text, 0.0, reason))
        )
    fill = float(
        ledger.take(f"{path}.fill", units.SHARE, r.fill, None, Default("15 %", 0.3, "enough under a closed top"))
    )
    ledger.choose(f"{path}.lay", r.lay, "best", "least overhang, then least height")
    own = replace(
        start,
        walls=counts["walls"],
        top_layers=counts["top_layers"],
        bottom_layers=counts["bottom_layers"],
        fill=fill,
    )
    plain = HowRecord.model_validate(
        {**{k: getattr(r, k) for k in type(r).model_fields}, "cuts": None, "sectors": None}
    )
    return how_printed(plain, path, ledger, own, start.nozzle, start.line_width)


def how_printed(r: HowRecord, path: str, ledger: Ledger, usual: How, nozzle: float, line_width: float) -> How:
    """A part's own way of printing over the usual one. path: of the group `print` of the part.

    nozzle, line_width: of the workshop; another nozzle lays lines 1.1 times as wide as it is, half as high.
    """

    def count(key: str, before: int, least: int = 0) -> int:
        typed: Quantity | None = getattr(r, key)
        if typed is None:
            return before
        value = whole(ledger.take(f"{path}.{key}", units.COUNT, typed))
        if not least <= value <= MOST_WALLS:
            ledger.fault(f"{path}.{key}", "not a likely number", typed.origin.text, f"{least} to {MOST_WALLS}")
        return min(max(value, least), MOST_WALLS)

    own = usual.nozzle if r.nozzle is None else float(ledger.take(f"{path}.nozzle", units.LENGTH, r.nozzle))
    width, layer = usual.line_width, usual.layer_height
    if not np.isclose(own, usual.nozzle):
        width = line_width if np.isclose(own, nozzle) else LINE_PER_NOZZLE * own
        layer = own / 2
    if r.layer_height is not None:
        layer = float(ledger.take(f"{path}.layer_height", units.LENGTH, r.layer_height))
    if not 1e-5 <= layer < width:
        line = (r.layer_height or r.nozzle).origin.line if r.layer_height or r.nozzle else 0  # type: ignore[union-attr]
        ledger.fault(
            f"{path}.layer_height", "a layer must be lower than its line is wide, or it does not hold on the one below",
            f"{layer * 1e3:.4g} mm", f"under {width * 1e3:.3g} mm, usually {own * 500:.3g} mm", line,
        )  # fmt: skip
        layer = own / 2
    fill = usual.fill if r.fill is None else float(ledger.take(f"{path}.fill", units.SHARE, r.fill))
    walls = count("walls", usual.walls)
    if walls == 0 and fill == 0:
        ledger.fault(f"{path}.walls", "no walls and no fill: nothing would be printed", "0", "1 or more")
        walls = 1
    cuts = (1, 1, 1)
    if r.cuts is not None:
        x, y, z = (max(1, whole(q.si)) for q in r.cuts)
        cuts = (min(x, 20), min(y, 20), min(z, 20))
        ledger.origins[f"{path}.cuts"] = r.cuts[0].origin
        if any(not 1 <= whole(q.si) <= 20 for q in r.cuts):
            ledger.fault(f"{path}.cuts", "pieces along x, y and z", read=", ".join(q.origin.text for q in r.cuts),
                         accepted="three numbers from 1 to 20")  # fmt: skip
    return How(
        nozzle=own,
        layer_height=layer,
        line_width=width,
        walls=walls,
        top_layers=count("top_layers", usual.top_layers),
        bottom_layers=count("bottom_layers", usual.bottom_layers),
        fill=fill,
        lay=str(r.lay) if r.lay is not None else usual.lay,
        structural=usual.structural if r.structural is None else r.structural,
        cuts=cuts,
        sectors=count("sectors", 1, 1) if r.sectors is not None else 1,
        spares=count("spares", usual.spares),
    )
