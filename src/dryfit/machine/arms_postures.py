"""Postures of arms: named joint angles, read and checked against the joints and their limits."""

from __future__ import annotations

import numpy as np

from dryfit.design.sections.arms import Arms as ArmsRecord
from dryfit.design.sections.arms import Group, Posture
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.errors import nearest
from dryfit.ground.quantity import Array, Num
from dryfit.machine.ledger import Ledger, whole

AS_BUILT = "as built"


def resolve_postures(
    r: ArmsRecord, groups: list[tuple[int, Group]], member: tuple[int, ...], J: int, ledger: Ledger
) -> tuple[tuple[str, ...], Array, Array]:
    """Names, angles (..., P, A, J) and time shares (..., P). Joints that a posture does not name stay at zero."""
    if not r.postures:
        return (AS_BUILT,), np.zeros((1, len(member), J)), np.ones(1)
    names = [str(p.name) for p in r.postures]
    own: list[list[list[Num]]] = []
    for n, p in enumerate(r.postures):
        path = f"arms.postures[{n}]"
        ledger.origins[f"{path}.name"] = p.name.origin
        if names[n] in names[:n]:
            ledger.fault(f"{path}.name", "two postures have the same name", read=names[n])
        angles = _angles(p, path, groups, ledger)
        own.append([[angles.get((g, j), 0.0) for j in range(J)] for g in member])
    chosen = [_with_others(n, r.postures, names, own, len(member), ledger) for n in range(len(names))]
    shape = np.broadcast_shapes(*(np.shape(q) for p in chosen for arm in p for q in arm))
    flat = [np.broadcast_to(np.asanyarray(q, dtype=float), shape) for p in chosen for arm in p for q in arm]
    angle = np.stack(flat, axis=-1).reshape(*shape, len(names), len(member), J)
    return tuple(names), angle, _time_shares(r.postures, ledger)


def _angles(p: Posture, path: str, groups: list[tuple[int, Group]], ledger: Ledger) -> dict[tuple[int, int], Num]:
    """Angle by group and joint."""
    angles: dict[tuple[int, int], Num] = {}
    known = {f"{g.name}.{j.name}": (n, k) for n, (_, g) in enumerate(groups) for k, j in enumerate(g.joints)}
    for key, typed in p.angles.items():
        where = f"{path}.angles.{key}"
        value = ledger.take(where, units.ANGLE, typed)
        hits = [v for full, v in known.items() if key in (full, full.partition(".")[2])]
        if not hits:
            short = [full.partition(".")[2] for full in known]
            ledger.fault(where, f"no joint named {key!r}{nearest(key, [*short, *known])}", read=key)
        for hit in hits:
            angles[hit] = value
    return angles


def _with_others(
    n: int, postures: tuple[Posture, ...], names: list[str], own: list[list[list[Num]]], A: int, ledger: Ledger
) -> list[list[Num]]:
    """Angles of all arms in posture n: its own for the arms meant, those of `others` for the rest."""
    p = postures[n]
    if p.arms is None:
        return own[n]
    path = f"arms.postures[{n}]"
    meant = [whole(q.si) for q in p.arms]
    for number, q in zip(meant, p.arms, strict=True):
        ledger.origins.setdefault(f"{path}.arms", q.origin)
        if not 1 <= number <= A:
            ledger.fault(f"{path}.arms", "no such arm", str(number), f"1 to {A}", q.origin.line)
    rest = own[0]
    if p.others is not None:
        ledger.origins[f"{path}.others"] = p.others.origin
        if str(p.others) not in names:
            ledger.fault(f"{path}.others", f"no posture named {str(p.others)!r}{nearest(str(p.others), names)}")
        else:
            m = names.index(str(p.others))
            if postures[m].arms is not None:
                ledger.fault(f"{path}.others", "the posture of the others must be one of all arms", str(p.others))
            rest = own[m]
    else:
        ledger.choose(f"{path}.others", None, names[0], "the first posture")
    return [own[n][a] if a + 1 in meant else rest[a] for a in range(A)]


def _time_shares(postures: tuple[Posture, ...], ledger: Ledger) -> Array:
    """Part of the show in each posture; those without one divide what is left."""
    given = [
        None if p.time_share is None else ledger.take(f"arms.postures[{n}].time_share", units.SHARE, p.time_share)
        for n, p in enumerate(postures)
    ]
    taken = sum((np.asanyarray(g, dtype=float) for g in given if g is not None), np.zeros(()))
    if np.any(taken > 1 + 1e-6):
        ledger.fault("arms.postures", "the time shares add up to more than the whole show", accepted="100 % together")
    left = np.maximum(0.0, 1 - taken) / max(1, sum(g is None for g in given))
    for n, g in enumerate(given):
        if g is None:
            ledger.choose(f"arms.postures[{n}].time_share", None, "", "what the other postures leave, in equal parts")
    return stack([left if g is None else g for g in given])


def check_boot(r: ArmsRecord, postures: tuple[str, ...], ledger: Ledger) -> None:
    """Note as a fault a posture told first that does not exist."""
    if r.boot is None:
        return
    ledger.origins["arms.boot"] = r.boot.origin
    if str(r.boot) not in postures:
        ledger.fault("arms.boot", f"no posture named {str(r.boot)!r}{nearest(str(r.boot), postures)}", read=str(r.boot))
