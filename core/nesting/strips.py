"""The narrowest strip: quick searches that repeat to the byte, and a timed one.

Terminology:

inner height
    the height of the strip less its margins: where the boxes of the true parts must lie.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from time import monotonic
from typing import Final

import numpy as np

from .arrange import Arrangement, tightened
from .holes import Item, items, unfolded
from .job import Effort, Job, arrangement, bench, boxes, row_length, tried_turns
from .orders import WORK_A_MS, narrowest, ranked_orders
from .outline import Blank, pose
from .parts import Packing
from .sections import in_sections, lattices_of_all, pay
from .timed import Find, search_strip
from .turns import narrowest_turn, snapped

__all__ = ["packed_strip", "quick_strips", "timed_strip"]

HAIR_MM: Final = 0.004
"""What the timed search gets in height beyond the strip's, so that a part just as tall is not too tall by rounding."""

NEAR: Final = 1.002
"""Finds no wider than this times what is wanted are proved at once: moved together they may be narrow enough."""

PROVING: Final = 0.02
"""Share of the time that proving takes at most before the search ends; it is the cores of the search that do it."""

STRIP_MS: Final = 350
"""Budget of a quick search beyond its first tries, in milliseconds of a common machine."""


def quick_strips(job: Job, inner: float) -> Iterator[Arrangement]:
    """Arrangements of all copies within the inner height; the last is plain and always right."""
    turns = tried_turns(job, inf, inner)
    if job.copies > 1:
        if pay(job):
            yield from in_sections(job, lattices_of_all(job, inf, inner), _section_length(job), inner)
        lengths = (boxes(job, turns).likely_length(inner), row_length(job, turns))
        board = bench(job, turns, lengths[0], inner)
        laid = narrowest(board, ranked_orders(job.ready), lengths, inner, STRIP_MS * WORK_A_MS)
        if not laid.missing:
            loose = arrangement(board, laid)
            yield tightened(loose)
            yield loose
    yield _in_one_row(job, inner)


def timed_strip(
    job: Job, inner: float, height: float, best: Packing | None, effort: Effort, enough: float = 0.0
) -> Packing | None:
    """The narrowest proved packing of a timed search and `best`.

    `height` is that of the whole strip; the search ends with a packing no wider than `enough` mm.
    """
    proofs = _Proofs(job, height, items(job.ready, best), best)
    near = enough - 2 * job.frame.margin + job.frame.spacing

    finds: list[Find] = []

    def going_on(find: Find | None, share: float) -> bool:
        if find and find not in finds[-1:]:
            finds.append(find)
        soon = proofs.seconds <= PROVING * (monotonic() - began)
        if find and (find.width <= near * NEAR or (soon and proofs.hopeful(find))):
            proofs.add(find)
        done = proofs.narrowest is not None and proofs.narrowest.width <= enough
        return effort.progress(proofs.narrowest, share) and not done

    began = monotonic()
    search_strip(proofs.wanted, inner + job.frame.spacing + HAIR_MM, effort.seconds, effort.seed, going_on)
    for find in reversed(finds):
        if not proofs.hopeful(find) or proofs.add(find):
            break
    return proofs.narrowest


@dataclass(slots=True)
class _Proofs:
    """Makes proved packings of finds and keeps the narrowest; `seconds` is what that took so far."""

    job: Job
    height: float
    wanted: Sequence[Item]
    narrowest: Packing | None
    seconds: float = 0.0
    tried: dict[Find, Packing | None] = field(default_factory=dict)

    def hopeful(self, find: Find) -> bool:
        """Whether `find`, moved together, may be narrower than the narrowest."""
        spare = self.job.frame.spacing - 2 * self.job.frame.margin
        return self.narrowest is None or find.width <= NEAR * (self.narrowest.width + spare)

    def add(self, find: Find) -> bool:
        """Whether `find` can be proved, which is worked out once."""
        if find not in self.tried:
            began = monotonic()
            loose = _arranged(self.job, self.wanted, find)
            packing = self.tried[find] = self.job.frame.proved([tightened(loose), loose], None, self.height)
            if packing and (self.narrowest is None or packing.width < self.narrowest.width):
                self.narrowest = packing
            self.seconds += monotonic() - began
        return self.tried[find] is not None


def _in_one_row(job: Job, inner: float) -> Arrangement:
    """Every copy behind the other, box behind box."""
    posed, corners, x = [], [], 0.0
    for blank in job.ready:
        turn = narrowest_turn(blank, inner)
        assert turn is not None
        for _ in range(blank.part.count):
            posed.append(pose(blank, turn))
            corners.append((x, 0.0))
            x += posed[-1].width + job.frame.spacing
    return Arrangement(tuple(posed), np.array(corners))


def _section_length(job: Job) -> float:
    """Length within which regular rows of each part surely lie one behind the other."""
    return sum(blank.part.count * 2 * _reach(blank) for blank in job.ready)


def _reach(blank: Blank) -> float:
    return float(np.ptp(blank.rings[0], axis=0).sum()) * 1.5


def _arranged(job: Job, wanted: Sequence[Item], find: Find) -> Arrangement:
    posed, corners = [], []
    for number, rough, x, y in find.placed:
        item = wanted[number]
        for blank, turn, at_x, at_y in unfolded(item, snapped(rough, item.turns), x, y):
            body = pose(blank, snapped(turn, blank.part.turns))
            posed.append(body)
            corners.append((at_x - body.origin[0], at_y - body.origin[1] - job.frame.spacing / 2))
    at = np.array(corners).reshape(-1, 2)
    at[:, 0] -= at[:, 0].min()
    return Arrangement(tuple(posed), np.maximum(at, 0.0))


def packed_strip(job: Job, height: float, effort: Effort) -> Packing | None:
    """The narrowest proved packing of a strip of `height` mm."""
    began = monotonic() if effort.seconds > 0 else 0.0
    inner = height - 2 * job.frame.margin
    found = sorted(quick_strips(job, inner), key=lambda a: round(a.size[0], 6))
    best = job.frame.proved(found, None, height)
    if effort.seconds > 0 and job.copies > 1:
        left = max(effort.seconds - (monotonic() - began), effort.seconds / 2)
        best = timed_strip(job, inner, height, best, replace(effort, seconds=left))
    return best
