"""ISO 286 limits and fits against published tables.

Bibliography, all seen as copies, not as the standard itself:
- JIS B 0401 (1998/1999), which repeats ISO 286-2: tables of regularly used shaft and hole fits as excerpted in
  machine-element catalogues; values in µm.
- Housing and shaft tolerance table of a spherical plain bearing catalogue (g6, h6, k6, m6; H7, K7, M7, N7).
- EN 10278 bright bar, size 18 to 30 mm (h6 to h11), and tables 9.1/9.2 of an insert-bearing catalogue (j6, k6, k7, m6).
- Machine-drawing textbook, Table 15.2 (fundamental deviations m, n, p), Indian Standard reprint of ISO 286.
"""

from __future__ import annotations

import numpy as np
import pytest

from dryfit.design.sections.axle import SHAFT_CLASSES
from dryfit.trades.shafts.formulas_fits import clearances, hole_limits, shaft_limits, tolerance

SIZES = {"3": 3, "3-6": 5, "6-10": 8, "10-18": 15, "18-30": 20, "30-50": 40, "50-80": 70, "80-120": 100}

SHAFTS_JIS = {
    # size step: {class: (upper, lower)}
    "3": {"d9": (-20, -45), "e7": (-14, -24), "e8": (-14, -28), "e9": (-14, -39), "f6": (-6, -12), "f7": (-6, -16),
          "f8": (-6, -20), "g5": (-2, -6), "g6": (-2, -8), "h5": (0, -4), "h6": (0, -6), "h7": (0, -10), "h8": (0, -14),
          "h9": (0, -25), "js5": (2, -2), "js6": (3, -3), "js7": (5, -5), "k5": (4, 0), "k6": (6, 0), "m5": (6, 2),
          "m6": (8, 2), "n6": (10, 4), "p6": (12, 6)},
    "3-6": {"d8": (-30, -48), "d9": (-30, -60), "e7": (-20, -32), "f6": (-10, -18), "f7": (-10, -22), "g6": (-4, -12),
            "h6": (0, -8), "h7": (0, -12), "h8": (0, -18), "h9": (0, -30), "k5": (6, 1), "k6": (9, 1), "m6": (12, 4),
            "n6": (16, 8), "p6": (20, 12)},
    "6-10": {"d9": (-40, -76), "e8": (-25, -47), "f7": (-13, -28), "g5": (-5, -11), "g6": (-5, -14), "h6": (0, -9),
             "h7": (0, -15), "h8": (0, -22), "h9": (0, -36), "js7": (7.5, -7.5), "k5": (7, 1), "k6": (10, 1),
             "m5": (12, 6), "m6": (15, 6), "n6": (19, 10), "p6": (24, 15)},
    "10-18": {"d8": (-50, -77), "d9": (-50, -93), "e7": (-32, -50), "e9": (-32, -75), "f6": (-16, -27),
              "f8": (-16, -43), "g6": (-6, -17), "h5": (0, -8), "h6": (0, -11), "h7": (0, -18), "h8": (0, -27),
              "h9": (0, -43), "js6": (5.5, -5.5), "k5": (9, 1), "k6": (12, 1), "m5": (15, 7), "m6": (18, 7),
              "n6": (23, 12), "p6": (29, 18)},
    "18-30": {"d9": (-65, -117), "e7": (-40, -61), "e8": (-40, -73), "f7": (-20, -41), "g5": (-7, -16),
              "g6": (-7, -20), "h6": (0, -13), "h7": (0, -21), "h8": (0, -33), "h9": (0, -52), "js6": (6.5, -6.5),
              "js7": (10.5, -10.5), "k5": (11, 2), "k6": (15, 2), "m5": (17, 8), "m6": (21, 8), "n6": (28, 15),
              "p6": (35, 22)},
    "30-50": {"d8": (-80, -119), "e9": (-50, -112), "f6": (-25, -41), "f8": (-25, -64), "g6": (-9, -25),
              "h6": (0, -16), "h7": (0, -25), "h8": (0, -39), "h9": (0, -62), "k6": (18, 2), "m6": (25, 9),
              "n6": (33, 17), "p6": (42, 26)},
    "50-80": {"d9": (-100, -174), "e7": (-60, -90), "f7": (-30, -60), "g6": (-10, -29), "h6": (0, -19),
              "h9": (0, -74), "js6": (9.5, -9.5), "k5": (15, 2), "k6": (21, 2), "m5": (24, 11), "m6": (30, 11),
              "n6": (39, 20), "p6": (51, 32)},
}  # fmt: skip

