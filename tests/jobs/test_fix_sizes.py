"""Sizes that one can buy: they lie where they were asked for, read as what they say, and are those of the standards."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryfit.ground import units
from dryfit.studies.cost_class import rule_of
from dryfit.studies.records_fix import Price
from dryfit.studies.snap import SERIES, Style, leds, rounded, sizes, style_of, written

MM = 1e-3
TYPED = [
    ("200 mm", units.POSITIVE_LENGTH), ("1.1 m", units.LENGTH), ("6.2 kg", units.MASS), ("0.35 m/s", units.SPEED),
    ("25 A", units.CURRENT), ("60 %", units.SHARE), ("22.5 deg", units.ANGLE), ("0.4 s", units.TIME),
]  # fmt: skip


def style(text: str, dimension: units.Dimension) -> Style:
    found = style_of(text, dimension)
    assert found is not None
    return found


@pytest.mark.parametrize(("text", "dimension"), TYPED)
@given(low=st.floats(0.2, 0.99), wide=st.floats(1.05, 1.6))
def test_sizes_lie_in_their_range_and_read_as_they_say(
    text: str, dimension: units.Dimension, low: float, wide: float
) -> None:
    first = low * units.read(text, dimension)[0]
    last = first * wide
    for level in sizes(style(text, dimension), "", first, last, {}):
        assert len(level) <= 40
        assert [s.si for s in level] == sorted(s.si for s in level)
        for s in level:
            assert first * (1 - 1e-6) <= s.si <= last * (1 + 1e-6)
            assert units.read(s.text, dimension)[0] == s.si
            assert s.text.split(" ", 1)[1] == text.split(" ", 1)[1]


@pytest.mark.parametrize(("text", "dimension"), TYPED)
def test_every_range_of_a_twentieth_has_a_size(text: str, dimension: units.Dimension) -> None:
    value = units.read(text, dimension)[0]
    assert any(sizes(style(text, dimension), "", value, value * 1.05, {}))


def test_series_are_those_of_the_standards() -> None:
    """ISO 54 modules, IEC 60063 E12 and E6, bores of ball bearings by ISO 15: from memory."""
    assert {m * MM for m in (1.0, 1.5, 2.0, 2.5)} <= set(SERIES["modules"])
    # the twelve values are the twelfth roots of ten, rounded to two figures (but for the historic 2.7 to 3.9)
    decade = [x for x in SERIES["resistors"] if 999 <= x < 9999]
    assert len(decade) == 12
    for n, ohm in enumerate(decade):
        assert ohm == pytest.approx(1000 * 10 ** (n / 12), rel=0.05)
    six = [x for x in SERIES["capacitors"] if 0.99e-3 <= x < 9.9e-3]
    assert [round(1e3 * x, 1) for x in six] == [1.0, 1.5, 2.2, 3.3, 4.7, 6.8]
    assert {d * MM for d in (10, 12, 15, 17, 20, 25)} <= set(SERIES["bars"])


def test_gauges_are_answered_in_gauges() -> None:
    """ASTM B258: two gauges are a factor of 92^(4/39) in area (from memory)."""
    (found,) = sizes(style("AWG 16", units.AREA), "wires", 0.5e-6, 6e-6, {"wires": (1e-6,)})
    assert [s.text for s in found] == ["AWG 20", "AWG 18", "AWG 16", "AWG 14", "AWG 12", "AWG 10"]
    for a, b in pairwise(found):
        assert b.si / a.si == pytest.approx(92 ** (4 / 39), rel=1e-6)


def test_a_listed_series_comes_from_the_shelf() -> None:
    (found,) = sizes(
        style("25 A", units.CURRENT), "fuses x", 4.0, 21.0, {"fuses x": (5.0, 7.5, 10.0, 15.0, 20.0, 25.0)}
    )
    assert [s.text for s in found] == ["5 A", "7.5 A", "10 A", "15 A", "20 A"]


def test_strips_end_behind_a_whole_led() -> None:
    (found,) = leds(style("1.2 m", units.POSITIVE_LENGTH), 1 / 60, 0.9, 1.2)
    for s in found:
        assert math.floor(s.si * 60 + 1e-6) == pytest.approx(s.si * 60, abs=0.01)


def test_the_way_of_typing_stays() -> None:
    assert written(0.34, style("200 mm ± 1 %", units.LENGTH)) == "340 mm ± 1 %"
    assert written(1.1, style("900 mm", units.LENGTH)) == "1100 mm"
    assert written(0.0, style("-5 deg", units.ANGLE)) == "0 deg"
    assert rounded(0.37237, style("200 mm", units.LENGTH), towards=0.38) == "373 mm"
    assert rounded(0.50371, style("1.2 m/s2", units.ACCELERATION), towards=0.5) == "0.503 m/s2"
    assert style_of("half way between the bearings", units.LENGTH) is None
    assert style_of("as wide as the pinion's teeth", units.LENGTH) is None


@pytest.mark.parametrize(
    ("path", "price"),
    [
        ("brief.speed", Price.LESS),
        ("brief.limits.tilt", None),
        ("reserves.tilt-board", None),
        ("brief.friction", None),
        ("base.wheels.diameter", None),
        ("base.wheels.circle_radius", Price.REPRINT),
        ("power.branches[3].fuse", Price.PART),
        ("power.branches[3].temperature", None),
        ("light.cap", Price.FREE),
        ("body.parts[4].at[2]", Price.REPRINT),
        ("body.parts[4].size[1]", Price.REPRINT),
        ("arms.postures[2].angles.shoulder", Price.FREE),
        ("safety.gaps[0].body", None),
        ("some.new.number", Price.PART),
    ],
)
def test_what_may_be_changed_and_at_what_price(path: str, price: Price | None) -> None:
    assert rule_of(path).price is price
