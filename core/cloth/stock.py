"""The cloth that there is, and how rectangles are cut from it with a rotary cutter: strips first, then sub-cuts.

Terminology
    across, along   across the cloth from selvage to selvage (a stock's width), along the selvage (its height)
    blank           a rectangle that is wanted
    strip           a cut across the whole width of a stock; sub-cuts divide it into rectangles
    trimmed         a rectangle lower than its strip has its top cut off
    piece of stock  one of the `count` rectangles that a stock stands for
    whole           of an irregular scrap that is stuck to a mat as it is: a blank of just its size, its top up

Strips are filled first fit, highest first (E. G. Coffman, M. R. Garey, D. S. Johnson, R. E. Tarjan, SIAM J. Comput. 9
(1980)), with the rectangles in each of several ways round; scraps are used before larger cloth. Sizes: common practice.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Final, Literal

from clothpath.cloth.scraps import inscribed
from clothpath.curves import Box
from clothpath.design import GRAIN_TURNS, Grain
from clothpath.layout import CutFrom, Stock
from clothpath.regions import region_area
from clothpath.units import cutting_size, cutting_size_mm

__all__ = [
    "ENDLESS_MM",
    "Blank",
    "RulerName",
    "StockCuts",
    "Strip",
    "SubCut",
    "cuts",
    "is_whole",
    "may_turn",
    "missing",
    "rectangles",
    "stock_name",
    "stock_of",
    "told",
    "whole_size",
]

SLACK_MM: Final = 1e-6
"""Rounding in sums of sizes: a rectangle this much too large is still cut."""
SAME_MM: Final = 0.01
"""Sizes that differ by no more are the same."""
LEAST_LACK_MM2: Final = 1.0
"""A scrap that lacks less than this of its box is a rectangle."""
ENDLESS_MM: Final = 1e7
"""The height of yardage that can be had as wanted."""

RulerName = Literal["inch", "metric"]


@dataclass(frozen=True, slots=True)
class Blank:
    """A rectangle that is wanted, across and along the cloth in mm; `turns`: it may be cut with its height across.

    `scrap`: the index of the stock that is wanted as it is; None: any that takes the rectangle.
    """

    width: float
    height: float
    turns: bool
    scrap: int | None = None


@dataclass(frozen=True, slots=True)
class SubCut:
    """Blank number `rectangle`, cut from a strip: its left edge and its size across and along, in mm."""

    rectangle: int
    x: float
    width: float
    height: float
    turned: bool


@dataclass(frozen=True, slots=True)
class Strip:
    """A cut across the stock: its lower edge, its height, and what it is cut into, from the left."""

    y: float
    height: float
    subs: tuple[SubCut, ...]


@dataclass(frozen=True, slots=True)
class StockCuts:
    """What is cut from one piece of stock: which stock by its index, which piece of it from 1, the strips from below.

    Attributes:
        room: the part of the stock that is cut up, in its own coordinates.
        whole: whether it is an irregular scrap that is used as it is.
    """

    stock: int
    number: int
    room: Box
    strips: tuple[Strip, ...]
    whole: bool = False

    @property
    def length(self) -> float:
        """How much of the room's height the strips take, in mm."""
        return sum(strip.height for strip in self.strips)

    @property
    def begun_mm2(self) -> float:
        """The cloth that is used up: all of the room, or the length off the bolt."""
        return self.room.width * (self.length if self.room.height > ENDLESS_MM / 2 else self.room.height)


def stock_of(cloth: str, stock: Sequence[Stock]) -> tuple[tuple[int, Stock], ...]:
    """The stock of one cloth, by its key, each with its index among all stock."""
    return tuple((index, each) for index, each in enumerate(stock) if each.fabric == cloth)


def stock_name(stock: Sequence[Stock], index: int, number: int) -> str:
    """What a person calls one piece of that stock: "fat quarter 2"; with its size where two have one label."""
    own = stock[index]
    alike = [each for each in stock if each.fabric == own.fabric and each.label == own.label]
    across = cutting_size(own.width)
    size = f"{across} wide" if own.height is None else f"{across} x {cutting_size(own.height)}"
    told = f" ({size})" if len(alike) > 1 or not own.label else ""
    return (own.label or "cloth") + told + (f" {number}" if own.count > 1 else "")


def may_turn(grain: Grain) -> bool:
    """Whether a rectangle of cloth may be cut with its height across the cloth: if its grain allows quarter turns."""
    turns = GRAIN_TURNS[grain]
    return turns is None or {(turn + 90.0) % 360.0 for turn in turns} == set(turns)


