"""Regulators and what hangs on them: current, input, the servo rail, energy fed back."""

from __future__ import annotations

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Array, Num
from dryfit.ground.sources import derived, practice
from dryfit.machine.power import Power
from dryfit.trades.power.checks_supply import CASES, LABELS, LASTING_LABELS, SUSTAINED, Supply, highest, lasting, lowest
from dryfit.trades.power.checks_terms import (
    OHM,
    TREE,
    Origins,
    by_case,
    each,
    given,
    of_case,
    rating_for,
    spoken,
)
from dryfit.trades.power.formulas import capacitor_rise, held_voltage, regulator_loss

_COLD = 0.05


def typed(values: Array) -> bool:
    """Whether an optional number was given at all (NaN for every machine where not)."""
    return not bool(np.all(np.isnan(values)))


def rail_of(power: Power, n: int) -> int:
    """The regulated branch that feeds the load at the end of branch n (itself counts), -1 for the bus."""
    b = power.branches
    while n >= 0 and not b.regulated[n]:
        n = b.parent[n]
    return n


def run_from(power: Power, n: int, start: int) -> list[int]:
    """The branches on the way from the end of branch `start` (-1: the bus) to the end of branch n, nearest first."""
    way: list[int] = []
    while n != start and n >= 0:
        way.insert(0, n)
        n = power.branches.parent[n]
    return way


def assess_regulators(origins: Origins, power: Power, supply: Supply, stall_current: Term) -> list[Finding]:
    """Current, input and, for servo rails, stall of every regulator."""
    at = [n for n, regulated in enumerate(power.branches.regulated) if regulated]
    if not at:
        return []
    found = [
        _current(origins, power, supply, at),
        _headroom(origins, power, supply, at),
        _bears(origins, power, supply, at),
    ]
    rails = list(dict.fromkeys(r for n in supply.servos if (r := rail_of(power, n)) >= 0))
    return [*found, _servo_stall(origins, power, supply, stall_current, rails)] if rails else found


def _current(origins: Origins, power: Power, supply: Supply, at: list[int]) -> Finding:
    b, s = power.branches, supply.solution
    places = [(b.names[n], f"{b.paths[n]}.regulator.current") for n in at]
    rated = each("I_r", "rated current", b.rated_current[..., at], "A", places, origins)
    share = given("s", "share of the headline current that is planned", power.lim_regulator_share, "%", origins,
                  "power.limits.regulator_share")  # fmt: skip
    lists = [lasting(s.regulator_current[..., n, :]) for n in at]
    out = stack([np.max(x, axis=-1) for x in lists])
    drawn = by_case([
        calculated("I", spoken(f"greatest current that lasts out of {b.names[n]}", amps, LASTING_LABELS),
                   out[..., k], "A", "Σ of what hangs on it", supply.behind[n], TREE)
        for k, (n, amps) in enumerate(zip(at, lists, strict=True))
    ])  # fmt: skip
    loss = calculated(
        "P_v", "heat of the regulator", regulator_loss(b.output[..., at], out, b.efficiency[..., at]), "W",
        "U_out I (1/η − 1)", (), derived("power balance"), per_case=True,
    )  # fmt: skip
    need = calculated("I_need", "rating that would do", rating_for(out, share), "A", "I/s", (), per_case=True)
    return finding(
        check="rail-feeds-its-load", trade="power", topic="regulators",
        title="Every regulator gives what hangs on it", unit="A", cases=[b.names[n] for n in at], demand=out,
        capacity=b.rated_current[..., at] * column(share.value), demand_name="current that lasts",
        capacity_name="planned share of the rating",
        reserve=(0.0, practice("the share of the rating is the reserve")), late=Late.PART_ORDER, formula="I ≤ s I_r",
        terms=(*drawn, *rated, share, loss, need),
        sources=(practice("plan 60 to 70 % of a module's headline current"), TREE),
        remedy="Take a regulator rated for {I_need} or more, split the load over two, or cap the scenes",
    )  # fmt: skip


def input_by_case(power: Power, supply: Supply, n: int) -> Array:
    """Voltage at the input of the regulator of branch n, (..., X): behind its diode, and in the short cases no lower
    than what its hold-up capacitor keeps from the idle state before."""
    b = power.branches
    through = supply.solution.arriving[..., n, :] - b.diode[..., n, None]
    if not np.any(b.hold_up[..., n] > 0):
        return through
    drawn = supply.solution.current[..., n, :]
    kept = stack([through[..., LABELS.index(f"idle, {end}")] for end in ("full", "end of the day")])
    # A falling input raises the current of a switching regulator: the greatest of all cases is counted.
    held = held_voltage(kept, column(highest(drawn)), column(power.lim_dip_time), b.hold_up[..., n, None])
    short = np.arange(len(LABELS)) % len(CASES) >= len(SUSTAINED)
    return np.where(short, np.maximum(through, np.repeat(held, len(CASES), axis=-1)), through)


