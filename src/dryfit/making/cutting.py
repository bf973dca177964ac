"""Bars cut into pieces with as few new bars as can be, off-cuts first.

Cutting a bar is choosing which pieces come off it. Lengths are counted in tenths of a millimetre, each piece with
the saw cut behind it; the bar gets one saw cut more, since behind a last piece that ends flush nothing is cut. Where
the ways to fill a bar can all be written down, an integer programme over them finds the fewest new bars there are
(Kantorovich; Gilmore and Gomory: from memory). Where there are too many, ways are made one by one from the shadow
prices of the linear programme, the integer programme runs over those, and the bound of the linear programme says how
far off the best it could be.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from dryfit.ground.units import show
from dryfit.machine.stock import Stock, StockKind, Wanted
from dryfit.making.records_lists import Bar, Cut, CutList
from dryfit.making.sheets import cut_sheets

STEP = 1e-4
"""Lengths are counted in steps of this, m: finer than any saw."""

MOST_WAYS = 4_000
"""Ways to fill a bar beyond which they are made one by one."""

MOST_ROUNDS = 200
"""Rounds of making ways one by one, at most."""

NODES = 2_000
"""Nodes of the search over whole numbers of bars; it ends there, wherever it stands, so that a list repeats."""

_HAIR = 1e-7

Way = tuple[int, ...]
"""How many of each length come off one bar."""


@dataclass
class Filled:
    """One bar as it is filled: pieces by the number of their length. off_cut: which one of the shelf, -1 a new bar."""

    room: int
    off_cut: int
    taken: list[int] = field(default_factory=list)


@dataclass(frozen=True)
class Cutting:
    """Bars filled, and the fewest new bars that any cutting needs."""

    bars: tuple[Filled, ...]
    fewest: int


def cut_list(stock: Stock) -> CutList:
    """How all bars and sheets are cut: off-cuts first, then as few new ones as can be."""
    bars: list[Bar] = []
    bounds: list[tuple[str, int, int]] = []
    notes = list(stock.notes)
    for kind in stock.kinds:
        wanted = [w for w in stock.wanted if w.stock == kind.key]
        if not wanted:
            continue
        if kind.flat:
            sheets, fewest = cut_sheets(kind, wanted)
            bars += sheets
            bounds.append((kind.key, fewest, len(sheets)))
            if len(sheets) > fewest:
                notes.append(
                    f"{kind.name}: {len(sheets)} sheets by search; their area alone asks for {fewest}: fewer may be "
                    f"possible."
                )
            continue
        cut, fewest = _cut_bars(kind, wanted, stock)
        bars += cut
        new = sum(1 for b in cut if not b.off_cut)
        bounds.append((kind.key, fewest, new))
        if new > fewest:
            notes.append(f"{kind.name}: {new} bars found; no cutting needs fewer than {fewest}.")
    return CutList(tuple(bars), stock.kerf, tuple(bounds), tuple(notes))


def _cut_bars(kind: StockKind, wanted: Sequence[Wanted], stock: Stock) -> tuple[list[Bar], int]:
    """The bars of one kind of stock, and the fewest new ones."""
    pieces = sorted(
        (w for w in wanted for _ in range(w.count)), key=lambda w: (-w.size[0], w.ends, w.name, w.path)
    )  # fmt: skip
    shelf = [o.length for o in stock.off_cuts if o.stock == kind.key for _ in range(o.count)]
    widths = [_steps(w.size[0]) + _steps(_kerf(kind, w)) for w in pieces]
    lengths = sorted(set(widths), reverse=True)
    demand = [widths.count(x) for x in lengths]
    whole = math.floor((kind.size[0] - kind.trim) / STEP + 1e-6) + _steps(kind.kerf)
    rooms = [math.floor(x / STEP + 1e-6) + _steps(kind.kerf) for x in shelf]
    made = fewest_bars(lengths, demand, whole, rooms)
    queue = {x: [w for w, width in zip(pieces, widths, strict=True) if width == x] for x in lengths}
    bars: list[Bar] = []
    # The shelf first, then new bars with the fullest first: the one that is worth keeping comes last.
    for b in sorted(made.bars, key=lambda b: (b.off_cut < 0, b.off_cut, -sum(lengths[i] for i in b.taken), b.taken)):
        length = kind.size[0] if b.off_cut < 0 else shelf[b.off_cut]
        bars.append(_laid_out(kind, length, b.off_cut >= 0, [queue[lengths[i]].pop(0) for i in b.taken]))
    return _numbered(bars, kind), made.fewest


def _laid_out(kind: StockKind, length: float, off_cut: bool, pieces: Sequence[Wanted]) -> Bar:
    at, cuts = 0.0, []
    for w in pieces:
        cuts.append(Cut(w.name, (at, 0.0), w.size, w.ends))
        at += w.size[0] + _kerf(kind, w)
    trim = 0.0 if off_cut else kind.trim
    left = max(length - trim - at, 0.0)
    kept = left >= kind.shortest_kept and left > 0
    return Bar(kind.key, "", (length, 0.0), tuple(cuts), off_cut, left, kept, trim, kind.kerf)


def _numbered(bars: Sequence[Bar], kind: StockKind) -> list[Bar]:
    """Bars with their names: off-cuts by length, new ones by number."""
    out, new, old = [], 0, 0
    word = "reel" if kind.catalogue == "strips" else "bar"
    for bar in bars:
        new, old = (new, old + 1) if bar.off_cut else (new + 1, old)
        name = f"off-cut {old}, {show(bar.size[0], 'm', 5)}" if bar.off_cut else f"{word} {new}"
        out.append(Bar(**{**bar.__dict__, "name": name}))
    return out


def _kerf(kind: StockKind, w: Wanted) -> float:
    """What the cut behind a piece takes along the bar: a cut at 45 degrees takes the root of two more."""
    return kind.kerf * (math.sqrt(2) if w.ends == "mitre" else 1.0)


def _steps(length: float) -> int:
    return math.ceil(length / STEP - 1e-6)


def fewest_bars(lengths: Sequence[int], demand: Sequence[int], whole: int, shelf: Sequence[int] = ()) -> Cutting:
    """Fill bars of room `whole`, and those on the shelf first, with `demand` pieces of each of the falling `lengths`.

    Whole numbers in any unit; the saw cut counted in lengths and rooms. Raises ValueError for a piece longer than any
    bar. The fewest new bars that it names hold whatever way is taken; where as many are used, it is the best there is.
    """
    if any(x > whole for x in lengths):
        raise ValueError("a piece is longer than a bar")
    if not sum(demand):
        return Cutting((), 0)
    rooms = sorted({whole, *shelf}, reverse=True)
    found = {room: _all_ways(lengths, demand, room) for room in rooms}
    ways = {room: full for room, full in found.items() if full is not None}
    complete = len(ways) == len(rooms)
    greedy = _one_by_one(lengths, demand, whole, shelf)
    by_length = math.ceil(
        (sum(x * d for x, d in zip(lengths, demand, strict=True)) - sum(shelf)) / whole - _HAIR
    )  # fmt: skip
    fewest = max(by_length, 0)
    bars: list[Filled] | None = None
    if complete or _new(greedy) > fewest:
        if not complete:
            ways, least = _priced_ways(lengths, demand, whole, shelf)
            fewest = max(fewest, least)
        chosen, bound = _chosen(ways, demand, whole, shelf, _new(greedy))
        fewest = max(fewest, bound) if complete else fewest
        bars = _filled(chosen, demand, whole, shelf)
    if bars is None or _new(greedy) < _new(bars):
        bars = greedy
    _gathered(bars, lengths)
    bars = [b for b in bars if b.taken]
    return Cutting(tuple(bars), min(fewest, _new(bars)))


def _new(bars: Sequence[Filled]) -> int:
    return sum(1 for b in bars if b.off_cut < 0)


def _all_ways(lengths: Sequence[int], demand: Sequence[int], room: int) -> list[Way] | None:
    """Every way to fill a bar to which no piece can be added; None where there are too many."""
    found: list[Way] = []
    for steps, (way, left) in enumerate(_choices(lengths, demand, room)):
        if steps > 10 * MOST_WAYS or len(found) > MOST_WAYS:
            return None
        if any(way) and all(left < x for x, n, d in zip(lengths, way, demand, strict=True) if n < d):
            found.append(way)
    return found


def _choices(lengths: Sequence[int], demand: Sequence[int], room: int) -> Iterator[tuple[Way, int]]:
    """All ways down to the shortest length, of which as many are taken as go in; with the room left."""
    if not lengths:
        yield (), room
        return
    most = min(demand[0], room // lengths[0])
    for n in range(most, -1 if len(lengths) > 1 else most - 1, -1):
        for rest, left in _choices(lengths[1:], demand[1:], room - n * lengths[0]):
            yield (n, *rest), left


def _chosen(
    ways: Mapping[int, Sequence[Way]], demand: Sequence[int], whole: int, shelf: Sequence[int], enough: int
) -> tuple[list[tuple[int, Way, int]], int]:
    """How often each way is used (rooms of the shelf with a minus): fewest new bars first, then as many of the shelf as
    are of use; and new bars that no use of these ways does without. enough: new bars of a cutting that is known."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    stocked = _stocked(shelf)
    columns = _columns(ways, whole, stocked)
    count = np.array([way for _, way, _ in columns], dtype=float).T
    # All of the shelf together is worth less than half a bar, so that no new bar is cut to spare it.
    used = 1.0 / (2 * len(shelf) + 2)
    cost = np.array([1.0 if new else -used for *_, new in columns])
    rules = [LinearConstraint(count, lb=np.array(demand, dtype=float))]
    for room, most in stocked.items():
        rules.append(LinearConstraint(np.array([[float(not new and at == room) for at, _, new in columns]]), ub=most))
    # Within half a bar of the bound the number of bars is settled; few ways are searched to the end for the shelf.
    gap = 0.0 if len(columns) < MOST_WAYS // 10 else 0.49 / max(enough, 1)
    result = milp(
        cost, integrality=np.ones(len(columns)), bounds=Bounds(0, np.inf), constraints=rules,
        options={"node_limit": NODES, "mip_rel_gap": gap},
    )  # fmt: skip
    if result.x is None:
        return [], 0
    times = np.rint(result.x).astype(int)
    chosen = [(room if new else -room, way, int(n)) for (room, way, new), n in zip(columns, times, strict=True) if n]
    return chosen, math.ceil(float(result.mip_dual_bound) - _HAIR)


