"""The controller's pins in order: what each does, where its wire goes, how it stands while the board starts."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from dryfit.ground.quantity import Origin
from dryfit.ground.units import show
from dryfit.machine.control import Control
from dryfit.machine.light import Light
from dryfit.machine.wiring_places import WiringPlaces
from dryfit.making.connector_faults import PIN_OVER_SUPPLY
from dryfit.making.records_lists import PinLine, WireLine

FREE = "free"
_DRIVEN_AT_RESET = ("pwm", "output")
PULL_DOWN = "4.7 kΩ"
"""A usual resistor that holds a driver's input low (common practice: 2.2 to 10 kΩ)."""


def pin_lines(
    control: Control, light: Light, places: WiringPlaces, wires: Sequence[WireLine], origins: Mapping[str, Origin]
) -> tuple[PinLine, ...]:
    """Every pin of the board, in the board's order; those that do nothing are called free."""
    out: list[PinLine] = []
    for pin in control.board.pins:
        here = [n for n, p in enumerate(control.pins) if p == pin]
        out += [_used(n, pin, control, light, places, wires, origins) for n in here]
        if not here:
            out.append(PinLine(pin, FREE, "", "", "", "", 0))
    return tuple(out)


def pin_notes(control: Control, places: WiringPlaces) -> tuple[str, ...]:
    """What the map cannot show: functions that have no pin, and those whose wire is in no bundle."""
    carried = {c for b in places.bundles for c in b.carries}
    loose = [name for name, pin in zip(control.names, control.pins, strict=True) if not pin]
    bare = [name for name, pin in zip(control.names, control.pins, strict=True) if pin and name not in carried]
    notes = []
    if loose:
        notes.append(f"No pin is given for {', '.join(loose)}: write `pin` at each function of `control`.")
    if bare and carried:
        notes.append(f"No bundle carries {', '.join(bare)}: add it under wiring.wires, or wire it on the board.")
    return tuple(notes)


def held_by(function: str, control: Control) -> int:
    """Which driver input a function drives, by its name: all words of the input's name but the last begin that of the
    function ("motor 1 inputs" and "motor 1 forward"); the longest wins. -1 where none does."""
    words = function.split()
    best, most = -1, 0
    for n, name in enumerate(control.input_names):
        stem = name.split()
        stem = stem[:-1] if len(stem) > 1 else stem
        if words[: len(stem)] == stem and len(stem) > most:
            best, most = n, len(stem)
    return best


def _used(
    n: int, pin: str, control: Control, light: Light, places: WiringPlaces, wires: Sequence[WireLine],
    origins: Mapping[str, Origin],
) -> PinLine:  # fmt: skip
    name, needs, at = control.names[n], control.needs[n], f"{control.paths[n]}.name"
    bundles = {b.name for b in places.bundles if name in b.carries}
    mine = [w for w in wires if w.name == name and w.bundle in bundles]
    wire = f"{mine[0].number} → {_far(mine, name)}" if mine else ""
    return PinLine(
        pin=pin, function=name, needs=needs, wire=wire, at_start=_at_start(n, control),
        caution=_caution(n, control, light, places), line=origins[at].line if at in origins else 0,
    )  # fmt: skip


def _far(mine: Sequence[WireLine], name: str) -> str:
    """The far end of a function's wire: the end that is not at the controller."""
    first, last = mine[0], mine[-1]
    return last.ends if "controller" in first.begins or "controller" not in last.ends else first.begins


def _at_start(n: int, control: Control) -> str:
    at, needs = held_by(control.names[n], control), control.needs[n]
    if needs in ("receiver", "interrupt", "analogue", "input"):
        return "listens"
    if at < 0:
        return "floats"
    pull = float(control.pull_down[..., at])
    if math.isfinite(pull):
        return f"low, held by {_ohms(pull)}"
    state = control.reset_states[at]
    return {"low": "low, by the board", "high": "HIGH"}.get(state, "floats")


def _caution(n: int, control: Control, light: Light, places: WiringPlaces) -> str:
    """The one thing about this pin's wire that costs a part when it is forgotten."""
    needs, stands = control.needs[n], places.logic_volts + PIN_OVER_SUPPLY
    at_start = _at_start(n, control)
    if needs in _DRIVEN_AT_RESET and at_start == "HIGH":
        return "the driver is told to go while the board starts"
    if needs in _DRIVEN_AT_RESET and at_start == "floats":
        return f"add {PULL_DOWN} to ground"
    if needs == "strip data":
        parts = [f"{show(float(light.logic_volts), 'V')} level shifter"] if light.shifted else []
        if light.strips and float(light.series_resistor) > 0:
            parts.append(f"{_ohms(float(light.series_resistor))} in series")
        return ", ".join(parts)
    if needs == "analogue":
        return f"never above {stands:.3g} V: divider"
    if needs in ("receiver", "interrupt", "input", "serial"):
        return f"never above {stands:.3g} V"
    return ""


def _ohms(value: float) -> str:
    return f"{value / 1e3:.3g} kΩ" if value >= 1e3 else f"{value:.3g} Ω"
