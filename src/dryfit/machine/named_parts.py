"""Bought parts that a machine names, with how many it has of each: what the purchase list begins with."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from dryfit.catalogue.rows import keys, row
from dryfit.ground.units import show
from dryfit.machine.control import DEFAULT_BOARD
from dryfit.machine.machine import Machine
from dryfit.machine.power import DEFAULT_PACK


@dataclass(frozen=True)
class Use:
    """A bought part and how many of it. item: catalogue key, or a name.  name: in words.  kind: of the catalogue.
    spares: how many more are usual.  stage: of the build that needs it first.  why: what it is for.  line: of the
    design file, 0 where it says nothing.  priced: under what its class guess stands, "" for the item.  unit: what is
    counted, "" for pieces."""

    item: str
    name: str
    kind: str
    count: int
    spares: int
    stage: str
    why: str
    line: int
    priced: str = ""
    unit: str = ""


FUSE_SPARES = 2
"""Fewest spare fuses of each rating; beyond that as many as the machine has (common practice)."""


def uses(machine: Machine) -> tuple[Use, ...]:
    """Every bought part that the machine names, stock and screws not counted."""
    found = [
        *_wheels(machine), *_drive(machine), *_axle(machine), *_gears(machine), *_supply(machine), *_fuses(machine),
        *_control(machine), *_arms(machine), *_diffusers(machine),
    ]  # fmt: skip
    return tuple(use for use in found if use.count + use.spares > 0)


def _use(m: Machine, path: str, kind: str, fallback: str, count: int, stage: str, why: str, spares: int = 0) -> Use:
    """The part at a key of the design file; `fallback` names it where the file names no row."""
    if path in m.choices and m.choices[path] == kind:
        origin = m.origins[path]
        key, line = origin.text, origin.line
    else:
        key, line = fallback, 0
    name = row(kind, key).name if key in keys(kind) else key
    return Use(key, name, kind, count, spares, stage, why, line)


def _wheels(m: Machine) -> list[Use]:
    wheels = m.wheels
    counted: dict[str, tuple[Use, int]] = {}
    for n, (kind, driven) in enumerate(zip(wheels.kinds, wheels.driven, strict=True)):
        own, shared = f"base.wheels.each[{n}].item", "base.wheels.item"
        if kind == "caster" and "base.wheels.casters.item" in m.choices:
            shared = "base.wheels.casters.item"
        path = own if own in m.choices else shared
        size = show(2 * float(wheels.radius[n]), "m")
        title = kind if kind == "caster" else f"{kind} wheel"
        use = _use(m, path, "wheels", f"{title}, {size}", 0, "wheel units" if driven else "frame", "wheels")
        counted[use.item] = (use, counted.get(use.item, (use, 0))[1] + 1)
    return [Use(**{**use.__dict__, "count": count, "why": f"{count} on the base"}) for use, count in counted.values()]


def _drive(m: Machine) -> list[Use]:
    count = sum(m.wheels.driven)
    return [
        _use(m, "base.motor.item", "gearmotors", "gearmotor", count, "wheel units", "one for each driven wheel"),
        _use(m, "base.driver.item", "drivers", "full bridge board", count, "logic", "one bridge a motor"),
    ]


def _axle(m: Machine) -> list[Use]:
    count, axle = sum(m.wheels.driven), m.axle
    line = _line(m, "base.axle.retention.end_stop", "base.axle.retention.kind")
    out = []
    if axle.arrangement != "on the gearmotor shaft":
        name = f"ball bearing for {show(float(axle.bearing.bore), 'm')}"
        out.append(_use(m, "base.axle.bearing.item", "bearings", name, 2 * count, "wheel units", "two on each axle"))
    if axle.hub_made != "printed":
        name = f"{axle.hub_made} hub, bore {show(float(axle.diameter), 'm')}"
        at = _line(m, "base.axle.hub.made")
        out.append(Use(name, name, "hubs", count, 0, "wheel units", "one in each driven wheel", at))
    stops = {"collar": "shaft-collar", "ring": "retaining-ring", "hose clip": "hose-clip"}
    if axle.retention.end_stop in stops:
        key = stops[axle.retention.end_stop]
        name = f"{key.replace('-', ' ')} for {show(float(axle.diameter), 'm')}"
        out.append(Use(name, name, "hardware", count, 1, "wheel units", "end stop of each axle", line, key))
    if axle.retention.kind in ("pin", "key"):
        size = axle.retention.pin_diameter if axle.retention.kind == "pin" else axle.retention.key_width
        name = f"{'cross pin' if axle.retention.kind == 'pin' else 'parallel key'}, {show(float(size), 'm')}"
        out.append(Use(name, name, "hardware", count, 1, "wheel units", "in each hub", line, axle.retention.kind))
    return out


def _gears(m: Machine) -> list[Use]:
    """Gears that are not printed, one of each for each driven wheel."""
    out, count, gears = [], sum(m.wheels.driven), m.gears
    for n, path in enumerate(gears.paths):
        module = show(float(gears.module[..., n]), "m")
        for printed, teeth, word in (
            (gears.pinion_printed[n], gears.pinion_teeth[..., n], "pinion"),
            (gears.gear_printed[n], gears.gear_teeth[..., n], "ring gear" if gears.internal[n] else "gear"),
        ):
            if not printed:
                name = f"{word}, module {module}, {round(float(teeth))} teeth"
                at = _line(m, f"{path}.pinion_teeth", f"{path}.module")
                out.append(Use(name, name, "gears", count, 0, "wheel units", "one for each driven wheel", at))
    return out


def _supply(m: Machine) -> list[Use]:
    packs, branches = m.power.packs, m.power.branches
    sets = 1 + packs.spare_sets
    why = f"{packs.count} in parallel" + (f", {sets} sets" if sets > 1 else "")
    out = [_use(m, "power.packs.item", "packs", DEFAULT_PACK, packs.count * sets, "supply", why)]
    for n, path in enumerate(branches.paths):
        if branches.regulated[n]:
            name = f"{branches.types[n]} regulator, {show(float(branches.output[..., n]), 'V')}"
            why = f"at the end of {branches.names[n]}"
            out.append(_use(m, f"{path}.regulator.item", "regulators", name, 1, "supply", why))
    return out


def _fuses(m: Machine) -> list[Use]:
    """Fuses by class and rating with as many spares, and a holder for each."""
    packs, main, branches = m.power.packs, m.power.main, m.power.branches
    places: list[tuple[str, float, int, str]] = []
    if m.power.packs_fused:
        count = packs.count * (1 + packs.spare_sets)
        places.append(("power.packs.lead", float(packs.lead_fuse), count, "leads of the packs"))
    if m.power.main_fused:
        places.append(("power.main", float(main.fuse), 1, "main line"))
    for n, path in enumerate(branches.paths):
        if branches.fused[n]:
            places.append((path, float(branches.fuse[..., n]), 1, branches.names[n]))
    fuses: dict[str, Use] = {}
    holders: dict[str, Use] = {}
    for path, rating, count, where in places:
        if not math.isfinite(rating):
            continue
        origin = m.origins.get(f"{path}.fuse_class")
        kind = origin.text if origin is not None else "blade"
        key = f"{kind}-{rating:g}a"
        line = _line(m, f"{path}.fuse")
        name = row("fuses", key).name if key in keys("fuses") else f"{kind} fuse {rating:g} A"
        _add(fuses, Use(key, name, "fuses", count, 0, "supply", where, line))
        held = f"holder for a {kind} fuse"
        _add(holders, Use(held, held, "fuse-holders", count, 0, "supply", where, line, kind))
    spared = [Use(**{**use.__dict__, "spares": max(use.count, FUSE_SPARES)}) for use in fuses.values()]
    return [*spared, *holders.values()]


def _add(found: dict[str, Use], use: Use) -> None:
    """Join equal parts: counts added, the first line kept, reasons one after the other."""
    old = found.get(use.item)
    if old is None:
        found[use.item] = use
        return
    joined = {"count": old.count + use.count, "why": f"{old.why}, {use.why}", "line": old.line or use.line}
    found[use.item] = Use(**{**old.__dict__, **joined})


def _control(m: Machine) -> list[Use]:
    out = [_use(m, "control.item", "controllers", DEFAULT_BOARD, 1, "logic", "controller; one lies ready", 1)]
    if m.light.shifted:
        line = _line(m, "light.data.level_shifter")
        name = "level shifter for strip data"
        out.append(Use(name, name, "level-shifters", 1, 1, "light", "between board and strips", line))
    return out


def _arms(m: Machine) -> list[Use]:
    counted: dict[str, Use] = {}
    real = np.broadcast_to(m.arms.real, np.shape(m.arms.real)[-2:]) if m.arms.names else np.zeros((0, 0))
    for a, paths in enumerate(m.arms.joint_path):
        for j, path in enumerate(paths):
            if j < real.shape[-1] and real[a, j]:
                group = m.arms.group_names[m.arms.groups[a]]
                use = _use(m, f"{path}.servo.item", "servos", "servo", 1, "arms", f"joints of {group}")
                old = counted.get(use.item)
                if old is None:
                    counted[use.item] = use
                else:
                    why = old.why if use.why in old.why else f"{old.why}, {use.why}"
                    counted[use.item] = Use(**{**old.__dict__, "count": old.count + 1, "why": why})
    return list(counted.values())


def _diffusers(m: Machine) -> list[Use]:
    """Bought diffusers, one for each set of strips; printed ones are prints."""
    out = []
    for k, name in enumerate(m.light.strips):
        path = f"light.strips[{k}].diffuser.item"
        if path in m.choices and not m.origins[path].text.startswith("printed"):
            out.append(_use(m, path, "diffusers", "", 1, "light", f"over the strips of {name}"))
    return out


def _line(m: Machine, *paths: str) -> int:
    """The first line of the design file that one of the keys stands in."""
    return next((m.origins[p].line for p in paths if p in m.origins and m.origins[p].line), 0)