HOLES_JIS = {
    "3": {"E7": (24, 14), "F7": (16, 6), "G7": (12, 2), "H7": (10, 0), "H10": (40, 0), "K6": (0, -6), "K7": (0, -10),
          "M6": (-2, -8), "M7": (-2, -12), "N6": (-4, -10), "N7": (-4, -14), "P6": (-6, -12), "P7": (-6, -16)},
    "3-6": {"E8": (38, 20), "F8": (28, 10), "G6": (12, 4), "H6": (8, 0), "H8": (18, 0), "K6": (2, -6), "K7": (3, -9),
            "M6": (-1, -9), "M7": (0, -12), "N6": (-5, -13), "N7": (-4, -16), "P6": (-9, -17), "P7": (-8, -20)},
    "6-10": {"E9": (61, 25), "F6": (22, 13), "G7": (20, 5), "H9": (36, 0), "H10": (58, 0), "K6": (2, -7),
             "K7": (5, -10), "M6": (-3, -12), "M7": (0, -15), "N6": (-7, -16), "N7": (-4, -19), "P6": (-12, -21),
             "P7": (-9, -24)},
    "10-18": {"E7": (50, 32), "F7": (34, 16), "G6": (17, 6), "H7": (18, 0), "H10": (70, 0), "JS6": (5.5, -5.5),
              "K6": (2, -9), "K7": (6, -12), "M6": (-4, -15), "M7": (0, -18), "N6": (-9, -20), "N7": (-5, -23),
              "P6": (-15, -26), "P7": (-11, -29)},
    "18-30": {"D9": (117, 65), "E8": (73, 40), "F8": (53, 20), "G7": (28, 7), "H6": (13, 0), "H8": (33, 0),
              "K6": (2, -11), "K7": (6, -15), "M6": (-4, -17), "M7": (0, -21), "N6": (-11, -24), "N7": (-7, -28),
              "P6": (-18, -31), "P7": (-14, -35)},
    "30-50": {"E7": (75, 50), "F7": (50, 25), "G6": (25, 9), "H9": (62, 0), "H10": (100, 0), "K6": (3, -13),
              "K7": (7, -18), "M6": (-4, -20), "M7": (0, -25), "N6": (-12, -28), "N7": (-8, -33), "P6": (-21, -37),
              "P7": (-17, -42)},
    "50-80": {"E9": (134, 60), "F6": (49, 30), "G7": (40, 10), "H7": (30, 0), "H10": (120, 0), "K6": (4, -15),
              "K7": (9, -21), "M6": (-5, -24), "M7": (0, -30), "N6": (-14, -33), "N7": (-9, -39), "P6": (-26, -45)},
    "80-120": {"E7": (107, 72), "F8": (90, 36), "G6": (34, 12), "H6": (22, 0), "H10": (140, 0)},
}  # fmt: skip


@pytest.mark.parametrize(("step", "zone"), [(s, z) for s, row in SHAFTS_JIS.items() for z in row])
def test_jis_b_0401_shafts(step: str, zone: str) -> None:
    """JIS B 0401 (1999), regularly used shaft fits: seen."""
    np.testing.assert_allclose(
        np.array(shaft_limits(SIZES[step] * 1e-3, zone)) * 1e6, SHAFTS_JIS[step][zone], atol=1e-6
    )


