"""Sunbloom worked out a second time, from its design file by physics alone, against the figures of the report.

No formula of dryfit is used: sums, linear programmes, least squares, nodal equations, a root finder and an integrator
of a general library (scipy, run live). The numbers typed in examples/sunbloom/design.yaml stand here again as typed; of
what is bought, the catalogue's rows; both are data. Conductors: IEC 60228 class 5 at 20 °C (seen), copper +0.393 %/K.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import fsolve, linprog

from dryfit.ground.findings import Finding
from dryfit.jobs.check import Checked, check, example

G = 9.80665
RADIUS, CIRCLE, ROW_GAP = 0.1015, 0.300, 0.022
DIRECTIONS = np.radians(np.arange(0, 360, 5))
SLOPE, ACCELERATION, ROLLING = np.radians(3), 0.4, 0.025
STALL, I_STALL, I_FREE, VOLTS, FREE = 3.0, 11.0, 0.5, 12.8, 300 * np.pi / 30
RATIO = 60 / 24
WARM_WIRE = 1 + 0.00393 * 20  # copper at 40 °C
CLASS_5 = {2.5: 7.98e-3, 4: 4.95e-3, 6: 3.30e-3, 10: 1.91e-3}  # ohm/m


@cache
def sunbloom() -> Checked:
    return check(example("sunbloom"))


def found(name: str) -> Finding:
    return next(f for f in sunbloom().report.findings if f.check == name)


def figure(symbol: str) -> np.ndarray:
    return np.asarray(next(f.term.value for f in sunbloom().report.figures if f.term.symbol == symbol))


def demand(name: str, case: str = "") -> float:
    f = found(name)
    return float(f.demand[f.cases.index(case)])


def capacity(name: str, case: str = "") -> float:
    f = found(name)
    return float(f.capacity[f.cases.index(case)])


@cache
def bodies(posture: str) -> tuple[np.ndarray, np.ndarray]:
    """Masses and centres of everything, arms in a posture: petals hang (closed), lie flat or rise by 22.5 deg."""
    rows = [(2.2, 0, 0, 0.130), (2.85, 0, 0, 0.120), (1.2, 0, 0, 0.200), (3.4, 0, 0, 0.200), (2.5, 0, 0, 0.700),
            (1.3, 0, 0, 1.150)]  # fmt: skip
    for k in range(3):
        at = np.radians(60 + 120 * k)
        rows.append((3.1, 0.265 * np.cos(at), 0.265 * np.sin(at), 0.105))
        at = np.radians(30 + 120 * k)
        rows.append((0.8, 0.090 * np.cos(at), 0.090 * np.sin(at), 1.127))
    for k in range(6):
        up = {"closed": -90.0, "raised": 22.5, "held out": 0.0, "one side": 22.5 if k < 3 else -90.0}[posture]
        out, rise, at = np.cos(np.radians(up)), np.sin(np.radians(up)), np.radians(60 * k)
        for mass, along in ((0.42, 0.161), (0.28, 0.340 + 0.140)):
            reach = 0.070 + along * out
            rows.append((mass, reach * np.cos(at), reach * np.sin(at), 1.150 + along * rise))
    table = np.array(rows)
    return table[:, 0], table[:, 1:]


def centre(posture: str) -> np.ndarray:
    mass, place = bodies(posture)
    return mass @ place / mass.sum()


POSTURES = ("closed", "raised", "held out", "one side")


def test_mass_and_heights() -> None:
    mass, _ = bodies("closed")
    assert figure("m") == pytest.approx(mass.sum(), rel=1e-12)
    assert figure("h") == pytest.approx([centre(p)[2] for p in POSTURES], rel=1e-9)


def tips_at(posture: str, towards: float) -> float:
    """Largest acceleration with all wheels still pressing: linear programme over the wheel loads and a."""
    mass, c = bodies(posture)[0].sum(), centre(posture)
    at = np.radians(60 + 120 * np.arange(3))
    feet = (CIRCLE - ROW_GAP / 2) * np.array([np.cos(at), np.sin(at)])  # the inner of two rows
    u = np.array([np.cos(towards), np.sin(towards)])
    equal = np.vstack([[1, 1, 1, 0], np.column_stack([feet, -mass * c[2] * u])])
    loads = [mass * G, *(mass * G * c[:2])]
    answer = linprog([0, 0, 0, -1], A_eq=equal, b_eq=loads, bounds=[(0, None)] * 4)
    assert answer.success
    return float(-answer.fun)


def test_tipping_acceleration_in_the_weakest_of_72_directions() -> None:
    weakest = [min(tips_at(p, u) for u in DIRECTIONS) for p in POSTURES]
    assert figure("a_tip") == pytest.approx(weakest, rel=1e-6)


def test_wheel_loads_of_every_posture() -> None:
    at = np.radians(60 + 120 * np.arange(3))
    feet = CIRCLE * np.array([np.cos(at), np.sin(at)])
    loads = []
    for p in POSTURES:
        weight = bodies(p)[0].sum() * G
        loads.append(np.linalg.lstsq(np.vstack([np.ones(3), feet]), weight * np.array([1, *centre(p)[:2]]))[0])
    assert found("wheel-overloaded").demand == pytest.approx(np.max(loads, axis=0), rel=1e-9)
    assert found("wheel-load-share").capacity == pytest.approx(np.min(loads, axis=0), rel=1e-9)


# --- ring and pinion --------------------------------------------------------------------------------------------------


def pair() -> tuple[float, float, float, float, float, float]:
    """Base and tip radii of 24/60 teeth of module 2, mm, the ring's teeth 0.81 modules tall; working angle from the
    typed centre distance."""
    base1, base2 = 24 * np.cos(np.radians(20)), 60 * np.cos(np.radians(20))
    return base1, 26.0, base2, 60.0 - 0.81 * 2, np.arccos((base2 - base1) / 36.0), np.pi * 2 * np.cos(np.radians(20))


def test_ring_tips_stay_on_the_pinions_involute() -> None:
    """The ring's tip circle must meet the line of action outside the pinion's tangent point; as a ratio of teeth."""
    _, _, base2, tip2, working, _ = pair()
    needed = 1 - np.sqrt(tip2**2 - base2**2) / base2 / np.tan(working)
    assert demand("ring-and-pinion-go-together", "involute interference") == pytest.approx(needed, rel=1e-9)
    assert capacity("ring-and-pinion-go-together", "involute interference") == pytest.approx(24 / 60)


def contact() -> tuple[float, float]:
    """Lengths of recess and approach on the line of action, over the base pitch."""
    base1, tip1, base2, tip2, working, pitch = pair()
    recess = np.sqrt(tip1**2 - base1**2) - base1 * np.tan(working)
    approach = base2 * np.tan(working) - np.sqrt(tip2**2 - base2**2)
    return recess / pitch, approach / pitch


def test_contact_ratio() -> None:
    assert capacity("contact-ratio") == pytest.approx(sum(contact()), rel=1e-9)


@cache
def efficiency() -> float:
    """Friction work of one mesh period by numbers: pairs in contact share the force, sliding grows from the pitch
    point; 16 % more are lost outside the mesh, flanks rub at 0.1."""
    base1, _, _, _, _, pitch = pair()
    recess, approach = contact()
    s = np.linspace(-approach, recess, 200_001)
    pairs = sum(((s + k <= recess) & (s + k >= -approach)).astype(int) for k in (-2, -1, 0, 1, 2))
    sliding = np.abs(s) * pitch * (1 - 24 / 60) / base1
    lost = 0.1 * np.trapezoid(sliding / pairs, s)
    return float((1 - lost) * (1 - 0.16))


# --- drive ------------------------------------------------------------------------------------------------------------


def hardest_share() -> float:
    """Rim force of one of three wheels for each newton of pull without moment, worst direction."""
    at = np.radians(60 + 120 * np.arange(3))
    push = np.vstack([-np.sin(at), np.cos(at), np.ones(3)])
    each = [np.linalg.solve(push, [np.cos(u), np.sin(u), 0.0]) for u in DIRECTIONS]
    return float(np.max(np.abs(each)))


def torque(slope: float, acceleration: float) -> float:
    """At the motor's output shaft of the hardest-working wheel, which rolls straight ahead then; the wheel of 0.75 kg
    as a disc, the rotor as in the sheet."""
    mass, share = bodies("closed")[0].sum(), hardest_share()
    pull = mass * (acceleration + G * (np.sin(slope) + ROLLING * np.cos(slope)))
    turning = acceleration / RADIUS
    wheel = share * pull * RADIUS + 0.75 * RADIUS**2 / 2 * turning
    return wheel / (RATIO * efficiency()) + float(sunbloom().machine.motor.inertia) * RATIO * turning


def test_torque_on_the_slope() -> None:
    """To 0.05 %: the texts' loss factor takes the pitch point to lie where one pair touches; here two pairs do."""
    asked = demand("runs-below-stall-share", "on the slope, accelerating")
    assert asked == pytest.approx(torque(SLOPE, ACCELERATION), rel=5e-4)
    assert demand("runs-below-stall-share", "on the level") == pytest.approx(torque(0.0, 0.0), rel=5e-4)


