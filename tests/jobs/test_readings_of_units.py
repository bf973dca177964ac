"""Readings of several units that one number of the design stands for: run-out of the wheels, play of the gears."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dryfit.assess.bench import bench
from dryfit.ground.errors import DesignError
from dryfit.jobs.check import check, example, new
from dryfit.jobs.readings import adopt, enter
from dryfit.jobs.variants import Variants
from dryfit.making.records_bench import Bench


@pytest.fixture
def design(tmp_path: Path) -> Path:
    return new(tmp_path / "machine", "sunbloom")


def after(found: Bench, path: str) -> float | None:
    return next((m.after for m in found.moved if m.path == path), None)


RUN_OUT, BACKLASH = "base.wheels.run_out", "base.gears[0].backlash"


def test_the_worst_wheel_sets_the_run_out(design: Path) -> None:
    """The dial shows twice the eccentricity: 0.5 mm is 0.25 mm, and the instrument's 0.02 mm leaves 0.01 mm."""
    found = enter(design, ["wheel-1-run-out=0.5 mm", "wheel-2-run-out=0.2 mm"])
    assert after(found, RUN_OUT) == pytest.approx(0.25e-3, abs=2e-6)
    moved = next(m for m in found.moved if m.path == RUN_OUT)
    assert moved.by == ("wheel-1-run-out",)
    assert moved.doubt_after == pytest.approx(0.01e-3, rel=0.02)
    sways = next(c for c in found.checks if c.check == "sways-at-the-top")
    assert sways.after < sways.before


def test_one_good_wheel_says_nothing_about_the_others(design: Path) -> None:
    assert after(enter(design, ["wheel-1-run-out=0.1 mm"]), RUN_OUT) is None
    found = enter(design, ["wheel-2-run-out=0.2 mm", "wheel-3-run-out=0.16 mm"])
    assert after(found, RUN_OUT) == pytest.approx(0.1e-3, abs=2e-6)


def test_more_units_that_agree_weigh_more(design: Path) -> None:
    one = after(enter(design, ["wheel-1-play=0.5 mm"]), BACKLASH)
    three = after(enter(design, ["wheel-2-play=0.5 mm", "wheel-3-play=0.5 mm"]), BACKLASH)
    assert three is not None
    assert (one or 0.2e-3) < three


def test_the_true_backlash_is_come_near(design: Path) -> None:
    """Readings of a machine whose teeth came out with 0.3 mm, not 0.2 mm: the checks follow those of that machine."""
    checked = check(design)
    built = Variants(checked.text, checked.path)({BACKLASH: np.array(0.3e-3)})
    read = {p.point: float(p.term.value) for p in bench(built)}
    found = enter(design, [f"wheel-{n}-play={read[f'wheel-{n}-play'] * 1e3:.3f} mm" for n in (1, 2, 3)])
    answer = after(found, BACKLASH)
    assert answer is not None
    assert 0.2e-3 < answer <= 0.3e-3
    assert abs(answer - 0.3e-3) < 0.6 * 0.1e-3


def test_what_is_drawn_is_never_replaced_by_what_came_of_it(design: Path) -> None:
    plays = [f"wheel-{n}-play=0.55 mm" for n in (1, 2, 3)]
    enter(design, plays)
    with pytest.raises(DesignError, match="no reading moves anything; nothing was written"):
        adopt(design)
    enter(design, ["wheel-1-run-out=0.5 mm"])
    written = adopt(design)
    assert [m.path for m in written.moved] == [RUN_OUT]
    text = design.read_text(encoding="utf-8")
    assert "backlash: 0.2 mm" in text
    assert text.count("used: yes") == 1


def test_wheels_that_share_no_number_are_left_alone(tmp_path: Path) -> None:
    text = example("sunbloom").read_text(encoding="utf-8")
    file = new(tmp_path / "each", "sunbloom")
    each = ", ".join(f"{{at: [{x} m, {y} m], heading: {h} deg, kind: omni}}" for x, y, h in
                     ((0.15, 0.26, 150), (-0.3, 0, 270), (0.15, -0.26, 30)))  # fmt: skip
    start = text.index("  wheels:\n")
    end = text.index("  motor:", start)
    file.write_text(text[:start] + f"  wheels: {{layout: custom, each: [{each}]}}\n" + text[end:], encoding="utf-8")
    found = enter(file, ["wheel-1-run-out=0.6 mm"])
    assert found.moved == ()
