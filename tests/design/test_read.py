# ruff: noqa: E501 (messages are asserted whole, one a line)
"""Bad design files: each fault with its line, key, what was read, what is accepted; all of them in one pass."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Literal, get_origin

import pytest
from pydantic import Field, PlainValidator, model_validator
from pydantic_core import PydanticCustomError

from dryfit.design import fields as f
from dryfit.design.read import read_design, read_record, read_text
from dryfit.design.records import Design
from dryfit.design.shapes import Shape, of_field
from dryfit.design.tree import MOST_NODES, read_tree
from dryfit.ground.errors import DesignError, Fault
from dryfit.ground.quantity import Kind

LENGTHS = "a number with one of the units m, cm, mm, um, in, such as 203 mm"
ANGLES = "a number with one of the units deg, rad, such as 3 deg"


def _even(typed: object) -> f.Word:
    raise PydanticCustomError("even", "{m}", {"m": f"{typed} is odd; accepted: even words"})


class Box(f.Record):
    """A made-up record: a box."""

    shape: Literal["box"]
    size: list[f.PositiveLength] = Field(min_length=3, max_length=3)
    mass: f.Mass | None = None


class Tube(f.Record):
    """A made-up record: a tube."""

    shape: Literal["tube"]
    length: f.PositiveLength
    wall: f.PositiveLength | None = None


class Ring(f.Record):
    """A made-up record: a pattern on a ring."""

    circle: f.PositiveLength
    count: f.Count

    @model_validator(mode="after")
    def _some(self) -> Ring:
        if self.count.si == 0:
            raise ValueError("a ring of nothing")
        return self


class Grid(f.Record):
    """A made-up record: a pattern on a grid."""

    rows: f.Count
    columns: f.Count


class Plant(f.Record):
    """A made-up root with every sort of field."""

    name: f.Text | None = None
    kind: f.choice("omni", "tyre", "caster") | None = None  # type: ignore[valid-type]
    lit: f.Flag | None = None
    parts: list[Annotated[Box | Tube, Field(discriminator="shape")]] | None = None
    loose: Box | Tube | None = None
    pattern: Ring | Grid | None = None
    place: f.Length | Ring | None = None
    several: Annotated[list[f.Length], f.one_or_many()] | None = None
    poses: dict[str, dict[str, f.Angle]] | None = None
    pair: tuple[f.Length, f.Length] | None = None
    base: Ring | None = None
    parity: Annotated[f.Word | tuple[int, ...], PlainValidator(_even)] | None = None


def faults(text: str, model: type[f.Record] = Plant) -> list[str]:
    """The faults of a text as a user reads them."""
    with pytest.raises(DesignError) as wrong:
        read_record(text, model, "d.yaml")
    assert all(isinstance(fault, Fault) for fault in wrong.value.faults)
    return [str(fault) for fault in wrong.value.faults]


def test_a_sound_file_keeps_texts_lines_and_paths() -> None:
    design = read_text("# a machine\nname: no\nbrief:\n  slope: 3.0 deg ± 1 deg  # measured\n  days: '3'\n")
    assert design.name == "no"
    assert design.name.origin.line == 2
    slope = design.brief.slope
    assert slope is not None
    assert (slope.origin.kind, slope.origin.path, slope.origin.line) == (Kind.DESIGN, "brief.slope", 4)
    assert slope.origin.text == "3.0 deg ± 1 deg"
    assert slope.spread is not None
    assert slope.spread.fraction == pytest.approx(1 / 3)
    assert design.brief.days is not None
    assert design.brief.days.si == 3


def test_half_a_file_runs() -> None:
    assert read_text("name: x\n").brief.slope is None
    assert read_text("brief:\nworkshop:\n").brief.slope is None
    assert read_text("workshop: {}\n").workshop.nozzle is None


def test_every_fault_comes_in_one_pass() -> None:
    text = """name: &n Sunbloom
brief:
  slope: 3
  speed: 0,5 m/s
  acceleration: 0.4 m/s
  turn_rate: 5 Hz
  slop: 3 deg
  days: 2.5
  friction: nan
  push: 1e400 N
  step: .inf
  children_present: maybe
  floor: [stone, wood]
  show_length:
  ambient: 25
  slope: 4 deg
