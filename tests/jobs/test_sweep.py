"""Sweeps against single checks, brute force and themselves: by blocks, in processes, on a cluster."""

from __future__ import annotations

import os
import shutil
import signal
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryfit.assess.assess import assess
from dryfit.design.write import write_values
from dryfit.ground.errors import DesignError
from dryfit.ground.findings import State, state
from dryfit.jobs.check import Checked, check, example, finding
from dryfit.jobs.sweep import Prepared, on_cluster, prepare, run_prepared, sweep
from dryfit.jobs.variants import Variants
from dryfit.studies import blocks_of_machines, tally
from dryfit.studies.blocks_of_machines import Work, block_count, settings
from dryfit.studies.front import least, spread_out, unbeaten
from dryfit.studies.many import Found
from dryfit.studies.records_sweep import Rows, Swept
from dryfit.studies.sweep import Block, here, in_processes

SUNBLOOM = example("sunbloom")
RADIUS = "base.wheels.circle_radius=250..400 mm:10 mm"
STOPS = "base.driver.stops=ramped,shorted"


def collected(prepared: Prepared, **more: Any) -> tuple[Swept, Rows]:
    """A sweep with all its machines."""
    parts: list[Rows] = []
    swept = run_prepared(prepared, sink=parts.append, **more)
    empty = np.empty((0, len(prepared.plan.columns)))
    return swept, Rows(
        np.concatenate([p.numbers for p in parts] or [np.empty(0, dtype=np.int64)]),
        np.concatenate([p.values for p in parts] or [empty]),
        np.concatenate([p.kept for p in parts] or [np.empty(0, dtype=bool)]),
    )


def figure(checked: Checked, key: str) -> float:
    """One of the machine's few numbers."""
    return float(next(f.term.value for f in checked.report.figures if f.key == key))


def same(a: Swept, b: Swept) -> None:
    """Equal to the last bit, wherever they were worked out."""
    for x, y in ((a.tally.best, b.tally.best), (a.tally.front, b.tally.front), (a.tally.sample, b.tally.sample)):
        assert x.numbers.tobytes() == y.numbers.tobytes()
        assert x.values.tobytes() == y.values.tobytes()
    for grid, other in zip(a.tally.grids, b.tally.grids, strict=True):
        assert grid.best.tobytes() == other.best.tobytes()
        assert grid.kept.tobytes() == other.kept.tobytes()
    for name in ("machines", "impossible", "meets", "leaves", "nearest", "short", "kept", "thinned"):
        assert getattr(a.tally, name) == getattr(b.tally, name), name
    assert [t.changes for t in a.table] == [t.changes for t in b.table]


def test_every_machine_is_what_a_single_check_says(tmp_path: Path) -> None:
    """Against `check` of a copy of the file with the value typed into it."""
    prepared = prepare(SUNBLOOM, [RADIUS, STOPS], show=["tips-when-braking", "top-speed", "fits-the-door.capacity"])
    _, rows = collected(prepared)
    assert list(rows.numbers) == list(range(32))
    folder = tmp_path / "copy"
    shutil.copytree(SUNBLOOM.parent, folder)
    for number in (0, 5, 21, 31):
        file = folder / "design.yaml"
        file.write_text(SUNBLOOM.read_text(encoding="utf-8"), encoding="utf-8")
        radius, stops = (
            a.text(int(p[0])) for a, p in zip(prepared.plan.axes, prepared.plan.places(np.array([number])), strict=True)
        )
        write_values(file, {"base.wheels.circle_radius": radius, "base.driver.stops": stops})
        door = finding(check(file), "fits-the-door")
        expected = [
            float(finding(check(file), "tips-when-braking").margin),
            figure(check(file), "top-speed"),
            float(door.capacity[int(door.governing)]),
        ]
        assert rows.values[number, :3] == pytest.approx(expected, rel=1e-12)


def test_rows_words_and_shaping_counts_run_slowest_and_the_last_axis_fastest() -> None:
    plan = prepare(SUNBLOOM, ["base.wheels.circle_radius=250..270 mm:10 mm", STOPS, "brief.speed=0.4 m/s,0.5 m/s"]).plan
    places = plan.places(np.arange(plan.count))
    assert plan.count == 12
    assert places[1].tolist() == [0] * 6 + [1] * 6
    assert places[0].tolist() == [0, 0, 1, 1, 2, 2] * 2
    assert places[2].tolist() == [0, 1] * 6


