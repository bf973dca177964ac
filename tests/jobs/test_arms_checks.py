"""Arms of small machines: each check holding and short for the planted reason, one machine and many."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from dryfit.design.sections.arms import Arms as Record
from dryfit.design.sections.brief import Brief as BriefRecord
from dryfit.ground.errors import DesignError
from dryfit.ground.findings import State, state
from dryfit.ground.quantity import Kind, Origin, Quantity
from dryfit.ground.units import KGF_CM
from dryfit.machine.arms import Arms, resolve_arms
from dryfit.machine.brief import resolve_brief
from dryfit.machine.ledger import Ledger
from dryfit.trades.arms.checks import ArmsResult, assess_arms

SHOULDER: dict[str, Any] = {
    "name": "shoulder", "axis": "pitch", "lowest": "-92 deg", "highest": "60 deg", "speed_cap": "3 rpm",
    "servo": {"item": "servo-55-kgcm"}, "link": {"length": "340 mm", "mass": "0.42 kg", "centre": "161 mm"},
}  # fmt: skip
PETAL: dict[str, Any] = {
    "name": "petal", "count": "6", "mount_radius": "70 mm", "mount_height": "1150 mm", "joints": [SHOULDER],
    "payload": {"mass": "0.28 kg", "centre": "140 mm", "size": ["280 mm", "180 mm", "4 mm"]},
}  # fmt: skip
SUNBLOOM: dict[str, Any] = {
    "groups": [PETAL],
    "postures": [
        {"name": "closed", "angles": {"shoulder": "-90 deg"}, "time_share": "55 %"},
        {"name": "raised", "angles": {"shoulder": "22.5 deg"}, "time_share": "25 %"},
        {"name": "held out", "angles": {"petal.shoulder": "0 deg"}, "time_share": "10 %"},
        {"name": "one side", "angles": {"shoulder": "22.5 deg"}, "arms": ["1", "2", "3"], "others": "closed"},
    ],
    "boot": "closed",
    "limits": {"tip_gap": "15 mm"},
}


def assessed(given: dict[str, Any]) -> tuple[Arms, ArmsResult]:
    ledger = Ledger()
    brief = resolve_brief(BriefRecord(), ledger)
    arms = resolve_arms(Record.model_validate(given), ledger)
    ledger.close()
    return arms, assess_arms(ledger.origins, arms, brief)


def shoulder(**changes: Any) -> dict[str, Any]:
    return SUNBLOOM | {"groups": [PETAL | {"joints": [SHOULDER | changes]}]}


def posture(name: str, **changes: Any) -> dict[str, Any]:
    return {"name": name, "angles": {"shoulder": "0 deg"}} | changes


def test_sunbloom_holds_the_hand_worked_torque() -> None:
    """20.2 kg·cm straight out; 45 kg·cm servos hold 45 % of stall, 60 kg·cm ones 34 %."""
    arms, result = assessed(SUNBLOOM)
    most = np.max(np.abs(result.hold_torque.value), axis=(-2, -1)) / KGF_CM
    assert most[arms.postures.index("held out")] == pytest.approx(20.2, abs=0.01)
    assert most[arms.postures.index("closed")] == pytest.approx(0, abs=1e-9)
    for item, share in (("servo-45-kgcm", 0.45), ("servo-60-kgcm", 0.34)):
        _, other = assessed(shoulder(servo={"item": item}))
        found = next(f for f in other.findings if f.check == "arms-hold-their-posture")
        assert np.max(found.demand) == pytest.approx(share, abs=0.005)
    assert all(state(f) is State.HOLDS for f in result.findings)


def test_sunbloom_raises_its_centre_of_mass_as_worked_by_hand() -> None:
    """412 to 469 mm of 29.4 kg: the arms' own 4.2 kg rise by 399 mm."""
    arms, _ = assessed(SUNBLOOM)
    mass = np.sum(arms.link_mass)
    height = np.sum(arms.link_mass * arms.link_centre[..., 2], axis=(-2, -1)) / mass
    assert mass == pytest.approx(6 * 0.70)
    rise = height[arms.postures.index("raised")] - height[arms.postures.index("closed")]
    assert rise * mass / 29.4 == pytest.approx(0.469 - 0.412, abs=0.0005)


def test_postures_of_one_side_move_only_the_arms_named() -> None:
    arms, _ = assessed(SUNBLOOM)
    one_side = arms.angle[arms.postures.index("one side"), :, 0]
    assert np.degrees(one_side) == pytest.approx([22.5] * 3 + [-90] * 3)
    assert arms.names[:2] == ("petal 1", "petal 2")
    assert arms.joints == ("petal.shoulder",)
    assert arms.reach == pytest.approx([0.62] * 6)
    assert arms.tip[arms.postures.index("held out"), 0] == pytest.approx([0.69, 0, 1.15])


