"""Flanks: the curves at a distance from the segments of outlines.

Terminology
    side        a segment of an outline that is to be moved, with the distance, to its right
    flank       the curve at that distance from one side
    cusp        a node at which the direction turns back
    smooth node one at which the direction turns by next to nothing: both its flanks are led to one point, square to the
                mean of the two directions, so that nothing parts or overlaps there
    fold        a part of a side that bends toward the flank more tightly than the distance; its flank stops at the
                center of curvature
    span        a part of a side, without folds, whose flank is one cubic
    chain       sides whose flanks go over into each other without a fold or a corner
    unit        half of a span of a chain

Sources: offset curves and their curvature, G. Farin, Curves and Surfaces for CAGD (5th ed., 2002), ch. 22; the fewest
spans of a chain as the shortest way through a graph, R. Bellman, On a routing problem (1958).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from clothpath.beziers import points_at
from clothpath.curves import Bools, Curve, Floats, Points
from clothpath.fitting.fits import SAMPLES, SMOOTH_RAD, derivatives, directions_at_ends, fitted

__all__ = ["Flank", "Indices", "Sides", "fewer", "flanks", "sides"]

Indices = NDArray[np.intp]

SLIP_MM: Final = 0.0005
"""At a smooth node two flanks end in one point if that leaves their distance right within this, in mm."""
CUSP_RAD: Final = 0.2
"""Where a direction turns back by all but this much, in radians, is a cusp."""
NOTHING_RAD: Final = 1e-9
"""Two ways that differ by less are one, in radians."""
CLOSING_IN: Final = 4
"""Rounds in which the points of two sides are found that are equally far from a cusp."""
ROOM: Final = 0.1
"""The largest share of a side by which a flank may slip along it."""
SHORT: Final = 0.02
"""Where a flank is so much shorter than its side it belongs to the fold: its direction is little more than noise."""
GRID: Final = np.linspace(0, 1, 33)
"""Parameters at which a side is searched for folds."""
BISECTIONS: Final = 16
"""Halvings of a step between them to find where a fold ends: to a millionth of a side."""
HALVINGS: Final = 5
"""How often a span that does not fit is halved at most."""
EVEN: Final = np.linspace(0, 1, SAMPLES)
"""Where along a span its samples are taken."""
JOINED_MM: Final = 0.0178
"""The largest distance between a chain's flank and the cubic that stands for several of its units, in mm, at samples;
between them it is a little larger."""
JOINED: Final = 6
"""So many units at most become one cubic."""
JOINED_SAMPLES: Final = 25


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Segments of rings that are to be moved.

    Attributes:
        p: (m, 4) complex control points.
        straight: (m,) bool.
        by: (m,) the distance of each flank, in mm; negative to the left.
        following: (m,) the number of the next side of the ring; -1 if that one is not moved by the same distance.
        head, tail: (m,) unit directions at the start and at the end.
        turn: (m,) by how much the direction turns from the end of each to the side that follows, in radians.
        first, last: the same, but the mean of the two at smooth nodes: the flanks' ends are square to them.
    """

    p: Points
    straight: Bools
    by: Floats
    following: Indices
    head: Points
    tail: Points
    turn: Floats
    first: Points
    last: Points

    def ends(self) -> tuple[list[complex], list[complex]]:
        """Where the flanks start and end, but for folds there."""
        start, end = self.p[:, 0] - 1j * self.by * self.first, self.p[:, 3] - 1j * self.by * self.last
        return start.tolist(), end.tolist()


class Flank(NamedTuple):
    """Where a flank starts and its curves; the spans that these stand for, unless it is a line or has a fold.

    One without curves belongs to the flank before it.
    """

    start: complex
    curves: list[Curve]
    spans: list[tuple[float, float]]


