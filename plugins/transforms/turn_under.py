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
from dataclasses import dataclass, field, replace
from typing import Annotated, Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from pydantic import Field

from clothpath.areas.booleans import resolved_each, union
from clothpath.areas.bulges import Bulge, bulged_each
from clothpath.areas.offsets import MITRE_LIMIT, Corners, Join, offsets
from clothpath.contracts import FromCatalog, Millimeters, Settings, Transform, hookimpl
from clothpath.curves import Bools, Floats, Points
from clothpath.design import Design, Piece
from clothpath.findings import Finding, Outcome, error, listed, note, warning
from clothpath.fitting.tracks import polygons_in
from clothpath.picture.covers import are_needless, cover, over_each
from clothpath.picture.neighbors import contacts, place_on, stretches_of_each
from clothpath.picture.spots import corner_of, pairs_told, spots_on
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
NODE_MM: Final = 0.4
"""At an inset, a stretch that ends this near to a node ends there, in mm: past a seam's end nothing is beside it."""
NEARLY_MM: Final = 0.03
"""An underlap that reaches no farther beyond the margin than this does not, in mm."""
LACKING_MM: Final = 0.25
"""A tucked edge that lacks no more than this of the margin stays where it is, in mm: to move it would make a jog."""
CUT_AWAY_MM2: Final = 1.0
"""A piece that lacks more than this of its finished picture was cut back by an earlier step, in mm^2."""
LEAST_FLAT: Final = 4.0
"""An edge stays where it is for at least this many times the margin; less would be a notch."""
CRUMB_MM2: Final = 4.0
"""Parts of an inset piece smaller than this fall off without a word but a warning, in mm^2."""
SEAM_MM: Final = 3.0
"""Pieces that meet along less than this only touch, in mm."""
TOLD: Final = 6
"""Pairs whose seam opens are told up to this many."""
POLYGON_MM: Final = 0.005
"""Flattening of pieces when they are compared, in mm."""
CUT, FREE, GROWN, STAYS = -1, 0, 1, 2
"""What an edge is: cut back by an earlier step, the finished picture's, made by an underlap, beneath others."""

Geometries = NDArray[np.object_]
Indices = NDArray[np.intp]


