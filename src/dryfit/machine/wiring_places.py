"""Where wires end and pass, as numbers: places, the ways of the branches, bundles of signal wires, connectors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dryfit.catalogue.rows import keys, row
from dryfit.design.fields import Word
from dryfit.design.sections.wiring import Connector as ConnectorRecord
from dryfit.design.sections.wiring import Run as RunRecord
from dryfit.design.sections.wiring import Wire as WireRecord
from dryfit.design.sections.wiring import Wiring as WiringRecord
from dryfit.ground import units
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Kind, Origin
from dryfit.ground.sources import practice
from dryfit.machine.control import Control
from dryfit.machine.ledger import Default, Ledger, whole
from dryfit.machine.power import Power

PACKS, MAIN = "packs", "main"
"""Names, beside those of the branches, of each pack's lead to the joint and of the line from there to the bus."""

GROUND, SPARE, RETURN = "ground", "spare", " return"
"""What a wire or a contact may carry beside branches and functions: 0 V of a signal; nothing; and the way back of a
branch, which is its name with this word behind it."""

LARGEST_WIRE = {
    "pin-2.54": 0.5e-6, "pin-3.96": 1.0e-6, "sealed-1.5": 2.5e-6, "blade-6.3": 6e-6, "power-pair-30": 4e-6,
    "power-pair-45": 6e-6, "bullet-60": 6e-6, "screw-2.5": 2.5e-6, "screw-6": 6e-6, "ring-m6": 16e-6,
}  # fmt: skip
"""Largest wire that contacts of each class take, m² (common practice of the classes, not a maker's figure)."""

Spot = tuple[float, float, float]


@dataclass(frozen=True)
class Way:
    """The way of one branch, of the packs' leads or of the main line. stops: places in order.  distance: along straight
    pieces between them, m.  colours: typed for supply and return, or ().  line: of the design file."""

    branch: str
    stops: tuple[str, ...]
    distance: float
    colours: tuple[str, ...]
    line: int


@dataclass(frozen=True)
class Bundle:
    """Signal wires that run together, one for each entry of `carries`. measured: the length was typed, and `distance`
    is what was typed, m.  area: of each, m2."""

    name: str
    stops: tuple[str, ...]
    distance: float
    measured: bool
    carries: tuple[str, ...]
    area: float
    colours: tuple[str, ...]
    line: int


@dataclass(frozen=True)
class Plug:
    """A connector. item: catalogue key, "" where none is named; title: in words.  rating: of one contact, A, and
    largest_wire that it takes, m2, NaN where not known.  contacts: what each carries.  rows: of contacts, numbered
    along each row.  keyed: it goes in one way round only.  mates: another that it could be put on, ""."""

    name: str
    at: str
    item: str
    title: str
    rating: float
    largest_wire: float
    contacts: tuple[str, ...]
    rows: int
    keyed: bool
    mates: str
    line: int


@dataclass(frozen=True)
class Reckoned:
    """What the checks of the supply reckon with for one pair of wires. length: one way, m; given: it was typed.
    connector: words of the connector named there, ""; largest_wire: that it takes, m2, NaN.  line: of the branch."""

    length: float
    given: bool
    connector: str
    largest_wire: float
    line: int


@dataclass(frozen=True)
class WiringPlaces:
    """Places by name (x, y, z, m), slack as a part of the way, tail at each end, m; ways by branch; what the checks
    reckon with by branch; logic_volts: of the controller's own pins, V."""

    places: Mapping[str, Spot]
    slack: float
    tail: float
    ways: Mapping[str, Way]
    bundles: tuple[Bundle, ...]
    plugs: tuple[Plug, ...]
    reckoned: Mapping[str, Reckoned]
    logic_volts: float


