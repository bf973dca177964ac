"""What may be changed at all, what that costs, and how far one would believably go.

One readable table. The first pattern that fits a path decides; `[*]` stands for any entry of a list. What the table
does not name is a lever if it is written in the file, at the price of a part order. The prices are common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from dryfit.studies.records_fix import Price

FREE, PART, REPRINT, LESS = Price.FREE, Price.PART, Price.REPRINT, Price.LESS


@dataclass(frozen=True)
class Rule:
    """price: None where this is no lever, for the reason `why`.

    low, high: how far a number is moved, as factors; for numbers that are zero or carry a sign, `reach` either way, SI.
    sizes: name of the series of sizes that it comes in; empty for plain lengths, masses and shares.
    absent: whether it is also a lever where the file does not write it and a default was taken.
    mind: what has to follow by hand.
    """

    price: Price | None
    why: str = ""
    low: float = 0.5
    high: float = 2.0
    reach: float = 0.0
    sizes: str = ""
    absent: bool = False
    mind: str = ""


def _not(why: str) -> Rule:
    return Rule(None, why)


_PLACE = _not("the place and its people are as they are")
_NATURE = _not("a property, not a choice")
_SHEET = _not("the sheet of a part says so: choose another part")
_MEASURED = _not("measured, not chosen")
_SHOWN = _not("what the show is")
_GOAL = _not("what the check measures by; moving it would not make the machine better")
_TRUTH = _not("says what is so")
_CLOSER = "the parts move closer together"
_LOOK = "see whether the posture still says what it should"
_PANELS = "frame, panels and the place of the wheel units follow"
MOVED = "what it stands on has to follow"
_LIGHTER = "the part has to be made to weigh that"

_TABLE: tuple[tuple[str, Rule], ...] = (
    # what checks measure by, and what merely is
    (r".*\.limits\..*|reserves\..*|readings.*", _GOAL),
    (r"brief\.(speed|turn_rate)", Rule(LESS, low=0.4, high=1.0, sizes="two figures")),
    (r"brief\.(acceleration|braking)", Rule(LESS, low=0.3, high=1.0, sizes="two figures")),
    (r"brief\.slope", Rule(LESS, low=0.3, high=1.0, mind="choose a route that is no steeper")),
    (r"brief\.(hours_per_day|show_length|driving_share|climbing_share)", Rule(LESS, low=0.4, high=1.0)),
    (r"brief\.public_distance", Rule(LESS, low=1.0, high=3.0, mind="rope it off")),
    (r"brief\..*", _PLACE),
    (r"workshop\.nozzle", Rule(REPRINT, low=0.5, high=2.0, sizes="nozzles", mind="line width and layers follow")),
    (r"workshop\.(layer_height|line_width)", Rule(REPRINT, low=0.5, high=1.6, sizes="layers")),
    (r"workshop\..*", _MEASURED),
    # base
    (r"base\.wheels\.circle_radius", Rule(REPRINT, low=0.5, high=3.0, mind=_PANELS)),
    (r"base\.wheels\.item", Rule(PART, mind="axle and hub have to suit")),
    (r"base\.wheels\.(layout|first_at|wheels.*|casters.*)", _SHOWN),
    (r"base\.wheels\..*", _SHEET),
    (r"base\.motor\.(item)", Rule(PART, mind="pinion and mount have to suit its shaft")),
    (r"base\.motor\.(feedback)", Rule(PART)),
    (r"base\.motor\.mount_material", Rule(REPRINT)),
    (r"base\.motor\.(stall_torque|free_speed)", Rule(PART, low=0.5, high=3.0, sizes="two figures")),
    (r"base\.motor\..*", _SHEET),
    (r"base\.driver\.item", Rule(PART)),
    (r"base\.driver\.pwm_frequency", Rule(FREE, low=0.05, high=5.0, sizes="two figures")),
    (r"base\.driver\.(starts|stops)", Rule(FREE, absent=True)),
    (r"base\.driver\..*", _SHEET),
    (r"base\.gears\[\*\]\.(kind|printed|hours|temperature|friction|other_losses|shock|measured_gap)", _NATURE),
    (r"base\.gears\[\*\]\.(pressure_angle|dedendum|root_fillet|hob.*|.*strength|.*modulus|.*poisson)", _NATURE),
    (r"base\.gears\[\*\]\.lubricated", Rule(FREE, absent=True)),
    (r"base\.gears\[\*\]\.(thinned|roots)", Rule(REPRINT, absent=True)),
    (r"base\.gears\[\*\]\.(layers|assembly)", Rule(REPRINT, absent=True)),
    (r"base\.gears\[\*\]\.module", Rule(REPRINT, low=0.4, high=2.6, sizes="modules")),
    (r"base\.gears\[\*\]\.(pinion|gear)_teeth", Rule(REPRINT, low=0.4, high=2.5)),
    (r"base\.gears\[\*\]\.centre_distance", Rule(REPRINT, low=0.4, high=2.0, mind="the motor's mount moves")),
    (r"base\.gears\[\*\]\.(pinion|gear)_shift", Rule(REPRINT, reach=0.6, absent=True)),
    (r"base\.gears\[\*\]\.(pinion|gear)_addendum", Rule(REPRINT, low=0.7, high=1.1, absent=True)),
    (r"base\.gears\[\*\]\.backlash", Rule(REPRINT, low=0.25, high=3.0, sizes="fine lengths")),
    (r"base\.gears\[\*\]\.mount_short_by", Rule(REPRINT, low=0.2, high=2.0, sizes="fine lengths")),
    (r"base\.gears\[\*\]\.(pinion|gear)_material", Rule(REPRINT)),
    (r"base\.gears\[\*\]\.pinion_grip\.(kind|flat_depth|screws|key_height)", Rule(PART, absent=True)),
    (r"base\.gears\[\*\]\.pinion_grip\.length", Rule(REPRINT, low=0.5, high=2.0)),
    (r"base\.gears\[\*\]\.pegs\.(count|diameter|length|circle|made)", Rule(REPRINT, low=0.5, high=2.5, absent=True)),
    (r"base\.gears\[\*\]\.(pinion_grip|pegs)\..*", _NATURE),
    (r"base\.axle\.diameter", Rule(PART, low=0.5, high=2.0, sizes="bars", mind="bearings and hub follow")),
    (r"base\.axle\.(material|tolerance)", Rule(PART)),
    (r"base\.axle\.bearing\.item", Rule(PART)),
    (r"base\.axle\.(bearing_span|overhang|gear_offset)", Rule(REPRINT, low=0.5, high=1.6)),
    (r"base\.axle\.bore", Rule(PART, reach=0.01)),
    (r"base\.axle\.(locating|stress_raiser)", Rule(FREE)),
    (r"base\.axle\.housing", Rule(PART)),
    (r"base\.axle\.retention\.tightening_torque", Rule(FREE, low=0.4, high=2.5, sizes="two figures")),
    (r"base\.axle\.retention\.(kind|screw|end_stop|screws|flat_depth|key_.*|pin_.*)", Rule(PART)),
    (r"base\.axle\.hub\.(length|wall|allowance|bearing_spacing)", Rule(REPRINT, low=0.5, high=2.0)),
    (r"base\.axle\.hub\.made", Rule(PART)),
    (r"base\.axle\.seat\.(allowance|wall)", Rule(REPRINT, low=0.4, high=2.5, sizes="fine lengths")),
    (r"base\.axle\..*", _NATURE),
    # body
    (r"body\.through_door", Rule(PART, mind="the sections need joints")),
    (r"body\.contact_stiffness", _NATURE),
    (r"body\.floor_unevenness", _PLACE),
    (r"body\.parts\[\*\]\.at\[2\]", Rule(REPRINT, low=0.7, high=1.2, mind=MOVED)),
    (r"body\.parts\[\*\]\.at\[[01]\]", Rule(REPRINT, reach=0.15, mind=MOVED)),
    (r"body\.parts\[\*\]\.ring\.radius", Rule(REPRINT, low=0.85, high=1.15, mind=MOVED)),
    (r"body\.parts\[\*\]\.mass", Rule(PART, low=0.6, high=2.0, mind=_LIGHTER)),
    (r"body\.parts\[\*\]\.(size\[\*\]|diameter|length)", Rule(REPRINT, low=0.7, high=1.0)),
    (r"body\.parts\[\*\]\.wall", Rule(REPRINT, low=0.5, high=2.0, sizes="fine lengths")),
    (r"body\.parts\[\*\]\.material", Rule(REPRINT)),
    (r"body\..*", _SHOWN),
    # power
    (r"power\.packs\.item", Rule(PART)),
    (r"power\.packs\.count", Rule(PART, low=0.5, high=3.0, mind="a place and its mass in the body")),
    (r"power\.packs\.spare_sets", Rule(PART, reach=3.0, absent=True)),
    (r"power\.(packs\.lead|main|branches\[\*\])\.area", Rule(PART, low=0.1, high=20.0, sizes="wires")),
    (r"power\.(packs\.lead|main|branches\[\*\])\.fuse", Rule(PART, low=0.1, high=4.0, sizes="fuses")),
    (r"power\.(packs\.lead|main|branches\[\*\])\.fuse_class", Rule(PART, absent=True)),
    (r"power\.(packs\.lead|main|branches\[\*\])\.(connector|item)", Rule(PART)),
    (r"power\.(packs\.lead|main|branches\[\*\])\.contacts", Rule(PART, low=1.0, high=4.0)),
    (r"power\.(packs\.lead|main|branches\[\*\])\.length", Rule(REPRINT, low=0.5, high=1.5, mind=_CLOSER)),
    (r"power\.packs\.lead_lengths\[\*\]", Rule(PART, low=0.5, high=2.0)),
    (r"power\.branches\[\*\]\.regulator\.item", Rule(PART)),
    (r"power\.branches\[\*\]\.regulator\.(output)", Rule(FREE, low=0.9, high=1.1, sizes="two figures")),
    (r"power\.branches\[\*\]\.regulator\..*", _SHEET),
    (r"power\.branches\[\*\]\.returns_with", Rule(PART)),
    (r"power\.branches\[\*\]\.(capacitance|hold_up\.capacitance)", Rule(PART, low=0.1, high=10.0, sizes="capacitors")),
    (r"power\.main\.switch_current", Rule(PART, low=0.5, high=4.0, sizes="fuses")),
    (r"power\..*", _NATURE),
    # control
    (r"control\.item", Rule(PART)),
    (r"control\.functions\[\*\]\.pin", Rule(FREE)),
    (r"control\.functions\[\*\]\.frequency", Rule(FREE, low=0.05, high=5.0, sizes="two figures")),
    (r"control\.driver_inputs\[\*\]\.pull_down", Rule(PART, low=0.02, high=50.0, sizes="resistors", absent=True)),
    (r"control\..*", _TRUTH),
    # light
    (r"light\.cap", Rule(FREE, low=0.25, high=1.0, absent=True)),
    (r"light\.scenes\[\*\]\.level", Rule(FREE, low=0.3, high=1.0)),
    (r"light\.(scenes|current_budget).*", _SHOWN),
    (r"light\.strips\[\*\]\.item", Rule(LESS, mind="look at it: another strip gives another light")),
    (r"light\.strips\[\*\]\.feeds", Rule(PART, absent=True)),
    (r"light\.strips\[\*\]\.count", Rule(LESS, low=0.5, high=1.0)),
    (r"light\.strips\[\*\]\.length", Rule(LESS, low=0.6, high=1.0, sizes="LEDs")),
    (r"light\.strips\[\*\]\.core\..*", Rule(PART, low=0.5, high=2.0)),
    (r"light\.strips\[\*\]\.diffuser\.(item|diameter|wall|distance)", Rule(PART, low=0.5, high=2.0)),
    (r"light\.strips\[\*\]\..*", _SHEET),
    (r"light\.data\.frame_rate", Rule(FREE, low=0.4, high=1.5)),
    (r"light\.data\.series_resistor", Rule(PART, low=0.05, high=10.0, sizes="resistors")),
    (r"light\.data\.lead_length", Rule(PART, low=0.1, high=2.0)),
    (r"light\.data\.lines", Rule(FREE, low=1.0, high=8.0, absent=True, mind="a data pin for each line")),
    (r"light\.data\.level_shifter", Rule(PART, sizes="level shifters", absent=True)),
    (r"light\.data\..*", _NATURE),
    # arms
    (r"arms\.postures\[\*\]\.angles\..*", Rule(FREE, reach=0.6, mind=_LOOK)),
    (r"arms\.groups\[\*\]\.joints\[\*\]\.servo\.item", Rule(PART)),
    (r"arms\.groups\[\*\]\.joints\[\*\]\.servo\..*", _SHEET),
    (r"arms\.groups\[\*\]\.joints\[\*\]\.link\.(length|mass|centre)", Rule(REPRINT, low=0.5, high=1.3)),
    (r"arms\.groups\[\*\]\.joints\[\*\]\.(lowest|highest)", Rule(FREE, reach=0.6)),
    (r"arms\.groups\[\*\]\.joints\[\*\]\.speed_cap", Rule(FREE, low=0.2, high=3.0, sizes="two figures")),
    (r"arms\.groups\[\*\]\.joints\[\*\]\.(spring|counterweight).*", Rule(PART, low=0.3, high=3.0, reach=3.0)),
    (r"arms\.groups\[\*\]\.payload\.(mass|centre)", Rule(REPRINT, low=0.5, high=1.3)),
    (r"arms\.groups\[\*\]\.mount_(radius|height)", Rule(REPRINT, low=0.6, high=1.5, mind=MOVED)),
    (r"arms\..*", _SHOWN),
    # safety
    (r"safety\.gaps\[\*\]\.smallest", Rule(REPRINT, low=0.2, high=5.0)),
    (r"safety\.gaps\[\*\]\.guarded", Rule(REPRINT, absent=True)),
    (r"safety\.link_loss\.(time|behaviour)", Rule(FREE, low=0.2, high=1.0, sizes="two figures")),
    (r"safety\.emergency_stop\.kind", Rule(PART)),
    (r"safety\.emergency_stop\.(stop|category)", Rule(FREE)),
    (r"safety\.contact\.edge_stiffness", Rule(PART, low=0.2, high=1.0, sizes="two figures")),
    (r"safety\.batteries\..*", Rule(FREE, mind="do it, then write it")),
    (r"safety\.(lamp|sounder)", Rule(PART)),
    (r"safety\..*", _TRUTH),
    # anything else: only plain data of parts is not a choice
    (r".*\.(efficiency|.*resistance.*|.*temperature|.*_rating|inertia|density|.*spread|.*share)", _NATURE),
)


@cache
def rule_of(path: str) -> Rule:
    """The rule of a path of the design file."""
    plain = re.sub(r"\[\d+\]", "[*]", path)
    if plain.endswith(".at[*]"):
        plain = path[: path.rindex("[")].rstrip("]")
        plain = re.sub(r"\[\d+\]", "[*]", plain) + path[path.rindex("[") :]
    for pattern, rule in _TABLE:
        if re.fullmatch(pattern, plain):
            return rule
    return Rule(PART)
