"""How parts lie, where they fit, what is said of those that do not, and other ways of printing the whole."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from dryfit.design.read import read_design
from dryfit.ground.errors import DesignError
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import resolve
from dryfit.machine.printed_things import PrintedThing, things_to_print
from dryfit.machine.printing import How, Printing, resolve_printing
from dryfit.making.alternatives import alternatives, bond
from dryfit.making.bodies import _shape
from dryfit.making.lying import PrintSet, has_room, hull_of, lies, prepared, print_set
from dryfit.making.records_print import Body, Printed
from dryfit.making.records_solids import Solid
from dryfit.making.slicing import solid_of
from dryfit.views.page import Table
from dryfit.views.print_list import hours_minutes, print_blocks

HOW = How(0.4e-3, 0.2e-3, 0.45e-3, 3, 5, 4, 0.15, "best", False)
EXAMPLES = Path(__file__).parents[2] / "examples"


def read(file: Path) -> tuple[tuple[PrintedThing, ...], Printing]:
    design = read_design(file)
    machine = resolve(design, file)
    ledger = Ledger(file.name)
    printing = resolve_printing(design.workshop, ledger, machine.workshop)
    things = things_to_print(design, ledger, machine, printing, file.parent).things
    ledger.close()
    return things, printing


def whole(folder: Path, prints: str, printers: str = "{name: small, bed: [220 mm, 220 mm, 250 mm]}") -> PrintSet:
    file = folder / "design.yaml"
    file.write_text(f"name: x\nworkshop:\n  printers: [{printers}]\n  more_prints:\n    - {prints}\n")
    things, printing = read(file)
    return print_set(things, printing, file=file.name)


def shape(name: str, *size: float, wall: float = 0.0) -> Solid:
    return solid_of(_shape(name, np.array(size, dtype=float), wall))


def printers(*beds: tuple[float, float, float]) -> Printing:
    from dryfit.design.sections.workshop import Workshop as WorkshopRecord
    from dryfit.machine.workshop import resolve_workshop

    listed = [{"name": f"p{i}", "bed": [f"{v} mm" for v in bed]} for i, bed in enumerate(beds)]
    record = WorkshopRecord.model_validate({"printers": listed})
    return resolve_printing(record, Ledger(), resolve_workshop(record, Ledger()))


def lay(solid: Solid, how: str = "best", *beds: tuple[float, float, float]) -> tuple[float, float, float]:
    laid = lies(solid, replace(HOW, lay=how), printers(*(beds or ((300, 300, 300),))).printers)
    assert laid is not None
    x, y = np.ptp(laid.hull, axis=0) * 1e3
    return float(x), float(y), laid.height * 1e3


def test_a_plate_lies_flat_however_it_was_modelled() -> None:
    for size in ((100, 80, 5), (100, 5, 80), (5, 100, 80)):
        assert lay(shape("box", *size))[2] == pytest.approx(5)


def test_a_cone_stands_on_its_base() -> None:
    laid = lies(shape("cone", 60, 60, 100), HOW, printers((300, 300, 300)).printers)
    assert laid is not None
    assert laid.turned[2] == pytest.approx([0, 0, 1])


def test_a_bracket_lies_so_that_least_hangs() -> None:
    """A plate on a post, modelled standing on the post: turned over, nothing hangs."""
    import manifold3d as kernel

    tee = kernel.Manifold.cube([20, 20, 30], True) + kernel.Manifold.cube([80, 80, 6], True).translate([0, 0, 18])
    laid = lies(solid_of(tee), HOW, printers((300, 300, 300)).printers)
    assert laid is not None
    assert laid.turned[2] == pytest.approx([0, 0, -1])


def test_it_lies_as_the_maker_says() -> None:
    bar = shape("box", 30, 40, 120)
    assert lay(bar, "as modelled")[2] == pytest.approx(120)
    assert lay(bar, "on its end")[2] == pytest.approx(120)
    assert lay(bar, "on its side")[2] == pytest.approx(30)
    assert lay(shape("box", 120, 40, 30), "on its end")[2] == pytest.approx(120)


def test_the_edge_of_the_bed_stays_free() -> None:
    assert lies(shape("box", 290, 290, 10), HOW, printers((300, 300, 300)).printers) is not None
    assert lies(shape("box", 291, 290, 10), replace(HOW, lay="as modelled"), printers((300, 300, 300)).printers) is None


def test_a_long_bar_lies_across_the_corner() -> None:
    """On 300 mm with 5 mm free, a bar 10 mm wide of length L at 45 degrees needs (L + 10) / sqrt 2 = 290 mm."""
    longest = 290 * np.sqrt(2) - 10
    bed = printers((300, 300, 40)).printers
    assert lies(shape("box", longest - 1, 10, 10), HOW, bed) is not None
    assert lies(shape("box", longest + 1, 10, 10), HOW, bed) is None
    x, y, _ = lay(shape("box", longest - 1, 10, 10), "best", (300, 300, 40))
    assert max(x, y) <= 290 + 1e-6


def test_room_is_judged_by_the_outline_not_by_its_box() -> None:
    corner = np.array([[0, 0], [0.28, 0.0], [0.0, 0.28]])
    assert has_room(hull_of(corner), 0.1, printers((300, 300, 300)).printers[0])
    assert not has_room(hull_of(corner), 0.1, printers((280, 280, 300)).printers[0])


def test_what_fits_a_small_bed_is_offered_to_every_printer() -> None:
    laid = lies(shape("box", 200, 200, 50), HOW, printers((220, 220, 250), (350, 350, 400)).printers)
    assert laid is not None
    assert [p.name for p in laid.on] == ["p0", "p1"]


@pytest.mark.parametrize(
    ("prints", "typed"),
    [
        ("name: ring, shape: tube, diameter: 640 mm, wall: 4 mm, length: 200 mm", "sectors: "),
        ("name: beam, shape: box, size: [500 mm, 60 mm, 40 mm]", "cuts: "),
        ("name: post, shape: cylinder, diameter: 100 mm, length: 700 mm", "cuts: [1, 1, 3]"),
        ("name: drum, shape: tube, diameter: 400 mm, wall: 5 mm, length: 600 mm", "sectors: "),
        ("name: block, shape: box, size: [400 mm, 300 mm, 450 mm]", "cuts: "),
    ],
)
def test_the_split_that_is_named_fits(tmp_path: Path, prints: str, typed: str) -> None:
    (fault,) = whole(tmp_path, f"{{{prints}}}").faults
    assert fault.line == 5
    assert "fits no bed" in fault.message
    assert "220 x 220 x 250 mm" in fault.message
    assert typed in fault.accepted
    after = whole(tmp_path, f"{{{prints}, {fault.accepted}}}")
    assert not after.faults
    assert all(p.size[0] <= 0.21 + 1e-9 and p.size[1] <= 0.21 + 1e-9 and p.size[2] <= 0.25 for p in after.printed)


def test_no_split_into_fewer_pieces_fits(tmp_path: Path) -> None:
    (fault,) = whole(tmp_path, "{name: beam, shape: box, size: [500 mm, 60 mm, 40 mm]}").faults
    numbers = [int(n) for n in re.findall(r"\d+", fault.accepted)]
    assert sorted(numbers) == [1, 1, 2]  # 250 mm lie across the corner of 210 mm


def test_a_nozzle_that_no_printer_has_is_said(tmp_path: Path) -> None:
    (fault,) = whole(tmp_path, "{name: a, shape: sphere, diameter: 40 mm, print: {nozzle: 0.8 mm}}").faults
    assert "no printer prints petg with a nozzle of 0.8 mm" in str(fault)
    assert "small: 0.4 mm" in str(fault)


def test_a_material_that_no_printer_takes_is_said(tmp_path: Path) -> None:
    bed = "{name: small, bed: [220 mm, 220 mm, 250 mm], materials: [pla]}"
    found = whole(tmp_path, "{name: a, shape: sphere, diameter: 40 mm, material: pc}", bed)
    assert "no printer prints pc" in str(found.faults[0])


def test_the_rest_is_printed_all_the_same(tmp_path: Path) -> None:
    prints = "{name: a, shape: sphere, diameter: 400 mm}\n    - {name: b, shape: sphere, diameter: 40 mm}"
    found = whole(tmp_path, prints)
    assert len(found.faults) == 1
    assert [p.body.name for p in found.printed] == ["b"]
    things, printing = read(tmp_path / "design.yaml")
    with pytest.raises(DesignError, match="fits no bed"):
        prepared(things, printing)


def sunbloom() -> tuple[tuple[PrintedThing, ...], Printing, PrintSet]:
    file = EXAMPLES / "sunbloom" / "design.yaml"
    things, printing = read(file)
    done: list[float] = []
    found = print_set(things, printing, file=file.name, on_progress=lambda part, words: done.append(part))
    assert done == sorted(done)
    assert done[-1] == pytest.approx(1.0)
    return things, printing, found


def test_sunbloom_whole() -> None:
    things, printing, found = sunbloom()
    assert not found.faults
    by_name = {p.body.name: p for p in found.printed}
    panels = by_name["base panels, sector"]
    assert (panels.body.count, panels.on) == (6, ("large",))
    assert by_name["petal"].body.count == 7  # six and a spare
    assert by_name["wheel hub"].on == ("large", "small")
    assert sum(p.body.count for p in found.printed if p.body.coupon) == 1
    for p in found.printed:
        x, y, z = p.size
        assert np.linalg.det(p.turned) == pytest.approx(1.0)
        assert p.turned @ p.turned.T == pytest.approx(np.eye(3), abs=1e-12)
        assert p.footprint.outer.min(axis=0) == pytest.approx([0, 0], abs=1e-12)
        assert p.footprint.outer.max(axis=0) == pytest.approx([x, y])
        assert np.ptp(p.body.solid.points @ p.turned.T, axis=0) == pytest.approx([x, y, z])
        assert [name for name, _ in p.estimates] == list(p.on)
        for _, e in p.estimates:
            assert sum(t for _, t in e.by_kind) == pytest.approx(e.time)
            assert e.mass == pytest.approx(e.volume * printing.filaments[p.body.material].density)
            assert 1e-9 < e.flow < 11e-9
    told = [n for n in found.notes if "kg typed" in n]
    for thing in things:
        copies = thing.count + thing.way.spares
        mass = sum(p.estimates[0][1].mass * p.body.count for p in found.printed if p.body.path == thing.path) / copies
        apart = abs(mass / thing.typed_mass - 1) > 0.15
        assert any(n.startswith(thing.name) for n in told) == apart
    assert any(n.startswith("Layers square to the own z of hub, motor mount") for n in found.notes)


def test_other_ways_of_printing_sunbloom() -> None:
    _, printing, found = sunbloom()
    planned, *others = alternatives(found.printed, printing)
    assert planned.strength == 1.0
    assert {(round(o.nozzle * 1e3, 2), round(o.layer_height * 1e3, 2)) for o in others} == {
        (0.4, 0.2), (0.4, 0.28), (0.6, 0.3), (0.6, 0.42),
    }  # fmt: skip
    by = {round(o.layer_height * 1e3, 2): o for o in others}
    assert by[0.28].time < by[0.2].time
    assert by[0.42].time < by[0.3].time < by[0.2].time
    assert by[0.28].strength < by[0.2].strength
    assert by[0.3].mass > by[0.2].mass


def test_strength_goes_with_walls_and_the_flat_of_a_line() -> None:
    body = Body("a", "", "", "petg", shape("box", 10, 10, 10), 1, HOW)
    assert bond(body) == pytest.approx(3 * (0.45e-3 - 0.2e-3))
    assert bond(replace(body, how=replace(HOW, walls=6))) == pytest.approx(2 * bond(body))


def test_bodies_of_others_are_printed_too() -> None:
    printing = printers((220, 220, 250))
    wheel = Body("pinion", "base.gears[0]", "base", "pa", shape("cylinder", 50, 50, 22), 3, HOW, typed_mass=0.04)
    (found,) = prepared((), printing, [wheel])
    assert isinstance(found, Printed)
    assert found.body is wheel
    assert found.size == pytest.approx((0.05, 0.05, 0.022), rel=1e-3)


def test_the_list_of_prints_adds_up() -> None:
    _, printing, found = sunbloom()
    blocks = print_blocks(found.printed, alternatives(found.printed[:1], printing), found.notes)
    table = next(b for b in blocks if isinstance(b, Table))
    assert len(table.rows) == len(found.printed)
    assert all(len(row) == len(table.columns) for row in table.rows)
    assert "coupon" in table.rows[0][0]
    assert [hours_minutes(s) for s in (10, 59 * 60, 3600, 3661 * 2)] == ["1 min", "59 min", "1 h 00 min", "2 h 02 min"]
