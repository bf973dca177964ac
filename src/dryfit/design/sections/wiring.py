"""Section `wiring`: where wires end and pass, the signal wires beside the supply, and the pins of the connectors."""

from __future__ import annotations

from typing import Annotated

from pydantic import ConfigDict, Field

from dryfit.design import fields as f

Point = Annotated[list[f.Length], Field(min_length=3, max_length=3)]


class Wire(f.Record):
    """A bundle of signal wires between two places, one wire for each entry of `carries`."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, populate_by_name=True)

    name: f.Text
    from_: f.Text = Field(alias="from", description="a place")
    to: f.Text = Field(description="a place")
    by: list[f.Text] = Field(default_factory=list, description="places that it passes, in order")
    carries: list[f.Text] = Field(description="one wire each: a function of `control`, a branch of `power`, or ground")
    area: f.WireArea | None = Field(default=None, description="cross-section of each")
    length: f.PositiveLength | None = Field(default=None, description="as measured, in place of the way by the places")
    colours: list[f.Text] | None = Field(default=None, description="one for each wire")


class Run(f.Record):
    """The way of a branch of `power`, between its ends, where it is not straight."""

    branch: f.Text = Field(description="its name; `packs` and `main` are the leads of the packs and the main line")
    from_: f.Text | None = Field(default=None, alias="from", description="the place where it begins")
    to: f.Text | None = Field(default=None, description="the place where it ends")
    by: list[f.Text] = Field(default_factory=list, description="places that it passes, in order")
    colours: list[f.Text] | None = Field(default=None, description="of the supply wire and the return wire")

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, populate_by_name=True)


class Connector(f.Record):
    """A connector on a place, with what each of its contacts carries, in order."""

    name: f.Text
    at: f.Text | None = Field(default=None, description="a place")
    item: f.Text | None = Field(default=None, description="a row of the catalogue's connectors")
    contacts: list[f.Text] = Field(description="branch, branch return, function of `control`, `ground` or `spare`")
    rows: f.Count | None = Field(default=None, description="rows of contacts, numbered along each row")
    keyed: f.Flag | None = Field(default=None, description="`yes`: it goes in one way round only")
    mates: f.Text | None = Field(default=None, description="another of the same shape that it could be put on")


class Wiring(f.Record):
    """Places, ways and connectors. Lengths follow from the places, along them and with slack."""

    places: dict[str, Point] = Field(default_factory=dict, description="x, y, z of each, by name")
    slack: f.Share | None = Field(default=None, description="added to the way for bends and a second crimp")
    tail: f.UnsignedLength | None = Field(default=None, description="added at each end for the connector")
    runs: list[Run] = Field(default_factory=list)
    wires: list[Wire] = Field(default_factory=list)
    connectors: list[Connector] = Field(default_factory=list)
