"""The whole machine, from design file to margins: one or many, however it stands, in whatever order and unit told.

Nothing here knows what a trade computes. A batch of machines must find what each of its machines finds alone; turning
the machine on the floor, listing its parts in another order or typing its numbers in other units must change nothing.
"""

from __future__ import annotations

import re
from functools import cache

import numpy as np
import pytest

from dryfit.assess.assess import assess
from dryfit.assess.report import Report
from dryfit.design.read import read_text
from dryfit.design.records import Design
from dryfit.design.values import Value, dimension_at, numbers, value_at, with_values
from dryfit.ground import units
from dryfit.ground.findings import Finding
from dryfit.jobs.check import example
from dryfit.machine.machine import resolve

EXAMPLES = ("sunbloom", "gangway", "drift", "beacon")
MACHINES = 5
SINGLY = 30
NEVER_MORE = ("share", "level", "cap")
"""Numbers that may not grow: shares of a whole that are used up in the examples."""


@cache
def design(name: str) -> Design:
    return read_text(example(name).read_text(encoding="utf-8"), "design.yaml")


def report(d: Design, name: str) -> Report:
    return assess(resolve(d, example(name)))


@cache
def as_drawn(name: str) -> dict[str, Finding]:
    return {f.check: f for f in report(design(name), name).findings}


def varied(name: str, values: dict[str, Value]) -> dict[str, Finding]:
    return {f.check: f for f in report(with_values(design(name), values), name).findings}


def free_numbers(name: str) -> list[str]:
    """Numbers that may differ from machine to machine: all but the counts, which shape it."""
    d = design(name)
    return [p for p in numbers(d) if not dimension_at(d, p).whole and not p.startswith("reserves")]


def si(name: str, path: str) -> float:
    found = value_at(design(name), path)
    assert found is not None
    return float(found.si)


def same(many: Finding, one: Finding, machine: int, machines: int) -> None:
    """One machine of many finds what it finds alone, to twelve figures."""
    assert (many.cases, many.unit, many.reserve) == (one.cases, one.unit, one.reserve)
    for part in ("demand", "capacity", "margins"):
        alone = np.asarray(getattr(one, part))
        together = np.broadcast_to(getattr(many, part), (machines, *alone.shape))[machine]
        np.testing.assert_allclose(together, alone, rtol=1e-12, atol=1e-13, err_msg=f"{one.check}: {part}")


# --- one machine and many ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_number_varied_at_once_finds_what_the_loop_finds(name: str) -> None:
    rng = np.random.default_rng(3)
    values: dict[str, np.ndarray] = {}
    for path in free_numbers(name):
        factor = 1 + 0.02 * (rng.random(MACHINES) - 0.5)
        values[path] = si(name, path) * factor * (0.98 if any(w in path for w in NEVER_MORE) else 1.0)
    together = varied(name, dict(values))
    for machine in range(MACHINES):
        alone = varied(name, {path: float(v[machine]) for path, v in values.items()})
        assert list(alone) == list(together)
        for check, one in alone.items():
            same(together[check], one, machine, MACHINES)


