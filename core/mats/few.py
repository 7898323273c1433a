"""Rectangles to cut for one piece or for two: all ways in which they may lie, judged by the size that a ruler shows.

Terminology
    lone        a piece that has its swatch for itself: only its turn is to be chosen
    pair        two copies, the second of which comes in from one side until it meets the first
    flank       for each band of an outline, how far it reaches to the left and to the right
    band        a stretch of the outline's height, the same for all outlines of a pair
    shown       the size as it is cut: rounded up to the ruler's step, or all the room there is

Most fabrics of a design have one piece or two, and a general search spends most of its time on them. Bands are judged
by their widest place, so what is found is never too close; sliding on the true outlines takes the rest away.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.mats.wanted import Rules
from clothpath.nesting import BadPartError, Packing, Part, Points
from clothpath.nesting.arrange import Arrangement, Frame, tightened
from clothpath.nesting.outline import Blank, Posed, blanks, pose
from clothpath.nesting.parts import Spot, turned
from clothpath.nesting.turns import search_turns

__all__ = ["lone", "pair"]

Floats: TypeAlias = NDArray[np.float64]
Size = tuple[float, float]

SLACK_MM: Final = 1e-6
"""Rounding in sums of sizes."""
SWEEP_DEG: Final = 1.0
"""Step between the turns that are tried of a lone piece that may be turned at will."""
BANDS: Final = 72
"""Bands across the higher one of a pair."""
TIGHTENED: Final = 3
"""So many arrangements of a pair at least are slid together, of which the smallest count."""
ALIKE: Final = 1.03
"""A rectangle is left out where another is no more than so much larger both ways."""


def lone(part: Part, most: Size, rules: Rules, limit: int) -> tuple[Packing, ...]:
    """Up to `limit` rectangles for the only copy, the least to cut first; none where it fits `most` in no turn.

    Raises:
        BadPartError: the part is no area.
    """
    if len(part.outer) < 3 or not np.isfinite(part.outer).all() or not shapely.Polygon(part.outer).area > 0:
        raise BadPartError(part.key, "its outline encloses no area")
    hull: Points = np.asarray(shapely.get_coordinates(shapely.MultiPoint(part.outer).convex_hull))
    turns = _all_turns(hull) if part.turns is None else np.array(part.turns, dtype=float) % 360.0
    sizes = _boxes(hull, turns) + 2 * rules.margin
    found = []
    for n in _chosen(sizes, most, rules.ruler_step, limit):
        corner = turned(part.outer, float(turns[n])).min(axis=0)
        spot = Spot(part.key, 0, float(turns[n]), *(rules.margin - corner).tolist())
        found.append(Packing(float(sizes[n, 0]), float(sizes[n, 1]), (spot,)))
    return tuple(found)


def pair(parts: Sequence[Part], most: Size, rules: Rules, limit: int) -> tuple[Packing, ...]:
    """Up to `limit` rectangles for two copies, of one part or of two, the least to cut first.

    Raises:
        BadPartError: a part is no area.
    """
    ready = blanks(parts, rules.spacing)
    first, second = (ready[0], ready[-1])
    ways = list(_ways(first, second))
    sizes = np.concatenate([way.sizes for way in ways]) + 2 * rules.margin
    ends = np.cumsum([len(way.sizes) for way in ways])
    frame = Frame(tuple(parts), rules.spacing, rules.margin)
    loose = []
    for n in _chosen(sizes, most, rules.ruler_step, max(limit, TIGHTENED)):
        which = int(np.searchsorted(ends, n, side="right"))
        loose.append(ways[which].arrangement(n - int(ends[which]) + len(ways[which].sizes)))
    if not loose:
        return ()
    tight = [_tighter(each, rules, ways[0].band) for each in loose]
    ranked = _chosen(np.array([each.size for each in tight]) + 2 * rules.margin, most, rules.ruler_step, len(tight))
    found: list[Packing] = []
    for n in ranked:
        packing = frame.proved((tight[n], loose[n])) if len(found) < limit else None
        if packing is not None:
            found.append(packing)
    return tuple(found)


def _all_turns(hull: Points) -> Floats:
    """Turns in [0, 180): those that lay a side of the hull level or upright, and even steps."""
    edges = np.diff(hull, axis=0)
    level = -np.degrees(np.arctan2(edges[:, 1], edges[:, 0]))
    sides = np.unique(np.round(np.concatenate((level, level + 90.0)) % 180.0, 9))
    return np.concatenate((sides, np.arange(0.0, 180.0, SWEEP_DEG)))


def _boxes(hull: Points, turns: Floats) -> Floats:
    """The size of the box in each turn, shape (n, 2); quarter turns are exact."""
    angles = np.radians(turns)
    cos, sin = np.cos(angles), np.sin(angles)
    quarter = turns % 90.0 == 0.0
    cos[quarter], sin[quarter] = np.round(cos[quarter]), np.round(sin[quarter])
    x, y = hull[:, :1], hull[:, 1:]
    return np.stack((np.ptp(x * cos - y * sin, axis=0), np.ptp(x * sin + y * cos, axis=0)), axis=1)


def _chosen(sizes: Floats, most: Size, step: float, limit: int) -> list[int]:
    """Indices of sizes: of the least area as shown, then each time the least that no chosen one matches both ways."""
    room = np.array(most)
    fits = np.flatnonzero((sizes <= room + SLACK_MM).all(axis=1))
    shown = np.minimum(np.ceil((sizes[fits] - SLACK_MM) / step) * step if step else sizes[fits], room)
    rank = np.lexsort((fits, np.round(sizes[fits].prod(axis=1), 3), np.round(shown.prod(axis=1), 3)))
    chosen: list[int] = []
    open_ = np.ones(len(fits), dtype=np.bool_)
    while len(chosen) < limit and open_.any():
        best = int(rank[open_[rank].argmax()])
        chosen.append(int(fits[best]))
        open_ &= ~(shown[best] <= ALIKE * shown).all(axis=1)
    return chosen


@dataclass(frozen=True, slots=True)
class _Way:
    """A pair in one turn each, the second coming from one side; one entry a band by which it is moved.

    Attributes:
        at: where the second's box has its lower left corner, seen from the first's, shape (n, 2).
        sizes: of both boxes together, shape (n, 2).
        band: the height of a band in mm.
    """

    first: Posed
    second: Posed
    at: Floats
    sizes: Floats
    band: float

    def turned(self) -> _Way:
        """All of it turned by a quarter, counterclockwise."""
        first, second = (pose(p.blank, (p.turn + 90.0) % 360.0) for p in (self.first, self.second))
        at = np.stack((self.first.height - self.second.height - self.at[:, 1], self.at[:, 0]), axis=1)
        return _Way(first, second, at, self.sizes[:, ::-1], self.band)

    def arrangement(self, n: int) -> Arrangement:
        """The pair as entry `n` has it."""
        at = np.array([(0.0, 0.0), self.at[n].tolist()])
        return Arrangement((self.first, self.second), at - at.min(axis=0))


def _tighter(loose: Arrangement, rules: Rules, band: float) -> Arrangement:
    """The arrangement slid together where that may reach the next line of the ruler, else as it is."""
    step = rules.ruler_step
    over = [(size + 2 * rules.margin - SLACK_MM) % step for size in loose.size] if step else [0.0]
    return tightened(loose, rounds=2) if min(over) < 2 * band else loose


def _ways(first: Blank, second: Blank) -> Iterator[_Way]:
    """All turns of both, and the sides from which the second may come, none twice: turning the whole is the same."""
    turns, others = search_turns(first), search_turns(second)
    poses = [[pose(first, turn) for turn in turns], [pose(second, turn) for turn in others]]
    band = max(p.height for some in poses for p in some) / BANDS
    quarters, halves = (all(_closed(some, by) for some in (turns, others)) for by in (90.0, 180.0))
    sides = {axis: [_flank(p, band, axis) for some in poses for p in some] for axis in ((0,) if quarters else (0, 1))}
    for axis, flanks in sides.items():
        for a, one in enumerate(poses[0]):
            for b, other in enumerate(poses[1]):
                left, right = flanks[a], flanks[len(poses[0]) + b]
                way = _coming(one, other, left, right, band, axis)
                yield way
                if quarters:
                    yield way.turned()
                if not halves:
                    yield _coming(other, one, right, left, band, axis)


def _closed(turns: Sequence[float], by: float) -> bool:
    rounded = {round(turn % 360.0, 6) % 360.0 for turn in turns}
    return all(round((turn + by) % 360.0, 6) % 360.0 in rounded for turn in turns)


@dataclass(frozen=True, slots=True)
class _Flank:
    """For each band from number `start` on, the least and the greatest x of the grown outline."""

    start: int
    left: Floats
    right: Floats


def _flank(posed: Posed, band: float, axis: int) -> _Flank:
    """The flank of the outline; for axis 1 with x and y exchanged."""
    ring = posed.rings[0][:, ::-1] if axis else posed.rings[0]
    x, y = ring[:, 0], ring[:, 1] / band
    x1, y1 = np.roll(x, -1), np.roll(y, -1)
    low, high = np.minimum(y, y1), np.maximum(y, y1)
    first, last = np.floor(low + 1e-9).astype(np.int64), np.ceil(high - 1e-9).astype(np.int64)
    spans = np.maximum(last - first, 1)
    edge = np.repeat(np.arange(len(x)), spans)
    bands = np.arange(len(edge)) - np.repeat(np.cumsum(spans) - spans, spans) + first[edge]
    rise = y1 - y
    slope = np.divide(x1 - x, rise, out=np.zeros_like(x), where=np.abs(rise) > 1e-12)
    ends = [x[edge] + slope[edge] * (np.clip(bands + side, low[edge], high[edge]) - y[edge]) for side in (0, 1)]
    flat = np.abs(rise[edge]) <= 1e-12
    ends[1] = np.where(flat, x1[edge], ends[1])
    start = int(first.min())
    left = np.full(int(bands.max()) - start + 1, np.inf)
    right = np.full(len(left), -np.inf)
    np.minimum.at(left, bands - start, np.minimum(*ends))
    np.maximum.at(right, bands - start, np.maximum(*ends))
    return _Flank(start, left, right)


def _coming(one: Posed, other: Posed, here: _Flank, there: _Flank, band: float, axis: int) -> _Way:
    """The other comes in from the right until it meets the one, moved up by every number of bands."""
    count = len(there.left)
    padded = np.full(len(here.right) + 2 * count, -np.inf)
    padded[count : count + len(here.right)] = here.right
    meets = np.lib.stride_tricks.sliding_window_view(padded, count) - there.left
    across = meets.max(axis=1)
    up = (np.arange(len(across)) - count + here.start - there.start) * band
    across = np.where(np.isfinite(across), across, 0.0)
    at = np.stack((up, across) if axis else (across, up), axis=1)
    boxes = np.array([(one.width, one.height), (other.width, other.height)])
    sizes = np.maximum(boxes[0], at + boxes[1]) - np.minimum(0.0, at)
    return _Way(one, other, at, sizes, band)
