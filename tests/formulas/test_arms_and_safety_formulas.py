"""Arms and safety: arrays equal single values; invariances."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dryfit.ground.frames import rotation, turned
from dryfit.trades.arms import formulas as arms
from dryfit.trades.safety import formulas as safety

RNG = np.random.default_rng(4)
N, J = 6, 3


def chain() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    axis = RNG.normal(size=(N, J, 3))
    axis /= np.linalg.norm(axis, axis=-1, keepdims=True)
    return RNG.uniform(0.1, 1, (N, J)), RNG.normal(size=(N, J, 3)), RNG.normal(size=(N, J, 3)), axis


def test_torques_of_many_equal_single_ones() -> None:
    given_chain = chain()
    held, most = arms.gravity_torques(*given_chain)
    for n in range(N):
        single = arms.gravity_torques(*(x[n] for x in given_chain))
        assert single[0] == pytest.approx(held[n], rel=1e-12)
        assert single[1] == pytest.approx(most[n], rel=1e-12)


@given(st.floats(-3, 3))
def test_torques_do_not_change_when_the_machine_turns(angle: float) -> None:
    mass, centre, origin, axis = chain()
    turn = rotation(np.array([0.0, 0, 1]), angle)
    moved = arms.gravity_torques(mass, turned(turn, centre), turned(turn, origin), turned(turn, axis))[0]
    assert moved == pytest.approx(arms.gravity_torques(mass, centre, origin, axis)[0], abs=1e-9)


def test_no_posture_asks_for_more_than_the_swing() -> None:
    held, most = arms.gravity_torques(*chain())
    assert np.all(np.abs(held) <= most + 1e-12)


def test_errors_one_way_bound_the_likely_ones() -> None:
    lever = RNG.uniform(0, 1, (N, J))
    likely, worst = arms.tip_errors(lever, 0.006, 0.009)
    assert np.all(likely <= worst)
    assert arms.tip_errors(lever[0], 0.006, 0.009)[0] == pytest.approx(likely[0], rel=1e-12)


def test_a_servo_of_0_4_m_with_a_deadband_of_half_a_degree() -> None:
    """Common practice: 0.3 to 0.5 deg on 0.4 m is 2 to 4 mm."""
    for degrees, low, high in ((0.3, 2.0e-3, 2.2e-3), (0.5, 3.3e-3, 4.0e-3)):
        assert low <= arms.tip_errors(np.array([0.4]), np.radians(degrees), 0.0)[0] <= high


def test_servo_current_runs_from_idle_to_stall() -> None:
    assert arms.servo_current(0.0, 5.0, 0.01, 5.0) == 0.01
    assert arms.servo_current(-5.0, 5.0, 0.01, 5.0) == 5.0
    assert arms.servo_current(50.0, 5.0, 0.01, 5.0) == 5.0


@pytest.mark.parametrize(
    ("formula", "count"),
    [
        (safety.kinetic_energy, 2), (safety.reduced_mass, 2), (safety.in_series, 2), (safety.contact_force, 3),
        (safety.contact_speed, 3), (safety.protective_distance, 3), (safety.intrusion, 1), (arms.hold_heat, 4),
        (arms.servo_current, 4),
    ],
)  # fmt: skip
def test_an_array_equals_its_elements(formula, count: int) -> None:  # type: ignore[no-untyped-def]
    values = RNG.uniform(0.1, 5, (count, N))
    assert formula(*values) == pytest.approx(np.array([formula(*values[:, n]) for n in range(N)]), rel=1e-12)


@given(st.floats(1, 200), st.floats(1.01, 3))
def test_a_heavier_machine_hits_no_softer(mass: float, factor: float) -> None:
    light = safety.contact_force(0.5, safety.reduced_mass(mass, 40.0), 25e3)
    assert safety.contact_force(0.5, safety.reduced_mass(mass * factor, 40.0), 25e3) >= light


def test_energy_by_hand() -> None:
    """29.4 kg at 0.5 m/s: 3.675 J (derived)."""
    assert safety.kinetic_energy(29.4, 0.5) == pytest.approx(3.675)


@given(st.floats(0, 2), st.floats(0, 2))
def test_torque_on_the_way_by_turning_the_arm(back: float, on: float) -> None:
    """Extremes between two angles against 400 places of the arm, each laid out anew (derived, run live)."""
    mass, centre, origin, axis = (x[0] for x in chain())
    held, most = arms.gravity_torques(mass, centre, origin, axis)
    slope = arms.gravity_slopes(mass, centre, origin, axis)
    largest, smallest = arms.on_the_way(held, slope, most, back, on)
    for j in range(J):
        turn = rotation(axis[j], np.linspace(-back, on, 400))
        turned_centre = origin[j] + turned(turn[:, None], centre - origin[j])
        swept = np.abs(arms.gravity_torques(mass, turned_centre, origin, axis)[0][:, j])
        assert float(largest[j]) == pytest.approx(float(swept.max()), abs=2e-3 * float(most[j]))
        assert float(smallest[j]) == pytest.approx(float(swept.min()), abs=6e-3 * float(most[j]))


def test_a_spring_leaves_the_difference_to_the_servo() -> None:
    assert arms.sprung(np.array([3.0, -3.0, 0.5, 0.0]), 1.0) == pytest.approx([2.0, -2.0, -0.5, -1.0])
