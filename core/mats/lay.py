"""Lays what is wanted on swatches and the swatches on mats: fewest mats, then least cloth, then fewest swatches.

Terminology
    level       one of the two: pieces on swatches (`cutouts`), swatches on mats (`matpacking`)
    draft       what lies where on a mat, the copies not yet numbered
    numbering   copies of a piece count from 1 in the order in which they are laid, mat by mat
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import partial
from typing import Final

from clothpath.cloth.amounts import shortage
from clothpath.cloth.stock import Blank, cuts, may_turn, missing, stock_of
from clothpath.curves import Box
from clothpath.findings import Finding, Refusal, error
from clothpath.layout import CutFrom, Layout, Mat, MatLayout, Placement, Stock, Swatch
from clothpath.mats.cutouts import Cutout, cutouts, supply
from clothpath.mats.matpacking import Board, Lying, Sheet, pack
from clothpath.mats.patience import Patience
from clothpath.mats.room import larger_than_mat, room_on
from clothpath.mats.search import LEAST_SEARCH, QUICK_SEARCH, WIDE_SEARCH, PatientSearch, Search
from clothpath.mats.spill import Allowed, DraftMat, spilled
from clothpath.mats.wanted import PartName, Rules, Wanted, part_names, wanted_by_fabric

__all__ = ["DraftMat", "alike", "board_of", "drafted", "laid_out", "on_mats", "on_one_mat", "settled"]

WIDE_SAVES: Final = 0.97
"""The share of the cloth that a wide search is hoped to come to."""


def laid_out(layout: Layout, rules: Rules) -> Layout:
    """The layout with everything on mats that its demands ask for.

    Raises:
        Refusal: nothing is to be cut, a piece fits no mat, the stock is short, or fixed swatches collide.
    """
    return settled(layout, [(mat, 1) for mat in drafted(layout, rules)])


def drafted(layout: Layout, rules: Rules) -> tuple[DraftMat, ...]:
    """What lies where on how many mats, the copies not yet numbered.

    Where the least rectangles of all fabrics go on one mat, nothing better is to be had. Where a little less cloth may
    save a mat, the search is wide.

    Raises:
        Refusal: as `laid_out`.
    """
    board = board_of(layout.mat, rules)
    wanted = wanted_by_fabric(layout)
    if large := larger_than_mat(layout, wanted, room_on(board.rooms(), rules.turn_swatches), rules):
        raise Refusal(*large)
    if not (rules.seconds or rules.fixed or layout.stock or board.roll):
        least = on_mats(_all_cutouts([(each, LEAST_SEARCH) for each in wanted], board, (), rules), board, rules)
        if len(least) == 1:
            return least
    quick = _all_cutouts([(each, QUICK_SEARCH) for each in wanted], board, layout.stock, rules)
    suffices = partial(_suffices, layout)
    mats = spilled(_on_mats_of_stock(quick, board, rules, suffices), wanted, board, rules, suffices)
    if rules.seconds:
        searches = _searches(wanted, quick, Patience(rules.seconds))
    elif len(mats) > math.ceil(WIDE_SAVES * _cloth(mats) / (board.usable.width * board.usable.height)):
        searches = [(each, WIDE_SEARCH) for each in wanted]
    else:
        return mats
    longer = _on_mats_of_stock(_all_cutouts(searches, board, layout.stock, rules), board, rules, suffices)
    return min(
        mats, spilled(longer, wanted, board, rules, suffices), key=lambda some: (len(some), round(_cloth(some), 3))
    )


def on_one_mat(layout: Layout, rules: Rules) -> tuple[Layout | None, float]:
    """The layout if a quick search lays it on one mat, and about the share of the mat that it takes; 0: unknown.

    Raises:
        Refusal: nothing is to be cut.
    """
    board = board_of(layout.mat, rules)
    wanted = wanted_by_fabric(layout)
    room = (board.usable.width + board.gap) * (board.usable.height + board.gap)
    share = 0.0
    for search in (LEAST_SEARCH, QUICK_SEARCH):
        try:
            shapes = _all_cutouts([(each, search) for each in wanted], board, layout.stock, rules)
            mats = on_mats(shapes, board, rules)
            share = sum((c.width + board.gap) * (c.height + board.gap) for mat in mats for _, c in mat) / room
            if len(mats) == 1:
                return settled(layout, [(mats[0], 1)]), share
        except Refusal:
            break
        if share > 1:
            break
    return None, share


def _suffices(layout: Layout, cut: Iterable[Cutout]) -> bool:
    """Whether the stock suffices for all these cutouts."""
    blanks: dict[str, tuple[Blank, ...]] = {}
    for each in cut:
        own = supply(each.fabric, layout.stock)
        if own.mistaken(each):
            return False
        blanks[each.fabric.cloth_key] = (*blanks.get(each.fabric.cloth_key, ()), *own.blanks([each]))
    cloths = {fabric.cloth_key: fabric for fabric in layout.fabrics}
    return all(supply(cloths[key], layout.stock, some).plan(()) is not None for key, some in blanks.items())


def _searches(
    wanted: Sequence[Wanted], quick: Sequence[tuple[Cutout, ...]], patience: Patience
) -> list[tuple[Wanted, Search]]:
    """A patient search a fabric, with time by the cloth that it takes; one that takes a single piece needs none."""
    cloth = {each.fabric.key: 0.0 for each in wanted}
    rooms = dict.fromkeys(cloth, 0)
    for shapes in quick:
        key = shapes[0].fabric.key
        rooms[key] += 1
        if len(shapes[0].spots) > 1:
            cloth[key] += shapes[0].width * shapes[0].height
    whole = sum(cloth.values())
    found: list[tuple[Wanted, Search]] = []
    for each in wanted:
        key = each.fabric.key
        seconds = patience.seconds * cloth[key] / whole if whole else 0.0
        found.append((each, PatientSearch(patience, seconds, rooms[key]) if seconds else QUICK_SEARCH))
    return found


def _cloth(mats: Iterable[DraftMat]) -> float:
    return sum(cutout.width * cutout.height for mat in mats for _, cutout in mat)


def on_mats(shapes: Sequence[tuple[Cutout, ...]], board: Board, rules: Rules) -> tuple[DraftMat, ...]:
    """The cutouts, each in one of its shapes, on as few mats as it can.

    Raises:
        Refusal: fixed swatches collide.
    """
    lying = pack([_sheet(one, rules) for one in shapes], board)
    if lying is None:
        names = ", ".join(fixed.fabric for fixed in rules.fixed)
        message = f"The rectangles with a fixed place ({names}) do not lie apart from each other in the usable area."
        raise Refusal(error("fixed-swatch-blocked", message, "fixed", "Move them, or let one of them find its place."))
    mats: list[list[tuple[Lying, Cutout]]] = [[] for _ in range(max(each.board for each in lying) + 1)]
    for each in lying:
        mats[each.board].append((each, shapes[each.sheet][each.size]))
    return tuple(tuple(mat) for mat in mats if mat)


def _on_mats_of_stock(
    shapes: Sequence[tuple[Cutout, ...]], board: Board, rules: Rules, suffices: Allowed
) -> tuple[DraftMat, ...]:
    """As `on_mats`; where the stock does not suffice for the shapes that lie best, each in its least."""
    mats = on_mats(shapes, board, rules)
    if suffices([cutout for mat in mats for _, cutout in mat]):
        return mats
    return on_mats([some[:1] for some in shapes], board, rules)


def board_of(mat: Mat, rules: Rules) -> Board:
    """The mat as swatches are packed on it."""
    steps = tuple(dict.fromkeys((rules.place_step, rules.ruler_step, 0.0)))
    return Board(mat.usable, mat.keep_out, rules.gap, steps)


def settled(layout: Layout, mats: Iterable[tuple[DraftMat, int]]) -> Layout:
    """The layout of drafted mats, each with how often it is cut: copies numbered, swatches cut from the stock.

    Raises:
        Refusal: the stock is short.
    """
    names = part_names(layout)
    counted: Counter[PartName] = Counter()
    made = []
    scraps = []
    for mat, times in mats:
        scraps.append([cutout.scrap for _, cutout in mat])
        numbers = counted.copy()
        made.append(MatLayout(tuple(_swatch(*each, names, numbers) for each in mat), times))
        for _, cutout in mat:
            counted.update(names[spot.key] for spot in cutout.spots * times)
    return _with_cuts(replace(layout, mats=tuple(made)), scraps)


def alike(mats: Iterable[DraftMat]) -> list[tuple[DraftMat, int]]:
    """The different ones of the mats, in order of first appearance, each with how many of it there are."""
    found: dict[object, tuple[DraftMat, int]] = {}
    for mat in mats:
        key = tuple((each.box, each.turned, cutout) for each, cutout in mat)
        first, count = found.get(key, (mat, 0))
        found[key] = (first, count + 1)
    return list(found.values())


def _all_cutouts(
    wanted: Iterable[tuple[Wanted, Search]], board: Board, stock: Sequence[Stock], rules: Rules
) -> list[tuple[Cutout, ...]]:
    found: list[tuple[Cutout, ...]] = []
    faults: list[Finding] = []
    begun: dict[str, list[Blank]] = {}
    for each, search in wanted:
        of_cloth = begun.setdefault(each.fabric.cloth_key, [])
        own = supply(each.fabric, stock, of_cloth)
        try:
            made = cutouts(each, board, own, rules, search)
        except Refusal as refusal:
            faults += refusal.findings
            continue
        found += made
        of_cloth += own.blanks(shapes[0] for shapes in made)
    if faults:
        raise Refusal(*faults)
    return found


def _sheet(shapes: tuple[Cutout, ...], rules: Rules) -> Sheet:
    fixed = shapes[0].fixed
    at = None if fixed is None else (fixed.mat - 1, fixed.x, fixed.y)
    turns = rules.turn_swatches and (fixed is None or fixed.size is None)
    return Sheet(tuple(each.size for each in shapes), turns, at)


def _with_cuts(layout: Layout, scraps: Sequence[Sequence[int | None]]) -> Layout:
    """The layout with where each swatch is cut from the stock; by mat and swatch, which scrap it is as a whole."""
    cut_from: list[CutFrom] = []
    stocked = {stock.fabric for stock in layout.stock}
    for cloth in dict.fromkeys(fabric.cloth_key for fabric in layout.fabrics if fabric.cloth_key in stocked):
        fabrics = {fabric.key: fabric for fabric in layout.fabrics if fabric.cloth_key == cloth}
        swatches = [
            (m, s, time, swatch)
            for m, mat in enumerate(layout.mats)
            for s, swatch in enumerate(mat.swatches)
            for time in range(mat.times)
            if swatch.fabric in fabrics
        ]
        blanks = [
            Blank(*swatch.cloth_size, may_turn(fabrics[swatch.fabric].grain), scraps[m][s])
            for m, s, _, swatch in swatches
        ]
        plan = cuts(blanks, stock_of(cloth, layout.stock))
        if plan is None:
            label = next(iter(fabrics.values())).label
            lacking = missing(blanks, stock_of(cloth, layout.stock))
            message = f'The cloth that there is of "{label}" does not suffice. {shortage(blanks, lacking)}'
            raise Refusal(error("stock-short", message, cloth, "State more cloth, or ask for fewer copies."))
        for one in plan:
            for strip in one.strips:
                for sub in strip.subs:
                    m, s, time, _ = swatches[sub.rectangle]
                    x, y = one.room.left + sub.x, one.room.bottom + strip.y
                    box = Box(x, y, x + sub.width, y + sub.height)
                    cut_from.append(CutFrom(m, s, time, one.stock, one.number, box, sub.turned))
    return replace(layout, cut_from=tuple(sorted(cut_from, key=lambda each: (each.mat, each.swatch, each.time))))


def _swatch(lying: Lying, cutout: Cutout, names: dict[str, PartName], count: Counter[PartName]) -> Swatch:
    placements = []
    for spot in cutout.spots:
        name = names[spot.key]
        count[name] += 1
        shift = complex(spot.x, spot.y)
        placements.append(Placement(*name, count[name], cutout.fabric.reversed, spot.turn, shift))
    box = lying.box
    return Swatch(
        cutout.fabric.key,
        cutout.fabric.laid or "right-side-up",
        box.left,
        box.bottom,
        box.width,
        box.height,
        90.0 if lying.turned else 0.0,
        tuple(placements),
    )
