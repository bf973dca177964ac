"""Section `light`: LED strips around cores, what they show, how they are fed, told and diffused."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import PlainValidator

from dryfit.design import fields as f
from dryfit.ground import units
from dryfit.ground.quantity import Quantity


def _feed(typed: Any) -> f.Word | Quantity:
    """A feed is an end ("one end", "both ends") or a distance from the end where the data goes in."""
    if isinstance(typed, f.Word | Quantity):
        return typed
    if typed in ("one end", "both ends"):
        return f.Word(str(typed), f.origin_of(typed))
    try:
        value, _ = units.read(str(typed), units.UNSIGNED_LENGTH)
    except units.UnitError as fault:
        raise f.fault(f"neither 'one end' nor 'both ends' nor a length: {fault.problem}", fault.accepted) from None
    return Quantity(value, units.UNSIGNED_LENGTH.name, f.origin_of(typed))


Feed = Annotated[f.Word | Quantity, PlainValidator(_feed)]


class Core(f.Record):
    """The bar that the strips are stuck to: a polygon with one flat for each strip."""

    side: f.PositiveLength | None = None
    strip_height: f.UnsignedLength | None = None


class Diffuser(f.Record):
    """What hides the single LEDs: a tube around the core, or a flat sheet at a distance."""

    item: f.Text | None = None
    shape: f.choice("tube", "flat") | None = None  # type: ignore[valid-type]
    diameter: f.PositiveLength | None = None
    wall: f.UnsignedLength | None = None
    distance: f.PositiveLength | None = None
    transmission: f.Share | None = None


class Strip(f.Record):
    """One strip, or several equal ones side by side around a core. A strip fed by wires of its own is an entry."""

    name: f.Text | None = None
    item: f.Text | None = None
    count: f.Count | None = None
    length: f.PositiveLength | None = None
    leds_per_length: f.Number | None = None
    pitch: f.PositiveLength | None = None
    voltage: f.PositiveVoltage | None = None
    full_white: f.PositiveCurrent | None = None
    full_white_low: f.PositiveCurrent | None = None
    full_white_high: f.PositiveCurrent | None = None
    dark: f.Current | None = None
    foil_resistance: f.ResistancePerLength | None = None
    colour_volts: f.Voltage | None = None
    lumens: f.UnsignedNumber | None = None
    feeds: Annotated[list[Feed], f.one_or_many()] | None = None
    protocol: f.choice("unclocked", "clocked") | None = None  # type: ignore[valid-type]
    bit_time: f.Time | None = None
    reset_time: f.Time | None = None
    bits_per_led: f.Count | None = None
    input_share: f.Share | None = None
    input_capacitance: f.Capacitance | None = None
    core: Core | None = None
    diffuser: Diffuser | None = None


class Scene(f.Record):
    """One look of the show: how bright, which colour, for what part of the show."""

    name: f.Text | None = None
    level: f.Share | None = None
    colour: (
        f.choice(  # type: ignore[valid-type]
            "white", "red", "green", "blue", "yellow", "cyan", "magenta", "amber"
        )
        | None
    ) = None
    lit: f.Share | None = None
    time_share: f.Share | None = None
    strips: list[f.Text] | None = None


class Data(f.Record):
    """How the controller talks to the strips."""

    logic_volts: f.PositiveVoltage | None = None
    level_shifter: f.PositiveVoltage | None = None
    series_resistor: f.Resistance | None = None
    lead_length: f.UnsignedLength | None = None
    lines: f.Count | None = None
    frame_rate: f.Frequency | None = None


class LightLimits(f.Record):
    """Habits of the trade, open to change."""

    last_led_volts: f.Voltage | None = None
    ripple: f.Percent | None = None
    around: f.Percent | None = None
    edge_feed_current: f.PositiveCurrent | None = None
    logic_margin: f.Voltage | None = None
    edge_time: f.Time | None = None
    core_temperature: f.Temperature | None = None


class Light(f.Record):
    """All light of the machine."""

    strips: tuple[Strip, ...] = ()
    scenes: tuple[Scene, ...] = ()
    cap: f.Share | None = None
    current_budget: f.PositiveCurrent | None = None
    data: Data = Data()
    limits: LightLimits = LightLimits()
