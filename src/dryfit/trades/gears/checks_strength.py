"""Checks of tooth strength: roots at stall, roots and flanks in service, by material and warmth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Late, Term, by_rule, calculated, finding
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.rounding import upwards
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.gears import Gears
from dryfit.trades.gears import formulas_strength as strength
from dryfit.trades.gears.checks_layout import ADDENDA, TRADE, Typed, case_names, per_case, repeated, side_by_side
from dryfit.trades.gears.checks_mesh import MeshResult

TOPIC = "tooth strength"
CASES = ("idle", "cruise", "start", "slope", "step", "stall")
"""Cases of the drive, in the order of the trailing axis of `motor_torque` and `motor_speed`."""

SERVICE = ("cruise", "start", "slope")
"""Cases that recur through the whole show and so wear and tire the teeth; a step is met now and then like a stall."""

ROOT = memory("ISO 6336-3, VDI 2736-2", "tooth root stress, load at the tip")
LEWIS = memory("Lewis beam formula", "form factors as in general machine-design texts")
FLANK = memory("ISO 6336-2", "contact stress, in the form used for plastics by VDI 2736-2")
FATIGUE = practice("strength falls in a straight line over the logarithm of the loads")
WARMTH = practice("strength falls in a straight line to nothing at the softening temperature")
LOSS_FACTOR = memory("Machine-element texts", "mesh loss factor of spur gears")
WAYS = "the hardest of cruise, start and slope"
AIR = practice("10 W/(m²·K) for a small part in still air")
TRANSFER = 10.0
"""Heat transfer from a small part to still air, convection and radiation together, W/(m²·K)."""

TEETH_RESERVE = (0.1, practice("a tenth kept back on tooth loads"))


@dataclass(frozen=True)
class StrengthResult:
    """tooth_temperature: of the first stage's teeth in service, (...,), K."""

    tooth_temperature: Term | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class _Loads:
    """By stage (..., G): torques at the pinion with shock, loads on a tooth of it, temperature, and the root stress of
    pinion and gear for each unit of Ft/(b m); with the terms that unfold them."""

    stall: Array
    service: Array
    loads: Array
    temperature: Array
    loss_factor: Array
    multiplied: Array
    shapes: tuple[Array, Array]
    torque: Term
    speed: Term


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def assess_strength(
    origins: Mapping[str, Origin],
    gears: Gears,
    *,
    motor_torque: Term,
    motor_speed: Term,
    mesh: MeshResult,
    cases: Sequence[str] = CASES,
) -> StrengthResult:
    """Teeth against the motor's torque and speed (..., C) at the gearmotor's output shaft, in the order of `cases`.

    Teeth that cannot be come out as NaN or without any strength, which fails; numpy need not warn of them.
    A later stage's pinion carries the torque multiplied by the ratios and efficiencies before it.
    """
    if not gears.paths:
        return StrengthResult(None, ())
    typed = Typed(origins, gears)
    load = _loads(gears, mesh, motor_torque, motor_speed, tuple(cases))
    found = (
        _at_stall(gears, mesh, typed, load),
        _roots_in_service(gears, mesh, typed, load),
        _flanks_in_service(gears, mesh, typed, load),
    )
    warm = _warmth(load, load.temperature[..., 0], load.loss_factor[..., 0], typed("temperature", *WARMED_BY), False)
    return StrengthResult(warm, found)


WARMED_BY = ("friction", "face_width", "module", "pinion_teeth")


