"""What happens when neighbouring contacts touch, when a shell goes in the wrong way round, or on another connector.

Everything on a contact is a net: a supply of so many volts behind a fuse or a regulator, the way back, or a signal with
the controller at one end. Pins stand their own supply and a little more; a supply may be a tenth too high before what
hangs on it suffers (common practice).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import permutations

from dryfit.ground.units import show
from dryfit.machine.control import Control
from dryfit.machine.light import Light
from dryfit.machine.power import Power
from dryfit.machine.wiring_places import GROUND, RETURN, SPARE, Plug, WiringPlaces

PIN_OVER_SUPPLY = 0.3
"""What a logic pin stands above its own supply, V. Absolute ratings of sheets say 0.3 to 0.5; the smaller is taken."""

STRIP_OVER_SUPPLY = 0.5
"""What the data input of an addressable LED stands above its own supply, V (sheets of such LEDs)."""

SHIFTER_CURRENT = 0.025
"""What the output of a level shifter carries without harm, A (absolute rating of logic gates, from memory)."""

RAIL_BAND = 0.1
"""Part by which a supply may be too high before what hangs on it dies (common practice)."""

DRIVES = ("pwm", "servo pulses", "strip data", "output", "serial")
LISTENS = ("receiver", "interrupt", "analogue", "input", "serial")
_MOST_TRIED = 7
"""Contacts up to which every order is tried for a better one."""

Fault = tuple[str, bool]


@dataclass(frozen=True)
class Net:
    """What one contact carries. kind: supply, ground, signal or spare.  volts: of a supply, or of a high signal.

    Of a supply: rail: name of the branch whose regulator (or the bus) makes its volts; regulated: a regulator stands
    between it and the fuse; fuse: rating, A, infinite without one; fused_by: whose fuse it is; rating: of the contacts
    that carry it, together, A, NaN unknown.
    Of a signal: drives, listens: what the controller's end does; stands, far_stands: volts that this end and the other
    bear; resistor: in series, ohm; pin_current: that the end may carry, A; pin: its name; far: what hangs at the other
    end, in words; shifted: a level shifter stands between.
    """

    name: str
    kind: str
    volts: float = 0.0
    rail: str = ""
    regulated: bool = False
    fuse: float = float("inf")
    fused_by: str = ""
    rating: float = float("nan")
    drives: bool = False
    listens: bool = False
    stands: float = 0.0
    far_stands: float = 0.0
    resistor: float = 0.0
    pin_current: float = 0.02
    pin: str = ""
    far: str = ""
    shifted: bool = False


def nets_of(
    plug: Plug, places: WiringPlaces, power: Power, control: Control, light: Light, volts: Mapping[str, float]
) -> tuple[Net, ...]:
    """The nets on a connector's contacts, in order. volts: at the end of each branch, behind a regulator there."""
    return tuple(_net(name, plug, places, power, control, light, volts) for name in plug.contacts)


def usual_volts(power: Power) -> dict[str, float]:
    """Volts at the end of each branch without any load: the regulator's output, or the packs' nominal voltage."""
    b = power.branches
    out: dict[str, float] = {}
    for n, name in enumerate(b.names):
        at = n
        while at >= 0 and not b.regulated[at]:
            at = b.parent[at]
        out[name] = float(power.packs.nominal) if at < 0 else float(b.output[..., at])
    return out


def _net(
    name: str, plug: Plug, places: WiringPlaces, power: Power, control: Control, light: Light,
    volts: Mapping[str, float],
) -> Net:  # fmt: skip
    if name == SPARE:
        return Net(name, "spare")
    if name in control.names:
        return _signal(name, places, control, light, volts)
    if name == GROUND or name.removesuffix(RETURN) not in power.branches.names or name.endswith(RETURN):
        return Net(name, "ground")
    return _supply(name, plug, places, power, volts)


