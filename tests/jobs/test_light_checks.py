"""Light of small machines: each check holding and short for the planted reason, one machine and many."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from dryfit.design.fields import Word
from dryfit.design.sections.brief import Brief as BriefRecord
from dryfit.design.sections.light import Light as Record
from dryfit.ground.errors import DesignError
from dryfit.ground.findings import Finding, State, calculated, state
from dryfit.ground.quantity import Kind, Num, Origin, Quantity, Spread
from dryfit.machine.brief import resolve_brief
from dryfit.machine.ledger import Ledger
from dryfit.machine.light import resolve_light
from dryfit.trades.light.checks import LightDemand, LightResult, assess_light, light_demand

STEM = {
    "name": "stem", "item": "addressable-5v-60", "count": "4", "length": "900 mm", "feeds": "both ends",
    "core": {"side": "25 mm"}, "diffuser": {"item": "opal-tube-110"},
}  # fmt: skip
SUNBLOOM: dict[str, Any] = {
    "strips": [STEM],
    "cap": "60 %",
    "scenes": [
        {"name": "glow", "colour": "amber", "level": "40 %", "time_share": "85 %"},
        {"name": "bloom", "level": "100 %", "time_share": "15 %"},
    ],
    "data": {"logic_volts": "5 V", "series_resistor": "330 ohm", "lead_length": "600 mm", "frame_rate": "50 Hz"},
}
BEACON: dict[str, Any] = {
    "strips": [STEM | {"length": "1.2 m", "feeds": "one end"}],
    "scenes": [{"colour": "amber", "level": "40 %", "time_share": "95 %"}, {"name": "flash", "time_share": "5 %"}],
}
FLAT = {"distance": "20 mm"}, {"distance": "8 mm"}


def assessed(given: dict[str, Any], feed: Num = 4.9) -> tuple[LightDemand, LightResult]:
    ledger = Ledger()
    brief = resolve_brief(BriefRecord(), ledger)
    light = resolve_light(Record.model_validate(given), ledger)
    ledger.close()
    demand = light_demand(ledger.origins, light)
    volts = np.broadcast_to(np.asarray(feed, dtype=float), (*np.shape(feed)[:-1], len(light.strips)))
    term = calculated("U_feed", "voltage at the feeds", volts, "V", "given", ())
    return demand, assess_light(ledger.origins, light, brief, demand=demand, feed_voltage=term)


def of(found: tuple[Finding, ...], check: str) -> Finding:
    return next(f for f in found if f.check == check)


def with_strip(**changes: Any) -> dict[str, Any]:
    return SUNBLOOM | {"strips": [STEM | changes]}


def test_sunbloom_draws_the_hand_worked_current() -> None:
    """216 LEDs: 7.2 A in a lot of 33.5 mA, 11.3 A in one of 52.5 mA. At a cap of 60 % 6.8 A by proportion; 6.89 A
    because the 1 mA of each LED's own electronics does not dim."""
    for lot, amperes in (("33.5 mA", 7.2), ("52.5 mA", 11.3)):
        demand, _ = assessed(with_strip(full_white=lot) | {"cap": "100 %"})
        assert demand.strip_current.value[-1, 0] == pytest.approx(amperes, abs=0.05)
    demand, result = assessed(SUNBLOOM)
    assert demand.scenes == ("glow", "bloom", "full white")
    assert demand.strip_current.value[-1, 0] == pytest.approx(216 * (1 + 0.6 * 51.5) / 1000)
    assert demand.strip_current.value[-1, 0] == pytest.approx(6.8, rel=0.02)
    assert demand.strip_current.value[1, 0] == demand.strip_current.value[-1, 0]
    assert all(state(f) is State.HOLDS for f in result.findings)


def test_beacon_draws_the_hand_worked_current() -> None:
    """288 LEDs: 15.1 A. With 3.6 V at the strip the last LED starves; with a sound feed it does not."""
    demand, result = assessed(BEACON, 3.6)
    assert demand.strip_current.value[-1, 0] == pytest.approx(15.1, abs=0.05)
    assert [f.check for f in result.findings if state(f) is State.SHORT] == ["last-led-has-its-volts"]
    assert not [f.check for f in assessed(BEACON, 4.9)[1].findings if state(f) is State.SHORT]


