"""The single changes that restore a check, judged by all checks of the machine; pairs, where no single one does."""

from __future__ import annotations

from collections import Counter as Tally
from collections.abc import Mapping, Sequence

import numpy as np

from dryfit.assess.report import Report, is_met, ranked
from dryfit.ground.errors import DesignError
from dryfit.ground.findings import Finding, State, Workings, cited, in_case, state
from dryfit.ground.quantity import Array, Kind, Origin
from dryfit.machine.machine import Machine
from dryfit.studies.fix_found import Found, from_candidate, is_clean, rank, restored, state_of
from dryfit.studies.fix_solve import Bench, Counter, Scan, just, scan, solve
from dryfit.studies.levers import Lever, Surroundings
from dryfit.studies.many import Build, read_all
from dryfit.studies.pairs import limits, pairs
from dryfit.studies.quantities import all_margins, asked, values
from dryfit.studies.records import PlaceKind
from dryfit.studies.records_fix import Change, CheckFix, FigureMove, Fixes, Limit, Move, Offer, Price
from dryfit.studies.snap import rounded

MOST = 8
"""Offers kept for a check."""
_PER_FAMILY = 2
_STEPS_DOWN = 2
_MOVES = 3
_SEEN = 5e-3
_FIGURE_SEEN = 1e-2


def fixes(
    machine: Machine, report: Report, build: Build, levers: Sequence[Lever], about: Surroundings, checks: Sequence[str]
) -> Fixes:
    """What would restore each of the named checks, most pressing first."""
    bench = bench_of(machine, report, build, about)
    order = [f for f in ranked(report.findings) if f.check in checks]
    open_ones = [f for f in order if state(f) in (State.SHORT, State.TIGHT)]
    found: dict[str, list[Found]] = {f.check: [] for f in open_ones}
    scanned = scan(bench, levers) if open_ones else Scan((), ())
    place = {a.check: i for i, a in enumerate(bench.asked[: bench.checks])}
    solved = solve(bench, scanned, [place[f.check] for f in open_ones])
    for f in open_ones:
        found[f.check] += [from_candidate(c) for c in solved.get(place[f.check], [])]
    _choose(bench, levers, about, open_ones, place, found)
    kept_of = []
    for f in order:
        c = place[f.check]
        tried = found.get(f.check, [])
        if f.check in found and not any(is_clean(bench, t) and t.change.price is not Price.LESS for t in tried):
            # where single changes do it that give something up, only a pair that gives up nothing is worth a look
            enough = any(is_clean(bench, t) for t in tried)
            both = pairs(bench, scanned, c, tried, briefly=enough)
            tried = tried + [t for t in both if not (enough and t.change.price is Price.LESS)]
        kept = _best(bench, tried)
        hopeless = f.check in found and not any(is_clean(bench, t) for t in kept)
        kept_of.append((f, c, kept, limits(bench, scanned, c) if hopeless else ()))
    numeric = [(c, t.by) for _, c, kept, _ in kept_of for t in kept if t.by is not None]
    needed = dict(zip(((c, id(by)) for c, by in numeric), just(bench, numeric), strict=True))
    out = tuple(_answer(bench, report, *answer, needed) for answer in kept_of)
    return Fixes(report.name, out, len(levers), bench.counter.machines, bench.checks)


def bench_of(machine: Machine, report: Report, build: Build, about: Surroundings) -> Bench:
    """The design as it stands, with everything that is to be read of each machine."""
    margins = all_margins(report)
    figures = tuple(asked(f.key, report) for f in report.figures)
    everything = (*margins, *figures)
    base = values(report, everything, 1)[0]
    return Bench(build, everything, len(margins), base, about.shelf, counter=Counter())


def _choose(
    bench: Bench,
    levers: Sequence[Lever],
    about: Surroundings,
    open_ones: Sequence[Finding],
    place: dict[str, int],
    found: dict[str, list[Found]],
) -> None:
    """Try the options of every choice that one of the checks rests on."""
    rests = [(_rests_on(f), _close_to(f)) for f in open_ones]
    tried: list[tuple[Lever, Change]] = []
    machines: list[Machine] = []
    for lever in levers:
        if not lever.options or not any(_may_matter(lever, *paths, about) for paths in rests):
            continue
        for option in lever.options:
            change = lever.choose(option)
            try:
                built = bench.build({**bench.fixed, **{e.path: e.new for e in change.edits}})
            except DesignError:
                continue
            tried.append((lever, change))
            machines.append(built)
    if not machines:
        return
    bench.counter.machines += len(machines)
    rows = read_all(machines, bench.asked)
    for f in open_ones:
        c = place[f.check]
        for (lever, change), row in zip(tried, rows, strict=True):
            if bench.restored(row, c):
                found[f.check].append(Found(change, row, lever.family))


def _rests_on(f: Finding) -> frozenset[str]:
    """Keys of the design and rows of the catalogue that the governing case of a finding was read from."""
    return frozenset(o.path for o in cited(f) if o.kind is not Kind.RULE)


