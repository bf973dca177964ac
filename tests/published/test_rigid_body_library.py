"""Masses, centres and inertias against a rigid-body library, run live.

Source: pinocchio (package `pin`), spatial inertias: composition by `+` after `SE3.act`. Status: library, run live.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pinocchio as pin
import pytest

from dryfit.design.sections.body import Body
from dryfit.machine.body import resolve_body
from dryfit.machine.ledger import Ledger
from dryfit.trades.weight.formulas import about_centre, moments_about_origin

RNG = np.random.default_rng(3)


def random_inertias(count: int) -> list[pin.Inertia]:
    pin.seed(5)
    return [pin.Inertia.Random() for _ in range(count)]


def test_composite_inertia_of_many_bodies_equals_the_sum_of_spatial_inertias() -> None:
    bodies = random_inertias(12)
    total = bodies[0]
    for b in bodies[1:]:
        total = total + b
    sums = moments_about_origin(
        np.array([b.mass for b in bodies]), np.array([b.lever for b in bodies]), np.array([b.inertia for b in bodies])
    )
    centre, inertia = about_centre(*sums)
    assert sums[0] == pytest.approx(total.mass, rel=1e-12)
    np.testing.assert_allclose(centre, total.lever, rtol=1e-11, atol=1e-12)
    np.testing.assert_allclose(inertia, total.inertia, rtol=1e-10, atol=1e-11)


def test_parts_on_turned_parents_equal_the_library_s_frames() -> None:
    record = Body.model_validate(
        {
            "parts": [
                {"name": "mast", "shape": "cylinder", "diameter": "60 mm", "length": "800 mm", "mass": "2 kg",
                 "at": ["10 mm", "-20 mm", "600 mm"], "turned": ["10 deg", "-15 deg", "40 deg"]},
                {"name": "box", "shape": "box", "size": ["100 mm", "200 mm", "300 mm"], "mass": "3 kg",
                 "parent": "mast", "at": ["120 mm", "30 mm", "200 mm"], "turned": ["-70 deg", "20 deg", "5 deg"]},
            ]
        }
    )  # fmt: skip
    parts = resolve_body(record, Ledger(), Path())

    def frame(degrees: tuple[float, float, float], at: tuple[float, float, float]) -> pin.SE3:
        return pin.SE3(pin.rpy.rpyToMatrix(*np.radians(degrees)), np.array(at))

    mast = frame((10, -15, 40), (0.01, -0.02, 0.6))
    box = mast * frame((-70, 20, 5), (0.12, 0.03, 0.2))
    expected = [
        mast.act(pin.Inertia.FromCylinder(2.0, 0.03, 0.8)),
        box.act(pin.Inertia.FromBox(3.0, 0.1, 0.2, 0.3)),
    ]
    for i, e in enumerate(expected):
        np.testing.assert_allclose(parts.centre[i], e.lever, atol=1e-12)
        np.testing.assert_allclose(parts.inertia[i], e.inertia, atol=1e-12)


def test_solid_shapes_equal_the_library_s() -> None:
    record = Body.model_validate(
        {
            "parts": [
                {"name": "ball", "shape": "sphere", "diameter": "200 mm", "mass": "2 kg"},
                {"name": "bar", "shape": "rod", "diameter": "20 mm", "length": "300 mm", "mass": "1 kg"},
                {"name": "slab", "shape": "plate", "size": ["300 mm", "200 mm", "4 mm"], "mass": "0.5 kg"},
            ]
        }
    )
    parts = resolve_body(record, Ledger(), Path())
    expected = [
        pin.Inertia.FromSphere(2.0, 0.1),
        pin.Inertia.FromCylinder(1.0, 0.01, 0.3),
        pin.Inertia.FromBox(0.5, 0.3, 0.2, 0.004),
    ]
    for i, e in enumerate(expected):
        np.testing.assert_allclose(parts.inertia[i], e.inertia, rtol=1e-12, atol=1e-16)
