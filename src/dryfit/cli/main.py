"""The command line: a thin face of the jobs. Exit 0: all hold; 1: something short or unknown; 2: the input is wrong."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from dryfit.cli.arguments import Design, Json, faults, print_json, shown_path
from dryfit.cli.fix import fix
from dryfit.cli.make import make
from dryfit.cli.readings import readings
from dryfit.cli.spread import spread
from dryfit.cli.sweep import sweep
from dryfit.jobs import check as jobs
from dryfit.outputs import terminal
from dryfit.views.plain import verdict_plain, why_plain
from dryfit.views.verdict import verdict
from dryfit.views.workings import why as unfold

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Try a floor-driving show robot together on paper before anything is printed, cut, bought or wired.",
)

All = Annotated[bool, typer.Option("--all", help="List every check, those that hold included.")]
Assumed = Annotated[bool, typer.Option("--assumed", help="List every value that was not given and took a default.")]
Deep = Annotated[bool, typer.Option("--deep", help="Unfold every number, however deep it lies.")]
_EXAMPLES = ", ".join(jobs.example_names())


@app.command()
def check(design: Design, as_json: Json = False, everything: All = False, assumed: Assumed = False) -> None:
    """All checks of a design, most pressing first. Ends with 0: all hold; 1: something is short or unknown; 2: the
    file is wrong.
    """
    with faults(as_json):
        checked = jobs.check(design)
        view = verdict(checked.report, shown_path(checked.path))
    if as_json:
        print_json(verdict_plain(view))
    else:
        terminal.print_verdict(terminal.console(), view, everything, assumed)
    raise typer.Exit(0 if jobs.all_hold(checked.report) else 1)


@app.command()
def why(
    design: Design,
    name: Annotated[str, typer.Argument(metavar="CHECK", help="Its name, as `check` prints it: tips-when-braking.")],
    as_json: Json = False,
    deep: Deep = False,
) -> None:
    """The workings of one check, down to the lines that were typed."""
    with faults(as_json):
        checked = jobs.check(design)
        view = unfold(jobs.finding(checked, name), checked.path.name, checked.text)
    if as_json:
        print_json(why_plain(view))
    else:
        terminal.print_why(terminal.console(), view, shown_path(checked.path), deep)


app.command()(fix)
app.command()(sweep)
app.command()(spread)
app.command()(make)
app.command()(readings)


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A folder that does not exist yet, or is empty.")],
    like: Annotated[
        str, typer.Option(metavar="NAME", help=f"The worked example to start from: {_EXAMPLES}.")
    ] = jobs.DEMO,
) -> None:
    """Start a design as a copy of a worked example."""
    with faults(False):
        file = jobs.new(folder, like)
    terminal.console().print(f"Wrote {file}. Change five numbers, then: dryfit check {file}", soft_wrap=True)


@app.command()
def demo(
    out: Annotated[Path, typer.Option("-o", "--out", metavar="DIR", help="The folder for what is made.")] = Path(
        "demo"
    ),
) -> None:
    """The worked example: all checks, then everything needed to make it, with the build book."""
    example = jobs.example(jobs.DEMO)
    with suppress(typer.Exit):
        check(example)
    make(example, out)


def main() -> None:
    """Entry point of the `dryfit` command."""
    app()
