"""The day and the limit of the supply: collapse, charge for the show day, voltage at the end of it."""

from __future__ import annotations

import numpy as np

from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.brief import Brief
from dryfit.machine.power import Power
from dryfit.trades.power.checks_packs import pack_current
from dryfit.trades.power.checks_supply import CASES, LABELS, Supply
from dryfit.trades.power.checks_terms import OHM, TREE, Origins, given
from dryfit.trades.power.formulas import peukert_capacity, peukert_rating

_EXISTS = memory("Bolognani and Zampieri, existence of the power flow solution in distribution networks", "2016")
_PEUKERT = memory("Peukert's law in its hour-rated form")
_MEAN_AT = [0, len(CASES)]
_LONGER = 0.1
_STEEP = 0.2


def assess_collapse(origins: Origins, power: Power, supply: Supply) -> Finding:
    """Whether the packs and wires can carry the constant-power loads at all, in every case."""
    with np.errstate(divide="ignore", invalid="ignore"):
        # Without constant power the index is zero and there is nothing that could collapse.
        bound = supply.constant_power / supply.index
    # The bound is on the safe side where paths differ: a solved state proves that its own power can be carried.
    bound = np.where(supply.constant_power > 0, bound, np.inf)
    most = np.where(supply.solution.solved, np.maximum(bound, supply.constant_power), bound)
    asked = calculated(
        "P", "power asked for", supply.constant_power, "W", "Σ of the drivers, and of the regulators' output/η",
        supply.behind[-1], derived("power balance"), per_case=True,
    )  # fmt: skip
    limit = calculated(
        "P_max", "largest power that could be carried", most, "W",
        "P min over the ends j of E_j²/(4 Σ_k R_jk P_k), R_jk what the paths to j and k share",
        supply.source, _EXISTS, per_case=True,
    )  # fmt: skip
    keep = calculated("P_ok", "power that leaves the reserve", (1 - _STEEP) * most, "W", f"(1 − {_STEEP:g}) P_max", (),
                      per_case=True)  # fmt: skip
    return finding(
        check="supply-does-not-collapse", trade="power", topic="packs",
        title="Packs and wires can carry the power asked for", unit="W", cases=LABELS, demand=supply.constant_power,
        capacity=most, demand_name="power asked for", capacity_name="largest power that could be carried",
        reserve=(_STEEP, practice("a fifth: near the limit the voltage falls steeply")), late=Late.SHOW,
        formula="P ≤ P_max; beyond it no voltage satisfies E v − R P = v² and the bus collapses",
        terms=(asked, limit, keep), sources=(_EXISTS, TREE),
        remedy="Ask for no more than {P_ok} at once (start the motors one after the other), or thicken the wires and "
        "add packs",
    )  # fmt: skip


def assess_day(
    origins: Origins, power: Power, brief: Brief, supply: Supply
) -> tuple[tuple[Finding, Finding], Term, Term]:
    """Charge over the show day and voltage at its end; also mean current and run time as terms."""
    current = _mean_current(origins, power, brief, supply)
    found, time = _lasts(origins, power, brief, current)
    return (found, _above_cut_off(origins, power, supply)), current, time


def _mean_current(origins: Origins, power: Power, brief: Brief, supply: Supply) -> Term:
    e, r = supply.source
    return calculated(
        "I_mean", "mean current of all packs over the show day",
        np.mean(supply.solution.source_current[..., _MEAN_AT], axis=-1), "A",
        "every load at its mean: driving, climbing and standing shares, scenes, postures; full and near empty",
        (
            *supply.behind[-1],
            given("s_d", "share spent driving", brief.driving_share, "%", origins, "brief.driving_share"),
            given("s_c", "share spent climbing", brief.climbing_share, "%", origins, "brief.climbing_share"),
            given("s_m", "share with the arms moving", power.lim_arms_moving_share, "%", origins,
                  "power.limits.arms_moving_share"),
            e,
            r,
        ),
        TREE,
    )  # fmt: skip


