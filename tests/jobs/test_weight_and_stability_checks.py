"""Weight and stability of small machines: each check holding and short for the planted reason, one machine and many."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dryfit.design.sections.arms import Arms as ArmsRecord
from dryfit.design.sections.body import Body
from dryfit.design.sections.brief import Brief as BriefRecord
from dryfit.design.sections.wheels import Wheels as WheelsRecord
from dryfit.ground.findings import Finding, State, origins, state
from dryfit.ground.quantity import Kind, Origin, Quantity
from dryfit.machine.arms import resolve_arms
from dryfit.machine.body import resolve_body
from dryfit.machine.brief import resolve_brief
from dryfit.machine.ledger import Ledger
from dryfit.machine.wheels import resolve_wheels
from dryfit.trades.stability.checks import StabilityResult, assess_stability
from dryfit.trades.weight.checks import WeightResult, assess_weight

Sections = dict[str, Any]

THREE: Sections = {"layout": "three omni", "circle_radius": "300 mm", "item": "omni-203-double"}
FOUR: Sections = {"layout": "four omni", "circle_radius": "300 mm", "item": "omni-203-double"}
TWO: Sections = {"layout": "two driven and casters", "track": "420 mm", "wheelbase": "400 mm", "item": "rubber-150"}
BASE: Sections = {"name": "base", "shape": "cylinder", "diameter": "500 mm", "length": "200 mm", "mass": "18 kg",
                  "at": ["0 mm", "0 mm", "120 mm"], "section": "base"}  # fmt: skip
MAST: Sections = {"name": "mast", "shape": "tube", "diameter": "50 mm", "length": "1.2 m", "wall": "2 mm",
                  "mass": "4 kg", "at": ["0 mm", "0 mm", "800 mm"], "section": "mast"}  # fmt: skip
PETALS: Sections = {
    "groups": [
        {"name": "petal", "count": "6", "mount_radius": "70 mm", "mount_height": "900 mm",
         "joints": [{"name": "shoulder", "link": {"length": "400 mm", "mass": "0.5 kg", "centre": "250 mm"}}]}
    ],
    "postures": [
        {"name": "closed", "angles": {"shoulder": "-90 deg"}},
        {"name": "raised", "angles": {"shoulder": "60 deg"}},
        {"name": "one side", "angles": {"shoulder": "0 deg"}, "arms": ["1", "2", "3"], "others": "closed"},
    ],
}  # fmt: skip


def assessed(
    wheels: Sections | None = None,
    brief: Sections | None = None,
    arms: Sections | None = None,
    parts: list[Sections] | None = None,
    **body: Any,
) -> tuple[WeightResult, StabilityResult]:
    ledger = Ledger()
    b = resolve_brief(BriefRecord.model_validate(brief or {}), ledger)
    w = resolve_wheels(WheelsRecord.model_validate(wheels or THREE), ledger)
    p = resolve_body(Body.model_validate({"parts": [BASE, MAST] if parts is None else parts, **body}), ledger, Path())
    a = resolve_arms(ArmsRecord.model_validate(arms or {}), ledger)
    ledger.close()
    weight = assess_weight(ledger.origins, b, w, p, a)
    stability = assess_stability(
        ledger.origins, b, w, p, a,
        mass=weight.mass, centre_of_mass=weight.centre_of_mass, inertia=weight.inertia,
    )  # fmt: skip
    return weight, stability


def finding_of(check: str, **given: Any) -> Finding:
    weight, stability = assessed(**given)
    return next(f for f in weight.findings + stability.findings if f.check == check)


def test_a_sound_machine_has_nothing_short() -> None:
    weight, stability = assessed(arms=PETALS, brief={"push": "30 N"})
    short = [f.check for f in weight.findings + stability.findings if state(f) is State.SHORT]
    assert short == []


def test_an_empty_design_runs_on_defaults() -> None:
    weight, stability = assessed(wheels={"layout": "three omni"}, parts=[])
    assert weight.mass.value == pytest.approx(20)
    assert all(np.all(np.isfinite(f.margin)) for f in weight.findings + stability.findings)
    assert any(o.kind is Kind.DEFAULT and o.path == "body.rough.mass" for o in origins((weight.mass,)))


NARROW: Sections = {**THREE, "circle_radius": "120 mm"}
TALL: Sections = {**MAST, "mass": "14 kg", "at": ["0 mm", "0 mm", "1.3 m"]}
SHORT_FOR_A_REASON: dict[str, Sections] = {
    "mass-known": {"parts": [BASE | {"guessed": "yes"}, MAST]},
    "lift-by-one-person": {"parts": [BASE | {"mass": "28 kg"}, MAST]},
    "fits-the-door": {"brief": {"door_width": "500 mm"}},
    "wheel-load-share": {"parts": [BASE | {"at": ["140 mm", "0 mm", "120 mm"]}, MAST]},
    "wheel-overloaded": {"wheels": THREE | {"load_rating": "6 kg"}},
    "every-wheel-on-the-floor": {"wheels": FOUR, "contact_stiffness": "2000 N/mm"},
    "stands-level": {"parts": [BASE | {"at": ["200 mm", "0 mm", "120 mm"]}, MAST]},
    "tilt-board": {"wheels": NARROW, "parts": [BASE, TALL]},
    "push-by-a-visitor": {"brief": {"push": "120 N"}},
    "postures-keep-their-footing": {"arms": PETALS, "brief": {"limits": {"posture_share": "99 %"}}},
    "tips-when-braking": {"brief": {"braking": "3 m/s2"}},
    "tips-when-turning": {"brief": {"speed": "1.5 m/s", "turn_rate": "150 deg/s"}},
    "stands-on-the-slope": {"brief": {"slope": "35 deg"}},
    "tips-when-hitting-an-edge": {"brief": {"speed": "2 m/s"}, "parts": [BASE, TALL]},
    "steps-over-edges": {"brief": {"step": "6 mm"}},
    "sways-at-the-top": {"wheels": THREE | {"run_out": "3 mm"}},
}


@pytest.mark.parametrize("check", SHORT_FOR_A_REASON)
def test_every_check_is_short_for_its_reason_and_holds_without(check: str) -> None:
    assert state(finding_of(check, **SHORT_FOR_A_REASON[check])) is State.SHORT
    sound: Sections = {"arms": PETALS} if check == "postures-keep-their-footing" else {}
    if check == "every-wheel-on-the-floor":
        sound = {"wheels": FOUR}
    if check == "push-by-a-visitor":
        sound = {"brief": {"push": "20 N"}}
    assert state(finding_of(check, **sound)) in (State.HOLDS, State.TIGHT)


def test_every_check_of_the_two_trades_has_been_tried_short() -> None:
    weight, stability = assessed(arms=PETALS, wheels=FOUR)
    assert {f.check for f in weight.findings + stability.findings} == set(SHORT_FOR_A_REASON)


def test_what_can_hurt_carries_a_caution() -> None:
    _, stability = assessed(arms=PETALS)
    assert all(f.caution for f in stability.findings if f.topic in ("tipping", "arms out"))
    assert finding_of("lift-by-one-person").caution


def test_the_circle_named_in_the_remedy_would_just_do() -> None:
    f = finding_of("tilt-board", wheels=NARROW | {"row_gap": "0 mm"}, parts=[BASE, TALL])
    just = next(t for t in f.terms if t.symbol == "R_just")
    wide = {**THREE, "row_gap": "0 mm", "circle_radius": f"{float(np.max(just.value)) * 1e3 * 1.0001:.6f} mm"}
    assert float(finding_of("tilt-board", wheels=wide, parts=[BASE, TALL]).margin) == pytest.approx(0.1, abs=2e-3)


def test_workings_lead_to_the_lines_of_the_design() -> None:
    _, stability = assessed(arms=PETALS)
    paths = {o.path for f in stability.findings for o in origins(f.terms)}
    f = next(f for f in stability.findings if f.check == "tips-when-braking")
    kinds = {o.kind for o in origins(f.terms)}
    assert Kind.DESIGN in kinds
    assert paths


def test_machine_that_only_rolls_straight_is_judged_ahead_and_back() -> None:
    f = finding_of("tips-when-braking", wheels=TWO)
    narrow = finding_of("tips-when-braking", wheels=TWO | {"track": "100 mm"})
    # a narrow track weakens it sideways, where it cannot brake
    assert float(narrow.margin) == pytest.approx(float(f.margin))
    assert finding_of("steps-over-edges", wheels=TWO).cases == ("ahead and back",)
    assert float(finding_of("tips-when-turning", wheels=TWO | {"track": "100 mm"}).margin) < float(
        finding_of("tips-when-turning", wheels=TWO).margin
    )


def test_wheels_that_no_part_covers_are_added_once() -> None:
    counted, _ = assessed()
    added, _ = assessed(wheels_included="no")
    assert float(np.asarray(added.mass.value - counted.mass.value)) == pytest.approx(3 * 0.75)


def test_taken_apart_each_section_passes_a_low_door() -> None:
    low = {"door_height": "1.2 m"}
    assert state(finding_of("fits-the-door", brief=low)) is State.SHORT
    assert state(finding_of("fits-the-door", brief=low, through_door="in sections")) is State.HOLDS


def test_arms_out_to_one_side_shift_the_load_to_the_wheels_there() -> None:
    weight, _ = assessed(arms=PETALS)
    load = np.asarray(weight.wheel_load.value)
    assert load.shape == (3, 3)
    np.testing.assert_allclose(load[0], load[0, 0])
    assert np.ptp(load[2]) > 5
    np.testing.assert_allclose(load.sum(axis=-1), np.asarray(weight.mass.value) * 9.80665)


def many(low: float, high: float, dimension: str, count: int = 9) -> Quantity:
    return Quantity(np.linspace(low, high, count), dimension, Origin(Kind.DESIGN))


def one_of(q: Quantity, k: int) -> Quantity:
    return Quantity(float(np.asarray(q.si)[k]), q.dimension, q.origin)


VARIED: dict[str, tuple[str, Quantity]] = {
    "circle": ("wheels.circle_radius", many(0.15, 0.4, "length")),
    "row gap": ("wheels.row_gap", many(0.0, 0.03, "length")),
    "mass of a part": ("parts.1.mass", many(1, 9, "mass")),
    "height of a part": ("parts.1.at.2", many(0.4, 1.4, "length")),
    "place of a part": ("parts.0.at.0", many(-0.2, 0.2, "length")),
    "diameter of a part": ("parts.0.diameter", many(0.2, 0.7, "length")),
    "friction": ("brief.friction", many(0.2, 0.9, "plain number")),
    "slope": ("brief.slope", many(0.0, 0.2, "angle")),
    "speed": ("brief.speed", many(0.1, 1.5, "speed")),
    "push": ("brief.push", many(10, 90, "force")),
    "door": ("brief.door_width", many(0.5, 1.2, "length")),
    "step": ("brief.step", many(0.0, 0.02, "length")),
    "arm": ("arms.groups.0.joints.0.link.mass", many(0.2, 1.0, "mass")),
}


def with_value(path: str, value: Any, layout: Sections) -> Sections:
    import copy

    given: Sections = copy.deepcopy({"wheels": layout, "brief": {}, "arms": PETALS, "parts": [BASE, MAST]})
    keys = path.split(".")
    place: Any = given
    for key in keys[:-1]:
        place = place[int(key)] if isinstance(place, list) else place.setdefault(key, {})
    if isinstance(place, list):
        place[int(keys[-1])] = value
    else:
        place[keys[-1]] = value
    return given


@pytest.mark.parametrize("layout", [THREE, FOUR], ids=["three", "four"])
@pytest.mark.parametrize("name", VARIED)
def test_many_machines_at_once_equal_the_loop(name: str, layout: Sections) -> None:
    path, values = VARIED[name]
    weight, stability = assessed(**with_value(path, values, layout))
    for k in range(9):
        w, s = assessed(**with_value(path, one_of(values, k), layout))
        for all_of_them, one in zip(weight.findings + stability.findings, w.findings + s.findings, strict=True):
            margins = all_of_them.margins if all_of_them.margins.ndim == 1 else all_of_them.margins[k]
            np.testing.assert_allclose(margins, one.margins, rtol=1e-12, atol=1e-12, err_msg=one.check)
        for term, one_term in (
            (weight.centre_of_mass, w.centre_of_mass), (weight.inertia, w.inertia), (weight.wheel_load, w.wheel_load),
            (weight.height, w.height), (stability.tip_angle, s.tip_angle),
            (stability.tip_acceleration, s.tip_acceleration),
        ):  # fmt: skip
            whole, part = np.asarray(term.value), np.asarray(one_term.value)
            np.testing.assert_allclose(whole[k] if whole.ndim > part.ndim else whole, part, rtol=1e-12, atol=1e-12)


def test_gangway_layout_in_a_batch_equals_the_loop() -> None:
    track = many(0.3, 0.6, "length")
    weight, stability = assessed(wheels=TWO | {"track": track})
    for k in range(9):
        w, s = assessed(wheels=TWO | {"track": one_of(track, k)})
        for all_of_them, one in zip(weight.findings + stability.findings, w.findings + s.findings, strict=True):
            margins = all_of_them.margins if all_of_them.margins.ndim == 1 else all_of_them.margins[k]
            np.testing.assert_allclose(margins, one.margins, rtol=1e-12, atol=1e-12, err_msg=one.check)


def test_a_nan_never_holds() -> None:
    nan = Quantity(np.nan, "mass", Origin(Kind.MISSING, note="weigh it"))
    weight, stability = assessed(parts=[BASE | {"mass": nan}, MAST])
    rests_on_mass = [f for f in weight.findings + stability.findings if f.topic in ("tipping", "arms out")]
    assert rests_on_mass
    assert all(state(f) in (State.SHORT, State.UNKNOWN) for f in rests_on_mass)
