"""Margins along parts of an edge: an underlap grows only where another piece tucks over, with clean ends.

Terminology
    bulge       a stretch of a ring that is moved outward by its height (inward if negative); the rest stays
    taper       at an end of a bulge that is no other's start, a straight line from the edge to full height; where a
                lower bulge begins, from its height
    flush end   at such an end, the neighboring edge run on straight to full height, or where the bulge goes inward, cut
                off there if it is straight; a right angle where that edge leans the other way

As with even offsets, the raw ring winds at least once around what the result covers; see `offsets`.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

import numpy as np

from clothpath.areas.flanks import Flank, flanks, sides
from clothpath.areas.offsets import Corners, Joints, joints
from clothpath.beziers import part_of, places_on
from clothpath.curves import Bools, Curve, Floats, Outline, Points, cubics, outline
from clothpath.fitting.fits import derivatives, directions_at_ends

__all__ = ["Bulge", "Ends", "bulged", "bulged_each"]

FIT_MM: Final = 0.012
"""Largest distance between a bulge and the cubics that stand for it, in mm: it lies beneath another piece."""
GRID: Final = 33
"""Parameters of a segment at which its length is measured to place a taper's end."""
FILLED: Final = 0.998
"""The most of a bulge's length that its tapers take."""
MEETING: Final = 1e-6
"""Places nearer than this are one."""


Ends: TypeAlias = float | Literal["flush"]


@dataclass(frozen=True, slots=True)
class Bulge:
    """A stretch of a ring from one place to another, by segment number plus parameter, and its height in mm.

    `end` is beyond the number of segments where the stretch runs on past the ring's start.
    """

    start: float
    end: float
    height: float


def bulged(ring: Outline, bulges: Sequence[Bulge], corners: Corners, ends: Ends) -> tuple[Outline, Outline]:
    """The ring with nodes where its bulges begin, taper and end; and its raw ring.

    Args:
        bulges: in order along the ring, not overlapping; two that meet have no taper between them, or one from the
            higher down to the lower.
        corners: how the corners within a bulge are filled.
        ends: "flush", or the length of a taper by the height that it reaches (0: a right angle to the edge).
    """
    (found,) = bulged_each([(ring, bulges)], corners, ends)
    return found


def bulged_each(
    rings: Sequence[tuple[Outline, Sequence[Bulge]]], corners: Corners, ends: Ends
) -> list[tuple[Outline, Outline]]:
    """As `bulged`, of each ring with its bulges; together they take less time."""
    if not rings:
        return []
    cuts = [_cut_ring(ring, bulges, ends) for ring, bulges in rings]
    p = np.concatenate([cut.rows for cut in cuts])
    straight, height = np.concatenate([cut.straight for cut in cuts]), np.concatenate([cut.height for cut in cuts])
    limits = [0, *itertools.accumulate(len(cut.rows) for cut in cuts)]
    following = np.concatenate([np.append(np.arange(a + 1, b), a) for a, b in itertools.pairwise(limits)])
    moves = height != 0
    number = np.cumsum(moves) - 1
    own = np.where(height[following] == height, number[following], -1)
    moved = sides(p[moves], straight[moves], height[moves], own[moves])
    along = flanks(moved, FIT_MM)
    around = joints(moved, corners, FIT_MM)
    found: list[tuple[Outline, Outline]] = []
    for cut, first in zip(cuts, number[limits[:-1]] + ~moves[limits[:-1]], strict=True):
        nodes = Outline(cut.rows[:, :3], cut.straight, complex(cut.rows[0, 0]))
        found.append((nodes, _raw(cut, along, around, int(first), ends)))
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _CutRing:
    """A ring with nodes where its bulges begin, taper and end.

    Attributes:
        rows: (m, 4) control points of its segments.
        straight: (m,) bool.
        height: (m,) how far each is moved.
        skipped: (m,) whether a taper goes past it.
    """

    rows: Points
    straight: Bools
    height: Floats
    skipped: Bools


