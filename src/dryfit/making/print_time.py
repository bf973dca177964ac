"""How long layers take: speeds, speeding up and slowing down, the melt, the cooling; and what they weigh.

Rules, common practice where no closed form is named:
- Along an outline the nozzle passes a corner no faster than its direction may jump (`JUMP`); between corners it speeds
  up and slows down evenly. Lost time at corners is found on the outline and is the same for every wall inside it.
- A patch of area A and edge P that is filled with lines a gap apart has lines of mean length pi A / P (mean chord of a
  flat shape, Crofton), so A / gap of line in P / (pi gap) strokes; at each end the nozzle turns round. Strips narrower
  than three lines are filled along.
- No line is laid faster than the hot end melts: its flow times the material's share, over width times height. A wider
  nozzle than the usual one lets more through, as the root of the diameters.
- The first layer goes at half speed.
- Outlines and patches of a layer are visited by the shortest round, of 0.7124 sqrt(n A) for n places in a box of area A
  (Beardwood, Halton and Hammersley's constant, from memory), and each is begun with a moment for drawing back and
  pushing on.
- A layer that is done sooner than the material cools waits. Other parts on the plate would fill that wait: estimates
  are of a part printed alone, so a plate of several takes no longer than their sum.
"""

from __future__ import annotations

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.machine.printing import Filament, Printer
from dryfit.making.records_print import Estimate
from dryfit.making.slicing import Layers, Outlines

JUMP = 10e-3
"""Change of the nozzle's velocity that the printer takes without slowing down first, m/s."""
FIRST_LAYER = 0.5
"""Share of the speed at which the first layer is laid."""
STRIP = 3.0
"""Strips narrower than so many lines are filled along, not across."""
ROUND_TRIP = 0.7124
MOMENT = 0.1
"""Drawing back and pushing on at each outline or patch, s."""
KINDS = ("outer walls", "inner walls", "solid", "fill", "travel", "cooling")


def melt_flow(printer: Printer, filament: Filament, nozzle: float) -> float:
    """Most material that the hot end lets through a nozzle, m³/s."""
    usual = printer.nozzles[0] if printer.nozzles else nozzle
    return float(printer.flow * filament.flow_share * np.sqrt(nozzle / usual))


def ramp_time(length: Array, speed: Array, start: Array, end: Array, acceleration: float) -> Array:
    """Time over straight lines, s: even speeding up from `start` to at most `speed` and slowing down to `end`.

    Closed form of motion under constant acceleration; where the line is too short for the top speed, the peak is
    sqrt(acceleration x length + (start² + end²) / 2). Broadcasts.
    """
    peak = np.minimum(speed, np.sqrt(acceleration * length + (start**2 + end**2) / 2))
    peak = np.maximum(peak, np.maximum(start, end))
    ramps = (2 * peak**2 - start**2 - end**2) / (2 * acceleration)
    cruise = np.maximum(length - ramps, 0.0) / np.maximum(peak, 1e-9)
    return np.asanyarray((2 * peak - start - end) / acceleration + cruise)


def corner_loss(outlines: Outlines, layers: int, speed: Array, acceleration: float) -> Array:
    """Time lost at the corners of each layer's outlines against going round at `speed` (layers,), s, (layers,)."""
    o = outlines
    if len(o.length) == 0:
        return np.zeros(layers)
    top = speed[o.layer]
    past = np.minimum(top, JUMP / np.maximum(o.bend, 1e-9))
    # a corner may not be passed faster than the edges around it allow to be reached or left; twice round is enough
    for _ in range(2):
        past = np.minimum(past, np.sqrt(past[o.before] ** 2 + 2 * acceleration * o.length))
        past = np.minimum(past, np.sqrt(past[o.following] ** 2 + 2 * acceleration * o.length[o.following]))
    taken = ramp_time(o.length, top, past[o.before], past, acceleration)
    lost: Array = np.bincount(o.layer, taken - o.length / top, minlength=layers).astype(float)[o.like]
    return lost


def stroke_time(line: Array, edge: Array, gap: float, width: float, speed: Array, acceleration: float) -> Array:
    """Time to lay `line` of length in patches whose borders are `edge` long, m, (L,).

    gap: between the middles of the lines; width: of a line. Patches are filled to and fro; strips that are on average
    (twice area over edge) narrower than three lines are filled along."""
    area = line * gap
    strip = 2 * area / np.maximum(edge, 1e-9) < STRIP * width
    strokes = np.where(strip, 1.0, np.maximum(edge / (np.pi * gap), 1.0))
    turn = np.minimum(speed, JUMP / np.sqrt(2.0))  # round a right angle, twice
    each = ramp_time(line / strokes, speed, turn, turn, acceleration)
    step = ramp_time(np.full_like(line, gap), speed, turn, turn, acceleration)
    return np.where(line > 0, strokes * (each + np.where(strip, 0.0, step)), 0.0)


def estimate(layers: Layers, nozzle: float, printer: Printer, filament: Filament, time_factor: float = 1.0) -> Estimate:
    """Time, volume and mass of one copy printed alone; heating and levelling before the plate are not in it."""
    count = len(layers.area)
    section = layers.width * layers.height
    melt = melt_flow(printer, filament, nozzle) / section
    slow = np.where(np.arange(count) == 0, FIRST_LAYER, 1.0)
    wall = np.minimum(printer.wall_speed * slow, melt)
    line = np.minimum(printer.speed * slow, melt)
    a = printer.acceleration
    stops = np.where(layers.stops >= 2, layers.stops, 0.0)
    tour = ROUND_TRIP * np.sqrt(stops * layers.box)
    hops = np.maximum(stops, 1.0)
    rest = np.zeros(count)
    by_kind = {
        "outer walls": layers.outer_walls / wall
        + (corner_loss(layers.outlines, count, wall, a) if layers.walls else rest),
        "inner walls": layers.inner_walls / line
        + max(layers.walls - 1, 0) * corner_loss(layers.outlines, count, line, a) * (layers.inner_walls > 0),
        "solid": stroke_time(layers.solid, layers.solid_edge, layers.width, layers.width, line, a),
        "fill": stroke_time(layers.fill, layers.fill_edge, layers.gap, layers.width, line, a),
        "travel": hops * ramp_time(tour / hops, np.full(count, printer.travel_speed), rest, rest, a) + hops * MOMENT,
    }
    busy = np.sum(list(by_kind.values()), axis=0)
    waits = np.maximum(filament.least_layer_time - busy, 0.0) * (layers.area > 0)
    by_kind["cooling"] = waits
    time = float(np.sum(busy + waits)) * time_factor
    volume = float(np.sum(layers.volume))
    return Estimate(
        time=time,
        volume=volume,
        mass=volume * filament.density,
        layers=count,
        line_length=float(np.sum(layers.line_length)),
        by_kind=tuple((kind, float(np.sum(by_kind[kind])) * time_factor) for kind in KINDS),
        flow=volume / time if time > 0 else 0.0,
        slow_layers=int(np.count_nonzero(waits > 0)),
        overhang=float(np.sum(layers.overhang)),
    )
