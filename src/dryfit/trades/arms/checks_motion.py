"""What the arms are told: postures within their stops, a known start, and how closely their tips meet."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.arms import Arms, first_arms, joints
from dryfit.trades.arms import formulas
from dryfit.trades.arms.checks_terms import HELD, angles, by_joint, lengths, likes, limit

YES_OR_NO = (0.0, practice("a yes or no"))
TOPIC = "arm motion"


def limits(origins: Mapping[str, Origin], arms: Arms) -> tuple[Finding, ...]:
    """Cases: joints that have a stop."""
    labels: list[str] = []
    demand: list[Num] = []
    terms: list[Term] = []
    for a, j, label in joints(arms):
        keys = [k for k in ("lowest", "highest") if f"{arms.joint_path[a][j]}.{k}" in origins]
        if not keys:
            continue
        stops = {"lowest": arms.lowest[..., a, j], "highest": arms.highest[..., a, j]}
        asked = arms.angle[..., likes(arms, a), j]
        beyond = np.maximum(asked - column(stops["highest"], 2), column(stops["lowest"], 2) - asked)
        worst = np.max(beyond, axis=(-2, -1))
        # an angle typed like its stop may differ from it by rounding
        demand.append(np.where(worst <= 1e-9, 0.0, worst))
        terms += [
            Term(f"q_{k}", f"{k} angle of {label}", stops[k][()], "rad", origins[f"{arms.joint_path[a][j]}.{k}"],
                 case=len(labels))
            for k in keys
        ]  # fmt: skip
        labels.append(label)
    if not labels:
        return ()
    over = calculated(
        "q_over", "how far the worst posture goes beyond the stop", stack(demand), "rad",
        "q_over = largest of q − q_highest, q_lowest − q and 0", (*terms, *angles(origins, arms)), per_case=True,
    )  # fmt: skip
    return (
        finding(
            demand=stack(demand),
            capacity=0.0,
            cases=labels,
            reserve=YES_OR_NO,
            check="joints-stay-in-limits",
            trade="arms",
            topic=TOPIC,
            title="No posture takes a joint beyond its limits",
            unit="rad",
            demand_name="angle beyond the stop",
            capacity_name="angle beyond it allowed",
            late=Late.MINUTES,
            formula="q_over ≤ 0",
            terms=(over,),
            sources=(derived("comparison of angles"),),
            remedy="Take the posture back by {q_over}, or move the stop of the joint by as much.",
        ),
    )


def wakes(origins: Mapping[str, Origin], arms: Arms) -> Finding:
    """Whether a posture told first is declared: arms that wake elsewhere have dropped and jump back to it."""
    given = arms.boot is not None
    note = "write arms.boot, the posture that the servos are told first"
    origin = origins["arms.boot"] if given else Origin(Kind.MISSING, path="arms.boot", note=note)
    known = 0.0 if given else float("nan")
    boot = Term("b", f"starts without one; told first: {arms.boot or 'not given'}", known, "1", origin)
    return finding(
        demand=np.full(arms.reach.shape[:-1], known),
        capacity=0.0,
        reserve=YES_OR_NO,
        check="arms-wake-in-a-known-posture",
        trade="arms",
        topic=TOPIC,
        title="The servos are told a known posture before they get power",
        unit="1",
        demand_name="starts without a known posture",
        capacity_name="such starts allowed",
        late=Late.SHOW,
        formula="b ≤ 0",
        terms=(boot,),
        sources=(practice("set the posture, then switch on the servo rail"),),
        remedy="Declare the posture in which the arms rest without power as arms.boot, and power their rail after it.",
        caution="Arms can jump when their servos get power: stand clear of them at every start.",
    )


def tips(origins: Mapping[str, Origin], arms: Arms, lever: Array) -> tuple[Finding, ...]:
    """Cases: arms' groups. Two tips that meet are both off; only where a gap was promised."""
    if not arms.gapped:
        return ()
    likely, worst = formulas.tip_errors(lever, arms.deadband[..., None, :, :], arms.lash[..., None, :, :])
    first = first_arms(arms)
    rss = np.max(likely, axis=-2)[..., first]
    all_one_way = np.max(worst, axis=-2)[..., first]
    parts = (
        *lengths(origins, arms),
        by_joint(origins, arms, "servo.deadband", "δ", "deadband of a servo", arms.deadband, "rad"),
        by_joint(origins, arms, "servo.lash", "j", "lash of a servo", arms.lash, "rad"),
    )
    one = calculated("e", "likely error of one tip", rss, "m", "e = √Σ((l δ)² + (l j)²), l from each joint to the tip",
                     parts, derived("small angles, independent errors"), per_case=True)  # fmt: skip
    most = calculated("e_max", "error of one tip, all one way", all_one_way, "m", "e_max = Σ l (δ + j)", parts,
                      derived("small angles"), per_case=True)  # fmt: skip
    gap = limit(origins, "tip_gap", "g", "gap that still looks closed", arms.lim_tip_gap, "m")
    wide = calculated("g_need", "gap that leaves the reserve", np.sqrt(2) * rss / (1 - HELD[0]), "m",
                      f"g_need = √2 e/{1 - HELD[0]:g}", (one,), per_case=True)  # fmt: skip
    return (
        finding(
            demand=np.sqrt(2) * rss,
            capacity=column(arms.lim_tip_gap),
            cases=arms.group_names,
            reserve=HELD,
            check="arm-tips-meet",
            trade="arms",
            topic="arm precision",
            title="Tips that should meet do so within the gap allowed",
            unit="m",
            demand_name="likely gap between two tips",
            capacity_name="gap that still looks closed",
            late=Late.REPRINT,
            formula="√2 e ≤ g",
            terms=(one, gap, most, wide),
            sources=(derived("independent errors add as root of squares"),),
            remedy="Guide the tips together with cones or magnets, take servos with less play, or allow {g_need}.",
        ),
    )
