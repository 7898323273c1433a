"""Edges split where others end on them or cross them, so that areas close there.

Terminology (more of it in `webs`)
    touch       a place where an edge ends in the middle of another one, or of itself
    crossing    a place where two edges cross in the middle of both
    cut         where an edge is split: the number of its segment, and the parameter on it
    split       the edges that result, and for each the index of the one that it is a part of

What was drawn with a ruler often runs along another line and ends on it: a T instead of a corner. Crossings are split
only where asked, since lines that cross are as often markings.

Source: points of curves nearest to others by Newton's method, J. Stoer and R. Bulirsch, Introduction to Numerical
Analysis (3rd ed., 2002), ch. 5.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.areas.webs import SAME_MM, Edge
from clothpath.beziers import Control, bends, halves, point, points_at, slope, steps_within
from clothpath.curves import Bools, Curve, Points

__all__ = ["Split", "Touch", "crossings", "split", "touches"]

AT_ONCE: Final = 256
"""Ends or segments that are looked up between two ticks."""
MOST_CROSSINGS: Final = 20_000
"""Beyond, the lines are a scribble, and none is split."""
STEPS: Final = 8
"""Newton steps at most; from a chord within 0.05 mm three are enough."""
CHORD_MM: Final = 0.05
"""Curves are looked up as polylines within this."""
MOST_CHORDS: Final = 64
"""Chords of one cubic at most."""

Cut: TypeAlias = tuple[int, int, float]
"""Edge, segment, parameter."""


@dataclass(frozen=True, slots=True)
class Touch:
    """Where the end `at` of edge number `edge` touches, and the cut there."""

    at: complex
    edge: int
    cut: Cut


@dataclass(frozen=True, slots=True)
class Split:
    edges: tuple[Edge, ...]
    owners: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Segments:
    """All segments of the edges: (n, 4) control points, whether straight, edge and number of each, and a tree."""

    points: Points
    straight: Bools
    edge: NDArray[np.intp]
    number: NDArray[np.intp]
    tree: shapely.STRtree
    loose: float


def touches(
    edges: Sequence[Edge], ends: Iterable[tuple[complex, int]], gap: float, tick: Callable[[], None] = lambda: None
) -> list[Touch]:
    """Where ends lie within `gap` mm of the middle of an edge.

    Args:
        ends: place, and the index of the edge that ends there.
        tick: called now and then; may raise to stop.
    """
    wanted = list(ends)
    if not wanted:
        return []
    among = _segments(edges)
    places = np.array([at for at, _ in wanted], dtype=np.complex128)
    spots = shapely.points(places.real, places.imag)
    owner = np.array([own for _, own in wanted], dtype=np.intp)
    several = np.bincount(among.edge)
    found: list[Touch] = []
    for first in range(0, len(wanted), AT_ONCE):
        tick()
        mine, theirs = among.tree.query(spots[first : first + AT_ONCE], predicate="dwithin", distance=gap + among.loose)
        mine = mine + first
        other = (among.edge[theirs] != owner[mine]) | (several[among.edge[theirs]] > 1)
        near: dict[int, list[int]] = defaultdict(list)
        for end, segment in zip(mine[other].tolist(), theirs[other].tolist(), strict=True):
            near[end].append(segment)
        for end, candidates in near.items():
            at, own = wanted[end]
            if (cut := _nearest(among, edges, candidates, at, own, gap)) is not None:
                found.append(Touch(at, own, cut))
    return found


def crossings(
    edges: Sequence[Edge], which: Sequence[int], tick: Callable[[], None] = lambda: None
) -> list[tuple[complex, tuple[Cut, ...]]]:
    """Where those of the edges meet in the middle: the place, and the cut of each that does not end there.

    None if there are too many.
    """
    if not which:
        return []
    among = _segments([edges[i] for i in which])
    found: list[tuple[complex, tuple[Cut, ...]]] = []
    for first in range(0, len(among.points), AT_ONCE):
        tick()
        mine, theirs = among.tree.query(among.tree.geometries[first : first + AT_ONCE], predicate="intersects")
        mine = mine + first
        beside = (among.edge[mine] == among.edge[theirs]) & (among.number[theirs] == among.number[mine] + 1)
        later = (theirs > mine) & ~beside
        for one, other in zip(mine[later].tolist(), theirs[later].tolist(), strict=True):
            for t, u in _meetings(among, one, other):
                place = point(among.points[one], t)
                cuts = tuple(
                    (which[int(among.edge[segment])], int(among.number[segment]), share)
                    for segment, share in ((one, t), (other, u))
                    if _inside(among, segment, place)
                )
                if cuts:
                    found.append((place, cuts))
            if len(found) > MOST_CROSSINGS:
                return []
    return found


def split(edges: Sequence[Edge], cuts: Iterable[Cut]) -> Split:
    """The edges in parts, in their order."""
    by_edge: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for of, number, t in cuts:
        by_edge[of].append((number, t))
    parts: list[Edge] = []
    owners: list[int] = []
    for i, edge in enumerate(edges):
        some = _parted(edge, sorted(set(by_edge[i]))) if i in by_edge else [edge]
        parts += some
        owners += [i] * len(some)
    return Split(tuple(parts), tuple(owners))


def _segments(edges: Sequence[Edge]) -> _Segments:
    rows: list[Control] = []
    straight: list[bool] = []
    of: list[tuple[int, int]] = []
    for i, edge in enumerate(edges):
        at = edge.start
        for k, segment in enumerate(edge.segments):
            rows.append(_control(at, segment))
            straight.append(len(segment) == 1)
            of.append((i, k))
            at = segment[-1]
    points = np.array(rows, dtype=np.complex128)
    count = np.where(straight, 1, steps_within(points, CHORD_MM).clip(max=MOST_CHORDS)).astype(np.intp)
    row = np.arange(len(points)).repeat(count + 1)
    first = np.cumsum(count + 1) - (count + 1)
    flat = points_at(points[row], (np.arange(len(row)) - first[row]) / count[row])
    lines = shapely.linestrings(np.stack((flat.real, flat.imag), axis=1), indices=row)
    loose = float((0.75 * bends(points) / count**2)[~np.array(straight)].max(initial=0.0))
    own, number = np.array(of, dtype=np.intp).reshape(-1, 2).T
    return _Segments(points, np.array(straight), own, number, shapely.STRtree(lines), loose)


def _nearest(
    among: _Segments, edges: Sequence[Edge], candidates: Sequence[int], at: complex, own: int, gap: float
) -> Cut | None:
    """The cut nearest to an end; None if an end of the edge is within the gap, for that is where the two meet."""
    best: tuple[float, Cut] | None = None
    for segment in candidates:
        edge = int(among.edge[segment])
        t = _foot(among.points[segment], bool(among.straight[segment]), at)
        place = point(among.points[segment], t)
        far = abs(place - at)
        if far > gap or (best is not None and far >= best[0]):
            continue
        cut = (edge, int(among.number[segment]), t)
        ends = [edges[edge].start, edges[edge].end]
        if edge == own:
            if _hangs_together(edges[edge], cut, at, gap):
                continue
            ends.remove(min(ends, key=lambda end: abs(end - at)))
        if min(abs(at - end) for end in ends) <= max(SAME_MM, gap):
            continue
        best = far, cut
    return None if best is None else best[1]


def _hangs_together(edge: Edge, cut: Cut, at: complex, gap: float) -> bool:
    """Whether the edge does not leave the end's neighborhood between the end and the cut."""
    _, number, _ = cut
    starts = [edge.start, *(segment[-1] for segment in edge.segments)]
    between = starts[number + 1 : -1] if abs(edge.end - at) < abs(edge.start - at) else starts[1 : number + 1]
    return all(abs(point - at) <= 2 * gap for point in between)


