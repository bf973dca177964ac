"""`dryfit sweep`: many designs at once, the best ones, a file and a chart."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Annotated

import typer

from dryfit.cli.arguments import Design, Json, faults, print_json, shown_path
from dryfit.cli.new_files import check_new, ending_of, put_in_place
from dryfit.ground.errors import DesignError, Fault
from dryfit.outputs import terminal

INTERRUPTED = 130

Vary = Annotated[
    list[str],
    typer.Option(
        "--vary", metavar="PATH=VALUES", help="What varies: PATH=from..to:step, PATH=a,b,c, PATH=catalogue:KIND."
    ),
]
Set = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="PATH=VALUE", help="The same change in all machines; PATH= leaves the key out."),
]
Best = Annotated[
    list[str] | None,
    typer.Option(
        "--best", metavar="QUANTITY", help="What is wanted best, with max or min behind it; twice: a trade-off."
    ),
]
Keep = Annotated[
    list[str] | None,
    typer.Option("--keep", metavar="CONDITION", help="Keep machines with: all, a CHECK, or QUANTITY >= VALUE."),
]
Show = Annotated[
    list[str] | None,
    typer.Option("--show", metavar="QUANTITY", help="Another quantity for the table, the file and the chart."),
]
Rows = Annotated[
    int, typer.Option("--rows", metavar="N", min=1, max=100, help="How many machines the table has, at most 100.")
]
Out = Annotated[
    Path | None, typer.Option("--out", metavar="FILE", help="Write the machines to FILE: .csv, .xlsx or .parquet.")
]
ChartFile = Annotated[
    Path | None, typer.Option("--chart", metavar="FILE", help="Draw a chart into FILE: .svg or .png.")
]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Let --out and --chart replace files that are there.")]
Cluster = Annotated[
    str | None,
    typer.Option("--cluster", metavar="ADDRESS", help="Let the workers of this scheduler do it (docs/sweeping.md)."),
]


def sweep(
    design: Design,
    vary: Vary,
    fixed: Set = None,
    best: Best = None,
    keep: Keep = None,
    show: Show = None,
    rows: Rows = 10,
    out: Out = None,
    chart: ChartFile = None,
    overwrite: Overwrite = False,
    cluster: Cluster = None,
    as_json: Json = False,
) -> None:
    """Many designs at once: what varies, what is wanted, the best of them. Ends with 0: something is left; 1: nothing
    is; 2: the input is wrong; 130: it was interrupted, and what was done until then is told and written.
    """
    from dryfit.jobs import sweep as jobs
    from dryfit.outputs import charts, tables
    from dryfit.views.plain_sweep import sweep_plain
    from dryfit.views.sweep import sweep_page
    from dryfit.views.sweep_cells import file_cells, file_columns
    from dryfit.views.sweep_chart import sweep_chart

    written: list[str] = []
    with faults(as_json), ExitStack() as files:
        endings = _endings(out, chart, overwrite)
        prepared = jobs.prepare(
            design, vary, fixed=fixed or (), best=best or (), keep=keep or (), show=show or ()
        )  # fmt: skip
        plan = prepared.plan
        if endings[0] == ".xlsx" and not plan.conditions and plan.count > tables.LONGEST_SHEET:
            words = f"a sheet holds {tables.LONGEST_SHEET} rows, and these are {plan.count} machines"
            raise DesignError([Fault("--out", 0, str(out), words, accepted=".csv or .parquet, or fewer with --keep")])
        runner = jobs.on_cluster(cluster) if cluster else None
        table: tables.TableFile | None = None
        if out is not None:
            beside = files.enter_context(put_in_place("--out", out, overwrite))
            table = tables.table_file(beside, file_columns(plan), endings[0])
            files.callback(table.close)
        with _progress(as_json, plan.count) as (on_progress, stop):
            swept = jobs.run_prepared(
                prepared,
                rows=rows,
                draw=chart is not None,
                on_progress=on_progress,
                sink=None if table is None else lambda some: table.write(file_cells(plan, some)),
                runner=runner,
                stop=stop,
            )
        if chart is not None:
            with put_in_place("--chart", chart, overwrite) as beside_chart:
                charts.draw_chart(sweep_chart(swept), beside_chart, endings[1])
            written.append(f"Drawn: {shown_path(chart)}")
        files.close()
        if out is not None and table is not None:
            lost = f"; {table.dropped} more had no room in a sheet" if table.dropped else ""
            written.insert(0, f"Written: {shown_path(out)}{lost}")
    file = shown_path(prepared.checked.path)
    if as_json:
        print_json(sweep_plain(swept, file, tuple(written)))
    else:
        terminal.print_page(terminal.console(), sweep_page(swept, file, tuple(written)))
    if swept.stopped:
        raise typer.Exit(INTERRUPTED)
    raise typer.Exit(0 if swept.tally.kept else 1)


def _endings(out: Path | None, chart: Path | None, overwrite: bool) -> tuple[str, str]:
    """Formats of the two files, seen to be possible before hours of work."""
    from dryfit.outputs import charts, tables

    found = []
    for option, path, known in (("--out", out, tuple(tables.TABLES)), ("--chart", chart, charts.ENDINGS)):
        found.append("" if path is None else ending_of(option, path, known))
        if path is not None:
            check_new(option, path, overwrite)
    return found[0], found[1]


@contextmanager
def _progress(quiet: bool, count: int) -> Iterator[tuple[Callable[[int, int], None] | None, Callable[[], bool]]]:
    """A bar on the standard error, where that is a terminal, and whether Ctrl-C was pressed. Pressed a second time it
    ends at once."""
    pressed: list[int] = []

    def press(number: int, frame: object) -> None:
        if pressed:
            raise KeyboardInterrupt
        pressed.append(number)
        if sys.stderr.isatty():
            print("\nending after the blocks under way; Ctrl-C again ends at once", file=sys.stderr)

    before = signal.signal(signal.SIGINT, press)
    try:
        if quiet or not sys.stderr.isatty():
            yield None, lambda: bool(pressed)
        else:
            with _bar(count) as on_progress:
                yield on_progress, lambda: bool(pressed)
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def _bar(count: int) -> Iterator[Callable[[int, int], None]]:
    """Machines done, how many a second, and the time left."""
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        BarColumn(24),
        MofNCompleteColumn(),
        TextColumn("machines"),
        TextColumn("{task.fields[rate]}"),
        TextColumn("left"),
        TimeRemainingColumn(compact=True),
    )
    with Progress(*columns, console=terminal.console(error=True), transient=True) as bar:
        task = bar.add_task("", total=count, rate="")

        def on_progress(done: int, total: int) -> None:
            elapsed = bar.tasks[0].elapsed or 0.0
            bar.update(task, completed=done, total=total, rate=f"{done / elapsed:,.0f}/s" if elapsed > 0 else "")

        yield on_progress
