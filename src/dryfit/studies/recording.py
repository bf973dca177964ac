"""Recording what one assessment computes, to repeat just that for other machines.

An assessment of many machines is a few thousand operations on arrays, whatever is asked of it. Where only a few
quantities are asked of very many machines, it pays to note the operations once, keep those that the answers rest on,
and repeat them block by block. Three things keep that honest:

- a value that decides which way the code goes (`if np.any(...)`) is noted with what it was, looked at again in every
  block, and a block that would have gone another way is refused;
- what cannot be followed raises `NotRecordableError`, and the caller assesses every machine the usual way;
- a recording is tried on other machines against the assessment itself before it is used (`recorded`).

Arrays take part through numpy's own protocols for array-likes (NEP 13 and NEP 18).
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from dryfit.ground.quantity import Array

_LOOKS = {np.shape, np.ndim, np.size, np.result_type, np.can_cast, np.iscomplexobj, np.shares_memory}
"""Functions that look at the kind of an array, not at its values."""


class NotRecordableError(Exception):
    """The computation does something that cannot be followed; it has to be done as it stands."""


@dataclass(frozen=True)
class _Slot:
    """Stands for the result of an earlier step among the arguments of a later one."""

    number: int


@dataclass(frozen=True)
class _Step:
    function: Callable[..., Any]
    arguments: tuple[Any, ...]
    keywords: Mapping[str, Any]
    results: tuple[int, ...]
    several: bool
    like: tuple[tuple[int, ...], np.dtype[Any]] | None
    """Shape and kind of the result where it can be written into an array that is there already."""


@dataclass
class Tape:
    """Steps in the order in which they were done, and the decisions that were taken on their results.

    known: where the results of a step stand, by what it does to what. The results themselves live only as long as the
    computation needs them, so that a recording takes no more memory than the assessment does.
    """

    steps: list[_Step] = field(default_factory=list)
    decisions: list[tuple[int, Any]] = field(default_factory=list)
    slots: int = 0
    known: dict[Any, _Step] = field(default_factory=dict)

    def take_in(self, values: Array) -> Recorded:
        """An array that varies from machine to machine, as the first of what will be recorded."""
        self.slots += 1
        return self._wrapped(values, self.slots - 1)

    def call(self, function: Callable[..., Any], args: Sequence[Any], kwargs: Mapping[str, Any]) -> Any:
        """Do one step and note it; a step that was done before with the same arguments is not noted again."""
        arguments, keywords = _template(tuple(args)), {k: _template(v) for k, v in kwargs.items()}
        key = (function, _key(arguments), _key(tuple(sorted(keywords.items()))))
        found = function(*_plain(tuple(args)), **{k: _plain(v) for k, v in kwargs.items()})
        several = isinstance(found, tuple | list)
        each = found if several else (found,)
        if key not in self.known:
            # the step holds the arguments that do not vary, so that nothing else can come to stand at their place
            slots = tuple(range(self.slots, self.slots + len(each)))
            self.slots += len(each)
            whole = isinstance(function, np.ufunc) and function.nout == 1 and not kwargs and np.ndim(found) > 0
            like = (found.shape, found.dtype) if whole else None
            self.known[key] = _Step(function, arguments, keywords, slots, several, like)
            self.steps.append(self.known[key])
        results = tuple(self._wrapped(one, slot) for one, slot in zip(each, self.known[key].results, strict=True))
        if not several:
            return results[0]
        return type(found)(results) if type(found) in (tuple, list) else results

    def decide(self, on: Recorded, value: Any) -> Any:
        """Note that the code goes on with the plain value of a result."""
        self.decisions.append((_slot_of(on), value))
        return value

    def _wrapped(self, value: Any, slot: int) -> Recorded:
        if not isinstance(value, np.ndarray | np.generic):
            raise NotRecordableError(f"a step gave {type(value).__name__}")
        array = np.asarray(value).view(Recorded)
        array.tape, array.slot = self, slot
        return array


class Recorded(np.ndarray):
    """An array whose operations are noted on a tape. It holds the values of the machines it is recorded with."""

    tape: Tape
    slot: int

    def __array_finalize__(self, made_from: Any) -> None:
        self.slot = -1
        if isinstance(made_from, Recorded):
            self.tape = made_from.tape

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, **kwargs: Any) -> Any:
        function = ufunc if method == "__call__" else getattr(ufunc, method)
        tape = _tape_of((inputs, kwargs))
        targets = kwargs.pop("out", None)
        if targets is None:
            return tape.call(function, inputs, kwargs)
        (target,) = targets
        if not isinstance(target, Recorded):
            raise NotRecordableError(f"{ufunc.__name__} writes into a plain array")
        if "where" in kwargs:
            return target._becomes(tape.call(_written, (function, target, *inputs), kwargs))
        return target._becomes(tape.call(function, inputs, kwargs))

    def __array_function__(self, func: Any, types: Any, args: Any, kwargs: Any) -> Any:
        if func in _LOOKS:
            return func(*_plain(args), **_plain(kwargs))
        return _tape_of((args, kwargs)).call(func, args, kwargs)

    def record_step(self, function: Callable[..., Any], args: tuple[Any, ...]) -> Any:
        """Take a call of a function as one step; see `ground.steps`."""
        return self.tape.call(function, args, {})

    def __getitem__(self, key: Any) -> Any:
        return self.tape.call(operator.getitem, (self, key), {})

    def __setitem__(self, key: Any, value: Any) -> None:
        self._becomes(self.tape.call(_with_item, (self, key, value), {}))

    def __iter__(self) -> Iterator[Any]:
        return (self[i] for i in range(len(self)))

    def __bool__(self) -> bool:
        return bool(self.tape.decide(self, bool(self.view(np.ndarray))))

    def __float__(self) -> float:
        return float(self.tape.decide(self, float(self.view(np.ndarray))))

    def __int__(self) -> int:
        return int(self.tape.decide(self, int(self.view(np.ndarray))))

    __index__ = __int__

    def _becomes(self, other: Recorded) -> Recorded:
        """Changed in place: from here on this array is the result of another step."""
        plain = other.view(np.ndarray)
        self.view(np.ndarray)[...] = plain
        self.slot = other.slot
        return self

    # numpy's methods do not pass by the protocols; the functions of the same name do

    def reshape(self, *shape: Any, **_: Any) -> Any:
        """As numpy's."""
        return np.reshape(self, shape[0] if len(shape) == 1 else shape)

    def astype(self, dtype: Any, *_: Any, **__: Any) -> Any:
        """As numpy's."""
        return self.tape.call(_as_type, (self, dtype), {})

    def copy(self, *_: Any) -> Any:
        """As numpy's."""
        return np.copy(self)

    def all(self, *args: Any, **kwargs: Any) -> Any:
        """As numpy's."""
        return np.all(self, *args, **kwargs)

    def any(self, *args: Any, **kwargs: Any) -> Any:
        """As numpy's."""
        return np.any(self, *args, **kwargs)

    @property
    def T(self) -> Any:  # noqa: N802 (numpy's name)
        """As numpy's."""
        return np.transpose(self)