@cache
def rectangles(stock: Stock) -> tuple[Box, ...]:
    """The rectangles that can be had whole from one piece of a stock, without its rim; several for a scrap."""
    if stock.outline is not None:
        return inscribed(stock.outline, stock.rim)
    height = ENDLESS_MM if stock.height is None else stock.height
    box = Box(stock.rim, stock.rim, stock.width - stock.rim, height - stock.rim)
    return (box,) if box.width > 0 and box.height > 0 else ()


def whole_size(stock: Stock) -> tuple[float, float] | None:
    """The size of the blank that takes an irregular scrap as it is; None for a rectangle of cloth."""
    if stock.outline is None or stock.height is None:
        return None
    lacks = stock.width * stock.height - region_area(stock.outline)
    return (stock.width, stock.height) if lacks > LEAST_LACK_MM2 else None


def is_whole(stock: Stock, cut: CutFrom) -> bool:
    """Whether what is cut from an irregular scrap is all of it, as it is."""
    size = whole_size(stock)
    return (
        size is not None and not cut.turned and abs(cut.box.width - size[0]) + abs(cut.box.height - size[1]) < SAME_MM
    )


def cuts(blanks: Sequence[Blank], stock: Sequence[tuple[int, Stock]]) -> tuple[StockCuts, ...] | None:
    """How to cut the blanks from the stock of one cloth; None where it does not suffice.

    Args:
        stock: each with the index that `StockCuts.stock` shall have.
    """
    best: tuple[StockCuts, ...] | None = None
    for ways in _ways_round(blanks):
        found = _first_fit(ways, stock)
        if found is not None and (best is None or _cost(found) < _cost(best)):
            best = found
    return best


def missing(blanks: Sequence[Blank], stock: Sequence[tuple[int, Stock]]) -> list[Blank]:
    """Those of the blanks that do not come out of the stock when the largest are cut first."""
    kept: list[Blank] = []
    lacking: list[Blank] = []
    for blank in sorted(blanks, key=lambda each: -each.width * each.height):
        fits = (not lacking or lacking[-1] != blank) and cuts([*kept, blank], stock) is not None
        (kept if fits else lacking).append(blank)
    return lacking


def _cost(plan: Sequence[StockCuts]) -> tuple[float, ...]:
    """Least cloth that must be bought or begun, then least length, then fewest strips."""
    return (
        round(sum(one.begun_mm2 for one in plan), 3),
        round(sum(one.length for one in plan), 3),
        sum(len(one.strips) for one in plan),
    )


@dataclass(frozen=True, slots=True)
class _Run:
    """Equal blanks by their numbers, as they shall lie on the cloth; those that may not be turned have but one way."""

    numbers: tuple[int, ...]
    width: float
    height: float
    turned: bool
    turns: bool
    scrap: int | None

    def other_way(self) -> _Run:
        return replace(self, width=self.height, height=self.width, turned=not self.turned) if self.turns else self

    def cuts(self, x: float, first: int, count: int) -> Iterator[SubCut]:
        """So many of them from the `first`, side by side from `x`."""
        for n, number in enumerate(self.numbers[first : first + count]):
            yield SubCut(number, x + n * self.width, self.width, self.height, self.turned)

    def without(self, count: int) -> _Run:
        return replace(self, numbers=self.numbers[count:])


def _ways_round(blanks: Sequence[Blank]) -> Iterator[list[_Run]]:
    equal: dict[Blank, list[int]] = {}
    for n, each in enumerate(blanks):
        equal.setdefault(each, []).append(n)
    upright = [
        _Run(tuple(numbers), each.width, each.height, False, each.turns and each.scrap is None, each.scrap)
        for each, numbers in equal.items()
    ]
    yield upright
    if any(each.turns for each in upright):
        yield [each.other_way() for each in upright]
        yield [each if each.height <= each.width else each.other_way() for each in upright]
        yield [each if each.height >= each.width else each.other_way() for each in upright]


