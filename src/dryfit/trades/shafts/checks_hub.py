"""The hub: does it hold the wheel round and along the axle, does it wear, do the printed seats come out to size."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Num, Origin
from dryfit.ground.rounding import upwards
from dryfit.ground.sources import derived, practice
from dryfit.machine.axle import Axle
from dryfit.machine.workshop import Workshop
from dryfit.trades.shafts import formulas_fits as fits
from dryfit.trades.shafts import formulas_grip as grip
from dryfit.trades.shafts.checks_bearings import bar_terms
from dryfit.trades.shafts.checks_loads import CASES, LOST_WHEEL, SERVICE, AxleLoads, how_much_more, read

POSITIVE = ("flat", "key", "pin")
"""Retentions that carry torque by form; the others by friction."""

SHEAR_SHARE = 1 / np.sqrt(3)
PLASTIC_POISSON = 0.36
_GRIP_RESERVE = (0.1, practice("a tenth beyond the grip factor"))
_WEAR_RESERVE = (0.1, practice("a tenth for edges that bear more than the middle"))
_LAME = derived("thick ring under inside pressure (Lamé)")
_PRELOAD = practice("T = K·F·d with K = 0.2 for dry screws")


def assess_hub(origins: Mapping[str, Origin], axle: Axle, loads: AxleLoads) -> tuple[Finding, ...]:
    """Retention along the axle; where a turning axle carries the torque, grip and wear too."""
    screw = _screw(origins, axle)
    findings = [_stays_on(origins, axle, loads, screw)]
    if axle.turns and axle.carries_torque:
        findings.append(_carries(origins, axle, loads, screw))
        if axle.retention.kind in POSITIVE:
            findings.append(_wear(origins, axle, loads))
    return tuple(findings)


def _held(origins: Mapping[str, Origin], axle: Axle, key: str, symbol: str, name: str, unit: str) -> Term:
    return read(origins, f"base.axle.retention.{key}", symbol, name, getattr(axle.retention, key), unit)


def _limit(origins: Mapping[str, Origin], axle: Axle, key: str, symbol: str, name: str, unit: str) -> Term:
    return read(origins, f"base.axle.limits.{key}", symbol, name, getattr(axle.limits, key), unit)


def _screw(origins: Mapping[str, Origin], axle: Axle) -> Term:
    """Force of one screw, settled."""
    torque = _held(origins, axle, "tightening_torque", "T_s", "tightening torque of a screw", "N*m")
    factor = _held(origins, axle, "nut_factor", "K", "nut factor", "1")
    diameter = read(
        origins, "base.axle.retention.diameter", "d_s", "diameter of the screw", axle.retention.screw_diameter, "m"
    )
    kept = _held(origins, axle, "preload_kept", "k_p", "share of the preload left after creep", "%")
    force = grip.preload(torque.value, factor.value, diameter.value) * kept.value
    return calculated(
        "F_s",
        "force of one screw, settled",
        force,
        "N",
        "F_s = k_p·T_s/(K·d_s)",
        [torque, factor, diameter, kept],
        _PRELOAD,
    )


def _stays_on(origins: Mapping[str, Origin], axle: Axle, loads: AxleLoads, screw: Term) -> Finding:
    t = axle.retention
    friction = _held(origins, axle, "friction", "mu_h", "friction of hub or screw on the axle", "1")
    screws = _held(origins, axle, "screws", "n", "number of screws", "1")
    stop = _held(origins, axle, "end_stop_force", "F_e", f"axial force held by the end stop ({t.end_stop})", "N")
    crush = _limit(origins, axle, "hub_crush", "p_c", "pressure that crushes the hub", "Pa")
    held: Num
    if not axle.turns:
        held, formula, terms = stop.value * 0.0, "F_h = 0: the wheel turns on the axle, nothing grips it", [stop]
    elif t.kind == "key":
        held, formula, terms = stop.value * 0.0, "F_h = 0: a key lets the wheel slide", [stop]
    elif t.kind == "pin":
        pin = _held(origins, axle, "pin_diameter", "d_p", "diameter of the pin", "m")
        wall = read(origins, "base.axle.hub.wall", "w", "wall of the hub", axle.hub_wall, "m")
        held = 2 * crush.value * pin.value * wall.value
        formula, terms = "F_h = 2·p_c·d_p·w", [crush, pin, wall]
    else:
        held = grip.clamp_axial(friction.value, screws.value, screw.value)
        formula, terms = "F_h = 2·mu_h·n·F_s", [friction, screws, screw]
    hub = calculated("F_h", "axial force held by the hub", held, "N", formula, terms)
    best = calculated(
        "F_x", "axial force held", np.maximum(hub.value, stop.value), "N", "F_x = max(F_h, F_e)", [hub, stop],
        practice("two stops of different stiffness do not share: the better one counts"),
    )  # fmt: skip
    factor = _limit(origins, axle, "grip_factor", "k_g", "grip asked for over what acts", "1")
    pull = _limit(origins, axle, "pull", "F_p", "pull of the bench test", "N")
    thrust = np.max(loads.thrust.value, axis=-1)
    worst = calculated("F_t", "largest side thrust", thrust, "N", "F_t = max(F_a)", [loads.thrust])
    needed = np.maximum(factor.value * thrust, pull.value) / (1 - _GRIP_RESERVE[0])
    asked = calculated("F_r", "axial force that would do", upwards(needed), "N", "F_r = max(k_g·F_t, F_p)/0.9",
                       [factor, worst, pull])  # fmt: skip
    return finding(
        check="wheel-stays-on-axle",
        trade="shafts",
        topic="wheel retention",
        title="The wheel does not walk off the axle",
        unit="N",
        cases=("side thrust", "bench pull"),
        demand=stack([factor.value * thrust, pull.value]),
        capacity=column(best.value),
        demand_name="side thrust times the grip factor, or the bench pull",
        capacity_name="axial force held",
        reserve=_GRIP_RESERVE,
        late=Late.SHOW,
        formula="k_g·F_t ≤ F_x and F_p ≤ F_x",
        terms=[factor, worst, pull, best, asked],
        sources=[practice("an axial stop holds at least twice the side thrust")],
        caution=LOST_WHEEL,
        remedy="Put a screw with a washer into the end of the axle, or a metal collar that holds {F_r} beside the hub: "
        "tape and ties are for fitting only",
    )  # fmt: skip


def _geometry(origins: Mapping[str, Origin], axle: Axle) -> tuple[Term, Term]:
    diameter = read(origins, "base.axle.diameter", "d", "diameter of the axle", axle.diameter, "m")
    length = read(origins, "base.axle.hub.length", "l", "length of the hub on the axle", axle.hub_length, "m")
    return diameter, length


def pressure_per_torque(axle: Axle) -> Num:
    """Pressure on the hub for a unit torque of a flat, key or pin, Pa/(N·m)."""
    t, d, length = axle.retention, axle.diameter, axle.hub_length
    if t.kind == "flat":
        return grip.flat_pressure(1.0, d, t.flat_depth, length)
    if t.kind == "key":
        return grip.key_pressure(1.0, d, t.key_height, length)
    return grip.pin_pressure(1.0, d, t.pin_diameter, axle.hub_wall)


def _form_terms(origins: Mapping[str, Origin], axle: Axle) -> tuple[str, list[Term]]:
    diameter, length = _geometry(origins, axle)
    if axle.retention.kind == "flat":
        depth = _held(origins, axle, "flat_depth", "t", "depth of the flat", "m")
        return "p = T_w/(b·l·d/2), b = 2·√(t·(d - t))", [diameter, length, depth]
    if axle.retention.kind == "key":
        height = _held(origins, axle, "key_height", "h", "height of the key", "m")
        return "p = 4·T_w/(d·h·l)", [diameter, length, height]
    pin = _held(origins, axle, "pin_diameter", "d_p", "diameter of the pin", "m")
    wall = read(origins, "base.axle.hub.wall", "w", "wall of the hub", axle.hub_wall, "m")
    return "p = T_w/(d_p·w·(d + w))", [diameter, pin, wall]


def _carries(origins: Mapping[str, Origin], axle: Axle, loads: AxleLoads, screw: Term) -> Finding:
    t = axle.retention
    factor = _limit(origins, axle, "grip_factor", "k_g", "grip asked for over what acts", "1")
    diameter, length = _geometry(origins, axle)
    if t.kind in POSITIVE:
        crush = _limit(origins, axle, "hub_crush", "p_c", "pressure that crushes the hub", "Pa")
        formula, terms = _form_terms(origins, axle)
        held = crush.value / pressure_per_torque(axle)
        formula = f"the torque at which {formula} reaches p_c"
        terms = [crush, *terms]
        if t.kind in ("key", "pin"):
            steel = read(
                origins,
                "base.axle.yield_strength",
                "R_e",
                "yield strength of key or pin",
                axle.yield_strength,
                "Pa",
            )
            if t.kind == "key":
                size = _held(origins, axle, "key_width", "b", "width of the key", "m")
                shear, relation = grip.key_shear(1.0, axle.diameter, size.value, length.value), "2·T_w/(d·b·l)"
            else:
                size = _held(origins, axle, "pin_diameter", "d_p", "diameter of the pin", "m")
                shear, relation = grip.pin_shear(1.0, axle.diameter, size.value), "4·T_w/(π·d_p²·d)"
            held = np.minimum(held, SHEAR_SHARE * steel.value / shear)
            formula = f"{formula}, or {relation} reaches R_e/√3"
            terms = [*terms, steel, size]
    else:
        friction = _held(origins, axle, "friction", "mu_h", "friction of hub or screw on the axle", "1")
        screws = _held(origins, axle, "screws", "n", "number of screws", "1")
        held = grip.clamp_torque(friction.value, screws.value, screw.value, diameter.value)
        formula, terms = "T_h = mu_h·n·F_s·d", [friction, screws, screw, diameter]
    hold = calculated(
        "T_h", f"torque the {t.kind} holds", held, "N*m", formula, terms,
        practice("two lines of contact, the careful assumption") if t.kind not in POSITIVE else derived("statics"),
    )  # fmt: skip
    demand = column(factor.value) * np.asanyarray(loads.wheel_torque.value)
    times = how_much_more(demand, column(hold.value), _GRIP_RESERVE[0])
    enough, advice = _enough(origins, axle, times, [factor, loads.wheel_torque, hold])
    return finding(
        check="hub-carries-the-torque",
        trade="shafts",
        topic="wheel retention",
        title="The hub does not slip round the axle",
        unit="N*m",
        cases=CASES,
        demand=demand,
        capacity=column(hold.value),
        demand_name="torque of the wheel times the grip factor",
        capacity_name=f"torque the {t.kind} holds",
        reserve=_GRIP_RESERVE,
        late=Late.SHOW,
        formula="k_g·T_w ≤ T_h",
        terms=[factor, loads.wheel_torque, hold, enough],
        sources=[practice("a hub holds at least twice the torque of the stalled motor")],
        remedy=advice,
    )  # fmt: skip


def _enough(origins: Mapping[str, Origin], axle: Axle, times: Num, terms: list[Term]) -> tuple[Term, str]:
    """The size of what grips that would do, `times` the one there is, and the sentence that names it."""
    t = axle.retention
    if t.kind == "pin":
        pin = _held(origins, axle, "pin_diameter", "d_p", "diameter of the pin", "m")
        grown = np.asanyarray(pin.value) * times
        return (
            calculated("d_e", "pin that would do", upwards(grown), "m", "d_e = d_p times demand over 0.9 of capacity",
                       [pin, *terms]),
            "Use a pin of {d_e}, or a metal hub with a key",
        )  # fmt: skip
    if t.kind in POSITIVE:
        _, length = _geometry(origins, axle)
        return (
            calculated("l_e", "length of hub that would do", upwards(np.asanyarray(length.value) * times), "m",
                       "l_e = l times demand over 0.9 of capacity", [length, *terms]),
            f"Make the hub {{l_e}} long on its {t.kind}, or put a metal insert into a printed hub",
        )  # fmt: skip
    torque = _held(origins, axle, "tightening_torque", "T_s", "tightening torque of a screw", "N*m")
    return (
        calculated("T_e", "tightening torque that would do", upwards(np.asanyarray(torque.value) * times), "N*m",
                   "T_e = T_s times demand over 0.9 of capacity", [torque, *terms]),
        "Carry the torque by form: a flat, a key or a cross pin, or screws large enough to be tightened to {T_e}",
    )  # fmt: skip


def _wear(origins: Mapping[str, Origin], axle: Axle, loads: AxleLoads) -> Finding:
    limit = _limit(origins, axle, "hub_pressure", "p_max", "pressure for a torque that reverses all day", "Pa")
    crush = _limit(origins, axle, "hub_crush", "p_c", "pressure that crushes the hub", "Pa")
    formula, terms = _form_terms(origins, axle)
    with np.errstate(invalid="ignore"):
        # Where no flat is left, no torque has no pressure either: NaN, which does not pass.
        bearing = column(pressure_per_torque(axle)) * np.asanyarray(loads.wheel_torque.value)
    pressure = calculated(
        "p", f"pressure of the {axle.retention.kind} on the hub", bearing, "Pa", formula,
        [loads.wheel_torque, *terms], per_case=True,
    )  # fmt: skip
    bears = np.where(SERVICE, column(limit.value), column(crush.value))
    times = how_much_more(pressure.value, bears, _WEAR_RESERVE[0])
    enough, advice = _enough(origins, axle, times, [pressure, limit, crush])
    return finding(
        check="hub-does-not-wear",
        trade="shafts",
        topic="wheel retention",
        title="The hub does not wear loose",
        unit="Pa",
        cases=CASES,
        demand=pressure.value,
        capacity=bears,
        demand_name="pressure on the hub",
        capacity_name="pressure it bears all day, or once off an edge and at stall",
        reserve=_WEAR_RESERVE,
        late=Late.REPRINT,
        formula="p ≤ p_max in service, p ≤ p_c off an edge and at stall",
        terms=[pressure, limit, crush, enough],
        sources=[practice("bearing pressure on flats and keys in printed plastic")],
        remedy=advice,
    )  # fmt: skip


def assess_seats(origins: Mapping[str, Origin], axle: Axle, workshop: Workshop) -> tuple[Finding, ...]:
    """Printed seats: tightest and loosest, for the bearing's outer ring and for the hub on the axle."""
    cases: list[str] = []
    demand: list[Num] = []
    capacity: list[Num] = []
    terms: list[Term] = []
    offset = read(origins, "workshop.hole_offset", "o_p", "printed hole beyond its drawing", workshop.hole_offset, "m")
    tolerance = read(
        origins, "workshop.print_tolerance", "t_p", "half-width of a printed size", workshop.print_tolerance, "m"
    )
    stress = _limit(origins, axle, "ring_stress", "sigma_r", "hoop stress that printed plastic bears for long", "Pa")
    modulus = read(origins, "base.axle.seat.modulus", "E_p", "modulus of the printed plastic", axle.seat_modulus, "Pa")

    def seat(name: str, tag: str, size: Term, spread: list[Term], allowance: Term, wall: Term, loose: Term) -> None:
        """size: of what sits in the bore, nominal; spread: its upper and lower deviation, if it has any."""
        upper, lower = (x.value for x in spread) if spread else (0.0, 0.0)
        nominal = size.value + lower
        tight = upper - lower - allowance.value - workshop.hole_offset + workshop.print_tolerance
        slack = allowance.value + workshop.hole_offset + workshop.print_tolerance
        allowed = calculated(
            f"u_{tag}max", f"{name}: interference that the wall bears",
            fits.interference_for_hoop(
                stress.value, nominal, nominal + 2 * wall.value, modulus.value, PLASTIC_POISSON
            ), "m", f"sigma_r·D/E_p·(k + 0.36)/k, k = (D_o² + D²)/(D_o² - D²), D_o = D + 2·w_{tag}, D the smallest",
            [stress, modulus, wall, size], _LAME,
        )  # fmt: skip
        own = [allowance, offset, tolerance]
        middle = calculated(
            "a_m", f"{name}: allowance in the middle of what fits",
            (upper - lower - allowed.value + loose.value) / 2 - workshop.hole_offset, "m",
            f"(s_{tag}max - u_{tag}max" + (" + es - ei" if spread else "") + ")/2 - o_p",
            [*spread, offset, allowed, loose],
        )  # fmt: skip
        tightest = calculated(
            f"u_{tag}", f"{name}: largest interference", tight, "m",
            ("es - ei - " if spread else "-") + f"a_{tag} - o_p + t_p", [*spread, *own],
        )  # fmt: skip
        loosest = calculated(f"s_{tag}", f"{name}: largest clearance", slack, "m", f"a_{tag} + o_p + t_p", own)
        for i, pair in enumerate(((tightest, allowed), (loosest, loose))):
            terms.extend(replace(t, case=len(cases) + i) for t in (*pair, middle))
        cases.extend([f"{name}, tightest", f"{name}, loosest"])
        demand.extend([tight, slack])
        capacity.extend([allowed.value, loose.value])

    if axle.housing == "printed seat" and axle.arrangement != "on the gearmotor shaft":
        ring = read(
            origins, "base.axle.bearing.outside_diameter", "D_r", "outside diameter of the bearing",
            axle.bearing.outside_diameter, "m",
        )  # fmt: skip
        seat(
            "bearing seat", "b", ring, [],
            read(origins, "base.axle.seat.allowance", "a_b", "seat drawn larger by", axle.seat_allowance, "m"),
            read(origins, "base.axle.seat.wall", "w_b", "wall of the seat", axle.seat_wall, "m"),
            _limit(origins, axle, "seat_clearance", "s_bmax", "clearance of a seat", "m"),
        )  # fmt: skip
    if axle.hub_made == "printed" and axle.turns:
        bar = read(origins, "base.axle.diameter", "d", "diameter of the axle", axle.diameter, "m")
        seat(
            "hub on the axle", "h", bar, bar_terms(origins, axle),
            read(origins, "base.axle.hub.allowance", "a_h", "hub drawn larger by", axle.hub_allowance, "m"),
            read(origins, "base.axle.hub.wall", "w_h", "wall of the hub", axle.hub_wall, "m"),
            _limit(origins, axle, "hub_clearance", "s_hmax", "clearance of a hub", "m"),
        )  # fmt: skip
    if not cases:
        return ()
    return (
        finding(
            check="seats-print-to-size",
            trade="shafts",
            topic="fits",
            title="Printed seats come out neither too tight nor too loose",
            unit="m",
            cases=tuple(cases),
            demand=stack(demand),
            capacity=stack(capacity),
            demand_name="interference or clearance of the print",
            capacity_name="what the wall or the fit bears",
            reserve=(0.0, practice("the spread of the printer is in the figures")),
            late=Late.REPRINT,
            formula="u ≤ u_max and s ≤ s_max",
            terms=terms,
            sources=[practice("what a printer does to a bore is measured on a coupon"), _LAME],
            remedy="Draw the bore larger than its partner by {a_m} (allowance); print a coupon with bores in steps of "
            "0.1 mm first and measure workshop.hole_offset",
        ),
    )
