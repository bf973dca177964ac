"""A sweep as a page: what varied, what each condition leaves, the best machines, and what changes with them."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import fill

import numpy as np

from dryfit.ground.findings import State
from dryfit.studies.records_sweep import Axis, AxisKind, Change, Condition, Goal, Plan, Swept, Told
from dryfit.views.page import Block, Column, Command, Heading, Page, Paragraph, Table
from dryfit.views.sweep_cells import axis_words, quantity_text
from dryfit.views.words import margin_words

FEW_VALUES = 4
MOST_COLUMNS = 5
"""Axes and quantities in the table, unless more of them are asked to be shown."""
HEAD = 14
"""Letters in a line of a head."""

CROWDED = 6
"""Axes and quantities beyond which a page has no room for whole names."""

MOST_CHANGES = 10
MOST_REASONS = 5
MOST_SHORT = 4
_GRAVE = tuple(s.value for s in (State.SHORT, State.UNKNOWN, State.TIGHT, State.HOLDS))


def sweep_page(swept: Swept, file: str, written: tuple[str, ...] = ()) -> Page:
    """The page of a sweep. file: the design, as the user would type it.  written: sentences on files written."""
    blocks: list[Block] = [Paragraph(headline(swept), strong=True)]
    if swept.stopped:
        words = f"Stopped after {swept.done:,} of {swept.plan.count:,} machines; what follows is about these."
        blocks.append(Paragraph(words, mark="!"))
    blocks += [Heading("What varies"), _varied(swept.plan)]
    blocks += _excluded(swept)
    blocks += _best(swept)
    blocks += _changes(swept)
    blocks += [Paragraph(words, mark="·") for words in written]
    blocks += _next(swept, file)
    return Page(f"{swept.name}: {_count(swept.done, 'machine')}", file, tuple(blocks))


def headline(swept: Swept) -> str:
    """The answer in a sentence."""
    plan, tally = swept.plan, swept.tally
    if not swept.done:
        return "Stopped before the first machines were done."
    if not tally.kept:
        return f"Nothing is left of {_count(swept.done, 'machine')}. {_culprit(swept)}"
    are = "is" if tally.kept == 1 else "are"
    left = f"{tally.kept:,} of {swept.done:,} machines {are} left" if plan.conditions else _possible(swept)
    if not plan.goals or not swept.table:
        return f"{left}."
    if len(plan.goals) > 1:
        least = "at least " if tally.thinned else ""
        front = len(tally.front.numbers)
        return f"{left}; {least}{front:,} of them {'is' if front == 1 else 'are'} beaten by no other in both wishes."
    one, goal = swept.table[0], plan.goals[0]
    at = plan.column_axes[goal.column - plan.from_report] if goal.column >= plan.from_report else -1
    others = _settings(plan, one.number, besides=at)
    value = plan.axes[at].text(_places(plan, one.number)[at]) if at >= 0 else _value(plan, goal.column, one)
    best = f"{left}; the {_wanted(goal)} {plan.columns[goal.column].name} is {value}"
    return f"{best}, with {others}." if others else f"{best}."


def _possible(swept: Swept) -> str:
    if swept.tally.kept < swept.done:
        return f"{swept.tally.kept:,} of {swept.done:,} machines can be put together"
    return f"All {_count(swept.done, 'machine')} can be put together"


def _culprit(swept: Swept) -> str:
    """Which condition excludes most, and how near the nearest machine comes to it."""
    plan, tally = swept.plan, swept.tally
    if not plan.conditions:
        return "None of them can be put together."
    worst = min(range(len(plan.conditions)), key=lambda i: tally.meets[i])
    c = plan.conditions[worst]
    if tally.meets[worst]:
        often = _count(tally.meets[worst], "machine")
        return f"Each condition leaves some, but no machine meets all; {c.typed} alone leaves the fewest: {often}."
    near = _nearest(plan, c, *tally.nearest[worst])
    if c.column >= 0 and not near:
        return f"No machine meets {c.typed}: in none of them can it be known."
    return f"No machine meets {c.typed}{near and f'; the nearest has {near}'}."


def _nearest(plan: Plan, c: Condition, value: float, number: int) -> str:
    if number < 0:
        return ""
    return f"{quantity_text(plan.columns[c.column], value)}, with {_settings(plan, number)}"


def _places(plan: Plan, number: int) -> list[int]:
    return [int(p[0]) for p in plan.places(np.array([number]))]


def _settings(plan: Plan, number: int, besides: int = -1) -> str:
    """What a machine has, in words, one axis left out: "circle radius 400 mm, pinion teeth 24"."""
    places = enumerate(zip(plan.axes, _places(plan, number), strict=True))
    return ", ".join(f"{axis_words(a)} {a.text(p)}" for i, (a, p) in places if i != besides)


def _value(plan: Plan, column: int, one: Told) -> str:
    return quantity_text(plan.columns[column], float(one.values[column]))


def _short(text: str) -> str:
    """Without the same in another unit behind it."""
    return text.partition(" (")[0]


def _varied(plan: Plan) -> Table:
    rows = []
    for axis in plan.axes:
        rows.append((axis.typed, _range(axis), _count(axis.size, "value")))
        gone = dict.fromkeys(key.rpartition(".")[2] for keys in axis.left_out for key in keys)
        if gone:
            rows.append(("", f"left out with the old one, beside which it was typed: {', '.join(gone)}", ""))
    rows += [(path, "left out" if text is None else str(text), "in all") for path, text in plan.fixed.items()]
    return Table((Column(fold=True), Column(fold=True), Column(right=True)), tuple(rows))


def _range(axis: Axis) -> str:
    if axis.size <= FEW_VALUES:
        return ", ".join(axis.text(i) for i in range(axis.size))
    if axis.kind is AxisKind.ROW:
        return f"{axis.texts[0]} to {axis.texts[-1]}"
    if not axis.numeric:
        return ", ".join(axis.texts)
    evenly = np.allclose(np.diff(axis.numbers), axis.numbers[1] - axis.numbers[0])
    step = f" in steps of {axis.numbers[1] - axis.numbers[0]:.10g} {axis.unit}".rstrip() if evenly else ""
    return f"{axis.text(0)} to {axis.text(axis.size - 1)}{step}"


def _excluded(swept: Swept) -> Iterator[Block]:
    plan, tally = swept.plan, swept.tally
    if plan.conditions:
        yield Heading("What each condition leaves")
        near = [
            "" if met else _nearest(plan, c, *told)
            for c, met, told in zip(plan.conditions, tally.meets, tally.nearest, strict=True)
        ]
        words = [f"{c.typed}: {c.words}" if c.words else c.typed for c in plan.conditions]
        heads = [Column("condition", fold=True), Column("alone", right=True), Column("with those above", right=True)]
        columns = [words, [f"{n:,}" for n in tally.meets], [f"{n:,}" for n in tally.leaves]]
        if any(near):
            heads.append(Column("nearest to it", fold=True))
            columns.append(near)
        yield Table(tuple(heads), tuple(zip(*columns, strict=True)))
    if tally.short:
        most = sorted(tally.short.items(), key=lambda item: -item[1])
        told = ", ".join(f"{name} in {often}" for name, often in most[:MOST_SHORT])
        more = f" and {len(most) - MOST_SHORT} more" if len(most) > MOST_SHORT else ""
        yield Paragraph(f"Short most often: {told}{more}.", faint=True)
    if tally.impossible:
        yield Heading("What cannot be put together")
        ranked = sorted(tally.impossible.items(), key=lambda item: -item[1])
        rest = sum(often for _, often in ranked[MOST_REASONS:])
        lines = [*ranked[:MOST_REASONS], *([("other reasons", rest)] if rest else [])]
        yield Table((Column(right=True), Column(fold=True)), tuple((f"{often:,}", why) for why, often in lines))


def _best(swept: Swept) -> Iterator[Block]:
    plan = swept.plan
    if not swept.table:
        return
    yield Heading(_title(swept))
    columns = _columns(plan)
    # names of rows stay whole unless numbers would have to be broken for it
    crowded = len(plan.axes) + len(columns) > CROWDED
    heads = (
        Column(right=True, faint=True),
        *(Column(_head(axis_words(a)), right=a.numeric, fold=a.numeric or crowded) for a in plan.axes),
        *(Column(_head(_quantity_words(plan, c)), right=True, fold=True) for c in columns),
        Column("all checks", fold=True),
    )
    rows = [_row(plan, columns, str(place), one) for place, one in enumerate(swept.table, start=1)]
    design = ["design", *("" for _ in plan.axes), *(_design_text(swept, c) for c in columns), _state(swept.design)]
    for place, axis in enumerate(plan.axes):
        if axis.numeric and len(axis.paths) == 1:
            column = plan.from_report + plan.column_axes.index(place)
            design[1 + place] = _axis_text(axis, float(swept.design.values[column]))
    yield Table(heads, (*rows, tuple(design)))
    if any(not g.said for g in plan.goals):
        words = "; ".join(f"the {_wanted(g)} {plan.columns[g.column].name}" for g in plan.goals if not g.said)
        yield Paragraph(f"Taken as the best: {words}. Write max or min behind it to say otherwise.", faint=True)


def _axis_text(axis: Axis, si: float) -> str:
    if not np.isfinite(si) or axis.dimension is None:
        return ""
    number = (si - axis.dimension.offsets.get(axis.unit, 0.0)) / axis.dimension.units.get(axis.unit, 1.0)
    return f"{number:.6g} {axis.unit}".rstrip()


def _design_text(swept: Swept, column: int) -> str:
    value = float(swept.design.values[column])
    return _short(quantity_text(swept.plan.columns[column], value)) if np.isfinite(value) else ""


def _title(swept: Swept) -> str:
    plan, count = swept.plan, len(swept.table)
    if len(plan.goals) > 1:
        first, second = (plan.columns[g.column].name for g in plan.goals[:2])
        few = f"{count} of the {len(swept.tally.front.numbers)}" if count < len(swept.tally.front.numbers) else "The"
        return f"{few} machines that no other beats in both {first} and {second}"
    if plan.goals:
        goal = plan.goals[0]
        return f"The best: {_wanted(goal)} {plan.columns[goal.column].name} first"
    return "The machines" if count == swept.tally.kept else f"The first {count:,} of {swept.tally.kept:,} machines"


def _columns(plan: Plan) -> list[int]:
    """Quantities of the table: what is wanted, what is shown, and what is asked as far as there is room; axes have
    columns of their own."""
    wanted = dict.fromkeys([*(g.column for g in plan.goals), *plan.shown])
    named = [c for c in dict.fromkeys([*wanted, *(c.column for c in plan.conditions)]) if 0 <= c < plan.from_report]
    return [c for place, c in enumerate(named) if c in wanted or place + len(plan.axes) < MOST_COLUMNS]


def _quantity_words(plan: Plan, column: int) -> str:
    return plan.columns[column].name.replace("-", " ").replace(".", ", ")


def _head(words: str) -> str:
    """The head of a column in short lines, so that a column is no wider than what stands in it."""
    return fill(words, HEAD, break_long_words=False)


def _row(plan: Plan, columns: list[int], first: str, one: Told) -> tuple[str, ...]:
    places = _places(plan, one.number)
    return (
        first,
        *(a.text(p) for a, p in zip(plan.axes, places, strict=True)),
        *(_short(_value(plan, c, one)) for c in columns),
        _state(one),
    )


def _state(one: Told) -> str:
    counts = ((len(one.short), "short"), (len(one.unknown), "unknown"), (len(one.tight), "tight"))
    return ", ".join(f"{n} {word}" for n, word in counts if n) or "all hold"


def _changes(swept: Swept) -> Iterator[Block]:
    """Checks that say something else than of the design as it is, with the machines in which they do."""
    found: dict[tuple[str, str, str], list[tuple[int, Change]]] = {}
    for place, one in enumerate(swept.table, start=1):
        for change in one.changes:
            found.setdefault((change.check, change.was, change.state), []).append((place, change))
    if not swept.table:
        return
    yield Heading("What changes against the design as it is")
    if not found:
        yield Paragraph("No check of these machines changes its state.")
        return
    rows = []
    gravest = sorted(found.items(), key=lambda item: (_GRAVE.index(item[0][2]), -len(item[1])))
    for (check, was, state), told in gravest[:MOST_CHANGES]:
        before = _state_margin(was, [told[0][1].was_margin]) if was else "not there"
        after = _state_margin(state, [c.margin for _, c in told])
        rows.append((_numbered([place for place, _ in told]), check, before, "→", after))
    yield Table((Column("machine", fold=True), Column("check"), Column(), Column(), Column()), tuple(rows))
    if len(found) > MOST_CHANGES:
        yield Paragraph(f"and {len(found) - MOST_CHANGES} more", faint=True)


def _state_margin(state: str, margins: list[float]) -> str:
    """A state with its margin, or the least and the largest of several; a check that is just met has none to tell."""
    low, high = margin_words(min(margins)), margin_words(max(margins))
    if state == State.HOLDS.value and max(margins) == 0:
        return state
    return f"{state} {low}" if low == high else f"{state} {low} to {high}"


def _numbered(places: list[int]) -> str:
    """Numbers with their stretches: "1 to 4, 7"."""
    parts: list[list[int]] = []
    for p in places:
        if parts and p == parts[-1][-1] + 1:
            parts[-1].append(p)
        else:
            parts.append([p])
    return ", ".join(f"{p[0]} to {p[-1]}" if len(p) > 2 else ", ".join(map(str, p)) for p in parts)


def _next(swept: Swept, file: str) -> Iterator[Block]:
    """What to do with it."""
    design = file.removesuffix("/design.yaml")
    yield Heading("Where to look next")
    if swept.table and swept.plan.goals:
        one, plan = swept.table[0], swept.plan
        chosen = list(zip(plan.axes, _places(plan, one.number), strict=True))
        typed = [f"{a.typed}: {a.text(p)}" for a, p in chosen]
        gone = [key for a, p in chosen if a.left_out for key in a.left_out[p]]
        typed += [f"{path}: {text}" for path, text in plan.fixed.items() if text is not None]
        gone += [path for path, text in plan.fixed.items() if text is None]
        without = f"; and take out {', '.join(gone)}" if gone else ""
        yield Paragraph(f"To take machine 1, write in the design file {'; '.join(typed)}{without}", mark="→")
    yield Command(f"dryfit check {design}", "the design as it is, check by check")
    yield Command(f"dryfit sweep {design} ... --out all.csv --chart all.svg", "the same with a file and a chart")


def _wanted(goal: Goal) -> str:
    return "largest" if goal.largest else "least"


def _count(n: int, noun: str) -> str:
    return f"{n:,} {noun}" if n == 1 else f"{n:,} {noun}s"
