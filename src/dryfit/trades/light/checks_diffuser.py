"""Diffuser: do single LEDs show along it, is it even around, how bright does it glow?"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Num, Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.light import FLAT, NO_DIFFUSER, Light
from dryfit.trades.light import formulas
from dryfit.trades.light.checks_terms import NO_RESERVE, limit_of

LAMBERT = derived("sum of Lambertian point sources on the wall")


def dots(origins: Mapping[str, Origin], light: Light) -> tuple[Finding, ...]:
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
    ripple = limit_of(origins, "ripple", "w", "ripple that is not seen", light.lim_ripple, "%")
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
    limit = limit_of(origins, "around", "w_r", "slow change around that is not seen", light.lim_around, "%")
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


def luminance(light: Light) -> Term:
    """Luminance of tubes at full white under the cap."""
    area = np.pi * light.tube_diameter * light.length
    lumens = light.lumens * light.leds * np.array(light.counts, dtype=float) * column(light.cap)
    value = formulas.tube_luminance(lumens, light.transmission, area)
    return calculated(
        "L_v", "luminance of the tube at full white, cd/m²", value, "1", "L_v = Φ τ/(π A)", (), LAMBERT, per_case=True
    )
