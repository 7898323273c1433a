"""Which rectangles to cut from one fabric so that all its pieces come out, none larger than a mat can take.

Terminology
    cutout      a swatch to be cut, not yet on a mat: the cloth's own width and height, and where the parts lie on it
    shapes      cutouts that serve the same parts, one of which is chosen: the one of least cloth first
    room        the largest cutout that lies on an empty mat, in one or two ways round

A fabric that needs more than one room is laid room by room, each as full as can be; what is left has shapes again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from clothpath.design import Fabric
from clothpath.findings import Finding, Refusal, error
from clothpath.mats.wanted import Rules, Wanted
from clothpath.nesting import Packing, Part, Points, Spot, candidates, fill
from clothpath.nesting.parts import turned
from clothpath.units import as_inches, as_millimeters, both

__all__ = ["Cutout", "Room", "cutouts", "too_large"]

SLACK_MM: Final = 1e-6
"""Rounding in sums of sizes: a cutout this much over a ruler line is cut at the line."""
SWEEP_DEG: Final = 1.0
"""Step between the turns that are tried to find one at which a large piece fits."""
MOST_TURNS: Final = 8
"""How many of the turns at which a large piece fits are given to the engine."""


@dataclass(frozen=True, slots=True)
class Cutout:
    """A swatch to be cut: the cloth's own size in mm, and where parts lie on it."""

    fabric: Fabric
    width: float
    height: float
    spots: tuple[Spot, ...]


@dataclass(frozen=True, slots=True)
class Room:
    """The largest cutout that lies on an empty mat, in mm."""

    width: float
    height: float
    turns: bool

    @property
    def ways(self) -> tuple[tuple[float, float], ...]:
        """Largest widths and heights of the cloth itself."""
        ways = ((self.width, self.height), (self.height, self.width))
        return ways if self.turns and self.width != self.height else ways[:1]


def cutouts(wanted: Wanted, room: Room, rules: Rules) -> tuple[tuple[Cutout, ...], ...]:
    """What to cut from one fabric: one entry a swatch, each with the shapes that it may have, the least cloth first.

    Raises:
        Refusal: a piece is too large for the room.
    """
    parts = [_with_fitting_turns(part, room, rules) for part in wanted.parts]
    found: list[tuple[Cutout, ...]] = []
    while parts:
        shapes = _shapes(wanted.fabric, parts, room, rules)
        if shapes:
            return (*found, shapes)
        full = _fullest(parts, room, rules)
        if not full.spots:
            raise Refusal(*(_too_large(wanted, part, room, rules) for part in parts))
        found.append((_rounded(wanted.fabric, full, room, rules),))
        left = dict(full.left)
        parts = [replace(part, count=left[part.key]) for part in parts if left.get(part.key)]
    return tuple(found)


def too_large(wanted: Wanted, room: Room, rules: Rules) -> tuple[Finding, ...]:
    """An error for every piece that fits the room in none of the turns that its grain allows."""
    return tuple(
        _too_large(wanted, part, room, rules) for part in wanted.parts if not len(_fitting_turns(part, room, rules))
    )


def _shapes(fabric: Fabric, parts: Sequence[Part], room: Room, rules: Rules) -> tuple[Cutout, ...]:
    need = sum(part.count * shapely.Polygon(part.outer).area for part in parts)
    if need > room.width * room.height:
        return ()
    free = all(part.turns is None for part in parts)
    found: dict[tuple[float, float], Cutout] = {}
    for width, height in room.ways[:1] if free else room.ways:
        for packing in candidates(parts, width, height, rules.part_spacing, rules.margin):
            cutout = _rounded(fabric, packing, room, rules)
            found.setdefault((cutout.width, cutout.height), cutout)
    ranked = sorted(found.values(), key=lambda each: (round(each.width * each.height, 3), each.width))
    chosen: list[Cutout] = []
    for each in ranked:
        if not any(_covers(each, other) for other in chosen):
            chosen.append(each)
    return tuple(chosen)


def _covers(large: Cutout, small: Cutout) -> bool:
    return large.width >= small.width - SLACK_MM and large.height >= small.height - SLACK_MM


def _fullest(parts: Sequence[Part], room: Room, rules: Rules) -> Packing:
    areas = {part.key: shapely.Polygon(part.outer).area for part in parts}
    tried = [fill(parts, width, height, rules.part_spacing, rules.margin) for width, height in room.ways]
    best = max(tried, key=lambda packing: round(sum(areas[spot.key] for spot in packing.spots), 3))
    laid = {key: sum(spot.key == key for spot in best.spots) for key in areas}
    return replace(best, left=tuple((p.key, p.count - laid[p.key]) for p in parts if p.count > laid[p.key]))


