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

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Final

import numpy as np
from numpy.typing import NDArray

from .outline import Posed
from .parts import Points

__all__ = ["Grid", "NoFit", "Tile", "no_fit", "repeated", "rows_within", "tile"]

_GRAZE: Final = 1e-4
"""A cell entered by less than this share of its side is not touched."""


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


def tile(posed: Posed, grid: Grid) -> Tile:
    """The cells that the grown outline of `posed` touches by more than a graze."""
    rings = [ring / (grid.cx, grid.cy) for ring in posed.rings]
    low = np.floor(rings[0].min(axis=0) + _GRAZE).astype(int)
    high = np.maximum(np.ceil(rings[0].max(axis=0) - _GRAZE).astype(int), low + 1)
    columns, rows = (high - low).tolist()
    cells = _touched([ring - low for ring in rings], columns, rows)
    padded = np.zeros((columns, max(grid.stride, rows)), dtype=bool)
    padded[:, :rows] = cells
    bits = _number(padded) if rows <= grid.stride else 0
    return Tile(posed, bits, _runs(cells), int(low[0]), int(low[1]), columns, rows)


def no_fit(lying: Tile, other: Tile, stride: int) -> NoFit:
    """The no-fit set of `other` about `lying`."""
    doubled = [lying.bits]
    while 1 << len(doubled) <= other.rows:
        doubled.append(doubled[-1] | doubled[-1] << (1 << len(doubled) - 1))
    bits = 0
    for column, start, length in other.runs:
        power = length.bit_length() - 1
        dilated = doubled[power]
        if length != 1 << power:
            dilated |= dilated << length - (1 << power)
        bits |= dilated << (other.columns - 1 - column) * stride + other.rows - start - length
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


def _touched(rings: Sequence[Points], columns: int, rows: int) -> NDArray[np.bool_]:
    """Cells of a columns x rows array that the area inside `rings` (in cells, interior on the left) meets.

    In each column it joins the height ranges of the edges within the column with what a line down its middle crosses:
    area that the middle line misses is bounded by edges within the column on its way there.
    """
    start = np.concatenate(rings)
    end = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    counts = np.zeros(columns * (rows + 1), dtype=np.int64)

    x0, x1 = np.minimum(start[:, 0], end[:, 0]), np.maximum(start[:, 0], end[:, 0])
    first = np.floor(x0 + _GRAZE).astype(int)
    last = np.maximum(np.ceil(x1 - _GRAZE).astype(int), first)
    spans = last - first
    edge = np.repeat(np.arange(len(start)), spans)
    column = np.arange(len(edge)) - np.repeat(np.cumsum(spans) - spans, spans) + first[edge]
    inside = (column >= 0) & (column < columns)
    edge, column = edge[inside], column[inside]
    dx = end[:, 0] - start[:, 0]
    slope = np.divide(end[:, 1] - start[:, 1], dx, out=np.zeros_like(dx), where=np.abs(dx) > 1e-12)
    upright = np.abs(dx) <= 1e-12
    ya = start[edge, 1] + slope[edge] * (np.clip(column, x0[edge], x1[edge]) - start[edge, 0])
    yb = start[edge, 1] + slope[edge] * (np.clip(column + 1, x0[edge], x1[edge]) - start[edge, 0])
    yb = np.where(upright[edge], end[edge, 1], yb)
    _mark(counts, column, np.minimum(ya, yb), np.maximum(ya, yb), rows)

    middle = column + 0.5
    crosses = (x0[edge] <= middle) & (middle < x1[edge])
    edge, column, middle = edge[crosses], column[crosses], middle[crosses]
    y = start[edge, 1] + slope[edge] * (middle - start[edge, 0])
    enters = dx[edge] > 0
    low = np.clip(np.floor(y[enters] + _GRAZE).astype(int), 0, rows)
    high = np.clip(np.ceil(y[~enters] - _GRAZE).astype(int), 0, rows)
    counts += np.bincount(column[enters] * (rows + 1) + low, minlength=len(counts))
    counts -= np.bincount(column[~enters] * (rows + 1) + high, minlength=len(counts))
    return np.asarray(counts.reshape(columns, rows + 1).cumsum(axis=1)[:, :rows] > 0)


def _mark(counts: NDArray[np.int64], column: NDArray[np.int64], low: Points, high: Points, rows: int) -> None:
    first = np.clip(np.floor(low + _GRAZE).astype(int), 0, rows)
    last = np.clip(np.maximum(np.ceil(high - _GRAZE).astype(int), first), 0, rows)
    counts += np.bincount(column * (rows + 1) + first, minlength=len(counts))
    counts -= np.bincount(column * (rows + 1) + last, minlength=len(counts))


def _number(cells: NDArray[np.bool_]) -> int:
    return int.from_bytes(np.packbits(cells.ravel(), bitorder="little").tobytes(), "little")


def _runs(cells: NDArray[np.bool_]) -> tuple[tuple[int, int, int], ...]:
    edges = np.diff(np.pad(cells, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    columns, starts = np.nonzero(edges == 1)
    ends = np.nonzero(edges == -1)[1]
    return tuple(zip(columns.tolist(), starts.tolist(), (ends - starts).tolist(), strict=True))


def rows_within(length: float, size: float, cell: float) -> int:
    """How many places a thing of `size` has in `length` on cells of side `cell`: 0 when it does not fit."""
    slack = length - size
    return floor(max(slack, 0.0) / cell + 1e-9) + 1 if slack >= -1e-9 else 0


def cells_across(length: float, cell: float) -> int:
    """Cells needed to cover `length`."""
    return ceil(length / cell - 1e-9)
