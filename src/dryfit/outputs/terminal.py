"""The terminal: views drawn as text, at most 100 columns, readable without colour."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from dryfit.ground.errors import Fault
from dryfit.ground.findings import State
from dryfit.views.verdict import Row, TopicRows, Verdict
from dryfit.views.words import margin_words
from dryfit.views.workings import CaseRow, Why, WorkingsRow

WIDTH = 100
GAUGE = 12
INDENT = 4
_COLOUR = {State.SHORT: "bold red", State.UNKNOWN: "bold magenta", State.TIGHT: "yellow", State.HOLDS: "green"}
_SHORT_LINES = 8


def console(error: bool = False) -> Console:
    """A console no wider than the page; colour only where the terminal has it."""
    c = Console(stderr=error, highlight=False, soft_wrap=False)
    c.width = min(c.width, WIDTH)
    return c


def print_verdict(c: Console, v: Verdict, everything: bool = False, assumed: bool = False) -> None:
    """The verdict on a machine: headline, what to do first, then the checks by topic."""
    c.print()
    c.print(_sides(Text(f"{v.name}  dry fit", style="bold"), Text(v.file, style="dim")))
    c.print()
    c.print(Text(v.headline, style="bold"))
    c.print(Text(_counts(v), style="dim"))
    if v.figures:
        c.print()
        c.print(_figures(v.figures))
    if v.first:
        _rule(c, "First")
        for number, row in enumerate(v.first, start=1):
            c.print(_first(number, row, v.file))
    _print_topics(c, v.topics, everything)
    if assumed:
        _rule(c, "Taken by default, since the design does not say")
        c.print(_assumed(v))
    c.print()
    if v.assumed and not assumed:
        c.print(Text(f"{len(v.assumed)} values were not given and took a default: --assumed lists them.", style="dim"))
    c.print(Text(f"Unfold any check to its sources: dryfit why {v.file} CHECK", style="dim"))
    cautions = v.cautions if everything else v.first_cautions
    if cautions:
        _rule(c, "Cautions" if everything else "Cautions of what is listed above (--all prints every one)")
        for caution in cautions:
            c.print(_hanging("·", Text(caution)))
    c.print(
        Text(
            "\ndryfit informs. Whether the machine may run among people is for local codes and licensed practice.",
            style="dim",
        )
    )


def print_why(c: Console, w: Why, file: str) -> None:
    """The workings of one check, unfolded down to the lines of the design."""
    row = w.row
    c.print()
    c.print(_sides(Text(row.title, style="bold"), Text(row.check, style="dim")))
    c.print(_state_line(row))
    c.print(_hanging("", Text(_cased(row))))
    if row.needs:
        c.print(_hanging("", Text(f"To know it: {row.needs}")))
    if row.state is not State.HOLDS:
        c.print(_hanging("→", Text(row.remedy)))
    if row.caution:
        c.print(_hanging("!", Text(row.caution)))
    if w.cases:
        _rule(c, "Cases, worst first")
        c.print(_cases(w.cases))
        if w.more_cases:
            c.print(Text(f"  and {w.more_cases} more", style="dim"))
    _rule(c, "Formula")
    c.print(_hanging("", Text(w.formula)))
    _rule(c, "Numbers")
    c.print(_workings(w.workings))
    if w.lines:
        _rule(c, f"Lines of {file}")
        lines = Table.grid(padding=(0, 2))
        lines.add_column(justify="right", style="dim")
        lines.add_column(overflow="fold")
        for n, text in w.lines:
            lines.add_row(str(n), Text(text))
        c.print(Padding(lines, (0, 0, 0, 2)))
    _rule(c, "Sources")
    for source in w.sources:
        c.print(_hanging("·", Text(source)))
    c.print()


def print_faults(c: Console, faults: Iterable[Fault]) -> None:
    """What is wrong with the input, one fault a paragraph."""
    for f in faults:
        place = f"{f.file}:{f.line}" if f.line else f.file
        c.print(Text.assemble((place, "bold"), "  ", (f.key, "bold red")), soft_wrap=True)
        c.print(_hanging("", Text(f.message)))
        if f.read:
            c.print(_hanging("", Text(f"read:     {f.read}")))
        if f.accepted:
            c.print(_hanging("", Text(f"accepted: {f.accepted}")))


def _counts(v: Verdict) -> str:
    parts = [f"{n} {s.value}" for s, n in v.counts.items() if n]
    return f"{sum(v.counts.values())} checks: {', '.join(parts)}"


def _figures(figures: tuple[tuple[str, str], ...]) -> Table:
    table = Table.grid(padding=(0, 2))
    table.add_column(style="dim")
    table.add_column()
    for name, value in figures:
        table.add_row(name, value)
    return table


def _first(number: int, row: Row, file: str) -> Padding:
    body = Table.grid()
    body.add_column()
    body.add_row(Text.assemble((f"{number}  ", "bold"), (row.title, "bold")))
    body.add_row(Padding(_state_line(row), (0, 0, 0, 1)))
    details = Table.grid()
    details.add_row(Text(_cased(row)))
    details.add_row(Text(f"→ {_to_do(row)}"))
    more = [_line_words(row, file)] if row.lines else []
    more.append(f"found late it costs {row.late}")
    details.add_row(Text("; ".join(more), style="dim"))
    details.add_row(Text(f"dryfit why {file} {row.check}", style="dim"))
    body.add_row(Padding(details, (0, 0, 0, 3)))
    return Padding(body, (0, 0, 1, 0))


def _to_do(row: Row) -> str:
    if row.state is State.HOLDS:
        return "Nothing to change; it is the next to give way if a load grows."
    return row.needs or row.remedy


def _print_topics(c: Console, topics: tuple[TopicRows, ...], everything: bool) -> None:
    pressing, holding = _split(topics)
    if pressing:
        _rule(c, "Short, unknown or tight, by topic")
        _print_rows(c, pressing)
    if holding and everything:
        _rule(c, "Holds, by topic")
        _print_rows(c, holding)
    elif holding:
        _rule(c, "Holds, by trade, with the check nearest to its reserve (--all lists every one)")
        c.print(_summary(holding))


def _split(topics: tuple[TopicRows, ...]) -> tuple[tuple[TopicRows, ...], tuple[TopicRows, ...]]:
    """The topics with what does not hold, and with what holds."""

    def only(holds: bool) -> tuple[TopicRows, ...]:
        kept = [TopicRows(t.topic, tuple(r for r in t.rows if (r.state is State.HOLDS) is holds)) for t in topics]
        return tuple(t for t in kept if t.rows)

    return only(False), only(True)


def _print_rows(c: Console, topics: tuple[TopicRows, ...]) -> None:
    for t in topics:
        c.print(Text(t.topic, style="bold"))
        table = Table.grid(padding=(0, 1))
        table.add_column(width=9, justify="right")
        table.add_column(width=8, justify="right")
        table.add_column(width=GAUGE + 2)
        table.add_column(overflow="fold")
        for row in t.rows:
            words = Text.assemble(row.title, ("\n" + row.check + (f"  ({row.case})" if row.case else ""), "dim"))
            state = Text(row.state.value, style=_COLOUR[row.state])
            table.add_row(state, _margin(row), Text(_gauge(row)), words)
        c.print(table)


def _summary(topics: tuple[TopicRows, ...]) -> Table:
    """What holds, a line for each trade: how many checks, and the one nearest to its reserve."""
    by_trade: dict[str, list[Row]] = {}
    for row in (r for t in topics for r in t.rows):
        by_trade.setdefault(row.trade, []).append(row)
    table = Table.grid(padding=(0, 2))
    table.add_column(width=12)
    table.add_column(justify="right")
    table.add_column(justify="right")
    table.add_column(overflow="fold")
    for trade, rows in sorted(by_trade.items()):
        measured = [r for r in rows if not r.met] or rows
        nearest = min(measured, key=lambda r: r.margin - r.reserve)
        words = Text.assemble(nearest.title, ("  " + nearest.check, "dim"))
        table.add_row(Text(trade, style="bold"), f"{len(rows)} hold", _margin(nearest), words)
    return table


def _margin(row: Row) -> str:
    return "met" if row.met else margin_words(row.margin)


def _gauge(row: Row) -> str:
    """A margin as a bar about a middle line: left of it what is missing, right of it what is left over."""
    half = GAUGE // 2
    if row.met:
        return " " * GAUGE
    if row.margin != row.margin:
        return " " * half + "┊" + "?".ljust(half)
    size = min(half, max(1, round(abs(row.margin) * half)))
    if row.margin < 0:
        return ("▒" * size).rjust(half) + "┊" + " " * half
    return " " * half + "┊" + ("█" * size).ljust(half)


def _state_line(row: Row) -> Text:
    return Text.assemble(
        "  ",
        (row.state.value, _COLOUR[row.state]),
        "  met" if row.met else f"  margin {margin_words(row.margin)}",
        (f", asked for +{100 * row.reserve:.0f} % ({row.reserve_from})" if row.reserve else "", "dim"),
    )


def _cased(row: Row) -> str:
    return row.figures + (f"; {row.case}" if row.case else "")


def _line_words(row: Row, file: str) -> str:
    some = ", ".join(str(n) for n in row.lines[:_SHORT_LINES])
    return f"lines {some}" + (" …" if len(row.lines) > _SHORT_LINES else "")


def _cases(cases: tuple[CaseRow, ...]) -> Padding:
    table = Table.grid(padding=(0, 2))
    for justify in ("right", "left", "left", "left"):
        table.add_column(justify=justify, overflow="fold")
    for case in cases:
        table.add_row(margin_words(case.margin), case.case, case.demand, f"of {case.capacity}")
    return Padding(table, (0, 0, 0, 2))


def _workings(rows: tuple[WorkingsRow, ...]) -> Table:
    table = Table.grid(padding=(0, 2))
    table.add_column(overflow="fold", max_width=44)
    table.add_column(overflow="fold", max_width=24)
    table.add_column(overflow="fold")
    for r in rows:
        name = Padding(Text(f"{r.symbol}  {r.name}"), (0, 0, 0, 2 * (r.depth + 1)))
        place = Text(f"= {r.formula}") if r.formula else Text(r.place, style="dim")
        table.add_row(name, Text(r.value, style="bold"), place)
    return table


def _assumed(v: Verdict) -> Table:
    table = Table.grid(padding=(0, 2))
    table.add_column(overflow="fold", max_width=44)
    table.add_column(overflow="fold")
    table.add_column(overflow="fold", style="dim")
    for path, text, reason in v.assumed:
        table.add_row(path, text, reason)
    return table


def _rule(c: Console, title: str) -> None:
    c.print()
    c.print(Text(title, style="bold"))
    c.print(Text("─" * min(c.width, WIDTH), style="dim"))


def _sides(left: Text, right: Text) -> Table:
    table = Table.grid(expand=True)
    table.add_column(justify="left", ratio=1)
    table.add_column(justify="right")
    table.add_row(left, right)
    return table


def _hanging(mark: str, text: Text) -> Table:
    table = Table.grid()
    table.add_column(width=INDENT)
    table.add_column(overflow="fold")
    table.add_row(f"  {mark}", text)
    return table
