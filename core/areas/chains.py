"""Loose edges joined into loops.

Terminology (more of it in `webs`)
    loop        a closed path made of edges; chain: an open one
    junction    a place where loops meet, so that there was more than one way on
    gap         a place where ends that belong together do not quite meet
    bare        an edge without length

What is joined, in this order: ends that coincide; then ends that nearly do, across gaps up to a tolerance (see
`meetings`). Lines drawn twice are taken once. At junctions the loops are the areas that the edges enclose: of two
shapes that share a side, both; never their union. Edges that cross without a common node stay open. Everything is
near-linear in the number of edges; results are in the order of the edges given.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass
from typing import Final

import numpy as np

from clothpath.areas.meetings import CROWD, Met, meet, tolerance, without_slivers
from clothpath.areas.twins import near_in_box, same_line
from clothpath.areas.webs import (
    SAME_MM,
    Edge,
    Gap,
    Ints,
    Run,
    Strand,
    Web,
    bridges,
    faces,
    renumbered,
    reversed_edge,
    root,
    unite,
)
from clothpath.curves import AnyPath, OpenPath, Outline, Path, Points, area, length

__all__ = ["GAP_MM", "SAME_MM", "Edge", "Gap", "Joined", "Run", "edges_of", "joined"]

GAP_MM: Final = 0.1
"""Default widest gap that is closed, in millimeters: less than any cutter shows."""


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
        ends: those of chains, as edge and whether that ends there (1) or starts (0).
    """

    loops: tuple[Run[Outline], ...]
    chains: tuple[Run[OpenPath], ...]
    gaps: tuple[Gap, ...]
    repeated: tuple[int, ...]
    bare: tuple[int, ...]
    junctions: tuple[complex, ...]
    tangled: tuple[int, ...] = ()
    ends: tuple[tuple[int, int], ...] = ()


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
    closed = _closed(Met(web), gap)
    if tails := closed.state.late & closed.tails:
        closed = _closed(Met(web, tails), gap)
    gaps = {*closed.gaps, *closed.state.gaps()}
    return Joined(
        loops=_ordered(closed.loops),
        chains=_ordered(closed.chains),
        gaps=tuple(sorted(gaps, key=lambda g: (g.at.real, g.at.imag, g.width))),
        repeated=tuple(sorted([*repeated, *closed.state.repeated, *closed.repeated])),
        bare=tuple(bare),
        junctions=closed.junctions,
        tangled=closed.tangled,
        ends=closed.ends,
    )


@dataclass(frozen=True, slots=True)
class _Closed:
    """What the edges of `state` close to, as in `Joined`; `tails` are all ends of edges on chains."""

    state: Met
    loops: Sequence[Run[Outline]]
    chains: Sequence[Run[OpenPath]]
    gaps: Sequence[Gap]
    repeated: Sequence[int]
    junctions: tuple[complex, ...]
    tangled: tuple[int, ...]
    ends: tuple[tuple[int, int], ...]
    tails: Set[int]


def _closed(state: Met, gap: float) -> _Closed:
    """Loops and chains of edges that meet, once no more doubles are among them."""
    while True:
        if gap > SAME_MM:
            meet(state, gap)
        web, kept = state.web, state.web.kept
        single, strands = web.strands()
        open_ones = set(bridges(web, strands))
        between = [strand for i, strand in enumerate(strands) if i not in open_ones]
        crowded = web.crowded(between)
        shared: list[Strand] = []
        alone: dict[int, Strand] = {}  # by its lowest edge; it is traced in both directions
        for face in faces(web, between):
            if crowded.keys().isdisjoint(web.nodes(face)):
                alone.setdefault(min(face) >> 1, face)
            else:
                shared.append(face)
        single += alone.values()
        gaps: list[Gap] = []
        loops = web.loops(single, gaps, plain=True)
        enclosed = web.loops(shared, gaps, plain=False)
        around = zip([*single, *shared], (run.path for run in (*loops, *enclosed)), strict=True)
        has_doubles = gap > SAME_MM and (shared or state.closed_any)
        if not has_doubles or not without_slivers(state, list(around), gap):
            break
    enclosed = [run for run in enclosed if area(run.path) > 0]
    is_flat = [_is_flat(run) for run in loops]
    flat = [ring for ring, without_inside in zip(single, is_flat, strict=True) if without_inside]
    rings = _ordered([*(run for run, flat_one in zip(loops, is_flat, strict=True) if not flat_one), *enclosed])
    twins = _twins(rings, gap) if state.closed_any else set()
    used = {i for run in (*loops, *enclosed) for i in run.edges}
    loose = [strand for strand in strands if kept[strand[0] >> 1] not in used]
    loose += [ring[: max(1, len(ring) - 1)] for ring in flat]
    return _Closed(
        state,
        [run for i, run in enumerate(rings) if i not in twins],
        [web.chain(strand, gaps) for strand in loose],
        gaps,
        [
            *(kept[ring[-1] >> 1] for ring in flat if len(ring) > 1),  # the way back repeats the way there
            *sorted({edge for i in twins for edge in rings[i].edges}),
        ],
        tuple(crowded.values()),
        tuple(sorted({kept[half >> 1] for strand in between for half in strand} - used)),
        tuple((kept[half >> 1], half & 1) for strand in loose for half in (strand[0], strand[-1] ^ 1)),
        {2 * kept[half >> 1] + way for strand in loose for half in strand for way in (0, 1)},
    )


def _twins(rings: Sequence[Run[Outline]], gap: float) -> set[int]:
    """Those without a junction that run along an earlier one all the way round."""
    plain = [i for i, ring in enumerate(rings) if ring.plain]
    found: set[int] = set()
    for later, near in zip(plain, near_in_box(plain, lambda i: rings[i].path, gap), strict=True):
        path = rings[later].path
        within = tolerance(gap, length(path) / 2) if near else 0.0
        if any(plain[j] not in found and same_line(path, rings[plain[j]].path, within) for j in near):
            found.add(later)
    return found


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
    return renumbered(roots)


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
