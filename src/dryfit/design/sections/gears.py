"""Section `base.gears`: the gear stages from the gearmotor to the wheel, in that order; none is direct drive."""

from __future__ import annotations

from pydantic import Field

from dryfit.design import fields as f


class GearLimits(f.Record):
    """Habits of the trade that a stage may tighten or relax."""

    contact_ratio: f.PositiveNumber | None = None
    backlash_least: f.UnsignedLength | None = None
    backlash_most: f.UnsignedLength | None = None
    backlash_loosest: f.UnsignedLength | None = None
    strength_share: f.Share | None = None
    service_share: f.Share | None = None
    flank_share: f.Share | None = None
    tip_lines: f.PositiveNumber | None = None
    undercut_share: f.Share | None = None


class PinionGrip(f.Record):
    """How the first pinion holds on the gearmotor's shaft."""

    kind: f.choice("flat", "key", "screws", "one piece") | None = None  # type: ignore[valid-type]
    shaft_diameter: f.PositiveLength | None = None
    length: f.PositiveLength | None = None
    flat_depth: f.PositiveLength | None = None
    key_height: f.PositiveLength | None = None
    screws: f.Count | None = None
    screw_force: f.Force | None = None
    friction: f.PositiveNumber | None = None
    pressure: f.Stress | None = None
    crush: f.Stress | None = None
    lasting_temperature: f.Temperature | None = None


class Pegs(f.Record):
    """The pegs or screws that pass the torque of the last stage's gear or ring to the wheel."""

    count: f.Count | None = None
    diameter: f.PositiveLength | None = None
    circle: f.PositiveLength | None = None
    length: f.PositiveLength | None = None
    made: f.choice("steel", "printed") | None = None  # type: ignore[valid-type]
    shear_strength: f.Stress | None = None
    pressure: f.Stress | None = None
    crush: f.Stress | None = None


class Stage(f.Record):
    """One pair of involute spur gears: the pinion drives, the gear (or the ring, for an internal pair) is driven.

    Addenda, dedenda and fillet are factors of the module; shifts are profile shift factors, a ring's counted outwards.
    """

    kind: f.choice("external", "internal") | None = None  # type: ignore[valid-type]
    module: f.PositiveLength | None = None
    pinion_teeth: f.Count
    gear_teeth: f.Count
    pressure_angle: f.Angle | None = None
    face_width: f.PositiveLength | None = None
    pinion_shift: f.Number | None = None
    gear_shift: f.Number | None = None
    pinion_addendum: f.PositiveNumber | None = None
    gear_addendum: f.PositiveNumber | None = None
    dedendum: f.PositiveNumber | None = None
    root_fillet: f.UnsignedNumber | None = None
    roots: f.choice("generated", "drawn") | None = None  # type: ignore[valid-type]
    assembly: f.choice("radial", "axial") | None = None  # type: ignore[valid-type]
    centre_distance: f.PositiveLength | None = None
    backlash: f.UnsignedLength | None = None
    thinned: f.choice("both", "pinion", "gear") | None = None  # type: ignore[valid-type]
    mount_short_by: f.UnsignedLength | None = None
    measured_gap: f.UnsignedLength | None = None
    pinion_material: f.Text | None = None
    gear_material: f.Text | None = None
    pinion_strength: f.Stress | None = None
    gear_strength: f.Stress | None = None
    printed: f.Flag | None = None
    layers: f.choice("flat", "upright") | None = None  # type: ignore[valid-type]
    lubricated: f.Flag | None = None
    friction: f.UnsignedNumber | None = None
    other_losses: f.Share | None = None
    shock: f.PositiveNumber | None = None
    hours: f.Time | None = None
    temperature: f.Temperature | None = None
    rim: f.PositiveLength | None = Field(default=None, description="material of the gear beyond its tooth roots")
    hub_diameter: f.PositiveLength | None = Field(default=None, description="of the boss on the pinion")
    hub_length: f.UnsignedLength | None = Field(default=None, description="of the boss on the pinion, beside its teeth")
    chamfer: f.UnsignedLength | None = Field(default=None, description="on the edges of the tooth tips")
    pinion_grip: PinionGrip = PinionGrip()
    pegs: Pegs = Pegs()
    limits: GearLimits = GearLimits()