def _supply(name: str, plug: Plug, places: WiringPlaces, power: Power, volts: Mapping[str, float]) -> Net:
    b = power.branches
    at = b.names.index(name)
    way = places.ways.get(name)
    # A connector on the way to a regulator carries what goes into it.
    before = b.regulated[at] and way is not None and plug.at in way.stops[:-1]
    parent = b.parent[at]
    entering = float(power.packs.nominal) if parent < 0 else volts[b.names[parent]]
    high = entering if before else volts[name]
    regulated, rail, chain = False, "bus", []
    k = at
    while k >= 0:
        if b.regulated[k] and not (before and k == at):
            if not regulated:
                rail = b.names[k]
            regulated = True
        chain.append(k)
        k = b.parent[k]
    fuse, by = float("inf"), ""
    for k in chain:
        if b.fused[k]:
            fuse, by = float(b.fuse[..., k]), b.names[k]
            break
    if not by and power.main_fused:
        fuse, by = float(power.main.fuse), "the main line"
    elif not by and power.packs_fused:
        fuse, by = float(power.packs.lead_fuse), "the pack's lead"
    many = sum(1 for c in plug.contacts if c == name)
    return Net(
        name, "supply", volts=high, rail=rail, regulated=regulated, fuse=fuse, fused_by=by,
        rating=plug.rating * (1 + 0.8 * (many - 1)),
    )  # fmt: skip


def _signal(name: str, places: WiringPlaces, control: Control, light: Light, volts: Mapping[str, float]) -> Net:
    n = control.names.index(name)
    needs, high = control.needs[n], places.logic_volts
    # What gets its supply in the same bundle stands that supply; of other things only the controller's volts are known.
    fed = [volts[c] for b in places.bundles if name in b.carries for c in b.carries if c in volts]
    net = Net(
        name, "signal", volts=high, drives=needs in DRIVES, listens=needs in LISTENS, stands=high + PIN_OVER_SUPPLY,
        far_stands=max([high, *fed]) + PIN_OVER_SUPPLY, pin_current=float(control.pin_current), pin=control.pins[n],
        far=f"what {name} goes to" if needs in DRIVES else f"what {name} comes from",
    )  # fmt: skip
    if needs != "strip data" or not light.strips:
        return net
    resistor = float(light.series_resistor)
    net = replace(
        net, far="the strip's first LED", far_stands=float(light.voltage[..., 0]) + STRIP_OVER_SUPPLY,
        resistor=resistor if resistor > 0 else 0.0,
    )  # fmt: skip
    if not light.shifted:
        return net
    high = float(light.logic_volts)
    return replace(net, volts=high, stands=high + PIN_OVER_SUPPLY, pin_current=SHIFTER_CURRENT, shifted=True)


def touching(a: Net, b: Net) -> Fault | None:
    """What happens when two contacts that are both in use touch, and whether something dies; None where nothing does.

    Either order of the two gives the same answer.
    """
    order = ("supply", "signal", "ground", "spare")
    a, b = sorted((a, b), key=lambda net: (order.index(net.kind), -net.volts, net.name))
    if b.kind == "spare" or a.name == b.name or (a.kind, b.kind) == ("ground", "ground"):
        return None
    return _TOUCH[(a.kind, b.kind)](a, b)


def _short(a: Net, _: Net) -> Fault:
    fuse = f"the fuse of {a.fused_by} ({show(a.fuse, 'A')})" if a.fused_by else ""
    if a.regulated:
        last = f"{fuse} is the last to act" if fuse else "no fuse stands behind it"
        return f"{a.volts:.3g} V shorted: the regulator of {a.rail} limits its current or dies; {last}", True
    if not fuse:
        return f"{a.volts:.3g} V shorted with no fuse in the way: contact and wire burn", True
    if a.fuse <= a.rating:
        return f"{a.volts:.3g} V shorted: {fuse} blows, which is what it is for", False
    bears = f", which bear {show(a.rating, 'A')}, may weld" if a.rating == a.rating else " may weld"
    return f"{a.volts:.3g} V shorted: {fuse} blows; until then the contacts{bears}", True


