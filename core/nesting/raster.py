"""Parts as sets of grid cells, kept in whole numbers, one bit a cell.

Terminology:

grid
    cells of `cx` x `cy` mm. Cell (i, j) is bit i * stride + j, so moving a set by (i, j) is one shift and joining two
    sets is one "or", however many cells they hold.
tile
    a posed part on the grid: all cells that its grown outline touches. A tile lies at (i, j) when the lower left corner
    of the true part's box lies at the lower left corner of that cell.
no-fit set
    for a tile that lies at (0, 0) and another tile: the places of the other at which the two share a cell. It is the
    Minkowski sum of the one and the reflected other (the no-fit polygon of the cutting stock literature, Art 1966), on
    cells; places in holes and bays stay free.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from math import floor
from typing import Final

import numpy as np
from numpy.typing import NDArray

from .outline import Posed
from .parts import Points

__all__ = ["Grid", "NoFit", "Tile", "no_fit", "repeated", "rows_within", "tiles"]

_GRAZE: Final = 1e-4
"""A cell entered by less than this share of its side is not touched."""

_REVERSED: Final = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
"""Every byte with its bits in reverse."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells of `cx` x `cy` mm; `stride` bits a column."""

    cx: float
    cy: float
    stride: int


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """Cells of a posed part: `bits` relative to cell (`left`, `low`); `runs` are columns' (column, start, length)."""

    posed: Posed
    bits: int
    runs: tuple[tuple[int, int, int], ...]
    left: int
    low: int
    columns: int
    rows: int


@dataclass(frozen=True, slots=True)
class NoFit:
    """`bits` of the no-fit set; its bit 0 lies `offset` bits from the place of the lying tile (mostly negative)."""

    bits: int
    offset: int

    def at(self, place: int) -> int:
        """The set for a lying tile whose place is the bit number `place`."""
        shift = place + self.offset
        return self.bits << shift if shift >= 0 else self.bits >> -shift

    def reflected(self) -> "NoFit":
        """The same two tiles with their roles exchanged: every place the other way from the one that lies."""
        last = self.bits.bit_length() - 1
        count = last // 8 + 1
        swapped = self.bits.to_bytes(count, "little").translate(_REVERSED)
        return NoFit(int.from_bytes(swapped, "big") >> 8 * count - 1 - last, -self.offset - last)


def tiles(posed: Sequence[Posed], grid: Grid) -> list[Tile]:
    """For each of `posed` the cells that its grown outline touches by more than a graze; all are worked out at once."""
    if not posed:
        return []
    rings = [ring for p in posed for ring in p.rings]
    points = np.concatenate(rings) / (grid.cx, grid.cy)
    ends = np.cumsum([len(ring) for ring in rings])
    owner = np.repeat(np.arange(len(posed)), [sum(len(ring) for ring in p.rings) for p in posed])
    begins = np.searchsorted(owner, np.arange(len(posed)))
    low = np.floor(np.minimum.reduceat(points, begins) + _GRAZE).astype(int)
    high = np.maximum(np.ceil(np.maximum.reduceat(points, begins) - _GRAZE).astype(int), low + 1)
    start = points - low[owner]
    following = np.arange(1, len(points) + 1)
    following[ends - 1] = np.concatenate(([0], ends[:-1]))
    cells = _touched(start, start[following], owner, high - low)
    made, runs, first = [], _runs(cells), 0
    for p, (left, bottom), (columns, rows) in zip(posed, low.tolist(), (high - low).tolist(), strict=True):
        last = first + columns
        padded = np.zeros((columns, max(grid.stride, rows)), dtype=bool)
        padded[:, :rows] = cells[first:last, :rows]
        bits = _number(padded) if rows <= grid.stride else 0
        own = runs[bisect_left(runs, (first,)) : bisect_left(runs, (last,))]
        made.append(Tile(p, bits, tuple((c - first, r, n) for c, r, n in own), left, bottom, columns, rows))
        first = last
    return made


def no_fit(lying: Tile, other: Tile, stride: int) -> NoFit:
    """The no-fit set of `other` about `lying`."""
    if len(lying.runs) < len(other.runs):
        return no_fit(other, lying, stride).reflected()
    doubled = [lying.bits]
    while 1 << len(doubled) <= other.rows:
        doubled.append(doubled[-1] | doubled[-1] << (1 << len(doubled) - 1))
    dilated: dict[int, int] = {}
    bits = 0
    for column, start, length in other.runs:
        if length not in dilated:
            power = length.bit_length() - 1
            dilated[length] = doubled[power] | doubled[power] << length - (1 << power)
        bits |= dilated[length] << (other.columns - 1 - column) * stride + other.rows - start - length
    x = lying.left - other.left - other.columns + 1
    y = lying.low - other.low - other.rows + 1
    return NoFit(bits, x * stride + y)


