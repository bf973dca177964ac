"""The use-case of the bench: what to read, what was read, and what the design looks like in its light."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from math import floor, isfinite, log10
from pathlib import Path
from typing import Any

import numpy as np

from dryfit.assess.assess import assess
from dryfit.assess.bench import TIME_FACTOR, Prediction, bench
from dryfit.assess.report import Report
from dryfit.design.read import read_text, text_of
from dryfit.design.records import Design
from dryfit.design.sections.readings import Reading
from dryfit.design.values import dimension_at
from dryfit.design.write import write_values
from dryfit.ground import units
from dryfit.ground.errors import DesignError, DryfitError, Fault, UnknownNameError
from dryfit.ground.findings import Finding, State, state
from dryfit.ground.quantity import Kind, Origin, Quantity, Spread, Value
from dryfit.jobs.check import Checked, check, design_file
from dryfit.jobs.readings_of_units import counted_together, is_drawn, number, shared_inputs
from dryfit.jobs.spread import uncertain
from dryfit.jobs.variants import Variants
from dryfit.machine.machine import Machine, resolve
from dryfit.making.bench_points import words
from dryfit.making.records_bench import Aside, Bench, CheckMove, Elsewhere, Moved, Stage, Taken, TestPoint, side
from dryfit.making.stages import stages
from dryfit.studies.recalibration import ASIDE, Model, bands, recalibrate
from dryfit.studies.records_readings import Given, Recalibration, Shifted
from dryfit.studies.records_spread import Input

Plates = Sequence[tuple[str, float]]

_LIKELY = 20.0
"""A reading so many times more or less than predicted is a slip of typing, not a machine (common practice)."""
_FACTOR_DOUBT = 0.3
"""How far hours of printing may lie from the plan before a plate was timed, as a part of it (common practice)."""
_OTHER_STAGE = {"body": "frame"}
"""Where points are read on a machine that has no such stage."""


def readings(path: Path, plates: Plates = ()) -> Bench:
    """The test points of a design by stage, each with its band; with the readings that stand in the file, what they
    move and every check before and after. Writes nothing.

    plates: name and planned time, s, of the first plates of the print plan. Raises DesignError with every fault of the
    file, readings that cannot be read included.
    """
    return _bench(check(path), plates)[0]


def enter(path: Path, entries: Sequence[str], day: date | None = None, plates: Plates = ()) -> Bench:
    """Write readings ("POINT=VALUE") into the design file with their day, today where none is given, and answer as
    `readings` does. A reading that stood there moves to `earlier`.

    All of them are written or none. Raises UnknownNameError for an unknown point, DesignError for what cannot be read.
    """
    checked = check(path)
    design = read_text(checked.text, str(checked.path))
    typed: dict[str, str] = {}
    faults: list[Fault] = []
    known = {p.point: p for p in bench(checked.machine, plates)}
    for entry in entries:
        name, sign, text = (part.strip() for part in entry.partition("="))
        if not sign or not name or not text:
            faults.append(Fault("--enter", 0, "", "not a reading", entry, "POINT=VALUE, such as mass-frame=2.3 kg"))
        elif name not in known:
            raise UnknownNameError("test point", name, tuple(known))
        elif name in typed:
            faults.append(Fault("--enter", 0, name, "is given twice", text, "one value for each point"))
        else:
            typed[name] = text
            faults += _faulty(known[name], text, "--enter", 0)
    if faults:
        raise DesignError(faults)
    values: dict[str, str] = {}
    for name, text in typed.items():
        key = f"readings.{name}"
        old = design.readings.get(name)
        if old is not None:
            values |= {f"{key}.earlier": _earlier(old)} | ({f"{key}.used": "no"} if old.used else {})
        values |= {f"{key}.value": text, f"{key}.date": (day or date.today()).isoformat()}
    _write(checked, values)
    return readings(path, plates)


def adopt(path: Path, plates: Plates = ()) -> Bench:
    """Write what the readings move into the design file, each with its ±, and mark those readings as used, so that
    they do not count twice. Answers with what was written, before and after. Raises DesignError where nothing moves."""
    checked = check(path)
    found, result, counted = _bench(checked, plates)
    kept = [s for s in result.moved if not is_drawn(s.input.path)]
    left = {a.point for a in result.aside} | {point for s in result.moved if is_drawn(s.input.path) for point in s.by}
    left -= {point for s in kept for point in s.by}
    if not kept:
        raise DesignError([Fault(str(checked.path), 0, "readings", "no reading moves anything; nothing was written")])
    design = read_text(checked.text, str(checked.path))
    values = {s.input.path: _typed(s, design) for s in kept}
    _write(checked, values | {f"readings.{name}.used": "yes" for name in counted if name not in left})
    paths = {s.input.path for s in kept}
    return replace(found, moved=tuple(m for m in found.moved if m.path in paths))


def points(checked: Checked, plates: Plates = ()) -> tuple[TestPoint, ...]:
    """The test points of a design with their bands and readings, in building order."""
    return _points(checked, read_text(checked.text, str(checked.path)), plates)[1]


def point(found: Bench, name: str) -> TestPoint:
    """One test point by its name. Raises UnknownNameError with the nearest names."""
    for p in found.points:
        if p.name == name:
            return p
    raise UnknownNameError("test point", name, [p.name for p in found.points])


def as_predicted(found: Bench) -> bool:
    """Whether every reading lies in its band and every check holds in the light of the readings."""
    return not any(side(p) for p in found.points) and all(
        move.becomes in (State.HOLDS, State.TIGHT) for move in found.checks
    )


def _bench(checked: Checked, plates: Plates) -> tuple[Bench, Recalibration, tuple[str, ...]]:
    """The bench, what the readings make of the design, and the points whose readings were given to the model."""
    design = read_text(checked.text, str(checked.path))
    model, listed, predictions = _points(checked, design, plates)
    given = [_given(predictions[p.name], p) for p in listed if _counts(p)]
    given += counted_together(listed, predictions)
    result = recalibrate(replace(model, inputs=model.inputs + shared_inputs(checked.machine, model.inputs)), given)
    by_point = {p.name: p for p in listed}
    report = checked.report
    after = report if not result.moved else assess(_changed(checked, result.moved))
    return (
        Bench(
            name=checked.machine.name,
            stages=_stages(checked),
            points=listed,
            terms={name: p.term for name, p in predictions.items()},
            moved=tuple(_moved(s, design) for s in result.moved),
            direct=result.direct,
            aside=tuple(
                Aside(a.point, _why(by_point[a.point], a.deviations)) for a in result.aside if side(by_point[a.point])
            ),
            elsewhere=tuple(
                Elsewhere(name, str(r.value), r.value.origin.line)
                for name, r in design.readings.items()
                if name not in by_point
            ),
            checks=_moves(report, after),
        ),
        result,
        tuple(dict.fromkeys(g.point for g in given)),
    )


def _points(
    checked: Checked, design: Design, plates: Plates
) -> tuple[Model, tuple[TestPoint, ...], dict[str, Prediction]]:
    inputs = uncertain(checked)
    if plates:
        inputs += (_time_factor(design),)
    model = Model(Variants(checked.text, checked.path), inputs, tuple(plates))
    found = bands(model)
    predictions = {p.point: p for p in bench(checked.machine, plates)}
    order = [s.name for s in _stages(checked)]
    listed, faults = [], []
    for name, p in predictions.items():
        stage = p.stage if p.stage in order else _OTHER_STAGE.get(p.stage, order[0])
        given = {t.symbol: units.show(number(t.value), t.unit) for t in p.given}
        w, band = words(p.kind, given), found[name]
        one = TestPoint(
            name=name, stage=stage, title=p.title, unit=p.term.unit, predicted=band.predicted, low=band.low,
            high=band.high, instrument=w.instrument, accuracy=number(p.accuracy.value), how=w.how, stop=w.stop,
            cautions=w.cautions, outside=w.outside, most=p.most,
        )  # fmt: skip
        reading = design.readings.get(name)
        if reading is not None:
            line, text = reading.value.origin.line, str(reading.value)
            wrong = _faulty(p, text, str(checked.path), line)
            faults += wrong
            if not wrong:
                si = units.read(text, units.SI[one.unit])[0]
                day = None if reading.date is None else reading.date.date
                one = replace(one, taken=Taken(si, text, day, bool(reading.used), line))
        listed.append(one)
    if faults:
        raise DesignError(sorted(faults, key=lambda f: f.line))
    listed.sort(key=lambda p: order.index(p.stage))
    return model, tuple(listed), predictions


def _stages(checked: Checked) -> tuple[Stage, ...]:
    return stages(checked.machine)


def _counts(p: TestPoint) -> bool:
    """Whether a reading tells about numbers of the design: taken, not used yet, of something that can be predicted, and
    not of a thing that only has to be small enough."""
    return p.taken is not None and not p.taken.used and not p.most and isfinite(p.predicted)


def _given(prediction: Prediction, p: TestPoint) -> Given:
    assert p.taken is not None
    scatter = 0.0 if prediction.scatter is None else number(prediction.scatter.value)
    return Given(p.name, p.taken.value, p.accuracy, scatter, prediction.reads)


def _faulty(p: Prediction, text: str, file: str, line: int) -> list[Fault]:
    """What is wrong with a reading, if anything: not a quantity of the kind, or no likely one."""
    key = f"readings.{p.point}.value" if line else p.point
    unit, predicted = p.term.unit, number(p.term.value)
    try:
        value, half = units.read(text, units.SI[unit])
    except units.UnitError as wrong:
        return [Fault(file, line, key, wrong.problem, text, wrong.accepted)]
    if half is not None:
        return [Fault(file, line, key, "a reading carries no ±; the instrument's is known", text, "one value")]
    low, high = predicted / _LIKELY, predicted * _LIKELY
    if (value < low and not p.most) or (isfinite(high) and value > high):
        ends = f"{units.show(low, unit)} to {units.show(high, unit)}"
        return [Fault(file, line, key, f"nothing like the {units.show(predicted, unit)} predicted", text, ends)]
    return []


def _earlier(old: Reading) -> str:
    """What an older reading leaves behind: itself after those that it took the place of."""
    day = "" if old.date is None else f" ({old.date.date.isoformat()})"
    now = f"{old.value}{day}"
    return f"{old.earlier}; {now}" if old.earlier else now


def _time_factor(design: Design) -> Input:
    typed = design.workshop.time_factor
    nominal = 1.0 if typed is None else float(typed.si)
    half = nominal * (_FACTOR_DOUBT if typed is None or typed.spread is None else typed.spread.fraction)
    line, text = (0, "1") if typed is None else (typed.origin.line, typed.origin.text)
    return Input(
        TIME_FACTOR, line, text, "1", nominal, nominal - half, nominal + half, "usual spread",
        "plans and printers differ by a third", "Time the first plates.",
    )  # fmt: skip


def _changed(checked: Checked, moved: Sequence[Shifted]) -> Machine:
    values: dict[str, Value | None] = {}
    for s in moved:
        if s.input.path == TIME_FACTOR:
            continue
        part = s.doubt_after / abs(s.after) if s.after else 0.0
        origin = Origin(Kind.DESIGN, s.input.path, s.input.line, "as the readings say")
        values[s.input.path] = Quantity(s.after, "", origin, Spread(part, "given by readings"))
    return Variants(checked.text, checked.path)(values)


def _moved(s: Shifted, design: Design) -> Moved:
    one = s.input
    title = _title(one.path, design)
    return Moved(one.path, title, one.unit, one.nominal, s.after, s.doubt_before, s.doubt_after, s.by)


def _title(path: str, design: Design) -> str:
    """A number of the design in words: "mass of base panels", "friction"."""
    node: Any = design
    name = ""
    for key, index in re.findall(r"([A-Za-z_]+)(?:\[([0-9]+)\])?", path):
        node = getattr(node, key, None)
        node = node[int(index)] if index and node is not None else node
        name = str(getattr(node, "name", None) or name) if index else name
    *above, words = re.sub(r"\[[0-9]+\]", "", path).replace("_", " ").split(".")
    section = above[-1] if above else ""
    return f"{words} of {name}" if name else words if section in ("", "brief") else f"{words}, {section}"


def _why(p: TestPoint, deviations: float) -> str:
    if deviations == 0:
        return "no number of the design that is in doubt could explain it"
    return (
        f"it lies {deviations:.0f} standard deviations from the prediction, farther than doubt about design and "
        f"instrument goes; from {ASIDE:.0f} on a reading is not forced on the model"
    )


def _moves(before: Report, after: Report) -> tuple[CheckMove, ...]:
    """Every check before and after; those whose state changes first, then by how far the margin moves."""
    now: Mapping[str, Finding] = {f.check: f for f in after.findings}
    found = [
        CheckMove(f.check, f.title, state(f), state(now[f.check]), float(f.margin), float(now[f.check].margin))
        for f in before.findings
        if f.check in now
    ]
    return tuple(sorted(found, key=_need))


def _need(move: CheckMove) -> tuple[int, float, str]:
    by = abs(np.nan_to_num(move.after) - np.nan_to_num(move.before))
    if move.becomes is not move.was:
        return (0 if move.becomes in (State.SHORT, State.UNKNOWN) else 1, -by, move.check)
    return 2, -by, move.check


def _typed(s: Shifted, design: Design) -> str:
    """A moved number as it is typed, with its ±, in the unit that it had."""
    try:
        dimension = dimension_at(design, s.input.path)
    except DryfitError:
        dimension = units.SI["1"]
    typed = re.search(r"[^\s0-9.±+-]\S*", s.input.text.partition("±")[0])
    unit = typed.group() if typed and typed.group() in dimension.units else ""
    if not unit and dimension.units:
        shown = units.show(s.after, dimension.si).split(" ")[1].replace("·", "*") if dimension.si != "1" else "%"
        unit = shown if shown in dimension.units else next(iter(dimension.units))
    factor = dimension.units.get(unit, 1.0)
    value = (s.after - dimension.offsets.get(unit, 0.0)) / factor
    half = s.doubt_after / factor
    if not half or not value:
        return f"{value:.6g} {unit}".strip()
    places = max(0, 1 - floor(log10(half)))
    number, doubt = f"{value:.{places}f}", f"{half:.{places}f}"
    return f"{number} {unit} ± {doubt} {unit}" if unit else f"{number} ± {doubt}"


def _write(checked: Checked, values: Mapping[str, str]) -> None:
    """All values or none, if the design still makes a machine with them."""

    def accept(text: str, file: str) -> object:
        return resolve(read_text(text, file), checked.path)

    write_values(design_file(checked.path), values, seen=text_of(checked.path), accept=accept)
