"""What holds a wheel on its axle: screws and their preload, set screws, flats, keys, clamps, pins, bands."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Num

HALF_THREAD_ANGLE = np.pi / 6


def stress_area(diameter: Num, pitch: Num) -> Num:
    """Tensile stress area of an ISO metric thread, m²: π/4 (d - 0.9382 P)² (ISO 898-1)."""
    return np.pi / 4 * (diameter - 0.9382 * pitch) ** 2


def proof_load(area: Num, proof_stress: Num) -> Num:
    """Load a screw bears without lasting stretch, N: As · Sp (580 MPa for class 8.8 to 16 mm).

    ISO 898-1 multiplies the stress area as it tabulates it, to three figures."""
    return area * proof_stress


def nut_factor(diameter: Num, pitch: Num, thread_friction: Num, collar_friction: Num) -> Num:
    """K of T = K F d from the friction in the thread, at the mean of nominal and root diameter (d - 1.2269 P), and
    under the head, whose mean radius is 0.625 d."""
    mean = diameter - 1.2269 * pitch / 2
    lead = pitch / (np.pi * mean)
    slip = thread_friction / np.cos(HALF_THREAD_ANGLE)
    factor: Num = mean / (2 * diameter) * (lead + slip) / (1 - lead * slip) + 0.625 * collar_friction
    return factor


def preload(torque: Num, factor: Num, diameter: Num) -> Num:
    """Clamping force of a screw tightened to a torque, N: T/(K d)."""
    return torque / (factor * diameter)


def tightening(force: Num, factor: Num, diameter: Num) -> Num:
    """Torque that gives a clamping force, N·m: K F d."""
    return factor * force * diameter


def clamp_torque(friction: Num, screws: Num, force: Num, diameter: Num) -> Num:
    """Torque a split hub holds on a shaft when it touches along two lines, N·m: µ n F d (the careful assumption)."""
    return friction * screws * force * diameter


def clamp_torque_even(friction: Num, screws: Num, force: Num, diameter: Num) -> Num:
    """The same under pressure even all round, N·m: µ n F π d/2 (with p = n F/(d l))."""
    return clamp_torque(friction, screws, force, diameter) * np.pi / 2


def clamp_axial(friction: Num, screws: Num, force: Num) -> Num:
    """Axial force a split hub holds, two line contacts, N: 2 µ n F."""
    return 2 * friction * screws * force


def flat_width(diameter: Num, depth: Num) -> Num:
    """Width of a flat cut `depth` into a shaft, m: 2 √(d t - t²); none where the cut leaves nothing of the shaft."""
    return 2 * np.sqrt(np.maximum(np.asanyarray(depth, dtype=float) * (diameter - depth), 0.0))[()]


def flat_pressure(torque: Num, diameter: Num, depth: Num, length: Num) -> Num:
    """Bearing pressure on a flat, Pa: T/(A r) with A = width · length and r = d/2; without limit where no flat is."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.divide(torque, flat_width(diameter, depth) * length * diameter / 2)[()]


def key_shear(torque: Num, diameter: Num, width: Num, length: Num) -> Num:
    """Shear stress in a key, Pa: 2 T/(d b l)."""
    return 2 * torque / (diameter * width * length)


def key_pressure(torque: Num, diameter: Num, height: Num, length: Num) -> Num:
    """Pressure of a key on its hub, half its height bearing, Pa: 4 T/(d h l)."""
    return 4 * torque / (diameter * height * length)


def pin_shear(torque: Num, diameter: Num, pin: Num) -> Num:
    """Shear stress in a cross pin cut at both sides of the shaft, Pa: 4 T/(π p² d)."""
    return 4 * torque / (np.pi * np.asanyarray(pin, dtype=float)[()] ** 2 * diameter)


def pin_pressure(torque: Num, diameter: Num, pin: Num, wall: Num) -> Num:
    """Pressure of a cross pin on the two walls of the hub, Pa: T/(p w (d + w))."""
    return torque / (pin * wall * (diameter + wall))


def peg_force(torque: Num, pegs: Num, circle: Num) -> Num:
    """Force on each of the pegs on a circle (its diameter) that pass a torque, N: 2 T/(n D)."""
    return 2 * torque / (pegs * circle)


def peg_shear(force: Num, diameter: Num) -> Num:
    """Shear stress in a peg cut once, Pa: 4 F/(π d²)."""
    return 4 * force / (np.pi * diameter * diameter)


def peg_pressure(force: Num, diameter: Num, length: Num) -> Num:
    """Bearing pressure of a peg in its hole, Pa: F/(d l)."""
    return force / (diameter * length)


def capstan_ratio(friction: Num, angle: Num) -> Num:
    """Tight over slack tension of a rope or band wrapped by `angle` (rad): e^(µ β)."""
    ratio: Num = np.exp(np.asanyarray(friction * angle, dtype=float))[()]
    return ratio


def band_axial(friction: Num, tension: Num) -> Num:
    """Axial force a tensioned band or hose clip holds on a round bar, N: 2 π µ T."""
    return 2 * np.pi * friction * tension
