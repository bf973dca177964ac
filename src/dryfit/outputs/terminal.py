"""The terminal: views drawn as text, at most 100 columns, readable without colour."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.segment import Segment, Segments
from rich.table import Table
from rich.text import Text

from dryfit.ground.errors import Fault
from dryfit.ground.findings import State
from dryfit.views.page import Block, Command, Heading, Page, Paragraph
from dryfit.views.page import Table as Cells
from dryfit.views.verdict import Row, TopicRows, Verdict
from dryfit.views.words import margin_words
from dryfit.views.workings import CaseRow, Why, WorkingsRow

WIDTH = 100
GAUGE = 12
_COLOUR = {State.SHORT: "bold red", State.UNKNOWN: "bold magenta", State.TIGHT: "yellow", State.HOLDS: "green"}
_FEW_ASSUMED = 3
_SHORT_LINES = 6
_MANY_LINES = 12
_VALUE = 24
_LONG = 24
_ASSUMED = 14


def console(error: bool = False) -> Console:
    """A console no wider than the page; colour only where the terminal has it."""
    c = Console(stderr=error, highlight=False, soft_wrap=False)
    c.width = min(c.width, WIDTH)
    return c


def print_verdict(c: Console, v: Verdict, everything: bool = False, assumed: bool = False) -> None:
    """The verdict on a machine: headline, what to do first, then the checks by topic."""
    _put(c, "")
    _put(c, _sides(Text(v.name, style="bold"), Text(v.file, style="dim")))
    _put(c, "")
    _put(c, Text(v.headline, style="bold"))
    _put(c, Text(_counts(v), style="dim"))
    if v.figures:
        _put(c, "")
        _put(c, _figures(v.figures))
    to_do = [row for row in v.first if row.state is not State.HOLDS]
    nearest = [row for row in v.first if row.state is State.HOLDS]
    if to_do:
        _rule(c, "What to do first")
        for number, row in enumerate(to_do, start=1):
            _print_first(c, number, row, v.file)
    if nearest:
        _rule(c, "Next to give way if a load grows; nothing to do now")
        _put(c, _checks(nearest))
    _print_topics(c, v.topics, everything, listed={row.check for row in to_do})
    if assumed:
        _rule(c, "Taken by default, since the design does not say")
        _print_assumed(c, v)
    cautions = v.cautions if everything else v.first_cautions
    if cautions:
        _rule(c, "Cautions")
        for caution in cautions:
            _put(c, _hanging("·", Text(caution)))
    _rule(c, "Where to look next")
    _print_commands(c, list(_commands(v, everything, assumed)))
    _put(c, "")
    _put(
        c,
        Text(
            "dryfit informs. Whether the machine may run among people is for local codes and licensed practice.",
            style="dim",
        ),
    )


def print_why(c: Console, w: Why, file: str, deep: bool = False) -> None:
    """The workings of one check; deep: unfolded down to the last line of the design."""
    row = w.row
    _put(c, "")
    _put(c, _sides(Text(row.title, style="bold"), Text(row.check, style="dim")))
    _put(c, "")
    _put(c, Padding(_state_words(row), (0, 0, 0, 2)))
    _put(c, _governing(w))
    if row.needs or row.caution or row.state is not State.HOLDS:
        _put(c, "")
    if row.needs:
        _put(c, _hanging("?", Text(f"To know it: {row.needs}")))
    if row.state is not State.HOLDS:
        _put(c, _hanging("→", Text(row.remedy)))
    if row.caution:
        _put(c, _hanging("!", Text(row.caution)))
    if w.cases:
        _rule(c, "Cases, worst first")
        _put(c, _cases(w.cases))
        if w.more_cases:
            _put(c, Text(f"  and {w.more_cases} more", style="dim"))
    rows = w.workings if deep else w.outline
    _rule(c, "Numbers" + (f", in the case: {row.case}" if row.case else ""))
    _print_workings(c, rows)
    if any(r.hidden for r in rows):
        _put(c, "")
        _print_commands(c, [(f"dryfit why {_design(file)} {row.check} --deep", "every number unfolded")])
    if w.lines:
        _rule(c, f"Lines of {file} that it rests on")
        kept = row.lines if deep else row.lines[:_MANY_LINES]
        _print_lines(c, [line for line in w.lines if line[0] in kept])
        if len(kept) < len(row.lines):
            _put(c, Text(f"  and {len(row.lines) - len(kept)} more, deeper in the workings", style="dim"))
    _rule(c, "Sources")
    for source in w.sources:
        _put(c, _hanging("·", Text(source)))


def print_page(c: Console, page: Page) -> None:
    """Any page: headings, paragraphs, tables and commands in their order, a blank line between unlike ones."""
    _put(c, "")
    _put(c, _sides(Text(page.title, style="bold"), Text(page.aside, style="dim")))
    before: Block | None = None
    for is_command, run in groupby(page.blocks, key=lambda b: isinstance(b, Command)):
        blocks = list(run)
        if is_command:
            _print_commands(c, [(b.text, b.shows) for b in blocks if isinstance(b, Command)])
            before = blocks[-1]
            continue
        for block in blocks:
            if not isinstance(before, Heading | type(block)) or isinstance(block, Cells):
                _put(c, "")
            _print_block(c, block)
            before = block


def _print_block(c: Console, block: Block) -> None:
    if isinstance(block, Heading):
        _put(c, Text(block.text, style="bold"))
        _put(c, Text("─" * min(c.width, WIDTH), style="dim"))
    elif isinstance(block, Paragraph):
        words = Text(block.text, style="bold" if block.strong else "dim" if block.faint else "")
        _put(c, _hanging(block.mark, words) if block.mark else words)
    elif isinstance(block, Cells):
        _put(c, _table(block))


def _table(cells: Cells) -> Table:
    table = Table(
        box=None,
        padding=(0, 2, 0, 0),
        show_header=any(k.head for k in cells.columns),
        header_style="dim",
        pad_edge=False,
    )
    for k in cells.columns:
        table.add_column(
            k.head, justify="right" if k.right else "left", overflow="fold", no_wrap=not k.fold,
            style="dim" if k.faint else None,
        )  # fmt: skip
    for row in cells.rows:
        table.add_row(*row)
    return table


def print_faults(c: Console, faults: Iterable[Fault]) -> None:
    """What is wrong with the input, one fault a paragraph."""
    for f in faults:
        place = f"{f.file}:{f.line}" if f.line else f.file
        c.print(Text.assemble((place, "bold"), ("  " + f.key if f.key else "", "bold red")), soft_wrap=True)
        _put(c, _hanging("", Text(f.message)))
        if f.read:
            _put(c, _hanging("", Text(f"read:     {f.read}")))
        if f.accepted:
            _put(c, _hanging("", Text(f"accepted: {f.accepted}")))


def _put(c: Console, what: RenderableType) -> None:
    """Print without the blanks that a layout pads its lines with."""
    for line in c.render_lines(what, pad=False):
        segments = list(line)
        while segments and not segments[-1].text.strip():
            segments.pop()
        if segments:
            last = segments[-1]
            segments[-1] = Segment(last.text.rstrip(), last.style, last.control)
        c.print(Segments([*segments, Segment.line()]), end="", soft_wrap=True)


def _counts(v: Verdict) -> str:
    words = {State.HOLDS: "hold"}
    parts = [f"{n} {words.get(s, s.value)}" for s, n in v.counts.items() if n]
    return f"{sum(v.counts.values())} checks: {', '.join(parts)}"


def _figures(figures: tuple[tuple[str, str], ...]) -> Table:
    table = Table.grid(padding=(0, 2))
    table.add_column(style="dim")
    table.add_column()
    for name, value in figures:
        table.add_row(name, value)
    return table


def _print_first(c: Console, number: int, row: Row, file: str) -> None:
    if number > 1:
        _put(c, "")
    _put(c, _hanging(str(number), Text(row.title, style="bold")))
    _put(c, Padding(_state_words(row), (0, 0, 0, 4)))
    _put(c, Padding(Text(_cased(row)), (0, 0, 0, 4)))
    _put(c, Padding(_hanging("→", Text(row.needs or row.remedy), indent=2), (0, 0, 0, 4)))
    lines = f"{_line_words(row.lines)}; " if row.lines else ""
    _put(c, Padding(Text(f"{lines}found late it costs {row.late}", style="dim"), (0, 0, 0, 4)))
    if row.assumed:
        _put(c, Padding(Text(_assumed_words(row.assumed), style="dim"), (0, 0, 0, 4)))
    c.print(Text(f"    dryfit why {_design(file)} {row.check}", style="dim"), soft_wrap=True)


def _print_topics(c: Console, topics: tuple[TopicRows, ...], everything: bool, listed: set[str]) -> None:
    pressing, holding = _split(topics)
    if pressing and {row.check for t in pressing for row in t.rows} != listed:
        _rule(c, "All that is short, unknown or tight, by topic")
        _print_rows(c, pressing)
    if holding and everything:
        _rule(c, "Holds, by topic")
        _print_rows(c, holding)
    elif holding:
        _rule(c, "Holds, by trade: how many, and the one nearest to its reserve")
        _put(c, _summary(holding))


def _split(topics: tuple[TopicRows, ...]) -> tuple[tuple[TopicRows, ...], tuple[TopicRows, ...]]:
    """The topics with what does not hold, and with what holds."""

    def only(holds: bool) -> tuple[TopicRows, ...]:
        kept = [TopicRows(t.topic, tuple(r for r in t.rows if (r.state is State.HOLDS) is holds)) for t in topics]
        return tuple(t for t in kept if t.rows)

    return only(False), only(True)


def _print_rows(c: Console, topics: tuple[TopicRows, ...]) -> None:
    for t in topics:
        _put(c, Text(t.topic, style="bold"))
        _put(c, _checks(t.rows))


def _checks(rows: Sequence[Row]) -> Table:
    """Checks as lines: state, margin, gauge, the statement, and beneath it the name and the governing case."""
    table = Table.grid(padding=(0, 1))
    table.add_column(width=9, justify="right")
    table.add_column(width=7, justify="right")
    table.add_column(width=GAUGE + 2)
    table.add_column(overflow="fold")
    for row in rows:
        words = Text.assemble(row.title, ("\n" + row.check + (f"  ({row.case})" if row.case else ""), "dim"))
        table.add_row(Text(row.state.value, style=_COLOUR[row.state]), _margin(row), Text(_gauge(row)), words)
    return table


def _summary(topics: tuple[TopicRows, ...]) -> Table:
    """What holds, a line for each trade: how many checks, and the one nearest to its reserve."""
    by_trade: dict[str, list[Row]] = {}
    for row in (r for t in topics for r in t.rows):
        by_trade.setdefault(row.trade, []).append(row)
    table = Table.grid(padding=(0, 2))
    table.add_column(width=10)
    table.add_column(justify="right")
    table.add_column(justify="right")
    table.add_column(overflow="fold")
    for trade, rows in sorted(by_trade.items()):
        measured = [r for r in rows if not r.met] or rows
        nearest = min(measured, key=lambda r: r.margin - r.reserve)
        table.add_row(Text(trade, style="bold"), str(len(rows)), _margin(nearest), nearest.title)
    return table


def _commands(v: Verdict, everything: bool, assumed: bool) -> Iterator[tuple[str, str]]:
    """What to type next, with what it shows."""
    yield f"dryfit why {_design(v.file)} CHECK", "one check, unfolded to your lines and the sources"
    if v.counts[State.SHORT] or v.counts[State.TIGHT]:
        yield f"dryfit fix {_design(v.file)}", "what would put right what is short or tight"
    if not everything:
        yield f"dryfit check {_design(v.file)} --all", "every check, those that hold included"
    if v.assumed and not assumed:
        words = f"the {len(v.assumed)} values that were not given, and what was taken"
        yield f"dryfit check {_design(v.file)} --assumed", words


def _print_commands(c: Console, commands: Sequence[tuple[str, str]]) -> None:
    """A command is never broken, so that it can be copied; on a narrow page, what it shows stands beneath it."""
    width = max(len(command) for command, _ in commands)
    beside = width + 2 + max(len(words) for _, words in commands) <= c.width
    for command, words in commands:
        if beside:
            _put(c, Text.assemble(command.ljust(width + 2), (words, "dim")))
        else:
            c.print(Text(command), soft_wrap=True)
            _put(c, _hanging("", Text(words, style="dim")))


def _design(file: str) -> str:
    """The design as an argument of a command: its folder is enough for a design.yaml."""
    return file.removesuffix("/design.yaml")


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


def _state_words(row: Row) -> Text:
    asked = f", asked for +{100 * row.reserve:.0f} %: {row.reserve_from}" if row.reserve else ""
    return Text.assemble(
        (row.state.value, _COLOUR[row.state]),
        "  met"
        if row.met
        else f"  margin {margin_words(row.margin, row.reserve if row.state is State.TIGHT else 0.0)}",
        (asked if row.state is not State.SHORT else "", "dim"),
    )


def _cased(row: Row) -> str:
    return row.figures + (f"; {row.case}" if row.case else "")


def _assumed_words(assumed: Sequence[str]) -> str:
    more = len(assumed) - _FEW_ASSUMED
    return f"not given, so assumed: {', '.join(assumed[:_FEW_ASSUMED])}" + (f" and {more} more" if more > 0 else "")


def _line_words(lines: Sequence[int]) -> str:
    some = ", ".join(str(n) for n in sorted(lines[:_SHORT_LINES]))
    return f"{'line' if len(lines) == 1 else 'lines'} {some}" + (" …" if len(lines) > _SHORT_LINES else "")


def _governing(w: Why) -> RenderableType:
    """Demand and capacity of the governing case, the two numbers that everything else is there for."""
    table = Table.grid(padding=(0, 2))
    table.add_column(style="dim")
    split = bool(w.demand.formula)
    if split:
        table.add_column(overflow="fold")
    table.add_column(overflow="fold", style="bold")
    table.add_column(overflow="fold")
    for word, side in (("demand", w.demand), ("capacity", w.capacity)):
        cells = [side.formula, f"= {side.value}"] if split else [side.value]
        table.add_row(word, *cells, side.name)
    stack = Table.grid()
    stack.add_row(table)
    if not split:
        stack.add_row(_hanging_words("formula   ", w.formula))
    return Padding(stack, (1, 0, 0, 2))


def _cases(cases: tuple[CaseRow, ...]) -> Padding:
    table = Table.grid(padding=(0, 2))
    for justify in ("right", "left", "left", "left"):
        table.add_column(justify=justify, overflow="fold")
    for case in cases:
        table.add_row("met" if case.met else margin_words(case.margin), case.case, case.demand, f"of {case.capacity}")
    return Padding(table, (0, 0, 0, 2))


def _print_workings(c: Console, rows: Sequence[WorkingsRow]) -> None:
    """A number a line, what it is made of indented beneath it; those that stand above already in one line."""
    value = min(_VALUE, max((len(r.value) for r in rows), default=0))
    place = max((len(r.sort) for r in rows), default=0)
    for again, run in groupby(rows, key=lambda r: (r.again, r.depth if r.again else 0)):
        if again[0]:
            known = dict.fromkeys(f"{r.symbol} = {r.value}" if len(r.value) < _LONG else r.symbol for r in run)
            note = Text(f"and {', '.join(known)}, as above", style="dim")
            _put(c, Padding(note, (0, 0, 0, 2 + 2 * again[1])))
            continue
        for row in run:
            _print_number(c, row, value, place)


def _print_number(c: Console, row: WorkingsRow, value_width: int, place_width: int) -> None:
    indent = 2 + 2 * row.depth
    table = Table.grid(padding=(0, 2))
    table.add_column(width=c.width - value_width - place_width - 4, overflow="fold")
    table.add_column(width=value_width, overflow="fold", style="bold")
    table.add_column(width=place_width, overflow="fold", style="dim")
    place = "" if row.formula else row.sort
    table.add_row(Padding(_hanging_words(f"{row.symbol}  ", row.name), (0, 0, 0, indent)), row.value, place)
    _put(c, table)
    note = f"= {row.formula}" if row.formula else row.note
    if row.hidden:
        lines = f", {_line_words(row.hidden_lines)}" if row.hidden_lines else ""
        note += f"   ({row.hidden} more {'number' if row.hidden == 1 else 'numbers'}{lines})"
    if note:
        _put(c, Padding(Text(note, style="dim"), (0, 0, 0, indent + min(len(row.symbol), 8) + 2)))


def _hanging_words(mark: str, words: str) -> Table:
    """Words behind a mark; further lines begin under the first word."""
    table = Table.grid()
    table.add_column(width=len(mark), no_wrap=True)
    table.add_column(overflow="fold")
    table.add_row(mark, words)
    return table


def _print_lines(c: Console, lines: Sequence[tuple[int, str]]) -> None:
    """Lines of the design file, each cut to one line of the page."""
    for n, text in lines:
        line = Text(f"  {n:>4}  {text}")
        line.truncate(c.width, overflow="ellipsis")
        _put(c, line)


def _print_assumed(c: Console, v: Verdict) -> None:
    """Every default as it would be typed, under the group that it would be typed in."""
    key = min(_VALUE, max((len(path.rpartition(".")[2]) for path, _, _ in v.assumed), default=0))
    for group, rows in groupby(v.assumed, key=lambda a: a[0].rpartition(".")[0]):
        _put(c, Text(group, style="bold"))
        table = Table.grid(padding=(0, 2))
        table.add_column(width=key + 2, overflow="fold")
        table.add_column(width=_ASSUMED, overflow="fold")
        table.add_column(overflow="fold", style="dim")
        for path, text, reason in rows:
            table.add_row("  " + path.rpartition(".")[2], text, reason)
        _put(c, table)


def _rule(c: Console, title: str) -> None:
    _put(c, "")
    _put(c, Text(title, style="bold"))
    _put(c, Text("─" * min(c.width, WIDTH), style="dim"))


def _sides(left: Text, right: Text) -> Table:
    table = Table.grid(expand=True, padding=(0, 2))
    table.add_column(justify="left", ratio=1)
    table.add_column(justify="right")
    table.add_row(left, right)
    return table


def _hanging(mark: str, text: Text, indent: int = 4) -> Table:
    table = Table.grid()
    table.add_column(width=indent)
    table.add_column(overflow="fold")
    table.add_row(f"{'' if indent < 4 else '  '}{mark}", text)
    return table