def sides(p: Points, straight: Bools, by: Floats, following: Indices) -> Sides:
    """The sides of which these are the first attributes."""
    head, tail = directions_at_ends(p)
    size = np.abs(np.diff(p, axis=1)).sum(axis=1)
    turn = _turns(p, following, head, tail)
    bent = np.abs(turn)
    # the node's point on the flanks slips along them, and off their distance by half of it times half the turn squared
    smooth = (following >= 0) & (bent < SMOOTH_RAD) & (np.abs(by) * bent**2 < 8 * SLIP_MM)
    smooth &= np.abs(by) * bent < ROOM * np.minimum(size, size[following])
    mean = head[following] + tail
    mean /= np.maximum(np.abs(mean), 1e-300)
    first, last = head.copy(), tail.copy()
    first[following[smooth]] = mean[smooth]
    last[smooth] = mean[smooth]
    return Sides(p, straight, by, following, head, tail, turn, first, last)


def _turns(p: Points, following: Indices, head: Points, tail: Points) -> Floats:
    """By how much the direction turns at the end of each side, in radians; in a cusp, by the way that its sides part.

    There directions are next to opposite, and a hair decides on which side of each other they seem to lie.
    """
    turn: Floats = np.angle(head[following] * tail.conj())
    cusps = np.flatnonzero((following >= 0) & (np.abs(turn) > math.pi - CUSP_RAD))
    if len(cusps):
        ins, outs = p[cusps, ::-1], p[following[cusps]]
        reach = np.minimum(np.abs(ins[:, 3] - ins[:, 0]), np.abs(outs[:, 3] - outs[:, 0])) / 2
        ways = [_seen_at(of, reach) for of in (ins, outs)]
        apart = np.angle(ways[1] * ways[0].conj())
        wrong = (np.abs(apart) > NOTHING_RAD) & (np.sign(apart) == np.sign(turn[cusps]))
        turn[cusps[wrong]] -= 2 * math.pi * np.sign(turn[cusps[wrong]])
    return turn


def _seen_at(p: Points, reach: Floats) -> Points:
    """The way from the start of each cubic to its point about that far away."""
    t = np.full(len(p), 0.5)
    for _ in range(CLOSING_IN):
        away = np.abs(points_at(p, t) - p[:, 0])
        t = np.clip(t * reach / np.maximum(away, 1e-300), 0, 1)
    return points_at(p, t) - p[:, 0]


def flanks(of: Sides, within: float) -> list[Flank]:
    """The flank of each side, within so many mm."""
    rows = np.flatnonzero(~of.straight)
    free = _free(of, rows, np.broadcast_to(GRID, (len(rows), len(GRID))))
    whole = free.all(axis=1)
    spans = [(row, 0.0, 1.0) for row in rows[whole].tolist()]
    folds: dict[int, list[tuple[float, Points]]] = {}
    if not whole.all():
        more, folds = _unfolded(of, rows[~whole], free[~whole])
        spans += more
    parts = _fitted_spans(of, spans, within)
    found: list[Flank] = []
    for row, (start, end, line) in enumerate(zip(*of.ends(), of.straight.tolist(), strict=True)):
        if line:
            found.append(Flank(start, [(end,)], []))
        elif row not in folds:
            own = parts[row]
            found.append(Flank(start, _curves([control for _, _, control in own], end), [(a, b) for a, b, _ in own]))
        else:
            found.append(_with_folds(parts.get(row, []), folds[row]))
    return found


def _free(of: Sides, rows: Indices, t: Floats) -> Bools:
    """Whether the flank stops clearly short of the center of curvature: 1 + by * curvature > SHORT; (k,) and (k, n)."""
    _, slope, bend = derivatives(of.p[rows], t)
    size = np.abs(slope)
    free: Bools = (1 - SHORT) * size * size * size + of.by[rows, None] * (slope.conj() * bend).imag > 0
    return free | (size < 1e-9)


def _unfolded(
    of: Sides, rows: Indices, free: Bools
) -> tuple[list[tuple[int, float, float]], dict[int, list[tuple[float, Points]]]]:
    """The spans of sides with folds; and of each its folds: the first parameter, and the centers of curvature."""
    which, step = np.nonzero(free[:, 1:] != free[:, :-1])
    low, high, before = GRID[step], GRID[step + 1], free[which, step]
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        same = _free(of, rows[which], middle[:, None])[:, 0] == before
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    edges = (low + high) / 2
    spans: list[tuple[int, float, float]] = []
    folds: dict[int, list[tuple[float, Points]]] = {row: [] for row in rows.tolist()}
    for k, row in enumerate(rows.tolist()):
        state = bool(free[k, 0])
        for a, b in itertools.pairwise([0.0, *edges[which == k].tolist(), 1.0]):
            if state:
                spans.append((row, a, b))
            else:
                folds[row].append((a, _centers(of.p[row], a, b, float(of.by[row]))))
            state = not state
    return spans, folds


