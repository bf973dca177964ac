"""What `fix` offers is true: written into the file, each offer does what it said, and Beacon can be put right by it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dryfit.assess.report import ranked
from dryfit.design.write import write_values
from dryfit.ground.errors import DesignError, UnknownNameError
from dryfit.ground.findings import State, state
from dryfit.jobs import fix as jobs
from dryfit.jobs.check import Checked, check, example, finding, new
from dryfit.jobs.fix import apply, fix, fixes_of, levers_of, write_offer
from dryfit.studies import fix as study
from dryfit.studies.levers import Lever
from dryfit.studies.records_fix import CheckFix, Fixes, Offer, Price


def design(folder: Path, like: str, **values: str) -> Path:
    """A copy of an example with some values written otherwise ("base__wheels__circle_radius")."""
    file = new(folder / "machine", like)
    if values:
        write_values(file, {key.replace("__", "."): text for key, text in values.items()})
    return file


@pytest.fixture(scope="module")
def beacon() -> Checked:
    return check(example("beacon"))


@pytest.fixture(scope="module")
def beacon_fixes(beacon: Checked) -> Fixes:
    return fixes_of(beacon)


def of(found: Fixes, name: str) -> CheckFix:
    return next(c for c in found.checks if c.check == name)


def edits(offer: Offer) -> dict[str, tuple[str, str]]:
    return {e.path: (e.old, e.new) for e in offer.change.edits}


def comments(text: str) -> list[str]:
    return [line.partition("#")[2] for line in text.splitlines() if "#" in line]


def test_the_first_offer_for_each_check_in_turn_puts_beacon_right(tmp_path: Path) -> None:
    """Every offer does what it said: margins agree to rounding, nothing becomes short, all comments stay."""
    file = design(tmp_path, "beacon")
    before = check(file)
    for _ in range(20):
        now = check(file)
        open_ones = [f for f in ranked(now.report.findings) if state(f) in (State.SHORT, State.TIGHT)]
        if not open_ones:
            break
        name = open_ones[0].check
        offer = fixes_of(now, name).checks[0].offers[0]
        short = {f.check for f in now.report.findings if state(f) is State.SHORT}
        done = write_offer(now, name, offer)
        assert done.becomes is State.HOLDS
        assert done.after == pytest.approx(offer.after, abs=1e-9)
        assert set(done.still) <= short - {name}
        assert offer.clean
    after = check(file)
    assert {state(f) for f in after.report.findings} == {State.HOLDS}
    assert comments(after.text) == comments(before.text)


def test_every_first_offer_of_beacon_holds_when_it_is_written(
    beacon: Checked, beacon_fixes: Fixes, tmp_path: Path
) -> None:
    assert len(beacon_fixes.checks) == 17
    for n, c in enumerate(beacon_fixes.checks):
        file = design(tmp_path / f"{n}", "beacon")
        write_values(file, {e.path: e.new for e in c.offers[0].change.edits})
        written = check(file)
        assert float(finding(written, c.check).margin) == pytest.approx(c.offers[0].after, abs=1e-9)
        assert state(finding(written, c.check)) is State.HOLDS
        holds = {f.check for f in written.report.findings if state(f) is State.HOLDS}
        assert set(c.offers[0].restores) <= holds


@pytest.mark.parametrize(
    ("name", "path", "new_text"),
    [
        # the planted faults of the example, as its own comments and the gear relation a = m (z2 - z1) / 2 name them
        ("centre-distance-is-right", "base.gears[0].centre_distance", "27 mm"),
        ("fuse-protects-wire", "power.branches[3].fuse", "10 A"),
        ("drivers-off-at-power-up", "control.driver_inputs[0].pull_down", "4.7 kohm"),
        ("tilt-board", "base.wheels.circle_radius", "380 mm"),
        ("ground-lift-on-signals", "power.branches[3].returns_with", "bus"),
    ],
)
def test_planted_faults_get_the_expected_answer(beacon_fixes: Fixes, name: str, path: str, new_text: str) -> None:
    assert new_text in [edits(o)[path][1] for o in of(beacon_fixes, name).offers if path in edits(o)]


def test_the_timer_clash_is_put_right_by_free_pins(beacon_fixes: Fixes) -> None:
    first = of(beacon_fixes, "timers-do-not-clash").offers[0]
    assert first.change.price is Price.FREE
    assert set(edits(first)) == {"control.functions[0].pin", "control.functions[1].pin"}
    # pins of the board's other timers (the map of the class of board, from memory): 9 and 10 are T1's
    assert {new for _, new in edits(first).values()} <= {"3", "5", "6", "11"}


def test_all_three_driver_inputs_are_one_change(beacon_fixes: Fixes) -> None:
    first = of(beacon_fixes, "drivers-off-at-power-up").offers[0]
    assert [e.path for e in first.change.edits] == [f"control.driver_inputs[{n}].pull_down" for n in range(3)]
    assert {e.line for e in first.change.edits} == {0}


def test_wheel_units_move_out_with_the_wheels(beacon_fixes: Fixes) -> None:
    first = of(beacon_fixes, "tilt-board").offers[0]
    assert edits(first)["body.parts[0].ring.radius"] == ("165 mm", "345 mm")


def test_offers_stay_believable(beacon_fixes: Fixes) -> None:
    """No driving at a crawl, no lamp of ten grams: a promise or a mass is never moved to less than three tenths."""
    for c in beacon_fixes.checks:
        for o in c.offers:
            for e in o.change.edits:
                if e.path.endswith((".speed", ".braking", ".mass", ".level", "cap")):
                    old, new_value = (float(t.split()[0]) for t in (e.old, e.new))
                    assert new_value >= 0.25 * old


def test_offers_stand_in_order(beacon_fixes: Fixes) -> None:
    """What breaks nothing first; single changes before pairs; what gives something up behind what does not."""
    for c in beacon_fixes.checks:
        order = [(len(o.breaks), o.pair) for o in c.offers]
        assert order == sorted(order)
        less = [o.change.price is Price.LESS for o in c.offers if o.clean and not o.pair]
        assert less == sorted(less)
    assert beacon_fixes.answered


def test_a_limit_of_a_check_is_never_a_lever(beacon: Checked) -> None:
    paths = {p for lever in levers_of(beacon) for p in lever.paths}
    assert not [p for p in paths if ".limits." in p or p.startswith(("reserves", "brief.push", "brief.friction"))]
    assert {"base.wheels.circle_radius", "power.branches[3].fuse", "light.cap", "base.wheels.item"} <= paths


def test_numbers_of_a_bought_part_are_changed_with_the_part() -> None:
    sunbloom = check(example("sunbloom"))
    found = {lever.paths[0]: lever for lever in levers_of(sunbloom)}
    assert "base.motor.stall_torque" not in found
    other = next(o for o in found["base.motor.item"].options if o.label == "gearmotor-12v-200rpm-6nm")
    written = {e.path: e.new for e in other.edits}
    # the row's own sheet: 200 rpm and 6 N·m, as its key says
    assert written["base.motor.free_speed"] == "200 rpm"
    assert written["base.motor.stall_torque"] == "6.0 N*m"


def test_what_hangs_on_a_regulator_keeps_its_voltage(beacon: Checked) -> None:
    found = {lever.paths[0]: lever for lever in levers_of(beacon)}
    assert {o.label for o in found["power.branches[1].regulator.item"].options} == {
        "step-down-5v-3a", "step-down-5v-5a", "step-down-5v-20a", "linear-5v-1a", "linear-5v-1a-low-drop",
    }  # fmt: skip


def test_a_wire_typed_as_a_gauge_is_answered_in_gauges(tmp_path: Path) -> None:
    file = design(tmp_path, "beacon")
    write_values(file, {"power.branches[2].area": "AWG 20"})
    first = fix(file, "wire-carries-load").checks[0].offers
    new_texts = [edits(o)["power.branches[2].area"][1] for o in first if "power.branches[2].area" in edits(o)]
    assert new_texts
    assert all(t.startswith("AWG ") for t in new_texts)


def test_the_spread_behind_a_number_stays(tmp_path: Path) -> None:
    file = design(tmp_path, "beacon")
    write_values(file, {"base.wheels.circle_radius": "200 mm ± 1 %"})
    first = fix(file, "tilt-board").checks[0].offers[0]
    assert edits(first)["base.wheels.circle_radius"][1] == "380 mm ± 1 %"


def test_a_check_that_holds_needs_nothing() -> None:
    found = fix(example("drift"), "fits-the-door")
    assert found.checks[0].state is State.HOLDS
    assert found.checks[0].offers == ()
    assert found.answered
    assert fix(example("drift")).checks == ()


def test_an_unknown_check_says_what_to_write(tmp_path: Path) -> None:
    (tmp_path / "design.yaml").write_text("name: a\nbrief: {speed: 0.5 m/s}\n", encoding="utf-8")
    found = fix(tmp_path)
    unknown = [c for c in found.checks if c.state is State.UNKNOWN]
    assert unknown
    assert all(c.needs.startswith("write ") and not c.offers for c in unknown)
    assert not found.answered


def test_where_nothing_does_the_limits_that_collide_are_named(tmp_path: Path) -> None:
    """Standing on a board at 60 degrees asks for wheels so wide that they no longer pass the gate."""
    found = fix(design(tmp_path, "sunbloom", brief__limits__tilt="60 deg"), "tilt-board")
    c = found.checks[0]
    assert not any(o.clean for o in c.offers)
    wheels = next(x for x in c.limits if x.words == "base.wheels.circle_radius")
    assert wheels.blocked_by == "fits-the-door"
    assert c.margin < wheels.margin < 0
    assert not found.answered


def test_a_pair_mends_what_the_first_change_breaks(tmp_path: Path) -> None:
    """Once the centre distance is right, another pinion asks for another distance: a = m (z2 - z1) / 2 for a ring."""
    file = design(tmp_path, "beacon")
    write_values(file, {"base.gears[0].centre_distance": "27 mm"})
    offers = fix(file, "ring-and-pinion-go-together").checks[0].offers
    pairs = [edits(o) for o in offers if o.pair and o.clean and "base.gears[0].centre_distance" in edits(o)]
    assert pairs
    for pair in pairs:
        pinion, ring = (
            int(pair.get(f"base.gears[0].{which}_teeth", ("", default))[1])
            for which, default in (("pinion", "12"), ("gear", "48"))
        )
        shifted = any("shift" in path for path in pair)
        if not shifted:
            distance = float(pair["base.gears[0].centre_distance"][1].split()[0])
            assert distance == pytest.approx(1.5 * (ring - pinion) / 2, abs=0.2)


def test_two_cases_of_one_check_are_mended_together(beacon_fixes: Fixes) -> None:
    """Two wires are thinner than their fuses protect: no single change restores the check, one for each wire does."""
    first = of(beacon_fixes, "fuse-protects-wire").offers[0]
    assert first.pair
    assert {p.rpartition(".")[0] for p in edits(first)} == {"power.branches[2]", "power.branches[3]"}


@pytest.mark.parametrize(
    ("like", "values"),
    [
        ("gangway", {}),
        ("sunbloom", {"power.branches[1].regulator.item": "step-down-5v-5a"}),
    ],
)
def test_choices_left_out_for_speed_would_not_have_helped(
    like: str, values: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = design(tmp_path, like)
    if values:
        write_values(file, values)
    monkeypatch.setattr(study, "MOST", 100)
    some = {c.check: {o.change.edits for o in c.offers if o.clean} for c in fix(file).checks}
    monkeypatch.setattr(study, "_may_matter", lambda *_: True)
    every = {c.check: {o.change.edits for o in c.offers if o.clean} for c in fix(file).checks}
    assert some == every


def test_apply_writes_one_offer_and_tells_what_it_did(tmp_path: Path) -> None:
    file = design(tmp_path, "beacon")
    before = file.read_text(encoding="utf-8")
    done = apply(file, "centre-distance-is-right", 1)
    text = file.read_text(encoding="utf-8")
    changed = [(a, b) for a, b in zip(before.splitlines(), text.splitlines(), strict=True) if a != b]
    assert len(changed) == 1
    assert changed[0][1] == changed[0][0].replace("45 mm", "27 mm")
    assert (done.was, done.becomes) == (State.SHORT, State.HOLDS)
    assert (done.short_before, done.short_after) == (16, 15)
    assert file.with_name("design.yaml.before").read_text(encoding="utf-8") == before


def test_apply_keeps_its_hands_off_where_it_must(tmp_path: Path) -> None:
    file = design(tmp_path, "beacon")
    before = file.read_bytes()
    with pytest.raises(UnknownNameError, match="no offer for tilt-board named '99'; there are: 1"):
        apply(file, "tilt-board", 99)
    with pytest.raises(UnknownNameError, match="did you mean tilt-board"):
        apply(file, "tilt-bord", 1)
    seen = check(file)
    offer = fixes_of(seen, "tilt-board").checks[0].offers[0]
    file.write_bytes(before + b"# a remark\n")
    with pytest.raises(DesignError, match="changed by someone else"):
        write_offer(seen, "tilt-board", offer)
    wrong = replace(offer, change=replace(offer.change, edits=(replace(offer.change.edits[0], new="wide"),)))
    with pytest.raises(DesignError):
        write_offer(check(file), "tilt-board", wrong)
    assert file.read_bytes() == before + b"# a remark\n"
    assert not list(file.parent.glob("*.before"))


def test_a_lever_is_solved_to_the_first_size_that_does(beacon: Checked, tmp_path: Path) -> None:
    """Of a listed series the next smaller size does not do."""
    file = design(tmp_path, "beacon")
    write_values(file, {"power.branches[2].area": "2.5 mm2"})
    assert state(finding(check(file), "last-led-has-its-volts")) is State.SHORT
    write_values(file, {"power.branches[2].area": "4 mm2"})
    assert state(finding(check(file), "last-led-has-its-volts")) is State.HOLDS
    first = fixes_of(beacon, "last-led-has-its-volts").checks[0].offers[0]
    assert edits(first) == {"power.branches[2].area": ("0.5 mm2", "4 mm2")}


def test_levers_can_be_sent_and_named(beacon: Checked) -> None:
    found = levers_of(beacon)
    assert all(isinstance(lever, Lever) and lever.words and lever.paths for lever in found)
    assert "power.branches[3].fuse (logic)" in {lever.words for lever in found}
    assert "body.parts[7].mass (lantern)" in {lever.words for lever in found}
    assert jobs.Rewritten(beacon.text, beacon.path)({"light.strips[0].feeds": "both ends"}).light.feeds[0].size == 2