def _written(function: Callable[..., Any], target: Array, *inputs: Any, **kwargs: Any) -> Any:
    return function(*inputs, out=target.copy(), **kwargs)


def _with_item(target: Array, key: Any, value: Any) -> Array:
    changed = target.copy()
    changed[key] = value
    return changed


def _as_type(values: Array, dtype: Any) -> Any:
    return values.astype(dtype)


def _slot_of(array: Recorded) -> int:
    if array.slot < 0:
        raise NotRecordableError("an array was made from a recorded one in a way that was not seen")
    return array.slot


def _tape_of(value: Any) -> Tape:
    found = _find_tape(value)
    if found is None:
        raise NotRecordableError("no recorded array among the arguments")
    return found


def _find_tape(value: Any) -> Tape | None:
    if isinstance(value, Recorded):
        return value.tape
    if isinstance(value, tuple | list):
        return next((t for t in map(_find_tape, value) if t is not None), None)
    return _find_tape(list(value.values())) if isinstance(value, dict) else None


def _template(value: Any) -> Any:
    if isinstance(value, Recorded):
        return _Slot(_slot_of(value))
    if isinstance(value, tuple | list):
        return type(value)(_template(v) for v in value)
    return {k: _template(v) for k, v in value.items()} if isinstance(value, dict) else value


