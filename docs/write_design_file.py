"""Writes the second half of docs/design-file.md from the records, the defaults and the workings of the checks.

Run it after a key, a default or the name of a number has changed: `.venv/bin/python docs/write_design_file.py`.
A test compares the file with a fresh one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

from dryfit.assess.assess import assess
from dryfit.design.fields import ChoiceReader
from dryfit.design.read import read_text
from dryfit.design.records import Design
from dryfit.design.shapes import Shape, of_field
from dryfit.ground import units
from dryfit.ground.findings import Term, Workings
from dryfit.ground.quantity import Kind, Origin
from dryfit.jobs.check import example, example_names
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import Machine, resolve

FILE = Path(__file__).resolve().parent / "design-file.md"
MARK = "<!-- What follows is written by docs/write_design_file.py. -->"

BARE = """\
base:
  gears: [{pinion_teeth: 20, gear_teeth: 40}]
  axle: {}
body: {parts: [{name: a, shape: box, size: [100 mm, 100 mm, 100 mm]}]}
power: {branches: [{name: a, feeds: motors, regulator: {}, hold_up: {}}], signals: [{name: a, from: a, to: bus}]}
control: {functions: [{name: a, needs: pwm}], driver_inputs: [{name: a}]}
light: {strips: [{name: a, core: {}, diffuser: {}}], scenes: [{name: a}]}
arms: {groups: [{name: a, joints: [{name: b}], payload: {}}], postures: [{name: c, angles: {b: 0}}]}
safety: {gaps: [{name: a}], emergency_stop: {}, person_sensor: {}}
"""
"""A file that names one of everything and says nothing about it, so that every default is taken."""
CUSTOM = """\
base:
  wheels: {layout: custom, each: [{at: [0.3 m, 0 m]}, {at: [-0.2 m, 0.2 m]}, {at: [-0.2 m, -0.2 m]}]}
"""
"""The same for wheels written one by one."""


@dataclass(frozen=True)
class Known:
    """What running the machine tells about the keys, by path without indices.

    defaults: text and reason.  asked: keys that nothing can stand in for.  names: what a check calls the number.
    catalogues: the table that a key names a row of.
    """

    defaults: Mapping[str, tuple[str, str]]
    asked: frozenset[str]
    names: Mapping[str, str]
    catalogues: Mapping[str, str]


def known() -> Known:
    """Put the bare file, one with nothing but a name and the examples together, and note every key that passes."""
    catalogues: dict[str, str] = {}
    row = Ledger.row

    def noted(self: Ledger, path: str, kind: str, key: object) -> object:
        catalogues.setdefault(general(path), kind)
        return row(self, path, kind, key)  # type: ignore[arg-type]

    with patch.object(Ledger, "row", noted):
        machines = list(_machines())
    defaults: dict[str, tuple[str, str]] = {}
    asked: set[str] = set()
    names: dict[str, str] = {}
    for machine in machines:
        for path, origin in machine.origins.items():
            if origin.kind is Kind.DEFAULT:
                defaults.setdefault(general(path), (origin.text, origin.note))
            elif origin.kind is Kind.MISSING:
                asked.add(general(path))
        for finding in assess(machine).findings:
            for term in _leaves(finding.terms):
                if isinstance(term.origin, Origin) and term.origin.kind is not Kind.CATALOGUE and term.origin.path:
                    names.setdefault(general(term.origin.path), term.name)
    return Known(defaults, frozenset(asked), names, catalogues)


def _machines() -> Iterator[Machine]:
    for text in (BARE, CUSTOM, "name: a"):
        yield resolve(read_text(text), FILE)
    for name in example_names():
        file = example(name)
        yield resolve(read_text(file.read_text(encoding="utf-8")), file)


def _leaves(terms: tuple[Term, ...]) -> Iterator[Term]:
    for t in terms:
        if isinstance(t.origin, Workings):
            yield from _leaves(t.origin.terms)
        else:
            yield t


def general(path: str) -> str:
    """A path without the numbers of its entries: base.gears[0].module -> base.gears[].module."""
    return re.sub(r"\[[^\]]*\]", "[]", path)


def reference() -> str:
    """Every section with its keys, as text."""
    facts = known()
    parts = ["## Units", "", "| quantity | units |", "|---|---|", *_units(), ""]
    parts += ["## Every section and key", "", LEGEND, ""]
    for path, cls in sections(Shape(Design), "", ()):
        words = " ".join((cls.__doc__ or "").split())
        parts += [f"### {f'`{path}`' if path else 'At the top'}", "", words, ""]
        parts += ["| key | what it is | takes | left out |", "|---|---|---|---|"]
        for name, info in cls.model_fields.items():
            key = info.alias or name
            here = f"{path}.{key}".lstrip(".")
            shape = of_field(info)
            what = info.description or _what(shape, here, facts)
            cells = (f"`{key}`", what, _takes(shape, here, facts), _left_out(info, here, facts))
            parts.append(f"| {' | '.join(cells)} |")
        parts.append("")
    return "\n".join(parts).rstrip() + "\n"


def _units() -> Iterator[str]:
    """A row for each kind of quantity that has units; kinds that differ only in their least value share one."""
    kinds = {d.name: d for d in vars(units).values() if isinstance(d, units.Dimension) and d.units}
    for name, d in kinds.items():
        if not name.startswith("positive ") and not name.endswith(" of zero or more"):
            gauge = ", `AWG 16`" if d is units.AREA else ""
            yield f"| {name} | {', '.join(f'`{u}`' for u in d.units)}{gauge} |"


LEGEND = (
    "A key of a group stands indented below it; `[]` marks a list, whose entries stand each behind a dash. Numbers are "
    "named as in the workings of the checks. A default can change with what else is written: `dryfit check --assumed` "
    'lists those that were taken. "Asked for" means that the checks that need the number answer `unknown` until it is '
    "written."
)


def sections(shape: Shape, path: str, above: tuple[type, ...]) -> Iterator[tuple[str, type[Design]]]:
    """Path and record of every group, each before those inside it."""
    for one in shape.alternatives:
        if one.entry is not None:
            yield from sections(one.entry, f"{path}[]" if one.is_list else path, above)
        elif one.record is not None and one.record not in above:
            yield path, one.record  # type: ignore[misc]
            for name, info in one.record.model_fields.items():
                yield from sections(of_field(info), f"{path}.{info.alias or name}".lstrip("."), (*above, one.record))


def _what(shape: Shape, path: str, facts: Known) -> str:
    """The number's name in the workings, or the first sentence about a group."""
    inside = [e for one in shape.alternatives for e in (one.entry.alternatives if one.entry else (one,))]
    docs = [" ".join((e.record.__doc__ or "").split()) for e in inside if e.record is not None]
    sentence = re.split(r"(?<=\w)\. |\.$", docs[0])[0] if docs else ""
    return facts.names.get(path, facts.names.get(path + "[]", sentence))


