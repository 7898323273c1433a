"""Parts in many copies: each part in regular rows, one part behind the other.

Terminology:

section
    all copies of one part in the lattice that takes the least width at a given height.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from .arrange import Arrangement
from .job import Job
from .outline import Posed
from .parts import Points
from .regular import Lattice, lattices
from .turns import poses_in_rows

__all__ = ["in_sections", "lattices_of_all", "pay"]

LATTICES: Final = 6
"""How many of the densest lattices of a part are laid out."""

ROW_STEP_DEG: Final = 15.0

COPIES_ALONE: Final = 3
COPIES_AMONG_OTHERS: Final = 8
"""Mean copies a part from which sections are tried, for one part alone and for several."""


def pay(job: Job) -> bool:
    """Whether there are enough copies of each part for sections to be worth the time."""
    return job.copies >= len(job.ready) * (COPIES_ALONE if len(job.ready) == 1 else COPIES_AMONG_OTHERS)


def lattices_of_all(job: Job, width: float, height: float) -> list[list[Lattice]]:
    """For each part the densest lattices in turns that fit a rectangle of that size."""
    return [lattices(poses_in_rows(blank, width, height, ROW_STEP_DEG), LATTICES) for blank in job.ready]


def in_sections(job: Job, choices: Sequence[Sequence[Lattice]], width: float, height: float) -> list[Arrangement]:
    """All copies in sections within `width` x `height` mm: every way of a part alone, else each part's narrowest."""
    ways = [_laid(some, width, height, blank.part.count) for blank, some in zip(job.ready, choices, strict=True)]
    if len(ways) == 1:
        return [Arrangement(posed, at, regular=True) for posed, at, _ in ways[0]]
    posed: list[Posed] = []
    places, x = [], 0.0
    for some in ways:
        if not some:
            return []
        bodies, at, wide = min(some, key=lambda way: round(way[2], 6))
        posed += bodies
        places.append(at + np.array([x, 0.0]))
        x += wide + job.frame.spacing
    whole = Arrangement(tuple(posed), np.concatenate(places), regular=True)
    return [whole] if whole.size[0] <= width else []


def _laid(
    some: Sequence[Lattice], width: float, height: float, count: int
) -> list[tuple[tuple[Posed, ...], Points, float]]:
    ways = []
    for lattice in some:
        posed, at = lattice.lay(width, height, count)
        if len(posed) == count:
            ways.append((tuple(posed), at, Arrangement(tuple(posed), at).size[0]))
    return ways
