"""Into how few pieces a part that fits no bed has to be split."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

import numpy as np

from dryfit.making.bodies import rough_pieces
from dryfit.making.records_solids import Solid

MOST_SECTORS, MOST_CUTS, MOST_TRIES = 12, 8, 120


def fitting_split(solid: Solid, round_about_z: bool, fits: Callable[[Solid], bool], room: float) -> str | None:
    """What to write under `print`, such as "sectors: 6" or "cuts: [2, 1, 1]": the split into fewest pieces of which
    every one fits, tried out in full; None where none does. room: longest side of the largest bed, m.

    What is round is split into sectors before it is cut, since equal panels are printed and fitted alike.
    """
    size = np.ptp(solid.points, axis=0)
    least = np.maximum(1, np.ceil(size / (np.sqrt(2) * room))).astype(int)
    ways: list[tuple[int, tuple[int, ...]]] = [
        (1, c) for c in product(*(range(int(n), MOST_CUTS + 1) for n in least)) if np.prod(c) <= 64 and np.prod(c) > 1
    ]
    if round_about_z:
        ways = [(n, (1, 1, c)) for n in range(1, MOST_SECTORS + 1) for c in range(1, MOST_CUTS + 1) if n * c > 1]
    ways.sort(key=lambda way: (way[0] * np.prod(way[1]), np.prod(way[1]), max(way[1]), way[1]))
    for sectors, (x, y, z) in ways[:MOST_TRIES]:
        if all(fits(piece) for piece in rough_pieces(solid, (x, y, z), sectors)):
            return _written(sectors, (x, y, z))
    return None


def _written(sectors: int, cuts: tuple[int, ...]) -> str:
    words = [f"sectors: {sectors}"] if sectors > 1 else []
    if max(cuts) > 1:
        words.append(f"cuts: [{', '.join(str(c) for c in cuts)}]")
    return ", ".join(words)
