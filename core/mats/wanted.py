"""What is to be laid out, fabric by fabric, as the nesting engine wants it, and the rules it is laid by.

Terminology
    wanted      one fabric and the parts to be cut from it, pooled over all designs
    part        a piece as the engine sees it: flattened, and flipped if its fabric is laid wrong side up
    rules       the distances and habits that a person sets for a layout
    ruler step  cutting sizes are multiples of it
    place step  swatches sit at multiples of it from the mat's left and bottom edges, where that costs no mat
    fixed       a swatch that must lie at a stated place of a mat
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from clothpath.curves import Affine, flattened, length
from clothpath.design import GRAIN_TURNS, Fabric, Piece, fabric_of
from clothpath.findings import Refusal, error
from clothpath.layout import Layout
from clothpath.nesting.parts import Like, Part, turned
from clothpath.picture.likeness import relative_turns
from clothpath.picture.registration import aligned, aligned_at, rings
from clothpath.regions import Region, moved, region_area, xy

__all__ = ["FLAT_MM", "Fixed", "PartName", "Rules", "Wanted", "multiplied", "part_names", "wanted_by_fabric"]

FLAT_MM: Final = 0.008
"""Largest distance between a piece's curve and the polygon that the engine gets; the spacing allows for it."""

LIKE_MM: Final = 0.003
"""Pieces of one fabric within this of each other are laid as copies of one shape; the spacing allows for it."""
AROUND: Final = 20.0
"""Alike, the lengths around two pieces differ by no more than so many times `LIKE_MM`: some for each corner."""

PartName = tuple[str, str]
"""The names of a design and of one of its pieces."""


@dataclass(frozen=True, slots=True)
class Fixed:
    """A swatch with its place, in mat coordinates.

    Attributes:
        mat: number of the mat, from 1.
        size: as it lies on the mat, where the cloth is cut already; None: as large as need be.
    """

    fabric: str
    x: float
    y: float
    mat: int = 1
    size: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Rules:
    """How pieces are laid on swatches and swatches on mats, in mm.

    Attributes:
        spacing: least distance between two pieces.
        margin: least distance between a piece and the edge of its swatch.
        gap: least distance between two swatches.
        ruler_step: sizes of swatches are multiples of it.
        place_step: swatches sit at multiples of it, where that costs no mat.
        turn_swatches: whether a swatch may lie on the mat turned by a quarter.
        seconds: the time that the search may take, over the whole layout; 0: quick, the same to the byte every time.
        fixed: swatches with a place of their own.
    """

    spacing: float
    margin: float
    gap: float
    ruler_step: float
    place_step: float
    turn_swatches: bool = True
    seconds: float = 0.0
    fixed: tuple[Fixed, ...] = ()


@dataclass(frozen=True, slots=True)
class _Shape:
    """A region, the part made of it, its area, and the length around it."""

    region: Region
    part: Part
    area: float
    around: float


@dataclass(frozen=True, slots=True)
class Wanted:
    """One fabric and the parts to be cut from it.

    Attributes:
        names: by part key which piece a part is.
        slack: what must be added to the spacing of the parts so that their curves keep it, within the tolerance.
    """

    fabric: Fabric
    parts: tuple[Part, ...]
    names: dict[str, PartName]
    slack: float


def multiplied(layout: Layout, copies: int) -> Layout:
    """The layout that asks for `copies` times as much."""
    return replace(layout, demands=tuple(replace(each, count=each.count * copies) for each in layout.demands))


def part_names(layout: Layout) -> dict[str, PartName]:
    """By part key, which piece of which design a part is."""
    return {
        f"{d}.{p}": (demand.design.name, piece.id)
        for d, demand in enumerate(layout.demands)
        for p, piece in enumerate(demand.design.pieces)
    }


