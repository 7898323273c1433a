"""Rectangles of small area and unlike shape that take every copy: what to cut from a fabric.

The same board serves all heights that are tried, so that a fabric of a few pieces costs milliseconds.
"""

from collections.abc import Sequence
from math import sqrt
from typing import Final

from .arrange import Arrangement, tightened
from .fits import single
from .job import Boxes, Job, arrangement, bench_of_cell, boxes, row_length, tried_turns
from .orders import WORK_A_MS, ranked_orders, rectangles
from .outline import pose
from .parts import Packing
from .place import without_twins
from .ruler import Ruler
from .sections import in_sections, lattices_of_all, pay

__all__ = ["packed_rectangles"]

CANDIDATES_MS: Final = 10
"""Budget of the search, in milliseconds of a common machine."""

FEW_COPIES: Final = 6
"""Copies in all beyond which the budget grows with them, up to `MOST_MS`."""

MOST_MS: Final = 300

CELLS_A_SIDE: Final = 50
"""Cells along the side of a square as large as all boxes together."""

CELLS_A_PART: Final = 14
"""Cells along the side of a square as large as the mean part: many parts want finer cells."""

MOST_CELLS_A_SIDE: Final = 300

LOOSE: Final = 1.5
"""How much longer than likely an arrangement may come out."""

HEIGHTS: Final = 16
"""Heights tried, from three times as wide as high to three times as high as wide."""

TIGHTENED: Final = 3
"""So many arrangements at least are slid together where there is hope, of which the smallest count."""

HOPEFUL: Final = 1.05
"""Sliding together hardly ever makes a rectangle smaller by more than this."""

ALIKE: Final = 1.03
"""A rectangle is left out where another is no more than so much larger in both directions."""


def packed_rectangles(job: Job, width: float, height: float, limit: int, step: float, breadth: float) -> list[Packing]:
    """Up to `limit` proved rectangles no larger than the inner `width` x `height` mm, the smallest to cut first.

    They are cut at multiples of `step` mm; 0: at any size. The search tries `breadth` times as much as usual.
    """
    ruler = Ruler(step, job.frame.margin, width, height)
    turns = tried_turns(job, width, height)
    if not job.copies or not all(turns):
        return []
    if job.copies == 1:
        found = single(job, width, height)
    else:
        around = boxes(job, turns)
        heights = list(dict.fromkeys(ruler.up(each) for each in _heights(job, turns, around, height)))
        found = _searched(job, turns, around, heights, width, ruler, breadth)
        if pay(job):
            choices = lattices_of_all(job, width, heights[-1])
            found += [a for height in heights for a in in_sections(job, choices, width, height)]
    packings: list[Packing] = []
    for arrangements in _ranked(_unlike(found, max(limit, TIGHTENED), ruler), limit, ruler):
        packing = job.frame.proved(arrangements)
        if packing:
            packings.append(packing)
        if len(packings) == limit:
            break
    return packings


def _ranked(found: Sequence[Arrangement], limit: int, ruler: Ruler) -> list[tuple[Arrangement, ...]]:
    """Each slid together, with as it was; the smallest to cut first, those left out that have no hope to be."""
    ranked: list[tuple[tuple[float, float], tuple[Arrangement, ...]]] = []
    for n, loose in enumerate(found):
        if n < limit or _rank(loose.size, ruler)[0] <= HOPEFUL * min(rank[0] for rank, _ in ranked):
            tight = tightened(loose, rounds=2)
            ranked.append((_rank(tight.size, ruler), (tight, loose)))
    ranked.sort(key=lambda each: (each[0], each[1][0].size))
    return [arrangements for _, arrangements in ranked]


def _searched(
    job: Job,
    turns: Sequence[Sequence[float]],
    around: Boxes,
    heights: Sequence[float],
    width: float,
    ruler: Ruler,
    breadth: float,
) -> list[Arrangement]:
    tallest = heights[-1]
    least = max(sqrt(tallest * heights[0]), tallest / 4, around.longest) / MOST_CELLS_A_SIDE
    side = max(min(sqrt(around.area) / CELLS_A_SIDE, sqrt(job.area / job.copies) / CELLS_A_PART), least)
    board = without_twins(bench_of_cell(job, turns, side, tallest))
    work = breadth * min(CANDIDATES_MS * max(1.0, job.copies / FEW_COPIES), MOST_MS) * WORK_A_MS
    longest_row = min(width, row_length(job, turns))
    sizes = [(min(longest_row, LOOSE * around.likely_length(height)), height) for height in _halving(heights)]
    found = rectangles(board, ranked_orders(job.ready), sizes, tallest, work, ruler)
    return [arrangement(board, laid) for laid in found]


def _heights(job: Job, turns: Sequence[Sequence[float]], around: Boxes, tallest: float) -> list[float]:
    least = max(min(pose(b, t).height for t in some) for b, some in zip(job.ready, turns, strict=True))
    side = sqrt(around.area)
    low, high = min(max(least, side / 3), tallest), min(tallest, max(side * 3, least))
    return [low * (high / low) ** (k / (HEIGHTS - 1)) for k in range(HEIGHTS)]


def _halving(heights: Sequence[float]) -> list[float]:
    """The heights from coarse to fine: the middle one, those in the middle of the halves, and so on."""
    order: list[float] = []
    step = len(heights)
    while step > 1:
        order += heights[step // 2 :: step]
        step //= 2
    return list(dict.fromkeys([*order, *heights]))


def _rank(size: tuple[float, float], ruler: Ruler) -> tuple[float, float]:
    return round(ruler.area(*size), 6), round(size[0] * size[1], 6)


def _unlike(found: Sequence[Arrangement], limit: int, ruler: Ruler) -> list[Arrangement]:
    """The smallest to cut, then by area others that no chosen one matches in both directions."""
    ranked = sorted(((a.size, a) for a in found), key=lambda f: (_rank(f[0], ruler), f[0]))
    chosen: list[tuple[tuple[float, float], Arrangement]] = []
    for (width, height), loose in ranked:
        if not any(w <= width * ALIKE and h <= height * ALIKE for (w, h), _ in chosen):
            chosen.append(((width, height), loose))
        if len(chosen) == limit:
            break
    return [loose for _, loose in chosen]
