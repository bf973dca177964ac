"""Printers, filaments and ways of printing as they are read: defaults with reasons, a part's own way, faults."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dryfit.design.read import read_design
from dryfit.design.sections.workshop import Workshop as WorkshopRecord
from dryfit.ground.quantity import Kind
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import resolve
from dryfit.machine.printed_things import ToPrint, things_to_print
from dryfit.machine.printing import Printing, resolve_printing
from dryfit.machine.workshop import resolve_workshop

BED = ["220 mm", "220 mm", "250 mm"]


def printing(**workshop: Any) -> tuple[Printing, Ledger]:
    record = WorkshopRecord.model_validate(workshop)
    ledger = Ledger()
    return resolve_printing(record, ledger, resolve_workshop(record, Ledger())), ledger


def to_print(folder: Path, text: str) -> tuple[ToPrint, Ledger]:
    file = folder / "design.yaml"
    file.write_text(text)
    design = read_design(file)
    machine = resolve(design, file)
    ledger = Ledger(file.name)
    p = resolve_printing(design.workshop, ledger, machine.workshop)
    return things_to_print(design, ledger, machine, p, folder), ledger


def test_without_printers_there_is_one_of_the_usual_size_and_it_is_listed() -> None:
    p, ledger = printing()
    assert p.printers[0].bed == pytest.approx((0.22, 0.22, 0.25))
    assert p.printers[0].nozzles == (0.4e-3,)
    assert ledger.origins["workshop.printers"].kind is Kind.DEFAULT
    assert ledger.origins["workshop.printers[0].flow"].note
    assert not ledger.faults


def test_every_default_says_why() -> None:
    _, ledger = printing(printers=[{"name": "a", "bed": BED}])
    defaults = [o for o in ledger.origins.values() if o.kind is Kind.DEFAULT]
    assert len(defaults) > 10
    assert all(o.note and o.text for o in defaults)


def test_an_empty_list_of_printers_is_a_fault() -> None:
    p, ledger = printing(printers=[])
    assert p.printers == ()
    assert "no printer is left" in str(ledger.faults[0])


def test_what_is_typed_wins_over_the_catalogue() -> None:
    p, _ = printing(filaments=[{"material": "petg", "price": "31 EUR", "in_stock": "1.4 kg"}])
    assert p.filaments["petg"].price == 31
    assert p.filaments["petg"].in_stock == pytest.approx(1.4)
    assert p.filaments["petg"].density == pytest.approx(1270)
    assert p.filaments["pla"].in_stock == 0
    assert set(p.filaments) == {"pla", "petg", "abs", "asa", "pa", "pc", "tpu"}


@pytest.mark.parametrize(
    ("workshop", "said"),
    [
        ({"printers": [{"name": "a", "bed": BED}, {"name": "a", "bed": BED}]}, "two printers of one name"),
        ({"printers": [{"name": "a", "bed": BED, "materials": ["pteg"]}]}, "did you mean petg"),
        ({"printers": [{"name": "a", "bed": ["220 m", "220 mm", "250 mm"]}]}, "no printer measures that"),
        ({"printers": [{"name": "a", "bed": BED, "speed": "0 mm/s"}]}, "prints nothing"),
        ({"printers": [{"name": "a", "bed": BED, "nozzles": ["4 mm"]}]}, "no printer measures that"),
        ({"filaments": [{"material": "nylon"}]}, "no filament of that name"),
        ({"filaments": [{"material": "pla"}, {"material": "pla"}]}, "listed twice"),
        ({"printing": {"layer_height": "0.5 mm"}}, "lower than its line is wide"),
        ({"printing": {"walls": "0", "fill": "0 %"}}, "nothing would be printed"),
        ({"printing": {"walls": "500"}}, "not a likely number"),
    ],
)
def test_what_cannot_be_is_said(workshop: dict[str, Any], said: str) -> None:
    _, ledger = printing(**workshop)
    assert any(said in str(f) for f in ledger.faults), [str(f) for f in ledger.faults]


DESIGN = """
workshop:
  nozzle: 0.4 mm
  line_width: 0.45 mm
  layer_height: 0.2 mm
  printing: {walls: 2, fill: 10 %}
  more_prints:
    - {name: bracket, shape: box, size: [40 mm, 30 mm, 20 mm], count: 3, print: {structural: yes, spares: 1}}
    - {name: coupon, shape: plate, size: [80 mm, 30 mm, 6 mm], material: pla, coupon: yes}
body:
  parts:
    - {name: skirt, shape: tube, diameter: 300 mm, wall: 4 mm, length: 200 mm, mass: 2 kg, made: printed,
       material: petg, print: {sectors: 6, nozzle: 0.6 mm}}
    - {name: lamp, mass: 1 kg, made: printed}
    - {name: foot, shape: cylinder, diameter: 60 mm, length: 20 mm, made: printed, material: pa,
       ring: {count: 4, radius: 100 mm}}
    - {name: post, shape: tube, diameter: 50 mm, length: 900 mm, mass: 1 kg, made: cut}
"""


def test_things_to_print_in_the_order_of_the_file(tmp_path: Path) -> None:
    found, ledger = to_print(tmp_path, DESIGN)
    assert not ledger.faults
    assert [(t.name, t.count, t.material, t.coupon) for t in found.things] == [
        ("skirt", 1, "petg", False), ("foot", 4, "pa", False),
        ("bracket", 3, "petg", False), ("coupon", 1, "pla", True),
    ]  # fmt: skip
    assert "lamp" in found.notes[0]
    assert ledger.origins["workshop.more_prints[0].material"].kind is Kind.DEFAULT
    skirt, foot, bracket, _ = found.things
    assert skirt.line == 12
    assert skirt.typed_mass == 2
    assert np.isnan(foot.typed_mass)
    assert skirt.wall == pytest.approx(4e-3)
    assert (skirt.way.sectors, skirt.way.walls, skirt.way.fill) == (6, 2, pytest.approx(0.1))
    assert bracket.way.structural
    assert bracket.way.spares == 1


def test_another_nozzle_brings_its_own_width_and_height(tmp_path: Path) -> None:
    found, _ = to_print(tmp_path, DESIGN)
    skirt, foot = found.things[:2]
    assert (skirt.way.line_width, skirt.way.layer_height) == (pytest.approx(0.66e-3), pytest.approx(0.3e-3))
    assert (foot.way.line_width, foot.way.layer_height) == (pytest.approx(0.45e-3), pytest.approx(0.2e-3))


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("{name: a, shape: tube, diameter: 40 mm, length: 40 mm}", "a printed tube needs wall"),
        ("{name: a}", "needs a shape or a mesh"),
        ("{name: a, mesh: gone.stl}", "no such file"),
        ("{name: a, shape: box, size: [40 m, 30 mm, 20 mm]}", "no part of a show robot"),
        ("{name: a, shape: tube, diameter: 40 mm, length: 40 mm, wall: 20 mm}", "nothing hollow is left"),
        ("{name: a, shape: sphere, diameter: 40 mm, material: oak}", "not a filament"),
        ("{name: a, shape: sphere, diameter: 40 mm, print: {cuts: [0, 1, 1]}}", "pieces along x, y and z"),
    ],
)
def test_a_print_that_cannot_be_is_said_with_its_line(tmp_path: Path, more: str, said: str) -> None:
    _, ledger = to_print(tmp_path, f"name: x\nworkshop:\n  more_prints:\n    - {more}\n")
    fault = next(f for f in ledger.faults if said in str(f))
    assert fault.line == 4
