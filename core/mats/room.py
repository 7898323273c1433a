"""How large a swatch may be, and the pieces that are too large for that.

Terminology
    way         a largest width and height that a swatch may have, measured on the cloth itself
    room        all ways of one fabric: what lies on an empty mat, in either way round, and can be cut from the stock
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from clothpath.curves import Box
from clothpath.findings import LISTED, Finding, counted, error, first_few, listed
from clothpath.layout import Layout
from clothpath.mats.wanted import Rules, Wanted
from clothpath.nesting import Part, Points
from clothpath.nesting.parts import turned
from clothpath.units import as_inches, as_millimeters

__all__ = [
    "Room",
    "Size",
    "fitting_turns",
    "larger_than_mat",
    "larger_than_stock",
    "room",
    "room_on",
    "with_fitting_turns",
]

SLACK_MM: Final = 1e-6
"""Rounding in sums of sizes: a piece this much too large still fits."""
SWEEP_DEG: Final = 1.0
"""Step between the turns that are tried to find one at which a large piece fits."""
SIXTEENTH_MM: Final = 25.4 / 16
MOST_TURNS: Final = 8
"""How many of the turns at which a large piece fits are given to the engine."""

Size = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Room:
    """The ways of a swatch, in mm, the one of largest area first; none is within another."""

    ways: tuple[Size, ...]

    def within(self, sizes: Iterable[Size]) -> Room:
        """The room for swatches that fit one of the `sizes` too."""
        return room((min(w, sw), min(h, sh)) for w, h in self.ways for sw, sh in sizes)

    def inner(self, margin: float) -> tuple[Size, ...]:
        """What is left of each way for pieces."""
        return tuple((w - 2 * margin, h - 2 * margin) for w, h in self.ways)


def room(sizes: Iterable[Size]) -> Room:
    """The room of these ways, without those that lie within another."""
    ranked = sorted(sizes, key=lambda size: -round(size[0] * size[1], 6))
    kept: list[Size] = []
    for w, h in ranked:
        if w > 0 and h > 0 and not any(w <= kw + SLACK_MM and h <= kh + SLACK_MM for kw, kh in kept):
            kept.append((w, h))
    return Room(tuple(kept))


def room_on(places: Iterable[Size], turns: bool) -> Room:
    """The room for swatches that lie on one of the places, upright or, where they may, turned by a quarter."""
    upright = list(places)
    return room(upright + [(h, w) for w, h in upright] if turns else upright)


def fitting_turns(part: Part, sizes: Iterable[Size]) -> list[float]:
    """The turns, of those that the part may take, at which it fits one of the sizes; any turn is tried in steps."""
    turns, extents = _extents(part)
    limits = [(w + SLACK_MM, h + SLACK_MM) for w, h in sizes]
    return [t for t, (w, h) in zip(turns, extents, strict=True) if any(w <= lw and h <= lh for lw, lh in limits)]


def with_fitting_turns(part: Part, sizes: tuple[Size, ...]) -> Part:
    """A part that may be turned at will but fits in some turns only, with a few of those named to the engine."""
    if part.turns is not None:
        return part
    reach = float(np.hypot(*np.ptp(part.outer, axis=0)))
    if all(reach <= min(size) for size in sizes):
        return part
    fitting = fitting_turns(part, sizes)
    if not fitting or len(fitting) * SWEEP_DEG >= 180.0:
        return part
    chosen = fitting[:: math.ceil(len(fitting) / (MOST_TURNS // 2))]
    return replace(part, turns=tuple(t for turn in chosen for t in (turn, turn + 180.0)))


def larger_than_mat(layout: Layout, wanted: Iterable[Wanted], on_mat: Room, rules: Rules) -> tuple[Finding, ...]:
    """An error for every design with pieces that lie on no mat in any turn that their grain allows."""
    inner = on_mat.inner(rules.margin)
    large: dict[str, list[tuple[Wanted, Part]]] = {}
    for each in wanted:
        for part in each.parts:
            if not _fits(part, inner):
                large.setdefault(each.names[part.key][0], []).append((each, part))
    finished = {demand.design.name: demand.design.finished_box for demand in layout.demands}
    return tuple(_larger_than_mat(name, finished[name], some, on_mat, rules) for name, some in large.items())


def larger_than_stock(wanted: Wanted, in_stock: Room, rules: Rules) -> tuple[Finding, ...]:
    """An error for every piece that can be cut from nothing of the stock in any turn that its grain allows."""
    inner = in_stock.inner(rules.margin)
    return tuple(_larger_than_stock(wanted, part, in_stock, rules) for part in wanted.parts if not _fits(part, inner))


def _fits(part: Part, sizes: tuple[Size, ...]) -> bool:
    upright = part.turns is None or 0.0 in part.turns
    width, height = np.ptp(part.outer, axis=0).tolist()
    if upright and any(width <= w + SLACK_MM and height <= h + SLACK_MM for w, h in sizes):
        return True
    return bool(fitting_turns(part, sizes))


def _extents(part: Part) -> tuple[tuple[float, ...], list[Size]]:
    """The turns that the part may take, in steps where any is allowed, and the size of its box in each."""
    hull: Points = np.asarray(shapely.get_coordinates(shapely.MultiPoint(part.outer).convex_hull))
    turns = tuple(np.arange(0.0, 180.0, SWEEP_DEG).tolist()) if part.turns is None else part.turns
    boxes = [np.ptp(turned(hull, turn), axis=0).tolist() for turn in turns]
    return turns, [(max(w, SLACK_MM), max(h, SLACK_MM)) for w, h in boxes]


def _larger_than_mat(
    design: str, finished: Box, large: Sequence[tuple[Wanted, Part]], room: Room, rules: Rules
) -> Finding:
    """The pieces, the one that lacks most first, and what makes room for all of them."""
    inner = room.inner(rules.margin)
    ranked = sorted(large, key=lambda each: -_lack(each[1], inner))
    told = [
        f'"{each.names[part.key][1]}" is {_size(*np.ptp(part.outer, axis=0).tolist())}, '
        f"too large by {_length(_lack(part, inner))}"
        for each, part in ranked
    ]
    margin = f", less {as_inches(rules.margin)} of cloth all round" if rules.margin else ""
    message = (
        f"{counted(len(ranked), 'piece')} {'is' if len(ranked) == 1 else 'are'} too large for this mat, whose usable "
        f"area is {_size(*room.ways[0])}{margin}: {'; '.join(first_few(told, LISTED))}."
    )
    remedies = ["take a machine with a larger mat"]
    percent = math.floor(100 * min(_scale(part, inner) for _, part in large))
    if percent > 0:
        width, height = (_shown_below(side * percent / 100) for side in (finished.width, finished.height))
        remedies.append(f"a finished size of at most {percent} % of this one, {width} x {height}")
    firm = [each.fabric.label for each, part in large if part.turns is not None]
    if firm and all(fitting_turns(replace(part, turns=None), inner) for _, part in large):
        remedies.append(f'let the fabric {listed(firm)} be turned (grain = "any")')
    if rules.margin and all(fitting_turns(part, room.ways) for _, part in large):
        remedies.append("a smaller swatch-margin")
    names = ", ".join(each.names[part.key][1] for each, part in ranked[:LISTED])
    return error("piece-too-large", message, f"{design}: {names}", _choice(remedies))


def _larger_than_stock(wanted: Wanted, part: Part, room: Room, rules: Rules) -> Finding:
    design, piece = wanted.names[part.key]
    largest = f"the largest rectangle to be had is {_size(*room.ways[0])}" if room.ways else "there is nothing of it"
    message = (
        f'Piece "{piece}" is {_size(*np.ptp(part.outer, axis=0).tolist())}, too large for the stock of '
        f'"{wanted.fabric.label}": {largest}.'
    )
    remedies = ["state a larger piece of cloth for this fabric"]
    if part.turns is not None and fitting_turns(replace(part, turns=None), room.inner(rules.margin)):
        remedies.append('let the fabric be turned (grain = "any")')
    return error("piece-larger-than-stock", message, f"{design}: {piece}", _choice(remedies))


def _lack(part: Part, inner: tuple[Size, ...]) -> float:
    """By how many mm it is too large, in the turn and the way that lack least."""
    return min(max(pw - w, ph - h) for pw, ph in _extents(part)[1] for w, h in inner)


def _scale(part: Part, inner: tuple[Size, ...]) -> float:
    return max((min(w / pw, h / ph) for pw, ph in _extents(part)[1] for w, h in inner), default=0.0)


def _shown_below(mm: float) -> str:
    """A length in inches, down to the sixteenth that it holds."""
    return as_inches(math.floor(mm / SIXTEENTH_MM) * SIXTEENTH_MM)


def _choice(remedies: list[str]) -> str:
    text = ", or ".join(remedies) + "."
    return text[0].upper() + text[1:]


def _length(mm: float) -> str:
    return f"{as_inches(mm)} ({as_millimeters(mm)})" if mm >= 1.6 else f"{mm:.2f} mm"


def _size(width: float, height: float) -> str:
    return f"{as_inches(width)} x {as_inches(height)} ({as_millimeters(width)} x {as_millimeters(height)})"
