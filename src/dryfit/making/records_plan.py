"""Plates on printers, and the way to the date."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from dryfit.making.records_print import Printed
from dryfit.making.records_solids import Outline


@dataclass(frozen=True)
class Placed:
    """One copy on a plate: which of the plan's printed bodies, which copy of it, and what it covers there, bed axes, m,
    from the lower left corner of the bed.  turned: from the way it lies alone, to the left, rad."""

    printed: int
    copy: int
    covers: Outline
    turned: float = 0.0


@dataclass(frozen=True)
class Plate:
    """One plate. number: from 1, in the order of printing.  on: printers that may take it, and for each the time that
    it takes there, s, failures not counted.  mass: kg.  coupons, structural: what lies on it."""

    number: int
    placed: tuple[Placed, ...]
    material: str
    nozzle: float
    bed: tuple[float, float]
    on: tuple[tuple[str, float], ...]
    mass: float
    coupons: bool
    structural: bool


@dataclass(frozen=True)
class Job:
    """A plate on a printer: begins when somebody is there, is done after its time with the failure allowance, and comes
    off when somebody is there again."""

    plate: int
    printer: str
    begins: datetime
    done: datetime
    off: datetime
    allowance: float
    failed: bool = False


@dataclass(frozen=True)
class PrintPlan:
    """All plates and jobs. finish: when the last plate comes off.  bound: no plan can be done sooner than this.
    exact: no better plan exists.  how: the method in words.  hours by printer: busy, s.  notes: what the maker should
    know (parts that slipped, plates over the longest).  least: by group of bodies that may share a plate, in words: the
    fewest plates by area and by hours that any layout needs, and the plates taken.  left: numbers of plates that no
    working printer takes.  allowed: all allowances, and what they would be if failures were seen only at the planned
    end, s.  rate: failures in a second of printing."""

    printed: tuple[Printed, ...]
    plates: tuple[Plate, ...]
    jobs: tuple[Job, ...]
    printers: tuple[str, ...]
    begins: datetime
    finish: datetime
    bound: datetime
    exact: bool
    how: str
    busy: tuple[tuple[str, float], ...]
    notes: tuple[str, ...] = ()
    least: tuple[tuple[str, int, int, int], ...] = ()
    left: tuple[int, ...] = ()
    allowed: tuple[float, float] = (0.0, 0.0)
    rate: float = 0.0


@dataclass(frozen=True)
class Slip:
    """What changed against the plan before something was lost: in words, with the days."""

    what: str
    before: datetime
    after: datetime


@dataclass(frozen=True)
class Task:
    """One task on the way to the date. begins, ends: as early as can be.  latest: the last day on which it may end.
    slack: whole working days between.  critical: none.  after: names of the tasks that it waits for.
    lead: days of the calendar that an order takes, 0 for work.  why: where `work` comes from."""

    name: str
    stage: str
    work: float
    after: tuple[str, ...]
    begins: date
    ends: date
    latest: date
    slack: int
    critical: bool
    lead: float = 0.0
    why: str = ""


@dataclass(frozen=True)
class Path:
    """The way to the date. delivery: None where none is given.  late: working days by which the last task ends after
    it, 0 where it does not.  spare: working days from there to the delivery, 0 where none are left.  hands: days of
    work in all, orders and printers left out: one pair of hands needs so many working days at least."""

    tasks: tuple[Task, ...]
    begins: date
    ends: date
    delivery: date | None
    late: int
    notes: tuple[str, ...] = ()
    spare: int = 0
    hands: float = 0.0
