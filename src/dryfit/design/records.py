"""The root record: one design file."""

from __future__ import annotations

from dryfit.design import fields as f
from dryfit.design.sections.brief import Brief
from dryfit.design.sections.workshop import Workshop


class Design(f.Record):
    """A whole design as written. Every section may be left out; what is missing takes a listed default."""

    name: f.Text | None = None
    brief: Brief = Brief()
    workshop: Workshop = Workshop()
