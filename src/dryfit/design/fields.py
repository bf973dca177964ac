"""Field types of the design records: a pydantic field that reads a typed text into a Quantity, a word or a flag.

Every scalar of the file arrives as `Typed`: the text as it stands, with its place. Nothing is guessed from YAML's own
types, so `no` stays a word and `1e400` stays a fault.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainValidator
from pydantic_core import PydanticCustomError

from dryfit.ground import units
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


class Record(BaseModel):
    """What every design record has in common: frozen, unknown keys refused, fields optional unless said otherwise."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


def origin_of(typed: object) -> Origin:
    """Where a scalar of the file stands."""
    if isinstance(typed, Typed):
        return Origin(Kind.DESIGN, path=typed.path, line=typed.line, text=str(typed))
    return Origin(Kind.DESIGN, text=str(typed))


def _quantity(dimension: units.Dimension) -> PlainValidator:
    def read(typed: Any) -> Quantity:
        if isinstance(typed, Quantity):
            return typed
        if not isinstance(typed, str):
            raise PydanticCustomError("quantity", "expected one value; accepted: {a}", {"a": units.accepted(dimension)})
        try:
            value, half = units.read(typed, dimension)
        except units.UnitError as fault:
            raise PydanticCustomError("quantity", "{m}", {"m": str(fault)}) from None
        spread = None if half is None else Spread(half, "given in the design file")
        return Quantity(value, dimension.name, origin_of(typed), spread)

    return PlainValidator(read)


def _one_word(typed: Any) -> Word:
    if isinstance(typed, Word):
        return typed
    if not isinstance(typed, str):
        raise PydanticCustomError("word", "expected a word or a short text, not a list or a group of keys")
    return Word(str(typed), origin_of(typed))


def choice(*options: str) -> Any:
    """A field that takes one of a few words."""

    def read(typed: Any) -> Word:
        word = _one_word(typed)
        if word not in options:
            raise PydanticCustomError(
                "choice", "{m}", {"m": f"not one of the accepted words; accepted: {', '.join(options)}"}
            )
        return word

    return Annotated[Word, PlainValidator(read)]


def _flag(typed: Any) -> bool:
    if isinstance(typed, bool):
        return typed
    if typed in ("yes", "true"):
        return True
    if typed in ("no", "false"):
        return False
    raise PydanticCustomError("flag", "neither yes nor no; accepted: yes, no")


def one_or_many(read_one: Callable[[Any], Any] | None = None) -> BeforeValidator:
    """Let a list field also take a single entry."""
    return BeforeValidator(lambda given: given if isinstance(given, list | tuple) else [given])


Text = Annotated[Word, PlainValidator(_one_word)]
Flag = Annotated[bool, PlainValidator(_flag)]

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
