"""The build in order: what to have ready for each stage, what to do, and what to beware of.

The order is common practice: pieces that decide whether others fit come first, each unit is tried alone before it is
joined to the next, and nothing is switched on all at once. Every stage ends at its test points.
"""

from __future__ import annotations

from collections.abc import Sequence

from dryfit.ground.units import show
from dryfit.machine.machine import Machine
from dryfit.machine.parts import written_name
from dryfit.making.records_bench import Stage

ORDER = (
    "prints", "wheel units", "frame", "supply", "logic", "light", "arms", "body", "first drive", "rehearsal",
)  # fmt: skip
"""Names of all stages, in building order; a machine has those that it has something for."""

LOCAL = "Local codes and licensed practice come before anything written here."

_PINCH = "Gears, rollers and spokes take fingers: nobody reaches in while anything can turn; power off first."
_HELD = "Hold loose hair, sleeves and cords away from everything that turns."
_EYES = "Wear eye protection when cutting, drilling, and snapping supports off."


def stages(machine: Machine) -> tuple[Stage, ...]:
    """The stages of the build of one machine, in building order; only those that it has something for."""
    made = (
        _prints(machine),
        _wheel_units(machine),
        _frame(machine),
        _supply(machine),
        _logic(machine),
        _light(machine),
        _arms(machine),
        _body(machine),
        _first_drive(machine),
        _rehearsal(machine),
    )
    return tuple(stage for stage in made if stage is not None)


def _prints(m: Machine) -> Stage | None:
    gears = _printed_gears(m)
    if not (gears or _parts(m, "printed") or m.axle.hub_made == "printed" or m.axle.housing == "printed"):
        return None
    ready = ["printers with the nozzles of the print plan", "filament, dry", "callipers", "a pin or drill to try holes"]
    steps = [
        "Print the coupons first: holes, fits and, where there are gears, slices of the teeth.",
        "Measure them and type what you found under workshop: hole_offset, print_tolerance, first_layer_flare.",
        "Run the check again: fits and backlash now rest on your printer.",
    ]
    if gears:
        ready.append("the board with pegs to try the mesh")
        steps += [
            "Set the slices on the board's pegs and turn them by hand two turns: no tight place, a little play all the"
            " way round.",
            "Only then print the gears at full width; trim the flare of the first layer.",
        ]
    steps += [
        "Time the first three plates against the plan: the ratio corrects the rest of it.",
        "Print what carries before what shows.",
    ]
    cautions = (
        "Nozzle and bed burn; let them cool before you reach in.",
        "Plastic fumes and fine dust: air the room.",
        _EYES,
        "A printer left alone is a heater left alone: smoke alarm, nothing that burns beside it. " + LOCAL,
    )
    return Stage("prints", "Coupons and gears", tuple(ready), tuple(steps), cautions)


def _wheel_units(m: Machine) -> Stage:
    count = sum(m.wheels.driven)
    kinds = sorted({k for k, d in zip(m.wheels.kinds, m.wheels.driven, strict=True) if d})
    ready = [f"{_many(count, 'wheel')} ({', '.join(kinds)})", _many(count, "gearmotor"), "screws and thread lock"]
    steps = ["Build one wheel unit and try it to the end before the others are begun."]
    if m.axle.given and m.axle.arrangement != "on the gearmotor shaft":
        ready += [_many(count, "axle"), _many(2 * count, "bearing")]
        steps.append("Set the axle in its bearings: one holds it lengthwise, the other lets it move.")
    steps.append("Fix the wheel, and tighten the screws that hold it to the torque given in the design.")
    if m.gears.paths:
        ready += [_many(count, "set of gears", "sets of gears"), "shims", "dial gauge with a foot"]
        steps += [
            "Measure how far the mount leaves the pinion out of mesh, on every unit, and shim each by the shim table.",
            "Turn the wheel by hand through two turns of the slowest gear: one feel all the way round.",
        ]
    else:
        ready.append("dial gauge with a foot")
    ready += ["bench supply with a current limit", "meter for volts and amperes", "mark for the rim and a stop-watch"]
    steps += [
        "Clamp the unit down so that the wheel turns free, then run it from the bench supply, limit set low.",
        "Read run-out, current and speed; write the others' readings beside the first one's.",
    ]
    cautions = (
        _PINCH, _HELD,
        "A wheel unit on the bench jumps when it starts: clamp it.",
        "A motor held fast draws its stall current and burns within seconds: pulses only. " + LOCAL,
    )  # fmt: skip
    return Stage("wheel units", "Wheel units", tuple(ready), tuple(steps), cautions)


