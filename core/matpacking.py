"""Packs rectangles, each of which may have one of several sizes, on as few boards as it can.

Terminology
    board       where rectangles may lie on one mat: the usable area, less what is kept out
    sheet       a rectangle to be laid; it has one of several sizes, of which the first is the one liked best
    lying       where a sheet lies: its size, whether it is turned by a quarter, and its lower left corner
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
from typing import Final

from clothpath.curves import Box

__all__ = ["Board", "Lying", "Sheet", "pack"]

SLACK_MM: Final = 1e-6
"""Rounding in sums of sizes: sheets this much too large still fit."""
TRIES: Final = 400
"""How many arrangements are tried before the best so far is taken."""


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
    """A rectangle of one of several sizes (width, height) in mm, the best liked first.

    Attributes:
        turns: whether it may be turned by a quarter.
        at: index of the board and lower left corner, if these are fixed.
    """

    sizes: tuple[tuple[float, float], ...]
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

    Fewest boards first, then the least sum of the sizes' areas, then the coarsest step.
    """
    if not sheets:
        return ()
    best: _Arrangement | None = None
    tries = 0
    for sizes, order in _proposals(sheets):
        for step in board.steps:
            found = _first_fit(sheets, sizes, order, board, step)
            tries += 1
            if found is not None and (best is None or found.cost < best.cost):
                best = found
        if best is not None and ((best.boards <= _least_boards(sheets, board) and best.liked) or tries > TRIES):
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

    @property
    def liked(self) -> bool:
        return all(each.size == 0 for each in self.lying)

    @property
    def cost(self) -> tuple[float, ...]:
        return (self.boards, round(self.area, 3), -self.step)


def _least_boards(sheets: Sequence[Sheet], board: Board) -> int:
    """No arrangement takes fewer: the areas, each with its gap, against the usable area with one gap more."""
    gap = board.gap
    room = (board.usable.width + gap) * (board.usable.height + gap)
    need = sum(min((w + gap) * (h + gap) for w, h in sheet.sizes) for sheet in sheets)
    return max(1, math.ceil(need / room - 1e-9))


_ORDERS: Final[tuple[Callable[[tuple[float, float]], tuple[float, float]], ...]] = (
    lambda size: (-max(size), -min(size)),
    lambda size: (-size[0] * size[1], -size[0]),
    lambda size: (-size[1], -size[0]),
    lambda size: (-size[0], -size[1]),
    lambda size: (-min(size), -max(size)),
)


def _proposals(sheets: Sequence[Sheet]) -> Iterator[tuple[list[list[int]], list[int]]]:
    """Sizes to choose from for each sheet, and an order to lay them in; what is liked best comes first."""
    liked = [[0] for _ in sheets]
    every = [list(range(len(sheet.sizes))) for sheet in sheets]
    for allowed in (liked, every):
        for rank in _ORDERS:
            yield allowed, sorted(range(len(sheets)), key=lambda n: (*rank(sheets[n].sizes[allowed[n][0]]), n))
    by_area = sorted(range(len(sheets)), key=lambda n: (-math.prod(sheets[n].sizes[0]), n))
    for level in range(1, max(len(sheet.sizes) for sheet in sheets)):
        some = [list(range(min(level + 1, len(sheet.sizes)))) for sheet in sheets]
        yield some, by_area
        for n in by_area:
            if level < len(sheets[n].sizes):
                one = [[0] if m != n else [level] for m in range(len(sheets))]
                for rank in _ORDERS[:2]:
                    yield one, sorted(range(len(sheets)), key=lambda m: (*rank(sheets[m].sizes[one[m][0]]), m))


def _first_fit(
    sheets: Sequence[Sheet], sizes: list[list[int]], order: list[int], board: Board, step: float
) -> _Arrangement | None:
    boards: list[list[Box]] = []
    lying: list[Lying] = []
    area = 0.0
    for n in sorted(order, key=lambda n: sheets[n].at is None):
        sheet = sheets[n]
        first, last = (0, len(boards)) if sheet.at is None else (sheet.at[0], sheet.at[0])
        for b in range(first, last + 1):
            boards.extend([] for _ in range(b + 1 - len(boards)))
            found = _lowest(sheet, sizes[n], boards[b], board, step)
            if found is not None:
                size, turned, box = found
                boards[b].append(box)
                lying.append(Lying(n, size, turned, b, box))
                area += box.width * box.height
                break
        else:
            return None
    return _Arrangement(tuple(lying), len(boards), area, step)


def _lowest(
    sheet: Sheet, sizes: list[int], taken: list[Box], board: Board, step: float
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
