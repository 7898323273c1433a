"""What the engine is asked: the least strip, whether a rectangle takes all, how many it takes, which rectangles to cut.

Terminology:

effort
    how long to search: no seconds is the quick search, which gives the same bytes every time on any machine; more are
    spent on a timed search, which never ends worse than the quick one but is not repeatable.
inner rectangle
    the rectangle less its margin on all sides: where the boxes of the true parts must lie.

Every packing returned has passed the checker. Nothing here reads a clock but the timed search.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite, sqrt
from typing import Final

import numpy as np

from .arrange import Arrangement, Frame, tightened
from .orders import WORK_A_MS, fullest, narrowest, ranked_orders, rectangles
from .outline import Blank, blanks, pose
from .parts import BadPartError, NestingError, Packing, Part, UnprovedError
from .place import Board, Laid, board, lay
from .regular import Lattice, lattices
from .timed import Find, search_strip
from .turns import fitting, narrowest_turn, row_turns, search_turns, snapped, squarest

__all__ = ["BEST", "BETTER", "QUICK", "Effort", "candidates", "fill", "fit", "strip"]

STRIP_MS: Final = 350
FIT_MS: Final = 60
CANDIDATES_MS: Final = 14
"""Budgets of the quick searches beyond their first tries, in milliseconds of a common machine."""

ROWS: Final = 200
"""Cells that a strip is high where its parts are not many times smaller."""

MOST_CELLS: Final = 1_000_000
"""Cells that a board has about at most."""

MOST_FILLED: Final = 3000
"""Copies beyond which a rectangle is not filled with one part."""

CELLS_A_PART: Final = 22
"""Cells along the side of a square as large as the mean part, at least."""

CELLS_A_SIDE: Final = 50
"""Cells along the side of a square as large as all boxes together, where rectangles are sought."""

CELL_TRIALS: Final = 6
"""A length is tried as so many cells more or fewer than would be nearest the wished size."""

LATTICES: Final = 6
"""How many of the densest lattices are laid out to see how many copies they hold."""


def _go_on(packing: Packing | None, share: float) -> bool:
    return True


@dataclass(frozen=True, slots=True)
class Effort:
    """`seconds` of timed search; `progress` is told the best so far and the share of the time gone, and answers whether
    to go on. A KeyboardInterrupt ends the search's process and goes through to the caller.
    """

    seconds: float = 0.0
    progress: Callable[[Packing | None, float], bool] = _go_on
    seed: int = 1


QUICK: Final = Effort()
BETTER: Final = Effort(5.0)
BEST: Final = Effort(60.0)


@dataclass(frozen=True, slots=True)
class _Job:
    frame: Frame
    ready: tuple[Blank, ...]

    @property
    def copies(self) -> int:
        return sum(blank.part.count for blank in self.ready)


def strip(
    parts: Sequence[Part], height: float, spacing: float = 0.0, margin: float = 0.0, effort: Effort = QUICK
) -> Packing:
    """The narrowest rectangle of `height` mm found that takes every copy.

    Args:
        parts: what to lay, keys all different.
        height: mm, with its margins.
        spacing: least distance between two copies, mm.
        margin: least distance from all four sides, mm.
        effort: quick, or for how long to search.

    Raises:
        BadPartError: a part is no area, or taller than the strip in all its turns.
        NestingError: spacing, margin or height is not a length.
    """
    job = _job(parts, spacing, margin, (height,))
    inner = height - 2 * margin
    turns = _turns(job, inf, inner)
    for blank, some in zip(job.ready, turns, strict=True):
        if not some:
            raise BadPartError(blank.part.key, f"it is taller than {inner:g} mm in all its turns")
    if not job.copies:
        return Packing(2 * margin, height, ())
    found = [*_regular_strips(job, inner), *_quick_strips(job, turns, inner)]
    best = _best_strip(job, found, height)
    if best is None:
        raise UnprovedError("no arrangement of the strip passed the check")
    if effort.seconds > 0 and job.copies > 1:
        longer = _timed_strip(job, inner, height, best, effort)
        best = longer if longer and longer.width < best.width else best
    return best


def fit(
    parts: Sequence[Part],
    width: float,
    height: float,
    spacing: float = 0.0,
    margin: float = 0.0,
    effort: Effort = QUICK,
) -> Packing:
    """A packing of the rectangle; `left` names the copies that found no room (empty: all lie in it).

    Raises:
        BadPartError: a part is no area.
        NestingError: spacing, margin, width or height is not a length.
    """
    job = _job(parts, spacing, margin, (width, height))
    inner_w, inner_h = width - 2 * margin, height - 2 * margin
    best = Packing(width, height, (), tuple((p.key, p.count) for p in job.frame.parts if p.count))
    for arrangement in _quick_fits(job, inner_w, inner_h):
        if len(arrangement.posed) > len(best.spots) or _laid_area(arrangement) > _area_in(job, best) + 1e-9:
            packing = job.frame.proved([arrangement], width, height)
            if packing and _area_in(job, packing) > _area_in(job, best):
                best = packing
        if best.complete:
            return best
    needed = sum(blank.area * blank.part.count for blank in job.ready)
    if effort.seconds > 0 and needed <= inner_w * inner_h and all(_turns(job, inner_w, inner_h)):
        best = _timed_fit(job, width, height, best, effort)
    return best


def fill(
    parts: Sequence[Part],
    width: float,
    height: float,
    spacing: float = 0.0,
    margin: float = 0.0,
    effort: Effort = QUICK,
) -> Packing:
    """As many copies as found room; each part's `count` is its upper limit, and `left` says what remains of it."""
    job = _job(parts, spacing, margin, (width, height))
    room = max(width - 2 * margin + spacing, 0.0) * max(height - 2 * margin + spacing, 0.0)
    most = {blank.part.key: min(int(room / blank.area) + 1, MOST_FILLED) for blank in job.ready}
    limited = [replace(part, count=min(part.count, most.get(part.key, 0))) for part in parts]
    packing = fit(limited, width, height, spacing, margin, effort)
    lying = {part.key: 0 for part in parts}
    for spot in packing.spots:
        lying[spot.key] += 1
    left = tuple((part.key, part.count - lying[part.key]) for part in parts if part.count > lying[part.key])
    return replace(packing, left=left)