def repeated(pattern: int, step: int, times: int) -> int:
    """`pattern` set `times` times, `step` bits apart."""
    if times <= 0:
        return 0
    out, have = pattern, 1
    while have < times:
        more = min(have, times - have)
        out |= out << more * step if more == have else (out & (1 << more * step) - 1) << have * step
        have += more
    return out


def _touched(start: Points, end: Points, owner: NDArray[np.int64], sizes: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Cells that the areas inside rings of edges `start` to `end` (in cells, the inside on the left) meet.

    Edge n is one of the area number `owner[n]`, which has `sizes` columns and rows. The areas' columns stand one after
    another in the answer; it has as many rows as the highest. In each column it joins the height ranges of the edges
    within the column with what a line down its middle crosses: area that the middle line misses is bounded by edges
    within the column on its way there.
    """
    rows = int(sizes[:, 1].max())
    offsets = np.cumsum(sizes[:, 0]) - sizes[:, 0]
    counts = np.zeros(int(sizes[:, 0].sum()) * (rows + 1), dtype=np.int64)

    x0, x1 = np.minimum(start[:, 0], end[:, 0]), np.maximum(start[:, 0], end[:, 0])
    first = np.floor(x0 + _GRAZE).astype(int)
    last = np.maximum(np.ceil(x1 - _GRAZE).astype(int), first)
    spans = last - first
    edge = np.repeat(np.arange(len(start)), spans)
    column = np.arange(len(edge)) - np.repeat(np.cumsum(spans) - spans, spans) + first[edge]
    inside = (column >= 0) & (column < sizes[owner[edge], 0])
    edge, column = edge[inside], column[inside]
    x, y = start[edge, 0], start[edge, 1]
    dx = (end[:, 0] - start[:, 0])[edge]
    upright = np.abs(dx) <= 1e-12
    slope = np.divide(end[edge, 1] - y, dx, out=np.zeros_like(dx), where=~upright)
    left, right = x0[edge], x1[edge]
    ya = y + slope * (np.clip(column, left, right) - x)
    yb = np.where(upright, end[edge, 1], y + slope * (np.clip(column + 1, left, right) - x))
    base = (column + offsets[owner[edge]]) * (rows + 1)
    low = _row(np.floor(np.minimum(ya, yb) + _GRAZE), rows)
    high = _row(np.ceil(np.maximum(ya, yb) - _GRAZE), rows)
    _count(counts, base + low, base + np.maximum(high, low))

    middle = column + 0.5
    crosses = (left <= middle) & (middle < right)
    y = (y + slope * (middle - x))[crosses]
    base, enters = base[crosses], dx[crosses] > 0
    leaves = ~enters
    up, down = _row(np.floor(y[enters] + _GRAZE), rows), _row(np.ceil(y[leaves] - _GRAZE), rows)
    _count(counts, base[enters] + up, base[leaves] + down)
    return np.asarray(counts.reshape(-1, rows + 1).cumsum(axis=1)[:, :rows] > 0)


def _row(values: Points, rows: int) -> NDArray[np.int64]:
    return np.asarray(np.clip(values.astype(int), 0, rows))


def _count(counts: NDArray[np.int64], begins: NDArray[np.int64], ends: NDArray[np.int64]) -> None:
    """One more from each of `begins` on, one less from each of `ends` on."""
    counts += np.bincount(begins, minlength=len(counts))
    counts -= np.bincount(ends, minlength=len(counts))


def _number(cells: NDArray[np.bool_]) -> int:
    return int.from_bytes(np.packbits(cells.ravel(), bitorder="little").tobytes(), "little")


def _runs(cells: NDArray[np.bool_]) -> list[tuple[int, int, int]]:
    """Column, start and length of each run, column by column."""
    edges = np.zeros((cells.shape[0], cells.shape[1] + 1), dtype=bool)
    edges[:, 0], edges[:, -1] = cells[:, 0], cells[:, -1]
    np.not_equal(cells[:, 1:], cells[:, :-1], out=edges[:, 1:-1])
    columns, at = np.nonzero(edges)
    starts, ends = at[::2], at[1::2]
    return list(zip(columns[::2].tolist(), starts.tolist(), (ends - starts).tolist(), strict=True))


def rows_within(length: float, size: float, cell: float) -> int:
    """How many places a thing of `size` has in `length` on cells of side `cell`: 0 when it does not fit."""
    slack = length - size
    return floor(max(slack, 0.0) / cell + 1e-9) + 1 if slack >= -1e-9 else 0