def test_currents_of_all_servos() -> None:
    """Six servos of 5 A stall: 30 A together; holding straight out 6 × (0.012 + 4.988 × 20.2/55) A (derived)."""
    arms, result = assessed(SUNBLOOM)
    assert result.stall_current.value == pytest.approx(30.0)
    held = result.hold_current.value[arms.postures.index("held out")]
    assert held == pytest.approx(6 * (0.012 + 4.988 * 20.202 / 55), rel=1e-4)
    assert held < result.moving_current.value < 30


@pytest.mark.parametrize(
    ("check", "planted"),
    [
        ("arms-hold-their-posture", shoulder(servo={"item": "servo-25-kgcm"})),
        ("arms-lift-from-every-posture", shoulder(servo={"stall_torque": "30 kg*cm"})),
        ("arm-tips-meet", SUNBLOOM | {"limits": {"tip_gap": "5 mm"}}),
        ("servos-stay-cool", SUNBLOOM | {"postures": [posture("closed", time_share="100 %")]}),
    ],
)
def test_each_check_falls_short_for_its_planted_reason(check: str, planted: dict[str, Any]) -> None:
    found = next(f for f in assessed(planted)[1].findings if f.check == check)
    assert state(found) is State.SHORT
    assert found.remedy


def test_an_undeclared_start_is_unknown() -> None:
    found = assessed({k: v for k, v in SUNBLOOM.items() if k != "boot"})[1].findings
    wakes = next(f for f in found if f.check == "arms-wake-in-a-known-posture")
    assert state(wakes) is State.UNKNOWN
    assert wakes.missing[0].path == "arms.boot"


def test_a_counterweight_or_a_spring_takes_the_load_off() -> None:
    _, plain = assessed(SUNBLOOM)
    _, weighted = assessed(shoulder(counterweight={"mass": "0.7 kg", "distance": "200 mm"}))
    _, sprung = assessed(shoulder(spring="14 kg*cm"))
    for other in (weighted, sprung):
        held = np.abs(other.hold_torque.value[2]) / KGF_CM
        assert held == pytest.approx(np.full((6, 1), 6.2), abs=0.01)
    assert np.all(np.abs(weighted.hold_torque.value) <= np.abs(plain.hold_torque.value) + 1e-9)


def test_a_spring_pushes_where_the_arm_hangs_too() -> None:
    """Closed, the petal hangs and asks nothing: its servo has to hold the whole spring down (statics)."""
    arms, sprung = assessed(shoulder(spring="14 kg*cm"))
    closed = sprung.hold_torque.value[arms.postures.index("closed")] / KGF_CM
    assert np.abs(closed) == pytest.approx(np.full((6, 1), 14.0))
    lifts = next(f for f in sprung.findings if f.check == "arms-lift-from-every-posture")
    assert float(np.max(lifts.demand)) / KGF_CM == pytest.approx(14.0)


def test_an_arm_that_never_comes_level_lifts_less() -> None:
    """Between hanging and 60 deg below the level gravity asks at most cos 60 deg of 20.2 kg·cm (by hand)."""
    low = SUNBLOOM | {"postures": [posture("closed", angles={"shoulder": "-90 deg"}),
                                   posture("ajar", angles={"shoulder": "-60 deg"})]}  # fmt: skip
    lifts = next(f for f in assessed(low)[1].findings if f.check == "arms-lift-from-every-posture")
    assert float(np.max(lifts.demand)) / KGF_CM == pytest.approx(20.2 / 2, abs=0.01)


def test_a_posture_beyond_a_stop_is_short_by_the_angle() -> None:
    beyond = SUNBLOOM | {"postures": [posture("closed"), posture("up", angles={"shoulder": "75 deg"})]}
    found = next(f for f in assessed(beyond)[1].findings if f.check == "joints-stay-in-limits")
    assert state(found) is State.SHORT
    assert float(np.degrees(found.demand[..., 0])) == pytest.approx(15)


def test_groups_of_different_arms_stand_side_by_side() -> None:
    finger = {"name": "tip", "axis": "yaw", "link": {"length": "100 mm", "mass": "50 g"}}
    long = {"name": "crane", "joints": [SHOULDER, finger], "first_at": "90 deg"}
    arms, result = assessed(
        {"groups": [PETAL, long], "postures": [posture("out", angles={"crane.shoulder": "30 deg"})]}
    )
    assert arms.link_mass.shape == (7, 2)
    assert arms.joints == ("petal.shoulder", "crane.shoulder", "crane.tip")
    assert np.degrees(arms.angle[0, :, 0]) == pytest.approx([0] * 6 + [30])
    assert np.all(result.hold_torque.value[0, :6, 1] == 0)
    assert arms.tip[0, 6, 1] == pytest.approx(0.1 + 0.44 * np.cos(np.radians(30)))
    assert all(np.all(np.isfinite(f.margins)) for f in result.findings if f.check != "arms-wake-in-a-known-posture")


def test_without_arms_all_shapes_are_there() -> None:
    arms, result = assessed({})
    assert arms.postures == ("as built",)
    assert arms.link_mass.shape == (0, 1)
    assert arms.link_centre.shape == (1, 0, 1, 3)
    assert arms.link_inertia.shape == (1, 0, 1, 3, 3)
    assert np.sum(arms.link_mass[..., None] * arms.link_centre, axis=(-3, -2)).shape == (1, 3)
    assert result.findings == ()
    assert result.hold_current.value.shape == (1,)
    assert resolve_arms(None, Ledger()).names == ()


