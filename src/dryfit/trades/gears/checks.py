"""The gear checks in one place: geometry of the mesh, backlash on the loaded axle, strength of the teeth."""

from __future__ import annotations

from dryfit.trades.gears.checks_backlash import assess_backlash
from dryfit.trades.gears.checks_mesh import MeshResult, assess_mesh
from dryfit.trades.gears.checks_strength import CASES, StrengthResult, assess_strength

__all__ = ["CASES", "MeshResult", "StrengthResult", "assess_backlash", "assess_mesh", "assess_strength"]
