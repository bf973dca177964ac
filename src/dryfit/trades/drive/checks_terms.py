"""The numbers of the drive as terms that unfold, shared by its findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import derived, memory
from dryfit.ground.units import STANDARD_GRAVITY
from dryfit.machine.brief import Brief
from dryfit.machine.motor import Driver, Motor
from dryfit.machine.read import read, stance
from dryfit.machine.wheels import Wheels
from dryfit.trades.drive.checks_numbers import (
    Blocked,
    Bus,
    Edge,
    Load,
    Map,
    Motion,
    MotorLine,
    Stops,
    Thermal,
)
from dryfit.trades.drive.formulas import at_direction

MECHANICS = derived("rolling of wheels on a rigid base, balance of forces and moments")
CIRCUIT = derived("balance of voltages around bridge, winding and source")
SHEET = memory("Hughes & Drury, Electric Motors and Drives", "ch. 3, the straight line of a permanent-magnet motor")


@dataclass(frozen=True)
class Drive:
    """Everything the findings of the drive lean on."""

    origins: Mapping[str, Origin]
    brief: Brief
    wheels: Wheels
    motor: Motor
    driver: Driver
    motion: Motion
    line: MotorLine
    full: Bus
    end: Bus
    loads: Mapping[str, Load]
    thermal: Thermal
    limits: Map
    stops: Stops
    speeds: Mapping[str, Array]
    torque_at_rest: Array
    edge: Edge
    stall_current: Array
    handed: Mapping[str, Term]
    postures: tuple[str, ...]
    blocked: Blocked

    def read(self, path: str, symbol: str, name: str, value: Num, unit: str) -> Term:
        """A number of the design file."""
        return read(self.origins, symbol, name, value, unit, path)

    # ---- what stands in the file

    @cached_property
    def speed(self) -> Term:
        return self.read("brief.speed", "v", "show speed", self.brief.speed, "m/s")

    @cached_property
    def acceleration(self) -> Term:
        return self.read("brief.acceleration", "a", "acceleration asked for", self.brief.acceleration, "m/s2")

    @cached_property
    def slope(self) -> Term:
        return self.read("brief.slope", "α", "slope of the floor", self.brief.slope, "rad")

    @cached_property
    def rolling(self) -> Term:
        return self.read(
            "brief.rolling_resistance", "c_r", "rolling resistance over load", self.brief.rolling_resistance, "1"
        )

    @cached_property
    def friction(self) -> Term:
        return self.read("brief.friction", "µ", "friction between wheel and floor", self.brief.friction, "1")

    @cached_property
    def low_friction(self) -> Term:
        value = self.brief.friction_low
        return Term("µ_low", "friction between wheel and floor, lower bound", value, "1", self.friction.origin)

    @cached_property
    def radius(self) -> Term:
        r = np.max(self.motion.radius, axis=-1)[()]
        diameter = self.read("base.wheels.diameter", "D", "diameter of the driven wheels", 2 * r, "m")
        return calculated("R", "radius of the driven wheels", r, "m", "D/2", (diameter,), MECHANICS)

    @cached_property
    def stall_torque(self) -> Term:
        return self.read("base.motor.stall_torque", "T_s", "stall torque", self.motor.stall_torque, "N*m")

    @cached_property
    def stall_current_sheet(self) -> Term:
        return self.read("base.motor.stall_current", "I_s", "stall current", self.motor.stall_current, "A")

    @cached_property
    def free_current(self) -> Term:
        return self.read("base.motor.free_current", "I_0", "free current", self.motor.free_current, "A")

    @cached_property
    def free_speed(self) -> Term:
        return self.read("base.motor.free_speed", "ω_0", "free speed", self.motor.free_speed, "rad/s")

    @cached_property
    def sheet_voltage(self) -> Term:
        return self.read("base.motor.voltage", "V_n", "voltage of the sheet", self.motor.voltage, "V")

    @cached_property
    def winding(self) -> Term:
        return self.read(
            "base.motor.winding_resistance", "R_w", "winding resistance, cold", self.motor.winding_resistance, "ohm"
        )

    @cached_property
    def mass(self) -> Term:
        return self.handed["mass"]

    @cached_property
    def gear(self) -> Term:
        return self.handed["gear_ratio"]

    @cached_property
    def efficiency(self) -> Term:
        return self.handed["gear_efficiency"]

    def emf(self, end: bool) -> Term:
        """Electromotive force of the source, full or at the end of the show day."""
        return self._source("emf", end, "E", "electromotive force of the source", "V")

    def source(self, end: bool) -> Term:
        """Resistance of the source, full or at the end of the show day."""
        return self._source("source_resistance", end, "R_s", "resistance of the source", "ohm")

    def _source(self, key: str, end: bool, symbol: str, name: str, unit: str) -> Term:
        term = self.handed[key]
        when = "at the end of the show day" if end else "fully charged"
        value = np.asanyarray(term.value, dtype=float)[..., int(end)][()]
        return Term(f"{symbol}_{'end' if end else 'full'}", f"{name}, {when}", value, unit, term.origin)

    # ---- what was worked out

    @cached_property
    def k_t(self) -> Term:
        return calculated(
            "k_t", "torque for each ampere at the shaft", self.line.k_t, "1", "T_s/(I_s - I_0), in N·m/A",
            (self.stall_torque, self.stall_current_sheet, self.free_current), SHEET,
        )  # fmt: skip

    @cached_property
    def k_e(self) -> Term:
        return calculated(
            "k_e", "voltage for each rad/s at the shaft", self.line.k_e, "1", "(V_n - I_0·R_w)/ω_0, in V·s/rad",
            (self.sheet_voltage, self.free_current, self.winding, self.free_speed), SHEET,
        )  # fmt: skip

    @cached_property
    def path_resistance(self) -> Term:
        bridge = self.read(
            "base.driver.resistance_hot", "R_on", "resistance of the bridge, hot", self.driver.resistance_hot, "ohm"
        )
        leads = self.read(
            "base.driver.lead_resistance", "R_l", "resistance of the motor's leads", self.driver.lead_resistance, "ohm"
        )
        return calculated(
            "R_m", "resistance of winding, bridge and leads, warm", self.end.resistance, "ohm",
            "R_w·(1 + α_Cu·(T_w - 25 °C)) + R_on + R_l", (self.winding, bridge, leads, self.warm_winding), CIRCUIT,
        )  # fmt: skip

    @cached_property
    def warm_winding(self) -> Term:
        return calculated(
            "T_w", "winding after a show day", self.thermal.winding[..., 1][()], "K",
            "two heat stores, copper's rise in the loss", (self.rms_current, *self.heat_path), MECHANICS,
        )  # fmt: skip

    @cached_property
    def rms_current(self) -> Term:
        def share(key: str, symbol: str, name: str, value: Num) -> Term:
            return self.read(f"brief.{key}", symbol, name, value, "%")

        driving = share("driving_share", "s_d", "part of the day spent driving", self.brief.driving_share)
        climbing = share("climbing_share", "s_c", "part of the day spent climbing", self.brief.climbing_share)
        return calculated(
            "I_rms", "root-mean-square current of the hardest-working motor", self.thermal.current, "A",
            "√(s_d·I_level² + s_c·I_slope²)",
            (driving, climbing, self.current("cruise", "I_level", "current on the level"),
             self.current("climb", "I_slope", "current on the slope at steady speed")), MECHANICS,
        )  # fmt: skip

    @cached_property
    def heat_path(self) -> tuple[Term, ...]:
        m = self.motor
        return (
            self.winding,
            self.read("base.motor.winding_to_housing", "R_wh", "winding to housing", m.winding_to_housing, "K/W"),
            self.read("base.motor.housing_to_air", "R_ha", "housing to air", m.housing_to_air, "K/W"),
            self.read("base.motor.winding_heat_capacity", "C_w", "winding", m.winding_heat_capacity, "J/K"),
            self.read("base.motor.housing_heat_capacity", "C_h", "housing", m.housing_heat_capacity, "J/K"),
            self.read("brief.ambient", "T_a", "air around the motor", self.brief.ambient, "K"),
        )

    @cached_property
    def share_of_force(self) -> Term:
        worst = np.max(np.abs(at_direction(self.motion.force, self.motion.hardest)), axis=-1)[()]
        return calculated(
            "s_F", "rim force of the hardest-working wheel for each newton of pull, worst direction", worst, "1",
            "pseudo-inverse of the wheels' rolling conditions, worst of 72 directions", (self.stance,), MECHANICS,
        )  # fmt: skip

    @cached_property
    def stance(self) -> Term:
        places = self.wheels.position
        return stance(self.origins, np.max(np.hypot(places[..., 0], places[..., 1]), axis=-1)[()], "L")

    @cached_property
    def rest_torque(self) -> Term:
        return calculated(
            "T_rest", "torque at rest, all motors at full duty on one bus", self.torque_at_rest, "N*m",
            "k_t·(min(E/(R_m + n·R_s), limit of the bridge) - I_0)",
            (self.k_t, self.emf(True), self.source(True), self.path_resistance, self.free_current), CIRCUIT,
        )  # fmt: skip

    def pull(self, way: str) -> Term:
        """Pull along the floor for a way of driving."""
        brief, mass = self.brief, self.mass.value
        g = STANDARD_GRAVITY
        level = mass * g * brief.rolling_resistance
        uphill = mass * g * (np.sin(brief.slope) + brief.rolling_resistance * np.cos(brief.slope))
        sloped = (self.mass, self.slope, self.rolling)
        table: dict[str, tuple[Num, str, tuple[Term, ...]]] = {
            "cruise": (level, "m·g·c_r", (self.mass, self.rolling)),
            "climb": (uphill, "m·g·(sin α + c_r·cos α)", sloped),
            "slope": (
                uphill + mass * brief.acceleration,
                "m·(a + g·(sin α + c_r·cos α))",
                (*sloped, self.acceleration),
            ),
        }
        value, formula, terms = table[way]
        return calculated(f"F_{way}", f"pull, {way}", value, "N", formula, terms, MECHANICS)

    def torque(self, way: str, symbol: str, name: str) -> Term:
        """Torque that the winding of the hardest-working motor feels, at the shaft."""
        found = self.loads[way]
        terms: tuple[Term, ...] = (self.pull(way), self.share_of_force, self.radius, self.gear, self.efficiency)
        formula = "s_F·F·R/(i·η)"
        if way == "slope":
            formula += " + (½·m_w·R²/(i·η) + J·i)·a/R, a at the rim"
            terms = (*terms, *self.turning)
        return calculated(symbol, name, found.worst(found.felt_torque), "N*m", formula, terms, MECHANICS)

    @cached_property
    def turning(self) -> tuple[Term, ...]:
        """What turns with a wheel."""
        wheel = np.max(self.wheels.mass[..., list(self.motion.driven)], axis=-1)[()]
        return (
            self.read("base.wheels.mass", "m_w", "mass of a wheel, turning as a disc", wheel, "kg"),
            self.read(
                "base.motor.inertia", "J", "inertia of rotor and gearbox at the shaft", self.motor.inertia, "kg*m2"
            ),
        )

    @cached_property
    def way_to_stop(self) -> Array:
        """Way to standstill the way the controller stops, level and downhill, (..., 2), m."""
        return {"ramped": self.stops.ramped, "shorted": self.stops.shorted, "coasting": self.stops.coasting}[
            self.driver.stops
        ]

    def current(self, way: str, symbol: str, name: str) -> Term:
        """Current of the hardest-working motor."""
        found = self.loads[way]
        torque = self.torque(way, f"T_{way}", f"torque at the shaft, {way}")
        return calculated(
            symbol, name, found.worst(found.current), "A", "I_0 + T/k_t", (self.free_current, torque, self.k_t), SHEET
        )

    @cached_property
    def heaviest(self) -> Term:
        """Largest load on any wheel in any posture."""
        term = self.handed["wheel_load"]
        value = np.max(np.asanyarray(term.value, dtype=float), axis=(-2, -1))[()]
        return Term("N", "largest load on a wheel, level and at rest", value, "N", term.origin)

    @cached_property
    def lightest(self) -> Term:
        """Smallest load on any wheel in any posture."""
        term = self.handed["wheel_load"]
        value = np.min(np.asanyarray(term.value, dtype=float), axis=(-2, -1))[()]
        return Term("N_min", "smallest load on a wheel, level and at rest", value, "N", term.origin)

    @cached_property
    def highest(self) -> Term:
        """Height of the centre of mass in the posture that lifts it most."""
        term = self.handed["centre_of_mass"]
        value = np.max(np.asanyarray(term.value, dtype=float)[..., 2], axis=-1)[()]
        return Term("h", "height of the centre of mass, highest posture", value, "m", term.origin)

    @cached_property
    def bound(self) -> Term:
        """Acceleration at which it tips or slips, worst direction."""
        least = np.where(self.motion.allowed, np.minimum(self.limits.tip, self.limits.grip), np.inf)
        tip = self.handed["tip_acceleration"]
        lowest = Term("a_tip", "tips at", np.min(self.limits.tip, axis=-1)[()], "m/s2", tip.origin)
        return calculated(
            "a_most", "tips or slips at, worst direction", np.min(least, axis=-1)[()], "m/s2",
            "least of tipping and grip over 72 directions and all postures",
            (lowest, self.low_friction, self.lightest, self.mass), MECHANICS,
        )  # fmt: skip
