"""Section `base.axle`: the axle of a driven wheel, its bearings, what holds the wheel on it, and the printed seats."""

from __future__ import annotations

from dryfit.design import fields as f

SHAFT_CLASSES = tuple(
    f"{letter}{grade}"
    for letter, grades in {
        "d": (8, 9, 10, 11), "e": (7, 8, 9), "f": (6, 7, 8, 9), "g": (5, 6, 7), "h": (5, 6, 7, 8, 9, 10, 11),
        "js": (5, 6, 7, 8, 9), "j": (5, 6, 7), "k": (5, 6, 7), "m": (5, 6, 7), "n": (5, 6, 7), "p": (5, 6, 7),
    }.items()
    for grade in grades
)  # fmt: skip
"""Tolerance classes of bar and turned shafts that may be named."""


class Bearing(f.Record):
    """One bearing: a row of the catalogue's `bearings`, or its own numbers."""

    item: f.Text | None = None
    bore: f.PositiveLength | None = None
    outside_diameter: f.PositiveLength | None = None
    width: f.PositiveLength | None = None
    dynamic_rating: f.Force | None = None
    static_rating: f.Force | None = None
    axial_factor: f.PositiveNumber | None = None
    bore_upper: f.Length | None = None
    bore_lower: f.Length | None = None
    slope: f.Angle | None = None


class Seat(f.Record):
    """The printed seat of a bearing's outer ring."""

    allowance: f.Length | None = None
    wall: f.PositiveLength | None = None
    modulus: f.Stress | None = None


class Retention(f.Record):
    """How the wheel is held on the axle, round and along it."""

    kind: f.choice("set screw", "flat", "key", "clamp", "pin") | None = None  # type: ignore[valid-type]
    screw: f.Text | None = None
    screws: f.Count | None = None
    tightening_torque: f.Torque | None = None
    nut_factor: f.PositiveNumber | None = None
    preload_kept: f.Share | None = None
    friction: f.PositiveNumber | None = None
    flat_depth: f.PositiveLength | None = None
    key_width: f.PositiveLength | None = None
    key_height: f.PositiveLength | None = None
    pin_diameter: f.PositiveLength | None = None
    end_stop: f.choice("none", "collar", "ring", "screw and washer", "hose clip") | None = None  # type: ignore[valid-type]
    end_stop_force: f.Force | None = None


class Hub(f.Record):
    """The hub of the wheel: where it sits on the axle."""

    made: f.choice("printed", "metal") | None = None  # type: ignore[valid-type]
    length: f.PositiveLength | None = None
    wall: f.PositiveLength | None = None
    allowance: f.Length | None = None
    bearing_spacing: f.PositiveLength | None = None


class AxleLimits(f.Record):
    """Habits of the trade that may be tightened or relaxed."""

    yield_safety: f.PositiveNumber | None = None
    fatigue_safety: f.PositiveNumber | None = None
    static_safety: f.PositiveNumber | None = None
    life: f.Time | None = None
    reliability: f.Share | None = None
    load_transfer: f.PositiveNumber | None = None
    bore_clearance: f.UnsignedLength | None = None
    bore_interference: f.UnsignedLength | None = None
    seat_clearance: f.UnsignedLength | None = None
    hub_clearance: f.UnsignedLength | None = None
    ring_stress: f.Stress | None = None
    grip_factor: f.PositiveNumber | None = None
    hub_pressure: f.Stress | None = None
    hub_crush: f.Stress | None = None
    pull: f.Force | None = None
    axial_play: f.UnsignedLength | None = None


class Axle(f.Record):
    """The axle of one driven wheel; all driven wheels are built alike."""

    diameter: f.PositiveLength | None = None
    bore: f.UnsignedLength | None = None
    material: f.Text | None = None
    tensile_strength: f.Stress | None = None
    yield_strength: f.Stress | None = None
    modulus: f.Stress | None = None
    endurance_ratio: f.PositiveNumber | None = None
    tolerance: f.choice(*SHAFT_CLASSES) | None = None  # type: ignore[valid-type]
    turns: f.Flag | None = None
    arrangement: f.choice("overhung", "between bearings", "on the gearmotor shaft") | None = None  # type: ignore[valid-type]
    driven_by: f.choice("ring on the wheel", "gear on the axle", "motor on the axle") | None = None  # type: ignore[valid-type]
    bearing_span: f.PositiveLength | None = None
    overhang: f.UnsignedLength | None = None
    wheel_station: f.PositiveLength | None = None
    gear_diameter: f.PositiveLength | None = None
    gear_station: f.Length | None = None
    gear_offset: f.Length | None = None
    gear_angle: f.Angle | None = None
    pressure_angle: f.Angle | None = None
    stress_raiser: f.choice("none", "shoulder", "key seat", "flat", "cross hole", "ring groove") | None = None  # type: ignore[valid-type]
    stress_concentration: f.PositiveNumber | None = None
    notch_sensitivity: f.Share | None = None
    side_thrust: f.Share | None = None
    wheel_give: f.PositiveLength | None = None
    shaft_load_rating: f.Force | None = None
    bearing: Bearing = Bearing()
    housing: f.choice("pillow block", "printed seat", "metal seat") | None = None  # type: ignore[valid-type]
    seat: Seat = Seat()
    locating: f.choice("one fixed one floating", "both fixed", "both floating") | None = None  # type: ignore[valid-type]
    expansion_mismatch: f.UnsignedNumber | None = None
    retention: Retention = Retention()
    hub: Hub = Hub()
    limits: AxleLimits = AxleLimits()
