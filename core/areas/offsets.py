"""Even offsets of regions: a margin all round, or an inset, with the corners a sewer wants.

Terminology
    offset      outward by a positive distance, inward by a negative one; holes go the other way
    flank       the curve at the distance from one segment
    join        what fills the corner between two flanks that part: round, mitre (up to a limit, else bevel), bevel
    spike       where two flanks overlap, the way between them by the node itself
    smooth node one at which the direction turns by next to nothing: both its flanks are led to one point, square to the
                mean of the two directions, so that it takes neither join nor spike
    fold        a part of a segment that bends toward the offset more tightly than the distance; its flank stops at the
                center of curvature
    raw ring    flanks, joins and spikes in order, crossing itself where parts of the offset overlap

Between an outline and its raw ring lie bands, each swept once in one sense because no flank goes beyond its center of
curvature. So the raw rings wind around a point once for the region, and once more (outward) or once less (inward) for
each band and join that covers it: the offset is exactly where they wind at least once. The bands leave nothing out,
because the way from a point to the nearest one of the outline never passes that one's center of curvature.

Sources: offset curves and their curvature, G. Farin, Curves and Surfaces for CAGD (5th ed., 2002), ch. 22; mitre limit
as in SVG 2, 13.5.4, the mitre's length by the width: 1/sin(half the corner's angle).
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from clothpath.areas.booleans import resolved
from clothpath.curves import Bools, Curve, Floats, Outline, Points, cubics, outline
from clothpath.fitting.fits import SAMPLES, SMOOTH_RAD, derivatives, directions_at_ends, fitted
from clothpath.fitting.refit import economized
from clothpath.regions import Region, region

__all__ = ["MITRE_LIMIT", "Corners", "Join", "flanks", "joint", "offset", "offsets", "raw_rings", "smoothed"]

Indices = NDArray[np.intp]
Join = Literal["round", "mitre", "bevel"]

MITRE_LIMIT: Final = 4.0
"""Default limit of a mitre's length by its width; a corner sharper than 29 degrees is then beveled (SVG's default)."""
PLAIN_MM: Final = 0.014
"""Largest distance between a flank or a round join and its cubics, in mm, where those are few enough."""
FINE_MM: Final = 0.0015
"""The same where they are then replaced by fewer."""
ECONOMY_MM: Final = 0.0185
"""The largest distance between those and their replacement, in mm: what flank, track and seam leave of the budget."""
MORE: Final = 1.2
"""An offset that has this many times the segments of its source and its joins is worth the effort to find fewer."""
NOTHING_MM: Final = 1e-9
"""A segment whose control polygon is no longer than this is none, in mm."""
SEAM_MM: Final = 0.002
"""Ends of flanks nearer than this are one point, in mm."""
SLIP_MM: Final = 0.0005
"""At a smooth node two flanks end in one point if that leaves their distance right within this, in mm."""
SHORT: Final = 0.02
"""Where a flank is so much shorter than its segment it belongs to the fold: its direction is little more than noise."""
ROOM: Final = 0.1
"""The largest share of a segment by which a flank may slip along it."""
GRID: Final = np.linspace(0, 1, 33)
"""Parameters at which a segment is searched for folds."""
BISECTIONS: Final = 16
"""Halvings of a step between them to find where a fold ends: to a millionth of a segment."""
HALVINGS: Final = 5
"""How often a span that does not fit is halved at most."""


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
    for i, raws in zip(moved, _raws(of, by, moved, corners, PLAIN_MM), strict=True):
        found[i] = resolved(raws, lambda winding: winding > 0)
    hard = [i for i in moved if _segments(found[i]) > MORE * _allowed(of[i], by[i])]
    fine = [resolved(raws, lambda winding: winding > 0) for raws in _raws(of, by, hard, corners, FINE_MM)]
    rings = iter(economized([ring for regions in fine for each in regions for ring in each], ECONOMY_MM))
    for i, regions in zip(hard, fine, strict=True):
        fewer = tuple(region(next(rings), [next(rings) for _ in each.holes]) for each in regions)
        found[i] = min(found[i], fewer, key=_segments)
    return found


def _raws(
    of: Sequence[Sequence[Region]], by: Sequence[float], which: Sequence[int], corners: Corners, within: float
) -> list[list[Outline]]:
    """The raw rings of some of the groups, those by one distance made together."""
    found: dict[int, list[Outline]] = {}
    for distance in dict.fromkeys(by[i] for i in which):
        alike = [i for i in which if by[i] == distance]
        found |= dict(zip(alike, raw_rings([of[i] for i in alike], distance, corners, within), strict=True))
    return [found[i] for i in which]


def _allowed(of: Sequence[Region], by: float) -> int:
    return sum(len(ring) + _joins(ring, by) for each in of for ring in each)


def raw_rings(of: Sequence[Sequence[Region]], by: float, corners: Corners, within: float) -> list[list[Outline]]:
    """The raw rings of groups of regions, each curve within so many mm of its exact flank."""
    rings = [[ring for each in group for ring in each] for group in of]
    every = [ring for group in rings for ring in group]
    if not every:
        return [[] for _ in of]
    p = np.concatenate([cubics(ring) for ring in every])
    straight = np.concatenate([ring.straight for ring in every])
    keep = np.abs(np.diff(p, axis=1)).sum(axis=1) > NOTHING_MM
    p, straight = p[keep], straight[keep]
    kept = np.concatenate(([0], np.cumsum(keep)))
    limits = np.cumsum([0, *(len(ring) for ring in every)])
    along = flanks(p, straight, smoothed(p, _following(kept[limits]), by), by, within)
    ends = iter(limits.tolist())
    start = next(ends)
    found: list[list[Outline]] = []
    for group in rings:
        raws: list[Outline] = []
        for _ in group:
            end = next(ends)
            a, b = int(kept[start]), int(kept[end])
            if b > a:
                raws.append(_raw_ring(p[a:b], along[a:b], by, corners, within))
            start = end
        found.append(raws)
    return found


def _following(ends: Indices) -> Indices:
    """For each segment the next one of its ring; ring k has the segments from ends[k] to ends[k + 1]."""
    following = np.arange(1, ends[-1] + 1)
    filled = ends[1:] > ends[:-1]
    following[ends[1:][filled] - 1] = ends[:-1][filled]
    return following


def smoothed(p: Points, following: Indices, by: float) -> tuple[Points, Points]:
    """The directions at the ends of (m, 4) segments, at smooth nodes the mean of the two; -1 follows: no segment does.

    The node's point on the flank is then off along the flank, and across it by half the distance times the square of
    half the turn.
    """
    first, last = directions_at_ends(p)
    turn = np.angle(first[following] * last.conj())
    size = np.abs(np.diff(p, axis=1)).sum(axis=1)
    room = np.minimum(size, size[following])
    smooth = (following >= 0) & (np.abs(turn) < SMOOTH_RAD) & (abs(by) * turn**2 < 8 * SLIP_MM)
    smooth &= np.abs(by * turn) < ROOM * room
    mean = first[following] + last
    mean /= np.maximum(np.abs(mean), 1e-300)
    first[following[smooth]] = mean[smooth]
    last[smooth] = mean[smooth]
    return first, last


def _segments(of: Sequence[Region]) -> int:
    return sum(len(ring) for each in of for ring in each)


def _raw_ring(
    p: Points, along: Sequence[tuple[complex, list[Curve]]], by: float, corners: Corners, within: float
) -> Outline:
    segments: list[Curve] = []
    for i, (_, curves) in enumerate(along):
        following = (i + 1) % len(along)
        start = along[following][0]
        if abs(curves[-1][-1] - start) < SEAM_MM:
            segments += [*curves[:-1], _ended(curves[-1], start)]
        else:
            segments += [*curves, *joint(p[i], p[following], curves[-1][-1], start, by, corners, within)]
    return outline(along[0][0], segments)


def _joins(ring: Outline, by: float) -> int:
    """How many of the ring's corners part under the offset."""
    first, last = directions_at_ends(cubics(ring))
    return int((np.angle(first * np.roll(last, 1).conj()) * math.copysign(1, by) > SMOOTH_RAD).sum())


