"""The bearings: do they last, are they dented, do they slide on, does exactly one of them locate the axle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Num, Origin
from dryfit.ground.rounding import downwards, upwards
from dryfit.ground.sources import Source, derived, memory, practice
from dryfit.machine.axle import Axle
from dryfit.machine.brief import Brief
from dryfit.trades.shafts import formulas_bearings as bearings
from dryfit.trades.shafts import formulas_fits as fits
from dryfit.trades.shafts.checks_loads import CASES, AxleLoads, read

ISO_281 = memory("ISO 281:2007", "clauses 5 to 7, Table 3")
ISO_76 = memory("ISO 76", "static equivalent load and safety")
ISO_286 = Source("ISO 286-2, as repeated in JIS B 0401", "limit deviations of shafts and holes")
_WORKSHOP_TEMPERATURE = 293.15
_CRUISE, _SLOPE = 1, 3
_LIFE_RESERVE = (0.2, practice("a fifth of the rating for dirt and crooked mounting"))
_STATIC_RESERVE = (0.1, practice("a tenth beyond the safety"))


def assess_bearings(
    origins: Mapping[str, Origin], axle: Axle, brief: Brief, loads: AxleLoads, wheel_speed: Term
) -> tuple[Finding, ...]:
    """Life, static safety, fit on the bar and the locating pair."""
    radial, axial = _on_bearing(origins, axle, loads)
    return (
        _life(origins, axle, brief, radial, axial, wheel_speed),
        _static(origins, axle, radial, axial),
        _slides_on(origins, axle),
        _locates(origins, axle, brief),
    )


def _rating(origins: Mapping[str, Origin], axle: Axle, key: str, symbol: str, name: str, unit: str) -> Term:
    return read(origins, f"base.axle.bearing.{key}", symbol, name, getattr(axle.bearing, key), unit)


def _limit(origins: Mapping[str, Origin], axle: Axle, key: str, symbol: str, name: str, unit: str) -> Term:
    return read(origins, f"base.axle.limits.{key}", symbol, name, getattr(axle.limits, key), unit)


def _on_bearing(origins: Mapping[str, Origin], axle: Axle, loads: AxleLoads) -> tuple[Term, Term]:
    """Radial and axial load of the harder-worked bearing, per case; it is taken to be the locating one."""
    axial = loads.thrust
    if axle.turns:
        return loads.support, axial
    spacing = read(
        origins,
        "base.axle.hub.bearing_spacing",
        "L_h",
        "spacing of the bearings in the hub",
        axle.hub_bearing_spacing,
        "m",
    )
    pair = bearings.pair_loads(loads.radial.value, loads.couple, column(axle.hub_bearing_spacing))
    radial = calculated(
        "R", "radial load of the harder-worked bearing in the hub", np.max(pair, axis=-1), "N",
        "R = F_r/2 + F_a·r_w/L_h", [loads.radial, loads.thrust, spacing], derived("statics of the hub"), per_case=True,
    )  # fmt: skip
    return radial, axial


def _life(
    origins: Mapping[str, Origin], axle: Axle, brief: Brief, radial: Term, axial: Term, wheel_speed: Term
) -> Finding:
    c = _rating(origins, axle, "dynamic_rating", "C", "dynamic load rating", "N")
    c0 = _rating(origins, axle, "static_rating", "C_0", "static load rating", "N")
    f0 = _rating(origins, axle, "axial_factor", "f_0", "factor of the axial load", "1")
    pair = [_CRUISE, _SLOPE]
    loads = bearings.equivalent_load(
        np.asanyarray(radial.value)[..., pair],
        np.asanyarray(axial.value)[..., pair],
        column(c0.value),
        column(f0.value),
    )
    rpm = np.abs(np.asanyarray(wheel_speed.value, dtype=float)[..., pair]) * 30 / np.pi
    shares = stack([brief.driving_share, brief.climbing_share])
    turns = rpm * shares
    running = np.sum(shares, axis=-1)
    mean_rpm = np.sum(turns, axis=-1) / np.where(running > 0, running, 1.0)
    driving = read(
        origins, "brief.driving_share", "q_d", "share of the day driving on the level", brief.driving_share, "%"
    )
    climbing = read(origins, "brief.climbing_share", "q_c", "share of the day on the slope", brief.climbing_share, "%")
    load = calculated(
        "P",
        "equivalent load over the day",
        bearings.mean_load(loads, turns),
        "N",
        "P = ∛(Σ q·n·P_i³/Σ q·n), P_i = R, or 0.56·R + Y·F_a where F_a/R > e",
        [radial, axial, c0, f0, driving, climbing],
        ISO_281,
    )
    speed = calculated(
        "omega", "mean speed while driving", mean_rpm * np.pi / 30, "rad/s", "omega = Σ q·omega_i/Σ q",
        [wheel_speed, driving, climbing],
    )  # fmt: skip
    life = _limit(origins, axle, "life", "L_h", "running time that the bearings shall last", "s")
    reliability = _limit(origins, axle, "reliability", "S_r", "share of bearings that shall reach it", "%")
    a1 = bearings.reliability_factor(100 * np.asanyarray(reliability.value))
    million = calculated(
        "L",
        "millions of turns asked for",
        life.value * mean_rpm / 60 / 1e6,
        "1",
        "L = omega·L_h/(2·π·10⁶)",
        [speed, life],
    )
    asked = calculated(
        "C_min", "dynamic rating asked for", bearings.rating_for_life(load.value, million.value, a1), "N",
        "C_min = P·(L/a_1)^(1/3), a_1 by S_r", [load, million, reliability], ISO_281,
    )  # fmt: skip
    bought = calculated(
        "C_r",
        "dynamic rating with the reserve",
        upwards(asked.value / (1 - _LIFE_RESERVE[0])),
        "N",
        "C_r = C_min/0.8",
        [asked],
    )
    expected = calculated(
        "L_10", "millions of turns that nine of ten bearings reach under P",
        bearings.rated_life(c.value, np.maximum(load.value, 1e-9)), "1", "L_10 = (C/P)³", [c, load], ISO_281,
    )  # fmt: skip
    return finding(
        check="bearings-last",
        trade="shafts",
        topic="bearings",
        title="The bearings outlast the machine",
        unit="N",
        demand=asked.value,
        capacity=c.value,
        demand_name="dynamic rating asked for",
        capacity_name="dynamic rating of the bearing",
        reserve=_LIFE_RESERVE,
        late=Late.PART_ORDER,
        formula="C_min ≤ C",
        terms=[asked, c, bought, expected],
        sources=[ISO_281],
        remedy="Take bearings with a dynamic rating of {C_r} or more, or spread them further apart",
    )  # fmt: skip


def _static(origins: Mapping[str, Origin], axle: Axle, radial: Term, axial: Term) -> Finding:
    c0 = _rating(origins, axle, "static_rating", "C_0", "static load rating", "N")
    safety = _limit(origins, axle, "static_safety", "s_0", "static safety asked for", "1")
    load = calculated(
        "P_0", "equivalent static load", bearings.static_load(radial.value, axial.value), "N",
        "P_0 = max(R, 0.6·R + 0.5·F_a)", [radial, axial], ISO_76, per_case=True,
    )  # fmt: skip
    asked = load.value * column(safety.value)
    least = calculated(
        "C_0r", "static rating with the reserve", upwards(asked / (1 - _STATIC_RESERVE[0])), "N", "C_0r = s_0·P_0/0.9",
        [safety, load], per_case=True,
    )  # fmt: skip
    return finding(
        check="bearings-static",
        trade="shafts",
        topic="bearings",
        title="No blow dents the bearings",
        unit="N",
        cases=CASES,
        demand=asked,
        capacity=column(c0.value),
        demand_name="static load times its safety",
        capacity_name="static rating of the bearing",
        reserve=_STATIC_RESERVE,
        late=Late.PART_ORDER,
        formula="s_0·P_0 ≤ C_0",
        terms=[load, safety, c0, least],
        sources=[ISO_76],
        remedy="Take bearings with a static rating of {C_0r} or more, or softer wheels",
    )  # fmt: skip


def bar_limits(axle: Axle) -> tuple[Num, Num]:
    """Largest and smallest diameter of the bar within its tolerance class, m."""
    upper, lower = fits.shaft_limits(axle.diameter, axle.tolerance)
    return axle.diameter + upper, axle.diameter + lower


def bar_terms(origins: Mapping[str, Origin], axle: Axle) -> list[Term]:
    """Upper and lower deviation of the bar's diameter, as terms."""
    diameter = read(origins, "base.axle.diameter", "d", "diameter of the axle", axle.diameter, "m")
    width = read(
        origins, "base.axle.tolerance", "IT", f"width of the class {axle.tolerance}",
        fits.tolerance(axle.diameter, fits.split(axle.tolerance)[1]), "m",
    )  # fmt: skip
    upper, lower = fits.shaft_limits(axle.diameter, axle.tolerance)
    above = calculated("es", "largest bar over its nominal size", upper, "m",
                       f"upper deviation of {axle.tolerance} at d", [diameter, width], ISO_286)  # fmt: skip
    below = calculated("ei", "smallest bar over its nominal size", lower, "m", "es - IT", [above, width], ISO_286)
    return [above, below]


