"""The root record: one design file."""

from __future__ import annotations

from pydantic import Field

from dryfit.design import fields as f
from dryfit.design.sections.arms import Arms
from dryfit.design.sections.base import Base
from dryfit.design.sections.body import Body
from dryfit.design.sections.brief import Brief
from dryfit.design.sections.control import Control
from dryfit.design.sections.light import Light
from dryfit.design.sections.power import Power
from dryfit.design.sections.purchases import Purchases
from dryfit.design.sections.readings import Reading
from dryfit.design.sections.safety import Safety
from dryfit.design.sections.wiring import Wiring
from dryfit.design.sections.workshop import Workshop


class Design(f.Record):
    """A whole design as written. Every section may be left out; what is missing takes a listed default.

    reserves: by the id of a check, the margin asked for in place of the usual one.
    readings: by the name of a test point, what was read there.
    """

    name: f.Text | None = None
    brief: Brief = Brief()
    workshop: Workshop = Workshop()
    base: Base = Base()
    body: Body = Body()
    power: Power | None = None
    control: Control | None = None
    light: Light | None = None
    arms: Arms | None = None
    safety: Safety | None = None
    wiring: Wiring = Wiring()
    purchases: Purchases = Purchases()
    reserves: dict[str, f.Share] = Field(default_factory=dict)
    readings: dict[str, Reading] = Field(default_factory=dict)
