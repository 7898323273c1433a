"""How much cloth layouts take: rectangles, how to cut them, what is used and left, what to buy.

Terminology
    taking      what is taken of one fabric: the rectangles, and the area of the pieces in them
    kits        how many times everything is cut
    surplus     the share that is bought on top, for shrinking and for mistakes
    running     by the yard or meter off the bolt, over the usable width
    web         paper-backed fusible web, which every fused rectangle needs in its own size
    begun       cloth from which something is cut: all of a piece of stock, or the length off the bolt

Cloth is bought up to the next 1/8 yard or 10 cm, plus 5 to 10 %; 40 in of its width are usable (common practice). Web
is 17 or 20 in wide (from memory). The yard: 0.9144 m, International Yard and Pound Agreement (1959).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, Literal

from clothpath.cloth.stock import Blank, RulerName, StockCuts, cuts, is_whole, may_turn, stock_name, stock_of, told
from clothpath.design import Fabric
from clothpath.findings import together
from clothpath.layout import Layout, Stock, placed
from clothpath.regions import region_area
from clothpath.units import cutting_size

__all__ = [
    "SURPLUS",
    "USABLE_WIDTH_MM",
    "WEB_WIDTHS_MM",
    "ClothUse",
    "FabricUse",
    "Rectangle",
    "Running",
    "Supply",
    "Taking",
    "cloth_uses",
    "running",
    "shortage",
    "takings",
    "wanting_words",
    "web_uses",
]

USABLE_WIDTH_MM: Final = 1016.0
"""40 in, the width of cloth to plan on."""
WEB_WIDTHS_MM: Final = (431.8, 508.0)
"""17 and 20 in, between which the common widths of fusible web lie."""
SURPLUS: Final = 0.05
YARD_MM: Final = 914.4
YARD_STEP: Final = Fraction(1, 8)
METER_STEP_MM: Final = 100.0
SLACK_MM: Final = 0.01
"""A length this little over a step is that step."""

Size = tuple[float, float]

Supply = Literal["bolt", "stock", "both", "short"]
"""Where a cloth comes from: all of it off the bolt, all from pieces that are there, some from each; or the stock that
is stated does not suffice, and all of it must be bought off the bolt."""


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
class Taking:
    """What one kit takes of one fabric.

    Attributes:
        sizes: each rectangle across and along the cloth.
        pieces_mm2: of the pieces in all of them.
        scraps: the first of the rectangles are the boxes round scraps that are used as they are: of which stock.
    """

    fabric: Fabric
    sizes: tuple[Size, ...]
    pieces_mm2: float
    scraps: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class FabricUse:
    """What one fabric takes, over all kits.

    Attributes:
        rectangles: the largest first.
        wholes: what the irregular scraps are called that are used as they are.
        area_mm2: of the rectangles and the scraps.
        pieces_mm2: of the pieces that come out of them.
    """

    fabric: Fabric
    rectangles: tuple[Rectangle, ...]
    wholes: tuple[str, ...]
    area_mm2: float
    pieces_mm2: float


@dataclass(frozen=True, slots=True)
class ClothUse:
    """What is cut from one cloth, over all kits.

    Attributes:
        parts: the fabrics that are cut from it: several where one cloth is treated in several ways.
        plan: what is cut from which piece of cloth, strips first; by `steps` in words.
        stock: what the plan's indices mean: the stock that is stated, or yardage where that does not suffice.
        supply: where it comes from.
        cloth: what to buy off the bolt; None where all of it comes from pieces of stock.
    """

    parts: tuple[FabricUse, ...]
    plan: tuple[StockCuts, ...]
    stock: tuple[Stock, ...]
    supply: Supply
    cloth: Running | None

    @property
    def key(self) -> str:
        """The key of the cloth."""
        return self.parts[0].fabric.cloth_key

    @property
    def area_mm2(self) -> float:
        """Of the rectangles."""
        return sum(part.area_mm2 for part in self.parts)

    @property
    def pieces_mm2(self) -> float:
        """Of the pieces that come out of the rectangles."""
        return sum(part.pieces_mm2 for part in self.parts)

    @property
    def left_mm2(self) -> float:
        """What of the rectangles is not in a piece."""
        return self.area_mm2 - self.pieces_mm2

    @property
    def begun_mm2(self) -> float:
        """The cloth from which the rectangles are cut: whole pieces of stock, or the length off the bolt."""
        return sum(_scrap_mm2(self.stock[one.stock]) if one.whole else one.begun_mm2 for one in self.plan)

    def steps(self, ruler: RulerName) -> tuple[str, ...]:
        """The plan in words, one line a kind of strip, with the piece of stock where there are several."""
        lines = []
        for one in self.plan:
            own = self.stock[one.stock]
            named = own.outline is not None or own.count > 1 or len(self.plan) > 1
            which = f"{stock_name(self.stock, one.stock, one.number)}: " if named else ""
            lines += [which + line for line in told(one, ruler, own)]
        return tuple(lines)


def running(lengths_mm: float, width_mm: float, surplus: float) -> Running:
    """What to buy for a length: with the surplus, up to the next 1/8 yd and the next 10 cm."""
    needed = lengths_mm * (1 + surplus)
    yards = math.ceil((needed - SLACK_MM) / (YARD_MM * float(YARD_STEP))) * YARD_STEP
    return Running(width_mm, lengths_mm, yards, math.ceil((needed - SLACK_MM) / METER_STEP_MM) * METER_STEP_MM)


def shortage(wanted: Sequence[Blank], lacking: Sequence[Blank]) -> str:
    """What is needed where cloth does not suffice, and what of it there is not."""
    return f"Needed are rectangles: {wanting_words(wanted)}. Missing: {wanting_words(lacking)}."


def wanting_words(blanks: Sequence[Blank]) -> str:
    """Rectangles, and what they take off the bolt: "2 of 7 1/2 in x 8 in (1/4 yd or 20 cm off a bolt 40 in wide)"."""
    blanks = [replace(blank, scrap=None) for blank in blanks]
    sizes = Counter(f"{cutting_size(blank.width)} x {cutting_size(blank.height)}" for blank in blanks)
    bolt = Stock("", max(USABLE_WIDTH_MM, *(_least_across(blank) for blank in blanks)))
    bought = running(sum(one.length for one in cuts(blanks, [(0, bolt)]) or ()), bolt.width, 0.0)
    listed = together([f"{many} of {size}" for size, many in sizes.most_common()])
    return f"{listed} ({bought.yards} or {bought.meters} off a bolt {cutting_size(bolt.width)} wide)"


def takings(layout: Layout) -> tuple[Taking, ...]:
    """What a layout takes of each fabric, in the order of its fabrics; those not laid are left out."""
    pieces = dict.fromkeys((fabric.key for fabric in layout.fabrics), 0.0)
    for each in placed(layout):
        pieces[each.piece.fabric] += region_area(each.piece.region) * layout.mats[each.mat].times
    found = []
    whole = {
        (cut.mat, cut.swatch, cut.time): cut.stock for cut in layout.cut_from if is_whole(layout.stock[cut.stock], cut)
    }
    for fabric in layout.fabrics:
        sizes = [
            (whole.get((m, s, time)), swatch.cloth_size)
            for m, mat in enumerate(layout.mats)
            for s, swatch in enumerate(mat.swatches)
            if swatch.fabric == fabric.key
            for time in range(mat.times)
        ]
        if sizes:
            scraps = [(stock, size) for stock, size in sizes if stock is not None]
            rest = [size for stock, size in sizes if stock is None]
            all_of_it = (*(size for _, size in scraps), *rest)
            found.append(Taking(fabric, all_of_it, pieces[fabric.key], tuple(stock for stock, _ in scraps)))
    return tuple(found)


def cloth_uses(
    taken: Iterable[Taking],
    stock: Sequence[Stock],
    kits: int = 1,
    surplus: float = SURPLUS,
    width_mm: float = USABLE_WIDTH_MM,
) -> tuple[ClothUse, ...]:
    """What so many kits take of each cloth, in order of first appearance; `width_mm` is the usable width of a bolt.

    Raises:
        ValueError: kits is below 1, or the surplus is negative.
    """
    _check(kits, surplus)
    cloths: dict[str, list[Taking]] = {}
    for each in taken:
        cloths.setdefault(each.fabric.cloth_key, []).append(each)
    return tuple(_use(key, some, stock, kits, surplus, width_mm) for key, some in cloths.items())


def web_uses(
    taken: Iterable[Taking],
    kits: int = 1,
    surplus: float = SURPLUS,
    widths_mm: Sequence[float] = WEB_WIDTHS_MM,
) -> tuple[Running, ...]:
    """The fusible web that all fused rectangles of so many kits take together, by width; none where all cloth is bare.

    Raises:
        ValueError: kits is below 1, or the surplus is negative.
    """
    _check(kits, surplus)
    sizes = [size for each in taken if each.fabric.preparation == "fused" for size in each.sizes * kits]
    return tuple(_web(sizes, surplus, width) for width in widths_mm) if sizes else ()


def _check(kits: int, surplus: float) -> None:
    if kits < 1 or surplus < 0:
        raise ValueError("kits must be at least 1 and the surplus not negative")


def _use(
    key: str, taken: Sequence[Taking], stock: Sequence[Stock], kits: int, surplus: float, width_mm: float
) -> ClothUse:
    wanted = [(each, size) for each in taken for size in each.sizes * kits]
    blanks = [Blank(*size, may_turn(each.fabric.grain)) for each, size in wanted]
    bolt = Stock(key, max(width_mm, *(_least_across(blank) for blank in blanks)), label="yardage")
    own = stock_of(key, stock)
    scraps = [n for each in taken for n in (*each.scraps, *[None] * (len(each.sizes) * kits - len(each.scraps)))]
    tied = [replace(blank, scrap=scrap) for blank, scrap in zip(blanks, scraps, strict=True)]
    planned = cuts(tied, own) if own else None
    known = tuple(stock) if planned is not None else (bolt,)
    plan = planned if planned is not None else cuts(blanks, [(0, bolt)]) or ()
    off_bolt = [one for one in plan if known[one.stock].height is None]
    wholes = {one.strips[0].subs[0].rectangle: one for one in plan if one.whole}
    parts = []
    for taking in taken:
        sizes = [size for n, (each, size) in enumerate(wanted) if each is taking and n not in wholes]
        parts.append(_part(taking, kits, sizes, [one for n, one in wholes.items() if wanted[n][0] is taking], known))
    return ClothUse(
        tuple(parts),
        plan,
        known,
        "short" if own and planned is None else _supply(len(off_bolt), len(plan)),
        running(sum(one.length for one in off_bolt), known[off_bolt[0].stock].width, surplus) if off_bolt else None,
    )


def _supply(off_bolt: int, all_of_it: int) -> Supply:
    return "stock" if not off_bolt else "bolt" if off_bolt == all_of_it else "both"


def _part(
    taken: Taking, kits: int, sizes: Iterable[Size], wholes: Sequence[StockCuts], stock: Sequence[Stock]
) -> FabricUse:
    """What a fabric takes: rectangles of these sizes, and the scraps that are used whole."""
    counted = Counter((round(w, 3), round(h, 3)) for w, h in sizes)
    ranked = sorted(counted.items(), key=lambda item: (-item[0][0] * item[0][1], item[0]))
    return FabricUse(
        taken.fabric,
        tuple(Rectangle(w, h, count) for (w, h), count in ranked),
        tuple(stock_name(stock, one.stock, one.number) for one in wholes),
        sum(w * h * count for (w, h), count in counted.items()) + sum(_scrap_mm2(stock[one.stock]) for one in wholes),
        taken.pieces_mm2 * kits,
    )


def _scrap_mm2(scrap: Stock) -> float:
    return region_area(scrap.outline) if scrap.outline is not None else 0.0


def _least_across(blank: Blank) -> float:
    return min(blank.width, blank.height) if blank.turns else blank.width


def _web(sizes: Sequence[Size], surplus: float, width_mm: float) -> Running:
    """Web has no grain; a rectangle wider than the web both ways is pieced from lengths laid side by side."""
    fitting = [Blank(*size, True) for size in sizes if min(size) <= width_mm]
    plan = cuts(fitting, [(0, Stock("web", width_mm))]) or ()
    wide = sum(min(math.ceil(w / width_mm) * h, math.ceil(h / width_mm) * w) for w, h in sizes if min(w, h) > width_mm)
    return running(sum(one.length for one in plan) + wide, width_mm, surplus)
