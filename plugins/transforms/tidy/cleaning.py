"""Outlines without needless nodes, crossings of themselves, and specks.

Terminology
    speck       a piece or hole too small to be cut
    lobe        a part of an outline that crosses itself; the main one has the largest area
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

from clothpath.areas.booleans import resolved
from clothpath.curves import Outline, area, backwards
from clothpath.design import Piece
from clothpath.findings import counted, note, warning
from clothpath.fitting.pruning import Pruned, pruned, pruned_each
from clothpath.fitting.tracks import TRACK_MM, crossings_in
from clothpath.plugins.transforms.tidy.told import Told
from clothpath.regions import Region, as_polygon, region, region_area

__all__ = ["cleaned", "without_specks"]

CLEAR_SHARE: Final = 0.01
"""A lobe smaller than this share of the main one is an accident."""
CANCELED_MM2: Final = 1e-6
"""A signed area this small, in mm^2, has no direction."""


def cleaned(pieces: Sequence[Piece], smallest: float, told: Told) -> list[Piece]:
    """The pieces without needless nodes and self-crossings; several where one falls apart, none where it is flat."""
    drawn = [piece for piece in pieces if piece.picture is None]
    results = iter(pruned_each([ring for piece in drawn for ring in piece.region]))
    tidied = [_tidied(piece, [next(results) for _ in piece.region], told) for piece in drawn]
    crossed = iter(crossings_in([tidy for tidy in tidied if tidy is not None]))
    regions = iter(tidied)
    found: list[Piece] = []
    for piece in pieces:
        if piece.picture is not None:
            found.append(piece)
        elif (tidy := next(regions)) is not None:
            at = next(crossed)
            if at is not None:
                found += [replace(piece, region=each) for each in _mended(piece, tidy, at, smallest, told)]
            else:
                found.append(piece if tidy is piece.region else replace(piece, region=tidy))
    return found


def _tidied(piece: Piece, results: Sequence[Pruned], told: Told) -> Region | None:
    """The piece's region of pruned rings, the same one if nothing was pruned; None if it is flat."""
    rings: list[Outline] = []
    for number, (ring, result) in enumerate(zip(piece.region, results, strict=True)):
        _tell_pruned(piece, result, told)
        if result.outline is not None:
            rings.append(result.outline)
        elif number == 0:
            message = "An outline that encloses nothing was left out."
            told.add(note, "flat-outline", message, piece, ring.start)
            return None
    tidy = Region(_turned(rings[0], 1), tuple(_turned(ring, -1) for ring in rings[1:]))
    return piece.region if tidy == piece.region else tidy


def _turned(ring: Outline, sign: int) -> Outline:
    """The ring run counterclockwise (1) or clockwise (-1); as it is where its lobes cancel out and neither is right."""
    return backwards(ring) if sign * area(ring) < -CANCELED_MM2 else ring


def _tell_pruned(piece: Piece, result: Pruned, told: Told) -> None:
    if result.bare:
        message = f"{counted(len(result.bare), 'line')} without length dropped."
        told.add(note, "line-without-length", message, piece, result.bare[0])
    if result.spikes:
        message = f"{counted(len(result.spikes), 'line')} that ran out and back along itself dropped."
        told.add(note, "line-drawn-twice", message, piece, result.spikes[0])
    if result.needless:
        message = f"{counted(len(result.needless), 'point')} in the middle of straight lines dropped."
        told.add(note, "lines-merged", message, piece, result.needless[0])


def _mended(piece: Piece, crossed: Region, at: complex, smallest: float, told: Told) -> list[Region]:
    """What a region that crosses itself was meant to be: its main lobes, if the rest is an accident; else as it is."""
    rings = list(crossed)
    right = resolved(rings, lambda winding: winding > 0)
    wrong = resolved(rings, lambda winding: winding < 0)
    if right:
        main = max(region_area(each) for each in right)

        def accident(lobe: Region) -> bool:
            return region_area(lobe) <= CLEAR_SHARE * main or max(lobe.box.width, lobe.box.height) < smallest

        kept = [_pruned_region(each, accident) for each in right if not accident(each)]
        if all(accident(lobe) for lobe in wrong) and all(as_polygon(each, TRACK_MM).is_valid for each in kept) and kept:
            if len(kept) == 1:
                told.add(note, "crossing-mended", "An outline that crosses itself was mended.", piece, at)
            else:
                message = f"An outline that crosses or touches itself was taken for {len(kept)} pieces."
                told.add(warning, "outline-split", message, piece, at, "Look whether that is what was meant.")
            return kept
    message = "The outline crosses itself, and it is not clear what was meant; it was left as it is."
    told.add(warning, "crossing-unclear", message, piece, at, "Mend the outline in the drawing program.")
    return [crossed]


def _pruned_region(of: Region, accident: Callable[[Region], bool]) -> Region:
    rings = [pruned(ring).outline or ring for ring in of]
    return region(rings[0], [hole for hole in rings[1:] if not accident(region(hole))])


def without_specks(piece: Piece, smallest: float, told: Told) -> Piece | None:
    """The piece without holes that are specks; None if it is one itself."""
    if piece.picture is not None:
        return piece
    if _is_speck(piece.region.outer, smallest):
        told.add(
            note,
            "speck-dropped",
            f"A speck of {_size(piece.region.outer)} was dropped.",
            piece,
            piece.region.outer.start,
        )
        return None
    holes = tuple(hole for hole in piece.region.holes if not _is_speck(hole, smallest))
    if len(holes) == len(piece.region.holes):
        return piece
    for hole in piece.region.holes:
        if hole not in holes:
            told.add(note, "speck-dropped", f"A hole of {_size(hole)} was closed.", piece, hole.start)
    return replace(piece, region=Region(piece.region.outer, holes))


def _is_speck(ring: Outline, smallest: float) -> bool:
    return max(ring.box.width, ring.box.height) < smallest


def _size(ring: Outline) -> str:
    return f"{ring.box.width:.2g} x {ring.box.height:.2g} mm"
