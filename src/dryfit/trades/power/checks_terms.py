"""The supply's numbers as terms: lines of the file, wires, loads behind a run, source. What the findings unfold to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.sources import Source, derived, memory
from dryfit.machine.power import Power
from dryfit.machine.wiring import CLASS_5
from dryfit.trades.power.formulas import open_voltage, parallel

Origins = Mapping[str, Origin]

OHM = derived("Ohm's and Kirchhoff's laws")
TREE = derived("nodal equations of the wire tree, solved by Newton's method")
AMPACITY = Source("IEC 60364-5-52, method C, PVC 70 °C", "1.5 to 6 mm²; other sizes from memory")
FUSE = memory("ISO 8820-3, fuse-links for road vehicles", "time-current limits")


@dataclass(frozen=True)
class Loads:
    """What the other trades hand on: the drivers' power (..., C, M), the strips' current by scene (..., S, K), that of
    the servos by posture (..., P) and while moving (...,), and that of the controller with its extras (...,)."""

    drivers: Term
    strips: Term
    holding: Term
    moving: Term
    logic: Term

    def all(self) -> tuple[Term, ...]:
        """Every load once."""
        return self.drivers, self.strips, self.holding, self.moving, self.logic


def given(symbol: str, name: str, value: Num, unit: str, origins: Origins, path: str, case: int | None = None) -> Term:
    """A term that stands in the design file or took a default there."""
    origin = origins.get(path) or Origin(Kind.DEFAULT, path=path, note="none is named")
    return Term(symbol, name, value, unit, origin, case=case)


def each(
    symbol: str, name: str, values: Num, unit: str, places: Sequence[tuple[str, str]], origins: Origins
) -> tuple[Term, ...]:
    """A number that stands in several places of the file, one term for each case. places: its words and its key."""
    v = np.asanyarray(values, dtype=float)
    return tuple(
        given(symbol, f"{name} of {label}", v[..., n], unit, origins, path, n) for n, (label, path) in enumerate(places)
    )


def by_case(terms: Sequence[Term]) -> tuple[Term, ...]:
    """Terms in the order of the cases, each as belonging to its own."""
    return tuple(replace(t, case=n) for n, t in enumerate(terms))


def values(terms: Sequence[Term]) -> Array:
    """The values of terms side by side, (..., n)."""
    return stack([t.value for t in terms])


def rating_for(load: Num, share: Term) -> Array:
    """The rating of which the load is the share that may be asked; without end where nothing may be asked."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asanyarray(load / column(share.value))


def of_case(terms: Sequence[Term], case: int | None) -> tuple[Term, ...]:
    """The same terms, as belonging to one case."""
    return tuple(replace(t, case=case) for t in terms)


def source_resistance(power: Power) -> tuple[Array, Array]:
    """Open voltage and resistance at the bus, [full, end of the day], (..., 2) each."""
    p = power.packs
    full = open_voltage(1.0, p.charge_at, p.open_cell, p.cells)
    end = open_voltage(1.0 - np.asanyarray(p.usable), p.charge_at, p.open_cell, p.cells)
    legs = column(p.resistance) + p.lead_resistance
    worn = column(p.resistance * p.end_factor) + p.lead_resistance
    main = np.asanyarray(power.main_resistance)
    return stack([full, end]), stack([parallel(legs) + main, parallel(worn) + main])


def pack_terms(origins: Origins, power: Power) -> tuple[Term, ...]:
    """Resistance and number of the packs and the resistance of their leads."""
    p, count = power.packs, power.packs.count
    single = bool(np.all(np.asanyarray(p.lead_resistance) == np.asanyarray(p.lead_resistance)[..., :1]))
    lengths = [(f"power.packs.lead_lengths[{n}]", f"of lead {n + 1}") for n in range(count)]
    if single:
        lengths = [("power.packs.lead_lengths[0]", "of a lead")]
    leads = tuple(
        calculated(
            "R_lead", f"both wires, fuse and contacts {words}", p.lead_resistance[..., n], "ohm",
            "2 l r (1 + 0.00393 (t − 20 °C)) + fuse + contacts",
            (
                given("A", "cross-section of a lead", p.lead_area, "m2", origins, "power.packs.lead.area"),
                Term("l", f"length {words}, one way", p.lead_lengths[n], "m",
                     origins.get(path) or origins["power.packs.lead.length"]),
            ),
            CLASS_5,
        )
        for n, (path, words) in enumerate(lengths)
    )  # fmt: skip
    return (
        given("R_p", "resistance of one pack", p.resistance, "ohm", origins, "power.packs.resistance"),
        given("N", "packs in parallel", np.asanyarray(float(count)), "1", origins, "power.packs.count"),
        *leads,
    )


def source_terms(origins: Origins, power: Power) -> tuple[Term, Term]:
    """Open voltage and resistance at the bus as terms, [full, end of the day] along a trailing axis."""
    p = power.packs
    emf, resistance = source_resistance(power)
    e = calculated(
        "E", "open voltage, full; with the planned charge used up", emf, "V", "n U_cell(charge), charge = 1 and 1 − u",
        (
            given("n", "cells in series", p.cells, "1", origins, "power.packs.cells_in_series"),
            given("U_cell", "rested voltage of a full cell", p.open_cell[-1], "V", origins, "power.packs.open_cell"),
            given("u", "share of the charge planned for", p.usable, "%", origins, "power.limits.usable_share"),
        ),
        derived("rested voltage by state of charge, straight lines in the table"),
    )  # fmt: skip
    main = calculated(
        "R_m", "main line: both wires, fuse, switch and contacts", power.main_resistance, "ohm",
        "2 l r (1 + 0.00393 (t − 20 °C)) + fuse + switch + contacts",
        (
            given("A", "cross-section of the main line", power.main.area, "m2", origins, "power.main.area"),
            given("l", "length of the main line, one way", power.main.length, "m", origins, "power.main.length"),
        ),
        CLASS_5,
    )  # fmt: skip
    wear = given("f", "pack resistance near empty over full", p.end_factor, "1", origins, "power.packs.end_factor")
    r = calculated(
        "R_s", "resistance from the open packs to the bus, full; near empty", resistance, "ohm",
        "1/Σ(1/(f R_p + R_lead)) + R_m", (*pack_terms(origins, power), wear, main), OHM,
    )  # fmt: skip
    return e, r


