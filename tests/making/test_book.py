"""Pictures and chapters of the build book: held to closed forms, to circuit theory, and to what the trades found."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageFont

from dryfit.assess.pictures import pictures
from dryfit.assess.records_pictures import Pictures
from dryfit.assess.report import Report
from dryfit.assess.results import Results, results
from dryfit.design.read import read_text
from dryfit.ground.units import show
from dryfit.jobs.check import check, example
from dryfit.machine.machine import Machine
from dryfit.machine.meshes import enclosed
from dryfit.machine.surfaces import held_by_arms, part_triangles, surfaces
from dryfit.making.records_bench import Cause, Outside, Stage, Taken
from dryfit.making.records_bench import TestPoint as Point
from dryfit.outputs.book import _fonts
from dryfit.trades.light.checks_profile import drop_along
from dryfit.trades.light.formulas import ladder_drops
from dryfit.views.book import Handed, book
from dryfit.views.book_blocks import BenchCard, Book, Chapter, Figure, Occasion, Ticks
from dryfit.views.book_pages_stages import chapters
from dryfit.views.drawing import Area, Drawing, Line, Words
from dryfit.views.page import Paragraph
from dryfit.views.plot import Frame, curve, ticks
from dryfit.views.visible import FROM_ABOVE, FROM_THE_LEFT, Eye, aslant, seen

EXAMPLES = ("sunbloom", "beacon", "drift", "gangway")
STAGE = Stage("frame", "Frame", ("a flat board",), ("Screw it together.",), ("Sharp edges.",))
POINT = Point(
    "mass-frame", "frame", "Mass of the frame", "kg", 2.2, 2.1, 2.3, "scale", 0.005, ("Weigh it.",), "it rocks", (),
    Outside((Cause("a bar is missing", "count the bars"),), (Cause("nuts left in", "shake it"),)),
)  # fmt: skip


@cache
def made(name: str) -> tuple[Machine, Report, Results, Pictures]:
    checked = check(example(name))
    found = results(checked.machine)
    return checked.machine, checked.report, found, pictures(checked.machine, found)


@cache
def the_book(name: str, more: tuple[Chapter, ...] = ()) -> Book:
    m, report, _, p = made(name)
    return book(report, m, p, (STAGE,), (POINT,), more, (), date(2027, 3, 8), occasion=Occasion("design.yaml"))


# ---- volts along a strip


@given(
    number=st.integers(1, 40),
    feeds=st.sampled_from([[0.0], [1.0], [0.0, 1.0], [0.35], [0.1, 0.8], [0.0, 0.5, 1.0]]),
    current=st.floats(0.001, 0.06),
)
def test_drop_along_a_strip_solves_kirchhoffs_equations(number: int, feeds: list[float], current: float) -> None:
    """Kirchhoff's laws as one linear system over all LEDs and feeds (circuit theory), solved by a general library."""
    m, *_ = made("sunbloom")
    pitch, ohms = 1 / number, 3.0
    light = m.light.__class__(**{
        **vars(m.light), "leds": np.array([float(number)]), "pitch": np.array([pitch]), "feeds": (np.array(feeds),),
        "foil_resistance": np.array([ohms]),
    })  # fmt: skip
    place, drop = drop_along(light, 0, current)
    nodes = sorted({*(round(x, 9) for x in place), *feeds})
    n = len(nodes)
    conductance, inflow = np.zeros((n, n)), np.zeros(n)
    for i in range(n - 1):
        g = 1 / (ohms * (nodes[i + 1] - nodes[i]))
        conductance[i, i] += g
        conductance[i + 1, i + 1] += g
        conductance[i, i + 1] -= g
        conductance[i + 1, i] -= g
    for x in place:
        inflow[nodes.index(round(float(x), 9))] -= current
    for x in feeds:
        i = nodes.index(x)
        conductance[i], inflow[i] = np.eye(n)[i], 0.0
    volts = np.linalg.solve(conductance, inflow)
    assert -drop == pytest.approx([volts[nodes.index(round(float(x), 9))] for x in place], abs=1e-7)
    deepest, _ = ladder_drops(pitch / 2, pitch, float(number), np.array(feeds), ohms, current)
    assert np.max(drop) == pytest.approx(deepest, abs=1e-9)