def _headroom(origins: Origins, power: Power, supply: Supply, at: list[int]) -> Finding:
    b = power.branches
    places = [(b.names[n], f"{b.paths[n]}.regulator") for n in at]

    def of(symbol: str, name: str, key: str, values: Array) -> tuple[Term, ...]:
        keys = [(label, f"{path}.{key}") for label, path in places]
        return each(symbol, name, values[..., at], "V", keys, origins)

    up = np.array([b.types[n] == "step-up" for n in at])
    above = np.where(up, 0.0, b.output[..., at] + b.dropout[..., at])
    need = np.maximum(above, b.min_input[..., at])
    inputs = [input_by_case(power, supply, n) for n in at]
    low = stack([lowest(x) for x in inputs])
    asked = calculated(
        "U_need", "input needed", need, "V", "max(U_out + U_d, U_min); a step-up regulator: U_min",
        (*of("U_out", "output", "output", b.output), *of("U_d", "dropout", "dropout", b.dropout),
         *of("U_min", "least input", "min_input", b.min_input)), OHM, per_case=True,
    )  # fmt: skip
    arrives = by_case([_input(origins, power, supply, n, x) for n, x in zip(at, inputs, strict=True)])
    return finding(
        check="regulator-has-headroom", trade="power", topic="regulators",
        title="Every regulator gets an input it can work from", unit="V", cases=[b.names[n] for n in at],
        demand=need, capacity=low, demand_name="input needed", capacity_name="lowest input",
        reserve=(_COLD, practice("a twentieth for a cold or aged pack")), late=Late.PART_ORDER,
        formula="U_need ≤ U_in", terms=(asked, *arrives), sources=(TREE,),
        remedy="Thicken the wires ahead of it, or take one that works from less than {U_in} (now it needs {U_need})",
    )  # fmt: skip


def _input(origins: Origins, power: Power, supply: Supply, n: int, volts: Array) -> Term:
    """The lowest input of the regulator of branch n with what makes it: source, runs, loads, hold-up."""
    b = power.branches
    rail = rail_of(power, b.parent[n])
    held = f"{b.paths[n]}.hold_up"
    inner: list[Term] = [*supply.source]
    if rail >= 0:
        inner = [given("U_out", f"output of {b.names[rail]}", b.output[..., rail], "V", origins,
                       f"{b.paths[rail]}.regulator.output")]  # fmt: skip
    inner += [supply.runs[m] for m in run_from(power, n, rail)]
    inner += supply.behind[-1]
    if f"{held}.capacitance" in origins:
        inner += [
            given("U_diode", "lost in the diode", b.diode[..., n], "V", origins, f"{held}.diode"),
            given("C", "hold-up capacitor", b.hold_up[..., n], "F", origins, f"{held}.capacitance"),
            given("t_dip", "time of a dip", power.lim_dip_time, "s", origins, "power.limits.dip_time"),
        ]
    words = "U ahead − Σ I R of the runs − U_diode; in a dip at least U_idle − U_diode − I t_dip/C"
    name = spoken(f"lowest input of {b.names[n]}", -volts, LABELS)
    return calculated("U_in", name, lowest(volts), "V", words, inner, TREE)


def _bears(origins: Origins, power: Power, supply: Supply, at: list[int]) -> Finding:
    """The highest input: nothing drawn, so the packs' open voltage, or the output of the regulator ahead."""
    b, (emf, _) = power.branches, supply.source
    met: list[Num] = []
    inner: list[Term] = []
    for k, n in enumerate(at):
        rail = rail_of(power, b.parent[n])
        met.append(b.output[..., rail] if rail >= 0 else np.asanyarray(emf.value)[..., 0])
        inner.append(
            given("U_out", f"output of {b.names[rail]}", met[-1], "V", origins, f"{b.paths[rail]}.regulator.output", k)
            if rail >= 0
            else of_case((emf,), k)[0]
        )
    top = calculated("U_top", "highest input", stack(met), "V", "open voltage of the full packs, or the rail ahead",
                     inner, per_case=True)  # fmt: skip
    places = [(b.names[n], f"{b.paths[n]}.regulator.max_input") for n in at]
    need = calculated("U_need", "input it must bear", np.asanyarray(top.value) / (1 - _COLD), "V", "U_top/0.95", (),
                      per_case=True)  # fmt: skip
    return finding(
        check="regulator-bears-its-input", trade="power", topic="regulators",
        title="Every regulator bears the full packs", unit="V", cases=[b.names[n] for n in at], demand=top.value,
        capacity=b.max_input[..., at], demand_name="highest input", capacity_name="input allowed",
        reserve=(_COLD, practice("a twentieth for spikes and a charger left on")), late=Late.PART_ORDER,
        formula="U_top ≤ U_max",
        terms=(top, *each("U_max", "input allowed", b.max_input[..., at], "V", places, origins), need),
        sources=(OHM,), remedy="Take a regulator for an input of {U_need} or more",
    )  # fmt: skip


