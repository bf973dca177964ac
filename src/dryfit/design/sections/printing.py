"""Printers, filaments and how parts are printed: groups of the section `workshop`, and `print` of a part."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from dryfit.design import fields as f


class Printer(f.Record):
    """One printer: the room above its bed, what it can be fitted with, how fast it moves."""

    name: f.Text
    bed: Annotated[list[f.PositiveLength], Field(min_length=3, max_length=3, description="room: x, y and height")]
    nozzles: list[f.PositiveLength] | None = Field(default=None, description="diameters that it can be fitted with")
    materials: list[f.Text] | None = Field(default=None, description="materials that it prints; all where left out")
    speed: f.Speed | None = Field(default=None, description="of the nozzle on long straight lines")
    wall_speed: f.Speed | None = Field(default=None, description="on the outermost wall")
    travel_speed: f.Speed | None = Field(default=None, description="between lines")
    acceleration: f.Acceleration | None = Field(default=None, description="of the nozzle")
    flow: f.Flow | None = Field(default=None, description="most that the hot end melts, with its usual nozzle")
    start_time: f.Time | None = Field(default=None, description="heating and levelling before each plate")
    change_time: f.Time | None = Field(default=None, description="taking a plate off and making ready for the next")
    out_of_order: f.Flag | None = Field(default=None, description="`yes`: it takes no plates until it is mended")


class Filament(f.Record):
    """What a spool of one material is and costs, in place of the usual values."""

    material: f.Text
    flow_share: f.Share | None = Field(default=None, description="part of the hot end's flow that the material takes")
    least_layer_time: f.Time | None = Field(default=None, description="a layer is given at least so long to cool")
    spool: f.Mass | None = Field(default=None, description="mass of material on one spool")
    price: f.Money | None = Field(default=None, description="of one spool")
    in_stock: f.Mass | None = Field(default=None, description="on the shelf")


class PrintHow(f.Record):
    """How parts are printed: the workshop's usual way, or a part's own."""

    nozzle: f.PositiveLength | None = Field(default=None, description="diameter")
    layer_height: f.PositiveLength | None = Field(default=None, description="of all layers but the first")
    walls: f.Count | None = Field(default=None, description="lines around every outline")
    top_layers: f.Count | None = Field(default=None, description="solid layers under a top face")
    bottom_layers: f.Count | None = Field(default=None, description="solid layers over a bottom face")
    fill: f.Share | None = Field(default=None, description="share of the inside that is filled")
    lay: f.choice("as modelled", "on its side", "on its end", "best") | None = Field(  # type: ignore[valid-type]
        default=None, description="which way it lies on the bed"
    )
    structural: f.Flag | None = Field(default=None, description="`yes`: it carries; printed before what only shows")
    cuts: Annotated[list[f.Count], Field(min_length=3, max_length=3)] | None = Field(
        default=None, description="pieces along x, y and z that it is printed in"
    )
    sectors: f.Count | None = Field(default=None, description="equal pieces around its z axis that it is printed in")
    spares: f.Count | None = Field(default=None, description="copies more than the machine needs")


class MorePrint(f.Record):
    """Something printed that is no part of its own under `body`: a bracket inside a unit weighed as one, a coupon."""

    name: f.Text
    shape: f.choice("box", "plate", "cylinder", "tube", "rod", "cone", "sphere") | None = None  # type: ignore[valid-type]
    size: Annotated[list[f.PositiveLength], Field(min_length=3, max_length=3)] | None = None
    diameter: f.PositiveLength | None = None
    length: f.PositiveLength | None = None
    wall: f.PositiveLength | None = None
    mesh: f.Text | None = Field(default=None, description="an STL file beside the design file")
    mesh_unit: f.choice("mm", "m", "in") | None = None  # type: ignore[valid-type]
    material: f.Text | None = None
    count: f.Count | None = Field(default=None, description="how many the machine has")
    coupon: f.Flag | None = Field(default=None, description="`yes`: a test piece, printed before anything else")
    print: PrintHow = PrintHow()
