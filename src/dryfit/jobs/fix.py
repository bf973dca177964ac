"""The use-case of mending: what would restore a check, and writing one such change into the design file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations
from pathlib import Path

import numpy as np

from dryfit.catalogue.rows import keys, row
from dryfit.design.read import read_text
from dryfit.design.write import changed_text, write_values
from dryfit.ground import units
from dryfit.ground.errors import UnknownNameError
from dryfit.ground.findings import State, state
from dryfit.ground.quantity import Kind, Origin, Value
from dryfit.jobs.check import Checked, check, finding
from dryfit.jobs.variants import Variants, places
from dryfit.machine.branches import BUS
from dryfit.machine.machine import Machine, resolve
from dryfit.studies.cost_class import rule_of
from dryfit.studies.fix import fixes, is_counted
from dryfit.studies.levers import Lever, Option, Surroundings, levers
from dryfit.studies.records import Place, PlaceKind
from dryfit.studies.records_fix import Applied, Edit, Fixes, Offer, Price


@dataclass(frozen=True)
class Rewritten:
    """Machines of a design file that differ in some values; a value that is no single number or word in the design's
    records (the feeds of a strip) is written into the text first and read again."""

    text: str
    file: Path

    def __call__(self, values: Mapping[str, Value | None]) -> Machine:
        """The machine with other values by path; see `Variants`."""
        text, rest = self.text, dict(values)
        for path in [p for p in rest if p.endswith(_LISTS)]:
            text = changed_text(text, path, str(rest.pop(path)), str(self.file))
        return Variants(text, self.file)(rest)


_LISTS = (".feeds",)
"""Keys that hold one word or a list of them."""


def fix(path: Path, name: str | None = None) -> Fixes:
    """The changes that would restore one check, or every check that is short or tight, best first. Writes nothing.

    path: the design file, or its folder. Raises DesignError for a file that is wrong, UnknownNameError with the nearest
    names for a check that does not exist.
    """
    return fixes_of(check(path), name)


def fixes_of(checked: Checked, name: str | None = None) -> Fixes:
    """The same for a design that was read already."""
    if name is not None:
        wanted: Sequence[str] = [finding(checked, name).check]
    else:
        wanted = [f.check for f in checked.report.findings if state(f) is not State.HOLDS]
    build = Rewritten(checked.text, checked.path)
    about = _surroundings(checked.machine)
    found = levers_of(checked, about)
    return fixes(checked.machine, checked.report, build, found, about, wanted)


def levers_of(checked: Checked, about: Surroundings | None = None) -> tuple[Lever, ...]:
    """Everything in a design that its maker may set otherwise."""
    known = _surroundings(checked.machine) if about is None else about
    found = [*places(Variants(checked.text, checked.path), checked.machine), *_others(checked.machine)]
    return (*levers(found, known, Rewritten(checked.text, checked.path)), *_pins_together(checked.machine))


def apply(path: Path, name: str, number: int) -> Applied:
    """Write offer `number` (from 1) of a check into the design file, comments kept, and check it again.

    Raises UnknownNameError where there is no such check or offer; DesignError where the file is wrong, was changed
    meanwhile, or cannot be written. Nothing is written then.
    """
    before = check(path)
    found = fixes_of(before, name).checks[0]
    if not 1 <= number <= len(found.offers):
        there = [str(n) for n in range(1, len(found.offers) + 1)]
        raise UnknownNameError(f"offer for {name}", str(number), there or ["none"])
    offer = found.offers[number - 1]
    return write_offer(before, name, offer, number)


def write_offer(before: Checked, name: str, offer: Offer, number: int = 0) -> Applied:
    """Write an offer for a design that was read already, if the file still holds that text."""
    edits = {e.path: e.new for e in offer.change.edits}

    def accept(text: str, file: str) -> Machine:
        return resolve(read_text(text, file), Path(file))

    write_values(before.path, edits, seen=before.text, accept=accept)
    after = check(before.path)
    old, new = finding(before, name), finding(after, name)
    short = [{f.check for f in c.report.findings if state(f) is State.SHORT} for c in (before, after)]
    return Applied(
        file=str(before.path), check=name, title=new.title, offer=offer, number=number, before=float(old.margin),
        after=float(new.margin), was=state(old), becomes=state(new), reserve=new.reserve.fraction,
        counted=is_counted(new), short_before=len(short[0]), short_after=len(short[1]),
        still=tuple(f.check for f in after.report.findings if f.check in short[1]),
    )  # fmt: skip


def _others(machine: Machine) -> list[Place]:
    """Places that a machine has although nothing was read there: pins of the board, resistors that are not there yet,
    other return wires."""
    found: list[Place] = []
    control, branches = machine.control, machine.power.branches
    others = tuple(p for p in control.board.pins if p not in control.pins)
    for i, pin in enumerate(control.pins):
        if pin:
            able = tuple(p for p in others if control.needs[i] != "pwm" or p in control.board.timers)
            found.append(_pin(machine, i, able))
    for path, ohm in zip(control.input_paths, np.atleast_1d(control.pull_down), strict=True):
        if not np.isfinite(ohm):
            pull = f"{path}.pull_down"
            found.append(Place(pull, PlaceKind.NUMBER, False, 0, "", float("nan"), units.RESISTANCE))
    for path, own in zip(branches.paths, branches.names, strict=True):
        origin = machine.origins.get(f"{path}.returns_with")
        if origin is not None and origin.kind is Kind.DESIGN:
            words = (BUS, *(n for n in branches.names if n != own))
            found.append(Place(f"{path}.returns_with", PlaceKind.WORD, True, origin.line, origin.text, options=words))
    for path, origin in machine.origins.items():
        if path.startswith("light.strips") and path.endswith(".feeds") and origin.text == "one end":
            written = origin.kind is Kind.DESIGN
            line = origin.line if written else 0
            found.append(Place(path, PlaceKind.WORD, written, line, origin.text, options=("one end", "both ends")))
    return found


def _surroundings(machine: Machine) -> Surroundings:
    branches, parts, control = machine.power.branches, machine.parts, machine.control
    names = _part_names(machine) | dict(zip(branches.paths, branches.names, strict=True))
    names |= dict(zip(control.paths, control.names, strict=True))
    names |= dict(zip(control.input_paths, control.input_names, strict=True))
    for path, origin in machine.origins.items():
        if path.endswith(".name") and path.startswith("light."):
            names[path.removesuffix(".name")] = origin.text
    made = dict(zip(parts.paths, parts.made, strict=True))
    made |= {p.removesuffix(".printed"): o.text for p, o in machine.origins.items() if p.endswith(".printed")}
    sheets, rows = _rows(machine)
    return Surroundings(names, made, sheets, rows, _follow(machine), _shelf(machine))


def _follow(machine: Machine) -> dict[str, tuple[str, ...]]:
    """Parts on a ring of as many as there are wheels, turned like them, move out with the wheels."""
    values, wheels = machine.values, len(machine.wheels.kinds)
    rings = [p.removesuffix(".count") for p in values if p.endswith(".ring.count") and values[p] == wheels]
    turned = float(values.get("base.wheels.first_at", 0.0))
    with_wheels = [r for r in rings if abs(float(values.get(f"{r}.first", 0.0)) - turned) < 1e-6]
    return {"base.wheels.circle_radius": tuple(f"{r}.radius" for r in with_wheels)}


def _part_names(machine: Machine) -> dict[str, str]:
    """Names of the parts as written: those that stand in a ring or grid lose their numbers."""
    parts = machine.parts
    count = Counter(parts.paths)
    pairs = zip(parts.paths, parts.names, strict=True)
    return {path: name.rpartition(" ")[0] if count[path] > 1 else name for path, name in pairs}


def _pins_together(machine: Machine) -> list[Lever]:
    """Two functions of one kind moved to free pins at once: a timer that is taken costs all its pins."""
    control = machine.control
    free = [p for p in control.board.pins if p not in control.pins]
    found = []
    for one, other in combinations([i for i, pin in enumerate(control.pins) if pin], 2):
        if control.needs[one] != control.needs[other] or control.needs[one] not in _TIMED:
            continue
        able = [p for p in free if p in control.board.timers]
        spots = tuple(_pin(machine, i, tuple(able)) for i in (one, other))
        options = tuple(
            Option(tuple(Edit(s.path, s.line, s.text, p) for s, p in zip(spots, pins, strict=True)), " and ".join(pins))
            for pins in list(permutations(able, 2))[:_PIN_PAIRS]
        )
        words = " and ".join(f"{s.path} ({control.names[i]})" for s, i in zip(spots, (one, other), strict=True))
        if options:
            rule = rule_of(spots[0].path)
            found.append(Lever(spots, rule, words, Price.FREE, options=options))
    return found


_PIN_PAIRS = 6
_TIMED = ("pwm", "servo pulses")


def _pin(machine: Machine, i: int, options: tuple[str, ...]) -> Place:
    path = f"{machine.control.paths[i]}.pin"
    return Place(path, PlaceKind.WORD, True, machine.origins[path].line, machine.control.pins[i], options=options)


def _rows(machine: Machine) -> tuple[frozenset[str], dict[str, tuple[Option, ...]]]:
    """Numbers that are on the sheet of a bought part; and other rows for each, with every number of the old part that
    is typed beside it."""
    sheets: set[str] = set()
    options: dict[str, tuple[Option, ...]] = {}
    for path, kind in machine.choices.items():
        origin = machine.origins[path]
        if origin.kind is not Kind.DESIGN:
            continue
        group = path.rpartition(".")[0]
        own = path.endswith(".item")
        if own:
            old = row(kind, origin.text) if origin.text in keys(kind) else None
            sheets |= {f"{group}.{column}" for column in (old.quantities if old else ())} - {f"{group}.length"}
        typed = {
            p.removeprefix(f"{group}."): o
            for p, o in machine.origins.items()
            if own and o.kind is Kind.DESIGN and p.startswith(f"{group}.") and p != path
        }
        options[path] = tuple(
            Option(_swap(path, origin.line, origin.text, kind, key, typed), key)
            for key in keys(kind)
            if key != origin.text and _suits(kind, origin.text, key)
        )
    return frozenset(sheets), options


_KEEPS = {"regulators": "output", "strips": "voltage", "servos": "voltage"}
"""What must stay nearly as it is when a part is swapped, since what hangs on it was bought for it."""


def _suits(kind: str, old: str, new: str) -> bool:
    column = _KEEPS.get(kind, "")
    if not column or old not in keys(kind):
        return True
    before, after = (float(row(kind, key).quantities[column].si) for key in (old, new))
    return abs(after - before) <= 0.1 * before


def _swap(path: str, line: int, old: str, kind: str, key: str, typed: Mapping[str, Origin]) -> tuple[Edit, ...]:
    group, new = path.rpartition(".")[0], row(kind, key)
    beside = [
        Edit(f"{group}.{column}", origin.line, origin.text, text)
        for column, origin in typed.items()
        for text in [new.quantities[column].origin.text if column in new.quantities else new.words.get(column, "")]
        if text and text != origin.text
    ]
    return (Edit(path, line, old, key), *beside)


def _shelf(machine: Machine) -> dict[str, tuple[float, ...]]:
    """Sizes of wires and fuses that the catalogue has, and the pitch of every strip."""
    areas = [row("wires", k).quantities["area"].si for k in keys("wires") if k.startswith("class5")]
    shelf = {"wires": tuple(sorted(float(a) for a in areas))}
    fuses = [row("fuses", k) for k in keys("fuses")]
    for path in machine.values:
        if path.endswith(".fuse"):
            kind = machine.origins[f"{path}_class"].text
            ratings = [float(f.quantities["rating"].si) for f in fuses if f.words["class"] == kind]
            shelf[f"fuses {path}"] = tuple(sorted(ratings))
        if path.startswith("light.strips") and path.endswith(".leds_per_length"):
            shelf[f"LEDs {path.replace('leds_per_length', 'length')}"] = (1 / float(machine.values[path]),)
    shelf["fuses"] = tuple(sorted({float(f.quantities["rating"].si) for f in fuses}))
    return shelf
