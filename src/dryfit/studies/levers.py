"""Levers: everything in a design that its maker may set otherwise, with the values worth trying.

Found among the places of the design, not listed: a number that is written, or a default that could be; a choice of
words; another row of the catalogue. `cost_class` says which places are no choice at all.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dryfit.ground.errors import DryfitError, OneNumberError
from dryfit.ground.quantity import Array
from dryfit.studies.cost_class import MOVED, Rule, rule_of
from dryfit.studies.many import Build
from dryfit.studies.records import Place, PlaceKind
from dryfit.studies.records_fix import Change, Edit, Price
from dryfit.studies.snap import Shelf, Size, Style, leds, sizes, style_of, written

_STEPS = 6
_FEW_SIZES = ("modules", "bars", "nozzles", "wires")
"""Series with so few sizes that every one is looked at."""
_LISTED = 16
_WORD_SIZE, _ROW_SIZE = 0.2, 0.5
"""How far a change of a word, or of a bought part, counts when changes are put in order of size."""
_TOGETHER = re.compile(r"control\.driver_inputs|control\.functions|arms\.|power\.packs\.lead_lengths|light\.")
"""Lists whose entries are often set alike, so that all of them are one lever too."""


@dataclass(frozen=True)
class Option:
    """One thing that may stand at the places of a lever instead: its edits, and its name for people."""

    edits: tuple[Edit, ...]
    label: str


@dataclass(frozen=True)
class Follower:
    """A number that moves along with a lever by the same difference: the wheel units with the wheel circle."""

    place: Place
    style: Style

    def at(self, value: Array | float, base: float) -> Array | float:
        """Its value, SI, when the lever goes from `base` to `value`."""
        return self.place.si + (value - base)


@dataclass(frozen=True)
class Lever:
    """One or several places that are set together.

    words: what it is, for people.  base: the SI value now; NaN for a choice.
    points: SI values to look at, rising, without the base.  listed: the sizes at those points, if only they exist.
    options: what else may stand there, for a choice.  follow: what moves along.
    """

    places: tuple[Place, ...]
    rule: Rule
    words: str
    price: Price
    base: float = float("nan")
    style: Style | None = None
    points: tuple[float, ...] = ()
    listed: tuple[Size, ...] = ()
    series: str = ""
    pitch: float = 0.0
    options: tuple[Option, ...] = ()
    follow: tuple[Follower, ...] = ()

    @property
    def paths(self) -> tuple[str, ...]:
        """The keys that it sets."""
        return tuple(p.path for p in (*self.places, *(f.place for f in self.follow)))

    def values(self, value: float) -> dict[str, float]:
        """What stands at each of its keys, SI, when it is set to a value."""
        along = {f.place.path: float(f.at(value, self.base)) for f in self.follow}
        return {p.path: value for p in self.places} | along

    @property
    def family(self) -> str:
        """The same for levers that differ only in the entry of a list."""
        return re.sub(r"\[\d+\]", "[*]", self.paths[0])

    def sizes(self, low: float, high: float, shelf: Shelf) -> tuple[tuple[Size, ...], ...]:
        """Sizes that it can take between two values, coarse ones first."""
        if self.style is None:
            return ()
        if self.pitch:
            return leds(self.style, self.pitch, low, high)
        return sizes(self.style, self.series, low, high, shelf)

    def to(self, size: Size) -> Change:
        """The change that sets it to a size."""
        own = tuple(Edit(p.path, p.line, p.text, size.text) for p in self.places)
        along = tuple(
            Edit(f.place.path, f.place.line, f.place.text, written(float(f.at(size.si, self.base)), f.style))
            for f in self.follow
        )
        edits = own + along
        signed = self.base <= 0 or size.si <= 0 or bool(self.rule.reach)
        far = abs(size.si - self.base) / (self.rule.reach or 1.0) if signed else abs(np.log(size.si / self.base))
        return Change(edits, self.words, self.price, float(far), self.rule.mind)

    def choose(self, option: Option) -> Change:
        """The change that takes an option."""
        size = _ROW_SIZE if self.places[0].kind is PlaceKind.CATALOGUE else _WORD_SIZE
        return Change(option.edits, self.words, self.price, size, self.rule.mind)


@dataclass(frozen=True)
class Surroundings:
    """What the levers need to know beside the places: names of list entries by their path ("body.parts[3]": "post"),
    how each entry is made ("printed"), numbers that belong to the sheet of a bought part, other rows with what has to
    be written with them, keys that move along with a key, and the sizes on the shelf."""

    names: Mapping[str, str]
    made: Mapping[str, str]
    sheets: frozenset[str]
    rows: Mapping[str, tuple[Option, ...]]
    follow: Mapping[str, tuple[str, ...]]
    shelf: Shelf


def levers(places: Sequence[Place], about: Surroundings, build: Build) -> tuple[Lever, ...]:
    """All levers of a design, in the order of its places."""
    by_path = {p.path: p for p in places}
    single = [x for x in (_lever(p, by_path, about, build) for p in places) if x is not None]
    return (*single, *_together(single))


def _lever(p: Place, by_path: Mapping[str, Place], about: Surroundings, build: Build) -> Lever | None:
    rule = rule_of(p.path)
    if rule.price is None or p.path in about.sheets or not (p.written or rule.absent):
        return None
    made = next((how for entry, how in about.made.items() if p.path.startswith(f"{entry}.")), "")
    if made == "bought" and rule.mind != MOVED:
        # size and mass of a bought thing are its own; only its place is a choice
        return None
    price = rule.price if rule.mind == MOVED else _price(rule.price, made)
    lever: Lever | None = Lever((p,), rule, _words(p.path, about.names), price)
    assert lever is not None
    if p.kind is PlaceKind.NUMBER:
        along = [by_path[q] for q in about.follow.get(p.path, ()) if q in by_path]
        lever = _number(replace(lever, follow=_followers(along)), about.shelf, build)
    elif p.kind is PlaceKind.CATALOGUE:
        lever = replace(lever, options=about.rows.get(p.path, ()))
    else:
        lever = replace(lever, options=_other_words(p))
    return lever if lever is not None and (lever.points or lever.options) else None


def _followers(along: Sequence[Place]) -> tuple[Follower, ...]:
    styles = [(p, style_of(p.text, p.dimension)) for p in along if p.dimension is not None]
    return tuple(Follower(p, style) for p, style in styles if style is not None)


def _price(price: Price, made: str) -> Price:
    """What is printed costs print hours, what is bought or cut a part order."""
    if made in ("bought", "cut", "no") and price is Price.REPRINT:
        return Price.PART
    return Price.REPRINT if made in ("printed", "yes") and price is Price.PART else price


def _words(path: str, names: Mapping[str, str]) -> str:
    entry = next((name for at, name in names.items() if path.startswith(f"{at}.")), "")
    return f"{path} ({entry})" if entry else path


def _number(lever: Lever, shelf: Shelf, build: Build) -> Lever | None:
    place, rule = lever.places[0], lever.rule
    if not np.isfinite(place.si):
        return _not_there_yet(lever)
    style = None if place.dimension is None else style_of(place.text, place.dimension)
    if style is None:
        return None
    own = f"{rule.sizes} {place.path}"
    series = own if own in shelf else rule.sizes
    low, high = _range(place, rule)
    lever = replace(lever, base=place.si, style=style, series=series)
    if style.dimension.whole:
        return _count(lever, low, high, build)
    if rule.sizes == "LEDs":
        lever = replace(lever, pitch=shelf[own][0] if own in shelf else 0.0, series="")
    elif series in shelf or style.gauge or rule.sizes in _FEW_SIZES:
        (found,) = lever.sizes(low, high, shelf)
        others = tuple(s for s in found if abs(s.si - place.si) > 1e-6 * abs(place.si))
        return replace(lever, points=tuple(s.si for s in others), listed=others)
    return replace(lever, points=_points(place.si, low, high, rule))


def _count(lever: Lever, low: float, high: float, build: Build) -> Lever:
    """A whole number; where it shapes the machine, every one of them is a choice of its own."""
    place = lever.places[0]
    grid = tuple(Size(float(n), f"{n}") for n in _counts(place.si, low, high))
    if _shapes(build, place):
        return _as_choice(lever, grid)
    if len(grid) <= _LISTED:
        return replace(lever, points=tuple(s.si for s in grid), listed=grid)
    return replace(lever, points=tuple(_thinned([s.si for s in grid])))


def _range(place: Place, rule: Rule) -> tuple[float, float]:
    d, si = place.dimension, place.si
    assert d is not None
    signed = bool(rule.reach) and (si <= 0 or d.low < 0)
    low, high = (si - rule.reach, si + rule.reach) if signed else (si * rule.low, si * rule.high)
    return max(low, d.low), min(high, d.high)


def _points(base: float, low: float, high: float, rule: Rule) -> tuple[float, ...]:
    """Values to look at, evenly spaced in their ratios; in their differences where a sign may change."""
    if rule.reach and low <= 0:
        grid = np.linspace(low, high, 2 * _STEPS + 1)
    else:
        below = np.geomspace(low, base, _STEPS + 1)[:-1] if 0 < low < base else np.array([])
        above = np.geomspace(base, high, _STEPS + 1)[1:] if 0 < base < high else np.array([])
        grid = np.concatenate((below, above))
    return tuple(float(x) for x in grid if abs(x - base) > 1e-9 * max(abs(base), 1e-9))


def _counts(base: float, low: float, high: float) -> list[int]:
    first, last = max(1, int(np.ceil(low))), int(np.floor(max(high, base + 2 if high > base else high)))
    return [n for n in range(first, last + 1) if n != int(base)]


def _thinned(values: list[float]) -> list[float]:
    at = np.unique(np.linspace(0, len(values) - 1, _LISTED).round().astype(int))
    return [values[i] for i in at]


def _shapes(build: Build, place: Place) -> bool:
    """Whether the count is part of the machine's shape, so that machines with another one are built by themselves."""
    try:
        build({place.path: np.array([place.si, place.si + 1])})
    except OneNumberError:
        return True
    except DryfitError:
        return False
    return False


