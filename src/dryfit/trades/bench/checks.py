"""The bench: what scale, meter, dial, tape and stop-watch should show at every test point of a machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dryfit.ground.findings import Term, calculated
from dryfit.ground.quantity import Kind, Num, Origin
from dryfit.machine.arms import Arms
from dryfit.machine.brief import Brief
from dryfit.machine.gears import Gears
from dryfit.machine.light import Light
from dryfit.machine.motor import Driver, Motor
from dryfit.machine.parts import Parts
from dryfit.machine.power import Power
from dryfit.machine.wheels import Wheels
from dryfit.trades.bench.checks_drive import predict_drive
from dryfit.trades.bench.checks_supply import predict_supply
from dryfit.trades.bench.checks_terms import Handed, Prediction, instrument, share_of
from dryfit.trades.bench.checks_weight import predict_weight

__all__ = ["Handed", "Prediction", "predict", "predict_plates"]

PLATES = 3
"""Plates that are timed: the first ones tell how the printers compare with the plan."""
TIME_FACTOR = "workshop.time_factor"


def predict(
    origins: Mapping[str, Origin],
    brief: Brief,
    wheels: Wheels,
    motor: Motor,
    driver: Driver,
    gears: Gears,
    parts: Parts,
    power: Power,
    light: Light,
    arms: Arms,
    *,
    handed: Handed,
) -> tuple[Prediction, ...]:
    """Every reading of a machine, or of many at once (leading axes of its numbers); only what the machine has."""
    return (
        *predict_drive(origins, brief, wheels, motor, driver, gears, power, handed),
        *predict_supply(origins, power, light, handed),
        *predict_weight(origins, wheels, parts, arms, handed),
    )


def predict_plates(plates: Sequence[tuple[str, Num]]) -> tuple[Prediction, ...]:
    """Times of the first plates. plates: name and time as planned, s, the time factor of the workshop applied."""
    out = []
    for n, (name, seconds) in enumerate(plates[:PLATES]):
        plan = Term(
            "t_plan", f"{name} as planned", seconds, "s", Origin(Kind.RULE, path=TIME_FACTOR, note="print plan")
        )
        term = calculated("t", f"time of {name} on the printer", seconds, "s", "t_plan", (plan,))
        scatter = share_of(
            "from plate to plate", seconds, "s", 0.05, "the plan is off by a twentieth from plate to plate"
        )
        out.append(
            Prediction(f"plate-{n + 1}-hours", f"Time of {name} on the printer, heating included", "prints", "plate",
                       term, instrument("a clock", seconds, "s", 120.0, 0.0), scatter, reads=TIME_FACTOR)
        )  # fmt: skip
    return tuple(out)
