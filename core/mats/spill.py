"""Saves a mat by laying what is on it into the free places of the others.

Terminology
    spill       the parts of the emptiest mat, which move to the others
    gap place   a free rectangle of a mat beside the swatches that lie there

A fabric is spread over several mats only here, and only if a mat is saved by it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Final, TypeAlias

import shapely

from clothpath.curves import Box
from clothpath.mats.cutouts import Cutout, fullest_in
from clothpath.mats.matpacking import Board, Lying, Sheet, pack
from clothpath.mats.room import room_on
from clothpath.mats.wanted import Rules, Wanted
from clothpath.nesting import Part

__all__ = ["Allowed", "DraftMat", "spilled"]

MOST_PLACES: Final = 4
"""How many free places of a mat are tried for one swatch, the largest first."""
LIKELY_DENSITY: Final = 0.9
"""A spill is not tried where its pieces would have to fill more than this share of the mats' largest free places."""

DraftMat: TypeAlias = "tuple[tuple[Lying, Cutout], ...]"
"""What lies where on one mat, the copies not yet numbered."""
Allowed: TypeAlias = "Callable[[Sequence[Cutout]], bool]"
"""Whether the cloth that there is suffices for all these cutouts."""
Known: TypeAlias = "dict[object, tuple[Cutout | None, list[Part]]]"
"""By the size of a place and what is wanted, what was laid there and what was left."""


def spilled(
    mats: tuple[DraftMat, ...], wanted: Iterable[Wanted], board: Board, rules: Rules, allowed: Allowed
) -> tuple[DraftMat, ...]:
    """The mats, or fewer of them, if what the emptiest holds goes on the others; again until that fails."""
    parts = {part.key: (part, each) for each in wanted for part in each.parts}
    known: Known = {}
    while len(mats) > 1:
        fewer = _without_one(mats, parts, board, rules, allowed, known)
        if fewer is None:
            break
        mats = fewer
    return mats


def _without_one(
    mats: tuple[DraftMat, ...],
    parts: dict[str, tuple[Part, Wanted]],
    board: Board,
    rules: Rules,
    allowed: Allowed,
    known: Known,
) -> tuple[DraftMat, ...] | None:
    areas = {key: _area(part, rules) for key, (part, _) in parts.items()}
    loads = [sum(areas[spot.key] for _, cutout in mat for spot in cutout.spots) for mat in mats]
    least = min(range(len(mats)), key=lambda n: (any(c.fixed for _, c in mats[n]), round(loads[n], 3), -n))
    rest = [mat for n, mat in enumerate(mats) if n != least]
    free = sum(_free(mat, board, rules) for mat in rest)
    if any(cutout.fixed for _, cutout in mats[least]) or loads[least] > LIKELY_DENSITY * free:
        return None
    for order in (rest, sorted(rest, key=lambda mat: -round(_free(mat, board, rules), 3))):
        fewer = _spread(mats[least], [list(mat) for mat in order], parts, board, rules, known)
        if fewer is not None and allowed([cutout for mat in fewer for _, cutout in mat]):
            return fewer
    return None


def _spread(
    spill: DraftMat,
    rest: list[list[tuple[Lying, Cutout]]],
    parts: dict[str, tuple[Part, Wanted]],
    board: Board,
    rules: Rules,
    known: Known,
) -> tuple[DraftMat, ...] | None:
    """The other mats with the spill on them, each part on the first that has room; None if one finds none."""
    for _, cutout in sorted(spill, key=lambda each: -each[1].width * each[1].height):
        counts = Counter(spot.key for spot in cutout.spots)
        wanted = parts[cutout.spots[0].key][1]
        left = [replace(parts[key][0], count=count) for key, count in counts.items()]
        for mat in rest:
            if not left:
                break
            left = _into(mat, left, wanted, board, rules, known)
        if left:
            return None
    return tuple(tuple(mat) for mat in rest)


def _into(
    mat: list[tuple[Lying, Cutout]], parts: list[Part], wanted: Wanted, board: Board, rules: Rules, known: Known
) -> list[Part]:
    """Lays as many of the parts as found room beside what lies on the mat; what remains of them."""
    beside = _beside(mat, board)
    smallest = min(_area(part, rules) for part in parts)
    best: tuple[float, Cutout, list[Part]] | None = None
    for way in room_on(beside.rooms(), rules.turn_swatches).ways[:MOST_PLACES]:
        question = (way, tuple((part.key, part.count) for part in parts))
        if question not in known:
            known[question] = fullest_in(wanted, parts, way, rules) if math.prod(way) > smallest else (None, parts)
        cutout, left = known[question]
        laid = sum(_area(p, rules) * p.count for p in parts) - sum(_area(p, rules) * p.count for p in left)
        if cutout is not None and (best is None or laid > best[0] + 1e-3):
            best = laid, cutout, left
        if not left:
            break
    if best is None:
        return parts
    _, cutout, left = best
    lying = pack([Sheet((cutout.size,), rules.turn_swatches)], beside)
    if lying is None:
        return parts
    mat.append((lying[0], cutout))
    return left


def _beside(mat: Sequence[tuple[Lying, Cutout]], board: Board) -> Board:
    """The mat as a board on which what lies there, with its gap, is kept out."""
    gap = board.gap
    boxes = (lying.box for lying, _ in mat)
    taken = tuple(Box(b.left - gap, b.bottom - gap, b.right + gap, b.top + gap) for b in boxes)
    return replace(board, keep_out=(*board.keep_out, *taken))


def _free(mat: Sequence[tuple[Lying, Cutout]], board: Board, rules: Rules) -> float:
    """The area of the largest free rectangle of the mat."""
    ways = room_on(_beside(mat, board).rooms(), rules.turn_swatches).ways
    return ways[0][0] * ways[0][1] if ways else 0.0


def _area(part: Part, rules: Rules) -> float:
    return float(shapely.Polygon(part.outer, part.holes).buffer(rules.spacing / 2).area)
