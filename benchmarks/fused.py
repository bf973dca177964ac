"""Baselines of a sweep: six checks of the demo machine, of stability, drive and power, fused by hand.

`by_formulas` calls the trades' own formulas one after another, with nothing around them: what a person would write who
wants these six margins for any base. `written_out` knows this one base besides (three omni wheels at 60, 180 and 300
deg, of which the hardest-working pushes with 2/3 of the pull and rolls as fast as the machine), so that nothing is left
of its kinematics: what remains is the least that numpy can do. What does not vary is worked out beforehand in both.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dryfit.design.read import read_design
from dryfit.design.values import with_values
from dryfit.ground.findings import margin
from dryfit.machine.machine import Machine, resolve
from dryfit.trades.drive import formulas as drive
from dryfit.trades.drive import formulas_travel as travel
from dryfit.trades.gears.checks import assess_mesh
from dryfit.trades.power.formulas import joining_surge, shares
from dryfit.trades.stability import formulas as stability
from dryfit.trades.weight.checks import assess_weight

Array = NDArray[np.float64]

CHECKS = (
    "tips-when-braking",
    "tilt-board",
    "push-by-a-visitor",
    "runs-below-stall-share",
    "packs-can-be-joined",
    "packs-share",
)
RADIUS, TORQUE, MASS, RESISTANCE = (
    "base.wheels.circle_radius",
    "base.motor.stall_torque",
    "body.parts[7].mass",
    "power.packs.resistance",
)
GRAVITY = 9.80665
_EDGES = np.radians([0.0, 120.0, 240.0])
_AROUND = np.radians(np.arange(0, 360, 5))
_TOWARDS = np.cos(_AROUND[:, None] - _EDGES)


@dataclass(frozen=True)
class Fixed:
    """What does not vary. moment, first_mass: Σ m·c by posture (P, 3) and Σ m without the part whose mass varies;
    per_mass (P, 3), count: what that part adds for each kilogram of one piece, and how many pieces there are."""

    machine: Machine
    moment: Array
    first_mass: float
    per_mass: Array
    count: float
    top: float
    gear: float
    efficiency: float


def fixed(file: Path) -> Fixed:
    """The constants of the machine of a design file, whose weight is linear in the mass of a part."""
    design = read_design(file)

    def weighed(mass: float) -> tuple[Machine, float, Array, float]:
        m = resolve(with_values(design, {MASS: mass}), file)
        w = assess_weight(m.origins, m.brief, m.wheels, m.parts, m.arms)
        return m, float(w.mass.value), np.asarray(w.centre_of_mass.value), float(w.height.value)

    m, light, centre, top = weighed(0.5)
    _, heavy, other, _ = weighed(1.5)
    count = heavy - light
    per_mass = heavy * other - light * centre
    mesh = assess_mesh(m.origins, m.gears, m.workshop)
    return Fixed(
        m, light * centre - 0.5 * per_mass, light - 0.5 * count, per_mass, count, top,
        float(np.asarray(mesh.ratio.value)), float(np.asarray(mesh.efficiency.value)),
    )  # fmt: skip


def written_out(f: Fixed, radius: Array, torque: Array, mass: Array, resistance: Array) -> list[Array]:
    """Margins of CHECKS, each of a shape that broadcasts with the others."""
    m = f.machine
    total = f.first_mass + f.count * mass
    by_posture = mass[..., None]
    x, y, h = ((f.moment[:, k] + f.per_mass[:, k] * by_posture) / total[..., None] for k in range(3))
    half = ((radius - float(np.max(m.wheels.row_gap)) / 2) / 2)[..., None]
    inside = np.stack([half - (np.cos(e) * x + np.sin(e) * y) for e in _EDGES], axis=-1)
    edge = np.min(inside, axis=-1)
    nearest = 1 / inside[..., 0, None] * _TOWARDS[:, 0]
    for e in (1, 2):
        np.maximum(nearest, 1 / inside[..., e, None] * _TOWARDS[:, e], out=nearest)
    tips_at = m.brief.lim_share_of_tipping * GRAVITY / (h * np.max(nearest, axis=-1))
    asked = max(float(m.brief.acceleration), float(m.brief.braking))
    push = float(m.brief.push) * min(float(m.brief.push_height), f.top)
    surge = float(m.power.packs.difference_when_joined) / (
        (resistance + np.min(m.power.packs.lead_resistance)) * (1 + 1 / (m.power.packs.count - 1))
    )
    conductance = 1 / (resistance[..., None] + m.power.packs.lead_resistance)
    uneven = np.max(conductance, axis=-1) / np.sum(conductance, axis=-1) * m.power.packs.count - 1
    return [
        np.min(_margin(asked, tips_at), axis=-1),
        np.min(_margin(float(m.brief.lim_tilt), np.arctan2(edge, h)), axis=-1),
        np.min(_margin(push, total[..., None] * GRAVITY * edge), axis=-1),
        _share_of_stall(f, total, torque),
        _margin(surge, float(m.power.packs.max_charge_current)),
        _margin(uneven, float(m.power.lim_pack_imbalance)),
    ]


def by_formulas(f: Fixed, radius: Array, torque: Array, mass: Array, resistance: Array) -> list[Array]:
    """The same margins by the trades' formulas, for a base of any wheels."""
    m = f.machine
    scale = radius / float(np.hypot(*m.wheels.position[0]))
    places = scale[..., None, None] * m.wheels.position
    total = f.first_mass + f.count * mass
    centre = (f.moment + f.per_mass * mass[..., None, None]) / total[..., None, None]
    normal, offset = stability.support_edges(
        stability.contact_points(places, m.wheels.heading, m.wheels.row_gap, m.wheels.trail)
    )
    inside = stability.edge_distances(normal, offset, centre[..., :2])
    edge, h = np.min(inside, axis=-1), centre[..., 2]
    tips_at = m.brief.lim_share_of_tipping * np.min(stability.tipping_acceleration(normal, inside, h), axis=-1)
    push = stability.push_moment(m.brief.push, m.brief.push_height, f.top)
    packs = m.power.packs
    surge = joining_surge(packs.difference_when_joined, resistance + np.min(packs.lead_resistance), packs.count)
    uneven = np.max(shares(resistance[..., None] + packs.lead_resistance), axis=-1) * packs.count - 1
    return [
        np.min(margin(max(float(m.brief.acceleration), float(m.brief.braking)), tips_at), axis=-1),
        np.min(margin(m.brief.lim_tilt, stability.tip_angle(edge, h)), axis=-1),
        np.min(margin(push, total[..., None] * GRAVITY * edge), axis=-1),
        _share_for_any_base(f, places, total, torque),
        margin(surge, packs.max_charge_current),
        margin(uneven, m.power.lim_pack_imbalance),
    ]


