"""Hours against volume of large sets of panels.

Source: common practice, no published place: printers of plain make lay down 5 to 8 mm³/s over a whole set with a nozzle
of 0.5 mm and layers of 0.3 mm, travel and corners and waiting included, so that a set of 163 hours holds 2.9 to 4.7
litres; with 0.4 mm and 0.2 mm they lay 15 to 25 g of PETG an hour. Hot ends of plain make melt 11 ± 4 mm³/s through
0.4 mm (trade figures, weak).
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.design.sections.workshop import Workshop as WorkshopRecord
from dryfit.machine.ledger import Ledger
from dryfit.machine.printing import How, Printing, resolve_printing
from dryfit.machine.workshop import resolve_workshop
from dryfit.making.bodies import _shape, pieces
from dryfit.making.print_time import estimate
from dryfit.making.records_print import Estimate
from dryfit.making.records_solids import Solid
from dryfit.making.slicing import sliced, solid_of

HOURS = 163


def printing() -> Printing:
    record = WorkshopRecord.model_validate({"printers": [{"name": "p", "bed": ["400 mm"] * 3, "nozzles": ["0.5 mm"]}]})
    ledger = Ledger()
    return resolve_printing(record, ledger, resolve_workshop(record, ledger))


def shape(name: str, *size: float, wall: float = 0.0) -> Solid:
    return solid_of(_shape(name, np.array(size, dtype=float), wall))


def panels() -> list[Solid]:
    """One of each sort of panel of a large show machine, standing as it is printed, mm."""
    tube = shape("tube", 700, 700, 300, wall=5)
    return [
        pieces("", tube, (1, 1, 1), 8)[0].solid,  # side panels
        shape("box", 250, 250, 12),  # deck plate
        shape("tube", 200, 200, 250, wall=4),  # column
        shape("box", 300, 60, 80, wall=4),  # duct
        shape("cone", 240, 240, 200),  # cap
    ]


def taken(nozzle: float, layer: float, material: str) -> list[Estimate]:
    how = How(nozzle, layer, 1.1 * nozzle, 3, 5, 4, 0.15, "as modelled", False)
    p = printing()
    return [estimate(sliced(s, how), nozzle, p.printers[0], p.filaments[material]) for s in panels()]


@pytest.mark.parametrize("material", ["pla", "petg"])
def test_a_set_of_163_hours_holds_2_9_to_4_7_litres(material: str) -> None:
    found = taken(0.5e-3, 0.3e-3, material)
    sets = HOURS * 3600 / sum(e.time for e in found)
    litres = sets * sum(e.volume for e in found) * 1e3
    assert sets > 1  # a set of that length is made of several of these
    assert 2.9 < litres < 4.7
    assert all(4e-9 < e.flow < 9e-9 for e in found)


def test_a_plain_printer_lays_15_to_25_grams_of_petg_an_hour_through_0_4_mm() -> None:
    found = taken(0.4e-3, 0.2e-3, "petg")
    assert 15 < sum(e.mass for e in found) * 1e3 / sum(e.time / 3600 for e in found) < 25


def test_the_usual_hot_end_melts_what_hot_ends_melt() -> None:
    assert 7e-9 <= printing().printers[0].flow <= 15e-9
