"""Axes: batch axes (machines) lead, physical axes (wheel, joint, case, direction) trail."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array, Num


def column(x: Num, axes: int = 1) -> Array:
    """A batch number with `axes` trailing axes of length one, ready to meet an array over wheels or cases."""
    a = np.asanyarray(x, dtype=float)
    return a.reshape(a.shape + (1,) * axes)


def stack(values: Sequence[Num]) -> Array:
    """Numbers (...,) laid side by side along a new trailing axis: (..., n)."""
    arrays = [np.asanyarray(v, dtype=float) for v in values]
    if all(a.shape == () for a in arrays):
        return np.array([float(a) for a in arrays])
    if any(a.shape != arrays[0].shape for a in arrays):
        arrays = list(np.broadcast_arrays(*arrays))
    return np.stack(arrays, axis=-1)


def first_largest(values: Num) -> NDArray[np.intp]:
    """Index of the largest entry of the trailing axis, (...,); of entries that differ by rounding alone the first, so
    that a machine gets the same answer alone and among many. A NaN counts as the largest."""
    v = np.asanyarray(values, dtype=float)
    most = np.max(v, axis=-1, keepdims=True)
    rounding = 1e-12 * np.abs(np.where(np.isfinite(most), most, 0.0))
    return np.asanyarray(np.argmax((v >= most - rounding) | np.isnan(v), axis=-1))


def pick(values: Num, index: Num | NDArray[np.intp]) -> Array:
    """The entry of the trailing axis that `index` (...,) names, for every machine: (..., n) -> (...,)."""
    v = np.asanyarray(values, dtype=float)
    i = np.asanyarray(index, dtype=np.intp)
    v = np.broadcast_to(v, (*np.broadcast_shapes(v.shape[:-1], i.shape), v.shape[-1]))
    i = np.broadcast_to(i, v.shape[:-1])
    return np.take_along_axis(v, i[..., None], axis=-1)[..., 0][()]
