"""The spread of whole designs: inputs, chances, drivers and measurements."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from dryfit.design.write import write_value
from dryfit.ground.errors import DesignError, UnknownNameError
from dryfit.ground.quantity import Array, Kind
from dryfit.jobs.check import check, example, example_names, new
from dryfit.jobs.spread import spread, uncertain
from dryfit.jobs.variants import Variants
from dryfit.studies import spread as study
from dryfit.studies.many import Evaluate
from dryfit.studies.quantities import all_margins, asked
from dryfit.studies.records_spread import Spreads
from dryfit.studies.uncertain import Drawn

FEW = 1024
HALF_A_FILE = """
name: Half
brief:
  slope: 2 deg
base:
  wheels:
    layout: three omni
    circle_radius: 250 mm
    diameter: 152 mm
  motor:
    voltage: 12 V
    free_speed: 180 rpm
    stall_torque: 2.2 N*m
    stall_current: 6 A
body:
  parts:
    - name: base
      shape: cylinder
      diameter: 500 mm
      length: 150 mm
      mass: 9 kg
      at: [0 mm, 0 mm, 150 mm]
    - name: figure
      shape: cylinder
      diameter: 200 mm
      length: 800 mm
      at: [0 mm, 0 mm, 600 mm]
power:
  packs: {item: lifepo4-12v8-7ah}
"""


@pytest.fixture(scope="module")
def sunbloom() -> Spreads:
    return spread(example("sunbloom"), 4096)


def numbers_held(name: str) -> tuple[Evaluate, dict[str, Array]]:
    """A design with every uncertain number written in as it stands, but those whose bounds some checks go by."""
    checked = check(example(name))
    some = [
        one
        for one in uncertain(checked)
        if one.path != "brief.friction" and not one.path.endswith((".mass", ".full_white"))
    ]
    drawn = Drawn(Variants(checked.text, checked.path), frozenset(i.path for i in some if i.reckoned))
    held = {i.path: np.array([1.0 if i.reckoned else i.nominal]) for i in some}
    return Evaluate(drawn, all_margins(checked.report), {}), held


@pytest.mark.parametrize("name", example_names())
def test_numbers_drawn_as_they_stand_change_nothing(name: str) -> None:
    """Where every number is drawn at its own value, every margin is that of the check itself."""
    evaluate, held = numbers_held(name)
    found = evaluate(held)
    margins = [float(f.margin) for f in check(example(name)).report.findings]
    assert not found.impossible
    assert found.values[0] == pytest.approx(margins, abs=1e-9)


@pytest.mark.parametrize("name", example_names())
def test_a_drawn_number_is_the_truth(name: str) -> None:
    """Bounds, worst lots and half-widths that checks count themselves follow the drawn value."""
    checked = check(example(name))
    inputs = uncertain(checked)
    drawn = Drawn(Variants(checked.text, checked.path), frozenset())
    values = {i.path: np.array([i.low, i.high]) for i in inputs if not i.reckoned}
    machine = drawn(values)
    assert np.array_equal(machine.brief.friction_low, values["brief.friction"])
    assert np.array_equal(machine.brief.friction_high, values["brief.friction"])
    assert not any(machine.parts.spread)
    for path, v in values.items():
        if path.endswith(".full_white"):
            assert np.array_equal(machine.light.full_white[..., 0], v)


def test_a_default_that_follows_from_others_follows_the_draw() -> None:
    """The winding's resistance is voltage over stall current in every draw, with its own doubt on top."""
    checked = check(example("sunbloom"))
    drawn = Drawn(Variants(checked.text, checked.path), frozenset({"base.motor.winding_resistance"}))
    current = np.array([9.0, 12.0])
    machine = drawn({"base.motor.stall_current": current, "base.motor.winding_resistance": np.array([0.9, 1.1])})
    assert machine.values["base.motor.winding_resistance"] == pytest.approx(12.8 / current * [0.9, 1.1])


@pytest.mark.parametrize("name", example_names())
def test_every_input_has_a_range_a_reason_and_a_place(name: str) -> None:
    checked = check(example(name))
    for one in uncertain(checked):
        assert one.low < one.high, one.path
        assert one.low <= one.nominal <= one.high, one.path
        assert one.reason, one.path
        assert one.grounds, one.path
        origin = checked.machine.origins.get(one.path)
        assert one.line == (origin.line if origin is not None and origin.kind is Kind.DESIGN else 0)


def test_a_row_that_states_a_range_gives_it() -> None:
    """paving in the catalogue of floors, addressable-5v-60 in that of strips."""
    inputs = {one.path: one for one in uncertain(check(example("sunbloom")))}
    friction, white = inputs["brief.friction"], inputs["light.strips[0].full_white"]
    assert (friction.low, friction.high, friction.grounds) == (0.35, 0.8, "catalogue row")
    assert (white.low, white.high) == pytest.approx((33.5e-3, 52.5e-3))
    assert inputs["brief.rolling_resistance"].high == 0.05


