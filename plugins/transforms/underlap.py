"""The step `underlap`: where two pieces meet edge to edge, the lower one grows beneath the upper one.

Terminology
    underlap    the margin of a lower piece that tucks beneath an upper one
    cover       all that lies over a piece; growth stays beneath it
    touch       a contact too short for an underlap, or along which the edges are not parallel: two circles side by side
    gap         what a drawing leaves open between two edges that are meant to meet; the lower piece closes it

The growth runs along shared edges only, tapers where they end, and is at most a third of the growing piece's own width
and half of the upper one's, so that it never comes out on the other side. It is never a spur: at half its depth it is
at least as long as it is deep.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal

import numpy as np
import shapely
from pydantic import Field

from clothpath.areas.booleans import without_cracks, without_specks, without_spurs, wound
from clothpath.areas.bulges import Bulge, bulged_each
from clothpath.areas.offsets import Corners
from clothpath.contracts import FromCatalog, Millimeters, Settings, Transform, hookimpl
from clothpath.curves import Outline
from clothpath.design import Design, Piece
from clothpath.findings import Finding, Outcome, listed, note, warning
from clothpath.fitting.retracing import retraced
from clothpath.fitting.tracks import Track, joined, track_of, tracks_in
from clothpath.picture.covers import are_needless, cover, over_each
from clothpath.picture.neighbors import REACH_MM, Contact, Layering, SharedEdge, contacts, layering, luminance, width_of
from clothpath.picture.order import reordered
from clothpath.picture.spots import pairs_told
from clothpath.regions import Region
from clothpath.units import both

__all__ = ["Underlap", "UnderlapSettings"]

UNDERLAP_MM: Final = 25.4 * 3 / 16
"""3/16 in; 1/8 to 1/4 in for fused work (trade-facts: common practice)."""
TAPER: Final = 0.5
"""The length of a taper by the height that it reaches: 63 degrees to the edge."""
SPUR: Final = 1 + TAPER
"""The length of a shared edge by its underlap from which what grows is no spur: less its tapers' mean it is 1."""
SPUR_MM: Final = 0.5
"""A spur of the growth that is narrower than this is left off, in mm: a blade of usual offset does not follow it."""
PARALLEL: Final = 2.0
"""The length of the parallel part of a shared edge by its underlap from which it is more than a touch: two disks that
touch have it only if they are larger than a quilt block. An edge that is even needs only the length of its underlap."""
EVEN_MM: Final = 0.02
"""An edge whose distance from the upper piece's spreads by less than this is even, in mm: drawn in one stroke."""
OWN_SHARE: Final = 1 / 3
UPPER_SHARE: Final = 1 / 2
SHOWS_THROUGH: Final = 0.4
"""A lower fabric darker than the upper one by this much relative luminance may show through (memory)."""
TOLD: Final = 6
"""Pairs that touch are told up to this many."""
GAP_MM2: Final = 0.05
"""Gaps of less than this are no gaps, in mm^2."""

LAYERED: Final[Mapping[Layering, str]] = {
    "stacked": "The drawing is stacked, lower pieces run on beneath upper ones",
    "butted": "The drawing is butted, pieces meet edge to edge",
    "mixed": "Some pieces of the drawing meet edge to edge, some run on beneath others",
    "apart": "The pieces of the drawing neither meet nor overlap",
}


