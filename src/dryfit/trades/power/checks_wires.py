"""Wires, fuses and connectors: each must carry its load, and the fuse must give way before the wire."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.brief import Brief
from dryfit.machine.power import Power
from dryfit.trades.power.checks_supply import (
    AMPACITY,
    FUSE,
    OHM,
    TREE,
    Supply,
    each,
    given,
    pack_shares,
    peaks,
    sustained,
)
from dryfit.trades.power.formulas import ambient_factor, group_factor

REGULATOR_LIMIT = 1.3
"""A regulator's own limit acts at about this multiple of its rated current (from memory)."""
_FIRE = (
    "An overloaded wire can set fire to what it touches: local codes decide, and an electrician should look it over."
)
_GROUPS = memory("IEC 60364-5-52, table B.52.17", "bundled circuits")

Lines = list[tuple[str, str]]


def assess_wires(origins: Mapping[str, Origin], power: Power, brief: Brief, supply: Supply) -> list[Finding]:
    """Findings about every run of wire: the branches, the main line, one pack's lead."""
    lasting, short = _currents(power, supply)
    places = _places(power)
    load = calculated(
        "I",
        "greatest current that lasts",
        lasting,
        "A",
        "largest of the lasting cases, full and at the end of the day",
        (given("R_m", "main line", power.main_resistance, "ohm", origins, "power.main.length"),),
        TREE,
        per_case=True,
    )
    peak = calculated(
        "I_peak", "greatest current for a second", short, "A", "largest of the short cases", (), TREE, per_case=True
    )
    carried = _ampacity(origins, power, brief, places)
    found = [_wire_carries(places, load, carried), _fuse_protects(origins, power, places, carried)]
    found += _fuse_carries(origins, power, places, load, peak)
    found += _fuse_interrupts(origins, power, places)
    found += _connectors(origins, power, places, load)
    return found


def _places(power: Power) -> Lines:
    b = power.branches
    return [*zip(b.names, b.paths, strict=True), ("main line", "power.main"), ("pack lead", "power.packs.lead")]


def _currents(power: Power, supply: Supply) -> tuple[Array, Array]:
    """Lasting and short-lived current in every branch, the main line and the hardest pack's lead, (..., B + 2)."""
    s = supply.solution
    rows = [s.current[..., n, :] for n in range(len(power.branches.names))] + [s.source_current, supply.pack_current]
    return stack([sustained(r) for r in rows]), stack([peaks(r) for r in rows])


def _ampacity(origins: Mapping[str, Origin], power: Power, brief: Brief, places: Lines) -> Term:
    b = power.branches
    count = len(b.names)
    table = stack([*(b.ampacity[..., n] for n in range(count)), power.main.ampacity, power.packs.lead_ampacity])
    insulation = stack([*(b.insulation[..., n] for n in range(count)), 343.15, 343.15])
    bundle = stack([*(b.bundled[..., n] for n in range(count)), 1.0, 1.0])
    inside = np.asarray(brief.ambient) + power.lim_inside_rise
    warmth = ambient_factor(inside[..., None], insulation)
    areas = stack([*(b.area[..., n] for n in range(count)), power.main.area, np.nan])
    keys = [(name, f"{path}.area") for name, path in places]
    return calculated(
        "I_z",
        "what the wire may carry",
        table * warmth * group_factor(bundle),
        "A",
        "table value for its area x sqrt((T_insulation - T_a) / (T_insulation - 40 °C)) x factor of the bundle",
        (
            each("A", "cross-section", areas, "m2", keys, origins),
            each("n_b", "circuits bundled", bundle, "1", [(n, f"{p}.bundled") for n, p in places], origins),
            given("T_room", "surroundings", brief.ambient, "K", origins, "brief.ambient"),
            given("dT", "inside above outside", power.lim_inside_rise, "K", origins, "power.limits.inside_rise"),
        ),
        AMPACITY,
        _GROUPS,
        per_case=True,
    )


def _wire_carries(places: Lines, load: Term, carried: Term) -> Finding:
    return finding(
        check="wire-carries-load",
        trade="power",
        topic="wire sizes",
        title="Every wire carries its load without heating",
        unit="A",
        cases=[n for n, _ in places],
        demand=load.value,
        capacity=carried.value,
        demand_name="current that lasts",
        capacity_name="what the wire may carry",
        reserve=(0.0, practice("table value")),
        late=Late.PART_ORDER,
        formula="I <= I_z",
        terms=(load, carried),
        sources=(AMPACITY, TREE),
        remedy="Take a thicker wire for this run: it must carry {I}, this one carries {I_z}",
        caution=_FIRE,
    )


