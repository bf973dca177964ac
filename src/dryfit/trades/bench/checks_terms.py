"""What a prediction is made of: the reading, the instrument's doubt, the scatter from unit to unit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.ground.findings import Term, by_rule, calculated
from dryfit.ground.quantity import Kind, Num, Origin
from dryfit.ground.sources import derived, practice

MECHANICS = derived("statics and kinematics of a rigid body")
CIRCUIT = derived("Ohm's and Kirchhoff's laws")


@dataclass(frozen=True)
class Prediction:
    """What should be read at one test point of one machine, or of many.

    point: "wheel-1-free-current".  stage: key of the build stage.  kind: what sort of point it is ("free-current"),
    for what there is to say about all of its sort.
    term: the reading, workings and all, (...,).  accuracy: half-width of the instrument, in the same unit.
    scatter: half-width of what differs from one unit to the next and is no number of the design; None for none.
    given: what the reading is taken under, or what the words about it need ("{U_bench}"), by symbol.
    reads: path of the number of the design that the reading is, nothing else going into it; "" for none.
    most: the term is the most that is expected, and any reading down to nothing is fine.
    """

    point: str
    title: str
    stage: str
    kind: str
    term: Term
    accuracy: Term
    scatter: Term | None = None
    given: tuple[Term, ...] = ()
    reads: str = ""
    most: bool = False


@dataclass(frozen=True)
class Handed:
    """What other trades found that is read at the bench, each with its workings; None where a machine has none of it.

    wheel_load (..., P, W) N.  tip_angle (..., P) rad.  sections: name and mass.  sway: half-width at the top, m.
    gear_ratio (...,).  backlash, backlash_error, working, stage_ratio, gear_base (..., G): as drawn, what errors do to
    it, working angle, ratio, base radius of the driven gear.  emf, source_resistance (..., 2): as the bridges see
    them, full and at the day's end.  rail_source: source at the bus with full packs, emf and resistance (...,).
    strip_volts: for each set, volts at its farthest LED in full white under the cap on full packs.  strip_current
    (..., K): of each set then.  stop, lost: ways to standstill on the level.  speed_by_direction (..., 72).
    """

    wheel_load: Term
    tip_angle: Term
    sections: tuple[tuple[str, Term], ...]
    sway: Term | None
    gear_ratio: Term
    backlash: Term | None
    backlash_error: Term | None
    working: Num
    stage_ratio: Num
    gear_base: Num
    emf: Term
    source_resistance: Term
    rail_source: tuple[Term, Term]
    strip_volts: tuple[Term, ...]
    strip_current: Term | None
    stop: Term
    lost: Term
    speed_by_direction: Term


def slug(words: str) -> str:
    """A name as part of a point's name: lower-case words with hyphens."""
    return re.sub(r"[\W_]+", "-", words.lower()).strip("-") or "unnamed"


def unique(names: Sequence[str]) -> tuple[str, ...]:
    """Slugs of names, numbered where two come out alike."""
    taken: list[str] = []
    for name in map(slug, names):
        n, free = 2, name
        while free in taken:
            n, free = n + 1, f"{name}-{n}"
        taken.append(free)
    return tuple(taken)


def instrument(name: str, reading: Num, unit: str, fixed: float, share: float) -> Term:
    """Half-width of an instrument: a fixed part and a share of what it reads (common practice)."""
    # no part of a reading without end, such as a stop that never comes, is known
    with np.errstate(invalid="ignore"):
        value = np.abs(np.asanyarray(reading)) * share + fixed
    return calculated(
        "d", f"half-width of {name}", value[()], unit, "d_0 + share × reading",
        (
            by_rule("d_0", "fixed part", fixed, unit, practice(f"{name} of a hobby workshop")),
            by_rule("share", "of the reading", share, "%", practice(f"{name} of a hobby workshop")),
        ),
    )  # fmt: skip


def share_of(name: str, reading: Num, unit: str, share: Num, why: str) -> Term:
    """Scatter from unit to unit as a share of the reading."""
    value = np.abs(np.asanyarray(reading)) * share
    part = by_rule("s", "share of the reading", share, "%", practice(why))
    return calculated("u", name, value[()], unit, "s × reading", (part,))


def scale(reading: Num) -> Term:
    """Kitchen scale below some kilograms, luggage scale above."""
    return instrument("a kitchen or luggage scale", reading, "kg", 0.005, 0.005)


def volt_meter(reading: Num) -> Term:
    return instrument("a multimeter on volts", reading, "V", 0.02, 0.005)


def clamp_meter(reading: Num) -> Term:
    return instrument("a clamp meter for direct current", reading, "A", 0.03, 0.02)


def found(origins: Mapping[str, Origin], symbol: str, name: str, value: Num, unit: str, path: str) -> Term:
    """A number of the machine with the line it was read from; what was worked out under its own name says so."""
    return Term(symbol, name, value, unit, origins.get(path) or Origin(Kind.RULE, path=path, note="of the machine"))
