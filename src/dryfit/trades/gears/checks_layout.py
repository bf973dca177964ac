"""The stages laid out once for both kinds of gear check: every circle, angle and gap as arrays (..., G)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Array, Num, Origin
from dryfit.ground.sources import Source, derived, practice
from dryfit.machine.gears import Gears
from dryfit.machine.workshop import Workshop
from dryfit.trades.gears import formulas as one
from dryfit.trades.gears import formulas_pairs as pair
from dryfit.trades.gears.formulas_shims import shim_stack

TRADE = "gears"
GEOMETRY = derived("geometry of the involute")
SIZE_RESERVE = (0.1, practice("a tenth kept back on sizes that a print or a mount may miss"))
NO_RESERVE = (0.0, practice("an exact condition needs no reserve"))

ALL_TEETH = ("module", "pinion_teeth", "gear_teeth", "pressure_angle", "pinion_shift", "gear_shift")
ADDENDA = ("pinion_addendum", "gear_addendum")


@dataclass(frozen=True)
class Layout:
    """All stages side by side, (..., G). Index 1 pinion, 2 gear or ring; radii in m, angles in rad.

    free: working angle without backlash; right_centre: the centre distance that goes with it.
    deviation, allowed: how far the typed centre distance lies from it, and how far it may.
    centre, working: distance and angle at which everything else is judged: the typed one where it lies within what is
    allowed, otherwise the right one, so that one wrong distance is named once.
    usable_tip1, usable_tip2: tips as far as they can touch an involute.  recess, approach: contact ratios.
    gap: how far the mount leaves the pinion out of mesh, measured or else as drawn.  shims: pieces of the stack for it,
    thickest first, (..., G, 4).  mount_error: what is left of the mount's error after shimming.
    """

    free: Array
    right_centre: Array
    deviation: Array
    allowed: Array
    centre: Array
    working: Array
    base1: Array
    base2: Array
    tip1: Array
    tip2: Array
    root1: Array
    root2: Array
    tip1_angle: Array
    tip2_angle: Array
    usable_tip1: Array
    usable_tip2: Array
    recess: Array
    approach: Array
    backlash: Array
    gap: Array
    shims: Array
    mount_error: Array


def lay_out(g: Gears, workshop: Workshop) -> Layout:
    """Circles, angles and contact of every stage."""
    m, z1, z2, s, alpha = g.module, g.pinion_teeth, g.gear_teeth, g.sign, g.pressure_angle
    free = np.asanyarray(pair.working_angle(z1, z2, g.pinion_shift, g.gear_shift, alpha, s))
    right = pair.centre_distance(m, z1, z2, alpha, free, s)
    typed = np.array(g.typed_centre, dtype=bool)
    deviation = np.where(typed, np.abs(g.centre_distance - right), 0.0 * right)
    allowed = (g.lim_backlash_most - g.lim_backlash_least) / 2 / pair.backlash_change(free, 1.0)
    centre = np.where(typed & (deviation <= allowed), g.centre_distance, right)
    working = pair.angle_at_distance(m, z1, z2, alpha, centre, s)
    base1, base2 = (one.base_diameter(m, z, alpha) / 2 for z in (z1, z2))
    tip1 = one.tip_diameter(m, z1, g.pinion_addendum, g.pinion_shift, 1.0) / 2
    tip2 = one.tip_diameter(m, z2, g.gear_addendum, g.gear_shift, s) / 2
    usable1, usable2 = pair.usable_tips(tip1, base1, tip2, base2, centre, working, s)
    pitch = np.pi * m * np.cos(alpha)
    recess, approach = pair.contact_ratios(usable1, base1, usable2, base2, working, pitch, s)
    thinning = g.pinion_thinning + g.gear_thinning
    mount, step = column(workshop.mount_tolerance), column(np.min(workshop.shims, axis=-1))
    measured = np.array(g.measured, dtype=bool)
    gap = np.where(measured, g.measured_gap, g.mount_short_by)
    stack = shim_stack(gap, workshop.shims[..., None, :])
    left = np.abs(gap - np.sum(stack, axis=-1))
    return Layout(
        free=free,
        right_centre=np.asanyarray(right),
        deviation=deviation,
        allowed=np.asanyarray(allowed),
        centre=centre,
        working=np.asanyarray(working),
        base1=np.asanyarray(base1),
        base2=np.asanyarray(base2),
        tip1=np.asanyarray(tip1),
        tip2=np.asanyarray(tip2),
        root1=np.asanyarray(one.root_diameter(m, z1, g.dedendum, g.pinion_shift, 1.0) / 2),
        root2=np.asanyarray(one.root_diameter(m, z2, g.dedendum, g.gear_shift, s) / 2),
        tip1_angle=np.asanyarray(one.angle_at(tip1, base1)),
        tip2_angle=np.asanyarray(one.angle_at(tip2, base2)),
        usable_tip1=np.asanyarray(usable1),
        usable_tip2=np.asanyarray(usable2),
        recess=np.asanyarray(recess),
        approach=np.asanyarray(approach),
        backlash=np.asanyarray(pair.backlash(alpha, free, working, centre, thinning, s)),
        gap=gap,
        shims=stack,
        mount_error=np.where(measured, left, np.where(g.mount_short_by >= mount, step / 2, mount)),
    )


class Typed:
    """The typed numbers of all stages as terms, one scalar term a stage, so that workings end at lines of the file."""

    def __init__(self, origins: Mapping[str, Origin], g: Gears) -> None:
        self._origins, self._gears, self._made = origins, g, dict[tuple[str, bool], tuple[Term, ...]]()

    def __call__(self, *keys: str) -> tuple[Term, ...]:
        """Terms of the named numbers, stage by stage."""
        return tuple(t for key in keys for t in self._terms(key))

    def of(self, variants: int, *keys: str) -> tuple[Term, ...]:
        """The named numbers for a finding with `variants` cases a stage: of several stages only the governing one's."""
        return tuple(t for key in keys for v in range(variants) for t in self._in_cases(key, variants, v))

    def member(self, variants: int, which: Sequence[int], *keys: str) -> tuple[Term, ...]:
        """Numbers that belong to some of the variants of each stage only, such as the pinion's."""
        return tuple(
            replace(t, case=i * variants + v)
            for key in keys
            for v in which
            for i, t in enumerate(self._terms(key, plain=True))
        )

    def _in_cases(self, key: str, variants: int, variant: int) -> tuple[Term, ...]:
        if len(self._gears.paths) == 1:
            return self._terms(key) if variant == 0 else ()
        return self.member(variants, (variant,), key)

    def _terms(self, key: str, *, plain: bool = False) -> tuple[Term, ...]:
        """One term a stage; with several stages the symbol carries the stage's number, unless `plain`."""
        known = (key, plain)
        if known not in self._made:
            symbol, name, unit, values, place = self._entry(key)
            several = len(self._gears.paths) > 1
            self._made[known] = tuple(
                Term(
                    f"{symbol} ({i + 1})" if several and not plain else symbol,
                    f"{name}, {self._gears.names[i]}" if several else name,
                    values[..., i],
                    unit,
                    self._origins[f"{path}.{place}"],
                )
                for i, path in enumerate(self._gears.paths)
            )
        return self._made[known]

    def _entry(self, key: str) -> tuple[str, str, str, Array, str]:
        symbol, name, unit = NAMES[key]
        if key == "backlash":
            return symbol, name, unit, self._gears.pinion_thinning + self._gears.gear_thinning, key
        place = key.replace("lim_", "limits.", 1) if key.startswith("lim_") else PLACES.get(key, key)
        return symbol, name, unit, getattr(self._gears, key), place


