"""The wire list on a small machine whose places lie on right triangles, so that every length is known by hand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import pytest

from dryfit.design.read import read_text
from dryfit.ground.errors import DesignError
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import Machine, resolve
from dryfit.machine.wiring_places import WiringPlaces, resolve_wiring
from dryfit.making.records_lists import WireLine, WiringLists
from dryfit.making.wires import cut_length, gauge, wiring_lists

BASE = """\
base:
  wheels: {layout: three omni, circle_radius: 300 mm}
  motor: {item: gearmotor-12v-300rpm-3nm}
body: {parts: [{name: box, shape: box, size: [200 mm, 200 mm, 100 mm], mass: 8 kg, at: [0 mm, 0 mm, 100 mm]}]}
power:
  packs: {item: lifepo4-12v8-7ah, count: 2, lead: {area: 4 mm2, length: 250 mm, fuse: 20 A, connector: power-pair-45}}
  main: {area: 10 mm2, length: 300 mm, fuse: 40 A, fuse_class: bolted}
  branches:
    - {name: motors, area: 2.5 mm2, length: 500 mm, fuse: 25 A, feeds: motors}
    - {name: lamp supply, area: 1.5 mm2, length: 300 mm, fuse: 10 A, regulator: {item: step-down-5v-10a}}
    - {name: lamp, from: lamp supply, area: 1.5 mm2, length: 400 mm, load_power: 5 W}
    - {name: logic, area: 0.75 mm2, length: 300 mm, fuse: 3 A, feeds: logic, regulator: {item: step-down-5v-3a}}
control:
  item: 32-bit-3v3
  functions:
    - {name: go, pin: 2, needs: pwm, frequency: 20 kHz}
    - {name: radio, pin: 9, needs: receiver}
"""
WIRING = """\
wiring:
  slack: 10 %
  tail: 40 mm
  places:
    packs: [0 mm, 0 mm, 0 mm]
    bus: [300 mm, 400 mm, 0 mm]
    drivers: [300 mm, 0 mm, 0 mm]
    brain: [300 mm, 400 mm, 200 mm]
    foot: [0 mm, 400 mm, 0 mm]
    top: [0 mm, 400 mm, 1000 mm]
  runs:
    - {branch: motors, from: bus, to: drivers}
    - {branch: lamp supply, from: bus, to: foot}
    - {branch: lamp, to: top}
