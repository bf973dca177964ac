"""Drawings as SVG, true to scale in millimetres; a file repeats byte for byte."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as Tree

from dryfit.views.drawing import Area, Circle, Drawing, Line, Point, Words

TONES = {
    "ink": "#20282e", "grey": "#7d868c", "pale": "#e6eaec", "paper": "#ffffff", "blue": "#17557f", "rust": "#a4491b",
    "sand": "#ead9b4", "moss": "#c4d6bd", "sky": "#c5dcec",
}  # fmt: skip
FONT = "DejaVu Sans"
_HATCH = 1.6
"""Distance of hatching lines, mm."""


def svg(drawing: Drawing) -> str:
    """The drawing as the text of an SVG file."""
    width, height = _mm(drawing.width), _mm(drawing.height)
    box = {"width": f"{width}mm", "height": f"{height}mm", "viewBox": f"0 0 {width} {height}"}
    root = Tree.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", **box})
    Tree.SubElement(root, "title").text = drawing.title
    if drawing.note:
        Tree.SubElement(root, "desc").text = drawing.note
    if any(isinstance(mark, Area) and mark.hatched for mark in drawing.marks):
        _hatching(root)
    Tree.SubElement(root, "rect", {"width": width, "height": height, "fill": TONES["paper"]})
    for mark in drawing.marks:
        if isinstance(mark, Line):
            _line(root, mark, drawing.height)
        elif isinstance(mark, Area):
            _area(root, mark, drawing.height)
        elif isinstance(mark, Circle):
            _circle(root, mark, drawing.height)
        else:
            _words(root, mark, drawing.height)
    Tree.indent(root)
    return Tree.tostring(root, encoding="unicode") + "\n"


def write_svg(drawing: Drawing, path: Path) -> None:
    """Write the drawing into a file."""
    path.write_text(svg(drawing), encoding="utf-8")


def _line(root: Tree.Element, line: Line, height: float) -> None:
    drawn = {"d": _way(line.points, height, line.closed), "fill": "none", **_stroke(line.tone, line.weight)}
    if line.dash:
        drawn["stroke-dasharray"] = " ".join(_mm(d) for d in line.dash)
    Tree.SubElement(root, "path", drawn)


def _area(root: Tree.Element, area: Area, height: float) -> None:
    way = " ".join(_way(curve, height, True) for curve in (area.outer, *area.holes))
    edge = _stroke("ink", area.edge) if area.edge else {}
    Tree.SubElement(root, "path", {"d": way, "fill": TONES[area.tone], "fill-rule": "evenodd", **edge})
    if area.hatched:
        Tree.SubElement(root, "path", {"d": way, "fill": "url(#hatching)", "fill-rule": "evenodd"})


def _circle(root: Tree.Element, circle: Circle, height: float) -> None:
    at = {"cx": _mm(circle.at[0]), "cy": _mm(height - circle.at[1]), "r": _mm(circle.radius)}
    edge = _stroke("ink", circle.weight) if circle.weight else {}
    Tree.SubElement(root, "circle", {**at, "fill": TONES[circle.tone] if circle.tone else "none", **edge})


def _words(root: Tree.Element, words: Words, height: float) -> None:
    x, y = _mm(words.at[0]), _mm(height - words.at[1])
    look = {"x": x, "y": y, "font-family": FONT, "font-size": _mm(words.size), "fill": TONES[words.tone]}
    if words.anchor != "start":
        look["text-anchor"] = words.anchor
    if words.strong:
        look["font-weight"] = "bold"
    if words.turned:
        look["transform"] = f"rotate({_mm(-words.turned)} {x} {y})"
    Tree.SubElement(root, "text", look).text = words.text


def _hatching(root: Tree.Element) -> None:
    size = {"width": _mm(_HATCH), "height": _mm(_HATCH), "patternUnits": "userSpaceOnUse"}
    pattern = Tree.SubElement(
        Tree.SubElement(root, "defs"), "pattern", {"id": "hatching", **size, "patternTransform": "rotate(45)"}
    )
    Tree.SubElement(pattern, "path", {"d": f"M0 0V{_mm(_HATCH)}", **_stroke("grey", 0.3)})


def _stroke(tone: str, weight: float) -> dict[str, str]:
    return {"stroke": TONES[tone], "stroke-width": _mm(weight), "stroke-linejoin": "round", "stroke-linecap": "round"}


def _way(points: tuple[Point, ...], height: float, closed: bool) -> str:
    steps = [f"{'L' if n else 'M'}{_mm(x)} {_mm(height - y)}" for n, (x, y) in enumerate(points)]
    return "".join(steps) + ("Z" if closed else "")


def _mm(value: float) -> str:
    """A length with a thousandth of a millimetre, no zeros behind."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
