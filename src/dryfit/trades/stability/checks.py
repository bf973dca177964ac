"""Stability checks: whether the machine stays upright at rest, driving, pushed, stopped hard and with its arms out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column, pick
from dryfit.ground.findings import Finding, Term, calculated
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import derived
from dryfit.machine.arms import Arms
from dryfit.machine.brief import Brief
from dryfit.machine.parts import Parts, reach_terms
from dryfit.machine.read import read, stance
from dryfit.machine.wheels import Wheels
from dryfit.trades.stability import checks_moving, checks_standing
from dryfit.trades.stability.footing import Footing
from dryfit.trades.stability.formulas import (
    AROUND,
    contact_points,
    edge_distances,
    inertia_about,
    support_edges,
    tip_angle,
    tipping_acceleration,
)

FREE_TO_ROAM = ("omni", "mecanum")
_STATICS = derived("statics of a rigid body about an edge of its support")


@dataclass(frozen=True)
class StabilityResult:
    """tip_acceleration (..., P, 72): acceleration at which the machine tips towards each direction (0 = +x, ccw), m/s².
    tip_angle (..., P): tilt of the floor at which it tips in its weakest direction, rad.
    roller_frequency (...,): rollers passing in a second at the brief's speed, Hz, the fastest wheel; 0 without rollers.
    """

    tip_acceleration: Term
    tip_angle: Term
    roller_frequency: Term
    findings: tuple[Finding, ...]


def assess_stability(
    origins: Mapping[str, Origin],
    brief: Brief,
    wheels: Wheels,
    parts: Parts,
    arms: Arms,
    *,
    mass: Term,
    centre_of_mass: Term,
    inertia: Term,
) -> StabilityResult:
    """Everything about staying upright, in every posture of the arms; see the modules for standing and for moving."""
    f = _footing(origins, brief, wheels, parts, arms, mass, centre_of_mass, inertia)
    around = tipping_acceleration(f.normal, f.distance, f.height.value)
    tip = calculated(
        "a_tip",
        "tipping acceleration in 72 directions",
        around,
        "m/s2",
        "a_tip = g d / h, d from under the centre of mass to the edge in that direction",
        (f.edge, f.height),
        _STATICS,
    )
    angle = calculated(
        "α", "tip angle in the weakest direction", tip_angle(f.edge.value, f.height.value), "rad", "α = atan(b / h)",
        (f.edge, f.height), _STATICS, per_case=True,
    )  # fmt: skip
    findings = [
        *checks_standing.findings(origins, brief, parts, f, angle),
        *checks_moving.findings(origins, brief, wheels, f, around),
    ]
    return StabilityResult(tip, angle, _roller_frequency(origins, brief, wheels), tuple(findings))


def _footing(
    origins: Mapping[str, Origin],
    brief: Brief,
    wheels: Wheels,
    parts: Parts,
    arms: Arms,
    mass: Term,
    centre_of_mass: Term,
    inertia: Term,
) -> Footing:
    places = np.asanyarray(wheels.position, dtype=float)
    points = contact_points(places, wheels.heading, wheels.row_gap, wheels.trail)
    normal, offset = support_edges(points)
    c = np.asanyarray(centre_of_mass.value)
    distance = edge_distances(normal, offset, c[..., :2])
    circle = stance(origins, np.max(np.hypot(places[..., 0], places[..., 1]), axis=-1, initial=0.0)[()])
    height = Term("h", "height of the centre of mass", c[..., 2], "m", centre_of_mass.origin, per_case=True)
    aside = Term(
        "r", "centre of mass off the middle", np.hypot(c[..., 0], c[..., 1]), "m", centre_of_mass.origin, per_case=True
    )
    edge = calculated(
        "b", "from under the centre of mass to the nearest edge", np.min(distance, axis=-1), "m",
        "b = min over the edges of the support polygon", (circle, *_inwards(origins, wheels), aside), _STATICS,
        per_case=True,
    )  # fmt: skip
    top = np.max(parts.high[..., 2], axis=-1)
    if arms.names:
        top = np.maximum(top, np.max(np.asanyarray(arms.tip)[..., 2], axis=(-1, -2)))
    overall = calculated("H", "highest point in any posture", top, "m", "highest point of parts and arms",
                         reach_terms(origins, parts), _STATICS)  # fmt: skip
    driven = [kind for kind, d in zip(wheels.kinds, wheels.driven, strict=True) if d]
    roams = bool(driven) and all(kind in FREE_TO_ROAM for kind in driven)
    first = wheels.driven.index(True) if driven else 0
    ways = AROUND if roams else _fore_and_aft(np.asanyarray(wheels.heading)[..., first : first + 1])
    return Footing(
        postures=arms.postures,
        normal=normal,
        distance=distance,
        # slot i is the edge that starts at contact i
        growing=np.sum(normal * places, axis=-1) if places.shape[-2] > 1 else np.zeros(offset.shape),
        edge=edge,
        height=height,
        top=overall,
        circle=circle,
        mass=mass,
        centre=centre_of_mass,
        edge_inertia=inertia_about(normal, inertia.value),
        roams=roams,
        ways=ways,
        on_a_circle="base.wheels.circle_radius" in origins,
    )


def _inwards(origins: Mapping[str, Origin], wheels: Wheels) -> tuple[Term, ...]:
    """What brings the contacts nearer to the middle than the wheels' places."""
    found: list[Term] = []
    if any(kind in FREE_TO_ROAM for kind in wheels.kinds):
        gap = np.max(wheels.row_gap, axis=-1)
        found.append(read(origins, "w_r", "gap between the rows of rollers", gap, "m", "base.wheels.row_gap"))
    if "caster" in wheels.kinds:
        trail = np.max(wheels.trail, axis=-1)
        found.append(read(origins, "c", "trail of a caster", trail, "m", "base.wheels.casters.trail"))
    return tuple(found)


def _fore_and_aft(heading: Array) -> Array:
    """Ways that wheels which only roll straight can brake: ahead and back, (..., 2, 2)."""
    ahead = np.stack([np.cos(heading), np.sin(heading)], axis=-1)
    return np.concatenate([ahead, -ahead], axis=-2)


def _roller_frequency(origins: Mapping[str, Origin], brief: Brief, wheels: Wheels) -> Term:
    """Rollers that pass the floor in a second when a wheel rolls at the brief's speed: n v / (2 π r)."""
    speed = read(origins, "v", "speed", brief.speed, "m/s", "brief.speed")
    if any(kind in FREE_TO_ROAM for kind in wheels.kinds):
        turns = column(brief.speed) / (2 * np.pi * np.asanyarray(wheels.radius))
        each = np.where([k in FREE_TO_ROAM for k in wheels.kinds], wheels.roller_count * turns, 0.0)
        value: Num = pick(each, np.argmax(each, axis=-1))
    else:
        value = np.zeros(np.shape(brief.speed))[()]
    return calculated("f_r", "rollers passing in a second", value, "Hz", "f_r = n v / (2 π r)", (speed,))
