"""Recordings: what is repeated must be what the assessment computes, and what cannot be followed must be refused."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping
from functools import cache
from threading import get_ident
from typing import Any

import numpy as np
import pytest

from dryfit.assess.assess import assess
from dryfit.design.values import dimension_at, numbers
from dryfit.ground.quantity import Array, Value
from dryfit.ground.steps import one_step
from dryfit.jobs.check import Checked, check, example
from dryfit.jobs.variants import Variants, _read
from dryfit.machine.machine import Machine
from dryfit.studies import many
from dryfit.studies.many import Evaluate
from dryfit.studies.quantities import all_margins, asked, columns
from dryfit.studies.recording import NotRecordableError, Program, Recorded, Tape, program

EXAMPLES = ("sunbloom", "gangway", "drift", "beacon")
SIZE = 40
NEVER_MORE = ("share", "level", "cap")


@cache
def checked(name: str) -> Checked:
    return check(example(name))


def variants(name: str) -> Variants:
    return Variants(checked(name).text, checked(name).path)


def varied_everywhere(name: str, seed: int) -> dict[str, Array]:
    """All numbers of a design that may be arrays, each a little off."""
    v = variants(name)
    design, machine = _read(v.text, str(v.file)), checked(name).machine
    rng = np.random.default_rng(seed)
    found: dict[str, Array] = {}
    for path in numbers(design):
        if dimension_at(design, path).whole or path.startswith("reserves") or path not in machine.values:
            continue
        shrink = 0.98 if any(w in path for w in NEVER_MORE) else 1.0
        found[path] = float(machine.values[path]) * shrink * (1 + 0.02 * (rng.random(SIZE) - 0.5))
    return found


def recording(
    build: Callable[[Mapping[str, Value | None]], Machine], values: Mapping[str, Array], wanted: Any
) -> Program:
    tape = Tape()
    inputs = {path: tape.take_in(v) for path, v in values.items()}
    return program(tape, inputs, columns(assess(build(inputs)), wanted))


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_recording_finds_what_the_assessment_finds_for_every_check_and_every_number_varied(name: str) -> None:
    wanted = all_margins(checked(name).report)
    recorded = recording(variants(name), varied_everywhere(name, 1), wanted)
    others = varied_everywhere(name, 2)
    again = recorded.run(others)
    assert again is not None
    straight = columns(assess(variants(name)(dict(others))), wanted)
    for one, repeated, found in zip(wanted, again, straight, strict=True):
        np.testing.assert_allclose(repeated, found, rtol=1e-12, atol=1e-13, err_msg=one.name)


def test_a_recording_keeps_only_what_the_answer_rests_on() -> None:
    v, report = variants("sunbloom"), checked("sunbloom").report
    values = {"brief.slope": np.linspace(0.02, 0.09, SIZE), "base.motor.stall_torque": np.linspace(2.5, 3.5, SIZE)}
    everything = recording(v, values, all_margins(report))
    little = recording(v, values, (asked("stands-on-the-slope", report),))
    assert len(little.lines) < len(everything.lines) / 20


# --- the tape by itself -----------------------------------------------------------------------------------------------


def tried(function: Callable[[Any], Any]) -> tuple[Program, Array]:
    """A function of an array, recorded with one and asked about another."""
    tape = Tape()
    start = tape.take_in(np.array([1.0, 4.0, 9.0]))
    return program(tape, {"x": start}, [function(start)]), np.array([2.0, 3.0, 5.0])


def in_place(x: Any) -> Any:
    y = x * 2.0
    y[1:] = 0.5
    np.maximum(y, 1.0, out=y)
    y += x
    return y


@pytest.mark.parametrize(
    "function",
    [
        lambda x: np.sqrt(x) + x.reshape(3, 1) @ x.reshape(1, 3),
        lambda x: np.where(x > 2, x, -x)[::-1],
        lambda x: np.stack([np.cumsum(x), np.interp(x, [0.0, 10.0], [0.0, 1.0])], axis=-1).T,
        lambda x: sum(one * one for one in x),
        lambda x: np.take_along_axis(x, np.argsort(-x), axis=-1).astype(int).copy(),
        lambda x: np.broadcast_arrays(x, np.ones((2, 3)))[0].all() * np.max(x),
        in_place,
    ],
)
def test_numpy_is_followed_whatever_way_it_is_called(function: Callable[[Any], Any]) -> None:
    recorded, other = tried(function)
    found = recorded.run({"x": other})
    assert found is not None
    np.testing.assert_array_equal(found[0], function(other))


def test_a_block_that_would_go_another_way_is_refused() -> None:
    recorded, _ = tried(lambda x: x * 2 if np.any(x > 5) else x)
    assert recorded.run({"x": np.array([1.0, 2.0, 3.0])}) is None
    found = recorded.run({"x": np.array([1.0, 2.0, 6.0])})
    assert found is not None
    np.testing.assert_array_equal(found[0], [2.0, 4.0, 12.0])


@pytest.mark.parametrize("convert", [float, int, bool])
def test_a_number_taken_out_of_an_array_decides_too(convert: type) -> None:
    recorded, other = tried(lambda x: x * convert(x[0]))
    assert recorded.run({"x": other + 0.0}) is None or convert is bool
    assert recorded.run({"x": np.array([1.0, 7.0, 8.0])}) is not None


def test_a_solver_is_one_step() -> None:
    @one_step
    def halved_until_small(start: Array, parts: tuple[Array, str]) -> tuple[Array, Array]:
        x, rounds = start + parts[0], 0
        while np.max(x) > 1:
            x, rounds = x / 2, rounds + 1
        return x, np.asarray(rounds)

    recorded, other = tried(lambda x: sum(halved_until_small(x, (x * 2, "as it is"))))
    assert len(recorded.lines) < 6
    found = recorded.run({"x": other})
    assert found is not None
    np.testing.assert_array_equal(found[0], sum(halved_until_small(other, (other * 2, "as it is"))))


def test_what_was_not_seen_is_refused() -> None:
    with pytest.raises(NotRecordableError, match="plain array"):
        tried(lambda x: np.multiply(x, 2.0, out=np.empty(3)))
    with pytest.raises(NotRecordableError, match="not seen"):
        tried(lambda x: x.view() * 2)


def test_a_recording_that_lost_the_thread_is_never_used(monkeypatch: pytest.MonkeyPatch) -> None:
    """A build that makes plain arrays of its numbers leaves nothing to repeat: the trial on other machines shows it."""
    inner = variants("sunbloom")

    def build(values: Mapping[str, Value | None]) -> Machine:
        return inner({k: np.array(v) if isinstance(v, Recorded) else v for k, v in values.items()})

    monkeypatch.setattr(many, "BLOCK", 16)
    monkeypatch.setattr(many, "WORTH_RECORDING", 32)
    wanted = (asked("tips-when-braking", checked("sunbloom").report),)
    speeds = np.linspace(0.2, 0.8, 64)
    braking = {"brief.braking": speeds}
    straight = Evaluate(inner, wanted, {})(braking)
    found = Evaluate(build, wanted, {})(braking)
    np.testing.assert_array_equal(found.values, straight.values)
    assert len(np.unique(found.values)) > 10


# --- blocks and grids -------------------------------------------------------------------------------------------------


@pytest.fixture
def small_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(many, "BLOCK", 24)
    monkeypatch.setattr(many, "BOX", 24)
    monkeypatch.setattr(many, "WORTH_RECORDING", 48)


WANTED = ("tips-when-braking", "runs-below-stall-share.demand", "run-time", "centre-height")


def evaluate(name: str = "sunbloom") -> Evaluate:
    return Evaluate(variants(name), tuple(asked(w, checked(name).report) for w in WANTED), {})


@pytest.mark.usefixtures("small_blocks")
def test_blocks_find_what_single_machines_find() -> None:
    many._recordings.cache_clear()
    rng = np.random.default_rng(4)
    varied = {"brief.slope": rng.uniform(0, 0.1, 100), "body.parts[6].mass": rng.uniform(1.0, 2.0, 100)}
    found = evaluate()(varied).values
    assert any(isinstance(m, Program) for m in many._recordings(get_ident(), *_key(evaluate(), varied)))
    for row in (0, 23, 24, 57, 99):
        alone = evaluate()({path: v[row : row + 1] for path, v in varied.items()}).values
        np.testing.assert_allclose(found[row], alone[0], rtol=1e-12)


def _key(e: Evaluate, varied: Mapping[str, Array]) -> tuple[Any, ...]:
    return (e.build, e.asked, (), tuple((path, (many.BLOCK,)) for path in varied))


@pytest.mark.usefixtures("small_blocks")
def test_a_grid_finds_what_its_machines_find_one_after_another() -> None:
    levels = {
        "base.wheels.circle_radius": np.linspace(0.28, 0.34, 5),
        "brief.speed": np.linspace(0.3, 0.6, 7),
        "base.gears[0].pinion_teeth": np.array([22.0, 24.0, 26.0]),
    }
    rows = list(itertools.product(*levels.values()))
    flat = {path: np.array([r[k] for r in rows]) for k, path in enumerate(levels)}
    straight = evaluate()(flat)
    for start, stop in ((0, len(rows)), (13, 90), (50, 51)):
        found = evaluate().grid([((path,), v) for path, v in levels.items()], start, stop)
        np.testing.assert_allclose(found.values, straight.values[start:stop], rtol=1e-11)


def test_boxes_cover_every_machine_of_a_grid_once_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(0)
    for _ in range(150):
        room = int(rng.integers(1, 60))
        monkeypatch.setattr(many, "BLOCK", room)
        sizes = [int(k) for k in rng.integers(1, 14, rng.integers(1, 5))]
        levels = [((str(i),), np.arange(n) * 1.0) for i, n in enumerate(sizes)]
        start = int(rng.integers(0, math.prod(sizes)))
        stop = int(rng.integers(start + 1, math.prod(sizes) + 1))
        out = np.full((stop - start, len(sizes)), -1.0)
        for row, box in many._boxes(levels, sizes, start, stop):
            shape = np.broadcast_shapes(*(v.shape for v in box.values()))
            assert math.prod(shape) <= room
            rows = np.stack([np.broadcast_to(v, shape).reshape(-1) for v in box.values()], axis=-1)
            first, last = max(row, 0), min(row + len(rows), stop - start)
            out[first:last] = rows[first - row : last - row]
        np.testing.assert_array_equal(out, np.stack(np.unravel_index(np.arange(start, stop), sizes), axis=-1))


@pytest.mark.usefixtures("small_blocks")
def test_machines_that_cannot_be_are_told_apart_from_those_that_can() -> None:
    """A pinion of more teeth than its ring has no place in it: unknown beside others, refused by itself."""
    teeth = np.arange(20.0, 90.0)
    found = evaluate()({"base.gears[0].pinion_teeth": teeth, "brief.slope": np.full(70, 0.05)})
    share = found.values[:, 1]
    np.testing.assert_array_equal(np.isnan(share), teeth >= 60)
    assert 0 < len(found.impossible) <= 30
    assert all(teeth[row] >= 60 and "fewer teeth than its ring" in why for row, why in found.impossible.items())