def candidates(
    parts: Sequence[Part],
    max_width: float,
    max_height: float,
    spacing: float = 0.0,
    margin: float = 0.0,
    limit: int = 8,
) -> tuple[Packing, ...]:
    """Up to `limit` rectangles of small area and unlike shape that take every copy, the smallest area first.

    None is both wider and higher than another. Empty when no rectangle within `max_width` x `max_height` mm was found.

    Raises:
        BadPartError: a part is no area.
        NestingError: spacing, margin or a size is not a length.
    """
    job = _job(parts, spacing, margin, (max_width, max_height))
    inner_w, inner_h = max_width - 2 * margin, max_height - 2 * margin
    if not job.copies:
        return ()
    if job.copies == 1:
        found = _single(job.ready[0], inner_w, inner_h)
    else:
        found = [*_regular_rectangles(job, inner_w, inner_h), *_searched_rectangles(job, inner_w, inner_h)]
    packings = []
    for arrangement in _unlike(found, limit):
        packing = job.frame.proved([tightened(arrangement, rounds=2), arrangement])
        if packing:
            packings.append(packing)
    return tuple(sorted(packings, key=lambda p: (round(p.area, 6), p.width)))


def _job(parts: Sequence[Part], spacing: float, margin: float, lengths: Sequence[float]) -> _Job:
    if not all(isfinite(v) and v >= 0 for v in (spacing, margin, *lengths)):
        raise NestingError("spacing, margin, width and height must be finite and not negative")
    seen: set[str] = set()
    for part in parts:
        if part.key in seen:
            raise BadPartError(part.key, "two parts have this key")
        seen.add(part.key)
    return _Job(Frame(tuple(parts), spacing, margin), blanks([p for p in parts if p.count], spacing))


def _turns(job: _Job, width: float, height: float) -> list[tuple[float, ...]]:
    """For each part the turns to be tried in a rectangle of that size; none when it fits in no turn."""
    return [_turns_of(blank, width, height) for blank in job.ready]


def _turns_of(blank: Blank, width: float, height: float) -> tuple[float, ...]:
    usual = fitting(blank, search_turns(blank), width, height)
    if usual or blank.part.turns is not None:
        return usual
    odd = narrowest_turn(blank, height)
    return () if odd is None else fitting(blank, (odd,), width, height)