def _stocked(shelf: Sequence[int]) -> dict[int, int]:
    return {room: shelf.count(room) for room in sorted(set(shelf))}


def _columns(ways: Mapping[int, Sequence[Way]], whole: int, stocked: Mapping[int, int]) -> list[tuple[int, Way, bool]]:
    """Ways with the room they fill, once for new bars and once for the shelf where both have that room."""
    out = []
    for room, found in ways.items():
        for way in found:
            if room == whole:
                out.append((room, way, True))
            if room in stocked:
                out.append((room, way, False))
    return out


def _filled(
    chosen: Sequence[tuple[int, Way, int]], demand: Sequence[int], whole: int, shelf: Sequence[int]
) -> list[Filled] | None:
    """Bars of the ways chosen, pieces made beyond the demand left out: of the shelf's bars last."""
    free = list(range(len(shelf)))
    open_demand = list(demand)
    bars: list[Filled] = []
    for room, way, times in sorted(chosen, key=lambda c: (c[0] > 0, abs(c[0]), c[1])):
        for _ in range(times):
            which = -1
            if room < 0:
                which = next(i for i in free if shelf[i] == -room)
                free.remove(which)
            taken: list[int] = []
            for i, n in enumerate(way):
                here = min(n, open_demand[i])
                open_demand[i] -= here
                taken += [i] * here
            bars.append(Filled(whole if which < 0 else shelf[which], which, taken))
    return None if any(open_demand) else [b for b in bars if b.taken]


