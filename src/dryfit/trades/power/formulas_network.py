"""The supply as a network: a tree of wire pairs with regulators in it, solved for every node by Newton's method.

Each branch runs from its parent's end (or the bus) to its own end with a resistance in the supply and in the return
conductor. Loads at an end draw constant current, constant power or as a resistor does. A regulator at an end draws the
power it passes on. One Newton step linearises every load and regulator, folds the tree from its tips to the source into
Norton equivalents and unfolds it again: exact elimination in one pass each way, for all machines and cases at once.

From the unloaded state the iterates come down monotonically and quadratically to the upper (stable) solution wherever
one exists: the branch equations v² - E v + R P = 0 are convex (Newton, Raphson, Baluev). Where constant power asks for
more than the line can carry no solution exists, the iterates find none, and `solved` says so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array, Num
from dryfit.ground.steps import one_step

_Solved = tuple[Array, Array, Array, Array, Array, Array, Array, NDArray[np.bool_]]

STEPS = 20
"""Newton steps at most; from the unloaded state four are usual, a shared return wire takes about ten."""
SETTLED = 1e-7
"""Last change of a voltage, V, after which the next one is below rounding (its square over the voltage)."""
SETTLED_SHARED = 1e-12
"""The same where a return wire is shared: its lift is carried from step to step, which converges linearly."""
BLOCK = 256
"""Machines solved together: as many as fit the processor's cache with all their cases."""


@dataclass(frozen=True)
class Network:
    """Structure and resistances. B branches in the order of the file.

    parent: index of the branch whose end it starts from, -1 for the bus.  returns_to: index of the branch at whose end
    its return joins, -1 for the bus; equal to `parent` unless a return wire is shared (and none is its own).
    supply, back: resistances of the two conductors (..., B), ohm.
    regulated: whether a regulator sits at the end; linear: whether it passes its current straight on.
    output, dropout (V), efficiency, quiescent (A): (..., B), read where `regulated`.
    step_up: whether the output may lie above the input, so that dropout does not limit it.
    """

    parent: tuple[int, ...]
    returns_to: tuple[int, ...]
    supply: Array
    back: Array
    regulated: tuple[bool, ...]
    linear: tuple[bool, ...]
    step_up: tuple[bool, ...]
    output: Array
    dropout: Array
    efficiency: Array
    quiescent: Array


@dataclass(frozen=True)
class Solution:
    """What the meter would read. X cases trail; NaN where no solution exists.

    current: drawn into each branch (..., B, X), A.  arriving: between the two wires at the end, before a regulator
    (..., B, X), V.  delivered: after it.  ground: of each end over the source's negative pole (..., B, X), V.
    regulator_current: out of each regulator (..., B, X), 0 where there is none.
    bus (..., X), V.  source_current (..., X), A.  solved (..., X).
    """

    current: Array
    arriving: Array
    delivered: Array
    ground: Array
    regulator_current: Array
    bus: Array
    source_current: Array
    solved: NDArray[np.bool_]


def order(parent: tuple[int, ...]) -> tuple[int, ...]:
    """Branches sorted so that every one comes after the one it starts from. A loop's members are left out."""
    placed: list[int] = []
    waiting = list(range(len(parent)))
    while waiting:
        ready = [b for b in waiting if parent[b] < 0 or parent[b] in placed]
        if not ready:
            break
        placed += ready
        waiting = [b for b in waiting if b not in ready]
    return tuple(placed)


def solve(
    net: Network, emf: Num, resistance: Num, current: Array, power: Array, conductance: Array | None = None
) -> Solution:
    """Solve the network. emf, resistance of the source (..., X); constant current (A) and power (W) loads at every
    branch's end (..., B, X); conductance of resistive loads (..., B)."""
    e, r = np.asanyarray(emf, dtype=float), np.asanyarray(resistance, dtype=float)
    resistive = () if conductance is None else (conductance,)
    wires = (net.supply, net.back, net.output, net.dropout, net.efficiency, net.quiescent, *resistive)
    return Solution(*_solved(net, e, r, wires, current, power))


