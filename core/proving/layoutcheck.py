"""Checks a layout from the layout alone, with no code of what made it.

Terminology
    fault       one way in which a layout breaks what was asked; a finding of severity "error"
    lack        by how many millimeters a distance is too small
    clearances  the three distances that a layout keeps: between pieces, to a swatch's edge, between swatches
    whole scrap a swatch that is the box round an irregular scrap: its pieces lie inside the scrap's own outline

Pieces are taken from the designs, flipped, turned and shifted here by their own matrix, and measured with shapely. A
mat that is cut several times brings, at its nth time, the copies whose numbers are higher by n times what it holds.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import shapely

from clothpath.curves import Box
from clothpath.design import GRAIN_TURNS, Fabric, Piece
from clothpath.findings import Finding, error
from clothpath.layout import CutFrom, Layout, Mat, MatLayout, Placement, Stock, Swatch
from clothpath.regions import as_polygon
from clothpath.units import as_inches, as_millimeters

__all__ = ["TOLERANCE_MM", "Clearances", "faults"]

Shapes: TypeAlias = "np.ndarray[tuple[int], np.dtype[np.object_]]"

TOLERANCE_MM: Final = 0.01
"""A lack of no more than this is none."""
FLAT_MM: Final = 0.002
"""Largest distance between a piece's curve and the polygon that is measured."""
TURN_TOLERANCE_DEG: Final = 1e-6
"""A turn this near to one that the grain allows is allowed."""


@dataclass(frozen=True, slots=True)
class Clearances:
    """Least distances in mm: between two pieces, from a piece to its swatch's edge, between two swatches."""

    spacing: float = 0.0
    margin: float = 0.0
    gap: float = 0.0


@dataclass(frozen=True, slots=True)
class _Lying:
    placement: Placement
    piece: Piece
    shape: shapely.Polygon


def faults(layout: Layout, clearances: Clearances) -> tuple[Finding, ...]:
    """Every way in which the layout breaks what was asked of it; empty if it is good."""
    pieces = {(d.design.name, piece.id): piece for d in layout.demands for piece in d.design.pieces}
    fabrics = {fabric.key: fabric for fabric in layout.fabrics}
    flat: dict[tuple[str, str], shapely.Polygon] = {}
    found: list[Finding] = []
    for number, mat in enumerate(layout.mats, start=1):
        place = f"mat {number}"
        found += [each.at(place) for each in _swatch_faults(layout.mat, mat.swatches, clearances.gap)]
        for swatch in mat.swatches:
            fabric = fabrics.get(swatch.fabric)
            if fabric is None:
                found.append(error("layout-fabric", f'The fabric "{swatch.fabric}" is not in the layout.', place))
                continue
            found += [each.at(f"{place}: {fabric.label}") for each in _rule_faults(swatch, fabric, pieces)]
            known = [each for each in swatch.placements if (each.design, each.piece) in pieces]
            lying = [_Lying(each, pieces[each.design, each.piece], _shape(each, pieces, flat)) for each in known]
            found += [each.at(f"{place}: {fabric.label}") for each in _distance_faults(swatch, lying, clearances)]
    return (*found, *_count_faults(layout), *_stock_faults(layout, pieces, clearances.margin))


def _swatch_faults(mat: Mat, swatches: Sequence[Swatch], gap: float) -> Iterator[Finding]:
    usable = mat.usable
    for n, swatch in enumerate(swatches):
        box = swatch.box
        out = max(usable.left - box.left, usable.bottom - box.bottom, box.right - usable.right, box.top - usable.top)
        if not out <= TOLERANCE_MM:
            yield error("swatch-outside", f"The rectangle sticks out of the usable area by {_mm(out)}.", swatch.fabric)
        for kept in mat.keep_out:
            across, up = _apart(box, kept)
            if max(across, up) < -TOLERANCE_MM:
                message = f"The rectangle lies {_mm(-max(across, up))} in a keep-out area."
                yield error("swatch-in-keep-out", message, swatch.fabric)
        for other in swatches[:n]:
            lack = gap - _distance(box, other.box)
            if not lack <= TOLERANCE_MM:
                message = f'It lies {_mm(lack)} too close to the rectangle of "{other.fabric}".'
                yield error("swatches-too-close", message, swatch.fabric)


