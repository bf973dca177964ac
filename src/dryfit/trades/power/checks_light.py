"""What the supply leaves for the light: current its regulators may give for long, and how long the packs bear white."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import stack
from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import derived
from dryfit.machine.power import Power
from dryfit.trades.power.checks_rails import rail_of
from dryfit.trades.power.checks_supply import CASES, Supply, brightest
from dryfit.trades.power.checks_terms import TREE, given

_WHITE = [CASES.index("full white"), len(CASES) + CASES.index("full white")]


def strip_limits(
    origins: Mapping[str, Origin], power: Power, supply: Supply, strip_current: Term
) -> tuple[tuple[tuple[int, ...], ...], Term]:
    """For each set of strips the branches whose regulators feed it, () where none does, and the current (..., K), A,
    that those may give for long to all light on them; unlimited where no regulator stands between."""
    b = power.branches
    fed = [[r for n in at if (r := rail_of(power, n)) >= 0] for at in supply.strip_branches]
    rails = tuple(tuple(dict.fromkeys(of)) for of in fed)
    bright = brightest(np.asanyarray(strip_current.value))
    left: dict[int, Array] = {}
    terms: list[Term] = []
    share = given(
        "s", "share of the headline current that is planned", power.lim_regulator_share, "%", origins,
        "power.limits.regulator_share",
    )  # fmt: skip
    for r in dict.fromkeys(r for of in rails for r in of):
        shares = np.array([of.count(r) / max(len(at), 1) for of, at in zip(fed, supply.strip_branches, strict=True)])
        given_out = np.max(supply.solution.regulator_current[..., r, _WHITE], axis=-1)
        others = np.maximum(given_out - np.sum(bright * shares, axis=-1), 0.0)
        # what is left over by rounding is not a load
        others = np.where(others < 1e-9 * given_out, 0.0, others)
        left[r] = np.maximum(b.rated_current[..., r] * power.lim_regulator_share - others, 0.0)
        rated = given(
            "I_r", f"rated current of {b.names[r]}", b.rated_current[..., r], "A", origins,
            f"{b.paths[r]}.regulator.current",
        )  # fmt: skip
        other = calculated(
            "I_o", f"what else hangs on {b.names[r]}", others, "A", "solved network less the strips", (), TREE
        )
        terms += [rated, other]
    values: list[Num] = [sum((left[r] for r in of), np.zeros(())) if of else np.inf for of in rails]
    limit = calculated(
        "I_rail", "current its regulator may give the light for long", stack(values) if values else np.zeros(0), "A",
        "s I_r − I_o", (share, *terms), derived("sum of currents"), per_case=True,
    )  # fmt: skip
    return rails, limit


def white_time(supply: Supply, run_time: Term, mean_current: Term, strip_current: Term) -> Term:
    """How long all packs, spare sets too, would last in full white under the cap, standing still."""
    asked = np.mean(supply.solution.source_current[..., _WHITE], axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        lasts = np.asanyarray(run_time.value) * mean_current.value / asked
    white = calculated(
        "I_white", "current of the packs in full white, arms in their hardest posture", asked, "A", "solved network",
        (strip_current,), TREE,
    )  # fmt: skip
    return calculated(
        "t_white", "how long all packs last in full white, standing", lasts, "s", "t_run I_mean / I_white",
        (run_time, mean_current, white), derived("charge over current"),
    )  # fmt: skip
