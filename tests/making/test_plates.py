"""Plates: nothing overlaps, all lies on the bed, every copy lies somewhere once; checked with another library's
geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely.geometry import MultiPoint, Polygon, box

from dryfit.machine.printing import How
from dryfit.making import bed_fit
from dryfit.making.plates import CLEARANCE, Laid, PrinterAtWork, lay_out
from dryfit.making.records_print import Body, Estimate, Printed
from dryfit.making.records_solids import Outline, Solid

LARGE = PrinterAtWork("large", (0.35, 0.35), 600.0, 600.0)
SMALL = PrinterAtWork("small", (0.22, 0.22), 600.0, 600.0)
HOUR = 3600.0
Points = list[tuple[float, float]]


def printed(
    name: str,
    points: Points,
    count: int = 1,
    hours: float = 0.5,
    *,
    coupon: bool = False,
    structural: bool = False,
    on: tuple[str, ...] = ("large", "small"),
    material: str = "petg",
    nozzle: float = 4e-4,
) -> Printed:
    how = How(nozzle, 2e-4, 1.1 * nozzle, 3, 5, 4, 0.15, "", structural)
    solid = Solid(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))
    outer = np.array(points, dtype=float)
    size = (*(float(v) for v in np.ptp(outer, axis=0)), 0.02)
    estimate = Estimate(hours * HOUR, 1e-5, 0.0127, 100, 10.0, (), 1e-9, 0, 0.0)
    body = Body(name, name, "base", material, solid, count, how, coupon)
    return Printed(body, np.eye(3), size, Outline(outer), on, tuple((n, estimate) for n in on))  # type: ignore[arg-type]


def rectangle(width: float, depth: float) -> Points:
    return [(0, 0), (width, 0), (width, depth), (0, depth)]


def sector(radius: float, angle: float) -> Points:
    turn = np.linspace(0, angle, 24)
    return [(0.0, 0.0), *((radius * math.cos(t), radius * math.sin(t)) for t in turn)]


def disc(radius: float) -> Points:
    return [(radius + radius * math.cos(t), radius + radius * math.sin(t)) for t in np.linspace(0, 2 * np.pi, 65)[:-1]]


def check(things: list[Printed], laid: Laid, clearance: float = CLEARANCE) -> None:
    """By shapely alone: apart by the clearance, on the bed, congruent to what was given, each copy once."""
    seen = set()
    for plate in laid.plates:
        bed = box(clearance, clearance, plate.bed[0] - clearance, plate.bed[1] - clearance).buffer(1e-6)
        shapes = []
        for placed in plate.placed:
            shape, given = Polygon(placed.covers.outer), Polygon(things[placed.printed].footprint.outer)
            assert shape.is_valid
            assert bed.covers(shape)
            assert shape.area == pytest.approx(given.convex_hull.area, rel=1e-9)
            assert shape.length == pytest.approx(given.convex_hull.length, rel=1e-9)
            assert all(shape.distance(other) >= clearance - 1e-6 for other in shapes)
            shapes.append(shape)
            key = (placed.printed, placed.copy)
            assert key not in seen
            seen.add(key)
    assert seen == {(n, copy) for n, one in enumerate(things) for copy in range(one.body.count)}


@pytest.mark.parametrize("seed", range(6))
def test_random_shapes_lie_apart_on_the_bed(seed: int) -> None:
    rng = np.random.default_rng(seed)
    things = []
    for n in range(9):
        points = rng.uniform(0, rng.uniform(0.02, 0.18, 2), (int(rng.integers(3, 30)), 2))
        things.append(
            printed(f"p{n}", [(x, y) for x, y in points], int(rng.integers(1, 4)), float(rng.uniform(0.2, 5)))
        )
    laid = lay_out(things, [LARGE, SMALL], longest=16 * HOUR)
    check(things, laid)
    for least in laid.least:
        assert max(least.by_area, least.by_hours) <= least.taken
    for plate in laid.plates:
        assert max(t for _, t in plate.on) <= 16 * HOUR + 1e-6


def test_two_triangles_share_a_square_that_boxes_would_not() -> None:
    """Two right triangles of 190 mm make a square with a gap along its diagonal; their boxes would need 385."""
    things = [printed("sail", [(0, 0), (0.19, 0), (0, 0.19)], 2, on=("small",))]
    laid = lay_out(things, [SMALL], longest=16 * HOUR)
    assert len(laid.plates) == 1
    check(things, laid)


def test_sectors_lie_closer_than_their_boxes() -> None:
    """Sectors of 60 degrees, 100 mm, on a bed of 220 mm: of their boxes, 100 x 87 mm, four have room; of them, more."""
    things = [printed("leaf", sector(0.1, np.pi / 3), 6, on=("small",))]
    laid = lay_out(things, [SMALL], longest=16 * HOUR)
    check(things, laid)
    boxes = math.floor(0.215 / 0.105) * math.floor(0.215 / (0.1 * math.sin(np.pi / 3) + 0.005))
    assert boxes == 4
    assert len(laid.plates[0].placed) > boxes


def test_squares_fill_a_bed_completely() -> None:
    """Sixteen squares of 48.75 mm and 5 mm between them and to the edge fill 220 mm: 4 x 48.75 + 5 x 5 = 220."""
    things = [printed("tile", rectangle(0.04875, 0.04875), 16, 0.1, on=("small",))]
    laid = lay_out(things, [SMALL], longest=16 * HOUR)
    check(things, laid)
    assert len(laid.plates) == 1
    assert laid.least[0].by_area == 1
    again = lay_out([printed("tile", rectangle(0.04875, 0.04875), 17, 0.1, on=("small",))], [SMALL], longest=16 * HOUR)
    assert (len(again.plates), again.least[0].by_area) == (2, 2)


def test_kinds_materials_nozzles_lie_apart_and_coupons_first() -> None:
    square = rectangle(0.03, 0.03)
    things = [
        printed("panel", square, 2),
        printed("mount", square, 2, structural=True),
        printed("slice", square, coupon=True),
        printed("pinion", square, structural=True, material="pa", on=("large",)),
        printed("shell", square, nozzle=6e-4, on=("large",)),
    ]
    laid = lay_out(things, [LARGE, SMALL], longest=16 * HOUR)
    check(things, laid)
    assert [p.number for p in laid.plates] == list(range(1, len(laid.plates) + 1))
    order = [0 if p.coupons else 1 if p.structural else 2 for p in laid.plates]
    assert order == sorted(order)
    for plate in laid.plates:
        bodies = [things[placed.printed].body for placed in plate.placed]
        kinds = {(b.material, b.how.nozzle, b.coupon, b.how.structural) for b in bodies}
        assert kinds == {(plate.material, plate.nozzle, plate.coupons, plate.structural)}
        assert plate.mass == pytest.approx(0.0127 * len(bodies))
    assert {tuple(n for n, _ in p.on) for p in laid.plates if p.material == "pa"} == {("large",)}
    assert laid.plates[0].bed == SMALL.bed  # so that both printers take it


def test_the_time_of_a_plate_is_its_parts_and_one_start() -> None:
    laid = lay_out([printed("peg", rectangle(0.02, 0.02), 5, 1.0)], [LARGE, SMALL], longest=16 * HOUR)
    assert laid.plates[0].on == (("large", 5 * HOUR + 600), ("small", 5 * HOUR + 600))


def test_a_part_over_the_longest_plate_lies_alone_and_is_named() -> None:
    things = [printed("ring", rectangle(0.1, 0.1), 2, 20.0), printed("peg", rectangle(0.02, 0.02), 1, 1.0)]
    laid = lay_out(things, [LARGE, SMALL], longest=16 * HOUR)
    check(things, laid)
    assert len(laid.plates) == 3
    assert laid.least[0].by_hours == 3
    assert sum("ring takes 20.2 h" in note for note in laid.notes) == 1


def test_a_part_as_large_as_the_bed_lies_without_clearance_and_is_named() -> None:
    things = [
        printed("floor", rectangle(0.348, 0.348), on=("large",)),
        printed("peg", rectangle(0.02, 0.02), on=("large",)),
    ]
    laid = lay_out(things, [LARGE, SMALL], longest=16 * HOUR)
    whole = next(p for p in laid.plates if p.placed[0].printed == 0)
    assert len(whole.placed) == 1
    assert box(0, 0, 0.35, 0.35).covers(Polygon(whole.placed[0].covers.outer))
    assert any("floor fills the bed" in note for note in laid.notes)


def test_what_no_printer_takes_is_named_and_the_rest_is_laid_out() -> None:
    square = rectangle(0.03, 0.03)
    things = [printed("wing", square, on=()), printed("hub", square, on=("large",)), printed("peg", square)]
    broken = PrinterAtWork("large", LARGE.bed, 600.0, 600.0, working=False)
    laid = lay_out(things, [broken, SMALL], longest=16 * HOUR)
    assert [placed.printed for plate in laid.plates for placed in plate.placed] == [2]
    assert any("wing is on no plate: no printer" in note for note in laid.notes)
    assert any("hub is on no plate: only large would, out of order" in note for note in laid.notes)
    assert lay_out([], [SMALL], longest=HOUR) == Laid((), (), ())


@pytest.mark.parametrize("seed", range(20))
def test_sum_of_two_shapes_is_the_hull_of_all_sums(seed: int) -> None:
    """The Minkowski sum of convex shapes against the convex hull, by shapely, of every corner plus every corner."""
    rng = np.random.default_rng(seed)
    a, b = (bed_fit.hull(rng.normal(size=(12, 2))) for _ in range(2))
    found = Polygon(bed_fit.minkowski(a, b))
    expected = MultiPoint((a[:, None] + b[None]).reshape(-1, 2)).convex_hull
    assert found.symmetric_difference(expected).area < 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_grown_shapes_keep_the_distance(seed: int) -> None:
    """Against shapely's buffer: the grown shape holds everything within the distance, with few corners."""
    rng = np.random.default_rng(seed)
    shape = bed_fit.hull(rng.normal(size=(40, 2)))
    around = Polygon(bed_fit.grown(shape, 0.05))
    assert around.is_valid
    assert around.buffer(1e-9).covers(Polygon(shape).buffer(0.05))
    assert len(around.exterior.coords) <= 25


