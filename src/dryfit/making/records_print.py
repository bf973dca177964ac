"""What is printed: bodies, how they lie, how long they take."""

from __future__ import annotations

from dataclasses import dataclass

from dryfit.ground.quantity import Array
from dryfit.machine.printing import How
from dryfit.making.records_solids import Outline, Solid


@dataclass(frozen=True)
class Body:
    """One body to be printed so many times. path: its key in the design file.  coupon: a test piece, printed before
    anything else.  solid: in the part's own axes, m.  typed_mass: of one, as the design file has it, kg, NaN without.
    """

    name: str
    path: str
    section: str
    material: str
    solid: Solid
    count: int
    how: How
    coupon: bool = False
    typed_mass: float = float("nan")


@dataclass(frozen=True)
class Estimate:
    """What one copy takes, SI: time on the printer, volume and mass of material, layers, length of line, supports not
    counted.  by_kind: time by what is done (outer walls, inner walls, solid, fill, travel, cooling).
    flow: volume over time.  slow_layers: layers that wait to cool.  overhang: area that hangs over nothing, m2."""

    time: float
    volume: float
    mass: float
    layers: int
    line_length: float
    by_kind: tuple[tuple[str, float], ...]
    flow: float
    slow_layers: int
    overhang: float


@dataclass(frozen=True)
class Printed:
    """A body as it lies on a bed. turned: own axes to bed axes (3, 3).  size: x, y, z of its box on the bed, m.
    footprint: what it covers of the bed, seen from above (convex), with its lower left corner at the origin.
    on: names of the printers that take it.  estimates: by the name of the printer."""

    body: Body
    turned: Array
    size: tuple[float, float, float]
    footprint: Outline
    on: tuple[str, ...]
    estimates: tuple[tuple[str, Estimate], ...]


@dataclass(frozen=True)
class Alternative:
    """The whole print done with another nozzle or layer height: hours on the printers, mass, and strength across layers
    and of walls against the way planned (1.0: as planned)."""

    nozzle: float
    layer_height: float
    time: float
    mass: float
    strength: float
    note: str