def test_the_table_says_which_checks_are_short_as_a_single_assessment_does() -> None:
    swept = sweep(SUNBLOOM, [RADIUS], best=["fits-the-door"], rows=3)
    variants = Variants(SUNBLOOM.read_text(encoding="utf-8"), SUNBLOOM)
    before = {f.check: state(f) for f in check(SUNBLOOM).report.findings}
    for told in swept.table:
        text = swept.plan.axes[0].text(told.number)
        findings = assess(variants({"base.wheels.circle_radius": text})).findings
        assert set(told.short) == {f.check for f in findings if state(f) is State.SHORT}
        assert set(told.tight) == {f.check for f in findings if state(f) is State.TIGHT}
        changed = {f.check: state(f).value for f in findings if state(f) is not before[f.check]}
        assert {c.check: c.state for c in told.changes} == changed
    assert [t.number for t in swept.table] == [0, 1, 2]
    assert swept.table[0].changes


def test_the_best_of_one_wish_is_the_largest_of_all() -> None:
    prepared = prepare(SUNBLOOM, [RADIUS, "body.parts[7].mass=0.5..1.5 kg:0.25 kg"], best=["tipping max"])
    swept, rows = collected(prepared, rows=4)
    order = np.argsort(-rows.values[:, 0], kind="stable")[:4]
    assert [t.number for t in swept.table] == order.tolist()
    assert prepared.plan.goals[0].said


def test_all_keeps_what_has_no_short_check() -> None:
    prepared = prepare(SUNBLOOM, [RADIUS, STOPS], keep=["all"])
    swept, rows = collected(prepared)
    variants = Variants(SUNBLOOM.read_text(encoding="utf-8"), SUNBLOOM)
    expected, short = [], {}
    for number in range(prepared.plan.count):
        places = [int(p[0]) for p in prepared.plan.places(np.array([number]))]
        findings = assess(variants(settings(prepared.plan, places))).findings
        bad = [f.check for f in findings if not float(f.margin) >= 0]
        short.update({check: short.get(check, 0) + 1 for check in bad})
        expected += [] if bad else [number]
    assert rows.numbers.tolist() == expected
    assert swept.tally.short == short
    assert 0 < len(expected) < prepared.plan.count


def test_all_counts_alike_where_machines_are_put_together_one_by_one() -> None:
    """The same machines as rows of a slow axis and as an array."""
    fast = sweep(SUNBLOOM, [RADIUS, STOPS], keep=["all"])
    singly = [
        sweep(SUNBLOOM, [STOPS], fixed=[f"base.wheels.circle_radius={r} mm"], keep=["all"]) for r in range(250, 401, 10)
    ]
    assert all(blocks_of_machines.one_by_one(s.plan) for s in singly)
    assert not blocks_of_machines.one_by_one(fast.plan)
    assert fast.tally.kept == sum(s.tally.kept for s in singly)
    short: dict[str, int] = {}
    for s in singly:
        short |= {check: short.get(check, 0) + n for check, n in s.tally.short.items()}
    assert fast.tally.short == short


def test_what_is_not_known_never_passes() -> None:
    """With packs this worn no state of the supply exists, so its voltages are unknown: neither above nor below 1 V."""
    vary = ["power.packs.resistance=310 mohm,20 mohm"]
    for sign, left in ((">=", 1), ("<", 0)):
        swept = sweep(SUNBLOOM, vary, keep=[f"logic-survives-motor-start.capacity {sign} 1 V"])
        assert swept.tally.meets == (left,)


def test_limits_let_pass_what_rounding_moved() -> None:
    """0.1 + 0.2 is not 0.3 in binary; a limit of 0.3 kg is meant in decimals."""
    swept = sweep(
        SUNBLOOM, ["arms.groups[0].payload.mass=0.1..0.3 kg:0.1 kg"], keep=["arms.groups[0].payload.mass >= 0.3 kg"]
    )
    assert swept.tally.meets == (1,)
    swept = sweep(
        SUNBLOOM, ["arms.groups[0].payload.mass=0.1..0.3 kg:0.1 kg"], keep=["arms.groups[0].payload.mass > 0.3 kg"]
    )
    assert swept.tally.meets == (0,)


