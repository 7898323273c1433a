"""Keeps the drawing's own arrangement of pieces, fabric by fabric, and only checks that it fits.

Terminology
    sheet       the pieces of one fabric of one design as they are drawn; a piece with copies lies on as many sheets
    whole       the sheets of all fabrics of one design as they lie to each other in the drawing

Where the sheets lie apart in the drawing, the whole is kept; where they overlap, as pieces of a finished picture do,
each sheet is kept and finds its own place on a mat. A sheet that is laid wrong side up is turned over where it lies.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Final

import numpy as np

from clothpath.curves import Box
from clothpath.findings import Finding, Outcome, Refusal, error, note
from clothpath.layout import Demand, Layout
from clothpath.mats.cutouts import Cutout, rounded
from clothpath.mats.lay import alike, board_of, on_mats, settled
from clothpath.mats.matpacking import Board, Lying, Sheet, pack
from clothpath.mats.room import room_on
from clothpath.mats.spill import DraftMat
from clothpath.mats.wanted import Rules, Wanted, multiplied, wanted_by_fabric
from clothpath.nesting import Packing, Part, Spot
from clothpath.units import both

__all__ = ["as_drawn"]

SLACK_MM: Final = 1e-6
"""Rounding in sums of sizes: a sheet this much too large still fits."""


def as_drawn(layout: Layout, rules: Rules, kits: int) -> Outcome[Layout]:
    """The layout that keeps the drawing's arrangement, for so many kits; equal mats of several kits are listed once.

    Whether the pieces lie far enough apart is for the checker to say.

    Raises:
        Refusal: nothing is to be cut, or an arrangement is too large for the mat.
    """
    board = board_of(layout.mat, rules)
    wanted = wanted_by_fabric(layout)
    mats: list[tuple[DraftMat, int]] = []
    loose: list[tuple[Cutout, ...]] = []
    found: list[Finding] = []
    for number, demand in enumerate(layout.demands):
        sheets = [sheet for each in wanted for sheet in _sheets(each, number, demand, rules)]
        name = demand.design.name
        _check_size([cutout for cutout, _ in sheets], board, rules, name)
        if _apart([box for _, box in sheets], rules.gap):
            mats += [(_whole(sheets, board, name), kits)] * demand.count
        else:
            message = "The fabrics overlap in the drawing, so each keeps its own arrangement and finds its own place."
            found.append(note("as-drawn-by-fabric", message, name))
            loose += [(cutout,) for cutout, _ in sheets] * demand.count
    if loose:
        laid = on_mats(loose * kits, board, rules)
        mats += alike(laid) if kits > 1 else [(mat, 1) for mat in laid]
    return Outcome(settled(multiplied(layout, kits), mats), tuple(found))


def _sheets(wanted: Wanted, number: int, demand: Demand, rules: Rules) -> Iterator[tuple[Cutout, Box]]:
    """The sheets of one fabric of design `number`, each with where its cloth lies in the drawing."""
    own = [part for part in wanted.parts if part.key.split(".")[0] == str(number)]
    copies = {part.key: part.count // demand.count for part in own}
    for sheet in range(max(copies.values(), default=0)):
        yield _sheet(wanted, [part for part in own if copies[part.key] > sheet], rules)


def _sheet(wanted: Wanted, parts: Sequence[Part], rules: Rules) -> tuple[Cutout, Box]:
    corners = np.concatenate([part.outer for part in parts])
    left, bottom = corners.min(axis=0).tolist()
    width, height = np.ptp(corners, axis=0).tolist()
    x, y = rules.margin - left, rules.margin - bottom
    spots = tuple(Spot(part.key, 0, 0.0, x, y) for part in parts)
    packing = Packing(width + 2 * rules.margin, height + 2 * rules.margin, spots)
    cutout = rounded(wanted.fabric, packing, (np.inf, np.inf), rules)
    drawn_left = -left - width if wanted.fabric.reversed else left
    x0 = drawn_left + width / 2 - cutout.width / 2
    y0 = bottom + height / 2 - cutout.height / 2
    return cutout, Box(x0, y0, x0 + cutout.width, y0 + cutout.height)


def _check_size(cutouts: Sequence[Cutout], board: Board, rules: Rules, design: str) -> None:
    here = room_on(board.rooms(), rules.turn_swatches)
    for cutout in cutouts:
        if not any(cutout.width <= w + SLACK_MM and cutout.height <= h + SLACK_MM for w, h in here.ways):
            what = f'The pieces of "{cutout.fabric.label}"'
            raise Refusal(_too_large(what, cutout.width, cutout.height, board, f"{design}: {cutout.fabric.key}"))


def _apart(boxes: Sequence[Box], gap: float) -> bool:
    return all(
        max(a.left - b.right, b.left - a.right, a.bottom - b.top, b.bottom - a.top) >= gap - SLACK_MM
        for a, b in combinations(boxes, 2)
    )


def _whole(sheets: Sequence[tuple[Cutout, Box]], board: Board, design: str) -> DraftMat:
    """The sheets as they lie to each other in the drawing, together in the lower left corner of the mat."""
    around = sheets[0][1]
    for _, box in sheets[1:]:
        around = around.union(box)
    lying = pack([Sheet(((around.width, around.height),), turns=False)], board)
    if lying is None:
        raise Refusal(_too_large("The drawing", around.width, around.height, board, design))
    dx, dy = lying[0].box.left - around.left, lying[0].box.bottom - around.bottom
    return tuple(
        (Lying(n, 0, False, 0, Box(box.left + dx, box.bottom + dy, box.right + dx, box.top + dy)), cutout)
        for n, (cutout, box) in enumerate(sheets)
    )


def _too_large(what: str, width: float, height: float, board: Board, where: str) -> Finding:
    usable = board.usable
    message = (
        f"{what}, as drawn and with cloth all round, take {both(width)} x {both(height)}; the usable area of this mat "
        f"is {both(usable.width)} x {both(usable.height)}."
    )
    hint = 'Take a machine with a larger mat, a smaller size, or arrangement = "nest".'
    return error("as-drawn-too-large", message, where, hint)