def _apart(a: Box, b: Box) -> tuple[float, float]:
    """How far apart two boxes are across and up; negative where they share that much."""
    return max(a.left - b.right, b.left - a.right), max(a.bottom - b.top, b.bottom - a.top)


def _distance(a: Box, b: Box) -> float:
    """The distance of two boxes; negative if they overlap, by how deep."""
    across, up = _apart(a, b)
    return max(across, up) if min(across, up) < 0 else math.hypot(across, up)


def _rule_faults(swatch: Swatch, fabric: Fabric, pieces: dict[tuple[str, str], Piece]) -> Iterator[Finding]:
    side = fabric.laid or "right-side-up"
    if swatch.laid != side:
        yield error("layout-laid", f"The rectangle is laid {swatch.laid}, the fabric asks for {side}.")
    if swatch.turn % 90:
        yield error("swatch-turn", f"The rectangle is turned by {swatch.turn:g}°, which is no quarter turn.")
    allowed = GRAIN_TURNS[fabric.grain]
    for placement in swatch.placements:
        name = _name(placement)
        piece = pieces.get((placement.design, placement.piece))
        if piece is None or piece.role != "cut":
            yield error("layout-piece", "There is no such piece to cut.", name)
        elif piece.fabric != swatch.fabric:
            yield error("layout-fabric", f'It belongs on "{piece.fabric}", not on "{swatch.fabric}".', name)
        if placement.reversed != (side == "wrong-side-up"):
            is_not = "reversed" if placement.reversed else "not reversed"
            yield error("layout-reversal", f"It is {is_not} on a fabric that is laid {side}.", name)
        if allowed is not None and not any(_same_turn(placement.turn, turn) for turn in allowed):
            message = f'It is turned by {placement.turn:g}°, which the grain "{fabric.grain}" does not allow.'
            yield error("layout-grain", message, name)


def _same_turn(a: float, b: float) -> bool:
    return abs((a - b + 180) % 360 - 180) <= TURN_TOLERANCE_DEG


def _shape(
    placement: Placement, pieces: dict[tuple[str, str], Piece], flat: dict[tuple[str, str], shapely.Polygon]
) -> shapely.Polygon:
    """The piece where it lies on the cloth: flipped, turned about the origin, shifted."""
    name = (placement.design, placement.piece)
    if name not in flat:
        flat[name] = as_polygon(pieces[name].region, FLAT_MM)
    angle = math.radians(placement.turn)
    cos, sin = math.cos(angle), math.sin(angle)
    sign = -1.0 if placement.reversed else 1.0
    matrix = np.array([[sign * cos, sign * sin], [-sin, cos]])
    shift = np.array([placement.shift.real, placement.shift.imag])
    return shapely.transform(flat[name], lambda points: points @ matrix + shift)


def _distance_faults(swatch: Swatch, lying: Sequence[_Lying], clearances: Clearances) -> Iterator[Finding]:
    if not lying:
        yield error("swatch-empty", "The rectangle holds no piece.")
        return
    width, height = (swatch.width, swatch.height) if swatch.turn % 180 == 0 else (swatch.height, swatch.width)
    shapes = np.array([each.shape for each in lying])
    bounds = shapely.bounds(shapes)
    room = np.array([-bounds[:, 0], -bounds[:, 1], bounds[:, 2] - width, bounds[:, 3] - height]).max(axis=0)
    for n in np.flatnonzero(~(room + clearances.margin <= TOLERANCE_MM)).tolist():
        lack = float(room[n]) + clearances.margin
        message = f"It lies {_mm(lack)} too near to the edge of the rectangle."
        yield error("piece-at-edge", message, _name(lying[n].placement))
    for a, b, lack in _too_close(shapes, clearances.spacing):
        message = f"It lies {_mm(lack)} too close to {_name(lying[b].placement)}."
        yield error("pieces-too-close", message, _name(lying[a].placement))


