"""Reading what is typed for a sweep: PATH=from..to:step, PATH=a,b,c, PATH=catalogue:KIND, PATH=VALUE.

Values are typed as in the design file and read by the same grammar.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from dryfit.catalogue.rows import keys, kinds, row
from dryfit.design.records import Design
from dryfit.design.values import dimension_at, options_at, with_values
from dryfit.ground import units
from dryfit.ground.errors import DesignError, DryfitError, Fault, OneNumberError, UnknownNameError
from dryfit.ground.quantity import Array, Value
from dryfit.jobs.variants import Variants
from dryfit.machine.machine import Machine
from dryfit.studies.records_sweep import Axis, AxisKind

STEPS = 20
"""Steps of a range for which none is given."""

MOST = 1_000_000
"""Values along one axis."""

VARY = "PATH=from..to:step, PATH=a,b,c or PATH=catalogue:KIND"
_PIECE = re.compile(r"(?P<number>[+\-−]?[0-9.]+(?:[eE][+-]?[0-9]+)?)\s*(?P<unit>.*)")
_ENTRY = re.compile(r"\[\*\]")
_STEP = re.compile(r"[^.\[\]]+|\[[0-9]+\]")


class Typed:
    """Reads what was typed against one design: its text as records, and the machine that it describes."""

    def __init__(self, design: Design, variants: Variants, machine: Machine) -> None:
        self.design, self.variants, self.machine = design, variants, machine

    def axis(self, typed: str, taken: frozenset[str] = frozenset()) -> Axis:
        """The axis of one `--vary`. taken: paths that are given by others, and so are not left out with a part.

        Raises DesignError.
        """
        path, sign, text = typed.partition("=")
        path, text = path.strip(), text.strip()
        if not sign or not text or not path:
            raise _fault("--vary", path, "says no place, or no values for it", typed, VARY)
        paths = self.paths("--vary", path)
        if text.startswith("catalogue:"):
            kind = self._kind(paths[0], text)
            return self._rows(path, paths, kind, keys(kind), taken)
        if paths[0] in self.machine.choices:
            return self._rows(path, paths, self.machine.choices[paths[0]], _listed(text), taken)
        options, dimension = self._allowed("--vary", paths[0])
        words = _listed(text)
        if dimension is None or (options and all(w in options for w in words)):
            self._try("--vary", paths, words)
            return Axis(path, paths, AxisKind.WORD, tuple(words))
        return self._numbers(path, paths, dimension, text)

    def setting(self, typed: str, taken: frozenset[str] = frozenset()) -> dict[str, str | None]:
        """What one `--set` changes, by path; None leaves a key out. Raises DesignError."""
        path, sign, text = typed.partition("=")
        path, text = path.strip(), text.strip()
        if not sign or not path:
            raise _fault("--set", path, "says no place", typed, "PATH=VALUE, or PATH= to leave it out")
        paths = self.paths("--set", path)
        for one in paths:
            self._read("--set", one, text or None)
        found: dict[str, str | None] = dict.fromkeys(paths, text or None)
        if text and paths[0] in self.machine.choices:
            for one in paths:
                found.update(dict.fromkeys(self._beside(one, self.machine.choices[one], text, taken)))
        return found

    def paths(self, option: str, path: str) -> tuple[str, ...]:
        """The places that a path stands for: `[*]` is every entry of a list."""
        found = [path]
        while any("[*]" in p for p in found):
            found = [one for p in found for one in self._entries(option, p)]
        return tuple(found)

    def _entries(self, option: str, path: str) -> Iterator[str]:
        star = _ENTRY.search(path)
        if star is None:
            yield path
            return
        here = self.node(path[: star.start()])
        if not isinstance(here, list | tuple) or not here:
            raise _fault(option, path, f"no list with entries stands at {path[: star.start()]}")
        for i in range(len(here)):
            yield f"{path[: star.start()]}[{i}]{path[star.end() :]}"

    def node(self, path: str) -> Any:
        """What stands at a path of the design; None where nothing does."""
        node: Any = self.design
        for step in _STEP.findall(path):
            if step.startswith("["):
                index = int(step[1:-1])
                node = node[index] if isinstance(node, list | tuple) and index < len(node) else None
            else:
                node = node.get(step) if isinstance(node, Mapping) else getattr(node, step, None)
        return node

    def _allowed(self, option: str, path: str) -> tuple[tuple[str, ...], units.Dimension | None]:
        """The words that may stand at a path, and the dimension of a number there; neither for a free text."""
        try:
            options = options_at(self.design, path)
            try:
                return options, dimension_at(self.design, path)
            except UnknownNameError:
                if not options:
                    with_values(self.design, {path: "a"})
                return options, None
        except DryfitError as wrong:
            raise _fault(option, path, _nothing_there(wrong)) from None

    def _read(self, option: str, path: str, text: str | None) -> None:
        """See that a text may stand at a path."""
        kind = self.machine.choices.get(path)
        try:
            with_values(self.design, {path: text})
            if kind is not None and text is not None:
                row(kind, text)
        except DesignError as wrong:
            f = wrong.faults[0]
            raise _fault(option, path, f.message, f.read or text or "", f.accepted) from None
        except UnknownNameError as wrong:
            raise _fault(option, path, _nothing_there(wrong), text or "") from None

    def _try(self, option: str, paths: tuple[str, ...], texts: list[str]) -> None:
        for text in texts:
            for path in paths:
                self._read(option, path, text)

    def _kind(self, path: str, text: str) -> str:
        """The kind of catalogue part that is asked for by `catalogue:KIND`; a fault where the place takes another."""
        kind = text.removeprefix("catalogue:").strip()
        if kind not in kinds():
            raise _fault("--vary", path, str(UnknownNameError("kind of catalogue part", kind, kinds())), text)
        taken = self.machine.choices.get(path) or self._kind_taken(path, kind)
        if taken != kind:
            accepted = f"catalogue:{taken}" if taken else ""
            raise _fault("--vary", path, f"takes no row of the catalogue's {kind}", text, accepted)
        return kind

    def _kind_taken(self, path: str, kind: str) -> str:
        """The kind of row that a place takes at which none stands yet, found by putting one there."""
        for key in keys(kind):
            try:
                return self.variants({path: key}).choices.get(path, "")
            except DryfitError:
                continue
        return ""

    def _rows(
        self, typed: str, paths: tuple[str, ...], kind: str, names: tuple[str, ...] | list[str], taken: frozenset[str]
    ) -> Axis:
        for path in paths:
            if self.machine.choices.get(path, kind) != kind:
                other = self.machine.choices[path]
                raise _fault("--vary", path, f"takes a row of the catalogue's {other}, not of its {kind}")
        self._try("--vary", paths, list(names))
        beside = tuple(tuple(key for path in paths for key in self._beside(path, kind, name, taken)) for name in names)
        return Axis(typed, paths, AxisKind.ROW, tuple(names), left_out=beside)

    def _beside(self, path: str, kind: str, name: str, taken: frozenset[str]) -> Iterator[str]:
        """Keys typed beside a row that another row brings its own values for; none for the row that is there."""
        if str(self.node(path) or "") == name:
            return
        above = path.rpartition(".")[0]
        new = row(kind, name)
        for column in (*new.quantities, *new.words):
            key = f"{above}.{column}"
            if key not in taken and self.node(key) is not None:
                yield key

    def _numbers(self, typed: str, paths: tuple[str, ...], dimension: units.Dimension, text: str) -> Axis:
        kind = AxisKind.COUNT if dimension.whole else AxisKind.NUMBER
        if ".." in text:
            numbers, unit = _range(paths[0], dimension, text)
        else:
            numbers, unit = _list(paths[0], dimension, text)
        factor, offset = _scale(dimension, unit)
        si = numbers * factor + offset + 0.0
        for path in paths:
            if dimension_at(self.design, path) is not dimension:
                raise _fault("--vary", path, f"takes another kind of number than {paths[0]}", typed)
        together = self._together(paths, si)
        return Axis(typed, paths, kind, numbers=numbers, si=si, unit=unit, dimension=dimension, together=together)

    def _together(self, paths: tuple[str, ...], si: Array) -> bool:
        """Whether several values may stand there at once, or each shapes a machine of its own."""
        several: Value = np.array([si[0], si[-1] if si[-1] != si[0] else si[0] + 1])
        try:
            self.variants(dict.fromkeys(paths, several))
        except OneNumberError:
            return False
        except DryfitError:
            # such machines may not be possible, but they could be told apart
            return True
        return True


def said(option: str, wrong: DryfitError) -> tuple[Fault, ...]:
    """The faults of anything that is wrong with the input, with the option that it was typed for."""
    return wrong.faults if isinstance(wrong, DesignError) else (Fault(option, 0, "", _nothing_there(wrong)),)


def _nothing_there(wrong: DryfitError) -> str:
    """Why a path leads nowhere; a long list of what there is would bury it."""
    text = str(wrong)
    return text if len(text) < 400 else text.partition("; there are:")[0]


def _listed(text: str) -> list[str]:
    return [piece.strip() for piece in text.split(",")]


def _fault(option: str, key: str, message: str, read: str = "", accepted: str = "") -> DesignError:
    return DesignError([Fault(option, 0, key, message, read, accepted)])


def _unit(text: str) -> str:
    match = _PIECE.fullmatch(text.strip())
    return match["unit"].strip() if match else ""


def _scale(dimension: units.Dimension, unit: str) -> tuple[float, float]:
    """Factor and offset from a number in a unit to SI."""
    return dimension.units.get(unit, 1.0), dimension.offsets.get(unit, 0.0)


def _plain(unit: str, dimension: units.Dimension) -> str:
    """A unit as the dimension lists it: µm is um. Without one (a wire size, a plain number) the first that is listed,
    or none where a plain number is meant."""
    if unit in dimension.units:
        return unit
    first = "" if dimension.bare else next(iter(dimension.units))
    try:
        one = units.read(f"1 {unit}", dimension)[0] if unit else None
    except units.UnitError:
        return first
    alike = (u for u, factor in dimension.units.items() if factor + dimension.offsets.get(u, 0.0) == one)
    return next(alike, first)


def _one(path: str, dimension: units.Dimension, piece: str, text: str) -> float:
    """One value, SI."""
    try:
        value, half = units.read(piece, dimension)
    except units.UnitError as wrong:
        raise _fault("--vary", path, wrong.problem, piece or text, wrong.accepted) from None
    if half is not None:
        raise _fault("--vary", path, "a value to be tried stands without ±", piece)
    return value


def _list(path: str, dimension: units.Dimension, text: str) -> tuple[Array, str]:
    pieces = _listed(text)
    for piece in pieces:
        if not dimension.bare and _PIECE.fullmatch(piece) and not _unit(piece):
            message = "every value of a list carries its unit, and decimals take a point"
            raise _fault("--vary", path, message, text, f"such as {dimension.example},...")
    si = np.array([_one(path, dimension, piece, text) for piece in pieces])
    repeated = len(np.unique(si)) < len(si)
    if repeated:
        raise _fault("--vary", path, "the same value stands there twice", text)
    unit = _plain(_unit(pieces[0]), dimension)
    factor, offset = _scale(dimension, unit)
    return _rounded((si - offset) / factor), unit


def _range(path: str, dimension: units.Dimension, text: str) -> tuple[Array, str]:
    first, _, rest = text.partition("..")
    last, colon, step = rest.partition(":")
    unit = _unit(last) or _unit(first) or (_unit(step) if colon else "")
    low, high = (_one(path, dimension, _with_unit(piece, unit, dimension), text) for piece in (first, last))
    unit = _plain(unit, dimension)
    factor, offset = _scale(dimension, unit)
    start, end = (float(_rounded((x - offset) / factor)) for x in (low, high))
    if end < start:
        raise _fault("--vary", path, "the range is empty: it ends below where it begins", text)
    width = _step(path, dimension, step, unit, text) if colon else (1.0 if dimension.whole else (end - start) / STEPS)
    if end == start:
        return np.array([start]), unit
    count = math.floor((end - start) / width * (1 + 1e-12) + 1e-9) + 1
    if count > MOST:
        raise _fault("--vary", path, f"{count} values along one axis are too many", text, f"at most {MOST}")
    numbers = _rounded(start + width * np.arange(count))
    return np.where(np.abs(numbers) < width * 1e-9, 0.0, numbers), unit


def _with_unit(piece: str, unit: str, dimension: units.Dimension) -> str:
    return piece if _unit(piece) or not unit or not _PIECE.fullmatch(piece.strip()) else f"{piece.strip()} {unit}"


def _step(path: str, dimension: units.Dimension, step: str, unit: str, text: str) -> float:
    """Width of a step in the unit of the range; of a temperature it is a difference."""
    match = _PIECE.fullmatch(step.strip())
    of_step = _plain(match["unit"].strip(), dimension) if match and match["unit"].strip() else unit
    example = f"1 {unit}".strip()
    try:
        width = float(match["number"].replace("−", "-")) if match else math.nan
    except ValueError:
        width = math.nan
    known = not match or not match["unit"].strip() or _known(match["unit"].strip(), dimension)
    if not math.isfinite(width) or not known:
        raise _fault("--vary", path, "the step cannot be read", step or text, f"such as {example}")
    if width <= 0:
        raise _fault("--vary", path, "the step must be larger than zero", text, f"such as {example}")
    if dimension.whole and width != int(width):
        raise _fault("--vary", path, "the step of a count is a whole number", text, "such as 1")
    return width * dimension.units.get(of_step, 1.0) / dimension.units.get(unit, 1.0)


def _known(unit: str, dimension: units.Dimension) -> bool:
    try:
        units.read(f"1 {unit}", dimension)
    except units.UnitError as wrong:
        return "is not a unit" not in wrong.problem
    return True


def _rounded(numbers: Any) -> Array:
    """Twelve figures: what was typed as 0.3 mm is 0.3, not 0.30000000000000004."""
    x = np.asarray(numbers, dtype=float)
    size = np.where(x == 0, 1.0, np.abs(x))
    # above 2**53 / 1e12 the scale itself stays exact enough for twelve figures
    scale = 10.0 ** (11 - np.floor(np.log10(size)))
    return np.where(np.abs(scale) < 1e300, np.round(x * scale) / scale, x)
