"""Diffuser: do single LEDs show along it, is it even around, how bright does it glow?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Num, Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.light import FLAT, NO_DIFFUSER, TUBE, Light
from dryfit.trades.light import formulas
from dryfit.trades.light.checks_terms import NO_RESERVE, limit_of

LAMBERT = derived("sum of Lambertian point sources on the wall")


def dots(origins: Mapping[str, Origin], light: Light) -> tuple[Finding, ...]:
    """Unevenness along and around; only for sets behind a diffuser. Cases: those sets."""
    behind = [k for k, shape in enumerate(light.diffusers) if shape != NO_DIFFUSER]
    if not behind:
        return ()
    along: list[Num] = []
    away: list[Num] = []
    around: dict[int, Num] = {}
    for k in behind:
        pitch = light.pitch[..., k]
        if light.diffusers[k] == FLAT:
            along.append(formulas.row_ripple(light.distance[..., k], pitch)[1])
            away.append(light.distance[..., k])
            continue
        inside = light.tube_diameter[..., k] / 2 - light.tube_wall[..., k]
        ripples = formulas.tube_ripples(inside, light.source_radius[..., k], pitch, light.counts[k])
        along.append(ripples[0])
        away.append(inside - light.source_radius[..., k])
        around[k] = ripples[1]
    found = _along(origins, light, behind, stack(along), stack(away))
    return (found, _around(origins, light, around)) if around else (found,)


def _along(origins: Mapping[str, Origin], light: Light, behind: list[int], ripple: Num, away: Num) -> Finding:
    limit = limit_of(origins, "ripple", "w", "ripple that is not seen", light.lim_ripple, "%")
    terms = [t for case, k in enumerate(behind) for t in _sizes(origins, light, k, case)]
    distance = calculated("d", "from the LEDs to the diffuser", away, "m", "d = D/2 − wall − s/2 − strip, or as given",
                          terms, per_case=True)  # fmt: skip
    dense = calculated(
        "N", "LEDs a metre that would do", 1 / formulas.pitch_that_hides(away, column(light.lim_ripple)), "1",
        "first harmonic of the row: 4 (1 + x) e^(−x) = w, N = x/(2 π d)", (distance, limit), LAMBERT, per_case=True,
    )  # fmt: skip
    return finding(
        demand=ripple,
        capacity=column(light.lim_ripple),
        cases=[light.strips[k] for k in behind],
        reserve=NO_RESERVE,
        check="no-dots-through-diffuser",
        trade="light",
        topic="diffuser",
        title="Single LEDs do not show along the diffuser",
        unit="%",
        demand_name="(max − min)/mean along the strip",
        capacity_name="ripple that is not seen",
        late=Late.REPRINT,
        formula="(max − min)/mean of E = Σ cos θ_LED cos θ_wall / r² over all LEDs ≤ w",
        terms=(distance, limit, dense),
        sources=(LAMBERT, practice("a distance of one pitch or more hides the dots")),
        remedy="Take a strip of {N} or more LEDs a metre, or set the diffuser farther away than {d}.",
    )


def _around(origins: Mapping[str, Origin], light: Light, around: dict[int, Num]) -> Finding:
    limit = limit_of(origins, "around", "w_r", "slow change around that is not seen", light.lim_around, "%")
    terms = [t for case, k in enumerate(around) for t in _sizes(origins, light, k, case)]
    counts = [
        Term("n_s", f"strips around the core, {light.strips[k]}", float(light.counts[k]), "1",
             origins[f"light.strips[{k}].count"], case=case)
        for case, k in enumerate(around)
    ]  # fmt: skip
    return finding(
        demand=stack(list(around.values())),
        capacity=column(light.lim_around),
        cases=[light.strips[k] for k in around],
        reserve=NO_RESERVE,
        check="light-is-even-around",
        trade="light",
        topic="diffuser",
        title="The tube looks equally bright from all sides",
        unit="%",
        demand_name="(max − min)/mean around the tube",
        capacity_name="slow change that is not seen",
        late=Late.REPRINT,
        formula="(max − min)/mean of E(φ) = Σ π a b/(2 ρ³ p) over the strips ≤ w_r",
        terms=(*counts, *terms, limit),
        sources=(LAMBERT,),
        remedy="Put more than {n_s} strips around the core, or a slimmer core into a wider tube than {D}.",
    )


def _sizes(origins: Mapping[str, Origin], light: Light, k: int, case: int) -> list[Term]:
    """Sizes of one set that its evenness follows from."""
    path, name = f"light.strips[{k}]", light.strips[k]

    def of(symbol: str, words: str, value: Num, key: str) -> Term:
        return Term(symbol, f"{words}, {name}", value, "m", origins[f"{path}.{key}"], case=case)

    pitch = of("p", "from LED to LED", light.pitch[..., k], "leds_per_length")
    if light.diffusers[k] != TUBE:
        return [pitch, of("d", "LEDs to the diffuser", light.distance[..., k], "diffuser.distance")]
    proud = light.source_radius[..., k] - light.core_side[..., k] / 2
    return [
        pitch,
        of("D", "tube outside", light.tube_diameter[..., k], "diffuser.diameter"),
        of("wall", "wall of the tube", light.tube_wall[..., k], "diffuser.wall"),
        of("s", "side of the core", light.core_side[..., k], "core.side"),
        of("strip", "height of the strip on it", proud, "core.strip_height"),
    ]


def luminance(light: Light) -> Term:
    """Luminance of tubes at full white under the cap."""
    area = np.pi * light.tube_diameter * light.length
    lumens = light.lumens * light.leds * np.array(light.counts, dtype=float) * column(light.cap)
    value = formulas.tube_luminance(lumens, light.transmission, area)
    return calculated(
        "L_v", "luminance of the tube at full white, cd/m²", value, "1", "L_v = Φ τ/(π A)", (), LAMBERT, per_case=True
    )
