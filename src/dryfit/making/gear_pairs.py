"""The gear stages of a machine as things to be made: outlines, solids, slices, gaps, and what to measure on them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.machine.gear_bodies import GearBodies
from dryfit.machine.gears import Gears
from dryfit.machine.machine import Machine
from dryfit.making import gear_measures as measures
from dryfit.making.gear_boards import board, gear_slice, ring_slice, stub_of
from dryfit.making.gear_gaps import free_ring_addendum, involute_backlash, mesh_gap, working_distance
from dryfit.making.gear_outlines import Tooth, Toothed, toothed
from dryfit.making.gear_shapes import circle, flat_bore, inset, keyed_bore, on_circle, outline, shape
from dryfit.making.gear_solids import Boss, solid, toothed_body, with_boss
from dryfit.making.records_gears import GearMember, GearPair, MeshGap

_STEPS = 2
"""How many of the thinnest shims are tried either way."""

_PEG_WALL = 1.5e-3
"""Least material between a peg hole and the roots of a ring, m (common practice)."""

Fact = tuple[str, float, str]


@dataclass(frozen=True)
class _Printing:
    """What the printer adds, m. inner: by which the edge of a hole comes out too far in, per side; outer: an outside
    too far out, per side; hole: by which a hole comes out too large on its diameter (below zero: too small)."""

    inner: float
    outer: float
    hole: float
    flare: float
    layer: float
    tolerance: float


def gear_pairs(machine: Machine, bodies: GearBodies) -> tuple[GearPair, ...]:
    """All stages of one machine, in the order of the power flow; none for direct drive."""
    return tuple(_pair(machine, bodies, i) for i in range(len(machine.gears.paths)))


def teeth_of(g: Gears, i: int) -> tuple[Tooth, Tooth]:
    """Tooth forms of stage i: pinion, and gear or ring."""
    at = partial(_at, i=i)
    both: dict[str, Any] = {
        "module": at(g.module),
        "pressure_angle": at(g.pressure_angle),
        "dedendum": at(g.dedendum),
        "fillet": at(g.root_fillet),
        "generated": g.generated[i],
    }
    pinion = Tooth(
        False, teeth=round(at(g.pinion_teeth)), shift=at(g.pinion_shift), addendum=at(g.pinion_addendum),
        thinning=at(g.pinion_thinning), **both,
    )  # fmt: skip
    gear = Tooth(
        g.internal[i], teeth=round(at(g.gear_teeth)), shift=at(g.gear_shift), addendum=at(g.gear_addendum),
        thinning=at(g.gear_thinning), **both,
    )  # fmt: skip
    return pinion, gear


def _at(values: Array, i: int) -> float:
    return float(values[..., i])


def _pair(machine: Machine, bodies: GearBodies, i: int) -> GearPair:
    g = machine.gears
    forms = toothed((teeth := teeth_of(g, i))[0]), toothed(teeth[1])
    right = working_distance(*forms)
    distance, typed, notes = _distance(g, i, *forms, right)
    towards = 1.0 if g.internal[i] else -1.0  # a shim pushes the pinion into mesh
    shims = sorted({float(s) for s in np.ravel(machine.workshop.shims)})[:_STEPS]
    steps = [*(-s for s in reversed(shims)), 0.0, *shims]
    gaps = [mesh_gap(*forms, distance + towards * s, s) for s in steps]
    if typed:
        # a distance at which these teeth do not run is rolled too, so that the list shows what it would do
        gaps.append(mesh_gap(*forms, typed, towards * (typed - distance)))
    printing = _printing(machine, bodies)
    rim = forms[1].root + _at(bodies.rim, i)
    shafts = _shafts(machine, i)
    stubs = stub_of(forms[0], shafts[0]), stub_of(forms[1], shafts[1])
    tried = tuple((s, distance + towards * s) for s in steps)
    solid_board, flat_board, labels, said = board(*forms, tried, stubs, rim)
    stage = f" {i + 1}" if len(g.paths) > 1 else ""
    notes = (*notes, *_foul(forms, distance, gaps), *said)
    pinion = _pinion(machine, bodies, i, forms[0], stubs[0], printing, f"pinion{stage}", notes)
    if g.internal[i]:
        gear = _ring(machine, bodies, i, forms[1], printing, f"ring{stage}")
    else:
        gear = _gear(machine, bodies, i, forms[1], stubs[1], printing, f"gear{stage}")
    return GearPair(
        name=f"stage{stage}" if stage else "gears",
        path=g.paths[i],
        internal=g.internal[i],
        pinion=pinion,
        gear=gear,
        centre_distance=distance,
        backlash=involute_backlash(*forms, distance),
        gaps=tuple(gaps),
        board=solid_board,
        board_outline=flat_board,
        board_labels=labels,
    )


def _distance(g: Gears, i: int, pinion: Toothed, gear: Toothed, right: float) -> tuple[float, float, tuple[str, ...]]:
    """Centre distance to draw at, a typed one at which the teeth do not run (0 for none), and what to say of it.

    A typed distance that leaves a backlash of the wished range is drawn; else the one that the teeth ask for.
    """
    typed = _at(g.centre_distance, i)
    if not g.typed_centre[i] or typed == right:
        return right, 0.0, ()
    at_right, there = involute_backlash(pinion, gear, right), involute_backlash(pinion, gear, typed)
    spare = (_at(g.lim_backlash_most, i) - _at(g.lim_backlash_least, i)) / 2
    if abs(there - at_right) <= spare * float(np.cos(pinion.tooth.pressure_angle)):
        return typed, 0.0, ()
    said = (
        f"the file has a centre distance of {typed * 1e3:.2f} mm, at which these teeth do not run; "
        f"they are drawn at {right * 1e3:.3f} mm"
    )
    return right, typed, (said,)


def _foul(forms: tuple[Toothed, Toothed], distance: float, gaps: list[MeshGap]) -> tuple[str, ...]:
    """What to do where the pair overlaps as designed."""
    now = next(gap for gap in gaps if gap.shim == 0)
    if not now.overlaps:
        return ()
    said = f"rolled together as designed the teeth overlap by {-now.gap * 1e3:.3f} mm"
    pinion, gear = forms
    free = free_ring_addendum(pinion, gear, distance) if gear.tooth.ring else float("inf")
    if free < gear.tooth.addendum:
        lower = np.floor(free * 100) / 100
        deep = "the ring's tips reach below the pinion's involute, into its root"
        return (f"{said}: {deep}; a ring addendum (gear_addendum) of {lower:.2f} clears it",)
    return (f"{said}; see the checks of the gears",)


def _printing(machine: Machine, bodies: GearBodies) -> _Printing:
    w = machine.workshop
    hole = float(w.hole_offset)
    return _Printing(
        -hole / 2, bodies.outside / 2, hole, float(w.first_layer_flare), float(w.layer_height), float(w.print_tolerance)
    )


def _shafts(machine: Machine, i: int) -> tuple[float, float]:
    """Diameters on which pinion and gear of a stage sit: gearmotor's shaft, and the axle for the last gear."""
    grip = machine.gears.pinion_grip
    shaft = float(grip.shaft_diameter) if grip else 8e-3
    last = i == len(machine.gears.paths) - 1
    axle = float(machine.axle.diameter) if last else shaft
    return shaft, axle if np.isfinite(axle) else shaft


