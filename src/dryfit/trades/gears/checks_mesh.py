"""Checks of gear geometry: do the stages go together, run, keep their backlash and print."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Late, Term, by_rule, calculated, finding
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.gears import Gears
from dryfit.machine.workshop import Workshop
from dryfit.trades.gears import formulas as one
from dryfit.trades.gears import formulas_pairs as pair
from dryfit.trades.gears.checks_layout import (
    TRADE,
    Layout,
    Typed,
    case_names,
    lay_out,
    of_workshop,
    per_case,
    repeated,
    side_by_side,
)

GEOMETRY = derived("geometry of the involute")
INTERNAL = memory("General texts on internal gears", "conditions for the three interferences of a ring and its pinion")
LOSS = memory("Machine-element texts", "mesh loss factor of spur gears")
MESH_RESERVE = (0.05, practice("five per cent kept back from the contact ratio asked for"))
FOULING_RESERVE = (0.02, practice("two per cent kept back from the exact conditions of interference"))
SIZE_RESERVE = (0.1, practice("a tenth kept back on sizes that a print or a mount may miss"))
NO_RESERVE = (0.0, practice("an exact condition needs no reserve"))

RADIAL_DIFFERENCE, AXIAL_DIFFERENCE = 18, 10
"""Tooth differences from which full-depth 20° pairs go together: put in radially, slid in axially (from memory)."""

TEETH = ("module", "pinion_teeth", "gear_teeth", "pressure_angle", "pinion_shift", "gear_shift")
ADDENDA = ("pinion_addendum", "gear_addendum")


@dataclass(frozen=True)
class MeshResult:
    """What the mesh hands on.

    ratio: motor turns for one turn of the wheel, (...,).  efficiency: of all stages together, (...,).
    stage_ratio, stage_efficiency, mesh_loss (share of the power lost on the flanks), contact_ratio, working_angle,
    centre_distance: by stage, (..., G).
    layout: every circle and angle, for the strength checks and for drawing.
    """

    ratio: Term
    efficiency: Term
    stage_ratio: Array
    stage_efficiency: Array
    mesh_loss: Array
    contact_ratio: Array
    working_angle: Array
    centre_distance: Array
    layout: Layout
    findings: tuple[Finding, ...]


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def assess_mesh(origins: Mapping[str, Origin], gears: Gears, workshop: Workshop) -> MeshResult:
    """Geometry of all stages; with none (direct drive) ratio and efficiency are 1 and there is nothing to find.

    Teeth that cannot be come out as NaN, which fails; numpy need not warn of them.
    A typed centre distance beyond what the backlash allows is named by `centre-distance-is-right`; all other checks
    then judge the teeth at the distance at which they run.
    """
    lay = lay_out(gears, workshop)
    ratios = gears.gear_teeth / gears.pinion_teeth
    contact = lay.recess + lay.approach
    loss = np.asarray(pair.loss_factor(gears.pinion_teeth, gears.gear_teeth, lay.recess, lay.approach, gears.sign))
    efficiencies = np.asarray(pair.efficiency(gears.friction, loss, gears.other_losses))
    typed = Typed(origins, gears)
    ratio, efficiency = _totals(gears, typed, ratios, efficiencies, loss)
    findings: list[Finding] = []
    if gears.paths:
        findings += [
            _backlash(origins, gears, workshop, lay, typed),
            _contact(gears, lay, typed, contact),
            _clearance(origins, gears, workshop, lay, typed),
            _shims(origins, gears, workshop, typed),
        ]
        if any(gears.typed_centre):
            findings.append(_centre(gears, lay, typed))
        if any((*gears.pinion_printed, *gears.gear_printed)):
            findings.append(_tips_print(origins, gears, workshop, lay, typed))
        if any(gears.internal):
            findings.append(_together(gears, lay, typed))
        if any(gears.generated):
            findings.append(_undercut(gears, typed))
        if any(not (i or r) for i, r in zip(gears.internal, gears.generated, strict=True)):
            findings.append(_on_involute(gears, lay, typed))
    return MeshResult(
        ratio=ratio,
        efficiency=efficiency,
        stage_ratio=ratios,
        stage_efficiency=efficiencies,
        mesh_loss=np.asarray(gears.friction * loss),
        contact_ratio=np.asarray(contact),
        working_angle=lay.working,
        centre_distance=lay.centre,
        layout=lay,
        findings=tuple(findings),
    )


def _totals(g: Gears, typed: Typed, ratios: Array, efficiencies: Array, loss: Array) -> tuple[Term, Term]:
    """Total ratio and efficiency as plain terms: they go into other trades' findings, so nothing here is per case."""
    if not g.paths:
        direct = derived("no gear stage: the motor turns the wheel itself")
        return by_rule("i", "gear ratio", 1.0, "1", direct), by_rule("η_g", "efficiency of the gears", 1.0, "1", direct)
    ratio = calculated(
        "i", "gear ratio", np.prod(ratios, axis=-1)[()], "1", "product of z2/z1",
        typed("pinion_teeth", "gear_teeth"), GEOMETRY,
    )  # fmt: skip
    stage = [
        calculated(
            "H_V" if len(g.paths) == 1 else f"H_V ({i + 1})", f"mesh loss factor {name}".strip(), loss[..., i], "1",
            "π (u ± 1)/(z1 u) · (1 - ε + ε1² + ε2²)", typed(*TEETH, *ADDENDA), LOSS,
        )
        for i, name in enumerate(g.names)
    ]  # fmt: skip
    efficiency = calculated(
        "η_g", "efficiency of the gears", np.prod(efficiencies, axis=-1)[()], "1", "product of (1 - µ H_V)(1 - v)",
        [*stage, *typed("friction", "other_losses")], LOSS,
    )  # fmt: skip
    return ratio, efficiency


