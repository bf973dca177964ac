"""From machine and loads to the solved supply: sources, cases, loads at each branch, and what the meter would read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Term
from dryfit.ground.quantity import Array
from dryfit.machine.arms import Arms
from dryfit.machine.brief import Brief
from dryfit.machine.light import Light
from dryfit.machine.power import Power
from dryfit.trades.power.checks_terms import (
    Loads,
    Origins,
    load_terms,
    run_term,
    source_resistance,
    source_terms,
)
from dryfit.trades.power.formulas import shares
from dryfit.trades.power.formulas_network import Network, Solution, loading, solve

SUSTAINED = ("mean of the show", "idle", "cruise", "slope", "full white", "arms moving", "driving, lit and moving")
PEAKS = ("start of all motors", "step", "one motor stalled", "everything at once")
CASES = SUSTAINED + PEAKS
ENDS = ("full", "end of the day")
LABELS = tuple(f"{case}, {end}" for end in ENDS for case in CASES)
_SUSTAINED_AT = [e * len(CASES) + c for e in range(2) for c in range(len(SUSTAINED))]
_PEAKS_AT = [e * len(CASES) + c for e in range(2) for c in range(len(SUSTAINED), len(CASES))]
_DRIVE = {"idle": 0, "cruise": 1, "start": 2, "slope": 3, "step": 4, "stall": 5}


@dataclass(frozen=True)
class Supply:
    """The solved supply. Arrays (..., B, X) over branches and LABELS; X = 2 ends × CASES.

    loads: what the other trades handed on.  source: open voltage and resistance.  behind: the loads of every branch and
    of what hangs on it, last those of all.  runs: the resistance of every branch.
    pack_current: of the hardest-working pack (..., X).  index, constant_power (..., X): nearness of collapse.
    motors, servos, logic: branches that feed each kind of load.  strip_branches: for each strip those that feed it.
    """

    loads: Loads
    source: tuple[Term, Term]
    behind: tuple[tuple[Term, ...], ...]
    runs: tuple[Term, ...]
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


def solve_supply(origins: Origins, power: Power, brief: Brief, light: Light, arms: Arms, loads: Loads) -> Supply:
    """Solve all cases at both ends.

    Every case has the logic on. Light: mean of the scenes where a case is about motors or arms; what each set of strips
    draws in its brightest scene in "full white", "driving, lit and moving" and "everything at once". The arms hold
    their hardest posture unless they move. "mean of the show" has every load at its mean over the show day.
    """
    b = power.branches
    motors = np.sum(np.asanyarray(loads.drivers.value, dtype=float), axis=-1)
    index = [
        _DRIVE[k] for k in ("idle", "cruise", "slope", "idle", "idle", "cruise", "start", "step", "stall", "start")
    ]
    standing = np.maximum(1.0 - np.asanyarray(brief.driving_share) - brief.climbing_share, 0.0)
    driven = standing * motors[..., 0] + brief.driving_share * motors[..., 1] + brief.climbing_share * motors[..., 3]
    by_case = motors[..., index]
    mean = np.broadcast_to(driven, np.broadcast_shapes(np.shape(driven), by_case.shape[:-1]))[..., None]
    watts = np.concatenate((mean, np.broadcast_to(by_case, (*mean.shape[:-1], len(index)))), axis=-1)
    lit = np.array([0, 0, 0, 0, 1, 0, 1, 0, 0, 0, 1], dtype=float)
    busy = np.array([0, 0, 0, 0, 0, 1, 1, 0, 0, 0, 1], dtype=float)
    strip_names = light.strips
    light_load = _light_load(light, np.asanyarray(loads.strips.value, dtype=float), lit)
    holding, moving = np.asanyarray(loads.holding.value, dtype=float), np.asanyarray(loads.moving.value)
    held = np.max(holding, axis=-1)
    servo = column(held) + busy * np.maximum(column(moving) - column(held), 0.0)
    usual = np.sum(holding * arms.time_share, axis=-1)
    usual = usual + power.lim_arms_moving_share * np.maximum(moving - usual, 0.0)
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
        currents[n] = currents[n] + column(loads.logic.value) / len(of("logic"))
    for k, at in enumerate(strips):
        for n in at:
            currents[n] = currents[n] + light_load[..., k, :] / len(at)
    emf2, resistance2 = source_resistance(power)
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
        loads,
        source_terms(origins, power),
        tuple(load_terms(origins, power, loads, n) for n in (*range(len(b.names)), -1)),
        tuple(run_term(origins, power, n) for n in range(len(b.names))),
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
    mean = np.sum(planned * np.asanyarray(light.time_share)[..., None], axis=-2) if scenes else current[..., -1, :]
    bright = brightest(current)
    return np.asanyarray(mean[..., None] + lit * (bright - mean)[..., None])


def brightest(current: Array) -> Array:
    """What each set of strips draws in its brightest scene: (..., S, K) -> (..., K)."""
    return np.asanyarray(np.max(current, axis=-2))


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


LASTING_LABELS = tuple(LABELS[n] for n in _SUSTAINED_AT)
PEAK_LABELS = tuple(LABELS[n] for n in _PEAKS_AT)


def lasting(values: Array) -> Array:
    """The cases that last, both ends: (..., X) -> (..., LASTING_LABELS)."""
    return values[..., _SUSTAINED_AT]


def short_lived(values: Array) -> Array:
    """The cases of a second or so, both ends: (..., X) -> (..., PEAK_LABELS)."""
    return values[..., _PEAKS_AT]


def lowest(values: Array) -> Array:
    """Lowest of all cases: (..., X) -> (...,)."""
    return np.asanyarray(np.min(values, axis=-1))


def highest(values: Array) -> Array:
    """Highest of all cases: (..., X) -> (...,)."""
    return np.asanyarray(np.max(values, axis=-1))
