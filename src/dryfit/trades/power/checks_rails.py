"""Rails and what hangs on them: regulators, the servo rail, voltages at strips and other loads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from dryfit.ground.axes import stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.control import Control
from dryfit.machine.light import Light
from dryfit.machine.power import Power
from dryfit.trades.power.checks_supply import (
    OHM,
    TREE,
    Supply,
    each,
    given,
    highest,
    lowest,
    sustained,
)
from dryfit.trades.power.formulas import regulator_loss

_AS_GIVEN = (0.0, practice("the limit is the habit"))


def assess_regulators(
    origins: Mapping[str, Origin], power: Power, supply: Supply, strip_current: Term, stall_current: Term
) -> list[Finding]:
    """Current, headroom and, for servo rails, stall of every regulator."""
    b, s = power.branches, supply.solution
    at = [n for n, regulated in enumerate(b.regulated) if regulated]
    if not at:
        return []
    names, paths = [b.names[n] for n in at], [f"{b.paths[n]}.regulator" for n in at]
    out = stack([sustained(s.regulator_current[..., n, :]) for n in at])
    rated = each(
        "I_r",
        "rated current",
        b.rated_current[..., at],
        "A",
        [(n, f"{p}.current") for n, p in zip(names, paths, strict=True)],
        origins,
    )
    output = each(
        "U_out",
        "output",
        b.output[..., at],
        "V",
        [(n, f"{p}.output") for n, p in zip(names, paths, strict=True)],
        origins,
    )
    share = given(
        "s",
        "share of the headline current that is planned",
        power.lim_regulator_share,
        "%",
        origins,
        "power.limits.regulator_share",
    )
    load = calculated(
        "I",
        "greatest current that lasts",
        out,
        "A",
        "largest of the lasting cases",
        (strip_current,),
        TREE,
        per_case=True,
    )
    loss = calculated(
        "P_v",
        "heat of the regulator",
        regulator_loss(b.output[..., at], out, b.efficiency[..., at]),
        "W",
        "U_out I (1 / eta - 1)",
        (
            each(
                "eta",
                "efficiency",
                b.efficiency[..., at],
                "%",
                [(n, f"{p}.efficiency") for n, p in zip(names, paths, strict=True)],
                origins,
            ),
        ),
        derived("power balance"),
        per_case=True,
    )
    found = [
        finding(
            check="rail-feeds-its-load",
            trade="power",
            topic="regulators",
            title="Every regulator gives what hangs on it",
            unit="A",
            cases=names,
            demand=out,
            capacity=np.asarray(rated.value) * np.asarray(share.value)[..., None],
            demand_name="current that lasts",
            capacity_name="planned share of the rating",
            reserve=_AS_GIVEN,
            late=Late.PART_ORDER,
            formula="I <= s I_r",
            terms=(load, rated, share, output, loss),
            sources=(practice("plan 60 to 70 % of a module's headline current"), TREE),
            remedy="Take a regulator rated for {I} at its planned share, split the load over two, or cap the scenes",
        )
    ]
    found.append(_headroom(power, supply, at, names, paths, origins, output))
    if supply.servos:
        found += _servo_stall(power, supply, origins, stall_current)
    return found


def _headroom(
    power: Power,
    supply: Supply,
    at: list[int],
    names: list[str],
    paths: list[str],
    origins: Mapping[str, Origin],
    output: Term,
) -> Finding:
    b, s = power.branches, supply.solution
    need = []
    for n in at:
        above = b.output[..., n] + (0.0 if b.types[n] == "step-up" else b.dropout[..., n])
        need.append(b.min_input[..., n] if b.types[n] == "step-up" else np.maximum(above, b.min_input[..., n]))
    low = stack([lowest(s.arriving[..., n, :]) for n in at])
    # Nothing drawn: the packs' open voltage, or the output of the regulator ahead.
    top = stack([b.output[..., up] if (up := _rail_above(power, n)) >= 0 else supply.emf[..., 0] for n in at])
    least, most = stack(need), b.max_input[..., at]
    demand = np.concatenate(np.broadcast_arrays(least, top), axis=-1)
    capacity = np.concatenate(np.broadcast_arrays(low, most), axis=-1)
    twice = [*zip(names, paths, strict=True)] * 2
    dropout = each(
        "U_d",
        "dropout",
        np.concatenate((b.dropout[..., at],) * 2, axis=-1),
        "V",
        [(n, f"{p}.dropout") for n, p in twice],
        origins,
    )
    reach = each(
        "U_min",
        "least input",
        np.concatenate((b.min_input[..., at],) * 2, axis=-1),
        "V",
        [(n, f"{p}.min_input") for n, p in twice],
        origins,
    )
    bear = each(
        "U_max",
        "greatest input",
        np.concatenate((most,) * 2, axis=-1),
        "V",
        [(n, f"{p}.max_input") for n, p in twice],
        origins,
    )
    asked = calculated(
        "U_need",
        "input needed, or met",
        demand,
        "V",
        "max(U_out + U_d, U_min); highest input met",
        (output, dropout, reach),
        OHM,
        per_case=True,
    )
    arrives = calculated(
        "U_in",
        "lowest input met, or allowed",
        capacity,
        "V",
        "lowest of all cases; U_max",
        (bear,),
        TREE,
        per_case=True,
    )
    return finding(
        check="regulator-has-headroom",
        trade="power",
        topic="regulators",
        title="Every regulator gets an input it can work with",
        unit="V",
        cases=[f"{n}, lowest input" for n in names] + [f"{n}, highest input" for n in names],
        demand=demand,
        capacity=capacity,
        demand_name="needed (or met at most)",
        capacity_name="met at least (or allowed)",
        reserve=(0.05, practice("a twentieth for a cold or aged pack")),
        late=Late.PART_ORDER,
        formula="U_need <= U_in; U_full <= U_max",
        terms=(asked, arrives),
        sources=(TREE,),
        remedy="Thicken the wires ahead of it, or take a regulator with less dropout or for {U_in}",
    )


def _rail_above(power: Power, n: int) -> int:
    """The regulated branch that branch n hangs on, -1 for the bus."""
    b = power.branches
    at = b.parent[n]
    while at >= 0 and not b.regulated[at]:
        at = b.parent[at]
    return at


def rail_of(power: Power, n: int) -> int:
    """The regulated branch that feeds the load at the end of branch n (itself counts), -1 for the bus."""
    return n if power.branches.regulated[n] else _rail_above(power, n)


def _servo_stall(power: Power, supply: Supply, origins: Mapping[str, Origin], stall_current: Term) -> list[Finding]:
    b = power.branches
    rails = [r for n in supply.servos if (r := rail_of(power, n)) >= 0]
    if not rails:
        return []
    share = given(
        "s",
        "share of the servos that start or stall at once",
        power.lim_servo_stall_share,
        "%",
        origins,
        "power.limits.servo_stall_share",
    )
    each_rail = np.asarray(stall_current.value) * power.lim_servo_stall_share / len(supply.servos)
    lines = [(b.names[n], f"{b.paths[n]}.regulator.current") for n in rails]
    rated = each("I_r", "rated current", b.rated_current[..., rails], "A", lines, origins)
    return [
        finding(
            check="servo-rail-holds-stall",
            trade="power",
            topic="servo rail",
            title="The servo rail holds when servos start or stall together",
            unit="A",
            cases=[b.names[n] for n in rails],
            demand=each_rail[..., None] + np.zeros(len(rails)),
            capacity=rated.value,
            demand_name="stall current at once",
            capacity_name="rated current",
            reserve=_AS_GIVEN,
            late=Late.PART_ORDER,
            formula="s I_stall <= I_r",
            terms=(stall_current, share, rated),
            sources=(practice("a servo rail carries the sum of the stall currents that can meet"),),
            remedy="Start the servos one after the other, or take a larger regulator",
        )
    ]


def assess_voltages(
    origins: Mapping[str, Origin], power: Power, control: Control, light: Light, supply: Supply
) -> list[Finding]:
    """Voltage at the strips and at the other loads, lowest and highest of all cases."""
    b = power.branches
    strips = [(k, n) for k, at in enumerate(supply.strip_branches) for n in at]
    found = []
    if strips:
        wanted = stack([_wanted(b.load_voltage[..., n], light.voltage[..., k]) for k, n in strips])
        labels = [
            light.strips[k] if len(supply.strip_branches[k]) < 2 else f"{light.strips[k]} by {b.names[n]}"
            for k, n in strips
        ]
        found.append(
            _band(
                origins,
                power,
                supply,
                [n for _, n in strips],
                labels,
                wanted,
                power.lim_load_band,
                "load_band",
                "voltage-reaches-the-strip",
                "Every strip gets its voltage",
                "wire sizes",
                "Feed the strip with a thicker or shorter wire pair, or at both ends: {U_low} arrives",
            )
        )
    others: list[tuple[int, Num]] = []
    for n, feeds in enumerate(b.feeds):
        rail = rail_of(power, n)
        if feeds == "logic" and rail >= 0:
            others.append((n, _wanted(b.load_voltage[..., n], control.supply_voltage)))
        elif (feeds == "servos" and rail >= 0) or (feeds in ("", "motors") and typed(b.load_voltage[..., n])):
            others.append((n, _wanted(b.load_voltage[..., n], b.output[..., rail])))
    if others:
        found.append(
            _band(
                origins,
                power,
                supply,
                [n for n, _ in others],
                [b.names[n] for n, _ in others],
                stack([w for _, w in others]),
                power.lim_other_load_band,
                "other_load_band",
                "voltage-reaches-the-load",
                "Every other load gets its voltage",
                "wire sizes",
                "Thicken or shorten the wires to this load: {U_low} arrives",
            )
        )
    return found


def typed(values: Array) -> bool:
    """Whether an optional number was given at all (NaN for every machine where not)."""
    return not bool(np.all(np.isnan(values)))


def _wanted(own: Array, otherwise: Num) -> Num:
    return np.where(np.isnan(own), otherwise, own)[()]


def _band(
    origins: Mapping[str, Origin],
    power: Power,
    supply: Supply,
    at: list[int],
    labels: Sequence[str],
    wanted: Array,
    width: Num,
    limit: str,
    check: str,
    title: str,
    topic: str,
    remedy: str,
) -> Finding:
    b, s = power.branches, supply.solution
    low = stack([lowest(s.delivered[..., n, :]) for n in at])
    high = stack([highest(s.delivered[..., n, :]) for n in at])
    w = np.asarray(width)[..., None]
    demand = np.concatenate(np.broadcast_arrays(wanted * (1 - w), high), axis=-1)
    capacity = np.concatenate(np.broadcast_arrays(low, wanted * (1 + w)), axis=-1)
    lost = stack([_lost(power, supply, n) for n in at])
    twice = [(b.names[n], b.paths[n]) for n in at] * 2
    length = each(
        "l",
        "length of wire, one way",
        np.concatenate((b.length[..., at],) * 2, axis=-1),
        "m",
        [(n, f"{p}.length") for n, p in twice],
        origins,
    )
    area = each(
        "A",
        "cross-section",
        np.concatenate((b.area[..., at],) * 2, axis=-1),
        "m2",
        [(n, f"{p}.area") for n, p in twice],
        origins,
    )
    drop = calculated(
        "U_v",
        "lost in both wires of the last run in the worst case",
        np.concatenate((lost, lost), axis=-1),
        "V",
        "I (R_there + R_back)",
        (length, area),
        OHM,
        per_case=True,
    )
    arrives = calculated(
        "U_low",
        "lowest voltage at the load",
        np.concatenate((low, low), axis=-1),
        "V",
        "lowest of all cases, full and at the end of the day",
        (drop,),
        TREE,
        per_case=True,
    )
    band = given("b", "band allowed", width, "%", origins, f"power.limits.{limit}")
    want = calculated(
        "U_n",
        "voltage wanted",
        np.concatenate((wanted, wanted), axis=-1),
        "V",
        "nominal of the load",
        (),
        per_case=True,
    )
    return finding(
        check=check,
        trade="power",
        topic=topic,
        title=title,
        unit="V",
        cases=[f"{n}, lowest" for n in labels] + [f"{n}, highest" for n in labels],
        demand=demand,
        capacity=capacity,
        demand_name="least wanted (or met at most)",
        capacity_name="met at least (or most allowed)",
        reserve=(0.0, practice("the band is the reserve")),
        late=Late.PART_ORDER,
        formula="U_n (1 - b) <= U_load <= U_n (1 + b)",
        terms=(arrives, want, band),
        sources=(practice("5 V loads work from 4.75 to 5.25 V"), TREE),
        remedy=remedy,
    )


def _lost(power: Power, supply: Supply, n: int) -> Array:
    b, s = power.branches, supply.solution
    loop = (b.supply[..., n] + b.back[..., n])[..., None]
    return highest(loop * s.current[..., n, :])
