"""Arms: serial chains on mounts, laid out in every declared posture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dryfit.catalogue.rows import Row
from dryfit.design.fields import Word
from dryfit.design.sections.arms import Arms as ArmsRecord
from dryfit.design.sections.arms import ArmsLimits, Group, Joint
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.frames import rotation, turned
from dryfit.ground.quantity import Array, Kind, Num, Quantity
from dryfit.ground.sources import Source, practice
from dryfit.machine.arms_postures import AS_BUILT, check_boot, resolve_postures
from dryfit.machine.ledger import Default, Ledger, whole

MOST_ARMS = 64
AXES = {"yaw": (0.0, 0.0, 1.0), "pitch": (0.0, -1.0, 0.0), "roll": (1.0, 0.0, 0.0)}
"""Axes in the arm's own frame (x outward, y to its left, z up), so that a positive pitch lifts."""


@dataclass(frozen=True)
class Arms:
    """A arms of J joints each, with one link after each joint (J links, payload included in the last), in P postures.

    postures: at least one; ("as built",) with A = 0 where a machine has no arms.
    link_mass: (..., A, J), kg.  link_centre: (..., P, A, J, 3), m, machine frame.  link_inertia: about the own centre,
    machine axes (..., P, A, J, 3, 3).  joint_origin, joint_axis: (..., P, A, J, 3).  tip: (..., P, A, 3).
    reach: largest distance from the first joint to the tip, (..., A), m.

    Arms with fewer than J joints are filled up with joints that carry nothing. names: one for each arm, "petal 1";
    groups: the group of each arm, (A,).  joints: all different joint names, by group ("petal.shoulder").
    real: whether a joint exists, (A, J).  joint_path: key of each joint in the design file, A × J.
    angle, (..., P, A, J), lowest, highest (..., A, J): rad, ±inf where no limit is given.
    spring: torque of a spring that pushes upwards in every posture, (..., A, J), N*m.
    stall_torque N*m, speed rad/s (cap applied), full_speed rad/s, voltage V, stall_current, idle_current,
    running_current A, deadband, lash rad, thermal_resistance K/W: of the servo of each joint, (..., A, J).
    time_share: of the show in each posture (..., P).  typed: the lengths and masses of links, payloads and
    counterweights as they were read: symbol, name, value, unit, path.  own_arms: by posture, the arms that it means
    where it does not mean all.  boot: posture told first, None where none is given.
    """

    names: tuple[str, ...]
    joints: tuple[str, ...]
    postures: tuple[str, ...]
    link_mass: Array
    link_centre: Array
    link_inertia: Array
    joint_origin: Array
    joint_axis: Array
    tip: Array
    reach: Array
    groups: tuple[int, ...]
    group_names: tuple[str, ...]
    joint_path: tuple[tuple[str, ...], ...]
    real: Array
    angle: Array
    lowest: Array
    highest: Array
    spring: Array
    stall_torque: Array
    speed: Array
    full_speed: Array
    voltage: Array
    stall_current: Array
    idle_current: Array
    running_current: Array
    deadband: Array
    lash: Array
    thermal_resistance: Array
    time_share: Array
    typed: tuple[tuple[str, str, Num, str, str], ...]
    own_arms: dict[int, tuple[int, ...]]
    boot: str | None
    gapped: bool
    lim_hold_share: Num
    lim_lift_share: Num
    lim_tip_gap: Num
    lim_servo_temperature: Num


def first_arms(arms: Arms) -> list[int]:
    """The first arm of every group: the others are its likes."""
    return [arms.groups.index(g) for g in range(len(arms.group_names))]


def joints(arms: Arms) -> list[tuple[int, int, str]]:
    """First arm of the group, joint, name: every joint of the design file once."""
    labels = iter(arms.joints)
    return [(a, j, next(labels)) for a in first_arms(arms) for j in range(arms.real.shape[-1]) if arms.real[a, j]]


