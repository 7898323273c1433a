"""Packs rectangles, each of which may have one of several sizes, on as few boards as it can.

Terminology
    board       where rectangles may lie on one mat: the usable area, less what is kept out
    sheet       a rectangle to be laid; it has one of several sizes, of which the first, of least area, is liked best
    lying       where a sheet lies: its size, whether it is turned by a quarter, and its lower left corner
    roll        a board more than twice as high as wide: how much of its height is taken counts before the area
    step        corners lie at multiples of it from the mat's own edges, or at the edge of the usable area

Sheets are laid one after another, each in the lowest and then leftmost corner that is free on the first board that has
one ("bottom left", B. S. Baker, E. G. Coffman, R. L. Rivest, SIAM J. Comput. 9 (1980); "first fit decreasing" over the
boards). Several orders and sizes are tried, the steps from coarse to fine; fewest boards win, then the liked sizes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from random import Random
from typing import Final, TypeAlias

from clothpath.curves import Box

__all__ = ["Board", "Lying", "Sheet", "pack"]

SLACK_MM: Final = 1e-6
"""Rounding in sums of sizes: sheets this much too large still fit."""
FEED_STEP_MM: Final = 100.0
"""Heights taken of a roll that differ by less than this are as good as each other."""
TRIES: Final = 1200
FEWEST_TRIES: Final = 40
"""How many orders and sizes are tried in all: so many for one sheet, the fewer the more sheets, but not below."""
SETTLED_TRIES: Final = 10
"""How many are tried for corners at the coarsest step, once no fewer boards and no better sizes are possible."""
SHUFFLES: Final = 60
"""How many orders by chance (with a fixed seed) are among them."""

Size: TypeAlias = tuple[float, float]
Sizes: TypeAlias = "tuple[tuple[int, ...], ...]"
"""For each sheet the numbers of the sizes that it may have."""


@dataclass(frozen=True, slots=True)
class Board:
    """Where sheets may lie, in mm: `usable` in mat coordinates, boxes to keep out of, the gap between sheets.

    Attributes:
        steps: from the one liked best to the finest; 0 lets corners lie anywhere.
    """

    usable: Box
    keep_out: tuple[Box, ...] = ()
    gap: float = 0.0
    steps: tuple[float, ...] = (0.0,)

    @property
    def roll(self) -> bool:
        return self.usable.height > 2 * self.usable.width

    def rooms(self) -> tuple[tuple[float, float], ...]:
        """Width and height of every largest free rectangle of the empty board; one unless something is kept out."""
        u = self.usable
        lefts, rights = [u.left, *(k.right for k in self.keep_out)], [u.right, *(k.left for k in self.keep_out)]
        bottoms, tops = [u.bottom, *(k.top for k in self.keep_out)], [u.top, *(k.bottom for k in self.keep_out)]
        boxes = [
            Box(x0, y0, x1, y1)
            for x0, x1, y0, y1 in product(lefts, rights, bottoms, tops)
            if u.left <= x0 < x1 <= u.right and u.bottom <= y0 < y1 <= u.top
        ]
        free = {(b.width, b.height) for b in boxes if not any(_share(b, k) for k in self.keep_out)}
        return tuple(sorted(s for s in free if not any(o != s and o[0] >= s[0] and o[1] >= s[1] for o in free)))


@dataclass(frozen=True, slots=True)
class Sheet:
    """A rectangle of one of several sizes (width, height) in mm, the least area first.

    Attributes:
        turns: whether it may be turned by a quarter.
        at: index of the board and lower left corner, if these are fixed.
    """

    sizes: tuple[Size, ...]
    turns: bool = True
    at: tuple[int, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Lying:
    """Sheet number `sheet` in its size number `size`; `box` as it lies on board number `board`."""

    sheet: int
    size: int
    turned: bool
    board: int
    box: Box


def pack(sheets: Sequence[Sheet], board: Board) -> tuple[Lying, ...] | None:
    """Where every sheet lies, by board and then from the lower left; None if a sheet finds no place on any board.

    Fewest boards first, on a roll the least of its height, then the least sum of the areas, then the coarsest step.
    """
    if not sheets:
        return ()
    best: _Arrangement | None = None
    least = _least_boards(sheets, board)
    seen: set[tuple[tuple[tuple[int, ...], ...], tuple[int, ...]]] = set()
    most = len(sheets) + max((sheet.at[0] for sheet in sheets if sheet.at), default=0)
    budget = max(FEWEST_TRIES, TRIES // len(sheets))
    for sizes, order in _proposals(sheets, SHUFFLES):
        if (sizes, order) in seen:
            continue
        seen.add((sizes, order))
        for step in reversed(board.steps):
            found = _first_fit(sheets, sizes, order, board, step, most)
            if found is None:
                break
            if best is None or found.cost < best.cost:
                best, most = found, found.boards
        if best is None:
            continue
        settled = best.boards <= least and best.liked and not board.roll
        if (settled and best.step == board.steps[0]) or len(seen) > (SETTLED_TRIES if settled else budget):
            break
    if best is None:
        return None
    return tuple(sorted(best.lying, key=lambda each: (each.board, each.box.bottom, each.box.left, each.sheet)))


@dataclass(frozen=True, slots=True)
class _Arrangement:
    lying: tuple[Lying, ...]
    boards: int
    area: float
    step: float
    feed: float

    @property
    def liked(self) -> bool:
        return all(each.size == 0 for each in self.lying)

    @property
    def cost(self) -> tuple[float, ...]:
        return (self.boards, self.feed, round(self.area, 3), -self.step)


def _least_boards(sheets: Sequence[Sheet], board: Board) -> int:
    """No arrangement takes fewer: the areas, each with its gap, against the usable area with one gap more."""
    gap = board.gap
    need = sum(min((w + gap) * (h + gap) for w, h in sheet.sizes) for sheet in sheets)
    return max(1, math.ceil(need / _room(board) - 1e-9))


def _room(board: Board) -> float:
    """The area of the board and one gap beyond its right and top edges: what sheets with their gaps can share."""
    return (board.usable.width + board.gap) * (board.usable.height + board.gap)


_ORDERS: Final[tuple[Callable[[Size], Size], ...]] = (
    lambda size: (-max(size), -min(size)),
    lambda size: (-size[0] * size[1], -size[0]),
    lambda size: (-size[1], -size[0]),
    lambda size: (-size[0], -size[1]),
    lambda size: (-min(size), -max(size)),
)


def _proposals(sheets: Sequence[Sheet], shuffles: int) -> Iterator[tuple[Sizes, tuple[int, ...]]]:
    """Sizes to choose from for each sheet, and an order to lay them in; what is liked best comes first."""
    liked: Sizes = tuple((0,) for _ in sheets)
    every: Sizes = tuple(tuple(range(len(sheet.sizes))) for sheet in sheets)
    for allowed in (liked, every):
        for rank in _ORDERS:
            yield allowed, _ranked(sheets, allowed, rank)
    by_area = _ranked(sheets, liked, _ORDERS[1])
    for level in range(1, max(len(sheet.sizes) for sheet in sheets)):
        yield tuple(each[: level + 1] for each in every), by_area
        for n in by_area:
            if level < len(sheets[n].sizes):
                one: Sizes = (*liked[:n], (level,), *liked[n + 1 :])
                for rank in _ORDERS[:2]:
                    yield one, _ranked(sheets, one, rank)
    chance = Random(1)
    for number in range(shuffles):
        weight = [math.prod(sheet.sizes[0]) * chance.uniform(0.5, 1.5) for sheet in sheets]
        order = tuple(sorted(range(len(sheets)), key=lambda n: (-weight[n], n)))
        yield (liked, every)[number % 2], order


def _ranked(sheets: Sequence[Sheet], allowed: Sizes, rank: Callable[[Size], Size]) -> tuple[int, ...]:
    return tuple(sorted(range(len(sheets)), key=lambda n: (*rank(sheets[n].sizes[allowed[n][0]]), n)))


def _first_fit(
    sheets: Sequence[Sheet], sizes: Sizes, order: Sequence[int], board: Board, step: float, most: int
) -> _Arrangement | None:
    """The arrangement in this order; None if it takes more than `most` boards, or a sheet finds no place at all."""
    boards: list[list[Box]] = []
    lying: list[Lying] = []
    left: list[float] = []
    gap = board.gap
    for n in sorted(order, key=lambda n: sheets[n].at is None):
        sheet = sheets[n]
        need = min((sheet.sizes[size][0] + gap) * (sheet.sizes[size][1] + gap) for size in sizes[n])
        first, last = (0, most - 1) if sheet.at is None else (sheet.at[0], sheet.at[0])
        for b in range(first, last + 1):
            boards.extend([] for _ in range(b + 1 - len(boards)))
            left.extend(_room(board) for _ in range(b + 1 - len(left)))
            found = _lowest(sheet, sizes[n], boards[b], board, step) if need <= left[b] + SLACK_MM else None
            if found is not None:
                size, turned, box = found
                boards[b].append(box)
                left[b] -= (box.width + gap) * (box.height + gap)
                lying.append(Lying(n, size, turned, b, box))
                break
        else:
            return None
    area = sum(each.box.width * each.box.height for each in lying)
    feed = sum(max((box.top for box in boxes), default=0.0) for boxes in boards) if board.roll else 0.0
    return _Arrangement(tuple(lying), len(boards), area, step, math.ceil(feed / FEED_STEP_MM - 1e-9))


def _lowest(
    sheet: Sheet, sizes: Sequence[int], taken: list[Box], board: Board, step: float
) -> tuple[int, bool, Box] | None:
    """The size, turn and place whose top edge is lowest, then leftmost, then the size liked best."""
    best: tuple[tuple[float, float, int, bool], Box] | None = None
    for size in sizes:
        width, height = sheet.sizes[size]
        for turned in (False, True) if sheet.turns and width != height else (False,):
            w, h = (height, width) if turned else (width, height)
            box = _corner(w, h, taken, board, step) if sheet.at is None else _at(sheet.at, w, h, taken, board)
            if box is not None:
                rank = (round(box.top, 6), round(box.left, 6), size, turned)
                if best is None or rank < best[0]:
                    best = rank, box
    return None if best is None else (best[0][2], best[0][3], best[1])


def _at(at: tuple[int, float, float], w: float, h: float, taken: list[Box], board: Board) -> Box | None:
    """The box at a fixed place, if it is free."""
    _, x, y = at
    box, usable, gap = Box(x, y, x + w, y + h), board.usable, board.gap
    inside = min(x - usable.left, y - usable.bottom, usable.right - box.right, usable.top - box.top) >= -SLACK_MM
    around = Box(x - gap, y - gap, box.right + gap, box.top + gap)
    blocked = any(_share(around, t) for t in taken) or any(_share(box, k) for k in board.keep_out)
    return box if inside and not blocked else None


def _share(a: Box, b: Box) -> bool:
    across = min(a.right, b.right) - max(a.left, b.left)
    return across > SLACK_MM and min(a.top, b.top) - max(a.bottom, b.bottom) > SLACK_MM


def _corner(w: float, h: float, taken: list[Box], board: Board, step: float) -> Box | None:
    """The lowest and then leftmost free corner, at a step if there is one, else at the usable area's own edge too."""
    usable, gap = board.usable, board.gap
    last_x, last_y = usable.right - w + SLACK_MM, usable.top - h + SLACK_MM
    if last_x < usable.left or last_y < usable.bottom:
        return None
    xs = [usable.left, *(box.right + gap for box in taken), *(box.right for box in board.keep_out)]
    ys = [usable.bottom, *(box.top + gap for box in taken), *(box.top for box in board.keep_out)]
    raised_x, raised_y = ({_raised(v, step) for v in values} for values in (xs, ys))
    edges = [(raised_x, raised_y)]
    if step:
        edges.append((raised_x | {usable.left}, raised_y | {usable.bottom}))
    blocked = [(b.left - gap, b.bottom - gap, b.right + gap, b.top + gap) for b in taken]
    blocked += [(b.left, b.bottom, b.right, b.top) for b in board.keep_out]
    for some_x, some_y in edges:
        for y in sorted(some_y):
            if y > last_y:
                break
            near = [b for b in blocked if y + h > b[1] + SLACK_MM and y < b[3] - SLACK_MM]
            for x in sorted(some_x):
                if x > last_x:
                    break
                if all(x + w <= b[0] + SLACK_MM or x >= b[2] - SLACK_MM for b in near):
                    return Box(x, y, x + w, y + h)
    return None


def _raised(value: float, step: float) -> float:
    return math.ceil(value / step - 1e-9) * step if step else value