def _slides_on(origins: Mapping[str, Origin], axle: Axle) -> Finding:
    b = axle.bearing
    hole = (b.bore + b.bore_upper, b.bore + b.bore_lower)
    least, most = fits.clearances(hole, bar_limits(axle))
    bore = [
        _rating(origins, axle, "bore", "D_b", "bore of the bearing", "m"),
        _rating(origins, axle, "bore_upper", "ES", "upper deviation of the bore", "m"),
        _rating(origins, axle, "bore_lower", "EI", "lower deviation of the bore", "m"),
    ]
    tight = _limit(origins, axle, "bore_interference", "u_max", "interference that may be pushed on", "m")
    loose = _limit(origins, axle, "bore_clearance", "s_max", "clearance that may stay", "m")
    bar = bar_terms(origins, axle)
    size = read(origins, "base.axle.diameter", "d", "diameter of the axle", axle.diameter, "m")
    width = calculated("IT_max", "width of a class h that sits close enough", downwards(loose.value - b.bore_upper),
                       "m", "IT_max = s_max - ES", [loose, bore[1]])  # fmt: skip
    fit = [
        calculated(
            "u", "largest interference", -least, "m", "u = d + es - (D_b + EI)", [size, bar[0], bore[0], bore[2]]
        ),
        calculated("s", "largest clearance", most, "m", "s = D_b + ES - (d + ei)", [bore[0], bore[1], size, bar[1]]),
    ]
    floor = 1e-9
    # A thousandth of a micrometre of rounding must not turn a line-to-line fit into a clash.
    demand = stack([np.where(np.abs(-least) < floor, 0.0, -least), most])
    return finding(
        check="bearing-slides-on",
        trade="shafts",
        topic="fits",
        title="The bearings slide on the axle and sit close",
        unit="m",
        cases=("tightest pair", "loosest pair"),
        demand=demand,
        capacity=stack([tight.value, loose.value]),
        demand_name="interference or clearance",
        capacity_name="what may be",
        reserve=(0.0, practice("the limits of the classes hold as they stand")),
        late=Late.PART_ORDER,
        formula="u ≤ u_max and s ≤ s_max",
        terms=[*(replace(f, case=i) for f, i in zip((*fit, tight, loose), (0, 1, 0, 1), strict=True)), bore[0], width],
        sources=[ISO_286],
        remedy="Order the bar at {D_b} to a class h no wider than {IT_max} (ground h9 rather than drawn h10)",
    )  # fmt: skip


