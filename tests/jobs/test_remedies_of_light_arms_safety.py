"""A remedy that names a number does what it says: the value applied to Sunbloom makes the check hold again."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
import pytest

from dryfit.assess.assess import assess
from dryfit.design.read import read_text
from dryfit.design.records import Design
from dryfit.design.values import value_at, with_values
from dryfit.ground.findings import Finding, State, Term, Workings, state
from dryfit.ground.units import STANDARD_GRAVITY
from dryfit.jobs.check import example
from dryfit.machine.machine import resolve

FILE = example("sunbloom")
SENSOR = ("  lamp: yes\n", "  person_sensor: {range: 0.5 m, response: 0.2 s}\n  lamp: yes\n")
LINK = "link: {length: 340 mm, mass: 0.42 kg, centre: 161 mm}"
JOINT, STRIP = "arms.groups[0].joints[0]", "light.strips[0]"


def sunbloom(values: dict[str, str | float], *edits: tuple[str, str]) -> Design:
    text = FILE.read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    return with_values(read_text(text, str(FILE)), values)


def found(design: Design, check: str) -> Finding:
    return next(f for f in assess(resolve(design, FILE)).findings if f.check == check)


def named(f: Finding, symbol: str) -> float:
    """The number of the remedy as it is shown: of the governing case, in three figures."""
    assert f"{{{symbol}}}" in f.remedy

    def deep(terms: Sequence[Term]) -> Iterator[Term]:
        for t in terms:
            yield t
            if isinstance(t.origin, Workings):
                yield from deep(t.origin.terms)

    term = next(t for t in deep(f.terms) if t.symbol == symbol)
    value = np.asarray(term.value)
    of_case = value[..., min(int(f.governing), value.shape[-1] - 1)] if value.ndim else value
    return float(f"{float(of_case):.3g}")


def dimmed(part: float) -> dict[str, str | float]:
    levels = {0: 0.4, 1: 0.5, 2: 0.6}
    return {f"light.scenes[{i}].level": level * part for i, level in levels.items()}


Values = dict[str, str | float]
ONE: list[tuple[str, Values, str, Callable[[float], Values]]] = [
    ("brightness-fits-the-regulator", {"light.cap": "90 %"}, "b_max", lambda x: {"light.cap": x}),
    (
        "last-led-has-its-volts",
        {"power.branches[2].area": "0.5 mm2", "power.branches[2].length": "1.4 m"},
        "b_last",
        lambda x: {"light.cap": x},
    ),
    ("feeds-carry-the-current", {f"{STRIP}.length": "6 m"}, "L_max", lambda x: {f"{STRIP}.length": 2 * x}),
    ("frames-keep-up", {"light.data.frame_rate": "150 Hz"}, "f_max", lambda x: {"light.data.frame_rate": x}),
    ("data-is-read-right", {"light.data.level_shifter": "3.6 V"}, "U_need", lambda x: {"light.data.level_shifter": x}),
    (
        "data-edges-are-sharp",
        {"light.data.series_resistor": "3 kohm"},
        "R_max",
        lambda x: {"light.data.series_resistor": x},
    ),
    (
        "no-dots-through-diffuser",
        {f"{STRIP}.leds_per_length": "15"},
        "N",
        lambda x: {f"{STRIP}.leds_per_length": float(math.ceil(x))},
    ),
    ("core-stays-cool", {"brief.ambient": "45 degC"}, "d", dimmed),
    (
        "arms-hold-their-posture",
        {f"{JOINT}.servo.stall_torque": "35 kg*cm"},
        "τ_need",
        lambda x: {f"{JOINT}.servo.stall_torque": x},
    ),
    (
        "arms-lift-from-every-posture",
        {f"{JOINT}.servo.stall_torque": "30 kg*cm"},
        "τ_need",
        lambda x: {f"{JOINT}.servo.stall_torque": x},
    ),
    ("arm-tips-meet", {"arms.limits.tip_gap": "9 mm"}, "g_need", lambda x: {"arms.limits.tip_gap": x}),
    (
        "joints-stay-in-limits",
        {"arms.postures[1].angles.shoulder": "70 deg"},
        "q_over",
        lambda x: {"arms.postures[1].angles.shoulder": math.radians(70) - x - 1e-3},
    ),
    ("speed-among-the-public", {"brief.speed": "0.8 m/s"}, "v_lim", lambda x: {"brief.speed": x}),
    ("contact-force", {"safety.contact.edge_stiffness": "40 N/mm"}, "v_c", lambda x: {"brief.speed": x}),
    ("stops-on-lost-link", {"safety.link_loss.time": "0.9 s"}, "t_lim", lambda x: {"safety.link_loss.time": x}),
    ("pinch-gaps", {"safety.gaps[0].smallest": "20 mm"}, "g_min", lambda x: {"safety.gaps[0].smallest": x}),
    ("arms-move-gently", {"safety.edge_speed_arms": "0.4 m/s"}, "v_lim", lambda x: {"safety.edge_speed_arms": x}),
    ("feet-stay-out", {"safety.ground_clearance": "60 mm"}, "h_lim", lambda x: {"safety.ground_clearance": x}),
]  # fmt: skip


@pytest.mark.parametrize(("check", "planted", "symbol", "cure"), ONE, ids=[row[0] for row in ONE])
def test_the_number_of_a_remedy_restores_the_reserve(
    check: str, planted: Values, symbol: str, cure: Callable[[float], Values]
) -> None:
    design = sunbloom(planted)
    short = found(design, check)
    assert state(short) in (State.SHORT, State.TIGHT)
    holds(found(with_values(design, cure(named(short, symbol))), check))


def holds(f: Finding) -> None:
    """Within the rounding of a shown figure: half a unit of its third digit."""
    assert float(f.margin) >= f.reserve.fraction - 0.005


def test_a_counterweight_that_keeps_the_servos_cool() -> None:
    """The torque named, hung 200 mm behind the shoulder."""
    hot = {f"{JOINT}.servo.thermal_resistance": "25 K/W"}
    short = found(sunbloom(hot), "servos-stay-cool")
    assert state(short) is State.SHORT
    kilograms = named(short, "τ_c") / STANDARD_GRAVITY / 0.2
    weight = (LINK, f"{LINK}\n          counterweight: {{mass: {kilograms:.4f} kg, distance: 200 mm}}")
    holds(found(sunbloom(hot, weight), "servos-stay-cool"))


def test_a_sensor_that_sees_far_enough() -> None:
    short = found(sunbloom({}, SENSOR), "people-are-seen-in-time")
    assert state(short) is State.SHORT
    far = {"safety.person_sensor.range": named(short, "d_need")}
    holds(found(sunbloom(far, SENSOR), "people-are-seen-in-time"))


def test_how_bright_and_how_long() -> None:
    """White on a regulator of 10 A of which 70 % are planned: 216 n mA (1 + 51.5 b) = 7 A, b = 61 % (by hand). The
    packs' 29.4 Ah then last about 3 h: 6.9 A at 5 V is 2.9 A at 13 V with the regulator's loss, the arms held take the
    rest."""
    f = found(sunbloom({}), "brightness-fits-the-regulator")
    assert named(f, "b_max") == pytest.approx((7 / 216 - 0.001) / 0.0515, abs=0.002)
    assert 2.5 * 3600 < named(f, "t_white") < 3.5 * 3600
    level = value_at(sunbloom({}), "light.scenes[2].level")
    assert level is not None
    assert float(np.asarray(level.si)) < named(f, "b_max")
