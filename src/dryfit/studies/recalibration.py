"""Bring a design in line with readings: prediction and reading weighed by their doubts, by least squares.

Every uncertain number has a middle and a half-width; evenly spread, its standard deviation is the half-width over √3.
The numbers that explain the readings best, and stay nearest to what was thought of them, are

    θ = θ0 + C Jᵀ (J C Jᵀ + R)⁻¹ (y - h(θ) - J (θ0 - θ)),    C after = C - C Jᵀ (J C Jᵀ + R)⁻¹ J C

with J the derivatives of the predictions h, taken anew around the last answer a few times (Gauss and Newton). Source:
Tarantola, Inverse Problem Theory, ch. 3 (from memory); for one number and one reading it is the mean weighted by the
inverse squares of the standard deviations.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.assess.bench import TIME_FACTOR, Prediction, bench
from dryfit.ground.errors import DesignError
from dryfit.ground.quantity import Array
from dryfit.studies.many import Build
from dryfit.studies.records_readings import Band, Given, Recalibration, SetAside, Shifted
from dryfit.studies.records_spread import Input
from dryfit.studies.uncertain import Drawn

ASIDE = 4.0
"""Standard deviations, of prediction and reading together, from which on a reading is set aside: in a million good ones
fewer than a hundred lie there, so something else is wrong (common practice)."""

DRAWS, SEED = 1024, 1
_EVEN = float(np.sqrt(3.0))
"""Half-width over standard deviation of what is spread evenly."""
_STEP = 0.25
"""Standard deviations to either side over which derivatives are taken."""
_ROUNDS = 3
_FARTHEST = 8.0
"""Standard deviations beyond which no number is moved."""
_MOVED, _SURER = 0.25, 0.85
"""A number counts as moved from this part of its standard deviation on, or where it is surer by this factor."""
_NAMED = 3
_WORTH, _ANYHOW = 0.1, 0.3
"""Readings are named from this part of the strongest on; one that was right on its prediction still makes surer."""

Plates = Sequence[tuple[str, float]]


@dataclass(frozen=True)
class Model:
    """Predictions as functions of the uncertain numbers of a design. plates: name and planned time of the first ones;
    TIME_FACTOR may stand among the inputs and scales them."""

    build: Build
    inputs: tuple[Input, ...]
    plates: Plates = ()

    def machines(self, varied: Mapping[str, Array]) -> tuple[Prediction, ...]:
        """The predictions of many machines; varied: by path, values or factors on defaults, as `at` gives them."""
        factor = varied.get(TIME_FACTOR)
        plates = [(name, seconds if factor is None else seconds * factor) for name, seconds in self.plates]
        values = {path: v for path, v in varied.items() if path != TIME_FACTOR}
        reckoned = frozenset(one.path for one in self.inputs if one.reckoned)
        return bench(Drawn(self.build, reckoned & values.keys())(values), plates)

    def read(self, values: Array, points: Sequence[str]) -> Array:
        """Readings (m, k) for values (m, n) of the inputs; NaN for machines that cannot be."""
        varied = {
            one.path: v / one.nominal if one.reckoned or one.path == TIME_FACTOR else v
            for one, v in zip(self.inputs, values.T, strict=True)
        }
        try:
            found = {p.point: p.term.value for p in self.machines(varied)}
        except DesignError:
            if len(values) == 1:
                return np.full((1, len(points)), np.nan)
            half = len(values) // 2
            return np.concatenate((self.read(values[:half], points), self.read(values[half:], points)))
        return np.stack([np.broadcast_to(found[p], len(values)) for p in points], axis=-1)


def bands(model: Model, draws: int = DRAWS, seed: int = SEED) -> dict[str, Band]:
    """What every reading should be, by point: drawn machines, with instrument and scatter added as squares.

    The inputs are drawn evenly and each on its own (a Latin hypercube), so that the same seed gives the same bands.
    """
    rng = np.random.default_rng(seed)
    rows = np.tile(np.arange(draws, dtype=float), (len(model.inputs), 1))
    unit = (rng.permuted(rows, axis=1) + rng.random(rows.shape)).T / draws
    low, high = (np.array([getattr(one, end) for one in model.inputs]) for end in ("low", "high"))
    middle = np.array([one.nominal for one in model.inputs])
    central = _predictions(model, middle)
    points = [p.point for p in central]
    readings = model.read(low + unit * (high - low), points)
    return {p.point: _band(p, readings[:, k]) for k, p in enumerate(central)}


def _predictions(model: Model, values: Array) -> tuple[Prediction, ...]:
    """The predictions of the one machine whose inputs have these values."""
    varied = {
        one.path: np.array([v / one.nominal if one.reckoned or one.path == TIME_FACTOR else v])
        for one, v in zip(model.inputs, values, strict=True)
    }
    return model.machines(varied)


def _one(value: object) -> float:
    return float(np.ravel(np.asanyarray(value, dtype=float))[0])


def _band(p: Prediction, drawn: Array) -> Band:
    value, accuracy = _one(p.term.value), _one(p.accuracy.value)
    scatter = 0.0 if p.scatter is None else _one(p.scatter.value)
    known = drawn[np.isfinite(drawn)]
    lower, upper = np.quantile(known, (0.05, 0.95)) if known.size else (np.nan, np.nan)
    # nine tenths of an even half-width hold nine tenths of the readings
    own = 0.9 * float(np.hypot(accuracy, scatter))
    above = float(np.hypot(max(upper - value, 0.0), own))
    if p.most:
        return Band(value, 0.0, value + above)
    below = value - float(np.hypot(max(value - lower, 0.0), own))
    # nothing at the bench reads less than nothing
    return Band(value, max(below, 0.0) if value >= 0 else below, value + above)


def posterior(
    prior: Array, covariance: Array, at: Array, predicted: Array, jacobian: Array, read: Array, noise: Array
) -> tuple[Array, Array]:
    """The numbers (n,) and their covariance (n, n) after readings (k,), with the predictions linear around `at` (n,).

    prior (n,), covariance (n, n): what is thought of the numbers.  predicted (k,), jacobian (k, n): of the readings, at
    `at`.  noise (k, k): covariance of the readings.
    """
    spread = jacobian @ covariance @ jacobian.T + noise
    gain = np.linalg.solve(spread, jacobian @ covariance).T
    after = prior + gain @ (read - predicted - jacobian @ (prior - at))
    left = covariance - gain @ jacobian @ covariance
    return after, (left + left.T) / 2


def least_squares_update(
    prior: Array,
    deviation: Array,
    low: Array,
    high: Array,
    predict: Callable[[Array], Array],
    read: Array,
    noise: Array,
    rounds: int = _ROUNDS,
) -> tuple[Array, Array]:
    """Numbers (n,) and their covariance that weigh what was thought of them against readings (k,).

    deviation (n,): standard deviations of what was thought, each number on its own.  low, high (n,): what can be at
    all.  predict: from numbers (m, n) to readings (m, k), many at once.  noise (k,): standard deviations of the
    readings.  rounds: how often the derivatives are taken anew.
    """
    at, covariance = prior, np.diag(deviation**2)
    after = covariance
    for _ in range(rounds):
        predicted, jacobian = _linear(predict, at, deviation, low, high)
        best, after = posterior(prior, covariance, at, predicted, jacobian, read, np.diag(noise**2))
        at = np.clip(best, low, high)
    return at, after


def recalibrate(model: Model, given: Sequence[Given]) -> Recalibration:
    """The design brought in line with readings.

    A reading more than ASIDE standard deviations from its prediction is set aside and named, except where it reads a
    number of the design itself: then what was thought of that number was wrong, and the reading counts.
    """
    if not given or not model.inputs:
        return Recalibration((), (), (), ())
    points = [g.point for g in given]
    prior = np.array([one.nominal for one in model.inputs])
    half = np.array([(one.high - one.low) / 2 for one in model.inputs])
    deviation = half / _EVEN
    read = np.array([g.value for g in given])
    noise = np.array([np.hypot(g.accuracy, g.scatter) for g in given]) / _EVEN
    low, high = _reach(model.inputs, deviation)
    predicted, jacobian = _linear(lambda rows: model.read(rows, points), prior, deviation, low, high)
    spread = np.sqrt((jacobian * deviation) ** 2 @ np.ones(len(prior)) + noise**2)
    away = np.abs(read - predicted) / spread
    deaf = ~np.any(jacobian != 0, axis=1)
    direct, places = [], {one.path: i for i, one in enumerate(model.inputs)}
    for k in map(int, np.flatnonzero((away > ASIDE) & ~deaf)):
        if given[k].reads in places:
            i = places[given[k].reads]
            deviation[i] = max(deviation[i], abs(read[k] - predicted[k]) / max(abs(jacobian[k, i]), 1e-300))
            direct.append(points[k])
    kept = np.flatnonzero(~deaf & ((away <= ASIDE) | np.isin(points, direct)))
    aside = tuple(
        SetAside(points[k], float(read[k]), float(predicted[k]), 0.0 if deaf[k] else float(away[k]))
        for k in range(len(given))
        if k not in kept and away[k] > (0 if not deaf[k] else 1)
    )
    if not kept.size:
        return Recalibration((), tuple(zip(points, map(float, predicted), strict=True)), aside, ())
    chosen = [points[k] for k in kept]
    after, covariance = _updated(model, prior, deviation, jacobian[kept], chosen, read[kept], noise[kept])
    moved = _moved(
        model.inputs, half, deviation, after, covariance, jacobian[kept], chosen, (read - predicted)[kept], noise[kept]
    )
    final = model.read(after[None, :], points)[0]
    return Recalibration(moved, tuple(zip(points, map(float, final), strict=True)), aside, tuple(direct))


def _updated(
    model: Model, prior: Array, deviation: Array, jacobian: Array, points: Sequence[str], read: Array, noise: Array
) -> tuple[Array, Array]:
    """All numbers and their covariance after the readings; only those are worked on that any of the readings feels."""
    felt = np.flatnonzero(np.any(jacobian != 0, axis=0))
    low, high = _reach(model.inputs, deviation)
    few = Model(model.build, tuple(model.inputs[i] for i in felt), model.plates)
    after, covariance = prior.copy(), np.diag(deviation**2)
    after[felt], covariance[np.ix_(felt, felt)] = least_squares_update(
        prior[felt], deviation[felt], low[felt], high[felt], lambda rows: few.read(rows, points), read, noise
    )
    return after, covariance


def _reach(inputs: Sequence[Input], deviation: Array) -> tuple[Array, Array]:
    """How far each number may be moved: to either side, never through nothing, a share never above all."""
    nominal = np.array([one.nominal for one in inputs])
    low, high = nominal - _FARTHEST * deviation, nominal + _FARTHEST * deviation
    low = np.where(nominal > 0, np.maximum(low, 0.01 * nominal), low)
    high = np.where(nominal < 0, np.minimum(high, 0.01 * nominal), high)
    share = np.array([one.unit == "%" and one.nominal <= 1 for one in inputs])
    return low, np.where(share, np.minimum(high, 1.0), high)


def _linear(
    predict: Callable[[Array], Array], at: Array, deviation: Array, low: Array, high: Array
) -> tuple[Array, Array]:
    """Readings (k,) and their derivatives (k, n) around `at`, all machines that this takes in one go."""
    n = len(at)
    ends = np.clip(np.stack([at - _STEP * deviation, at + _STEP * deviation]), low, high)
    rows = np.tile(at, (2 * n + 1, 1))
    rows[1 + np.arange(n), np.arange(n)] = ends[0]
    rows[1 + n + np.arange(n), np.arange(n)] = ends[1]
    found = predict(rows)
    width = ends[1] - ends[0]
    slopes = (found[1 + n :] - found[1 : n + 1]) / np.where(width > 0, width, 1.0)[:, None]
    # a machine that cannot be says nothing about the derivative there
    return found[0], np.nan_to_num(slopes).T


def _moved(
    inputs: Sequence[Input],
    half: Array,
    deviation: Array,
    after: Array,
    covariance: Array,
    jacobian: Array,
    points: Sequence[str],
    away: Array,
    noise: Array,
) -> tuple[Shifted, ...]:
    """The numbers that readings moved or made surer, those that moved most of their doubt first. away, noise (k,): how
    far each reading lay from its prediction, and its standard deviation."""
    left = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    parts = jacobian * deviation
    spread = np.sqrt(np.sum(parts**2, axis=1) + noise**2)
    # what a reading by itself says about each number: how much of its doubt comes from there, and how far off it was
    says = np.abs(parts / spread[:, None]) * (np.abs(away / spread) + _ANYHOW)[:, None]
    found = []
    for i, one in enumerate(inputs):
        shift = (after[i] - one.nominal) / deviation[i]
        if abs(shift) < _MOVED and left[i] > _SURER * deviation[i]:
            continue
        order = [int(k) for k in np.argsort(-says[:, i], kind="stable") if says[k, i] > _WORTH * np.max(says[:, i])]
        by = tuple(points[k] for k in order[:_NAMED])
        found.append((abs(shift), Shifted(one, float(after[i]), float(half[i]), float(left[i] * _EVEN), by)))
    return tuple(s for _, s in sorted(found, key=lambda pair: -pair[0]))