@pytest.mark.parametrize(("step", "zone"), [(s, z) for s, row in HOLES_JIS.items() for z in row])
def test_jis_b_0401_holes(step: str, zone: str) -> None:
    """JIS B 0401 (1999), regularly used hole fits: seen. K to P are built by the standard's Δ rule, not copied."""
    np.testing.assert_allclose(np.array(hole_limits(SIZES[step] * 1e-3, zone)) * 1e6, HOLES_JIS[step][zone], atol=1e-6)


@pytest.mark.parametrize(
    ("zone", "limits"),
    [("g6", (-12, -34)), ("h6", (0, -22)), ("k6", (25, 3)), ("m6", (35, 13))],
)
def test_shaft_80_to_120(zone: str, limits: tuple[float, float]) -> None:
    """Spherical plain bearing catalogue, shaft diameter tolerances 80 to 120 mm: seen."""
    np.testing.assert_allclose(np.array(shaft_limits(0.100, zone)) * 1e6, limits, atol=1e-6)


@pytest.mark.parametrize(
    ("zone", "limits"),
    [("H7", (35, 0)), ("K7", (10, -25)), ("M7", (0, -35)), ("N7", (-10, -45))],
)
def test_housing_80_to_120(zone: str, limits: tuple[float, float]) -> None:
    """Spherical plain bearing catalogue, housing bore tolerances 80 to 120 mm: seen."""
    np.testing.assert_allclose(np.array(hole_limits(0.100, zone)) * 1e6, limits, atol=1e-6)


@pytest.mark.parametrize(("zone", "ei"), [("m6", 13), ("n6", 23), ("p6", 37)])
def test_table_15_2_m_n_p(zone: str, ei: float) -> None:
    """Machine-drawing textbook, Table 15.2, over 80 to 120 mm: seen."""
    assert shaft_limits(0.1, zone)[1] * 1e6 == pytest.approx(ei)


@pytest.mark.parametrize(("zone", "lower"), [("h6", -13), ("h7", -21), ("h8", -33), ("h9", -52), ("h11", -130)])
def test_en_10278_bar_of_20(zone: str, lower: float) -> None:
    """Rows F01: EN 10278 / ISO 286-2, 20 mm: seen."""
    upper, found = shaft_limits(0.020, zone)
    assert upper == 0
    assert found * 1e6 == pytest.approx(lower)


@pytest.mark.parametrize(
    ("zone", "which", "value"), [("j6", 0, 9), ("k6", 1, 2), ("k7", 1, 2), ("m6", 0, 21), ("j6", 1, -4)]
)
def test_insert_bearing_shafts_of_20(zone: str, which: int, value: float) -> None:
    """Rows F02: insert-bearing catalogue, Tables 9.1 and 9.2, 18 to 30 mm: seen (j6 lower: resultant-fit table)."""
    assert shaft_limits(0.020, zone)[which] * 1e6 == pytest.approx(value)


@pytest.mark.parametrize(("size", "limits"), [(2, (4, -2)), (5, (6, -2)), (8, (7, -2)), (15, (8, -3)), (40, (11, -5)),
                                              (70, (12, -7)), (100, (13, -9))])  # fmt: skip
def test_j6_of_resultant_fits_table(size: float, limits: tuple[float, float]) -> None:
    """Shaft tolerances and resultant fits, deep groove bearings, j6: seen."""
    np.testing.assert_allclose(np.array(shaft_limits(size * 1e-3, "j6")) * 1e6, limits, atol=1e-6)


@pytest.mark.parametrize(("size", "grades"), [(2, (4, 6, 10, 14, 25)), (5, (5, 8, 12, 18, 30)), (8, (6, 9, 15, 22, 36)),
                                              (15, (8, 11, 18, 27, 43)), (20, (9, 13, 21, 33, 52)),
                                              (40, (11, 16, 25, 39, 62)), (70, (13, 19, 30, 46, 74)),
                                              (100, (15, 22, 35, 54, 87))])  # fmt: skip
