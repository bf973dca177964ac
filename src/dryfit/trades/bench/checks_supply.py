"""Readings of the multimeter: packs before they are joined, regulators under a dummy load, strips in full white."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.findings import by_rule, calculated
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import practice
from dryfit.machine.light import Light
from dryfit.machine.power import Power
from dryfit.trades.bench import formulas as f
from dryfit.trades.bench.checks_terms import (
    CIRCUIT,
    Handed,
    Prediction,
    clamp_meter,
    found,
    instrument,
    share_of,
    unique,
    volt_meter,
)

DUMMY = 0.5
"""Part of a regulator's rated current that the dummy load takes."""
_RESTED = 0.01
_SETTING = 0.015


def predict_supply(origins: Mapping[str, Origin], power: Power, light: Light, handed: Handed) -> tuple[Prediction, ...]:
    """Packs, rails and strips."""
    return (*_packs(origins, power, handed), *_rails(origins, power, handed), *_strips(light, handed))


def _packs(origins: Mapping[str, Origin], power: Power, handed: Handed) -> list[Prediction]:
    count = power.packs.count
    full = np.asanyarray(handed.rail_source[0].value)
    out = []
    for n in range(count):
        label = f"pack {n + 1}" if count > 1 else "the pack"
        term = calculated("U_0", f"rested voltage of {label}, fully charged", full, "V", "n U_cell",
                          (handed.rail_source[0],))  # fmt: skip
        scatter = share_of("rested voltage from pack to pack and with the hours since charging", full, "V", _RESTED,
                           "a rested full pack lies within a hundredth of its table")  # fmt: skip
        title = f"Voltage of {label}, fully charged and rested for an hour, nothing connected"
        out.append(Prediction(f"pack-{n + 1}-volts", title, "supply", "pack-volts", term, volt_meter(full), scatter))
    if count > 1:
        most = found(
            origins, "ΔU", "difference at which packs may be joined", power.packs.difference_when_joined, "V",
            "power.packs.difference_when_joined",
        )  # fmt: skip
        accuracy = instrument("a multimeter across the gap", most.value, "V", 0.005, 0.005)
        title = "Largest voltage between two packs, measured across the gap before they are joined"
        out.append(
            Prediction("packs-difference", title, "supply", "pack-difference", most, accuracy, given=(most,), most=True)
        )
    return out


def _rails(origins: Mapping[str, Origin], power: Power, handed: Handed) -> list[Prediction]:
    b = power.branches
    at = [n for n, has in enumerate(b.regulated) if has]
    out = []
    for n, name in zip(at, unique([b.names[n] for n in at]), strict=True):
        path = f"{b.paths[n]}.regulator"
        output = found(origins, "U_out", f"output of {b.names[n]}", b.output[..., n][()], "V", f"{path}.output")
        rated = found(
            origins, "I_r", f"rated current of {b.names[n]}", b.rated_current[..., n][()], "A", f"{path}.current"
        )
        eta = found(origins, "η", "efficiency", b.efficiency[..., n][()], "%", f"{path}.efficiency")
        drop = found(origins, "U_d", "volts it wants over its output", b.dropout[..., n][()], "V", f"{path}.dropout")
        part = by_rule("s", "part of the rated current", DUMMY, "%", practice("half load shows a weak regulator cool"))
        current = DUMMY * np.asanyarray(rated.value)
        load = calculated("I_dummy", "current of the dummy load", current, "A", "s I_r", (part, rated))
        ohms = calculated("R_dummy", "dummy load", output.value / current, "ohm", "U_out/I_dummy", (output, load))
        heat = calculated("P_dummy", "heat of the dummy load", output.value * current, "W", "U_out I_dummy",
                          (output, load))  # fmt: skip
        emf, resistance = _before(power, n, handed)
        into = f.volts_into(emf, resistance, output.value * current / eta.value)
        volts = f.regulated_volts(into, output.value, _dropout(b.types[n], drop.value))
        term = calculated(
            "U_rail", f"rail {b.names[n]} under the dummy load", volts, "V",
            "least of U_out and U_in - U_d, U_in of the source under the load",
            (output, load, eta, drop, *handed.rail_source), CIRCUIT,
        )  # fmt: skip
        scatter = share_of("setting and load regulation", output.value, "V", _SETTING,
                           "modules keep their output within 1.5 %")  # fmt: skip
        title = f"Volts of the rail {b.names[n]} under a dummy load of half its rated current"
        out.append(
            Prediction(f"rail-{name}-volts", title, "supply", "rail-volts", term, volt_meter(volts), scatter,
                       given=(load, ohms, heat), reads=f"{path}.output")
        )  # fmt: skip
    return out


def _dropout(kind: str, volts: Num) -> Num:
    """What a regulator wants over its output; one that steps up wants nothing."""
    return -np.inf if kind == "step-up" else volts


def _before(power: Power, n: int, handed: Handed) -> tuple[Num, Array]:
    """Source that branch n's regulator sees, with nothing else on: emf and resistance."""
    b = power.branches
    resistance: Array = b.supply[..., n] + b.back[..., n]
    above = b.parent[n]
    while above >= 0 and not b.regulated[above]:
        resistance = resistance + b.supply[..., above] + b.back[..., above]
        above = b.parent[above]
    if above >= 0:
        return b.output[..., above], resistance
    return handed.rail_source[0].value, np.asanyarray(resistance + handed.rail_source[1].value)


def _strips(light: Light, handed: Handed) -> list[Prediction]:
    if handed.strip_current is None:
        return []
    out = []
    for k, name in enumerate(unique(light.strips)):
        label = light.strips[k]
        volts = handed.strip_volts[k]
        value = np.asanyarray(handed.strip_current.value)[..., k][()]
        current = calculated("I_white", f"current of the strips {label} in full white under the cap", value, "A",
                             "I_strip, full white", (handed.strip_current,))  # fmt: skip
        title = f"Volts at the LED of {label} farthest from a feed, full white under the cap"
        out += [
            Prediction(f"strip-{name}-current", f"Current of the strips {label}, full white under the cap", "light",
                       "strip-current", current, clamp_meter(value)),
            Prediction(f"strip-{name}-end-volts", title, "light", "strip-volts", volts, volt_meter(volts.value),
                       share_of("solder joints and setting of the regulator", volts.value, "V", _SETTING,
                                "modules keep their output within 1.5 %")),
        ]  # fmt: skip
    return out
