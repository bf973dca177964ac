"""Heat from a core in a closed tube.

[1] ISO 6946:2017, Table 8: thermal resistance of an unventilated air layer of 25 mm or more between surfaces of high
    emissivity, heat flowing sideways, 0.18 m²K/W; surface resistance indoors, heat flowing sideways, 0.13 m²K/W (from
    memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.trades.light import formulas


def test_table_8_air_layer_in_a_tube() -> None:
    """[1] A core of 25 mm side and 0.9 m in a tube of 110 mm: the layer of 37 mm on the core's surface and one more
    surface to the room give the same as three surfaces one after the other, within 10 % (from memory)."""
    core, tube = 4 * 0.025 * 0.9, np.pi * 0.110 * 0.9
    layer = 0.18 / core + 0.13 / tube
    assert formulas.core_resistance(core, tube, 0.13) == pytest.approx(layer, rel=0.10)


def test_bare_core_has_one_surface() -> None:
    """[1] Without a tube the core's own surface is all there is."""
    assert formulas.core_resistance(0.09, np.inf, 0.13) == pytest.approx(0.13 / 0.09)