def _centre(g: Gears, lay: Layout, typed: Typed) -> Finding:
    given = [t for t, is_typed in zip(typed("centre_distance"), g.typed_centre, strict=True) if is_typed]
    angle = per_case(
        "αw", "working pressure angle", lay.free, "rad", "inv αw = inv α + 2 tan α (x2 ± x1)/(z2 ± z1)",
        typed(*TEETH), GEOMETRY,
    )  # fmt: skip
    right = per_case(
        "a_w", "centre distance at which the teeth run", lay.right_centre, "m",
        "m (z2 ± z1)/2 · cos α/cos αw, minus for a ring", [angle, *typed(*TEETH)], GEOMETRY,
    )  # fmt: skip
    allowed = per_case(
        "Δa", "deviation that the backlash allows", lay.allowed, "m", "(j_max - j_min)/2 / (2 tan αw)",
        [angle, *typed("lim_backlash_least", "lim_backlash_most")], GEOMETRY,
    )  # fmt: skip
    return finding(
        check="centre-distance-is-right",
        trade=TRADE,
        topic="centre distance of the gears",
        title="The centre distance is the one at which the teeth run",
        unit="m",
        cases=case_names(g, ""),
        demand=lay.deviation,
        capacity=lay.allowed,
        demand_name="distance from the right one",
        capacity_name="deviation that the backlash allows",
        reserve=NO_RESERVE,
        late=Late.REPRINT,
        formula="|a - a_w| ≤ Δa",
        terms=[*given, right, allowed],
        sources=[GEOMETRY],
        remedy="Set the centre distance to {a_w}"
        + (": inside a ring the pinion is taken off, not added" if any(g.internal) else ""),
    )