@pytest.mark.parametrize("name", ["sunbloom", "beacon", "drift"])
def test_the_worst_led_of_the_picture_is_that_of_the_check(name: str) -> None:
    _, report, _, p = made(name)
    check_of = next(f for f in report.findings if f.check == "last-led-has-its-volts")
    assert [float(np.min(s.volts)) for s in p.strips] == pytest.approx(check_of.capacity)
    assert [s.needed for s in p.strips] == pytest.approx(check_of.demand)


# ---- shims


@pytest.mark.parametrize("name", ["sunbloom", "beacon", "gangway"])
def test_shim_table_agrees_with_the_check_at_the_gap_drawn(name: str) -> None:
    _, report, _, p = made(name)
    terms = {t.symbol: t for f in report.findings if f.check == "shims-cover-the-mount" for t in f.terms}
    table = p.shims[0]
    row = int(np.argmin(np.abs(table.gap - table.planned)))
    assert table.gap[row] == pytest.approx(table.planned)
    assert np.sum(table.shims[row]) == pytest.approx(np.ravel(terms["t_s"].value)[0])
    assert table.backlash[row] == pytest.approx(np.ravel(terms["j_s"].value)[0])


def test_shims_stay_within_half_the_thinnest_of_every_gap() -> None:
    m, _, _, p = made("sunbloom")
    table = p.shims[0]
    assert np.all(np.abs(np.sum(table.shims, axis=-1) - table.gap) <= np.min(m.workshop.shims) / 2 + 1e-12)
    assert table.gap[-1] >= table.planned + float(m.workshop.mount_tolerance)


# ---- where it stands


def test_outline_of_three_wheels_is_an_even_triangle_and_of_four_a_square() -> None:
    for name, corners in (("sunbloom", 3), ("drift", 4)):
        outline = made(name)[3].standing.outline
        sides = np.hypot(*(np.roll(outline, -1, axis=0) - outline).T)
        assert len(outline) == corners
        assert sides == pytest.approx(np.full(corners, sides[0]))


@pytest.mark.parametrize("name", EXAMPLES)
def test_way_to_the_outline_is_what_the_tip_angle_says(name: str) -> None:
    """Tip angle: atan of the way to the nearest edge over the height (statics), from the outline alone."""
    standing = made(name)[3].standing
    p, q = standing.outline, np.roll(standing.outline, -1, axis=0)
    along = (q - p) / np.hypot(*(q - p).T)[:, None]
    for centre, angle in zip(standing.centres, standing.tip_angle, strict=True):
        away = centre[:2] - p
        inside = along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]
        assert math.atan2(float(np.min(inside)), centre[2]) == pytest.approx(float(angle), rel=1e-6)


# ---- surfaces


@pytest.mark.parametrize("name", EXAMPLES)
def test_surfaces_are_closed_and_fill_the_boxes_of_their_parts(name: str) -> None:
    m = made(name)[0]
    for i in range(len(m.parts.names)):
        t = part_triangles(m.parts, i)
        volume, _, _ = enclosed(t.copy())
        assert volume > 0, m.parts.names[i]
        low, high = t.min(axis=(0, 1)), t.max(axis=(0, 1))
        slack = 0.003 * float(np.max(m.parts.size[i])) + 1e-9
        assert np.all(low >= m.parts.low[i] - slack), m.parts.names[i]
        assert np.all(high <= m.parts.high[i] + slack), m.parts.names[i]
        ends = np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]]).sum(axis=0)
        assert ends[0] == pytest.approx(ends[1]), "every edge begins and ends as often"


def test_round_shapes_have_their_volume() -> None:
    """Volumes of cylinder and cone (closed forms) less what a circle of 48 sides lacks."""
    m = made("sunbloom")[0]
    frame = m.parts.names.index("frame")
    volume, _, _ = enclosed(part_triangles(m.parts, frame).copy())
    sides = 48 * math.sin(2 * math.pi / 48) / (2 * math.pi)
    assert volume == pytest.approx(math.pi / 4 * 0.48**2 * 0.04 * sides)


