"""The supply network against a circuit simulator and a general root finder, both run live.

Bibliography
- ngspice, a general circuit simulator: operating point with behavioural sources for constant power (I = P/V) and for
  regulators (output min(U_set, U_in - U_d), input current U_out I_out / (eta U_in)). Run live for every test.
- scipy.optimize.fsolve on the nodal equations. Run live.
- Reference figures of one small network (two packs, 150 W and 60 W): bus 12.403223 V, pack currents 13.2259 and
  3.93554 A, 12.219085 V at the 150 W end; the simulator and the root finder gave the same.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import fsolve

from dryfit.ground.quantity import Array
from dryfit.trades.power.formulas import joined_voltage, parallel
from dryfit.trades.power.formulas_network import Network, Solution, loading, solve


def tree(
    parent: list[int],
    supply: list[float],
    back: list[float],
    returns_to: list[int] | None = None,
    regulators: dict[int, tuple[float, float, float, float]] | None = None,
    linear: tuple[int, ...] = (),
) -> Network:
    """A network; regulators: branch -> (output, dropout, efficiency, quiescent)."""
    n, regs = len(parent), regulators or {}
    numbers = np.array([regs.get(b, (np.nan, np.nan, np.nan, np.nan)) for b in range(n)])
    return Network(
        tuple(parent), tuple(returns_to or parent), np.array(supply), np.array(back),
        tuple(b in regs for b in range(n)), tuple(b in linear for b in range(n)), (False,) * n,
        numbers[:, 0], numbers[:, 1], numbers[:, 2], numbers[:, 3],
    )  # fmt: skip


def simulate(net: Network, emf: float, rs: float, amps: Array, watts: Array, tmp_path: Path) -> dict[str, float]:
    """Node voltages by the circuit simulator: s<b> supply end, o<b> after a regulator, g<b> ground, bus."""
    lines = ["supply", f"V1 pack 0 DC {emf!r}", f"Rs pack bus {rs!r}"]
    show = ["v(bus)"]
    for b, up in enumerate(net.parent):
        above = "bus" if up < 0 else (f"o{up}" if net.regulated[up] else f"s{up}")
        join = "0" if net.returns_to[b] < 0 else f"g{net.returns_to[b]}"
        lines.append(f"Rp{b} {above} s{b} {max(float(net.supply[b]), 1e-9)!r}")
        lines.append(f"Rn{b} g{b} {join} {max(float(net.back[b]), 1e-9)!r}")
        out = f"s{b}"
        if net.regulated[b]:
            out = f"o{b}"
            volts, drop, eta, idle = (float(x[b]) for x in (net.output, net.dropout, net.efficiency, net.quiescent))
            lines.append(f"Be{b} m{b} g{b} V = min({volts!r}, v(s{b},g{b}) - {drop!r})")
            lines.append(f"Vm{b} m{b} o{b} DC 0")
            if net.linear[b]:
                # What flows out is taken in: a current-controlled source, and the regulator's own draw beside it.
                # (With a behavioural source here the simulator's answer breaks the sum of currents at the ground node.)
                lines.append(f"Fi{b} s{b} g{b} Vm{b} 1")
                lines.append(f"Iq{b} s{b} g{b} DC {idle!r}")
            else:
                lines.append(
                    f"Bi{b} s{b} g{b} I = v(o{b},g{b}) * i(Vm{b}) / ({eta!r} * max(3, v(s{b},g{b}))) + {idle!r}"
                )
            show.append(f"v(o{b})")
        if amps[b]:
            lines.append(f"Il{b} {out} g{b} DC {float(amps[b])!r}")
        if watts[b]:
            # Held down below half the voltage so that the simulator does not settle on the collapsed lower solution.
            half = 0.5 * (float(net.output[b]) if net.regulated[b] else _rail(net, b, emf))
            lines.append(f"Bp{b} {out} g{b} I = {float(watts[b])!r} / max({half!r}, v({out},g{b}))")
        show += [f"v(s{b})", f"v(g{b})"]
    guess = [f"v(bus)={emf}", *(f"v(s{b})={emf}" for b in range(len(net.parent)))]
    guess += [f"v(o{b})={float(net.output[b])}" for b in range(len(net.parent)) if net.regulated[b]]
    lines += [
        f".nodeset {' '.join(guess)}", ".options reltol=1e-9 vntol=1e-10 abstol=1e-12 itl1=2000",
        ".control", "set numdgt=12", "op", f"print {' '.join(show)}", ".endc", ".end",
    ]  # fmt: skip
    deck = tmp_path / "supply.cir"
    deck.write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, check=False)
    found = {}
    for line in done.stdout.splitlines():
        if line.startswith("v(") and "=" in line:
            name, value = line.split("=")
            found[name.strip()[2:-1]] = float(value)
    assert len(found) == len(show), done.stdout + done.stderr
    return found


def _rail(net: Network, b: int, emf: float) -> float:
    """Voltage of the rail that branch b hangs on, unloaded."""
    up = net.parent[b]
    while up >= 0 and not net.regulated[up]:
        up = net.parent[up]
    return min(float(net.output[up]), emf) if up >= 0 else emf


def ours(net: Network, emf: float, rs: float, amps: Array, watts: Array) -> Solution:
    return solve(net, np.array([emf]), np.array([rs]), amps[:, None], watts[:, None])


def agree(net: Network, emf: float, rs: float, amps: list[float], watts: list[float], tmp_path: Path) -> Solution:
    i, p = np.array(amps), np.array(watts)
    s = ours(net, emf, rs, i, p)
    spice = simulate(net, emf, rs, i, p, tmp_path)
    assert bool(s.solved[0])
    assert s.bus[0] == pytest.approx(spice["bus"], abs=1e-5)
    for b in range(len(net.parent)):
        assert s.ground[b, 0] == pytest.approx(spice[f"g{b}"], abs=1e-5)
        assert s.arriving[b, 0] == pytest.approx(spice[f"s{b}"] - spice[f"g{b}"], abs=1e-5)
        if net.regulated[b]:
            assert s.delivered[b, 0] == pytest.approx(spice[f"o{b}"] - spice[f"g{b}"], abs=1e-5)
    return s


def test_two_packs_and_two_constant_power_loads(tmp_path: Path) -> None:
    r = np.array([0.030, 0.050])
    e = np.array([12.8, 12.6])
    emf, rs = float(joined_voltage(e, r, 0.0)), float(parallel(r))
    net = tree([-1, -1], [0.015, 0.025], [0.0, 0.0])
    s = agree(net, emf, rs, [0, 0], [150, 60], tmp_path)
    assert s.bus[0] == pytest.approx(12.403223, abs=1e-5)
    assert (12.8 - s.bus[0]) / 0.030 == pytest.approx(13.2259, rel=1e-5)
    assert (12.6 - s.bus[0]) / 0.050 == pytest.approx(3.93554, rel=1e-5)
    assert s.delivered[0, 0] == pytest.approx(12.219085, abs=1e-5)

    def equations(v: Array) -> list[float]:
        bus, a, b = v
        return [
            (12.8 - bus) / 0.03 + (12.6 - bus) / 0.05 - (bus - a) / 0.015 - (bus - b) / 0.025,
            (bus - a) / 0.015 - 150 / a,
            (bus - b) / 0.025 - 60 / b,
        ]

    root = fsolve(equations, [12.0, 12.0, 12.0], xtol=1e-13)
    assert [s.bus[0], *s.delivered[:, 0]] == pytest.approx(list(root), abs=1e-9)


def test_regulators_in_a_tree(tmp_path: Path) -> None:
    net = tree(
        [-1, -1, 1, -1, -1, 4], [0.004, 0.006, 0.011, 0.008, 0.02, 0.03], [0.003, 0.005, 0.011, 0.008, 0.02, 0.03],
        regulators={1: (5.0, 1.0, 0.9, 0.015), 4: (7.4, 1.0, 0.92, 0.025)},
    )  # fmt: skip
    s = agree(net, 13.0, 0.036, [0.2, 0, 6.8, 0.4, 0, 9.0], [80, 0, 0, 12, 0, 5], tmp_path)
    assert s.delivered[1, 0] == pytest.approx(5.0, abs=1e-12)
    assert s.delivered[2, 0] == pytest.approx(5.0 - 6.8 * 0.022, abs=1e-9)


def test_regulator_in_dropout(tmp_path: Path) -> None:
    net = tree([-1, 0], [0.1, 0.05], [0.1, 0.05], regulators={0: (12.0, 1.5, 0.9, 0.02)})
    s = agree(net, 12.5, 0.08, [0, 1.0], [0, 20], tmp_path)
    assert s.delivered[0, 0] < 11.0


def test_linear_regulator(tmp_path: Path) -> None:
    net = tree([-1, 0], [0.05, 0.05], [0.05, 0.05], regulators={0: (5.0, 2.0, 1.0, 0.006)}, linear=(0,))
    s = agree(net, 12.6, 0.05, [0, 0.4], [0, 0.5], tmp_path)
    assert s.source_current[0] == pytest.approx(s.regulator_current[0, 0] + 0.006, abs=1e-9)


def test_shared_return_lifts_the_ground(tmp_path: Path) -> None:
    # Branch 3 (logic) sends its current back over the return wire of branch 2 (light), behind a regulator.
    net = tree(
        [-1, -1, 1, -1], [0.004, 0.004, 0.059, 0.008], [0.004, 0.004, 0.059, 0.0], returns_to=[-1, -1, 1, 2],
        regulators={1: (5.0, 1.0, 0.9, 0.015), 3: (5.0, 1.0, 0.88, 0.008)},
    )  # fmt: skip
    s = agree(net, 13.0, 0.04, [0, 0, 15.12, 0.15], [90, 0, 0, 0], tmp_path)
    assert s.ground[3, 0] > 15.12 * 0.059


@pytest.mark.parametrize("seed", range(12))
def test_random_trees(seed: int, tmp_path: Path) -> None:
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 8))
    parent = [-1, *(int(rng.integers(-1, b)) for b in range(1, n))]
    leaves = [b for b in range(n) if b not in parent]
    regs = {b: (float(rng.uniform(4, 8)), 1.0, 0.9, 0.01) for b in range(n) if parent[b] < 0 and rng.random() < 0.5}
    net = tree(parent, list(rng.uniform(0.002, 0.05, n)), list(rng.uniform(0.002, 0.05, n)), regulators=regs)
    amps = [float(rng.uniform(0, 2)) if b in leaves else 0.0 for b in range(n)]
    watts = [float(rng.uniform(0, 12)) if b in leaves else 0.0 for b in range(n)]
    agree(net, 12.8, 0.05, amps, watts, tmp_path)


def test_collapse_is_where_the_line_can_carry_no_more() -> None:
    # One line: P = E²/(4 R) is the exact limit (maximum power transfer); a hair below it is solved, above it is not.
    net = tree([-1], [0.1], [0.1])
    limit = 12.0**2 / (4 * 0.3)
    load = np.array([[limit * 0.999, limit * 1.001]])
    s = solve(net, np.full(2, 12.0), np.full(2, 0.1), np.zeros((1, 2)), load)
    assert s.solved.tolist() == [True, False]
    assert s.delivered[0, 0] == pytest.approx(6.0, rel=0.05)
    assert np.isnan(s.bus[1])
    index, total = loading(net, np.full(2, 12.0), np.full(2, 0.1), np.zeros((1, 2)), load)
    assert index == pytest.approx([0.999, 1.001])
    assert total / index == pytest.approx([limit, limit])


@pytest.mark.parametrize("seed", range(20))
def test_the_bound_of_collapse_never_promises_too_much(seed: int) -> None:
    # Wherever the index is at most 1 the solver finds a state: what the theorem promises.
    rng = np.random.default_rng(100 + seed)
    n = int(rng.integers(2, 7))
    parent = [-1, *(int(rng.integers(-1, b)) for b in range(1, n))]
    net = tree(parent, list(rng.uniform(0.01, 0.2, n)), list(rng.uniform(0.01, 0.2, n)))
    base, amps = rng.uniform(0, 40, (n, 1)), np.broadcast_to(rng.uniform(0, 0.5, (n, 1)), (n, 30))
    load = base * np.linspace(0.05, 6.0, 30)
    e, r = np.full(30, 12.8), np.full(30, 0.05)
    index, _ = loading(net, e, r, amps, load)
    solved = solve(net, e, r, amps, load).solved
    assert solved[index <= 0.995].all()
    assert (~solved).any()
    # Once it has collapsed, more load does not bring it back.
    first = int(np.argmin(solved))
    assert not solved[first:].any()
