"""The wire list: every wire with its number, both ends, length to cut, colour, fittings and labels; what to buy.

A wire's number is a letter for what it belongs to (p: lead of a pack, m: main line, b: branch, s: bundle of signal
wires), its place in the design file, and a letter for the conductor: `b3a` is the supply wire of the third branch and
`b3b` its way back. Where a connector parts it on its way, the pieces are `b3a1` and `b3a2`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from dryfit.ground.units import awg_area, show
from dryfit.machine.machine import Machine
from dryfit.machine.wiring_places import GROUND, MAIN, PACKS, RETURN, SPARE, Bundle, Plug, Way, WiringPlaces
from dryfit.making.connector_faults import connector_faults, nets_of, remedies, swapped, usual_volts
from dryfit.making.pin_map import pin_lines, pin_notes
from dryfit.making.records_lists import ConnectorMap, Contact, WireLine, WiringLists
from dryfit.making.wire_notes import Wired, wire_notes

STEP = 0.01
"""Lengths to cut are rounded up to this, m."""

ROLL_STEP = 0.5
MORE = 0.1
"""Wire is bought in steps of half a metre, with a tenth more than is cut (common practice)."""

SUPPLY_COLOURS = ("red", "orange", "brown", "pink", "white")
"""Of supply wires: at the volts of the packs, then one for each regulated rail in the order of their volts (red and
black for + and - are common practice in vehicles and models)."""

RETURN_COLOUR = "black"
SIGNAL_COLOURS = ("blue", "violet", "white", "grey", "turquoise", "pink", "brown", "orange")
"""Of the signals of a bundle, in order. Green and yellow are left out: together they are kept for the protective
conductor (EN 60204-1, 13.2.2), such as that of the charger's mains lead."""

FERRULES = {0.5: "white", 0.75: "grey", 1.0: "red", 1.5: "black", 2.5: "blue", 4.0: "grey", 6.0: "yellow",
            10.0: "red", 16.0: "blue"}  # fmt: skip
"""Colour of the sleeve of a ferrule by cross-section, mm2 (DIN 46228-4)."""

_RING_FROM = 10e-6
_CRIMPED_TO = 0.5e-6
_LETTERS = "abcdefghijklmnopqrstuvwxyz"


def wiring_lists(
    m: Machine, places: WiringPlaces, currents: Mapping[str, float], volts: Mapping[str, float] | None = None
) -> WiringLists:
    """Everything that the wiring bench needs.

    currents: largest lasting current by branch, and under `main` and `packs` (of one pack; without it an equal share of
    the main line's), A; a bundle's own name gives that of its supply wires.  volts: at the end of each branch; without
    it what regulators and packs give without a load.
    """
    nominal = usual_volts(m.power)
    at_ends = {**nominal, **(volts or {})}
    pieces = tuple(_pieces(m, places, currents))
    wires = tuple(p.line for p in pieces)
    pins = pin_lines(m.control, m.light, places, wires, m.origins)
    return WiringLists(
        wires=wires,
        connectors=_connectors(m, places, pieces, at_ends),
        board=m.control.board.name,
        pins=pins,
        rolls=_rolls(wires),
        fittings=_fittings(places, wires),
        notes=(_colour_note(m), *wire_notes(m, places, pieces, currents), *pin_notes(m.control, places)),
    )


@dataclass(frozen=True)
class _Conductor:
    """One conductor of a run. number: without the piece."""

    number: str
    net: str
    colour: str
    area: float
    current: float
    fuse: float


@dataclass(frozen=True)
class _Route:
    """What a bundle of conductors follows. exact: the length was measured along the harness, so that nothing is added
    for bends.  fitting: connector named at its branch, and whether it sits at the beginning."""

    bundle: str
    stops: tuple[str, ...]
    distance: float
    exact: bool
    line: int
    fitting: str = ""
    fitted_at_begin: bool = False


