# ruff: noqa: E501 (messages are asserted whole, one a line)
"""Looking a number up by its path and putting others in its place."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dryfit.design.read import read_text
from dryfit.design.values import dimension_at, numbers, value_at, with_values
from dryfit.ground.errors import DesignError, UnknownNameError
from dryfit.ground.quantity import Kind, Origin, Quantity

EXAMPLES = sorted(Path(__file__).resolve().parents[2].glob("examples/*/design.yaml"))
DESIGN = read_text(
    "name: x\nbrief:\n  slope: 3 deg ± 1 deg\n  limits: {tilt: 8 deg}\nworkshop:\n  shims: [0.1 mm, 0.2 mm]\n"
)


def test_numbers_are_found_by_their_path() -> None:
    slope = value_at(DESIGN, "brief.slope")
    assert slope is not None
    assert slope.si == pytest.approx(np.deg2rad(3))
    shim = value_at(DESIGN, "workshop.shims[1]")
    assert shim is not None
    assert shim.si == pytest.approx(0.2e-3)
    assert value_at(DESIGN, "brief.push") is None
    assert dimension_at(DESIGN, "brief.push").si == "N"
    assert dimension_at(DESIGN, "workshop.shims[0]").si == "m"
    assert numbers(DESIGN) == ("brief.slope", "brief.limits.tilt", "workshop.shims[0]", "workshop.shims[1]")


def test_one_number_is_replaced_and_the_design_stays() -> None:
    changed = with_values(DESIGN, {"brief.slope": 0.1, "workshop.shims[1]": 0.5e-3, "brief.limits.tilt": "9 deg"})
    slope = value_at(changed, "brief.slope")
    assert slope is not None
    assert slope.si == 0.1
    assert slope.origin.line == 3
    assert slope.origin.text == "5.73 deg"
    assert slope.spread == DESIGN.brief.slope.spread  # type: ignore[union-attr]
    assert [q.si for q in changed.workshop.shims or []] == pytest.approx([0.1e-3, 0.5e-3])
    assert changed.brief.limits.tilt is not None
    assert changed.brief.limits.tilt.si == pytest.approx(np.deg2rad(9))
    assert DESIGN.brief.slope is not None
    assert DESIGN.brief.slope.si == pytest.approx(np.deg2rad(3))
    assert changed.name == "x"


def test_arrays_run_over_machines() -> None:
    slope = value_at(with_values(DESIGN, {"brief.slope": np.array([0.1, 0.2])}), "brief.slope")
    assert slope is not None
    np.testing.assert_array_equal(slope.si, [0.1, 0.2])
    assert slope.origin.text == "2 values"


def test_a_key_that_was_left_out_can_be_given() -> None:
    changed = with_values(DESIGN, {"brief.push": 60.0, "workshop.nozzle": "0.6 mm", "brief.floor": "stone"})
    assert changed.brief.push is not None
    assert (changed.brief.push.si, changed.brief.push.dimension) == (60.0, "force")
    assert changed.brief.push.origin == Origin(Kind.DESIGN, path="brief.push", text="60 N")
    assert changed.workshop.nozzle is not None
    assert changed.brief.floor == "stone"


def test_a_quantity_goes_in_as_it_is() -> None:
    given = Quantity(np.ones(3), "angle", Origin(Kind.DESIGN, text="varied"))
    assert value_at(with_values(DESIGN, {"brief.slope": given}), "brief.slope") is given


@pytest.mark.parametrize(
    ("path", "message"),
    [
        ("brief.slop", "no key of the design named 'brief.slop'; did you mean brief.slope or brief.step or brief.speed?"),
        ("breif.slope", "no key of the design named 'breif.slope'; did you mean brief.slope"),
        ("workshop.shims[7]", "no entry of the design named 'workshop.shims[7]'; did you mean workshop.shims[1] or workshop.shims[0]?"),
        ("brief[0]", "no entry of the design named 'brief[0]'"),
        ("brief.slope.x", "no key of the design named 'brief.slope.x'"),
        ("brief..slope", "no key of the design named 'brief..slope'; did you mean brief.slope"),
        ("", "no key of the design named ''; there are: "),
    ],
)  # fmt: skip
def test_unknown_paths_offer_the_nearest(path: str, message: str) -> None:
    for act in (
        lambda: value_at(DESIGN, path),
        lambda: with_values(DESIGN, {path: 1.0}),
        lambda: dimension_at(DESIGN, path),
    ):
        with pytest.raises(UnknownNameError) as unknown:
            act()
        assert str(unknown.value).startswith(message)


@pytest.mark.parametrize("path", ["name", "brief", "workshop.shims"])
def test_what_is_no_number_is_said_to_be_none(path: str) -> None:
    for act in (lambda: value_at(DESIGN, path), lambda: with_values(DESIGN, {path: 1.0})):
        with pytest.raises(UnknownNameError, match=f"no number named '{path}'"):
            act()


def test_a_text_is_read_as_if_typed() -> None:
    with pytest.raises(DesignError, match=r"^:3: brief.slope: decimals take a point") as wrong:
        with_values(DESIGN, {"brief.slope": "3,5 deg"})
    assert wrong.value.faults[0].read == "3,5 deg"


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda p: p.parent.name)
def test_every_number_of_the_examples_can_be_looked_up_and_varied(file: Path) -> None:
    design = read_text(file.read_text(encoding="utf-8"))
    paths = numbers(design)
    assert len(paths) > 20
    for path in paths:
        old = value_at(design, path)
        assert old is not None
        varied = value_at(with_values(design, {path: np.array([1.0, 2.0]) * old.si}), path)
        assert varied is not None
        np.testing.assert_array_equal(varied.si, np.array([1.0, 2.0]) * old.si)
        assert (varied.origin.line, varied.dimension) == (old.origin.line, old.dimension)
    again = with_values(design, {path: value_at(design, path) for path in paths})  # type: ignore[misc]
    assert again == design
