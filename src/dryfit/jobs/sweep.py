"""The use-case of many designs at once: what varies, what is wanted, and what was left."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from dryfit.assess.assess import assess
from dryfit.assess.report import Report
from dryfit.design.read import read_text
from dryfit.ground import units
from dryfit.ground.errors import DesignError, DryfitError, Fault, UnknownNameError
from dryfit.jobs.check import Checked, check
from dryfit.jobs.sweep_typed import Typed, said
from dryfit.jobs.variants import Variants
from dryfit.studies.blocks_of_machines import Work
from dryfit.studies.cluster import on_cluster
from dryfit.studies.quantities import Asked, asked, names
from dryfit.studies.records_sweep import Axis, Condition, Goal, Plan, Rows, Swept
from dryfit.studies.sweep import Runner, run

__all__ = ["Prepared", "on_cluster", "prepare", "run_prepared", "sweep"]

T = TypeVar("T")
_COMPARED = re.compile(r"(?P<name>[^<>=]+?)\s*(?P<sign><=|>=|<|>)\s*(?P<limit>[^<>=].*)")
_LEAST_IS_BEST = ("mass", "height", "centre-height", "stopping-way")
_HAIR = 1e-9
"""0.3 m typed as a limit lets pass what was computed as 0.30000000000000004 m."""

AXIS = "axis"
"""The `part` of a column that is an axis."""

_MARGIN = units.Dimension("margin", "1", {"%": 1e-2}, "%", "20 %", bare=True)


@dataclass(frozen=True)
class Prepared:
    """A sweep that was read and found sound: the design as it is, and the plan."""

    checked: Checked
    variants: Variants
    plan: Plan


def sweep(
    path: Path,
    vary: Sequence[str],
    *,
    fixed: Sequence[str] = (),
    best: Sequence[str] = (),
    keep: Sequence[str] = (),
    show: Sequence[str] = (),
    rows: int = 10,
    draw: bool = False,
    on_progress: Callable[[int, int], None] | None = None,
    sink: Callable[[Rows], None] | None = None,
    runner: Runner | None = None,
) -> Swept:
    """Try many variants of a design; every argument is typed as on the command line. Writes nothing.

    vary: "PATH=from..to:step", "PATH=a,b,c", "PATH=catalogue:KIND".  fixed: "PATH=VALUE".  best: "QUANTITY max".
    keep: "CHECK", "all", "QUANTITY >= 0.6 m/s".  show: more quantities.  rows: how many of the best are told.
    draw: gather what a chart shows.  Raises DesignError with every fault of what was typed.
    """
    prepared = prepare(path, vary, fixed=fixed, best=best, keep=keep, show=show)
    return run_prepared(prepared, rows=rows, draw=draw, on_progress=on_progress, sink=sink, runner=runner)


def prepare(
    path: Path,
    vary: Sequence[str],
    *,
    fixed: Sequence[str] = (),
    best: Sequence[str] = (),
    keep: Sequence[str] = (),
    show: Sequence[str] = (),
) -> Prepared:
    """Read what is asked for. Raises DesignError with every fault of the design, or of what was typed."""
    checked = check(path)
    variants = Variants(checked.text, checked.path)
    typed = Typed(read_text(checked.text, str(checked.path)), variants, checked.machine)
    faults: list[Fault] = []
    if not vary:
        faults.append(Fault("--vary", 0, "", "nothing varies", accepted="at least one --vary"))
    given = frozenset(p for t in (*vary, *fixed) for p in _paths(typed, t))
    settings = _each("--set", fixed, lambda t: typed.setting(t, given), faults)
    axes = tuple(_each("--vary", vary, lambda t: typed.axis(t, given), faults))
    places = [p for a in axes for p in a.paths]
    faults += [Fault("--vary", 0, p, "varies twice") for p in dict.fromkeys(places) if places.count(p) > 1]
    changed = {p: v for one in settings for p, v in one.items() if p not in places}
    columns = _Columns(_reference(variants, changed, checked.report), axes)
    goals = tuple(_each("--best", best, columns.goal, faults))
    conditions = tuple(_each("--keep", keep, columns.condition, faults))
    shown = tuple(_each("--show", show, columns.of, faults))
    if faults:
        raise DesignError(faults)
    return Prepared(checked, variants, columns.plan(changed, conditions, goals, shown))


def run_prepared(
    prepared: Prepared,
    *,
    rows: int = 10,
    draw: bool = False,
    on_progress: Callable[[int, int], None] | None = None,
    sink: Callable[[Rows], None] | None = None,
    runner: Runner | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> Swept:
    """Run a sweep that was prepared; see `studies.sweep.run` for what it is given."""
    work = Work(prepared.plan, prepared.variants, rows, send=sink is not None, draw=draw)
    checked = prepared.checked
    return run(
        work, checked.report.name, checked.machine, checked.report,
        runner=runner, sink=sink, on_progress=on_progress, stop=stop,
    )  # fmt: skip


def _each(option: str, typed: Sequence[str], read: Callable[[str], T], faults: list[Fault]) -> list[T]:
    found = []
    for one in typed:
        try:
            found.append(read(one))
        except DryfitError as wrong:
            faults += said(option, wrong)
    return found


def _paths(typed: Typed, text: str) -> Iterable[str]:
    try:
        return typed.paths("--vary", text.partition("=")[0].strip())
    except DryfitError:
        return ()


def _reference(variants: Variants, changed: dict[str, str | None], report: Report) -> Report:
    """The report that names are looked up in: of the design with what is set for all machines, where that can be."""
    if not changed:
        return report
    try:
        return assess(variants(changed))
    except DryfitError:
        return report


class _Columns:
    """The quantities that a sweep asks for, each once, as they are named."""

    def __init__(self, report: Report, axes: tuple[Axis, ...]) -> None:
        self.report, self.axes = report, axes
        self.asked: list[Asked] = []
        self.by_axis = {name: i for i, a in enumerate(axes) if a.numeric for name in (a.typed, *a.paths)}

    def of(self, name: str) -> int:
        """The column of a quantity; of an axis, counted from below zero until the plan is made."""
        if name in self.by_axis:
            return -2 - self.by_axis[name]
        try:
            one = asked(name, self.report)
        except UnknownNameError:
            raise UnknownNameError(
                "check, figure or varied place", name, [*names(self.report), *self.by_axis]
            ) from None
        if one not in self.asked:
            self.asked.append(one)
        return self.asked.index(one)

    def goal(self, typed: str) -> Goal:
        """ "QUANTITY", "QUANTITY max" or "QUANTITY min"."""
        words = typed.split()
        said_so = len(words) == 2 and words[1] in ("max", "min")
        if len(words) != 1 and not said_so:
            raise DesignError([Fault("--best", 0, "", "cannot be read", typed, "QUANTITY, QUANTITY max, QUANTITY min")])
        column = self.of(words[0])
        largest = words[1] == "max" if said_so else self._largest(column)
        return Goal(column, largest, said_so)

    def _largest(self, column: int) -> bool:
        if column < 0:
            return False
        one = self.asked[column]
        return one.part != "demand" if one.check else one.name not in _LEAST_IS_BEST

    def condition(self, typed: str) -> Condition:
        """ "all", "CHECK" or "QUANTITY >= 0.6 m/s"."""
        text = typed.strip()
        if text == "all":
            return Condition(text, -1, 1, 0.0, words="no check is short")
        compared = _COMPARED.fullmatch(text)
        if compared is None and re.search("[<>=]", text):
            raise DesignError(
                [Fault("--keep", 0, "", "cannot be read", text, "all, CHECK, or QUANTITY with <, <=, > or >=")]
            )
        if compared is None:
            return self._holds(text)
        column = self.of(compared["name"])
        dimension = self._dimension(column)
        try:
            limit, half = units.read(compared["limit"], dimension)
        except units.UnitError as wrong:
            raise DesignError([Fault("--keep", 0, text, wrong.problem, compared["limit"], wrong.accepted)]) from None
        if half is not None:
            raise DesignError([Fault("--keep", 0, text, "a limit stands without ±", compared["limit"])])
        sign = 1 if compared["sign"].startswith(">") else -1
        strict = len(compared["sign"]) == 1
        hair = abs(limit) * _HAIR
        return Condition(text, column, sign, limit + sign * (hair if strict else -hair), strict)

    def _holds(self, name: str) -> Condition:
        checks = {f.check: f for f in self.report.findings}
        if name not in checks:
            column = self.of(name)
            unit = self._dimension(column).example
            raise DesignError(
                [Fault("--keep", 0, name, "is not a check", name, f"a comparison such as {name} >= {unit}")]
            )
        reserve = checks[name].reserve.fraction
        words = f"its reserve of {100 * reserve:.3g} % is there" if reserve else "it is not short"
        return Condition(name, self.of(name), 1, reserve, words=words)

    def _dimension(self, column: int) -> units.Dimension:
        if column < 0:
            return self.axes[-2 - column].dimension or units.NUMBER
        unit = self.asked[column].unit
        return _MARGIN if unit in ("1", "%") else units.SI[unit]

    def plan(
        self,
        changed: dict[str, str | None],
        conditions: tuple[Condition, ...],
        goals: tuple[Goal, ...],
        shown: tuple[int, ...],
    ) -> Plan:
        """The plan of it all. Columns of axes come behind those that are read from reports."""
        numeric = [i for i, a in enumerate(self.axes) if a.numeric]
        if not self.asked:
            shown = (*shown, *(self.of(f.key) for f in self.report.figures))
        count = len(self.asked)

        def at(column: int) -> int:
            return column if column >= -1 else count + numeric.index(-2 - column)

        return Plan(
            axes=self.axes,
            fixed=changed,
            columns=(*self.asked, *(_axis_column(self.axes[i]) for i in numeric)),
            from_report=count,
            column_axes=tuple(numeric),
            conditions=tuple(replace(c, column=at(c.column)) for c in conditions),
            goals=tuple(replace(g, column=at(g.column)) for g in goals),
            shown=tuple(at(c) for c in shown),
        )


def _axis_column(axis: Axis) -> Asked:
    dimension = axis.dimension or units.NUMBER
    return Asked(axis.typed, "", AXIS, "%" if "%" in dimension.units else dimension.si, axis.typed)
