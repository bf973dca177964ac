"""One step: a function that is taken as a whole where operations on arrays are recorded (see `studies/recording.py`).

For solvers whose number of rounds, or whose order of work, depends on the values.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import wraps
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
R = TypeVar("R")


def one_step(function: Callable[P, R]) -> Callable[P, R]:
    """Let a recording take every call of a function as one step. Its arguments are arrays, or tuples of arrays and
    whatever else stays the same from machine to machine; it returns an array or a tuple of arrays."""

    @wraps(function)
    def call(*args: P.args, **kwargs: P.kwargs) -> R:
        for leaf in _leaves(args):
            if hasattr(leaf, "record_step"):
                return leaf.record_step(function, args)  # type: ignore[no-any-return]
        return function(*args, **kwargs)

    return call


def _leaves(value: object) -> Iterator[Any]:
    if isinstance(value, tuple | list):
        for one in value:
            yield from _leaves(one)
    else:
        yield value
