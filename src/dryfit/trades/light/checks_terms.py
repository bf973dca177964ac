"""Terms that every file of light checks needs: numbers of the sets of strips, limits, reserves."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Num, Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.light import Light

NO_RESERVE = (0.0, practice("the limit itself holds the margin"))
TENTH = (0.1, practice("a tenth for what was not measured"))


def each_set(
    origins: Mapping[str, Origin], light: Light, key: str, symbol: str, name: str, values: Num, unit: str
) -> Term:
    """A number of every set of strips as one term: (..., K)."""
    paths = [f"light.strips[{i}].{key}" for i in range(len(light.strips))]
    if len(paths) == 1:
        return Term(symbol, name, values, unit, origins[paths[0]], per_case=True)
    array = np.asanyarray(values)
    terms = [
        Term(f"{symbol}_{strip}", f"{name}, {strip}", array[..., i][()], unit, origins[path], case=i)
        for i, (strip, path) in enumerate(zip(light.strips, paths, strict=True))
    ]
    return calculated(symbol, name, values, unit, "one for each set of strips", terms, per_case=True)


def number_of_leds(origins: Mapping[str, Origin], light: Light) -> Term:
    """LEDs of every set of strips (..., K)."""
    counts = np.array(light.counts, dtype=float)
    return calculated(
        "n",
        "LEDs in each set of strips",
        light.leds * counts,
        "1",
        "n = n_s ⌊L/p⌋",
        (
            each_set(origins, light, "count", "n_s", "strips in the set", counts, "1"),
            each_set(origins, light, "length", "L", "length of a strip", light.length, "m"),
            each_set(origins, light, "leds_per_length", "p", "from LED to LED", light.pitch, "m"),
        ),
        derived("strips are cut between LEDs"),
        per_case=True,
    )


def led_current(origins: Mapping[str, Origin], light: Light) -> Term:
    """Current of one LED at full white that is budgeted (..., K)."""
    return each_set(
        origins, light, "full_white_high", "I_LED", "current of an LED at full white", light.full_white, "A"
    )


def limit_of(origins: Mapping[str, Origin], key: str, symbol: str, name: str, value: Num, unit: str) -> Term:
    """A limit of the section `light.limits`."""
    return Term(symbol, name, value, unit, origins[f"light.limits.{key}"])
