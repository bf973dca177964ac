"""The last pages: every default that was taken, every source that was leant on."""

from __future__ import annotations

from collections.abc import Sequence

from dryfit.assess.report import Report
from dryfit.ground.findings import Finding, Term, Workings
from dryfit.ground.quantity import Origin
from dryfit.ground.sources import Source, Status
from dryfit.views.book_blocks import BookBlock, Chapter, Notes, table
from dryfit.views.page import Heading, Paragraph

_HEADS = {
    Status.SEEN: "Read",
    Status.MEMORY: "Quoted from memory: check before you lean on them",
    Status.PRACTICE: "Common practice, no source",
    Status.DERIVED: "Derived from mechanics or circuit theory",
}


def defaults(of_report: Sequence[Origin], more: Sequence[Origin]) -> Chapter:
    """Every value that was taken because none was given, numbered."""
    found = _joined(list(dict.fromkeys((o.path, o.text, o.note) for o in (*of_report, *more))))
    blocks: list[BookBlock] = [
        Paragraph(
            f"{len({o.path for o in (*of_report, *more)})} values were not given and were taken as below. What is "
            "wrong here is wrong all through the "
            "book: type what you know into the design file and make the book again."
        ),
        table(
            "no.|key of the design file|taken|because",
            [(str(n), *row) for n, row in enumerate(found, 1)],
            right="0", fold="123",
        ),
    ]  # fmt: skip
    return Chapter("Every default taken", tuple(blocks))


def _joined(found: list[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
    """Entries of one list that took the same value for the same reason as one line: "power.branches[0, 2].wire"."""
    together: dict[tuple[str, str, str, str], list[str]] = {}
    for path, text, note in found:
        before, bracket, after = path.partition("[")
        number, _, rest = after.partition("]")
        together.setdefault((before, rest if bracket else "", text, note), []).append(number)
    return [
        (f"{before}[{', '.join(numbers)}]{rest}" if numbers[0] else before, text, note)
        for (before, rest, text, note), numbers in together.items()
    ]


def sources(report: Report) -> Chapter:
    """Every source of every check, numbered, with how it is known."""
    cited: dict[Source, list[str]] = {}
    for f in report.findings:
        for source in _of(f):
            checks = cited.setdefault(source, [])
            if f.trade not in checks:
                checks.append(f.trade)
    blocks: list[BookBlock] = []
    n = 0
    for status, head in _HEADS.items():
        rows = []
        for source, trades in cited.items():
            if source.status is status:
                n += 1
                words = f"{source.title}, {source.place}" if source.place else source.title
                rows.append((str(n), words, ", ".join(trades)))
        if rows and status in (Status.SEEN, Status.MEMORY):
            blocks += [Heading(head), table("no.|source|used for", rows, right="0", fold="12")]
        elif rows:
            blocks += [Heading(head), Notes(tuple((number, words) for number, words, _ in rows))]
    return Chapter("Sources", tuple(blocks))


def _of(f: Finding) -> list[Source]:
    found = dict.fromkeys(f.sources)
    if f.reserve.origin.source is not None:
        found[f.reserve.origin.source] = None
    seen: set[int] = set()
    stack: list[Term] = list(f.terms)
    while stack:
        t = stack.pop()
        if id(t) in seen:
            continue
        seen.add(id(t))
        if isinstance(t.origin, Workings):
            found.update(dict.fromkeys(t.origin.sources))
            stack += t.origin.terms
        elif t.origin.source is not None:
            found[t.origin.source] = None
    return list(found)