def _centers(p: Points, a: float, b: float, by: float) -> Points:
    """The centers of curvature of one side from one parameter to another, none farther from it than `by`."""
    t = np.concatenate(([a], GRID[(a < GRID) & (b > GRID)], [b]))
    at, slope, bend = (row[0] for row in derivatives(p[None], t[None]))
    turning = (slope.conj() * bend).imag
    height = np.clip(-(np.abs(slope) ** 3) / turning * np.sign(by), 0, abs(by)) * np.sign(by)
    centers: Points = at - 1j * height * slope / np.abs(slope)
    return centers


_Part = tuple[float, float, Points]
"""A span's first and last parameter, and the control points of its cubic."""


def _fitted_spans(of: Sides, spans: list[tuple[int, float, float]], within: float) -> dict[int, list[_Part]]:
    """For each side, the cubics that stand for its spans' flanks."""
    found: dict[int, list[_Part]] = {}
    for attempt in range(HALVINGS + 1):
        if not spans:
            break
        rows = np.array([row for row, _, _ in spans])
        low, high = np.array([a for _, a, _ in spans]), np.array([b for _, _, b in spans])
        samples, ways = _exact(of, rows[:, None], low[:, None] + (high - low)[:, None] * EVEN)
        guess = np.tile(EVEN, (len(spans), 1))
        controls, miss = fitted(samples, ways[:, 0], ways[:, -1], within / 2, within, guess)
        halves: list[tuple[int, float, float]] = []
        for (row, a, b), control, error in zip(spans, controls, miss.tolist(), strict=True):
            if error <= within or attempt == HALVINGS:
                found.setdefault(row, []).append((a, b, control))
            else:
                middle = (a + b) / 2
                halves += [(row, a, middle), (row, middle, b)]
        spans = halves
    return {row: sorted(parts, key=lambda part: part[0]) for row, parts in found.items()}


def _exact(of: Sides, rows: Indices, t: Floats) -> tuple[Points, Points]:
    """Points on the flanks of sides at parameters, and the directions there; (k, n), the sides (k, n) or (k, 1)."""
    rows = np.broadcast_to(rows, t.shape)
    at, slope, _ = (each[:, 0].reshape(t.shape) for each in derivatives(of.p[rows.ravel()], t.reshape(-1, 1)))
    ways = slope / np.maximum(np.abs(slope), 1e-300)
    ways = np.where(t == 0, of.first[rows], np.where(t == 1, of.last[rows], ways))
    return at - 1j * of.by[rows] * ways, ways


def _curves(controls: Sequence[Points], end: complex) -> list[Curve]:
    curves: list[Curve] = [(c1, c2, c3) for control in controls for _, c1, c2, c3 in [control.tolist()]]
    last = curves[-1]
    curves[-1] = (last[0], last[1], end) if len(last) == 3 else last
    return curves


def _with_folds(parts: list[_Part], folds: list[tuple[float, Points]]) -> Flank:
    start: complex | None = None
    curves: list[Curve] = []
    chains = [(a, 1, points) for a, points in folds] + [(a, 0, control) for a, _, control in parts]
    for _, is_fold, points in sorted(chains, key=lambda chain: chain[:2]):
        listed = points.tolist()
        if start is None:
            start = listed[0]
        elif curves[-1][-1] != listed[0]:
            curves.append((listed[0],))
        curves += [(point,) for point in listed[1:]] if is_fold else [(listed[1], listed[2], listed[3])]
    assert start is not None
    return Flank(start, curves, [])


