"""What the trades found, as arrays to be drawn; one machine, SI."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array


@dataclass(frozen=True)
class Standing:
    """Where it stands. outline: corners of the support polygon, going round to the left (N, 2), m.  centres: of mass by
    posture (P, 3), m.  tip_angle: in the weakest direction (P,), rad.  postures: their names."""

    postures: tuple[str, ...]
    outline: Array
    centres: Array
    tip_angle: Array


@dataclass(frozen=True)
class Directions:
    """Accelerations by direction of travel, 72 from forward to the left, m/s². tipping: in the weakest posture, tipping
    backwards.  least: of tipping, grip and motors.  limited_by: 0 tipping, 1 grip, 2 motors.
    open: whether it can travel that way at all.  asked: by the brief."""

    tipping: Array
    least: Array
    limited_by: Array
    open: NDArray[np.bool_]
    asked: float


@dataclass(frozen=True)
class MotorLines:
    """The motor at the gearmotor's shaft, N·m and rad/s. lines: name, speeds and torques.  points: name, speed and
    torque at the hardest-working wheel.  lasting: torque that may be asked for long, brief: for a short time."""

    lines: tuple[tuple[str, Array, Array], ...]
    points: tuple[tuple[str, float, float], ...]
    lasting: float
    brief: float


@dataclass(frozen=True)
class Node:
    """The end of a branch: its name, the index of the node that it hangs on (-1 the bus), what it feeds, whether a
    regulator sits there, fuse, A (infinite: none), and by case volts there and amperes in it."""

    name: str
    parent: int
    feeds: str
    regulated: bool
    fuse: float
    volts: tuple[float, ...]
    amperes: tuple[float, ...]


@dataclass(frozen=True)
class SupplyTree:
    """The supply by case: volts of the bus, amperes of the packs, and every branch in the order of the file."""

    cases: tuple[str, ...]
    bus: tuple[float, ...]
    packs: tuple[float, ...]
    nodes: tuple[Node, ...]


@dataclass(frozen=True)
class StripVolts:
    """One set of strips in its brightest scene: place of every LED, m, volts there, and what an LED needs. feeds: their
    places, m."""

    name: str
    place: Array
    volts: Array
    needed: float
    feeds: Array


@dataclass(frozen=True)
class Evenness:
    """What was found of how even a light looks: the sentence that should hold, where, unevenness and what is allowed,
    (max - min)/mean."""

    title: str
    where: str
    unevenness: float
    allowed: float


@dataclass(frozen=True)
class Shims:
    """One stage of gears. gap (N,): as it may be measured; shims (N, 4): to put in, thickest first, 0 for none;
    backlash (N,): that comes of it; planned: the gap drawn or measured.  All m."""

    stage: str
    internal: bool
    measured: bool
    planned: float
    gap: Array
    shims: Array
    backlash: Array


@dataclass(frozen=True)
class Pictures:
    """Everything that the book draws of what was found. motor: None where nothing is driven.
    section_mass: name and mass of what is lifted in one piece, kg.  run_time: s.  stopping_way: m, after a lost link.
    bus_full, bus_end: volts of the bus at rest with full packs, and at its lowest at the end of the day."""

    standing: Standing
    directions: Directions
    motor: MotorLines | None
    supply: SupplyTree
    strips: tuple[StripVolts, ...]
    evenness: tuple[Evenness, ...]
    shims: tuple[Shims, ...]
    section_mass: tuple[tuple[str, float], ...]
    run_time: float
    stopping_way: float
    top_speed: float
    bus_full: float
    bus_end: float
