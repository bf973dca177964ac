"""What a lost printer or a failed plate does to the plan: the rest is planned again from now on, what is done stays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from dryfit.ground.errors import UnknownNameError
from dryfit.machine.calendar import Calendar, Hours
from dryfit.making.plates import PrinterAtWork
from dryfit.making.printing_order import allowances, busy, notes, share_out, whole_minute
from dryfit.making.records_plan import Job, Path, Plate, PrintPlan, Slip


def replan(
    plan: PrintPlan,
    printers: Sequence[PrinterAtWork],
    calendar: Calendar,
    *,
    now: datetime,
    lost_printer: str = "",
    failed_plates: Sequence[int] = (),
) -> tuple[PrintPlan, tuple[Slip, ...]]:
    """The plan from `now` on, and what slips.

    lost_printer: takes nothing more from now on, and the plate on it is lost.  failed_plates: by number: they came out
    bad, or go wrong now, and are printed again; one that has not begun yet cannot have failed.  Plates keep their
    numbers. A plate that no printer left can take stays in the plan without a job, and is named.
    """
    names = [p.name for p in printers]
    if lost_printer and lost_printer not in names:
        raise UnknownNameError("printer", lost_printer, names)
    numbers = [str(plate.number) for plate in plan.plates]
    for number in failed_plates:
        if str(number) not in numbers:
            raise UnknownNameError("plate", str(number), numbers)
    now = max(whole_minute(now), plan.begins)
    kept: list[Job] = []
    free: dict[str, datetime] = {}
    extra: list[str] = []
    hours, changes = Hours(calendar, now), {p.name: p.change_time for p in printers}
    begun = [job for job in plan.jobs if job.begins < now]
    for job in begun:
        under_way = job.done > now
        lost = under_way and job.printer == lost_printer
        # a plate printed twice: only its last try can fail now
        bad = job.plate in failed_plates and job is [j for j in begun if j.plate == job.plate][-1]
        if (lost or bad) and not job.failed:
            seen = min(job.done, now)
            kept.append(replace(job, done=seen, off=seen, allowance=0.0, failed=True))
            if under_way and not lost:
                # it has to come off before anything else goes on
                change = math.ceil(changes[job.printer] / 60)
                free[job.printer] = hours.at(hours.work(0, change))
        else:
            kept.append(job)
            free[job.printer] = max(free.get(job.printer, now), job.off)
    for number in failed_plates:
        if not any(job.plate == number for job in begun):
            extra.append(
                f"Plate {number} has not begun by {now:%a %d %b %H:%M}, so it cannot have failed: nothing changes."
            )
    good = {job.plate for job in kept if not job.failed}
    open_plates = [plate for plate in plan.plates if plate.number not in good]
    left = [p for p in printers if p.working and p.name != lost_printer]
    jobs, finish, floor, exact, how = share_out(
        open_plates, left, calendar, rate=plan.rate, begin=now, free={n: t for n, t in free.items() if t > now}
    )
    all_jobs = tuple(sorted((*kept, *jobs), key=lambda job: (job.begins, job.printer)))
    last = max([finish if jobs else now, *(job.off for job in kept)])
    placed = good | {job.plate for job in jobs}
    orphans = tuple(plate.number for plate in plan.plates if plate.number not in placed)
    if orphans:
        extra.append(_orphaned(orphans, plan.plates, lost_printer))
    done = max((job.off for job in kept), default=plan.begins)
    new = replace(
        plan,
        jobs=all_jobs,
        finish=max(last, done) if jobs else done,
        bound=max(floor, done) if jobs else done,
        exact=exact,
        how=f"planned again from {now:%a %d %b %H:%M}: {how}",
        busy=busy(all_jobs, names),
        notes=(*extra, *notes(plan.plates, all_jobs, plan.rate), *calendar.notes),
        left=orphans,
        allowed=allowances(plan.plates, all_jobs, plan.rate),
    )
    return new, slips(plan, new)


def _orphaned(orphans: Sequence[int], plates: Sequence[Plate], lost: str) -> str:
    many = len(orphans) > 1
    words = ", ".join(map(str, orphans))
    only = sorted({name for plate in plates if plate.number in orphans for name, _ in plate.on})
    return (
        f"Plate{'s' if many else ''} {words} fit{'' if many else 's'} only {' and '.join(only)}"
        + (f", and {lost} is lost" if lost else "")
        + ": mend it, borrow one with as large a bed, or split the parts; the dates below leave"
        + (" them out." if many else " it out.")
    )


def slips(before: PrintPlan, after: PrintPlan) -> tuple[Slip, ...]:
    """What comes off later (or sooner) than planned: coupons, what carries, everything, then every plate that moved to
    another day."""
    found = []
    for what, kind in (("coupons", 0), ("what carries", 1), ("all plates", 2)):
        one, two = off(before, kind), off(after, kind)
        if one is not None and two is not None and one.date() != two.date():
            found.append(Slip(f"{what}: {_by(one, two)}", one, two))
    for plate in before.plates:
        was, new = _last(before, plate.number), _last(after, plate.number)
        if was is not None and new is not None and was.off.date() != new.off.date():
            moved = f", on {new.printer} in place of {was.printer}" if was.printer != new.printer else ""
            found.append(Slip(f"plate {plate.number}: {_by(was.off, new.off)}{moved}", was.off, new.off))
    return tuple(found)


def path_slips(before: Path, after: Path, left: Sequence[int] = ()) -> tuple[Slip, ...]:
    """Tasks on the way to the date that end on another day, and whether the delivery still holds, which comes first.
    left: numbers of plates that no printer takes; with them, nobody can say that it does."""
    found = []
    ends, was = _evening(after.ends), _evening(before.ends)
    if after.delivery is not None:
        if left and not after.late:
            verdict = (
                f"whether the delivery on {after.delivery} holds cannot be told: plate{'s' if len(left) > 1 else ''}"
                f" {', '.join(map(str, left))} ha{'ve' if len(left) > 1 else 's'} no printer"
            )
        elif after.late:
            verdict = f"the delivery on {after.delivery} does not hold: {_days(after.late, 'working day')} late"
        else:
            verdict = f"the delivery on {after.delivery} holds, with {_days(after.spare, 'working day')} to spare"
        found.append(Slip(verdict, was, ends))
    elif ends != was:
        found.append(Slip(f"the last task: {_by(was, ends)}", was, ends))
    old = {task.name: task for task in before.tasks}
    for task in after.tasks:
        if task.name in old and old[task.name].ends != task.ends:
            one, two = _evening(old[task.name].ends), _evening(task.ends)
            found.append(Slip(f"{task.name}: {_by(one, two)}", one, two))
    return tuple(found)


def off(plan: PrintPlan, kind: int) -> datetime | None:
    """When the coupons (0), coupons and what carries (1), or all plates (2) are off; None where there are
    none, or where some have no job."""
    wanted = [p for p in plan.plates if kind == 2 or (kind == 1 and (p.coupons or p.structural)) or p.coupons]
    jobs = [_last(plan, plate.number) for plate in wanted]
    known = [job.off for job in jobs if job is not None]
    return max(known) if known and len(known) == len(jobs) else None


def _last(plan: PrintPlan, number: int) -> Job | None:
    """The job in which the plate goes well."""
    return next((job for job in plan.jobs if job.plate == number and not job.failed), None)


def _evening(day: object) -> datetime:
    return datetime.fromisoformat(f"{day}T00:00:00")


def _by(one: datetime, two: datetime) -> str:
    days = (two.date() - one.date()).days
    return f"{_days(abs(days))} {'later' if days > 0 else 'sooner'}"


def _days(count: int, what: str = "day") -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
