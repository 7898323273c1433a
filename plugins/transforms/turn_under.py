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

from clothpath.booleans import resolved, union
from clothpath.bulges import Bulge, bulged
from clothpath.contracts import FromCatalog, Millimeters, Settings, Transform, hookimpl
from clothpath.curves import Outline, Points
from clothpath.design import Design, Piece
from clothpath.findings import Finding, Outcome, error, note, warning
from clothpath.neighbors import Indices, stretches
from clothpath.offsets import MITRE_LIMIT, Corners, Join, offsets
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
        for piece, by, round_it in zip(design.pieces, moves, even, strict=True):
            if not by:
                pieces.append(piece)
                continue
            parts = _moved(piece, by, round_it, corners, covers[piece.id])
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


def _moved(
    piece: Piece, by: float, even: tuple[Region, ...], corners: Corners, cover: shapely.Geometry
) -> tuple[Region, ...]:
    """The piece with its free edges moved by `by`, and tucked ones where they are, or out to the margin.

    `even` is the finished piece with all its edges moved.
    """
    if by > 0:
        now, picture = as_polygon(piece.region), as_polygon(piece.finished)
        out = shapely.union_all([as_polygon(each) for each in even])
        if picture.difference(now).area < CUT_AWAY_MM2 and not _is_tucked(picture, cover, by):
            return even if now.difference(out.buffer(NEARLY_MM)).is_empty else union([*even, piece.region])
    elif cover.is_empty and piece.picture is None:
        return even
    deep = cover.buffer(-by if by > 0 else BESIDE_MM)
    edge = as_polygon(piece.finished, 0.002).boundary
    shapely.prepare([deep, edge])

    def owners(at: Points, _: Points) -> Indices:
        tucked = shapely.contains_xy(deep, *xy(at).T)
        made = shapely.distance(edge, shapely.points(xy(at))) > ON_EDGE_MM
        return np.where(tucked | made, -1, 0).astype(np.intp)

    raws: list[Outline] = []
    for ring in piece.region:
        bulges = [Bulge(each.start, each.end, by) for each in stretches(ring, owners, SHORTEST_MM, 2 * ON_EDGE_MM)]
        raws.append(bulged(ring, bulges, corners, 0.0)[1] if bulges else ring)
    return resolved(raws, lambda winding: winding > 0)


def _is_tucked(picture: shapely.Geometry, cover: shapely.Geometry, by: float) -> bool:
    """Whether an edge of the finished piece lies so deep beneath others that a margin would be mere bulk."""
    return bool(picture.boundary.intersection(cover.buffer(-by)).length > SHORTEST_MM)


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
