"""The steps `turn-under` and `inset`: an even margin added where edges are turned, taken off where stitches cover them.

Terminology
    margin      how far the edge is moved: out for a turn-under, in for an inset; holes go the other way
    tucked      an edge that lies beneath another piece; it stays flat: it is neither turned nor stitched over
    vanish      nothing of a piece is left by an inset; split: it falls into parts

A tucked edge gets the larger of turn-under and underlap, not their sum. So `underlap` and `less-bulk` come first; where
an edge lies deeper beneath others than the margin, it stays where it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal

import numpy as np
import shapely
from pydantic import Field

from clothpath.areas.booleans import resolved, union
from clothpath.areas.bulges import Bulge, Ends, bulged
from clothpath.areas.offsets import MITRE_LIMIT, Corners, Join, offsets
from clothpath.contracts import FromCatalog, Millimeters, Settings, Transform, hookimpl
from clothpath.curves import Outline, Points
from clothpath.design import Design, Piece
from clothpath.findings import Finding, Outcome, error, note, warning
from clothpath.fitting.tracks import TRACK_MM
from clothpath.picture.neighbors import Indices, stretches
from clothpath.regions import Region, as_polygon, region_area, xy
from clothpath.units import both

__all__ = ["InsetSettings", "Margin", "TurnUnderSettings"]

TURN_UNDER_MM: Final = 25.4 * 3 / 16
"""3/16 in; 3/16 to 1/4 in (trade-facts: common practice)."""
INSET_MM: Final = 25.4 / 16
"""1/16 in, half of a satin stitch of 1/8 in (memory)."""
ON_EDGE_MM: Final = 0.02
"""An edge farther than this from the finished picture's was made by an earlier step, in mm."""
SHORTEST_MM: Final = 1.0
"""Stretches shorter than this are not told apart, in mm."""
BESIDE_MM: Final = 0.3
"""An edge this near to an upper piece is shared with it: it is tucked, or will be."""
NEARLY_MM: Final = 0.03
"""An underlap that reaches no farther beyond the margin than this does not, in mm."""
CUT_AWAY_MM2: Final = 1.0
"""A piece that lacks more than this of its finished picture was cut back by an earlier step, in mm^2."""
LEAST_FLAT: Final = 4.0
"""An edge stays where it is for at least this many times the margin; less would be a notch."""
CRUMB_MM2: Final = 4.0
"""Parts of an inset piece smaller than this fall off without a word but a warning, in mm^2."""


class TurnUnderSettings(Settings):
    """The margin that is turned to the back."""

    margin: Millimeters = Field(TURN_UNDER_MM, ge=0, description="margin added all round")
    by_fabric: Annotated[dict[str, Millimeters], FromCatalog()] = Field(
        {}, description="margins of single fabrics, by their keys, where they differ"
    )
    join: Join = Field("round", description="corners: round, mitre (pointed, up to the limit), or bevel (cut off)")
    limit: float = Field(MITRE_LIMIT, ge=1, description="longest mitre, as a multiple of the margin")


class InsetSettings(TurnUnderSettings):
    """The margin that a satin stitch covers."""

    margin: Millimeters = Field(INSET_MM, ge=0, description="margin taken off all round")


@dataclass(frozen=True, slots=True)
class Margin:
    """An even margin; `way` is 1 outward, -1 inward."""

    name: str
    summary: str
    settings: type[TurnUnderSettings]
    way: int
    stage: Literal["design"] = "design"
    lengths: Literal["absolute"] = "absolute"

    def apply(self, design: Design, settings: TurnUnderSettings) -> Outcome[Design]:
        """The design with every piece that is cut moved out or in; an error for each that vanishes or splits."""
        findings = _unknown_fabrics(design, settings.by_fabric)
        corners = Corners(settings.join, settings.limit)
        covers = _covers(design)
        margins = [self.way * settings.by_fabric.get(piece.fabric, settings.margin) for piece in design.pieces]
        moves = [by if piece.role == "cut" else 0.0 for piece, by in zip(design.pieces, margins, strict=True)]
        even = offsets([[piece.finished] for piece in design.pieces], moves, corners)
        pieces: list[Piece] = []
        for piece, by, all_round in zip(design.pieces, moves, even, strict=True):
            if not by:
                pieces.append(piece)
                continue
            cover = covers[piece.id]
            if cover.is_empty and piece.picture is None:
                parts = all_round
            elif by > 0:
                parts = _added(piece, by, all_round, corners, cover)
            else:
                parts = _along(piece, (by, 0.0), cover.buffer(BESIDE_MM), corners, 0.0)
            result, found = _whole(design, piece, parts, by)
            findings += found
            pieces.append(replace(piece, region=result, picture=piece.finished))
        if any(piece.picture is not None for piece in pieces):
            way = "A margin" if self.way > 0 else "An inset"
            findings.append(note(f"{self.name}-added", f"{way} of {both(settings.margin)} is added.", design.name))
        return Outcome(replace(design, pieces=tuple(pieces)), tuple(findings))