class UnderlapSettings(Settings):
    """How far a lower piece tucks under, and how edges that are meant to meet are found."""

    underlap: Millimeters = Field(UNDERLAP_MM, ge=0, description="how far a lower piece tucks beneath an upper one")
    reach: Millimeters = Field(REACH_MM, gt=0, description="how far edges that are meant to meet may be apart")
    over: Annotated[tuple[tuple[str, str], ...], FromCatalog()] = Field(
        (),
        description="pairs of pieces, by id or label, the upper one first, that overrule the drawing's order",
        examples=[[["window", "tower"]]],
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
        design = reordered(design, settings.over)
        touching = contacts(design, settings.reach)
        growing: list[tuple[Piece, list[_Tuck]]] = []
        tucks: list[_Tuck] = []
        touches: list[tuple[str, str]] = []
        finished = {piece.id: piece.finished for piece in design.cut_pieces}
        for contact in touching if settings.underlap else ():
            found = _tucks(finished, contact, settings.underlap)
            tucks += found
            held = {each.edge.upper for each in found}
            touches += [
                (contact.piece.id, edge.upper)
                for edge in contact.shared
                if edge.upper not in held and _overlap(contact, edge.upper) <= edge.length * settings.reach
            ]
            if found:
                growing.append((contact.piece, found))
        grown, closed = _grown(design, growing, settings.reach)
        findings = [_summary(design, touching, grown, settings.underlap)]
        findings += _narrow(design, tucks, settings.underlap) + _touching(design, touches)
        findings += _gaps_closed(design, closed) + _shows_through(design, touching)
        pieces = tuple(_with_region(piece, grown) for piece in design.pieces)
        return Outcome(replace(design, pieces=pieces), tuple(findings))


def _with_region(piece: Piece, grown: Mapping[str, Region]) -> Piece:
    if piece.id not in grown:
        return piece
    return replace(piece, region=grown[piece.id], picture=piece.finished)


@dataclass(frozen=True, slots=True)
class _Tuck:
    """A shared edge of a piece and how far the piece grows there, in mm."""

    piece: str
    edge: SharedEdge
    height: float


def _tucks(finished: Mapping[str, Region], contact: Contact, underlap: float) -> list[_Tuck]:
    """Where and how far a piece grows: less where it or its upper is narrow or the edge is short, not where they touch.

    Edges that follow each other without a break count as one, for there is no taper between them.
    """
    if not contact.shared:
        return []
    own = _share(contact.piece.region, OWN_SHARE, underlap)
    uppers = dict.fromkeys(edge.upper for edge in contact.shared)
    most = {upper: min(own, _share(finished[upper], UPPER_SHARE, underlap)) for upper in uppers}
    found: list[_Tuck] = []
    for run in _runs(contact):
        length, parallel = sum(edge.length for edge in run), sum(edge.parallel for edge in run)
        even = length if max(edge.spread for edge in run) <= EVEN_MM else 0.0
        for edge in run:
            height = most[edge.upper]
            if parallel >= PARALLEL * height or even >= height:
                found.append(_Tuck(contact.piece.id, edge, min(height, length / SPUR)))
    return found


def _share(of: Region, share: float, most: float) -> float:
    """That share of a region's width, and no more than `most`, in mm."""
    return min(most, share * width_of(of, most / share))


def _overlap(contact: Contact, upper: str) -> float:
    """How much of the piece lies beneath an upper one, in mm^2."""
    return sum(pair.overlap for pair in contact.overlaps if pair.upper == upper)


def _runs(contact: Contact) -> list[list[SharedEdge]]:
    """The shared edges, those together that follow each other without a break."""
    runs: list[list[SharedEdge]] = []
    for number, ring in enumerate(contact.piece.region):
        of_ring = [edge for edge in contact.shared if edge.ring == number]
        first = len(runs)
        for edge in of_ring:
            if len(runs) > first and _follows(runs[-1][-1], edge, len(ring)):
                runs[-1].append(edge)
            else:
                runs.append([edge])
        if len(runs) > first + 1 and _follows(runs[-1][-1], runs[first][0], len(ring)):
            runs[first] = runs.pop() + runs[first]
    return runs


def _follows(one: SharedEdge, other: SharedEdge, count: int) -> bool:
    return abs((other.start - one.end + count / 2) % count - count / 2) < 1e-6


def _grown(
    design: Design, growing: Sequence[tuple[Piece, Sequence[_Tuck]]], reach: float
) -> tuple[dict[str, Region], list[str]]:
    """The regions of the pieces that grow, by their ids; and the ids of those for which a gap had to be closed."""
    if not growing:
        return {}, []
    picture_tracks, pictures = tracks_in([piece.finished for piece in design.cut_pieces])
    plain, raws = _bulged_rings(growing, math.inf)
    own_tracks, owns = tracks_in([Region(rings[0], tuple(rings[1:])) for rings in plain])
    numbers = {piece.id: i for i, piece in enumerate(design.cut_pieces)}
    pieces = pictures.copy()
    pieces[[numbers[piece.id] for piece, _ in growing]] = owns
    over = over_each(pieces, pictures, max(tuck.height for _, tucks in growing for tuck in tucks))
    grown: dict[str, Region] = {}
    closed: list[str] = []
    for (piece, tucks), own_track, own, rings in zip(growing, own_tracks, owns, raws, strict=True):
        raw = track_of(rings)
        growth = wound(raw, lambda winding: winding > 0)
        numbers_over = over[numbers[piece.id]]
        above = cover(pictures, numbers_over)
        tracks = [own_track, raw, *(picture_tracks[i] for i in numbers_over)]
        result = shapely.union(own, growth.intersection(above))
        if growth.area - result.area > GAP_MM2:
            gap = _gap(piece, tucks, shapely.union(own, above), reach)
            if gap is not None:
                closed.append(piece.id)
                tracks.append(gap.track)
                above = shapely.union(above, gap.filled)
                result = shapely.union(own, growth.intersection(above))
        parts = shapely.get_parts(without_spurs(without_cracks(without_specks(result)), own, own, SPUR_MM))
        main = parts[int(shapely.area(shapely.intersection(parts, own)).argmax())] if len(parts) > 1 else parts[0]
        (grown[piece.id],) = retraced(_filled(main, own, above), joined(*tracks))
    return grown, closed


@dataclass(frozen=True, slots=True)
class _Gap:
    """What fills the gap between a piece and those above it, and a little more; and its track."""

    filled: shapely.Geometry
    track: Track


def _gap(piece: Piece, tucks: Sequence[_Tuck], both: shapely.Geometry, reach: float) -> _Gap | None:
    """The gap between a piece that grows and those above it, of which `both` is the union; none if there is none."""
    sealed = both.buffer(reach / 2).buffer(-reach / 2)
    if sealed.area - both.area <= GAP_MM2 / 2:  # the polygons of round rims are a little small
        return None
    _, (rings,) = _bulged_rings([(piece, tucks)], reach)
    track = track_of(rings)
    strip = wound(track, lambda winding: winding > 0)
    if strip.difference(both).intersection(sealed).area <= GAP_MM2:
        return None
    return _Gap(strip.intersection(sealed), track)


def _bulged_rings(
    growing: Sequence[tuple[Piece, Sequence[_Tuck]]], most: float
) -> tuple[list[list[Outline]], list[list[Outline]]]:
    """Each piece's rings with nodes where they grow, and as they wind when grown, by no more than `most`."""
    jobs = [
        (ring, [Bulge(each.edge.start, each.edge.end, min(each.height, most)) for each in tucks if each.edge.ring == k])
        for piece, tucks in growing
        for k, ring in enumerate(piece.region)
    ]
    made = iter(bulged_each([job for job in jobs if job[1]], Corners(), TAPER))
    both = iter([next(made) if bulges else (ring, ring) for ring, bulges in jobs])
    pairs = [[next(both) for _ in piece.region] for piece, _ in growing]
    return [[plain for plain, _ in each] for each in pairs], [[raw for _, raw in each] for each in pairs]


def _filled(polygon: shapely.Polygon, before: shapely.Geometry, above: shapely.Geometry) -> shapely.Polygon:
    """The grown piece without those holes beneath other pieces that growth has made too small to cut."""
    if not len(polygon.interiors):
        return polygon
    holes = shapely.polygons(polygon.interiors)
    areas = shapely.area(holes)
    untouched = [shapely.Polygon(hole).area for part in shapely.get_parts(before) for hole in part.interiors]
    made = (np.abs(areas[:, None] - untouched) >= GAP_MM2).all(axis=1)
    filled = made & are_needless(holes, above)
    if not filled.any():
        return polygon
    return shapely.Polygon(polygon.exterior, [polygon.interiors[i] for i in np.flatnonzero(~filled).tolist()])


def _narrow(design: Design, tucks: Sequence[_Tuck], underlap: float) -> list[Finding]:
    less = [tuck for tuck in tucks if tuck.height < underlap - 1e-6]
    if not less:
        return []
    pieces = list(dict.fromkeys(tuck.piece for tuck in less))
    least = both(min(tuck.height for tuck in less))
    how = f"tucks under by only {least}" if len(pieces) == 1 else f"tuck under by less, down to {least}"
    message = f"{_labels(design, pieces)} {how}: a piece is narrow there, or the edge where two meet is short."
    return [note("underlap-narrow", message, _place(design, pieces))]


def _touching(design: Design, pairs: Sequence[tuple[str, str]]) -> list[Finding]:
    """Pairs of pieces, the lower one first, that are too little beside each other for an underlap."""
    if not pairs:
        return []
    told = pairs_told(design, pairs, TOLD)
    message = f"These pieces only touch, so neither tucks beneath the other there: {told}."
    hint = "Let the lower one run on beneath the upper one in the drawing if they are to hold together."
    return [note("underlap-touch", message, _place(design, [lower for lower, _ in pairs]), hint)]


def _gaps_closed(design: Design, pieces: Sequence[str]) -> list[Finding]:
    if not pieces:
        return []
    whose = "its neighbor" if len(pieces) == 1 else "their neighbors"
    message = f"{_labels(design, pieces)} did not quite meet {whose}; the underlap closes the gap."
    return [note("gap-closed", message, _place(design, pieces))]


def _shows_through(design: Design, touching: Sequence[Contact]) -> list[Finding]:
    """Dark cloth beneath light cloth."""
    by_fabric = {fabric.key: luminance(fabric.color) for fabric in design.fabrics}
    brightness = {piece.id: by_fabric[piece.fabric] for piece in design.cut_pieces}
    dark: list[str] = []
    light: list[str] = []
    for contact in touching:
        lower = contact.piece.id
        uppers = [edge.upper for edge in contact.shared] + [pair.upper for pair in contact.overlaps]
        found = [each for each in uppers if brightness[each] - brightness[lower] > SHOWS_THROUGH]
        dark += [lower] if found else []
        light += found
    if not dark:
        return []
    light = [each for each in brightness if each in light]
    lies = "is dark and lies" if len(dark) == 1 else "are dark and lie"
    which = "which is light" if len(light) == 1 else "which are light"
    through = "it may show through" if len(dark) == 1 else "they may show through"
    message = f"{_labels(design, dark)} {lies} beneath {_labels(design, light)}, {which}; {through}."
    hint = f"Line the light piece{'s' if len(light) > 1 else ''}, or lay light cloth first."
    return [warning("shows-through", message, _place(design, dark), hint)]


def _labels(design: Design, ids: Sequence[str]) -> str:
    labels = {piece.id: piece.label for piece in design.pieces}
    return listed(labels[each] for each in ids)


def _place(design: Design, ids: Sequence[str]) -> str:
    """The design and the piece if it is a single one."""
    return f"{design.name}: {ids[0]}" if len(set(ids)) == 1 else design.name


def _summary(design: Design, touching: Sequence[Contact], grown: Mapping[str, Region], underlap: float) -> Finding:
    drawn = LAYERED[layering(touching)]
    if not grown:
        return note("underlap-none", f"{drawn}: nothing needs an underlap.", design.name)
    count = len(grown)
    pieces = "1 piece tucks beneath its neighbor" if count == 1 else f"{count} pieces tuck beneath their neighbors"
    return note("underlap-added", f"{drawn}: {pieces} by {both(underlap)}.", design.name)


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [Underlap()]
