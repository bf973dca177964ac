"""Every public formula of every trade and of the frames: what holds for all of them, whatever they compute.

One answer for one machine and for many: arrays equal the loop, leading axes broadcast. No warning at plausible inputs.
Floats in, floats out, no array without axes. A NaN in any argument comes out as NaN. The formulas are found by looking
into the packages; a new one fails here until its arguments have a range.
"""

from __future__ import annotations

import importlib
import inspect
import math
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

import dryfit
from dryfit.trades.power.formulas_network import Network, loading, solve
from dryfit.trades.shafts.formulas_fits import clearances

Floats = NDArray[np.float64]
Shape = tuple[int, ...]
LEADS: tuple[Shape, ...] = ((2, 1), (3,), (), (2, 3))
"""Leading shapes given to the arguments in turn; together (2, 3)."""
W, J, K, S, E, P, N = 4, 3, 5, 6, 3, 2, 4  # wheels, joints, directions, stations, edges, postures, parts

SOURCE = Path(str(dryfit.__file__)).parent


def found() -> Iterator[tuple[str, Callable[..., Any]]]:
    for path in [
        *sorted(SOURCE.glob("trades/*/formulas*.py")),
        SOURCE / "ground" / "frames.py",
        SOURCE / "ground" / "edges.py",
    ]:
        module = ".".join(("dryfit", *path.relative_to(SOURCE).with_suffix("").parts))
        for name, f in vars(importlib.import_module(module)).items():
            if inspect.isfunction(f) and f.__module__ == module and not name.startswith("_"):
                yield f"{module.removeprefix('dryfit.').removeprefix('trades.')}.{name}", f


FORMULAS = dict(found())

APART = {
    "power.formulas_network.order": "sorts the branches' structure; no machine number",
    "power.formulas_network.solve": "tested below on a whole network",
    "power.formulas_network.loading": "tested below on a whole network",
    "safety.formulas.transient_limit": "looks up a published limit by the name of a region",
    "shafts.formulas_fits.split": "takes a tolerance class apart; no machine number",
    "shafts.formulas_fits.clearances": "takes two pairs of limits: tested below",
}

