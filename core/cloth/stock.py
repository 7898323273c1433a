"""The cloth that there is, and how rectangles are cut from it with a rotary cutter: strips first, then sub-cuts.

Terminology
    across, along   across the cloth from selvage to selvage (a stock's width), along the selvage (its height)
    strip           a cut across the whole width of a stock; sub-cuts divide it into rectangles
    trimmed         a rectangle lower than its strip has its top cut off
    piece of stock  one of the `count` rectangles that a stock stands for

Strips are filled first fit, highest first (E. G. Coffman, M. R. Garey, D. S. Johnson, R. E. Tarjan, SIAM J. Comput. 9
(1980)), with the rectangles in each of several ways round; scraps are used before larger cloth. Sizes: common practice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

from clothpath.cloth.scraps import inscribed
from clothpath.curves import Box
from clothpath.design import GRAIN_TURNS, Grain
from clothpath.layout import Stock
from clothpath.units import cutting_size, cutting_size_mm

__all__ = ["RulerName", "StockCuts", "Strip", "SubCut", "cuts", "may_turn", "rectangles", "told"]

SLACK_MM: Final = 1e-6
"""Rounding in sums of sizes: a rectangle this much too large is still cut."""
ENDLESS_MM: Final = 1e7
"""The height of yardage that can be had as wanted."""

RulerName = Literal["inch", "metric"]
Size = tuple[float, float]


@dataclass(frozen=True, slots=True)
class SubCut:
    """Rectangle number `rectangle`, cut from a strip: its left edge and its size across and along, in mm."""

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
    """

    stock: int
    number: int
    room: Box
    strips: tuple[Strip, ...]

    @property
    def length(self) -> float:
        """How much of the room's height the strips take, in mm."""
        return sum(strip.height for strip in self.strips)


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


def cuts(sizes: Sequence[Size], turns: bool, stock: Sequence[tuple[int, Stock]]) -> tuple[StockCuts, ...] | None:
    """How to cut rectangles of these sizes (across, along) from the stock; None where it does not suffice.

    Args:
        turns: whether a rectangle may be cut with its height across the cloth.
        stock: the stock of one fabric, each with the index that `StockCuts.stock` shall have.
    """
    best: tuple[StockCuts, ...] | None = None
    for ways in _ways_round(sizes, turns):
        found = _first_fit(ways, turns, stock)
        if found is not None and (best is None or _cost(found) < _cost(best)):
            best = found
    return best


def _cost(plan: Sequence[StockCuts]) -> tuple[float, ...]:
    """Least cloth that must be bought or begun, then least length, then fewest strips."""
    begun = sum(one.room.width * (one.length if one.room.height > ENDLESS_MM / 2 else one.room.height) for one in plan)
    return round(begun, 3), round(sum(one.length for one in plan), 3), sum(len(one.strips) for one in plan)


@dataclass(frozen=True, slots=True)
class _Blank:
    """A rectangle to be cut, as it shall lie on the cloth."""

    number: int
    width: float
    height: float
    turned: bool

    def other_way(self) -> _Blank:
        return _Blank(self.number, self.height, self.width, not self.turned)


def _ways_round(sizes: Sequence[Size], turns: bool) -> Iterable[list[_Blank]]:
    upright = [_Blank(n, width, height, False) for n, (width, height) in enumerate(sizes)]
    yield upright
    if turns:
        yield [each.other_way() for each in upright]
        yield [each if each.height <= each.width else each.other_way() for each in upright]
        yield [each if each.height >= each.width else each.other_way() for each in upright]


class _Begun:
    """A piece of stock while strips are cut from it."""

    def __init__(self, stock: int, number: int, rooms: tuple[Box, ...]) -> None:
        self.stock, self.number, self.rooms = stock, number, rooms
        self.room: Box | None = rooms[0] if len(rooms) == 1 else None
        self.strips: list[tuple[float, float, list[SubCut]]] = []

    @property
    def top(self) -> float:
        return self.strips[-1][0] + self.strips[-1][1] if self.strips else 0.0

    def in_a_strip(self, blank: _Blank) -> bool:
        for _, height, subs in self.strips:
            used = subs[-1].x + subs[-1].width
            if self.room and blank.height <= height + SLACK_MM and used + blank.width <= self.room.width + SLACK_MM:
                subs.append(SubCut(blank.number, used, blank.width, blank.height, blank.turned))
                return True
        return False

    def in_a_new_strip(self, blank: _Blank) -> bool:
        room = self.room or self._snug(blank)
        top = self.top
        if room is None or blank.width > room.width + SLACK_MM or top + blank.height > room.height + SLACK_MM:
            return False
        self.room = room
        self.strips.append((top, blank.height, [SubCut(blank.number, 0.0, blank.width, blank.height, blank.turned)]))
        return True

    def _snug(self, blank: _Blank) -> Box | None:
        """The rectangle of a scrap that is cut up: the smallest that takes what is cut from it first."""
        fitting = [r for r in self.rooms if blank.width <= r.width + SLACK_MM and blank.height <= r.height + SLACK_MM]
        return min(fitting, key=lambda r: r.width * r.height, default=None)

    def done(self) -> StockCuts | None:
        if self.room is None or not self.strips:
            return None
        strips = tuple(Strip(y, height, tuple(subs)) for y, height, subs in self.strips)
        return StockCuts(self.stock, self.number, self.room, strips)


def _first_fit(
    blanks: Iterable[_Blank], turns: bool, stock: Sequence[tuple[int, Stock]]
) -> tuple[StockCuts, ...] | None:
    supply = sorted(stock, key=lambda each: (_size(each[1]), each[0]))
    begun = [
        _Begun(index, number, rooms)
        for index, each in supply
        if (rooms := rectangles(each))
        for number in range(1, each.count + 1)
    ]
    for blank in sorted(blanks, key=lambda each: (-each.height, -each.width, each.number)):
        ways = (blank, blank.other_way()) if turns else (blank,)
        if not any(one.in_a_strip(way) for way in ways for one in begun if one.strips) and not any(
            one.in_a_new_strip(way) for one in begun for way in ways
        ):
            return None
    return tuple(done for one in begun if (done := one.done()) is not None)


def _size(stock: Stock) -> float:
    return max((box.width * box.height for box in rectangles(stock)), default=0.0)


def told(plan: StockCuts, ruler: RulerName) -> tuple[str, ...]:
    """The strips in words, equal ones together: "1 strip 4 1/2 in by width of cloth, cut into 8 at 5 in"."""
    shown = cutting_size if ruler == "inch" else cutting_size_mm
    alike = Counter(
        (shown(strip.height), tuple((shown(sub.width), shown(sub.height)) for sub in strip.subs))
        for strip in plan.strips
    )
    lines = []
    for (height, subs), count in alike.items():
        parts = []
        for (width, trimmed), many in Counter(subs).items():
            parts.append(f"{many} at {width}" + ("" if trimmed == height else f" trimmed to {trimmed}"))
        strips = f"{count} strip{'s' if count > 1 else ''} {height} by width of cloth"
        lines.append(f"{strips}, {'each ' if count > 1 else ''}cut into {', '.join(parts)}")
    return tuple(lines)
