"""What the engine is asked: the least strip, whether a rectangle takes all, how many it takes, which rectangles to cut.

Terminology:

effort
    `quick` gives the same bytes every time; `better` and `best` search for a stated time.
inner rectangle
    the rectangle less its margin on all sides: where the boxes of the true parts must lie.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt
from random import Random
from typing import Final

import numpy as np
import shapely

from .check import faults
from .outline import Blank, Posed, blanks
from .parts import BadPartError, Packing, Part, Points, Spot, UnprovedError, turned
from .place import Board, Laid, board, lay
from .slide import slid

__all__ = ["candidates", "fill", "fit", "strip"]

WORK_A_MS: Final = 400_000
"""About how many words of bits a common machine handles in a millisecond: turns times into repeatable budgets."""


@dataclass(frozen=True, slots=True)
class _Arrangement:
    """Posed copies with the lower left corners of their true boxes in the inner rectangle."""

    posed: tuple[Posed, ...]
    at: Points

    @property
    def size(self) -> tuple[float, float]:
        if not self.posed:
            return 0.0, 0.0
        return (
            max(x + p.width for p, (x, _) in zip(self.posed, self.at.tolist(), strict=True)),
            max(y + p.height for p, (_, y) in zip(self.posed, self.at.tolist(), strict=True)),
        )


def strip(parts: Sequence[Part], height: float, spacing: float, margin: float, milliseconds: float = 300.0) -> Packing:
    """The narrowest rectangle of `height` mm found that takes every copy.

    Raises:
        BadPartError: a part is no area, or is too tall for the strip in all its turns.
    """
    inner = height - 2 * margin
    ready = blanks(parts, spacing)
    turns = [_tried_turns(blank, inner, float("inf"), sum(p.count for p in parts)) for blank in ready]
    for blank, tried in zip(ready, turns, strict=True):
        if not tried:
            _raise_too_big(blank, inner, float("inf"))
    if not any(p.count for p in parts):
        return Packing(2 * margin, height, ())
    cell = _cell(ready, inner)
    bench = board(ready, turns, (cell, cell), inner)
    order = _orders(ready)[0]
    longest = _row_length(ready, turns)
    found = _searched(bench, order, longest, inner, milliseconds)
    loose = _arrangement(bench, found)
    tight = replace(loose, at=slid(loose.posed, loose.at))
    return _proved(parts, [tight, loose], None, height, spacing, margin)


def fit(parts: Sequence[Part], width: float, height: float, spacing: float, margin: float) -> Packing:
    """A packing of the rectangle; `left` names the copies that found no room (empty: all lie in it)."""
    inner_w, inner_h = width - 2 * margin, height - 2 * margin
    ready = blanks(parts, spacing)
    turns = [_tried_turns(blank, inner_h, inner_w, sum(p.count for p in parts)) for blank in ready]
    cell = _cell(ready, min(inner_h, inner_w)) if inner_h > 0 and inner_w > 0 else 1.0
    bench = board(ready, turns, (cell, cell), max(inner_h, 0.0))
    found = [lay(bench, order, inner_w, inner_h) for order in _orders(ready)]
    best = min(found, key=lambda laid: sum(ready[n].area for n in laid.missing))
    return _proved(parts, [_arrangement(bench, best)], width, height, spacing, margin)


def fill(parts: Sequence[Part], width: float, height: float, spacing: float, margin: float) -> Packing:
    """As many copies as found room; each part's `count` is its upper limit."""
    room = max(width, 0.0) * max(height, 0.0)
    limited = []
    for part, blank in zip(parts, blanks(parts, 0.0), strict=True):
        limited.append(replace(part, count=min(part.count, int(room / blank.area) + 1)))
    return fit(limited, width, height, spacing, margin)