def _pieces(m: Machine, places: WiringPlaces, currents: Mapping[str, float]) -> Iterator[Wired]:
    p, b = m.power, m.power.branches
    unknown = float("nan")
    route = _route(PACKS, places, "pack", "joint")
    each = currents.get(PACKS, currents.get(MAIN, unknown) / p.packs.count)
    for n in range(p.packs.count):
        fuse = float(p.packs.lead_fuse)
        pair = _pair(f"p{n + 1}", f"pack {n + 1}", float(p.packs.lead_area), fuse, each)
        yield from _cut(route, _coloured(pair, places.ways.get(PACKS), "red"), places)
    pair = _pair("m1", "main", float(p.main.area), float(p.main.fuse), currents.get(MAIN, unknown))
    yield from _cut(_route(MAIN, places, "joint", "bus"), _coloured(pair, places.ways.get(MAIN), "red"), places)
    colours = rail_colours(m)
    for n, name in enumerate(b.names):
        parent = "bus" if b.parent[n] < 0 else f"end of {b.names[b.parent[n]]}"
        amps = currents.get(name, unknown)
        pair = _pair(f"b{n + 1}", name, float(b.area[..., n]), float(b.fuse[..., n]), amps)
        if not b.own_return[n]:
            pair = pair[:1]
        entering = "bus" if b.parent[n] < 0 else b.names[b.parent[n]]
        yield from _cut(
            _route(name, places, parent, f"end of {name}"),
            _coloured(pair, places.ways.get(name), colours[entering]), places,
        )  # fmt: skip
    for n, bundle in enumerate(places.bundles):
        yield from _cut(_bundle_route(bundle), _of_bundle(bundle, f"s{n + 1}", colours, currents), places)


def rail_colours(m: Machine) -> dict[str, str]:
    """Colour of the supply wires that start from the bus and from the end of each branch: one for each voltage, the
    packs' first."""
    volts = usual_volts(m.power)
    packs = float(m.power.packs.nominal)
    rails = sorted({v for v in volts.values() if v != packs}, reverse=True)
    of = {packs: SUPPLY_COLOURS[0]}
    for n, v in enumerate(rails):
        of[v] = SUPPLY_COLOURS[1 + n % (len(SUPPLY_COLOURS) - 1)]
    return {"bus": of[packs], **{name: of[v] for name, v in volts.items()}}


def _colour_note(m: Machine) -> str:
    """Which colour stands for which volts, where nothing else is typed."""
    volts, packs = usual_volts(m.power), float(m.power.packs.nominal)
    of = {packs: SUPPLY_COLOURS[0]} | {volts[name]: colour for name, colour in rail_colours(m).items() if name in volts}
    said = ", ".join(f"{colour} {v:.3g} V" for v, colour in sorted(of.items(), reverse=True))
    return (
        f"Colours where none are typed: {said}, {RETURN_COLOUR} every way back and ground, others for signals; never "
        "green-and-yellow, which means protective earth."
    )


def _route(branch: str, places: WiringPlaces, begin: str, end: str) -> _Route:
    """The way of a branch; without one the length that the checks reckon with, between ends in words."""
    reckoned, at_begin = places.reckoned[branch], branch == PACKS
    way = places.ways.get(branch)
    if way is None:
        return _Route(branch, (begin, end), reckoned.length, True, reckoned.line, reckoned.connector, at_begin)
    return _Route(branch, way.stops, way.distance, False, way.line, reckoned.connector, at_begin)


def _bundle_route(b: Bundle) -> _Route:
    return _Route(b.name, b.stops, b.distance, b.measured, b.line)


def _pair(number: str, net: str, area: float, fuse: float, current: float) -> tuple[_Conductor, ...]:
    return (
        _Conductor(f"{number}a", net, "", area, current, fuse),
        _Conductor(f"{number}b", net + RETURN, RETURN_COLOUR, area, current, float("inf")),
    )


def _coloured(pair: Sequence[_Conductor], way: Way | None, supply: str) -> tuple[_Conductor, ...]:
    typed = way.colours if way is not None and way.colours else (supply, RETURN_COLOUR)
    return tuple(
        _Conductor(c.number, c.net, colour, c.area, c.current, c.fuse) for c, colour in zip(pair, typed, strict=False)
    )


