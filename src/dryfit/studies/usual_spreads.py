"""How well the numbers of a machine are usually known, by kind, and how each is measured at the bench.

The table speaks where the design gives no ± and no default brings its own spread. Every rule is common practice unless
it names a source. The first rule whose pattern fits a path is the one that counts; a rule of no width says why nothing
is in doubt. Patterns are those of a shell, on the path without the numbers in brackets: "body.parts.mass".
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import lru_cache


@dataclass(frozen=True)
class Usual:
    """One rule. below, above: how far the truth may lie under and over the number, as fractions of it, or in SI units
    where `absolute`.  measure: how to find out, a sentence; empty where there is nothing to find out.

    always: also where a default was taken that brings a spread of its own.
    """

    patterns: tuple[str, ...]
    below: float
    above: float
    reason: str
    measure: str = ""
    absolute: bool = False
    always: bool = False


def _within(patterns: str, half: float, reason: str, measure: str) -> Usual:
    return Usual(tuple(patterns.split()), half, half, reason, measure)


def _by(patterns: str, half: float, reason: str, measure: str) -> Usual:
    """The same with a half-width in SI units: millimetres do not grow with the length they are measured on."""
    return Usual(tuple(patterns.split()), half, half, reason, measure, absolute=True)


def _known(patterns: str, reason: str, always: bool = False) -> Usual:
    return Usual(tuple(patterns.split()), 0.0, 0.0, reason, always=always)


_CHOSEN = "chosen or promised, not found out"
_DRAWN = "drawn; what the printer makes of it stands under workshop"
_RATING = "what a sheet allows: a limit to measure by"
_FIRMWARE = "set in the firmware"
_COUNTED = "counted, not measured"
_TAPE = "Measure it on the finished part with a tape or a calliper."
_THERMAL = (
    "Run it at a steady load until it gets no warmer, note current, voltage and temperature with a stick-on probe, and "
    "divide the rise by the heat. Hot parts burn: let them cool before you touch them."
)
_WEIGH = "Put it on a kitchen or luggage scale, everything fitted that belongs to it."
_BALANCE = "Balance the finished part on an edge, along each axis in turn, and mark where it tips."
_SCALE_PULL = "with a luggage scale hooked on low down"
_STRENGTH = (
    "Print three test bars lying as the part lies and hang weights on them until they break. Stand aside and wear "
    "glasses: they splinter."
)
_PACK_LOAD = (
    "Read the rested voltage, then again after ten seconds under a 1 ohm load; the drop over the current is the "
    "resistance. The resistor gets hot within seconds, and a pack that is shorted burns: fit the fuse first."
)
_LOCKED = (
    "Clamp the gearmotor, lock its shaft, and read current and pull on a lever of known length for a blink, no more "
    "than a second, fuse fitted and fingers out of reach."
)
_FREE_RUN = "Let it run with nothing on the shaft, at the voltage typed, and read the clamp meter and a speed counter."
_CLAMP_METER = "Put a clamp meter around its supply wire while it does this work."
_METER = "Read it with a multimeter."
_THERMOMETER = "Hang a thermometer there for a day."
_OHMS = "Send one ampere through it and read the voltage across it: volts are ohms."

RULES: tuple[Usual, ...] = (
    # what is never in doubt, defaults included
    _known("reserves.*", "asked for, not found out", always=True),
    _known("control.supply_voltage", "the rail is made to it, and its own doubt stands there", always=True),
    _known("*.limits.*", "a habit of the trade that a check measures by", always=True),
    _known("body.parts.density body.parts.fill", "its doubt is part of the doubt about the part's mass", always=True),
    _known("base.axle.bearing.bore", "bought to fit the axle; its tolerance class is counted", always=True),
    _known(
        "light.strips.full_white_high light.strips.full_white_low", "follows the current of the strip in hand",
        always=True,
    ),
    _known(
        "base.wheels.*diameter_scatter base.wheels.*run_out",
        "a scatter from wheel to wheel, which the checks count at its worst already", always=True,
    ),
    # brief: what was promised, and the place
    _known(
        "brief.speed brief.acceleration brief.braking brief.turn_rate brief.public_distance brief.show_length "
        "brief.hours_per_day brief.days brief.driving_share brief.climbing_share brief.budget brief.push "
        "brief.push_height",
        _CHOSEN,
    ),
    _within(
        "brief.friction", 0.3, "grip changes with dust, damp and polish",
        f"Hold the wheels fast, pull the whole machine along the show floor {_SCALE_PULL}, and divide the pull at "
        "which it slides by the weight.",
    ),
    _within(
        "brief.rolling_resistance", 0.3, "rolling changes with joints, dirt and rollers",
        f"Pull the machine at a slow walk over the show floor {_SCALE_PULL}, motors unplugged, and divide the steady "
        "pull by the weight.",
    ),
    _within("brief.slope", 0.15, "a ramp is not one plane", "Lay a level with degrees on the ramp in three places."),
    _within(
        "brief.step brief.joint_width", 0.25, "no two of them are alike",
        "Measure the worst on the way the machine goes.",
    ),
    _by(
        "brief.door_width brief.door_height", 5e-3, "frames lean and doors do not open flat",
        "Measure the door wide open, in three heights.",
    ),
    _by("brief.ambient", 4.0, "the weather is not known yet", _THERMOMETER),
    _by("brief.vehicle_temperature", 8.0, "the weather is not known yet", _THERMOMETER),
    # workshop: settings, and what the printer really does
    _known(
        "workshop.nozzle workshop.line_width workshop.layer_height workshop.shims",
        "set in the slicer or stamped on the stock",
    ),
    _by(
        "workshop.hole_offset", 0.1e-3, "changes with material, size and cooling",
        "Print a coupon with holes of your sizes in the material meant, and measure them with a calliper.",
    ),
    _within(
        "workshop.print_tolerance workshop.first_layer_flare", 0.4, "changes with material, size and cooling",
        "Print the same coupon five times on different days and measure how far they differ.",
    ),
    _within(
        "workshop.mount_tolerance", 0.4, "a print on screws ends up where the holes let it",
        "Mount it three times over and measure the centre distance each time.",
    ),
    # wheels
    _by(
        "base.wheels.circle_radius base.wheels.track base.wheels.wheelbase",
        3e-3, "a frame put together by hand", "Measure from wheel to wheel on the floor.",
    ),
    _known("base.wheels.first_at", "counted from where the front is said to be"),
    _within(
        "base.wheels.diameter base.wheels.*.diameter", 0.01, "rollers wear and give under load",
        "Roll the loaded machine ten turns along a tape.",
    ),
    _within("base.wheels.*roller_diameter", 0.03, "sheets round it", _TAPE),
    _by("base.wheels.*row_gap base.wheels.*width base.wheels.*trail", 1e-3, "sheets round it", _TAPE),
    _within(
        "base.wheels.*mass base.motor.mass power.packs.mass arms.groups.joints.servo.mass", 0.05,
        "sheet masses are rounded", _WEIGH,
    ),
    _known("base.wheels.*load_rating", _RATING),
    _known("base.wheels.*rollers base.wheels.*rows base.wheels.*count", _COUNTED),
    _known(
        "base.wheels.axle_at base.wheels.*.at base.wheels.each.heading base.wheels.each.roller_angle",
        "a layout, which the checks judge as drawn",
    ),
    # motor and driver
    _known("base.motor.voltage", "the voltage that the sheet speaks of"),
    _within("base.motor.free_speed", 0.1, "sheets of gearmotors are rounded, and lots differ", _FREE_RUN),
    _within("base.motor.stall_torque", 0.15, "sheets of gearmotors are rounded, and lots differ", _LOCKED),
    _within("base.motor.stall_current", 0.15, "sheets of gearmotors are rounded, and lots differ", _LOCKED),
    _within("base.motor.free_current", 0.3, "grease and age change it", _FREE_RUN),
    _within(
        "base.motor.winding_resistance", 0.1, "brushes add to it, and copper gains 0.4 % a kelvin",
        "Measure it over the motor's leads at several angles of the shaft with a small current, and take the middle.",
    ),
    _within(
        "base.motor.inductance", 0.4, "hardly ever on a sheet",
        "Put a meter with an inductance range on the motor's leads, the shaft held still.",
    ),
    _within(
        "base.motor.inertia", 0.4, "hardly ever on a sheet",
        "Film how long it takes from rest to full speed with nothing on the shaft, and compare with the time worked "
        "out.",
    ),
    _within(
        "base.motor.scatter base.motor.breakaway", 0.3, "grease, age and load change it",
        "Read the running current of all motors at the same voltage, and the current at which each just starts.",
    ),
    _within(
        "base.motor.winding_to_housing base.motor.housing_to_air base.driver.thermal_resistance "
        "arms.groups.joints.servo.thermal_resistance",
        0.25, "it goes with mounting and moving air", _THERMAL,
    ),
    _within(
        "base.motor.winding_heat_capacity base.motor.housing_heat_capacity", 0.2,
        "from the weights of copper and steel", _THERMAL,
    ),
    _within("base.motor.can_diameter", 0.01, "a turned part", _TAPE),
    _known(
        "base.motor.highest_winding_temperature base.driver.continuous_current base.driver.limit_current "
        "base.driver.limits_current base.driver.supply_low base.driver.supply_high base.driver.highest_pwm_frequency",
        _RATING,
    ),
    _known("base.driver.pwm_frequency", _FIRMWARE),
    _within("base.driver.resistance_cold base.driver.resistance_hot", 0.15, "chips of one type differ", _OHMS),
    _within("base.driver.standby_current", 0.3, "chips of one type differ", _CLAMP_METER),
    _within(
        "base.driver.switching_time", 0.4, "it goes with the board",
        "An oscilloscope on the motor lead shows it; few workshops need it.",
    ),
    _within("base.driver.lead_resistance", 0.3, "leads end up longer or shorter than planned", _OHMS),
    # gears
    _known(
        "base.gears.module base.gears.*teeth base.gears.*shift base.gears.*addendum base.gears.dedendum "
        "base.gears.pressure_angle base.gears.root_fillet base.gears.centre_distance base.gears.face_width "
        "base.gears.backlash base.gears.mount_short_by base.gears.helix_angle",
        _DRAWN,
    ),
    _by(
        "base.gears.measured_gap", 0.05e-3, "feeler gauges go in steps",
        "Slide feeler gauges between the teeth in three places.",
    ),
    _within(
        "base.gears.*strength base.gears.pegs.shear_strength", 0.2,
        "printed strength goes with drying, heat and layers", _STRENGTH,
    ),
    _within(
        "base.gears.friction", 0.4, "grease, wear and material change it",
        "Not to be had alone: measure the losses of the whole drive.",
    ),
    _within(
        "base.gears.other_losses", 0.5, "seals and prints that are not quite round",
        "Run one wheel unit lifted off the floor and compare its current with that of the bare gearmotor. Keep hair "
        "and sleeves away from the gears.",
    ),
    _within(
        "base.gears.pinion_grip.friction base.axle.retention.friction", 0.3, "oil and surface change it",
        "Clamp it as meant and turn with a lever and a luggage scale until it slips.",
    ),
    _known("base.gears.hours base.gears.shock", _CHOSEN),
    _by(
        "base.gears.temperature base.gears.pinion_grip.lasting_temperature", 5.0, "warmth of the gearbox is guessed",
        "Press a stick-on thermometer to it after half an hour of driving.",
    ),
    _within(
        "base.gears.pinion_grip.screw_force", 0.3, "a screw tightened by hand", "Tighten with a torque screwdriver.",
    ),
    _known("base.gears.pegs.* base.gears.pinion_grip.*", _DRAWN),
    # axle, bearings, hub
    _known(
        "base.axle.diameter base.axle.bore base.axle.bearing.*", "made to a tolerance class, which the checks count",
    ),
    _within("base.axle.modulus", 0.03, "steels differ little", "Take it from the bar's certificate."),
    _within(
        "base.axle.tensile_strength base.axle.yield_strength", 0.05, "tables give least values",
        "Take it from the bar's certificate.",
    ),
    _within(
        "base.axle.endurance_ratio base.axle.notch_sensitivity base.axle.stress_concentration "
        "base.axle.expansion_mismatch base.axle.wheel_give base.axle.side_thrust",
        0.15, "handbook values", "Hardly measured at a bench; a rounder fillet and a smoother bar are the surer way.",
    ),
    _by(
        "base.axle.bearing_span base.axle.overhang base.axle.gear_offset base.axle.gear_station "
        "base.axle.wheel_station",
        1e-3, "blocks and collars are set by hand", _TAPE,
    ),
    _known(
        "base.axle.gear_angle base.axle.pressure_angle base.axle.gear_diameter base.axle.hub.* base.axle.seat.length"
        " base.axle.seat.wall base.axle.seat.allowance",
        _DRAWN,
    ),
    _within(
        "base.axle.seat.modulus", 0.3, "goes with filling and layers",
        "Hang a weight on a printed bar and read the sag.",
    ),
    _within("base.axle.retention.tightening_torque", 0.2, "tightened by feel", "Use a torque screwdriver."),
    _within(
        "base.axle.retention.nut_factor base.axle.retention.preload_kept base.axle.retention.end_stop_force", 0.25,
        "oil, washers and creep change it",
        "Tighten it, wait a day, and note how far it turns before it is tight again.",
    ),
    _known("base.axle.retention.screws", _COUNTED),
    _known("base.axle.retention.*", _DRAWN),
    _known("base.axle.shaft_load_rating", _RATING),
    # body
    _within("body.parts.mass", 0.02, "weighed on a kitchen scale", _WEIGH),
    _by(
        "body.parts.at body.parts.centre", 5e-3,
        "parts end up some millimetres from where they were drawn, and their weight is not quite in the middle",
        _BALANCE,
    ),
    _by("body.parts.turned", 0.0175, "set by eye", "Lay a level with degrees on it."),
    _by(
        "body.parts.size body.parts.length body.parts.diameter body.parts.wall body.parts.ring.radius "
        "body.parts.grid.spacing",
        1e-3, "made by hand or printed", _TAPE,
    ),
    _known(
        "body.parts.ring.count body.parts.ring.first body.parts.grid.count body.parts.count", "a layout, not a size",
    ),
    _within("body.rough.*", 0.1, "a first guess of the whole", _WEIGH),
    _within(
        "body.contact_stiffness", 0.5, "prints, rollers and frames give by unlike amounts",
        "Load one corner with a known weight and read with a calliper how far it goes down.",
    ),
    _within(
        "body.floor_unevenness", 0.4, "no two floors are alike",
        "Lay a straight bar of two metres on the floor and push feeler gauges under it.",
    ),
    # power
    Usual(
        ("power.packs.capacity",), 0.1, 0.0, "packs give less than their label, and less with age",
        "Discharge a charged pack with a known load down to its cut-off and count the hours. Stay with it.",
    ),
    _within("power.packs.resistance", 0.3, "sheets leave out board, leads and cold", _PACK_LOAD),
    _known(
        "power.packs.nominal_voltage power.packs.cells_in_series power.packs.hour_rate power.packs.count "
        "power.packs.spare_sets power.packs.difference_when_joined power.packs.charge",
        "a label, a count or a rule of handling",
    ),
    _within(
        "power.packs.cut_off", 0.02, "protection boards differ",
        "Watch the voltage at which the pack switches itself off under a small load. Stay with it.",
    ),
    _within(
        "power.packs.peukert", 0.02, "differs from maker to maker",
        "Compare the hours at a small and at a large load.",
    ),
    _known(
        "power.packs.max_current power.packs.max_charge_current power.*.fuse power.main.switch_current "
        "power.branches.regulator.current power.branches.regulator.*_input power.*.insulation_temperature "
        "power.*.contacts power.*.bundled power.*.area power.*.resistance_per_length",
        "a rating or a size by its standard",
    ),
    _within(
        "power.packs.lead_lengths power.*.length", 0.1, "harnesses wander on their way",
        "Lay a string along the way that the wire will go.",
    ),
    _by(
        "power.*.temperature", 8.0, "warmth inside a closed body is guessed",
        "Tape a thermometer to the bundle for an hour of driving.",
    ),
    _within("power.main.switch_resistance", 0.3, "contacts wear", _OHMS),
    _within(
        "power.*.capacitance", 0.2, "electrolytic capacitors are sold within a fifth",
        "A multimeter with a capacitance range shows it. Discharge it first.",
    ),
    _within("power.branches.hold_up.diode", 0.15, "goes with current and warmth", _METER),
    _within(
        "power.branches.current power.branches.load_* power.branches.regulator.quiescent control.current "
        "control.extra_current",
        0.3, "sheets are rounded and modules differ", _CLAMP_METER,
    ),
    _within(
        "power.branches.fed_back_energy", 0.3, "goes with how hard the arms stop",
        "Watch the rail's highest voltage on a meter that holds peaks while the arms stop.",
    ),
    _within(
        "power.branches.regulator.efficiency", 0.03, "goes with load and voltage",
        "Measure volts and amperes before and behind it at full load.",
    ),
    _within(
        "power.branches.regulator.dropout", 0.2, "goes with load",
        "Lower its input on a bench supply until the output falls.",
    ),
    _within("power.branches.regulator.output", 0.02, "set by resistors of 1 %, or by a screw", _METER),
    _within("power.signals.*", 0.05, "chips of one type differ", _METER),
    # control
    _known("control.pin_current control.total_current control.functions.*", _RATING),
    _within(
        "control.brown_out", 0.03, "chips of one type differ",
        "Lower its supply on a bench supply until it restarts.",
    ),
    _within("control.leakage", 0.5, "goes with warmth", "Too small for a workshop's meter; choose firm pull-downs."),
    _within("control.driver_inputs.pull_* light.data.series_resistor", 0.05, "resistors are sold within 5 %", _METER),
    # light
    _known(
        "light.cap light.current_budget light.scenes.* light.data.frame_rate light.data.lines light.strips.bit_time "
        "light.strips.reset_time light.strips.bits_per_led",
        _FIRMWARE,
    ),
    _known(
        "light.strips.count light.strips.leds_per_length light.strips.pitch light.strips.voltage "
        "light.strips.input_share light.strips.feeds light.strips.first_feed",
        "a count, a label or a rule of the chip",
    ),
    _within("light.data.lead_length light.strips.length", 0.03, "cut to fit", _TAPE),
    _within("light.data.level_shifter light.data.logic_volts", 0.03, "it goes with its supply", _METER),
    _within(
        "light.strips.full_white", 0.1, "lots differ",
        "Light one metre all white at its rated voltage and read the current, divided by its LEDs.",
    ),
    _within(
        "light.strips.dark light.strips.lumens light.strips.input_capacitance light.strips.foil_resistance", 0.3,
        "seldom on a sheet", "Light one metre black, then white, and read current and the voltage at both ends.",
    ),
    _within(
        "light.strips.colour_volts", 0.05, "blue diodes differ",
        "Lower the supply of a white strip until it turns yellow.",
    ),
    _within(
        "light.strips.diffuser.transmission", 0.15, "tubes of one name differ",
        "Hold a light meter behind the lit tube and behind nothing.",
    ),
    _by("light.strips.core.* light.strips.diffuser.*", 0.5e-3, "stock sizes", _TAPE),
    # arms
    _known(
        "arms.groups.count arms.groups.joints.lowest arms.groups.joints.highest arms.groups.joints.speed_cap "
        "arms.postures.*",
        _FIRMWARE,
    ),
    _known("arms.groups.first_at arms.groups.angles", "a degree on the ring moves nothing that is checked"),
    _by(
        "arms.groups.mount_* arms.groups.joints.offset arms.groups.joints.link.length arms.groups.joints.link.centre"
        " arms.groups.payload.centre arms.groups.payload.size",
        2e-3, "arms put together by hand", _BALANCE,
    ),
    _within(
        "arms.groups.joints.link.mass arms.groups.payload.mass arms.groups.joints.counterweight*", 0.05,
        "prints and fasteners add up", _WEIGH,
    ),
    _within("arms.groups.joints.spring*", 0.1, "springs are sold within a tenth", "Hang a known weight on it."),
    _known("arms.groups.joints.servo.voltage arms.groups.joints.gear_ratio", "a label or a count"),
    _within(
        "arms.groups.joints.servo.stall_torque arms.groups.joints.servo.speed", 0.15, "servo sheets promise much",
        "Clamp the servo, hang weights on a lever, and add until it no longer lifts. Stand clear of the falling "
        "weight.",
    ),
    _within(
        "arms.groups.joints.servo.stall_current", 0.25, "servo sheets are rounded",
        "Hold its lever fast for a blink and read the clamp meter around its supply wire; no longer than a second, "
        "it gets hot.",
    ),
    _within("arms.groups.joints.servo.*current", 0.25, "servo sheets are rounded", _CLAMP_METER),
    _within(
        "arms.groups.joints.servo.lash arms.groups.joints.servo.deadband", 0.4, "grows with wear",
        "Move the end of the arm by hand and read the play on a ruler.",
    ),
    # safety
    _within(
        "safety.contact.edge_stiffness", 0.3, "foam differs and hardens",
        "Press the edge with a luggage scale and read how far it gives.",
    ),
    _known("safety.edge_speed_arms safety.*speed*", _FIRMWARE),
    _by(
        "safety.gaps.smallest", 1e-3, "gaps close as parts settle",
        "Push gauge blocks or drills of known size into the gap.",
    ),
    _within(
        "safety.link_loss.time", 0.2, "radio and firmware add their delays",
        "Switch the sender off while filming wheel and switch, and count the pictures. Wheels off the floor.",
    ),
    _known("safety.*", _CHOSEN),
    # making: what is printed, cut, bought and wired decides no check
    _known(
        "workshop.printers.* workshop.filaments.* workshop.printing.* workshop.more_prints.* workshop.stock.* "
        "workshop.time_factor workshop.outside_offset workshop.failures_* workshop.longest_plate body.parts.print.* "
        "body.parts.pieces.* arms.groups.payload.print.* base.gears.rim base.gears.hub_* base.gears.chamfer wiring.* "
        "purchases.*",
        "decides how it is made, not how it behaves", always=True,
    ),
)  # fmt: skip

NO_RULE = Usual(("*",), 0.1, 0.1, "nothing says how well this is known: a tenth is taken", "Measure it as you can.")
"""What is taken for a number that no rule fits, so that none passes for exact in silence."""


@lru_cache(maxsize=4096)
def usual(path: str) -> Usual:
    """The rule for the number at a path of the design, such as "body.parts[2].mass"."""
    plain = re.sub(r"\[\d+\]", "", path)
    return next((rule for rule in RULES if any(fnmatchcase(plain, p) for p in rule.patterns)), NO_RULE)


def patterns() -> Iterator[str]:
    """Every pattern of the table, in its order."""
    return (p for rule in RULES for p in rule.patterns)
