"""What instruments should show at every test point: the trades run first, then what they found is read off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from dryfit.assess.results import Results, results
from dryfit.ground.axes import stack
from dryfit.ground.findings import Finding, Term, calculated
from dryfit.ground.quantity import Num
from dryfit.machine.machine import Machine
from dryfit.trades.bench.checks import TIME_FACTOR as TIME_FACTOR  # noqa: PLC0414 (studies name it by this room)
from dryfit.trades.bench.checks import Handed, predict, predict_plates
from dryfit.trades.bench.checks import Prediction as Prediction  # noqa: PLC0414 (studies name it by this room)
from dryfit.trades.light.checks_supply import LADDER
from dryfit.trades.power.checks import source_at_drivers
from dryfit.trades.power.checks_terms import source_terms

_WHITE = "full white, full"


def bench(machine: Machine, plate_hours: Sequence[tuple[str, Num]] = ()) -> tuple[Prediction, ...]:
    """The reading of every test point of a machine, or of many at once. plate_hours: name and time, s, of the first
    plates of the print plan; without them no plate is timed."""
    m, r = machine, results(machine)
    points = predict(
        m.origins, m.brief, m.wheels, m.motor, m.driver, m.gears, m.parts, m.power, m.light, m.arms,
        handed=_handed(m, r),
    )  # fmt: skip
    return (*predict_plates(plate_hours), *points)


def _handed(m: Machine, r: Results) -> Handed:
    finding = {f.check: f for f in r.findings}
    emf, at_drivers = source_at_drivers(m.origins, m.power)
    open_volts, at_bus = source_terms(m.origins, m.power)
    layout = r.mesh.layout
    backlash, error = _backlash(m, r, finding)
    stop = finding["stops-before-the-public"]
    return Handed(
        wheel_load=r.weight.wheel_load,
        tip_angle=r.stability.tip_angle,
        sections=_sections(finding.get("lift-by-one-person")),
        sway=_named(finding.get("sways-at-the-top"), "x_s"),
        gear_ratio=r.mesh.ratio,
        backlash=backlash,
        backlash_error=error,
        working=layout.working,
        stage_ratio=r.mesh.stage_ratio,
        gear_base=layout.base2,
        emf=emf,
        source_resistance=at_drivers,
        rail_source=(_first(open_volts, "E_0", "rested voltage of the full packs"),
                     _first(at_bus, "R_s", "from the packs to the bus, full")),
        strip_volts=_strip_volts(m, r, finding.get("last-led-has-its-volts")),
        strip_current=_white(r) if m.light.strips else None,
        stop=_of_case(stop, "on the level", "x_s0", "way to standstill on the level"),
        lost=_of_case(stop, "link lost, on the level", "x_s1", "way to standstill on the level, link lost"),
        speed_by_direction=r.drive.speed_by_direction,
    )  # fmt: skip


def _named(f: Finding | None, symbol: str) -> Term | None:
    """The term of that symbol of a finding."""
    return None if f is None else next(t for t in f.terms if t.symbol == symbol)


def _first(term: Term, symbol: str, name: str) -> Term:
    """The first of the values side by side: that of full packs."""
    return replace(term, symbol=symbol, name=name, value=np.asanyarray(term.value)[..., 0][()])


def _sections(f: Finding | None) -> tuple[tuple[str, Term], ...]:
    if f is None:
        return ()
    masses = [t for t in f.terms if t.symbol == "m_s"]
    return tuple((name, replace(t, case=None)) for name, t in zip(f.cases, masses, strict=True))


def _of_case(f: Finding, case: str, symbol: str, name: str) -> Term:
    value = f.demand[..., f.cases.index(case)][()]
    return calculated(symbol, name, value, f.unit, f.formula.partition(" ≤ ")[0], f.terms[:2], *f.sources)


def _backlash(m: Machine, r: Results, finding: dict[str, Finding]) -> tuple[Term | None, Term | None]:
    """Backlash of every stage as drawn, and what errors do to it."""
    f = finding.get("mesh-keeps-backlash")
    if f is None or not m.gears.paths:
        return None, None
    drawn, spread = (_named(f, s) for s in ("j", "Δj"))
    assert drawn is not None
    assert spread is not None
    at = [n for n, case in enumerate(f.cases) if "tightest" in case]
    error = f.demand[..., at]
    return (
        calculated("j", "backlash as drawn, by stage", r.mesh.layout.backlash, "m", "geometry of the teeth",
                   (replace(drawn, per_case=True),)),
        calculated("Δj", "what errors of print and mount do to it, by stage", error, "m", "errors added as squares",
                   (spread,)),
    )  # fmt: skip


def _white(r: Results) -> Term:
    value = np.asanyarray(r.demand.strip_current.value)[..., -1, :]
    return replace(r.demand.strip_current, value=value, name="current of each set of strips in full white")


def _strip_volts(m: Machine, r: Results, f: Finding | None) -> tuple[Term, ...]:
    """Volts at the farthest LED of each set, motors at rest, full packs: the feed's volts less the drop in the foil."""
    last = _named(f, "U_last")
    if last is None or not m.light.strips:
        return ()
    drop = next(t for t in last.origin.terms if t.symbol == "ΔU_foil")  # type: ignore[union-attr]
    case = r.power.cases.index(_WHITE)
    out = []
    for k, name in enumerate(m.light.strips):
        own = [n for n, feeds in enumerate(m.power.branches.feeds) if feeds == f"strip {name}"]
        at = own or [n for n, feeds in enumerate(m.power.branches.feeds) if feeds == "strips"]
        feed = np.min(stack([np.asanyarray(r.power.node_voltage.value)[..., n, case] for n in at]), axis=-1)
        volts = np.asanyarray(feed - np.asanyarray(drop.value)[..., k])[()]
        out.append(
            calculated("U_end", f"volts at the farthest LED of {name}", volts, "V", "feed, less the drop in the foil",
                       (replace(r.power.node_voltage, name="volts at the end of each branch, by case"), drop), LADDER)
        )  # fmt: skip
    return tuple(out)
