"""Variants of a design: places that could say something else, machines laid side by side, quantities by name."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest

from dryfit.assess.assess import assess
from dryfit.catalogue.rows import keys
from dryfit.design.read import read_text
from dryfit.design.values import options_at, with_values
from dryfit.ground.errors import DesignError, OneNumberError, UnknownNameError
from dryfit.jobs.check import check, example
from dryfit.jobs.variants import Variants, places
from dryfit.machine.stack import alike, stacked
from dryfit.studies.many import Evaluate, read_all
from dryfit.studies.quantities import all_margins, asked, names, values
from dryfit.studies.records import PlaceKind

EXAMPLES = ("sunbloom", "gangway", "drift", "beacon")


def variants(name: str) -> Variants:
    checked = check(example(name))
    return Variants(checked.text, checked.path)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_place_can_be_given_what_it_says(name: str) -> None:
    """The machine stays the same when each written number, row and word is put in again."""
    checked, v = check(example(name)), variants(name)
    found = [p for p in places(v, checked.machine) if p.written]
    assert {p.kind for p in found} == set(PlaceKind)
    again = v({p.path: p.si if p.kind is PlaceKind.NUMBER else p.text for p in found})
    before = [float(f.margin) for f in checked.report.findings]
    assert [float(f.margin) for f in assess(again).findings] == pytest.approx(before, rel=1e-12, nan_ok=True)


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_default_written_down_changes_nothing(name: str) -> None:
    """What the ledger noted as taken is what was taken: typed in, it gives the same machine."""
    checked, v = check(example(name)), variants(name)
    taken = [p for p in places(v, checked.machine) if not p.written and p.kind is PlaceKind.NUMBER and p.si == p.si]
    assert len(taken) > 100
    wanted = all_margins(checked.report)
    before = values(checked.report, wanted, 1)
    for p in taken[:: max(1, len(taken) // 25)]:
        # a typed friction brings its own bounds, in place of those of the floor's row
        if p.dimension is None or p.dimension.whole or p.path == "brief.friction":
            continue
        try:
            now = values(assess(v({p.path: p.si})), wanted, 1)
        except UnknownNameError:
            # the group that it stands in is not written, and cannot be with this key alone
            continue
        np.testing.assert_allclose(now, before, rtol=1e-9, atol=1e-9, err_msg=p.path)


def test_places_say_what_may_stand_there() -> None:
    checked = check(example("beacon"))
    found = {p.path: p for p in places(variants("beacon"), checked.machine)}
    motor = found["base.motor.item"]
    assert (motor.kind, motor.catalogue, motor.options) == (PlaceKind.CATALOGUE, "gearmotors", keys("gearmotors"))
    assert found["base.gears[0].roots"].options == ("generated", "drawn")
    fuse = found["power.branches[3].fuse"]
    assert (fuse.si, fuse.text, fuse.written) == (30.0, "30 A", True)
    assert checked.text.splitlines()[fuse.line - 1].strip().startswith("fuse: 30 A")
    assert not found["base.gears[0].pressure_angle"].written
    assert "name" not in found


def test_a_key_can_be_left_out_unless_the_machine_makes_no_sense_without_it() -> None:
    v = variants("sunbloom")
    loose = v({"base.gears[0].centre_distance": None})
    assert loose.origins["base.gears[0].centre_distance"].kind.name == "DEFAULT"
    with pytest.raises(DesignError, match=r"base.gears\[0\].pinion_teeth: cannot be left out"):
        v({"base.gears[0].pinion_teeth": None})


def test_words_that_may_stand_at_a_place() -> None:
    read = read_text(check(example("sunbloom")).text, "design.yaml")
    assert options_at(read, "base.driver.stops") == ("ramped", "shorted", "coasting")
    assert options_at(read, "brief.children_present") == ("yes", "no")
    assert options_at(read, "brief.floor") == ()
    assert with_values(read, {"brief.children_present": "no"}).brief.children_present is False


def test_what_shapes_the_machine_may_not_be_an_array() -> None:
    with pytest.raises(OneNumberError):
        variants("sunbloom")({"power.packs.count": np.array([2.0, 3.0])})


def test_variants_can_be_sent_to_another_process() -> None:
    v = variants("drift")
    checked = check(example("drift"))
    e = Evaluate(v, (asked("mass", checked.report),), {})
    again = pickle.loads(pickle.dumps(e))
    speeds = {"brief.speed": np.array([0.3, 0.4])}
    np.testing.assert_array_equal(again(speeds).values, e(speeds).values)


@pytest.mark.parametrize("name", ["sunbloom", "beacon"])
def test_machines_side_by_side_find_what_each_finds_alone(name: str) -> None:
    """Every row of every kind that the design names: some change numbers only, some the shape."""
    checked, v = check(example(name)), variants(name)
    machines = []
    for path, kind in checked.machine.choices.items():
        for key in keys(kind)[:6]:
            try:
                machines.append(v({path: key}))
            except DesignError:
                continue  # a wheel of another kind than the layout wants
    groups = alike(machines)
    assert sorted(i for g in groups for i in g) == list(range(len(machines)))
    assert max(len(g) for g in groups) > len(machines) / 2
    wanted = all_margins(checked.report)
    together = read_all(machines, wanted)
    for i in range(0, len(machines), 7):
        np.testing.assert_allclose(together[i], values(assess(machines[i]), wanted, 1)[0], rtol=1e-12, atol=1e-13)


def test_machines_of_other_shape_are_not_laid_side_by_side() -> None:
    v = variants("sunbloom")
    machines = [v({}), v({"power.packs.count": "2", "power.packs.lead_lengths": None})]
    assert alike(machines) == [[0], [1]]
    with pytest.raises(ValueError, match="different shape"):
        stacked(machines)


def test_quantities_are_asked_for_by_name() -> None:
    report = check(example("sunbloom")).report
    braking = next(f for f in report.findings if f.check == "tips-when-braking")
    wanted = [asked(n, report) for n in ("tips-when-braking", "tips-when-braking.demand", "mass", "centre-height")]
    found = values(report, wanted, 1)[0]
    assert found[0] == float(braking.margin)
    assert found[1] == float(braking.demand[..., int(braking.governing)])
    assert [one.unit for one in wanted] == ["1", "m/s2", "kg", "m"]
    heights = next(f for f in report.figures if f.key == "centre-height").term.value
    assert found[3] == np.max(heights)
    assert {"mass", "top-speed", "tilt-board", "tilt-board.capacity"} <= set(names(report))
    with pytest.raises(UnknownNameError, match="did you mean tips-when-braking"):
        asked("tips-when-breaking", report)


def test_a_check_that_a_machine_does_not_have_is_unknown() -> None:
    armed = check(example("sunbloom")).report
    armless = check(example("beacon")).report
    wanted = asked("postures-keep-their-footing", armed)
    assert np.isnan(values(armless, [wanted], 1)).all()


def test_a_design_of_a_few_lines_has_places_too(tmp_path: Path) -> None:
    file = tmp_path / "design.yaml"
    file.write_text("name: small\nbrief: {speed: 0.4 m/s}\n", encoding="utf-8")
    checked = check(file)
    found = places(Variants(checked.text, checked.path), checked.machine)
    assert [p.path for p in found if p.written] == ["brief.speed"]
    assert len(found) > 150
