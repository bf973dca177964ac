"""Thousands of damaged design files: each is either judged or refused with words, and nothing else ever happens.

What is done with a damaged text stands in DOINGS; the same texts go through every one of them. That numpy is silent
all the while is asked for by the settings of all tests.
"""

from __future__ import annotations

import os
import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from dryfit.assess.assess import assess
from dryfit.assess.report import Report
from dryfit.design.read import read_text
from dryfit.ground.errors import DesignError
from dryfit.machine.machine import resolve


def judged(text: str, file: str) -> Report:
    """A text read, put together as a machine and assessed by every trade."""
    return assess(resolve(read_text(text, file), Path(file)))


DOINGS: dict[str, Callable[[str, str], object]] = {"judge": judged}
EXAMPLES = sorted(Path(__file__).resolve().parents[2].glob("examples/*/design.yaml"))

EMBEDDED = """\
# a small machine
name: Fernlight
brief:
  event: "garden walk"   # invented
  floor: paving
  slope: 3 deg ± 1 deg
  step: 8 mm
  door_width: 900 mm
  speed: 0.5 m/s
  acceleration: 0.4 m/s2
  turn_rate: 30 deg/s
  push: 50 N
  children_present: yes
  show_length: 20 min
  hours_per_day: 2.5 h
  days: 3
  driving_share: 40 %
  ambient: 25 degC
  budget: 4000 EUR
  limits: {tilt: 10 deg, share_of_tipping: 50 %, lift_mass: 25 kg}
workshop:
  nozzle: 0.4 mm
  hole_offset: -0.2 mm
  shims: [0.1 mm, 0.2 mm, 0.5 mm]
"""
SEEDS = {"embedded": EMBEDDED} | {p.parent.name: p.read_text(encoding="utf-8") for p in EXAMPLES}
CASES = {"embedded": 1600}
CASES_OF_AN_EXAMPLE = 150
BLOCK = 50

UNITS = ["mm", "m", "kg", "N*m", "kg*cm", "N", "s", "deg", "rad/s", "rpm", "Hz", "V", "A", "%", "degC", "", "Nm", "ohm"]
NUMBERS = [
    "0", "-1", "nan", ".nan", "inf", "-.inf", "1e400", "-1e400", "1e-400", "1e308", "1e-308", "1e9", "2,5", "1.2.3",
    "1_000", "0x10", "٣", "１２", "", "-0", "+", ".", "1e", "9" * 400, "0.0000001", "3.5", "7", "1/3", "AWG 99",
    "1 ± 5", "~", "null", "99999", "1e6",
]  # fmt: skip
TEXTS = [
    "\t", "\0", "\u2028", "\u0085", "\ud800", "\ufeff", "é", "🌻", "±", "−", "'", '"', ": ", "- ", "#", " #", "{", "}",
    "[", "]", "&a ", "*a", "!!str ", "!x ", "<<: ", "? ", "|", ">", "%", "@", "`", "---\n", "...\n", "\n", "\r", "\r\n",
    "  ", ",", "\\",
]  # fmt: skip

Mutation = Callable[[str, random.Random], str]


def _lines(text: str) -> list[str]:
    return text.split("\n")


def line_dropped(text: str, chance: random.Random) -> str:
    """Without one line."""
    lines = _lines(text)
    del lines[chance.randrange(len(lines))]
    return "\n".join(lines)


def line_doubled(text: str, chance: random.Random) -> str:
    """One line twice, somewhere."""
    lines = _lines(text)
    lines.insert(chance.randrange(len(lines)), chance.choice(lines))
    return "\n".join(lines)


def lines_swapped(text: str, chance: random.Random) -> str:
    """Two lines change places."""
    lines = _lines(text)
    i, j = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[i], lines[j] = lines[j], lines[i]
    return "\n".join(lines)


def cut_short(text: str, chance: random.Random) -> str:
    """The file ends early, as after a full disk."""
    return text[: chance.randrange(len(text) + 1)]


def indent_changed(text: str, chance: random.Random) -> str:
    """One line moved left or right."""
    lines = _lines(text)
    i = chance.randrange(len(lines))
    shift = chance.choice([-4, -2, -1, 1, 2, 4, 40])
    lines[i] = " " * shift + lines[i] if shift > 0 else lines[i][-shift:]
    return "\n".join(lines)


def number_garbled(text: str, chance: random.Random) -> str:
    """One number replaced by another, or by none."""
    found = list(re.finditer(r"-?\d+(\.\d+)?", text))
    if not found:
        return text
    m = chance.choice(found)
    return text[: m.start()] + chance.choice(NUMBERS) + text[m.end() :]


def unit_swapped(text: str, chance: random.Random) -> str:
    """One unit replaced by another, or by none."""
    found = list(re.finditer(r"(?<=\d )[A-Za-z%*/]+", text))
    if not found:
        return text
    m = chance.choice(found)
    return text[: m.start()] + chance.choice(UNITS) + text[m.end() :]


def value_swapped(text: str, chance: random.Random) -> str:
    """One value replaced by one from elsewhere in the file."""
    found = list(re.finditer(r"(?<=: )[^#\n]+", text))
    if not found:
        return text
    m, other = chance.choice(found), chance.choice(found)
    return text[: m.start()] + other.group() + text[m.end() :]


