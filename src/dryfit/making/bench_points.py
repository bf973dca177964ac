"""What there is to say about each kind of test point: how to read it, when to stop, what a reading outside means.

All of it is common practice of the bench; local codes and licensed practice come before it. `{symbol}` stands for a
number that the point is taken under and is filled in where the point is shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dryfit.making.records_bench import Cause, Outside


@dataclass(frozen=True)
class Words:
    """Words about one kind of point: the instrument, steps, when to stop, cautions, what outside the band means."""

    instrument: str
    how: tuple[str, ...]
    stop: str
    cautions: tuple[str, ...]
    outside: Outside


_FINGERS = "Fingers, hair and sleeves away from gears and rollers; power off before you reach in."
_PACKS = "Packs can weld a spanner: rings off, insulated tools, one pole at a time; local codes come first."
_CLEAR = "Nobody in the way; a second person holds the emergency stop and does nothing else."
_CLAMPED = "The unit jumps when it starts: clamp it down."


def _low(*pairs: tuple[str, str]) -> tuple[Cause, ...]:
    return tuple(Cause(what, tell) for what, tell in pairs)


_MASS = Outside(
    low=_low(
        ("thinner walls or less fill than planned", "weigh one wall of it, or look at the plate's own estimate"),
        ("something that belongs to it is missing", "go through its parts with the purchase list"),
        ("the scale was not set to nothing", "weigh a full bottle of one litre: about 1.04 kg with its bottle"),
    ),
    high=_low(
        ("thicker walls, more fill, or supports left inside", "weigh one wall of it, or look into it with a lamp"),
        ("cables, screws or glue were weighed with it", "weigh them alone"),
        ("the scale was not set to nothing", "weigh a full bottle of one litre: about 1.04 kg with its bottle"),
    ),
)

_WORDS: dict[str, Words] = {
    "mass": Words(
        "kitchen or luggage scale",
        ("Set the scale to nothing with the tray on it.", "Weigh the part with everything that belongs to it."),
        "What rocks on the scale is held by hand before it is read.",
        (),
        _MASS,
    ),
    "mass-sum": Words(
        "kitchen or luggage scale",
        ("Hang it from the scale, or stand on a floor scale with and without it.", "Read twice."),
        "Put it down when the scale nears its limit.",
        ("Lift with two when in doubt; local rules on manual handling decide.",),
        Outside(
            low=_low(
                ("something is not fitted yet", "compare the masses of its parts one by one"),
                ("one part came out light", "the reading of that part"),
            ),
            high=_low(
                ("wires, screws and glue, which no part carries", "weigh a bag of the same screws and wires"),
                ("one part came out heavy", "the reading of that part"),
            ),
        ),
    ),
    "wheel-load": Words(
        "one scale under each wheel, or one scale and blocks of its height",
        (
            "Set scales or blocks level under all wheels.",
            "Lock the wheels, arms in their first posture.",
            "Read all wheels; then turn the machine by one wheel and read again.",
        ),
        "A wheel that lifts off: hold the machine and take it down.",
        ("It stands higher and narrower on scales: hold it while it is up there.",),
        Outside(
            low=_low(
                ("the centre of mass lies away from this wheel", "the other wheels then read more, the sum unchanged"),
                ("scales not at one height", "shim this one by half a millimetre and read again"),
                ("lighter than planned", "the sum of all wheels"),
            ),
            high=_low(
                ("the centre of mass lies towards this wheel", "the other wheels then read less, the sum unchanged"),
                ("scales not at one height", "shim the others by half a millimetre and read again"),
                ("heavier than planned", "the sum of all wheels"),
            ),
        ),
    ),
    "tilt": Words(
        "board with a hinge, level with degrees",
        (
            "Lock the wheels; put a strip along the low edge so that it cannot slide.",
            "Slings or two people take the machine before the board moves.",
            "Tilt slowly until the highest wheel lets a strip of paper go; read the board.",
            "Turn the machine by 30 degrees and repeat: the least angle counts.",
        ),
        "As soon as a wheel gets light: no further.",
        ("A tall machine falls without warning: nobody below it, slings taut, feet clear.",),
        Outside(
            low=_low(
                ("the centre of mass is higher than planned", "tilt it both ways: low both ways means high"),
                ("the centre of mass lies to one side", "tilt it both ways: low one way, high the other; wheel loads"),
                ("wheels or frame give way", "watch the gap between wheel and frame while it tilts"),
            ),
            high=_low(
                ("the centre of mass is lower than planned", "tilt it both ways; weigh the upper sections"),
                ("not the weakest direction", "turn it by 30 degrees and repeat"),
                ("the low edge was held by the strip above the floor", "use a thinner strip"),
            ),
        ),
    ),
    "sway": Words(
        "ruler behind the top",
        (
            "Fix a ruler behind the top, crosswise to the way it drives.",
            "Drive at a crawl, one turn of the wheels; note the farthest left and right.",
        ),
        "When it rocks by more than a hand's breadth.",
        (_CLEAR,),
        Outside(
            low=(),
            high=_low(
                ("a wheel out of true", "the dial gauge on each rim"),
                ("play in mast, frame or hub", "push the top by hand, wheels standing: it stays where it is pushed"),
                ("it sways in its own rhythm", "stop: it swings on; drive slower or faster: the sway changes much"),
                ("rollers that bump", "count: it shakes many times in a turn of the wheel"),
            ),
        ),
    ),
    "free-current": Words(
        "clamp meter for direct current in one lead",
        (
            "Clamp the unit down, wheel in the air; bench supply at {U_bench}, limit at three times the reading.",
            "Let it run for one minute each way, then read; the gears have bedded in by then.",
        ),
        "More than three times the reading, smoke, smell, or a knock in the gears.",
        (_FINGERS, _CLAMPED),
        Outside(
            low=_low(
                ("gears or hub not coupled", "turn the wheel by hand: the motor does not turn"),
                ("a motor with a lower free current", "the same reading with the gears taken out"),
                ("meter in the wrong range", "a resistor of known current"),
            ),
            high=_low(
                ("the mesh binds", "turn the wheel by hand: a tight place once a turn; free travel at the rim"),
                ("the pinion is shimmed too deep", "take a thin shim away: the current falls"),
                ("bearings squeezed or out of line", "the same reading with the pinion out of mesh, wheel by hand"),
                ("a tired or other motor", "the same reading with the gears taken out"),
            ),
        ),
    ),
    "free-speed": Words(
        "mark on the rim and a stop-watch, or a tachometer",
        ("Same set-up as for the current, bench supply at {U_bench}.", "Time twenty turns of the mark; divide."),
        "A wheel that wobbles or walks on its axle.",
        (_FINGERS, _CLAMPED),
        Outside(
            low=_low(
                ("it rubs", "the free current is high as well"),
                ("fewer volts at the motor than at the supply", "read volts at the motor's terminals"),
                ("another gear ratio than planned", "count: motor turns for ten turns of the wheel"),
                ("a slower motor", "the same reading with the gears taken out"),
            ),
            high=_low(
                ("another gear ratio than planned", "count: motor turns for ten turns of the wheel"),
                ("a faster motor", "the same reading with the gears taken out"),
                ("the supply stands above its mark", "read volts at the motor's terminals"),
            ),
        ),
    ),
    "play": Words(
        "dial gauge on the rim, crosswise to a spoke",
        (
            "Hold the motor's shaft fast.",
            "Push the rim to one side with a finger, set the dial to nothing, push to the other side, read.",
            "Repeat at four places of the turn: least and greatest.",
        ),
        "Nothing turns in this test: supply unplugged.",
        (),
        Outside(
            low=_low(
                ("the pinion sits too deep", "for a ring take shims away, for outside teeth add; read again"),
                ("teeth came out thick", "callipers over three teeth against the drawing"),
                ("the ring is not round", "least and greatest of the four places differ by much"),
            ),
            high=_low(
                ("the pinion sits too shallow", "for a ring add shims, for outside teeth take away; read again"),
                ("the hub turns on its shaft", "paint a line across hub and shaft and push: it parts"),
                ("the gearbox of the motor has play", "hold the pinion instead of the shaft and read again"),
                ("teeth came out thin", "callipers over three teeth against the drawing"),
            ),
        ),
    ),
    "run-out": Words(
        "dial gauge on the rim",
        (
            "Foot of the gauge on the frame, tip on the rim; of a wheel with rollers, on the crest of each roller.",
            "Turn the wheel once by hand; greatest less least.",
        ),
        "Nothing is driven in this test: supply unplugged.",
        (),
        Outside(
            low=(),
            high=_low(
                ("the hub sits off the middle", "loosen, turn the wheel by half a turn on its hub, read again"),
                ("the axle is bent", "dial on the axle itself"),
                ("rollers of unequal height", "crest by crest: it jumps, and does not rise and fall once a turn"),
                ("the bearing has play", "push the wheel up and down at rest: the dial moves"),
            ),
        ),
    ),
    "half-current": Words(
        "clamp meter in the bridge's supply lead",
        (
            "Machine on blocks that cannot roll, this wheel in the air, full packs.",
            "Half command for ten seconds each way; read when it is steady.",
        ),
        "The bridge too hot to touch, or twice the reading.",
        (_FINGERS, "One hand on the emergency stop."),
        Outside(
            low=_low(
                ("the command is scaled in the firmware", "read the mean volts across the motor: half of the bus"),
                ("a lead has come off half of the bridge", "the other way round reads right"),
            ),
            high=_low(
                ("the wheel rubs", "the free current on the bench supply"),
                ("the bridge drives against itself or brakes between pulses", "current with the motor unplugged"),
                ("chopping frequency too low for the motor", "raise it: the current falls"),
            ),
        ),
    ),
    "locked-current": Words(
        "clamp meter that holds its peak",
        (
            "Machine on blocks; a soft wedge or a padded bar holds the wheel, nobody's hand does.",
            "One pulse at full command, no longer than half a second, full packs, motor cold.",
            "Let it cool for a minute; repeat twice.",
        ),
        "More than half a second, smell, or a bridge that trips.",
        (
            "It pulls with all it has: wedge tied down, hands off, faces away.",
            "A locked motor burns within seconds: pulses only.",
        ),
        Outside(
            low=_low(
                ("a poor contact or thin lead", "volts lost across each joint during the pulse"),
                ("packs not full, or cells tired", "volts of the bus during the pulse"),
                ("the bridge limits or trips", "the same pulse from the bench supply straight to the motor"),
                ("the pulse was too short for the meter", "a pulse twice as long"),
                ("the wheel gave way", "mark on wheel and wedge"),
            ),
            high=_low(
                ("another winding than the sheet's", "volts over amperes at one ampere, shaft held"),
                ("a shorted winding", "the other motors read less"),
            ),
        ),
    ),
    "pack-volts": Words(
        "multimeter",
        ("Charge it full, take it off the charger, wait an hour, nothing connected.", "Read at its own plug."),
        "A pack that is warm, swollen, or smells: outside with it.",
        (_PACKS,),
        Outside(
            low=_low(
                ("not charged full", "charge again and see whether the charger ends by itself"),
                ("one cell is low", "volts of each cell at the balance plug"),
                ("old or frozen", "volts under a 1 ohm load for ten seconds"),
            ),
            high=_low(
                ("read too soon after charging", "wait another hour"),
                ("another chemistry or number of cells", "the label; never guess with a charger"),
            ),
        ),
    ),
    "pack-difference": Words(
        "multimeter across the gap",
        ("Join the minus poles only.", "Read between the plus poles, every pair, before any plug goes in."),
        "More than the band: charge the lower one first, do not join.",
        (_PACKS,),
        Outside(
            low=(),
            high=_low(
                ("packs charged at different times", "charge both again, wait an hour, read again"),
                ("a cell is low in one of them", "volts of each cell at the balance plugs"),
            ),
        ),
    ),
    "rail-volts": Words(
        "multimeter at the regulator's output",
        (
            "Nothing else on the rail: dummy load of {R_dummy} for {I_dummy}, that bears {P_dummy} of heat.",
            "Full packs; read after one minute.",
        ),
        "Module too hot to touch, or volts above the band: off before anything is connected to it.",
        ("The dummy load gets hot: on a tile, nothing near it.",),
        Outside(
            low=_low(
                ("set too low", "read without the dummy load: low as well"),
                ("module weaker than its label", "read without the dummy load: right; with a quarter of it: nearly"),
                ("volts lost before it", "read at the module's input under load"),
            ),
            high=_low(
                ("set too high", "read without the dummy load: high as well"),
                ("sense or ground wire open", "volts between the module's ground and the bus's"),
            ),
        ),
    ),
    "strip-current": Words(
        "clamp meter in the feed wires",
        (
            "All LEDs white, brightness at the cap of the firmware; logic on its own supply if possible.",
            "Read the sum of all feeds within ten seconds.",
        ),
        "A wire or the foil that gets warm to the hand, or colour that turns brown.",
        ("Bright: look away from it.",),
        Outside(
            low=_low(
                ("a lot of LEDs that draws less", "one metre on the bench supply at the same volts"),
                ("volts missing at the far end", "the volts at the farthest LED"),
                ("the cap is not what the design says", "the number in the firmware"),
                ("some LEDs dark", "look along the strip"),
            ),
            high=_low(
                ("a lot of LEDs that draws more", "one metre on the bench supply at the same volts"),
                ("the cap is not what the design says", "the number in the firmware"),
                ("more LEDs than planned", "count those of one strip"),
                ("logic or fans on the same wires", "all LEDs dark: what is left"),
            ),
        ),
    ),
    "strip-volts": Words(
        "multimeter with fine tips",
        ("As for the current.", "Tips on plus and ground of the LED that lies farthest from any feed."),
        "A wire or the foil that gets warm to the hand.",
        ("A tip that slips shorts the strip: fine tips, one hand.",),
        Outside(
            low=_low(
                ("a feed has no contact", "volts at each feed, one after another"),
                ("thin or long feed wires", "volts lost from regulator to feed"),
                ("the rail gives way", "volts at the regulator at the same time"),
                ("LEDs draw more than planned", "the current of the strips"),
            ),
            high=_low(
                ("LEDs draw less than planned", "the current of the strips"),
                ("the rail is set high", "volts at the regulator at the same time"),
                ("not the farthest LED", "try its neighbours: the least counts"),
            ),
        ),
    ),
    "pull": Words(
        "luggage scale hooked on low down",
        (
            "Driven wheels wedged so that they cannot turn, casters along the pull.",
            "Pull forwards, level, no higher than the axles, slowly; read while it slides.",
            "Five times in five places: the mean counts.",
        ),
        "A wheel that lifts, or a scale at its end.",
        ("Never pull high up: it tips towards you.", _CLEAR),
        Outside(
            low=_low(
                ("dust, damp or polish on floor or rollers", "wipe both and pull again"),
                ("a wheel turns instead of sliding", "mark on wheel and wedge"),
                ("lighter than planned", "the sum of the wheel loads"),
            ),
            high=_low(
                ("a roller or wheel caught in a joint", "pull in another place"),
                ("softer rollers or a rougher floor than planned", "pull on the floor of the show"),
                ("heavier than planned", "the sum of the wheel loads"),
            ),
        ),
    ),
    "run": Words(
        "stop-watch and a marked line",
        (
            "Mark 3 m on the floor; machine at the first mark, at rest, show speed set in the firmware.",
            "Full stick; the firmware's own ramp starts and stops it at the marks. Read standstill to standstill.",
            "Three times; note as well how far it is off the line at the end.",
        ),
        "It leaves the line by more than its own width.",
        (_CLEAR,),
        Outside(
            low=_low(
                ("the scale from command to speed is wrong", "turns of the wheel in ten seconds, lifted"),
                ("wheels larger than planned", "one turn along the tape"),
                ("it starts or stops harder than the ramp", "film it beside a ruler"),
            ),
            high=_low(
                ("wheels slip", "chalk on the rollers: the marks smear"),
                ("volts sag or the motor is short of torque", "volts of the bus, and current, while it runs"),
                ("the scale from command to speed is wrong", "turns of the wheel in ten seconds, lifted"),
                ("one wheel drives less than the others", "it bends off the line; free speed of each unit"),
            ),
        ),
    ),
    "stopping-distance": Words(
        "tape, and a second person at the line",
        (
            "Drive at {v} over a line; let go of the stick when the front is at it.",
            "Measure from the line to where the front stands. Three times, first at half the speed.",
        ),
        "A wheel that lifts in stopping: drive slower, do not repeat.",
        (_CLEAR, "First at a crawl; nobody stands beyond the line."),
        Outside(
            low=_low(
                ("slower than planned", "the time over 3 m"),
                ("it brakes harder than the ramp", "watch for a lifting wheel; set the ramp in the firmware"),
            ),
            high=_low(
                ("faster than planned", "the time over 3 m"),
                ("the floor slopes down", "the same run the other way"),
                ("wheels slip", "chalk on the rollers: the marks smear"),
                ("the command arrives late", "film stick and wheel together and count the pictures"),
            ),
        ),
    ),
    "link-loss-distance": Words(
        "tape, and a second person at the line",
        (
            "The way after the stick is let go comes first, and must be right.",
            "Drive at {v} over a line; switch the transmitter off when the front is at it. Measure as before.",
        ),
        "It does not stop by itself: emergency stop, and no more driving until it does.",
        (_CLEAR, "A receiver that keeps its last command drives on: room for that, and the stop in hand."),
        Outside(
            low=_low(
                ("slower than planned", "the time over 3 m"),
                ("it stops harder than the ramp when the link is lost", "watch for a lifting wheel"),
            ),
            high=_low(
                ("the receiver holds the last command longer", "wheels in the air: time from switching off to rest"),
                ("faster than planned", "the time over 3 m"),
                ("the floor slopes down", "the same run the other way"),
            ),
        ),
    ),
    "plate": Words(
        "clock",
        ("From the start of heating until the last line is down.",),
        "Loose lines or a part that lifts: stop the plate, it will not get better.",
        ("Nozzle and bed burn; let them cool.",),
        Outside(
            low=_low(
                ("larger nozzle, thicker layers or less fill than planned", "the settings of the plate"),
                ("the printer runs faster than the design says", "time of a long straight line"),
            ),
            high=_low(
                ("thinner layers, more walls or supports than planned", "the settings of the plate"),
                ("the printer slows down in corners", "a plate of long straight parts comes nearer"),
                ("it waited for layers to cool", "watch a small layer near the top"),
            ),
        ),
    ),
}  # fmt: skip

KINDS = tuple(_WORDS)
"""Every kind of point that there are words for."""


def words(kind: str, given: Mapping[str, str]) -> Words:
    """What there is to say about a kind of point. given: by symbol the numbers that it is taken under, as shown."""
    w = _WORDS[kind]
    return Words(w.instrument, tuple(_filled(step, given) for step in w.how), w.stop, w.cautions, w.outside)


def _filled(text: str, given: Mapping[str, str]) -> str:
    for symbol, shown in given.items():
        text = text.replace("{" + symbol + "}", shown)
    return text
