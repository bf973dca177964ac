"""The workshop as numbers: line width, layers, and how prints depart from nominal."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from dryfit.design.sections.workshop import Workshop as WorkshopRecord
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.machine.ledger import Default, Ledger

DEFAULT_SHIMS = ("0.1 mm", "0.2 mm", "0.3 mm", "0.5 mm", "1.0 mm")


@dataclass(frozen=True)
class Workshop:
    """SI. hole_offset: printed hole minus nominal (negative: comes out small).  print_tolerance, mount_tolerance:
    half-widths of a printed size and of a mount's position.  first_layer_flare: bulge of the first layer per side.
    shims: thicknesses in the drawer (..., K)."""

    nozzle: Num
    line_width: Num
    layer_height: Num
    hole_offset: Num
    print_tolerance: Num
    first_layer_flare: Num
    mount_tolerance: Num
    shims: Array


def resolve_workshop(r: WorkshopRecord, ledger: Ledger) -> Workshop:
    """Numbers of the workshop, defaults filled in."""

    def take(key: str, text: str, spread: float, reason: str) -> Num:
        return ledger.take(f"workshop.{key}", units.LENGTH, getattr(r, key), None, Default(text, spread, reason))

    nozzle = take("nozzle", "0.4 mm", 0.0, "the usual nozzle")
    width = Default("0.45 mm", 0.1, "a line a little wider than the usual nozzle")
    if r.line_width is None and r.nozzle is not None and np.ndim(r.nozzle.si) == 0:
        width = Default(f"{1.1 * float(r.nozzle.si) * 1e3:.6g} mm", 0.1, "a line is about 1.1 nozzles wide")
    line_width = ledger.take("workshop.line_width", units.LENGTH, r.line_width, None, width)
    shims = [q.si for q in r.shims] if r.shims else [units.read(t, units.LENGTH)[0] for t in DEFAULT_SHIMS]
    default = Origin(Kind.DEFAULT, "workshop.shims", text=", ".join(DEFAULT_SHIMS), note="a usual drawer of shims")
    ledger.origins["workshop.shims"] = replace(r.shims[0].origin, path="workshop.shims") if r.shims else default
    return Workshop(
        nozzle=nozzle,
        line_width=line_width,
        layer_height=take("layer_height", "0.2 mm", 0.0, "half the usual nozzle"),
        hole_offset=take("hole_offset", "-0.2 mm", 0.5, "printed holes come out 0.1 to 0.3 mm small; measure a coupon"),
        print_tolerance=take(
            "print_tolerance", "0.1 mm", 0.5, "half-width of a printed size before a coupon is measured"
        ),
        first_layer_flare=take("first_layer_flare", "0.3 mm", 0.3, "first layers bulge by 0.2 to 0.4 mm"),
        mount_tolerance=take("mount_tolerance", "0.3 mm", 0.5, "position of a printed motor mount on slot extrusion"),
        shims=stack(shims),
    )
