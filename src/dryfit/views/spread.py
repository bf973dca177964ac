"""A spread as a page: how likely each check is to hold, what drives it, and what to measure first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dryfit.ground import units
from dryfit.studies.records_spread import CheckSpread, Driver, Input, Measurement, Spreads
from dryfit.views.page import Block, Column, Command, Heading, Page, Paragraph, Table
from dryfit.views.words import LATE_WORDS, margin_words

ENOUGH = 0.95
"""Chance from which on a check counts as holding, for the exit code and the headline."""

_GAUGE = 14
_REACH = 0.6
_FIRST = 5
_RISES = {1: "↑", -1: "↓", 0: "↕"}


@dataclass(frozen=True)
class Band:
    """One check as a band of margins: 5, 50 and 95 %, and its chance in words."""

    title: str
    low: float
    middle: float
    high: float
    chance: str
    enough: bool


def page(s: Spreads, file: str, everything: bool = False, listed: bool = False) -> Page:
    """The whole: what is not certain, what would help most, what is. everything: all checks; listed: all inputs too."""
    blocks: list[Block] = [*_head(s)]
    never = [c for c in s.checks if c.holds.value == 0]
    weak = [c for c in s.checks if 0 < c.holds.value < ENOUGH]
    nearly = [c for c in s.checks if ENOUGH <= c.holds.value < 1]
    if never:
        blocks += [
            Heading("Short in every draw: no measurement helps, the design must change"),
            _checks(never, brief=True),
        ]
    if weak:
        blocks += [Heading("In doubt, weakest first"), _checks(weak), Paragraph(_LEGEND, faint=True)]
    if nearly:
        blocks += [Heading("Nearly certain, with what drives it most"), _checks(nearly, brief=True)]
    if everything:
        sure = [c for c in s.checks if c.holds.value == 1]
        blocks += [Heading("Hold in every draw, the least margin first"), _checks(sorted(sure, key=_least), brief=True)]
    if s.unknown:
        blocks.append(Heading("Cannot be known yet"))
        blocks += [Paragraph(f"{check}: {needs}", mark="?") for check, needs in s.unknown]
    if s.measurements:
        blocks += [Heading("What would help most to know"), _measurements(s, file, s.measurements[:_FIRST])]
    if listed:
        blocks += [Heading(f"The {len(s.inputs)} numbers that were drawn"), _inputs(s.inputs)]
    blocks += [Heading("Where to look next"), *_commands(s, _design(file), everything, listed)]
    return Page(s.name, file, tuple(blocks))


def check_page(s: Spreads, name: str, file: str) -> Page:
    """One check of a spread in detail."""
    c = next(one for one in s.checks if one.check == name)
    low, middle, high = (margin_words(m) for m in c.band)
    rows = [
        ("holds in", f"{chance_words(c.holds.value)} of the draws", _interval(c)),
        ("keeps its reserve in", f"{chance_words(c.kept.value)} of the draws", f"asked for {margin_words(c.reserve)}"),
        ("margin, 5 to 95 %", f"{low} to {high}", f"in the middle {middle}, as drawn up {margin_words(c.margin)}"),
        ("found late it costs", LATE_WORDS[c.late], ""),
    ]
    blocks: list[Block] = [Paragraph(c.title, strong=True)]
    if c.states_knowledge:
        blocks.append(Paragraph(_KNOWLEDGE))
    blocks.append(Table((Column(faint=True), Column(), Column(faint=True, fold=True)), tuple(rows)))
    if c.drivers:
        blocks += [Heading("What drives its margin"), _drivers(s, c), Paragraph(_shares_words(c), faint=True)]
    helpful = [m for m in s.measurements if any(check == name for check, _ in m.checks)]
    if helpful:
        blocks += [Heading("What would settle it"), _measurements(s, file, helpful[:_FIRST], name)]
    blocks += [Heading("Where to look next"), Command(f"dryfit why {_design(file)} {name}", "its workings as drawn up")]
    return Page(s.name, file, tuple(blocks))


def bands(s: Spreads, everything: bool = False) -> tuple[Band, ...]:
    """The checks that are not certain, or all that have a margin, as bands to be drawn; weakest first."""
    return tuple(
        Band(c.title, *c.band, chance_words(c.holds.value), c.holds.value >= ENOUGH)
        for c in s.checks
        if c.holds.value < 1 or (everything and c.band[0] < c.band[2])
    )


def enough(s: Spreads) -> bool:
    """Whether every check can be known and holds in at least 95 of 100 draws."""
    return not s.unknown and all(c.holds.value >= ENOUGH for c in s.checks)


def chance_words(chance: float) -> str:
    """A chance in percent, with decimals where it is nearly sure: "53 %", "99.89 %", "all", "none"."""
    if chance in (0.0, 1.0):
        return "all" if chance else "none"
    away = min(chance, 1 - chance)
    decimals = 0 if away >= 0.02 else 1 if away >= 0.002 else 2
    text = f"{100 * chance:.{decimals}f}"
    return f"{'over 99.99' if text == '100.00' else 'under 0.01' if text == '0.00' else text} %"


def range_words(one: Input) -> str:
    """The range of an input: "18 to 26 °C"."""
    return f"{units.show(one.low, one.unit)} to {units.show(one.high, one.unit)}"


_LEGEND = (
    "Beneath each check: the three numbers that drive its margin, with their share of its variance; ↑ the margin rises "
    "with that number, ↓ it falls. The gauge runs from the margin of the worst 5 % to that of the best 5 %; what is "
    "missing stands left of the line."
)
_YOURS = "It is for you to decide: write it down, and nothing of it is in doubt."
_KNOWLEDGE = "This check is about how well things are known, so it is read from the design, not from the draws."


def _head(s: Spreads) -> Iterator[Block]:
    weak = [c for c in s.checks if c.holds.value < ENOUGH]
    if weak:
        verb = "check holds" if len(weak) == 1 else "checks hold"
        words = f"{len(weak)} {verb} in fewer than 95 of 100 machines like this one."
    elif s.unknown:
        waiting = f"{len(s.unknown)} checks wait" if len(s.unknown) > 1 else "1 check waits"
        words = f"All that is known holds in at least 95 of 100 machines like this one; {waiting} for a value."
    else:
        words = "Every check holds in at least 95 of 100 machines like this one."
    yield Paragraph(words, strong=True)
    if not s.draws:
        yield Paragraph("Nothing about this machine is in doubt, or nothing is known: there was nothing to draw.")
        return
    low, high = s.all_hold.low, s.all_hold.high
    value = f"{100 * s.all_hold.value:.{_decimals(low, high)}f} % ({_percents(low, high)})"
    together = f"All of them hold at once in {value}." if s.all_hold.value else "They never hold all at once."
    yield Paragraph(f"{_certain(s)} {together}")
    yield Paragraph(
        f"{s.draws:,} machines drawn, seed {s.seed}: {len(s.inputs)} numbers not known exactly, each anywhere between "
        "its limits with the same chance. Such a chance tells what is not known yet, not luck on the day.",
        faint=True,
    )
    if s.impossible:
        yield Paragraph(
            f"{s.impossible:,} more draws make no machine and are left out; the first of them: {s.why_impossible}",
            mark="!",
        )


def _certain(s: Spreads) -> str:
    always = sum(c.holds.value == 1 for c in s.checks)
    never = sum(c.holds.value == 0 for c in s.checks)
    words = f"{always} of {len(s.checks)} checks hold in every draw"
    return f"{words}, {never} in none." if never else f"{words}."


def _least(c: CheckSpread) -> float:
    return c.band[0] - c.reserve


def _checks(checks: Sequence[CheckSpread], brief: bool = False) -> Table:
    rows = tuple((chance_words(c.holds.value), _gauge(c), _in_brief(c) if brief else _words(c)) for c in checks)
    return Table((Column("holds in", right=True), Column(), Column("check", fold=True)), rows)


def _words(c: CheckSpread) -> str:
    reserve = f", with its reserve {chance_words(c.kept.value)}" if c.reserve else ""
    band = f"margin {margin_words(c.band[0])} to {margin_words(c.band[2])}"
    lines = [c.title, f"{c.check}: {_interval(c)}{reserve}; {band}"]
    if c.states_knowledge:
        lines[1] = f"{c.check}: as the design stands, margin {margin_words(c.margin)}"
    return "\n".join([*lines, *(_driver(d) for d in c.drivers)])


def _in_brief(c: CheckSpread) -> str:
    driver = f"  {_driver(c.drivers[0])}" if c.drivers else ""
    return f"{c.title}\n{c.check}{driver}"


def _driver(d: Driver) -> str:
    return f"{_RISES[d.direction]} {f'{100 * d.share:.0f}'.rjust(2)} % {d.path}"


def _interval(c: CheckSpread) -> str:
    return _percents(c.holds.low, c.holds.high)


def _percents(low: float, high: float) -> str:
    decimals = _decimals(low, high)
    return f"{100 * low:.{decimals}f} to {100 * high:.{decimals}f} %"


def _decimals(low: float, high: float) -> int:
    return 0 if high - low >= 0.02 else 1 if high - low >= 0.002 else 2


def _gauge(c: CheckSpread) -> str:
    """The band of the margin about a middle line, up to 60 % to either side."""
    half = _GAUGE // 2
    low, high = (max(-half, min(half, round(m / _REACH * half))) for m in (c.band[0], c.band[2]))
    if low == high:
        low = max(-half, low - 1) if c.band[1] < 0 else min(half - 1, low)
        high = low + 1
    left = "".join("▒" if low <= cell < high else " " for cell in range(-half, 0))
    right = "".join("█" if low <= cell < high else " " for cell in range(half))
    return f"{left}┊{right}"


def _measurements(s: Spreads, file: str, some: Sequence[Measurement], name: str = "") -> Table:
    """name: only what concerns that check."""
    rows: list[tuple[str, str]] = []
    for m in some:
        one = s.input(m.path)
        part = dict(m.checks).get(name, m.settles)
        place = f"line {one.line}" if one.line else "not in the file yet"
        lines = [f"{one.path} ({place}), now {range_words(one)}", one.measure or _YOURS]
        lines += [_reading_words(m, one, k) for k, r in enumerate(m.readings) if name in ("", r.check)]
        others = [check for check, _ in m.checks if check not in [r.check for r in m.readings]]
        if others and not name:
            lines.append(f"It {'also ' if m.readings else ''}bears on {', '.join(others)}.")
        rows.append((f"{100 * part:.0f} %", "\n".join(line for line in lines if line)))
    return Table(
        (Column("settles", right=True), Column("of the doubt" if not name else "of its doubt", fold=True)), tuple(rows)
    )


def _reading_words(m: Measurement, one: Input, place: int) -> str:
    r = m.readings[place]
    step = (one.high - one.low) / 64
    low, high = units.show(r.low, one.unit), units.show(r.high, one.unit)
    if r.low <= one.low + step:
        between = f"{high} or less"
    elif r.high >= one.high - step:
        between = f"{low} or more"
    else:
        between = f"{low} to {high}"
    return f"Read {between}, and {r.check} holds in 19 of 20."


def _drivers(s: Spreads, c: CheckSpread) -> Table:
    totals = any(d.total == d.total for d in c.drivers)
    columns = [Column(""), Column("share", right=True), Column("number"), Column("now known to", fold=True)]
    rows = []
    for d in c.drivers:
        cells = [_RISES[d.direction], f"{100 * d.share:.0f} %", d.path, range_words(s.input(d.path))]
        rows.append((*cells[:2], f"{100 * d.total:.0f} %", *cells[2:]) if totals else tuple(cells))
    if totals:
        columns.insert(2, Column("with others", right=True))
    return Table(tuple(columns), tuple(rows))


def _shares_words(c: CheckSpread) -> str:
    words = "share: part of the variance of the margin that goes with this number alone"
    if any(d.total == d.total for d in c.drivers):
        words += "; with others: part in which it has a hand"
    return f"{words}. {100 * c.together:.0f} % comes only of numbers acting together."


def _inputs(some: Sequence[Input]) -> Table:
    rows = tuple(
        (f"{one.path}\n{_place(one)}", f"{one.text}\n{range_words(one)}", f"{one.grounds}: {one.reason}")
        for one in some
    )
    return Table(
        (
            Column("number", fold=True),
            Column("value, drawn from", fold=True),
            Column("why that far", fold=True, faint=True),
        ),
        rows,
    )


def _place(one: Input) -> str:
    return f"line {one.line}" if one.line else "not in the file"


def _design(file: str) -> str:
    return file.removesuffix("/design.yaml")


def _commands(s: Spreads, design: str, everything: bool, listed: bool) -> Iterator[Command]:
    yield Command(f"dryfit spread {design} --check CHECK", "one check: its drivers, and what would settle it")
    if not everything:
        yield Command(f"dryfit spread {design} --all", "every check, the certain ones included")
    if not listed:
        yield Command(
            f"dryfit spread {design} --inputs", f"the {len(s.inputs)} numbers, how far each may be off, and who says so"
        )
    yield Command(f"dryfit why {design} CHECK", "the workings of one check")
