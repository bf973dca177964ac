"""Section `workshop`: the printer's habits that the checks need (nozzle, layers, how far holes come out small)."""

from __future__ import annotations

from dryfit.design import fields as f


class Workshop(f.Record):
    """What this maker's printer does to a nominal size."""

    nozzle: f.PositiveLength | None = None
    line_width: f.PositiveLength | None = None
    layer_height: f.PositiveLength | None = None
    hole_offset: f.Length | None = None
    print_tolerance: f.UnsignedLength | None = None
    first_layer_flare: f.UnsignedLength | None = None
    mount_tolerance: f.UnsignedLength | None = None
    shims: list[f.PositiveLength] | None = None
