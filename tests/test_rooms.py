"""Reads every import under src/dryfit and holds it against the table of rooms in docs/adding-a-trade.md."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1] / "src" / "dryfit"

# Room -> which of our modules it may import, as patterns on "room.file". {own} is the trade's own name.
ROOMS = {
    "ground": [r"ground\..*"],
    "design": [r"ground\..*", r"design\..*"],
    "catalogue": [r"ground\..*", r"catalogue\..*"],
    "machine": [r"ground\..*", r"design\..*", r"catalogue\..*", r"machine\..*"],
    "trades:formulas": [r"ground\..*", r"trades\.{own}\.(?!checks).*"],
    "trades:checks": [r"ground\..*", r"machine\..*", r"trades\.{own}\..*"],
    "assess": [r"ground\..*", r"machine\..*", r"trades\.\w+\.checks\w*", r"assess\..*"],
    "studies": [r"ground\..*", r"machine\..*", r"assess\..*", r"studies\..*"],
    "physics": [r"ground\..*", r"machine\..*", r"physics\..*"],
    "making": [r"ground\..*", r"machine\..*", r"making\..*"],
    "views": [
        r"ground\..*",
        r"machine\..*",
        r"assess\.(report|records\w*)",
        r"(studies|physics|making)\.records\w*",
        r"views\..*",
    ],
    "outputs": [r"ground\..*", r"views\..*"],
    "jobs": [r"(?!cli\.|workbench\.).*"],
    "cli": [r"jobs\..*", r"views\..*", r"outputs\..*", r"cli\..*", r"ground\.errors"],
    "workbench": [r"jobs\..*", r"views\..*", r"outputs\..*", r"workbench\..*", r"ground\.errors"],
}

# Libraries of others: where each may be imported at all. Those in HEAVY only inside a function, outside their one room.
LIBRARIES = {
    "numpy": {*(r.partition(":")[0] for r in ROOMS)},
    "pydantic": {"design"},
    "pydantic_core": {"design"},
    "ruamel": {"design"},
    "rich": {"outputs", "cli"},
    "typer": {"cli"},
    "click": {"cli"},
    "trimesh": {"making"},
    "stl": {"machine"},
    "manifold3d": {"making"},
    "shapely": {"making"},
    "scipy": {"machine", "studies", "physics", "making"},
    "matplotlib": {"outputs"},
    "typst": {"outputs"},
    "ezdxf": {"outputs"},
    "xlsxwriter": {"outputs"},
    "build123d": {"outputs", "making"},
    "mujoco": {"physics"},
    "nicegui": {"workbench"},
    "dask": {"studies"},
    "distributed": {"studies"},
    "pyarrow": {"outputs"},
}
HEAVY = {
    "stl": "",
    "trimesh": "",
    "manifold3d": "",
    "shapely": "",
    "scipy": "",
    "ezdxf": "",
    "matplotlib": "",
    "typst": "",
    "build123d": "",
    "mujoco": "physics",
    "nicegui": "workbench",
    "dask": "",
    "distributed": "",
    "pyarrow": "",
    "xlsxwriter": "",
}
FORBIDDEN_NAMES = {"utils", "util", "common", "helpers", "helper", "core", "misc"}


@dataclass(frozen=True)
class Import:
    """One import: the file that has it ("views.words"), its line, what it names, whether loading runs it."""

    module: str
    line: int
    target: str
    at_load: bool


def module_of(file: Path, root: Path) -> str:
    """Name of a module inside the package: "trades.drive.checks"; a package is named by itself."""
    parts = list(file.relative_to(root).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(root: Path) -> Iterator[Import]:
    """Every import of every file under the package at `root`."""
    for file in sorted(root.rglob("*.py")):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        later = {
            id(inner)
            for outer in ast.walk(tree)
            if isinstance(outer, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            for inner in ast.walk(outer)
        }
        module = module_of(file, root)
        package = ("dryfit." + module).split(".") if file.name == "__init__.py" else ["dryfit", *module.split(".")[:-1]]
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                base = package[: len(package) - node.level + 1] if node.level else []
                stem = ".".join([*base, *([node.module] if node.module else [])])
                names = [f"{stem}.{alias.name}" for alias in node.names]
            else:
                continue
            yield from (Import(module, node.lineno, name, id(node) not in later) for name in names)


def room_of(module: str) -> str:
    """The room a module stands in; in a trade the formulas and the checks are two."""
    parts = module.split(".")
    if parts[0] == "trades" and len(parts) > 2:
        return "trades:checks" if parts[2].startswith("checks") else "trades:formulas"
    return parts[0]


def ours(target: str, modules: set[str]) -> str:
    """The module of ours that an import names: `from dryfit.ground import units` names ground.units."""
    inside = target.removeprefix("dryfit.")
    while inside and inside not in modules:
        inside = inside.rpartition(".")[0]
    return inside


def breaches(root: Path) -> list[str]:
    """What the source under `root` does against the rules, one sentence each."""
    found = []
    modules = {module_of(f, root) for f in root.rglob("*.py")}
    packages = {module_of(f, root) for f in root.rglob("__init__.py")}
    edges: dict[str, set[str]] = {m: set() for m in modules}
    for i in imports(root):
        where = f"{i.module}:{i.line}"
        room = room_of(i.module)
        library = i.target.split(".")[0]
        if library == "dryfit":
            target = ours(i.target, modules)
            if target in packages:
                # packages are empty, so what is named in one and is no module is not there
                found.append(f"{where} imports {i.target}, which does not exist")
                continue
            edges[i.module].add(target)
            own = i.module.split(".")[1] if room.startswith("trades:") else ""
            allowed = [p.replace("{own}", own) for p in ROOMS.get(room, [])]
            if room == "outputs" and room_of(target) == "outputs":
                found.append(f"{where}: outputs import each other")
            elif room and not any(re.fullmatch(p, target) for p in allowed):
                found.append(f"{where} ({room}) imports {target}")
        elif library in LIBRARIES:
            if room and room.partition(":")[0] not in LIBRARIES[library]:
                found.append(f"{where} ({room}) imports {library}")
            if i.at_load and library in HEAVY and HEAVY[library] != room:
                found.append(f"{where} imports {library} when it loads; import it where it is used")
        elif not is_standard(library):
            found.append(f"{where} imports {library}, which has no room in the table")
    found += [f"imports go round: {' -> '.join(loop)}" for loop in loops(edges)]
    found += [f"{p.relative_to(root)}: a name that says nothing" for p in root.rglob("*") if p.stem in FORBIDDEN_NAMES]
    found += [
        f"{f.relative_to(root)} is not empty"
        for f in root.rglob("__init__.py")
        if f.parent != root and f.read_text(encoding="utf-8").strip()
    ]
    found += [f"{m} stands in no room of the table" for m in sorted(modules) if m and not known_room(m)]
    return found


def known_room(module: str) -> bool:
    """Whether the table has this module's room."""
    return room_of(module) in ROOMS or module == "trades" or (module.startswith("trades.") and module.count(".") == 1)