def test_what_is_chosen_is_not_drawn() -> None:
    paths = {one.path for one in uncertain(check(example("sunbloom")))}
    assert not any(".limits." in path for path in paths)
    assert not paths & {"brief.speed", "power.packs.count", "light.cap", "base.gears[0].module"}


def test_the_answer_is_whole(sunbloom: Spreads) -> None:
    report = check(example("sunbloom")).report
    assert {c.check for c in sunbloom.checks} == {f.check for f in report.findings}
    assert (sunbloom.draws, sunbloom.scramblings, sunbloom.impossible) == (4096, 16, 0)
    for c in sunbloom.checks:
        assert 0 <= c.holds.low <= c.holds.value <= c.holds.high <= 1
        assert c.holds.low < c.holds.high, "never surer than the draws allow, at 0 and 1 neither"
        assert c.kept.value <= c.holds.value
        assert c.band[0] <= c.band[1] <= c.band[2]
        assert len(c.drivers) <= 3
        assert sum(d.share for d in c.drivers) <= 1 + 1e-12
    chances = [c.holds.value for c in sunbloom.checks]
    assert chances == sorted(chances)
    assert 0 < sunbloom.all_hold.value <= chances[0]
    settled = [m.settles for m in sunbloom.measurements]
    assert settled == sorted(settled, reverse=True)
    assert 0 < sum(settled) <= 1


def test_chances_at_both_ends() -> None:
    """Beacon's planted faults fail in every draw; what is certain is certain to within 1 in a few hundred."""
    found = {c.check: c for c in spread(example("beacon"), FEW).checks}
    never, always = found["tips-when-braking"].holds, found["lift-by-one-person"].holds
    assert (never.value, always.value) == (0.0, 1.0)
    assert 0 < never.high < 0.01
    assert 0.99 < always.low < 1


def test_checks_about_knowledge_are_read_from_the_design(sunbloom: Spreads) -> None:
    found = {c.check: c for c in sunbloom.checks}
    assert found["mass-known"].states_knowledge
    assert found["mass-known"].band == pytest.approx((found["mass-known"].margin,) * 3)


