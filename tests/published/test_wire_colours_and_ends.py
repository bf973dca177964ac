"""Colours of wires and ferrules, gauges, and what pins stand, against published lists.

Bibliography
- IEC 60757, letter codes of colours. Seen as the table of its translation GOST 28763-90 on two public pages, which
  agree: black, brown, red, orange, yellow, green, blue, violet, grey, white, pink, gold, turquoise, silver and
  green-yellow.
- EN 60204-1:2006, 13.2.2. Seen as an extract on two public pages: where colour alone identifies the protective
  conductor it is green-and-yellow, and that pair is kept for it.
- DIN 46228-4, sleeves of ferrules, and the American gauge that is used in their place. Seen as tables of two public
  pages, which agree on the colours from 0.5 to 10 mm²; the gauges stand on one of them.
- Absolute ratings and input levels. Seen: an addressable 5 V LED (input -0.5 V to supply + 0.5 V), a 3.3 V radio module
  (pins -0.3 V to supply + 0.3 V), an 8-bit controller (input high up to supply + 0.5 V).
"""

from __future__ import annotations

import pytest

from dryfit.making.connector_faults import PIN_OVER_SUPPLY, STRIP_OVER_SUPPLY
from dryfit.making.wires import RETURN_COLOUR, SIGNAL_COLOURS, SUPPLY_COLOURS, ferrule, gauge

IEC_60757 = {
    "black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white", "pink", "gold",
    "turquoise", "silver",
}  # fmt: skip


def test_colours_of_the_list_stand_in_iec_60757_seen() -> None:
    used = {*SUPPLY_COLOURS, RETURN_COLOUR, *SIGNAL_COLOURS}
    assert used <= IEC_60757
    assert RETURN_COLOUR not in (*SUPPLY_COLOURS, *SIGNAL_COLOURS)


def test_green_and_yellow_are_left_to_the_protective_conductor_en_60204_1_seen() -> None:
    assert not {"green", "yellow"} & {*SUPPLY_COLOURS, RETURN_COLOUR, *SIGNAL_COLOURS}


DIN_46228_4 = {
    0.5: "white",
    0.75: "grey",
    1.0: "red",
    1.5: "black",
    2.5: "blue",
    4.0: "grey",
    6.0: "yellow",
    10.0: "red",
}


@pytest.mark.parametrize(("size", "colour"), DIN_46228_4.items())
def test_ferrules_of_din_46228_4_seen(size: float, colour: str) -> None:
    assert ferrule(size * 1e-6) == f"ferrule {size:g} mm², {colour} sleeve"


def test_largest_ferrule_seen_on_one_page() -> None:
    assert ferrule(16e-6) == "ferrule 16 mm², blue sleeve"


# The table's 17 for 1 mm² is left out: odd gauges are hardly sold, and the list names 18.
GAUGES = {0.25: 24, 0.34: 22, 0.5: 20, 0.75: 18, 1.5: 16, 2.5: 14, 4.0: 12, 6.0: 10, 10.0: 8}


@pytest.mark.parametrize(("size", "number"), GAUGES.items())
def test_gauge_in_place_of_a_metric_wire_seen(size: float, number: int) -> None:
    assert gauge(size * 1e-6) == f"{size:g} mm² (AWG {number})"


@pytest.mark.parametrize(("over", "seen"), [(PIN_OVER_SUPPLY, 0.3), (PIN_OVER_SUPPLY, 0.5), (STRIP_OVER_SUPPLY, 0.5)])
def test_what_pins_stand_above_their_supply_is_not_above_a_sheet_seen(over: float, seen: float) -> None:
    assert over <= seen
