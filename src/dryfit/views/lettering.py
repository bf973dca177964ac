"""How wide letters run in the typeface of the drawings, and lines broken or shrunk to fit."""

from __future__ import annotations

_WIDE = "mMW@%—→←…"
_BROAD = "w+×=±~<>²"
_NARROW = "iljtfrI.,:;'|!()[] -/·"


def width(text: str, size: float, strong: bool = False) -> float:
    """Width of a line of text, mm, for letters of a size in mm; a little more than it really is."""
    ems = sum(
        1.0 if c in _WIDE else 0.41 if c in _NARROW else 0.77 if c.isupper() else 0.84 if c in _BROAD else 0.637
        for c in text
    )
    return ems * size * (1.12 if strong else 1.0)


def fitted(text: str, size: float, most: float, strong: bool = False, least: float = 1.8) -> tuple[str, float]:
    """The text and a size at which it is no wider than `most`, mm; below `least` it is cut with dots."""
    wide = width(text, size, strong)
    if wide <= most:
        return text, size
    smaller = max(least, size * most / wide)
    while len(text) > 1 and width(text, smaller, strong) > most * 1.0001:
        text = text[:-2].rstrip() + "…"
    return text, smaller


def lines(text: str, size: float, most: float, strong: bool = False) -> list[str]:
    """The text in lines no wider than `most`, mm; a single word that is wider stands alone."""
    out: list[str] = []
    for word in text.split():
        longer = f"{out[-1]} {word}" if out else word
        if out and width(longer, size, strong) <= most:
            out[-1] = longer
        else:
            out.append(word)
    return out or [""]