def test_a_wheel_unit_weighed_as_one_is_drawn_as_its_wheel_and_petals_follow_the_posture() -> None:
    m = made("sunbloom")[0]
    file = example("sunbloom")
    held = held_by_arms(read_text(file.read_text(encoding="utf-8"), str(file)), file.parent)
    closed, raised = surfaces(m, 0, held), surfaces(m, 1, held)
    assert not any("wheel unit" in s.name for s in closed)
    assert sum(s.kind == "wheel" for s in closed) == 3
    for posture, bodies in enumerate((closed, raised)):
        petals = [s for s in bodies if s.kind == "arm"]
        assert len(petals) == 6
        for a, petal in enumerate(petals):
            reach = np.linalg.norm(petal.triangles - m.arms.tip[posture, a], axis=-1)
            assert np.min(reach) < 0.03, "a corner of the petal lies at the tip"


def test_a_machine_without_arms_or_meshes_has_a_picture() -> None:
    m = made("gangway")[0]
    assert {s.kind for s in surfaces(m)} == {"part", "wheel"}


# ---- what can be seen


def block(x: float, y: float, z: float, at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> np.ndarray:
    from dryfit.machine.surfaces import _block

    return _block(np.array([x, y, z])) + np.array(at)


def area(points: tuple[tuple[float, float], ...]) -> float:
    x, y = np.array(points).T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2


@settings(max_examples=25)
@given(x=st.floats(0.2, 1), y=st.floats(0.2, 1), z=st.floats(0.2, 1), turn=st.floats(0, 90), rise=st.floats(0, 80))
def test_shadow_of_a_block_is_the_sum_of_the_faces_that_show(
    x: float, y: float, z: float, turn: float, rise: float
) -> None:
    """Area of the projection of a block: yz|e_x| + zx|e_y| + xy|e_z| for a unit vector e to the eye (geometry)."""
    eye = aslant(turn, rise)
    view = seen([(block(x, y, z), False)], eye, 60.0, 60.0)
    ex, ey, ez = np.abs(eye.towards)
    shown = next(m for m in view.marks if isinstance(m, Area) and m.tone == "paper")
    assert abs(area(shown.outer)) / view.scale**2 == pytest.approx(y * z * ex + z * x * ey + x * y * ez, rel=0.03)


def test_axes_of_the_eyes_are_square_and_right_handed() -> None:
    for eye in (FROM_THE_LEFT, FROM_ABOVE, aslant(), aslant(200.0, -30.0)):
        axes = np.array([eye.right, eye.up, eye.towards])
        assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
        assert np.linalg.det(axes) == pytest.approx(1.0)


def test_what_stands_in_front_hides_what_is_behind() -> None:
    front, behind = block(1.0, 0.1, 1.0, (0, -1, 0)), block(0.5, 0.1, 0.5, (0, 1, 0))
    both = seen([(front, False), (behind, True)], FROM_THE_LEFT, 50.0, 50.0)
    alone = seen([(front, False)], FROM_THE_LEFT, 50.0, 50.0)
    assert not any(isinstance(m, Area) and m.tone == "grey" for m in both.marks)
    assert len(both.marks) == len(alone.marks)
    turned_round = Eye((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
    other = seen([(front, False), (behind, True)], turned_round, 50.0, 50.0)
    grey = next(m for m in other.marks if isinstance(m, Area) and m.tone == "grey")
    assert abs(area(grey.outer)) / other.scale**2 == pytest.approx(0.25, rel=0.03)


def test_places_lie_where_they_are_drawn() -> None:
    view = seen([(block(1.0, 1.0, 2.0, (0, 0, 1)), False)], FROM_THE_LEFT, 50.0, 100.0)
    assert view.at((0.5, 0.0, 2.0), FROM_THE_LEFT) == pytest.approx((50.0, 100.0))
    outline = next(m for m in view.marks if isinstance(m, Line))
    xs, ys = np.array(outline.points).T
    assert (xs.min(), xs.max()) == pytest.approx((0.0, 50.0), abs=0.5)
    assert (ys.min(), ys.max()) == pytest.approx((0.0, 100.0), abs=0.5)


def test_nothing_to_see_makes_no_marks() -> None:
    assert seen([], FROM_ABOVE, 50.0, 50.0).marks == ()


# ---- charts


@given(low=st.floats(-1e4, 1e4), span=st.floats(1e-4, 1e4))
def test_ticks_are_few_even_and_within(low: float, span: float) -> None:
    found = ticks(low, low + span)
    assert 1 <= len(found) <= 7
    assert all(low - 1e-6 * span <= t <= low + span + 1e-6 * span for t in found)
    if len(found) > 2:
        steps = np.diff(found)
        assert steps == pytest.approx(np.full(len(steps), steps[0]), rel=1e-6)
        assert f"{steps[0]:.6e}"[0] in "125"


def test_curves_end_at_the_edges_of_their_field() -> None:
    f = Frame((10.0, 10.0), 100.0, 50.0, (0.0, 10.0), (0.0, 5.0))
    (line,) = curve(f, [-5.0, 15.0], [-2.5, 7.5])
    assert isinstance(line, Line)
    assert line.points == (pytest.approx((10.0, 10.0)), pytest.approx((110.0, 60.0)))
    assert curve(f, [0.0, math.nan, 2.0], [1.0, 1.0, math.nan]) == []


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_mark_of_any_drawing_lies_off_its_sheet(name: str) -> None:
    """Words as wide as a general imaging library finds them in the typeface of the book."""
    for d in drawings(the_book(name)):
        assert d.width <= 168.0
        assert d.height <= 225.0
        for mark in d.marks:
            if isinstance(mark, Words):
                wide = letters(mark.strong).getlength(mark.text) / 100 * mark.size
                start = {"start": 0.0, "middle": wide / 2, "end": wide}[mark.anchor]
                x, y = mark.at
                if not mark.turned:
                    assert x - start >= -0.2, (d.title, mark.text)
                    assert x - start + wide <= d.width + 0.2, (d.title, mark.text)
                assert 0.0 <= y <= d.height, (d.title, mark.text)
            else:
                points = mark.points if isinstance(mark, Line) else mark.outer if isinstance(mark, Area) else (mark.at,)
                for x, y in points:
                    assert -0.5 <= x <= d.width + 0.5, d.title
                    assert -0.5 <= y <= d.height + 0.5, d.title


@cache
def letters(strong: bool) -> ImageFont.FreeTypeFont:
    (folder,) = _fonts()
    return ImageFont.truetype(str(folder / f"DejaVuSans{'-Bold' if strong else ''}.ttf"), 100)


def drawings(b: Book) -> list[Drawing]:
    found = [b.title.picture]
    for c in b.chapters:
        for block_ in c.blocks:
            if isinstance(block_, Figure):
                found.append(block_.drawing)
            elif hasattr(block_, "figures"):
                found += [f.drawing for f in block_.figures]
    return found


# ---- what the pictures hold


@pytest.mark.parametrize("name", EXAMPLES)
def test_supply_tree_shows_what_the_network_solved(name: str) -> None:
    _, _, found, p = made(name)
    for k, case in enumerate(p.supply.cases):
        at = found.power.cases.index(case)
        assert p.supply.bus[k] == found.power.bus_voltage.value[at]
        assert [n.volts[k] for n in p.supply.nodes] == list(found.power.node_voltage.value[:, at])
    assert all(n.parent < len(p.supply.nodes) for n in p.supply.nodes)


def test_motor_works_below_the_line_that_it_has() -> None:
    """Every point of a machine that works lies under the line of the motor on its packs."""
    motor = made("sunbloom")[3].motor
    assert motor is not None
    _, speeds, torques = motor.lines[-1]
    for name, speed, torque in motor.points:
        assert torque < np.interp(speed, speeds, torques), name


def test_a_two_wheeled_machine_goes_forward_and_back_only() -> None:
    d = made("gangway")[3].directions
    assert np.flatnonzero(d.open).tolist() == [0, 36]
    assert np.all(made("sunbloom")[3].directions.open)


# ---- chapters


def test_chapters_stand_in_the_order_of_the_work() -> None:
    plan = Chapter("Plates", (Paragraph("one plate"),))
    titles = [c.title for c in the_book("sunbloom", (plan,)).chapters]
    assert titles == [
        "The verdict", "The machine in figures", "Stage 1: Frame", "Shims under the motor mounts", "Plates",
        "The day of the show", "Transport", "Every default taken", "Sources",
    ]  # fmt: skip
    assert "Shims under the motor mounts" not in [c.title for c in the_book("drift").chapters]


def test_a_test_point_becomes_a_card_with_its_reading_band_and_causes() -> None:
    stage = next(c for c in the_book("sunbloom").chapters if c.title == "Stage 1: Frame")
    card = next(b for b in stage.blocks if isinstance(b, BenchCard))
    (row,) = card.rows
    assert (row.name, row.reads, row.band) == ("", show(2.2, "kg"), f"{show(2.1, 'kg')} to {show(2.3, 'kg')}")
    assert card.low == (("a bar is missing", "count the bars"),)
    assert card.high == (("nuts left in", "shake it"),)
    assert card.number == "1.1"


def test_points_that_are_read_alike_share_a_card_and_others_do_not() -> None:
    """Each keeps its own reading and band, in the order given; none is lost."""
    wheels = [replace(POINT, name=f"w{n}", title=f"Current of wheel {n}'s unit running free", predicted=n + 1.0)
              for n in (1, 2, 3)]  # fmt: skip
    masses = [replace(POINT, name=name, title=f"Mass of {name}") for name in ("one wheel unit", "frame")]
    other = replace(POINT, name="odd", title="Mass of frame with its nuts", how=("Weigh it twice.",))
    (stage,) = chapters((STAGE,), (wheels[0], masses[0], wheels[1], other, masses[1], wheels[2]))
    cards = [b for b in stage.blocks if isinstance(b, BenchCard)]
    assert [c.title for c in cards] == [
        "Current of wheel 1, 2 and 3's unit running free", "Mass of one wheel unit and frame", other.title,
    ]  # fmt: skip
    assert [[r.name for r in c.rows] for c in cards] == [
        ["wheel 1", "wheel 2", "wheel 3"], ["one wheel unit", "frame"], [""],
    ]  # fmt: skip
    assert [r.reads for r in cards[0].rows] == [show(v, "kg") for v in (2.0, 3.0, 4.0)]


def test_a_reading_entered_before_stands_on_its_card() -> None:
    taken = Taken(2.25, "2.25 kg", date(2027, 4, 1), False, 12)
    (stage,) = chapters((STAGE,), (replace(POINT, taken=taken),))
    card = next(b for b in stage.blocks if isinstance(b, BenchCard))
    assert card.rows[0].taken == "2.25 kg on 2027-04-01, not used"


def test_the_day_of_the_show_quotes_the_machine() -> None:
    m = made("sunbloom")[0]
    chapter = next(c for c in the_book("sunbloom").chapters if c.title == "The day of the show")
    said = " ".join(line for b in chapter.blocks if isinstance(b, Ticks) for line in b.lines)
    for value, unit in ((m.safety.link_loss, "s"), (m.power.packs.difference_when_joined, "V"), (m.brief.speed, "m/s")):
        assert show(float(value), unit) in said


def test_every_default_of_the_report_is_listed() -> None:
    _, report, _, _ = made("beacon")
    chapter = next(c for c in the_book("beacon").chapters if c.title == "Every default taken")
    keys = " ".join(row[1] for b in chapter.blocks if hasattr(b, "rows") for row in b.rows)
    for o in report.assumed:
        before, bracket, after = o.path.partition("[")
        assert before in keys
        if not bracket:
            assert o.path in keys
        else:
            assert after.partition("]")[2] in keys


def test_handing_the_book_a_folder_without_meshes_still_draws_the_arms(tmp_path: Path) -> None:
    file = example("sunbloom")
    design = read_text(file.read_text(encoding="utf-8"), str(file))
    (held,) = held_by_arms(design, tmp_path)
    assert held.mesh is None
    m, report, _, p = made("sunbloom")
    b = book(
        report, m, p, (), (), (), (), date(2027, 3, 8), occasion=Occasion("d.yaml"), handed=Handed(held=(held,))
    )  # fmt: skip
    assert len(b.title.picture.marks) > 10
