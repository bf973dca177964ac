"""The first pages of the book: the title, the verdict, what to do first."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from dryfit.assess.report import Report
from dryfit.ground.findings import State
from dryfit.machine.machine import Machine
from dryfit.machine.surfaces import Held
from dryfit.views.book_blocks import BookBlock, Cautions, Chapter, Occasion, TitlePage, table
from dryfit.views.machine_drawing import portrait
from dryfit.views.page import Heading, Paragraph
from dryfit.views.verdict import Row, Verdict
from dryfit.views.words import margin_words

_ON_THE_TITLE = ("mass", "height", "top-speed", "run-time")
"""Figures of the report that stand on the title page."""


def title_page(
    m: Machine, report: Report, answer: Verdict, occasion: Occasion, held: Sequence[Held], today: date
) -> TitlePage:
    """Name, picture, what it is for and when, the verdict in one sentence."""
    facts = [pair for f, pair in zip(report.figures, answer.figures, strict=True) if f.key in _ON_THE_TITLE]
    if occasion.delivery is not None:
        facts.append(("delivery", day(occasion.delivery)))
    if occasion.deadline:
        facts.append(("promised for", occasion.deadline))
    facts += [("design file", occasion.file), ("date of this book", day(today))]
    return TitlePage(answer.name, occasion.event, portrait(m, held), tuple(facts), answer.headline)


def preface() -> tuple[BookBlock, ...]:
    """How to read the book."""
    return (
        Heading("How to read it"),
        table(
            "|",
            [
                ("holds", "the margin is at least the reserve asked for"),
                ("tight", "it holds, but with less reserve than asked for"),
                ("short", "the demand is larger than what there is, or nothing better has been shown"),
                ("unknown", "a number is missing that cannot be guessed; the check names the line"),
                ("margin", "what lies between demand and capacity, as a part of the larger of the two"),
                ("should read, between", "predicted from this design; 90 of 100 machines built to it lie in the band"),
            ],
            fold="1",
        ),
        Paragraph(
            "Build in the order of the stages and write every reading down: typed into the design file under readings, "
            "they correct the model and every number in the next book."
        ),
    )


def first_look(answer: Verdict) -> Chapter:
    """The verdict and the three things to attend to first; then everything that does not hold."""
    counts = ", ".join(f"{n} {s.value}" for s, n in answer.counts.items() if n)
    blocks: list[BookBlock] = [
        Paragraph(answer.headline, strong=True),
        Paragraph(f"{sum(answer.counts.values())} checks: {counts}.", faint=True),
        Heading("What to do first"),
    ]
    for n, row in enumerate(answer.first, 1):
        blocks += _first(n, row)
    open_rows = [r for topic in answer.topics for r in topic.rows if r.state is not State.HOLDS]
    if open_rows:
        blocks += [
            Heading("What does not hold with the reserve asked for"),
            table(
                "state|margin|what should hold|in which case|found late it costs",
                [(r.state.value, _margin(r), r.title, r.case, r.late) for r in open_rows],
                right="1", fold="23",
            ),
        ]  # fmt: skip
    else:
        blocks.append(Paragraph("Every check holds with the reserve asked for."))
    blocks += [Heading("The machine in a few numbers"), table("|", list(answer.figures), fold="1")]
    if answer.first_cautions:
        blocks.append(Cautions(answer.first_cautions))
    return Chapter("The verdict", tuple(blocks), answer.file)


def _first(n: int, row: Row) -> list[BookBlock]:
    where = f"; {row.case}" if row.case else ""
    nothing = row.state is State.HOLDS
    said = [
        Paragraph(row.title, strong=True, mark=str(n)),
        Paragraph(f"{row.state.value}, margin {_margin(row)}. {_capital(row.figures)}{where}."),
    ]
    if row.needs:
        said.append(Paragraph(_sentence(_capital(row.needs)), mark="→"))
    elif nothing:
        said.append(Paragraph(f"Nothing to do now; if a load grows: {_sentence(row.remedy)}", mark="·"))
    else:
        said.append(Paragraph(_sentence(row.remedy), mark="→"))
    return list(said)


def _margin(row: Row) -> str:
    return "met" if row.met else margin_words(row.margin, row.reserve)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else text + "."


def day(d: date) -> str:
    """A date as people read it: "12 May 2027"."""
    return f"{d.day} {d:%B %Y}"
