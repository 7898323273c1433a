"""Lays what is wanted on swatches and the swatches on mats: fewest mats, then least cloth, then fewest swatches.

Terminology
    level       one of the two: pieces on swatches (`cutouts`), swatches on mats (`matpacking`)
    numbering   copies of a piece count from 1 in the order in which they are laid, mat by mat
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from clothpath.findings import Refusal
from clothpath.layout import Layout, Mat, MatLayout, Placement, Swatch
from clothpath.matpacking import Board, Lying, Sheet, pack
from clothpath.mats.cutouts import Cutout, Room, cutouts, too_large
from clothpath.mats.wanted import PartName, Rules, wanted_by_fabric

__all__ = ["laid_out"]


def laid_out(layout: Layout, rules: Rules) -> Layout:
    """The layout with everything on mats that its demands ask for.

    Raises:
        Refusal: nothing is to be cut, or a piece fits no mat.
    """
    wanted = wanted_by_fabric(layout)
    board = _board(layout.mat, rules)
    room = _room(board, rules)
    large = [finding for each in wanted for finding in too_large(each, room, rules)]
    if large:
        raise Refusal(*large)
    names = {key: name for each in wanted for key, name in each.names.items()}
    shapes = [one for each in wanted for one in cutouts(each, room, rules)]
    lying = pack([Sheet(tuple((c.width, c.height) for c in one), rules.turn_swatches) for one in shapes], board)
    assert lying is not None, "a cutout is never larger than the room"
    return replace(layout, mats=_numbered(_mats(lying, shapes), names))


def _board(mat: Mat, rules: Rules) -> Board:
    steps = tuple(dict.fromkeys((rules.place_step, rules.ruler_step, 0.0)))
    return Board(mat.usable, mat.keep_out, rules.gap, steps)


def _room(board: Board, rules: Rules) -> Room:
    return Room(board.usable.width, board.usable.height, rules.turn_swatches)


def _mats(lying: Iterable[Lying], shapes: list[tuple[Cutout, ...]]) -> list[list[tuple[Lying, Cutout]]]:
    mats: list[list[tuple[Lying, Cutout]]] = []
    for each in lying:
        while len(mats) <= each.board:
            mats.append([])
        mats[each.board].append((each, shapes[each.sheet][each.size]))
    return mats


def _numbered(mats: list[list[tuple[Lying, Cutout]]], names: dict[str, PartName]) -> tuple[MatLayout, ...]:
    count: Counter[PartName] = Counter()
    return tuple(MatLayout(tuple(_swatch(each, cutout, names, count) for each, cutout in mat)) for mat in mats)


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