PLACES = {
    "pinion_flank": "pinion_flank_strength",
    "gear_flank": "gear_flank_strength",
    "pinion_endurance_share": "pinion_root_endurance_share",
    "gear_endurance_share": "gear_root_endurance_share",
}

NAMES: dict[str, tuple[str, str, str]] = {
    "module": ("m", "module", "m"),
    "pinion_teeth": ("z1", "teeth of the pinion", "1"),
    "gear_teeth": ("z2", "teeth of the gear or ring", "1"),
    "pressure_angle": ("α", "pressure angle", "rad"),
    "face_width": ("b", "face width", "m"),
    "pinion_shift": ("x1", "profile shift of the pinion", "1"),
    "gear_shift": ("x2", "profile shift of the gear or ring", "1"),
    "pinion_addendum": ("h_a1", "addendum of the pinion in modules", "1"),
    "gear_addendum": ("h_a2", "addendum of the gear or ring in modules", "1"),
    "dedendum": ("h_f", "dedendum in modules", "1"),
    "root_fillet": ("ρ_f", "root rounding in modules", "1"),
    "centre_distance": ("a", "centre distance in the file", "m"),
    "backlash": ("Δs", "thinning of both teeth together", "m"),
    "mount_short_by": ("e", "how far the mount leaves the pinion out of mesh", "m"),
    "measured_gap": ("e_m", "gap measured between pinion and its place in mesh", "m"),
    "pinion_layer_share": ("q_l1", "share of the strength across layers, pinion", "%"),
    "gear_layer_share": ("q_l2", "share of the strength across layers, gear", "%"),
    "pinion_strength": ("σ_1", "strength of the pinion's material", "Pa"),
    "gear_strength": ("σ_2", "strength of the gear's material", "Pa"),
    "pinion_flank": ("p_1", "flank strength of the pinion", "Pa"),
    "gear_flank": ("p_2", "flank strength of the gear", "Pa"),
    "pinion_modulus": ("E1", "modulus of the pinion", "Pa"),
    "gear_modulus": ("E2", "modulus of the gear", "Pa"),
    "pinion_softening": ("ϑ_s1", "softening temperature of the pinion", "K"),
    "gear_softening": ("ϑ_s2", "softening temperature of the gear", "K"),
    "pinion_endurance_share": ("q1", "strength left to the pinion after 10 million loads", "%"),
    "gear_endurance_share": ("q2", "strength left to the gear after 10 million loads", "%"),
    "friction": ("µ", "friction of the flanks", "1"),
    "other_losses": ("v", "losses outside the mesh", "%"),
    "shock": ("K", "shock factor", "1"),
    "hours": ("L", "running time", "s"),
    "temperature": ("ϑ0", "temperature around the gears", "K"),
    "lim_contact_ratio": ("ε_min", "least contact ratio", "1"),
    "lim_backlash_least": ("j_min", "least backlash", "m"),
    "lim_backlash_most": ("j_max", "most backlash", "m"),
    "lim_backlash_loosest": ("j_loose", "most backlash with all errors", "m"),
    "lim_strength_share": ("k", "share of the flat strength to be used", "%"),
    "lim_service_share": ("k_N", "share of the strength left after all loads to be used", "%"),
    "lim_flank_share": ("k_H", "share of the flank strength to be used", "%"),
    "lim_tip_lines": ("n", "lines across a tooth tip", "1"),
    "lim_undercut_share": ("k_u", "share of the exact undercut limit that is kept", "%"),
}


