"""What arrives at the loads: voltage at strips and other loads, the logic at motor start, grounds of signals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Array, Num
from dryfit.ground.sources import Source, derived, practice
from dryfit.machine.arms import Arms, joints
from dryfit.machine.control import Control
from dryfit.machine.light import Light
from dryfit.machine.power import Power
from dryfit.machine.wiring import area_with_resistance
from dryfit.trades.power.checks_rails import input_by_case, rail_of, run_from, typed
from dryfit.trades.power.checks_supply import LABELS, Supply, highest, lowest
from dryfit.trades.power.checks_terms import (
    TREE,
    Origins,
    by_case,
    each,
    given,
    run_term,
    spoken,
)

_LOGIC_RESERVE = (0.0, practice("the volts kept over brown-out are the reserve"))


@dataclass(frozen=True)
class _Load:
    """A load whose voltage is judged: its branch, words, nominal voltage with the key that names it, and its name."""

    branch: int
    label: str
    wanted: Num
    key: str
    nominal: str


def assess_voltages(
    origins: Origins, power: Power, control: Control, light: Light, arms: Arms, supply: Supply
) -> list[Finding]:
    """Voltage at the strips and at the other loads, lowest and highest of all cases."""
    b = power.branches

    def load(n: int, label: str, otherwise: Num, key: str, nominal: str = "") -> _Load:
        own, nominal = b.load_voltage[..., n], nominal or f"voltage {label} wants"
        if typed(own):
            return _Load(n, label, own, f"{b.paths[n]}.load_voltage", nominal)
        return _Load(n, label, otherwise, key, nominal)

    strips = []
    for k, at in enumerate(supply.strip_branches):
        for n in at:
            label = light.strips[k] if len(at) < 2 else f"{light.strips[k]} by {b.names[n]}"
            strips.append(load(n, label, light.voltage[..., k], f"light.strips[{k}].voltage"))
    others = []
    for n, feeds in enumerate(b.feeds):
        rail = rail_of(power, n)
        if feeds == "logic" and rail >= 0:
            others.append(load(n, b.names[n], control.supply_voltage, "control.supply_voltage"))
        elif feeds == "servos":
            for a, j, joint in joints(arms):
                volts, key = arms.voltage[..., a, j], f"{arms.joint_path[a][j]}.servo.voltage"
                others.append(load(n, f"{b.names[n]}, {joint}", volts, key, "voltage of a servo"))
        elif feeds in ("", "motors") and typed(b.load_voltage[..., n]):
            key = f"{b.paths[rail]}.regulator.output" if rail >= 0 else ""
            others.append(load(n, b.names[n], b.output[..., rail], key))
    lim = "power.limits"
    width = given("b", "share it may be off", power.lim_load_band, "%", origins, f"{lim}.load_band")
    wider = given("b", "share it may be off", power.lim_other_load_band, "%", origins, f"{lim}.other_load_band")
    found = []
    if strips:
        found.append(_band(origins, power, supply, strips, width, "voltage-reaches-the-strip",
                           "Every strip gets its voltage", practice("5 V strips work from 4.75 to 5.25 V"),
                           "Feed it by {A_fit} or a shorter run, or at both ends: {U} arrives"))  # fmt: skip
    if others:
        found.append(_band(origins, power, supply, others, wider, "voltage-reaches-the-load",
                           "Every other load gets its voltage", practice("loads want their voltage within a tenth"),
                           "Feed it by {A_fit} or a shorter run: {U} arrives"))  # fmt: skip
    return found


def _band(
    origins: Origins, power: Power, supply: Supply, loads: Sequence[_Load], width: Term, check: str, title: str,
    habit: Source, remedy: str,
) -> Finding:  # fmt: skip
    """Volts off nominal, below in the worst case and above in the best, against what each load may be off."""
    at = [x.branch for x in loads]
    s = supply.solution
    wanted = stack([x.wanted for x in loads])
    low, high = (stack([worst(s.delivered[..., n, :]) for n in at]) for worst in (lowest, highest))
    off = np.concatenate(np.broadcast_arrays(wanted - low, high - wanted), axis=-1)
    capacity = wanted * column(width.value)
    ways = [_way(origins, power, supply, n) for n in at]
    words = "U ahead − Σ I R of the runs; U_out − U_d where the regulator has no headroom"
    arrives = by_case([
        calculated("U", spoken(f"{which} voltage at {x.label}", sign * s.delivered[..., x.branch, :], LABELS),
                   found[..., k], "V", words, ways[k], TREE)
        for which, found, sign in (("lowest", low, -1), ("highest", high, 1))
        for k, x in enumerate(loads)
    ])  # fmt: skip
    nominal = by_case([given("U_n", x.nominal, x.wanted, "V", origins, x.key) for x in (*loads, *loads)])
    fit = _size_for(power, supply, loads, wanted - low - capacity)
    sizes = calculated("A_fit", "usual cross-section of the last run that would do",
                       np.concatenate((fit, fit), axis=-1), "m2", "next size that loses no more than the band leaves",
                       (), per_case=True)  # fmt: skip
    return finding(
        check=check, trade="power", topic="wires and connectors", title=title, unit="V",
        cases=[f"{x.label}, {end}" for end in ("lowest", "highest") for x in loads], demand=np.maximum(off, 0.0),
        capacity=np.concatenate((capacity, capacity), axis=-1), demand_name="volts off what it wants",
        capacity_name="volts it may be off", reserve=(0.0, practice("the band is the reserve")), late=Late.PART_ORDER,
        formula="|U_n − U| ≤ b U_n", terms=(*arrives, *nominal, width, sizes),
        sources=(habit, TREE), remedy=remedy,
    )  # fmt: skip


def _way(origins: Origins, power: Power, supply: Supply, n: int) -> tuple[Term, ...]:
    """What stands ahead of a load, and the current and resistance of every run on the way."""
    b, s = power.branches, supply.solution
    rail = rail_of(power, n)
    if rail >= 0:
        ahead = [given("U_out", f"output of {b.names[rail]}", b.output[..., rail], "V", origins,
                       f"{b.paths[rail]}.regulator.output")]  # fmt: skip
    else:
        ahead = list(supply.source)
    for m in run_from(power, n, rail):
        amps = highest(s.current[..., m, :])
        current = calculated("I", spoken(f"greatest current in {b.names[m]}", s.current[..., m, :], LABELS), amps, "A",
                             "Σ of the loads behind it", supply.behind[m], TREE)  # fmt: skip
        ahead += [current, supply.runs[m]]
    return tuple(ahead)


def _size_for(power: Power, supply: Supply, loads: Sequence[_Load], excess: Array) -> Array:
    """The usual cross-section of each load's last run at which its loss shrinks by `excess` volts (..., n)."""
    b, s = power.branches, supply.solution
    found: list[Num] = []
    for k, x in enumerate(loads):
        n = x.branch
        amps, ways = highest(s.current[..., n, :]), 2.0 if b.own_return[n] else 1.0
        # Volts that the wire itself may take: fuse and contacts stay as they are.
        left = ways * b.wire[..., n] * amps - np.maximum(excess[..., k], 0.0)
        share = left / np.maximum(ways * b.wire[..., n] * amps, 1e-12)
        found.append(area_with_resistance(b.per_length[..., n] * share))
    return stack(found)


