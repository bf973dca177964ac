"""What the logic lives on: the rail at motor start, grounds at both ends of signals, energy fed back into a rail."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import stack
from dryfit.ground.findings import Finding, Late, calculated, finding
from dryfit.ground.quantity import Array, Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.control import Control
from dryfit.machine.power import Power
from dryfit.trades.power.checks_rails import rail_of, typed
from dryfit.trades.power.checks_supply import (
    CASES,
    LABELS,
    TREE,
    Supply,
    each,
    given,
    highest,
    lowest,
    sustained,
)
from dryfit.trades.power.formulas import capacitor_rise, held_voltage

_AS_GIVEN = (0.0, practice("the limit is the habit"))


def assess_logic(origins: Mapping[str, Origin], power: Power, control: Control, supply: Supply) -> list[Finding]:
    """Whether the controller rides through motor start, and its signals are read right."""
    b = power.branches
    found = []
    if supply.logic:
        names = [b.names[n] for n in supply.logic]
        rails = stack([_logic_floor(power, supply, n) for n in supply.logic])
        brown = given("U_bo", "brown-out of the board", control.brown_out, "V", origins, "control.brown_out")
        extra = given("dU", "kept over it", power.lim_brown_out_reserve, "V", origins, "power.limits.brown_out_reserve")
        floor = calculated(
            "U_rail",
            "lowest voltage at the board in any case",
            rails,
            "V",
            "solved network; with hold-up min(U_out, U_bus - U_diode - I t / C - U_dropout)",
            (
                each(
                    "l",
                    "length of its wires",
                    b.length[..., list(supply.logic)],
                    "m",
                    [(b.names[n], f"{b.paths[n]}.length") for n in supply.logic],
                    origins,
                ),
                given("t", "time of a dip", power.lim_dip_time, "s", origins, "power.limits.dip_time"),
            ),
            TREE,
            per_case=True,
        )
        need = (np.asarray(control.brown_out) + power.lim_brown_out_reserve)[..., None] + np.zeros(len(names))
        found.append(
            finding(
                check="logic-survives-motor-start",
                trade="power",
                topic="logic supply",
                title="The controller keeps running when the motors start",
                unit="V",
                cases=names,
                demand=need,
                capacity=rails,
                demand_name="brown-out and reserve",
                capacity_name="lowest rail voltage",
                reserve=_AS_GIVEN,
                late=Late.SHOW,
                formula="U_bo + dU <= U_rail",
                terms=(floor, brown, extra),
                sources=(practice("stay 0.3 V over brown-out"), TREE),
                remedy="Feed the logic over a diode and a capacitor (hold_up), or from a run of its own at the packs",
            )
        )
    q = power.signals
    if q.names:
        found.append(_ground_lift(origins, power, supply))
    return found


def _logic_floor(power: Power, supply: Supply, n: int) -> Array:
    """Lowest voltage at the board: as solved, or carried over the dip by the hold-up capacitor where that is better."""
    b, s = power.branches, supply.solution
    solved = lowest(s.delivered[..., n, :])
    rail = rail_of(power, n)
    if rail < 0:
        return solved
    before = s.arriving[..., rail, len(CASES) + 1] - b.diode[..., rail]
    current = highest(s.current[..., rail, :])
    left = held_voltage(before, current, power.lim_dip_time, b.hold_up[..., rail])
    lost = highest(s.delivered[..., rail, :] - s.delivered[..., n, :])
    held = np.minimum(b.output[..., rail], left - b.dropout[..., rail]) - lost
    short_only = np.minimum(sustained_low(s.delivered[..., n, :]), held)
    return np.where(b.hold_up[..., rail] > 0, np.maximum(solved, short_only), solved)


def sustained_low(values: Array) -> Array:
    """Lowest of the cases that last."""
    return -sustained(-values)


def _ground_lift(origins: Mapping[str, Origin], power: Power, supply: Supply) -> Finding:
    b, s, q = power.branches, supply.solution, power.signals
    level = [_ground(s.ground, a) - _ground(s.ground, z) for a, z in zip(q.start, q.end, strict=True)]
    lift = stack([highest(np.abs(x)) for x in level])
    low, high = q.input_low - q.output_low, q.output_high - q.input_high
    margin = np.minimum(low, high)
    share = given("s", "share of the logic margin", power.lim_ground_share, "%", origins, "power.limits.ground_share")
    lines = [(name, f"power.signals[{n}]") for n, name in enumerate(q.names)]
    shared = [n for n in range(len(b.names)) if not b.own_return[n]]
    wires = tuple(
        given("", f"{b.names[n]} returns with another", np.asarray(1.0), "1", origins, f"{b.paths[n]}.returns_with")
        for n in shared
    ) + tuple(
        given(
            "l",
            f"length of {b.names[b.returns_to[n]]}",
            b.length[..., b.returns_to[n]],
            "m",
            origins,
            f"{b.paths[b.returns_to[n]]}.length",
        )
        for n in shared
        if b.returns_to[n] >= 0
    )
    raised = calculated(
        "U_g",
        "ground of one end over the other in the worst case",
        lift,
        "V",
        "sum of I R along the return wires",
        wires,
        TREE,
        per_case=True,
    )
    spare = calculated(
        "M",
        "logic margin",
        margin,
        "V",
        "min(V_IL - V_OL, V_OH - V_IH)",
        (
            each("V_IL", "reads low up to", q.input_low, "V", [(n, f"{p}.input_low") for n, p in lines], origins),
            each("V_OL", "output low", q.output_low, "V", [(n, f"{p}.output_low") for n, p in lines], origins),
            each("V_IH", "reads high from", q.input_high, "V", [(n, f"{p}.input_high") for n, p in lines], origins),
            each("V_OH", "output high", q.output_high, "V", [(n, f"{p}.output_high") for n, p in lines], origins),
        ),
        derived("noise margin of logic levels"),
        per_case=True,
    )
    return finding(
        check="ground-lift-on-signals",
        trade="power",
        topic="grounds",
        title="Both ends of every signal agree on what ground is",
        unit="V",
        cases=q.names,
        demand=lift,
        capacity=margin * np.asarray(power.lim_ground_share)[..., None],
        demand_name="ground shift",
        capacity_name="share of the logic margin",
        reserve=_AS_GIVEN,
        late=Late.SHOW,
        formula="U_g <= s M",
        terms=(raised, spare, share),
        sources=(practice("grounds may differ by half the logic margin"), TREE),
        remedy="Give the logic a return wire of its own to the bus, apart from the wire that carries {U_g}",
    )


def _ground(grounds: Array, n: int) -> Array:
    return grounds[..., n, :] if n >= 0 else np.zeros(len(LABELS))


def assess_back_feed(origins: Mapping[str, Origin], power: Power, supply: Supply) -> list[Finding]:
    """Rails that take back energy from what they drive, where the design gives energy and capacitance."""
    b = power.branches
    at = [n for n in range(len(b.names)) if typed(b.fed_back_energy[..., n])]
    if not at:
        return []
    rails = [max(rail_of(power, n), 0) for n in at]
    volts = stack([b.output[..., r] for r in rails])
    c = np.nan_to_num(b.capacitance[..., at])
    raised = capacitor_rise(volts, b.fed_back_energy[..., at], np.maximum(c, 1e-9))
    lines = [(b.names[n], b.paths[n]) for n in at]
    energy = each(
        "E",
        "energy fed back",
        b.fed_back_energy[..., at],
        "J",
        [(n, f"{p}.fed_back_energy") for n, p in lines],
        origins,
    )
    held = each("C", "capacitance on the rail", c, "F", [(n, f"{p}.capacitance") for n, p in lines], origins)
    rise = given("r", "rise allowed", power.lim_back_fed_rise, "%", origins, "power.limits.back_fed_rise")
    term = calculated(
        "U_1",
        "voltage after it",
        raised,
        "V",
        "sqrt(U² + 2 E / C)",
        (energy, held),
        derived("energy of a capacitor"),
        per_case=True,
    )
    return [
        finding(
            check="back-fed-energy",
            trade="power",
            topic="servo rail",
            title="The rail takes what decelerating drives feed back",
            unit="V",
            cases=[b.names[n] for n in at],
            demand=raised,
            capacity=volts * (1 + np.asarray(power.lim_back_fed_rise)[..., None]),
            demand_name="voltage after feeding back",
            capacity_name="allowed",
            reserve=_AS_GIVEN,
            late=Late.PART_ORDER,
            formula="sqrt(U² + 2 E / C) <= U (1 + r)",
            terms=(term, energy, held, rise),
            sources=(derived("0.5 C U² before and after"),),
            remedy="Add capacitance to the rail or a clamp: it would rise to {U_1}",
        )
    ]
