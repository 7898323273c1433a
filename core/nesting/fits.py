"""What goes into a given rectangle, some areas of which may be blocked.

Terminology:

inner rectangle
    the rectangle less its margin on all sides: where the boxes of the true parts must lie.
topped up
    an arrangement in which more copies were laid where it leaves room.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from time import monotonic
from typing import Final

import numpy as np

from .arrange import Arrangement, tightened
from .blocked import blocking, clear_of_blocked
from .job import Effort, Job, arrangement, bench, made_ready, tried_turns
from .orders import WORK_A_MS, fullest, most_copies, ranked_orders
from .outline import pose
from .parts import Packing
from .place import Board, Fixed, lay
from .regular import lattices
from .sections import in_sections, lattices_of_all, pay
from .strips import quick_strips, timed_strip
from .turns import fitting, narrowest_turn, poses_in_rows, search_turns

__all__ = ["packed_rectangle", "single"]

FIT_MS: Final = 60
"""Budget of a quick search beyond its first tries, in milliseconds of a common machine."""

LATTICES: Final = 20
"""How many of the densest lattices are laid out to see how many copies they hold."""

ROW_STEP_DEG: Final = 7.5

FEW_COPIES: Final = 40
"""Copies of one part up to which a search may do better than regular rows."""

MANY_COPIES: Final = 150
"""Copies beyond which moving them all together costs more than it brings."""

TOPPED_UP: Final = 3
"""How many of the fullest regular arrangements are topped up."""

LEAST_S: Final = 1.0
"""A timed search for less than this finds nothing."""

_SLACK_MM: Final = 1e-6


def packed_rectangle(job: Job, width: float, height: float, effort: Effort) -> Packing:
    """The packing of the rectangle that leaves out least."""
    margin = job.frame.margin
    areas = {blank.part.key: blank.area for blank in job.ready}
    best = Packing(width, height, (), tuple((p.key, p.count) for p in job.frame.parts if p.count))
    most = 0.0
    for found in _quick(job, width - 2 * margin, height - 2 * margin, effort.breadth * FIT_MS * WORK_A_MS):
        if sum(posed.blank.area for posed in found.posed) <= most:
            continue
        packing = job.frame.proved([found], width, height)
        if packing:
            best, most = packing, sum(areas[spot.key] for spot in packing.spots)
        if best.complete:
            return best
    if effort.seconds <= 0 or job.frame.blocked or not best.spots:
        return best
    if len(job.ready) == 1:
        return _one_more(job, width, height, best, effort)
    told = replace(effort, progress=lambda _, share: effort.progress(best, share))
    return _timed(job, width, height, told) or best


def single(job: Job, width: float, height: float) -> list[Arrangement]:
    """The only copy at the corner: in its least box, both ways, in its allowed turns, and as narrow as can be."""
    blank = job.ready[0]
    turns = dict.fromkeys([*search_turns(blank), 0.0, 90.0] if blank.part.turns is None else search_turns(blank))
    some = list(fitting(blank, turns, width, height))
    odd = narrowest_turn(blank, height)
    if odd is not None:
        some += fitting(blank, (odd,), width, height)
    return [Arrangement((pose(blank, turn),), np.zeros((1, 2))) for turn in some]


def _quick(job: Job, width: float, height: float, work: float) -> Iterator[Arrangement]:
    """Arrangements in the inner rectangle, cheap ones first; `work` is for a search beyond the first tries."""
    if not job.copies or width <= 0 or height <= 0:
        return
    if job.copies == 1 and not job.frame.blocked:
        yield from single(job, width, height)
        return
    turns = tried_turns(job, width, height)
    if len(job.ready) == 1 and turns[0]:
        yield from _copies(job, turns[0], width, height, work)
        return
    if pay(job) and all(turns) and not job.frame.blocked:
        yield from in_sections(job, lattices_of_all(job, width, height), width, height)
    board = bench(job, turns, width, height)
    fixed = blocking(job, board, width, height)
    areas = [blank.area for blank in job.ready]
    laid = fullest(board, ranked_orders(job.ready), width, height, areas, fixed, work)
    loose = arrangement(board, laid)
    yield loose
    if not laid.missing or job.frame.blocked:
        return
    yield _topped_up(board, tightened(loose), laid.missing, width, height, fixed)
    if all(turns) and job.area <= width * height:
        yield from (found for found in quick_strips(job, height) if found.size[0] <= width + _SLACK_MM)


def _copies(job: Job, turns: Sequence[float], width: float, height: float, work: float) -> Iterator[Arrangement]:
    """Copies of one part: lattices as they are, the fullest of them topped up, and what a search makes of it."""
    blank = job.ready[0]
    found = []
    for lattice in lattices(poses_in_rows(blank, width, height, ROW_STEP_DEG), LATTICES, width, height):
        posed, at = lattice.lay(width, height, job.copies)
        found.append(clear_of_blocked(job, Arrangement(tuple(posed), at), width, height))
        if len(found[-1].posed) == job.copies:
            yield found[-1]
    found.sort(key=lambda a: (-len(a.posed), a.size[0] * a.size[1]))
    most = 0
    if found and len(found[0].posed) <= MANY_COPIES and not job.frame.blocked:
        found.insert(1, tightened(found[0]))
    for regular in found[:TOPPED_UP]:
        board = bench(job, [tuple(dict.fromkeys([*turns, *(p.turn for p in regular.posed)]))], width, height)
        missing = [0] * min(job.copies - len(regular.posed), FEW_COPIES)
        yield regular
        yield (fuller := _topped_up(board, regular, missing, width, height, blocking(job, board, width, height)))
        most = max(most, len(fuller.posed))
    board = bench(job, [turns], width, height)
    fixed = blocking(job, board, width, height)
    laid = most_copies(board, most, width, height, job.copies, fixed, work if most <= FEW_COPIES else 0)
    loose = arrangement(board, laid)
    yield loose
    if len(loose.posed) <= MANY_COPIES and laid.missing and not job.frame.blocked:
        yield _topped_up(board, tightened(loose), [0] * len(laid.missing), width, height, fixed)


def _topped_up(
    board: Board,
    start: Arrangement,
    missing: Sequence[int],
    width: float,
    height: float,
    blocks: Sequence[Fixed],
) -> Arrangement:
    fixed = [(board.number(posed), x, y) for posed, (x, y) in zip(start.posed, start.at.tolist(), strict=True)]
    more = arrangement(board, lay(board, missing, width, height, [*blocks, *fixed]))
    return Arrangement(start.posed + more.posed, np.concatenate((start.at, more.at)))


def _one_more(job: Job, width: float, height: float, best: Packing, effort: Effort) -> Packing:
    """`best`, then one copy more of the only part, and so on as long as the time lasts."""
    part = job.ready[0].part
    began = monotonic()
    while not best.complete:
        gone = monotonic() - began
        if effort.seconds - gone < LEAST_S:
            break
        count = len(best.spots) + 1
        fewer = made_ready([replace(part, count=count)], job.frame.spacing, job.frame.margin, ())

        def progress(_: Packing | None, share: float, gone: float = gone, best: Packing = best) -> bool:
            return effort.progress(best, (gone + share * (effort.seconds - gone)) / effort.seconds)

        more = _timed(fewer, width, height, replace(effort, seconds=effort.seconds - gone, progress=progress))
        if more is None:
            break
        best = replace(more, left=((part.key, part.count - count),) if count < part.count else ())
    return best


def _timed(job: Job, width: float, height: float, effort: Effort) -> Packing | None:
    """A complete packing, where a strip as high as the rectangle turned out short enough."""
    margin = job.frame.margin
    if job.area > (width - 2 * margin) * (height - 2 * margin):
        return None
    told = replace(effort, progress=lambda _, share: effort.progress(None, share))
    packing = timed_strip(job, height - 2 * margin, height, None, told, width + _SLACK_MM)
    return replace(packing, width=width) if packing and packing.width <= width + _SLACK_MM else None
