"""Which turns of a part are worth trying.

A part that may lie at any turn is tried in the turns that suit its shape: the one with the smallest box, and even
steps from there; for regular rows also the turns that lay a side of its hull along the row.
"""

from collections.abc import Iterable
from functools import lru_cache
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from .outline import Blank, Posed, pose
from .parts import Points

__all__ = ["fitting", "lack", "narrowest_turn", "poses_in_rows", "row_turns", "search_turns", "snapped", "squarest"]

SEARCH_STEP_DEG: Final = 90.0
_SIDES: Final = 6
_SLACK_MM: Final = 1e-6
_HALVINGS: Final = 40
_COARSE_DEG: Final = 15.0


def search_turns(blank: Blank) -> tuple[float, ...]:
    """Turns for a search among several parts; quarter turns serve a short search as well as finer steps."""
    if blank.part.turns is not None:
        return tuple(dict.fromkeys(turn % 360.0 for turn in blank.part.turns))
    return _stepped(squarest(blank), SEARCH_STEP_DEG)


def row_turns(blank: Blank, step: float) -> tuple[float, ...]:
    """Turns for regular rows: steps of so many degrees and the longest sides of the hull, each with its half turn."""
    if blank.part.turns is not None:
        return search_turns(blank)
    hull, angles = _sides(blank)
    longest = [float(a) % 180.0 for a in angles[np.argsort(-hull, kind="stable")[:_SIDES]]]
    halves = [*longest, *_stepped(squarest(blank), step)[: int(180 / step)]]
    return tuple(dict.fromkeys(round((turn + half) % 360.0, 9) for half in (0.0, 180.0) for turn in halves))


def poses_in_rows(blank: Blank, width: float, height: float, step: float) -> list[Posed]:
    """The part in those turns for regular rows in which it fits."""
    return [pose(blank, turn) for turn in fitting(blank, row_turns(blank, step), width, height)]


def fitting(blank: Blank, turns: Iterable[float], width: float, height: float) -> tuple[float, ...]:
    """Those of `turns` in which the true part is no larger than `width` x `height` mm."""
    listed = tuple(turns)
    sizes: list[list[float]] = _extents(blank, np.array(listed, dtype=float)).tolist()
    return tuple(
        turn for turn, (w, h) in zip(listed, sizes, strict=True) if w <= width + _SLACK_MM and h <= height + _SLACK_MM
    )


def squarest(blank: Blank) -> float:
    """The turn in [0, 90) that gives the true part its smallest box.

    One side of the hull lies along that box (Freeman and Shapira 1975).
    """
    angles = np.unique(np.round(_sides(blank)[1] % 90.0, 9))
    areas = _extents(blank, angles).prod(axis=1)
    return float(angles[int(np.argmin(np.round(areas, 6)))])


def narrowest_turn(blank: Blank, height: float) -> float | None:
    """The allowed turn in which the part is least wide while no taller than `height` mm; None when it never fits.

    Between two turns that lay a side of the hull upright or level, width and height are each the projection of one
    diagonal, so each is least at an end: what counts are those turns, and where the height passes `height`.
    """
    if blank.part.turns is not None:
        turns = np.array(blank.part.turns, dtype=float) % 360.0
    else:
        turns = np.unique(np.round((_sides(blank)[1][:, None] + np.array([0.0, 90.0])).ravel() % 180.0, 9))
        turns = np.concatenate((turns, _passing(blank, np.append(turns, turns[0] + 180.0), height)))
    sizes = _extents(blank, turns)
    fits = sizes[:, 1] <= height + _SLACK_MM
    if not fits.any():
        return None
    return float(turns[int(np.argmin(np.where(fits, np.round(sizes[:, 0], 6), np.inf)))])


def lack(blank: Blank, width: float, height: float) -> float:
    """By how many mm the part is too large for `width` x `height` mm in its best turn; 0 when it fits."""
    turns = [*search_turns(blank), *row_turns(blank, _COARSE_DEG)]
    odd = narrowest_turn(blank, height)
    sizes = _extents(blank, np.array([*turns, *([] if odd is None else [odd])]))
    least = float((sizes - np.array([width, height])).max(axis=1).clip(0.0).min())
    return 0.0 if least <= _SLACK_MM else least


def snapped(turn: float, allowed: tuple[float, ...] | None) -> float:
    """The allowed turn nearest to `turn`."""
    if allowed is None:
        return turn % 360.0
    return min(allowed, key=lambda a: abs((turn - a + 180.0) % 360.0 - 180.0))


@lru_cache(maxsize=512)
def _hull(blank: Blank) -> Points:
    """The convex hull of the true part, the first corner again at the end."""
    return np.asarray(shapely.get_coordinates(shapely.convex_hull(shapely.linestrings(blank.part.outer))))


def _extents(blank: Blank, turns: Points) -> Points:
    """Width and height of the true part in each of the turns, (n, 2); quarter turns are exact."""
    hull = _hull(blank)
    angles = np.radians(turns)
    quarter = turns % 90.0 == 0.0
    cos = np.where(quarter, np.round(np.cos(angles)), np.cos(angles))
    sin = np.where(quarter, np.round(np.sin(angles)), np.sin(angles))
    x, y = hull[:, :1], hull[:, 1:]
    return np.stack((np.ptp(x * cos - y * sin, axis=0), np.ptp(x * sin + y * cos, axis=0)), axis=1)


def _sides(blank: Blank) -> tuple[Points, Points]:
    """Length of each side of the hull, and the turn that lays it along the x axis."""
    edges = np.diff(_hull(blank), axis=0)
    return np.hypot(edges[:, 0], edges[:, 1]), -np.degrees(np.arctan2(edges[:, 1], edges[:, 0]))


def _passing(blank: Blank, ends: Points, height: float) -> Points:
    """Turns between neighbors of `ends` where the part becomes just `height` mm tall, found by halving."""

    def too_tall(turns: Points) -> NDArray[np.bool_]:
        return np.asarray(_extents(blank, turns)[:, 1] > height)

    tall = too_tall(ends)
    switches = np.nonzero(tall[:-1] != tall[1:])[0]
    fits, fails = np.where(tall[:-1], ends[1:], ends[:-1])[switches], np.where(tall[:-1], ends[:-1], ends[1:])[switches]
    both = np.nonzero(~tall[:-1] & ~tall[1:])[0]
    middle = (ends[both] + ends[both + 1]) / 2
    peaks = too_tall(middle) if len(both) else np.zeros(0, dtype=bool)
    fits = np.concatenate((fits, ends[both][peaks], ends[both + 1][peaks]))
    fails = np.concatenate((fails, middle[peaks], middle[peaks]))
    for _ in range(_HALVINGS if len(fits) else 0):
        middle = (fits + fails) / 2
        tall = too_tall(middle)
        fits, fails = np.where(tall, fits, middle), np.where(tall, middle, fails)
    return fits


def _stepped(base: float, step: float) -> tuple[float, ...]:
    return tuple((base + step * k) % 360.0 for k in range(round(360.0 / step)))