def _two_supplies(a: Net, b: Net) -> Fault:
    if a.rail == b.rail:
        return "both hang on one rail: nothing dies, but current goes past the fuse that was meant for it", False
    if a.volts > b.volts * (1 + RAIL_BAND):
        return f"{a.volts:.3g} V reach the {b.volts:.3g} V of {b.name}: what hangs on it dies", True
    return "two regulators work against each other: nothing dies at once, one of them gets hot", False


def _supply_on_signal(a: Net, b: Net) -> Fault:
    deaths, rest = [], ""
    if a.volts > b.stands + 1e-9:
        deaths.append(f"{_end(b)}, which stands {b.stands:.3g} V")
    elif b.drives and _through(a.volts, b) > b.pin_current:
        deaths.append(f"{_end(b)}, as soon as it sends low against them")
    elif b.drives and b.resistor:
        rest = f"its {show(b.resistor, 'ohm')} let {_through(a.volts, b) * 1e3:.3g} mA pass, and it stays high"
    else:
        rest = "it reads high for good"
    if a.volts > b.far_stands + 1e-9:
        deaths.append(f"{b.far}, which stands {b.far_stands:.3g} V")
    if deaths:
        return f"{a.volts:.3g} V on {b.name}: kills {' and '.join(dict.fromkeys(deaths))}", True
    return f"{a.volts:.3g} V on {b.name}: nothing dies; {rest}", False


def _signal_to_ground(a: Net, _: Net) -> Fault:
    if a.drives and _through(a.volts, a) > a.pin_current:
        return f"{a.name} held at 0 V: {_end(a)} may die, as it sends high against a short", True
    if a.drives:
        return (
            f"{a.name} held at 0 V: nothing dies; {show(a.resistor, 'ohm')} hold the current, the line is silent",
            False,
        )
    return f"{a.name} reads 0 V: nothing dies; it is as if the wire were cut", False


def _two_signals(a: Net, b: Net) -> Fault:
    for one, other in ((a, b), (b, a)):
        if one.drives and one.volts > other.stands + 1e-9:
            return f"{one.volts:.3g} V of {one.name} kill {_end(other)}, which stands {other.stands:.3g} V", True
    if a.drives and b.drives:
        current = max(a.volts, b.volts) / max(a.resistor + b.resistor, 1e-9)
        if current > min(a.pin_current, b.pin_current):
            return "two outputs that differ work against each other: either pin may die", True
        return (
            f"two outputs work against each other through {show(a.resistor + b.resistor, 'ohm')}: nothing dies",
            False,
        )
    if a.drives or b.drives:
        hears, sends = (b, a) if a.drives else (a, b)
        return f"{hears.name} reads what {sends.name} sends: nothing on the board dies, the reading is false", False
    return "two signals mixed: nothing on the board dies, both readings are false", False


_TOUCH = {
    ("supply", "ground"): _short,
    ("supply", "supply"): _two_supplies,
    ("supply", "signal"): _supply_on_signal,
    ("signal", "ground"): _signal_to_ground,
    ("signal", "signal"): _two_signals,
}


def _through(volts: float, net: Net) -> float:
    """Current that `volts` drive through what stands in the way of a pin, A: infinite where nothing does."""
    return volts / net.resistor if net.resistor else float("inf")


def _end(net: Net) -> str:
    """The controller's end of a signal, in words."""
    if net.shifted:
        return "the level shifter"
    return f"pin {net.pin} of the controller" if net.pin else "the controller's pin"


def neighbours(count: int, rows: int) -> tuple[tuple[int, int], ...]:
    """Pairs of contacts, from 0, that lie beside each other: along a row, and across rows."""
    across = count // rows
    along = [(n, n + 1) for n in range(count - 1) if (n + 1) % across]
    return (*along, *((n, n + across) for n in range(count - across)))