def _lasts(origins: Origins, power: Power, brief: Brief, current: Term) -> tuple[Finding, Term]:
    p, mean = power.packs, np.asanyarray(current.value)
    sets = float(p.count * (1 + p.spare_sets))
    usable = peukert_capacity(p.capacity, p.hour_rate, mean / p.count, p.peukert) * sets * p.usable
    charge = calculated(
        "Q", "charge that is planned for", usable, "C", "u N (1 + sets) C min(1, (C N/(H I_mean))^(k − 1))",
        (
            given("C", "capacity of one pack", p.capacity, "C", origins, "power.packs.capacity"),
            given("H", "time the capacity is rated over", p.hour_rate, "s", origins, "power.packs.hour_rate"),
            given("k", "exponent of the rate effect", p.peukert, "1", origins, "power.packs.peukert"),
            given("N", "packs in parallel", np.asanyarray(float(p.count)), "1", origins, "power.packs.count"),
            given("sets", "spare sets", np.asanyarray(float(p.spare_sets)), "1", origins, "power.packs.spare_sets"),
            given("u", "share of the charge planned for", p.usable, "%", origins, "power.limits.usable_share"),
        ),
        _PEUKERT,
    )  # fmt: skip
    day = given("t", "show hours a day", brief.day_length, "s", origins, "brief.hours_per_day")
    need = calculated("Q_need", "charge drawn in a day", np.asanyarray(brief.day_length) * mean, "C", "I_mean t",
                      (current, day))  # fmt: skip
    with np.errstate(divide="ignore", invalid="ignore"):
        # A machine that draws nothing lasts without end.
        lasts = usable / mean
        share = need.value / (1 - _LONGER) / (sets * p.usable)
        rating = peukert_rating(share, p.hour_rate, mean / p.count, p.peukert)
    time = calculated("t_run", "run time, spare packs included", lasts, "s", "Q/I_mean", (charge, current))
    larger = calculated("C_need", "capacity of each pack that would do", rating, "C", "Q(C) = Q_need/0.9 solved for C",
                        (), _PEUKERT)  # fmt: skip
    found = finding(
        check="lasts-the-show-day", trade="power", topic="packs", title="The packs last the show day", unit="C",
        demand=need.value, capacity=usable, demand_name="charge drawn in a day", capacity_name="charge planned for",
        reserve=(_LONGER, practice("a tenth for a longer evening")), late=Late.SHOW, formula="Q_need ≤ Q",
        terms=(need, charge, time, larger),
        sources=(practice("plan 70 % of lithium packs, 50 % of lead ones"), _PEUKERT),
        remedy="Take packs of {C_need} each, carry a spare set, or dim and rest more: this lasts {t_run}",
    )  # fmt: skip
    return found, time


def _above_cut_off(origins: Origins, power: Power, supply: Supply) -> Finding:
    p = power.packs
    drawn = pack_current(origins, power, supply, near_empty=True)
    end = supply.emf[..., -1] - np.asanyarray(p.resistance) * p.end_factor * drawn.value
    e, _ = supply.source
    under = calculated(
        "U_end", "pack voltage under the heaviest lasting load, planned charge used up", end, "V", "E_end − f R_p I_1",
        (
            calculated("E_end", "open voltage with the planned charge used up", supply.emf[..., -1], "V",
                       "the second of E", (e,)),
            given("R_p", "resistance of one pack", p.resistance, "ohm", origins, "power.packs.resistance"),
            given("f", "pack resistance near empty over full", p.end_factor, "1", origins, "power.packs.end_factor"),
            drawn,
        ),
        OHM,
    )  # fmt: skip
    cut = given("U_cut", "cut-off", p.cut_off, "V", origins, "power.packs.cut_off")
    return finding(
        check="packs-stay-above-cut-off", trade="power", topic="packs",
        title="The packs do not cut off under load at the end of the day", unit="V", demand=p.cut_off, capacity=end,
        demand_name="cut-off", capacity_name="pack voltage under load",
        reserve=(0.02, practice("some tenths of a volt for cold and age")), late=Late.SHOW, formula="U_cut ≤ U_end",
        terms=(under, cut), sources=(OHM,),
        remedy="Add a pack in parallel, or plan on less of the charge: the voltage falls to {U_end}",
        caution="Discharging below the cut-off damages cells; a battery protection unit decides, not the firmware.",
    )  # fmt: skip
