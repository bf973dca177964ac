"""Weight checks: what it weighs, where, how that spreads over the wheels, and whether people and doors can cope."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.rounding import downwards, upwards
from dryfit.ground.sources import derived, memory, practice
from dryfit.machine.arms import Arms
from dryfit.machine.brief import Brief
from dryfit.machine.parts import Parts, reach_terms, written_name
from dryfit.machine.read import read, stance
from dryfit.machine.wheels import Wheels
from dryfit.trades.weight.formulas import (
    about_centre,
    guessed_share,
    load_change,
    moments_about_origin,
    weight_of,
    wheel_loads,
)

_STATICS = derived("statics of a rigid body")
_ADDING = derived("addition of masses and moments; parallel-axis theorem")
_BOXES = derived("bounding boxes of parts, wheels and ends of arms in the machine's axes")
_LIFTING = practice("one person lifts up to 25 kg close to the body; local rules on manual handling decide")
_OPENING = practice("an opening should leave 20 mm")
_USUAL_SPREADS = practice("2 % weighed, 5 % by length, 15 % by volume, 40 % guessed")
_KNOWN = {
    "weighed": "weighed", "length": "reckoned from length", "volume": "reckoned from sizes and fill",
    "guessed": "guessed",
}  # fmt: skip
_LIFT_CAUTION = "Lift with two when in doubt; local rules on manual handling decide."


@dataclass(frozen=True)
class WeightResult:
    """mass (...,); centre_of_mass (..., P, 3); inertia about it (..., P, 3, 3); wheel_load (..., P, W) level and at
    rest; height (...,) of the highest point with arms as in the first posture."""

    mass: Term
    centre_of_mass: Term
    inertia: Term
    wheel_load: Term
    height: Term
    findings: tuple[Finding, ...]


def assess_weight(
    origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, parts: Parts, arms: Arms
) -> WeightResult:
    """Mass, centre, inertia and wheel loads of the whole machine in every posture, and the checks about them."""
    terms, wheel_mass = _mass_terms(origins, wheels, parts, arms)
    m, first, about_origin = _whole(parts, arms, wheels, wheel_mass)
    c, inertia = about_centre(column(m), first, about_origin)
    mass = calculated("m", "mass of the machine", m, "kg", "m = Σ m_i", terms, _ADDING)
    centre = calculated(
        "c",
        "centre of mass in every posture",
        c,
        "m",
        "c = Σ m_i c_i / m",
        (mass, *_place_terms(origins, parts)),
        _ADDING,
    )
    own = calculated(
        "I",
        "inertia about the centre of mass",
        inertia,
        "kg*m2",
        "I = Σ I_i + m_i (d_i² 1 - d_i d_iᵀ)",
        (mass,),
        _ADDING,
    )
    loads = wheel_loads(np.asanyarray(wheels.position)[..., None, :, :], c[..., :2], column(weight_of(m)))
    far = np.max(np.hypot(wheels.position[..., 0], wheels.position[..., 1]), axis=-1)
    load = calculated(
        "N", "wheel loads in every posture", loads, "N", "Σ N = m g, Σ N_i (p_i - c) = 0, equal contacts",
        (mass, centre, stance(origins, far)), _STATICS,
    )  # fmt: skip
    height = _height_term(origins, parts, arms, wheels)
    spread = calculated(
        "s", "mass that may be off", guessed_share(parts.mass, np.array(parts.spread)), "%",
        "s = Σ m_i s_i / Σ m_i over the parts", (*terms, *_spread_terms(origins, parts)),
    )  # fmt: skip
    findings = [
        _mass_known(origins, parts, spread),
        *_lift(origins, brief, parts, arms, wheel_mass, terms),
        *_door(origins, brief, wheels, parts, arms, height),
        *_wheels(origins, wheels, parts, arms, mass, load),
    ]
    return WeightResult(mass, centre, own, load, height, tuple(findings))


def _whole(parts: Parts, arms: Arms, wheels: Wheels, wheel_mass: Array | None) -> tuple[Array, Array, Array]:
    """Mass (...,), first moment (..., P, 3) and inertia about the origin (..., P, 3, 3) of everything."""
    m, s, j = moments_about_origin(parts.mass, parts.centre, parts.inertia)
    if wheel_mass is not None:
        x = np.concatenate([np.asanyarray(wheels.position), np.asanyarray(wheels.radius)[..., None]], axis=-1)
        # The bare wheel as a ball of like inertia: its turning about the axle is lost in the machine's own inertia.
        disc = np.asanyarray(wheel_mass * np.asanyarray(wheels.radius) ** 2 / 4)[..., None, None] * np.eye(3)
        mw, sw, jw = moments_about_origin(wheel_mass, x, disc)
        m, s, j = m + mw, s + sw, j + jw
    s, j = s[..., None, :], j[..., None, :, :]
    if arms.names:
        links = np.asanyarray(arms.link_mass)
        links = links.reshape(*links.shape[:-2], 1, -1)
        centre = np.asanyarray(arms.link_centre)
        centre = centre.reshape(*centre.shape[:-3], -1, 3)
        inertia = np.asanyarray(arms.link_inertia)
        inertia = inertia.reshape(*inertia.shape[:-4], -1, 3, 3)
        ma, sa, ja = moments_about_origin(links, centre, inertia)
        return m + ma[..., 0], s + sa, j + ja
    n = len(arms.postures)
    return m, np.repeat(s, n, axis=-2), np.repeat(j, n, axis=-3)


def _mass_terms(
    origins: Mapping[str, Origin], wheels: Wheels, parts: Parts, arms: Arms
) -> tuple[tuple[Term, ...], Array | None]:
    """One term for every written part, one for the arms, one for wheels that no part covers."""
    terms: list[Term] = []
    for path in dict.fromkeys(parts.paths):
        i, n = parts.paths.index(path), parts.paths.count(path)
        terms.append(_partread(origins, parts, path, i, written_name(parts, path), n, len(terms) + 1))
    if arms.names:
        value = np.sum(arms.link_mass, axis=(-1, -2))
        given = [Term(symbol, name, x, unit, _found(origins, key)) for symbol, name, x, unit, key in arms.typed
                 if unit == "kg"]  # fmt: skip
        terms.append(calculated("m_a", f"{len(arms.names)} arms", value, "kg", "m_a = Σ links and payloads", given))
    if parts.wheels_included:
        return tuple(terms), None
    each = Term("m_w", "mass of a wheel", wheels.mass, "kg", _found(origins, "base.wheels.mass"))
    total = np.sum(wheels.mass, axis=-1)
    terms.append(calculated("m_wheels", "wheels that no part covers", total, "kg", "m_wheels = Σ m_w", (each,)))
    return tuple(terms), np.asanyarray(wheels.mass)


def _partread(origins: Mapping[str, Origin], parts: Parts, path: str, i: int, name: str, n: int, number: int) -> Term:
    value = np.asanyarray(parts.mass)[..., i]
    symbol = f"m_{number}"
    if parts.known_by[i] == "volume":
        density = Term("ρ", "density", parts.density[..., i], "kg/m3", _found(origins, f"{path}.density"))
        share = np.asanyarray(parts.fill)[..., i]
        fill = Term("φ", "share that is filled", share, "%", origins.get(f"{path}.fill", _solid(path)))
        one = calculated(symbol, name, value, "kg", "m = ρ V φ, V from the shape and its sizes", (density, fill))
    else:
        one = Term(symbol, name, value, "kg", _found(origins, f"{path}.mass"))
    return one if n == 1 else calculated(f"{symbol}×{n}", f"{n} × {name}", n * value, "kg", f"{n} {symbol}", (one,))


def _spread_terms(origins: Mapping[str, Origin], parts: Parts) -> tuple[Term, ...]:
    """How well the masses are known, once for every way of knowing them and for every one that says so itself."""
    terms: dict[tuple[str, float], Term] = {}
    for path, known_by, s in zip(parts.paths, parts.known_by, parts.spread, strict=True):
        typed = origins.get(f"{path}.mass")
        if typed is not None and "±" in typed.text:
            terms[(path, s)] = Term("s_i", "half-width typed with the mass", s, "%", typed)
        else:
            origin = Origin(Kind.RULE, note=f"usual for a mass that is {_KNOWN[known_by]}", source=_USUAL_SPREADS)
            terms.setdefault((known_by, s), Term("s_i", f"masses that are {_KNOWN[known_by]}", s, "%", origin))
    return tuple(terms.values())


def _solid(path: str) -> Origin:
    return Origin(Kind.DEFAULT, path=f"{path}.fill", text="100 %", note="not printed, so solid")


def _place_terms(origins: Mapping[str, Origin], parts: Parts) -> tuple[Term, ...]:
    """Heights of the written parts as typed, for the workings of the centre of mass."""
    seen: dict[str, int] = {}
    for i, path in enumerate(parts.paths):
        seen.setdefault(path, i)
    centre = np.asanyarray(parts.centre)
    return tuple(
        Term("z", f"height of {written_name(parts, path)}", centre[..., i, 2], "m", origins[f"{path}.at[2]"])
        for path, i in seen.items()
        if f"{path}.at[2]" in origins
    )


def _height_term(origins: Mapping[str, Origin], parts: Parts, arms: Arms, wheels: Wheels) -> Term:
    top = np.maximum(np.max(parts.high[..., 2], axis=-1), 2 * np.max(wheels.radius, axis=-1))
    if arms.names:
        top = np.maximum(top, np.max(np.asanyarray(arms.tip)[..., 0, :, 2], axis=-1))
    return calculated("H", "height overall", top, "m", "highest point of parts, wheels and arms",
                      reach_terms(origins, parts), _BOXES)  # fmt: skip


def _mass_known(origins: Mapping[str, Origin], parts: Parts, spread: Term) -> Finding:
    limit = read(origins, "s_max", "mass that may be off", parts.lim_guessed_share, "%", "body.limits.guessed_share")
    return finding(
        check="mass-known", trade="weight", topic="mass", unit="%",
        title="The mass of the parts is known well enough to build on",
        demand=spread.value, capacity=limit.value, demand_name="mass that may be off", capacity_name="at most",
        reserve=(0.0, practice("no further reserve: the limit is the reserve")), late=Late.MINUTES,
        formula="Σ m_i s_i / Σ m_i ≤ s_max", terms=(spread, limit),
        sources=(_USUAL_SPREADS,),
        remedy="Weigh the heaviest parts that are guessed, or the things most like them, and type their mass",
    )  # fmt: skip


def _lift(
    origins: Mapping[str, Origin],
    brief: Brief,
    parts: Parts,
    arms: Arms,
    wheel_mass: Array | None,
    terms: tuple[Term, ...],
) -> list[Finding]:
    """Cases are the sections; `terms` are those of the mass: one for each written part, then arms, then wheels."""
    written = dict(zip(dict.fromkeys(parts.paths), terms, strict=False))
    others = {t.symbol: t for t in terms[len(written) :]}
    sections = list(dict.fromkeys(parts.section))
    masses: list[Num] = [
        np.sum(parts.mass[..., [i for i, s in enumerate(parts.section) if s == name]], axis=-1) for name in sections
    ]
    made_of = [[written[p] for p, s in dict.fromkeys(zip(parts.paths, parts.section, strict=True)) if s == name]
               for name in sections]  # fmt: skip
    if wheel_mass is not None:
        masses[0] = masses[0] + np.sum(wheel_mass, axis=-1)
        made_of[0].append(others["m_wheels"])
    if arms.names:
        arm_mass = np.sum(arms.link_mass, axis=(-1, -2))
        if len(sections) == 1:
            masses[0] = masses[0] + arm_mass
            made_of[0].append(others["m_a"])
        else:
            sections, masses, made_of = [*sections, "arms"], [*masses, arm_mass], [*made_of, [others["m_a"]]]
    mass_of = [
        replace(calculated("m_s", f"mass of the section {name}", m, "kg", "m_s = Σ m_i of the section", given), case=k)
        for k, (name, m, given) in enumerate(zip(sections, masses, made_of, strict=True))
    ]
    limit = read(origins, "m_lift", "what one person lifts", brief.lim_lift_mass, "kg", "brief.limits.lift_mass")
    return [
        finding(
            check="lift-by-one-person", trade="weight", topic="carrying", unit="kg", cases=sections,
            title="Every section can be lifted by one person", demand=stack(masses), capacity=column(limit.value),
            demand_name="mass of the section", capacity_name="one person lifts", reserve=(0.0, _LIFTING),
            late=Late.SHOW, formula="m_s ≤ m_lift", terms=(*mass_of, limit), sources=(_LIFTING,),
            remedy="Divide the section so that no piece is over {m_lift}, or plan for two people",
            caution=_LIFT_CAUTION,
        )
    ]  # fmt: skip


def _door(
    origins: Mapping[str, Origin], brief: Brief, wheels: Wheels, parts: Parts, arms: Arms, height: Term
) -> list[Finding]:
    wide = read(origins, "B", "width of the door", brief.door_width, "m", "brief.door_width")
    high = read(origins, "H_d", "height of the door", brief.door_height, "m", "brief.door_height")
    clear = read(origins, "δ", "clearance in the opening", parts.lim_door_clearance, "m", "body.limits.door_clearance")
    if parts.through_door == "in sections":
        cases, demand, tall = _section_sizes(parts)
        what = "bounding boxes of the sections, turned any way"
    else:
        cases, demand = ("width", "height"), stack([_width(wheels, parts, arms), height.value])
        tall = (False, True)
        what = "bounding box of parts, wheels and ends of the arms in the first posture"
    opening = np.where(np.array(tall), column(brief.door_height), column(brief.door_width))
    free = opening - column(parts.lim_door_clearance)
    circle = stance(origins, np.max(np.hypot(wheels.position[..., 0], wheels.position[..., 1]), axis=-1))
    size = calculated("b", "size of what passes", demand, "m", what, (*reach_terms(origins, parts), circle), _BOXES,
                      per_case=True)  # fmt: skip
    room = calculated("b_max", "opening less clearance", free, "m", "B - δ, or H_d - δ", (wide, high, clear),
                      per_case=True)  # fmt: skip
    return [
        finding(
            check="fits-the-door", trade="weight", topic="carrying", unit="m", cases=cases,
            title="It fits through the door", demand=demand, capacity=free,
            demand_name="size", capacity_name="opening less clearance", reserve=(0.0, _OPENING), late=Late.SHOW,
            formula="b ≤ b_max", terms=(size, room), sources=(_OPENING, _BOXES),
            remedy="Make what passes no larger than {b_max}, divide it, or find a wider way in",
        )
    ]  # fmt: skip


def _width(wheels: Wheels, parts: Parts, arms: Arms) -> Num:
    """Breadth across the way it passes a door: the narrower of the two for a base that drives in any direction."""
    c, s = np.abs(np.cos(wheels.heading)), np.abs(np.sin(wheels.heading))
    reach = (wheels.radius * c + wheels.width / 2 * s, wheels.radius * s + wheels.width / 2 * c)
    across: list[Array] = []
    for k in (1, 0):
        place = wheels.position[..., k]
        high = np.maximum(np.max(parts.high[..., k], axis=-1), np.max(place + reach[k], axis=-1))
        low = np.minimum(np.min(parts.low[..., k], axis=-1), np.min(place - reach[k], axis=-1))
        if arms.names:
            tips = np.asanyarray(arms.tip)[..., 0, :, k]
            high, low = np.maximum(high, np.max(tips, axis=-1)), np.minimum(low, np.min(tips, axis=-1))
        across.append(np.asanyarray(high - low))
    return across[0][()] if "tyre" in wheels.kinds else np.minimum(*across)[()]


def _section_sizes(parts: Parts) -> tuple[tuple[str, ...], Array, tuple[bool, ...]]:
    """The two smaller sizes of every section, turned any way: the smallest against the width, the next against the
    height of the opening."""
    cases: list[str] = []
    sizes: list[Num] = []
    for name in dict.fromkeys(parts.section):
        those = [i for i, s in enumerate(parts.section) if s == name]
        extent = np.max(parts.high[..., those, :], axis=-2) - np.min(parts.low[..., those, :], axis=-2)
        # a NaN would be sorted out of sight, behind the two sizes that count
        ordered = np.where(np.any(np.isnan(extent), axis=-1, keepdims=True), np.nan, np.sort(extent, axis=-1))
        cases += [f"{name}, narrow side", f"{name}, broad side"]
        sizes += [ordered[..., 0], ordered[..., 1]]
    return tuple(cases), stack(sizes), tuple(i % 2 == 1 for i in range(len(cases)))


def _wheels(
    origins: Mapping[str, Origin], wheels: Wheels, parts: Parts, arms: Arms, mass: Term, load: Term
) -> list[Finding]:
    """Least and greatest load of every wheel over the postures; cases are the wheels."""
    loads = np.asanyarray(load.value)
    if loads.shape[-1] == 0:
        return []
    least, most = np.min(loads, axis=-2), np.max(loads, axis=-2)
    even = column(weight_of(mass.value)) / loads.shape[-1]
    share = read(
        origins, "f", "least part of the even share", parts.lim_least_wheel_share, "%", "body.limits.least_wheel_share"
    )
    lightest = calculated(
        "N_min",
        "least load of the wheel in any posture",
        least,
        "N",
        "N_min = min over postures",
        (load,),
        per_case=True,
    )
    heaviest = calculated(
        "N_max",
        "greatest load of the wheel in any posture",
        most,
        "N",
        "N_max = max over postures",
        (load,),
        per_case=True,
    )
    rating = read(origins, "N_r", "what the wheel may carry", wheels.load_rating, "N", "base.wheels.load_rating", True)
    kept = 0.25
    rated = calculated("N_just", "rating that keeps the reserve", upwards(most / (1 - kept)), "N", "N_max / 0.75",
                       (heaviest,), per_case=True)  # fmt: skip
    found = [
        finding(
            check="wheel-load-share", trade="weight", topic="wheel loads", unit="N", cases=wheels.names,
            title="Every wheel carries its share", demand=column(share.value) * even, capacity=least,
            demand_name="least load asked for", capacity_name="load of the wheel", late=Late.REPRINT,
            reserve=(0.0, practice("no further reserve: the share is the reserve")),
            formula="N_min ≥ f m g / W", terms=(lightest, share, mass), sources=(_STATICS,),
            remedy="Move heavy parts (packs first) towards the light wheel, or the wheel towards the middle",
        ),
        finding(
            check="wheel-overloaded", trade="weight", topic="wheel loads", unit="N", cases=wheels.names,
            title="No wheel carries more than it may", demand=most, capacity=wheels.load_rating,
            demand_name="load of the wheel", capacity_name="rated load", late=Late.PART_ORDER,
            reserve=(kept, practice("a quarter of the rating is kept for edges and joints")),
            formula="N_max ≤ N_r", terms=(heaviest, rating, rated), sources=(_STATICS,),
            remedy="Take wheels rated for {N_just}, or shed weight",
        ),
    ]  # fmt: skip
    if loads.shape[-1] >= 4:
        found.append(_on_the_floor(origins, wheels, parts, lightest))
    return found


def _on_the_floor(origins: Mapping[str, Origin], wheels: Wheels, parts: Parts, lightest: Term) -> Finding:
    uneven = read(origins, "d", "unevenness of the floor", parts.floor_unevenness, "m", "body.floor_unevenness")
    stiff = read(origins, "k", "stiffness of one contact", parts.contact_stiffness, "N/m", "body.contact_stiffness")
    lost = load_change(wheels.position, parts.contact_stiffness, parts.floor_unevenness)
    loss = calculated("ΔN", "load lost on the uneven spot", lost, "N", "ΔN = k d |Q|", (uneven, stiff), per_case=True)
    kept = 0.2
    loses = ~(lost <= 0)
    least = np.maximum(lightest.value, 0.0)
    yields = np.where(loses, (1 - kept) * column(stiff.value) * least / np.where(loses, lost, 1.0), np.inf)
    soft = calculated("k_just", "stiffness that keeps the reserve", downwards(yields), "N/m",
                      "k 0.8 N_min / ΔN", (stiff, lightest, loss), per_case=True)  # fmt: skip
    return finding(
        check="every-wheel-on-the-floor", trade="weight", topic="wheel loads", unit="N", cases=wheels.names,
        title="All wheels stay on an uneven floor", demand=lost, capacity=lightest.value,
        demand_name="load lost on the uneven spot", capacity_name="load of the wheel on a flat floor",
        reserve=(kept, practice("a wheel that keeps a fifth of its load still drives")), late=Late.REPRINT,
        formula="k d |Q| ≤ N_min; Q = 1/4 for four wheels in a square", terms=(lightest, loss, soft),
        sources=(_STATICS, memory("DIN 18202", "table 3: finished floors off a plane by 2 to 4 mm over 0.1 to 1 m")),
        remedy="Let one axle rock, or put rubber under the wheel mounts that makes each corner give to {k_just}",
    )  # fmt: skip


def _found(origins: Mapping[str, Origin], path: str) -> Origin:
    """Where a number was read; for machine sections built by hand, the key it would have."""
    return origins.get(path) or Origin(Kind.RULE, path=path, note=path)
