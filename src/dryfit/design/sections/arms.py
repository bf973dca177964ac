"""Section `arms`: serial chains of joints and links on a ring around the machine, and the postures they take."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field, PlainValidator

from dryfit.design import fields as f
from dryfit.design.sections.printing import PrintHow
from dryfit.ground import units
from dryfit.ground.quantity import Quantity

AXES = ("yaw", "pitch", "roll")


def _axis(given: Any) -> f.Word | tuple[Quantity, ...]:
    """An axis is one of three words, or three plain numbers along the arm's own outward, left and up."""
    if isinstance(given, list | tuple) and len(given) == 3:
        try:
            read = [q if isinstance(q, Quantity) else units.read(str(q), units.NUMBER)[0] for q in given]
        except units.UnitError as fault:
            raise f.fault(fault.problem, fault.accepted) from None
        numbers = [
            q if isinstance(q, Quantity) else Quantity(q, units.NUMBER.name, f.origin_of(typed))
            for q, typed in zip(read, given, strict=True)
        ]
        return tuple(numbers)
    if isinstance(given, str) and given in AXES:
        return given if isinstance(given, f.Word) else f.Word(str(given), f.origin_of(given))
    raise f.fault("not an axis", "yaw, pitch, roll or three plain numbers")


Axis = Annotated[f.Word | tuple[Quantity, ...], PlainValidator(_axis)]
Offset = Annotated[list[f.Length], Field(min_length=3, max_length=3)]


class Link(f.Record):
    """The rigid piece after a joint, along its own x axis."""

    length: f.UnsignedLength | None = None
    mass: f.Mass | None = None
    centre: f.Length | None = None


class Payload(f.Record):
    """What the last link carries; centre is measured from the end of that link."""

    mass: f.Mass | None = None
    centre: f.Length | None = None
    size: Annotated[list[f.PositiveLength], Field(min_length=3, max_length=3)] | None = None
    mesh: f.Text | None = Field(default=None, description="an STL file beside the design file, if it is printed")
    mesh_unit: f.choice("mm", "m", "in") | None = None  # type: ignore[valid-type]
    material: f.Text | None = Field(default=None, description="what it is printed of")
    print: PrintHow = PrintHow()


class Counterweight(f.Record):
    """A weight on the far side of the joint."""

    mass: f.Mass | None = None
    distance: f.PositiveLength | None = None


class Servo(f.Record):
    """What holds and turns a joint: a position servo, or a gearmotor with a position sensor."""

    item: f.Text | None = None
    stall_torque: f.PositiveTorque | None = None
    speed: f.PositiveTurnRate | None = None
    voltage: f.PositiveVoltage | None = None
    stall_current: f.PositiveCurrent | None = None
    idle_current: f.Current | None = None
    running_current: f.Current | None = None
    deadband: f.Angle | None = None
    lash: f.Angle | None = None
    thermal_resistance: f.ThermalResistance | None = None
    mass: f.Mass | None = None


class Joint(f.Record):
    """A joint, what drives it, and the link after it."""

    name: f.Text
    axis: Axis | None = None
    offset: Offset | None = None
    lowest: f.Angle | None = None
    highest: f.Angle | None = None
    speed_cap: f.PositiveTurnRate | None = None
    servo: Servo = Servo()
    link: Link = Link()
    counterweight: Counterweight | None = None
    spring: f.Torque | None = None


class Group(f.Record):
    """Equal arms, evenly spread on a ring."""

    name: f.Text
    count: f.Count | None = None
    mount_radius: f.UnsignedLength | None = None
    mount_height: f.UnsignedLength | None = None
    first_at: f.Angle | None = None
    joints: tuple[Joint, ...] = ()
    payload: Payload | None = None


class Posture(f.Record):
    """Joint angles by joint name ("shoulder", or "petal.shoulder" where groups share a name).

    arms: numbers of the arms meant, counted from 1 through all groups; the others stay as in posture `others`.
    """

    name: f.Text
    angles: dict[str, f.Angle] = Field(default_factory=dict)
    arms: list[f.Count] | None = None
    others: f.Text | None = None
    time_share: f.Share | None = None


class ArmsLimits(f.Record):
    """Habits of the trade, open to change."""

    hold_share: f.Share | None = None
    lift_share: f.Share | None = None
    tip_gap: f.UnsignedLength | None = None
    servo_temperature: f.Temperature | None = None


class Arms(f.Record):
    """All arms of the machine."""

    groups: tuple[Group, ...] = ()
    postures: tuple[Posture, ...] = ()
    boot: f.Text | None = None
    limits: ArmsLimits = ArmsLimits()
