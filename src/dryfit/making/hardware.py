"""Where screws go, how many, and how long: from what the design file says of hubs, bearings, motors, frame and boards.

A screw through a nut is as long as what it clamps, its washers, the nut and one thread beyond it; a screw into a
tapped hole or a slot nut as what it clamps and its engagement. Either is rounded up to the next usual length. What a
part does not say of itself (the thickness of a bracket, the screws of a gearmotor's face) is common practice, and the
list says so.
"""

from __future__ import annotations

import math

import numpy as np

from dryfit.ground.units import show
from dryfit.machine.machine import Machine
from dryfit.machine.purchases import Orders, Thread
from dryfit.making.records_lists import Fastening, Hardware

LENGTHS = tuple(
    x * 1e-3 for x in (5, 6, 8, 10, 12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100, 110, 120)
)
"""Usual lengths of cap screws, m (ISO 4762 and ISO 888, from memory)."""

SET_LENGTHS = tuple(x * 1e-3 for x in (4, 5, 6, 8, 10, 12, 16, 20))
"""Usual lengths of set screws, m (ISO 4026, from memory)."""

WASHERS = {"m3": 0.5e-3, "m4": 0.8e-3, "m5": 1.0e-3, "m6": 1.6e-3, "m8": 1.6e-3, "m10": 2.0e-3}
"""Thickness of plain washers, m (ISO 7089, from memory)."""

SLOT_SCREWS = ((0.035, "m8", 6e-3, 12e-3), (0.025, "m6", 6e-3, 9e-3), (0.0, "m5", 5e-3, 6e-3))
"""For extrusions wider than so much: thread, thickness of the bracket on it, depth of the slot, m (common practice)."""

FOOT, BED = 15e-3, 8e-3
"""Thickness of a pillow block's foot, and of the plate under it, m (common practice of bores up to 25 mm)."""

MOUNT = 5e-3
"""Thickness of a printed mount where a screw goes through, m (common practice)."""

FACE_SCREWS, SERVO_SCREWS, BOARD_SCREWS, JOINT_SCREWS, BLOCK_SCREWS = 4, 4, 4, 2, 2
"""Screws of a gearmotor's face, a servo, a board, one end of an extrusion, a pillow block (common practice)."""

_WORDS = {"slot-nut": "slot nut", "large-washer": "large washer", "stand-off": "stand-off, 10 mm"}

_HAIR = 1e-9


def screw_length(stack: float, nut_height: float, pitch: float, washer: float = 0.0, threads: float = 1.0) -> float:
    """Usual length, m, of a screw through `stack` and washers (all together) into a nut, with `threads` beyond it.

    Raises ValueError where no usual screw is long enough.
    """
    return _usual(stack + washer + nut_height + threads * pitch, LENGTHS)


def tapped_length(stack: float, engagement: float, depth: float = math.inf) -> float:
    """Usual length, m, of a screw through `stack` that engages at least so far; NaN where every usual one would reach
    the bottom, `depth` beneath the stack. Raises ValueError where no usual screw is long enough."""
    length = _usual(stack + engagement, LENGTHS)
    return length if length <= stack + depth + _HAIR else math.nan


def _usual(least: float, lengths: tuple[float, ...]) -> float:
    found = next((x for x in lengths if x >= least - _HAIR), None)
    if found is None:
        raise ValueError(f"no usual screw is {least * 1e3:.0f} mm long")
    return found


def hardware(machine: Machine, orders: Orders) -> Hardware:
    """Screws, nuts, washers and the like of one machine, by the place where they go."""
    notes: list[str] = []
    found = [
        *_hubs(machine, orders), *_end_stops(machine, orders), *_blocks(machine, orders, notes),
        *_motors(machine, orders), *_joints(machine, orders), *_casters(machine, orders),
        *_servos(machine, orders, notes), *_boards(machine, orders),
    ]  # fmt: skip
    notes.append(
        "Screws of panels, covers, strips and what is bought as one piece are not counted: add them to "
        "purchases.items with a count."
    )
    return Hardware(tuple(f for f in found if f.count), tuple(notes))


def _cap(
    where: str, thread: Thread, length: float, each: int, places: int, stack: float, why: str, stage: str, line: int
) -> Fastening:
    size = f"{thread.key}x{length * 1e3:.0f}" if math.isfinite(length) else thread.key
    name = (
        f"{thread.key.upper()} × {length * 1e3:.0f} cap screw" if math.isfinite(length) else f"{thread.key} cap screw"
    )
    return Fastening(where, f"{size}-cap-screw", name, each, places, stack, length, why, stage, line)


