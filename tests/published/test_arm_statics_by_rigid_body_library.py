"""Joint torques and forward kinematics of arms against a rigid-body library, run live.

Bibliography:
[1] pinocchio (package `pin`), run live. The reference chain: links .30, .25, .15 m; rods .20, .15, .10 kg with their
    centre half-way; point masses .06, .06, .12 kg at the links' ends; g = 9.80665 m/s². Frozen digits of the same
    chain agreed with a second engine to 1e-6 (seen).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pinocchio as pin
import pytest

from dryfit.design.sections.arms import Arms as Record
from dryfit.ground.units import STANDARD_GRAVITY
from dryfit.machine.arms import Arms, resolve_arms
from dryfit.machine.ledger import Ledger
from dryfit.trades.arms import formulas

LENGTHS, RODS, POINTS = (0.30, 0.25, 0.15), (0.20, 0.15, 0.10), (0.06, 0.06, 0.12)
AXES = {"yaw": (0, 0, 1), "pitch": (0, -1, 0), "roll": (1, 0, 0)}


def arm(axes: Sequence[str], degrees: Sequence[float], radius: float = 0.0, first_at: float = 0.0) -> Arms:
    """The reference chain with any axes, in one posture."""
    joints = [
        {"name": f"j{n}", "axis": axis,
         "link": {"length": f"{L} m", "mass": f"{m + p} kg", "centre": f"{(m * L / 2 + p * L) / (m + p)!r} m"}}
        for n, (axis, L, m, p) in enumerate(zip(axes, LENGTHS, RODS, POINTS, strict=True))
    ]  # fmt: skip
    group = {"name": "a", "mount_radius": f"{radius} m", "mount_height": "0 m", "first_at": f"{first_at} deg",
             "joints": joints}  # fmt: skip
    posture = {"name": "p", "angles": {f"j{n}": f"{q} deg" for n, q in enumerate(degrees)}}
    return resolve_arms(Record.model_validate({"groups": [group], "postures": [posture]}), Ledger())


def library(axes: Sequence[str]) -> tuple[pin.Model, pin.Data]:
    """The same chain in the library."""
    model = pin.Model()
    model.gravity.linear = np.array([0, 0, -STANDARD_GRAVITY])
    parent = 0
    for n, axis in enumerate(axes):
        joint = pin.JointModelRevoluteUnaligned(np.array(AXES[axis], dtype=float))
        place = pin.SE3(np.eye(3), np.array([LENGTHS[n - 1] if n else 0.0, 0, 0]))
        parent = model.addJoint(parent, joint, place, f"j{n}")
        L, m, p = LENGTHS[n], RODS[n], POINTS[n]
        rod = pin.Inertia(m, np.array([L / 2, 0, 0]), np.diag([0, m * L**2 / 12, m * L**2 / 12]))
        model.appendBodyToJoint(parent, rod, pin.SE3.Identity())
        model.appendBodyToJoint(parent, pin.Inertia(p, np.array([L, 0, 0]), np.zeros((3, 3))), pin.SE3.Identity())
    return model, model.createData()


def torques(a: Arms) -> np.ndarray:
    places = (a.link_centre, a.joint_origin, a.joint_axis)
    return formulas.gravity_torques(a.link_mass[..., None, :, :], *places)[0][0, 0]


def test_straight_out() -> None:
    """[1] Second joint of the chain straight out: 1.12041 N·m (seen)."""
    assert torques(arm(["pitch"] * 3, [0, 0, 0]))[1] == pytest.approx(1.12041, rel=1e-5)


@pytest.mark.parametrize(("joint", "expected"), [(0, 2.593029), (1, 1.089802), (2, 0.249118)])
def test_bent(joint: int, expected: float) -> None:
    """[1] The chain at 30, -45 and 20 deg (seen)."""
    assert torques(arm(["pitch"] * 3, [30, -45, 20]))[joint] == pytest.approx(expected, rel=1e-5)


def test_tip_of_the_bent_chain() -> None:
    """[1] Tip at x = 0.650718, z = 0.098369 m (seen)."""
    tip = arm(["pitch"] * 3, [30, -45, 20]).tip[0, 0]
    assert tip == pytest.approx([0.650718, 0, 0.098369], abs=1e-6)


def test_any_chain_and_posture() -> None:
    """[1] run live: 30 chains of yaw, pitch and roll joints; torques, tip and the links' inertia."""
    rng = np.random.default_rng(5)
    for _ in range(30):
        axes = [str(x) for x in rng.choice(list(AXES), 3)]
        q = rng.uniform(-170, 170, 3)
        ours = arm(axes, list(q))
        model, data = library(axes)
        expected = pin.computeGeneralizedGravity(model, data, np.radians(q))
        assert torques(ours) == pytest.approx(expected, abs=1e-9)
        pin.forwardKinematics(model, data, np.radians(q))
        assert ours.tip[0, 0] == pytest.approx(data.oMi[3].act(np.array([LENGTHS[2], 0, 0])), abs=1e-9)
        assert ours.joint_origin[0, 0, 2] == pytest.approx(data.oMi[3].translation, abs=1e-9)
        pin.centerOfMass(model, data, np.radians(q))
        centre = np.sum(ours.link_mass[0, :, None] * ours.link_centre[0, 0], axis=0) / ours.link_mass.sum()
        assert centre == pytest.approx(data.com[0], abs=1e-9)


def test_current_and_torque_units_of_servo_sheets() -> None:
    """25 kgf·cm = 2.45166 N·m (SI definition, from memory); 0.16 s for 60 deg = 6.545 rad/s (common practice)."""
    from dryfit.ground import units

    assert units.read("25 kg*cm", units.TORQUE)[0] == pytest.approx(2.45166, rel=1e-4)
    assert units.read(f"{60 / 0.16} deg/s", units.TURN_RATE)[0] == pytest.approx(6.545, rel=1e-3)