@one_step
def _solved(net: Network, e: Array, r: Array, wires: tuple[Array, ...], current: Array, power: Array) -> _Solved:
    """The fields of Solution. Of `net` only the structure is read; its numbers are in `wires`."""
    lead = np.broadcast_shapes(
        e.shape[:-1], r.shape[:-1], current.shape[:-2], power.shape[:-2], *(x.shape[:-1] for x in wires)
    )
    count, cases = int(np.prod(lead, dtype=int)), np.broadcast_shapes(e.shape[-1:], current.shape[-1:])[0]
    branches = len(net.parent)
    whole = [_machines_last(x, 1, lead) for x in (e, r, *wires)]
    whole += [_machines_last(x, 2, lead) for x in (current, power)]
    out = [np.empty((branches, cases, count)) for _ in range(5)] + [np.empty((cases, count)) for _ in range(2)]
    solved = np.empty((cases, count), dtype=bool)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for at in range(0, count, BLOCK):
            cut = slice(at, at + BLOCK)
            e_, r_, *w, i_, p_ = (x[..., cut] if x.shape[-1] == count else x for x in whole)
            run = _Run(net, e_, r_, w, i_, p_)
            run.settle()
            run.write([x[..., cut] for x in out], solved[:, cut])
    amps, arriving, delivered, ground, through, bus, total = (
        np.moveaxis(x, -1, 0).reshape(*lead, *x.shape[:-1]) for x in out
    )
    return amps, arriving, delivered, ground, through, bus, total, solved.T.reshape(*lead, cases)


def _machines_last(values: Array, axes: int, lead: tuple[int, ...]) -> Array:
    """Values (..., tail) with all machines along one trailing axis, (tail, n): one operation then serves a whole row of
    machines. The axis has length one where every machine has the same value."""
    v = np.asanyarray(values, dtype=float)
    tail = v.shape[v.ndim - axes :]
    if v.ndim == axes:
        return v[..., None]
    rows = np.broadcast_to(v, lead + tail).reshape(-1, *tail)
    return np.ascontiguousarray(np.moveaxis(rows, 0, -1))


