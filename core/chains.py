"""Loose edges joined into loops.

Terminology
    edge        a stretch of a drawing with two ends: one segment or several
    node        where ends of edges coincide
    strand      a run of edges through nodes at which just two ends meet
    junction    a node at which three or more ends meet
    bridge      a strand that lies on no loop: a tail, or the link between two loops
    loop        a closed path made of edges; chain: an open one
    gap         a place where ends that belong together do not quite meet
    bare        an edge without length

What is joined, in this order: ends that coincide; then free ends, nearest pairs first, across gaps up to a tolerance,
so that a fine curve of edges shorter than the tolerance is not drawn together. At junctions the loops are the areas
that the edges enclose, as a pencil would color them: of two shapes that share a side, both; never their union.
Everything is near-linear in the number of edges; results are in the order of the edges given.

Sources: bridges by depth-first search, R. Tarjan, A note on finding the bridges of a graph, IPL 2 (1974); faces of a
plane graph by its rotation system, M. de Berg et al., Computational Geometry (3rd ed., 2008), ch. 2.
"""

from __future__ import annotations

import cmath
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Generic, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.curves import AnyPath, Bools, Curve, OpenPath, Outline, Path, Points, area, open_path, outline

__all__ = ["GAP_MM", "SAME_MM", "Edge", "Gap", "Joined", "Run", "edges_of", "joined"]

SAME_MM: Final = 0.002
"""Ends this near coincide: what rounding to four decimals of an inch leaves, in millimeters."""
GAP_MM: Final = 0.1
"""Default widest gap that is closed, in millimeters: less than any cutter shows."""
CROWD: Final = 16
"""Most nodes in a square of the gap's width; beyond, the place is a scribble and no gap is closed there. Also the most
edges between the same two nodes that another is compared with."""
SAME_DIRECTION: Final = 1e-6
"""Radians; directions nearer than this count as one and the bend decides."""

Ints: TypeAlias = NDArray[np.intp]
Strand: TypeAlias = "list[int]"
"""Half-edges in order: 2 i is edge i forwards, 2 i + 1 backwards, so that h ^ 1 is h the other way."""


@dataclass(frozen=True, slots=True)
class Edge:
    """A stretch of a drawing: where it starts, and its segments (see `curves.Curve`), at least one."""

    start: complex
    segments: tuple[Curve, ...]

    @property
    def end(self) -> complex:
        return self.segments[-1][-1]


@dataclass(frozen=True, slots=True)
class Gap:
    """A place, in mm, where ends did not meet, and how far they were apart before a straight line closed it."""

    at: complex
    width: float


@dataclass(frozen=True, slots=True)
class Run(Generic[AnyPath]):
    """A path and the edges that it is made of, as indices, in the order of the path.

    Attributes:
        plain: no junction lies on it, so that nothing had to be decided.
    """

    path: AnyPath
    edges: tuple[int, ...]
    plain: bool = True


@dataclass(frozen=True, slots=True)
class Joined:
    """What `joined` made of its edges.

    Attributes:
        loops: closed runs.
        chains: open runs.
        gaps: those that were closed.
        repeated: indices of edges that lie on an earlier one.
        bare: indices of edges without length.
        junctions: where loops meet, so that there was more than one way on.
    """

    loops: tuple[Run[Outline], ...]
    chains: tuple[Run[OpenPath], ...]
    gaps: tuple[Gap, ...]
    repeated: tuple[int, ...]
    bare: tuple[int, ...]
    junctions: tuple[complex, ...]


def edges_of(path: Path) -> Edge:
    """The path as one edge."""
    return Edge(path.start, tuple(path.segments()))


