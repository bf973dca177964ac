"""Section `purchases`: what things cost and how long they take, as quoted; the rest is a class guess."""

from __future__ import annotations

from pydantic import ConfigDict, Field

from dryfit.design import fields as f


class Purchase(f.Record):
    """One thing that is bought: a catalogue key that the design uses, or a name of its own."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, populate_by_name=True)

    item: f.Text = Field(description="a catalogue key that the design uses, or a name for something more")
    count: f.Count | None = Field(default=None, description="how many, for something more")
    price: f.Money | None = Field(default=None, description="of one pack of them")
    pack_of: f.Count | None = Field(default=None, description="how many are sold together")
    lead_time: f.Time | None = Field(default=None, description="from order to door")
    in_stock: f.Count | None = Field(default=None, description="how many lie on the shelf")
    spares: f.Count | None = Field(default=None, description="how many more than the machine needs")
    from_: f.Text | None = Field(default=None, alias="from", description="where it is bought")
    needed_for: f.Text | None = Field(default=None, description="the build stage that waits for it")


class Purchases(f.Record):
    """Prices, lead times and the shelf."""

    items: list[Purchase] = Field(default_factory=list)
    lead_time: f.Time | None = Field(default=None, description="of whatever has none of its own")
    margin: f.Time | None = Field(default=None, description="orders are placed so much before the latest day")
