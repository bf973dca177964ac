"""What acts on the axle of the hardest-working wheel, case by case, and what that does along the bar."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import reduce

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.axle import Axle
from dryfit.machine.brief import Brief
from dryfit.machine.wheels import Wheels
from dryfit.trades.shafts import formulas_beams as beams
from dryfit.trades.shafts.formulas_strength import drop_factor

CASES = ("at rest", "cruise, cornering", "start", "slope", "off an edge", "stall")
"""Load cases of the axle, one for one the drive's idle, cruise, start, slope, step and stall."""

_TRANSFER = np.array([0, 1.0, 1.0, 1.0, 0, 0])
_EDGE = np.array([0, 0, 0, 0, 1.0, 0])
_THRUST = np.array([0, 1.0, 0, 1.0, 0, 0])
SERVICE = np.array([False, True, True, True, False, False])
"""Cases that come back all day and count for wear; the others are rare."""
STALL = 5
LASTING = np.array([True, True, True, True, False, False])
"""Cases that last long enough for a slope to matter."""

ROLLER_THRUST = 0.1
LOST_WHEEL = (
    "A wheel that comes off drops the machine among people: pull-test every wheel before the public is near; "
    "local rules and licensed practice decide"
)
ADD_UP = practice("wheel load, side thrust and gear taken so that they add up: the machine drives and turns both ways")


@dataclass(frozen=True)
class AxleLoads:
    """Per case of CASES (..., 6): load on the wheel and thrust, N; torque of the wheel, N·m; largest bending moment,
    N·m; radial load of the harder-worked support, N; slope where it matters, rad. wheel_load: (...,) level, at rest."""

    wheel_load: Term
    thrust_share: Term
    radial: Term
    thrust: Term
    wheel_torque: Term
    axle_torque: Term
    moment: Term
    support: Term
    slope: Term
    gear_sag: Term
    couple: Array


def read(origins: Mapping[str, Origin], path: str, symbol: str, name: str, value: Num, unit: str) -> Term:
    """A term as it stands in the design file, a catalogue row or a default."""
    missing = Origin(Kind.DEFAULT, path=path, note="taken with the section it belongs to")
    return Term(symbol, name, value, unit, origins.get(path, missing))


def driven(wheels: Wheels) -> list[int]:
    """Indices of the driven wheels."""
    return [i for i, d in enumerate(wheels.driven) if d]


def how_much_more(demand: Num, capacity: Num, reserve: float) -> Num:
    """By how much a capacity that grows with a size must grow to hold with its reserve, worst case of (..., C)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        # What holds nothing must grow without limit; the size is shown as such.
        worst: Num = np.max(np.asanyarray(demand) / np.asanyarray(capacity), axis=-1)[()]
    return worst / (1 - reserve)


def at_most_stall(torque: Term) -> Array:
    """Torque of every case (..., 6): what a case asks for beyond the stall, no motor gives."""
    asked = np.abs(np.asanyarray(torque.value, dtype=float))
    return np.asanyarray(np.minimum(asked, asked[..., [STALL]]))


def wheel_station(axle: Axle) -> Num:
    """Where the wheel's centre line stands along the axle, m."""
    return axle.wheel_station if axle.arrangement == "between bearings" else axle.bearing_span + axle.overhang


def gear_station(axle: Axle) -> Num:
    """Where the gear's middle stands along the axle, m; at the wheel where there is none."""
    if not axle.has_gear:
        return wheel_station(axle)
    if axle.driven_by == "gear on the axle":
        return axle.gear_station
    return wheel_station(axle) - axle.gear_offset