RANGES: dict[str, tuple[float, float]] = {
    "a": (-1, 1), "about_origin": (1, 2), "acceleration": (0.1, 1), "addendum": (0.9, 1.0),
    "addendum_height": (1e-3, 3e-3), "allowable": (1e7, 3e7), "ambient": (290, 310), "amplitude": (1e7, 5e7),
    "angle": (0.1, 1.2), "approach": (0.5, 1.0), "arc": (2e-3, 4e-3), "area": (1e-6, 1e-5), "at": (-0.05, 0.2),
    "axial": (10, 300), "axis": (-1, 1), "base": (0.02, 0.03), "base1": (0.020, 0.022), "base2": (0.05, 0.056),
    "before": (4.5, 5), "bending": (1e7, 1e8), "beyond": (0, 1), "bits": (24, 32), "bit_time": (1e-6, 2e-6),
    "body": (1, 60), "bore": (0.0, 0.008), "bore_mm": (10, 25), "capacitance": (1e-3, 1e-2), "capacity": (1e4, 1e5),
    "cells": (3, 6), "celsius": (40, 80), "centre": (-0.5, 0.5), "charge": (0.05, 0.95), "circuits": (1, 12),
    "clock": (8e6, 2e7), "collar_friction": (0.1, 0.2), "concentration": (1.2, 3), "contact_ratio": (1.1, 1.9),
    "core_area": (0.05, 0.1), "correction": (1.5, 2), "couple": (1, 30), "current": (0.5, 6), "dark": (0, 1e-3),
    "deadband": (1e-3, 1e-2), "deceleration": (0.2, 2), "dedendum": (1.2, 1.3), "density": (2e3, 8e3),
    "depth": (5e-4, 2e-3), "diameter": (0.01, 0.1), "diameter1": (0.03, 0.06), "difference": (0.1, 1),
    "directions": (-1, 1), "distance": (0.05, 0.3), "divider": (1, 64), "dm_n": (1e5, 3e5), "duty": (0.1, 0.9),
    "edge": (1e3, 1e4), "efficiency": (0.7, 0.95), "elasticity": (1e4, 3e4), "emf": (11, 14), "endurance": (1e8, 3e8),
    "endurance_share": (0.1, 0.4), "energy": (0.01, 1), "exponent": (1, 1.3), "extra": (0, 0.3), "f0": (12, 15),
    "face_width": (0.01, 0.03), "factor": (0.15, 0.25), "feeds": (0, 0.9), "fillet": (0.2, 0.3), "first": (-1, 1),
    "force": (50, 500), "form": (0.3, 3), "free": (-0.2, 0.2), "free_current": (0.2, 0.6), "free_speed": (15, 40),
    "frequency": (1e4, 3e4), "friction": (0.05, 0.6), "from_pitch_point": (-5e-3, 5e-3), "full_white": (0.03, 0.06),
    "give": (1e-3, 5e-3), "growth": (0.0, 0.05), "heading": (-3, 3), "headings": (-3, 3), "height": (0.2, 1.0),
    "high": (3, 5), "hour_rate": (3600, 72000), "hours": (100, 5000), "housing_capacity": (100, 400),
    "housing_heat": (0, 3), "housing_to_air": (3, 8), "idle_current": (0.05, 0.2), "inductance": (5e-4, 2e-3),
    "inertia": (0.05, 1), "inner": (0.01, 0.02), "input_voltage": (10, 14), "insulation": (343.15, 363.15),
    "interference": (1e-5, 1e-4), "inverse_rows": (-1, 1), "joint_axis": (-1, 1), "joint_origin": (-0.3, 0.3),
    "k_e": (0.2, 0.5), "k_t": (0.2, 0.5), "lash": (1e-3, 1e-2), "leds": (50, 300), "length": (0.1, 0.5),
    "level": (0.1, 1), "lever": (0.05, 0.5), "limit": (5, 50), "load": (20, 200), "load_share": (0.01, 0.2),
    "loads": (10, 1e6), "loss": (0.1, 0.5), "lumens": (500, 3000), "machine": (10, 50), "mass": (0.5, 30),
    "mean": (1e7, 5e7), "million_turns": (1, 50), "mismatch": (1e-5, 8e-5), "modulus": (1e9, 3e9),
    "modulus1": (1e9, 3e9), "modulus2": (1e9, 3e9), "moment": (1, 30), "most": (1.5, 4), "motion": (-1, 1),
    "motors": (2, 4), "normal": (-1, 1), "number": (30, 60), "offset": (0.1, 0.4), "omega1": (10, 40),
    "omega2": (5, 10), "other": (0.05, 0.2), "other_heat": (0, 2), "out": (-5e-4, 5e-4), "outer": (0.03, 0.04),
    "output_current": (1, 10), "output_voltage": (5, 7.4), "overhang": (0.03, 0.08), "part": (0.1, 5),
    "peak": (10, 100), "percent": (90, 99), "pin": (3e-3, 4e-3), "pitch": (5e-4, 1e-3), "points": (-0.5, 0.5),
    "poisson": (0.3, 0.45), "poisson1": (0.3, 0.45), "poisson2": (0.3, 0.45), "position": (-0.4, 0.4),
    "power": (10, 100), "power_per_speed": (5, 30), "pressure_angle": (0.34, 0.40), "proof_stress": (5e8, 6e8),
    "pull": (-3, 3), "pulses": (1e2, 1e5), "radial": (50, 500), "radius": (0.04, 0.06), "rating": (5e3, 2e4),
    "ratio": (0.4, 3), "recess": (0.5, 1.0), "reference": (303.15, 313.15), "reliability": (0.8, 1),
    "reliability_factor": (0.25, 1), "reset_time": (5e-5, 3e-4), "resistance": (0.02, 0.1), "resistances": (0.02, 0.1),
    "resistivity": (1.7e-8, 1.8e-8), "resolution": (0.01, 0.04), "ripple": (0.2, 1), "rise": (10, 40),
    "roller_angle": (-0.8, 0.8), "roller_radius": (0.008, 0.015), "rolling_resistance": (0.01, 0.05),
    "root1": (0.018, 0.020), "root2": (0.062, 0.066), "rotation": (1, 1.2), "rotation_matrix": (-1, 1),
    "row_gap": (0, 0.03), "rows": (-1, 1), "rpm": (20, 300), "run_out": (1e-4, 1e-3), "scatter": (0.005, 0.03),
    "screws": (1, 3), "section_modulus": (1e-7, 1e-6), "sensitivity": (0.3, 0.9), "separation": (0.1, 0.3),
    "share": (0.5, 1), "shares": (-1, 1), "shares_of_time": (0.1, 0.4), "shear": (1e6, 1e7),
    "shear_modulus": (2e9, 8e10), "shift": (0.0, 0.3), "shift_of_centres": (-2e-4, 2e-4), "size": (0.004, 0.1),
    "slack": (-1, 1), "slope": (0.0, 0.1), "softening": (340, 360), "source": (0.02, 0.1),
    "source_radius": (0.01, 0.02), "spacing": (0.02, 0.1), "span": (0.06, 0.12), "spanned": (3, 5),
    "speed": (0.2, 1.2), "spread": (0.01, 0.2), "stall_current": (2, 11), "stall_torque": (1.5, 5),
    "static_rating": (2e3, 8e3), "station": (-0.04, 0.16), "stiffness": (1e4, 1e5), "stress": (1e7, 3e7),
    "supply": (11, 14), "surface_resistance": (0.1, 0.15), "switching_time": (1e-7, 1e-6), "table": (0, 1),
    "tangential": (20, 200), "teeth": (18, 60), "temperature": (293, 340), "tensile": (4e8, 9e8),
    "tension": (100, 1000), "thermal_resistance": (2, 6), "thinning": (0, 1e-4), "thread_friction": (0.1, 0.2),
    "threshold": (1, 2.5), "time": (0.1, 600), "time_constant": (0.05, 0.5), "tip": (0.03, 0.04),
    "tip1": (0.024, 0.026), "tip1_angle": (0.5, 0.6), "tip2": (0.057, 0.059), "tip2_angle": (0.2, 0.3),
    "top": (1.2, 2), "torque": (0.2, 1.4), "torsion": (1e6, 1e7), "total": (20, 40), "transfer": (5, 20),
    "transmission": (0.4, 0.9), "tube_area": (0.2, 0.4), "turns": (1, 100), "unevenness": (1e-4, 1e-3),
    "module": (1e-3, 3e-3), "right": (0, 0.1), "measured": (1e-4, 4e-4), "relative_axial": (0.1, 8),
    "imposed": (0.3, 0.5), "count": (1, 300), "angles": (0, 3), "value": (0.005, 0.3),
    "circle": (0.08, 0.2), "pegs": (3, 8), "gap": (1e-4, 1e-3), "shims": (1e-4, 1e-3),
    "back": (0, 1), "held": (-1.5, 1.5), "of_strip": (1e-3, 3e-3), "on": (0, 1), "spring": (0.1, 1),
    "values": (-1, 1), "vector": (-1, 1), "voltage": (5, 14), "voltage_per_speed": (5, 12),
    "at_wheel": (0.5, 4), "damping": (0.2, 2), "drag": (0.1, 1), "push": (10, 100), "rolling": (2, 20),
    "room": (0.5, 3), "rotor": (1e-3, 1e-2), "run_on": (0.1, 0.6), "squares": (50, 200), "sums": (10, 30),
    "trail": (0.0, 0.03), "turning": (1e-3, 3e-2), "wall": (3e-3, 1e-2),
    "weight": (100, 400), "whole": (0.1, 5), "width": (2e-3, 2e-2),
    "winding_capacity": (20, 60), "winding_to_housing": (1, 3), "working": (0.38, 0.5), "x": (0.4, 0.6),
    "x1": (0.0, 0.2), "x2": (0.2, 0.4), "y": (1, 2.3), "z1": (18, 24), "z2": (56, 70),
}  # fmt: skip
"""Plausible values in SI units by the name of the argument."""

