"""Checks of tooth strength: roots at stall, roots and flanks in service, by material and warmth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Late, Term, by_rule, calculated, finding
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.gears import Gears
from dryfit.trades.gears import formulas_strength as strength
from dryfit.trades.gears.checks_layout import TRADE, Typed, case_names, per_case, repeated, side_by_side
from dryfit.trades.gears.checks_mesh import ADDENDA, TEETH, MeshResult

CASES = ("idle", "cruise", "start", "slope", "step", "stall")
"""Cases of the drive, in the order of the trailing axis of `motor_torque` and `motor_speed`."""

SERVICE = ("cruise", "start", "slope")
"""Cases that recur through the whole show and so wear and tire the teeth; a step is met now and then like a stall."""

ROOT = memory("ISO 6336-3, VDI 2736-2", "tooth root stress, load at the tip")
LEWIS = memory("Lewis beam formula", "form factors as in general machine-design texts")
FLANK = memory("ISO 6336-2", "contact stress, in the form used for plastics by VDI 2736-2")
FATIGUE = practice("strength falls in a straight line over the logarithm of the loads")
WARMTH = practice("strength falls in a straight line to nothing at the softening temperature")
AIR = practice("10 W/(m²·K) for a small part in still air")
TRANSFER = 10.0
"""Heat transfer from a small part to still air, convection and radiation together, W/(m²·K)."""

TEETH_RESERVE = (0.1, practice("a tenth kept back on tooth loads"))


@dataclass(frozen=True)
class StrengthResult:
    """separating_force: radial force between the members at stall, (..., G), N.  tooth_temperature: in service, K."""

    separating_force: Term
    tooth_temperature: Term
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class _Loads:
    """By stage (..., G): torques at the pinion with shock, loads on a tooth of it, temperature, and the root stress of
    pinion and gear for each unit of Ft/(b m); with the terms that unfold them."""

    stall: Array
    service: Array
    loads: Array
    temperature: Array
    shapes: tuple[Array, Array]
    given: tuple[Term, ...]


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
    typed = Typed(origins, gears)
    load = _loads(gears, mesh, typed, motor_torque, motor_speed, tuple(cases))
    working_diameter = (
        2 * mesh.centre_distance * gears.pinion_teeth / (gears.gear_teeth + gears.sign * gears.pinion_teeth)
    )
    push = strength.separating_force(strength.tangential_force(load.stall, working_diameter), mesh.working_angle)
    result_terms = (
        calculated("F_r", "force that pushes the gears apart at stall", push, "N", "2 K T/d_w · tan αw", load.given),
        calculated("ϑ", "temperature of the teeth", load.temperature, "K", "ϑ0 + loss/(h A)", load.given, WARMTH),
    )
    found: tuple[Finding, ...] = ()
    if gears.paths:
        found = (
            _at_stall(gears, typed, load),
            _roots_in_service(gears, mesh, typed, load),
            _flanks_in_service(gears, mesh, typed, load),
        )
    return StrengthResult(*result_terms, found)


def _loads(g: Gears, mesh: MeshResult, typed: Typed, torque: Term, speed: Term, cases: tuple[str, ...]) -> _Loads:
    t, w = np.asarray(torque.value, dtype=float), np.asarray(speed.value, dtype=float)
    running = [cases.index(c) for c in SERVICE]
    stall, service = t[..., cases.index("stall")], np.max(t[..., running], axis=-1)
    fastest, power = np.max(w[..., running], axis=-1), np.max((t * w)[..., running], axis=-1)
    raised, slowed = _before(mesh.stage_ratio * mesh.stage_efficiency), 1 / _before(mesh.stage_ratio)
    loads = g.hours * column(fastest) * slowed / (2 * np.pi)
    lost = column(power) * _before(mesh.stage_efficiency) * mesh.mesh_loss
    rise = strength.temperature_rise(lost, g.module * g.pinion_teeth, g.face_width, TRANSFER)
    return _Loads(
        stall=g.shock * column(stall) * raised,
        service=g.shock * column(service) * raised,
        loads=loads,
        temperature=g.temperature + rise,
        shapes=_forms(g, mesh),
        given=(torque, speed, *typed("shock")),
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
        shape = np.asarray(form * correction)
        if ring and any(g.internal):
            form, correction = strength.ring_form_factors(angle, addendum, dedendum, fillet, thinning / g.module)
            shape = np.where(np.array(g.internal), form * correction + 0 * teeth, shape)
        shapes.append(shape * share)
    return shapes[0], shapes[1]


def _root_stresses(g: Gears, load: _Loads, torque: Array) -> tuple[Array, Array]:
    force = strength.tangential_force(torque, g.module * g.pinion_teeth)
    first, second = load.shapes
    nominal = force / (g.face_width * g.module)
    return nominal * first, nominal * second


def _lewis_stresses(g: Gears, torque: Array) -> tuple[Array, Array]:
    """Lewis stress of pinion and gear; a ring's tooth counts as a rack's."""
    force = strength.tangential_force(torque, g.module * g.pinion_teeth)
    count = np.where(np.array(g.internal), 1e9 + 0 * g.gear_teeth, g.gear_teeth)
    first = strength.lewis_stress(force, g.face_width, g.module, strength.lewis_form(g.pinion_teeth))
    second = strength.lewis_stress(force, g.face_width, g.module, strength.lewis_form(count))
    return np.asarray(first), np.asarray(second)


def _warm(g: Gears, load: _Loads) -> tuple[Num, Num]:
    return (
        strength.left_when_warm(load.temperature, g.pinion_softening),
        strength.left_when_warm(load.temperature, g.gear_softening),
    )


def _load_terms(g: Gears, load: _Loads, torque: Array, times: int, typed: Typed) -> list[Term]:
    """Torque at the pinion and temperature of the teeth, spread over the cases."""
    return [
        per_case("T_1", "torque at the pinion, with shock", repeated(torque, times), "N*m",
                 "K T, times ratios and efficiencies of the stages before", load.given),
        per_case("ϑ", "temperature of the teeth", repeated(load.temperature, times), "K",
                 "ϑ0 + P µ H_V/(h π d (b + d/2))",
                 [by_rule("h", "heat transfer to still air in W/(m²·K)", TRANSFER, "1", AIR), *load.given[:2],
                  *typed("temperature", "friction", "face_width", "module", "pinion_teeth")],
                 derived("heat balance of the pinion")),
    ]  # fmt: skip


def _at_stall(g: Gears, typed: Typed, load: _Loads) -> Finding:
    root1, root2 = _root_stresses(g, load, load.stall)
    beam1, beam2 = _lewis_stresses(g, load.stall)
    # The Lewis table ends at 12 teeth; a smaller pinion is judged by its root stress alone.
    beam1, beam2 = np.where(g.pinion_teeth < 12, root1, beam1), np.where(g.gear_teeth < 12, root2, beam2)
    warm1, warm2 = _warm(g, load)
    allowed1 = g.lim_strength_share * g.pinion_strength * g.pinion_layer_share * warm1
    allowed2 = g.lim_strength_share * g.gear_strength * g.gear_layer_share * warm2
    demand = side_by_side(root1, root2, beam1, beam2)
    capacity = side_by_side(allowed1, allowed2, allowed1, allowed2)
    used = demand / capacity
    widest = np.max(used.reshape(*used.shape[:-1], len(g.paths), 4), axis=-1)
    width = g.face_width * widest / (1 - TEETH_RESERVE[0])
    what = typed(*TEETH, *ADDENDA, "dedendum", "root_fillet", "face_width", "backlash")
    terms = [
        *_load_terms(g, load, load.stall, 4, typed),
        per_case("σ_F", "stress at the tooth root", demand, "Pa",
                 "2 T_1/(m z1 b m) · Y_Fa Y_Sa Y_ε; as a Lewis beam 2 T_1/(m z1 b m Y)", what, ROOT, LEWIS),
        per_case("σ_P", "stress allowed at stall", capacity, "Pa",
                 "k σ · share across layers · (ϑ_s - ϑ)/(ϑ_s - 23 °C)",
                 typed("lim_strength_share", "pinion_strength", "gear_strength", "pinion_softening", "gear_softening"),
                 WARMTH),
        per_case("b_min", "face width that would do, with the reserve", repeated(width, 4), "m",
                 "b · largest σ_F/σ_P/(1 - reserve)", what, ROOT),
    ]  # fmt: skip
    return finding(
        check="teeth-survive-stall",
        trade=TRADE,
        topic="tooth strength",
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


def _roots_in_service(g: Gears, mesh: MeshResult, typed: Typed, load: _Loads) -> Finding:
    root1, root2 = _root_stresses(g, load, load.service)
    warm1, warm2 = _warm(g, load)
    left1 = strength.left_after(load.loads, g.pinion_endurance_share)
    left2 = strength.left_after(load.loads / mesh.stage_ratio, g.gear_endurance_share)
    allowed1 = g.lim_service_share * g.pinion_strength * g.pinion_layer_share * warm1 * left1
    allowed2 = g.lim_service_share * g.gear_strength * g.gear_layer_share * warm2 * left2
    demand, capacity = side_by_side(root1, root2), side_by_side(allowed1, allowed2)
    what = typed(*TEETH, *ADDENDA, "dedendum", "root_fillet", "face_width", "backlash")
    terms = [
        *_load_terms(g, load, load.service, 2, typed),
        per_case("N", "loads on a tooth over the running time", side_by_side(load.loads, load.loads / mesh.stage_ratio),
                 "1", "L ω/2π", [load.given[1], *typed("hours")]),
        per_case("σ_F", "stress at the tooth root", demand, "Pa", "2 T_1/(m z1 b m) · Y_Fa Y_Sa Y_ε", what, ROOT),
        per_case("σ_N", "stress allowed over the running time", capacity, "Pa",
                 "k_N σ · share across layers · (ϑ_s - ϑ)/(ϑ_s - 23 °C) · [1 - (1 - q)(lg N - 3)/4]",
                 typed("lim_service_share", "pinion_strength", "gear_strength", "pinion_endurance_share",
                       "gear_endurance_share", "pinion_softening", "gear_softening"), FATIGUE, WARMTH),
    ]  # fmt: skip
    return finding(
        check="teeth-survive-service",
        trade=TRADE,
        topic="tooth strength",
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
        remedy="Widen the gears, take a material that stays strong at {ϑ}, or print spares and change them",
    )


def _flanks_in_service(g: Gears, mesh: MeshResult, typed: Typed, load: _Loads) -> Finding:
    diameter = g.module * g.pinion_teeth
    elasticity = strength.elasticity_factor(g.pinion_modulus, g.pinion_poisson, g.gear_modulus, g.gear_poisson)
    pressure = strength.flank_pressure(
        strength.tangential_force(load.service, diameter), g.face_width, diameter, mesh.stage_ratio, elasticity,
        g.pressure_angle, mesh.working_angle, mesh.contact_ratio, g.sign,
    )  # fmt: skip
    warm1, warm2 = _warm(g, load)
    demand = side_by_side(pressure, pressure)
    capacity = side_by_side(g.lim_flank_share * g.pinion_flank * warm1, g.lim_flank_share * g.gear_flank * warm2)
    terms = [
        *_load_terms(g, load, load.service, 2, typed),
        per_case("σ_H", "pressure between the flanks", demand, "Pa", "Z_E Z_H Z_ε √[2 T_1/(b d1²) · (u ± 1)/u]",
                 typed(*TEETH, *ADDENDA, "face_width", "pinion_modulus", "gear_modulus"), FLANK),
        per_case("σ_HP", "pressure allowed", capacity, "Pa", "k_H p · (ϑ_s - ϑ)/(ϑ_s - 23 °C)",
                 typed("lim_flank_share", "pinion_flank", "gear_flank", "pinion_softening", "gear_softening"), WARMTH),
    ]  # fmt: skip
    return finding(
        check="flanks-survive-service",
        trade=TRADE,
        topic="tooth strength",
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
        remedy="Widen the gears, grease them, or take a material with a harder flank than the {σ_HP} allowed here",
    )
