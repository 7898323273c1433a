"""What every question to the engine starts from: the parts made ready, the turns to try, the board to try them on.

Terminology:

effort
    how long to search: no seconds is the quick search, which gives the same bytes every time on any machine; more are
    spent on a timed search, which never ends worse than the quick one but is not repeatable.
job
    the parts of one call made ready, with what their packing must keep to.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import isfinite, sqrt
from typing import Final

import numpy as np

from .arrange import Arrangement, Frame
from .outline import Blank, Posed, blanks, pose
from .parts import BadPartError, NestingError, Packing, Part, Points
from .place import Board, Laid, board
from .turns import fitting, narrowest_turn, search_turns

__all__ = [
    "BEST",
    "BETTER",
    "QUICK",
    "WIDE",
    "Boxes",
    "Effort",
    "Job",
    "arrangement",
    "bench",
    "bench_of_cell",
    "boxes",
    "made_ready",
    "row_length",
    "tried_turns",
]

ROWS: Final = 200
"""Cells that a board is high where the parts are not many times smaller; never more than twice that."""

CELLS_A_PART: Final = 22
"""Cells along the side of a square as large as the mean part, at least."""

MOST_CELLS: Final = 1_000_000
"""Cells that a board has about at most."""

CELL_TRIALS: Final = 6
"""A length is tried as so many cells more or fewer than would be nearest the wished size."""


def _go_on(packing: Packing | None, share: float) -> bool:
    return True


@dataclass(frozen=True, slots=True)
class Effort:
    """`seconds` of timed search; none: the quick search, which tries `breadth` times as much as usual.

    `progress` is told the best packing so far and the share of the time gone, and answers whether to go on. A
    KeyboardInterrupt ends the search's process and goes through to the caller.
    """

    seconds: float = 0.0
    progress: Callable[[Packing | None, float], bool] = _go_on
    seed: int = 1
    breadth: float = 1.0


QUICK: Final = Effort()
WIDE: Final = Effort(breadth=4.0)
BETTER: Final = Effort(5.0)
BEST: Final = Effort(60.0)


@dataclass(frozen=True, slots=True)
class Job:
    """`ready`: one blank for each part that is wanted at least once."""

    frame: Frame
    ready: tuple[Blank, ...]
    copies: int = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "copies", sum(blank.part.count for blank in self.ready))

    @property
    def area(self) -> float:
        """Area of all copies, mm²."""
        return sum(blank.area * blank.part.count for blank in self.ready)


def made_ready(
    parts: Sequence[Part], spacing: float, margin: float, lengths: Sequence[float], blocked: Sequence[Points] = ()
) -> Job:
    """A job from what the caller asks.

    Raises:
        BadPartError: a part is no area, or two have one key.
        NestingError: spacing, margin or one of `lengths` is negative or not finite.
    """
    if not all(isfinite(v) and v >= 0 for v in (spacing, margin, *lengths)):
        raise NestingError("spacing, margin, width and height must be finite and not negative")
    seen: set[str] = set()
    for part in parts:
        if part.key in seen:
            raise BadPartError(part.key, "two parts have this key")
        seen.add(part.key)
    frame = Frame(tuple(parts), spacing, margin, tuple(blocked))
    return Job(frame, blanks([part for part in parts if part.count], spacing))


def tried_turns(job: Job, width: float, height: float) -> list[tuple[float, ...]]:
    """For each part the turns to be tried in a rectangle of that size; none when it fits in no turn."""
    return [_turns_of(blank, width, height) for blank in job.ready]


def _turns_of(blank: Blank, width: float, height: float) -> tuple[float, ...]:
    usual = fitting(blank, search_turns(blank), width, height)
    if usual or blank.part.turns is not None:
        return usual
    odd = narrowest_turn(blank, height)
    return () if odd is None else fitting(blank, (odd,), width, height)


@dataclass(frozen=True, slots=True)
class Boxes:
    """The least boxes of all copies, grown: their `area` in mm²; `longest`: the greatest width of a part in any turn.

    `spacing` is that of the job.
    """

    area: float
    longest: float
    spacing: float

    def likely_length(self, inner: float) -> float:
        """Length of a strip of `inner` mm that takes all unless they lie very badly."""
        return 1.5 * self.area / (inner + self.spacing) + 2 * self.longest


def boxes(job: Job, turns: Sequence[Sequence[float]]) -> Boxes:
    """The boxes of all copies in the best of the turns of each part."""
    area, longest = 0.0, 0.0
    for blank, some in zip(job.ready, turns, strict=True):
        poses = [pose(blank, turn) for turn in some]
        area += blank.part.count * min(float(np.prod(np.ptp(p.rings[0], axis=0))) for p in poses)
        longest = max(longest, *(p.width for p in poses))
    return Boxes(area, longest, job.frame.spacing)


def row_length(job: Job, turns: Sequence[Sequence[float]]) -> float:
    """Length of a strip that surely takes all on any grid: every copy behind the other."""
    length = 0.0
    for blank, some in zip(job.ready, turns, strict=True):
        length += blank.part.count * max(float(np.ptp(pose(blank, t).rings[0], axis=0)[0]) for t in some)
    return 1.1 * length + 4 * job.frame.spacing


def bench(job: Job, turns: Sequence[Sequence[float]], width: float, height: float) -> Board:
    """A board for a rectangle of that size: fine beside the parts and the rectangle, coarse enough for speed."""
    mean = sqrt(job.area / job.copies)
    side = max(min(height / ROWS, mean / CELLS_A_PART), height / (2 * ROWS), sqrt(width * height / MOST_CELLS))
    return bench_of_cell(job, turns, side, height)


def bench_of_cell(job: Job, turns: Sequence[Sequence[float]], side: float, height: float) -> Board:
    """A board with cells of about `side` mm, of those on which the boxes of the parts lose least.

    What fits exactly then fits on the board too, as a rule.
    """
    poses = [(pose(b, t), b.part.count) for b, some in zip(job.ready, turns, strict=True) for t in some]
    counts = np.array([count for _, count in poses], dtype=float)
    cx = _cell(np.array([p.width for p, _ in poses]), counts, job.frame.spacing / 2, side)
    cy = _cell(np.array([p.height for p, _ in poses]), counts, job.frame.spacing / 2, side)
    return board(job.ready, turns, (cx, cy), height)


def _cell(sizes: Points, counts: Points, rim: float, side: float) -> float:
    whole = np.unique(np.round(np.concatenate((sizes, sizes + 2 * rim, [rim])), 6))
    whole = whole[whole > side]
    parts = np.round(whole / side)[:, None] + np.arange(-CELL_TRIALS, CELL_TRIALS + 1)
    trial = np.append((whole[:, None] / np.maximum(parts, 1)).ravel(), side)
    trial = trial[(trial >= 0.8 * side) & (trial <= 1.1 * side)]
    cells = np.ceil((sizes[:, None] + rim) / trial - 1e-6) + np.ceil(rim / trial - 1e-6)
    loss = np.round(counts @ (cells * trial), 6)
    return float(trial[np.lexsort((-trial, loss))[0]])


def arrangement(board: Board, laid: Laid) -> Arrangement:
    """What was laid on the board, in mm."""
    cell = (board.grid.cx, board.grid.cy)
    posed: tuple[Posed, ...] = tuple(board.all_tiles[t].posed for _, t, _, _ in laid.lying)
    return Arrangement(posed, np.array([(i, j) for _, _, i, j in laid.lying], dtype=float).reshape(-1, 2) * cell)
