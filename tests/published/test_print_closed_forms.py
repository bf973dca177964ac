"""Layers, lengths and times of prints whose answer is known in closed form.

Sources: volumes and areas of box, cylinder, cone, sphere and tube (elementary geometry, derived here); straight motion
under constant acceleration (mechanics, derived here); mean chord of a flat convex shape, pi area / perimeter (Crofton,
from memory), against the exact lengths of parallel chords of a circle; volume laid down in a second = width x height x
speed, 0.45 mm x 0.2 mm x 60 mm/s = 5.4 mm³/s, and mass = density x volume, 150 cm³ of PLA at 1.24 g/cm³ = 186 g
(identities).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dryfit.ground.quantity import Array
from dryfit.machine.printing import Filament, How, Printer
from dryfit.making.bodies import _shape
from dryfit.making.print_time import FIRST_LAYER, JUMP, MOMENT, estimate, melt_flow, ramp_time, stroke_time
from dryfit.making.records_solids import Solid
from dryfit.making.slicing import Layers, sliced, solid_of

HOW = How(0.4e-3, 0.2e-3, 0.45e-3, walls=3, top_layers=5, bottom_layers=4, fill=0.15, lay="best", structural=False)
PRINTER = Printer(
    "one", "workshop.printers[0]", 1, (0.3, 0.3, 0.3), (0.4e-3,), (), speed=60e-3, wall_speed=40e-3,
    travel_speed=150e-3, acceleration=1.5, flow=1.0, start_time=0.0, change_time=0.0, out_of_order=False,
)  # fmt: skip
PLA = Filament("pla", 1240.0, flow_share=1.0, least_layer_time=0.0, spool=1.0, price=20.0, in_stock=0.0)


def shape(name: str, *size: float, wall: float = 0.0) -> Solid:
    """A shape by its extent, mm."""
    return solid_of(_shape(name, np.array(size, dtype=float), wall))


def volume(layers: Layers) -> float:
    return float(np.sum(layers.volume))


SOLID = {
    "box": (shape("box", 60, 40, 20), 60 * 40 * 20),
    "cylinder": (shape("cylinder", 50, 50, 30), np.pi * 25**2 * 30),
    "cone": (shape("cone", 60, 60, 40), np.pi * 30**2 * 40 / 3),
    "sphere": (shape("sphere", 50, 50, 50), np.pi * 50**3 / 6),
    "tube": (shape("tube", 50, 50, 30, wall=6), np.pi * (25**2 - 19**2) * 30),
    "hollow ball": (shape("sphere", 50, 50, 50, wall=5), np.pi * (50**3 - 40**3) / 6),
    "box section": (shape("box", 40, 30, 25, wall=4), (40 * 30 - 32 * 22) * 25),
    "thin tube": (shape("tube", 60, 60, 20, wall=0.8), np.pi * (30**2 - 29.2**2) * 20),
}


@pytest.mark.parametrize("name", SOLID)
def test_filled_throughout_the_line_laid_down_is_the_solid(name: str) -> None:
    solid, exact = SOLID[name]
    assert volume(sliced(solid, replace(HOW, fill=1.0))) * 1e9 == pytest.approx(exact, rel=2e-3)


def test_sections_of_a_sphere_are_circles_of_the_radius_at_each_layer() -> None:
    layers = sliced(SOLID["sphere"][0], HOW)
    z = (np.arange(250) + 0.5) * 0.2 - 25
    assert np.allclose(layers.area * 1e6, np.pi * (25**2 - z**2), rtol=0.01, atol=4.0)
    assert np.sum(layers.area) * 1e6 * 0.2 == pytest.approx(np.pi * 50**3 / 6, rel=2e-3)


def test_walls_of_a_box_run_half_a_line_inside_each_other() -> None:
    """The middle of wall k of a box a x b is a rectangle smaller by (2 k + 1) widths each way."""
    layers = sliced(shape("box", 60, 40, 20), HOW)
    outer = 2 * (60 - 0.45) + 2 * (40 - 0.45)
    inner = sum(2 * (60 - (2 * k + 1) * 0.45) + 2 * (40 - (2 * k + 1) * 0.45) for k in (1, 2))
    assert layers.outer_walls * 1e3 == pytest.approx(np.full(100, outer), rel=1e-9)
    assert layers.inner_walls * 1e3 == pytest.approx(np.full(100, inner), rel=1e-9)


def test_the_wall_of_a_cylinder_is_a_circle_half_a_line_inside_its_skin() -> None:
    layers = sliced(SOLID["cylinder"][0], HOW)
    assert layers.outer_walls * 1e3 == pytest.approx(np.full(150, np.pi * (50 - 0.45)), rel=1e-3)


def test_a_box_is_solid_in_its_outer_layers_and_sparse_between() -> None:
    layers = sliced(shape("box", 60, 40, 20), HOW)
    core = (60 - 6 * 0.45) * (40 - 6 * 0.45)
    solid = np.full(100, 0.0)
    solid[:4] = solid[-5:] = core / 0.45
    assert layers.solid * 1e3 == pytest.approx(solid, rel=1e-6, abs=1e-6)
    assert layers.fill * 1e3 == pytest.approx(np.where(solid > 0, 0, 0.15 * core / 0.45), rel=1e-6, abs=1e-6)


def test_a_step_is_solid_under_the_open_face_only() -> None:
    """Two blocks one on the other: 40 x 40 x 10 under 20 x 40 x 10, mm."""
    import manifold3d as kernel

    low = kernel.Manifold.cube([40, 40, 10])
    high = kernel.Manifold.cube([20, 40, 10]).translate([0, 0, 10])
    layers = sliced(solid_of(low + high), HOW)
    core = (40 - 2.7) ** 2
    under_the_upper_block = (20 - 1.35) * (40 - 2.7)  # the lower core lies inside its own walls on three sides
    assert layers.solid[49] * 450 * 1e0 == pytest.approx(core - under_the_upper_block, rel=1e-6)
    assert layers.solid[44] == pytest.approx(0.0, abs=1e-9)
    assert layers.solid[45] == pytest.approx(layers.solid[49], rel=1e-9)


def test_a_wall_thinner_than_its_lines_counts_nothing_twice() -> None:
    """A tube of 0.8 mm with walls of 3 x 0.45 mm on each side is filled once, and nothing is left for the fill."""
    layers = sliced(SOLID["thin tube"][0], HOW)
    assert volume(layers) * 1e9 == pytest.approx(SOLID["thin tube"][1], rel=2e-3)
    assert np.all(layers.fill == 0)
    assert np.all(layers.solid * 1e3 < 1e-3)


def test_an_overhang_is_what_the_layer_below_does_not_carry() -> None:
    """A plate on a post: all of it but the post grown by a line hangs."""
    import manifold3d as kernel

    post = kernel.Manifold.cube([10, 10, 20])
    plate = kernel.Manifold.cube([50, 30, 4]).translate([-20, -10, 20])
    layers = sliced(solid_of(post + plate), HOW)
    assert np.sum(layers.overhang) * 1e6 == pytest.approx(50 * 30 - 10.9**2, rel=1e-6)


def test_straight_motion_by_integration() -> None:
    """`ramp_time` against stepping the motion: at every place the fastest that both ends and the top speed allow."""
    for length, top, start, end, a in (
        (0.1, 0.06, 0.0, 0.0, 1.5),
        (0.002, 0.06, 0.01, 0.02, 1.5),
        (0.0004, 0.1, 0.0, 0.0, 3),
    ):
        x = (np.arange(400_000) + 0.5) / 400_000 * length
        speed = np.minimum(top, np.minimum(np.sqrt(start**2 + 2 * a * x), np.sqrt(end**2 + 2 * a * (length - x))))
        stepped = float(np.sum(length / 400_000 / speed))
        closed = float(ramp_time(np.array(length), np.array(top), np.array(start), np.array(end), a))
        assert closed == pytest.approx(stepped, rel=2e-3)


def test_time_of_the_long_walls_of_a_box() -> None:
    """One wall, nothing inside: each side at 40 mm/s, slowed to the corner speed c at both ends, which loses
    (v - c)² / (2 a v) an end; the first layer at half speed; a moment for beginning each layer."""
    how = replace(HOW, walls=1, top_layers=0, bottom_layers=0, fill=0.0)
    layers = sliced(shape("box", 150, 100, 10), how)
    corner = JUMP / np.sqrt(2)

    def one_layer(v: float) -> float:
        return (2 * (150 + 100 - 0.9) * 1e-3) / v + 4 * (v - corner) ** 2 / (1.5 * v)

    exact = 49 * one_layer(40e-3) + one_layer(FIRST_LAYER * 40e-3) + 50 * MOMENT
    assert estimate(layers, how.nozzle, PRINTER, PLA).time == pytest.approx(exact, rel=1e-9)
    assert estimate(layers, how.nozzle, PRINTER, PLA, 1.2).time == pytest.approx(1.2 * exact, rel=1e-9)


def test_where_the_melt_decides_the_time_is_volume_over_flow() -> None:
    """0.3 mm³/s are 3.3 mm/s: slower than any corner, so nothing else counts but the moments of beginning."""
    how = replace(HOW, walls=2, top_layers=0, bottom_layers=0, fill=0.0)
    layers = sliced(shape("cylinder", 60, 60, 10), how)
    slow = replace(PRINTER, flow=0.3e-9)
    found = estimate(layers, how.nozzle, slow, PLA)
    assert found.time == pytest.approx(found.volume / 0.3e-9 + 50 * MOMENT, rel=1e-9)
    half = estimate(layers, how.nozzle, slow, replace(PLA, flow_share=0.5))
    assert half.time - 50 * MOMENT == pytest.approx(2 * (found.time - 50 * MOMENT), rel=1e-9)


def test_where_cooling_decides_every_layer_takes_the_least_time() -> None:
    layers = sliced(shape("box", 8, 8, 40), HOW)
    found = estimate(layers, HOW.nozzle, PRINTER, replace(PLA, least_layer_time=60.0))
    assert found.time == pytest.approx(200 * 60.0)
    assert found.slow_layers == found.layers == 200
    assert sum(t for _, t in found.by_kind) == pytest.approx(found.time)


def test_flow_is_width_times_height_times_speed() -> None:
    assert pytest.approx(5.4) == 0.45e-3 * 0.2e-3 * 60e-3 * 1e9
    long = sliced(shape("box", 250, 250, 4), replace(HOW, fill=1.0))
    quick = replace(PRINTER, wall_speed=60e-3, acceleration=1e4)
    flow = estimate(long, HOW.nozzle, quick, PLA).flow * 1e9
    # 19 of 20 layers at full speed, the first at half: 20 / 21 of 5.4, less what turning at the ends of strokes costs
    assert 0.9 * 5.4 * 20 / 21 < flow < 5.4 * 20 / 21


def test_mass_is_density_times_volume() -> None:
    layers = sliced(shape("box", 100, 100, 15), replace(HOW, fill=1.0))
    assert estimate(layers, HOW.nozzle, PRINTER, PLA).mass == pytest.approx(0.186, rel=1e-3)


def test_a_wider_nozzle_lets_more_through() -> None:
    two = replace(PRINTER, nozzles=(0.4e-3, 0.8e-3), flow=11e-9)
    assert melt_flow(two, PLA, 0.4e-3) == pytest.approx(11e-9)
    assert melt_flow(two, PLA, 0.8e-3) == pytest.approx(11e-9 * np.sqrt(2))


def chords(radius: float, gap: float) -> Array:
    """Lengths of the chords of a circle at distances gap."""
    at = np.arange(-radius + gap / 2, radius, gap)
    return np.asanyarray(2 * np.sqrt(radius**2 - at**2))


def test_strokes_in_a_circle_by_their_exact_lengths() -> None:
    """Crofton's mean chord is that of all directions; in a circle every direction has the same chords, so number and
    mean agree; the time, which is not linear in the length, by 3 %."""
    radius, gap = 30e-3, 0.45e-3
    lengths = chords(radius, gap)
    assert len(lengths) == pytest.approx(2 * np.pi * radius / (np.pi * gap), abs=1)
    speed, turn = np.full(1, 60e-3), np.full(1, JUMP / np.sqrt(2))
    exact = sum(float(ramp_time(np.full(1, x), speed, turn, turn, 1.5)[0]) for x in lengths)
    exact += len(lengths) * float(ramp_time(np.full(1, gap), speed, turn, turn, 1.5)[0])
    area, edge = np.pi * radius**2, 2 * np.pi * radius
    ours = stroke_time(np.array([area / gap]), np.array([edge]), gap, gap, speed, 1.5)
    assert float(ours[0]) == pytest.approx(exact, rel=0.03)