def resolve_wiring(
    r: WiringRecord, ledger: Ledger, power: Power, control: Control, origins: Mapping[str, Origin]
) -> WiringPlaces:
    """The section `wiring` as numbers. Faults that run across keys go to `ledger`.

    ledger: one of its own.  origins: of the machine, which tell what was typed at the branches.
    """
    spots = {name: _spot(point) for name, point in r.places.items()}
    reckoned = _reckoned(power, origins)
    names = _Names(tuple(spots), tuple(power.branches.names), tuple(control.names))
    slack = ledger.take(
        "wiring.slack", units.SHARE, r.slack, None,
        Default("10 %", 0.5, "bends, ties and a little to spare", practice("a tenth more than the straight way")),
    )  # fmt: skip
    tail = ledger.take(
        "wiring.tail", units.LENGTH, r.tail, None,
        Default("40 mm", 0.5, "stripping, crimping, and once more", practice("a tail for a second crimp")),
    )  # fmt: skip
    ways = _ways(r.runs, spots, names, power, ledger)
    if spots:
        _faults_of_routes(power, ways, reckoned, ledger)
    return WiringPlaces(
        places=spots,
        slack=float(slack),
        tail=float(tail),
        ways=ways,
        bundles=_bundles(r.wires, spots, names, ledger),
        plugs=_plugs(r.connectors, names, ledger),
        reckoned=reckoned,
        logic_volts=_logic_volts(control),
    )


@dataclass(frozen=True)
class _Names:
    places: tuple[str, ...]
    branches: tuple[str, ...]
    functions: tuple[str, ...]

    @property
    def carried(self) -> tuple[str, ...]:
        """Everything that a wire or a contact may carry."""
        back = tuple(b + RETURN for b in self.branches)
        return (*self.branches, *back, *self.functions, GROUND, SPARE)


_CARRIED = "a branch of `power`, that name with `return` behind it, a function of `control`, ground, spare"


def _spot(point: Sequence[object]) -> Spot:
    x, y, z = (float(getattr(p, "si", 0.0)) for p in point)
    return x, y, z


def _logic_volts(control: Control) -> float:
    """Volts of the board's pins, from its row; its supply where the row does not say."""
    for key in keys("controllers"):
        named = row("controllers", key)
        if named.name == control.board.name and "logic_volts" in named.quantities:
            return float(named.quantities["logic_volts"].si)
    return float(control.supply_voltage)


def _reckoned(power: Power, origins: Mapping[str, Origin]) -> dict[str, Reckoned]:
    """What the checks reckon with, for packs, main line and branches."""
    packs = [f"power.packs.lead_lengths[{n}]" for n in range(power.packs.count)]
    out = {
        PACKS: _one_reckoned(
            "power.packs.lead", max(float(x) for x in power.packs.lead_lengths), origins, packs, "power.packs"
        ),
        MAIN: _one_reckoned("power.main", float(power.main.length), origins, [], "power.main"),
    }
    b = power.branches
    for n, name in enumerate(b.names):
        out[name] = _one_reckoned(b.paths[n], float(b.length[..., n]), origins, [], f"{b.paths[n]}.name")
    return out


def _one_reckoned(
    path: str, length: float, origins: Mapping[str, Origin], others: Sequence[str], place: str
) -> Reckoned:
    given = any(k in origins and origins[k].kind is Kind.DESIGN for k in (f"{path}.length", *others))
    connector = origins.get(f"{path}.connector")
    key = connector.text if connector is not None else ""
    title = row("connectors", key).name if key in keys("connectors") else ""
    line = origins[place].line if place in origins else 0
    if not line:
        line = min((o.line for p, o in origins.items() if p.startswith(path + ".") and o.line), default=0)
    return Reckoned(length, given, title, LARGEST_WIRE.get(key, float("nan")), line)


def _ways(
    runs: Sequence[RunRecord], spots: Mapping[str, Spot], names: _Names, power: Power, ledger: Ledger
) -> dict[str, Way]:
    known = (PACKS, MAIN, *names.branches)
    ways: dict[str, Way] = {}
    for n, run in enumerate(runs):
        path, line, branch = f"wiring.runs[{n}]", run.branch.origin.line, str(run.branch)
        ledger.origins[f"{path}.branch"] = run.branch.origin
        if branch not in known:
            ledger.fault(
                f"{path}.branch", f"no branch named {branch!r}{nearest(branch, known)}", read=branch, line=line,
                accepted="packs, main, or the name of a branch of `power`",
            )  # fmt: skip
            continue
        if branch in ways:
            ledger.fault(
                f"{path}.branch", "a branch has one way only, and this one has a run already", read=branch, line=line,
                accepted="one run for each branch; places that it passes go under `by`",
            )  # fmt: skip
            continue
        before = _begins_at(branch, ways, power)
        stops = [run.from_ or (Word(before) if before else None), *run.by, run.to]
        if stops[0] is None or stops[-1] is None:
            end = "from" if stops[0] is None else "to"
            ledger.fault(
                f"{path}.{end}", f"a wire with no route: the run of {branch} lacks `{end}`", read=branch, line=line,
                accepted="`from` and `to`, each one of wiring.places",
            )  # fmt: skip
            continue
        seen = [s for s in stops if s is not None]
        distance = _along(seen, f"{path}", spots, ledger, line)
        two = 2 if branch in (PACKS, MAIN) or power.branches.own_return[names.branches.index(branch)] else 1
        colours = _colours(run.colours, two, path, "for the supply wire and the return wire", ledger, at_most=2)
        ways[branch] = Way(branch, tuple(str(s) for s in seen), distance, colours, line)
    return ways


