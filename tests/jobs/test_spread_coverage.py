"""Every number of a design has a rule that says how well it is usually known: none passes for exact in silence."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from dryfit.design.records import Design
from dryfit.design.shapes import Shape, of_field
from dryfit.jobs.check import check, example, example_names
from dryfit.jobs.variants import Variants, places
from dryfit.studies.records import PlaceKind
from dryfit.studies.usual_spreads import NO_RULE, RULES, patterns, usual


def keys(shape: Shape, path: str = "", above: tuple[type, ...] = ()) -> Iterator[str]:
    """Path of every number that may stand in a design file, lists without their numbers."""
    for one in shape.alternatives:
        if one.dimension is not None:
            yield path
        elif one.entry is not None:
            yield from keys(one.entry, path if one.is_list else f"{path}.NAME", above)
        elif one.record is not None and one.record not in above:
            for name, info in one.record.model_fields.items():
                yield from keys(of_field(info), f"{path}.{name}".lstrip("."), (*above, one.record))


KEYS = tuple(dict.fromkeys(keys(Shape(Design))))


def test_every_key_of_the_design_file_has_a_rule() -> None:
    assert len(KEYS) > 300
    assert [key for key in KEYS if usual(key) is NO_RULE] == []


def test_every_rule_is_the_first_for_some_key() -> None:
    """A rule that none comes to is a slip in its pattern, or stands behind one that takes everything."""
    used = {usual(key) for key in KEYS} | {usual(path) for path in _paths()}
    assert [rule.patterns for rule in RULES if rule not in used] == []


@pytest.mark.parametrize("name", example_names())
def test_every_number_of_the_examples_has_a_rule(name: str) -> None:
    checked = check(example(name))
    numbers = [
        p.path for p in places(Variants(checked.text, checked.path), checked.machine) if p.kind is PlaceKind.NUMBER
    ]
    assert len(numbers) > 300
    assert [path for path in numbers if usual(path) is NO_RULE] == []


def _paths() -> Iterator[str]:
    for name in example_names():
        checked = check(example(name))
        yield from (p.path for p in places(Variants(checked.text, checked.path), checked.machine))


def test_what_may_be_off_says_how_to_find_out_and_what_may_not_says_why() -> None:
    for rule in RULES:
        assert rule.reason
        assert bool(rule.measure) == (rule.below > 0 or rule.above > 0), rule.patterns
        assert not rule.measure or rule.measure.endswith(".")


def test_patterns_are_on_paths_without_numbers() -> None:
    assert all(re.fullmatch(r"[a-z_.*]+", p) for p in patterns())
    assert usual("body.parts[12].mass") is usual("body.parts[0].mass")


def test_a_number_without_a_rule_is_not_taken_for_exact() -> None:
    assert usual("nowhere.to_be_found") is NO_RULE
    assert NO_RULE.below > 0