def _one_by_one(lengths: Sequence[int], demand: Sequence[int], whole: int, shelf: Sequence[int]) -> list[Filled]:
    """The longest piece first, each into the bar that it fills best."""
    bars = [Filled(room, i) for i, room in enumerate(shelf)]
    left = list(shelf)
    for i, (x, n) in enumerate(zip(lengths, demand, strict=True)):
        for _ in range(n):
            fits = [b for b in range(len(bars)) if left[b] >= x]
            # What lies on the shelf goes first, then the bar with least room.
            best = min(fits, key=lambda b: (bars[b].off_cut < 0, left[b]), default=-1)
            if best < 0:
                bars.append(Filled(whole, -1))
                left.append(whole)
                best = len(bars) - 1
            bars[best].taken.append(i)
            left[best] -= x
    return [b for b in bars if b.taken]


def _gathered(bars: list[Filled], lengths: Sequence[int]) -> None:
    """Put longer pieces onto the shelf's bars for shorter ones, then move pieces off the emptiest new bar into gaps of
    the others: the shelf is used up, and what is left over lies in one piece."""

    def left(b: Filled) -> int:
        return b.room - sum(lengths[i] for i in b.taken)

    new = [b for b in bars if b.off_cut < 0]
    if not new:
        return
    for old in (b for b in bars if b.off_cut >= 0):
        for short in sorted(old.taken, reverse=True):
            room = left(old) + lengths[short]
            longer = [(i, n) for n, b in enumerate(new) for i in b.taken if lengths[short] < lengths[i] <= room]
            if longer:
                i, n = min(longer)
                old.taken[old.taken.index(short)], new[n].taken[new[n].taken.index(i)] = i, short
    emptiest = max(new, key=left)
    for i in sorted(emptiest.taken):
        fits = [b for b in bars if b is not emptiest and left(b) >= lengths[i]]
        if fits:
            emptiest.taken.remove(i)
            min(fits, key=lambda b: (b.off_cut < 0, left(b))).taken.append(i)
    for b in bars:
        b.taken.sort()


