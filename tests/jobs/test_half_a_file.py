"""Half a file must run: what is left out takes a default or is asked for by its name, and nothing else happens.

That numpy is silent all the while is asked for by the settings of all tests.
"""

from __future__ import annotations

import json
import random
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from ruamel.yaml import YAML

from dryfit.assess.assess import assess
from dryfit.assess.report import Report
from dryfit.design.read import read_text
from dryfit.design.records import Design
from dryfit.ground.errors import DesignError, Fault
from dryfit.ground.findings import State, state
from dryfit.jobs.check import example, example_names
from dryfit.machine.machine import resolve
from dryfit.views.plain import verdict_plain, why_plain
from dryfit.views.verdict import verdict
from dryfit.views.workings import why

SECTIONS = tuple(Design.model_fields)
NEEDED = {"name", "needs", "count", "radius", "pinion_teeth", "gear_teeth", "shape", "size", "mass", "angles"}
"""Keys that a group makes no sense without: a part without its size is a fault, and shown to be one elsewhere."""
NEEDED_WITH = {
    "stock": {"stock", "length"}, "branch": {"branch"}, "from": {"from", "to", "carries"}, "contacts": {"contacts"},
    "bed": {"bed"}, "spool": {"material"}, "price": {"item"}, "needed_for": {"item"}, "in_stock": {"item", "material"},
}  # fmt: skip
"""The same in groups known by one of their keys: a wire without its ends, a printer without its room."""
HALVES = 10
THIRD = 3


@cache
def tree(name: str) -> dict[str, Any]:
    """An example as plain groups, lists and texts."""
    return YAML(typ="base").load(example(name).read_text(encoding="utf-8"))  # type: ignore[no-any-return]


def text_of(node: dict[str, Any]) -> str:
    """Groups, lists and texts written so that the design reader takes them."""
    return json.dumps(node, indent=0, ensure_ascii=False)


def judged(text: str, folder: Path) -> Report:
    """What is found about the machine of a text; `folder` is where its meshes lie."""
    return assess(resolve(read_text(text), folder / "design.yaml"))


def judged_or_refused(text: str, folder: Path) -> Report | tuple[Fault, ...]:
    """The report on a machine, or the faults for which there is none."""
    try:
        return judged(text, folder)
    except DesignError as refused:
        return refused.faults


def sound(answer: Report | tuple[Fault, ...]) -> bool:
    """A believable report, or faults that say where and what."""
    return (
        believable(answer) if isinstance(answer, Report) else all(f.message and f.key for f in answer) and answer != ()
    )


def believable(report: Report, unfolded: bool = False) -> bool:
    """Every check can be shown (and unfolded), and none holds on a number that is not there."""
    json.dumps(verdict_plain(verdict(report, "design.yaml")), allow_nan=False)
    for f in report.findings:
        if unfolded:
            json.dumps(why_plain(why(f, "design.yaml", "")), allow_nan=False)
        if np.isnan(f.margin):
            assert state(f) in (State.SHORT, State.UNKNOWN)
    return bool(report.findings)


@pytest.mark.parametrize("text", ["name: Fernlight\n", "brief:\n", "name: Fernlight\nbase:\n"])
def test_a_file_with_nothing_in_it_runs(text: str, tmp_path: Path) -> None:
    assert believable(judged(text, tmp_path), unfolded=True)


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing yet\n"])
def test_a_file_without_a_word_is_sent_to_the_examples(text: str) -> None:
    with pytest.raises(DesignError, match="holds no design; see the examples"):
        read_text(text)


@pytest.mark.parametrize("section", [s for s in SECTIONS if s != "reserves"])
@pytest.mark.parametrize("name", example_names())
def test_an_example_without_one_section_runs(name: str, section: str) -> None:
    less = {k: v for k, v in tree(name).items() if k != section}
    assert believable(judged(text_of(less), example(name).parent))


@pytest.mark.parametrize("section", [s for s in SECTIONS if s not in ("reserves", "name")])
@pytest.mark.parametrize("name", example_names())
def test_one_section_of_an_example_alone_runs(name: str, section: str) -> None:
    one = {k: v for k, v in tree(name).items() if k == section}
    assert believable(judged(text_of(one), example(name).parent), unfolded=True)


@pytest.mark.parametrize("name", example_names())
def test_an_example_without_any_one_group_runs_or_says_what_is_missing(name: str) -> None:
    """Every third group or list left out in turn (`base.motor`, `power.packs.lead`); examples begin at other ones."""
    for path in groups(tree(name), ())[len(name) % THIRD :: THIRD]:
        assert sound(judged_or_refused(text_of(without(tree(name), path)), example(name).parent)), path


@pytest.mark.parametrize("share", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("name", example_names())
def test_an_example_with_keys_missing_at_random_runs_or_says_what_is_missing(name: str, share: float) -> None:
    judged_ones = 0
    for case in range(HALVES):
        chance = random.Random(f"{name} {share} {case}")
        answer = judged_or_refused(text_of(thinned(tree(name), share, chance)), example(name).parent)
        assert sound(answer), f"case {case}"
        judged_ones += isinstance(answer, Report)
    assert judged_ones


def groups(node: Any, path: tuple[str | int, ...]) -> list[tuple[str | int, ...]]:
    """Paths of all groups and lists below a node."""
    steps = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    found = []
    for step, child in steps:
        if isinstance(child, dict | list):
            found += [(*path, step), *groups(child, (*path, step))]
    return found


def without(node: Any, path: tuple[str | int, ...]) -> Any:
    """The tree without what stands at a path."""
    step, rest = path[0], path[1:]
    kept = node.items() if isinstance(node, dict) else enumerate(node)
    kept = [(k, without(v, rest) if k == step else v) for k, v in kept if k != step or rest]
    return dict(kept) if isinstance(node, dict) else [v for _, v in kept]


def thinned(node: Any, share: float, chance: random.Random) -> Any:
    """The tree without a share of its values, and of its groups a third of that share, at every level."""
    if isinstance(node, dict):
        less = {k: share if isinstance(v, str) else share / 3 for k, v in node.items()}
        needed = NEEDED.union(*(NEEDED_WITH.get(k, ()) for k in node))
        kept = {k: v for k, v in node.items() if k in needed or chance.random() >= less[k]}
        return {k: thinned(v, share, chance) for k, v in kept.items()}
    return [thinned(v, share, chance) for v in node] if isinstance(node, list) else node
