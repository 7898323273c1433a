"""Strands that run along each other: the measures by which lines drawn twice are told.

Terminology (more of it in `webs`)
    run         the part of one strand in a walk around a face
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from clothpath.areas.webs import SAME_MM, Edge, Strand, Web
from clothpath.curves import Points
from clothpath.regions import as_line

__all__ = ["are_one", "length_of", "lies_along", "points_of", "runs_around", "strand_of"]


def are_one(web: Web, one: Strand, other: Strand, within: float) -> bool:
    """Whether two strands are nowhere farther apart than `within` mm (Hausdorff distance)."""
    if _reaches_beyond(web, one, other, within) or _reaches_beyond(web, other, one, within):
        return False
    return bool(shapely.hausdorff_distance(_line(web, one), _line(web, other)) <= within)


def _reaches_beyond(web: Web, one: Strand, other: Strand, within: float) -> bool:
    """Whether an edge of the first ends outside the box of the second: a quick look before a long one."""
    edges = [web.edges[web.kept[half >> 1]] for half in other]
    points = [point for edge in edges for point in (edge.start, *(p for segment in edge.segments for p in segment))]
    left, right = min(p.real for p in points) - within, max(p.real for p in points) + within
    low, high = min(p.imag for p in points) - within, max(p.imag for p in points) + within
    return any(not (left <= p.real <= right and low <= p.imag <= high) for p in (web.point(half) for half in one))


def lies_along(web: Web, one: Strand, others: Sequence[Strand], within: float) -> bool:
    """Whether a strand is everywhere within `within` mm of the others together."""
    line = _line(web, one)
    rest = shapely.MultiLineString([_line(web, other) for other in others])
    fine = shapely.points(shapely.get_coordinates(shapely.segmentize(line, max(shapely.length(line) / 32, SAME_MM))))
    return bool((shapely.distance(fine, rest) <= within).all())


def _line(web: Web, strand: Strand) -> shapely.LineString:
    return as_line(web.chain(strand, []).path)


def length_of(web: Web, strand: Strand) -> float:
    """Of the control polygons of its edges, in mm."""
    return sum(float(np.abs(np.diff(points_of(web.edges[web.kept[half >> 1]]))).sum()) for half in strand)


def strand_of(web: Web) -> dict[int, int]:
    """For each place among the kept edges the number of its strand."""
    loops, strands = web.strands()
    return {half >> 1: i for i, strand in enumerate([*strands, *loops]) for half in strand}


def runs_around(web: Web, face: Strand, of: dict[int, int]) -> list[Strand]:
    """The strands around a face. A loop by itself is halved where its sides draw apart and come together again."""
    if len({of[half >> 1] for half in face}) == 1:
        return _halves(web, face)
    runs: list[Strand] = []
    for half in face:
        if runs and of[runs[-1][-1] >> 1] == of[half >> 1]:
            runs[-1].append(half)
        else:
            runs.append([half])
    if len(runs) > 1 and of[runs[-1][-1] >> 1] == of[runs[0][0] >> 1]:
        runs[0] = runs.pop() + runs[0]
    return runs


def _halves(web: Web, loop: Strand) -> list[Strand]:
    """A loop in two, at the two nodes where it turns most."""
    if len(loop) < 2:
        return [loop]
    turns = [abs(_turn(web, before, half)) for before, half in zip([loop[-1], *loop[:-1]], loop, strict=True)]
    first, second = sorted(np.argsort(-np.array(turns), kind="stable")[:2].tolist())
    return [loop[first:second], loop[second:] + loop[:first]]


def _turn(web: Web, before: int, after: int) -> float:
    """By how much the way turns from one half-edge to the next."""
    into, onward = _way_from(web, before ^ 1), _way_from(web, after)
    return float(np.angle(-into.conjugate() * onward)) if into and onward else 0.0


def _way_from(web: Web, half: int) -> complex:
    points = points_of(web.edges[web.kept[half >> 1]])
    points = points[::-1] if half & 1 else points
    away = points[np.abs(points - points[0]) > SAME_MM]
    return complex(away[0] - points[0]) if len(away) else 0j


def points_of(edge: Edge) -> Points:
    """The start and all control points of an edge."""
    return np.array([edge.start, *(p for segment in edge.segments for p in segment)], dtype=np.complex128)