def _small(kind: str, screw: Fastening, thread: Thread, per_screw: int) -> Fastening:
    """What goes with each screw of a place: nuts, washers."""
    name = f"{thread.key.upper()} {_WORDS.get(kind, kind)}"
    each, why = screw.each * per_screw, f"{per_screw} with each screw" if per_screw > 1 else "with each screw"
    return Fastening(
        screw.where, f"{thread.key}-{kind}", name, each, screw.places, math.nan, math.nan, why, screw.stage, screw.line
    )


def _through(
    where: str, thread: Thread, each: int, places: int, stack: float, what: str, stage: str, line: int
) -> list[Fastening]:
    """Screws with nut and two washers; where none is long enough, threaded rod with a nut at either end."""
    washer = WASHERS[thread.key]
    ends = 2 * (washer + thread.nut_height + thread.pitch)
    if stack + ends > LENGTHS[-1]:
        length = math.ceil((stack + ends) * 1e3) * 1e-3
        said = f"{what}: {show(stack, 'm')}; no usual screw is as long: rod, cut to {show(length, 'm')}"
        name = f"{thread.key.upper()} threaded rod, {show(length, 'm')}"
        rod = Fastening(where, f"{thread.key}-threaded-rod", name, each, places, stack, length, said, stage, line)
        return [rod, _small("washer", rod, thread, 2), _small("nut", rod, thread, 2)]
    length = screw_length(stack, thread.nut_height, thread.pitch, 2 * washer)
    why = (
        f"{what}: {show(stack, 'm')}, two washers {show(2 * washer, 'm')}, nut {show(thread.nut_height, 'm')}, one "
        f"thread {show(thread.pitch, 'm')}"
    )
    screw = _cap(where, thread, length, each, places, stack, why, stage, line)
    return [screw, _small("washer", screw, thread, 2), _small("nut", screw, thread, 1)]


def _tapped(
    where: str,
    thread: Thread,
    each: int,
    places: int,
    stack: float,
    engagement: float,
    what: str,
    stage: str,
    line: int,
) -> Fastening:
    length = tapped_length(stack, engagement)
    why = f"{what}: {show(stack, 'm')}, and {show(engagement, 'm')} of thread"
    return _cap(where, thread, length, each, places, stack, why, stage, line)


def _line(m: Machine, *paths: str) -> int:
    return next((m.origins[p].line for p in paths if p in m.origins and m.origins[p].line), 0)


def _hubs(m: Machine, orders: Orders) -> list[Fastening]:
    """Clamp screws through the ears of a split hub, as thick as its wall; else set screws through its wall."""
    grip, wheels = m.axle.retention, sum(m.wheels.driven)
    screws, wall = round(float(grip.screws)), float(m.axle.hub_wall)
    line = _line(m, "base.axle.retention.screw", "base.axle.retention.kind")
    thread = orders.threads.get(grip.screw)
    if thread is None or grip.kind == "pin":
        return []
    if grip.kind == "clamp":
        what = "both ears of the split hub, each as thick as its wall"
        return _through("hub clamp", thread, screws, wheels, 2 * wall, what, "wheel units", line)
    length = max((x for x in SET_LENGTHS if x <= wall + _HAIR), default=SET_LENGTHS[0])
    key, name = f"{thread.key}x{length * 1e3:.0f}-set-screw", f"{thread.key.upper()} × {length * 1e3:.0f} set screw"
    why = f"no longer than the hub's wall of {show(wall, 'm')}, so that nothing stands out"
    screw = Fastening("hub", key, name, screws, wheels, wall, length, why, "wheel units", line)
    return [screw, *([_small("nut", screw, thread, 1)] if m.axle.hub_made == "printed" else [])]


def _end_stops(m: Machine, orders: Orders) -> list[Fastening]:
    """A screw and a large washer in the tapped end of every axle."""
    if m.axle.retention.end_stop != "screw and washer":
        return []
    diameter, wheels = float(m.axle.diameter), sum(m.wheels.driven)
    key = next(k for k, least in (("m6", 16e-3), ("m5", 12e-3), ("m4", 8e-3), ("m3", 0.0)) if diameter >= least - _HAIR)
    line = _line(m, "base.axle.retention.end_stop")
    thread, washer = orders.threads[key], 3e-3
    what = "large washer, and one and a half diameters into the axle's tapped end"
    screw = _tapped("axle end", thread, 1, wheels, washer, 1.5 * thread.diameter, what, "wheel units", line)
    return [screw, _small("large-washer", screw, thread, 1)]


def _blocks(m: Machine, orders: Orders, notes: list[str]) -> list[Fastening]:
    if m.axle.arrangement == "on the gearmotor shaft":
        return []
    if m.axle.housing != "pillow block":
        notes.append("What holds the printed bearing seats is not counted: add it to purchases.items.")
        return []
    if float(m.axle.bearing.bore) > 25.5e-3:
        notes.append("Pillow blocks of more than 25 mm bore take bolts of more than M10: take them from their sheet.")
        return []
    line = _line(m, "base.axle.bearing.item", "base.axle.housing")
    what = f"foot of the block {show(FOOT, 'm')} and a plate of {show(BED, 'm')}; measure yours"
    places = 2 * sum(m.wheels.driven)
    return _through("pillow block", orders.threads["m10"], BLOCK_SCREWS, places, FOOT + BED, what, "wheel units", line)


