"""What whoever wires should know before cutting: lengths that the checks do not reckon with, wires that do not fit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from dryfit.ground.units import show
from dryfit.machine.machine import Machine
from dryfit.machine.wiring import area_that_carries
from dryfit.machine.wiring_places import GROUND, PACKS, RETURN, SPARE, Plug, WiringPlaces
from dryfit.making.records_lists import WireLine

LONGER = 0.1
"""A wire that is longer than what the checks reckon with by more than this part is told."""

CAUTIONS = (
    "Connect the packs last, one at a time; a spanner or a stray strand across a pack carries hundreds of amperes. "
    "Take rings and watches off.",
    "Pull every crimp by hand before it goes into its shell, and measure each wire from end to end before power.",
)


@dataclass(frozen=True)
class Wired:
    """A wire of the list with what the list does not say: whether its length was typed, the connectors it ends on."""

    line: WireLine
    exact: bool
    begin: str
    end: str
    at_begin: Plug | None
    at_end: Plug | None


def wire_notes(
    m: Machine, places: WiringPlaces, pieces: Sequence[Wired], currents: Mapping[str, float]
) -> tuple[str, ...]:
    """Sentences for the top of the list, what costs most first."""
    return (
        *_longer(places, pieces),
        *_contacts_too_weak(m, places, currents),
        *_thin_behind_a_fuse(m, places),
        *_thick_for_contacts(places, pieces),
        *_left_out_of_connectors(places, pieces),
        *_as_typed(m, places),
        *_shared_returns(m),
        *_strip_ends(m, places),
        *CAUTIONS,
    )


def _longer(places: WiringPlaces, pieces: Sequence[Wired]) -> Iterator[str]:
    """Branches whose wires are longer than the length typed for the checks."""
    for name, reckoned in places.reckoned.items():
        if name not in places.ways:
            continue
        supply = [w.line for w in pieces if w.line.bundle == name and not w.line.name.endswith(RETURN)]
        # Of the packs, which have a lead each, one stands for all.
        first = supply[0].name if supply else ""
        cut = sum(w.length for w in supply if w.name == first)
        if cut > reckoned.length * (1 + LONGER):
            where = "power.packs.lead" if name == PACKS else name
            yield (
                f"{name}: the checks reckon with {show(reckoned.length, 'm')}, the wire is {show(cut, 'm')} long: "
                f"write `length: {cut * 1e3:.0f} mm` at {where}, and check again."
            )


def _as_typed(m: Machine, places: WiringPlaces) -> Iterator[str]:
    """Branches without a way, where others have one; and lengths that nobody typed."""
    typed: list[str] = []
    assumed: list[str] = []
    for name, reckoned in places.reckoned.items():
        if name not in places.ways:
            (typed if reckoned.given else assumed).append(f"{name} {show(reckoned.length, 'm')}")
    if typed and places.places:
        yield f"As typed, no way given: {', '.join(typed)}. A run under `wiring` follows the places when they move."
    if assumed:
        yield f"Assumed, neither way nor length given: {', '.join(assumed)}. Measure along the harness before cutting."


def _contacts_too_weak(m: Machine, places: WiringPlaces, currents: Mapping[str, float]) -> Iterator[str]:
    """Connectors whose contacts carry more than what is planned of them; the way back has as many contacts or fewer."""
    share = float(m.power.lim_connector_share)
    for plug in places.plugs:
        for name in m.power.branches.names:
            many = [plug.contacts.count(net) for net in (name, name + RETURN) if net in plug.contacts]
            current = currents.get(name, float("nan"))
            if not many:
                continue
            # The second and later contacts of a net count for 80 %: they do not share evenly (common practice).
            bears = plug.rating * (1 + 0.8 * (min(many) - 1))
            if current > bears * share:
                times = "one contact" if min(many) == 1 else f"{min(many)} contacts"
                yield (
                    f"{plug.name}: {name} lasts at {show(current, 'A')} each way, and {times} of "
                    f"{show(plug.rating, 'A')} bear {show(bears, 'A')}, of which {show(share, '%')} are planned: take "
                    "more or stronger ones."
                )


def _thin_behind_a_fuse(m: Machine, places: WiringPlaces) -> Iterator[str]:
    """Supply wires in bundles that would burn before the fuse above them blows."""
    b = m.power.branches
    said: dict[tuple[str, float, float], list[str]] = {}
    for bundle in places.bundles:
        for net in (n for n in bundle.carries if n in b.names):
            at, fuse = b.names.index(net), math.inf
            while at >= 0 and math.isinf(fuse):
                fuse, at = float(b.fuse[..., at]), b.parent[at]
            if math.isinf(fuse):
                fuse = min(float(m.power.main.fuse), float(m.power.packs.lead_fuse) * m.power.packs.count)
            if math.isfinite(fuse) and bundle.area < float(area_that_carries(fuse)) * (1 - 1e-9):
                said.setdefault((net, bundle.area, fuse), []).append(bundle.name)
    for (net, area, fuse), bundles in said.items():
        yield (
            f"{', '.join(bundles)}: {net} runs in {show(area, 'm2')} behind a fuse of {show(fuse, 'A')}, which asks "
            f"for {show(float(area_that_carries(fuse)), 'm2')}: fuse it by itself, or be sure that what feeds it "
            "limits its current."
        )


def _thick_for_contacts(places: WiringPlaces, pieces: Sequence[Wired]) -> Iterator[str]:
    """Wires that do not go into the contacts they end on."""
    said: dict[tuple[float, float, int], list[str]] = {}
    for w in pieces:
        for plug in (w.at_begin, w.at_end):
            if plug is not None and w.line.name in plug.contacts and w.line.area > plug.largest_wire * 1.01:
                key = (w.line.area, plug.largest_wire, plug.contacts.count(w.line.name))
                said.setdefault(key, []).append(plug.name)
    for (area, largest, many), plugs in said.items():
        each = "a short tail" if many == 1 else f"{many} short tails, one for each contact,"
        yield (
            f"{', '.join(dict.fromkeys(plugs))}: {show(area, 'm2')} does not go into contacts that take "
            f"{show(largest, 'm2')}: splice {each} on, or take larger contacts."
        )


def _left_out_of_connectors(places: WiringPlaces, pieces: Sequence[Wired]) -> Iterator[str]:
    """Wires of a bundle that a connector parts, but which are on none of its contacts; contacts without a wire."""
    for w in pieces:
        for plug in (w.at_begin, w.at_end):
            if plug is not None and w.line.name not in plug.contacts:
                yield f"{plug.name} parts {w.line.bundle}, but has no contact for {w.line.name} ({w.line.number})."
    for plug in places.plugs:
        on = {w.line.name for w in pieces if plug in (w.at_begin, w.at_end)}
        missing = [c for c in dict.fromkeys(plug.contacts) if c not in on and c not in (SPARE, GROUND)]
        if missing:
            yield f"{plug.name}: no wire of the list ends on it with {', '.join(missing)}."


def _shared_returns(m: Machine) -> Iterator[str]:
    b = m.power.branches
    for n, name in enumerate(b.names):
        if not b.own_return[n]:
            with_ = "the bus" if b.returns_to[n] < 0 else b.names[b.returns_to[n]]
            yield f"{name} has no way back of its own: it returns with {with_}."


def _strip_ends(m: Machine, places: WiringPlaces) -> Iterator[str]:
    """Wires from the last place to the feeds of the strips, for which the design has no places."""
    b = m.power.branches
    for n, feeds in enumerate(b.feeds):
        sets = [k for k, s in enumerate(m.light.strips) if feeds in ("strips", f"strip {s}")]
        pairs = sum(m.light.counts[k] * m.light.feeds[k].shape[-1] for k in sets)
        if pairs and places.places:
            way = places.ways.get(b.names[n])
            end = way.stops[-1] if way is not None else f"the end of {b.names[n]}"
            longest = max(float(m.light.length[..., k]) for k in sets)
            yield (
                f"From {end} on, {pairs} pairs of wires go to the feeds of the strips, up to {show(longest, 'm')} "
                "farther; they are cut on the strip and not in this list."
            )
