"""Units at the edge, against a general-purpose unit library run live, and the wire-gauge and torque rows of tables.

Sources: SI Brochure (9th ed., 2019) by way of the `pint` registry, run live; ASTM B258 wire gauges (area of AWG 24 seen
in a table of conductors); kilogram-force exactly 9.80665 N (3rd CGPM 1901, from memory).
"""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryfit.ground import units
from dryfit.ground.units import Dimension, UnitError

DIMENSIONS = [d for d in vars(units).values() if isinstance(d, Dimension)]
WITH_UNITS = [(d, u) for d in DIMENSIONS for u in d.units]

# our spelling -> the registry's
PINT = {
    "N*m": "newton*meter", "mN*m": "millinewton*meter", "N*cm": "newton*centimeter", "in": "inch", "um": "micrometer",
    "kg*cm": "kilogram_force*centimeter", "kgf*cm": "kilogram_force*centimeter", "kgf": "kilogram_force",
    "rpm": "revolution/minute", "deg": "degree", "deg/s": "degree/second", "days": "day", "us": "microsecond",
    "kg/m3": "kilogram/meter**3", "g/cm3": "gram/centimeter**3", "kg*m2": "kilogram*meter**2",
    "g*cm2": "gram*centimeter**2", "mm2": "millimeter**2", "mm3/s": "millimeter**3/second", "m/s2": "meter/second**2",
    "mohm": "milliohm", "kohm": "kiloohm", "mohm/m": "milliohm/meter", "ohm/km": "ohm/kilometer", "uF": "microfarad",
    "uH": "microhenry", "Wh": "watt*hour", "kWh": "kilowatt*hour", "Ah": "ampere*hour", "mAh": "milliampere*hour",
    "N*m/rad": "newton*meter/radian", "kN*m/rad": "kilonewton*meter/radian", "N*m/deg": "newton*meter/degree",
    "%": "percent", "K/W": "kelvin/watt", "J/K": "joule/kelvin", "degC": "degree_Celsius", "h": "hour",
    "mm4": "millimeter**4", "cm4": "centimeter**4", "m4": "meter**4", "mm3": "millimeter**3", "cm3": "centimeter**3",
    "m3": "meter**3", "m2": "meter**2", "cm2": "centimeter**2", "m3/s": "meter**3/second", "C": "coulomb",
    "1": "dimensionless", "Pa": "pascal", "F": "farad", "H": "henry", "g": "gram", "m": "meter", "s": "second",
    "dK": "kelvin", "ohm": "ohm", "h/day": "hour/day", "lm": "lumen", "lx": "lux", "cd": "candela",
}  # fmt: skip
NOT_OF_PHYSICS = {"EUR", ":1"}


@cache
def registry() -> Any:
    return pint.UnitRegistry()


@pytest.mark.parametrize(("dimension", "unit"), WITH_UNITS, ids=[f"{d.name}-{u}" for d, u in WITH_UNITS])
def test_every_factor_agrees_with_the_unit_library(dimension: Dimension, unit: str) -> None:
    if unit in NOT_OF_PHYSICS:
        assert dimension.units[unit] == 1.0
        return
    quantity = registry().Quantity(1.0, PINT.get(unit, unit)).to(PINT.get(dimension.si, dimension.si))
    offset = dimension.offsets.get(unit, 0.0)
    assert dimension.units[unit] + offset == pytest.approx(quantity.magnitude, rel=1e-14)


@pytest.mark.parametrize("dimension", DIMENSIONS, ids=lambda d: d.name)
def test_the_example_of_every_dimension_can_be_read(dimension: Dimension) -> None:
    for example in dimension.example.split(" or "):
        value, half = units.read(example, dimension)
        assert math.isfinite(value)
        assert half is None


def test_temperatures_have_an_offset_of_27315_hundredths() -> None:
    assert units.read("25 degC", units.TEMPERATURE)[0] == pytest.approx(
        registry().Quantity(25.0, "degree_Celsius").to("kelvin").magnitude, rel=1e-15
    )
    assert units.read("-40 °C", units.TEMPERATURE)[0] == pytest.approx(233.15)
    with pytest.raises(UnitError, match="absolute zero"):
        units.read("-300 degC", units.TEMPERATURE)
    with pytest.raises(UnitError, match="needs its unit"):
        units.read("0", units.TEMPERATURE)


