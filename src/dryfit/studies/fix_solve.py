"""Solving a lever for a check: scan all levers once, look closer where a check turns good, and keep only real sizes.

Nothing here knows what a lever does: it is set, the machine is judged by all its checks, and the margins are read.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.quantity import Array, Value
from dryfit.studies.levers import Lever
from dryfit.studies.many import Build, Evaluate
from dryfit.studies.quantities import Asked
from dryfit.studies.snap import Shelf, Size

_GAIN = 1e-3
_WORSE = 0.01
_PEAKS = 12
_PEAK_ROUNDS, _PEAK_POINTS = 4, 9
_JUST_ROUNDS, _JUST_POINTS = 2, 13
_BRACKETS = 40


@dataclass
class Counter:
    """How many machines were looked at."""

    machines: int = 0


@dataclass(frozen=True)
class Bench:
    """A design to be changed: what is asked of it, what it answers now, and what is already changed in it (`fixed`).

    asked: the margins of all checks, then the figures.  base: their values as the design stands.
    """

    build: Build
    asked: tuple[Asked, ...]
    checks: int
    base: Array
    shelf: Shelf
    fixed: Mapping[str, Value | None] = field(default_factory=dict)
    counter: Counter = field(default_factory=Counter)

    @property
    def reserves(self) -> Array:
        """The margin asked for by each check."""
        return np.array([a.reserve for a in self.asked[: self.checks]])

    def read(self, levers: Sequence[Lever], at: Sequence[tuple[int, float]]) -> Array:
        """Everything asked (len(at), q) of machines in each of which one lever stands at another value, SI."""
        if not at:
            return np.empty((0, len(self.asked)))
        varied: dict[str, Array] = {}
        for row, (k, value) in enumerate(at):
            now = levers[k].values(levers[k].base)
            for path, there in levers[k].values(value).items():
                varied.setdefault(path, np.full(len(at), now[path]))[row] = there
        return self.read_many(varied)

    def read_many(self, varied: Mapping[str, Array]) -> Array:
        """Everything asked of machines that differ in some numbers, each (n,)."""
        self.counter.machines += len(next(iter(varied.values())))
        return Evaluate(self.build, self.asked, self.fixed)(varied).values

    def restored(self, values: Array, check: int) -> NDArray[np.bool_]:
        """Where a check has the reserve asked for; never where it is not known."""
        return np.asarray(values[..., check] >= self.asked[check].reserve)

    def worsened(self, row: Array) -> int:
        """How many checks that were short already are further from holding in this row."""
        now, before = row[: self.checks], self.base[: self.checks]
        return int(np.sum(~(before >= 0) & ~(now >= before - _WORSE) & ~np.isnan(before)))

    def broken(self, row: Array) -> NDArray[np.intp]:
        """The checks that are short in this row and were not."""
        now, before = row[: self.checks], self.base[: self.checks]
        return np.flatnonzero((before >= 0) & ~(now >= 0))


@dataclass(frozen=True)
class Candidate:
    """A lever at a size one can have, and everything asked of that machine.

    short_of: the nearest value at which the check did not hold yet; NaN where the lever has steps of its own.
    """

    lever: Lever
    size: Size
    row: Array
    short_of: float = float("nan")


@dataclass(frozen=True)
class Scan:
    """All levers at all their points: values[k] is (points of lever k, q)."""

    levers: tuple[Lever, ...]
    values: tuple[Array, ...]

    def moves(self, check: int, base: Array) -> NDArray[np.intp]:
        """The levers that move a check at all, by evaluation."""
        return np.flatnonzero([bool(np.any(np.abs(v[:, check] - base[check]) > 1e-12)) for v in self.values])


def scan(bench: Bench, levers: Sequence[Lever]) -> Scan:
    """Every number lever at every point, one machine each."""
    numeric = tuple(x for x in levers if x.points)
    at = [(k, p) for k, lever in enumerate(numeric) for p in lever.points]
    values = bench.read(numeric, at)
    ends = np.cumsum([len(x.points) for x in numeric])
    return Scan(numeric, tuple(np.split(values, ends[:-1])) if numeric else ())


@dataclass(frozen=True)
class _Bracket:
    """Somewhere between two values of a lever a check turns good; `near` is the end on the side of the base."""

    check: int
    lever: int
    low: float
    high: float
    near: float


def solve(bench: Bench, scanned: Scan, checks: Iterable[int]) -> dict[int, list[Candidate]]:
    """For each check the levers that restore it, each at the sizes nearest to where it stands now."""
    found: dict[int, list[Candidate]] = defaultdict(list)
    brackets: list[_Bracket] = []
    peaks: list[_Bracket] = []
    for c in checks:
        inside: list[tuple[float, _Bracket]] = []
        for k in scanned.moves(c, bench.base):
            done = _sides(bench, scanned, c, int(k), found[c], brackets)
            peak = None if done else _peak(bench, scanned, c, int(k))
            if peak is not None:
                inside.append(peak)
        inside.sort(key=lambda p: -p[0])
        peaks += [p for _, p in inside[:_PEAKS]]
    brackets += _climb(bench, scanned, peaks)
    for check, candidate in _real_sizes(bench, scanned, brackets):
        found[check].append(candidate)
    return found


def _sides(bench: Bench, scanned: Scan, c: int, k: int, found: list[Candidate], brackets: list[_Bracket]) -> bool:
    """What the scan of a lever shows for a check, either side of where it stands. True if it restores it."""
    lever, values = scanned.levers[k], scanned.values[k]
    points = np.array(lever.points)
    good = bench.restored(values, c)
    for side in (np.flatnonzero(points < lever.base)[::-1], np.flatnonzero(points > lever.base)):
        hits = [i for i in side if good[i]]
        clean = [i for i in hits if not len(bench.broken(values[i]))]
        for i in dict.fromkeys(hits[:1] + clean[:1]):
            if lever.listed:
                found.append(Candidate(lever, lever.listed[i], values[i]))
                continue
            place = list(side).index(i)
            near = lever.base if place == 0 else float(points[side[place - 1]])
            far = float(points[side[min(place + 1, len(side) - 1)]])
            brackets.append(_Bracket(c, k, min(near, far), max(near, far), near))
    return bool(np.any(good))


def _peak(bench: Bench, scanned: Scan, c: int, k: int) -> tuple[float, _Bracket] | None:
    """Where a check gets better and worse again on the way: its best may lie between the points looked at."""
    lever = scanned.levers[k]
    if lever.listed:
        return None
    points = np.append(np.array(lever.points), lever.base)
    margins = np.append(scanned.values[k][:, c], bench.base[c])
    order = np.argsort(points)
    points, margins = points[order], np.nan_to_num(margins[order], nan=-9.0)
    best = int(np.argmax(margins))
    gain = float(margins[best] - bench.base[c])
    if best in (0, len(points) - 1) or not gain > _GAIN:
        return None
    return gain, _Bracket(c, k, float(points[best - 1]), float(points[best + 1]), lever.base)


def _climb(bench: Bench, scanned: Scan, peaks: list[_Bracket]) -> list[_Bracket]:
    """Narrow each peak until the check holds somewhere in it; those that never do are left out."""
    found: list[_Bracket] = []
    for _ in range(_PEAK_ROUNDS):
        if not peaks:
            break
        grids = [np.linspace(p.low, p.high, _PEAK_POINTS) for p in peaks]
        values = bench.read(scanned.levers, [(p.lever, float(x)) for p, g in zip(peaks, grids, strict=True) for x in g])
        narrower: list[_Bracket] = []
        for p, grid, block in zip(peaks, grids, np.split(values, len(peaks)), strict=True):
            good = np.flatnonzero(bench.restored(block, p.check))
            if len(good):
                low, high = max(good[0] - 1, 0), min(good[-1] + 1, len(grid) - 1)
                near = grid[low] if abs(grid[low] - p.near) < abs(grid[high] - p.near) else grid[high]
                found.append(_Bracket(p.check, p.lever, float(grid[low]), float(grid[high]), float(near)))
                continue
            best = int(np.argmax(np.nan_to_num(block[:, p.check], nan=-9.0)))
            low, high = max(best - 1, 0), min(best + 1, len(grid) - 1)
            narrower.append(_Bracket(p.check, p.lever, float(grid[low]), float(grid[high]), p.near))
        peaks = narrower
    return found


def _real_sizes(bench: Bench, scanned: Scan, brackets: list[_Bracket]) -> list[tuple[int, Candidate]]:
    """For each bracket the nearest size one can have at which the check holds; coarse sizes before fine ones, finer
    ones where a coarse one would make something else short."""
    found: list[tuple[int, Candidate]] = []
    kept: dict[int, Candidate] = {}
    levels = [scanned.levers[b.lever].sizes(b.low, b.high, bench.shelf) for b in brackets]
    open_ones = list(range(len(brackets)))
    for depth in range(max((len(x) for x in levels), default=0)):
        asked = [(i, _outward(levels[i][depth], brackets[i])) for i in open_ones if depth < len(levels[i])]
        at = [(brackets[i].lever, s.si) for i, some in asked for s in some]
        values = bench.read(scanned.levers, at)
        row = 0
        for i, some in asked:
            b, block = brackets[i], values[row : row + len(some)]
            row += len(some)
            good = np.flatnonzero(bench.restored(block, b.check))
            if not len(good):
                continue
            clean = [g for g in good if not len(bench.broken(block[g]))]
            first = int((clean or list(good))[0])
            before = b.near if first == 0 else some[first - 1].si
            candidate = Candidate(scanned.levers[b.lever], some[first], block[first], before)
            if i not in kept or clean:
                kept[i] = candidate
            if clean:
                open_ones.remove(i)
    for i, candidate in kept.items():
        found.append((brackets[i].check, candidate))
    return found


def _outward(sizes: Sequence[Size], b: _Bracket) -> list[Size]:
    return sorted(sizes, key=lambda s: abs(s.si - b.near))[:_BRACKETS]


def just(bench: Bench, wanted: Sequence[tuple[int, Candidate]]) -> list[float]:
    """For each check and its candidate the value, SI, that would just do; NaN where the lever has steps of its own."""
    checks, candidates = [c for c, _ in wanted], [c for _, c in wanted]
    spans = [(c.short_of, c.size.si) for c in candidates]
    numeric = [i for i, (a, b) in enumerate(spans) if np.isfinite(a) and a != b]
    levers = [c.lever for c in candidates]
    for _ in range(_JUST_ROUNDS if numeric else 0):
        grids = [np.linspace(*spans[i], _JUST_POINTS) for i in numeric]
        values = bench.read(levers, [(i, float(x)) for i, g in zip(numeric, grids, strict=True) for x in g])
        for i, grid, block in zip(numeric, grids, np.split(values, len(numeric)), strict=True):
            bad = np.flatnonzero(~bench.restored(block, checks[i]))
            last = int(bad[-1]) if len(bad) else 0
            spans[i] = (float(grid[last]), float(grid[min(last + 1, len(grid) - 1)]))
    return [b if i in numeric else float("nan") for i, (_, b) in enumerate(spans)]
