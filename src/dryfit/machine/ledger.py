"""The ledger: while a machine is put together, every number passes here and leaves its origin behind.

Order of choice: typed in the design file, else the catalogue row that was named, else a default with its reason, else
NaN, which no check lets pass and which names the line that would make it known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from dryfit.catalogue.rows import Row, row
from dryfit.design.fields import Word
from dryfit.ground import units
from dryfit.ground.errors import DesignError, Fault, OneNumberError, UnknownNameError
from dryfit.ground.quantity import Kind, Num, Origin, Quantity, Spread
from dryfit.ground.sources import Source


@dataclass(frozen=True)
class Default:
    """A value taken when nothing was given: as it would be typed, how far the truth may lie from it, and why."""

    text: str
    spread: float
    reason: str
    source: Source | None = None


class Ledger:
    """Collects values, origins, spreads, catalogue rows and faults by the path of the key in the design file."""

    def __init__(self, file: str = "design.yaml") -> None:
        self.file = file
        self.origins: dict[str, Origin] = {}
        self.spreads: dict[str, Spread] = {}
        self.choices: dict[str, str] = {}
        self.values: dict[str, Num] = {}
        self.faults: list[Fault] = []

    def take(
        self,
        path: str,
        dimension: units.Dimension,
        typed: Quantity | None,
        row: Row | None = None,
        default: Default | None = None,
    ) -> Num:
        """The SI value of the key `path`; its origin is kept. The catalogue column is the last word of the path."""
        given = typed
        if given is None and row is not None:
            given = row.quantities.get(path.rpartition(".")[2])
        if given is not None:
            named = row is not None and given is not typed
            self.origins[path] = replace(given.origin, line=row.line) if named and row else given.origin
            if given.spread is not None:
                self.spreads[path] = given.spread
            self.values[path] = given.si
            return given.si
        if default is None:
            self.origins[path] = Origin(Kind.MISSING, path=path, note=f"write {path}, such as {dimension.example}")
            return float("nan")
        value = _read(default.text, dimension)
        return self.reckon(path, value, default.text, default.spread, default.reason, default.source)

    def reckon(self, path: str, value: Num, text: str, spread: float, reason: str, source: Source | None = None) -> Num:
        """A default for the key `path`: a usual value, or one that follows from other numbers of the machine."""
        self.origins[path] = Origin(Kind.DEFAULT, path=path, text=text, note=reason, source=source)
        self.spreads[path] = Spread(spread, reason)
        self.values[path] = value
        return value

    def choose(self, path: str, typed: Word | None, default: str, reason: str) -> str:
        """The word at the key `path`, or the default with its reason."""
        if typed is not None:
            self.origins[path] = typed.origin
            return str(typed)
        self.origins[path] = Origin(Kind.DEFAULT, path=path, text=default, note=reason)
        return default

    def row(self, path: str, kind: str, key: Word | None) -> Row | None:
        """The catalogue row named at `path`; None where none is named. A name that does not exist becomes a fault."""
        if key is None:
            return None
        self.origins[path] = key.origin
        self.choices[path] = kind
        try:
            return replace(row(kind, str(key)), line=key.origin.line)
        except UnknownNameError as unknown:
            self.fault(path, f"{unknown}", read=str(key), line=key.origin.line)
            return None

    def fault(self, path: str, message: str, read: str = "", accepted: str = "", line: int = 0) -> None:
        """Note something that is wrong across fields; all faults are reported together by `close`."""
        at = line or self.line(path)
        self.faults.append(Fault(self.file, at, path, message, read, accepted))

    def line(self, path: str) -> int:
        """Line of the key, or of the nearest key above or beside it that stands in the file; 0 where none does."""
        while path:
            if path in self.origins and self.origins[path].line:
                return self.origins[path].line
            below = [o.line for p, o in self.origins.items() if p.startswith((path + ".", path + "[")) and o.line]
            if below:
                return min(below)
            path = path.rpartition(".")[0]
        return 0

    def close(self) -> None:
        """Raise DesignError with every fault noted, if any."""
        if self.faults:
            raise DesignError(self.faults)


@cache
def _read(text: str, dimension: units.Dimension) -> float:
    """A default is the same text every time."""
    return units.read(text, dimension)[0]


def whole(value: Num) -> int:
    """A count as an int: structure (how many wheels) is the same for every machine of a batch."""
    values = np.unique(np.asanyarray(value))
    if values.size != 1:
        raise OneNumberError("a count that shapes the machine must be one number, not an array of several")
    return int(values[0])
