"""Many machines through the same trades: numbers varied as arrays, in blocks, machines that cannot be set aside.

A design is varied through a `Build`, which the jobs hand in: from values by path to the machine that has them. The
first blocks pass the trades as they are; where many follow, what the answers rest on is recorded once and repeated
(see `recording`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import prod
from threading import get_ident

import numpy as np

from dryfit.assess.assess import assess
from dryfit.ground.errors import DesignError
from dryfit.ground.quantity import Array, Value
from dryfit.machine.machine import Machine
from dryfit.machine.stack import alike, stacked
from dryfit.studies.quantities import Asked, columns, values
from dryfit.studies.recording import NotRecordableError, Program, Tape, program

Build = Callable[[Mapping[str, Value | None]], Machine]
"""From values by path (an array runs over machines; a text is read as if typed; None leaves a key out) to a machine.
Raises DesignError where such a machine cannot be put together, OneNumberError where a number that shapes it varies."""

Levels = Sequence[tuple[Sequence[str], Array]]
"""The numbers of a grid: the paths that take the same value, and its levels (k,), SI."""

BLOCK = 2048
"""Machines that pass the trades at once: few enough for their numbers to stay near the processor."""

BOX = 8192
"""The same for a grid of very many, where few numbers are as many as the machines."""

VERY_MANY = 300_000
"""Machines of a grid from which on the wider boxes pay."""

WORTH_RECORDING = 10 * BLOCK
"""Machines from which on it pays to record what the answers rest on."""


@dataclass(frozen=True)
class Found:
    """What was asked of n machines: values (n, len(asked)), NaN in the rows of machines that cannot be.

    impossible: why not, by row."""

    values: Array
    impossible: Mapping[int, str]


@dataclass(frozen=True)
class Evaluate:
    """Answers the same questions about any machines of one design. fixed: what differs from the design in all of them.

    Holds nothing that cannot be sent to another process, if `build` can.
    """

    build: Build
    asked: tuple[Asked, ...]
    fixed: Mapping[str, Value | None]

    def __call__(self, varied: Mapping[str, Array], of: int = 0) -> Found:
        """The quantities of n machines; varied: SI numbers by path, each (n,).

        of: how many machines will be asked about in all, where these are only some of them; it tells whether it pays to
        record what the answers rest on.
        """
        count = len(next(iter(varied.values())))
        spans = [(at, min(at + BLOCK, count)) for at in range(0, count, BLOCK)]
        across = np.linspace(0, count - 1, BLOCK).astype(int)
        trial = {path: v[across] for path, v in varied.items()} if max(count, of) >= WORTH_RECORDING else None
        return self._found(((a, {path: v[a:b] for path, v in varied.items()}) for a, b in spans), count, trial)

    def grid(self, levels: Levels, start: int, stop: int) -> Found:
        """The quantities of the machines start to stop of a grid, that has every level of each number with every level
        of the others; the last number changes fastest.

        What depends on some of the numbers only is computed once for all levels of the others.
        """
        sizes = [len(v) for _, v in levels]
        trial = _across(levels, sizes) if prod(sizes) >= WORTH_RECORDING else None
        return self._found(_boxes(levels, sizes, start, stop), stop - start, trial)

    def _found(
        self, blocks: Iterable[tuple[int, Mapping[str, Array]]], count: int, trial: Mapping[str, Array] | None
    ) -> Found:
        """Blocks with the row of their first machine among the `count` that were asked for; a block may reach over
        either end, and over the one before it. trial: where it pays to record, machines from everywhere."""
        out = np.empty((count, len(self.asked)))
        impossible: dict[int, str] = {}
        for at, block in blocks:
            machines = prod(np.broadcast_shapes(*(v.shape for v in block.values())))
            found = None if trial is None else self._repeated(block, machines, trial)
            if found is None:
                found = self._block(block, machines, at, impossible)
            first, last = max(at, 0), min(at + machines, count)
            out[first:last] = found[first - at : last - at]
        return Found(out, {row: why for row, why in impossible.items() if 0 <= row < count})

    def _repeated(self, block: Mapping[str, Array], machines: int, trial: Mapping[str, Array]) -> Array | None:
        """The quantities of a block by a recording; None where there is none, or where it does not hold."""
        if all(v.ndim == 1 for v in block.values()):
            # of a last, smaller block the last machine is repeated
            block = {path: np.concatenate((v, np.full(BLOCK - machines, v[-1]))) for path, v in block.items()}
        shapes = tuple((path, v.shape) for path, v in block.items())
        memo = _recordings(get_ident(), self.build, self.asked, tuple(self.fixed.items()), shapes)
        if len(memo) < _TRIES and not any(isinstance(m, Program) for m in memo):
            memo.append(self._recording(block, trial))
        if not isinstance(memo[-1], Program):
            return None
        found = memo[-1].run(block)
        return None if found is None else _rows(found, len(self.asked), block)[:machines]

    def _recording(self, block: Mapping[str, Array], trial: Mapping[str, Array]) -> Program | None:
        """What the answers rest on, recorded with a block of machines and tried on others."""
        tape = Tape()
        inputs = {path: tape.take_in(v) for path, v in block.items()}
        try:
            recorded = program(tape, inputs, columns(assess(self.build({**self.fixed, **inputs})), self.asked))
            again, straight = recorded.run(trial), columns(assess(self.build({**self.fixed, **trial})), self.asked)
        except (DesignError, NotRecordableError):
            return None
        same = again is not None and all(map(_same, again, straight))
        return recorded if same else None

    def _block(self, varied: Mapping[str, Array], count: int, start: int, impossible: dict[int, str]) -> Array:
        try:
            found = columns(assess(self.build({**self.fixed, **varied})), self.asked)
        except DesignError as wrong:
            if count == 1:
                impossible[start] = str(wrong.faults[0].message)
                return np.full((1, len(self.asked)), np.nan)
            shape = np.broadcast_shapes(*(v.shape for v in varied.values()))
            flat = {path: np.broadcast_to(v, shape).reshape(-1) for path, v in varied.items()}
            half = count // 2
            first = {path: v[:half] for path, v in flat.items()}
            second = {path: v[half:] for path, v in flat.items()}
            lower = self._block(first, half, start, impossible)
            upper = self._block(second, count - half, start + half, impossible)
            return np.concatenate((lower, upper))
        return _rows(found, len(self.asked), varied)


def read_all(machines: Sequence[Machine], asked: Sequence[Asked]) -> Array:
    """The quantities of machines that were put together one by one, (len(machines), len(asked)); those of one shape
    pass the trades together."""
    out = np.empty((len(machines), len(asked)))
    for rows in alike(machines):
        together = stacked([machines[i] for i in rows]) if len(rows) > 1 else machines[rows[0]]
        out[rows] = values(assess(together), asked, len(rows))
    return out


_TRIES = 3
"""Blocks that are tried before a recording is given up."""


@lru_cache(maxsize=4)
def _recordings(
    thread: int,
    build: Build,
    asked: tuple[Asked, ...],
    fixed: tuple[tuple[str, Value | None], ...],
    shapes: tuple[tuple[str, tuple[int, ...]], ...],
) -> list[Program | None]:
    """Where the tries to record for these questions are kept, as long as this process lives."""
    return []


def _same(a: Array, b: Array) -> bool:
    # sums over numbers that lie otherwise in memory may differ in the last digits
    return bool(np.allclose(a, b, rtol=1e-11, atol=1e-13, equal_nan=True))


def _rows(found: Sequence[Array], wanted: int, varied: Mapping[str, Array]) -> Array:
    """Quantities (...) of a block laid out as rows: (machines, wanted)."""
    shape = np.broadcast_shapes(*(v.shape for v in varied.values()))
    out = np.empty((*shape, wanted))
    for place, column in enumerate(found):
        out[..., place] = column
    return out.reshape(-1, wanted)


def _boxes(levels: Levels, sizes: Sequence[int], start: int, stop: int) -> Iterator[tuple[int, dict[str, Array]]]:
    """Boxes of neighbouring machines that cover start to stop, all of one shape: the row of the first machine, and the
    levels, each number along an axis of its own. The last box along an axis reaches back over the one before it."""
    box, split = _box(sizes)
    inner = prod(box[split + 1 :])
    run = sizes[split] * inner
    for outer in range(start // run, -(-stop // run)):
        places = np.unravel_index(outer, sizes[:split]) if split else ()
        for chunk in range(-(-sizes[split] // box[split])):
            first = min(chunk * box[split], sizes[split] - box[split])
            row = outer * run + first * inner - start
            if row < stop - start and row + box[split] * inner > 0:
                begins = [*(int(p) for p in places), first, *(0 for _ in box[split + 1 :])]
                yield row, _levels_in(levels, begins, box)


def _box(sizes: Sequence[int]) -> tuple[list[int], int]:
    """Levels of each number that pass together, and which of the numbers is split: all of those after it, an even part
    of it, one of each before it."""
    box = [1] * len(sizes)
    room = BOX if prod(sizes) >= VERY_MANY else BLOCK
    for axis in reversed(range(len(sizes))):
        parts = -(-sizes[axis] // room)
        box[axis] = -(-sizes[axis] // parts)
        if parts > 1:
            return box, axis
        room //= box[axis]
    return box, 0


def _across(levels: Levels, sizes: Sequence[int]) -> dict[str, Array]:
    """A box of machines from everywhere in a grid."""
    box, _ = _box(sizes)
    spread = [
        (paths, np.asarray(v, dtype=float)[np.linspace(0, n - 1, b).round().astype(int)])
        for (paths, v), n, b in zip(levels, sizes, box, strict=True)
    ]
    return _levels_in(spread, [0] * len(box), box)


def _levels_in(levels: Levels, begins: Sequence[int], box: Sequence[int]) -> dict[str, Array]:
    found: dict[str, Array] = {}
    for axis, (paths, v) in enumerate(levels):
        shape = [1] * len(box)
        shape[axis] = box[axis]
        part = np.asarray(v, dtype=float)[begins[axis] : begins[axis] + box[axis]].reshape(shape)
        found.update(dict.fromkeys(paths, part))
    return found
