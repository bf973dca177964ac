"""The axle of a driven wheel as numbers: bar, supports, bearings, grip of the hub, printed seats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dryfit.catalogue.rows import Row
from dryfit.design.sections.axle import Axle as AxleRecord
from dryfit.ground import units
from dryfit.ground.quantity import Kind, Num, Origin, Quantity
from dryfit.ground.sources import Source, memory, practice
from dryfit.machine.gears import Gears
from dryfit.machine.ledger import Default, Ledger
from dryfit.machine.workshop import Workshop

_RAISERS = {"none": "1", "shoulder": "2.7", "key seat": "2.14", "flat": "2", "cross hole": "2.5", "ring groove": "5"}
_END_STOPS = {"none": "0 N", "collar": "300 N", "ring": "1000 N", "screw and washer": "1000 N", "hose clip": "300 N"}
_PATH = "base.axle"

SAME_SIZE = 0.01
"""How far a gear's diameter typed for the axle may lie from the one its stage makes, of it (common practice)."""


@dataclass(frozen=True)
class AxleBearing:
    """One bearing: bore, outside diameter and width, m; ratings C and C0, N; f0; limits of the bore, m, over nominal;
    slope it bears, rad."""

    bore: Num
    outside_diameter: Num
    width: Num
    dynamic_rating: Num
    static_rating: Num
    axial_factor: Num
    bore_upper: Num
    bore_lower: Num
    slope: Num


@dataclass(frozen=True)
class Retention:
    """What holds the wheel. kind: set screw, flat, key, clamp or pin. screw_diameter, m; tightening_torque, N·m;
    preload_kept: share left after settling and creep.  end_stop_force: axial force the end stop holds, N."""

    kind: str
    screw: str
    screw_diameter: Num
    screws: Num
    tightening_torque: Num
    nut_factor: Num
    preload_kept: Num
    friction: Num
    flat_depth: Num
    key_width: Num
    key_height: Num
    pin_diameter: Num
    end_stop: str
    end_stop_force: Num


@dataclass(frozen=True)
class AxleLimits:
    """Habits of the trade: safeties and factors (plain), life in s, lengths in m, stresses in Pa, pull in N."""

    yield_safety: Num
    fatigue_safety: Num
    static_safety: Num
    life: Num
    reliability: Num
    load_transfer: Num
    bore_clearance: Num
    bore_interference: Num
    seat_clearance: Num
    hub_clearance: Num
    ring_stress: Num
    grip_factor: Num
    hub_pressure: Num
    hub_crush: Num
    pull: Num
    axial_play: Num


@dataclass(frozen=True)
class Axle:
    """SI. Stations run along the axle from the bearing away from the wheel (0) to the one beside it (bearing_span).

    given: whether the design file has the section.  overhang: from the nearer bearing to the wheel's centre line.
    wheel_station: place of the wheel between the bearings.  gear_diameter: reference diameter of the gear that drives
    the wheel, NaN for none.  gear_station: its place where it sits on the axle; gear_offset: from the wheel's centre
    line towards the machine where it is a ring on the wheel.  gear_angle: where the pinion meets it, from straight
    above towards the front.  side_thrust: thrust along the axle over the wheel load, (...,), NaN where the kind of
    wheel decides.  wheel_give: how far tyre and hub give under the resting load, m.  seat_*, hub_*: printed bores,
    drawn larger by the allowance.  expansion_mismatch: expansion of frame minus axle, 1/K.
    """

    given: bool
    diameter: Num
    bore: Num
    material: str
    tensile_strength: Num
    yield_strength: Num
    modulus: Num
    endurance_ratio: Num
    tolerance: str
    turns: bool
    arrangement: str
    driven_by: str
    bearing_span: Num
    overhang: Num
    wheel_station: Num
    gear_diameter: Num
    gear_station: Num
    gear_offset: Num
    gear_angle: Num
    pressure_angle: Num
    stress_raiser: str
    stress_concentration: Num
    notch_sensitivity: Num
    side_thrust: Num
    wheel_give: Num
    shaft_load_rating: Num
    bearing: AxleBearing
    housing: str
    seat_allowance: Num
    seat_wall: Num
    seat_modulus: Num
    locating: str
    expansion_mismatch: Num
    retention: Retention
    hub_made: str
    hub_length: Num
    hub_wall: Num
    hub_allowance: Num
    hub_bearing_spacing: Num
    limits: AxleLimits

    @property
    def has_gear(self) -> bool:
        """Whether a gear of known size loads the axle."""
        return bool(np.all(np.isfinite(self.gear_diameter)))

    @property
    def carries_torque(self) -> bool:
        """Whether the torque of the wheel passes through the axle and the hub."""
        return self.driven_by != "ring on the wheel"


