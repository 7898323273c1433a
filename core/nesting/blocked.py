"""Areas of a rectangle where nothing may lie: a keep-out area, or what an irregular scrap lacks of its box.

Terminology:

body
    a blocked area grown by the margin, less the half spacing by which the parts are grown: what no grown outline may
    overlap, so that the true part keeps the margin.
"""

from typing import Final

import shapely

from .arrange import Arrangement
from .job import Job
from .outline import Posed, blanks, pose
from .parts import Part
from .place import Board, Fixed

__all__ = ["blocking", "clear_of_blocked"]

_OVERLAP_MM2: Final = 1e-6


def blocking(job: Job, board: Board, width: float, height: float) -> list[Fixed]:
    """The blocked areas as tiles that lie on the board already."""
    return [(board.add(posed), x, y) for posed, (x, y) in _bodies(job, width, height)]


def _bodies(job: Job, width: float, height: float) -> list[tuple[Posed, tuple[float, float]]]:
    """The bodies within reach of the inner `width` x `height` mm, and the corners of their boxes in it."""
    spacing, margin = job.frame.spacing, job.frame.margin
    rim = spacing / 2
    room = (margin - rim, margin - rim, margin + width + rim, margin + height + rim)
    bodies = []
    for n, ring in enumerate(job.frame.blocked):
        area = shapely.make_valid(shapely.Polygon(ring))
        wide = shapely.buffer(area, max(margin - rim, 0.0), join_style="mitre")
        for piece in shapely.get_parts(shapely.intersection(wide, shapely.box(*room))):
            if isinstance(piece, shapely.Polygon) and piece.area > 0:
                outer = shapely.get_coordinates(shapely.orient_polygons(piece).exterior)[:-1]
                posed = pose(blanks([Part(f"blocked {n}", outer)], 0.0)[0], 0.0)
                low = outer.min(axis=0) - margin
                bodies.append((posed, (float(low[0]), float(low[1]))))
    return bodies


def clear_of_blocked(job: Job, found: Arrangement, width: float, height: float) -> Arrangement:
    """`found` without the copies that come too close to a blocked area."""
    bodies = _bodies(job, width, height)
    blocked = shapely.union_all([shapely.Polygon(body.rings[0] + corner) for body, corner in bodies])
    if blocked.is_empty:
        return found
    free = [
        n
        for n, body in enumerate(found.posed)
        if shapely.intersection(blocked, shapely.Polygon(body.rings[0] + found.at[n])).area <= _OVERLAP_MM2
    ]
    return Arrangement(tuple(found.posed[n] for n in free), found.at[free])
