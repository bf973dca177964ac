"""A design over many draws of what is not known about it: the chance of every check, what would settle the doubt."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dryfit.assess.report import Report
from dryfit.ground.findings import Finding, State, state
from dryfit.ground.quantity import Array
from dryfit.studies import sensitivity
from dryfit.studies.many import Build, Evaluate
from dryfit.studies.processes import shared
from dryfit.studies.quantities import all_margins
from dryfit.studies.records_spread import (
    Chance,
    CheckSpread,
    Driver,
    Input,
    Measurement,
    Reading,
    Spreads,
)
from dryfit.studies.sampling import chance, points, sets_of
from dryfit.studies.uncertain import Drawn

KNOWLEDGE = ("mass-known", "motor-sheet-agrees-with-itself")
"""Checks about how well things are known: a draw, in which everything is known, has nothing to say to them."""

DRIVERS = 3
MEASUREMENTS = 12
WORTH = 0.005
"""Part of the whole doubt from which on a measurement is listed."""

_PIECE = 4096
"""Draws that are handed out at a time."""

_LOOKED_AT = 16384
"""Draws that shares are read from: more would not change the order of the inputs."""

_FEWER = 4096
_SURE = 1e-12
_TOTALS, _TOTALS_DRAW = 1 << 30, 2048


@dataclass(frozen=True)
class Draws:
    """Draws in the order of their sets: margins (n, C), sets (n,) which set each belongs to, unit (m, d) places in the
    ranges of the first m of them; impossible draws are left out, counted, and the first of them explained."""

    unit: Array
    margins: Array
    sets: NDArray[np.intp]
    impossible: int
    why_impossible: str


@dataclass(frozen=True)
class Sampler:
    """Everything needed to make any set of the draws; can be sent to another process."""

    evaluate: Evaluate
    inputs: tuple[Input, ...]
    seed: int
    points: int
    sets: int
    order: tuple[int, ...]

    def __call__(self, sets: Sequence[int]) -> tuple[Array, dict[int, str]]:
        """The margins of some sets one after another, (sets × points, C), and why some rows cannot be."""
        found = self.evaluate(at(self.inputs, self.unit(sets)), of=self.sets * self.points)
        return found.values, dict(found.impossible)

    def unit(self, sets: Iterable[int]) -> Array:
        """Places in the ranges of the inputs, (sets × points, d). The inputs named first in `order` get the first
        dimensions of the points, which are the most even ones."""
        drawn = np.concatenate([points(len(self.inputs), self.points, self.seed, k).T for k in sets], axis=1)
        unit = np.empty_like(drawn)
        unit[list(self.order)] = drawn
        return unit.T


def at(inputs: Sequence[Input], unit: Array) -> dict[str, Array]:
    """What to vary, by path, for places (n, d) in the ranges of the inputs: values, or factors on defaults."""
    varied = {}
    for one, u in zip(inputs, unit.T, strict=True):
        value = one.low + u * (one.high - one.low)
        varied[one.path] = value / one.nominal if one.reckoned else value
    return varied


def spread(
    build: Build,
    report: Report,
    inputs: tuple[Input, ...],
    *,
    draws: int,
    seed: int,
    workers: int = 1,
    detail: str = "",
    on_progress: Callable[[float], None] = lambda part: None,
) -> Spreads:
    """Draw the inputs, assess every machine, and say what the draws have in common.

    build, report: of the design as it stands.  detail: a check whose drivers get their total share as well, for some
    draws more.  workers: processes that share the work, this one among them.  on_progress: is told the part done, 0 to
    1. The same seed gives the same answer, whoever does the work.
    """
    known = [f for f in report.findings if state(f) is not State.UNKNOWN]
    unknown = tuple(
        (f.check, "; ".join(dict.fromkeys(o.note for o in f.missing))) for f in report.findings if f not in known
    )
    drawn = Drawn(build, frozenset(one.path for one in inputs if one.reckoned))
    asked = tuple(a for a in all_margins(report) if a.check in {f.check for f in known})
    sets, size = sets_of(draws)
    if not inputs or not known:
        return _nothing_drawn(report, known, unknown, inputs, seed)
    evaluate = Evaluate(drawn, asked, {})
    sampler = Sampler(evaluate, inputs, seed, size, sets, _by_effect(evaluate, inputs))
    made = _draw(sampler, sets, workers, on_progress)
    margins = _with_knowledge(made.margins, known)
    sure = [not np.any(m < 0) or not np.any(m >= 0) for m in margins.T]
    results = _Results(inputs, known, made, margins, np.array(sure, dtype=bool), sets)
    checks = results.checks()
    if detail:
        checks = tuple(_with_totals(c, sampler, known) if c.check == detail else c for c in checks)
    ranked = tuple(sorted(checks, key=lambda c: (c.holds.value, c.kept.value, c.band[0], c.check)))
    return Spreads(
        name=report.name,
        draws=sets * size,
        scramblings=sets,
        seed=seed,
        inputs=inputs,
        checks=ranked,
        unknown=unknown,
        all_hold=results.chance_of(np.all(margins >= 0, axis=1)),
        measurements=results.measurements(),
        impossible=made.impossible,
        why_impossible=made.why_impossible,
    )


def _by_effect(evaluate: Evaluate, inputs: tuple[Input, ...]) -> tuple[int, ...]:
    """The inputs by what each does to the margins when it alone goes from one end of its range to the other."""
    d = len(inputs)
    unit = np.tile([(one.nominal - one.low) / (one.high - one.low) for one in inputs], (2 * d, 1))
    unit[np.arange(d), np.arange(d)] = 0.0
    unit[d + np.arange(d), np.arange(d)] = 1.0
    ends = np.nan_to_num(evaluate(at(inputs, unit)).values)
    moved = (ends[d:] - ends[:d]) ** 2
    whole = np.sum(moved, axis=0)
    effect = np.sum(np.where(whole > 0, moved / np.where(whole > 0, whole, 1.0), 0.0), axis=1)
    return tuple(int(i) for i in np.argsort(-effect, kind="stable"))


def _draw(sampler: Sampler, sets: int, workers: int, on_progress: Callable[[float], None]) -> Draws:
    # pieces of one size, whoever does them, so that the answers agree to the last digit
    each = max(1, _PIECE // sampler.points)
    work = [list(range(k, min(k + each, sets))) for k in range(0, sets, each)]
    found: list[Array] = []
    impossible: dict[int, str] = {}
    on_progress(0.0)
    for done, (values, wrong) in enumerate(shared(sampler, work, workers), start=1):
        impossible |= {row + sampler.points * each * (done - 1): why for row, why in wrong.items()}
        found.append(values)
        on_progress(done / len(work))
    values = np.concatenate(found)
    can_be = np.ones(len(values), dtype=bool)
    can_be[list(impossible)] = False
    which = np.repeat(np.arange(sets), sampler.points)
    why = impossible[min(impossible)] if impossible else ""
    unit = sampler.unit(range(min(sets, max(1, _LOOKED_AT // sampler.points))))
    unit = unit[can_be[: len(unit)]]
    return Draws(unit, values[can_be], which[can_be], len(impossible), why)


def _with_knowledge(margins: Array, known: Sequence[Finding]) -> Array:
    """What is about knowledge keeps the margin of the design. NaN is as short as can be."""
    told = np.array([f.check in KNOWLEDGE for f in known])
    own = np.array([float(f.margin) for f in known])
    return np.nan_to_num(np.where(told, own, margins), nan=-1.0)


def _nothing_drawn(
    report: Report, known: Sequence[Finding], unknown: tuple[tuple[str, str], ...], inputs: tuple[Input, ...], seed: int
) -> Spreads:
    """A machine about which nothing is in doubt, or nothing is known."""
    checks = []
    for f in known:
        m = float(f.margin)
        holds, kept = (
            Chance(float(m >= least), float(m >= least), float(m >= least)) for least in (0, f.reserve.fraction)
        )
        checks.append(
            CheckSpread(f.check, f.title, m, f.reserve.fraction, f.late.value, holds, kept, (m, m, m), (), 0.0)
        )
    all_hold = float(all(c.holds.value for c in checks))
    whole = Chance(all_hold, all_hold, all_hold)
    return Spreads(report.name, 0, 0, seed, inputs, tuple(checks), unknown, whole, (), 0, "")


def _with_totals(check: CheckSpread, sampler: Sampler, known: Sequence[Finding]) -> CheckSpread:
    """The check with the total share of each of its drivers: draws in which nothing but that input is drawn anew."""
    column = [f.check for f in known].index(check.check)
    d, places = len(sampler.inputs), {one.path: i for i, one in enumerate(sampler.inputs)}
    # the drivers and their second draws stand first, where the points are most even
    leading = [places[driver.path] for driver in check.drivers]
    drawn = points(d + len(leading), _TOTALS_DRAW, sampler.seed, _TOTALS)
    unit = np.empty((_TOTALS_DRAW, d))
    unit[:, [*leading, *(i for i in range(d) if i not in leading)]] = np.delete(
        drawn, range(len(leading), 2 * len(leading)), axis=1
    )
    first = sampler.evaluate(at(sampler.inputs, unit)).values[:, [column]]
    drivers = []
    for k, driver in enumerate(check.drivers):
        anew = unit.copy()
        anew[:, places[driver.path]] = drawn[:, len(leading) + k]
        second = sampler.evaluate(at(sampler.inputs, anew)).values[:, [column]]
        both = np.isfinite(first[:, 0]) & np.isfinite(second[:, 0])
        drivers.append(replace(driver, total=float(sensitivity.total_share(first[both], second[both])[0])))
    return replace(check, drivers=tuple(drivers))


@dataclass(frozen=True)
class _Results:
    """Margins (n, C) of all draws, and what is read from them. sure: the checks that all draws agree about."""

    inputs: tuple[Input, ...]
    known: Sequence[Finding]
    made: Draws
    margins: Array
    sure: NDArray[np.bool_]
    sets: int

    def chance_of(self, yes: NDArray[np.bool_]) -> Chance:
        """Chance of a yes (n,) with its interval over the sets."""
        of = np.bincount(self.made.sets, minlength=self.sets).astype(float)
        held = np.bincount(self.made.sets, weights=yes.astype(float), minlength=self.sets)
        return chance(held.astype(float), of)

    def checks(self) -> tuple[CheckSpread, ...]:
        """Every check, in the order of the report."""
        shares, directions = self._shares()
        bands = np.quantile(self.margins, (0.05, 0.5, 0.95), axis=0)
        found = []
        for c, f in enumerate(self.known):
            own = f.check in KNOWLEDGE
            # a small share without a direction is what bins of so few draws differ by
            told = np.where((shares[:, c] > 0.1) | ((shares[:, c] > 0.01) & (directions[:, c] != 0)), shares[:, c], 0.0)
            order = [int(i) for i in np.argsort(-told, kind="stable")[:DRIVERS] if told[i]]
            # shares of independent numbers add up to the whole at most; what is beyond comes of so few draws
            whole = max(1.0, float(np.sum(shares[order, c])))
            drivers = tuple(
                Driver(self.inputs[i].path, float(shares[i, c]) / whole, int(directions[i, c])) for i in order
            )
            together = max(0.0, 1.0 - float(np.sum(shares[:, c]))) if drivers else 0.0
            found.append(
                CheckSpread(
                    check=f.check,
                    title=f.title,
                    margin=float(f.margin),
                    reserve=f.reserve.fraction,
                    late=f.late.value,
                    holds=self.chance_of(self.margins[:, c] >= 0),
                    kept=self.chance_of(self.margins[:, c] >= f.reserve.fraction),
                    band=(float(bands[0, c]), float(bands[1, c]), float(bands[2, c])),
                    drivers=drivers,
                    together=together,
                    states_knowledge=own,
                )
            )
        return tuple(found)

    def _shares(self) -> tuple[Array, Array]:
        """First-order share and direction of every input for every check, (d, C) each. What all draws agree about is
        looked at with fewer of them."""
        d, columns = len(self.inputs), self.margins.shape[1]
        shares, directions = np.zeros((d, columns)), np.zeros((d, columns))
        varies = np.ptp(self.margins, axis=0) > _SURE
        for some, most in ((varies & ~self.sure, _LOOKED_AT), (varies & self.sure, _FEWER)):
            if not np.any(some):
                continue
            unit = np.asfortranarray(self.made.unit[:most])
            results = np.asfortranarray(self.margins[: len(unit), some])
            variance = np.var(results, axis=0)
            for i in range(d):
                by_bin = sensitivity.binned(unit[:, i], results)
                shares[i, some] = sensitivity.first_order(by_bin, variance)
                directions[i, some] = sensitivity.direction(by_bin)
        return shares, directions

    def measurements(self) -> tuple[Measurement, ...]:
        """What would help most to know, most useful first. The doubt is p (1 - p) of every check, weighted by what it
        costs to find that check out late."""
        open_ones = [int(c) for c in np.flatnonzero(~self.sure)]
        if not open_ones:
            return ()
        unit = np.asfortranarray(self.made.unit)
        yes = np.asfortranarray((self.margins[: len(unit), open_ones] >= 0).astype(float))
        late = np.array([self.known[c].late.value for c in open_ones], dtype=float)
        n = len(yes)
        doubt = yes.mean(axis=0) * (1 - yes.mean(axis=0)) * n / max(n - 1, 1)
        whole = float(late @ doubt)
        if whole <= 0:
            return ()
        found = []
        for i, one in enumerate(self.inputs):
            by_bin = sensitivity.binned(unit[:, i], yes)
            gone = doubt - sensitivity.doubt_left(by_bin)
            settles = float(late @ gone) / whole
            if settles < WORTH:
                continue
            part = np.where(doubt > 0, gone / np.where(doubt > 0, doubt, 1.0), 0.0)
            order = [int(k) for k in np.argsort(-late * gone, kind="stable") if part[k] > 0.05][:DRIVERS]
            readings = tuple(r for k in order for r in self._reading(one, self.known[open_ones[k]].check, by_bin, k))
            checks = tuple((self.known[open_ones[k]].check, float(part[k])) for k in order)
            found.append(Measurement(one.path, settles, checks, readings))
        return tuple(sorted(found, key=lambda m: (-m.settles, m.path))[:MEASUREMENTS])

    def _reading(self, one: Input, check: str, by_bin: sensitivity.Binned, result: int) -> Iterable[Reading]:
        """What a reading decides about a check, if it can make it as good as sure."""
        start, end = sensitivity.sure_run(by_bin, result)
        if 0 < end - start < 1:
            width = one.high - one.low
            yield Reading(check, one.low + start * width, one.low + end * width, end - start)
