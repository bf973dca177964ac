"""Outlines as DXF: closed lines in millimetres, one layer a name, for a cutter, a laser shop or a drawing program."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from dryfit.ground.quantity import Array

_MM = 1e3
_BARRED = '<>/\\":;?*|=,`'
"""Characters that a DXF layer's name may not have."""


def write_dxf(curves: Mapping[str, Sequence[Array]], path: Path) -> None:
    """Write closed curves (N, 2), m, by the name of their layer, as closed lightweight polylines in millimetres."""
    from ezdxf import units as dxf_units
    from ezdxf._options import options
    from ezdxf.filemanagement import new

    fixed = options.write_fixed_meta_data_for_testing
    # one stamp for every file, so that the same design gives the same bytes
    options.write_fixed_meta_data_for_testing = True
    try:
        document = new("R2010", setup=False)
        document.units = dxf_units.MM
        _draw(document, curves)
        document.saveas(path)
    finally:
        options.write_fixed_meta_data_for_testing = fixed


def _draw(document: Any, curves: Mapping[str, Sequence[Array]]) -> None:
    document.header["$MEASUREMENT"] = 1
    space = document.modelspace()
    for name, lines in curves.items():
        layer = layer_name(name)
        if layer not in document.layers:
            document.layers.add(layer)
        for line in lines:
            points = [(round(float(x) * _MM, 6), round(float(y) * _MM, 6)) for x, y in np.asanyarray(line)]
            space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})


def layer_name(name: str) -> str:
    """The name with everything replaced that a layer's name may not have."""
    return "".join("-" if c in _BARRED or not c.isprintable() else c for c in name).strip() or "outline"
