"""Two changes at once, where no single one restores a check and leaves the rest as good as it was; and, where nothing
does, how far each strong lever gets before it meets another limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.studies.fix_found import DEAR, Found
from dryfit.studies.fix_solve import Bench, Scan, scan, solve
from dryfit.studies.levers import Lever
from dryfit.studies.records_fix import Change, Limit, Price
from dryfit.studies.snap import Size, rounded

_FIRSTS, _FEW = 6, 2
_LEVERS = 6
_GRID = 6
_SATURATED = 3


def pairs(bench: Bench, scanned: Scan, check: int, tried: Sequence[Found], briefly: bool) -> list[Found]:
    """The best pairs for a check: a change that restores it with one that mends what it breaks, else two that restore
    it only together."""
    firsts = sorted(tried, key=lambda t: (len(bench.broken(t.row)), DEAR[t.change.price], t.change.size))
    found: list[Found] = []
    wanted = [
        t
        for t in _one_a_family(firsts)
        if not briefly or (t.change.price is not Price.LESS and bench.broken(t.row).size)
    ]
    for first in wanted[: _FEW if briefly else _FIRSTS]:
        found += _mended(bench, scanned, check, first)
        if briefly and found:
            break
    if briefly:
        return found
    return found + _together(bench, scanned, check) + _one_after_the_other(bench, scanned, check)


def _one_a_family(firsts: Sequence[Found]) -> list[Found]:
    seen: dict[str, Found] = {}
    for t in firsts:
        seen.setdefault(t.family, t)
    return list(seen.values())


def _mended(bench: Bench, scanned: Scan, check: int, first: Found) -> list[Found]:
    """Second changes that mend everything the first one breaks."""
    broken = [int(i) for i in bench.broken(first.row)]
    taken = {e.path for e in first.change.edits}
    useful = {int(k) for i in broken for k in scanned.moves(i, bench.base)}
    seconds = [
        x
        for k, x in enumerate(scanned.levers)
        if k in useful and not taken & set(x.paths) and x.price is not Price.LESS
    ]
    if not seconds or len(broken) > 3:
        return []
    fixed = {**bench.fixed, **{e.path: e.new for e in first.change.edits}}
    there = replace(bench, base=first.row, fixed=fixed)
    solved = solve(there, scan(there, seconds), broken)
    found = []
    for c in (c for some in solved.values() for c in some):
        if not len(bench.broken(c.row)) and bench.restored(c.row, check):
            found.append(_both(first.change, c.lever.to(c.size), c.row))
    return found


def _both(one: Change, other: Change, row: Array) -> Found:
    dear = max((one.price, other.price), key=lambda p: DEAR[p])
    mind = "; ".join(dict.fromkeys(m for m in (one.mind, other.mind) if m))
    change = Change((*one.edits, *other.edits), f"{one.words} and {other.words}", dear, one.size + other.size, mind)
    return Found(change, row, " and ".join(sorted((one.words, other.words))), pair=True)


def _together(bench: Bench, scanned: Scan, check: int) -> list[Found]:
    """Two changes that restore a check only together: a coarse grid over the pairs of the strongest levers."""
    strong = [k for _, k in _strongest(bench, scanned, check)[:_LEVERS]]
    found = []
    for one, other in combinations(strong, 2):
        a, b = scanned.levers[one], scanned.levers[other]
        if set(a.paths) & set(b.paths):
            continue
        sizes = [_ladder(bench, scanned, k, check) for k in (one, other)]
        if not all(sizes):
            continue
        grid = [(s, t) for s in sizes[0] for t in sizes[1]]
        machines = [a.values(s.si) | b.values(t.si) for s, t in grid]
        varied = {p: np.array([m[p] for m in machines]) for p in machines[0]}
        for (s, t), row in zip(grid, bench.read_many(varied), strict=True):
            if bench.restored(row, check) and not len(bench.broken(row)):
                found.append((a, s, b, t, row))
    pairs_found = [_both(a.to(s), b.to(t), row) for a, s, b, t, row in found]
    least = sorted(found, key=lambda f: f[0].to(f[1]).size + f[2].to(f[3]).size)[:_SATURATED]
    for a, s, b, t, row in least:
        # one of the two held, the other is solved anew: the grid was coarse
        pairs_found += _from_there(bench, check, b.to(t), row, [a]) + _from_there(bench, check, a.to(s), row, [b])
    return pairs_found


def _one_after_the_other(bench: Bench, scanned: Scan, check: int) -> list[Found]:
    """A first change that takes a check as far as it can, where another of its cases governs, and a second that does
    the rest from there."""
    found: list[Found] = []
    for _, k in _strongest(bench, scanned, check)[:_SATURATED]:
        lever, rows = scanned.levers[k], scanned.values[k]
        margins = np.nan_to_num(rows[:, check], nan=-9.0)
        most = float(np.max(margins))
        level = [i for i in range(len(margins)) if margins[i] >= most - 1e-9 and not len(bench.broken(rows[i]))]
        if len(level) < 2 or lever.style is None:
            # it still helps where it ends, so that it is not another case that stops it
            continue
        others = [x for x in scanned.levers if not set(x.paths) & set(lever.paths) and x.price is not Price.LESS]
        for i in sorted(level, key=lambda i: abs(lever.points[i] - lever.base))[:_SATURATED]:
            size = lever.listed[i] if lever.listed else _size_near(lever, lever.points[i], bench)
            mended = _from_there(bench, check, lever.to(size), rows[i], others) if size is not None else []
            found += mended
            if mended:
                break
    return found


def _from_there(bench: Bench, check: int, first: Change, row: Array, others: Sequence[Lever]) -> list[Found]:
    """Changes that restore a check once a first one is made."""
    fixed = {**bench.fixed, **{e.path: e.new for e in first.edits}}
    there = replace(bench, base=row, fixed=fixed)
    solved = solve(there, scan(there, others), [check]).get(check, [])
    return [_both(first, c.lever.to(c.size), c.row) for c in solved if not len(bench.broken(c.row))]


def _size_near(lever: Lever, value: float, bench: Bench) -> Size | None:
    low, high = min(value, lever.base), max(value, lever.base)
    sizes = [s for level in lever.sizes(low, high, bench.shelf)[:1] for s in level]
    return min(sizes, key=lambda s: abs(s.si - value), default=None)


def _ladder(bench: Bench, scanned: Scan, k: int, check: int) -> list[Size]:
    """A few sizes of a lever on the way to where it helps most."""
    lever = scanned.levers[k]
    best = lever.points[int(np.argmax(np.nan_to_num(scanned.values[k][:, check], nan=-9.0)))]
    low, high = min(best, lever.base), max(best, lever.base)
    levels = (lever.listed,) if lever.listed else lever.sizes(low, high, bench.shelf)
    some = next((x for x in levels if len(x) >= 2), levels[-1] if levels else ())
    inside = [s for s in some if low <= s.si <= high and abs(s.si - lever.base) > 1e-9 * abs(lever.base)]
    at = np.linspace(0, len(inside) - 1, min(_GRID, len(inside))).round().astype(int)
    return [inside[int(i)] for i in at]


def _strongest(bench: Bench, scanned: Scan, check: int) -> list[tuple[float, int]]:
    """Levers by the margin that each reaches at best, promises of the brief last."""
    found = []
    families = set()
    for k in scanned.moves(check, bench.base):
        gain = float(np.max(np.nan_to_num(scanned.values[k][:, check], nan=-9.0)) - bench.base[check])
        if gain > 1e-3:
            found.append((gain, int(k)))
    found.sort(key=lambda g: (scanned.levers[g[1]].price is Price.LESS, -g[0]))
    once: list[tuple[float, int]] = []
    for gain, k in found:
        if scanned.levers[k].family not in families:
            families.add(scanned.levers[k].family)
            once.append((gain, k))
    return once


def limits(bench: Bench, scanned: Scan, check: int) -> tuple[Limit, ...]:
    """How far the strongest levers get towards a check before another one becomes short."""
    out = []
    for _, k in _strongest(bench, scanned, check)[:3]:
        lever, rows = scanned.levers[k], scanned.values[k]
        points = np.array(lever.points)
        best = points[int(np.argmax(np.nan_to_num(rows[:, check], nan=-9.0)))]
        way = [i for i in np.argsort(np.abs(points - lever.base)) if (points[i] - lever.base) * (best - lever.base) > 0]
        reached, blocked, margin = lever.base, "", float(bench.base[check])
        for i in way:
            broken = bench.broken(rows[i])
            if len(broken):
                blocked = bench.asked[int(broken[0])].check
                break
            reached, margin = float(points[i]), float(rows[i, check])
        assert lever.style is not None
        stays = reached == lever.base
        out.append(Limit(lever.words, "" if stays else rounded(reached, lever.style), margin, blocked))
    return tuple(out)
