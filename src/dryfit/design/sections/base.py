"""Section `base`: what the machine drives on: wheels, motors with their drivers, gear stages, axles."""

from __future__ import annotations

from pydantic import Field

from dryfit.design import fields as f
from dryfit.design.sections.axle import Axle
from dryfit.design.sections.gears import Stage
from dryfit.design.sections.motor import Driver, Motor
from dryfit.design.sections.wheels import Wheels


class Base(f.Record):
    """One motor, driver, set of gear stages and axle for each driven wheel, all alike."""

    wheels: Wheels = Wheels()
    motor: Motor = Motor()
    driver: Driver = Driver()
    gears: list[Stage] = Field(default_factory=list)
    axle: Axle | None = None