def test_conditions_say_what_they_leave_and_how_near_the_nearest_comes() -> None:
    swept = sweep(
        SUNBLOOM, [RADIUS], keep=["base.wheels.circle_radius <= 350 mm", "tipping >= 4.2 m/s2", "top-speed > 2 m/s"]
    )
    assert swept.tally.meets[0] == 11
    assert swept.tally.leaves[0] == 11
    assert swept.tally.leaves[1] <= min(swept.tally.meets[:2])
    assert (swept.tally.meets[2], swept.tally.kept) == (0, 0)
    value, number = swept.tally.nearest[2]
    _, rows = collected(prepare(SUNBLOOM, [RADIUS], show=["top-speed"]))
    assert value == rows.values[:, 0].max()
    assert number == int(np.argmax(rows.values[:, 0]))


def test_machines_that_cannot_be_are_counted_with_the_reason() -> None:
    swept = sweep(SUNBLOOM, ["base.wheels.item=catalogue:wheels", "brief.speed=0.4..0.6 m/s:0.02 m/s"], best=["mass"])
    assert swept.tally.impossible == {"the layout wants wheels of the kind omni": 88}
    assert swept.tally.kept == 44


def test_a_new_row_takes_what_was_typed_beside_the_old_one_with_it(tmp_path: Path) -> None:
    """Sunbloom types diameter and rows beside its omni wheel; the row of another wheel brings its own."""
    prepared = prepare(SUNBLOOM, ["base.wheels.item=omni-203-double,omni-152-double"], show=["top-speed"])
    axis = prepared.plan.axes[0]
    assert axis.left_out == ((), ("base.wheels.diameter", "base.wheels.rows"))
    varied = prepare(
        SUNBLOOM, ["base.wheels.item=omni-203-double,omni-152-double", "base.wheels.diameter=203 mm,152 mm"]
    )
    assert varied.plan.axes[0].left_out == ((), ("base.wheels.rows",))
    _, rows = collected(prepared)
    shutil.copytree(SUNBLOOM.parent, tmp_path / "copy")
    file = tmp_path / "copy" / "design.yaml"
    text = SUNBLOOM.read_text(encoding="utf-8").replace("item: omni-203-double", "item: omni-152-double")
    file.write_text(text.replace("    diameter: 203 mm\n    rows: 2\n", ""), encoding="utf-8")
    assert rows.values[1, 0] == pytest.approx(figure(check(file), "top-speed"), rel=1e-12)
    assert rows.values[0, 0] == pytest.approx(figure(check(SUNBLOOM), "top-speed"), rel=1e-12)


def test_a_star_gives_every_entry_of_a_list_the_same_value() -> None:
    prepared = prepare(SUNBLOOM, ["arms.postures[*].angles.shoulder=-90 deg,60 deg"], show=["centre-height"])
    assert prepared.plan.axes[0].paths == tuple(f"arms.postures[{i}].angles.shoulder" for i in range(4))
    swept, rows = collected(prepared)
    # statics: six links of 0.42 kg at 161 mm and pieces of 0.28 kg at 340 + 140 mm swing from -90 to 60 deg
    moment = 6 * (0.42 * 0.161 + 0.28 * 0.48) * (np.sin(np.radians(60)) + 1)
    mass = float(check(SUNBLOOM).report.figures[0].term.value)
    assert rows.values[1, 0] - rows.values[0, 0] == pytest.approx(moment / mass, rel=1e-9)
    assert np.isnan(swept.design.values[-1]) or swept.design.values[-1] == pytest.approx(-np.pi / 2)


