"""Stability checks: whether the machine stays upright at rest, driving, pushed, stopped hard and with its arms out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column, pick
from dryfit.ground.findings import Finding, Term, calculated
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.sources import derived
from dryfit.machine.arms import Arms
from dryfit.machine.brief import Brief
from dryfit.machine.parts import Parts
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
    wheel_load: Term,
) -> StabilityResult:
    """Everything about staying upright, in every posture of the arms; see the modules for standing and for moving."""
    f = _footing(origins, brief, wheels, parts, arms, mass, centre_of_mass, inertia, wheel_load)
    around = tipping_acceleration(f.normal, f.distance, f.height.value)
    tip = calculated(
        "a_tip",
        "tipping acceleration in 72 directions",
        around,
        "m/s2",
        "a_tip = g d / h",
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
    wheel_load: Term,
) -> Footing:
    points = contact_points(wheels.position, wheels.heading, wheels.row_gap)
    normal, offset = support_edges(points)
    c = np.asarray(centre_of_mass.value)
    distance = edge_distances(normal, offset, c[..., :2])
    circle = _circle(origins, wheels)
    rows = Term("w_r", "gap between the rows of rollers", wheels.row_gap, "m", _origin(origins, "base.wheels.row_gap"))
    height = Term("h", "height of the centre of mass", c[..., 2], "m", centre_of_mass.origin, per_case=True)
    aside = calculated(
        "r", "centre of mass off the middle, by posture", np.hypot(c[..., 0], c[..., 1]), "m", "r = √(c_x² + c_y²)", ()
    )
    edge = calculated(
        "b", "from under the centre of mass to the nearest edge", np.min(distance, axis=-1), "m",
        "b = min over the edges of the support polygon; on three wheels half the circle, less a quarter of the row gap",
        (circle, rows, aside), _STATICS, per_case=True,
    )  # fmt: skip
    top = np.max(parts.high[..., 2], axis=-1)
    if arms.names:
        top = np.maximum(top, np.max(np.asarray(arms.tip)[..., 2], axis=(-1, -2)))
    overall = calculated("H", "highest point in any posture", top, "m", "highest point of parts and arms", ())
    driven = [kind for kind, d in zip(wheels.kinds, wheels.driven, strict=True) if d]
    roams = bool(driven) and all(kind in FREE_TO_ROAM for kind in driven)
    first = wheels.driven.index(True) if driven else 0
    ways = AROUND if roams else _fore_and_aft(np.asarray(wheels.heading)[..., first : first + 1])
    plain, plain_offset = support_edges(wheels.position)
    plain_distance = edge_distances(plain, plain_offset, c[..., :2])
    return Footing(
        postures=arms.postures,
        normal=normal,
        distance=distance,
        edge=edge,
        height=height,
        top=overall,
        circle=circle,
        mass=mass,
        centre=centre_of_mass,
        load=wheel_load,
        edge_inertia=inertia_about(normal, inertia.value),
        in_the_middle=tipping_acceleration(plain, plain_distance, c[..., 2], ways),
        roams=roams,
        ways=ways,
    )


def _fore_and_aft(heading: Array) -> Array:
    """Ways that wheels which only roll straight can brake: ahead and back, (..., 2, 2)."""
    ahead = np.stack([np.cos(heading), np.sin(heading)], axis=-1)
    return np.concatenate([ahead, -ahead], axis=-2)


def _circle(origins: Mapping[str, Origin], wheels: Wheels) -> Term:
    """Distance of the farthest wheel from the middle, with the line that sets it."""
    p = np.asarray(wheels.position)
    far = np.max(np.hypot(p[..., 0], p[..., 1]), axis=-1) if p.shape[-2] else np.zeros(p.shape[:-2])
    keys = [k for k in ("circle_radius", "track", "wheelbase", "each[0].at[0]") if f"base.wheels.{k}" in origins]
    origin = origins[f"base.wheels.{keys[0]}"] if keys else Origin(Kind.RULE, note="base.wheels")
    return Term("R", "farthest wheel from the middle", far, "m", origin)


def _roller_frequency(origins: Mapping[str, Origin], brief: Brief, wheels: Wheels) -> Term:
    """Rollers that pass the floor in a second when a wheel rolls at the brief's speed: n v / (2 π r)."""
    speed = Term("v", "speed", brief.speed, "m/s", _origin(origins, "brief.speed"))
    if any(kind in FREE_TO_ROAM for kind in wheels.kinds):
        turns = column(brief.speed) / (2 * np.pi * np.asarray(wheels.radius))
        each = np.where([k in FREE_TO_ROAM for k in wheels.kinds], wheels.roller_count * turns, 0.0)
        value: Num = pick(each, np.argmax(each, axis=-1))
    else:
        value = np.zeros(np.shape(brief.speed))[()]
    return calculated("f_r", "rollers passing in a second", value, "Hz", "f_r = n v / (2 π r)", (speed,))


def _origin(origins: Mapping[str, Origin], path: str) -> Origin:
    return origins.get(path) or Origin(Kind.RULE, path=path, note=path)