def winding() -> float:
    """Temperature after the show day, K: two heat stores integrated, 40 % of it driving and 5 % climbing. The housing
    is warmed by what the armature's power loses on its way to the shaft."""
    cold = VOLTS / I_STALL
    k_e, turn = (VOLTS - I_FREE * cold) / FREE, 0.5 * RATIO / RADIUS
    torques, shares = np.array([torque(0.0, 0.0), torque(SLOPE, 0.0)]), np.array([0.40, 0.05])
    current = I_FREE + torques * (I_STALL - I_FREE) / STALL
    square, rubbed = shares @ current**2, shares @ ((k_e * current - torques) * turn)

    def heat(_: float, t: np.ndarray) -> list[float]:
        flow = (t[0] - t[1]) / 3.0
        return [
            (square * cold * (1 + 0.00393 * (t[0] - 298.15)) - flow) / 25.0,
            (rubbed + flow - (t[1] - 295.15) / 6.0) / 170.0,
        ]

    return float(solve_ivp(heat, (0, 2.5 * 3600), [295.15, 295.15], rtol=1e-9, max_step=60).y[0, -1])


def test_winding_after_the_show_day() -> None:
    """The check counts how much warmer than the air: 22 degC."""
    assert demand("motor-stays-cool", "the whole day") == pytest.approx(winding() - 295.15, abs=0.05)


