"""Readings of scale, tilt board and tape: masses of parts, arms and sections, wheel loads, tipping, sway."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.findings import by_rule, calculated
from dryfit.ground.quantity import Origin
from dryfit.ground.sources import practice
from dryfit.machine.arms import Arms, first_arms
from dryfit.machine.parts import Parts, written_name
from dryfit.machine.wheels import Wheels
from dryfit.trades.bench import formulas as f
from dryfit.trades.bench.checks_terms import MECHANICS, Handed, Prediction, found, instrument, scale, unique

UNEVEN = 0.5e-3
"""How level scales under the wheels of a machine are set, m (common practice: shims of half a millimetre)."""


def predict_weight(
    origins: Mapping[str, Origin], wheels: Wheels, parts: Parts, arms: Arms, handed: Handed
) -> tuple[Prediction, ...]:
    """Everything that is weighed, tilted and watched."""
    return (
        *_parts(origins, parts),
        *_arms(origins, arms),
        *_sections(handed),
        *_loads(origins, wheels, parts, arms, handed),
        _tilt(arms, handed),
        *_sway(handed),
    )


def _parts(origins: Mapping[str, Origin], parts: Parts) -> list[Prediction]:
    paths = list(dict.fromkeys(parts.paths))
    names = unique([written_name(parts, p) for p in paths])
    out = []
    for path, name in zip(paths, names, strict=True):
        i, many = parts.paths.index(path), parts.paths.count(path)
        mass, written = parts.mass[..., i][()], written_name(parts, path)
        base = parts.section[i] == parts.section[0]
        key = f"{path}.mass"
        term = found(origins, "m", f"mass of {written}", mass, "kg", key if key in origins else f"{path}.name")
        title = f"Mass of {'one ' if many > 1 else ''}{written}"
        out.append(Prediction(f"mass-{name}", title, "frame" if base else "body", "mass", term, scale(mass), reads=key))
    return out


def _arms(origins: Mapping[str, Origin], arms: Arms) -> list[Prediction]:
    if not arms.names:
        return []
    out = []
    for first, group, name in zip(
        first_arms(arms), range(len(arms.group_names)), unique(arms.group_names), strict=True
    ):
        mass = np.sum(np.asanyarray(arms.link_mass)[..., first, :], axis=-1)[()]
        typed = [
            found(origins, symbol, words, value, unit, path)
            for symbol, words, value, unit, path in arms.typed
            if unit == "kg" and path.startswith(f"arms.groups[{group}]")
        ]
        term = calculated("m_a", f"mass of one {arms.group_names[group]}", mass, "kg", "Σ links and payload", typed)
        title = f"Mass of one {arms.group_names[group]}, links and payload, to its first joint"
        out.append(Prediction(f"mass-arm-{name}", title, "arms", "mass-sum", term, scale(mass)))
    return out


def _sections(handed: Handed) -> list[Prediction]:
    names = unique([name for name, _ in handed.sections])
    return [
        Prediction(f"mass-section-{key}", f"Mass of the section {name}", "body", "mass-sum", term, scale(term.value))
        for key, (name, term) in zip(names, handed.sections, strict=True)
    ]


def _loads(origins: Mapping[str, Origin], wheels: Wheels, parts: Parts, arms: Arms, handed: Handed) -> list[Prediction]:
    loads = np.asanyarray(handed.wheel_load.value)[..., 0, :]
    count = loads.shape[-1]
    posture = f", arms {arms.postures[0]}" if arms.names else ""
    out = []
    for i, name in enumerate(unique(wheels.names)):
        value = f.scale_reading(loads[..., i])
        term = calculated("m_N", f"load of {wheels.names[i]} on a scale", value, "kg", "N/g", (handed.wheel_load,))
        scatter = None
        if count > 3:
            # a fourth support takes what the levels of the scales give it
            stiff = found(
                origins, "k", "stiffness of one contact", parts.contact_stiffness, "N/m", "body.contact_stiffness"
            )
            off = by_rule("h", "scales off one plane", UNEVEN, "m", practice("shims of half a millimetre"))
            lost = f.scale_reading(parts.contact_stiffness * UNEVEN / count)
            scatter = calculated("u", "load that moves when scales stand uneven", lost, "kg", "k h/(W g)",
                                 (stiff, off), MECHANICS)  # fmt: skip
        title = f"Load of {wheels.names[i]} on a scale, the machine complete and level{posture}"
        out.append(Prediction(f"{name}-load", title, "body", "wheel-load", term, scale(value), scatter))
    return out


def _tilt(arms: Arms, handed: Handed) -> Prediction:
    angle = np.asanyarray(handed.tip_angle.value)[..., 0][()]
    term = calculated(
        "α", "tilt at which a wheel gets light", angle, "rad", "atan(b/h), weakest direction", (handed.tip_angle,),
        MECHANICS,
    )  # fmt: skip
    accuracy = instrument("a level with degrees", angle, "rad", float(np.deg2rad(0.5)), 0.02)
    posture = f", arms {arms.postures[0]}" if arms.names else ""
    title = f"Tilt of the board at which the highest wheel gets light, weakest direction{posture}"
    return Prediction("tilt-board", title, "body", "tilt", term, accuracy)


def _sway(handed: Handed) -> list[Prediction]:
    if handed.sway is None:
        return []
    value = np.asanyarray(handed.sway.value)
    whole = calculated(
        "x_2", "sway from side to side", (2 * value)[()], "m", "2 x_s, wheels at their worst phases", (handed.sway,)
    )
    accuracy = instrument("a ruler behind the top", whole.value, "m", 1e-3, 0.0)
    return [
        Prediction("top-sway", "Sway of the top from side to side at a crawl", "first drive", "sway", whole, accuracy,
                   most=True)
    ]  # fmt: skip
