"""Units at the edge: the strict grammar that reads "203 mm", and the words that show 0.203 m again.

Inside, every number is SI. A dimension lists the units it accepts as plain factors to SI; nothing else is accepted,
so that kg·cm cannot become N·cm, Hz cannot become rad/s and a decimal comma cannot turn 2,5 into 25.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from difflib import get_close_matches

from dryfit.ground.errors import nearest

STANDARD_GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s² (exact: 3rd CGPM 1901, from memory)."""

RPM = math.pi / 30
KGF_CM = STANDARD_GRAVITY / 100
INCH = 0.0254
NOISE = 1e-13
"""Below this, in the unit shown, a number is the rounding of a sum that should be zero, and is shown as 0."""


@dataclass(frozen=True, eq=False)
class Dimension:
    """A kind of quantity: its SI unit, the units accepted with their factors to SI, and the units it is shown in.

    bare: whether a plain number without a unit is accepted (only where none is meant).
    shown: trade unit for the faces; twin: a second one shown beside it, where mixing up is common.
    low, high: limits of what can be meant at all, SI, inclusive.
    """

    name: str
    si: str
    units: dict[str, float]
    shown: str
    example: str
    twin: str = ""
    bare: bool = False
    whole: bool = False
    low: float = -math.inf
    high: float = math.inf
    offsets: dict[str, float] = field(default_factory=dict)


_LENGTH = {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "um": 1e-6, "in": INCH}
_MASS = {"kg": 1.0, "g": 1e-3}
_TIME = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "min": 60.0, "h": 3600.0, "days": 86400.0}
_ANGLE = {"deg": math.pi / 180, "rad": 1.0}
_TORQUE = {"N*m": 1.0, "mN*m": 1e-3, "N*cm": 1e-2, "kg*cm": KGF_CM, "kgf*cm": KGF_CM}


def _positive(d: Dimension) -> Dimension:
    return Dimension(**{**d.__dict__, "name": f"positive {d.name}", "low": 5e-324})


def _unsigned(d: Dimension) -> Dimension:
    return Dimension(**{**d.__dict__, "name": f"{d.name} of zero or more", "low": 0.0})


