"""Wires, fuses and connectors: each must carry its load, and the fuse must give way before the wire."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, by_rule, calculated, finding
from dryfit.ground.quantity import Array, Num
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.brief import Brief
from dryfit.machine.power import Power
from dryfit.machine.wiring import area_that_carries, fuse_not_above, fuse_not_below
from dryfit.trades.power.checks_supply import LASTING_LABELS, PEAK_LABELS, Supply, lasting, short_lived
from dryfit.trades.power.checks_terms import (
    AMPACITY,
    FUSE,
    OHM,
    TREE,
    Origins,
    by_case,
    given,
    of_case,
    pack_terms,
    rating_for,
    spoken,
    values,
)
from dryfit.trades.power.formulas import ambient_factor, group_factor

REGULATOR_LIMIT = 1.3
"""A regulator's own limit acts at about this multiple of its rated current."""
_LIMIT = by_rule("k", "own limit over rated current", REGULATOR_LIMIT, "1", practice("a regulator's own current limit"))
_PVC = by_rule("T_ins", "insulation stands", 343.15, "K", practice("PVC insulation"))
_FIRE = "An overloaded wire can set fire to what it touches; have the wiring looked over by someone who is trained."
_GROUPS = memory("IEC 60364-5-52, table B.52.17", "bundled circuits")
_AS_GIVEN = (0.0, practice("the limit is the habit"))


@dataclass(frozen=True)
class Place:
    """A run of wire: a branch, the main line or the packs' leads. current: (..., X) over the supply's cases.

    fuse: None where it has none of its own.  guard: what cuts it off, with its workings."""

    name: str
    path: str
    current: Array
    loads: tuple[Term, ...]
    area: Num
    ampacity: Num
    insulation: Term
    bundled: Num
    fuse: Num | None
    interrupt: Num
    contact_rating: Num
    guard: Term


def places(origins: Origins, power: Power, supply: Supply) -> list[Place]:
    """Every run of wire of the machine."""
    b, s, packs = power.branches, supply.solution, power.packs
    source = supply.source
    found = [
        Place(
            name, path, s.current[..., n, :], (*supply.behind[n], *source), b.area[..., n],
            b.ampacity[..., n],
            given("T_ins", "insulation stands", b.insulation[..., n], "K", origins, f"{path}.insulation_temperature"),
            b.bundled[..., n], b.fuse[..., n] if b.fused[n] else None, b.interrupt[..., n], b.contact_rating[..., n],
            _guard(origins, power, n),
        )
        for n, (name, path) in enumerate(zip(b.names, b.paths, strict=True))
    ]  # fmt: skip
    loads = (*supply.behind[-1], *source)
    main = _main_guard(origins, power)
    lead = main
    if power.packs_fused:
        lead = given("I_n", "fuse of a pack's lead", packs.lead_fuse, "A", origins, "power.packs.lead.fuse")
    return [
        *found,
        Place("main line", "power.main", s.source_current, loads, power.main.area, power.main.ampacity, _PVC, 1.0,
              power.main.fuse if power.main_fused else None, power.main.interrupt, power.main.contact_rating, main),
        Place("pack lead", "power.packs.lead", supply.pack_current, loads, packs.lead_area, packs.lead_ampacity, _PVC,
              1.0, packs.lead_fuse if power.packs_fused else None, packs.lead_interrupt, packs.lead_contact_rating,
              lead),
    ]  # fmt: skip


def _guard(origins: Origins, power: Power, n: int) -> Term:
    """What limits the current in branch n: the nearest fuse or regulator towards the packs."""
    b, at = power.branches, n
    while at >= 0:
        if b.fused[at]:
            return given("I_n", f"fuse of {b.names[at]}", b.fuse[..., at], "A", origins, f"{b.paths[at]}.fuse")
        at = b.parent[at]
        if at >= 0 and b.regulated[at]:
            name, rated = b.names[at], b.rated_current[..., at]
            inner = given("I_r", f"rated current of {name}", rated, "A", origins, f"{b.paths[at]}.regulator.current")
            return calculated(
                "I_n", f"own limit of the regulator of {name}", rated * REGULATOR_LIMIT, "A", "k I_r", (_LIMIT, inner)
            )
    return _main_guard(origins, power)


