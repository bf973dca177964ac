"""What holds the gears at either end: the first pinion on the gearmotor's shaft, the last gear on its wheel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Num, Origin
from dryfit.ground.rounding import upwards
from dryfit.ground.sources import derived, practice
from dryfit.machine.axle import Axle
from dryfit.machine.brief import Brief
from dryfit.machine.gear_fixings import Pegs, PinionGrip
from dryfit.machine.gears import Gears
from dryfit.trades.shafts import formulas_grip as grip
from dryfit.trades.shafts.checks_loads import SERVICE, STALL, at_most_stall, how_much_more, read

DRIVE_CASES = ("idle", "cruise", "start", "slope", "step", "stall")
TOPIC = "pinion and ring fixing"
RESERVE = (0.1, practice("a tenth for edges that bear more than the middle"))
_HOT = practice("what is strong at 23 °C falls in a straight line to nothing at the softening temperature")
_ROOM, _ZERO = 296.15, 273.15


@dataclass(frozen=True)
class FixingsResult:
    """Findings about the pinion on its shaft and the pegs of the ring."""

    findings: tuple[Finding, ...]


def assess_fixings(
    origins: Mapping[str, Origin],
    brief: Brief,
    gears: Gears,
    axle: Axle,
    *,
    motor_torque: Term,
    wheel_torque: Term,
    housing_temperature: Term,
    tooth_temperature: Term | None,
) -> FixingsResult:
    """Grip and warmth of the first pinion, pegs of a ring on the wheel. Torques (..., 6) in the drive's cases, N·m;
    temperatures (...,), K, of the motor's can and of the first stage's teeth."""
    if gears.pinion_grip is None or gears.pegs is None or tooth_temperature is None:
        return FixingsResult(())
    findings: list[Finding] = []
    if gears.pinion_grip.kind != "one piece":
        warm = calculated(
            "ϑ_p", "temperature of the pinion on its shaft",
            np.maximum(housing_temperature.value, tooth_temperature.value), "K", "the warmer of housing and teeth",
            [housing_temperature, tooth_temperature],
        )  # fmt: skip
        findings.append(_pinion_grips(origins, gears, axle, gears.pinion_grip, motor_torque, warm))
        findings.append(_pinion_stays_cool(origins, brief, gears.pinion_grip, warm))
    if axle.driven_by == "ring on the wheel":
        findings.append(_pegs_hold(origins, gears, axle, gears.pegs, wheel_torque))
    return FixingsResult(tuple(findings))


def _pinion_grips(
    origins: Mapping[str, Origin], g: Gears, axle: Axle, p: PinionGrip, motor_torque: Term, warm: Term
) -> Finding:
    def of(key: str, symbol: str, name: str, unit: str) -> Term:
        return read(origins, f"base.gears[0].pinion_grip.{key}", symbol, name, getattr(p, key), unit)

    torque = calculated("T_m", "torque at the motor's shaft", at_most_stall(motor_torque), "N*m",
                        "as the drive finds it, at most that at stall", [motor_torque], per_case=True)  # fmt: skip
    factor = read(
        origins, "base.axle.limits.grip_factor", "k_g", "grip asked for over what acts", axle.limits.grip_factor, "1"
    )
    diameter = of("shaft_diameter", "d_m", "diameter of the motor's shaft", "m")
    if p.kind == "screws":
        friction = of("friction", "mu_p", "friction of screw or bore on the shaft", "1")
        screws = of("screws", "n_p", "number of screws", "1")
        force = of("screw_force", "F_p", "force of one screw, settled", "N")
        once = lasting = grip.clamp_torque(friction.value, screws.value, force.value, diameter.value)
        formula, terms = "T_h = mu_p·n_p·F_p·d_m", [friction, screws, force, diameter]
        enough = ("n_min", "screws that would do", "1", "n_p·largest k_g·T_m/T_h/0.9, rounded up")
        size, remedy = p.screws, "Hold the pinion with {n_min} such screws, or on a flat"
    else:
        softening = read(origins, "base.gears[0].pinion_softening", "ϑ_s", "softening temperature of the pinion",
                         g.pinion_softening[..., 0], "K")  # fmt: skip
        share = np.clip((softening.value - warm.value) / (softening.value - _ROOM), 0.0, 1.0)
        left = calculated("k_w", "share of its strength left to the warm pinion", share, "%",
                          "(ϑ_s - ϑ_p)/(ϑ_s - 23 °C), from 0 to 1", [softening, warm], _HOT)  # fmt: skip
        service = of("pressure", "p_max", "pressure on the bore for a torque that reverses all day", "Pa")
        crush = of("crush", "p_c", "pressure that crushes the bore", "Pa")
        length = of("length", "l_p", "length of the pinion on the shaft", "m")
        if p.kind == "flat":
            depth = of("flat_depth", "t_p", "depth of the flat", "m")
            per_torque = grip.flat_pressure(1.0, diameter.value, depth.value, length.value)
            formula = "T_h = k_w·p·b·l_p·d_m/2, b = 2·√(t_p·(d_m - t_p))"
        else:
            depth = of("key_height", "h_p", "height of the key", "m")
            per_torque = grip.key_pressure(1.0, diameter.value, depth.value, length.value)
            formula = "T_h = k_w·p·d_m·h_p·l_p/4"
        lasting, once = (left.value * s.value / per_torque for s in (service, crush))
        formula += ", p = p_max in service, p_c otherwise"
        terms = [left, service, crush, diameter, depth, length]
        enough = ("l_min", "length that would do", "m", "l_p·largest k_g·T_m/T_h/0.9")
        size, remedy = p.length, "Seat the pinion on {l_min} of the shaft's flat or key, or take a metal pinion"
    held = calculated("T_h", f"torque that the {p.kind} holds", np.where(SERVICE, column(lasting), column(once)), "N*m",
                      formula, terms, derived("statics of the pinion on its shaft"), per_case=True)  # fmt: skip
    # What is worn all day is judged by a pressure that lasts; the grip factor is for a torque met once.
    asked = np.where(SERVICE & (p.kind != "screws"), 1.0, column(factor.value)) * torque.value
    grown: Num = np.asanyarray(size) * how_much_more(asked, held.value, RESERVE[0])
    grown = np.ceil(grown - 1e-9) if p.kind == "screws" else upwards(grown)
    needed = calculated(enough[0], enough[1], grown, enough[2], enough[3], [held, torque, factor])
    return finding(
        check="pinion-grips-its-shaft",
        trade="shafts",
        topic=TOPIC,
        title="The pinion does not work loose on the motor's shaft",
        unit="N*m",
        cases=DRIVE_CASES,
        demand=asked,
        capacity=held.value,
        demand_name="torque of the motor, times the grip factor where it is rare",
        capacity_name=f"torque that the {p.kind} holds",
        reserve=RESERVE,
        late=Late.SHOW,
        formula="k_g·T_m ≤ T_h" if p.kind == "screws" else "T_m ≤ T_h in service, k_g·T_m ≤ T_h otherwise",
        terms=[torque, factor, held, needed],
        sources=[practice("bearing pressure on flats and keys in printed plastic")],
        remedy=remedy,
    )


def _pinion_stays_cool(origins: Mapping[str, Origin], brief: Brief, p: PinionGrip, warm: Term) -> Finding:
    limit = read(
        origins, "base.gears[0].pinion_grip.lasting_temperature", "ϑ_max", "temperature up to which the grip lasts",
        p.lasting_temperature, "K",
    )  # fmt: skip
    air = read(origins, "brief.ambient", "ϑ_a", "air around the machine", brief.ambient, "K")
    degrees = np.ceil(np.asanyarray(warm.value) - _ZERO) + _ZERO
    asked = calculated("ϑ_r", "temperature that the grip must last at", degrees, "K", "ϑ_p rounded up", [warm])
    return finding(
        check="pinion-keeps-its-grip-warm",
        trade="shafts",
        topic=TOPIC,
        title="The pinion stays too cool to creep on the motor's shaft",
        unit="dK",
        demand=np.asanyarray(warm.value) - air.value,
        capacity=np.asanyarray(limit.value) - air.value,
        demand_name="rise of the pinion over the air",
        capacity_name="rise up to which its grip lasts",
        reserve=(0.0, practice("the distance from softening is in the limit")),
        late=Late.SHOW,
        formula="ϑ_p - ϑ_a ≤ ϑ_max - ϑ_a",
        terms=[warm, limit, air, asked],
        sources=[practice("a printed pinion under load creeps from about 10 K below its softening")],
        remedy="Take a pinion material that keeps its grip up to {ϑ_r}, a metal pinion, or cool the motor",
    )


def _pegs_hold(origins: Mapping[str, Origin], g: Gears, axle: Axle, p: Pegs, wheel_torque: Term) -> Finding:
    path = f"base.gears[{len(g.paths) - 1}]"

    def of(key: str, symbol: str, name: str, unit: str) -> Term:
        return read(origins, f"{path}.pegs.{key}", symbol, name, getattr(p, key), unit)

    torque = at_most_stall(wheel_torque)
    worst = calculated("T_w", "largest torque of the wheel in service", np.max(torque[..., SERVICE], axis=-1), "N*m",
                       "largest of cruise, start and slope", [wheel_torque])  # fmt: skip
    stall = calculated("T_b", "torque of the wheel at stall", torque[..., STALL], "N*m", "at stall", [wheel_torque])
    shock = read(origins, f"{path}.shock", "K", "shock factor", g.shock[..., -1], "1")
    count, circle = of("count", "n_b", "number of pegs", "1"), of("circle", "D_b", "circle of the pegs", "m")
    diameter, length = of("diameter", "d_b", "diameter of a peg", "m"), of("length", "l_b", "length in its hole", "m")
    factor = read(
        origins, "base.axle.limits.grip_factor", "k_g", "grip asked for over what acts", axle.limits.grip_factor, "1"
    )
    strength = of("shear_strength", "tau_b", "shear strength of a peg", "Pa")
    crush = of("crush", "p_c", "pressure that crushes a hole once", "Pa")
    lasting = of("pressure", "p_max", "pressure on a hole that reverses all day", "Pa")
    peak: Num = shock.value * stall.value
    with np.errstate(divide="ignore", invalid="ignore"):
        # No pegs at all: without limit the force on each, which no strength bears.
        force, daily = (grip.peg_force(t, count.value, circle.value) for t in (peak, shock.value * worst.value))
    at_stall = calculated(
        "F_b", "force on a peg at stall", force, "N", "2·K·T_b/(n_b·D_b)", [shock, stall, count, circle]
    )
    in_service = calculated("F_d", "force on a peg in service", daily, "N", "2·K·T_w/(n_b·D_b)",
                            [shock, worst, count, circle])  # fmt: skip
    demand = stack(
        [
            factor.value * grip.peg_shear(force, diameter.value),
            grip.peg_pressure(force, diameter.value, length.value),
            grip.peg_pressure(daily, diameter.value, length.value),
        ]
    )
    capacity = stack([strength.value, crush.value, lasting.value])
    with np.errstate(invalid="ignore"):
        fewest = np.maximum(np.ceil(count.value * how_much_more(demand, capacity, RESERVE[0]) - 1e-9), 3.0)
    needed = calculated("n_min", "pegs that would do", fewest, "1",
                        "n_b·largest of the three shares/0.9, rounded up, three at least",
                        [at_stall, in_service, strength, crush, lasting, factor, diameter, length, count])  # fmt: skip
    return finding(
        check="pegs-carry-the-ring",
        trade="shafts",
        topic=TOPIC,
        title="The pegs pass the torque from the ring to the wheel",
        unit="Pa",
        cases=("shear of a peg at stall", "pressure in its hole at stall", "pressure in its hole in service"),
        demand=demand,
        capacity=capacity,
        demand_name="stress, times the grip factor for shear",
        capacity_name="what peg or hole bears",
        reserve=RESERVE,
        late=Late.REPRINT,
        formula="k_g·4·F_b/(π·d_b²) ≤ tau_b; F_b/(d_b·l_b) ≤ p_c; F_d/(d_b·l_b) ≤ p_max",
        terms=[at_stall, in_service, factor, diameter, length, strength, crush, lasting, needed],
        sources=[derived("shear and bearing of pegs on a circle")],
        remedy="Use {n_min} such pegs, thicker ones, or a larger circle",
    )