LENGTH = Dimension("length", "m", _LENGTH, "mm", "203 mm")
MASS = Dimension("mass", "kg", _MASS, "kg", "2.4 kg", low=5e-324)
TIME = Dimension("time", "s", _TIME, "s", "20 min", low=0.0)
ANGLE = Dimension("angle", "rad", _ANGLE, "deg", "3 deg")
SPEED = Dimension("speed", "m/s", {"m/s": 1.0, "mm/s": 1e-3, "km/h": 1 / 3.6}, "m/s", "0.5 m/s", low=0.0)
ACCELERATION = Dimension("acceleration", "m/s2", {"m/s2": 1.0}, "m/s²", "0.4 m/s2", low=0.0)
TURN_RATE = Dimension(
    "turn rate", "rad/s", {"rpm": RPM, "deg/s": math.pi / 180, "rad/s": 1.0}, "rpm", "300 rpm", low=0.0
)
FORCE = Dimension("force", "N", {"N": 1.0, "kN": 1e3, "kgf": STANDARD_GRAVITY}, "N", "50 N", low=0.0)
TORQUE = Dimension("torque", "N*m", _TORQUE, "N·m", "3.0 N*m or 25 kg*cm", twin="kg·cm", low=0.0)
STRESS = Dimension("stress", "Pa", {"MPa": 1e6, "GPa": 1e9, "kPa": 1e3, "Pa": 1.0}, "MPa", "48 MPa", low=0.0)
DENSITY = Dimension("density", "kg/m3", {"kg/m3": 1.0, "g/cm3": 1e3}, "g/cm³", "1.24 g/cm3", low=5e-324)
INERTIA = Dimension("moment of inertia", "kg*m2", {"kg*m2": 1.0, "g*cm2": 1e-7}, "kg·m²", "0.02 kg*m2", low=0.0)
AREA = Dimension("wire cross-section", "m2", {"mm2": 1e-6}, "mm²", "2.5 mm2 or AWG 16", low=5e-324)
VOLTAGE = Dimension("voltage", "V", {"V": 1.0, "mV": 1e-3}, "V", "12.8 V", low=0.0)
CURRENT = Dimension("current", "A", {"A": 1.0, "mA": 1e-3}, "A", "11 A", low=0.0)
RESISTANCE = Dimension("resistance", "ohm", {"ohm": 1.0, "mohm": 1e-3, "kohm": 1e3}, "Ω", "30 mohm", low=0.0)
RESISTANCE_PER_LENGTH = Dimension(
    "resistance per length", "ohm/m", {"ohm/m": 1.0, "mohm/m": 1e-3, "ohm/km": 1e-3}, "mΩ/m", "19.5 ohm/km", low=0.0
)
CAPACITANCE = Dimension(
    "capacitance", "F", {"F": 1.0, "mF": 1e-3, "uF": 1e-6, "nF": 1e-9, "pF": 1e-12}, "µF", "2200 uF", low=0.0
)
INDUCTANCE = Dimension("inductance", "H", {"H": 1.0, "mH": 1e-3, "uH": 1e-6}, "mH", "1.2 mH", low=0.0)
POWER = Dimension("power", "W", {"W": 1.0, "kW": 1e3, "mW": 1e-3}, "W", "40 W", low=0.0)
ENERGY = Dimension("energy", "J", {"J": 1.0, "Wh": 3600.0, "kWh": 3.6e6}, "J", "90 Wh", low=0.0)
CHARGE = Dimension("charge", "C", {"Ah": 3600.0, "mAh": 3.6, "C": 1.0}, "Ah", "5200 mAh", low=0.0)
FREQUENCY = Dimension("frequency", "Hz", {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6}, "Hz", "20 kHz", low=0.0)
TEMPERATURE = Dimension("temperature", "K", {"degC": 1.0, "K": 1.0}, "°C", "25 degC", low=0.0, offsets={"degC": 273.15})
TEMPERATURE_RISE = Dimension("temperature rise", "dK", {"K": 1.0}, "K", "15 K", low=0.0)
THERMAL_RESISTANCE = Dimension("thermal resistance", "K/W", {"K/W": 1.0}, "K/W", "4.7 K/W", low=0.0)
HEAT_CAPACITY = Dimension("heat capacity", "J/K", {"J/K": 1.0}, "J/K", "120 J/K", low=0.0)
STIFFNESS = Dimension("stiffness", "N/m", {"N/m": 1.0, "N/mm": 1e3}, "N/mm", "25 N/mm", low=0.0)
ROTARY_STIFFNESS = Dimension(
    "rotary stiffness",
    "N*m/rad",
    {"N*m/rad": 1.0, "kN*m/rad": 1e3, "N*m/deg": 180 / math.pi},
    "N·m/rad",
    "2 kN*m/rad",
    low=0.0,
)
FLOW = Dimension("volumetric flow", "m3/s", {"mm3/s": 1e-9}, "mm³/s", "8 mm3/s", low=0.0)
SECOND_MOMENT = Dimension("second moment of area", "m4", {"mm4": 1e-12, "cm4": 1e-8}, "mm⁴", "7850 mm4", low=0.0)
MASS_PER_LENGTH = Dimension("mass per length", "kg/m", {"kg/m": 1.0, "g/m": 1e-3}, "kg/m", "0.81 kg/m", low=0.0)
MONEY = Dimension("money", "EUR", {"EUR": 1.0}, "EUR", "4000 EUR", low=0.0)
SHARE = Dimension("share", "1", {"%": 1e-2}, "%", "60 %", low=0.0, high=1.0)
PERCENT = Dimension("percentage", "1", {"%": 1e-2}, "%", "25 %", low=0.0)
NUMBER = Dimension("plain number", "1", {}, "", "0.62", bare=True)
RATIO = Dimension("ratio", "1", {":1": 1.0}, ":1", "13.7:1", bare=True, low=5e-324)
COUNT = Dimension("count", "1", {}, "", "3", bare=True, whole=True, low=0.0, high=1e6)