def test_a_bare_arm_runs_on_defaults() -> None:
    arms, result = assessed({"groups": [{"name": "arm", "joints": [{"name": "joint"}]}]})
    assert arms.postures == ("as built",)
    assert result.hold_torque.value.shape == (1, 1, 1)


@pytest.mark.parametrize(
    ("given", "word"),
    [
        (SUNBLOOM | {"postures": [posture("up", angles={"sholder": "5 deg"})]}, "did you mean shoulder"),
        (SUNBLOOM | {"postures": [posture("up"), posture("up")]}, "same name"),
        (SUNBLOOM | {"postures": [posture("up", arms=["7"])]}, "no such arm"),
        (SUNBLOOM | {"postures": [posture("closed", others="shut", arms=["1"])]}, "no posture named 'shut'"),
        (SUNBLOOM | {"boot": "shut"}, "no posture named 'shut'"),
        ({"groups": [{"name": "arm"}]}, "at least one joint"),
        ({"groups": [{"name": "arm", "joints": [SHOULDER, SHOULDER]}]}, "same name"),
        ({"groups": [], "postures": [posture("up")]}, "no arms to take them"),
        (shoulder(lowest="70 deg"), "above the highest"),
        (shoulder(axis=["0", "0", "0"]), "needs a direction"),
        (SUNBLOOM | {"groups": [PETAL | {"count": "100000"}]}, "more arms than fit"),
        (SUNBLOOM | {"groups": [PETAL, PETAL]}, "same name"),
        (shoulder(servo={"item": "servo-55"}), "servo-55-kgcm"),
    ],
)
def test_faults_are_named(given: dict[str, Any], word: str) -> None:
    with pytest.raises(DesignError, match=word):
        assessed(given)


@pytest.mark.parametrize(
    "planted",
    [
        shoulder(servo={"thermal_resistance": "0 K/W", "lash": "0 deg", "deadband": "0 deg"}),
        shoulder(link={"length": "0 mm"}),
        SUNBLOOM | {"limits": {"hold_share": "0 %", "lift_share": "0 %", "tip_gap": "0 mm"}},
        SUNBLOOM | {"groups": [PETAL | {"count": "0"}], "postures": []},
        SUNBLOOM | {"groups": [PETAL, PETAL | {"name": "spare", "count": "0"}]},
    ],
)
def test_extremes_give_numbers_and_no_warnings(planted: dict[str, Any]) -> None:
    given = {k: v for k, v in planted.items() if k != "boot"} if not planted["postures"] else planted
    _, result = assessed(given)
    assert not any(np.any(np.isnan(f.margins)) for f in result.findings)


def test_an_arm_may_hang_from_any_axis() -> None:
    """An axis given as three numbers of any length is the same as its word."""
    _, word = assessed(SUNBLOOM)
    _, numbers = assessed(shoulder(axis=["0", "-2", "0"]))
    assert numbers.hold_torque.value == pytest.approx(word.hold_torque.value, abs=1e-12)


def test_many_machines_at_once_equal_single_ones() -> None:
    varied: dict[str, tuple[str, list[float]]] = {
        "mass": ("mass", [0.3, 0.42, 0.6]),
        "length": ("length", [0.3, 0.34, 0.4]),
    }
    angles = [-0.3, 0.1, 0.7]
    heights = [0.9, 1.0, 1.2]

    def one(dimension: str, values: list[float], n: int | None) -> Quantity:
        q = Quantity(np.array(values), dimension, Origin(Kind.DESIGN))
        return q if n is None else replace(q, si=values[n])

    def design(n: int | None) -> dict[str, Any]:
        link = {k: one(d, v, n) for k, (d, v) in varied.items()} | {"centre": "161 mm"}
        given = shoulder(link=link)
        given["groups"][0] = given["groups"][0] | {"mount_height": one("length", heights, n)}
        return given | {
            "postures": [posture("closed"), posture("up", angles={"shoulder": one("angle", angles, n)}, arms=["2"])]
        }

    arms, together = assessed(design(None))
    for n in range(3):
        single, alone = assessed(design(n))
        for key in ("link_mass", "link_centre", "link_inertia", "joint_origin", "joint_axis", "tip", "reach"):
            many = getattr(arms, key)
            own = getattr(single, key)
            many = many[n] if many.ndim > own.ndim else many
            assert many == pytest.approx(np.broadcast_to(own, many.shape), rel=1e-12, abs=1e-14), key
        for key in ("hold_current", "moving_current", "tip_speed", "hold_torque"):
            assert np.asarray(getattr(together, key).value)[n] == pytest.approx(getattr(alone, key).value, rel=1e-12)
        for f, g in zip(together.findings, alone.findings, strict=True):
            margins = np.broadcast_to(f.margins, (3, len(f.cases)))
            assert margins[n] == pytest.approx(g.margins, rel=1e-12, abs=1e-12), f.check
