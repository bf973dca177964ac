"""Sources: who says so, where, and how sure we are of having read it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Status(Enum):
    """How the statement was come by."""

    SEEN = "seen"
    MEMORY = "from memory"
    PRACTICE = "common practice"
    DERIVED = "derived"


@dataclass(frozen=True)
class Source:
    """A published place (standard and clause, handbook and section), or a plain statement of having none."""

    title: str
    place: str = ""
    status: Status = Status.SEEN

    def __str__(self) -> str:
        words = f"{self.title}, {self.place}" if self.place else self.title
        return words if self.status is Status.SEEN else f"{words} ({self.status.value})"


def practice(statement: str) -> Source:
    """A rule of the trade for which no published source was found."""
    return Source(statement, status=Status.PRACTICE)


def derived(statement: str) -> Source:
    """A relation that follows from mechanics or circuit theory alone."""
    return Source(statement, status=Status.DERIVED)


def memory(title: str, place: str = "") -> Source:
    """A published place quoted from memory: check it before leaning on it."""
    return Source(title, place, Status.MEMORY)
