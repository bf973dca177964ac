"""Safety: what published guidance says to what was declared. It informs; it permits nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, by_rule, calculated, finding
from dryfit.ground.quantity import Num, Origin
from dryfit.ground.sources import Source, derived, memory, practice
from dryfit.machine.brief import Brief
from dryfit.machine.safety import VDI_2854, Safety
from dryfit.trades.safety import formulas

DEFERRAL = "local codes, and whoever is licensed to judge such machines, decide whether it may run at all"
ISO_13854 = Source("ISO 13854", "Table 1, minimum gaps, as listed by an accident insurer")
TS_15066 = memory("ISO/TS 15066", "Annex A: contact as two masses on a spring, limits by region")
ISO_13855 = Source("ISO 13855:2024", "S = K T + Z, as given on a consultant's page")
WALKING_SPEED = 1.6
"""Speed at which a person walks towards the machine, m/s (ISO 13855; its meaning from memory)."""
YES_OR_NO = (0.0, practice("a yes or no"))
NO_RESERVE = (0.0, practice("the limit itself holds the margin"))


@dataclass(frozen=True)
class SafetyResult:
    """kinetic_energy: of the machine at its show speed (...,), J."""

    kinetic_energy: Term
    findings: tuple[Finding, ...]


def assess_safety(
    origins: Mapping[str, Origin],
    safety: Safety,
    brief: Brief,
    *,
    mass: Term,
    stopping_distance: Term,
    tip_speed: Term | None = None,
) -> SafetyResult:
    """All checks of the section. tip_speed: fastest arm tip (...,), m/s; None or 0 where the machine has no arms."""
    if tip_speed is not None and not np.any(np.asanyarray(tip_speed.value) != 0):
        tip_speed = None
    speed = Term("v", "show speed", brief.speed, "m/s", origins["brief.speed"])
    energy = calculated(
        "E", "energy of the moving machine", formulas.kinetic_energy(np.asanyarray(mass.value), brief.speed), "J",
        "E = m v²/2", (mass, speed), derived("mechanics"),
    )  # fmt: skip
    findings = (
        _speed(origins, safety, brief, speed),
        _contact(origins, safety, brief, mass, speed, energy),
        _link(origins, safety),
        _stop(origins, safety, tip_speed is not None),
        *_gaps(origins, safety),
        *_arm_tips(origins, safety, tip_speed),
        _care(origins, safety),
        *_signals(origins, safety),
        *_feet(origins, safety),
        *_sees(origins, safety, brief, speed, stopping_distance),
    )
    return SafetyResult(energy, findings)


def _limit(origins: Mapping[str, Origin], key: str, symbol: str, name: str, value: Num, unit: str) -> Term:
    return Term(symbol, name, value, unit, origins[f"safety.limits.{key}"])


def _source(origins: Mapping[str, Origin], key: str) -> Source:
    return origins[f"safety.limits.{key}"].source or practice("as given in the design file")


def _speed(origins: Mapping[str, Origin], safety: Safety, brief: Brief, speed: Term) -> Finding:
    near = ~(np.asanyarray(brief.public_distance) >= 0.5)
    return finding(
        demand=brief.speed,
        capacity=np.where(near, np.minimum(safety.lim_close_speed, safety.lim_speed), safety.lim_speed),
        reserve=NO_RESERVE,
        check="speed-among-the-public",
        trade="safety",
        topic="speed among the public",
        title="The show speed is one that visitors can step away from",
        unit="m/s",
        demand_name="show speed",
        capacity_name="speed by guidance",
        late=Late.SHOW,
        formula="v ≤ v_lim, or v_near where less than 0.5 m is left",
        terms=(
            speed,
            Term("d", "distance to the public", brief.public_distance, "m", origins["brief.public_distance"]),
            _limit(origins, "speed", "v_lim", "speed among visitors", safety.lim_speed, "m/s"),
            _limit(origins, "close_speed", "v_near", "speed where it is narrow", safety.lim_close_speed, "m/s"),
        ),
        sources=(_source(origins, "speed"), _source(origins, "close_speed")),
        remedy="Drive at {v_lim} or slower, and at {v_near} where visitors come closer than half a metre.",
        caution="Drive only as fast as the attendant beside it can walk and stop it.",
    )


def _contact(
    origins: Mapping[str, Origin], safety: Safety, brief: Brief, mass: Term, speed: Term, energy: Term
) -> Finding:
    """Cases: regions of the body."""
    body = np.array([formulas.BODY[region] for region in safety.regions])
    limit = np.array([formulas.transient_limit(region) for region in safety.regions])
    reduced = formulas.reduced_mass(column(mass.value), body[:, 2])
    spring = formulas.in_series(body[:, 1], column(safety.edge_stiffness))
    edge = Term(
        "k_e", "stiffness of the machine's edge", safety.edge_stiffness, "N/m",
        origins["safety.contact.edge_stiffness"],
    )  # fmt: skip
    lighter = calculated(
        "μ", "mass that counts", reduced, "kg", "1/μ = 1/m + 1/m_H",
        (mass, _by_region("m_H", "mass of the region", body[:, 2], "kg")), TS_15066, per_case=True,
    )  # fmt: skip
    softer = calculated(
        "k", "stiffness that counts", spring, "N/m", "1/k = 1/k_H + 1/k_e",
        (_by_region("k_H", "stiffness of the region", body[:, 1], "N/m"), edge), TS_15066, per_case=True,
    )  # fmt: skip
    most = _by_region("F_lim", "force of a short blow by guidance", limit, "N")
    would = calculated(
        "v_c",
        "speed that just keeps to the guidance",
        np.min(formulas.contact_speed(limit, reduced, spring), axis=-1),
        "m/s",
        "v_c = F_lim/√(μ k)",
        (most, lighter, softer),
        TS_15066,
    )
    return finding(
        demand=formulas.contact_force(column(brief.speed), reduced, spring),
        capacity=limit,
        cases=safety.regions,
        reserve=NO_RESERVE,
        check="contact-force",
        trade="safety",
        topic="speed among the public",
        title="A bump at show speed stays within the guidance for the region it meets",
        unit="N",
        demand_name="estimated peak force",
        capacity_name="force by guidance",
        late=Late.SHOW,
        formula="v √(μ k) ≤ F_lim",
        terms=(speed, lighter, softer, most, would, energy),
        sources=(TS_15066,),
        remedy="Put softer foam around the edge, or drive at {v_c} or slower.",
        caution="Contact forces are estimated by guidance for industrial robots: let nobody be met on purpose.",
    )


def _by_region(symbol: str, name: str, values: Num, unit: str) -> Term:
    return replace(by_rule(symbol, name, values, unit, TS_15066), per_case=True)


def _sees(
    origins: Mapping[str, Origin], safety: Safety, brief: Brief, speed: Term, stopping_distance: Term
) -> tuple[Finding, ...]:
    """Only where something that sees people is declared."""
    if not safety.sensor_given:
        return ()
    path = "safety.person_sensor"
    response = Term("t_r", "response of the sensor", safety.sensor_response, "s", origins[f"{path}.response"])
    seen = Term("d_s", "range of the sensor", safety.sensor_range, "m", origins[f"{path}.range"])
    moving = np.asanyarray(brief.speed)
    # what sees people brakes at once: the way that the lost link takes to be noticed is not part of it
    noticed = np.where(np.isinf(safety.link_loss), 0.0, safety.link_loss)
    travel = np.asanyarray(stopping_distance.value) - moving * noticed
    link = Term("t_link", "time to notice a lost link", noticed, "s", origins["safety.link_loss.time"])
    braking = calculated(
        "s_b", "way to standstill once it brakes", travel, "m", "s_b = x_stop − v t_link", (stopping_distance, link)
    )
    # braked evenly, it takes twice as long as it would at full speed
    time = safety.sensor_response + 2 * travel / np.where(moving > 0, moving, np.inf)
    need = formulas.protective_distance(WALKING_SPEED, time, travel)
    walking = by_rule("K", "speed of a walking person", WALKING_SPEED, "m/s", ISO_13855)
    return (
        finding(
            demand=need,
            capacity=safety.sensor_range,
            reserve=NO_RESERVE,
            check="people-are-seen-in-time",
            trade="safety",
            topic="stopping",
            title="It sees a person who walks towards it soon enough to be standing when they meet",
            unit="m",
            demand_name="distance needed",
            capacity_name="range of the sensor",
            late=Late.SHOW,
            formula="d_need ≤ d_s",
            terms=(
                calculated(
                    "d_need",
                    "distance needed",
                    need,
                    "m",
                    "d_need = K (t_r + 2 s_b/v) + s_b",
                    (walking, response, braking, speed),
                    ISO_13855,
                ),
                seen,
            ),
            sources=(ISO_13855, derived("even braking takes 2 s/v")),
            remedy="Drive slower, brake harder, or take a sensor that sees {d_need} far.",
            caution="A hobby sensor is no protective device: an attendant still walks along.",
        ),
    )


def _link(origins: Mapping[str, Origin], safety: Safety) -> Finding:
    time = Term("t", "time until the motors stop driving", safety.link_loss, "s", origins["safety.link_loss.time"])
    if np.any(np.isinf(np.asanyarray(safety.link_loss))):
        time = Term("t", "holds the last command", safety.link_loss, "s", origins["safety.link_loss.behaviour"])
    return finding(
        demand=safety.link_loss,
        capacity=safety.lim_link_loss,
        reserve=NO_RESERVE,
        check="stops-on-lost-link",
        trade="safety",
        topic="stopping",
        title="It stops by itself when the operator's link is lost",
        unit="s",
        demand_name="time after which it stops",
        capacity_name="time allowed",
        late=Late.SHOW,
        formula="t ≤ t_lim",
        terms=(time, _limit(origins, "link_loss", "t_lim", "time allowed", safety.lim_link_loss, "s")),
        sources=(_source(origins, "link_loss"),),
        remedy="Let the firmware stop the motors {t_lim} after the last command, and try it with the sender off.",
        caution="Try the lost link with the wheels off the ground before it drives among people.",
    )


def _stop(origins: Mapping[str, Origin], safety: Safety, has_arms: bool) -> Finding:
    """Cases: what an emergency stop must have."""
    features = [f for f in safety.stop_features if has_arms or f[0] != "it stops the arms"]
    values = stack([value for *_, value in features])
    return finding(
        demand=1 - values,
        capacity=0.0,
        cases=tuple(label for label, *_ in features),
        reserve=YES_OR_NO,
        check="emergency-stop-is-there",
        trade="safety",
        topic="stop and signals",
        title="A latching emergency stop is within reach and stops everything that moves",
        unit="1",
        demand_name="features missing",
        capacity_name="missing features allowed",
        late=Late.SHOW,
        formula="1 − e ≤ 0",
        terms=_answers("e", features, origins),
        sources=(memory("ISO 13850", "latching, reset by hand, reset does not restart"),),
        remedy="Fit a latching button that is within reach and cuts motors and arms; let its reset start nothing.",
        caution=f"A machine that moves among people needs an attendant with the stop in hand; {DEFERRAL}.",
    )


def _answers(symbol: str, answers: Iterable[tuple[str, str, float]], origins: Mapping[str, Origin]) -> tuple[Term, ...]:
    """What was declared: label, key and 1 for yes or 0 for no. All are shown, also where all are met."""
    return tuple(
        Term(f"{symbol}_{i + 1}", f"{label}: 1 yes, 0 no", value, "1", origins[path])
        for i, (label, path, value) in enumerate(answers)
    )


def _gaps(origins: Mapping[str, Origin], safety: Safety) -> tuple[Finding, ...]:
    """Cases: the gaps that close; left out where it is declared that there are none."""
    if safety.gaps_declared and not any(safety.closes):
        return ()
    if safety.gaps_declared:
        which = [i for i, closes in enumerate(safety.closes) if closes]
        labels = tuple(safety.gaps[i] for i in which)
        need = np.array([formulas.MINIMUM_GAP[safety.bodies[i]] for i in which])
        guarded = np.array([safety.guarded[i] for i in which])
        smallest, widest = safety.gap_smallest[..., which], safety.gap_widest[..., which]
        # into a gap that never opens wider than a finger-tip nothing gets at all
        closed = guarded | (widest <= column(safety.lim_finger_gap))
        have = np.where(closed, np.inf, smallest)
        terms = tuple(
            Term(f"g_{i + 1}", f"smallest gap, {safety.gaps[i]}{' (guarded)' if safety.guarded[i] else ''}",
                 safety.gap_smallest[..., i][()], "m", origins[f"safety.gaps[{i}].smallest"], case=case)
            for case, i in enumerate(which)
        )  # fmt: skip
    else:
        labels, need, have = ("not declared",), np.array([0.025]), np.array([np.nan])
        terms = (Term("g", "gaps that close", float("nan"), "m", origins["safety.gaps"]),)
    rule = replace(by_rule("g_min", "gap by the part of the body", need, "m", ISO_13854), per_case=True)
    return (
        finding(
            demand=need,
            capacity=have,
            cases=labels,
            reserve=NO_RESERVE,
            check="pinch-gaps",
            trade="safety",
            topic="pinch points",
            title="No gap that closes can crush the part of the body that gets into it",
            unit="m",
            demand_name="gap by guidance",
            capacity_name="smallest gap",
            late=Late.REPRINT,
            formula="g_min ≤ g; unlimited where guarded or never wider than g_f",
            terms=(
                *terms,
                rule,
                _limit(origins, "finger_gap", "g_f", "gap that no finger-tip enters", safety.lim_finger_gap, "m"),
            ),
            sources=(ISO_13854, _source(origins, "finger_gap")),
            remedy="Leave {g_min}, cover the gap, or keep it below {g_f} at its widest.",
            caution="Small fingers find every gap that closes: look for more of them by hand before power is on.",
        ),
    )


def _arm_tips(origins: Mapping[str, Origin], safety: Safety, tip_speed: Term | None) -> tuple[Finding, ...]:
    if tip_speed is None and not safety.arm_speed_given:
        return ()
    moving = tip_speed
    if safety.arm_speed_given or moving is None:
        origin = origins["safety.edge_speed_arms"]
        moving = Term("v_a", "speed of the arms' edges as capped", safety.arm_speed, "m/s", origin)
    limit = _limit(origins, "arm_speed", "v_lim", "speed of arms near people", safety.lim_arm_speed, "m/s")
    return (
        finding(
            demand=np.asanyarray(moving.value),
            capacity=safety.lim_arm_speed,
            reserve=NO_RESERVE,
            check="arms-move-gently",
            trade="safety",
            topic="arm motion",
            title="The arms' edges move slowly enough among people",
            unit="m/s",
            demand_name="speed of the fastest edge",
            capacity_name="speed by guidance",
            late=Late.MINUTES,
            formula="v_a ≤ v_lim",
            terms=(moving, limit) if tip_speed in (None, moving) else (moving, limit, tip_speed),
            sources=(VDI_2854,),
            remedy="Cap the joints' speed in the firmware so that no edge moves faster than {v_lim}.",
            caution="Arms reach faces: keep visitors farther away than the tips come.",
        ),
    )


def _care(origins: Mapping[str, Origin], safety: Safety) -> Finding:
    """Cases: how the packs are kept and charged."""
    words = {
        "held_and_covered": "held and covered", "charger_matches": "the charger is made for them",
        "charging_watched": "charging is watched", "cells_protected": "the cells are protected",
    }  # fmt: skip
    asked = [(words[path.rpartition(".")[2]], path, value) for path, value in safety.battery_care.items()]
    return finding(
        demand=1 - stack([value for *_, value in asked]),
        capacity=0.0,
        cases=tuple(label for label, *_ in asked),
        reserve=YES_OR_NO,
        check="batteries-are-cared-for",
        trade="safety",
        topic="battery care",
        title="The packs are held, covered, protected and charged with care",
        unit="1",
        demand_name="points that are open",
        capacity_name="open points allowed",
        late=Late.SHOW,
        formula="1 − b ≤ 0",
        terms=_answers("b", asked, origins),
        sources=(practice("hold and cover packs, protect lithium cells, charge with the right charger, watched"),),
        remedy="Settle the points that are open before the packs are charged for the first time.",
        caution="Packs can burn and chargers hang on the mains: charge them dry, watched and away from the public.",
    )


def _signals(origins: Mapping[str, Origin], safety: Safety) -> tuple[Finding, ...]:
    """Cases: lamp and sounder, where something is said about them."""
    if not safety.signals:
        return ()
    asked = [(f"there is a {path.rpartition('.')[2]}", path, value) for path, value in safety.signals.items()]
    return (
        finding(
            demand=1 - stack([value for *_, value in asked]),
            capacity=0.0,
            cases=tuple(label for label, *_ in asked),
            reserve=YES_OR_NO,
            check="seen-and-heard",
            trade="safety",
            topic="stop and signals",
            title="Visitors can see and hear that it is about to move",
            unit="1",
            demand_name="signals that are missing",
            capacity_name="missing signals allowed",
            late=Late.MINUTES,
            formula="1 − z ≤ 0",
            terms=_answers("z", asked, origins),
            sources=(practice("a lamp for who cannot hear, a sound for who does not look"),),
            remedy="Fit a lamp and a sounder that start before the wheels do.",
        ),
    )


def _feet(origins: Mapping[str, Origin], safety: Safety) -> tuple[Finding, ...]:
    """Only where the height of the skirt above the floor is given."""
    if not safety.clearance_given:
        return ()
    source = _source(origins, "ground_clearance")
    height = Term("h", "edge above the floor", safety.ground_clearance, "m", origins["safety.ground_clearance"])
    return (
        finding(
            demand=safety.ground_clearance,
            capacity=safety.lim_ground_clearance,
            reserve=NO_RESERVE,
            check="feet-stay-out",
            trade="safety",
            topic="pinch points",
            title="The edge is low enough that no foot gets under it",
            unit="m",
            demand_name="edge above the floor",
            capacity_name="height by guidance",
            late=Late.REPRINT,
            formula="h ≤ h_lim",
            terms=(
                height,
                _limit(origins, "ground_clearance", "h_lim", "height for feet", safety.lim_ground_clearance, "m"),
            ),
            sources=(source,),
            remedy="Lower the skirt to {h_lim} above the floor.",
        ),
    )
