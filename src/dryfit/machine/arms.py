"""Arms: serial chains on mounts, laid out in every declared posture."""

from __future__ import annotations

from dataclasses import dataclass

from dryfit.ground.quantity import Array


@dataclass(frozen=True)
class Arms:
    """A arms of J joints each, with one link after each joint (J links, payload included in the last), in P postures.

    postures: at least one; ("as built",) with A = 0 where a machine has no arms.
    link_mass: (..., A, J), kg.  link_centre: (..., P, A, J, 3), m, machine frame.  link_inertia: about the own centre,
    machine axes (..., P, A, J, 3, 3).  joint_origin, joint_axis: (..., P, A, J, 3).  tip: (..., P, A, 3).
    reach: largest distance from the first joint to the tip, (..., A), m.
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
