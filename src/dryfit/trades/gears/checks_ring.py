"""Check of an internal pair: whether ring and pinion go together and turn without fouling each other."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Late, finding
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.rounding import downwards
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.gears import FEWEST_TEETH, Gears
from dryfit.machine.workshop import Workshop
from dryfit.trades.gears import formulas as one
from dryfit.trades.gears import formulas_pairs as pair
from dryfit.trades.gears.checks_layout import (
    ADDENDA,
    ALL_TEETH,
    GEOMETRY,
    TRADE,
    Layout,
    Typed,
    case_names,
    of_workshop,
    per_case,
    repeated,
    side_by_side,
)

INTERNAL = memory("General texts on internal gears", "conditions for the three interferences of a ring and its pinion")
FOULING_RESERVE = (0.02, practice("two per cent kept back from the exact conditions of interference"))
IN_PITCHES = derived("an angle at the pinion or ring over the angle of one of its teeth")

ROOTS = derived("the straight flank of the rack ends where the root rounding of the pinion begins")
NO_RESERVE = (0.0, practice("what a print may be off is counted in the reach of the tips"))

_KEPT = 1 - FOULING_RESERVE[0]
_STEPS = 8
_LOWEST, _TALLEST = 0.1, 1.6
"""Ring addenda between which one that would do is looked for, in modules."""

Conditions = tuple[tuple[Array, Array], Array, Array]
Flags = NDArray[np.bool_]


def goes_together(origins: Mapping[str, Origin], g: Gears, workshop: Workshop, lay: Layout, typed: Typed) -> Finding:
    """`ring-and-pinion-go-together`: involute, trochoid and trimming interference.

    The involute rule is judged as a ratio of teeth. Of the two others the gap counts that is left beside the ring's
    tip, in tooth pitches: it must take what a printed tooth is too thick; where there is none, what is missing adds up.
    """
    inside = np.array(g.internal, dtype=bool)
    radial = inside & np.array(g.radial, dtype=bool)
    error = _error(g, workshop)
    exact = _conditions(g, g.pinion_teeth, g.gear_addendum)
    ratio, *gaps = exact
    judged = [ratio, *((error + np.maximum(-gap, 0.0), np.maximum(gap, 0.0)) for gap in gaps)]
    pairs = [
        (np.where(at, needed, 0.0), np.where(at, had, np.inf))
        for (needed, had), at in zip(judged, (inside, inside, radial), strict=True)
    ]
    demand, capacity = side_by_side(*(p[0] for p in pairs)), side_by_side(*(p[1] for p in pairs))
    fewest, most, addendum = _fitting(g, radial, error)
    teeth = typed.of(3, "pinion_teeth", "gear_teeth", "pressure_angle", "pinion_shift", "gear_shift")
    working = per_case(
        "αw", "working pressure angle", repeated(lay.free, 3), "rad", "inv αw = inv α + 2 tan α (x2 - x1)/(z2 - z1)",
        teeth, GEOMETRY,
    )  # fmt: skip
    angle1 = per_case(
        "αa1", "pressure angle at the pinion's tip", repeated(lay.tip1_angle, 3), "rad",
        "arccos[z1 cos α/(z1 + 2 x1 + 2 h_a1)]",
        typed.of(3, "pinion_teeth", "pressure_angle", "pinion_shift", "pinion_addendum"), GEOMETRY,
    )  # fmt: skip
    angle2 = per_case(
        "αa2", "pressure angle at the ring's tip", repeated(lay.tip2_angle, 3), "rad",
        "arccos[z2 cos α/(z2 + 2 x2 - 2 h_a2)]",
        typed.of(3, "gear_teeth", "pressure_angle", "gear_shift", "gear_addendum"), GEOMETRY,
    )  # fmt: skip
    given = [working, angle1, angle2, *typed.of(3, "pinion_teeth", "gear_teeth")]
    what = typed.of(3, *ALL_TEETH[1:], *ADDENDA)
    thick = of_workshop(
        origins, "print_tolerance", "t", "what a printed tooth may be too thick (machined: nothing)",
        workshop.print_tolerance,
    )  # fmt: skip
    searched = "searched with the rules above and their reserve"
    terms = [
        per_case("needed", "needed by the rule", demand, "1",
                 "involute: 1 - tan αa2/tan αw; trochoid, trimming: t/(π m), and what the gap is below 0",
                 [*given, thick, *typed.of(3, "module")], INTERNAL),
        per_case("had", "had by these teeth", capacity, "1",
                 "involute: z1/z2; trochoid: [θ1 z1/z2 + inv αw - inv αa2 - θ2] z2/2π; "
                 "trimming: [θ1 + inv αa1 - inv αw - (z2/z1)(θ2 + inv αa2 - inv αw)] z1/2π, not below 0",
                 given, INTERNAL, IN_PITCHES),
        per_case("z_min", "fewest teeth that stay off the ring's tips", repeated(fewest, 3), "1", searched, what),
        per_case("z_max", "most teeth that still go into this ring", repeated(most, 3), "1", searched, what),
        per_case("h_max", "tallest ring tooth in modules that stays off the roots", repeated(addendum, 3), "1",
                 searched, what),
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
        demand_name="ratio of teeth, or gap in tooth pitches, needed",
        capacity_name="ratio of teeth, or gap, had",
        reserve=FOULING_RESERVE,
        late=Late.REPRINT,
        formula="involute: z1/z2 ≥ 1 - tan αa2/tan αw; trochoid, trimming: gap ≥ t/(π m)",
        terms=terms,
        sources=[INTERNAL],
        remedy="Give the pinion {z_min} to {z_max} teeth, or shorten the ring's addendum to {h_max} modules"
        + (", or slide the pinion in along its axis (assembly: axial)" if np.any(radial) else ""),
    )


def tips_off_roots(origins: Mapping[str, Origin], g: Gears, workshop: Workshop, lay: Layout, typed: Typed) -> Finding:
    """`ring-tips-stay-off-the-roots`: the ring's tips touch the pinion's involute, not the rounding below it.

    The involute rule of `ring-and-pinion-go-together` looks at the base circle only; what a rack cuts begins above it.
    """
    applies = np.array(g.internal) & np.array(g.generated)
    line = lay.centre * np.sin(lay.working)
    start = pair.involute_start(
        g.module, g.pinion_teeth, g.pressure_angle, g.pinion_shift, g.dedendum, g.root_fillet
    )  # fmt: skip
    over = np.where(np.array(g.gear_printed), column(workshop.print_tolerance), 0.0)
    demand = np.where(applies, line + start, 0.0)
    capacity = np.where(applies, pair.tangent_length(lay.tip2 - over, lay.base2), np.inf)
    tip = np.sqrt(lay.base2 * lay.base2 + demand * demand) + over
    tallest = np.where(applies, downwards(g.gear_teeth / 2 + g.gear_shift - tip / g.module), np.nan)
    teeth = typed.of(1, *ALL_TEETH, "centre_distance")
    roots = typed.of(1, "module", "pinion_teeth", "pressure_angle", "pinion_shift", "dedendum", "root_fillet")
    thick = of_workshop(
        origins, "print_tolerance", "t", "what a printed tip may reach too far (machined: nothing)",
        workshop.print_tolerance,
    )  # fmt: skip
    needed = per_case(
        "g_f", "where the pinion's involute begins", demand, "m",
        "a sin αw + r1 sin α - m (h_f - ρ_f (1 - sin α) - x1)/sin α", [*teeth, *roots], ROOTS,
    )  # fmt: skip
    return finding(
        check="ring-tips-stay-off-the-roots",
        trade=TRADE,
        topic="ring and pinion",
        title="The ring's tips stay off the rounding of the pinion's roots",
        unit="m",
        cases=case_names(g, "ring tip"),
        demand=demand,
        capacity=capacity,
        demand_name="place on the line of action where the pinion's involute begins",
        capacity_name="place where the ring's tip touches",
        reserve=NO_RESERVE,
        late=Late.REPRINT,
        formula="√((r_a2 - t)² - r_b2²) ≥ a sin αw + where the involute begins",
        terms=[
            needed,
            per_case("g_a2", "where the ring's tip touches", capacity, "m", "√((r_a2 - t)² - r_b2²)",
                     [*teeth, *typed.of(1, "gear_addendum"), thick], GEOMETRY),
            per_case("h_r", "tallest ring tooth in modules that stays off the rounding", tallest, "1",
                     "z2/2 + x2 - (√(r_b2² + g_f²) + t)/m, rounded down", [needed, thick, *teeth], GEOMETRY),
        ],
        sources=[ROOTS],
        remedy="Shorten the ring's addendum (gear_addendum) to {h_r}",
    )  # fmt: skip


def _error(g: Gears, workshop: Workshop) -> Array:
    """What a tooth may be too thick, in tooth pitches."""
    printed = np.array(g.pinion_printed, dtype=bool) | np.array(g.gear_printed, dtype=bool)
    return np.asanyarray(np.where(printed, column(workshop.print_tolerance), 0.0) / (np.pi * g.module))


def _conditions(g: Gears, z1: Num, addendum2: Num) -> Conditions:
    """For other teeth or another ring addendum: (least, had) ratio of teeth by the involute rule, gap left by the
    trochoid rule and by the trimming rule, in tooth pitches, negative where they foul."""
    z2, alpha = g.gear_teeth, g.pressure_angle
    free = pair.working_angle(z1, z2, g.pinion_shift, g.gear_shift, alpha, -1.0)
    tip1, tip2 = (
        one.tip_diameter(1.0, z1, g.pinion_addendum, g.pinion_shift, 1.0) / 2,
        one.tip_diameter(1.0, z2, addendum2, g.gear_shift, -1.0) / 2,
    )
    angle1, angle2 = (one.angle_at(2 * t, one.base_diameter(1.0, z, alpha)) for t, z in ((tip1, z1), (tip2, z2)))
    apart = pair.centre_distance(1.0, z1, z2, alpha, free, -1.0)
    swept, room = pair.trochoid_angles(z1, z2, tip1, tip2, angle1, angle2, apart, free)
    cut, clear = pair.trimming_angles(z1, z2, angle1, angle2, free)
    return (
        (np.asanyarray(pair.involute_limit(angle2, free)), np.asanyarray(z1 / z2)),
        np.asanyarray((room - swept) * z2 / (2 * np.pi)),
        np.asanyarray((clear - cut) * z1 / (2 * np.pi)),
    )


def _gaps_free(conditions: Conditions, radial: Flags, error: Array) -> Flags:
    _, trochoid, trimming = conditions
    needed = error / _KEPT
    return np.asanyarray((trochoid >= needed) & ((trimming >= needed) | ~radial))


def _all_free(conditions: Conditions, radial: Flags, error: Array) -> Flags:
    """Whether all rules are cleared with their reserve, trimming only where the pinion goes in radially."""
    needed, had = conditions[0]
    return np.asanyarray((needed <= _KEPT * had) & _gaps_free(conditions, radial, error))


def _fitting(g: Gears, radial: Flags, error: Array) -> tuple[Array, Array, Array]:
    """Fewest and most teeth of the pinion, and tallest ring tooth in modules, that clear all rules with their reserve;
    NaN where no count, or not even a stub, does.

    Fewer teeth let the ring's tips dig into the pinion's roots, more do not get past the ring's tips. Both searches
    halve their range side by side, on a leading axis.
    """
    numbers = (g.pinion_teeth, g.gear_teeth, g.pressure_angle, g.pinion_shift, g.gear_shift, g.pinion_addendum)
    everywhere = 0.0 * sum(numbers, start=error + g.gear_addendum)
    own, tall = g.pinion_teeth + everywhere, g.gear_addendum + everywhere
    fewest = own
    for _ in range(2):  # with profile shift the limit depends on the count
        needed, _had = _conditions(g, fewest, g.gear_addendum)[0]
        fewest = np.maximum(np.ceil(g.gear_teeth * needed / _KEPT - 1e-9), FEWEST_TEETH)
    most, beyond = fewest, g.gear_teeth + everywhere
    low, high = everywhere + _LOWEST, everywhere + _TALLEST
    for _ in range(_STEPS):
        teeth, height = np.floor((most + beyond) / 2), (low + high) / 2
        tried = _conditions(g, np.stack([teeth, own]), np.stack([tall, height]))
        good, stub = _gaps_free(tried, radial, error)[0], _all_free(tried, radial, error)[1]
        most, beyond = np.where(good, teeth, most), np.where(good, beyond, teeth)
        low, high = np.where(stub, height, low), np.where(stub, high, height)
    fits = _all_free(_conditions(g, fewest, g.gear_addendum), radial, error)
    fewest, most = np.where(fits, fewest, np.nan), np.where(fits, most, np.nan)
    return fewest, most, np.where(low > _LOWEST, downwards(low), np.nan)