def _ended(curve: Curve, end: complex) -> Curve:
    """The curve with its end moved by a hair, and its handle with it."""
    return (end,) if len(curve) == 1 else (curve[0], curve[1] + (end - curve[2]), end)


def joint(
    before: Points, after: Points, end: complex, start: complex, by: float, corners: Corners, within: float
) -> list[Curve]:
    """From the end of one segment's flank to the start of the next one's, around the node between the segments."""
    _, (tail,) = directions_at_ends(before[None])
    (head,), _ = directions_at_ends(after[None])
    node, tail, head = complex(after[0]), complex(tail), complex(head)
    turn = cmath.phase(head * tail.conjugate())
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


def flanks(
    p: Points, straight: Bools, ways: tuple[Points, Points], by: float, within: float
) -> list[tuple[complex, list[Curve]]]:
    """The flanks of (m, 4) segments at `by` mm to their right, within so many mm: where each starts, and its curves.

    `ways` are the directions to which the two ends of each flank are square, from `smoothed`.
    """
    first, last = ways
    begin, finish = (p[:, 0] - 1j * by * first).tolist(), (p[:, 3] - 1j * by * last).tolist()
    rows = np.flatnonzero(~straight)
    free = _free(p[rows], np.broadcast_to(GRID, (len(rows), len(GRID))), by)
    whole = free.all(axis=1)
    spans = [(row, 0.0, 1.0) for row in rows[whole].tolist()]
    folds: dict[int, list[tuple[float, Points]]] = {}
    if not whole.all():
        more, folds = _unfolded(p, rows[~whole], free[~whole], by)
        spans += more
    parts = _fitted_spans(p, ways, spans, by, within)
    found: list[tuple[complex, list[Curve]]] = []
    for row, (a, b, line) in enumerate(zip(begin, finish, straight.tolist(), strict=True)):
        if line:
            found.append((a, [(b,)]))
        elif row not in folds:
            found.append((a, _chained(parts[row], b)))
        else:
            found.append(_with_folds(parts.get(row, []), folds[row]))
    return found