OTHERWISE: dict[str, dict[str, tuple[float, float]]] = {
    "arms.formulas.hold_heat": {"torque": (0.1, 1.0)},
    "arms.formulas.tip_lever": {"tip": (-1, 1)},
    "drive.formulas_motor.steady_winding": {"resistance": (0.5, 1.2), "current": (0.5, 4)},
    "drive.formulas_motor.two_node_warming": {"resistance": (0.5, 1.2), "current": (0.5, 4)},
    "drive.formulas_motor.top_speed": {"voltage": (0.5, 3)},
    "drive.formulas_travel.edge_push": {"height": (1e-3, 1e-2)},
    "drive.formulas_travel.shorted_distance": {"friction": (0.1, 0.5)},
    "drive.formulas.strongest_pull": {"slack": (0.5, 1)},
    "gears.formulas.angle_at": {"base": (0.005, 0.009)},
    "gears.formulas_strength.flank_pressure": {"ratio": (2, 4)},
    "gears.formulas_strength.left_when_warm": {"reference": (293, 298)},
    "gears.formulas_strength.form_factors": {"thinning": (0, 0.1)},
    "gears.formulas_strength.ring_form_factors": {"thinning": (0, 0.1)},
    "gears.formulas_strength.temperature_rise": {"loss": (0.5, 5)},
    "gears.formulas_strength.tangential_force": {"diameter": (0.04, 0.1)},
    "gears.formulas_pairs.involute_limit": {"tip2_angle": (0.1, 0.3)},
    "gears.formulas_pairs.trimming_angles": {"tip2_angle": (0.34, 0.40), "tip1_angle": (0.42, 0.5)},
    "gears.formulas_pairs.trochoid_angles": {"distance": (0.034, 0.037)},
    "gears.formulas_pairs.tip_clearances": {"distance": (0.034, 0.037)},
    "light.formulas.ladder_drops": {"first": (0.005, 0.01), "pitch": (0.01, 0.02), "feeds": (0, 1)},
    "light.formulas.level_of": {"current": (0.01, 0.02)},
    "light.formulas.row_ripple": {"distance": (0.01, 0.02), "pitch": (0.01, 0.03)},
    "light.formulas.tube_ripples": {"pitch": (0.01, 0.03)},
    "power.formulas.held_voltage": {"time": (1e-4, 1e-3), "current": (0.1, 0.5)},
    "power.formulas.capacitor_rise": {"energy": (0.01, 0.1)},
    "power.formulas.charging_voltage": {"time": (1e-4, 1e-3)},
    "power.formulas.timer_frequency": {"top": (200, 400)},
    "safety.formulas.contact_force": {"stiffness": (1e3, 8e4)},
    "shafts.formulas_beams.mass_per_length": {"bore": (0, 0.008)},
    "shafts.formulas_beams.overhang_tip_deflection": {"stiffness": (500, 2000)},
    "shafts.formulas_beams.overhang_tip_slope": {"stiffness": (500, 2000)},
    "shafts.formulas_bearings.equivalent_load": {"axial": (10, 600)},
    "shafts.formulas_bearings.mean_load": {"loads": (50, 500)},
    "shafts.formulas_grip.stress_area": {"diameter": (3e-3, 8e-3)},
    "shafts.formulas_grip.nut_factor": {"diameter": (3e-3, 8e-3)},
    "shafts.formulas_grip.capstan_ratio": {"angle": (1, 9)},
    "shafts.formulas_grip.pin_pressure": {"diameter": (0.01, 0.02)},
    "stability.formulas.edge_distances": {"normal": (-1, 1), "centre": (-0.1, 0.1)},
    "stability.formulas.energy_to_tip": {"distance": (0.05, 0.2)},
    "weight.formulas.about_centre": {"about_origin": (0, 1)},
    "ground.edges.met_radius": {"angle": (-3, 3)},
    "drive.formulas_motor.ratio_for": {"torque": (0.5, 1.4), "rotor": (1e-3, 1e-2)},
}  # fmt: skip
"""Ranges of arguments that mean something else in one formula."""

