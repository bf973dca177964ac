"""How long `fix` takes, reading and checking included: `.venv/bin/python benchmarks/fix.py`.

Asked for: one check of the demo machine within a second, warm. The shortest of several runs is printed, since a busy
computer only ever adds.
"""

from __future__ import annotations

import time

from dryfit.jobs.check import check, example
from dryfit.jobs.fix import fix

RUNS = 5
CASES = (
    ("sunbloom", "runs-below-stall-share", "one check, pairs looked for too"),
    ("gangway", "runs-below-stall-share", "one check"),
    ("beacon", "tilt-board", "one check"),
    ("beacon", "fuse-protects-wire", "one check, only pairs help"),
    ("beacon", None, "all 17 checks that do not hold"),
)


def main() -> None:
    """Print the time of each case, and of reading and checking alone."""
    for name, wanted, what in CASES:
        path = example(name)
        times = []
        for _ in range(RUNS):
            start = time.perf_counter()
            found = fix(path, wanted)
            times.append(time.perf_counter() - start)
        start = time.perf_counter()
        check(path)
        read = time.perf_counter() - start
        print(
            f"{name:9} {wanted or 'all':24} {min(times):5.2f} s  {found.machines:6} machines, {found.levers} levers; "
            f"reading and checking alone {read:.2f} s  ({what})"
        )


if __name__ == "__main__":
    main()