def _too_close(shapes: Shapes, spacing: float) -> Iterator[tuple[int, int, float]]:
    """Pairs of shapes and by how much they are too close; where they overlap, by about how deep."""
    reach = spacing - TOLERANCE_MM
    tree = shapely.STRtree(shapes)
    if reach > 0:
        near = tree.query(shapes, predicate="dwithin", distance=reach)
        pairs = near.T[near[0] < near[1]]
    else:
        near = tree.query(shapes, predicate="intersects")
        pairs = near.T[near[0] < near[1]]
        shrunk = shapely.buffer(shapes, -TOLERANCE_MM / 2, join_style="mitre")
        pairs = pairs[shapely.intersects(shrunk[pairs[:, 0]], shrunk[pairs[:, 1]])]
    for a, b in sorted(pairs.tolist()):
        shared = shapely.intersection(shapes[a], shapes[b])
        depth = 2 * float(shared.area) / max(float(shared.length), 1e-9)
        yield a, b, spacing - float(shapely.distance(shapes[a], shapes[b])) + depth


def _count_faults(layout: Layout) -> Iterator[Finding]:
    counted = Counter(name for mat in layout.mats for name in _brought(mat))
    for demand in layout.demands:
        for piece in demand.design.pieces:
            wanted = piece.copies * demand.count if piece.role == "cut" else 0
            name = (demand.design.name, piece.id)
            missing = [n for n in range(1, wanted + 1) if not counted[*name, n]]
            place = f"{demand.design.name}: {piece.id}"
            if missing:
                yield error("piece-lost", f"{len(missing)} of {wanted} copies are not laid out.", place)
            if sum(n for each, n in counted.items() if each[:2] == name) > wanted - len(missing):
                yield error("piece-added", f"More than the {wanted} copies that are wanted are laid out.", place)


def _brought(mat: MatLayout) -> Iterator[tuple[str, str, int]]:
    held = Counter((each.design, each.piece) for swatch in mat.swatches for each in swatch.placements)
    for swatch in mat.swatches:
        for each in swatch.placements:
            for time in range(mat.times):
                yield each.design, each.piece, each.copy + time * held[each.design, each.piece]


def _stock_faults(layout: Layout, pieces: dict[tuple[str, str], Piece], margin: float) -> Iterator[Finding]:
    cloths = {fabric.key: fabric.cloth_key for fabric in layout.fabrics}
    stocked = {stock.fabric for stock in layout.stock}
    wanted = {
        (m, s, time): swatch
        for m, mat in enumerate(layout.mats)
        for s, swatch in enumerate(mat.swatches)
        for time in range(mat.times)
        if cloths.get(swatch.fabric, swatch.fabric) in stocked
    }
    counted = Counter((cut.mat, cut.swatch, cut.time) for cut in layout.cut_from)
    for m, s, time in sorted(wanted.keys() | counted.keys()):
        if (m, s, time) not in wanted or counted[m, s, time] != 1:
            message = f"Rectangle {s + 1} is cut {counted[m, s, time]} times from the stock."
            yield error("stock-cuts", message, f"mat {m + 1}")
    sound = [cut for cut in layout.cut_from if (cut.mat, cut.swatch, cut.time) in wanted]
    for n, cut in enumerate(sound):
        swatch = wanted[cut.mat, cut.swatch, cut.time]
        place = f"mat {cut.mat + 1}: {swatch.fabric}"
        if not 0 <= cut.stock < len(layout.stock) or not 1 <= cut.number <= layout.stock[cut.stock].count:
            yield error("stock-unknown", "It is cut from cloth that there is not.", place)
            continue
        yield from (each.at(place) for each in _cut_faults(layout, cut, swatch))
        yield from (each.at(place) for each in _scrap_faults(layout.stock[cut.stock], cut, swatch, pieces, margin))
        for other in sound[:n]:
            if (cut.stock, cut.number) == (other.stock, other.number):
                across, up = _apart(cut.box, other.box)
                if max(across, up) < -TOLERANCE_MM:
                    yield error("stock-cuts-overlap", "Two rectangles are cut from one place of the stock.", place)


