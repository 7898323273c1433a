"""Outlines without nodes that do nothing.

Terminology
    bare        a segment without length
    needless    a node in the middle of a straight line
    spike       a line that runs out and straight back along itself, enclosing nothing
    prune       take all three out, and let curves that are straight be lines

Pruning stops when nothing is left to prune, so pruning twice is pruning once. Nodes go in order of their height over
the line that would replace them, lowest first, which keeps errors from adding up (as in M. Visvalingam and J. Whyatt,
Line generalisation by repeated elimination of points, The Cartographic Journal 30 (1993), there with areas).
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from clothpath.curves import Bools, Curve, Outline, Points, cubics, flattened, gathered, outline
from clothpath.regions import xy

__all__ = ["BARE_MM", "HEIGHT_MM", "Pruned", "pruned", "pruned_each"]

BARE_MM: Final = 1e-4
"""A segment that stays this near to its start has no length, in mm."""
HEIGHT_MM: Final = 0.001
"""A node this near to the straight line past it is needless, in mm: below what files with three decimals can tell."""
MOST_MM: Final = 0.01
"""The outline moves no farther than this, in mm, but for spikes; else its needless nodes are left as they are."""


@dataclass(frozen=True, slots=True)
class Pruned:
    """What is left of an outline, and where nodes were taken out.

    Attributes:
        outline: None if nothing was left that encloses anything.
    """

    outline: Outline | None
    bare: tuple[complex, ...] = ()
    needless: tuple[complex, ...] = ()
    spikes: tuple[complex, ...] = ()


@dataclass(slots=True)
class _Ring:
    """An outline being pruned: nodes, and the control points of the segment that leads to each; None for a line."""

    nodes: list[complex]
    bends: list[tuple[complex, complex] | None]

    def drop(self, i: int) -> complex:
        """Take node i out; the next segment then starts where this one did."""
        del self.bends[i]
        return self.nodes.pop(i)


def pruned(closed: Outline) -> Pruned:
    """The outline without bare segments, needless nodes and spikes."""
    (found,) = pruned_each([closed])
    return found


def pruned_each(outlines: Sequence[Outline]) -> list[Pruned]:
    """As `pruned`, of each outline; together they take less time."""
    suspicious = _suspicious(outlines)
    return [
        _all_pruned(closed) if doubt else Pruned(closed) for closed, doubt in zip(outlines, suspicious, strict=True)
    ]


def _all_pruned(closed: Outline) -> Pruned:
    result = _pruned(closed, (_drop_bare, _drop_spikes, _drop_needless))
    if result.outline is not None and _strays(result.needless, result.outline):
        result = _pruned(closed, (_drop_bare, _drop_spikes, _leave))
    return result


def _pruned(closed: Outline, rounds: Sequence[Callable[[_Ring], list[complex]]]) -> Pruned:
    """Each kind of dropping in turn, until none drops anything."""
    ring = _ring_of(closed)
    dropped: list[list[complex]] = [[] for _ in rounds]
    busy = True
    while busy:
        busy = False
        for total, drop in zip(dropped, rounds, strict=True):
            found = drop(ring)
            total += found
            busy = busy or bool(found)
    bare, spikes, needless = (tuple(points) for points in dropped)
    if not (bare or spikes or needless):
        return Pruned(closed)
    if len(ring.nodes) < 3 and all(bend is None for bend in ring.bends):
        return Pruned(None, bare, needless, spikes)
    segments: list[Curve] = [
        (node,) if bend is None else (*bend, node) for node, bend in zip(ring.nodes, ring.bends, strict=True)
    ]
    return Pruned(outline(ring.nodes[-1], segments), bare, needless, spikes)


def _ring_of(closed: Outline) -> _Ring:
    p = cubics(closed)
    straight = _lines(closed.straight, p).tolist()
    return _Ring(
        p[:, 3].tolist(),
        [None if line else (c1, c2) for line, (_, c1, c2, _) in zip(straight, p.tolist(), strict=True)],
    )


def _lines(straight: Bools, p: Points) -> Bools:
    """Which segments are straight, cubics whose control points lie on their chord included."""
    chord = p[:, 3] - p[:, 0]
    size = np.abs(chord)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (p[:, 1:3] - p[:, :1]) * chord.conj()[:, None] / size[:, None]
        flat = (np.abs(along.imag) <= HEIGHT_MM / 2) & (along.real >= 0) & (along.real <= size[:, None])
    result: Bools = straight | flat.all(axis=1)
    return result


def _suspicious(outlines: Sequence[Outline]) -> list[bool]:
    """Whether there may be anything to prune in each outline; a quick look that errs on the side of yes."""
    if not outlines:
        return []
    p, straight, first = gathered(outlines)
    after = np.arange(1, len(p) + 1)
    after[first[1:] - 1] = first[:-1]
    lines = _lines(straight, p)
    bare = np.abs(p[:, 1:] - p[:, :1]).max(axis=1) <= BARE_MM
    step = p[:, 3] - p[:, 0]
    ahead = step[after]
    turned = step.conj() * ahead
    size, onward = np.abs(step), np.abs(step[after])
    reach = np.where(turned.real >= 0, np.abs(step + ahead), np.maximum(size, onward))
    near = (np.abs(turned.imag) <= HEIGHT_MM * reach) | (np.minimum(size, onward) <= HEIGHT_MM)
    found: list[bool] = np.logical_or.reduceat(bare | (lines & lines[after] & near), first[:-1]).tolist()
    return found


def _drop_bare(ring: _Ring) -> list[complex]:
    found: list[complex] = []
    i = 0
    while i < len(ring.nodes):
        start, bend = ring.nodes[i - 1], ring.bends[i]
        reach = (ring.nodes[i],) if bend is None else (ring.nodes[i], *bend)
        if all(abs(point - start) <= BARE_MM for point in reach):
            found.append(ring.drop(i))
        else:
            i += 1
    return found


def _drop_spikes(ring: _Ring) -> list[complex]:
    found: list[complex] = []
    i = 0
    while i < len(ring.nodes) and len(ring.nodes) > 1:
        after = (i + 1) % len(ring.nodes)
        a, b, c = ring.nodes[i - 1], ring.nodes[i], ring.nodes[after]
        if ring.bends[i] is None and ring.bends[after] is None and _is_spike(a, b, c):
            found.append(ring.drop(i))
            i = max(0, i - 2)
        else:
            i += 1
    return found


def _is_spike(a: complex, b: complex, c: complex) -> bool:
    """Whether a - b - c runs back along itself."""
    out, back = b - a, c - b
    if (out.conjugate() * back).real >= 0:
        return False
    return abs((out.conjugate() * back).imag) <= HEIGHT_MM * max(abs(out), abs(back))


def _drop_needless(ring: _Ring) -> list[complex]:
    """Lowest first, neighbors looked at again after each."""
    count = len(ring.nodes)
    if count < 3:
        return []
    before, after = [i - 1 for i in range(count)], [(i + 1) % count for i in range(count)]
    before[0] = count - 1
    gone = bytearray(count)

    def height(i: int) -> float:
        if ring.bends[i] is not None or ring.bends[after[i]] is not None or before[i] == after[i]:
            return np.inf
        a, b, c = ring.nodes[before[i]], ring.nodes[i], ring.nodes[after[i]]
        if ((b - a).conjugate() * (c - b)).real < 0 or a == c:
            return np.inf
        return abs(((b - a).conjugate() * (c - a)).imag) / abs(c - a)

    heap = [(high, i) for i in range(count) if (high := height(i)) <= HEIGHT_MM]
    heapq.heapify(heap)
    while heap:
        high, i = heapq.heappop(heap)
        if gone[i] or high != height(i):
            continue
        gone[i] = 1
        a, c = before[i], after[i]
        after[a], before[c] = c, a
        for neighbor in (a, c):
            if (high := height(neighbor)) <= HEIGHT_MM:
                heapq.heappush(heap, (high, neighbor))
    found = [node for i, node in enumerate(ring.nodes) if gone[i]]
    if found:
        ring.bends = [bend for i, bend in enumerate(ring.bends) if not gone[i]]
        ring.nodes = [node for i, node in enumerate(ring.nodes) if not gone[i]]
    return found


def _leave(ring: _Ring) -> list[complex]:
    return []


def _strays(points: Sequence[complex], closed: Outline) -> bool:
    """Whether one of the points that were taken out lies too far from the outline that is left."""
    if not points:
        return False
    line = shapely.LinearRing(xy(flattened(closed)))
    shapely.prepare(line)
    return bool((shapely.distance(line, shapely.points(xy(np.array(points)))) > MOST_MM).any())