def is_standard(library: str) -> bool:
    """Whether a library comes with Python."""
    import sys

    return library in sys.stdlib_module_names


def loops(edges: dict[str, set[str]]) -> list[list[str]]:
    """One loop of imports for each file from which one can be walked back to it without passing a smaller one."""
    found, done = [], set[str]()
    for start in sorted(edges):
        path: list[str] = []
        stack: list[tuple[str, Iterator[str]]] = [(start, iter(sorted(edges[start])))] if start not in done else []
        if stack:
            path.append(start)
        while stack:
            at, rest = stack[-1]
            following = next(rest, None)
            if following is None:
                stack.pop()
                path.pop()
                done.add(at)
            elif following in path:
                found.append([*path[path.index(following) :], following])
            elif following not in done:
                stack.append((following, iter(sorted(edges.get(following, ())))))
                path.append(following)
    return found


def test_every_import_keeps_to_the_rooms() -> None:
    assert breaches(ROOT) == []


def test_the_reader_of_imports_sees_them_all() -> None:
    seen = {(i.module, i.target) for i in imports(ROOT)}
    assert ("ground.findings", "dryfit.ground.axes.column") in seen
    assert ("design.tree", "ruamel.yaml.YAML") in seen
    assert len(seen) > 100


GOOD = {
    "__init__.py": "from dryfit.jobs.check import check\n",
    "ground/__init__.py": "",
    "ground/sources.py": "",
    "ground/units.py": "import math\nimport numpy as np\n",
    "machine/__init__.py": "",
    "machine/wheels.py": "from dryfit.ground import units\ndef mesh():\n    import stl\n",
    "trades/__init__.py": "",
    "trades/drive/__init__.py": "",
    "trades/drive/formulas.py": "from dryfit.ground.units import RPM\n",
    "trades/drive/checks.py": "from dryfit.trades.drive import formulas\nfrom dryfit.machine.wheels import Wheels\n",
    "outputs/__init__.py": "",
    "outputs/terminal.py": "from dryfit.ground import units\nimport rich\n",
    "jobs/__init__.py": "",
    "jobs/check.py": "from dryfit.trades.drive.checks import assess\n",
}