def _backlash(origins: Mapping[str, Origin], g: Gears, workshop: Workshop, lay: Layout, typed: Typed) -> Finding:
    half = column(workshop.print_tolerance)
    change = pair.backlash_change(lay.working, lay.mount_error)
    scatter = np.sqrt(2 * half * half + change * change)
    names = ("as drawn, least", "as drawn, most", "tightest after errors", "loosest after errors")
    demand = side_by_side(g.lim_backlash_least, lay.backlash, scatter, lay.backlash + scatter)
    capacity = side_by_side(lay.backlash, g.lim_backlash_most, lay.backlash, g.lim_backlash_loosest)
    printing = of_workshop(
        origins, "print_tolerance", "t", "half-width of a printed tooth's thickness", workshop.print_tolerance
    )  # fmt: skip
    mount = of_workshop(origins, "mount_tolerance", "c", "half-width of the mount's position", workshop.mount_tolerance)
    angle = per_case(
        "αw", "working pressure angle", repeated(lay.working, 4), "rad", "cos αw = m (z2 ± z1)/2 · cos α/a",
        typed(*TEETH, "centre_distance"), GEOMETRY,
    )  # fmt: skip
    drawn = per_case(
        "j", "backlash as drawn", repeated(lay.backlash, 4), "m",
        "± 2 a (inv αw - inv αw0) + Δs cos α/cos αw, αw0 without backlash", [angle, *typed("backlash")], GEOMETRY,
    )  # fmt: skip
    shimmed = per_case(
        "c_s", "error of the mount left after shimming", repeated(lay.mount_error, 4), "m",
        "half the thinnest shim where e ≥ c, otherwise c", [mount, *typed("mount_short_by")],
        practice("shims are stacked in steps of the thinnest"),
    )  # fmt: skip
    spread = per_case(
        "Δj", "what the errors do to the backlash", repeated(scatter, 4), "m", "√[2 t² + (2 tan αw c_s)²]",
        [printing, shimmed, angle], practice("independent errors are added as squares"),
    )  # fmt: skip
    return finding(
        check="mesh-keeps-backlash",
        trade=TRADE,
        topic="backlash",
        title="The mesh neither binds nor clatters",
        unit="m",
        cases=case_names(g, *names),
        demand=demand,
        capacity=capacity,
        demand_name="backlash asked for, had or eaten by errors",
        capacity_name="backlash had or allowed",
        reserve=SIZE_RESERVE,
        late=Late.REPRINT,
        formula="j_min ≤ j ≤ j_max as drawn; Δj ≤ j and j + Δj ≤ j_loose with all errors",
        terms=[
            drawn,
            spread,
            typed.of_case("lim_backlash_least", 4),
            typed.of_case("lim_backlash_most", 4),
            typed.of_case("lim_backlash_loosest", 4),
        ],
        sources=[GEOMETRY],
        remedy="Draw the backlash midway between {j_min} and {j_max}, mount the motor short and shim it into mesh, "
        "and measure a tooth coupon: the errors make {Δj}",
    )


def _contact(g: Gears, lay: Layout, typed: Typed, contact: Array) -> Finding:
    shares = per_case(
        "ε", "contact ratio on the part of the tips that meets an involute", contact, "1",
        "[√(ra1² - rb1²) ± √(ra2² - rb2²) ∓ a sin αw]/(π m cos α)",
        typed(*TEETH, *ADDENDA, "centre_distance"), GEOMETRY,
    )  # fmt: skip
    return finding(
        check="contact-ratio",
        trade=TRADE,
        topic="contact of the teeth",
        title="The next pair of teeth takes over before the last lets go",
        unit="1",
        cases=case_names(g, ""),
        demand=g.lim_contact_ratio,
        capacity=contact,
        demand_name="contact ratio asked for",
        capacity_name="contact ratio",
        reserve=MESH_RESERVE,
        late=Late.REPRINT,
        formula="ε ≥ ε_min",
        terms=[shares, typed.of_case("lim_contact_ratio", 1)],
        sources=[GEOMETRY],
        remedy="Give the gears more or taller teeth, or less profile shift: the contact ratio {ε} must reach {ε_min}",
    )


