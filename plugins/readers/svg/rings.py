"""Closed subpaths as outlines on the page, all of a drawing in one go, because they are many and small.

Terminology
    points      three a segment: where it starts, and its control points
    turned      said of a shape's rings if they are run the other way, so that the largest one is counterclockwise
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from clothpath.curves import Affine, Outline, Points, outlines_in
from clothpath.plugins.readers.svg.clips import MOST_MM
from clothpath.plugins.readers.svg.pathdata import Subpath

__all__ = ["rings_of"]

Indices = NDArray[np.intp]


def rings_of(shapes: Sequence[tuple[Sequence[Subpath], Affine]], same: float) -> list[list[Outline] | None]:
    """The rings of each shape, the largest one counterclockwise; None for a shape that reaches beyond MOST_MM.

    Args:
        shapes: the closed subpaths of each, and the map to the page.
        same: mm; an end this near to its start is meant to be there, and is moved instead of joined to it by a line.
    """
    listed: list[complex] = []
    straight: list[bool] = []
    ends: list[int] = []
    maps: list[Affine] = []
    for subs, to_page in shapes:
        for sub in subs:
            listed += sub.nodes
            straight += sub.straight
            if sub.end != sub.start:
                _close(listed, straight, sub, same / abs(to_page.determinant) ** 0.5)
            ends.append(len(straight))
            maps.append(to_page)
    if not straight:
        return [[] for _ in shapes]
    firsts = np.array([0, *ends[:-1]])
    counts = np.array(ends) - firsts
    with np.errstate(over="ignore", invalid="ignore"):
        points = _on_page(np.array(listed, dtype=np.complex128), maps, counts)
        good = (np.maximum.reduceat(np.abs(points.view(np.float64)), 6 * firsts) < MOST_MM).tolist()
        if not all(good):
            points[~np.repeat(good, 3 * counts)] = 0
    after = np.append(points[1:], 0)
    after[3 * np.array(ends) - 1] = points[3 * firsts]
    twice = np.add.reduceat(points.real * after.imag - points.imag * after.real, 3 * firsts).tolist()
    turned: list[bool] = []
    for subs, _ in shapes:
        mine = twice[len(turned) : len(turned) + len(subs)]
        turned += [bool(mine) and max(mine, key=abs) < 0] * len(mine)
    flags = np.array(straight)
    if any(turned):
        points = points[_run(3 * firsts, 3 * counts, turned, 0)]
        flags = flags[_run(firsts, counts, turned, 1)]
    outlines = outlines_in(points.reshape(-1, 3), flags, ends)
    found: list[list[Outline] | None] = []
    ring = 0
    for subs, _ in shapes:
        last = ring + len(subs)
        found.append(outlines[ring:last] if all(good[ring:last]) else None)
        ring = last
    return found


def _close(listed: list[complex], straight: list[bool], sub: Subpath, same: float) -> None:
    """Close a subpath that ends off its start: by a line, or by moving its end if it is nearer than `same`."""
    if abs(sub.end - sub.start) > same or len(sub.straight) == 1:
        listed += (sub.end, sub.end, sub.end)
        straight.append(True)
    elif not straight[-1]:
        listed[-1] += sub.start - sub.end


def _on_page(points: Points, maps: Sequence[Affine], counts: Indices) -> Points:
    """The points of rings under their maps; a ring has three for each of its segments."""
    parts = [
        (complex(m.a + m.d, m.b - m.c) / 2, complex(m.a - m.d, m.b + m.c) / 2, complex(m.e, m.f)) for m in maps
    ]  # z -> p z + q conj(z) + r, the complex form of an affine map
    if parts.count(parts[0]) == len(parts):
        p, q, r = parts[0]
        here: Points = q * points.conj() + r
        return here + p * points if p else here
    ps, qs, rs = np.repeat(np.array(parts), 3 * counts, axis=0).T
    each: Points = ps * points + qs * points.conj() + rs
    return each


def _run(firsts: Indices, counts: Indices, turned: Sequence[bool], less: int) -> Indices:
    """Where the items of rings come from if some rings are turned: a turned one's item i from its item -i - `less`."""
    first, count = firsts.repeat(counts), counts.repeat(counts)
    here = np.arange(len(first))
    return np.where(np.repeat(turned, counts), first + (first - here - less) % count, here)
