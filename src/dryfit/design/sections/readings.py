"""Section `readings`: what scale, meter, tape and clock said, by test point, with the day it was read."""

from __future__ import annotations

from pydantic import Field

from dryfit.design import fields as f


class Reading(f.Record):
    """One reading at a test point. `dryfit readings DESIGN --enter POINT=VALUE` writes it."""

    value: f.Text = Field(description="what was read, with its unit")
    date: f.Date | None = Field(default=None, description="the day it was read")
    earlier: f.Text | None = Field(default=None, description="readings that this one took the place of")
    used: f.Flag | None = Field(default=None, description="`yes`: the design has been brought in line with it")
