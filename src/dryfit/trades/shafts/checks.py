"""Shafts: the axle of a driven wheel from the floor to the frame, in every case the drive knows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dryfit.ground.findings import Finding, Term
from dryfit.ground.quantity import Origin
from dryfit.machine.axle import Axle
from dryfit.machine.brief import Brief
from dryfit.machine.wheels import Wheels
from dryfit.machine.workshop import Workshop
from dryfit.trades.shafts.checks_axle import assess_bar, assess_gearmotor_shaft
from dryfit.trades.shafts.checks_bearings import assess_bearings
from dryfit.trades.shafts.checks_fixings import assess_fixings
from dryfit.trades.shafts.checks_hub import assess_hub, assess_seats
from dryfit.trades.shafts.checks_loads import CASES, axle_loads, driven

__all__ = ["CASES", "ShaftsResult", "assess_fixings", "assess_shafts"]


@dataclass(frozen=True)
class ShaftsResult:
    """What the axle hands on.

    gear_displacement: how far the axle lets its gear move in service, (...,), m; None where it carries none.
    """

    findings: tuple[Finding, ...]
    gear_displacement: Term | None


def assess_shafts(
    origins: Mapping[str, Origin],
    axle: Axle,
    wheels: Wheels,
    workshop: Workshop,
    brief: Brief,
    *,
    wheel_load: Term,
    wheel_torque: Term,
    wheel_speed: Term,
) -> ShaftsResult:
    """All checks of the axle of the hardest-working driven wheel.

    wheel_load: level and at rest (..., P, W), N.  wheel_torque, wheel_speed: at the wheel, in the drive's cases idle,
    cruise, start, slope, step, stall (..., 6), N·m and rad/s.
    """
    if not driven(wheels):
        return ShaftsResult((), None)
    loads = axle_loads(origins, axle, wheels, brief, wheel_load=wheel_load, wheel_torque=wheel_torque)
    findings = [*assess_bar(origins, axle, loads)]
    if axle.arrangement == "on the gearmotor shaft":
        findings.append(assess_gearmotor_shaft(origins, axle, loads))
    else:
        findings.extend(assess_bearings(origins, axle, brief, loads, wheel_speed))
    if axle.given:
        # Nobody has drawn a hub yet where the section is missing: nothing to judge.
        findings.extend(assess_hub(origins, axle, loads))
        findings.extend(assess_seats(origins, axle, workshop))
    return ShaftsResult(tuple(findings), loads.gear_sag if axle.has_gear else None)
