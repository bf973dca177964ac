"""Arms at rest: do they hold and lift what they carry, within their limits, cool enough, and do their tips meet?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.sources import Source, derived, practice
from dryfit.machine.arms import Arms
from dryfit.machine.brief import Brief
from dryfit.machine.workshop import Workshop
from dryfit.trades.arms import formulas

STATICS = derived("moments about the joint's axis (statics)")
LINEAR = derived("torque in proportion to current, as in any brushed motor")
HELD = (0.1, practice("a tenth for masses that were not weighed"))
NO_RESERVE = (0.0, practice("the limit itself holds the margin"))


@dataclass(frozen=True)
class ArmsResult:
    """hold_current: all servos together in each posture (..., P), A.  moving_current: all moving at once (...,), A.
    stall_current: sum over all servos (...,), A.  hold_torque: (..., P, A, J), N*m, sign about the joint's axis.
    tip_speed: fastest tip, every joint at its (capped) speed, straightest posture (...,), m/s."""

    hold_current: Term
    moving_current: Term
    stall_current: Term
    hold_torque: Term
    tip_speed: Term
    findings: tuple[Finding, ...]


def assess_arms(origins: Mapping[str, Origin], arms: Arms, brief: Brief, workshop: Workshop) -> ArmsResult:
    """All checks of the arms at rest; nothing but zeros where a machine has none."""
    del workshop  # printed play of own joints comes with motion
    if not arms.names:
        return _nothing(arms)
    mass = arms.link_mass[..., None, :, :]
    places = (arms.link_centre, arms.joint_origin, arms.joint_axis)
    lift, most = formulas.gravity_torques(mass, *places)
    # a spring helps upwards whatever the posture; it never asks for more than it gives
    held = np.sign(lift) * np.maximum(np.abs(lift) - arms.spring[..., None, :, :], 0.0)
    swing = np.maximum(most - arms.spring[..., None, :, :], 0.0)
    lever = formulas.tip_lever(arms.tip, arms.joint_origin, arms.joint_axis)
    hold = calculated(
        "τ",
        "torque to hold, by posture, arm and joint",
        held,
        "N*m",
        "τ = a · Σ r × m g − spring",
        _chain_terms(origins, arms),
        STATICS,
    )
    currents = _currents(origins, arms, hold, swing)
    speed = _tip_speed(origins, arms, lever)
    findings = (
        _holds(origins, arms, hold),
        _lifts(origins, arms, hold, swing),
        *_limits(origins, arms),
        *_tips(origins, arms, lever),
        _cool(origins, arms, brief, hold),
        _wakes(origins, arms),
    )
    return ArmsResult(*currents, hold, speed, findings)


def _nothing(arms: Arms) -> ArmsResult:
    def zero(symbol: str, name: str, unit: str, value: Num = 0.0) -> Term:
        return calculated(symbol, name, value, unit, "there are no arms", ())

    return ArmsResult(
        zero("I_hold", "current of all servos, by posture", "A", np.zeros(len(arms.postures))),
        zero("I_move", "current of all servos moving at once", "A"),
        zero("I_stall", "stall current of all servos", "A"),
        zero("τ", "torque to hold", "N*m", np.zeros(arms.angle.shape)),
        zero("v_tip", "speed of the fastest tip", "m/s"),
        (),
    )


def _at(origins: Mapping[str, Origin], path: str) -> Origin:
    """Where a key was read; a rule of ours where it was left out on purpose."""
    return origins.get(path, Origin(Kind.DEFAULT, path=path, note="not given"))


def _first_arms(arms: Arms) -> list[int]:
    """The first arm of every group: the others are its likes."""
    return [arms.groups.index(g) for g in range(len(arms.group_names))]


def _joints(arms: Arms) -> list[tuple[int, int, str]]:
    """First arm of the group, joint, name: every joint of the design file once."""
    labels = iter(arms.joints)
    return [(a, j, next(labels)) for a in _first_arms(arms) for j in range(arms.real.shape[-1]) if arms.real[a, j]]


def _by_joint(
    origins: Mapping[str, Origin], arms: Arms, key: str, symbol: str, name: str, values: Array, unit: str
) -> Term:
    """A number of every joint of the design file as one term."""
    terms = [
        Term(f"{symbol}_{label}", f"{name}, {label}", values[..., a, j][()], unit,
             _at(origins, f"{arms.joint_path[a][j]}.{key}"))
        for a, j, label in _joints(arms)
    ]  # fmt: skip
    if len(terms) == 1:
        return Term(symbol, name, terms[0].value, unit, terms[0].origin)
    return calculated(symbol, name, stack([t.value for t in terms]), unit, "one for each joint", terms)


def _chain_terms(origins: Mapping[str, Origin], arms: Arms) -> tuple[Term, ...]:
    """Masses and lengths of the links as they were typed, and the angles of the postures."""
    typed = (Term(symbol, name, value, unit, _at(origins, path)) for symbol, name, value, unit, path in arms.typed)
    return (*typed, *_angles(origins, arms))


def _angles(origins: Mapping[str, Origin], arms: Arms) -> tuple[Term, ...]:
    """Angle of every joint that a posture names."""
    terms: list[Term] = []
    for a, j, label in _joints(arms):
        for p, posture in enumerate(arms.postures):
            keys = (f"arms.postures[{p}].angles.{label}", f"arms.postures[{p}].angles.{label.partition('.')[2]}")
            key = next((k for k in keys if k in origins), None)
            if key is not None:
                angle = arms.angle[..., p, :, j][..., _meant(arms, p, a)]
                terms.append(Term(f"q_{p + 1}", f"angle of {label} in {posture!r}", angle[()], "rad", origins[key]))
    return tuple(terms)


def _meant(arms: Arms, p: int, a: int) -> int:
    """The first arm of the group that takes the posture's own angle; others may stay in another posture."""
    same = [i for i, g in enumerate(arms.groups) if g == arms.groups[a]]
    return same[0] if p not in arms.own_arms else next((i for i in arms.own_arms[p] if i in same), same[0])