def _main_guard(origins: Origins, power: Power) -> Term:
    """The main fuse, else the packs' fuses together; without any, the main fuse that the ledger noted as missing."""
    if power.main_fused or not power.packs_fused:
        return given("I_n", "main fuse", power.main.fuse, "A", origins, "power.main.fuse")
    together = power.packs.lead_fuse * power.packs.count
    one = given("I_1", "fuse of a pack's lead", power.packs.lead_fuse, "A", origins, "power.packs.lead.fuse")
    count = given("N", "packs", np.asanyarray(float(power.packs.count)), "1", origins, "power.packs.count")
    return calculated("I_n", "fuses of the packs together", together, "A", "N I_1", (count, one))


def assess_wires(origins: Origins, power: Power, brief: Brief, supply: Supply) -> list[Finding]:
    """Findings about every run of wire: the branches, the main line, one pack's lead."""
    runs = places(origins, power, supply)
    carried, factor = _ampacity(origins, power, brief, runs)
    found = [_wire_carries(runs, carried, factor), _fuse_protects(runs, carried, factor)]
    fused = [p for p in runs if p.fuse is not None]
    if fused:
        found += [*_fuse_carries(origins, power, fused), _fuse_interrupts(origins, power, supply, fused)]
    return found + _connectors(origins, power, runs)


def _lasting_current(runs: Sequence[Place]) -> tuple[Term, ...]:
    """The greatest current that lasts in each run, by case, with the loads behind it."""
    return _currents("I", "greatest current that lasts", runs, [lasting(p.current) for p in runs], LASTING_LABELS)


def _currents(
    symbol: str, name: str, runs: Sequence[Place], found: Sequence[Array], labels: Sequence[str]
) -> tuple[Term, ...]:
    return by_case([
        calculated(
            symbol, spoken(f"{name} in {p.name}", amps, labels), np.max(amps, axis=-1), "A",
            "Σ of the loads behind it: P/U, U_out I/(η U) or I, at the U that is left", p.loads, TREE,
        )
        for p, amps in zip(runs, found, strict=True)
    ])  # fmt: skip


def _ampacity(origins: Origins, power: Power, brief: Brief, runs: Sequence[Place]) -> tuple[Term, Array]:
    """What each run may carry, and the factor on the table's value."""
    inside = column(np.asanyarray(brief.ambient) + power.lim_inside_rise)
    bundle = stack([p.bundled for p in runs])
    factor = np.asanyarray(ambient_factor(inside, stack([p.insulation.value for p in runs])) * group_factor(bundle))
    shared = (
        given("T_room", "surroundings", brief.ambient, "K", origins, "brief.ambient"),
        given("dT", "inside above outside", power.lim_inside_rise, "dK", origins, "power.limits.inside_rise"),
    )
    inner: list[Term] = []
    for n, p in enumerate(runs):
        area = given("A", f"cross-section of {p.name}", p.area, "m2", origins, f"{p.path}.area")
        inner.append(calculated("I_t", "table value for this cross-section in air at 40 °C", p.ampacity, "A", "table",
                                (area,), AMPACITY))  # fmt: skip
        inner[-1] = replace(inner[-1], case=n)
        inner += of_case((p.insulation,), n)
        if f"{p.path}.bundled" in origins:
            inner.append(given("n_b", "loaded circuits bundled", p.bundled, "1", origins, f"{p.path}.bundled", n))
    table = stack([p.ampacity for p in runs])
    term = calculated(
        "I_z", "what the wire may carry", table * factor, "A",
        "I_t √((T_ins − T_room − dT)/(T_ins − 40 °C)) × factor of the bundle", (*inner, *shared), _GROUPS,
        per_case=True,
    )  # fmt: skip
    return term, factor


