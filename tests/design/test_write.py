# ruff: noqa: E501 (messages are asserted whole, one a line)
"""Writing one value back: every other byte stays, and the file changes whole or not at all."""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dryfit.design import write
from dryfit.design.read import read_text
from dryfit.design.tree import Empty, read_tree
from dryfit.design.write import changed_text, write_value, write_values
from dryfit.ground.errors import DesignError

TEXT = """\
# Sunbloom, as promised

name: 'Sunbloom'   # the working title
brief:             # what was asked
  floor: "stone"
  slope: 3 deg     # worst ramp, measured
  limits: {tilt: 8 deg, sway: 5 mm}  # tighter than usual
  # about the days
  days: 3

workshop:
  shims:
    - 0.1 mm
    - 0.2 mm   # thin one

# the end
"""
KEYS = ["name", "brief.floor", "brief.slope", "brief.limits.tilt", "brief.days", "workshop.shims[1]"]
ABSENT = ["brief.push", "brief.limits.lift_mass", "workshop.nozzle", "brief.event"]
EXAMPLES = sorted(Path(__file__).resolve().parents[2].glob("examples/*/design.yaml"))


def inserted(before: str, after: str) -> str:
    """What was put into a text at one place; fails if anything else changed."""
    cut = next((i for i, (a, b) in enumerate(zip(before, after, strict=False)) if a != b), len(before))
    extra = len(after) - len(before)
    for i in range(cut, -1, -1):
        if after[:i] + after[i + extra :] == before:
            return after[i : i + extra]
    raise AssertionError("more than one place changed")


def scalars(text: str) -> dict[str, str]:
    """Every scalar of a text by its path, as the tree reads it."""
    return dict(write._flat(read_tree(text).root))


@pytest.mark.parametrize(
    ("key", "new", "line"),
    [
        ("name", "Moonbloom", "name: 'Moonbloom'   # the working title"),
        ("name", "it's", "name: 'it''s'   # the working title"),
        ("brief.floor", "wet stone", '  floor: "wet stone"'),
        ("brief.floor", 'a "b" \\', '  floor: "a \\"b\\" \\\\"'),
        ("brief.slope", "5 deg ± 1 deg", "  slope: 5 deg ± 1 deg     # worst ramp, measured"),
        ("brief.limits.tilt", "9 deg", "  limits: {tilt: 9 deg, sway: 5 mm}  # tighter than usual"),
        ("brief.limits.lift_mass", "20 kg", "  limits: {tilt: 8 deg, sway: 5 mm, lift_mass: 20 kg}  # tighter than usual"),
        ("brief.push", "60 N", "  push: 60 N"),
        ("brief.event", "a: b # c", "  event: 'a: b # c'"),
        ("workshop.nozzle", "0.6 mm", "  nozzle: 0.6 mm"),
        ("workshop.shims[1]", "0.3 mm", "    - 0.3 mm   # thin one"),
    ],
)  # fmt: skip
def test_one_line_changes(key: str, new: str, line: str) -> None:
    before, after = TEXT.split("\n"), changed_text(TEXT, key, new).split("\n")
    assert line in after
    after.remove(line)
    assert [x for x in after if x not in before] == []
    assert len(before) - len(after) in (0, 1)


def test_new_keys_stand_at_the_end_of_their_group() -> None:
    lines = changed_text(TEXT, "brief.push", "60 N").split("\n")
    assert lines[lines.index("  push: 60 N") - 1] == "  days: 3"
    lines = changed_text(TEXT, "workshop.nozzle", "0.6 mm").split("\n")
    assert lines[lines.index("  nozzle: 0.6 mm") - 1] == "    - 0.2 mm   # thin one"


@pytest.mark.parametrize(
    ("text", "key", "expected"),
    [
        ("name: x", "brief.slope", "name: x\nbrief:\n  slope: 5 deg"),
        ("name: x\n", "brief.limits.tilt", "name: x\nbrief:\n  limits:\n    tilt: 5 deg\n"),
        ("brief:  # later\nname: x\n", "brief.slope", "brief:  # later\n  slope: 5 deg\nname: x\n"),
        ("brief: {}\n", "brief.slope", "brief: {slope: 5 deg}\n"),
        ("brief: {}\n", "brief.limits.tilt", "brief: {limits: {tilt: 5 deg}}\n"),
        ("brief: {step: 1 mm,}\n", "brief.slope", "brief: {step: 1 mm, slope: 5 deg,}\n"),
        ("brief:\n    step: 1 mm\n", "brief.slope", "brief:\n    step: 1 mm\n    slope: 5 deg\n"),
        ("brief:\n  slope:  # soon\n", "brief.slope", "brief:\n  slope: 5 deg  # soon\n"),
        ("brief:\n  event: |\n    a\n    b\nname: x\n", "brief.slope", "brief:\n  event: |\n    a\n    b\n  slope: 5 deg\nname: x\n"),
        ("\ufeffbrief:\r\n  slope: 3 deg\r\n", "brief.slope", "\ufeffbrief:\r\n  slope: 5 deg\r\n"),
        ("brief:\r\n  step: 0\r\nname: x\r\n", "brief.slope", "brief:\r\n  step: 0\r\n  slope: 5 deg\r\nname: x\r\n"),
        ("brief:\n  slope: 3\n    deg\n", "brief.slope", "brief:\n  slope: 5 deg\n"),
    ],
)  # fmt: skip
def test_layouts(text: str, key: str, expected: str) -> None:
    assert changed_text(text, key, "5 deg") == expected


