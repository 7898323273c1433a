"""Rectangles to cut for one piece or for two: all ways in which they may lie, judged by the size that a ruler shows.

Terminology
    lone        a piece that has its swatch for itself: only its turn is to be chosen
    pair        two copies, the second of which comes in from one side until it meets the first
    flanks      for each band of an outline, how far it reaches to the left and to the right
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
    hull: Points = np.asarray(shapely.get_coordinates(shapely.convex_hull(shapely.linestrings(part.outer))))
    if part.turns is None:
        quarter = _quarter_turns(hull)
        turns, boxes = np.concatenate((quarter, quarter + 90.0)), _boxes(hull, quarter)
        sizes = np.concatenate((boxes, boxes[:, ::-1])) + 2 * rules.margin
    else:
        turns = np.array(part.turns, dtype=float) % 360.0
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
    ways = list(_ways(ready[0], ready[-1]))
    each = [way.sizes.reshape(-1, 2) for way in ways]
    sizes = np.concatenate(each) + 2 * rules.margin
    ends = np.cumsum([len(some) for some in each])
    frame = Frame(tuple(parts), rules.spacing, rules.margin)
    loose = []
    for n in _chosen(sizes, most, rules.ruler_step, max(limit, TIGHTENED)):
        which = int(np.searchsorted(ends, n, side="right"))
        loose.append(ways[which].arrangement(n - int(ends[which]) + len(each[which])))
    if not loose:
        return ()
    tight = [_tighter(one, rules, ways[0].band) for one in loose]
    ranked = _chosen(np.array([one.size for one in tight]) + 2 * rules.margin, most, rules.ruler_step, len(tight))
    found: list[Packing] = []
    for n in ranked:
        packing = frame.proved((tight[n], loose[n])) if len(found) < limit else None
        if packing is not None:
            found.append(packing)
    return tuple(found)


def _quarter_turns(hull: Points) -> Floats:
    """Turns in [0, 90): those that lay a side of the hull level or upright, and even steps."""
    edges = np.diff(hull, axis=0)
    level = -np.degrees(np.arctan2(edges[:, 1], edges[:, 0]))
    return np.concatenate((np.unique(np.round(level % 90.0, 9) % 90.0), np.arange(0.0, 90.0, SWEEP_DEG)))


def _boxes(hull: Points, turns: Floats) -> Floats:
    """The size of the box in each turn, shape (n, 2); quarter turns are exact."""
    angles = np.radians(turns)
    cos, sin = np.cos(angles), np.sin(angles)
    quarter = turns % 90.0 == 0.0
    cos[quarter], sin[quarter] = np.round(cos[quarter]), np.round(sin[quarter])
    return np.stack([np.ptp(hull @ np.stack(row), axis=0) for row in ((cos, -sin), (sin, cos))], axis=1)


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
class _Ways:
    """A pair in several turns each, the second coming from one side, moved by so many bands.

    Attributes:
        first, second: A and B turns.
        at: where the second's box has its lower left corner, seen from the first's, shape (A, B, n, 2).
        sizes: of both boxes together, shape (A, B, n, 2).
        band: the height of a band in mm.
    """

    first: tuple[Posed, ...]
    second: tuple[Posed, ...]
    at: Floats
    sizes: Floats
    band: float

    def turned(self) -> _Ways:
        """All of it turned by a quarter, counterclockwise."""
        first, second = (
            tuple(pose(p.blank, (p.turn + 90.0) % 360.0) for p in some) for some in (self.first, self.second)
        )
        heights, others = (np.array([p.height for p in some]) for some in (self.first, self.second))
        x = heights[:, None, None] - others[:, None] - self.at[..., 1]
        return _Ways(first, second, np.stack((x, self.at[..., 0]), axis=-1), self.sizes[..., ::-1], self.band)

    def arrangement(self, entry: int) -> Arrangement:
        """The pair as entry number `entry` has it."""
        a, b, n = np.unravel_index(entry, self.at.shape[:3])
        at = np.array([(0.0, 0.0), self.at[a, b, n].tolist()])
        return Arrangement((self.first[a], self.second[b]), at - at.min(axis=0))


def _tighter(loose: Arrangement, rules: Rules, band: float) -> Arrangement:
    """The arrangement slid together where that may reach the next line of the ruler, else as it is."""
    step = rules.ruler_step
    over = [(size + 2 * rules.margin - SLACK_MM) % step for size in loose.size] if step else [0.0]
    return tightened(loose, rounds=2) if min(over) < 2 * band else loose


def _ways(first: Blank, second: Blank) -> Iterator[_Ways]:
    """All turns of both, and the sides from which the second may come, none twice: turning the whole is the same."""
    turns, others = search_turns(first), search_turns(second)
    one, other = tuple(pose(first, turn) for turn in turns), tuple(pose(second, turn) for turn in others)
    band = max(p.height for p in one + other) / BANDS
    quarters, halves = (all(_closed(some, by) for some in (turns, others)) for by in (90.0, 180.0))
    for axis in (0,) if quarters else (0, 1):
        left, right = _flanks(one + other, band, axis)
        way = _coming(one, other, right[: len(one)], left[len(one) :], band, axis)
        yield way
        if quarters:
            yield way.turned()
        if not halves:
            yield _coming(other, one, right[len(one) :], left[: len(one)], band, axis)


def _closed(turns: Sequence[float], by: float) -> bool:
    rounded = {round(turn % 360.0, 6) % 360.0 for turn in turns}
    return all(round((turn + by) % 360.0, 6) % 360.0 in rounded for turn in turns)


def _flanks(posed: Sequence[Posed], band: float, axis: int) -> tuple[Floats, Floats]:
    """The least and the greatest x of each grown outline in each of the bands, which are the same for all.

    Where an outline has no such band it is inf and -inf. For axis 1 x and y are exchanged.
    """
    rings = [p.rings[0][:, ::-1] if axis else p.rings[0] for p in posed]
    points = np.concatenate(rings)
    ends = np.concatenate([part for ring in rings for part in (ring[1:], ring[:1])])
    owner = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    x, y, x1, y1 = points[:, 0], points[:, 1] / band, ends[:, 0], ends[:, 1] / band
    low, high = np.minimum(y, y1), np.maximum(y, y1)
    first, last = np.floor(low + 1e-9).astype(np.int64), np.ceil(high - 1e-9).astype(np.int64)
    spans = np.maximum(last - first, 1)
    edge = np.repeat(np.arange(len(x)), spans)
    bands = np.arange(len(edge)) - np.repeat(np.cumsum(spans) - spans, spans) + first[edge]
    rise = y1 - y
    slope = np.divide(x1 - x, rise, out=np.zeros_like(x), where=np.abs(rise) > 1e-12)
    sides = [x[edge] + slope[edge] * (np.clip(bands + side, low[edge], high[edge]) - y[edge]) for side in (0, 1)]
    sides[1] = np.where(np.abs(rise[edge]) <= 1e-12, x1[edge], sides[1])
    place = (owner[edge], bands - first.min())
    shape = (len(posed), int(place[1].max()) + 1)
    left, right = np.full(shape, np.inf), np.full(shape, -np.inf)
    np.minimum.at(left, place, np.minimum(*sides))
    np.maximum.at(right, place, np.maximum(*sides))
    return left, right


def _coming(
    one: tuple[Posed, ...], other: tuple[Posed, ...], here: Floats, there: Floats, band: float, axis: int
) -> _Ways:
    """The other comes in from the right until it meets the one, moved up by every number of bands."""
    count = here.shape[1]
    padded = np.full((len(one), 3 * count), -np.inf)
    padded[:, count : 2 * count] = here
    passing = np.lib.stride_tricks.sliding_window_view(padded, count, axis=1)
    across = (passing[:, None] - there[:, None, :]).max(axis=-1)
    across = np.where(np.isfinite(across), across, 0.0)
    up = np.broadcast_to((np.arange(across.shape[-1]) - count) * band, across.shape)
    at = np.stack((up, across) if axis else (across, up), axis=-1)
    size, others = (np.array([(p.width, p.height) for p in some]) for some in (one, other))
    sizes = np.maximum(size[:, None, None], at + others[:, None]) - np.minimum(0.0, at)
    return _Ways(one, other, at, sizes, band)