def _loads(g: Gears, mesh: MeshResult, torque: Term, speed: Term, cases: tuple[str, ...]) -> _Loads:
    t, w = np.asanyarray(torque.value, dtype=float), np.asanyarray(speed.value, dtype=float)
    running = [cases.index(c) for c in SERVICE]
    stall, service = t[..., cases.index("stall")], np.max(t[..., running], axis=-1)
    fastest, power = np.max(w[..., running], axis=-1), np.max((t * w)[..., running], axis=-1)
    raised, slowed = _before(mesh.stage_ratio * mesh.stage_efficiency), 1 / _before(mesh.stage_ratio)
    loads = g.hours * column(fastest) * slowed / (2 * np.pi)
    lost = column(power) * _before(mesh.stage_efficiency) * g.friction * mesh.loss_factor
    rise = strength.temperature_rise(lost, g.module * g.pinion_teeth, g.face_width, TRANSFER)
    return _Loads(
        stall=g.shock * column(stall) * raised,
        service=g.shock * column(service) * raised,
        loads=loads,
        temperature=g.temperature + rise,
        loss_factor=mesh.loss_factor,
        multiplied=raised,
        shapes=_forms(g, mesh),
        torque=torque,
        speed=speed,
    )


def _before(factors: Array) -> Array:
    """Product of the factors (..., G) of all stages before each one."""
    ones = np.ones((*factors.shape[:-1], min(1, factors.shape[-1])))
    return np.cumprod(np.concatenate([ones, factors[..., :-1]], axis=-1), axis=-1)


def _forms(g: Gears, mesh: MeshResult) -> tuple[Array, Array]:
    """Y_Fa·Y_Sa·Y_ε of pinion and gear, (..., G) each."""
    common = (g.pressure_angle, g.dedendum, g.root_fillet)
    share = strength.contact_share(np.maximum(mesh.contact_ratio, 1.0))
    shapes = []
    for teeth, shift, addendum, thinning, ring in (
        (g.pinion_teeth, g.pinion_shift, g.pinion_addendum, g.pinion_thinning, False),
        (g.gear_teeth, g.gear_shift, g.gear_addendum, g.gear_thinning, True),
    ):
        angle, dedendum, fillet = common
        form, correction = strength.form_factors(teeth, angle, shift, addendum, dedendum, fillet, thinning / g.module)
        shape = np.asanyarray(form * correction)
        if ring and any(g.internal):
            form, correction = strength.ring_form_factors(angle, addendum, dedendum, fillet, thinning / g.module)
            shape = np.where(np.array(g.internal), form * correction + 0 * teeth, shape)
        shapes.append(shape * share)
    return shapes[0], shapes[1]


def _nominal(g: Gears, torque: Array) -> Array:
    """Force on a tooth over its width and module, Pa."""
    return np.asanyarray(strength.tangential_force(torque, g.module * g.pinion_teeth) / (g.face_width * g.module))


def _beams(g: Gears, load: _Loads) -> tuple[Array, Array]:
    """Stress of pinion and gear as Lewis beams for each unit of F/(b m); a ring's tooth counts as a rack's.

    The Lewis table ends at 12 teeth; a smaller pinion is judged by its root stress alone.
    """
    count = np.where(np.array(g.internal), 1e9 + 0 * g.gear_teeth, g.gear_teeth)
    shapes = [
        np.where(z < 12, root, strength.lewis_stress(1.0, 1.0, 1.0, strength.lewis_form(z)))
        for z, root in zip((g.pinion_teeth, count), load.shapes, strict=True)
    ]
    return shapes[0], shapes[1]


def _warm(g: Gears, load: _Loads) -> tuple[Num, Num]:
    return (
        strength.left_when_warm(load.temperature, g.pinion_softening),
        strength.left_when_warm(load.temperature, g.gear_softening),
    )


def _warmth(load: _Loads, temperature: Num, factor: Num, given: Sequence[Term], by_case: bool) -> Term:
    """Temperature of the teeth as a term, for all cases of a finding or for itself."""
    share = calculated("H_V", "mesh loss factor", factor, "1", "as worked out for the gears' efficiency",
                       (), LOSS_FACTOR, per_case=by_case)  # fmt: skip
    return calculated(
        "ϑ", "temperature of the teeth", temperature, "K",
        "ϑ0 + P µ H_V/(h π d (b + d/2)), P the largest T ω of cruise, start and slope, d = m z1",
        [by_rule("h", "heat transfer to still air in W/(m²·K)", TRANSFER, "1", AIR), load.torque, load.speed,
         share, *given],
        derived("heat balance of the pinion"), per_case=by_case,
    )  # fmt: skip