def _taken_off(printed: bool, p: _Printing, *, ring: bool) -> tuple[str, ...]:
    """What was taken off for the printer, in words."""
    if not printed:
        return ("machined: nothing is taken off for a printer; slices and board are printed all the same",)
    hole = f"holes are drawn {abs(p.hole) * 1e3:.2f} mm {'larger' if p.hole < 0 else 'smaller'} (workshop.hole_offset)"
    inner = (
        "the teeth stand on the inside of a print: their outline is set back by half of workshop.hole_offset, "
        f"{p.inner * 1e3:.2f} mm all round"
    )
    outer = (
        f"nothing is taken off the flanks: measure the slice; what its span is off goes to workshop.outside_offset "
        f"(±{p.tolerance * 1e3:.2f} mm is taken by the backlash)"
        if p.outer == 0
        else f"the flanks are drawn {'in' if p.outer > 0 else 'out'} by {abs(p.outer) * 1e3:.2f} mm all round "
        "(half of workshop.outside_offset)"
    )
    first = f"the first layer is drawn in by {p.flare * 1e3:.2f} mm all round, because it bulges by as much"
    return (inner if ring else outer, hole, first)


def _member(
    machine: Machine, i: int, form: Toothed, name: str, *, which: str, made: Any, body: Any, piece: Any, drawn: Any,
    notes: tuple[str, ...],
) -> GearMember:  # fmt: skip
    g = machine.gears
    return GearMember(
        name=name,
        path=g.paths[i],
        count=int(sum(machine.wheels.driven)),
        printed=g.pinion_printed[i] if which == "pinion" else g.gear_printed[i],
        material=machine.origins[f"{g.paths[i]}.{which}_material"].text,
        outline=outline(drawn),
        made=outline(made),
        solid=solid(body),
        slice=piece,
        facts=facts(form),
        face_width=_at(g.face_width, i),
        notes=(*form.notes, *notes),
    )