def _inside(among: _Segments, segment: int, place: complex) -> bool:
    """Whether the place is no end of the segment's edge."""
    number, edge = int(among.number[segment]), int(among.edge[segment])
    is_first = number == 0
    is_last = segment + 1 == len(among.edge) or int(among.edge[segment + 1]) != edge
    first, last = complex(among.points[segment, 0]), complex(among.points[segment, 3])
    return not (is_first and abs(place - first) <= 2 * SAME_MM) and not (is_last and abs(place - last) <= 2 * SAME_MM)


def _foot(p: Points, straight: bool, at: complex) -> float:
    """The parameter of the point nearest to `at`."""
    if straight:
        way = complex(p[3] - p[0])
        return min(1.0, max(0.0, ((at - complex(p[0])) * way.conjugate()).real / (abs(way) ** 2 or 1.0)))
    samples = np.linspace(0, 1, 65)
    t = float(samples[np.argmin(np.abs(points_at(np.broadcast_to(p, (65, 4)), samples) - at))])
    for _ in range(STEPS):
        way = slope(p, t)
        size = abs(way) ** 2
        if size == 0:
            break
        t = min(1.0, max(0.0, t + ((at - point(p, t)) * way.conjugate()).real / size))
    return t


def _meetings(among: _Segments, one: int, other: int) -> list[tuple[float, float]]:
    """Parameters on both segments at which they meet in single points; those along which they run together are none."""
    mine, theirs = among.tree.geometries[one], among.tree.geometries[other]
    p, q = among.points[one], among.points[other]
    found: list[tuple[float, float]] = []
    for place in shapely.get_parts(shapely.intersection(mine, theirs)):
        if place.geom_type != "Point":
            continue
        at = complex(place.x, place.y)
        t, u = _foot(p, bool(among.straight[one]), at), _foot(q, bool(among.straight[other]), at)
        for _ in range(STEPS):
            apart = point(q, u) - point(p, t)
            a, b = slope(p, t), slope(q, u)
            turn = (a.conjugate() * b).imag
            if abs(apart) < SAME_MM / 1000 or turn == 0:
                break
            t += (apart.real * b.imag - apart.imag * b.real) / turn
            u += (apart.real * a.imag - apart.imag * a.real) / turn
        if 0 <= t <= 1 and 0 <= u <= 1 and abs(point(q, u) - point(p, t)) <= SAME_MM / 2:
            found.append((t, u))
    return found