def test_top_speed_of_the_whole_circuit() -> None:
    """Three bridges, one sagging source near the end of the charge: four voltages' balances at once. To 0.5 %: the
    temperature of the wires is taken as 40 °C."""
    shares = np.array([1.0, 0.5, 0.5])  # one wheel rolls straight ahead, two at 60 deg: force and speed
    current = I_FREE + torque(0.0, 0.0) * shares * (I_STALL - I_FREE) / STALL
    cold = VOLTS / I_STALL
    resistance = cold * (1 + 0.00393 * (winding() - 298.15)) + 0.024 + 0.020
    k_e = (VOLTS - I_FREE * cold) / FREE
    lead = 2 * 0.25 * CLASS_5[4] * WARM_WIRE + 2 * 0.0005
    main = 2 * 0.4 * CLASS_5[10] * WARM_WIRE + 0.002
    to_motors = 2 * 0.4 * CLASS_5[4] * WARM_WIRE + 2 * 0.0005
    fuses = 0.003 / 3 + 0.0009 + 0.0025  # 20, 50 and 25 A: some milliohm each
    source = (0.045 * 1.4 + lead) / 3 + main + to_motors + fuses
    emf = 4 * 3.25  # a cell at 30 % of its charge
    volts_by_speed = k_e * shares * RATIO / RADIUS

    def balance(x: np.ndarray) -> list[float]:
        bus, v, *duty = x
        motors = np.array(duty) * bus - current * resistance - volts_by_speed * v
        return [bus - emf + source * float(np.array(duty) @ current), duty[0] - 1.0, *motors]

    expected = fsolve(balance, [emf, 1.0, 1.0, 0.5, 0.5], xtol=1e-12)[1]
    assert float(figure("v_top")) == pytest.approx(expected, rel=0.005)


def test_way_to_standstill_after_a_lost_link() -> None:
    assert float(figure("x_stop")) == pytest.approx(0.5 * 0.4 + 0.5**2 / (2 * 0.4), rel=1e-9)


# --- axle -------------------------------------------------------------------------------------------------------------


def test_bending_stress_of_the_turning_axle_on_the_slope() -> None:
    """Forces on wheel and ring about the near bearing, by cross products. One wheel bears half as much again in
    braking and turning, and a tenth of it sideways (defaults of the check)."""
    at = np.radians(60 + 120 * np.arange(3))
    feet = np.vstack([np.ones(3), CIRCLE * np.cos(at), CIRCLE * np.sin(at)])
    weight = bodies("closed")[0].sum() * G
    worst = max(float(np.max(np.linalg.solve(feet, weight * np.array([1, *centre(p)[:2]])))) for p in POSTURES)
    load = 1.5 * worst
    turn = hardest_share() * RADIUS * bodies("closed")[0].sum() * (
        ACCELERATION + G * (np.sin(SLOPE) + ROLLING * np.cos(SLOPE))
    )  # fmt: skip
    # x along the axle outwards from the near bearing, y forward, z up; the thrust on the side that adds
    wheel, foot = np.array([0.055, 0, 0]), np.array([0.055, 0, -RADIUS])
    ring = wheel - np.array([0.032, 0, 0]) + np.array([0, 0, 0.060])
    along, out = turn / 0.060, turn / 0.060 * np.tan(np.radians(20))
    forces = [(foot, np.array([0.1 * load, 0, 0])), (foot, np.array([0, turn / RADIUS, load])),
              (ring, np.array([0, along, out]))]  # fmt: skip
    moment = sum(np.cross(place, force) for place, force in forces)
    bending = np.hypot(moment[1], moment[2])
    stress = 32 * bending / (np.pi * 0.020**3)
    assert demand("axle-fatigue", "slope") == pytest.approx(stress, rel=0.03)


