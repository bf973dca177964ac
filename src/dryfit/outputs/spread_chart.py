"""Bands of margins as a drawing: one line a check, from the worst 5 % of the draws to the best 5 %."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

from dryfit.views.spread import Band

ENDINGS = (".svg", ".png")
MOST = 40
"""Bands in one drawing; the weakest come first."""

_WORDS = 44
"""Letters of a line beside a band."""

_INK, _BLUE, _RUST, _GREY, _PALE = "#20282e", "#17557f", "#a4491b", "#7d868c", "#e6eaec"
_STYLE: dict[str, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 8,
    "axes.edgecolor": _INK,
    "axes.labelcolor": _INK,
    "axes.linewidth": 0.6,
    "text.color": _INK,
    "xtick.color": _INK,
    "ytick.color": _INK,
    "svg.hashsalt": "dryfit",
    "svg.fonttype": "path",
}


def draw(path: Path, ending: str, title: str, bands: Sequence[Band]) -> None:
    """Draw the bands into a file; ending: ".svg" or ".png". The same bands give the same bytes.

    A thick line in rust and a hollow mark: held by fewer than 95 of 100; blue and a full mark: by more.
    """
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    some = list(bands[:MOST])[::-1]
    style: Any = dict(mpl.rcParamsDefault)
    style.update(_STYLE)
    with mpl.rc_context(style):
        figure = Figure(figsize=(8.6, 1.4 + 0.3 * max(len(some), 1)), layout="constrained")
        FigureCanvasAgg(figure)
        axes = figure.add_subplot()
        for y, band in enumerate(some):
            colour = _BLUE if band.enough else _RUST
            axes.plot(
                (100 * band.low, 100 * band.high), (y, y), color=colour, linewidth=4, alpha=0.4, solid_capstyle="butt"
            )
            axes.plot(
                100 * band.middle, y, "o", color=colour, markersize=4.5, fillstyle="full" if band.enough else "none"
            )
            axes.annotate(
                band.chance, (1.015, y), xycoords=("axes fraction", "data"), va="center", annotation_clip=False
            )
        axes.annotate(
            "holds in",
            (1.015, len(some)),
            xycoords=("axes fraction", "data"),
            va="center",
            color=_GREY,
            annotation_clip=False,
        )
        axes.axvline(0, color=_INK, linewidth=0.8)
        axes.set_yticks(range(len(some)), [fill(band.title, _WORDS) for band in some])
        axes.set_ylim(-0.7, max(len(some), 1) - 0.3)
        axes.set_xlabel("margin, %  (left of the line something is missing)")
        figure.suptitle(
            f"{title}: margins, from the worst 5 % of the draws to the best 5 %", x=0.01, ha="left", fontsize=9
        )
        axes.grid(axis="x", color=_PALE, linewidth=0.6)
        axes.set_axisbelow(True)
        axes.tick_params(length=0)
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
        metadata: dict[str, Any] = {"Date": None} if ending == ".svg" else {"Software": None}
        figure.savefig(path, format=ending.removeprefix("."), dpi=150, metadata=metadata)
