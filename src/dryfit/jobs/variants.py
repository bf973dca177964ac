"""A design and everything about it that could be otherwise: what the studies are given to work on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from dryfit.catalogue.rows import keys
from dryfit.design.read import read_text
from dryfit.design.records import Design
from dryfit.design.values import entry_at, with_values
from dryfit.ground.errors import DryfitError
from dryfit.ground.quantity import Kind, Origin, Value
from dryfit.machine.machine import Machine, resolve
from dryfit.studies.records import Place, PlaceKind


@dataclass(frozen=True)
class Variants:
    """Machines that differ from a design file in some values; can be sent to another process as it is."""

    text: str
    file: Path

    def __call__(self, values: Mapping[str, Value | None]) -> Machine:
        """The machine with other values by path; see `design.values.with_values`."""
        return resolve(with_values(_read(self.text, str(self.file)), values), self.file)


def places(variants: Variants, machine: Machine) -> tuple[Place, ...]:
    """Every place of the design that could say something else: numbers, catalogue rows and words, those written in the
    file and those for which a default was taken. Leaves out what only names things."""
    design = _read(variants.text, str(variants.file))
    found = (_place(design, path, origin, machine) for path, origin in machine.origins.items())
    return tuple(p for p in found if p is not None)


def _place(design: Design, path: str, origin: Origin, machine: Machine) -> Place | None:
    if origin.kind not in (Kind.DESIGN, Kind.CATALOGUE, Kind.DEFAULT, Kind.MISSING):
        return None
    written = origin.kind is Kind.DESIGN
    line = origin.line if written else 0
    try:
        entry = entry_at(design, path)
    except DryfitError:
        # what the machine worked out under a name of its own
        return None
    if path in machine.choices:
        kind = machine.choices[path]
        return Place(path, PlaceKind.CATALOGUE, written, line, origin.text, options=keys(kind), catalogue=kind)
    if entry.options:
        return Place(path, PlaceKind.WORD, written, line, origin.text, options=entry.options)
    if entry.dimension is None:
        # what only names things
        return None
    otherwise = np.nan if entry.typed is None else entry.typed.si
    si = float(np.asarray(machine.values.get(path, otherwise)))
    return Place(path, PlaceKind.NUMBER, written, line, origin.text, si, entry.dimension)


@lru_cache(maxsize=4)
def _read(text: str, file: str) -> Design:
    return read_text(text, file)
