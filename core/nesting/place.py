"""Lays parts one after another, each at the leftmost and then lowest place that is still free.

Terminology:

board
    the tiles of all parts in all their turns on one grid, with the no-fit sets worked out so far.
order
    indices of parts, one entry a copy: the sequence in which they are laid.
laid
    what came of an order: for each copy the tile and its place, and the copies that found none.

countdown
    a set of places as a whole number whose bits count down from the last place. The first place in it is its highest
    bit, which Python tells at once, and the number shrinks as the rectangle fills from the left.

The rule is "bottom left" (Baker, Coffman and Rivest 1980) turned by a quarter, exact on the grid. What lies is taken
out of the free places of a tile when that tile is next looked at, and only if it may then be the one that is laid.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import count
from math import ceil, floor

from .outline import Blank, Posed, pose
from .raster import Grid, NoFit, Tile, no_fit, repeated, rows_within, tiles

__all__ = ["Board", "Fixed", "Laid", "board", "lay", "without_twins"]

Fixed = tuple[int, float, float]
"""A tile that lies already, and the lower left corner of its box in mm, on the grid or between."""


@dataclass(slots=True, eq=False)
class Board:
    """`tiles[part]` lists positions in `all_tiles`, one a turn. `work` counts words of bits handled, a fair clock."""

    grid: Grid
    all_tiles: list[Tile]
    tiles: tuple[tuple[int, ...], ...]
    known: dict[tuple[int, int], NoFit] = field(default_factory=dict)
    masks: dict[tuple[int, int], int] = field(default_factory=dict)
    starts: dict[tuple[frozenset[int], float, float], dict[int, int]] = field(default_factory=dict)
    work: int = 0

    def number(self, posed: Posed) -> int:
        """The tile of a part in a turn that the board has."""
        return next(n for n, tile in enumerate(self.all_tiles) if tile.posed is posed)

    def add(self, posed: Posed) -> int:
        """The number of a new tile that is no part's."""
        self.all_tiles += tiles((posed,), self.grid)
        return len(self.all_tiles) - 1

    def between(self, lying: int, other: int) -> NoFit:
        """The no-fit set of tile `other` about tile `lying`, as a countdown from the place of `lying`."""
        found = self.known.get((lying, other))
        if found is None:
            a, b = self.all_tiles[lying], self.all_tiles[other]
            back = self.known.get((other, lying))
            found = self.known[lying, other] = back.reflected() if back else no_fit(b, a, self.grid.stride)
            self.work += len(b.runs) * (found.bits.bit_length() // 64 + 20)
        return found

    def free(self, order: Sequence[int], width: float, height: float) -> dict[int, int]:
        """The sets of places of all tiles of the parts in `order`, in a rectangle of `width` x `height` mm."""
        wanted = (frozenset(order), width, height)
        found = self.starts.get(wanted)
        if found is None:
            tiles = sorted({t for part in wanted[0] for t in self.tiles[part]})
            found = self.starts[wanted] = {t: self.places(t, width, height) for t in tiles}
        return dict(found)

    def places(self, number: int, width: float, height: float) -> int:
        """The set of places where tile `number` lies within a rectangle of `width` x `height` mm."""
        posed = self.all_tiles[number].posed
        columns = rows_within(width, posed.width, self.grid.cx)
        rows = rows_within(height, posed.height, self.grid.cy)
        if self.all_tiles[number].rows > self.grid.stride:
            return 0
        found = self.masks.get((columns, rows))
        if found is None:
            found = self.masks[columns, rows] = repeated((1 << rows) - 1, self.grid.stride, columns)
        return found


@dataclass(frozen=True, slots=True)
class Laid:
    """`lying`: (part, tile, column, row) in the order of laying; extents of the true parts in mm."""

    lying: tuple[tuple[int, int, int, int], ...]
    missing: tuple[int, ...]
    right: float
    top: float
    sum_right: float


def board(blanks: Sequence[Blank], turns: Sequence[Sequence[float]], cell: tuple[float, float], height: float) -> Board:
    """A board for rectangles of up to `height` mm; `turns` lists for each blank those to be tried."""
    cx, cy = cell
    poses = [[pose(blank, turn) for turn in wanted] for blank, wanted in zip(blanks, turns, strict=True)]
    rim = max((-float(ring.min()) for posed in poses for p in posed for ring in p.rings), default=0.0)
    stride = ceil(height / cy) + 2 * ceil(rim / cy) + 5
    grid = Grid(cx, cy, stride)
    number = count()
    numbers = tuple(tuple(next(number) for _ in posed) for posed in poses)
    return Board(grid, tiles([p for posed in poses for p in posed], grid), numbers)


def without_twins(board: Board) -> Board:
    """The board with one turn only of those in which a part looks the same on the grid."""
    return replace(
        board,
        tiles=tuple(tuple({_look(board.all_tiles[t]): t for t in some[::-1]}.values())[::-1] for some in board.tiles),
    )


def _look(tile: Tile) -> tuple[float, ...]:
    posed = tile.posed
    return tile.bits, tile.left, tile.low, round(posed.width, 6), round(posed.height, 6)


def lay(
    board: Board,
    order: Sequence[int],
    width: float,
    height: float,
    fixed: Sequence[Fixed] = (),
    most: Callable[[float, float], bool] | None = None,
) -> Laid:
    """Lays the parts of `order` in a rectangle of `width` x `height` mm (a margin is the caller's business).

    `fixed` lies there already. Once `most`, told how far right and up the parts reach, says that it is too far, nothing
    more is laid.
    """
    stride, cx, cy = board.grid.stride, board.grid.cx, board.grid.cy
    free = board.free(order, width, height)
    size = max((places.bit_length() for places in free.values()), default=0) // 64 + 20
    room = _Room(board, free)
    for lies, x, y in fixed:
        room.lying += [(lies, i * stride + j) for i in _either_side(x / cx) for j in _either_side(y / cy)]
    last = {part: n for n, part in enumerate(order)}
    lying: list[tuple[int, int, int, int]] = []
    missing: list[int] = []
    full: set[int] = set()
    to_come = len(free)
    right = top = sum_right = 0.0
    for n, part in enumerate(order):
        best = None
        if part not in full:
            for t in board.tiles[part]:
                posed = board.all_tiles[t].posed
                hoped = room.seen(t)
                if best is not None and hoped is not None and hoped // stride * cx + posed.width > best[0]:
                    continue
                place = room.first(t)
                if place is not None:
                    column, row = divmod(place, stride)
                    rank = (column * cx + posed.width, row * cy + posed.height, column, row, t)
                    if best is None or rank < best:
                        best = rank
        if best is None:
            full.add(part)
            missing.append(part)
            continue
        x1, y1, column, row, chosen = best
        right, top, sum_right = max(right, x1), max(top, y1), sum_right + x1
        if most is not None and most(right, top):
            missing += order[n:]
            break
        lying.append((part, chosen, column, row))
        room.lying.append((chosen, column * stride + row))
        if last[part] == n:
            to_come -= len(board.tiles[part])
        board.work += size * (2 * to_come + len(board.tiles[part]))
    return Laid(tuple(lying), tuple(missing), right, top, sum_right)


class _Room:
    """The free places of every tile beside what is `lying` (tiles and their places), as countdowns."""

    def __init__(self, board: Board, free: dict[int, int]) -> None:
        self.board, self.free = board, free
        self.end = {t: places.bit_length() for t, places in free.items()}
        self.lying: list[tuple[int, int]] = []
        self.heeded = dict.fromkeys(free, 0)

    def seen(self, t: int) -> int | None:
        """The first place of the tile when it was last asked for; since then it can only have moved on."""
        places = self.free[t]
        return self.end[t] - places.bit_length() if places else None

    def first(self, t: int) -> int | None:
        """The first free place of the tile."""
        places, end, known = self.free[t], self.end[t], self.board.known
        for lies, place in self.lying[self.heeded[t] :] if places else ():
            no_fit = known.get((lies, t)) or self.board.between(lies, t)
            shift = end - 1 - place + no_fit.offset
            if shift < places.bit_length():
                places ^= places & (no_fit.bits << shift if shift >= 0 else no_fit.bits >> -shift)
        self.heeded[t] = len(self.lying)
        self.free[t] = places
        return end - places.bit_length() if places else None


def _either_side(place: float) -> tuple[int, ...]:
    """The grid places that together cover a tile at `place`."""
    near = round(place)
    return (near,) if abs(place - near) < 1e-6 else (floor(place), floor(place) + 1)
