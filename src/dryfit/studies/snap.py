"""Sizes that one can buy, make or set: what a solved number is rounded out to, written in the unit that was typed.

Series of ISO 3, ISO 54 and IEC 60063 are from memory; wires and fuses come from the shelf, which is the catalogue.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from dryfit.ground import units

Shelf = Mapping[str, tuple[float, ...]]
"""Sizes that the catalogue has, SI, rising, by the name of the series; "LEDs PATH" is the pitch of one strip."""

_MM, _UM = 1e-3, 1e-6
_DECADES = range(-15, 9)
_E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
SERIES: Mapping[str, tuple[float, ...]] = {
    # ISO 54, series I, and 1.25 (from memory)
    "modules": tuple(m * _MM for m in (0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)),
    # bores of the usual bearings, and ISO 3 R10 below them (from memory)
    "bars": tuple(d * _MM for d in (3, 4, 5, 6, 8, 10, 12, 15, 17, 20, 25, 30, 35, 40, 45, 50)),
    "nozzles": tuple(d * _MM for d in (0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2)),
    # IEC 60063 (from memory)
    "resistors": tuple(x * 10.0**k for k in range(8) for x in _E12),
    "capacitors": tuple(x * 10.0**k for k in _DECADES for x in _E12[::2]),
    "level shifters": (3.3, 5.0),
    "AWG": tuple(sorted(units.awg_area(str(g)) for g in range(4, 27, 2))),
}
_TYPED = re.compile(r"(?P<number>[+-]?[0-9.]+(?:[eE][+-]?[0-9]+)?)\s*(?P<unit>[^\s0-9±+][^\s±+]*)?(?P<rest>\s*±.*%)?")
_NICE = (1.0, 2.0, 5.0)
_MANY = 40


@dataclass(frozen=True)
class Style:
    """How a number was typed: its unit, the unit's size in SI, and a ± in percent behind it."""

    dimension: units.Dimension
    unit: str
    factor: float
    offset: float = 0.0
    spread: str = ""
    gauge: bool = False


@dataclass(frozen=True)
class Size:
    """A size as it would be typed, and what it reads as, SI."""

    si: float
    text: str


def style_of(text: str, dimension: units.Dimension) -> Style | None:
    """How a text was typed; None where it is no number (a default told in words)."""
    if text.strip().startswith("AWG"):
        return Style(dimension, "", 1.0, gauge=True)
    match = _TYPED.fullmatch(text.strip())
    if match is None:
        return None
    unit = match["unit"] or ""
    plain = unit.replace("²", "2").replace("³", "3").replace("·", "*").replace("µ", "u").replace("°C", "degC")
    if plain not in dimension.units and not (unit == "" and dimension.bare):
        return None
    return Style(
        dimension, unit, dimension.units.get(plain, 1.0), dimension.offsets.get(plain, 0.0), match["rest"] or ""
    )


def written(si: float, style: Style, decimals: int = 6) -> str:
    """A value in the style of what was typed: "340 mm"."""
    number = round((si - style.offset) / style.factor, decimals) + 0.0
    plain = f"{number:.{decimals}f}"
    plain = plain.rstrip("0").rstrip(".") if "." in plain else plain
    return f"{plain} {style.unit}".rstrip() + style.spread


def rounded(si: float, style: Style, towards: float | None = None) -> str:
    """A value with three figures as it would be typed, rounded to the side of `towards` where that is given."""
    value = (si - style.offset) / style.factor
    step = 10.0 ** (math.floor(math.log10(max(abs(value), 1e-9))) - 2)
    down, up = math.floor(value / step + 1e-9), math.ceil(value / step - 1e-9)
    kept = round(value / step) if towards is None else up if towards > si else down
    return written(kept * step * style.factor + style.offset, replace(style, spread=""))


def sizes(style: Style, series: str, low: float, high: float, shelf: Shelf) -> tuple[tuple[Size, ...], ...]:
    """Sizes between `low` and `high`, SI, rising, from coarse to fine: the coarsest that will do is the best."""
    name = "AWG" if style.gauge else series
    listed = shelf.get(name, SERIES.get(name))
    if listed is not None:
        found = [x for x in listed if low * (1 - 1e-9) <= x <= high * (1 + 1e-9)]
        return (tuple(_sizes(found, style)),)
    if series.startswith("LEDs"):
        raise ValueError("whole LEDs need the pitch of their strip: see `leds`")
    grids = []
    for step in _steps(style, series, low, high):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first < _MANY:
            grids.append(tuple(_sizes([k * step for k in range(first, last + 1)], style)))
    return tuple(dict.fromkeys(g for g in grids if g))


def leds(style: Style, pitch: float, low: float, high: float) -> tuple[tuple[Size, ...], ...]:
    """Lengths of a strip with a whole number of LEDs, cut just behind the last one."""
    first, last = math.ceil(low / pitch - 1e-9), math.floor(high / pitch + 1e-9)
    step = max(1, (last - first) // _MANY)
    lengths = [math.ceil(k * pitch / (0.1 * _MM) - 1e-6) * 0.1 * _MM for k in range(first, last + 1, step)]
    return (tuple(_sizes(lengths, style)),)


def _steps(style: Style, series: str, low: float, high: float) -> Iterator[float]:
    """Steps of even sizes, SI, coarse to fine."""
    d = style.dimension
    if d.whole:
        yield 1.0
        return
    if series == "fine lengths":
        yield from (s * _MM for s in (0.1, 0.05, 0.01))
        return
    if series == "layers":
        yield from (s * _MM for s in (0.05, 0.01))
        return
    if d.si == "rad":
        large = max(abs(low), abs(high)) > 10 * math.pi / 180
        yield from (s * math.pi / 180 for s in ((5.0, 1.0, 0.5) if large else (0.5, 0.1)))
        return
    size = max(abs(low), abs(high)) / style.factor
    if size == 0 or not math.isfinite(size):
        return
    top = math.floor(math.log10(size))
    fineness = (0.1, 0.05, 0.01) if series == "two figures" else (0.05, 0.02, 0.01, 0.005, 0.002, 0.001)
    for part in fineness:
        yield _nice(part * 10.0 ** (top if series == "two figures" else math.log10(size))) * style.factor


def _nice(x: float) -> float:
    """The largest of 1, 2, 5 in any decade that is no larger."""
    decade = 10.0 ** math.floor(math.log10(x) + 1e-9)
    return max(n for n in _NICE if n * decade <= x * (1 + 1e-9)) * decade


def _sizes(values: list[float], style: Style) -> Iterator[Size]:
    for si in values:
        text = _gauge(si) if style.gauge else written(si, style)
        try:
            yield Size(units.read(text, style.dimension)[0], text)
        except units.UnitError:
            continue


def _gauge(si: float) -> str:
    return min((f"AWG {g}" for g in range(4, 27, 2)), key=lambda t: abs(math.log(units.awg_area(t[4:]) / si)))