def _of_bundle(
    b: Bundle, number: str, rails: Mapping[str, str], currents: Mapping[str, float]
) -> tuple[_Conductor, ...]:
    out: list[_Conductor] = []
    signals = 0
    for n, net in enumerate(b.carries):
        supplied = net in rails or net.removesuffix(RETURN) in rails
        if net == GROUND or (supplied and net.endswith(RETURN)):
            colour = RETURN_COLOUR
        elif supplied:
            colour = rails[net]
        else:
            free = [c for c in SIGNAL_COLOURS if c not in (rails[x] for x in b.carries if x in rails)]
            colour, signals = free[signals % len(free)], signals + 1
        current = currents.get(b.name, float("nan")) if supplied else float("nan")
        typed = b.colours[n] if b.colours else colour
        letter = _LETTERS[n] if n < len(_LETTERS) else f"-{n + 1}"
        out.append(_Conductor(f"{number}{letter}", net, typed, b.area, current, float("inf")))
    return tuple(out)


def _cut(route: _Route, conductors: Sequence[_Conductor], places: WiringPlaces) -> Iterator[Wired]:
    """The wires of a route: in as many pieces as connectors on the way make of it."""
    nets = tuple(c.net for c in conductors)
    parts = _parts(route, nets, places)
    for c in conductors:
        for n, (stops, distance) in enumerate(parts):
            number = c.number if len(parts) == 1 else f"{c.number}{n + 1}"
            length, way = cut_length(distance, route.exact, places.slack, places.tail)
            begin, end = stops[0], stops[-1]
            at_begin, at_end = plug_at(begin, nets, places), plug_at(end, nets, places)
            first, last = n == 0, n == len(parts) - 1
            crimped = c.area <= _CRIMPED_TO
            line = WireLine(
                number=number, name=c.net, bundle=route.bundle, begins=begin, ends=end, area=c.area,
                gauge=gauge(c.area), colour=c.colour, length=length, way=f"{' → '.join(stops)}: {way}",
                current=c.current, fuse=c.fuse if first else float("inf"),
                begin_fitting=_fitting(at_begin, c, route.fitting if first and route.fitted_at_begin else "", crimped),
                end_fitting=_fitting(
                    at_end, c, route.fitting if last and not route.fitted_at_begin else "", crimped
                ),
                labels=(f"{number} {c.net}\nat {begin}, to {end}", f"{number} {c.net}\nat {end}, from {begin}"),
                line=route.line,
            )  # fmt: skip
            yield Wired(line, route.exact, begin, end, at_begin, at_end)


def _parts(route: _Route, nets: Sequence[str], places: WiringPlaces) -> tuple[tuple[tuple[str, ...], float], ...]:
    """Stops and length of each piece; one where no connector parts it, or where its length was measured as a whole."""
    if route.exact:
        return ((route.stops, route.distance),)
    parts, start = [], 0
    for n in range(1, len(route.stops)):
        if n == len(route.stops) - 1 or plug_at(route.stops[n], nets, places) is not None:
            stops = route.stops[start : n + 1]
            points = [places.places[s] for s in stops]
            parts.append((stops, sum(math.dist(a, b) for a, b in pairwise(points))))
            start = n
    return tuple(parts)


def plug_at(place: str, nets: Sequence[str], places: WiringPlaces) -> Plug | None:
    """The connector at a place that wires with these nets end on: one that carries the whole pair of a branch, or a
    signal of the bundle."""
    pair = any(net.endswith(RETURN) for net in nets) or (len(nets) == 1 and nets[0] in places.reckoned)
    best, most = None, 0
    for plug in places.plugs:
        shared = {n for n in nets if n in plug.contacts and n != SPARE}
        enough = shared == set(nets) if pair else bool(shared - {GROUND} - set(places.reckoned))
        if plug.at == place and enough and len(shared) > most:
            best, most = plug, len(shared)
    return best


def cut_length(distance: float, exact: bool, slack: float, tail: float) -> tuple[float, str]:
    """Length to cut, m, rounded up to 10 mm, and how it came about: the way with slack, and a tail at both ends."""
    whole = distance * (1.0 if exact else 1.0 + slack) + 2.0 * tail
    length = math.ceil(whole / STEP - 1e-6) * STEP
    tails = f" + 2 × {show(tail, 'm')} tails" if tail else ""
    way = f"{distance * 1e3:.0f} mm"
    return length, f"{way} as typed{tails}" if exact else f"{way} + {show(slack, '%')} slack{tails}"


def gauge(area: float) -> str:
    """Cross-section, m2, as the trade writes it, with the nearest American gauge that is sold (the even numbers)."""
    sold = [*(str(n) for n in range(0, 41, 2)), "2/0", "4/0"]
    near = min(sold, key=lambda n: abs(math.log(awg_area(n) / area)))
    return f"{show(area, 'm2')} (AWG {near})"