def assess_logic(origins: Origins, power: Power, control: Control, supply: Supply) -> list[Finding]:
    """Whether the controller rides through motor start, and its signals are read right."""
    found = [_survives(origins, power, control, supply)] if supply.logic else []
    return [*found, _ground_lift(origins, power, supply)] if power.signals.names else found


def _survives(origins: Origins, power: Power, control: Control, supply: Supply) -> Finding:
    b, at = power.branches, supply.logic
    boards = [_board_voltage(power, supply, n) for n in at]
    rails = stack([lowest(v) for v in boards])
    brown = given("U_bo", "brown-out of the board", control.brown_out, "V", origins, "control.brown_out")
    extra = given("dU", "kept over it", power.lim_brown_out_reserve, "V", origins, "power.limits.brown_out_reserve")
    floors: list[Term] = []
    for k, n in enumerate(at):
        rail = rail_of(power, n)
        inner: list[Term] = [*supply.source]
        inner += [supply.runs[m] for m in run_from(power, n, -1)]
        if rail >= 0:
            path = b.paths[rail]
            inner = [
                given("U_out", f"output of {b.names[rail]}", b.output[..., rail], "V", origins,
                      f"{path}.regulator.output"),
                given("U_d", f"dropout of {b.names[rail]}", b.dropout[..., rail], "V", origins,
                      f"{path}.regulator.dropout"),
                *inner,
            ]  # fmt: skip
            if f"{path}.hold_up.capacitance" in origins:
                inner += [
                    given("U_diode", "lost in the diode", b.diode[..., rail], "V", origins, f"{path}.hold_up.diode"),
                    given("C", "hold-up capacitor", b.hold_up[..., rail], "F", origins, f"{path}.hold_up.capacitance"),
                    given("t_dip", "time of a dip", power.lim_dip_time, "s", origins, "power.limits.dip_time"),
                ]
        inner += supply.behind[-1]
        words = "min(U_out, U_in − U_d); U_in: E − Σ I R − U_diode, in a dip at least U_idle − U_diode − I t_dip/C"
        name = spoken(f"lowest voltage at {b.names[n]}", -boards[k], LABELS)
        floors.append(calculated("U_rail", name, rails[..., k], "V", words if rail >= 0 else "E − Σ I R", inner, TREE))
    need = calculated("U_least", "brown-out and what is kept over it", np.asanyarray(brown.value) + extra.value, "V",
                      "U_bo + dU", (brown, extra))  # fmt: skip
    return finding(
        check="logic-survives-motor-start", trade="power", topic="logic supply",
        title="The controller keeps running when the motors start", unit="V", cases=[b.names[n] for n in at],
        demand=column(need.value) + np.zeros(len(at)), capacity=rails, demand_name="brown-out and what is kept over it",
        capacity_name="lowest voltage at the board", reserve=_LOGIC_RESERVE, late=Late.SHOW,
        formula="U_least ≤ U_rail",
        terms=(*by_case(floors), need), sources=(practice("stay 0.3 V over brown-out"), TREE),
        remedy="Feed the logic over a diode and a capacitor (hold_up), or by a run of its own from the bus: "
        "it falls to {U_rail}",
    )  # fmt: skip


