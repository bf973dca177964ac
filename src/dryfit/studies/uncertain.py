"""The uncertain inputs of a machine, each with its range and who says so; and machines built from drawn values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.quantity import Kind, Num, Origin, Quantity, Spread, Value
from dryfit.ground.units import Dimension
from dryfit.machine.machine import Machine
from dryfit.studies.many import Build
from dryfit.studies.records import Place, PlaceKind
from dryfit.studies.records_spread import Input
from dryfit.studies.usual_spreads import usual

TYPED, DEFAULT, ROW, USUAL = "± in the file", "default", "catalogue row", "usual spread"
"""On whose word an input may be off."""

_DRAWN = Spread(0.0, "drawn")
_LEAST = 0.01
"""What must be more than nothing is drawn no nearer to it than this part of its value."""


@dataclass(frozen=True)
class Range:
    """How far a catalogue row lets one of its numbers go, SI; the numbers of a row that states it."""

    low: float
    high: float
    reason: str


def inputs(machine: Machine, places: Iterable[Place], ranges: Mapping[str, Range]) -> tuple[Input, ...]:
    """Every number of a machine that may be off, in the order in which the machine was put together.

    ranges: by path, of the numbers whose catalogue row states a range. What the design says with ± comes first, then
    the spread of a default, the range of a row, and the usual spread of such a number.
    """
    numbers = [p for p in places if p.kind is PlaceKind.NUMBER and np.isfinite(p.si)]
    listed = {p.path for p in numbers}
    found = [_input(p, machine, ranges) for p in numbers]
    found += [one for path, one in _worked_out_masses(machine).items() if path not in listed]
    return tuple(one for one in found if one is not None and one.low < one.high)


def _input(place: Place, machine: Machine, ranges: Mapping[str, Range]) -> Input | None:
    path, value = place.path, place.si
    rule, origin, spread = usual(path), machine.origins[path], machine.spreads.get(path)
    if rule.always or (place.dimension is not None and place.dimension.whole):
        # what is counted is not measured
        return None
    low, high, grounds, reason = value - rule.below, value + rule.above, USUAL, rule.reason
    if not rule.absolute:
        low, high = value - abs(value) * rule.below, value + abs(value) * rule.above
    if spread is not None:
        half = abs(value) * spread.fraction
        low, high, reason = value - half, value + half, spread.reason
        grounds = DEFAULT if origin.kind is Kind.DEFAULT else TYPED if reason.startswith("given") else USUAL
    elif path in ranges and origin.kind is Kind.CATALOGUE:
        low, high, grounds, reason = ranges[path].low, ranges[path].high, ROW, ranges[path].reason
    if place.dimension is not None:
        low, high = _allowed(low, high, value, place.dimension)
    unit = _unit(place.dimension)
    reckoned = origin.kind is Kind.DEFAULT
    return Input(path, place.line, place.text, unit, value, low, high, grounds, reason, rule.measure, reckoned)


def _allowed(low: float, high: float, value: float, dimension: Dimension) -> tuple[float, float]:
    """The range cut to what can be: no wire shorter than nothing, no share above 100 %."""
    least = max(_LEAST * value, dimension.low) if 0 < dimension.low < 1e-300 else dimension.low
    return max(low, least), min(high, dimension.high)


def _unit(dimension: Dimension | None) -> str:
    if dimension is None:
        return "1"
    return "%" if "%" in dimension.units else dimension.si


def _worked_out_masses(machine: Machine) -> dict[str, Input]:
    """Masses that the design leaves to sizes and density: no number stands for them, but they may be off."""
    found: dict[str, Input] = {}
    parts = machine.parts
    for i, part in enumerate(parts.paths):
        path = f"{part}.mass"
        spread = machine.spreads.get(path)
        mass = float(parts.mass[..., i])
        if path in found or spread is None or not np.isfinite(mass):
            continue
        half, grounds = mass * spread.fraction, USUAL
        low, measure = max(mass - half, _LEAST * mass), usual(path).measure
        text = f"worked out from {parts.known_by[i]}"
        found[path] = Input(path, 0, text, "kg", mass, low, mass + half, grounds, spread.reason, measure)
    return found


@dataclass(frozen=True)
class Drawn:
    """A build in which arrays are the truth about a machine, not a guess at it.

    Some checks count the doubt about a number themselves: they take the lower bound of the friction, the most hungry
    lot of LEDs, the half-widths of the masses. Where the number is drawn, that would count the same doubt twice. So a
    drawn number has no spread of its own, and what follows from one (bounds, worst lots) follows the drawn value.

    reckoned: paths of defaults; their arrays are not values but factors on what the default comes to in that draw.
    """

    build: Build
    reckoned: frozenset[str]

    def __call__(self, values: Mapping[str, Value | None]) -> Machine:
        firm: dict[str, Value | None] = {path: v for path, v in values.items() if path not in self.reckoned}
        for path in [p for p in firm if p.endswith(".full_white")]:
            firm[f"{path}_high"] = None
        firm = {path: _truth(path, v) for path, v in firm.items()}
        factors = {path: v for path, v in values.items() if path in self.reckoned}
        if not factors:
            return self.build(firm)
        at_first = self.build(firm).values
        worked = {path: _truth(path, at_first[path] * _number(v)) for path, v in factors.items()}
        return self.build({**firm, **worked})


def _number(value: Value | None) -> Num:
    assert isinstance(value, float | np.ndarray)
    return value


def _truth(path: str, value: Value | None) -> Value | None:
    if value is None or isinstance(value, str | Quantity):
        return value
    return Quantity(value, "", Origin(Kind.DESIGN, path=path, text="drawn"), _DRAWN)
