"""Forces and distances of travel: slope and rolling, edges and joints, stopping three ways."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array, Num
from dryfit.ground.units import STANDARD_GRAVITY


def travel_force(mass: Num, acceleration: Num, slope: Num, rolling_resistance: Num) -> Num:
    """Force along the floor, N: m·(a + g·sin α + c·g·cos α)."""
    return mass * (acceleration + STANDARD_GRAVITY * (np.sin(slope) + rolling_resistance * np.cos(slope)))


def edge_push(load: Num, radius: Num, height: Num) -> Array:
    """Horizontal push at the axle that lifts a wheel over an edge from standstill, N: N·√(2rh - h²)/(r - h).

    Moments of load and push about the edge. Infinite where the edge reaches the axle.
    """
    r, h = np.asanyarray(radius, dtype=float), np.asanyarray(height, dtype=float)
    above = r - h
    low = above > 0
    arm = np.sqrt(np.maximum(2 * r * h - h * h, 0.0))
    push = load * arm / np.where(low, above, 1.0)
    return np.where(low, push, np.where(np.isnan(above), np.nan, np.inf))[()]


def edge_climbed(push: Num, load: Num, radius: Num) -> Array:
    """Height of the edge onto which a push at the axle just lifts a wheel, m: r·(1 - 1/√(1 + (push/N)²)).

    What `edge_push` asks, solved for the height. None for a push of nothing, and all of it for a wheel without load.
    """
    r, n = np.asanyarray(radius, dtype=float), np.asanyarray(load, dtype=float)
    carries = ~(n <= 0)
    slope = np.where(carries, np.maximum(push, 0.0) / np.where(carries, n, 1.0), np.inf)
    height: Array = np.asanyarray(r * (1 - 1 / np.sqrt(1 + slope * slope)))
    return height[()]


def blocked_deceleration(mass: Num, load: Num, friction: Num, pull: Num, free: Num, moment: Num, shift: Num) -> Array:
    """Deceleration, m/s², that blocked wheels give against travel in each direction, (..., P, K).

    A wheel with free rollers grips only along its line of pull: a = µ·Σ N_i·|u·t_i|/m; a tyre (`free` 0) in any way.
    load (..., P, D), N, at rest; pull (..., D), rad: direction of the grip; free (D,): 1 for rollers, 0 for tyres.
    moment (..., P, K), N·m: of the deceleration about the floor; shift (..., K, D), 1/m: change of load for 1 N·m of
    accelerating, so braking loads the wheels by the negative of it; no wheel carries less than nothing.
    """
    n, angle, flags = (
        np.asanyarray(load, dtype=float),
        np.asanyarray(pull, dtype=float),
        np.asanyarray(free, dtype=float),
    )
    m, change = np.asanyarray(moment, dtype=float), np.asanyarray(shift, dtype=float)
    ways = np.arange(change.shape[-2]) * (2 * np.pi / change.shape[-2])
    force: Array | None = None
    for i in range(n.shape[-1]):
        part = 1 - flags[i] * (1 - np.abs(np.cos(ways - angle[..., i, None])))
        one = np.asanyarray(n[..., i, None] - m * change[..., None, :, i])
        np.maximum(one, 0.0, out=one)
        one = np.asanyarray(one * part[..., None, :])
        force = one if force is None else force + one
    scale = np.asanyarray(friction, dtype=float) / np.asanyarray(mass, dtype=float)
    return np.asanyarray(scale[..., None, None] * force)


def ramp_distance(speed: Num, deceleration: Num) -> Array:
    """Way to standstill at a steady deceleration, m: v²/(2a); infinite where it does not slow down."""
    a = np.asanyarray(deceleration, dtype=float)
    slows = a > 0
    way = speed * speed / (2 * np.where(slows, a, 1.0))
    return np.where(slows, way, np.where(np.isnan(a), np.nan, np.inf))[()]


def shorted_distance(speed: Num, time_constant: Num, friction: Num, most: Num) -> Array:
    """Way to standstill with the motors shorted, m: braking v/τ + friction, never more than `most` (grip or tipping).

    While v/τ + a_f is above `most` the deceleration is `most`; below, x = τ·v - a_f·τ²·ln(1 + v/(a_f·τ)).
    friction a_f may be negative downhill; infinite where the machine creeps on for ever.
    """
    tau, af = np.asanyarray(time_constant, dtype=float), np.asanyarray(friction, dtype=float)
    bound = np.asanyarray(most, dtype=float)
    knee = np.clip((bound - af) * tau, 0.0, speed)
    capped = ramp_distance(np.sqrt(np.maximum(speed * speed - knee * knee, 0.0)), bound)
    still = af > 0
    scale = np.where(still, af, 1.0) * tau
    fading = tau * knee - np.where(still, af, 0.0) * tau * tau * np.log1p(knee / scale)
    good = (still | (af == 0)) & (bound > 0)
    way = np.where(knee < speed, capped, 0.0) + fading
    return np.where(good, way, np.where(np.isnan(af + bound + tau), np.nan, np.inf))[()]


def speed_to_stop_within(room: Num, run_on: Num, deceleration: Num) -> Array:
    """Speed from which a machine stands within `room`, m, after running on for a time and then slowing down steadily:
    v·t + v²/(2a) = x, m/s. Without limit where it stands at once; 0 where it does not slow down."""
    a, t, x = (np.asanyarray(q, dtype=float) for q in (deceleration, run_on, room))
    slows = ~(a <= 0)
    root = np.sqrt(t * t + 2 * x / np.where(slows, a, 1.0)) + t
    at_once = root == 0
    return np.where(slows, np.where(at_once, np.inf, 2 * x / np.where(at_once, 1.0, root)), 0.0)[()]