@pytest.mark.parametrize(
    ("key", "new", "message"),
    [
        ("brief", "x", "d.yaml:4: brief: a group or a list stands here, not one value; read 'x'"),
        ("workshop.shims[7]", "1 mm", "d.yaml: workshop.shims[7]: no such place in the file; did you mean workshop.shims[1] or workshop.shims[0] or workshop.shims?"),
        ("name.x", "y", "d.yaml: name.x: no such place in the file; did you mean name?"),
        ("brief..slope", "5 deg", "d.yaml: brief..slope: not the path of a key; read '5 deg'"),
        ("", "5 deg", "d.yaml: not the path of a key; read '5 deg'"),
        ("name", "a\nb", "d.yaml: name: a value is one line; read 'a\\nb'"),
        ("name", "", "d.yaml: name: cannot be written here without touching other lines"),
        ("brief.a: b", "5 deg", "d.yaml: brief.a: b: cannot be written here without touching other lines; read '5 deg'"),
    ],
)  # fmt: skip
def test_what_cannot_be_written(key: str, new: str, message: str) -> None:
    with pytest.raises(DesignError) as wrong:
        changed_text(TEXT, key, new, "d.yaml")
    assert str(wrong.value) == message


def test_texts_of_several_lines_are_left_to_the_user() -> None:
    with pytest.raises(DesignError, match="a text of several lines stands here; change it by hand"):
        changed_text("name: |\n  a\n  b\n", "name", "c")


WORDS = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp"), exclude_characters="\ufeff\ufffe\uffff"),
    min_size=1,
    max_size=20,
)


def written(text: str, key: str, new: str) -> str | None:
    """The changed text; None where it is refused for the one reason that there may be."""
    refused = ""
    try:
        return changed_text(text, key, new)
    except DesignError as wrong:
        refused = str(wrong)
    assert "cannot be written here" in refused
    return None


@given(st.sampled_from(KEYS), st.one_of(st.sampled_from(["5 mm", "a # b", "a: b", "'", '"', "- x", "{", "*a"]), WORDS))
def test_every_other_character_stays(key: str, new: str) -> None:
    span = read_tree(TEXT).spans[key]
    after = written(TEXT, key, new)
    if after is None:
        return
    assert after.startswith(TEXT[: span.start])
    assert after.endswith(TEXT[span.end :])
    assert scalars(after) == {**scalars(TEXT), key: new}


@given(st.sampled_from(ABSENT), st.one_of(st.sampled_from(["5 mm", "a # b", "a: b", "'"]), WORDS), st.booleans())
def test_new_keys_leave_every_character(key: str, new: str, windows: bool) -> None:
    text = TEXT.replace("\n", "\r\n") if windows else TEXT
    after = written(text, key, new)
    if after is None:
        return
    assert key.rpartition(".")[2] + ": " in inserted(text, after)
    assert scalars(after) == {**scalars(text), key: new}
    assert not windows or not re.search(r"(?<!\r)\n", after)


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda p: p.parent.name)
@settings(max_examples=15)
@given(data=st.data())
def test_every_value_of_the_examples_can_be_changed(file: Path, data: st.DataObject) -> None:
    text = file.read_text(encoding="utf-8")
    values = scalars(text)
    key = data.draw(st.sampled_from([k for k, v in values.items() if v is not write._NOTHING]))
    span = read_tree(text).spans[key]
    after = changed_text(text, key, "12.5 mm")
    assert after.startswith(text[: span.start])
    assert after.endswith(text[span.end :])
    assert scalars(after) == {**values, key: "12.5 mm"}


def test_the_file_is_replaced_and_the_last_version_kept(tmp_path: Path) -> None:
    file = tmp_path / "design.yaml"
    file.write_bytes(TEXT.replace("\n", "\r\n").encode())
    file.chmod(0o640)
    write_value(file, "brief.slope", "4 deg")
    write_value(file, "brief.slope", "5 deg")
    assert b"  slope: 5 deg     # worst ramp, measured\r\n" in file.read_bytes()
    assert b"  slope: 4 deg " in (tmp_path / "design.yaml.before").read_bytes()
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert sorted(os.listdir(tmp_path)) == ["design.yaml", "design.yaml.before"]


def test_the_same_value_writes_nothing(tmp_path: Path) -> None:
    file = tmp_path / "design.yaml"
    file.write_text(TEXT, encoding="utf-8")
    write_value(file, "brief.slope", "3 deg")
    assert os.listdir(tmp_path) == ["design.yaml"]