def _guard(power: Power, n: int) -> tuple[Num, str, str]:
    """What limits the current in branch n: value, key and words. The nearest fuse or regulator towards the packs."""
    b, at = power.branches, n
    while at >= 0:
        if b.fused[at]:
            return b.fuse[..., at], f"{b.paths[at]}.fuse", f"fuse of {b.names[at]}"
        at = b.parent[at]
        if at >= 0 and b.regulated[at]:
            limit = b.rated_current[..., at] * REGULATOR_LIMIT
            return limit, f"{b.paths[at]}.regulator.current", f"limit of the regulator of {b.names[at]}"
    if power.main_fused:
        return power.main.fuse, "power.main.fuse", "main fuse"
    return _pack_fuses(power), "power.packs.lead.fuse", "fuses of the packs together"


def _pack_fuses(power: Power) -> Num:
    """Fuses of the packs together; where there is no fuse at all, NaN that the ledger has noted as missing."""
    return power.packs.lead_fuse * power.packs.count if power.packs_fused else power.main.fuse


def _fuse_protects(origins: Mapping[str, Origin], power: Power, places: Lines, carried: Term) -> Finding:
    count = len(power.branches.names)
    guards = [_guard(power, n) for n in range(count)]
    if power.main_fused:
        guards.append((power.main.fuse, "power.main.fuse", "main fuse"))
    elif power.packs_fused:
        guards.append((_pack_fuses(power), "power.packs.lead.fuse", "fuses of the packs together"))
    else:
        guards.append((power.main.fuse, "power.main.fuse", "main fuse"))
    lead = (power.packs.lead_fuse, "power.packs.lead.fuse", "fuse of the lead") if power.packs_fused else guards[-1]
    guards.append(lead)
    rating = stack([value for value, _, _ in guards])
    lines = [(f"{place}, by the {words}", key) for (place, _), (_, key, words) in zip(places, guards, strict=True)]
    if not power.packs_fused and not power.main_fused:
        lines = [(label, key if key != "power.packs.lead.fuse" else "power.main.fuse") for label, key in lines]
    fuse = each("I_n", "current at which the run is cut off", rating, "A", lines, origins)
    return finding(
        check="fuse-protects-wire",
        trade="power",
        topic="fuses",
        title="The fuse gives way before the wire",
        unit="A",
        cases=[label for label, _ in lines],
        demand=rating,
        capacity=carried.value,
        demand_name="fuse or limit ahead of the wire",
        capacity_name="what the wire may carry",
        reserve=(0.0, practice("fuse not above the wire's rating")),
        late=Late.SHOW,
        formula="I_n <= I_z",
        terms=(fuse, carried),
        sources=(AMPACITY, practice("load <= 0.8 fuse, fuse <= wire, fuse <= connector")),
        remedy="Fit a fuse of no more than {I_z} here, or a wire that carries {I_n}",
        caution=_FIRE,
    )


def _fused(power: Power) -> tuple[list[int], Array]:
    """Places (as in _places) that have a fuse, and the ratings (..., n)."""
    b, count = power.branches, len(power.branches.names)
    at = [n for n in range(count) if b.fused[n]]
    ratings: list[Num] = [b.fuse[..., n] for n in at]
    if power.main_fused:
        at, ratings = [*at, count], [*ratings, power.main.fuse]
    if power.packs_fused:
        at, ratings = [*at, count + 1], [*ratings, power.packs.lead_fuse]
    return at, stack(ratings) if ratings else np.zeros((0,))


