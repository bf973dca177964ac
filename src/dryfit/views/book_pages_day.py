"""The day of the show and the road to it: what to switch in which order, what to try, what to carry with whom."""

from __future__ import annotations

import math

import numpy as np

from dryfit.assess.records_pictures import Pictures
from dryfit.ground.units import show
from dryfit.machine.machine import Machine
from dryfit.views.book_blocks import Blanks, BookBlock, Cautions, Chapter, Ticks, table
from dryfit.views.page import Heading, Paragraph

_LEAST_PIECE = 1e-9


def show_day(m: Machine, p: Pictures) -> Chapter:
    """Order of switching on, what is tried before the public comes, what is capped, spares, charging."""
    blocks: list[BookBlock] = [
        Cautions(
            (
                "A machine that moves among people needs an attendant with the stop in hand, all the time.",
                "Packs can burn: charge them watched, dry, away from the public, with the charger that belongs to "
                "them.",
                "Local codes, the venue's rules and licensed practice decide whether and how it may run.",
            )
        ),
        Heading("Switching on, in this order"),
        Ticks(_switching_on(m, p)),
        Heading("Try before the public comes, wheels first clear of the floor"),
        Ticks(_trials(m, p)),
        Heading("What must not be exceeded"),
        table("what|at most|why", _caps(m), right="1", fold="2"),
        Heading("Packs and time"),
        *_packs(m, p),
        Heading("Take with you"),
        Ticks(_spares(m)),
        Blanks(("Checked on", "by", "Remarks")),
    ]
    return Chapter("The day of the show", tuple(blocks))


def _switching_on(m: Machine, p: Pictures) -> tuple[str, ...]:
    packs = m.power.packs
    found = []
    if packs.count > 1:
        found.append(
            f"Measure every pack. Join them only if they differ by no more than "
            f"{show(float(packs.difference_when_joined), 'V')}; {packs.count} in parallel."
        )
    found += [
        f"Read the bus: about {show(p.bus_full, 'V')} with full packs and nothing moving.",
        "Emergency stop pressed, transmitter on, its sticks in the middle.",
        "Main switch on. Logic first: the controller's lamp is on, nothing moves.",
    ]
    if m.arms.names:
        boot = f" told {m.arms.boot!r} first" if m.arms.boot else ""
        found.append(f"Hands off the arms; give the servos their power{boot}.")
    if m.light.strips:
        found.append("Light on, in its dimmest scene.")
    found += ["Release the emergency stop last, with everybody at a distance."]
    return tuple(found)


def _trials(m: Machine, p: Pictures) -> tuple[str, ...]:
    s = m.safety
    found = ["Press the emergency stop while the wheels turn slowly: they stop. Do it from every place that has one."]
    loss = float(s.link_loss)
    if math.isfinite(loss):
        found.append(
            f"Switch the transmitter off while the wheels turn: they stop within {show(loss, 's')}. On the floor it "
            f"comes to rest within {show(p.stopping_way, 'm')} from full show speed."
        )
    else:
        found.append("Switch the transmitter off while the wheels turn: they must stop. The design does not say when.")
    found.append(f"On the floor, empty: each direction at a walk, then at {show(float(m.brief.speed), 'm/s')}.")
    if m.arms.names:
        found.append("Every posture once, slowly: " + ", ".join(m.arms.postures) + ".")
    for key, has in s.signals.items():
        if has:
            found.append(f"The {key.rpartition('.')[2]} works.")
    found.append("Read the packs again after five minutes; note it below.")
    return tuple(found)


def _caps(m: Machine) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = [
        ("speed", show(float(m.brief.speed), "m/s"), "what was promised; the stopping way is reckoned from it"),
        ("acceleration", show(float(m.brief.acceleration), "m/s2"), "what tipping and motors were judged by"),
        ("slope", show(float(m.brief.slope), "rad"), "the steepest of the brief"),
        ("step", show(float(m.brief.step), "m"), "the highest edge of the brief"),
    ]
    if m.light.strips:
        rows.append(("brightness", show(float(m.light.cap), "%"), "cap of full white; regulator and foil bear it"))
    arm = float(m.safety.arm_speed)
    if m.safety.arm_speed_given and math.isfinite(arm):
        rows.append(("edges of the arms", show(arm, "m/s"), "as capped in the firmware"))
    rows.append(("distance to the public, least", show(float(m.brief.public_distance), "m"), "of the brief"))
    return rows


