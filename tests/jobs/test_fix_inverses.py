"""Levers solved by trying, held to inverses that can be written down.

Each relation is mechanics, circuit theory or gear geometry alone; its name stands beside it.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from dryfit.catalogue.rows import Row, keys, row
from dryfit.design.write import write_values
from dryfit.ground.units import STANDARD_GRAVITY as G
from dryfit.jobs.check import Checked, check, example, new
from dryfit.jobs.fix import fixes_of
from dryfit.studies.records_fix import Offer


def offer(checked: Checked, name: str, path: str) -> Offer:
    """The offer that changes just this key."""
    offers = fixes_of(checked, name).checks[0].offers
    return next(o for o in offers if o.change.edits[0].path == path and not o.pair)


def number(text: str) -> float:
    return float(text.partition(" ")[0])


@pytest.fixture(scope="module")
def beacon() -> Checked:
    return check(example("beacon"))


def height(checked: Checked) -> float:
    found = next(f for f in checked.report.figures if "centre of mass" in f.term.name)
    return float(np.max(np.asarray(found.term.value)))


def test_wheel_circle_for_a_tilted_board(beacon: Checked) -> None:
    """b = h tan(alpha), statics of a body on a board; the edge of three wheels lies at half the circle, less half of
    half the gap between the two rows of rollers (geometry of the triangle)."""
    found = offer(beacon, "tilt-board", "base.wheels.circle_radius")
    asked, reserve, gap = math.radians(10), 0.1, 22.0
    b = 1e3 * height(beacon) * math.tan(asked / (1 - reserve))
    circle = 2 * b + gap / 2
    assert number(found.just) == pytest.approx(circle, rel=0.003)
    assert number(found.just) >= circle * (1 - 1e-6)
    assert number(found.change.edits[0].new) >= circle


def test_braking_that_keeps_half_of_the_tipping_acceleration(beacon: Checked) -> None:
    """a = p g b / h, moments about the edge (d'Alembert)."""
    found = offer(beacon, "tips-when-braking", "brief.braking")
    edge = (200.0 - 22.0 / 2) / 2 / 1e3
    most = 0.5 * G * edge / height(beacon)
    assert number(found.just) == pytest.approx(most, rel=0.005)
    assert number(found.just) <= most * (1 + 1e-6)


def test_centre_distance_of_a_ring() -> None:
    """a = m (z2 - z1) / 2, geometry of an internal pair without shift."""
    found = offer(check(example("beacon")), "centre-distance-is-right", "base.gears[0].centre_distance")
    assert number(found.change.edits[0].new) == pytest.approx(1.5 * (48 - 12) / 2)


def test_wire_for_a_fuse(tmp_path: Path) -> None:
    """The smallest conductor whose tabled current, less the share for a warm place, reaches what the fuse lets pass.

    The share is that of the wire as typed; the table is the catalogue's (IEC 60364-5-52, see its rows).
    """
    file = new(tmp_path / "m", "sunbloom")
    write_values(file, {"power.branches[4].area": "0.5 mm2"})
    now = check(file)
    f = next(f for f in now.report.findings if f.check == "fuse-protects-wire")
    case = int(f.governing)
    assert f.cases[case] == "arm feed"
    may, passes = float(f.capacity[case]), float(f.demand[case])
    tabled = sorted((float(r.quantities["area"].si), float(r.quantities["ampacity"].si)) for r in _class5())
    share = may / dict(tabled)[0.5e-6]
    smallest = next(area for area, amps in tabled if share * amps >= passes)
    first = offer(now, "fuse-protects-wire", "power.branches[4].area")
    assert number(first.change.edits[0].new) == pytest.approx(1e6 * smallest)


def _class5() -> list[Row]:
    return [row("wires", k) for k in keys("wires") if k.startswith("class5")]


def test_speed_that_stops_within_the_distance(tmp_path: Path) -> None:
    """v t + v² / (2 a), kinematics of a reaction time and even braking, solved for v."""
    file = new(tmp_path / "m", "gangway")
    write_values(file, {"brief.public_distance": "0.35 m"})
    now = check(file)
    f = next(f for f in now.report.findings if f.check == "stops-before-the-public")
    found = offer(now, "stops-before-the-public", "brief.speed")
    speed = number(found.just)
    capacity, reserve = float(f.capacity[int(f.governing)]), f.reserve.fraction
    demand = float(f.demand[int(f.governing)])
    v0 = float(now.machine.brief.speed)
    t = float(now.machine.safety.link_loss)
    a = v0**2 / (2 * (demand - v0 * t))
    allowed = (1 - reserve) * capacity
    closed = a * (math.sqrt(t * t + 2 * allowed / a) - t)
    assert speed == pytest.approx(closed, rel=0.005)


def test_ratio_for_torque() -> None:
    """Torque at the motor goes as one over the ratio, but for the losses of the teeth: within three per cent."""
    sunbloom = check(example("sunbloom"))
    f = next(f for f in sunbloom.report.findings if f.check == "runs-below-stall-share")
    case = int(f.governing)
    ratio = (60 / 24) * float(f.demand[case]) / (0.8 * float(f.capacity[case]))
    found = offer(sunbloom, "runs-below-stall-share", "base.gears[0].gear_teeth")
    teeth = number(found.change.edits[0].new)
    assert teeth == pytest.approx(24 * ratio, rel=0.03)
    # alone it is no answer: the centre distance has to follow
    assert "centre-distance-is-right" in {m.check for m in found.breaks}


def test_cap_for_a_regulator() -> None:
    """The current of a strip goes as its brightness above what it draws dark (measured strips are straight in it)."""
    beacon = check(example("beacon"))
    found = offer(beacon, "rail-feeds-its-load", "light.cap")
    leds, full, dark, rated, share = 4 * 72, 52.5e-3, 1e-3, 10.0, 0.7
    cap = (share * rated / leds - dark) / (full - dark)
    assert number(found.just) / 100 == pytest.approx(cap, rel=0.01)
    assert number(found.change.edits[0].new) / 100 <= cap
