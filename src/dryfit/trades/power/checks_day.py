"""The day and the limit of the supply: collapse, charge for the show day, voltage at the end of it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Origin
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.brief import Brief
from dryfit.machine.power import Power
from dryfit.trades.power.checks_supply import CASES, LABELS, OHM, SUSTAINED, TREE, Supply, given, source_terms
from dryfit.trades.power.formulas import peukert_capacity

_EXISTS = memory("Bolognani and Zampieri, existence of the power flow solution in distribution networks", "2016")
_MEAN_AT = [0, len(CASES)]


def assess_collapse(
    origins: Mapping[str, Origin], power: Power, supply: Supply, driver_power: Term, strip_current: Term
) -> Finding:
    """Whether the packs and wires can carry the constant-power loads at all, in every case."""
    e, r = source_terms(origins, power)
    with np.errstate(divide="ignore", invalid="ignore"):
        bound = supply.constant_power / supply.index
    # The bound is on the safe side where paths differ: a solved state proves that its own power can be carried.
    bound = np.where(supply.constant_power > 0, bound, np.inf)
    most = np.where(supply.solution.solved, np.maximum(bound, supply.constant_power), bound)
    asked = calculated(
        "P",
        "power asked for",
        supply.constant_power,
        "W",
        "drivers, and regulators by their output",
        (driver_power, strip_current),
        derived("power balance"),
        per_case=True,
    )
    limit = calculated(
        "P_max",
        "largest power that could be carried",
        most,
        "W",
        "P min over nodes of E_j² / (4 sum_k R_jk P_k)",
        (e, r),
        _EXISTS,
        per_case=True,
    )
    return finding(
        check="supply-does-not-collapse",
        trade="power",
        topic="packs",
        title="Packs and wires can carry the power asked for",
        unit="W",
        cases=LABELS,
        demand=supply.constant_power,
        capacity=most,
        demand_name="power asked for",
        capacity_name="largest power that could be carried",
        reserve=(0.2, practice("a fifth: near the limit the voltage falls steeply")),
        late=Late.SHOW,
        formula="P <= P_max; beyond it no voltage satisfies E v - R P = v² and the bus collapses",
        terms=(asked, limit),
        sources=(_EXISTS, TREE),
        remedy="Thicken and shorten the wires, add packs, or start the motors one after the other: {P_max} is the most",
    )


def assess_day(
    origins: Mapping[str, Origin], power: Power, brief: Brief, supply: Supply, feeds: tuple[Term, ...]
) -> tuple[list[Finding], Term, Term]:
    """Charge over the show day and voltage at its end; also mean current and run time as terms."""
    p = power.packs
    mean = np.mean(supply.solution.source_current[..., _MEAN_AT], axis=-1)
    current = calculated(
        "I_mean",
        "mean current of the packs over the show day",
        mean,
        "A",
        "solved network with every load at its mean: driving, climbing and standing shares, scenes, postures",
        (
            *feeds,
            given("s_d", "share spent driving", brief.driving_share, "%", origins, "brief.driving_share"),
            given("s_c", "share spent climbing", brief.climbing_share, "%", origins, "brief.climbing_share"),
            given(
                "s_m",
                "share with the arms moving",
                power.lim_arms_moving_share,
                "%",
                origins,
                "power.limits.arms_moving_share",
            ),
        ),
        TREE,
    )
    sets = float(p.count * (1 + p.spare_sets))
    real = peukert_capacity(p.capacity, p.hour_rate, mean / p.count, p.peukert)
    usable = real * sets * p.usable
    charge = calculated(
        "Q",
        "charge that is planned for",
        usable,
        "C",
        "u N (1 + sets) C (C / (H I_mean / N))^(k - 1)",
        (
            given("C", "capacity of one pack", p.capacity, "C", origins, "power.packs.capacity"),
            given("H", "time the capacity is rated over", p.hour_rate, "s", origins, "power.packs.hour_rate"),
            given("k", "exponent of the rate effect", p.peukert, "1", origins, "power.packs.peukert"),
            given("N", "packs", np.asarray(float(p.count)), "1", origins, "power.packs.count"),
            given("sets", "spare sets", np.asarray(float(p.spare_sets)), "1", origins, "power.packs.spare_sets"),
            given("u", "share planned for", p.usable, "%", origins, "power.limits.usable_share"),
        ),
        memory("Peukert's law in its hour-rated form"),
    )
    day = given("t", "show hours a day", brief.day_length, "s", origins, "brief.hours_per_day")
    need = np.asarray(brief.day_length) * mean
    with np.errstate(divide="ignore", invalid="ignore"):
        lasts = usable / mean
    time = calculated("t_run", "run time", lasts, "s", "Q / I_mean", (charge, current))
    lasting = [len(CASES) + n for n in range(len(SUSTAINED))]
    worst = np.max(supply.pack_current[..., lasting], axis=-1)
    end = supply.emf[..., -1] - np.asarray(p.resistance) * p.end_factor * worst
    under = calculated(
        "U_end",
        "pack voltage under the heaviest lasting load at the end of the day",
        end,
        "V",
        "E_end - R_p f I_1",
        (
            given("R_p", "resistance of one pack", p.resistance, "ohm", origins, "power.packs.resistance"),
            given("f", "rise of the resistance towards empty", p.end_factor, "1", origins, "power.packs.chemistry"),
        ),
        OHM,
    )
    cut = given("U_cut", "cut-off", p.cut_off, "V", origins, "power.packs.cut_off")
    found = [
        finding(
            check="lasts-the-show-day",
            trade="power",
            topic="packs",
            title="The packs last the show day",
            unit="C",
            demand=need,
            capacity=usable,
            demand_name="charge drawn in a day",
            capacity_name="charge planned for",
            reserve=(0.1, practice("a tenth for a longer evening")),
            late=Late.SHOW,
            formula="I_mean t <= Q",
            terms=(current, day, charge, time),
            sources=(practice("plan 70 % of lithium packs, 50 % of lead ones"), memory("Peukert's law")),
            remedy="Add a pack or a spare set, or dim and rest more: this lasts {t_run}",
        ),
        finding(
            check="packs-stay-above-cut-off",
            trade="power",
            topic="packs",
            title="The packs do not cut off under load at the end of the day",
            unit="V",
            demand=p.cut_off,
            capacity=end,
            demand_name="cut-off",
            capacity_name="pack voltage under load",
            reserve=(0.02, practice("some tenths of a volt for cold and age")),
            late=Late.SHOW,
            formula="U_cut <= U_end",
            terms=(under, cut),
            sources=(OHM,),
            remedy="Add a pack in parallel or end the day earlier",
            caution="Discharging below the cut-off damages cells; a battery protection unit decides, not the firmware.",
        ),
    ]
    return found, current, time