def _tips_print(origins: Mapping[str, Origin], g: Gears, workshop: Workshop, lay: Layout, typed: Typed) -> Finding:
    m, alpha = g.module, g.pressure_angle
    thick1 = one.tooth_thickness(m, g.pinion_teeth, alpha, g.pinion_shift, g.pinion_thinning, 2 * lay.tip1, 1.0)
    thick2 = one.tooth_thickness(m, g.gear_teeth, alpha, g.gear_shift, g.gear_thinning, 2 * lay.tip2, g.sign)
    width1, width2 = (
        np.where(np.array(p), g.lim_tip_lines * column(workshop.line_width), 0.0)
        for p in (g.pinion_printed, g.gear_printed)
    )
    tip = per_case(
        "s_a", "thickness of the tooth tip", side_by_side(thick1, thick2), "m", "d_a [s/d ± (inv α - inv αa)]",
        typed(*TEETH, *ADDENDA, "backlash"), GEOMETRY,
    )  # fmt: skip
    width = of_workshop(origins, "line_width", "w", "line width", workshop.line_width)
    return finding(
        check="tooth-tips-print",
        trade=TRADE,
        topic="tooth tips",
        title="The tooth tips are thick enough to print",
        unit="m",
        cases=case_names(g, "pinion", "gear"),
        demand=side_by_side(width1, width2),
        capacity=side_by_side(thick1, thick2),
        demand_name="thickness that prints cleanly",
        capacity_name="thickness of the tooth tip",
        reserve=NO_RESERVE,
        late=Late.REPRINT,
        formula="s_a ≥ n w",
        terms=[tip, width, typed.of_case("lim_tip_lines", 2)],
        sources=[GEOMETRY],
        remedy="Take a larger module, or a lower addendum or smaller profile shift on that member, or print finer "
        "lines than {w}",
    )


def _clearance(origins: Mapping[str, Origin], g: Gears, workshop: Workshop, lay: Layout, typed: Typed) -> Finding:
    gap1, gap2 = pair.tip_clearances(lay.tip1, lay.root1, lay.tip2, lay.root2, lay.centre, g.sign)
    needed = column(workshop.print_tolerance) + lay.mount_error
    gap = per_case(
        "c_t", "gap between tip and root", side_by_side(gap1, gap2), "m",
        "a - r_a - r_f; ring: r_f - a - r_a, r_a - a - r_f",
        typed(*TEETH, *ADDENDA, "dedendum", "centre_distance"), GEOMETRY,
    )  # fmt: skip
    printing = of_workshop(origins, "print_tolerance", "t", "half-width of a printed size", workshop.print_tolerance)
    mount = of_workshop(origins, "mount_tolerance", "c", "half-width of the mount's position", workshop.mount_tolerance)
    eaten = per_case(
        "c_min", "what print and mount may take of it", side_by_side(needed, needed), "m",
        "t + what shims leave of c", [printing, mount, *typed("mount_short_by")],
        practice("errors along one line are added"),
    )  # fmt: skip
    return finding(
        check="tips-clear-roots",
        trade=TRADE,
        topic="tooth height",
        title="The tips stay clear of the roots",
        unit="m",
        cases=case_names(g, "pinion tip", "gear tip"),
        demand=side_by_side(needed, needed),
        capacity=side_by_side(gap1, gap2),
        demand_name="gap that errors may take",
        capacity_name="gap between tip and root",
        reserve=SIZE_RESERVE,
        late=Late.REPRINT,
        formula="c_t ≥ c_min",
        terms=[gap, eaten],
        sources=[GEOMETRY],
        remedy="Shorten the tips or deepen the roots until {c_min} are left",
    )


def _shims(origins: Mapping[str, Origin], g: Gears, workshop: Workshop, typed: Typed) -> Finding:
    short, tolerance = g.mount_short_by, column(workshop.mount_tolerance)
    drawer = column(np.sum(workshop.shims, axis=-1))
    shimmed = np.broadcast_to(short > 0, np.broadcast_shapes(short.shape, tolerance.shape))
    mount = of_workshop(origins, "mount_tolerance", "c", "half-width of the mount's position", workshop.mount_tolerance)
    place = origins.get("workshop.shims", Origin(Kind.DEFAULT, "workshop.shims", note="a usual drawer of shims"))
    total = Term("S", "one of each shim in the drawer", np.sum(workshop.shims, axis=-1), "m", place)
    return finding(
        check="shims-cover-the-mount",
        trade=TRADE,
        topic="backlash",
        title="Shims can take up whatever the motor mount misses",
        unit="m",
        cases=case_names(g, "mount too high", "mount too low"),
        demand=side_by_side(tolerance + 0 * short, short + tolerance),
        capacity=side_by_side(np.where(shimmed, short, np.inf), np.where(shimmed, drawer, np.inf)),
        demand_name="what the mount may miss, or the stack needed",
        capacity_name="take-up drawn into the mount, or the stack at hand",
        reserve=NO_RESERVE,
        late=Late.MINUTES,
        formula="c ≤ e and e + c ≤ S",
        terms=[mount, total, typed.of_case("mount_short_by", 2)],
        sources=[practice("a mount drawn short can only be shimmed one way, so it must be short in every case")],
        remedy="Draw the mount at least {c} short and keep shims for {e} and {c} together",
    )


