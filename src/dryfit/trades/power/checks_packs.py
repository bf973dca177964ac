"""The packs: their current, how they share it, and joining them."""

from __future__ import annotations

import numpy as np

from dryfit.ground.axes import stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.sources import practice
from dryfit.machine.power import Power
from dryfit.trades.power.checks_supply import LASTING_LABELS, Supply, lasting, pack_shares
from dryfit.trades.power.checks_terms import (
    OHM,
    TREE,
    Origins,
    given,
    pack_terms,
    spoken,
)
from dryfit.trades.power.formulas import joining_surge

_AGEING = 0.1
_STIFFER = 0.1


def assess_packs(origins: Origins, power: Power, supply: Supply) -> list[Finding]:
    """Findings about the packs themselves."""
    p = power.packs
    drawn = pack_current(origins, power, supply)
    limit = given("I_max", "current a pack may give for long", p.max_current, "A", origins, "power.packs.max_current")
    need = calculated("I_need", "continuous rating that would do", np.asanyarray(drawn.value) / (1 - _AGEING), "A",
                      f"I_1/(1 − {_AGEING:g})", ())  # fmt: skip
    found = finding(
        check="packs-give-the-current", trade="power", topic="packs",
        title="The packs may give this current for long", unit="A", demand=drawn.value, capacity=p.max_current,
        demand_name="current of the hardest-working pack", capacity_name="continuous rating",
        reserve=(_AGEING, practice("a tenth for ageing")), late=Late.PART_ORDER, formula="I_1 ≤ I_max",
        terms=(drawn, limit, need), sources=(TREE,),
        remedy="Add a pack in parallel, or take packs that may give {I_need} each for long",
        caution="An overloaded battery can catch fire; follow its maker's sheet and local rules.",
    )  # fmt: skip
    return [found] if p.count < 2 else [found, _share(origins, power), _join(origins, power)]


def pack_current(origins: Origins, power: Power, supply: Supply, near_empty: bool = False) -> Term:
    """Greatest lasting current of the hardest-working pack; near_empty: of the cases at the end of the day only."""
    by_case = lasting(supply.pack_current)
    labels = LASTING_LABELS
    if near_empty:
        half = len(labels) // 2
        by_case, labels = by_case[..., half:], labels[half:]
    e, r = supply.source
    loads = supply.behind[-1]
    return calculated(
        "I_1", spoken("current of the hardest-working pack", by_case, labels), np.max(by_case, axis=-1), "A",
        "I_all g_1/Σg, g = 1/(R_p + R_lead); I_all: Σ of all loads at the U that is left", (e, r, *loads), TREE,
    )  # fmt: skip


def _share(origins: Origins, power: Power) -> Finding:
    p = power.packs
    uneven = calculated(
        "d", "current of the hardest-working pack over the mean, less one",
        np.max(pack_shares(power), axis=-1) * p.count - 1.0, "%", "N g_1/Σg − 1, g = 1/(R_p + R_lead)",
        pack_terms(origins, power), OHM,
    )  # fmt: skip
    allowed = given("d_max", "imbalance allowed", power.lim_pack_imbalance, "%", origins, "power.limits.pack_imbalance")
    longest = calculated("l_max", "longest lead", np.max(stack(p.lead_lengths), axis=-1), "m", "max(l)", ())
    return finding(
        check="packs-share", trade="power", topic="packs", title="The packs share the load evenly", unit="%",
        demand=uneven.value, capacity=power.lim_pack_imbalance, demand_name="extra work of one pack",
        capacity_name="allowed", reserve=(0.0, practice("the limit is the habit")), late=Late.MINUTES,
        formula="d ≤ d_max", terms=(uneven, allowed, longest), sources=(OHM,),
        remedy="Give all packs leads of one length, {l_max}, to one joint",
    )  # fmt: skip


def _join(origins: Origins, power: Power) -> Finding:
    p = power.packs
    loop = np.asanyarray(p.resistance) + np.min(p.lead_resistance, axis=-1)
    surge = joining_surge(p.difference_when_joined, loop, p.count)
    rush = calculated(
        "I_j", "current when one pack is joined to the others", surge, "A",
        "dU/(R + R/(N − 1)), R = R_p + R_lead, the shortest",
        (
            given("dU", "difference of the packs when joined", p.difference_when_joined, "V", origins,
                  "power.packs.difference_when_joined"),
            *pack_terms(origins, power),
        ),
        OHM,
    )  # fmt: skip
    charge = given(
        "I_ch", "charging current a pack may take", p.max_charge_current, "A", origins, "power.packs.max_charge_current"
    )
    most = joining_surge(1.0, loop, p.count)
    volts = np.asanyarray(p.max_charge_current) * (1 - _STIFFER) / most
    apart = calculated("dU_max", "difference that would do", volts, "V",
                       f"(1 − {_STIFFER:g}) I_ch (R + R/(N − 1))", ())  # fmt: skip
    return finding(
        check="packs-can-be-joined", trade="power", topic="packs", title="Joining the packs makes no surge", unit="A",
        demand=surge, capacity=p.max_charge_current, demand_name="equalising current",
        capacity_name="charging current allowed", reserve=(_STIFFER, practice("a tenth for a warmer, stiffer pack")),
        late=Late.MINUTES, formula="I_j ≤ I_ch", terms=(rush, charge, apart), sources=(OHM,),
        remedy="Charge the packs apart and join them only when they differ by less than {dU_max}",
        caution="Packs of different charge can weld a connector: measure across the gap before the plug goes in.",
    )  # fmt: skip
