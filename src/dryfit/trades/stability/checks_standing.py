"""Standing: level, on a tilt board, pushed by a visitor, with arms out, and how much the top sways."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Origin
from dryfit.ground.rounding import downwards
from dryfit.ground.sources import derived, memory, practice
from dryfit.ground.units import STANDARD_GRAVITY
from dryfit.machine.brief import Brief
from dryfit.machine.parts import Parts
from dryfit.machine.read import read
from dryfit.trades.stability.footing import Footing
from dryfit.trades.stability.formulas import centre_half_width, push_moment

_STATICS = derived("statics of a rigid body about an edge of its support")
_BOARD = memory("IEC 60335-1", "clause 20.1: stands on a plane inclined by 10 deg in any position")
_TRIED = memory(
    "IEC 60950-1",
    "clause 4.1: a fifth of the weight, at most 250 N, in any direction, on standing units of 25 kg and more",
)
_FULL = practice("no further reserve: the demand is a limit case already")
CAUTION = "A machine that falls can hurt people; local codes and licensed practice decide what is enough."


def findings(origins: Mapping[str, Origin], brief: Brief, parts: Parts, f: Footing, angle: Term) -> list[Finding]:
    """All checks of the machine at rest."""
    found = [_level(parts, f), _board(origins, brief, f, angle), _push(origins, brief, f)]
    if len(f.postures) > 1:
        found.append(_postures(origins, brief, f))
    return found


def _level(parts: Parts, f: Footing) -> Finding:
    off = centre_half_width(parts.mass, parts.centre, np.array(parts.spread), f.mass.value)
    doubt = calculated(
        "u", "how far the centre of mass may lie off to the side", off, "m", "u = √(Σ (m_i s_i r_i)²) / m", (f.mass,),
        derived("propagation of independent errors"),
    )  # fmt: skip
    return finding(
        check="stands-level", trade="stability", topic="tipping", unit="m", cases=f.postures,
        title="Stands on a level floor in every posture", demand=column(off), capacity=f.edge.value,
        demand_name="doubt about the centre of mass", capacity_name="distance to the nearest edge",
        reserve=(0.2, practice("keep a fifth of the distance for packing, cables and wear")), late=Late.REPRINT,
        formula="u ≤ b", terms=(doubt, f.edge, f.wider(column(off) / (1 - 0.2))), sources=(_STATICS,),
        remedy=f"Move heavy parts to the middle, or {f.widen}", caution=CAUTION,
    )  # fmt: skip


def _board(origins: Mapping[str, Origin], brief: Brief, f: Footing, angle: Term) -> Finding:
    limit = read(origins, "α_b", "tilt of the board", brief.lim_tilt, "rad", "brief.limits.tilt")
    # the reserve is a share of the angle, and the distance goes with its tangent
    need = np.asanyarray(f.height.value) * np.tan(column(limit.value) / (1 - 0.1))
    return finding(
        check="tilt-board", trade="stability", topic="tipping", unit="rad", cases=f.postures,
        title="Stands on a tilted board whichever way it faces", demand=column(limit.value), capacity=angle.value,
        demand_name="tilt of the board", capacity_name="tips at",
        reserve=(0.1, practice("a tenth for play in wheels and frame")), late=Late.REPRINT,
        formula="α_b ≤ α = atan(b / h)", terms=(limit, angle, f.wider(need)),
        sources=(_BOARD, _STATICS), caution=CAUTION, remedy=f"Bring heavy parts down, or {f.widen}",
    )  # fmt: skip


def _push(origins: Mapping[str, Origin], brief: Brief, f: Footing) -> Finding:
    force = read(origins, "F", "push by a visitor", brief.push, "N", "brief.push")
    at = read(origins, "z", "height of the push", brief.push_height, "m", "brief.push_height")
    moment = push_moment(brief.push, brief.push_height, f.top.value)
    weight = column(f.mass.value) * STANDARD_GRAVITY
    capacity = weight * f.edge.value
    demand = calculated("M", "moment of the push", moment, "N*m", "M = F min(z, H)", (force, at, f.top))
    back = calculated(
        "M_g", "moment that rights it", capacity, "N*m", "M_g = m g b", (f.mass, f.edge), _STATICS, per_case=True
    )
    kept = 0.1
    arm = column(np.minimum(brief.push_height, np.asanyarray(f.top.value)))
    high = arm > 0
    bearable = np.where(high, (1 - kept) * capacity / np.where(high, arm, 1.0), np.where(np.isnan(arm), np.nan, np.inf))
    just = calculated(
        "F_ok", "push that keeps the reserve", downwards(bearable), "N", "0.9 m g b / min(z, H)", (back, at),
        per_case=True,
    )  # fmt: skip
    heavy = calculated(
        "F_fifth", "for comparison: the push that heavy standing equipment is tried with",
        np.minimum(0.2 * weight[..., 0], 250.0), "N",
        "m g / 5, at most 250 N", (f.mass,), _TRIED,
    )  # fmt: skip
    return finding(
        check="push-by-a-visitor", trade="stability", topic="tipping", unit="N*m", cases=f.postures,
        title="Stays upright under the push that the brief allows for", demand=column(moment), capacity=capacity,
        demand_name="moment of the push", capacity_name="moment that rights it",
        reserve=(kept, practice("a tenth for a push that comes with a swing")), late=Late.SHOW,
        formula="F min(z, H) ≤ m g b, the wheels held by their motors",
        terms=(demand, back, just, f.wider(column(moment) / (1 - kept) / weight), heavy), sources=(_STATICS, _TRIED),
        remedy=f"Add weight low down, {f.widen}, or see to it that nobody pushes with more than {{F_ok}}",
        caution=CAUTION + " A child that leans, hangs or climbs pushes with far more than a hand laid on.",
    )  # fmt: skip


def _postures(origins: Mapping[str, Origin], brief: Brief, f: Footing) -> Finding:
    share = read(
        origins, "p", "part of the parked distance", brief.lim_posture_share, "%", "brief.limits.posture_share"
    )
    b = np.asanyarray(f.edge.value)
    parked = Term("b_0", f"distance to the edge, {f.postures[0]}", b[..., 0], "m", f.edge.origin)
    posed = Term("b_p", "distance to the edge in the posture", b[..., 1:], "m", f.edge.origin, per_case=True)
    return finding(
        check="postures-keep-their-footing", trade="stability", topic="arms out", unit="m",
        title="Arms in any posture leave enough footing", cases=f.postures[1:],
        demand=column(np.asanyarray(share.value) * b[..., 0]), capacity=b[..., 1:],
        demand_name="distance asked for", capacity_name="distance to the edge", reserve=(0.0, _FULL), late=Late.SHOW,
        formula="b_p ≥ p b_0", terms=(posed, parked, share),
        sources=(practice("raised arms leave 60 % of the parked tipping distance"),),
        remedy="Move the opposite arms at the same time, or hold the arm closer", caution=CAUTION,
    )  # fmt: skip