def test_hull_against_shapely() -> None:
    points = np.random.default_rng(2).normal(size=(200, 2))
    ours, theirs = Polygon(bed_fit.hull(points)), MultiPoint(points).convex_hull
    assert ours.exterior.is_ccw
    assert ours.symmetric_difference(theirs).area < 1e-12


def test_shapes_with_very_many_long_edges() -> None:
    """Two polygons of 24 equal edges, turned against each other: with the axes their sum has more than 48 edges."""
    turn = np.linspace(0, 2 * np.pi, 25)[:-1]
    corners = [[(0.03 * math.cos(t + o), 0.03 * math.sin(t + o)) for t in turn] for o in (0.0, 0.1)]
    things = [printed(f"wheel {n}", points, 3, on=("small",)) for n, points in enumerate(corners)]
    check(things, lay_out(things, [SMALL], longest=16 * HOUR))
    grown = [bed_fit.grown(np.array(points), 0.002) for points in corners]
    spots = bed_fit.Bed(0.3, 0.3)
    ways = tuple(
        bed_fit.Turn(0.0, g - g.min(axis=0), (0.0, 0.0), (float(np.ptp(g[:, 0])), float(np.ptp(g[:, 1]))))
        for g in grown
    )
    spots.put(ways[0], (0.0, 0.0))
    found = spots.place(ways[1:], 1)
    assert found is not None
    one, two = Polygon(spots.lies[0]), Polygon(ways[1].grown + np.array(found[1]))
    assert one.intersection(two).area < 1e-9