def _cell(job: _Job, turns: Sequence[Sequence[float]], side: float) -> tuple[float, float]:
    """The cell of about `side` mm on which the boxes of the parts lose least, so that what fits exactly still does."""
    poses = [(pose(b, t), b.part.count) for b, some in zip(job.ready, turns, strict=True) for t in some]
    rim = job.frame.spacing / 2
    counts = np.array([n for _, n in poses])
    best = []
    for lengths in ([p.width for p, _ in poses], [p.height for p, _ in poses]):
        sizes = np.array(lengths)
        whole = np.unique(np.round(np.concatenate((sizes, sizes + 2 * rim, [rim])), 6))
        parts = np.round(whole[whole > side] / side)[:, None] + np.arange(-CELL_TRIALS, CELL_TRIALS + 1)
        trial = np.append((whole[whole > side][:, None] / np.maximum(parts, 1)).ravel(), side)
        trial = trial[(trial >= 0.8 * side) & (trial <= 1.1 * side)]
        cells = np.ceil((sizes[:, None] + rim) / trial - 1e-6) + np.ceil(rim / trial - 1e-6)
        loss = np.round(counts @ (cells * trial), 6)
        best.append(float(trial[np.lexsort((-trial, loss))[0]]))
    return best[0], best[1]


def _bench(job: _Job, turns: Sequence[Sequence[float]], width: float, height: float) -> Board:
    """A board for a rectangle of that size: fine beside the parts and the rectangle, coarse enough for speed."""
    mean = sqrt(sum(b.area * b.part.count for b in job.ready) / job.copies)
    side = max(min(height / ROWS, mean / CELLS_A_PART), height / (2 * ROWS), sqrt(width * height / MOST_CELLS))
    return board(job.ready, turns, _cell(job, turns, side), height)


def _row_length(turns: Sequence[Sequence[float]], job: _Job) -> float:
    """Length of a strip that surely takes all on any grid: every copy behind the other."""
    length = 0.0
    for blank, some in zip(job.ready, turns, strict=True):
        length += blank.part.count * max(float(np.ptp(pose(blank, t).rings[0], axis=0)[0]) for t in some)
    return 1.1 * length + 4 * job.frame.spacing


def _likely_length(turns: Sequence[Sequence[float]], job: _Job, inner: float) -> float:
    """Length of a strip that takes all unless they lie very badly."""
    longest = max(pose(blank, t).width for blank, some in zip(job.ready, turns, strict=True) for t in some)
    return 1.5 * _grown_boxes(job, turns) / (inner + job.frame.spacing) + 2 * longest


def _quick_strips(job: _Job, turns: Sequence[Sequence[float]], inner: float) -> Iterator[Arrangement]:
    if job.copies == 1:
        turn = narrowest_turn(job.ready[0], inner)
        if turn is not None:
            yield Arrangement((pose(job.ready[0], turn),), np.zeros((1, 2)))
        return
    lengths = (_likely_length(turns, job, inner), _row_length(turns, job))
    bench = _bench(job, turns, lengths[0], inner)
    orders = ranked_orders(job.ready)
    laid = narrowest(bench, orders, lengths, inner, STRIP_MS * WORK_A_MS)
    if not laid.missing:
        loose = _arrangement(bench, laid)
        yield tightened(loose)
        yield loose


def _regular_strips(job: _Job, inner: float) -> Iterator[Arrangement]:
    if len(job.ready) != 1 or job.copies < 2:
        return
    blank = job.ready[0]
    for lattice in _lattices(blank, inf, inner):
        widest = blank.part.count * lattice.pitch * 1.1 + 2 * max(p.width + p.height for p in lattice.posed)
        posed, at = lattice.lay(widest if not lattice.across else _stack_length(lattice, job), inner, blank.part.count)
        if len(posed) == blank.part.count:
            yield Arrangement(tuple(posed), at)


def _stack_length(lattice: Lattice, job: _Job) -> float:
    return 2 * job.copies * max(p.width + p.height for p in lattice.posed) + job.copies * job.frame.spacing


def _lattices(blank: Blank, width: float, height: float) -> list[Lattice]:
    poses = [pose(blank, turn) for turn in fitting(blank, row_turns(blank), width, height)]
    return lattices(poses, LATTICES)