def _cut_ring(ring: Outline, bulges: Sequence[Bulge], ends: Ends) -> _CutRing:
    p, count = cubics(ring), len(ring)
    taper = 0.0 if ends == "flush" else ends
    bodies = _bodies(p, bulges, taper) if taper else [(bulge.start, bulge.end, bulge.height) for bulge in bulges]
    rows, straight, middles = _cut(p, ring.straight, [place for bulge in bulges for place in (bulge.start, bulge.end)]
                                   + [place for start, end, _ in bodies for place in (start, end)])  # fmt: skip
    height = np.zeros(len(rows))
    skipped = np.zeros(len(rows), np.bool_)
    for bulge, (start, end, reached) in zip(bulges, bodies, strict=True):
        within = _between(middles, bulge.start, bulge.end, count)
        body = _between(middles, start, end, count)
        height[body] = reached
        skipped |= within & ~body
    return _CutRing(rows, straight, height, skipped)


def _raw(cut: _CutRing, along: Sequence[Flank], around: Joints, first: int, ends: Ends) -> Outline:
    """The raw ring; the first flank is that of the ring's first moved segment."""
    rows, height = cut.rows, cut.height
    numbers = {i: number for number, i in enumerate(np.flatnonzero(height).tolist(), start=first)}
    parts = {i: (along[number].start, along[number].curves) for i, number in numbers.items()}
    for i in np.flatnonzero((height == 0) & ~cut.skipped).tolist():
        start, c1, c2, end = rows[i].tolist()
        parts[i] = (start, [(end,) if cut.straight[i] else (c1, c2, end)])
    order = sorted(parts)
    if ends == "flush":
        _cut_still_edges(cut, parts)
    segments: list[Curve] = []
    for k, i in enumerate(order):
        following = order[(k + 1) % len(order)]
        segments += parts[i][1]
        end, start = segments[-1][-1], parts[following][0]
        if end == start:
            continue
        next_to = following == (i + 1) % len(rows)
        if next_to and height[i] == height[following] != 0:
            segments += around(numbers[i], end, start)
            continue
        if ends == "flush" and next_to and height[i] > 0:
            segments += _flush(rows[i, ::-1], rows[following], end)
        if ends == "flush" and next_to and height[following] > 0:
            segments += _flush(rows[following], rows[i, ::-1], start)[::-1]
        if segments[-1][-1] != start:
            segments.append((start,))
    return outline(parts[order[0]][0], segments)


def _cut_still_edges(cut: _CutRing, parts: dict[int, tuple[complex, list[Curve]]]) -> None:
    """Cut straight edges that stay where the flank beside them, inward, reaches them."""
    rows, height = cut.rows, cut.height
    for i, following in zip(range(-1, len(rows) - 1), range(len(rows)), strict=True):
        i %= len(rows)
        if i not in parts or following not in parts:
            continue
        if height[i] < 0 and height[following] == 0 and cut.straight[following]:
            _, still = parts[following]
            parts[following] = _cut_off(rows[i, ::-1], rows[following], parts[i][1][-1][-1]), still
        if height[following] < 0 and height[i] == 0 and cut.straight[i]:
            start, _ = parts[i]
            parts[i] = start, [(_cut_off(rows[following], rows[i, ::-1], parts[following][0]),)]


def _cut_off(moved: Points, still: Points, edge: complex) -> complex:
    """Where the flank that ends at `edge`, run on, meets the straight still edge; their node if it does not.

    Both segments are given as they leave the node.
    """
    (along, away), _ = directions_at_ends(np.array([moved, still]))
    node = complex(moved[0])
    # node + s away = edge - a along, in the frame in which the flank runs along the real axis
    lean, height = away / along, (edge - node) / along
    if lean.imag * height.imag <= 0:
        return node
    far = height.imag / lean.imag
    met = far < abs(still[3] - still[0]) and far * lean.real <= height.real
    return node + far * complex(away) if met else node


