"""The gear checks in one place: geometry of the mesh, then strength of the teeth under the motor's torque."""

from __future__ import annotations

from dryfit.trades.gears.checks_mesh import MeshResult, assess_mesh
from dryfit.trades.gears.checks_strength import CASES, StrengthResult, assess_strength

__all__ = ["CASES", "MeshResult", "StrengthResult", "assess_mesh", "assess_strength"]
