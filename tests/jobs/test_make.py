"""The folder that goes to the workshop: complete, consistent, and read back by libraries that did not write it."""

from __future__ import annotations

import csv
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import date, datetime
from pathlib import Path
from xml.etree import ElementTree as Tree

import ezdxf
import numpy as np
import openpyxl
import pytest
import shapely
import trimesh
from pypdf import PdfReader

from dryfit.ground.errors import DesignError, UnknownNameError
from dryfit.jobs.check import example, new
from dryfit.jobs.make import BOOK, Made, make
from dryfit.jobs.making import Loss, first_plates, making
from dryfit.jobs.readings import points
from dryfit.making.plate_solids import standing

TODAY = date(2026, 11, 25)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(example("sunbloom"), tmp_path_factory.mktemp("made") / "workshop", today=TODAY)


@pytest.fixture(scope="module")
def book(made: Made) -> str:
    pages = PdfReader(made.folder / BOOK).pages
    return " ".join(" ".join(page.extract_text().split()) for page in pages)


@pytest.fixture
def design(tmp_path: Path) -> Callable[..., Path]:
    def changed(*changes: tuple[str, str], like: str = "sunbloom") -> Path:
        file = new(tmp_path / "machine", like)
        text = file.read_text(encoding="utf-8")
        for old, instead in changes:
            assert old in text, old
            text = text.replace(old, instead)
        file.write_text(text, encoding="utf-8")
        return file

    return changed


def faults(path: Path, **more: object) -> str:
    with pytest.raises(DesignError) as wrong:
        making(path, today=TODAY, **more)  # type: ignore[arg-type]
    return str(wrong.value)


# --- the files, read back ---------------------------------------------------------------------------------------------


def test_every_outline_passes_the_audit_of_the_drawing_library(made: Made) -> None:
    files = sorted(made.folder.rglob("*.dxf"))
    assert {f.stem for f in files} >= {"pinion", "ring"}
    for file in files:
        document = ezdxf.readfile(file)
        assert not document.audit().errors
        assert all(line.closed for line in document.modelspace().query("LWPOLYLINE"))


def test_outlines_to_cut_along_are_one_to_one(made: Made) -> None:
    pinion = made.summary.pairs[0].pinion.made.outer
    root = Tree.parse(made.folder / "gears" / "pinion.svg").getroot()
    width, height = (float(root.attrib[side].removesuffix("mm")) for side in ("width", "height"))
    assert [width - 4, height - 4] == pytest.approx(list(np.ptp(pinion, axis=0) * 1e3), abs=1e-3)


def test_every_solid_is_watertight_for_the_mesh_library(made: Made) -> None:
    files = sorted(made.folder.rglob("*.stl"))
    assert len(files) > 10
    for file in files:
        body = trimesh.load_mesh(file)
        assert body.is_watertight, file.name
        assert body.volume > 0, file.name


def test_plates_hold_their_bodies_on_the_bed_and_apart(made: Made) -> None:
    plan = made.summary.plan
    for plate in plan.plates:
        scene = trimesh.load_scene(made.folder / "prints" / f"plate-{plate.number:02d}.3mf")
        bodies = [part.apply_transform(scene.graph.get(name)[0]) for name, part in _parts(scene)]
        assert len(bodies) == len(plate.placed)
        shadows = [shapely.MultiPoint(body.vertices[:, :2]).convex_hull for body in bodies]
        bed = shapely.box(0, 0, plate.bed[0] * 1e3, plate.bed[1] * 1e3)
        for n, (body, shadow) in enumerate(zip(bodies, shadows, strict=True)):
            assert body.is_watertight
            assert body.bounds[0, 2] == pytest.approx(0, abs=1e-6)
            assert bed.contains(shadow)
            assert all(shadow.distance(other) > 4.9 for other in shadows[:n])


def _parts(scene: trimesh.Scene) -> Iterator[tuple[str, trimesh.Trimesh]]:
    for node in scene.graph.nodes_geometry:
        yield node, scene.geometry[scene.graph.get(node)[1]].copy()


def test_bodies_stand_where_the_plates_have_them(made: Made) -> None:
    plan = made.summary.plan
    for plate in plan.plates:
        for placed in plate.placed:
            there = shapely.MultiPoint(standing(plan.printed[placed.printed], placed).points[:, :2]).convex_hull
            assert there.symmetric_difference(shapely.Polygon(placed.covers.outer)).area < 1e-9