def test_what_was_measured_replaces_the_worst_lot() -> None:
    demand, _ = assessed(with_strip(full_white="38 mA ± 5 %") | {"cap": "100 %"})
    assert demand.strip_current.value[-1, 0] == pytest.approx(216 * 0.038 * 1.05)


@pytest.mark.parametrize(
    ("check", "sound", "planted"),
    [
        ("brightness-fits-the-regulator", SUNBLOOM | {"current_budget": "7 A"}, SUNBLOOM | {"current_budget": "6 A"}),
        ("last-led-has-its-volts", SUNBLOOM, with_strip(feeds="one end", foil_resistance="0.6 ohm/m")),
        ("feeds-carry-the-current", BEACON, BEACON | {"strips": [STEM | {"length": "2.4 m", "feeds": "one end"}]}),
        ("frames-keep-up", SUNBLOOM, SUNBLOOM | {"data": {"frame_rate": "150 Hz"}}),
        ("data-is-read-right", SUNBLOOM, SUNBLOOM | {"data": {"logic_volts": "3.3 V"}}),
        ("data-edges-are-sharp", SUNBLOOM, SUNBLOOM | {"data": {"series_resistor": "1 kohm", "lead_length": "3 m"}}),
        ("no-dots-through-diffuser", SUNBLOOM, with_strip(item="addressable-5v-30", diffuser={"diameter": "60 mm"})),
        ("no-dots-through-diffuser", *(with_strip(diffuser=d) for d in FLAT)),
        ("light-is-even-around", SUNBLOOM, with_strip(count="3")),
        ("core-stays-cool", SUNBLOOM, SUNBLOOM | {"scenes": [{"level": "100 %"}]}),
    ],
)  # fmt: skip
def test_each_check_holds_and_falls_short(check: str, sound: dict[str, Any], planted: dict[str, Any]) -> None:
    assert of(assessed(sound)[1].findings, check).margin >= 0
    found = of(assessed(planted)[1].findings, check)
    assert state(found) is State.SHORT
    assert found.terms
    assert found.remedy


def test_a_level_shifter_cures_the_low_logic_level() -> None:
    cured = SUNBLOOM | {"data": {"logic_volts": "3.3 V", "level_shifter": "5 V"}}
    assert state(of(assessed(cured)[1].findings, "data-is-read-right")) is State.HOLDS


def test_the_level_sent_is_that_of_the_board_where_nothing_is_typed() -> None:
    for board, volts in (("32-bit-3v3", 3.3), ("8-bit-16mhz-5v", 5.0), ("no-such-board", 5.0)):
        light = resolve_light(Record.model_validate({"strips": [{}]}), Ledger(), Word(board))
        assert light.logic_volts == pytest.approx(volts)


def test_strips_stay_whole_on_their_data_lines() -> None:
    """Four strips of 54 on three lines: one line has two of them, 108 LEDs of 30 µs and 280 µs (by hand)."""
    found = of(assessed(SUNBLOOM | {"data": {"lines": "3"}})[1].findings, "frames-keep-up")
    assert float(found.capacity[0]) == pytest.approx(1 / (108 * 24 * 1.25e-6 + 280e-6))


def test_scenes_may_light_some_strips_only() -> None:
    two = SUNBLOOM | {
        "strips": [STEM, STEM | {"name": "ring", "count": "1", "feeds": ["450 mm"]}],
        "scenes": [{"name": "ring only", "strips": ["ring"], "level": "50 %"}],
    }
    current = assessed(two)[0].strip_current.value
    assert current.shape == (2, 2)
    assert current[0] == pytest.approx([216 * 0.001, 54 * (0.001 + 0.5 * 0.0515)])


def test_without_light_there_is_nothing_to_say() -> None:
    demand, result = assessed({})
    assert result.findings == ()
    assert demand.strip_current.value.shape == (1, 0)
    assert resolve_light(None, Ledger()).strips == ()


def test_a_bare_strip_runs_on_defaults() -> None:
    ledger = Ledger()
    resolve_light(Record.model_validate({"strips": [{}]}), ledger)
    assert not ledger.faults
    assert ledger.origins["light.strips[0].length"].kind is Kind.DEFAULT
    assert ledger.spreads["light.strips[0].full_white"].fraction > 0


