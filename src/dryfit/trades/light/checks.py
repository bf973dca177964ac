"""Light: does every LED get its volts and its bits, do feeds and core bear the current, do dots show?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, by_rule, calculated, finding
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.brief import Brief
from dryfit.machine.light import FLAT, NO_DIFFUSER, Light
from dryfit.trades.light import formulas

FULL_WHITE = "full white"
LADDER = derived("strip as a ladder of constant-current LEDs (circuit theory)")
LAMBERT = derived("sum of Lambertian point sources on the wall")
SURFACE = memory("ISO 6946", "surface resistance indoors, heat flowing sideways: 0.13 m²K/W")
NO_RESERVE = (0.0, practice("the limit itself holds the margin"))
TENTH = (0.1, practice("a tenth for what was not measured"))
LEAD_CAPACITANCE = 100e-12
"""Farad per metre of a data wire beside its return (common practice)."""


@dataclass(frozen=True)
class LightDemand:
    """What the strips draw. scenes: the declared ones and last "full white" (as bright as the cap allows).

    strip_current: (..., S, K) A at the feeds of each set of strips.
    """

    scenes: tuple[str, ...]
    strips: tuple[str, ...]
    strip_current: Term


@dataclass(frozen=True)
class LightResult:
    """last_led_voltage: (..., K) V.  mean_power: of all strips over the show (...,), W.  luminance: (..., K), cd/m²
    at full white under the cap (NaN without a tube)."""

    last_led_voltage: Term
    mean_power: Term
    luminance: Term
    findings: tuple[Finding, ...]


def light_demand(origins: Mapping[str, Origin], light: Light) -> LightDemand:
    """Current of every set of strips in every scene, with the current of an LED that is budgeted."""
    level = _levels(light)
    number = light.leds * np.array(light.counts, dtype=float)
    current = formulas.scene_current(
        number[..., None, :], level, light.full_white[..., None, :], light.dark[..., None, :]
    )
    term = calculated(
        "I_strip",
        "current of each set of strips by scene",
        current,
        "A",
        "I_strip = n (I_dark + level × (I_LED − I_dark))",
        (
            _each(origins, light, "length", "L", "length of strip", light.length, "m"),
            _each(origins, light, "count", "n_s", "strips in the set", np.array(light.counts, dtype=float), "1"),
            _led_current(origins, light),
            _each(origins, light, "dark", "I_dark", "current of a dark LED", light.dark, "A"),
            Term("cap", "cap on brightness", light.cap, "%", origins["light.cap"]),
        ),
        derived("equal LEDs in parallel"),
    )
    return LightDemand((*light.scenes, FULL_WHITE), light.strips, term)


def assess_light(
    origins: Mapping[str, Origin], light: Light, brief: Brief, *, demand: LightDemand, feed_voltage: Term
) -> LightResult:
    """All checks of the light. feed_voltage: (..., K) V at the feeds of each set in its worst case."""
    if not light.strips:
        nothing = calculated("0", "no strips", np.zeros(0), "V", "there are no strips", ())
        idle = calculated("P_light", "mean power of the light", 0.0, "W", "there are no strips", ())
        return LightResult(nothing, idle, nothing, ())
    drop, edge = _ladder(origins, light, demand)
    last = calculated(
        "U_last",
        "voltage at the LED farthest from a feed",
        feed_voltage.value - drop.value,
        "V",
        "U_last = U_feed − ΔU_foil",
        (feed_voltage, drop),
        LADDER,
        per_case=True,
    )
    power, found_core = _core(origins, light, brief, demand)
    findings = (
        *_budget(origins, light, demand),
        _last_led(origins, light, last),
        _feeds(origins, light, edge),
        _frames(origins, light),
        _logic(origins, light),
        _edges(origins, light),
        *_dots(origins, light),
        *found_core,
    )
    return LightResult(last, power, _luminance(light), findings)


def _levels(light: Light) -> Array:
    """Levels of the scenes and, last, of full white under the cap: (..., S + 1, K)."""
    white = column(light.cap, 2) * np.ones(len(light.strips))
    lead = np.broadcast_shapes(light.level.shape[:-2], white.shape[:-2])
    tail = light.level.shape[-2:]
    return np.concatenate(
        [np.broadcast_to(light.level, (*lead, *tail)), np.broadcast_to(white, (*lead, 1, tail[-1]))], axis=-2
    )


def _each(
    origins: Mapping[str, Origin], light: Light, key: str, symbol: str, name: str, values: Num, unit: str
) -> Term:
    """A number of every set of strips as one term: (..., K)."""
    paths = [f"light.strips[{i}].{key}" for i in range(len(light.strips))]
    if len(paths) == 1:
        return Term(symbol, name, values, unit, origins[paths[0]], per_case=True)
    array = np.asarray(values)
    terms = [
        Term(f"{symbol}_{strip}", f"{name}, {strip}", array[..., i][()], unit, origins[path])
        for i, (strip, path) in enumerate(zip(light.strips, paths, strict=True))
    ]
    return calculated(symbol, name, values, unit, "one for each set of strips", terms, per_case=True)


def _led_current(origins: Mapping[str, Origin], light: Light) -> Term:
    return _each(origins, light, "full_white_high", "I_LED", "current of an LED at full white", light.full_white, "A")


def _limit(origins: Mapping[str, Origin], key: str, symbol: str, name: str, value: Num, unit: str) -> Term:
    return Term(symbol, name, value, unit, origins[f"light.limits.{key}"])


def _ladder(origins: Mapping[str, Origin], light: Light, demand: LightDemand) -> tuple[Term, Term]:
    """Deepest drop in the foil of each set and the largest current of one feed to one side, (..., K)."""
    number = light.leds * np.array(light.counts, dtype=float)
    brightest = np.max(np.asarray(demand.strip_current.value), axis=-2) / np.where(number > 0, number, 1.0)
    pairs = [
        formulas.ladder_drops(
            light.pitch[..., k] / 2,
            light.pitch[..., k],
            light.leds[..., k],
            light.feeds[k],
            light.foil_resistance[..., k],
            brightest[..., k],
        )
        for k in range(len(light.strips))
    ]
    terms = (
        demand.strip_current,
        _each(origins, light, "length", "L", "length of strip", light.length, "m"),
        _each(origins, light, "feeds", "F", "feeds of a strip", stack([f.shape[-1] for f in light.feeds]), "1"),
        _each(origins, light, "foil_resistance", "r", "both foils per metre", light.foil_resistance, "ohm/m"),
    )
    drop = calculated(
        "ΔU_foil", "deepest drop along the foil", stack([p[0] for p in pairs]), "V",
        "ΔU = r i Σ distances to the feed; between two feeds the LED where the foil current turns", terms, LADDER,
        per_case=True,
    )  # fmt: skip
    edge = calculated(
        "I_edge", "largest current of one feed to one side", stack([p[1] for p in pairs]), "A",
        "I = i × (LEDs fed from that side)", terms, LADDER, per_case=True,
    )  # fmt: skip
    return drop, edge


def _budget(origins: Mapping[str, Origin], light: Light, demand: LightDemand) -> tuple[Finding, ...]:
    if not light.budgeted:
        return ()
    budget = Term("I_budget", "current set aside", light.current_budget, "A", origins["light.current_budget"])
    return (
        finding(
            demand=np.sum(np.asarray(demand.strip_current.value), axis=-1),
            capacity=column(light.current_budget),
            cases=demand.scenes,
            reserve=NO_RESERVE,
            check="scene-current-is-budgeted",
            trade="light",
            topic="light current",
            title="Every scene stays within the current set aside for light",
            unit="A",
            demand_name="current of the scene",
            capacity_name="current set aside",
            late=Late.PART_ORDER,
            formula="Σ I_strip ≤ I_budget",
            terms=(demand.strip_current, budget),
            sources=(derived("sum of the strips"),),
            remedy="Cap the brightness, or set aside more than {I_budget}.",
        ),
    )


def _last_led(origins: Mapping[str, Origin], light: Light, last: Term) -> Finding:
    least = _limit(origins, "last_led_volts", "U_min", "least voltage at the last LED", light.lim_last_led_volts, "V")
    colour = _each(origins, light, "colour_volts", "U_blue", "below this blue fades", light.colour_volts, "V")
    return finding(
        demand=np.maximum(column(light.lim_last_led_volts), light.colour_volts),
        capacity=np.asarray(last.value),
        cases=light.strips,
        reserve=NO_RESERVE,
        check="last-led-has-its-volts",
        trade="light",
        topic="strip voltage",
        title="The LED farthest from a feed still has its volts",
        unit="V",
        demand_name="voltage it needs",
        capacity_name="voltage it gets",
        late=Late.REPRINT,
        formula="U_last = U_feed − ΔU_foil ≥ max(U_min, U_blue)",
        terms=(last, least, colour),
        sources=(LADDER,),
        remedy="Use thicker or shorter feed wires, feed the strip at more places, or cap the brightness below {cap}.",
    )


def _feeds(origins: Mapping[str, Origin], light: Light, edge: Term) -> Finding:
    limit = _limit(
        origins, "edge_feed_current", "I_feed", "current of one feed to one side", light.lim_edge_feed_current, "A"
    )
    return finding(
        demand=np.asarray(edge.value),
        capacity=column(light.lim_edge_feed_current),
        cases=light.strips,
        reserve=NO_RESERVE,
        check="feeds-carry-the-current",
        trade="light",
        topic="strip feeds",
        title="No feed sends more into the foil than it carries",
        unit="A",
        demand_name="current of a feed to one side",
        capacity_name="current the foil takes there",
        late=Late.REPRINT,
        formula="I_edge ≤ I_feed",
        terms=(edge, limit),
        sources=(LADDER, practice("measured on strips: about 4 A for one feed at the edge, whatever the wire")),
        remedy="Feed each strip at both ends or also in the middle.",
        caution="An overloaded feed scorches its solder joint and the foil beside it.",
    )


def _frames(origins: Mapping[str, Origin], light: Light) -> Finding:
    counts = np.array(light.counts, dtype=float)
    clocked = np.array([p == "clocked" for p in light.protocols])
    number = light.leds * counts / light.lines
    each = np.where(
        clocked,
        formulas.clocked_frame_time(number, light.bits, light.bit_time),
        formulas.unclocked_frame_time(number, light.bits, light.bit_time, 0.0),
    )
    reset = np.max(np.where(clocked, 0.0, light.reset_time), axis=-1)
    time = calculated(
        "t_frame",
        "time to send one frame",
        np.sum(each, axis=-1) + reset,
        "s",
        "t_frame = Σ n × bits × t_bit / lines + t_reset",
        (
            _each(origins, light, "count", "n_s", "strips in the set", counts, "1"),
            _each(origins, light, "length", "L", "length of strip", light.length, "m"),
            _each(origins, light, "bit_time", "t_bit", "time of one bit", light.bit_time, "s"),
            _each(origins, light, "reset_time", "t_reset", "pause that ends a frame", light.reset_time, "s"),
            Term("lines", "data lines", float(light.lines), "1", origins["light.data.lines"]),
        ),
        derived("serial data: one bit after the other"),
    )
    seconds = np.asarray(time.value)
    rate = Term("f", "frames a second wanted", light.frame_rate, "Hz", origins["light.data.frame_rate"])
    return finding(
        demand=light.frame_rate,
        capacity=np.where(seconds == 0, np.inf, 1 / np.where(seconds == 0, 1.0, seconds)),
        reserve=TENTH,
        check="frames-keep-up",
        trade="light",
        topic="light data",
        title="A frame is sent before the next one is due",
        unit="Hz",
        demand_name="frames wanted",
        capacity_name="frames that can be sent",
        late=Late.PART_ORDER,
        formula="f ≤ 1/t_frame",
        terms=(rate, time),
        sources=(derived("serial data: one bit after the other"),),
        remedy="Divide the strips among more data lines, or ask for fewer frames than {f}.",
    )


def _logic(origins: Mapping[str, Origin], light: Light) -> Finding:
    # strips of more than 5 V run their logic from an inner 5 V
    inner = np.minimum(light.voltage, 5.0)
    high = calculated(
        "U_IH",
        "voltage that the data input takes for high",
        light.input_share * inner,
        "V",
        "U_IH = share × min(U_strip, 5 V)",
        (
            _each(origins, light, "input_share", "share", "share of its supply", light.input_share, "%"),
            _each(origins, light, "voltage", "U_strip", "supply of the strip", light.voltage, "V"),
        ),
        derived("CMOS input"),
        per_case=True,
    )
    key = "light.data.level_shifter" if light.shifted else "light.data.logic_volts"
    sent = Term("U_OH", "high level that is sent", light.logic_volts, "V", origins[key])
    spare = _limit(origins, "logic_margin", "U_margin", "margin above the threshold", light.lim_logic_margin, "V")
    return finding(
        demand=np.asarray(high.value) + column(light.lim_logic_margin),
        capacity=column(light.logic_volts),
        cases=light.strips,
        reserve=NO_RESERVE,
        check="data-is-read-right",
        trade="light",
        topic="light data",
        title="The strips read the data level as high",
        unit="V",
        demand_name="level needed with its margin",
        capacity_name="level sent",
        late=Late.PART_ORDER,
        formula="U_OH ≥ U_IH + U_margin",
        terms=(sent, high, spare),
        sources=(practice("0.7 of the supply, and a margin for noise on the ground"),),
        remedy="Put a level shifter to {U_strip} at the board, or run the first strip on a lower voltage.",
    )


def _edges(origins: Mapping[str, Origin], light: Light) -> Finding:
    lead = Term("l", "length of the data lead", light.lead_length, "m", origins["light.data.lead_length"])
    resistor = Term(
        "R", "series resistor at the board", light.series_resistor, "ohm", origins["light.data.series_resistor"]
    )
    per_metre = by_rule(
        "C_l", "capacitance of a metre of lead", LEAD_CAPACITANCE, "F", practice("100 pF a metre of wire pair")
    )
    threshold = light.input_share * np.minimum(light.voltage, 5.0)
    time = formulas.edge_time(
        column(light.series_resistor),
        column(light.lead_length) * LEAD_CAPACITANCE + light.input_capacitance,
        column(light.logic_volts),
        threshold,
    )
    limit = _limit(origins, "edge_time", "t_lim", "error of a bit's width", light.lim_edge_time, "s")
    return finding(
        demand=time,
        capacity=column(light.lim_edge_time),
        cases=light.strips,
        reserve=NO_RESERVE,
        check="data-edges-are-sharp",
        trade="light",
        topic="light data",
        title="The data edge rises fast enough at the end of its lead",
        unit="s",
        demand_name="time to pass the threshold",
        capacity_name="error of width that is still read",
        late=Late.MINUTES,
        formula="t = R (l C_l + C_in) ln(U_OH/(U_OH − U_IH)) ≤ t_lim",
        terms=(lead, resistor, per_metre, limit),
        sources=(derived("step into a resistor and a capacitor"),),
        remedy="Shorten the data lead, or take a smaller series resistor than {R}.",
    )


def _dots(origins: Mapping[str, Origin], light: Light) -> tuple[Finding, ...]:
    """Unevenness along and around; only for sets behind a diffuser."""
    along: list[Num] = []
    around: list[Num] = []
    labels: list[str] = []
    tubes: list[str] = []
    terms: list[Term] = []
    for k, shape in enumerate(light.diffusers):
        path = f"light.strips[{k}]"
        if shape == NO_DIFFUSER:
            continue
        labels.append(light.strips[k])
        pitch = light.pitch[..., k]
        terms.append(Term("p", f"pitch of the LEDs, {light.strips[k]}", pitch, "m", origins[f"{path}.leds_per_length"]))
        if shape == FLAT:
            along.append(formulas.row_ripple(light.distance[..., k], pitch)[1])
            terms.append(
                Term("d", "LEDs to the diffuser", light.distance[..., k], "m", origins[f"{path}.diffuser.distance"])
            )
            continue
        inside = light.tube_diameter[..., k] / 2 - light.tube_wall[..., k]
        ripples = formulas.tube_ripples(inside, light.source_radius[..., k], pitch, light.counts[k])
        along.append(ripples[0])
        around.append(ripples[1])
        tubes.append(light.strips[k])
        terms += [
            Term("D", "tube outside", light.tube_diameter[..., k], "m", origins[f"{path}.diffuser.diameter"]),
            Term("s", "side of the core", light.core_side[..., k], "m", origins[f"{path}.core.side"]),
        ]
    if not labels:
        return ()
    ripple = _limit(origins, "ripple", "w", "ripple that is not seen", light.lim_ripple, "%")
    found = finding(
        demand=stack(along),
        capacity=column(light.lim_ripple),
        cases=labels,
        reserve=NO_RESERVE,
        check="no-dots-through-diffuser",
        trade="light",
        topic="diffuser",
        title="Single LEDs do not show along the diffuser",
        unit="%",
        demand_name="(max − min)/mean along the strip",
        capacity_name="ripple that is not seen",
        late=Late.REPRINT,
        formula="E = Σ cos θ_LED cos θ_wall / r², summed over all LEDs",
        terms=(*terms, ripple),
        sources=(LAMBERT, practice("a distance of one pitch or more hides the dots")),
        remedy="Take a wider diffuser or a strip with more LEDs a metre, so that they stand a pitch {p} away.",
    )
    if not tubes:
        return (found,)
    limit = _limit(origins, "around", "w_r", "slow change around that is not seen", light.lim_around, "%")
    return (
        found,
        finding(
            demand=stack(around),
            capacity=column(light.lim_around),
            cases=tubes,
            reserve=NO_RESERVE,
            check="light-is-even-around",
            trade="light",
            topic="diffuser",
            title="The tube looks equally bright from all sides",
            unit="%",
            demand_name="(max − min)/mean around the tube",
            capacity_name="slow change that is not seen",
            late=Late.REPRINT,
            formula="E(φ) = Σ π a b/(2 ρ³ p) over the strips",
            terms=(*terms, limit),
            sources=(LAMBERT,),
            remedy="Put more strips around the core, or a slimmer core into a wider tube than {D}.",
        ),
    )


def _core(
    origins: Mapping[str, Origin], light: Light, brief: Brief, demand: LightDemand
) -> tuple[Term, tuple[Finding, ...]]:
    """Mean heat of the strips and what their cores give off. All power counts as heat: a fifth leaves as light."""
    current = np.asarray(demand.strip_current.value)
    # without declared scenes it is taken to show full white all day
    shares = light.time_share if light.scenes else np.ones(1)
    shown = current[..., :-1, :] if light.scenes else current
    mean = np.sum(shown * shares[..., None], axis=-2)
    watts = mean * light.voltage
    power = calculated(
        "P", "mean power of a set over the show", watts, "W", "P = U Σ share × I_strip",
        (demand.strip_current, _each(origins, light, "voltage", "U_strip", "supply", light.voltage, "V")),
        derived("energy over time"), per_case=True,
    )  # fmt: skip
    total = calculated(
        "P_light", "mean power of the light over the show", np.sum(watts, axis=-1), "W", "P_light = Σ P", (power,)
    )
    known = [k for k in range(len(light.strips)) if f"light.strips[{k}].core.side" in origins]
    if not known:
        return total, ()
    side, length = light.core_side[..., known], light.length[..., known]
    tube = np.array([light.diffusers[k] == "tube" for k in known])
    around = np.array([max(light.counts[k], 4) for k in known], dtype=float)
    core_area = around * side * length
    tube_area = np.where(tube, np.pi * light.tube_diameter[..., known] * length, np.inf)
    resistance = by_rule("R_s", "surface resistance, m²K/W", 0.13, "1", SURFACE)
    per_watt = formulas.core_resistance(core_area, tube_area, 0.13)
    rise = np.asarray(light.lim_core_temperature) - np.asarray(brief.ambient)
    names = [light.strips[k] for k in known]
    terms = (
        power,
        calculated("A_core", "surface of the core", core_area, "m2", "A = flats × side × L", [
            Term("s", f"side of the core, {n}", light.core_side[..., k], "m", origins[f"light.strips[{k}].core.side"])
            for n, k in zip(names, known, strict=True)
        ], per_case=True),
        resistance,
        Term("T_air", "air around", brief.ambient, "K", origins["brief.ambient"]),
        _limit(origins, "core_temperature", "T_max", "warmest foil", light.lim_core_temperature, "K"),
    )  # fmt: skip
    found = finding(
        demand=watts[..., known],
        capacity=column(rise) / per_watt,
        cases=names,
        reserve=NO_RESERVE,
        check="core-stays-cool",
        trade="light",
        topic="light heat",
        title="The core gives off the heat of its strips",
        unit="W",
        demand_name="mean heat over the show",
        capacity_name="heat it gives off at its warmest",
        late=Late.REPRINT,
        formula="P ≤ (T_max − T_air)/(R_s (1/A_core + 1/A_tube))",
        terms=terms,
        sources=(SURFACE,),
        remedy="Show dimmer scenes for longer, or take a wider core of aluminium than {s}.",
        caution="LED strips that run too warm lose their glue and may scorch plastic beside them.",
    )
    return total, (found,)


def _luminance(light: Light) -> Term:
    """Luminance of tubes at full white under the cap."""
    area = np.pi * light.tube_diameter * light.length
    lumens = light.lumens * light.leds * np.array(light.counts, dtype=float) * column(light.cap)
    value = formulas.tube_luminance(lumens, light.transmission, area)
    return calculated(
        "L_v", "luminance of the tube at full white, cd/m²", value, "1", "L_v = Φ τ/(π A)", (), LAMBERT, per_case=True
    )
