"""Light: does every LED get its volts and its bits, do feeds and core bear the current, do dots show?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, by_rule, calculated, finding
from dryfit.ground.quantity import Array, Origin
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.brief import Brief
from dryfit.machine.light import Light
from dryfit.trades.light import checks_data, checks_diffuser, formulas
from dryfit.trades.light.checks_terms import NO_RESERVE, each_set, limit_of

FULL_WHITE = "full white"
LADDER = derived("strip as a ladder of constant-current LEDs (circuit theory)")
SURFACE = memory("ISO 6946", "surface resistance indoors, heat flowing sideways: 0.13 m²K/W")


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
            each_set(origins, light, "length", "L", "length of strip", light.length, "m"),
            each_set(origins, light, "count", "n_s", "strips in the set", np.array(light.counts, dtype=float), "1"),
            _led_current(origins, light),
            each_set(origins, light, "dark", "I_dark", "current of a dark LED", light.dark, "A"),
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
        checks_data.frames(origins, light),
        checks_data.logic(origins, light),
        checks_data.edges(origins, light),
        *checks_diffuser.dots(origins, light),
        *found_core,
    )
    return LightResult(last, power, checks_diffuser.luminance(light), findings)


def _levels(light: Light) -> Array:
    """Levels of the scenes and, last, of full white under the cap: (..., S + 1, K)."""
    white = column(light.cap, 2) * np.ones(len(light.strips))
    lead = np.broadcast_shapes(light.level.shape[:-2], white.shape[:-2])
    tail = light.level.shape[-2:]
    return np.concatenate(
        [np.broadcast_to(light.level, (*lead, *tail)), np.broadcast_to(white, (*lead, 1, tail[-1]))], axis=-2
    )


def _led_current(origins: Mapping[str, Origin], light: Light) -> Term:
    return each_set(
        origins, light, "full_white_high", "I_LED", "current of an LED at full white", light.full_white, "A"
    )


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
        each_set(origins, light, "length", "L", "length of strip", light.length, "m"),
        each_set(origins, light, "feeds", "F", "feeds of a strip", stack([f.shape[-1] for f in light.feeds]), "1"),
        each_set(origins, light, "foil_resistance", "r", "both foils per metre", light.foil_resistance, "ohm/m"),
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
    least = limit_of(origins, "last_led_volts", "U_min", "least voltage at the last LED", light.lim_last_led_volts, "V")
    colour = each_set(origins, light, "colour_volts", "U_blue", "below this blue fades", light.colour_volts, "V")
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
    limit = limit_of(
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
        (demand.strip_current, each_set(origins, light, "voltage", "U_strip", "supply", light.voltage, "V")),
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
        limit_of(origins, "core_temperature", "T_max", "warmest foil", light.lim_core_temperature, "K"),
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