RANGES |= {  # readings at the bench
    "backlash": (0.0001, 0.0003), "base_gear": (0.05, 0.06), "dropout": (0.5, 1.5), "eccentricity": (0.0001, 0.0005),
    "line": (-3, 3), "locked": (0.5, 1), "losses": (0.05, 0.2), "output": (5, 7.4), "path": (0.8, 2),
    "rollers": (0.1, 0.9), "running_share": (0.2, 0.4), "sheet_volts": (11, 14), "slowing_down": (0.2, 1),
    "speeding_up": (0.2, 1), "stage_ratio": (1.5, 4), "standby": (0.005, 0.02), "volts": (9, 14),
}  # fmt: skip

TRAILING: dict[str, dict[str, Shape]] = {
    "bench.formulas.play_at": {"backlash": (2,), "working": (2,), "stage_ratio": (2,), "base_gear": (2,)},
    "bench.formulas.slip_pull": {"load": (W,), "line": (W,), "rollers": (W,), "locked": (W,)},
    "arms.formulas.outboard": {"mass": (J,), "centre": (J, 3)},
    "arms.formulas.gravity_torques": {"mass": (J,), "centre": (J, 3), "joint_origin": (J, 3), "joint_axis": (J, 3)},
    "arms.formulas.gravity_slopes": {"mass": (J,), "centre": (J, 3), "joint_origin": (J, 3), "joint_axis": (J, 3)},
    "arms.formulas.off_axis": {"axis": (3,), "vector": (3,)},
    "arms.formulas.tip_lever": {"tip": (3,), "joint_origin": (J, 3), "joint_axis": (J, 3)},
    "arms.formulas.tip_errors": {"lever": (J,), "deadband": (J,), "lash": (J,)},
    "drive.formulas.rolling_rows": {"position": (W, 2), "heading": (W,), "roller_angle": (W,)},
    "drive.formulas.sideslip_rows": {"position": (W, 2), "heading": (W,)},
    "drive.formulas.freedom": {"rows": (2, 3)},
    "drive.formulas.inverse": {"a": (3, 3)},
    "drive.formulas.pseudo_inverse": {"rows": (W, 3), "free": (3, 3)},
    "drive.formulas.force_shares": {"rows": (W, 3), "free": (3, 3), "directions": (K, 2)},
    "drive.formulas.speed_shares": {"rows": (W, 3), "directions": (K, 2)},
    "drive.formulas.largest": {"values": (W,)},
    "drive.formulas.smallest": {"values": (W,)},
    "drive.formulas.total": {"values": (W,)},
    "drive.formulas.can_travel": {"free": (3, 3), "directions": (K, 2)},
    "drive.formulas.lost_motion": {"rows": (W, 3), "free": (3, 3), "motion": (3,)},
    "drive.formulas.slack_force": {"rows": (4, 3)},
    "drive.formulas.strongest_pull": {"shares": (K, 4), "limit": (K, 4), "growth": (K, 4), "slack": (4,)},
    "drive.formulas.load_shift": {"position": (W, 2), "directions": (K, 2)},
    "drive.formulas.heading_error": {"inverse_rows": (3, W), "shares": (K, W), "scatter": (W,)},
    "drive.formulas.at_direction": {"values": (K, W)},
    "drive.formulas_travel.blocked_deceleration": {
        "load": (P, W), "pull": (W,), "free": (W,), "moment": (P, K), "shift": (K, W)},
    "gears.formulas_shims.shim_stack": {"shims": (K,)},
    "light.formulas.ladder_drops": {"feeds": (3,)},
    "light.formulas.wall_light": {"angles": (K,)},
    "light.formulas.highest_level": {"count": (3,), "full_white": (3,), "dark": (3,)},
    "light.formulas.fullest_line": {"of_strip": (3,)},
    "power.formulas.open_voltage": {"table_charge": (11,), "table_voltage": (11,)},
    "power.formulas.parallel": {"resistances": (3,)},
    "power.formulas.shares": {"resistances": (3,)},
    "power.formulas.joined_voltage": {"emf": (3,), "resistances": (3,)},
    "power.formulas.mean_by_share": {"values": (4,), "shares_of_time": (4,)},
    "power.formulas.rms_by_share": {"values": (4,), "shares_of_time": (4,)},
    "shafts.formulas_beams.force_moments": {"at": (S,)},
    "shafts.formulas_beams.couple_moments": {"at": (S,), "beyond": (S,)},
    "shafts.formulas_beams.force_bend": {"at": (S,)},
    "shafts.formulas_beams.couple_bend": {"at": (S,)},
    "shafts.formulas_bearings.mean_load": {"loads": (K,), "turns": (K,)},
    "stability.formulas.contact_points": {"position": (W, 2), "heading": (W,), "row_gap": (W,), "trail": (W,)},
    "stability.formulas.support_edges": {"points": (W, 2)},
    "stability.formulas.edge_distances": {"normal": (E, 2), "offset": (E,), "centre": (P, 2)},
    "stability.formulas.nearness": {"normal": (E, 2), "distance": (P, E), "directions": (K, 2)},
    "stability.formulas.tipping_acceleration": {
        "normal": (E, 2), "distance": (P, E), "height": (P,), "directions": (K, 2)},
    "stability.formulas.inertia_about": {"normal": (E, 2), "inertia": (P, 3, 3)},
    "stability.formulas.tilt_per_lift": {"position": (W, 2)},
    "stability.formulas.top_sway": {"position": (W, 2), "run_out": (W,)},
    "stability.formulas.centre_half_width": {"mass": (N,), "centre": (N, 3), "spread": (N,)},
    "weight.formulas.moments_about_origin": {"mass": (N,), "centre": (N, 3), "inertia": (N, 3, 3)},
    "weight.formulas.about_centre": {"first": (3,), "about_origin": (3, 3)},
    "weight.formulas.wheel_loads": {"position": (W, 2), "centre": (2,)},
    "weight.formulas.load_change": {"position": (W, 2)},
    "weight.formulas.guessed_share": {"mass": (N,), "spread": (N,)},
    "ground.frames.rotation": {"axis": (3,)},
    "ground.frames.turned": {"rotation_matrix": (3, 3), "vector": (3,)},
    "ground.frames.moved_inertia": {"inertia": (3, 3), "offset": (3,)},
}  # fmt: skip
"""Physical axes behind the leading ones, of arguments that have any."""