def test_what_is_set_holds_in_all_machines_and_may_be_left_out() -> None:
    """Teeth of another number run at another distance: m (60 - z)/2 when it is left out (metric gear geometry)."""
    teeth, wanted = "base.gears[0].pinion_teeth=26", ["mesh-keeps-backlash", "contact-ratio.capacity"]
    free, left = collected(prepare(SUNBLOOM, [teeth], fixed=["base.gears[0].centre_distance="], show=wanted))
    _, typed = collected(prepare(SUNBLOOM, [teeth], fixed=["base.gears[0].centre_distance=34 mm"], show=wanted))
    assert free.plan.fixed == {"base.gears[0].centre_distance": None}
    np.testing.assert_allclose(left.values, typed.values, rtol=1e-9)
    teeth = "base.gears[0].pinion_teeth=24"
    set_apart = sweep(SUNBLOOM, [teeth], fixed=["base.wheels.item=omni-152-double"], show=["mass"])
    assert set_apart.plan.fixed["base.wheels.diameter"] is None


def test_the_numbers_of_steps_are_those_typed() -> None:
    axis = prepare(SUNBLOOM, ["body.parts[7].mass=0.1..0.9 kg:0.1 kg"]).plan.axes[0]
    assert [axis.text(i) for i in range(axis.size)] == [f"0.{n} kg" for n in range(1, 10)]
    assert axis.si.tolist() == [float(f"0.{n}") for n in range(1, 10)]


points = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), max_size=40)


@given(points)
def test_the_front_is_what_no_machine_beats(pairs: list[tuple[int, int]]) -> None:
    """Against the definition, pair by pair: of machines alike in both the first stays."""
    first, second = (np.array([p[i] for p in pairs], dtype=float) for i in (0, 1))
    front = set(unbeaten(first, second, np.arange(len(pairs), dtype=np.int64)).tolist())
    for i, a in enumerate(pairs):
        beaten = any(b != a and b[0] <= a[0] and b[1] <= a[1] for b in pairs) or a in pairs[:i]
        assert (i in front) != beaten


@given(st.lists(st.one_of(st.integers(0, 5).map(float), st.just(float("nan"))), max_size=40), st.integers(1, 10))
def test_the_least_are_those_that_sorting_gives(keys: list[float], count: int) -> None:
    """Against Python's own sort, which keeps the order of equal keys."""
    expected = sorted((k, i) for i, k in enumerate(keys) if k == k)[:count]  # noqa: PLR0124
    assert least(np.array(keys), np.arange(len(keys), dtype=np.int64), count).tolist() == [i for _, i in expected]


def test_spread_out_keeps_both_ends() -> None:
    assert spread_out(100, 5).tolist() == [0, 25, 50, 74, 99]
    assert spread_out(3, 5).tolist() == [0, 1, 2]


def small_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(blocks_of_machines, "BLOCK", 64)


WISHES = {"best": ["tipping max", "mass min"], "keep": ["top-speed >= 1 m/s"], "show": ["lasts-the-show-day"]}
BOTH = ["body.parts[7].mass=0.5..1.5 kg:0.05 kg", RADIUS]


def test_many_blocks_make_the_same_as_one(monkeypatch: pytest.MonkeyPatch) -> None:
    prepared = prepare(SUNBLOOM, BOTH, **WISHES)
    whole = run_prepared(prepared, draw=True)
    small_blocks(monkeypatch)
    assert block_count(prepared.plan) > 5
    parts = run_prepared(prepared, draw=True)
    assert [t.number for t in parts.table] == [t.number for t in whole.table]
    assert parts.tally.front.numbers.tolist() == whole.tally.front.numbers.tolist()
    assert (parts.tally.kept, parts.tally.meets) == (whole.tally.kept, whole.tally.meets)
    for a, b in zip(parts.tally.grids, whole.tally.grids, strict=True):
        np.testing.assert_allclose(a.best, b.best, rtol=1e-12)
        assert a.kept.tolist() == b.kept.tolist()


def test_grids_hold_the_best_of_each_value() -> None:
    prepared = prepare(SUNBLOOM, BOTH, **WISHES)
    swept, rows = collected(prepared, draw=True)
    places = prepared.plan.places(rows.numbers)
    for grid in swept.tally.grids:
        goal = prepared.plan.drawn[grid.goal]
        best = np.full(grid.sizes, -np.inf if goal.largest else np.inf)
        at = tuple(places[i] for i in grid.axes)
        (np.maximum if goal.largest else np.minimum).at(best, at, rows.values[:, goal.column])
        np.testing.assert_array_equal(grid.best.reshape(grid.sizes), np.where(np.isinf(best), np.nan, best))


