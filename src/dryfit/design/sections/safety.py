"""Section `safety`: gaps that close, stops, lost links, contact, batteries. It informs; others decide."""

from __future__ import annotations

from typing import Annotated

from dryfit.design import fields as f

Declared = f.choice("yes", "no", "true", "false")
"""A flag that keeps its line: what is declared here is what the check cites."""


class Gap(f.Record):
    """A gap between two parts that move against each other."""

    name: f.Text
    smallest: f.UnsignedLength | None = None
    widest: f.UnsignedLength | None = None
    body: f.choice("finger", "toes", "hand", "arm", "foot", "head", "body") | None = None  # type: ignore[valid-type]
    closes: f.Flag | None = None
    guarded: f.Flag | None = None


class EmergencyStop(f.Record):
    """The red button and what it does."""

    kind: f.choice("latching", "momentary", "none") | None = None  # type: ignore[valid-type]
    where: f.Text | None = None
    cuts: Annotated[list[f.Text], f.one_or_many()] | None = None
    stop: f.choice("ramped", "shorted", "cut") | None = None  # type: ignore[valid-type]
    category: f.Count | None = None


class LinkLoss(f.Record):
    """What the machine does when the operator's radio or cable goes quiet."""

    time: f.Time | None = None
    behaviour: f.choice("stop", "coast", "hold last") | None = None  # type: ignore[valid-type]


class Contact(f.Record):
    """What a visitor would meet: regions of the body at that height, and the edge that meets them."""

    regions: list[f.Text] | None = None
    edge_stiffness: f.Stiffness | None = None


class Batteries(f.Record):
    """How the packs are kept."""

    chemistry: f.Text | None = None
    cells_protected: Declared | None = None  # type: ignore[valid-type]
    held_and_covered: Declared | None = None  # type: ignore[valid-type]
    charger_matches: Declared | None = None  # type: ignore[valid-type]
    charging_watched: Declared | None = None  # type: ignore[valid-type]


class PersonSensor(f.Record):
    """What sees people before the machine meets them (bumper rings and scanners alike)."""

    range: f.PositiveLength | None = None
    response: f.Time | None = None


class SafetyLimits(f.Record):
    """Habits of the trade and guidance, open to change."""

    speed: f.Speed | None = None
    close_speed: f.Speed | None = None
    arm_speed: f.Speed | None = None
    link_loss: f.Time | None = None
    finger_gap: f.UnsignedLength | None = None
    ground_clearance: f.UnsignedLength | None = None


class Safety(f.Record):
    """What is declared about the safety of visitors and crew."""

    gaps: list[Gap] | None = None
    emergency_stop: EmergencyStop | None = None
    link_loss: LinkLoss = LinkLoss()
    contact: Contact = Contact()
    batteries: Batteries = Batteries()
    person_sensor: PersonSensor | None = None
    edge_speed_arms: f.Speed | None = None
    ground_clearance: f.UnsignedLength | None = None
    lamp: Declared | None = None  # type: ignore[valid-type]
    sounder: Declared | None = None  # type: ignore[valid-type]
    limits: SafetyLimits = SafetyLimits()
