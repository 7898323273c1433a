"""How much cloth a layout takes: rectangles, how to cut them, what is used and left, what to buy.

Terminology
    kits        how many times everything in the layout is cut
    surplus     the share that is bought on top, for shrinking and for mistakes
    running     by the yard or meter off the bolt, over the usable width
    web         paper-backed fusible web, which every fused rectangle needs in its own size

Cloth is bought up to the next 1/8 yard or 10 cm, plus 5 to 10 %; 40 in of its width are usable (common practice). Web
is 17 or 20 in wide (from memory). The yard: 0.9144 m, International Yard and Pound Agreement (1959).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from clothpath.cloth.stock import RulerName, StockCuts, cuts, may_turn, told
from clothpath.design import Fabric
from clothpath.layout import Layout, Stock, placed
from clothpath.regions import region_area

__all__ = ["ClothUse", "Rectangle", "Running", "cloth_uses", "running"]

USABLE_WIDTH_MM: Final = 1016.0
"""40 in, the width of cloth to plan on."""
WEB_WIDTH_MM: Final = 431.8
"""17 in, the narrowest common width of fusible web."""
YARD_MM: Final = 914.4
YARD_STEP: Final = Fraction(1, 8)
METER_STEP_MM: Final = 100.0
SLACK_MM: Final = 0.01
"""A length this little over a step is that step."""

Size = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A size to cut, across and along the cloth in mm, and how many of it."""

    width: float
    height: float
    count: int


@dataclass(frozen=True, slots=True)
class Running:
    """A length off the bolt: what is cut, in mm, and what to buy with the surplus."""

    width_mm: float
    cut_mm: float
    buy_yards: Fraction
    buy_mm: float

    @property
    def yards(self) -> str:
        """As it is asked for in a shop: "1 3/8 yd"."""
        whole, rest = divmod(self.buy_yards, 1)
        return f"{whole} {rest} yd" if whole and rest else f"{rest or whole} yd"

    @property
    def meters(self) -> str:
        """As it is asked for in a shop: "40 cm", "1.2 m"."""
        return f"{self.buy_mm / 10:.0f} cm" if self.buy_mm < 1000 else f"{self.buy_mm / 1000:.1f} m"


@dataclass(frozen=True, slots=True)
class ClothUse:
    """What one fabric takes, over all kits.

    Attributes:
        rectangles: the largest first.
        area_mm2: of the rectangles.
        pieces_mm2: of the pieces that come out of them.
        plan: what is cut from which cloth, strips first; by `told` in words.
        stock: what the plan's indices mean: the layout's stock, or yardage where that does not suffice.
        enough: whether the stock that the layout states suffices for all kits; True where it states none.
        cloth: what to buy where it comes off the bolt; None where it comes from pieces of stock.
        web: the fusible web to buy; None for bare cloth.
    """

    fabric: Fabric
    rectangles: tuple[Rectangle, ...]
    area_mm2: float
    pieces_mm2: float
    plan: tuple[StockCuts, ...]
    stock: tuple[Stock, ...]
    enough: bool
    cloth: Running | None
    web: Running | None

    @property
    def left_mm2(self) -> float:
        """What of the rectangles is not in a piece."""
        return self.area_mm2 - self.pieces_mm2

    def steps(self, ruler: RulerName) -> tuple[str, ...]:
        """The plan in words, one line a kind of strip, with the piece of stock where there are several."""
        lines = []
        for one in self.plan:
            stock = self.stock[one.stock]
            name = stock.label or "cloth"
            which = f"{name} {one.number}: " if stock.count > 1 else f"{name}: " if len(self.plan) > 1 else ""
            lines += [which + line for line in told(one, ruler)]
        return tuple(lines)


def running(lengths_mm: float, width_mm: float, surplus: float) -> Running:
    """What to buy for a length: with the surplus, up to the next 1/8 yd and the next 10 cm."""
    needed = lengths_mm * (1 + surplus)
    yards = math.ceil((needed - SLACK_MM) / (YARD_MM * float(YARD_STEP))) * YARD_STEP
    return Running(width_mm, lengths_mm, yards, math.ceil((needed - SLACK_MM) / METER_STEP_MM) * METER_STEP_MM)


def cloth_uses(
    layout: Layout, kits: int = 1, surplus: float = 0.05, web_width_mm: float = WEB_WIDTH_MM
) -> tuple[ClothUse, ...]:
    """What each fabric of a layout takes for so many kits, by fabric in their order; those not laid are left out.

    Raises:
        ValueError: kits is below 1, or the surplus is negative.
    """
    if kits < 1 or surplus < 0:
        raise ValueError("kits must be at least 1 and the surplus not negative")
    pieces = dict.fromkeys((fabric.key for fabric in layout.fabrics), 0.0)
    for each in placed(layout):
        pieces[each.piece.fabric] += region_area(each.piece.region) * layout.mats[each.mat].times * kits
    found = []
    for fabric in layout.fabrics:
        sizes = [
            swatch.cloth_size
            for mat in layout.mats
            for swatch in mat.swatches
            if swatch.fabric == fabric.key
            for _ in range(mat.times * kits)
        ]
        if sizes:
            found.append(_use(fabric, sizes, pieces[fabric.key], layout.stock, surplus, web_width_mm))
    return tuple(found)


def _use(
    fabric: Fabric, sizes: list[Size], pieces_mm2: float, stock: Sequence[Stock], surplus: float, web_width_mm: float
) -> ClothUse:
    turns = may_turn(fabric.grain)
    bolt = Stock(fabric.key, max(USABLE_WIDTH_MM, *(_least_across(size, turns) for size in sizes)), label="yardage")
    own = [(index, each) for index, each in enumerate(stock) if each.fabric == fabric.key]
    planned = cuts(sizes, turns, own) if own else None
    known = tuple(stock) if planned is not None else (bolt,)
    plan = planned if planned is not None else cuts(sizes, turns, [(0, bolt)]) or ()
    off_bolt = sum(one.length for one in plan if known[one.stock].height is None)
    counted = Counter((round(w, 3), round(h, 3)) for w, h in sizes)
    ranked = sorted(counted.items(), key=lambda item: (-item[0][0] * item[0][1], item[0]))
    return ClothUse(
        fabric,
        tuple(Rectangle(w, h, count) for (w, h), count in ranked),
        sum(w * h for w, h in sizes),
        pieces_mm2,
        plan,
        known,
        planned is not None or not own,
        running(off_bolt, known[plan[0].stock].width, surplus) if off_bolt else None,
        _web(sizes, surplus, web_width_mm) if fabric.preparation == "fused" else None,
    )


def _least_across(size: Size, turns: bool) -> float:
    return min(size) if turns else size[0]


def _web(sizes: Sequence[Size], surplus: float, width_mm: float) -> Running:
    """Web has no grain; a rectangle wider than the web both ways is pieced from lengths laid side by side."""
    fitting = [size for size in sizes if min(size) <= width_mm]
    plan = cuts(fitting, True, [(0, Stock("web", width_mm))]) or ()
    wide = sum(min(math.ceil(w / width_mm) * h, math.ceil(h / width_mm) * w) for w, h in sizes if min(w, h) > width_mm)
    return running(sum(one.length for one in plan) + wide, width_mm, surplus)
