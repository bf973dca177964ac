"""The tree of branches as numbers: wires, loads, regulators, and the faults a tree can have."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.design.fields import Word
from dryfit.design.sections.power import Branch as BranchRecord
from dryfit.design.sections.power import HoldUp, Regulator
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Array, Num, Quantity
from dryfit.machine.ledger import Default, Ledger
from dryfit.machine.wiring import resolve_run

BUS = "bus"
FEEDS = ("motors", "servos", "logic", "strips")


@dataclass(frozen=True)
class Branches:
    """B branches in the order of the file. SI, numbers (..., B), infinite ratings where a thing is not there.

    parent, returns_to: index of the branch it starts from and whose end its return joins, -1 the bus.
    own_return: False where it shares another's return wire.  paths: key of each branch in the design file.
    per_length, temperature: of the wire, resistance at 20 degC.  wire: resistance of one conductor in use.
    supply, back: resistance of the supply conductor with fuse and contact, and of the return with contact.
    feeds: what hangs at the end ("motors", "strip NAME", ... or "").  shared: meant to feed together with another.
    fused: whether it has a fuse of its own.
    current, load_power, conductance: loads of its own.  load_voltage: what the load wants, NaN where not said.
    regulated, types: whether a regulator sits at the end and which; output ... quiescent: its numbers, NaN without.
    capacitance, fed_back_energy: on the output, NaN where not given.  hold_up, diode: capacitor and diode before it.
    """

    names: tuple[str, ...]
    paths: tuple[str, ...]
    parent: tuple[int, ...]
    returns_to: tuple[int, ...]
    own_return: tuple[bool, ...]
    feeds: tuple[str, ...]
    shared: tuple[bool, ...]
    fused: tuple[bool, ...]
    area: Array
    length: Array
    per_length: Array
    temperature: Array
    wire: Array
    supply: Array
    back: Array
    fuse: Array
    interrupt: Array
    ampacity: Array
    insulation: Array
    bundled: Array
    contact_rating: Array
    current: Array
    load_power: Array
    conductance: Array
    load_voltage: Array
    regulated: tuple[bool, ...]
    types: tuple[str, ...]
    output: Array
    rated_current: Array
    efficiency: Array
    dropout: Array
    min_input: Array
    max_input: Array
    quiescent: Array
    capacitance: Array
    fed_back_energy: Array
    hold_up: Array
    diode: Array


def with_implied(
    records: list[BranchRecord], strips: Sequence[str], has_servos: bool, ledger: Ledger
) -> list[BranchRecord]:
    """The branches as written, and one from the bus for each kind of load that none of them feeds."""
    fed = {str(r.feeds or "").partition(" ")[0].rstrip("s") for r in records}
    wanted: list[tuple[str, str]] = [("motors", ""), ("logic", "step-down-5v-3a")]
    if has_servos:
        wanted.append(("servos", "step-down-6v-20a"))
    if strips and "strips" not in [str(r.feeds) for r in records]:
        words = {str(r.feeds) for r in records}
        left = [name for name in strips if f"strip {name}" not in words]
        wanted += (
            [(f"strip {n}", "step-down-5v-20a") for n in left]
            if words & {f"strip {n}" for n in strips}
            else [("strips", "step-down-5v-20a")]
        )
    out = list(records)
    for feeds, regulator in wanted:
        if feeds in ("motors", "logic", "servos") and feeds.rstrip("s") in fed:
            continue
        supply = Regulator(item=Word(regulator)) if regulator else None
        out.append(BranchRecord(name=Word(f"{feeds} (implied)"), feeds=Word(feeds), regulator=supply))
    return out


def index_of(word: Word | None, names: list[str], path: str, ledger: Ledger) -> int:
    """The branch that `word` names, -1 for the bus; a name that does not exist becomes a fault."""
    if word is None:
        return -1
    ledger.origins[path] = word.origin
    if str(word) == BUS:
        return -1
    if str(word) in names:
        return names.index(str(word))
    ledger.fault(
        path,
        f"no branch named {str(word)!r}{nearest(str(word), [BUS, *names])}",
        read=str(word),
        accepted="bus or the name of a branch",
        line=word.origin.line,
    )
    return -1


def resolve_branches(records: list[BranchRecord], written: int, ledger: Ledger, strips: Sequence[str]) -> Branches:
    names = [str(r.name) for r in records]
    paths = [f"power.branches[{n}]" if n < written else f"power.branches.{names[n]}" for n in range(len(records))]
    for n, r in enumerate(records):
        ledger.origins[f"{paths[n]}.name"] = r.name.origin
        if names[n] == BUS or names[n] in names[:n]:
            ledger.fault(f"{paths[n]}.name", "two branches share a name", read=names[n], line=r.name.origin.line)
    parent = [index_of(r.from_, names, f"{paths[n]}.from", ledger) for n, r in enumerate(records)]
    _faults_of_loops(parent, names, paths, "from", ledger)
    backs = [
        parent[n] if r.returns_with is None else index_of(r.returns_with, names, f"{paths[n]}.returns_with", ledger)
        for n, r in enumerate(records)
    ]
    _faults_of_loops(backs, names, paths, "returns_with", ledger)
    _faults_of_feeds(records, paths, ledger, strips)
    runs = [resolve_run(r, p, ledger, "1.5 mm2", "500 mm") for r, p in zip(records, paths, strict=True)]
    own = [r.returns_with is None for r in records]

    def side(read: str, absent: float = np.nan) -> Array:
        return stack(
            [_plain(ledger, f"{p}.{read}", getattr(r, read), absent) for r, p in zip(records, paths, strict=True)]
        )

    regulators = [_regulator(r.regulator, f"{p}.regulator", ledger) for r, p in zip(records, paths, strict=True)]
    for n, r in enumerate(records):
        _faults_of_rail(n, parent, regulators, r, paths[n], ledger)
    hold = [_hold_up(r.hold_up, f"{p}.hold_up", ledger) for r, p in zip(records, paths, strict=True)]
    insulation = [
        ledger.take(f"{p}.insulation_temperature", units.TEMPERATURE, r.insulation_temperature, None,
                    Default("70 degC", 0.0, "PVC insulation"))
        for r, p in zip(records, paths, strict=True)
    ]  # fmt: skip
    bundled = [
        ledger.take(f"{p}.bundled", units.COUNT, r.bundled, None, Default("1", 0.0, "not bundled with loaded wires"))
        for r, p in zip(records, paths, strict=True)
    ]
    for r, p in zip(records, paths, strict=True):
        if r.fed_back_energy is not None and r.capacitance is None:
            # What takes the energy back cannot be guessed: the check says "unknown" and which line is missing.
            ledger.take(f"{p}.capacitance", units.CAPACITANCE, None)
    resistive = side("load_resistance", absent=np.inf)
    return Branches(
        names=tuple(names), paths=tuple(paths), parent=tuple(parent), returns_to=tuple(backs), own_return=tuple(own),
        feeds=tuple(str(r.feeds or "") for r in records), shared=tuple(bool(r.shared) for r in records),
        fused=tuple(r.fuse is not None for r in records),
        area=stack([x.area for x in runs]), length=stack([x.length for x in runs]),
        per_length=stack([x.per_length for x in runs]), temperature=stack([x.temperature for x in runs]),
        wire=stack([x.wire for x in runs]),
        supply=stack([x.wire + x.contact + x.fuse_resistance for x in runs]),
        back=stack([(x.wire + x.contact) * (1.0 if o else 0.0) for x, o in zip(runs, own, strict=True)]),
        fuse=stack([x.fuse for x in runs]), interrupt=stack([x.interrupt for x in runs]),
        ampacity=stack([x.ampacity for x in runs]), insulation=stack(insulation), bundled=stack(bundled),
        contact_rating=stack([x.contact_rating for x in runs]),
        current=side("current", absent=0.0), load_power=side("load_power", absent=0.0),
        conductance=1.0 / np.where(resistive > 0, resistive, np.nan),
        load_voltage=side("load_voltage"), regulated=tuple(x is not None for x in regulators),
        types=tuple("" if x is None else x.type for x in regulators),
        **{key: stack([np.nan if x is None else getattr(x, key) for x in regulators]) for key in _REGULATOR_NUMBERS},
        capacitance=side("capacitance"), fed_back_energy=side("fed_back_energy"),
        hold_up=stack([c for c, _ in hold]), diode=stack([d for _, d in hold]),
    )  # fmt: skip


def _plain(ledger: Ledger, path: str, typed: Quantity | None, absent: float) -> Num:
    """A number that may be absent without being missed: no origin where it is not typed."""
    if typed is None:
        return absent
    ledger.origins[path] = typed.origin
    if typed.spread is not None:
        ledger.spreads[path] = typed.spread
    return typed.si


@dataclass(frozen=True)
class _Supply:
    type: str
    output: Num
    rated_current: Num
    efficiency: Num
    dropout: Num
    min_input: Num
    max_input: Num
    quiescent: Num


_REGULATOR_NUMBERS = ("output", "rated_current", "efficiency", "dropout", "min_input", "max_input", "quiescent")


def _regulator(r: Regulator | None, path: str, ledger: Ledger) -> _Supply | None:
    if r is None:
        return None
    named = ledger.row(f"{path}.item", "regulators", r.item)
    kind = named.words["type"] if named is not None else "step-down"

    def take(key: str, dimension: units.Dimension, text: str, spread: float = 0.1) -> Num:
        reason = "no regulator named: a step-down module is assumed"
        return ledger.take(f"{path}.{key}", dimension, getattr(r, key), named, Default(text, spread, reason))

    efficiency = take("efficiency", units.PERCENT, "88 %", 0.04)
    if not np.all(np.asanyarray(efficiency) > 0):
        ledger.fault(f"{path}.efficiency", "a regulator that passes nothing on", accepted="more than 0 %")
    return _Supply(
        type=ledger.choose(f"{path}.type", r.type, kind, "the type of the regulator named"),
        output=take("output", units.VOLTAGE, "5 V", 0.03),
        rated_current=take("current", units.CURRENT, "5 A"),
        efficiency=efficiency,
        dropout=take("dropout", units.VOLTAGE, "1 V", 0.5),
        min_input=take("min_input", units.VOLTAGE, "7 V"),
        max_input=take("max_input", units.VOLTAGE, "28 V"),
        quiescent=take("quiescent", units.CURRENT, "10 mA", 0.5),
    )


def _hold_up(r: HoldUp | None, path: str, ledger: Ledger) -> tuple[Num, Num]:
    if r is None:
        return 0.0, 0.0
    reason = "a diode and a capacitor before the regulator"
    return (
        ledger.take(f"{path}.capacitance", units.CAPACITANCE, r.capacitance, None, Default("1000 uF", 0.2, reason)),
        ledger.take(f"{path}.diode", units.VOLTAGE, r.diode, None, Default("0.4 V", 0.3, "a low-drop diode")),
    )


def _faults_of_loops(to: list[int], names: list[str], paths: list[str], key: str, ledger: Ledger) -> None:
    """A branch that leads back to itself is a fault; it is then hung on the bus so that reading can go on."""
    for n in range(len(to)):
        chain, at = [n], to[n]
        while at >= 0 and at not in chain:
            chain.append(at)
            at = to[at]
        if at == n:
            words = " from ".join(names[k] for k in [*chain, n])
            ledger.fault(f"{paths[n]}.{key}", f"the branches run in a loop: {words}", accepted="one nearer the bus")
            to[n] = -1


def _faults_of_feeds(records: list[BranchRecord], paths: list[str], ledger: Ledger, strips: Sequence[str]) -> None:
    seen: dict[str, int] = {}
    for n, r in enumerate(records):
        if r.feeds is None:
            continue
        word, line = str(r.feeds), r.feeds.origin.line
        ledger.origins[f"{paths[n]}.feeds"] = r.feeds.origin
        kind, _, name = word.partition(" ")
        if word not in FEEDS and not (kind == "strip" and name):
            ledger.fault(
                f"{paths[n]}.feeds", f"nothing known by that name{nearest(word, FEEDS)}", read=word,
                accepted="motors, servos, logic, strips, strip NAME", line=line,
            )  # fmt: skip
        elif kind == "strip" and strips and name not in strips:
            ledger.fault(f"{paths[n]}.feeds", f"no strip named {name!r}{nearest(name, strips)}", read=word, line=line)
        if kind in ("strip", "strips") and word in seen and not (r.shared and records[seen[word]].shared):
            ledger.fault(
                f"{paths[n]}.feeds", f"{word} is fed by {records[seen[word]].name} already", read=word,
                accepted="`shared: yes` on both branches where both are meant to feed it", line=line,
            )  # fmt: skip
        seen.setdefault(word, n)


def _faults_of_rail(
    n: int, parent: list[int], supplies: list[_Supply | None], r: BranchRecord, path: str, ledger: Ledger
) -> None:
    """A step-down or linear regulator behind another cannot give more than that one does."""
    here = supplies[n]
    at = parent[n]
    for _ in supplies:
        if at < 0 or supplies[at] is not None:
            break
        at = parent[at]
    above = supplies[at] if at >= 0 else None
    if here is None or above is None or here.type == "step-up":
        return
    if not np.all(np.asanyarray(here.output) < np.asanyarray(above.output)):
        ledger.fault(
            f"{path}.regulator.output",
            f"a rail above its source: a {here.type} regulator cannot lift what {r.from_} gives",
            accepted="an output below the source, or `type: step-up`",
        )