def joined(edges: Sequence[Edge], gap: float = GAP_MM) -> Joined:
    """Loops and chains made of loose edges; gaps up to `gap` mm are closed."""
    bare = [i for i, edge in enumerate(edges) if _is_bare(edge)]
    without = set(bare)
    kept = [i for i in range(len(edges)) if i not in without]
    node = _clusters(np.array([p for i in kept for p in (edges[i].start, edges[i].end)], dtype=np.complex128))
    kept, node, repeated = _without_repeats(edges, kept, node)
    web = _Web(edges, kept, node)
    if gap > SAME_MM:
        merged = _across_gaps(web, gap)
        if merged is not None:
            web = _Web(edges, kept, merged)
    loops, strands = web.strands()
    bridges = set(_bridges(web, strands))
    between = [strand for i, strand in enumerate(strands) if i not in bridges]
    gaps: list[Gap] = []
    crowded = web.crowded(between)
    plain = [web.loop(loop, gaps, plain=True) for loop in loops]
    flat = [loop for loop, run in zip(loops, plain, strict=True) if _is_flat(run)]
    # the way back along a flat loop repeats the way there; the outside of a web is traced clockwise
    repeated += [kept[loop[-1] >> 1] for loop in flat]
    traced = [web.loop(face, gaps, plain=crowded.keys().isdisjoint(web.nodes(face))) for face in _faces(web, between)]
    faces = [run for run in traced if area(run.path) > 0]
    opened = [web.chain(chain, gaps) for chain in [strands[i] for i in sorted(bridges)] + [way[:-1] for way in flat]]
    return Joined(
        loops=_ordered([*(run for run in plain if not _is_flat(run)), *faces]),
        chains=_ordered(opened),
        gaps=tuple(sorted(set(gaps), key=lambda g: (g.at.real, g.at.imag, g.width))),
        repeated=tuple(sorted(repeated)),
        bare=tuple(bare),
        junctions=tuple(crowded.values()),
    )


def _ordered(runs: Iterable[Run[AnyPath]]) -> tuple[Run[AnyPath], ...]:
    return tuple(sorted(runs, key=lambda run: (min(run.edges), run.edges)))


def _is_flat(run: Run[Outline]) -> bool:
    """Whether the loop runs back along itself and encloses nothing."""
    return len(run.edges) > 1 and abs(area(run.path)) <= SAME_MM * _size(run.path.nodes[:, 0])


def _size(points: Points) -> float:
    """The longer side of the points' box."""
    return float(max(np.ptp(points.real), np.ptp(points.imag)))


def _is_bare(edge: Edge) -> bool:
    start = edge.start
    return all(abs(point - start) <= SAME_MM for segment in edge.segments for point in segment)


def _clusters(points: Points) -> Ints:
    """A number for each point, the same for points that coincide; numbered in order of first use."""
    if not len(points):
        return np.empty(0, dtype=np.intp)
    low = complex(points.real.min(), points.imag.min())
    cell = max(SAME_MM, _size(points) / 2**30)
    column = np.floor((points.real - low.real) / cell).astype(np.int64) + 1
    row = np.floor((points.imag - low.imag) / cell).astype(np.int64) + 1
    stride = np.int64(2**31)
    keys, first, cell_of = np.unique(column * stride + row, return_index=True, return_inverse=True)
    parent = list(range(len(keys)))
    for step in (1, stride - 1, stride, stride + 1):
        place = np.minimum(np.searchsorted(keys, keys + step), len(keys) - 1)
        near = (keys[place] == keys + step) & (np.abs(points[first[place]] - points[first]) <= cell)
        for a, b in zip(np.flatnonzero(near).tolist(), place[near].tolist(), strict=True):
            _unite(parent, a, b)
    roots = np.array([_root(parent, i) for i in range(len(keys))], dtype=np.intp)[cell_of]
    return _renumbered(roots)


def _renumbered(numbers: Ints) -> Ints:
    """The same partition, numbered in order of first use."""
    _, first, inverse = np.unique(numbers, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.intp)
    rank[np.argsort(first)] = np.arange(len(first))
    return rank[inverse]