def candidates(
    parts: Sequence[Part], max_width: float, max_height: float, spacing: float, margin: float, limit: int = 8
) -> tuple[Packing, ...]:
    """Up to `limit` rectangles of small area and unlike shape that take every copy, the smallest area first.

    Empty when no rectangle within `max_width` x `max_height` mm was found.
    """
    inner_w, inner_h = max_width - 2 * margin, max_height - 2 * margin
    ready = blanks(parts, spacing)
    copies = sum(p.count for p in parts)
    turns = [_tried_turns(blank, inner_h, inner_w, copies) for blank in ready]
    if not copies or not all(turns):
        return ()
    grown = sum(_box_area(blank, tried) * blank.part.count for blank, tried in zip(ready, turns, strict=True))
    cell = _cell(ready, sqrt(grown) * 0.6)
    bench = board(ready, turns, (cell, cell), inner_h)
    found: dict[tuple[float, float], Laid] = {}
    budget = bench.work + 12 * WORK_A_MS
    for height in _heights(ready, turns, grown, inner_h):
        for order in _orders(ready):
            laid = lay(bench, order, inner_w, height)
            if not laid.missing:
                found.setdefault((laid.right, laid.top), laid)
        if bench.work > budget and found:
            break
    chosen = _unlike(list(found.items()), limit)
    packings = []
    for laid in chosen:
        loose = _arrangement(bench, laid)
        tight = replace(loose, at=slid(loose.posed, loose.at))
        packings.append(_proved(parts, [tight, loose], None, None, spacing, margin))
    return tuple(sorted(packings, key=lambda p: (p.area, p.width)))


def _tried_turns(blank: Blank, height: float, width: float, copies: int) -> tuple[float, ...]:
    """The turns worth trying: those allowed, or for a part that may be turned at will some that suit its shape."""
    turns = blank.part.turns
    if turns is None:
        steps = 8 if copies <= 12 else 4
        base = _squarest(blank)
        turns = tuple((base + 360.0 / steps * k) % 360.0 for k in range(steps))
    turns = tuple(dict.fromkeys(turns))
    sizes = [np.ptp(turned(blank.part.outer, turn), axis=0) for turn in turns]
    return tuple(t for t, (w, h) in zip(turns, sizes, strict=True) if w <= width + 1e-9 and h <= height + 1e-9)


def _squarest(blank: Blank) -> float:
    """The turn in [0, 90) that gives the true part its smallest box: one side lies along the box (Freeman 1975)."""
    hull = shapely.get_coordinates(shapely.MultiPoint(blank.part.outer).convex_hull)
    edges = np.diff(hull, axis=0)
    angles = np.unique(np.round(-np.degrees(np.arctan2(edges[:, 1], edges[:, 0])) % 90.0, 9))
    areas = [float(np.prod(np.ptp(turned(hull, float(a)), axis=0))) for a in angles]
    return float(angles[int(np.argmin(np.round(areas, 6)))])


def _box_area(blank: Blank, turns: Sequence[float]) -> float:
    return min(float(np.prod(np.ptp(turned(blank.rings[0], turn), axis=0))) for turn in turns)


def _cell(ready: Sequence[Blank], height: float) -> float:
    """The side of a grid cell: fine beside the parts and the strip, coarse enough for speed."""
    copies = sum(b.part.count for b in ready)
    mean = sqrt(sum(b.area * b.part.count for b in ready) / max(copies, 1))
    return max(min(height / 90, mean / 16), height / 400, 1e-3)


def _orders(ready: Sequence[Blank]) -> tuple[tuple[int, ...], ...]:
    sizes = [np.ptp(b.part.outer, axis=0) for b in ready]
    ranks = (
        [-b.area for b in ready],
        [-float(s.max()) for s in sizes],
        [-float(s[0]) for s in sizes],
    )
    orders = []
    for rank in ranks:
        parts = sorted(range(len(ready)), key=lambda n: (rank[n], n))
        orders.append(tuple(n for n in parts for _ in range(ready[n].part.count)))
    return tuple(dict.fromkeys(orders))


def _row_length(ready: Sequence[Blank], turns: Sequence[Sequence[float]]) -> float:
    """Length of a strip that surely takes all: every copy behind the other."""
    return sum(
        b.part.count * max(float(np.ptp(turned(b.rings[0], t), axis=0)[0]) for t in tried) * 1.05
        for b, tried in zip(ready, turns, strict=True)
    )