def axle_loads(
    origins: Mapping[str, Origin],
    axle: Axle,
    wheels: Wheels,
    brief: Brief,
    *,
    wheel_load: Term,
    wheel_torque: Term,
) -> AxleLoads:
    """Loads of every case and their effect along the axle. wheel_load (..., P, W) N; wheel_torque (..., 6) N·m."""

    def of_axle(key: str, symbol: str, name: str, unit: str) -> Term:
        return read(origins, f"base.axle.{key}", symbol, name, getattr(axle, key), unit)

    which = driven(wheels)
    load = calculated(
        "F_w", "load on the hardest-loaded driven wheel, level and at rest, worst posture",
        np.max(np.asanyarray(wheel_load.value)[..., which], axis=(-2, -1)), "N", "F_w = max(F)", [wheel_load],
    )  # fmt: skip
    share = _thrust_share(origins, axle, wheels, brief)
    radius_value = np.max(wheels.radius[..., which], axis=-1)
    radius = calculated(
        "r_w", "radius of the wheel", radius_value, "m", "r_w = D_w/2",
        [read(origins, "base.wheels.diameter", "D_w", "diameter of the wheel", 2 * radius_value, "m")],
    )  # fmt: skip
    step = read(origins, "brief.step", "h_step", "highest edge to cross", brief.step, "m")
    give = of_axle("wheel_give", "delta_w", "give of wheel and hub under the resting load", "m")
    drop = calculated(
        "k_drop", "peak load over resting load when it drops off an edge", drop_factor(brief.step, axle.wheel_give),
        "1", "k_drop = 1 + √(1 + 2·h_step/delta_w)", [step, give],
        derived("energy of a drop taken up by a spring, at walking pace"),
    )  # fmt: skip
    transfer = read(
        origins, "base.axle.limits.load_transfer", "k_t", "load in braking and turning over resting load",
        axle.limits.load_transfer, "1",
    )  # fmt: skip

    factors = 1 + _TRANSFER * (column(transfer.value) - 1) + _EDGE * (column(drop.value) - 1)
    radial_value = column(load.value) * factors
    radial = calculated(
        "F_r", "load on the wheel", radial_value, "N",
        "F_r = F_w, times k_t in cruise, start and slope, times k_drop off an edge", [load, transfer, drop],
        per_case=True,
    )  # fmt: skip
    thrust_value = radial_value * column(share.value) * _THRUST
    thrust = calculated(
        "F_a", "thrust along the axle", thrust_value, "N", "F_a = k_a·F_r in cruise and slope", [share, radial],
        per_case=True,
    )  # fmt: skip
    torque_value = at_most_stall(wheel_torque)
    torque = calculated(
        "T_w",
        "torque of the wheel",
        torque_value,
        "N*m",
        "as the drive finds it, at most that of the stalled motor",
        [wheel_torque],
        per_case=True,
    )
    couple = thrust_value * column(radius_value)
    moment, support, slope, sag = _along(axle, radial_value, couple, torque_value, column(radius_value))

    span = of_axle("bearing_span", "L", "span between the supports", "m")
    inputs = [radial, thrust, torque, radius, span, *_places(origins, axle)]
    stiffness = _stiffness_terms(origins, axle)
    through = torque_value if axle.carries_torque else 0.0 * torque_value
    return AxleLoads(
        wheel_load=load,
        thrust_share=share,
        radial=radial,
        thrust=thrust,
        wheel_torque=torque,
        axle_torque=calculated(
            "T_x", "torque in the axle", through, "N*m",
            "T_x = T_w" if axle.carries_torque else "T_x = 0: the ring drives the wheel", [torque],
            per_case=True,
        ),
        moment=calculated(
            "M", "largest bending moment in the axle", moment, "N*m",
            "M = √(M_v² + M_h²), vertical: F_r, F_a·r_w and gear, horizontal: T_w/r_w and gear", inputs, ADD_UP,
            per_case=True,
        ),
        support=calculated(
            "R", "radial load of the harder-worked bearing", support, "N",
            "R = √(R_v² + R_h²), from F_r, F_a·r_w, T_w/r_w and gear over L", inputs, ADD_UP, per_case=True,
        ),
        slope=calculated(
            "phi", "slope of the axle at the bearing", slope, "rad", "phi from E·I·v'' = M", [*inputs, *stiffness],
            derived("beam on two supports"), per_case=True,
        ),
        gear_sag=calculated(
            "v_g", "how far the axle lets its gear move in service", np.max(sag[..., LASTING], axis=-1), "m",
            "v_g from E·I·v'' = M, largest of the cases that last", [*inputs, *stiffness],
            derived("beam on two supports"),
        ),
        couple=couple,
    )  # fmt: skip


