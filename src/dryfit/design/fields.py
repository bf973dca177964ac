"""Field types of the design records: a pydantic field that reads a typed text into a Quantity, a word or a flag.

Every scalar of the file arrives as `Typed`: the text as it stands, with its place. Nothing is guessed from YAML's own
types, so `no` stays a word and `1e400` stays a fault.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, time
from difflib import get_close_matches
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainValidator
from pydantic_core import PydanticCustomError

from dryfit.ground import units
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Kind, Origin, Quantity, Spread


class Typed(str):
    """A scalar as it stands in the file: its text, 1-based line and column, and the key path that leads to it."""

    __slots__ = ("column", "line", "path")
    line: int
    column: int
    path: str

    def __new__(cls, text: str, line: int = 0, column: int = 0, path: str = "") -> Typed:
        typed = super().__new__(cls, text)
        typed.line, typed.column, typed.path = line, column, path
        return typed


class Word(str):
    """A word of the file (a name, a choice, a catalogue key) that keeps its origin."""

    __slots__ = ("origin",)
    origin: Origin

    def __new__(cls, text: str, origin: Origin | None = None) -> Word:
        word = super().__new__(cls, text)
        word.origin = origin or Origin(Kind.DESIGN, text=text)
        return word


@dataclass(frozen=True)
class Day:
    """A date of the file with its origin."""

    date: date
    origin: Origin


@dataclass(frozen=True)
class Clock:
    """A time of day of the file with its origin."""

    time: time
    origin: Origin


class Record(BaseModel):
    """What every design record has in common: frozen, unknown keys refused, fields optional unless said otherwise."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, defer_build=True)


def origin_of(typed: object) -> Origin:
    """Where a scalar of the file stands."""
    if isinstance(typed, Typed):
        return Origin(Kind.DESIGN, path=typed.path, line=typed.line, text=str(typed))
    return Origin(Kind.DESIGN, text=str(typed))


def fault(problem: str, accepted: str = "") -> PydanticCustomError:
    """The error that a field raises: what is wrong and what may be typed instead."""
    template = "{problem}; accepted: {accepted}" if accepted else "{problem}"
    return PydanticCustomError("design", template, {"problem": problem, "accepted": accepted})


@dataclass(frozen=True)
class QuantityReader:
    """Reads a typed text into a Quantity of one dimension. A Quantity passes as it is."""

    dimension: units.Dimension

    def __repr__(self) -> str:
        return self.dimension.name

    def __call__(self, typed: Any) -> Quantity:
        if isinstance(typed, Quantity):
            return typed
        if not isinstance(typed, str):
            raise fault("one value belongs here", units.accepted(self.dimension))
        try:
            value, half = units.read(typed, self.dimension)
        except units.UnitError as wrong:
            raise fault(wrong.problem, wrong.accepted) from None
        spread = None if half is None else Spread(half, "given in the design file")
        return Quantity(value, self.dimension.name, origin_of(typed), spread)


def _quantity(dimension: units.Dimension) -> PlainValidator:
    return PlainValidator(QuantityReader(dimension))


def _one_word(typed: Any) -> Word:
    if isinstance(typed, Word):
        return typed
    if not isinstance(typed, str):
        raise fault("a word or a short text belongs here")
    if not typed.strip():
        raise fault("an empty text; write a word, or leave the key out")
    return Word(str(typed), origin_of(typed))


@dataclass(frozen=True)
class ChoiceReader:
    """Reads one of a few words."""

    options: tuple[str, ...]

    def __call__(self, typed: Any) -> Word:
        word = _one_word(typed)
        if word not in self.options:
            close = nearest(word, self.options) if get_close_matches(word, self.options, cutoff=0.55) else ""
            raise fault(f"not one of the accepted words{close}", ", ".join(self.options))
        return word


def choice(*options: str) -> Any:
    """A field that takes one of a few words."""
    return Annotated[Word, PlainValidator(ChoiceReader(options))]


def _flag(typed: Any) -> bool:
    if isinstance(typed, bool):
        return typed
    if isinstance(typed, str) and typed in ("yes", "true"):
        return True
    if isinstance(typed, str) and typed in ("no", "false"):
        return False
    raise fault("neither yes nor no", "yes, no")


def _day(typed: Any) -> Day:
    """A date, such as `2027-05-14`"""
    if isinstance(typed, Day):
        return typed
    try:
        if not isinstance(typed, str) or not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", typed):
            raise ValueError
        return Day(date.fromisoformat(typed), origin_of(typed))
    except ValueError:
        raise fault("not a date", "year-month-day, such as 2027-05-14") from None


