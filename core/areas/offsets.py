"""Even offsets of regions: a margin all round, or an inset, with the corners a sewer wants.

Terminology
    offset      outward by a positive distance, inward by a negative one; holes go the other way
    flank       the curve at the distance from one segment; see `flanks` for it, for folds and for smooth nodes
    join        what fills the corner between two flanks that part: round, mitre (up to a limit, else bevel), bevel
    spike       where two flanks overlap, the way between them by the node itself
    raw ring    flanks, joins and spikes in order, crossing itself where parts of the offset overlap

Between an outline and its raw ring lie bands, each swept once in one sense because no flank goes beyond its center of
curvature. So the raw rings wind around a point once for the region, and once more (outward) or once less (inward) for
each band and join that covers it: the offset is exactly where they wind at least once. The bands leave nothing out,
because the way from a point to the nearest one of the outline never passes that one's center of curvature.

Source: mitre limit as in SVG 2, 13.5.4, the mitre's length by the width: 1/sin(half the corner's angle).
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

import numpy as np

from clothpath.areas.booleans import Windings, resolved_each
from clothpath.areas.flanks import Flank, Indices, Sides, fewer, flanks, sides
from clothpath.curves import Bools, Curve, Outline, cubics, outline
from clothpath.fitting.fits import SMOOTH_RAD
from clothpath.regions import Region

__all__ = ["MITRE_LIMIT", "Corners", "Join", "Joints", "joints", "offset", "offsets", "raw_rings"]

Join = Literal["round", "mitre", "bevel"]

MITRE_LIMIT: Final = 4.0
"""Default limit of a mitre's length by its width; a corner sharper than 29 degrees is then beveled (SVG's default)."""
FLANK_MM: Final = 0.014
"""Largest distance between a flank and its cubics, in mm, at samples."""
JOIN_MM: Final = 0.018
"""Largest distance between a round join and its cubics, in mm, which is known exactly."""
MORE: Final = 1.2
"""An offset that has this many times the segments of its source and its joins is worth the effort to find fewer."""
NOTHING_MM: Final = 1e-9
"""A segment whose control polygon is no longer than this is none, in mm."""
SEAM_MM: Final = 0.002
"""Ends of flanks nearer than this are one point, in mm."""


@dataclass(frozen=True, slots=True)
class Corners:
    """How corners that part under an offset are filled, and the limit of a mitre's length by its width."""

    join: Join = "round"
    limit: float = MITRE_LIMIT


def offset(of: Sequence[Region], by: float, corners: Corners = Corners()) -> tuple[Region, ...]:
    """The regions grown by `by` mm all round, or shrunk where it is negative; where grown ones meet, they are one.

    Nothing where an inset leaves nothing. Within 0.02 mm of the exact offset, and with no more segments than the source
    and one for each corner that parts, and a fifth more, if that can be.
    """
    (found,) = offsets([of], [by], corners)
    return found


def offsets(of: Sequence[Sequence[Region]], by: Sequence[float], corners: Corners) -> list[tuple[Region, ...]]:
    """Several offsets, each of its own regions by its own distance: together they take less time."""
    found = [tuple(each) for each in of]
    moved = [i for i, distance in enumerate(by) if distance]
    rings = _rings([of[i] for i in moved], [by[i] for i in moved])
    along = flanks(rings.sides, FLANK_MM)
    for i, regions in zip(moved, resolved_each(_raw_rings(rings, along, corners, JOIN_MM), _covered), strict=True):
        found[i] = regions
    hard = np.array([_segments(found[i]) > MORE * allowed for i, allowed in zip(moved, _allowed(rings), strict=True)])
    if hard.any():
        raws = _raw_rings(rings, fewer(rings.sides, along, hard[rings.group]), corners, JOIN_MM)
        again = np.flatnonzero(hard).tolist()
        for k, regions in zip(again, resolved_each([raws[k] for k in again], _covered), strict=True):
            found[moved[k]] = min(found[moved[k]], regions, key=_segments)
    return found


def _covered(winding: Windings) -> Bools:
    return winding > 0


@dataclass(frozen=True, slots=True, eq=False)
class _Rings:
    """The sides of the rings of groups of regions, one ring after the other.

    Attributes:
        sides: all of them.
        group: (m,) the group of each side.
        rings: for each group, the first side of each of its rings, and one more than its last.
    """

    sides: Sides
    group: Indices
    rings: list[list[tuple[int, int]]]