def _as_choice(lever: Lever, grid: tuple[Size, ...]) -> Lever:
    options = tuple(Option(lever.to(s).edits, s.text) for s in grid)
    return replace(lever, base=float("nan"), style=None, options=options)


def _not_there_yet(lever: Lever) -> Lever:
    """A number that the file does not have at all: usual sizes become options."""
    usual = {
        "resistors": ("4.7 kohm", "10 kohm", "2.2 kohm", "1 kohm", "22 kohm"),
        "level shifters": ("5 V", "3.3 V"),
    }
    place = lever.places[0]
    texts = usual.get(lever.rule.sizes, ())
    return replace(lever, options=tuple(Option((Edit(place.path, 0, place.text, t),), t) for t in texts))


def _other_words(place: Place) -> tuple[Option, ...]:
    same = {"true": "yes", "false": "no"}
    words = dict.fromkeys(same.get(w, w) for w in place.options)
    return tuple(Option((Edit(place.path, place.line, place.text, w),), w) for w in words if w != place.text)


def _together(single: Sequence[Lever]) -> list[Lever]:
    """One lever for the same key of every entry of a list, where all say the same now."""
    found = []
    families: dict[str, list[Lever]] = defaultdict(list)
    for lever in single:
        if _TOGETHER.match(lever.family) and "pin" not in lever.family.rpartition(".")[2]:
            families[lever.family].append(lever)
    for alike in families.values():
        first = alike[0]
        if len(alike) < 2 or len({(x.base if x.style else x.places[0].text, len(x.options)) for x in alike}) > 1:
            continue
        labels = [[o.label for o in x.options] for x in alike]
        if any(names != labels[0] for names in labels):
            continue
        options = tuple(
            Option(tuple(e for x in alike for e in x.options[k].edits), o.label) for k, o in enumerate(first.options)
        )
        everything = tuple(p for x in alike for p in x.places)
        named = [re.search(r"\((.*)\)$", x.words) for x in alike]
        whose = ", ".join(m[1] for m in named if m)
        words = f"{first.family} ({whose})" if whose else f"{first.family}, all {len(alike)}"
        found.append(replace(first, places=everything, words=words, options=options))
    return found
