"""Heat of the light: the core that carries the strips gives off what they turn into warmth."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Late, Term, by_rule, calculated, finding
from dryfit.ground.quantity import Origin
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.brief import Brief
from dryfit.machine.light import TUBE, Light
from dryfit.trades.light import formulas
from dryfit.trades.light.checks_terms import NO_RESERVE, each_set, limit_of, number_of_leds

HEAT_SHARE = 0.8
"""Part of the power of coloured LEDs that stays in the strip as heat (common practice)."""
SURFACE_RESISTANCE = 0.13
"""Of an upright surface indoors by free air and radiation, m²K/W (ISO 6946, from memory)."""
SURFACE = memory("ISO 6946", "surface resistance indoors, heat flowing sideways: 0.13 m²K/W")


def core(origins: Mapping[str, Origin], light: Light, brief: Brief, strip_current: Term) -> tuple[Finding, ...]:
    """Cases: sets of strips on a core. Mean heat of the strips and what their cores give off."""
    known = [k for k in range(len(light.strips)) if f"light.strips[{k}].core.side" in origins]
    if not known:
        return ()
    names = [light.strips[k] for k in known]
    heat, dark = _heat(origins, light, strip_current)
    side, length = light.core_side[..., known], light.length[..., known]
    tube = np.array([light.diffusers[k] == TUBE for k in known])
    around = np.array([max(light.counts[k], 4) for k in known], dtype=float)
    core_area = around * side * length
    tube_area = np.where(tube, np.pi * light.tube_diameter[..., known] * length, np.inf)
    per_watt = formulas.core_resistance(core_area, tube_area, SURFACE_RESISTANCE)
    rise = np.asanyarray(light.lim_core_temperature) - np.asanyarray(brief.ambient)
    given_off = column(rise) / per_watt
    watts, floor = np.asanyarray(heat.value)[..., known], dark[..., known]
    above = watts - floor
    part = np.where(above > 0, np.maximum(given_off - floor, 0.0) / np.where(above > 0, above, 1.0), np.inf)
    resistance = calculated(
        "R_core", "kelvin for each watt", per_watt, "K/W", "R_core = R_s (1/A_core + 2/A_tube)",
        (by_rule("R_s", "resistance of a surface, m²K/W", SURFACE_RESISTANCE, "1", SURFACE),
         *_areas(origins, light, known, core_area, tube_area)),
        derived("core to air, air to tube, tube to room, one after the other"), per_case=True,
    )  # fmt: skip
    dimmed = calculated(
        "d", "part of the present brightness that stays cool", part, "%", "d = (P_max − P_dark)/(P − P_dark)",
        (heat, resistance), per_case=True,
    )  # fmt: skip
    return (
        finding(
            demand=watts,
            capacity=given_off,
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
            formula="P ≤ (T_max − T_air)/R_core",
            terms=(
                heat,
                resistance,
                Term("T_air", "air around", brief.ambient, "K", origins["brief.ambient"]),
                limit_of(origins, "core_temperature", "T_max", "warmest foil", light.lim_core_temperature, "K"),
                dimmed,
            ),
            sources=(SURFACE, practice("a fifth of the power of coloured LEDs leaves as light")),
            remedy="Dim every scene to {d} of what it is, show dark ones for longer, or take a wider core.",
            caution="LED strips that run too warm lose their glue and may scorch plastic beside them.",
        ),
    )


def _heat(origins: Mapping[str, Origin], light: Light, strip_current: Term) -> tuple[Term, np.ndarray]:
    """Mean heat of each set over the show, and the part of it that does not dim, (..., K)."""
    current = np.asanyarray(strip_current.value)
    # without declared scenes it is taken to show full white all day
    shares = light.time_share if light.scenes else np.ones(1)
    shown = current[..., :-1, :] if light.scenes else current
    mean = np.sum(shown * shares[..., None], axis=-2)
    number = number_of_leds(origins, light)
    times = [
        Term(f"t_{i + 1}", f"part of the show in {scene!r}", shares[..., i][()], "%",
             origins[f"light.scenes[{i}].time_share"])
        for i, scene in enumerate(light.scenes)
    ]  # fmt: skip
    heat = calculated(
        "P", "mean heat of a set over the show", HEAT_SHARE * mean * light.voltage, "W", "P = h U Σ t I_strip",
        (strip_current, *times, each_set(origins, light, "voltage", "U_strip", "supply", light.voltage, "V"),
         by_rule("h", "part of the power that stays as heat", HEAT_SHARE, "%", practice("a fifth leaves as light"))),
        derived("energy over time"), per_case=True,
    )  # fmt: skip
    return heat, HEAT_SHARE * np.asanyarray(number.value) * light.dark * np.sum(shares, axis=-1)[
        ..., None
    ] * light.voltage


def _areas(
    origins: Mapping[str, Origin], light: Light, known: list[int], core_area: np.ndarray, tube_area: np.ndarray
) -> list[Term]:
    """Surfaces of cores and tubes, unfolded to their sizes; those of each set belong to its case."""
    terms: list[Term] = []
    for case, k in enumerate(known):
        path, name = f"light.strips[{k}]", light.strips[k]
        length = Term("L", f"length of a strip, {name}", light.length[..., k][()], "m", origins[f"{path}.length"])
        side = Term("s", f"side of the core, {name}", light.core_side[..., k][()], "m", origins[f"{path}.core.side"])
        flats = calculated(
            "A_core", f"surface of the core, {name}", core_area[..., case][()], "m2", "A_core = flats × s × L",
            (Term("flats", "flats of the core, four or one a strip", float(max(light.counts[k], 4)), "1",
                  origins[f"{path}.count"]), side, length),
        )  # fmt: skip
        terms.append(_of(case, flats))
        if light.diffusers[k] == TUBE:
            wide = Term(
                "D", f"tube outside, {name}", light.tube_diameter[..., k][()], "m", origins[f"{path}.diffuser.diameter"]
            )
            area = tube_area[..., case][()]
            tube = calculated("A_tube", f"surface of the tube, {name}", area, "m2", "A_tube = π D L", (wide, length))
            terms.append(_of(case, tube))
    return terms


def _of(case: int, term: Term) -> Term:
    return Term(term.symbol, term.name, term.value, term.unit, term.origin, case=case)