def _heights(ready: Sequence[Blank], turns: Sequence[Sequence[float]], area: float, tallest: float) -> list[float]:
    least = max(
        min(float(np.ptp(turned(b.part.outer, t), axis=0)[1]) for t in tried)
        for b, tried in zip(ready, turns, strict=True)
    )
    side = sqrt(area)
    low, high = max(least, side / 3), min(tallest, side * 3)
    low = min(low, tallest)
    steps = 15
    return [low * (max(high, low) / low) ** (k / steps) for k in range(steps + 1)]


def _unlike(found: Sequence[tuple[tuple[float, float], Laid]], limit: int) -> list[Laid]:
    """The smallest, then others that no chosen one beats in both directions, by area."""
    ranked = sorted(found, key=lambda f: (round(f[0][0] * f[0][1], 6), f[0]))
    chosen: list[tuple[tuple[float, float], Laid]] = []
    for size, laid in ranked:
        beaten = any(w <= size[0] * 1.03 and h <= size[1] * 1.03 for (w, h), _ in chosen)
        if not beaten:
            chosen.append((size, laid))
        if len(chosen) == limit:
            break
    return [laid for _, laid in chosen]


def _searched(bench: Board, order: tuple[int, ...], longest: float, height: float, milliseconds: float) -> Laid:
    """The best of many orders, each a small change of the best so far."""
    budget = bench.work + milliseconds * WORK_A_MS
    best = lay(bench, order, longest, height)
    now = order
    rnd = Random(1)
    while bench.work < budget and len(set(order)) > 1:
        bench.work += 20_000
        new = list(now)
        i, j = rnd.randrange(len(new)), rnd.randrange(len(new))
        if rnd.random() < 0.5:
            new[i], new[j] = new[j], new[i]
        else:
            new.insert(j, new.pop(i))
        if tuple(new) == now:
            continue
        laid = lay(bench, new, best.right + bench.grid.cx, height)
        if not laid.missing and (laid.right, laid.sum_right) <= (best.right, best.sum_right):
            best, now = laid, tuple(new)
    return best


def _arrangement(bench: Board, laid: Laid) -> _Arrangement:
    cell = (bench.grid.cx, bench.grid.cy)
    posed = tuple(bench.all_tiles[t].posed for _, t, _, _ in laid.lying)
    return _Arrangement(posed, np.array([(i, j) for _, _, i, j in laid.lying], dtype=float).reshape(-1, 2) * cell)


def _proved(
    parts: Sequence[Part],
    arrangements: Sequence[_Arrangement],
    width: float | None,
    height: float | None,
    spacing: float,
    margin: float,
) -> Packing:
    """The first of `arrangements` without a fault, in a rectangle as given or as large as needed."""
    for arrangement in arrangements:
        w, h = arrangement.size
        packing = Packing(
            w + 2 * margin if width is None else width,
            h + 2 * margin if height is None else height,
            *_spots(parts, arrangement, margin),
        )
        if not faults(parts, packing, spacing, margin):
            return packing
    raise UnprovedError("no arrangement passed the check")


def _spots(
    parts: Sequence[Part], arrangement: _Arrangement, margin: float
) -> tuple[tuple[Spot, ...], tuple[tuple[str, int], ...]]:
    used = {part.key: 0 for part in parts}
    spots = []
    for posed, (x, y) in zip(arrangement.posed, arrangement.at.tolist(), strict=True):
        key = posed.blank.part.key
        spots.append(Spot(key, used[key], posed.turn, x + margin + posed.origin[0], y + margin + posed.origin[1]))
        used[key] += 1
    left = tuple((part.key, part.count - used[part.key]) for part in parts if part.count > used[part.key])
    return tuple(spots), left


def _raise_too_big(blank: Blank, height: float, width: float) -> None:
    raise BadPartError(blank.part.key, f"it fits into {width:g} x {height:g} mm in none of its turns")
