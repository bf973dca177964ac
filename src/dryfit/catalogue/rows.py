"""The catalogue: generic parts and materials, one CSV file a kind, one row a part, each row with its source.

A column is headed "stall_torque [N*m]" (a number in that unit) or plainly "connector" (a word). Every file has the
columns `key`, `name`, `source`, `status` (seen, from memory, common practice) and `note` (what is not claimed).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from dryfit.ground import units
from dryfit.ground.errors import UnknownNameError
from dryfit.ground.quantity import Kind, Origin, Quantity
from dryfit.ground.sources import Source, Status

_HEADING = re.compile(r"(?P<column>\w+) \[(?P<unit>[^\]]+)\]")
_TEXT_COLUMNS = ("key", "name", "source", "status", "note")


@dataclass(frozen=True)
class Row:
    """One part: its numbers in SI with their origin, its words, its source and what it does not claim.

    line: where the design file names the row, 0 where it does not.
    """

    kind: str
    key: str
    name: str
    quantities: Mapping[str, Quantity]
    words: Mapping[str, str]
    source: Source
    note: str
    line: int = 0


def kinds() -> tuple[str, ...]:
    """Names of the kinds of part, one for each file."""
    files = (resources.files("dryfit.catalogue") / "data").iterdir()
    return tuple(sorted(f.name.removesuffix(".csv") for f in files if f.name.endswith(".csv")))


def keys(kind: str) -> tuple[str, ...]:
    """Keys of all rows of a kind, in the order of the file."""
    return tuple(_table(kind))


def row(kind: str, key: str) -> Row:
    """The row of a kind with a key. Raises UnknownNameError with the nearest names."""
    table = _table(kind)
    if key not in table:
        raise UnknownNameError(f"row of the catalogue's {kind}", key, tuple(table))
    return _row(kind, key)


@cache
def _table(kind: str) -> dict[str, dict[str, str]]:
    file = resources.files("dryfit.catalogue") / "data" / f"{kind}.csv"
    if not file.is_file():
        raise UnknownNameError("kind of catalogue part", kind, kinds())
    lines = file.read_text(encoding="utf-8").splitlines()
    return {cells["key"]: cells for cells in csv.DictReader(lines)}


@cache
def _row(kind: str, key: str) -> Row:
    cells = _table(kind)[key]
    source = Source(cells["source"], status=Status(cells["status"]))
    quantities: dict[str, Quantity] = {}
    words: dict[str, str] = {}
    for heading, text in cells.items():
        match = _HEADING.fullmatch(heading)
        if heading in _TEXT_COLUMNS or text == "":
            continue
        if match is None:
            words[heading] = text
            continue
        dimension = _dimension(match["unit"])
        shown = text if match["unit"] == "1" else f"{text} {match['unit']}"
        value, _ = units.read(shown, dimension)
        origin = Origin(Kind.CATALOGUE, f"{kind}/{cells['key']}", text=shown, note=cells["note"], source=source)
        quantities[match["column"]] = Quantity(value, dimension.name, origin)
    return Row(kind, cells["key"], cells["name"], quantities, words, source, cells["note"])


@cache
def _dimension(unit: str) -> units.Dimension:
    if unit == "1":
        return units.NUMBER
    if unit == "%":
        return units.PERCENT
    return next(d for d in units.SI.values() if unit in d.units)
