"""A folder of made files: written beside, put in place at the end; what somebody else put or changed there stays.

A list of what was written, with a mark of its contents, lies in the folder (`made.json`). A file that is still as it
was written is replaced; one that was changed since is kept beside the new one as `<name>.before`.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from dryfit.ground.errors import DesignError, Fault

LIST = "made.json"


def check_folder(folder: Path) -> None:
    """See that a folder can be written to, before the work begins. Raises DesignError where it cannot."""
    try:
        if folder.exists() and not folder.is_dir():
            raise _trouble(folder, "is a file", "a folder, new or made before")
        if folder.is_dir() and any(folder.iterdir()) and not (folder / LIST).is_file():
            message = "holds files that were not made here; nothing was written"
            raise _trouble(folder, message, "a new folder, an empty one, or one made before")
        _written(folder)
        there = next(p for p in (folder, *folder.absolute().parents) if p.exists())
        if not os.access(there, os.W_OK):
            raise _trouble(folder, "cannot be written to")
    except (OSError, ValueError):
        raise _trouble(folder, "cannot be the name of a folder") from None


@contextmanager
def filled(folder: Path) -> Iterator[Path]:
    """A folder beside `folder` to write into; its files are put in place at the end, all of them or none. Files that
    were made before and are not made now are taken away, unless they were changed."""
    check_folder(folder)
    folder.absolute().parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", suffix=".part", dir=folder.absolute().parent))
    try:
        yield beside
        _put_in_place(beside, folder)
    except OSError as trouble:
        raise _trouble(folder, f"cannot be written: {trouble.strerror or trouble}") from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def _put_in_place(beside: Path, folder: Path) -> None:
    new = {str(p.relative_to(beside)): _mark(p) for p in sorted(beside.rglob("*")) if p.is_file()}
    old = _written(folder)
    for name in (*old, *new):
        there = folder / name
        if there.is_file() and _mark(there) not in (old.get(name), new.get(name)):
            there.replace(_free(there))
    for name in old.keys() - new.keys():
        (folder / name).unlink(missing_ok=True)
    for name in new:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (beside / name).replace(folder / name)
    text = json.dumps(new, indent=1, ensure_ascii=False) + "\n"
    (beside / LIST).write_text(text, encoding="utf-8")
    (beside / LIST).replace(folder / LIST)
    for empty in sorted((p for p in folder.rglob("*") if p.is_dir()), reverse=True):
        if not any(empty.iterdir()):
            empty.rmdir()


def _free(file: Path) -> Path:
    """A name for a changed file that is kept: `<name>.before`, or the next one that is free."""
    names = (file.with_name(f"{file.name}.before{n or ''}") for n in range(1000))
    return next(name for name in names if not name.exists())


def _written(folder: Path) -> dict[str, str]:
    """What was written into the folder before: marks of the contents by name."""
    if not (folder / LIST).is_file():
        return {}
    try:
        listed = json.loads((folder / LIST).read_text(encoding="utf-8"))
        known = {str(name): str(mark) for name, mark in listed.items()}
    except (ValueError, AttributeError):
        raise _trouble(folder / LIST, "is not a list of made files; nothing was written", "another folder") from None
    # a list that names what lies outside the folder was not written here
    return {n: m for n, m in known.items() if not Path(n).is_absolute() and ".." not in Path(n).parts}


def _mark(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()


def _trouble(folder: Path, message: str, accepted: str = "") -> DesignError:
    return DesignError([Fault("--out", 0, str(folder), message, accepted=accepted)])