def _wire_carries(runs: Sequence[Place], carried: Term, factor: Array) -> Finding:
    load = _lasting_current(runs)
    size = _size("A_fit", "usual cross-section that carries it", values(load), factor, "I_t >= I/factor")
    return finding(
        check="wire-carries-load", trade="power", topic="wires and connectors",
        title="Every wire carries its load without heating", unit="A", cases=[p.name for p in runs],
        demand=values(load), capacity=carried.value, demand_name="current that lasts",
        capacity_name="what the wire may carry", reserve=(0.0, practice("the table's value keeps the wire safe")),
        late=Late.PART_ORDER, formula="I ≤ I_z", terms=(*load, carried, size), sources=(AMPACITY, TREE),
        remedy="Take {A_fit} for this run, which carries {I} without heating", caution=_FIRE,
    )  # fmt: skip


def _size(symbol: str, name: str, current: Array, factor: Array, rule: str) -> Term:
    with np.errstate(divide="ignore", invalid="ignore"):
        # A wire in surroundings as hot as its insulation stands carries nothing, whatever its size.
        size = area_that_carries(current / factor)
    return calculated(symbol, name, size, "m2", f"next size with {rule}", (), AMPACITY, per_case=True)  # fmt: skip


def _fuse_protects(runs: Sequence[Place], carried: Term, factor: Array) -> Finding:
    guards = by_case([p.guard for p in runs])
    rating = values(guards)
    fit = calculated("I_fit", "largest usual fuse that protects it", fuse_not_above(carried.value), "A",
                     "next rating with I_n <= I_z", (), FUSE, per_case=True)  # fmt: skip
    size = _size("A_fit", "usual wire for the fuse that is there", rating, factor, "I_t >= I_n/factor")
    return finding(
        check="fuse-protects-wire", trade="power", topic="fuses", title="The fuse gives way before the wire",
        unit="A", cases=[p.name for p in runs], demand=rating, capacity=carried.value,
        demand_name="fuse or limit ahead of the wire", capacity_name="what the wire may carry",
        reserve=(0.0, practice("fuse not above the wire's rating")), late=Late.SHOW, formula="I_n ≤ I_z",
        terms=(*guards, carried, fit, size),
        sources=(AMPACITY, practice("load at most 0.8 of the fuse, fuse at most the wire's rating")),
        remedy="Fit a fuse of {I_fit} here, or a wire of {A_fit}", caution=_FIRE,
    )  # fmt: skip


def _fuse_carries(origins: Origins, power: Power, fused: Sequence[Place]) -> list[Finding]:
    rating = stack([p.fuse for p in fused if p.fuse is not None])
    fuses = tuple(
        given("I_n", f"fuse of {p.name}", rating[..., n], "A", origins, f"{p.path}.fuse", n)
        for n, p in enumerate(fused)
    )
    bursts = [short_lived(p.current) for p in fused]
    peaks = _currents("I_peak", "greatest current for a second", fused, bursts, PEAK_LABELS)
    lim = "power.limits"
    share = given("s", "share of the fuse that may last", power.lim_fuse_share, "%", origins, f"{lim}.fuse_share")
    burst = given("s", "share of the fuse for a second", power.lim_fuse_peak, "%", origins, f"{lim}.fuse_peak")
    found = []
    for check, title, load, part, name, source in (
        ("fuse-carries-load", "Every fuse holds under the load that lasts", _lasting_current(fused), share,
         "current that lasts", practice("sustained load at most 75 to 80 % of the fuse")),
        ("fuse-outlasts-peaks", "No fuse blows when motors start or stall", peaks, burst, "current for a second",
         FUSE),
    ):  # fmt: skip
        asked, symbol = rating_for(values(load), part), load[0].symbol
        fit = calculated("I_fit", "smallest usual fuse that holds", fuse_not_below(asked), "A",
                         f"next rating with s I_n >= {symbol}", (), FUSE, per_case=True)  # fmt: skip
        found.append(
            finding(
                check=check, trade="power", topic="fuses", title=title, unit="A", cases=[p.name for p in fused],
                demand=values(load), capacity=rating * column(part.value), demand_name=name,
                capacity_name="what the fuse holds", reserve=(0.0, practice("the share of the fuse is the reserve")),
                late=Late.SHOW, formula=f"{symbol} ≤ s I_n", terms=(*load, *fuses, part, fit), sources=(source,),
                remedy="Fit a fuse of {I_fit} and a wire that it protects, or draw less",
            )
        )  # fmt: skip
    return found