def _limit(origins: Mapping[str, Origin], key: str, symbol: str, name: str, value: Num, unit: str) -> Term:
    return Term(symbol, name, value, unit, origins[f"arms.limits.{key}"])


def _currents(origins: Mapping[str, Origin], arms: Arms, hold: Term, swing: Array) -> tuple[Term, Term, Term]:
    real = arms.real
    torque = np.asarray(hold.value)
    idle, stall = arms.idle_current, arms.stall_current
    each = formulas.servo_current(
        torque, arms.stall_torque[..., None, :, :], idle[..., None, :, :], stall[..., None, :, :]
    )
    holding = np.sum(each * real, axis=(-2, -1))
    hardest = np.max(swing, axis=-3)
    moving = formulas.servo_current(hardest, arms.stall_torque, arms.running_current, stall)
    i_idle = _by_joint(origins, arms, "servo.idle_current", "I_idle", "current of a servo at rest", idle, "A")
    i_run = _by_joint(
        origins, arms, "servo.running_current", "I_run", "current of a servo moving free", arms.running_current, "A"
    )
    i_stall = _by_joint(origins, arms, "servo.stall_current", "I_s", "stall current of a servo", stall, "A")
    t_stall = _by_joint(origins, arms, "servo.stall_torque", "τ_s", "stall torque of a servo", arms.stall_torque, "N*m")
    number = f"{len(arms.names)} arms"
    return (
        calculated("I_hold", "current of all servos, by posture", holding, "A",
                   "I_hold = Σ (I_idle + (I_s − I_idle) τ/τ_s)", (hold, i_idle, i_stall, t_stall), LINEAR),
        calculated("I_move", f"current of all servos moving at once ({number})", np.sum(moving * real, axis=(-2, -1)),
                   "A", "I_move = Σ (I_run + (I_s − I_run) τ_max/τ_s)", (hold, i_run, i_stall, t_stall), LINEAR),
        calculated("I_stall", f"stall current of all servos ({number})", np.sum(stall * real, axis=(-2, -1)), "A",
                   "I_stall = Σ I_s", (i_stall,), derived("sum over the servos")),
    )  # fmt: skip