class _Reader:
    """Reads the numbers of one section, defaults beside them."""

    def __init__(self, ledger: Ledger, path: str) -> None:
        self.ledger, self.path = ledger, path

    def __call__(
        self,
        key: str,
        dimension: units.Dimension,
        typed: Quantity | None,
        text: str,
        spread: float,
        reason: str,
        row: Row | None = None,
        source: Source | None = None,
    ) -> Num:
        default = Default(text, spread, reason, source)
        return self.ledger.take(f"{self.path}.{key}", dimension, typed, row, default)

    def worked(
        self, key: str, typed: Quantity | None, row: Row | None, otherwise: Num, reason: str, spread: float = 0.1
    ) -> Num:
        """A default that follows from other numbers of the machine rather than from a text."""
        if typed is not None or (row is not None and key in row.quantities):
            return self.ledger.take(f"{self.path}.{key}", units.LENGTH, typed, row)
        return self.ledger.reckon(f"{self.path}.{key}", otherwise, reason, spread, reason)


def resolve_axle(r: AxleRecord | None, ledger: Ledger, workshop: Workshop, gears: Gears | None = None) -> Axle:
    """Numbers of the axle, defaults filled in; the last of the gear stages gives the size of the gear on it.

    Rows: `shaft_materials`, `bearings`, `fasteners`. Faults: words that contradict each other, a gear of another size
    than the last stage's.
    """
    given, r = r is not None, r or AxleRecord()
    take = _Reader(ledger, _PATH)
    arrangement = ledger.choose(f"{_PATH}.arrangement", r.arrangement, "overhung", "the usual way of hanging a wheel")
    on_motor = arrangement == "on the gearmotor shaft"
    driven_by = _driven_by(r, ledger, on_motor, gears)
    turns = _turns(r, ledger, driven_by)
    material_row = ledger.row(f"{_PATH}.material", "shaft_materials", r.material)
    bearing_row = ledger.row(f"{_PATH}.bearing.item", "bearings", r.bearing.item)

    diameter = _diameter(r, take, bearing_row, on_motor)
    raiser = ledger.choose(
        f"{_PATH}.stress_raiser", r.stress_raiser, "flat" if on_motor else "none",
        "a gearmotor's shaft has a flat" if on_motor else "plain bar where it bends most",
    )  # fmt: skip
    steel = "cautious for a steel bar of unknown grade"
    return Axle(
        given=given,
        diameter=diameter,
        bore=_bore(r, take, diameter),
        material="" if r.material is None else str(r.material),
        tensile_strength=take(
            "tensile_strength", units.STRESS, r.tensile_strength, "410 MPa", 0.2, steel, material_row
        ),
        yield_strength=take("yield_strength", units.STRESS, r.yield_strength, "300 MPa", 0.2, steel, material_row),
        modulus=take("modulus", units.STRESS, r.modulus, "205 GPa", 0.03, "steel", material_row),
        endurance_ratio=take(
            "endurance_ratio", units.NUMBER, r.endurance_ratio, "0.5", 0.1, "steel bears half its strength without end",
            material_row, memory("Shigley, Mechanical Engineering Design", "ch. 6"),
        ),
        tolerance=ledger.choose(
            f"{_PATH}.tolerance", r.tolerance, "h9", "ground bright bar is h9, drawn bar h10 (EN 10278)"
        ),
        turns=turns,
        arrangement=arrangement,
        driven_by=driven_by,
        bearing_span=take(
            "bearing_span", units.LENGTH, r.bearing_span, "15 mm" if on_motor else "80 mm", 0.3,
            "inside a usual gearbox" if on_motor else "two bearings a hand's breadth apart",
        ),
        overhang=take(
            "overhang", units.LENGTH, r.overhang, "25 mm" if on_motor else "50 mm", 0.3,
            "half a wheel and room for the hub",
        ),
        wheel_station=take.worked(
            "wheel_station", r.wheel_station, None,
            0.5 * (r.bearing_span.si if r.bearing_span is not None else 0.08), "half way between the bearings",
        ),
        gear_diameter=_gear_diameter(r, take, gears, driven_by),
        gear_station=take.worked(
            "gear_station", r.gear_station, None,
            0.5 * (r.bearing_span.si if r.bearing_span is not None else 0.08), "half way between the bearings",
        ),
        gear_offset=take("gear_offset", units.LENGTH, r.gear_offset, "0 mm", 0.0, "in the plane of the wheel"),
        gear_angle=take("gear_angle", units.ANGLE, r.gear_angle, "0 deg", 0.0, "pinion straight above the axle"),
        pressure_angle=_pressure_angle(r, take, gears),
        stress_raiser=raiser,
        stress_concentration=take(
            "stress_concentration", units.NUMBER, r.stress_concentration, _RAISERS[raiser], 0.2,
            f"first look for: {raiser}", None, memory("Shigley, Mechanical Engineering Design", "Table 7-1"),
        ),
        notch_sensitivity=take(
            "notch_sensitivity", units.SHARE, r.notch_sensitivity, "90 %", 0.1, "sharp notch in a soft steel"
        ),
        side_thrust=_side_thrust(r, ledger),
        wheel_give=take(
            "wheel_give", units.LENGTH, r.wheel_give, "1 mm", 0.5, "rollers or tyre and printed hub under resting load"
        ),
        shaft_load_rating=take(
            "shaft_load_rating", units.FORCE, r.shaft_load_rating, "100 N", 0.5,
            "radial load that small gearmotors allow at the middle of the shaft; ask for the sheet",
        ),
        bearing=_bearing(r, ledger, bearing_row, diameter),
        housing=ledger.choose(f"{_PATH}.housing", r.housing, _housing(r), "goes with the bearing named"),
        seat_allowance=_Reader(ledger, f"{_PATH}.seat").worked(
            "allowance", r.seat.allowance, None, -workshop.hole_offset, "drawn larger by what the printer takes away"
        ),
        seat_wall=ledger.take(
            f"{_PATH}.seat.wall", units.LENGTH, r.seat.wall, None, Default("6 mm", 0.2, "a seat of good thickness")
        ),
        seat_modulus=ledger.take(
            f"{_PATH}.seat.modulus", units.STRESS, r.seat.modulus, None,
            Default("2.2 GPa", 0.3, "printed PLA or PETG across its lines"),
        ),
        locating=ledger.choose(
            f"{_PATH}.locating", r.locating, "one fixed one floating", "the rule for two bearings on one axle"
        ),
        expansion_mismatch=take(
            "expansion_mismatch", units.NUMBER, r.expansion_mismatch, "1.2e-5", 0.2, "aluminium frame, steel axle, 1/K"
        ),
        retention=_retention(r, ledger, diameter),
        hub_made=ledger.choose(f"{_PATH}.hub.made", r.hub.made, "printed", "the usual hub"),
        hub_length=ledger.take(
            f"{_PATH}.hub.length", units.LENGTH, r.hub.length, None,
            Default("25 mm", 0.2, "a hub as long as a wheel is wide"),
        ),
        hub_wall=ledger.take(
            f"{_PATH}.hub.wall", units.LENGTH, r.hub.wall, None, Default("8 mm", 0.2, "a hub of good thickness")
        ),
        hub_allowance=_Reader(ledger, f"{_PATH}.hub").worked(
            "allowance", r.hub.allowance, None, 1e-4 - workshop.hole_offset,
            "drawn larger by what the printer takes away and 0.1 mm to slide on",
        ),
        hub_bearing_spacing=ledger.take(
            f"{_PATH}.hub.bearing_spacing", units.LENGTH, r.hub.bearing_spacing, None,
            Default("20 mm", 0.2, "two bearings in a hub, centre to centre"),
        ),
        limits=_limits(r, ledger),
    )  # fmt: skip


