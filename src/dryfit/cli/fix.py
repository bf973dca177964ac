"""`dryfit fix`: what would put a check right, and writing one such change."""

from __future__ import annotations

from typing import Annotated

import typer

from dryfit.cli.arguments import Design, Json, faults, print_json, shown_path
from dryfit.ground.errors import DesignError, Fault
from dryfit.jobs import check as checks
from dryfit.outputs import terminal


def fix(
    design: Design,
    name: Annotated[
        str | None,
        typer.Argument(metavar="[CHECK]", help="Its name, as `check` prints it; without it, all that do not hold."),
    ] = None,
    as_json: Json = False,
    number: Annotated[
        int | None, typer.Option("--apply", metavar="N", help="Write offer N of CHECK into the design file.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Print every offer, not only the first ones.")] = False,
) -> None:
    """Single changes that put right what is short or tight. Ends with 0: each holds or has an offer; 1: some have
    none; 2: wrong input.
    """
    from dryfit.jobs import fix as jobs
    from dryfit.views.fix import applied_page, fix_page, fixes_page
    from dryfit.views.plain_fix import applied_plain, fixes_plain

    file = checks.design_file(design)
    shown, argument = shown_path(file), shown_path(design)
    with faults(as_json):
        if number is not None:
            if name is None:
                fault = Fault("--apply", 0, "", "needs the name of a check", f"--apply {number}", "CHECK --apply N")
                raise DesignError([fault])
            done = jobs.apply(design, name, number)
            if as_json:
                print_json(applied_plain(done, shown))
            else:
                terminal.print_page(terminal.console(), applied_page(done, shown, argument))
            return
        found = jobs.fix(design, name)
    if as_json:
        print_json(fixes_plain(found, shown))
    else:
        page = fixes_page if name is None else fix_page
        terminal.print_page(terminal.console(), page(found, shown, argument, everything))
    raise typer.Exit(0 if found.answered else 1)
