"""Regular arrangements for copies of one part: rows of equal pitch, each row nested into the one below.

Terminology:

row
    copies in one turn, side by side, `pitch` apart.
offset
    how far a row is moved along itself against the first row.
lattice
    rows that repeat: all in one turn, or by turns in one turn and half a turn from it (a double lattice: Kuperberg and
    Kuperberg 1990 pack any convex body to at least 86 % that way).
profile
    the highest (lowest) points of a row's outline, column by column.
reach
    how high a body must lie above another, at a given sideways offset, to be clear of it at any greater height.

Rows may run along the rectangle or across it; across is worked out with x and y exchanged.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import floor, inf
from typing import Final

import numpy as np

from .outline import Posed
from .parts import Points

__all__ = ["Lattice", "lattices"]

COLUMNS: Final = 48
"""Columns a pitch in which offsets are tried."""

PLAIN: Final = 2
"""Lattices without offsets that are laid out beside the densest: they fit some rectangles better."""

MOST_STRETCH: Final = 1.4
"""How much further apart than need be bodies in a row are set, at most."""

LEAST_RISE_MM: Final = 1e-3

MOST_DEEP: Final = 40
"""Rows are not tried where a body reaches past more than so many of its neighbors: long, thin and leaning."""

_GRAZE: Final = 1e-7
_SLACK_MM: Final = 1e-6


@dataclass(slots=True, eq=False)
class Lattice:
    """Rows of `posed` bodies in turn, `pitch` apart, each moved by the next of `steps` against the row below.

    `across` tells that the bodies' rings have x and y exchanged. `promise` is about how many bodies the rectangle
    takes, or stands for it where the rectangle has no end. `known` keeps the reaches worked out.
    """

    posed: tuple[Posed, ...]
    outers: tuple[Points, ...]
    pitch: float
    steps: tuple[float, ...]
    across: bool
    density: float
    promise: float
    known: dict[tuple[int, int, float], float] = field(default_factory=dict)

    def lay(self, width: float, height: float, most: int) -> tuple[list[Posed], Points]:
        """Up to `most` bodies within `width` x `height` mm, those kept that lie closest to the left side."""
        along, stack = (height, width) if self.across else (width, height)
        found: list[tuple[float, float, int]] = []
        for which, x, y in self._rows(along, stack, most):
            body = self.posed[which]
            wide = body.height if self.across else body.width
            n = min(int((along - wide - x + _SLACK_MM) / self.pitch) + 1, most)
            found += [(x + k * self.pitch, y, which) for k in range(n)]
        places = [((y, x) if self.across else (x, y), which) for x, y, which in found]
        places.sort(key=lambda p: (p[0][0] + self.posed[p[1]].width, p[0][1]))
        del places[most:]
        at = np.array([p for p, _ in places], dtype=float).reshape(-1, 2)
        return [self.posed[which] for _, which in places], at

    def _rows(self, along: float, stack: float, most: int) -> Iterator[tuple[int, float, float]]:
        """Turn, offset and height of each row that has room for a body."""
        below: list[tuple[int, float, float]] = []
        x = 0.0
        for number in range(most):
            which = number % len(self.posed)
            body = self.posed[which]
            wide, tall = (body.height, body.width) if self.across else (body.width, body.height)
            y = max((h + self._reach(w, which, x - o) for w, o, h in below[-4:]), default=0.0)
            y = max(y, below[-1][2] if below else 0.0)
            if y + tall > stack + _SLACK_MM:
                return
            below.append((which, x, y))
            if x + wide <= along + _SLACK_MM:
                yield which, x, y
            x = (x + self.steps[number % len(self.steps)]) % self.pitch
            if self.pitch - x < _SLACK_MM:
                x = 0.0

    def _reach(self, lower: int, upper: int, offset: float) -> float:
        offset = round(offset % self.pitch, 9)
        key = (lower, upper, offset)
        if key not in self.known:
            self.known[key] = _row_reach(self.outers[lower], self.outers[upper], offset, self.pitch)
        return self.known[key]


def lattices(poses: Sequence[Posed], keep: int, width: float = inf, height: float = inf) -> list[Lattice]:
    """The `keep` densest and the `keep` fullest lattices of bodies in the turns of `poses`, and some without offsets.

    In a rectangle of known `width` or `height` the rows are stretched too, so that as many bodies reach from side to
    side: rows further apart nest deeper.
    """
    sizes = {False: (width, height), True: (height, width)}
    found = [lattice for across, (along, stack) in sizes.items() for lattice in _all(poses, across, along, stack)]
    found.sort(key=lambda lattice: -round(lattice.density, 9))
    dense = found[:keep]
    found.sort(key=lambda lattice: -round(lattice.promise, 6))
    full = [lattice for lattice in found[:keep] if lattice not in dense]
    plain = [lattice for lattice in found[keep:] if not any(lattice.steps) and lattice not in dense]
    return dense + full + plain[:PLAIN]


def _all(poses: Sequence[Posed], across: bool, along: float, stack: float) -> Iterator[Lattice]:
    outers = {p.turn: p.rings[0][::-1, ::-1] if across else p.rings[0] for p in poses}
    by_turn = {round(p.turn % 360, 6): p for p in poses}
    done: set[float] = set()
    for p in poses:
        sideways = outers[p.turn][::-1, ::-1]
        least = _reach(sideways, sideways, 0.0)
        if np.ptp(outers[p.turn][:, 0]) > MOST_DEEP * least:
            continue
        partner = by_turn.get(round((p.turn + 180) % 360, 6))
        if round(p.turn % 360, 6) in done:
            partner = None
        elif partner is not None:
            done.add(round(partner.turn % 360, 6))
        wide, tall = (p.height, p.width) if across else (p.width, p.height)
        for pitch in _pitches(least, along - wide):
            for posed, steps, rise in _rows_of(p, partner, outers, pitch):
                density = p.blank.area / (pitch * rise)
                promise = _in_a_row(pitch, steps, along - wide) * _rows_in(rise, stack - tall)
                shapes = tuple(outers[q.turn] for q in posed)
                yield Lattice(posed, shapes, pitch, steps, across, density, promise)


def _pitches(least: float, room: float) -> list[float]:
    """The least pitch, and those stretched so that the last body of a row, straight or half a step on, ends there."""
    if not 0 < room < inf:
        return [least]
    bodies = floor(room / least + _SLACK_MM) + 1
    stretched = [room / (bodies - 1) if bodies > 1 else least, room / (bodies - 0.5)]
    return [least, *(pitch for pitch in stretched if least * (1 + _SLACK_MM) < pitch < MOST_STRETCH * least)]


def _in_a_row(pitch: float, steps: tuple[float, ...], room: float) -> float:
    """Bodies in a row on average, or a length that stands for them where the row has no end."""
    if room == inf:
        return 1 / pitch
    offsets = np.cumsum([0.0, *steps * 3])[:-1] % pitch
    return float(np.mean(np.floor((room - offsets) / pitch + _SLACK_MM) + 1))


def _rows_in(rise: float, room: float) -> float:
    return 1 / rise if room == inf else floor(room / rise + _SLACK_MM) + 1.0


def _rows_of(
    p: Posed, partner: Posed | None, outers: dict[float, Points], pitch: float
) -> Iterator[tuple[tuple[Posed, ...], tuple[float, ...], float]]:
    """Ways to repeat rows of `p`, alone or with its partner by turns: bodies, steps, and the mean rise of a row."""
    column = pitch / COLUMNS
    top, bottom = _profile(outers[p.turn], pitch)
    rises = np.maximum(_stack(top, bottom), LEAST_RISE_MM)
    yield (p,), (0.0,), float(rises[0])
    best = int(np.argmin(rises))
    if best:
        yield (p,), (best * column,), float(rises[best])
    zigzag = (rises + rises[-np.arange(COLUMNS)]) / 2
    best = int(np.argmin(zigzag))
    if best and 2 * best != COLUMNS:
        yield (p,), (best * column, pitch - best * column), float(zigzag[best])
    if partner is None:
        return
    their_top, their_bottom = _profile(outers[partner.turn], pitch)
    up, back = np.maximum(_stack(top, their_bottom), 0.0), np.maximum(_stack(their_top, bottom), 0.0)
    s, t = np.meshgrid(np.arange(COLUMNS), np.arange(COLUMNS), indexing="ij")
    period = np.maximum(up[s] + back[t], rises[(s + t) % COLUMNS])
    for choice in (period, np.where((s + t) % COLUMNS == 0, period, np.inf)):
        a, b = (int(i) for i in np.unravel_index(int(np.argmin(choice)), choice.shape))
        yield (p, partner), (a * column, b * column), float(period[a, b]) / 2


def _profile(outer: Points, pitch: float) -> tuple[Points, Points]:
    """The highest and the lowest y of a row of `outer`, `pitch` apart, in each of the columns of a pitch."""
    cell = pitch / COLUMNS
    start, end = outer, np.roll(outer, -1, axis=0)
    x0, x1 = np.minimum(start[:, 0], end[:, 0]) / cell, np.maximum(start[:, 0], end[:, 0]) / cell
    first = np.floor(x0 + _GRAZE).astype(int)
    spans = np.maximum(np.ceil(x1 - _GRAZE).astype(int) - first, 0)
    edge = np.repeat(np.arange(len(outer)), spans)
    column = np.arange(len(edge)) - np.repeat(np.cumsum(spans) - spans, spans) + first[edge]
    dx = end[:, 0] - start[:, 0]
    slope = np.divide(end[:, 1] - start[:, 1], dx, out=np.zeros_like(dx), where=np.abs(dx) > 1e-12)
    ends = [
        start[edge, 1] + slope[edge] * (np.clip(column + side, x0[edge], x1[edge]) * cell - start[edge, 0])
        for side in (0, 1)
    ]
    top, bottom = np.full(COLUMNS, -np.inf), np.full(COLUMNS, np.inf)
    for y in ends:
        np.maximum.at(top, column % COLUMNS, y)
        np.minimum.at(bottom, column % COLUMNS, y)
    return top, bottom


def _stack(top: Points, bottom: Points) -> Points:
    """For each offset in columns how high a row with profile `bottom` must lie above one with profile `top`."""
    n = np.arange(COLUMNS)
    return np.asarray((top[None, :] - bottom[(n[None, :] - n[:, None]) % COLUMNS]).max(axis=1))


def _row_reach(lower: Points, upper: Points, offset: float, pitch: float) -> float:
    """How high a row of `upper` must lie above a row of `lower`, moved by `offset`."""
    low, high = float(lower[:, 0].min()), float(lower[:, 0].max())
    left, right = float(upper[:, 0].min()), float(upper[:, 0].max())
    first, last = int(np.ceil((low - right - offset) / pitch)), int(np.floor((high - left - offset) / pitch))
    return max((_reach(lower, upper, offset + k * pitch) for k in range(first, last + 1)), default=0.0)


def _reach(lower: Points, upper: Points, offset: float) -> float:
    """How high `upper`, moved right by `offset`, must lie above `lower`: at a point of one and an edge of the other."""
    middle = (float(upper[:, 0].min()) + float(upper[:, 0].max())) / 2
    moved = (upper - (middle, 0.0)) * (1 - _GRAZE, 1.0) + (middle + offset, 0.0)
    return max(_over(lower, moved), _over(-moved, -lower))


def _over(lower: Points, upper: Points) -> float:
    """The most that an edge of `lower` lies above a point of `upper`; only edges with the inside below count."""
    start, end = lower, np.roll(lower, -1, axis=0)
    tops = start[:, 0] - end[:, 0] > _GRAZE
    start, end = start[tops], end[tops]
    x = upper[:, 0, None]
    point, edge = np.nonzero((end[:, 0] <= x) & (x <= start[:, 0]))
    if not len(point):
        return -np.inf
    slope = (end[:, 1] - start[:, 1]) / (end[:, 0] - start[:, 0])
    y = start[edge, 1] + slope[edge] * (upper[point, 0] - start[edge, 0])
    return float((y - upper[point, 1]).max())
