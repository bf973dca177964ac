"""Slicing: forty meshes of a million triangles, against sections by a general mesh library measured beside it.

Run it by itself: `python benchmarks/slicing.py`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import trimesh
from timing import best, row

from dryfit.design.read import read_design
from dryfit.design.sections.workshop import Workshop
from dryfit.jobs.check import example
from dryfit.machine.ledger import Ledger
from dryfit.machine.machine import resolve
from dryfit.machine.printed_things import things_to_print
from dryfit.machine.printing import How, Printing, resolve_printing
from dryfit.machine.workshop import resolve_workshop
from dryfit.making.alternatives import alternatives
from dryfit.making.lying import print_set
from dryfit.making.records_print import Body
from dryfit.making.records_solids import Solid
from dryfit.making.slicing import sliced

MESHES, TRIANGLES = 40, 1_000_000
SAMPLE = 12
"""Layers of one mesh that the library cuts, to stand for all."""
ASKED = {"meshes": 20, "sunbloom": 3}
"""What is asked for, s."""
HOW = How(0.4e-3, 0.2e-3, 0.45e-3, 3, 5, 4, 0.15, "as modelled", False)


def main() -> None:
    """Print every figure with its baseline and what is asked of it."""
    print(f"\nslicing: {MESHES} meshes, {TRIANGLES:,} triangles in all")
    meshes = [_lumpy(k) for k in range(MESHES)]
    bodies = [Body(f"lump {k}", "", "", "petg", _solid(m), 1, HOW) for k, m in enumerate(meshes)]
    printing = _printing()
    assert not print_set((), printing, bodies[:1]).faults
    seconds = best(lambda: print_set((), printing, bodies), 1)
    count = sum(len(m.faces) for m in meshes)
    row("lie, slice and time all of them", f"{seconds:.1f} s", f"asked: {ASKED['meshes']} s; {count:,} triangles")

    solid, mesh = bodies[0].solid, meshes[0]
    layers = len(sliced(solid, HOW).area)
    ours = best(lambda: sliced(solid, HOW), 3) / layers
    heights = np.linspace(mesh.bounds[0, 2], mesh.bounds[1, 2], SAMPLE + 2)[1:-1]
    theirs = best(lambda: [mesh.section([0, 0, 1], [0, 0, z]) for z in heights], 1) / SAMPLE
    row("a layer with walls, solid parts and overhang", f"{1e3 * ours:.2f} ms")
    row("a bare section by the mesh library", f"{1e3 * theirs:.2f} ms", f"{theirs / ours:.1f} times as long")

    file = example("sunbloom")
    whole = best(lambda: _example(file), 3)
    row("all prints of the demo machine", f"{whole:.2f} s", f"asked: {ASKED['sunbloom']} s")
    row("with four other ways of printing them", f"{best(lambda: _example(file, True), 2):.2f} s")


def _example(file: Path, others: bool = False) -> None:
    design = read_design(file)
    machine = resolve(design, file)
    ledger = Ledger(file.name)
    printing = resolve_printing(design.workshop, ledger, machine.workshop)
    things = things_to_print(design, ledger, machine, printing, file.parent).things
    found = print_set(things, printing, file=file.name)
    if others:
        alternatives(found.printed, printing)


def _printing() -> Printing:
    record = Workshop.model_validate({"printers": [{"name": "one", "bed": ["300 mm", "300 mm", "300 mm"]}]})
    return resolve_printing(record, Ledger(), resolve_workshop(record, Ledger()))


def _lumpy(k: int) -> trimesh.Trimesh:
    """A lumpy ball about 50 mm high, as no two are: rings of corners from pole to pole."""
    n = int(np.sqrt(TRIANGLES / MESHES / 2)) + 1
    height, around = np.arange(1, n + 1) * np.pi / (n + 1), np.arange(n) * 2 * np.pi / n
    t, a = (v.ravel() for v in np.meshgrid(height, around, indexing="ij"))
    points = np.stack([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)], axis=-1)
    points *= (0.025 * (1 + 0.1 * np.sin((4 + k % 5) * a) * np.sin(t) * np.cos(1.5 * points[:, 2] + k)))[:, None]
    at = np.arange(n * n).reshape(n, n)
    here, on = at[:-1].ravel(), np.roll(at[:-1], -1, axis=1).ravel()
    below, below_on = at[1:].ravel(), np.roll(at[1:], -1, axis=1).ravel()
    top, bottom = np.full(n, n * n), np.full(n, n * n + 1)
    faces = [
        np.stack([here, below, below_on], axis=-1),
        np.stack([here, below_on, on], axis=-1),
        np.stack([top, at[0], np.roll(at[0], -1)], axis=-1),
        np.stack([bottom, np.roll(at[-1], -1), at[-1]], axis=-1),
    ]
    poles = np.array([[0, 0, 0.025], [0, 0, -0.025]])
    return trimesh.Trimesh(np.concatenate([points, poles]), np.concatenate(faces), process=False)


def _solid(mesh: trimesh.Trimesh) -> Solid:
    return Solid(np.array(mesh.vertices), np.array(mesh.faces, dtype=np.int64))


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent))
    main()