def _together(g: Gears, lay: Layout, typed: Typed) -> Finding:
    inside = np.array(g.internal)
    limit = np.asarray(pair.involute_limit(lay.tip2_angle, lay.free))
    right = np.asarray(lay.right_centre)
    z1, z2 = g.pinion_teeth, g.gear_teeth
    ratio = z1 / z2
    trochoid, room = pair.trochoid_angles(z1, z2, lay.tip1, lay.tip2, lay.tip1_angle, lay.tip2_angle, right, lay.free)
    trimming, sweep = pair.trimming_angles(z1, z2, lay.tip1_angle, lay.tip2_angle, lay.free)
    radial = inside & np.array(g.radial)

    def ring_only(needed: Num, had: Num, applies: Array) -> tuple[Array, Array]:
        return np.where(applies, needed, 0.0), np.where(applies, had, np.inf)

    pairs = (ring_only(limit, ratio, inside), ring_only(trochoid, room, inside), ring_only(trimming, sweep, radial))
    demand, capacity = side_by_side(*(p[0] for p in pairs)), side_by_side(*(p[1] for p in pairs))
    least = np.ceil(np.where(inside, limit, 0.0) * z2 - 1e-9)
    most = z2 - np.where(radial, RADIAL_DIFFERENCE, AXIAL_DIFFERENCE)
    lowest = lay.base2 / np.cos(np.arctan((1 - ratio) * np.tan(lay.free)))
    addendum = (z2 + 2 * g.gear_shift - 2 * lowest / g.module) / 2
    what = typed(*TEETH, *ADDENDA)
    terms = [
        per_case("z_min", "fewest teeth that stay off the ring's tips", repeated(least, 3), "1",
                 "z2 (1 - tan αa2/tan αw), rounded up", what, INTERNAL),
        per_case("z_max", "most teeth that still go into this ring", repeated(most, 3), "1",
                 f"z2 - {RADIAL_DIFFERENCE} put in radially, z2 - {AXIAL_DIFFERENCE} slid in axially", what,
                 memory("General texts on internal gears", "tooth differences of full-depth 20° pairs")),
        per_case("h_max", "tallest ring tooth in modules that stays off the roots", repeated(addendum, 3), "1",
                 "ra2 ≥ rb2/cos arctan[(1 - z1/z2) tan αw]", what, INTERNAL),
        per_case("needed", "needed by the rule", demand, "1",
                 "1 - tan αa2/tan αw; θ2; (z2/z1)(θ2 + inv αa2 - inv αw)", what, INTERNAL),
        per_case("had", "had by these teeth", capacity, "1",
                 "z1/z2; θ1 z1/z2 + inv αw - inv αa2; θ1 + inv αa1 - inv αw", what, INTERNAL),
    ]  # fmt: skip
    return finding(
        check="ring-and-pinion-go-together",
        trade=TRADE,
        topic="ring and pinion",
        title="Ring and pinion go together and turn without fouling",
        unit="1",
        cases=case_names(g, "involute interference", "trochoid interference", "trimming when put in radially"),
        demand=demand,
        capacity=capacity,
        demand_name="ratio of teeth, or angle, needed",
        capacity_name="ratio of teeth, or angle, had",
        reserve=FOULING_RESERVE,
        late=Late.REPRINT,
        formula="z1/z2 ≥ 1 - tan αa2/tan αw, and both angles needed ≤ angles had",
        terms=terms,
        sources=[INTERNAL],
        remedy="Give the pinion {z_min} to {z_max} teeth, or shorten the ring's addendum to {h_max} modules",
    )