def _close_to(f: Finding) -> frozenset[str]:
    """Keys that stand in the check's own formula, or one step below."""
    case = int(f.governing)
    level, found = [(t, case) for t in in_case(f.terms, case)], set[str]()
    for _ in range(_STEPS_DOWN):
        found |= {t.origin.path for t, _ in level if isinstance(t.origin, Origin)}
        level = [
            (below, case)
            for t, _ in level
            if isinstance(t.origin, Workings)
            for below in in_case(t.origin.terms, case if t.per_case else None)
        ]
    return frozenset(found)


def _may_matter(lever: Lever, rests: frozenset[str], close: frozenset[str], about: Surroundings) -> bool:
    """Whether a check rests on what a choice decides: its key, its row, a number of its sheet; for a word also keys
    beside it that are close to the check's formula."""
    for p in lever.places:
        group = p.path.rpartition(".")[0]
        if p.path in rests or f"{p.catalogue}/{p.text}" in rests:
            return True
        if p.kind is PlaceKind.CATALOGUE:
            beside = {r for r in rests if r in about.sheets and r.startswith(f"{group}.")}
        else:
            beside = {r for r in close if r.startswith((f"{group}.", f"{group}["))}
        if beside:
            return True
    return False


def _best(bench: Bench, tried: Sequence[Found]) -> list[Found]:
    """The changes worth offering, best first: a few of each family, none twice."""
    order = sorted(tried, key=lambda t: rank(bench, t))
    families: Tally[str] = Tally()
    kept: list[Found] = []
    seen = set()
    for t in order:
        edits = frozenset((e.path, e.new) for e in t.change.edits)
        if families[t.family] >= (1 if t.pair else _PER_FAMILY) or edits in seen or t.change.size == 0:
            continue
        families[t.family] += 1
        seen.add(edits)
        kept.append(t)
    return kept[:MOST]


def _answer(
    bench: Bench,
    report: Report,
    f: Finding,
    c: int,
    kept: Sequence[Found],
    limited: tuple[Limit, ...],
    needed: Mapping[tuple[int, int], float],
) -> CheckFix:
    offers = tuple(_offer(bench, report, c, t, needed.get((c, id(t.by)), float("nan"))) for t in kept)
    return CheckFix(
        finding=f, check=f.check, title=f.title, topic=f.topic, case=f.cases[int(f.governing)], state=state(f),
        margin=float(f.margin), reserve=f.reserve.fraction, met=is_met(f), counted=is_counted(f), caution=f.caution,
        needs="; ".join(dict.fromkeys(o.note for o in f.missing)) if state(f) is State.UNKNOWN else "",
        offers=offers, limits=limited,
    )  # fmt: skip


def is_counted(f: Finding) -> bool:
    """Whether the check counts conflicts, of which none is allowed."""
    return f.unit == "1" and float(f.capacity[..., f.governing]) == 0


def _offer(bench: Bench, report: Report, c: int, t: Found, needed: float) -> Offer:
    moves = [_move(bench, report, t.row, i) for i in range(bench.checks) if i != c]
    broken = {bench.asked[i].check for i in bench.broken(t.row)}
    better = [m for m in moves if m.after - m.before > _SEEN and m.check not in broken]
    worse = [m for m in moves if m.before - m.after > _SEEN and m.check not in broken]
    # what loses its reserve first, then what moves most
    worse.sort(key=lambda m: (m.becomes is m.was, m.after - m.before))
    better.sort(key=lambda m: (m.becomes is m.was, m.before - m.after))
    return Offer(
        change=t.change,
        just=_just_words(t, needed),
        after=float(t.row[c]),
        restores=tuple(bench.asked[i].check for i in restored(bench, t.row) if i != c),
        better=tuple(better[:_MOVES]),
        worse=tuple(worse[:_MOVES]),
        breaks=tuple(m for m in moves if m.check in broken),
        figures=_figures(bench, t.row),
        pair=t.pair,
    )


def _just_words(t: Found, needed: float) -> str:
    if t.by is None or t.by.lever.style is None or t.by.lever.style.dimension.whole or not np.isfinite(needed):
        return ""
    style, size = t.by.lever.style, t.by.size
    if not abs(needed - size.si) > 2e-3 * abs(size.si):
        return ""
    return rounded(needed, style, towards=size.si)


def _move(bench: Bench, report: Report, row: Array, i: int) -> Move:
    one, before, after = bench.asked[i], float(bench.base[i]), float(row[i])
    return Move(one.check, report.findings[i].title, before, after, state_of(before, one), state_of(after, one))


def _figures(bench: Bench, row: Array) -> tuple[FigureMove, ...]:
    moved = []
    for i in range(bench.checks, len(bench.asked)):
        before, after = float(bench.base[i]), float(row[i])
        if abs(after - before) > _FIGURE_SEEN * max(abs(before), 1e-9):
            moved.append(FigureMove(bench.asked[i].title, before, after, bench.asked[i].unit))
    return tuple(moved)
