"""The bench as a page: what to read, stage by stage, what was read, and what that does to the design."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from dryfit.ground import units
from dryfit.ground.findings import State, Term, Workings
from dryfit.making.records_bench import Bench, Cause, CheckMove, Moved, TestPoint, side
from dryfit.views.page import Block, Column, Command, Heading, Page, Paragraph, Table
from dryfit.views.words import margin_words, place_words, shown

_FEW_MOVES = 12
_DEEP, _LONG = 2, 16
_STATES = {State.HOLDS: "holds", State.TIGHT: "tight", State.SHORT: "SHORT", State.UNKNOWN: "UNKNOWN"}
_LOCAL = "Local codes and licensed practice come before anything written here."


def page(b: Bench, file: str, design: str, everything: bool = False) -> Page:
    """All test points by stage, then what the readings say. everything: every check, also those that stay."""
    taken = [p for p in b.points if p.taken is not None]
    blocks: list[Block] = [*_head(b, taken)]
    for p in taken:
        if side(p):
            blocks += _outside(p)
    blocks += _said(b, everything)
    for stage in b.stages:
        here = [p for p in b.points if p.stage == stage.name]
        if here:
            blocks += [Heading(stage.title), _points(here)]
    if b.elsewhere:
        blocks.append(Heading("Readings for points this machine does not have"))
        blocks += [Paragraph(f"{e.point}: {e.text}, line {e.line}; kept in the file", mark="?") for e in b.elsewhere]
    blocks += [Heading("Where to look next"), *_commands(b, design, taken)]
    return Page(b.name, file, tuple(blocks))


def point_page(b: Bench, p: TestPoint, file: str, design: str) -> Page:
    """One test point in full: what to do, what to expect and why, what a reading outside would mean."""
    stage = next(s for s in b.stages if s.name == p.stage)
    rows = [
        ("expected", units.show(p.predicted, p.unit)),
        ("90 of 100 read", band_words(p)),
        ("instrument", f"{p.instrument}, ± {units.show(p.accuracy, p.unit, 2)}"),
        ("stage", stage.title),
    ]
    if p.taken is not None:
        day = "" if p.taken.date is None else f", on {p.taken.date.isoformat()}"
        rows.append(("read", f"{_read_words(p)}{day}, line {p.taken.line}"))
    blocks: list[Block] = [Paragraph(p.title, strong=True), _pairs(rows)]
    if p.taken is not None and side(p):
        blocks += _outside(p)
    blocks += [Heading("How"), *(Paragraph(step, mark="→") for step in p.how)]
    blocks += [Paragraph(f"Stop: {p.stop}", mark="!"), *(Paragraph(c, mark="!") for c in (*p.cautions, _LOCAL))]
    for which, causes in (("less", p.outside.low), ("more", p.outside.high)):
        if causes:
            blocks += [Heading(f"If it reads {which}, likeliest first"), _causes(causes)]
    term = b.terms[p.name]
    blocks += [Heading("Where the number comes from"), *_workings(term)]
    if abs(_one(term) - p.predicted) > 0.01 * abs(p.predicted):
        words = (
            f"The checks reckon with {shown(_one(term), term.unit)}, the worst that is likely; the middle is expected."
        )
        blocks.append(Paragraph(words, faint=True))
    blocks += [Heading("Where to look next"), Command(_enter(design, p), "writes what you read")]
    return Page(b.name, file, tuple(blocks))


def adopted_page(b: Bench, file: str, design: str) -> Page:
    """What was written from the readings into the design."""
    blocks: list[Block] = [
        Paragraph(f"Wrote {_count(len(b.moved), 'number')} into {file}, each with its ±.", strong=True),
        *_moved(b.moved),
        Paragraph("The readings behind them are marked `used: yes` and no longer count; the file before is kept beside "
                  "it, its name ending in .before."),
        Command(f"dryfit check {design}", "all checks with the new numbers"),
    ]  # fmt: skip
    return Page(b.name, file, tuple(blocks))


def band_words(p: TestPoint) -> str:
    """The band with its unit once: "0.656 to 1.37 A"; "up to 0.32 mm" for what only has to be small."""
    low, high = (units.show(v, p.unit) for v in (p.low, p.high))
    if not isfinite(p.predicted):
        return "not known yet"
    if p.low == 0:
        return f"up to {high}"
    number, _, unit = low.partition(" ")
    return f"{number if unit == high.partition(' ')[2] else low} to {high}"


def _head(b: Bench, taken: Sequence[TestPoint]) -> list[Block]:
    outside = [p for p in taken if side(p)]
    words = f"{_count(len(b.points), 'test point')}, {_count(len(taken), 'reading')}"
    if taken:
        words += f", {len(outside) or 'none'} outside {'its' if len(outside) == 1 else 'their'} band"
    return [
        Paragraph(f"{words}.", strong=True),
        Paragraph(
            "The band holds 90 of 100 machines built to this design, instrument and scatter counted.", faint=True
        ),
    ]


def _outside(p: TestPoint) -> list[Block]:
    causes = p.outside.low if side(p) == "low" else p.outside.high
    words = f"{p.name} read {_value(p)}, {'less' if side(p) == 'low' else 'more'} than {band_words(p)}"
    blocks: list[Block] = [Paragraph(f"{words}. Likeliest first, and what would tell:", mark="!")]
    return [*blocks, _causes(causes)] if causes else blocks


def _causes(causes: Sequence[Cause]) -> Table:
    rows = tuple((str(n), c.what, c.tell) for n, c in enumerate(causes, start=1))
    return Table((Column(faint=True), Column("cause", fold=True), Column("what tells it apart", fold=True)), rows)


def _said(b: Bench, everything: bool) -> list[Block]:
    blocks: list[Block] = []
    if b.moved:
        blocks += [Heading("What the readings move"), *_moved(b.moved)]
    for a in b.aside:
        blocks.append(Paragraph(f"{a.point} moves nothing: {a.why}.", mark="!"))
    for name in b.direct:
        words = f"{name} lies beyond what was thought of that number; it is read directly, so the reading counts."
        blocks.append(Paragraph(words, mark="·"))
    changed = [m for m in b.checks if m.becomes is not m.was or round(m.after - m.before, 2) != 0]
    listed = list(b.checks) if everything else changed[:_FEW_MOVES]
    if b.moved or everything:
        blocks.append(Heading("Checks before → after"))
        if not listed:
            blocks.append(Paragraph("None changes by a hundredth.", faint=True))
        else:
            blocks.append(_moves(listed))
        left = len(b.checks) - len(listed)
        if left:
            blocks.append(Paragraph(f"{left} more change less or not at all; --all lists them.", faint=True))
    return blocks


def _moved(moved: Sequence[Moved]) -> list[Block]:
    rows = tuple((m.title, _doubt(m.before, m.doubt_before, m.unit), "→", _doubt(m.after, m.doubt_after, m.unit))
                 for m in moved)  # fmt: skip
    table = Table((Column("number", fold=True), Column("was"), Column(), Column("is")), rows)
    by = "; ".join(f"{m.title}: {', '.join(m.by)}" for m in moved)
    return [table, Paragraph(f"Moved by the readings of: {by}.", faint=True)]


def _doubt(value: float, half: float, unit: str) -> str:
    """A number with its half-width, the unit once: "0.417 ± 0.059", "3.4 ± 0.068 kg"."""
    number, _, its = _plain(value, unit).partition(" ")
    width, _, other = _plain(half, unit, 2).partition(" ")
    return f"{number} ± {width} {its}".rstrip() if its == other else f"{number} {its} ± {width} {other}"


def _plain(value: float, unit: str, digits: int = 3) -> str:
    """A number in its first unit, without the twin in brackets."""
    return units.show(value, unit, digits).partition(" (")[0]


def _moves(moves: Sequence[CheckMove]) -> Table:
    rows = tuple((m.check, f"{margin_words(m.before)} {_STATES[m.was]}", "→",
                  f"{margin_words(m.after, m.before)} {_STATES[m.becomes]}") for m in moves)  # fmt: skip
    return Table((Column("check", fold=True), Column("margin before"), Column(), Column("margin after")), rows)


def _points(points: Sequence[TestPoint]) -> Table:
    rows = []
    for alike in _alike(points):
        p = alike[0]
        rows.append((p.name, units.show(p.predicted, p.unit).partition(" (")[0], band_words(p), _read_words(p)))
        rows += [(q.name, "the same", "", "") for q in alike[1:]]
    columns = (Column("point", fold=True), Column("expected"), Column("90 of 100 read"), Column("read", fold=True))
    return Table(columns, tuple(rows))


def _alike(points: Sequence[TestPoint]) -> list[list[TestPoint]]:
    """Points side by side; those of equal units with one band, that were not read yet, together."""
    groups: dict[object, list[TestPoint]] = {}
    for p in points:
        alone = p.taken is not None or not p.title
        key = p.name if alone else (p.how, p.unit, f"{p.predicted:.6g}", f"{p.high:.6g}", p.outside)
        if p.name.startswith("mass-"):
            key = p.name
        groups.setdefault(key, []).append(p)
    return list(groups.values())


def _value(p: TestPoint) -> str:
    assert p.taken is not None
    return p.taken.text


def _read_words(p: TestPoint) -> str:
    if p.taken is None:
        return "–"
    if not isfinite(p.predicted):
        return p.taken.text
    words = {"": "in band", "low": "LOW", "high": "HIGH"}[side(p)]
    return f"{p.taken.text} {words}{', used' if p.taken.used else ''}"


def _pairs(rows: Sequence[tuple[str, str]]) -> Table:
    return Table((Column(faint=True), Column(fold=True)), tuple(rows))


def _one(term: Term) -> float:
    import numpy as np

    return float(np.ravel(np.asarray(term.value, dtype=float))[0])


def _workings(term: Term) -> list[Block]:
    rows: list[tuple[str, str, str, str]] = []
    _unfold(term, 0, rows)
    return [Table((Column(), Column(fold=True), Column(), Column(fold=True, faint=True)), tuple(rows))]


def _unfold(term: Term, depth: int, rows: list[tuple[str, str, str, str]]) -> None:
    made = term.origin if isinstance(term.origin, Workings) else None
    place = f"= {made.formula}" if made else place_words(term.origin, "design.yaml")  # type: ignore[arg-type]
    rows.append((f"{'  ' * depth}{term.symbol}", term.name, _brief(term), place))
    if made and depth < _DEEP:
        for inner in made.terms:
            _unfold(inner, depth + 1, rows)


def _brief(term: Term) -> str:
    """The value of a term in few letters: of many numbers the least and the greatest."""
    text = shown(term.value, term.unit)
    return text.partition(" (")[0].replace("; ", ", ") if len(text) > _LONG else text


def _commands(b: Bench, design: str, taken: Sequence[TestPoint]) -> list[Command]:
    first = next((p for p in b.points if p.taken is None), b.points[0])
    found = [
        Command(f"dryfit readings {design} --point {first.name}", "how to read it, and where the number comes from"),
        Command(_enter(design, first), "writes what you read, and brings the checks in line"),
    ]
    if b.moved:
        found.append(Command(f"dryfit readings {design} --adopt", "writes what the readings move, with its ±"))
    if taken and not b.moved:
        found.append(Command(f"dryfit check {design}", "all checks"))
    return found


def _enter(design: str, p: TestPoint) -> str:
    value = _plain(p.predicted, p.unit).replace("·", "*").replace("µ", "u")
    return f'dryfit readings {design} --enter {p.name}="{value}"'


def _count(n: int, word: str) -> str:
    return f"{n or 'no'} {word}{'' if n == 1 else 's'}"
