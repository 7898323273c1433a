"""What lines enclose: regions from rings under a fill rule, whether or not the rings cross.

Terminology
    figure      the rings that are filled together under one rule: the subpaths of one drawn shape
    simple      said of a figure of which no ring crosses or touches itself or another: containment settles it
    tangled     crossing or nested in itself so often that it is a scribble and no shape

Simple figures keep their rings as they are; others are cut at their crossings and put together anew from the same
curves (`booleans.resolved`). Small figures are enlarged for that by a power of two, which is exact, so that nothing
depends on the unit in which a drawing was made.

Sources: fill rules, SVG 2, 13.4.2 (fill-rule); crossings of cubics, Bezout's theorem.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import accumulate
from typing import Final, Literal, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.areas.booleans import Windings, intersection, nested, resolved
from clothpath.curves import Affine, Bools, Box, Outline, Points, backwards, transformed
from clothpath.fitting.tracks import TRACK_MM, Track, lines_of, track_of
from clothpath.regions import Region, as_polygon, moved

__all__ = ["Figure", "FillRule", "Tangled", "regions_of", "regions_of_each", "within"]

FillRule = Literal["nonzero", "evenodd"]
Figure: TypeAlias = "tuple[Sequence[Outline], FillRule]"
Objects: TypeAlias = NDArray[np.object_]

WORKING_SIZE_MM: Final = 32.0
"""Figures smaller than this are enlarged, in mm: an operation's tolerances are then finer than 1/10000 of them."""
SMALLEST_MM: Final = 1e-9
"""A figure smaller than this has no inside, in mm."""
MOST_CROSSINGS: Final = 5_000
"""Pairs of edges that may meet in one figure; beyond, it is a scribble."""
MOST_EDGES: Final = 300_000
"""Edges of the polylines that stand for the figures looked at together."""
MOST_PAIRS: Final = 500_000
"""Pairs of rings inside one another that one figure may have."""
BOX_SLACK: Final = 1e-7
"""Part of its size by which a box may be passed and still hold a thing: what rounding leaves."""
FEW: Final = 16
"""Rings of one figure up to which every pair is looked at."""
FEW_EDGES: Final = 128
"""Edges of a figure up to which nobody needs to count its crossings."""
FEW_SEGMENTS: Final = 33
"""Segments that cannot cross MOST_CROSSINGS times: two cubics meet at nine places at most (Bezout), one itself once."""
SAMPLE: Final = 32
"""Edges from which the number of crossings is estimated."""
EDGES_AT_ONCE: Final = 20_000
"""Pairs of edges that are looked at together for that: few, so that they stay near the processor."""


class Tangled(ValueError):  # noqa: N818 - it says what the figure is
    """A figure crosses itself more often than any shape does."""


def regions_of(rings: Sequence[Outline], rule: FillRule) -> tuple[Region, ...]:
    """The regions that rings bound under a fill rule.

    Raises:
        Tangled: they cross more than MOST_CROSSINGS times.
    """
    found = regions_of_each([(rings, rule)])[0]
    if isinstance(found, Tangled):
        raise found
    return found


def regions_of_each(figures: Sequence[Figure]) -> list[tuple[Region, ...] | Tangled]:
    """The regions of many figures at once; much faster than one by one. Where one is tangled, the error stands."""
    every = [ring for rings, _ in figures for ring in rings]
    if not every:
        return [() for _ in figures]
    nodes = np.concatenate([ring.nodes for ring in every])
    straight = np.concatenate([ring.straight for ring in every])
    low, high = _corners(nodes, [len(ring) for ring in every])
    tolerance = TRACK_MM / _enlargement(high.max(axis=1) - low.min(axis=1))
    track = track_of(every, tolerance * max(1.0, _edges(nodes, straight, tolerance) / MOST_EDGES) ** 2)
    edges = track.first[1:] - track.first[:-1]
    usable = (edges >= 3) & ((high - low).max(axis=0) >= SMALLEST_MM)
    ring_of_edge = np.arange(len(every)).repeat(edges)
    lines = lines_of(track, usable)
    simple = shapely.is_simple(lines).tolist()
    sides = track.start.real * track.end.imag - track.start.imag * track.end.real
    twice = np.bincount(ring_of_edge, sides, len(every)).tolist()
    rows = _rows(figures, usable.tolist())
    plain = [all(map(simple.__getitem__, here)) for here in rows]
    few = [here for here, each in zip(rows, plain, strict=True) if each and 1 < len(here) <= FEW]
    many = [here for here, each in zip(rows, plain, strict=True) if each and len(here) > FEW]
    near = _near_pairs(few, lines)
    meeting: set[int] = set()
    if len(near):
        meeting.update(near[shapely.intersects(lines[near[:, 0]], lines[near[:, 1]])].ravel().tolist())
    crowded: set[int] = set()
    for here in many:
        pairs = _boxed_pairs(here, every, lines)
        if pairs is None:
            crowded.update(here)
        elif shapely.is_simple(shapely.multilinestrings(lines[here])):
            near = np.concatenate((near, pairs))
        else:
            meeting.update(here)
    around = _surroundings(near, every, lines)
    found: list[tuple[Region, ...] | Tangled] = []
    for here, each, (_, rule) in zip(rows, plain, figures, strict=True):
        if not len(here):
            found.append(())
        elif not crowded.isdisjoint(here):
            found.append(Tangled(f"{len(here)} rings inside one another"))
        elif each and len(here) == 1:
            (i,) = here
            found.append((Region(every[i] if twice[i] > 0 else backwards(every[i])),))
        elif each and meeting.isdisjoint(here):
            found.append(nested(here, every, twice, around, FILLED[rule]))
        else:
            found.append(_untangled([every[i] for i in here], rule))
    return found