def _board_voltage(power: Power, supply: Supply, n: int) -> Array:
    """Voltage at the board on branch n in every case (..., X), with the hold-up before its regulator counted in."""
    b, delivered = power.branches, supply.solution.delivered
    rail = rail_of(power, n)
    if rail < 0 or b.types[rail] == "step-up":
        return delivered[..., n, :]
    room = input_by_case(power, supply, rail) - b.dropout[..., rail, None]
    # Where no state of the network exists the rail is unknown even while the capacitor lasts, and so is its wire.
    lost = delivered[..., rail, :] - delivered[..., n, :]
    return np.minimum(b.output[..., rail, None], room) - lost


def _ground_lift(origins: Origins, power: Power, supply: Supply) -> Finding:
    s, q = supply.solution, power.signals
    size = len(LABELS)
    levels = [(_ground(s.ground, a, size), _ground(s.ground, z, size)) for a, z in zip(q.start, q.end, strict=True)]
    apart = [np.abs(a - z) for a, z in levels]
    lift = stack([highest(x) for x in apart])
    margin = np.minimum(q.input_low - q.output_low, q.output_high - q.input_high)
    share = given("s", "share of the logic margin", power.lim_ground_share, "%", origins, "power.limits.ground_share")
    raised: list[Term] = []
    for k, (start, end) in enumerate(zip(q.start, q.end, strict=True)):
        inner = [t for n in dict.fromkeys((start, end)) if n >= 0 for t in _returns(origins, power, supply, n)]
        inner = list({(t.symbol, t.name): t for t in inner}.values())
        name = spoken(f"ground of one end of {q.names[k]} over the other", apart[k], LABELS)
        words = "|Σ I R_back of one end − Σ I R_back of the other|"
        raised.append(calculated("U_g", name, lift[..., k], "V", words, inner, TREE))
    lines = [(name, f"power.signals[{n}]") for n, name in enumerate(q.names)]

    def levels_of(symbol: str, words: str, key: str, values: Array) -> tuple[Term, ...]:
        return each(symbol, words, values, "V", [(n, f"{p}.{key}") for n, p in lines], origins)

    spare = calculated(
        "M", "logic margin", margin, "V", "min(V_IL − V_OL, V_OH − V_IH)",
        (
            *levels_of("V_IL", "reads low up to: input", "input_low", q.input_low),
            *levels_of("V_OL", "output low", "output_low", q.output_low),
            *levels_of("V_IH", "reads high from: input", "input_high", q.input_high),
            *levels_of("V_OH", "output high", "output_high", q.output_high),
        ),
        derived("noise margin of logic levels"), per_case=True,
    )  # fmt: skip
    return finding(
        check="ground-lift-on-signals", trade="power", topic="logic supply",
        title="Both ends of every signal agree on what ground is", unit="V", cases=q.names, demand=lift,
        capacity=margin * column(power.lim_ground_share), demand_name="difference of the grounds",
        capacity_name="share of the logic margin", reserve=(0.0, practice("the other half is for noise")),
        late=Late.SHOW, formula="U_g ≤ s M", terms=(*by_case(raised), spare, share),
        sources=(practice("grounds may differ by half the logic margin"), TREE),
        remedy="Give each end a return wire of its own to the bus, apart from wires that carry much: they differ by "
        "{U_g}",
    )  # fmt: skip


def _returns(origins: Origins, power: Power, supply: Supply, n: int) -> list[Term]:
    """The return wires from the end of branch n to the bus, and what flows in them."""
    b = power.branches
    found: list[Term] = []
    while n >= 0:
        if b.own_return[n]:
            found.append(run_term(origins, power, n, back_only=True))
        else:
            words = f"{b.names[n]} returns by {b.names[b.returns_to[n]]}"
            found.append(given("", words, np.asanyarray(1.0), "1", origins, f"{b.paths[n]}.returns_with"))
        found += supply.behind[n]
        n = b.returns_to[n]
    return found


def _ground(grounds: Array, n: int, size: int) -> Array:
    return grounds[..., n, :] if n >= 0 else np.zeros(size)