def _free(p: Points, t: Floats, by: float) -> Bools:
    """Whether the offset by `by` stops clearly short of the center of curvature: 1 + by * curvature > SHORT."""
    _, slope, bend = derivatives(p, t)
    size = np.abs(slope)
    free: Bools = (1 - SHORT) * size**3 + by * (slope.conj() * bend).imag > 0
    return free | (size < 1e-9)


def _unfolded(
    p: Points, rows: Indices, free: Bools, by: float
) -> tuple[list[tuple[int, float, float]], dict[int, list[tuple[float, Points]]]]:
    """The spans without folds of segments with folds; and of each its folds: first parameter, centers of curvature."""
    which, step = np.nonzero(free[:, 1:] != free[:, :-1])
    low, high, before = GRID[step], GRID[step + 1], free[which, step]
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        same = _free(p[rows[which]], middle[:, None], by)[:, 0] == before
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    edges = (low + high) / 2
    spans: list[tuple[int, float, float]] = []
    folds: dict[int, list[tuple[float, Points]]] = {row: [] for row in rows.tolist()}
    for k, row in enumerate(rows.tolist()):
        state = bool(free[k, 0])
        for a, b in itertools.pairwise([0.0, *edges[which == k].tolist(), 1.0]):
            if state:
                spans.append((row, a, b))
            else:
                folds[row].append((a, _centers(p[row], a, b, by)))
            state = not state
    return spans, folds


def _centers(p: Points, a: float, b: float, by: float) -> Points:
    """The centers of curvature of one segment from one parameter to another, none farther from it than `by`."""
    t = np.concatenate(([a], GRID[(a < GRID) & (b > GRID)], [b]))
    at, slope, bend = (row[0] for row in derivatives(p[None], t[None]))
    turning = (slope.conj() * bend).imag
    height = np.clip(-(np.abs(slope) ** 3) / turning * np.sign(by), 0, abs(by)) * np.sign(by)
    centers: Points = at - 1j * height * slope / np.abs(slope)
    return centers


def _with_folds(parts: list[tuple[float, Points]], folds: list[tuple[float, Points]]) -> tuple[complex, list[Curve]]:
    start: complex | None = None
    curves: list[Curve] = []
    chains = [(a, 1, points) for a, points in folds] + [(a, 0, control) for a, control in parts]
    for _, is_fold, points in sorted(chains, key=lambda chain: chain[:2]):
        listed = points.tolist()
        if start is None:
            start = listed[0]
        elif curves[-1][-1] != listed[0]:
            curves.append((listed[0],))
        curves += [(point,) for point in listed[1:]] if is_fold else [(listed[1], listed[2], listed[3])]
    assert start is not None
    return start, curves


def _chained(parts: list[tuple[float, Points]], end: complex) -> list[Curve]:
    curves: list[Curve] = [(c1, c2, c3) for _, control in parts for _, c1, c2, c3 in [control.tolist()]]
    last = curves[-1]
    curves[-1] = (last[0], last[1], end) if len(last) == 3 else last
    return curves


def _fitted_spans(
    p: Points, ends: tuple[Points, Points], spans: list[tuple[int, float, float]], by: float, within: float
) -> dict[int, list[tuple[float, Points]]]:
    """For each row, the cubics that stand for its spans' flanks, by the parameter at which they begin."""
    first, last = ends
    found: dict[int, list[tuple[float, Points]]] = {}
    for attempt in range(HALVINGS + 1):
        if not spans:
            break
        rows = np.array([row for row, _, _ in spans])
        low, high = np.array([a for _, a, _ in spans]), np.array([b for _, _, b in spans])
        even = np.linspace(0, 1, SAMPLES)
        t = low[:, None] + (high - low)[:, None] * even
        at, slope, _ = derivatives(p[rows], t)
        ways = slope / np.maximum(np.abs(slope), 1e-300)
        ways[:, 0] = np.where(low == 0, first[rows], ways[:, 0])
        ways[:, -1] = np.where(high == 1, last[rows], ways[:, -1])
        controls, miss = fitted(at - 1j * by * ways, ways[:, 0], ways[:, -1], within / 4, np.tile(even, (len(t), 1)))
        halves: list[tuple[int, float, float]] = []
        for (row, a, b), control, error in zip(spans, controls, miss.tolist(), strict=True):
            if error <= within or attempt == HALVINGS:
                found.setdefault(row, []).append((a, control))
            else:
                middle = (a + b) / 2
                halves += [(row, a, middle), (row, middle, b)]
        spans = halves
    return {row: sorted(parts, key=lambda part: part[0]) for row, parts in found.items()}