def _parted(edge: Edge, cuts: Sequence[tuple[int, float]]) -> list[Edge]:
    """The edge in parts; a cut that would leave no length is none."""
    parts: list[Edge] = []
    start = at = edge.start
    done: list[Curve] = []
    by_segment: dict[int, list[float]] = defaultdict(list)
    for number, t in cuts:
        by_segment[number].append(t)
    for number, segment in enumerate(edge.segments):
        line, rest = len(segment) == 1, _control(at, segment)
        for before, t in pairwise([0.0, *by_segment[number]]):
            head, rest = halves(rest, (t - before) / (1 - before) if before < 1 else 1.0)
            if abs(head[3] - head[0]) > SAME_MM:
                done.append(_curve(head, line))
            if done:
                parts.append(Edge(start, tuple(done)))
                start, done = done[-1][-1], []
                rest = (start, *rest[1:])
        if not by_segment[number] or abs(rest[3] - rest[0]) > SAME_MM:
            done.append(_curve(rest, line))
        at = segment[-1]
    if done:
        parts.append(Edge(start, tuple(done)))
    return parts


def _control(start: complex, segment: Curve) -> Control:
    """The segment as a cubic."""
    if len(segment) == 1:
        way = segment[0] - start
        return start, start + way / 3, start + 2 * way / 3, segment[0]
    return start, *segment


def _curve(control: Control, line: bool) -> Curve:
    return (control[3],) if line else control[1:]