_SERVO: dict[str, tuple[units.Dimension, str, float, str]] = {
    "stall_torque": (units.TORQUE, "10 kg*cm", 0.3, "a standard servo of the 10 kg·cm class"),
    "speed": (units.TURN_RATE, "60 rpm", 0.3, "a standard servo, 0.17 s for 60 deg"),
    "voltage": (units.VOLTAGE, "6 V", 0.1, "a standard servo"),
    "stall_current": (units.CURRENT, "2 A", 0.4, "a standard servo"),
    "idle_current": (units.CURRENT, "8 mA", 0.5, "a standard servo"),
    "running_current": (units.CURRENT, "0.4 A", 0.5, "a standard servo without load"),
    "deadband": (units.ANGLE, "0.5 deg", 0.4, "a standard servo"),
    "lash": (units.ANGLE, "0.8 deg", 0.5, "metal gears of a standard servo"),
    "thermal_resistance": (units.THERMAL_RESISTANCE, "13 K/W", 0.4, "case of a standard servo in still air"),
}
_IDLE: dict[str, float] = {
    "mass": 0.0, "centre": 0.0, "length": 0.0, "spring": 0.0, "stall_torque": np.inf, "speed": 0.0, "full_speed": 0.0,
    "voltage": 0.0, "stall_current": 0.0, "idle_current": 0.0, "running_current": 0.0, "deadband": 0.0, "lash": 0.0,
    "thermal_resistance": 0.0, "lowest": -np.inf, "highest": np.inf, "inertia_along": 0.0, "inertia_across": 0.0,
    "offset_x": 0.0, "offset_y": 0.0, "offset_z": 0.0, "axis_x": 0.0, "axis_y": 0.0, "axis_z": 1.0,
    "inertia_y": 0.0, "inertia_z": 0.0,
}  # fmt: skip
"""A joint that is only there to fill up the array."""


def resolve_arms(r: ArmsRecord | None, ledger: Ledger) -> Arms:
    """Lay every arm out in every posture. Without arms the arrays have A = 0, J = 1 and one posture, "as built"."""
    r = r or ArmsRecord()
    groups = [(i, g) for i, g in enumerate(r.groups) if _usable(g, f"arms.groups[{i}]", ledger)]
    for i, g in groups:
        if any(str(g.name) == str(other.name) for j, other in groups if j < i):
            ledger.fault(f"arms.groups[{i}].name", "two groups of arms have the same name", read=str(g.name))
    numbers_of = [_count(g, f"arms.groups[{i}]", ledger) for i, g in groups]
    groups = [group for group, count in zip(groups, numbers_of, strict=True) if count]
    counts = [count for count in numbers_of if count]
    limits = _limits(r.limits, ledger)
    if sum(counts) == 0:
        if r.postures:
            ledger.fault("arms.postures", "there are postures, but no arms to take them")
        return _none(limits)
    J = max(len(g.joints) for _, g in groups)
    chains = [_chain(g, f"arms.groups[{i}]", J, ledger) for i, g in groups]
    member = tuple(n for n, count in enumerate(counts) for _ in range(count))
    paths = tuple(
        tuple(f"arms.groups[{groups[n][0]}].joints[{min(j, len(groups[n][1].joints) - 1)}]" for j in range(J))
        for n in member
    )
    numbers: dict[str, Any] = {key: _by_arm(key, chains, member) for key in _IDLE}
    real = np.array([[j < len(groups[n][1].joints) for j in range(J)] for n in member])
    where = _mounts([(f"arms.groups[{i}]", g) for i, g in groups], counts, ledger)
    postures, angle, share = resolve_postures(r, groups, member, J, ledger)
    laid = _lay_out(numbers, *where, angle)
    check_boot(r, postures, ledger)
    names = [str(g.name) for _, g in groups]
    return Arms(
        names=tuple(f"{names[n]} {member[: a + 1].count(n)}" for a, n in enumerate(member)),
        joints=tuple(f"{g.name}.{j.name}" for _, g in groups for j in g.joints),
        postures=postures,
        link_mass=numbers["mass"],
        groups=member,
        group_names=tuple(names),
        joint_path=paths,
        real=real.astype(float),
        angle=angle,
        time_share=share,
        typed=tuple(entry for i, g in groups for entry in _typed(g, f"arms.groups[{i}]", ledger)),
        own_arms={
            p: tuple(whole(q.si) - 1 for q in posture.arms) for p, posture in enumerate(r.postures) if posture.arms
        },
        boot=str(r.boot) if r.boot is not None else None,
        **laid,
        **{
            key: numbers[key]
            for key in (
                "lowest", "highest", "spring", "stall_torque", "speed", "full_speed", "voltage", "stall_current",
                "idle_current", "running_current", "deadband", "lash", "thermal_resistance",
            )
        },
        **limits,
    )  # fmt: skip


def _usable(g: Group, path: str, ledger: Ledger) -> bool:
    ledger.origins[f"{path}.name"] = g.name.origin
    if g.joints:
        names = [str(j.name) for j in g.joints]
        for j, name in enumerate(names):
            ledger.origins[f"{path}.joints[{j}].name"] = g.joints[j].name.origin
            if name in names[:j]:
                ledger.fault(f"{path}.joints[{j}].name", "two joints of one arm have the same name", read=name)
        return True
    ledger.fault(path, "an arm needs at least one joint", read=str(g.name), accepted="joints: with a name each")
    return False


