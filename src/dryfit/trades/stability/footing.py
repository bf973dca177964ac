"""What all stability checks stand on: the support polygon and the centre of mass over it, by posture."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Array, Kind, Num, Origin


@dataclass(frozen=True)
class Footing:
    """Support and centre of mass in P postures over E edges.

    normal (..., E, 2), distance (..., P, E): edges of the support polygon and how far the centre of mass lies inside.
    edge, height (..., P): least of those distances, and height of the centre.  top (...,): highest point.
    circle (...,): farthest wheel from the middle.  edge_inertia (..., P, E): about the direction of each edge.
    in_the_middle (..., P, D): tipping acceleration by way of travel with two-row wheels touching between their rows.
    roams: drives in any direction.  ways: directions in which it can brake, (D, 2) or (..., D, 2).
    """

    postures: tuple[str, ...]
    normal: Array
    distance: Array
    edge: Term
    height: Term
    top: Term
    circle: Term
    mass: Term
    centre: Term
    load: Term
    edge_inertia: Array
    in_the_middle: Array
    roams: bool
    ways: Array

    def circle_for(self, wanted: Num, found: Num) -> Term:
        """Wheel circle that would just do where an edge distance of `wanted` is asked for and `found` is there."""
        w, b = np.asarray(wanted, dtype=float), np.asarray(found, dtype=float)
        scale = np.where(b > 0, w, np.inf) / np.where(b > 0, b, 1.0)
        value = column(self.circle.value) * scale
        return calculated(
            "R_just",
            "wheel circle that would just do",
            value,
            "m",
            "R_just = R b_needed / b",
            (self.circle,),
            per_case=True,
        )


def read(
    origins: Mapping[str, Origin], symbol: str, name: str, value: Num, unit: str, path: str, per_case: bool = False
) -> Term:
    """A term read from the design file at a key."""
    origin = origins.get(path) or Origin(Kind.RULE, path=path, note=path)
    return Term(symbol, name, value, unit, origin, per_case)
