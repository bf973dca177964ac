"""Section `base.wheels`: what the machine stands and drives on, by layout or wheel by wheel."""

from __future__ import annotations

from dryfit.design import fields as f

LAYOUTS = ("three omni", "four omni", "four mecanum", "two driven and casters", "custom")
KINDS = ("omni", "mecanum", "tyre", "caster")


class WheelSizes(f.Record):
    """What one bought wheel is. `item` names a row of the catalogue's wheels; what stands beside it wins."""

    item: f.Text | None = None
    diameter: f.PositiveLength | None = None
    rows: f.Count | None = None
    row_gap: f.UnsignedLength | None = None
    rollers: f.Count | None = None
    roller_diameter: f.PositiveLength | None = None
    width: f.PositiveLength | None = None
    mass: f.Mass | None = None
    load_rating: f.Mass | None = None
    run_out: f.UnsignedLength | None = None
    diameter_scatter: f.Percent | None = None
    trail: f.UnsignedLength | None = None


class Casters(WheelSizes):
    """Swivelling wheels that only carry. `at` lists the swivel axes."""

    at: list[list[f.Length]] | None = None


class Wheel(WheelSizes):
    """One wheel of a custom layout: contact point [x, y], heading from +x towards +y, kind, driven or not."""

    name: f.Text | None = None
    at: list[f.Length]
    heading: f.Angle | None = None
    kind: f.choice(*KINDS) | None = None  # type: ignore[valid-type]
    roller_angle: f.Angle | None = None
    driven: f.Flag | None = None


class WheelLimits(f.Record):
    """Habits of the trade about wheels, open to change."""

    heading_error: f.Angle | None = None


class Wheels(WheelSizes):
    """All wheels. `circle_radius` runs from the middle of the base to a wheel's contact point."""

    layout: f.choice(*LAYOUTS) | None = None  # type: ignore[valid-type]
    count: f.Count | None = None
    circle_radius: f.PositiveLength | None = None
    first_at: f.Angle | None = None
    track: f.PositiveLength | None = None
    wheelbase: f.PositiveLength | None = None
    axle_at: f.Length | None = None
    casters: Casters | None = None
    each: list[Wheel] | None = None
    limits: WheelLimits = WheelLimits()
