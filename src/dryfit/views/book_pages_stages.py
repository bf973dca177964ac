"""The stages of the build, each with what to do and with its test points as cards to write on."""

from __future__ import annotations

from collections.abc import Sequence

from dryfit.ground.units import show
from dryfit.making.records_bench import Cause, Stage, TestPoint
from dryfit.views.book_blocks import BenchCard, BenchRow, Blanks, BookBlock, Cautions, Chapter, Ticks
from dryfit.views.page import Heading, Paragraph


def chapters(stages: Sequence[Stage], points: Sequence[TestPoint]) -> tuple[Chapter, ...]:
    """One chapter for each stage, in building order."""
    return tuple(_stage(n, stage, [p for p in points if p.stage == stage.name]) for n, stage in enumerate(stages, 1))


def _stage(n: int, stage: Stage, points: Sequence[TestPoint]) -> Chapter:
    blocks: list[BookBlock] = []
    if stage.ready:
        blocks += [Heading("Have ready"), Ticks(stage.ready)]
    if stage.cautions:
        blocks.append(Cautions(stage.cautions))
    if stage.steps:
        blocks += [Heading("Do"), Ticks(stage.steps)]
    if points:
        blocks += [
            Heading("Measure before you go on"),
            Paragraph(
                "The band holds 90 of 100 machines built to this design and read with this instrument. Outside it, "
                "look for the cause before the next stage.",
                faint=True,
            ),
        ]
        blocks += [_card(f"{n}.{k}", kind) for k, kind in enumerate(_alike(points), 1)]
    blocks.append(Blanks(("Done on", "by", "Remarks")))
    return Chapter(f"Stage {n}: {stage.title}", tuple(blocks))


def _alike(points: Sequence[TestPoint]) -> list[list[TestPoint]]:
    """Points that are read in the same way, in the order in which the first of each kind comes: the masses of parts,
    the same reading of every wheel. Their titles begin or end alike."""
    kinds: list[list[TestPoint]] = []
    for p in points:
        for kind in kinds:
            if _way(kind[0]) == _way(p) and _shared([*(k.title for k in kind), p.title]) is not None:
                kind.append(p)
                break
        else:
            kinds.append([p])
    return kinds


def _way(p: TestPoint) -> tuple[object, ...]:
    return p.unit, p.instrument, p.how, p.stop, p.cautions, p.outside


def _shared(titles: Sequence[str]) -> tuple[list[str], list[list[str]], list[str]] | None:
    """Words at the beginning that all titles share, what is left of each, and words at the end; None where they share
    fewer than two words, or nothing is left of one."""
    words = [t.split() for t in titles]
    least = min(map(len, words))
    start = 0
    while start < least and len({w[start] for w in words}) == 1:
        start += 1
    end = 0
    while end < least - start and len({w[-1 - end] for w in words}) == 1:
        end += 1
    left = [w[start : len(w) - end] for w in words]
    if start + end < 2 or not all(left) or len({tuple(part) for part in left}) < len(titles):
        return None
    return words[0][:start], left, words[0][len(words[0]) - end :]


def _title(kind: Sequence[TestPoint]) -> tuple[str, tuple[str, ...]]:
    """One title for several points, and what each of them is: "wheel 1", "frame"."""
    found = _shared([p.title for p in kind]) if len(kind) > 1 else None
    if found is None:
        return kind[0].title, ("",)
    before, left, after = found
    odd = [" ".join(part) for part in left]
    # "1's", "2's" become "1 and 2's"
    bare = [word.rstrip(",;:").removesuffix("'s") for word in odd]
    listed = ", ".join(bare[:-1]) + " and " + bare[-1] + odd[-1][len(bare[-1]) :]
    # a number says nothing without the word before it
    named = [f"{before[-1]} {word}" if before and word[:1].isdigit() else word for word in bare]
    return " ".join([*before, listed, *after]), tuple(named)


def _card(number: str, kind: Sequence[TestPoint]) -> BenchCard:
    p = kind[0]
    title, names = _title(kind)
    return BenchCard(
        number=number,
        title=title,
        rows=tuple(_row(name, each) for name, each in zip(names, kind, strict=True)),
        instrument=p.instrument,
        how=p.how,
        stop=p.stop,
        cautions=p.cautions,
        low=_causes(p.outside.low),
        high=_causes(p.outside.high),
    )


def _row(name: str, p: TestPoint) -> BenchRow:
    return BenchRow(
        name=name,
        reads=show(p.predicted, p.unit),
        band=f"{show(p.low, p.unit)} to {show(p.high, p.unit)}",
        accuracy=f"± {show(p.accuracy, p.unit, 2)}" if p.accuracy > 0 else "",
        taken=_taken(p),
    )


def _taken(p: TestPoint) -> str:
    if p.taken is None:
        return ""
    when = f" on {p.taken.date.isoformat()}" if p.taken.date else ""
    return f"{p.taken.text}{when}" + ("" if p.taken.used else ", not used")


def _causes(found: Sequence[Cause]) -> tuple[tuple[str, str], ...]:
    return tuple((cause.what, cause.tell) for cause in found)