def _load_terms(g: Gears, load: _Loads, torque: Array, times: int, typed: Typed, way: str) -> tuple[Term, Term]:
    """Torque at the pinion and temperature of the teeth, spread over the cases."""
    given = [load.torque, *typed.of(times, "shock")]
    formula = f"K T, T of {way}"
    if len(g.paths) > 1:
        given.append(per_case("i_b", "ratio × efficiency of the stages before", repeated(load.multiplied, times), "1",
                              "product of z2/z1 · η", typed("pinion_teeth", "gear_teeth")))  # fmt: skip
        formula = f"K T i_b, T of {way}"
    warm = _warmth(load, repeated(load.temperature, times), repeated(load.loss_factor, times),
                   typed.of(times, "temperature", *WARMED_BY), True)  # fmt: skip
    return per_case("T_1", "torque at the pinion, with shock", repeated(torque, times), "N*m", formula, given), warm


def _form_term(mesh: MeshResult, typed: Typed, variants: int, values: Array) -> Term:
    contact = per_case(
        "ε", "contact ratio", repeated(mesh.contact_ratio, variants), "1", "as worked out for the contact ratio",
        typed.of(variants, *ADDENDA),
    )  # fmt: skip
    return per_case(
        "Y", "form of the tooth: its stress over F/(b m)", values, "1",
        "Y_Fa Y_Sa Y_ε by the 30° tangent, Y_ε = 0.25 + 0.75/ε; a ring's tooth as a rack's; as a Lewis beam 1/Y_L",
        [*typed.member(variants, range(0, variants, 2), "pinion_teeth", "pinion_shift", "pinion_addendum"),
         *typed.member(variants, range(1, variants, 2), "gear_teeth", "gear_shift", "gear_addendum"),
         *typed.of(variants, "pressure_angle", "dedendum", "root_fillet", "backlash"), contact], ROOT, LEWIS,
    )  # fmt: skip


def _strengths(g: Gears, typed: Typed, variants: int, *columns: str) -> list[Term]:
    """Numbers of the governing member's material."""
    terms: list[Term] = []
    for which, member, flags in ((0, "pinion", g.pinion_layered), (1, "gear", g.gear_layered)):
        cases = range(which, variants, 2)
        terms += typed.member(variants, cases, *(f"{member}_{c}" for c in columns))
        if "strength" in columns and all(flags):
            terms += typed.member(variants, cases, f"{member}_layer_share")
    return terms


def _room() -> float:
    return 1 - TEETH_RESERVE[0]


def _at_stall(g: Gears, mesh: MeshResult, typed: Typed, load: _Loads) -> Finding:
    forms = side_by_side(*load.shapes, *_beams(g, load))
    warm1, warm2 = _warm(g, load)
    allowed1 = g.lim_strength_share * g.pinion_strength * g.pinion_layer_share * warm1
    allowed2 = g.lim_strength_share * g.gear_strength * g.gear_layer_share * warm2
    demand = repeated(_nominal(g, load.stall), 4) * forms
    capacity = side_by_side(allowed1, allowed2, allowed1, allowed2)
    used = demand / capacity
    widest = np.max(used.reshape(*used.shape[:-1], len(g.paths), 4), axis=-1)
    width = g.face_width * widest / _room()
    torque, warm = _load_terms(g, load, load.stall, 4, typed, "the stall")
    size = typed.of(4, "module", "pinion_teeth", "face_width")
    stress = per_case(
        "σ_F",
        "stress at the tooth root",
        demand,
        "Pa",
        "2 T_1/(m z1)/(b m) · Y",
        [torque, *size, _form_term(mesh, typed, 4, forms)],
        ROOT,
        LEWIS,
    )
    allowed = per_case(
        "σ_P",
        "stress allowed at stall",
        capacity,
        "Pa",
        "k σ · share across layers · (ϑ_s - ϑ)/(ϑ_s - 23 °C)",
        [*typed.of(4, "lim_strength_share"), *_strengths(g, typed, 4, "strength", "softening"), warm],
        WARMTH,
    )
    terms = [
        stress,
        allowed,
        per_case("b_min", "face width that would do, with the reserve", upwards(repeated(width, 4)), "m",
                 "b · largest σ_F/σ_P/0.9", [stress, allowed, *typed.of(4, "face_width")], ROOT),
    ]  # fmt: skip
    return finding(
        check="teeth-survive-stall",
        trade=TRADE,
        topic=TOPIC,
        title="The teeth survive a stall against a stop",
        unit="Pa",
        cases=case_names(g, "pinion", "gear", "pinion as a beam", "gear as a beam"),
        demand=demand,
        capacity=capacity,
        demand_name="stress at the tooth root",
        capacity_name="stress allowed",
        reserve=TEETH_RESERVE,
        late=Late.SHOW,
        formula="σ_F ≤ k σ · share across layers · (ϑ_s - ϑ)/(ϑ_s - 23 °C)",
        terms=terms,
        sources=[ROOT, LEWIS],
        remedy="Make the gears {b_min} wide, take a larger module or a stronger material, or limit the motor's current",
        caution="strength of printed teeth scatters: stall a test stage against a torque arm before people stand near",
    )