def _best_strip(job: _Job, found: Sequence[Arrangement], height: float) -> Packing | None:
    return job.frame.proved(sorted(found, key=lambda a: round(a.size[0], 6)), None, height)


def _timed_strip(job: _Job, inner: float, height: float, best: Packing, effort: Effort) -> Packing | None:
    """The narrowest proved packing of a timed search, or None when it found nothing."""
    known: dict[int, Packing | None] = {}

    def proved(find: Find | None) -> Packing | None:
        if find is None:
            return None
        if id(find) not in known:
            known.clear()
            loose = _arranged(job, find)
            known[id(find)] = job.frame.proved([tightened(loose), loose], None, height)
        return known[id(find)]

    def going_on(find: Find | None, share: float) -> bool:
        packing = proved(find)
        return effort.progress(packing if packing and packing.width < best.width else best, share)

    allowed = [blank.part.turns for blank in job.ready]
    find = search_strip(job.ready, allowed, inner + job.frame.spacing, effort.seconds, effort.seed, going_on)
    return proved(find)


def _arranged(job: _Job, find: Find) -> Arrangement:
    posed, corners = [], []
    for number, turn, x, y in find.placed:
        blank = job.ready[number]
        body = pose(blank, snapped(turn, blank.part.turns))
        posed.append(body)
        corners.append((x - body.origin[0], y - body.origin[1] - job.frame.spacing / 2))
    at = np.array(corners).reshape(-1, 2)
    at[:, 0] -= at[:, 0].min()
    return Arrangement(tuple(posed), np.maximum(at, 0.0))


def _quick_fits(job: _Job, width: float, height: float) -> Iterator[Arrangement]:
    if not job.copies or width <= 0 or height <= 0:
        return
    if job.copies == 1:
        yield from _single(job.ready[0], width, height)
        return
    if len(job.ready) == 1:
        yield from _regular_fits(job, width, height)
    turns = _turns(job, width, height)
    bench = _bench(job, turns, width, height)
    areas = [blank.area for blank in job.ready]
    laid = fullest(bench, ranked_orders(job.ready), width, height, areas, FIT_MS * WORK_A_MS)
    loose = _arrangement(bench, laid)
    yield loose
    if laid.missing:
        yield _topped_up(bench, tightened(loose), laid.missing, width, height)
        if not any(areas[n] * job.ready[n].part.count > width * height for n in laid.missing) and all(turns):
            yield from (a for a in _quick_strips(job, turns, height) if a.size[0] <= width + 1e-6)


def _regular_fits(job: _Job, width: float, height: float) -> Iterator[Arrangement]:
    """Lattices as they are, the best of them with more copies laid where they leave room."""
    blank = job.ready[0]
    count = blank.part.count
    found = []
    for lattice in _lattices(blank, width, height):
        posed, at = lattice.lay(width, height, count)
        found.append(Arrangement(tuple(posed), at))
        if len(posed) == count:
            yield found[-1]
    found.sort(key=lambda a: (-len(a.posed), a.size[0] * a.size[1]))
    for arrangement in found[:3]:
        turns = tuple(dict.fromkeys([*_turns_of(blank, width, height), *(p.turn for p in arrangement.posed)]))
        bench = _bench(job, [turns], width, height)
        missing = [0] * (count - len(arrangement.posed))
        yield arrangement
        yield _topped_up(bench, arrangement, missing, width, height)


def _topped_up(
    bench: Board, arrangement: Arrangement, missing: Sequence[int], width: float, height: float
) -> Arrangement:
    """`arrangement` with those of `missing` that still find room."""
    parts = {id(bench.all_tiles[tiles[0]].posed.blank): n for n, tiles in enumerate(bench.tiles) if tiles}
    fixed = [
        (bench.number(parts[id(posed.blank)], posed.turn), x, y)
        for posed, (x, y) in zip(arrangement.posed, arrangement.at.tolist(), strict=True)
    ]
    more = _arrangement(bench, lay(bench, missing, width, height, fixed))
    return Arrangement(arrangement.posed + more.posed, np.concatenate((arrangement.at, more.at)))


