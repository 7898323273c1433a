"""Which rectangles to cut from one fabric so that all its pieces come out, none larger than the room.

Terminology
    cutout      a swatch to be cut, not yet on a mat: the cloth's own width and height, and where the parts lie on it
    shapes      cutouts that serve the same parts, one of which is chosen: the one of least cloth first
    supply      the stock of the fabric, and what was cut from it so far

A fabric that needs more than one swatch is laid swatch by swatch, each as full as can be; the rest has shapes again.
An irregular scrap that takes more as it is than the rectangles inside it is stuck to the mat whole: its swatch is the
box round it, and the pieces keep within its outline.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import shapely

from clothpath.cloth.amounts import shortage
from clothpath.cloth.scraps import lacking
from clothpath.cloth.stock import Blank, StockCuts, cuts, may_turn, rectangles, stock_of, whole_size
from clothpath.curves import Affine
from clothpath.design import Fabric
from clothpath.findings import Finding, Refusal, error
from clothpath.layout import Stock
from clothpath.mats.matpacking import Board
from clothpath.mats.room import Room, Size, larger_than_stock, room_on, with_fitting_turns
from clothpath.mats.search import QUICK_SEARCH, Search
from clothpath.mats.wanted import Fixed, Rules, Wanted
from clothpath.nesting import Packing, Part, Spot, fill, placed
from clothpath.regions import moved
from clothpath.units import both

__all__ = ["Cutout", "Supply", "cutouts", "fullest_in", "rounded", "supply"]

SLACK_MM: Final = 1e-6
"""Rounding in sums of sizes: a cutout this much over a ruler line is cut at the line."""
LEAST_MM2: Final = 1e-6
"""No piece counts for less area than this."""


@dataclass(frozen=True, slots=True)
class Cutout:
    """A swatch to be cut: the cloth's own size in mm, where parts lie on it, and its place if that is fixed.

    `scrap`: the index of the irregular scrap round which it is the box, and which is not cut.
    """

    fabric: Fabric
    width: float
    height: float
    spots: tuple[Spot, ...]
    fixed: Fixed | None = None
    scrap: int | None = None

    @property
    def size(self) -> Size:
        return self.width, self.height


@dataclass(frozen=True, slots=True)
class Supply:
    """The stock of one fabric, with the indices by which the layout knows it; none: cloth can be had as wanted.

    Attributes:
        turns: whether its rectangles may be cut with their height across the cloth.
        begun: what other fabrics take of the same cloth.
    """

    stock: tuple[tuple[int, Stock], ...]
    turns: bool
    begun: tuple[Blank, ...] = ()

    def blanks(self, cut: Iterable[Cutout]) -> tuple[Blank, ...]:
        """Cutouts of the fabric, as they are asked of the stock."""
        return tuple(Blank(*each.size, self.turns, each.scrap) for each in cut)

    def plan(self, cut: Iterable[Cutout]) -> tuple[StockCuts, ...] | None:
        """How to cut what is begun and then these cutouts; None where the stock does not suffice."""
        return cuts((*self.begun, *self.blanks(cut)), self.stock) if self.stock else ()

    def scraps(self) -> Iterator[tuple[int, Stock, Size]]:
        """Irregular scraps that can be used whole, with their indices and boxes."""
        for index, each in self.stock:
            if size := whole_size(each):
                yield index, each, size

    def mistaken(self, cutout: Cutout) -> bool:
        """Whether a rectangle is by chance as large as the box round a scrap, and would be taken for the scrap."""
        sizes = (size for _, each in self.stock if (size := whole_size(each)))
        return cutout.scrap is None and any(
            max(abs(cutout.width - w), abs(cutout.height - h)) <= SLACK_MM for w, h in sizes
        )

    def ways(self, taken: Sequence[Cutout]) -> list[Size]:
        """The largest rectangles that are still to be had after those that are `taken`."""
        plan = self.plan(taken) or ()
        begun = {(one.stock, one.number) for one in plan}
        left = [
            (box.width, box.height)
            for index, each in self.stock
            if any((index, number) not in begun for number in range(1, each.count + 1))
            for box in rectangles(each)
        ]
        for one in plan:
            left.append((one.room.width, one.room.height - one.length))
            left += [(one.room.width - strip.subs[-1].x - strip.subs[-1].width, strip.height) for strip in one.strips]
        return left + [(h, w) for w, h in left] if self.turns else left


def supply(fabric: Fabric, stock: Sequence[Stock], begun: Sequence[Blank] = ()) -> Supply:
    """The supply of a fabric out of all the stock, of which other fabrics of its cloth have `begun` some."""
    return Supply(stock_of(fabric.cloth_key, stock), may_turn(fabric.grain), tuple(begun))


def cutouts(
    wanted: Wanted, board: Board, own: Supply, rules: Rules, search: Search = QUICK_SEARCH
) -> tuple[tuple[Cutout, ...], ...]:
    """What to cut from one fabric: one entry a swatch, each with the shapes that it may have, the least cloth first.

    Raises:
        Refusal: a piece is too large for the mat or the stock, a fixed swatch takes no piece, or the stock is short.
    """
    rules = replace(rules, spacing=rules.spacing + wanted.slack)
    on_mat = room_on(board.rooms(), rules.turn_swatches)
    found: list[tuple[Cutout, ...]] = []
    parts = list(wanted.parts)
    for fixed in (each for each in rules.fixed if each.fabric == wanted.fabric.key and parts):
        here = room_on([(board.usable.right - fixed.x, board.usable.top - fixed.y)], rules.turn_swatches)
        shapes, parts = _at_place(wanted, parts, fixed, here, rules)
        found.append(shapes)
    known: dict[object, Packing] = {}
    while parts:
        in_stock = on_mat.within(own.ways([])) if own.stock else on_mat
        large = larger_than_stock(replace(wanted, parts=tuple(parts)), in_stock, rules)
        if not large:
            break
        whole = _whole_scrap(wanted, parts, on_mat, own, [shapes[0] for shapes in found], rules)
        if whole is None:
            raise Refusal(*large)
        found.append((whole,))
        parts = _remaining(parts, _left(parts, whole.spots))
    while parts:
        taken = [shapes[0] for shapes in found]
        here = on_mat.within(own.ways(taken)) if own.stock else on_mat
        fitting = [with_fitting_turns(part, here.inner(rules.margin)) for part in parts]
        shapes = _shapes(wanted.fabric, fitting, here, rules, search)
        possible = [e for e in shapes if not own.mistaken(e) and own.plan([*taken, e]) is not None]
        if possible:
            return (*found, tuple(possible))
        full, left = _fullest(wanted.fabric, fitting, here, own, taken, rules, search, known)
        whole = _whole_scrap(wanted, parts, on_mat, own, taken, rules)
        if whole is not None and _laid(whole, parts) > (_laid(full, parts) if full else 0.0):
            full, left = whole, _left(parts, whole.spots)
        if full is None:
            if not own.stock:
                raise Refusal(_not_laid(wanted, parts))
            rest = replace(wanted, parts=tuple(parts), slack=0.0)
            more = cutouts(rest, board, supply(wanted.fabric, ()), replace(rules, fixed=()))
            raise Refusal(_short(wanted, parts, own.blanks(taken), own.blanks(each[0] for each in more)))
        found.append((full,))
        parts = _remaining(parts, left)
    return tuple(found)


def _at_place(
    wanted: Wanted, parts: Sequence[Part], fixed: Fixed, here: Room, rules: Rules
) -> tuple[tuple[Cutout, ...], list[Part]]:
    """The shapes of a fixed swatch, and the parts that it does not take."""
    if fixed.size is None:
        shapes = tuple(replace(each, fixed=fixed) for each in _shapes(wanted.fabric, parts, here, rules, QUICK_SEARCH))
        if shapes:
            return shapes, []
    width, height = fixed.size or (here.ways or ((0.0, 0.0),))[0]
    packing = fill(parts, width, height, rules.spacing, rules.margin)
    if not packing.spots:
        message = (
            f'No piece fits the fixed rectangle of "{wanted.fabric.label}", which is {both(width)} x {both(height)}.'
        )
        raise Refusal(error("fixed-swatch-too-small", message, wanted.fabric.key, "Take a larger piece of cloth."))
    cutout = Cutout(wanted.fabric, width, height, packing.spots, fixed)
    return (cutout,), _remaining(parts, _left(parts, packing.spots))


def _shapes(fabric: Fabric, parts: Sequence[Part], here: Room, rules: Rules, search: Search) -> tuple[Cutout, ...]:
    need = sum(part.count * _area(part) for part in parts)
    found: dict[Size, Cutout] = {}
    for width, height in _unlike(here.ways, parts):
        if need > width * height:
            continue
        for packing in search.rectangles(parts, (width, height), rules):
            cutout = rounded(fabric, packing, (width, height), rules)
            found.setdefault(cutout.size, cutout)
    chosen: list[Cutout] = []
    for each in sorted(found.values(), key=lambda one: (round(one.width * one.height, 3), one.width)):
        if not any(_covers(each, other) for other in chosen):
            chosen.append(each)
    return tuple(chosen)


def _unlike(ways: Sequence[Size], parts: Sequence[Part]) -> list[Size]:
    """The ways; of two that are one turned by a quarter, the first where every part may be turned at will."""
    if any(part.turns is not None for part in parts):
        return list(ways)
    return list({(max(way), min(way)): way for way in reversed(ways)}.values())[::-1]


def _whole_scrap(
    wanted: Wanted, parts: Sequence[Part], on_mat: Room, own: Supply, taken: Sequence[Cutout], rules: Rules
) -> Cutout | None:
    """The scrap, used as it is, that takes most of the parts by area; None if there is none that takes any."""
    found: list[Cutout] = []
    for index, stock, (width, height) in own.scraps():
        on_a_mat = any(width <= w + SLACK_MM and height <= h + SLACK_MM for w, h in on_mat.ways)
        empty = Cutout(wanted.fabric, width, height, (), scrap=index)
        if stock.outline is None or not on_a_mat or own.plan([*taken, empty]) is None:
            continue
        seen = stock.outline
        if wanted.fabric.reversed:
            seen = moved(seen, Affine.shift(complex(width)) @ Affine.flip())
        packing = fill(parts, width, height, rules.spacing, rules.margin, blocked=lacking(seen, stock.rim))
        if packing.spots:
            found.append(replace(empty, spots=packing.spots))
    return max(found, key=lambda each: _laid(each, parts), default=None)


def _laid(cutout: Cutout, parts: Sequence[Part]) -> float:
    areas = {part.key: max(_area(part), LEAST_MM2) for part in parts}
    return round(sum(areas[spot.key] for spot in cutout.spots), 3)


def _area(part: Part) -> float:
    return float(shapely.Polygon(part.outer, part.holes).area)


def _covers(large: Cutout, small: Cutout) -> bool:
    return large.width >= small.width - SLACK_MM and large.height >= small.height - SLACK_MM


def _fullest(
    fabric: Fabric,
    parts: Sequence[Part],
    here: Room,
    own: Supply,
    taken: Sequence[Cutout],
    rules: Rules,
    search: Search,
    known: dict[object, Packing],
) -> tuple[Cutout | None, dict[str, int]]:
    """The cutout that takes most of the parts by area, and by key how many it leaves; `known` saves equal searches."""
    areas = {part.key: max(_area(part), LEAST_MM2) for part in parts}
    best: Cutout | None = None
    most = 0.0
    for width, height in _unlike(here.ways, parts):
        limited = [replace(part, count=min(part.count, int(width * height / areas[part.key]) + 1)) for part in parts]
        question = (width, height, tuple((part.key, part.count) for part in limited))
        if question not in known:
            known[question] = search.fullest(limited, (width, height), rules)
        packing = known[question]
        laid = round(sum(areas[spot.key] for spot in packing.spots), 3)
        if laid > most:
            cutout = rounded(fabric, _trimmed(packing, parts, rules), (width, height), rules)
            if not own.mistaken(cutout) and own.plan([*taken, cutout]) is not None:
                best, most = cutout, laid
    return best, _left(parts, best.spots if best else ())


def fullest_in(wanted: Wanted, parts: Sequence[Part], way: Size, rules: Rules) -> tuple[Cutout | None, list[Part]]:
    """The cutout no larger than `way` that takes most of the parts, and what it leaves; None if it takes none."""
    rules = replace(rules, spacing=rules.spacing + wanted.slack)
    packing = fill(parts, *way, rules.spacing, rules.margin)
    if not packing.spots:
        return None, list(parts)
    cutout = rounded(wanted.fabric, _trimmed(packing, parts, rules), way, rules)
    return cutout, _remaining(parts, _left(parts, packing.spots))


def _trimmed(packing: Packing, parts: Sequence[Part], rules: Rules) -> Packing:
    """The packing in the smallest rectangle that holds what lies in it."""
    by_key = {part.key: part for part in parts}
    corners = [placed(by_key[spot.key], spot)[0].max(axis=0) for spot in packing.spots]
    right, top = (max(float(corner[axis]) for corner in corners) + rules.margin for axis in (0, 1))
    return Packing(min(right, packing.width), min(top, packing.height), packing.spots, packing.left)


def _left(parts: Sequence[Part], spots: Sequence[Spot]) -> dict[str, int]:
    return {part.key: part.count - sum(spot.key == part.key for spot in spots) for part in parts}


def _remaining(parts: Sequence[Part], left: dict[str, int]) -> list[Part]:
    return [replace(part, count=left[part.key]) for part in parts if left[part.key] > 0]


def rounded(fabric: Fabric, packing: Packing, way: Size, rules: Rules) -> Cutout:
    """The packing in a rectangle that a ruler shows, or in all the room there is; what is added goes all round."""
    width, height = (
        max(min(_up(own, rules.ruler_step), most), min(own, most))
        for own, most in zip((packing.width, packing.height), way, strict=True)
    )
    dx, dy = (width - packing.width) / 2, (height - packing.height) / 2
    spots = tuple(replace(spot, x=spot.x + dx, y=spot.y + dy) for spot in packing.spots)
    return Cutout(fabric, width, height, spots)


def _up(value: float, step: float) -> float:
    return math.ceil((value - SLACK_MM) / step) * step if step else value


def _short(wanted: Wanted, parts: Sequence[Part], had: Sequence[Blank], missing: Sequence[Blank]) -> Finding:
    names = ", ".join(f"{part.count} of {wanted.names[part.key][1]}" for part in parts)
    message = (
        f'The cloth that there is of "{wanted.fabric.label}" does not suffice: none is left for {names}. '
        f"{shortage([*had, *missing], missing)}"
    )
    return error(
        "stock-short", message, wanted.fabric.key, "State more cloth for this fabric, or ask for fewer copies."
    )


def _not_laid(wanted: Wanted, parts: Sequence[Part]) -> Finding:
    names = ", ".join(wanted.names[part.key][1] for part in parts)
    message = f'No place was found on an empty mat for {names} of "{wanted.fabric.label}", though each is small enough.'
    hint = "Lay it on a larger mat, or with a smaller swatch-margin."
    return error("piece-not-laid", message, wanted.fabric.key, hint)