POSITIVE_LENGTH = _positive(LENGTH)
UNSIGNED_LENGTH = _unsigned(LENGTH)
POSITIVE_TORQUE = _positive(TORQUE)
POSITIVE_VOLTAGE = _positive(VOLTAGE)
POSITIVE_CURRENT = _positive(CURRENT)
POSITIVE_TURN_RATE = _positive(TURN_RATE)
UNSIGNED_NUMBER = _unsigned(NUMBER)
POSITIVE_NUMBER = _positive(NUMBER)

SI: dict[str, Dimension] = {
    d.si: d
    for d in (
        LENGTH, MASS, TIME, ANGLE, SPEED, ACCELERATION, TURN_RATE, FORCE, TORQUE, STRESS, DENSITY, INERTIA, AREA,
        VOLTAGE, CURRENT, RESISTANCE, RESISTANCE_PER_LENGTH, CAPACITANCE, INDUCTANCE, POWER, ENERGY, CHARGE, FREQUENCY,
        TEMPERATURE, TEMPERATURE_RISE, THERMAL_RESISTANCE, HEAT_CAPACITY, STIFFNESS, ROTARY_STIFFNESS, FLOW,
        SECOND_MOMENT, MASS_PER_LENGTH, MONEY, NUMBER,
    )
}  # fmt: skip
"""The dimension that shows a value given in an SI unit: what a Term's `unit` may be, beside "%" for a shown share."""

LARGEST, SMALLEST = 1e15, 1e-15
"""No quantity of a machine can be meant beyond these sizes (SI; zero excepted); squares and cubes would overflow."""

_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_UNIT = r"[A-Za-z%:][^\s±+]*"
_TYPED = re.compile(
    rf"(?P<number>{_NUMBER})\s*(?P<unit>{_UNIT})?"
    rf"(?:\s*(?:±|\+/-|\+-)\s*(?P<half>{_NUMBER})\s*(?P<half_unit>{_UNIT})?)?"
)
_AWG = re.compile(r"AWG\s*(?P<gauge>[0-9]{1,2}|0{3,4}|[1-4]/0)")
_SPELLINGS = {
    "²": "2", "³": "3", "⁴": "4", "·": "*", "⋅": "*", "µ": "u", "μ": "u", "Ω": "ohm", "\u2126": "ohm",
    "°C": "degC", "℃": "degC", "°": "deg", "–": "-", "−": "-", "\u00a0": " ", "\u2009": " ", "\u202f": " ",
}  # fmt: skip
_FAULTS = (
    (r"[0-9]\s*,\s*[0-9]|^[+-]?,[0-9]", "decimals take a point, and thousands stand without a comma"),
    (r"^[+-]?[0-9]+(\.[0-9]*){2,}", "a number has one decimal point"),
    (r"^[+-]?[0-9]{1,3}([ '_][0-9]{3})+(?![0-9])", "digits stand together, without spaces or marks between thousands"),
    (
        r"^[0-9.]+\s*[a-zA-Z%]*\s*(-|to)\s*[0-9]",
        "one number stands here, not a range; write the middle and ± half of it",
    ),
    (r"±|\+/-|\+-", "behind ± stands one number, with % or a unit"),
    (rf"^{_NUMBER}\s*{_UNIT}\s+\S", "only a number and its unit stand here; put remarks behind a #"),
    (r"^(?i:[+-]?\.?(nan|inf|infinity))\b", "not a finite number"),
)
"""What is usually behind a text that cannot be read, first match wins."""


class UnitError(ValueError):
    """A text that is not a quantity of the dimension meant: what is wrong (`problem`) and what may be typed instead."""

    def __init__(self, problem: str, accepted: str) -> None:
        self.problem, self.accepted = problem, accepted
        super().__init__(f"{problem}; accepted: {accepted}")


