"""Solids as files: STL and 3MF from triangles, STEP from outlines. Always in millimetres."""

from __future__ import annotations

import struct
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Tree
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray

from dryfit.ground.errors import DryfitError
from dryfit.ground.quantity import Array

_MM = 1e3

# the namespaces are fixed by the specification
_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_MODEL = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
_RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
_CORNER = np.deg2rad(12.0)
"""A line of points that turns by more than this at one of them has a corner there: curves are drawn finer."""

_UNEVEN = 2.5
"""A spline swings where points lie this much farther apart on one side than on the other: it is cut there."""

_LONGEST = 20
"""Points on one spline."""

_XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
_STAMP = (1980, 1, 1, 0, 0, 0)
"""Date of the files inside a 3MF: the same every time, so that the same solid gives the same bytes."""


class NoCadError(DryfitError):
    """STEP files were asked for and the libraries that write them are not installed."""

    def __str__(self) -> str:
        return (
            "STEP files need the extra libraries of the cad set; in the folder of dryfit: "
            ".venv/bin/pip install -e '.[cad]'"
        )


@dataclass(frozen=True)
class Named:
    """A solid with its name: points (V, 3), m, and faces (F, 3), seen anticlockwise from outside."""

    name: str
    points: Array
    faces: NDArray[np.int64]


def write_stl(points: Array, faces: NDArray[np.int64], path: Path, name: str = "dryfit") -> None:
    """Write a solid as binary STL in millimetres. points: (V, 3), m; faces: (F, 3)."""
    corners = (np.asanyarray(points, dtype=float) * _MM).astype("<f4").astype(float)[np.asanyarray(faces)]
    # slivers whose corners fall together in the file's short numbers would be holes to a reader
    apart = [np.any(corners[:, i] != corners[:, j], axis=1) for i, j in ((0, 1), (1, 2), (2, 0))]
    corners = corners[np.all(apart, axis=0)]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    normal = normal / np.where(length > 0, length, 1.0)
    rows = np.zeros(len(corners), dtype=[("data", "<f4", (12,)), ("spare", "<u2")])
    rows["data"][:, :3] = normal
    rows["data"][:, 3:] = corners.reshape(-1, 9)
    # a binary file must not begin with "solid", by which a reader knows one of plain text
    head = f"{name}, lengths in mm".encode("ascii", "replace")[:80]
    head = b"part " + head[:75] if head.startswith(b"solid") else head
    path.write_bytes(head.ljust(80, b" ") + struct.pack("<I", len(corners)) + rows.tobytes())


def write_3mf(solids: Sequence[Named], path: Path) -> None:
    """Write named solids, each an object of its own where it stands, by the open 3MF core specification."""
    objects = "".join(_object(number, one) for number, one in enumerate(solids, start=1))
    items = "".join(f'<item objectid="{number + 1}"/>' for number in range(len(solids)))
    model = (
        f'{_XML}<model unit="millimeter" xml:lang="en" xmlns="{_CORE}">'
        f"<resources>{objects}</resources><build>{items}</build></model>"
    )
    relations = Tree.Element("Relationships", {"xmlns": _RELATIONS})
    Tree.SubElement(relations, "Relationship", {"Target": "/3D/3dmodel.model", "Id": "rel0", "Type": _MODEL})
    types = Tree.Element("Types", {"xmlns": _TYPES})
    for ending, kind in (
        ("rels", "application/vnd.openxmlformats-package.relationships+xml"),
        ("model", "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"),
    ):
        Tree.SubElement(types, "Default", {"Extension": ending, "ContentType": kind})
    with zipfile.ZipFile(path, "w") as package:
        parts = (("[Content_Types].xml", _text(types)), ("_rels/.rels", _text(relations)), ("3D/3dmodel.model", model))
        for name, text in parts:
            entry = zipfile.ZipInfo(name, _STAMP)
            entry.compress_type = zipfile.ZIP_DEFLATED
            package.writestr(entry, text)


def _object(number: int, one: Named) -> str:
    """One solid as an object. Of its many numbers the text is put together at once: a tree of them takes ten times as
    long."""
    name = "".join(c for c in one.name if c.isprintable())
    points = np.round(np.asanyarray(one.points, dtype=float) * _MM, 6) + 0.0
    vertices = "".join(f'<vertex x="{x:.6f}" y="{y:.6f}" z="{z:.6f}"/>' for x, y, z in points.tolist())
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in np.asanyarray(one.faces).tolist())
    return (
        f'<object id="{number}" type="model" name={quoteattr(name)}><mesh>'
        f"<vertices>{vertices}</vertices><triangles>{triangles}</triangles></mesh></object>"
    )


def _text(root: Tree.Element) -> str:
    return _XML + Tree.tostring(root, encoding="unicode")


def write_step(outer: Array, holes: Sequence[Array], height: float, path: Path) -> None:
    """Write an outline pulled up to a height as a STEP solid in millimetres. Where the points run smoothly the faces
    follow a spline through them; corners stay corners.

    outer, holes: closed curves (N, 2), m.  height: m. Raises NoCadError without the extra libraries.
    """
    try:
        import build123d as cad
    except ImportError:
        raise NoCadError from None

    def edge(points: Array) -> Any:
        at: list[Any] = [cad.Vector(float(x), float(y)) for x, y in points]
        return cad.Edge.make_line(*at) if len(at) == 2 else cad.Edge.make_spline(at)

    def wire(curve: Array) -> Any:
        return cad.Wire([edge(piece) for piece in smooth_pieces(np.asanyarray(curve, dtype=float) * _MM)])

    face = cad.Face(wire(outer), [wire(hole) for hole in holes])
    body = cad.Solid.extrude(face, cad.Vector(0, 0, height * _MM))
    cad.export_step(body, str(path), unit=cad.Unit.MM)


def smooth_pieces(curve: Array) -> list[Array]:
    """A closed curve (N, 2) cut at its corners and where its points change their distance; pieces share their ends."""
    step = np.roll(curve, -1, axis=0) - curve
    turn = np.arctan2(step[:, 1], step[:, 0]) - np.arctan2(*np.roll(step, 1, axis=0).T[::-1])
    turned = np.abs((turn + np.pi) % (2 * np.pi) - np.pi) > _CORNER
    length = np.hypot(*step.T)
    longer = length / np.roll(length, 1)
    corners = np.nonzero(turned | (np.maximum(longer, 1 / longer) > _UNEVEN))[0]
    if len(corners) == 0:
        corners = np.array([0])
    around = np.concatenate([curve[corners[0] :], curve[: corners[0] + 1]])
    cuts = [*(corners - corners[0]), len(curve)]
    return [p for begin, end in pairwise(cuts) for p in _short(around[begin : end + 1])]


def _short(piece: Array) -> list[Array]:
    """A piece cut into runs of at most `_LONGEST` points: volumes are integrated span by span, and long ones badly."""
    parts = max(1, -(-(len(piece) - 1) // _LONGEST))
    cuts = np.linspace(0, len(piece) - 1, parts + 1).round().astype(int)
    return [piece[begin : end + 1] for begin, end in pairwise(cuts)]
