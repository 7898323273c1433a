"""Checks a packing from its spots alone, with no code of the engine that made it.

Terminology:

fault
    one way in which a packing breaks what was asked: a copy that sticks out, two copies too close, a turn that is
    not allowed, a copy missing or too many.

The check turns and moves the parts with shapely's own affinity, and measures true outlines, not the grown ones that
the engine works with.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import Final, Literal

import shapely
from shapely import affinity

from .parts import TOLERANCE_MM, Packing, Part, Points, Spot

__all__ = ["Fault", "faults"]

_TURN_TOLERANCE_DEG: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong, with the spots concerned and by how many mm (or copies, or degrees)."""

    kind: Literal["outside", "too close", "blocked", "turn", "count", "unknown"]
    spots: tuple[Spot, ...]
    amount: float
    key: str


def faults(
    parts: Sequence[Part], packing: Packing, spacing: float, margin: float, blocked: Sequence[Points] = ()
) -> tuple[Fault, ...]:
    """Every way in which `packing` breaks what was asked of it; empty when it is good.

    Args:
        parts: what was to be laid.
        packing: spots, and the copies it says it left out.
        spacing: least distance between two copies, mm.
        margin: least distance from the rectangle's sides and from the blocked areas, mm.
        blocked: outlines in the rectangle's coordinates that no copy may come close to.
    """
    by_key = {part.key: part for part in parts}
    found = [Fault("unknown", (spot,), 1, spot.key) for spot in packing.spots if spot.key not in by_key]
    found += [
        Fault("outside", (spot,), inf, spot.key)
        for spot in packing.spots
        if not (isfinite(spot.turn) and isfinite(spot.x) and isfinite(spot.y))
    ]
    if found:
        return tuple(found)
    found += _counts(parts, packing)
    found += [
        Fault("turn", (spot,), spot.turn, spot.key)
        for spot in packing.spots
        if not _turn_allowed(spot.turn, by_key[spot.key].turns)
    ]
    shapes = [_shape(by_key[spot.key], spot) for spot in packing.spots]
    for spot, shape in zip(packing.spots, shapes, strict=True):
        x0, y0, x1, y1 = shape.bounds
        out = max(margin - x0, margin - y0, x1 + margin - packing.width, y1 + margin - packing.height)
        if not out <= TOLERANCE_MM:
            found.append(Fault("outside", (spot,), out, spot.key))
    found += _too_close(packing.spots, shapes, spacing)
    found += _blocked(packing.spots, shapes, blocked, margin)
    return tuple(found)


def _counts(parts: Sequence[Part], packing: Packing) -> list[Fault]:
    seen = Counter(spot.key for spot in packing.spots)
    copies = Counter((spot.key, spot.copy) for spot in packing.spots)
    left = Counter(dict(packing.left))
    wrong = [Fault("count", (), seen[p.key] + left[p.key] - p.count, p.key) for p in parts]
    twice = [Fault("count", (), n - 1, key) for (key, _), n in copies.items() if n > 1]
    return [fault for fault in wrong if fault.amount] + twice


def _turn_allowed(turn: float, turns: tuple[float, ...] | None) -> bool:
    return turns is None or any(abs((turn - t + 180) % 360 - 180) <= _TURN_TOLERANCE_DEG for t in turns)


def _shape(part: Part, spot: Spot) -> shapely.Geometry:
    shape = shapely.Polygon(part.outer, part.holes)
    shape = affinity.rotate(shape if shape.is_valid else shapely.make_valid(shape), spot.turn, origin=(0, 0))
    return affinity.translate(shape, spot.x, spot.y)


def _too_close(spots: Sequence[Spot], shapes: Sequence[shapely.Geometry], spacing: float) -> list[Fault]:
    if len(shapes) < 2:
        return []
    tree = shapely.STRtree(shapes)
    near = tree.query(shapes, predicate="dwithin", distance=max(spacing, 0.0))
    found = []
    for a, b in zip(*near.tolist(), strict=True):
        if a >= b:
            continue
        lack = spacing - shapely.distance(shapes[a], shapes[b])
        if lack >= spacing - TOLERANCE_MM:
            lack = max(lack, spacing + _depth(shapes[a], shapes[b]))
        if lack > TOLERANCE_MM:
            found.append(Fault("too close", (spots[a], spots[b]), float(lack), spots[a].key))
    return found


def _blocked(
    spots: Sequence[Spot], shapes: Sequence[shapely.Geometry], blocked: Sequence[Points], margin: float
) -> list[Fault]:
    found = []
    for area in (shapely.make_valid(shapely.Polygon(ring)) for ring in blocked):
        for spot, shape in zip(spots, shapes, strict=True):
            lack = margin - shapely.distance(area, shape)
            if lack >= margin - TOLERANCE_MM:
                lack = max(lack, margin + _depth(area, shape))
            if lack > TOLERANCE_MM:
                found.append(Fault("blocked", (spot,), float(lack), spot.key))
    return found


def _depth(a: shapely.Geometry, b: shapely.Geometry) -> float:
    """How deep two shapes lie in each other, mm: zero when they stay apart after losing half the tolerance each."""
    inside = shapely.intersection(a.buffer(-TOLERANCE_MM / 2), b.buffer(-TOLERANCE_MM / 2))
    return 0.0 if inside.is_empty else TOLERANCE_MM + float(inside.area) ** 0.5