def _tip_speed(origins: Mapping[str, Origin], arms: Arms, lever: Array) -> Term:
    fastest = np.max(np.sum(lever * arms.speed[..., None, :, :], axis=-1), axis=(-2, -1))
    capped = "speed_cap" if any(p.endswith(".speed_cap") for p in origins) else "servo.speed"
    rate = _by_joint(origins, arms, capped, "ω", "speed of the joint", arms.speed, "rad/s")
    return calculated(
        "v_tip", "speed of the fastest tip", fastest, "m/s", "v_tip = Σ ω × distance of the tip from the axis",
        (rate,), derived("rotation about an axis"),
    )  # fmt: skip


def _holds(origins: Mapping[str, Origin], arms: Arms, hold: Term) -> Finding:
    """Cases: postures; the hardest joint of the hardest arm."""
    share = np.max(np.abs(np.asarray(hold.value)) / arms.stall_torque[..., None, :, :], axis=(-2, -1))
    most = np.max(np.abs(np.asarray(hold.value)), axis=(-2, -1))
    hardest = calculated(
        "τ_hold", "hardest torque to hold in the posture", most, "N*m", "largest τ over arms and joints", (hold,),
        STATICS, per_case=True,
    )  # fmt: skip
    stall = _by_joint(origins, arms, "servo.stall_torque", "τ_s", "stall torque of a servo", arms.stall_torque, "N*m")
    limit = _limit(origins, "hold_share", "s_hold", "share of stall held for long", arms.lim_hold_share, "%")
    need = calculated(
        "τ_need", "stall torque that would do", formulas.ratio(np.max(most, axis=-1), arms.lim_hold_share), "N*m",
        "τ_need = τ_hold/s_hold", (hardest, limit),
    )  # fmt: skip
    return finding(
        demand=share,
        capacity=column(arms.lim_hold_share),
        cases=arms.postures,
        reserve=HELD,
        check="arms-hold-their-posture",
        trade="arms",
        topic="arm torque",
        title="Every joint holds its posture with the share of stall torque that lasts",
        unit="%",
        demand_name="share of stall torque held",
        capacity_name="share that lasts",
        late=Late.REPRINT,
        formula="τ_hold/τ_s ≤ s_hold",
        terms=(hardest, stall, limit, need),
        sources=(STATICS, practice("a joint that holds more than 30 to 50 % of stall hums, warms and fails")),
        remedy="Take servos of {τ_need} or more, shorten or lighten what they carry, or add a counterweight or spring.",
        caution="A servo that fails lets its arm fall.",
    )


def _lifts(origins: Mapping[str, Origin], arms: Arms, hold: Term, swing: Array) -> Finding:
    """Cases: joints. Between two postures a joint may pass the level, where gravity asks most of it."""
    joints = _joints(arms)
    hardest = np.max(swing, axis=-3)
    demand = stack([hardest[..., a, j] for a, j, _ in joints])
    capacity = stack([arms.stall_torque[..., a, j] * arms.lim_lift_share for a, j, _ in joints])
    torque = calculated(
        "τ_max", "most that gravity asks on the way", demand, "N*m", "τ_max = M g d − spring", (hold,), STATICS,
        per_case=True,
    )  # fmt: skip
    stall = _by_joint(origins, arms, "servo.stall_torque", "τ_s", "stall torque of a servo", arms.stall_torque, "N*m")
    share = _limit(origins, "lift_share", "s_lift", "share of stall that still lifts", arms.lim_lift_share, "%")
    return finding(
        demand=demand,
        capacity=capacity,
        cases=[label for *_, label in joints],
        reserve=HELD,
        check="arms-lift-from-every-posture",
        trade="arms",
        topic="arm torque",
        title="Every joint lifts what it carries through its whole swing",
        unit="N*m",
        demand_name="torque with the arm level",
        capacity_name="torque that still lifts",
        late=Late.REPRINT,
        formula="τ_max ≤ s_lift τ_s",
        terms=(torque, stall, share),
        sources=(STATICS, practice("running torque of servos is well below their stall torque")),
        remedy="Take stronger servos, or add a counterweight or a spring that carries part of {τ_max}.",
    )