def test_h5_to_h9_of_toolholder_table(size: float, grades: tuple[float, ...]) -> None:
    """Shaft tolerances h1 to h9, a toolholder catalogue's reference page (IT5 to IT9): seen."""
    found = [tolerance(size * 1e-3, grade) * 1e6 for grade in (5, 6, 7, 8, 9)]
    np.testing.assert_allclose(found, grades, atol=1e-6)


def test_25_h7_g6_clearance() -> None:
    """Rows F04: 25 H7/g6, 7 to 41 µm: seen."""
    least, most = clearances(hole_limits(0.025, "H7"), shaft_limits(0.025, "g6"))
    assert least * 1e6 == pytest.approx(7)
    assert most * 1e6 == pytest.approx(41)


def test_20_h7_p6_interference() -> None:
    """Row F06: 20 H7/p6, greatest interference 35 µm (from memory)."""
    assert -clearances(hole_limits(0.020, "H7"), shaft_limits(0.020, "p6"))[0] * 1e6 == pytest.approx(35)


def test_insert_bearing_on_h9_bar() -> None:
    """Row F03a: bore +18/0 on 20 h9, at most 70 µm loose (derived from the tables above)."""
    assert clearances((18e-6, 0.0), shaft_limits(0.020, "h9"))[1] * 1e6 == pytest.approx(70)


def test_steps_end_where_the_standard_ends_them() -> None:
    """ISO 286-1 Table 1: "over ... up to and including": 30 belongs to 18-30, 30.1 to 30-50."""
    np.testing.assert_allclose(
        np.asarray(tolerance(np.array([0.030, 0.0301, 0.018, 0.0181]), 7)) * 1e6, [21, 25, 18, 21]
    )


@pytest.mark.parametrize("zone", SHAFT_CLASSES)
def test_every_class_that_may_be_named_has_limits(zone: str) -> None:
    upper, lower = shaft_limits(np.array([0.002, 0.010, 0.020, 0.1]), zone)
    assert np.all(np.asarray(upper) > np.asarray(lower))


def test_tables_follow_the_formulas_behind_them() -> None:
    """ISO 286-1, basis of the tables (from memory): i = 0.45 ∛D + 0.001 D (µm, mm), IT5 to IT11 = 7, 10, 16, 25, 40,
    64, 100 i; -es of d, e, f, g = 16 D^0.44, 11 D^0.41, 5.5 D^0.41, 2.5 D^0.34; ei of k, n = 0.6 ∛D, 5 D^0.34, of m
    IT7 - IT6. D is the geometric mean of the step; the standard rounds, from 3 mm on by less than 10 % and 1.2 µm.
    """
    ends = np.array([3.0, 6, 10, 18, 30, 50, 80, 120])
    mean = np.sqrt(ends[:-1] * ends[1:])
    size = mean * 1e-3
    unit = 0.45 * np.cbrt(mean) + 0.001 * mean
    for grade, times in {5: 7, 6: 10, 7: 16, 8: 25, 9: 40, 10: 64, 11: 100}.items():
        assert tolerance(size, grade) * 1e6 == pytest.approx(times * unit, rel=0.1)
    upper = {"d8": 16 * mean**0.44, "e8": 11 * mean**0.41, "f7": 5.5 * mean**0.41, "g6": 2.5 * mean**0.34}
    for zone, deviation in upper.items():
        assert -np.asarray(shaft_limits(size, zone)[0]) * 1e6 == pytest.approx(deviation, abs=1.2)
    lower = {"k6": 0.6 * np.cbrt(mean), "n6": 5 * mean**0.34, "m6": (tolerance(size, 7) - tolerance(size, 6)) * 1e6}
    for zone, deviation in lower.items():
        assert np.asarray(shaft_limits(size, zone)[1]) * 1e6 == pytest.approx(deviation, abs=1.2)
