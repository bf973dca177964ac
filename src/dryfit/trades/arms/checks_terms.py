"""Terms that every file of arm checks needs: numbers of the joints, lengths and masses as typed, limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dryfit.ground.axes import stack
from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Array, Kind, Num, Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.arms import Arms, joints

STATICS = derived("moments about the joint's axis (statics)")
LINEAR = derived("torque in proportion to current, as in any brushed motor")
HELD = (0.1, practice("a tenth for masses that were not weighed"))


def at(origins: Mapping[str, Origin], path: str) -> Origin:
    """Where a key was read; a rule of ours where it was left out on purpose."""
    return origins.get(path, Origin(Kind.DEFAULT, path=path, note="not given"))


def likes(arms: Arms, a: int) -> list[int]:
    """All arms of the group of arm a."""
    return [i for i, g in enumerate(arms.groups) if g == arms.groups[a]]


def by_joint(
    origins: Mapping[str, Origin],
    arms: Arms,
    keys: str | Sequence[str],
    symbol: str,
    name: str,
    values: Array,
    unit: str,
    *,
    cases: bool = False,
) -> Term:
    """A number of every joint of the design file as one term; of several keys, the first that was given.

    cases: whether the cases of the finding are the joints.
    """
    terms = []
    for n, (a, j, label) in enumerate(joints(arms)):
        paths = [f"{arms.joint_path[a][j]}.{key}" for key in ([keys] if isinstance(keys, str) else keys)]
        origin = at(origins, next((p for p in paths if p in origins), paths[-1]))
        case = n if cases else None
        terms.append(Term(f"{symbol}_{label}", f"{name}, {label}", values[..., a, j][()], unit, origin, case=case))
    if len(terms) == 1:
        return Term(symbol, name, terms[0].value, unit, terms[0].origin)
    together = stack([t.value for t in terms])
    return calculated(symbol, name, together, unit, "one for each joint", terms, per_case=cases)


def chain_terms(origins: Mapping[str, Origin], arms: Arms) -> tuple[Term, ...]:
    """Masses and lengths of the links as they were typed, and the angles of the postures."""
    typed = (Term(symbol, name, value, unit, at(origins, path)) for symbol, name, value, unit, path in arms.typed)
    return (*typed, *angles(origins, arms))


def lengths(origins: Mapping[str, Origin], arms: Arms) -> tuple[Term, ...]:
    """Lengths alone, as they were typed."""
    return tuple(t for t in chain_terms(origins, arms) if t.unit == "m")


def angles(origins: Mapping[str, Origin], arms: Arms) -> tuple[Term, ...]:
    """Angle of every joint that a posture names."""
    terms: list[Term] = []
    for a, j, label in joints(arms):
        for p, posture in enumerate(arms.postures):
            keys = (f"arms.postures[{p}].angles.{label}", f"arms.postures[{p}].angles.{label.partition('.')[2]}")
            key = next((k for k in keys if k in origins), None)
            if key is not None:
                angle: Num = arms.angle[..., p, :, j][..., _meant(arms, p, a)][()]
                terms.append(Term(f"q_{p + 1}", f"angle of {label} in {posture!r}", angle, "rad", origins[key]))
    return tuple(terms)


def _meant(arms: Arms, p: int, a: int) -> int:
    """The first arm of the group that takes the posture's own angle; others may stay in another posture."""
    same = likes(arms, a)
    return same[0] if p not in arms.own_arms else next((i for i in arms.own_arms[p] if i in same), same[0])


def limit(origins: Mapping[str, Origin], key: str, symbol: str, name: str, value: Num, unit: str) -> Term:
    """A limit of the section `arms.limits`."""
    return Term(symbol, name, value, unit, origins[f"arms.limits.{key}"])
