"""Safety as numbers: gaps that close, the emergency stop, the lost link, contact, batteries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dryfit.design.fields import Word
from dryfit.design.sections.safety import EmergencyStop, Gap
from dryfit.design.sections.safety import Safety as SafetyRecord
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.sources import Source, memory, practice
from dryfit.machine.ledger import Default, Ledger

REGIONS = (
    "skull", "face", "neck", "back", "chest", "abdomen", "pelvis", "upper arm", "forearm", "hand", "thigh", "lower leg",
)  # fmt: skip
"""Regions of the body that contact forces are known for."""

VDI_2854 = Source("VDI 2854", "15 m/min where nothing can be pinched, as quoted in a guide to machine safety")


@dataclass(frozen=True)
class Safety:
    """G declared gaps between moving parts, and what is declared about stopping, contact and batteries.

    gaps: names, () where none is declared or none exists; gaps_declared tells which.  bodies: part of the body that
    could get in.  closes, guarded: (G,) flags.  gap_smallest, gap_widest: (..., G), m.
    stop_features: what an emergency stop must have, with the key that tells -> 1.0 it has, 0.0 it has not, NaN not
    declared.
    link_loss: time until the motors stop driving after the link is lost (...,), s; inf where it never happens.
    regions: of the body that would be met.  edge_stiffness: of what meets them (...,), N/m.
    arm_speed: of the arms' edges as capped (...,), m/s, NaN where not given.
    battery_care, signals: the same by key.  ground_clearance: (...,), m, NaN where not given.
    sensor_range m, sensor_response s: of what sees people (...,), NaN where there is nothing that does.
    lim_*: guidance and habits, open to `safety.limits`.
    """

    gaps: tuple[str, ...]
    gaps_declared: bool
    bodies: tuple[str, ...]
    closes: tuple[bool, ...]
    guarded: tuple[bool, ...]
    gap_smallest: Array
    gap_widest: Array
    stop_features: tuple[tuple[str, str, float], ...]
    link_loss: Num
    behaviour: str
    regions: tuple[str, ...]
    edge_stiffness: Num
    arm_speed: Num
    arm_speed_given: bool
    battery_care: dict[str, float]
    signals: dict[str, float]
    ground_clearance: Num
    clearance_given: bool
    sensor_range: Num
    sensor_response: Num
    sensor_given: bool
    lim_speed: Num
    lim_close_speed: Num
    lim_arm_speed: Num
    lim_link_loss: Num
    lim_finger_gap: Num
    lim_ground_clearance: Num


def resolve_safety(r: SafetyRecord | None, ledger: Ledger) -> Safety:
    """Numbers of the section. What is not declared stays unknown: nobody is safe by default."""
    declared = r is not None and r.gaps is not None
    r = r or SafetyRecord()
    gaps = r.gaps or []
    smallest, widest = _gaps(gaps, ledger)
    if not declared:
        _missing("safety.gaps", "write safety.gaps: the gaps that moving parts close, or [] for none", ledger)
    behaviour = ledger.choose("safety.link_loss.behaviour", r.link_loss.behaviour, "stop", "what it ought to do")
    loss = ledger.take("safety.link_loss.time", units.TIME, r.link_loss.time)
    if behaviour == "hold last":
        # a machine that goes on doing what it was told last never stops by itself
        loss = loss * 0 + np.inf if r.link_loss.time is not None else float("inf")
    given = {
        key: float("nan") if typed is None else ledger.take(f"safety.{key}", dimension, typed)
        for key, dimension, typed in (
            ("edge_speed_arms", units.SPEED, r.edge_speed_arms),
            ("ground_clearance", units.LENGTH, r.ground_clearance),
        )
    }

    def limit(key: str, dimension: units.Dimension, text: str, source: Source) -> Num:
        default = Default(text, 0.0, source.title, source)
        return ledger.take(f"safety.limits.{key}", dimension, getattr(r.limits, key), None, default)

    return Safety(
        gaps=tuple(str(g.name) for g in gaps),
        gaps_declared=declared,
        bodies=tuple(_body(g, i, ledger) for i, g in enumerate(gaps)),
        closes=tuple(g.closes is not False for g in gaps),
        guarded=tuple(g.guarded is True for g in gaps),
        gap_smallest=smallest,
        gap_widest=widest,
        stop_features=_stop(r.emergency_stop, ledger),
        link_loss=loss,
        behaviour=behaviour,
        regions=_regions(r, ledger),
        edge_stiffness=ledger.take("safety.contact.edge_stiffness", units.STIFFNESS, r.contact.edge_stiffness),
        arm_speed=given["edge_speed_arms"],
        arm_speed_given=r.edge_speed_arms is not None,
        battery_care=_batteries(r, ledger),
        signals={
            f"safety.{key}": _flag(f"safety.{key}", flag, ledger)
            for key, flag in (("lamp", r.lamp), ("sounder", r.sounder))
            if flag is not None
        },
        ground_clearance=given["ground_clearance"],
        clearance_given=r.ground_clearance is not None,
        sensor_range=_sensor(r, "range", units.LENGTH, ledger),
        sensor_response=_sensor(r, "response", units.TIME, ledger),
        sensor_given=r.person_sensor is not None,
        lim_speed=limit("speed", units.SPEED, "0.6 m/s", practice("show robots among visitors drive 0.3 to 0.6 m/s")),
        lim_close_speed=limit(
            "close_speed", units.SPEED, "0.3 m/s", memory("ISO 3691-4", "0.3 m/s where there is less than 0.5 m left")
        ),
        lim_arm_speed=limit("arm_speed", units.SPEED, "0.25 m/s", VDI_2854),
        lim_link_loss=limit("link_loss", units.TIME, "0.5 s", practice("stop within 0.5 s of losing the link")),
        lim_finger_gap=limit(
            "finger_gap", units.LENGTH, "4 mm", memory("ISO 13857", "Table 4: into 4 mm no finger-tip reaches")
        ),
        lim_ground_clearance=limit(
            "ground_clearance", units.LENGTH, "40 mm", Source("ISO 3691-4:2020", "4.1.15: chassis clearance for feet")
        ),
    )


def _sensor(r: SafetyRecord, key: str, dimension: units.Dimension, ledger: Ledger) -> Num:
    if r.person_sensor is None:
        return float("nan")
    return ledger.take(f"safety.person_sensor.{key}", dimension, getattr(r.person_sensor, key))


def _missing(path: str, note: str, ledger: Ledger) -> float:
    ledger.origins[path] = Origin(Kind.MISSING, path=path, note=note)
    return float("nan")


def _flag(path: str, flag: Word | None, ledger: Ledger) -> float:
    """1 for yes, 0 for no, NaN for not declared."""
    if flag is None:
        return _missing(path, f"write {path}: yes or no", ledger)
    ledger.origins[path] = flag.origin
    return float(flag in ("yes", "true"))


def _gaps(gaps: list[Gap], ledger: Ledger) -> tuple[Array, Array]:
    smallest: list[Num] = []
    widest: list[Num] = []
    for i, g in enumerate(gaps):
        path = f"safety.gaps[{i}]"
        ledger.origins[f"{path}.name"] = g.name.origin
        smallest.append(ledger.take(f"{path}.smallest", units.LENGTH, g.smallest))
        widest.append(np.inf if g.widest is None else ledger.take(f"{path}.widest", units.LENGTH, g.widest))
        if not np.all(~(np.asanyarray(smallest[-1]) > np.asanyarray(widest[-1]))):
            ledger.fault(f"{path}.widest", "the widest gap is narrower than the smallest")
    return (stack(smallest), stack(widest)) if gaps else (np.zeros(0), np.zeros(0))


def _body(g: Gap, i: int, ledger: Ledger) -> str:
    return ledger.choose(f"safety.gaps[{i}].body", g.body, "finger", "the smallest that could get in")


def _regions(r: SafetyRecord, ledger: Ledger) -> tuple[str, ...]:
    path = "safety.contact.regions"
    if not r.contact.regions:
        ledger.choose(path, None, "lower leg, thigh", "what a base meets first")
        return ("lower leg", "thigh")
    ledger.origins[path] = r.contact.regions[0].origin
    for region in r.contact.regions:
        if region not in REGIONS:
            message = f"not a region of the body that a force is known for{nearest(str(region), REGIONS)}"
            ledger.fault(path, message, str(region), ", ".join(REGIONS), region.origin.line)
    return tuple(str(x) for x in r.contact.regions if x in REGIONS) or ("lower leg",)


def _stop(r: EmergencyStop | None, ledger: Ledger) -> tuple[tuple[str, str, float], ...]:
    path = "safety.emergency_stop"
    r = r or EmergencyStop()
    if r.kind is None:
        there = latches = _missing(f"{path}.kind", f"write {path}.kind: latching, momentary or none", ledger)
    else:
        ledger.origins[f"{path}.kind"] = r.kind.origin
        there, latches = float(r.kind != "none"), float(r.kind == "latching")
    if r.where is None:
        reach = _missing(f"{path}.where", f"write {path}.where: the places from which it is reached", ledger)
    else:
        ledger.origins[f"{path}.where"] = r.where.origin
        reach = 1.0
    for word in r.cuts or []:
        ledger.origins[f"{path}.cuts"] = word.origin
        if word not in ("motors", "arms", "light", "all"):
            ledger.fault(f"{path}.cuts", "not something to cut", str(word), "motors, arms, light, all")
    if r.cuts is None:
        motors = arms = _missing(f"{path}.cuts", f"write {path}.cuts: motors, arms, light or all", ledger)
    else:
        ledger.origins.setdefault(f"{path}.cuts", Origin(Kind.DESIGN, path=f"{path}.cuts"))
        motors, arms = (float(what in r.cuts or "all" in r.cuts) for what in ("motors", "arms"))
    return (
        ("there is one", f"{path}.kind", there),
        ("it latches", f"{path}.kind", latches),
        ("it is within reach", f"{path}.where", reach),
        ("it cuts the motors", f"{path}.cuts", motors),
        ("it stops the arms", f"{path}.cuts", arms),
    )


def _batteries(r: SafetyRecord, ledger: Ledger) -> dict[str, float]:
    b = r.batteries
    chemistry = "" if b.chemistry is None else str(b.chemistry).lower()
    if b.chemistry is not None:
        ledger.origins["safety.batteries.chemistry"] = b.chemistry.origin
    asked = {
        "held_and_covered": b.held_and_covered,
        "charger_matches": b.charger_matches,
        "charging_watched": b.charging_watched,
    }
    if "lead" not in chemistry:
        # lead-acid has no cells that a protection circuit looks after
        asked["cells_protected"] = b.cells_protected
    return {f"safety.batteries.{key}": _flag(f"safety.batteries.{key}", flag, ledger) for key, flag in asked.items()}