def _undercut(g: Gears, typed: Typed) -> Finding:
    generated = np.array(g.generated)
    straight = g.dedendum - g.root_fillet * (1 - np.sin(g.pressure_angle))
    exact1 = one.undercut_teeth(g.pressure_angle, straight, g.pinion_shift)
    exact2 = one.undercut_teeth(g.pressure_angle, straight, g.gear_shift)
    needed1 = g.lim_undercut_share * exact1
    needed2 = g.lim_undercut_share * exact2
    outer = generated & ~np.array(g.internal)
    demand = side_by_side(np.where(generated, needed1, 0.0), np.where(outer, needed2, 0.0))
    capacity = side_by_side(np.where(generated, g.pinion_teeth, np.inf), np.where(outer, g.gear_teeth, np.inf))
    shifts = [
        straight - z * np.sin(g.pressure_angle) ** 2 / (2 * g.lim_undercut_share)
        for z in (g.pinion_teeth, g.gear_teeth)
    ]
    what = typed("pressure_angle", "pinion_shift", "gear_shift", "dedendum", "root_fillet")
    count = per_case(
        "z_u", "fewest teeth without harmful undercut", demand, "1",
        "k_u · 2 (h - x)/sin² α, h = h_f - ρ_f (1 - sin α)",
        [*what, *typed("lim_undercut_share")], GEOMETRY,
    )  # fmt: skip
    shift = per_case(
        "x_u", "least profile shift without harmful undercut", side_by_side(*shifts), "1", "h - z sin² α/(2 k_u)",
        [*what, *typed("lim_undercut_share")], GEOMETRY,
    )  # fmt: skip
    return finding(
        check="no-undercut",
        trade=TRADE,
        topic="tooth roots",
        title="The roots are not cut away under the flanks",
        unit="1",
        cases=case_names(g, "pinion", "gear"),
        demand=demand,
        capacity=capacity,
        demand_name="fewest teeth without harmful undercut",
        capacity_name="teeth",
        reserve=NO_RESERVE,
        late=Late.REPRINT,
        formula="z ≥ k_u · 2 (h - x)/sin² α",
        terms=[count, shift, *typed("pinion_teeth", "gear_teeth")],
        sources=[GEOMETRY],
        remedy="Give that member {z_u} teeth or more, or a profile shift of {x_u}",
    )


def _on_involute(g: Gears, lay: Layout, typed: Typed) -> Finding:
    applies = ~(np.array(g.internal) | np.array(g.generated))
    line = lay.centre * np.sin(lay.working)
    reach = [pair.tangent_length(t, b) for t, b in ((lay.tip1, lay.base1), (lay.tip2, lay.base2))]
    demand = side_by_side(*(np.where(applies, r, 0.0) for r in reach))
    capacity = side_by_side(*(np.where(applies, line, np.inf) for _ in reach))
    what = typed(*TEETH, *ADDENDA)
    return finding(
        check="tips-stay-on-the-flanks",
        trade=TRADE,
        topic="tooth roots",
        title="The tips touch the mate's flanks no deeper than their involute",
        unit="m",
        cases=case_names(g, "pinion tip", "gear tip"),
        demand=demand,
        capacity=capacity,
        demand_name="how far along the line of action the tip reaches",
        capacity_name="where the mate's involute begins",
        reserve=NO_RESERVE,
        late=Late.REPRINT,
        formula="√(r_a² - r_b²) ≤ a sin αw",
        terms=[
            per_case("g_a", "reach of the tip", demand, "m", "√(r_a² - r_b²)", what, GEOMETRY),
            per_case("g_max", "length of the line of action", capacity, "m", "a sin αw", what, GEOMETRY),
        ],
        sources=[GEOMETRY],
        remedy="Give the smaller member more teeth or more profile shift, or shorten the larger member's tips until "
        "they reach {g_max}",
    )
