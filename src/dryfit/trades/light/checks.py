"""Light: does every LED get its volts and its bits, do feeds and core bear the current, do dots show?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Term, by_rule, calculated
from dryfit.ground.quantity import Array, Kind, Origin
from dryfit.ground.sources import derived
from dryfit.machine.brief import Brief
from dryfit.machine.light import CHANNELS, Light
from dryfit.trades.light import checks_data, checks_diffuser, checks_heat, checks_supply, formulas
from dryfit.trades.light.checks_terms import each_set, led_current, number_of_leds

FULL_WHITE = "full white"
EQUAL_CHANNELS = derived("three equal channels: share of them that the colour lights, amber with half its green")


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
    """luminance: of tubes at full white under the cap (..., K), cd/m², NaN without a tube."""

    luminance: Term
    findings: tuple[Finding, ...]


def light_demand(origins: Mapping[str, Origin], light: Light) -> LightDemand:
    """Current of every set of strips in every scene, with the current of an LED that is budgeted."""
    number = number_of_leds(origins, light)
    current = formulas.scene_current(
        np.asanyarray(number.value)[..., None, :],
        _levels(light),
        light.full_white[..., None, :],
        light.dark[..., None, :],
    )
    term = calculated(
        "I_strip",
        "current of each set of strips by scene",
        current,
        "A",
        "I_strip = n (I_dark + b (I_LED − I_dark))",
        (
            number,
            led_current(origins, light),
            each_set(origins, light, "dark", "I_dark", "current of a dark LED", light.dark, "A"),
            *_brightness(origins, light),
        ),
        derived("equal LEDs in parallel"),
    )
    return LightDemand((*light.scenes, FULL_WHITE), light.strips, term)


def _brightness(origins: Mapping[str, Origin], light: Light) -> tuple[Term, ...]:
    """Brightness of every scene as a part of full white, unfolded to its level, its colour and the cap."""
    cap = Term("cap", "cap on brightness", light.cap, "%", origins["light.cap"])
    found = []
    for i, scene in enumerate(light.scenes):
        path = f"light.scenes[{i}]"
        level = Term("level", f"level of {scene!r}", light.scene_level[..., i][()], "%", origins[f"{path}.level"])
        share = CHANNELS[light.colours[i]]
        colour = by_rule("colour", f"part of full white that {light.colours[i]} draws", share, "%", EQUAL_CHANNELS)
        terms, formula = [level, cap, colour], f"b_{i + 1} = min(level, cap) × colour"
        if origins[f"{path}.lit"].kind is not Kind.DEFAULT:
            terms.append(Term("lit", "part of the LEDs lit", light.scene_lit[..., i][()], "%", origins[f"{path}.lit"]))
            formula += " × lit"
        value = np.max(light.level[..., i, :], axis=-1)
        found.append(calculated(f"b_{i + 1}", f"brightness of {scene!r}", value, "%", formula, terms))
    return (*found, calculated("b_w", f"brightness of {FULL_WHITE!r}", light.cap, "%", "b_w = cap", (cap,)))


def assess_light(
    origins: Mapping[str, Origin],
    light: Light,
    brief: Brief,
    *,
    demand: LightDemand,
    feed_voltage: Term,
    rails: tuple[tuple[int, ...], ...] = (),
    rail_limit: Term | None = None,
    white_time: Term | None = None,
) -> LightResult:
    """All checks of the light. feed_voltage: (..., K) V at the feeds of each set in its worst case.

    rails: for each set the regulators that feed it (by number), () where none does.  rail_limit: what those may give
    all light on them for long (..., K), A.  white_time: how long the packs last in full white (...,), s.
    """
    if not light.strips:
        return LightResult(calculated("0", "no strips", np.zeros(0), "V", "there are no strips", ()), ())
    findings = (
        *checks_supply.scenes(origins, light, demand.scenes, demand.strip_current, rails, rail_limit, white_time),
        *checks_supply.along_the_strip(origins, light, demand.strip_current, feed_voltage),
        checks_data.frames(origins, light),
        checks_data.logic(origins, light),
        checks_data.edges(origins, light),
        *checks_diffuser.dots(origins, light),
        *checks_heat.core(origins, light, brief, demand.strip_current),
    )
    return LightResult(checks_diffuser.luminance(light), findings)


def _levels(light: Light) -> Array:
    """Levels of the scenes and, last, of full white under the cap: (..., S + 1, K)."""
    white = column(light.cap, 2) * np.ones(len(light.strips))
    lead = np.broadcast_shapes(light.level.shape[:-2], white.shape[:-2])
    tail = light.level.shape[-2:]
    return np.concatenate(
        [np.broadcast_to(light.level, (*lead, *tail)), np.broadcast_to(white, (*lead, 1, tail[-1]))], axis=-2
    )
