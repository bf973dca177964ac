"""`dryfit make`: everything needed to make the machine, in one folder."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dryfit.cli.arguments import Design, Json, faults, print_json, shown_path
from dryfit.ground.errors import DesignError, Fault
from dryfit.outputs import terminal

if TYPE_CHECKING:
    from dryfit.jobs.make import Made
    from dryfit.jobs.making import Loss


def make(
    design: Design,
    out: Annotated[Path, typer.Option("-o", "--out", metavar="DIR", help="The folder to fill: new, or made before.")],
    as_json: Json = False,
    start: Annotated[
        str, typer.Option(metavar="DATE", help="First day of work, such as 2027-03-08, in place of the file's.")
    ] = "",
    lost: Annotated[str, typer.Option(metavar="PRINTER", help="A printer that is broken: plan again without it.")] = "",
    failed: Annotated[
        list[int] | None, typer.Option(metavar="PLATE", help="A plate that came out bad, by its number: plan it again.")
    ] = None,
    on: Annotated[
        str, typer.Option(metavar="DATE", help="When that was noticed, such as 2027-03-20 or '2027-03-20 14:00'.")
    ] = "",
) -> None:
    """Gears, print plan, lists and build book into a folder. Ends with 0: made, and in time; 1: made, but the date,
    the budget or a check is not held; 2: the input is wrong, and nothing was written.
    """
    from dryfit.views.make import made_page
    from dryfit.views.plain_make import made_plain

    with faults(as_json):
        first = _moment("--start", start).date() if start else None
        made = _with_progress(design, out, first, _loss(lost, failed or [], on))
    if as_json:
        print_json(made_plain(made.summary))
    else:
        terminal.print_page(terminal.console(), made_page(made.summary, shown_path(made.design), shown_path(out)))
    raise typer.Exit(0 if made.summary.held else 1)


def _loss(printer: str, plates: list[int], on: str) -> Loss | None:
    from dryfit.jobs.making import Loss

    if not printer and not plates:
        if on:
            raise DesignError([Fault("--on", 0, on, "says when, but not what was lost", accepted="--lost or --failed")])
        return None
    return Loss(printer, tuple(plates), _moment("--on", on) if on else datetime.now())


def _moment(option: str, text: str) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        accepted = "year-month-day, such as 2027-03-20"
        raise DesignError([Fault(option, 0, "", "not a date", text, accepted)]) from None


def _with_progress(design: Path, out: Path, start: date | None, loss: Loss | None) -> Made:
    """The folder, with a bar on the standard error while it lasts, if that is a terminal."""
    from rich.progress import Progress

    from dryfit.jobs import make as jobs

    c = terminal.console(error=True)
    with Progress(console=c, transient=True, disable=not c.is_terminal) as bar:
        task = bar.add_task("making", total=1.0)
        return jobs.make(
            design, out, today=date.today(), start=start, loss=loss,
            on_progress=lambda part, words: bar.update(task, completed=part, description=words),
        )  # fmt: skip
