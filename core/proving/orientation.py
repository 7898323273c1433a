"""Which way round a measured piece is, read from its rings by laying the picture's piece onto them.

Terminology
    reading     what the rings say: reversed, not reversed, or nothing
    hypothesis  the piece as it is in the picture, or its mirror image

Each measured piece is registered to its region in the picture, as it is and mirrored; the better fit is the reading.
The layout has no say in it but for the turn of the cloth, from which the grain counts. Ask only for chiral pieces:
those whose mirror image is farther than `LIKE_MM` from them under every turn that the grain allows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from clothpath.curves import Bools, Floats, Outline, Path, polygon
from clothpath.design import GRAIN_TURNS, Grain
from clothpath.fitting.closeness import chains
from clothpath.picture.likeness import LIKE_MM
from clothpath.picture.registration import WALK, aligned, correlated, mirrored, refined, rings, walked, walked_feet
from clothpath.regions import Region, region, xy

__all__ = ["MeasuredPiece", "readings"]

CHAIN_MM: Final = 0.01
"""Tolerance of the chains that are registered."""
SURE_MM: Final = LIKE_MM / 2
"""A fit this good settles the reading if the other hypothesis is clearly off."""
CLEAR_MM: Final = 2 * LIKE_MM
"""A hypothesis that misses by more than this, root mean square, is clearly off."""
CALM: Final = 0.4
"""Of the budget, what a ring may lose of its detail before it is laid onto the picture."""
LEAST_POINTS: Final = 4
"""Of a polygon with its first point again at its end."""
TURN_DEG: Final = 3.0
"""A turn this near to one that the grain allows is that one; the layout's own check sees to the rest."""


@dataclass(frozen=True, slots=True)
class MeasuredPiece:
    """One piece as it was found.

    Attributes:
        picture: its region in the picture.
        grain: of its fabric.
        cloth_turn: degrees by which the cloth lies turned on the mat.
        rings: the number of a ring in the region (0 the outer one) and its measured path; the outer one first.
    """

    picture: Region
    grain: Grain
    cloth_turn: float
    rings: tuple[tuple[int, Path], ...]


def readings(pieces: Sequence[MeasuredPiece], budget_mm: float) -> list[bool | None]:
    """For each piece whether it is reversed; None: it fits neither the picture's piece nor its mirror image, turned as
    its grain allows.

    Args:
        budget_mm: how far a measured ring may be from the true one.
    """
    if not pieces:
        return []
    found = chains([path for piece in pieces for _, path in piece.rings], CHAIN_MM)
    walks = walked(found)
    row = np.repeat(np.arange(len(pieces)), [len(piece.rings) for piece in pieces])
    outer = np.searchsorted(row, np.arange(len(pieces)))
    picture = np.stack([rings(piece.picture).walks[number] for piece in pieces for number, _ in piece.rings])
    image = -picture[:, ::-1].conj()
    turns, misses = zip(*(_best(correlated(one[outer], walks[outer]), pieces) for one in (picture, image)), strict=True)
    flip = misses[1] < misses[0]
    laid = np.where(flip[row][:, None], image, picture)
    spin = np.exp(1j * np.where(flip, turns[1], turns[0]))
    start = spin, (walks[outer] - spin[:, None] * laid[outer]).mean(axis=1)
    spin, shift, ways = refined(laid, found, walks, row, start, np.ones(len(pieces), dtype=np.bool_))
    distance = walked_feet(spin[row, None] * laid + shift[row, None], ways, found, SURE_MM / 5).distance
    off = np.maximum.reduceat(distance, outer * WALK)
    settled = (off <= SURE_MM) & (np.maximum(misses[0], misses[1]) > CLEAR_MM)
    return [bool(flip[n]) if settled[n] else _looked_closer(piece, budget_mm) for n, piece in enumerate(pieces)]


def _best(found: tuple[Floats, Floats, Bools], pieces: Sequence[MeasuredPiece]) -> tuple[Floats, Floats]:
    """(n,) the turn of each piece that misses least among those that its grain allows, and what it misses by."""
    turn, miss, _ = found
    for n, piece in enumerate(pieces):
        if GRAIN_TURNS[piece.grain] is not None:
            miss[n, ~_allowed(np.degrees(turn[n]), piece)] = np.inf
    best = miss.argmin(axis=1)
    row = np.arange(len(pieces))
    return turn[row, best], miss[row, best]


def _allowed(degrees: Floats, piece: MeasuredPiece) -> Bools:
    """Whether turns on the mat are such as the grain allows on the cloth."""
    allowed = GRAIN_TURNS[piece.grain]
    if allowed is None:
        return np.ones(degrees.shape, dtype=np.bool_)
    away = np.abs((degrees[..., None] - piece.cloth_turn - np.array(allowed) + 180) % 360 - 180)
    near: Bools = away.min(axis=-1) <= TURN_DEG
    return near


def _looked_closer(piece: MeasuredPiece, budget_mm: float) -> bool | None:
    """The reading from all alignments of both hypotheses."""
    tolerance = LIKE_MM + budget_mm
    outlines = [_calm(path, CALM * budget_mm) for _, path in piece.rings if isinstance(path, Outline)]
    if len(outlines) < len(piece.rings) or len(outlines) != 1 + len(piece.picture.holes):
        return None
    found = rings(region(outlines[0], outlines[1:]))
    best: list[tuple[float, bool]] = []
    for flip in (False, True):
        picture = mirrored(rings(piece.picture)) if flip else rings(piece.picture)
        fits = [
            each.deviation
            for each in aligned(picture, found, tolerance)
            if each.any_turn or _allowed(np.array([each.turn_deg]), piece)[0]
        ]
        best.append((min(fits, default=math.inf), flip))
    deviation, flip = min(best)
    return flip if deviation < math.inf else None


def _calm(ring: Outline, within_mm: float) -> Outline:
    """A polygon without what is smaller: the tremor of a blade's tip makes a ring longer, and the walks drift apart."""
    if not ring.straight.all():
        return ring
    line = shapely.LineString(xy(np.append(ring.nodes[:, 0], ring.start)))
    points = shapely.get_coordinates(shapely.simplify(line, within_mm, preserve_topology=False)) @ np.array([1, 1j])
    return polygon(points[:-1]) if len(points) >= LEAST_POINTS else ring