"""


def planned(text: str) -> tuple[Machine, WiringPlaces, Ledger]:
    """Machine, places, and the ledger with its faults not yet raised."""
    file = Path("design.yaml")
    design = read_text(text, str(file))
    machine, ledger = resolve(design, file), Ledger("design.yaml")
    return machine, resolve_wiring(design.wiring, ledger, machine.power, machine.control, machine.origins), ledger


def listed(wiring: str = WIRING, base: str = BASE, currents: Mapping[str, float] | None = None) -> WiringLists:
    machine, places, ledger = planned(base + wiring)
    ledger.close()
    return wiring_lists(machine, places, currents or {})


def by_number(lists: WiringLists) -> dict[str, WireLine]:
    out = {w.number: w for w in lists.wires}
    assert len(out) == len(lists.wires), "two wires share a number"
    return out


def test_length_is_the_straight_way_with_slack_and_two_tails_rounded_up() -> None:
    # bus to drivers is 400 mm: 440 + 80 = 520; bus to foot 300 mm: 330 + 80 = 410; foot to top 1 m: 1180.
    wires = by_number(listed())
    assert wires["b1a"].length == pytest.approx(0.52) == wires["b1b"].length
    assert wires["b2a"].length == pytest.approx(0.41)
    assert wires["b3a"].length == pytest.approx(1.18)


@pytest.mark.parametrize(
    ("metres", "exact", "cut"), [(0.4, False, 0.52), (0.401, False, 0.53), (0.4, True, 0.48), (0.0, True, 0.08)]
)
def test_lengths_are_rounded_up_to_ten_millimetres_and_never_down(metres: float, exact: bool, cut: float) -> None:
    length, _ = cut_length(metres, exact, 0.1, 0.04)
    assert length == pytest.approx(cut)
    assert length >= metres * (1.0 if exact else 1.1) + 0.08 - 1e-9


def test_a_way_with_stops_is_the_sum_of_its_pieces() -> None:
    # packs to drivers over foot: 400 + 500 mm
    wiring = WIRING.replace("{branch: motors, from: bus, to: drivers}",
                            "{branch: motors, from: packs, by: [foot], to: drivers}")  # fmt: skip
    assert by_number(listed(wiring))["b1a"].length == pytest.approx(math.ceil(99 + 8) / 100)


def test_a_run_begins_where_what_feeds_it_ends() -> None:
    assert by_number(listed())["b3a"].begins == "foot"


def test_every_supply_wire_has_its_way_back_and_every_pack_its_lead() -> None:
    wires = by_number(listed())
    assert {"p1a", "p1b", "p2a", "p2b", "m1a", "m1b", "b1a", "b1b", "b4a", "b4b"} <= set(wires)
    assert wires["p1a"].length == wires["p2a"].length, "equal leads share the load"
    assert wires["p1a"].fuse == 20.0
    assert math.isinf(wires["p1b"].fuse)


def test_a_shared_return_has_no_wire_of_its_own() -> None:
    base = BASE.replace("name: lamp, from: lamp supply,", "name: lamp, from: lamp supply, returns_with: logic,")
    lists = listed(base=base)
    assert "b3a" in by_number(lists)
    assert "b3b" not in by_number(lists)
    assert any("lamp has no way back of its own: it returns with logic" in n for n in lists.notes)


def test_what_is_longer_than_the_checks_reckon_with_is_told_with_the_number_to_write() -> None:
    notes = [n for n in listed().notes if "the checks reckon with" in n]
    # lamp: 1180 mm against 400; motors: 520 against 500 is within a tenth, lamp supply: 410 against 300 is not
    assert [n.partition(":")[0] for n in notes] == ["lamp supply", "lamp"]
    assert "write `length: 1180 mm`" in notes[1]
    longer = BASE.replace("length: 400 mm, load_power", "length: 1180 mm, load_power")
    assert not any(n.startswith("lamp:") for n in listed(base=longer).notes)


def test_a_branch_without_a_way_is_listed_as_typed() -> None:
    lists = listed()
    logic = by_number(lists)["b4a"]
    assert logic.length == pytest.approx(0.38)
    assert "300 mm as typed" in logic.way
    assert any(n.startswith("As typed, no way given:") and "logic 300 mm" in n for n in lists.notes)


def test_without_any_places_the_lengths_of_the_checks_are_cut() -> None:
    lists = listed(wiring="")
    assert by_number(lists)["b1a"].length == pytest.approx(0.58)
    assert not any("reckon" in n for n in lists.notes)


def test_a_connector_on_the_way_makes_two_pieces() -> None:
    wiring = (
        WIRING.replace("to: top}", "from: bus, by: [foot], to: top}")
        + """\
  connectors:
    - {name: parting, at: foot, item: pin-3.96, contacts: [lamp, lamp return, spare]}
"""
    )
    lists = listed(wiring)
    wires = by_number(lists)
    # 300 mm and 1000 mm, each with its own slack and tails
    assert (wires["b3a1"].length, wires["b3a2"].length) == (pytest.approx(0.41), pytest.approx(1.18))
    assert wires["b3a1"].end_fitting == wires["b3a2"].begin_fitting == "parting 1"
    assert wires["b3b1"].end_fitting == "parting 2"
    assert [c.wire for c in lists.connectors[0].contacts] == ["b3a1 / b3a2", "b3b1 / b3b2", ""]
    assert ("contact: crimped pin at 3.96 mm pitch", 4) in lists.fittings
    assert any("parting: 1.5 mm² does not go into" in n or n.startswith("parting: 1.5") for n in lists.notes)


def test_a_supply_ends_on_a_connector_only_with_its_way_back() -> None:
    # the radio's plug at the brain takes its supply from there; the branch that feeds the brain does not end on it
    wiring = WIRING.replace("- {branch: lamp, to", "- {branch: logic, from: bus, to: brain}\n    - {branch: lamp, to")
    wiring += (
        SIGNALS + "  connectors:\n    - {name: plug, at: brain, item: pin-2.54, contacts: [radio, logic, ground]}\n"
    )
    lists = listed(wiring)
    wires = by_number(lists)
    assert wires["b4a"].end_fitting.startswith("ferrule")
    assert wires["s2b"].end_fitting == "plug 2"
    assert [c.wire for c in lists.connectors[0].contacts] == ["s2a", "s2b", "s2c"]


@pytest.mark.parametrize(("place", "volts"), [("bus", 12.8), ("foot", 5.0)])
def test_a_connector_before_a_regulator_carries_what_goes_into_it(place: str, volts: float) -> None:
    plug = f"  connectors:\n    - {{name: plug, at: {place}, contacts: [lamp supply, lamp supply return]}}\n"
    assert listed(WIRING + plug).connectors[0].contacts[0].volts == pytest.approx(volts)


SIGNALS = """\
  wires:
    - {name: control, from: brain, to: drivers, carries: [go, ground]}
    - {name: radio line, from: top, to: brain, carries: [radio, logic, ground], length: 2 m}