def _locates(origins: Mapping[str, Origin], axle: Axle, brief: Brief) -> Finding:
    mismatch = read(
        origins, "base.axle.expansion_mismatch", "d_alpha", "expansion of the frame beyond the axle's, 1/K",
        axle.expansion_mismatch, "1",
    )  # fmt: skip
    warm = read(origins, "brief.vehicle_temperature", "theta", "hottest day in the van", brief.vehicle_temperature, "K")
    span = read(origins, "base.axle.bearing_span", "L", "span between the bearings", axle.bearing_span, "m")
    play = _limit(origins, axle, "axial_play", "s_a", "axial play of the bearings and give of the frame", "m")
    growth = calculated(
        "d_L", "growth of the frame between the bearings",
        fits.thermal_growth(mismatch.value, np.asanyarray(warm.value) - _WORKSHOP_TEMPERATURE, span.value), "m",
        "d_L = d_alpha·(theta - 20 °C)·L", [mismatch, warm, span], derived("thermal expansion"),
    )  # fmt: skip
    nothing = np.asanyarray(growth.value) * 0.0
    clash = {
        "one fixed one floating": nothing,
        "both floating": nothing + 1.0,
        "both fixed": nothing + ~(np.asanyarray(growth.value) <= play.value),
    }[axle.locating]
    found = calculated(
        "N", f"conflicts of the pair ({axle.locating})", clash, "1",
        "N = 1 where both float, or where both are fixed and d_L > s_a", [growth, play],
    )  # fmt: skip
    remedy = {
        "both floating": "Fix one of the two bearings along the axle, so that the wheel cannot wander",
        "both fixed": "Let one of the two bearings slide along the axle: {d_L} of growth must go somewhere",
    }.get(axle.locating, "Keep one bearing fixed along the axle and let the other slide")
    return finding(
        check="one-bearing-locates",
        trade="shafts",
        topic="bearings",
        title="One bearing holds the axle sideways, the other lets it grow",
        unit="1",
        demand=clash,
        capacity=0.0,
        demand_name="conflicts",
        capacity_name="none",
        reserve=(0.0, practice("yes or no")),
        late=Late.MINUTES,
        formula="N = 0",
        terms=[found],
        sources=[practice("one locating and one floating bearing on an axle")],
        remedy=remedy,
    )  # fmt: skip