def _count(g: Group, path: str, ledger: Ledger) -> int:
    count = whole(ledger.take(f"{path}.count", units.COUNT, g.count, None, Default("1", 0.0, "a single arm")))
    if count > MOST_ARMS:
        ledger.fault(f"{path}.count", "more arms than fit on a machine", str(count), f"0 to {MOST_ARMS}")
    return min(count, MOST_ARMS)


def _chain(g: Group, path: str, J: int, ledger: Ledger) -> list[dict[str, Num]]:
    """Numbers of every joint of one arm of a group, filled up to J joints; the payload joins the last link."""
    chain = [
        _joint(j, f"{path}.joints[{n}]", ledger, None if n == 0 else g.joints[n - 1]) for n, j in enumerate(g.joints)
    ]
    chain[-1] = _carrying(chain[-1], g, path, ledger)
    return chain + [dict(_IDLE) for _ in range(J - len(chain))]


def _typed(g: Group, path: str, ledger: Ledger) -> list[tuple[str, str, Num, str, str]]:
    """Masses and lengths as they were read, for the workings: a last link's own numbers merge with its payload."""
    found: list[tuple[str, str, Num, str, str]] = []

    def note(symbol: str, name: str, typed: Quantity | None, dimension: units.Dimension, key: str) -> None:
        origin = ledger.origins.get(key)
        if typed is not None:
            found.append((symbol, name, typed.si, dimension.si, key))
        elif origin is not None and origin.kind is Kind.DEFAULT and origin.text[:1].isdigit():
            found.append((symbol, name, units.read(origin.text, dimension)[0], dimension.si, key))

    for n, j in enumerate(g.joints):
        at, label = f"{path}.joints[{n}]", f"{g.name}.{j.name}"
        note("m", f"mass of the link after {label}", j.link.mass, units.MASS, f"{at}.link.mass")
        note("L", f"length of the link after {label}", j.link.length, units.LENGTH, f"{at}.link.length")
        note("x", f"centre of the link after {label}", j.link.centre, units.LENGTH, f"{at}.link.centre")
        if j.counterweight is not None:
            c = j.counterweight
            note("m_c", f"counterweight behind {label}", c.mass, units.MASS, f"{at}.counterweight.mass")
            note("x_c", "its distance", c.distance, units.LENGTH, f"{at}.counterweight.distance")
        if j.spring is not None:
            note("T_s", f"spring at {label}", j.spring, units.TORQUE, f"{at}.spring")
    if g.payload is not None:
        note("m_p", f"payload of {g.name}", g.payload.mass, units.MASS, f"{path}.payload.mass")
        note("x_p", "its centre beyond the arm's end", g.payload.centre, units.LENGTH, f"{path}.payload.centre")
    return found


def _joint(r: Joint, path: str, ledger: Ledger, before: Joint | None) -> dict[str, Num]:
    def take(key: str, dimension: units.Dimension, typed: Any, text: str, spread: float, reason: str) -> Num:
        return ledger.take(f"{path}.{key}", dimension, typed, None, Default(text, spread, reason))

    length = take("link.length", units.LENGTH, r.link.length, "200 mm", 0.3, "no length given")
    mass = take("link.mass", units.MASS, r.link.mass, "0.2 kg", 0.5, "no mass given; weigh it")
    if r.link.centre is None:
        ledger.choose(f"{path}.link.centre", None, "half-way", "an even link")
        centre: Num = length / 2
    else:
        centre = ledger.take(f"{path}.link.centre", units.LENGTH, r.link.centre)
    across: Num = mass * length**2 / 12
    along: Num = 0.0 * mass
    if r.counterweight is not None:
        c = r.counterweight
        weight = take("counterweight.mass", units.MASS, c.mass, "0.2 kg", 0.3, "no mass given")
        distance = take("counterweight.distance", units.LENGTH, c.distance, "100 mm", 0.2, "no distance given")
        mass, centre, across = _joined(mass, centre, across, weight, -distance, 0.0)
    x, y, z = _axis(r, path, ledger)
    numbers: dict[str, Num] = dict(_IDLE)
    numbers |= {
        "mass": mass, "centre": centre, "length": length, "inertia_y": across, "inertia_z": across,
        "inertia_along": along, "axis_x": x, "axis_y": y, "axis_z": z,
        "spring": take("spring", units.TORQUE, r.spring, "0 N*m", 0.0, "no spring"),
    }  # fmt: skip
    for key, value in zip(("offset_x", "offset_y", "offset_z"), r.offset or (), strict=False):
        numbers[key] = value.si
        ledger.origins[f"{path}.offset"] = value.origin
    for key in ("lowest", "highest"):
        typed = getattr(r, key)
        if typed is not None:
            numbers[key] = ledger.take(f"{path}.{key}", units.ANGLE, typed)
    if not np.all(np.asanyarray(numbers["lowest"]) <= np.asanyarray(numbers["highest"])):
        ledger.fault(f"{path}.lowest", "the lowest angle lies above the highest", accepted="lowest below highest")
    row = ledger.row(f"{path}.servo.item", "servos", r.servo.item)
    return numbers | _servo(r, path, row, ledger)


