"""Wheels of any layout as arrays: omni, mecanum, plain tyres, casters, each by contact point and heading."""

from __future__ import annotations

from dataclasses import dataclass

from dryfit.ground.quantity import Array


@dataclass(frozen=True)
class Wheels:
    """All wheels that touch the floor, W of them, driven or not.

    Frame of the machine: origin on the floor below the middle of the base, x forward, y left, z up.
    names, kinds ("omni", "mecanum", "tyre", "caster"), driven: W entries each.
    position: contact points (..., W, 2), m.
    heading: direction in which the wheel drives, from +x towards +y, (..., W), rad.
    roller_angle: (..., W), rad; 0 for omni (its rollers run free along the axle) and tyre, ±45° for mecanum:
    wheel rate × radius = v_along + v_across × tan(roller_angle), `across` being 90° left of `along`.
    radius: (..., W), m.  row_gap: distance between the two rows of rollers along the axle, 0 for one row, (..., W), m.
    roller_radius: radius of a roller at its middle, (..., W), m; equal to `radius` for tyres and casters.
    roller_count: rollers around the wheel, all rows together, (..., W).
    width, mass (one wheel), run_out (eccentricity of the rim, half the dial reading): (..., W).
    """

    names: tuple[str, ...]
    kinds: tuple[str, ...]
    driven: tuple[bool, ...]
    position: Array
    heading: Array
    roller_angle: Array
    radius: Array
    row_gap: Array
    roller_radius: Array
    roller_count: Array
    width: Array
    mass: Array
    run_out: Array