def _wider(g: Gears, typed: Typed, times: Array, formula: str, *stresses: Term) -> Term:
    """Face width that would do, with the reserve; `times`: by how much the width must grow, pinion and gear."""
    width = g.face_width * np.max(times.reshape(*times.shape[:-1], len(g.paths), 2), axis=-1)
    name = "face width that would do, with the reserve"
    return per_case("b_min", name, upwards(repeated(width, 2)), "m", formula, [*stresses, *typed.of(2, "face_width")])


def _roots_in_service(g: Gears, mesh: MeshResult, typed: Typed, load: _Loads) -> Finding:
    forms = side_by_side(*load.shapes)
    warm1, warm2 = _warm(g, load)
    left1 = strength.left_after(load.loads, g.pinion_endurance_share)
    left2 = strength.left_after(load.loads / mesh.stage_ratio, g.gear_endurance_share)
    allowed1 = g.lim_service_share * g.pinion_strength * g.pinion_layer_share * warm1 * left1
    allowed2 = g.lim_service_share * g.gear_strength * g.gear_layer_share * warm2 * left2
    demand, capacity = repeated(_nominal(g, load.service), 2) * forms, side_by_side(allowed1, allowed2)
    torque, warm = _load_terms(g, load, load.service, 2, typed, WAYS)
    stress = per_case(
        "σ_F",
        "stress at the tooth root",
        demand,
        "Pa",
        "2 T_1/(m z1)/(b m) · Y",
        [torque, *typed.of(2, "module", "pinion_teeth", "face_width"), _form_term(mesh, typed, 2, forms)],
        ROOT,
    )
    count = per_case(
        "N",
        "loads on a tooth over the running time",
        side_by_side(load.loads, load.loads / mesh.stage_ratio),
        "1",
        "L ω/2π at the fastest, slower by the ratios before",
        [load.speed, *typed.of(2, "hours", "pinion_teeth", "gear_teeth")],
    )
    allowed = per_case(
        "σ_N",
        "stress allowed over the running time",
        capacity,
        "Pa",
        "k_N σ · share across layers · (ϑ_s - ϑ)/(ϑ_s - 23 °C) · [1 - (1 - q)(lg N - 3)/4]",
        [
            *typed.of(2, "lim_service_share"),
            *_strengths(g, typed, 2, "strength", "softening", "endurance_share"),
            warm,
            count,
        ],
        FATIGUE,
        WARMTH,
    )
    terms = [stress, allowed, _wider(g, typed, demand / capacity / _room(), "b · largest σ_F/σ_N/0.9", stress, allowed)]
    return finding(
        check="teeth-survive-service",
        trade=TRADE,
        topic=TOPIC,
        title="The tooth roots last as long as the shows",
        unit="Pa",
        cases=case_names(g, "pinion", "gear"),
        demand=demand,
        capacity=capacity,
        demand_name="stress at the tooth root",
        capacity_name="stress allowed over the running time",
        reserve=TEETH_RESERVE,
        late=Late.SHOW,
        formula="σ_F ≤ k_N σ · share across layers · warmth · what N loads leave",
        terms=terms,
        sources=[ROOT, FATIGUE],
        remedy="Make the gears {b_min} wide, take a material that stays strong at {ϑ}, or print spares and change them",
    )


