"""Which input drives a result: shares of its variance, and what of a doubt would be left if one input were known.

Everything here is read from draws that were made anyway: the draws are sorted by one input into bins of equal chance,
and what differs from bin to bin goes with that input. Definitions: I. M. Sobol', Math. Comput. Simul. 55 (2001) 271;
estimate of the total share: M. J. W. Jansen, Comput. Phys. Commun. 117 (1999) 35 (both from memory; the same
definitions as in the documentation of scipy.stats.sobol_indices, seen). Tested on the Ishigami function.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dryfit.ground.quantity import Array

BINS = 32


@dataclass(frozen=True)
class Binned:
    """Results sorted by one input. means: (B, C) of C results in B bins of it.  counts: draws in each bin, (B,)."""

    means: Array
    counts: Array


def binned(unit: Array, results: Array, bins: int = BINS) -> Binned:
    """The results (n, C) by the bins of one input, given by its place in its range from 0 to 1, (n,). No bin is empty
    where n is a power of two of scrambled points and at least as large as the number of bins."""
    place = np.minimum((unit * bins).astype(np.intp), bins - 1)
    counts = np.bincount(place, minlength=bins).astype(float)
    # one count a column: a product of matrices would start threads for so little
    sums = [np.bincount(place, weights=column, minlength=bins) for column in results.T]
    return Binned(np.stack(sums, axis=-1) / np.maximum(counts, 1)[:, None], counts)


def first_order(by_bin: Binned, variance: Array) -> Array:
    """Share of the variance (C,) of the results that goes with the input alone, (C,): variance of the bins' means over
    the whole, less what bins of so few draws would differ by chance; so it may come out a little below nothing for an
    input that does nothing. 0 where no result varies."""
    n, used = np.sum(by_bin.counts), np.sum(by_bin.counts > 0)
    middle = by_bin.counts @ by_bin.means / n
    between = by_bin.counts @ (by_bin.means - middle) ** 2
    whole = variance * n
    within = np.maximum(whole - between, 0.0) / max(n - used, 1.0)
    explained = between - (used - 1) * within
    return np.where(whole > 0, explained / np.where(whole > 0, whole, 1.0), 0.0)


def total_share(results: Array, redrawn: Array) -> Array:
    """Share of the variance in which the input has a hand, alone or with others, (C,). results: (n, C); redrawn: of the
    same draws with nothing but this input drawn anew, (n, C)."""
    variance = np.var(np.concatenate((results, redrawn)), axis=0)
    moved = np.mean((results - redrawn) ** 2, axis=0) / 2
    return np.where(variance > 0, moved / np.where(variance > 0, variance, 1.0), 0.0)


def direction(by_bin: Binned) -> Array:
    """+1 where the results rise over the whole range of the input, -1 where they fall, 0 where they do both, (C,)."""
    steps = np.arange(len(by_bin.means), dtype=float)
    steps -= steps.mean()
    off = by_bin.means - by_bin.means.mean(axis=0)
    size = np.sqrt(np.sum(steps**2) * np.sum(off**2, axis=0))
    along = np.where(size > 0, (steps @ off) / np.where(size > 0, size, 1.0), 0.0)
    return np.where(np.abs(along) > 0.6, np.sign(along), 0.0)


def doubt_left(by_bin: Binned) -> Array:
    """Of yes-or-no results: mean of p (1 - p) over the bins, (C,), free of the error that comes of few draws a bin.

    p (1 - p) is the variance of an answer that is yes with the chance p: largest at a half, nothing when sure.
    """
    n = by_bin.counts[:, None]
    enough = n > 1
    each = by_bin.means * (1 - by_bin.means) * np.where(enough, n / np.maximum(n - 1, 1), 0.0)
    return np.asarray(np.sum(n * each, axis=0) / np.sum(np.where(enough, n, 0.0)))


def sure_run(by_bin: Binned, result: int, sure: float = 0.95, enough: int = 256) -> tuple[float, float]:
    """Where along the input, from 0 to 1, a yes (column `result`) is at least as likely as `sure`: ends of the longest
    such stretch; (0, 0) where there is none. Neighbouring bins are taken together until each has `enough` draws."""
    chances, counts = by_bin.means[:, result], by_bin.counts
    together = 1
    while together < len(chances) and np.sum(counts) / len(chances) * together < enough:
        together *= 2
    weights = counts.reshape(-1, together)
    merged = np.sum(chances.reshape(-1, together) * weights, axis=1) / np.maximum(np.sum(weights, axis=1), 1.0)
    good = np.concatenate(([0], (merged >= sure).astype(int), [0]))
    starts, ends = np.flatnonzero(np.diff(good) == 1), np.flatnonzero(np.diff(good) == -1)
    if not starts.size:
        return 0.0, 0.0
    longest = int(np.argmax(ends - starts))
    return float(starts[longest]) / len(merged), float(ends[longest]) / len(merged)