def accepted(dimension: Dimension) -> str:
    """What may be typed for a dimension, in words, with an example."""
    if dimension.whole:
        return f"a whole number such as {dimension.example}"
    units = ", ".join(dimension.units)
    if not units:
        return f"a plain number such as {dimension.example}"
    extra = ", AWG" if dimension.si == "m2" else ""
    one = "the unit" if len(dimension.units) == 1 else "one of the units"
    return f"a number with {one} {units}{extra}, such as {dimension.example}"


def read(text: str, dimension: Dimension) -> tuple[float, float | None]:
    """Read a typed quantity: value in SI and, where a ± follows, its half-width as a fraction of the value.

    "203 mm", "203 mm ± 0.5 mm", "203 ± 0.5 mm" and "203 mm ± 2 %" are read; of a value that is itself in percent, the
    half-width is in points of percent. Raises UnitError naming the fault: decimal comma, missing or foreign unit, not a
    number, not finite, out of range.
    """
    typed = text.strip()
    for written, plain in _SPELLINGS.items():
        typed = typed.replace(written, plain)
    gauge = _AWG.fullmatch(typed)
    if gauge and dimension.si == "m2":
        return awg_area(gauge["gauge"]), None
    match = _TYPED.fullmatch(typed)
    if match is None:
        usual = (fault for pattern, fault in _FAULTS if re.search(pattern, typed))
        raise _fault(next(usual, f"not {_a(dimension)}"), dimension)
    half, half_unit = match["half"], match["half_unit"]
    # "203 ± 0.5 mm": the unit behind the half-width is meant for both
    unit = match["unit"] or (half_unit if half_unit in dimension.units else "") or ""
    # adding 0.0 turns -0.0 into 0.0, so that nothing divides by minus zero
    value = _to_si(float(match["number"]), unit, dimension) + 0.0
    if not math.isfinite(value):
        raise _fault("not a finite number", dimension)
    if dimension.whole and value != int(value):
        raise _fault("not a whole number", dimension)
    if not dimension.low <= value <= dimension.high:
        raise _fault(_range(dimension), dimension)
    if abs(value) > LARGEST or (value == 0) != _is_zero(match["number"]) or 0 < abs(value) < SMALLEST:
        raise _fault(f"too {'large' if abs(value) > 1 else 'small'} to be meant", dimension)
    return value, _half_width(half, half_unit or unit, unit, value, dimension)


def _is_zero(number: str) -> bool:
    return not re.search("[1-9]", re.split("[eE]", number)[0])


def _a(dimension: Dimension) -> str:
    """The kind of quantity with its article, without what is asked of its sign."""
    name = dimension.name.removeprefix("positive ").removesuffix(" of zero or more")
    name = {"money": "sum of money", "count": "whole number"}.get(name, name)
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"


def _fault(problem: str, dimension: Dimension) -> UnitError:
    return UnitError(problem, accepted(dimension))


def awg_area(gauge: str) -> float:
    """Cross-section of an American wire gauge, m²: diameter 0.127 mm × 92^((36-n)/39), n/0 counting as 1-n.

    gauge: "4/0" (or "0000") to "0" and "1" to "40". Raises UnitError beyond.
    Source: ASTM B258 geometric law (from memory).
    """
    if gauge.endswith("/0"):
        number = 1 - int(gauge[:-2])
    else:
        number = int(gauge) if int(gauge) or gauge == "0" else 1 - len(gauge)
    if not -3 <= number <= 40:
        raise _fault("wire gauges run from AWG 4/0 to AWG 40", AREA)
    diameter = 0.127e-3 * 92 ** ((36 - number) / 39)
    return float(math.pi / 4 * diameter**2)


