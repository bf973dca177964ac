"""Machines laid side by side: many that were put together one by one become one whose numbers carry a batch axis.

That is how machines with other catalogue rows, other words or other counts still pass the trades together, as long as
they have the same shape.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from dryfit.machine.machine import Machine

_LABELS = ("name", "origins", "values", "spreads", "choices", "reserves", "assumed")
"""What says where the numbers came from, not what they are: taken from the first machine."""

_WORDS = ("material", "screw")
"""Names of catalogue rows that the trades never read, since the numbers behind them stand beside them."""

_CURVES = ("charge_at", "open_cell")
"""Tables that values are looked up in, one for all machines: those with another curve are not alike."""


_THERE_OR_NOT = ("pull_down",)
"""Numbers that are infinite where there is no such part: machines with and without it are not alike."""


def alike(machines: Sequence[Machine]) -> list[list[int]]:
    """Places of the machines in groups of the same shape: same words, same counts, numbers of the same axes."""
    groups: dict[Hashable, list[int]] = {}
    for place, machine in enumerate(machines):
        groups.setdefault(_shape(_numbers_of(machine)), []).append(place)
    return list(groups.values())


def stacked(machines: Sequence[Machine]) -> Machine:
    """One machine whose numbers carry the given ones along a new leading axis. Its origins are those of the first.

    Raises ValueError where the machines are not alike.
    """
    first = machines[0]
    if len({_shape(_numbers_of(m)) for m in machines}) > 1:
        raise ValueError("machines of different shape cannot be laid side by side")
    numbers: dict[str, Any] = {
        name: _side_by_side([_numbers_of(m)[name] for m in machines]) for name in _numbers_of(first)
    }
    return replace(first, **numbers)


def _numbers_of(machine: Machine) -> dict[str, Any]:
    return {f.name: getattr(machine, f.name) for f in fields(machine) if f.name not in _LABELS}


def _shape(node: Any) -> Hashable:
    if is_dataclass(node):
        return (type(node), *(_field_shape(f.name, getattr(node, f.name)) for f in fields(node)))
    if isinstance(node, dict):
        return ("dict", *((key, _shape(value)) for key, value in node.items()))
    if isinstance(node, list | tuple):
        return ("list", *(_shape(value) for value in node))
    if isinstance(node, np.ndarray) and node.dtype.kind == "f":
        return ("array", node.shape)
    if isinstance(node, np.ndarray):
        return ("words", node.shape, node.tobytes())
    return "number" if isinstance(node, float) else node


def _field_shape(name: str, value: Any) -> Hashable:
    if name in _WORDS:
        return name
    if name in _THERE_OR_NOT:
        return bytes(np.isposinf(value).tobytes())
    return np.asanyarray(value).tobytes() if name in _CURVES else _shape(value)


def _side_by_side(nodes: Sequence[Any]) -> Any:
    first = nodes[0]
    if is_dataclass(first) and not isinstance(first, type):
        each = {f.name: _side_by_side([getattr(n, f.name) for n in nodes]) for f in fields(first)}
        return replace(first, **each)
    if isinstance(first, dict):
        return {key: _side_by_side([n[key] for n in nodes]) for key in first}
    if isinstance(first, list | tuple):
        return type(first)(_side_by_side(list(column)) for column in zip(*nodes, strict=True))
    if isinstance(first, float) or (isinstance(first, np.ndarray) and first.dtype.kind == "f"):
        values = np.stack([np.asanyarray(n, dtype=float) for n in nodes])
        return first if np.array_equal(values, np.broadcast_to(first, values.shape), equal_nan=True) else values
    return first