def _takes(shape: Shape, path: str, facts: Known) -> str:
    if path in facts.catalogues:
        return f"a row of the catalogue's {facts.catalogues[path].replace('_', ' ')}"
    has_example = facts.defaults.get(path, ("reckoned", ""))[0] != "reckoned"
    return " or ".join(dict.fromkeys(_sort(one, not has_example) for one in shape.alternatives))


def _sort(one: Shape, with_example: bool = True) -> str:
    """What may be written at a place, in words."""
    words = "a word or text"
    if one.annotation is bool:
        words = "`yes` or `no`"
    elif one.dimension is not None:
        name, least = one.dimension.name, ""
        if name.startswith("positive "):
            name, least = name.removeprefix("positive "), ", more than zero"
        elif name.endswith(" of zero or more"):
            name, least = name.removesuffix(" of zero or more"), ", zero or more"
        words = name + least + (f", such as `{one.dimension.example.partition(' or ')[0]}`" if with_example else "")
    elif isinstance(one.reader, ChoiceReader):
        words = ", ".join(f"`{o}`" for o in one.reader.options)
    elif one.record is not None:
        words = "group"
    elif one.entry is not None:
        inside = " or ".join(dict.fromkeys(_sort(e, with_example) for e in one.entry.alternatives))
        words = f"list: {inside}" if one.is_list else f"names, each with: {inside}"
    elif one.reader is not None:
        words = " ".join((one.reader.__doc__ or words).split()).rstrip(".")
        words = words[0].lower() + words[1:]
    return words


def _left_out(info: object, path: str, facts: Known) -> str:
    if info.is_required():  # type: ignore[attr-defined]
        return "must be written"
    if path in facts.defaults:
        text, reason = facts.defaults[path]
        return f"{'worked out' if text == 'reckoned' else f'`{text}`'}: {reason}"
    return "asked for" if path in facts.asked else ""


def fresh(text: str) -> str:
    """The file with its second half written anew."""
    return text.partition(MARK)[0] + MARK + "\n\n" + reference().replace("|  |", "| |").replace("|  |", "| |")


if __name__ == "__main__":
    FILE.write_text(fresh(FILE.read_text(encoding="utf-8")), encoding="utf-8")