STRUCTURE: dict[str, dict[str, Any]] = {
    "drive.formulas.force_shares": {"directions": None}, "drive.formulas.speed_shares": {"directions": None},
    "drive.formulas.can_travel": {"directions": None}, "drive.formulas.load_shift": {"directions": None},
    "drive.formulas.lost_motion": {"motion": None},
    "drive.formulas.at_direction": {"index": 3}, "light.formulas.wall_light": {"angles": None, "strips": 4},
    "light.formulas.tube_ripples": {"strips": 4, "places": 5, "harmonics": 3},
    "light.formulas.fullest_line": {"counts": (2, 1, 3), "lines": 2},
    "light.formulas.row_ripple": {"harmonics": 12}, "power.formulas.joining_surge": {"count": 3},
    "power.formulas.open_voltage": {"table_charge": np.linspace(0, 1, 11), "table_voltage": np.linspace(3, 4, 11)},
    "power.formulas.timer_frequency": {"both_ways": True}, "shafts.formulas_beams.couple_moments": {"beyond": None},
    "shafts.formulas_fits.tolerance": {"grade": 9}, "shafts.formulas_fits.shaft_limits": {"zone": "k6"},
    "shafts.formulas_fits.hole_limits": {"zone": "N7"}, "shafts.formulas_strength.surface_factor": {"finish": "ground"},
    "shafts.formulas_strength.endurance_limit": {"finish": "machined"},
    "shafts.formulas_strength.amplitude_and_mean": {"turns": False},
    "drive.formulas_travel.blocked_deceleration": {"free": np.array([1.0, 0.0, 1.0, 1.0])},
    "stability.formulas.nearness": {"directions": None},
    "stability.formulas.tipping_acceleration": {"directions": None},
    "stability.formulas.centre_half_width": {"spread": None},
}  # fmt: skip
"""Arguments that are the same for every machine: counts, words, tables; None: drawn once, without leading axes."""

