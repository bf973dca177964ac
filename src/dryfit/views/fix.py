"""What would put a check right, as a page: one check's offers with all they do, or the first ones of every check."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dryfit.ground import units
from dryfit.ground.findings import State
from dryfit.studies.records_fix import Applied, Change, CheckFix, Edit, Fixes, Limit, Move, Offer
from dryfit.views.page import Block, Column, Command, Heading, Page, Paragraph, Table
from dryfit.views.words import margin_words, remedy_of

FEW, FIRST = 5, 2
_NAMES = 4
_LAST = (
    "Prices are classes, not sums. What follows a change by hand is told where it is known; look for more. "
    "dryfit informs: whether the machine may run among people is for local codes and licensed practice."
)


def fix_page(found: Fixes, file: str, design: str, everything: bool = False) -> Page:
    """The offers of the one check that was asked about. design: as an argument of a command."""
    c = found.checks[0]
    blocks: list[Block] = [Paragraph(f"{c.check}: {state_words(c)}", faint=True)]
    if c.state is State.HOLDS:
        blocks.append(Paragraph("It holds with the reserve asked for: there is nothing to put right.", strong=True))
        return Page(c.title, file, tuple(blocks))
    if c.needs:
        blocks.append(Paragraph(f"It is not known yet. To know it: {c.needs}", mark="?"))
        return Page(c.title, file, tuple(blocks))
    if c.caution:
        blocks.append(Paragraph(c.caution, mark="!"))
    shown = c.offers if everything else c.offers[:FEW]
    blocks.append(Paragraph(_verdict(c), strong=True))
    for number, offer in enumerate(shown, start=1):
        blocks.append(Heading(f"{number}  {_short(offer.change)}"))
        blocks.append(_details(c, offer))
    blocks += _collisions(c)
    if not c.offers:
        blocks.append(Paragraph(remedy_of(c.finding), mark="→"))
    if c.offers:
        blocks.append(Heading("Where to look next"))
        first = [(f"dryfit fix {design} {c.check} --apply 1", "write offer 1 into the file, comments kept")]
        if len(shown) < len(c.offers):
            first.append((f"dryfit fix {design} {c.check} --all", f"all {len(c.offers)} offers"))
        blocks += [Command(text, shows) for text, shows in first]
    blocks.append(Paragraph(_tried(found), faint=True))
    blocks.append(Paragraph(_LAST, faint=True))
    return Page(c.title, file, tuple(blocks))


def fixes_page(found: Fixes, file: str, design: str, everything: bool = False) -> Page:
    """The first offers of every check that is short, tight or unknown."""
    blocks: list[Block] = []
    if not found.checks:
        return Page(found.name, file, (Paragraph("Every check holds: there is nothing to put right.", strong=True),))
    open_ones = len(found.checks)
    noun = "check has" if open_ones == 1 else "checks have"
    blocks.append(Paragraph(f"{open_ones} {noun} less than asked for. The first offers for each:", strong=True))
    several = _several(found)
    if several:
        blocks.append(Heading("These put right several at once"))
        blocks.append(Table((Column(), Column(fold=True)), several))
    for c in found.checks:
        blocks.append(Heading(c.title))
        blocks.append(Paragraph(f"{c.check}: {state_words(c)}", faint=True))
        if c.needs:
            blocks.append(Paragraph(f"To know it: {c.needs}", mark="?"))
        shown = c.offers if everything else c.offers[:FIRST]
        if shown:
            rows = tuple(_row(n, c, offer) for n, offer in enumerate(shown, start=1))
            blocks.append(Table((Column(right=True), Column(fold=True), Column(fold=True)), rows))
        if not c.offers and not c.needs:
            blocks.append(Paragraph(f"{_verdict(c)} {remedy_of(c.finding)}.", mark="→"))
        if not any(o.clean for o in c.offers) and c.limits:
            blocks.append(Table((Column(fold=True), Column(fold=True)), tuple(_limit(x) for x in c.limits)))
    cautions = dict.fromkeys(c.caution for c in found.checks if c.caution)
    if cautions:
        blocks.append(Heading("Cautions"))
        blocks += [Paragraph(text, mark="·") for text in cautions]
    blocks.append(Heading("Where to look next"))
    first = found.checks[0].check
    blocks.append(
        Command(f"dryfit fix {design} {first}", "one check: all its offers, and what each does to the others")
    )
    blocks.append(Command(f"dryfit fix {design} {first} --apply 1", "write its first offer into the file"))
    blocks.append(Paragraph(_tried(found), faint=True))
    blocks.append(Paragraph(_LAST, faint=True))
    return Page(found.name, file, tuple(blocks))


def applied_page(done: Applied, file: str, design: str) -> Page:
    """What was written, and what it did."""
    rows = tuple((_place(e), e.path, f"{e.old or 'nothing'} → {e.new}") for e in done.offer.change.edits)
    was, now = (
        s.value if done.counted else f"{s.value} {margin_words(m, done.reserve)}"
        for s, m in ((done.was, done.before), (done.becomes, done.after))
    )
    blocks: list[Block] = [
        Paragraph("Written, comments kept; the version before it stands beside the file as .before:", strong=True),
        Table((Column(faint=True), Column(fold=True), Column(fold=True)), rows),
        Paragraph(f"{done.check}: {was} before, {now} now."),
        Paragraph(f"Short before: {done.short_before}. Short now: {done.short_after}."),
    ]
    if done.offer.change.mind:
        blocks.append(Paragraph(f"By hand: {done.offer.change.mind}.", mark="!"))
    if done.still:
        blocks.append(Command(f"dryfit fix {design}", f"what is still short: {_names(done.still)}"))
    blocks.append(Command(f"dryfit check {design}", "all checks"))
    return Page(done.title, file, tuple(blocks))


def state_words(c: CheckFix) -> str:
    """State and margin of a check as it stands: "short, margin −58 %"."""
    if c.counted:
        return c.state.value + (", met" if c.met else "") + (f"; {c.case}" if c.case else "")
    asked = f", asked for {margin_words(c.reserve)}" if c.reserve else ""
    margin = margin_words(c.margin, c.reserve if c.state is State.TIGHT else 0.0)
    return f"{c.state.value}, margin {margin}{asked}" + (f"; {c.case}" if c.case else "")


def change_words(change: Change) -> str:
    """A change in a line: what is set, from what, to what."""
    alike = {(e.old, e.new) for e in change.edits}
    if len(alike) == 1 or (change.edits[0].path in change.words and " and " not in change.words):
        e = change.edits[0]
        beside = "" if len(alike) == 1 else ", and what goes with it"
        return f"{change.words}: {e.old or 'nothing'} → {e.new}{beside}"
    named = change.words.split(" and ") if len(change.words.split(" and ")) == len(change.edits) else ()
    what = named if all("." in n for n in named) and named else [e.path for e in change.edits]
    return "; ".join(f"{w}: {e.old or 'nothing'} → {e.new}" for w, e in zip(what, change.edits, strict=True))


def price_words(change: Change) -> str:
    """What a change costs, and what has to follow by hand."""
    return change.price.value + (f": {change.mind}" if change.mind else "")


def _short(change: Change) -> str:
    return change_words(change)


def _verdict(c: CheckFix) -> str:
    clean = [o for o in c.offers if o.clean]
    if not c.offers:
        some = "No single change restores it, and no pair that was tried."
        return some if c.limits else "Nothing that may be changed in this file moves it far enough."
    if not clean:
        return "Every change that restores it makes something else short."
    if all(o.pair for o in clean):
        return "No single change restores it without making something else short. Two together do:"
    count = sum(not o.pair for o in clean)
    if count == 1:
        return "One single change restores it and makes nothing else short:"
    return f"{count} single changes restore it and make nothing else short:"


def _details(c: CheckFix, o: Offer) -> Table:
    rows: list[tuple[str, str]] = []
    just = f"; {o.just} would just do" if o.just else ""
    first, *others = o.change.edits
    if others:
        rows += [(_place(e), f"{e.path}: {e.old or 'nothing'} → {e.new}") for e in o.change.edits]
        rows[0] = (rows[0][0], rows[0][1] + just)
    else:
        rows.append(("where", _where(first) + just))
    rows.append(("costs", price_words(o.change)))
    rows.append(("then", _then(c, o)))
    if o.breaks:
        rows.append(("short", "; ".join(_moved(m) for m in o.breaks)))
    if o.restores:
        rows.append(("puts right", _names(o.restores, 6)))
    rows += [("worse" if n == 0 else "", _moved(m)) for n, m in enumerate(o.worse)]
    better = [m for m in o.better if m.check not in o.restores]
    rows += [("better" if n == 0 else "", _moved(m)) for n, m in enumerate(better)]
    for n, f in enumerate(o.figures):
        before, after = (units.show(x, f.unit) for x in (f.before, f.after))
        rows.append(("machine" if n == 0 else "", f"{f.name} {before} → {after}"))
    return Table((Column(faint=True), Column(fold=True)), tuple(rows))


def _row(n: int, c: CheckFix, o: Offer) -> tuple[str, str, str]:
    notes = [o.change.price.value]
    if o.breaks:
        notes.append(f"but makes short: {_names([m.check for m in o.breaks])}")
    if o.restores:
        notes.append(f"also puts right {len(o.restores)} more" if len(o.restores) > 1 else f"also {o.restores[0]}")
    return f"{n}", change_words(o.change), "; ".join(notes)


def _several(found: Fixes) -> tuple[tuple[str, str], ...]:
    """Changes that are offered for one check and put right two more, those that do most first, each lever once."""
    best: dict[str, tuple[int, str, str]] = {}
    for c in found.checks:
        for o in c.offers:
            if o.clean and not o.pair and len(o.restores) >= 2:
                count = 1 + len(o.restores)
                known = best.get(o.change.words)
                if known is None or count > known[0]:
                    best[o.change.words] = (count, change_words(o.change), _names((c.check, *o.restores), 8))
    order = sorted(best.values(), key=lambda b: -b[0])
    return tuple((f"{count}", f"{words}: {checks}") for count, words, checks in order)


def _collisions(c: CheckFix) -> Iterator[Block]:
    if not c.limits:
        return
    yield Heading("How far the strongest changes get")
    yield Table((Column(fold=True), Column(fold=True)), tuple(_limit(limit) for limit in c.limits))


def _limit(limit: Limit) -> tuple[str, str]:
    if not limit.reaches:
        return limit.words, f"no way at all: {limit.blocked_by} would be short"
    end = f"then {limit.blocked_by} is short" if limit.blocked_by else "no further is believable, or it helps no more"
    return f"{limit.words} to {limit.reaches}", f"margin {margin_words(limit.margin)}; {end}"


def _then(c: CheckFix, o: Offer) -> str:
    if c.counted:
        return "it is met"
    return f"margin {margin_words(o.after, c.reserve)}, where it was {margin_words(c.margin)}" + (
        f" and {margin_words(c.reserve)} is asked for" if c.reserve else ""
    )


def _moved(m: Move) -> str:
    states = "" if m.was is m.becomes else f", {m.was.value} → {m.becomes.value}"
    return f"{m.check} {margin_words(m.before)} → {margin_words(m.after, m.before)}{states}"


def _where(e: Edit) -> str:
    return f"line {e.line}" if e.line else "not written yet: the key is added"


def _place(e: Edit) -> str:
    return f"line {e.line}" if e.line else "added"


def _names(names: Sequence[str], most: int = _NAMES) -> str:
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def _tried(found: Fixes) -> str:
    return (
        f"{found.levers} levers were tried on {found.machines:,} machines; what each offer does was judged by all "
        f"{found.judged_by} checks."
    )