def _priced_ways(
    lengths: Sequence[int], demand: Sequence[int], whole: int, shelf: Sequence[int]
) -> tuple[dict[int, list[Way]], int]:
    """Ways made one by one, as long as one is worth more, at the prices of the linear programme, than its bar; and new
    bars that no cutting does without (the bound of Farley, which holds at any prices)."""
    rooms = sorted({whole, *shelf}, reverse=True)
    ways: dict[int, list[Way]] = {room: [] for room in rooms}
    for room, found in ways.items():
        for i, (x, d) in enumerate(zip(lengths, demand, strict=True)):
            if x <= room:
                found.append(tuple(min(d, room // x) if i == j else 0 for j in range(len(lengths))))
    for b in _one_by_one(lengths, demand, whole, shelf):
        way = tuple(b.taken.count(i) for i in range(len(lengths)))
        if way not in ways[b.room]:
            ways[b.room].append(way)
    least = 0
    for _ in range(MOST_ROUNDS):
        worth, rent = _prices(ways, demand, whole, shelf)
        best = {room: best_way(lengths, demand, room, worth) for room in rooms}
        dearest = max(best[whole][1], 1.0)
        bound = sum(w * d for w, d in zip(worth, demand, strict=True)) - sum(best[room][1] for room in shelf)
        least = max(least, math.ceil(bound / dearest - 1e-6))
        added = False
        for room, (way, value) in best.items():
            price = min(1.0 if room == whole else math.inf, rent.get(room, math.inf))
            if value > price + 1e-7 and way not in ways[room]:
                ways[room].append(way)
                added = True
        if not added:
            break
    return ways, least


def _prices(
    ways: Mapping[int, Sequence[Way]], demand: Sequence[int], whole: int, shelf: Sequence[int]
) -> tuple[list[float], dict[int, float]]:
    """Shadow prices of the pieces, in new bars, and rents of the shelf's bars, from the linear programme."""
    import numpy as np
    from scipy.optimize import linprog

    stocked = _stocked(shelf)
    columns = _columns(ways, whole, stocked)
    cost = [1.0 if new else 0.0 for *_, new in columns]
    pieces = -np.array([way for _, way, _ in columns], dtype=float).T
    limits = [[float(not new and at == room) for at, _, new in columns] for room in stocked]
    most = [-float(d) for d in demand] + [float(n) for n in stocked.values()]
    result = linprog(cost, A_ub=np.vstack([pieces, *limits]), b_ub=most, method="highs")
    marginals = [max(-float(m), 0.0) for m in result.ineqlin.marginals]
    return marginals[: len(demand)], dict(zip(stocked, marginals[len(demand) :], strict=True))


def best_way(lengths: Sequence[int], demand: Sequence[int], room: int, worth: Sequence[float]) -> tuple[Way, float]:
    """The way to fill one bar that is worth most, and its worth; exact, by the table of all rooms."""
    import numpy as np

    # Bundles of 1, 2, 4, … equal pieces make every number up to the demand.
    bundles: list[tuple[int, int]] = []
    for i, (x, d) in enumerate(zip(lengths, demand, strict=True)):
        left, size = min(d, room // x), 1
        while left > 0 and worth[i] > 0:
            bundles.append((i, min(size, left)))
            left, size = left - size, 2 * size
    value = np.zeros(room + 1)
    taken = np.zeros((len(bundles), room + 1), dtype=bool)
    for k, (i, n) in enumerate(bundles):
        wide = n * lengths[i]
        if wide <= room:
            better = value[: room + 1 - wide] + n * worth[i]
            taken[k, wide:] = better > value[wide:] + 1e-12
            value[wide:] = np.where(taken[k, wide:], better, value[wide:])
    way, left = [0] * len(lengths), room
    for k in range(len(bundles) - 1, -1, -1):
        if taken[k, left]:
            i, n = bundles[k]
            way[i] += n
            left -= n * lengths[i]
    return tuple(way), float(value[room])