def _pinion(
    machine: Machine, bodies: GearBodies, i: int, form: Toothed, stub: float, p: _Printing, name: str,
    said: tuple[str, ...],
) -> GearMember:  # fmt: skip
    g = machine.gears
    printed = g.pinion_printed[i]
    hole = p.hole if printed else 0.0
    bores, grip_notes = _pinion_bore(g, i, hole)
    back = p.outer if printed else 0.0
    made = shape(_drawn_in(form.curve, back), bores)
    chamfer, height = _at(bodies.chamfer, i), _at(g.face_width, i)
    flare = p.flare if printed else 0.0
    body = toothed_body(made, form.tip - back, height, ring=False, chamfer=chamfer, flare=flare, layer=p.layer)
    grip = g.pinion_grip
    if i == 0 and grip is not None and grip.kind != "one piece":
        screws = {"flat": 1, "screws": round(float(grip.screws)), "key": 0}[grip.kind]
        boss = Boss(
            diameter=_at(bodies.hub_diameter, i) * 1e3,
            length=_at(bodies.hub_length, i) * 1e3,
            bore=(float(grip.shaft_diameter) - hole) * 1e3,
            screws=tuple(n * 2 * np.pi / max(screws, 3) for n in range(screws)),
            nuts=printed,
        )
        body, boss_notes = with_boss(body, boss, height, lambda around: shape(around, bores))
        grip_notes += boss_notes
    piece = gear_slice(_drawn_in(form.curve, p.outer), stub, p.hole, p.flare, p.layer)
    notes = (*said, *grip_notes, *_taken_off(printed, p, ring=False))
    return _member(
        machine, i, form, name, which="pinion", made=made, body=body, piece=piece, drawn=shape(form.curve), notes=notes
    )


def _pinion_bore(g: Gears, i: int, hole: float) -> tuple[list[Array], tuple[str, ...]]:
    """What is cut out for the shaft, and what to know; a later pinion sits on the shaft of the gear before it."""
    grip = g.pinion_grip
    if grip is None:
        return [], ("no shaft is known: it has no bore",)
    if i > 0:
        radius = (float(grip.shaft_diameter) - hole) / 2
        return [circle(radius)], ("bored for a shaft as thick as the gearmotor's; open it up for yours",)
    radius = (float(grip.shaft_diameter) - hole) / 2
    if grip.kind == "one piece":
        return [], ("in one piece with its shaft: no bore is drawn",)
    if grip.kind == "flat":
        return [flat_bore(radius, float(grip.flat_depth))], ()
    if grip.kind == "key":
        high = float(grip.key_height)
        said = f"keyway for a square key of {high * 1e3:.1f} mm, half of it in the pinion; check it against your key"
        return [keyed_bore(radius, high - hole, (high - hole) / 2)], (said,)
    return [circle(radius)], ()


def _gear(
    machine: Machine, bodies: GearBodies, i: int, form: Toothed, stub: float, p: _Printing, name: str
) -> GearMember:
    g = machine.gears
    printed = g.gear_printed[i]
    hole = p.hole if printed else 0.0
    _, shaft = _shafts(machine, i)
    radius = (shaft - hole) / 2
    last, hold = i == len(g.paths) - 1, machine.axle.retention
    flat = last and hold.kind == "flat" and machine.axle.driven_by == "gear on the axle"
    bores = [flat_bore(radius, float(hold.flat_depth)) if flat else circle(radius)]
    pegged, said = _pegs(machine, i, form, hole)
    back = p.outer if printed else 0.0
    made = shape(_drawn_in(form.curve, back), bores + pegged)
    chamfer, height = _at(bodies.chamfer, i), _at(g.face_width, i)
    body = toothed_body(
        made, form.tip - back, height, ring=False, chamfer=chamfer, flare=p.flare if printed else 0.0, layer=p.layer
    )
    piece = gear_slice(_drawn_in(form.curve, p.outer), stub, p.hole, p.flare, p.layer)
    notes = (*said, *_taken_off(printed, p, ring=False))
    return _member(
        machine, i, form, name, which="gear", made=made, body=body, piece=piece, drawn=shape(form.curve), notes=notes
    )