def _clock(typed: Any) -> Clock:
    """A time of day, such as `8:30`"""
    if isinstance(typed, Clock):
        return typed
    match = re.fullmatch(r"([0-9]{1,2}):([0-9]{2})", typed) if isinstance(typed, str) else None
    if match is None or int(match[1]) > 23 or int(match[2]) > 59:
        raise fault("not a time of day", "hours:minutes from 0:00 to 23:59, such as 8:30")
    return Clock(time(int(match[1]), int(match[2])), origin_of(typed))


def one_or_many(read_one: Callable[[Any], Any] | None = None) -> BeforeValidator:
    """Let a list field also take a single entry."""
    return BeforeValidator(lambda given: given if isinstance(given, list | tuple) else [given])


Text = Annotated[Word, PlainValidator(_one_word)]
Flag = Annotated[bool, PlainValidator(_flag)]
Date = Annotated[Day, PlainValidator(_day)]
TimeOfDay = Annotated[Clock, PlainValidator(_clock)]

Length = Annotated[Quantity, _quantity(units.LENGTH)]
PositiveLength = Annotated[Quantity, _quantity(units.POSITIVE_LENGTH)]
UnsignedLength = Annotated[Quantity, _quantity(units.UNSIGNED_LENGTH)]
Mass = Annotated[Quantity, _quantity(units.MASS)]
Time = Annotated[Quantity, _quantity(units.TIME)]
Angle = Annotated[Quantity, _quantity(units.ANGLE)]
Speed = Annotated[Quantity, _quantity(units.SPEED)]
Acceleration = Annotated[Quantity, _quantity(units.ACCELERATION)]
TurnRate = Annotated[Quantity, _quantity(units.TURN_RATE)]
PositiveTurnRate = Annotated[Quantity, _quantity(units.POSITIVE_TURN_RATE)]
Force = Annotated[Quantity, _quantity(units.FORCE)]
Torque = Annotated[Quantity, _quantity(units.TORQUE)]
PositiveTorque = Annotated[Quantity, _quantity(units.POSITIVE_TORQUE)]
Stress = Annotated[Quantity, _quantity(units.STRESS)]
Density = Annotated[Quantity, _quantity(units.DENSITY)]
Inertia = Annotated[Quantity, _quantity(units.INERTIA)]
WireArea = Annotated[Quantity, _quantity(units.AREA)]
Voltage = Annotated[Quantity, _quantity(units.VOLTAGE)]
PositiveVoltage = Annotated[Quantity, _quantity(units.POSITIVE_VOLTAGE)]
Current = Annotated[Quantity, _quantity(units.CURRENT)]
PositiveCurrent = Annotated[Quantity, _quantity(units.POSITIVE_CURRENT)]
Resistance = Annotated[Quantity, _quantity(units.RESISTANCE)]
ResistancePerLength = Annotated[Quantity, _quantity(units.RESISTANCE_PER_LENGTH)]
Capacitance = Annotated[Quantity, _quantity(units.CAPACITANCE)]
Inductance = Annotated[Quantity, _quantity(units.INDUCTANCE)]
Power = Annotated[Quantity, _quantity(units.POWER)]
Energy = Annotated[Quantity, _quantity(units.ENERGY)]
Charge = Annotated[Quantity, _quantity(units.CHARGE)]
Frequency = Annotated[Quantity, _quantity(units.FREQUENCY)]
Temperature = Annotated[Quantity, _quantity(units.TEMPERATURE)]
TemperatureRise = Annotated[Quantity, _quantity(units.TEMPERATURE_RISE)]
ThermalResistance = Annotated[Quantity, _quantity(units.THERMAL_RESISTANCE)]
HeatCapacity = Annotated[Quantity, _quantity(units.HEAT_CAPACITY)]
Stiffness = Annotated[Quantity, _quantity(units.STIFFNESS)]
RotaryStiffness = Annotated[Quantity, _quantity(units.ROTARY_STIFFNESS)]
Flow = Annotated[Quantity, _quantity(units.FLOW)]
Money = Annotated[Quantity, _quantity(units.MONEY)]
Share = Annotated[Quantity, _quantity(units.SHARE)]
Percent = Annotated[Quantity, _quantity(units.PERCENT)]
Number = Annotated[Quantity, _quantity(units.NUMBER)]
UnsignedNumber = Annotated[Quantity, _quantity(units.UNSIGNED_NUMBER)]
PositiveNumber = Annotated[Quantity, _quantity(units.POSITIVE_NUMBER)]
Ratio = Annotated[Quantity, _quantity(units.RATIO)]
Count = Annotated[Quantity, _quantity(units.COUNT)]