class _Begun:
    """A piece of stock while strips are cut from it."""

    def __init__(self, stock: int, number: int, rooms: tuple[Box, ...], whole: Box | None) -> None:
        self.stock, self.number, self.rooms, self.whole = stock, number, rooms, whole
        self.room: Box | None = rooms[0] if len(rooms) == 1 and whole is None else None
        self.strips: list[tuple[float, float, list[SubCut]]] = []

    @property
    def top(self) -> float:
        return self.strips[-1][0] + self.strips[-1][1] if self.strips else 0.0

    def in_strips(self, run: _Run, since: int) -> int:
        """How many of the run, from its first, now lie in strips that were there, from number `since`."""
        room = self.room
        if room is None or run.scrap is not None:
            return 0
        laid, count = 0, len(run.numbers)
        for _, height, subs in self.strips[since:]:
            if run.height <= height + SLACK_MM:
                used = subs[-1].x + subs[-1].width
                fitting = min(math.floor((room.width + SLACK_MM - used) / run.width), count - laid)
                if fitting > 0:
                    subs.extend(run.cuts(used, laid, fitting))
                    laid += fitting
        return laid

    def in_a_new_strip(self, run: _Run) -> int:
        """How many of the run now lie in a strip of their own: 0 if there is no room for one."""
        if run.scrap is not None and (run.scrap != self.stock or self.strips):
            return 0
        room = self.room or self._snug(run)
        top = self.top
        if room is None or run.width > room.width + SLACK_MM or top + run.height > room.height + SLACK_MM:
            return 0
        self.room = room
        subs = list(run.cuts(0.0, 0, math.floor((room.width + SLACK_MM) / run.width)))
        self.strips.append((top, run.height, subs))
        return len(subs)

    def _snug(self, run: _Run) -> Box | None:
        """What of a scrap is cut up: all of it, or the smallest rectangle that takes what is cut from it first."""
        whole = self.whole
        if whole and not run.turned and max(abs(run.width - whole.width), abs(run.height - whole.height)) <= SLACK_MM:
            return whole
        fitting = [r for r in self.rooms if run.width <= r.width + SLACK_MM and run.height <= r.height + SLACK_MM]
        return min(fitting, key=lambda r: r.width * r.height, default=None)

    def done(self) -> StockCuts | None:
        if self.room is None or not self.strips:
            return None
        strips = tuple(Strip(y, height, tuple(subs)) for y, height, subs in self.strips)
        return StockCuts(self.stock, self.number, self.room, strips, self.room == self.whole)


def _first_fit(runs: Iterable[_Run], stock: Sequence[tuple[int, Stock]]) -> tuple[StockCuts, ...] | None:
    supply = sorted(stock, key=lambda each: (_size(each[1]), each[0]))
    begun = [
        _Begun(index, number, rooms, Box(0.0, 0.0, *size) if (size := whole_size(each)) else None)
        for index, each in supply
        if (rooms := rectangles(each)) or whole_size(each)
        for number in range(1, each.count + 1)
    ]
    for run in sorted(runs, key=lambda each: (each.scrap is None, -each.height, -each.width, each.numbers)):
        if not _all_laid(run, begun):
            return None
    return tuple(done for one in begun if (done := one.done()) is not None)


def _all_laid(run: _Run, begun: Sequence[_Begun]) -> bool:
    left = run
    looked = [0] * len(begun)
    while True:
        for _ in range(2 if run.turns else 1):
            for one, since in zip(begun, looked, strict=True):
                if left.numbers and len(one.strips) > since:
                    left = left.without(one.in_strips(left, since))
            left = left.other_way()
        if not left.numbers:
            return True
        looked = [len(one.strips) for one in begun]
        ways = (left, left.other_way()) if left.turns else (left,)
        laid = next((laid for one in begun for way in ways if (laid := one.in_a_new_strip(way))), 0)
        if not laid:
            return False
        left = left.without(laid)


def _size(stock: Stock) -> float:
    return max((box.width * box.height for box in rectangles(stock)), default=0.0)


def told(plan: StockCuts, ruler: RulerName, stock: Stock) -> tuple[str, ...]:
    """The strips in words, equal ones together: "1 strip 4 1/2 in by width of cloth, cut into 8 at 5 in".

    An irregular scrap has no strips across its width: "cut out 2 of 3 in x 4 in".
    """
    if plan.whole:
        return ("used as it is",)
    shown = cutting_size if ruler == "inch" else cutting_size_mm
    if stock.outline is not None:
        sizes = Counter(f"{shown(sub.width)} x {shown(sub.height)}" for strip in plan.strips for sub in strip.subs)
        return tuple(f"cut out {many} of {size}" for size, many in sizes.items())
    alike = Counter(
        (shown(strip.height), tuple((shown(sub.width), shown(sub.height)) for sub in strip.subs))
        for strip in plan.strips
    )
    lines = []
    for (height, subs), count in alike.items():
        parts = []
        for (width, trimmed), many in Counter(subs).items():
            parts.append(f"{many} at {width}" + ("" if trimmed == height else f" trimmed to {trimmed} high"))
        strips = f"{count} strip{'s' if count > 1 else ''} {height} by width of cloth"
        lines.append(f"{strips}, {'each ' if count > 1 else ''}cut into {', '.join(parts)}")
    return tuple(lines)
