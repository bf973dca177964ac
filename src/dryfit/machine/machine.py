"""The machine: complete, SI, frozen; every default taken is listed and every number remembers its origin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from dryfit.design.records import Design
from dryfit.ground.findings import Reserve
from dryfit.ground.quantity import Kind, Num, Origin, Quantity, Spread
from dryfit.machine.arms import Arms, resolve_arms
from dryfit.machine.axle import Axle, resolve_axle
from dryfit.machine.body import resolve_body
from dryfit.machine.brief import Brief, resolve_brief
from dryfit.machine.control import Control, resolve_control
from dryfit.machine.gears import Gears, resolve_gears
from dryfit.machine.ledger import Ledger
from dryfit.machine.light import Light, resolve_light
from dryfit.machine.motor import Driver, Motor, resolve_driver, resolve_motor
from dryfit.machine.parts import Parts
from dryfit.machine.power import Power, resolve_power
from dryfit.machine.safety import Safety, resolve_safety
from dryfit.machine.wheels import Wheels, resolve_wheels
from dryfit.machine.workshop import Workshop, resolve_workshop


@dataclass(frozen=True)
class Machine:
    """One machine, or many of the same structure whose numbers carry leading batch axes.

    origins: where each number was read, by its key in the design file.  values: what was taken for it, SI.
    spreads: how far each may be off.
    choices: kind of catalogue part by the key that names a row of it ("base.motor.item": "motors").
    reserves: margins asked for in the design file, by check.  assumed: the defaults that were taken.
    """

    name: str
    brief: Brief
    workshop: Workshop
    wheels: Wheels
    motor: Motor
    driver: Driver
    gears: Gears
    axle: Axle
    parts: Parts
    power: Power
    control: Control
    light: Light
    arms: Arms
    safety: Safety
    origins: Mapping[str, Origin]
    values: Mapping[str, Num]
    spreads: Mapping[str, Spread]
    choices: Mapping[str, str]
    reserves: Mapping[str, Reserve]
    assumed: tuple[Origin, ...]


def resolve(design: Design, file: Path) -> Machine:
    """Put a machine together from a design; `file` is the design file (meshes are looked for beside it).

    Raises DesignError with every fault that runs across keys.
    """
    ledger = Ledger(file.name)
    base = design.base
    brief = resolve_brief(design.brief, ledger)
    workshop = resolve_workshop(design.workshop, ledger)
    wheels = resolve_wheels(base.wheels, ledger)
    motor = resolve_motor(base.motor, ledger)
    driver = resolve_driver(base.driver, ledger)
    gears = resolve_gears(base.gears, ledger, brief)
    axle = resolve_axle(base.axle, ledger, workshop, gears)
    parts = resolve_body(design.body, ledger, file.parent)
    light = resolve_light(design.light, ledger, design.control.item if design.control else None)
    arms = resolve_arms(design.arms, ledger)
    power = resolve_power(design.power, ledger, strip_names=light.strips, has_servos=arms.link_mass.shape[-2] > 0)
    control = resolve_control(design.control, ledger)
    safety = resolve_safety(design.safety, ledger)
    ledger.close()
    return Machine(
        name=str(design.name or file.parent.name),
        brief=brief,
        workshop=workshop,
        wheels=wheels,
        motor=motor,
        driver=driver,
        gears=gears,
        axle=axle,
        parts=parts,
        power=power,
        control=control,
        light=light,
        arms=arms,
        safety=safety,
        origins=ledger.origins,
        values=ledger.values,
        spreads=ledger.spreads,
        choices=ledger.choices,
        reserves={check: _reserve(check, asked) for check, asked in design.reserves.items()},
        assumed=tuple(o for o in ledger.origins.values() if o.kind is Kind.DEFAULT),
    )


def _reserve(check: str, asked: Quantity) -> Reserve:
    return Reserve(float(asked.si), replace(asked.origin, note=f"asked for under reserves.{check}"))