"""


def test_signals_are_listed_one_wire_each_with_colours_of_their_own() -> None:
    wires = by_number(listed(WIRING + SIGNALS))
    assert [wires[n].name for n in ("s1a", "s1b", "s2a", "s2b", "s2c")] == ["go", "ground", "radio", "logic", "ground"]
    assert wires["s1b"].colour == wires["s2c"].colour == "black"
    assert len({wires[n].colour for n in ("s2a", "s2b", "s2c")}) == 3
    # 2 m as measured takes its tails but no slack; brain to drivers is the hypotenuse of 400 and 200 mm
    assert wires["s2a"].length == pytest.approx(2.08)
    assert wires["s1a"].length == pytest.approx(math.ceil((math.hypot(400, 200) * 1.1 + 80) / 10) / 100)


def test_typed_colours_win() -> None:
    coloured = WIRING.replace("to: drivers}", "to: drivers, colours: [violet, grey]}")
    coloured += SIGNALS.replace("carries: [go, ground]", "carries: [go, ground], colours: [pink, white]")
    wires = by_number(listed(coloured))
    assert (wires["b1a"].colour, wires["b1b"].colour) == ("violet", "grey")
    assert (wires["s1a"].colour, wires["s1b"].colour) == ("pink", "white")


def test_rails_of_different_volts_have_different_colours() -> None:
    wires = by_number(listed())
    assert wires["b1a"].colour == wires["b2a"].colour == "red", "both carry what the packs give"
    assert wires["b3a"].colour not in ("red", "black"), "5 V behind the regulator"


def test_the_packs_share_the_main_line_where_nothing_else_is_known() -> None:
    wires = by_number(listed(currents={"main": 20.0}))
    assert (wires["m1a"].current, wires["p1a"].current) == (20.0, 10.0)


def test_labels_say_at_both_ends_where_the_wire_goes() -> None:
    w = by_number(listed())["b1a"]
    assert w.labels == ("b1a motors\nat bus, to drivers", "b1a motors\nat drivers, from bus")


def test_rolls_hold_every_wire_with_a_tenth_more() -> None:
    lists = listed(WIRING + SIGNALS)
    cut: dict[str, float] = {}
    for w in lists.wires:
        key = f"{w.gauge}, {w.colour}"
        cut[key] = cut.get(key, 0.0) + w.length
    assert dict(lists.rolls).keys() == cut.keys()
    for key, metres in lists.rolls:
        assert cut[key] * 1.1 <= metres + 1e-9 < cut[key] * 1.1 + 0.5 + 1e-9


def test_every_end_has_a_fitting_and_is_counted() -> None:
    lists = listed(WIRING + SIGNALS)
    assert all(w.begin_fitting and w.end_fitting for w in lists.wires)
    counts = dict(lists.fittings)
    assert counts["ring terminal for 10 mm²"] == 4
    # each of four pack wires has both halves of its connector
    assert counts["flat power contact 45 A class"] == 8


def test_contacts_that_carry_too_much_and_thin_wires_behind_large_fuses_are_told() -> None:
    wiring = (
        WIRING
        + """\
  wires:
    - {name: motor leads, from: drivers, to: foot, carries: [motors, motors return], area: 0.5 mm2}
  connectors:
    - {name: parting, at: top, item: pin-3.96, contacts: [lamp, lamp return]}
