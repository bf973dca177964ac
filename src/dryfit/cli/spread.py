"""`dryfit spread`: how likely each check is to hold, given what is not known about the design."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dryfit.cli.arguments import Design, Json, faults, print_json, shown_path
from dryfit.cli.new_files import check_new, ending_of, put_in_place
from dryfit.jobs.check import design_file
from dryfit.outputs import terminal

if TYPE_CHECKING:
    from dryfit.jobs.spread import Spreads


_MOST_PROCESSES = 4
"""More would not be started before the work is done."""


def spread(
    design: Design,
    as_json: Json = False,
    name: Annotated[str, typer.Option("--check", metavar="CHECK", help="One check in detail, by its name.")] = "",
    everything: Annotated[bool, typer.Option("--all", help="List every check, the certain ones included.")] = False,
    listed: Annotated[bool, typer.Option("--inputs", help="List every number that was drawn, and how far.")] = False,
    draws: Annotated[
        int | None, typer.Option(metavar="N", help="How many machines to draw, in place of 16,384.")
    ] = None,
    seed: Annotated[int, typer.Option(metavar="N", help="The same seed gives the same answer.")] = 1,
    chart: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the bands of the margins: a name ending in .svg or .png.")
    ] = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Let --chart replace a file that is there.")] = False,
) -> None:
    """Tolerances and scatter: the chance that each check holds, and what to measure first. Ends with 0: every check
    holds in 95 of 100 draws; 1: one does not, or is unknown; 2: the input is wrong.
    """
    from dryfit.outputs import charts
    from dryfit.views import spread as views
    from dryfit.views.plain_spread import spreads_plain

    with faults(as_json):
        if chart is not None:
            ending = ending_of("--chart", chart, charts.ENDINGS)
            check_new("--chart", chart, overwrite)
        found = _with_progress(design, draws, seed, name)
        file = shown_path(design_file(design))
        if chart is not None:
            with put_in_place("--chart", chart, overwrite) as beside:
                charts.draw_bands(found.name, views.bands(found, everything), beside, ending)
    if as_json:
        print_json(spreads_plain(found, file))
    elif name:
        terminal.print_page(terminal.console(), views.check_page(found, name, file))
    else:
        terminal.print_page(terminal.console(), views.page(found, file, everything, listed))
    if chart is not None and not as_json:
        terminal.console().print(f"\nDrew {chart}.", soft_wrap=True)
    raise typer.Exit(0 if views.enough(found) else 1)


def _with_progress(design: Path, draws: int | None, seed: int, name: str) -> Spreads:
    """The spread, with a bar on the standard error while it lasts, if that is a terminal."""
    from rich.progress import Progress

    from dryfit.jobs import spread as jobs

    c = terminal.console(error=True)
    with Progress(console=c, transient=True, disable=not c.is_terminal) as bar:
        task = bar.add_task("drawing machines", total=1.0)
        return jobs.spread(
            design,
            jobs.DRAWS if draws is None else draws,
            seed,
            lambda part: bar.update(task, completed=part),
            detail=name,
            processes=min(_MOST_PROCESSES, os.cpu_count() or 1),
        )