def wanted_by_fabric(layout: Layout) -> tuple[Wanted, ...]:
    """What the demands of a layout want of each fabric, in the order of `layout.fabrics`.

    Raises:
        Refusal: nothing is to be cut, or a piece names a fabric that is not there.
    """
    parts: dict[str, list[Part]] = {}
    names: dict[str, dict[str, PartName]] = {}
    known: dict[str, list[_Shape]] = {}
    curved, alike = set[str](), set[str]()
    for d, demand in enumerate(layout.demands):
        for p, piece in enumerate(demand.design.pieces):
            count = piece.copies * demand.count
            if piece.role != "cut" or count <= 0:
                continue
            fabric = _fabric(layout, demand.design.name, piece)
            key = f"{d}.{p}"
            shapes = known.setdefault(fabric.key, [])
            part = _like_one(key, piece.region, fabric, count, shapes)
            if part is None:
                part = _part(key, piece.region, fabric, count)
                shapes.append(_Shape(piece.region, part, *_measures(piece.region)))
            else:
                alike.add(fabric.key)
            parts.setdefault(fabric.key, []).append(part)
            names.setdefault(fabric.key, {})[key] = (demand.design.name, piece.id)
            if not all(ring.straight.all() for ring in piece.region):
                curved.add(fabric.key)
    if not parts:
        raise Refusal(
            error(
                "nothing-to-cut",
                "No piece is to be cut, so there is nothing to lay out.",
                hint="Check the roles that separate gives the pieces, and the counts of the designs.",
            )
        )
    order = [fabric for fabric in layout.fabrics if fabric.key in parts]
    return tuple(
        Wanted(
            fabric,
            tuple(parts[fabric.key]),
            names[fabric.key],
            (FLAT_MM if fabric.key in curved else 0.0) + (LIKE_MM if fabric.key in alike else 0.0),
        )
        for fabric in order
    )


def _fabric(layout: Layout, design: str, piece: Piece) -> Fabric:
    try:
        return fabric_of(layout.fabrics, piece.fabric)
    except KeyError:
        raise Refusal(
            error(
                "fabric-unknown",
                f'Piece "{piece.label}" is cut from the fabric "{piece.fabric}", which is not in the layout.',
                where=design,
                hint="Name the fabric in the design, or give the piece another one.",
            )
        ) from None


def _like_one(key: str, region: Region, fabric: Fabric, count: int, shapes: Sequence[_Shape]) -> Part | None:
    """The part of a region that has one of the shapes in a turn that the grain allows; its points are the shape's."""
    area, around = _measures(region)
    for shape in shapes:
        if abs(area - shape.area) > LIKE_MM * around or abs(around - shape.around) > LIKE_MM * AROUND:
            continue
        way = _way_onto(shape.region, region, relative_turns(fabric.grain))
        if way is not None:
            # with F: x -> -x, as the cloth lies: F R(t) F = R(-t), and the shift is seen in the mirror
            turn = -way[0] if fabric.reversed else way[0]
            x, y = -way[1].real if fabric.reversed else way[1].real, way[1].imag
            outer, *holes = (np.add(turned(ring, turn), (x, y)) for ring in (shape.part.outer, *shape.part.holes))
            like = Like(shape.part.key, turn, x, y)
            return replace(shape.part, key=key, outer=outer, holes=tuple(holes), count=count, like=like)
    return None


def _way_onto(one: Region, other: Region, turns: Sequence[float] | None) -> tuple[float, complex] | None:
    """The turn in degrees, one of these, and the shift that lay one region onto another; None: they are not alike."""
    if turns is None and (copied := _copied(one, other)) is not None:
        return copied
    found = aligned(rings(one), rings(other), LIKE_MM) if turns is None else aligned_at(rings(one), rings(other), turns)
    best = min(found, key=lambda each: each.deviation, default=None)
    return (best.turn_deg, best.shift) if best is not None and best.deviation <= LIKE_MM else None


def _copied(one: Region, other: Region) -> tuple[float, complex] | None:
    """The turn in degrees and the shift that lay each node of one region onto that of another; None: there is none."""
    if [len(ring) for ring in one] != [len(ring) for ring in other]:
        return None
    a, b = (np.concatenate([ring.nodes.ravel() for ring in each]) for each in (one, other))
    middle, its_middle = complex(a.mean()), complex(b.mean())
    by = np.vdot(a - middle, b - its_middle)
    if abs(by) == 0:
        return None
    way = complex(by / abs(by))
    if np.abs(b - its_middle - way * (a - middle)).max() > LIKE_MM:
        return None
    return math.degrees(cmath.phase(way)) % 360.0, its_middle - way * middle


def _measures(region: Region) -> tuple[float, float]:
    """Area and length of all edges: no turn changes them."""
    return region_area(region), sum(length(ring) for ring in region)


def _part(key: str, region: Region, fabric: Fabric, count: int) -> Part:
    laid = moved(region, Affine.flip()) if fabric.reversed else region
    outer, *holes = (xy(flattened(ring, FLAT_MM)) for ring in laid)
    return Part(key, outer, tuple(holes), GRAIN_TURNS[fabric.grain], count)
