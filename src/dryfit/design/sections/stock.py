"""Bars, tubes, extrusions and sheets: what a cut part is cut from, and what is sold and on the shelf."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from dryfit.design import fields as f


class Piece(f.Record):
    """Equal pieces that a cut part is made of."""

    stock: f.Text = Field(description="a row of the catalogue's profiles or sheets, or a name of `workshop.stock.sold`")
    length: f.PositiveLength | None = Field(
        default=None, description="of each, from a bar; of mitred ones along the middle"
    )
    size: Annotated[list[f.PositiveLength], Field(min_length=2, max_length=2)] | None = Field(
        default=None, description="of each, from a sheet: length and width"
    )
    count: f.Count | None = Field(default=None, description="for one of the part")
    ends: f.choice("square", "mitre") | None = Field(default=None, description="how they are cut")  # type: ignore[valid-type]


class Sold(f.Record):
    """Stock as it is sold, where it differs from the catalogue or is not in it."""

    name: f.Text
    length: f.PositiveLength | None = Field(default=None, description="of a bar")
    size: Annotated[list[f.PositiveLength], Field(min_length=2, max_length=2)] | None = Field(
        default=None, description="of a sheet"
    )
    price: f.Money | None = Field(default=None, description="of one bar or sheet")


class OffCut(f.Record):
    """A piece left over from earlier work, used before a new bar is cut."""

    stock: f.Text
    length: f.PositiveLength
    count: f.Count | None = None


class Stock(f.Record):
    """What is sold, what is left over, and what the saw takes."""

    kerf: f.UnsignedLength | None = Field(default=None, description="width that the saw takes")
    trim: f.UnsignedLength | None = Field(default=None, description="cut off the raw end of a new bar")
    shortest_kept: f.UnsignedLength | None = Field(default=None, description="off-cuts from this length on are kept")
    sold: list[Sold] = Field(default_factory=list)
    off_cuts: list[OffCut] = Field(default_factory=list)