def _servo_stall(origins: Origins, power: Power, supply: Supply, stall_current: Term, rails: list[int]) -> Finding:
    b = power.branches
    share = given("s", "share of the servos that start or stall at once", power.lim_servo_stall_share, "%", origins,
                  "power.limits.servo_stall_share")  # fmt: skip
    hung = np.array([sum(rail_of(power, n) == r for n in supply.servos) / len(supply.servos) for r in rails])
    asked = column(np.asanyarray(stall_current.value) * power.lim_servo_stall_share) * hung
    part = calculated("k", "part of the servos on this rail", hung, "%", "feeds of this rail over all of them", (),
                      per_case=True)  # fmt: skip
    at_once = calculated("I_once", "stall current at once", asked, "A", "s k I_stall", (share, part, stall_current),
                         per_case=True)  # fmt: skip
    rated = each("I_r", "rated current", b.rated_current[..., rails], "A",
                 [(b.names[n], f"{b.paths[n]}.regulator.current") for n in rails], origins)  # fmt: skip
    fewer = calculated(
        "s_fit", "share that the rail holds", np.asanyarray(share.value)[..., None] * b.rated_current[..., rails]
        / np.maximum(asked, 1e-9), "%", "s I_r/I_once", (), per_case=True,
    )  # fmt: skip
    return finding(
        check="servo-rail-holds-stall", trade="power", topic="regulators",
        title="The servo rail holds when servos start or stall together", unit="A", cases=[b.names[n] for n in rails],
        demand=asked, capacity=b.rated_current[..., rails], demand_name="stall current at once",
        capacity_name="rated current", reserve=(0.0, practice("no servo stalls at its full sheet current for long")),
        late=Late.PART_ORDER, formula="I_once ≤ I_r", terms=(at_once, *rated, fewer),
        sources=(practice("a servo rail carries the sum of the stall currents that can meet"),),
        remedy="Let no more than {s_fit} of the servos start together (then say so under power.limits."
        "servo_stall_share), or take a regulator for {I_once}",
    )  # fmt: skip


def assess_back_feed(origins: Origins, power: Power) -> list[Finding]:
    """Rails that take back energy from what they drive, where the design gives the energy. Behind no regulator the
    packs take it."""
    b = power.branches
    at = [n for n in range(len(b.names)) if typed(b.fed_back_energy[..., n]) and rail_of(power, n) >= 0]
    if not at:
        return []
    rails = [rail_of(power, n) for n in at]
    volts, held, energy = b.output[..., rails], b.capacitance[..., at], b.fed_back_energy[..., at]
    rise = given("r", "rise allowed", power.lim_back_fed_rise, "%", origins, "power.limits.back_fed_rise")
    most = 1 + column(rise.value)
    raised = capacitor_rise(volts, energy, np.where(held > 0, held, np.where(np.isnan(held), np.nan, 1e-12)))
    names = [b.names[n] for n in at]

    def keys(key: str, of: list[int]) -> list[tuple[str, str]]:
        return [(name, f"{b.paths[n]}.{key}") for name, n in zip(names, of, strict=True)]

    inner = (
        *each("U", "output", volts, "V", keys("regulator.output", rails), origins),
        *each("E", "energy fed back into the rail", energy, "J", keys("fed_back_energy", at), origins),
        *each("C", "capacitance on the rail", held, "F", keys("capacitance", at), origins),
    )
    term = calculated("U_1", "voltage after it", raised, "V", "√(U² + 2 E/C)", inner, derived("energy of a capacitor"),
                      per_case=True)  # fmt: skip
    room = np.square(volts) * (np.square(most) - 1)
    # No rise allowed: no capacitor is large enough.
    larger = 2 * energy / np.where(room > 0, room, np.nan)
    need = calculated("C_need", "capacitance that would do", larger, "F", "2 E/(U² ((1 + r)² − 1))", (), per_case=True)
    return [
        finding(
            check="back-fed-energy", trade="power", topic="regulators",
            title="The rail takes what decelerating drives feed back", unit="V", cases=names, demand=raised,
            capacity=volts * most, demand_name="voltage after feeding back", capacity_name="voltage allowed",
            reserve=(0.0, practice("the rise allowed is the reserve")), late=Late.PART_ORDER,
            formula="U_1 ≤ U (1 + r)", terms=(term, rise, need), sources=(derived("0.5 C U² before and after"),),
            remedy="Bring the capacitance of the rail to {C_need}, or add a clamp: it would rise to {U_1}",
        )
    ]  # fmt: skip
