"""Volts along a strip, for a picture: what the foil takes at every LED, in the brightest scene of its set."""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.machine.light import Light


def drop_along(light: Light, strip: int, current: float) -> tuple[Array, Array]:
    """Places of the LEDs of one strip of a set, m from its end, and the drop in the foil up to each, V; one machine.

    current: of one LED, A. Superposition over equal constant-current LEDs: beyond the outer feeds an LED at u takes
    r i min(x, u) at x; between two feeds D apart r i min(x, u) (D - max(x, u))/D (circuit theory).
    """
    number, pitch = int(light.leds[strip]), float(light.pitch[strip])
    feeds = np.sort(np.asanyarray(light.feeds[strip], dtype=float))
    place: Array = np.asanyarray(pitch / 2 + pitch * np.arange(number), dtype=np.float64)
    drop = np.zeros(number)
    for low, high in zip((-np.inf, *feeds), (*feeds, np.inf), strict=True):
        here = (place >= low) & (place < high)
        near = low if np.isfinite(low) else high
        x = np.abs(place[here] - near)
        lesser, greater = np.minimum(x[:, None], x), np.maximum(x[:, None], x)
        span = high - low
        share = (span - greater) / span if np.isfinite(span) else np.ones_like(greater)
        drop[here] = np.sum(lesser * share, axis=-1)
    return place, drop * current * float(light.foil_resistance[strip])