def _driven_by(r: AxleRecord, ledger: Ledger, on_motor: bool, gears: Gears | None) -> str:
    if on_motor or not (r.gear_diameter is not None or (gears is not None and gears.paths)):
        usual, why = "motor on the axle", "nothing stands between gearmotor and wheel"
    elif gears is not None and gears.paths and not gears.internal[-1] and r.turns is not False:
        usual, why = "gear on the axle", "the last stage is a pair of plain gears"
    else:
        usual, why = "ring on the wheel", "the last gear is bolted to the wheel"
    driven_by = ledger.choose(f"{_PATH}.driven_by", r.driven_by, usual, why)
    if on_motor and driven_by != "motor on the axle":
        ledger.fault(
            f"{_PATH}.driven_by",
            "a wheel on the gearmotor's shaft is driven by that shaft",
            driven_by,
            "motor on the axle",
        )
    return driven_by


def _gear_diameter(r: AxleRecord, take: _Reader, gears: Gears | None, driven_by: str) -> Num:
    """As the last stage makes it. One typed beside it must agree; of a batch, where it does not, the stage's counts."""
    if gears is None or not gears.paths or driven_by == "motor on the axle":
        return take.worked(
            "gear_diameter", r.gear_diameter, None, float("nan"), "none given: no gear's force is counted on the axle"
        )
    cut: Num = (gears.module * gears.gear_teeth)[..., -1]
    typed = take.worked("gear_diameter", r.gear_diameter, None, cut, "module × teeth of the last stage's gear", 0.0)
    agrees = np.abs(np.asanyarray(typed) - cut) <= SAME_SIZE * np.asanyarray(cut)
    if not agrees.any() and not np.isnan(cut).all():
        text, path = units.show(float(np.ravel(cut)[0]), "m"), f"{_PATH}.gear_diameter"
        take.ledger.fault(
            path, "not the size of the last stage's gear (module × teeth)", take.ledger.origins[path].text,
            f"{text}, or leave it out",
        )  # fmt: skip
    return cut