def _plain(value: Any) -> Any:
    if isinstance(value, Recorded):
        _slot_of(value)
        return value.view(np.ndarray)
    if isinstance(value, tuple | list):
        return type(value)(_plain(v) for v in value)
    return {k: _plain(v) for k, v in value.items()} if isinstance(value, dict) else value


def _key(value: Any) -> Any:
    if isinstance(value, _Slot | int | float | str | bool | np.generic) or value is None:
        return (type(value).__name__, value)
    if isinstance(value, tuple | list):
        return tuple(_key(v) for v in value)
    if isinstance(value, slice):
        return ("slice", _key((value.start, value.stop, value.step)))
    return ("at", id(value))


@dataclass(frozen=True)
class _Line:
    """A step made ready. take: its arguments out of the list of all values, constants included; None where some of them
    are inside lists.  done_with: values that are of no more use after it."""

    function: Callable[..., Any]
    take: Callable[[list[Any]], tuple[Any, ...]] | None
    arguments: tuple[Any, ...]
    keywords: Mapping[str, Any]
    result: int
    several: tuple[int, ...]
    done_with: tuple[int, ...]


@dataclass(frozen=True)
class Program:
    """The steps that some answers rest on. Machines pass in blocks of `size`, just as many as it was recorded with.

    start: all values as a run finds them, the constants in their places.
    Most steps write into arrays that the program owns and uses again and again, so that they stay near the processor.
    So the answers hold until the next run only, and no two threads may run the same program.
    """

    size: int
    inputs: Mapping[str, int]
    lines: tuple[_Line, ...]
    answers: tuple[Any, ...]
    decisions: tuple[tuple[int, Any], ...]
    start: tuple[Any, ...]

    def run(self, varied: Mapping[str, Array]) -> list[Array] | None:
        """The answers for a block of machines, each (size,) or the same for all; None where a decision would fall
        otherwise than it did when this was recorded."""
        values = list(self.start)
        for path, slot in self.inputs.items():
            values[slot] = varied[path]
        with np.errstate(all="ignore"):
            for line in self.lines:
                if line.take is not None:
                    found = line.function(*line.take(values), **line.keywords)
                else:
                    found = line.function(*_filled(line.arguments, values), **_filled(line.keywords, values))
                if line.several:
                    for slot, one in zip(line.several, found, strict=True):
                        values[slot] = one
                else:
                    values[line.result] = found
                for slot in line.done_with:
                    values[slot] = None
            if not all(np.array_equal(values[slot], value, equal_nan=True) for slot, value in self.decisions):
                return None
        return [_filled(answer, values) for answer in self.answers]


def _filled(template: Any, values: Sequence[Any]) -> Any:
    if isinstance(template, _Slot):
        return values[template.number]
    if isinstance(template, tuple | list):
        return type(template)(_filled(t, values) for t in template)
    return {k: _filled(v, values) for k, v in template.items()} if isinstance(template, dict) else template


def program(tape: Tape, inputs: Mapping[str, Recorded], answers: Sequence[Any]) -> Program:
    """What must be repeated for the answers, and for the decisions on the way; all else is left out."""
    size = len(next(iter(inputs.values())))
    ends = tuple(_template(a) for a in answers)
    decided = dict.fromkeys(slot for slot, _ in tape.decisions)
    kept = {*_slots(ends), *decided, *(i.slot for i in inputs.values())}
    wanted = set(kept)
    needed: list[_Step] = []
    for step in reversed(tape.steps):
        if wanted.intersection(step.results):
            needed.append(step)
            wanted.update(_slots((step.arguments, step.keywords)))
    needed.reverse()
    last: dict[int, int] = {}
    for place, step in enumerate(needed):
        last.update(dict.fromkeys((*_slots((step.arguments, step.keywords)), *step.results), place))
    last.update(dict.fromkeys(kept, len(needed)))
    ends_at: dict[int, list[int]] = {}
    for slot, place in last.items():
        ends_at.setdefault(place, []).append(slot)
    into = _places_to_write(needed, last)
    start: list[Any] = [None] * tape.slots
    lines = tuple(_line(step, tuple(ends_at.get(n, ())), into[n], start) for n, step in enumerate(needed))
    first = {path: i.slot for path, i in inputs.items()}
    return Program(size, first, lines, ends, tuple(dict(tape.decisions).items()), tuple(start))


