"""The step `underlap`: where two pieces meet edge to edge, the lower one grows beneath the upper one.

Terminology
    underlap    the margin of a lower piece that tucks beneath an upper one
    cover       all that lies over a piece; growth stays beneath it
    gap         what a drawing leaves open between two edges that are meant to meet; the lower piece closes it

The growth runs along shared edges only, tapers where they end, and is at most a third of the growing piece's own width
and half of the upper one's, so that it never comes out on the other side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Annotated, Final, Literal

import shapely
from pydantic import Field

from clothpath.booleans import without_specks, wound
from clothpath.bulges import Bulge, bulged
from clothpath.contracts import FromCatalog, Millimeters, Settings, Transform, hookimpl
from clothpath.curves import Box, Outline
from clothpath.design import Design, Piece, fabric_of
from clothpath.findings import Finding, Outcome, Refusal, error, note, warning
from clothpath.neighbors import REACH_MM, Contact, SharedEdge, contacts, luminance, reordered, width_of
from clothpath.offsets import Corners
from clothpath.regions import Region
from clothpath.tracks import joined, polygons_in, retraced, track_of
from clothpath.units import both

__all__ = ["Underlap", "UnderlapSettings"]

UNDERLAP_MM: Final = 25.4 * 3 / 16
"""3/16 in; 1/8 to 1/4 in for fused work (trade-facts: common practice)."""
TAPER: Final = 0.5
"""The length of a taper by the height that it reaches: 63 degrees to the edge."""
OWN_SHARE: Final = 1 / 3
UPPER_SHARE: Final = 1 / 2
SHOWS_THROUGH: Final = 0.4
"""A lower fabric darker than the upper one by this much relative luminance may show through (memory)."""
HOLE_MM2: Final = 28.0
"""A hole that growth leaves smaller than this is filled, in mm^2: 6 mm across."""
GAP_MM2: Final = 0.05
"""Gaps of less than this are no gaps, in mm^2."""


class UnderlapSettings(Settings):
    """How far a lower piece tucks under, and how edges that are meant to meet are found."""

    underlap: Millimeters = Field(UNDERLAP_MM, ge=0, description="how far a lower piece tucks beneath an upper one")
    reach: Millimeters = Field(REACH_MM, gt=0, description="how far edges that are meant to meet may be apart")
    over: Annotated[tuple[tuple[str, str], ...], FromCatalog()] = Field(
        (), description="pairs of piece ids where the first lies over the second, whatever the drawing's order says"
    )


class Underlap:
    """Growth of lower pieces beneath their upper neighbors."""

    name = "underlap"
    summary = "Let lower pieces tuck beneath their neighbors where edges meet"
    stage: Literal["design"] = "design"
    lengths = "absolute"
    settings = UnderlapSettings

    def apply(self, design: Design, settings: UnderlapSettings) -> Outcome[Design]:
        """The design with lower pieces grown beneath upper ones.

        Raises:
            Refusal: a pair of `over` names a piece that is not there, or two pairs contradict each other.
        """
        design = _in_order(design, settings.over)
        touching = contacts(design, settings.reach)
        grown: dict[str, Region] = {}
        findings: list[Finding] = []
        for contact in touching:
            findings += _shows_through(design, contact)
            if contact.shared and settings.underlap:
                heights, short = _heights(design, contact, settings.underlap)
                result, gap = _grown(design, contact, heights, settings.reach)
                grown[contact.piece.id] = result
                findings += short
                if gap:
                    findings.append(_gap_closed(design, contact.piece))
        findings.insert(0, _summary(design, grown, settings.underlap))
        pieces = tuple(_with_region(piece, grown) for piece in design.pieces)
        return Outcome(replace(design, pieces=pieces), tuple(findings))


def _in_order(design: Design, over: Sequence[tuple[str, str]]) -> Design:
    try:
        return reordered(design, over) if over else design
    except KeyError as missing:
        message = f'There is no piece "{missing.args[0]}" in this design.'
        hint = "Write the ids that `clothpath inspect` shows."
        raise Refusal(error("piece-unknown", message, design.name, hint)) from None
    except ValueError as clash:
        message = f"The pairs of `over` contradict each other: {clash}."
        raise Refusal(error("order-contradicts", message, design.name, "Take one of the pairs out.")) from None


def _with_region(piece: Piece, grown: Mapping[str, Region]) -> Piece:
    if piece.id not in grown:
        return piece
    return replace(piece, region=grown[piece.id], picture=piece.finished)


def _heights(design: Design, contact: Contact, underlap: float) -> tuple[dict[str, float], list[Finding]]:
    """How far the piece grows beneath each of its uppers, and a finding where that is less than was asked for."""
    own = width_of(contact.piece.region) * OWN_SHARE
    by_id = {piece.id: piece for piece in design.cut_pieces}
    heights: dict[str, float] = {}
    for upper in dict.fromkeys(edge.upper for edge in contact.shared):
        heights[upper] = min(underlap, own, width_of(by_id[upper].finished) * UPPER_SHARE)
    least = min(heights.values())
    if least >= underlap - 1e-6:
        return heights, []
    message = f'"{contact.piece.label}" tucks under by only {both(least)}, because it or its neighbor is narrow.'
    return heights, [note("underlap-narrow", message, f"{design.name}: {contact.piece.id}")]


def _grown(design: Design, contact: Contact, heights: Mapping[str, float], reach: float) -> tuple[Region, bool]:
    """The piece with its growth, and whether a gap had to be closed."""
    piece = contact.piece
    rings, raws = _bulged_rings(piece, contact.shared, heights)
    plain, raw = track_of(rings), track_of(raws)
    own = wound(plain, lambda winding: winding > 0)
    growth = wound(raw, lambda winding: winding > 0)
    box, most = piece.region.box, max(heights.values())
    above = [
        each.finished
        for each in design.cut_pieces
        if each.order > piece.order and _apart(each.finished.box, box) <= most
    ]
    cover_track, covers = polygons_in(above)
    cover = shapely.union_all(covers)
    tracks = [plain, raw, cover_track]
    gap = False
    both = shapely.union(own, cover)
    if growth.difference(both).area > GAP_MM2:
        low = {upper: min(height, reach) for upper, height in heights.items()}
        strip_track = track_of(_bulged_rings(piece, contact.shared, low)[1])
        strip = wound(strip_track, lambda winding: winding > 0)
        closed = strip.intersection(both.buffer(reach / 2).buffer(-reach / 2))
        gap = closed.difference(both).area > GAP_MM2
        if gap:
            tracks.append(strip_track)
            cover = shapely.union(cover, closed)
    result = shapely.union(own, growth.intersection(cover))
    parts = shapely.get_parts(without_specks(result))
    main = parts[int(shapely.area(shapely.intersection(parts, own)).argmax())]
    (found,) = retraced(_filled(main, own), joined(*tracks))
    return found, gap


def _bulged_rings(
    piece: Piece, shared: Sequence[SharedEdge], heights: Mapping[str, float]
) -> tuple[list[Outline], list[Outline]]:
    """The piece's rings with nodes where they grow, and as they wind when grown."""
    rings: list[Outline] = []
    raws: list[Outline] = []
    for number, ring in enumerate(piece.region):
        bulges = [Bulge(edge.start, edge.end, heights[edge.upper]) for edge in shared if edge.ring == number]
        plain, raw = bulged(ring, bulges, Corners(), TAPER) if bulges else (ring, ring)
        rings.append(plain)
        raws.append(raw)
    return rings, raws


