"""The build book as a PDF. Every word goes to the page through a data file, so that none is ever read as markup."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from dryfit.views.book_blocks import (
    BenchCard,
    Beside,
    Blanks,
    Book,
    BookBlock,
    Cautions,
    Figure,
    Notes,
    PageBreak,
    Ticks,
)
from dryfit.views.drawing import Drawing
from dryfit.views.page import Command, Heading, Paragraph, Table

_LOOKS = Path(__file__).with_suffix(".typ")
_WIDTH, _HEIGHT = 168.0, 225.0
"""What a page has room for, mm."""
_PORTRAIT = 158.0
_LETTER, _GAP = 1.5, 2.8
"""About the width of a letter in a table, and what lies between two columns, mm."""
_ROOM = 34.0
"""A column that is broken into lines should have this much, mm; where it has not, the table is set smaller."""
_LONG = 44
"""Cells longer than this, in letters, are broken into lines."""
_WORD = 22
"""Words longer than this may be broken after a stop, a stroke or a bracket; twice as long anywhere."""
_EPOCH = 1735689600
"""Time that a book is stamped with, so that it repeats byte for byte: 1 January 2025."""


def write_book(book: Book, path: Path, draw: Callable[[Drawing], str]) -> None:
    """Write the book into a file, all or nothing. draw: a drawing as the text of an SVG file."""
    pages = book_bytes(book, draw)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(pages)
        # a file made for one's own eyes gets the rights that any new file gets
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(name, 0o666 & ~mask)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def book_bytes(book: Book, draw: Callable[[Drawing], str]) -> bytes:
    """The book as the bytes of a PDF file."""
    import typst

    pages = typst.compile(  # type: ignore[call-overload]  # its stubs leave out files by name
        book_files(book, draw),
        format="pdf",
        font_paths=[str(f) for f in _fonts()],
        ignore_system_fonts=True,
        timestamp=_EPOCH,
    )
    return bytes(pages)


def book_images(book: Book, draw: Callable[[Drawing], str], ppi: float = 70.0) -> list[bytes]:
    """The pages of the book as PNG images."""
    import typst

    pages = typst.compile(  # type: ignore[call-overload]
        book_files(book, draw),
        format="png",
        ppi=ppi,
        font_paths=[str(f) for f in _fonts()],
        ignore_system_fonts=True,
        timestamp=_EPOCH,
    )
    return [bytes(p) for p in pages] if isinstance(pages, list) else [bytes(pages)]


def book_files(book: Book, draw: Callable[[Drawing], str]) -> dict[str, bytes]:
    """What the page setter is given: how it looks, the words, the drawings."""
    files: dict[str, bytes] = {}

    def picture(d: Drawing, caption: str = "", room: float = _WIDTH) -> dict[str, Any]:
        name = f"drawing-{len(files)}.svg"
        files[name] = draw(d).encode()
        width = min(d.width, room, d.width * _HEIGHT / max(d.height, 1e-6))
        return {"kind": "figure", "file": name, "width": width, "alt": _plain(d.note or d.title),
                "caption": _words(caption)}  # fmt: skip

    t = book.title
    portrait = picture(t.picture)
    portrait["height"] = min(_PORTRAIT, t.picture.height, t.picture.height * _WIDTH / max(t.picture.width, 1e-6))
    data = {
        "name": _plain(book.name),
        "short": _plain(book.name if len(book.name) <= 36 else book.name[:35] + "…"),
        "foot": book.foot,
        "date": [book.today.year, book.today.month, book.today.day],
        "title": {
            "name": _words(t.name),
            "event": _words(t.event),
            "headline": _words(t.headline),
            "picture": portrait,
            "facts": [[_words(a), _words(b)] for a, b in t.facts],
        },
        "preface": [_block(b, picture) for b in book.preface],
        "chapters": [
            {
                "title": _words(c.title),
                "aside": _words(c.aside),
                "blocks": [_block(b, picture) for b in c.blocks],
            }
            for c in book.chapters
        ],
    }
    files["book.json"] = json.dumps(data, ensure_ascii=False).encode()
    files["main"] = _LOOKS.read_bytes()
    return files


def _block(b: BookBlock, picture: Callable[..., dict[str, Any]]) -> dict[str, Any]:  # noqa: PLR0911
    if isinstance(b, Heading):
        return {"kind": "heading", "text": _words(b.text)}
    if isinstance(b, Paragraph):
        return {"kind": "paragraph", "text": _words(b.text), "strong": b.strong, "faint": b.faint, "mark": b.mark}
    if isinstance(b, Table):
        return _table(b)
    if isinstance(b, Command):
        return {"kind": "command", "text": _plain(b.text), "shows": _words(b.shows)}
    if isinstance(b, Figure):
        return picture(b.drawing, b.caption)
    if isinstance(b, Beside):
        room = (_WIDTH - 2.0 * (len(b.figures) - 1)) / max(len(b.figures), 1)
        return {"kind": "beside", "figures": [picture(f.drawing, f.caption, room) for f in b.figures]}
    if isinstance(b, Ticks):
        return {"kind": "ticks", "lines": [_words(w) for w in b.lines]}
    if isinstance(b, Cautions):
        return {"kind": "cautions", "lines": [_words(w) for w in b.lines]}
    if isinstance(b, Blanks):
        return {"kind": "blanks", "names": [_words(w) for w in b.names]}
    if isinstance(b, BenchCard):
        return _card(b)
    if isinstance(b, Notes):
        return {"kind": "notes", "lines": [[_words(n), _words(w)] for n, w in b.lines]}
    assert isinstance(b, PageBreak)
    return {"kind": "break"}


def _card(b: BenchCard) -> dict[str, Any]:
    return {
        "kind": "card",
        **{key: _words(getattr(b, key)) for key in ("number", "title", "instrument", "stop")},
        "rows": [{k: _words(v) for k, v in vars(row).items()} for row in b.rows],
        "how": [_words(w) for w in b.how],
        "cautions": [_words(w) for w in b.cautions],
        "low": [[_words(a), _words(t)] for a, t in b.low],
        "high": [[_words(a), _words(t)] for a, t in b.high],
    }


def _table(t: Table) -> dict[str, Any]:
    columns = range(len(t.columns))
    cells = [[row[n] for row in t.rows] for n in columns]
    longest = [max([len(c.head), *(len(x) for x in cells[n])]) for n, c in enumerate(t.columns)]
    natural = [_LETTER * n + _GAP for n in longest]
    folds = [c.fold or longest[n] > _LONG for n, c in enumerate(t.columns)]
    if sum(natural) <= _WIDTH:
        folds = [False for _ in columns]
    # columns that keep their width must leave room for those that do not
    while _kept(natural, folds) > _WIDTH * 0.85 and not all(folds):
        folds[max((w, n) for n, w in enumerate(natural) if not folds[n])[1]] = True
    crowded = any(folds) and _WIDTH - _kept(natural, folds) < _ROOM * sum(folds)
    weights = [
        max(6.0, min(60.0, 0.2 * longest[n] + 0.8 * sum(len(x) for x in cells[n]) / max(len(cells[n]), 1)))
        for n in columns
    ]
    return {
        "kind": "table",
        "size": 6.6 if crowded else 7.6,
        "heads": [_words(c.head) for c in t.columns],
        "right": [c.right for c in t.columns],
        "columns": [weights[n] if folds[n] else 0 for n in columns],
        "cells": [_words(x) for row in t.rows for x in row],
    }


def _kept(natural: list[float], folds: list[bool]) -> float:
    """Width of the columns that are not broken into lines, mm."""
    return sum(w for w, f in zip(natural, folds, strict=True) if not f)


def _plain(text: str) -> str:
    """Text without characters that cannot be printed."""
    return "".join(c if c >= " " and c != "\x7f" else " " for c in text)


def _words(text: str) -> str:
    """Text whose long words may be broken: after stops, strokes and brackets, and the longest anywhere."""
    return " ".join(_breakable(w) if len(w) > _WORD else w for w in _plain(text).split(" "))


def _breakable(word: str) -> str:
    found, since = [], 0
    for c in word:
        found.append(c)
        since += 1
        if c in "._/-,;:]=" or since >= _WORD:
            found.append("\u200b")
            since = 0
    return "".join(found)


def _fonts() -> tuple[Path, ...]:
    """Folders of fonts that come with a library of ours: found, not loaded."""
    spec = find_spec("matplotlib")
    roots = spec.submodule_search_locations if spec is not None else None
    return tuple(Path(root) / "mpl-data" / "fonts" / "ttf" for root in roots or ())
