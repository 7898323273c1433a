"""The step `bearable`: what cloth and blade can bear, told with its place; sharp corners rounded if that is asked for.

Terminology
    neck        a place between two wider parts that is narrower than the limit: it frays or tears
    point       a part that runs out narrower than the limit, farther than a plain corner does
    sharp       a corner whose angle is less than the limit: a blade tears it, a tip frays off
    fine        two corners nearer to each other than the blade can follow

Put it after `scale-to-spec`, when the pieces have their size; before `underlap` and its kin it speaks of the drawing
only, after them also of what they made, which lies beneath other pieces.

Bare cloth frays, so its limits are twice those of fused cloth. Places are told from the left and the bottom of the
picture.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
import shapely
from pydantic import Field

from clothpath.areas.booleans import difference, intersection, union
from clothpath.areas.offsets import offset
from clothpath.contracts import Millimeters, Settings, Transform, hookimpl
from clothpath.curves import Floats, Outline, Points, boxes, circle, gathered
from clothpath.design import Design, Piece, fabric_of
from clothpath.findings import Finding, Outcome, listed, warning
from clothpath.fitting.fits import directions_at_ends
from clothpath.fitting.tracks import Geometries, polygons_in
from clothpath.picture.spots import corner_of, spots_on
from clothpath.regions import Region, region, region_area
from clothpath.units import as_millimeters, both

__all__ = ["Bearable", "BearableSettings"]

NARROW_FUSED_MM: Final = 3.0
NARROW_BARE_MM: Final = 6.0
"""The narrowest neck (trade-facts: memory)."""
HOLE_MM: Final = 4.0
"""A hole less wide than this is hard to weed and closes up (memory)."""
SMALL_MM: Final = 12.7
"""Under 1/2 in a piece is hard to handle (trade-facts: memory)."""
SHARP_DEGREES: Final = 25.0
"""A corner sharper than this is torn by a blade that turns in it (memory)."""
FINE_MM: Final = 0.5
"""Twice the usual offset of a drag knife's tip, 0.25 mm (trade-facts: common practice)."""
TURNING_DEGREES: Final = 20.0
"""A node that turns by more than this is a corner for the blade."""
HAIR_MM: Final = 0.003
"""By this much a rounded outline is kept from running along the one it came from, in mm."""
FLAT_MM: Final = 0.02
"""Flattening of pieces that are measured, in mm."""
PLACES: Final = 6
"""So many pieces are told with a place; the rest is counted."""
WIDER: Final = 1.01
"""What a disk reaches is widened by this much, so that the polygon of its rim holds the round edges that it follows."""
AREA_MM2: Final = 0.05
"""What an opening takes off in one place is noise if it is less than this, in mm^2."""


class BearableSettings(Settings):
    """The limits, and the radius of sharp corners if they are to be rounded."""

    narrow_fused: Millimeters = Field(NARROW_FUSED_MM, ge=0, description="narrowest neck or point of fused cloth")
    narrow_bare: Millimeters = Field(NARROW_BARE_MM, ge=0, description="narrowest neck or point of bare cloth")
    hole: Millimeters = Field(HOLE_MM, ge=0, description="narrowest hole")
    small: Millimeters = Field(SMALL_MM, ge=0, description="smallest piece, by its longer side")
    fine: Millimeters = Field(FINE_MM, ge=0, description="smallest distance between two corners that the blade follows")
    sharp: float = Field(SHARP_DEGREES, ge=0, le=90, description="sharpest corner, in degrees")
    round_corners: Millimeters | None = Field(
        None, gt=0, description="radius to which corners that are too sharp are rounded; nothing: they stay"
    )


class Bearable:
    """Findings on the pieces that are cut, one for each kind."""

    name = "bearable"
    summary = "Tell what is too narrow, too small, too sharp or too fine to cut"
    stage: Literal["design"] = "design"
    lengths = "absolute"
    settings = BearableSettings

    def apply(self, design: Design, settings: BearableSettings) -> Outcome[Design]:
        """The design as it was, or with its sharp corners rounded."""
        pieces = list(design.pieces)
        if settings.round_corners is not None:
            pieces = [_rounded(piece, settings) if piece.role == "cut" else piece for piece in pieces]
        cut = [piece for piece in pieces if piece.role == "cut"]
        bare = [fabric_of(design.fabrics, piece.fabric).preparation == "bare" for piece in cut]
        limits = [settings.narrow_bare if each else settings.narrow_fused for each in bare]
        found = _found(cut, settings, limits)
        return Outcome(replace(design, pieces=tuple(pieces)), tuple(_told(design, found)))


