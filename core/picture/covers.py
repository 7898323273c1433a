"""What lies over each piece.

Terminology
    picture     a piece's polygon as it is in the finished picture
    over        laid after; both kinds of polygons are listed in layering order
    cover       all that lies over a piece, as one
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely

from clothpath.curves import Bools
from clothpath.fitting.tracks import Geometries

__all__ = ["are_needless", "cover", "over_each"]

HOLE_MM2: Final = 28.0
"""A hole beneath other pieces that is no larger than this need not be, in mm^2: 6 mm across."""
SHOWS_MM2: Final = 0.05
"""Less than this does not show, in mm^2."""


def over_each(pieces: Geometries, pictures: Geometries, reach: float) -> list[list[int]]:
    """For each piece, the numbers of the pictures over it that begin within `reach` mm of it, in layering order.

    Args:
        pieces: as they are to be cut; pictures: of the same pieces.
    """
    boxes = shapely.bounds(pieces) + np.array([-reach, -reach, reach, reach])
    low, high = shapely.STRtree(pictures).query(shapely.box(*boxes.T))
    low, high = low[high > low], high[high > low]
    near = shapely.dwithin(pieces[low], pictures[high], reach)
    found: list[list[int]] = [[] for _ in pieces]
    for piece, picture in sorted(zip(low[near].tolist(), high[near].tolist(), strict=True)):
        found[piece].append(picture)
    return found


def are_needless(holes: Geometries, above: shapely.Geometry) -> Bools:
    """Which holes are too small to be worth a cut and lie wholly beneath what is above."""
    needless: Bools = (shapely.area(holes) <= HOLE_MM2) & (shapely.area(shapely.difference(holes, above)) < SHOWS_MM2)
    return needless


def cover(pictures: Geometries, over: Sequence[int]) -> shapely.Geometry:
    """The pictures with these numbers as one geometry."""
    return pictures[over[0]] if len(over) == 1 else shapely.union_all(pictures[over])