def _flush(moved: Points, still: Points, edge: complex) -> list[Curve]:
    """From a flank's end, at `edge`, to where the still edge run on meets the flank run on, and to their node.

    Both segments are given as they leave the node.
    """
    (along, away), _ = directions_at_ends(np.array([moved, still]))
    node = complex(moved[0])
    # node - s away = edge - a along, in the frame in which the flank runs along the real axis
    height = (edge - node) / along
    lean = -away / along
    ahead = height.imag / lean.imag * lean.real - height.real if lean.imag * height.imag > 0 else 0.0
    reach = min(max(-ahead, 0.0), 2 * abs(height))
    return [(edge - reach * along,), (node,)]


def _bodies(p: Points, bulges: Sequence[Bulge], taper: float) -> list[tuple[float, float, float]]:
    """Where each bulge's full height begins and ends, and what it is: less where it is too short for its tapers."""
    meets = [_meet(one, other, len(p)) for one, other in zip(bulges, [*bulges[1:], bulges[0]], strict=True)]
    ways = [_along(p, bulge) for bulge in bulges]
    heights = []
    for i, bulge in enumerate(bulges):
        free, room = (not meets[i - 1]) + (not meets[i]), FILLED * float(ways[i][1][-1])
        most = room / free / taper if free else abs(bulge.height)
        heights.append(float(np.copysign(min(abs(bulge.height), most), bulge.height)))
    bodies = []
    for i, (height, (grid, along)) in enumerate(zip(heights, ways, strict=True)):
        sides = ((meets[i - 1], heights[i - 1]), (meets[i], heights[(i + 1) % len(heights)]))
        runs = [taper * max(abs(height) - abs(other), 0.0) if met else taper * abs(height) for met, other in sides]
        way = float(along[-1])
        shrunk = min(1.0, FILLED * way / max(sum(runs), MEETING))
        first, last = (run * shrunk for run in runs)
        start = float(np.interp(first, along, grid)) if first else bulges[i].start
        end = float(np.interp(way - last, along, grid)) if last else bulges[i].end
        bodies.append((start, end, height))
    return bodies


def _meet(one: Bulge, other: Bulge, count: int) -> bool:
    """Whether a bulge begins where one ends."""
    return abs((other.start - one.end + count / 2) % count - count / 2) <= MEETING


def _along(p: Points, bulge: Bulge) -> tuple[Floats, Floats]:
    """Places along a bulge, and how far each is from its start, in mm."""
    grid = np.linspace(bulge.start, bulge.end, GRID * max(1, round(bulge.end - bulge.start)))
    row, t = places_on(grid, len(p))
    at, _, _ = derivatives(p[row], t[:, None])
    return grid, np.concatenate(([0.0], np.cumsum(np.abs(np.diff(at[:, 0])))))


def _cut(p: Points, straight: Bools, places: Sequence[float]) -> tuple[Points, Bools, Floats]:
    """The segments cut at places: control points, whether straight, and the place of each one's middle."""
    count = len(p)
    at: list[list[float]] = [[] for _ in range(count)]
    for place in sorted(place % count for place in places):
        row, t = min(int(place), count - 1), place - min(int(place), count - 1)
        if MEETING < t < 1 - MEETING and not (at[row] and t - at[row][-1] < MEETING):
            at[row].append(t)
    rows: list[tuple[complex, ...]] = []
    flags: list[bool] = []
    middles: list[float] = []
    for row, inner in enumerate(at):
        edges = [0.0, *inner, 1.0]
        for a, b in itertools.pairwise(edges):
            rows.append(part_of(p[row], a, b) if inner else tuple(p[row].tolist()))
            flags.append(bool(straight[row]))
            middles.append(row + (a + b) / 2)
    cut = np.array(rows)
    cut[:, 3] = np.roll(cut[:, 0], -1)
    return cut, np.array(flags), np.array(middles)


def _between(places: Floats, start: float, end: float, count: int) -> Bools:
    within: Bools = np.mod(places - start, count) < end - start
    return within
