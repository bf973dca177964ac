"""Everything about making a machine, worked out and handed on from one to the next: gears, prints, plan, lists."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from pathlib import Path

import numpy as np

from dryfit.assess.results import Results, results
from dryfit.design.read import read_text
from dryfit.design.tree import read_tree
from dryfit.ground.errors import DesignError, Fault
from dryfit.ground.quantity import Kind
from dryfit.jobs.check import Checked, check
from dryfit.machine.fabrication import Fabrication, resolve_fabrication
from dryfit.machine.machine import Machine
from dryfit.machine.printing import How
from dryfit.making.alternatives import alternatives
from dryfit.making.cutting import cut_list
from dryfit.making.gear_pairs import gear_pairs
from dryfit.making.losses import path_slips, replan
from dryfit.making.lying import print_set
from dryfit.making.plates import PrinterAtWork, lay_out
from dryfit.making.printing_order import plan_printing
from dryfit.making.purchases import purchases
from dryfit.making.records_bench import Stage
from dryfit.making.records_gears import GearPair
from dryfit.making.records_lists import CutList, Purchases, WiringLists
from dryfit.making.records_plan import Path as WayToDate
from dryfit.making.records_plan import PrintPlan, Slip
from dryfit.making.records_print import Alternative, Body, Printed
from dryfit.making.stages import stages
from dryfit.making.way_to_date import activities, latest_start, way_to_date
from dryfit.making.wires import wiring_lists
from dryfit.trades.power.checks_supply import LASTING_LABELS

Progress = Callable[[float, str], None]

FIRST_PLATES = 3
"""Plates that are timed against the plan."""
PLATE_POINTS = "plate-"
"""How the names of their test points begin."""


@dataclass(frozen=True)
class Loss:
    """What was lost, and when it was noticed. printer: takes nothing more.  plates: came out bad, by number."""

    printer: str = ""
    plates: tuple[int, ...] = ()
    on: datetime | None = None


@dataclass(frozen=True)
class Prints:
    """The printed half of the making: gear pairs, bodies as they lie, plates on printers, and what slipped."""

    pairs: tuple[GearPair, ...]
    printed: tuple[Printed, ...]
    plan: PrintPlan
    slips: tuple[Slip, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Making:
    """A checked design and everything worked out about making it."""

    checked: Checked
    results: Results
    fabrication: Fabrication
    prints: Prints
    others: tuple[Alternative, ...]
    stages: tuple[Stage, ...]
    cuts: CutList
    wiring: WiringLists
    purchases: Purchases
    way: WayToDate
    slips: tuple[Slip, ...]


def making(
    path: Path,
    *,
    today: date,
    start: date | None = None,
    loss: Loss | None = None,
    on_progress: Progress = lambda part, words: None,
) -> Making:
    """Everything about making the machine of a design file. Writes nothing.

    today: the first day of work where the file names none.  start: the first day of work, whatever the file says.
    loss: a printer or plates that were lost; the rest is planned again.  on_progress: is told the part done, 0 to 1,
    and what is being done. Raises DesignError with every fault of the file, UnknownNameError for a printer or plate
    that does not exist.
    """
    checked = check(path)
    machine = checked.machine
    fabrication = fabricated(checked, today, start)
    found = results(machine)
    prints = printing(machine, fabrication, loss, on_progress)
    on_progress(0.7, "other nozzles and layers")
    others = alternatives(prints.printed, fabrication.printing)
    on_progress(0.8, "lists")
    built = stages(machine)
    cuts = cut_list(fabrication.stock)
    wiring = wiring_lists(machine, fabrication.wiring, *_currents_and_volts(found))
    way, bought = _way_and_purchases(machine, fabrication, prints.plan, built, cuts, wiring)
    slipped: tuple[Slip, ...] = prints.slips
    if loss is not None:
        as_meant = printing(machine, fabrication, None, lambda part, words: None, prints)
        before, _ = _way_and_purchases(machine, fabrication, as_meant.plan, built, cuts, wiring)
        slipped = (*path_slips(before, way, prints.plan.left), *prints.slips)
    return Making(checked, found, fabrication, prints, others, built, cuts, wiring, bought, way, slipped)


def fabricated(checked: Checked, today: date, start: date | None = None) -> Fabrication:
    """How a checked design is made, in numbers."""
    design = read_text(checked.text, str(checked.path))
    if start is not None:
        workshop = design.workshop.model_copy(update={"start": None})
        design = design.model_copy(update={"workshop": workshop})
    try:
        return resolve_fabrication(design, checked.machine, checked.path, start or today)
    except DesignError as wrong:
        raise DesignError(_where_written(wrong.faults, checked)) from None


def _where_written(faults: Sequence[Fault], checked: Checked) -> list[Fault]:
    """The faults with the lines on which their keys stand, also of keys with an empty list behind them."""
    spans = read_tree(checked.text, str(checked.path)).spans
    found = []
    for fault in faults:
        at = spans.get(fault.key)
        line = fault.line if at is None else checked.text.count("\n", 0, at.start) + 1
        found.append(replace(fault, line=line))
    return sorted(found, key=lambda fault: fault.line)


def printing(
    machine: Machine,
    fabrication: Fabrication,
    loss: Loss | None,
    on_progress: Progress,
    known: Prints | None = None,
) -> Prints:
    """The gears and the print plan. known: prints of the same design, whose bodies are taken as they are."""
    shop = fabrication.printing
    if known is None:
        on_progress(0.0, "gears")
        pairs = gear_pairs(machine, fabrication.gears)
        laid_down = print_set(
            fabrication.things.things, shop, _gear_bodies(pairs, fabrication), file=fabrication.file,
            on_progress=lambda part, words: on_progress(0.05 + 0.55 * part, words),
        )  # fmt: skip
        if laid_down.faults:
            raise DesignError(replace(f, line=f.line or _line(machine, f.key)) for f in laid_down.faults)
        printed, notes = laid_down.printed, (*fabrication.things.notes, *laid_down.notes)
    else:
        pairs, printed, notes = known.pairs, known.printed, known.notes
    on_progress(0.6, "plates")
    printers = tuple(
        PrinterAtWork(p.name, (p.bed[0], p.bed[1]), p.start_time, p.change_time, not p.out_of_order)
        for p in shop.printers
    )
    laid = lay_out(printed, printers, longest=shop.longest_plate)
    rate = shop.failures_in_100_hours / 360_000.0
    plan = plan_printing(printed, laid, printers, fabrication.calendar, rate=rate)
    slipped: tuple[Slip, ...] = ()
    if loss is not None:
        now = loss.on or datetime.combine(fabrication.calendar.first, time())
        plan, slipped = replan(
            plan, printers, fabrication.calendar, now=now, lost_printer=loss.printer, failed_plates=loss.plates
        )
    return Prints(pairs, printed, plan, slipped, notes)


def _line(machine: Machine, key: str) -> int:
    """Line of the first thing written below a key of the design, 0 where nothing is."""
    below = (o.line for path, o in machine.origins.items() if path.startswith(f"{key}.") and o.kind is Kind.DESIGN)
    return min((line for line in below if line), default=0)


def plates_to_time(path: Path, names: Sequence[str], today: date, asked: bool = False) -> tuple[tuple[str, float], ...]:
    """Name and planned time, s, of the first plates, where one of the test points `names`, or a reading in the file, is
    about them, or they are asked for: everything has to be sliced for it. Else nothing."""
    checked = check(path)
    design = read_text(checked.text, str(checked.path))
    if not asked and not any(name.startswith(PLATE_POINTS) for name in (*names, *design.readings)):
        return ()
    return first_plates(printing(checked.machine, fabricated(checked, today), None, lambda part, words: None))


def first_plates(prints: Prints) -> tuple[tuple[str, float], ...]:
    """Name and time, s, of the plates that are printed first, on the printers that they are planned for."""
    by_number = {plate.number: dict(plate.on) for plate in prints.plan.plates}
    jobs = [job for job in prints.plan.jobs if job.printer in by_number[job.plate]]
    return tuple((f"plate {job.plate}", by_number[job.plate][job.printer]) for job in jobs[:FIRST_PLATES])


def _gear_bodies(pairs: Sequence[GearPair], fabrication: Fabrication) -> tuple[Body, ...]:
    """The printed members of the gear pairs, and slices and boards to try them with."""
    usual = fabrication.printing.usual
    carries = How(
        usual.nozzle, usual.layer_height, usual.line_width, max(usual.walls, 4), usual.top_layers, usual.bottom_layers,
        max(usual.fill, 0.4), "as modelled", True,
    )  # fmt: skip
    slice_of = replace(carries, structural=False)
    found: list[Body] = []
    for pair in pairs:
        tried = [m for m in (pair.pinion, pair.gear) if m.printed]
        for member in tried:
            material = _filament_of(member.material)
            found.append(Body(member.name, pair.path, "base", material, member.solid, member.count, carries))
            found.append(
                Body(f"slice of the {member.name}", pair.path, "", material, member.slice, 1, slice_of, coupon=True)
            )
        if tried:
            material = _filament_of(tried[-1].material)
            found.append(Body(board_name(pair, pairs), pair.path, "", material, pair.board, 1, slice_of, coupon=True))
    return tuple(found)


def board_name(pair: GearPair, pairs: Sequence[GearPair]) -> str:
    """What the board of a pair is called; of several stages it carries the name of its own."""
    return "mesh board" if len(pairs) == 1 else f"mesh board {pair.name}"


def _filament_of(gear_material: str) -> str:
    """The filament of a printed gear's material: "printed-petg" is printed of petg."""
    return gear_material.removeprefix("printed-")