def _limits(origins: Mapping[str, Origin], arms: Arms) -> tuple[Finding, ...]:
    """Cases: the upper and lower limit of every joint that has one."""
    labels: list[str] = []
    demand: list[Num] = []
    capacity: list[Num] = []
    terms: list[Term] = []
    for a, j, label in _joints(arms):
        same = [i for i, g in enumerate(arms.groups) if g == arms.groups[a]]
        angles = arms.angle[..., same, j]
        for key, value, sign in (("highest", arms.highest[..., a, j], 1), ("lowest", arms.lowest[..., a, j], -1)):
            path = f"{arms.joint_path[a][j]}.{key}"
            if path not in origins:
                continue
            labels.append(f"{label}, {key}")
            demand.append(np.max(sign * angles, axis=(-2, -1)))
            capacity.append(sign * value)
            terms.append(Term(f"q_{key}", f"{key} angle of {label}", value[()], "rad", origins[path]))
    if not labels:
        return ()
    asked = _angles(origins, arms)
    return (
        finding(
            demand=stack(demand),
            capacity=stack(capacity),
            cases=labels,
            reserve=NO_RESERVE,
            check="joints-stay-in-limits",
            trade="arms",
            topic="joint limits",
            title="No posture takes a joint beyond its limits",
            unit="rad",
            demand_name="angle asked for",
            capacity_name="angle allowed",
            late=Late.MINUTES,
            formula="q_lowest ≤ q ≤ q_highest",
            terms=(*terms, *asked),
            sources=(derived("comparison of angles"),),
            remedy="Change the posture, or the stop of the joint.",
        ),
    )


def _tips(origins: Mapping[str, Origin], arms: Arms, lever: Array) -> tuple[Finding, ...]:
    """Cases: arms' groups. Two tips that meet are both off; only where a gap was promised."""
    if not arms.gapped:
        return ()
    likely, worst = formulas.tip_errors(lever, arms.deadband[..., None, :, :], arms.lash[..., None, :, :])
    first = _first_arms(arms)
    rss = np.max(likely, axis=-2)[..., first]
    all_one_way = np.max(worst, axis=-2)[..., first]
    dead = _by_joint(origins, arms, "servo.deadband", "δ", "deadband of a servo", arms.deadband, "rad")
    lash = _by_joint(origins, arms, "servo.lash", "j", "lash of a servo", arms.lash, "rad")
    link = _at(origins, f"{arms.joint_path[0][0]}.link.length")
    reach = Term("L", "reach of the arm", arms.reach[..., first], "m", link, per_case=True)
    one = calculated("e", "likely error of one tip", rss, "m", "e = √Σ((L δ)² + (L j)²)", (reach, dead, lash),
                     derived("small angles, independent errors"), per_case=True)  # fmt: skip
    most = calculated("e_max", "error of one tip, all one way", all_one_way, "m", "e_max = Σ L (δ + j)",
                      (reach, dead, lash), derived("small angles"), per_case=True)  # fmt: skip
    gap = _limit(origins, "tip_gap", "g", "gap that still looks closed", arms.lim_tip_gap, "m")
    return (
        finding(
            demand=np.sqrt(2) * rss,
            capacity=column(arms.lim_tip_gap),
            cases=arms.group_names,
            reserve=HELD,
            check="arm-tips-meet",
            trade="arms",
            topic="arm precision",
            title="Tips that should meet do so within the gap allowed",
            unit="m",
            demand_name="likely gap between two tips",
            capacity_name="gap that still looks closed",
            late=Late.REPRINT,
            formula="√2 e ≤ g",
            terms=(one, most, gap),
            sources=(derived("independent errors add as root of squares"),),
            remedy="Guide the tips together with cones or magnets, or allow a gap of {e_max} twice.",
        ),
    )


