"""Checks of the distance between the gears: centre distance, backlash with all errors, shims under the mount."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Late, Term, finding
from dryfit.ground.quantity import Array, Origin
from dryfit.ground.rounding import upwards
from dryfit.ground.sources import practice
from dryfit.machine.gears import Gears
from dryfit.machine.workshop import Workshop
from dryfit.trades.gears import formulas_pairs as pair
from dryfit.trades.gears.checks_layout import (
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
from dryfit.trades.gears.formulas_shims import MOST_PIECES, backlash_out_of_mesh

TOPIC = "backlash and shims"


@dataclass(frozen=True)
class BacklashResult:
    """What is left between the teeth once the axle bends under its load."""

    findings: tuple[Finding, ...]


def centre_distance(g: Gears, lay: Layout, typed: Typed) -> Finding:
    """`centre-distance-is-right`: the typed distance against the one at which the teeth run."""
    angle = per_case(
        "αw", "working pressure angle", lay.free, "rad", "inv αw = inv α + 2 tan α (x2 ± x1)/(z2 ± z1)",
        typed.of(1, "pinion_teeth", "gear_teeth", "pressure_angle", "pinion_shift", "gear_shift"), GEOMETRY,
    )  # fmt: skip
    right = per_case(
        "a_w", "centre distance at which the teeth run", lay.right_centre, "m",
        "m (z2 ± z1)/2 · cos α/cos αw, minus for a ring",
        [*typed.of(1, "module", "pinion_teeth", "gear_teeth", "pressure_angle"), angle], GEOMETRY,
    )  # fmt: skip
    allowed = per_case(
        "Δa", "deviation that the backlash allows", lay.allowed, "m", "(j_max - j_min)/2 / (2 tan αw)",
        [*typed.of(1, "lim_backlash_least", "lim_backlash_most"), angle], GEOMETRY,
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
        terms=[*typed.of(1, "centre_distance"), right, allowed],
        sources=[GEOMETRY],
        remedy="Set the centre distance to {a_w}"
        + (": inside a ring the pinion is taken off, not added" if any(g.internal) else ""),
    )


def assess_backlash(
    origins: Mapping[str, Origin],
    gears: Gears,
    workshop: Workshop,
    layout: Layout,
    *,
    gear_displacement: Term | None,
) -> BacklashResult:
    """Backlash as drawn and with all errors; gear_displacement: how far the axle lets the last gear move in service,
    (...,), m, None where the last gear does not sit on the axle."""
    if not gears.paths:
        return BacklashResult(())
    with np.errstate(invalid="ignore"):
        return BacklashResult((_backlash(origins, gears, workshop, layout, Typed(origins, gears), gear_displacement),))


def _backlash(
    origins: Mapping[str, Origin], g: Gears, workshop: Workshop, lay: Layout, typed: Typed, sag: Term | None
) -> Finding:
    half = column(workshop.print_tolerance)
    last = np.arange(len(g.paths)) == len(g.paths) - 1
    moved = np.where(last, 0.0 if sag is None else column(sag.value), 0.0)
    change = pair.backlash_change(lay.working, lay.mount_error)
    errors = np.sqrt(2 * half * half + change * change) + pair.backlash_change(lay.working, moved)
    names = ("as drawn, least", "as drawn, most", "tightest after errors", "loosest after errors")
    printing = of_workshop(
        origins, "print_tolerance", "t", "half-width of a printed tooth's thickness", workshop.print_tolerance
    )  # fmt: skip
    angle = per_case(
        "αw", "working pressure angle", repeated(lay.working, 4), "rad", "cos αw = m (z2 ± z1)/2 · cos α/a",
        typed.of(4, *ALL_TEETH, "centre_distance"), GEOMETRY,
    )  # fmt: skip
    drawn = per_case(
        "j", "backlash as drawn", repeated(lay.backlash, 4), "m",
        "± 2 a (inv αw - inv αw0) + Δs cos α/cos αw, αw0 without backlash", [angle, *typed.of(4, "backlash")], GEOMETRY,
    )  # fmt: skip
    spread = per_case(
        "Δj", "what the errors do to the backlash", repeated(errors, 4), "m",
        "√[2 t² + (2 tan αw c_s)²]" + ("" if sag is None else " + 2 tan αw v_g at the axle"),
        [printing, _mount_error(origins, g, workshop, lay, typed), angle, *(() if sag is None else (sag,))],
        practice("independent errors are added as squares, what the load does on top"),
    )  # fmt: skip
    best, bears = _best_backlash(g)
    thinning = (best - (lay.backlash - (g.pinion_thinning + g.gear_thinning) * _opened(g, lay))) / _opened(g, lay)
    limits = typed.of(4, "lim_backlash_least", "lim_backlash_most", "lim_backlash_loosest")
    return finding(
        check="mesh-keeps-backlash",
        trade=TRADE,
        topic=TOPIC,
        title="The mesh neither binds nor clatters",
        unit="m",
        cases=case_names(g, *names),
        demand=side_by_side(g.lim_backlash_least, lay.backlash, errors, lay.backlash + errors),
        capacity=side_by_side(lay.backlash, g.lim_backlash_most, lay.backlash, g.lim_backlash_loosest),
        demand_name="backlash asked for, had or eaten by errors",
        capacity_name="backlash had or allowed",
        reserve=SIZE_RESERVE,
        late=Late.REPRINT,
        formula="j_min ≤ j ≤ j_max as drawn; Δj ≤ j and j + Δj ≤ j_loose with all errors",
        terms=[
            drawn,
            spread,
            *limits,
            per_case("Δs_w", "thinning that bears the largest errors", repeated(thinning, 4), "m",
                     "Δs for the j with Δj ≤ 0.9 j and j + Δj ≤ 0.9 j_loose both exhausted, j kept within its limits",
                     [*limits, angle, *typed.of(4, "backlash")], GEOMETRY),
            per_case("Δj_w", "errors that it bears", repeated(bears, 4), "m",
                     "least of 0.9 j and 0.9 j_loose - j", limits, GEOMETRY),
        ],
        sources=[GEOMETRY],
        remedy="Set the gears' backlash to {Δs_w}, which bears errors of up to {Δj_w}; here they make {Δj}: where that "
        "is more, mount the motor short, shim it into mesh, and measure a tooth coupon",
    )  # fmt: skip


def _opened(g: Gears, lay: Layout) -> Array:
    """Backlash for each metre of thinning."""
    return np.asanyarray(np.cos(g.pressure_angle) / np.cos(lay.working))


def _best_backlash(g: Gears) -> tuple[Array, Array]:
    """The backlash, within its limits, that leaves the most room for errors either way, and that room."""
    kept = 1 - SIZE_RESERVE[0]
    best = g.lim_backlash_loosest * kept / (1 + kept)
    best = np.clip(best, g.lim_backlash_least / kept, np.maximum(g.lim_backlash_most, g.lim_backlash_least) * kept)
    return best, np.minimum(best * kept, g.lim_backlash_loosest * kept - best)


def _mount_error(origins: Mapping[str, Origin], g: Gears, workshop: Workshop, lay: Layout, typed: Typed) -> Term:
    mount = of_workshop(origins, "mount_tolerance", "c", "half-width of the mount's position", workshop.mount_tolerance)
    thinnest = of_workshop(origins, "shims", "s_1", "thinnest shim", np.min(workshop.shims, axis=-1))
    terms = [mount, thinnest, *typed.of(4, "mount_short_by", *(("measured_gap",) if any(g.measured) else ()))]
    return per_case(
        "c_s", "error of the mount left after shimming", repeated(lay.mount_error, 4), "m",
        "s_1/2 where e ≥ c, otherwise c" + ("; of a measured gap what the shims leave" if any(g.measured) else ""),
        terms, practice("shims are stacked in steps of the thinnest"),
    )  # fmt: skip


def shims_cover(origins: Mapping[str, Origin], g: Gears, workshop: Workshop, lay: Layout, typed: Typed) -> Finding:
    """`shims-cover-the-mount`: whether every error can be shimmed, and which shims go under it."""
    measured = np.array(g.measured)
    short, tolerance = g.mount_short_by, column(workshop.mount_tolerance)
    drawer = column(np.sum(workshop.shims, axis=-1))
    shimmed = np.broadcast_to((lay.gap > 0) | measured, np.broadcast_shapes(lay.gap.shape, tolerance.shape))
    mount = of_workshop(origins, "mount_tolerance", "c", "half-width of the mount's position", workshop.mount_tolerance)
    total = of_workshop(origins, "shims", "S", "one of each shim in the drawer", np.sum(workshop.shims, axis=-1))
    labels = [
        ", ".join(w for w in (name, label) if w)
        for name, known in zip(g.names, g.measured, strict=True)
        for label in (("as measured, not pressed in", "as measured") if known else ("mount too high", "mount too low"))
    ]
    needed = np.where(measured, 0.0, tolerance), np.where(measured, lay.gap, short + tolerance)
    gap = typed.of(2, *(("measured_gap",) if all(g.measured) else ("mount_short_by",)))
    terms = [total, *gap] if all(g.measured) else [mount, total, *gap]
    drawn_short = per_case(
        "e_min",
        "least that the mount must be drawn short",
        upwards(repeated(tolerance + 0 * short, 2)),
        "m",
        "c",
        [mount],
    )
    asked = per_case(
        "S_min",
        "stack to keep at hand",
        upwards(repeated(np.maximum(lay.gap, needed[1]), 2)),
        "m",
        "e + c, or the gap",
        terms,
    )
    return finding(
        check="shims-cover-the-mount",
        trade=TRADE,
        topic=TOPIC,
        title="Shims can take up whatever the motor mount misses",
        unit="m",
        cases=labels,
        demand=side_by_side(*needed),
        capacity=side_by_side(np.where(shimmed, lay.gap, np.inf), np.where(shimmed, drawer, np.inf)),
        demand_name="what the mount may miss, or the stack needed",
        capacity_name="take-up drawn into the mount, or the stack at hand",
        reserve=NO_RESERVE,
        late=Late.REPRINT,
        formula="; ".join(
            rule
            for rule, applies in (
                ("c ≤ e and e + c ≤ S", not all(g.measured)),
                ("the gap measured e_m ≤ S", any(g.measured)),
            )
            if applies
        ),
        terms=[*_stack_terms(g, lay, typed, total), *terms, drawn_short, asked],
        sources=[practice("a mount drawn short can only be shimmed one way, so it must be short in every case")],
        remedy="Draw the mount at least {e_min} short and keep shims that add up to {S_min}",
    )


def _stack_terms(g: Gears, lay: Layout, typed: Typed, total: Term) -> tuple[Term, ...]:
    """Which shims for the gap, which way they push, what backlash comes of it; stage by stage."""
    typed_gap = any(g.measured)
    gap = per_case(
        "g", "gap to be shimmed, " + ("as measured" if all(g.measured) else "as drawn; write measured_gap for yours"),
        repeated(lay.gap, 2), "m", "e_m where measured, otherwise e",
        typed.of(2, "mount_short_by", *(("measured_gap",) if typed_gap else ())),
    )  # fmt: skip
    way = (
        "outwards, against the ring: the centre distance rises"
        if all(g.internal)
        else "towards the gear: the centre distance falls"
        if not any(g.internal)
        else "into mesh: outwards against a ring, towards a plain gear"
    )
    words = ("first shim, the thickest", "second shim", "third shim", "fourth shim")
    pieces = [
        per_case(f"p{i + 1}", words[i], repeated(lay.shims[..., i], 2), "m", "of the stack nearest to g", [gap, total])
        for i in range(MOST_PIECES)
    ]
    stack = np.sum(lay.shims, axis=-1)
    name = f"stack of shims to put in: it pushes the pinion {way}"
    pushed = per_case("t_s", name, repeated(stack, 2), "m", "p1 + p2 + p3 + p4", pieces,
                      practice("up to four pieces, as few as do"))  # fmt: skip
    after = backlash_out_of_mesh(
        lay.gap - stack, module=g.module, z1=g.pinion_teeth, z2=g.gear_teeth, x1=g.pinion_shift, x2=g.gear_shift,
        pressure_angle=g.pressure_angle, thinning=g.pinion_thinning + g.gear_thinning, right=lay.centre, sign=g.sign,
    )  # fmt: skip
    return pushed, per_case(
        "j_s", "backlash with these shims", repeated(after, 2), "m",
        "± 2 a (inv αw - inv αw0) + Δs cos α/cos αw at the distance with g - t_s left",
        [gap, pushed, *typed.of(2, *ALL_TEETH, "centre_distance", "backlash")], GEOMETRY,
    )  # fmt: skip
