"""The best of many machines: by one quantity, or those that no other machine beats in both of two."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array

Rows = NDArray[np.intp]
"""Places of machines in the arrays that were given, (n,)."""


def least(keys: Array, numbers: NDArray[np.int64], count: int) -> Rows:
    """Places of the `count` smallest keys, smallest first; equal ones by the number of the machine. NaN is never
    among them."""
    known = np.flatnonzero(~np.isnan(keys))
    if len(known) > count > 0:
        # with many equal keys at the edge all of them stay for the sorting, so that the lowest numbers win
        edge = np.partition(keys[known], count - 1)[count - 1]
        known = known[keys[known] <= edge]
    order = np.lexsort((numbers[known], keys[known]))
    return known[order[:count]]


def unbeaten(first: Array, second: Array, numbers: NDArray[np.int64]) -> Rows:
    """Places of the machines that no other one equals or beats in both keys (smaller is better), by the first key.

    Of machines alike in both, the one of the lowest number stays. NaN is never among them.
    """
    known = np.flatnonzero(~(np.isnan(first) | np.isnan(second)))
    order = known[np.lexsort((numbers[known], second[known], first[known]))]
    if not len(order):
        return order
    before = np.minimum.accumulate(second[order])
    better = np.ones(len(order), dtype=bool)
    better[1:] = second[order][1:] < before[:-1]
    return order[better]


def spread_out(count: int, wanted: int) -> Rows:
    """Places of at most `wanted` out of `count` in their order, evenly spread, both ends among them."""
    if count <= wanted:
        return np.arange(count)
    return np.unique(np.linspace(0, count - 1, max(wanted, 1)).round().astype(np.intp))
