"""Power and control as findings: the source for the drive, and the whole supply solved in every case."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import stack
from dryfit.ground.findings import Finding, Term, calculated
from dryfit.ground.quantity import Array
from dryfit.machine.arms import Arms
from dryfit.machine.brief import Brief
from dryfit.machine.control import Control
from dryfit.machine.light import Light
from dryfit.machine.power import Power
from dryfit.trades.power.checks_control import assess_control
from dryfit.trades.power.checks_day import assess_collapse, assess_day
from dryfit.trades.power.checks_light import strip_limits, white_time
from dryfit.trades.power.checks_logic import assess_logic, assess_voltages
from dryfit.trades.power.checks_packs import assess_packs
from dryfit.trades.power.checks_rails import assess_back_feed, assess_regulators
from dryfit.trades.power.checks_supply import CASES, LABELS, Supply, lowest, solve_supply
from dryfit.trades.power.checks_terms import TREE, Loads, Origins, given, source_at_drivers
from dryfit.trades.power.checks_wires import assess_wires

__all__ = ["CASES", "LABELS", "PowerResult", "assess_power", "source_at_drivers"]


@dataclass(frozen=True)
class PowerResult:
    """feed_voltage: lowest at each set of strips (..., K), V.  strip_rails: for each set the branches whose regulators
    feed it; strip_limit: what those may give the light for long (..., K), A.  white_time: of the packs in full white
    under the cap (...,), s.  run_time (...,), s.  mean_current (...,), A.
    bus_voltage, source_current (..., X); branch_current, node_voltage (after a regulator), ground (..., B, X):
    what the meter would read in each of X = LABELS cases.  branches, cases: their names."""

    feed_voltage: Term
    strip_rails: tuple[tuple[int, ...], ...]
    strip_limit: Term
    white_time: Term
    run_time: Term
    mean_current: Term
    bus_voltage: Term
    source_current: Term
    branch_current: Term
    node_voltage: Term
    ground: Term
    branches: tuple[str, ...]
    cases: tuple[str, ...]
    findings: tuple[Finding, ...]


def assess_power(
    origins: Origins,
    power: Power,
    control: Control,
    brief: Brief,
    light: Light,
    arms: Arms,
    *,
    driver_power: Term,
    strip_current: Term,
    hold_current: Term,
    moving_current: Term,
    stall_current: Term,
) -> PowerResult:
    """All checks of supply and controller.

    driver_power: (..., C, M) W, C the drive's six cases (idle, cruise, start, slope, step, stall).
    strip_current: (..., S, K) A, last scene full white under the cap.  hold_current: (..., P) A of all servos by
    posture; moving_current, stall_current: (...,) A.
    """
    logic = calculated(
        "I_logic", "current of the controller and its extras",
        np.asanyarray(control.board_current) + control.extra_current, "A", "I_board + I_more",
        (
            given("I_board", "current of the board", control.board_current, "A", origins, "control.current"),
            given("I_more", "receiver, sensors and the like", control.extra_current, "A", origins,
                  "control.extra_current"),
        ),
    )  # fmt: skip
    loads = Loads(driver_power, strip_current, hold_current, moving_current, logic)
    supply = solve_supply(origins, power, brief, light, arms, loads)
    day, mean, time = assess_day(origins, power, brief, supply)
    findings = (
        assess_collapse(origins, power, supply),
        *assess_packs(origins, power, supply),
        *day,
        *assess_wires(origins, power, brief, supply),
        *assess_regulators(origins, power, supply, stall_current),
        *assess_back_feed(origins, power),
        *assess_voltages(origins, power, control, light, arms, supply),
        *assess_logic(origins, power, control, supply),
        *assess_control(origins, control, light),
    )
    s = supply.solution
    rails, limit = strip_limits(origins, power, supply, strip_current)

    def read(symbol: str, name: str, value: Array, unit: str) -> Term:
        return calculated(symbol, name, value, unit, "solved network, by case", loads.all(), TREE)

    return PowerResult(
        feed_voltage=_feed_voltage(supply),
        strip_rails=rails,
        strip_limit=limit,
        white_time=white_time(supply, time, mean, strip_current),
        run_time=time,
        mean_current=mean,
        bus_voltage=read("U_bus", "voltage of the bus", s.bus, "V"),
        source_current=read("I_s", "current of all packs", s.source_current, "A"),
        branch_current=read("I_b", "current in each branch", s.current, "A"),
        node_voltage=read("U_b", "voltage at the end of each branch", s.delivered, "V"),
        ground=read("U_g", "ground of each end over the bus", s.ground, "V"),
        branches=power.branches.names,
        cases=LABELS,
        findings=findings,
    )


def _feed_voltage(supply: Supply) -> Term:
    """Lowest voltage at the feeds of each set of strips over all cases and both ends, (..., K)."""
    values = [
        lowest(stack([lowest(supply.solution.delivered[..., n, :]) for n in at])) if at else np.asanyarray(np.nan)
        for at in supply.strip_branches
    ]
    wires = tuple(supply.runs[n] for n in dict.fromkeys(n for at in supply.strip_branches for n in at))
    value = stack(values) if values else np.zeros((0,))
    return calculated(
        "U_feed", "lowest voltage at the feed", value, "V", "lowest of all load cases", (supply.loads.strips, *wires),
        TREE, per_case=True,
    )  # fmt: skip
