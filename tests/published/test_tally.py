"""The tally in docs/checked-against.md is that of the files beside this one. Not a check against the outside itself.

Sources of this file: none; status: a count.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

HERE = Path(__file__).parent
TALLY = HERE.parents[1] / "docs" / "checked-against.md"
FILES = sorted(p for p in HERE.glob("test_*.py") if p != Path(__file__))
STATUS = re.compile(r"\bseen\b|from memory|derived|run live|common practice|identity", re.IGNORECASE)
LISTED = dict(re.findall(r"^\| `(test_\w+\.py)` \| .* \| (\d+) \|$", TALLY.read_text(encoding="utf-8"), re.MULTILINE))


def test_every_file_is_in_the_tally_and_a_hundred_rows_are_checked() -> None:
    assert set(LISTED) == {p.name for p in FILES}
    assert sum(int(n) for n in LISTED.values()) >= 100


def test_cases_that_ran_are_those_of_the_tally(request: pytest.FixtureRequest) -> None:
    """Of every file of which anything was collected in this run, unless single tests were picked out of it."""
    config = request.config
    picked = config.option.keyword or config.option.markexpr or any("::" in str(a) for a in config.args)
    ran: dict[str, int] = {}
    for item in request.session.items:
        if item.path.parent == HERE and item.path != Path(__file__):
            ran[item.path.name] = ran.get(item.path.name, 0) + 1
    if not picked:
        assert ran == {name: int(LISTED[name]) for name in ran}


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_file_names_its_source_and_how_it_was_come_by(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    told = " ".join((ast.get_docstring(ast.parse(text)) or "").split())
    assert len(told.split()) > 12, "the docstring is the bibliography"
    assert STATUS.search(told), "seen, from memory, derived, run live or common practice?"