def _pressure_angle(r: AxleRecord, take: _Reader, gears: Gears | None) -> Num:
    if r.pressure_angle is None and gears is not None and gears.paths:
        return take.worked(
            "pressure_angle", None, None, gears.pressure_angle[..., -1], "as in the last gear stage", 0.0
        )
    return take("pressure_angle", units.ANGLE, r.pressure_angle, "20 deg", 0.0, "the standard rack (ISO 53)")


def _turns(r: AxleRecord, ledger: Ledger, driven_by: str) -> bool:
    turns = True if r.turns is None else r.turns
    if not turns and driven_by != "ring on the wheel":
        ledger.fault(
            f"{_PATH}.turns", f"an axle that does not turn cannot drive its wheel ({driven_by})", "no",
            "turns: yes, or driven_by: ring on the wheel",
        )  # fmt: skip
    return turns


def _diameter(r: AxleRecord, take: _Reader, bearing_row: Row | None, on_motor: bool) -> Num:
    if r.diameter is None and not on_motor:
        bore = r.bearing.bore or (bearing_row.quantities.get("bore") if bearing_row is not None else None)
        if bore is not None:
            return take.worked("diameter", None, None, bore.si, "as the bearing's bore")
    text, reason = ("8 mm", "a usual gearmotor shaft") if on_motor else ("15 mm", "a bar for a machine of 20 to 30 kg")
    return take("diameter", units.LENGTH, r.diameter, text, 0.2, reason)


