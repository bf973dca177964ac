"""The terminal: width, colour, blanks, and words that carry what colour would."""

from __future__ import annotations

import re
from functools import cache
from io import StringIO

import pytest
from rich.console import Console

from dryfit.ground.errors import Fault
from dryfit.ground.findings import State
from dryfit.jobs.check import Checked, check, example, example_names
from dryfit.outputs import terminal
from dryfit.views.page import Column, Command, Heading, Page, Paragraph, Table
from dryfit.views.verdict import verdict
from dryfit.views.workings import why

ANSI = re.compile(r"\x1b\[[0-9;]*m")
WIDTHS = [60, 80, 200]


@cache
def checked(name: str) -> Checked:
    return check(example(name))


def verdict_text(name: str, width: int, colour: bool = False, everything: bool = True) -> str:
    c = console(width, colour)
    terminal.print_verdict(c, verdict(checked(name).report, f"examples/{name}/design.yaml"), everything, everything)
    return text(c)


def why_text(name: str, check_id: str, width: int, colour: bool = False) -> str:
    c = console(width, colour)
    f = next(f for f in checked(name).report.findings if f.check == check_id)
    view = why(f, "design.yaml", checked(name).text)
    terminal.print_why(c, view, f"examples/{name}/design.yaml")
    return text(c)


def console(width: int, colour: bool = False) -> Console:
    return Console(
        file=StringIO(), width=min(width, terminal.WIDTH), force_terminal=colour, highlight=False,
        color_system="truecolor" if colour else None,
    )  # fmt: skip


def text(c: Console) -> str:
    assert isinstance(c.file, StringIO)
    return c.file.getvalue()


@pytest.mark.parametrize("columns", ["60", "80", "200"])
def test_the_console_is_as_wide_as_the_terminal_but_never_wider_than_the_page(
    columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert terminal.console().width == min(int(columns), 100)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", example_names())
def test_no_line_is_too_wide_and_none_ends_in_blanks(name: str, width: int) -> None:
    """Commands may be: they are not broken, so that they can be copied."""
    for words in (verdict_text(name, width), verdict_text(name, width, everything=False)):
        for line in words.splitlines():
            assert len(line) <= min(width, 100) or re.match(r" *dryfit (why|check) \S", line), line
            assert line == line.rstrip(), line


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("check_id", ["tips-when-braking", "rail-feeds-its-load", "emergency-stop-is-there"])
def test_workings_keep_to_the_page(check_id: str, width: int) -> None:
    for line in why_text("sunbloom", check_id, width).splitlines():
        assert len(line) <= min(width, 100) or re.match(r" *dryfit why \S", line), line
        assert line == line.rstrip(), line


@pytest.mark.parametrize("name", example_names())
def test_colour_adds_nothing_but_colour(name: str) -> None:
    coloured = verdict_text(name, 100, colour=True)
    assert ANSI.search(coloured)
    assert ANSI.sub("", coloured) == verdict_text(name, 100)


def test_no_colour_when_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """The usual habit of commands (from memory): any value of NO_COLOR means none."""
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("FORCE_COLOR", "1")
    c = terminal.console()
    with c.capture() as captured:
        terminal.print_verdict(c, verdict(checked("beacon").report, "design.yaml"))
    assert not re.search(r"\x1b\[[0-9;]*3[0-7]", captured.get())


def test_states_stand_in_words() -> None:
    words = verdict_text("beacon", 100)
    for state in (State.SHORT, State.TIGHT, State.HOLDS):
        assert re.search(rf"^ +{state.value} ", words, flags=re.M)


def test_margins_and_gauges_agree() -> None:
    """A bar to the left is missing, to the right is left over; the sign says the same."""
    for line in verdict_text("beacon", 100).splitlines():
        bar = re.match(r" +(?:short|tight|holds) +([+−]\d+) % ([ ▒]{6})┊([█ ]*)", line)
        if bar:
            assert ("▒" in bar[2]) == bar[1].startswith("−"), line
            assert ("█" in bar[3]) == bar[1].startswith("+"), line


def test_a_fault_shows_place_key_message_and_what_is_accepted() -> None:
    c = console(60)
    terminal.print_faults(
        c, [Fault("a.yaml", 7, "brief.speed", "needs its unit " * 6, "3", "m/s"), Fault("b", 0, "", "x")]
    )
    lines = text(c).splitlines()
    assert lines[0] == "a.yaml:7  brief.speed"
    assert all(len(line) <= 60 for line in lines)
    assert "    read:     3" in lines
    assert "    accepted: m/s" in lines
    assert lines[-2:] == ["b", "    x"]


PAGE = Page(
    "A page", "design.yaml",
    (
        Heading("Words"), Paragraph("What matters. " * 12, strong=True), Paragraph("One of several.", mark="·"),
        Paragraph("Another.", mark="·"),
        Table((Column("name", fold=True), Column("value", right=True), Column("", faint=True)),
              (("mass", "29.4 kg", "weighed"), ("a long name that " * 5, "1 mm", ""))),
        Command("dryfit check design.yaml --all", "every check"), Command("dryfit fix design.yaml", "what to change"),
    ),
)  # fmt: skip


@pytest.mark.parametrize("width", [100, 60, 30])
def test_any_page_keeps_to_its_width(width: int) -> None:
    c = console(width)
    terminal.print_page(c, PAGE)
    lines = text(c).splitlines()
    commands = [b.text for b in PAGE.blocks if isinstance(b, Command)]
    assert all(len(line) <= width or line in commands for line in lines)
    assert all(line == line.rstrip() for line in lines)
    assert all(any(command in line for line in lines) for command in commands)
    assert "29.4 kg" in text(c)


def test_numbers_of_a_table_stand_under_each_other() -> None:
    c = console(100)
    rows = (("a", "1.5"), ("b", "20.25"))
    terminal.print_page(c, Page("t", "", (Table((Column("n"), Column("v", right=True)), rows),)))
    ends = [len(line) for line in text(c).splitlines() if line[:2] in ("n ", "a ", "b ")]
    assert len(ends) == 3
    assert len(set(ends)) == 1
