"""What all commands share: the arguments they take alike, how they print JSON, and how they end on wrong input."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from dryfit.ground.errors import DesignError, DryfitError, Fault
from dryfit.outputs import terminal
from dryfit.views.plain import faults_plain

Design = Annotated[
    Path, typer.Argument(metavar="DESIGN", help="The design file, or the folder that holds its design.yaml.")
]
Json = Annotated[bool, typer.Option("--json", help="Print plain JSON (docs/json.md) instead of text.")]


@contextmanager
def faults(as_json: bool) -> Iterator[None]:
    """Print what is wrong with the input, as text or JSON, and end with 2."""
    try:
        yield
    except DryfitError as error:
        found = error.faults if isinstance(error, DesignError) else (Fault("dryfit", 0, "", str(error)),)
        if as_json:
            print_json(faults_plain(found))
        else:
            terminal.print_faults(terminal.console(error=True), found)
        raise typer.Exit(2) from None


def shown_path(path: Path) -> str:
    """A path as the user would type it: relative to here where that is shorter."""
    relative = os.path.relpath(path)
    return relative if len(relative) < len(str(path)) else str(path)


def print_json(plain: dict[str, object]) -> None:
    """Print an answer for `--json`."""
    print(json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False))
