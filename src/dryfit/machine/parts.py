"""Parts that move with the base: every one with its mass, centre, inertia and extent in the machine's frame."""

from __future__ import annotations

from dataclasses import dataclass

from dryfit.ground.quantity import Array


@dataclass(frozen=True)
class Parts:
    """N parts (repetitions written out), arms not included.

    mass: (..., N), kg.  centre: centre of mass (..., N, 3), m.
    inertia: about the own centre, machine axes (..., N, 3, 3), kg·m².
    low, high: corners of the bounding box (..., N, 3), m.
    section: the separable section each part is carried in.  made: "printed", "cut" or "bought".
    """

    names: tuple[str, ...]
    mass: Array
    centre: Array
    inertia: Array
    low: Array
    high: Array
    section: tuple[str, ...]
    made: tuple[str, ...]
    material: tuple[str, ...]