@pytest.mark.parametrize(
    ("file", "text", "breach"),
    [
        ("ground/units.py", "from dryfit.machine import wheels\n", "ground.units:1 (ground) imports machine.wheels"),
        ("ground/units.py", "from ..machine.wheels import W\n", "ground.units:1 (ground) imports machine.wheels"),
        (
            "trades/drive/formulas.py",
            "from dryfit.machine.wheels import Wheels\n",
            "trades.drive.formulas:1 (trades:formulas) imports machine.wheels",
        ),
        (
            "trades/drive/formulas.py",
            "def f():\n    from dryfit.trades.drive import checks\n",
            "trades.drive.formulas:2 (trades:formulas) imports trades.drive.checks",
        ),
        (
            "trades/power/checks.py",
            "from dryfit.trades.drive.formulas import x\n",
            "trades.power.checks:1 (trades:checks) imports trades.drive.formulas",
        ),
        ("cli/main.py", "from dryfit.machine import wheels\n", "cli.main:1 (cli) imports machine.wheels"),
        ("outputs/book.py", "from dryfit.outputs import terminal\n", "outputs.book:1: outputs import each other"),
        (
            "machine/wheels.py",
            "import stl\n",
            "machine.wheels:1 imports stl when it loads; import it where it is used",
        ),
        (
            "trades/drive/formulas.py",
            "import scipy.optimize\n",
            "trades.drive.formulas:1 (trades:formulas) imports scipy",
        ),
        ("ground/units.py", "import pydantic\n", "ground.units:1 (ground) imports pydantic"),
        (
            "ground/units.py",
            "from dryfit.ground import no\n",
            "ground.units:1 imports dryfit.ground.no, which does not exist",
        ),
        ("ground/units.py", "import pint\n", "ground.units:1 imports pint, which has no room in the table"),
        (
            "ground/findings.py",
            "from dryfit.ground import units\nimport dryfit.ground.axes\n",
            "imports go round: ground.axes -> ground.findings -> ground.axes",
        ),
        ("machine/utils.py", "", "machine/utils.py: a name that says nothing"),
        ("machine/helpers/x.py", "", "machine/helpers: a name that says nothing"),
        ("machine/__init__.py", "X = 1\n", "machine/__init__.py is not empty"),
        ("gears/wheel.py", "", "gears.wheel stands in no room of the table"),
    ],
)
def test_the_test_can_fail(tmp_path: Path, file: str, text: str, breach: str) -> None:
    for name, content in {**GOOD, "ground/axes.py": "from dryfit.ground import findings\n", file: text}.items():
        if name == "ground/axes.py" and file != "ground/findings.py":
            continue
        target = tmp_path / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(content, encoding="utf-8")
    assert breach in breaches(tmp_path)


def test_a_tree_that_keeps_the_rules_passes(tmp_path: Path) -> None:
    for name, content in GOOD.items():
        target = tmp_path / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(content, encoding="utf-8")
    assert breaches(tmp_path) == []