def _servo(r: Joint, path: str, row: Row | None, ledger: Ledger) -> dict[str, Num]:
    numbers: dict[str, Num] = {}
    for key, (dimension, text, spread, reason) in _SERVO.items():
        default = Default(text, spread, reason)
        numbers[key] = ledger.take(f"{path}.servo.{key}", dimension, getattr(r.servo, key), row, default)
    numbers["full_speed"] = numbers["speed"]
    if r.speed_cap is not None:
        cap = ledger.take(f"{path}.speed_cap", units.TURN_RATE, r.speed_cap)
        numbers["speed"] = np.minimum(cap, numbers["full_speed"])
    return numbers


def _axis(r: Joint, path: str, ledger: Ledger) -> tuple[Num, Num, Num]:
    if r.axis is None or isinstance(r.axis, Word):
        return AXES[ledger.choose(f"{path}.axis", r.axis, "pitch", "most joints lift")]
    x, y, z = (q.si for q in r.axis)
    ledger.origins[f"{path}.axis"] = r.axis[0].origin
    size = np.sqrt(np.asanyarray(x) ** 2 + np.asanyarray(y) ** 2 + np.asanyarray(z) ** 2)
    if not np.all(size > 0):
        ledger.fault(f"{path}.axis", "an axis needs a direction", accepted="three numbers that are not all zero")
        size = np.ones_like(size)
    return x / size, y / size, z / size


def _carrying(link: dict[str, Num], g: Group, path: str, ledger: Ledger) -> dict[str, Num]:
    """The last link with the payload on its end; the tip moves to the payload's far side."""
    if g.payload is None:
        return link
    p = f"{path}.payload"
    mass = ledger.take(f"{p}.mass", units.MASS, g.payload.mass, None, Default("0.2 kg", 0.5, "no mass given"))
    at_end = Default("0 mm", 0.0, "held at the arm's end")
    centre = link["length"] + ledger.take(f"{p}.centre", units.LENGTH, g.payload.centre, None, at_end)
    size: list[Num] = [0.0, 0.0, 0.0]
    if g.payload.size:
        size = [q.si for q in g.payload.size]
        ledger.origins[f"{p}.size"] = g.payload.size[0].origin
    x, y, z = size
    total, middle, across_y = _joined(
        link["mass"], link["centre"], link["inertia_y"], mass, centre, mass * (x * x + z * z) / 12
    )
    _, _, across_z = _joined(link["mass"], link["centre"], link["inertia_z"], mass, centre, mass * (x * x + y * y) / 12)
    return link | {
        "mass": total,
        "centre": middle,
        "length": np.maximum(link["length"], centre + x / 2),
        "inertia_along": link["inertia_along"] + mass * (y * y + z * z) / 12,
        "inertia_y": across_y,
        "inertia_z": across_z,
    }


def _joined(m1: Num, x1: Num, i1: Num, m2: Num, x2: Num, i2: Num) -> tuple[Num, Num, Num]:
    """Two bodies on one line as one: mass, centre, inertia across the line about the common centre."""
    m = m1 + m2
    x = (m1 * x1 + m2 * x2) / m
    return m, x, i1 + i2 + m1 * (x1 - x) ** 2 + m2 * (x2 - x) ** 2


def _by_arm(key: str, chains: list[list[dict[str, Num]]], member: tuple[int, ...]) -> Array:
    """One number of every joint of every arm, (..., A, J)."""
    by_group = np.stack(np.broadcast_arrays(*(stack([link[key] for link in chain]) for chain in chains)), axis=-2)
    return np.asanyarray(by_group[..., list(member), :])