STANDS: dict[tuple[str, str], str] = {
    ("stability.formulas.nearness", "distance"): "no meaning where the machine does not stand; its caller says so",
    ("gears.formulas_pairs.usable_tips", "sign"): "a sign is +1 or -1",
    ("gears.formulas_pairs.backlash", "module"): "in the two angles and the distance already",
    ("gears.formulas_pairs.backlash", "z1"): "in the two angles and the distance already",
    ("gears.formulas_pairs.backlash", "z2"): "in the two angles and the distance already",
    ("shafts.formulas_beams.couple_moments", "beyond"): "a choice of side, read only where a station is the couple's",
}
"""Arguments whose NaN need not come out, and why."""


def drawn(name: str, rng: np.random.Generator, alone: bool = False) -> dict[str, Any]:
    """Arguments of a formula: with leading axes in turn, or (alone) without any."""
    arguments: dict[str, Any] = {}
    for i, key in enumerate(inspect.signature(FORMULAS[name]).parameters):
        fixed = STRUCTURE.get(name, {})
        trailing = TRAILING.get(name, {}).get(key, ())
        if key in fixed and fixed[key] is not None:
            arguments[key] = fixed[key]
            continue
        lead = () if alone or key in fixed else LEADS[i % len(LEADS)]
        if key == "sign":
            arguments[key] = rng.choice([-1.0, 1.0], size=lead)
            continue
        span = OTHERWISE.get(name, {}).get(key) or RANGES.get(key)
        assert span is not None, f"{name}: give a plausible range for the argument {key!r} in RANGES or OTHERWISE"
        low, high = span
        value = rng.uniform(low, high, (*lead, *trailing))
        arguments[key] = np.sort(value, axis=-1) if key in ("feeds", "at") else value
    return placed(name, arguments)


