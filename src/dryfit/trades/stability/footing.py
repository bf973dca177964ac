"""What all stability checks stand on: the support polygon and the centre of mass over it, by posture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Array, Num
from dryfit.ground.rounding import upwards


@dataclass(frozen=True)
class Footing:
    """Support and centre of mass in P postures over E edges.

    normal (..., E, 2), distance (..., P, E): edges of the support polygon and how far the centre of mass lies inside.
    growing (..., E): by how much an edge moves outwards when all wheels stand twice as far from the middle, m.
    edge, height (..., P): least of those distances, and height of the centre.  top (...,): highest point.
    circle (...,): farthest wheel from the middle.  edge_inertia (..., P, E): about the direction of each edge.
    roams: drives in any direction.  ways: directions in which it can brake, (D, 2) or (..., D, 2).
    on_a_circle: the wheels are placed by the radius of their circle.
    """

    postures: tuple[str, ...]
    normal: Array
    distance: Array
    growing: Array
    edge: Term
    height: Term
    top: Term
    circle: Term
    mass: Term
    centre: Term
    edge_inertia: Array
    roams: bool
    ways: Array
    on_a_circle: bool

    def wider(self, wanted: Num, share: Num = 1.0) -> Term:
        """Advice on where the wheels must stand for the centre of mass to lie `wanted` (..., P), m, inside every edge.

        share (..., E) or 1: part of `wanted` that is asked of each edge. Every edge moves outwards in proportion to the
        distance of the wheels; the gap between rows of rollers, casters' trails and the centre of mass stay.
        """
        need = np.asanyarray(wanted, dtype=float)[..., None] * share - self.distance
        grows = self.growing > 0
        here = np.isfinite(self.distance)
        more = np.where(grows[..., None, :], need / np.where(grows, self.growing, 1.0)[..., None, :], np.inf)
        more = np.max(np.where(here, more, np.where(np.isnan(self.distance), np.nan, -np.inf)), axis=-1)
        if self.on_a_circle:
            return calculated(
                "R_just", "wheel circle that keeps the reserve", upwards(column(self.circle.value) * (1 + more)), "m",
                "R + (b_needed - b) / (edge's distance per wheel circle)", (self.circle, self.edge), per_case=True,
            )  # fmt: skip
        return calculated(
            "out", "how much further out the wheels must stand", upwards(more), "%",
            "(b_needed - b) / (edge's distance from the middle)", (self.circle, self.edge), per_case=True,
        )  # fmt: skip

    @property
    def widen(self) -> str:
        """The words of the advice that `wider` gives the number for."""
        return "widen the wheel circle to {R_just}" if self.on_a_circle else "set all wheels {out} further out"

    @property
    def share_of_edge(self) -> Num:
        """Part of a way to the edge that counts across each edge, in the worst way of braking, (..., E)."""
        if self.roams:
            return 1.0
        share: Array = np.maximum(np.max(self.ways @ np.swapaxes(self.normal, -1, -2), axis=-2), 0.0)
        return share[..., None, :]
