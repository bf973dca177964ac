"""From machine and loads to the solved supply: sources, cases, loads at each branch, and what the meter would read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.sources import Source, derived, memory
from dryfit.machine.arms import Arms
from dryfit.machine.brief import Brief
from dryfit.machine.light import Light
from dryfit.machine.power import Power
from dryfit.trades.power.formulas import open_voltage, parallel, shares
from dryfit.trades.power.formulas_network import Network, Solution, loading, solve

SUSTAINED = ("mean of the show", "idle", "cruise", "slope", "full white", "arms moving", "driving, lit and moving")
PEAKS = ("start of all motors", "step", "one motor stalled", "everything at once")
CASES = SUSTAINED + PEAKS
ENDS = ("full", "end of the day")
LABELS = tuple(f"{case}, {end}" for end in ENDS for case in CASES)
_SUSTAINED_AT = [e * len(CASES) + c for e in range(2) for c in range(len(SUSTAINED))]
_PEAKS_AT = [e * len(CASES) + c for e in range(2) for c in range(len(SUSTAINED), len(CASES))]
_DRIVE = {"idle": 0, "cruise": 1, "start": 2, "slope": 3, "step": 4, "stall": 5}

OHM = derived("Ohm's and Kirchhoff's laws")
TREE = derived("nodal equations of the wire tree, solved by Newton's method")
TABLE = Source("IEC 60228, conductors of class 5", "greatest resistance at 20 °C")
AMPACITY = Source("IEC 60364-5-52, method C, PVC 70 °C", "1.5 to 6 mm²; other sizes from memory")
FUSE = memory("ISO 8820-3, fuse-links for road vehicles", "time-current limits")


@dataclass(frozen=True)
class Supply:
    """The solved supply. Arrays (..., B, X) over branches and LABELS; X = 2 ends × CASES.

    pack_current: of the hardest-working pack (..., X).  index, constant_power (..., X): nearness of collapse.
    feeding: branches that feed each kind of load.  strip_branches: for each strip the branches that feed it.
    """

    solution: Solution
    pack_current: Array
    emf: Array
    resistance: Array
    index: Array
    constant_power: Array
    motors: tuple[int, ...]
    servos: tuple[int, ...]
    logic: tuple[int, ...]
    strip_branches: tuple[tuple[int, ...], ...]


def given(symbol: str, name: str, value: Num, unit: str, origins: Mapping[str, Origin], path: str) -> Term:
    """A term that stands in the design file or took a default there."""
    origin = origins.get(path) or Origin(Kind.DEFAULT, path=path, note="not given")
    return Term(symbol, name, value, unit, origin)


def each(
    symbol: str,
    name: str,
    values: Num,
    unit: str,
    places: Sequence[tuple[str, str]],
    origins: Mapping[str, Origin],
) -> Term:
    """A number that stands in several places of the file: one per-case term (..., C) that unfolds to the lines.
    places: label and key of each case."""
    v = np.asarray(values, dtype=float)
    inner = tuple(
        given(symbol, f"{name}, {label}", v[..., n], unit, origins, path) for n, (label, path) in enumerate(places)
    )
    return calculated(symbol, name, v, unit, "as given for each", inner, per_case=True)


def network(power: Power) -> Network:
    """The tree of branches as the solver wants it."""
    b = power.branches
    return Network(
        b.parent,
        b.returns_to,
        b.supply,
        b.back,
        b.regulated,
        tuple(t == "linear" for t in b.types),
        tuple(t == "step-up" for t in b.types),
        b.output,
        b.dropout,
        b.efficiency,
        b.quiescent,
    )


def source(power: Power) -> tuple[Array, Array]:
    """Open voltage and resistance at the bus, [full, end of the day], (..., 2) each."""
    p = power.packs
    full = open_voltage(1.0, p.charge_at, p.open_cell, p.cells)
    end = open_voltage(1.0 - np.asarray(p.usable), p.charge_at, p.open_cell, p.cells)
    legs = column(p.resistance) + p.lead_resistance
    worn = column(p.resistance * p.end_factor) + p.lead_resistance
    emf = np.stack(np.broadcast_arrays(full, end), axis=-1)
    main = np.asarray(power.main_resistance)
    return emf, np.stack(np.broadcast_arrays(parallel(legs) + main, parallel(worn) + main), axis=-1)


def source_terms(origins: Mapping[str, Origin], power: Power) -> tuple[Term, Term]:
    """Open voltage and resistance at the bus as terms, [full, end of the day] along a trailing axis."""
    p = power.packs
    emf, resistance = source(power)
    usable = given("u", "share of the charge planned for", p.usable, "%", origins, "power.limits.usable_share")
    cells = given("n", "cells in series", p.cells, "1", origins, "power.packs.cells_in_series")
    chemistry = given("U_cell", "rested voltage of a full cell", p.open_cell[-1], "V", origins, "power.packs.chemistry")
    e = calculated(
        "E",
        "open voltage, full and at the end of the day",
        emf,
        "V",
        "n U_cell(charge), charge = 1 and 1 - u",
        (cells, chemistry, usable),
        derived("rested voltage by state of charge, straight lines in the table"),
    )
    terms = (
        given("R_p", "resistance of one pack", p.resistance, "ohm", origins, "power.packs.resistance"),
        given("N", "packs in parallel", np.asarray(float(p.count)), "1", origins, "power.packs.count"),
        given(
            "l_p",
            "both wires, fuse and contacts of the first pack's lead",
            p.lead_resistance[..., 0],
            "ohm",
            origins,
            "power.packs.lead.length",
        ),
        given(
            "R_m",
            "main line with fuse, switch and contacts",
            power.main_resistance,
            "ohm",
            origins,
            "power.main.length",
        ),
    )
    r = calculated(
        "R_s",
        "resistance of the source at the bus, full and at the end of the day",
        resistance,
        "ohm",
        "1 / sum(1 / (R_p + l_p)) + R_m",
        terms,
        OHM,
        TABLE,
    )
    return e, r


def source_at_drivers(origins: Mapping[str, Origin], power: Power) -> tuple[Term, Term]:
    """The source that the motor drivers see: open voltage (..., 2) and resistance (..., 2), [full, end of the day].

    Other loads on the bus are left out; the solved network of `assess_power` has them in.
    """
    e, r = source_terms(origins, power)
    b = power.branches
    own = [_path_resistance(power, n) for n, feeds in enumerate(b.feeds) if feeds == "motors"]
    lines = parallel(np.stack(np.broadcast_arrays(*own), axis=-1))
    motors = tuple(
        given("l_d", f"length of {b.names[n]}, one way", b.length[..., n], "m", origins, f"{b.paths[n]}.length")
        for n, feeds in enumerate(b.feeds)
        if feeds == "motors"
    )
    line = calculated(
        "R_d",
        "wires, fuse and contacts from the bus to the drivers",
        lines,
        "ohm",
        "both wires at their temperature + fuse + contacts",
        motors,
        TABLE,
    )
    total = calculated(
        "R_q",
        "resistance between open packs and drivers, full and at the end of the day",
        np.asarray(r.value) + column(lines),
        "ohm",
        "R_s + R_d",
        (r, line),
        OHM,
    )
    return e, total


def _path_resistance(power: Power, n: int) -> Array:
    """Both conductors from the bus to the end of branch n; nothing where they have no resistance."""
    b, total = power.branches, np.zeros(())
    while n >= 0:
        total = total + b.supply[..., n] + b.back[..., n]
        n = b.parent[n]
    return np.maximum(total, 1e-9)


def solve_supply(
    power: Power,
    brief: Brief,
    light: Light,
    arms: Arms,
    control_current: Num,
    driver_power: Num,
    strip_current: Num,
    hold: Num,
    moving: Num,
) -> Supply:
    """Solve all cases at both ends. driver_power (..., C, M), strip_current (..., S, K), hold (..., P), moving (...,).

    Every case has the logic on. Light: mean of the scenes where a case is about motors or arms; the brightest of all
    scenes (full white under the cap) in "full white", "driving, lit and moving" and "everything at once". The arms hold
    their hardest posture unless they move. "mean of the show" has every load at its mean over the show day.
    """
    b = power.branches
    motors = np.sum(np.asarray(driver_power, dtype=float), axis=-1)
    index = [
        _DRIVE[k] for k in ("idle", "cruise", "slope", "idle", "idle", "cruise", "start", "step", "stall", "start")
    ]
    standing = np.maximum(1.0 - np.asarray(brief.driving_share) - brief.climbing_share, 0.0)
    driven = standing * motors[..., 0] + brief.driving_share * motors[..., 1] + brief.climbing_share * motors[..., 3]
    by_case = motors[..., index]
    mean = np.broadcast_to(driven, np.broadcast_shapes(np.shape(driven), by_case.shape[:-1]))[..., None]
    watts = np.concatenate((mean, np.broadcast_to(by_case, (*mean.shape[:-1], len(index)))), axis=-1)
    lit = np.array([0, 0, 0, 0, 1, 0, 1, 0, 0, 0, 1], dtype=float)
    busy = np.array([0, 0, 0, 0, 0, 1, 1, 0, 0, 0, 1], dtype=float)
    strip_names = light.strips
    light_load = _light_load(light, np.asarray(strip_current, dtype=float), lit) if strip_names else np.zeros((0, 11))
    holding = np.asarray(hold, dtype=float)
    held = np.max(holding, axis=-1)
    servo = column(held) + busy * np.maximum(column(moving) - column(held), 0.0)
    usual = np.sum(holding * arms.time_share, axis=-1)
    usual = usual + power.lim_arms_moving_share * np.maximum(np.asarray(moving) - usual, 0.0)
    servo = np.where(np.arange(len(CASES)) == 0, column(usual), servo)

    def of(kind: str) -> tuple[int, ...]:
        return tuple(n for n, f in enumerate(b.feeds) if f == kind)

    strips = tuple(_feeders(b.feeds, name) for name in strip_names)
    zero = np.zeros(len(CASES))
    currents: list[Array] = [column(b.current[..., n]) + zero for n in range(len(b.names))]
    powers: list[Array] = [column(b.load_power[..., n]) + zero for n in range(len(b.names))]
    for n in of("motors"):
        powers[n] = powers[n] + watts / len(of("motors"))
    for n in of("servos"):
        currents[n] = currents[n] + servo / len(of("servos"))
    for n in of("logic"):
        currents[n] = currents[n] + column(control_current) / len(of("logic"))
    for k, at in enumerate(strips):
        for n in at:
            currents[n] = currents[n] + light_load[..., k, :] / len(at)
    emf2, resistance2 = source(power)
    amps = np.stack(np.broadcast_arrays(*currents), axis=-2)
    load = np.stack(np.broadcast_arrays(*powers), axis=-2)
    amps, load = np.concatenate((amps, amps), axis=-1), np.concatenate((load, load), axis=-1)
    emf, resistance = np.repeat(emf2, len(CASES), axis=-1), np.repeat(resistance2, len(CASES), axis=-1)
    net = network(power)
    resistive = b.conductance if bool(np.any(b.conductance != 0)) else None
    solution = solve(net, emf, resistance, amps, load, resistive)
    near, total = loading(net, emf, resistance, amps, load)
    worst = np.max(_pack_shares(power), axis=-2)
    return Supply(
        solution,
        solution.source_current * np.repeat(worst, len(CASES), axis=-1),
        emf,
        resistance,
        near,
        total,
        of("motors"),
        of("servos"),
        of("logic"),
        strips,
    )


def _light_load(light: Light, current: Array, lit: Array) -> Array:
    """Current of every set of strips by case (..., K, X): the scenes' mean over the show, or the brightest scene."""
    planned = current[..., :-1, :]
    scenes = bool(light.scenes)
    mean = np.sum(planned * np.asarray(light.time_share)[..., None], axis=-2) if scenes else current[..., -1, :]
    bright = pick_scene(current)
    return np.asarray(mean[..., None] + lit * (bright - mean)[..., None])