# --- light ------------------------------------------------------------------------------------------------------------


def led() -> float:
    """Current of an LED at 60 % of the white of a strong lot, 1 mA of it its chip's own, A."""
    return 0.001 + 0.6 * (0.0525 - 0.001)


def test_load_of_the_light_regulator() -> None:
    assert demand("rail-feeds-its-load", "light supply") == pytest.approx(4 * 54 * led(), rel=1e-6)


def test_volts_at_the_middle_of_a_strip() -> None:
    """54 LEDs between two feeds, foil of 0.1 ohm/m, as nodal equations; the feed wire of 6 mm2 warm."""
    n, pitch = 54, 1 / 60
    places = pitch * (np.arange(n) + 0.5)
    gaps = np.diff(np.concatenate([[0.0], places, [0.9]]))
    g = 1 / (0.1 * gaps)
    matrix = np.diag(g[:-1] + g[1:]) - np.diag(g[1:-1], 1) - np.diag(g[1:-1], -1)
    feed = 5.0 - 4 * n * led() * 2 * 0.45 * CLASS_5[6] * WARM_WIRE
    volts = np.linalg.solve(matrix, -led() * np.ones(n) + feed * (g[0] * np.eye(n)[0] + g[-1] * np.eye(n)[-1]))
    assert capacity("last-led-has-its-volts", "stem") == pytest.approx(volts.min(), abs=1.5e-3)


# --- arms and energy --------------------------------------------------------------------------------------------------


def test_petal_held_straight_out() -> None:
    """As a share of the stall torque of the 55 kg*cm class."""
    held = G * (0.42 * 0.161 + 0.28 * 0.480)
    assert demand("arms-hold-their-posture", "held out") == pytest.approx(held / (0.55 * G), rel=1e-9)


def test_run_time_by_balance_of_power() -> None:
    """Mean powers of motors, light, servos and boards over the mean voltage; losses in wires left out: to 5 %."""
    cold = VOLTS / I_STALL
    k_t, k_e = STALL / (I_STALL - I_FREE), (VOLTS - I_FREE * cold) / FREE
    share = np.array([1.0, 0.5, 0.5])

    def motors(slope: float) -> float:
        current = I_FREE + torque(slope, 0.0) * share / k_t
        turn = 0.5 * RATIO / RADIUS * share
        return float(np.sum(current * (current * (cold * 1.08 + 0.044) + k_e * turn)))

    driving = 0.40 * motors(0.0) + 0.05 * motors(SLOPE)
    scenes = [(0.55, 0.4 * 1.5 / 3), (0.25, 0.5 * 2 / 3), (0.15, 0.6), (0.05, 0.0)]  # amber lights red and half green
    light = sum(t * 216 * (0.001 + level * 0.0515) for t, level in scenes) * 5.0 / 0.90
    lever = G * (0.42 * 0.161 + 0.28 * 0.480)

    def hold(up: float) -> float:
        return 0.012 + (5.0 - 0.012) * lever * np.cos(np.radians(up)) / (0.55 * G)

    posed = 0.55 * 6 * 0.012 + 0.25 * 6 * hold(22.5) + 0.10 * 6 * hold(0) + 0.10 * (3 * hold(22.5) + 3 * 0.012)
    moved = 6 * (0.7 + (5.0 - 0.7) * lever / (0.55 * G))
    servos = 0.70 * posed + 0.30 * moved  # arms move for a third of the show (default)
    mean = (driving + light + servos * 7.4 / 0.92 + 0.35 * 5 / 0.88) / 12.95 + 0.048
    hours = 2 * 3 * 7 * 0.70 / mean
    assert float(figure("t_run")) / 3600 == pytest.approx(hours, rel=0.05)