@pytest.mark.parametrize("name", EXAMPLES)
def test_one_number_varied_finds_what_the_machine_as_drawn_finds(name: str) -> None:
    """Every shape of a broadcast is met: one number has an axis over machines, the rest of the machine has none."""
    paths = free_numbers(name)
    for path in paths[:: max(1, len(paths) // SINGLY)]:
        factor = 0.99 if any(w in path for w in NEVER_MORE) else 1.01
        values = si(name, path) * np.array([1.0, factor])
        together = varied(name, {path: values})
        second = varied(name, {path: float(values[1])})
        for check, one in as_drawn(name).items():
            same(together[check], one, 0, 2)
            same(together[check], second[check], 1, 2)


def test_machines_in_two_axes_find_what_one_axis_finds() -> None:
    values = {p: si("sunbloom", p) * (1 + 0.01 * np.arange(6)) for p in ("base.wheels.circle_radius", "brief.speed")}
    flat = varied("sunbloom", dict(values))
    square = varied("sunbloom", {p: v.reshape(2, 3) for p, v in values.items()})
    for check, found in flat.items():
        whole = np.broadcast_to(square[check].margins, (2, 3, len(found.cases)))
        np.testing.assert_allclose(
            whole.reshape(6, -1), np.broadcast_to(found.margins, whole.reshape(6, -1).shape), rtol=1e-12, atol=1e-13
        )


# --- the same machine told otherwise ----------------------------------------------------------------------------------


def unchanged(found: dict[str, Finding], name: str, but: frozenset[str] = frozenset(), close: float = 1e-9) -> None:
    assert set(found) == set(as_drawn(name))
    drawn = {check: float(f.margin) for check, f in as_drawn(name).items() if check not in but}
    now = {check: float(found[check].margin) for check in drawn}
    assert now == pytest.approx(drawn, rel=close, abs=close, nan_ok=True)


@pytest.mark.parametrize("degrees", [5, 25, 60, 115])
def test_turning_the_whole_machine_on_the_floor_changes_nothing_but_how_it_meets_the_door(degrees: int) -> None:
    """Wheels, parts and arms turned about the upright by steps of five degrees, in which directions are looked at."""
    text = example("sunbloom").read_text(encoding="utf-8")
    boxes = re.compile(r"(name: (?:packs|electronics|hub), .*?at: \[[^\]]*\],)", re.DOTALL)
    turned, count = boxes.subn(rf"\1 turned: [0 deg, 0 deg, {degrees} deg],", text)
    assert count == 3
    d = read_text(turned, "design.yaml")
    turn = np.radians(degrees)
    rings = ("base.wheels.first_at", "body.parts[0].ring.first", "body.parts[7].ring.first", "arms.groups[0].first_at")
    found = report(with_values(d, {p: si("sunbloom", p) + turn for p in rings}), "sunbloom")
    unchanged({f.check: f for f in found.findings}, "sunbloom", but=frozenset({"fits-the-door"}))
    for new, old in zip(found.figures, report(design("sunbloom"), "sunbloom").figures, strict=True):
        np.testing.assert_allclose(new.term.value, old.term.value, rtol=1e-9)


@pytest.mark.parametrize("name", EXAMPLES)
def test_parts_listed_in_another_order_change_nothing(name: str) -> None:
    d = design(name)
    parts = d.body.parts
    assert parts is not None
    backwards = d.body.model_copy(update={"parts": type(parts)(reversed(parts))})
    found = report(d.model_copy(update={"body": backwards}), name)
    unchanged({f.check: f for f in found.findings}, name)


def listed(order: list[int]) -> Design:
    """Sunbloom with its three wheels written one by one, in some order."""
    rows = []
    for i in order:
        at = np.radians(60 + 120 * i)
        place = f"[{300 * np.cos(at):.10f} mm, {300 * np.sin(at):.10f} mm]"
        rows.append(f"      - {{name: wheel {i + 1}, at: {place}, kind: omni, heading: {60 + 120 * i + 90} deg}}")
    text = example("sunbloom").read_text(encoding="utf-8")
    start = text.index("    layout: three omni")
    end = text.index("    item: omni-203-double")
    each = "    layout: custom\n    each:\n" + "\n".join(rows) + "\n"
    return read_text(text[:start] + each + text[end:], "design.yaml")


@pytest.mark.parametrize("order", [[0, 1, 2], [2, 0, 1], [1, 0, 2]])
def test_wheels_written_one_by_one_in_any_order_are_the_layout(order: list[int]) -> None:
    found = report(listed(order), "sunbloom")
    unchanged({f.check: f for f in found.findings}, "sunbloom", close=1e-8)


OTHER_UNITS = {"mm": "in", "cm": "in", "m": "in", "kg": "g", "g": "kg", "N*m": "kg*cm", "deg": "rad", "rpm": "deg/s",
               "A": "mA", "V": "mV", "m/s": "km/h", "min": "s", "h": "days", "Ah": "mAh", "kHz": "Hz", "degC": "K",
               "mm2": "mm2", "uF": "mF", "N": "kgf", "ohm": "mohm", "kohm": "ohm", "mohm": "ohm"}  # fmt: skip


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_same_numbers_in_other_units_change_nothing(name: str) -> None:
    """203 mm as 7.992 … in, 3 N*m as 30.59 … kg*cm: SI inside, so that only the last binary digit can differ."""
    d, retyped = design(name), {}
    for path in numbers(d):
        dimension, found = dimension_at(d, path), value_at(d, path)
        assert found is not None
        unit = re.sub(r"^[-+0-9.eE\s]+", "", found.origin.text.split("±")[0]).strip().replace("·", "*")
        other = OTHER_UNITS.get(unit)
        if other is None or other not in dimension.units or found.si == 0:
            continue
        typed = (float(found.si) - dimension.offsets.get(other, 0.0)) / dimension.units[other]
        retyped[path] = f"{typed!r} {other}"
        assert units.read(retyped[path], dimension)[0] == pytest.approx(float(found.si), rel=1e-14)
    assert len(retyped) > 80
    unchanged(varied(name, dict(retyped)), name, close=1e-12)
