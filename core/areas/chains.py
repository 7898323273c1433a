"""Loose edges joined into loops.

Terminology (more of it in `webs`)
    loop        a closed path made of edges; chain: an open one
    junction    a place where loops meet, so that there was more than one way on
    gap         a place where ends that belong together do not quite meet
    bare        an edge without length

What is joined, in this order: ends that coincide; then free ends, nearest pairs first, across gaps up to a tolerance,
so that a fine curve of edges shorter than the tolerance is not drawn together. At junctions the loops are the areas
that the edges enclose: of two shapes that share a side, both; never their union. Edges that cross without a common node
stay open. Everything is near-linear in the number of edges; results are in the order of the edges given.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from clothpath.areas.webs import SAME_MM, Edge, Gap, Ints, Run, Strand, Web, bridges, faces, reversed_edge, root, unite
from clothpath.curves import AnyPath, Bools, OpenPath, Outline, Path, Points, area

__all__ = ["GAP_MM", "SAME_MM", "Edge", "Gap", "Joined", "Run", "edges_of", "joined"]

GAP_MM: Final = 0.1
"""Default widest gap that is closed, in millimeters: less than any cutter shows."""
CROWD: Final = 16
"""Most nodes in a square of the gap's width; beyond, the place is a scribble and no gap is closed there. Also the most
edges between the same two nodes that another is compared with."""


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
        tangled: indices of edges on chains that run in circles, but cross others without a common node.
    """

    loops: tuple[Run[Outline], ...]
    chains: tuple[Run[OpenPath], ...]
    gaps: tuple[Gap, ...]
    repeated: tuple[int, ...]
    bare: tuple[int, ...]
    junctions: tuple[complex, ...]
    tangled: tuple[int, ...] = ()


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
    web = Web(edges, kept, node)
    if gap > SAME_MM:
        merged = _across_gaps(web, gap)
        if merged is not None:
            web = Web(edges, kept, merged)
    single, strands = web.strands()
    open_ones = set(bridges(web, strands))
    between = [strand for i, strand in enumerate(strands) if i not in open_ones]
    crowded = web.crowded(between)
    found = faces(web, between)
    shared: list[Strand] = []
    alone: dict[int, Strand] = {}  # by its lowest edge; it is traced in both directions
    for face in found:
        if crowded.keys().isdisjoint(web.nodes(face)):
            alone.setdefault(min(face) >> 1, face)
        else:
            shared.append(face)
    single += alone.values()
    gaps: list[Gap] = []
    loops = web.loops(single, gaps, plain=True)
    is_flat = [_is_flat(run) for run in loops]
    flat = [ring for ring, without_inside in zip(single, is_flat, strict=True) if without_inside]
    enclosed = [run for run in web.loops(shared, gaps, plain=False) if area(run.path) > 0]
    # the way back along a flat loop repeats the way there
    repeated += [kept[ring[-1] >> 1] for ring in flat if len(ring) > 1]
    rings = [*(run for run, without_inside in zip(loops, is_flat, strict=True) if not without_inside), *enclosed]
    used = {i for run in (*loops, *enclosed) for i in run.edges}
    loose = [strand for strand in strands if kept[strand[0] >> 1] not in used]
    loose += [ring[: max(1, len(ring) - 1)] for ring in flat]
    return Joined(
        loops=_ordered(rings),
        chains=_ordered([web.chain(strand, gaps) for strand in loose]),
        gaps=tuple(sorted(set(gaps), key=lambda g: (g.at.real, g.at.imag, g.width))),
        repeated=tuple(sorted(repeated)),
        bare=tuple(bare),
        junctions=tuple(crowded.values()),
        tangled=tuple(sorted({kept[half >> 1] for strand in between for half in strand} - used)),
    )


def _ordered(runs: Iterable[Run[AnyPath]]) -> tuple[Run[AnyPath], ...]:
    return tuple(sorted(runs, key=lambda run: (min(run.edges), run.edges)))


def _is_flat(run: Run[Outline]) -> bool:
    """Whether the loop runs back along itself and encloses nothing."""
    points = run.path.nodes.ravel()
    return abs(area(run.path)) <= SAME_MM * _size(points) and _is_thin(points)


def _is_thin(points: Points) -> bool:
    """Whether all points lie on one line, or nearly; lobes may cancel out and the outline yet be wide."""
    way = points - points[0]
    farthest = way[np.argmax(np.abs(way))]
    return bool((np.abs((way * farthest.conjugate()).imag) <= SAME_MM * abs(farthest)).all())


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
            unite(parent, a, b)
    roots = np.array([root(parent, i) for i in range(len(keys))], dtype=np.intp)[cell_of]
    return _renumbered(roots)


def _renumbered(numbers: Ints) -> Ints:
    """The same partition, numbered in order of first use."""
    _, first, inverse = np.unique(numbers, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.intp)
    rank[np.argsort(first)] = np.arange(len(first))
    return rank[inverse]


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
    for theirs in (other, reversed_edge(other)):
        points = [theirs.start, *(p for segment in theirs.segments for p in segment)]
        if len(points) == len(mine) and all(abs(a - b) <= 2 * SAME_MM for a, b in zip(mine, points, strict=True)):
            return True
    return False


def _across_gaps(web: Web, gap: float) -> Ints | None:
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
        unite(parent, one, other)
    if not taken:
        return None
    roots = np.array([root(parent, i) for i in range(len(parent))], dtype=np.intp)
    return _renumbered(roots[web.origin])


def _roomy(places: Points, gap: float) -> Bools:
    """Which places have few others near them: a crowd within a gap's width is a scribble, and no end in it a gap's."""
    low = complex(places.real.min(), places.imag.min())
    cell_size = max(gap, _size(places) / 2**30)
    column = np.floor((places.real - low.real) / cell_size).astype(np.int64)
    row = np.floor((places.imag - low.imag) / cell_size).astype(np.int64)
    _, cell, count = np.unique(column * np.int64(2**31) + row, return_inverse=True, return_counts=True)
    return np.asarray(count[cell] <= CROWD)


def _extent(web: Web, strand: Strand) -> float:
    """The size of the strand's box, from the points that its segments join."""
    run = [web.edges[web.kept[half >> 1]] for half in strand]
    return _size(np.array([p for edge in run for p in (edge.start, *(s[-1] for s in edge.segments))]))
