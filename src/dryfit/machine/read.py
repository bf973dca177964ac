"""Terms of what stands in the design file, for the workings of the trades."""

from __future__ import annotations

from collections.abc import Mapping

from dryfit.ground.findings import Term
from dryfit.ground.quantity import Kind, Num, Origin


def read(
    origins: Mapping[str, Origin], symbol: str, name: str, value: Num, unit: str, path: str, per_case: bool = False
) -> Term:
    """A term read from the design file at a key; of wheels listed one by one the first entry stands for all."""
    section, _, key = path.rpartition(".")
    for known in (path, f"{section}.each[0].{key}"):
        if known in origins:
            return Term(symbol, name, value, unit, origins[known], per_case)
    return Term(symbol, name, value, unit, Origin(Kind.RULE, path=path, note="follows from other entries"), per_case)


def stance(origins: Mapping[str, Origin], far: Num, symbol: str = "R") -> Term:
    """Distance `far`, m, of the farthest wheel from the middle of the base, with the line that sets it."""
    keys = ("circle_radius", "track", "wheelbase", "each[0].at[0]")
    path = next((f"base.wheels.{k}" for k in keys if f"base.wheels.{k}" in origins), "base.wheels")
    return read(origins, symbol, "farthest wheel from the middle", far, "m", path)
