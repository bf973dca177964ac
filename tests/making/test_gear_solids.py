"""Gear pairs of the examples as solids and files: closed, of the right volume, the same when read back."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
import trimesh

from dryfit.assess.assess import assess
from dryfit.design.read import read_text
from dryfit.ground.errors import DesignError
from dryfit.machine.gear_bodies import resolve_gear_bodies
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import resolve
from dryfit.making.gear_boards import PLAY
from dryfit.making.gear_gaps import free_ring_addendum
from dryfit.making.gear_outlines import toothed
from dryfit.making.gear_pairs import gear_pairs, teeth_of
from dryfit.outputs.outlines import layer_name, write_dxf
from dryfit.outputs.solids import Named, smooth_pieces, write_3mf, write_step, write_stl

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def pairs_of(text, file):
    design = read_text(text, str(file))
    machine = resolve(design, file)
    ledger = Ledger(file.name)
    bodies = resolve_gear_bodies(
        design.base.gears, ledger, machine.gears, machine.workshop, design.workshop.outside_offset
    )
    ledger.close()
    return gear_pairs(machine, bodies), ledger


@cache
def example(name, *changes):
    file = EXAMPLES / name / "design.yaml"
    text = file.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return pairs_of(text, file)[0]


def members(name):
    return [m for p in example(name) for m in (p.pinion, p.gear)]


def mesh(solid):
    return trimesh.Trimesh(solid.points, solid.faces, process=False)


def section(solid, height):
    """The flat shape of a solid at a height: rings within rings alternate between material and hole."""
    cut = mesh(solid).section(plane_origin=[0, 0, height], plane_normal=[0, 0, 1])
    whole = shapely.Polygon()
    for ring in cut.discrete:
        whole = whole.symmetric_difference(shapely.Polygon(ring[:, :2]))
    return whole


def area(outline):
    return shapely.Polygon(outline.outer, outline.holes).area


FULL_DEPTH = ("gear_addendum: 0.81 ", "gear_addendum: 1 ")


@pytest.mark.parametrize("name", ["sunbloom", "gangway", "beacon"])
def test_every_solid_is_one_closed_body_standing_on_the_bed(name):
    for member in members(name):
        for solid in (member.solid, member.slice):
            body = mesh(solid)
            assert body.is_watertight
            assert body.is_winding_consistent
            assert body.body_count == 1
            assert body.volume > 0
            assert body.bounds[0][2] == pytest.approx(0, abs=1e-9)
    for pair in example(name):
        assert mesh(pair.board).is_watertight
        assert mesh(pair.board).body_count == 1


def test_direct_drive_makes_no_gears():
    assert example("drift") == ()


def test_the_volume_is_the_outline_times_the_face_width_less_chamfers_and_flare():
    for member in (example("sunbloom")[0].gear, *members("gangway")[1:]):
        body, flat = mesh(member.solid), area(member.made)
        whole = flat * member.face_width
        edge = shapely.Polygon(member.made.outer, member.made.holes).length
        first_layer = 0.2e-3 * 0.3e-3 * edge  # what the first layer is drawn in by, all round
        assert body.volume < whole
        assert body.volume == pytest.approx(whole - first_layer, rel=3e-3)
        # half way up the section is the outline itself
        assert section(member.solid, member.face_width / 2).area == pytest.approx(flat, rel=1e-4)


def test_the_first_layer_is_drawn_in_by_its_flare():
    member = example("gangway")[0].gear
    first = section(member.solid, 0.1e-3)
    made = shapely.Polygon(member.made.outer, member.made.holes)
    assert made.buffer(-0.45e-3).area < first.area < made.buffer(-0.29e-3).area


def test_pinion_bores_fit_the_shaft_with_what_the_printer_takes():
    bore = example("sunbloom")[0].pinion.made.holes[0]
    # 8 mm shaft with 1 mm flat, holes come out 0.2 mm small: drawn 8.2 mm and the flat as far from the far side
    assert np.ptp(bore[:, 1]) == pytest.approx(8.2e-3, abs=2e-5)
    assert np.ptp(bore[:, 0]) == pytest.approx(8.2e-3 - 1e-3, abs=2e-5)


@pytest.mark.parametrize(
    ("grip", "holes", "said"),
    [
        ("{kind: key, key_height: 2 mm}", 1, "keyway"),
        ("{kind: screws}", 1, "M4 set screws"),
        ("{kind: one piece}", 0, "one piece"),
        ("{kind: flat}", 1, "set screw"),
    ],
)
def test_kinds_of_grip(grip, holes, said):
    pair = example("gangway", ("      module: 2 mm\n", f"      module: 2 mm\n      pinion_grip: {grip}\n"))[0]
    assert len(pair.pinion.made.holes) == holes
    assert any(said in note for note in pair.pinion.notes)
    assert mesh(pair.pinion.solid).is_watertight


def test_a_boss_with_nut_pocket_is_lighter_than_a_plain_one():
    plain = example("gangway", ("      module: 2 mm\n", "      module: 2 mm\n      pinion_grip: {kind: one piece}\n"))
    gripped = example("gangway")[0].pinion
    assert mesh(plain[0].pinion.solid).bounds[1][2] == pytest.approx(22e-3)
    assert mesh(gripped.solid).bounds[1][2] == pytest.approx(32e-3)


def test_slices_fit_their_stubs():
    pair = example("gangway")[0]
    stubs = sorted({round(float(np.ptp(p.exterior.xy[0])), 4) for p in section(pair.board, 6e-3).geoms})
    hole = float(np.ptp(section(pair.pinion.slice, 3e-3).interiors[0].xy[0]))
    assert stubs == [8e-3, 15e-3]  # gearmotor's shaft and axle
    assert hole + -0.15e-3 == pytest.approx(8e-3 + PLAY, abs=2e-5)  # this workshop's holes come out 0.15 mm small


@pytest.mark.parametrize("name", ["sunbloom", "gangway"])
def test_the_board_has_stubs_at_the_true_distance_and_at_shims_to_either_side(name):
    pair = example(name)[0]
    distances = [np.hypot(x, y) for x, y, _ in pair.board_labels]
    towards = 1 if pair.internal else -1
    steps = np.array([-0.2e-3, -0.1e-3, 0, 0.1e-3, 0.2e-3])
    assert distances == pytest.approx(list(pair.centre_distance + towards * steps), abs=1e-9)
    assert "as designed" in pair.board_labels[2][2]


def test_gaps_stand_for_the_true_distance_and_for_shims():
    pair = example("sunbloom")[0]
    gaps = {round(g.shim * 1e3, 1): g for g in pair.gaps}
    free = [gaps[s] for s in (-0.2, -0.1, 0.0, 0.1)]
    assert not any(g.overlaps for g in free)
    assert gaps[0.0].gap == pytest.approx(pair.backlash, abs=5e-6)
    assert free[0].gap > free[1].gap > free[2].gap > free[3].gap > 0
    # one shim more and the pinion's tips meet the ring's root rounding, though the flanks would still have play
    assert gaps[0.2].overlaps


def test_what_an_outside_prints_too_large_is_taken_off_the_teeth():
    """Half of it all round: the tip circle comes out smaller by the whole. What is generated stays the same, and so
    does a ring, whose teeth stand on the inside."""
    grows = ("hole_offset: -0.2 mm ", "outside_offset: 0.12 mm\n  hole_offset: -0.2 mm ")
    plain, less = example("sunbloom")[0], example("sunbloom", grows)[0]

    def across(o):
        return np.ptp(o.outer, axis=0)[0]

    assert across(plain.pinion.made) - across(less.pinion.made) == pytest.approx(0.12e-3, abs=2e-6)
    assert across(plain.pinion.outline) == across(less.pinion.outline)
    # a parallel edge lies everywhere as far in: the area shrinks by edge times depth, but for the corners
    edge = shapely.Polygon(plain.pinion.made.outer).length
    assert area(plain.pinion.made) - area(less.pinion.made) == pytest.approx(0.06e-3 * edge, rel=0.02)
    assert np.ptp(less.pinion.slice.points[:, 0]) == pytest.approx(
        np.ptp(plain.pinion.slice.points[:, 0]) - 0.12e-3, abs=2e-6
    )
    assert area(plain.gear.made) == pytest.approx(area(less.gear.made), rel=1e-12)
    assert any("drawn in by 0.06 mm" in note for note in less.pinion.notes)
    assert any("workshop.outside_offset" in note for note in plain.pinion.notes)


def test_full_depth_tips_overlap_the_roots_as_the_check_says():
    """The rolled outlines and the closed form of `ring-tips-stay-off-the-roots` know nothing of each other."""
    pair = example("sunbloom", FULL_DEPTH)[0]
    assert next(g for g in pair.gaps if g.shim == 0).overlaps
    file = EXAMPLES / "sunbloom" / "design.yaml"
    text = file.read_text(encoding="utf-8").replace(*FULL_DEPTH)
    text = text.replace("print_tolerance: 0.1 mm", "print_tolerance: 0 mm")
    machine = resolve(read_text(text, str(file)), file)
    found = next(f for f in assess(machine).findings if f.check == "ring-tips-stay-off-the-roots")
    assert float(found.margin) < 0
    tallest = next(t for t in found.terms if t.symbol == "h_r")
    pinion, gear = (toothed(t) for t in teeth_of(machine.gears, 0))
    assert float(tallest.value[0]) == pytest.approx(free_ring_addendum(pinion, gear, 0.036), abs=0.01)


def test_a_centre_distance_at_which_the_teeth_do_not_run_is_said_and_rolled_too():
    pair = example("beacon")[0]
    assert pair.centre_distance == pytest.approx(27e-3)
    assert pair.gaps[-1].centre_distance == pytest.approx(45e-3)
    assert pair.gaps[-1].overlaps
    assert any("45.00 mm" in note for note in pair.pinion.notes)


def test_a_centre_distance_a_little_off_is_drawn_as_typed():
    pair = example("gangway", ("centre_distance: 60 mm", "centre_distance: 60.05 mm"))[0]
    assert pair.centre_distance == pytest.approx(60.05e-3)
    assert pair.gaps[2].gap == pytest.approx(pair.backlash, abs=5e-6)


def test_a_bore_as_wide_as_the_roots_is_a_fault_with_its_line():
    file = EXAMPLES / "gangway" / "design.yaml"
    text = file.read_text(encoding="utf-8").replace(
        "      module: 2 mm\n", "      module: 2 mm\n      pinion_grip: {shaft_diameter: 34 mm}\n"
    )
    with pytest.raises(DesignError) as wrong:
        pairs_of(text, file)
    fault = wrong.value.faults[0]
    assert fault.line == text[: text.index("34 mm")].count("\n") + 1
    assert fault.read == "34 mm"
    assert "less than 33 mm" in fault.accepted


def test_every_default_of_a_body_has_its_reason():
    _, ledger = pairs_of(
        (EXAMPLES / "gangway/design.yaml").read_text(encoding="utf-8"), EXAMPLES / "gangway/design.yaml"
    )
    keys = {f"base.gears[0].{k}" for k in ("rim", "hub_diameter", "hub_length", "chamfer")}
    assert keys <= set(ledger.origins)
    assert all(ledger.origins[k].note for k in keys)


def digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_dxf_reads_back_sound_in_millimetres(tmp_path):
    member = example("sunbloom")[0].gear
    curves = {"true": [member.outline.outer, *member.outline.holes], "as made": [member.made.outer, *member.made.holes]}
    for name in ("a.dxf", "b.dxf"):
        write_dxf(curves, tmp_path / name)
    assert digest(tmp_path / "a.dxf") == digest(tmp_path / "b.dxf")
    document = ezdxf.readfile(tmp_path / "a.dxf")
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    assert document.units == ezdxf.units.MM
    lines = list(document.modelspace())
    assert len(lines) == 2 + len(curves["as made"])
    assert all(line.dxftype() == "LWPOLYLINE" and line.closed for line in lines)
    found = shapely.Polygon([p[:2] for p in lines[0].get_points()]).area
    assert found == pytest.approx(shapely.Polygon(member.outline.outer).area * 1e6, rel=1e-8)


def test_layer_names_lose_what_a_layer_may_not_have():
    assert layer_name('a/b:"c"*') == "a-b--c--"
    assert layer_name("") == "outline"


def test_stl_and_3mf_read_back_closed_and_in_millimetres(tmp_path):
    pair = example("gangway")[0]
    solids = [Named(m.name, m.solid.points, m.solid.faces) for m in (pair.pinion, pair.gear)]
    for n in ("a", "b"):
        write_stl(solids[0].points, solids[0].faces, tmp_path / f"{n}.stl", "solid pinion")
        write_3mf(solids, tmp_path / f"{n}.3mf")
    for kind in ("stl", "3mf"):
        assert digest(tmp_path / f"a.{kind}") == digest(tmp_path / f"b.{kind}")
    expected = mesh(pair.pinion.solid).volume * 1e9
    single = trimesh.load_mesh(tmp_path / "a.stl")
    assert single.is_watertight
    assert single.volume == pytest.approx(expected, rel=1e-5)
    scene = trimesh.load(tmp_path / "a.3mf")
    assert scene.units == "millimeter"
    assert set(scene.geometry) == {"pinion", "gear"}
    assert scene.geometry["pinion"].is_watertight
    assert scene.geometry["pinion"].volume == pytest.approx(expected, rel=1e-6)


def test_step_reads_back_with_the_volume_of_the_outline(tmp_path):
    cad = pytest.importorskip("build123d")
    member = example("gangway")[0].pinion
    write_step(member.made.outer, member.made.holes, member.face_width, tmp_path / "pinion.step")
    body = cad.import_step(str(tmp_path / "pinion.step"))
    assert body.is_valid
    assert body.volume == pytest.approx(area(member.made) * member.face_width * 1e9, rel=2e-4)


def test_smooth_pieces_keep_every_point_in_order():
    curve = example("gangway")[0].pinion.made.outer
    pieces = smooth_pieces(curve)
    for a, b in zip(pieces, [*pieces[1:], pieces[0]], strict=True):
        assert a[-1] == pytest.approx(b[0])
    assert sum(len(p) - 1 for p in pieces) == len(curve)