def _fuse_interrupts(origins: Origins, power: Power, supply: Supply, fused: Sequence[Place]) -> Finding:
    p = power.packs
    emf, _ = supply.source
    full = replace(emf, name="open voltage when full", value=np.asanyarray(emf.value)[..., 0])
    # At the packs' joint, before main line and branches; a lead's fuse must break what the other packs feed back too.
    worst = np.asanyarray(full.value) * np.sum(1.0 / (column(p.resistance) + p.lead_resistance), axis=-1)
    fault = calculated(
        "I_k", "current into a dead short at the packs", worst, "A", "E Σ 1/(R_p + R_lead)",
        (full, *pack_terms(origins, power)), OHM,
    )  # fmt: skip
    able = tuple(
        given("I_b", f"what the fuse of {q.name} can break", q.interrupt, "A", origins, f"{q.path}.interrupt", n)
        for n, q in enumerate(fused)
    )
    return finding(
        check="fuse-can-interrupt", trade="power", topic="fuses", title="Every fuse can break a dead short",
        unit="A", cases=[q.name for q in fused], demand=column(worst) + np.zeros(len(fused)),
        capacity=stack([q.interrupt for q in fused]), demand_name="current into a dead short",
        capacity_name="what the fuse can break", reserve=(0.0, practice("rating not below the fault current")),
        late=Late.SHOW, formula="I_k ≤ I_b", terms=(fault, *able),
        sources=(derived("E over the resistance of packs and leads"), FUSE),
        remedy="Use a fuse class that breaks {I_k}, such as a bolted one next to the packs", caution=_FIRE,
    )  # fmt: skip


def _connectors(origins: Origins, power: Power, runs: Sequence[Place]) -> list[Finding]:
    """Connectors of every run, and the main switch, which stands in the main line and carries what that does."""
    main = runs[-2]
    switch = replace(main, name="main switch", contact_rating=power.switch_current)
    at = [(p, f"{p.path}.rated_current") for p in runs] + [(switch, "power.main.switch_current")]
    at = [(p, key) for p, key in at if not np.all(np.isposinf(p.contact_rating))]
    if not at:
        return []
    rating = tuple(
        given("I_c", f"rated current of {p.name if p is switch else f'the connector of {p.name}'}", p.contact_rating,
              "A", origins, key, n)
        for n, (p, key) in enumerate(at)
    )  # fmt: skip
    share = given("s", "share of the rating that is planned", power.lim_connector_share, "%", origins,
                  "power.limits.connector_share")  # fmt: skip
    load = _lasting_current([p for p, _ in at])
    need = calculated("I_need", "rating that would do", rating_for(values(load), share), "A", "I/s", (),
                      per_case=True)  # fmt: skip
    return [
        finding(
            check="connector-carries-load", trade="power", topic="wires and connectors",
            title="Every connector and the main switch carry their current", unit="A", cases=[p.name for p, _ in at],
            demand=values(load), capacity=values(rating) * column(share.value),
            demand_name="current that lasts", capacity_name="planned share of the rating",
            reserve=(0.0, practice("the share of the rating is the reserve")), late=Late.PART_ORDER,
            formula="I ≤ s I_c", terms=(*load, *rating, share, need),
            sources=(practice("at most 70 % of a contact's rating"),),
            remedy="Take one rated for {I_need} or more, or more contacts in parallel", caution=_FIRE,
        )
    ]  # fmt: skip
