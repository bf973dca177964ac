"""Pinion on the motor's shaft, pegs of the ring, size of the gear on the axle: each holding, and short as planted."""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.assess.assess import assess
from dryfit.design.read import read_design
from dryfit.design.values import with_values
from dryfit.ground.errors import DesignError
from dryfit.ground.findings import Finding, State, state
from dryfit.ground.quantity import Kind
from dryfit.jobs.check import example
from dryfit.machine.machine import resolve
from dryfit.trades.gears.checks import MeshResult, assess_mesh

GRIP, PEGS = "base.gears[0].pinion_grip.", "base.gears[0].pegs."
CHECKS = ("pinion-grips-its-shaft", "pinion-keeps-its-grip-warm", "pegs-carry-the-ring")


def changed(name: str, changes: dict[str, str]) -> dict[str, Finding]:
    design = with_values(read_design(example(name)), changes)
    return {f.check: f for f in assess(resolve(design, example(name))).findings}


def assess_mesh_of(name: str) -> MeshResult:
    m = resolve(read_design(example(name)), example(name))
    return assess_mesh(m.origins, m.gears, m.workshop)


def test_the_examples_hold() -> None:
    for name in ("sunbloom", "gangway", "beacon"):
        found = changed(name, {})
        assert {state(found[c]) for c in CHECKS if c in found} == {State.HOLDS}


def test_what_is_not_there_is_not_judged() -> None:
    assert not set(CHECKS) & set(changed("drift", {}))  # no gears at all
    assert "pegs-carry-the-ring" not in changed("gangway", {})  # its gear sits on the axle
    one_piece = changed("sunbloom", {GRIP + "kind": "one piece"})
    assert not set(CHECKS[:2]) & set(one_piece)


def test_flat_of_the_pinion_by_hand() -> None:
    """8 mm shaft, flat 1 mm deep and 22 mm long: 5.29 mm wide, so 30 MPa x 5.29 x 22 mm x 4 mm = 13.97 N·m when cool;
    polyamide softens at 120 °C, so at the pinion's temperature (120 - t)/(120 - 23) of it is left."""
    found = changed("sunbloom", {})["pinion-grips-its-shaft"]
    ambient = 22.0  # °C, typed in the design; the check judges the rise over it
    warm = float(changed("sunbloom", {})["pinion-keeps-its-grip-warm"].demand[0]) + ambient
    cool = 30e6 * 2 * np.sqrt(1e-3 * 7e-3) * 22e-3 * 4e-3
    assert found.capacity[5] == pytest.approx(cool * (120 - warm) / 97, rel=1e-9)
    assert found.capacity[1] == pytest.approx(found.capacity[5] * 12 / 30, rel=1e-9)
    assert found.demand[5] == pytest.approx(2 * 3.0, rel=1e-3)  # twice the sheet's stall torque, a little sag


def test_pegs_by_hand() -> None:
    """Stall torque of the wheel 3.0 N·m x 2.5 x efficiency, with shock 1.5, on six pegs at 67 mm from the axle."""
    found = changed("sunbloom", {})
    efficiency = float(assess_mesh_of("sunbloom").efficiency.value)
    force = 1.5 * 3.0 * 2.5 * efficiency / (6 * 0.067)
    pegs = found["pegs-carry-the-ring"]
    assert pegs.demand[0] == pytest.approx(2 * force / (np.pi / 4 * 0.004**2), rel=1e-3)
    assert pegs.demand[1] == pytest.approx(force / (0.004 * 0.006), rel=1e-3)


@pytest.mark.parametrize(
    ("changes", "check"),
    [
        ({GRIP + "length": "5 mm"}, "pinion-grips-its-shaft"),
        ({GRIP + "kind": "screws", GRIP + "screw_force": "100 N"}, "pinion-grips-its-shaft"),
        ({GRIP + "flat_depth": "9 mm"}, "pinion-grips-its-shaft"),  # deeper than the shaft: no flat is left
        ({"base.gears[0].pinion_material": "printed-pla", "brief.ambient": "45 degC"}, "pinion-keeps-its-grip-warm"),
        ({PEGS + "made": "printed", PEGS + "count": "3", PEGS + "diameter": "3 mm"}, "pegs-carry-the-ring"),
        ({PEGS + "count": "0"}, "pegs-carry-the-ring"),
    ],
)
def test_short_as_planted(changes: dict[str, str], check: str) -> None:
    assert state(changed("sunbloom", changes)[check]) is State.SHORT


def test_gear_on_the_axle_takes_its_size_from_the_last_stage() -> None:
    sunbloom = resolve(read_design(example("sunbloom")), example("sunbloom"))
    assert float(sunbloom.axle.gear_diameter) == pytest.approx(0.120)
    assert sunbloom.origins["base.axle.gear_diameter"].kind is Kind.DEFAULT
    agreeing = resolve(
        with_values(read_design(example("sunbloom")), {"base.axle.gear_diameter": "120.5 mm"}), example("sunbloom")
    )
    assert float(agreeing.axle.gear_diameter) == pytest.approx(0.120)
    with pytest.raises(DesignError, match="module × teeth") as raised:
        resolve(
            with_values(read_design(example("sunbloom")), {"base.axle.gear_diameter": "96 mm"}), example("sunbloom")
        )
    assert [f.key for f in raised.value.faults] == ["base.axle.gear_diameter"]
    assert "120 mm" in raised.value.faults[0].accepted


def test_of_a_batch_the_stage_decides_the_size_of_the_gear() -> None:
    teeth = np.array([60.0, 50.0])
    typed = {"base.axle.gear_diameter": "120 mm", "base.gears[0].gear_teeth": teeth}
    many = resolve(with_values(read_design(example("sunbloom")), typed), example("sunbloom"))
    assert many.axle.gear_diameter == pytest.approx(2e-3 * teeth)


def test_a_bore_as_wide_as_the_axle_is_a_fault() -> None:
    with pytest.raises(DesignError, match="as wide as the axle"):
        resolve(with_values(read_design(example("sunbloom")), {"base.axle.bore": "20 mm"}), example("sunbloom"))


def test_fixings_of_many_machines_equal_one_by_one() -> None:
    lengths = np.array([5e-3, 12e-3, 22e-3])
    design = read_design(example("sunbloom"))
    file = example("sunbloom")
    many = {f.check: f for f in assess(resolve(with_values(design, {GRIP + "length": lengths}), file)).findings}
    for i, length in enumerate(lengths):
        one = {
            f.check: f for f in assess(resolve(with_values(design, {GRIP + "length": float(length)}), file)).findings
        }
        for check in CHECKS:
            together = np.broadcast_to(many[check].margin, lengths.shape)[i]
            assert together == pytest.approx(float(one[check].margin), abs=1e-12)