def test_kilogram_force_centimetres_are_not_newton_centimetres() -> None:
    """SERVO-1: 25 kgf·cm = 2.45166 N·m (SI definition, from memory), 0.01 %."""
    assert units.read("25 kg*cm", units.TORQUE)[0] == pytest.approx(2.45166, rel=1e-4)
    assert units.read("25 kgf*cm", units.TORQUE)[0] == pytest.approx(2.45166, rel=1e-4)
    assert units.read("25 N*cm", units.TORQUE)[0] == pytest.approx(0.25, rel=1e-12)


def test_ounce_inches_are_refused_not_guessed() -> None:
    """SERVO-2: 100 oz-in = 0.70616 N·m (from memory): the unit is not accepted, the library's value must be typed."""
    assert registry().Quantity(100, "force_ounce*inch").to("newton*meter").magnitude == pytest.approx(0.70616, rel=1e-4)
    with pytest.raises(UnitError, match="is not a unit of a torque"):
        units.read("100 oz-in", units.TORQUE)
    assert units.read("0.70616 N*m", units.TORQUE)[0] == pytest.approx(0.70616, rel=1e-12)


def test_servo_speed_of_sixty_degrees_in_016_s() -> None:
    """SERVO-3: 0.16 s for 60 deg is 6.545 rad/s (common practice), 0.1 %."""
    rate = units.read("60 deg", units.ANGLE)[0] / units.read("0.16 s", units.TIME)[0]
    assert rate == pytest.approx(6.545, rel=1e-3)
    assert units.read(f"{60 / 0.16} deg/s", units.TURN_RATE)[0] == pytest.approx(rate, rel=1e-12)


def test_hertz_is_never_a_turn_rate_nor_the_other_way_round() -> None:
    for text in ("5 Hz", "5 kHz", "5 1/s", "5"):
        with pytest.raises(UnitError):
            units.read(text, units.TURN_RATE)
    for text in ("5 rad/s", "5 rpm"):
        with pytest.raises(UnitError):
            units.read(text, units.FREQUENCY)


def test_joules_are_never_a_torque() -> None:
    with pytest.raises(UnitError):
        units.read("3 J", units.TORQUE)
    with pytest.raises(UnitError):
        units.read("3 N*m", units.ENERGY)


@pytest.mark.parametrize(
    ("gauge", "mm2", "tolerance"),
    [
        ("24", 0.2047, 2e-3),  # AWG24-A: table after ASTM B258, seen
        ("16", 1.31, 2e-3),  # from memory
        ("0", 53.5, 2e-3),  # from memory
        ("4/0", 107.2, 2e-3),  # from memory
    ],
)
def test_awg_areas(gauge: str, mm2: float, tolerance: float) -> None:
    assert units.read(f"AWG {gauge}", units.AREA)[0] * 1e6 == pytest.approx(mm2, rel=tolerance)


@pytest.mark.parametrize(
    ("gauge", "ohm_per_km"), [("16", 13.17), ("18", 20.94), ("20", 33.29), ("24", 84.2), ("26", 133.86), ("28", 212.87)]
)
def test_awg_resistances_of_solid_copper(gauge: str, ohm_per_km: float) -> None:
    """AWG16-R to AWG28-R: table after ASTM B258 at 17.241 Ω·mm²/km, 20 °C, seen, 0.1 %."""
    area = units.read(f"AWG{gauge}", units.AREA)[0]
    assert 17.241e-9 / area * 1e3 == pytest.approx(ohm_per_km, rel=1e-3)


def test_noughts_are_gauges_above_nought() -> None:
    for noughts, slash in (("0", "1/0"), ("00", "2/0"), ("000", "3/0"), ("0000", "4/0")):
        assert units.awg_area(noughts) == units.awg_area(slash)
    areas = [units.awg_area(g) for g in ("4/0", "3/0", "2/0", "0", "1", "10", "40")]
    assert areas == sorted(areas, reverse=True)


@pytest.mark.parametrize("text", ["AWG 41", "AWG 99", "AWG 5/0", "AWG 99999999/0", "AWG", "AWG -1", "AWG 16 ± 5 %"])
def test_gauges_beyond_the_table_are_refused(text: str) -> None:
    with pytest.raises(UnitError):
        units.read(text, units.AREA)


