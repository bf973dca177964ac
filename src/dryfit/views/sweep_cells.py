"""The machines of a sweep as columns of plain numbers and words, for a file or a chart, in trade units."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dryfit.ground import units
from dryfit.ground.quantity import Array
from dryfit.studies.records_sweep import Asked, Axis, AxisKind, Plan, Rows
from dryfit.views.words import margin_words, shown

_PLAIN = str.maketrans({"²": "2", "³": "3", "⁴": "4", "·": "*", "µ": "u", "Ω": "ohm", "°": "deg"})
WHY_NOT = "cannot be put together"


@dataclass(frozen=True)
class Scale:
    """From SI to the unit a quantity is written in: (si - offset) / factor. sign: that unit for a chart ("m/s²")."""

    unit: str
    sign: str
    factor: float = 1.0
    offset: float = 0.0

    def of(self, si: Array) -> Array:
        """Values in this unit."""
        return (np.asarray(si, dtype=float) - self.offset) / self.factor


@dataclass(frozen=True)
class FileColumn:
    """A column of a file: its head, with the unit in brackets, and whether words or whole numbers stand in it."""

    head: str
    words: bool = False
    whole: bool = False


def scale_of(one: Asked) -> Scale:
    """The unit a quantity is written in; margins and shares in percent."""
    if one.unit == "%" or (one.unit == "1" and one.part == "margin"):
        return Scale("%", "%", 0.01)
    dimension = units.SI[one.unit]
    unit = dimension.shown.translate(_PLAIN)
    return Scale(unit, dimension.shown, dimension.units.get(unit, 1.0), dimension.offsets.get(unit, 0.0))


def headed(name: str, unit: str) -> str:
    """A name with its unit: "base.wheels.circle_radius [mm]"."""
    return f"{name} [{unit}]" if unit else name


def quantity_text(one: Asked, value: float) -> str:
    """A quantity as the trade writes it: "+74 %", "1.17 m/s"; "unknown" where it is not known."""
    if one.unit == "1" and one.part == "margin":
        return margin_words(value)
    return shown(value, one.unit)


def file_columns(plan: Plan) -> tuple[FileColumn, ...]:
    """Heads of the columns: machine, axes, quantities; and last, where all machines are written, why one cannot be."""
    axes = [FileColumn(headed(a.typed, a.unit), not a.numeric, a.kind is AxisKind.COUNT) for a in plan.axes]
    quantities = [FileColumn(headed(q.name, scale_of(q).unit)) for q in plan.columns[: plan.from_report]]
    last = [] if plan.conditions else [FileColumn(WHY_NOT, True)]
    return (FileColumn("machine", whole=True), *axes, *quantities, *last)


def file_cells(plan: Plan, rows: Rows) -> list[Array | list[str]]:
    """Cells of some machines, one entry a column: numbers (n,), NaN where there is none, or words."""
    places = plan.places(rows.numbers)
    cells: list[Array | list[str]] = [rows.numbers.astype(float)]
    for axis, place in zip(plan.axes, places, strict=True):
        cells.append(axis.numbers[place] if axis.numeric else [axis.texts[p] for p in place.tolist()])
    for column, one in enumerate(plan.columns[: plan.from_report]):
        cells.append(scale_of(one).of(rows.values[:, column]))
    if not plan.conditions:
        why = [""] * len(rows.numbers)
        for row, reason in rows.impossible.items():
            why[row] = reason
        cells.append(why)
    return cells


def axis_words(axis: Axis) -> str:
    """An axis as the head of a column: its last two keys, in words; of a catalogue row, what it is a row for."""
    *above, last = axis.typed.replace("_", " ").split(".")
    if not above:
        return last
    return above[-1] if last == "item" else f"{above[-1]} {last}"
