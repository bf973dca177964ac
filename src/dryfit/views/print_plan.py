"""The print plan, what slips, and the way to the date as pages of words and tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from dryfit.making.records_plan import Path, PrintPlan, Slip
from dryfit.views.page import Block, Column, Heading, Page, Paragraph, Table
from dryfit.views.print_plan_drawings import KINDS, contents, kind


def print_plan_page(plan: PrintPlan, slips: Sequence[Slip] = ()) -> Page:
    """The print plan: when all is off, what is printed when and where, and how good the plan is."""
    count, printers = len(plan.plates), len(plan.printers)
    blocks: list[Block] = []
    if not plan.plates:
        blocks.append(Paragraph("There is nothing to print."))
        blocks += [Paragraph(note, mark="!") for note in plan.notes]
        return Page("Print plan", blocks=tuple(blocks))
    blocks.append(
        Paragraph(
            f"{_many(count, 'plate')} on {_many(printers, 'printer')}: first on {moment(plan.begins)}, last off"
            f" {moment(plan.finish)}.",
            strong=True,
        )
    )
    blocks.append(Paragraph(_how_good(plan)))
    blocks += [Paragraph(note, mark="!") for note in plan.notes]
    if slips:
        blocks += [Heading("What slips"), slips_table(slips)]
    blocks += [Heading("Plates in the order of printing"), plates_table(plan)]
    blocks += [Heading("Hours on the printers"), busy_table(plan)]
    blocks += [Heading("Fewest plates"), least_table(plan)]
    blocks.append(
        Paragraph(
            "Hours are those of the single parts, and one start for each plate. With the allowance for failures they"
            " make the time until a plate is done; it comes off when somebody is there.",
            faint=True,
        )
    )
    blocks.append(
        Paragraph(
            "A printer left alone is a heater left alone: smoke alarm, nothing that burns beside it; local codes and"
            " licensed practice come first.",
            mark="!",
        )
    )
    return Page("Print plan", blocks=tuple(blocks))


def _how_good(plan: PrintPlan) -> str:
    how = plan.how[:1].upper() + plan.how[1:]
    if plan.exact:
        return f"{how}: with these plates, no plan is done sooner."
    gain = (plan.finish - plan.bound).total_seconds() / 3600
    return f"{how}. No plan is done before {moment(plan.bound)}, so a better one would gain {gain:.0f} h at most."


def plates_table(plan: PrintPlan) -> Table:
    """One row for each job, in the order of beginning; plates without one at the end."""
    columns = (
        Column("plate", right=True), Column("printer"), Column("begins"), Column("off"), Column("hours", right=True),
        Column("allowed", right=True), Column("material"), Column("nozzle", right=True), Column("mass", right=True),
        Column("kind"), Column("what lies on it", fold=True),
    )  # fmt: skip
    plates = {plate.number: plate for plate in plan.plates}
    rows = []
    for job in plan.jobs:
        plate = plates[job.plate]
        hours = "failed" if job.failed else f"{dict(plate.on)[job.printer] / 3600:.1f}"
        rows.append(
            (
                f"{plate.number}", job.printer, moment(job.begins), moment(job.off), hours,
                "" if job.failed else f"+ {job.allowance / 3600:.1f}", plate.material, f"{plate.nozzle * 1e3:g} mm",
                _grams(plate.mass), KINDS[kind(plate)][0], contents(plan, plate),
            )
        )  # fmt: skip
    for number in plan.left:
        plate = plates[number]
        rows.append(
            (
                f"{number}", "none", "", "", "", "", plate.material, f"{plate.nozzle * 1e3:g} mm", _grams(plate.mass),
                KINDS[kind(plate)][0], contents(plan, plate),
            )
        )  # fmt: skip
    return Table(columns, tuple(rows))


def busy_table(plan: PrintPlan) -> Table:
    """How long each printer prints, and which part of the time until all is off."""
    whole = (plan.finish - plan.begins).total_seconds()
    rows = [
        (name, f"{seconds / 3600:.0f} h", f"{100 * seconds / whole:.0f} %" if whole > 0 else "")
        for name, seconds in plan.busy
    ]
    return Table((Column("printer"), Column("prints", right=True), Column("of the time", right=True)), tuple(rows))


def least_table(plan: PrintPlan) -> Table:
    """For each kind of plate the fewest that any layout needs, and the plates taken."""
    columns = (
        Column("what", fold=True), Column("least by area", right=True), Column("least by hours", right=True),
        Column("taken", right=True),
    )  # fmt: skip
    return Table(columns, tuple((what, f"{area}", f"{hours}", f"{taken}") for what, area, hours, taken in plan.least))


def slips_table(slips: Sequence[Slip]) -> Table:
    """What ends at another time than planned."""
    columns = (Column("what", fold=True), Column("was"), Column("is now"))
    return Table(columns, tuple((slip.what, _when(slip.before), _when(slip.after)) for slip in slips))


def path_page(path: Path, latest_starts: Mapping[str, date] | None = None, slips: Sequence[Slip] = ()) -> Page:
    """The way to the date: what has to be done by when. latest_starts: by task, the last day to begin or to order."""
    blocks: list[Block] = []
    if path.tasks:
        words = f"Work from {day(path.begins)} to {day(path.ends)}"
        if path.delivery is not None and path.late:
            words += f": {_many(path.late, 'working day')} after the delivery on {day(path.delivery)}."
        elif path.delivery is not None:
            words += f"; delivery on {day(path.delivery)}, {_many(path.spare, 'working day')} to spare."
        else:
            words += "; no delivery date is given (brief.delivery)."
        blocks.append(Paragraph(words, strong=True))
    blocks += [Paragraph(note, mark="·") for note in path.notes]
    if slips:
        blocks += [Heading("What slips"), slips_table(slips)]
    if path.tasks:
        blocks += [Heading("Tasks"), tasks_table(path, latest_starts or {})]
        blocks.append(
            Paragraph(
                "How long work takes is common practice for one builder who has done it before; slack is what a task"
                " may slip before the last one does.",
                faint=True,
            )
        )
    return Page("The way to the date", blocks=tuple(blocks))


def tasks_table(path: Path, latest_starts: Mapping[str, date]) -> Table:
    """One row for each task, in the order of beginning."""
    columns = [
        Column("task"), Column("takes", right=True), Column("begins"), Column("ends"), Column("may end"),
        Column("slack", right=True), Column("waits for", fold=True, faint=True),
    ]  # fmt: skip
    if latest_starts:
        columns.insert(4, Column("begin or order by"))
    rows = []
    for task in path.tasks:
        takes = f"{task.lead:g} days" if task.lead else f"{task.work:.1f} days"
        row = [
            task.name, takes, day(task.begins), day(task.ends), day(task.latest),
            "none" if task.critical else f"{task.slack}", ", ".join(task.after),
        ]  # fmt: skip
        if latest_starts:
            at = latest_starts.get(task.name)
            row.insert(4, day(at) if at else "")
        rows.append(tuple(row))
    return Table(tuple(columns), tuple(rows))


def moment(at: datetime) -> str:
    """A moment in words: Mon 8 Mar 08:00."""
    return f"{day(at.date())} {at:%H:%M}"


def day(at: date) -> str:
    """A day in words: Mon 8 Mar."""
    return f"{at:%a} {at.day} {at:%b}"


def _when(at: datetime) -> str:
    return day(at.date()) if at.hour == at.minute == 0 else moment(at)


def _grams(mass: float) -> str:
    return f"{mass * 1e3:.0f} g"


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