@pytest.mark.parametrize(
    ("text", "value", "half"),
    [
        ("203 mm", 0.203, None),
        ("203mm", 0.203, None),
        (" 203  mm ", 0.203, None),
        ("203\u00a0mm", 0.203, None),
        ("203\u202fmm", 0.203, None),
        ("+2.5e2 mm", 0.25, None),
        (".5 m", 0.5, None),
        ("5. mm", 0.005, None),
        ("−2 mm", -0.002, None),  # minus sign
        ("–2 mm", -0.002, None),  # en dash
        ("5 µm", 5e-6, None),  # micro sign
        ("5 μm", 5e-6, None),  # Greek mu
        ("0", 0.0, None),
        ("0.0 mm", 0.0, None),
        ("0 mm ± 0 mm", 0.0, 0.0),
        ("5 mm ± 0.1 mm", 0.005, 0.02),
        ("5 mm ± 0.1", 0.005, 0.02),
        ("5 ± 0.1 mm", 0.005, 0.02),
        ("5 mm +/- 2 %", 0.005, 0.02),
        ("5 mm +- 2%", 0.005, 0.02),
        ("5 mm±2%", 0.005, 0.02),
        ("1 m ± 5 cm", 1.0, 0.05),
        ("-5 mm ± 1 mm", -0.005, 0.2),
    ],
)
def test_lengths_that_are_read(text: str, value: float, half: float | None) -> None:
    read, spread = units.read(text, units.LENGTH)
    assert read == pytest.approx(value, rel=1e-15)
    assert spread == (None if half is None else pytest.approx(half, rel=1e-12))


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("2,5 mm", "decimals take a point, and thousands stand without a comma"),
        ("1,000 mm", "decimals take a point, and thousands stand without a comma"),
        (",5 mm", "decimals take a point, and thousands stand without a comma"),
        ("1.2.3 mm", "a number has one decimal point"),
        ("1..2 mm", "a number has one decimal point"),
        ("1 000 mm", "digits stand together, without spaces or marks between thousands"),
        ("1'000 mm", "digits stand together, without spaces or marks between thousands"),
        ("1_000 mm", "digits stand together, without spaces or marks between thousands"),
        ("5-6 mm", "one number stands here, not a range; write the middle and ± half of it"),
        ("5 mm to 6 mm", "one number stands here, not a range; write the middle and ± half of it"),
        ("5 mm roughly", "only a number and its unit stand here; put remarks behind a #"),
        ("5 mm (weighed)", "only a number and its unit stand here; put remarks behind a #"),
        ("5 m m", "only a number and its unit stand here; put remarks behind a #"),
        ("１２ mm", "not a length"),
        ("٣ mm", "not a length"),
        ("mm", "not a length"),
        ("", "not a length"),
        ("five mm", "not a length"),
        ("± 5 mm", "behind ± stands one number, with % or a unit"),
        ("5 mm ±", "behind ± stands one number, with % or a unit"),
        ("5 mm ± a bit", "behind ± stands one number, with % or a unit"),
        ("5 mm + 1 mm", "only a number and its unit stand here; put remarks behind a #"),
        ("nan", "not a finite number"),
        (".nan", "not a finite number"),
        ("inf mm", "not a finite number"),
        ("-Infinity", "not a finite number"),
        ("1e400 mm", "not a finite number"),
        ("1e30 mm", "too large to be meant"),
        ("1e-30 mm", "too small to be meant"),
        ("1e-400 mm", "too small to be meant"),
        ("5", "a length needs its unit"),
        ("5 kg", "'kg' is not a unit of a length"),
        ("5 MM", "'MM' is not a unit of a length"),
        ("5 ｍｍ", "not a length"),
        ("0 ± 1 mm", "a value of zero cannot carry a ±"),
        ("5 mm ± -1 mm", "the half-width after ± must be zero or more, and not a thousand times the value"),
        ("5 mm ± 1e300 mm", "the half-width after ± must be zero or more, and not a thousand times the value"),
        ("5 mm ± 1 s", "'s' after ± is neither % nor a unit of a length"),
        ("5 ± 10 %", "a length needs its unit"),
    ],
)
def test_lengths_that_are_refused(text: str, problem: str) -> None:
    with pytest.raises(UnitError) as refused:
        units.read(text, units.LENGTH)
    assert refused.value.problem == problem
    assert refused.value.accepted == "a number with one of the units m, cm, mm, um, in, such as 203 mm"


def test_near_miss_units_are_offered() -> None:
    with pytest.raises(UnitError) as refused:
        units.read("3 Nm", units.TORQUE)
    assert refused.value.problem.startswith("'Nm' is not a unit of a torque; did you mean N*m")


