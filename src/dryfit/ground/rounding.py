"""Numbers that are told as advice, rounded to the three figures shown to the side on which the advice still holds."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Num

_FIGURES = 3
_HAIR = 1e-9
"""Rounding of a sum must not lift 292.0000000001 mm to 293 mm."""


def upwards(x: Num) -> Num:
    """The next number that three figures can show and that is no smaller."""
    v = np.asanyarray(x, dtype=float)
    size = np.abs(v)
    plain = np.isfinite(v) & (size > 0)
    step = 10.0 ** (np.floor(np.log10(np.where(plain, size, 1.0))) + 1 - _FIGURES)
    return np.where(plain, np.ceil(np.where(plain, v, 0.0) / step - _HAIR) * step, v)[()]


def downwards(x: Num) -> Num:
    """The next number that three figures can show and that is no larger."""
    return -upwards(-np.asanyarray(x, dtype=float))
