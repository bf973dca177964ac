"""Section `power`: packs, main line, the tree of branches with fuses and regulators, signals between grounds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic import ConfigDict, Field

from dryfit.design import fields as f

if TYPE_CHECKING:
    FuseClass = f.Word
    RegulatorType = f.Word
else:
    FuseClass = f.choice("blade", "mini-blade", "bolted")
    RegulatorType = f.choice("step-down", "linear", "step-up")


class Lead(f.Record):
    """Both wires from one pack to the joint of all packs, with its connector and fuse."""

    item: f.Text | None = None
    area: f.WireArea | None = None
    length: f.UnsignedLength | None = None
    resistance_per_length: f.ResistancePerLength | None = None
    temperature: f.Temperature | None = None
    connector: f.Text | None = None
    contacts: f.Count | None = None
    fuse: f.PositiveCurrent | None = None
    fuse_class: FuseClass | None = None


class Packs(f.Record):
    """Equal packs in parallel. `lead_lengths` gives each pack its own lead length, otherwise all have `lead.length`."""

    item: f.Text | None = None
    chemistry: f.Text | None = None
    cells_in_series: f.Count | None = None
    nominal_voltage: f.PositiveVoltage | None = None
    capacity: f.Charge | None = None
    hour_rate: f.Time | None = None
    resistance: f.Resistance | None = None
    peukert: f.PositiveNumber | None = None
    max_current: f.PositiveCurrent | None = None
    max_charge_current: f.PositiveCurrent | None = None
    mass: f.Mass | None = None
    cut_off: f.PositiveVoltage | None = None
    count: f.Count | None = None
    spare_sets: f.Count | None = None
    lead: Lead = Lead()
    lead_lengths: list[f.UnsignedLength] | None = None
    difference_when_joined: f.Voltage | None = None


class Main(f.Record):
    """The line that all current passes: from the joint of the packs over switch and main fuse to the bus."""

    item: f.Text | None = None
    area: f.WireArea | None = None
    length: f.UnsignedLength | None = None
    resistance_per_length: f.ResistancePerLength | None = None
    temperature: f.Temperature | None = None
    connector: f.Text | None = None
    contacts: f.Count | None = None
    fuse: f.PositiveCurrent | None = None
    fuse_class: FuseClass | None = None
    switch_resistance: f.Resistance | None = None
    switch_current: f.PositiveCurrent | None = None


class Regulator(f.Record):
    """A regulator at the far end of a branch: what hangs on the branch hangs on its output."""

    item: f.Text | None = None
    type: RegulatorType | None = None
    output: f.PositiveVoltage | None = None
    current: f.PositiveCurrent | None = None
    efficiency: f.Share | None = None
    dropout: f.Voltage | None = None
    min_input: f.Voltage | None = None
    max_input: f.PositiveVoltage | None = None
    quiescent: f.Current | None = None


class HoldUp(f.Record):
    """Diode and capacitor before the logic regulator, which carry it through a dip of the bus."""

    capacitance: f.Capacitance | None = None
    diode: f.Voltage | None = None


class Branch(f.Record):
    """One run of wire pair: from the bus or from the end of another branch to its own end, with what hangs there.

    feeds: `motors`, `servos`, `logic`, `strips` or `strip NAME`; `current`, `load_power` and `load_resistance` are
    loads of their own. returns_with: the branch whose return wire this one uses instead of its own.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, populate_by_name=True)

    name: f.Text
    from_: f.Text | None = Field(default=None, alias="from")
    item: f.Text | None = None
    area: f.WireArea | None = None
    length: f.UnsignedLength | None = None
    resistance_per_length: f.ResistancePerLength | None = None
    temperature: f.Temperature | None = None
    insulation_temperature: f.Temperature | None = None
    bundled: f.Count | None = None
    connector: f.Text | None = None
    contacts: f.Count | None = None
    fuse: f.PositiveCurrent | None = None
    fuse_class: FuseClass | None = None
    regulator: Regulator | None = None
    feeds: f.Text | None = None
    shared: f.Flag | None = None
    current: f.Current | None = None
    load_power: f.Power | None = None
    load_resistance: f.Resistance | None = None
    load_voltage: f.PositiveVoltage | None = None
    returns_with: f.Text | None = None
    capacitance: f.Capacitance | None = None
    fed_back_energy: f.Energy | None = None
    hold_up: HoldUp | None = None


class Signal(f.Record):
    """A signal between the ends of two branches, which is read right only while their grounds agree."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, populate_by_name=True)

    name: f.Text
    from_: f.Text | None = Field(default=None, alias="from")
    to: f.Text | None = None
    output_low: f.Voltage | None = None
    output_high: f.Voltage | None = None
    input_low: f.Voltage | None = None
    input_high: f.Voltage | None = None


class PowerLimits(f.Record):
    """Habits of the trade that a maker may tighten or relax."""

    usable_share: f.Share | None = None
    regulator_share: f.Share | None = None
    connector_share: f.Share | None = None
    fuse_share: f.Share | None = None
    fuse_peak: f.Percent | None = None
    load_band: f.Share | None = None
    other_load_band: f.Share | None = None
    pack_imbalance: f.Share | None = None
    ground_share: f.Share | None = None
    brown_out_reserve: f.Voltage | None = None
    dip_time: f.Time | None = None
    back_fed_rise: f.Share | None = None
    servo_stall_share: f.Share | None = None
    arms_moving_share: f.Share | None = None
    inside_rise: f.TemperatureRise | None = None


class Power(f.Record):
    """Where the current comes from and every wire it takes."""

    packs: Packs = Packs()
    main: Main = Main()
    branches: list[Branch] | None = None
    signals: list[Signal] | None = None
    limits: PowerLimits = PowerLimits()