_FRESH = {
    np.where, np.stack, np.concatenate, np.sum, np.min, np.max, np.all, np.any, np.mean, np.argmax, np.argmin,
    np.take_along_axis, np.cumsum, np.interp, np.clip, np.isposinf, np.isneginf, np.searchsorted, np.zeros_like,
    np.ones_like, np.full_like, np.copy, np.sort, np.argsort, np.repeat, np.prod, np.nan_to_num, _as_type, _with_item,
    _written,
}  # fmt: skip
"""Functions whose result is an array of its own. Any other may give a view of its arguments."""


def _places_to_write(steps: Sequence[_Step], last: Mapping[int, int]) -> list[Any]:
    """For each step the array that its result is written into; one is used again once nothing looks into it."""
    looks: dict[int, frozenset[int]] = {}
    needed_until: dict[int, int] = {}
    for place, step in enumerate(steps):
        own = step.like is not None or step.function in _FRESH
        seen = frozenset() if own else frozenset[int]().union(*(looks.get(s, {}) for s in _slots(step.arguments)))
        for slot in step.results:
            looks[slot] = frozenset((slot,)) if step.like is not None else seen
            for root in looks[slot]:
                needed_until[root] = max(needed_until.get(root, place), last[slot])
    free: dict[Any, list[Any]] = {}
    given_back: dict[int, list[tuple[Any, Any]]] = {}
    into: list[Any] = []
    for place, step in enumerate(steps):
        array = None
        if step.like is not None:
            array = free[step.like].pop() if free.get(step.like) else _laid_out(*step.like)
            given_back.setdefault(needed_until[step.results[0]], []).append((step.like, array))
        into.append(array)
        for like, array in given_back.pop(place, ()):
            free.setdefault(like, []).append(array)
    return into


_SHORT = 16
"""Axes that are shorter than this (wheels, postures, cases of a few) make poor innermost loops."""


def _laid_out(shape: tuple[int, ...], kind: np.dtype[Any]) -> Array:
    """An array whose long axes, machines before all, lie innermost in memory, whatever their order in the shape."""
    order = sorted(range(len(shape)), key=lambda axis: shape[axis] >= _SHORT)
    return np.empty([shape[axis] for axis in order], kind).transpose(np.argsort(order))


def _line(step: _Step, done_with: tuple[int, ...], into: Any, start: list[Any]) -> _Line:
    take = None
    if all(isinstance(a, _Slot) or not _slots(a) for a in step.arguments) and not _slots(step.keywords):
        places = []
        for a in step.arguments:
            places.append(a.number if isinstance(a, _Slot) else len(start))
            if not isinstance(a, _Slot):
                start.append(a)
        take = operator.itemgetter(*places) if len(places) > 1 else _only(places[0])
    keywords = step.keywords if into is None else {"out": into}
    several = step.results if step.several else ()
    return _Line(
        step.function, take, step.arguments, keywords, step.results[0] if not several else -1, several, done_with
    )


def _only(place: int) -> Callable[[list[Any]], tuple[Any]]:
    return lambda values: (values[place],)


def _slots(template: Any) -> list[int]:
    if isinstance(template, _Slot):
        return [template.number]
    if isinstance(template, tuple | list):
        return [s for t in template for s in _slots(t)]
    return _slots(list(template.values())) if isinstance(template, dict) else []