@pytest.mark.parametrize(
    ("text", "dimension", "problem"),
    [
        ("-1 kg", units.MASS, "must be more than zero"),
        ("0 kg", units.MASS, "must be more than zero"),
        ("0", units.POSITIVE_LENGTH, "must be more than zero"),
        ("-1 s", units.TIME, "must not be below zero"),
        ("160 %", units.SHARE, "must lie between 0 and 100 %"),
        ("60", units.SHARE, "a share needs its unit"),
        ("0.6", units.SHARE, "a share needs its unit"),
        ("2.5", units.COUNT, "not a whole number"),
        ("-1", units.COUNT, "must lie between 0 and 1.00e+06"),
        ("3 mm", units.COUNT, "'mm' is not a unit of a whole number"),
        ("25 degC ± 10 %", units.TEMPERATURE, "the half-width of a temperature after ± needs a unit, not %"),
    ],
)
def test_other_dimensions_refuse(text: str, dimension: Dimension, problem: str) -> None:
    with pytest.raises(UnitError) as refused:
        units.read(text, dimension)
    assert refused.value.problem == problem


def test_a_ratio_may_be_typed_with_or_without_its_one() -> None:
    assert units.read("13.7:1", units.RATIO) == units.read("13.7", units.RATIO) == (13.7, None)


def test_half_widths_of_shares_are_points_of_percent() -> None:
    assert units.read("60 % ± 6 %", units.SHARE) == (pytest.approx(0.6), pytest.approx(0.1))
    assert units.read("60 ± 6 %", units.SHARE) == (pytest.approx(0.6), pytest.approx(0.1))
    assert units.read("0.5 ± 20 %", units.NUMBER) == (0.5, pytest.approx(0.2))


def test_half_width_of_a_temperature_is_in_kelvins() -> None:
    value, half = units.read("25 degC ± 5 K", units.TEMPERATURE)
    assert half == pytest.approx(5 / value)


def test_minus_zero_is_zero() -> None:
    assert math.copysign(1.0, units.read("-0 mm", units.LENGTH)[0]) == 1.0
    assert units.show(-0.0, "m") == "0 mm"


SHOWN = [d for d in units.SI.values() if d.name != "money"]


@given(
    st.sampled_from(SHOWN),
    st.floats(min_value=1e-9, max_value=1e9),
    st.integers(min_value=3, max_value=9),
)
def test_what_is_shown_reads_back(dimension: Dimension, value: float, digits: int) -> None:
    shown = units.show(value, dimension.si, digits).split(" (")[0]
    assert "e" not in shown.split()[0] or units.LARGEST > value > 0
    unit = shown.split(" ", 1)[1:]
    if shown.split()[0] == "0" and not dimension.offsets:
        # nothing but rounding noise is shown as nothing, in the unit shown
        assert value < units.NOISE * units.read(" ".join(["1", *unit]), dimension)[0]
        return
    # digits count for what is shown: of a temperature in °C these are not the digits of the kelvins
    slack = 273.15 if dimension.offsets and unit else 0.0
    read = units.read(shown, dimension)[0]
    assert read == pytest.approx(value, rel=0.51 * 10 ** (1 - digits), abs=slack * 0.51 * 10 ** (1 - digits))


@given(st.sampled_from(DIMENSIONS), st.text(max_size=30))
def test_any_text_is_read_or_refused_with_words(dimension: Dimension, text: str) -> None:
    refused: UnitError | None = None
    try:
        value, half = units.read(text, dimension)
    except UnitError as fault:
        refused = fault
    if refused is not None:
        assert refused.problem
        assert str(refused) == f"{refused.problem}; accepted: {units.accepted(dimension)}"
        return
    assert dimension.low <= value <= dimension.high
    assert abs(value) <= units.LARGEST
    assert half is None or 0 <= half < 1e3


@given(st.sampled_from(WITH_UNITS), st.floats(min_value=-1e12, max_value=1e12, allow_subnormal=False))
def test_readings_scale_with_their_unit(pair: tuple[Dimension, str], number: float) -> None:
    dimension, unit = pair
    try:
        value, _ = units.read(f"{number!r} {unit}", dimension)
    except UnitError:
        return
    expected = number * dimension.units[unit] + dimension.offsets.get(unit, 0.0)
    assert value == pytest.approx(expected, rel=1e-15)


def test_show_names_what_is_not_a_number() -> None:
    assert units.show(float("nan"), "m") == "unknown"
    assert units.show(float("inf"), "m") == "unlimited"
    assert units.show(3.0, "N*m") == "3 N·m (30.6 kg·cm)"
    assert units.show(0.6, "%") == "60 %"
    assert units.show(float(np.float64(0.203)), "m") == "203 mm"