KINDS: Final = {
    "neck-narrow": (
        "has a neck narrower than {size}",
        "have necks narrower than {size}",
        "Widen it in the drawing, or cut the piece in two.",
    ),
    "piece-narrow": (
        "is nowhere as wide as {size}",
        "are nowhere as wide as {size}",
        "Widen it in the drawing, or stitch it instead.",
    ),
    "point-narrow": (
        "runs out in a point narrower than {size}",
        "run out in points narrower than {size}",
        "Make it blunter, or cut it by hand.",
    ),
    "hole-small": (
        "has a hole narrower than {size}",
        "have holes narrower than {size}",
        "Leave it out and stitch or draw it instead.",
    ),
    "piece-small": (
        "is only {size} long and hard to handle",
        "are hard to handle, the smallest of them only {size} long",
        "Pin or baste it down at once, or stitch it instead.",
    ),
    "corner-sharp": (
        "has a corner sharper than {size}",
        "have corners sharper than {size}",
        "Round it: set `round-corners` of this step.",
    ),
    "detail-fine": (
        "has corners less than {size} apart, finer than a blade follows",
        "have corners less than {size} apart, finer than a blade follows",
        "Simplify the outline there.",
    ),
}
"""For each kind of finding what is said of one piece, what of several, and what to do."""
SMALL_FUSED: Final = "Leave it on its paper until it is pressed on, or stitch it instead."
"""What to do about pieces hard to handle, where all of them have paper."""


@dataclass(frozen=True, slots=True)
class _Found:
    """What was found on one piece: the kind, the size or the limit (in mm, or degrees), and the places."""

    kind: str
    piece: Piece
    size: float
    spots: list[complex]


def _told(design: Design, found: Sequence[_Found]) -> list[Finding]:
    """One finding for each kind."""
    findings: list[Finding] = []
    if not found:
        return findings
    corner = corner_of(design)
    for kind, (one, several, hint) in KINDS.items():
        alike = [each for each in found if each.kind == kind]
        if not alike:
            continue
        said = one if len(alike) == 1 else several
        message = f"{listed(each.piece.label for each in alike)} {said.format(size=_size(kind, alike))}."
        most = 3 if len(alike) == 1 else 1
        places = [spots_on(each.piece.id, each.spots, corner, most) for each in alike[:PLACES]]
        places += [f"{len(alike) - PLACES} more pieces"] if len(alike) > PLACES else []
        papered = all(fabric_of(design.fabrics, each.piece.fabric).preparation == "fused" for each in alike)
        todo = SMALL_FUSED if kind == "piece-small" and papered else hint
        findings.append(warning(kind, message, f"{design.name}: {'; '.join(places)}", todo))
    return findings


def _size(kind: str, alike: Sequence[_Found]) -> str:
    sizes = sorted({each.size for each in alike})
    if kind == "piece-small":
        return both(sizes[0])
    if kind == "corner-sharp":
        return f"{sizes[0]:g} degrees"
    return " or ".join(as_millimeters(size) for size in sizes)


def _found(pieces: Sequence[Piece], settings: BearableSettings, limits: Sequence[float]) -> list[_Found]:
    _, polygons = polygons_in([piece.region for piece in pieces], FLAT_MM)
    boxes([piece.region.outer for piece in pieces])
    narrow = _narrow(polygons, limits)
    angles = _sharp_and_fine(pieces, settings)
    found: list[_Found] = []
    for piece, polygon, limit, (necks, points), (sharp, fine) in zip(
        pieces, polygons, limits, narrow, angles, strict=True
    ):
        longest = max(piece.region.box.width, piece.region.box.height)
        center = [piece.region.box.center]
        inner = [hole for part in shapely.get_parts(polygon) for hole in part.interiors] if piece.region.holes else []
        holes = [_middle(hole) for hole in inner if _width(hole) < settings.hole]
        small = longest < settings.small
        found += [
            _Found("piece-small", piece, longest, center if small else []),
            _Found("piece-narrow", piece, limit, center if necks is None and not small else []),
            _Found("neck-narrow", piece, limit, necks or []),
            _Found("point-narrow", piece, limit, points),
            _Found("hole-small", piece, settings.hole, holes),
            _Found("corner-sharp", piece, settings.sharp, sharp),
            _Found("detail-fine", piece, settings.fine, fine),
        ]
    return [each for each in found if each.spots]


_Narrow = tuple[list[complex] | None, list[complex]]
"""The middles of necks, and the tips of points; no list if all of a piece is narrow."""


