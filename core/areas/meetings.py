"""Ends that nearly meet brought together, and lines drawn twice taken once.

Terminology (more of it in `webs`)
    free        said of an end that meets no other
    loose       said of a node that was free, or came about where free ends were brought together
    late        said of an end brought to a place where others had been brought together already
    double      a strand that runs along another one between the same nodes
    settled     said of a loop that has no junction, does not cross itself and is no double of itself

Ends are brought together in rounds: each free end with what lies nearest, pairs first; then doubles are dropped, and
what they leave free has its turn. Only where no sound loop results, places that were brought together are so among each
other. No place is moved twice, so that places never become chains, and ends of one fine curve, which have a short way
to each other along it, are left apart.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence, Set
from dataclasses import dataclass, field
from typing import Final, TypeAlias

import numpy as np
import shapely

from clothpath.areas.alongside import are_one, length_of, lies_along, points_of, runs_around, strand_of
from clothpath.areas.webs import Edge, Gap, Ints, Strand, Web, renumbered, root, unite
from clothpath.curves import Bools, Curve, Outline, Points, area, flattened
from clothpath.regions import xy

__all__ = ["CROWD", "Met", "meet", "tolerance", "without_slivers"]

CROWD: Final = 16
"""Most nodes in a square of the gap's width; beyond, the place is a scribble and no gap is closed there. Also the most
strands between the same two nodes that another is compared with."""
DOUBLE_SHARE: Final = 0.01
"""Lines between the same two places that are nowhere farther apart than the gap, nor than this share of their length,
are one, drawn twice: no leaf is so narrow."""
LOCAL_GAPS: Final = 6
"""Ends with a way along the drawing to each other that is shorter than so many gaps are no gap."""
TAPER: Final = 20
"""A curve whose end is moved goes with it over so many times the move; that turns it by less than 3 degrees."""
CORNER: Final = 0.2
"""Least sine of the angle of two straight lines that are prolonged or cut back to their corner."""

End: TypeAlias = int
"""Twice the index of an edge, one more for where it ends: unlike a half-edge the same in every web of the edges."""


@dataclass
class Met:
    """The edges as they meet, what was closed for it, and which edges were dropped as doubles.

    Attributes:
        apart: ends that are not to be late.
        late: ends that were.
    """

    web: Web
    apart: Set[End] = frozenset()
    repeated: list[int] = field(default_factory=list)
    late: set[End] = field(default_factory=set)
    _loose: set[End] = field(default_factory=set)
    _closed: list[tuple[float, list[End], list[End]]] = field(default_factory=list)

    @property
    def closed_any(self) -> bool:
        return bool(self._closed)

    def gaps(self) -> Iterator[Gap]:
        """The gaps between edges that are still there."""
        kept = set(self.web.kept)
        for width, *sides in self._closed:
            one, other = (next((end for end in side if end >> 1 in kept), None) for side in sides)
            if one is not None and other is not None:
                edge = self.web.edges[one >> 1]
                yield Gap(edge.end if one & 1 else edge.start, width)


def meet(state: Met, gap: float) -> None:
    """Bring edges together across gaps up to `gap` mm, and drop those that are doubles then."""
    _drop_doubles(state, gap)
    while _meet(state, gap) or _settle(state, gap):
        _drop_doubles(state, gap)


def without_slivers(state: Met, faces: Sequence[tuple[Strand, Outline]], gap: float) -> bool:
    """Drop the doubles around faces that are no wider than a line; whether there were any."""
    slender = [
        face
        for (face, path), is_wide in zip(faces, _wide(faces, gap), strict=True)
        if not is_wide and not has_sound_inside(path, gap)
    ]
    if not slender:
        return False
    of = strand_of(state.web)
    gone: set[int] = set()
    for face in slender:
        if any(state.web.kept[half >> 1] in gone for half in face):
            continue
        runs = runs_around(state.web, face, of)
        longest = max(runs, key=lambda run: (round(length_of(state.web, run), 3), min(run)))
        rest = [run for run in runs if run is not longest]
        if rest and lies_along(state.web, longest, rest, tolerance(gap, length_of(state.web, longest))):
            gone |= {state.web.kept[half >> 1] for half in longest}
    _drop(state, gone)
    return bool(gone)


def _wide(faces: Sequence[tuple[Strand, Outline]], gap: float) -> Bools:
    """Which faces are polygons that enclose more than a line drawn twice does; all at once, since most are."""
    if not faces:
        return np.empty(0, dtype=np.bool_)
    counts = np.array([len(path) for _, path in faces])
    first = np.cumsum(counts) - counts
    points = np.concatenate([path.nodes[:, 0] for _, path in faces])
    straight = np.logical_and.reduceat(np.concatenate([path.straight for _, path in faces]), first)
    after = np.append(points[1:], 0)
    after[first + counts - 1] = points[first]
    areas = np.abs(np.add.reduceat((points.conj() * after).imag, first)) / 2
    long = np.add.reduceat(np.abs(after - points), first) / 2
    return np.asarray(straight & (areas > np.minimum(gap, DOUBLE_SHARE * long) * long))


def has_sound_inside(path: Outline, gap: float) -> bool:
    """Whether an outline encloses more than a line drawn twice does."""
    long = float(np.abs(np.diff(np.append(path.nodes.ravel(), path.end))).sum()) / 2
    least = tolerance(gap, long) * long
    return abs(area(path)) > least or shapely.make_valid(_polygon(path)).area > least


def tolerance(gap: float, long: float) -> float:
    """How near lines of that length keep to each other if they are one, drawn twice; in mm."""
    return min(gap, DOUBLE_SHARE * long)


def _polygon(path: Outline) -> shapely.Polygon:
    points = flattened(path)
    return shapely.Polygon(xy(points)) if len(points) > 2 else shapely.Polygon()


def _meet(state: Met, gap: float) -> bool:
    """Bring free ends to what lies nearest, nearest pairs first; whether there was anything."""
    web = state.web
    free = np.flatnonzero(web.degree == 1)
    if not len(free):
        return False
    ends = _ends(web)
    state._loose |= {ends[node][0] for node in free.tolist()}
    places = _places(web)
    near = _pairs(places, free, gap, _roomy(places, gap))
    by_line = _local(web, places, gap)
    group: dict[int, int] = {}
    taken: set[int] = set()
    for one, other in near:
        late = web.degree[other] > 1 and any(end in state._loose for end in ends[other])
        if one in taken or other in taken or (late and ends[one][0] in state.apart) or by_line(one, other):
            continue
        taken.add(one)
        if web.degree[other] == 1:
            taken.add(other)
            group[other] = other
        elif late:
            state.late.add(ends[one][0])
        group[one] = other
        state._closed.append((float(abs(places[one] - places[other])), ends[one], ends[other]))
    place = {
        other: _corner(web, ends[one][0], ends[other][0], gap) if web.degree[other] == 1 else complex(places[other])
        for one, other in group.items()
        if one != other
    }
    _unite(state, group, place)
    return bool(group)


def _settle(state: Met, gap: float) -> bool:
    """Bring places together that were loose, where their edges make no sound loop; whether there was anything."""
    web = state.web
    ends = _ends(web)
    mine = [i for i, some in enumerate(ends) if not state._loose.isdisjoint(some) and state.apart.isdisjoint(some)]
    loose = np.array(mine, dtype=np.intp)
    if not len(loose):
        return False
    places = _places(web)
    is_loose = np.zeros(len(places), dtype=np.bool_)
    is_loose[loose] = True
    near = [(a, b) for a, b in _pairs(places, loose, gap, _roomy(places, gap) & is_loose) if a < b]
    if not near:
        return False
    candidates = {node for pair in near for node in pair}
    settled: set[int] = set()
    loops = [loop for loop in web.strands()[0] if not candidates.isdisjoint(web.nodes(loop))]
    for loop, run in zip(loops, web.loops(loops, [], plain=True), strict=True):
        if _polygon(run.path).is_valid and has_sound_inside(run.path, gap):
            settled.update(web.nodes(loop))
    by_line = _local(web, places, gap)
    parent = list(range(len(places)))
    members: dict[int, list[int]] = defaultdict(list)
    for one, other in near:
        a, b = root(parent, one), root(parent, other)
        if a == b or (one in settled and other in settled) or by_line(one, other):
            continue
        some = [*(members[a] or [a]), *(members[b] or [b])]
        if np.ptp(places[some].real) > gap or np.ptp(places[some].imag) > gap:
            continue
        unite(parent, a, b)
        members[min(a, b)] = some
        state._closed.append((float(abs(places[one] - places[other])), ends[one], ends[other]))
    group = {node: root(parent, node) for some in members.values() for node in some}
    state.late |= {end for node in group for end in ends[node]}
    _unite(state, group, {head: complex(places[members[head]].mean()) for head in set(group.values())})
    return bool(group)


def _pairs(places: Points, nodes: Ints, gap: float, allowed: Bools) -> list[tuple[int, int]]:
    """Pairs of one of the nodes and another node within the gap, the nearest first."""
    nodes = nodes[allowed[nodes]]
    points = shapely.points(places.real, places.imag)
    mine, theirs = shapely.STRtree(np.where(allowed, points, None)).query(
        points[nodes], predicate="dwithin", distance=gap
    )
    a, b = nodes[mine], theirs
    useful = a != b
    a, b = a[useful], b[useful]
    order = np.lexsort((b, a, np.abs(places[a] - places[b])))
    return list(zip(a[order].tolist(), b[order].tolist(), strict=True))


def _local(web: Web, places: Points, gap: float) -> Callable[[int, int], bool]:
    """Tells whether two nodes have a short way to each other along the edges."""
    limit = LOCAL_GAPS * gap
    sides = web.origin.reshape(-1, 2)
    short = np.flatnonzero(np.abs(places[sides[:, 0]] - places[sides[:, 1]]) <= limit)
    around: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for at in short.tolist():
        edge = web.edges[web.kept[at]]
        long = float(np.abs(np.diff(points_of(edge))).sum())
        if long <= limit:
            a, b = sides[at].tolist()
            around[a].append((b, long))
            around[b].append((a, long))

    def has_way(one: int, other: int) -> bool:
        if one not in around or other not in around:
            return False
        reached: dict[int, float] = {}
        heap = [(0.0, one)]
        while heap:
            far, node = heapq.heappop(heap)
            if node == other:
                return True
            if node in reached:
                continue
            reached[node] = far
            for after, long in around[node]:
                if far + long <= limit and after not in reached:
                    heapq.heappush(heap, (far + long, after))
        return False

    return has_way


def _unite(state: Met, group: dict[int, int], place: dict[int, complex]) -> None:
    """Nodes with the same number in `group` become one, at the place for that number."""
    if not group:
        return
    web = state.web
    number = np.arange(len(web.degree))
    number[list(group)] = list(group.values())
    node = number[web.origin]
    edges = list(web.edges)
    touched = np.flatnonzero(np.isin(node, list(place)))
    for at in np.unique(touched >> 1).tolist():
        edge = edges[web.kept[at]]
        start = place.get(int(node[2 * at]), edge.start)
        end = place.get(int(node[2 * at + 1]), edge.end)
        if start != edge.start or end != edge.end:
            edges[web.kept[at]] = _bent(edge, start, end)
    state.web = Web(edges, web.kept, renumbered(node))


def _bent(edge: Edge, start: complex, end: complex) -> Edge:
    """The edge with its ends elsewhere; what lies near an end goes with it, ever less."""
    if len(edge.segments) == 1 and len(edge.segments[0]) == 1:
        return Edge(start, ((end,),))
    points = points_of(edge)
    along = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(points)))])
    moved = points.copy()
    for shift, way, beside in (
        (start - edge.start, along, len(edge.segments[0])),
        (end - edge.end, along[-1] - along, -1 - len(edge.segments[-1])),
    ):
        reach = min(float(along[-1]), max(TAPER * abs(shift), float(way[beside])))
        if shift and reach:
            moved += shift * np.clip(1 - way / reach, 0, 1)
    moved[0], moved[-1] = start, end
    left = iter(moved[1:].tolist())
    segments: list[Curve] = [
        (next(left),) if len(segment) == 1 else (next(left), next(left), next(left)) for segment in edge.segments
    ]
    return Edge(start, tuple(segments))


def _corner(web: Web, one: End, other: End, gap: float) -> complex:
    """Where two free ends meet: in the corner of their lines if these are straight, else halfway."""
    (p, u), (q, v) = _last(web, one), _last(web, other)
    turn = (u.conjugate() * v).imag
    if abs(turn) > CORNER * abs(u) * abs(v) > 0:
        at = p + u * ((q - p).conjugate() * v).imag / turn
        if max(abs(at - p), abs(at - q)) <= gap:
            return at
    return (p + q) / 2


def _last(web: Web, end: End) -> tuple[complex, complex]:
    """A place where an edge ends, and the way of its last segment there; none if that is curved."""
    edge = web.edges[end >> 1]
    if end & 1:
        before = edge.segments[-2][-1] if len(edge.segments) > 1 else edge.start
        return edge.end, edge.end - before if len(edge.segments[-1]) == 1 else 0j
    return edge.start, edge.start - edge.segments[0][0] if len(edge.segments[0]) == 1 else 0j


def _drop_doubles(state: Met, gap: float) -> None:
    """Of strands that run along each other between the same nodes the first one stays."""
    while True:
        web = state.web
        by_ends: dict[tuple[int, int], list[Strand]] = defaultdict(list)
        for strand in web.strands()[1]:
            a, b = web.ends(strand)
            by_ends[min(a, b), max(a, b)].append(strand)
        gone: set[int] = set()
        for rivals in by_ends.values():
            kept: list[Strand] = []
            for strand in sorted(rivals, key=lambda strand: min(strand) >> 1) if len(rivals) > 1 else []:
                within = tolerance(gap, length_of(web, strand)) if kept else 0.0
                if any(are_one(web, strand, other, within) for other in kept[:CROWD]):
                    gone |= {web.kept[half >> 1] for half in strand}
                else:
                    kept.append(strand)
        if not gone:
            return
        _drop(state, gone)


def _drop(state: Met, gone: Set[int]) -> None:
    web = state.web
    stay = [at for at, edge in enumerate(web.kept) if edge not in gone]
    state.repeated += sorted(gone)
    state.web = Web(web.edges, [web.kept[at] for at in stay], renumbered(web.origin.reshape(-1, 2)[stay].reshape(-1)))


def _ends(web: Web) -> list[list[End]]:
    """The ends that meet at each node."""
    found: list[list[End]] = [[] for _ in range(len(web.degree))]
    for half, node in enumerate(web.origins):
        found[node].append(2 * web.kept[half >> 1] + (half & 1))
    return found


def _places(web: Web) -> Points:
    _, first = np.unique(web.origin, return_index=True)  # one half-edge for each node
    return np.array([web.point(h) for h in first.tolist()], dtype=np.complex128)


def _roomy(places: Points, gap: float) -> Bools:
    """Which places have few others near them: a crowd within a gap's width is a scribble, and no end in it a gap's."""
    low = complex(places.real.min(), places.imag.min())
    cell_size = max(gap, float(max(np.ptp(places.real), np.ptp(places.imag))) / 2**30)
    column = np.floor((places.real - low.real) / cell_size).astype(np.int64)
    row = np.floor((places.imag - low.imag) / cell_size).astype(np.int64)
    _, cell, count = np.unique(column * np.int64(2**31) + row, return_inverse=True, return_counts=True)
    return np.asarray(count[cell] <= CROWD)
