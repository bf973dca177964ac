"""The controller's pins: all of them, in order, with what the maker has to know about each wire."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from dryfit.design.read import read_text
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import Machine, resolve
from dryfit.machine.wiring_places import resolve_wiring
from dryfit.making.pin_map import held_by
from dryfit.making.records_lists import PinLine, WiringLists
from dryfit.making.wires import wiring_lists

BASE = """\
base:
  wheels: {layout: three omni, circle_radius: 300 mm}
  motor: {item: gearmotor-12v-300rpm-3nm}
body: {parts: [{name: box, shape: box, size: [200 mm, 200 mm, 100 mm], mass: 8 kg, at: [0 mm, 0 mm, 100 mm]}]}
light: {strips: [{name: ring, item: addressable-5v-60, length: 1 m}],
        data: {level_shifter: 5 V, series_resistor: 330 ohm}}
control:
  item: 32-bit-3v3
  functions:
    - {name: left motor forward, pin: 2, needs: pwm}
    - {name: left motor back, pin: 3, needs: pwm}
    - {name: right motor forward, pin: 4, needs: pwm}
    - {name: ring, pin: 8, needs: strip data}
    - {name: radio, pin: 9, needs: receiver}
    - {name: volts, pin: A0, needs: analogue}
    - {name: horn, needs: output}
  driver_inputs:
    - {name: left motor inputs, reset_state: floating, pull_down: 4.7 kohm}
    - {name: right motor inputs, reset_state: high}
wiring:
  places: {brain: [0 mm, 0 mm, 0 mm], drivers: [300 mm, 400 mm, 0 mm]}
  wires:
    - {name: left, from: drivers, to: brain, carries: [left motor forward, left motor back, ground]}
"""


def made(text: str = BASE) -> tuple[Machine, WiringLists]:
    file = Path("design.yaml")
    design = read_text(text, str(file))
    machine, ledger = resolve(design, file), Ledger("design.yaml")
    places = resolve_wiring(design.wiring, ledger, machine.power, machine.control, machine.origins)
    return machine, wiring_lists(machine, places, {})


def pins(text: str = BASE) -> dict[str, PinLine]:
    return {p.pin: p for p in made(text)[1].pins}


def test_every_pin_of_the_board_stands_in_the_map_in_order() -> None:
    machine, lists = made()
    assert tuple(p.pin for p in lists.pins) == machine.control.board.pins
    assert lists.pins[0].function == "free"
    assert {p.pin for p in lists.pins if p.function != "free"} == {"2", "3", "4", "8", "9", "A0"}


def test_wires_are_named_with_their_other_end() -> None:
    # the board is no place of the wire by name: what the bundle goes to is taken for the far end
    assert pins()["2"].wire.startswith("s1a → ")
    assert pins(BASE.replace("brain", "controller"))["2"].wire == "s1a → drivers"
    assert pins()["9"].wire == ""


@pytest.mark.parametrize(
    ("pin", "at_start", "caution"),
    [
        ("2", "low, held by 4.7 kΩ", ""),
        ("4", "HIGH", "the driver is told to go while the board starts"),
        ("8", "floats", "5 V level shifter, 330 Ω in series"),
        ("9", "listens", "never above 3.6 V"),
        ("A0", "listens", "never above 3.6 V: divider"),
    ],
)
def test_state_at_the_start_and_caution(pin: str, at_start: str, caution: str) -> None:
    line = pins()[pin]
    assert (line.at_start, line.caution) == (at_start, caution)


def test_a_motor_pin_that_nothing_holds_floats_and_says_what_to_add() -> None:
    line = pins(BASE[: BASE.index("  driver_inputs:")] + BASE[BASE.index("wiring:") :])["2"]
    assert line.at_start == "floats"
    assert "4.7 kΩ to ground" in line.caution


def test_an_input_belongs_to_the_functions_that_share_its_words() -> None:
    control: Any = made()[0].control
    names = ("left motor back", "right motor forward", "radio", "left lamp", "motor")
    assert [held_by(n, control) for n in names] == [0, 1, -1, -1, -1]


def test_functions_without_pin_or_wire_are_told() -> None:
    notes = made()[1].notes
    assert any("No pin is given for horn" in n for n in notes)
    assert any(n.startswith("No bundle carries") and "radio" in n and "left motor" not in n for n in notes)


def test_lines_point_into_the_design_file() -> None:
    at = BASE.splitlines()
    assert "radio" in at[pins()["9"].line - 1]