class _Run:
    """State of one solve: for every branch an array (X, n) over cases and machines."""

    def __init__(self, net: Network, emf: Array, resistance: Array, wires: list[Array], current: Array, power: Array):
        count = len(net.parent)
        self.net, self.order = net, order(net.parent)
        self.shared = any(r != p for r, p in zip(net.returns_to, net.parent, strict=True))
        self.emf, self.rs = emf, resistance
        self.supply, self.back, self.output, self.dropout, self.eta, self.quiescent, *resistive = wires
        # A branch that shares another's return has no return conductor of its own.
        self.loop = self.supply + self.back
        self.ic, self.p = current, power
        self.has_p = [bool(np.any(power[b] != 0)) for b in range(count)]
        self.g = resistive[0] if resistive else None
        self.arriving: list[Array] = [emf] * count
        self.delivered: list[Array] = [emf] * count
        for b in self.order:
            up = self.delivered[net.parent[b]] if net.parent[b] >= 0 else emf
            self.arriving[b] = up
            self.delivered[b] = self._passed_on(b, up) if net.regulated[b] else up
        zero = np.zeros((1, 1))
        self.shift: list[Array] = [zero] * count
        self.grounds: list[Array] = [zero] * count
        self.currents: list[Array] = [zero] * count
        self.out: list[Array] = [zero] * count
        self.bus, self.total = emf, zero
        self.change: Array = np.full((1, 1), np.inf)
        self.lost: NDArray[np.bool_] = np.zeros((1, 1), dtype=bool)

    def settle(self) -> None:
        """Step until every machine and case has either settled or been found to have no working state."""
        self.settled = SETTLED_SHARED if self.shared else SETTLED
        for _ in range(STEPS):
            self.step()
            if np.all((self.change <= self.settled) | self.lost):
                break
        if not self.shared:
            self._lift_grounds()

    def _passed_on(self, b: int, v: Array) -> Array:
        """Output of the regulator at the end of branch b for an input v."""
        if self.net.step_up[b]:
            return np.asanyarray(self.output[b] + np.zeros_like(v))
        return np.asanyarray(np.minimum(self.output[b], v - self.dropout[b]))

    def step(self) -> None:
        """One Newton step: fold the linearised tree to the source, then unfold the voltages."""
        net, count = self.net, len(self.net.parent)
        fixed: list[Num] = [0.0] * (count + 1)
        slope: list[Num] = [0.0] * (count + 1)
        heads: list[tuple[Num, Num]] = [(0.0, 0.0)] * count
        for b in reversed(self.order):
            a: Num = fixed[b] + self.ic[b]
            g: Num = slope[b]
            if self.g is not None:
                g = g + self.g[b]
            if self.has_p[b]:
                u = self.delivered[b]
                drawn = self.p[b] / u
                a, g = a + 2 * drawn, g - drawn / u
            if net.regulated[b]:
                a, g = self._reflect(b, a, g)
            if not _is_nothing(g):
                r = 1.0 + self.loop[b] * g
                a, g = (a - g * self.shift[b] if self.shared else a) / r, g / r
            heads[b] = (a, g)
            above = net.parent[b] if net.parent[b] >= 0 else count
            fixed[above], slope[above] = fixed[above] + a, g if _is_nothing(slope[above]) else slope[above] + g
        self.bus = (self.emf - self.rs * fixed[count]) / (1.0 + self.rs * slope[count])
        self.total = fixed[count] + slope[count] * self.bus
        change: Num = 0.0
        lowest: Array = self.bus
        for b in self.order:
            up = self.delivered[net.parent[b]] if net.parent[b] >= 0 else self.bus
            a, g = heads[b]
            self.currents[b] = np.asanyarray(a if _is_nothing(g) else a + g * up)
            v = up - self.loop[b] * self.currents[b]
            if self.shared:
                v = v - self.shift[b]
            if self.has_p[b] or net.regulated[b]:
                # Where power is not tied to voltage one step is exact; what it hangs on tells whether it has settled.
                change = np.maximum(change, np.abs(v - self.arriving[b]))
                lowest = np.minimum(lowest, v)
            self.arriving[b] = v
            self.delivered[b] = self._passed_on(b, v) if net.regulated[b] else v
        if self.shared:
            before = self.shift[:]
            self._lift_grounds()
            for old, new in zip(before, self.shift, strict=True):
                change = np.maximum(change, np.abs(new - old))
        self.change = np.asanyarray(change)
        # The steps come down from above towards a working state; below zero there is none.
        self.lost = self.lost | ~(lowest > 0)

    def _reflect(self, b: int, a: Num, g: Num) -> tuple[Num, Num]:
        """Norton form at a regulator's input of the load a + g u at its output."""
        v, u = self.arriving[b], self.delivered[b]
        follows = np.zeros((1, 1)) if self.net.step_up[b] else (v - self.dropout[b] < self.output[b]) * 1.0
        out = a if _is_nothing(g) else a + g * u
        self.out[b] = np.asanyarray(out)
        if self.net.linear[b]:
            steep: Num = follows * g
            return out + self.quiescent[b] - steep * v, steep
        through = self.eta[b] * v
        drawn = u * out / through
        if not np.any(follows):
            return 2 * drawn + self.quiescent[b], -drawn / v
        steep = (follows * (a + 2 * g * u) - drawn * self.eta[b]) / through
        return drawn + self.quiescent[b] - steep * v, steep

    def _lift_grounds(self) -> None:
        """Ground of every end from the currents in the return conductors, and what it takes from each loop."""
        net, count = self.net, len(self.net.parent)
        # Into each end's ground comes what its supply wire brought less what its children's supply wires took away;
        # a regulator's ground pin makes up the difference of its two currents, so the sum is the same.
        surplus = list(self.currents)
        back_order = order(net.returns_to)
        for b in range(count):
            if net.parent[b] >= 0:
                surplus[net.parent[b]] = surplus[net.parent[b]] - self.currents[b]
        # ... but a child that returns to its parent's end brings its current back there.
        flow = list(surplus)
        for b in reversed(back_order):
            if net.returns_to[b] >= 0:
                flow[net.returns_to[b]] = flow[net.returns_to[b]] + flow[b]
        for b in back_order:
            base = self.grounds[net.returns_to[b]] if net.returns_to[b] >= 0 else np.zeros(())
            self.grounds[b] = base + self.back[b] * flow[b]
        for b in range(count):
            start = self.grounds[net.parent[b]] if net.parent[b] >= 0 else np.zeros(())
            self.shift[b] = self.grounds[b] - start - self.back[b] * self.currents[b]

    def write(self, out: list[Array], solved: NDArray[np.bool_]) -> None:
        """Lay the results into `out`; NaN where the steps did not settle on a working state."""
        good = (self.change <= 10 * self.settled) & ~self.lost & (self.bus > 0)
        for v in self.delivered:
            good = good & (v > 0)
        solved[:] = good
        kept = (self.currents, self.arriving, self.delivered, self.grounds, self.out)
        for place, values in zip(out, kept, strict=False):
            for b, v in enumerate(values):
                place[b] = v
        out[5][:], out[6][:] = self.bus, self.total
        if not solved.all():
            for place in out:
                place[..., ~solved] = np.nan