def _bore(r: AxleRecord, take: _Reader, diameter: Num) -> Num:
    bore = take("bore", units.LENGTH, r.bore, "0 mm", 0.0, "a solid bar")
    inside = np.asanyarray(bore) < np.asanyarray(diameter)
    if not inside.any() and not np.isnan(diameter).all():
        path = f"{_PATH}.bore"
        take.ledger.fault(path, "as wide as the axle itself", take.ledger.origins[path].text, "less than the diameter")
    return np.where(inside, bore, np.nan)[()]


def _side_thrust(r: AxleRecord, ledger: Ledger) -> Num:
    """NaN without blame: the kind of wheel decides where nothing is typed."""
    path = f"{_PATH}.side_thrust"
    if r.side_thrust is not None:
        return ledger.take(path, units.SHARE, r.side_thrust)
    note = "by the kind of wheel: free rollers 10 % of the wheel load, a tyre or slanted rollers up to their grip"
    ledger.origins[path] = Origin(Kind.DEFAULT, path=path, text="by the kind of wheel", note=note)
    return float("nan")


def _housing(r: AxleRecord) -> str:
    return "pillow block" if r.bearing.item is not None and r.bearing.item.startswith("uc") else "printed seat"


def _bearing(r: AxleRecord, ledger: Ledger, row: Row | None, diameter: Num) -> AxleBearing:
    b, take = r.bearing, _Reader(ledger, f"{_PATH}.bearing")
    size = "smallest common ball bearing for a bar of about 15 mm"
    bore = take.worked("bore", b.bore, row, diameter, "as the axle's diameter")
    return AxleBearing(
        bore=bore,
        outside_diameter=take.worked(
            "outside_diameter", b.outside_diameter, row, 1.9 * bore + 6.5e-3, "about that of the light series"
        ),
        width=take("width", units.LENGTH, b.width, "9 mm", 0.2, size, row),
        dynamic_rating=take("dynamic_rating", units.FORCE, b.dynamic_rating, "5 kN", 0.3, size, row),
        static_rating=take("static_rating", units.FORCE, b.static_rating, "2.5 kN", 0.3, size, row),
        axial_factor=take("axial_factor", units.NUMBER, b.axial_factor, "13", 0.1, "12 to 15 for ball bearings", row),
        bore_upper=take("bore_upper", units.LENGTH, b.bore_upper, "0 um", 0.0, "normal class (ISO 492)", row),
        bore_lower=take("bore_lower", units.LENGTH, b.bore_lower, "-10 um", 0.0, "normal class (ISO 492)", row),
        slope=take(
            "slope", units.ANGLE, b.slope, "0.17 deg", 0.3, "0.001 to 0.003 rad for deep groove ball bearings", row,
            memory("Shigley, Mechanical Engineering Design", "Table 7-2"),
        ),
    )  # fmt: skip