def test_the_same_seed_the_same_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever does the work, and in whatever pieces it is handed out."""
    first = spread(example("drift"), 256, seed=3)
    assert spread(example("drift"), 256, seed=3) == first
    assert spread(example("drift"), 256, seed=4) != first
    monkeypatch.setattr(study, "_PIECE", 64)
    in_pieces = spread(example("drift"), 256, seed=3)
    assert [c.holds for c in in_pieces.checks] == [c.holds for c in first.checks]
    assert [c.band for c in in_pieces.checks] == [pytest.approx(c.band, abs=1e-9) for c in first.checks]


def test_two_processes_give_the_answer_of_one(monkeypatch: pytest.MonkeyPatch) -> None:
    from dryfit.jobs import spread as jobs

    monkeypatch.setattr(study, "_PIECE", 512)
    alone = spread(example("drift"), FEW)
    monkeypatch.setattr(jobs, "_WORTH_A_PROCESS", 1)
    parts: list[float] = []
    assert spread(example("drift"), FEW, on_progress=parts.append, processes=2) == alone
    assert parts == [0.0, 0.5, 1.0]


def test_more_draws_narrow_the_interval() -> None:
    def width(draws: int) -> float:
        c = next(c for c in spread(example("drift"), draws).checks if c.check == "crosses-the-step")
        return c.holds.high - c.holds.low

    assert width(4096) < 0.6 * width(256)


def test_shares_agree_with_another_library() -> None:
    """The step that Drift has to cross, with the floor's three numbers in doubt: scipy.stats.sobol_indices on the same
    machines, with draws of its own."""
    checked = check(example("drift"))
    paths = ("brief.friction", "brief.step", "brief.rolling_resistance")
    inputs = tuple(one for one in uncertain(checked) if one.path in paths)
    build = Variants(checked.text, checked.path)
    found = study.spread(build, checked.report, inputs, draws=8192, seed=1, detail="crosses-the-step")
    ours = {d.path: d for c in found.checks if c.check == "crosses-the-step" for d in c.drivers}
    evaluate = Evaluate(Drawn(build, frozenset()), (asked("crosses-the-step", checked.report),), {})

    def margins(x: Array) -> Array:
        return evaluate({one.path: row for one, row in zip(inputs, x, strict=True)}).values.T

    dists = [stats.uniform(one.low, one.high - one.low) for one in inputs]
    theirs = stats.sobol_indices(func=margins, n=1024, dists=dists, rng=np.random.default_rng(2))
    for i, one in enumerate(inputs):
        assert ours[one.path].share == pytest.approx(float(np.atleast_2d(theirs.first_order)[0, i]), abs=0.04)
        assert ours[one.path].total == pytest.approx(float(np.atleast_2d(theirs.total_order)[0, i]), abs=0.04)


def test_weighing_shrinks_the_band(tmp_path: Path) -> None:
    """The figure of this design has no mass but its sizes: typed with ±, the tipping is known better."""
    file = tmp_path / "design.yaml"
    file.write_text(
        HALF_A_FILE.replace(
            "      at: [0 mm, 0 mm, 600 mm]", "      mass: 3 kg\n      guessed: yes\n      at: [0 mm, 0 mm, 600 mm]"
        )
    )
    guessed = spread(file, FEW)
    write_value(file, "body.parts[1].mass", "3 kg ± 1 %")
    weighed = spread(file, FEW)

    def band(s: Spreads) -> float:
        low, _, high = next(c.band for c in s.checks if c.check == "tilt-board")
        return high - low

    assert guessed.input("body.parts[1].mass").low == pytest.approx(1.8)
    assert weighed.input("body.parts[1].mass").low == pytest.approx(2.97)
    assert band(weighed) < 0.7 * band(guessed)
    assert next(c for c in guessed.checks if c.check == "tilt-board").drivers[0].path == "body.parts[1].mass"


def test_measuring_what_helps_most_helps(tmp_path: Path) -> None:
    """Written into Drift as advised, the friction is in doubt no more, and the step is crossed for sure."""
    before = spread(example("drift"), FEW)
    advice = before.measurements[0]
    assert advice.path == "brief.friction"
    reading = next(r for r in advice.readings if r.check == "crosses-the-step")
    assert reading.high == pytest.approx(before.input(advice.path).high)
    file = new(tmp_path / "drift", "drift")
    write_value(file, "brief.friction", f"{(reading.low + reading.high) / 2:.3f} ± 2 %")
    after = {c.check: c for c in spread(file, FEW).checks}
    assert after["crosses-the-step"].holds.value > 0.95


def test_half_a_file_runs(tmp_path: Path) -> None:
    (tmp_path / "design.yaml").write_text(HALF_A_FILE)
    found = spread(tmp_path, FEW)
    assert len(found.inputs) > 40
    assert found.input("body.parts[1].mass").grounds == "default"
    assert all(needs for _, needs in found.unknown)
    assert found.checks


def test_what_is_counted_is_never_drawn(tmp_path: Path) -> None:
    """A pack that nobody named has four cells by default, not three and a half."""
    file = tmp_path / "design.yaml"
    file.write_text("name: Half\npower: {packs: {count: 2}}\n", encoding="utf-8")
    checked = check(file)
    assert "power.packs.cells_in_series" in checked.machine.origins
    assert "power.packs.cells_in_series" not in {one.path for one in uncertain(checked)}
    assert spread(file, FEW).draws >= FEW


def test_draws_that_cannot_be_are_counted(tmp_path: Path) -> None:
    """A tube of 12 mm with a wall of 5 to 6.25 mm is no tube where the wall is more than half of it: a fifth of the
    draws."""
    text = HALF_A_FILE.replace("      length: 800 mm\n", "      length: 800 mm\n      wall: 5.625 mm ± 0.625 mm\n")
    text = (
        text.replace("      diameter: 200 mm\n", "      diameter: 12 mm\n")
        .replace("cylinder\n      diameter: 12", "tube\n      diameter: 12")
        .replace("12 mm", "12 mm ± 0 mm")
    )
    text = text.replace("      at: [0 mm, 0 mm, 600 mm]", "      mass: 3 kg\n      at: [0 mm, 0 mm, 600 mm]")
    (tmp_path / "design.yaml").write_text(text)
    found = spread(tmp_path, 256)
    assert found.impossible == pytest.approx(found.draws / 5, abs=1)
    assert "hollow" in found.why_impossible
    assert all(np.isfinite(c.holds.value) for c in found.checks)


@pytest.mark.parametrize(("draws", "seed", "key"), [(10, 1, "draws"), (10**9, 1, "draws"), (FEW, -1, "seed")])
def test_wrong_draws_and_seeds(draws: int, seed: int, key: str) -> None:
    with pytest.raises(DesignError) as wrong:
        spread(example("drift"), draws, seed)
    assert [f.key for f in wrong.value.faults] == [key]


def test_an_unknown_check() -> None:
    with pytest.raises(UnknownNameError, match="crosses-the-step"):
        spread(example("drift"), FEW, detail="crosses-the-stepp")
