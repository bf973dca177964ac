"""Gear stages as numbers: involute spur pairs, external and internal, one after the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from dryfit.catalogue.rows import Row
from dryfit.design.fields import Word
from dryfit.design.sections.gears import Stage
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.quantity import Array, Kind, Num, Origin, Quantity
from dryfit.ground.sources import Source, memory, practice
from dryfit.machine.brief import Brief
from dryfit.machine.gear_fixings import Pegs, PinionGrip, resolve_pegs, resolve_pinion_grip
from dryfit.machine.ledger import Default, Ledger

FEWEST_TEETH = 6
"""Fewer teeth than this cannot carry an involute of useful length with any profile shift (from memory)."""

LEAST_ANGLE, MOST_ANGLE = np.deg2rad(10.0) * (1 - 1e-9), np.deg2rad(35.0) * (1 + 1e-9)
"""Pressure angles that gears are made with: 14.5° to 30° and a little room, rad (common practice)."""

WARM_BY = 10.0
"""Default excess of the gears over the room, K: they sit beside the motor (common practice)."""


@dataclass(frozen=True)
class Gears:
    """G stages in the order of the power flow; every array is (..., G), SI, lengths in m, angles in rad.

    paths: keys in the design file ("base.gears[0]").  names: "" for a single stage, else "stage 1", ...
    internal, radial, generated: pair with a ring; put together radially; root as a rack generates it.
    typed_centre: centre distance given in the file (else `centre_distance` is NaN and the teeth decide).
    pinion_printed, gear_printed: member off the printer, not machined; pinion_layered, gear_layered: printed so that
    the load peels its layers apart.
    sign: +1 external, -1 internal.  pinion_*, gear_*: driving and driven member, the gear being the ring of an
    internal pair.  Shifts, addenda, dedendum, fillet: factors of the module; a ring's shift counts outwards.
    pinion_thinning, gear_thinning: what the tooth is made thinner at the reference circle for backlash.
    mount_short_by: how far the mount leaves the pinion out of mesh, to be taken up by shims.  measured_gap: the same,
    measured on the mount as it came out (`measured`; else NaN).
    strength: short-time strength in the direction of the layers, 23 °C; layer_share: part of it the tooth root sees;
    endurance_share: part of it left after 10 million loads; flank: pressure the flank bears in service at 23 °C.
    other_losses: share of power lost in bearings and by rubbing outside the mesh.  hours: running time asked for, s.
    pinion_grip: of the first stage's pinion on the gearmotor's shaft.  pegs: from the last stage's gear to the wheel.
    """

    paths: tuple[str, ...]
    names: tuple[str, ...]
    internal: tuple[bool, ...]
    radial: tuple[bool, ...]
    generated: tuple[bool, ...]
    typed_centre: tuple[bool, ...]
    measured: tuple[bool, ...]
    pinion_printed: tuple[bool, ...]
    gear_printed: tuple[bool, ...]
    pinion_layered: tuple[bool, ...]
    gear_layered: tuple[bool, ...]
    sign: Array
    module: Array
    pinion_teeth: Array
    gear_teeth: Array
    pressure_angle: Array
    face_width: Array
    pinion_shift: Array
    gear_shift: Array
    pinion_addendum: Array
    gear_addendum: Array
    dedendum: Array
    root_fillet: Array
    centre_distance: Array
    pinion_thinning: Array
    gear_thinning: Array
    mount_short_by: Array
    measured_gap: Array
    pinion_strength: Array
    gear_strength: Array
    pinion_layer_share: Array
    gear_layer_share: Array
    pinion_modulus: Array
    gear_modulus: Array
    pinion_poisson: Array
    gear_poisson: Array
    pinion_endurance_share: Array
    gear_endurance_share: Array
    pinion_flank: Array
    gear_flank: Array
    pinion_softening: Array
    gear_softening: Array
    friction: Array
    other_losses: Array
    shock: Array
    hours: Array
    temperature: Array
    lim_contact_ratio: Array
    lim_backlash_least: Array
    lim_backlash_most: Array
    lim_backlash_loosest: Array
    lim_strength_share: Array
    lim_service_share: Array
    lim_flank_share: Array
    lim_tip_lines: Array
    lim_undercut_share: Array
    pinion_grip: PinionGrip | None
    pegs: Pegs | None


_PRACTICE_FILLET = "root rounding of the usual basic rack"
_RACK = memory("ISO 53", "standard basic rack tooth profile")

_LIMITS: tuple[tuple[str, units.Dimension, str, Source], ...] = (
    ("contact_ratio", units.NUMBER, "1.2", practice("a contact ratio of 1.2 keeps a pair in mesh at all times")),
    ("backlash_least", units.LENGTH, "0.1 mm", practice("printed gears are given 0.1 to 0.3 mm of backlash")),
    ("backlash_most", units.LENGTH, "0.3 mm", practice("printed gears are given 0.1 to 0.3 mm of backlash")),
    ("backlash_loosest", units.LENGTH, "0.5 mm", practice("more than half a millimetre of backlash clatters")),
    ("strength_share", units.SHARE, "33.3 %", practice("a printed tooth is used to a third of its flat strength")),
    ("service_share", units.SHARE, "50 %", practice("half of what is left after the loads asked for is used")),
    ("flank_share", units.SHARE, "80 %", practice("a fifth of the flank's strength is kept back")),
    ("tip_lines", units.NUMBER, "2", practice("a tooth tip of two line widths prints cleanly")),
    (
        "undercut_share",
        units.SHARE,
        "83.3 %",
        memory("Practical undercut limit", "5/6 of the exact count"),
    ),
)


def resolve_gears(stages: Sequence[Stage], ledger: Ledger, brief: Brief) -> Gears:
    """Numbers of all stages, defaults filled in. The brief gives the running hours and the warmth where none is typed.

    Faults: fewer teeth than an involute gear can have, a pinion that is not smaller than its ring.
    """
    rows = [_stage(r, f"base.gears[{i}]", ledger, brief) for i, r in enumerate(stages)]
    flags = ("internal", "radial", "generated", "pinion_printed", "gear_printed", "pinion_layered", "gear_layered")
    words = ("paths", "names", "typed_centre", "measured", "pinion_grip", "pegs", *flags)
    names = [f.name for f in fields(Gears) if f.name not in words]
    numbers: dict[str, Any] = {name: stack([row[name] for row in rows]) for name in names}
    said: dict[str, Any] = {flag: tuple(row[flag] for row in rows) for flag in flags}
    return Gears(
        paths=tuple(f"base.gears[{i}]" for i in range(len(rows))),
        names=tuple("" if len(rows) == 1 else f"stage {i + 1}" for i in range(len(rows))),
        **said,
        typed_centre=tuple(r.centre_distance is not None for r in stages),
        measured=tuple(r.measured_gap is not None for r in stages),
        **numbers,
        pinion_grip=_first_grip(stages, ledger, rows),
        pegs=_last_pegs(stages, ledger, rows),
    )


def _first_grip(stages: Sequence[Stage], ledger: Ledger, rows: Sequence[dict[str, Any]]) -> PinionGrip | None:
    for i, r in enumerate(stages):
        if i and r.pinion_grip != type(r.pinion_grip)():
            ledger.fault(f"base.gears[{i}].pinion_grip", "only the first pinion sits on the gearmotor's shaft")
    if not stages:
        return None
    first = rows[0]
    return resolve_pinion_grip(
        stages[0].pinion_grip, ledger, "base.gears[0].pinion_grip", first["face_width"], first["pinion_softening"],
        printed=first["pinion_printed"],
    )  # fmt: skip


def _last_pegs(stages: Sequence[Stage], ledger: Ledger, rows: Sequence[dict[str, Any]]) -> Pegs | None:
    for i, r in enumerate(stages[:-1]):
        if r.pegs != type(r.pegs)():
            ledger.fault(f"base.gears[{i}].pegs", "only the last gear is pegged to the wheel")
    if not stages:
        return None
    last = rows[-1]
    size = last["module"] * (last["gear_teeth"] + 2 * last["gear_shift"])
    return resolve_pegs(
        stages[-1].pegs, ledger, f"base.gears[{len(stages) - 1}].pegs", size,
        ring=last["internal"], printed=last["gear_printed"],
    )  # fmt: skip


def _stage(r: Stage, path: str, ledger: Ledger, brief: Brief) -> dict[str, Any]:
    def take(key: str, dimension: units.Dimension, text: str, spread: float, reason: str) -> Num:
        return ledger.take(f"{path}.{key}", dimension, getattr(r, key), None, Default(text, spread, reason))

    def flag(key: str, default: bool, reason: str) -> bool:
        given = getattr(r, key)
        text = "yes" if (default if given is None else given) else "no"
        kind = Kind.DEFAULT if given is None else Kind.DESIGN
        ledger.origins[f"{path}.{key}"] = Origin(kind, f"{path}.{key}", text=text, note=reason if given is None else "")
        return text == "yes"

    internal = ledger.choose(f"{path}.kind", r.kind, "external", "a pair of plain gears") == "internal"
    printed = flag("printed", True, "made on the workshop's printer")
    greased = flag("lubricated", True, "a dab of grease at assembly")
    flat = ledger.choose(f"{path}.layers", r.layers, "flat", "gears are printed lying down") == "flat"
    thinned = ledger.choose(f"{path}.thinned", r.thinned, "both", "half of the backlash from either member")
    backlash = take("backlash", units.LENGTH, "0.2 mm", 0.0, "middle of the 0.1 to 0.3 mm usual for printed gears")
    parts = {"both": (0.5, 0.5), "pinion": (1.0, 0.0), "gear": (0.0, 1.0)}[thinned]
    one = Default("1", 0.0, "full-depth tooth", _RACK)
    row: dict[str, Any] = {
        "internal": internal,
        "radial": ledger.choose(f"{path}.assembly", r.assembly, "radial", "either way of assembly") == "radial",
        "generated": ledger.choose(f"{path}.roots", r.roots, "generated", "roots as the rack cuts them") == "generated",
        "sign": -1.0 if internal else 1.0,
        "module": take("module", units.LENGTH, "2 mm", 0.0, "a module that a 0.4 mm nozzle prints well"),
        **_teeth(r, path, ledger, internal),
        "pressure_angle": _pressure_angle(r, path, ledger),
        "face_width": take("face_width", units.LENGTH, "15 mm", 0.2, "a usual width of printed gears"),
        "pinion_shift": take("pinion_shift", units.NUMBER, "0", 0.0, "no profile shift"),
        "gear_shift": take("gear_shift", units.NUMBER, "0", 0.0, "no profile shift"),
        "pinion_addendum": ledger.take(f"{path}.pinion_addendum", units.NUMBER, r.pinion_addendum, None, one),
        "gear_addendum": ledger.take(f"{path}.gear_addendum", units.NUMBER, r.gear_addendum, None, one),
        "dedendum": ledger.take(
            f"{path}.dedendum", units.NUMBER, r.dedendum, None, Default("1.25", 0.0, "depth of the usual rack", _RACK)
        ),
        "root_fillet": ledger.take(
            f"{path}.root_fillet", units.NUMBER, r.root_fillet, None, Default("0.38", 0.0, _PRACTICE_FILLET, _RACK)
        ),
        "centre_distance": _centre(r, path, ledger),
        "pinion_thinning": backlash * parts[0],
        "gear_thinning": backlash * parts[1],
        "mount_short_by": take(
            "mount_short_by", units.LENGTH, "0.5 mm", 0.0, "mounts are drawn half a millimetre short and shimmed"
        ),
        "measured_gap": _optional(r.measured_gap, f"{path}.measured_gap", ledger, "not measured yet"),
        "friction": take(
            "friction", units.NUMBER, *(("0.1", 0.4, "greased plastic") if greased else ("0.3", 0.4, "dry plastic"))
        ),
        "other_losses": take("other_losses", units.SHARE, "3 %", 0.7, "bearings and misalignment of a printed stage"),
        "shock": take("shock", units.NUMBER, "1.5", 0.2, "hitting a stop or reversing loads teeth beyond the torque"),
        "hours": _derived(r.hours, f"{path}.hours", ledger, _hours(brief), "s", "days × hours a day × share driving"),
        "temperature": _derived(
            r.temperature, f"{path}.temperature", ledger, brief.ambient + WARM_BY, "K", "the room and the warm motor"
        ),
    }  # fmt: skip
    for member in ("pinion", "gear"):
        row |= _member(r, path, member, ledger, printed, flat)
    for key, dimension, text, source in _LIMITS:
        default = Default(text, 0.0, source.title, source)
        row[f"lim_{key}"] = ledger.take(f"{path}.limits.{key}", dimension, getattr(r.limits, key), None, default)
    return row


def _teeth(r: Stage, path: str, ledger: Ledger, internal: bool) -> dict[str, Num]:
    """Tooth counts. Of a batch, machines that cannot be are left to fail as NaN; where none can be, it is a fault."""
    counts: dict[str, Num] = {}
    for key in ("pinion_teeth", "gear_teeth"):
        count = ledger.take(f"{path}.{key}", units.COUNT, getattr(r, key))
        enough = np.asanyarray(count) >= FEWEST_TEETH
        if not enough.any():
            read = ledger.origins[f"{path}.{key}"].text
            ledger.fault(f"{path}.{key}", "too few teeth for an involute gear", read, f"{FEWEST_TEETH} or more")
        counts[key] = np.where(enough, count, np.nan)[()]
    if internal:
        inside = np.asanyarray(counts["pinion_teeth"]) < np.asanyarray(counts["gear_teeth"])
        if not inside.any() and not np.isnan(counts["pinion_teeth"] + counts["gear_teeth"]).all():
            read = ledger.origins[f"{path}.pinion_teeth"].text
            most = ledger.origins[f"{path}.gear_teeth"].text
            ledger.fault(
                f"{path}.pinion_teeth", "a pinion must have fewer teeth than its ring", read, f"below {most}"
            )  # fmt: skip
        counts["pinion_teeth"] = np.where(inside, counts["pinion_teeth"], np.nan)[()]
    return counts


def _pressure_angle(r: Stage, path: str, ledger: Ledger) -> Num:
    key = f"{path}.pressure_angle"
    angle = ledger.take(
        key, units.ANGLE, r.pressure_angle, None, Default("20 deg", 0.0, "the usual pressure angle", _RACK)
    )
    usable = (np.asanyarray(angle) >= LEAST_ANGLE) & (np.asanyarray(angle) <= MOST_ANGLE)
    if not usable.any():
        ledger.fault(key, "not a pressure angle that gears are made with", ledger.origins[key].text, "10 deg to 35 deg")
    return np.where(usable, angle, np.nan)[()]


def _centre(r: Stage, path: str, ledger: Ledger) -> Num:
    """NaN without blame: the teeth decide where nothing is typed."""
    return _optional(
        r.centre_distance, f"{path}.centre_distance", ledger, "as the teeth ask",
        "the distance at which these teeth and shifts run",
    )  # fmt: skip


def _optional(typed: Quantity | None, key: str, ledger: Ledger, text: str, note: str = "") -> Num:
    """A length that may be left out: NaN then, which is no fault of the file."""
    if typed is not None:
        return ledger.take(key, units.LENGTH, typed)
    ledger.origins[key] = Origin(Kind.DEFAULT, key, text=text, note=note or text)
    return float("nan")


def _hours(brief: Brief) -> Num:
    return brief.day_length * brief.days * brief.driving_share


def _derived(typed: Quantity | None, path: str, ledger: Ledger, value: Num, unit: str, reason: str) -> Num:
    """A number typed here, or one that follows from the brief and is listed as a default."""
    if typed is not None:
        return ledger.take(path, units.SI[unit], typed)
    text = units.show(float(value), unit) if np.ndim(value) == 0 else ""
    return ledger.reckon(path, value, text, 0.3 if unit == "s" else 0.02, reason)


def _member(r: Stage, path: str, member: str, ledger: Ledger, printed: bool, flat: bool) -> dict[str, Num | bool]:
    """Strength numbers of pinion or gear, from its material's row; a strength typed in the file wins."""
    key = f"{path}.{member}_material"
    word: Word | None = getattr(r, f"{member}_material")
    if word is None:
        usual, why = ("printed-petg", "the usual filament for gears") if printed else ("steel", "a machined gear")
        word = Word(usual, Origin(Kind.DEFAULT, key, text=usual, note=why))
    row = ledger.row(key, "gear_materials", word)

    def take(column: str, dimension: units.Dimension, typed: Quantity | None = None) -> Num:
        return ledger.take(f"{path}.{member}_{column}", dimension, typed or _cell(row, column))

    layered = row is not None and row.words.get("made") == "printed" and not flat
    share = take("layer_share", units.PERCENT) if layered else 1.0
    return {
        f"{member}_layered": layered,
        f"{member}_printed": row is None or row.words.get("made") == "printed",
        f"{member}_strength": take("strength", units.STRESS, getattr(r, f"{member}_strength")),
        f"{member}_layer_share": share,
        f"{member}_modulus": take("modulus", units.STRESS),
        f"{member}_poisson": take("poisson", units.NUMBER),
        f"{member}_endurance_share": take("root_endurance_share", units.PERCENT),
        f"{member}_flank": take("flank_strength", units.STRESS),
        f"{member}_softening": take("softening", units.TEMPERATURE),
    }


def _cell(row: Row | None, column: str) -> Quantity | None:
    return None if row is None else row.quantities.get(column)