def pick_scene(current: Array) -> Array:
    """Currents (..., K) of the scene that draws most in all: (..., S, K) -> (..., K)."""
    worst = np.argmax(np.sum(current, axis=-1), axis=-1)
    return np.asarray(np.take_along_axis(current, worst[..., None, None], axis=-2)[..., 0, :])


def _pack_shares(power: Power) -> Array:
    """Share of the total current that each pack takes, [full, end of the day]: (..., N, 2)."""
    p = power.packs
    full = shares(column(p.resistance) + p.lead_resistance)
    worn = shares(column(p.resistance * p.end_factor) + p.lead_resistance)
    return np.stack(np.broadcast_arrays(full, worn), axis=-1)


def pack_shares(power: Power) -> Array:
    """Share of the total current that each pack takes when full, (..., N)."""
    return _pack_shares(power)[..., 0]


def _feeders(feeds: Sequence[str], name: str) -> tuple[int, ...]:
    """Branches that feed a strip: those that name it, else those that feed all strips."""
    own = tuple(n for n, f in enumerate(feeds) if f == f"strip {name}")
    return own or tuple(n for n, f in enumerate(feeds) if f == "strips")


def sustained(values: Array) -> Array:
    """Worst of the cases that last, both ends: (..., X) -> (...,)."""
    return np.asarray(np.max(values[..., _SUSTAINED_AT], axis=-1))


def peaks(values: Array) -> Array:
    """Worst of the short cases, both ends: (..., X) -> (...,)."""
    return np.asarray(np.max(values[..., _PEAKS_AT], axis=-1))


def lowest(values: Array) -> Array:
    """Lowest of all cases: (..., X) -> (...,)."""
    return np.asarray(np.min(values, axis=-1))


def highest(values: Array) -> Array:
    """Highest of all cases: (..., X) -> (...,)."""
    return np.asarray(np.max(values, axis=-1))