def _fuse_carries(origins: Mapping[str, Origin], power: Power, places: Lines, load: Term, peak: Term) -> list[Finding]:
    at, rating = _fused(power)
    if not at:
        return []
    lines = [places[n] for n in at]
    fuse = each("I_n", "fuse", rating, "A", [(n, f"{p}.fuse") for n, p in lines], origins)
    share = given(
        "s", "share of the fuse that a load may last at", power.lim_fuse_share, "%", origins, "power.limits.fuse_share"
    )
    burst = given("s", "share of the fuse for peaks", power.lim_fuse_peak, "%", origins, "power.limits.fuse_peak")
    found = []
    for check, title, term, part, name, source in (
        (
            "fuse-carries-load",
            "Every fuse holds under the load that lasts",
            load,
            share,
            "current that lasts",
            practice("sustained load at most 75 to 80 % of the fuse"),
        ),
        ("fuse-outlasts-peaks", "No fuse blows when motors start or stall", peak, burst, "current for a second", FUSE),
    ):
        here = Term(term.symbol, term.name, np.asarray(term.value)[..., at], "A", term.origin, per_case=True)
        found.append(
            finding(
                check=check,
                trade="power",
                topic="fuses",
                title=title,
                unit="A",
                cases=[n for n, _ in lines],
                demand=here.value,
                capacity=rating * np.asarray(part.value)[..., None],
                demand_name=name,
                capacity_name="what the fuse holds",
                reserve=(0.0, practice("the share is the reserve")),
                late=Late.SHOW,
                formula=f"{term.symbol} <= s I_n",
                terms=(here, fuse, part),
                sources=(source,),
                remedy="Fit a larger fuse with the wire for it, or draw less: the fuse is {I_n}",
            )
        )
    return found


def _fuse_interrupts(origins: Mapping[str, Origin], power: Power, places: Lines) -> list[Finding]:
    at, _ = _fused(power)
    if not at:
        return []
    b, p, count = power.branches, power.packs, len(power.branches.names)
    legs = np.asarray(p.resistance)[..., None] + p.lead_resistance
    volts = np.interp(1.0, p.charge_at, p.open_cell) * np.asarray(p.cells)
    # At the packs' joint, before main line and branches; a lead's fuse must break what the other packs feed back too.
    worst = volts * np.sum(1.0 / legs, axis=-1)
    interrupt: list[Num] = [b.interrupt[..., n] for n in at if n < count]
    interrupt += [power.main.interrupt] * (count in at) + [p.lead_interrupt] * (count + 1 in at)
    fault = calculated(
        "I_k",
        "current into a dead short at the packs",
        worst,
        "A",
        "sum of E / (R_p + R_lead) of all packs",
        (
            given("R_p", "resistance of one pack", p.resistance, "ohm", origins, "power.packs.resistance"),
            given("N", "packs", np.asarray(float(p.count)), "1", origins, "power.packs.count"),
        ),
        OHM,
    )
    lines = [places[n] for n in at]
    able = each(
        "I_b", "current the fuse can break", stack(interrupt), "A", [(n, f"{q}.fuse") for n, q in lines], origins
    )
    return [
        finding(
            check="fuse-can-interrupt",
            trade="power",
            topic="fuses",
            title="Every fuse can break a dead short",
            unit="A",
            cases=[n for n, _ in lines],
            demand=worst[..., None] + np.zeros(len(at)),
            capacity=able.value,
            demand_name="prospective fault current",
            capacity_name="interrupt rating",
            reserve=(0.0, practice("rating not below the fault current")),
            late=Late.SHOW,
            formula="I_k <= I_b",
            terms=(fault, able),
            sources=(derived("E over the resistance of packs and leads"), FUSE),
            remedy="Use a fuse class that breaks {I_k}, such as a bolted one next to the packs",
            caution=_FIRE,
        )
    ]


def _connectors(origins: Mapping[str, Origin], power: Power, places: Lines, load: Term) -> list[Finding]:
    b, count = power.branches, len(power.branches.names)
    ratings: list[Num] = [*(b.contact_rating[..., n] for n in range(count)), power.main.contact_rating]
    ratings += [power.packs.lead_contact_rating, power.switch_current]
    at = [n for n, r in enumerate(ratings) if not bool(np.all(np.isposinf(r)))]
    if not at:
        return []
    places = [(name, f"{path}.connector") for name, path in places]
    places.append(("main switch", "power.main.switch_current"))
    lines = [places[n] for n in at]
    # The switch stands in the main line and carries what that does.
    carries = [count if n == count + 2 else n for n in at]
    rating = each(
        "I_c",
        "rating of the contacts of one pole",
        stack([ratings[n] for n in at]),
        "A",
        lines,
        origins,
    )
    share = given(
        "s",
        "share of the rating that is planned",
        power.lim_connector_share,
        "%",
        origins,
        "power.limits.connector_share",
    )
    here = Term(load.symbol, load.name, np.asarray(load.value)[..., carries], "A", load.origin, per_case=True)
    return [
        finding(
            check="connector-carries-load",
            trade="power",
            topic="connectors",
            title="Every connector and the main switch carry their current",
            unit="A",
            cases=[n for n, _ in lines],
            demand=here.value,
            capacity=np.asarray(rating.value) * np.asarray(share.value)[..., None],
            demand_name="current that lasts",
            capacity_name="planned share of the rating",
            reserve=(0.0, practice("the share is the reserve")),
            late=Late.PART_ORDER,
            formula="I <= s I_c",
            terms=(here, rating, share),
            sources=(practice("at most 70 % of a contact's rating"),),
            remedy="Take a larger connector or more contacts in parallel for {I}",
            caution=_FIRE,
        )
    ]


