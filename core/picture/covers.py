"""What lies over each piece.

Terminology
    picture     a piece's polygon as it is in the finished picture
    over        laid after; both kinds of polygons are listed in layering order
    cover       all that lies over a piece, as one
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from clothpath.fitting.tracks import Geometries

__all__ = ["cover", "over_each"]


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


def cover(pictures: Geometries, over: Sequence[int]) -> shapely.Geometry:
    """The pictures with these numbers as one geometry."""
    return pictures[over[0]] if len(over) == 1 else shapely.union_all(pictures[over])
