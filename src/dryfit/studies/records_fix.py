"""What `fix` finds: for each check that is short or tight, the changes that restore it, best first."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from dryfit.ground.findings import Finding, State


class Price(Enum):
    """What a change costs, cheapest first; the last gives up something that was promised."""

    FREE = "a number in a file"
    PART = "a part order"
    REPRINT = "reprint hours"
    LESS = "gives something up"


@dataclass(frozen=True)
class Edit:
    """One key of the design file and what is to stand there. line: 0 where the key is not written yet.

    old: what stands there, or the default that was taken; empty where there was nothing at all.
    """

    path: str
    line: int
    old: str
    new: str


@dataclass(frozen=True)
class Change:
    """Edits that belong together. words: what is changed, in words.  size: how far, as a logarithm of the ratio.

    mind: what has to follow by hand because the design cannot know it; empty where nothing has.
    """

    edits: tuple[Edit, ...]
    words: str
    price: Price
    size: float
    mind: str = ""


@dataclass(frozen=True)
class Move:
    """How one check moves: its margin and state before and after."""

    check: str
    title: str
    before: float
    after: float
    was: State
    becomes: State


@dataclass(frozen=True)
class FigureMove:
    """How one of the machine's figures moves, SI in `unit`."""

    name: str
    before: float
    after: float
    unit: str


@dataclass(frozen=True)
class Offer:
    """A change that restores a check, and what it does to all the others.

    just: the value that would just do, in words, where it is a number other than the one offered.
    after: margin of the check then.  restores: other checks that were short or tight and then hold.
    better, worse: the checks whose margins move most; breaks: those that become short by it.
    second: True for a pair of changes.
    """

    change: Change
    just: str
    after: float
    restores: tuple[str, ...]
    better: tuple[Move, ...]
    worse: tuple[Move, ...]
    breaks: tuple[Move, ...]
    figures: tuple[FigureMove, ...]
    pair: bool = False

    @property
    def clean(self) -> bool:
        """Whether nothing becomes short by it."""
        return not self.breaks


@dataclass(frozen=True)
class Limit:
    """How far one lever helps: as far as `reaches` (empty: nowhere), where the margin of the check is `margin`.

    blocked_by: the check that becomes short beyond that; empty where the lever's own range ends.
    """

    words: str
    reaches: str
    margin: float
    blocked_by: str


@dataclass(frozen=True)
class CheckFix:
    """One check and its offers, best first. needs: what to write, for a check that is unknown.  counted: a yes-or-no
    check, whose margin has no meaning.

    limits: where no offer leaves all else as good as it was, how far the strongest levers get.
    """

    finding: Finding
    check: str
    title: str
    topic: str
    case: str
    state: State
    margin: float
    reserve: float
    met: bool
    counted: bool
    caution: str
    needs: str
    offers: tuple[Offer, ...]
    limits: tuple[Limit, ...]


@dataclass(frozen=True)
class Fixes:
    """Answers for the checks asked about, most pressing first. tried: how many levers and machines were looked at."""

    name: str
    checks: tuple[CheckFix, ...]
    levers: int
    machines: int
    judged_by: int

    @property
    def answered(self) -> bool:
        """Whether every check asked about holds, or has an offer that makes nothing short."""
        return all(c.state is State.HOLDS or any(o.clean for o in c.offers) for c in self.checks)


@dataclass(frozen=True)
class Applied:
    """A change that was written: what it was, the check before and after, and the counts of states before and after."""

    file: str
    check: str
    title: str
    offer: Offer
    number: int
    before: float
    after: float
    was: State
    becomes: State
    reserve: float
    counted: bool
    short_before: int
    short_after: int
    still: tuple[str, ...]