@pytest.mark.parametrize(
    ("given", "word"),
    [
        ({"strips": [STEM | {"feeds": ["1.2 m"]}]}, "beyond the end"),
        ({"strips": [STEM, STEM]}, "same name"),
        ({"strips": [STEM | {"item": "addressable-5v-61"}]}, "addressable-5v-60"),
        ({"strips": [STEM | {"core": {"side": "150 mm"}}]}, "does not fit"),
        ({"strips": [STEM], "scenes": [{"strips": ["stalk"]}]}, "no such strip"),
        ({"strips": [STEM], "scenes": [{"time_share": "70 %"}, {"time_share": "40 %"}]}, "more than the whole show"),
        ({"strips": [STEM | {"leds_per_length": "0"}]}, "more than zero"),
        ({"strips": [STEM | {"length": "10 mm"}]}, "shorter than the pitch"),
        ({"strips": [STEM | {"count": "0"}]}, "not a number of strips"),
        ({"strips": [STEM | {"count": "100000"}]}, "not a number of strips"),
        (SUNBLOOM | {"data": {"lines": "0"}}, "no data line"),
    ],
)
def test_faults_are_named(given: dict[str, Any], word: str) -> None:
    with pytest.raises(DesignError, match=word):
        assessed(given)


@pytest.mark.parametrize(
    "changes",
    [
        {"bit_time": "0 s", "reset_time": "0 s"}, {"foil_resistance": "0 ohm/m"}, {"dark": "0 A"}, {"lumens": "0"},
        {"feeds": ["0 mm", "0 mm", "900 mm", "900 mm"]}, {"input_share": "100 %"}, {"length": "5000 m"},
    ],
)  # fmt: skip
def test_extremes_give_numbers_and_no_warnings(changes: dict[str, Any]) -> None:
    _, result = assessed(with_strip(**changes))
    assert not any(np.any(np.isnan(f.margins)) for f in result.findings)


def test_a_voltage_nobody_knows_never_passes() -> None:
    found = of(assessed(SUNBLOOM, float("nan"))[1].findings, "last-led-has-its-volts")
    assert not np.any(found.margin >= 0)


def many(dimension: str, values: list[float]) -> Quantity:
    return Quantity(np.array(values), dimension, Origin(Kind.DESIGN), Spread(0.05, "given"))


def test_many_machines_at_once_equal_single_ones() -> None:
    varied = {
        "length": ("length", [0.6, 0.9, 1.3]),
        "foil_resistance": ("resistance per length", [0.1, 0.2, 0.3]),
        "voltage": ("voltage", [4.8, 5.0, 5.2]),
        "full_white": ("current", [0.03, 0.04, 0.05]),
    }

    def design(n: int | None) -> dict[str, Any]:
        take = {k: many(d, v if n is None else [v[n]]) for k, (d, v) in varied.items()}
        if n is not None:
            take = {k: replace(q, si=float(np.asarray(q.si)[0])) for k, q in take.items()}
        tube = many("length", [0.08, 0.1, 0.12])
        if n is not None:
            tube = replace(tube, si=float(np.asarray(tube.si)[n]))
        return SUNBLOOM | {"strips": [STEM | take | {"diffuser": {"diameter": tube}}, STEM | {"name": "other"}]}

    demand, together = assessed(design(None))
    for n in range(3):
        alone, single = assessed(design(n))
        assert np.asarray(demand.strip_current.value)[n] == pytest.approx(alone.strip_current.value, rel=1e-12)
        for f, g in zip(together.findings, single.findings, strict=True):
            assert f.check == g.check
            margins = np.broadcast_to(f.margins, (3, len(f.cases)))
            assert margins[n] == pytest.approx(g.margins, rel=1e-12, abs=1e-12)


def test_heat_of_the_core_by_hand() -> None:
    """2.46 A for 85 % and 6.89 A for 15 % of the show, at 5 V, four fifths of it heat: 12.5 W. From 25 to 60 °C through
    0.13 (1/0.09 + 2/0.311) K/W = 2.28 K/W: 15.3 W."""
    found = of(assessed(SUNBLOOM)[1].findings, "core-stays-cool")
    mean = 0.85 * 216 * (0.001 + 0.2 * 0.0515) + 0.15 * 216 * (0.001 + 0.6 * 0.0515)
    assert float(found.demand[0]) == pytest.approx(0.8 * 5 * mean)
    assert float(found.demand[0]) == pytest.approx(12.4, abs=0.15)
    assert float(found.capacity[0]) == pytest.approx(15.3, abs=0.1)