"""
    )
    notes = listed(wiring, currents={"lamp": 6.0}).notes
    assert any(n.startswith("parting: lamp lasts at 6 A each way, and one contact of 7 A") for n in notes)
    # 0.5 mm² bears 7.9 A (IEC 60204-1, from memory), the fuse is 25 A
    assert any(n.startswith("motor leads: motors runs in 0.5 mm² behind a fuse of 25 A") for n in notes)
    assert not any("lasts at" in n for n in listed(wiring, currents={"lamp": 4.0}).notes)


def test_currents_and_fuses_stand_at_the_wires() -> None:
    wires = by_number(listed(currents={"motors": 12.5, "packs": 8.0}))
    assert wires["b1a"].current == wires["b1b"].current == 12.5
    assert wires["p2a"].current == 8.0
    assert math.isnan(wires["b2a"].current)
    assert wires["b1a"].fuse == 25.0


FAULTS = [
    ("{branch: motors, from: bus, to: drivers}", "{branch: motors, from: buss, to: drivers}",
     "no place named 'buss'; did you mean bus"),
    ("{branch: motors, from", "{branch: motor, from", "no branch named 'motor'; did you mean motors"),
    ("{branch: lamp supply, from", "{branch: motors, from", "one way only"),
    ("to: drivers}", "to: drivers, colours: [red]}", "1 colours for 2 wires"),
    ("{branch: motors, from: bus, to: drivers}", "{branch: motors, from: bus}", "a wire with no route"),
    ("carries: [go, ground]", "carries: [gone, ground]", "nothing named 'gone' to carry; did you mean go"),
    ("carries: [go, ground]", "carries: [motors returns]", "did you mean motors return"),
    ("carries: [go, ground]", "carries: []", "a bundle without a wire"),
    ("carries: [go, ground]", "carries: [go, ground], colours: [red]", "1 colours for 2 wires"),
    ("from: brain, to: drivers,", "from: brain, to: brain,", "ends where it begins"),
    ("name: radio line", "name: control", "two bundles of wires share a name"),
    ("contacts: [lamp, lamp return]", "contacts: [lamp, radios]", "'radios' to carry; did you mean radio"),
    ("contacts: [lamp, lamp return]", "contacts: []", "a connector without a contact"),
    ("contacts: [lamp, lamp return]", "contacts: [lamp, lamp return], rows: 3", "do not fill 3 rows"),
    ("contacts: [lamp, lamp return]", "contacts: [lamp, lamp return], mates: other", "no other connector named"),
    ("contacts: [lamp, lamp return]", "contacts: [lamp], mates: second", "do not fit on each other"),
    ("at: top, item: pin-3.96", "at: topp, item: pin-3.96", "no place named 'topp'; did you mean top"),
    ("item: pin-3.96, contacts: [lamp, l", "item: pin-4, contacts: [lamp, l", "no row of the catalogue's connectors"),
    ("name: second", "name: parting", "two connectors share a name"),
]  # fmt: skip
ALL = (
    WIRING
    + SIGNALS
    + """\
  connectors:
    - {name: parting, at: top, item: pin-3.96, contacts: [lamp, lamp return]}
    - {name: second, at: foot, item: pin-3.96, contacts: [go, ground]}
"""
)


@pytest.mark.parametrize(("right", "wrong", "said"), FAULTS)
def test_faults_name_line_and_what_is_accepted(right: str, wrong: str, said: str) -> None:
    assert planned(BASE + ALL)[2].faults == []
    text = BASE + ALL.replace(right, wrong, 1)
    assert text != BASE + ALL
    ledger = planned(text)[2]
    with pytest.raises(DesignError) as raised:
        ledger.close()
    here = [f for f in raised.value.faults if said in str(f)]
    assert here, [str(f) for f in raised.value.faults]
    # the fault stands on the line that was changed
    changed = [a != b for a, b in zip(text.splitlines(), (BASE + ALL).splitlines(), strict=True)]
    line = 1 + changed.index(True)
    assert here[0].line == line
    assert "; read " in str(here[0])
    assert "accepted: " in str(here[0]) or "there are: " in str(here[0]) or "did you mean" in str(here[0])


def test_a_branch_with_neither_length_nor_way_names_both_keys() -> None:
    text = BASE.replace("area: 0.75 mm2, length: 300 mm, fuse: 3 A", "area: 0.75 mm2, fuse: 3 A") + WIRING
    faults = planned(text)[2].faults
    assert len(faults) == 1
    assert "logic has neither a length nor a run" in str(faults[0])
    assert "`length` at the branch, or `branch: logic` under wiring.runs" in str(faults[0])
    assert text.splitlines()[faults[0].line - 1].strip().startswith("- {name: logic")


def test_half_a_file_gets_a_list_that_says_what_was_assumed() -> None:
    half = BASE[: BASE.index("power:")]
    lists = listed(wiring="", base=half)
    assert any(n.startswith("Assumed, neither way nor length given:") for n in lists.notes)
    assert {"p1a", "m1a", "b1a"} <= set(by_number(lists))


@pytest.mark.parametrize(("area", "text"), [(1.309e-6, "AWG 16"), (0.2047e-6, "AWG 24"), (107.2e-6, "AWG 4/0")])
def test_gauges_find_themselves(area: float, text: str) -> None:
    assert text in gauge(area)


def test_the_list_is_the_same_every_time() -> None:
    # as text, in which unknown currents are alike
    assert repr(listed(ALL)) == repr(listed(ALL))