def placed(name: str, a: dict[str, Any]) -> dict[str, Any]:
    """Arguments that must fit others: centre distances near the one of the teeth, projectors, plain floats."""
    reference = {"distance", "module", "z1", "z2", "sign"} <= set(a)
    if reference or "right" in a:
        key = "right" if "right" in a else "distance"
        a[key] = a["module"] * (a["z2"] + a["sign"] * a["z1"]) / 2 * (1 + 0.05 * a[key])
    if "pin" in a and "teeth" in a:
        a["pin"] = 1.7 * a["module"] + 0.0 * a["pin"]
    if "free" in a and TRAILING.get(name, {}).get("free") == (3, 3):
        a["free"] = np.eye(3) + a["free"]
    return {k: float(v) if isinstance(v, np.ndarray) and v.ndim == 0 else v for k, v in a.items()}


def outputs(result: Any) -> list[Any]:
    if is_dataclass(result):
        return [getattr(result, f.name) for f in fields(result)]
    return list(result) if isinstance(result, tuple) else [result]


def lead_of(name: str, key: str, value: Any) -> Shape:
    trailing = len(TRAILING.get(name, {}).get(key, ()))
    return () if key in STRUCTURE.get(name, {}) else np.shape(value)[: np.ndim(value) - trailing]


def one_machine(name: str, arguments: dict[str, Any], lead: Shape, at: Shape) -> dict[str, Any]:
    """The arguments of one machine of many."""
    single = {}
    for key, value in arguments.items():
        if isinstance(value, str | bool | int) or key in STRUCTURE.get(name, {}):
            single[key] = value
            continue
        trailing = np.shape(value)[len(lead_of(name, key, value)) :]
        piece = np.broadcast_to(value, lead + trailing)[at]
        single[key] = float(piece) if np.ndim(piece) == 0 else np.array(piece)
    return single


ALL = sorted(set(FORMULAS) - set(APART))


def test_formulas_are_found_and_those_apart_exist() -> None:
    assert len(FORMULAS) > 150
    tables = {*APART, *OTHERWISE, *TRAILING, *STRUCTURE, *(name for name, _ in STANDS)}
    assert tables <= set(FORMULAS), f"no such formula: {sorted(tables - set(FORMULAS))}"


@pytest.mark.parametrize("name", ALL)
def test_many_machines_at_once_equal_the_loop(name: str) -> None:
    arguments = drawn(name, np.random.default_rng(11))
    lead = np.broadcast_shapes(*(lead_of(name, k, v) for k, v in arguments.items()))
    together = outputs(FORMULAS[name](**arguments))
    for at in np.ndindex(lead):
        alone = outputs(FORMULAS[name](**one_machine(name, arguments, lead, at)))
        assert len(alone) == len(together)
        for many, one in zip(together, alone, strict=True):
            spread = np.broadcast_to(many, lead + np.shape(one))
            np.testing.assert_allclose(spread[at], one, rtol=1e-12, atol=1e-14, err_msg=f"{name} {at}")
            if np.asarray(one).dtype != bool:
                assert not np.any(np.isnan(one)), f"{name}: plausible inputs give NaN"


@pytest.mark.parametrize("name", ALL)
def test_floats_in_floats_out(name: str) -> None:
    arguments = drawn(name, np.random.default_rng(12), alone=True)
    for result in outputs(FORMULAS[name](**arguments)):
        empty = isinstance(result, np.ndarray) and result.ndim == 0
        assert not empty, f"{name}: an array without axes leaks; end it with [()]"
        assert isinstance(result, np.ndarray | float | np.bool_)