def _cool(origins: Mapping[str, Origin], arms: Arms, brief: Brief, hold: Term) -> Finding:
    """Cases: joints; mean heat over the postures' shares of the show against what the case gives off."""
    heat = formulas.hold_heat(
        np.asarray(hold.value),
        arms.stall_torque[..., None, :, :],
        arms.voltage[..., None, :, :],
        arms.stall_current[..., None, :, :],
    )
    mean = np.sum(heat * arms.time_share[..., None, None], axis=-3)
    joints = _joints(arms)
    rise = arms.lim_servo_temperature - np.asarray(brief.ambient)
    demand = stack([np.max(mean[..., [i for i, g in enumerate(arms.groups) if g == arms.groups[a]], j], axis=-1)
                    for a, j, _ in joints])  # fmt: skip
    capacity = stack([formulas.ratio(rise, arms.thermal_resistance[..., a, j]) for a, j, _ in joints])
    shares = [
        Term(f"t_{p}", f"share of the show in {name!r}", arms.time_share[..., p][()], "%",
             _at(origins, f"arms.postures[{p}].time_share"))
        for p, name in enumerate(arms.postures)
    ]  # fmt: skip
    return finding(
        demand=demand,
        capacity=capacity,
        cases=[label for *_, label in joints],
        reserve=(0.2, practice("a fifth for the winding, which is warmer than the case")),
        check="servos-stay-cool",
        trade="arms",
        topic="servo heat",
        title="The servos give off the heat of holding",
        unit="W",
        demand_name="mean heat of holding over the show",
        capacity_name="heat the case gives off",
        late=Late.SHOW,
        formula="Σ t (τ/τ_s)² U I_s ≤ (T_max − T_air)/R_th",
        terms=(
            hold,
            *shares,
            _by_joint(origins, arms, "servo.voltage", "U", "voltage of a servo", arms.voltage, "V"),
            _by_joint(origins, arms, "servo.stall_current", "I_s", "stall current", arms.stall_current, "A"),
            _by_joint(origins, arms, "servo.thermal_resistance", "R_th", "case to air", arms.thermal_resistance, "K/W"),
            Term("T_air", "air around", brief.ambient, "K", origins["brief.ambient"]),
            _limit(origins, "servo_temperature", "T_max", "warmest servo", arms.lim_servo_temperature, "K"),
        ),
        sources=(LINEAR, derived("ohmic heat")),
        remedy="Rest between postures, park the arms where they hang, or add a counterweight or spring.",
        caution="A servo that overheats lets its arm fall.",
    )


def _wakes(origins: Mapping[str, Origin], arms: Arms) -> Finding:
    """Torque in the posture told first: arms that start where they do not rest have dropped and jump back to it."""
    given = arms.boot is not None
    index = arms.postures.index(arms.boot) if arms.boot in arms.postures else 0
    note = "write arms.boot, the posture that the servos are told first"
    origin = origins["arms.boot"] if given else Origin(Kind.MISSING, path="arms.boot", note=note)
    known = 0.0 if given else float("nan")
    boot = Term("b", f"posture told first ({arms.postures[index] if given else 'not given'})", known, "1", origin)
    return finding(
        demand=np.full(arms.reach.shape[:-1], known),
        capacity=0.0,
        reserve=(0.0, Source("a yes or no", status=practice("").status)),
        check="arms-wake-in-a-known-posture",
        trade="arms",
        topic="arm start",
        title="The servos are told a known posture before they get power",
        unit="1",
        demand_name="starts without one",
        capacity_name="starts without one allowed",
        late=Late.SHOW,
        formula="a posture told first is declared",
        terms=(boot,),
        sources=(practice("set the posture, then switch on the servo rail"),),
        remedy="Declare the posture in which the arms rest without power as arms.boot, and power their rail after it.",
        caution="Arms that jump on power-up can strike whoever stands near.",
    )
