"""What holds the gears at either end: the first pinion on the gearmotor's shaft, the last gear on the wheel."""

from __future__ import annotations

from dataclasses import dataclass

from dryfit.design.sections import gears as sections
from dryfit.ground import units
from dryfit.ground.quantity import Num, Quantity
from dryfit.ground.sources import memory, practice
from dryfit.machine.ledger import Default, Ledger

CREEP_DISTANCE = 10.0
"""How far below its softening a printed pinion keeps its grip under load, K: 50 °C for PLA (common practice)."""


@dataclass(frozen=True)
class PinionGrip:
    """kind: flat, key, screws (set screws or a clamp) or one piece. Lengths in m, screw_force of one screw, settled, N;
    pressure: borne all day under a torque that reverses, crush: once at stall, Pa, both at 23 °C;
    lasting_temperature: up to which the grip lasts, K."""

    kind: str
    shaft_diameter: Num
    length: Num
    flat_depth: Num
    key_height: Num
    screws: Num
    screw_force: Num
    friction: Num
    pressure: Num
    crush: Num
    lasting_temperature: Num


@dataclass(frozen=True)
class Pegs:
    """Pegs on a circle; diameter, circle (diameter) and bearing length in m, strengths in Pa. pressure and crush as of
    the pinion, for the softer of gear and wheel."""

    count: Num
    diameter: Num
    circle: Num
    length: Num
    shear_strength: Num
    pressure: Num
    crush: Num


@dataclass(frozen=True)
class _Reader:
    ledger: Ledger
    path: str
    record: sections.PinionGrip | sections.Pegs

    def __call__(self, key: str, dimension: units.Dimension, default: Default) -> Num:
        return self.ledger.take(f"{self.path}.{key}", dimension, getattr(self.record, key), None, default)

    def worked(self, key: str, dimension: units.Dimension, value: Num, reason: str, spread: float = 0.1) -> Num:
        """A default that follows from other numbers of the machine."""
        typed: Quantity | None = getattr(self.record, key)
        path = f"{self.path}.{key}"
        if typed is not None:
            return self.ledger.take(path, dimension, typed)
        return self.ledger.reckon(path, value, reason, spread, reason)

    def pressures(self, printed: bool) -> tuple[Num, Num]:
        """Pressure on a bore or a hole that is borne all day, and once."""
        worn = memory("bearing pressure of flats and keys")
        service, once = ("12 MPa", "30 MPa") if printed else ("60 MPa", "120 MPa")
        why = "printed PETG or nylon under reversing torque: 10 to 15 MPa" if printed else "metal on metal, reversing"
        crushed = "printed plastic crushed once, at stall" if printed else "metal crushed once, at stall"
        return (
            self("pressure", units.STRESS, Default(service, 0.0, why, worn)),
            self("crush", units.STRESS, Default(once, 0.0, crushed, practice(crushed))),
        )


def resolve_pinion_grip(
    r: sections.PinionGrip, ledger: Ledger, path: str, face_width: Num, softening: Num, *, printed: bool
) -> PinionGrip:
    """Grip of the first pinion; without anything typed a flat on an 8 mm shaft over the whole width."""
    take = _Reader(ledger, path, r)
    shaft = take("shaft_diameter", units.LENGTH, Default("8 mm", 0.2, "a usual gearmotor shaft"))
    pressure, crush = take.pressures(printed)
    return PinionGrip(
        kind=ledger.choose(f"{path}.kind", r.kind, "flat", "a gearmotor's shaft has a flat"),
        shaft_diameter=shaft,
        length=take.worked("length", units.LENGTH, face_width, "as wide as the pinion's teeth"),
        flat_depth=take.worked("flat_depth", units.LENGTH, shaft / 8, "an eighth of the shaft: 1 mm of 8 mm"),
        key_height=take.worked("key_height", units.LENGTH, shaft / 4, "a quarter of the shaft"),
        screws=take("screws", units.COUNT, Default("2", 0.0, "two, so that one loose screw is not the end")),
        screw_force=take(
            "screw_force", units.FORCE, Default("500 N", 0.3, "an M4 screw with 0.5 N*m in plastic, settled")
        ),
        friction=take("friction", units.NUMBER, Default("0.15", 0.3, "screw or plastic on a smooth steel shaft")),
        pressure=pressure,
        crush=crush,
        lasting_temperature=take.worked(
            "lasting_temperature", units.TEMPERATURE, softening - CREEP_DISTANCE,
            f"{CREEP_DISTANCE:.0f} K below the softening of the pinion's material", 0.02,
        ),
    )  # fmt: skip


def resolve_pegs(r: sections.Pegs, ledger: Ledger, path: str, size: Num, *, ring: bool, printed: bool) -> Pegs:
    """Pegs of the last gear of reference diameter `size`; without anything typed six steel screws of 4 mm."""
    take = _Reader(ledger, path, r)
    diameter = take("diameter", units.LENGTH, Default("4 mm", 0.0, "M4 screws"))
    made = ledger.choose(f"{path}.made", r.made, "steel", "screws right through the gear into the wheel")
    share, why = (1.1, "in the wall around the ring's teeth") if ring else (0.6, "well inside the teeth")
    strength = {"steel": ("300 MPa", "screws of the usual class, cut through the thread"),
                "printed": ("12 MPa", "printed pegs, sheared between their layers")}[made]  # fmt: skip
    pressure, crush = take.pressures(printed)
    return Pegs(
        count=take("count", units.COUNT, Default("6", 0.0, "six around the circle")),
        diameter=diameter,
        circle=take.worked("circle", units.LENGTH, share * size, why),
        length=take("length", units.LENGTH, Default("6 mm", 0.2, "a flange of six millimetres")),
        shear_strength=take("shear_strength", units.STRESS, Default(strength[0], 0.2, strength[1])),
        pressure=pressure,
        crush=crush,
    )