def _apart(one: Box, other: Box) -> float:
    """How far two boxes are apart, along the axis on which they are farther apart; negative where they overlap."""
    across = max(one.left - other.right, other.left - one.right)
    return max(across, one.bottom - other.top, other.bottom - one.top)


def _filled(polygon: shapely.Polygon, before: shapely.Geometry) -> shapely.Polygon:
    """The grown piece without those holes that growth has made too small to cut; they lie beneath other pieces."""
    untouched = [shapely.Polygon(hole).area for part in shapely.get_parts(before) for hole in part.interiors]
    kept = [
        hole
        for hole in polygon.interiors
        if (area := shapely.Polygon(hole).area) > HOLE_MM2 or any(abs(area - old) < GAP_MM2 for old in untouched)
    ]
    return polygon if len(kept) == len(polygon.interiors) else shapely.Polygon(polygon.exterior, kept)


def _gap_closed(design: Design, piece: Piece) -> Finding:
    message = f'"{piece.label}" did not quite meet its neighbor; the underlap closes the gap.'
    return note("gap-closed", message, f"{design.name}: {piece.id}")


def _shows_through(design: Design, contact: Contact) -> list[Finding]:
    """Dark cloth beneath light cloth."""
    by_id = {piece.id: piece for piece in design.cut_pieces}
    uppers = dict.fromkeys([edge.upper for edge in contact.shared] + [pair.upper for pair in contact.overlaps])
    lower = fabric_of(design.fabrics, contact.piece.fabric)
    light = []
    for upper in uppers:
        cloth = fabric_of(design.fabrics, by_id[upper].fabric)
        if luminance(cloth.color) - luminance(lower.color) > SHOWS_THROUGH:
            light.append(by_id[upper].label)
    if not light:
        return []
    names = ", ".join(f'"{label}"' for label in light)
    message = f'"{contact.piece.label}" is dark and lies beneath {names}, which is light; it may show through.'
    hint = "Line the light piece, or lay the light one first."
    return [warning("shows-through", message, f"{design.name}: {contact.piece.id}", hint)]


def _summary(design: Design, grown: Mapping[str, Region], underlap: float) -> Finding:
    if not grown:
        message = "No two edges meet side by side here, so nothing needs an underlap."
        return note("underlap-none", message, design.name)
    count = len(grown)
    pieces = "1 piece tucks beneath its neighbor" if count == 1 else f"{count} pieces tuck beneath their neighbors"
    return note("underlap-added", f"{pieces} by {both(underlap)}.", design.name)


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [Underlap()]