def _motors(m: Machine, orders: Orders) -> list[Fastening]:
    can = float(np.ravel(m.values.get("base.motor.can_diameter", 37e-3))[0])
    key = next(k for k, most in (("m3", 40e-3), ("m4", 60e-3), ("m5", math.inf)) if can <= most + _HAIR)
    thread, count = orders.threads[key], sum(m.wheels.driven)
    line = _line(m, "base.motor.item", "base.motor.can_diameter")
    what = f"face of a gearmotor of {show(can, 'm')} through its mount"
    face = _tapped("gearmotor face", thread, FACE_SCREWS, count, MOUNT, thread.diameter, what, "wheel units", line)
    out = [face, _small("washer", face, thread, 1)]
    slot = _slot(orders)
    if slot is not None:
        out += _slotted("motor mount on the frame", slot, orders, FACE_SCREWS, count, "frame", line)
    return out


def _slot(orders: Orders) -> float | None:
    """Width of the widest slot extrusion of the frame, m; None where it has none."""
    return max((k.width for k in orders.stock.kinds if k.shape == "slot"), default=None)


def _slotted(
    where: str, width: float, orders: Orders, each: int, places: int, stage: str, line: int
) -> list[Fastening]:
    """Screws into nuts in the slot of an extrusion."""
    key, bracket, depth = next((k, b, d) for least, k, b, d in SLOT_SCREWS if width >= least - _HAIR)
    thread = orders.threads[key]
    length = tapped_length(bracket, thread.diameter, depth)
    why = f"bracket of {show(bracket, 'm')} and one diameter in the slot's nut; the slot is {show(depth, 'm')} deep"
    screw = _cap(where, thread, length, each, places, bracket, why, stage, line)
    return [screw, _small("washer", screw, thread, 1), _small("slot-nut", screw, thread, 1)]


def _joints(m: Machine, orders: Orders) -> list[Fastening]:
    """Both ends of every piece of slot extrusion."""
    out: list[Fastening] = []
    for kind in orders.stock.kinds:
        pieces = [w for w in orders.stock.wanted if w.stock == kind.key]
        if kind.shape == "slot" and pieces:
            ends = 2 * sum(w.count for w in pieces)
            where = f"ends of the {kind.key} pieces"
            out += _slotted(where, kind.width, orders, JOINT_SCREWS, ends, "frame", pieces[0].line)
    return out


def _casters(m: Machine, orders: Orders) -> list[Fastening]:
    count = sum(1 for kind in m.wheels.kinds if kind == "caster")
    if not count:
        return []
    line = _line(m, "base.wheels.casters.item", "base.wheels.layout")
    slot = _slot(orders)
    if slot is not None:
        return _slotted("caster plate", slot, orders, 4, count, "frame", line)
    what = f"plate of the caster 3 mm and a plate of {show(BED, 'm')}"
    return _through("caster plate", orders.threads["m6"], 4, count, 3e-3 + BED, what, "frame", line)


def _servos(m: Machine, orders: Orders, notes: list[str]) -> list[Fastening]:
    if not m.arms.names:
        return []
    real, torque = np.asanyarray(m.arms.real, dtype=bool), np.asanyarray(m.arms.stall_torque)
    large = real & (np.broadcast_to(torque, real.shape) > 0.4)
    if int(np.sum(real)) > int(np.sum(large)):
        notes.append("Small servos come with their screws; none are counted for them.")
    paths = [path for arm in m.arms.joint_path for path in arm]
    line = _line(m, *(f"{path}.servo.item" for path in paths))
    what = f"ear of the servo 3 mm and a mount of {show(MOUNT, 'm')}"
    return _through("servo", orders.threads["m4"], SERVO_SCREWS, int(np.sum(large)), 3e-3 + MOUNT, what, "arms", line)


def _boards(m: Machine, orders: Orders) -> list[Fastening]:
    """Controller, bridges and regulators stand on stand-offs, a screw from above and one from below."""
    count = 1 + sum(m.wheels.driven) + sum(1 for r in m.power.branches.regulated if r)
    thread, board, tray = orders.threads["m3"], 1.6e-3, 3e-3
    what = "board on its stand-offs: controller, bridges, regulators"
    above = _tapped("boards, from above", thread, BOARD_SCREWS, count, board, 4e-3, what, "logic", 0)
    below = _tapped(
        "boards, from below", thread, BOARD_SCREWS, count, tray, 4e-3, "tray under the stand-offs", "logic", 0
    )
    off = _small("stand-off", above, thread, 1)
    return [above, below, off]
