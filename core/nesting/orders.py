"""Searches for the sequence in which parts are best laid: many sequences, each a small change of the best so far.

Every search is the same at every run: its chance comes from a fixed seed and its clock is the board's count of work,
not the time of day.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from math import inf
from random import Random
from typing import Final

from .outline import Blank, pose
from .place import Board, Fixed, Laid, lay
from .ruler import Ruler

__all__ = ["WORK_A_MS", "fullest", "most_copies", "narrowest", "ranked_orders", "rectangles"]

WORK_A_MS: Final = 400_000
"""About how many words of bits a common machine handles in a millisecond: turns times into repeatable budgets."""

_WORK_A_TRY: Final = 20_000
_SEED: Final = 1
_SLACK_MM: Final = 1e-6

IDLE_TRIES: Final = 6
"""So many tries of each rectangle without a smaller one are the last."""

HOPELESS: Final = 1.1
"""A rectangle this much larger than the least so far is not worth working on."""

KEPT: Final = 6
"""How many rectangles are worked on."""

MORE_COPIES: Final = 3
"""How many copies beyond those known to go in are hoped for."""

Order = tuple[int, ...]
Rank = tuple[float, ...]
Change = Callable[[Order, Random], Order]


def ranked_orders(ready: Sequence[Blank]) -> tuple[Order, ...]:
    """Sequences that do well as a rule: the large first, the long first, the wide first, the tall first."""
    as_drawn = [pose(blank, (blank.part.turns or (0.0,))[0]) for blank in ready]
    ranks = (
        [blank.area for blank in ready],
        [max(p.width, p.height) for p in as_drawn],
        [p.width for p in as_drawn],
        [p.height for p in as_drawn],
    )
    orders = []
    for rank in ranks:
        parts = sorted(range(len(ready)), key=lambda n: (-rank[n], n))
        orders.append(tuple(n for n in parts for _ in range(ready[n].part.count)))
    return tuple(dict.fromkeys(orders))


def narrowest(bench: Board, orders: Sequence[Order], lengths: Sequence[float], height: float, work: float) -> Laid:
    """The least width found for a strip of `height` mm, within the first of `lengths` that takes every copy."""

    def rank(laid: Laid) -> Rank:
        return (len(laid.missing), laid.right, laid.sum_right)

    for length in lengths:
        tries = [(lay(bench, order, length, height), order) for order in orders]
        best, order = min(tries, key=lambda t: rank(t[0]))
        if not best.missing:
            break

    bench, change = _changes(bench, order)

    def attempt(order: Order, best: Laid) -> Laid:
        return lay(bench, order, best.right + bench.grid.cx, height)

    return _improved(bench, order, best, attempt, rank, change, work)


def fullest(
    bench: Board,
    orders: Sequence[Order],
    width: float,
    height: float,
    areas: Sequence[float],
    fixed: Sequence[Fixed],
    work: float,
) -> Laid:
    """The most area found that lies in `width` x `height` mm beside `fixed`; stops at once when all copies do."""

    def rank(laid: Laid) -> Rank:
        return (sum(areas[n] for n in laid.missing), laid.sum_right)

    best, order = None, orders[0]
    for tried in orders:
        laid = lay(bench, tried, width, height, fixed)
        if best is None or rank(laid) < rank(best):
            best, order = laid, tried
        if not best.missing:
            return best
    assert best is not None
    bench, change = _changes(bench, order)
    return _improved(bench, order, best, lambda o, _: lay(bench, o, width, height, fixed), rank, change, work, _all_lie)


def most_copies(
    bench: Board, start: int, width: float, height: float, most: int, fixed: Sequence[Fixed], work: float
) -> Laid:
    """The most copies found of the board's only part beside `fixed`, by changing the turn in which each is laid.

    `start` copies are known to go in; the search stops at `most`.
    """
    order: Order = (0,) * min(most, start + MORE_COPIES)
    best = lay(bench, order, width, height, fixed)
    bench, change = _changes(bench, order)

    def rank(laid: Laid) -> Rank:
        return (len(laid.missing), laid.sum_right)

    return _improved(bench, order, best, lambda o, _: lay(bench, o, width, height, fixed), rank, change, work, _all_lie)


def rectangles(
    bench: Board,
    orders: Sequence[Order],
    sizes: Iterable[tuple[float, float]],
    tallest: float,
    work: float,
    ruler: Ruler,
) -> list[Laid]:
    """Arrangements of all copies, one at most within each of `sizes`, made smaller by changing their orders.

    `tallest` is the height that none may pass; what counts is the area that is cut by the `ruler`.
    """

    def cost(laid: Laid) -> Rank:
        return (round(ruler.area(laid.right, laid.top), 6), laid.right * laid.top)

    def beyond(area: float) -> Callable[[float, float], bool]:
        return lambda right, top: ruler.area(right, top) > area + 1e-3

    budget = bench.work + work
    kept: list[tuple[Rank, tuple[float, float], Order, Laid]] = []
    done: dict[Order, list[tuple[float, float]]] = {order: [] for order in orders}  # heights with the same outcome
    for width, height in sizes:
        best: tuple[Rank, tuple[float, float], Order, Laid] | None = None
        for order in orders:
            if any(top <= height + _SLACK_MM and height <= tried for top, tried in done[order]):
                continue
            most = min([best[0][0] if best else inf, *(HOPELESS * k[0][0] for k in kept)])
            laid = lay(bench, order, width, height, (), beyond(most))
            if laid.missing:
                continue
            done[order].append((laid.top, height))
            if best is None or cost(laid) < best[0]:
                best = cost(laid), (width, height), order, laid
        if best:
            kept.append(best)
        if bench.work > budget and kept:
            break
    kept.sort(key=lambda k: k[:3])
    del kept[KEPT:]
    bench, change = _changes(bench, orders[0])
    chance = Random(_SEED)
    seen = {(size, order) for _, size, order, _ in kept}
    turn = idle = 0
    while kept and change and bench.work < budget and idle < IDLE_TRIES * len(kept):
        bench.work += _WORK_A_TRY
        turn = (turn + 1) % len(kept)
        least, (width, height), order, _ = kept[turn]
        if chance.random() < 0.5:
            height = min(ruler.up(height * chance.uniform(0.93, 1.07)), tallest)
        changed = change(order, chance)
        idle += 1
        if ((width, height), changed) in seen:
            continue
        seen.add(((width, height), changed))
        laid = lay(bench, changed, width, height, (), beyond(least[0]))
        if not laid.missing and cost(laid) <= least:
            idle = 0 if cost(laid)[0] < least[0] else idle
            kept[turn] = (cost(laid), (width, height), changed, laid)
    return [laid for _, _, _, laid in kept]


def _all_lie(laid: Laid) -> bool:
    return not laid.missing


def _improved(
    bench: Board,
    order: Order,
    best: Laid,
    attempt: Callable[[Order, Laid], Laid],
    rank: Callable[[Laid], Rank],
    change: Change | None,
    work: float,
    done: Callable[[Laid], bool] = lambda laid: False,
) -> Laid:
    budget = bench.work + work
    chance = Random(_SEED)
    while change and bench.work < budget and not done(best):
        bench.work += _WORK_A_TRY
        changed = change(order, chance)
        laid = attempt(changed, best)
        if rank(laid) <= rank(best):
            best, order = laid, changed
    return best


def _changes(bench: Board, order: Order) -> tuple[Board, Change | None]:
    """How an order may be changed: by its sequence, or where all copies are of one part by the turns they are laid in.

    For the latter the board gets more parts, each the part in one of its turns.
    """
    if len(set(order)) > 1:
        return bench, _resequenced
    tiles = bench.tiles[order[0]] if order else ()
    if len(tiles) < 2:
        return bench, None
    first = len(bench.tiles)
    choices = (order[0], *range(first, first + len(tiles)))

    def turned(order: Order, chance: Random) -> Order:
        new = list(order)
        start = chance.randrange(len(new))
        for i in range(start, min(start + chance.randrange(1, 3), len(new))):
            new[i] = chance.choice(choices)
        return tuple(new)

    return replace(bench, tiles=(*bench.tiles, *((t,) for t in tiles))), turned


def _resequenced(order: Order, chance: Random) -> Order:
    """`order` with two unlike entries exchanged or one entry moved."""
    new = list(order)
    i = chance.randrange(len(new))
    j = chance.randrange(len(new))
    while new[i] == new[j]:
        j = (j + 1) % len(new)
    if chance.random() < 0.5:
        new[i], new[j] = new[j], new[i]
    else:
        new.insert(j, new.pop(i))
    return tuple(new)