def _rows(figures: Sequence[Figure], usable: Sequence[bool]) -> list[list[int]]:
    """The numbers of each figure's rings among all rings, those left out that are too small to have an inside."""
    found: list[list[int]] = []
    at = 0
    for rings, _ in figures:
        found.append([i for i in range(at, at + len(rings)) if usable[i]])
        at += len(rings)
    return found


def _near_pairs(figures: Sequence[Sequence[int]], lines: Objects) -> NDArray[np.intp]:
    """Pairs of rings of one figure whose boxes meet, each both ways: (n, 2)."""
    pairs: list[tuple[int, int]] = []
    for here in figures:
        boxes = shapely.bounds(lines[list(here)]).tolist()
        for k, (left, bottom, right, top) in enumerate(boxes):
            for m in range(k):
                other = boxes[m]
                if left <= other[2] and other[0] <= right and bottom <= other[3] and other[1] <= top:
                    pairs += [(here[m], here[k]), (here[k], here[m])]
    return np.array(pairs, np.intp).reshape(-1, 2)


def _boxed_pairs(here: Sequence[int], rings: Sequence[Outline], lines: Objects) -> NDArray[np.intp] | None:
    """Pairs of a ring that starts in the box of another one, and that one: (n, 2); None if there are too many."""
    boxes = shapely.box(*shapely.bounds(lines[list(here)]).T)
    starts = shapely.points([(rings[i].start.real, rings[i].start.imag) for i in here])
    tree = shapely.STRtree(boxes)
    if len(here) * tree.query(starts[:: len(here) // SAMPLE + 1]).shape[1] > MOST_PAIRS * min(SAMPLE, len(here)):
        return None
    small, large = tree.query(starts)
    own = np.asarray(here, np.intp)
    pairs: NDArray[np.intp] = np.stack((own[small], own[large]), axis=1)[small != large]
    return pairs


def _surroundings(near: NDArray[np.intp], rings: Sequence[Outline], lines: Objects) -> dict[int, list[int]]:
    """For each first ring of the pairs, the second ones that it lies in, provided that they do not meet."""
    around: dict[int, list[int]] = {}
    if len(near):
        small, large = near.T
        starts = np.array([rings[i].start for i in small])
        used, which = np.unique(large, return_inverse=True)
        polygons = shapely.polygons(lines[used])
        shapely.prepare(polygons)
        inside = shapely.contains_xy(polygons[which], starts.real, starts.imag)
        for i, j in zip(small[inside].tolist(), large[inside].tolist(), strict=True):
            around.setdefault(i, []).append(j)
    return around


def _nonzero(windings: Windings) -> Bools:
    filled: Bools = windings != 0
    return filled


def _evenodd(windings: Windings) -> Bools:
    filled: Bools = windings % 2 == 1
    return filled


FILLED: Final[Mapping[FillRule, Callable[[Windings], Bools]]] = {"nonzero": _nonzero, "evenodd": _evenodd}


def _untangled(rings: Sequence[Outline], rule: FillRule) -> tuple[Region, ...] | Tangled:
    """The regions of rings that meet themselves or each other."""
    nodes = np.concatenate([ring.nodes for ring in rings])
    straight = np.concatenate([ring.straight for ring in rings])
    factor = _enlargement(_spread(nodes))
    large = [transformed(ring, Affine.scale(factor)) for ring in rings] if factor > 1 else rings
    if _edges(nodes, straight, TRACK_MM / factor) > MOST_EDGES:
        return Tangled(f"{len(large)} rings of too many points")
    if len(nodes) > FEW_SEGMENTS and (most := _crossings(track_of(large))) > MOST_CROSSINGS:
        return Tangled(f"about {most} crossings")

    regions = resolved(large, FILLED[rule])
    return tuple(moved(each, Affine.scale(1 / factor)) for each in regions) if factor > 1 else regions


def _enlargement(sides: NDArray[np.float64]) -> float:
    """The power of two, at least 1, that makes the longer of two sides WORKING_SIZE_MM or more."""
    size = float(sides.max())
    if size < SMALLEST_MM:
        return 1.0
    return 2.0 ** max(0, math.ceil(math.log2(WORKING_SIZE_MM / size)))


def _edges(nodes: Points, straight: Bools, tolerance: float) -> float:
    """At most about how many edges the polylines have that stand for segments within a tolerance."""
    reach = np.abs(nodes[:, 1] - nodes[:, 0]) + np.abs(nodes[:, 2] - nodes[:, 1])
    return float(np.sqrt(reach[~straight] / tolerance).sum()) + len(nodes)


def _corners(nodes: Points, counts: Sequence[int]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The lowest and the highest x and y, (2, k), of the control points of k rings with so many segments each."""
    firsts = np.array([0, *accumulate(counts[:-1])]) * 3
    parts = np.ascontiguousarray(nodes).view(np.float64).reshape(-1, 2).T.copy()
    return np.minimum.reduceat(parts, firsts, axis=1), np.maximum.reduceat(parts, firsts, axis=1)


def _spread(nodes: Points) -> NDArray[np.float64]:
    """How far control points spread along x and y."""
    low, high = _corners(nodes, [len(nodes)])
    return (high - low)[:, 0]


def _crossings(track: Track) -> int:
    """About how many pairs of edges of a track cross; from a sample of edges."""
    count = len(track.start)
    if count < FEW_EDGES:
        return 0
    a, b = track.start, track.end
    met = 0
    sample = np.arange(0, count, count // SAMPLE)
    at_once = max(1, EDGES_AT_ONCE // count)
    for first in range(0, len(sample), at_once):
        i = sample[first : first + at_once, None]
        own = (b[i] - a[i]).conj()
        row, edge = np.nonzero((own * (a - a[i])).imag * (own * (b - a[i])).imag < 0)
        one, other, c, d = a[i[row, 0]], b[i[row, 0]], a[edge], b[edge]
        met += int((((d - c).conj() * (one - c)).imag * ((d - c).conj() * (other - c)).imag < 0).sum())
    return met * count // len(sample) // 2


def within(of: Sequence[Region], bounds: Sequence[Region]) -> tuple[Region, ...]:
    """What of the regions lies within the bounds; a region that lies there as a whole stays as it is."""
    if not of or not bounds:
        return ()
    edge = bounds[0].outer
    if len(bounds) == 1 and not bounds[0].holes and _is_upright(edge):
        inside = [_holds(edge.box, each.box) for each in of]
    else:
        shape = shapely.union_all([as_polygon(each) for each in bounds])
        shapely.prepare(shape)
        inside = [bool(shapely.contains(shape, as_polygon(each))) for each in of]
    found: list[Region] = []
    for each, whole in zip(of, inside, strict=True):
        if whole:
            found.append(each)
            continue
        factor = _enlargement(_spread(each.outer.nodes))
        large, small = Affine.scale(factor), Affine.scale(1 / factor)
        cut = intersection([moved(each, large)], [moved(bound, large) for bound in bounds])
        found += [moved(part, small) for part in cut]
    return tuple(found)


def _is_upright(ring: Outline) -> bool:
    """Whether a ring is a rectangle with level and plumb sides."""
    if len(ring) != 4 or not ring.straight.all():
        return False
    sides = np.diff(np.append(ring.nodes[:, 0], ring.end))
    return bool(((sides.real == 0) | (sides.imag == 0)).all())


def _holds(large: Box, small: Box) -> bool:
    slack = BOX_SLACK * max(large.width, large.height)
    return (
        large.left - slack <= small.left
        and large.bottom - slack <= small.bottom
        and small.right <= large.right + slack
        and small.top <= large.top + slack
    )
