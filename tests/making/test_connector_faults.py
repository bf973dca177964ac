"""What dies when contacts touch, against truth tables written by hand, and against Ohm's law."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest

from dryfit.design.read import read_text
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import resolve
from dryfit.machine.wiring_places import Plug, resolve_wiring
from dryfit.making import connector_faults as cf
from dryfit.making.connector_faults import Net, connector_faults, neighbours, put_on, reversed_shell, swapped, touching
from dryfit.making.wires import wiring_lists

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "sunbloom" / "design.yaml"

BUS = Net("bus", "supply", 12.8, rail="bus", fuse=20.0, fused_by="bus", rating=30.0)
WELDS = Net("thin bus", "supply", 12.8, rail="bus", fuse=20.0, fused_by="bus", rating=7.0)
OPEN = Net("bare bus", "supply", 12.8, rail="bus", rating=30.0)
FIVE = Net("five", "supply", 5.0, rail="five", regulated=True, fuse=3.0, fused_by="five", rating=3.0)
SIX = Net("six", "supply", 6.0, rail="six", regulated=True, fuse=10.0, fused_by="six", rating=30.0)
FIVE_TOO = Net("five too", "supply", 5.2, rail="five too", regulated=True, fuse=3.0, fused_by="five too", rating=3.0)
GROUND = Net("ground", "ground")
BACK = Net("bus return", "ground")
SPARE = Net("spare", "spare")
OUT = Net("out", "signal", 3.3, drives=True, stands=3.6, far_stands=3.6, pin="2")
OUT_TOO = Net("out too", "signal", 3.3, drives=True, stands=3.6, far_stands=3.6, pin="4")
GUARDED = Net("guarded", "signal", 3.3, drives=True, stands=3.6, far_stands=3.6, resistor=1000.0, pin="3")
HEARS = Net("hears", "signal", 3.3, listens=True, stands=3.6, far_stands=5.3, pin="9")
HEARS_TOO = Net("hears too", "signal", 3.3, listens=True, stands=3.6, far_stands=5.3, pin="8")
DATA = Net("data", "signal", 5.0, drives=True, stands=5.3, far_stands=5.5, resistor=330.0, pin_current=0.025,
           shifted=True, far="the first LED")  # fmt: skip

TRUTH = [
    # two that touch, whether something dies (None: not worth a word), a word that must be said
    (BUS, GROUND, False, "fuse of bus (20 A) blows"),
    (WELDS, GROUND, True, "weld"),
    (OPEN, GROUND, True, "no fuse"),
    (FIVE, GROUND, True, "regulator of five"),
    (GROUND, BACK, None, ""),
    (SPARE, BUS, None, ""),
    (FIVE, FIVE, None, ""),
    (BUS, FIVE, True, "12.8 V reach the 5 V of five"),
    (SIX, FIVE, True, "6 V reach the 5 V"),
    (FIVE, FIVE_TOO, False, "work against each other"),
    (BUS, WELDS, False, "one rail"),
    (BUS, OUT, True, "pin 2 of the controller, which stands 3.6 V"),
    (FIVE, OUT, True, "stands 3.6 V"),
    (FIVE, HEARS, True, "pin 9"),
    (BUS, DATA, True, "the level shifter, which stands 5.3 V and the first LED, which stands 5.5 V"),
    (FIVE, DATA, False, "15.2 mA pass"),
    (GROUND, OUT, True, "may die"),
    (GROUND, GUARDED, False, "nothing dies"),
    (GROUND, DATA, False, "nothing dies"),
    (GROUND, HEARS, False, "reads 0 V"),
    (OUT, OUT_TOO, True, "either pin may die"),
    (OUT, GUARDED, False, "nothing dies"),
    (DATA, OUT, True, "5 V of data kill pin 2"),
    (DATA, HEARS, True, "5 V of data kill pin 9"),
    (OUT, HEARS, False, "hears reads what out sends"),
    (HEARS, HEARS_TOO, False, "both readings are false"),
]


@pytest.mark.parametrize(("a", "b", "dies", "said"), TRUTH)
def test_truth_table_of_touching(a: Net, b: Net, dies: bool | None, said: str) -> None:
    fault = touching(a, b)
    assert fault == touching(b, a)
    if dies is None:
        assert fault is None
    else:
        assert fault is not None
        assert fault[1] is dies, fault[0]
        assert said in fault[0], fault[0]


def test_every_two_kinds_have_an_answer_that_does_not_hang_on_their_order() -> None:
    nets = [BUS, FIVE, GROUND, SPARE, OUT, GUARDED, HEARS, DATA]
    for a, b in product(nets, nets):
        assert touching(a, b) == touching(b, a)


@pytest.mark.parametrize("resistor", [100.0, 200.0, 249.0, 251.0, 330.0, 1000.0])
def test_a_resistor_saves_a_pin_just_when_ohms_law_says_so(resistor: float) -> None:
    # 5 V into a pin that sends low and carries 20 mA: 250 ohm is the limit.
    net = Net("line", "signal", 5.0, drives=True, stands=5.5, far_stands=5.5, resistor=resistor, pin_current=0.02)
    fault = touching(FIVE, net)
    assert fault is not None
    assert fault[1] is (5.0 / resistor > 0.02)


@pytest.mark.parametrize("volts", [3.3, 3.59, 3.61, 5.0, 7.4, 12.8])
def test_a_listening_pin_dies_just_above_what_it_stands(volts: float) -> None:
    fault = touching(Net("rail", "supply", volts, rail="rail", regulated=True), HEARS)
    assert fault is not None
    assert fault[1] is (volts > 3.6)


def test_neighbours_along_and_across_rows() -> None:
    assert neighbours(4, 1) == ((0, 1), (1, 2), (2, 3))
    # 1 2 3 above 4 5 6
    assert set(neighbours(6, 2)) == {(0, 1), (1, 2), (3, 4), (4, 5), (0, 3), (1, 4), (2, 5)}
    assert neighbours(1, 1) == ()
    assert set(neighbours(3, 3)) == {(0, 1), (1, 2)}


def test_what_kills_comes_first_and_every_pair_is_named_once() -> None:
    faults = connector_faults((GROUND, HEARS, FIVE, GROUND, HEARS), 1, keyed=True)
    assert [dies for _, dies in faults] == sorted((dies for _, dies in faults), reverse=True)
    assert faults[-1][0].startswith("1–2, 4–5")
    assert not any(text.startswith("reversed") for text, _ in faults)


def test_a_reversed_pair_gets_its_volts_the_wrong_way_round() -> None:
    (text, dies), *_ = reversed_shell((BUS, BACK))
    assert dies
    assert "12.8 V the wrong way round" in text


def test_power_in_the_middle_bears_reversal() -> None:
    # the usual order of servo and receiver leads: signal, supply, ground
    assert not any(dies for _, dies in reversed_shell((HEARS, FIVE, GROUND)))
    faults = connector_faults((HEARS, FIVE, GROUND), 1, keyed=False)
    assert ("reversed: it does not work, and nothing dies", False) in faults


def test_power_at_the_edge_does_not_bear_reversal() -> None:
    faults = reversed_shell((FIVE, GROUND, HEARS))
    assert any(dies and "backwards" in text for text, dies in faults), faults


def test_a_symmetric_shell_with_grounds_outside_only_shifts_signals() -> None:
    faults = reversed_shell((GROUND, OUT, OUT_TOO, GROUND))
    assert all(not dies for _, dies in faults), faults


def test_reversal_that_joins_supply_and_ground_is_a_short() -> None:
    # feed, ground, ground-bound middle: 1 meets ground, 3 meets feed, 2 stays ground
    faults = reversed_shell((FIVE, GROUND, BACK))
    assert any("shorted" in text and dies for text, dies in faults), faults


@pytest.mark.parametrize(("a", "b", "dies"), [(SIX, FIVE, True), (FIVE, SIX, False), (FIVE, FIVE_TOO, False)])
def test_a_foreign_rail_kills_only_when_it_is_higher(a: Net, b: Net, dies: bool) -> None:
    faults = put_on((a, GROUND), (b, GROUND), (0, 1))
    assert [d for _, d in faults] == [dies]


def test_a_pin_on_a_dead_rail_has_to_feed_it() -> None:
    assert any(dies and "has to feed" in text for text, dies in put_on((OUT, GROUND), (FIVE, GROUND), (0, 1)))


def test_a_better_order_has_fewer_deadly_faults_and_the_same_contacts() -> None:
    nets = (FIVE, HEARS, GROUND, OUT)
    order = cf.better_order(nets, 1, keyed=True)
    assert sorted(order) == sorted(n.name for n in nets)
    by_name = {n.name: n for n in nets}

    def deadly(of: tuple[Net, ...]) -> int:
        return sum(dies for _, dies in connector_faults(of, 1, keyed=True))

    assert deadly(tuple(by_name[n] for n in order)) < deadly(nets)


def test_nothing_is_offered_where_nothing_is_better() -> None:
    assert cf.better_order((HEARS, GROUND, FIVE), 1, keyed=True) == ()
    assert cf.better_order((FIVE, GROUND), 1, keyed=True) == ()
    assert cf.better_order((FIVE, GROUND) * 20, 1, keyed=True) == ()


ALIKE = (
    ("arm feed, arm feed, arm feed, arm feed,\n", "arm feed, arm feed,\n"),
    ("arm feed return, arm feed return, arm feed return, arm feed return, ground, petals",
     "arm feed return, arm feed return, petals, ground"),
    ("stem feed return, strips, ground]\n", "stem feed return, strips, ground]\n      mates: arm plug\n"),
)  # fmt: skip
"""What makes the two plugs of the example alike."""


def test_plugs_that_can_be_swapped_are_found() -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    for old, new in ALIKE:
        assert old in text
        text = text.replace(old, new)
    design = read_text(text, str(EXAMPLE))
    machine, ledger = resolve(design, EXAMPLE), Ledger("design.yaml")
    places = resolve_wiring(design.wiring, ledger, machine.power, machine.control, machine.origins)
    ledger.close()
    maps = {c.name: c for c in wiring_lists(machine, places, {}).connectors}
    deadly = [text for text, dies in maps["stem plug"].faults if dies]
    assert "arm plug on stem plug: arm feed puts 7.4 V on what stem feed feeds with 5 V: it dies" in deadly
    assert any("different pole counts" in r for r in maps["stem plug"].remedies)
    assert {k.carries: k.volts for k in maps["arm plug"].contacts}["arm feed"] == pytest.approx(7.4)
    # voltages of the solved supply are shown where they are handed in
    solved = wiring_lists(machine, places, {}, {"arm feed": 7.21}).connectors
    assert {k.carries: k.volts for k in solved[1].contacts}["arm feed"] == 7.21


def test_swapping_alike_plugs_does_no_harm() -> None:
    def plug(name: str) -> Plug:
        return Plug(name, "", "", "connector", 7.0, 1e-6, ("five", "ground"), 1, True, "", 1)

    assert swapped(plug("left"), (FIVE, GROUND), plug("right"), (FIVE, GROUND)) == ()
