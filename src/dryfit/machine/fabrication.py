"""How the machine is made, as numbers: printers and prints, stock, wiring, orders, calendar. No check rests on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from dryfit.design.records import Design
from dryfit.ground.quantity import Kind, Origin
from dryfit.machine.calendar import Calendar, resolve_calendar
from dryfit.machine.gear_bodies import GearBodies, resolve_gear_bodies
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import Machine
from dryfit.machine.printed_things import ToPrint, things_to_print
from dryfit.machine.printing import Printing, resolve_printing
from dryfit.machine.purchases import Orders, resolve_purchases
from dryfit.machine.stock import Stock, resolve_stock
from dryfit.machine.wiring_places import WiringPlaces, resolve_wiring


@dataclass(frozen=True)
class Fabrication:
    """Everything about making one machine that the design file says, with the defaults taken for the rest.

    file: the design file, as given.  event, deadline: as promised, in words.  origins: where each number was read.
    assumed: the defaults among them.
    """

    file: str
    event: str
    deadline: str
    gears: GearBodies
    printing: Printing
    things: ToPrint
    stock: Stock
    wiring: WiringPlaces
    orders: Orders
    calendar: Calendar
    origins: Mapping[str, Origin]
    assumed: tuple[Origin, ...]


def resolve_fabrication(design: Design, machine: Machine, file: Path, start: date) -> Fabrication:
    """Put together how a machine is made; start: the first day of work where the design file names none.

    Raises DesignError with every fault that runs across keys: no printer, a place of no such name, a piece that no bar
    is long enough for.
    """
    ledger = Ledger(str(file))
    gears = resolve_gear_bodies(
        design.base.gears, ledger, machine.gears, machine.workshop, design.workshop.outside_offset
    )
    printing = resolve_printing(design.workshop, ledger, machine.workshop)
    things = things_to_print(design, ledger, machine, printing, file.parent)
    stock = resolve_stock(design.workshop.stock, design.body, machine, ledger)
    wiring = resolve_wiring(design.wiring, ledger, machine.power, machine.control, machine.origins)
    orders = resolve_purchases(design.purchases, machine, ledger, stock=stock, printing=printing)
    calendar = resolve_calendar(design.workshop, design.brief, ledger, start=start)
    ledger.close()
    return Fabrication(
        file=str(file),
        event=str(design.brief.event or ""),
        deadline=str(design.brief.deadline or ""),
        gears=gears,
        printing=printing,
        things=things,
        stock=stock,
        wiring=wiring,
        orders=orders,
        calendar=calendar,
        origins=ledger.origins,
        assumed=tuple(o for o in ledger.origins.values() if o.kind is Kind.DEFAULT),
    )
