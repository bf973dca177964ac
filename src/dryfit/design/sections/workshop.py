"""Section `workshop`: the printers and their habits, who is there when, what lies on the shelf."""

from __future__ import annotations

from pydantic import Field

from dryfit.design import fields as f
from dryfit.design.sections.printing import Filament, MorePrint, Printer, PrintHow
from dryfit.design.sections.stock import Stock


class Attended(f.Record):
    """The hours in which somebody is there to change a plate."""

    days: list[f.choice("mon", "tue", "wed", "thu", "fri", "sat", "sun")] | None = Field(  # type: ignore[valid-type]
        default=None, description="days of the week"
    )
    start: f.TimeOfDay | None = Field(default=None, description="from")
    end: f.TimeOfDay | None = Field(default=None, description="until")
    away: list[f.Date] | None = Field(default=None, description="days on which nobody is there")


class Workshop(f.Record):
    """What this maker's printers do to a nominal size, who is there when, and what lies on the shelf."""

    nozzle: f.PositiveLength | None = None
    line_width: f.PositiveLength | None = None
    layer_height: f.PositiveLength | None = None
    hole_offset: f.Length | None = None
    outside_offset: f.Length | None = Field(
        default=None, description="printed outside beyond its drawing, across; taken off the teeth of gears"
    )
    print_tolerance: f.UnsignedLength | None = None
    first_layer_flare: f.UnsignedLength | None = None
    mount_tolerance: f.UnsignedLength | None = None
    shims: list[f.PositiveLength] | None = None
    start: f.Date | None = Field(default=None, description="first day of work; today where left out")
    printers: list[Printer] | None = None
    filaments: list[Filament] = Field(default_factory=list)
    printing: PrintHow = PrintHow()
    more_prints: list[MorePrint] = Field(default_factory=list)
    time_factor: f.PositiveNumber | None = Field(default=None, description="hours that a print took over hours planned")
    failures_in_100_hours: f.UnsignedNumber | None = Field(default=None, description="prints that fail in 100 hours")
    longest_plate: f.Time | None = Field(default=None, description="plates are kept under this where parts allow it")
    attended: Attended = Attended()
    stock: Stock = Stock()
