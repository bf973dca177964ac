"""The axle itself: does it bend for good, does it tire, does it lean too far in its bearings."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Origin
from dryfit.ground.rounding import upwards
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.axle import Axle
from dryfit.trades.shafts import formulas_strength as strength
from dryfit.trades.shafts.checks_loads import CASES, LASTING, LOST_WHEEL, SERVICE, AxleLoads, read
from dryfit.trades.shafts.formulas_beams import section_modulus

_TEXTBOOK = memory("Shigley, Mechanical Engineering Design", "ch. 6 and 7")
_SHARE_OF_DIAMETER_AT_REST = 0.37
_RESERVE, _SLOPE_RESERVE, _SHAFT_RESERVE = (
    (0.1, practice("a tenth beyond the safety")),
    (0.1, practice("a tenth kept for crooked mounting")),
    (0.1, practice("a tenth: the rated point of the shaft is seldom where the wheel sits")),
)
_SIZE_POWER = 1 / (3 - 0.107)
"""Stress falls with the cube of the diameter, the endurance limit with its 0.107th power."""


def assess_bar(origins: Mapping[str, Origin], axle: Axle, loads: AxleLoads) -> tuple[Finding, ...]:
    """Strength, fatigue and slope of the bar."""
    bar = [
        _of(origins, axle, "diameter", "d", "diameter of the axle", "m"),
        _of(origins, axle, "bore", "b", "bore of a hollow axle", "m"),
    ]
    modulus = column(section_modulus(axle.diameter, axle.bore))
    bending = calculated(
        "sigma_b", "bending stress", strength.bending_stress(loads.moment.value, modulus), "Pa",
        "sigma_b = 32·M·d/(π·(d⁴ - b⁴))", [loads.moment, *bar], per_case=True,
    )  # fmt: skip
    shear = calculated(
        "tau", "torsional shear stress", strength.torsion_stress(loads.axle_torque.value, modulus), "Pa",
        "tau = 16·T_x·d/(π·(d⁴ - b⁴))", [loads.axle_torque, *bar], per_case=True,
    )  # fmt: skip
    findings = [_strength(origins, axle, bar, bending, shear), _fatigue(origins, axle, bar, bending, shear)]
    if axle.arrangement != "on the gearmotor shaft":
        findings.append(_slope(origins, axle, bar, loads))
    return tuple(findings)


def _of(origins: Mapping[str, Origin], axle: Axle, key: str, symbol: str, name: str, unit: str) -> Term:
    return read(origins, f"base.axle.{key}", symbol, name, getattr(axle, key), unit)


def _strength(origins: Mapping[str, Origin], axle: Axle, bar: list[Term], bending: Term, shear: Term) -> Finding:
    stress = calculated(
        "sigma_v", "equivalent stress", strength.mises(bending.value, shear.value), "Pa",
        "sigma_v = √(sigma_b² + 3·tau²)", [bending, shear], derived("distortion energy"), per_case=True,
    )  # fmt: skip
    limit = _of(origins, axle, "yield_strength", "R_e", "yield strength of the bar", "Pa")
    safety = read(
        origins, "base.axle.limits.yield_safety", "S_e", "safety against yielding", axle.limits.yield_safety, "1"
    )
    allowed = limit.value / safety.value
    used = np.asanyarray(stress.value) / column(allowed) / (1 - _RESERVE[0])
    solid = column(axle.diameter * np.cbrt(1 - (axle.bore / axle.diameter) ** 4))
    enough = calculated(
        "d_s", "solid bar that would do", upwards(solid * np.cbrt(used)), "m",
        "d_s = ∛[(d³ - b⁴/d)·sigma_v·S_e/(0.9·R_e)]",
        [*bar, stress, limit, safety], per_case=True,
    )  # fmt: skip
    return finding(
        check="axle-does-not-bend",
        trade="shafts",
        topic="axle",
        title="The axle springs back under every load",
        unit="Pa",
        cases=CASES,
        demand=stress.value,
        capacity=column(allowed),
        demand_name="equivalent stress in the axle",
        capacity_name="yield strength over its safety",
        reserve=_RESERVE,
        late=Late.PART_ORDER,
        formula="sigma_v ≤ R_e/S_e",
        terms=[stress, limit, safety, enough],
        sources=[derived("bending with torsion of a round bar")],
        remedy="Take a solid bar of {d_s} or more, bring the wheel closer to its bearing, or take a stronger steel",
    )  # fmt: skip


def _fatigue(origins: Mapping[str, Origin], axle: Axle, bar: list[Term], bending: Term, shear: Term) -> Finding:
    turns = axle.turns
    raiser = _of(origins, axle, "stress_concentration", "K_t", f"stress raiser: {axle.stress_raiser}", "1")
    sensitivity = _of(origins, axle, "notch_sensitivity", "q", "notch sensitivity", "%")
    notch = strength.notch_factor(raiser.value, sensitivity.value)
    amplitude, mean = strength.amplitude_and_mean(bending.value, turns)
    mean = strength.mises(mean, shear.value)
    tensile = _of(origins, axle, "tensile_strength", "R_m", "tensile strength of the bar", "Pa")
    ratio = _of(origins, axle, "endurance_ratio", "f_e", "endurance over tensile strength, polished sample", "1")
    size = axle.diameter if turns else _SHARE_OF_DIAMETER_AT_REST * axle.diameter
    endurance = calculated(
        "S_n", "stress amplitude borne without end",
        strength.endurance_limit(tensile.value, ratio.value, size, strength.RELIABILITY[99]), "Pa",
        "S_n = k_a·k_b·k_e·f_e·R_m, k_a = 4.51·R_m^-0.265 (MPa), k_b = 1.24·d^-0.107 (mm), k_e = 0.814",
        [tensile, ratio, _of(origins, axle, "diameter", "d", "diameter of the axle", "m")], _TEXTBOOK,
    )  # fmt: skip
    stress = calculated(
        "sigma_n",
        "amplitude that wears as much as the load's amplitude and mean",
        strength.goodman_stress(column(notch) * amplitude, mean, column(tensile.value), column(endurance.value)),
        "Pa",
        "sigma_n = (1 + q·(K_t - 1))·sigma_a + sigma_m·S_n/R_m, "
        + (
            "sigma_a = sigma_b, sigma_m = √3·tau"
            if turns
            else "sigma_a = sigma_b/2, sigma_m = √((sigma_b/2)² + 3·tau²)"
        ),
        [bending, shear, raiser, sensitivity, endurance, tensile],
        _TEXTBOOK,
        per_case=True,
    )
    safety = read(
        origins, "base.axle.limits.fatigue_safety", "S_f", "safety against fatigue", axle.limits.fatigue_safety, "1"
    )
    allowed = endurance.value / safety.value
    used = np.asanyarray(stress.value) / column(allowed) / (1 - _RESERVE[0])
    solid = column(axle.diameter * np.cbrt(1 - (axle.bore / axle.diameter) ** 4))
    enough = calculated(
        "d_s", "solid bar that would do", upwards(solid * used**_SIZE_POWER), "m",
        "d_s = ∛(d³ - b⁴/d)·[sigma_n·S_f/(0.9·S_n)]^(1/2.893): S_n falls with d^-0.107",
        [*bar, stress, endurance, safety], per_case=True,
    )  # fmt: skip
    return finding(
        check="axle-fatigue",
        trade="shafts",
        topic="axle",
        title="The axle does not tire",
        unit="Pa",
        cases=CASES,
        demand=stress.value,
        capacity=np.where(SERVICE, column(allowed), np.inf),
        demand_name="working stress amplitude with notch and mean",
        capacity_name="endurance limit over its safety",
        reserve=_RESERVE,
        late=Late.SHOW,
        formula="sigma_n ≤ S_n/S_f",
        terms=[stress, endurance, safety, enough],
        sources=[_TEXTBOOK],
        caution=LOST_WHEEL,
        remedy="Take a solid bar of {d_s} or more, or move the notch (step, flat, groove) away from the bearing",
    )  # fmt: skip


def _slope(origins: Mapping[str, Origin], axle: Axle, bar: list[Term], loads: AxleLoads) -> Finding:
    limit = read(
        origins, "base.axle.bearing.slope", "phi_max", "slope that the bearing bears", axle.bearing.slope, "rad"
    )
    slope = np.asanyarray(loads.slope.value)
    solid = column(axle.diameter * np.sqrt(np.sqrt(1 - (axle.bore / axle.diameter) ** 4)))
    enough = calculated(
        "d_s", "solid bar that would do",
        upwards(solid * np.sqrt(np.sqrt(slope / column(limit.value) / (1 - _SLOPE_RESERVE[0])))), "m",
        "d_s = [(d⁴ - b⁴)·phi/(0.9·phi_max)]^(1/4)",
        [*bar, loads.slope, limit], per_case=True,
    )  # fmt: skip
    return finding(
        check="axle-slope-at-bearings",
        trade="shafts",
        topic="axle",
        title="The axle stays straight enough for its bearings",
        unit="rad",
        cases=CASES,
        demand=slope,
        capacity=np.where(LASTING, column(limit.value), np.inf),
        demand_name="slope of the axle at the bearing",
        capacity_name="slope that the bearing bears",
        reserve=_SLOPE_RESERVE,
        late=Late.PART_ORDER,
        formula="phi ≤ phi_max",
        terms=[loads.slope, limit, enough],
        sources=[derived("beam on two supports"), memory("Shigley, Mechanical Engineering Design", "Table 7-2")],
        remedy="Take a solid bar of {d_s} or more, spread the bearings, or bring the wheel closer",
    )  # fmt: skip


def assess_gearmotor_shaft(origins: Mapping[str, Origin], axle: Axle, loads: AxleLoads) -> Finding:
    """Radial load on the gearmotor's own shaft against what its sheet allows."""
    rating = _of(origins, axle, "shaft_load_rating", "F_max", "radial load the gearmotor's shaft allows", "N")
    pull = np.asanyarray(loads.radial.value)
    asked = calculated("F_s", "rating that would do", upwards(pull / (1 - _SHAFT_RESERVE[0])), "N", "F_s = F_r/0.9",
                       [loads.radial], per_case=True)  # fmt: skip
    return finding(
        check="gearmotor-shaft-load",
        trade="shafts",
        topic="gearmotor shaft",
        title="The gearmotor's shaft may carry the wheel",
        unit="N",
        cases=CASES,
        demand=pull,
        capacity=column(rating.value),
        demand_name="load on the wheel",
        capacity_name="radial load that the gearmotor allows",
        reserve=_SHAFT_RESERVE,
        late=Late.PART_ORDER,
        formula="F_r ≤ F_max",
        terms=[loads.radial, rating, asked],
        sources=[practice("radial rating of the gearmotor's sheet, taken at the wheel's middle")],
        remedy="Give the wheel an axle of its own in two bearings and couple the gearmotor to it, "
        "or take one whose shaft allows {F_s}",
    )  # fmt: skip