def _mounts(groups: list[tuple[str, Group]], counts: list[int], ledger: Ledger) -> tuple[Array, Array]:
    """First joints' places (..., A, 3) and the directions in which the arms point, (..., A)."""
    places, headings = [], []
    for (path, g), count in zip(groups, counts, strict=True):

        def take(key: str, dimension: units.Dimension, text: str, reason: str, g: Group = g, path: str = path) -> Num:
            return ledger.take(f"{path}.{key}", dimension, getattr(g, key), None, Default(text, 0.3, reason))

        radius = take("mount_radius", units.LENGTH, "100 mm", "no ring given")
        height = take("mount_height", units.LENGTH, "1 m", "no height given")
        first = take("first_at", units.ANGLE, "0 deg", "the first arm points forward")
        for n in range(count):
            at = first + 2 * np.pi * n / count
            headings.append(at)
            places.append(stack([radius * np.cos(at), radius * np.sin(at), height]))
    return np.stack(np.broadcast_arrays(*places), axis=-2), stack(headings)


def _lay_out(n: dict[str, Array], mount: Array, heading: Array, angle: Array) -> dict[str, Any]:
    """Places of links and joints in every posture."""
    up = np.array([0.0, 0.0, 1.0])
    turn = rotation(up, heading)[..., None, :, :, :]
    place = mount[..., None, :, :]
    own_axis = stack([n["axis_x"], n["axis_y"], n["axis_z"]])[..., None, :, :, :]
    offset = stack([n["offset_x"], n["offset_y"], n["offset_z"]])[..., None, :, :, :]
    origins, axes, centres, inertias = [], [], [], []
    for j in range(angle.shape[-1]):
        origin = place + turned(turn, offset[..., j, :])
        axis = turned(turn, own_axis[..., j, :])
        turn = turn @ rotation(own_axis[..., j, :], angle[..., j])
        outward = turn[..., :, 0]
        own = stack([n["inertia_along"], n["inertia_y"], n["inertia_z"]])[..., None, :, j, :]
        origins.append(origin)
        axes.append(axis)
        centres.append(origin + outward * n["centre"][..., None, :, j, None])
        inertias.append((turn * own[..., None, :]) @ np.swapaxes(turn, -1, -2))
        place = origin + outward * n["length"][..., None, :, j, None]
    joint_origin = _along_joints(origins, 1)
    first = joint_origin[..., 0, :]
    return {
        "joint_origin": joint_origin,
        "joint_axis": _along_joints(axes, 1),
        "link_centre": _along_joints(centres, 1),
        "link_inertia": _along_joints(inertias, 2),
        "tip": place,
        "reach": np.max(np.linalg.norm(place - first, axis=-1), axis=-2),
    }


def _along_joints(pieces: list[Array], trailing: int) -> Array:
    """Lay (..., P, A, 3) or (..., P, A, 3, 3) of all joints side by side before their trailing axes."""
    return np.stack(np.broadcast_arrays(*pieces), axis=-1 - trailing)


def _limits(r: ArmsLimits, ledger: Ledger) -> dict[str, Any]:
    def limit(key: str, dimension: units.Dimension, text: str, source: Source) -> Num:
        default = Default(text, 0.0, source.title, source)
        return ledger.take(f"arms.limits.{key}", dimension, getattr(r, key), None, default)

    return {
        "gapped": r.tip_gap is not None,
        "lim_hold_share": limit(
            "hold_share", units.SHARE, "50 %", practice("hold with no more than 30 to 50 % of the stall torque")
        ),
        "lim_lift_share": limit(
            "lift_share", units.SHARE, "60 %", practice("lift with no more than 60 % of the stall torque")
        ),
        "lim_tip_gap": limit("tip_gap", units.LENGTH, "5 mm", practice("tips that miss by less look closed")),
        "lim_servo_temperature": limit(
            "servo_temperature", units.TEMPERATURE, "70 degC", practice("servo windings and gears last below 70 °C")
        ),
    }


def _none(limits: dict[str, Any]) -> Arms:
    """A machine without arms: nothing in it, but every trailing shape is there."""
    flat = np.zeros((0, 1))
    vectors = np.zeros((1, 0, 1, 3))
    return Arms(
        names=(), joints=(), postures=(AS_BUILT,), link_mass=flat, link_centre=vectors,
        link_inertia=np.zeros((1, 0, 1, 3, 3)), joint_origin=vectors, joint_axis=vectors, tip=np.zeros((1, 0, 3)),
        reach=np.zeros(0), groups=(), group_names=(), joint_path=(), real=flat, angle=np.zeros((1, 0, 1)), lowest=flat,
        highest=flat, spring=flat, stall_torque=flat, speed=flat, full_speed=flat, voltage=flat, stall_current=flat,
        idle_current=flat, running_current=flat, deadband=flat, lash=flat, thermal_resistance=flat,
        time_share=np.ones(1), typed=(), own_arms={}, boot=None, **limits,
    )  # fmt: skip