def _frame(m: Machine) -> Stage:
    cut = _parts(m, "cut")
    ready = ["frame members, cut to the cut list and deburred", "nuts for the slots, counted before ends are closed"]
    if cut:
        ready.append("cut parts: " + ", ".join(cut))
    ready += [_many(sum(m.wheels.driven), "wheel unit"), "flat plate or glass", "square and tape", "scale"]
    free = sum(1 for d in m.wheels.driven if not d)
    if free:
        ready.append(_many(free, "caster"))
    steps = [
        "Lay the frame on a flat plate, screw it hand-tight, measure both diagonals, then tighten crosswise.",
        "Fit the wheel units; measure from the middle to each wheel and between neighbouring wheels.",
        "Set the base on the plate: every wheel must carry; slip a strip of paper under each.",
        "Weigh every part before it goes in, and the base when it is complete.",
    ]
    cautions = (
        _EYES,
        "Cut edges are sharp: deburr first.",
        f"Above {show(float(m.brief.lim_lift_mass), 'kg')} lift with two people or a lifting table. " + LOCAL,
    )
    return Stage("frame", "Frame and base", tuple(ready), tuple(steps), cautions)


def _supply(m: Machine) -> Stage:
    packs, rails = m.power.packs, [n for n, has in enumerate(m.power.branches.regulated) if has]
    ready = [
        _many(packs.count, "pack") + ", charged", "charger made for their chemistry",
        "fuses as in the wire list, not yet in", "meter for volts and amperes", "clamp meter for direct current",
        "load resistor or electronic load", "labels",
    ]  # fmt: skip
    steps = [
        "Check every wire from end to end and against its neighbours with the meter before anything is live.",
        "Measure each pack at rest, and write down which plug is plus.",
    ]
    if packs.count > 1:
        least = show(float(packs.difference_when_joined), "V")
        steps.append(f"Join packs only when they differ by less than {least}, measured across the gap.")
    steps.append(
        "Put in the main fuse last, with every branch fuse still out; read the bus; then one branch at a time."
    )
    if rails:
        names = [m.power.branches.names[n] for n in rails]
        steps.append(f"Set each regulator with nothing connected, then load it with the resistor: {', '.join(names)}.")
    if m.safety.stop_features:
        steps.append("Press the emergency stop: what it should cut is dead on the meter, and stays dead when released.")
    cautions = (
        "Packs give thousands of amperes into a slipped spanner: rings and watches off, tools insulated, one pole at"
        " a time, the free pole covered.",
        "Charge only with the charger made for the chemistry, on a surface that does not burn, and stay with it.",
        "A mains charger or mains supply is opened and wired only by a licensed person.",
        "A pack that is swollen, hot or damaged goes outside and is not used again. " + LOCAL,
    )
    return Stage("supply", "Packs and supply", tuple(ready), tuple(steps), cautions)


def _logic(m: Machine) -> Stage:
    ready = [
        f"controller ({m.control.board.name})", "the firmware, built with the numbers of this design",
        "transmitter and receiver", "controller pin map", "pull-down resistors as in the design",
    ]  # fmt: skip
    steps = [
        "Power the logic alone; read its rail.",
        "Load the firmware with motors and arms unplugged; watch every output while the board starts and restarts.",
        "Switch the transmitter off: every drive output goes to rest within the time given in the design.",
        "Plug in one wheel unit, wheel in the air, and drive it at half command; then the next.",
        "Pulse one locked wheel, no longer than a breath, and read the current.",
    ]
    cautions = (
        _PINCH,
        "Wheels in the air, machine on blocks that cannot roll, until the first drive.",
        "One hand on the emergency stop whenever a motor is plugged in. " + LOCAL,
    )
    return Stage("logic", "Logic and firmware", tuple(ready), tuple(steps), cautions)


def _light(m: Machine) -> Stage | None:
    if not m.light.strips:
        return None
    sets = [f"strips of {name}: {count}" for name, count in zip(m.light.strips, m.light.counts, strict=True)]
    ready = [*sets, "feed wires cut to the wire list", "meter for volts"]
    if m.light.shifted:
        ready.append("level shifter")
    steps = [
        "Light each strip from the bench supply, limit set low, before it is stuck down.",
        "Stick and solder; check plus against minus at every feed.",
        "First light on the machine with the brightness cap in the firmware, then full white for as long as it takes to"
        " read the far end.",
        "Look at the diffuser from where the public stands, in the dark.",
    ]
    cautions = (
        "Full white may be more than the supply bears for long: seconds only, a hand on the switch.",
        "Bright LEDs at arm's length dazzle: read the meter, not the light.",
        "Flashing light can bring on seizures: no flashes of more than three in a second among people (common"
        " practice). " + LOCAL,
    )
    return Stage("light", "Light", tuple(ready), tuple(steps), cautions)