def _narrow(polygons: Geometries, limits: Sequence[float]) -> list[_Narrow]:
    """The necks and points of each polygon that are narrower than its limit.

    Opening (J. Serra, Image Analysis and Mathematical Morphology, 1982): what a disk of that diameter cannot reach. A
    part of it that touches two reached parts is a neck; one that runs on for more than the limit is a point.
    """
    width = np.array(limits)
    reached = shapely.buffer(shapely.buffer(polygons, -width / 2), width / 2 * WIDER)
    corners, which = shapely.get_coordinates(polygons, return_index=True)
    shapely.prepare(reached)
    out = np.flatnonzero(~shapely.contains_xy(reached[which], *corners.T))
    far = ~shapely.dwithin(reached[which[out]], shapely.points(corners[out]), width[which[out]])
    runs_on = np.bincount(which[out[far]], minlength=len(polygons)) > 0
    plain = ~runs_on & (shapely.get_num_geometries(reached) == 1)
    return [
        ([], []) if simple else _necks_and_points(polygon, core, limit)
        for polygon, core, limit, simple in zip(polygons, reached, limits, plain.tolist(), strict=True)
    ]


def _necks_and_points(polygon: shapely.Geometry, reached: shapely.Geometry, limit: float) -> _Narrow:
    if reached.is_empty:
        return None, []
    cores = shapely.get_parts(reached)
    shapely.prepare(cores)
    necks: list[complex] = []
    points: list[complex] = []
    for part in shapely.get_parts(polygon.difference(reached)):
        if part.area < AREA_MM2:
            continue
        if shapely.dwithin(cores, part, 0.01).sum() > 1:
            necks.append(_middle(part))
            continue
        corners = shapely.points(shapely.get_coordinates(part))
        away = shapely.distance(corners, reached)
        if away.max() > limit:
            tip = corners[int(away.argmax())]
            points.append(complex(tip.x, tip.y))
    return necks, points


def _sharp_and_fine(pieces: Sequence[Piece], settings: BearableSettings) -> list[tuple[list[complex], list[complex]]]:
    """For each piece its corners that are too sharp, and the middles between those that are too near to each other."""
    rings = [(i, ring) for i, piece in enumerate(pieces) for ring in piece.region]
    found: list[tuple[list[complex], list[complex]]] = [([], []) for _ in pieces]
    for (i, _), (nodes, turn) in zip(rings, _corners([ring for _, ring in rings]), strict=True):
        sharp, fine = found[i]
        sharp += nodes[np.abs(turn) > math.pi - math.radians(settings.sharp)].tolist()
        corners = nodes[np.abs(turn) > math.radians(TURNING_DEGREES)]
        if len(corners) > 1:
            after = np.roll(corners, -1)
            fine += ((corners + after) / 2)[np.abs(after - corners) < settings.fine].tolist()
    return found


def _corners(rings: Sequence[Outline]) -> list[tuple[Points, Floats]]:
    """Each ring's nodes and by how much it turns there, in radians."""
    if not rings:
        return []
    p, _, first = gathered(rings)
    head, tail = directions_at_ends(p)
    before = np.arange(len(p)) - 1
    before[first[:-1]] = first[1:] - 1
    turn = np.angle(head * tail[before].conj())
    return [(p[a:b, 0], turn[a:b]) for a, b in itertools.pairwise(first.tolist())]


def _rounded(piece: Piece, settings: BearableSettings) -> Piece:
    """The piece with its too sharp corners, outer and inner ones, as round as the radius."""
    assert settings.round_corners is not None
    radius = settings.round_corners
    outer: list[Region] = []
    inner: list[Region] = []
    for nodes, turn in _corners(list(piece.region)):
        for node, angle in zip(nodes.tolist(), turn.tolist(), strict=True):
            if abs(angle) > math.pi - math.radians(settings.sharp):
                # an arc of this radius leaves the two edges at radius / tan(half the corner) from the tip
                reach = 1.05 * radius / math.tan(max((math.pi - abs(angle)) / 2, 0.01)) + 0.1
                (outer if angle > 0 else inner).append(region(circle(node, reach)))
    result = [piece.region]
    if outer and (opened := offset(offset(result, -radius), radius + HAIR_MM)):
        result = list(difference(result, difference(outer, opened)))
    if inner:
        closed = offset(offset(result, radius), -radius - HAIR_MM)
        result = list(union([*result, *intersection(inner, closed)]))
    if result == [piece.region] or not result:
        return piece
    return replace(piece, region=max(result, key=region_area), picture=piece.finished)


def _width(hole: shapely.LinearRing) -> float:
    polygon = shapely.Polygon(hole)
    return 2 * float(shapely.maximum_inscribed_circle(polygon, max(0.01, math.sqrt(polygon.area) / 100)).length)


def _middle(of: shapely.Geometry) -> complex:
    center = of.centroid
    return complex(center.x, center.y)


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [Bearable()]
