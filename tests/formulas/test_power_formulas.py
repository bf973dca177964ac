"""Formulas of the supply: arrays equal element by element, monotone where physics is, and NaN never passes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryfit.ground.findings import margin
from dryfit.trades.power import formulas as f
from dryfit.trades.power.formulas_network import Network, loading, order, solve

GRID, TABLE = np.linspace(0, 1, 11), np.linspace(3.0, 4.2, 11)

SCALAR_FORMULAS: list[tuple[Callable[..., object], list[tuple[float, float]]]] = [
    (f.copper_resistance, [(0.1, 5), (1e-7, 1e-5)]),
    (f.warm_factor, [(270, 380)]),
    (f.ambient_factor, [(270, 380), (340, 450)]),
    (f.group_factor, [(1, 12)]),
    (lambda c: f.open_voltage(c, GRID, TABLE, 4.0), [(0, 1)]),
    (f.peukert_capacity, [(1e4, 1e5), (3600, 72000), (0.1, 30), (1.0, 1.3)]),
    (f.discharge_time, [(1e4, 1e5), (3600, 72000), (0.1, 30), (1.0, 1.3)]),
    (lambda d, r: f.joining_surge(d, r, 3), [(0, 2), (0.01, 0.2)]),
    (f.pulse_share, [(100, 1e5)]),
    (f.decaying_pulse, [(1, 100), (1e-4, 1)]),
    (f.regulator_input_current, [(3, 12), (0, 20), (0.5, 1), (13, 30)]),
    (f.regulator_loss, [(3, 12), (0, 20), (0.5, 1)]),
    (f.held_voltage, [(5, 13), (0, 1), (1e-3, 0.1), (0, 0.01)]),
    (f.capacitor_rise, [(3, 13), (0, 1), (1e-4, 0.1)]),
    (f.charging_voltage, [(3, 13), (0.01, 1), (1e-4, 0.1), (0, 1)]),
]


@pytest.mark.parametrize(("formula", "ranges"), SCALAR_FORMULAS)
def test_array_equals_element_by_element(formula: Callable[..., object], ranges: list[tuple[float, float]]) -> None:
    rng = np.random.default_rng(1)
    columns = [rng.uniform(low, high, 40) for low, high in ranges]
    together = np.asarray(formula(*columns))
    single = [formula(*(float(c[n]) for c in columns)) for n in range(40)]
    assert together == pytest.approx(np.array(single, dtype=float), rel=1e-12)


@pytest.mark.parametrize(("formula", "ranges"), SCALAR_FORMULAS)
def test_nan_never_passes(formula: Callable[..., object], ranges: list[tuple[float, float]]) -> None:
    for n in range(len(ranges)):
        given_values = [(low + high) / 2 for low, high in ranges]
        given_values[n] = np.nan
        result = np.asarray(formula(*given_values), dtype=float)
        # Of an unknown capacitor nothing is counted on: 0 V held, which passes as little as NaN does.
        assert np.isnan(result).all() or (formula is f.held_voltage and n == 3 and result == 0.0)
        assert not (margin(1.0, result) >= 0).any()


@given(st.floats(0.05, 0.95), st.floats(0.001, 0.04))
def test_open_voltage_rises_with_charge(charge: float, more: float) -> None:
    assert f.open_voltage(charge + more, GRID, TABLE, 4.0) >= f.open_voltage(charge, GRID, TABLE, 4.0)


@given(st.floats(0.5, 40), st.floats(1.01, 3))
def test_larger_current_gives_no_more_charge(current: float, times: float) -> None:
    assert f.peukert_capacity(4e4, 72000, current * times, 1.2) <= f.peukert_capacity(4e4, 72000, current, 1.2)


@given(st.floats(1e3, 2e5), st.floats(3600, 72000), st.floats(0.05, 30), st.floats(1, 1.4))
def test_the_rating_that_would_do_gives_the_charge_asked(charge: float, hours: float, amps: float, k: float) -> None:
    rated = f.peukert_rating(charge, hours, amps, k)
    assert f.peukert_capacity(rated, hours, amps, k) == pytest.approx(charge, rel=1e-9)


def test_a_wire_as_hot_as_its_insulation_carries_nothing() -> None:
    assert f.ambient_factor(343.15, 343.15) == 0.0
    assert f.ambient_factor(350.0, 343.15) == 0.0
    assert np.isnan(f.ambient_factor(np.nan, 343.15))


def _net(r: float = 0.02, batch: tuple[int, ...] = ()) -> Network:
    r_s = np.broadcast_to(np.array([r, 0.03, 0.05, 0.01]), (*batch, 4))
    reg = np.broadcast_to(np.array([np.nan, 5.0, np.nan, np.nan]), (*batch, 4))
    return Network(
        (-1, -1, 1, -1), (-1, -1, 1, 2), r_s, r_s * np.array([1.0, 1.0, 1.0, 0.0]), (False, True, False, False),
        (False,) * 4, (False,) * 4, reg, reg * 0 + 1.0, reg * 0 + 0.9, reg * 0 + 0.01,
    )  # fmt: skip


def test_currents_balance_and_power_is_kept() -> None:
    net = _net()
    amps, watts = np.array([[0.0], [0.5], [3.0], [0.2]]), np.array([[60.0], [0.0], [0.0], [2.0]])
    s = solve(net, np.array([12.8]), np.array([0.05]), amps, watts)
    heads = s.current[0] + s.current[1] + s.current[3]
    assert heads == pytest.approx(s.source_current)
    used = np.sum(s.delivered[:, 0] * (amps[:, 0] + watts[:, 0] / s.delivered[:, 0]))
    out = s.regulator_current[1, 0]
    lost = s.delivered[1, 0] * out * (1 / 0.9 - 1) + 0.01 * s.arriving[1, 0]
    flow = np.array([s.current[0, 0], s.current[1, 0] + s.current[3, 0], s.current[2, 0] + s.current[3, 0], 0.0])
    wires = np.sum(net.supply * s.current[:, 0] ** 2) + np.sum(net.back * flow**2)
    assert 12.8 * s.source_current[0] == pytest.approx(used + lost + wires + 0.05 * s.source_current[0] ** 2, rel=1e-9)


def test_batch_equals_single() -> None:
    rng = np.random.default_rng(3)
    amps, watts = rng.uniform(0, 2, (50, 4, 6)), rng.uniform(0, 40, (50, 4, 6))
    watts[:, 1:3] = 0
    emf = rng.uniform(11, 13, (50, 6))
    many = solve(_net(batch=(50,)), emf, np.full((50, 6), 0.05), amps, watts)
    for n in range(50):
        one = solve(_net(), emf[n], np.full(6, 0.05), amps[n], watts[n])
        assert many.delivered[n] == pytest.approx(one.delivered, rel=1e-12)
        assert many.ground[n] == pytest.approx(one.ground, rel=1e-12, abs=1e-15)


@given(st.floats(1, 150), st.floats(1.01, 1.5))
def test_more_load_never_raises_the_bus(watts: float, times: float) -> None:
    load = np.array([[watts, watts * times], [0, 0], [0, 0], [0, 0]])
    s = solve(_net(), np.full(2, 12.8), np.full(2, 0.05), np.zeros((4, 2)), load)
    assert s.solved.all()
    assert s.bus[1] < s.bus[0]


@given(st.integers(0, 23))
def test_order_of_branches_does_not_matter(seed: int) -> None:
    rng = np.random.default_rng(seed)
    net = _net()
    p = rng.permutation(4)
    back = {int(old): new for new, old in enumerate(p)}
    moved = Network(
        tuple(back.get(net.parent[o], -1) for o in p), tuple(back.get(net.returns_to[o], -1) for o in p),
        net.supply[p], net.back[p], tuple(net.regulated[o] for o in p), (False,) * 4, (False,) * 4,
        net.output[p], net.dropout[p], net.efficiency[p], net.quiescent[p],
    )  # fmt: skip
    amps, watts = np.array([[0.0], [0.5], [3.0], [0.2]]), np.array([[60.0], [0.0], [0.0], [2.0]])
    a = solve(net, np.array([12.8]), np.array([0.05]), amps, watts)
    b = solve(moved, np.array([12.8]), np.array([0.05]), amps[p], watts[p])
    assert b.delivered == pytest.approx(a.delivered[p], rel=1e-12)


def test_one_bad_machine_does_not_spoil_the_others() -> None:
    emf = np.array([[12.8], [np.nan], [0.5]])
    s = solve(_net(batch=(3,)), emf, np.full((3, 1), 0.05), np.full((3, 4, 1), 0.1), np.full((3, 4, 1), 5.0))
    assert s.solved[:, 0].tolist() == [True, False, False]
    assert np.isnan(s.delivered[1:]).all()
    assert not (margin(1.0, s.delivered[1:]) >= 0).any()


def test_a_loop_is_left_out_of_the_order() -> None:
    assert order((-1, 2, 1, 0)) == (0, 3)


def test_loading_without_load_is_nothing() -> None:
    index, total = loading(_net(), np.array([12.8]), np.array([0.05]), np.zeros((4, 1)), np.zeros((4, 1)))
    # The regulator idles on a little constant current, which is no constant power.
    assert index == pytest.approx([0.0])
    assert total == pytest.approx([0.0])
