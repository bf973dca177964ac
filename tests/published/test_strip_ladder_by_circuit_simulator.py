"""The strip ladder against a circuit simulator, run live, and against a linear solve of the same network.

Bibliography:
[1] ngspice, run live (`make` installs it; without it these tests fail): operating point of a ladder of resistors and
    current sources. For 60 LEDs of 50 mA on 0.1 ohm/m and 1 m it gave 4.84750 V (fed at one end) and 4.961250 V (at
    both, 61 segments).
[2] The continuous limit of the ladder: I R/2 fed at one end, I R/8 at both (common practice).
"""

from __future__ import annotations

import subprocess
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from dryfit.trades.light import formulas


def simulated(first: float, pitch: float, number: int, feeds: list[float], r: float, i: float, tmp: Path) -> float:
    """Lowest voltage of the ladder fed with 5 V, by the circuit simulator."""
    leds = [first + pitch * k for k in range(number)]
    places = sorted({round(x, 9) for x in (*leds, *feeds)})
    at = {x: n + 1 for n, x in enumerate(places)}
    lines = ["strip ladder"]
    for n, (a, b) in enumerate(pairwise(places)):
        lines.append(f"R{n} {at[a]} {at[b]} {r * (b - a):.15g}")
    lines += [f"I{n} {at[round(x, 9)]} 0 {i}" for n, x in enumerate(leds)]
    lines += [f"V{n} {at[round(x, 9)]} 0 5" for n, x in enumerate(feeds)]
    shown = " ".join(f"v({at[round(x, 9)]})" for x in leds)
    lines += [".control", "set numdgt=10", "op", f"print {shown}", ".endc", ".end"]
    deck = tmp / "ladder.cir"
    deck.write_text("\n".join(lines) + "\n", encoding="utf-8")
    out = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, check=False).stdout
    volts = [float(line.split("=")[1]) for line in out.splitlines() if line.startswith("v(")]
    assert len(volts) == number
    return min(volts)


@pytest.mark.parametrize(("feeds", "volts"), [([0.0], 4.8475), ([0.0, 61 / 60], 4.96125)], ids=["one end", "both ends"])
def test_60_leds_on_one_metre(feeds: list[float], volts: float, tmp_path: Path) -> None:
    """[1] The first LED a whole segment from the feed: within 0.01 %."""
    drop, _ = formulas.ladder_drops(1 / 60, 1 / 60, 60, np.array(feeds), 0.1, 0.05)
    assert 5 - drop == pytest.approx(volts, rel=1e-4)
    assert 5 - drop == pytest.approx(simulated(1 / 60, 1 / 60, 60, feeds, 0.1, 0.05, tmp_path), abs=1e-6)


@pytest.mark.parametrize("feeds", [[0.45], [0.1, 0.7], [0.0, 0.31, 0.9], [0.125, 0.3]], ids=str)
def test_feeds_anywhere(feeds: list[float], tmp_path: Path) -> None:
    """[1] Feeds between and on LEDs of a strip of 54."""
    drop, _ = formulas.ladder_drops(1 / 120, 1 / 60, 54, np.array(feeds), 0.12, 0.0525)
    assert 5 - drop == pytest.approx(simulated(1 / 120, 1 / 60, 54, feeds, 0.12, 0.0525, tmp_path), abs=1e-6)


def test_any_feeds_by_linear_solve() -> None:
    """300 random strips against the nodal equations solved directly (derived)."""
    rng = np.random.default_rng(7)
    for _ in range(300):
        n, p = int(rng.integers(1, 40)), 1 / 60
        feeds = np.sort(rng.uniform(0, n * p, int(rng.integers(1, 5))))
        places = np.unique(np.concatenate([p / 2 + p * np.arange(n), feeds]))
        g = 1 / (0.1 * np.diff(places))
        node = np.diag(np.append(g, 0) + np.append(0, g)) - np.diag(g, 1) - np.diag(g, -1)
        load = np.where(np.isin(places, feeds), 0.0, 0.05)
        free = ~np.isin(places, feeds)
        deepest = np.max(np.linalg.solve(node[np.ix_(free, free)], load[free]))
        assert formulas.ladder_drops(p / 2, p, n, feeds, 0.1, 0.05)[0] == pytest.approx(deepest, abs=1e-9)


def test_continuous_limit() -> None:
    """[2] 3 A along 0.1 ohm: 0.15 V at one end, 0.0375 V at both, within 5 % (common practice)."""
    one, _ = formulas.ladder_drops(1 / 120, 1 / 60, 60, np.array([0.0]), 0.1, 0.05)
    both, _ = formulas.ladder_drops(1 / 120, 1 / 60, 60, np.array([0.0, 1.0]), 0.1, 0.05)
    assert one == pytest.approx(0.15, rel=0.05)
    assert both == pytest.approx(0.0375, rel=0.05)