def assess_packs(origins: Mapping[str, Origin], power: Power, supply: Supply) -> list[Finding]:
    """Findings about the packs themselves: their current, how they share it, and joining them."""
    p = power.packs
    lasting = sustained(supply.pack_current)
    drawn = calculated(
        "I_1", "current of the hardest-working pack", lasting, "A", "share x current of the source", (), TREE
    )
    limit = given("I_max", "current a pack may give for long", p.max_current, "A", origins, "power.packs.max_current")
    found = [
        finding(
            check="packs-give-the-current",
            trade="power",
            topic="packs",
            title="The packs may give this current for long",
            unit="A",
            demand=lasting,
            capacity=p.max_current,
            demand_name="current of the hardest-working pack",
            capacity_name="continuous rating",
            reserve=(0.1, practice("a tenth for ageing")),
            late=Late.PART_ORDER,
            formula="I_1 <= I_max",
            terms=(drawn, limit),
            sources=(TREE,),
            remedy="Add a pack in parallel or take packs of {I_1} each",
            caution="An overloaded battery can catch fire; follow its maker's sheet and local rules.",
        )
    ]
    if p.count < 2:
        return found
    share = pack_shares(power)
    worst = np.max(share, axis=-1) * p.count - 1.0
    uneven = calculated(
        "d",
        "current of the hardest-working pack over the mean, less one",
        worst,
        "%",
        "N max(g_i) / sum(g_i) - 1",
        (
            given("R_p", "resistance of one pack", p.resistance, "ohm", origins, "power.packs.resistance"),
            given(
                "l_p", "lead of the first pack", p.lead_resistance[..., 0], "ohm", origins, "power.packs.lead.length"
            ),
            given("N", "packs", np.asarray(float(p.count)), "1", origins, "power.packs.count"),
        ),
        OHM,
    )
    allowed = given("d_max", "imbalance allowed", power.lim_pack_imbalance, "%", origins, "power.limits.pack_imbalance")
    loop = np.asarray(p.resistance) + np.min(p.lead_resistance, axis=-1)
    surge = p.difference_when_joined / (loop * (1.0 + 1.0 / (p.count - 1)))
    rush = calculated(
        "I_j",
        "current when one pack is joined to the others",
        surge,
        "A",
        "dU / (R + R / (N - 1)), R = R_p + shortest lead",
        (
            given(
                "dU",
                "difference of the packs when joined",
                p.difference_when_joined,
                "V",
                origins,
                "power.packs.difference_when_joined",
            ),
            given("R_p", "resistance of one pack", p.resistance, "ohm", origins, "power.packs.resistance"),
        ),
        OHM,
    )
    charge = given(
        "I_ch", "charging current a pack may take", p.max_charge_current, "A", origins, "power.packs.max_charge_current"
    )
    return [
        *found,
        finding(
            check="packs-share",
            trade="power",
            topic="packs",
            title="The packs share the load evenly",
            unit="%",
            demand=worst,
            capacity=power.lim_pack_imbalance,
            demand_name="imbalance",
            capacity_name="allowed",
            reserve=(0.0, practice("the limit is the habit")),
            late=Late.MINUTES,
            formula="d <= d_max",
            terms=(uneven, allowed),
            sources=(OHM,),
            remedy="Give all packs leads of one length to one joint: the imbalance is {d}",
        ),
        finding(
            check="packs-can-be-joined",
            trade="power",
            topic="packs",
            title="Joining the packs makes no surge",
            unit="A",
            demand=surge,
            capacity=p.max_charge_current,
            demand_name="equalising current",
            capacity_name="charging current allowed",
            reserve=(0.1, practice("a tenth for a warmer, stiffer pack")),
            late=Late.MINUTES,
            formula="I_j <= I_ch",
            terms=(rush, charge),
            sources=(OHM,),
            remedy="Measure across the gap before joining, and charge the packs apart to the same voltage first",
            caution="Packs of different charge can weld a connector; fuse each pack and follow its maker's sheet.",
        ),
    ]