def _ring(machine: Machine, bodies: GearBodies, i: int, form: Toothed, p: _Printing, name: str) -> GearMember:
    g = machine.gears
    printed = g.gear_printed[i]
    back = p.inner if printed else 0.0
    rim = form.root + _at(bodies.rim, i)
    pegged, said = _pegs(machine, i, form, p.hole if printed else 0.0)
    made = shape(circle(rim), [_set_back(form.curve, back), *pegged])
    chamfer, height = _at(bodies.chamfer, i), _at(g.face_width, i)
    body = toothed_body(
        made, form.tip + back, height, ring=True, chamfer=chamfer, flare=p.flare if printed else 0.0, layer=p.layer
    )
    piece = ring_slice(_set_back(form.curve, p.inner), rim, p.flare, p.layer)
    tool: tuple[str, ...] = ()
    if form.cutter:
        tool = (
            f"roots as a cutter of {form.cutter} teeth leaves them: near half the ring's, so that it trims no tips",
        )
    notes = (*said, *tool, *_taken_off(printed, p, ring=True))
    drawn = shape(circle(rim), [form.curve])
    return _member(machine, i, form, name, which="gear", made=made, body=body, piece=piece, drawn=drawn, notes=notes)


def _set_back(curve: Array, back: float) -> Array:
    """The edge of a ring's teeth moved into the ring by `back` all round."""
    return _drawn_in(curve, -back)


def _drawn_in(curve: Array, back: float) -> Array:
    """The edge of teeth with `back` taken off all round."""
    if back == 0:
        return curve
    return np.asanyarray(np.array(inset(shape(curve), back).exterior.coords)[:-1])


def _pegs(machine: Machine, i: int, form: Toothed, hole: float) -> tuple[list[Array], tuple[str, ...]]:
    """Holes for the pegs that pass the torque to the wheel; only of the last stage, and not where the axle does."""
    g = machine.gears
    if g.pegs is None or i != len(g.paths) - 1 or machine.axle.driven_by != "ring on the wheel":
        return [], ()
    count, size, around = round(float(g.pegs.count)), float(g.pegs.diameter), float(g.pegs.circle)
    places = on_circle(count, around, np.pi / count if count else 0.0)
    said = [f"{count} holes for pegs or screws of {size * 1e3:g} mm on a circle of {around * 1e3:.1f} mm"]
    least = 2 * form.root + size - hole + 2 * _PEG_WALL
    if form.tooth.ring and around < least:
        said.append(
            f"the peg holes come too near the tooth roots: put them on a circle (pegs.circle) of "
            f"{np.ceil(least * 1e3):.0f} mm or more"
        )
    return [circle((size - hole) / 2, (float(x), float(y))) for x, y in places], tuple(said)


def facts(form: Toothed) -> tuple[Fact, ...]:
    """What stands beside the drawing and what a calliper should read; what cannot be measured is left out."""
    t = form.tooth
    pin = measures.pin_size(t.module)
    listed: list[Fact] = [
        ("module", t.module, "m"),
        ("teeth", float(t.teeth), "1"),
        ("pressure angle", t.pressure_angle, "rad"),
        ("profile shift", t.shift, "1"),
        ("tip circle", 2 * form.tip, "m"),
        ("reference circle", 2 * t.reference, "m"),
        ("base circle", 2 * t.base, "m"),
        ("root circle", 2 * form.root, "m"),
        ("involute ends at" if t.ring else "involute begins at", 2 * form.form, "m"),
        ("tooth thickness at the reference circle", measures.thickness(form), "m"),
        ("thinned by", t.thinning, "m"),
    ]
    if not t.ring:
        count = measures.spanned(form)
        listed.append((f"span over {count} teeth", measures.span(form, count), "m"))
    between = "between" if t.ring else "over"
    listed.append((f"{between} two pins of {pin * 1e3:.1f} mm", measures.over_pins(form, pin), "m"))
    return tuple(fact for fact in listed if np.isfinite(fact[1]))
