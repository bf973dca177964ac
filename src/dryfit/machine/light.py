"""Light as numbers: strips by group, scenes by share of full white, the data line, the diffuser."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from dryfit.catalogue.rows import Row, keys
from dryfit.catalogue.rows import row as row_of
from dryfit.design.fields import Word
from dryfit.design.sections.light import Data as DataRecord
from dryfit.design.sections.light import Diffuser as DiffuserRecord
from dryfit.design.sections.light import Light as LightRecord
from dryfit.design.sections.light import LightLimits as LimitsRecord
from dryfit.design.sections.light import Scene as SceneRecord
from dryfit.design.sections.light import Strip as StripRecord
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.quantity import Array, Num, Quantity
from dryfit.ground.sources import Source, practice
from dryfit.machine.ledger import Default, Ledger, whole

CHANNELS = {
    "white": 1.0, "red": 1 / 3, "green": 1 / 3, "blue": 1 / 3, "yellow": 2 / 3, "cyan": 2 / 3, "magenta": 2 / 3,
    "amber": 1 / 2,
}  # fmt: skip
"""Share of the full-white current that a pure colour draws: three equal channels; amber is full red and half green."""

MOST_STRIPS = 64
"""Strips in one set; more than fit around any core."""

NO_DIFFUSER, TUBE, FLAT = "none", "tube", "flat"


@dataclass(frozen=True)
class Light:
    """K sets of strips (each with its own supply wires, `count` equal strips in it), S scenes.

    strips, scenes: their names.  counts: strips in each set.  diffusers: "tube", "flat" or "none".
    protocols: "unclocked" or "clocked".
    leds: LEDs of one strip (..., K).  pitch, length: (..., K), m.  voltage: nominal supply (..., K), V.
    full_white: current of one LED at full white (..., K), A, as budgeted: what was measured, else the highest of the
    range; full_white_nominal: the middle of it.  dark: of one LED that shows black (..., K), A.
    foil_resistance: both foils of one strip together (..., K), ohm/m.  feeds: for every set the places of its feeds
    along the strip (..., F), m.
    colour_volts: below this blue and green fade (..., K), V.  lumens: of one LED at full white (..., K).
    core_side, source_radius (axis of the core to the top of the LEDs), tube_diameter, tube_wall, distance (LEDs to a
    flat diffuser): (..., K), m; NaN where there is none.  transmission: (..., K).
    bit_time, reset_time: (..., K), s.  bits: for each LED (..., K).  input_share: of its own supply that a data input
    takes for high (..., K).  input_capacitance: (..., K), F.
    level: brightness as a part of the full-white current, by scene (..., S, K), with cap, colour and lit part applied;
    scene_level, scene_lit: as typed (..., S).  colours: of the scenes.
    time_share: (..., S).  cap: (...,).  current_budget: (...,), A, NaN where none is given.
    logic_volts: of the signal that leaves for the strips (...,), V.  lines: data lines (int).
    lim_*: habits of the trade, open to `light.limits`.
    """

    strips: tuple[str, ...]
    scenes: tuple[str, ...]
    counts: tuple[int, ...]
    diffusers: tuple[str, ...]
    protocols: tuple[str, ...]
    colours: tuple[str, ...]
    shifted: bool
    budgeted: bool
    leds: Array
    pitch: Array
    length: Array
    voltage: Array
    full_white: Array
    full_white_nominal: Array
    dark: Array
    foil_resistance: Array
    feeds: tuple[Array, ...]
    colour_volts: Array
    lumens: Array
    core_side: Array
    source_radius: Array
    tube_diameter: Array
    tube_wall: Array
    distance: Array
    transmission: Array
    bit_time: Array
    reset_time: Array
    bits: Array
    input_share: Array
    input_capacitance: Array
    level: Array
    scene_level: Array
    scene_lit: Array
    time_share: Array
    cap: Num
    current_budget: Num
    logic_volts: Num
    series_resistor: Num
    lead_length: Num
    lines: int
    frame_rate: Num
    lim_last_led_volts: Num
    lim_ripple: Num
    lim_around: Num
    lim_edge_feed_current: Num
    lim_logic_margin: Num
    lim_edge_time: Num
    lim_core_temperature: Num


def resolve_light(r: LightRecord | None, ledger: Ledger, board: Word | None = None) -> Light:
    """Numbers of the light, defaults filled in. Without strips every array has a trailing axis of length zero.

    board: catalogue key of the controller, whose logic voltage is what the strips are sent where nothing is typed.
    """
    r = r or LightRecord()
    sets = [_strip(s, f"light.strips[{i}]", ledger) for i, s in enumerate(r.strips)]
    names = _names(r, ledger)

    def column(key: str) -> Array:
        return stack([s.numbers[key] for s in sets]) if sets else np.zeros(0)

    columns: dict[str, Any] = {key: column(key) for key in _COLUMNS}
    scenes = r.scenes if sets else ()
    cap = Default("100 %", 0.0, "no cap given: the firmware may send full white")
    capped = ledger.take("light.cap", units.SHARE, r.cap, None, cap)
    shown = _scenes(scenes, names, capped, ledger)
    data = _data(r.data, ledger, board)
    limits = _limits(r.limits, ledger)
    budget = (
        float("nan")
        if r.current_budget is None
        else ledger.take("light.current_budget", units.CURRENT, r.current_budget)
    )
    return Light(
        strips=names,
        scenes=tuple(str(s.name or f"scene {i + 1}") for i, s in enumerate(scenes)),
        counts=tuple(s.count for s in sets),
        diffusers=tuple(s.diffuser for s in sets),
        protocols=tuple(s.protocol for s in sets),
        shifted=r.data.level_shifter is not None,
        budgeted=r.current_budget is not None,
        feeds=tuple(s.feeds for s in sets),
        cap=capped,
        **shown,
        current_budget=budget,
        lines=_lines(r.data, ledger),
        **columns,
        **data,
        **limits,
    )


_COLUMNS = (
    "leds", "pitch", "length", "voltage", "full_white", "full_white_nominal", "dark", "foil_resistance",
    "colour_volts", "lumens", "core_side", "source_radius", "tube_diameter", "tube_wall", "distance", "transmission",
    "bit_time", "reset_time", "bits", "input_share", "input_capacitance",
)  # fmt: skip


@dataclass(frozen=True)
class _Set:
    count: int
    diffuser: str
    protocol: str
    feeds: Array
    numbers: dict[str, Num]


def _names(r: LightRecord, ledger: Ledger) -> tuple[str, ...]:
    names = tuple(str(s.name or f"strip {i + 1}") for i, s in enumerate(r.strips))
    for i, name in enumerate(names):
        if name in names[:i]:
            ledger.fault(f"light.strips[{i}].name", "two sets of strips have the same name", read=name)
    return names


def _strip(r: StripRecord, path: str, ledger: Ledger) -> _Set:
    row = ledger.row(f"{path}.item", "strips", r.item)

    def take(key: str, dimension: units.Dimension, text: str, spread: float, reason: str) -> Num:
        return ledger.take(f"{path}.{key}", dimension, getattr(r, key), row, Default(text, spread, reason))

    if r.name is not None:
        ledger.origins[f"{path}.name"] = r.name.origin
    usual = "an addressable strip of 60 LEDs per metre"
    length = take("length", units.LENGTH, "1 m", 0.3, "no length given")
    if r.pitch is not None:
        pitch = ledger.take(f"{path}.pitch", units.LENGTH, r.pitch)
        ledger.origins[f"{path}.leds_per_length"] = ledger.origins[f"{path}.pitch"]
    else:
        density = take("leds_per_length", units.NUMBER, "60", 0.0, usual)
        if not np.all(np.asanyarray(density) > 0):
            ledger.fault(f"{path}.leds_per_length", "LEDs per metre must be more than zero", accepted="such as 60")
        pitch = 1 / np.maximum(density, 1e-9)
    count = ledger.take(f"{path}.count", units.COUNT, r.count, None, Default("1", 0.0, "a single strip"))
    voltage = take("voltage", units.VOLTAGE, "5 V", 0.0, usual)
    numbers: dict[str, Num] = {
        "length": length,
        "pitch": pitch,
        # strips are cut between LEDs: a part of a pitch carries none
        "leds": np.floor(length / pitch + 1e-6),
        "voltage": voltage,
        "dark": take("dark", units.CURRENT, "1 mA", 0.3, "measured on dark strips of this kind"),
        "foil_resistance": take("foil_resistance", units.RESISTANCE_PER_LENGTH, "0.1 ohm/m", 0.4, "usual foil"),
        "colour_volts": take("colour_volts", units.VOLTAGE, "3.7 V", 0.1, "blue's own voltage and its current sink"),
        "lumens": take("lumens", units.NUMBER, "15", 0.4, "a three-colour LED at full white"),
        "bit_time": take("bit_time", units.TIME, "1.25 us", 0.1, "one-wire strips at 800 kbit/s"),
        "reset_time": take("reset_time", units.TIME, "280 us", 0.0, "newer one-wire strips"),
        "bits": take("bits_per_led", units.COUNT, "24", 0.0, "three colours of 8 bits"),
        "input_share": take("input_share", units.SHARE, "70 %", 0.0, "input high of CMOS logic on the strip"),
        "input_capacitance": take("input_capacitance", units.CAPACITANCE, "15 pF", 0.3, "one logic input"),
    }
    if not np.all(np.asanyarray(numbers["leds"]) >= 1):
        ledger.fault(f"{path}.length", "the strip is shorter than the pitch of its LEDs, so that it has none")
    if not 1 <= whole(count) <= MOST_STRIPS:
        ledger.fault(f"{path}.count", "not a number of strips", read=str(whole(count)), accepted=f"1 to {MOST_STRIPS}")
        count = 1.0
    numbers["full_white_nominal"], numbers["full_white"] = _full_white(r, path, row, ledger)
    protocol = ledger.choose(
        f"{path}.protocol", r.protocol, (row.words.get("protocol") if row else None) or "unclocked", usual
    )
    numbers |= _around(r, path, ledger)
    return _Set(whole(count), _shape(r.diffuser, path, ledger), protocol, _feeds(r, path, length, ledger), numbers)


def _full_white(r: StripRecord, path: str, row: Row | None, ledger: Ledger) -> tuple[Num, Num]:
    """Nominal and budgeted current of an LED. What was measured is budgeted with its own ±; else the worst lot."""
    nominal = ledger.take(
        f"{path}.full_white", units.CURRENT, r.full_white, row, Default("41 mA", 0.28, "measured range of such strips")
    )
    if r.full_white is not None and r.full_white_high is None:
        spread = r.full_white.spread
        high = nominal * (1 + (spread.fraction if spread else 0.0))
        ledger.origins[f"{path}.full_white_high"] = r.full_white.origin
        return nominal, high
    worst = Default("52.5 mA", 0.0, "the highest that was measured on strips of one description; measure yours")
    return nominal, ledger.take(f"{path}.full_white_high", units.CURRENT, r.full_white_high, row, worst)


def _shape(r: DiffuserRecord | None, path: str, ledger: Ledger) -> str:
    if r is None:
        return NO_DIFFUSER
    row = ledger.row(f"{path}.diffuser.item", "diffusers", r.item)
    usual = (row.words.get("shape") if row else None) or (TUBE if r.distance is None else FLAT)
    return ledger.choose(f"{path}.diffuser.shape", r.shape, usual, "by the sizes given")


def _around(r: StripRecord, path: str, ledger: Ledger) -> dict[str, Any]:
    """Core and diffuser of a set. Without a diffuser the sizes are NaN and nothing asks for them."""
    unknown = float("nan")
    side: Num = unknown
    proud: Num = 0.0
    # a strip behind a flat sheet may stand on anything; one in a tube stands on a core
    if r.core is not None or (r.diffuser is not None and _shape(r.diffuser, path, ledger) == TUBE):
        core = r.core
        side = ledger.take(
            f"{path}.core.side",
            units.LENGTH,
            core.side if core else None,
            None,
            Default("25 mm", 0.2, "an aluminium box section"),
        )
        proud = ledger.take(
            f"{path}.core.strip_height",
            units.LENGTH,
            core.strip_height if core else None,
            None,
            Default("2 mm", 0.2, "foil, LED body and glue"),
        )
    numbers: dict[str, Num] = {
        "core_side": side, "source_radius": side / 2 + proud, "tube_diameter": unknown, "tube_wall": unknown,
        "distance": unknown, "transmission": unknown,
    }  # fmt: skip
    if r.diffuser is None:
        return numbers
    row = ledger.row(f"{path}.diffuser.item", "diffusers", r.diffuser.item)

    def take(key: str, dimension: units.Dimension, text: str, reason: str) -> Num:
        default = Default(text, 0.2, reason)
        return ledger.take(f"{path}.diffuser.{key}", dimension, getattr(r.diffuser, key), row, default)

    numbers["transmission"] = take("transmission", units.SHARE, "50 %", "opal plastic")
    if _shape(r.diffuser, path, ledger) == FLAT:
        numbers["distance"] = take("distance", units.LENGTH, "20 mm", "no distance given")
    else:
        numbers["tube_diameter"] = take("diameter", units.LENGTH, "110 mm", "no diameter given")
        numbers["tube_wall"] = take("wall", units.LENGTH, "3 mm", "a usual tube")
        inside = numbers["tube_diameter"] / 2 - numbers["tube_wall"]
        if not np.all(np.asanyarray(numbers["source_radius"]) < np.asanyarray(inside)):
            ledger.fault(f"{path}.diffuser.diameter", "the core with its strips does not fit into the tube")
    return numbers


def _feeds(r: StripRecord, path: str, length: Num, ledger: Ledger) -> Array:
    """Places where wires meet the strip, (..., F), m from the end where the data goes in."""
    given = r.feeds or [Word("one end")]
    if r.feeds is None:
        ledger.choose(f"{path}.feeds", None, "one end", "no feeds given")
    places: list[Num] = []
    for feed in given:
        ledger.origins[f"{path}.feeds"] = feed.origin
        if isinstance(feed, Quantity):
            if not np.all(np.asanyarray(feed.si) <= np.asanyarray(length) * (1 + 1e-9)):
                ledger.fault(f"{path}.feeds", "a feed lies beyond the end of the strip", read=feed.origin.text)
            places.append(feed.si)
        else:
            places += [np.zeros_like(length)] if feed == "one end" else [np.zeros_like(length), length]
    return np.sort(stack(places), axis=-1)


def _scenes(scenes: tuple[SceneRecord, ...], strips: tuple[str, ...], cap: Num, ledger: Ledger) -> dict[str, Any]:
    """What the scenes show. Scenes without a time share divide what is left."""
    if not scenes:
        none = np.zeros(0)
        return {
            "colours": (), "level": np.zeros((0, len(strips))), "scene_level": none, "scene_lit": none,
            "time_share": none,
        }  # fmt: skip
    colours, typed, part, levels, shares = [], [], [], [], []
    open_scenes = sum(s.time_share is None for s in scenes)
    taken = sum((s.time_share.si for s in scenes if s.time_share is not None), 0.0)
    if np.any(np.asanyarray(taken) > 1 + 1e-6):
        ledger.fault("light.scenes", "the time shares add up to more than the whole show", accepted="100 % together")
    left = np.maximum(0.0, 1 - np.asanyarray(taken, dtype=float)) / max(1, open_scenes)
    for i, s in enumerate(scenes):
        path = f"light.scenes[{i}]"
        if s.name is not None:
            ledger.origins[f"{path}.name"] = s.name.origin
        full = Default("100 %", 0.0, "no level given: full brightness")
        level = ledger.take(f"{path}.level", units.SHARE, s.level, None, full)
        lit = ledger.take(f"{path}.lit", units.SHARE, s.lit, None, Default("100 %", 0.0, "all LEDs are lit"))
        colour = ledger.choose(f"{path}.colour", s.colour, "white", "white draws most")
        for name in s.strips or ():
            if name not in strips:
                ledger.fault(f"{path}.strips", "no such strip", str(name), ", ".join(strips), name.origin.line)
        here = np.array([s.strips is None or name in s.strips for name in strips], dtype=float)
        # the cap is a cap on brightness, whatever the colour
        shown = np.minimum(level, cap) * CHANNELS[colour] * lit
        levels.append(np.asanyarray(shown)[..., None] * here)
        colours.append(colour)
        typed.append(level)
        part.append(lit)
        if s.time_share is None:
            ledger.choose(f"{path}.time_share", None, "", "what the other scenes leave, in equal parts")
            shares.append(left)
        else:
            shares.append(np.asanyarray(ledger.take(f"{path}.time_share", units.SHARE, s.time_share)))
    return {
        "colours": tuple(colours), "level": np.stack(np.broadcast_arrays(*levels), axis=-2),
        "scene_level": stack(typed), "scene_lit": stack(part), "time_share": stack(shares),
    }  # fmt: skip


def _lines(r: DataRecord, ledger: Ledger) -> int:
    single = Default("1", 0.0, "all strips on one data line, one after the other")
    lines = whole(ledger.take("light.data.lines", units.COUNT, r.lines, None, single))
    if lines < 1:
        ledger.fault("light.data.lines", "no data line, so that no strip is told anything", accepted="1 or more")
    return max(1, lines)


def _data(r: DataRecord, ledger: Ledger, board: Word | None) -> dict[str, Any]:
    def take(key: str, dimension: units.Dimension, text: str, spread: float, reason: str) -> Num:
        return ledger.take(f"light.data.{key}", dimension, getattr(r, key), None, Default(text, spread, reason))

    usual = Default("5 V", 0.02, "an 8-bit board at 5 V")
    logic = ledger.take("light.data.logic_volts", units.VOLTAGE, r.logic_volts, _controller(board), usual)
    if r.level_shifter is not None:
        logic = ledger.take("light.data.level_shifter", units.VOLTAGE, r.level_shifter)
    return {
        "logic_volts": logic,
        "series_resistor": take("series_resistor", units.RESISTANCE, "330 ohm", 0.1, "300 to 500 ohm at the board"),
        "lead_length": take("lead_length", units.LENGTH, "300 mm", 0.5, "a short lead"),
        "frame_rate": take("frame_rate", units.FREQUENCY, "30 Hz", 0.0, "fades look smooth from 30 frames a second"),
    }


def _controller(board: Word | None) -> Row | None:
    """Row of the controller; a name that does not exist is told by its own section."""
    if board is None or board not in keys("controllers"):
        return None
    return replace(row_of("controllers", str(board)), line=board.origin.line)


def _limits(r: LimitsRecord, ledger: Ledger) -> dict[str, Any]:
    def limit(key: str, dimension: units.Dimension, text: str, source: Source) -> Num:
        default = Default(text, 0.0, source.title, source)
        return ledger.take(f"light.limits.{key}", dimension, getattr(r, key), None, default)

    warm = practice("glue and plastic of LED strips last where the foil stays below 60 °C")
    return {
        "lim_last_led_volts": limit(
            "last_led_volts", units.VOLTAGE, "4.5 V", practice("4.5 V at the last LED of a 5 V strip keeps its white")
        ),
        "lim_ripple": limit("ripple", units.PERCENT, "10 %", practice("a ripple of 10 % of the mean is not seen")),
        "lim_around": limit(
            "around", units.PERCENT, "25 %", practice("a slow change by a quarter around a tube is not seen as dots")
        ),
        "lim_edge_feed_current": limit(
            "edge_feed_current", units.CURRENT, "4 A", practice("one feed at a strip's edge carries about 4 A")
        ),
        "lim_logic_margin": limit(
            "logic_margin", units.VOLTAGE, "0.3 V", practice("0.3 V above the input's threshold")
        ),
        "lim_edge_time": limit("edge_time", units.TIME, "0.15 us", practice("bit widths are read to within 0.15 µs")),
        "lim_core_temperature": limit("core_temperature", units.TEMPERATURE, "60 degC", warm),
    }