def test_every_copy_is_on_a_plate_once(made: Made) -> None:
    plan = made.summary.plan
    copies = Counter((p.printed, p.copy) for plate in plan.plates for p in plate.placed)
    assert set(copies.values()) == {1}
    assert len(copies) == sum(one.body.count for one in plan.printed)


def test_step_files_have_the_volume_of_the_outline(made: Made) -> None:
    cad = pytest.importorskip("build123d")
    ring = next(pair.gear for pair in made.summary.pairs)
    solid = cad.import_step(str(made.folder / "gears" / "ring.step"))
    flat = shapely.Polygon(ring.made.outer, ring.made.holes).area
    assert solid.volume == pytest.approx(flat * ring.face_width * 1e9, rel=2e-3)


def test_the_workbook_and_the_single_lists_say_the_same(made: Made) -> None:
    workbook = openpyxl.load_workbook(made.folder / "lists.xlsx")
    assert len(workbook.sheetnames) >= 8
    with (made.folder / "lists" / "wires.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    sheet = workbook["wires"]
    assert [cell.value for cell in sheet[1]] == rows[0]
    assert len(rows) - 1 == len(made.summary.wiring.wires)


def test_drawings_are_sound_and_in_millimetres(made: Made) -> None:
    files = sorted((made.folder / "drawings").glob("*.svg"))
    assert len(files) > 8
    for file in files:
        root = Tree.parse(file).getroot()
        assert root.attrib["width"].endswith("mm")
        assert root.attrib["viewBox"].split()[2] + "mm" == root.attrib["width"]


def test_the_contents_name_what_is_there(made: Made) -> None:
    text = (made.folder / "contents.txt").read_text(encoding="utf-8")
    assert "build-book.pdf" in text
    assert "Local codes and licensed practice decide." in text
    there = {str(p.relative_to(made.folder)) for p in made.folder.rglob("*") if p.is_file()}
    assert there == {*made.summary.files, "made.json"}


# --- the book ---------------------------------------------------------------------------------------------------------


def test_the_book_has_verdict_stages_and_predicted_readings(made: Made, book: str) -> None:
    assert "It will work, but 1 check has less reserve than asked for" in book
    for stage in made.making.stages:
        assert stage.title in book
    assert "Local codes and licensed practice" in book
    assert "19.3 deg" in book
    assert "Stop" in book


def test_the_book_holds_every_list(made: Made, book: str) -> None:
    for words in ("Print plan", "Cut list", "Purchase list", "Wiring", "The way to the date", "The day of the show"):
        assert words in book
    for wire in made.summary.wiring.wires:
        assert wire.number in book
    for name in ("Transport", "Every default taken", "Sources", "Shims under the motor mounts"):
        assert name in book


def test_the_book_tells_the_default_of_making_too(book: str) -> None:
    assert "wiring.slack" not in book  # written in the example
    assert "workshop.time_factor" in book


# --- what hangs together ----------------------------------------------------------------------------------------------


def test_the_teeth_turn_free_with_the_backlash_they_were_thinned_for(made: Made) -> None:
    pair = made.summary.pairs[0]
    true = next(gap for gap in pair.gaps if gap.shim == 0.0)
    assert not true.overlaps
    assert true.gap == pytest.approx(pair.backlash, abs=1e-5)


def test_lists_agree_on_how_many(made: Made) -> None:
    machine, lines = made.making.checked.machine, {line.item: line for line in made.summary.purchases.lines}
    assert lines["gearmotor-12v-300rpm-3nm"].needed == sum(machine.wheels.driven)
    assert lines["uc204"].needed == 2 * sum(machine.wheels.driven)
    pieces = Counter(cut.name for bar in made.summary.cuts.bars for cut in bar.cuts)
    assert pieces["axle"] == 3
    assert sum(line.cost for line in lines.values() if line.count and np.isfinite(line.cost)) == pytest.approx(
        made.summary.purchases.total
    )


def test_orders_stand_before_the_stage_that_needs_them(made: Made) -> None:
    delivery = made.summary.way.delivery
    assert delivery is not None
    for line in made.summary.purchases.lines:
        assert line.order_by is not None
        assert line.needed_on is not None
        # three days in hand, as purchases.margin asks for
        assert (line.needed_on - line.order_by).days >= line.lead_time / 86400 + 3
        assert line.needed_on < delivery


def test_the_first_plates_are_timed_at_the_bench(made: Made) -> None:
    plates = first_plates(made.making.prints)
    listed = {p.name: p for p in points(made.making.checked, plates)}
    assert [listed[f"plate-{n}-hours"].predicted for n in (1, 2, 3)] == pytest.approx([t for _, t in plates], rel=1e-6)


def test_the_summary_holds(made: Made) -> None:
    assert made.summary.held
    assert not made.summary.short


def test_made_again_the_folder_is_the_same(made: Made, tmp_path: Path) -> None:
    """Byte for byte, but for the STEP files, which carry the time."""
    again = make(example("sunbloom"), tmp_path / "again", today=TODAY)
    for name in made.summary.files:
        if not name.endswith(".step"):
            assert (made.folder / name).read_bytes() == (again.folder / name).read_bytes(), name


# --- something is lost ------------------------------------------------------------------------------------------------


def test_a_lost_printer_says_what_slips_and_leaves_what_is_done(made: Made) -> None:
    lost = making(example("sunbloom"), today=TODAY, loss=Loss("small", (), datetime(2027, 3, 11, 9)))
    before, after = made.summary.plan, lost.prints.plan
    assert after.finish > before.finish
    done = [job for job in before.jobs if job.done < datetime(2027, 3, 11, 9)]
    assert done
    assert {(j.plate, j.begins) for j in done} <= {(j.plate, j.begins) for j in after.jobs}
    assert not [j for j in after.jobs if j.printer == "small" and j.begins >= datetime(2027, 3, 11, 9)]
    assert any("delivery on 2027-05-12 holds" in slip.what for slip in lost.slips)
    assert any("all plates" in slip.what for slip in lost.slips)


def test_a_failed_plate_is_printed_again(made: Made) -> None:
    failed = making(example("sunbloom"), today=TODAY, loss=Loss("", (4,), datetime(2027, 3, 11, 9)))
    tries = [job for job in failed.prints.plan.jobs if job.plate == 4]
    assert [job.failed for job in tries] == [True, False]
    assert tries[1].begins >= datetime(2027, 3, 11, 9)


@pytest.mark.parametrize(("loss", "words"), [(Loss("smal"), "did you mean small"), (Loss("", (99,)), "99")])
def test_what_is_not_there_cannot_be_lost(loss: Loss, words: str) -> None:
    with pytest.raises(UnknownNameError, match=words):
        making(example("sunbloom"), today=TODAY, loss=loss)


# --- wrong input ------------------------------------------------------------------------------------------------------


def test_a_part_larger_than_any_bed_is_told_the_split_that_fits(design: Callable[..., Path]) -> None:
    file = design(("print: {sectors: 6, nozzle: 0.6 mm, layer_height: 0.3 mm}", "print: {nozzle: 0.6 mm}"))
    told = faults(file)
    line = next(n for n, text in enumerate(file.read_text().splitlines(), 1) if "name: base panels" in text)
    assert f"design.yaml:{line}" in told
    assert "640 x 640 x 220 mm" in told
    assert "print: {sectors: 4}" in told
    file.write_text(file.read_text().replace("print: {nozzle: 0.6 mm}", "print: {sectors: 4, nozzle: 0.6 mm}"))
    assert making(file, today=TODAY).prints.plan.plates


def test_no_printer_is_said(design: Callable[..., Path]) -> None:
    file = design()
    lines = file.read_text(encoding="utf-8").splitlines()
    at = next(n for n, text in enumerate(lines) if text.strip() == "printers:")
    lines[at : at + 3] = ["  printers: []"]
    file.write_text("\n".join(lines), encoding="utf-8")
    assert f"design.yaml:{at + 1}: workshop.printers: no printer is left" in faults(file)


def test_a_date_in_the_past_is_said_and_everything_still_made(design: Callable[..., Path], tmp_path: Path) -> None:
    file = design(("delivery: 2027-05-28", "delivery: 2025-05-28"), like="gangway")
    found = make(file, tmp_path / "out", today=TODAY)
    assert not found.summary.held
    assert found.summary.way.late > 0
    assert any("2025-05-28" in note and "lies before the first day" in note for _, note in found.summary.notes)
    assert (tmp_path / "out" / BOOK).is_file()


@pytest.mark.parametrize(
    ("old", "instead", "words"),
    [
        (
            "to: stem foot, carries: [strips, ground]",
            "to: stem fot, carries: [strips, ground]",
            "did you mean stem foot",
        ),
        ("from: controller, to: stem foot, carries: [strips", "from: controller, carries: [strips", "wires[6].to"),
        ("{branch: stem feed, from", "{branch: stem feeed, from", "did you mean stem feed"),
        ("carries: [strips, ground]", "carries: [stripes, ground]", "did you mean strips"),
        ("{stock: slot-20, length: 380 mm", "{stock: slot-20, length: 3800 mm", "longer than a bar"),
        ("{stock: slot-20, length: 380 mm", "{stock: slot-25, length: 380 mm", "did you mean slot-20"),
        ("materials: [petg, pa]", "materials: [petg]", "no printer prints pa"),
        ("{item: servo-55-kgcm, price", "{item: servo-50-kgcm, price", "did you mean servo-55-kgcm"),
        ("bed: [220 mm, 220 mm, 250 mm]", "bed: [220 mm, 220 mm]", "workshop.printers[1].bed"),
    ],
)
def test_what_cannot_be_made_is_said_with_its_line(
    old: str, instead: str, words: str, design: Callable[..., Path]
) -> None:
    file = design((old, instead))
    line = next(n for n, text in enumerate(file.read_text().splitlines(), 1) if instead in text)
    told = faults(file)
    assert words in told
    if "no printer prints" not in words:
        assert f"design.yaml:{line}:" in told
    assert "design.yaml:0" not in told


def test_nothing_is_written_where_something_is_wrong(design: Callable[..., Path], tmp_path: Path) -> None:
    file = design(("carries: [strips, ground]", "carries: [stripes, ground]"))
    with pytest.raises(DesignError):
        make(file, tmp_path / "out", today=TODAY)
    assert not (tmp_path / "out").exists()


def test_names_that_make_one_file_name_are_kept_apart(design: Callable[..., Path], tmp_path: Path) -> None:
    names = ("../Clip <b>", "clip b", "#*$ [x] =1+1")
    more = "  more_prints:\n" + "".join(
        f"    - {{name: '{name}', shape: box, size: [{20 + n} mm, 20 mm, 5 mm]}}\n" for n, name in enumerate(names)
    )
    file = design(("  start: 2027-09-20\n", "  start: 2027-09-20\n" + more), like="drift")
    found = make(file, tmp_path / "out", today=TODAY)
    there = {p.name for p in (tmp_path / "out" / "prints").glob("*.stl")}
    assert {"clip-b.stl", "clip-b-2.stl", "x-1-1.stl"} <= there
    assert found.summary.plan.plates
    assert not (tmp_path / "Clip <b>.stl").exists()
    told = " ".join(" ".join(p.extract_text().split()) for p in PdfReader(tmp_path / "out" / BOOK).pages)
    assert "../Clip <b>" in told
    assert "#*$ [x] =1+1" in told


def test_half_a_file_is_made_too(tmp_path: Path) -> None:
    """A name and two gears: defaults do the rest, and what nobody said is not made up."""
    (tmp_path / "design.yaml").write_text(
        "name: Fernlight\nbase: {gears: [{pinion_teeth: 20, gear_teeth: 40, pinion_material: printed-petg, "
        "gear_material: printed-petg}]}\n"
    )
    found = make(tmp_path / "design.yaml", tmp_path / "out", today=TODAY)
    assert found.summary.pairs
    assert found.summary.way.delivery is None
    assert (tmp_path / "out" / BOOK).is_file()


@pytest.mark.parametrize("name", ["gangway", "drift", "beacon"])
def test_the_other_examples_are_made(name: str, tmp_path: Path) -> None:
    shutil.rmtree(tmp_path / "out", ignore_errors=True)
    found = make(example(name), tmp_path / "out", today=TODAY)
    assert found.summary.held == (name != "beacon")
    assert len(PdfReader(tmp_path / "out" / BOOK).pages) > 20