def source_at_drivers(origins: Origins, power: Power) -> tuple[Term, Term]:
    """The source that the motor drivers see: open voltage (..., 2) and resistance (..., 2), [full, end of the day].

    Other loads on the bus are left out; the solved network of `assess_power` has them in.
    """
    e, r = source_terms(origins, power)
    at = [n for n, feeds in enumerate(power.branches.feeds) if feeds == "motors"]
    lines = parallel(stack([_path_resistance(power, n) for n in at]))
    line = calculated(
        "R_d", "from the bus to the drivers and back", lines, "ohm", "wires, fuse and contacts of the run",
        tuple(run_term(origins, power, n) for n in at), OHM,
    )  # fmt: skip
    total = calculated(
        "R_q", "resistance between open packs and drivers, full; near empty", np.asanyarray(r.value) + column(lines),
        "ohm", "R_s + R_d", (r, line), OHM,
    )  # fmt: skip
    return e, total


def _path_resistance(power: Power, n: int) -> Array:
    """Both conductors from the bus to the end of branch n; nothing where they have no resistance."""
    b, total = power.branches, np.zeros(())
    while n >= 0:
        total = total + b.supply[..., n] + b.back[..., n]
        n = b.parent[n]
    return np.maximum(total, 1e-9)


def run_term(origins: Origins, power: Power, n: int, back_only: bool = False) -> Term:
    """Resistance of branch n, supply and return (or the return alone), with the lines that make it."""
    b, path, name = power.branches, power.branches.paths[n], power.branches.names[n]
    inner = (
        given("l", f"length of {name}, one way", b.length[..., n], "m", origins, f"{path}.length"),
        given("A", f"cross-section of {name}", b.area[..., n], "m2", origins, f"{path}.area"),
        given("r", "wire per metre at 20 °C", b.per_length[..., n], "ohm/m", origins, f"{path}.resistance_per_length"),
        given("t", "temperature of the wire", b.temperature[..., n], "K", origins, f"{path}.temperature"),
    )
    if back_only:
        return calculated("R_back", f"return wire of {name}", b.back[..., n], "ohm",
                          "l r (1 + 0.00393 (t − 20 °C)) + contact", inner, CLASS_5)  # fmt: skip
    wires = "2 l r" if b.own_return[n] else "l r"
    return calculated(
        "R", f"{'both wires' if b.own_return[n] else 'supply wire'} of {name}", b.supply[..., n] + b.back[..., n],
        "ohm", f"{wires} (1 + 0.00393 (t − 20 °C)) + fuse + contacts", inner, CLASS_5,
    )  # fmt: skip


def load_terms(origins: Origins, power: Power, loads: Loads, n: int) -> tuple[Term, ...]:
    """The loads that hang at branch n or behind it, or on the whole supply for n = -1, and the regulators between."""
    b = power.branches
    at = [m for m in range(len(b.names)) if _is_behind(b.parent, m, n)]
    kinds = {b.feeds[m].partition(" ")[0].removesuffix("s") for m in at}
    found: list[Term] = []
    for kind, terms in (
        ("motor", (loads.drivers,)),
        ("strip", (loads.strips,)),
        ("servo", (loads.holding, loads.moving)),
        ("logic", (loads.logic,)),
    ):
        found += terms if kind in kinds else ()
    for m in at:
        path, name = b.paths[m], b.names[m]
        if f"{path}.current" in origins:
            found.append(given("I_own", f"load of {name}", b.current[..., m], "A", origins, f"{path}.current"))
        if f"{path}.load_power" in origins:
            found.append(given("P_own", f"load of {name}", b.load_power[..., m], "W", origins, f"{path}.load_power"))
        if f"{path}.load_resistance" in origins:
            own = 1.0 / b.conductance[..., m]
            found.append(given("R_own", f"load of {name}", own, "ohm", origins, f"{path}.load_resistance"))
        if b.regulated[m]:
            rail = f"{path}.regulator"
            found.append(given("U_out", f"output of {name}", b.output[..., m], "V", origins, f"{rail}.output"))
            if m != n or b.types[m] != "linear":
                found.append(given("η", f"efficiency of {name}", b.efficiency[..., m], "%", origins,
                                   f"{rail}.efficiency"))  # fmt: skip
    return tuple(found)


def _is_behind(parent: Sequence[int], m: int, n: int) -> bool:
    """Whether branch m is branch n or hangs on it; every branch hangs on the bus."""
    while m >= 0 and m != n:
        m = parent[m]
    return m == n


def spoken(name: str, found: Array, labels: Sequence[str]) -> str:
    """A name with the load case in which the number is greatest, where there is one machine and so one such case."""
    if found.ndim != 1 or not np.isfinite(found).all():
        return name
    # Of cases that differ by rounding only, the first is the one to look at.
    near = np.flatnonzero(found >= np.max(found) - 1e-9 * np.max(np.abs(found)))
    return name if len(near) == len(labels) else f"{name} ({labels[int(near[0])]})"