def _covers(design: Design) -> dict[str, shapely.Geometry]:
    """For each piece, all that lies over it in the finished picture."""
    cut = design.cut_pieces
    polygons = [as_polygon(piece.finished, 0.01) for piece in cut]
    tree = shapely.STRtree(polygons)
    above: dict[str, shapely.Geometry] = {}
    for i, piece in enumerate(cut):
        near = [int(j) for j in tree.query(polygons[i].buffer(1), predicate="intersects") if j > i]
        above[piece.id] = shapely.union_all([shapely.make_valid(polygons[j]) for j in sorted(near)])
    return above


def _added(
    piece: Piece, by: float, even: tuple[Region, ...], corners: Corners, cover: shapely.Geometry
) -> tuple[Region, ...]:
    """The piece with a margin along its free edges; `even` is the finished piece with all its edges moved out.

    Edges that lie deeper beneath others than the margin stay, and so do those where cloth was cut away. Where the piece
    was grown, it grows by what its underlap lacks.
    """
    picture, now = _valid(as_polygon(piece.finished, 0.005)), _valid(as_polygon(piece.region, 0.005))
    deep = cover.buffer(-by)
    beyond = shapely.points(shapely.get_coordinates(now))
    grown = float(shapely.distance(picture, beyond).max())
    if picture.difference(now).area < CUT_AWAY_MM2 and deep.intersection(picture.boundary).length < SHORTEST_MM:
        return even if grown < by + NEARLY_MM else union([*even, piece.region])
    lacking = max(0.0, by - grown) if grown > ON_EDGE_MM else 0.0
    heights = (by, lacking if lacking > NEARLY_MM else 0.0)
    return _along(piece, heights, deep, corners, "flush")


def _along(
    piece: Piece, heights: tuple[float, float], beneath: shapely.Geometry, corners: Corners, ends: Ends
) -> tuple[Region, ...]:
    """The piece with its free edges moved by the first height, and those by which it was grown by the second.

    Edges in `beneath` stay where they are unless that makes a notch, and so do those where cloth was cut away.
    """
    shortest = LEAST_FLAT * heights[0]
    picture = _valid(as_polygon(piece.finished, TRACK_MM))
    edge = picture.boundary
    shapely.prepare([beneath, edge, picture])

    def owners(at: Points, _: Points) -> Indices:
        stays = shapely.contains_xy(beneath, *xy(at).T)
        made = shapely.distance(edge, shapely.points(xy(at))) > ON_EDGE_MM
        cut = made & shapely.contains_xy(picture, *xy(at).T)
        return np.where(cut, -1, np.where(made, 1, np.where(stays, 2, 0))).astype(np.intp)

    raws: list[Outline] = []
    for ring in piece.region:
        found = stretches(ring, owners, SHORTEST_MM, 2 * ON_EDGE_MM)
        moves = [
            heights[0] if each.owner == 2 and each.length < shortest else (*heights, 0.0)[each.owner] for each in found
        ]
        bulges = [Bulge(each.start, each.end, by) for each, by in zip(found, moves, strict=True) if by]
        raws.append(bulged(ring, bulges, corners, ends)[1] if bulges else ring)
    return resolved(raws, lambda winding: winding > 0)


def _valid(polygon: shapely.Polygon) -> shapely.Geometry:
    return polygon if polygon.is_valid else shapely.make_valid(polygon, method="structure", keep_collapsed=False)


def _whole(design: Design, piece: Piece, parts: Sequence[Region], by: float) -> tuple[Region, list[Finding]]:
    """The piece's one part, and what to say if there is none or more."""
    place = f"{design.name}: {piece.id}"
    size = both(abs(by))
    big = [part for part in parts if region_area(part) > CRUMB_MM2]
    if not big:
        message = f'Nothing of "{piece.label}" is left when {size} is taken off all round.'
        return piece.region, [error("piece-vanishes", message, place, "Take off less, or leave this fabric out.")]
    if len(big) > 1:
        message = (
            f'"{piece.label}" falls into {len(big)} parts when {size} is taken off all round: a neck is too narrow.'
        )
        return piece.region, [error("piece-splits", message, place, "Take off less, or widen the neck.")]
    if len(parts) > 1:
        message = f'A crumb of "{piece.label}" is lost when {size} is taken off all round.'
        return big[0], [warning("crumb-lost", message, place)]
    closed = len(piece.region.holes) - len(big[0].holes)
    if by > 0 and closed > 0:
        holes = "a hole closes" if closed == 1 else f"{closed} holes close"
        message = f'In "{piece.label}" {holes} when {size} is added all round.'
        return big[0], [warning("hole-closed", message, place, "Add less, or lay what shows through on top instead.")]
    return big[0], []


def _unknown_fabrics(design: Design, by_fabric: Mapping[str, float]) -> list[Finding]:
    known = {fabric.key for fabric in design.fabrics}
    return [
        warning("fabric-unknown", f'No fabric of this design has the key "{key}".', design.name)
        for key in by_fabric
        if key not in known
    ]


TURN_UNDER: Final = Margin("turn-under", "Add the margin that is turned to the back", TurnUnderSettings, 1)
INSET: Final = Margin("inset", "Take off the margin that a satin stitch covers", InsetSettings, -1)


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [TURN_UNDER, INSET]