def show(value: float, unit: str, digits: int = 3) -> str:
    """A value given in the SI unit `unit` as the trade writes it: 0.203, "m" -> "203 mm". Twins stand in brackets."""
    if unit == "%":
        return _figures(value * 100, digits) + " %"
    dimension = SI[unit]
    text = _with_unit(value, dimension, _SCALED[unit](value) if unit in _SCALED else dimension.shown, digits)
    return f"{text} ({_with_unit(value, dimension, dimension.twin, digits)})" if dimension.twin else text


def _time_unit(value: float) -> str:
    """Microseconds below one millisecond, milliseconds below a second, minutes from two of them, hours from two."""
    size = abs(value)
    if size >= 120 or size == 0:
        return "h" if size >= 7200 else "min" if size else "s"
    return "s" if size >= 1 else "ms" if size >= 1e-3 else "µs"


def _capacitance_unit(value: float) -> str:
    """Picofarad below one nanofarad, as for inputs and leads."""
    return "pF" if 0 < abs(value) < 1e-9 else "µF"


def _frequency_unit(value: float) -> str:
    """Kilohertz from one thousand hertz, megahertz from one million."""
    size = abs(value)
    return "MHz" if size >= 1e6 else "kHz" if size >= 1e3 else "Hz"


_SCALED = {"s": _time_unit, "F": _capacitance_unit, "Hz": _frequency_unit}
"""SI units whose trade unit goes with the size of the value."""


def _with_unit(value: float, dimension: Dimension, unit: str, digits: int) -> str:
    key = unit
    for written, plain in _SPELLINGS.items():
        key = key.replace(written, plain)
    factor = dimension.units.get(key, 1.0)
    number = _figures(value / factor - dimension.offsets.get(key, 0.0), digits)
    return f"{number} {unit}".rstrip() if math.isfinite(value) else number


def _figures(x: float, digits: int) -> str:
    if not math.isfinite(x):
        return "unknown" if math.isnan(x) else ("unlimited" if x > 0 else "-unlimited")
    if abs(x) < NOISE:
        return "0"
    if abs(x) >= 10**6 or abs(x) < 10**-4:
        return f"{x:.{digits - 1}e}"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(x))))
    text = f"{x:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _to_si(number: float, unit: str, dimension: Dimension) -> float:
    if unit == "":
        if dimension.bare or (number == 0 and not dimension.offsets):
            return number
        raise _fault(f"{_a(dimension)} needs its unit", dimension)
    if unit not in dimension.units:
        close = nearest(unit, dimension.units) if get_close_matches(unit, dimension.units, cutoff=0.55) else ""
        raise _fault(f"{unit[:40]!r} is not a unit of {_a(dimension)}{close}", dimension)
    return number * dimension.units[unit] + dimension.offsets.get(unit, 0.0)


def _half_width(half: str | None, half_unit: str, unit: str, value: float, dimension: Dimension) -> float | None:
    if half is None:
        return None
    if half_unit == "%" and unit != "%":
        if dimension.offsets:
            raise _fault(f"the half-width of {_a(dimension)} after ± needs a unit, not %", dimension)
        fraction = float(half) / 100
    elif half_unit and half_unit not in dimension.units:
        raise _fault(f"{half_unit[:40]!r} after ± is neither % nor a unit of {_a(dimension)}", dimension)
    else:
        width = float(half) * dimension.units.get(half_unit, 1.0)
        if value == 0 and width != 0:
            raise _fault("a value of zero cannot carry a ±", dimension)
        fraction = width / abs(value) if value else 0.0
    if not 0 <= fraction < 1e3:
        raise _fault("the half-width after ± must be zero or more, and not a thousand times the value", dimension)
    return fraction + 0.0


def _range(dimension: Dimension) -> str:
    if dimension.low == 5e-324:
        return "must be more than zero"
    if dimension.offsets:
        return "must not be below absolute zero"
    if math.isinf(dimension.high):
        return "must not be below zero"
    high = "100 %" if "%" in dimension.units else _figures(dimension.high, 3)
    return f"must lie between {dimension.low:g} and {high}"