def _packs(m: Machine, p: Pictures) -> list[BookBlock]:
    packs, day = m.power.packs, float(m.brief.day_length)
    sets = packs.spare_sets + 1
    capacity = float(packs.capacity) * packs.count
    words = [
        Paragraph(
            f"{packs.count} {'pack' if packs.count == 1 else 'packs'} of {packs.chemistry} at a time, "
            f"{show(capacity, 'C')} together, of which "
            f"{show(float(packs.usable), '%')} is planned for; {sets} {'set' if sets == 1 else 'sets'} in all."
        ),
        Paragraph(
            f"They last {show(p.run_time, 's')} of the {show(day, 's')} show day"
            + (f": change sets after about {show(p.run_time / sets, 's')}." if sets > 1 else ".")
        ),
    ]
    charge = float(packs.max_charge_current)
    if math.isfinite(charge) and charge > 0:
        hours = float(packs.capacity) * float(packs.usable) / charge
        words.append(
            Paragraph(
                f"A pack takes at most {show(charge, 'A')} from its charger: at least {show(hours, 's')} to fill what "
                "a show day took, and longer towards the end. Charge every pack by itself."
            )
        )
    return list(words)


def _spares(m: Machine) -> tuple[str, ...]:
    found = []
    if m.power.packs.spare_sets:
        found.append(f"{m.power.packs.spare_sets} spare set of packs, charged, terminals covered")
    fuses = sorted({float(f) for f in np.ravel(m.power.branches.fuse) if math.isfinite(f)})
    if fuses:
        found.append("two of each fuse: " + ", ".join(show(f, "A") for f in fuses))
    found.append("one wheel unit's worth of screws, thread lock, the keys and drivers for them")
    if m.gears.paths:
        found.append("a spare pinion and gear, the shims, a feeler gauge")
    if m.arms.names:
        found.append("one servo with its horn, set to its middle")
    if m.light.strips:
        found.append("a length of strip, leads and a level shifter")
    found += ["the meter, tape, ties, a torch", "a bag of sand or a fire blanket for the packs, and this book"]
    return tuple(found)


def transport(m: Machine, p: Pictures) -> Chapter:
    """Sections with sizes and masses, who lifts them, and whether they pass the door."""
    sizes = _sizes(m)
    limit = float(m.brief.lim_lift_mass)
    rows = []
    for name, mass in p.section_mass:
        size = sizes.get(name)
        people = max(1, math.ceil(mass / limit - _LEAST_PIECE)) if math.isfinite(mass) else 0
        rows.append(
            (
                name,
                show(mass, "kg", 4),
                " × ".join(show(float(v), "m") for v in size) if size is not None else "as packed",
                {0: "unknown", 1: "one person"}.get(people, f"{people} people"),
                "",
            )
        )
    total = sum(mass for _, mass in p.section_mass)
    through = "as it stands, driving" if m.parts.through_door == "assembled" else "in sections"
    clear = float(m.parts.lim_door_clearance)
    blocks: list[BookBlock] = [
        Cautions(
            (
                "Lift with two when in doubt; local rules on manual handling decide.",
                "Packs travel disconnected, terminals covered, held so that they cannot slide.",
            )
        ),
        table("section|mass|length × breadth × height|lifted by|loaded", rows, right="12"),
        Paragraph(
            f"{show(total, 'kg', 4)} in all. One person lifts up to {show(limit, 'kg')}. It goes through the door "
            f"{through}: "
            f"{show(float(m.brief.door_width), 'm')} wide, {show(float(m.brief.door_height), 'm')} high, "
            f"{show(clear, 'm')} to spare."
        ),
        Paragraph(
            f"The vehicle may reach {show(float(m.brief.vehicle_temperature), 'K')}: nothing printed that carries may "
            "stay clamped or loaded there."
        ),
        Heading("Before it rolls into the vehicle"),
        Ticks(
            (
                "Main switch off, packs out or unplugged, emergency stop pressed",
                *((f"arms in the posture {m.arms.boot or m.arms.postures[0]!r} and tied",) if m.arms.names else ()),
                "wheels off the floor or wedged; nothing rests on a wheel's rollers for hours",
                "plugs capped, harness tied so that it hangs on nothing",
                "sections padded apart; what is tall is strapped twice, low and high",
            )
        ),
        Blanks(("Packed on", "by", "Remarks")),
    ]  # fmt: skip
    return Chapter("Transport", tuple(blocks))


def _sizes(m: Machine) -> dict[str, np.ndarray]:
    found = {}
    for name in dict.fromkeys(m.parts.section):
        those = [i for i, s in enumerate(m.parts.section) if s == name]
        found[name] = np.max(m.parts.high[those], axis=0) - np.min(m.parts.low[those], axis=0)
    return found
