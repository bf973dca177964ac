"""How long it takes to lay out plates, to share them out among printers, and how near the bounds both come.

python benchmarks/plates.py
"""

from __future__ import annotations

import time
from datetime import date, datetime
from datetime import time as clock

import numpy as np
from timing import row

from dryfit.ground.quantity import Array
from dryfit.machine.calendar import Calendar
from dryfit.machine.printing import How
from dryfit.making.losses import replan
from dryfit.making.plates import Laid, PrinterAtWork, lay_out
from dryfit.making.printing_order import plan_printing
from dryfit.making.records_plan import Plate
from dryfit.making.records_print import Body, Estimate, Printed
from dryfit.making.records_solids import Outline, Solid

PRINTERS = (PrinterAtWork("large", (0.35, 0.35), 600, 600), PrinterAtWork("small", (0.22, 0.22), 600, 600))
CALENDAR = Calendar(date(2027, 3, 8), (0, 1, 2, 3, 4, 5), clock(8), clock(20))
RATE = 2 / 360000


def body(name: str, points: Array, count: int) -> Printed:
    """Something of that outline, half an hour each."""
    how = How(4e-4, 2e-4, 4.5e-4, 3, 5, 4, 0.15, "", False)
    solid = Solid(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))
    estimate = Estimate(900.0, 1e-5, 0.01, 100, 10.0, (), 1e-9, 0, 0.0)
    made = Body(name, name, "base", "petg", solid, count, how)
    on = (("large", estimate), ("small", estimate))
    return Printed(made, np.eye(3), (0.1, 0.1, 0.02), Outline(points), ("large", "small"), on)


def shapes() -> dict[str, tuple[list[Printed], str]]:
    """Things to lay out, and what is known of them."""
    turn = np.linspace(0, 2 * np.pi, 65)[:-1]
    disc = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    leaf = np.concatenate([[[0.0, 0.0]], disc[:11]])
    rng = np.random.default_rng(5)
    mixed = [
        body(f"p{n}", rng.uniform(0, rng.uniform(0.02, 0.12, 2), (int(rng.integers(3, 20)), 2)), 3) for n in range(15)
    ]
    return {
        "60 discs of 16 mm": ([body("bead", disc * 0.008, 60)], ""),
        "24 right triangles, 100 mm": ([body("sail", np.array([[0.0, 0.0], [0.1, 0.0], [0.0, 0.1]]), 24)], ""),
        "24 sectors of 56 degrees, 100 mm": ([body("leaf", leaf * 0.1, 24)], ""),
        "45 convex shapes of 15 kinds": (mixed, ""),
    }


def main() -> None:
    print("Plates laid out on beds of 220 mm, 5 mm apart")
    for name, (things, remark) in shapes().items():
        start = time.perf_counter()
        laid = lay_out(things, PRINTERS, longest=1e9)
        seconds = time.perf_counter() - start
        (least,) = laid.least
        row(name, f"{seconds:.2f} s", f"{least.taken} plates; no layout has fewer than {least.by_area} {remark}")
    print("Plates shared out among printers")
    for count, seed in ((8, 1), (25, 2), (25, 3), (60, 4)):
        rng = np.random.default_rng(seed)
        plates = tuple(
            Plate(n + 1, (), "petg", 4e-4, (0.22, 0.22), (("large", h), ("small", h)), 0.1, n == 0, n < count // 2)
            for n, h in enumerate(rng.uniform(1, 16, count) * 3600)
        )
        start = time.perf_counter()
        plan = plan_printing([], Laid(plates, (), ()), PRINTERS, CALENDAR, rate=RATE)
        seconds = time.perf_counter() - start
        gap = (plan.finish - plan.bound).total_seconds() / 3600
        whole = (plan.finish - plan.begins).total_seconds() / 3600
        row(f"{count} plates on 2 printers", f"{seconds:.2f} s", f"{whole:.0f} h, {gap:.1f} h over the bound")
        start = time.perf_counter()
        replan(plan, PRINTERS, CALENDAR, now=datetime(2027, 3, 10, 12), lost_printer="small")
        row("    one printer lost on the third day", f"{time.perf_counter() - start:.2f} s")


if __name__ == "__main__":
    main()