def _currents_and_volts(found: Results) -> tuple[dict[str, float], dict[str, float]]:
    """Largest lasting current by branch and of the main line, A; highest lasting volts at each branch's end."""
    power = found.power
    lasting = [n for n, label in enumerate(power.cases) if label in LASTING_LABELS]
    current = np.max(np.asarray(power.branch_current.value)[..., lasting], axis=-1)
    volts = np.max(np.asarray(power.node_voltage.value)[..., lasting], axis=-1)
    total = float(np.max(np.asarray(power.source_current.value)[..., lasting]))
    currents = {name: float(i) for name, i in zip(power.branches, current, strict=True)}
    return {**currents, "main": total}, {name: float(u) for name, u in zip(power.branches, volts, strict=True)}


def _way_and_purchases(
    machine: Machine,
    fabrication: Fabrication,
    plan: PrintPlan,
    built: Sequence[Stage],
    cuts: CutList,
    wiring: WiringLists,
) -> tuple[WayToDate, Purchases]:
    """The way to the date, and what has to be ordered by when: the stages say when things are needed, and what takes
    long to come moves the stages."""
    names = tuple(stage.name for stage in built)
    counts = {
        "wheel units": int(sum(machine.wheels.driven)),
        "cuts": sum(len(bar.cuts) for bar in cuts.bars),
        "branches": len(machine.power.branches.names),
        "wires": len(wiring.wires),
        "strips": len(machine.light.strips),
        "arms": len(machine.arms.names),
        "printed parts": sum(len(plate.placed) for plate in plan.plates),
    }
    calendar = fabrication.calendar
    without = way_to_date(calendar, activities(calendar, plan, stages=names, counts=counts))
    needed: dict[str, date] = {}
    if calendar.delivery is not None:
        for task in without.tasks:
            day = latest_start(without, task.name, calendar)
            needed[task.stage] = min(day, needed.get(task.stage, day))
    bought = purchases(
        machine, fabrication.orders, cuts=cuts, wiring=wiring, filament=_filament(plan), needed_on=needed
    )
    orders = [(line.name, line.lead_time / 86400.0, line.needed_for) for line in bought.lines if line.count > 0]
    way = way_to_date(calendar, activities(calendar, plan, stages=names, counts=counts, orders=orders))
    return way, bought


def _filament(plan: PrintPlan) -> Mapping[str, float]:
    """Material to print, kg, with what failed prints cost: the same share as they cost in time."""
    times = {plate.number: dict(plate.on) for plate in plan.plates}
    good = [job for job in plan.jobs if not job.failed]
    planned = sum(times[job.plate][job.printer] for job in good)
    more = 1.0 + (sum(job.allowance for job in good) / planned if planned > 0 else 0.0)
    mass: dict[str, float] = {}
    for plate in plan.plates:
        mass[plate.material] = mass.get(plate.material, 0.0) + plate.mass * more
    return mass