def _cut_faults(layout: Layout, cut: CutFrom, swatch: Swatch) -> Iterator[Finding]:
    stock = layout.stock[cut.stock]
    cloth = next((fabric.cloth_key for fabric in layout.fabrics if fabric.key == swatch.fabric), swatch.fabric)
    if stock.fabric != cloth:
        yield error("stock-fabric", f'It is cut from "{stock.fabric}".')
    lying_turned = cut.turned != (swatch.turn % 180 == 90)
    width, height = (swatch.height, swatch.width) if lying_turned else (swatch.width, swatch.height)
    if max(abs(cut.box.width - width), abs(cut.box.height - height)) > TOLERANCE_MM:
        yield error("stock-size", "It is not cut in the size in which it lies on the mat.")
    whole = shapely.box(0, 0, stock.width, 1e7 if stock.height is None else stock.height)
    if stock.outline is not None:
        whole = as_polygon(stock.outline, FLAT_MM)
    whole = whole.buffer(TOLERANCE_MM - stock.rim, join_style="mitre")
    if not _is_whole_scrap(stock, cut) and not whole.covers(
        shapely.box(cut.box.left, cut.box.bottom, cut.box.right, cut.box.top)
    ):
        yield error("stock-outside", "It is cut where the stock has no cloth, or within its rim.")
    grain = next((GRAIN_TURNS[fabric.grain] for fabric in layout.fabrics if fabric.key == swatch.fabric), None)
    if cut.turned and grain is not None and any((turn + 90) % 360 not in grain for turn in grain):
        yield error("stock-grain", "It is cut across the grain that its pieces need along.")


def _is_whole_scrap(stock: Stock, cut: CutFrom) -> bool:
    """Whether an irregular scrap is used as it is, its top up."""
    if stock.outline is None or stock.height is None or cut.turned:
        return False
    over = (cut.box.left, cut.box.bottom, cut.box.right - stock.width, cut.box.top - stock.height)
    return max(abs(each) for each in over) <= TOLERANCE_MM


def _scrap_faults(
    stock: Stock, cut: CutFrom, swatch: Swatch, pieces: dict[tuple[str, str], Piece], margin: float
) -> Iterator[Finding]:
    """Pieces that are not inside the outline of a whole scrap, seen from the side that faces up."""
    if stock.outline is None or not _is_whole_scrap(stock, cut):
        return
    cloth = as_polygon(stock.outline, FLAT_MM)
    if swatch.laid == "wrong-side-up":
        cloth = shapely.transform(cloth, lambda points: points * [-1.0, 1.0] + [stock.width, 0.0])
    edge, roomy = cloth.boundary, cloth.buffer(TOLERANCE_MM)
    flat: dict[tuple[str, str], shapely.Polygon] = {}
    for placement in swatch.placements:
        if (placement.design, placement.piece) in pieces:
            shape = _shape(placement, pieces, flat)
            lack = margin + stock.rim - float(shapely.distance(edge, shape))
            if lack > TOLERANCE_MM or not roomy.covers(shape):
                message = "It does not lie inside the outline of the scrap, or too near to its edge."
                yield error("piece-off-scrap", message, _name(placement))


def _name(placement: Placement) -> str:
    return f"{placement.design}: {placement.piece} (copy {placement.copy})"


def _mm(lack: float) -> str:
    return f"{lack:.3f} mm" if lack < 1 else f"{as_inches(lack)} ({as_millimeters(lack)})"
