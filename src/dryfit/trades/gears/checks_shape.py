"""Checks of the tooth shape: contact, tips and roots; each remedy names the value that restores its reserve."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Late, finding
from dryfit.ground.quantity import Origin
from dryfit.ground.rounding import downwards, upwards
from dryfit.ground.sources import practice
from dryfit.machine.gears import Gears
from dryfit.machine.workshop import Workshop
from dryfit.trades.gears import formulas as one
from dryfit.trades.gears import formulas_pairs as pair
from dryfit.trades.gears.checks_layout import (
    ADDENDA,
    ALL_TEETH,
    GEOMETRY,
    NO_RESERVE,
    SIZE_RESERVE,
    TRADE,
    Layout,
    Typed,
    case_names,
    of_workshop,
    per_case,
    repeated,
    side_by_side,
)

TOPIC = "tooth shape"
CONTACT_RESERVE = (0.05, practice("five per cent kept back from the contact ratio asked for"))


def contact_ratio(g: Gears, lay: Layout, typed: Typed) -> Finding:
    """`contact-ratio`: on that part of the tips which meets an involute."""
    contact = lay.recess + lay.approach
    least = typed.of(1, "lim_contact_ratio")
    shares = per_case(
        "ε", "contact ratio on the part of the tips that meets an involute", contact, "1",
        "[√(ra1² - rb1²) ± √(ra2² - rb2²) ∓ a sin αw]/(π m cos α)",
        typed.of(1, *ALL_TEETH, *ADDENDA, "centre_distance"), GEOMETRY,
    )  # fmt: skip
    asked = per_case(
        "ε_r",
        "contact ratio with the reserve",
        g.lim_contact_ratio / (1 - CONTACT_RESERVE[0]),
        "1",
        "ε_min/0.95",
        least,
    )
    return finding(
        check="contact-ratio",
        trade=TRADE,
        topic=TOPIC,
        title="The next pair of teeth takes over before the last lets go",
        unit="1",
        cases=case_names(g, ""),
        demand=g.lim_contact_ratio,
        capacity=contact,
        demand_name="contact ratio asked for",
        capacity_name="contact ratio",
        reserve=CONTACT_RESERVE,
        late=Late.REPRINT,
        formula="ε ≥ ε_min",
        terms=[shares, *least, asked],
        sources=[GEOMETRY],
        remedy="Give the gears more or taller teeth, or less profile shift, until the contact ratio reaches {ε_r}",
    )


def tips_print(origins: Mapping[str, Origin], g: Gears, workshop: Workshop, lay: Layout, typed: Typed) -> Finding:
    """`tooth-tips-print`: thickness of the tips in lines of the printer."""
    m, alpha = g.module, g.pressure_angle
    thick = [
        one.tooth_thickness(m, z, alpha, x, thinning, 2 * tip, sign)
        for z, x, thinning, tip, sign in (
            (g.pinion_teeth, g.pinion_shift, g.pinion_thinning, lay.tip1, 1.0),
            (g.gear_teeth, g.gear_shift, g.gear_thinning, lay.tip2, g.sign),
        )
    ]
    line = column(workshop.line_width)
    lost = [
        thinning * 2 * tip / (m * z)
        for z, thinning, tip in (
            (g.pinion_teeth, g.pinion_thinning, lay.tip1),
            (g.gear_teeth, g.gear_thinning, lay.tip2),
        )
    ]
    printed = [np.array(p) for p in (g.pinion_printed, g.gear_printed)]
    needed = [np.where(p, g.lim_tip_lines * line, 0.0) for p in printed]
    # All but the thinning grows with the module.
    module = [m * (n + cut) / (s + cut) for n, cut, s in zip(needed, lost, thick, strict=True)]
    what = typed.of(2, *ALL_TEETH, *ADDENDA, "backlash")
    width = of_workshop(origins, "line_width", "w", "line width", workshop.line_width)
    lines = typed.of(2, "lim_tip_lines")
    tip = per_case(
        "s_a", "thickness of the tooth tip", side_by_side(*thick), "m", "d_a [s/d ± (inv α - inv αa)]", what, GEOMETRY
    )
    enough = per_case(
        "m_min", "module that would just do", upwards(side_by_side(*module)), "m",
        "m (n w + Δs' d_a/d)/(s_a + Δs' d_a/d)", [tip, width, *lines, *what], GEOMETRY,
    )  # fmt: skip
    finest = per_case(
        "w_max", "line width that would just do", downwards(side_by_side(*(s / g.lim_tip_lines for s in thick))), "m",
        "s_a/n", [tip, *lines],
    )  # fmt: skip
    return finding(
        check="tooth-tips-print",
        trade=TRADE,
        topic=TOPIC,
        title="The tooth tips are thick enough to print",
        unit="m",
        cases=case_names(g, "pinion", "gear"),
        demand=side_by_side(*needed),
        capacity=side_by_side(*(np.where(p, s, np.inf) for p, s in zip(printed, thick, strict=True))),
        demand_name="thickness that prints cleanly",
        capacity_name="thickness of the tooth tip",
        reserve=NO_RESERVE,
        late=Late.REPRINT,
        formula="s_a ≥ n w",
        terms=[tip, width, *lines, enough, finest],
        sources=[GEOMETRY],
        remedy="Take a module of {m_min} or more, a lower addendum or smaller profile shift on that member, or print "
        "lines of {w_max}",
    )


def tips_clear_roots(origins: Mapping[str, Origin], g: Gears, workshop: Workshop, lay: Layout, typed: Typed) -> Finding:
    """`tips-clear-roots`: what print and mount may take of the gap between tip and root."""
    gaps = pair.tip_clearances(lay.tip1, lay.root1, lay.tip2, lay.root2, lay.centre, g.sign)
    needed = column(workshop.print_tolerance) + lay.mount_error
    lower = [
        h - (needed / (1 - SIZE_RESERVE[0]) - gap) / g.module
        for h, gap in zip((g.pinion_addendum, g.gear_addendum), gaps, strict=True)
    ]
    what = typed.of(2, *ALL_TEETH, *ADDENDA, "dedendum", "centre_distance")
    gap = per_case(
        "c_t", "gap between tip and root", side_by_side(*gaps), "m",
        "a - r_a - r_f; ring: r_f - a - r_a, r_a - a - r_f", what, GEOMETRY,
    )  # fmt: skip
    printing = of_workshop(origins, "print_tolerance", "t", "half-width of a printed size", workshop.print_tolerance)
    mount = of_workshop(origins, "mount_tolerance", "c", "half-width of the mount's position", workshop.mount_tolerance)
    eaten = per_case(
        "c_min", "what print and mount may take of it", repeated(needed, 2), "m",
        "t + what shims leave of c", [printing, mount, *typed.of(2, "mount_short_by")],
        practice("errors along one line are added"),
    )  # fmt: skip
    height = per_case(
        "h_t", "addendum in modules that leaves enough", side_by_side(*(downwards(h) for h in lower)), "1",
        "h_a - (c_min/0.9 - c_t)/m, rounded down", [gap, eaten, *what],
    )  # fmt: skip
    return finding(
        check="tips-clear-roots",
        trade=TRADE,
        topic=TOPIC,
        title="The tips stay clear of the roots",
        unit="m",
        cases=case_names(g, "pinion tip", "gear tip"),
        demand=repeated(needed, 2),
        capacity=side_by_side(*gaps),
        demand_name="gap that errors may take",
        capacity_name="gap between tip and root",
        reserve=SIZE_RESERVE,
        late=Late.REPRINT,
        formula="c_t ≥ c_min",
        terms=[gap, eaten, height],
        sources=[GEOMETRY],
        remedy="Shorten that member's addendum to {h_t} modules, or deepen its mate's roots by as much",
    )


def no_undercut(g: Gears, typed: Typed) -> Finding:
    """`no-undercut`: teeth against the fewest that a rack leaves whole."""
    generated = np.array(g.generated)
    straight = g.dedendum - g.root_fillet * (1 - np.sin(g.pressure_angle))
    fewest = [
        g.lim_undercut_share * one.undercut_teeth(g.pressure_angle, straight, x) for x in (g.pinion_shift, g.gear_shift)
    ]
    outer = generated & ~np.array(g.internal)
    demand = side_by_side(np.where(generated, fewest[0], 0.0), np.where(outer, fewest[1], 0.0))
    capacity = side_by_side(np.where(generated, g.pinion_teeth, np.inf), np.where(outer, g.gear_teeth, np.inf))
    shifts = [
        upwards(straight - z * np.sin(g.pressure_angle) ** 2 / (2 * g.lim_undercut_share))
        for z in (g.pinion_teeth, g.gear_teeth)
    ]
    members = (
        *typed.member(2, (0,), "pinion_teeth", "pinion_shift"),
        *typed.member(2, (1,), "gear_teeth", "gear_shift"),
    )
    what = [*typed.of(2, "pressure_angle", "dedendum", "root_fillet", "lim_undercut_share"), *members]
    least = per_case(
        "z_u", "teeth below which undercut harms", demand, "1", "k_u · 2 (h - x)/sin² α, h = h_f - ρ_f (1 - sin α)",
        what, GEOMETRY,
    )  # fmt: skip
    return finding(
        check="no-undercut",
        trade=TRADE,
        topic=TOPIC,
        title="The roots are not cut away under the flanks",
        unit="1",
        cases=case_names(g, "pinion", "gear"),
        demand=demand,
        capacity=capacity,
        demand_name="teeth below which undercut harms",
        capacity_name="teeth",
        reserve=NO_RESERVE,
        late=Late.REPRINT,
        formula="z ≥ z_u",
        terms=[
            least,
            *typed.member(2, (0,), "pinion_teeth"),
            *typed.member(2, (1,), "gear_teeth"),
            per_case("z_n", "fewest whole teeth", np.ceil(demand - 1e-9), "1", "z_u rounded up", [least]),
            per_case("x_u", "least profile shift without harmful undercut", side_by_side(*shifts), "1",
                     "h - z sin² α/(2 k_u), rounded up", what, GEOMETRY),
        ],
        sources=[GEOMETRY],
        remedy="Give that member {z_n} teeth or more, or a profile shift of {x_u}",
    )  # fmt: skip


def tips_on_flanks(g: Gears, lay: Layout, typed: Typed) -> Finding:
    """`tips-stay-on-the-flanks`: drawn external teeth, which no rack has cut free below their involute."""
    applies = ~(np.array(g.internal) | np.array(g.generated))
    line = lay.centre * np.sin(lay.working)
    sizes = ((lay.tip1, lay.base1, g.pinion_teeth, g.pinion_shift), (lay.tip2, lay.base2, g.gear_teeth, g.gear_shift))
    demand = side_by_side(*(np.where(applies, pair.tangent_length(t, b), 0.0) for t, b, _, _ in sizes))
    capacity = side_by_side(*(np.where(applies, line, np.inf) for _ in sizes))
    lower = [downwards(np.sqrt(b * b + line * line) / g.module - z / 2 - x) for _, b, z, x in sizes]
    teeth = typed.of(2, *ALL_TEETH, "centre_distance")
    what = [*teeth, *typed.member(2, (0,), "pinion_addendum"), *typed.member(2, (1,), "gear_addendum")]
    room = per_case("g_max", "length of the line of action", capacity, "m", "a sin αw", teeth, GEOMETRY)
    return finding(
        check="tips-stay-on-the-flanks",
        trade=TRADE,
        topic=TOPIC,
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
            room,
            per_case("h_g", "addendum in modules that stays on the flank", side_by_side(*lower), "1",
                     "√(r_b² + g_max²)/m - z/2 - x, rounded down", [room, *teeth], GEOMETRY),
        ],
        sources=[GEOMETRY],
        remedy="Shorten that member's addendum to {h_g} modules, or give its mate more teeth or more profile shift",
    )  # fmt: skip
