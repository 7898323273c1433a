"""Lines that were meant to be in a file against the lines that are in it: which is which, and how far off each is.

Terminology
    meant       a line as it was to be; found: a line as it was read back
    pair        a meant line and the found line that stands for it; each line is in one pair at most
    lost        meant and not found; added: found and not meant
    features    what lines are told apart by: the sides of the box, and area over length
    distortion  one map of the whole file under which the found lines fit: a shift, another scale, a turn, a flip

Pairs are made nearest first. Where lines do not fit as they are but fit under a distortion, they are paired under it,
so that a file at the wrong scale is told as that and not as so many lost lines; their deviations stay as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from clothpath.curves import Floats, Path, box_of
from clothpath.fitting.closeness import Chains, Indices, chains, deviations, greatest_deviation

__all__ = ["NEAR_MM", "Compared", "Distortion", "compared", "doubles"]

NEAR_MM: Final = 10.0
"""A line whose box is farther than this from where it was meant to be is another line."""
TIGHT_MM: Final = 0.3
"""Lines whose boxes agree this well are the same line."""
ROUGH_MM: Final = 0.02
"""Tolerance of the chains by which lines are told apart."""
EVEN: Final = 0.002
"""Scales along x and y that differ by less than this part are one scale."""
VERY_NEAR: Final = 0.2
"""A bound below this part of the budget is taken for the deviation itself."""
FINE: Final = 0.1
"""Tolerance of the chains by which deviations are measured, as a part of the budget."""


@dataclass(frozen=True, slots=True)
class Distortion:
    """How the whole file differs from what was meant: first a flip x -> -x, then quarter turns, scales, a shift.

    Attributes:
        scale_x, scale_y: found size over meant size; 1 if the difference is within the tolerance of the chains.
        quarters: counterclockwise.
    """

    scale_x: float = 1.0
    scale_y: float = 1.0
    quarters: int = 0
    flipped: bool = False

    @property
    def keeps_size(self) -> bool:
        """Whether it does not scale."""
        return self.scale_x == self.scale_y == 1

    @property
    def even(self) -> bool:
        """Whether it scales alike in both directions."""
        return abs(self.scale_x / self.scale_y - 1) < EVEN


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """The outcome of a comparison.

    Attributes:
        pairs: indices of the meant and of the found line, in the order of the meant ones.
        deviations: of each pair, in mm; off by at most a fifth of the budget, and never too small by more than a tenth.
            Empty under a distortion, which says it for all of them.
        worst: the largest deviation of any pair, likewise; 0 if there is none.
        lost, added: indices of the meant and of the found lines that are in no pair.
        box_error: the largest difference between the sides of the box of all, in mm.
        distortion: under which the lines were paired; None: as they are.
    """

    pairs: tuple[tuple[int, int], ...]
    deviations: tuple[float, ...]
    worst: float
    lost: tuple[int, ...]
    added: tuple[int, ...]
    box_error: float
    distortion: Distortion | None


def compared(meant: Sequence[Path], found: Sequence[Path], budget_mm: float) -> Compared:
    """Pair the lines and measure the deviation of each pair.

    Raises:
        ValueError: there are no lines on either side.
    """
    rough = chains([*meant, *found], ROUGH_MM)
    features = np.column_stack((rough.boxes, np.abs(rough.area) / np.maximum(rough.length, 1e-12)))
    wanted, got = features[: len(meant)], features[len(meant) :]
    pairs, tight = _paired(wanted, got)
    distortion = None
    if tight < max(len(meant), len(found)):
        for candidate in _distortions(wanted, got):
            other_pairs, other_tight = _paired(wanted, _undone(got, wanted, candidate))
            if other_tight > tight:
                pairs, tight, distortion = other_pairs, other_tight, candidate
    pairs = sorted(pairs)
    taken_meant, taken_found = {i for i, _ in pairs}, {j for _, j in pairs}
    paths = [(meant[i], found[j]) for i, j in pairs]
    off = _off(paths, budget_mm) if distortion is None else []
    return Compared(
        tuple(pairs),
        tuple(off),
        max(off, default=0.0) if distortion is None else _worst(paths, budget_mm),
        tuple(i for i in range(len(meant)) if i not in taken_meant),
        tuple(j for j in range(len(found)) if j not in taken_found),
        float(np.abs(_exact_whole(meant, wanted) - _exact_whole(found, got)).max()),
        distortion,
    )


def doubles(lines: Sequence[Path], within_mm: float) -> tuple[tuple[int, int], ...]:
    """Pairs of lines that run in the same place: their indices, the earlier one first."""
    if len(lines) < 2:
        return ()
    rough = chains(lines, ROUGH_MM)
    features = np.column_stack((rough.boxes, np.abs(rough.area) / np.maximum(rough.length, 1e-12)))
    one, two = _near(features, features, TIGHT_MM)
    likely = [(i, j) for i, j in zip(one.tolist(), two.tolist(), strict=True) if i < j]
    off = _off([(lines[i], lines[j]) for i, j in likely], within_mm)
    return tuple(sorted(pair for pair, distance in zip(likely, off, strict=True) if distance <= within_mm))


def _near(wanted: Floats, got: Floats, limit: float) -> tuple[Indices, Indices]:
    """Indices of all features of the two sets that differ by at most `limit`."""
    centers = [shapely.points((each[:, 0] + each[:, 2]) / 2, (each[:, 1] + each[:, 3]) / 2) for each in (wanted, got)]
    i, j = shapely.STRtree(centers[1]).query(centers[0], predicate="dwithin", distance=limit * 2)
    close = np.abs(wanted[i] - got[j]).max(axis=1) <= limit
    return i[close], j[close]


def _paired(wanted: Floats, got: Floats) -> tuple[list[tuple[int, int]], int]:
    """Pairs of indices, nearest first and each index once; and how many of them are tight."""
    i, j = _near(wanted, got, NEAR_MM)
    cost = np.abs(wanted[i] - got[j]).max(axis=1)
    free_i, free_j = [True] * len(wanted), [True] * len(got)
    pairs: list[tuple[int, int]] = []
    tight = 0
    order = np.lexsort((j, i, cost))
    for a, b, distance in zip(i[order].tolist(), j[order].tolist(), cost[order].tolist(), strict=True):
        if free_i[a] and free_j[b]:
            free_i[a] = free_j[b] = False
            pairs.append((a, b))
            tight += distance <= TIGHT_MM
    return pairs, tight


def _whole(features: Floats) -> Floats:
    """The box of all: left, bottom, right, top."""
    return np.append(features[:, :2].min(axis=0), features[:, 2:4].max(axis=0))


def _exact_whole(paths: Sequence[Path], features: Floats) -> Floats:
    """The exact box of all, from the paths that can reach its sides."""
    near = np.abs(features[:, :4] - _whole(features)).min(axis=1) <= 2 * ROUGH_MM
    box = box_of(paths[n] for n in np.flatnonzero(near).tolist())
    return np.array((box.left, box.bottom, box.right, box.top))


def _distortions(wanted: Floats, got: Floats) -> list[Distortion]:
    """Flips and quarter turns, each with the scales that make the boxes of all agree."""
    found: list[Distortion] = []
    (left, bottom, right, top), its = _whole(wanted), _whole(got)
    sizes = np.maximum((right - left, top - bottom), 1e-9)
    its_sizes = its[2:] - its[:2]
    for flipped in (False, True):
        for quarters in range(4):
            mine = sizes[::-1] if quarters % 2 else sizes
            scale = np.where(np.abs(its_sizes - mine) <= 2 * ROUGH_MM, 1.0, np.maximum(its_sizes / mine, 1e-9))
            found.append(Distortion(float(scale[0]), float(scale[1]), quarters, flipped))
    return found


def _undone(got: Floats, wanted: Floats, by: Distortion) -> Floats:
    """The features of the found lines without the distortion, the box of all where it was meant to be."""
    scale = np.array((by.scale_x, by.scale_y, by.scale_x, by.scale_y))
    left, bottom, right, top = (got[:, :4] / scale).T
    corners = np.stack((left + 1j * bottom, right + 1j * top)) * 1j**-by.quarters
    if by.flipped:
        corners = -corners.conj()
    x, y = np.sort(corners.real, axis=0), np.sort(corners.imag, axis=0)
    x, y = x - x.min() + wanted[:, 0].min(), y - y.min() + wanted[:, 1].min()
    return np.column_stack((x[0], y[0], x[1], y[1], got[:, 4] / np.sqrt(by.scale_x * by.scale_y)))


def _off(pairs: Sequence[tuple[Path, Path]], budget_mm: float) -> list[float]:
    """The deviation of each pair.

    Where two paths have the same segments, no point of one is farther from the other than the control points are from
    each other (a Bézier curve lies in the convex hull of its control points); that settles pairs that are very near.
    """
    off = [_hull_bound(a, b) for a, b in pairs]
    unsettled = [n for n, bound in enumerate(off) if bound > budget_mm * VERY_NEAR]
    if unsettled:
        found = deviations(*_sides([pairs[n] for n in unsettled], budget_mm), budget_mm)
        for n, distance in zip(unsettled, found.tolist(), strict=True):
            off[n] = distance
    return off


def _worst(pairs: Sequence[tuple[Path, Path]], budget_mm: float) -> float:
    """The largest deviation of any pair; those that cannot be it by the hulls of their curves are not looked into."""
    at_most = [_hull_bound(a, b) for a, b in pairs]
    first = max(range(len(pairs)), key=at_most.__getitem__)
    found = greatest_deviation(*_sides([pairs[first]], budget_mm))
    others = [pair for n, pair in enumerate(pairs) if n != first and at_most[n] > found]
    return max(found, greatest_deviation(*_sides(others, budget_mm))) if others else found


def _sides(pairs: Sequence[tuple[Path, Path]], budget_mm: float) -> tuple[Chains, Chains]:
    """The chains of either side of the pairs."""
    one, other = zip(*pairs, strict=True)
    return chains(one, budget_mm * FINE), chains(other, budget_mm * FINE)


def _hull_bound(a: Path, b: Path) -> float:
    """The largest distance between control points, infinite if the segments are not of the same kinds."""
    if type(a) is not type(b) or not np.array_equal(a.straight, b.straight):
        return float("inf")
    return float(max(np.abs(a.nodes - b.nodes).max(), abs(a.end - b.end)))