def fewer(of: Sides, along: Sequence[Flank], which: Bools) -> list[Flank]:
    """The flanks with as few curves as follow the chains of some of the sides within 0.02 mm."""
    chains = _chains(of, along, which)
    units = [
        [(row, *half) for row in chain for span in along[row].spans for half in _halves(*span)] for chain in chains
    ]
    tried = [(k, i, i + 1) for k, chain in enumerate(units) for i in range(len(chain))]
    good: dict[tuple[int, int, int], Points] = {}
    for count in range(2, JOINED + 2):
        if not tried:
            break
        good |= _joined(of, units, tried)
        tried = [(k, i, i + count) for k, i, j in tried if (k, i, j) in good and (k, i + 1, j + 1) in good]
    found = list(along)
    _, ends = of.ends()
    for k, chain in enumerate(chains):
        curves: list[Curve] = []
        for i, j in _fewest(len(units[k]), {(i, j) for number, i, j in good if number == k}):
            row, _, t = units[k][j - 1]
            end = ends[row] if t == 1 else complex(good[k, i, j][3])
            curves += _curves([good[k, i, j]], end)
        found[chain[0]] = Flank(along[chain[0]].start, curves, [])
        for row in chain[1:]:
            found[row] = Flank(ends[row], [], [])
    return found


def _halves(a: float, b: float) -> tuple[tuple[float, float], tuple[float, float]]:
    return (a, (a + b) / 2), ((a + b) / 2, b)


def _chains(of: Sides, along: Sequence[Flank], which: Bools) -> list[list[int]]:
    """The chains of two spans or more among those, each in order; a ring that is one starts at its lowest node."""
    spanned = which & np.array([bool(flank.spans) for flank in along])
    linked = spanned & (of.following >= 0) & spanned[of.following] & (of.last == of.first[of.following])
    goes_on = np.zeros(len(linked), np.bool_)
    goes_on[of.following[linked]] = True
    left = linked.copy()
    chains: list[list[int]] = []
    nodes = of.p[:, 0]
    order = np.lexsort((nodes.real, nodes.imag, goes_on))  # the starts of open chains, then what is left of closed ones
    for start in order.tolist():
        chain = [start]
        while left[chain[-1]]:
            left[chain[-1]] = False
            chain.append(int(of.following[chain[-1]]))
        if len(chain) > 1:
            chains.append(chain[:-1] if chain[-1] == start else chain)
        elif spanned[start] and not goes_on[start] and len(along[start].spans) > 1:
            chains.append(chain)
    return chains


def _joined(
    of: Sides, units: Sequence[Sequence[tuple[int, float, float]]], tried: Sequence[tuple[int, int, int]]
) -> dict[tuple[int, int, int], Points]:
    """For each chain and its units from one to another that can be one cubic: its control points; single ones can."""
    count = tried[0][2] - tried[0][1]
    # closer together toward the ends, where a wrong direction would show
    place = count * (1 - np.cos(np.linspace(0, np.pi, JOINED_SAMPLES))) / 2
    number = np.minimum(place.astype(np.intp), count - 1)
    each = np.array([units[k][i:j] for k, i, j in tried])
    rows, low, high = each[:, number, 0].astype(np.intp), each[:, number, 1], each[:, number, 2]
    samples, ways = _exact(of, rows, low + (high - low) * (place - number))
    controls, miss = fitted(samples, ways[:, 0], ways[:, -1], JOINED_MM, JOINED_MM)
    near = (miss <= JOINED_MM) | (count == 1)
    return {key: control for key, control, kept in zip(tried, controls, near.tolist(), strict=True) if kept}


def _fewest(count: int, good: set[tuple[int, int]]) -> list[tuple[int, int]]:
    """The fewest steps from 0 to `count`, each by one or one of the good ones; of equal ways, long steps first."""
    cost, last = [0], [0]
    for j in range(1, count + 1):
        best = min((cost[i] + 1, i) for i in range(j) if i == j - 1 or (i, j) in good)
        cost.append(best[0])
        last.append(best[1])
    steps: list[tuple[int, int]] = []
    while count:
        steps.append((last[count], count))
        count = last[count]
    return steps[::-1]