@pytest.mark.parametrize("name", ALL)
def test_nan_in_any_argument_comes_out(name: str) -> None:
    arguments = drawn(name, np.random.default_rng(13), alone=True)
    for key, value in arguments.items():
        fixed = STRUCTURE.get(name, {}).get(key)
        if isinstance(value, str | bool | int) or fixed is not None or (name, key) in STANDS:
            continue
        broken = np.full(np.shape(value), math.nan) if np.ndim(value) else math.nan
        results = outputs(FORMULAS[name](**{**arguments, key: broken}))
        if all(np.asarray(r).dtype == bool for r in results):
            assert not np.any(results), f"{name}: true in spite of NaN in {key!r}"
        else:
            assert np.any(np.isnan(np.concatenate([np.ravel(r) for r in results]))), f"{name}: NaN in {key!r} is lost"


def test_clearances_of_many_pairs_equal_the_loop() -> None:
    rng = np.random.default_rng(14)
    hole, shaft = (tuple(rng.uniform(-5e-5, 5e-5, (2, 3))) for _ in range(2))
    least, most = clearances(hole, shaft)
    for i in range(3):
        one = clearances((hole[0][i], hole[1][i]), (shaft[0][i], shaft[1][i]))
        assert (least[i], most[i]) == one
    assert math.isnan(clearances((0.0, math.nan), (0.0, 0.0))[0])


Supply = tuple[dict[str, Floats], dict[str, Floats]]
NUMBERS = ("supply", "back", "output", "dropout", "efficiency", "quiescent")
BRANCHES, CASES = 4, 2


def supply(rng: np.random.Generator, lead: Shape) -> Supply:
    """Numbers of a network: motors and two regulators on the bus, a load behind one of them; and what is drawn."""
    low_high = {"supply": (0.005, 0.02), "back": (0.005, 0.02), "output": (5, 7), "dropout": (0.5, 1),
                "efficiency": (0.85, 0.95), "quiescent": (0, 0.02)}  # fmt: skip
    net = {k: rng.uniform(*low_high[k], (*lead, BRANCHES)) for k in NUMBERS}
    drawn_by = {
        "emf": rng.uniform(12, 13, (*lead, CASES)),
        "resistance": rng.uniform(0.02, 0.05, (*lead, CASES)),
        "current": rng.uniform(0.1, 3, (*lead, BRANCHES, CASES)),
        "power": rng.uniform(1, 20, (*lead, BRANCHES, CASES)) * np.array([1, 0, 0, 1])[:, None],
    }
    return net, drawn_by


def solved(net: dict[str, Floats], load: dict[str, Floats], shared: bool) -> list[Floats]:
    """Everything that `solve` and `loading` say; with `shared` the last branch returns by the first one's wire."""
    network = Network(
        parent=(-1, -1, -1, 2), returns_to=(-1, -1, -1, 0 if shared else 2), regulated=(False, True, True, False),
        linear=(False, False, True, False), step_up=(False,) * 4, **net,
    )  # fmt: skip
    return [*outputs(solve(network, **load)), *loading(network, **load)]


@pytest.mark.parametrize("shared", [False, True])
@pytest.mark.parametrize("lead", [(2, 3), (300,)])
def test_many_supplies_at_once_equal_the_loop(shared: bool, lead: Shape) -> None:
    net, load = supply(np.random.default_rng(15), lead)
    together = solved(net, load, shared)
    assert np.all(together[7])
    for at in [*np.ndindex(lead)][:: max(1, math.prod(lead) // 12)]:
        alone = solved({k: v[at] for k, v in net.items()}, {k: v[at] for k, v in load.items()}, shared)
        for many, one in zip(together, alone, strict=True):
            np.testing.assert_allclose(many[at], one, rtol=1e-12, atol=1e-13)


@pytest.mark.parametrize("key", [*NUMBERS, "emf", "resistance", "current", "power"])
def test_a_supply_with_nan_is_not_solved(key: str) -> None:
    net, load = supply(np.random.default_rng(16), ())
    group = net if key in net else load
    group[key] = np.full_like(group[key], math.nan)
    answer = solved(net, load, False)
    assert not np.any(answer[7]), "a supply with an unknown number counts as solved"
    assert np.all(np.isnan(answer[5]))