def put_on(live: Sequence[Net], far: Sequence[Net], order: Sequence[int]) -> tuple[Fault, ...]:
    """What happens when the half with the supplies behind it goes onto a half that it was not made for.

    live: nets of the half that the supplies and the controller stand behind.  far: nets of the other half, behind which
    hangs what is fed.  order: for each contact of `live` the contact of `far` that it meets, from 0.
    """
    met: dict[str, list[Net]] = {}
    for n, m in enumerate(order):
        # whatever is fed has its grounds joined
        met.setdefault(GROUND if far[m].kind == "ground" else far[m].name, []).append(live[n])
    on_ground = met.get(GROUND, [])
    turned = any(x.kind == "supply" for x in on_ground) and not any(x.kind == "ground" for x in on_ground)
    # A part whose own supply is missing is fed backwards through whatever signal pin gets volts.
    fed = any(x.kind == "supply" for net in far if net.kind == "supply" for x in met[net.name])
    out: list[Fault] = []
    for net in dict.fromkeys(far):
        here = met.get(GROUND if net.kind == "ground" else net.name, [])
        if net.kind == "supply" and turned and any(x.kind == "ground" for x in here):
            volts = max(x.volts for x in on_ground)
            out.append((f"what {net.name} feeds gets {volts:.3g} V the wrong way round and dies", True))
        for a in here:
            fault = _lands(a, net, fed)
            if fault is not None:
                out.append(fault)
    for here in met.values():
        # two contacts of the live half joined by what hangs on the other
        pairs = [(a, b) for n, a in enumerate(here) for b in here[n + 1 :]]
        out += [
            (f"{a.name} and {b.name} are joined there: {f[0]}", f[1])
            for a, b in pairs
            if (f := touching(a, b)) is not None
        ]
    return _sorted(out)


def _lands(a: Net, b: Net, fed: bool) -> Fault | None:
    """A live contact on what hangs behind a contact of the other half. fed: that half gets some supply."""
    if a.name == b.name:
        return None
    if (a.kind, b.kind) == ("supply", "supply"):
        return _supply_lands_on_supply(a, b)
    if (a.kind, b.kind) == ("supply", "signal"):
        return _supply_lands_on_signal(a, b, fed)
    if (a.kind, b.kind) == ("signal", "supply") and a.drives and not a.resistor:
        return f"{_end(a)} has to feed what hangs on {b.name}, and may die", True
    if (a.kind, b.kind) == ("signal", "signal"):
        return _signal_lands_on_signal(a, b)
    return None


def _supply_lands_on_supply(a: Net, b: Net) -> Fault:
    if a.rail == b.rail or abs(a.volts - b.volts) <= RAIL_BAND * b.volts:
        return f"{b.name} is fed from {a.name}: nothing dies, but the fuse is another", False
    if a.volts > b.volts:
        return f"{a.name} puts {a.volts:.3g} V on what {b.name} feeds with {b.volts:.3g} V: it dies", True
    return f"{a.name} puts only {a.volts:.3g} V on what {b.name} feeds with {b.volts:.3g} V: nothing dies", False


def _supply_lands_on_signal(a: Net, b: Net, fed: bool) -> Fault:
    if not fed:
        return f"{a.name} feeds {b.far} backwards through its signal pin, which kills it", True
    if a.volts > b.far_stands + 1e-9:
        return f"{a.name} puts {a.volts:.3g} V on {b.far}, which stands {b.far_stands:.3g} V: it dies", True
    return f"{a.name} puts {a.volts:.3g} V on {b.far}: nothing dies", False


def _signal_lands_on_signal(a: Net, b: Net) -> Fault:
    if a.drives and a.volts > b.far_stands + 1e-9:
        return f"{a.name} sends {a.volts:.3g} V to {b.far}, which stands {b.far_stands:.3g} V: it may die", True
    if a.drives and not b.drives:
        return f"{_end(a)} and {b.far} both send, against each other: either may die", True
    return f"{a.name} meets {b.far}: nothing dies, nothing works", False