def _share_for_any_base(f: Fixed, places: Array, total: Array, torque: Array) -> Array:
    brief, motor, w = f.machine.brief, f.machine.motor, f.machine.wheels
    length = np.sqrt(np.mean(np.sum(places**2, axis=-1), axis=-1))
    rows = drive.rolling_rows(places, w.heading, w.roller_angle, length)
    force, speed = np.abs(drive.force_shares(rows, np.eye(3))), np.abs(drive.speed_shares(rows))
    hardest = np.argmax(drive.largest(force * w.radius), axis=-1)
    push, roll = drive.at_direction(force, hardest), drive.at_direction(speed, hardest) / w.radius
    through, a = f.gear * f.efficiency, brief.acceleration
    inertia = (motor.inertia / motor.stall_torque * torque)[..., None]

    def felt(pull: Array, acceleration: float) -> Array:
        at_wheel = push * w.radius * pull[..., None] + w.mass * w.radius**2 / 2 * roll * acceleration
        return np.asarray(np.max(at_wheel / through + roll * inertia * f.gear * acceleration, axis=-1))

    cruise = felt(travel.travel_force(total, 0.0, 0.0, brief.rolling_resistance), 0.0)
    slope = felt(travel.travel_force(total, a, brief.slope, brief.rolling_resistance), float(a))
    return np.minimum(margin(cruise, motor.lim_running_share * torque), margin(slope, motor.lim_brief_share * torque))


def _share_of_stall(f: Fixed, total: Array, torque: Array) -> Array:
    brief, motor = f.machine.brief, f.machine.motor
    wheel = float(np.max(f.machine.wheels.radius))
    turning = float(np.max(f.machine.wheels.mass)) * wheel / 2 * float(brief.acceleration)
    slow, steep = float(brief.rolling_resistance), float(brief.slope)
    through = f.gear * f.efficiency
    cruise = total * (GRAVITY * slow * wheel * 2 / 3 / through)
    pull = float(brief.acceleration) + GRAVITY * (np.sin(steep) + slow * np.cos(steep))
    rotor = float(motor.inertia) / float(motor.stall_torque) * f.gear * float(brief.acceleration) / wheel
    slope = total * (pull * wheel * 2 / 3 / through) + turning / through + rotor * torque
    return np.minimum(
        _margin(cruise, float(motor.lim_running_share) * torque), _margin(slope, float(motor.lim_brief_share) * torque)
    )


def _margin(demand: Array | float, capacity: Array | float) -> Array:
    return np.asarray((capacity - demand) / np.maximum(np.abs(demand), np.abs(capacity)))
