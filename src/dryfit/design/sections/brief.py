"""Section `brief`: what was promised, to whom, on what floor, by when."""

from __future__ import annotations

from pydantic import Field

from dryfit.design import fields as f


class BriefLimits(f.Record):
    """Habits of the trade that the brief may tighten or relax."""

    tilt: f.Angle | None = None
    share_of_tipping: f.Share | None = None
    obstacle_share: f.Share | None = None
    lift_mass: f.Mass | None = None
    posture_share: f.Share | None = None
    sway: f.UnsignedLength | None = None


class Brief(f.Record):
    """The commission in numbers."""

    event: f.Text | None = None
    floor: f.Text | None = None
    friction: f.PositiveNumber | None = None
    rolling_resistance: f.UnsignedNumber | None = None
    slope: f.Angle | None = None
    step: f.UnsignedLength | None = None
    joint_width: f.UnsignedLength | None = None
    door_width: f.PositiveLength | None = None
    door_height: f.PositiveLength | None = None
    speed: f.Speed | None = None
    acceleration: f.Acceleration | None = None
    braking: f.Acceleration | None = None
    turn_rate: f.TurnRate | None = None
    push: f.Force | None = None
    push_height: f.UnsignedLength | None = None
    public_distance: f.UnsignedLength | None = None
    children_present: f.Flag | None = None
    show_length: f.Time | None = None
    hours_per_day: f.Time | None = None
    days: f.Count | None = None
    driving_share: f.Share | None = None
    climbing_share: f.Share | None = None
    ambient: f.Temperature | None = None
    vehicle_temperature: f.Temperature | None = None
    deadline: f.Text | None = None
    delivery: f.Date | None = Field(default=None, description="the day on which the machine leaves the workshop")
    budget: f.Money | None = None
    limits: BriefLimits = BriefLimits()
