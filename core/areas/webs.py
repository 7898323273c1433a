"""Webs of edges: which meet where, which lie on a loop, and what areas they enclose.

Terminology
    edge        a stretch of a drawing with two ends: one segment or several
    half-edge   an edge in one direction: number 2 i is edge i forwards, 2 i + 1 backwards, so h ^ 1 is h the other way
    node        where ends of edges coincide
    strand      a run of half-edges through nodes at which just two ends meet
    bridge      a strand that lies on no loop: a tail, or the link between two loops
    face        an area that strands enclose, as a pencil would color it
    tangle      strands that cross without a node, so that they enclose no clear areas

Sources: bridges by depth-first search, R. Tarjan, A note on finding the bridges of a graph, IPL 2 (1974); faces of a
plane graph by its rotation system, and Euler's formula, M. de Berg et al., Computational Geometry (3rd ed., 2008),
ch. 2.
"""

from __future__ import annotations

import cmath
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Generic, TypeAlias

import numpy as np
from numpy.typing import NDArray

from clothpath.curves import AnyPath, Curve, OpenPath, Outline, open_path, outlines_in

__all__ = [
    "SAME_MM",
    "Edge",
    "Gap",
    "Ints",
    "Run",
    "Strand",
    "Web",
    "bridges",
    "faces",
    "renumbered",
    "reversed_edge",
    "root",
    "unite",
]

SAME_MM: Final = 0.002
"""Ends this near coincide: what rounding to four decimals of an inch leaves, in millimeters."""
SAME_DIRECTION: Final = 1e-6
"""Radians; directions nearer than this count as one and the bend decides."""

Ints: TypeAlias = NDArray[np.intp]
Strand: TypeAlias = "list[int]"
"""Half-edges in order."""


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
    """A place, in mm, where ends meet now, and how far they were apart before."""

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


def reversed_edge(edge: Edge) -> Edge:
    starts = [edge.start, *(segment[-1] for segment in edge.segments[:-1])]
    turned: list[Curve] = [
        (start,) if len(segment) == 1 else (segment[1], segment[0], start)
        for start, segment in zip(starts, edge.segments, strict=True)
    ]
    return Edge(edge.end, tuple(turned[::-1]))


class Web:
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

    def loops(self, strands: Iterable[Strand], gaps: list[Gap], plain: bool) -> list[Run[Outline]]:
        """The closed paths along the half-edges of each."""
        rows: list[tuple[complex, complex, complex]] = []
        straight: list[bool] = []
        ends: list[int] = []
        of: list[tuple[int, ...]] = []
        for strand in strands:
            at = self.point(strand[0])
            for segment in self._closed(strand, gaps):
                rows.append((at, at, at) if len(segment) == 1 else (at, segment[0], segment[1]))
                straight.append(len(segment) == 1)
                at = segment[-1]
            ends.append(len(rows))
            of.append(self._indices(strand))
        nodes = np.array(rows, dtype=np.complex128).reshape(-1, 3)
        paths = outlines_in(nodes, np.array(straight, dtype=np.bool_), ends)
        return [Run(path, edges, plain) for path, edges in zip(paths, of, strict=True)]

    def _closed(self, strand: Strand, gaps: list[Gap]) -> list[Curve]:
        """The segments of the half-edges, back to where they start."""
        start = self.point(strand[0])
        segments = self._along(strand, gaps)
        last = segments[-1]
        if abs(last[-1] - start) > 2 * SAME_MM:
            gaps.append(_gap(last[-1], start))
            segments.append((start,))
        else:
            segments[-1] = (start,) if len(last) == 1 else (last[0], last[1], start)
        return segments

    def _indices(self, strand: Strand) -> tuple[int, ...]:
        return tuple(self.kept[half >> 1] for half in strand)

    def _along(self, strand: Strand, gaps: list[Gap]) -> list[Curve]:
        """The segments of the half-edges; what does not meet is linked by a straight line."""
        at = self.point(strand[0])
        segments: list[Curve] = []
        for half in strand:
            edge = self.edges[self.kept[half >> 1]]
            if half & 1:
                edge = reversed_edge(edge)
            if abs(edge.start - at) > 2 * SAME_MM:
                gaps.append(_gap(at, edge.start))
                segments.append((edge.start,))
            segments.extend(edge.segments)
            at = edge.end
        return segments


def _gap(a: complex, b: complex) -> Gap:
    return Gap((a + b) / 2, abs(b - a))


def bridges(web: Web, strands: Sequence[Strand]) -> list[int]:
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


def faces(web: Web, strands: Sequence[Strand]) -> list[Strand]:
    """The half-edges around each face of strands none of which is a bridge, and clockwise around each web as a whole.

    There are none where the strands are a tangle.
    """
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
    traced: list[list[int]] = []
    for i in range(len(both)):
        face: list[int] = []
        at = i
        while not done[at]:
            done[at] = 1
            face.append(at)
            at = right_of[at ^ 1]
        if face:
            traced.append(face)
    whole = _plane(web, both, traced)
    return [[half for way in face for half in both[way]] for face in traced if whole[face[0]]]


def _plane(web: Web, both: Sequence[Strand], traced: Sequence[Sequence[int]]) -> list[bool]:
    """For each way whether its web lies in the plane: nodes - strands + faces = 2."""
    nodes = {node: i for i, node in enumerate({node for way in both for node in web.ends(way)})}
    parent = list(range(len(nodes)))
    for way in both:
        a, b = web.ends(way)
        unite(parent, nodes[a], nodes[b])
    heads = [root(parent, nodes[web.origins[way[0]]]) for way in both]
    excess: dict[int, float] = defaultdict(float)
    for i in range(len(parent)):
        excess[root(parent, i)] += 1
    for head in heads:
        excess[head] -= 0.5
    for face in traced:
        excess[heads[face[0]]] += 1
    return [excess[head] == 2 for head in heads]


def _around(web: Web, both: Sequence[Strand], ways: Iterable[int]) -> list[int]:
    """Strands that leave one node, counterclockwise by direction, then by bend."""
    sides: list[tuple[float, float, int]] = []
    for i in ways:
        half = both[i][0]
        edge = web.edges[web.kept[half >> 1]]
        direction, bend = _departure(reversed_edge(edge) if half & 1 else edge)
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


def renumbered(numbers: Ints) -> Ints:
    """The same partition, numbered in order of first use."""
    _, first, inverse = np.unique(numbers, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.intp)
    rank[np.argsort(first)] = np.arange(len(first))
    return rank[inverse]


def root(parent: list[int], i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


def unite(parent: list[int], a: int, b: int) -> None:
    low, high = sorted((root(parent, a), root(parent, b)))
    parent[high] = low
