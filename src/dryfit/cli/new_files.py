"""Files that a command writes: seen to be possible before the work begins, written beside, put in place at the end."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from dryfit.ground.errors import DesignError, Fault


def ending_of(option: str, path: Path, endings: Sequence[str]) -> str:
    """The ending of a file, which says its format. Raises DesignError for another one."""
    if path.suffix.lower() not in endings:
        raise DesignError([Fault(option, 0, str(path), "its ending says no format", path.suffix, ", ".join(endings))])
    return path.suffix.lower()


def check_new(option: str, path: Path, overwrite: bool) -> None:
    """See that a file may be written there. Raises DesignError where it stands already, or its folder does not."""
    try:
        if path.is_dir():
            raise _trouble(option, path, "is a folder")
        if path.exists() and not overwrite:
            raise _trouble(option, path, "is there already; nothing was written", "another name, or --overwrite")
        if not path.parent.is_dir():
            raise _trouble(option, path, "its folder does not exist")
        if not os.access(path.parent, os.W_OK):
            raise _trouble(option, path, "its folder cannot be written to")
    except (OSError, ValueError):
        raise _trouble(option, path, "cannot be the name of a file") from None


@contextmanager
def put_in_place(option: str, path: Path, overwrite: bool) -> Iterator[Path]:
    """A file beside `path` to write to; renamed to it at the end, taken away again if writing fails."""
    check_new(option, path, overwrite)
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield beside
        check_new(option, path, overwrite)
        beside.replace(path)
    except OSError as trouble:
        raise _trouble(option, path, f"cannot be written: {trouble.strerror or trouble}") from None
    finally:
        beside.unlink(missing_ok=True)


def _trouble(option: str, path: Path, message: str, accepted: str = "") -> DesignError:
    return DesignError([Fault(option, 0, str(path), message, accepted=accepted)])