def _is_nothing(g: Num) -> bool:
    """Whether no load at all stands behind this: the number 0.0 that the fold starts with, not an array of zeros."""
    return isinstance(g, float)


def loading(net: Network, emf: Num, resistance: Num, current: Array, power: Array) -> tuple[Array, Array]:
    """How near constant power brings the network to collapse: (index, total power) (..., X) each.

    index = max over the ends j of 4 Σ_k R_jk P_k / E_j², R_jk the resistance that the paths to j and k have in
    common and E_j the voltage left at j by the constant currents. A solution exists wherever it is at most 1, and for
    one path that is the exact limit P = E² / 4R (Bolognani and Zampieri 2016, from memory). Regulators count with
    their output power over their efficiency, and what hangs behind them with its own power only.
    """
    count = len(net.parent)
    placed = order(net.parent)
    amps = [current[..., b, :] for b in range(count)]
    watts = [power[..., b, :] for b in range(count)]
    inner = [False] * count
    for b in placed:
        inner[b] = net.parent[b] >= 0 and (inner[net.parent[b]] or net.regulated[net.parent[b]])
    for b in reversed(placed):
        if net.regulated[b]:
            volts = net.output[..., b, None]
            through = amps[b] + watts[b] / volts
            if net.linear[b]:
                amps[b], watts[b] = through, np.zeros(())
            else:
                amps[b], watts[b] = np.zeros(()), through * volts / net.efficiency[..., b, None]
            amps[b] = amps[b] + net.quiescent[..., b, None]
        up = net.parent[b]
        if up >= 0:
            amps[up], watts[up] = amps[up] + amps[b], watts[up] + watts[b]
    rs = np.asanyarray(resistance, dtype=float)
    total: Array = sum((watts[b] for b in placed if net.parent[b] < 0), start=np.zeros(()))
    drawn: Array = sum((amps[b] for b in placed if net.parent[b] < 0), start=np.zeros(()))
    weight, drop = {-1: rs * total}, {-1: rs * drawn}
    worst: Array = np.zeros(())
    for b in placed:
        if inner[b]:
            continue
        loop = (net.supply[..., b] + net.back[..., b])[..., None]
        weight[b] = weight[net.parent[b]] + loop * watts[b]
        drop[b] = drop[net.parent[b]] + loop * amps[b]
        left = np.maximum(np.asanyarray(emf) - drop[b], 1e-6)
        worst = np.maximum(worst, 4 * weight[b] / left**2)
    return worst, np.broadcast_to(total, worst.shape)
