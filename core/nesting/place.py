"""Lays parts one after another, each at the leftmost and then lowest place that is still free.

Terminology:

board
    the tiles of all parts in all their turns on one grid, with the no-fit sets worked out so far.
order
    indices of parts, one entry a copy: the sequence in which they are laid.
laid
    what came of an order: for each copy the tile and its place, and the copies that found none.

The rule is "bottom left" (Baker, Coffman and Rivest 1980) turned by a quarter, exact on the grid: with no-fit sets as
whole numbers the first free place is the lowest set bit.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import count
from math import ceil, floor

from .outline import Blank, Posed, pose
from .raster import Grid, NoFit, Tile, no_fit, repeated, rows_within, tile

__all__ = ["Board", "Fixed", "Laid", "board", "lay"]

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

    def number(self, part: int, turn: float) -> int:
        """The tile of `part` in a turn that the board has."""
        return next(t for t in self.tiles[part] if self.all_tiles[t].posed.turn == turn)

    def add(self, posed: Posed) -> int:
        """The number of a new tile that is no part's."""
        self.all_tiles.append(tile(posed, self.grid))
        return len(self.all_tiles) - 1

    def between(self, lying: int, other: int) -> NoFit:
        """The no-fit set of tile `other` about tile `lying`."""
        found = self.known.get((lying, other))
        if found is None:
            a, b = self.all_tiles[lying], self.all_tiles[other]
            found = self.known[lying, other] = no_fit(a, b, self.grid.stride)
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
    number = count()
    tiles = tuple(tuple(next(number) for _ in posed) for posed in poses)
    grid = Grid(cx, cy, stride)
    return Board(grid, [tile(p, grid) for posed in poses for p in posed], tiles)


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
    for lies, x, y in fixed:
        spread = [i * stride + j for i in _either_side(x / cx) for j in _either_side(y / cy)]
        for t, places in free.items():
            no_fit = board.between(lies, t)
            for place in spread:
                places &= ~no_fit.at(place)
            free[t] = places
    last = {part: n for n, part in enumerate(order)}
    lying: list[tuple[int, int, int, int]] = []
    missing: list[int] = []
    full: set[int] = set()
    right = top = sum_right = 0.0
    size = max((mask.bit_length() for mask in free.values()), default=0) // 64 + 20
    for n, part in enumerate(order):
        best = None
        if part not in full:
            for t in board.tiles[part]:
                places = free.get(t, 0)
                if not places:
                    continue
                column, row = divmod((places & -places).bit_length() - 1, stride)
                posed = board.all_tiles[t].posed
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
        place = column * stride + row
        if last[part] == n:
            for t in board.tiles[part]:
                free.pop(t, None)
        for t, places in free.items():
            free[t] = places & ~board.between(chosen, t).at(place)
        board.work += size * (2 * len(free) + len(board.tiles[part]))
    return Laid(tuple(lying), tuple(missing), right, top, sum_right)


def _either_side(place: float) -> tuple[int, ...]:
    """The grid places that together cover a tile at `place`."""
    near = round(place)
    return (near,) if abs(place - near) < 1e-6 else (floor(place), floor(place) + 1)