def _rings(of: Sequence[Sequence[Region]], by: Sequence[float]) -> _Rings:
    rings = [[ring for each in group for ring in each] for group in of]
    every = [ring for group in rings for ring in group]
    p = np.concatenate([cubics(ring) for ring in every]) if every else np.empty((0, 4), np.complex128)
    straight = np.concatenate([ring.straight for ring in every]) if every else np.empty(0, np.bool_)
    keep = np.abs(np.diff(p, axis=1)).sum(axis=1) > NOTHING_MM
    ends = np.concatenate(([0], np.cumsum(keep)))[np.cumsum([0, *map(len, every)])]
    following = np.arange(1, ends[-1] + 1)
    filled = ends[1:] > ends[:-1]
    following[ends[1:][filled] - 1] = ends[:-1][filled]
    owner = np.repeat(np.arange(len(rings)), [len(group) for group in rings])
    group = np.repeat(owner, np.diff(ends))
    limits = iter(itertools.pairwise(ends.tolist()))
    listed = [[(a, b) for a, b in itertools.islice(limits, len(group)) if b > a] for group in rings]
    return _Rings(sides(p[keep], straight[keep], np.asarray(by, np.float64)[group], following), group, listed)


def _allowed(rings: _Rings) -> list[int]:
    """For each group, the number of sides and of corners that part under the offset."""
    of = rings.sides
    counts = np.bincount(rings.group, 1.0 + (of.turn * np.sign(of.by) > SMOOTH_RAD), len(rings.rings))
    return [round(count) for count in counts.tolist()]


def raw_rings(
    of: Sequence[Sequence[Region]], by: Sequence[float], corners: Corners, within: float
) -> list[list[Outline]]:
    """The raw rings of groups of regions, each by its own distance, each curve within so many mm of its exact flank."""
    rings = _rings(of, by)
    return _raw_rings(rings, flanks(rings.sides, within), corners, within)


def _raw_rings(rings: _Rings, along: Sequence[Flank], corners: Corners, within: float) -> list[list[Outline]]:
    around = joints(rings.sides, corners, within)
    return [[_raw_ring(along[a:b], around, a) for a, b in group] for group in rings.rings]


def _raw_ring(along: Sequence[Flank], around: Joints, first: int) -> Outline:
    """The raw ring of flanks, of which the first is that of side number `first`."""
    filled = [i for i, flank in enumerate(along) if flank.curves]
    segments: list[Curve] = []
    for i, following in zip(filled, [*filled[1:], filled[0]], strict=True):
        curves, start = along[i].curves, along[following].start
        if abs(curves[-1][-1] - start) < SEAM_MM:
            segments += [*curves[:-1], _ended(curves[-1], start)]
        else:
            side = first + (following - 1) % len(along)
            segments += [*curves, *around(side, curves[-1][-1], start)]
    return outline(along[filled[0]].start, segments)


def _segments(of: Sequence[Region]) -> int:
    return sum(len(ring) for each in of for ring in each)


def _ended(curve: Curve, end: complex) -> Curve:
    """The curve with its end moved by a hair, and its handle with it."""
    return (end,) if len(curve) == 1 else (curve[0], curve[1] + (end - curve[2]), end)


Joints: TypeAlias = "Callable[[int, complex, complex], list[Curve]]"
"""Maps a side, the end of its flank and the start of the next side's flank to the way between them."""


def joints(of: Sides, corners: Corners, within: float) -> Joints:
    """How flanks are connected around the nodes at which their sides end."""
    nodes, tails, heads = of.p[:, 3].tolist(), of.tail.tolist(), of.head.tolist()
    distances, following, turns = of.by.tolist(), of.following.tolist(), of.turn.tolist()

    def joint(side: int, end: complex, start: complex) -> list[Curve]:
        node, tail, head, by, turn = nodes[side], tails[side], heads[following[side]], distances[side], turns[side]
        if abs(turn * by) < SEAM_MM:
            return [(start,)]
        if turn * by < 0 and abs(turn) < math.pi - 1e-6:
            return [(node,), (start,)]
        turn = math.copysign(turn, by)
        a, b = node - 1j * by * tail, node - 1j * by * head
        half = math.cos(turn / 2)
        if corners.join == "round":
            corner = _arc(node, a, b, turn, within)
        elif corners.join == "mitre" and half * corners.limit >= 1:
            corner = [(node + (a - node) * cmath.exp(0.5j * turn) / half,), (b,)]
        else:
            corner = [(b,)]
        return [*([(a,)] if a != end else []), *corner, *([(start,)] if b != start else [])]

    return joint


def _arc(center: complex, start: complex, end: complex, sweep: float, within: float) -> list[Curve]:
    """The arc as few cubics within so many mm.

    The error of one cubic over an angle a is 2/27 sin^6(a/4) / cos^2(a/4) of the radius (M. Goldapp, CAGD 8, 1991).
    """
    radius = abs(start - center)
    count = 1
    while radius * 2 / 27 * math.sin(sweep / count / 4) ** 6 / math.cos(sweep / count / 4) ** 2 > within:
        count += 1
    step = cmath.exp(1j * sweep / count)
    k = 4j / 3 * math.tan(sweep / count / 4)
    arcs: list[Curve] = []
    at = start - center
    for i in range(count):
        to = at * step if i < count - 1 else end - center
        arcs.append((center + at + k * at, center + to - k * to, center + to))
        at = to
    return arcs
