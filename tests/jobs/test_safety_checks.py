"""Safety of small machines: each check holding, short for the planted reason, and unknown where nothing is declared."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from dryfit.design.sections.brief import Brief as BriefRecord
from dryfit.design.sections.safety import Safety as Record
from dryfit.ground.errors import DesignError
from dryfit.ground.findings import Finding, State, Term, calculated, state
from dryfit.ground.quantity import Kind, Num, Origin, Quantity
from dryfit.machine.brief import resolve_brief
from dryfit.machine.ledger import Ledger
from dryfit.machine.safety import resolve_safety
from dryfit.trades.safety.checks import DEFERRAL, SafetyResult, assess_safety

SOUND: dict[str, Any] = {
    "gaps": [
        {"name": "petal root to hub", "smallest": "30 mm", "body": "finger", "closes": "yes"},
        {"name": "ring gear", "smallest": "0 mm", "body": "finger", "guarded": "yes"},
        {"name": "lid", "smallest": "1 mm", "widest": "3 mm"},
        {"name": "cable chain", "smallest": "0 mm", "closes": "no"},
    ],
    "emergency_stop": {"kind": "latching", "where": "on the hub", "cuts": ["motors", "arms"], "stop": "ramped"},
    "link_loss": {"time": "0.4 s", "behaviour": "stop"},
    "contact": {"regions": ["lower leg", "thigh"], "edge_stiffness": "4 N/mm"},
    "edge_speed_arms": "0.2 m/s",
    "person_sensor": {"range": "3 m", "response": "0.1 s"},
    "ground_clearance": "30 mm",
    "batteries": {
        "chemistry": "LiFePO4", "cells_protected": "yes", "held_and_covered": "yes", "charger_matches": "yes",
        "charging_watched": "yes",
    },
    "lamp": "yes",
    "sounder": "yes",
}  # fmt: skip


def given_term(symbol: str, value: Num, unit: str) -> Term:
    return calculated(symbol, symbol, value, unit, "given", ())


def assessed(
    given: dict[str, Any] | None,
    brief: dict[str, Any] | None = None,
    mass: Num = 29.4,
    stopping: Num = 0.35,
    arms: bool = True,
) -> SafetyResult:
    ledger = Ledger()
    b = resolve_brief(BriefRecord.model_validate(brief or {}), ledger)
    safety = resolve_safety(None if given is None else Record.model_validate(given), ledger)
    ledger.close()
    return assess_safety(
        ledger.origins,
        safety,
        b,
        mass=given_term("m", mass, "kg"),
        stopping_distance=given_term("s", stopping, "m"),
        tip_speed=given_term("v_tip", 3.0, "m/s") if arms else None,
    )


def of(result: SafetyResult, check: str) -> Finding:
    return next(f for f in result.findings if f.check == check)


def test_a_sound_machine_holds_and_says_who_decides() -> None:
    result = assessed(SOUND)
    assert all(state(f) is State.HOLDS for f in result.findings)
    assert [f.check for f in result.findings if DEFERRAL in f.caution] == ["emergency-stop-is-there"]
    cautions = [f.caution for f in result.findings if f.caution]
    assert len(cautions) == len(set(cautions)) >= 8
    assert all(c.endswith(".") and c.count(". ") == 0 for c in cautions)  # one plain sentence each
    assert result.kinetic_energy.value == pytest.approx(29.4 * 0.25 / 2)
    assert len({f.check for f in result.findings}) == len(result.findings) == 10


MOMENTARY = {"kind": "momentary", "where": "on the hub", "cuts": "all"}
HALF = {"kind": "latching", "where": "on the hub", "cuts": "motors"}
GAP = {"name": "hinge", "smallest": "12 mm"}


@pytest.mark.parametrize(
    ("check", "planted", "brief"),
    [
        ("speed-among-the-public", SOUND, {"speed": "0.8 m/s"}),
        ("speed-among-the-public", SOUND, {"speed": "0.5 m/s", "public_distance": "400 mm"}),
        ("contact-force", SOUND | {"contact": {"regions": ["lower leg"], "edge_stiffness": "100 N/mm"}}, {}),
        ("contact-force", SOUND | {"contact": {"regions": ["face"], "edge_stiffness": "100 N/mm"}}, {}),
        ("stops-on-lost-link", SOUND | {"link_loss": {"time": "1 s"}}, {}),
        ("stops-on-lost-link", SOUND | {"link_loss": {"time": "0.1 s", "behaviour": "hold last"}}, {}),
        ("emergency-stop-is-there", SOUND | {"emergency_stop": MOMENTARY}, {}),
        ("emergency-stop-is-there", SOUND | {"emergency_stop": HALF}, {}),
        ("pinch-gaps", SOUND | {"gaps": [GAP]}, {}),
        ("pinch-gaps", SOUND | {"gaps": [GAP | {"smallest": "90 mm", "body": "hand"}]}, {}),
        ("arms-move-gently", SOUND | {"edge_speed_arms": "0.4 m/s"}, {}),
        ("batteries-are-cared-for", SOUND | {"batteries": SOUND["batteries"] | {"charger_matches": "no"}}, {}),
        ("seen-and-heard", SOUND | {"lamp": "no"}, {}),
        ("feet-stay-out", SOUND | {"ground_clearance": "60 mm"}, {}),
        ("people-are-seen-in-time", SOUND | {"person_sensor": {"range": "0.8 m", "response": "0.1 s"}}, {}),
    ],
)  # fmt: skip
def test_each_check_falls_short_for_its_planted_reason(
    check: str, planted: dict[str, Any], brief: dict[str, Any]
) -> None:
    found = assessed(planted, brief)
    assert [f.check for f in found.findings if state(f) is State.SHORT] == [check]


def test_arms_without_a_cap_are_judged_by_their_servos() -> None:
    uncapped = {k: v for k, v in SOUND.items() if k != "edge_speed_arms"}
    assert state(of(assessed(uncapped), "arms-move-gently")) is State.SHORT
    assert "arms-move-gently" not in [f.check for f in assessed(uncapped, arms=False).findings]


def test_each_missing_answer_names_the_key_that_gives_it() -> None:
    stop = {k: v for k, v in SOUND["emergency_stop"].items() if k != "where"}
    found = of(assessed(SOUND | {"emergency_stop": stop}), "emergency-stop-is-there")
    assert state(found) is State.UNKNOWN
    assert [o.path for o in found.missing] == ["safety.emergency_stop.where"]
    momentary = of(assessed(SOUND | {"emergency_stop": SOUND["emergency_stop"] | {"kind": "momentary"}}),
                   "emergency-stop-is-there")  # fmt: skip
    assert [c for c, margin in zip(momentary.cases, momentary.margins, strict=True) if margin < 0] == ["it latches"]


def test_a_person_seen_is_not_a_lost_link() -> None:
    """1.6 (0.1 + 2 × 0.15/0.5) + 0.15 = 1.27 m: 0.2 of the 0.35 m pass before it brakes (by hand)."""
    found = of(assessed(SOUND, {"speed": "0.5 m/s"}), "people-are-seen-in-time")
    assert float(found.demand[0]) == pytest.approx(1.27)


def test_without_arms_the_stop_need_not_cut_them() -> None:
    given = SOUND | {"emergency_stop": {"kind": "latching", "where": "on the post", "cuts": "motors"}}
    assert state(of(assessed(given, arms=False), "emergency-stop-is-there")) is State.HOLDS


def test_nothing_declared_is_unknown_and_never_safe() -> None:
    result = assessed(None, arms=False)
    unknown = {f.check: f for f in result.findings if state(f) is State.UNKNOWN}
    expected = {
        "contact-force",
        "stops-on-lost-link",
        "emergency-stop-is-there",
        "pinch-gaps",
        "batteries-are-cared-for",
    }
    assert set(unknown) == expected
    assert all(f.missing for f in unknown.values())
    assert not [f.check for f in result.findings if state(f) is State.SHORT]


def test_no_closing_gaps_need_no_finding() -> None:
    assert "pinch-gaps" not in [f.check for f in assessed(SOUND | {"gaps": []}).findings]


def test_lead_acid_packs_have_no_cells_to_protect() -> None:
    batteries = {k: v for k, v in SOUND["batteries"].items() if k != "cells_protected"}
    lead = SOUND | {"batteries": batteries | {"chemistry": "sealed lead-acid"}}
    assert state(of(assessed(lead), "batteries-are-cared-for")) is State.HOLDS
    assert state(of(assessed(SOUND | {"batteries": batteries}), "batteries-are-cared-for")) is State.UNKNOWN


@pytest.mark.parametrize(
    ("given", "word"),
    [
        (SOUND | {"contact": {"regions": ["shin"]}}, "not a region"),
        (SOUND | {"emergency_stop": {"kind": "latching", "cuts": ["wheels"]}}, "not something to cut"),
        (SOUND | {"gaps": [GAP | {"widest": "5 mm"}]}, "narrower than the smallest"),
    ],
)
def test_faults_are_named(given: dict[str, Any], word: str) -> None:
    with pytest.raises(DesignError, match=word):
        assessed(given)


def test_a_soft_edge_never_hits_hard() -> None:
    soft = SOUND | {"contact": {"edge_stiffness": "0 N/mm"}}
    assert of(assessed(soft), "contact-force").margin == pytest.approx(1)
    assert of(assessed(SOUND, {"speed": "0 m/s"}), "people-are-seen-in-time").margin > 0


def test_many_machines_at_once_equal_single_ones() -> None:
    masses, speeds, gaps = np.array([20.0, 30, 45]), np.array([0.3, 0.5, 0.7]), np.array([0.02, 0.03, 0.04])

    def quantity(value: Num, dimension: str) -> Quantity:
        return Quantity(value, dimension, Origin(Kind.DESIGN))

    def result(pick: Any) -> SafetyResult:
        gap = GAP | {"smallest": quantity(pick(gaps), "length")}
        return assessed(
            SOUND | {"gaps": [gap]}, {"speed": quantity(pick(speeds), "speed")}, pick(masses), pick(gaps) * 9
        )

    together = result(lambda x: x)
    for n in range(3):
        for f, g in zip(together.findings, result(lambda x, n=n: float(x[n])).findings, strict=True):
            margins = np.broadcast_to(f.margins, (3, len(f.cases)))
            assert margins[n] == pytest.approx(g.margins, rel=1e-12, abs=1e-12), f.check
