"""The step `less-bulk`: cut away what lies hidden beneath upper pieces, down to the underlap.

Terminology
    hidden      what a piece has beneath others in the finished picture; the rest is visible
    bulk        hidden cloth beyond the underlap: layers that only make the quilt stiff
    split       a piece falls into several parts; bulk that holds a piece together stays

What stays is all of the piece within the underlap of its visible part. A piece without a visible part is left alone:
something is wrong with its place in the layering order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal

import shapely
from pydantic import Field

from clothpath.areas.booleans import without_cracks, without_specks, without_spurs, wound
from clothpath.areas.offsets import Corners, raw_rings
from clothpath.contracts import FromCatalog, Millimeters, Settings, Transform, hookimpl
from clothpath.curves import Outline
from clothpath.design import Design, Piece
from clothpath.findings import Finding, Outcome, note, warning
from clothpath.fitting.retracing import retraced
from clothpath.fitting.tracks import Track, joined, track_of, tracks_in
from clothpath.picture.covers import cover, over_each
from clothpath.picture.order import reordered
from clothpath.regions import Region, region_area
from clothpath.units import both

__all__ = ["LessBulk", "LessBulkSettings"]

UNDERLAP_MM: Final = 25.4 * 3 / 16
"""3/16 in; 1/8 to 1/4 in for fused work (trade-facts: common practice)."""
WORTH_MM: Final = 12.7
"""Bulk smaller than a square of 1/2 in is not worth a cut (memory)."""
SLIVER_MM: Final = 3.0
"""Nothing narrower than this is left over (trade-facts: narrowest neck of fused work, memory)."""
SPUR_MM: Final = 0.5
"""A spur of what is left that is narrower than this is cut off too, in mm, if it is hidden."""
NEAR_MM: Final = 0.012
"""How near the cut is to its exact place, in mm."""
COARSE: Final = 4
"""Segments of a quarter circle where bulk is only looked for."""
ABOUT_MM: Final = 0.1
"""What is found then is too much by this, in mm, and what a coarse circle lacks."""
VISIBLE_MM2: Final = 1.0
"""A piece that shows less than this, in mm^2, and less than half of itself does not show."""


class LessBulkSettings(Settings):
    """How much is left beneath upper pieces, and what is worth a cut."""

    underlap: Millimeters = Field(UNDERLAP_MM, gt=0, description="what is left of a piece beneath those above it")
    worth: Millimeters = Field(WORTH_MM, ge=0, description="bulk smaller than a square of this side is left alone")
    over: Annotated[tuple[tuple[str, str], ...], FromCatalog()] = Field(
        (),
        description="pairs of pieces, by id or label, the upper one first, that overrule the drawing's order",
        examples=[[["window", "tower"]]],
    )


class LessBulk:
    """Hidden cloth cut away."""

    name = "less-bulk"
    summary = "Cut away what lies hidden beneath upper pieces"
    stage: Literal["design"] = "design"
    lengths = "absolute"
    settings = LessBulkSettings

    def apply(self, design: Design, settings: LessBulkSettings) -> Outcome[Design]:
        """The design with lower pieces cut back to the underlap.

        Raises:
            Refusal: a pair of `over` names a piece that is not there, or pairs contradict each other.
        """
        design = reordered(design, settings.over)
        layers, findings = _layers(design, settings)
        underlaps = [settings.underlap] * len(layers)
        nears = raw_rings([layer.keeps for layer in layers], underlaps, Corners(), NEAR_MM)
        cut: dict[str, Region] = {}
        for layer, near in zip(layers, nears, strict=True):
            region, held = _cut_back(layer, near, settings.worth**2)
            if held:
                findings.append(_kept(design, layer.piece))
            if region is not None:
                cut[layer.piece.id] = region
        saved = sum(
            region_area(piece.region) - region_area(cut[piece.id]) for piece in design.pieces if piece.id in cut
        )
        pieces = [
            replace(piece, region=cut[piece.id], picture=piece.finished) if piece.id in cut else piece
            for piece in design.pieces
        ]
        if saved:
            square = both(saved**0.5)
            message = f"Hidden cloth is cut away, as much as a square of {square}."
            findings.insert(0, note("bulk-cut", message, design.name))
        return Outcome(replace(design, pieces=tuple(pieces)), tuple(findings))


@dataclass(frozen=True, slots=True)
class _Layer:
    """A piece with bulk that is worth a cut.

    Attributes:
        track, own: its polygon with its track.
        bulk: its bulk and a little more, without what is not worth a cut.
        visible: its visible part.
        keeps: as much of that as keeps some of `bulk` in place.
    """

    piece: Piece
    track: Track
    own: shapely.Geometry
    bulk: shapely.Geometry
    visible: shapely.Geometry
    keeps: tuple[Region, ...]


def _layers(design: Design, settings: LessBulkSettings) -> tuple[list[_Layer], list[Finding]]:
    """The pieces with bulk, and what to say of those that are wholly hidden."""
    pieces = design.cut_pieces
    tracks, polygons = tracks_in([piece.region for piece in pieces])
    changed = any(piece.picture is not None for piece in pieces)
    picture_tracks, pictures = tracks_in([piece.finished for piece in pieces]) if changed else (tracks, polygons)
    over = over_each(polygons, pictures, 0.0)
    own_areas, picture_areas = shapely.area(polygons), shapely.area(pictures)
    worth = settings.worth**2
    layers: list[_Layer] = []
    findings: list[Finding] = []
    for i, piece in enumerate(pieces):
        least = min(VISIBLE_MM2, own_areas[i] / 2)
        shows = own_areas[i] - least
        if picture_areas[over[i]].sum() < min(worth, shows):
            continue
        own, above = polygons[i], cover(pictures, over[i])
        visible = without_specks(own.difference(above))
        if own_areas[i] - visible.area < min(worth, shows):
            continue
        sealed = without_cracks(above) if len(over[i]) > 1 else above
        if sealed is not above:
            visible = without_specks(own.difference(sealed))
        if visible.area < least:
            message = f'"{piece.label}" lies wholly beneath other pieces and would not show.'
            place = f"{design.name}: {piece.id}"
            findings.append(warning("piece-hidden", message, place, "Look at the layering order."))
            continue
        bulk = _of_size(own.difference(visible.buffer(settings.underlap - ABOUT_MM, quad_segs=COARSE)), worth)
        if not bulk.is_empty:
            track = joined(tracks[i], *(picture_tracks[j] for j in over[i]))
            keeps = retraced(_beside(visible, bulk, settings.underlap), track)
            layers.append(_Layer(piece, tracks[i], own, bulk, visible, keeps))
    return layers, findings


def _of_size(geometry: shapely.Geometry, least: float) -> shapely.Geometry:
    """The parts of a geometry with at least that area, in mm^2."""
    parts = shapely.get_parts(geometry)
    return shapely.multipolygons(parts[shapely.area(parts) >= least])


def _beside(visible: shapely.Geometry, bulk: shapely.Geometry, reach: float) -> shapely.Geometry:
    """The parts of a visible part within `reach` mm of bulk, without holes in which there is none."""
    parts = shapely.get_parts(visible)
    parts = parts[shapely.dwithin(parts, bulk, reach)]
    kept = []
    for part in parts:
        holes = shapely.get_rings(part)[1:]
        kept.append(shapely.Polygon(part.exterior, holes[shapely.intersects(shapely.polygons(holes), bulk)]))
    return shapely.multipolygons(kept)


def _cut_back(layer: _Layer, near: Sequence[Outline], worth: float) -> tuple[Region | None, bool]:
    """What is left of a piece, or nothing new; and whether bulk had to stay. `near` winds around what must stay."""
    track = track_of(near)
    bulk = without_specks(layer.bulk.difference(wound(track, lambda winding: winding > 0)))
    kept, held = _removed(layer.own, bulk, worth)
    if kept is layer.own:
        return None, held
    trimmed = shapely.get_parts(without_spurs(kept, layer.own, layer.visible, SPUR_MM))
    (result,) = retraced(trimmed[0] if len(trimmed) == 1 else kept, joined(layer.track, track))
    return result, held


def _kept(design: Design, piece: Piece) -> Finding:
    message = f'Hidden cloth stays in "{piece.label}", because without it the piece would fall apart or be too thin.'
    return note("bulk-kept", message, f"{design.name}: {piece.id}")


def _removed(own: shapely.Geometry, bulk: shapely.Geometry, worth: float) -> tuple[shapely.Geometry, bool]:
    """The piece less each part of the bulk that is worth it and leaves it whole; and whether one had to stay."""
    parts = [part for part in shapely.get_parts(bulk) if part.area >= worth]
    parts.sort(key=lambda part: (-part.area, part.bounds))
    kept, held = own, False
    for part in parts:
        less = without_specks(kept.difference(part))
        left = shapely.get_parts(less)
        if len(left) == 1 and _stays_wide(kept, left[0]):
            kept = left[0]
        else:
            held = True
    return kept, held


def _stays_wide(before: shapely.Geometry, after: shapely.Geometry) -> bool:
    """Whether a cut leaves no neck narrower than SLIVER_MM that was not there before."""

    def wide_parts(of: shapely.Geometry) -> int:
        return len(shapely.get_parts(without_specks(of.buffer(-SLIVER_MM / 2, quad_segs=COARSE))))

    count = wide_parts(after)
    return count <= 1 or count <= wide_parts(before)


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [LessBulk()]
