"""`dryfit readings`: what the meter should say at every test point, what it said, and what that does to the design."""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated

import typer

from dryfit.cli.arguments import Design, Json, faults, print_json, shown_path
from dryfit.ground.errors import DesignError, Fault
from dryfit.jobs.check import design_file
from dryfit.outputs import terminal


def readings(
    design: Design,
    entered: Annotated[
        list[str] | None,
        typer.Option("--enter", metavar="POINT=VALUE", help="Write a reading into the design file; may be repeated."),
    ] = None,
    day: Annotated[
        str | None, typer.Option("--date", metavar="DAY", help="The day of --enter, as 2027-04-02; today if left out.")
    ] = None,
    name: Annotated[
        str,
        typer.Option(
            "--point", metavar="POINT", help="One test point in full: how, when to stop, where the number comes from."
        ),
    ] = "",
    take: Annotated[
        bool, typer.Option("--adopt", help="Write what the readings move into the design file, with its ±.")
    ] = False,
    everything: Annotated[bool, typer.Option("--all", help="List every check before and after.")] = False,
    plates: Annotated[
        bool, typer.Option("--plates", help="Plan the printing too, and list the hours of the first plates.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Test points by build stage: what to expect, what was read, what it moves. Ends with 0: every reading lies in its
    band and every check holds; 1: one does not; 2: the input is wrong.
    """
    from dryfit.jobs import readings as jobs
    from dryfit.jobs.making import plates_to_time
    from dryfit.views import readings as views
    from dryfit.views.plain_readings import readings_plain

    with faults(as_json):
        if take and entered:
            fault = Fault("--adopt", 0, "", "look at the readings first", "--enter and --adopt", "one at a time")
            raise DesignError([fault])
        read_on = _day(day, bool(entered))
        timed = plates_to_time(design, [name, *(entered or [])], date.today(), plates)
        if take:
            found = jobs.adopt(design, timed)
        else:
            found = jobs.enter(design, entered, read_on, timed) if entered else jobs.readings(design, timed)
        one = jobs.point(found, name) if name else None
    file, shown = shown_path(design_file(design)), shown_path(design)
    if as_json:
        print_json(readings_plain(found, file, name))
    elif take:
        terminal.print_page(terminal.console(), views.adopted_page(found, file, shown))
    elif one is not None:
        terminal.print_page(terminal.console(), views.point_page(found, one, file, shown))
    else:
        terminal.print_page(terminal.console(), views.page(found, file, shown, everything))
    raise typer.Exit(0 if jobs.as_predicted(found) else 1)


def _day(text: str | None, entering: bool) -> date | None:
    """The day that --date names. Raises DesignError for anything else, and where nothing is entered on it."""
    if text is None:
        return None
    accepted = "year-month-day, such as 2027-04-02"
    if not entering:
        raise DesignError([Fault("--date", 0, "", "there is nothing to enter on that day", text, "--enter beside it")])
    try:
        if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
            raise ValueError
        return date.fromisoformat(text)
    except ValueError:
        raise DesignError([Fault("--date", 0, "", "not a date", text, accepted)]) from None