def _arms(m: Machine) -> Stage | None:
    if not m.arms.names:
        return None
    ready = [_many(len(m.arms.names), "arm"), "servos, centred and marked", "scale", "servo tester or firmware"]
    told = m.arms.boot or m.arms.postures[0]
    steps = [
        "Weigh every arm with its payload.",
        "Fit horns with the servo at the angle of the posture told first" + (f" ({told})." if m.arms.boot else "."),
        "Move each arm alone from stop to stop, slowly; no cable pulls tight.",
        "Move all together; read the rail while they do.",
        "Hold the hardest posture for the time of the show and feel the servos with the back of a finger.",
    ]
    cautions = (
        "Arms may jump when power comes: stand outside their reach.",
        "Arms fall when power goes: nobody beneath.",
        "Gaps at the joints take fingers: power off before reaching in. " + LOCAL,
    )
    return Stage("arms", "Arms", tuple(ready), tuple(steps), cautions)


def _body(m: Machine) -> Stage | None:
    names = _parts(m, "printed")
    sections = tuple(dict.fromkeys(m.parts.section))
    if not names and len(sections) < 2:
        return None
    ready = ["parts of the body" + (": " + ", ".join(names) if names else ""), "scale", "tilt board and a helper"]
    steps = [
        "Weigh every part before it goes on.",
        "Fit panels; turn each wheel by hand and slide it against its play: nothing touches.",
    ]
    if len(sections) > 1:
        steps += [
            f"Weigh each section as it is carried: {', '.join(sections)}.",
            "Part and join the sections twice; check each plug before power comes on.",
        ]
    steps += [
        "Set each wheel on a scale of its own, all wheels at one height, and read the loads.",
        "Tilt the machine on a board, slowly, held by two people or slings, until a wheel gets light.",
    ]
    cautions = (
        "A machine on a tilted board falls without warning once a wheel lifts: slings or two people, feet clear.",
        f"Sections above {show(float(m.brief.lim_lift_mass), 'kg')} are lifted by two. " + LOCAL,
    )
    return Stage("body", "Body", tuple(ready), tuple(steps), cautions)


def _first_drive(m: Machine) -> Stage:
    ready = [
        "an empty floor with a marked line of 3 m", "stop-watch", "tape", "luggage scale", "clamp meter",
        "charged packs", "the second person, at the emergency stop",
    ]  # fmt: skip
    steps = [
        "Wheels in the air: every direction of the stick turns the right wheels the right way.",
        "On the floor at walking pace or less; emergency stop and lost link first, each from a crawl, then faster.",
        "Time the marked line, forwards and in the second direction.",
        "Measure the stopping distance from the line on which the stick is let go.",
        "Pull the machine with a luggage scale, wheels braked, low down, until it slips.",
    ]
    if len(m.arms.postures) > 1:
        steps.append("Repeat the stop in the posture with the least tipping acceleration, at the speed it allows.")
    cautions = (
        "Nobody in the way, nobody between machine and wall; the one with the stop does nothing else.",
        "Pull low down: a pull at the height of the centre of mass tips it.",
        LOCAL,
    )
    return Stage("first drive", "First drive", tuple(ready), tuple(steps), cautions)


def _rehearsal(m: Machine) -> Stage:
    ready = ["the whole machine", "the floor of the show or its like", "spares", "charged packs", "thermometer", "log"]
    steps = [
        f"Run the show at full length ({show(float(m.brief.show_length), 's')}); read packs, motors and servos after.",
        "Run it again at once, as on the day.",
        "Go over the worst place of the way: ramp, joint, cable cover.",
        "Type in every reading; read the checks again; set the caps by what they say now.",
        "Pack it, carry it, unpack it, and drive again.",
    ]
    cautions = (
        f"Keep the public's distance ({show(float(m.brief.public_distance), 'm')}) from the first rehearsal on.",
        "Whoever drives sees the whole way, and stops when not.",
        LOCAL,
    )
    return Stage("rehearsal", "Rehearsal", tuple(ready), tuple(steps), cautions)


def _printed_gears(m: Machine) -> bool:
    return any((*m.gears.pinion_printed, *m.gears.gear_printed))


def _parts(m: Machine, made: str) -> list[str]:
    """Names of the parts of the body that are made so, as written."""
    paths = dict.fromkeys(p for p, how in zip(m.parts.paths, m.parts.made, strict=True) if how == made)
    return [written_name(m.parts, path) for path in paths]


def _many(count: int, one: str, several: str = "") -> str:
    return f"{count} {one if count == 1 else several or one + 's'}"


def named(all_stages: Sequence[Stage], name: str) -> Stage | None:
    """The stage of that name, None where this machine has none."""
    return next((stage for stage in all_stages if stage.name == name), None)