def value_replaced(text: str, chance: random.Random) -> str:
    """One value replaced by something of another sort."""
    found = list(re.finditer(r"(?<=: )[^#\n]+", text))
    if not found:
        return text
    m = chance.choice(found)
    other = chance.choice(
        ["[]", "{}", "[1, 2]", "{a: 1}", "''", "yes", "x", "", "[[1 mm]]", "{x: {y: z}}", "- 1", "0", "-5 mm"]
    )
    return text[: m.start()] + other + text[m.end() :]


def word_garbled(text: str, chance: random.Random) -> str:
    """One word with two letters the wrong way round."""
    found = list(re.finditer(r"[a-z_]{3,}", text))
    if not found:
        return text
    m = chance.choice(found)
    w = list(m.group())
    i = chance.randrange(len(w) - 1)
    w[i], w[i + 1] = w[i + 1], w[i]
    return text[: m.start()] + "".join(w) + text[m.end() :]


def text_put_in(text: str, chance: random.Random) -> str:
    """Something that means something to the layout, or nothing to anyone, put in anywhere."""
    i = chance.randrange(len(text) + 1)
    return text[:i] + chance.choice(TEXTS) + text[i:]


def character_changed(text: str, chance: random.Random) -> str:
    """One character replaced by any other."""
    if not text:
        return text
    i = chance.randrange(len(text))
    return (
        text[:i]
        + chr(chance.choice([chance.randrange(128), chance.randrange(0x3000), chance.randrange(0x110000)]))
        + text[i + 1 :]
    )


def bytes_flipped(text: str, chance: random.Random) -> str:
    """A few bits flipped, read back as far as it is text."""
    data = bytearray(text.encode("utf-8", "replace"))
    for _ in range(chance.randrange(1, 4)):
        if data:
            data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    return data.decode("utf-8", "replace")


def line_ends_changed(text: str, chance: random.Random) -> str:
    """Other line ends throughout."""
    return text.replace("\n", chance.choice(["\r\n", "\r", "\n\n", "\u2028"]))


def block_moved(text: str, chance: random.Random) -> str:
    """A few lines taken out and put in elsewhere."""
    lines = _lines(text)
    i, n = chance.randrange(len(lines)), chance.randrange(1, 8)
    block = lines[i : i + n]
    del lines[i : i + n]
    at = chance.randrange(len(lines) + 1)
    return "\n".join(lines[:at] + block + lines[at:])


MUTATIONS: list[Mutation] = [
    line_dropped, line_doubled, lines_swapped, cut_short, indent_changed, number_garbled, number_garbled, unit_swapped,
    value_swapped, value_replaced, word_garbled, text_put_in, character_changed, bytes_flipped, line_ends_changed,
    block_moved,
]  # fmt: skip


def damaged(text: str, chance: random.Random) -> str:
    """The text after one to three mutations."""
    for _ in range(chance.choice([1, 1, 1, 2, 3])):
        text = chance.choice(MUTATIONS)(text, chance)
    return text


def blocks() -> list[tuple[str, int]]:
    """(seed text, first case) of every block of cases: blocks let a runner share them out."""
    return [(name, i) for name in SEEDS for i in range(0, CASES.get(name, CASES_OF_AN_EXAMPLE), BLOCK)]


FILES = {p.parent.name: str(p) for p in EXAMPLES}
"""Where the text of a seed stands, so that its meshes are found."""


def try_one(doing: Callable[[str, str], object], text: str, file: str = "design.yaml") -> str:
    """ "" if the doing took the text or refused it with words; else what went wrong."""
    try:
        doing(text, file)
    except DesignError as refused:
        if not refused.faults:
            return "refused without a fault"
        for fault in refused.faults:
            message = str(fault)
            if not fault.message or "\n" in message or not message.isprintable():
                return f"unreadable message {message!r}"
            if fault.line < 0 or fault.line > len(re.split("\r\n|[\n\r\x85\u2028\u2029]", text)) + 1:
                return f"line {fault.line} is not in the text"
    except Exception as crash:
        return f"{type(crash).__name__}: {crash}"
    return ""


@pytest.mark.parametrize("doing", DOINGS)
@pytest.mark.parametrize(("name", "first"), blocks())
def test_damaged_files_are_read_or_refused(
    doing: str, name: str, first: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for case in range(first, first + BLOCK):
        text = damaged(SEEDS[name], random.Random(f"{name} {case}"))
        trouble = try_one(DOINGS[doing], text, FILES.get(name, "design.yaml"))
        assert not trouble, f"{name} {case}: {trouble}\n{text}"
    assert os.listdir(tmp_path) == []


def test_the_seeds_are_sound_and_the_cases_many() -> None:
    for text in SEEDS.values():
        read_text(text)
    assert len(blocks()) * BLOCK >= (2000 if EXAMPLES else 1600)


def test_the_mutations_do_damage() -> None:
    """Most damaged files must differ, and both answers must occur, or the test would show nothing."""
    chance = random.Random(1)
    texts = [damaged(EMBEDDED, chance) for _ in range(200)]
    read = 0
    for text in texts:
        try:
            read_text(text)
        except DesignError:
            continue
        read += 1
    assert sum(t != EMBEDDED for t in texts) > 180
    assert 20 < read < 180


def test_a_crash_would_be_seen() -> None:
    def crashes(text: str, file: str) -> object:
        raise KeyError(text)

    assert try_one(crashes, "a: 1").startswith("KeyError")