def _rounded(fabric: Fabric, packing: Packing, room: Room, rules: Rules) -> Cutout:
    """The packing in a rectangle that a ruler shows, or in all the room there is; what is added goes all round."""
    ways = [(w, h) for w, h in room.ways if packing.width <= w + 0.01 and packing.height <= h + 0.01]
    most_w, most_h = (max(way[axis] for way in ways) for axis in (0, 1))
    width = min(_up(packing.width, rules.ruler_step), max(most_w, packing.width))
    height = min(_up(packing.height, rules.ruler_step), max(most_h, packing.height))
    if not any(width <= w + SLACK_MM and height <= h + SLACK_MM for w, h in ways):
        width, height = next((min(width, w), min(height, h)) for w, h in ways)
    dx, dy = (width - packing.width) / 2, (height - packing.height) / 2
    spots = tuple(replace(spot, x=spot.x + dx, y=spot.y + dy) for spot in packing.spots)
    return Cutout(fabric, width, height, spots)


def _up(value: float, step: float) -> float:
    return math.ceil((value - SLACK_MM) / step) * step if step else value


def _hull(part: Part) -> Points:
    return np.asarray(shapely.get_coordinates(shapely.MultiPoint(part.outer).convex_hull))


def _extents(part: Part) -> tuple[list[float], list[tuple[float, float]]]:
    """The turns that the part may take, in steps where any is allowed, and the size of its box in each."""
    hull = _hull(part)
    turns = part.turns
    if turns is None:
        turns = tuple(float(t) for t in np.arange(0.0, 180.0, SWEEP_DEG))
    sizes = [tuple(np.ptp(turned(hull, turn), axis=0).tolist()) for turn in turns]
    return list(turns), [(w, h) for w, h in sizes]


def _fitting_turns(part: Part, room: Room, rules: Rules) -> list[float]:
    turns, sizes = _extents(part)
    inner = [(w - 2 * rules.margin + SLACK_MM, h - 2 * rules.margin + SLACK_MM) for w, h in room.ways]
    return [t for t, (w, h) in zip(turns, sizes, strict=True) if any(w <= iw and h <= ih for iw, ih in inner)]


def _with_fitting_turns(part: Part, room: Room, rules: Rules) -> Part:
    """A part that may be turned at will but fits in a few turns only, with those named to the engine."""
    if part.turns is not None:
        return part
    reach = float(np.hypot(*np.ptp(part.outer, axis=0)))
    if reach <= min(room.width, room.height) - 2 * rules.margin:
        return part
    fitting = _fitting_turns(part, room, rules)
    if len(fitting) == len(_extents(part)[0]) or not fitting:
        return part
    chosen = fitting[:: max(1, math.ceil(len(fitting) / (MOST_TURNS // 2)))]
    return replace(part, turns=tuple(t for turn in chosen for t in (turn, turn + 180.0)))


def _too_large(wanted: Wanted, part: Part, room: Room, rules: Rules) -> Finding:
    design, piece = wanted.names[part.key]
    width, height = np.ptp(part.outer, axis=0).tolist()
    inner_w, inner_h = room.width - 2 * rules.margin, room.height - 2 * rules.margin
    scale = max(
        min((w - 2 * rules.margin) / pw, (h - 2 * rules.margin) / ph)
        for pw, ph in _extents(part)[1]
        for w, h in room.ways
    )
    over = max(width - inner_w, height - inner_h)
    by = f", {both(over)} too much" if part.turns == (0.0,) else ""
    remedies = ["Take a machine with a larger mat"]
    if scale > 0:
        remedies.append(f"or a finished size of at most {math.floor(scale * 100)} % of this one")
    if part.turns is not None and _fitting_turns(replace(part, turns=None), room, rules):
        remedies.append(f'or let the fabric "{wanted.fabric.label}" be turned (grain = "any")')
    if rules.margin and _fitting_turns(part, room, replace(rules, margin=0.0)):
        remedies.append("or a smaller swatch-margin")
    return error(
        "piece-too-large",
        f'Piece "{piece}" is {_size(width, height)}; a piece on this mat may be {_size(inner_w, inner_h)}: the usable '
        f"area is {_size(room.width, room.height)}, with {as_inches(rules.margin)} of cloth all round{by}.",
        where=f"{design}: {piece}",
        hint=", ".join(remedies) + ".",
    )


def _size(width: float, height: float) -> str:
    inches = f"{as_inches(width)} x {as_inches(height)}"
    return f"{inches} ({as_millimeters(width)} x {as_millimeters(height)})"
