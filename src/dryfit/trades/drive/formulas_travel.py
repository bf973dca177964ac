"""Forces and distances of travel: slope and rolling, edges and joints, stopping three ways."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num
from dryfit.ground.units import STANDARD_GRAVITY


def travel_force(mass: Num, acceleration: Num, slope: Num, rolling_resistance: Num) -> Num:
    """Force along the floor, N: m·(a + g·sin α + c·g·cos α)."""
    return mass * (acceleration + STANDARD_GRAVITY * (np.sin(slope) + rolling_resistance * np.cos(slope)))


def joint_drop(radius: Num, width: Num) -> Array:
    """How deep a wheel sinks between two edges, m: r - √(r² - (w/2)²); the radius where the gap takes it in whole."""
    r = np.asarray(radius, dtype=float)
    rest = r * r - np.asarray(width, dtype=float) ** 2 / 4
    drop: Array = r - np.sqrt(np.maximum(rest, 0.0))
    return drop


def edge_push(load: Num, radius: Num, height: Num) -> Array:
    """Horizontal push at the axle that lifts a wheel over an edge from standstill, N: N·√(2rh - h²)/(r - h).

    Moments of load and push about the edge. Infinite where the edge reaches the axle.
    """
    r, h = np.asarray(radius, dtype=float), np.asarray(height, dtype=float)
    above = r - h
    low = above > 0
    arm = np.sqrt(np.maximum(2 * r * h - h * h, 0.0))
    push = load * arm / np.where(low, above, 1.0)
    return np.where(low, push, np.where(np.isnan(above), np.nan, np.inf))[()]


def ramp_distance(speed: Num, deceleration: Num) -> Array:
    """Way to standstill at a steady deceleration, m: v²/(2a); infinite where it does not slow down."""
    a = np.asarray(deceleration, dtype=float)
    slows = a > 0
    way = speed * speed / (2 * np.where(slows, a, 1.0))
    return np.where(slows, way, np.where(np.isnan(a), np.nan, np.inf))[()]


def shorted_distance(speed: Num, time_constant: Num, friction: Num, most: Num) -> Array:
    """Way to standstill with the motors shorted, m: braking v/τ + friction, never more than `most` (grip or tipping).

    While v/τ + a_f is above `most` the deceleration is `most`; below, x = τ·v - a_f·τ²·ln(1 + v/(a_f·τ)).
    friction a_f may be negative downhill; infinite where the machine creeps on for ever.
    """
    tau, af = np.asarray(time_constant, dtype=float), np.asarray(friction, dtype=float)
    bound = np.asarray(most, dtype=float)
    knee = np.clip((bound - af) * tau, 0.0, speed)
    capped = ramp_distance(np.sqrt(np.maximum(speed * speed - knee * knee, 0.0)), bound)
    still = af > 0
    scale = np.where(still, af, 1.0) * tau
    fading = tau * knee - np.where(still, af, 0.0) * tau * tau * np.log1p(knee / scale)
    good = (still | (af == 0)) & (bound > 0)
    way = np.where(knee < speed, capped, 0.0) + fading
    return np.where(good, way, np.where(np.isnan(af + bound + tau), np.nan, np.inf))[()]