def _flanks_in_service(g: Gears, mesh: MeshResult, typed: Typed, load: _Loads) -> Finding:
    diameter = g.module * g.pinion_teeth
    elasticity = strength.elasticity_factor(g.pinion_modulus, g.pinion_poisson, g.gear_modulus, g.gear_poisson)
    pressure = strength.flank_pressure(
        strength.tangential_force(load.service, diameter), g.face_width, diameter, mesh.stage_ratio, elasticity,
        g.pressure_angle, mesh.layout.working, mesh.contact_ratio, g.sign,
    )  # fmt: skip
    warm1, warm2 = _warm(g, load)
    demand = side_by_side(pressure, pressure)
    capacity = side_by_side(g.lim_flank_share * g.pinion_flank * warm1, g.lim_flank_share * g.gear_flank * warm2)
    torque, warm = _load_terms(g, load, load.service, 2, typed, WAYS)
    curved = typed.of(
        2, "module", "pinion_teeth", "gear_teeth", "pressure_angle", "pinion_shift", "gear_shift", "centre_distance"
    )
    contact = per_case(
        "ε",
        "contact ratio",
        repeated(mesh.contact_ratio, 2),
        "1",
        "as worked out for the contact ratio",
        typed.of(2, *ADDENDA),
    )
    squeezed = per_case(
        "σ_H",
        "pressure between the flanks",
        demand,
        "Pa",
        "Z_E Z_H Z_ε √[2 T_1/(b d1²) · (u ± 1)/u], d1 = m z1, Z_H = √[2/(cos² α tan αw)], Z_ε = √[(4 - ε)/3], "
        "Z_E from E1 and E2",
        [torque, *curved, *typed.of(2, "face_width", "pinion_modulus", "gear_modulus"), contact],
        FLANK,
    )
    allowed = per_case(
        "σ_HP",
        "pressure allowed",
        capacity,
        "Pa",
        "k_H p · (ϑ_s - ϑ)/(ϑ_s - 23 °C)",
        [*typed.of(2, "lim_flank_share"), *_strengths(g, typed, 2, "flank", "softening"), warm],
        WARMTH,
    )
    hardest = per_case(
        "p_min",
        "flank strength that would do",
        side_by_side(
            *(
                demand[..., i::2] / _room() * f / c
                for i, (f, c) in enumerate(((g.pinion_flank, capacity[..., 0::2]), (g.gear_flank, capacity[..., 1::2])))
            )
        ),
        "Pa",
        "p · σ_H/σ_HP/0.9",
        [squeezed, allowed],
    )
    wider = _wider(g, typed, (demand / capacity / _room()) ** 2, "b · (largest σ_H/σ_HP/0.9)²", squeezed, allowed)
    terms = [squeezed, allowed, wider, hardest]
    return finding(
        check="flanks-survive-service",
        trade=TRADE,
        topic=TOPIC,
        title="The flanks bear the running load",
        unit="Pa",
        cases=case_names(g, "pinion", "gear"),
        demand=demand,
        capacity=capacity,
        demand_name="pressure between the flanks",
        capacity_name="pressure allowed",
        reserve=TEETH_RESERVE,
        late=Late.SHOW,
        formula="Z_E Z_H Z_ε √[2 T_1/(b d1²) · (u ± 1)/u] ≤ k_H p · warmth",
        terms=terms,
        sources=[FLANK, WARMTH],
        remedy="Make the gears {b_min} wide, grease them, or take a material whose flank bears {p_min}",
    )