@pytest.mark.parametrize(
    ("key", "new", "words"),
    [
        ("brief.slope", "5", "d.yaml:6: brief.slope: an angle needs its unit; read '5'"),
        ("brief.slope", "5,5 deg", "decimals take a point"),
        ("brief.slop", "5 deg", "brief.slop: unknown key; did you mean slope?"),
        ("brief.days", "nan", "not a finite number"),
    ],
)
def test_a_value_that_cannot_be_read_writes_nothing(tmp_path: Path, key: str, new: str, words: str) -> None:
    file = tmp_path / "d.yaml"
    file.write_text(TEXT, encoding="utf-8")
    with pytest.raises(DesignError) as wrong:
        write_value(file, key, new)
    assert words in str(wrong.value)
    assert file.read_text(encoding="utf-8") == TEXT
    assert os.listdir(tmp_path) == ["d.yaml"]


def test_what_the_caller_refuses_is_not_written(tmp_path: Path) -> None:
    file = tmp_path / "d.yaml"
    file.write_text(TEXT, encoding="utf-8")

    def refuse(text: str, name: str) -> None:
        assert "slope: 5 deg" in text
        read_text("brief: 3", name)

    with pytest.raises(DesignError):
        write_value(file, "brief.slope", "5 deg", accept=refuse)
    assert file.read_text(encoding="utf-8") == TEXT
    assert os.listdir(tmp_path) == ["d.yaml"]


def test_a_file_changed_by_someone_else_is_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "d.yaml"
    file.write_text(TEXT, encoding="utf-8")
    with pytest.raises(DesignError, match="was changed by someone else since it was read; nothing was written"):
        write_value(file, "brief.slope", "5 deg", seen=TEXT + "# more\n")

    def meanwhile(text: str, name: str) -> None:
        file.write_text(TEXT + "# more\n", encoding="utf-8")

    with pytest.raises(DesignError, match="was changed by someone else just now; nothing was written"):
        write_value(file, "brief.slope", "5 deg", seen=TEXT, accept=meanwhile)
    assert file.read_text(encoding="utf-8") == TEXT + "# more\n"
    assert os.listdir(tmp_path) == ["d.yaml"]


def test_several_values_are_one_change(tmp_path: Path) -> None:
    file = tmp_path / "d.yaml"
    file.write_text("brief:\n  slope: 3 deg  # measured\n", encoding="utf-8")
    before = file.read_text(encoding="utf-8")
    write_values(file, {"brief.slope": "4 deg", "brief.speed": "0.4 m/s", "name": "new"}, seen=before)
    assert file.read_text(encoding="utf-8") == "brief:\n  slope: 4 deg  # measured\n  speed: 0.4 m/s\nname: new\n"
    assert (tmp_path / "d.yaml.before").read_text(encoding="utf-8") == before


def test_of_several_values_none_is_written_where_one_cannot_be(tmp_path: Path) -> None:
    file = tmp_path / "d.yaml"
    file.write_text(TEXT, encoding="utf-8")
    with pytest.raises(DesignError, match="no such place"):
        write_values(file, {"brief.slope": "4 deg", "body.parts[77].mass": "1 kg"})
    assert file.read_text(encoding="utf-8") == TEXT
    assert os.listdir(tmp_path) == ["d.yaml"]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    real = tmp_path / "there" / "real.yaml"
    real.parent.mkdir()
    real.write_text(TEXT, encoding="utf-8")
    link = tmp_path / "link.yaml"
    link.symlink_to(real)
    write_value(link, "brief.slope", "5 deg")
    assert link.is_symlink()
    assert "slope: 5 deg" in real.read_text(encoding="utf-8")
    assert sorted(os.listdir(real.parent)) == ["real.yaml", "real.yaml.before"]
    assert sorted(os.listdir(tmp_path)) == ["link.yaml", "there"]


def test_a_link_in_place_of_the_last_version_is_not_followed(tmp_path: Path) -> None:
    other = tmp_path / "other.txt"
    other.write_text("precious", encoding="utf-8")
    file = tmp_path / "d.yaml"
    file.write_text(TEXT, encoding="utf-8")
    (tmp_path / "d.yaml.before").symlink_to(other)
    write_value(file, "brief.slope", "5 deg")
    assert other.read_text(encoding="utf-8") == "precious"
    assert (tmp_path / "d.yaml.before").read_text(encoding="utf-8") == TEXT


def test_a_failing_disk_leaves_the_file_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "d.yaml"
    file.write_text(TEXT, encoding="utf-8")

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DesignError, match="cannot be written: No space left on device; the file is as it was"):
        write_value(file, "brief.slope", "5 deg")
    assert file.read_text(encoding="utf-8") == TEXT
    assert os.listdir(tmp_path) == ["d.yaml"]


def test_keys_with_nothing_behind_them_are_told_from_texts() -> None:
    tree = read_tree("a:\nb: ''\n")
    assert isinstance(tree.root["a"], Empty)
    assert not isinstance(tree.root["b"], Empty)