def of_workshop(origins: Mapping[str, Origin], key: str, symbol: str, name: str, value: Num) -> Term:
    """A length of the workshop as a term."""
    return Term(symbol, name, value, "m", origins[f"workshop.{key}"])


def per_case(
    symbol: str, name: str, value: Num, unit: str, formula: str, terms: Sequence[Term], *sources: Source
) -> Term:
    """A worked-out term with one entry for each case of its finding, (..., C)."""
    return calculated(symbol, name, value, unit, formula, terms, *sources, per_case=True)


def case_names(g: Gears, *variants: str) -> tuple[str, ...]:
    """Labels of cases, stage by stage and variant by variant: "stage 2, pinion"."""
    return tuple(", ".join(w for w in (name, v) if w) for name in g.names for v in variants)


def side_by_side(*variants: Num) -> Array:
    """Variants (..., G) each -> cases (..., G·V), ordered as `case_names` orders them."""
    arrays = np.stack(np.broadcast_arrays(*(np.asanyarray(v, dtype=float) for v in variants)), axis=-1)
    return arrays.reshape(*arrays.shape[:-2], -1)


def repeated(value: Num, times: int) -> Array:
    """One number a stage (..., G) for each of `times` variants: (..., G·times)."""
    return np.repeat(np.asanyarray(value, dtype=float), times, axis=-1)
