"""Charts as SVG and PNG: thin lines, words beside them, units on every axis; a file repeats byte for byte.

Colour is never the only carrier: lines differ in stroke, points in shape, maps have labelled lines.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.views.panels import BarPanel, Chart, FrontPanel, Limit, LinePanel, MapPanel, Panel, is_somewhere
from dryfit.views.spread import Band

ENDINGS = (".svg", ".png")
_INK, _BLUE, _RUST, _GREY, _PALE = "#20282e", "#17557f", "#a4491b", "#7d868c", "#e6eaec"
_WIDTH, _HEIGHT, _TOP = 3.9, 2.9, 0.55
_MARKED = 30
"""Up to so many values every one of them gets a mark."""

MOST_BANDS = 40
"""Bands in one drawing; the weakest come first."""

_LETTERS = 44
"""Letters of a line beside a band."""

_STYLE: dict[str, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 8,
    "axes.edgecolor": _INK,
    "axes.labelcolor": _INK,
    "axes.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.unicode_minus": True,
    "text.color": _INK,
    "xtick.color": _INK,
    "ytick.color": _INK,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "xtick.major.size": 3,
    "ytick.major.size": 3,
    "hatch.linewidth": 0.4,
    "svg.hashsalt": "dryfit",
    "svg.fonttype": "path",
}


def draw_chart(chart: Chart, path: Path, ending: str) -> None:
    """Draw the panels of a chart into a file; ending: ".svg" or ".png"."""
    count = max(1, len(chart.panels))
    across = min(count, 2 if count in (2, 4) else 3)
    down = math.ceil(count / across)
    width, height = max(across * _WIDTH, 5.2), down * _HEIGHT + _TOP
    with _figure(path, ending, width, height) as figure:
        engine = figure.get_layout_engine()
        if engine is not None:
            engine.set(rect=(0, 0, 1, 1 - _TOP / height), w_pad=0.12, h_pad=0.1)
        figure.text(0.12 / width, 1 - 0.12 / height, chart.title, va="top", size=11, weight="bold")
        figure.text(0.12 / width, 1 - 0.34 / height, chart.note, va="top", color=_GREY)
        for place, panel in enumerate(chart.panels, start=1):
            _draw(figure.add_subplot(down, across, place), panel)


def draw_bands(title: str, bands: Sequence[Band], path: Path, ending: str) -> None:
    """Draw bands of margins into a file: one line a check, from the worst 5 % of the draws to the best 5 %.

    A band in rust with a hollow mark: held by fewer than 95 of 100; in blue with a full mark: by more.
    """
    some = list(bands[:MOST_BANDS])[::-1]
    with _figure(path, ending, 8.6, 1.4 + 0.3 * max(len(some), 1)) as figure:
        axes = figure.add_subplot()
        beside: Any = {"xycoords": ("axes fraction", "data"), "va": "center", "annotation_clip": False}
        for y, band in enumerate(some):
            colour, mark = (_BLUE, "full") if band.enough else (_RUST, "none")
            ends = (100 * band.low, 100 * band.high)
            axes.plot(ends, (y, y), color=colour, linewidth=4, alpha=0.4, solid_capstyle="butt")
            axes.plot(100 * band.middle, y, "o", color=colour, markersize=4.5, fillstyle=mark)
            axes.annotate(band.chance, (1.015, y), **beside)
        axes.annotate("holds in", (1.015, len(some)), color=_GREY, **beside)
        axes.axvline(0, color=_INK, linewidth=0.8)
        axes.set_yticks(range(len(some)), [fill(band.title, _LETTERS) for band in some])
        axes.set_ylim(-0.7, max(len(some), 1) - 0.3)
        axes.set_xlabel("margin, %  (left of the line something is missing)")
        words = f"{title}: margins, from the worst 5 % of the draws to the best 5 %"
        figure.suptitle(words, x=0.01, ha="left", fontsize=9)
        axes.grid(axis="x", color=_PALE, linewidth=0.6)
        axes.set_axisbelow(True)
        axes.tick_params(length=0)
        axes.spines["left"].set_visible(False)


@contextmanager
def _figure(path: Path, ending: str, width: float, height: float) -> Iterator[Any]:
    """An empty figure in our style, of a size in inches; written into the file at the end."""
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    style: Any = dict(mpl.rcParamsDefault)
    style.update(_STYLE)
    with mpl.rc_context(style):
        figure = Figure(figsize=(width, height), layout="constrained")
        FigureCanvasAgg(figure)
        yield figure
        metadata: Any = {"Date": None, "Creator": "dryfit"} if ending == ".svg" else {"Software": "dryfit"}
        figure.savefig(path, format=ending[1:], dpi=160, metadata=metadata)


def _draw(axes: Any, panel: Panel) -> None:
    axes.set_xlabel(panel.x_name)
    axes.set_ylabel(panel.y_name)
    if isinstance(panel, LinePanel):
        _lines(axes, panel)
    elif isinstance(panel, BarPanel):
        _bars(axes, panel)
    elif isinstance(panel, MapPanel):
        _map(axes, panel)
    else:
        _front(axes, panel)


def _lines(axes: Any, p: LinePanel) -> None:
    known = np.isfinite(p.best)
    if not known.any():
        _empty(axes)
        return
    mark = {"marker": "o", "markersize": 2.6} if len(p.x) <= _MARKED else {}
    if np.ptp(p.share) > 0:
        # the part kept lies along the bottom, an eighth of the height where it is largest
        most = float(np.max(p.share))
        axes.fill_between(
            p.x, 0, p.share / most / 8, transform=axes.get_xaxis_transform(), color=_PALE, linewidth=0, zorder=0
        )
        axes.text(
            0.995, 0.01, f"part kept, at most {100 * most:.3g} %", transform=axes.transAxes, ha="right", va="bottom",
            color=_GREY, size=6.5,
        )  # fmt: skip
    axes.plot(p.x, p.best, color=_BLUE, linewidth=1.2, **mark)
    middle = np.isfinite(p.median)
    if p.spread and middle.any() and not np.array_equal(p.best[middle], p.median[middle]):
        axes.plot(p.x, p.median, color=_GREY, linewidth=0.9, linestyle=(0, (4, 2)))
        above = p.median[middle][-1] > p.best[known][-1]
        _beside(axes, p.x[middle][-1], p.median[middle][-1], "median", _GREY, 4 if above else -4)
        _beside(axes, p.x[known][-1], p.best[known][-1], p.best_words, _BLUE, -4 if above else 4)
    elif p.spread:
        _beside(axes, p.x[known][-1], p.best[known][-1], p.best_words, _BLUE, 0)
    _limits(axes, p.limits)
    _design(axes, p.design)
    axes.margins(x=0.03, y=0.12)


def _beside(axes: Any, x: float, y: float, words: str, colour: str, lift: float) -> None:
    """A word to the right of where a line ends, a little higher or lower, so that two of them stay apart."""
    axes.annotate(words, (x, y), xytext=(5, lift), textcoords="offset points", va="center", color=colour, size=7)


def _limits(axes: Any, limits: tuple[Limit, ...], upright: bool = False) -> None:
    for limit in limits:
        line = axes.axvline if upright else axes.axhline
        line(limit.value, color=_RUST, linewidth=0.8, linestyle=(0, (1, 1.5)))
        where = (limit.value, 0.99) if upright else (0.01, limit.value)
        transform = axes.get_xaxis_transform() if upright else axes.get_yaxis_transform()
        words = "at least, as asked" if limit.above else "at most, as asked"
        axes.text(
            *where, f" {words}", transform=transform, color=_RUST, size=6.5,
            ha="left", va="top" if upright else "bottom",
        )  # fmt: skip


def _design(axes: Any, point: tuple[float, float]) -> None:
    from matplotlib import patheffects

    if not is_somewhere(point):
        return
    axes.plot(*point, marker="D", markersize=5, markerfacecolor="white", markeredgecolor=_INK, linestyle="", zorder=5)
    halo = [patheffects.withStroke(linewidth=2, foreground="white")]
    axes.annotate(
        "design", point, xytext=(5, -3), textcoords="offset points", va="top", size=7, zorder=5, path_effects=halo
    )


def _bars(axes: Any, p: BarPanel) -> None:
    """Lying bars, so that names stay readable; the middle one as a tick across."""
    places = np.arange(len(p.names))[::-1]
    known = np.isfinite(p.best)
    axes.set_xlabel(p.y_name)
    axes.set_ylabel("")
    axes.barh(places[known], p.best[known], height=0.55, color=_PALE, edgecolor=_BLUE, linewidth=0.8)
    told = p.spread and bool(np.isfinite(p.median).any())
    if told:
        axes.plot(p.median[known], places[known], marker="|", markersize=9, color=_INK, linestyle="")
    axes.set_yticks(places, p.names, size=6.5 if len(p.names) > 8 else 7.5)
    axes.set_ylim(-0.7, len(p.names) - 0.3)
    for place in places[~known]:
        axes.text(0.01, place, "none is kept", transform=axes.get_yaxis_transform(), color=_GREY, size=6.5, va="center")
    words = f"bar: {p.best_words}" + ("; tick: median" if told else "")
    axes.set_title(words, size=7, color=_GREY, loc="left")
    _limits(axes, p.limits, upright=True)


def _map(axes: Any, p: MapPanel) -> None:
    from matplotlib.colors import LinearSegmentedColormap

    if not np.isfinite(p.z).any():
        _empty(axes)
        return
    shades = LinearSegmentedColormap.from_list("shades", ["#f6f4ee", "#9fb9c6", "#17557f"])
    z = np.ma.masked_invalid(p.z.T)
    axes.set_facecolor("white")
    axes.patch.set_hatch("////")
    axes.patch.set_edgecolor(_PALE)
    axes.pcolormesh(p.x, p.y, z, cmap=shades, shading="nearest", rasterized=True)
    if min(p.z.shape) > 1 and np.ptp(z.compressed()) > 0:
        lines = axes.contour(p.x, p.y, z, levels=6, colors=_INK, linewidths=0.6)
        axes.clabel(lines, fontsize=6.5, fmt="%.4g")
    words = f"{p.z_name}; hatched: none is kept" if np.isnan(p.z).any() else p.z_name
    axes.set_title(words, size=7.5, loc="left")
    _design(axes, p.design)


_FEW_POINTS = 300


def _front(axes: Any, p: FrontPanel) -> None:
    if not len(p.front):
        _empty(axes)
        return
    left, kept = _points(p.cloud[~p.kept]), _points(p.cloud[p.kept])
    size, width = (4, 0.7) if len(left[0]) < _FEW_POINTS else (2, 0.3)
    axes.plot(
        *left, marker="x", markersize=size, markeredgewidth=width, color=_GREY, alpha=0.5, linestyle="", rasterized=True
    )
    axes.plot(*kept, marker="o", markersize=2, markeredgewidth=0, color="#9fb9c6", linestyle="", rasterized=True)
    marks = {"marker": "o", "markersize": 3} if len(p.front) <= _MARKED else {"marker": ".", "markersize": 1.5}
    axes.plot(*_points(p.front), color=_BLUE, linewidth=1.0, **marks)
    words = f"line: {p.wanted}"
    axes.set_title(words + ("; crosses: not kept" if len(left[0]) else ""), size=6.5, color=_GREY, loc="left")
    _design(axes, p.design)


def _points(points: Array) -> tuple[Array, Array]:
    good = points[np.isfinite(points).all(axis=1)]
    return good[:, 0], good[:, 1]


def _empty(axes: Any) -> None:
    axes.text(0.5, 0.5, "no machine is kept", transform=axes.transAxes, ha="center", color=_GREY)
    axes.set_xticks([])
    axes.set_yticks([])