def test_worker_processes_give_the_same_to_the_last_bit() -> None:
    prepared = prepare(SUNBLOOM, ["body.parts[7].mass=0.5..1.5 kg:0.0002 kg", RADIUS, STOPS], **WISHES)
    assert block_count(prepared.plan) > 3
    same(run_prepared(prepared, draw=True, runner=here), run_prepared(prepared, draw=True, runner=in_processes(2)))


@pytest.mark.filterwarnings("ignore::DeprecationWarning:distributed", "ignore::ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_cluster_that_loses_a_worker_gives_the_same_to_the_last_bit() -> None:
    """A real scheduler with two worker processes on this machine, one of which is killed in the middle."""
    distributed = pytest.importorskip("distributed")
    prepared = prepare(SUNBLOOM, ["body.parts[7].mass=0.5..1.5 kg:0.0002 kg", RADIUS, STOPS], **WISHES)
    assert block_count(prepared.plan) > 4
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    )
    killed: list[int] = []

    def kill_one(done: int, count: int) -> None:
        if not killed:
            killed.append(next(iter(cluster.workers.values())).pid)
            os.kill(killed[0], signal.SIGKILL)

    with cluster:
        parts: list[Rows] = []
        there = run_prepared(
            prepared, draw=True, sink=parts.append, on_progress=kill_one, runner=on_cluster(cluster.scheduler_address)
        )
    assert killed
    assert not there.stopped
    assert there.done == prepared.plan.count
    at_home, rows = collected(prepared, draw=True, runner=here)
    same(there, at_home)
    assert np.concatenate([p.values for p in parts]).tobytes() == rows.values.tobytes()


def test_a_scheduler_that_does_not_answer_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("dryfit.studies.cluster.WAIT", 0.3)
    with pytest.raises(DesignError, match="no scheduler answers there"):
        on_cluster("tcp://127.0.0.1:9")


def test_what_was_done_until_it_was_stopped_is_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    small_blocks(monkeypatch)
    prepared = prepare(SUNBLOOM, BOTH, **WISHES)
    done: list[int] = []
    swept = run_prepared(prepared, on_progress=lambda n, _: done.append(n), stop=lambda: len(done) == 2)
    assert (swept.stopped, swept.done) == (True, done[1])

    def interrupted(work: Work) -> Iterator[Block]:
        yield tally.block(work, 0)
        raise KeyboardInterrupt

    again = run_prepared(prepared, runner=interrupted)
    assert (again.stopped, again.done) == (True, done[0])
    assert again.table


def test_memory_does_not_grow_with_the_machines() -> None:
    """A hundred times as many machines leave a tally of the same size; values stand in for an assessment."""

    def answer(build: Any, asked: Any, fixed: Any) -> Any:
        def found(levels: Any, start: int, stop: int) -> Found:
            places = np.unravel_index(np.arange(start, stop), [len(v) for _, v in levels])
            x = np.stack([v[p] for (_, v), p in zip(levels, places, strict=True)], axis=1)
            scrambled = np.modf(np.sin(x @ np.array([12.9898, 78.233])) * 43758.5453)[0]
            return Found(np.stack([scrambled] * len(asked), axis=1), {})

        return SimpleNamespace(grid=found)

    sizes = []
    for step in ("0.01", "0.0001"):
        plan = prepare(
            SUNBLOOM,
            [f"body.parts[7].mass=0.5..1.5 kg:{step} kg", "brief.speed=0.4..0.6 m/s:0.001 m/s"],
            best=["mass", "tipping"],
        ).plan
        work = Work(plan, None, 10, draw=True, answer=answer)  # type: ignore[arg-type]
        found = tally.nothing(work)
        for number in range(block_count(plan)):
            found = tally.joined(plan, found, tally.block(work, number)[0], 10)
        assert found.machines == plan.count
        sizes.append(sum(r.values.nbytes for r in (found.best, found.front, found.sample)))
    assert sizes[1] < 1.2 * max(sizes[0], tally.SAMPLE * 8 * len(plan.columns))