def _root(parent: list[int], i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


def _unite(parent: list[int], a: int, b: int) -> None:
    low, high = sorted((_root(parent, a), _root(parent, b)))
    parent[high] = low


def _without_repeats(edges: Sequence[Edge], kept: list[int], node: Ints) -> tuple[list[int], Ints, list[int]]:
    """Edges that lie on an earlier one between the same nodes are taken out."""
    pairs = node.reshape(-1, 2)
    by_ends: dict[tuple[int, int], list[int]] = defaultdict(list)
    repeated: list[int] = []
    stay: list[int] = []
    for at, (a, b) in enumerate(pairs.tolist()):
        rivals = by_ends[(a, b) if a <= b else (b, a)]
        edge = edges[kept[at]]
        if any(_same_course(edges[kept[other]], edge) for other in rivals[:CROWD]):
            repeated.append(kept[at])
        else:
            rivals.append(at)
            stay.append(at)
    return [kept[at] for at in stay], pairs[stay].reshape(-1), repeated


def _same_course(one: Edge, other: Edge) -> bool:
    """Whether two edges between the same nodes run through the same points."""
    if len(one.segments) != len(other.segments):
        return False
    mine = [one.start, *(p for segment in one.segments for p in segment)]
    for theirs in (other, _reversed(other)):
        points = [theirs.start, *(p for segment in theirs.segments for p in segment)]
        if len(points) == len(mine) and all(abs(a - b) <= 2 * SAME_MM for a, b in zip(mine, points, strict=True)):
            return True
    return False


def _reversed(edge: Edge) -> Edge:
    starts = [edge.start, *(segment[-1] for segment in edge.segments[:-1])]
    turned: list[Curve] = [
        (start,) if len(segment) == 1 else (segment[1], segment[0], start)
        for start, segment in zip(starts, edge.segments, strict=True)
    ]
    return Edge(edge.end, tuple(turned[::-1]))


class _Web:
    """Edges and the nodes at which they meet."""

    def __init__(self, edges: Sequence[Edge], kept: list[int], node: Ints) -> None:
        self.edges, self.kept = edges, kept
        self.origin = node  # of half-edge h
        self.origins: list[int] = node.tolist()
        count = int(node.max()) + 1 if len(node) else 0
        self.degree = np.bincount(node, minlength=count)
        order = np.argsort(node, kind="stable")
        first = np.cumsum(self.degree) - self.degree
        partner = np.full(len(node), -1, dtype=np.intp)
        twos = np.flatnonzero(self.degree == 2)
        one, other = order[first[twos]], order[first[twos] + 1]
        partner[one], partner[other] = other, one
        self.partner: list[int] = partner.tolist()

    def point(self, half: int) -> complex:
        """Where the half-edge starts."""
        edge = self.edges[self.kept[half >> 1]]
        return edge.end if half & 1 else edge.start

    def nodes(self, strand: Strand) -> Iterator[int]:
        return (self.origins[half] for half in strand)

    def crowded(self, strands: Sequence[Strand]) -> dict[int, complex]:
        """Nodes at which more than two ends of these strands meet, and where they are."""
        halves = [half for strand in strands for half in (strand[0], strand[-1] ^ 1)]
        meeting: dict[int, list[int]] = defaultdict(list)
        for half in halves:
            meeting[self.origins[half]].append(half)
        return {node: self.point(ends[0]) for node, ends in meeting.items() if len(ends) > 2}

    def strands(self) -> tuple[list[Strand], list[Strand]]:
        """Loops without a junction, and the strands between other nodes."""
        partner = self.partner
        done = bytearray(len(self.kept))
        open_strands: list[Strand] = []
        for half, mate in enumerate(partner):
            if mate < 0 and not done[half >> 1]:
                open_strands.append(self._walk(half, done))
        loops = [self._walk(2 * i, done) for i in range(len(self.kept)) if not done[i]]
        return loops, open_strands

    def _walk(self, half: int, done: bytearray) -> Strand:
        strand: Strand = []
        while half >= 0 and not done[half >> 1]:
            done[half >> 1] = 1
            strand.append(half)
            half = self.partner[half ^ 1]
        return strand

    def ends(self, strand: Strand) -> tuple[int, int]:
        return self.origins[strand[0]], self.origins[strand[-1] ^ 1]

    def chain(self, strand: Strand, gaps: list[Gap]) -> Run[OpenPath]:
        """The open path along the half-edges."""
        return Run(open_path(self.point(strand[0]), self._along(strand, gaps)), self._indices(strand))

    def loop(self, strand: Strand, gaps: list[Gap], plain: bool) -> Run[Outline]:
        """The closed path along the half-edges."""
        start = self.point(strand[0])
        segments = self._along(strand, gaps)
        at = segments[-1][-1]
        if abs(at - start) > 2 * SAME_MM:
            gaps.append(_gap(at, start))
            segments.append((start,))
        else:
            last = segments[-1]
            segments[-1] = (start,) if len(last) == 1 else (last[0], last[1], start)
        return Run(outline(start, segments), self._indices(strand), plain)

    def _indices(self, strand: Strand) -> tuple[int, ...]:
        return tuple(self.kept[half >> 1] for half in strand)

    def _along(self, strand: Strand, gaps: list[Gap]) -> list[Curve]:
        """The segments of the half-edges; what does not meet is linked by a straight line."""
        at = self.point(strand[0])
        segments: list[Curve] = []
        for half in strand:
            edge = self.edges[self.kept[half >> 1]]
            if half & 1:
                edge = _reversed(edge)
            if abs(edge.start - at) > 2 * SAME_MM:
                gaps.append(_gap(at, edge.start))
                segments.append((edge.start,))
            segments.extend(edge.segments)
            at = edge.end
        return segments


def _gap(a: complex, b: complex) -> Gap:
    return Gap((a + b) / 2, abs(b - a))


def _across_gaps(web: _Web, gap: float) -> Ints | None:
    """Node numbers with free ends united with what lies nearest, up to `gap` away; None if nothing is."""
    free = np.flatnonzero(web.degree[web.origin] == 1)
    if not len(free):
        return None
    _, first = np.unique(web.origin, return_index=True)  # one half-edge for each node
    places = np.array([web.point(h) for h in first.tolist()], dtype=np.complex128)
    roomy = _roomy(places, gap)
    points = shapely.points(places.real, places.imag)
    nodes = web.origin[free]
    nodes = nodes[roomy[nodes]]
    mine, theirs = shapely.STRtree(np.where(roomy, points, None)).query(
        points[nodes], predicate="dwithin", distance=gap
    )
    a, b = nodes[mine], theirs
    far = np.abs(places[a] - places[b])
    useful = a != b
    a, b, far = a[useful], b[useful], far[useful]
    order = np.lexsort((b, a, far))
    strand_of: dict[int, tuple[int, float]] = {}
    for number, strand in enumerate(web.strands()[1]):
        size = _extent(web, strand)
        for end in web.ends(strand):
            strand_of[end] = (number, size)
    parent = list(range(len(web.degree)))
    taken: set[int] = set()
    degree = web.degree.tolist()
    for one, other in zip(a[order].tolist(), b[order].tolist(), strict=True):
        if one in taken or other in taken:
            continue
        number, size = strand_of[one]
        if strand_of.get(other, (-1, 0.0))[0] == number and size <= 2 * gap:
            continue
        taken.add(one)
        if degree[other] == 1:
            taken.add(other)
        _unite(parent, one, other)
    if not taken:
        return None
    roots = np.array([_root(parent, i) for i in range(len(parent))], dtype=np.intp)
    return _renumbered(roots[web.origin])


def _roomy(places: Points, gap: float) -> Bools:
    """Which places have few others near them: a crowd within a gap's width is a scribble, and no end in it a gap's."""
    low = complex(places.real.min(), places.imag.min())
    cell_size = max(gap, _size(places) / 2**30)
    column = np.floor((places.real - low.real) / cell_size).astype(np.int64)
    row = np.floor((places.imag - low.imag) / cell_size).astype(np.int64)
    _, cell, count = np.unique(column * np.int64(2**31) + row, return_inverse=True, return_counts=True)
    return np.asarray(count[cell] <= CROWD)


def _extent(web: _Web, strand: Strand) -> float:
    """The size of the strand's box, from the points that its segments join."""
    run = [web.edges[web.kept[half >> 1]] for half in strand]
    return _size(np.array([p for edge in run for p in (edge.start, *(s[-1] for s in edge.segments))]))


def _bridges(web: _Web, strands: Sequence[Strand]) -> list[int]:
    """Indices of the strands that lie on no loop."""
    around: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for i, strand in enumerate(strands):
        a, b = web.ends(strand)
        around[a].append((b, i))
        around[b].append((a, i))
    number: dict[int, int] = {}
    low: dict[int, int] = {}
    found: list[int] = []
    for root in around:
        if root in number:
            continue
        number[root] = low[root] = len(number)
        stack: list[tuple[int, int, Iterator[tuple[int, int]]]] = [(root, -1, iter(around[root]))]
        while stack:
            node, came_by, rest = stack[-1]
            for other, by in rest:
                if by == came_by:
                    continue
                if other in number:
                    low[node] = min(low[node], number[other])
                else:
                    number[other] = low[other] = len(number)
                    stack.append((other, by, iter(around[other])))
                    break
            else:
                stack.pop()
                if stack:
                    above = stack[-1][0]
                    low[above] = min(low[above], low[node])
                    if low[node] > number[above]:
                        found.append(came_by)
    return sorted(found)


def _faces(web: _Web, strands: Sequence[Strand]) -> list[Strand]:
    """The loops around the areas that strands without bridges enclose, and clockwise around each web as a whole."""
    both = [way for strand in strands for way in (strand, [half ^ 1 for half in reversed(strand)])]
    leaving: dict[int, list[int]] = defaultdict(list)
    for i, strand in enumerate(both):
        leaving[web.origins[strand[0]]].append(i)
    right_of: dict[int, int] = {}
    for ways in leaving.values():
        ordered = _around(web, both, ways)
        for before, after in zip(ordered, ordered[1:] + ordered[:1], strict=True):
            right_of[after] = before
    done = bytearray(len(both))
    faces: list[Strand] = []
    for i in range(len(both)):
        face: Strand = []
        at = i
        while not done[at]:
            done[at] = 1
            face.extend(both[at])
            at = right_of[at ^ 1]
        if face:
            faces.append(face)
    return faces


def _around(web: _Web, both: Sequence[Strand], ways: Iterable[int]) -> list[int]:
    """Strands that leave one node, counterclockwise by direction, then by bend."""
    sides: list[tuple[float, float, int]] = []
    for i in ways:
        half = both[i][0]
        edge = web.edges[web.kept[half >> 1]]
        direction, bend = _departure(_reversed(edge) if half & 1 else edge)
        sides.append((direction, bend, i))
    sides.sort()
    merged: list[tuple[float, float, int]] = []
    for direction, bend, i in sides:
        if merged and direction - merged[-1][0] <= SAME_DIRECTION:
            direction = merged[-1][0]
        merged.append((direction, bend, i))
    return [i for _, _, i in sorted(merged)]


def _departure(edge: Edge) -> tuple[float, float]:
    """The direction in which an edge leaves its start, in (-pi, pi], and its curvature there."""
    points = [p for segment in edge.segments for p in segment if abs(p - edge.start) > SAME_MM / 2]
    direction = cmath.phase(points[0] - edge.start)
    if math.pi - direction < SAME_DIRECTION:
        direction -= 2 * math.pi
    first = edge.segments[0]
    if len(first) == 1:
        return direction, 0.0
    d1, d2 = first[0] - edge.start, first[1] - first[0]
    size = abs(d1)
    return direction, 2 / 3 * (d1.conjugate() * d2).imag / size**3 if size > SAME_MM / 2 else 0.0
