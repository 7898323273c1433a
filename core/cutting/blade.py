"""What the tip of a drag knife cuts when its holder follows a path.

Terminology
    holder      the axis that the machine moves along the written path
    tip         where the blade cuts; it trails the holder's axis by the offset, as a caster wheel trails its pivot
    heading     the direction from the tip to the axis, in radians; the tip can only move along it
    in line     the tip trails straight behind: heading and direction of travel agree
    parked      the heading in which every written path begins and ends, so that each cut stands on its own
    overcut     the way that the blade runs on past its start

On a straight the angle a between heading and travel obeys da/ds = -sin(a) / e, so tan(a / 2) falls by exp(-s / e): the
tractrix (C. Huygens, 1692; E. H. Lockwood, A Book of Curves, 1961, ch. 13). As a map of z = exp(i a) that is
z -> ((1 + k) z + (1 - k)) / ((1 - k) z + (1 + k)), k = exp(-s / e), which is stepped here from chord to chord. A holder
on a circle of radius R > e settles to a tip on radius sqrt(R^2 - e^2).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.curves import Floats, OpenPath, Outline, Path, Points, flattened, polygon

__all__ = ["CLOSED_MM", "FOLLOWED_MM", "PARKED", "followed", "tip_path"]

PARKED: Final = 0.0
"""The heading in which a path begins and ends: the axis to the right of the tip, in radians."""
CHORD_MM: Final = 0.0005
"""Largest distance of a chord from the holder's path in the simulation."""
FOLLOWED_MM: Final = 0.05
"""How far the tip may stray from an outline."""
CLOSED_MM: Final = 0.05
"""An outline is closed if the tip comes back this near to where it began."""
LEAST_CUT_MM: Final = 0.2
"""A tip that goes no farther cuts nothing that could be told from a point."""
LAP_SLACK: Final = 0.02
"""How far from its nominal place the end of the lap is looked for, as a share of the whole: a grid lengthens paths."""
LEAST_LAP: Final = 2 / 3
"""The overcut is at most half of the way round, so the lap is at least this share of the whole."""
TREMOR_MM: Final = 0.002
"""Movements of the tip aside that are smaller than this are not told."""
SPECK_MM: Final = 0.01
"""Steps of the tip shorter than this are not told: their direction means nothing."""
STEP_SHARE: Final = 0.2
"""Largest step, as a share of the offset, while the blade is not in line."""
IN_LINE_MM: Final = 0.005
"""The blade is in line while its tip is this near to the line that the axis follows."""


def tip_path(path: Path, offset: float, heading: float = PARKED) -> tuple[Points, float]:
    """What the tip cuts while the holder runs along a path, as (n,) points in mm, and the heading at the end.

    `offset` is in mm and not 0; `heading` is that of the blade as it comes down.

    Raises:
        ValueError: the offset is not positive.
    """
    if offset <= 0:
        raise ValueError(f"a blade that trails by {offset} mm does not trail")
    holder = flattened(path, CHORD_MM)
    if isinstance(path, Outline):
        holder = np.append(holder, path.start)
    chords = np.diff(holder)
    chords = chords[chords != 0]
    lengths = np.abs(chords)
    step = offset * STEP_SHARE
    aim = complex(math.cos(heading), math.sin(heading))
    at = complex(holder[0])
    tips = [at - offset * aim]
    for chord, length in zip(chords.tolist(), lengths.tolist(), strict=True):
        travel = chord / length
        z = aim * travel.conjugate()
        done = 0.0
        while done < length:
            in_line = offset * abs(z.imag) < IN_LINE_MM and z.real > 0
            s = length - done if in_line or length - done < step else step
            k = math.exp(-s / offset)
            z = ((1 + k) * z + (1 - k)) / ((1 - k) * z + (1 + k))
            z /= abs(z)
            done += s
            aim = z * travel
            tips.append(at + done * travel - offset * aim)
        at += chord
    return np.array(tips), math.atan2(aim.imag, aim.real)


def followed(path: Path, offset: float, overcut: float) -> Outline | OpenPath:
    """What is cut when a written path is run: the outline that a proof compares with the one that was meant.

    The blade comes down parked. The overcut is taken off; where it does not run along the beginning of the cut, or the
    tip does not come back to where it began within `CLOSED_MM`, the whole is returned as an open path.
    """
    as_written = path if isinstance(path, Outline) else OpenPath(path.nodes, path.straight, path.end)
    if offset > 0:
        tips, _ = tip_path(path, offset)
    elif overcut > 0:
        tips = flattened(path, CHORD_MM)
        if isinstance(path, Outline):
            tips = np.append(tips, path.start)
    else:
        return as_written
    steps = np.abs(np.diff(tips))
    if steps.sum() < LEAST_CUT_MM:
        return as_written
    return _closed(tips[np.append(True, steps > 0)], overcut)


def _closed(tips: Points, overcut: float) -> Outline | OpenPath:
    mileage = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(tips)))))
    whole = float(mileage[-1])
    back = max(whole - overcut, whole * LEAST_LAP)
    slack = LAP_SLACK * whole
    last = int(np.searchsorted(mileage, back - slack))
    first = int(np.searchsorted(mileage, back + slack, side="right"))
    near, edge = _nearest(tips[:1], tips[max(last - 1, 0) : first + 1])
    met = max(last - 1, 0) + int(edge[0])
    away = np.flatnonzero(np.abs(tips[: met + 1] - tips[0]) > CLOSED_MM)
    if near[0] <= CLOSED_MM and len(away) > 1:
        lap = tips[: int(np.searchsorted(mileage, overcut + slack, side="right")) + 2]
        strays, _ = _nearest(tips[met + 1 :], lap)
        if not len(strays) or strays.max() <= FOLLOWED_MM:
            return polygon(_plain(tips[: int(away[-1]) + 1]))
    tips = _plain(tips)
    rows = np.array([tips[:-1]] * 3).T
    return OpenPath(rows, np.ones(len(rows), dtype=np.bool_), complex(tips[-1]))


def _plain(tips: Points) -> Points:
    """The polyline without the tremor of a blade that swivels on the spot (D. Douglas and T. Peucker, 1973)."""
    line = shapely.LineString(np.column_stack((tips.real, tips.imag)))
    fewer = shapely.get_coordinates(shapely.simplify(line, TREMOR_MM, preserve_topology=False))
    first, *rest = (fewer @ np.array([1, 1j])).tolist()
    kept = [first]
    for point in rest:
        if abs(point - kept[-1]) > SPECK_MM:
            kept.append(point)
    return np.array(kept)


def _nearest(points: Points, line: Points) -> tuple[Floats, NDArray[np.intp]]:
    """For each point its distance from a polyline in mm, and the edge of it that is nearest."""
    a, d = line[:-1], np.diff(line)
    t = np.clip(((points[:, None] - a) * d.conj()).real / np.abs(d) ** 2, 0, 1)
    apart = np.abs(points[:, None] - (a + t * d))
    edge = apart.argmin(axis=1)
    rows = np.arange(len(points))
    return apart[rows, edge], edge