def _begins_at(branch: str, ways: Mapping[str, Way], power: Power) -> str:
    """Where a run begins that does not say so: at the end of what feeds it, where that has a run above."""
    if branch == PACKS:
        return ""
    if branch == MAIN:
        above = PACKS
    else:
        parent = power.branches.parent[power.branches.names.index(branch)]
        above = MAIN if parent < 0 else power.branches.names[parent]
    return ways[above].stops[-1] if above in ways else ""


def _along(stops: Sequence[Word], path: str, spots: Mapping[str, Spot], ledger: Ledger, line: int) -> float:
    """Length of the straight pieces between places, m; NaN after a fault."""
    missing = False
    for stop in stops:
        if str(stop) not in spots:
            ledger.fault(
                path, f"no place named {str(stop)!r}{nearest(str(stop), spots)}", read=str(stop),
                accepted="one of wiring.places", line=stop.origin.line or line,
            )  # fmt: skip
            missing = True
    if missing:
        return float("nan")
    points = np.array([spots[str(s)] for s in stops])
    return float(np.sum(np.linalg.norm(np.diff(points, axis=0), axis=-1)))


def _colours(
    typed: Sequence[Word] | None, wires: int, path: str, one_each: str, ledger: Ledger, at_most: int = 0
) -> tuple[str, ...]:
    if typed is None:
        return ()
    colours = tuple(str(c) for c in typed)
    if not wires <= len(colours) <= max(wires, at_most):
        ledger.fault(
            f"{path}.colours", f"{len(colours)} colours for {wires} wires", read=", ".join(colours),
            accepted=f"{wires}, one {one_each}", line=typed[0].origin.line if typed else 0,
        )  # fmt: skip
        return ()
    return colours


def _faults_of_routes(power: Power, ways: Mapping[str, Way], reckoned: Mapping[str, Reckoned], ledger: Ledger) -> None:
    """A branch that is written in the file needs a way or a length; what is only implied has its listed default."""
    for name, path in zip(power.branches.names, power.branches.paths, strict=True):
        if path.endswith("]") and name not in ways and not reckoned[name].given:
            ledger.fault(
                f"{path}.length", f"a wire with no route: {name} has neither a length nor a run", read=name,
                accepted=f"`length` at the branch, or `branch: {name}` under wiring.runs with `from` and `to`",
                line=reckoned[name].line,
            )  # fmt: skip


def _carried(entries: Sequence[Word], path: str, names: _Names, ledger: Ledger) -> tuple[str, ...]:
    for n, entry in enumerate(entries):
        where = f"{path}[{n}]"
        if str(entry) not in names.carried:
            ledger.fault(
                where, f"nothing named {str(entry)!r} to carry{nearest(str(entry), names.carried)}", read=str(entry),
                accepted=_CARRIED, line=entry.origin.line,
            )  # fmt: skip
        elif str(entry) in names.branches and str(entry) in names.functions:
            ledger.fault(
                where, "both a branch and a function have this name, so that nobody knows which is meant",
                read=str(entry), accepted="different names in `power` and `control`", line=entry.origin.line,
            )  # fmt: skip
    return tuple(str(e) for e in entries)


