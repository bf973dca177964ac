"""Safety: energy, contact force, gaps, distances. Pure relations on floats or broadcasting arrays, SI."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Num

MINIMUM_GAP = {"finger": 0.025, "toes": 0.050, "hand": 0.100, "arm": 0.120, "foot": 0.120, "head": 0.300, "body": 0.500}
"""Gap that a part of the body is not crushed in, m (ISO 13854 Table 1)."""

BODY = {
    "skull": (130.0, 150e3, 4.4), "face": (65.0, 75e3, 4.4), "neck": (150.0, 50e3, 1.2), "back": (210.0, 35e3, 40.0),
    "chest": (140.0, 25e3, 40.0), "abdomen": (110.0, 10e3, 40.0), "pelvis": (180.0, 25e3, 40.0),
    "upper arm": (150.0, 30e3, 3.0), "forearm": (160.0, 40e3, 2.0), "hand": (140.0, 75e3, 0.6),
    "thigh": (220.0, 50e3, 75.0), "lower leg": (130.0, 60e3, 75.0),
}  # fmt: skip
"""Quasi-static force limit N, stiffness N/m and effective mass kg of a region (ISO/TS 15066 Tables A.2 and A.3)."""

HEAD = ("skull", "face", "neck")
"""Regions for which no doubled limit for a short blow is allowed."""


def transient_limit(region: str) -> float:
    """Force of a short blow that the guidance lets a region take, N: twice the quasi-static one, but for the head."""
    force, _, _ = BODY[region]
    return force if region in HEAD else 2 * force


def kinetic_energy(mass: Num, speed: Num) -> Num:
    """Energy of a moving machine, J: m v²/2."""
    return mass * speed**2 / 2


def reduced_mass(machine: Num, body: Num) -> Num:
    """Mass that counts when two bodies meet, kg: 1/(1/m_R + 1/m_H)."""
    return machine * body / (machine + body)


def in_series(stiffness: Num, edge: Num) -> Num:
    """Stiffness of a body's region and the machine's edge one behind the other, N/m: 1/(1/k_H + 1/k_e)."""
    return stiffness * edge / (stiffness + edge)


def contact_force(speed: Num, mass: Num, stiffness: Num) -> Num:
    """Peak force when two bodies meet on a spring, N: F = v √(μ k)."""
    return speed * np.sqrt(mass * stiffness)


def contact_speed(force: Num, mass: Num, stiffness: Num) -> Num:
    """Speed at which the peak force is just reached, m/s: v = F/√(μ k)."""
    hard = np.sqrt(np.asanyarray(mass * stiffness))
    return np.where(hard == 0, np.inf, force / np.where(hard == 0, 1.0, hard))[()]


def protective_distance(approach: Num, time: Num, extra: Num) -> Num:
    """How far away a person must be seen, m: S = K T + Z (ISO 13855).

    approach: speed K at which a hand (2 m/s) or a walking person (1.6 m/s) comes nearer.  time: of the whole chain from
    seeing to standing still, s.  extra: what comes nearer unseen, or what the machine still travels, m.
    """
    return approach * time + extra


def intrusion(resolution: Num) -> Num:
    """How far a finger or hand gets through a light curtain unseen, m: 8 (d - 14 mm), d up to 40 mm (ISO 13855)."""
    return 8 * np.maximum(resolution - 0.014, 0.0)
