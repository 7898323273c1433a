"""Where on an outline the blade may come down: on a straight, never at a corner.

Terminology
    start       the point of an outline at which it is begun and ended
    turn        how far the direction of an outline swings, in radians, along a stretch about a point; corners count in
                full, a straight has none
    run         the stretch about a start that shall be straight, so that the blade is in line when the cut closes

Source: splitting a Bézier curve, P. de Casteljau's algorithm, in G. Farin, Curves and Surfaces for CAGD (5th ed.,
2002), ch. 4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from clothpath.beziers import halves
from clothpath.curves import Outline, Points, cubics

__all__ = ["Start", "restarted", "starts", "straightest"]

RUN_MM: Final = 3.0
"""How far a start shall be from the next corner on either side: three times the usual overcut of 1 mm."""
RUN_SHARE: Final = 1 / 12
"""On small outlines the run is this share of the way round instead."""
SLACK_RAD: Final = np.radians(5.0)
"""A start is as good as the straightest one if its run turns no more than this beyond that one's."""
MOST_STARTS: Final = 8
"""How many starts are offered on one outline, spread along it."""
DECIMALS: Final = 9
"""Turns are told apart to so many digits, so that equal ones stay equal in whatever company they are computed."""
SAMPLES: Final = 8
"""Places looked at on each segment."""

Floats: TypeAlias = NDArray[np.float64]
_T: Final = np.arange(SAMPLES + 1) / SAMPLES


@dataclass(frozen=True, slots=True)
class Start:
    """A place on an outline.

    Attributes:
        segment, t: the segment and the parameter in [0, 1) on it.
        point: where that is.
        turn: radians that the outline swings along the run about it.
    """

    segment: int
    t: float
    point: complex
    turn: float


def starts(outlines: Sequence[Outline]) -> list[tuple[Start, ...]]:
    """For each outline its straightest places, at most `MOST_STARTS`, in the order in which they come along it."""
    if not outlines:
        return []
    sizes = np.array([len(outline) for outline in outlines])
    last = np.cumsum(sizes)
    points, along, turned = _sampled(outlines, last - sizes, last - 1)
    run = np.minimum(RUN_MM, along.way * RUN_SHARE)
    here = along.at[:, :-1]
    reach = np.repeat(run, sizes)[:, None]
    laps, swings = along.laps(sizes), turned.laps(sizes)
    middle = np.repeat(np.cumsum(along.way) * 3 - along.way * 2, sizes)[:, None] + here
    turn = np.round(np.interp(middle + reach, laps, swings) - np.interp(middle - reach, laps, swings), DECIMALS)
    found = []
    for rows in map(slice, (last - sizes).tolist(), last.tolist()):
        found.append(_spread(points[rows, :-1].ravel(), here[rows].ravel(), turn[rows].ravel()))
    return found


def _spread(points: Points, here: Floats, turn: Floats) -> tuple[Start, ...]:
    good = np.flatnonzero(turn <= turn.min() + SLACK_RAD)
    if len(good) > MOST_STARTS:
        evenly = np.linspace(here[good[0]], here[good[-1]], MOST_STARTS)
        good = good[np.unique(np.searchsorted(here[good], evenly).clip(max=len(good) - 1))]
    return tuple(
        Start(i // SAMPLES, i % SAMPLES / SAMPLES, place, bend)
        for i, place, bend in zip(good.tolist(), points[good].tolist(), turn[good].tolist(), strict=True)
    )


def straightest(offered: Sequence[Start]) -> Start:
    """The one whose run turns least; the first of equals."""
    return min(offered, key=lambda start: start.turn)


def restarted(outline: Outline, start: Start) -> Outline:
    """The same outline begun at `start`; the segment that holds it is split exactly."""
    rows, straight, at = cubics(outline), outline.straight, start.segment
    if start.t == 0:
        order = np.roll(np.arange(len(rows)), -at)
        return Outline(rows[order, :3], straight[order], complex(rows[at, 0]))
    before, after = halves(rows[at].tolist(), start.t)
    turned = np.concatenate(([after], rows[at + 1 :], rows[:at], [before]))
    flags = np.concatenate((straight[at:], straight[: at + 1]))
    return Outline(turned[:, :3], flags, complex(turned[0, 0]))


@dataclass(frozen=True, eq=False, slots=True)
class _Mileage:
    """What adds up along the outlines: (n, SAMPLES + 1), counted from each outline's own first row; `way` is a lap."""

    at: Floats
    way: Floats

    def laps(self, sizes: NDArray[np.intp]) -> Floats:
        """Three laps of each outline in turn, one running sum over all, so that a stretch may pass the beginning."""
        last = np.cumsum(sizes).tolist()
        before = (np.cumsum(self.way) * 3 - self.way * 3).tolist()
        parts = []
        for first, end, start, lap in zip([0, *last], last, before, self.way.tolist(), strict=False):
            one = self.at[first:end].ravel() + start
            parts += [one, one + lap, one + 2 * lap]
        return np.concatenate(parts)

    @classmethod
    def of(cls, steps: Floats, first: NDArray[np.intp], last: NDArray[np.intp]) -> _Mileage:
        """From what each sample adds to the one before; what an outline's first adds joins it to its last."""
        total = np.cumsum(steps).reshape(steps.shape)
        base = total[first, 0] - steps[first, 0]
        return cls(total - np.repeat(base, last - first + 1)[:, None], total[last, -1] - base)


def _sampled(
    outlines: Sequence[Outline], first: NDArray[np.intp], last: NDArray[np.intp]
) -> tuple[Points, _Mileage, _Mileage]:
    """(n, SAMPLES + 1) points on all segments, the way to each and the turn up to each."""
    nodes = np.concatenate([outline.nodes for outline in outlines])
    ends = np.roll(nodes[:, 0], -1)
    ends[last] = nodes[first, 0]
    p = np.concatenate((nodes, ends[:, None]), axis=1)
    s = 1 - _T
    points: Points = p @ np.stack((s**3, 3 * s**2 * _T, 3 * s * _T**2, _T**3)).astype(np.complex128)
    chords = np.diff(points, axis=1)
    d = np.diff(p, axis=1) @ np.stack((s**2, 2 * s * _T, _T**2)).astype(np.complex128)
    lame = np.abs(d) < 1e-9 * np.abs(chords).sum(axis=1)[:, None]
    if lame.any():  # control points that coincide: the chord tells the direction
        d = np.where(lame, np.concatenate((chords, chords[:, -1:]), axis=1), d)
    come = np.roll(d.ravel(), 1).reshape(d.shape)
    come[first, 0] = d[last, -1]
    turns = np.abs(np.angle(d * come.conj()))
    ways = np.zeros(points.shape)
    ways[:, 1:] = np.abs(chords)
    return points, _Mileage.of(ways, first, last), _Mileage.of(turns, first, last)