def _bundles(
    records: Sequence[WireRecord], spots: Mapping[str, Spot], names: _Names, ledger: Ledger
) -> tuple[Bundle, ...]:
    out: list[Bundle] = []
    for n, w in enumerate(records):
        path, line, name = f"wiring.wires[{n}]", w.name.origin.line, str(w.name)
        ledger.origins[f"{path}.name"] = w.name.origin
        if name in [b.name for b in out]:
            ledger.fault(f"{path}.name", "two bundles of wires share a name", name, "each its own", line)
        if not w.carries:
            ledger.fault(f"{path}.carries", "a bundle without a wire", read=name, accepted=_CARRIED, line=line)
        area = ledger.take(
            f"{path}.area", units.AREA, w.area, None,
            Default("0.25 mm2", 0.0, "a signal wire that can still be crimped and pulled",
                    practice("0.25 mm² for signal wires inside a machine")),
        )  # fmt: skip
        stops = (w.from_, *w.by, w.to)
        distance = _along(stops, path, spots, ledger, line)
        measured = w.length is not None
        if w.length is not None:
            distance = float(ledger.take(f"{path}.length", units.LENGTH, w.length))
        elif distance == 0.0:
            ledger.fault(
                path, f"a wire with no route: {name} ends where it begins", read=f"from {w.from_} to {w.to}",
                accepted="two different places, or `length` as measured", line=line,
            )  # fmt: skip
        colours = _colours(w.colours, len(w.carries), path, "for each wire", ledger)
        carries = _carried(w.carries, f"{path}.carries", names, ledger)
        out.append(Bundle(name, tuple(str(s) for s in stops), distance, measured, carries, float(area), colours, line))
    return tuple(out)


def _plugs(records: Sequence[ConnectorRecord], names: _Names, ledger: Ledger) -> tuple[Plug, ...]:
    plugs = [_plug(c, n, names, ledger) for n, c in enumerate(records)]
    by_name: dict[str, Plug] = {}
    for n, p in enumerate(plugs):
        if p.name in by_name:
            ledger.fault(f"wiring.connectors[{n}].name", "two connectors share a name", p.name, "each its own", p.line)
        by_name.setdefault(p.name, p)
    for n, p in enumerate(plugs):
        if p.mates:
            _faults_of_mates(p, f"wiring.connectors[{n}].mates", by_name, ledger)
    return tuple(p if p.mates in by_name else replace(p, mates="") for p in plugs)


def _plug(c: ConnectorRecord, n: int, names: _Names, ledger: Ledger) -> Plug:
    path, line = f"wiring.connectors[{n}]", c.name.origin.line
    ledger.origins[f"{path}.name"] = c.name.origin
    kind = ledger.row(f"{path}.item", "connectors", c.item)
    if c.at is not None and str(c.at) not in names.places:
        ledger.fault(
            f"{path}.at", f"no place named {str(c.at)!r}{nearest(str(c.at), names.places)}", read=str(c.at),
            accepted="one of wiring.places", line=c.at.origin.line,
        )  # fmt: skip
    if not c.contacts:
        ledger.fault(
            f"{path}.contacts", "a connector without a contact", read=str(c.name), accepted=_CARRIED, line=line
        )
    rows = whole(ledger.take(f"{path}.rows", units.COUNT, c.rows, None, Default("1", 0.0, "one row of contacts")))
    if rows < 1 or len(c.contacts) % rows:
        ledger.fault(
            f"{path}.rows", f"{len(c.contacts)} contacts do not fill {rows} rows", read=str(rows), line=line,
            accepted="rows of equally many contacts; write `spare` for an empty one",
        )  # fmt: skip
        rows = 1
    if c.keyed is None:
        ledger.choose(f"{path}.keyed", None, "no", "nothing says that the shell is keyed")
    return Plug(
        name=str(c.name), at=str(c.at or ""), item=kind.key if kind else "",
        title=kind.name if kind else "connector",
        rating=float(kind.quantities["rated_current"].si) if kind else float("nan"),
        largest_wire=LARGEST_WIRE.get(kind.key, float("nan")) if kind else float("nan"),
        contacts=_carried(c.contacts, f"{path}.contacts", names, ledger), rows=rows, keyed=bool(c.keyed),
        mates=str(c.mates or ""), line=line,
    )  # fmt: skip


def _faults_of_mates(p: Plug, path: str, by_name: Mapping[str, Plug], ledger: Ledger) -> None:
    others = [name for name in by_name if name != p.name]
    if p.mates not in others:
        ledger.fault(
            path, f"no other connector named {p.mates!r}{nearest(p.mates, others)}", read=p.mates, line=p.line,
            accepted="the name of another connector",
        )  # fmt: skip
        return
    other = by_name[p.mates]
    if (len(other.contacts), other.rows) != (len(p.contacts), p.rows):
        ledger.fault(
            path, f"{p.name} has {len(p.contacts)} contacts and {other.name} has {len(other.contacts)}, so that they "
            "do not fit on each other", read=p.mates, accepted="connectors of the same shape", line=p.line,
        )  # fmt: skip