def _retention(r: AxleRecord, ledger: Ledger, diameter: Num) -> Retention:
    t, path = r.retention, f"{_PATH}.retention"
    take = _Reader(ledger, path)
    kind = ledger.choose(f"{path}.kind", t.kind, "clamp", "a split hub drawn together by screws")
    printed = r.hub.made is None or r.hub.made == "printed"
    row = ledger.row(f"{path}.screw", "fasteners", t.screw)
    usual = "M5 in a split hub" if kind == "clamp" else "M5 set screw"
    end_stop = ledger.choose(f"{path}.end_stop", t.end_stop, "none", "nothing said about a stop at the end")
    # In a printed hub the plastic, not the steel, sets the torque: the row's own value is for metal into metal.
    torque_row = None if printed else row
    return Retention(
        kind=kind,
        screw="m5" if t.screw is None else str(t.screw),
        screw_diameter=take("diameter", units.LENGTH, None, "5 mm", 0.0, usual, row),
        screws=take("screws", units.COUNT, t.screws, "2", 0.0, "two, so that one loose screw is not the end"),
        tightening_torque=take(
            "tightening_torque",
            units.TORQUE,
            t.tightening_torque,
            "2.5 N*m",
            0.3,
            "half the torque of steel, for a printed hub",
            torque_row,
        ),
        nut_factor=take("nut_factor", units.NUMBER, t.nut_factor, "0.2", 0.25, "dry or lightly oiled screws"),
        preload_kept=take(
            "preload_kept",
            units.SHARE,
            t.preload_kept,
            "60 %" if printed else "90 %",
            0.3,
            "plastic relaxes by 30 to 50 % in weeks" if printed else "metal settles a little",
        ),
        friction=take(
            "friction", units.NUMBER, t.friction, "0.15", 0.3, "plastic or metal on a smooth steel bar, not cleaned"
        ),
        flat_depth=take.worked("flat_depth", t.flat_depth, None, diameter / 12, "a twelfth of the diameter"),
        key_width=take.worked("key_width", t.key_width, None, diameter / 4, "a quarter of the diameter"),
        key_height=take.worked("key_height", t.key_height, None, diameter / 4, "a quarter of the diameter"),
        pin_diameter=take.worked("pin_diameter", t.pin_diameter, None, diameter / 4, "a quarter of the diameter"),
        end_stop=end_stop,
        end_stop_force=take(
            "end_stop_force", units.FORCE, t.end_stop_force, _END_STOPS[end_stop], 0.5, f"cautious for: {end_stop}"
        ),
    )


def _limits(r: AxleRecord, ledger: Ledger) -> AxleLimits:
    def take(key: str, dimension: units.Dimension, text: str, reason: str, source: Source | None = None) -> Num:
        default = Default(text, 0.0, reason, source or practice(reason))
        return ledger.take(f"{_PATH}.limits.{key}", dimension, getattr(r.limits, key), None, default)

    number, length, stress = units.NUMBER, units.LENGTH, units.STRESS
    printed = r.hub.made is None or r.hub.made == "printed"
    return AxleLimits(
        yield_safety=take("yield_safety", number, "1.5", "one and a half times against lasting bending"),
        fatigue_safety=take("fatigue_safety", number, "1.5", "one and a half times against fatigue"),
        static_safety=take(
            "static_safety",
            number,
            "1.5",
            "ball bearings under shock want 1.5",
            memory("ISO 76", "guidance values of the static safety factor"),
        ),
        life=take("life", units.TIME, "2000 h", "rehearsals, shows and the next use of the base"),
        reliability=take("reliability", units.SHARE, "90 %", "basic rated life is for nine bearings of ten"),
        load_transfer=take("load_transfer", number, "1.5", "braking and turning put half as much again on one wheel"),
        bore_clearance=take("bore_clearance", length, "0.08 mm", "h9 bar in an insert bearing still runs well enough"),
        bore_interference=take("bore_interference", length, "0.01 mm", "a hundredth is tapped on by hand"),
        seat_clearance=take("seat_clearance", length, "0.15 mm", "a ring looser than this knocks in its seat"),
        hub_clearance=take("hub_clearance", length, "0.4 mm", "a hub looser than this runs out of true when clamped"),
        ring_stress=take("ring_stress", stress, "10 MPa", "a quarter of printed strength: the load never rests"),
        grip_factor=take("grip_factor", number, "2", "hold twice the largest torque and side thrust"),
        hub_pressure=take(
            "hub_pressure",
            stress,
            "12 MPa" if printed else "60 MPa",
            "printed PETG or nylon under reversing torque: 10 to 15 MPa"
            if printed
            else "steel on aluminium, reversing",
            memory("bearing pressure of flats and keys"),
        ),
        hub_crush=take(
            "hub_crush",
            stress,
            "30 MPa" if printed else "120 MPa",
            "printed plastic crushed once, at stall" if printed else "aluminium hub crushed once, at stall",
        ),
        pull=take("pull", units.FORCE, "100 N", "bench test: pull the wheel with a luggage scale"),
        axial_play=take("axial_play", length, "0.1 mm", "play of two ball bearings and give of a printed frame"),
    )
