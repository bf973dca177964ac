"""Supply of the light: current of the scenes against what there is, volts and amperes along the strips."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.light import Light
from dryfit.trades.light import formulas
from dryfit.trades.light.checks_terms import NO_RESERVE, each_set, led_current, limit_of, number_of_leds

LADDER = derived("strip as a ladder of constant-current LEDs (circuit theory)")
TOPIC = "light supply"


def scenes(
    origins: Mapping[str, Origin],
    light: Light,
    names: Sequence[str],
    strip_current: Term,
    rails: tuple[tuple[int, ...], ...],
    rail_limit: Term | None,
    white_time: Term | None,
) -> tuple[Finding, ...]:
    """Cases: scenes, for each regulator that feeds strips, and for the current set aside where one is given."""
    groups, limits = _groups(origins, light, rails, rail_limit)
    if not groups:
        return ()
    current = np.asanyarray(strip_current.value)
    number = light.leds * np.array(light.counts, dtype=float)
    demand: list[Num] = []
    capacity: list[Num] = []
    white: list[Num] = []
    labels: list[str] = []
    for (label, sets), limit in zip(groups, limits, strict=True):
        n = number[..., sets]
        most = formulas.highest_level(n, light.full_white[..., sets], light.dark[..., sets], limit)
        for i, scene in enumerate(names):
            labels.append(f"{scene}, {label}" if label else scene)
            demand.append(np.sum(current[..., i, :][..., sets], axis=-1))
            capacity.append(limit)
            white.append(most)
    asked = calculated(
        "I_scene", "current of the scene", stack(demand), "A", "I_scene = Σ I_strip", (strip_current,),
        derived("sum of the strips"), per_case=True,
    )  # fmt: skip
    terms = [asked]
    if rails and rail_limit is not None and any(rails):
        terms.append(rail_limit)
    if light.budgeted:
        terms.append(Term("I_budget", "current set aside", light.current_budget, "A", origins["light.current_budget"]))
    there = calculated(
        "I_there", "current there is for it", stack(capacity), "A", "what its regulator may give, or was set aside",
        terms[1:], per_case=True,
    )  # fmt: skip
    brightest = calculated(
        "b_max", "brightest white that it bears", stack(white), "%", "b_max = (I_there/n − I_dark)/(I_LED − I_dark)",
        (there, number_of_leds(origins, light), led_current(origins, light),
         each_set(origins, light, "dark", "I_dark", "current of a dark LED", light.dark, "A")),
        derived("equal LEDs in parallel"), per_case=True,
    )  # fmt: skip
    last = "" if white_time is None else "; in white at the present cap the packs last {t_white}"
    return (
        finding(
            demand=stack(demand),
            capacity=stack(capacity),
            cases=labels,
            reserve=NO_RESERVE,
            check="brightness-fits-the-regulator",
            trade="light",
            topic="regulators",
            title="No scene draws more than its regulator gives or was set aside",
            unit="A",
            demand_name="current of the scene",
            capacity_name="current there is for it",
            late=Late.PART_ORDER,
            formula="I_scene ≤ I_there",
            terms=(asked, there, brightest, *(() if white_time is None else (white_time,))),
            sources=(derived("sum of the strips"),),
            remedy=f"Cap the brightness at {{b_max}} of full white, or take a larger regulator{last}.",
        ),
    )


def _groups(
    origins: Mapping[str, Origin], light: Light, rails: tuple[tuple[int, ...], ...], rail_limit: Term | None
) -> tuple[list[tuple[str, list[int]]], list[Num]]:
    """Sets of strips that share a regulator (labelled where there are several groups), and what each may draw."""
    groups: list[tuple[str, list[int]]] = []
    limits: list[Num] = []
    if rail_limit is not None:
        for rail in dict.fromkeys(r for r in rails if r):
            sets = [k for k, other in enumerate(rails) if other == rail]
            groups.append((" and ".join(light.strips[k] for k in sets), sets))
            limits.append(np.asanyarray(rail_limit.value)[..., sets[0]])
    if light.budgeted:
        groups.append(("all light", list(range(len(light.strips)))))
        limits.append(light.current_budget)
    return (groups if len(groups) > 1 else [("", sets) for _, sets in groups]), limits


def along_the_strip(
    origins: Mapping[str, Origin], light: Light, strip_current: Term, feed_voltage: Term
) -> tuple[Finding, Finding]:
    """Volts at the last LED and amperes of the hardest feed, in the brightest scene of each set."""
    number = light.leds * np.array(light.counts, dtype=float)
    brightest = np.max(np.asanyarray(strip_current.value), axis=-2) / np.where(number > 0, number, 1.0)
    each = calculated(
        "i", "current of an LED in the brightest scene", brightest, "A", "i = largest I_strip/n",
        (strip_current, number_of_leds(origins, light)), per_case=True,
    )  # fmt: skip
    drop, edge = _ladder(origins, light, each)
    return _last_led(origins, light, each, feed_voltage, drop), _feeds(origins, light, each, edge)


def _ladder(origins: Mapping[str, Origin], light: Light, each: Term) -> tuple[Term, Term]:
    """Deepest drop in the foil of each set and the largest current of one feed to one side, (..., K)."""
    current = np.asanyarray(each.value)
    pairs = [
        formulas.ladder_drops(
            light.pitch[..., k] / 2,
            light.pitch[..., k],
            light.leds[..., k],
            light.feeds[k],
            light.foil_resistance[..., k],
            current[..., k],
        )
        for k in range(len(light.strips))
    ]
    feeds: Array = np.array([f.shape[-1] for f in light.feeds], dtype=float)
    terms = (
        each,
        each_set(origins, light, "length", "L", "length of a strip", light.length, "m"),
        each_set(origins, light, "feeds", "F", "feeds of a strip", feeds, "1"),
    )
    foil = each_set(origins, light, "foil_resistance", "r", "both foils per metre", light.foil_resistance, "ohm/m")
    drop = calculated(
        "ΔU_foil", "deepest drop along the foil", stack([p[0] for p in pairs]), "V",
        "ΔU_foil = r i Σ distances to the feed; between two feeds the LED where the foil current turns", (*terms, foil),
        LADDER, per_case=True,
    )  # fmt: skip
    edge = calculated(
        "I_edge", "largest current of one feed to one side", stack([p[1] for p in pairs]), "A",
        "I_edge = i × (LEDs fed from that side)", terms, LADDER, per_case=True,
    )  # fmt: skip
    return drop, edge


def _last_led(origins: Mapping[str, Origin], light: Light, each: Term, feed_voltage: Term, drop: Term) -> Finding:
    volts = np.asanyarray(feed_voltage.value) - np.asanyarray(drop.value)
    last = calculated(
        "U_last", "voltage at the LED farthest from a feed", volts, "V", "U_last = U_feed − ΔU_foil",
        (feed_voltage, drop), LADDER, per_case=True,
    )  # fmt: skip
    least = limit_of(origins, "last_led_volts", "U_min", "least voltage at the last LED", light.lim_last_led_volts, "V")
    colour = each_set(origins, light, "colour_volts", "U_blue", "below this blue fades", light.colour_volts, "V")
    supply = each_set(origins, light, "voltage", "U_strip", "supply of the strip", light.voltage, "V")
    need = np.maximum(column(light.lim_last_led_volts), light.colour_volts)
    lost = light.voltage - volts
    part = np.where(lost > 0, (light.voltage - need) / np.where(lost > 0, lost, 1.0), np.inf)
    level = formulas.level_of(np.asanyarray(each.value) * np.clip(part, 0, 1e6), light.full_white, light.dark)
    dimmer = calculated(
        "b_last", "brightest white that leaves it its volts", level, "%",
        "what is lost on the way falls with the current", (each, last, supply, led_current(origins, light)),
        derived("Ohm's law"), per_case=True,
    )  # fmt: skip
    return finding(
        demand=need,
        capacity=volts,
        cases=light.strips,
        reserve=NO_RESERVE,
        check="last-led-has-its-volts",
        trade="light",
        topic=TOPIC,
        title="The LED farthest from a feed still has its volts",
        unit="V",
        demand_name="voltage it needs",
        capacity_name="voltage it gets",
        late=Late.REPRINT,
        formula="max(U_min, U_blue) ≤ U_last",
        terms=(last, least, colour, dimmer),
        sources=(LADDER,),
        remedy="Use thicker or shorter feed wires, feed the strip at more places, or cap the brightness at {b_last}.",
    )


def _feeds(origins: Mapping[str, Origin], light: Light, each: Term, edge: Term) -> Finding:
    limit = limit_of(
        origins, "edge_feed_current", "I_feed", "current of one feed to one side", light.lim_edge_feed_current, "A"
    )
    current = np.asanyarray(each.value)
    reach = np.where(current > 0, column(light.lim_edge_feed_current) / np.where(current > 0, current, 1.0), np.inf)
    longest = calculated(
        "L_max", "strip that one feed may supply to one side", reach * light.pitch, "m", "L_max = p I_feed/i",
        (limit, each, each_set(origins, light, "leds_per_length", "p", "from LED to LED", light.pitch, "m")),
        per_case=True,
    )  # fmt: skip
    return finding(
        demand=np.asanyarray(edge.value),
        capacity=column(light.lim_edge_feed_current),
        cases=light.strips,
        reserve=NO_RESERVE,
        check="feeds-carry-the-current",
        trade="light",
        topic=TOPIC,
        title="No feed sends more into the foil than it carries",
        unit="A",
        demand_name="current of a feed to one side",
        capacity_name="current the foil takes there",
        late=Late.REPRINT,
        formula="I_edge ≤ I_feed",
        terms=(edge, limit, longest),
        sources=(LADDER, practice("measured on strips: about 4 A for one feed at the edge, whatever the wire")),
        remedy="Let no feed have more than {L_max} of strip to one side: feed both ends, or the middle as well.",
        caution="An overloaded feed scorches its solder joint and the foil beside it.",
    )