def _along(axle: Axle, radial: Array, couple: Array, torque: Array, radius: Array) -> tuple[Array, Array, Array, Array]:
    """Moment, support load, slope and displacement at the gear, each (..., 6), from unit influences along the axle."""
    span, at_wheel, at_gear = axle.bearing_span, wheel_station(axle), gear_station(axle)
    stations = stack([0.0, span, at_wheel, at_wheel, at_gear])
    beyond = np.array([0, 0, 0, 1.0, 0])
    gear_v, gear_h = _gear_forces(axle, torque)
    pull = torque / radius

    def worst(unit: tuple[Array, Array, Array], which: tuple[int, ...]) -> Array:
        """Both planes together at the worst of a few stations; station by station, which spares large temporaries."""
        squares = []
        for i in which:
            by_wheel, by_couple, by_gear = (np.abs(u[..., i, None]) for u in unit)
            vertical, level = by_wheel * radial + by_couple * couple, by_wheel * pull
            if axle.has_gear:
                vertical, level = vertical + by_gear * gear_v, level + by_gear * gear_h
            squares.append(vertical * vertical + level * level)
        return np.asanyarray(np.sqrt(reduce(np.maximum, squares)))

    moments = (
        beams.force_moments(stations, at_wheel, span),
        beams.couple_moments(stations, at_wheel, span, beyond),
        beams.force_moments(stations, at_gear, span),
    )
    moment = worst(moments, (0, 1, 2, 3, 4))
    pairs = [
        beams.reactions_of_force(at_wheel, span),
        beams.reactions_of_couple(span),
        beams.reactions_of_force(at_gear, span),
    ]
    support = worst((stack(pairs[0]), stack(pairs[1]), stack(pairs[2])), (0, 1))

    stiffness = column(axle.modulus * beams.area_moment(axle.diameter, axle.bore))
    # A fixed axle's bearings sit in the hub: there the slope at the wheel counts.
    places = stack([0.0, span, at_gear] if axle.turns else [at_wheel, at_wheel, at_gear])
    by_wheel, by_couple, by_gear = (
        beams.force_bend(places, at_wheel, span),
        beams.couple_bend(places, at_wheel, span),
        beams.force_bend(places, at_gear, span),
    )
    slope = worst((by_wheel[1], by_couple[1], by_gear[1]), (0, 1) if axle.turns else (0,)) / stiffness
    sag = worst((by_wheel[0], by_couple[0], by_gear[0]), (2,)) / stiffness
    return moment, support, slope, sag


def _gear_forces(axle: Axle, torque: Array) -> tuple[Array, Array]:
    """Vertical and horizontal force of the mesh on the axle, each (..., 6), sizes only."""
    if not axle.has_gear:
        return np.zeros_like(torque), np.zeros_like(torque)
    tangential, separating = beams.gear_forces(torque, column(axle.gear_diameter), column(axle.pressure_angle))
    c, s = np.abs(np.cos(column(axle.gear_angle))), np.abs(np.sin(column(axle.gear_angle)))
    return tangential * s + separating * c, tangential * c + separating * s


def _thrust_share(origins: Mapping[str, Origin], axle: Axle, wheels: Wheels, brief: Brief) -> Term:
    kinds = {wheels.kinds[i] for i in driven(wheels)}
    typed = np.asanyarray(axle.side_thrust, dtype=float)
    if not np.any(np.isnan(typed)):
        return read(origins, "base.axle.side_thrust", "k_a", "side thrust over wheel load", axle.side_thrust, "1")
    if kinds == {"omni"}:
        value = np.where(np.isnan(typed), ROLLER_THRUST, typed)[()]
        return read(origins, "base.axle.side_thrust", "k_a", "side thrust over wheel load, free rollers", value, "1")
    grip = read(origins, "brief.friction", "mu", "friction of wheel on floor", brief.friction, "1")
    value = np.where(np.isnan(typed), brief.friction, typed)[()]
    return calculated(
        "k_a", "side thrust over wheel load", value, "1", "k_a = mu: pushed sideways until it slides", [grip],
        practice("a tyre or slanted rollers pass on side thrust up to the grip"),
    )  # fmt: skip


def _places(origins: Mapping[str, Origin], axle: Axle) -> list[Term]:
    def of_axle(key: str, symbol: str, name: str, unit: str) -> Term:
        return read(origins, f"base.axle.{key}", symbol, name, getattr(axle, key), unit)

    if axle.arrangement == "between bearings":
        terms = [of_axle("wheel_station", "x_w", "first bearing to the wheel's middle", "m")]
    else:
        terms = [of_axle("overhang", "c", "nearer bearing to the wheel's middle", "m")]
    if not axle.has_gear:
        return terms
    on_axle = axle.driven_by == "gear on the axle"
    return [
        *terms,
        of_axle("gear_station", "x_g", "first bearing to the gear's middle", "m")
        if on_axle
        else of_axle("gear_offset", "o_g", "wheel's middle to the ring's middle, towards the machine", "m"),
        of_axle("gear_diameter", "d_g", "pitch diameter of the gear", "m"),
        of_axle("gear_angle", "theta_g", "where the pinion meets the gear, from straight above", "rad"),
        of_axle("pressure_angle", "alpha", "pressure angle", "rad"),
    ]


def _stiffness_terms(origins: Mapping[str, Origin], axle: Axle) -> list[Term]:
    return [
        read(origins, "base.axle.modulus", "E", "modulus of elasticity", axle.modulus, "Pa"),
        read(origins, "base.axle.diameter", "d", "diameter of the axle", axle.diameter, "m"),
        read(origins, "base.axle.bore", "b", "bore of a hollow axle", axle.bore, "m"),
    ]
