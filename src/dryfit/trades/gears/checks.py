"""The gear checks in one place: geometry of the mesh, strength of the teeth, and the shim table."""

from __future__ import annotations

from dryfit.trades.gears.checks_mesh import MeshResult, assess_mesh
from dryfit.trades.gears.checks_shims import shim_rows
from dryfit.trades.gears.checks_strength import CASES, StrengthResult, assess_strength

__all__ = ["CASES", "MeshResult", "StrengthResult", "assess_mesh", "assess_strength", "shim_rows"]