workshop: thin
Brief: {}
"""
    assert faults(text, type(read_text("name: x"))) == [
        "d.yaml:1: name: names for references (&name) are not read; leave it out; read '&n'",
        f"d.yaml:3: brief.slope: an angle needs its unit; read '3'; accepted: {ANGLES}",
        "d.yaml:4: brief.speed: decimals take a point, and thousands stand without a comma; read '0,5 m/s'; "
        "accepted: a number with one of the units m/s, mm/s, km/h, such as 0.5 m/s",
        "d.yaml:5: brief.acceleration: 'm/s' is not a unit of an acceleration; did you mean m/s2?; read '0.4 m/s'; "
        "accepted: a number with the unit m/s2, such as 0.4 m/s2",
        "d.yaml:6: brief.turn_rate: 'Hz' is not a unit of a turn rate; read '5 Hz'; "
        "accepted: a number with one of the units rpm, deg/s, rad/s, such as 300 rpm",
        "d.yaml:7: brief.slop: unknown key; did you mean slope?",
        "d.yaml:8: brief.days: not a whole number; read '2.5'; accepted: a whole number such as 3",
        "d.yaml:9: brief.friction: not a finite number; read 'nan'; accepted: a plain number such as 0.62",
        "d.yaml:10: brief.push: not a finite number; read '1e400 N'; "
        "accepted: a number with one of the units N, kN, kgf, such as 50 N",
        f"d.yaml:11: brief.step: not a finite number; read '.inf'; accepted: {LENGTHS}",
        "d.yaml:12: brief.children_present: neither yes nor no; read 'maybe'; accepted: yes, no",
        "d.yaml:13: brief.floor: a word or a short text belongs here; read 'a list'",
        "d.yaml:14: brief.show_length: nothing is written behind this key; "
        "accepted: a number with one of the units s, ms, us, min, h, days, such as 20 min",
        "d.yaml:15: brief.ambient: a temperature needs its unit; read '25'; "
        "accepted: a number with one of the units degC, K, such as 25 degC",
        "d.yaml:16: brief.slope: this key stands twice in one group; it is first written in line 3",
        "d.yaml:17: workshop: not the sort of entry that belongs here; read 'thin'; accepted: a group of keys: "
        "nozzle, line_width, layer_height, hole_offset, outside_offset, print_tolerance, …",
        "d.yaml:18: Brief: unknown key; did you mean brief?",
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "d.yaml: the file holds no design; see the examples for a start"),
        ("# only a remark\n", "d.yaml: the file holds no design; see the examples for a start"),
        ("---\n", "d.yaml: the file holds no design; see the examples for a start"),
        (
            "- a\n",
            "d.yaml:1: a list stands where the sections of a design belong; accepted: `key: value` lines",
        ),
        (
            "hello\n",
            "d.yaml:1: one text stands where the sections of a design belong; accepted: `key: value` lines",
        ),
        ("name: a\n---\nname: b\n", "d.yaml:2: a second document begins here (---); a design is one document"),
        ("%YAML 1.1\n---\nname: a\n", "d.yaml:1: lines that begin with % are not read; leave them out"),
        ("base:\n\tcount: 3\n", "d.yaml:2: a tab stands here; indent with spaces"),
        ("name: 'a\nkind: omni\n", "d.yaml:1: a quote is opened here and never closed"),
        ("several: [1 mm,\nname: a\n", "d.yaml:1: a bracket is opened here and never closed, or a comma is missing inside it"),
        ("name: a: b\n", "d.yaml:1: a colon too many; check the indent here and above, or quote a text with a colon"),
        ("name: a\n  kind: omni\n", "d.yaml:2: a colon too many; check the indent here and above, or quote a text with a colon"),
        ("base:\n   count: 3\n  circle: 1 m\n", "d.yaml:3: the indent does not match the lines above"),
        ("name: a\nkind\nlit: yes\n", "d.yaml:2: a line without a colon: write `key: value`"),
        ("name: @x\n", "d.yaml:1: a text that begins with this character must stand in quotes"),
        ('name: "\\q"\n', "d.yaml:1: a backslash in double quotes has a meaning of its own; use single quotes"),
        ("name: \x07\n", "d.yaml:1: a character that does not belong in a text file (U+0007)"),
        ("? [a]\n: 2\n", "d.yaml:1: a key must be one plain word, not a list, a group or a reference"),
        ("? {a: 1}\n: 2\n", "d.yaml:1: a key must be one plain word, not a list, a group or a reference"),
        (": 2\n", "d.yaml:1: a key is missing before this colon"),
        ("a.b: 2\n", "d.yaml:1: a key is one plain word without points and brackets; read 'a.b'"),
        ("<<: {name: a}\n", "d.yaml:1: merging (<<) is not read; write the keys out; read '<<'"),
        ("name: ''\n", "d.yaml:1: name: an empty text; write a word, or leave the key out"),
        ("name:\n", "d.yaml:1: name: nothing is written behind this key; accepted: a word or a short text"),
        ("kind: omny\n", "d.yaml:1: kind: not one of the accepted words; did you mean omni?; read 'omny'; accepted: omni, tyre, caster"),
        ("lit: 1\n", "d.yaml:1: lit: neither yes nor no; read '1'; accepted: yes, no"),
        ("nam: a\n", "d.yaml:1: nam: unknown key; did you mean name?"),
        ("parity: x\n", "d.yaml:1: parity: x is odd; read 'x'; accepted: even words"),
        ("count: 3\n", "d.yaml:1: count: unknown key; it belongs in pattern or place or base"),
        ("rows: 3\n", "d.yaml:1: rows: unknown key; it belongs in pattern"),
        ("circle: 3 mm\n", "d.yaml:1: circle: unknown key; it belongs in pattern or place or base"),
        ("base: {circle: 1 m, count: 1, lit: yes}\n", "d.yaml:1: base.lit: unknown key; it belongs in the top"),
        ("base: {circle: 1 m, count: 1, zzz: yes}\n", "d.yaml:1: base.zzz: unknown key; there are: circle, count"),
        ("several: [1 mm, 2]\n", f"d.yaml:1: several[1]: a length needs its unit; read '2'; accepted: {LENGTHS}"),
        ("several: 2\n", f"d.yaml:1: several: a length needs its unit; read '2'; accepted: {LENGTHS}"),
        ("several:\n  - 1 mm\n  -\n", f"d.yaml:3: several[1]: nothing is written here; accepted: {LENGTHS}"),
        ("pair: [1 mm]\n", f"d.yaml:1: pair[1]: this key is missing; accepted: {LENGTHS}"),
        ("poses: {up: {hip: 3}}\n", f"d.yaml:1: poses.up.hip: an angle needs its unit; read '3'; accepted: {ANGLES}"),
        ("poses: {up: 3 deg}\n", "d.yaml:1: poses.up: not the sort of entry that belongs here; read '3 deg'; accepted: a group of keys"),
        ("parts: {shape: box}\n", "d.yaml:1: parts: not the sort of entry that belongs here; read 'a group of the keys shape'; accepted: a list, one entry a line, each after a dash"),
        ("parts:\n  - shape: bux\n", "d.yaml:2: parts[0].shape: not one of the accepted words; did you mean box?; read 'bux'; accepted: box, tube"),
        ("parts:\n  - size: 3\n", "d.yaml:2: parts[0].shape: this key is missing; accepted: box, tube"),
        ("parts:\n  - box\n", "d.yaml:2: parts[0]: not the sort of entry that belongs here; read 'box'; accepted: a group of keys: shape, size, mass or a group of keys: shape, length, wall"),
        ("parts:\n  - shape: [box]\n", "d.yaml:2: parts[0].shape: a word belongs here; read 'a list'; accepted: box, tube"),
        ("parts:\n  - shape: tube\n    lenght: 3 mm\n    length: 1 m\n", "d.yaml:3: parts[0].lenght: unknown key; did you mean length?"),
        ("parts:\n  - shape: tube\n", f"d.yaml:2: parts[0].length: this key is missing; accepted: {LENGTHS}"),
        ("parts:\n  - {shape: box, size: [1 mm, 2 mm]}\n", "d.yaml:2: parts[0].size: 2 entries stand here; read 'a list'; accepted: at least 3 entries"),
        ("loose: {shape: tube, length: 3}\n", f"d.yaml:1: loose.length: a length needs its unit; read '3'; accepted: {LENGTHS}"),
        ("loose: {shape: tub, length: 3 mm}\n", "d.yaml:1: loose.shape: not one of the accepted words; did you mean tube?; read 'tub'; accepted: tube"),
        ("pattern: {circle: 3 mm, coutn: 3, count: 1}\n", "d.yaml:1: pattern.coutn: unknown key; did you mean count?"),
        ("pattern: {rows: 3}\n", "d.yaml:1: pattern.columns: this key is missing; accepted: a whole number such as 3"),
        ("pattern: {circle: 1 m, count: 0}\n", "d.yaml:1: pattern: a ring of nothing; read 'a group of the keys circle, count'; accepted: a group of keys: circle, count"),
        ("base: {circle: 1 m, count: 0}\n", "d.yaml:1: base: a ring of nothing; read 'a group of the keys circle, count'; accepted: a group of keys: circle, count"),
        ("place: 3\n", f"d.yaml:1: place: a length needs its unit; read '3'; accepted: {LENGTHS}"),
        ("place: {circle: 3 mm}\n", "d.yaml:1: place.count: this key is missing; accepted: a whole number such as 3"),
        ("base:\n  count: 3\n", f"d.yaml:1: base.circle: this key is missing; accepted: {LENGTHS}"),
        ("base: 3\n", "d.yaml:1: base: not the sort of entry that belongs here; read '3'; accepted: a group of keys: circle, count"),
        ("base:\n  circle: {x: 1}\n  count: 1\n", f"d.yaml:2: base.circle: one value belongs here; read 'a group of the keys x'; accepted: {LENGTHS}"),
    ],
)  # fmt: skip
def test_one_fault(text: str, expected: str) -> None:
    assert faults(text) == [expected]


def test_a_misplaced_key_is_sent_home() -> None:
    assert faults("base: {circle: 1 m, count: 1, column: 2}\n") == [
        "d.yaml:1: base.column: unknown key; did you mean count?"
    ]
    assert faults("pairs: [1 mm, 2 mm]\n") == ["d.yaml:1: pairs: unknown key; did you mean pair or parts?"]
    assert faults("shims: [1 mm]\ndoor_width: 1 m\n", Design) == [
        "d.yaml:1: shims: unknown key; it belongs in workshop",
        "d.yaml:2: door_width: unknown key; it belongs in brief",
    ]


def test_a_union_names_one_alternative_only() -> None:
    assert len(faults("loose: {shape: box, siz: 3, size: [1 mm, 2 mm, 3 mm]}\n")) == 1
    assert len(faults("pattern: 3\n")) == 1


@pytest.mark.parametrize(
    "tag", ["!!python/object/apply:os.system [ls]", "!!float 3", "!include x.yaml", "!<x> y", "! z"]
)
def test_type_marks_are_refused_and_run_nothing(tag: str) -> None:
    (message,) = faults(f"name: {tag}\n")
    assert message.startswith("d.yaml:1: name: type marks (!name) are not read; write the plain value; read '!")


def test_a_file_that_would_grow_is_refused_while_small() -> None:
    """Nine levels of ten references each would make a thousand million entries."""
    bomb = "a: &a [x, x, x, x, x, x, x, x, x, x]\n" + "".join(
        f"{c}: &{c} [{', '.join(f'*{p}' for _ in range(10))}]\n" for p, c in zip("abcdefgh", "bcdefghi", strict=True)
    )
    found = faults(bomb)
    assert "d.yaml:2: b[0]: references (*name) are not read; write the value out; read '*a'" in found


def test_references_to_themselves_are_refused() -> None:
    assert "references (*name) are not read" in "\n".join(faults("base: &b\n  circle: *b\n  count: 3\n"))
    assert "references (*name) are not read" in "\n".join(faults("several: &s [*s]\n"))


@pytest.mark.parametrize(
    "text", ["[" * 5000, "several: " + "[" * 400 + "]" * 400, "\n".join(" " * i + "a:" for i in range(60))]
)
def test_deep_nesting_is_refused(text: str) -> None:
    assert "groups and lists nest deeper than 12" in faults(text)[-1]


def test_too_many_values_are_refused() -> None:
    text = "several:\n" + "  - 1 mm\n" * (MOST_NODES + 1)
    assert faults(text) == [f"d.yaml:{MOST_NODES}: more than 20,000 values and keys; a design needs a few hundred"]


def test_long_lines_are_refused() -> None:
    assert faults("name: " + "x" * 6000) == [
        "d.yaml:1: this line has 6,006 characters; accepted: lines of up to 5,000 characters"
    ]


def test_many_faults_all_come() -> None:
    text = "".join(f"key{i}: 1\n" for i in range(3000))
    assert len(faults(text)) == 3000


def test_many_refused_values_do_not_hide_other_faults() -> None:
    text = "".join(f"key{i}: !x 1\n" for i in range(3000)) + "nam: 3\nname: *a\nbase: !x {circle: 3}\n"
    found = faults(text)
    assert len(found) == 3003
    assert "d.yaml:3001: nam: unknown key" in found[3000]


def test_messages_stay_on_one_line_and_short() -> None:
    for message in faults('"a\\u0000\\nb": 1\nname: {x: 1}\nlit: "' + "y" * 3000 + '"\n"k\\tq": 2\n'):
        assert "\n" not in message
        assert message.isprintable()
        assert len(message) < 400


def test_a_file_of_50_mb_is_refused_before_it_is_read(tmp_path: Path) -> None:
    large = tmp_path / "large.yaml"
    with large.open("wb") as stream:
        stream.truncate(50_000_000)
    with pytest.raises(DesignError) as wrong:
        read_design(large)
    assert str(wrong.value) == (
        f"{large}: too large for a design: 50.0 MB; accepted: up to 1 MB; meshes stand in files of their own"
    )


def test_a_file_that_is_not_there_or_no_file(tmp_path: Path) -> None:
    for path, message in (
        (tmp_path / "none.yaml", "no such file; accepted: a YAML file, or the folder that holds its design.yaml"),
        (tmp_path, "cannot be read: Is a directory"),
        (Path(f"{tmp_path}/a\0b"), "cannot be read: not a file name"),
        (Path("/dev/zero"), "not a plain file; accepted: a YAML text file"),
    ):
        with pytest.raises(DesignError) as wrong:
            read_design(path)
        assert str(wrong.value) == f"{path}: {message}"


def test_text_that_is_not_utf_8(tmp_path: Path) -> None:
    file = tmp_path / "d.yaml"
    file.write_bytes(b"name: x\nbrief:\n  floor: b\xe9ton\n")
    with pytest.raises(DesignError) as wrong:
        read_design(file)
    assert str(wrong.value) == f"{file}:3: not UTF-8 text (byte 0xe9); save the file as UTF-8"


def test_byte_order_mark_and_line_ends_do_not_matter(tmp_path: Path) -> None:
    file = tmp_path / "d.yaml"
    file.write_bytes(b"\xef\xbb\xbfname: x\r\nbrief:\r\n  slope: 3 deg\r\n")
    design = read_design(file)
    assert design.name == "x"
    assert design.brief.slope is not None
    assert design.brief.slope.origin.line == 3


def test_every_value_of_a_design_is_read_by_a_field_type() -> None:
    """A field of a plain Python type would guess, and would answer in the words of a library."""
    plain: list[str] = []

    def walk(shape: Shape, path: str) -> None:
        for one in shape.alternatives:
            if one.record is not None:
                for name, info in one.record.model_fields.items():
                    walk(of_field(info), f"{path}.{name}".lstrip("."))
            elif one.entry is not None:
                walk(one.entry, f"{path}[]")
            elif one.reader is None and get_origin(one.annotation) is not Literal:
                plain.append(path)

    walk(Shape(Design), "")
    assert plain == []


def test_reading_leaves_no_trace(tmp_path: Path) -> None:
    file = tmp_path / "d.yaml"
    file.write_text("name: x\nbrief: {slope: 3}\n", encoding="utf-8")
    with pytest.raises(DesignError):
        read_design(file)
    assert os.listdir(tmp_path) == ["d.yaml"]


def test_spans_are_the_exact_characters() -> None:
    text = "a: 'x y'   # r\nb:\n  - 5 mm # s\n  - {c: \"q\", d: 7}\ne:\n"
    spans = read_tree(text).spans
    assert {p: text[s.start : s.end] for p, s in spans.items() if s.style not in ("block", "{", "[")} == {
        "a": "'x y'",
        "b[0]": "5 mm",
        "b[1].c": '"q"',
        "b[1].d": "7",
        "e": "",
    }
    assert text[: spans["e"].start].endswith("e:")
