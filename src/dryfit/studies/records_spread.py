"""What a spread is about and finds: uncertain inputs, the chance of every check, what would settle the doubt."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Input:
    """One number that is not known exactly; drawn evenly between low and high.

    line: of the design file, 0 where it does not stand there.  text: as typed, or the default.  unit: SI unit by which
    it is shown.  nominal, low, high: SI.  grounds: who says how far it may be off ("± typed", "default", "row",
    "usual").  reason: why that far.  measure: how to find out, a sentence.
    reckoned: a default, worked out anew in every draw from what else was drawn; low and high are those of the design.
    """

    path: str
    line: int
    text: str
    unit: str
    nominal: float
    low: float
    high: float
    grounds: str
    reason: str
    measure: str
    reckoned: bool = False


@dataclass(frozen=True)
class Chance:
    """A chance with the interval that holds it 95 times in 100."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Driver:
    """One input's part in the variance of a margin.

    share: of first order, what goes with this input alone.  direction: +1 the margin rises with it, -1 it falls, 0
    neither or both.  total: what would be left if all others were known; NaN where it was not looked for.
    """

    path: str
    share: float
    direction: int
    total: float = float("nan")


@dataclass(frozen=True)
class CheckSpread:
    """One check over all draws.

    margin: of the design as it stands.  holds: chance that the margin is at least zero.  kept: chance that it is at
    least the reserve.  band: margin that 5, 50 and 95 of 100 draws stay below.  drivers: the three inputs with the
    largest share.  together: part of the variance that no input explains alone.  late: what finding it late costs, 1
    to 4.  states_knowledge: the check is about how well things are known, so it is read from the design alone.
    """

    check: str
    title: str
    margin: float
    reserve: float
    late: int
    holds: Chance
    kept: Chance
    band: tuple[float, float, float]
    drivers: tuple[Driver, ...]
    together: float
    states_knowledge: bool = False


@dataclass(frozen=True)
class Reading:
    """What one reading decides: while the input is read between low and high, the check holds in at least 19 of 20
    draws; beyond, it does not. chance: of such a reading."""

    check: str
    low: float
    high: float
    chance: float


@dataclass(frozen=True)
class Measurement:
    """One input that might be measured. settles: part of the whole doubt that would be gone on average, were it known.

    checks: those whose doubt it settles most, with that part of their own doubt.  readings: what it decides.
    """

    path: str
    settles: float
    checks: tuple[tuple[str, float], ...]
    readings: tuple[Reading, ...]


@dataclass(frozen=True)
class Spreads:
    """A design over many draws of what is not known about it.

    draws: how many; they come in `scramblings` independent sets.  checks: weakest first.  unknown: checks that no draw
    can answer, with what to write.  all_hold: chance that every known check holds.  measurements: most useful first.
    impossible: draws that no machine can be put together from, and why the first of them cannot; left out of the rest.
    """

    name: str
    draws: int
    scramblings: int
    seed: int
    inputs: tuple[Input, ...]
    checks: tuple[CheckSpread, ...]
    unknown: tuple[tuple[str, str], ...]
    all_hold: Chance
    measurements: tuple[Measurement, ...]
    impossible: int
    why_impossible: str

    def input(self, path: str) -> Input:
        """The input at a path."""
        return next(one for one in self.inputs if one.path == path)
