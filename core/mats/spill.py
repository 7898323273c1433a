"""Saves a mat by laying what is on it into the free places of the others.

Terminology
    spill       the parts of the emptiest mat, which move to the others
    gap place   a free rectangle of a mat beside the swatches that lie there

A fabric is spread over several mats only here, and only if a mat is saved by it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Final, TypeAlias

import shapely

from clothpath.curves import Box
from clothpath.matpacking import Board, Lying, Sheet, pack
from clothpath.mats.cutouts import Cutout, fullest_in
from clothpath.mats.room import room_on
from clothpath.mats.wanted import Rules, Wanted
from clothpath.nesting import Part

__all__ = ["DraftMat", "spilled"]

MOST_PLACES: Final = 4
"""How many free places of a mat are tried for one swatch, the largest first."""
LIKELY_DENSITY: Final = 0.85
"""A spill is not tried where its pieces would have to fill more than this share of what is free."""

DraftMat: TypeAlias = "tuple[tuple[Lying, Cutout], ...]"
"""What lies where on one mat, the copies not yet numbered."""
Allowed: TypeAlias = "Callable[[Sequence[Cutout]], bool]"
"""Whether the cloth that there is suffices for all these cutouts."""


def spilled(
    mats: tuple[DraftMat, ...], wanted: Iterable[Wanted], board: Board, rules: Rules, allowed: Allowed
) -> tuple[DraftMat, ...]:
    """The mats, or fewer of them, if what the emptiest holds goes on the others; again until that fails."""
    parts = {part.key: (part, each) for each in wanted for part in each.parts}
    while len(mats) > 1:
        fewer = _without_one(mats, parts, board, rules, allowed)
        if fewer is None:
            break
        mats = fewer
    return mats


def _without_one(
    mats: tuple[DraftMat, ...], parts: dict[str, tuple[Part, Wanted]], board: Board, rules: Rules, allowed: Allowed
) -> tuple[DraftMat, ...] | None:
    areas = {key: _area(part, rules) for key, (part, _) in parts.items()}
    loads = [sum(areas[spot.key] for _, cutout in mat for spot in cutout.spots) for mat in mats]
    least = min(range(len(mats)), key=lambda n: (any(c.fixed for _, c in mats[n]), round(loads[n], 3), -n))
    rest = [list(mat) for n, mat in enumerate(mats) if n != least]
    room = (board.usable.width + board.gap) * (board.usable.height + board.gap)
    free = sum(room - sum(_with_gap(lying, board.gap) for lying, _ in mat) for mat in rest)
    if any(cutout.fixed for _, cutout in mats[least]) or loads[least] > LIKELY_DENSITY * free:
        return None
    for _, cutout in sorted(mats[least], key=lambda each: -each[1].width * each[1].height):
        counts: dict[str, int] = {}
        for spot in cutout.spots:
            counts[spot.key] = counts.get(spot.key, 0) + 1
        wanted = parts[cutout.spots[0].key][1]
        left = [replace(parts[key][0], count=count) for key, count in counts.items()]
        for mat in rest:
            left = _into(mat, left, wanted, board, rules)
        if left:
            return None
    if not allowed([cutout for mat in rest for _, cutout in mat]):
        return None
    return tuple(tuple(mat) for mat in rest)


def _into(mat: list[tuple[Lying, Cutout]], parts: list[Part], wanted: Wanted, board: Board, rules: Rules) -> list[Part]:
    """Lays as many of the parts as found room beside what lies on the mat; what remains of them."""
    gap = board.gap
    blocked = tuple(
        Box(b.left - gap, b.bottom - gap, b.right + gap, b.top + gap) for b in (lying.box for lying, _ in mat)
    )
    beside = replace(board, keep_out=(*board.keep_out, *blocked))
    places = room_on(beside.rooms(), rules.turn_swatches).ways[:MOST_PLACES]
    best: tuple[float, Cutout, list[Part]] | None = None
    for place in places:
        if not parts:
            break
        cutout, left = fullest_in(wanted, parts, place, rules)
        if cutout is not None:
            laid = sum(_area(p, rules) * p.count for p in parts) - sum(_area(p, rules) * p.count for p in left)
            if best is None or laid > best[0] + 1e-3:
                best = laid, cutout, left
    if best is None:
        return parts
    _, cutout, left = best
    lying = pack([Sheet((cutout.size,), rules.turn_swatches)], beside)
    if lying is None:
        return parts
    mat.append((lying[0], cutout))
    return left


def _area(part: Part, rules: Rules) -> float:
    return float(shapely.Polygon(part.outer, part.holes).buffer(rules.spacing / 2).area)


def _with_gap(lying: Lying, gap: float) -> float:
    return (lying.box.width + gap) * (lying.box.height + gap)