class TurnUnderSettings(Settings):
    """The margin that is turned to the back."""

    margin: Millimeters = Field(TURN_UNDER_MM, ge=0, description="margin added all round")
    by_fabric: Annotated[dict[str, Millimeters], FromCatalog()] = Field(
        {},
        description="margins of single fabrics, by their keys, where they differ",
        examples=[{"coral": "3/16 in", "shell": "1/8 in"}],
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
    implies: Mapping[str, str] = field(default_factory=dict)
    stage: Literal["design"] = "design"
    lengths: Literal["absolute"] = "absolute"

    def apply(self, design: Design, settings: TurnUnderSettings) -> Outcome[Design]:
        """The design with every piece that is cut moved out or in; an error for each that vanishes or splits."""
        findings = _unknown_fabrics(design, settings.by_fabric)
        if self.way < 0:
            findings += _seams(design, settings)
        corners = Corners(settings.join, settings.limit)
        margins = [self.way * settings.by_fabric.get(piece.fabric, settings.margin) for piece in design.pieces]
        moves = [(piece, by) for piece, by in zip(design.pieces, margins, strict=True) if by and piece.role == "cut"]
        changed = {work.piece.id: _whole(design, work, parts) for work, parts in _moved(design, moves, corners)}
        pieces: list[Piece] = []
        for piece in design.pieces:
            if piece.id not in changed:
                pieces.append(piece)
                continue
            result, found = changed[piece.id]
            findings += found
            pieces.append(replace(piece, region=result, picture=piece.finished))
        by_fabric = {piece.fabric: by for piece, by in moves}
        findings += _told(self.name, design, by_fabric)
        fabrics = tuple(replace(each, margin=by_fabric.get(each.key, each.margin)) for each in design.fabrics)
        return Outcome(replace(design, pieces=tuple(pieces), fabrics=fabrics), tuple(findings))


def _moved(
    design: Design, moves: Sequence[tuple[Piece, float]], corners: Corners
) -> list[tuple[_Work, tuple[Region, ...]]]:
    """The parts of each piece with its edges moved; all by distances of one sign.

    Where no edge lies deeper beneath others than the margin and no cloth was cut away, all edges of the finished piece
    are moved. Else its free edges are; and where it was grown, it grows by what its underlap lacks.
    """
    if not moves:
        return []
    works = _works(design, moves)
    even = [work for work in works if work.is_even]
    uneven = [work for work in works if not work.is_even]
    found = {
        work.piece.id: union([*parts, work.piece.region]) if 0 < work.by <= work.grown - NEARLY_MM else parts
        for work, parts in zip(
            even, offsets([[work.piece.finished] for work in even], [work.by for work in even], corners), strict=True
        )
    }
    found |= dict(zip((work.piece.id for work in uneven), _along(uneven, corners), strict=True))
    return [(work, found[work.piece.id]) for work in works]


@dataclass(frozen=True, slots=True, eq=False)
class _Work:
    """A piece that is to be moved.

    Attributes:
        by: how far, outward or inward.
        picture: the finished piece.
        cover: all that lies over it or beside it.
        beneath: where an edge stays: deeper beneath others than a turn-under reaches, or beside those for an inset.
        grown: how far the piece reaches beyond its finished picture.
        is_even: whether all its edges are moved alike.
    """

    piece: Piece
    by: float
    picture: shapely.Geometry
    cover: shapely.Geometry
    beneath: shapely.Geometry
    grown: float
    is_even: bool

    @property
    def heights(self) -> tuple[float, float]:
        """How far free edges are moved, and those to which the piece was grown."""
        lacking = self.by - self.grown if self.grown > ON_EDGE_MM else 0.0
        return self.by, lacking if lacking > LACKING_MM else 0.0


def _works(design: Design, moves: Sequence[tuple[Piece, float]]) -> list[_Work]:
    cut = design.cut_pieces
    _, polygons = polygons_in([piece.finished for piece in cut], POLYGON_MM)
    number = {piece.id: i for i, piece in enumerate(cut)}
    which = [number[piece.id] for piece, _ in moves]
    pieces, by = [piece for piece, _ in moves], np.array([distance for _, distance in moves])
    over = over_each(polygons, polygons, BESIDE_MM)
    pictures, covers = polygons[which], np.array([cover(polygons, over[i]) for i in which], object)
    beneath = shapely.buffer(covers, np.where(by > 0, -by, BESIDE_MM))
    grown, is_cut = _changes(pieces, pictures)
    made = np.array([piece.picture is not None for piece in pieces])
    tucked = shapely.length(shapely.intersection(beneath, shapely.boundary(pictures))) >= SHORTEST_MM
    even = np.where(by > 0, ~is_cut & ~tucked, shapely.is_empty(covers) & ~made)
    return [
        _Work(*each)
        for each in zip(pieces, by.tolist(), pictures, covers, beneath, grown.tolist(), even.tolist(), strict=True)
    ]


def _changes(pieces: Sequence[Piece], pictures: Geometries) -> tuple[Floats, Bools]:
    """How far each piece reaches beyond its finished picture, and whether it lacks some of it."""
    grown, is_cut = np.zeros(len(pieces)), np.zeros(len(pieces), np.bool_)
    changed = [i for i, piece in enumerate(pieces) if piece.picture is not None]
    _, present = polygons_in([pieces[i].region for i in changed], POLYGON_MM)
    for i, now in zip(changed, present, strict=True):
        picture = pictures[i]
        vertices, old = _vertices(now), np.sort(_vertices(picture))
        new = vertices[old[np.searchsorted(old, vertices).clip(max=len(old) - 1)] != vertices]
        away = shapely.distance(picture.boundary, shapely.points(xy(new)))
        inside = shapely.contains_xy(picture, *xy(new).T)
        grown[i] = away[~inside].max(initial=0.0)
        if away[inside].max(initial=0.0) > ON_EDGE_MM or now.area < picture.area - CUT_AWAY_MM2:
            is_cut[i] = picture.difference(now).area >= CUT_AWAY_MM2
    return grown, is_cut


def _vertices(of: shapely.Geometry) -> Points:
    return np.ascontiguousarray(shapely.get_coordinates(of)).view(np.complex128).ravel()


def _along(works: Sequence[_Work], corners: Corners) -> list[tuple[Region, ...]]:
    """The pieces with their free edges moved, and those to which they were grown.

    Edges that lie beneath stay where they are unless that makes a notch, and so do those where cloth was cut away.
    """
    rings = [(work, ring) for work in works for ring in work.piece.region]
    beneath = np.array([work.beneath for work, _ in rings], object)
    pictures = np.array([work.picture for work, _ in rings], object)
    edges = shapely.boundary(pictures)
    shapely.prepare([*beneath, *pictures, *edges])
    changed = np.array([work.piece.picture is not None for work, _ in rings])

    def owners(ring: Indices, at: Points, _: Points) -> Indices:
        owner = np.where(shapely.contains_xy(beneath[ring], *xy(at).T), STAYS, FREE)
        rows = np.flatnonzero(changed[ring])
        rows = rows[~shapely.dwithin(edges[ring[rows]], shapely.points(xy(at[rows])), ON_EDGE_MM)]
        owner[rows] = np.where(shapely.contains_xy(pictures[ring[rows]], *xy(at[rows]).T), CUT, GROWN)
        return owner

    near = 2 * ON_EDGE_MM if works and works[0].by > 0 else NODE_MM
    found = stretches_of_each([ring for _, ring in rings], owners, SHORTEST_MM, near)
    bulges = []
    for (work, _), own in zip(rings, found, strict=True):
        by, lacking = work.heights
        moved = {FREE: by, GROWN: lacking, STAYS: 0.0}
        heights = [by if each.owner == STAYS and each.length < LEAST_FLAT * by else moved[each.owner] for each in own]
        bulges.append(
            [Bulge(each.start, each.end, height) for each, height in zip(own, heights, strict=True) if height]
        )
    some = [i for i, own in enumerate(bulges) if own]
    raws = [ring for _, ring in rings]
    for i, (_, raw) in zip(some, bulged_each([(raws[i], bulges[i]) for i in some], corners, "flush"), strict=True):
        raws[i] = raw
    listed = iter(raws)
    return resolved_each([[next(listed) for _ in work.piece.region] for work in works], lambda winding: winding > 0)


def _whole(design: Design, work: _Work, parts: Sequence[Region]) -> tuple[Region, list[Finding]]:
    """The piece's one part, and what to say if there is none or more."""
    piece = work.piece
    place = f"{design.name}: {piece.id}"
    size = both(abs(work.by))
    big = [part for part in parts if region_area(part) > CRUMB_MM2]
    if not big:
        message = f'Nothing of "{piece.label}" is left when {size} is taken off all round.'
        hint = f"Take off less, or only mark it, to be stitched: --set separate.mark=piece:{piece.id}"
        return piece.region, [error("piece-vanishes", message, place, hint)]
    if len(big) > 1:
        message = (
            f'"{piece.label}" falls into {len(big)} parts when {size} is taken off all round: a neck is too narrow.'
        )
        return piece.region, [error("piece-splits", message, place, "Take off less, or widen the neck.")]
    if len(parts) > 1:
        message = f'A crumb of "{piece.label}" is lost when {size} is taken off all round.'
        return big[0], [warning("crumb-lost", message, place)]
    if work.by < 0 or not piece.region.holes:
        return big[0], []
    result = _without_needless_holes(big[0], work.cover)
    closed = _showing(piece.region, work.cover) - _showing(result, work.cover)
    if closed > 0:
        holes = "a hole closes" if closed == 1 else f"{closed} holes close"
        message = f'In "{piece.label}" {holes} when {size} is added all round.'
        return result, [warning("hole-closed", message, place, "Add less, or lay what shows through on top instead.")]
    return result, []


def _without_needless_holes(of: Region, above: shapely.Geometry) -> Region:
    """The region without holes that a margin has left beneath other pieces, too small to be cut."""
    needless = are_needless(_holes_in(of), above).tolist()
    return Region(of.outer, tuple(hole for hole, out in zip(of.holes, needless, strict=True) if not out))


def _showing(of: Region, above: shapely.Geometry) -> int:
    """How many holes of a region do not lie wholly beneath other pieces."""
    return int((~shapely.covers(above.buffer(ON_EDGE_MM), _holes_in(of))).sum())


def _holes_in(of: Region) -> Geometries:
    return np.array([shapely.Polygon(hole) for hole in as_polygon(of, POLYGON_MM).interiors], object)


def _seams(design: Design, settings: TurnUnderSettings) -> list[Finding]:
    """Where pieces meet edge to edge, and the upper one's is taken back from the other's."""
    upper_of = {piece.id: piece for piece in design.cut_pieces}
    pairs: dict[tuple[str, str], complex] = {}
    widest = 0.0
    for contact in contacts(design):
        for edge in sorted(contact.shared, key=lambda edge: -edge.parallel):
            upper = upper_of[edge.upper]
            by = settings.by_fabric.get(upper.fabric, settings.margin)
            if by and edge.parallel >= SEAM_MM:
                ring = tuple(contact.piece.region)[edge.ring]
                pairs.setdefault((contact.piece.id, upper.id), place_on(ring, (edge.start + edge.end) / 2))
                widest = max(widest, by)
    if not pairs:
        return []
    corner = corner_of(design)
    places = [spots_on(lower, [spot], corner, 1) for (lower, _), spot in list(pairs.items())[:TOLD]]
    told = pairs_told(design, pairs, TOLD)
    message = f"The inset opens a seam up to {both(widest)} wide where pieces meet edge to edge: {told}."
    hint = "Put the step `underlap` before `inset`, so that the lower piece reaches beneath the upper one."
    return [warning("seam-opens", message, f"{design.name}: {'; '.join(places)}", hint)]


def _told(name: str, design: Design, by_fabric: Mapping[str, float]) -> list[Finding]:
    """How much is added or taken off, and of which fabrics where it differs."""
    found: list[Finding] = []
    sizes = dict.fromkeys(by_fabric.values())
    for by in sizes:
        way = "added all round, to be turned under" if by > 0 else "taken off all round, where a stitch covers the edge"
        whose = listed(each.label for each in design.fabrics if by_fabric.get(each.key) == by)
        found.append(
            note(f"{name}-added", f"{both(abs(by))} is {way}{f': {whose}' if len(sizes) > 1 else ''}.", design.name)
        )
    return found


def _unknown_fabrics(design: Design, by_fabric: Mapping[str, float]) -> list[Finding]:
    known = {fabric.key for fabric in design.fabrics}
    return [
        warning("fabric-unknown", f'No fabric of this design has the key "{key}".', design.name)
        for key in by_fabric
        if key not in known
    ]


TURN_UNDER: Final = Margin(
    "turn-under", "Add the margin that is turned to the back", TurnUnderSettings, 1, {"preparation": "bare"}
)
INSET: Final = Margin("inset", "Take off the margin that a satin stitch covers", InsetSettings, -1)


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [TURN_UNDER, INSET]
