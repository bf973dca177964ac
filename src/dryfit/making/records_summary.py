"""What was made, in one record: for the page that ends `dryfit make`."""

from __future__ import annotations

from dataclasses import dataclass

from dryfit.making.records_gears import GearPair
from dryfit.making.records_lists import CutList, Purchases, WiringLists
from dryfit.making.records_plan import Path, PrintPlan, Slip
from dryfit.making.records_print import Alternative


@dataclass(frozen=True)
class Summary:
    """short: checks that do not hold.  notes: what the maker should know, by whom it concerns ("prints", "wires").
    files: what lies in the folder.  left_out: what was not made, and why."""

    name: str
    short: tuple[str, ...]
    pairs: tuple[GearPair, ...]
    plan: PrintPlan
    others: tuple[Alternative, ...]
    slips: tuple[Slip, ...]
    cuts: CutList
    wiring: WiringLists
    purchases: Purchases
    way: Path
    notes: tuple[tuple[str, str], ...]
    files: tuple[str, ...]
    left_out: tuple[str, ...] = ()

    @property
    def gears_overlap(self) -> bool:
        """Whether the drawn teeth overlap anywhere at the working centre distance."""
        return any(gap.overlaps for pair in self.pairs for gap in pair.gaps if gap.shim == 0.0)

    @property
    def held(self) -> bool:
        """Whether every check holds, gears turn, all plates are placed, and date and budget are kept."""
        dear = self.purchases.total > self.purchases.budget
        return not (self.short or self.gears_overlap or self.plan.left or self.way.late or dear)