def ferrule(area: float) -> str:
    """The ferrule for stranded wire of a cross-section, m2, with the colour of its sleeve where it is a usual size."""
    for size, colour in FERRULES.items():
        if math.isclose(area * 1e6, size, rel_tol=0.01):
            return f"ferrule {size:g} mm², {colour} sleeve"
    return f"ferrule for {show(area, 'm2')}"


def _fitting(plug: Plug | None, c: _Conductor, named: str, crimped: bool) -> str:
    if plug is not None and c.net in plug.contacts:
        numbers = [str(n + 1) for n, net in enumerate(plug.contacts) if net == c.net]
        return f"{plug.name} {' + '.join(numbers)}"
    if named:
        return named
    if c.area >= _RING_FROM * (1 - 1e-9):
        return f"ring terminal for {show(c.area, 'm2')}"
    return "crimped contact at 2.54 mm" if crimped else ferrule(c.area)


def _connectors(
    m: Machine, places: WiringPlaces, pieces: Sequence[Wired], volts: Mapping[str, float]
) -> tuple[ConnectorMap, ...]:
    nets = {p.name: nets_of(p, places, m.power, m.control, m.light, volts) for p in places.plugs}
    by_name = {p.name: p for p in places.plugs}
    out = []
    for plug in places.plugs:
        faults = list(connector_faults(nets[plug.name], plug.rows, plug.keyed))
        if plug.mates:
            faults += swapped(plug, nets[plug.name], by_name[plug.mates], nets[plug.mates])
        faults.sort(key=lambda f: not f[1])
        contacts = []
        for n, net in enumerate(nets[plug.name]):
            on = [
                w.line.number for w in pieces
                if w.line.name == plug.contacts[n] and plug.name in (_name(w.at_begin), _name(w.at_end))
            ]  # fmt: skip
            wanted = net.volts if net.kind in ("supply", "signal") else 0.0 if net.kind == "ground" else float("nan")
            contacts.append(Contact(n + 1, plug.contacts[n], wanted, " / ".join(on)))
        out.append(
            ConnectorMap(
                name=plug.name,
                at=plug.at,
                item=plug.item,
                rows=plug.rows,
                contacts=tuple(contacts),
                faults=tuple(faults),
                line=plug.line,
                title=plug.title,
                keyed=plug.keyed,
                mates=plug.mates,
                remedies=remedies(plug, nets[plug.name], faults),
            )
        )
    return tuple(out)


def _name(plug: Plug | None) -> str:
    return plug.name if plug is not None else ""


def _rolls(wires: Sequence[WireLine]) -> tuple[tuple[str, float], ...]:
    """Metres to buy of each wire, by cross-section and colour."""
    cut: dict[tuple[float, str], float] = {}
    for w in wires:
        cut[(w.area, w.colour)] = cut.get((w.area, w.colour), 0.0) + w.length
    return tuple(
        (f"{gauge(area)}, {colour}", math.ceil(length * (1 + MORE) / ROLL_STEP - 1e-9) * ROLL_STEP)
        for (area, colour), length in sorted(cut.items(), key=lambda kv: (-kv[0][0], kv[0][1]))
    )


def _fittings(places: WiringPlaces, wires: Sequence[WireLine]) -> tuple[tuple[str, int], ...]:
    """What is put on the ends, and how many: contacts and shells of connectors for both halves."""
    count: dict[str, int] = {}

    def add(what: str, number: int) -> None:
        count[what] = count.get(what, 0) + number

    plugs = {p.name: p for p in places.plugs}
    titles = {r.connector for r in places.reckoned.values() if r.connector}
    for w in wires:
        for fitting in (w.begin_fitting, w.end_fitting):
            if any(fitting.startswith(name + " ") for name in plugs):
                continue
            # A connector in a branch has two halves; other fittings stand alone.
            add(fitting, 2 if fitting in titles else 1)
    for plug in places.plugs:
        used = sum(1 for c in plug.contacts if c != SPARE)
        add(f"contact: {plug.title}", 2 * used)
        add(f"shell for {len(plug.contacts)} contacts: {plug.title}", 2)
    return tuple(sorted(count.items()))
