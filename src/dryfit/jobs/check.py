"""The use-cases of the first look: check a design, unfold one check, start a design from an example."""

from __future__ import annotations

import shutil
from dataclasses import dataclass, replace
from pathlib import Path

from dryfit.assess.assess import assess
from dryfit.assess.report import Report
from dryfit.design.read import read_text, sound_part, text_of
from dryfit.ground.errors import DesignError, Fault, UnknownNameError
from dryfit.ground.findings import Finding, State, state
from dryfit.machine.machine import Machine, resolve

DEMO = "sunbloom"
_EXAMPLES = Path(__file__).resolve().parents[3] / "examples"


@dataclass(frozen=True)
class Checked:
    """A design that could be read: its file, its text, the machine it describes and the report on it."""

    path: Path
    text: str
    machine: Machine
    report: Report


def check(path: Path) -> Checked:
    """Read a design file, put the machine together and run every trade. Writes nothing.

    path: the file, or a folder with a `design.yaml` in it. Raises DesignError with every fault of the file: first those
    of its text, then, when it can be read, those that run across keys and into meshes.
    """
    file = design_file(path)
    text = text_of(file)
    machine = _machine(text, file)
    return Checked(file, text, machine, assess(machine))


def _machine(text: str, file: Path) -> Machine:
    try:
        design = read_text(text, str(file))
    except DesignError as wrong:
        raise DesignError(_with_lookups(wrong.faults, text, file)) from None
    return resolve(design, file)


def _with_lookups(faults: tuple[Fault, ...], text: str, file: Path) -> list[Fault]:
    """The faults of a text, and with them what is wrong across the keys that could be read: catalogue names, parents,
    tooth counts. Only faults that quote what was typed: others may come of what the first ones left out."""
    sound = sound_part(text, str(file))
    try:
        if sound is not None:
            resolve(sound, file)
    except DesignError as more:
        known = {f.key for f in faults}
        faults += tuple(replace(f, file=str(file)) for f in more.faults if f.read and f.key not in known)
    return sorted(faults, key=lambda f: f.line)


def finding(checked: Checked, name: str) -> Finding:
    """The finding of one check by its id. Raises UnknownNameError with the nearest ids."""
    for f in checked.report.findings:
        if f.check == name:
            return f
    raise UnknownNameError("check", name, [f.check for f in checked.report.findings])


def all_hold(report: Report) -> bool:
    """True if nothing is short or unknown."""
    return all(state(f) in (State.HOLDS, State.TIGHT) for f in report.findings)


def design_file(path: Path) -> Path:
    """The design file meant by a path: itself, or the design.yaml of a folder. Whether it is there shows on reading."""
    try:
        return path / "design.yaml" if path.is_dir() else path
    except (OSError, ValueError):
        # no file can have such a name; the reader says so
        return path


def example_names() -> tuple[str, ...]:
    """Names of the worked examples."""
    return tuple(sorted(p.parent.name for p in _EXAMPLES.glob("*/design.yaml")))


def example(name: str) -> Path:
    """The design file of a worked example. Raises UnknownNameError with the nearest names."""
    names = example_names()
    if name not in names:
        raise UnknownNameError("example", name, names)
    return _EXAMPLES / name / "design.yaml"


def new(folder: Path, like: str = DEMO) -> Path:
    """Start a design as a copy of a worked example, meshes included, and name its design file.

    Never writes into a folder that holds anything. Raises UnknownNameError for an unknown example, DesignError where
    nothing can be written.
    """
    source = example(like).parent
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            fault = Fault(str(folder), 0, "", "is not an empty folder; nothing was written", accepted="a new folder")
            raise DesignError([fault])
        shutil.copytree(source, folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__"))
    except (OSError, ValueError) as trouble:
        reason = getattr(trouble, "strerror", None) or "not a folder name"
        raise DesignError([Fault(str(folder), 0, "", f"cannot be written: {reason}")]) from None
    return folder / "design.yaml"
