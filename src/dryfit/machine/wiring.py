"""Wire, fuse and connector numbers that every run of the supply has, from what was typed and the catalogue's tables."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from dryfit.catalogue.rows import keys, row
from dryfit.design.sections.power import Branch, Lead, Main
from dryfit.ground import units
from dryfit.ground.quantity import Array, Kind, Num, Origin, Quantity
from dryfit.ground.sources import Source
from dryfit.machine.ledger import Default, Ledger, whole

CLASS_5 = Source("IEC 60228, conductors of class 5", "greatest resistance at 20 °C")
_WARM = 0.00393
"""Rise of copper's resistance per kelvin at 20 degC (IEC 60228)."""


@dataclass(frozen=True)
class Run:
    """One run of wire pair. SI.

    area; length one way; per_length: resistance at 20 degC; temperature: in use.
    contact: resistance of the contacts of one pole.
    fuse: rating, infinite where there is none; fuse_resistance cold; interrupt: current the fuse can break.
    ampacity: of the wire alone in air at 40 degC.  contact_rating: all contacts of one pole together, infinite if none.
    """

    area: Num
    length: Num
    per_length: Num
    temperature: Num
    contact: Num
    fuse: Num
    fuse_resistance: Num
    interrupt: Num
    ampacity: Num
    contact_rating: Num

    @property
    def warm_per_length(self) -> Num:
        """Resistance per length at the temperature in use."""
        return self.per_length * (1 + _WARM * (self.temperature - 293.15))

    @property
    def wire(self) -> Num:
        """Resistance of one conductor at the temperature in use."""
        return self.warm_per_length * self.length


def resolve_run(r: Lead | Main | Branch, path: str, ledger: Ledger, area: str, length: str) -> Run:
    """Numbers of a run; `area` and `length` are the defaults where nothing is typed."""
    wire = ledger.row(f"{path}.item", "wires", r.item)
    cross = ledger.take(
        f"{path}.area", units.AREA, r.area, wire, Default(area, 0.3, "a usual size for a machine of this kind")
    )
    run = ledger.take(f"{path}.length", units.LENGTH, r.length, None, Default(length, 0.4, "measure along the harness"))
    warm = ledger.take(
        f"{path}.temperature",
        units.TEMPERATURE,
        r.temperature,
        None,
        Default("40 degC", 0.03, "a loaded wire inside a body"),
    )
    areas, effective, carried = _table()
    per_length: Num = np.interp(np.log(cross), np.log(areas), effective) / cross
    # Straight lines between the table's sizes, and to nothing below the smallest: on the safe side of a concave table.
    ampacity = np.interp(cross, np.concatenate(([0.0], areas)), np.concatenate(([0.0], carried)))
    if r.resistance_per_length is not None or (wire is not None and r.area is None):
        per_length = ledger.take(
            f"{path}.resistance_per_length", units.RESISTANCE_PER_LENGTH, r.resistance_per_length, wire
        )
    else:
        ledger.origins[f"{path}.resistance_per_length"] = Origin(Kind.RULE, text=CLASS_5.title, source=CLASS_5)
    fuse, cold, interrupt = _fuse(r, path, ledger)
    contact, rating = _contacts(r, path, ledger)
    return Run(
        area=cross, length=run, per_length=per_length, temperature=warm, contact=contact, fuse=fuse,
        fuse_resistance=cold, interrupt=interrupt, ampacity=ampacity, contact_rating=rating,
    )  # fmt: skip


def _fuse(r: Lead | Main | Branch, path: str, ledger: Ledger) -> tuple[Num, Num, Num]:
    if r.fuse is None:
        return np.inf, 0.0, np.inf
    rating = ledger.take(f"{path}.fuse", units.CURRENT, r.fuse)
    kind = ledger.choose(f"{path}.fuse_class", r.fuse_class, "blade", "the usual fuse of vehicles")
    ratings, drops, interrupt = _fuses(kind)
    ledger.origins[f"{path}.interrupt"] = replace(interrupt.origin, line=r.fuse.origin.line)
    return rating, np.interp(rating, ratings, drops) / rating, interrupt.si


def _contacts(r: Lead | Main | Branch, path: str, ledger: Ledger) -> tuple[Num, Num]:
    kind = ledger.row(f"{path}.connector", "connectors", r.connector)
    if kind is None:
        return 0.0, np.inf
    count = ledger.take(
        f"{path}.contacts", units.COUNT, r.contacts, None, Default("1", 0.0, "one contact for each pole")
    )
    number = max(whole(count), 1)
    # Contacts side by side do not share evenly: the second and later ones count for 80 % (common practice).
    rating = kind.quantities["rated_current"].si * (1 + 0.8 * (number - 1))
    ledger.origins[f"{path}.rated_current"] = replace(kind.quantities["rated_current"].origin, line=kind.line)
    return kind.quantities["contact_resistance"].si / number, rating


@cache
def _table() -> tuple[Array, Array, Array]:
    """Class 5 copper by area: areas, resistance × area, ampacity."""
    rows = [row("wires", key) for key in keys("wires") if key.startswith("class5")]
    area = np.array([r.quantities["area"].si for r in rows])
    per_length = np.array([r.quantities["resistance_per_length"].si for r in rows])
    return area, per_length * area, np.array([r.quantities["ampacity"].si for r in rows])


@cache
def _fuses(kind: str) -> tuple[Array, Array, Quantity]:
    """Fuses of a class: ratings, drop at rated current cold (rating × resistance), interrupt rating."""
    rows = [r for r in (row("fuses", key) for key in keys("fuses")) if r.words["class"] == kind]
    rating = np.array([r.quantities["rating"].si for r in rows])
    cold = np.array([r.quantities["resistance"].si for r in rows])
    return rating, rating * cold, rows[0].quantities["interrupt_rating"]


def area_that_carries(current: Num) -> Array:
    """The smallest usual cross-section whose tabled current is at least `current`; the largest where none is."""
    areas, _, carried = _table()
    return _at_least(areas, carried, current)


def area_with_resistance(per_length: Num) -> Array:
    """The smallest usual cross-section of at most this resistance per length at 20 degC; the largest where none is."""
    areas, effective, _ = _table()
    return _at_least(areas, areas / effective, 1.0 / np.maximum(per_length, 1e-12))


def fuse_not_above(current: Num) -> Array:
    """The largest usual fuse of at most `current`; below the smallest, `current` itself."""
    ratings = _usual_fuses()
    at = np.searchsorted(ratings, np.asanyarray(current) * (1 + 1e-9), side="right") - 1
    return np.where(at < 0, current, ratings[np.maximum(at, 0)])[()]


def fuse_not_below(current: Num) -> Array:
    """The smallest usual fuse of at least `current`; the largest where none is."""
    return _at_least(_usual_fuses(), _usual_fuses(), current)


def _at_least(values: Array, able: Array, asked: Num) -> Array:
    """Of rising `values`, the first whose `able` reaches what is asked; NaN where it is not known what is asked."""
    at = np.minimum(np.searchsorted(able, np.asanyarray(asked) * (1 - 1e-9)), len(values) - 1)
    return np.where(np.isnan(asked), np.nan, values[at])[()]


@cache
def _usual_fuses() -> Array:
    return np.unique([row("fuses", key).quantities["rating"].si for key in keys("fuses")])