def connector_faults(nets: Sequence[Net], rows: int, keyed: bool) -> tuple[Fault, ...]:
    """Faults of one connector by itself: neighbours that touch and, where the shell is not keyed, the shell reversed.
    What kills comes first."""
    said: dict[Fault, list[str]] = {}
    for i, k in neighbours(len(nets), rows):
        fault = touching(nets[i], nets[k])
        if fault is not None:
            pair = f"{nets[i].name} touches {nets[k].name}"
            said.setdefault((f"{pair}: {fault[0]}", fault[1]), []).append(f"{i + 1}–{k + 1}")
    out = [(f"{', '.join(pairs)}  {text}", deadly) for (text, deadly), pairs in said.items()]
    if not keyed:
        turned = reversed_shell(nets) or (("it does not work, and nothing dies", False),)
        out += [(f"reversed: {text}", deadly) for text, deadly in turned]
    return _sorted(out)


def reversed_shell(nets: Sequence[Net]) -> tuple[Fault, ...]:
    """The shell the wrong way round: contact i meets contact n + 1 - i, of one row or of two."""
    return put_on(nets, nets, tuple(reversed(range(len(nets)))))


def swapped(a: Plug, of_a: Sequence[Net], b: Plug, of_b: Sequence[Net]) -> tuple[Fault, ...]:
    """Two connectors of one shape put on each other's other half."""
    straight = range(len(of_a))
    first = [(f"{a.name} on {b.name}: {text}", deadly) for text, deadly in put_on(of_a, of_b, straight)]
    second = [(f"{b.name} on {a.name}: {text}", deadly) for text, deadly in put_on(of_b, of_a, straight)]
    return _sorted([*first, *second])


def better_order(nets: Sequence[Net], rows: int, keyed: bool) -> tuple[str, ...]:
    """The order of the contacts with the fewest deadly faults, () where none is better than the one there is or where
    there are too many contacts to try them all."""
    if not 2 < len(nets) <= _MOST_TRIED:
        return ()
    beside = neighbours(len(nets), rows)
    pairs = {(a.name, b.name): _is_deadly(touching(a, b)) for a in nets for b in nets}

    def cost(order: Sequence[Net]) -> int:
        return sum(pairs[order[i].name, order[k].name] for i, k in beside)

    def whole_cost(order: Sequence[Net]) -> int:
        return cost(order) + (0 if keyed else sum(deadly for _, deadly in reversed_shell(order)))

    # Every distinct order; near ties go to the one that is most like the order written.
    orders = {tuple(n.name for n in p): p for p in permutations(nets)}
    least = min(whole_cost(p) for p in orders.values())
    if least >= whole_cost(nets):
        return ()
    best = [names for names, p in orders.items() if whole_cost(p) == least]
    return max(best, key=lambda names: sum(x == n.name for x, n in zip(names, nets, strict=True)))


def remedies(plug: Plug, nets: Sequence[Net], faults: Sequence[Fault]) -> tuple[str, ...]:
    """What takes the deadly faults of a connector away, one sentence each."""
    out = []
    deadly = [text for text, dies in faults if dies]
    if any(text.startswith("reversed") for text in deadly):
        out.append("Take a keyed shell, or one with another count of poles: the right way round must be the only one.")
    if any(f" on {plug.mates}: " in text or text.startswith(f"{plug.mates} on ") for text in deadly if plug.mates):
        out.append(
            f"Give {plug.name} and {plug.mates} different pole counts, keys or pins and sockets, so that neither goes "
            "on the other's half; colour alone is not seen in the dark."
        )
    order = better_order(nets, plug.rows, plug.keyed)
    if order:
        out.append(f"Fewer deadly neighbours: contacts: [{', '.join(order)}].")
    elif any("–" in text.partition("  ")[0] for text in deadly):
        out.append("Leave a contact empty between what must not touch, and sleeve each contact.")
    return tuple(out)


def _is_deadly(fault: Fault | None) -> bool:
    return fault is not None and fault[1]


def _sorted(faults: Sequence[Fault]) -> tuple[Fault, ...]:
    """Each once, what kills first, otherwise in the order found."""
    return tuple(sorted(dict.fromkeys(faults), key=lambda f: not f[1]))
