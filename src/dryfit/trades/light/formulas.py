"""Light: current along a strip, data, diffuser, heat. Pure relations on floats or broadcasting arrays, SI."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dryfit.ground.quantity import Array, Num


def scene_current(count: Num, level: Num, full_white: Num, dark: Num) -> Num:
    """Current of `count` LEDs at a share `level` of full white, A: the chips' own current does not dim.

    n (I_dark + level (I_white - I_dark)).
    """
    return count * (dark + level * (full_white - dark))


def level_of(current: Num, full_white: Num, dark: Num) -> Num:
    """Share of full white at which one LED draws a current, between 0 and 1; 1 where nothing of it dims."""
    span = np.asanyarray(full_white - dark, dtype=float)
    level = np.where(span > 0, (current - dark) / np.where(span > 0, span, 1.0), np.where(np.isnan(span), np.nan, 1.0))
    share: Array = np.clip(level, 0.0, 1.0)[()]
    return share


def highest_level(count: Num, full_white: Num, dark: Num, limit: Num) -> Num:
    """Share of full white at which all sets of LEDs (..., K) together draw the current `limit` (...,), 0 to 1."""
    idle = np.sum(count * dark, axis=-1)
    span = np.sum(count * (full_white - dark), axis=-1)
    level = np.where(span > 0, (limit - idle) / np.where(span > 0, span, 1.0), np.where(np.isnan(span), np.nan, 1.0))
    share: Array = np.clip(level, 0.0, 1.0)[()]
    return share


def ladder_drops(first: Num, pitch: Num, number: Num, feeds: Num, resistance: Num, current: Num) -> tuple[Num, Num]:
    """Deepest drop in a strip fed at one voltage at several places, V, and the largest current out of one feed to
    one side, A. Exact for equal constant-current LEDs; no lumping.

    first: place of the first LED, pitch: between LEDs, feeds: places of the feeds (..., F) in rising order, all m from
    one end.  resistance: both foils together, ohm/m.  current: of one LED, A.  All others (...,). Returns (...,).

    Beyond the last feed the far LED loses r i Σ(distance of every LED there). Between two feeds D apart the left one
    sends S = Σ(D-u_k)/D LED currents (u_k: distances from it); the deepest LED is number m = ⌈S⌉, where the foil
    current turns, and it loses r i (S u_m - Σ_{k<m}(u_m - u_k)).
    """
    f = np.asanyarray(feeds, dtype=float)
    x0, p, n = (np.asanyarray(v, dtype=float)[..., None] for v in (first, pitch, number))
    # a feed that stands on an LED counts it to its right; the tolerance keeps that so after rounding
    before = np.clip(np.ceil((f - x0) / p - 1e-9), 0, n)
    left, right = before[..., :1], n - before[..., -1:]
    left_drop = left * f[..., :1] - left * x0 - p * left * (left - 1) / 2
    right_first = x0 + before[..., -1:] * p - f[..., -1:]
    right_drop = right * right_first + p * right * (right - 1) / 2
    deepest = np.maximum(left_drop, right_drop)[..., 0]
    most = np.maximum(left, right)[..., 0]
    if f.shape[-1] > 1:
        span = f[..., 1:] - f[..., :-1]
        k = before[..., 1:] - before[..., :-1]
        u1 = x0 + before[..., :-1] * p - f[..., :-1]
        sent = np.where(span > 0, k - (k * u1 + p * k * (k - 1) / 2) / np.where(span > 0, span, 1.0), 0.0)
        m = np.clip(np.ceil(sent - 1e-9), 1, np.maximum(k, 1))
        between = np.where(k > 0, sent * (u1 + (m - 1) * p) - p * m * (m - 1) / 2, 0.0)
        deepest = np.maximum(deepest, np.max(between, axis=-1))
        most = np.maximum(most, np.max(np.maximum(sent, k - sent), axis=-1))
    return (resistance * current * deepest)[()], (current * most)[()]


def unclocked_frame_time(leds: Num, bits: Num, bit_time: Num, reset_time: Num) -> Num:
    """Time to send one frame to LEDs on a one-wire data line, s: n × bits × t_bit + t_reset."""
    return leds * bits * bit_time + reset_time


def clocked_bits(leds: Num, bits: Num) -> Num:
    """Bits of one frame on a two-wire line: a start frame of 32, each LED, and n/2 closing bits in whole 32s."""
    return (32 + leds * bits + 32 * np.ceil(np.asanyarray(leds) / 64))[()]


def clocked_frame_time(leds: Num, bits: Num, bit_time: Num) -> Num:
    """Time to send one frame over data and clock, s."""
    return clocked_bits(leds, bits) * bit_time


def fullest_line(of_strip: Num, counts: Sequence[int], lines: int) -> Num:
    """Time of the data line that has most to send, s: strips stay whole and go, one after the other, to the line that
    has least so far.

    of_strip: time of one strip of each set (..., K).  counts: strips in each set.
    """
    times = np.asanyarray(of_strip, dtype=float)
    if lines == 1:
        together: Array = np.sum(times * np.array(counts, dtype=float), axis=-1)[()]
        return together
    if len(counts) == 1:
        alike: Array = (times[..., 0] * -(-counts[0] // lines))[()]
        return alike
    load = np.zeros((*times.shape[:-1], lines))
    for k, count in enumerate(counts):
        for _ in range(count):
            least = np.argmin(load, axis=-1)[..., None] == np.arange(lines)
            load = load + least * times[..., k, None]
    fullest: Array = np.max(load, axis=-1)[()]
    return fullest


def edge_time(resistance: Num, capacitance: Num, high: Num, threshold: Num) -> Num:
    """Time until a data edge through R into C passes the threshold, s: R C ln(U/(U-U_th)); unlimited if it never does.

    high: voltage of the source; threshold: of the input, V.
    """
    h, t = np.asanyarray(high, dtype=float), np.asanyarray(threshold, dtype=float)
    reaches = h > t
    ratio = np.where(reaches, h / np.where(reaches, h - t, 1.0), 1.0)
    return np.where(reaches, resistance * capacitance * np.log(ratio), np.where(np.isnan(h + t), np.nan, np.inf))[()]


def row_ripple(distance: Num, pitch: Num, harmonics: int = 12) -> tuple[Num, Num]:
    """Unevenness of an endless row of LEDs on a parallel plane above it: (max-min)/(max+min) and (max-min)/mean.

    Each LED is a Lambertian point source; the plane receives E ~ d²/r⁴. Summed exactly by Poisson's formula: harmonic m
    of the row weighs 2(1+k d)e^(-k d), k = 2 π m/p.
    """
    d, p = np.asanyarray(distance, dtype=float)[..., None], np.asanyarray(pitch, dtype=float)[..., None]
    kd = 2 * np.pi * np.arange(1, harmonics + 1) * d / p
    weight = 2 * (1 + kd) * np.exp(-kd)
    odd, even = np.sum(weight[..., ::2], axis=-1), np.sum(weight[..., 1::2], axis=-1)
    return (odd / (1 + even))[()], (2 * odd)[()]


def pitch_that_hides(distance: Num, ripple: Num) -> Num:
    """Largest pitch of a row of LEDs whose ripple (max-min)/mean on a plane at a distance stays below `ripple`, m.

    The first harmonic alone: 4 (1 + x) e^(-x) = w with x = 2 π d/p; the next one weighs less than a thousandth of it
    below w = 0.5. Rows in a tube are farther from most of the wall, so that they ripple less.
    """
    w = np.clip(np.asanyarray(ripple, dtype=float), 1e-9, 3.999)
    x = 1.0 + np.sqrt(2 * np.log(4 / w))
    for _ in range(12):
        # Newton on ln: ln 4 + ln(1 + x) - x = ln w, concave and falling
        x = np.maximum(x + (np.log(4 / w) + np.log1p(x) - x) * (1 + x) / x, 1e-6)
    pitch: Array = (2 * np.pi * distance / x)[()]
    return pitch


def wall_light(radius: Num, source_radius: Num, strips: int, angles: Array) -> tuple[Array, Array]:
    """What each of several rows of LEDs throws on a tube's wall, averaged along it, and how far it is away.

    radius: inside of the tube, source_radius: from its axis to the LEDs, (...,), m.  strips: rows, evenly around.
    angles: places on the wall, (A,), rad, 0 above a row. Returns shares (..., strips, A), 1/m, and distances, m.
    Per row the sum over Lambertian LEDs along the tube is π a b/(2 ρ³ p): a and b are the distances of the wall point
    along the LED's normal and of the LED along the wall's normal, ρ the distance in the cross-section; a convex core
    hides a row just where a < 0.
    """
    R = np.asanyarray(radius, dtype=float)[..., None, None]
    s = np.asanyarray(source_radius, dtype=float)[..., None, None]
    cosine = np.cos(angles - 2 * np.pi * np.arange(strips)[:, None] / strips)
    a = np.maximum(R * cosine - s, 0.0)
    b = R - s * cosine
    square = R * R + s * s - (2 * R * s) * cosine
    rho = np.sqrt(square)
    return a * b / (rho * square), rho


def tube_ripples(
    radius: Num, source_radius: Num, pitch: Num, strips: int, places: int = 5, harmonics: int = 3
) -> tuple[Num, Num]:
    """Unevenness on a tube's wall along it (the worse of above and between the rows) and around it, (max-min)/mean.

    Source: summing of Lambertian point sources (derived); along the tube by Poisson's formula as in `row_ripple`.
    """
    angles = np.linspace(0, np.pi / max(strips, 2), places) if strips > 1 else np.linspace(0, np.pi, places)
    share, rho = wall_light(radius, source_radius, strips, angles)
    total = np.sum(share, axis=-2)
    mean = np.mean(total, axis=-1)
    around = (np.max(total, axis=-1) - np.min(total, axis=-1)) / mean
    # only the odd harmonics differ between a place at an LED and one half-way to the next
    ends = [0] if strips == 1 else [0, -1]
    k = 2 * np.pi / np.asanyarray(pitch, dtype=float)[..., None, None]
    swing: Array = np.zeros(())
    for m in range(1, 2 * harmonics, 2):
        kr = m * k * rho[..., ends]
        swing = swing + 4 * (1 + kr) * np.exp(-kr)
    lit = total[..., ends]
    # a place that no row lights has no dots; the unevenness around the tube tells of it
    along = np.where(lit == 0, 0.0, np.sum(share[..., ends] * swing, axis=-2) / np.where(lit == 0, 1.0, lit))
    return np.max(along, axis=-1)[()], around[()]


def core_resistance(core_area: Num, tube_area: Num, surface_resistance: Num) -> Num:
    """Rise of a core in a closed tube above the room for each watt, K/W: R_s (1/A_core + 2/A_tube): from core to air,
    from the air to the tube's wall, from the wall to the room.

    surface_resistance: of a surface indoors by free air and radiation, m²K/W. Without a tube let tube_area be infinite.
    """
    return surface_resistance * (1 / core_area + 2 / tube_area)


def tube_luminance(lumens: Num, transmission: Num, area: Num) -> Num:
    """Luminance of a diffuser that glows evenly, cd/m²: L = Φ τ/(π A)."""
    return lumens * transmission / (np.pi * area)