def _timed_fit(job: _Job, width: float, height: float, best: Packing, effort: Effort) -> Packing:
    """`best`, or a complete packing where a strip as high or as wide as the rectangle turned out short enough."""
    found: list[Packing] = []

    def going_on(packing: Packing | None, share: float) -> bool:
        if packing is not None and packing.complete and packing.width <= width + 1e-6:
            found.append(replace(packing, width=width))
            return False
        return effort.progress(best, share)

    inner = height - 2 * job.frame.margin
    empty = Packing(inf, height, ())
    last = _timed_strip(job, inner, height, empty, replace(effort, progress=going_on))
    if last is not None:
        going_on(last, 1.0)
    return found[0] if found else best


def _single(blank: Blank, width: float, height: float) -> list[Arrangement]:
    """One copy: in its least box, both ways, and in its narrowest turn."""
    turns = [*search_turns(blank), narrowest_turn(blank, height)]
    if blank.part.turns is None:
        base = squarest(blank)
        turns = [base, (base + 90.0) % 360.0, 0.0, 90.0, turns[-1]]
    some = fitting(blank, [t for t in turns if t is not None], width, height)
    return [Arrangement((pose(blank, turn),), np.zeros((1, 2))) for turn in some]


def _regular_rectangles(job: _Job, width: float, height: float) -> Iterator[Arrangement]:
    if len(job.ready) != 1 or job.copies < 3:
        return
    blank = job.ready[0]
    for lattice in _lattices(blank, width, height):
        for tall in _heights(job, _turns(job, width, height), height, steps=12):
            posed, at = lattice.lay(width, tall, blank.part.count)
            if len(posed) == blank.part.count:
                yield Arrangement(tuple(posed), at)


def _searched_rectangles(job: _Job, width: float, height: float) -> list[Arrangement]:
    turns = _turns(job, width, height)
    if not all(turns):
        return []
    heights = _heights(job, turns, height, steps=15)
    side = max(sqrt(_grown_boxes(job, turns)), sqrt(heights[-1]) * sqrt(heights[0])) / CELLS_A_SIDE
    bench = board(job.ready, turns, _cell(job, turns, side), heights[-1])
    orders = ranked_orders(job.ready)
    found = rectangles(bench, orders, heights, width, heights[-1], CANDIDATES_MS * WORK_A_MS)
    return [_arrangement(bench, laid) for laid in found]


def _grown_boxes(job: _Job, turns: Sequence[Sequence[float]]) -> float:
    """Area of all copies' least boxes, grown."""
    area = 0.0
    for blank, some in zip(job.ready, turns, strict=True):
        area += blank.part.count * min(float(np.prod(np.ptp(pose(blank, t).rings[0], axis=0))) for t in some)
    return area


def _heights(job: _Job, turns: Sequence[Sequence[float]], tallest: float, steps: int) -> list[float]:
    """Heights to try, from three times as wide as high to three times as high as wide."""
    if not all(turns):
        return []
    least = max(min(pose(b, t).height for t in some) for b, some in zip(job.ready, turns, strict=True))
    side = sqrt(_grown_boxes(job, turns))
    low, high = min(max(least, side / 3), tallest), min(tallest, max(side * 3, least))
    return [low * (high / low) ** (k / steps) for k in range(steps + 1)]


def _unlike(found: Sequence[Arrangement], limit: int) -> list[Arrangement]:
    """The smallest, then by area others that no chosen one matches in both directions."""
    ranked = sorted(((a.size, a) for a in found), key=lambda f: (round(f[0][0] * f[0][1], 6), f[0]))
    chosen: list[tuple[tuple[float, float], Arrangement]] = []
    for (width, height), arrangement in ranked:
        if not any(w <= width * 1.03 and h <= height * 1.03 for (w, h), _ in chosen):
            chosen.append(((width, height), arrangement))
        if len(chosen) == limit:
            break
    return [arrangement for _, arrangement in chosen]


def _arrangement(bench: Board, laid: Laid) -> Arrangement:
    cell = (bench.grid.cx, bench.grid.cy)
    posed = tuple(bench.all_tiles[t].posed for _, t, _, _ in laid.lying)
    return Arrangement(posed, np.array([(i, j) for _, _, i, j in laid.lying], dtype=float).reshape(-1, 2) * cell)


def _laid_area(arrangement: Arrangement) -> float:
    return sum(posed.blank.area for posed in arrangement.posed)


def _area_in(job: _Job, packing: Packing) -> float:
    areas = {blank.part.key: blank.area for blank in job.ready}
    return sum(areas[spot.key] for spot in packing.spots)
