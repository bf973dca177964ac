"""What can be wrong with what the user gave us.

DryfitError
├── DesignError      the design file (or a file it names) is wrong: a list of Faults
└── UnknownNameError      a check, example or command argument that does not exist

OneNumberError (ValueError)      a caller of ours varied what shapes the machine as if it were a plain number
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches


@dataclass(frozen=True)
class Fault:
    """One thing wrong in one place: file and line, the key, what was read, what is accepted, what to do next."""

    file: str
    line: int
    key: str
    message: str
    read: str = ""
    accepted: str = ""

    def __str__(self) -> str:
        parts = [f"{self.file}:{self.line}: " if self.line else f"{self.file}: ", f"{self.key}: " if self.key else ""]
        parts.append(self.message)
        if self.read:
            parts.append(f"; read {self.read!r}")
        if self.accepted:
            parts.append(f"; accepted: {self.accepted}")
        return "".join(parts)


class DryfitError(Exception):
    """Anything that is the input's fault and has a message for the user."""


class DesignError(DryfitError):
    """The design cannot be read; carries every fault found."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(f) for f in self.faults))


class UnknownNameError(DryfitError):
    """A name that was asked for does not exist; the message offers the nearest."""

    def __init__(self, kind: str, name: str, known: Sequence[str]) -> None:
        self.kind, self.name, self.known = kind, name, tuple(known)
        super().__init__(kind, name, self.known)

    def __str__(self) -> str:
        # the nearest names are looked for when somebody reads them
        return f"no {self.kind} named {self.name!r}{nearest(self.name, self.known)}"


class OneNumberError(ValueError):
    """A number that shapes the machine (how many wheels) was given as an array of several: machines of different
    shape are put together one by one."""


def nearest(word: str, known: Iterable[str]) -> str:
    """'; did you mean …?' or '; there are: …', ready to be put at the end of a message."""
    names = list(known)
    close = get_close_matches(word, names, n=3, cutoff=0.55)
    if close:
        return f"; did you mean {' or '.join(close)}?"
    return f"; there are: {', '.join(names)}" if names else ""
